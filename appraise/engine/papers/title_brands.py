"""Marks on a title, by their names in the AAMVA D20 list, and what each means."""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import lru_cache

from appraise.reference.load import shipped_list
from appraise.reference.schema import Brand, Brands

__all__ = ["brands", "find_brand"]


@lru_cache(maxsize=1)
def brands() -> Mapping[str, Brand]:
    """Return every mark by its name."""
    return {one.name: one for one in shipped_list("title_brands", Brands).brand}


@lru_cache(maxsize=1)
def _spelled() -> Mapping[str, Brand]:
    return {_bare(name): one for one in brands().values() for name in (one.name, *one.also)}


def _bare(text: str) -> str:
    return re.sub(r"[\W_]+", "", text.casefold())


def find_brand(text: str) -> Brand | None:
    """Return the mark of a name, however it is spelt, or None; a number is no name.

    Examples
    --------
    >>> find_brand("Flood-Damage").name
    'flood damage'
    >>> find_brand("46") is None
    True
    """
    return _spelled().get(_bare(text))
