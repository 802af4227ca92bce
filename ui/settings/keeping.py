"""The part of the settings that says what is kept, for how long, and where the backups are."""

from __future__ import annotations

from functools import partial

import streamlit as st

from appraise.errors import AppraiseError
from appraise.intake.files import size_words
from appraise.reports.table import table_of
from appraise.services.output.table_lists import sheet_of
from appraise.services.records.backup import DAYS_KEPT, backups_kept, extra_backup
from appraise.services.records.doings import doings
from ui.session import cached, signed_in, state
from ui.widgets import fields, show
from ui.widgets.sheets import sheet_button

__all__ = ["keeping"]

MOST_SHOWN = 200


def keeping() -> None:
    """Show how long history is kept, the backups, and the button for one more."""
    with st.grid(4, min_column_width=160):
        fields.whole("history_days", owner="preferences")
    st.caption(
        "Each change of a car can be gone back to for so many days (What was changed, and when, on "
        "Inspect), and a removed car put back: never less than 30."
    )
    if st.button("Back up now", key="backup-now", icon=":material/save:"):
        _back_up()
    found = backups_kept(cached.workspace())
    if found:
        newest, size = found[0]
        st.caption(
            show.plain(
                f"Backups: {len(found)}, the newest {newest.name} ({size_words(size)}), in "
                f"{newest.parent}"
            )
        )
    else:
        st.caption("No backup yet.")
    st.caption(
        f"One is written each day that the program is used, and the last {DAYS_KEPT} are kept; "
        "those made here stay until you delete them. Keep one on another disk too. To put one "
        "back, close the screens and say `appraise restore FILE.zip`."
    )
    if not signed_in.may_edit():
        return
    box = st.expander("Who did what, and when", on_change="rerun", key="doings")
    if box.open:
        with box:
            _doings()


def _doings() -> None:
    """Show what was done last, by whom."""
    try:
        done = doings(cached.workspace(), MOST_SHOWN)
    except AppraiseError as error:
        st.error(show.plain(str(error)))
        return
    whole = table_of(
        "Doings",
        done,
        ("When", 34, "text", lambda one: f"{one.at.astimezone():%Y-%m-%d %H:%M:%S}"),
        ("Who", 34, "text", lambda one: one.who),
        ("What", 34, "text", lambda one: one.what),
        ("Car", 34, "text", lambda one: one.car),
        ("From", 34, "text", lambda one: one.came_from),
    )
    who = ("Who",) if any(one.who for one in done) else ()
    came = ("From",) if any(one.came_from for one in done) else ()
    shown = whole.only("When", *who, "What", "Car", *came)
    show.table(shown, "What was done last, by whom and when")
    sheet_button(partial(sheet_of, shown, "Who did what"), "doings", "sheet:doings")
    if len(done) == MOST_SHOWN:
        st.caption(f"The last {MOST_SHOWN}. More: `appraise people log`.")


def _back_up() -> None:
    """Write a backup and say where; a failure is told and stops nothing."""
    try:
        signed_in.need_edit()
        place, words = extra_backup(cached.workspace())
    except AppraiseError as error:
        st.error(show.plain(str(error)))
    else:
        state.log("backup made")
        st.success(show.plain(f"Backed up, and read back: {words}, in {place.name}."))
