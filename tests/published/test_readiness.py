"""Readiness bits, inspection limits and signs of a clear, against what is published."""

from __future__ import annotations

from types import SimpleNamespace

import pytest
from obd.decoders import status as by_library

from appraise.engine.scan.inspection import gate_rules, inspection_gate, jurisdictions
from appraise.engine.scan.monitors import MonitorStatus, monitor_status
from appraise.engine.scan.readiness import Snapshot, Thresholds, recently_cleared
from appraise.models.vehicle import Fuel
from appraise.reference.load import Reference, load_reference

LIBRARY_NAMES = {
    "misfire": "MISFIRE_MONITORING",
    "fuel system": "FUEL_SYSTEM_MONITORING",
    "components": "COMPONENT_MONITORING",
    "catalyst": "CATALYST_MONITORING",
    "heated catalyst": "HEATED_CATALYST_MONITORING",
    "evaporative system": "EVAPORATIVE_SYSTEM_MONITORING",
    "secondary air": "SECONDARY_AIR_SYSTEM_MONITORING",
    "oxygen sensor": "OXYGEN_SENSOR_MONITORING",
    "oxygen sensor heater": "OXYGEN_SENSOR_HEATER_MONITORING",
    "EGR and VVT": "EGR_VVT_SYSTEM_MONITORING",
    "NMHC catalyst": "NMHC_CATALYST_MONITORING",
    "NOx aftertreatment": "NOX_SCR_AFTERTREATMENT_MONITORING",
    "boost pressure": "BOOST_PRESSURE_MONITORING",
    "exhaust gas sensor": "EXHAUST_GAS_SENSOR_MONITORING",
    "particulate filter": "PM_FILTER_MONITORING",
}


@pytest.fixture(scope="module")
def reference() -> Reference:
    return load_reference()


SPARK = ("catalyst", "heated catalyst", "evaporative system", "secondary air", "reserved")
SPARK += ("oxygen sensor", "oxygen sensor heater", "EGR and VVT")
COMPRESSION = ("NMHC catalyst", "NOx aftertreatment", "reserved", "boost pressure", "reserved")
COMPRESSION += ("exhaust gas sensor", "particulate filter", "EGR and VVT")


def status_of(*open_: str, light: bool = False, diesel: bool = False) -> MonitorStatus:
    """Return a car that has every monitor, with those named not complete."""
    names = COMPRESSION if diesel else SPARK
    left = sum(1 << names.index(name) for name in open_)
    return monitor_status(bytes((0x80 * light, 0x0F if diesel else 0x07, 0xFF, left)))


# --- the bits -------------------------------------------------------------------------------------


def test_a_car_with_its_light_on_and_six_open_monitors() -> None:
    """Bytes of scapy's test suite, decoded by obd's bit order: 83 33 FF 63."""
    status = monitor_status(bytes.fromhex("8333FF63"))
    assert (status.light_on, status.confirmed, status.ignition) == (True, 3, "spark")
    assert status.incomplete == (
        "misfire",
        "fuel system",
        "catalyst",
        "heated catalyst",
        "oxygen sensor",
        "oxygen sensor heater",
    )
    complete = [one.name for one in status.monitors if one.complete]
    assert complete == ["evaporative system", "secondary air", "EGR and VVT"]
    assert [one.name for one in status.monitors if not one.supported] == ["components"]


def test_a_car_with_every_monitor_complete() -> None:
    """Test suite of obd: 83 07 FF 00."""
    status = monitor_status(bytes.fromhex("8307FF00"))
    assert (status.light_on, status.confirmed, status.ignition) == (True, 3, "spark")
    assert status.incomplete == ()
    assert all(one.supported for one in status.monitors)


def test_a_diesel_with_three_open_monitors() -> None:
    """Test suite of obd: 00 79 03 03."""
    status = monitor_status(bytes.fromhex("00790303"))
    assert (status.light_on, status.confirmed, status.ignition) == (False, 0, "compression")
    assert status.incomplete == ("misfire", "NMHC catalyst", "NOx aftertreatment")


def test_reserved_bits_are_no_monitors() -> None:
    """`obd` 0.7.3 lists the reserved bit of the third byte as a monitor without a name."""
    only_reserved = monitor_status(bytes.fromhex("00801010"))
    assert not any(one.supported for one in only_reserved.monitors)
    assert only_reserved.incomplete == ()
    diesel = monitor_status(bytes.fromhex("00081414"))
    assert not any(one.supported for one in diesel.monitors)
    assert all(one.name for one in (*only_reserved.monitors, *diesel.monitors))
    assert (len(only_reserved.monitors), len(diesel.monitors)) == (10, 9)


@pytest.mark.parametrize("base", [0x00, 0x07, 0x77, 0x33, 0x0F, 0x7F, 0x2A])
@pytest.mark.parametrize(("have", "left"), [(0xFF, 0x00), (0xFF, 0xFF), (0xA5, 0x5A), (0x43, 0x41)])
def test_the_open_library_reads_the_same_bits(base: int, have: int, left: int) -> None:
    """`obd` 0.7.3, decoders.status; scapy's names run the other way and are not used."""
    data = bytes((0x83, base, have, left))
    ours, theirs = (
        monitor_status(data),
        by_library([SimpleNamespace(data=bytearray(b"\x41\x01" + data))]),
    )
    assert (ours.light_on, ours.confirmed) == (theirs.MIL, theirs.DTC_count)
    assert ours.ignition == theirs.ignition_type
    for one in ours.monitors:
        their = getattr(theirs, LIBRARY_NAMES[one.name])
        assert (one.supported, one.name) == (their.available, one.name)
        if one.supported:
            assert one.complete == their.complete


# --- inspection -----------------------------------------------------------------------------------

TWO = ("evaporative system", "catalyst")
THREE = (*TWO, "oxygen sensor")


@pytest.mark.parametrize(
    ("where", "year", "open_", "result"),
    [
        # New York DMV on the EPA guidance: 1996-2000 up to two, 2001 and newer up to one
        ("us_guidance", 1996, TWO, "passes"),
        ("us_guidance", 2000, TWO, "passes"),
        ("us_guidance", 2000, THREE, "fails"),
        ("us_guidance", 2001, TWO[:1], "passes"),
        ("us_guidance", 2001, TWO, "fails"),
        ("us_guidance", 2020, (), "passes"),
        ("us_guidance", 1995, (), "cannot tell"),
        # a shop's page on Arizona: rejected above two, above one
        ("arizona", 2000, TWO, "passes"),
        ("arizona", 2000, THREE, "fails"),
        ("arizona", 2001, TWO[:1], "passes"),
        ("arizona", 2001, TWO, "fails"),
        # Missouri DNR: fails at three or more, two or more
        ("missouri", 2000, TWO, "passes"),
        ("missouri", 2000, THREE, "fails"),
        ("missouri", 2001, TWO[:1], "passes"),
        ("missouri", 2001, TWO, "fails"),
    ],
)
def test_pass_limits(
    reference: Reference, where: str, year: int, open_: tuple[str, ...], result: str
) -> None:
    rules = gate_rules(reference.values, where)
    gate = inspection_gate(year, Fuel.GASOLINE, status_of(*open_), rules)
    assert gate.result == result, gate.why


@pytest.mark.parametrize(
    ("year", "open_", "result"),
    [
        (1997, (), "passes"),
        (2009, (), "passes"),
        (2009, ("boost pressure",), "fails"),
        (2010, ("boost pressure",), "passes"),
        (2010, ("boost pressure", "particulate filter"), "fails"),
        (1996, (), "cannot tell"),
    ],
)
def test_a_missouri_diesel(
    reference: Reference, year: int, open_: tuple[str, ...], result: str
) -> None:
    """Missouri DNR: diesel 1997-2009 fails at one or more, 2010 and newer at two or more."""
    rules = gate_rules(reference.values, "missouri")
    gate = inspection_gate(year, Fuel.DIESEL, status_of(*open_, diesel=True), rules)
    assert gate.result == result, gate.why


@pytest.mark.parametrize("code", ["P0420", "P0430", "P0439"])
def test_after_a_catalyst_code_missouri_wants_the_catalyst_complete(
    reference: Reference, code: str
) -> None:
    """Missouri DNR: after P0420 to P0439, whatever the count."""
    rules = gate_rules(reference.values, "missouri")
    open_ = status_of("catalyst")
    assert inspection_gate(2005, Fuel.GASOLINE, open_, rules).result == "passes"
    assert inspection_gate(2005, Fuel.GASOLINE, open_, rules, failed_for=[code]).result == "fails"
    other = status_of("evaporative system")
    assert inspection_gate(2005, Fuel.GASOLINE, other, rules, failed_for=[code]).result == "passes"


@pytest.mark.parametrize("code", ["P0419", "P0440", "P0171", "C0430"])
def test_after_another_code_the_count_decides(reference: Reference, code: str) -> None:
    rules = gate_rules(reference.values, "missouri")
    gate = inspection_gate(2005, Fuel.GASOLINE, status_of("catalyst"), rules, failed_for=[code])
    assert gate.result == "passes"


@pytest.mark.parametrize(
    ("fuel", "year", "open_", "result"),
    [
        (Fuel.GASOLINE, 1999, ("catalyst",), "passes"),
        (Fuel.GASOLINE, 1999, TWO, "fails"),
        (Fuel.GASOLINE, 2000, ("evaporative system",), "passes"),
        (Fuel.GASOLINE, 2000, ("catalyst",), "fails"),
        (Fuel.HYBRID, 2008, ("evaporative system",), "passes"),
        (Fuel.DIESEL, 2006, ("particulate filter",), "fails"),
        (Fuel.DIESEL, 2007, ("particulate filter", "NMHC catalyst"), "passes"),
        (Fuel.DIESEL, 2007, ("boost pressure",), "fails"),
        (Fuel.DIESEL, 1997, (), "cannot tell"),
    ],
)
def test_from_memory_what_california_lets_be_open(
    reference: Reference, fuel: Fuel, year: int, open_: tuple[str, ...], result: str
) -> None:
    rules = gate_rules(reference.values, "california")
    status = status_of(*open_, diesel=fuel is Fuel.DIESEL)
    assert inspection_gate(year, fuel, status, rules).result == result


@pytest.mark.parametrize(
    ("year", "permanent", "warm_ups", "km", "result"),
    [
        (2010, ("P0420",), 14, 400.0, "fails"),
        (2010, ("P0420",), 15, 321.8, "fails"),
        (2010, ("P0420",), 15, 321.87, "passes"),
        (2009, ("P0420",), 0, 0.0, "passes"),
        (2010, (), 0, 0.0, "passes"),
        (2010, ("P0420",), None, 400.0, "cannot tell"),
        (2010, None, 20, 400.0, "cannot tell"),
    ],
)
def test_a_permanent_code_in_california(
    reference: Reference,
    year: int,
    permanent: tuple[str, ...] | None,
    warm_ups: int | None,
    km: float,
    result: str,
) -> None:
    """Bureau of Automotive Repair, spring 2019; 15 warm-ups and 200 miles from a shop's page."""
    rules = gate_rules(reference.values, "california")
    now = Snapshot(permanent=permanent, warm_ups=warm_ups, distance_km=km)
    gate = inspection_gate(year, Fuel.GASOLINE, status_of(), rules, now=now)
    assert gate.result == result, gate.why


def test_the_light_commanded_on_fails(reference: Reference) -> None:
    """40 CFR 85.2207."""
    rules = gate_rules(reference.values, "us_guidance")
    gate = inspection_gate(2015, Fuel.GASOLINE, status_of(light=True), rules)
    assert gate.result == "fails"
    assert gate.why == ("the malfunction light is commanded on",)


def test_the_status_of_one_drive_is_not_what_is_inspected(reference: Reference) -> None:
    """40 CFR 85.2222: the check is mode 01, PID 01."""
    rules = gate_rules(reference.values, "us_guidance")
    drive = monitor_status(bytes.fromhex("0007FF00"), 0x41)
    assert inspection_gate(2015, Fuel.GASOLINE, drive, rules).result == "cannot tell"


@pytest.mark.parametrize("where", ["us_guidance", "arizona", "missouri", "california"])
def test_a_monitor_that_the_car_does_not_have_never_counts(
    reference: Reference, where: str
) -> None:
    """All not complete, none but the first supported."""
    status = monitor_status(bytes.fromhex("000401FF"))
    assert status.incomplete == ("catalyst",)
    rules = gate_rules(reference.values, where)
    none_open = monitor_status(bytes.fromhex("000401FE"))
    now = Snapshot(permanent=())
    assert inspection_gate(2015, Fuel.GASOLINE, none_open, rules, now=now).result == "passes"


def test_the_limits_name_where_they_are_from(reference: Reference) -> None:
    assert jurisdictions(reference.values) == ("arizona", "california", "missouri", "us_guidance")
    for name in jurisdictions(reference.values):
        for value_id in gate_rules(reference.values, name).used:
            assert reference.value(value_id).sources


# --- cleared lately -------------------------------------------------------------------------------

LATELY = Snapshot(
    status=status_of("catalyst", "evaporative system", "oxygen sensor"),
    stored=(),
    pending=(),
    permanent=(),
    warm_ups=3,
    distance_km=40.0,
)


def test_open_monitors_and_small_counters_are_a_sign_and_no_accusation() -> None:
    """New York DMV: not ready after a clear or a battery disconnect, and no proof of intent."""
    found = recently_cleared(LATELY)
    assert found.result == "sign"
    words = " ".join(found.why)
    assert "cleared or battery disconnected" in words
    assert "tamper" not in words


def test_a_permanent_code_without_its_stored_one_is_the_strongest_sign() -> None:
    """Bureau of Automotive Repair: clearing does not remove a permanent code."""
    seen = Snapshot(
        status=status_of(),
        stored=(),
        pending=(),
        permanent=("P0420",),
        warm_ups=255,
        distance_km=9000.0,
    )
    found = recently_cleared(seen)
    assert found.result == "strong sign"
    assert "permanent code P0420 without a stored one" in found.why[0]


def test_everything_complete_long_after_a_clear_is_no_sign() -> None:
    seen = Snapshot(
        status=status_of(),
        stored=(),
        pending=(),
        permanent=(),
        warm_ups=255,
        distance_km=20_000.0,
    )
    assert recently_cleared(seen).result == "no sign"


def test_common_practice_the_usual_thresholds() -> None:
    """5 warm-ups, 160 km, 30 warm-ups and 500 km; from memory, no source."""
    usual = Thresholds()
    assert (usual.few_warm_ups, usual.few_km) == (5, 160)
    assert (usual.many_warm_ups, usual.many_km) == (30, 500)
