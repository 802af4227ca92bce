"""Ask whether what the program needs has known security holes, or releases that were taken back.

Holes come from the advisories that the package index publishes, asked for by pip-audit; releases
that were taken back ("yanked", PEP 592) from the index's answer to pip. An index that has no
advisories is told, and then only the second is known: silence is no clean bill.

Run it in an environment that has pip-audit and a pip which tells what was taken back (25 or newer),
with the folder of the packages that are looked at:
    python .ci/known_holes.py VENV/lib/python3.X/site-packages
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from importlib.metadata import distributions
from pathlib import Path
from typing import Any

ACCEPTED: dict[str, str] = {}
"""Advisories that do not touch this program, by id, each with the reason; none at present."""
LONGEST = 240
"""Seconds that either question may take."""


@dataclass(frozen=True, slots=True)
class Found:
    """What is known of the packages.

    Attributes
    ----------
    holes : one line for each known hole.
    unknown : packages of which nobody could say anything.
    asked : how many packages were asked about.
    """

    holes: tuple[str, ...]
    unknown: tuple[str, ...]
    asked: int


def from_audit(report: dict[str, Any]) -> Found:
    """Return what a report of pip-audit (JSON) says, without what is accepted."""
    holes, unknown = list[str](), list[str]()
    for one in report["dependencies"]:
        if "skip_reason" in one:
            unknown.append(one["name"])
            continue
        for hole in one["vulns"]:
            if {hole["id"], *hole.get("aliases", ())} & set(ACCEPTED):
                continue
            fixed = ", ".join(hole["fix_versions"]) or "no release yet"
            holes.append(f"{one['name']} {one['version']}: {hole['id']}, fixed in {fixed}")
    return Found(tuple(holes), tuple(unknown), len(report["dependencies"]))


def from_pip(report: dict[str, Any]) -> tuple[str, ...]:
    """Return the releases that were taken back, from an installation report of pip."""
    return tuple(
        f"{one['metadata']['name']} {one['metadata']['version']}: was taken back by its makers"
        for one in report["install"]
        if one.get("is_yanked")
    )


def verdict(found: Found | None, taken_back: tuple[str, ...] | None) -> tuple[int, list[str]]:
    """Return the exit code and the lines to print; None is what could not be asked."""
    bad = [*(found.holes if found else ()), *(taken_back or ())]
    lines = [f"KNOWN HOLE: {one}" for one in bad]
    if found is None or len(found.unknown) == found.asked:
        lines.append("Known holes: NOT CHECKED, the index publishes no advisories here.")
    else:
        known = found.asked - len(found.unknown)
        lines.append(f"Known holes: {len(found.holes)} in {known} of {found.asked} packages.")
        if found.unknown:
            lines.append(f"Not known to the index: {', '.join(found.unknown)}.")
    if taken_back is None:
        lines.append("Releases taken back: NOT CHECKED, the index did not answer.")
    else:
        lines.append(f"Releases taken back: {len(taken_back)}.")
    return (1 if bad else 0), lines


def installed(folder: str) -> list[str]:
    """Return what is installed in a folder beside this program, as name==version."""
    return sorted(
        {
            f"{one.metadata['Name']}=={one.version}"
            for one in distributions(path=[folder])
            if one.metadata["Name"] not in {"appraise", "pip"}
        }
    )


def _report(command: list[str], out: Path) -> dict[str, Any] | None:
    """Return the JSON that a command wrote, or None if it wrote none."""
    try:
        subprocess.run(command, check=False, capture_output=True, timeout=LONGEST)  # noqa: S603
        found: dict[str, Any] = json.loads(out.read_text(encoding="utf-8"))
    except (OSError, ValueError, subprocess.TimeoutExpired):
        return None
    return found


def main(packages: str) -> int:
    """Ask both questions of a folder of packages and print the answers."""
    with tempfile.TemporaryDirectory() as folder:
        audit, report = Path(folder, "audit.json"), Path(folder, "pip.json")
        wanted = Path(folder, "wanted.txt")
        wanted.write_text("\n".join(installed(packages)), encoding="utf-8")
        pinned = ["-r", str(wanted)]
        here = [sys.executable, "-m"]
        asked = ["pip_audit", "--disable-pip", "--no-deps", *pinned, "-f", "json"]
        audited = _report([*here, *asked, "-o", str(audit)], audit)
        asked = ["pip", "install", "--dry-run", "--ignore-installed", "--no-deps", *pinned]
        listed = _report([*here, *asked, "--report", str(report)], report)
    code, lines = verdict(
        None if audited is None else from_audit(audited),
        None if listed is None else from_pip(listed),
    )
    print("\n".join(lines))  # noqa: T201
    return code


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:2]))
