"""The page of the proof: measurements, the car's answers, logged pulls, and a job called done."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from appraise.models.case import Case
from appraise.models.work import PlannedJob, Stage
from appraise.services import changed, today
from appraise.services.ownership.proving import finish_job
from appraise.services.ownership.working import plan_from_findings, start_bypass
from ui.session import cached
from ui.widgets.show import plain

CAR = "farm-truck-owned"
PADS = "rear-pads-and-rotors"
PAD_LIMIT, LASH = "rule.pad_thickness", "us_570.steering_lash"
"""At least 4 mm of pad; steering free play at most 2 in with a 16 in wheel (49 CFR 570.7(a))."""
TEXT = "**bold** [a link](http://example.org) :red[x] <b>y</b>"


def planned(screens: Any, *more: Callable[[Case], Case]) -> Case:
    """Keep the car with jobs planned from its findings, and nothing done."""
    case = changed(screens.kept(CAR), ("work",), {})
    findings = [one.model_dump() | {"truth": None} for one in case.findings]
    case = plan_from_findings(changed(case, ("findings",), findings), cached.reference()).case
    for change in more:
        case = change(case)
    kept: Case = screens.put(case)
    return kept


@pytest.fixture
def window(screens: Any) -> AppTest:
    planned(screens)
    opened: AppTest = screens.window("test", CAR)
    return opened


def job(screens: Any, name: str = PADS) -> PlannedJob:
    found = screens.kept(CAR).work.job(name)
    assert found is not None
    return found  # type: ignore[no-any-return]


def open_job(window: AppTest, name: str = PADS, box: str = "Measure") -> AppTest:
    if f"prove:{name}" in [one.key for one in window.button]:
        window.button(key=f"prove:{name}").click().run()
    window.session_state[f"proof-boxes:{name}"] = box
    window.run()
    assert not window.exception
    return window


@pytest.fixture
def measure(widget: Any) -> Callable[..., AppTest]:
    """Return what takes a measurement of the opened job."""

    def go(
        window: AppTest, typed: str, limit: str = PAD_LIMIT, name: str = PADS, **more: Any
    ) -> AppTest:
        open_job(window, name)
        box = widget(window, "selectbox", f"prove.{name}.limit")
        box.set_value(limit).run()
        start = f"prove.{name}.limit:{limit}:"
        (go_key,) = [one.key for one in window.button if start in str(one.key)]
        end = str(go_key).removesuffix(":go")
        widget(window, more.pop("kind", "text_input"), f"{end}:typed").set_value(typed)
        for field, value in more.items():
            kind = "number_input" if field == "by" else "text_input"
            widget(window, kind, f"{end}:{field}").set_value(value)
        widget(window, "button", f"{end}:go").click().run()
        assert not window.exception
        return window

    return go


@pytest.fixture
def done(widget: Any) -> Callable[..., AppTest]:
    """Return what presses Done for the opened job."""

    def go(window: AppTest, name: str = PADS, why: str = "", on: date | None = None) -> AppTest:
        open_job(window, name)
        end = f"prove.{name}.done"
        if why:
            widget(window, "text_input", f"{end}:why").set_value(why)
        if on is not None:
            widget(window, "date_input", f"{end}:on").set_value(on)
        widget(window, "button", f"{end}:go").click().run()
        assert not window.exception
        return window

    return go


# --- what is there ----------------------------------------------------------------------------


def test_a_car_not_bought_yet_leads_to_the_look(screens: Any, said: Any) -> None:
    window = screens.window("test", "dusk-curbside")

    assert "not bought yet" in said(window)
    assert [one.value for one in window.get("page_link")][-1] == "Enter the purchase"


def test_without_jobs_it_leads_to_the_work(screens: Any, said: Any) -> None:
    screens.put(changed(screens.kept(CAR), ("work",), {}))
    window = screens.window("test", CAR)

    assert "No job is planned yet" in said(window)
    assert [one.value for one in window.get("page_link")][-1] == "Plan the work"


def test_every_job_but_those_dropped_is_listed_with_what_would_prove_it(
    screens: Any, said: Any
) -> None:
    case = planned(
        screens, lambda case: changed(case, ("work", "jobs", "air-filter", "stage"), "dropped")
    )
    window = screens.window("test", CAR)
    told, progress = said(window), window.get("progress")
    reference = cached.reference()

    for one in case.work.jobs:
        label = reference.jobs[one.job].job.label
        assert (f"**{label}**" in told) is (one.stage is not Stage.DROPPED)
    assert reference.limits["rule.rotor_variation"].label in told
    assert len(case.work.jobs) == 9
    assert [one.proto.text for one in progress] == ["0 of 8 jobs done and tested"]


def test_a_finding_s_codes_are_named_as_what_would_prove_its_job(screens: Any, said: Any) -> None:
    def with_code(case: Case) -> Case:
        return changed(case, ("findings", "service", "codes"), ["P0420"])

    planned(screens, with_code)

    assert "P0420 gone and its monitor complete" in said(screens.window("test", CAR))


def test_many_jobs_are_shown_a_page_at_a_time(screens: Any) -> None:
    jobs = [{"id": f"job-{at}", "job": "brakes.bleed", "quantity": 1} for at in range(45)]
    screens.put(changed(screens.kept(CAR), ("work",), {"jobs": jobs}))
    window = screens.window("test", CAR)
    assert sum(str(one.key).startswith("prove:") for one in window.button) == 20
    window.number_input[0].set_value(3).run()

    keys = [one.key for one in window.button if str(one.key).startswith("prove:")]
    assert keys == [f"prove:job-{at}" for at in range(40, 45)]


# --- measurements -----------------------------------------------------------------------------


def test_a_reading_that_passes_is_kept_with_its_figures_and_source(
    screens: Any, window: AppTest, measure: Any, said: Any
) -> None:
    measure(window, "10 mm", place="left rear")
    (kept,) = job(screens).proof.measurements

    assert (kept.typed, kept.place, kept.value, kept.measured_on) == (
        "10 mm",
        "left rear",
        Decimal(10),
        today(),
    )
    told = said(window)
    assert ":material/check: **passes**: " in told
    assert "10 mm; at least 4 mm passes" in told
    assert "Source: " in told
    assert not window.error


def test_a_reading_that_fails_is_kept_and_said_in_a_word(
    screens: Any, window: AppTest, measure: Any, said: Any, bare: Any
) -> None:
    measure(window, "1 mm")

    assert len(job(screens).proof.measurements) == 1
    assert "Fails: " in bare(window.error[0].value)
    assert ":material/close: **fails**: " in said(window)


def test_every_limit_can_be_searched_those_of_the_job_first(window: AppTest, widget: Any) -> None:
    limits = cached.reference().limits
    options = widget(open_job(window), "selectbox", f"prove.{PADS}.limit").options

    assert len(options) == len(limits)
    near = [one.label for one in limits.values() if "brakes.rear_pads_and_rotors" in one.jobs]
    brakes = [one.label for one in limits.values() if one.area.value == "brakes"]
    assert all(any(label in one for label in near) for one in options[: len(near)])
    assert all(any(label in one for label in brakes) for one in options[: len(brakes)])


def test_a_limit_of_another_area_and_what_it_hangs_on(
    screens: Any, window: AppTest, measure: Any, said: Any
) -> None:
    """16 in wheel: 2 in of free play at most, 49 CFR 570.7(a), Table 1."""
    measure(window, "1.9 in", LASH)
    assert "cannot tell" in said(window)
    measure(window, "1.9 in", LASH, by=16.0)

    assert [one.by for one in job(screens).proof.measurements] == [None, Decimal("16.0")]
    assert ":material/check: **passes**: " in said(window)


def test_a_question_is_answered_with_yes_or_no(screens: Any, window: AppTest, measure: Any) -> None:
    measure(window, "yes", "us_570.rotor_thickness", kind="button_group")

    assert [one.answer for one in job(screens).proof.measurements] == [True]


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("thin", "'thin' is not a measurement"),
        ("", "Nothing is given"),
        ("3 psi", "psi"),
        ("50000000", "must be 10,000,000 or less"),
    ],
)
def test_what_is_no_measurement_is_said_and_stays_in_its_field(
    screens: Any, window: AppTest, measure: Any, widget: Any, bare: Any, typed: str, words: str
) -> None:
    version = screens.version(CAR)
    measure(window, typed, place="left rear")

    assert words in bare(window.error[0].value)
    assert screens.version(CAR) == version
    end = f"prove.{PADS}.limit:{PAD_LIMIT}:0"
    assert widget(window, "text_input", f"{end}:typed").value == typed
    assert widget(window, "text_input", f"{end}:place").value == "left rear"


def test_a_wrong_measurement_is_removed_and_can_be_brought_back(
    screens: Any, window: AppTest, measure: Any
) -> None:
    measure(window, "1 mm")
    (wrong,) = job(screens).proof.measurements
    measure(window, "9 mm")
    window.button(key=f"unprove:{PADS}:measurement:{wrong.id}").click().run()

    assert [one.value for one in job(screens).proof.measurements] == [Decimal(9)]
    window.button(key="undo-button").click().run()
    assert [one.value for one in job(screens).proof.measurements] == [Decimal(1), Decimal(9)]


# --- done -------------------------------------------------------------------------------------


def test_a_job_whose_proof_passes_is_done_on_the_day_said(
    screens: Any, window: AppTest, measure: Any, done: Any, said: Any
) -> None:
    day = today().replace(day=1)
    measure(window, "10 mm")
    done(window, on=day)

    assert (job(screens).stage, job(screens).done_on) == (Stage.DONE, day)
    assert "Done: Rear brake pads and rotors" in said(window)
    assert f"again:{PADS}" in [one.key for one in window.button]


def test_a_job_without_proof_is_refused_in_words_until_it_is_said_why(
    screens: Any, window: AppTest, done: Any, bare: Any
) -> None:
    version = screens.version(CAR)
    done(window, "air-filter")
    assert "Not done without a test" in bare(window.error[0].value)
    assert screens.version(CAR) == version

    done(window, "air-filter", why="nothing to measure")
    assert (job(screens, "air-filter").stage, job(screens, "air-filter").proof.why_none) == (
        Stage.DONE,
        "nothing to measure",
    )


def test_a_failing_proof_is_refused_and_nothing_typed_is_lost(
    screens: Any, window: AppTest, measure: Any, done: Any, widget: Any, bare: Any
) -> None:
    measure(window, "1 mm")
    end = f"prove.{PADS}.limit:{PAD_LIMIT}:1"
    widget(window, "text_input", f"{end}:typed").set_value("9 mm")
    day = today().replace(day=1)
    done(window, on=day)

    assert "Not done, the test fails" in bare(window.error[-1].value)
    assert job(screens).stage is Stage.PLANNED
    assert widget(window, "text_input", f"{end}:typed").value == "9 mm"
    assert widget(window, "date_input", f"prove.{PADS}.done:on").value == day
    assert not [one for one in window.text_input if str(one.key).endswith("done:why")]


def test_a_job_done_before_it_was_begun_is_refused(screens: Any, done: Any, bare: Any) -> None:
    def begun(case: Case) -> Case:
        rows = [
            one.model_dump() | {"stage": "started", "started_on": today()} for one in case.work.jobs
        ]
        return changed(case, ("work", "jobs"), rows)

    planned(screens, begun)
    window = screens.window("test", CAR)
    done(window, "air-filter", why="none", on=date(2020, 1, 1))

    assert "before it was begun" in bare(window.error[-1].value)
    assert job(screens, "air-filter").stage is Stage.STARTED


def test_a_job_without_the_day_is_refused(
    screens: Any, window: AppTest, widget: Any, button: Any, bare: Any
) -> None:
    open_job(window, "air-filter")
    widget(window, "text_input", "prove.air-filter.done:why").set_value("nothing to measure")
    widget(window, "date_input", "prove.air-filter.done:on").set_value(None)
    button(window, "Done").click().run()

    assert not window.exception
    assert "without the day" in bare(window.error[-1].value)
    assert job(screens, "air-filter").stage is Stage.PLANNED


def test_a_done_job_can_be_begun_again_and_that_be_undone(screens: Any) -> None:
    planned(
        screens, lambda case: finish_job(case, "air-filter", today(), cached.reference(), "none")
    )
    window = screens.window("test", CAR)
    window.button(key="again:air-filter").click().run()

    assert not window.exception
    assert (job(screens, "air-filter").stage, job(screens, "air-filter").done_on) == (
        Stage.STARTED,
        None,
    )
    window.button(key="undo-button").click().run()
    assert job(screens, "air-filter").stage is Stage.DONE


def test_finishing_a_bypass_restores_the_control(screens: Any, done: Any, said: Any) -> None:
    def bypassed(case: Case) -> Case:
        return start_bypass(
            case, "Purge valve", "stuck", "fit the new valve", today(), cached.reference()
        )

    planned(screens, bypassed)
    window = screens.window("test", CAR)
    assert "Purge valve bypassed since" in said(window)
    done(window, "bypass-purge-valve", why="the valve clicks again")

    bypass = job(screens, "bypass-purge-valve").bypass
    assert bypass is not None
    assert bypass.restored_on == today()
    assert "Purge valve bypassed since" not in said(window)


def test_a_done_job_whose_proof_no_longer_holds_is_told_at_the_top(screens: Any, bare: Any) -> None:
    def late(case: Case) -> Case:
        done = finish_job(case, PADS, today(), cached.reference(), "none")
        wrong = {"id": "m", "limit": PAD_LIMIT, "value": 1, "unit": "mm"}
        return changed(done, ("work", "jobs", PADS, "proof", "measurements"), [wrong])

    planned(screens, late)
    window = screens.window("test", CAR)

    assert "the test fails" in bare(" ".join(one.value for one in window.warning))


# --- own text ---------------------------------------------------------------------------------


def test_what_a_person_typed_appears_as_text(screens: Any, bare: Any) -> None:
    def own(case: Case) -> Case:
        case = changed(case, ("findings", "rear-brakes", "label"), TEXT)
        case = start_bypass(case, TEXT, TEXT, TEXT, today(), cached.reference())
        pull = {"quantity": TEXT, "unit": "psi", "after": 1, "low": 1, "high": 2}
        case = changed(case, ("work", "jobs", PADS, "proof", "pull"), pull)
        measured = {"id": "m", "limit": PAD_LIMIT, "value": 9, "unit": "mm", "place": TEXT}
        case = changed(case, ("work", "jobs", PADS, "proof", "measurements"), [measured])
        return changed(case, ("work", "jobs", "air-filter", "proof", "why_none"), TEXT)

    planned(screens, own)
    window = open_job(screens.window("test", CAR))
    kinds = ("markdown", "caption", "error", "warning", "info", "success")
    found = [
        str(one.value) for kind in kinds for one in window.get(kind) if TEXT in bare(str(one.value))
    ]

    assert len(found) >= 6
    assert all(TEXT not in bare(one.replace(plain(TEXT), "")) for one in found)
    assert not [one for one in window.get("markdown") if one.allow_html]
