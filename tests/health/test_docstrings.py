"""The engine's docstrings tell the truth: what they name exists."""

from __future__ import annotations

import ast
import inspect
import re
from collections.abc import Iterator
from importlib import import_module
from pathlib import Path
from pkgutil import walk_packages
from types import FunctionType, ModuleType

import pytest

import appraise.engine
from appraise import errors, services

ROOT = Path(__file__).parents[2]
REFERENCE = services.reference_values()
SECTION = re.compile(r"^([A-Z][A-Za-z ]+)\n-{3,}$", re.MULTILINE)
NUMPYDOC = {
    "Parameters",
    "Returns",
    "Yields",
    "Raises",
    "Warns",
    "See Also",
    "Notes",
    "References",
    "Examples",
    "Attributes",
    "Methods",
}
"""The sections of the numpydoc convention (its guide, "Sections")."""
ENTRY = re.compile(r"^(\*{0,2}[A-Za-z_][\w, *]*?)(?: : .*)?$", re.MULTILINE)
READERS = {"number", "spread", "entry", "curve"}
KNOWN_IDS = {*REFERENCE.sources, *REFERENCE.values}


def modules() -> list[ModuleType]:
    found = walk_packages(appraise.engine.__path__, "appraise.engine.")
    return [import_module(one.name) for one in found]


def public_functions() -> Iterator[tuple[str, FunctionType]]:
    """Yield every public function and method that is written in the engine."""
    for module in modules():
        for name, one in vars(module).items():
            if name.startswith("_") or getattr(one, "__module__", "") != module.__name__:
                continue
            place = f"{module.__name__}.{name}"
            if inspect.isfunction(one):
                yield place, one
            elif inspect.isclass(one):
                for inner, method in vars(one).items():
                    plain = getattr(method, "__func__", method)
                    plain = getattr(plain, "fget", plain)
                    if inspect.isfunction(plain) and not inner.startswith("_"):
                        yield f"{place}.{inner}", plain


FUNCTIONS = dict(public_functions())


def sections(text: str) -> dict[str, str]:
    """Return the sections of a docstring by their title."""
    clean = inspect.cleandoc(text)
    found = list(SECTION.finditer(clean))
    ends = [one.start() for one in found[1:]] + [len(clean)] * bool(found)
    return {
        one[1]: clean[one.end() : end].strip("\n") for one, end in zip(found, ends, strict=True)
    }


def entries(section: str) -> list[str]:
    """Return the names that a section describes: its lines that are not set in."""
    heads = [line for line in section.splitlines() if line and not line.startswith(" ")]
    names = [one[1] for line in heads if (one := ENTRY.match(line))]
    return [part.strip(" *") for name in names for part in name.split(",")]


def test_the_engine_has_public_functions() -> None:
    assert len(FUNCTIONS) > 30


@pytest.mark.parametrize("name", FUNCTIONS)
def test_it_says_in_one_sentence_what_comes_back(name: str) -> None:
    text = inspect.getdoc(FUNCTIONS[name]) or ""

    assert text.splitlines()[0].endswith("."), name


@pytest.mark.parametrize("name", FUNCTIONS)
def test_its_sections_are_numpydoc_s(name: str) -> None:
    assert set(sections(FUNCTIONS[name].__doc__ or "")) <= NUMPYDOC


@pytest.mark.parametrize("name", FUNCTIONS)
def test_the_parameters_it_describes_are_its_own_in_their_order(name: str) -> None:
    function = FUNCTIONS[name]
    told = entries(sections(function.__doc__ or "").get("Parameters", ""))
    has = [one for one in inspect.signature(function).parameters if one not in ("self", "cls")]

    assert [one for one in has if one in told] == told


@pytest.mark.parametrize("name", FUNCTIONS)
def test_the_errors_it_describes_exist(name: str) -> None:
    told = entries(sections(FUNCTIONS[name].__doc__ or "").get("Raises", ""))
    builtin = {"ValueError", "KeyError", "TypeError", "IndexError"}

    assert set(told) <= set(errors.__all__) | builtin


def cited(text: str) -> set[str]:
    """Return the reference ids in a docstring: those under References, set in backticks."""
    return set(re.findall(r"`([a-z0-9_.-]+)`", sections(text).get("References", "")))


def test_every_source_that_is_cited_exists() -> None:
    """Whatever stands under References, in any docstring of the engine, private ones included."""
    for module in modules():
        tree = ast.parse(Path(module.__file__ or "").read_text(encoding="utf-8"))
        for node in ast.walk(tree):
            if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef):
                assert cited(ast.get_docstring(node) or "") <= KNOWN_IDS, module.__name__


CLASSES = {
    f"{module.__name__}.{name}": one
    for module in [*modules(), errors]
    for name, one in vars(module).items()
    if inspect.isclass(one) and one.__module__ == module.__name__
}


@pytest.mark.parametrize("name", CLASSES)
def test_the_attributes_a_class_describes_are_its_own(name: str) -> None:
    one = CLASSES[name]
    told = entries(sections(one.__doc__ or "").get("Attributes", ""))
    has = {field for kind in one.__mro__ for field in getattr(kind, "__annotations__", {})}
    made = {part for part in dir(one) if not part.startswith("__")}
    given = set(inspect.signature(one).parameters)

    assert set(told) <= has | made | given


def asked_for(module: ModuleType) -> Iterator[str]:
    """Yield every reference value that a module reads by an id written out in full."""
    path = Path(module.__file__ or "")
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if not isinstance(node, ast.Call) or not isinstance(node.func, ast.Attribute):
            continue
        first = node.args[0] if node.args else None
        if node.func.attr in READERS and isinstance(first, ast.Constant):
            yield str(first.value)


def test_every_reference_value_that_the_engine_reads_exists() -> None:
    asked = {value_id for module in modules() for value_id in asked_for(module)}

    assert len(asked) > 15
    assert asked <= set(REFERENCE.values)


def test_what_a_docstring_gets_wrong_is_found() -> None:
    text = """Return it.

    Parameters
    ----------
    first, second : two things.
        and more of them
    third

    Raises
    ------
    NoSuchError
        Never.

    References
    ----------
    `no-such-source`, section 2
    """

    found = sections(text)
    assert entries(found["Parameters"]) == ["first", "second", "third"]
    assert entries(found["Raises"]) == ["NoSuchError"]
    assert cited(text) == {"no-such-source"}
    assert not cited(text) <= KNOWN_IDS
