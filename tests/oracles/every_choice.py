"""The best choice of repairs by trying every one: the check on the integer program."""

from __future__ import annotations

from itertools import chain, combinations

import numpy as np

from appraise.engine.decide.selection_items import Choice, Selection

Yes = np.ndarray[tuple[int, ...], np.dtype[np.bool_]]

MOST_REPAIRS, MOST_GROUPS = 16, 12
HOURS_SLACK = 1e-6


def enumerate_all(selection: Selection) -> Choice:
    """Return the best of every choice with every set of access groups, from the rules alone.

    Ties as documented of `choose`. Raises ValueError for more than 16 repairs or 12 groups.
    """
    items = sorted(selection.items, key=lambda one: one.name)
    access = sorted(selection.access, key=lambda one: one.name)
    count, groups = len(items), len(access)
    if count > MOST_REPAIRS or groups > MOST_GROUPS:
        raise ValueError(f"{count} repairs and {groups} access groups are too many")
    # The first name is the highest bit, so that of two choices of equal number the higher mask
    # holds the earliest name in which they differ.
    masks = np.arange(2**count)
    bits = (masks[:, None] >> np.arange(count - 1, -1, -1)) & 1 == 1
    column = {one.name: bits[:, at] for at, one in enumerate(items)}
    lawful = _lawful(selection, column, len(masks))

    def cents(amounts: list[float]) -> np.ndarray[tuple[int], np.dtype[np.int64]]:
        return np.array([round(100 * amount) for amount in amounts], dtype=np.int64)

    gain, money = cents([one.gain for one in items]), cents([one.money for one in items])
    hours = np.array([one.hours for one in items], dtype=float)
    rate = selection.hour_cost
    worth = gain - money - cents([one.hours * rate for one in items])
    group_money = cents([one.money for one in access])
    group_cost = group_money + cents([one.hours * rate for one in access])
    clean = selection.clean
    bonus = np.zeros(len(masks), dtype=np.int64)
    if clean is not None:
        whole = np.all([np.ones(len(masks), bool), *(column[name] for name in clean.items)], axis=0)
        bonus = np.where(whole, round(100 * clean.bonus), 0)
    net = bits @ worth + bonus
    most_money = np.inf if selection.money_limit is None else 100 * selection.money_limit + 1e-4
    most_hours = np.inf if selection.hours_limit is None else selection.hours_limit + HOURS_SLACK
    best = None
    for paid in chain.from_iterable(
        combinations(range(groups), size) for size in range(groups + 1)
    ):
        served = {name for at in paid for name in (access[at].name, *access[at].covers)}
        unserved = [at for at, one in enumerate(items) if not served.issuperset(one.access)]
        spent = bits @ money + sum(group_money[at] for at in paid)
        worked = bits @ hours + sum(access[at].hours for at in paid)
        fits = lawful & ~bits[:, unserved].any(axis=1)
        fits &= (spent <= most_money) & (worked <= most_hours)
        if not fits.any():
            continue
        after = net[fits] - sum(group_cost[at] for at in paid)
        chosen = bits[fits].sum(axis=1)
        at = int(np.lexsort((masks[fits], -chosen, after))[-1])
        key = (int(after[at]), -int(chosen[at]), int(masks[fits][at]))
        if best is None or key > best[0]:
            row = int(np.flatnonzero(fits)[at])
            best = (key, row, paid, int(spent[row]))
    if best is None:
        nothing: frozenset[str] = frozenset()
        return Choice(nothing, nothing, 0.0, 0.0, 0.0, 0.0, problem="no choice keeps every rule")
    key, row, paid, taken = best
    some = [one for one, yes in zip(items, bits[row], strict=True) if yes]
    return Choice(
        chosen=frozenset(one.name for one in some),
        access=frozenset(access[at].name for at in paid),
        net=key[0] / 100,
        gain=int(bits[row] @ gain + bonus[row]) / 100,
        money=taken / 100,
        hours=float(np.sum([one.hours for one in some] + [access[at].hours for at in paid])),
    )


def _lawful(selection: Selection, column: dict[str, Yes], rows: int) -> Yes:
    """Return which rows do what must be done, require and exclude what they should."""
    lawful = np.ones(rows, dtype=bool)
    for one in selection.items:
        lawful &= column[one.name] | (not one.must)
        for other in one.requires:
            lawful &= ~column[one.name] | column[other]
    for some in selection.at_most_one:
        lawful &= sum((column[name].astype(int) for name in set(some)), np.zeros(rows)) <= 1
    return lawful
