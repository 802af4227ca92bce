from __future__ import annotations

from functools import partial

import streamlit as st

from appraise.errors import AppraiseError, BadCase
from appraise.models.preferences import Preferences, Venue
from appraise.reference.load import Reference
from appraise.services import changed
from appraise.services.output.table_lists import catalog_sheet
from appraise.services.records.own_values import own_entry, save_own_text
from ui.bid.deal import deal_fields, fee_table
from ui.session import cached, state
from ui.settings.keeping import keeping
from ui.widgets import fields, show
from ui.widgets.sheets import sheet_button

NEW_VENUE = "new-venue-name"
OWN_DRAFT, OWN_READ = "own-draft", "own-read"
"""What is typed, and what was kept when that began."""


def venue(preferences: Preferences, place: int, one: Venue) -> None:
    with st.expander(show.plain(one.name), on_change="rerun", key=f"venue:{place}") as box:
        pass
    if not box.open:
        return
    with box:
        fields.text("venues", place, "name", owner="preferences", label="Venue")
        fields.percent("venues", place, "tax_percent", owner="preferences", label="Sales tax, %")

        def keep(rows: list[dict[str, object]]) -> bool:
            new = changed(preferences, ("venues", place, "fees"), rows)
            return state.save_preferences(new)

        fee_table(
            one.fees,
            f"venue-fees:{place}",
            f"venue-fees:{one.name}",
            keep,
            venue=one.name,
            currency=preferences.currency,
        )
        st.button(
            "Remove this venue",
            key=f"venue-drop:{place}",
            on_click=state.without_venue,
            args=(one,),
        )


def add_venue(preferences: Preferences) -> None:
    state.stays("a venue", (None, "Settings"), [NEW_VENUE])
    with st.container(border=True):
        st.text_input("New venue", max_chars=200, key=NEW_VENUE, persist_state="session")
        st.button("Add the venue", on_click=_add_venue, args=(preferences,))


def _add_venue(preferences: Preferences) -> None:
    rows = [one.model_dump() for one in preferences.venues]
    try:
        new = changed(preferences, ("venues",), [*rows, {"name": st.session_state[NEW_VENUE]}])
    except BadCase as error:
        state.notice(error.message, bad=True)
        return
    if state.save_preferences(new):
        st.session_state[NEW_VENUE] = ""


def begin_draft() -> str:
    """Let the draft be what is kept as long as nothing is typed into it; return what is kept."""
    kept = cached.own_text()
    if st.session_state.get(OWN_DRAFT) == st.session_state.get(OWN_READ):
        st.session_state[OWN_DRAFT] = st.session_state[OWN_READ] = kept
    st.session_state.setdefault(OWN_READ, kept)
    return kept


def choose_own(kept: str) -> None:
    """Show what another window saved meanwhile, and let one choose."""
    st.warning(
        "Your own values were saved in another window after you opened them here. This is what is "
        "kept now:",
        icon=":material/call_split:",
    )
    st.code(kept, language="toml")
    with st.container(horizontal=True):
        st.button("Take that one instead of mine", on_click=take_own, args=(kept, True))
        st.button("Keep mine, to save it over that one", on_click=take_own, args=(kept, False))


def take_own(kept: str, theirs: bool) -> None:  # noqa: FBT001 - a button's argument
    if theirs:
        st.session_state[OWN_DRAFT] = kept
    st.session_state[OWN_READ] = kept


def own_values() -> None:
    kept = begin_draft()
    try:
        pick_value(cached.reference())
        sheet_button(
            partial(catalog_sheet, cached.reference()),
            "catalog",
            "sheet:catalog",
            "The whole catalog as a spreadsheet",
        )
    except AppraiseError as error:
        st.error(show.plain(f"Your own values cannot be used as they are: {error}"))
    draft = st.text_area("My own values (TOML)", key=OWN_DRAFT, height=220, persist_state="session")
    if kept != st.session_state[OWN_READ]:
        choose_own(kept)
    if not st.button("Check and save", key="own-save", type="primary"):
        return
    try:
        save_own_text(cached.workspace().own_values, draft, read=st.session_state[OWN_READ])
    except AppraiseError as error:
        for one in getattr(error, "problems", ()) or ():
            st.error(show.plain(f"{one.where}: {one.message}"))
        if not getattr(error, "problems", ()):
            st.error(show.plain(str(error)))
        st.caption("Nothing was saved.")
    else:
        st.session_state[OWN_READ] = draft
        state.log("own values saved")
        st.success("Saved. Every car is worked out with your values from now on.")


def pick_value(reference: Reference) -> None:
    st.write(
        "Every value of the catalog can be replaced by your own. Pick one to put it "
        "below, change the figures there, and save."
    )
    names = {one.id: f"{one.label} ({one.kind.value})" for one in reference.values.values()}
    names |= {
        one.job.id: f"Job: {one.job.label} ({one.provenance.kind.value})"
        for one in reference.jobs.values()
    }
    picked = st.selectbox(
        "A value or job",
        list(names),
        index=None,
        format_func=lambda one: names[one],
        placeholder="type to search",
        key="own-pick",
    )
    if picked is not None:
        st.code(own_entry(reference, picked), language="toml")
        value = reference.values.get(picked)
        if value is not None:
            cited = "; ".join(f"{one.id}: {one.at}" for one in value.sources)
            st.caption(show.plain(f"{value.kind.value}. {cited} {value.note}"))

        def put() -> None:
            text = st.session_state[OWN_DRAFT].rstrip()
            added = own_entry(reference, picked)
            st.session_state[OWN_DRAFT] = f"{text}\n\n{added}".lstrip()

        st.button("Put it into mine", on_click=put)


st.title("Settings")
show.notices()
preferences = state.open_preferences()
if state.preferences_wrong():
    st.warning(
        f"Your settings cannot be read: {show.plain(state.preferences_wrong())} These are the "
        "defaults; the first change replaces what was kept."
    )
st.subheader("Every new car starts with this")
with st.grid(4, min_column_width=160):
    fields.text("currency", owner="preferences", most=3)
    fields.pick(("mi", "km"), "distance_unit", owner="preferences")
    fields.amount("deal", "target_margin", owner="preferences", low=None)
    fields.share("deal", "confidence", owner="preferences", label="Certainty wanted")
deal_fields("preferences", "deal")
try:
    tools = {one.id: one.label for one in cached.reference().tools.values()}
except AppraiseError:
    st.caption("Special tools can be chosen once your own values below are in order.")
else:
    fields.several(tools, "deal", "tools_owned", owner="preferences")
st.subheader("Venues and their fees")
for place, one in enumerate(preferences.venues):
    venue(preferences, place, one)
add_venue(preferences)
st.subheader("What is kept, and for how long")
keeping()
st.subheader("Own values over the catalog")
own_values()
