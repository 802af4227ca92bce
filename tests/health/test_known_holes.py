"""What .ci/known_holes.py makes of the answers of pip-audit and pip.

The answers are of the form that pip-audit documents for `-f json` and pip for its installation
report (version 1, `is_yanked`); packages and advisories are invented.
"""

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import pytest

SCRIPT = Path(__file__).parents[2] / ".ci" / "known_holes.py"
HOLE = {"id": "ADV-1", "aliases": ["CVE-0"], "fix_versions": ["2.1"], "description": "bad"}
SOUND = {"name": "sound", "version": "1.0", "vulns": []}
HOLED = {"name": "holed", "version": "2.0", "vulns": [HOLE]}
UNKNOWN = {"name": "nobody", "skip_reason": "not found"}


@pytest.fixture
def script() -> ModuleType:
    spec = importlib.util.spec_from_file_location("known_holes", SCRIPT)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)

    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


def test_a_known_hole_stops_the_run_and_names_the_release_that_mends_it(script: ModuleType) -> None:
    found = script.from_audit({"dependencies": [SOUND, HOLED]})
    code, lines = script.verdict(found, ())
    assert code == 1
    assert lines[0] == "KNOWN HOLE: holed 2.0: ADV-1, fixed in 2.1"
    assert lines[1] == "Known holes: 1 in 2 of 2 packages."


def test_no_hole_passes_and_what_nobody_knows_is_named(script: ModuleType) -> None:
    code, lines = script.verdict(script.from_audit({"dependencies": [SOUND, UNKNOWN]}), ())
    assert code == 0
    assert lines[:2] == [
        "Known holes: 0 in 1 of 2 packages.",
        "Not known to the index: nobody.",
    ]


@pytest.mark.parametrize("unasked", [True, False])
def test_an_index_without_advisories_is_no_clean_bill(script: ModuleType, *, unasked: bool) -> None:
    found = None if unasked else script.from_audit({"dependencies": [UNKNOWN]})
    code, lines = script.verdict(found, None)
    assert code == 0
    assert all("NOT CHECKED" in one for one in lines)
    assert len(lines) == 2


def test_a_hole_is_accepted_by_any_of_its_names(
    script: ModuleType, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(script.ACCEPTED, "CVE-0", "the part that has it is never reached")
    assert script.from_audit({"dependencies": [HOLED]}).holes == ()


def test_what_is_accepted_says_why(script: ModuleType) -> None:
    assert all(len(reason.split()) > 3 for reason in script.ACCEPTED.values())


def test_a_release_that_was_taken_back_stops_the_run(script: ModuleType) -> None:
    listed = {
        "version": "1",
        "install": [
            {"metadata": {"name": "old", "version": "1.0"}, "is_yanked": True},
            {"metadata": {"name": "new", "version": "2.0"}, "is_yanked": False},
        ],
    }
    code, lines = script.verdict(None, script.from_pip(listed))
    assert code == 1
    assert lines[0] == "KNOWN HOLE: old 1.0: was taken back by its makers"
    assert lines[-1] == "Releases taken back: 1."


def test_the_packages_of_a_folder_are_listed_without_the_program_itself(
    script: ModuleType, tmp_path: Path
) -> None:
    for name, version in (("numpy", "2.9"), ("appraise", "1.0"), ("pip", "26.0")):
        folder = tmp_path / f"{name}-{version}.dist-info"
        folder.mkdir()
        (folder / "METADATA").write_text(f"Name: {name}\nVersion: {version}\n")
    assert script.installed(str(tmp_path)) == ["numpy==2.9"]


def test_the_run_of_everything_asks() -> None:
    assert ".ci/known_holes.py" in SCRIPT.with_name("run").read_text(encoding="utf-8")
