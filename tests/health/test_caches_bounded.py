"""A cache without a bound is a leak: every one says how much it may hold."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
CONTAINERS = {"Cache", "FIFOCache", "LFUCache", "LRUCache", "RRCache", "TTLCache", "TLRUCache"}
BY_STREAMLIT = {"cache_data", "cache_resource"}
BY_CACHETOOLS = {"cached", "cachedmethod"}


def name_of(node: ast.expr) -> str:
    """Return the last name of `a`, `a.b` or `a.b(...)`."""
    if isinstance(node, ast.Call):
        return name_of(node.func)
    if isinstance(node, ast.Attribute):
        return node.attr
    return node.id if isinstance(node, ast.Name) else ""


def argument(call: ast.Call, name: str, place: int) -> ast.expr | None:
    for one in call.keywords:
        if one.arg == name:
            return one.value
    return call.args[place] if len(call.args) > place else None


def bounded(value: ast.expr | None) -> bool:
    """Whether an argument is there and is neither None nor infinity."""
    if value is None or (isinstance(value, ast.Constant) and value.value is None):
        return False
    return name_of(value) not in ("inf", "float")


def unbounded(text: str) -> Iterator[str]:
    """Yield every cache of a module that may grow without end."""
    tree = ast.parse(text)
    called = {id(node.func) for node in ast.walk(tree) if isinstance(node, ast.Call)}
    for node in ast.walk(tree):
        if isinstance(node, ast.Call):
            yield from _of_call(node)
        elif isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            for one in node.decorator_list:
                bare = not isinstance(one, ast.Call) and id(one) not in called
                if bare and name_of(one) in BY_STREAMLIT | {"cache"}:
                    yield f"line {one.lineno}: {name_of(one)} without a bound"


def _of_call(call: ast.Call) -> Iterator[str]:
    name = name_of(call.func)
    here = f"line {call.lineno}: {name} without a bound"
    if name in CONTAINERS and not bounded(argument(call, "maxsize", 0)):
        yield here
    if name == "lru_cache":
        given = argument(call, "maxsize", 0)
        # called bare, it holds 128 (the standard library's default)
        if given is not None and not bounded(given):
            yield here
    if name in BY_STREAMLIT and not bounded(argument(call, "max_entries", 99)):
        yield here
    if name in BY_CACHETOOLS and isinstance(argument(call, "cache", 0), ast.Dict):
        yield here
    if name == "cache":
        yield here


def modules() -> list[Path]:
    return [path for folder in ("appraise", "ui") for path in sorted((ROOT / folder).rglob("*.py"))]


@pytest.mark.parametrize("path", modules(), ids=lambda path: str(path.relative_to(ROOT)))
def test_every_cache_of_the_module_has_a_bound(path: Path) -> None:
    assert list(unbounded(path.read_text(encoding="utf-8"))) == []


@pytest.mark.parametrize(
    "text",
    [
        "@cache\ndef f(): ...",
        "@functools.cache\ndef f(): ...",
        "f = functools.cache(g)",
        "@lru_cache(maxsize=None)\ndef f(): ...",
        "@lru_cache(None)\ndef f(): ...",
        "@cached(cache={})\ndef f(): ...",
        "@cached({})\ndef f(): ...",
        "c = LRUCache(maxsize=float('inf'))",
        "c = TTLCache(math.inf, 60)",
        "@st.cache_data\ndef f(): ...",
        "@st.cache_data(ttl=60)\ndef f(): ...",
        "@st.cache_resource(show_spinner=False)\ndef f(): ...",
        "@st.cache_data(max_entries=None)\ndef f(): ...",
    ],
)
def test_a_cache_without_a_bound_is_found(text: str) -> None:
    assert len(list(unbounded(text))) == 1


@pytest.mark.parametrize(
    "text",
    [
        "@lru_cache\ndef f(): ...",
        "@lru_cache(maxsize=4)\ndef f(): ...",
        "@cached(cache=LRUCache(maxsize=SIZE // 2, getsizeof=g))\ndef f(): ...",
        "@st.cache_data(max_entries=8)\ndef f(): ...",
        "@cached_property\ndef f(self): ...",
        "@property\ndef f(self): ...",
    ],
)
def test_a_cache_with_a_bound_is_let_be(text: str) -> None:
    assert list(unbounded(text)) == []
