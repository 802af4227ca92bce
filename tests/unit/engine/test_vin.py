"""Reading numbers as people write them, and comparing two papers."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from appraise.engine.papers.vin import read_vin
from appraise.engine.papers.vin_compare import compare
from appraise.engine.papers.vin_country import ORDER, maker_place
from appraise.engine.papers.vin_parts import NEVER, VALUES, alike, check_digit, model_years, tidy

GOOD = "1G4AH59H45G118341"
GERMAN = "WXXZZZ1AZ6A000001"

numbers = st.text(alphabet=ORDER, min_size=17, max_size=17)
any_text = st.text(alphabet=st.characters(exclude_categories=()), max_size=40)
nearly = st.text(alphabet=ORDER + "IOQ -*\u0410\u00df\uff11\u0661", min_size=14, max_size=20)


def with_check(number: str) -> str:
    return number[:8] + check_digit(number).due + number[9:]


def swapped(number: str, position: int, other: str) -> str:
    return number[: position - 1] + other + number[position:]


# --- as written -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "text",
    [
        GOOD,
        GOOD.lower(),
        " 1G4 AH59H 4 5G 118341\n",
        "1G4-AH59H-45-G118341",
        "*1G4AH59H45G118341*",
        "1G4\u00a0AH59H\u201345G\u2212118341\u200b\ufeff",
    ],
)
def test_spaces_dashes_stars_and_small_letters_do_not_matter(text: str) -> None:
    found = read_vin(text)

    assert (found.text, found.number, found.problems) == (GOOD, GOOD, ())


@pytest.mark.parametrize("text", ["", "   ", "--", "**", "\u200b"])
def test_nothing_written_is_said_to_be_nothing(text: str) -> None:
    (problem,) = read_vin(text).problems

    assert problem.weight == "stop"
    assert problem.message.startswith("no number is written")


@pytest.mark.parametrize(
    ("one", "name"),
    [
        ("\u0410", "\u0410 (U+0410 cyrillic capital letter a) at position 4"),
        ("\u0391", "\u0391 (U+0391 greek capital letter alpha) at position 4"),
        ("\uff21", "\uff21 (U+FF21 fullwidth latin capital letter a) at position 4"),
        ("\u0661", "\u0661 (U+0661 arabic-indic digit one) at position 4"),
        ("\u00df", "\u00df (U+00DF latin small letter sharp s) at position 4"),
        ("\u0131", "\u0131 (U+0131 latin small letter dotless i) at position 4"),
        ("\u0301", "(U+0301 combining acute accent) at position 4"),
        ("\ud800", "(U+D800 without a name) at position 4"),
        (".", "'.' at position 4"),
        ("\x00", "'\\x00' at position 4"),
    ],
)
def test_what_is_no_latin_letter_or_digit_is_named(one: str, name: str) -> None:
    """Capitals of other alphabets would pass for Latin ones: none is changed without a word."""
    found = read_vin(f"1G4{one}H59H45G118341")

    (problem,) = found.problems
    assert problem.message.startswith(f"{name}: a number holds only")
    assert (problem.weight, found.number, found.check) == ("stop", "", None)


def test_many_strange_characters_are_counted_after_three() -> None:
    (problem,) = read_vin("." * 17).problems

    assert "'.' at position 3, and 14 more: " in problem.message


def test_a_short_number_may_be_older_than_the_standard() -> None:
    """The year 1981 is from memory."""
    (unsaid,) = read_vin("3F02R123456").problems
    assert (unsaid.weight, "before model year 1981" in unsaid.message) == ("stop", True)
    (old,) = read_vin("3F02R123456", 1973).problems
    assert (old.weight, "not of this standard" in old.message) == ("note", True)
    assert read_vin("3F02R123456", 1980).problems[0].weight == "note"
    (late,) = read_vin("3F02R123456", 1981).problems
    assert (late.weight, "1981" in late.message) == ("stop", False)
    assert read_vin("1").problems[0].message.startswith("1 character, 16 too few")


@pytest.mark.parametrize(
    ("text", "holds"), [("1M8GDM9AXKPO42788", "then holds"), ("1M8GDM9AXKPO42789", "not hold")]
)
def test_a_proposed_reading_says_whether_the_check_digit_bears_it_out(
    text: str, holds: str
) -> None:
    first = read_vin(text).problems[0]

    assert first.weight == "warning"
    assert "O at position 12 read as 0" in first.message
    assert holds in first.message


# --- check digit ----------------------------------------------------------------------------------


def test_a_failed_check_digit_weighs_in_north_america_only() -> None:
    """49 CFR 565 binds cars for sale in the United States."""
    (american,) = read_vin(swapped(GOOD, 4, "B")).problems
    german = read_vin(GERMAN).problems[0]

    assert (american.weight, german.weight) == ("warning", "note")
    assert "position 9 is 4 and the check digit would be 9" in american.message
    assert "the check digit would be 4" in german.message
    assert "sold new in the United States" in german.hint


@pytest.mark.parametrize(
    ("start", "required"),
    [
        *((start, True) for start in ("1G", "2T", "3V", "45", "5Y", "7S")),
        *((start, False) for start in ("7A", "6G", "JH", "WV", "9B", "AA")),
    ],
)
def test_where_the_check_digit_is_required(start: str, *, required: bool) -> None:
    """By the first character, and 7F to 70, which are of the United States too (from memory)."""
    assert read_vin(start + GOOD[2:]).required is required


def test_a_letter_that_is_never_a_check_digit_is_said_to_be_none() -> None:
    (problem,) = read_vin(swapped(GOOD, 9, "E")).problems

    assert "position 9 is E and the check digit would be 4, and E is never one" in problem.message
    assert "never one" not in read_vin(swapped(GOOD, 9, "X")).problems[0].message


@pytest.mark.parametrize(
    ("position", "misread", "hint"),
    [(10, "S", "5 for S at position 10"), (14, "B", "8 for B at position 14")],
)
def test_a_likely_misreading_that_would_hold_is_offered(
    position: int, misread: str, hint: str
) -> None:
    found = read_vin(swapped(GOOD, position, misread))

    assert hint in next(one.hint for one in found.problems if "check digit" in one.message)


@given(number=numbers)
def test_what_is_offered_holds_and_is_at_most_three(number: str) -> None:
    found = read_vin("1G" + number[2:])
    assert found.check is not None
    hints = [one.hint for one in found.problems if "check digit would be" in one.message]
    offered = [
        part.split(" at position ")
        for hint in hints
        if "hold with " in hint
        for part in hint.split("hold with ")[1].split(". ")[0].split("; ")
    ]

    assert bool(hints) is not found.check.holds
    assert len(offered) <= 3
    for swap, position in offered:
        new, old = swap.split(" for ")
        assert found.number[int(position) - 1] == old
        assert check_digit(swapped(found.number, int(position), new)).holds


def test_of_many_readings_that_hold_three_are_offered() -> None:
    many = "1XX1SZ5U51SS51057"
    hold = [
        (at, other)
        for at, one in enumerate(many, 1)
        for other in ORDER
        if alike(one, other) and check_digit(swapped(many, at, other)).holds
    ]
    hint = next(one.hint for one in read_vin(many).problems if "would be" in one.message)

    assert len(hold) > 3
    assert hint.count(" at position ") == 3


@pytest.mark.parametrize("one", ["1", "0", "A"])
def test_one_character_seventeen_times_is_a_placeholder(one: str) -> None:
    assert any("a placeholder" in problem.message for problem in read_vin(one * 17).problems)
    assert not any("a placeholder" in problem.message for problem in read_vin(GOOD).problems)


# --- model year -----------------------------------------------------------------------------------


def test_a_paper_with_another_model_year_is_told_apart() -> None:
    assert read_vin(GOOD, 2005).problems == ()
    (other,) = read_vin(GOOD, 2006).problems
    assert other.weight == "warning"
    assert "the number says model year 2005, the papers say 2006" in other.message
    assert "recurs" not in other.hint
    (cycle,) = read_vin(GOOD, 2035).problems
    assert "from 2010 on position 7 is a letter, here it is 9" in cycle.message
    assert "heavy vehicle the code recurs after 30 years" in cycle.hint


def test_outside_north_america_position_7_tells_nothing_unless_the_check_digit_holds() -> None:
    """A car built for the American market follows the rule wherever it was built."""
    assert read_vin(GERMAN).years == (2006, 2036)
    assert read_vin("JXXAA055X7A000001").years == (2007,)
    assert read_vin(swapped("JXXAA055X7A000001", 9, "4")).years == (2007, 2037)


@pytest.mark.parametrize("year", [2006, 2036])
def test_either_year_of_a_foreign_number_agrees_with_the_papers(year: int) -> None:
    said = [one.message for one in read_vin(GERMAN, year).problems]

    assert not any("papers say" in one for one in said)
    (other,) = (one for one in read_vin(GERMAN, 2011).problems if "papers say" in one.message)
    assert other.weight == "note"
    assert "2006 or 2036, the papers say 2011" in other.message


def test_both_years_are_told_with_the_reason() -> None:
    (abroad,) = (one for one in read_vin(GERMAN).problems if "position 7" in one.message)
    (heavy,) = read_vin(GOOD, light=False).problems

    assert "2006 or 2036: position 7 does not tell outside North America" in abroad.message
    assert "2005 or 2035: position 7 does not tell of a heavy vehicle" in heavy.message


def test_the_letter_of_position_7_is_asked_of_light_vehicles_only() -> None:
    """49 CFR 565.15(b)."""
    (heavy,) = (one for one in read_vin(GOOD, 2011, light=False).problems if "say" in one.message)

    assert "the number says model year 2005 or 2035, the papers say 2011 (" in heavy.message


def test_the_last_five_are_asked_of_american_numbers_only() -> None:
    """49 CFR 565.15(d) binds cars for sale in the United States."""
    assert not any("(d))" in one.message for one in read_vin("WXXZZZ1AZ6A0A0001").problems)
    assert any("(d))" in one.message for one in read_vin("1XXZZZ1AZ6A0A0001").problems)


def test_no_year_is_read_from_too_short_a_text() -> None:
    assert model_years("1G4") == ()


# --- makers ---------------------------------------------------------------------------------------


def test_a_maker_s_country_that_is_in_no_list_is_said() -> None:
    (problem,) = read_vin(with_check("AS1CL5BE?EA104417")).problems

    assert problem.message.startswith("AS is given to no country")
    assert problem.weight == "note"


@pytest.mark.parametrize("text", ["", "1", "I1", "1O", "\u0410A", "a1"])
def test_no_place_is_made_up(text: str) -> None:
    assert maker_place(text).words == "unknown"


# --- two papers -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("second", "result", "words", "weight"),
    [
        (swapped(GOOD, 10, "S"), "one differs", "5 against S at position 10 (easily", "warning"),
        (swapped(GOOD, 10, "S"), "one differs", "fits the first only", "warning"),
        (swapped(GOOD, 14, "B"), "one differs", "8 against B at position 14 (easily", "warning"),
        (swapped(GOOD, 4, "J"), "one differs", "cannot tell which is right", "warning"),
        (swapped(GOOD, 9, "D"), "one differs", "fits the first only", "warning"),
        (swapped(GOOD, 12, "I"), "same if misread", "never stand in a number", "note"),
        (GOOD[:14] + "431", "neighbors swapped", "3 against 4 at position 15", "warning"),
        (GOOD[:14] + "413", "several differ", "they differ at 3 positions", "warning"),
        (GOOD[1:], "one left out", "one lacks 1 at position 1 ", "warning"),
        (GOOD[:-1], "one left out", "one lacks 1 at position 17 ", "warning"),
        (GOOD + "1", "one left out", "one lacks 1 at position 18 ", "warning"),
        (
            swapped(swapped(GOOD, 11, "8"), 14, "G"),
            *("several differ", "G against 8 at position 11, 8 against G", "warning"),
        ),
        (GOOD[2:], "several differ", "one has 17 characters, the other 15", "warning"),
        (GERMAN, "several differ", "may speak of two cars", "warning"),
        ("", "cannot tell", "the second number is not written", "stop"),
    ],
)
def test_what_sets_two_papers_apart(second: str, result: str, words: str, weight: str) -> None:
    found = compare(GOOD, second)

    (problem,) = found.problems
    assert found.result == result
    assert words in problem.message
    assert problem.weight == weight
    assert problem.hint


def test_a_number_written_otherwise_is_the_same() -> None:
    assert compare(GOOD, " 1g4ah59h-45g118341 ").result == "same"
    assert compare(GOOD, GOOD).problems == ()


def test_what_is_not_written_is_named() -> None:
    assert compare("", GOOD).problems[0].message.startswith("the first number is not written")
    assert compare("", " ").problems[0].message.startswith("neither number is written")


def test_a_misread_letter_beside_one_difference_leaves_one_difference() -> None:
    second = swapped(swapped(GOOD, 12, "I"), 10, "S")
    found = compare(GOOD, second)

    assert found.result == "one differs"
    assert [one.position for one in found.differences] == [10, 12]
    assert "fits the first only" in found.problems[0].message


def test_numbers_of_no_standard_are_compared_letter_by_letter() -> None:
    """Before the standard I and O may be meant."""
    found = compare("3F02R123456", "3F02R12345O")
    assert found.result == "one differs"
    assert "no check digit" in found.problems[0].message
    assert compare("3F02R123451", "3F02R12345I").result == "one differs"


def test_no_more_than_five_differences_are_listed() -> None:
    (problem,) = compare("1" * 17, "2" * 17).problems

    assert "differ at 17 positions: " in problem.message
    assert ", and 12 more" in problem.message
    assert problem.message.count("1 against 2") == 5


@pytest.mark.parametrize("pair", ["0O", "1I", "5S", "8B", "2Z", "6G", "UV"])
def test_lookalikes_are_alike_both_ways(pair: str) -> None:
    assert alike(pair[0], pair[1])
    assert alike(pair[1], pair[0])
    assert not alike(pair[0], pair[0])
    assert not alike(pair[0], "X")


@given(number=numbers, at=st.integers(1, 17), other=st.sampled_from(ORDER))
def test_comparing_tells_which_is_right_just_if_the_check_digit_can(
    number: str, at: int, other: str
) -> None:
    right = with_check(number)
    wrong = swapped(right, at, other)
    found = compare(wrong, right)

    if wrong == right:
        assert found.result == "same"
    else:
        (difference,) = found.differences
        blind = at != 9 and VALUES[other] == VALUES[right[at - 1]]
        assert (difference.position, difference.same_value) == (at, blind)
        said = found.problems[0].message
        assert ("cannot tell" if blind else "fits the second only") in said


# --- whatever is written --------------------------------------------------------------------------


@given(text=any_text | nearly, year=st.none() | st.integers(1800, 2200), light=st.booleans())
def test_any_text_gives_a_clear_word(text: str, year: int | None, *, light: bool) -> None:
    found = read_vin(text, year, light=light)
    stops = [one for one in found.problems if one.weight == "stop"]

    assert bool(stops) is (not found.number and found.problems[-1].weight != "note")
    assert bool(found.number) is (
        len(found.text) == 17 and all(one in VALUES or one in NEVER for one in found.text)
    )
    for one in found.problems:
        assert one.where == "vehicle.vin"
        assert len(one.message) > 20
        assert one.hint or one.weight == "note"
    assert tidy(found.text) == found.text


@given(first=any_text | nearly, second=any_text | nearly)
def test_any_two_texts_compare_alike_both_ways(first: str, second: str) -> None:
    there, back = compare(first, second), compare(second, first)

    assert there.result == back.result
    assert (there.result == "same") is (not there.problems)
    assert [one.position for one in there.differences] == [one.position for one in back.differences]
