"""The standard atmosphere and boost against published figures."""

from __future__ import annotations

import numpy as np
import pytest

from appraise.engine.measure.manifold import (
    KPA_PER_PSI,
    LocalPressure,
    Outside,
    boost_kpa,
    geopotential_m,
    local_pressure,
    standard_pressure_kpa,
)

FOOT = 0.3048


def boost(absolute: float, local: LocalPressure) -> float:
    """Return the one row of a column."""
    return float(boost_kpa(np.array([absolute]), local)[0])


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
    """NIST SP 811, appendix B.8: psi 6.894757 kPa, atm 101.325."""
    assert pytest.approx(6.894757, abs=5e-7) == KPA_PER_PSI
    assert pytest.approx(14.695949, abs=5e-7) == 101.325 / KPA_PER_PSI


def test_one_inch_of_mercury_is_lost_in_the_first_thousand_feet() -> None:
    """Rule of the trade; the standard atmosphere gives 29.921 and 28.856 inHg."""
    low, high = (standard_pressure_kpa(feet * FOOT) / 3.386389 for feet in (0, 1000))

    assert (low, high) == (pytest.approx(29.921, abs=5e-4), pytest.approx(28.856, abs=5e-4))


@pytest.mark.parametrize(
    ("absolute", "baro", "kpa", "psi"), [(172, 101, 71, 10.30), (205, 84, 121, 17.55)]
)
def test_boost_is_manifold_less_barometer(
    absolute: float, baro: float, kpa: float, psi: float
) -> None:
    """PID 0B less PID 33 (SAE J1979 names both absolute); figures computed."""
    local = local_pressure(logged_kpa=baro)

    assert boost(absolute, local) == kpa
    assert round(boost(absolute, local) / KPA_PER_PSI, 2) == psi
    assert not local.estimated
    assert local.problems == ()


def test_a_fixed_sea_level_would_be_two_and_a_half_psi_wrong_in_the_mountains() -> None:
    right = boost(205, local_pressure(logged_kpa=84)) / KPA_PER_PSI
    wrong = boost(205, local_pressure(logged_kpa=101)) / KPA_PER_PSI

    assert round(wrong, 2) == 15.08
    assert round(right - wrong, 2) == 2.47


def test_the_trade_s_2200_mbar_is_about_17_psi() -> None:
    """2,200 mbar absolute less about 1,000 outside: common practice, no published source."""
    psi = boost(220.0, local_pressure(logged_kpa=100.0)) / KPA_PER_PSI

    assert psi == pytest.approx(17.4, abs=0.05)


def test_a_published_ceiling_of_36_98_psi_absolute_leaves_22_28_at_sea_level() -> None:
    """A tuning firm's article: 36.98 psi absolute, 22.28 relative at sea level."""
    found = boost(36.98 * KPA_PER_PSI, local_pressure())
    assert round(found / KPA_PER_PSI, 2) == 22.28
    high = boost(36.98 * KPA_PER_PSI, local_pressure(height_m=1609.344))
    assert round(high / KPA_PER_PSI, 2) == 24.88


def test_pids_in_their_raw_form() -> None:
    """`41 0B AC`, `41 33 65` -> 172, 101 kPa; `41 70 03 19 00 18 00 ..` -> 200, 192 kPa."""
    assert boost(0xAC, local_pressure(logged_kpa=0x65)) == 71
    wanted, had = 0x1900 * 0.03125, 0x1800 * 0.03125
    local = local_pressure(logged_kpa=101)
    assert (wanted, had) == (200, 192)
    assert boost(wanted, local) - boost(had, local) == 8


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


def test_a_column_is_boost_row_by_row_and_gaps_stay() -> None:
    found = boost_kpa(np.array([172.0, np.nan, 30.0]), local_pressure(logged_kpa=101))

    assert found.tolist() == pytest.approx([71.0, np.nan, -71.0], nan_ok=True)


@pytest.mark.parametrize("height", [-2001.0, 11_001.0, float("nan")])
def test_heights_outside_the_formula_are_refused(height: float) -> None:
    with pytest.raises(ValueError, match="between -2,000 and 11,000 m"):
        standard_pressure_kpa(height)
