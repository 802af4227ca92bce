from __future__ import annotations

import logging
from collections.abc import Callable, Collection, Sequence
from functools import partial

import streamlit as st
from streamlit.delta_generator import DeltaGenerator
from streamlit.runtime.uploaded_file_manager import UploadedFile

from appraise.errors import AppraiseError, CannotPrice
from appraise.intake.file_names import name_to_save
from appraise.models.case import Case
from appraise.models.vehicle import Vehicle
from appraise.services import case_text, example_cases, new_case, next_step, read_case, today
from appraise.services.inspection.selling import SellerCounts, seller_counts
from appraise.services.output.table_lists import cars_sheet
from appraise.services.records.workspace import add_copy
from appraise.store.cases import CaseSummary
from ui.cars.new_car import empty_form, half_entered, new_car_form
from ui.cars.unreadable import unreadable_row
from ui.session import cached, state
from ui.widgets import show
from ui.widgets.sheets import known, sheet_button, table_button
from ui.words import chance_words, money, name

MOST_SHOWN = 20
LOG = logging.getLogger("ui.cars")


def open_and_look(case_id: str, page: str) -> None:
    state.open_case(case_id)
    st.session_state["go"] = page


def remove(summary: CaseSummary) -> None:
    try:
        cached.workspace().cases.remove(summary.id, summary.version, read_at=summary.updated_at)
    except AppraiseError as error:
        state.notice(str(error), bad=True)
        return
    if st.session_state.get("car") == summary.id:
        state.close_case()
    st.session_state["removed"] = (summary.id, summary.title)


def copied(case: Case) -> str | None:
    """Keep a copy and return its id, or say why not."""
    try:
        return add_copy(cached.workspace(), case).case.id
    except AppraiseError as error:
        state.notice(str(error), bad=True)
        return None


def copy(case: Case) -> None:
    copied(case)


def copy_and_open(case: Case) -> None:
    kept = copied(case)
    if kept is not None:
        open_and_look(kept, "bid")


def add_new(entered: Vehicle) -> None:
    kept = cached.workspace()
    taken = [one.id for one in (*kept.cases.summaries(), *kept.cases.removed())]
    made = new_case(entered, kept.preferences.load().preferences, today(), taken)
    try:
        open_and_look(kept.cases.add(made).case.id, "inspect")
    except AppraiseError as error:
        st.error(show.plain(str(error)))
    else:
        empty_form()
        st.rerun()


def add_file(uploaded: UploadedFile) -> None:
    if not st.button("Add it", key="add-file"):
        return
    try:
        text = uploaded.getvalue().decode("utf-8-sig")
        kept = add_copy(cached.workspace(), read_case(text, uploaded.name))
    except UnicodeDecodeError:
        st.error("This file is not text in UTF-8.")
    except AppraiseError as error:
        st.error(show.plain(str(error)))
    else:
        open_and_look(kept.case.id, "inspect")
        st.rerun()


def put_back() -> None:
    case_id, _ = st.session_state.pop("removed")
    put_back_one(case_id)


def clashes(listed: Collection[str]) -> None:
    """Say which cars were saved in another window too, and wait for a choice."""
    for one in state.clashes():
        if one.id not in listed:
            continue
        with st.container(horizontal=True, vertical_alignment="center"):
            st.warning(
                f"{show.plain(one.title)} was saved in another window after you opened it here. "
                "Your change is not saved yet.",
                icon=":material/call_split:",
            )
            st.button(
                "Choose which version to keep",
                key=f"clash:{one.id}",
                on_click=open_and_look,
                args=(one.id, "inspect"),
            )


def row(summary: CaseSummary) -> Callable[[], None]:
    """Show a car without its figures, and return what fills those in: they may take a moment."""
    try:
        case = cached.workspace().cases.load(summary.id).case
    except AppraiseError as error:
        unreadable_row(summary, str(error), remove)
        return lambda: None
    car = case.vehicle
    with st.container(border=True):
        st.markdown(f"**{show.plain(case.title)}**")
        st.caption(
            f"{show.plain(car.name)}, {car.odometer.value:,.0f} {car.odometer.unit}. "
            f"{name(case.standing)}. Next: {show.plain(next_step(case))}."
        )
        place = st.empty()
        place.markdown("…")
        with st.container(horizontal=True):
            st.button(
                "Open",
                key=f"open:{case.id}",
                icon=":material/arrow_forward:",
                on_click=open_and_look,
                args=(case.id, "inspect"),
                help=show.plain(case.title),
            )
            with st.popover("More", key=f"more:{case.id}"):
                st.download_button(
                    "Save as a file",
                    data=lambda: case_text(case),
                    file_name=name_to_save(case.id, ".json"),
                    mime="application/json",
                    on_click="ignore",
                    key=f"export:{case.id}",
                )
                table_button(case, words="All its tables as a spreadsheet")
                st.button("Make a copy", key=f"copy:{case.id}", on_click=copy, args=(case,))
                st.button("Remove", key=f"remove:{case.id}", on_click=remove, args=(summary,))
    return partial(figures, case, place)


def figures(case: Case, place: DeltaGenerator) -> None:
    try:
        found = cached.appraisal(case)
    except CannotPrice:
        place.caption("No price yet: no comparable cars.")
        return
    except AppraiseError as error:
        place.warning(f"No figures: {show.plain(str(error))}")
        return
    except Exception as error:
        LOG.exception("The figures of the car %s cannot be worked out", case.id)
        kind = type(error).__name__
        place.error(f"No figures: they cannot be worked out ({kind}). Every other car is unharmed.")
        return
    outcome = found.outcome
    parts = []
    if case.purchase is not None:
        parts.append(f"Price paid **{money(case.purchase.bid)} {found.currency}**")
    elif found.walk_away_price is None:
        parts.append("**No bid works**")
    else:
        parts.append(f"Walk-away price **{money(found.walk_away_price)} {found.currency}**")
    if outcome is not None:
        if case.purchase is None:
            parts.append(f"{found.judged} {money(outcome.bid)}")
        middle = outcome.margin.p50
        parts.append(f"{'loss' if middle < 0 else 'profit'} about {money(abs(middle))}")
        parts.append(f"loses money {chance_words(outcome.chance_of_loss)}")
    place.markdown(" · ".join(parts))


def put_back_one(case_id: str) -> None:
    try:
        cached.workspace().cases.put_back(case_id)
    except AppraiseError as error:
        state.notice(str(error), bad=True)
    st.session_state.pop("removed", None)


def put_back_list(gone: Sequence[CaseSummary]) -> None:
    """Offer to put back what was taken off the list; it is kept for thirty days at least."""
    st.caption("Kept for thirty days at least.")
    for one in gone[:MOST_SHOWN]:
        with st.container(horizontal=True, vertical_alignment="center"):
            st.button(
                "Put back",
                key=f"back:{one.id}",
                icon=":material/undo:",
                on_click=put_back_one,
                args=(one.id,),
            )
            st.write(show.plain(one.title))
    if len(gone) > MOST_SHOWN:
        st.caption(f"And {len(gone) - MOST_SHOWN} more, taken off earlier.")


def selling(found: SellerCounts) -> None:
    """Say how many cars count towards each limit that federal law sets."""
    st.subheader("Offered and sold in the last twelve months")
    show.problems(found.problems)
    near = {one.message for one in found.problems}
    for one in found.counts:
        if not any(one.words in message for message in near):
            st.caption(show.plain(f"{one.words} ({one.section})"))


st.title("Cars")
if "go" in st.session_state:
    st.switch_page(f"app_pages/{st.session_state.pop('go')}.py")
show.notices()
show.problems(cached.daily_backup_problems())
if "removed" in st.session_state:
    with st.container(horizontal=True, vertical_alignment="center"):
        st.caption(f"Removed: {show.plain(st.session_state['removed'][1])}")
        st.button("Undo", icon=":material/undo:", on_click=put_back)

summaries = cached.workspace().cases.summaries()
clashes({one.id for one in summaries})
if half_entered():
    st.session_state.setdefault("add", True)
adding = st.expander("Add a car", icon=":material/add:", on_change="rerun", key="add")
if adding.open:
    with adding:
        new_car_form(cached.workspace().preferences.load().preferences, add_new)
with st.container(horizontal=True):
    with st.popover("Open a file", icon=":material/upload_file:", key="import"):
        uploaded = st.file_uploader("Case file (JSON)", type=["json"], max_upload_size=8)
        if uploaded is not None:
            add_file(uploaded)
    with st.popover("Copy an example", icon=":material/content_copy:", key="examples"):
        for example in example_cases():
            st.button(
                show.plain(example.title),
                key=f"example:{example.id}",
                on_click=copy_and_open,
                args=(example,),
            )
            st.caption(show.plain(example.story))
    reference = known()
    if summaries and reference is not None:
        sheet_button(
            partial(cars_sheet, cached.workspace(), reference),
            "cars",
            "sheet:cars",
            "All cars as a spreadsheet",
        )
if not summaries:
    st.write("No cars yet. Add one, open a file, or copy an example to see how it goes.")
if len(summaries) > MOST_SHOWN:
    pages = -(-len(summaries) // MOST_SHOWN)
    number = st.number_input(f"Page, of {pages}", min_value=1, max_value=pages, value=1)
    summaries = summaries[(number - 1) * MOST_SHOWN : number * MOST_SHOWN]
rest = [row(one) for one in summaries]
gone = cached.workspace().cases.removed()
if gone:
    taken_off = st.expander("Taken off the list", on_change="rerun", key="taken-off")
    if taken_off.open:
        with taken_off:
            put_back_list(gone)
sales = cached.workspace().cases.sales()
if sales:
    selling(seller_counts(sales, today()))
for fill in rest:
    fill()
