"""The shipped causes, symptoms, codes and checks: whole and sensible.

The shares are common practice without a published source, so the tests of sense hold only what a
workshop would agree on: which cause leads, which is among those behind a symptom, which is not.
"""

from __future__ import annotations

import importlib.util
import re
from collections import Counter
from collections.abc import Iterable
from decimal import Decimal
from itertools import product
from pathlib import Path

import pytest

from appraise.models.findings import Area, Severity
from appraise.models.jobs import Job
from appraise.models.vehicle import DriveWheels, Fuel, Transmission
from appraise.reference.load import Reference, load_reference
from appraise.reference.schema import Check, Kind, Link, Symptom

WEIGHTY = 20
FEWEST_SYMPTOMS = 60
FEWEST_CHECKS = 60
CODE = re.compile(r"[PBCU][0-3][0-9A-F]{3}")
Car = tuple[Fuel, Transmission, DriveWheels]
BURNS = {Fuel.GASOLINE, Fuel.DIESEL, Fuel.HYBRID, Fuel.PLUG_IN_HYBRID, Fuel.GAS}


def total(causes: Iterable[Link]) -> Decimal:
    return sum((one.share for one in causes), Decimal(0))


def behind(reference: Reference) -> dict[str, tuple[Link, ...]]:
    """Return the causes of every symptom and code group, by its id."""
    return {
        **{f"symptom {one.id}": one.causes for one in reference.symptoms.values()},
        **{f"codes {one.id}": one.causes for one in reference.code_groups.values()},
    }


def phrases(symptom: Symptom) -> tuple[str, ...]:
    return (symptom.label, *symptom.ask)


def cars() -> list[Car]:
    """Return the kinds of car there are: one speed goes with electric drive, gears with fuel."""
    return [
        (fuel, transmission, drive)
        for fuel, transmission, drive in product(Fuel, Transmission, DriveWheels)
        if (fuel is Fuel.ELECTRIC) == (transmission is Transmission.SINGLE_SPEED)
    ]


def fits(job: Job, car: Car) -> bool:
    """Return whether a job is for a kind of car."""
    fuel, transmission, drive = car
    return (
        (not job.fuels or fuel in job.fuels)
        and (not job.transmissions or transmission in job.transmissions)
        and (not job.drives or drive in job.drives)
    )


def mended_on(reference: Reference, cause_id: str, car: Car) -> bool:
    """Return whether a kind of car can have a fault: it fits, and so does one of its remedies."""
    fault, (fuel, transmission, drive) = reference.causes[cause_id], car
    allowed = (
        (not fault.fuels or fuel in fault.fuels)
        and (not fault.transmissions or transmission in fault.transmissions)
        and (not fault.drives or drive in fault.drives)
    )
    return allowed and any(
        all(fits(reference.jobs[job].job, car) for job in one.jobs) for one in fault.remedies
    )


def cars_of(symptom: Symptom) -> list[Car]:
    """Return the kinds of car that a symptom is for."""
    return [
        car
        for car in cars()
        if (not symptom.fuels or car[0] in symptom.fuels)
        and (not symptom.transmissions or car[1] in symptom.transmissions)
    ]


def chances(check: Check, cause_id: str) -> tuple[Decimal, ...]:
    """Return the chances of a check's outcomes under a cause."""
    return next(
        (one.chances for one in check.given if cause_id in one.causes),
        check.otherwise,
    )


@pytest.fixture(scope="module")
def reference() -> Reference:
    return load_reference()


# --- whole, and as it was -------------------------------------------------------------------------


def test_there_are_enough_symptoms_and_checks(reference: Reference) -> None:
    assert len(reference.symptoms) >= FEWEST_SYMPTOMS
    assert len(reference.checks) >= FEWEST_CHECKS


# --- causes ---------------------------------------------------------------------------------------


def test_no_two_causes_share_a_label(reference: Reference) -> None:
    labels = Counter(cause.label.casefold() for cause in reference.causes.values())
    assert [label for label, count in labels.items() if count > 1] == []


def test_every_job_of_a_cause_is_for_some_car(reference: Reference) -> None:
    """A cause may name one job for gasoline cars and one for diesels; each has its cars."""
    lost = [
        (cause.id, job_id)
        for cause in reference.causes.values()
        for job_id in cause.jobs
        if not any(fits(reference.jobs[job_id].job, car) for car in cars())
    ]
    assert lost == []


def test_a_remedy_names_each_job_once_and_none_that_follows_from_another_of_its_jobs(
    reference: Reference,
) -> None:
    """What follows comes along by itself, and would be paid twice."""
    twice = [
        (cause.id, job)
        for cause in reference.causes.values()
        for one in cause.remedies
        for job in one.jobs
        if one.jobs.count(job) > 1
        or any(job in reference.jobs[other].job.follows for other in one.jobs)
    ]
    assert twice == []


def test_no_fault_of_weight_has_one_cheap_remedy_alone(reference: Reference) -> None:
    """Cheap, usual, dear: a repair seldom has one way only. Blades and cleaning have."""
    alone = {
        one.id
        for one in reference.causes.values()
        if one.jobs and len(one.remedies) == 1 and one.often >= WEIGHTY
    }
    one_way = {"glass.wiper_blades", "interior.pet_smell", "clutch.dual_mass_flywheel"}
    assert alone == one_way


def test_every_area_has_faults_but_the_road_test(reference: Reference) -> None:
    """What a drive shows belongs to the area that it comes from."""
    assert set(Area) - {one.area for one in reference.causes.values()} == {Area.ROAD_TEST}


def test_a_cause_without_a_job_says_why(reference: Reference) -> None:
    silent = [one.id for one in reference.causes.values() if not one.jobs and not one.note]
    assert silent == []


def test_every_cause_stands_behind_a_symptom_or_a_code(reference: Reference) -> None:
    used = {one.cause for causes in behind(reference).values() for one in causes}
    assert sorted(set(reference.causes) - used) == []


# --- links ----------------------------------------------------------------------------------------

NOT_MET = {
    "engine.no_boost_supercharged: induction.supercharger",
    "engine.no_boost_supercharged: ignition.spark_plugs",
    "differential.whine: differential.oil_low",
    "steering.c0710: electrical.battery",
    "network.u0401: management.other_codes_first",
    "control_module.p0601: management.control_unit",
    "control_module.p0601: electrical.battery",
}
"""Shares that no words of the scale meet within a tenth: a common fault beside a rare one."""


def test_every_link_says_how_often_the_fault_shows_the_sign(reference: Reference) -> None:
    silent = [
        (sign, one.cause)
        for sign, causes in behind(reference).items()
        for one in causes
        if one.shows is None
    ]
    assert silent == []


def test_the_words_meet_the_shares_but_for_those_that_are_listed(reference: Reference) -> None:
    """The script that fits the words is the one that stands in the repository."""
    path = Path(__file__).parents[2] / ".ci" / "fit_links.py"
    spec = importlib.util.spec_from_file_location("fit_links", path)
    assert spec is not None
    assert spec.loader is not None
    fit = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(fit)
    assert {" ".join(one.split()[:2]) for one in fit.not_met(reference)} == NOT_MET


# --- symptoms -------------------------------------------------------------------------------------


def test_every_area_of_the_car_has_a_symptom(reference: Reference) -> None:
    assert {one.area for one in reference.symptoms.values()} == set(Area)


def test_a_symptom_is_named_after_its_area(reference: Reference) -> None:
    astray = [
        one.id for one in reference.symptoms.values() if not one.id.startswith(f"{one.area.value}.")
    ]
    assert astray == []


def test_every_symptom_says_that_it_is_our_estimate(
    reference: Reference,
) -> None:
    for one in reference.symptoms.values():
        assert one.kind is Kind.COMMON_PRACTICE, one.id
        assert "our estimate, no published source" in one.note, one.id


def test_the_shares_behind_a_symptom_leave_a_little_to_something_else(
    reference: Reference,
) -> None:
    odd = {
        one.id: total(one.causes)
        for one in reference.symptoms.values()
        if not Decimal("0.78") <= total(one.causes) <= Decimal("0.985")
    }
    assert odd == {}


def test_a_symptom_has_three_causes_or_more_the_commonest_first(reference: Reference) -> None:
    for one in reference.symptoms.values():
        shares = [cause.share for cause in one.causes]
        assert len(shares) >= 3, one.id
        assert shares == sorted(shares, reverse=True), one.id


def test_no_cause_is_nearly_certain_or_too_rare_to_be_worth_a_line(reference: Reference) -> None:
    odd = [
        (one.id, cause.cause)
        for one in reference.symptoms.values()
        for cause in one.causes
        if not Decimal("0.01") <= cause.share <= Decimal("0.85")
    ]
    assert odd == []


def test_a_symptom_has_two_to_five_other_wordings_and_each_leads_to_it_alone(
    reference: Reference,
) -> None:
    for one in reference.symptoms.values():
        assert 2 <= len(one.ask) <= 5, one.id
    words = Counter(
        phrase.casefold() for one in reference.symptoms.values() for phrase in phrases(one)
    )
    assert [phrase for phrase, count in words.items() if count > 1] == []


def test_a_symptom_is_explained_on_every_kind_of_car_that_it_is_for(reference: Reference) -> None:
    """For each fuel and transmission, with some driven wheels, at least half of the shares can be.

    A car without an engine, or with another transmission, cannot have all that stands there.
    """
    thin = set()
    for one in reference.symptoms.values():
        kinds = {car[:2] for car in cars_of(one)}
        assert kinds, one.id
        for fuel, transmission in kinds:
            most = max(
                total(
                    cause
                    for cause in one.causes
                    if mended_on(reference, cause.cause, (fuel, transmission, drive))
                )
                for drive in DriveWheels
            )
            if most < Decimal("0.5"):
                thin.add((one.id, fuel.value, transmission.value, str(most)))
    assert sorted(thin) == []


def test_every_cause_of_a_symptom_can_be_there_on_a_car_that_the_symptom_is_for(
    reference: Reference,
) -> None:
    astray = [
        (one.id, cause.cause)
        for one in reference.symptoms.values()
        for cause in one.causes
        if not any(mended_on(reference, cause.cause, car) for car in cars_of(one))
    ]
    assert astray == []


@pytest.mark.parametrize("area", [Area.ENGINE, Area.EXHAUST])
def test_an_electric_car_has_no_engine_and_no_exhaust(reference: Reference, area: Area) -> None:
    found = [one for one in reference.symptoms.values() if one.area is area]
    assert found
    assert [one.id for one in found if not one.fuels or not set(one.fuels) <= BURNS] == []


# --- what a workshop would say: common practice ---------------------------------------------------


def shares(reference: Reference, symptom_id: str) -> dict[str, Decimal]:
    """Return the share of each cause behind a symptom."""
    return {one.cause: one.share for one in reference.symptoms[symptom_id].causes}


@pytest.mark.parametrize(
    ("symptom", "leader"),
    [
        ("suspension.clunk", "suspension.sway_bar_links"),
        ("brakes.shake", "brakes.rotor_thickness"),
        ("brakes.pulls", "brakes.front_caliper"),
        ("brakes.abs_light", "brakes.abs_sensor"),
        ("wheels.shake_by_speed", "tires.out_of_balance"),
        ("tires.uneven_wear", "suspension.alignment"),
        ("road_test.pulls", "suspension.alignment"),
        ("differential.click_on_lock", "driveline.outer_joint"),
        ("road_test.vibration_under_load", "driveline.inner_joint"),
        ("electrical.dead_overnight", "electrical.battery"),
        ("electrical.charge_light", "electrical.alternator"),
        ("electrical.window_dead", "electrical.window_regulator"),
        ("glass_and_lights.one_light_out", "lights.bulb"),
        ("accessories.ac_warm", "climate.refrigerant_low"),
        ("accessories.blower_one_speed", "climate.blower_resistor"),
        ("air_bags.light", "restraints.seat_connector"),
        ("cooling.runs_cold", "cooling.thermostat"),
        ("cooling.pressure_when_cold", "cooling.head_gasket"),
        ("engine.hard_start_cold_diesel", "ignition.glow_plugs"),
        ("engine.shudder_at_idle", "engine.mount"),
        ("engine.high_idle", "induction.vacuum_leak"),
        ("engine.no_boost", "induction.boost_hose"),
        ("engine.oil_leak", "engine.valve_cover_gasket"),
        ("engine.rattle_cold", "engine.timing_chain"),
        ("exhaust.rattles", "exhaust.heat_shield"),
        ("exhaust.filter_light", "exhaust.filter_soot"),
        ("transmission.clutch_slips", "clutch.worn"),
        ("transmission.converter_shudder", "transmission.fluid_old"),
        ("interior.wet_carpet", "body.blocked_drain"),
        ("frame_and_body.water_in_trunk", "body.trunk_seal"),
        ("cooling.heater_cold", "climate.heater_blocked"),
        ("differential.tight_in_corners", "differential.oil_low"),
        ("engine.limp_mode", "induction.vanes_sooted"),
        ("engine.limp_mode_no_turbo", "management.throttle_body"),
        ("brakes.pad_light", "brakes.front_pads"),
    ],
)
def test_the_cause_that_a_workshop_looks_for_first_leads(
    reference: Reference, symptom: str, leader: str
) -> None:
    """Common practice."""
    found = shares(reference, symptom)
    assert max(found, key=lambda cause: found[cause]) == leader


@pytest.mark.parametrize(
    ("symptom", "causes", "at_least"),
    [
        ("engine.light_flashing", ("ignition.coil", "ignition.spark_plugs"), "0.6"),
        ("engine.oil_light", ("engine.oil_low", "engine.oil_pressure_sensor"), "0.5"),
        (
            "road_test.hum",
            ("suspension.front_wheel_bearing", "suspension.rear_wheel_bearing", "tires.cupped"),
            "0.75",
        ),
        ("cooling.hot_in_traffic", ("cooling.fan_motor", "cooling.fan_control"), "0.6"),
        (
            "transmission.stuck_in_park",
            ("electrical.brake_switch", "transmission.shift_lock"),
            "0.6",
        ),
        ("brakes.wheel_hot", ("brakes.front_caliper", "brakes.slide_pins"), "0.5"),
        ("suspension.sits_low", ("suspension.front_spring", "suspension.rear_spring"), "0.6"),
        ("brakes.grind", ("brakes.front_pads", "brakes.rear_pads"), "0.5"),
        ("suspension.clunk_rear", ("suspension.sway_bar_links",), "0.15"),
        (
            "engine.light_steady",
            ("fuel.cap", "fuel.purge_valve", "fuel.vapor_hose", "fuel.vent_valve", "fuel.canister"),
            "0.12",
        ),
        ("engine.belt_squeal", ("engine.accessory_belt", "engine.belt_tensioner_or_idler"), "0.6"),
        (
            "electrical.clicks_no_crank",
            ("electrical.battery", "electrical.battery_terminals"),
            "0.5",
        ),
    ],
)
def test_the_usual_suspects_together_explain_their_part(
    reference: Reference, symptom: str, causes: tuple[str, ...], at_least: str
) -> None:
    """Common practice."""
    found = shares(reference, symptom)
    assert sum((found[cause] for cause in causes), Decimal(0)) >= Decimal(at_least)


@pytest.mark.parametrize(
    ("symptom", "cause"),
    [
        ("engine.black_smoke", "cooling.head_gasket"),
        ("engine.black_smoke", "engine.valve_stem_seals"),
        ("engine.blue_smoke", "cooling.head_gasket"),
        ("engine.blue_smoke", "induction.air_filter"),
        ("engine.white_smoke_sweet", "induction.air_filter"),
        ("engine.white_smoke_sweet", "engine.valve_stem_seals"),
        ("engine.hard_start_cold_gasoline", "ignition.glow_plugs"),
        ("engine.hard_start_cold_diesel", "ignition.spark_plugs"),
        ("brakes.shake", "tires.out_of_balance"),
        ("wheels.shake_by_speed", "brakes.rotor_thickness"),
        ("transmission.clutch_slips", "clutch.concentric_slave"),
        ("cooling.runs_cold", "cooling.head_gasket"),
        ("steering.heavy_electric", "steering.fluid_low"),
        ("steering.heavy_hydraulic", "steering.electric_motor"),
        ("electrical.cranks_slowly", "fuel.pump_tank"),
        ("engine.cranks_no_start_gasoline", "electrical.starter"),
    ],
)
def test_what_cannot_make_a_symptom_does_not_stand_behind_it(
    reference: Reference, symptom: str, cause: str
) -> None:
    """Common practice."""
    assert cause in reference.causes
    assert cause not in shares(reference, symptom)


def test_the_head_gasket_stands_behind_sweet_white_smoke(reference: Reference) -> None:
    """Common practice: coolant burnt in the cylinders makes it."""
    assert shares(reference, "engine.white_smoke_sweet")["cooling.head_gasket"] > Decimal("0.5")


def test_a_battery_dead_overnight_is_old_drained_or_not_charged(reference: Reference) -> None:
    """Common practice: none of the three is rare enough to be left out of the look."""
    found = shares(reference, "electrical.dead_overnight")
    for cause in ("electrical.battery", "electrical.drain", "electrical.alternator"):
        assert found[cause] >= Decimal("0.1"), cause


@pytest.mark.parametrize(
    ("symptom", "dear", "least", "most"),
    [
        ("cooling.loses_coolant", "cooling.head_gasket", "0.05", "0.2"),
        ("cooling.runs_hot", "cooling.head_gasket", "0.08", "0.25"),
        ("engine.oil_light", "engine.big_end_bearings", "0.08", "0.25"),
        ("engine.uses_oil", "engine.worn_bores_and_rings", "0.08", "0.25"),
        ("engine.no_boost", "induction.turbocharger", "0.08", "0.25"),
        ("engine.misfire_under_load", "engine.valve_burnt", "0.02", "0.1"),
        ("brakes.abs_light", "brakes.abs_module", "0.05", "0.15"),
        ("transmission.slips", "transmission.worn_inside", "0.25", "0.5"),
        ("transmission.harsh_shift", "transmission.worn_inside", "0.04", "0.15"),
        ("transmission.light_stuck_gear", "transmission.worn_inside", "0.04", "0.15"),
        ("electrical.hybrid_light", "hybrid.pack_weak", "0.1", "0.35"),
        ("electrical.charge_refused", "hybrid.on_board_charger", "0.08", "0.25"),
        ("accessories.ac_warm", "climate.compressor", "0.06", "0.2"),
        ("air_bags.light", "restraints.control_unit", "0.03", "0.12"),
        ("exhaust.filter_light", "exhaust.filter_broken", "0.01", "0.08"),
        ("frame_and_body.panel_gaps", "body.structure_bent", "0.1", "0.3"),
    ],
)
def test_the_dear_cause_is_neither_the_rule_nor_out_of_the_question(
    reference: Reference, symptom: str, dear: str, least: str, most: str
) -> None:
    """Common practice: a price that assumes it is too low, a hope that forgets it too high."""
    assert Decimal(least) <= shares(reference, symptom)[dear] <= Decimal(most)


@pytest.mark.parametrize(
    "symptom",
    [
        "brakes.red_light",
        "brakes.soft_pedal",
        "brakes.long_pedal",
        "brakes.hard_pedal",
        "brakes.fluid_loss",
        "steering.free_play",
        "steering.heavy_electric",
        "tires.cracked_or_bald",
        "wheels.clunk_loose",
        "fuel.smell",
        "exhaust.fumes_inside",
        "electrical.high_voltage_light",
        "glass_and_lights.brake_lights",
    ],
)
def test_what_can_kill_is_called_dangerous(reference: Reference, symptom: str) -> None:
    """Common practice: no brakes, no steering, fire, fumes, shock, no warning to those behind."""
    assert reference.symptoms[symptom].severity is Severity.DANGEROUS


def test_paint_and_smells_are_cosmetic(reference: Reference) -> None:
    """Common practice."""
    paint = [one for one in reference.symptoms.values() if one.area is Area.PAINT]
    smells = [reference.symptoms[f"interior.{one}"] for one in ("smoke_smell", "musty")]
    assert {one.severity for one in [*paint, *smells]} == {Severity.COSMETIC}


# --- codes ----------------------------------------------------------------------------------------


def test_no_code_stands_in_two_groups(reference: Reference) -> None:
    codes = [code.code for group in reference.code_groups.values() for code in group.codes]
    assert len(codes) == len(set(codes))


def test_every_code_is_a_letter_and_four_digits_in_upper_case(reference: Reference) -> None:
    """The layout of SAE J2012: system letter, a digit from 0 to 3, three hexadecimal digits."""
    codes = [code.code for group in reference.code_groups.values() for code in group.codes]
    assert codes
    assert [code for code in codes if not CODE.fullmatch(code)] == []


def test_the_shares_behind_a_code_leave_a_little_to_something_else(reference: Reference) -> None:
    odd = {
        group.id: total(group.causes)
        for group in reference.code_groups.values()
        if not Decimal("0.85") <= total(group.causes) <= Decimal("0.97")
    }
    assert odd == {}


# --- checks ---------------------------------------------------------------------------------------


def test_every_check_tells_apart_two_causes_of_one_symptom_or_code(reference: Reference) -> None:
    idle = [
        check.id
        for check in reference.checks.values()
        if not any(
            len({chances(check, one.cause) for one in causes}) > 1
            for causes in behind(reference).values()
        )
    ]
    assert idle == []


def test_a_check_speaks_only_of_causes_that_stand_behind_something(reference: Reference) -> None:
    used = {one.cause for causes in behind(reference).values() for one in causes}
    astray = [
        (check.id, cause)
        for check in reference.checks.values()
        for given in check.given
        for cause in given.causes
        if cause not in used
    ]
    assert astray == []


def test_every_symptom_has_a_check_that_moves_its_odds(reference: Reference) -> None:
    unmoved = [
        one.id
        for one in reference.symptoms.values()
        if not any(
            len({chances(check, cause.cause) for cause in one.causes}) > 1
            for check in reference.checks.values()
        )
    ]
    assert unmoved == []
