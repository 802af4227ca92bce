"""The examples as layouts 2 and 3 wrote them open with the same figures as those of today."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from appraise import services
from appraise.models.case import SCHEMA_VERSION
from appraise.models.vehicle import Transmission
from appraise.store.renamed import IN_4, OUTCOMES

OLD = sorted(Path(__file__).parent.glob("layout_[23]/*.json"))
REFERENCE = services.reference_values()
TODAY = {
    "auction-engine-lamp": "auction-engine-light",
    "dusk-kerbside": "dusk-curbside",
    "estate-half-mended": "wagon-half-repaired",
    "hybrid-battery-lamp": "hybrid-battery-light",
}
NAMES_SIGNS = {"auction-engine-light", "hybrid-battery-light", "premium-overheats"}
"""Examples that named causes of their own up to layout 4; older files keep those."""


@pytest.mark.parametrize("path", OLD, ids=[f"{one.parent.name}-{one.stem}" for one in OLD])
def test_it_opens_and_its_figures_are_those_of_today(path: Path) -> None:
    old = services.read_case(path.read_text())
    new = services.load_case_file(TODAY.get(path.stem, path.stem))

    assert old.schema_version == SCHEMA_VERSION
    if new.id in NAMES_SIGNS:  # what is behind them is worked out since then
        assert [one.causes for one in old.findings if one.causes]
        return
    old = old.model_copy(update={"deal": new.deal})  # an asking price may have moved since
    before, after = (services.appraise_case(one, REFERENCE) for one in (old, new))
    for name in ("walk_away_price", "repair", "resale", "outcome"):
        mine, theirs = getattr(before, name), getattr(after, name)
        if name == "repair":
            assert [one.money for one in mine.by_finding] == [
                one.money for one in theirs.by_finding
            ]
            assert (mine.money, mine.own_hours) == (theirs.money, theirs.own_hours)
        else:
            assert mine == theirs
    assert not [one for one in before.problems if "does not exist" in one.message]


@pytest.mark.parametrize(
    ("check", "outcome"),
    [
        ("disc_runout", "disc out"),
        ("carpet_press", "damp rear or boot"),
        ("gearbox_fluid", "burnt or flakes"),
        ("bag_lamp_check", "lights and goes out"),
    ],
)
def test_what_a_check_showed_is_still_one_of_its_outcomes(check: str, outcome: str) -> None:
    """A result keeps the words of its check: with others it could not be reckoned with."""
    document = json.loads(OLD[0].read_text())
    document["findings"][0]["results"] = [{"check": check, "outcome": outcome}]
    (result,) = services.read_case(json.dumps(document)).results

    assert result.outcome in REFERENCE.checks[result.check].outcomes


def test_every_renamed_outcome_is_one_that_there_is_and_no_old_one_is() -> None:
    known = {outcome for check in REFERENCE.checks.values() for outcome in check.outcomes}

    assert set(OUTCOMES.values()) <= known
    assert not set(OUTCOMES) & known


def test_every_id_of_layout_4_is_one_that_there_is_and_no_older_one_is() -> None:
    tables = (
        REFERENCE.jobs,
        REFERENCE.access,
        REFERENCE.tools,
        REFERENCE.causes,
        REFERENCE.symptoms,
        REFERENCE.checks,
        REFERENCE.limits,
        REFERENCE.cautions,
    )
    known = {name for table in tables for name in table}
    known |= set(Transmission)

    assert set(IN_4.values()) <= known
    assert not (set(IN_4) - {"suspension.front_dampers"}) & known
    assert len(OLD) == 12
