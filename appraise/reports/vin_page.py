"""A vehicle identification number, or two of them, as text."""

from __future__ import annotations

from appraise.engine.papers.vin_compare import Comparison
from appraise.engine.papers.vin_parts import CheckDigit, Vin
from appraise.errors import Problem, one_line

__all__ = ["compare_page", "vin_page"]

WIDTH = 78
CLEAN = (
    "Nothing wrong with the number. It proves no car: compare it on the dash, the door label and "
    "every paper."
)


def vin_page(found: Vin) -> str:
    """Return what a number says: what is wrong first, then what its positions mean."""
    lines = [_cut(found.text) or "no number", "=" * WIDTH, *_problems(found.problems)]
    if found.check is not None:
        if found.check.holds and all(one.weight == "note" for one in found.problems):
            lines.append(CLEAN)
        lines += ["", *_positions(found, found.check)]
    return "\n".join(lines)


def compare_page(found: Comparison) -> str:
    """Return two numbers under each other, marks under what differs, and what it means."""
    marked = {one.position for one in found.differences}
    marks = "".join("^" if at in marked else " " for at in range(1, max(marked, default=0) + 1))
    lines = [_cut(one.text) or "no number" for one in (found.first, found.second)]
    if marks and len(found.first.text) <= WIDTH:
        lines.append(marks)
    return "\n".join([*lines, f"result: {found.result}", *_problems(found.problems)])


def _cut(text: str) -> str:
    line = one_line(text)
    return line if len(line) <= WIDTH else f"{line[: WIDTH - 3]}..."


def _problems(problems: tuple[Problem, ...]) -> list[str]:
    return [
        f"{'-' if one.weight == 'note' else '!'} {one_line(one.words)}"
        for weight in ("stop", "warning", "note")
        for one in problems
        if one.weight == weight
    ]


def _positions(found: Vin, check: CheckDigit) -> list[str]:
    number = found.number
    holds = "holds" if check.holds else f"does not hold, {check.due} would"
    asked = "required" if found.required else "required only if sold new in the United States"
    years = " or ".join(str(one) for one in found.years) or "unknown"
    rows = (
        ("read from", number if found.corrections else ""),
        ("maker", found.maker),
        ("maker's place", found.place.words),
        ("described by", number[3:8]),
        ("check digit", f"{check.found}: {holds} ({check.total} modulo 11); {asked}"),
        ("model year", f"{years} (position 10 is {number[9]}, position 7 is {number[6]})"),
        ("plant", number[10]),
        ("serial", number[11:]),
    )
    return [
        *(f"  {label:<15} {value}" for label, value in rows if value),
        "Years are read for a car or light truck, up to 10,000 lb (4,536 kg) gross.",
    ]
