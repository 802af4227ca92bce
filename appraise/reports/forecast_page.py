"""Where the budget of a repair stands and where it will end, as one page of text."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from appraise.models.appraisal import Quantiles
from appraise.models.case import Case
from appraise.models.forecast import Forecast, JobForecast, LearnedFactor
from appraise.reports.columns import amount, folded, problem_lines, row, spread, title_lines

__all__ = ["forecast_page"]

FIGURE = (-2, -34, 12)
JOB = (-2, -28, -9, 10, 10, 10, 10, 7, 7, 7)
LANDED = (-2, -40, 12, 12, 12)
ZERO = Decimal(0)


def forecast_page(case: Case, found: Forecast) -> str:
    """Return budget, paid, still to come and at the end; then job by job, learned, and bought."""
    lines = [
        *title_lines(case, found.on),
        *problem_lines(found.problems),
        "",
        *_money(found),
        "",
        *_hours(found),
        "",
        *_jobs(found),
        "",
        *_learned(found.learned),
        "",
        *_landed(found),
    ]
    return "\n".join(lines)


def _range(label: str, given: Quantiles, places: int = 0) -> str:
    middle, _, rest = spread(given, places).partition("   ")
    return f"{row(FIGURE, '', label, middle)}   {rest}"


def _plain(label: str, value: str, words: str = "") -> str:
    return f"{row(FIGURE, '', label, value)}   {words}".rstrip()


def _money(found: Forecast) -> Iterator[str]:
    yield "MONEY (middle; one time in ten below, above; middles do not add up)"
    origin = "as expected when it was bought"
    if found.budget_from == "the plan":
        origin = "as planned: nothing was kept from the purchase"
    yield _range("budget", found.budget)
    yield f"    {origin}"
    general = f"of it {amount(found.general)} for no job: tools, sundries, holding"
    yield _plain("paid so far, less refunds", amount(found.paid), general if found.general else "")
    yield _plain("ordered, not paid yet", amount(found.committed), "part of what is to come")
    yield _range("to come", found.to_come)
    yield _range("at the end", found.at_end)
    more = found.at_end.mean - found.budget.mean
    change = "more" if more >= 0 else "less"
    yield from folded(
        f"On average {amount(found.to_come.mean)} to come, and {amount(abs(more))} {change} than "
        "the budget at the end.",
        "  ",
    )
    if found.deposits_out:
        yield _plain("deposits out, beside all this", amount(found.deposits_out))


def _hours(found: Forecast) -> Iterator[str]:
    yield "YOUR HOURS"
    yield _plain("worked so far", amount(found.worked, 1))
    yield _range("to come", found.hours_to_come, 1)
    yield _range("at the end", found.hours_at_end, 1)
    if found.ends_on is not None:
        yield _plain("last job ends, as planned", str(found.ends_on))


def _jobs(found: Forecast) -> Iterator[str]:
    yield "JOB BY JOB, on average; access and tools with the job that needs them first"
    money = ("budget", "ordered", "paid", "to come")
    yield row(JOB, "", "", "", *money, "hours", "worked", "left")
    yield from (_job(one) for one in found.jobs)
    for label, given in (
        ("findings without a job yet", found.without_jobs),
        ("what was not inspected", found.unseen),
    ):
        yield row(JOB[:7], "", label, "", "", "", "", amount(given.mean))


def _job(one: JobForecast) -> str:
    money = (one.money.mean, one.committed, one.paid, one.to_come.mean)
    hours = (one.hours.mean, one.worked, one.hours_to_come.mean)
    figures = (*(amount(each) for each in money), *(amount(each, 1) for each in hours))
    return row(JOB, "", one.label, f" {one.stage.value}", *figures)


def _learned(learned: tuple[LearnedFactor, ...]) -> Iterator[str]:
    yield "LEARNED FROM THE JOBS DONE, and applied to what is to come"
    if not learned:
        yield "  Nothing yet: no job is done."
    for one in learned:
        jobs = "1 job" if one.jobs == 1 else f"{one.jobs} jobs"
        yield (
            f"  {one.of:<6} {one.factor:.2f} of what was likely "
            f"({one.low:.2f} to {one.high:.2f}), from {jobs}"
        )


def _landed(found: Forecast) -> Iterator[str]:
    yield "BOUGHT: planned against paid"
    yield row(LANDED, "", "", "planned", "paid", "difference")
    for line in found.landed:
        yield _line(line.label, line.planned, line.paid)
    yield _line("together", found.landed_planned, found.landed_paid)
    if found.landed_paid is None:
        yield "  What was really paid is not entered yet."


def _line(label: str, planned: Decimal | None, paid: Decimal | None) -> str:
    cells = ["-" if one is None else amount(one, 2) for one in (planned, paid)]
    known = planned is not None and paid is not None
    more = amount((paid or ZERO) - (planned or ZERO), 2) if known else "-"
    return row(LANDED, "", label, *cells, more)
