"""Trouble codes that a standard numbers in a row, spelled out from a range and one label."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import product

__all__ = ["spelled_out"]

RANGE = re.compile(r"([PCBU][0-3][0-9A-F])([0-9A-F]{2})(?:-\1([0-9A-F]{2})(?:/(\d+))?)?")
WORDS = re.compile(r"\{([^{}]+)\}")
NUMBERS = re.compile(r"(\d+)-(\d+)")
LETTERS = re.compile(r"([A-Z])-([A-Z])")


def spelled_out(codes: str, label: str) -> Iterator[dict[str, str]]:
    """Yield every code with a label of its own, in the order of both.

    Parameters
    ----------
    codes : codes and ranges with blanks between, each range within one hundred: `P0301-P0312`,
        every third of them `P0263-P0296/3`. A range counts in tens where both its ends are
        written without a letter in the last two places, else in sixteens.
    label : `{circuit|low|high}`, `{1-12}` or `{A-F}` stands for a word of each code; of several,
        the last turns fastest.

    Raises
    ------
    ValueError
        What stands there is no range, or there are more labels than codes or fewer.

    Examples
    --------
    >>> [one["label"] for one in spelled_out("P0131-P0132 P0151-P0152", "bank {1-2} {low|high}")]
    ['bank 1 low', 'bank 1 high', 'bank 2 low', 'bank 2 high']
    """
    names = [name for part in codes.split() for name in _names(part)]
    pieces = [_words(one) if at % 2 else [one] for at, one in enumerate(WORDS.split(label))]
    labels = ["".join(one) for one in product(*pieces)]
    if len(names) != len(labels):
        raise ValueError(f"{codes}: {len(names)} codes with {len(labels)} labels")
    for name, words in zip(names, labels, strict=True):
        yield {"code": name, "label": words}


def _names(part: str) -> list[str]:
    found = RANGE.fullmatch(part)
    if found is None:
        raise ValueError(f"{part} is no code and no range of codes")
    first, last = found[2], found[3] or found[2]
    base, digits = (10, "02d") if (first + last).isdigit() else (16, "02X")
    numbers = range(int(first, base), int(last, base) + 1, int(found[4] or 1))
    return [f"{found[1]}{number:{digits}}" for number in numbers]


def _words(choice: str) -> list[str]:
    """Return the words of a choice: numbers, letters, or as they stand."""
    if numbers := NUMBERS.fullmatch(choice):
        return [str(one) for one in range(int(numbers[1]), int(numbers[2]) + 1)]
    if letters := LETTERS.fullmatch(choice):
        return [chr(one) for one in range(ord(letters[1]), ord(letters[2]) + 1)]
    return choice.split("|")
