"""The shipped data are as they were: what is in each file, and how many entries there are.

An edit, meant or not, fails here until its pin moves in the same change: ``pytest --update
tests/health/test_pins.py`` writes the pins of the data as they stand.
"""

from __future__ import annotations

import hashlib
import json
from collections import Counter
from collections.abc import Iterator
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path

import pytest

from appraise.reference.load import load_reference

PINS = Path(__file__).with_name("pins.json")
Pins = dict[str, dict[str, str | int]]


def data_files(folder: Traversable, before: str = "") -> Iterator[tuple[str, str]]:
    """Yield each data file with the first sixteen hexadecimal digits of its SHA-256."""
    for entry in folder.iterdir():
        if entry.is_dir():
            yield from data_files(entry, f"{before}{entry.name}/")
        elif entry.name.endswith(".toml"):
            data = entry.read_bytes().replace(b"\r\n", b"\n")  # line ends of any system made alike
            yield before + entry.name, hashlib.sha256(data).hexdigest()[:16]


def as_they_stand() -> Pins:
    """Return the pins of the data as they stand."""
    reference = load_reference()
    jobs = Counter(entry.job.system.value for entry in reference.jobs.values())
    return {
        "files": dict(sorted(data_files(files("appraise.reference") / "data"))),
        "jobs": dict(sorted(jobs.items())),
        "diagnosis": {
            "causes": len(reference.causes),
            "symptoms": len(reference.symptoms),
            "code groups": len(reference.code_groups),
            "codes": sum(len(group.codes) for group in reference.code_groups.values()),
            "checks": len(reference.checks),
        },
    }


def test_no_data_changed_without_its_pin(request: pytest.FixtureRequest) -> None:
    found = as_they_stand()
    if request.config.getoption("--update"):
        PINS.write_text(json.dumps(found, indent=1) + "\n", encoding="utf-8")
    pinned: Pins = json.loads(PINS.read_text(encoding="utf-8"))

    moved = [
        f"{group}: {name}"
        for group, now in found.items()
        for name in sorted(now.keys() | pinned[group].keys())
        if now.get(name) != pinned[group].get(name)
    ]

    assert len(pinned["files"]) > 50
    assert moved == []
