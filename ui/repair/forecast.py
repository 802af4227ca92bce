"""Where the budget of the repair stands, where it will end, and what the jobs done taught."""

from __future__ import annotations

from decimal import Decimal

import streamlit as st

from appraise.models.appraisal import Quantiles
from appraise.models.case import Case
from appraise.models.forecast import Forecast, LearnedFactor
from appraise.reports.tables_work import ends_table
from ui.plots import repair as charts_work
from ui.widgets import show
from ui.widgets.sheets import table_button
from ui.words import chance_words, money

__all__ = ["learned_words", "verdict", "where_it_ends"]

ABOUT = Decimal("0.03")
"""A factor this near to 1 is called as likely."""
NOTHING_LEARNED = (
    "Nothing yet: that takes a job that is done, with what it cost or the hours it took entered on "
    "it."
)


def where_it_ends(case: Case, forecast: Forecast) -> None:
    """Show whether it will end over budget, and what that rests on."""
    currency = forecast.currency
    st.markdown(f"### {verdict(forecast)}")
    source = (
        "as expected on the day of the purchase"
        if forecast.budget_from == "the purchase"
        else "of the plan as it is now, as nothing was kept of what was expected at the purchase"
    )
    st.caption(f"Compared with the middle of the budget {source}.")
    with st.grid(3, min_column_width=160):
        show.number("At the end", forecast.at_end, currency)
        show.number("Budget", forecast.budget, currency)
        show.number("Still to come", forecast.to_come, currency)
    show.chart(charts_work.s_curve(forecast), "s-curve")
    with st.grid(3, min_column_width=150):
        for label, amount, what in (
            ("Paid so far", forecast.paid, "less refunds, without deposits"),
            ("Ordered, not paid", forecast.committed, "part of what is to come"),
            ("Deposits out", forecast.deposits_out, "back once old units are returned"),
        ):
            show.box(label, money(amount), f"{currency}, {what}")
        _hours("Your hours at the end", forecast.hours_at_end)
        _hours("Your hours to come", forecast.hours_to_come)
        show.box("Your hours worked", f"{forecast.worked:g}", "h, as entered")
    st.subheader("What the jobs done have taught")
    for line in learned_words(forecast):
        st.markdown(show.plain(line))
    _by_job(case, forecast)


def verdict(forecast: Forecast) -> str:
    """Return whether it will end over budget, as surely as the forecast can say."""
    budget, end = forecast.budget.p50, forecast.at_end
    more = end.p50 - budget
    off = f"by about {money(abs(more))} {forecast.currency}"
    if not forecast.paid and not forecast.worked and end == forecast.budget:
        return f"Nothing is paid or worked yet: it ends where the budget is, at {money(budget)}"
    if end.p90 <= budget:
        held = "Within budget"
    elif end.p50 <= budget:
        held = "Likely within budget"
    else:
        held = "Likely over budget" if end.p10 < budget else "Over budget"
    return f"{held}, {off}: {chance_words(forecast.chance_over_budget)} that it costs more"


def _hours(label: str, given: Quantiles) -> None:
    show.box(label, f"{given.p50:.1f}", f"h, {given.p10:.1f} to {given.p90:.1f} (8 in 10)")


def learned_words(forecast: Forecast) -> list[str]:
    """Return what was learned as somebody in a workshop would say it."""
    if not forecast.learned:
        return [NOTHING_LEARNED]
    return [_factor(one) for one in forecast.learned]


def _factor(one: LearnedFactor) -> str:
    jobs = "the job done" if one.jobs == 1 else f"the {one.jobs} jobs done"
    range_ = f"{one.factor:.2f} times; {one.low:.2f} to {one.high:.2f}, 8 in 10"
    away = abs(one.factor - 1)
    if one.of == "money":
        word = "dearer" if one.factor > 1 else "cheaper"
        found = f"come out {100 * away:.0f} % {word} than expected"
        then = f"What is still to buy is taken as {100 * away:.0f} % {word} too."
        start = f"Parts and bills: going by {jobs} they "
    else:
        word = "longer" if one.factor > 1 else "less"
        found = f"take {100 * away:.0f} % {word} than expected"
        then = f"The hours still to come are taken as {100 * away:.0f} % {word} too."
        start = f"Your hours: going by {jobs} you "
    if away <= ABOUT:
        found = "come out about as expected" if one.of == "money" else "take about as expected"
        then = "What is still to come stays nearly as it was."
    return f"{start}{found} ({range_}). {then}"


def _by_job(case: Case, forecast: Forecast) -> None:
    """Show the jobs with what is left besides them, so that the columns add up."""
    st.subheader("Job by job")
    show.table(
        ends_table(case, forecast),
        "Jobs with what was expected, what was paid and what is to come",
    )
    table_button(case, "Where it ends", "Jobs", "Budget")
    st.caption(
        f"Averages, so that they add up: {money(forecast.paid)} paid and "
        f"{money(forecast.to_come.mean)} to come make {money(forecast.at_end.mean)} "
        f"{forecast.currency} at the end on average. Access that several jobs share stands with "
        "the first that needs it."
    )
