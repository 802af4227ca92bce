"""What papers prove: never more than the evidence, and said in words."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from appraise import services
from appraise.engine.bid.simulation import work_out
from appraise.engine.catalog.values import Lookup
from appraise.engine.papers.evidence import Strength, claim_factors, strength_of
from appraise.errors import BadCase
from appraise.models.case import Case
from appraise.models.papers import Claim, Paper, PaperKind
from appraise.reference.load import Reference, load_reference

COIL = "ignition.coil"
FULL: dict[str, Any] = {
    "id": "paper",
    "kind": "invoice",
    "dated": date(2026, 9, 1),
    "issuer": "Corner garage",
    "reach": "555 0100",
    "lines": [
        {"label": "Ignition coil, cylinder 2", "kind": "part", "amount": Decimal(48)},
        {"label": "Labor", "kind": "labor", "amount": Decimal(60)},
    ],
    "total": Decimal(108),
    "paid": "card",
    "claims": [{"finding": "misfire", "causes": [COIL]}],
}


@pytest.fixture(scope="module")
def reference() -> Reference:
    return load_reference()


@pytest.fixture(scope="module")
def car() -> Case:
    return services.load_case_file("auction-engine-light")


def paper(car: Case, **changes: Any) -> Paper:
    return Paper.model_validate({**FULL, "vin": car.vehicle.vin, **changes})


def with_papers(car: Case, *papers: Paper) -> Case:
    return services.changed(car, ("papers",), [one.model_dump() for one in papers])


def strength(car: Case, reference: Reference, **changes: Any) -> Strength:
    one = paper(car, **changes)
    return strength_of(one, one.claims[0], car, Lookup(reference))


def test_a_paid_invoice_for_this_car_with_labor_is_strong(car: Case, reference: Reference) -> None:
    found = strength(car, reference)

    assert found.words == "strong"
    assert found.reasons == (
        "an invoice",
        "it names this car, the part and the labor, and is paid",
    )


@pytest.mark.parametrize(
    ("changes", "reason"),
    [
        ({"vin": ""}, "names no car"),
        ({"lines": FULL["lines"][:1]}, "no labor line"),
        ({"lines": FULL["lines"][1:]}, "no line names a part"),
        ({"paid": "not_said"}, "payment is not shown"),
        ({"paid": "unpaid"}, "marked unpaid"),
        ({"dated": None}, "no date"),
        ({"dated": date(2027, 1, 1)}, "lies ahead"),
        ({"dated": date(2011, 1, 1)}, "before the car was built"),
        ({"odometer": {"value": 150_000, "unit": "mi"}}, "above the car's today"),
        ({"reach": ""}, "nobody to call"),
    ],
)
def test_whatever_is_lacking_weakens_it_and_is_said(
    car: Case, reference: Reference, changes: dict[str, Any], reason: str
) -> None:
    whole, lacking = strength(car, reference), strength(car, reference, **changes)

    assert 1 <= lacking.ratio < whole.ratio
    assert any(reason in one for one in lacking.reasons)


def test_another_cars_number_proves_nothing(car: Case, reference: Reference) -> None:
    found = strength(car, reference, vin="1XXZA05AXKA042788")

    assert found.ratio == 1
    assert any("another car" in one for one in found.reasons)


@pytest.mark.parametrize("kind", ["estimate", "core_return_slip"])
def test_an_estimate_or_a_core_slip_never_lowers_the_chance_of_the_fault(
    car: Case, reference: Reference, kind: str
) -> None:
    """However complete it is."""
    assert strength(car, reference, kind=kind).ratio <= 1


def test_a_core_slip_says_why_it_proves_nothing(car: Case, reference: Reference) -> None:
    found = strength(car, reference, kind="core_return_slip")

    assert "no proof that a new one was fitted" in found.reasons[0]


@pytest.mark.parametrize("kind", list(PaperKind))
def test_no_paper_is_stronger_than_the_paid_invoice(
    car: Case, reference: Reference, kind: PaperKind
) -> None:
    assert strength(car, reference, kind=kind).ratio <= strength(car, reference).ratio


def test_a_strong_paper_raises_what_the_car_may_cost_and_a_weak_one_hardly(
    reference: Reference,
) -> None:
    """The pack is the dear fault: an invoice for it pays for itself in the bid."""
    car = services.load_case_file("hybrid-battery-light")
    claims = [Claim(finding="battery-light", causes=("hybrid.pack_weak",)).model_dump()]
    slip = paper(car, kind="core_return_slip", claims=claims)
    bare, invoiced, weak = (
        work_out(with_papers(car, *papers), reference).budget
        for papers in ((), (paper(car, claims=claims),), (slip,))
    )

    assert invoiced > bare + 50
    assert bare - 25 <= weak <= bare


def test_two_papers_on_one_cause_count_as_the_stronger(car: Case, reference: Reference) -> None:
    both = with_papers(car, paper(car), paper(car, id="receipt", kind="parts_receipt"))
    one = with_papers(car, paper(car))

    assert claim_factors(both, Lookup(reference)) == claim_factors(one, Lookup(reference))


@pytest.mark.parametrize(
    "kinds", [("estimate", "core_return_slip"), ("core_return_slip", "estimate")]
)
def test_of_two_papers_that_speak_for_a_fault_the_stronger_counts(
    car: Case, reference: Reference, kinds: tuple[str, str]
) -> None:
    """An estimate (0.8) and a core slip (0.95): the slip takes nothing back."""
    both = with_papers(car, *(paper(car, id=kind, kind=kind) for kind in kinds))

    assert claim_factors(both, Lookup(reference)) == {"misfire": {COIL: pytest.approx(1 / 0.8)}}


def test_where_papers_disagree_the_strongest_of_each_side_are_multiplied(
    car: Case, reference: Reference
) -> None:
    kinds = ("invoice", "parts_receipt", "estimate", "core_return_slip")
    all_four = with_papers(car, *(paper(car, id=kind, kind=kind) for kind in kinds))

    expected = 1 / (strength(car, reference).ratio * 0.8)
    assert claim_factors(all_four, Lookup(reference)) == {
        "misfire": {COIL: pytest.approx(expected)}
    }


@pytest.mark.parametrize("kind", ["invoice", "estimate", "core_return_slip"])
def test_a_paper_of_another_car_speaks_neither_for_nor_against_a_fault(
    car: Case, reference: Reference, kind: str
) -> None:
    assert strength(car, reference, kind=kind, vin="1M8GDM9AXKP042788").ratio == 1


def test_a_paper_about_a_finding_that_is_not_there_is_refused(
    car: Case, reference: Reference
) -> None:
    odd = with_papers(car, paper(car, claims=[{"finding": "nowhere", "causes": [COIL]}]))
    with pytest.raises(BadCase, match="no finding 'nowhere'"):
        services.appraise_case(odd, reference)


def test_removing_a_finding_takes_what_papers_say_of_it_along(car: Case) -> None:
    left = services.without_finding(with_papers(car, paper(car)), "misfire")

    assert left.papers[0].claims == ()
