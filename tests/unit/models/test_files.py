"""Photos and PDFs as an entry names them: a digest, a harmless name, each once."""

from __future__ import annotations

from typing import Any

import pytest
from pydantic import ValidationError

from appraise.models.files import LARGEST_FILE, LONGEST_NAME, MOST_FILES, Attachment
from appraise.models.papers import Paper

PHOTO: dict[str, Any] = {
    "id": f"{1:064x}",
    "name": "Light, left.jpg",
    "media_type": "image/jpeg",
    "size": 700,
    "added_on": "2026-11-20",
}


def paper(*attachments: dict[str, Any]) -> Paper:
    return Paper.model_validate({"id": "p", "kind": "invoice", "attachments": attachments})


def many(count: int) -> list[dict[str, Any]]:
    return [PHOTO | {"id": f"{number:064x}"} for number in range(count)]


def test_a_paper_without_any_is_as_before() -> None:
    assert paper().attachments == ()


def test_it_comes_back_from_json() -> None:
    held = paper(PHOTO, PHOTO | {"id": f"{2:064x}", "position_kept": True})

    assert Paper.model_validate_json(held.model_dump_json()) == held
    assert [one.position_kept for one in held.attachments] == [False, True]


@pytest.mark.parametrize(
    "name",
    [
        "",
        " ",
        "..",
        ".hidden",
        "a/b.jpg",
        "a\\b.jpg",
        "C:a.jpg",
        "a\nb.jpg",
        "a\0.jpg",
        "\u202egpj.exe",
        "x" * (LONGEST_NAME + 1),
    ],
)
def test_a_name_that_leads_elsewhere_is_refused(name: str) -> None:
    with pytest.raises(ValidationError) as refused:
        Attachment.model_validate(PHOTO | {"name": name})

    assert [one["loc"] for one in refused.value.errors()] == [("name",)]


@pytest.mark.parametrize("name", ["a.jpg", "請求書 1.pdf", "x" * LONGEST_NAME, "no ending"])
def test_any_other_name_will_do(name: str) -> None:
    assert Attachment.model_validate(PHOTO | {"name": name}).name == name


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("id", "a" * 63),
        ("id", "A" * 64),
        ("id", "../" + "a" * 61),
        ("media_type", "text/html"),
        ("media_type", "image/svg+xml"),
        ("size", 0),
        ("size", LARGEST_FILE + 1),
        ("size", True),
        ("added_on", "yesterday"),
    ],
)
def test_what_cannot_be_is_refused(field: str, value: Any) -> None:
    with pytest.raises(ValidationError) as refused:
        Attachment.model_validate(PHOTO | {field: value})

    assert [one["loc"] for one in refused.value.errors()] == [(field,)]


def test_the_same_content_twice_is_refused() -> None:
    with pytest.raises(ValidationError, match=r"other\.jpg is attached twice"):
        paper(PHOTO, PHOTO | {"name": "other.jpg"})


def test_there_is_a_most() -> None:
    assert len(paper(*many(MOST_FILES)).attachments) == MOST_FILES
    with pytest.raises(ValidationError, match="at most 20"):
        paper(*many(MOST_FILES + 1))
