"""Numbers read from bar codes on photos.

The codes are made here by the library's own writer; the numbers are the worked examples of the
check digit in 49 CFR 565.15 and its preamble (see tests/published/test_vin.py).
"""

from __future__ import annotations

import time
from io import BytesIO
from typing import Any

import numpy as np
import pytest
import zxingcpp
from PIL import Image, ImageFilter, ImageOps
from pypdf import PdfWriter

from appraise.errors import BadFile
from appraise.intake import barcodes
from appraise.intake.barcodes import (
    LONGEST_TOLD,
    MOST_NUMBERS,
    MOST_TOLD,
    NO_NUMBER,
    NOTHING_READ,
    SECONDS,
    read_vin_codes,
)

CFR = "1G4AH59H45G118341"
OTHER = "1XXZA05AXKA042788"
WRONG = "1G4AH59H55G118341"  # its check digit would be 4
KINDS = {
    "Code 39": zxingcpp.BarcodeFormat.Code39,
    "Code 128": zxingcpp.BarcodeFormat.Code128,
    "Data Matrix": zxingcpp.BarcodeFormat.DataMatrix,
    "QR code": zxingcpp.BarcodeFormat.QRCode,
}
LOW = 10  # the bars on a label are about a tenth as high as they are long
ROOM = 4  # times: a limit on time has to hold on a busy machine too


@pytest.fixture(autouse=True)
def _time_enough(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let nothing but the test of the limit on time hang on how busy the machine is."""
    monkeypatch.setattr(barcodes, "SECONDS", 20 * SECONDS)


def code(text: str, kind: str = "Code 39", scale: int = 3) -> Image.Image:
    """Return a bar code; one of bars is low, as on a label."""
    made = zxingcpp.create_barcode(text, KINDS[kind])
    drawn = Image.fromarray(np.array(zxingcpp.write_barcode_to_image(made, scale=scale)))
    if kind in ("Code 39", "Code 128"):
        return drawn.resize((drawn.width, max(20, drawn.width // LOW)))
    return drawn


def label(*codes: Image.Image) -> Image.Image:
    """Return codes one below the other on a grayish label with room around them."""
    width = max(one.width for one in codes) + 40
    out = Image.new("L", (width, sum(one.height + 40 for one in codes) + 20), 230)
    top = 30
    for one in codes:
        out.paste(one.point(lambda level: 40 if level < 128 else 225), (20, top))
        top += one.height + 40
    return out


def scene(
    shown: Image.Image, angle: float = 0, blur: float = 0, size: tuple[int, int] = (1400, 1100)
) -> Image.Image:
    """Return a photo of a label: turned, a little blurred, unevenly lit, with noise of a sensor."""
    light = np.linspace(60, 190, size[0])[None, :] + np.zeros((size[1], 1))
    photo = Image.fromarray(light.astype("uint8"))
    edge = Image.new("L", shown.size, 255).rotate(angle, expand=True)
    turned = shown.rotate(angle, Image.Resampling.BICUBIC, expand=True)
    photo.paste(turned, ((size[0] - turned.width) // 2, (size[1] - turned.height) // 2), edge)
    if blur:
        photo = photo.filter(ImageFilter.GaussianBlur(blur))
    noise = np.random.default_rng(7).normal(0, 6, size[::-1])
    return Image.fromarray((np.array(photo) + noise).clip(0, 255).astype("uint8"))


def saved(picture: Image.Image, kind: str = "JPEG", **options: Any) -> bytes:
    out = BytesIO()
    picture.save(out, kind, **options)
    return out.getvalue()


def numbers(picture: Image.Image, **options: Any) -> list[str]:
    return [one.number for one in read_vin_codes(saved(picture, **options)).numbers]


# --- what is read ---------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("angle", [0, 90, 180])
def test_a_number_is_read_from_every_kind_of_code_whichever_way_up(kind: str, angle: int) -> None:
    found = read_vin_codes(saved(scene(label(code(CFR, kind)), angle)))

    (one,) = found.numbers
    assert (one.number, one.kinds, one.holds) == (CFR, (kind,), True)
    assert found.words == ()


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize(("angle", "blur"), [(-7, 0.0), (4, 1.0), (33, 1.0), (139, 0.0)])
def test_also_held_askew_and_a_little_blurred(kind: str, angle: int, blur: float) -> None:
    assert numbers(scene(label(code(CFR, kind, scale=4)), angle, blur)) == [CFR]


@pytest.mark.parametrize("kind", KINDS)
def test_light_on_dark_is_read(kind: str) -> None:
    assert numbers(ImageOps.invert(scene(label(code(CFR, kind))))) == [CFR]


def test_a_small_picture_is_read() -> None:
    drawn = code(CFR, scale=1)
    assert drawn.width < 300
    assert numbers(label(drawn)) == [CFR]


def test_a_large_photo_of_which_the_label_is_a_part_is_read() -> None:
    assert numbers(scene(label(code(CFR, scale=4)), size=(4000, 3000))) == [CFR]


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_every_kind_of_photo_is_read(kind: str) -> None:
    assert numbers(label(code(CFR)).convert("RGB"), kind=kind) == [CFR]


def test_a_picture_that_can_be_seen_through_is_laid_on_white() -> None:
    drawn = label(code(CFR))
    clear = Image.new("RGBA", drawn.size, (0, 0, 0, 0))
    clear.paste((0, 0, 0, 255), mask=drawn.point(lambda level: 255 if level < 128 else 0))

    assert numbers(clear, kind="PNG") == [CFR]


def test_a_photo_that_says_it_lies_on_its_side_is_turned_first() -> None:
    notes = Image.Exif()
    notes[274] = 6  # Exif 2.3, orientation
    assert numbers(scene(label(code(CFR)), 90), exif=notes.tobytes()) == [CFR]


# --- what stands before and around a number -------------------------------------------------------


@pytest.mark.parametrize("kind", KINDS)
def test_the_i_before_a_number_is_left_out(kind: str) -> None:
    assert numbers(label(code(f"I{CFR}", kind))) == [CFR]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (f"*{CFR}*", (CFR,)),
        (CFR.lower(), (CFR,)),
        ("1G4AH-59H4 5G118341", (CFR,)),
        (f"VIN{CFR}", (CFR,)),
        (f"VIN: {CFR}; color 4B7", (CFR,)),
        (f"https://example.org/car/{CFR}?from=label", (CFR,)),
        (f"[)>\x1e06\x1dI{CFR}\x1dQ1\x1e\x04", (CFR,)),  # ISO/IEC 15434; from memory
        (f"{CFR}\n{OTHER}\n{CFR}", (CFR, OTHER)),
        (f"7{OTHER}{'BLK' * 3}", (OTHER,)),  # no gap: only what its check digit vouches for
        (f"7{WRONG}{'BLK' * 3}", ()),
        (f"I{CFR[:-1]}", (f"I{CFR[:-1]}",)),  # 17 characters as a whole: told what is wrong
        (f"V{CFR}", (CFR,)),
        ("VEHICLEINSPECTION", ()),  # 17 letters
        ("a paper of ABCDEFGHJKLMNPRST", ()),  # a number ends in digits
        (f"{CFR[:-1]}", ()),
        ("١٢٣٤٥٦٧٨٩٠١٢٣٤٥٦٧", ()),  # digits of another alphabet
        ("", ()),
    ],
)
def test_the_numbers_in_a_text(text: str, expected: tuple[str, ...]) -> None:
    assert barcodes._numbers_in(text) == expected


@pytest.mark.parametrize("kind", ["Data Matrix", "QR code"])
def test_a_number_is_found_in_the_text_around_it(kind: str) -> None:
    text = f"PAINT 4B7 VIN {CFR} MADE 03/05"
    assert numbers(label(code(text, kind, scale=4))) == [CFR]


# --- more than one, and what is wrong -------------------------------------------------------------


def test_of_two_codes_the_one_with_a_check_digit_that_holds_comes_first() -> None:
    found = read_vin_codes(saved(label(code(WRONG), code(OTHER))))

    assert [(one.number, one.holds) for one in found.numbers] == [(OTHER, True), (WRONG, False)]
    assert "different numbers" in found.words[-1]
    assert any("check digit would be 4" in one.message for one in found.numbers[1].problems)


def test_one_number_in_two_codes_is_shown_once() -> None:
    (one,) = read_vin_codes(
        saved(label(code(f"I{CFR}"), code(f"VIN {CFR}", "Data Matrix", scale=5)))
    ).numbers

    assert (one.number, set(one.kinds)) == (CFR, {"Code 39", "Data Matrix"})


def test_characters_that_no_number_holds_are_told() -> None:
    found = read_vin_codes(saved(label(code("1G4AH59H45GI18341"))))

    (one,) = found.numbers
    assert one.number == "1G4AH59H45GI18341"
    assert not one.holds
    assert "I at position 12 read as 1" in one.problems[0].message


def test_a_model_year_that_differs_is_told() -> None:
    photo = saved(label(code(CFR)))  # position 10 is 5, position 7 a digit: 2005
    assert not read_vin_codes(photo, 2005).numbers[0].problems
    (told,) = read_vin_codes(photo, 2011).numbers[0].problems
    assert "the number says model year 2005, the papers say 2011" in told.message


def test_what_is_no_number_is_told_with_what_was_read() -> None:
    found = read_vin_codes(saved(label(code("PART-77", "Code 128"))))

    assert found.numbers == ()
    assert found.words == (
        "Code 128: “PART-77” is no vehicle identification number.",
        NO_NUMBER,
    )


def test_a_part_number_beside_a_number_is_told_and_does_not_hide_it() -> None:
    found = read_vin_codes(saved(label(code("PART-77", "Code 128"), code(CFR))))

    assert [one.number for one in found.numbers] == [CFR]
    assert found.words == ("Code 128: “PART-77” is no vehicle identification number.",)


def test_no_code_at_all_says_what_to_do() -> None:
    found = read_vin_codes(saved(scene(Image.new("L", (500, 100), 220))))

    assert found.numbers == ()
    assert found.words == (NOTHING_READ,)


# --- hostile --------------------------------------------------------------------------------------


def test_a_long_text_with_control_characters_is_told_short_and_on_one_line() -> None:
    found = read_vin_codes(saved(label(code("a\x00b\r\n<b>\x1b[31m" + "x" * 900, "QR code"))))

    (told, _) = found.words
    assert "\n" not in told
    assert told.startswith("QR code: “a b <b> [31mxxx")
    assert told.count("x") == LONGEST_TOLD - len("a b <b> [31m")


def test_a_code_full_of_numbers_is_cut_off_and_says_so() -> None:
    """Each of these differs in its last digits, so that most check digits do not hold."""
    many = " ".join(f"1G4AH59H45G118{at:03}" for at in range(MOST_NUMBERS + 3))
    found = read_vin_codes(saved(label(code(many, "QR code", scale=4))))

    assert len(found.numbers) == MOST_NUMBERS
    assert f"Only {MOST_NUMBERS} of {MOST_NUMBERS + 3} numbers" in found.words[-1]


def test_many_codes_without_a_number_are_not_all_told() -> None:
    codes = [code(f"PART-{at}", "QR code") for at in range(MOST_TOLD + 2)]
    found = read_vin_codes(saved(label(*codes)))

    assert len([one for one in found.words if "is no vehicle" in one]) == MOST_TOLD
    assert "2 more codes hold no number either." in found.words


def test_what_is_no_photo_is_refused() -> None:
    paper, out = PdfWriter(), BytesIO()
    paper.add_blank_page(100, 100)
    paper.write(out)
    cases = {
        b"": "the file is empty",
        b"<html><script>alert(1)</script>": "is a web page",
        b"GIF89a" + bytes(40): "is a GIF picture",
        saved(label(code(CFR)))[:900]: "the photo is damaged or cut short",
        saved(Image.new("1", (20_001, 1)), "PNG"): "20,001 by 1 pixels",
        saved(Image.new("1", (9_000, 9_000)), "PNG"): "9,000 by 9,000 pixels",
        out.getvalue(): "a PDF cannot be searched for bar codes",
        b"nothing known": "is of an unknown kind",
    }
    for data, words in cases.items():
        with pytest.raises(BadFile) as refused:
            read_vin_codes(data)
        assert words in refused.value.message
        assert refused.value.where == "photo"
        assert refused.value.hint
        assert "or a PDF" not in refused.value.hint


def test_a_picture_made_to_take_long_is_given_up(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing but bars: every line of it looks like the beginning of a code."""
    stripes = (np.arange(4000)[None, :] // 3 % 2 * 255 + np.zeros((4000, 1))).astype("uint8")
    monkeypatch.setattr(barcodes, "SECONDS", SECONDS)
    start = time.monotonic()
    found = read_vin_codes(saved(Image.fromarray(stripes)))

    assert found.numbers == ()
    assert time.monotonic() - start < SECONDS * ROOM
