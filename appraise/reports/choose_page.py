"""What to do from today on, as one page of text."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from appraise.models.appraisal import Quantiles
from appraise.models.case import Case
from appraise.models.choices import CheckBefore, Choices, FrontierPoint, ItemView, OptionView, Spent
from appraise.models.work import Purpose
from appraise.reports.columns import amount, folded, problem_lines, row, title_lines

__all__ = ["choose_page", "numbers"]

OPTION = (-2, -28, 11, 11, 11, 7, 11, 7, 7)
POINT = (-2, 11, 11, 11, 11, 11, -2)
CHECK = (-2, 11, 11, -2)
ITEM = (4, -1, -42, 10, 7, 10, 10)
NETS = ("low net", "mean net", "high net")


def numbers(places: Iterable[int]) -> str:
    """Return numbers as a short list.

    Examples
    --------
    >>> numbers([1, 2, 3, 5]), numbers([4, 5]), numbers([])
    ('1-3, 5', '4, 5', 'nothing')
    """
    runs: list[list[int]] = []
    for one in sorted(places):
        if runs and one == runs[-1][-1] + 1:
            runs[-1].append(one)
        else:
            runs.append([one])
    pairs = 2
    parts = [
        f"{run[0]}-{run[-1]}" if len(run) > pairs else ", ".join(map(str, run)) for run in runs
    ]
    return ", ".join(parts) or "nothing"


def choose_page(case: Case, found: Choices) -> str:
    """Return the advice, what is spent and left out, every option, and what stands behind them."""
    places = {one.id: place for place, one in enumerate(found.items, 1)}
    lines = [
        *title_lines(case, found.on),
        *problem_lines(found.problems),
        "",
        *folded(found.advice, "ADVICE  "),
        "",
        *_spent(found.spent),
        "",
        *_options(found.options, places),
        "",
        *folded(
            f"Sold today as is, all money spent comes back at {amount(found.break_even_price)}.",
            "  ",
        ),
    ]
    for points, by in ((found.by_money, "MONEY"), (found.by_hours, "YOUR HOURS")):
        lines += ["", *_frontier(points, by, places)]
    if found.capped:
        lines.append("  More points lie between these.")
    lines += ["", *_checks(found.checks), "", *_items(found.items)]
    return "\n".join(lines)


def _spent(spent: Spent) -> list[str]:
    return [
        "SPENT ALREADY, AND LEFT OUT OF ALL THAT FOLLOWS",
        *folded(
            f"bought {amount(spent.landed)}; repair so far {amount(spent.repair)}; deposits on old "
            f"units {amount(spent.deposits_out)}; your hours {amount(spent.hours, 1)}",
            "  ",
        ),
    ]


def _options(options: Iterable[OptionView], places: dict[str, int]) -> Iterator[str]:
    yield "FROM TODAY ON: what comes in less what still goes out, your time paid"
    yield row(OPTION, "", "", *NETS, "worse", "money in", "hours", "days")
    for one in options:
        days = "-" if one.days is None else amount(one.days.mean)
        worse = f"{100 * one.worse_than_selling_now:.0f} %"
        rest = (worse, amount(one.money.mean), amount(one.hours.mean, 1), days)
        yield row(OPTION, "", one.label, *_nets(one.net), *rest)
        if one.jobs:
            yield from folded(f"does {numbers(places[name] for name in one.jobs)}", "      ")
        if one.words:
            yield from folded(one.words, "      ")
    yield from folded(
        "Low and high: one time in ten below, above. Worse: how often it brings less than selling "
        "it as is. Money in, hours and days: on average, with shared access, tools and what "
        "nobody inspected. Numbers: the jobs listed below.",
        "  ",
    )


def _nets(net: Quantiles) -> Iterator[str]:
    return map(amount, (net.p10, net.mean, net.p90))


def _frontier(points: tuple[FrontierPoint, ...], by: str, places: dict[str, int]) -> Iterator[str]:
    yield f"MORE {by} IN AGAINST THE NET THAT IT BRINGS"
    if not points:
        yield "  There is nothing to choose between."
        return
    yield row(POINT, "", "money in", "hours", *NETS, "") + "does"
    for one in points:
        head = row(POINT, "", amount(one.money), amount(one.hours, 1), *_nets(one.net), "")
        yield from folded(numbers(places[name] for name in one.jobs), head)


def _checks(checks: tuple[CheckBefore, ...]) -> Iterator[str]:
    yield "CHECKS THAT PAY BEFORE CHOOSING"
    if not checks:
        yield "  None: no check costs less than what its result may change."
        return
    yield row(CHECK, "", "worth", "costs", "") + "check"
    for one in checks:
        head = row(CHECK, "", amount(one.worth), amount(one.cost), "")
        yield from folded(one.label, head)


def _items(items: tuple[ItemView, ...]) -> Iterator[str]:
    yield "THE JOBS, each by itself, on average; what several share is in none of them"
    if not items:
        yield "  Nothing is left to do."
        return
    yield row(ITEM, "", "", "", "money in", "hours", "adds", "leaves") + "  what for"
    for place, one in enumerate(items, 1):
        what = "must" if one.must else one.purpose.value
        if one.purpose is Purpose.BYPASS:
            what = "bypass"
        figures = (amount(one.money), amount(one.hours, 1), amount(one.adds), amount(one.net))
        sure = "" if one.sure else " ?"
        yield row(ITEM, f"{place}", "", one.label, *figures) + f"  {what}{sure}"
    yield from folded(
        "Must: before a private buyer drives it away. ?: the cause is not known yet. Leaves: what "
        "it adds less its money and hours.",
        "  ",
    )
