"""Receipts, refunds, deposits and hours: added, and taken back by a new entry, never changed.

Only the photos and PDFs that show an entry may come and go: they alter nothing of what it says.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from typing import Any

from appraise.errors import BadCase, Problem
from appraise.intake.files import files_words
from appraise.models.case import Case
from appraise.models.files import Attachments
from appraise.models.ledger import Entry, EntryKind
from appraise.services.cases.editing import changed, free_id

__all__ = [
    "add_entry",
    "attach_to_entry",
    "on_file",
    "still_standing",
    "take_back",
    "totals",
]


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
    entry = _entry_of(case, entry_id)
    # A day's hours are taken back on that day: it is then that they were not worked.
    day = entry.on if entry.kind is EntryKind.HOURS else on
    back = entry.model_dump() | {
        "id": free_id(f"back {entry_id}", _names(case)),
        "on": max(day, entry.on),
        "corrects": entry.id,
        "attachments": (),  # they show the entry that is taken back, not this one
        "note": note,
    }
    rows = [*(one.model_dump() for one in case.work.entries), back]
    return changed(case, ("work", "entries"), rows)


def attach_to_entry(case: Case, entry_id: str, files: Attachments) -> Case:
    """Return the case with other photos and PDFs on an entry: the one change that there is to one.

    A photo of the receipt is evidence of what the entry says and alters nothing of it. Day, kind,
    amount, hours and all else stay as they were entered, and are corrected by `take_back` alone.
    The history tells which photos came and went.

    Parameters
    ----------
    files : all that the entry is to name from now on.

    Raises
    ------
    BadCase
        There is no such entry, or it cannot name those files.
    """
    _entry_of(case, entry_id)
    raw = [one.model_dump() for one in files]
    return changed(case, ("work", "entries", entry_id, "attachments"), raw)


def _entry_of(case: Case, entry_id: str) -> Entry:
    entry = next((one for one in case.work.entries if one.id == entry_id), None)
    if entry is None:
        raise BadCase((Problem("work.entries", f"there is no entry {entry_id!r}", "stop"),))
    return entry


def _names(case: Case) -> list[str]:
    return [one.id for one in case.work.entries]


def still_standing(case: Case) -> tuple[Entry, ...]:
    """Return the entries that were not taken back, and take nothing back themselves."""
    gone = {one.corrects for one in case.work.entries}
    return tuple(one for one in case.work.entries if one.corrects is None and one.id not in gone)


def on_file(case: Case) -> dict[str, str]:
    """Return by planned job what is on file of it, in words; jobs with nothing are left out.

    Its photos and PDFs, and how many of its receipts that stand have any of their own.
    """
    receipts = [one for one in still_standing(case) if one.kind is not EntryKind.HOURS]
    shown = Counter(one.job for one in receipts if one.attachments)
    out = {}
    for job in case.work.jobs:
        count = shown[job.id]
        more = f"{count} receipt{'s' * (count > 1)}" if count else ""
        said = ", ".join(part for part in (files_words(job.attachments), more) if part)
        if said:
            out[job.id] = said
    return out


def totals(case: Case) -> dict[str, Decimal]:
    """Return what every kind of entry sums to, to the cent; money back counts below nothing."""
    out = {kind.value: Decimal(0) for kind in EntryKind}
    for one in case.work.entries:
        out[one.kind.value] += one.worked if one.kind is EntryKind.HOURS else one.paid
    return out
