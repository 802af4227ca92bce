from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Literal

import streamlit as st

from appraise.errors import AppraiseError, CannotPrice
from appraise.models.appraisal import Quantiles
from appraise.models.case import Case, Standing
from appraise.models.choices import Choices, FrontierPoint, OptionView
from appraise.reports.tables_choose import ADDING, worth_table
from ui.decide.choose_form import breaking_box, limits_box, sale_box
from ui.decide.earned_view import earned_view
from ui.plots import decide as charts_choose
from ui.session import cached
from ui.widgets import show
from ui.widgets.sheets import table_button
from ui.words import chance_words, money, span

NOW = "as is"
FEW_JOBS = 3
FOUR = 4
WORTH = (
    "Money still to put in",
    "Your hours still to put in",
    "Adds to the price",
    "Leaves",
)


def told_apart(options: tuple[OptionView, ...]) -> tuple[list[OptionView], dict[str, list[str]]]:
    """Return the options that differ, and for each the labels of others that are the same."""
    shown: list[OptionView] = []
    same: dict[str, list[str]] = {}
    for one in options:
        twin = next(
            (
                other
                for other in shown
                if (other.jobs, other.net, other.days) == (one.jobs, one.net, one.days)
            ),
            None,
        )
        if twin is None:
            shown.append(one)
        else:
            same.setdefault(twin.kind, []).append(one.label)
    return shown, same


def option_card(one: OptionView, same: list[str], labels: dict[str, str], currency: str) -> None:
    with st.container(border=True, height="stretch"):
        st.markdown(f"**{show.plain(one.label)}**")
        st.metric("Net from today", money(one.net.mean))
        st.caption(f"{currency} on average; {span(one.net)} (8 in 10)")
        lines = []
        if one.kind != NOW:
            lines.append(f"Worse than selling now: **{chance_words(one.worse_than_selling_now)}**")
        lines.append(figure("Worth to keep" if one.kind == "keep" else "Price", one.price))
        lines.append(figure("Money in", one.money))
        lines.append(figure("Your hours", one.hours, hours))
        if one.days is not None:
            lines.append(figure("Days until paid", one.days))
        st.markdown("  \n".join(lines))
        if same:
            st.caption(f"The same as: {show.plain('; '.join(same))}.")
        if one.words:
            st.caption(show.plain(one.words))
        names = [labels.get(job, job) for job in one.jobs]
        if len(names) > FEW_JOBS:
            with st.expander(f"The {len(names)} jobs"):
                st.markdown("\n".join(f"- {show.plain(job)}" for job in names))
        elif names:
            st.caption(show.plain(f"Jobs: {'; '.join(names)}"))


def figure(label: str, given: Quantiles, shown: Callable[[Decimal], str] = money) -> str:
    """Return a figure on average, as every list beside it has it, with its range."""
    around = f" ({shown(given.p10)} to {shown(given.p90)})" if given.p10 != given.p90 else ""
    return f"{label}: **{shown(given.mean)}**{around}"


def hours(given: Decimal) -> str:
    return f"{given:.1f}"


def options_box(found: Choices, labels: dict[str, str]) -> None:
    shown, same = told_apart(found.options)
    ranked = [one for one in shown if one.ranked]
    show.chart(charts_choose.nets(ranked, found.currency), "nets")
    st.caption(
        "Averages, with the range of 8 in 10. Money in and your hours: all from today until the "
        "sale, with shared access, tools and what nobody inspected."
    )
    with st.grid(4 if len(shown) == FOUR else 3, min_column_width=230):
        for one in shown:
            option_card(one, same.get(one.kind, []), labels, found.currency)


def aside(found: Choices) -> None:
    """Say what is spent, which no option counts, and the price that would bring it back."""
    spent, currency = found.spent, found.currency
    deposits = f", deposits still out {money(spent.deposits_out)}" if spent.deposits_out else ""
    st.markdown(
        ":material/history: **Already spent, left out of every option:** the car "
        f"{money(spent.landed)}, repair {money(spent.repair)}{deposits} {currency}, your hours "
        f"{money(spent.hours)}. Sold today, as is, it brings that money back at "
        f"**{money(found.break_even_price)} {currency}**."
    )


def checks_box(found: Choices) -> None:
    if not found.checks:
        return
    st.subheader("Check before choosing")
    for one in found.checks:
        st.markdown(
            f"- **{show.plain(one.label)}**: worth {money(one.worth)}, costs {money(one.cost)} "
            f"{found.currency}"
        )
    st.page_link("app_pages/diagnose.py", label="Enter what a check showed", icon=":material/rule:")


def frontier_box(found: Choices, labels: dict[str, str]) -> None:
    st.subheader("How much to put in")
    now = next((one for one in found.options if one.kind == NOW), None)
    tabs = st.tabs(["Money", "Your hours"], on_change="rerun", key="frontier")
    sides: tuple[tuple[Literal["money", "hours"], tuple[FrontierPoint, ...]], ...] = (
        ("money", found.by_money),
        ("hours", found.by_hours),
    )
    for tab, (by, points) in zip(tabs, sides, strict=True):
        if not tab.open:
            continue
        with tab:
            if not points:
                st.caption("No set of jobs can be chosen within what limits you.")
                continue
            chart = charts_choose.frontier(points, now, labels, found.currency, by)
            show.chart(chart, f"frontier-{by}")
            words = charts_choose.beyond(points, labels)
            st.markdown(
                "\n".join(
                    f"1. {outlay(point, found.currency)}: {show.plain(more)}"
                    for point, more in zip(points, words, strict=True)
                )
            )
    if found.capped:
        st.caption("There are more such choices than these.")


def outlay(point: FrontierPoint, currency: str) -> str:
    return (
        f"**{money(point.money)} {currency}, {hours(point.hours)} h: net {money(point.net.mean)}** "
        f"({span(point.net)})"
    )


def items_box(case: Case, found: Choices) -> None:
    repairs = [one for one in found.items if one.purpose not in ADDING]
    adding = [one for one in found.items if one.purpose in ADDING]
    st.subheader("Job by job")
    if not found.items:
        st.write("Nothing is left to do.")
        return
    if repairs:
        show.table(
            worth_table(case, found, repairs),
            "Repairs, one by one",
            *("Job or finding", "Must be done", *WORTH),
        )
        st.caption(
            "Access and tools that several share are left out here and counted in the options. A "
            "fault left as it is takes its share of what a buyer fears off the price."
        )
    if adding:
        st.markdown("**Upgrades and preventive work**: usually they return less than they cost.")
        show.table(
            worth_table(case, found, adding),
            "Upgrades and preventive work, and what they return in price",
            *("Job or finding", *WORTH, "Returned of its cost"),
        )
    table_button(case, "Worth of each job", "Options", "How much to put in")


def weigh(case: Case) -> None:
    try:
        found = cached.choices(case)
    except CannotPrice as error:
        st.info(f"No price yet: {show.plain(error.message)}. {show.plain(error.hint)}")
        st.page_link("app_pages/prices.py", label="Enter prices", icon=":material/payments:")
        return
    except AppraiseError as error:
        st.error(show.plain(f"It cannot be weighed: {error}"))
        return
    labels = {one.id: one.label for one in found.items}
    with st.container(border=True):
        st.markdown(f"**{show.plain(found.advice)}**")
    show.problems(found.problems)
    options_box(found, labels)
    aside(found)
    checks_box(found)
    frontier_box(found, labels)
    items_box(case, found)
    now = next(one for one in found.options if one.kind == "as is")
    earned_view(case, now.price.mean)


case = show.need_car("Sell or repair")
if case is not None:
    if case.purchase is None:
        st.write("The car is not bought yet. Once it is yours, what to do with it is weighed here.")
        st.page_link("app_pages/inspect.py", label="Enter the purchase", icon=":material/key:")
    elif case.standing is Standing.SOLD:
        st.write("It is sold: nothing is left to choose.")
        earned_view(case, Decimal(0))
        sale_box(case)
    else:
        weigh(case)
        st.subheader("Your limits, and what it is worth to you")
        limits_box()
        with st.expander("Parting it out", expanded=case.work.breaking is not None):
            breaking_box(case)
        sale_box(case)
