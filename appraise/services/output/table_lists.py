"""Tables beyond one car as a spreadsheet: all cars, the catalog, any one table."""

from __future__ import annotations

import logging
from typing import TYPE_CHECKING

from appraise.errors import AppraiseError, BadCase, NewerSchema
from appraise.models.appraisal import Appraisal
from appraise.models.case import Case
from appraise.reference.load import Reference
from appraise.reports.table import Table
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

__all__ = ["cars_sheet", "catalog_sheet", "sheet_of"]

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
    return sheet_of(cars_table(lines), "Cars")


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


def sheet_of(table: Table, title: str, currency: str = "USD") -> bytes:
    """Return one table as a spreadsheet."""
    return workbook((table,), title=title, on=today(), currency=currency)
