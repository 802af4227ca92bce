"""The page of the cars: new ones, files, copies, and taking one away."""

from __future__ import annotations

import json
from decimal import Decimal
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from appraise.models.case import Case
from appraise.models.vehicle import Distance, Fuel, Vehicle
from appraise.services import case_text, example_cases, new_case, today
from ui.session import cached

CAR = "auction-engine-light"


@pytest.fixture
def window(screens: Any) -> AppTest:
    opened: AppTest = screens.window("cars")
    return opened


def fill(window: AppTest, **given: Any) -> AppTest:
    """Fill in the form for a new car and send it."""
    window.session_state["add"] = True
    window.run()
    labels = {"make": "Make", "model": "Model", "year": "Model year", "odometer": "Odometer, mi"}
    for name, value in given.items():
        kind = "text_input" if name in {"make", "model"} else "number_input"
        next(one for one in window.get(kind) if one.label == labels[name]).set_value(value)
    next(one for one in window.button if one.label == "Add this car").click().run()
    assert not window.exception
    return window


def told(window: AppTest) -> str:
    return "\n".join(one.value.replace("\\", "").replace("\u2060", "") for one in window.error)


def listed(window: AppTest) -> list[str]:
    """Return the cars that can be opened, in the order of the list."""
    keys = [str(one.key) for one in window.button if one.key]
    return [one.removeprefix("open:") for one in keys if one.startswith("open:")]


def test_a_new_car_is_kept_and_opened_on_the_page_of_the_look(screens: Any, said: Any) -> None:
    window = fill(screens.window(), make="Brasquell", model="Tivvick", year=2015, odometer=90_000)

    assert [one.value for one in window.title] == ["Inspect"]
    kept = screens.kept("2015-brasquell-tivvick")
    assert (kept.vehicle.make, kept.vehicle.model_year) == ("Brasquell", 2015)
    assert (kept.vehicle.odometer.value, kept.vehicle.odometer.unit) == (90_000, "mi")
    assert kept.appraised_on == today()
    assert "Brasquell" in said(window)


def test_two_cars_of_one_name_are_two_cars(screens: Any) -> None:
    for _ in range(2):
        fill(screens.window(), make="Brasquell", model="Tivvick", year=2015, odometer=90_000)

    assert (
        screens.kept("2015-brasquell-tivvick-2").title
        == screens.kept("2015-brasquell-tivvick").title
    )


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"model": "Tivvick", "year": 2015, "odometer": 90_000}, "Make: is empty"),
        ({"make": "Brasquell", "year": 2015, "odometer": 90_000}, "Model: is empty"),
        ({"make": "Brasquell", "model": "Tivvick", "odometer": 90_000}, "model year"),
        ({"make": "Brasquell", "model": "Tivvick", "year": 2015}, "odometer"),
        (
            {"make": "Brasquell", "model": "Tivvick", "year": 1700, "odometer": 90_000},
            "Model year: must be 1886 or later, not 1700",
        ),
        (
            {"make": "Brasquell", "model": "Tivvick", "year": 3000, "odometer": 90_000},
            "Model year: 3000 is still to come",
        ),
        (
            {"make": "Brasquell", "model": "Tivvick", "year": 2015, "odometer": -1},
            "Odometer",
        ),
    ],
    ids=["no make", "no model", "no year", "no odometer", "year 1700", "year 3000", "odometer -1"],
)
def test_a_new_car_that_cannot_be_is_refused_naming_the_field(
    window: AppTest, given: dict[str, Any], words: str
) -> None:
    before = listed(window)
    fill(window, **given)

    assert words in told(window)
    assert listed(window) == before
    assert [one.value for one in window.title] == ["Cars"]


def test_what_was_typed_stays_in_the_form_when_it_is_refused(window: AppTest) -> None:
    fill(window, make="Brasquell", model="Tivvick", odometer=90_000)

    assert [one.value for one in window.text_input if one.label == "Make"] == ["Brasquell"]


def upload(window: AppTest, name: str, content: bytes) -> AppTest:
    window.file_uploader[0].set_value((name, content, "application/json")).run()
    window.button(key="add-file").click().run()
    assert not window.exception
    return window


def test_a_file_that_was_saved_is_opened_under_an_id_of_its_own(
    screens: Any, window: AppTest
) -> None:
    upload(window, "mine.json", case_text(screens.kept(CAR)).encode())

    assert [one.value for one in window.title] == ["Inspect"]
    copy = screens.kept(f"{CAR}-2")
    before = screens.kept(CAR)
    title = f"{before.title} (copy)"
    assert copy == before.model_copy(update={"id": f"{CAR}-2", "title": title})


def broken(**changes: Any) -> bytes:
    raw = json.loads(case_text(example_cases()[0]))
    raw.update(changes)
    return json.dumps(raw).encode()


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"{", "not JSON"),
        (b"", "not JSON"),
        (b"[1]", "not a case"),
        (b"\xff\xfe\x00", "not text in UTF-8"),
        (broken(currency="usd"), "currency"),
        (broken(color="red"), "color"),
        (broken(schema_version=99), "newer program"),
    ],
    ids=["cut off", "empty", "a list", "no text", "a wrong value", "unknown field", "newer"],
)
def test_a_broken_file_says_why_and_adds_nothing(
    window: AppTest, content: bytes, words: str
) -> None:
    before = listed(window)
    upload(window, "broken.json", content)

    assert words in told(window)
    assert listed(window) == before


def test_a_removed_car_can_be_brought_back(screens: Any, window: AppTest, button: Any) -> None:
    before, case = sorted(listed(window)), screens.kept(CAR)
    window.button(key=f"remove:{CAR}").click().run()

    assert f"open:{CAR}" not in [one.key for one in window.button]
    assert screens.removed() == {CAR}
    button(window, "Undo").click().run()
    assert sorted(listed(window)) == before
    assert screens.kept(CAR) == case


def test_the_open_car_that_is_removed_is_no_longer_open(screens: Any, said: Any) -> None:
    window = screens.window("cars", CAR)
    window.button(key=f"remove:{CAR}").click().run()

    assert not window.exception
    assert "No car is open." in said(screens.turn(window, "bid"))


def test_a_car_removed_in_another_window_is_said_to_be_gone(
    screens: Any, window: AppTest, said: Any
) -> None:
    other = screens.window("bid", CAR)
    window.button(key=f"remove:{CAR}").click().run()
    other.run()

    assert not other.exception
    assert "No car is open." in said(other)
    assert "not here any more" in said(screens.turn(other, "cars"))


def test_a_copy_is_a_car_of_its_own(screens: Any, window: AppTest) -> None:
    window.button(key=f"copy:{CAR}").click().run()

    assert not window.exception
    assert f"open:{CAR}-2" in [one.key for one in window.button]
    assert screens.kept(f"{CAR}-2").market == screens.kept(CAR).market


def test_a_car_without_comparables_says_in_the_list_that_it_has_no_price(
    screens: Any, said: Any
) -> None:
    fill(screens.window(), make="Brasquell", model="Tivvick", year=2015, odometer=90_000)
    window = screens.window("cars")

    assert not window.exception
    assert said(window).count("No price yet") == 1


def many(screens: Any, number: int) -> None:
    car = Vehicle(
        make="Brasquell",
        model="Tivvick",
        model_year=2015,
        fuel=Fuel.GASOLINE,
        odometer=Distance(value=Decimal(90_000), unit="mi"),
    )
    taken: list[str] = []
    for _ in range(number):
        made = new_case(car, screens.preferences(), today(), taken)
        taken.append(made.id)
        screens.add(made)


def test_many_cars_are_shown_in_pages(screens: Any) -> None:
    many(screens, 30)
    window = screens.window("cars")
    assert len(listed(window)) == 20

    turn = next(one for one in window.number_input if one.label.startswith("Page"))
    first = set(listed(window))
    turn.set_value(2).run()
    second = set(listed(window))
    assert len(second) == 30 + len(example_cases()) - 20
    assert not first & second
    assert not window.exception


def test_a_page_full_of_cars_has_a_bearable_number_of_buttons(screens: Any) -> None:
    """About 100 widgets a page; each car has four."""
    many(screens, 30)
    window = screens.window("cars")
    kinds = ("button", "download_button", "number_input", "text_input", "selectbox")

    assert sum(len(window.get(kind)) for kind in kinds) <= 110  # "about 100": 20 cars of 4 or 5


def offered(number: int) -> None:
    """Keep a car that was sold."""
    example = next(one for one in example_cases() if one.id == "farm-truck-owned")
    raw = example.model_dump() | {
        "id": f"sold-{number}",
        "title": f"Sold {number}",
        "standing": "sold",
        "work": {},
        "sale": {"price": "4000", "sold_on": today()},
    }
    cached.workspace().cases.add(Case.model_validate(raw))


def test_the_count_of_cars_sold_is_told_with_its_section(screens: Any) -> None:
    """The sixth offer in twelve months is a dealer's (16 CFR 455.1(d)(3))."""
    for number in range(5):
        offered(number)
    window = screens.window("cars")

    assert any("16 CFR 455" in one.value.replace("\\", "") for one in window.warning)
    assert any("5 used cars offered or sold" in one.value for one in window.warning)


def test_nothing_is_said_of_sales_before_there_are_any(screens: Any) -> None:
    window = screens.window("cars")

    assert not [one for one in window.subheader if "Offered and sold" in one.value]
