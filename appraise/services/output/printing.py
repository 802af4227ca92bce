"""Parts, cores and days gathered once, and written out: as a record, a spreadsheet, a paper."""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping
from dataclasses import asdict
from datetime import date
from pathlib import Path
from secrets import token_hex
from typing import TYPE_CHECKING

from pydantic_core import to_json

from appraise.errors import AppraiseError, BadCase, Problem, one_line
from appraise.models.case import Case
from appraise.reference.jobs import job_label
from appraise.reference.load import Reference
from appraise.reference.signs import possible_causes
from appraise.reports.parts_page import PartsLists, day_rows
from appraise.services.cases.casework import appraise_case, today
from appraise.services.ownership.bookkeeping import on_file
from appraise.services.ownership.deciding import day_plan_of, forecast_case
from appraise.services.ownership.shopping import cores_to_return, part_rows

if TYPE_CHECKING:
    from appraise.store.cases import SaleRecord

__all__ = [
    "bid_sheet",
    "buyers_sheet",
    "free_place",
    "parts_json",
    "parts_lists",
    "parts_paper",
    "parts_paper_of",
    "parts_sheet",
    "parts_sheet_of",
    "work_sheet",
    "write_files",
    "write_parts",
]

BIDS, FEW_BIDS, MANY_WARNINGS = 9, 3, 2
"""Bids make room on the sheet for warnings, so that it stays one page."""


def parts_lists(case: Case, reference: Reference, on: date | None = None) -> PartsLists:
    """Return parts to buy, cores to give back and the day plan of an owned car.

    Raises
    ------
    BadCase
        It is not owned, or names what does not exist.
    AppraiseError
        There is no day plan; names the field and why.
    """
    if case.purchase is None:
        hint = "Enter the price paid and the day."
        raise BadCase((Problem("purchase", "the car is not bought yet", "stop", hint),))
    day = on or today()
    return PartsLists(
        on=day,
        parts=part_rows(case, reference, day),
        cores=cores_to_return(case, reference),
        days=day_plan_of(case, reference, day),
    )


def parts_json(case: Case, lists: PartsLists) -> str:
    """Return the lists as one JSON object: amounts as decimals in quotes, as in a case file."""
    problem = lists.days.plan.problem
    record = {
        "currency": case.currency,
        "on": lists.on,
        "parts": [asdict(one) for one in lists.parts],
        "cores": [asdict(one) for one in lists.cores],
        "days": day_rows(lists.days),
        "problems": [problem] if problem else [],
    }
    return to_json(record, indent=2).decode()


def parts_sheet(case: Case, reference: Reference, on: date | None = None) -> bytes:
    """Return parts, cores and days as a spreadsheet (xlsx); raise as `parts_lists` does."""
    return parts_sheet_of(case, parts_lists(case, reference, on))


def parts_paper(case: Case, reference: Reference, on: date | None = None) -> bytes:
    """Return parts to buy and cores to give back as a paper (PDF); raise as `parts_lists` does."""
    return parts_paper_of(case, parts_lists(case, reference, on))


def parts_sheet_of(case: Case, lists: PartsLists) -> bytes:
    """Return a workbook (xlsx) with the sheets Parts, Cores and Days; the same each time."""
    from appraise.reports import tables_parts as tables  # noqa: PLC0415 - seldom needed
    from appraise.reports.workbook import workbook  # noqa: PLC0415

    made = (
        tables.part_table(case.currency, lists.parts),
        tables.core_table(case.currency, lists.cores),
        tables.day_table(lists.days),
    )
    return workbook(made, title=case.title, on=lists.on, currency=case.currency)


def parts_paper_of(case: Case, lists: PartsLists) -> bytes:
    """Return the lists as a paper (PDF)."""
    from appraise.reports.paper import parts_paper as written  # noqa: PLC0415 - seldom needed

    return written(case, lists)


def write_parts(
    case: Case, lists: PartsLists, *, sheet: Path | None, paper: Path | None, force: bool
) -> tuple[str, ...]:
    """Write the lists to the files that are named, all or none; return what was written, in words.

    Raises
    ------
    AppraiseError
        A file cannot be written, or is there already and `force` is not given.
    """
    wanted = (
        (sheet, ".xlsx", "--sheet", parts_sheet_of),
        (paper, ".pdf", "--paper", parts_paper_of),
    )
    for path, ending, option, _ in wanted:
        if path is not None:
            free_place(path, ending, option, force=force)
    contents = {path: make(case, lists) for path, _, _, make in wanted if path is not None}
    write_files(contents, force=force)
    told = f"written, parts: {len(lists.parts)}, cores to give back: {len(lists.cores)}"
    return tuple(one_line(f"{path}: {told}") for path in contents)


def free_place(path: Path, ending: str, option: str, *, force: bool) -> None:
    """Refuse a file that cannot be written, or that would be written over.

    Raises
    ------
    AppraiseError
        Its folder is not there, it ends otherwise, is no file, or is there already.
    """
    if path.suffix.lower() != ending:
        raise AppraiseError(f"{option} should end in {ending}", where=str(path))
    if not os.path.isdir(path.parent):  # noqa: PTH112 - answers False for names that are too long
        raise AppraiseError("there is no such folder", where=str(path.parent))
    try:
        path.lstat()
    except FileNotFoundError:
        return
    except OSError as error:
        raise AppraiseError(f"cannot be written: {error.strerror}", where=str(path)) from error
    if not path.is_file():
        raise AppraiseError("is there already and is no file", where=str(path))
    if not force:
        raise _is_there(path)


def _is_there(path: Path) -> AppraiseError:
    return AppraiseError("is there already", where=str(path), hint="Write over it with --force.")


def write_files(contents: Mapping[Path, bytes], *, force: bool = False) -> None:
    """Write files, each whole or not at all; none if one of them cannot be written.

    Parameters
    ----------
    force : write over files that are there, also one that came after `free_place` had looked.

    Raises
    ------
    AppraiseError
        One cannot be written; says which and why.
    """
    halves: dict[Path, Path] = {}
    made: list[Path] = []
    where = Path()
    try:
        for where, content in contents.items():
            half = where.parent / f".{token_hex(8)}.part"
            with half.open("xb") as file:
                halves[where] = half
                file.write(content)
        for where, half in halves.items():
            if force:
                half.replace(where)
            else:
                _put(half, where)
                made.append(where)
    except OSError as error:
        for one in made:
            one.unlink(missing_ok=True)
        if isinstance(error, FileExistsError):
            raise _is_there(where) from error
        raise AppraiseError(f"cannot be written: {error.strerror}", where=str(where)) from error
    finally:
        for half in halves.values():
            half.unlink(missing_ok=True)


def _put(half: Path, where: Path) -> None:
    """Give a finished file its name, where there is none of that name."""
    try:
        os.link(half, where)  # unlike a renaming, it never takes the place of another
    except FileExistsError:
        raise
    except OSError:  # a file system without links
        if os.path.lexists(where):
            raise FileExistsError from None
        half.replace(where)


def bid_sheet(
    case: Case,
    reference: Reference,
    on: date | None = None,
    sales: Iterable[SaleRecord] = (),
) -> bytes:
    """Return the bid sheet (PDF): one page to hold at an auction.

    Parameters
    ----------
    sales : the person's cars offered or sold, from the store.

    Raises
    ------
    BadCase, CannotPrice
        There is no estimate.
    """
    from appraise.engine.bid.ladder import ladder  # noqa: PLC0415
    from appraise.reports.bid_sheet import bid_sheet as written  # noqa: PLC0415 - seldom needed
    from appraise.services.output.telling import told_of  # noqa: PLC0415

    day = on or today()
    appraisal = appraise_case(case, reference)
    told = told_of(case, reference, appraisal, sales, day)
    count = BIDS if len(told.stops) + len(told.warnings) <= MANY_WARNINGS else FEW_BIDS
    return written(case, appraisal, told, ladder(case.deal, appraisal, count), day)


def work_sheet(case: Case, reference: Reference, on: date | None = None) -> bytes:
    """Return the work sheet (PDF) of an owned car.

    Raises
    ------
    BadCase
        It is not owned, or names what does not exist.
    """
    from appraise.reports.work_sheet import work_sheet as written  # noqa: PLC0415 - seldom needed

    day = on or today()
    return written(case, forecast_case(case, reference, day), reference, on_file(case), day)


def buyers_sheet(case: Case, reference: Reference, on: date | None = None) -> bytes:
    """Return the buyer's sheet (PDF): what was done with its proof, what is known."""
    from appraise.engine.papers.odometer_law import disclosure_duty  # noqa: PLC0415
    from appraise.engine.papers.priced_brand import marks_of  # noqa: PLC0415
    from appraise.reports.buyers_sheet import buyers_sheet as written  # noqa: PLC0415
    from appraise.services.ownership.proving import proof_of  # noqa: PLC0415

    day = on or today()
    labels = {one.id: job_label(case, one.job, reference) for one in case.work.jobs}
    proofs = {
        one.id: tuple(
            f"{result}: {words}" for result, words in proof_of(one, case, reference).lines
        )
        for one in case.work.jobs
    }
    duty = disclosure_duty(case.vehicle.model_year, day)
    said = f"In the United States the mileage is {duty.why} ({duty.section})."
    causes = {
        one.id: possible_causes(one, case.vehicle, reference).get(one.truth.cause or "", "")
        for one in case.findings
        if one.truth is not None
    }
    return written(case, labels, causes, proofs, on_file(case), said, marks_of(case), day)
