from __future__ import annotations

from decimal import ROUND_CEILING, Decimal
from functools import partial

import streamlit as st

from appraise.models.appraisal import Appraisal, Outcome
from appraise.models.case import Case, Standing
from appraise.models.jobs import DoneBy
from appraise.reports.tables_bid import areas_table, landed_table
from appraise.reports.tables_look import findings_table
from appraise.reports.wording import DONE_BY, search_words
from appraise.services.cases.casework import today
from appraise.services.output.printing import bid_sheet
from appraise.services.output.telling import told_of
from ui.bid.deal import deal_fields, venue_chooser
from ui.plots import bid as charts
from ui.session import cached
from ui.widgets import fields, show
from ui.widgets.print_button import print_button
from ui.widgets.sheets import table_button
from ui.words import about, money, percent, span

MOST_SENSE = 5
TWO_SIDED = Decimal("1.96")
BEHIND = (
    "Estimate",
    "What each bid leads to",
    "From the sale to the profit",
    "What makes it uncertain",
)  # the tables behind the numbers and charts of this page


def within(error: Decimal | None) -> Decimal:
    """Return how far off a number may be 95 times in 100: 1.96 standard errors, rounded up."""
    return ((error or Decimal(0)) * TWO_SIDED).to_integral_value(ROUND_CEILING)


def headline(case: Case, appraisal: Appraisal) -> None:
    price = appraisal.walk_away_price
    with st.container(border=True):
        st.metric(
            "Walk-away price" if case.purchase is None else "Most it was worth paying",
            "No bid works" if price is None else f"{money(price)} {case.currency}",
        )
        st.write(show.plain(appraisal.walk_away_words))
        if price is not None and appraisal.at_walk_away is not None:
            landed = appraisal.at_walk_away.landed_cost
            st.caption(f"With fees, tax and transport {money(landed)} {case.currency}.")
            st.caption(
                f"Rounded down; the draws leave ±{money(within(appraisal.walk_away_error))} (95 %)."
            )


def at_price(case: Case, appraisal: Appraisal) -> None:
    outcome = appraisal.outcome
    if outcome is None:
        st.write("Enter the asking price to see what it leads to.")
        return
    st.subheader(f"At the {appraisal.judged} of {money(outcome.bid)} {case.currency}")
    with st.grid(4, min_column_width=160):
        show.number("Profit (your time paid)", outcome.margin, case.currency)
        show.number(
            "Profit before your time",
            outcome.margin_unpaid,
            case.currency,
            "The same without paying your hours",
        )
        loss, met = outcome.chance_of_loss, outcome.chance_of_target
        worst = f"in the worst tenth {money(outcome.shortfall)} on average"
        show.box("Risk of loss", percent(loss), "; ".join(filter(None, (about(loss), worst))))
        risked = f"money at risk {money(outcome.money_at_risk)}"
        show.box("Target met", percent(met), "; ".join(filter(None, (about(met), risked))))
    even = money(outcome.break_even_resale)
    extra = [
        f"On average the profit is {money(outcome.margin.mean)}.",
        f"It breaks even at a sale of {even} {case.currency}.",
    ]
    if outcome.per_own_hour is not None:
        extra.append(f"Each of your hours earns {money(outcome.per_own_hour)} on average.")
    days = appraisal.repair.days.mean + appraisal.resale.days_to_sell.mean
    if outcome.money_at_risk:
        earned = outcome.margin.mean / outcome.money_at_risk
        extra.append(
            f"That is {100 * earned:.0f} % on {money(outcome.money_at_risk)} at risk in about "
            f"{days:.0f} days" + annual(outcome.annualized) + "."
        )
    extra.append(seller_words(outcome))
    st.write(" ".join(extra))


def seller_words(outcome: Outcome) -> str:
    """Say how likely a seller who knows the faults takes the price, and what is left then."""
    if outcome.if_seller_knows is None:
        return "A seller who knows what is wrong would not take this price."
    return (
        "A seller who knows what is wrong takes this price in "
        f"{percent(outcome.seller_accepts)} of cases; the average profit is then "
        f"{money(outcome.if_seller_knows)}."
    )


def annual(rate: Decimal | None) -> str:
    """Put the return as one a year, where that still means something."""
    if rate is None or abs(rate) > MOST_SENSE:
        return ""
    return f", {100 * rate:.0f} % a year compounded"


def seller(appraisal: Appraisal) -> None:
    view = appraisal.seller
    if view is None:
        return
    st.subheader("What the seller's price admits")
    bill = appraisal.repair.shop_bill
    words = (
        f"{view.words} Comparable cars in order bring {money(view.admitted + view.asking)} "
        f"{appraisal.currency}; less the asking price of {money(view.asking)} that is "
        f"{money(view.admitted)}. Ordinary hassle and the spread of prices of comparable cars "
        f"explain {money(view.ordinary)}."
    )
    if bill.p90:
        words += (
            f" A shop's bill for what can be seen is about {money(bill.p50)} ({span(bill)}), and "
            f"{100 * view.percentile:.0f} % of such bills stay below {money(view.admitted)}."
        )
    st.write(words)


def made_of(case: Case, appraisal: Appraisal) -> None:
    repair = appraisal.repair
    st.subheader("What it is made of")
    with st.grid(4, min_column_width=160):
        show.number("Repair", repair.money, case.currency, "Parts, tools and shop")
        show.number("Your hours", repair.own_hours, "h")
        show.number("Not inspected", repair.unseen, case.currency)
        show.number("Repaired in", repair.days, "days")
    if repair.search_minutes or repair.search_money:
        found = search_words(repair.search_minutes, repair.search_money, case.currency)
        st.caption(f"{found}.")
    findings = st.expander("Repair, finding by finding", on_change="rerun", key="by-finding")
    if findings.open:
        with findings:
            show.table(
                findings_table(case, appraisal, cached.reference(), priced=True),
                "Repair cost of each finding repaired alone",
                "What was seen",
                "Chance of anything to repair",
                *(
                    f"Repaired alone, {case.currency}: {one}"
                    for one in ("on average", "low", "high")
                ),
                "Your hours, on average",
            )
            table_button(case, "Findings")
            st.caption(
                f"Each as if repaired alone; done together they save {money(repair.shared)} "
                f"{case.currency} in shared jobs, access and tools, and the hours with it."
            )
    unseen = st.expander("What was not inspected, area by area", on_change="rerun", key="by-area")
    if unseen.open:
        with unseen:
            show.table(areas_table(appraisal), "What each area may still hide")
            table_button(case, "What was not inspected")
    outcome = appraisal.outcome
    landed = st.expander("Cost to buy", on_change="rerun", key="landed")
    if landed.open and outcome is not None:
        with landed:
            show.table(landed_table(case.currency, outcome, None), "Cost to buy, line by line")
            table_button(case, "Cost to buy")
    listed = st.expander("Values used and their sources", on_change="rerun", key="sources")
    if listed.open:
        with listed:
            show.sources(appraisal, cached.reference())
            table_button(case, "Values used")
            words = f"{appraisal.draws:,} draws, repeat number {appraisal.seed}"
            if outcome:
                error = money(within(outcome.margin.mean_error))
                words += f"; the mean profit is exact to ±{error} {case.currency} (95 %)"
            st.caption(f"{words}.")


case = show.need_car("Bid")
if case is not None:
    appraisal = show.worked_out(case)
    sales = cached.workspace().cases.sales()
    told = told_of(case, cached.reference(), appraisal, sales, today())
    show.problems(told.first)
    if appraisal is not None:
        headline(case, appraisal)
        print_button("Bid sheet", partial(bid_sheet, on=today(), sales=sales), case)
    with st.grid(4, min_column_width=160):
        if case.standing is Standing.PROSPECT:
            fields.amount("deal", "asking_price")
        fields.amount("deal", "target_margin", low=None)
        fields.share("deal", "confidence", label="Certainty wanted")
        fields.choice(list(DoneBy), "deal", "done_by", label="Done by", words=DONE_BY)
    costs = st.expander("Fees, tax, holding, your hours and shops", on_change="rerun", key="costs")
    if costs.open:
        with costs:
            venue_chooser(case)
            if case.standing is Standing.PROSPECT:
                fields.optional_range("deal", "goes_for", usual=": what adverts are sold at")
            deal_fields("case", "deal")
    if appraisal is not None:
        at_price(case, appraisal)
        target, sure = float(case.deal.target_margin), float(case.deal.confidence)
        show.chart(charts.bid_curve(appraisal, target, sure), "bid-curve")
        shown = appraisal.outcome or appraisal.at_walk_away
        left, right = st.columns(2)
        if shown is not None:
            with left:
                st.subheader("From the sale to the profit, on average")
                show.chart(charts.waterfall(shown, case.currency), "waterfall")
        with right:
            st.subheader("What makes it uncertain")
            show.chart(charts.drivers(appraisal), "drivers")
        table_button(case, *BEHIND, words="These figures as a spreadsheet")
        seller(appraisal)
        made_of(case, appraisal)
    if told.laws:
        st.subheader("Law")
        show.problems(told.laws)
