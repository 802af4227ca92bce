"""The bid sheet, the work sheet and the buyer's sheet: what stands on the paper."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from appraise import services
from appraise.errors import BadCase
from appraise.models.case import Case
from appraise.models.files import Attachment
from appraise.reference.load import Reference, load_reference
from appraise.services.output.printing import bid_sheet, buyers_sheet, work_sheet
from appraise.services.ownership.bookkeeping import attach_to_entry
from appraise.services.ownership.working import attach_to_job

ON = date(2026, 11, 25)
HOSTILE = '#set page(fill: red) $x$ "quote" \\n <b>bold</b> `raw` #read("/etc/passwd")'


@pytest.fixture(scope="module")
def reference() -> Reference:
    return load_reference()


def read(paper: bytes) -> tuple[int, str]:
    """Return the pages of a paper and its text on one line."""
    found = PdfReader(BytesIO(paper))
    text = " ".join(page.extract_text() for page in found.pages)
    return len(found.pages), " ".join(text.replace("\u200b", "").split())


def car(name: str) -> Case:
    return services.load_case_file(name)


EXAMPLES = [case.id for case in services.example_cases()]


@pytest.mark.parametrize("name", EXAMPLES)
def test_the_bid_sheet_is_one_page_with_the_price_to_stop_at(
    name: str, reference: Reference
) -> None:
    case = car(name)
    found = services.appraise_case(case, reference)
    pages, text = read(bid_sheet(case, reference, ON))

    assert pages == 1
    assert ("stop here" in text) is (case.purchase is None)
    price = found.walk_away_price
    assert (f"{price:,} {case.currency}" if price is not None else "No bid") in text
    blind = [one.label for one in found.repair.by_area if not one.look]
    assert all(label in text for label in blind)


def test_bids_stand_with_all_fees_in(reference: Reference) -> None:
    """1,700 asked: fees in steps, tax and transport are in what is landed."""
    case = car("auction-engine-light")
    outcome = services.appraise_case(case, reference).outcome
    assert outcome is not None
    _, text = read(bid_sheet(case, reference, ON))

    assert f"{outcome.bid:,.0f} {outcome.landed_cost:,.0f} {outcome.margin.mean:,.0f}" in text


def test_grave_warnings_of_the_papers_stand_on_the_bid_sheet(reference: Reference) -> None:
    paper = {"id": "p", "kind": "auction_condition_sheet", "brands": ["flood_damage"]}
    marked = services.changed(car("auction-engine-light"), ("papers",), [paper])
    pages, text = read(bid_sheet(marked, reference, ON))

    assert pages == 1
    assert "Before you bid" in text
    assert "carries the title brand" in text
    assert "flood damage" in text


@pytest.mark.parametrize("name", EXAMPLES)
def test_the_sheet_of_an_owned_car_says_nothing_of_bidding_on_it(
    name: str, reference: Reference
) -> None:
    case = car(name)
    raw = [one.model_dump() for one in case.findings] + [
        {"id": "bad", "area": "brakes", "state": "faulty", "severity": "dangerous"}
    ]
    _, text = read(bid_sheet(services.changed(case, ("findings",), raw), reference, ON))

    owned = case.purchase is not None
    assert ("Before you bid" in text) is not owned
    assert ("Stops and warnings" in text) is owned
    assert ("Most it was worth paying" in text) is owned


@pytest.mark.parametrize("name", EXAMPLES)
def test_a_title_with_everything_amiss_still_fits_one_page(name: str, reference: Reference) -> None:
    title = {
        "id": "title",
        "kind": "title",
        "in_name": "A. Seller and B. Seller",
        "lien": "open",
        "title_marks": ["bonded", "duplicate", "export_only", "parts_only", "scrap"],
    }
    pages, text = read(bid_sheet(services.changed(car(name), ("papers",), [title]), reference, ON))

    assert pages == 1
    assert "lien is not released" in text
    assert "more, on the screen" in text


def test_forty_findings_still_fit_one_page(reference: Reference) -> None:
    case = car("auction-engine-light")
    raw = [one.model_dump() for one in case.findings]
    bumper = next(one for one in raw if one["id"] == "bumper")
    many = [bumper | {"id": f"more-{at}", "label": f"Scrape {at}"} for at in range(40)]
    pages, text = read(bid_sheet(services.changed(case, ("findings",), raw + many), reference, ON))

    assert pages == 1
    assert "more" in text


def test_the_work_sheet_has_open_jobs_in_order_their_parts_tools_and_cautions(
    reference: Reference,
) -> None:
    case = car("wagon-half-repaired")
    _, text = read(work_sheet(case, reference, ON))
    order = [text.index(label) for label in ("Radiator fan relay", "Temporary bypass taken out")]

    assert order == sorted(order)
    assert "Under a raised car" in text
    assert "stands with their proper pins" in text
    assert "Brake caliper wind-back tool" in text
    assert "1 x pad set, front axle, to order" in text
    assert "Alternator replaced" not in text, "what is done is done"


def test_a_prospect_has_no_work_sheet(reference: Reference) -> None:
    with pytest.raises(BadCase, match="not bought yet"):
        work_sheet(car("auction-engine-light"), reference, ON)


def test_the_buyer_is_told_what_was_done_how_it_was_proved_and_what_is_known(
    reference: Reference,
) -> None:
    case = car("wagon-half-repaired")
    _, text = read(buyers_sheet(case, reference, ON))

    assert "Alternator replaced (2026-11-14)" in text
    assert "14.3 V" in text
    assert "Front pads 3 mm" in text
    assert "bypassed since 2026-11-16" in text
    assert "108,300 mi on" in text
    assert "49 CFR 580.17" in text
    nothing = next(one for one in case.findings if one.truth and not one.truth.fault)
    assert nothing.label not in text, "what came to nothing is no fault"


def test_both_sheets_name_what_is_on_file_of_a_job(reference: Reference) -> None:
    """Counted, not shown: no picture is put on paper."""
    case = car("wagon-half-repaired")
    plain = work_sheet(case, reference, ON), buyers_sheet(case, reference, ON)
    assert not any("on file" in read(one)[1] for one in plain)
    photo = Attachment(
        id="a" * 64, name="_bay_.jpg", media_type="image/jpeg", size=700, added_on=ON
    )
    paid = next(one for one in case.work.entries if one.job == "alternator" and one.amount)
    for name in ("alternator", "fan-control"):
        case = attach_to_job(case, name, (photo,))
    case = attach_to_entry(case, paid.id, (photo,))
    work, buyer = (read(write(case, reference, ON))[1] for write in (work_sheet, buyers_sheet))

    assert buyer.count("on file: 1 photo, 1 receipt") == 1
    assert work.count("on file: 1 photo") == 1
    assert "receipt" not in work, "that job is done"
    assert "_bay_" not in work + buyer


def test_the_buyer_is_promised_nothing_but_what_the_seller_writes(reference: Reference) -> None:
    case = car("wagon-half-repaired")
    for word in ("warrant", "guarant"):
        assert word not in read(buyers_sheet(case, reference, ON))[1].lower()
    said = services.changed(case, ("sale",), {"disclosure": "Sold as seen.\nKeys: two."})

    assert "Sold as seen." in read(buyers_sheet(said, reference, ON))[1]


def test_a_reading_that_is_not_actual_is_told(reference: Reference) -> None:
    marked = services.changed(
        car("wagon-half-repaired"), ("vehicle", "title_brand"), "odometer_not_actual"
    )

    assert "do not rely on it" in read(buyers_sheet(marked, reference, ON))[1]


@pytest.mark.parametrize("write", [bid_sheet, work_sheet, buyers_sheet])
def test_what_a_person_wrote_is_text_and_no_layout(
    write: Callable[..., bytes], reference: Reference
) -> None:
    case = car("wagon-half-repaired")
    raw = case.model_dump()
    raw["title"] = HOSTILE
    raw["vehicle"] = raw["vehicle"] | {"model": "#x"}
    raw["findings"] = [one | {"label": HOSTILE} for one in raw["findings"]]
    _, text = read(write(Case.model_validate(raw), reference, ON))

    assert "root:" not in text
    assert "#x" in text


@pytest.mark.parametrize("write", [bid_sheet, work_sheet, buyers_sheet])
def test_the_same_case_gives_the_same_bytes(
    write: Callable[..., bytes], reference: Reference
) -> None:
    case = car("wagon-half-repaired")

    assert write(case, reference, ON) == write(case, reference, ON)


def test_the_command_writes_it_once_and_not_over_a_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Any
) -> None:
    from appraise import cli  # noqa: PLC0415

    def run(*arguments: str) -> int:
        monkeypatch.setattr("sys.argv", ["appraise", *arguments])
        with pytest.raises(SystemExit) as stopped:
            cli.main()
        return int(stopped.value.code or 0)

    file = tmp_path / "bid.pdf"
    assert run("sheet", "bid", "demo", str(file)) == 0
    assert file.read_bytes().startswith(b"%PDF-")
    assert run("sheet", "bid", "demo", str(file)) == 2
    assert "is there already" in capsys.readouterr().err
    assert run("sheet", "work", "demo", str(tmp_path / "work.pdf")) == 2
    assert not (tmp_path / "work.pdf").exists()
