"""Every table of a car by its name, to be written as a spreadsheet."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from appraise.engine.papers.examined import Examined
from appraise.errors import AppraiseError, one_line
from appraise.models.appraisal import Appraisal
from appraise.models.case import Case, Standing
from appraise.models.choices import Choices
from appraise.models.diagnosis import Diagnosis
from appraise.models.earned import Earned
from appraise.models.forecast import Forecast
from appraise.models.told import Told
from appraise.reference.jobs import job_label
from appraise.reference.load import Reference
from appraise.reports import tables_bid as bid
from appraise.reports import tables_choose as choose
from appraise.reports import tables_lists as lists
from appraise.reports import tables_look as look
from appraise.reports import tables_papers as papers
from appraise.reports import tables_parts as parts
from appraise.reports import tables_work as work
from appraise.reports.table import Table
from appraise.reports.workbook import workbook
from appraise.services.cases.casework import appraise_case, today
from appraise.services.inspection.diagnosing import diagnose_case
from appraise.services.inspection.measuring import verdict_of
from appraise.services.inspection.paperwork import examine
from appraise.services.output.printing import write_files
from appraise.services.output.telling import told_of_all
from appraise.services.ownership.bookkeeping import totals
from appraise.services.ownership.deciding import choose_case, day_plan_of, earned_by, forecast_case
from appraise.services.ownership.owning import itemize_case
from appraise.services.ownership.proving import proof_of
from appraise.services.ownership.shopping import cores_to_return, part_rows

if TYPE_CHECKING:
    from appraise.engine.work.schedule import DayPlan
    from appraise.store.cases import SaleRecord

__all__ = [
    "NAMES",
    "Gathered",
    "car_tables",
    "earned_sheet",
    "table_sheet",
    "write_tables",
]


Found = TypeVar("Found")


@dataclass(frozen=True, slots=True)
class Gathered:
    """The tables that a car can give.

    Attributes
    ----------
    left_out : names of those that cannot be worked out, by why.
    """

    tables: tuple[Table, ...]
    left_out: dict[str, tuple[str, ...]]


@dataclass(frozen=True)
class _Car:
    """A car with what is worked out of it, once and when it is first asked for."""

    case: Case
    reference: Reference
    on: date
    sales: tuple[SaleRecord, ...] = ()

    @property
    def money(self) -> str:
        return self.case.currency

    @cached_property
    def appraisal(self) -> Appraisal:
        return appraise_case(self.case, self.reference)

    @cached_property
    def priced(self) -> Appraisal | None:
        """The estimate, or None for a table that goes without."""
        return _or_none(lambda: self.appraisal)

    @cached_property
    def diagnosis(self) -> Diagnosis:
        return diagnose_case(self.case, self.reference)

    @cached_property
    def examined(self) -> Examined:
        return examine(self.case, self.reference)

    @cached_property
    def forecast(self) -> Forecast:
        return forecast_case(self.case, self.reference, self.on)

    @cached_property
    def days(self) -> DayPlan:
        return day_plan_of(self.case, self.reference, self.on)

    @cached_property
    def choices(self) -> Choices:
        return choose_case(self.case, self.reference, self.on)

    @cached_property
    def earned(self) -> Earned:
        return earned_by(self.case, self.on, Decimal(0))

    @cached_property
    def planned(self) -> dict[str, str]:
        """Names of the planned jobs."""
        known = self.case.work.jobs
        return {one.id: job_label(self.case, one.job, self.reference) for one in known}

    @cached_property
    def proofs(self) -> work.Proofs:
        return {one.id: self._proof(one.id) for one in self.case.work.jobs}

    def _proof(self, name: str) -> tuple[str, tuple[tuple[str, str], ...]]:
        job = next(one for one in self.case.work.jobs if one.id == name)
        try:
            found = proof_of(job, self.case, self.reference)
        except AppraiseError as error:
            return "cannot tell", (("cannot tell", str(error)),)
        return found.result, found.lines

    def told(self) -> Told:
        owned = self.case.purchase is not None
        forecast = _or_none(lambda: self.forecast) if owned else None
        return told_of_all(self.case, self.reference, self.priced, forecast, self.sales, self.on)

    def measured(self) -> Iterable[look.Taken]:
        """Return every measurement, of the look and of the proofs."""
        taken = [("", one) for one in self.case.measurements]
        taken += [
            (self.planned[job.id], one)
            for job in self.case.work.jobs
            for one in job.proof.measurements
        ]
        for after, one in taken:
            try:
                yield after, one, verdict_of(one, self.reference)
            except (AppraiseError, ValueError, TypeError):  # as in a proof: nobody can tell
                yield after, one, None


def _or_none(work_out: Callable[[], Found]) -> Found | None:
    try:
        return work_out()
    except AppraiseError:
        return None


def _landed(car: _Car) -> Table:
    if car.case.purchase is not None:
        return bid.landed_table(car.money, None, car.forecast)
    return bid.landed_table(car.money, car.appraisal.outcome, None)


Maker = Callable[[_Car], Table]
LOOKED: dict[str, Maker] = {
    "Warnings": lambda car: look.warnings_table(car.told().everything),
    "Findings": lambda car: look.findings_table(car.case, car.priced, car.reference),
    "Faults": lambda car: look.faults_table(car.diagnosis, car.money),
    "What to look at next": lambda car: look.looks_table(car.diagnosis, car.reference, car.money),
    "Steps to find it": lambda car: look.steps_table(car.diagnosis, car.money),
    "Papers": lambda car: papers.papers_table(car.case),
    "Lines of the papers": lambda car: papers.lines_table(car.case),
    "What the papers prove": lambda car: papers.proves_table(
        car.case, car.examined.strengths, car.reference
    ),
    "In hand before money moves": lambda car: papers.hand_table(car.examined.in_hand),
    "Odometer by day": lambda car: papers.odometer_table(car.examined.odometer.readings),
    "Measurements": lambda car: look.measurements_table(car.measured(), car.reference),
    "Comparable cars": lambda car: bid.comparables_table(car.case, car.priced),
    "Price by distance": lambda car: bid.band_table(car.appraisal),
    "Estimate": lambda car: bid.estimate_table(car.appraisal),
    "What each bid leads to": lambda car: bid.bids_table(car.appraisal),
    "From the sale to the profit": lambda car: bid.steps_table(car.appraisal),
    "What makes it uncertain": lambda car: bid.doubt_table(car.appraisal),
    "What was not inspected": lambda car: bid.areas_table(car.appraisal),
    "Fees of the venue": lambda car: bid.fees_table(car.case.deal.fees, car.money),
    "Cost to buy": _landed,
}
OWNED: dict[str, Maker] = {
    "Then and now": lambda car: work.then_table(itemize_case(car.case, car.reference), car.money),
    "Jobs": lambda car: work.jobs_table(car.case, car.forecast, car.planned, car.proofs),
    "Tests": lambda car: work.proofs_table(car.case, car.planned, car.proofs),
    "Parts": lambda car: parts.part_table(car.money, part_rows(car.case, car.reference, car.on)),
    "Cores": lambda car: parts.core_table(car.money, cores_to_return(car.case, car.reference)),
    "Days": lambda car: parts.day_table(car.days),
    "Days of each job": lambda car: work.slots_table(car.case, car.days.plan, car.planned),
    "Entries": lambda car: work.entries_table(car.case, car.planned),
    "Money by kind": lambda car: work.kinds_table(totals(car.case), car.case),
    "Budget": lambda car: work.budget_table(car.forecast),
    "Where it ends": lambda car: work.ends_table(car.case, car.forecast),
}
YOURS: dict[str, Maker] = {
    "Options": lambda car: choose.options_table(car.choices),
    "Worth of each job": lambda car: choose.worth_table(car.case, car.choices),
    "How much to put in": lambda car: choose.frontier_table(car.choices),
    "Parting out": lambda car: choose.breaking_table(car.case.work.breaking, car.money),
}
SOLD: dict[str, Maker] = {
    "Earned": lambda car: choose.earned_table(car.earned),
    "Payments": lambda car: choose.payments_table(car.earned.flows, car.money),
}
STANDS_ON: dict[str, Maker] = {
    "Values used": lambda car: lists.values_table(car.reference, car.appraisal.values_used),
}
MAKERS = LOOKED | OWNED | YOURS | SOLD | STANDS_ON
CAR = "Car"
NAMES = (CAR, *MAKERS)
"""What the tables of a car are called, in the order of the work."""


def _none_yet(name: str, case: Case) -> str:
    """Return why a car cannot have a table yet or any more, or an empty text."""
    if case.purchase is None and (name in OWNED or name in YOURS):
        return "the car is not bought yet"
    if name in YOURS and case.standing is Standing.SOLD:
        return "the car is sold: nothing is left to choose"
    if name in SOLD and (case.sale is None or case.sale.price is None):
        return "the car is not sold yet"
    return ""


def car_tables(
    case: Case,
    reference: Reference,
    on: date | None = None,
    sales: Iterable[SaleRecord] = (),
    names: Iterable[str] = (),
) -> Gathered:
    """Return tables of a car: those named, or every one that it can give and that is not empty.

    Of all, the first is the car itself, which also says what could not be worked out and why.

    Parameters
    ----------
    sales : the person's cars offered or sold, from the store.
    names : of the tables, as in `NAMES`, capitals alike.

    Raises
    ------
    AppraiseError
        There is no table of that name, the car cannot have it, or it cannot be worked out.
    """
    car = _Car(case, reference, on or today(), tuple(sales))
    wanted = tuple(dict.fromkeys(map(_name, names)))
    if wanted:
        return Gathered(tuple(_one(one, car) for one in wanted), {})
    tables: list[Table] = []
    left_out: defaultdict[str, list[str]] = defaultdict(list)
    for name, make in MAKERS.items():
        if _none_yet(name, case):
            continue
        try:
            table = make(car)
        except AppraiseError as error:
            left_out[str(error)].append(name)
            continue
        if table.rows:
            tables.append(table)
    first = look.car_table(case, car.on, left_out)
    return Gathered((first, *tables), {why: tuple(names) for why, names in left_out.items()})


def table_sheet(
    case: Case,
    reference: Reference,
    names: Iterable[str] = (),
    on: date | None = None,
    sales: Iterable[SaleRecord] = (),
) -> bytes:
    """Return tables of a car as a spreadsheet (xlsx); parameters and errors as of `car_tables`."""
    day = on or today()
    found = car_tables(case, reference, day, sales, names)
    return workbook(found.tables, title=case.title, on=day, currency=case.currency)


def write_tables(
    case: Case,
    reference: Reference,
    path: Path,
    names: Iterable[str],
    on: date | None = None,
    sales: Iterable[SaleRecord] = (),
    *,
    force: bool = False,
) -> tuple[str, ...]:
    """Write tables of a car to a file; return what was written and what was not, in words.

    Raises
    ------
    AppraiseError
        As `car_tables`, or the file cannot be written.
    """
    day = on or today()
    found = car_tables(case, reference, day, sales, names)
    content = workbook(found.tables, title=case.title, on=day, currency=case.currency)
    write_files({path: content}, force=force)
    count = len(found.tables)
    told = f"{path}: written, {'1 table' if count == 1 else f'{count} tables'}"
    left = (f"left out: {', '.join(missing)}: {why}" for why, missing in found.left_out.items())
    return tuple(one_line(one) for one in (told, *left))


def _name(given: str) -> str:
    """Return the name of a table as it stands in `NAMES`."""
    known = {one.casefold(): one for one in NAMES}
    found = known.get(given.strip().casefold())
    if found is None:
        listed = ", ".join(NAMES)
        message = f"there is no table {given!r}"
        raise AppraiseError(message, hint=f"It is one of: {listed}.")
    return found


def _one(name: str, car: _Car) -> Table:
    why = _none_yet(name, car.case)
    if why:
        raise AppraiseError(f"there is no table {name!r}: {why}")
    if name == CAR:
        return look.car_table(car.case, car.on, {})
    return MAKERS[name](car)


def earned_sheet(case: Case, price: Decimal, on: date | None = None) -> bytes:
    """Return what a car earned, or would at a price, with its payments, as a spreadsheet."""
    day = on or today()
    found = earned_by(case, day, price)
    tables = (choose.earned_table(found), choose.payments_table(found.flows, case.currency))
    return workbook(tables, title=case.title, on=day, currency=case.currency)
