"""The camera of the device that shows the page, where a browser gives it."""

from __future__ import annotations

from collections.abc import Callable
from ipaddress import ip_address
from typing import Any, Literal
from urllib.parse import urlsplit

import streamlit as st

__all__ = ["camera_input"]

NOT_GIVEN = (
    ":material/no_photography: A browser gives a page its camera only over https, or on the "
    "machine itself, and this page came over http. A phone may offer its camera under Upload."
)


def camera_input(
    label: str,
    key: str,
    on_change: Callable[..., None],
    args: tuple[Any, ...],
    width: int | Literal["stretch"] = "stretch",
) -> None:
    """Take photos as fine as the camera can, or say why there is none."""
    if not _given(st.context.url):
        st.caption(NOT_GIVEN)
        return
    st.camera_input(
        label,
        key=key,
        on_change=on_change,
        args=args,
        resolution="1080p",  # the finest there is: a paper has to stay readable
        width=width,
    )


def _given(url: str | None) -> bool:
    """Whether a browser gives its camera to a page of this address.

    Only in a secure context is there any `mediaDevices` (W3C, Media Capture and Streams, extensions
    of Navigator): over https, or from the machine itself (W3C, Secure Contexts, section 3.1).
    """
    parts = urlsplit(url or "")
    host = parts.hostname
    if parts.scheme != "http" or host is None:
        return True
    try:
        return ip_address(host).is_loopback
    except ValueError:
        return host == "localhost" or host.endswith(".localhost")
