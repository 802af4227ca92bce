"""Documents of older layouts."""

from __future__ import annotations

from copy import deepcopy

import pytest

from appraise.errors import NewerSchema
from appraise.models.case import SCHEMA_VERSION, Case
from appraise.models.preferences import Preferences
from appraise.store.documents import from_document, to_document
from appraise.store.upgrades import (
    CASE_UPGRADES,
    PREFERENCES_SCHEMA,
    PREFERENCES_UPGRADES,
    Document,
    upgraded,
)


def name_became_title(document: Document) -> Document:
    rest = {key: value for key, value in document.items() if key != "name"}
    return rest | {"title": document["name"]}


def title_is_shouted(document: Document) -> Document:
    return document | {"title": document["title"].upper()}


STEPS = {1: name_became_title, 2: title_is_shouted}


def test_each_step_is_taken_in_order() -> None:
    old = {"schema_version": 1, "name": "Tarn"}
    assert upgraded(old, to=3, upgrades=STEPS, what="It") == {
        "schema_version": 3,
        "title": "TARN",
    }


def test_only_the_steps_still_missing_are_taken() -> None:
    old = {"schema_version": 2, "title": "Tarn"}
    assert upgraded(old, to=3, upgrades=STEPS, what="It")["title"] == "TARN"
    assert upgraded(old, to=2, upgrades=STEPS, what="It") == old


def test_the_document_given_is_left_alone() -> None:
    old = {"schema_version": 1, "name": "Tarn"}
    before = deepcopy(old)
    upgraded(old, to=3, upgrades=STEPS, what="It")
    assert old == before


def test_without_a_number_it_is_the_first_layout() -> None:
    assert upgraded({"name": "Tarn"}, to=2, upgrades=STEPS, what="It") == {
        "schema_version": 2,
        "title": "Tarn",
    }


def test_a_newer_layout_is_refused_by_name() -> None:
    with pytest.raises(NewerSchema, match=r"It was saved by a newer .*layout 4; this one knows 3"):
        upgraded({"schema_version": 4}, to=3, upgrades=STEPS, what="It")


def test_an_old_case_is_upgraded_before_it_is_checked(small_case: Case) -> None:
    document = to_document(small_case)
    document["name"] = document.pop("title")

    def step(old: Document) -> Document:
        return name_became_title(old)

    before = SCHEMA_VERSION - 1
    document["schema_version"] = before
    found = from_document(
        Case, document, schema=SCHEMA_VERSION, upgrades={before: step}, what="The case"
    )
    assert found == small_case


def test_a_case_of_the_first_layout_opens_as_it_was(small_case: Case) -> None:
    """Layout 1 knew no work, no sale, no lines paid, and nothing of what a finding turned out."""
    document = to_document(small_case)
    for later in ("work", "sale"):
        del document[later]
    for finding in document["findings"]:
        del finding["truth"], finding["seen_on"]
    document["schema_version"] = 1
    found = from_document(
        Case, document, schema=SCHEMA_VERSION, upgrades=CASE_UPGRADES, what="The case"
    )

    assert found == small_case


def test_every_older_layout_has_its_step() -> None:
    assert set(CASE_UPGRADES) == set(range(1, SCHEMA_VERSION))
    assert set(PREFERENCES_UPGRADES) == set(range(1, PREFERENCES_SCHEMA))


def test_the_layout_of_preferences_is_the_models() -> None:
    assert Preferences().schema_version == PREFERENCES_SCHEMA
