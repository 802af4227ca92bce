"""A data log as text: what was found, what was not, and why; every warning is on the page."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from appraise.engine.measure.logged import LogView, logged_pulls
from appraise.engine.measure.manifold import local_pressure
from appraise.errors import Problem
from appraise.reports.log_page import log_page

STEP = 0.1
KPA_PER_PSI = 6.894757
"""An avoirdupois pound-force on a square inch: NIST SP 811, appendix B.8; from memory."""


def log_of(
    map_kpa: float = 220.0, rpm: tuple[float, float] = (1500, 5500), load: float = 100.0
) -> LogView:
    """Return a log with one pull of 5 s between two cruises; boost full from 2,500 rpm on."""
    cruise, rows = 30, 51
    ramp = np.linspace(*rpm, rows)

    def around(value: float, middle: np.ndarray) -> np.ndarray:
        return np.concatenate([np.full(cruise, value), middle, np.full(cruise, value)])

    columns = {
        "time_s": np.arange(rows + 2 * cruise) * STEP,
        "rpm": around(1500.0, ramp),
        "pedal_pct": around(20.0, np.full(rows, load)),
        "map_kpa": around(60.0, np.interp(ramp, [1500, 2500], [100.0, map_kpa])),
    }
    return LogView(
        name="pull.csv",
        rows=rows + 2 * cruise,
        columns=columns,
        mapping={"Time": "time_s", "RPM": "rpm", "Pedal": "pedal_pct", "MAP": "map_kpa", "X": ""},
        problems=(),
        local=local_pressure(logged_kpa=100.0),
    )


def with_columns(log: LogView, **more: Any) -> LogView:
    return replace(log, columns={**log.columns, **more})


def page(log: LogView, low: float = 3000, high: float = 5000, before: Any = None) -> str:
    return log_page(logged_pulls(log, low, high, before))


def test_a_pull_is_shown_with_its_range_time_and_boost_in_both_units() -> None:
    """220 kPa absolute over 100 outside are 120 kPa of boost, 17.4 psi."""
    text = page(log_of())

    assert "pull 1: 1,500 to 5,500 rpm, 5.0 s; 3,000 to 5,000 rpm" in text
    assert "boost 120 kPa = 17.4 psi" in text
    assert f"{120 / KPA_PER_PSI:.1f}" == "17.4"
    assert "pull 2" not in text


def test_the_air_outside_is_said_with_where_it_comes_from() -> None:
    assert "air outside: 100.0 kPa" in page(log_of())
    assert ", an estimate)" not in page(log_of())
    assert ", an estimate)" in page(replace(log_of(), local=local_pressure()))


def test_known_columns_are_named_with_their_own_headings_and_others_left_out() -> None:
    (line,) = (one for one in page(log_of()).splitlines() if "columns known" in one)

    assert line == ("  columns known: time_s (Time), rpm (RPM), pedal_pct (Pedal), map_kpa (MAP)")
    assert "columns known: none" in page(replace(log_of(), mapping={"X": ""}))


def test_every_problem_of_the_log_is_on_the_page_with_its_hint() -> None:
    told = (
        Problem("file", "two columns of one name", "note"),
        Problem("time_s", "the time runs backwards", "warning", "Sort it."),
    )
    text = page(replace(log_of(), problems=told))

    assert "  ! two columns of one name\n" in text
    assert "  ! the time runs backwards. Sort it.\n" in text


def test_a_log_never_at_full_load_says_so_and_how_far_it_went() -> None:
    text = page(log_of(load=40.0))

    assert "never reaches full load: the pedal goes to 40 %" in text
    assert "pull 1" not in text


def test_a_log_without_pedal_and_throttle_says_that_load_cannot_be_seen() -> None:
    log = log_of()
    bare = replace(log, columns={name: log.columns[name] for name in ("time_s", "rpm")})

    assert "holds neither pedal nor throttle: full load cannot be seen" in page(bare)


def test_engine_speeds_that_the_pull_never_saw_are_said() -> None:
    assert "; no rows between 6,000 and 7,000 rpm" in page(log_of(), 6000, 7000)


def test_a_pull_without_pressure_says_so() -> None:
    log = log_of()
    columns = {name: one for name, one in log.columns.items() if name != "map_kpa"}

    assert "3,000 to 5,000 rpm: no pressure" in page(replace(log, columns=columns))


def test_what_was_wanted_and_the_mixture_stand_beside_the_boost() -> None:
    log = log_of()
    full = np.full(log.rows, 250.0)
    text = page(with_columns(log, map_target_kpa=full, **{"lambda": np.full(log.rows, 0.85)}))

    assert "wanted 150 kPa, short by 30 kPa, lambda 0.85" in text


def test_a_sensor_at_its_ceiling_is_said() -> None:
    """One byte of kPa ends at 255."""
    assert "the manifold sensor stands at its ceiling" in page(log_of(map_kpa=255.0))
    assert "ceiling" not in page(log_of(map_kpa=220.0))


def test_after_over_before_shows_the_gain_at_the_same_engine_speeds() -> None:
    text = page(log_of(map_kpa=220.0), before=log_of(map_kpa=180.0))
    head, table = text.split("after over before, map_kpa:")
    rows = [line.split() for line in table.splitlines() if line.strip()[:1].isdigit()]

    assert "pull 1" in head
    assert len(rows) > 4
    assert rows[-1][1:] == ["180", "220"]
    assert [int(row[0].replace(",", "")) for row in rows] == sorted(
        int(row[0].replace(",", "")) for row in rows
    )
    gain = float(table.split("on average ")[1].split(" kPa")[0])
    assert 30 < gain <= 40


def test_the_same_log_twice_gains_nothing() -> None:
    assert "on average +0 kPa = +0.0 psi" in page(log_of(), before=log_of())


@pytest.mark.parametrize("weak", ["before", "after"])
def test_a_log_without_a_pull_cannot_be_laid_over_another(weak: str) -> None:
    idle, full = log_of(load=20.0), log_of()
    text = page(full, before=idle) if weak == "before" else page(idle, before=full)

    assert "before and after: one of the logs has no pull" in text


def test_pulls_that_share_no_engine_speed_give_no_gain() -> None:
    text = page(log_of(rpm=(4000, 6500)), before=log_of(rpm=(1000, 3500)))

    assert "on average" not in text
    assert "  ! " in text.split("after over before")[1]


def test_names_and_headings_from_a_file_move_no_cursor() -> None:
    odd = replace(log_of(), name="a\x1b[2Jb\n.csv", mapping={"T\nime": "time_s"})
    text = page(odd)

    assert "\x1b" not in text
    assert "a\\x1b[2Jb\\n.csv: 111 rows" in text
    assert "time_s (T\\nime)" in text
