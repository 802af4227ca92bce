"""Receipts, refunds, deposits and hours: added, and taken back by a new entry, never changed."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from typing import Any

from appraise.errors import BadCase, Problem
from appraise.models.case import Case
from appraise.models.ledger import CORES, Entry, EntryKind
from appraise.services.editing import changed, free_id

__all__ = ["add_entry", "entry_words", "still_standing", "take_back", "totals"]


def add_entry(case: Case, given: Mapping[str, Any]) -> Case:
    """Return the case with a new entry.

    Parameters
    ----------
    given : fields of an entry but its id.

    Raises
    ------
    BadCase
        It cannot be: names the field and why.
    """
    name = free_id(f"{given.get('kind', 'entry')} {given.get('on', '')}", _names(case))
    rows = [*(one.model_dump() for one in case.work.entries), {"id": name, **given}]
    return changed(case, ("work", "entries"), rows)


def take_back(case: Case, entry_id: str, on: date, note: str = "") -> Case:
    """Return the case with an entry taken back whole by a new one.

    Raises
    ------
    BadCase
        There is no such entry, or it was taken back already.
    """
    entry = next((one for one in case.work.entries if one.id == entry_id), None)
    if entry is None:
        raise BadCase((Problem("work.entries", f"there is no entry {entry_id!r}", "stop"),))
    # A day's hours are taken back on that day: it is then that they were not worked.
    day = entry.on if entry.kind is EntryKind.HOURS else on
    back = entry.model_dump() | {
        "id": free_id(f"back {entry_id}", _names(case)),
        "on": max(day, entry.on),
        "corrects": entry.id,
        "note": note,
    }
    rows = [*(one.model_dump() for one in case.work.entries), back]
    return changed(case, ("work", "entries"), rows)


def _names(case: Case) -> list[str]:
    return [one.id for one in case.work.entries]


def still_standing(case: Case) -> tuple[Entry, ...]:
    """Return the entries that were not taken back, and take nothing back themselves."""
    gone = {one.corrects for one in case.work.entries}
    return tuple(one for one in case.work.entries if one.corrects is None and one.id not in gone)


def totals(case: Case) -> dict[str, Decimal]:
    """Return what every kind of entry sums to, to the cent; money back counts below nothing."""
    out = {kind.value: Decimal(0) for kind in EntryKind}
    for one in case.work.entries:
        out[one.kind.value] += one.worked if one.kind is EntryKind.HOURS else one.paid
    return out


def entry_words(entry: Entry, currency: str) -> str:
    """Return an entry as one line."""
    kind = entry.kind.value.replace("_", " ")
    said = f"{entry.worked:g} h" if entry.kind is EntryKind.HOURS else f"{entry.paid:,.2f}"
    money = "" if entry.kind is EntryKind.HOURS else f" {currency}"
    deposit = ", a deposit" if entry.kind in CORES and entry.kind is EntryKind.CORE_DEPOSIT else ""
    back = f", takes back {entry.corrects}" if entry.corrects else ""
    return f"{entry.on} {kind} {said}{money}{deposit}{back}"
