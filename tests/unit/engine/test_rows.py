"""Rows are a set of draws, whether they are listed or not."""

from __future__ import annotations

import numpy as np
import pytest

from appraise.engine.draws.subset import DENSE, Rows

DRAWS = 1000


def rows_of(share: float, seed: int) -> Rows:
    return Rows(np.random.default_rng(seed).random(DRAWS) < share)


@pytest.mark.parametrize("share", [0.0, 0.01, 0.2, 0.5, 1.0])
def test_rows_are_listed_only_if_they_are_few(share: float) -> None:
    rows = rows_of(share, 1)
    drawn = np.random.default_rng(2).random((3, DRAWS))
    places = rows.places()
    if share * DENSE > 1:
        assert places is None
        assert rows.of(drawn) is drawn
    else:
        assert places is not None
        assert np.array_equal(places, np.flatnonzero(rows.mask))
        assert np.array_equal(rows.of(drawn), drawn[:, rows.mask])
        assert rows.mask.nbytes + places.nbytes <= rows.most_bytes
    assert rows.places() is places


@pytest.mark.parametrize(("one", "two"), [(0.05, 0.1), (0.4, 0.02), (0.6, 0.6)])
def test_rows_join_and_part_as_sets_do(one: float, two: float) -> None:
    first, second = rows_of(one, 3), rows_of(two, 4)
    mine, theirs = (set(np.flatnonzero(rows.mask).tolist()) for rows in (first, second))
    assert set(np.flatnonzero((first | second).mask).tolist()) == mine | theirs
    assert set(np.flatnonzero((first - second).mask).tolist()) == mine - theirs
    assert (first | first) is first


def test_what_is_made_from_kept_rows_is_not_itself_kept() -> None:
    """Else the caches would fill with what never comes again."""
    mask = np.ones(DRAWS, dtype=bool)
    one, two = Rows(mask, kept=True), Rows(~mask, kept=True)
    assert not (one | two).kept
    assert not (one - two).kept
