"""The table of fees, read back into schedules."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pandas as pd
import pytest

from appraise.errors import BadCase
from appraise.models.deal import FeeSchedule
from ui.bid.deal import read_fees

COLUMNS = ["fee", "from", "flat", "percent", "cap"]


def frame(*rows: tuple[Any, ...]) -> pd.DataFrame:
    return pd.DataFrame(rows, columns=COLUMNS)


def test_rows_of_one_name_are_steps_of_one_fee_in_their_order() -> None:
    read = read_fees(
        frame(
            ("Premium", 0.0, 100.0, 0.0, None),
            ("Gate", 0.0, 65.0, 0.0, None),
            ("Premium", 1000.0, 0.0, 12.5, 400.0),
        )
    )
    fees = [FeeSchedule.model_validate(one) for one in read]

    assert [one.name for one in fees] == ["Premium", "Gate"]
    premium = fees[0].steps
    assert [(one.starts_at, one.flat, one.percent, one.cap) for one in premium] == [
        (0, 100, 0, None),
        (1000, 0, Decimal("12.5"), 400),
    ]


def test_what_is_left_empty_is_nothing_and_no_cap() -> None:
    (fee,) = read_fees(frame(("Gate", None, 65.0, None, None)))
    (step,) = FeeSchedule.model_validate(fee).steps

    assert (step.starts_at, step.flat, step.percent, step.cap) == (0, 65, 0, None)


@pytest.mark.parametrize("name", [None, float("nan"), "", "   "])
def test_a_row_without_a_name_is_told_and_not_dropped(name: Any) -> None:
    with pytest.raises(BadCase, match="a row of fees has no name"):
        read_fees(frame((name, 0.0, 65.0, 0.0, None)))


def test_a_row_with_nothing_in_it_is_no_row() -> None:
    assert read_fees(frame((None, None, None, None, None))) == []


def test_amounts_are_read_to_the_cent_without_the_noise_of_floats() -> None:
    (fee,) = read_fees(frame(("Gate", 0.0, 0.1 + 0.2, 0.0, None)))

    assert fee["steps"][0]["flat"] == Decimal("0.30")


def test_an_empty_table_is_no_fees() -> None:
    assert read_fees(frame()) == []
