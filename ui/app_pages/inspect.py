from __future__ import annotations

from collections.abc import Mapping

import streamlit as st

from appraise.models.appraisal import NOT_PRICED, Appraisal
from appraise.models.case import Case
from appraise.models.findings import Area, Finding, Look, State
from appraise.reference.load import Reference
from appraise.services import put_finding, without_finding
from appraise.services.cases.editing import areas_looked_at, free_id
from ui.inspection.car import car_fields, standing_fields
from ui.inspection.findings import files_key, finding_form, remove_finding
from ui.inspection.history_view import history_view
from ui.inspection.measuring import codes_box, measurements_box, symptoms_box
from ui.session import cached, state
from ui.widgets import show
from ui.widgets.areas import AREA, HOW, remember_how
from ui.widgets.files_form import forget_drafts, small_pictures
from ui.widgets.left_behind import carry_part, drop, keep
from ui.words import ICONS, LOOKS, SEVERITIES, STATES, money, percent

FINDING = "finding."
"""How the names of what is typed into the form of a finding begin, before its area."""
FORM = "finding-form"
AREA_CAUTIONS = {
    Area.ENGINE: ("cranking_or_running", "belts_and_fans"),
    Area.COOLING: ("cooling",),
    Area.UNDERSIDE: ("raised_car",),
    Area.ROAD_TEST: ("road_test",),
}
"""What can hurt while an area is looked at."""


def of_area(case: Case, area: Area) -> list[Finding]:
    return [one for one in case.findings if one.area is area]


def worst(case: Case, area: Area) -> State:
    states = [one.state for one in of_area(case, area)]
    order = (State.FAULTY, State.SUSPECT, State.FINE)
    return next((one for one in order if one in states), State.NOT_LOOKED_AT)


def step_area(by: int) -> None:
    areas = list(Area)
    here = areas.index(st.session_state[AREA])
    st.session_state[AREA] = areas[(here + by) % len(areas)]


def preset_look(case: Case, area: Area) -> Look | None:
    """Return how an area was looked at as it is kept, else as was said last of this car."""
    fine = [one for one in of_area(case, area) if one.state is State.FINE]
    if fine:
        return fine[0].look
    last: dict[str, Look] = st.session_state.get(HOW, {})
    return last.get(case.id, Look.GLANCE)


def keep_look(car: str, key: str) -> None:
    if st.session_state[key] is not None:
        remember_how(car, st.session_state[key])


def mark(area: Area, found: State, key: str) -> None:
    """Say of a whole area that it is fine, or was not looked at."""
    case = state.case()
    old = of_area(case, area)
    plain = [one for one in old if not one.trouble]
    for one in plain:
        case = without_finding(case, one.id)
    look = st.session_state.get(key) if found is State.FINE else None
    new = Finding(
        id=plain[0].id if plain else free_id(area.value, [one.id for one in case.findings]),
        area=area,
        state=found,
        label=plain[0].label if plain and found is State.FINE else "",
        look=look,
        note=plain[0].note if plain else "",
    )
    keep(FINDING)
    if state.save(put_finding(case, new), fresh_widgets=True):
        step_area(1)


def open_form(name: str | None) -> None:
    st.session_state[FORM] = name


def close_form(area: Area, finding: Finding | None) -> None:
    drop(f"{FINDING}{area.value}.{finding.id if finding else 'new'}:")
    forget_drafts(files_key(state.case(), area, finding))
    open_form(None)


def half_typed(area: Area, labels: Mapping[Area, str]) -> None:
    """Keep what is typed into the form of an area while another is shown, and say so there."""
    here = f"{FINDING}{area.value}."
    elsewhere = [one.split(".") for one in carry_part(here) if one.startswith(FINDING)]
    for name in state.typed_in_forms():
        if name.startswith(here):
            which = name.removeprefix(here).partition(":")[0]
            st.session_state[FORM] = f"{area.value}:new" if which == "new" else which
    if elsewhere:
        names = ", ".join(sorted({labels[Area(one[1])] for one in elsewhere}))
        with st.container(horizontal=True, vertical_alignment="center"):
            st.caption(
                f":material/edit: Not saved yet, and kept: a finding of {show.plain(names)}."
            )
            st.button("Drop it", type="tertiary", on_click=drop, args=(FINDING,))


def form_box(case: Case, area: Area, finding: Finding | None, reference: Reference) -> None:
    with st.container(border=True):
        if finding_form(case, area, finding, reference):
            forget_drafts(files_key(case, area, finding))
            open_form(None)
            st.rerun()
        st.button(
            "Close without saving", on_click=close_form, args=(area, finding), type="tertiary"
        )


def progress(case: Case, appraisal: Appraisal | None) -> None:
    looked = len(areas_looked_at(case))
    st.progress(looked / len(Area), text=f"{looked} of {len(Area)} areas inspected")
    if appraisal is not None:
        unseen = appraisal.repair.unseen
        st.caption(
            f"What was not inspected, or not well, may hide {money(unseen.mean)} {case.currency} "
            f"of repair on average; one time in ten more than {money(unseen.p90)}."
        )


def area_line(appraisal: Appraisal | None, area: Area, currency: str) -> None:
    found = next(
        (one for one in (appraisal.repair.by_area if appraisal else ()) if one.id == area.value),
        None,
    )
    if found is None:
        return
    look = LOOKS[Look(found.look)].lower() if found.look else "no inspection"
    st.caption(
        f"After {look}: chance of a fault nobody has found {100 * found.chance:.0f} % "
        f"(if nobody had inspected it {100 * found.chance_before:.0f} %), worth "
        f"{money(found.expected_money)} {currency} and {found.expected_hours:.1f} h on average."
    )


def behind(finding: Finding, appraisal: Appraisal | None) -> str:
    """Say what is behind a finding: a person's own causes, else the likeliest faults of the car."""
    if finding.causes:
        own = "; ".join(f"{percent(one.chance)} {one.label}" for one in finding.causes)
        return f"Your own causes: {own}"
    listed = appraisal.repair.by_finding if appraisal else ()
    faults = next((one.behind for one in listed if one.id == finding.id), ())
    return "; ".join(f"{percent(one.chance)} {one.label}" for one in faults)


def one_finding(
    case: Case, finding: Finding, appraisal: Appraisal | None, reference: Reference
) -> None:
    label = show.plain(finding.label or "No words yet")
    with st.container(border=True):
        severity = f", {SEVERITIES[finding.severity].lower()}" if finding.severity else ""
        st.markdown(f"{ICONS[finding.state]} **{label}**  \n{STATES[finding.state]}{severity}")
        caption = behind(finding, appraisal)
        if finding.unpriced and not (caption or finding.symptom):
            st.caption(f":material/warning: {NOT_PRICED[:1].upper()}{NOT_PRICED[1:]}.")
        if caption:
            st.caption(show.plain(caption))
        small_pictures(finding.attachments)
        with st.container(horizontal=True):
            if finding.trouble:
                st.button(
                    "Change",
                    icon=":material/edit:",
                    key=f"change:{finding.id}",
                    on_click=open_form,
                    args=(finding.id,),
                )
            st.button(
                "Remove",
                icon=":material/delete:",
                key=f"drop:{finding.id}",
                on_click=remove_finding,
                args=(finding.id, finding.label or finding.area.value),
            )
    if finding.trouble and st.session_state.get(FORM) == finding.id:
        form_box(case, finding.area, finding, reference)


def overview(case: Case) -> None:
    for found in (State.FAULTY, State.SUSPECT, State.FINE, State.NOT_LOOKED_AT):
        areas = [area for area in Area if worst(case, area) is found]
        if areas:
            names = ", ".join(show.plain(reference.areas[area].label) for area in areas)
            st.markdown(f"{ICONS[found]} **{STATES[found]}**: {names}")


case = show.need_car("Inspect")
if case is not None:
    reference = cached.reference()
    appraisal = show.worked_out(case, quiet=True)
    progress(case, appraisal)
    labels = {one: reference.areas[one].label for one in Area}
    st.selectbox(
        "Area", list(Area), format_func=lambda one: labels[one], key=AREA, bind="query-params"
    )
    area: Area = st.session_state[AREA]
    half_typed(area, labels)
    known = reference.areas[area]
    found_so_far = worst(case, area)
    st.markdown(f"{ICONS[found_so_far]} **{STATES[found_so_far]}**. {show.plain(known.look_for)}")
    show.cautions(AREA_CAUTIONS.get(area, ()), case.vehicle, reference)
    if case.vehicle.fuel in known.not_for:
        st.write("This car has none of it.")
    key = state.key_for(("how", area.value))
    st.segmented_control(
        "How it was inspected",
        list(Look),
        default=preset_look(case, area),
        format_func=lambda one: LOOKS[one],
        key=key,
        on_change=keep_look,
        args=(case.id, key),
    )
    with st.container(horizontal=True):
        st.button(
            "Fine",
            icon=ICONS[State.FINE],
            type="primary",
            on_click=mark,
            args=(area, State.FINE, key),
            width=150,
        )
        st.button(
            "Something wrong",
            icon=ICONS[State.FAULTY],
            on_click=open_form,
            args=(f"{area.value}:new",),
            width=180,
        )
        st.button(
            "Not inspected",
            icon=ICONS[State.NOT_LOOKED_AT],
            on_click=mark,
            args=(area, State.NOT_LOOKED_AT, key),
            width=170,
        )
        st.button("Area before", icon=":material/arrow_back:", on_click=step_area, args=(-1,))
        st.button("Next area", icon=":material/arrow_forward:", on_click=step_area, args=(1,))
    area_line(appraisal, area, case.currency)
    if st.session_state.get(FORM) == f"{area.value}:new":
        form_box(case, area, None, reference)
    for finding in of_area(case, area):
        if finding.trouble or finding.label:
            one_finding(case, finding, appraisal, reference)
    boxes = st.tabs(["Symptom", "Codes", "Measure"], on_change="rerun", key="look-boxes")
    if boxes[0].open:
        with boxes[0]:
            symptoms_box(case, area, reference)
    if boxes[1].open:
        with boxes[1]:
            codes_box(case, reference)
    if boxes[2].open:
        with boxes[2]:
            measurements_box(case, area, reference)

    st.subheader("So far")
    overview(case)
    details = st.expander("The car itself", on_change="rerun", key="car-details")
    if details.open:
        with details:
            car_fields(case)
    owned = st.expander("Bought, on sale, sold", on_change="rerun", key="car-standing")
    if owned.open:
        with owned:
            standing_fields(case)
    kept = st.expander("What was changed, and when", on_change="rerun", key="car-history")
    if kept.open:
        with kept:
            history_view(case)
