"""A case in money of a tenth of the worth has ten times the amounts, and the same shares."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from appraise.engine import appraise
from appraise.engine.bid.simulation import work_out
from appraise.engine.repair.repair import RepairDraws
from appraise.models.case import Case
from appraise.reference.load import Reference

Raw = dict[str, Any]
AMOUNTS = (
    "asking_price",
    "title_and_registration",
    "transport",
    "holding_per_day",
    "selling_flat",
    "own_rate",
    "target_margin",
)


def times(given_range: Raw | None, factor: int) -> Raw | None:
    if given_range is None:
        return None
    scaled = {name: str(Decimal(given_range[name]) * factor) for name in ("low", "likely", "high")}
    return given_range | scaled


def amounts(raw: Raw, names: tuple[str, ...], factor: int) -> Raw:
    known = [name for name in names if raw.get(name) is not None]
    return raw | {name: str(Decimal(str(raw[name])) * factor) for name in known}


def in_other_money(raw: Raw, factor: int) -> Raw:
    """Return the case with every amount and the price level times `factor`, in another money."""
    deal = amounts(raw["deal"], AMOUNTS, factor)
    deal |= {name: times(deal[name], factor) for name in ("shop_rate", "goes_for")}
    deal |= {"price_level": factor}
    deal["fees"] = [
        one
        | {"steps": [amounts(step, ("starts_at", "flat", "cap"), factor) for step in one["steps"]]}
        for one in deal["fees"]
    ]
    own_jobs = []
    for one in raw["own_jobs"]:
        parts = [
            amounts(line, ("core",), factor) | {"price": times(line["price"], factor)}
            for line in one["parts"]
        ]
        own_jobs.append(amounts(one, ("consumables",), factor) | {"parts": parts})
    comps = [amounts(one, ("price",), factor) for one in raw["market"]["comparables"]]
    market = raw["market"] | {"comparables": comps}
    return raw | {"deal": deal, "own_jobs": own_jobs, "market": market, "currency": "EUR"}


@given(data=st.data(), factor=st.sampled_from([2, 7, 100]))
def test_the_currency_scales_the_repair_in_every_draw(
    data: st.DataObject,
    factor: int,
    cases: st.SearchStrategy[Raw],
    mend: Callable[..., RepairDraws],
) -> None:
    raw = data.draw(cases)
    one = mend(Case.model_validate(raw))
    other = mend(Case.model_validate(in_other_money(raw, factor)))
    for name in ("money", "bill", "labor"):
        ours, theirs = getattr(one.total, name), getattr(other.total, name)
        assert np.allclose(factor * ours, theirs, rtol=1e-9, atol=1e-6), name
    assert np.allclose(one.total.hours, other.total.hours, rtol=1e-12)
    assert np.array_equal(one.lead_days, other.lead_days)


@given(data=st.data(), factor=st.sampled_from([2, 10]))
def test_the_currency_scales_the_whole_result(
    data: st.DataObject, factor: int, cases: st.SearchStrategy[Raw], reference: Reference
) -> None:
    raw = data.draw(cases)
    one = appraise(Case.model_validate(raw), reference)
    other = appraise(Case.model_validate(in_other_money(raw, factor)), reference)
    for path in ("resale.mended", "resale.as_it_stands", "repair.money", "repair.shop_bill"):
        group, name = path.split(".")
        ours = getattr(getattr(one, group), name)
        theirs = getattr(getattr(other, group), name)
        for key in ("mean", "p10", "p50", "p90"):
            # Each side is rounded to its cent.
            expected = pytest.approx(factor * float(getattr(ours, key)), abs=0.0051 * (factor + 1))
            assert float(getattr(theirs, key)) == expected, path
    assert other.resale.per_year == one.resale.per_year
    assert other.resale.leave_one_out == one.resale.leave_one_out
    # Before it is brought down to a step, which is round in either money.
    limit = work_out(Case.model_validate(raw), reference).limit
    scaled = work_out(Case.model_validate(in_other_money(raw, factor)), reference).limit
    if limit is None:
        # Amounts below one whole unit may be bids in the smaller money.
        assert scaled is None or scaled <= factor
        return
    assert scaled is not None
    # Whole units either way; fees, tax and the limit itself to the cent.
    assert factor * limit - 1 <= scaled <= factor * (limit + 1) + 1
