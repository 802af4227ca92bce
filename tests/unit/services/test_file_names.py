"""File names from anywhere, made harmless."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from appraise.intake.file_names import clean_name, ending_of
from appraise.models.files import LONGEST_NAME, Attachment, MediaType

PDF: MediaType = "application/pdf"

LONG = "invoice " * 70


@pytest.mark.parametrize(
    ("name", "kept"),
    [
        ("Invoice 12.pdf", "Invoice 12.pdf"),
        ("../../etc/passwd", "passwd.pdf"),
        ("..\\..\\x", "x.pdf"),
        ("C:\\x\\y.jpg", "y.pdf"),
        ("C:y.pdf", "C_y.pdf"),
        ("/", "paper.pdf"),
        ("a/b/", "b.pdf"),
        ("bill\0.pdf", "bill.pdf"),
        ("bill.pdf\0.jpg", "bill.pdf.pdf"),
        ("bill\r\nSet-Cookie: a.pdf", "bill Set-Cookie_ a.pdf"),
        ("\u202efdp.exe", "fdp.pdf"),
        ("in\u200bvoice\ud800.pdf", "invoice.pdf"),
        (".htaccess", "htaccess.pdf"),
        ("...", "paper.pdf"),
        ("..pdf", "pdf.pdf"),
        (".pdf", "pdf.pdf"),
        ("", "paper.pdf"),
        ("   ", "paper.pdf"),
        ("CON", "_CON.pdf"),
        ("con.pdf", "_con.pdf"),
        ("Lpt1.tar.pdf", "_Lpt1.tar.pdf"),
        ("console.pdf", "console.pdf"),
        ("bill.pdf.exe", "bill.pdf.pdf"),
        ("bill.exe", "bill.pdf"),
        ("bill.PDF", "bill.PDF"),
        ("bill. .pdf", "bill.pdf"),
        ("bill.pdf. ", "bill.pdf"),
        ("of 12.03.2026", "of 12.03.2026.pdf"),
        ('<b>"a|b?*', "_b__a_b__.pdf"),
        ("Rechnung für Öl.pdf", "Rechnung für Öl.pdf"),
        ("Rechnung fu\u0308r O\u0308l.pdf", "Rechnung für Öl.pdf"),
        ("請求書.pdf", "請求書.pdf"),
        (LONG, f"{LONG[:116].rstrip()}.pdf"),
        ("x" * 500 + ".pdf", "x" * 116 + ".pdf"),
    ],
)
def test_a_name_is_made_harmless(name: str, kept: str) -> None:
    found = clean_name(name, PDF)

    assert found == kept
    assert clean_name(found, PDF) == found
    attached = Attachment(
        id="0" * 64, name=found, media_type=PDF, size=1, added_on=date(2026, 11, 20)
    )
    assert attached.name == found


@pytest.mark.parametrize(
    ("name", "media_type", "kept"),
    [
        ("", "image/jpeg", "photo.jpg"),
        ("", None, "file"),
        ("light.JPEG", "image/jpeg", "light.JPEG"),
        ("light.HEIC", "image/jpeg", "light.jpg"),
        ("light", "image/png", "light.png"),
        ("light.jpg", "image/webp", "light.webp"),
        ("x/light.html", None, "light.html"),
        ("nul", None, "_nul"),
    ],
)
def test_the_ending_says_what_it_is_where_that_is_known(
    name: str, media_type: MediaType | None, kept: str
) -> None:
    assert clean_name(name, media_type) == kept


def test_a_name_is_never_too_long_nor_empty_whatever_comes() -> None:
    dice = np.random.default_rng(3)
    alphabet = "a.b/\\ :\0\u202e\u0308\ud800é車*?\n-_CONconpdfjg"
    for _ in range(2_000):
        name = "".join(dice.choice(list(alphabet), size=dice.integers(0, 300)))
        found = clean_name(name, PDF)
        assert 0 < len(found) <= LONGEST_NAME
        assert Attachment(
            id="0" * 64, name=found, media_type=PDF, size=1, added_on=date(2026, 11, 20)
        )
        assert ending_of(found) == ".pdf"
