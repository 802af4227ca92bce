"""Cleared lately, mend proved, inspection gate: what is not known never reads as clean."""

from __future__ import annotations

from dataclasses import fields, replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from appraise.engine.scan.answers import BadAnswer
from appraise.engine.scan.inspection import Allowance, GateRules, gate_rules, inspection_gate
from appraise.engine.scan.monitors import MonitorStatus, monitor_status
from appraise.engine.scan.readiness import (
    Snapshot,
    Thresholds,
    mend_proved,
    recently_cleared,
)
from appraise.errors import AppraiseError
from appraise.models.vehicle import Fuel
from appraise.reference.schema import Value

RULES = GateRules("somewhere", gasoline=(Allowance(1996, 2), Allowance(2001, 1)))


def bits(text: str) -> MonitorStatus:
    return monitor_status(bytes.fromhex(text))


ALL_COMPLETE = bits("0007FF00")
CATALYST_OPEN = bits("0007FF01")
THREE_OPEN = bits("0007FF25")
LONG_AGO = Snapshot(
    status=ALL_COMPLETE,
    stored=(),
    pending=(),
    permanent=(),
    warm_ups=255,
    distance_km=20_000.0,
    minutes=9000,
)


# --- bits -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(("data", "pid"), [(b"", 1), (bytes(3), 1), (bytes(5), 1), (bytes(4), 5)])
def test_only_four_bytes_of_01_or_41_are_a_status(data: bytes, pid: int) -> None:
    with pytest.raises(BadAnswer):
        monitor_status(data, pid)


@given(st.binary(min_size=4, max_size=4), st.sampled_from([0x01, 0x41]))
def test_any_four_bytes_are_a_status(data: bytes, pid: int) -> None:
    status = monitor_status(data, pid)
    assert (status.light_on is None) == (status.confirmed is None) == (pid == 0x41)
    assert all((one.complete is None) != one.supported for one in status.monitors)
    assert set(status.counted) <= set(status.incomplete)


def test_a_monitor_that_is_not_there_is_not_complete_either() -> None:
    found = bits("00000000").find("catalyst")
    assert found is not None
    assert found.complete is None
    assert bits("00000000").find("boost pressure") is None


# --- cleared lately -------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["status", "stored", "permanent", "warm_ups", "distance_km"])
def test_what_was_not_read_makes_it_unknown_not_clean(name: str) -> None:
    found = recently_cleared(replace(LONG_AGO, **{name: None}))
    assert found.result == "unknown"
    assert len(found.missing) == 1
    assert found.missing[0] in found.why[-1]


def test_nothing_read_is_unknown() -> None:
    found = recently_cleared(Snapshot())
    assert found.result == "unknown"
    assert len(found.missing) == 5


def test_a_car_too_old_for_permanent_codes_misses_none() -> None:
    seen = replace(LONG_AGO, permanent=None, keeps_permanent=False)
    assert recently_cleared(seen).result == "no sign"


@pytest.mark.parametrize(
    ("changed", "result"),
    [
        ({"warm_ups": 5}, "sign"),
        ({"warm_ups": 6}, "no sign"),
        ({"distance_km": 159.0}, "sign"),
        ({"distance_km": 160.0}, "no sign"),
        ({"minutes": 179}, "sign"),
        ({"minutes": 180}, "no sign"),
        ({"minutes": None}, "no sign"),
        ({"status": CATALYST_OPEN}, "no sign"),
        ({"status": CATALYST_OPEN, "warm_ups": 20, "distance_km": 300.0}, "no sign"),
        ({"status": THREE_OPEN, "warm_ups": 20, "distance_km": 300.0}, "sign"),
        ({"status": THREE_OPEN, "warm_ups": 31, "distance_km": 501.0}, "no sign"),
        ({"status": THREE_OPEN, "warm_ups": 30, "distance_km": 501.0}, "sign"),
        ({"status": THREE_OPEN, "warm_ups": 31, "distance_km": 500.0}, "sign"),
        ({"status": THREE_OPEN, "warm_ups": None, "distance_km": None}, "sign"),
        ({"status": THREE_OPEN, "stored": ("P0420",)}, "no sign"),
        ({"permanent": ("P0420",), "stored": ("P0420",)}, "no sign"),
        ({"permanent": ("P0420",), "stored": ("P0171",)}, "strong sign"),
        ({"permanent": ("p0420",), "stored": ("P0420",)}, "no sign"),
        ({"permanent": ("P0420",), "stored": None}, "strong sign"),
        ({"permanent": ("P0420",), "stored": None, "status": None}, "unknown"),
        ({"permanent": ("P0420",), "stored": None, "status": bits("8107FF00")}, "unknown"),
        ({"permanent": ("P0420",), "warm_ups": None}, "strong sign"),
    ],
)
def test_from_both_sides_of_each_edge(changed: dict[str, object], result: str) -> None:
    found = recently_cleared(replace(LONG_AGO, **changed))
    assert found.result == result, found.why


def test_monitors_that_stay_open_long_after_are_said_to_be_kept_off() -> None:
    found = recently_cleared(replace(LONG_AGO, status=THREE_OPEN))
    assert "something keeps them off" in found.why[0]


def test_counters_that_do_not_agree_are_said() -> None:
    found = recently_cleared(replace(LONG_AGO, warm_ups=2))
    assert any("do not agree" in one for one in found.why)


def test_own_thresholds_are_used() -> None:
    seen = replace(LONG_AGO, warm_ups=20)
    assert recently_cleared(seen).result == "no sign"
    assert recently_cleared(seen, Thresholds(few_warm_ups=25)).result == "sign"


SNAPSHOTS = st.builds(
    Snapshot,
    status=st.none() | st.binary(min_size=4, max_size=4).map(monitor_status),
    stored=st.none() | st.lists(st.sampled_from(["P0420", "P0301"]), max_size=2).map(tuple),
    pending=st.none() | st.lists(st.sampled_from(["P0420", "P0301"]), max_size=2).map(tuple),
    permanent=st.none() | st.lists(st.sampled_from(["P0420", "P0301"]), max_size=2).map(tuple),
    warm_ups=st.none() | st.integers(0, 255),
    distance_km=st.none() | st.floats(0, 65_535),
    minutes=st.none() | st.integers(0, 65_535),
    keeps_permanent=st.booleans(),
)


@given(SNAPSHOTS)
def test_clean_needs_everything_and_no_words_accuse(seen: Snapshot) -> None:
    found = recently_cleared(seen)
    assert found.why
    assert "tamper" not in " ".join(found.why)
    if found.result == "no sign":
        needed = ["status", "stored", "warm_ups", "distance_km"]
        needed += ["permanent"] if seen.keeps_permanent else []
        assert all(getattr(seen, name) is not None for name in needed)


@given(SNAPSHOTS)
def test_reading_less_never_makes_it_cleaner(seen: Snapshot) -> None:
    before = recently_cleared(seen).result
    for one in fields(Snapshot):
        if one.name != "keeps_permanent":
            less = recently_cleared(replace(seen, **{one.name: None})).result
            # minutes are optional, and so are permanent codes on a car too old to keep them:
            # without them, what only they showed is not seen
            optional = one.name == "minutes"
            optional |= one.name == "permanent" and not seen.keeps_permanent
            assert less != "no sign" or before == "no sign" or optional


# --- a mend proved --------------------------------------------------------------------------------

AT_CLEAR = Snapshot(status=CATALYST_OPEN, stored=(), pending=(), warm_ups=0, distance_km=0.0)
DRIVEN = replace(LONG_AGO, warm_ups=6, distance_km=120.0)


def proof(**changed: object) -> str:
    """Return the result for a catalyst mended, cleared and driven, but for what is changed."""
    given_: dict[str, object] = {
        "codes": ["P0420"],
        "monitor": "catalyst",
        "at_clear": AT_CLEAR,
        "now": DRIVEN,
    }
    return mend_proved(**{**given_, **changed}).result  # type: ignore[arg-type]


def test_proved_when_the_owning_monitor_ran_after_the_clear_and_nothing_came_back() -> None:
    assert proof() == "proved"
    assert proof(codes=["p0420", "P0430"]) == "proved"


def test_a_clear_alone_proves_nothing() -> None:
    just_cleared = replace(AT_CLEAR, permanent=())
    assert proof(now=just_cleared) == "not proved"


def test_the_light_going_out_alone_proves_nothing() -> None:
    assert CATALYST_OPEN.light_on is False
    assert proof(now=replace(DRIVEN, status=CATALYST_OPEN)) == "not proved"
    assert proof(at_clear=None) == "unknown"


@pytest.mark.parametrize("name", ["stored", "pending", "permanent"])
def test_the_code_back_in_any_list_is_not_proved(name: str) -> None:
    assert proof(now=replace(DRIVEN, **{name: ("P0420",)})) == "not proved"
    assert proof(now=replace(DRIVEN, **{name: ("P0455",)})) == "proved"


def test_an_open_bypass_blocks_it() -> None:
    assert proof(bypass_open=True) == "not proved"
    found = mend_proved(["P0420"], "catalyst", AT_CLEAR, DRIVEN, bypass_open=True)
    assert "by-passed" in found.why[0]


@pytest.mark.parametrize("name", ["status", "stored", "pending", "permanent"])
def test_a_list_not_read_leaves_it_unknown(name: str) -> None:
    assert proof(now=replace(DRIVEN, **{name: None})) == "unknown"


@pytest.mark.parametrize(
    "changed",
    [
        {"at_clear": replace(AT_CLEAR, status=None)},
        {"at_clear": replace(AT_CLEAR, status=ALL_COMPLETE)},
        {"monitor": ""},
        {"monitor": "boost pressure"},
        {"codes": []},
        {"now": replace(DRIVEN, status=bits("0007FE00"))},
        {"now": replace(DRIVEN, status=bits("8107FF00"))},
        {"now": replace(DRIVEN, status=monitor_status(bytes.fromhex("0007FF00"), 0x41))},
    ],
    ids=[
        "not read right after",
        "not reset by it",
        "no monitor owns it",
        "not on this engine",
        "no code",
        "the car has no such",
        "light on without a code read",
        "status of one drive",
    ],
)
def test_what_cannot_be_known_is_unknown(changed: dict[str, object]) -> None:
    assert proof(**changed) == "unknown"


@pytest.mark.parametrize(("name", "less"), [("warm_ups", 3), ("distance_km", 20.0)])
def test_a_second_clear_starts_it_over(name: str, less: float) -> None:
    before = replace(AT_CLEAR, warm_ups=5, distance_km=100.0)
    assert proof(at_clear=before) == "proved"
    assert proof(at_clear=before, now=replace(DRIVEN, **{name: less})) == "not proved"


def test_a_car_too_old_for_permanent_codes_can_be_proved() -> None:
    assert proof(now=replace(DRIVEN, permanent=None, keeps_permanent=False)) == "proved"


@pytest.mark.parametrize(
    ("warm_ups", "result"), [(2, "not proved"), (3, "proved"), (None, "unknown")]
)
def test_common_practice_a_misfire_has_to_stay_away_for_three_drives(
    warm_ups: int | None, result: str
) -> None:
    """A continuous monitor is complete at once; three good trips end the light: common practice."""
    now = replace(DRIVEN, warm_ups=warm_ups)
    assert proof(codes=["P0301"], monitor="misfire", now=now) == result


@given(SNAPSHOTS, SNAPSHOTS, st.booleans())
def test_proved_only_with_all_of_it(at_clear: Snapshot, now: Snapshot, bypass: bool) -> None:  # noqa: FBT001
    found = mend_proved(["P0420"], "catalyst", at_clear, now, bypass_open=bypass)
    assert found.why
    if found.result == "proved":
        assert not bypass
        assert at_clear.status is not None
        assert "catalyst" in at_clear.status.incomplete
        assert now.status is not None
        assert "catalyst" not in now.status.incomplete
        lists = [now.stored, now.pending, now.permanent or ()]
        assert all(one is not None and "P0420" not in one for one in lists)


# --- inspection gate ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("fuel", "status", "words"),
    [
        (Fuel.GASOLINE, None, "not read"),
        (Fuel.ELECTRIC, ALL_COMPLETE, "electric car"),
        (Fuel.DIESEL, ALL_COMPLETE, "spark ignition, and the fuel is diesel"),
        (Fuel.GASOLINE, bits("000FFF00"), "compression ignition, and the fuel is gasoline"),
        (Fuel.GASOLINE, bits("00000000"), "no monitor at all"),
        (Fuel.DIESEL, bits("000FFF00"), "no limit known for diesel"),
    ],
)
def test_the_gate_says_why_it_cannot_tell(
    fuel: Fuel, status: MonitorStatus | None, words: str
) -> None:
    gate = inspection_gate(2015, fuel, status, RULES)
    assert gate.result == "cannot tell"
    assert words in gate.why[0]


@pytest.mark.parametrize("fuel", [Fuel.GASOLINE, Fuel.HYBRID, Fuel.PLUG_IN_HYBRID, Fuel.GAS])
def test_whatever_has_spark_plugs_counts_as_gasoline(fuel: Fuel) -> None:
    assert inspection_gate(2015, fuel, CATALYST_OPEN, RULES).result == "passes"
    assert inspection_gate(2015, fuel, THREE_OPEN, RULES).result == "fails"


def test_from_memory_a_continuous_monitor_is_said_but_not_counted() -> None:
    gate = inspection_gate(2015, Fuel.GASOLINE, bits("0077FF01"), RULES)
    assert gate.result == "passes"
    assert gate.why == (
        "1 not complete (catalyst); may be: 1",
        "not counted, though not complete: misfire, fuel system, components",
    )


def test_a_fail_names_the_monitors_and_the_limit() -> None:
    gate = inspection_gate(2015, Fuel.GASOLINE, THREE_OPEN, RULES)
    assert gate.why == ("3 not complete (catalyst, evaporative system, oxygen sensor); 1 may be",)


def test_after_a_catalyst_code_a_car_without_that_monitor_cannot_be_told() -> None:
    rules = replace(RULES, catalyst_codes=("P0420", "P0439"))
    no_catalyst = bits("0007FE00")
    gate = inspection_gate(2015, Fuel.GASOLINE, no_catalyst, rules, failed_for=["P0420"])
    assert gate.result == "cannot tell"


def test_a_place_without_a_limit_is_refused() -> None:
    with pytest.raises(AppraiseError, match="no readiness limit is known for 'atlantis'"):
        gate_rules({}, "atlantis")


def test_a_persons_own_limit_is_read_like_the_shipped_ones() -> None:
    own = Value.model_validate(
        {
            "id": "readiness.here.gasoline",
            "label": "Here",
            "unit": "count",
            "table": {"1996": 3, "2010.secondary_air": 1, "2010.catalyst": 1},
            "kind": "own",
        }
    )
    rules = gate_rules({own.id: own}, "here")
    assert rules.gasoline == (
        Allowance(1996, 3),
        Allowance(2010, 2, ("secondary_air", "catalyst")),
    )
    assert rules.used == ("readiness.here.gasoline",)
    assert own.table == {
        "1996": Decimal(3),
        "2010.secondary_air": Decimal(1),
        "2010.catalyst": Decimal(1),
    }


@given(
    st.integers(1990, 2030),
    st.sampled_from(list(Fuel)),
    st.none() | st.binary(min_size=4, max_size=4).map(monitor_status),
)
def test_a_gate_always_says_why(year: int, fuel: Fuel, status: MonitorStatus | None) -> None:
    gate = inspection_gate(year, fuel, status, RULES)
    assert gate.why
    assert all(gate.why)
    if gate.result == "passes":
        assert status is not None
        assert status.light_on is False
        assert any(one.supported for one in status.monitors)
