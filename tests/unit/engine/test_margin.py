"""Small pieces of the margin against NumPy and against counting."""

from __future__ import annotations

from decimal import Decimal

import numpy as np
import pytest

from appraise.engine.draws.order_statistics import mean_error, quantile_error, quantile_of
from appraise.engine.draws.rounding import cents, quantiles, share
from appraise.engine.money.margin import (
    Rest,
    budget_for,
    expected_shortfall,
    landed_cost,
    landed_lines,
)
from appraise.models.deal import Deal


@pytest.fixture
def draws() -> np.ndarray:
    return np.random.default_rng(4).gamma(2.0, 500.0, 5003)


def test_quantiles_are_numpys(draws: np.ndarray) -> None:
    ordered = np.sort(draws)
    for at in (0.0, 0.001, 0.1, 0.37, 0.5, 0.9, 0.9999, 1.0):
        assert quantile_of(ordered, at) == pytest.approx(float(np.quantile(draws, at)), rel=1e-12)


@pytest.mark.parametrize("count", [1000, 1001, 5003, 20_000])
@pytest.mark.parametrize("thin", [1, 4])
def test_the_shown_quantiles_need_no_full_sort(count: int, thin: int) -> None:
    draws = np.random.default_rng(count).normal(1000, 300, count)
    shown = quantiles(draws, thin=thin)
    few = draws[::thin]
    assert shown.mean == cents(float(draws.mean()))
    for name, at in (("p10", 0.1), ("p50", 0.5), ("p90", 0.9)):
        assert float(getattr(shown, name)) == pytest.approx(float(np.quantile(few, at)), abs=0.0051)
    error = quantile_error(np.sort(few), 0.5)
    assert float(shown.p50_error) == pytest.approx(error, abs=0.0051)


def test_the_worst_tenth_is_the_mean_of_its_draws(draws: np.ndarray) -> None:
    assert expected_shortfall(draws) == pytest.approx(float(np.sort(draws)[:500].mean()))
    assert expected_shortfall(np.array([3.0, 1.0])) == 1.0


def test_the_error_of_a_mean_and_of_a_quantile_is_what_repetition_shows() -> None:
    generator = np.random.default_rng(12)
    samples = np.sort(generator.normal(1000, 300, (400, 2000)), axis=1)
    for at in (0.1, 0.5, 0.9):
        seen = float(np.quantile(samples, at, axis=1).std())
        said = float(np.mean([quantile_error(one, at) for one in samples]))
        assert said == pytest.approx(seen, rel=0.15)
    said = float(np.mean([mean_error(one) for one in samples]))
    assert said == pytest.approx(float(samples.mean(axis=1).std()), rel=0.12)


def test_landed_lines_add_up_and_tax_falls_on_fees_only_if_said() -> None:
    deal = Deal.model_validate(
        {
            "fees": [
                {"name": "premium", "steps": [{"starts_at": 0, "flat": 25, "percent": 10}]},
                {"name": "gate", "steps": [{"starts_at": 0, "flat": "79.50"}]},
            ],
            "tax_percent": "6.5",
            "title_and_registration": 120,
            "transport": 85,
        }
    )
    lines = dict(landed_lines(deal, Decimal(1000)))
    assert lines == {
        "Bid": Decimal(1000),
        "premium": Decimal(125),
        "gate": Decimal("79.50"),
        "Sales tax": Decimal(65),
        "Title and registration": Decimal(120),
        "Transport": Decimal(85),
    }
    assert landed_cost(deal, Decimal(1000)) == sum(lines.values())
    taxed = deal.model_copy(update={"tax_on_fees": True})
    assert dict(landed_lines(taxed, Decimal(1000)))["Sales tax"] == Decimal("78.29")


def test_interest_shrinks_the_budget_in_every_draw() -> None:
    """Room of 1,000 with 25 % interest buys for 800."""
    rest = Rest(np.array([1500.0, 1500.0]), np.array([1.25, 1.0]))
    assert budget_for(rest, 500.0, 0.9) == 800.0
    assert budget_for(rest, 500.0, 0.5) == 1000.0
    assert rest.margin(800.0).tolist() == [500.0, 700.0]


def test_shown_amounts_are_rounded_once_and_never_minus_nought() -> None:
    assert str(cents(-0.001)) == "0.00"
    assert str(cents(12.345678)) == "12.35"
    assert str(share(-0.00001)) == "0.0000"
