"""The work sheet: jobs in order, with parts, tools and cautions, to take into the workshop."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date

from appraise.engine.catalog.cautions import on_this_car
from appraise.models.case import Case
from appraise.models.forecast import Forecast, JobForecast
from appraise.models.work import PlannedJob, Stage
from appraise.reference.jobs import job_of_case
from appraise.reference.load import Reference
from appraise.reports.blocks import TICK, Block, Cell, item, listed, table, under, words
from appraise.reports.cautions import cautions_of
from appraise.reports.columns import amount
from appraise.reports.paper import head_of, printed

__all__ = ["work_sheet"]

SMALL_PRINT = "Hours and cautions are the usual ones."


def work_sheet(
    case: Case,
    forecast: Forecast,
    reference: Reference,
    on_file: Mapping[str, str],
    on: date,
) -> bytes:
    """Return the work sheet of an owned car as PDF; cautions stand before the jobs.

    Parameters
    ----------
    forecast : its jobs in an order in which they can be done.
    on_file : photos, PDFs and receipts kept of a job, in words, by id.
    """
    planned = {one.id: one for one in case.work.jobs}
    jobs = [
        (planned[one.id], one)
        for one in forecast.jobs
        if planned[one.id].stage in (Stage.PLANNED, Stage.STARTED)
    ]
    blocks = _blocks(case, jobs, reference, on_file)
    return printed(head_of(case, "Work sheet", on), blocks, [SMALL_PRINT], on)


def _blocks(
    case: Case,
    jobs: list[tuple[PlannedJob, JobForecast]],
    reference: Reference,
    on_file: Mapping[str, str],
) -> Iterable[Block]:
    if not jobs:
        yield words("Jobs", ["Nothing is left to do."])
        return
    labels = {planned.id: one.label for planned, one in jobs}
    names = dict.fromkeys(
        name for planned, _ in jobs for name in _job_of(case, planned, reference)[0]
    )
    cautions = cautions_of(names, reference)
    if cautions:
        yield listed("Cautions", [item(one.work, one.text) for one in cautions])
    yield table(
        "Jobs in order",
        ("", "Job", "Hours", "Done, hours"),
        [
            _row(case, planned, one, labels, reference, on_file.get(planned.id, ""))
            for planned, one in jobs
        ],
        widths=("auto", 5, 0.8, 1),
        align=("left", "left", "right", "right"),
    )
    tools = dict.fromkeys(
        name for planned, _ in jobs for name in _job_of(case, planned, reference)[1]
    )
    owned = set(case.deal.tools_owned)
    if tools:
        yield listed(
            "Special tools",
            [
                item(reference.tools[name].label, "" if name in owned else "to buy or borrow")
                for name in tools
                if name in reference.tools
            ],
            tick=True,
        )


def _job_of(
    case: Case, planned: PlannedJob, reference: Reference
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return the cautions and tools of a planned job."""
    job = job_of_case(case, planned.job, reference)
    if job is None:
        return (), ()
    return on_this_car(job.cautions, case.vehicle), tuple(job.tools)


def _row(
    case: Case,
    planned: PlannedJob,
    one: JobForecast,
    labels: Mapping[str, str],
    reference: Reference,
    on_file: str,
) -> list[Cell]:
    said = []
    waits = [labels[name] for name in planned.after if name in labels]
    if waits:
        said.append(f"after: {', '.join(waits)}")
    parts = [
        f"{part.quantity} x {part.label}"
        + ("" if part.arrived_on else ", on the way" if part.ordered_on else ", to order")
        for part in planned.parts
    ]
    if parts:
        said.append(f"parts: {'; '.join(parts)}")
    if planned.bypass is not None:
        said.append(f"restore: {planned.bypass.restore}")
    cautions, _ = _job_of(case, planned, reference)
    work = [one.work for one in cautions_of(cautions, reference)]
    if work:
        said.append(f"mind: {', '.join(work)}")
    if on_file:
        said.append(f"on file: {on_file}")
    if planned.note:
        said.append(planned.note)
    must = ", must be done" if planned.must else ""
    return [
        TICK,
        under(f"{one.label}{must}", ". ".join(said)),
        amount(one.hours_to_come.mean, 1),
        "",
    ]
