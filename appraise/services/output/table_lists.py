"""Tables beyond one car as a spreadsheet: all cars, the catalog, a venue's fees, plain rows."""

from __future__ import annotations

import logging
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

from appraise.errors import AppraiseError, BadCase, NewerSchema
from appraise.models.appraisal import Appraisal
from appraise.models.case import Case
from appraise.models.deal import FeeSchedule
from appraise.reference.load import Reference
from appraise.reports.table import Column, Table
from appraise.reports.tables_bid import fees_table
from appraise.reports.tables_lists import (
    CarLine,
    cars_table,
    catalog_jobs_table,
    sources_table,
    values_table,
)
from appraise.reports.workbook import workbook
from appraise.services.cases.casework import appraise_case, today
from appraise.services.cases.editing import next_step

if TYPE_CHECKING:
    from appraise.services.records.workspace import Workspace

__all__ = ["cars_sheet", "catalog_sheet", "fees_sheet", "rows_sheet"]

WIDTH = 34
LOG = logging.getLogger(__name__)


def cars_sheet(workspace: Workspace, reference: Reference) -> bytes:
    """Return the list of all cars as a spreadsheet, the last saved first."""
    lines = []
    for one in workspace.cases.summaries():
        saved = one.updated_at.astimezone().date()
        try:
            case = workspace.cases.load(one.id).case
        except (BadCase, NewerSchema) as error:
            lines.append(CarLine(None, None, f"Cannot be read: {error}", saved, one.title))
            continue
        lines.append(CarLine(case, _priced(case, reference), next_step(case), saved, case.title))
    return workbook((cars_table(lines),), title="Cars", on=today())


def _priced(case: Case, reference: Reference) -> Appraisal | None:
    try:
        return appraise_case(case, reference)
    except AppraiseError:
        return None
    except Exception:
        LOG.exception("The figures of the car %s cannot be worked out", case.id)
        return None


def catalog_sheet(reference: Reference) -> bytes:
    """Return all reference values, the jobs of the catalog and the sources as a spreadsheet."""
    tables = (values_table(reference), catalog_jobs_table(reference), sources_table(reference))
    return workbook(tables, title="Catalog", on=today(), currency=reference.currency)


def fees_sheet(fees: Iterable[FeeSchedule], currency: str, title: str) -> bytes:
    """Return a venue's fees as a spreadsheet."""
    table = fees_table(fees, currency)
    return workbook((table,), title=title, on=today(), currency=currency)


def rows_sheet(
    name: str, rows: Sequence[Mapping[str, object]], title: str, currency: str = "USD"
) -> bytes:
    """Return texts in rows as a spreadsheet, the keys of the first row as heads."""
    heads = list(rows[0]) if rows else []
    columns = tuple(Column(one[:1].upper() + one[1:], WIDTH) for one in heads)
    table = Table(name, columns, tuple(tuple(f"{row[one]}" for one in heads) for row in rows))
    return workbook((table,), title=title, on=today(), currency=currency)
