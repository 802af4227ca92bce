"""The number of the car as a field, and beside it what reads it from a photo of its label."""

from __future__ import annotations

from dataclasses import dataclass

import streamlit as st
from streamlit.runtime.uploaded_file_manager import UploadedFile

from appraise.engine.papers.vin_compare import compare
from appraise.engine.papers.vin_parts import tidy
from appraise.errors import AppraiseError, Problem
from appraise.intake.barcodes import FoundVin, VinCodes, read_vin_codes
from appraise.models.case import Case
from appraise.models.files import LARGEST_FILE, MEGABYTE
from appraise.services import changed
from ui.session import state
from ui.widgets import fields, show
from ui.widgets.camera import camera_input

__all__ = ["vin_field"]

PATH = ("vehicle", "vin")
LABEL = "Vehicle identification number"
READ = "vin-photo"
TYPES = ["jpg", "jpeg", "png", "webp"]
WEIGHTS = {"stop": ":material/block:", "warning": ":material/warning:", "note": ":material/info:"}


@dataclass(frozen=True, slots=True)
class Reading:
    """What the last photo gave.

    Attributes
    ----------
    key : of the reader it was given to; with another car or a fresh page it counts no more.
    turn : rises with each photo taken: what takes them is then a new, empty one.
    codes : what was read, None if the photo was refused.
    refused : why it was.
    """

    key: str
    turn: int = 0
    codes: VinCodes | None = None
    refused: str = ""


def vin_field(case: Case) -> None:
    """Show the number of the car, to be typed or read from a photo."""
    with st.container():
        field = fields.Field(PATH, "case", LABEL)
        # Seeded, not given as a value, so that a number from a photo can be put into it.
        st.session_state.setdefault(field.key, case.vehicle.vin)
        st.text_input(max_chars=40, **field.wiring(lambda one: one))
        field.fault()
        key = state.key_for(("vin-photo",))
        reader = st.popover(
            "Read it from a photo",
            key=key,
            on_change="rerun",
        )
        if reader.open:
            with reader:
                _reader(case, key)


def _reading(key: str) -> Reading:
    found: Reading | None = st.session_state.get(READ)
    return found if found is not None and found.key == key else Reading(key)


def _reader(case: Case, key: str) -> None:
    """Show what takes a photo, and what the last one gave."""
    reading = _reading(key)
    upload, shot = f"{key}:file:{reading.turn}", f"{key}:shot:{reading.turn}"
    # What was read stands first: a camera below it would push it out of sight on a phone.
    if reading.refused:
        st.error(show.plain(reading.refused), icon=":material/block:")
    if reading.codes is not None:
        for one in reading.codes.numbers:
            _number(case, one, key)
        for words in reading.codes.words:
            st.caption(show.plain(words))
    else:
        st.caption(
            "A photo of the label with the bar code, usually on the driver's door pillar. It is "
            "only read, not kept."
        )
    st.file_uploader(
        "Photo of the label",
        type=TYPES,
        key=upload,
        on_change=_take,
        args=(key, upload),
        max_upload_size=LARGEST_FILE // MEGABYTE,
    )
    if st.toggle("Use the camera of this device", key=f"{key}:camera"):
        camera_input("Take a photo of the label", shot, _take, (key, shot))


def _number(case: Case, found: FoundVin, key: str) -> None:
    """Show a number that was read, what is doubtful about it, and the button that takes it."""
    typed = tidy(case.vehicle.vin)
    with st.container(border=True):
        check = "check digit holds" if found.holds else "check digit does not hold"
        st.markdown(f"**{found.number}**")
        st.caption(f"{', '.join(found.kinds)}; {check}")
        for one in found.problems:
            st.caption(_told(one))
        if typed == found.number:
            st.caption(":material/check: This is the number in the field.")
            return
        if typed:
            for one in compare(case.vehicle.vin, found.number).problems:
                st.caption(_told(one, "Against the number in the field: "))
        st.button(
            "Use it",
            icon=":material/check:",
            type="primary",
            key=f"{key}:use:{found.number}",
            on_click=_use,
            args=(found.number,),
        )


def _told(one: Problem, before: str = "") -> str:
    words = before + one.words
    return f"{WEIGHTS[one.weight]} {show.plain(words[:1].upper() + words[1:])}"


def _take(key: str, widget: str) -> None:
    """Read the photo that came; say why if it cannot be."""
    given = st.session_state[widget]
    if not isinstance(given, UploadedFile):
        return
    turn = _reading(key).turn + 1
    try:
        codes = read_vin_codes(given.getvalue(), state.case().vehicle.model_year)
    except AppraiseError as error:
        st.session_state[READ] = Reading(key, turn, refused=str(error))
        return
    st.session_state[READ] = Reading(key, turn, codes)


def _use(number: str) -> None:
    """Write a number into the field; it can be undone, and no form that is open begins anew."""
    case = state.case()
    before = case.vehicle.vin or "none"
    state.remember(f"The number of the car is read from a photo; it was {before}")
    if state.save(changed(case, PATH, number)):
        st.session_state[state.key_for(PATH)] = number
