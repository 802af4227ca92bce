"""Names that layouts 3 and 4 gave to older ids: the words of American trade English."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from typing import Any

__all__ = ["renamed_in_3", "renamed_in_4", "results_of_the_car"]

WHOLE = {
    "body.boot_seal": "body.trunk_seal",
    "body.sill_rust": "body.rocker_rust",
    "body_and_paint.boot_leak_seal": "body_and_paint.trunk_leak_seal",
    "body_and_paint.sill_welded": "body_and_paint.rocker_welded",
    "body_and_paint.wing_used": "body_and_paint.fender_used",
    "body_and_paint.wing_used_and_painted": "body_and_paint.fender_used_and_painted",
    "boot_trim_out": "trunk_trim_out",
    "frame_and_body.water_in_boot": "frame_and_body.water_in_trunk",
    "interior.boot_carpet": "interior.trunk_carpet",
    "wing_liner_off": "fender_liner_off",
}
PARTS = {
    "bonnet": "hood",
    "catalogue": "catalog",
    "centre": "center",
    "colour": "color",
    "gearbox": "transmission",
    "headlamp": "headlight",
    "immobiliser": "immobilizer",
    "kerb": "curb",
    "labour": "labor",
    "lamp": "light",
    "litre": "liter",
    "mould": "mold",
    "odour": "odor",
    "petrol": "gasoline",
    "silencer": "muffler",
    "tyre": "tire",
    "vapour": "vapor",
    "windscreen": "windshield",
}
OUTCOMES = {
    "alike all round": "alike all around",
    "arm bush torn": "arm bushing torn",
    "between engine and gearbox": "between engine and transmission",
    "blocked or mouldy": "blocked or moldy",
    "boot or glass edge": "trunk or glass edge",
    "burnt or flakes": "burned or flakes",
    "catalyst rattles": "converter rattles",
    "changes with bends": "changes in curves",
    "damp rear or boot": "damp rear or trunk",
    "disc out": "rotor out",
    "earth or feed bad": "ground or feed bad",
    "earth side drops": "ground side drops",
    "fine grey paste": "fine gray paste",
    "joint, pipe or valve": "joint, line or valve",
    "lamp out, no difference": "light out, no difference",
    "lamp stays on with both": "light stays on with both",
    "leaks at pipe or silencer": "leaks at pipe or muffler",
    "lever out or soft": "shifter out or soft",
    "lights and goes out": "comes on and goes out",
    "never lights": "never comes on",
    "no pinking at all": "no pinging at all",
    "one gear crunches or jumps out": "one gear grinds or jumps out",
    "one or more sprayed": "one or more repainted",
    "pins burnt or latch fails": "pins burned or latch fails",
    "pipe scaled or wet": "line scaled or wet",
    "rear arm or beam bush torn": "rear arm or beam bushing torn",
    "right, lamp stays": "right, light stays",
    "same in bends, by road surface": "same in curves, by road surface",
    "scuttle backs up": "cowl backs up",
    "scuttle or drain": "cowl or drain",
    "silencer rattles or flakes": "muffler rattles or flakes",
    "solid fuel": "clear fuel",
    "stuck, or lamp stays": "stuck, or light stays",
    "turns, lamps dim a little": "turns, lights dim a little",
    "two neighbours": "two neighbors",
    "two neighbours low": "two neighbors low",
    "tyre out": "tire out",
    "wet at a gearbox shaft or pipe": "wet at a transmission shaft or line",
    "wet, or gaiter torn": "wet, or boot torn",
    "whirrs fast": "whirs fast",
}
"""What a check showed is kept in the words of the check."""
IN_AN_ID = re.compile("|".join(sorted(PARTS, key=len, reverse=True)).replace("lamp", "(?<!c)lamp"))
IN_4 = {
    "accessories.air_con_noise": "accessories.ac_noise",
    "accessories.air_con_smells": "accessories.ac_smells",
    "accessories.air_con_warm": "accessories.ac_warm",
    "ball_joint_splitter": "ball_joint_separator",
    "body.panel_refitted": "body.panel_reinstalled",
    "body_and_paint.bumper_sprayed": "body_and_paint.bumper_painted",
    "body_and_paint.fuel_flap": "body_and_paint.fuel_door",
    "body_and_paint.one_panel_sprayed": "body_and_paint.one_panel_painted",
    "body_and_paint.panel_filled_and_sprayed": "body_and_paint.panel_filled_and_painted",
    "body_and_paint.roof_lacquer": "body_and_paint.roof_clear_coat",
    "body_and_paint.scuttle_drain_cleared": "body_and_paint.cowl_drain_cleared",
    "body_and_paint.spot_spray": "body_and_paint.spot_painted",
    "body_and_paint.tailgate_struts": "body_and_paint.liftgate_struts",
    "body_and_paint.tailgate_used": "body_and_paint.liftgate_used",
    "body_and_paint.tailgate_used_and_painted": "body_and_paint.liftgate_used_and_painted",
    "body_and_paint.touch_in": "body_and_paint.touch_up",
    "body_and_paint.two_panels_sprayed": "body_and_paint.two_panels_painted",
    "body_and_paint.underseal": "body_and_paint.undercoating",
    "body_and_paint.undertray": "body_and_paint.splash_shield",
    "body_and_paint.wheel_arch_liner": "body_and_paint.fender_liner",
    "body_and_paint.wheel_arch_welded": "body_and_paint.wheel_well_welded",
    "body_and_paint.whole_car_sprayed": "body_and_paint.whole_car_painted",
    "both_rear_dampers_out": "both_rear_shocks_out",
    "brake_pipe_flaring_tool": "brake_line_flaring_tool",
    "brake_pipes_look": "brake_lines_look",
    "brakes.abs_earth_and_fuse": "brakes.abs_ground_and_fuse",
    "brakes.clean_after_standing": "brakes.clean_after_sitting",
    "brakes.disc_thickness": "brakes.rotor_thickness",
    "brakes.front_pads_and_discs": "brakes.front_pads_and_rotors",
    "brakes.judder": "brakes.shake",
    "brakes.pipe": "brakes.line",
    "brakes.pipe_section": "brakes.line_section",
    "brakes.pipes_to_rear": "brakes.lines_to_rear",
    "brakes.rear_discs": "brakes.rear_rotors",
    "brakes.rear_pads_and_discs": "brakes.rear_pads_and_rotors",
    "brakes.rusty_from_standing": "brakes.rusty_from_sitting",
    "brakes.stone_guard": "brakes.dust_shield",
    "brakes_proved": "brakes_tested",
    "bush_press_set": "bushing_press_set",
    "clear_pipe": "clear_hose",
    "climate.heater_matrix": "climate.heater_core",
    "climate.heater_matrix_from_the_side": "climate.heater_core_from_the_side",
    "climate.pipe": "climate.line",
    "clutch.kit_and_flywheel_skimmed": "clutch.kit_and_flywheel_resurfaced",
    "clutch.kit_and_twin_mass_flywheel": "clutch.kit_and_dual_mass_flywheel",
    "clutch.twin_mass_flywheel": "clutch.dual_mass_flywheel",
    "cooling.core_plug": "cooling.freeze_plug",
    "cooling.hose_clip": "cooling.hose_clamp",
    "damper_look": "shock_look",
    "differential.mount_bushes": "differential.mount_bushings",
    "disc_lip": "rotor_lip",
    "disc_runout": "rotor_runout",
    "door_card_off": "door_panel_off",
    "door_loom_flex": "door_harness_flex",
    "driveline.propeller_shaft": "driveline.driveshaft",
    "driveline.propeller_shaft_rebuilt": "driveline.driveshaft_rebuilt",
    "driveline.propeller_shaft_used": "driveline.driveshaft_used",
    "earth_bridge": "ground_jumper",
    "electrical.aerial": "electrical.antenna",
    "electrical.door_loom": "electrical.door_harness",
    "electrical.door_loom_repaired": "electrical.door_harness_repaired",
    "electrical.earth_point": "electrical.ground_point",
    "electrical.earth_point_cleaned": "electrical.ground_point_cleaned",
    "electrical.engine_loom_used": "electrical.engine_harness_used",
    "electrical.flat_overnight": "electrical.dead_overnight",
    "electrical.flat_overnight_hybrid": "electrical.dead_overnight_hybrid",
    "electrical.immobilizer_aerial": "electrical.immobilizer_antenna",
    "electrical.loom_chafed": "electrical.harness_chafed",
    "electrical.main_earth": "electrical.main_ground",
    "electrical.reversing_camera": "electrical.backup_camera",
    "electrical.tailgate_dead": "electrical.liftgate_dead",
    "electrical.tailgate_lock": "electrical.liftgate_lock",
    "electrical.tailgate_loom_repaired": "electrical.liftgate_harness_repaired",
    "electrical.towing_socket_wiring": "electrical.trailer_connector_wiring",
    "electrical.washer_jets_and_pipes": "electrical.washer_nozzles_and_hoses",
    "electrical.wiper_spindles_freed": "electrical.wiper_pivots_freed",
    "electrical.wiring_loom_repaired": "electrical.wiring_harness_repaired",
    "engine.overrun_pop": "engine.deceleration_pop",
    "engine.pinking": "engine.pinging",
    "engine_mechanical.big_end_bearings": "engine_mechanical.rod_bearings",
    "engine_mechanical.crank_pulley_damper": "engine_mechanical.harmonic_balancer",
    "engine_mechanical.short_engine": "engine_mechanical.short_block",
    "exhaust.blows": "exhaust.leaks",
    "exhaust.flexible_joint": "exhaust.flex_pipe",
    "fluids_and_service.levels_topped_up": "fluids_and_service.levels_topped_off",
    "front_drive_shaft_out": "front_axle_shaft_out",
    "fuel.gas_system_service": "fuel.lpg_cng_system_service",
    "fuel.hose_and_clips": "fuel.hose_and_clamps",
    "fuel.thirsty": "fuel.uses_too_much",
    "glass.rear_heater_element": "glass.rear_defroster_grid",
    "glass.splinters_cleared": "glass.broken_glass_cleared",
    "headlining_down": "headliner_down",
    "ignition.leads_and_cap": "ignition.plug_wires_and_cap",
    "induction_and_boost.inlet_port_carbon_clean": "induction_and_boost.intake_port_carbon_clean",
    "induction_and_boost.turbocharger_oil_pipes": "induction_and_boost.turbocharger_oil_lines",
    "inlet_port_look": "intake_port_look",
    "interior.door_card_fabric": "interior.door_panel_fabric",
    "interior.door_card_used": "interior.door_panel_used",
    "interior.gear_knob": "interior.shift_knob",
    "interior.headlining_recovered": "interior.headliner_recovered",
    "interior.headlining_used": "interior.headliner_used",
    "judder_by_brake": "shake_by_brake",
    "light_earth": "light_ground",
    "lights.bulb_holder_and_earth": "lights.bulb_holder_and_ground",
    "lights.day_running_light": "lights.daytime_running_light",
    "lights.discharge_bulbs": "lights.hid_bulbs",
    "lights.door_mirror_indicator": "lights.door_mirror_turn_signal",
    "lights.earth": "lights.ground",
    "lights.high_level_brake_light": "lights.third_brake_light",
    "lights.number_plate_lights": "lights.license_plate_lights",
    "lights.rear_light_gasket": "lights.tail_light_gasket",
    "lights.rear_light_new": "lights.tail_light_new",
    "lights.rear_light_used": "lights.tail_light_used",
    "preparation.handbook_pack": "preparation.owners_manual_pack",
    "preparation.number_plate_surround": "preparation.license_plate_frame",
    "preparation.photos_and_advert": "preparation.photos_and_listing",
    "preparation.roadworthiness_inspection": "preparation.safety_or_emissions_inspection",
    "preparation.valeting_shop": "preparation.detailed_by_shop",
    "preparation.viewings": "preparation.showings",
    "preparation.wheel_trims": "preparation.wheel_covers",
    "prop_shaft_out": "driveshaft_out",
    "propeller_shaft_hand": "driveshaft_hand",
    "pry_bushes": "pry_bushings",
    "radio_surround_out": "radio_trim_out",
    "range_against_lever": "range_against_shifter",
    "rule.disc_runout": "rule.rotor_runout",
    "rule.disc_variation": "rule.rotor_variation",
    "scuttle_off": "cowl_off",
    "steering.idler_and_drop_arms": "steering.idler_and_pitman_arms",
    "steering.rack_mount_bushes": "steering.rack_mount_bushings",
    "suspension.anti_roll_bushes": "suspension.sway_bar_bushings",
    "suspension.anti_roll_links": "suspension.sway_bar_links",
    "suspension.damper_wet": "suspension.shock_wet",
    "suspension.front_anti_roll_bushes": "suspension.front_sway_bar_bushings",
    "suspension.front_anti_roll_links": "suspension.front_sway_bar_links",
    "suspension.front_dampers": "suspension.front_struts",
    "suspension.front_subframe_bushes": "suspension.front_subframe_bushings",
    "suspension.lower_arm_bushes": "suspension.lower_arm_bushings",
    "suspension.rear_anti_roll_links": "suspension.rear_sway_bar_links",
    "suspension.rear_damper_mounts": "suspension.rear_shock_mounts",
    "suspension.rear_dampers": "suspension.rear_shocks",
    "suspension.rear_trailing_arm_bushes": "suspension.rear_trailing_arm_bushings",
    "suspension.trailing_arm_bushes": "suspension.trailing_arm_bushings",
    "tailgate_trim_off": "liftgate_trim_off",
    "tires.thump_after_standing": "tires.thump_after_sitting",
    "tires.wheel_nuts_loose": "tires.lug_nuts_loose",
    "tires_and_wheels.balance_and_fit": "tires_and_wheels.mount_and_balance",
    "tires_and_wheels.locking_nuts_removed": "tires_and_wheels.locking_lug_nuts_removed",
    "transmission.clutch_judder": "transmission.clutch_chatter",
    "transmission.crunches": "transmission.grinds",
    "transmission.cvt_judder": "transmission.cvt_shudder",
    "transmission.plugs_and_earth": "transmission.plugs_and_ground",
    "transmission.shift_cable_bushes": "transmission.shift_cable_bushings",
    "transmission.sloppy_lever": "transmission.sloppy_shifter",
    "transmission.synchroniser": "transmission.synchronizer",
    "transmission.synchroniser_overhaul": "transmission.synchronizer_overhaul",
    "transmission.twin_clutch_judder": "transmission.dual_clutch_shudder",
    "transmission.twin_clutch_pack": "transmission.dual_clutch_pack",
    "transmission.twin_clutch_used": "transmission.dual_clutch_used",
    "twin_clutch": "dual_clutch",
    "twin_clutch_tool_set": "dual_clutch_tool_set",
    "undertray_off": "splash_shield_off",
    "us_570.damper_cycles": "us_570.shock_cycles",
    "us_570.damper_leak": "us_570.shock_leak",
    "us_570.disc_thickness": "us_570.rotor_thickness",
    "us_570.suspension_fixings": "us_570.suspension_fasteners",
    "us_570.wheel_nuts": "us_570.lug_nuts",
    "wheel_nuts_torque": "lug_nuts_torque",
}
"""What layout 4 renamed: whole ids, and one kind of transmission."""
ID = re.compile(r"[a-z0-9_.-]+")
OWN_WORDS = {"title", "story", "label", "note", "text", "make", "model", "variant", "name"}
"""Fields whose text a person wrote."""


def renamed_in_3(document: dict[str, Any]) -> dict[str, Any]:
    """Return a document with its ids and outcomes as layout 3 names them; its own id stays."""
    return _renamed(document, _in_3, OUTCOMES)


def renamed_in_4(document: dict[str, Any]) -> dict[str, Any]:
    """Return a document with its ids as layout 4 names them; its own id stays."""
    return _renamed(document, lambda text: IN_4.get(text, text), {})


def results_of_the_car(document: dict[str, Any]) -> dict[str, Any]:
    """Return a case with the results of checks on the car: up to layout 4 each finding had its own.

    Of a check whose result stands on several findings the last counts.
    """
    findings = document.get("findings")
    if not isinstance(findings, list) or not all(isinstance(one, dict) for one in findings):
        return document
    found = [result for one in findings for result in one.get("results", ())]
    bare = [{key: value for key, value in one.items() if key != "results"} for one in findings]
    return document | {"findings": bare} | ({"results": found} if found else {})


def _renamed(
    document: dict[str, Any], new: Callable[[str], str], outcomes: Mapping[str, str]
) -> dict[str, Any]:
    def part(value: Any, key: str) -> Any:  # noqa: ANN401 - any JSON
        if isinstance(value, dict):
            return {new(name): part(one, name) for name, one in value.items()}
        if isinstance(value, list):
            return [part(one, key) for one in value]
        if key == "outcome" and value in outcomes:
            return outcomes[value]
        if isinstance(value, str) and key not in OWN_WORDS and ID.fullmatch(value):
            return new(value)
        return value

    out: dict[str, Any] = part(document, "")
    return out | {"id": document["id"]} if "id" in document else out


def _in_3(text: str) -> str:
    return WHOLE.get(text) or IN_AN_ID.sub(lambda found: PARTS[found[0]], text)
