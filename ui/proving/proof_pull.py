"""A logged full-load pull before and after a job: from two logs, or its averages typed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from io import BytesIO

import numpy as np
import streamlit as st
from numpy.typing import NDArray

from appraise.engine.measure.full_load import Pull, find_pulls, overlay, plateau
from appraise.engine.measure.manifold import (
    HIGHEST_M,
    LOWEST_M,
    LocalPressure,
    boost_kpa,
    local_pressure,
)
from appraise.errors import AppraiseError, BadCase
from appraise.intake.logs.columns import KNOWN
from appraise.intake.logs.read import Log, read_log
from appraise.intake.units import convert_value
from appraise.models.case import Case
from appraise.models.work import PlannedJob
from appraise.services import changed
from appraise.services.inspection.log_views import remember_columns, remembered_columns
from appraise.settings import Settings
from ui.plots import decide as charts_choose
from ui.session import signed_in, state
from ui.widgets import show
from ui.widgets.refusals import refuse, refused, settled

__all__ = ["keep_proof", "pull_box"]

BOOST = "boost"
BOOST_LABEL = "Boost over the air outside"
SHOWN = "boost_kpa"
"""Whatever is compared takes this name: the engine then averages and overlays it as it stands."""

CONDITIONS = ("time_s", "rpm", "baro_kpa", "intake_c")
NOT_COMPARED = {"time_s", "row", "rpm", "pedal_pct", "throttle_pct", "map_kpa", "boost_kpa"}
PRESSURES = ("kPa", "psi", "bar")
LOGS = "proof-logs"
GRID = 100.0


@dataclass(frozen=True, slots=True)
class Side:
    """One log with its pull, before the job or after it."""

    log: Log
    local: LocalPressure
    pull: Pull


def keep_proof(new: Case, words: str, *, bad: bool = False) -> None:
    """Keep a case with a proof, as it was read; what else is typed on the page stays."""
    if state.save(new):
        st.session_state["proof-round"] = st.session_state.get("proof-round", 0) + 1
        state.notice(words, bad=bad)


def pull_box(case: Case, job: PlannedJob) -> None:
    """Take a logged pull, from its logs or by its averages."""
    key = state.key_for(("prove", job.id, "pull"))
    how = st.segmented_control(
        "Where the averages come from",
        ["Logs", "By hand"],
        default="Logs",
        required=True,
        key=f"{key}:how",
        persist_state="page",
    )
    if how == "Logs":
        _from_logs(case, job, key)
    else:
        _by_hand(job, key)


# --- typed ------------------------------------------------------------------------------------


def _by_hand(job: PlannedJob, key: str) -> None:
    old = job.proof.pull
    with st.grid(3, min_column_width=130, vertical_alignment="bottom"):
        st.text_input(
            "What was logged",
            old.quantity if old else "",
            max_chars=100,
            key=f"{key}:quantity",
            persist_state="page",
        )
        st.text_input(
            "Unit",
            old.unit if old else "",
            max_chars=20,
            key=f"{key}:unit",
            persist_state="page",
        )
        _number("Average before", old.before if old else None, f"{key}:before")
        _number("Average after", old.after if old else None, f"{key}:after")
        _target(job, key)
    st.button(
        "Keep these averages",
        type="primary",
        key=f"{key}:keep",
        on_click=_keep_typed,
        args=(job.id, key),
    )
    refused(key)


def _keep_typed(job_id: str, key: str) -> None:
    typed = st.session_state
    what = (typed[f"{key}:quantity"], typed[f"{key}:unit"])
    _keep(job_id, key, what, (typed[f"{key}:before"], typed[f"{key}:after"]))


def _number(label: str, value: Decimal | None, key: str) -> float | None:
    if key not in st.session_state:
        st.session_state[key] = None if value is None else float(value)
    found: float | None = st.number_input(
        label, value=None, format="%.2f", step=1.0, key=key, persist_state="page"
    )
    return found


def _target(job: PlannedJob, key: str, unit: str = "") -> tuple[float | None, float | None]:
    old = job.proof.pull
    behind = f", {unit}" if unit else ""
    low = _number(f"Target from{behind}", old.low if old else None, f"{key}:low")
    return low, _number(f"Target to{behind}", old.high if old else None, f"{key}:high")


def _keep(
    job_id: str, key: str, what: tuple[str, str], averages: tuple[float | None, float | None]
) -> None:
    """Keep a pull's figures with the target typed, or say which is missing."""
    settled(key)
    ends = (st.session_state[f"{key}:low"], st.session_state[f"{key}:high"])
    figures = {
        name: None if one is None else Decimal(f"{one:.2f}".rstrip("0").rstrip("."))
        for name, one in zip(("before", "after", "low", "high"), (*averages, *ends), strict=True)
    }
    if not what[0].strip() or None in (figures["after"], figures["low"], figures["high"]):
        refuse(key, "enter what was logged, the average after, and both ends of the target.")
        return
    value = {"quantity": what[0], "unit": what[1], **figures}
    try:
        new = changed(state.case(), ("work", "jobs", job_id, "proof", "pull"), value)
    except BadCase as error:
        refuse(key, error.message)
        return
    keep_proof(new, f"Kept: the averages of {what[0]}. What they show stands beside the job.")


# --- from logs --------------------------------------------------------------------------------


def _from_logs(case: Case, job: PlannedJob, key: str) -> None:
    logs: dict[str, Log | None] = {}
    for which, place in zip(("before", "after"), st.columns(2), strict=True):
        name = f"{key}:{which}:file"
        with place:
            file = st.file_uploader(
                f"Log from {which} the job (CSV)",
                type=["csv", "txt"],
                key=name,
                on_change=_forget,
                args=(name,),
            )
            logs[which] = _read(which, file, name)
    height = None
    if any(log is not None and log.barometer_kpa is None for log in logs.values()):
        height = st.number_input(
            "Height of the place, m (a log has no barometer)",
            min_value=LOWEST_M,
            max_value=HIGHEST_M,
            value=None,
            step=50.0,
            format="%.0f",
            key=f"{key}:height",
            persist_state="page",
        )
    sides = {
        which: None if log is None else _side(which, log, height, key)
        for which, log in logs.items()
    }
    if sides["after"] is not None:
        _compare(case, job, sides["before"], sides["after"], key)
    elif logs["after"] is None:
        st.caption("Only the averages are kept with the job, not the logs.")


def _forget(name: str) -> None:
    st.session_state.get(LOGS, {}).pop(name, None)


def _read(which: str, file: BytesIO | None, name: str) -> Log | None:
    """Return a log that was handed over; it is read once, and stays while its field is hidden."""
    kept: dict[str, tuple[str, bytes, dict[str, str], Log]] = st.session_state.setdefault(LOGS, {})
    job = name.rsplit(":", 2)[0]
    for other in [one for one in kept if one.rsplit(":", 2)[0] != job]:
        del kept[other]
    title, data, before, log = kept.get(name, ("", b"", {}, None))
    if file is not None and log is None:
        title, data = getattr(file, "name", which), file.getvalue()
    if not data:
        return None
    try:
        mapping = remembered_columns(Settings().log_columns)
        if log is None or mapping != before:
            log = read_log(data, mapping=mapping)
            kept[name] = (title, data, mapping, log)
    except AppraiseError as error:
        st.error(show.plain(f"Log {which}: {error}"))
        return None
    if file is None:
        st.caption(f"Still used: {show.plain(title)}")
    return log


def _side(which: str, log: Log, height: float | None, key: str) -> Side | None:
    """Show what a log holds and choose its pull, the widest first; None if it has none."""
    local = local_pressure(logged_kpa=log.barometer_kpa, height_m=height)
    found = find_pulls(log.columns)
    estimated = ", an estimate" if local.estimated else ""
    st.caption(
        show.plain(
            f"Log {which}: {log.rows:,} rows; {found.why}. Air outside {local.kpa:.1f} kPa "
            f"({local.source.value}{estimated})."
        )
    )
    for words in (*(one.words for one in log.problems), *local.problems):
        st.caption(f":material/info: {show.plain(words[:1].upper() + words[1:])}")
    if not found.pulls:
        st.warning(show.plain(f"Log {which}: no full-load pull. {found.why.capitalize()}."))
        _teach(which, log, key)
        return None
    widest = max(found.pulls, key=lambda one: one.rpm_to - one.rpm_from)
    picked = widest
    if len(found.pulls) > 1:
        at = st.selectbox(
            f"Pull {which}",
            range(len(found.pulls)),
            found.pulls.index(widest),
            format_func=lambda one: _pull_words(found.pulls[one]),
            key=f"{key}:{which}:pull:{len(found.pulls)}",
        )
        picked = found.pulls[at]
    return Side(log, local, picked)


def _pull_words(pull: Pull) -> str:
    seconds = "" if np.isnan(pull.seconds) else f", {pull.seconds:.1f} s"
    return f"{pull.rpm_from:,.0f} to {pull.rpm_to:,.0f} rpm{seconds}"


def _teach(which: str, log: Log, key: str) -> None:
    """Let a person say what a column is; it is remembered for later logs."""
    with st.container(horizontal=True, vertical_alignment="bottom"):
        heading = st.selectbox(
            "This column", [*log.other, *log.mapping], None, key=f"{key}:{which}:heading"
        )
        name = st.selectbox("is", list(KNOWN), None, key=f"{key}:{which}:name")
        pressed = st.button("Remember it", key=f"{key}:{which}:teach")
        if not (pressed and heading and name):
            return
        try:
            signed_in.need_edit()
            remember_columns(Settings().log_columns, [f"{heading}={name}"])
        except AppraiseError as error:
            st.error(show.plain(str(error)))
            return
        st.rerun()


def _comparable(log: Log) -> dict[str, tuple[str, str]]:
    """Return what can be compared: name to label and unit, boost first."""
    out = {}
    if {"map_kpa", "boost_kpa"} & set(log.columns):
        out[BOOST] = (BOOST_LABEL, "kPa")
    headings = {name: heading for heading, name in log.mapping.items()}
    for name in log.columns:
        if name not in NOT_COMPARED:
            out[name] = (headings.get(name, name), KNOWN.get(name, ""))
    for heading in log.other:
        out[heading] = (heading, log.units.get(heading, ""))
    return out


def _alone(side: Side, name: str) -> Mapping[str, NDArray[np.float64]] | None:
    """Return the column to compare, under one name, with what shows whether pulls are alike.

    Absolute pressure is made boost by the air outside, as in the page of a log.
    """
    columns = side.log.columns
    out = {one: columns[one] for one in CONDITIONS if one in columns}
    if name != BOOST:
        values = columns.get(name, side.log.other.get(name))
    elif "map_kpa" in columns:
        values = boost_kpa(columns["map_kpa"], side.local)
    else:
        values = columns.get("boost_kpa")
    return None if values is None else {**out, SHOWN: values}


def _average(side: Side | None, name: str, rpm: tuple[float, float]) -> float | None:
    columns = None if side is None else _alone(side, name)
    if side is None or columns is None:
        return None
    return plateau(columns, side.pull, side.local, *rpm).boost_kpa


def _compare(case: Case, job: PlannedJob, before: Side | None, after: Side, key: str) -> None:
    """Show a column of the pull after over the one before, and keep their averages."""
    offered = _comparable(after.log)
    if not offered:
        st.warning("The log after the job holds nothing to compare but engine speed and pedal.")
        return
    with st.grid(4, min_column_width=130, vertical_alignment="bottom"):
        name = st.selectbox(
            "What is compared",
            list(offered),
            format_func=lambda one: offered[one][0],
            key=f"{key}:column",
            persist_state="page",
        )
        label, logged = offered[name]
        unit = logged
        if logged == "kPa":
            usual = 1 if case.vehicle.odometer.unit == "mi" else 0
            unit = st.selectbox("Unit", PRESSURES, usual, key=f"{key}:in", persist_state="page")
        rpm = _speeds(before, after, key)
        low, high = _target(job, key, unit)
    factor = float(convert_value(Decimal(1), logged, unit)) if unit != logged else 1.0
    averages = [_average(one, name, rpm) for one in (before, after)]
    first, second = (None if one is None else one * factor for one in averages)
    if second is None:
        st.warning(f"The pull after the job holds no {show.plain(label)} at these engine speeds.")
        return
    was = "" if first is None else f"{first:.1f} {unit} before, "
    st.markdown(show.plain(f"On average {was}{second:.1f} {unit} after."))
    _clipped(before, after, name, rpm)
    if before is not None:
        target = None if low is None or high is None else (low, high)
        _overlay(before, after, name, label, (unit, factor), target)
    st.button(
        "Keep these averages",
        type="primary",
        key=f"{key}:keep-logged",
        on_click=_keep,
        args=(job.id, key, (label, unit), (first, second)),
    )
    refused(key)


def _speeds(before: Side | None, after: Side, key: str) -> tuple[float, float]:
    """Ask for the engine speeds that are averaged: the upper half of what the pulls share."""
    sides = [one.pull for one in (before, after) if one is not None]
    low, high = max(one.rpm_from for one in sides), min(one.rpm_to for one in sides)
    middle = round((low + high) / 2 / GRID) * GRID
    top = np.ceil(high / GRID) * GRID
    key = f"{key}:rpm:{middle:.0f}:{top:.0f}"
    first = st.number_input("From, rpm", 0.0, None, float(middle), GRID, "%.0f", key=f"{key}:from")
    last = st.number_input("To, rpm", 0.0, None, float(top), GRID, "%.0f", key=f"{key}:to")
    return first, last


def _clipped(before: Side | None, after: Side, name: str, rpm: tuple[float, float]) -> None:
    """Say if the manifold sensor stood at its ceiling, so that the true figure is higher."""
    for which, side in (("before", before), ("after", after)):
        if side is None or name != BOOST:
            continue
        if plateau(side.log.columns, side.pull, side.local, *rpm).clipped:
            st.warning(f"The manifold sensor stands at its ceiling {which}: it may be more.")


def _overlay(
    before: Side,
    after: Side,
    name: str,
    label: str,
    shown: tuple[str, float],
    target: tuple[float, float] | None,
) -> None:
    first, second = _alone(before, name), _alone(after, name)
    if first is None or second is None:
        st.caption(f"The log before the job holds no {show.plain(label)}.")
        return
    laid = overlay((first, before.pull), (second, after.pull), SHOWN)
    for words in laid.problems:
        text = words.replace(SHOWN, label)
        st.caption(f":material/info: {show.plain(text[:1].upper() + text[1:])}")
    if laid.gain is not None:
        unit, factor = shown
        show.chart(charts_choose.pulls(laid, label, unit, target, factor), "pull-overlay")
