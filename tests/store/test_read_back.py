"""Nothing is kept that could not be read back: from the database, from a file, from a backup."""

from __future__ import annotations

import json

import pytest
from sqlalchemy import Engine

from appraise.errors import BadCase
from appraise.models.case import Case, Standing
from appraise.models.findings import Area, Finding, State
from appraise.services import case_text, read_case
from appraise.services.records.backup_file import LONGEST_LINE
from appraise.store.cases import CaseStore
from appraise.store.documents import LARGEST_DOCUMENT

WRENCH = "\N{WRENCH}"
"""Four bytes in a file, twelve where it is escaped."""


@pytest.fixture
def store(engine: Engine) -> CaseStore:
    return CaseStore(engine)


def with_notes(case: Case, number: int) -> Case:
    findings = tuple(
        Finding(id=f"f{place}", area=Area.ENGINE, state=State.FAULTY, note=WRENCH * 20_000)
        for place in range(number)
    )
    return case.model_copy(update={"findings": findings})


def test_half_a_character_is_named(store: CaseStore, small_case: Case) -> None:
    with pytest.raises(BadCase, match="half of a character") as caught:
        store.add(small_case.model_copy(update={"note": "a\ud83d"}))

    assert caught.value.where == "note"
    assert store.summaries() == ()


@pytest.mark.parametrize("changes", [{"standing": Standing.OWNED}, {"draws": 3}, {"title": "a\nb"}])
def test_what_no_model_allows_is_not_kept(
    store: CaseStore, small_case: Case, changes: dict[str, object]
) -> None:
    """A copy with changes asks no model; kept so, the car would never open again."""
    kept = store.add(small_case)
    with pytest.raises(BadCase):
        store.save(small_case.model_copy(update=changes), 1)

    assert store.load("small") == kept


def test_a_case_as_large_as_a_file_may_be_comes_back_by_every_way(
    store: CaseStore, small_case: Case
) -> None:
    largest = with_notes(small_case, 104)
    text = case_text(largest)
    assert 0.98 < len(text.encode()) / LARGEST_DOCUMENT < 1
    assert len(json.dumps(largest.model_dump(mode="json"))) < 0.9 * LONGEST_LINE

    assert read_case(text) == largest
    assert store.add(largest).case == store.load("small").case == largest


def test_a_larger_one_is_told_and_not_kept(store: CaseStore, small_case: Case) -> None:
    """It would keep everything else out of every backup."""
    kept = store.add(small_case)
    with pytest.raises(BadCase, match=r"takes 8\.\d MB as a file; the most is 8 MB") as caught:
        store.save(with_notes(small_case, 110), 1)

    assert "Shorten" in caught.value.hint
    assert store.load("small") == kept
