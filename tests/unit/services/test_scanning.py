"""A pasted text of raw answers: codes, counters, a recent clear, inspections and a mend's proof."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from appraise import services
from appraise.engine.scan.readiness import Thresholds
from appraise.errors import AppraiseError
from appraise.models.vehicle import Fuel, Vehicle
from appraise.reference.load import Reference, load_reference
from appraise.services.inspection.scanning import Scan, judge_mend, read_scan, thresholds_of

OPEN = "41 01 00 07 E5 21"
"""Light off, no codes; catalyst and oxygen sensor not complete of five (bits of the last byte)."""
DONE = "41 01 00 07 E5 00"
CLEARED = f"{OPEN}\n43 00\n47 00\n4A 01 04 20\n41 30 02\n41 31 00 14"
"""Right after a clear: permanent P0420, 2 warm-ups, 20 km."""
DRIVEN = f"{DONE}\n43 00\n47 00\n4A 00\n41 30 28\n41 31 03 20"
"""40 warm-ups and 800 km on, nothing stored, pending or permanent."""


@pytest.fixture(scope="module")
def reference() -> Reference:
    return load_reference()


@pytest.fixture(scope="module")
def car() -> Vehicle:
    """Return a gasoline car of 2014."""
    return services.load_case_file("auction-engine-light").vehicle


def scan(text: str, car: Vehicle, reference: Reference, **changes: object) -> Scan:
    return read_scan(text, car.model_copy(update=changes), reference)


def lists(found: Scan) -> dict[str, tuple[str, ...]]:
    return {one.mode: one.codes for one in found.codes}


def gate(found: Scan, name: str) -> str:
    return dict(found.gates)[name].result


# --- one paste ------------------------------------------------------------------------------------


def test_one_paste_holds_modes_01_03_07_and_0a_in_any_order(
    car: Vehicle, reference: Reference
) -> None:
    text = f"{OPEN}\n43 01 03 01\n47 01 01 71\n4A 01 04 20\n41 30 02\n41 31 00 14\n41 0C 0A 6B"
    for given in (text, "\n".join(reversed(text.splitlines()))):
        found = scan(given, car, reference)

        assert lists(found) == {
            "confirmed": ("P0301",),
            "pending": ("P0171",),
            "permanent": ("P0420",),
        }
        assert (found.snapshot.warm_ups, found.snapshot.distance_km) == (2, 20)
        assert found.snapshot.status is not None
        assert found.snapshot.status.counted == ("catalyst", "oxygen sensor")
        assert [one.value for one in found.readings if one.name == "engine speed"] == [666.75]


def test_a_list_that_was_not_read_is_not_an_empty_one(car: Vehicle, reference: Reference) -> None:
    found = scan(OPEN, car, reference).snapshot
    empty = scan(f"{OPEN}\n43 00", car, reference).snapshot

    assert (found.stored, found.pending, found.permanent) == (None, None, None)
    assert empty.stored == ()


def test_no_line_is_called_left_out_that_the_other_decoder_took(
    car: Vehicle, reference: Reference
) -> None:
    assert not [one for one in scan(CLEARED, car, reference).notes if "left out" in one]


@pytest.mark.parametrize("text", ["", "hello", "NO DATA"])
def test_a_text_without_any_answer_is_refused_with_what_to_paste(
    car: Vehicle, reference: Reference, text: str
) -> None:
    with pytest.raises(AppraiseError, match="no answer that can be read"):
        scan(text, car, reference)


@pytest.mark.parametrize("text", [f"{OPEN}\n43 02 04 20", "41 01 00 07 E5\n43 01 04 20"])
def test_an_answer_cut_short_beside_a_whole_one_is_told(
    car: Vehicle, reference: Reference, text: str
) -> None:
    """What was lost in copying is not lost without a word."""
    found = scan(text, car, reference)

    assert [one for one in found.notes if "not read" in one or "cut" in one or "left out" in one]


@pytest.mark.parametrize("first", ["engine", "transmission"])
def test_a_transmission_that_answers_too_does_not_hide_the_engines_monitors(
    car: Vehicle, reference: Reference, first: str
) -> None:
    """The transmission has only the continuous monitor of its components, and that is complete."""
    lines = [f"7E8 06 {OPEN}", "7E9 06 41 01 00 04 00 00"]
    text = "\n".join(lines if first == "engine" else lines[::-1])
    found = scan(text, car, reference)

    assert found.snapshot.status is not None
    assert found.snapshot.status.counted == ("catalyst", "oxygen sensor")
    assert gate(found, "us_guidance") == "fails"


def test_a_car_before_2010_is_not_blamed_for_having_no_permanent_codes(
    car: Vehicle, reference: Reference
) -> None:
    """They came in with model year 2010 (from memory)."""
    text = "\n".join(one for one in DRIVEN.splitlines() if not one.startswith("4A"))

    assert scan(text, car, reference, model_year=2009).cleared.result == "no sign"
    assert scan(text, car, reference, model_year=2010).cleared.result == "unknown"


# --- cleared not long ago -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "result"),
    [
        (CLEARED, "strong sign"),
        (CLEARED.replace("4A 01 04 20", "4A 00"), "sign"),
        (DRIVEN, "no sign"),
        (DONE, "unknown"),
        (f"{OPEN}\n43 00\n4A 00\n41 30 28\n41 31 03 20", "no sign"),
    ],
    ids=["permanent alone", "few warm-ups", "all ready", "counters unread", "cannot run"],
)
def test_a_recent_clear_shows_in_counters_monitors_and_permanent_codes(
    car: Vehicle, reference: Reference, text: str, result: str
) -> None:
    """Many warm-ups with monitors still open is no recent clear: they cannot run (from memory)."""
    assert scan(text, car, reference).cleared.result == result


def own(tmp_path: Path, name: str, value: int) -> Reference:
    file = tmp_path / "own.toml"
    file.write_text(
        f'[[value]]\nid = "cleared.{name}"\nlabel = "Own"\nunit = "count"\nvalue = {value}\n'
        'kind = "own"\nchecked_on = 2026-11-25\n',
        encoding="utf-8",
    )
    return services.reference_values(file)


def test_the_thresholds_are_those_of_the_reference_values(reference: Reference) -> None:
    assert thresholds_of(reference) == Thresholds()


def test_an_own_threshold_changes_what_is_few(
    car: Vehicle, reference: Reference, tmp_path: Path
) -> None:
    six = f"{DONE}\n43 00\n4A 00\n41 30 06\n41 31 03 20"
    changed = own(tmp_path, "few_warm_ups", 6)

    assert thresholds_of(changed) == replace(Thresholds(), few_warm_ups=6)
    assert scan(six, car, reference).cleared.result == "no sign"
    assert scan(six, car, changed).cleared.result == "sign"


def test_an_own_threshold_changes_when_a_mend_counts_as_driven_enough(
    car: Vehicle, reference: Reference, tmp_path: Path
) -> None:
    driven = DRIVEN.replace("41 30 28", "41 30 04")
    before = scan(CLEARED, car, reference)

    def result(values: Reference) -> str:
        ((_, proof),) = judge_mend(["P0301"], before, scan(driven, car, values), values)
        return proof.result

    assert result(reference) == "proved"
    assert result(own(tmp_path, "good_drives", 5)) == "not proved"


# --- inspections ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("model_year", "result"), [(1999, "passes"), (2000, "passes"), (2001, "fails")]
)
def test_two_monitors_open_pass_to_2000_and_fail_from_2001(
    car: Vehicle, reference: Reference, model_year: int, result: str
) -> None:
    """New York DMV, Missouri DNR: up to two not ready for 1996 to 2000, one for 2001 and newer."""
    found = scan(OPEN, car, reference, model_year=model_year)

    assert {gate(found, one) for one in ("us_guidance", "arizona", "missouri")} == {result}


def test_everything_complete_passes_everywhere(car: Vehicle, reference: Reference) -> None:
    assert {one.result for _, one in scan(DRIVEN, car, reference).gates} == {"passes"}


@pytest.mark.parametrize(
    ("counters", "result"),
    [("41 30 0E\n41 31 03 20", "fails"), ("41 30 0F\n41 31 01 42", "passes")],
)
def test_a_permanent_code_fails_in_california_until_driven_enough(
    car: Vehicle, reference: Reference, counters: str, result: str
) -> None:
    """California BAR, spring 2019; not with 15 warm-ups and 200 miles: 322 km, 14 are too few."""
    found = scan(f"{DONE}\n43 00\n4A 01 04 20\n{counters}", car, reference)

    assert gate(found, "california") == result
    assert gate(found, "us_guidance") == "passes"


def test_the_light_on_fails_everywhere(car: Vehicle, reference: Reference) -> None:
    """40 CFR 85.2207: commanded on for a code."""
    lit = DRIVEN.replace(DONE, "41 01 81 07 E5 00").replace("43 00", "43 01 04 20")

    assert {one.result for _, one in scan(lit, car, reference).gates} == {"fails"}


def test_no_inspection_is_judged_for_another_ignition_than_the_cars_fuel(
    car: Vehicle, reference: Reference
) -> None:
    found = scan(DRIVEN, car, reference, fuel=Fuel.DIESEL)

    assert {one.result for _, one in found.gates} == {"cannot tell"}


# --- a mend ---------------------------------------------------------------------------------------


def test_a_mend_is_proved_only_with_both_looks(car: Vehicle, reference: Reference) -> None:
    before, now = scan(CLEARED, car, reference), scan(DRIVEN, car, reference)

    ((code, proof),) = judge_mend(["P0420"], before, now, reference)
    ((_, alone),) = judge_mend(["P0420"], None, now, reference)

    assert (code, proof.result) == ("P0420", "proved")
    assert alone.result == "unknown"
    assert "not read right after the clear" in " ".join(alone.why)


@pytest.mark.parametrize(
    ("now", "result", "why"),
    [
        (CLEARED, "not proved", "P0420 is permanent"),
        (DRIVEN.replace("47 00", "47 01 04 20"), "not proved", "P0420 is pending"),
        (DRIVEN.replace(DONE, OPEN), "not proved", "catalyst has not run to its end"),
        (DRIVEN.replace("41 30 28", "41 30 01"), "not proved", "count went back"),
        (DRIVEN.replace("\n4A 00", ""), "unknown", "permanent codes were not read"),
        (DRIVEN.replace("\n47 00", ""), "unknown", "pending codes were not read"),
    ],
)
def test_a_clear_alone_or_a_look_with_gaps_proves_no_mend(
    car: Vehicle, reference: Reference, now: str, result: str, why: str
) -> None:
    before = scan(CLEARED, car, reference)
    ((_, proof),) = judge_mend(["P0420"], before, scan(now, car, reference), reference)

    assert proof.result == result
    assert why in " ".join(proof.why)


def test_a_monitor_that_was_not_seen_reset_proves_nothing(
    car: Vehicle, reference: Reference
) -> None:
    before = scan(CLEARED.replace(OPEN, DONE), car, reference)
    ((_, proof),) = judge_mend(["P0420"], before, scan(DRIVEN, car, reference), reference)

    assert proof.result == "unknown"
    assert "catalyst was not seen reset" in " ".join(proof.why)


def test_a_code_that_no_monitor_owns_is_to_be_proved_by_measuring(
    car: Vehicle, reference: Reference
) -> None:
    before, now = scan(CLEARED, car, reference), scan(DRIVEN, car, reference)
    proofs = dict(judge_mend(["B1234", "P0420"], before, now, reference))

    assert proofs["B1234"].result == "unknown"
    assert "by measuring" in " ".join(proofs["B1234"].why)
    assert proofs["P0420"].result == "proved"
