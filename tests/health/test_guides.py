"""The guides say what is there: the paths they name, the output they show, and no more words."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from typer.testing import CliRunner

from appraise.cli import app

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
MOST_WORDS = 550
SHOWN = 12
"""Lines of a bid."""
FOLDERS = (ROOT, ROOT / "appraise", ROOT / "appraise/reference", ROOT / "appraise/reference/data")
SECTIONS = ("Contributing", "Layout", "Decisions", "How to", "Testing", "Releasing", "Changelog")


def test_readme_is_short() -> None:
    assert len(README.split()) < MOST_WORDS


def test_readme_shows_what_the_command_prints(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("APPRAISE_DATA_FOLDER", str(tmp_path))
    printed = CliRunner().invoke(app, ["bid", "demo"]).output
    shown = re.search(r"`\.venv/bin/appraise bid demo` begins:\n\n```\n(.*?)```", README, re.DOTALL)

    assert shown is not None
    assert len(shown[1].splitlines()) == SHOWN
    assert printed.startswith(shown[1])


def test_every_file_a_guide_names_is_there() -> None:
    named = re.findall(r"`((?:[\w.]+/)*[\w.]+\.(?:py|toml|typ|md))`", DEVELOPERS)
    named += re.findall(r"\]\(([\w/.]+)(?:#[\w-]*)?\)", README + DEVELOPERS)
    absent = {
        "secrets.toml",
    }
    gone = {
        name
        for name in set(named) - absent
        if not any((folder / name).exists() for folder in FOLDERS)
        and ("/" in name or not list((ROOT / "appraise").rglob(name)))
    }

    assert len(named) > len(SECTIONS)
    assert not gone


def test_the_sections_stand_in_the_usual_order() -> None:
    found = re.findall(r"^## (.+)$", DEVELOPERS, re.MULTILINE)

    assert [one for one in found if one in SECTIONS] == list(SECTIONS)
    for link in re.findall(r"DEVELOPERS\.md#([\w-]+)", README):
        assert link in {re.sub(r"[^\w -]", "", one).lower().replace(" ", "-") for one in found}
