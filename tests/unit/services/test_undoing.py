"""An undo takes back its own change, and nothing that came after it."""

from __future__ import annotations

from decimal import Decimal

import pytest

from appraise import services
from appraise.errors import BadCase
from appraise.models.case import Case
from appraise.models.findings import Area, Finding, State
from appraise.services import without_finding
from appraise.services.cases.editing import changed, put_finding
from appraise.services.cases.undoing import taken_back


@pytest.fixture
def before() -> Case:
    return services.load_case_file("auction-engine-light")


@pytest.fixture
def gone(before: Case) -> str:
    """Return the id of a finding in the middle."""
    return before.findings[1].id


@pytest.fixture
def after(before: Case, gone: str) -> Case:
    return without_finding(before, gone)


def more(case: Case) -> Case:
    finding = Finding(id="more", area=Area.ENGINE, state=State.FINE)
    return put_finding(changed(case, ("deal", "transport"), Decimal(333)), finding)


def test_without_another_change_it_is_as_it_was(before: Case, after: Case) -> None:
    assert taken_back(before, after, after) == before


def test_what_was_changed_since_stays(before: Case, after: Case, gone: str) -> None:
    back = taken_back(before, after, more(after))

    assert back == more(before)
    assert [one.id for one in back.findings].index(gone) == 1


def test_another_finding_of_the_same_list_may_be_changed_or_removed(
    before: Case, after: Case, gone: str
) -> None:
    first = before.findings[0].id
    now = changed(after, ("findings", first, "note"), "rattles when cold")
    assert taken_back(before, after, now) == changed(
        before, ("findings", first, "note"), "rattles when cold"
    )
    back = taken_back(before, after, without_finding(after, first))
    assert back == without_finding(before, first)
    assert back.findings[0].id == gone


def test_what_was_added_goes_again_if_nobody_changed_it(before: Case) -> None:
    added = more(before)
    assert taken_back(before, added, changed(added, ("title",), "Called anew")) == changed(
        before, ("title",), "Called anew"
    )
    with pytest.raises(BadCase, match=r"findings\[more\].*changed again since"):
        taken_back(before, added, changed(added, ("findings", "more", "note"), "no, it rattles"))


def test_one_field_of_a_finding_comes_back_beside_another(before: Case) -> None:
    first = before.findings[0].id
    after = changed(before, ("findings", first, "note"), "typed by mistake")
    now = changed(after, ("findings", first, "label"), "Called anew")

    assert taken_back(before, after, now) == changed(
        before, ("findings", first, "label"), "Called anew"
    )


def test_the_same_field_changed_again_is_told_and_not_overwritten(before: Case) -> None:
    after = changed(before, ("title",), "First")
    with pytest.raises(BadCase, match="title: was changed again since") as caught:
        taken_back(before, after, changed(before, ("title",), "Second"))

    assert "earlier version" in caught.value.hint


def test_what_was_taken_back_already_stays_so(before: Case, after: Case) -> None:
    assert taken_back(before, after, before) == before
    assert taken_back(before, after, more(before)) == more(before)


def test_what_the_rest_no_longer_allows_is_told() -> None:
    """The purchase is taken back, entered anew, and the car offered meanwhile."""
    owned = services.load_case_file("farm-truck-owned")
    first = owned.work.entries[0]
    before = owned
    after = owned.model_copy(
        update={"work": owned.work.model_copy(update={"entries": owned.work.entries[1:]})}
    )
    day = max(one.on for one in owned.work.entries)
    assert first.on < day
    assert owned.purchase is not None
    later = after.purchase.model_copy(update={"bought_on": day}) if after.purchase else None
    entries = tuple(one for one in after.work.entries if one.on >= day)
    now = after.model_copy(
        update={
            "purchase": later,
            "work": after.work.model_copy(update={"entries": entries}),
        }
    )
    with pytest.raises(BadCase, match="before the car was bought"):
        taken_back(before, after, now)
