"""Measurements held against limits, from both sides of every edge that 49 CFR 570 names."""

from __future__ import annotations

from decimal import Decimal

import pytest

from appraise.engine.measure.limits import Verdict, verdict
from appraise.intake.units import convert_value, parse_measure
from appraise.reference.load import load_reference
from appraise.reference.schema import Kind, Limit

LIMITS = load_reference().limits


def held(limit_id: str, text: str, by: str | None = None) -> Verdict:
    """Hold what a person types against a limit of the reference."""
    limit = LIMITS[limit_id]
    measure = parse_measure(text, limit.unit)
    place = Decimal(by) if by else None
    return verdict(limit, measure.value, measure.unit, place, convert=convert_value)


def rule(**bounds: Decimal) -> Limit:
    """Return a rule of thumb made for a test."""
    return Limit.model_validate(
        {
            "id": "a.rule",
            "label": "A rule",
            "area": "engine",
            "unit": "V",
            "jurisdiction": "general",
            "severity": "minor",
            "failed": "Off",
            "kind": "own",
            **bounds,
        }
    )


@pytest.mark.parametrize(
    ("limit_id", "text", "result"),
    [
        # 570.5(g): at least 1/32 in (0.79 mm); 1/32 in is 0.79375 mm
        ("us_570.lining_bonded", "1/32 in", "passes"),
        ("us_570.lining_bonded", "0.79 mm", "passes"),
        ("us_570.lining_bonded", "0.7 mm", "fails"),
        ("us_570.lining_riveted", "0.03125 in", "passes"),
        ("us_570.lining_riveted", "0.03124 in", "fails"),
        # 570.5(d)(2): at most 25 ft from 20 mph
        ("us_570.stopping_distance", "25 ft", "passes"),
        ("us_570.stopping_distance", "26 ft", "fails"),
        ("us_570.stopping_distance", "7.62 m", "passes"),
        ("us_570.stopping_distance", "7.621 m", "fails"),
        # 570.7(b): at most 1/4 in (6.35 mm)
        ("us_570.linkage_play", "0.25 in", "passes"),
        ("us_570.linkage_play", "1/4 in", "passes"),
        ("us_570.linkage_play", "0.26 in", "fails"),
        ("us_570.linkage_play", "6.35 mm", "passes"),
        ("us_570.linkage_play", "6.36 mm", "fails"),
        # 570.8(b): at most 2 cycles
        ("us_570.shock_cycles", "2", "passes"),
        ("us_570.shock_cycles", "3", "fails"),
        # 570.9(a): at least 2/32 in (1.59 mm)
        ("us_570.tire_tread", "2/32 in", "passes"),
        ("us_570.tire_tread", "1.6 mm", "passes"),
        ("us_570.tire_tread", "1.5 mm", "fails"),
        ("us_570.tire_tread", "1/32 in", "fails"),
        # 570.10(b): at most 1/8 in (3.18 mm)
        ("us_570.rim_runout", "0.125 in", "passes"),
        ("us_570.rim_runout", "0.130 in", "fails"),
        ("us_570.rim_runout", "3.18 mm", "passes"),
        ("us_570.rim_runout", "3.19 mm", "fails"),
    ],
)
def test_the_edges_of_49_cfr_570_subpart_a(limit_id: str, text: str, result: str) -> None:
    found = held(limit_id, text)

    assert found.result == result
    assert found.limit_id == limit_id
    assert found.kind is Kind.LAW
    assert "49 CFR 570" in found.jurisdiction


@pytest.mark.parametrize(
    ("wheel", "lash", "result"),
    [
        # 570.7(a), Table 1: 16 in or less 2 in, 18 in 2 1/4, 20 in 2 1/2, 22 in 2 3/4
        ("14", "2 in", "passes"),
        ("14", "2.1 in", "fails"),
        ("16", "2.0 in", "passes"),
        ("16", "2.1 in", "fails"),
        ("16", "50.80 mm", "passes"),
        ("16", "50.81 mm", "fails"),
        ("18", "2 1/4 in", "passes"),
        ("18", "57.15 mm", "passes"),
        ("18", "57.16 mm", "fails"),
        ("20", "2 1/2 in", "passes"),
        ("20", "63.51 mm", "fails"),
        ("22", "2 3/4 in", "passes"),
        ("22", "69.86 mm", "fails"),
        # between: the straight line 2 + (d - 16)/8, which the rule does not print
        ("17", "2.125 in", "passes"),
        ("17", "2.126 in", "fails"),
        ("19", "2.375 in", "passes"),
        ("21", "2.625 in", "passes"),
        ("21", "2.626 in", "fails"),
    ],
)
def test_steering_lash_by_the_size_of_the_wheel(wheel: str, lash: str, result: str) -> None:
    assert held("us_570.steering_lash", lash, wheel).result == result


def test_a_size_between_the_published_ones_says_so() -> None:
    assert "straight line between the published 16 and 18 in" in (
        held("us_570.steering_lash", "2 in", "17").why
    )
    assert "straight line" not in held("us_570.steering_lash", "2 in", "18").why
    below = held("us_570.steering_lash", "2 in", "15").why
    assert "the figure published for 16 in" in below


def test_beyond_the_table_and_without_the_wheel_nobody_can_tell() -> None:
    above = held("us_570.steering_lash", "2 in", "23")
    assert (above.result, above.why) == ("cannot tell", "no figure is published above 22 in")
    unknown = held("us_570.steering_lash", "2 in")
    assert unknown.result == "cannot tell"
    assert "steering wheel diameter" in unknown.why


def test_tread_at_the_edge_passes_one_law_and_fails_another() -> None:
    """1.59 mm is above 2/32 in = 1.5875 mm, and below the 1.6 mm of Directive 89/459/EEC."""
    assert held("us_570.tire_tread", "1.59 mm").result == "passes"
    for strict in ("eu.tire_tread", "gb.tire_tread"):
        assert held(strict, "1.59 mm").result == "fails"
        assert held(strict, "1.60 mm").result == "passes"
    assert held("us_570.tire_tread", "1.60 mm").result == "passes"
    assert held("eu.tire_tread", "2/32 in").result == "fails"
    us, eu = held("us_570.tire_tread", "1.59 mm"), held("eu.tire_tread", "1.59 mm")
    assert us.why == "1.59 mm; at least 1.59 mm passes as the source prints it"
    assert eu.why == "1.59 mm; at least 1.6 mm passes"
    assert us.jurisdiction.startswith("United States")
    assert eu.jurisdiction == "European Union"


@pytest.mark.parametrize(
    ("limit", "value", "result"),
    [
        # 49 CFR 570.5(c): at most 80 % of the pedal's travel; 1.2 and 1.1 in left of 6
        ("us_570.pedal_reserve", "80", "passes"),
        ("us_570.pedal_reserve", "81.67", "fails"),
        # 49 CFR 570.5(d)(1): within 20 %, strictly of the smaller force
        ("us_570.brake_balance", "19.05", "passes"),
        ("us_570.brake_balance", "20.48", "fails"),
        ("us_570.brake_balance", "Infinity", "fails"),
        # 49 CFR 570.7(d): 3/16 and 1/4 in against a maker's 1/8 in
        ("us_570.toe", "1.5", "passes"),
        ("us_570.toe", "2", "fails"),
        # the lowest cylinder in percent of the highest: common practice
        ("rule.compression_even", "90", "passes"),
        ("rule.compression_even", "74.9", "fails"),
    ],
)
def test_shares_are_held_against_their_limits(limit: str, value: str, result: str) -> None:
    assert verdict(LIMITS[limit], Decimal(value)).result == result


def test_a_rule_of_thumb_leaves_room_between_good_and_bad() -> None:
    limit = rule(good_at_least=Decimal("13.5"), bad_below=Decimal(13))

    assert verdict(limit, Decimal("13.5")).result == "passes"
    assert verdict(limit, Decimal("13.0")).result == "cannot tell"
    assert verdict(limit, Decimal("12.99")).result == "fails"
    assert "not far enough off to fail" in verdict(limit, Decimal("13.2")).why


def test_a_rule_without_a_bad_bound_never_fails_and_a_law_always_does() -> None:
    limit = rule(good_at_most=Decimal(1))
    assert verdict(limit, Decimal(1000)).result == "cannot tell"
    law = limit.model_copy(update={"kind": Kind.LAW})
    assert verdict(law, Decimal("1.0000001")).result == "fails"


def test_a_rule_with_two_sides_fails_on_either() -> None:
    charging = LIMITS["rule.charging"]
    volts = ("12.9", "13.2", "13.5", "14.7", "15.0", "15.1")
    found = [verdict(charging, Decimal(one)).result for one in volts]

    assert found == ["fails", "cannot tell", "passes", "passes", "cannot tell", "fails"]


def test_a_question_passes_with_the_answer_it_asks_for() -> None:
    light, milky = LIMITS["us_570.brake_failure_light"], LIMITS["rule.oil_milky"]

    assert verdict(light, True).result == "passes"  # noqa: FBT003 - the answer
    assert verdict(light, False).result == "fails"  # noqa: FBT003 - the answer
    assert verdict(milky, False).result == "passes"  # noqa: FBT003 - the answer
    assert verdict(milky, True).result == "fails"  # noqa: FBT003 - the answer
    assert verdict(milky, None).result == "cannot tell"


def test_every_limit_of_the_reference_can_be_asked() -> None:
    for limit in LIMITS.values():
        by = limit.by.points[0][0] if limit.by else None
        value = True if limit.asks != "number" else Decimal(2)
        found = verdict(limit, value, limit.unit, by)
        assert found.result in ("passes", "fails", "cannot tell"), limit.id
        assert found.why, limit.id


def test_a_limit_of_law_is_never_left_open_once_measured() -> None:
    laws = [one for one in LIMITS.values() if one.kind is Kind.LAW and one.asks == "number"]

    assert len(laws) > 8
    for limit in laws:
        by = limit.by.points[0][0] if limit.by else None
        for value in ("0", "0.01", "1", "1.59", "24.999", "1000000"):
            assert verdict(limit, Decimal(value), "", by).result != "cannot tell", limit.id


def test_a_reading_that_is_none_is_refused() -> None:
    light, tread = LIMITS["us_570.brake_failure_light"], LIMITS["eu.tire_tread"]
    lash = LIMITS["us_570.steering_lash"]

    with pytest.raises(TypeError, match="yes or no, not for a number"):
        verdict(light, Decimal(1))
    with pytest.raises(TypeError, match="a number, not for yes or no"):
        verdict(tread, True)  # noqa: FBT003 - the answer
    with pytest.raises(ValueError, match="is no number"):
        verdict(tread, Decimal("NaN"))
    with pytest.raises(ValueError, match="needs a way to convert"):
        verdict(tread, Decimal(1), "in")
    with pytest.raises(ValueError, match="is no number"):
        verdict(lash, Decimal(1), "in", Decimal("NaN"))


def test_49_cfr_570_binds_only_where_it_is_adopted() -> None:
    """49 CFR 570.3: it imposes no requirement by itself and is meant to be adopted by States."""
    federal = [one for one in LIMITS.values() if one.id.startswith("us_570.")]

    assert len(federal) >= 25
    assert all("49 CFR 570, where adopted" in one.jurisdiction for one in federal)


def test_brake_balance_is_20_percent_up_to_10000_lb() -> None:
    """49 CFR 570.5(d)(1): not by more than 20 percent; 570.59(a)(1), heavier vehicles: 25."""
    balance = LIMITS["us_570.brake_balance"]

    assert (balance.good_at_most, balance.bad_above) == (20, 20)
    assert balance.kind.value == "law"
