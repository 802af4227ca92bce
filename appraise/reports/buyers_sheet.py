"""The buyer's sheet: what was done with its proof, what is known and not mended, in writing.

It says what is known and promises nothing: no word of a warranty but what the seller writes.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from datetime import date

from appraise.errors import one_line
from appraise.models.case import Case
from appraise.models.vehicle import TitleBrand
from appraise.models.work import PlannedJob, Stage
from appraise.reports.blocks import Block, item, listed, words
from appraise.reports.paper import head_of, printed

__all__ = ["buyers_sheet"]

SMALL_PRINT = (
    "This says what the seller knows. Check your State / country for what a seller has to disclose."
)
Proofs = Mapping[str, tuple[str, ...]]


def buyers_sheet(
    case: Case,
    labels: Mapping[str, str],
    causes: Mapping[str, str],
    proofs: Proofs,
    on_file: Mapping[str, str],
    odometer: str,
    brands: Collection[TitleBrand],
    on: date,
) -> bytes:
    """Return the buyer's sheet as PDF.

    Parameters
    ----------
    labels : names of the planned jobs, by id.
    causes : what was behind each finding that is settled, by its id; empty if not said.
    proofs : what proves each job that is done, by id.
    on_file : photos, PDFs and receipts kept of a job, in words, by id.
    brands : on its title, as entered and on its papers.
    odometer : what the odometer law asks of this car, in words with the section.
    """
    head = head_of(case, "What was done, and what is known", on)
    kept = [one for one in head["facts"] if one["label"] not in ("Case", "Amounts in")]
    head |= {
        "about": one_line(case.vehicle.name),
        "foot": one_line(f"{case.vehicle.name}, {case.vehicle.vin or 'number not entered'}"),
        "facts": kept,
    }
    return printed(
        head, _blocks(case, labels, causes, proofs, on_file, odometer, brands), [SMALL_PRINT], on
    )


def _blocks(
    case: Case,
    labels: Mapping[str, str],
    causes: Mapping[str, str],
    proofs: Proofs,
    on_file: Mapping[str, str],
    odometer: str,
    brands: Collection[TitleBrand],
) -> Iterable[Block]:
    done = [one for one in case.work.jobs if one.stage is Stage.DONE]
    if done:
        yield listed("Done", [_done(one, labels, proofs, on_file) for one in done])
    else:
        yield words("Done", ["No work on the car is on record."])
    yield listed(
        "Known, and not repaired", list(_known(case, labels, causes)) or [item("Nothing is known.")]
    )
    car = case.vehicle
    marks = [one.value.replace("_", " ") for one in brands]
    not_actual = TitleBrand.ODOMETER_NOT_ACTUAL in brands
    reading = f"{car.odometer.value:,.0f} {car.odometer.unit} on {case.appraised_on}"
    yield words(
        "Odometer",
        [
            f"It reads {reading}."
            + (" The reading is not the actual mileage: do not rely on it." if not_actual else ""),
            odometer,
        ],
    )
    yield words(
        "Title",
        [f"Title brands known: {', '.join(marks)}." if marks else "No title brand is known."],
    )
    if case.sale is not None and case.sale.disclosure:
        yield words("From the seller", [case.sale.disclosure])


def _done(
    job: PlannedJob, labels: Mapping[str, str], proofs: Proofs, on_file: Mapping[str, str]
) -> dict[str, str]:
    day = f" ({job.done_on})" if job.done_on else ""
    shown = "; ".join(proofs.get(job.id, ())) or "no test is on record"
    if job.id in on_file:
        shown += f"; on file: {on_file[job.id]}"
    return item(f"{labels.get(job.id, job.id)}{day}", shown)


def _known(
    case: Case, labels: Mapping[str, str], causes: Mapping[str, str]
) -> Iterable[dict[str, str]]:
    """Yield what is known to be wrong, what is only suspected, and what is bypassed."""
    mended = {
        name for one in case.work.jobs if one.stage is Stage.DONE for name in one.findings
    } - {name for one in case.work.jobs if one.open for name in one.findings}
    for one in case.findings:
        if not one.trouble or one.id in mended:
            continue
        if one.truth is not None and not one.truth.fault:
            continue
        label = one.called
        sure = one.state.value == "faulty" or (one.truth is not None and one.truth.fault)
        said = "" if sure else "suspected"
        severity = one.severity.value if one.severity else ""
        about = ", ".join(part for part in (said, severity, causes.get(one.id, "")) if part)
        yield item(label, about)
    for job in case.work.open_bypasses:
        if job.bypass is not None:
            yield item(
                f"{job.bypass.what} is bypassed since {job.bypass.started_on}",
                f"{job.bypass.reason}. To restore: {job.bypass.restore}",
            )
    for job in case.work.jobs:
        if job.open and not job.findings and job.bypass is None and job.must:
            yield item(f"Not done: {labels.get(job.id, job.id)}")
