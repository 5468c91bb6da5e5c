"""Brackets in homework hold what is for the teacher: where one closes too early, pupils read the
rest."""

from __future__ import annotations

import re
from collections.abc import Iterator

_BRACKET = re.compile("[()\N{FULLWIDTH LEFT PARENTHESIS}\N{FULLWIDTH RIGHT PARENTHESIS}]")
_OPEN = "(\N{FULLWIDTH LEFT PARENTHESIS}"
# What stands before the bracket of a list: a letter, a number or a Roman one, and perhaps a dot.
_LABEL = re.compile(r"(?<!\w)(?:[^\W\d_]|[0-9]{1,2}|[ivx]{1,4})\.?$")
_LONGEST_LABEL = 6


def close_nothing(text: str) -> Iterator[int]:
    """The places of brackets that close nothing, where one before them was over already, and that
    stand behind a word: in ``(a) 7, b) 8)`` the last one. ``2)`` may start a part of the homework.
    """
    depth, closed, label = 0, False, -1
    for found in _BRACKET.finditer(text):
        at = found.start()
        if found[0] in _OPEN:
            depth += 1
        elif depth:
            depth, closed = depth - 1, True
        else:
            before = text[max(at - _LONGEST_LABEL, label + 1, 0) : at]
            named = _LABEL.search(before)
            # Right behind one part of a list no other one starts.
            alone = label >= 0 and at - label <= _LONGEST_LABEL and "\n" not in before
            if named and not (alone and not before[: named.start()].strip()):
                label = at
            elif closed and before[-1:].isalnum():
                yield at
