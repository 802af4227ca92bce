"""What holds of papers on random cases: none that speaks for a fault ever raises the bid."""

from __future__ import annotations

from copy import deepcopy
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from appraise.engine.bid.simulation import work_out
from appraise.engine.catalog.prices import PriceList
from appraise.engine.catalog.values import Lookup
from appraise.engine.draws.streams import Streams
from appraise.engine.faults.car import car_faults
from appraise.engine.faults.needed_jobs import needs_of_findings
from appraise.engine.papers.evidence import claim_factors, strength_of
from appraise.models.case import Case
from appraise.models.papers import PaperKind
from appraise.reference.load import Reference

Raw = dict[str, Any]
Cases = st.SearchStrategy[Raw]
NONE = -1
"""No bid at all stands below every bid."""
SPEAK_FOR_THE_FAULT = ("estimate", "core_return_slip")
ROUNDING = 1e-12


OPEN: Raw = {
    "id": "open-to-papers",
    "area": "engine",
    "state": "suspect",
    "chance": "0.7",
    "causes": [
        {"id": f"cause-{at}", "label": "Cause", "chance": "0.3", "jobs": [{"job": f"job-{at}"}]}
        for at in range(3)
    ],
}


@st.composite
def papers(
    draw: st.DrawFn, name: str, finding: Raw, kinds: tuple[str, ...], *, one_cause: bool = False
) -> Raw:
    """Draw a paper that speaks of a finding, whole or lacking something."""
    causes = [one["id"] for one in finding["causes"]]
    claimed = [[one] for one in causes] if one_cause else [*([one] for one in causes), causes, []]
    lines = [{"label": "line", "kind": one} for one in ("part", "labor")]
    return {
        "id": name,
        "kind": draw(st.sampled_from(kinds)),
        "dated": draw(st.sampled_from([None, "2001-01-01", "2026-05-01", "2027-01-01"])),
        "issuer": draw(st.sampled_from(["", "A shop"])),
        "reach": draw(st.sampled_from(["", "555 0100"])),
        "vin": draw(st.sampled_from(["", "11111111111111111"])),
        "plate": draw(st.sampled_from(["", "ABC 123", "XYZ 789"])),
        "lines": draw(st.lists(st.sampled_from(lines), max_size=2)),
        "paid": draw(st.sampled_from(["card", "unpaid", "not_said"])),
        "claims": [
            {
                "finding": finding["id"],
                "causes": draw(st.sampled_from(claimed)),
                "claimed": draw(st.sampled_from(["replaced", "serviced", "measured_good"])),
            }
        ],
    }


@st.composite
def with_papers(
    draw: st.DrawFn, cases: Cases, *, most_causes: int, one_cause: bool = False
) -> tuple[Raw, Raw]:
    """Draw a case with papers on one finding, and one more paper that speaks for its fault."""
    raw = deepcopy(draw(cases))  # what is drawn may come again, and is not changed
    raw["vehicle"] |= {"vin": "11111111111111111", "plate": "ABC 123"}
    for one in raw["findings"]:
        if "causes" in one:
            one["causes"] = one["causes"][:most_causes]
    raw["findings"].append(deepcopy(OPEN))
    raw["findings"][-1]["causes"] = OPEN["causes"][:most_causes]
    open_to_papers = [one for one in raw["findings"] if one.get("causes")]
    finding = draw(st.sampled_from(open_to_papers))
    kinds = (*(one.value for one in PaperKind), *SPEAK_FOR_THE_FAULT * 6)
    count = draw(st.integers(0, 3))
    raw["papers"] = [draw(papers(f"paper-{at}", finding, kinds)) for at in range(count)]
    return raw, draw(papers("one-more", finding, SPEAK_FOR_THE_FAULT, one_cause=one_cause))


def limit(raw: Raw, reference: Reference) -> int:
    """Return the highest bid before it is rounded down to a step that its error sets."""
    found = work_out(Case.model_validate(raw), reference).limit
    return NONE if found is None else found


def chances(raw: Raw, reference: Reference) -> dict[tuple[str, str], float]:
    case = Case.model_validate(raw)
    lookup = Lookup(reference)
    streams = Streams(case.seed, case.draws)
    car = car_faults(case, streams, lookup)
    needs = needs_of_findings(case, car, streams, PriceList.of(case, lookup), lookup)
    return {
        (one.id, cause): float(chance)
        for one in needs
        if one.odds is not None
        for cause, chance in zip(one.odds.causes, one.odds.after, strict=True)
    }


@settings(max_examples=120)
@given(data=st.data())
def test_a_paper_that_speaks_for_a_fault_never_raises_the_bid(
    data: st.DataObject, cases: Cases, reference: Reference
) -> None:
    """The fault against nothing to mend, whatever other papers there are.

    Of several exclusive causes a paper on a cheap one makes a dear one less likely, as Bayes has
    it: there it is the chance of what the paper names that never falls (below).
    """
    raw, more = data.draw(with_papers(cases, most_causes=1))

    after = limit(raw | {"papers": [*raw["papers"], more]}, reference)

    assert after <= limit(raw, reference)


@settings(max_examples=100)
@given(data=st.data())
def test_nor_does_it_ever_make_what_it_names_less_likely(
    data: st.DataObject, cases: Cases, reference: Reference
) -> None:
    raw, more = data.draw(with_papers(cases, most_causes=3, one_cause=True))
    claim = more["claims"][0]
    key = (claim["finding"], claim["causes"][0])

    after = chances(raw | {"papers": [*raw["papers"], more]}, reference)

    assert after[key] >= chances(raw, reference)[key] - ROUNDING


@given(data=st.data())
def test_the_order_of_papers_changes_nothing(
    data: st.DataObject, cases: Cases, reference: Reference
) -> None:
    raw, more = data.draw(with_papers(cases, most_causes=3))
    one_way, other_way = (
        claim_factors(Case.model_validate(raw | {"papers": listed}), Lookup(reference))
        for listed in ([*raw["papers"], more], [more, *reversed(raw["papers"])])
    )

    assert one_way == other_way


@given(data=st.data())
def test_each_side_counts_with_its_strongest_paper_alone(
    data: st.DataObject, cases: Cases, reference: Reference
) -> None:
    raw, more = data.draw(with_papers(cases, most_causes=1))
    case = Case.model_validate(raw | {"papers": [*raw["papers"], more]})
    lookup = Lookup(reference)
    ratios = [
        strength_of(paper, claim, case, lookup).ratio
        for paper in case.papers
        for claim in paper.claims
        if claim.causes
    ]
    if not ratios:
        return

    (factors,) = claim_factors(case, lookup).values()

    strongest_against = max((one for one in ratios if one > 1), default=1.0)
    strongest_for = min((one for one in ratios if one < 1), default=1.0)
    assert list(factors.values()) == pytest.approx([1 / (strongest_against * strongest_for)])
