"""The standard atmosphere and boost against published figures."""

from __future__ import annotations

import numpy as np
import pytest

from appraise.engine.measure.manifold import (
    KPA_PER_INHG,
    KPA_PER_PSI,
    Outside,
    boost,
    boost_kpa,
    geopotential_m,
    key_on_problems,
    local_pressure,
    standard_pressure_kpa,
)

FOOT = 0.3048


@pytest.mark.parametrize(
    ("meters", "bar"),
    [
        (0, 1.01325),
        (500, 0.9546),
        (1000, 0.8988),
        (1500, 0.8456),
        (2000, 0.7950),
        (2500, 0.7469),
        (3000, 0.7012),
    ],
)
def test_the_standard_atmosphere_by_meters(meters: int, bar: float) -> None:
    """International standard atmosphere (ISO 2533) as an engineering handbook prints it, in bar."""
    found = standard_pressure_kpa(geopotential_m(meters))

    assert found == pytest.approx(100 * bar, rel=0.0005)  # geometric or not, and four digits


@pytest.mark.parametrize(
    ("feet", "psi"),
    [(0, 14.696), (1000, 14.175), (2000, 13.664), (5000, 12.230), (10_000, 10.108)],
)
def test_the_standard_atmosphere_by_feet(feet: int, psi: float) -> None:
    """A printed table of U.S. standard atmospheric data, in psi absolute."""
    found = standard_pressure_kpa(geopotential_m(feet * FOOT)) / KPA_PER_PSI

    assert found == pytest.approx(psi, rel=0.0005)  # the table rounds its temperature too


@pytest.mark.parametrize(
    ("geopotential", "kpa"),
    [
        (-1000 * FOOT, 105.041),
        (-5000 * FOOT, 121.023),
        (11_000, 22.632),
        (1609.344, 83.43),
        (3000, 70.1085),
    ],
)
def test_the_standard_atmosphere_at_published_points(geopotential: float, kpa: float) -> None:
    """1050.41 and 1210.23 hPa (a maker of sensors); 22,632 Pa at 11 km (U.S. 1976)."""
    assert standard_pressure_kpa(geopotential) == pytest.approx(kpa, rel=0.00006)


def test_six_kilometers_of_height_keep_466_thousandths() -> None:
    """U.S. Standard Atmosphere 1976, p/p0 at 6 km geometric: 0.46600."""
    ratio = standard_pressure_kpa(geopotential_m(6000)) / standard_pressure_kpa(0)

    assert ratio == pytest.approx(0.46600, abs=0.000005)


def test_factors_are_those_of_nist() -> None:
    """NIST SP 811, appendix B.8: psi 6.894757 kPa, inHg 3.386389, atm 101.325."""
    assert pytest.approx(6.894757, abs=5e-7) == KPA_PER_PSI
    assert pytest.approx(3.386389, abs=5e-7) == KPA_PER_INHG
    assert pytest.approx(14.695949, abs=5e-7) == 101.325 / KPA_PER_PSI


def test_one_inch_of_mercury_is_lost_in_the_first_thousand_feet() -> None:
    """Rule of the trade; the standard atmosphere gives 29.921 and 28.856 inHg."""
    low, high = (standard_pressure_kpa(feet * FOOT) / KPA_PER_INHG for feet in (0, 1000))

    assert (low, high) == (pytest.approx(29.921, abs=5e-4), pytest.approx(28.856, abs=5e-4))


@pytest.mark.parametrize(
    ("absolute", "baro", "kpa", "psi", "bar", "ratio"),
    [(172, 101, 71, 10.30, 0.71, 1.70), (205, 84, 121, 17.55, 1.21, 2.44)],
)
def test_boost_is_manifold_less_barometer(
    absolute: float, baro: float, kpa: float, psi: float, bar: float, ratio: float
) -> None:
    """PID 0B less PID 33 (SAE J1979 names both absolute); figures computed."""
    found = boost(absolute, local_pressure(logged_kpa=baro))

    assert found.kpa == kpa
    assert round(found.psi, 2) == psi
    assert found.bar == pytest.approx(bar)
    assert round(found.ratio, 2) == ratio
    assert not found.estimated
    assert found.problems == ()


def test_a_fixed_sea_level_would_be_two_and_a_half_psi_wrong_in_the_mountains() -> None:
    right = boost(205, local_pressure(logged_kpa=84)).psi
    wrong = boost(205, local_pressure(logged_kpa=101)).psi

    assert round(wrong, 2) == 15.08
    assert round(right - wrong, 2) == 2.47


def test_the_trade_s_2200_mbar_is_about_17_psi() -> None:
    """2,200 mbar absolute less about 1,000 outside: common practice, no published source."""
    found = boost(220.0, local_pressure(logged_kpa=100.0))

    assert found.psi == pytest.approx(17.4, abs=0.05)
    assert int(found.psi) == 17


def test_a_published_ceiling_of_36_98_psi_absolute_leaves_22_28_at_sea_level() -> None:
    """A tuning firm's article: 36.98 psi absolute, 22.28 relative at sea level."""
    found = boost(36.98 * KPA_PER_PSI, local_pressure(), wide_range=True)
    assert round(found.psi, 2) == 22.28
    high = boost(36.98 * KPA_PER_PSI, local_pressure(height_m=1609.344), wide_range=True)
    assert round(high.psi, 2) == 24.88


def test_pids_in_their_raw_form() -> None:
    """`41 0B AC`, `41 33 65` -> 172, 101 kPa; `41 70 03 19 00 18 00 ..` -> 200, 192 kPa."""
    assert boost(0xAC, local_pressure(logged_kpa=0x65)).kpa == 71
    wanted, had = 0x1900 * 0.03125, 0x1800 * 0.03125
    local = local_pressure(logged_kpa=101)
    assert (wanted, had) == (200, 192)
    assert boost(wanted, local, wide_range=True).kpa - boost(had, local, wide_range=True).kpa == 8


def test_a_good_idle_is_vacuum() -> None:
    """30 kPa against 101 is 20.97 inHg; 18 inHg below 14.7 psi leaves 5.86 psi (computed)."""
    found = boost(30, local_pressure(logged_kpa=101))

    assert found.kpa == -71
    assert round(found.vacuum_inhg, 2) == 20.97
    assert round(14.7 - 18 * KPA_PER_INHG / KPA_PER_PSI, 2) == 5.86
    assert boost(172, local_pressure(logged_kpa=101)).vacuum_inhg == 0


def test_the_air_outside_comes_from_the_best_there_is() -> None:
    everything = local_pressure(logged_kpa=98.0, key_on_kpa=97.5, height_m=300)
    assert (everything.kpa, everything.source) == (98.0, Outside.LOGGED)
    engine_off = local_pressure(key_on_kpa=97.5, height_m=300)
    assert (engine_off.kpa, engine_off.source) == (97.5, Outside.KEY_ON)
    assert not engine_off.estimated
    by_height = local_pressure(height_m=1609.344)
    assert (round(by_height.kpa, 2), by_height.source) == (83.43, Outside.HEIGHT)
    assert by_height.estimated
    nothing = local_pressure()
    assert (nothing.kpa, nothing.source, nothing.estimated) == (101.325, Outside.SEA_LEVEL, True)


def test_without_a_barometer_boost_is_marked_as_estimated() -> None:
    for local in (local_pressure(), local_pressure(height_m=500)):
        found = boost(172, local)
        assert found.estimated
        assert "the air outside is an estimate" in found.problems[-1]


def test_the_ceiling_of_one_byte_is_marked_unless_the_sensor_goes_further() -> None:
    """PID 0B holds one byte of kPa: 255 at most, 22.3 psi over sea level."""
    local = local_pressure(logged_kpa=101)
    at_ceiling = boost(255, local)
    assert at_ceiling.clipped
    assert "it may be higher" in at_ceiling.problems[-1]
    assert not boost(254, local).clipped
    assert not boost(255, local, wide_range=True).clipped
    assert round(boost(255, local_pressure(logged_kpa=101.325)).psi, 1) == 22.3


def test_a_sea_level_figure_in_the_mountains_is_found_out() -> None:
    """A weather service's 1,013 hPa at 1,609 m: 18 kPa off the standard atmosphere there."""
    local = local_pressure(logged_kpa=101.3, height_m=1609.344)

    assert "reduced to sea level" in local.problems[0]
    assert local_pressure(logged_kpa=84, height_m=1609.344).problems == ()


@pytest.mark.parametrize("kpa", [0.0, 255.0, 44.9, 115.1])
def test_a_barometer_that_cannot_be_is_left_out(kpa: float) -> None:
    local = local_pressure(logged_kpa=kpa, height_m=0)

    assert local.source is Outside.HEIGHT
    assert "cannot be" in local.problems[0]


def test_manifold_and_barometer_agree_with_the_engine_off() -> None:
    """Within 3 kPa of each other and 5 of the height: from memory."""
    assert key_on_problems(101, 98, 0) == ()
    (apart,) = key_on_problems(101, 97.9)
    assert "differ by more than 3 kPa" in apart
    found = key_on_problems(101, 101, 1609.344)
    assert [one.split()[0] for one in found] == ["manifold", "barometer"]
    assert key_on_problems(83, height_m=1609.344) == ()


def test_a_column_is_boost_row_by_row_and_gaps_stay() -> None:
    found = boost_kpa(np.array([172.0, np.nan, 30.0]), local_pressure(logged_kpa=101))

    assert found.tolist() == pytest.approx([71.0, np.nan, -71.0], nan_ok=True)


@pytest.mark.parametrize("height", [-2001.0, 11_001.0, float("nan")])
def test_heights_outside_the_formula_are_refused(height: float) -> None:
    with pytest.raises(ValueError, match="between -2,000 and 11,000 m"):
        standard_pressure_kpa(height)


@pytest.mark.parametrize("kpa", [-1.0, float("nan"), float("inf")])
def test_pressures_that_cannot_be_are_refused(kpa: float) -> None:
    with pytest.raises(ValueError, match="absolute pressure"):
        boost(kpa, local_pressure())
