"""The shipped reference data: whole, and what a mechanic would say it is."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator
from datetime import date
from decimal import Decimal
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest

import appraise.engine
from appraise.engine.catalog.prices import PriceList
from appraise.engine.catalog.values import Lookup
from appraise.engine.draws.streams import Streams
from appraise.engine.faults.car import car_faults
from appraise.engine.faults.care import faults_of_share, share_of_faults
from appraise.engine.faults.rates import faults_of_car
from appraise.engine.repair.repair import Tally, repair
from appraise.models.case import Case
from appraise.models.jobs import Job, PartFamily, System
from appraise.models.ranges import Range
from appraise.models.vehicle import Distance, Fuel, PriceClass, TitleBrand, ValveDrive, Vehicle
from appraise.reference.load import Reference, load_reference, shipped_list
from appraise.reference.schema import NEEDS_SOURCE, Brands, Kind, MakerPlaces, Pids, Provenance

FEWEST_JOBS = 180

HOURS_BY_SYSTEM: dict[System, tuple[float, float]] = {
    System.BRAKES: (0.2, 6.0),
    System.STEERING: (0.2, 6.0),
    System.SUSPENSION: (0.5, 7.0),
    System.TIRES_AND_WHEELS: (0.2, 2.5),
    System.ENGINE_MECHANICAL: (0.3, 32.0),
    System.ENGINE_MANAGEMENT: (0.15, 3.0),
    System.INDUCTION_AND_BOOST: (0.3, 8.5),
    System.FUEL: (0.1, 18.0),
    System.IGNITION: (0.2, 3.0),
    System.COOLING: (0.1, 12.0),
    System.EXHAUST: (0.2, 15.0),
    System.TRANSMISSION: (0.5, 9.0),
    System.CLUTCH: (0.5, 8.0),
    System.DRIVELINE: (0.5, 7.0),
    System.DIFFERENTIAL: (0.2, 8.0),
    System.ELECTRICAL: (0.15, 6.5),
    System.LIGHTS: (0.2, 2.5),
    System.CLIMATE: (0.3, 10.0),
    System.RESTRAINTS: (0.3, 13.0),
    System.GLASS: (0.15, 5.0),
    System.BODY_AND_PAINT: (0.25, 12.0),
    System.INTERIOR: (0.15, 14.0),
    System.HYBRID_AND_ELECTRIC: (0.15, 10.0),
    System.FLUIDS_AND_SERVICE: (0.1, 2.5),
    System.PREPARATION: (0.1, 5.0),
}
"""Least and most likely hours of one job with its access on a mid-size car; common practice.

The most is a V8 diesel's for fuel, a chain-driven water pump's for cooling, a deleted diesel's for
exhaust, a flooded cabin's for interior.
"""

DEAR = {
    "body_and_paint.frame_by_specialist",
    "body_and_paint.whole_car_painted",
    "engine_mechanical.rebuilt_engine",
    "engine_mechanical.short_block",
    "exhaust.diesel_emissions_put_back",
    "fuel.diesel_injector_set_eight",
    "fuel.diesel_pump_debris_eight",
    "hybrid_and_electric.battery_pack_new",
    "hybrid_and_electric.electric_pack_module",
    "hybrid_and_electric.electric_pack_used",
    "hybrid_and_electric.plug_in_pack_used",
    "transmission.automatic_overhauled",
    "transmission.cvt_rebuilt",
    "transmission.rebuilt_automatic",
}
"""Jobs that take more than 2,000 in parts and bought-in work on a mid-size car."""

FLUIDS = (
    "coolant",
    "brake fluid",
    "engine oil",
    "transmission fluid",
    "transmission oil",
    "steering",
)
FLUID_TWICE = {
    ("fluids_and_service.neglected_engine_oil", "engine oil"),  # two fills, one after the other
    ("transmission.torque_converter", "transmission fluid"),  # what the pan fill leaves empty
    ("transmission.used_automatic", "transmission fluid"),  # the same
}


def lists() -> tuple[Provenance, ...]:
    """Return what a standard fixes."""
    return (
        shipped_list("maker_places", MakerPlaces),
        shipped_list("title_brands", Brands),
        shipped_list("pids", Pids),
    )


def test_the_lists_name_sources_that_are_there(reference: Reference) -> None:
    named = {one.id for listed in lists() for one in listed.sources}
    assert named
    assert named <= set(reference.sources)


def jobs_of(reference: Reference) -> list[Job]:
    """Return the catalog's jobs."""
    return [entry.job for entry in reference.jobs.values()]


def paid_access(reference: Reference, access: Iterable[str]) -> set[str]:
    """Return the groups that are paid: those that no other of them includes."""
    wanted = set(access)
    covered = {inner for one in wanted for inner in reference.access[one].covers}
    return wanted - covered


def total_hours(reference: Reference, *job_ids: str) -> float:
    """Return the likely hours of jobs done together on a mid-size car, each access once."""
    jobs = [reference.jobs[job_id].job for job_id in job_ids]
    groups = paid_access(reference, (one for job in jobs for one in job.access))
    hours = [job.hours.likely for job in jobs]
    hours += [reference.access[one].hours.likely for one in groups]
    return float(sum(hours))


def total_parts(reference: Reference, job_id: str) -> float:
    """Return the likely price of a job's parts and bought-in work on a mid-size car."""
    return float(
        sum(part.price.likely * part.quantity for part in reference.jobs[job_id].job.parts)
    )


def closure(reference: Reference, job_id: str) -> list[str]:
    """Return the jobs that follow from a job, and from those, without itself."""
    out: list[str] = []
    waiting = list(reference.jobs[job_id].job.follows)
    while waiting:
        current = waiting.pop(0)
        if current not in out:
            out.append(current)
            waiting += reference.jobs[current].job.follows
    return out


@pytest.fixture(scope="module")
def reference() -> Reference:
    return load_reference()


# --- whole, and as it was -------------------------------------------------------------------------


def test_there_are_enough_jobs_and_every_system_has_some(reference: Reference) -> None:
    assert len(reference.jobs) >= FEWEST_JOBS
    assert {one.system for one in jobs_of(reference)} == set(System)


def test_a_job_stands_in_the_file_of_its_system_and_is_named_after_it(
    reference: Reference,
) -> None:
    astray = [
        entry.job.id
        for entry in reference.jobs.values()
        if entry.file != f"jobs/{entry.job.system.value}.toml"
        or not entry.job.id.startswith(f"{entry.job.system.value}.")
    ]
    assert astray == []


def test_no_two_jobs_share_a_label(reference: Reference) -> None:
    labels = Counter(job.label.casefold() for job in jobs_of(reference))
    assert [label for label, count in labels.items() if count > 1] == []


def test_the_whole_catalog_is_in_one_currency_of_one_year(reference: Reference) -> None:
    assert {(one.currency, one.base_year) for one in reference.jobs.values()} == {("USD", 2025)}


# --- provenance -----------------------------------------------------------------------------------


def test_every_catalog_file_says_that_it_is_our_estimate(
    reference: Reference,
) -> None:
    for entry in reference.jobs.values():
        assert entry.provenance.kind is Kind.COMMON_PRACTICE
        assert "our estimate, no published source" in entry.provenance.note
    jobs = list((files("appraise.reference") / "data" / "jobs").iterdir())
    assert len(jobs) == len(System)
    for one in jobs:
        first = one.read_text(encoding="utf-8").splitlines()[0]
        assert "common practice; our estimate, no published source" in first, one.name


def test_nothing_that_ships_calls_itself_a_persons_own(reference: Reference) -> None:
    kinds = {value.kind for value in reference.values.values()}
    kinds |= {area.kind for area in reference.areas.values()}
    kinds |= {caution.kind for caution in reference.cautions.values()}
    assert Kind.OWN not in kinds


def test_a_caution_of_law_standard_or_statistic_names_its_source(reference: Reference) -> None:
    bare = [
        caution.id
        for caution in reference.cautions.values()
        if caution.kind in NEEDS_SOURCE and not caution.sources
    ]
    assert bare == []


def test_every_source_is_cited_or_stands_for_a_rule_that_a_model_follows(
    reference: Reference,
) -> None:
    """The two laws that the lists of areas and of severities follow are named by the models.

    Textbooks are named by the docstrings of the formulas that follow them.
    """
    groups: list[Any] = [reference.values, reference.areas, reference.cautions]
    groups += [reference.limits, reference.symptoms, reference.code_groups, reference.checks]
    cited = {
        citation.id for group in groups for entry in group.values() for citation in entry.sources
    }
    cited |= {one.id for listed in lists() for one in listed.sources}
    engine = Path(appraise.engine.__file__).parent
    formulas = "\n".join(one.read_text(encoding="utf-8") for one in engine.rglob("*.py"))
    cited |= {one for one in reference.sources if f"\n    {one}\n" in formulas}
    assert set(reference.sources) - cited == {"cfr-16-455", "directive-2014-45"}


def test_the_rates_of_areas_are_those_of_unprepared_cars(reference: Reference) -> None:
    """DEKRA, SafetyCheck 2015: brakes 32 %, running gear and body 46 %, electrical 42 % of cars.

    Areas of a group share its rate out as chances of cars kept as differently as they are
    (`care.shape`); average age 11.9 years.
    """
    rates = {area.id.value: float(area.rate) for area in reference.areas.values()}
    shape = float(reference.values["care.shape"].value or 0)

    def together(*names: str) -> float:
        return share_of_faults(sum(faults_of_share(rates[one], shape) for one in names), shape)

    assert together("brakes") == pytest.approx(0.32, abs=1e-9)
    gear = ("frame_and_body", "underside", "steering", "suspension", "tires", "wheels")
    assert together(*gear) == pytest.approx(0.46, abs=0.02)
    assert together("electrical", "glass_and_lights") == pytest.approx(0.42, abs=0.02)


# --- ranges ---------------------------------------------------------------------------------------


def ranges_of(reference: Reference) -> Iterator[tuple[str, Range]]:
    """Yield every range of the catalog, with where it stands."""
    for job in jobs_of(reference):
        yield f"{job.id}: hours", job.hours
        yield from ((f"{job.id}: {part.label}", part.price) for part in job.parts)
    for group in reference.access.values():
        yield f"{group.id}: hours", group.hours
    for tool in reference.tools.values():
        yield f"{tool.id}: price", tool.price


def test_one_time_in_ten_is_neither_a_hair_nor_a_world_away(reference: Reference) -> None:
    """High is 1.3 to 4 times likely, and likely 1.25 to 3 times low: common practice."""
    odd = [
        where
        for where, given in ranges_of(reference)
        if not given.is_fixed
        and not (1.3 <= given.high / given.likely <= 4 and 1.25 <= given.likely / given.low <= 3)
    ]
    assert odd == []


def test_surprises_are_mostly_dear_ones(reference: Reference) -> None:
    """Rust and seized bolts lengthen a job more than luck shortens it: common practice."""
    ranges = [given for _, given in ranges_of(reference)]
    right = sum(given.high * given.low >= given.likely**2 for given in ranges)
    assert right / len(ranges) > 0.9


# --- hours, access and what follows ---------------------------------------------------------------


def test_the_total_hours_of_every_job_are_sane_for_its_system(reference: Reference) -> None:
    odd = []
    for job in jobs_of(reference):
        least, most = HOURS_BY_SYSTEM[job.system]
        total = total_hours(reference, job.id)
        if not least - 1e-9 <= total <= most:
            odd.append((job.id, total))
    assert odd == []


def test_what_a_larger_access_includes_is_listed_to_the_bottom(reference: Reference) -> None:
    """Access is not looked up through several levels, so each group lists all it includes."""
    missing = [
        (group.id, inner, deeper)
        for group in reference.access.values()
        for inner in group.covers
        for deeper in reference.access[inner].covers
        if deeper not in group.covers
    ]
    assert missing == []


def test_no_access_includes_itself_or_takes_less_than_what_it_includes(
    reference: Reference,
) -> None:
    for group in reference.access.values():
        assert group.id not in group.covers
        for inner in group.covers:
            assert group.hours.likely >= reference.access[inner].hours.likely, (group.id, inner)


def test_every_access_tool_and_caution_is_used(reference: Reference) -> None:
    jobs = jobs_of(reference)
    access = {one for job in jobs for one in job.access}
    access |= {one for group in reference.access.values() for one in group.covers}
    cautions = {one for job in jobs for one in job.cautions}
    assert set(reference.access) == access
    assert set(reference.tools) == {one for job in jobs for one in job.tools}
    assert set(reference.cautions) == cautions


def test_nothing_follows_from_itself_by_a_circle(reference: Reference) -> None:
    circles = [job_id for job_id in reference.jobs if job_id in closure(reference, job_id)]
    assert circles == []


def test_no_fluid_is_bought_twice_for_one_job(reference: Reference) -> None:
    """A job that fills up what it lost is not followed by the job that fills it up again."""

    def fluids(job_id: str) -> set[str]:
        return {
            fluid
            for part in reference.jobs[job_id].job.parts
            if part.family is PartFamily.FLUID
            for fluid in FLUIDS
            if fluid in part.label
        }

    twice = {
        (job_id, fluid)
        for job_id in reference.jobs
        for later in closure(reference, job_id)
        for fluid in fluids(job_id) & fluids(later)
    }
    assert twice == FLUID_TWICE


def test_what_follows_can_be_done_on_some_car_that_can_have_the_job(reference: Reference) -> None:
    """A job for diesels alone is not followed by one for gasoline cars alone."""
    clashes = []
    for job in jobs_of(reference):
        for later_id in job.follows:
            later = reference.jobs[later_id].job
            for mine, theirs in (
                (job.fuels, later.fuels),
                (job.transmissions, later.transmissions),
                (job.drives, later.drives),
            ):
                if mine and theirs and not set(mine) & set(theirs):
                    clashes.append((job.id, later_id))
    assert clashes == []


# --- cautions and flags ---------------------------------------------------------------------------


def test_a_job_carries_the_cautions_of_its_access(reference: Reference) -> None:
    """Among them: a raised car, air bags, high voltage, fuel, springs."""
    silent = [
        (job.id, caution)
        for job in jobs_of(reference)
        for access in job.access
        for caution in reference.access[access].cautions
        if caution not in job.cautions
    ]
    assert silent == []


@pytest.mark.parametrize(
    ("words", "caution"),
    [
        (("car_raised", "wheels_off", "transmission_out", "engine_out", "subframe"), "raised_car"),
        (("dashboard", "steering_wheel", "headliner", "front_seat_out"), "air_bags"),
        (("high_voltage",), "high_voltage"),
        (("fuel_tank",), "fuel"),
        (("exhaust_manifold_off", "exhaust_down"), "exhaust_hot"),
        (("transmission_out", "engine_out", "differential_out", "transfer_case_out"), "lifting"),
    ],
)
def test_an_access_that_can_hurt_says_so(
    reference: Reference, words: tuple[str, ...], caution: str
) -> None:
    groups = [one for one in reference.access.values() if any(word in one.id for word in words)]
    assert groups
    assert [one.id for one in groups if caution not in one.cautions] == []


@pytest.mark.parametrize(
    ("system", "caution"),
    [(System.RESTRAINTS, "air_bags"), (System.HYBRID_AND_ELECTRIC, "high_voltage")],
)
def test_every_job_of_a_dangerous_system_warns_of_it(
    reference: Reference, system: System, caution: str
) -> None:
    silent = [
        job.id for job in jobs_of(reference) if job.system is system and caution not in job.cautions
    ]
    assert silent == []


def test_emission_jobs_and_only_they_carry_the_emission_caution(reference: Reference) -> None:
    odd = [
        job.id
        for job in jobs_of(reference)
        if job.emission_control != ("emission_control" in job.cautions)
    ]
    assert odd == []


@pytest.mark.parametrize(
    "pattern",
    [
        r"^exhaust\.(catalyst|particulate|egr|scr|nox|secondary_air)",
        r"oxygen_sensor",
        r"^fuel\.(purge|canister|evap)",
    ],
)
def test_whatever_cleans_the_exhaust_or_holds_vapor_is_an_emission_control(
    reference: Reference, pattern: str
) -> None:
    found = [job for job in jobs_of(reference) if re.search(pattern, job.id)]
    assert found
    assert [job.id for job in found if not job.emission_control] == []


def test_a_safety_job_says_prove_the_brakes_or_leave_nothing_inoperative(
    reference: Reference,
) -> None:
    told = {"safety_system", "brakes_tested"}
    silent = [
        job.id for job in jobs_of(reference) if job.safety_system and not told & set(job.cautions)
    ]
    assert silent == []


@pytest.mark.parametrize("system", [System.BRAKES, System.STEERING, System.RESTRAINTS])
def test_all_of_brakes_steering_and_restraints_is_a_safety_system(
    reference: Reference, system: System
) -> None:
    assert [
        job.id for job in jobs_of(reference) if job.system is system and not job.safety_system
    ] == []


def test_a_job_for_a_shop_alone_has_its_bill_and_no_teardown_or_tools(
    reference: Reference,
) -> None:
    odd = [
        job.id
        for job in jobs_of(reference)
        if job.shop_only
        and (
            job.access
            or job.tools
            or not any(part.family is PartFamily.SERVICE for part in job.parts)
        )
    ]
    assert odd == []


def test_high_voltage_jobs_are_for_cars_that_have_it(reference: Reference) -> None:
    wrong = [
        job.id
        for job in jobs_of(reference)
        if job.system is System.HYBRID_AND_ELECTRIC
        and (not job.fuels or {"gasoline", "diesel", "gas"} & {fuel.value for fuel in job.fuels})
    ]
    assert wrong == []


# --- what a mechanic would say: common practice, a mid-size car -----------------------------------


@pytest.mark.parametrize(
    ("job_id", "least", "most"),
    [
        ("fluids_and_service.engine_oil_and_filter", 0.4, 1.0),
        ("brakes.front_pads_and_rotors", 0.9, 2.2),
        ("brakes.rear_pads_and_rotors", 1.0, 2.5),
        ("electrical.battery", 0.2, 0.6),
        ("electrical.alternator", 1.0, 2.5),
        ("electrical.starter", 1.0, 2.5),
        ("engine_mechanical.engine_mounts", 0.8, 1.3),
        ("engine_mechanical.valve_cover_gasket", 0.8, 2.0),
        ("engine_mechanical.timing_belt_set", 3.0, 5.5),
        ("engine_mechanical.timing_chain_set", 6.0, 10.0),
        ("engine_mechanical.head_gasket", 6.0, 16.0),
        ("engine_mechanical.used_engine", 11.0, 18.0),
        ("cooling.thermostat_and_housing", 0.6, 1.6),
        ("cooling.radiator", 1.5, 3.0),
        ("clutch.kit", 4.5, 7.5),
        ("transmission.used_automatic", 5.0, 9.0),
        ("suspension.front_struts", 2.2, 3.8),
        ("suspension.front_wheel_bearing", 1.5, 3.0),
        ("driveline.front_axle_shaft", 1.0, 2.2),
        ("induction_and_boost.turbocharger_rebuilt", 3.0, 6.5),
        ("climate.heater_core", 6.5, 11.0),
        ("restraints.clock_spring", 0.6, 1.5),
        ("electrical.window_regulator", 0.8, 1.8),
        ("ignition.spark_plugs", 0.4, 1.0),
        ("engine_mechanical.valve_stem_seals", 4.5, 16.0),
        ("engine_mechanical.rear_crank_seal_automatic", 5.0, 13.0),
        ("engine_mechanical.lifters_pushrod_eight", 11.0, 20.0),
        ("fuel.diesel_injector_set_eight", 5.0, 12.0),
        ("fuel.diesel_pump_debris_eight", 12.0, 25.0),
        ("exhaust.egr_cooler_diesel_eight", 5.0, 9.0),
    ],
)
def test_common_practice_hours(
    reference: Reference, job_id: str, least: float, most: float
) -> None:
    assert least <= total_hours(reference, job_id) <= most


@pytest.mark.parametrize(
    ("job_id", "least", "most"),
    [
        ("brakes.front_pads_and_rotors", 100, 170),
        ("electrical.alternator", 140, 260),
        ("electrical.battery", 110, 200),
        ("clutch.kit", 130, 260),
        ("engine_mechanical.used_engine", 900, 2200),
        ("transmission.used_automatic", 500, 1200),
        ("engine_mechanical.head_gasket", 180, 420),
        ("engine_mechanical.timing_belt_set", 60, 160),
        ("suspension.wheel_alignment", 80, 150),
        ("tires_and_wheels.set_of_tires", 380, 700),
        ("glass.windshield", 220, 450),
        ("fluids_and_service.engine_oil_and_filter", 30, 70),
        ("engine_mechanical.lifters_pushrod_eight", 450, 1300),
        ("exhaust.scr_catalyst", 1200, 3800),
        ("exhaust.scr_pump", 300, 1300),
        ("transmission.rebuilt_automatic", 2600, 4500),
        ("transmission.cvt_rebuilt", 3000, 5000),
        ("transmission.automatic_overhauled", 3500, 6500),
        ("restraints.side_deployment", 400, 1400),
        ("body_and_paint.one_panel_painted", 350, 1050),
    ],
)
def test_common_practice_parts(
    reference: Reference, job_id: str, least: float, most: float
) -> None:
    assert least <= total_parts(reference, job_id) <= most


@pytest.mark.parametrize(
    ("build", "job_id", "offered"),
    [
        (None, "engine_mechanical.timing_belt_set_with_water_pump", True),
        (ValveDrive.BELT, "engine_mechanical.timing_belt_set_with_water_pump", True),
        (ValveDrive.CHAIN, "engine_mechanical.timing_belt_set_with_water_pump", False),
        (ValveDrive.BELT, "cooling.water_pump_in_timing_case", False),
        (ValveDrive.CHAIN, "cooling.water_pump_in_timing_case", True),
    ],
)
def test_common_practice_a_remedy_is_for_an_engine_built_like_this_one(
    reference: Reference, build: ValveDrive | None, job_id: str, *, offered: bool
) -> None:
    """A chain turns no pump that the belt set brings along."""
    car = Vehicle(
        make="Any",
        model="car",
        model_year=2013,
        fuel=Fuel.GASOLINE,
        valve_drive=build,
        odometer=Distance(value=Decimal(120_000), unit="mi"),
    )
    case = Case(id="any", title="Any", appraised_on=date(2025, 7, 1), vehicle=car)
    lookup = Lookup(reference)
    pump = faults_of_car(case, lookup)["cooling.water_pump"]
    assert any(job_id in jobs for jobs, _ in pump.remedies) == offered


def test_common_practice_only_whole_units_packs_and_resprays_pass_two_thousand(
    reference: Reference,
) -> None:
    assert {job_id for job_id in reference.jobs if total_parts(reference, job_id) > 2000} == DEAR


def test_common_practice_what_the_trade_charges_a_deposit_on(reference: Reference) -> None:
    for job_id in (
        "brakes.front_caliper",
        "electrical.alternator",
        "electrical.starter",
        "steering.rack_hydraulic_rebuilt",
        "steering.pump",
        "induction_and_boost.turbocharger_rebuilt",
        "fuel.diesel_injector_set",
        "climate.compressor",
        "engine_mechanical.used_engine",
        "engine_mechanical.rebuilt_engine",
        "transmission.rebuilt_automatic",
    ):
        assert any(part.core > 0 for part in reference.jobs[job_id].job.parts), job_id


@pytest.mark.parametrize(
    ("first", "second", "saved"),
    [
        ("clutch.kit", "engine_mechanical.rear_crank_seal", 5.0),
        ("brakes.front_pads_and_rotors", "suspension.front_lower_arm", 0.3),
        ("engine_mechanical.head_gasket", "engine_mechanical.timing_belt_set", 2.9),
        ("engine_mechanical.used_engine", "clutch.kit", 5.0),
        ("climate.evaporator", "restraints.dash_panel_used", 6.5),
        ("cooling.radiator", "cooling.hoses", 0.85),
        ("engine_mechanical.timing_belt_set", "engine_mechanical.front_crank_seal", 1.55),
    ],
)
def test_common_practice_while_in_there(
    reference: Reference, first: str, second: str, saved: float
) -> None:
    """Two jobs behind one teardown take less than apart, by what they share."""
    apart = total_hours(reference, first) + total_hours(reference, second)
    together = total_hours(reference, first, second)
    assert apart - together == pytest.approx(saved, abs=0.001)


@pytest.mark.parametrize(
    "job_id",
    [
        "suspension.front_lower_arm",
        "suspension.front_struts",
        "suspension.lower_ball_joint",
        "suspension.rear_arm",
        "suspension.front_subframe_used",
        "steering.outer_tie_rod",
        "steering.rack_electric_used",
        "body_and_paint.structural_straightening",
    ],
)
def test_common_practice_an_alignment_follows(reference: Reference, job_id: str) -> None:
    assert "suspension.wheel_alignment" in closure(reference, job_id)


@pytest.mark.parametrize(
    ("job_id", "later"),
    [
        ("brakes.front_caliper", "brakes.bleed"),
        ("brakes.line_section", "brakes.bleed"),
        ("cooling.water_pump", "cooling.coolant_fill_and_bleed"),
        ("engine_mechanical.head_gasket", "fluids_and_service.engine_oil_and_filter"),
        ("engine_mechanical.cylinder_head_used", "engine_mechanical.head_gasket"),
        ("climate.condenser", "climate.evacuate_and_charge"),
        ("clutch.slave_cylinder", "clutch.bleed"),
        ("transmission.valve_body", "transmission.fluid_and_filter"),
        ("steering.pump", "steering.bleed_power_steering"),
        ("restraints.clock_spring", "restraints.clear_and_check"),
        ("glass.windshield_with_camera", "glass.camera_calibration"),
        ("fluids_and_service.neglected_services", "fluids_and_service.engine_oil_and_filter"),
    ],
)
def test_common_practice_what_was_opened_is_filled_bled_or_checked(
    reference: Reference, job_id: str, later: str
) -> None:
    assert later in closure(reference, job_id)


@pytest.mark.parametrize("family", [family.value for family in PartFamily])
def test_common_practice_a_dearer_class_has_dearer_parts(reference: Reference, family: str) -> None:
    table = reference.value(f"parts.class_factor.{family}").table
    assert table is not None
    order = [PriceClass.SMALL, PriceClass.MID_SIZE, PriceClass.LARGE, PriceClass.PREMIUM]
    prices = [table[one.value] for one in [*order, PriceClass.PERFORMANCE]]
    assert prices == sorted(prices)
    assert table[PriceClass.MID_SIZE.value] == 1


def test_common_practice_a_worse_title_mark_costs_more(reference: Reference) -> None:
    likely = {}
    for brand in TitleBrand:
        given = reference.value(f"brand.{brand.value}").range
        assert given is not None
        likely[brand] = given.likely
    assert likely[TitleBrand.CLEAR] == 1
    assert all(factor < 1 for brand, factor in likely.items() if brand is not TitleBrand.CLEAR)
    worse = [TitleBrand.PARTS_ONLY, TitleBrand.FLOOD_DAMAGE, TitleBrand.SALVAGE]
    worse += [TitleBrand.REBUILT, TitleBrand.HAIL_DAMAGE]
    assert [likely[one] for one in worse] == sorted(likely[one] for one in worse)


def test_common_practice_a_look_from_underneath_finds_more_than_a_glance(
    reference: Reference,
) -> None:
    for area in reference.areas.values():
        found = {look.value: chance for look, chance in area.found.items()}
        assert found["glance"] <= found["close"] <= found["measured"]
        assert found["measured"] < 1


# --- what an unlooked car hides -------------------------------------------------------------------


def unlooked(reference: Reference, price_class: str, age: int) -> Tally:
    """Return what hides in a car of that age at 10,000 miles a year that nobody has looked at."""
    case = Case.model_validate(
        {
            "id": "unlooked",
            "title": "Nobody has looked",
            "appraised_on": "2026-06-30",
            "vehicle": {
                "make": "Any",
                "model": "Car",
                "model_year": 2026 - age,
                "price_class": price_class,
                "odometer": {"value": str(10_000 * age), "unit": "mi"},
            },
            "draws": 4000,
        }
    )
    lookup = Lookup(reference)
    prices = PriceList.of(case, lookup)
    streams = Streams(case.seed, case.draws)
    car = car_faults(case, streams, lookup)
    return repair(case, car, streams, prices, lookup).total


@pytest.mark.parametrize(
    ("price_class", "age", "parts", "hours"),
    [
        ("mid_size", 5, (120, 400), (1.2, 4.0)),
        ("mid_size", 10, (350, 800), (3.5, 8.0)),
        ("mid_size", 15, (550, 1300), (6.0, 13.0)),
        ("premium", 10, (500, 1300), (4.5, 11.0)),
        ("small", 10, (300, 700), (3.0, 8.0)),
    ],
)
def test_common_practice_what_a_trader_allows_for_a_car_nobody_looked_at(
    reference: Reference,
    price_class: str,
    age: int,
    parts: tuple[float, float],
    hours: tuple[float, float],
) -> None:
    """Expected parts in 2025 dollars and own hours, over all areas."""
    tally = unlooked(reference, price_class, age)
    assert parts[0] <= tally.money.mean() <= parts[1]
    assert hours[0] <= tally.hours.mean() <= hours[1]


def test_an_older_car_hides_more_and_a_dearer_one_hides_dearer(reference: Reference) -> None:
    ages = [float(unlooked(reference, "mid_size", age).money.mean()) for age in (5, 10, 15)]
    assert ages == sorted(ages)
    order = ("small", "mid_size", "large", "premium", "performance")
    classes = [float(unlooked(reference, one, 10).money.mean()) for one in order]
    assert classes == sorted(classes)
