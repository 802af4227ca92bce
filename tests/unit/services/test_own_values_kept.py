"""Own values are written whole, by one at a time, and only over what was read."""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from appraise.errors import BadReference, CaseChangedElsewhere, StoreUnavailable
from appraise.services.records.workspace import own_text, save_own_text

LONG = "# a line of a person's own\n" * 4_000


def test_what_was_saved_since_it_was_read_is_not_overwritten(tmp_path: Path) -> None:
    path = tmp_path / "new folder" / "own_values.toml"
    save_own_text(path, "# first\n", read="")
    save_own_text(path, "# second\n", read="# first\n")
    with pytest.raises(CaseChangedElsewhere, match="saved elsewhere") as caught:
        save_own_text(path, "# third\n", read="# first\n")

    assert str(path) in str(caught.value)
    assert own_text(path) == "# second\n"


def test_what_does_not_hold_together_leaves_what_was_there(tmp_path: Path) -> None:
    path = tmp_path / "own_values.toml"
    save_own_text(path, "# first\n")
    with pytest.raises(BadReference):
        save_own_text(path, "[[value", read="# first\n")

    assert own_text(path) == "# first\n"
    assert [one.name for one in tmp_path.iterdir()] == [path.name]


def test_a_full_disk_leaves_what_was_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "own_values.toml"
    save_own_text(path, "# first\n")

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(StoreUnavailable, match="No space left"):
        save_own_text(path, LONG)

    assert own_text(path) == "# first\n"
    assert [one.name for one in tmp_path.iterdir()] == [path.name]


def test_whoever_reads_while_others_save_reads_a_whole_one(tmp_path: Path) -> None:
    path = tmp_path / "own_values.toml"
    texts = [f"{LONG}# number {number}\n" for number in range(4)]
    save_own_text(path, texts[0])

    def save(text: str) -> None:
        for _ in range(10):
            save_own_text(path, text)

    with ThreadPoolExecutor(len(texts)) as pool:
        saving = [pool.submit(save, one) for one in texts]
        read = {own_text(path) for _ in range(300)}
        for one in saving:
            one.result()
    assert read | {own_text(path)} <= set(texts)
    assert [one.name for one in tmp_path.iterdir()] == [path.name]
