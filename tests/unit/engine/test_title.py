"""Who may sell, what a title says against it, and what must be in hand."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from appraise.engine.papers.odometer import CHECK
from appraise.engine.papers.title import (
    HandFacts,
    TitleFacts,
    find_brand,
    in_hand,
    right_to_sell,
    same_person,
)

GOOD = TitleFacts(
    owners=("Ann Example",),
    seller="Example, Ann",
    buyer="Bo Buyer",
    assigned_to="BO BUYER",
    signed=True,
    lien="none",
    brands=("clear",),
)
STRANGER = replace(GOOD, seller="Cy Stranger")


def told(facts: TitleFacts) -> list[tuple[str, str]]:
    return [(one.where.removeprefix("title."), one.weight) for one in right_to_sell(facts)]


def words(facts: TitleFacts) -> str:
    return " ".join(one.message for one in right_to_sell(facts))


def test_a_title_in_order_has_no_problem() -> None:
    assert right_to_sell(GOOD) == ()


def test_nothing_seen_is_never_in_order() -> None:
    assert told(TitleFacts()) == [("owners", "stop"), ("signed", "note"), ("lien", "note")]


@pytest.mark.parametrize("owners", [(), ("",), (" - ",)])
def test_no_owner_s_name_stops(owners: tuple[str, ...]) -> None:
    assert ("owners", "stop") in told(replace(GOOD, owners=owners))


def test_no_seller_s_name_stops() -> None:
    assert told(replace(GOOD, seller=" ")) == [("seller", "stop")]


@pytest.mark.parametrize(
    ("one", "other", "answer"),
    [
        ("DOE, JOHN", "John Doe", "yes"),
        ("John A. Doe", "John Doe", "perhaps"),
        ("John Doe", "Jane Doe", "no"),
        ("Doe", "John Doe", "no"),
        ("Müller", "MÜLLER", "yes"),
        ("", "", "no"),
    ],
)
def test_whether_two_names_are_one_person_s(one: str, other: str, answer: str) -> None:
    assert same_person(one, other) == same_person(other, one) == answer


def test_a_name_that_only_perhaps_agrees_asks_for_an_identity_document() -> None:
    (found,) = right_to_sell(replace(GOOD, seller="Ann B. Example"))

    assert (found.where, found.weight) == ("title.seller", "warning")
    assert "identity document" in found.hint


def test_a_stranger_without_a_power_of_attorney_stops() -> None:
    assert told(STRANGER) == [("seller", "stop")]
    assert told(replace(STRANGER, power_of_attorney=False)) == [("seller", "stop")]


def test_a_power_of_attorney_is_noted_with_its_section() -> None:
    (found,) = right_to_sell(replace(STRANGER, power_of_attorney=True))

    assert (found.where, found.weight) == ("title.power_of_attorney", "note")
    assert "580.13" in found.message


@pytest.mark.parametrize(("joined", "problem"), [("or", False), ("and", True), (None, True)])
def test_several_owners_sign_unless_or_stands_between(joined: str | None, *, problem: bool) -> None:
    two = replace(GOOD, owners=("Ann Example", "Al Example"), joined=joined)

    assert (("joined", "warning") in told(two)) is problem


def test_an_unsigned_title_passes_no_ownership() -> None:
    assert told(replace(GOOD, signed=False, assigned_to="")) == [("signed", "warning")]


def test_a_title_signed_open_by_its_owner() -> None:
    opened = replace(GOOD, assigned_to="")

    assert told(opened) == [("assigned_to", "warning")]
    assert "signed open" in words(opened)


@pytest.mark.parametrize("assigned_to", ["", "Cy Stranger"])
def test_a_stranger_with_a_signed_title_skipped_a_transfer(assigned_to: str) -> None:
    skipped = replace(STRANGER, assigned_to=assigned_to)

    assert ("assigned_to", "stop") in told(skipped)
    assert "skipped transfer" in words(skipped)
    assert "skipped transfer" not in words(replace(skipped, signed=False))
    assert "skipped transfer" not in words(replace(skipped, power_of_attorney=True))


def test_a_title_made_out_to_somebody_else_stops() -> None:
    other = replace(GOOD, assigned_to="Di Other")

    assert told(other) == [("assigned_to", "stop")]
    assert "made out to Di Other" in words(other)


@pytest.mark.parametrize(
    ("lien", "problems"),
    [("none", []), ("released", []), ("open", [("lien", "stop")]), (None, [("lien", "note")])],
)
def test_a_lien_not_released_stops(lien: str | None, problems: list[tuple[str, str]]) -> None:
    assert told(replace(GOOD, lien=lien)) == problems


@pytest.mark.parametrize(
    ("kind", "weight"),
    [
        ("bonded", "warning"),
        ("duplicate", "warning"),
        ("export_only", "stop"),
        ("parts_only", "stop"),
        ("scrap", "stop"),
    ],
)
def test_kinds_of_title(kind: str, weight: str) -> None:
    assert told(replace(GOOD, **{kind: True})) == [(kind, weight)]


@pytest.mark.parametrize(
    ("brand", "weight"),
    [
        ("Flood Damage", "warning"),
        ("salvage", "warning"),
        ("junk", "stop"),
        ("memorandum copy", "stop"),
        ("export only", "stop"),
        ("pink", "warning"),
    ],
)
def test_marks_are_told_once_each(brand: str, weight: str) -> None:
    assert told(replace(GOOD, brands=(brand,))) == [("brands", weight)]


def test_a_mark_told_as_a_kind_of_title_is_not_told_again() -> None:
    both = replace(GOOD, brands=("junk", "parts only"), scrap=True, parts_only=True)

    assert told(both) == [("parts_only", "stop"), ("scrap", "stop")]


def test_salvage_has_to_be_inspected_before_the_road() -> None:
    assert "inspected before the road" in words(replace(GOOD, brands=("salvage",)))


def test_every_problem_ends_with_where_to_look_further() -> None:
    found = right_to_sell(replace(STRANGER, lien="open", bonded=True, brands=("fire", "kit")))

    assert len(found) == 5
    assert all(one.hint.endswith(CHECK) for one in found)
    assert all(one.message.endswith(")") for one in found)


@given(st.text())
def test_any_text_is_a_mark_or_none(text: str) -> None:
    found = find_brand(text)

    assert found is None or found.means
    assert same_person(text, "Ann Example") in ("yes", "perhaps", "no")


# --- in hand --------------------------------------------------------------------------------------

ALL = HandFacts(
    title=GOOD,
    original_seen=True,
    identity_seen=True,
    vin_agrees=True,
    brands_read=True,
    not_stolen=True,
    odometer_statement=True,
    bill_of_sale=True,
)


def still_open(facts: HandFacts) -> list[str]:
    return [one.label for one in in_hand(facts) if one.state == "open"]


def test_everything_in_hand_leaves_nothing_open() -> None:
    assert still_open(ALL) == []
    assert {one.state for one in in_hand(ALL)} == {"done"}
    assert len(in_hand(ALL)) == 9


def test_nothing_looked_at_leaves_everything_open() -> None:
    found = in_hand(HandFacts())

    assert {one.state for one in found} == {"open"}
    assert len(found) == 10
    assert all(one.why and one.section for one in found)


@pytest.mark.parametrize(
    ("field", "label"),
    [
        ("original_seen", "Title, the original"),
        ("identity_seen", "Seller's identity document"),
        ("vin_agrees", "Identification number agrees"),
        ("brands_read", "Title brands read"),
        ("not_stolen", "Not reported stolen"),
        ("odometer_statement", "Odometer statement, complete"),
        ("bill_of_sale", "Bill of sale"),
    ],
)
@pytest.mark.parametrize("value", [None, False])
def test_what_is_not_seen_is_open(field: str, label: str, *, value: bool | None) -> None:
    assert still_open(replace(ALL, **{field: value})) == [label]


def test_no_odometer_statement_where_none_is_due() -> None:
    exempt = replace(ALL, odometer_due=False, odometer_statement=None)

    assert not any("Odometer" in one.label for one in in_hand(exempt))
    assert still_open(replace(exempt, odometer_due=None)) == ["Odometer statement, complete"]


@pytest.mark.parametrize("lien", ["open", "released", None])
def test_a_release_is_wanted_unless_no_lien_is_named(lien: str | None) -> None:
    bound = replace(ALL, title=replace(GOOD, lien=lien))

    assert still_open(bound) == ["Release of every lien"]
    assert still_open(replace(bound, lien_release=True)) == []


def test_a_stranger_needs_the_power_of_attorney_and_its_paper() -> None:
    stranger = replace(ALL, title=STRANGER)
    claimed = replace(stranger, title=replace(STRANGER, power_of_attorney=True))

    assert still_open(stranger) == ["Seller's right to sign"]
    assert still_open(claimed) == ["Seller's right to sign"]
    assert still_open(replace(claimed, power_of_attorney_paper=True)) == []


def test_a_name_that_perhaps_agrees_is_settled_by_the_identity_document() -> None:
    perhaps = replace(ALL, title=replace(GOOD, seller="Ann B. Example"))

    assert still_open(perhaps) == []
    assert "Seller's right to sign" in still_open(replace(perhaps, identity_seen=None))


@pytest.mark.parametrize("assigned_to", ["", "Di Other"])
def test_a_title_without_the_buyer_s_name_is_not_signed_over(assigned_to: str) -> None:
    other = replace(ALL, title=replace(GOOD, assigned_to=assigned_to))

    assert still_open(other) == ["Title signed over"]
