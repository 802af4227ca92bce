"""One calm button for tables as a spreadsheet, which is made only once it is pressed."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import streamlit as st

from appraise.errors import AppraiseError
from appraise.intake.file_names import name_to_save
from appraise.models.case import Case
from appraise.reference.load import Reference
from appraise.services.output.tables import table_sheet
from ui.session import cached

__all__ = ["known", "sheet_button", "table_button"]

XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
WORDS = "As a spreadsheet"


def sheet_button(
    make: Callable[[], bytes], file: str, key: str, words: str = WORDS, told: str = ""
) -> None:
    """Offer a spreadsheet for download.

    Parameters
    ----------
    make : gives the bytes; called once the button is pressed, outside of the page's run.
    file : its name without the ending.
    told : what is in it, where the words alone do not say.
    """
    st.download_button(
        words,
        make,
        file_name=name_to_save(file, ".xlsx"),
        mime=XLSX,
        on_click="ignore",
        icon=":material/table_view:",
        type="tertiary",
        key=key,
        help=told or None,
    )


def known() -> Reference | None:
    """Return the reference values; None if own values cannot be read, which Settings says."""
    try:
        return cached.reference()
    except AppraiseError:
        return None


def table_button(case: Case, *names: str, words: str = WORDS) -> None:
    """Offer tables of a car, as it is saved, for download.

    Parameters
    ----------
    names : of the tables; all that the car can give if there are none.
    """
    reference = known()
    if reference is None:
        return
    warned = not names or "Warnings" in names
    sales = cached.workspace().cases.sales() if warned else ()
    what = names[0].lower().replace(" ", "-") if names else "all-tables"
    sheet_button(
        partial(table_sheet, case, reference, names, sales=sales),
        f"{case.id}-{what}",
        f"sheet:{case.id}:{what}",
        words,
        f"{', '.join(names)}: as saved, xlsx" if names else "",
    )
