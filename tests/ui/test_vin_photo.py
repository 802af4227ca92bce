"""The number of the car, read from a photo of its label beside the field."""

from __future__ import annotations

from io import BytesIO
from typing import Any

import numpy as np
import pytest
import zxingcpp
from PIL import Image
from streamlit.testing.v1 import AppTest

CAR = "dusk-curbside"
CFR = "1G4AH59H45G118341"  # 49 CFR 565.15: the worked example of the check digit
OTHER = "1XXZA05AXKA042788"
VIN = "vehicle.vin"


def photo(*texts: str) -> bytes:
    """Return a photo of a label with bar codes."""
    label, out = Image.new("L", (1000, 250 * max(1, len(texts))), 230), BytesIO()
    for at, text in enumerate(texts):
        made = zxingcpp.create_barcode(text, zxingcpp.BarcodeFormat.Code128)
        drawn = np.array(zxingcpp.write_barcode_to_image(made, scale=3))
        label.paste(Image.fromarray(drawn), (50, 40 + 250 * at))
    label.save(out, "JPEG")
    return out.getvalue()


@pytest.fixture
def window(screens: Any, key: Any) -> AppTest:
    """Return the page of the look with the car's fields and the reader open."""
    opened: AppTest = screens.window("inspect", CAR)
    opened.session_state["car-details"] = True
    opened.session_state[key(opened, "vin-photo")] = True
    opened.run()
    assert not opened.exception
    return opened


def give(window: AppTest, data: bytes, name: str = "label.jpg") -> AppTest:
    (uploader,) = [one for one in window.file_uploader if one.label == "Photo of the label"]
    uploader.set_value([(name, data, "image/jpeg")]).run()
    assert not window.exception
    return window


def offered(window: AppTest) -> list[str]:
    """Return the numbers that can be taken."""
    return [str(one.key).rsplit(":", 1)[1] for one in window.button if one.label == "Use it"]


def test_a_number_that_was_read_is_taken_and_can_be_undone(
    screens: Any, window: AppTest, widget: Any, button: Any, said: Any
) -> None:
    before = screens.kept(CAR).vehicle.vin
    give(window, photo(f"I{CFR}"))
    assert "Code 128; check digit holds" in said(window)
    assert screens.kept(CAR).vehicle.vin == before
    button(window, "Use it").click().run()

    assert not window.exception
    assert screens.kept(CAR).vehicle.vin == CFR
    assert widget(window, "text_input", VIN).value == CFR
    assert "This is the number in the field." in said(window)
    assert offered(window) == []
    button(window, "Undo").click().run()
    assert screens.kept(CAR).vehicle.vin == before
    assert widget(window, "text_input", VIN).value == before


def test_of_two_numbers_one_is_chosen(screens: Any, window: AppTest, said: Any) -> None:
    give(window, photo(CFR, OTHER))
    assert sorted(offered(window)) == [CFR, OTHER]
    assert "different numbers" in said(window)
    taken = next(one for one in window.button if str(one.key).endswith(OTHER))
    taken.click().run()

    assert screens.kept(CAR).vehicle.vin == OTHER
    assert offered(window) == [CFR]


def test_what_is_doubtful_is_told_before_it_is_taken(window: AppTest, said: Any) -> None:
    give(window, photo("1G4AH59H55G118341"))

    assert "check digit does not hold" in said(window)
    assert "the check digit would be 4" in said(window)


def test_how_it_differs_from_the_number_in_the_field_is_told(
    screens: Any, window: AppTest, widget: Any, said: Any
) -> None:
    widget(window, "text_input", VIN).set_value("1G4AH59H45G118347").run()
    assert screens.kept(CAR).vehicle.vin == "1G4AH59H45G118347"
    give(window, photo(CFR))

    assert "Against the number in the field" in said(window)
    assert "position 17" in said(window)


def test_what_is_typed_is_still_kept_and_seen_after_it_was_read(
    screens: Any, window: AppTest, widget: Any, button: Any
) -> None:
    give(window, photo(CFR))
    button(window, "Use it").click().run()
    widget(window, "text_input", VIN).set_value("typed by hand").run()

    assert screens.kept(CAR).vehicle.vin == "typed by hand"
    assert widget(window, "text_input", VIN).value == "typed by hand"
    assert offered(window) == [CFR]


def test_taking_a_number_leaves_an_open_form_as_it_is(
    window: AppTest, widget: Any, button: Any
) -> None:
    button(window, "Something wrong").click().run()
    widget(window, "text_input", ".new:label").set_value("Half typed").run()
    give(window, photo(CFR))
    button(window, "Use it").click().run()

    assert widget(window, "text_input", ".new:label").value == "Half typed"


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (b"<html><script>alert(1)</script>", "photo: is a web page"),
        (photo(CFR)[:900], "photo: the photo is damaged or cut short"),
        (b"", "photo: the file is empty"),
    ],
)
def test_what_is_refused_is_told_and_nothing_is_lost(
    screens: Any, window: AppTest, widget: Any, said: Any, data: bytes, told: str
) -> None:
    widget(window, "text_input", VIN).set_value("typed before").run()
    version = screens.version(CAR)
    give(window, data)

    assert told in said(window)
    assert screens.version(CAR) == version
    assert widget(window, "text_input", VIN).value == "typed before"
    give(window, photo(CFR))
    assert told not in said(window)
    assert offered(window) == [CFR]


def test_what_is_no_number_and_no_code_says_what_to_do(window: AppTest, said: Any) -> None:
    give(window, photo("PART-77"))
    assert "Code 128: “PART-77” is no vehicle identification number." in said(window)
    assert "Take the code beside the number itself" in said(window)
    give(window, photo())
    assert "No bar code could be read. Go closer" in said(window)
    assert offered(window) == []


def test_the_text_of_a_code_appears_as_text(window: AppTest, said: Any) -> None:
    give(window, photo("A/B*C*$X$"))
    (shown,) = [one.value for one in window.caption if "A\\/B" in one.value]

    assert "A/B*C*$X$" in said(window)
    assert not any(mark in shown.replace(f"\\{mark}", "") for mark in "*$")


def test_the_camera_is_asked_for_only_when_it_is_wanted(
    screens: Any, window: AppTest, widget: Any, button: Any
) -> None:
    assert not window.camera_input
    widget(window, "toggle", ":camera").set_value(True).run()
    window.camera_input[0].set_value(("shot.jpg", photo(CFR), "image/jpeg")).run()
    button(window, "Use it").click().run()

    assert screens.kept(CAR).vehicle.vin == CFR


def test_what_one_car_gave_is_not_offered_to_another(
    screens: Any, window: AppTest, key: Any
) -> None:
    give(window, photo(CFR))
    cars = screens.turn(window, "cars")
    cars.button(key="open:auction-engine-light").click().run()
    other = screens.turn(cars, "inspect")
    other.session_state["car-details"] = True
    other.session_state[key(other, "vin-photo")] = True
    other.run()

    assert other.session_state["car"] == "auction-engine-light"
    assert not other.exception
    assert len([one for one in other.file_uploader if one.label == "Photo of the label"]) == 1
    assert offered(other) == []


def test_a_car_changed_in_another_window_loses_neither(
    screens: Any, window: AppTest, button: Any
) -> None:
    give(window, photo(CFR))
    theirs = screens.kept(CAR).model_copy(update={"note": "written elsewhere"})
    screens.put(theirs)
    button(window, "Use it").click().run()

    assert not window.exception
    assert screens.kept(CAR).note == "written elsewhere"
    button(window, "Keep mine instead").click().run()
    assert screens.kept(CAR).vehicle.vin == CFR
