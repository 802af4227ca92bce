"""Full-load pulls in logs made for the test, with the trade's boost arithmetic in them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from appraise.engine.measure.full_load import (
    Pull,
    PullRules,
    find_pulls,
    overlay,
    plateau,
)
from appraise.engine.measure.manifold import local_pressure
from appraise.intake.logs.read import read_log

STEP = 0.1
LOCAL = local_pressure(logged_kpa=100.0)
Columns = dict[str, np.ndarray]


def drive(
    *,
    seconds: float = 5.0,
    rpm: tuple[float, float] = (1500, 5500),
    pedal: float = 100.0,
    map_kpa: float = 220.0,
    target: float = 225.0,
    before: float = 3.0,
) -> Columns:
    """Return a drive: cruising, one pull with a plateau of boost from 2,500 rpm, cruising."""
    cruise = round(before / STEP)
    rows = round(seconds / STEP) + 1
    ramp = np.linspace(*rpm, rows)
    rise = np.interp(ramp, [rpm[0], 2500, 6000], [100.0, map_kpa, map_kpa])

    def around(value: float, middle: np.ndarray) -> np.ndarray:
        return np.concatenate([np.full(cruise, value), middle, np.full(cruise, value)])

    total = rows + 2 * cruise
    return {
        "time_s": np.arange(total) * STEP,
        "rpm": around(1500.0, ramp),
        "pedal_pct": around(20.0, np.full(rows, pedal)),
        "map_kpa": around(60.0, rise),
        "map_target_kpa": around(60.0, np.full(rows, target)),
        "lambda": around(1.0, np.full(rows, 0.85)),
    }


def only(columns: Columns, rules: PullRules | None = None) -> Pull:
    """Return the one pull that a drive holds."""
    (pull,) = find_pulls(columns, rules or PullRules()).pulls
    return pull


def test_the_pull_is_found_from_its_low_to_its_peak() -> None:
    pull = only(drive())

    assert (pull.rpm_from, pull.rpm_to) == (1500.0, 5500.0)
    assert pull.seconds == pytest.approx(5.0)
    assert (pull.start, pull.stop) == (30, 81)
    assert find_pulls(drive()).why == "full load by the pedal, up to 100 %"


def test_2200_mbar_absolute_over_1000_outside_is_about_17_psi() -> None:
    """The trade's arithmetic for a pull that meets its target: common practice, no source."""
    columns = drive(map_kpa=220.0, target=225.0)
    found = plateau(columns, only(columns), LOCAL, 3000, 5000)

    assert found.map_kpa == pytest.approx(220.0)
    assert found.boost_kpa == pytest.approx(120.0)
    assert found.boost_kpa is not None
    assert found.boost_kpa / 6.894757 == pytest.approx(17.4, abs=0.01)
    assert found.target_kpa == pytest.approx(125.0)
    assert found.short_kpa == pytest.approx(5.0)
    assert found.lambda_ == pytest.approx(0.85)
    assert not found.clipped


def test_a_plateau_holds_the_rows_between_its_engine_speeds_and_no_other() -> None:
    """4,000 rpm over 50 steps: 80 rpm a row; from 3,020 to 4,940 there are 25 rows."""
    columns = drive()
    found = plateau(columns, only(columns), LOCAL, 3020, 4940)

    assert found.rows == 25


def test_gauge_boost_and_its_target_are_taken_as_they_stand() -> None:
    columns = drive()
    columns["boost_kpa"] = columns.pop("map_kpa") - 100
    columns["boost_target_kpa"] = columns.pop("map_target_kpa") - 100
    found = plateau(columns, only(columns), local_pressure(logged_kpa=84.0), 3000, 5000)

    assert found.map_kpa is None
    assert found.boost_kpa == pytest.approx(120.0)
    assert found.short_kpa == pytest.approx(5.0)


def test_what_the_log_does_not_hold_is_none() -> None:
    columns = {name: drive()[name] for name in ("time_s", "rpm", "pedal_pct")}
    found = plateau(columns, only(columns), LOCAL, 3000, 5000)

    assert (found.map_kpa, found.boost_kpa, found.target_kpa) == (None, None, None)
    assert (found.short_kpa, found.lambda_, found.clipped) == (None, None, False)
    nowhere = plateau(drive(), only(drive()), LOCAL, 7000, 8000)
    assert (nowhere.map_kpa, nowhere.rows) == (None, 0)


def test_a_plateau_at_255_is_clipped_unless_the_log_goes_beyond() -> None:
    """PID 0B holds one byte of kPa (SAE J1979)."""
    clipped = drive(map_kpa=255.0)
    assert plateau(clipped, only(clipped), LOCAL, 3000, 5000).clipped
    wide = drive(map_kpa=255.0)
    wide["map_kpa"][5] = 260.0
    assert not plateau(wide, only(wide), LOCAL, 3000, 5000).clipped


def test_a_log_that_never_reaches_full_load_says_so() -> None:
    found = find_pulls(drive(pedal=62.0))

    assert found.pulls == ()
    assert found.why == (
        "the log never reaches full load: the pedal goes to 62 %, and full load starts at 90 %"
    )


def test_a_pedal_that_reads_80_at_its_stop_needs_another_threshold() -> None:
    columns = drive(pedal=80.0)

    assert find_pulls(columns).pulls == ()
    assert only(columns, replace(PullRules(), full_pct=78.0)).rpm_to == 5500


def own_range(pedal: float, throttle: float, load: float) -> Columns:
    """Return a drive whose pedal reads 15 at rest and whose throttle and load go along with it."""
    columns = drive(pedal=pedal)
    held = columns["pedal_pct"] == pedal
    columns["pedal_pct"] = np.where(held, pedal, 15.0)
    columns["throttle_pct"] = np.where(held, throttle, 13.0)
    columns["load_pct"] = np.where(held, load, 30.0)
    return columns


def test_a_pedal_from_15_to_80_is_full_at_its_own_top_with_throttle_and_load() -> None:
    """SAE J1979, mode 01: what is read at full throttle.

    Calculated load (PID 04) is 100 %, absolute throttle (PID 11) usually less; pedal sensors (PID
    49 to 4B) need not reach 100.
    """
    columns = own_range(80.0, throttle=84.0, load=97.0)
    pull = only(columns)

    assert (pull.rpm_from, pull.rpm_to, pull.seconds) == (1500.0, 5500.0, pytest.approx(5.0))
    assert find_pulls(columns).why == (
        "full load by the pedal, up to 80 %, its top in this log, with throttle 84 % and load 97 %"
    )


@pytest.mark.parametrize(
    ("pedal", "throttle", "load"),
    [(41.0, 35.0, 60.0), (41.0, 84.0, 97.0), (80.0, 40.0, 97.0), (80.0, 84.0, 60.0)],
    ids=["40 % of its way", "40 % and loaded", "throttle not open", "not loaded"],
)
def test_a_log_that_stays_below_the_floor_says_so(
    pedal: float, throttle: float, load: float
) -> None:
    """41 % is 40 % of the way from 15 to 80."""
    found = find_pulls(own_range(pedal, throttle, load))

    assert found.pulls == ()
    assert found.why == (
        f"the log never reaches full load: the pedal goes to {pedal:.0f} %, and full load starts "
        "at 90 %"
    )


def test_a_throttle_that_stands_still_says_nothing_of_load() -> None:
    """Common practice: the throttle of many diesels stays where it is."""
    columns = own_range(80.0, throttle=13.0, load=97.0)

    assert only(columns).rpm_to == 5500


def test_without_a_pedal_the_throttle_s_own_top_counts_with_the_load() -> None:
    columns = own_range(80.0, throttle=84.0, load=97.0)
    del columns["pedal_pct"]

    assert only(columns).rpm_to == 5500
    columns["load_pct"] = columns["load_pct"] - 30
    assert find_pulls(columns).pulls == ()


@pytest.mark.parametrize(
    ("columns", "words"),
    [
        (drive(seconds=1.9), "never for 2 s with the engine speed rising by 1000 rpm"),
        (drive(rpm=(1500, 2400)), "never for 2 s with the engine speed rising by 1000 rpm"),
        ({"rpm": np.array([800.0])}, "neither pedal nor throttle"),
        ({"pedal_pct": np.array([100.0])}, "holds no engine speed"),
        ({"pedal_pct": np.array([np.nan]), "rpm": np.array([800.0])}, "never reaches full load"),
    ],
)
def test_why_there_is_no_pull_is_said(columns: Columns, words: str) -> None:
    found = find_pulls(columns)

    assert found.pulls == ()
    assert words in found.why


def test_two_seconds_and_a_thousand_rpm_are_enough() -> None:
    assert only(drive(seconds=2.0)).seconds == pytest.approx(2.0)
    assert only(drive(rpm=(1500, 2500))).rpm_to == 2500


def test_the_pedal_goes_before_the_throttle() -> None:
    """A throttle may stand open by the engine computer's wish with the foot half down."""
    columns = drive(pedal=50.0)
    columns["throttle_pct"] = np.full(len(columns["rpm"]), 100.0)
    assert find_pulls(columns).pulls == ()

    del columns["pedal_pct"]
    found = find_pulls(columns)
    assert len(found.pulls) == 1
    assert "by the throttle" in found.why


def test_a_gear_change_parts_two_pulls() -> None:
    columns = drive(seconds=8.0)
    rows = 81
    gears = np.concatenate([np.linspace(2000, 6000, 41), np.linspace(3500, 5500, rows - 41)])
    columns["rpm"][30 : 30 + rows] = gears
    first, second = find_pulls(columns).pulls

    assert (first.rpm_from, first.rpm_to) == (2000.0, 6000.0)
    assert (second.rpm_from, second.rpm_to) == (3500.0, 5500.0)
    assert first.stop <= second.start


def test_noise_below_the_fall_that_ends_a_pull_does_not_part_it() -> None:
    columns = drive()
    noise = np.random.default_rng(3).uniform(-100, 100, len(columns["rpm"]))
    columns["rpm"] = columns["rpm"] + noise

    pull = only(columns)
    assert pull.rpm_to - pull.rpm_from == pytest.approx(4000, abs=200)  # the noise at both ends


def test_a_pull_begins_at_the_low_of_the_engine_speed() -> None:
    """The converter or the clutch lets it sag as the foot goes down."""
    columns = drive()
    columns["rpm"][30:33] = (1500.0, 1440.0, 1400.0)

    pull = only(columns)
    assert (pull.start, pull.rpm_from) == (32, 1400.0)


def test_a_hole_in_the_log_ends_a_pull() -> None:
    columns = drive(seconds=6.0)
    columns["time_s"][60:] += 5.0
    pulls = find_pulls(columns).pulls

    assert [pull.stop <= 60 or pull.start >= 60 for pull in pulls] == [True, True]


def test_columns_polled_in_turn_are_bridged() -> None:
    """Every row holds one reading only, as many scan tools write it."""
    whole = drive()
    columns = {"time_s": whole["time_s"]}
    names = ("rpm", "pedal_pct", "map_kpa")
    for at, name in enumerate(names):
        columns[name] = np.where(np.arange(len(whole["rpm"])) % 3 == at, whole[name], np.nan)
    pull = only(columns)

    assert pull.rpm_to == pytest.approx(5500, abs=250)
    found = plateau(columns, pull, LOCAL, 3000, 5000)
    assert found.map_kpa == pytest.approx(220.0)
    assert found.rows == pytest.approx(25, abs=1)


def test_a_gap_longer_than_the_rules_allow_is_not_bridged() -> None:
    columns = drive()
    columns["map_kpa"][45:70] = np.nan
    pull = only(columns)
    low, high = columns["rpm"][46], columns["rpm"][68]

    assert plateau(columns, pull, LOCAL, low, high).map_kpa is None
    longer = replace(PullRules(), longest_gap_s=3.0)
    assert plateau(columns, pull, LOCAL, low, high, longer).map_kpa == pytest.approx(220.0)


def test_without_a_time_the_length_is_not_checked_and_that_is_said() -> None:
    columns = drive(seconds=1.0)
    del columns["time_s"]
    found = find_pulls(columns)

    assert len(found.pulls) == 1
    assert np.isnan(found.pulls[0].seconds)
    assert "how long is not checked" in found.why


def test_before_and_after_lie_on_one_grid_of_engine_speeds() -> None:
    weak, mended = drive(map_kpa=170.0), drive(map_kpa=220.0, rpm=(1800, 5200))
    found = overlay((weak, only(weak)), (mended, only(mended)), "map_kpa")

    assert found.rpm.tolist() == list(range(1800, 5300, 100))
    high = found.rpm >= 2600
    assert found.before[high] == pytest.approx(np.full(high.sum(), 170.0))
    assert found.after[high] == pytest.approx(np.full(high.sum(), 220.0))
    assert found.gain == pytest.approx(np.mean(found.after - found.before))
    assert found.problems == ()


def test_a_curve_is_read_by_straight_lines_between_its_rows() -> None:
    columns = drive()
    columns["map_kpa"] = columns["rpm"] / 20
    found = overlay((columns, only(columns)), (columns, only(columns)), "map_kpa")

    assert found.before == pytest.approx(found.rpm / 20)
    assert found.gain == 0.0


def test_pulls_that_share_too_little_are_not_compared() -> None:
    low, high = drive(rpm=(1500, 3000)), drive(rpm=(2600, 5500))
    found = overlay((low, only(low)), (high, only(high)), "map_kpa")

    assert len(found.rpm) == 0
    assert found.gain is None
    assert found.problems == ("the pulls share less than 500 rpm: not comparable",)
    missing = overlay((low, only(low)), (high, only(high)), "maf_gs")
    assert missing.problems == ("one of the pulls holds too little maf_gs",)


def test_pulls_that_are_not_alike_are_named() -> None:
    one, other = drive(), drive(seconds=9.0)
    for columns, baro, intake in ((one, 101.0, 20.0), (other, 97.0, 40.0)):
        columns["baro_kpa"] = np.full(len(columns["rpm"]), baro)
        columns["intake_c"] = np.full(len(columns["rpm"]), intake)
    found = overlay((one, only(one)), (other, only(other)), "map_kpa")

    air, intake_air, gear = found.problems
    assert "air outside, kPa: 101 before, 97 after" in air
    assert "intake air, °C: 20 before, 40 after" in intake_air
    assert "another gear or slope" in gear
    assert len(found.rpm) > 0


def test_a_log_from_a_file_goes_straight_in() -> None:
    whole = drive()
    lines = ["Time (s);Engine RPM;Accelerator Pedal (%);Boost absolute (mbar)"]
    names = ("time_s", "rpm", "pedal_pct")
    for row in range(len(whole["rpm"])):
        cells = [f"{whole[name][row]:.2f}" for name in names]
        cells.append(f"{10 * whole['map_kpa'][row]:.1f}")
        lines.append(";".join(cells).replace(".", ","))
    log = read_log("\n".join(lines).encode())
    columns = dict(log.columns)
    found = plateau(columns, only(columns), LOCAL, 3000, 5000)

    assert found.boost_kpa == pytest.approx(120.0)
