"""The examples as layout 2 wrote them open with the same figures as those of today."""

from __future__ import annotations

from pathlib import Path

import pytest

from appraise import services
from appraise.models.case import SCHEMA_VERSION

OLD = sorted((Path(__file__).parent / "layout_2").glob("*.json"))
REFERENCE = services.reference_values()
TODAY = {
    "auction-engine-lamp": "auction-engine-light",
    "dusk-kerbside": "dusk-curbside",
    "estate-half-mended": "wagon-half-repaired",
    "hybrid-battery-lamp": "hybrid-battery-light",
}


@pytest.mark.parametrize("path", OLD, ids=[one.stem for one in OLD])
def test_it_opens_and_its_figures_are_those_of_today(path: Path) -> None:
    old = services.read_case(path.read_text())
    new = services.load_case_file(TODAY.get(path.stem, path.stem))

    assert old.schema_version == SCHEMA_VERSION
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
