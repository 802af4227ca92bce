"""Which repairs to do: worked by hand, one rule at a time."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace
from typing import Any

import pytest
from every_choice import enumerate_all

from appraise.engine.decide.frontier import frontier
from appraise.engine.decide.selection import choose, net_of
from appraise.engine.decide.selection_items import Access, Choice, Clean, Item, Selection


def item(name: str, gain: float, money: float = 0.0, hours: float = 0.0, **more: Any) -> Item:
    return Item(name, gain, money, hours, **more)


def picked(selection: Selection) -> str:
    """Return the names chosen, after seeing that trying every choice says the same."""
    best = choose(selection)
    assert best == enumerate_all(selection)
    assert best == net_of(selection, best.chosen)
    assert best.proven
    assert not best.problem
    return " ".join(sorted(best.chosen))


TRANSMISSION_OUT = Access("transmission out", money=0, hours=6)
CLUTCH = item("clutch", 300, 150, 1, access=("transmission out",))
SEAL = item("seal", 100, 10, 0.5, access=("transmission out",))


def test_access_is_paid_once() -> None:
    """At 20 an hour access is 120: the clutch alone brings 10, the seal loses 40, both bring 90."""
    both = Selection((CLUTCH, SEAL), (TRANSMISSION_OUT,), hour_cost=20)
    best = choose(both)

    assert picked(both) == "clutch seal"
    assert best.access == {"transmission out"}
    assert (best.net, best.gain, best.money, best.hours) == (90, 400, 160, 7.5)
    assert picked(replace(both, items=(CLUTCH,))) == "clutch"
    assert net_of(both, frozenset({"clutch"})).net == 10
    assert picked(replace(both, items=(SEAL,))) == ""
    assert net_of(both, frozenset({"seal"})).net == -40


def test_two_that_do_not_pay_alone_may_pay_together() -> None:
    selection = Selection((replace(CLUTCH, gain=280), SEAL), (TRANSMISSION_OUT,), hour_cost=20)

    assert [net_of(selection, frozenset({one})).net for one in ("clutch", "seal")] == [-10, -40]
    assert picked(selection) == "clutch seal"
    assert choose(selection).net == 70


def test_a_larger_teardown_serves_what_the_smaller_ones_would() -> None:
    items = (item("a", 100, access=("left",)), item("b", 100, access=("right",)))
    small = (Access("left", 20, 0), Access("right", 30, 0))
    for cost, paid in ((40, {"all off"}), (60, {"left", "right"})):
        selection = Selection(items, (*small, Access("all off", cost, 0, ("left", "right"))))

        assert picked(selection) == "a b"
        assert choose(selection).access == paid
        assert choose(selection).net == 200 - min(cost, 50)


def test_of_access_that_costs_the_same_the_fewest_groups_are_paid() -> None:
    items = (item("a", 100, access=("left",)), item("b", 100, access=("right",)))
    groups = (Access("left", 20, 1), Access("right", 30, 1))
    larger = Access("whole side", 50, 2, ("left", "right"))

    assert choose(Selection(items, (*groups, larger), hour_cost=10)).access == {"whole side"}


def test_a_group_that_is_needed_and_larger_serves_the_smaller_as_well() -> None:
    items = (item("a", 100, access=("wheel off",)), item("b", 100, access=("raised",)))
    groups = (Access("raised", 10, 0), Access("wheel off", 15, 0, ("raised",)))

    assert choose(Selection(items, groups)).access == {"wheel off"}
    assert choose(Selection(items[1:], groups)).access == {"raised"}


def test_what_a_covered_group_covers_counts_only_where_it_is_named() -> None:
    items = (item("a", 100, access=("small",)), item("b", 100, access=("large",)))
    groups = (Access("small", 10, 0), Access("middle", 1, 0, ("small",)))
    large = Access("large", 5, 0, ("middle",))

    assert choose(Selection(items, (*groups, large))).access == {"large", "middle"}
    named = replace(large, covers=("middle", "small"))
    assert choose(Selection(items, (*groups, named))).access == {"large"}


def test_one_is_chosen_only_with_what_it_requires() -> None:
    """The paint brings 300 but only on a straight panel, which costs 200 more than it brings."""
    paint = item("paint", 300, requires=("panel",))

    assert picked(Selection((paint, item("panel", 0, 200)))) == "paint panel"
    assert picked(Selection((paint, item("panel", 0, 310)))) == ""


def test_requirements_reach_further_and_round_in_circles() -> None:
    chain = (
        item("a", 100, requires=("b",)),
        item("b", 0, 30, requires=("c",)),
        item("c", 0, 30, requires=("a",)),
    )

    assert picked(Selection(chain)) == "a b c"
    assert picked(Selection((replace(chain[0], gain=59), *chain[1:]))) == ""


def test_what_must_be_done_is_done_at_a_loss_with_what_it_requires() -> None:
    items = (
        item("brakes", 50, 200, must=True, requires=("fluid",)),
        item("fluid", 0, 10),
        item("radio", 5, 20),
    )

    assert picked(Selection(items)) == "brakes fluid"
    assert choose(Selection(items)).net == -160


def test_what_must_be_done_requires_further_than_one_step() -> None:
    """The last of three takes the money: nothing can be chosen, and the word counts all three."""
    items = (
        item("a", 50, must=True, requires=("b",)),
        item("b", 0, requires=("c",)),
        item("c", 0, 100),
    )

    assert picked(Selection(items, money_limit=100)) == "a b c"
    assert "(a, b, c) takes 100.00 or more" in choose(Selection(items, money_limit=99)).problem


def test_of_those_that_exclude_each_other_the_better_is_chosen() -> None:
    items = (item("new", 500, 300), item("used", 400, 120), item("none of them", 10))

    selection = Selection(items, at_most_one=(("new", "used"),))
    assert picked(selection) == "none of them used"
    assert picked(replace(selection, at_most_one=())) == "new none of them used"


def test_the_clean_car_s_bonus_may_tip_what_does_not_pay() -> None:
    """Three that each lose 20: worth it for a bonus over 60, and not a cent under."""
    items = tuple(item(name, 30, 50) for name in "abc")
    for bonus, names in ((60.01, "a b c"), (60.0, ""), (59.99, "")):
        assert picked(Selection(items, clean=Clean(bonus, ("a", "b", "c")))) == names


def test_a_clean_car_with_nothing_to_do_has_its_bonus() -> None:
    assert choose(Selection((), clean=Clean(100, ()))).net == 100


def test_limits_bind_to_the_cent_and_to_the_hour() -> None:
    items = (item("a", 500, 100, 2), item("b", 400, 60.01, 1.5), item("c", 300, 40, 0.5))
    all_limits = {
        (None, None): "a b c",
        (200.01, None): "a b c",
        (200.00, None): "a b",
        (160.00, None): "a c",
        (100.01, 4.0): "b c",
        (100.00, 4.0): "a",
        (100.00, 1.9): "b",
        (None, 3.5): "a b",
        (None, 3.49): "a c",
        (0.0, None): "",
    }
    for (money, hours), names in all_limits.items():
        assert picked(Selection(items, money_limit=money, hours_limit=hours)) == names
    assert picked(Selection(items, money_limit=float("inf"))) == "a b c"


def test_hours_that_only_floats_carry_over_the_limit_keep_it() -> None:
    items = (item("a", 10, hours=0.1), item("b", 10, hours=0.2))
    assert 0.1 + 0.2 > 0.3

    assert picked(Selection(items, hours_limit=0.3)) == "a b"
    assert picked(Selection(items, hours_limit=0.29999)) == "a"


def test_access_is_chosen_so_that_the_limits_hold() -> None:
    """The quick way costs 50 money, the slow one 4 hours at 10: the cheaper breaks the limit."""
    items = (item("a", 200, access=("way",)),)
    groups = (Access("way", 50, 0), Access("slow way", 0, 4, ("way",)))
    free = Selection(items, groups, hour_cost=10)

    assert choose(free).access == {"slow way"}
    assert picked(replace(free, hours_limit=3)) == "a"
    assert choose(replace(free, hours_limit=3)).access == {"way"}
    assert picked(replace(free, hours_limit=3, money_limit=49)) == ""
    told = net_of(replace(free, hours_limit=3, money_limit=49), frozenset({"a"}))
    assert told.net == 160
    assert "the money limit is 49.00, the hours limit is 3.00, this choice can keep each" in (
        told.problem
    )


def test_among_equals_the_fewest_are_chosen() -> None:
    two = (item("a", 30), item("b", 30), item("c", 60), item("z", 0))

    assert picked(Selection(two, at_most_one=(("a", "c"), ("b", "c")))) == "c"


def test_a_pointless_job_is_never_chosen() -> None:
    items = (item("nothing", 0), item("even", 40, 40), item("to the cent", 10.00, 9.99))

    assert picked(Selection(items)) == "to the cent"
    best = choose(Selection((*items, item("needy", 5, requires=("nothing",)))))
    assert best.chosen == {"to the cent", "needy", "nothing"}


def test_amounts_count_to_the_cent() -> None:
    selection = Selection((item("a", 100.004, 10.006, 1 / 3),), hour_cost=10)

    best = choose(selection)
    assert (best.gain, best.money, best.net) == (100.0, 10.01, 86.66)
    assert best.hours == 1 / 3


MUST = (
    item("brakes", 0, 120, 3, must=True, access=("raised",)),
    item("tire", 0, 100, 1, must=True),
    item("radio", 50),
)
RAISED = (Access("raised", 0, 0.5), Access("lift hired", 30, 0, ("raised",)))
WHO = "what must be done, with all it needs, (brakes, tire)"


@pytest.mark.parametrize(
    ("limits", "told"),
    [
        ({"money_limit": 219.99}, f"the money limit is 219.99, {WHO} takes 220.00 or more; raise"),
        ({"hours_limit": 3.9}, f"the hours limit is 3.90, {WHO} takes 4.00 or more; raise it"),
        (
            {"money_limit": 249.99, "hours_limit": 4.25},
            f"the money limit is 249.99, the hours limit is 4.25, {WHO} can keep each but not both",
        ),
        ({"money_limit": 0}, f"the money limit is 0.00, {WHO} takes 220.00 or more; raise it or"),
        (
            {"at_most_one": (("radio", "brakes", "tire"),)},
            (
                "what must be done, with all it needs, holds brakes, tire, of which only one can "
                "be chosen; let one go"
            ),
        ),
    ],
)
def test_where_nothing_can_be_chosen_it_says_why(limits: dict[str, Any], told: str) -> None:
    selection = Selection(MUST, RAISED, **limits)
    none = choose(selection)

    assert told in none.problem
    assert (none.chosen, none.access, none.net) == (frozenset(), frozenset(), 0)
    assert enumerate_all(selection).problem
    assert frontier(selection).points == ()
    assert frontier(selection).problem == none.problem


def test_limits_that_what_must_be_done_just_keeps() -> None:
    for limits in ({"money_limit": 250, "hours_limit": 4}, {"money_limit": 220}):
        assert picked(Selection(MUST, RAISED, **limits)) == "brakes radio tire"


def test_what_a_must_requires_may_clash() -> None:
    items = (item("a", 0, must=True, requires=("b",)), item("b", 0), item("c", 0))

    assert (
        "holds a, b, of which only one"
        in choose(Selection(items, at_most_one=(("a", "b"),))).problem
    )
    assert picked(Selection(items, at_most_one=(("a", "c"),))) == "a b"


def test_a_choice_that_breaks_a_rule_is_told_so_and_valued_all_the_same() -> None:
    items = (
        item("a", 100, 10, requires=("b",)),
        item("b", 0, 5),
        item("c", 50, 20),
        item("d", 0, must=True),
    )
    selection = Selection(items, at_most_one=(("a", "c"),), money_limit=25)
    told = net_of(selection, frozenset("ac"))

    assert told.problem.split("; ") == [
        "must be done but not chosen: d",
        "a needs what is not chosen: b",
        "only one of these can be chosen: a, c",
        "the money limit is 25.00, this choice takes 30.00 or more",
    ]
    assert (told.net, told.money, told.chosen) == (120, 30, {"a", "c"})


def test_nothing_to_choose_from() -> None:
    assert choose(Selection(())) == Choice(frozenset(), frozenset(), 0, 0, 0, 0)
    assert frontier(Selection(())).points == (choose(Selection(())),)


def test_the_solver_is_imported_only_when_it_is_asked() -> None:
    work = "import sys, appraise.engine.decide.selection; print('scipy.optimize' in sys.modules)"
    done = subprocess.run(  # noqa: S603 - our own words only
        [sys.executable, "-c", work], capture_output=True, text=True, check=True
    )

    assert done.stdout.strip() == "False"
