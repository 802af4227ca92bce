"""Title brands by the AAMVA D20 list, and the federal salvage test."""

from __future__ import annotations

import pytest

from appraise.engine.papers.title import TitleFacts, right_to_sell
from appraise.engine.papers.title_brands import brands, find_brand
from appraise.models.vehicle import TitleBrand

D20 = """
clear; flood damage; fire damage; hail damage; salt damage; vandalism; kit; dismantled; junk;
rebuilt; reconstructed; salvage; test vehicle; refurbished; collision; salvage retention;
prior taxi; prior police; original taxi; original police; remanufactured; gray market;
warranty return; antique;
classic; agricultural; logging; street rod; contains reissued VIN; replica; totaled; owner retained;
bond posted; memorandum copy; parts only; recovered theft; undisclosed lien; prior owner retained;
non-conformity uncorrected; non-conformity corrected; safety defect uncorrected;
safety defect corrected; VIN replaced; gray market non-compliant; gray market compliant"""
"""AAMVA D20 as used in NIEM 2.0 to 3.2, VehicleBrandCode: numbers 00 to 46 but for 15, reserved."""
ODOMETER = """odometer actual; odometer not actual; odometer tampering verified; odometer exempt;
odometer exceeds mechanical limits; odometer may be altered; odometer replaced;
odometer reading at renewal; odometer discrepancy; call title division; odometer rectified"""
"""The same, 68 to 78, said in full where the list leaves out the word."""


def names(text: str) -> list[str]:
    return [" ".join(one.split()) for one in text.split(";")]


@pytest.mark.parametrize("name", names(D20) + names(ODOMETER))
def test_every_name_of_the_list_is_known(name: str) -> None:
    found = find_brand(name)

    assert found is not None
    assert found.name == name.lower()
    assert found.means.endswith(".")
    assert not found.later


def test_the_list_is_whole() -> None:
    """45 names below 47, 11 from 68 on; export only is from AAMVA's practice guide of 2019."""
    assert len(names(D20)) == 45
    assert len(names(ODOMETER)) == 11
    now = {one.name for one in brands().values() if not one.later}
    assert now == {one.lower() for one in names(D20) + names(ODOMETER)} | {"export only"}


@pytest.mark.parametrize("mark", TitleBrand)
def test_every_mark_that_a_car_may_have_is_told(mark: TitleBrand) -> None:
    assert find_brand(mark) is not None


@pytest.mark.parametrize("number", ["46", "09", "00", "code 11"])
def test_a_number_is_no_name(number: str) -> None:
    """46 is a gray market variant in one list, a buy-back in the later one (from memory)."""
    assert find_brand(number) is None
    (problem, *_) = (
        one for one in right_to_sell(TitleFacts(brands=(number,))) if one.where == "title.brands"
    )
    assert "not its number" in problem.hint


def test_junk_has_no_value_but_parts_or_scrap() -> None:
    """49 U.S.C. 30501(4)."""
    junk = brands()["junk"]

    assert "parts or scrap" in junk.means
    assert junk.road == "not"
    (scrap,) = (one for one in right_to_sell(TitleFacts(scrap=True)) if one.where == "title.scrap")
    assert "49 U.S.C. 30501(4)" in scrap.message
