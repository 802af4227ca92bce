"""The page of the papers: adding, changing, removing, and what each does to the bid."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from appraise.engine.bid.simulation import work_out
from appraise.models.case import Case
from appraise.models.papers import Claimed, LineKind, Paid, Paper, PaperKind
from appraise.reference.load import load_reference
from appraise.services import changed
from ui.widgets.show import plain

CAR = "auction-engine-light"
HYBRID = "hybrid-battery-light"
NUMBER = "AS1CL5BE6EA104417"
TEXTS = ("<img src=x onerror=alert(1)>", "**bold** [a link](http://example.org) :red[x] $x^2$")


@pytest.fixture
def window(screens: Any) -> AppTest:
    opened: AppTest = screens.window("papers", CAR)
    return opened


@pytest.fixture
def fill(widget: Any, key: Any, edits: Any) -> Callable[..., AppTest]:
    """Return what fills the form of a paper, new or there already, and saves it."""

    def go(
        window: AppTest, paper: str = "new", lines: list[dict[str, Any]] | None = None, **given: Any
    ) -> AppTest:
        name = "Add a paper" if paper == "new" else None
        opener = [one for one in window.button if one.label == name or one.key == f"paper:{paper}"]
        opener[0].click().run()
        start = key(window, "paper", paper)
        kinds = {
            "selectbox": ("kind", "paid", "signed", "lien"),
            "multiselect": ("brands", "claims", "title-marks"),
            "number_input": ("total", "odometer"),
            "text_area": ("note",),
        }
        for field, value in given.items():
            kind = next((one for one, names in kinds.items() if field in names), "text_input")
            widget(window, kind, f"{start}:{field}").set_value(value)
            if field in ("kind", "claims"):
                window.run()
        if "claims" in given:
            for finding, causes in CAUSES.items():
                if finding in given["claims"]:
                    widget(window, "multiselect", f"{start}:causes:{finding}").set_value(causes)
        if lines:
            window.session_state[f"{start}:lines"] = edits(added=lines)
        widget(window, "button", f"{start}:save").click().run()
        assert not window.exception
        return window

    return go


CAUSES = {"misfire": ["engine.valve_burnt"]}
LINES = [
    {"text": "Cylinder head, new", "kind": "part", "amount": 700.0},
    {"text": "Labor", "kind": "labor", "amount": 480.5},
]
WHOLE: dict[str, Any] = {
    "dated": "2026-09-01",
    "issuer": "Corner garage",
    "reach": "555 0100",
    "vin": NUMBER,
    "paid": Paid.CARD,
    "total": 1180.5,
}


def without_papers(screens: Any, car: str = CAR, *papers: dict[str, Any], **more: Any) -> Case:
    case = changed(screens.kept(car), ("papers",), [{"id": "one", **one} for one in papers])
    for name, value in more.items():
        case = changed(case, ("vehicle", name), value)
    kept: Case = screens.put(case)
    return kept


def only(screens: Any, car: str = CAR) -> Paper:
    (paper,) = screens.kept(car).papers
    return paper


def dollars(window: AppTest, walk_away: Any) -> int:
    return int(walk_away(window).removesuffix(" USD").replace(",", ""))


# --- adding, changing, removing -------------------------------------------------------------------


def test_a_paper_with_lines_and_a_claim_moves_the_walk_away_price(
    screens: Any, fill: Any, walk_away: Any, said: Any
) -> None:
    """The valve is a dear fault behind the misfire that is seldom it: its invoice moves the bid."""
    case = without_papers(screens)
    before = dollars(screens.window("bid", CAR), walk_away)
    window = fill(screens.window("papers", CAR), lines=LINES, claims=["misfire"], **WHOLE)

    paper = only(screens)
    assert [(one.label, one.kind, one.amount) for one in paper.lines] == [
        ("Cylinder head, new", LineKind.PART, Decimal("700.00")),
        ("Labor", LineKind.LABOR, Decimal("480.50")),
    ]
    assert (paper.kind, paper.total, paper.paid) == (PaperKind.INVOICE, Decimal("1180.50"), "card")
    (claim,) = paper.claims
    assert (claim.finding, claim.causes, claim.claimed) == (
        "misfire",
        ("engine.valve_burnt",),
        Claimed.REPLACED,
    )
    assert "strong" in said(window)
    assert dollars(screens.turn(window, "bid"), walk_away) >= before  # printed in steps of 40
    reference = load_reference()
    gain = work_out(screens.kept(CAR), reference).budget - work_out(case, reference).budget
    assert gain > 15  # found: 27.7


def test_a_slip_with_the_same_claim_moves_it_by_nothing_upwards(
    screens: Any, fill: Any, walk_away: Any, said: Any
) -> None:
    without_papers(screens)
    before = dollars(screens.window("bid", CAR), walk_away)
    slip = WHOLE | {"kind": PaperKind.CORE_RETURN_SLIP}
    window = fill(screens.window("papers", CAR), lines=LINES, claims=["misfire"], **slip)

    assert "proves nothing about the repair" in said(window)
    assert before - 25 <= dollars(screens.turn(window, "bid"), walk_away) <= before


def test_a_claim_that_names_no_cause_is_not_called_strong_unless_it_moves_the_price(
    screens: Any, said: Any, walk_away: Any
) -> None:
    without_papers(screens)
    before = walk_away(screens.window("bid", CAR))
    lines = [{"label": "Head", "kind": "part"}, {"label": "Labor", "kind": "labor"}]
    paper = {**WHOLE, "kind": "invoice", "lines": lines, "claims": [{"finding": "misfire"}]}
    without_papers(screens, CAR, paper)
    window = screens.window("papers", CAR)
    strong = "strong (factor" in said(window).replace("*", "").replace(":material/check: ", "")

    assert strong == (walk_away(screens.turn(window, "bid")) != before)


def test_changing_a_paper_keeps_the_rest_of_it_and_can_be_undone(
    screens: Any, fill: Any, window: AppTest
) -> None:
    before = screens.kept(CAR).papers
    fill(window, "service-invoice", issuer="Another counter")

    assert screens.kept(CAR).papers[0] == before[0].model_copy(update={"issuer": "Another counter"})
    assert screens.kept(CAR).papers[1:] == before[1:]
    window.button(key="undo-button").click().run()
    assert screens.kept(CAR).papers == before


def test_a_paper_saved_as_it_is_stays_as_it_is(screens: Any, fill: Any) -> None:
    before = screens.kept(HYBRID).papers
    for paper in before:
        fill(screens.window("papers", HYBRID), paper.id)

    assert screens.kept(HYBRID).papers == before


def test_a_claim_that_the_form_cannot_show_is_kept(screens: Any, fill: Any) -> None:
    """Of a finding that is no trouble any more, and of a cause no longer listed."""
    claims = [
        {"finding": "gone", "causes": ["fault"]},
        {"finding": "misfire", "causes": ["engine.valve_burnt", "engine.not_listed"]},
    ]
    case = without_papers(screens, CAR, {"kind": "invoice", "claims": claims})
    fill(screens.window("papers", CAR), "one", note="Seen.")

    assert only(screens).note == "Seen."
    assert set(only(screens).claims) == set(case.papers[0].claims)


def test_a_removed_paper_comes_back(screens: Any, window: AppTest, said: Any) -> None:
    before = screens.kept(CAR).papers
    window.button(key="paper-drop:inspection").click().run()

    assert screens.kept(CAR).papers == before[:1]
    assert "Removed: Inspection certificate" in said(window)
    window.button(key="undo-button").click().run()
    assert screens.kept(CAR).papers == before


def test_closing_the_form_keeps_nothing(screens: Any, window: AppTest, button: Any) -> None:
    version = screens.version(CAR)
    button(window, "Add a paper").click().run()
    button(window, "Close without saving").click().run()

    assert screens.version(CAR) == version
    assert not [one for one in window.button if one.label == "Add this paper"]


def test_what_cannot_be_is_said_and_not_kept(screens: Any, fill: Any, window: AppTest) -> None:
    version = screens.version(CAR)
    fill(window, **WHOLE | {"odometer": 5_000_000.0})

    assert "odometer" in " ".join(one.value for one in window.error)
    assert screens.version(CAR) == version


def test_a_page_without_papers_says_what_they_are_for(screens: Any, said: Any) -> None:
    window = screens.window("papers", "premium-overheats")

    assert "No papers yet." in said(window)
    assert not window.exception


# --- as written, and said -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [
        ("vin", f" {NUMBER.lower()} ", ""),
        ("vin", "AS1CL 5BE6 EA104417", ""),
        ("vin", NUMBER[:-1], "one lacks 7 at position 17"),
        ("vin", f"{NUMBER}7", "one lacks 7 at position 18"),
        ("vin", f"\N{CYRILLIC CAPITAL LETTER A}{NUMBER[1:]}", "at position 1"),
    ],
)
def test_what_is_odd_is_kept_as_written_and_said(
    screens: Any, fill: Any, said: Any, field: str, value: Any, words: str
) -> None:
    without_papers(screens)
    window = fill(screens.window("papers", CAR), **WHOLE | {"odometer": 121_000.0, field: value})

    kept = getattr(only(screens), field)
    assert kept == (value.strip() if isinstance(value, str) else value)
    assert words in said(window)
    if not words:
        assert "position" not in said(window)


def test_a_paper_younger_than_the_appraisal_is_kept_and_said(
    screens: Any, fill: Any, said: Any
) -> None:
    """The appraisal is of 20 November 2026."""
    without_papers(screens)
    window = fill(
        screens.window("papers", CAR), **WHOLE | {"dated": "24 Nov 2026", "odometer": 121_000.0}
    )

    assert only(screens).dated == date(2026, 11, 24)
    assert "after 2026-11-20" in said(window)


def test_an_odometer_with_tenths_is_kept_with_them(screens: Any, fill: Any) -> None:
    without_papers(screens)
    fill(screens.window("papers", CAR), **WHOLE | {"odometer": 98_765.4})

    assert only(screens).odometer is not None
    assert only(screens).odometer.value == Decimal("98765.4")


def test_a_reading_in_the_other_unit_stays_in_its_unit(screens: Any, fill: Any) -> None:
    reading = {"value": "171300", "unit": "km"}
    without_papers(screens, CAR, {"kind": "invoice", "odometer": reading})
    fill(screens.window("papers", CAR), "one", note="Seen.")

    kept = only(screens).odometer
    assert kept is not None
    assert (kept.value, kept.unit) == (Decimal(171300), "km")


@pytest.mark.parametrize(
    ("typed", "day"),
    [("14/03/13", date(2013, 3, 14)), ("2013-03-14", date(2013, 3, 14)), ("", None)],
)
def test_the_date_is_read_in_the_usual_orders(
    screens: Any, fill: Any, typed: str, day: date | None
) -> None:
    """As old as the car, or not dated at all."""
    without_papers(screens)
    fill(screens.window("papers", CAR), dated=typed, note="x")

    assert only(screens).dated == day


@pytest.mark.parametrize(
    ("typed", "words"),
    [("31/31/2025", "is not a day"), ("1 Jan 2099", "lies in the future"), ("soon", "not a day")],
)
def test_a_date_that_cannot_be_is_told_and_nothing_typed_is_lost(
    screens: Any, fill: Any, said: Any, widget: Any, typed: str, words: str
) -> None:
    without_papers(screens)
    window = fill(screens.window("papers", CAR), dated=typed, issuer="Corner garage")

    assert words in said(window)
    assert screens.kept(CAR).papers == ()
    assert widget(window, "text_input", "paper.new:issuer").value == "Corner garage"
    assert widget(window, "text_input", "paper.new:dated").value == typed


def test_a_date_that_could_be_two_is_told_as_both(
    screens: Any, said: Any, widget: Any, button: Any
) -> None:
    without_papers(screens)
    window = screens.window("papers", CAR)
    button(window, "Add a paper").click().run()
    widget(window, "text_input", "paper.new:dated").set_value("03/04/2025").run()

    assert "Read as 4 March 2025; it could be 3 April 2025 too" in said(window)


def test_a_paper_marked_clear_can_be_changed(screens: Any, fill: Any) -> None:
    without_papers(screens, CAR, {"kind": "title", "brands": ["clear"]})
    fill(screens.window("papers", CAR), "one", note="Seen.")

    assert only(screens).note == "Seen."


def test_a_model_year_that_cannot_be_does_not_stop_the_page(screens: Any, said: Any) -> None:
    without_papers(screens, CAR, {"kind": "title"}, model_year=2030)
    for page in ("papers", "bid"):
        assert not screens.window(page, CAR).exception
    assert "2030 is no model year" in said(screens.window("papers", CAR))


# --- marks, the title and the list ----------------------------------------------------------------


def test_a_mark_on_a_paper_stands_grave_on_this_page_and_on_the_bid(
    screens: Any, fill: Any, bare: Any
) -> None:
    without_papers(screens)
    sheet = {"kind": PaperKind.AUCTION_CONDITION_SHEET, "brands": ["flood_damage"]}
    window = fill(screens.window("papers", CAR), **sheet)
    words = "carries the title brand 'flood damage': such a car brings 30 % to 65 % of the price"

    for page in ("papers", "bid"):
        screens.turn(window, page)
        assert words in bare(" ".join(one.value for one in window.error))
    screens.put(changed(screens.kept(CAR), ("vehicle", "title_brand"), "flood_damage"))
    assert words not in bare(" ".join(one.value for one in screens.window("bid", CAR).error))


def ticked(window: AppTest) -> set[str]:
    lines = [one.value for one in window.markdown if one.value.startswith(":material/check_box: ")]
    return {one.split("**")[1] for one in lines}


def test_the_list_ticks_itself_off_as_papers_are_added(screens: Any, fill: Any) -> None:
    without_papers(screens)
    window = screens.window("papers", CAR)
    assert ticked(window) == set()

    fill(window, kind=PaperKind.BILL_OF_SALE)
    assert ticked(window) == {"Bill of sale"}
    fill(window, kind=PaperKind.TITLE, vin=NUMBER, lien="none_named")
    assert ticked(window) >= {"Bill of sale", "Title, the original", "Identification number agrees"}


def test_a_seller_who_is_not_the_owner_is_told_until_the_name_is_right(
    screens: Any, key: Any, bare: Any
) -> None:
    without_papers(screens, CAR, {"kind": "title", "in_name": "Ada Quessern"})
    window = screens.window("papers", CAR)

    def errors(name: str) -> str:
        window.text_input(key=key(window, "deal", "seller")).set_value(name).run()
        window.run()
        return str(bare(" ".join(one.value for one in window.error)))

    assert "Bo Quorlind, is neither named owner" in errors("Bo Quorlind")
    assert "neither named owner" not in errors("Ada Quessern")


# --- own text -------------------------------------------------------------------------------------


@pytest.mark.parametrize("text", TEXTS)
def test_an_issuer_a_note_and_a_line_appear_as_text(screens: Any, bare: Any, text: str) -> None:
    paper = {
        "kind": "invoice",
        "issuer": text,
        "note": text,
        "plate": text[:20],
        "lines": [{"label": text}],
        "claims": [{"finding": "misfire", "causes": ["engine.valve_burnt"]}],
    }
    without_papers(screens, CAR, paper, plate="KLM 482")
    window = screens.window("papers", CAR)
    window.button(key="paper:one").click().run()

    assert not window.exception
    kinds = ("markdown", "caption", "error", "warning", "info", "success")
    every = [str(one.value) for kind in kinds for one in window.get(kind)]
    found = [one for one in every if text in bare(one)]
    assert found
    assert all(text not in bare(one.replace(plain(text), "")) for one in found)
    plates = [one for one in every if text[:20] in bare(one) and "plate" in one]
    assert plates
    assert all(plain(text[:20]) in one for one in plates)
    assert not [one for one in window.get("markdown") if one.allow_html]
