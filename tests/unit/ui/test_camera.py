"""Which pages a browser gives its camera to."""

from __future__ import annotations

import pytest

from ui.widgets.camera import _given


@pytest.mark.parametrize(
    "url",
    [
        "https://192.0.2.2:8501/work",
        "https://cars.example/work",
        "http://127.0.0.1:8501/work?car=a",
        "http://127.8.0.1/",
        "http://[::1]:8501/",
        "http://localhost:8501/",
        "http://cars.localhost/",
    ],
)
def test_it_is_given_over_https_and_to_the_machine_itself(url: str) -> None:
    assert _given(url)


@pytest.mark.parametrize(
    "url",
    [
        "http://192.0.2.2:8501/work",
        "http://cars.example/",
        "http://[2001:db8::2]:8501/",
        "http://localhost.example/",
        "http://notlocalhost/",
    ],
)
def test_it_is_not_given_to_a_page_that_came_openly_over_a_network(url: str) -> None:
    assert not _given(url)


@pytest.mark.parametrize("url", [None, ""])
def test_an_address_that_is_not_known_keeps_nobody_from_trying(url: str | None) -> None:
    assert _given(url)
