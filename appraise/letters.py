"""Which characters a text may hold: one fixed table, the same under every version of Python.

What Python calls printable grows with each edition of Unicode that it carries, but a car saved
under one version has to open under another. So nothing here asks what this Python knows: whatever
is not named below is kept.

The code points are those of the Unicode Standard 16.0: controls (23.1), spaces (table 6-2), joiners
and other invisible characters (23.2), formatting of direction (Annex 9, section 2), surrogates
(23.6) and noncharacters (23.7).
"""

from __future__ import annotations

import re

__all__ = ["JOINERS", "cleaned", "one_line", "plain_json", "refused_in_line", "refused_in_note"]

BREAKS = "\t\n\r"
CONTROLS = "\x00-\x1f\x7f-\x9f"
BUT_BREAKS = "\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f"
LINE_ENDS = "\u2028\u2029"
TURNING = "\u202a-\u202e\u2066-\u2069"
"""Embeddings, overrides and isolates: the text shows in another order than it is written."""
BROKEN = "\ud800-\udfff\ufffe\uffff"
"""Half a character, and two that no XML may hold (XML 1.0, section 2.2)."""
JOINERS = "\u200c\u200d"
"""Zero-width non-joiner and joiner: several scripts and most composed emoji need them."""
UNSEEN = "\u00ad\u200b\u2060\ufeff"
"""Soft hyphen, zero-width space, word joiner and byte order mark: no part of what is said."""
SPACES = "\u00a0\u1680\u202f\u205f\u3000" + "".join(map(chr, range(0x2000, 0x200B)))
MARKS = "\u061c\u200e\u200f\u206a-\u206f"
"""Marks of direction and old format characters: kept in a text, but a terminal may act on them."""

CLEANED = {
    **dict.fromkeys(map(ord, UNSEEN)),
    **dict.fromkeys(map(ord, SPACES), " "),
    **dict.fromkeys(map(ord, LINE_ENDS), "\n"),
}
NOT_IN_A_LINE = re.compile(f"[{CONTROLS}{LINE_ENDS}{TURNING}{BROKEN}]")
NOT_IN_A_NOTE = re.compile(f"[{BUT_BREAKS}{TURNING}{BROKEN}]")
NOT_ON_A_TERMINAL = re.compile(f"[{CONTROLS}{LINE_ENDS}{TURNING}{BROKEN}{UNSEEN}{MARKS}]")


def cleaned(text: str) -> str:
    r"""Return a text with plain spaces and line feeds for all others, and nothing unseen in it.

    Examples
    --------
    >>> cleaned("\ufeff4\u202f150 mi, soft\u00adly\u200d")
    '4 150 mi, softly'
    """
    return text.translate(CLEANED).strip(" " + BREAKS + JOINERS)


def refused_in_line(text: str) -> bool:
    """Whether a text holds what one line cannot: a line break, a control, a turn of direction."""
    return NOT_IN_A_LINE.search(text) is not None


def refused_in_note(text: str) -> bool:
    """Whether a text of several lines holds a control or a turn of direction."""
    return NOT_IN_A_NOTE.search(text) is not None


def one_line(text: str) -> str:
    r"""Return text on one line, what a terminal could obey or would not show written out.

    Examples
    --------
    >>> one_line("a\nb")
    'a\\nb'
    """
    return NOT_ON_A_TERMINAL.sub(lambda found: repr(found[0])[1:-1], text)


def plain_json(json_text: str) -> str:
    r"""Return JSON as it was, what a terminal could obey in it escaped as JSON escapes it.

    Examples
    --------
    >>> plain_json('["caf\u00e9\u202e"]')
    '["café\\u202e"]'
    """
    return NOT_ON_A_TERMINAL.sub(lambda found: _escaped(found[0]), json_text)


def _escaped(letter: str) -> str:
    if letter == "\n":
        return letter
    units = letter.encode("utf-16-be", "surrogatepass")
    return "".join(f"\\u{units[at : at + 2].hex()}" for at in range(0, len(units), 2))
