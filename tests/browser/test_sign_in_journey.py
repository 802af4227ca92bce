"""Others in the network: nothing before signing in, and who may only look saves nothing."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from appraise.accounts.people import add_person
from appraise.services.records.workspace import open_workspace
from appraise.settings import Settings

WORDS = {"Ada": "four words are long", "Bo": "some other long words"}
CAR = "auction-engine-light"
Windows = Callable[..., Page]
Settle = Callable[[Page], None]


def people(settings: Settings) -> None:
    """Let Ada edit and Bo look."""
    add_person(open_workspace(settings).people, "Ada", "edit", WORDS["Ada"])
    add_person(open_workspace(settings).people, "Bo", "look", WORDS["Bo"])


@pytest.fixture(scope="session")
def shared(fresh_server: Callable[..., Any]) -> Any:
    """Return screens that ask for a name; on one address of this machine, which is theirs alone."""
    return fresh_server("--lan", "--address", "127.0.0.1", before=people)


@pytest.fixture
def come_in(windows: Windows, shared: Any, settle: Settle) -> Callable[..., Page]:
    """Return what opens a page and signs in."""

    def go(who: str, path: str) -> Page:
        page = windows(path, at=shared)
        expect(page.get_by_role("heading", level=1, name="Sign in")).to_be_visible()
        assert "Brasquell" not in page.content()
        found: list[dict[str, Any]] = Axe().run(page).response["violations"]
        assert [one["id"] for one in found if one["impact"] in ("critical", "serious")] == []
        page.get_by_label("Name", exact=True).fill(who)
        page.get_by_label("Password", exact=True).fill(WORDS[who])
        page.get_by_role("button", name="Sign in").click()
        page.get_by_role("heading", level=1, name="Bid").wait_for()
        settle(page)
        return page

    return go


def test_who_mistypes_the_password_may_try_again(
    windows: Windows, shared: Any, settle: Settle
) -> None:
    """The page says so each time, and the button goes on working."""
    page = windows("cars", at=shared)
    for word in ("not that one", "nor that one"):
        page.get_by_label("Name", exact=True).fill("Ada")
        page.get_by_label("Password", exact=True).fill(word)
        page.get_by_role("button", name="Sign in").dblclick()
        expect(page.get_by_test_id("stAlert")).to_be_visible()
        settle(page)
    page.get_by_label("Name", exact=True).fill("Ada")
    page.get_by_label("Password", exact=True).fill(WORDS["Ada"])
    page.get_by_role("button", name="Sign in").click()
    page.get_by_role("heading", level=1, name="Cars").wait_for()


def test_who_may_only_look_is_told_and_saves_nothing(
    come_in: Callable[..., Page], shared: Any, settle: Settle, walk_away: Callable[[Page], str]
) -> None:
    """What was typed is not taken for what the price was worked out with."""
    car = shared.add(CAR)
    before = shared.kept(car)
    page = come_in("Bo", f"bid?car={car}")
    expect(page.get_by_text("Bo (may look, not change)")).to_be_visible()
    price = walk_away(page)
    margin = page.get_by_label(re.compile("^Profit wanted")).first
    margin.fill("1350")
    margin.press("Enter")
    expect(page.get_by_text("you may look, not change", exact=False).first).to_be_visible()
    settle(page)
    assert walk_away(page) == price
    assert shared.kept(car) == before
    page.get_by_text("Fees, tax, holding, your hours and shops", exact=True).click()
    settle(page)
    expect(page.get_by_text("what is shown here is not what is kept")).to_be_visible()

    page.get_by_role("link", name="Cars", exact=True).click()
    page.get_by_role("heading", level=1, name="Cars").wait_for()
    settle(page)
    page.get_by_role("button", name="More").first.click()
    page.get_by_role("button", name="Remove", exact=True).click()
    expect(page.get_by_text("you may look, not change", exact=False).first).to_be_visible()
    assert not shared.workspace.cases.removed()


def test_who_may_edit_saves_in_their_own_name_and_a_reload_asks_again(
    come_in: Callable[..., Page], shared: Any, settle: Settle
) -> None:
    car = shared.add(CAR)
    page = come_in("Ada", f"bid?car={car}")
    margin = page.get_by_label(re.compile("^Profit wanted")).first
    margin.fill("1350")
    margin.press("Enter")
    settle(page)
    assert shared.kept(car).deal.target_margin == 1350
    page.get_by_role("link", name="Inspect", exact=True).click()
    page.get_by_text("What was changed, and when", exact=True).click()
    expect(page.get_by_text(re.compile("Changed.*by Ada"))).to_be_visible()
    settle(page)

    page.get_by_role("link", name="Papers", exact=True).click()
    page.get_by_role("button", name="Add a paper").click()
    sent: Any = [{"name": "note.jpg", "mimeType": "image/jpeg", "buffer": b"no photo"}]
    page.locator("input[type=file]").first.set_input_files(sent)
    expect(page.get_by_test_id("stAlert").filter(has_text="note.jpg")).to_be_visible()
    nobody = page.request.put(f"{shared.url}/_stcore/upload_file/nobody/1", data=b"more")
    assert (nobody.status, nobody.text()) == (403, "Sign in first.")
    settle(page)

    page.reload()
    expect(page.get_by_role("heading", level=1, name="Sign in")).to_be_visible()
    assert "Brasquell" not in page.content()
