"""A zoom through sizes: stations from large to small, each a name and a length.

The teacher writes only lengths; every conversion, comparison and scale bar is computed, exactly,
from them. All lengths here are Fractions of a metre.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from app.lesson.entries import Piece, Wrong, read_entries
from app.machine.source.problems import Problem, capital, listed

from .number_words import power_of_ten, roughly
from .si import METRE, PREFIXES, parse_quantity, prefix_of, show_quantity

MOST_STATIONS = 40
LONGEST_NAME = 60


@dataclass(frozen=True, slots=True)
class Station:
    """One size of the zoom: ``length`` in metres, ``text`` the length as it was written."""

    name: str
    length: Fraction
    text: str
    line: int
    column: int

    @property
    def shown(self) -> str:
        """The length with a prefix that leaves 1 to 999 before the unit, to three digits."""
        return show_length(self.length)


@dataclass(frozen=True, slots=True)
class Scale:
    """The stations of a scene, from large to small; step 0 is the first."""

    stations: tuple[Station, ...]

    @property
    def last_step(self) -> int:
        return len(self.stations) - 1

    def comparison(self, step: int) -> str:
        """How the station of a step compares with the one before; empty at the first.

        Raises IndexError where there is no such station.
        """
        if step < 1:
            return ""
        return compare(self.stations[step - 1], self.stations[step])

    def comparison_with_first(self, step: int) -> str:
        """How the station of a step compares with the first; empty where that says no more."""
        return compare(self.stations[0], self.stations[step]) if step > 1 else ""


def show_length(length: Fraction) -> str:
    """A length in metres with a readable prefix, such as ``80 µm``."""
    return show_quantity(length, METRE)


def times(larger: Fraction, smaller: Fraction) -> Fraction:
    """How many times as long one length is as the other (both in the same unit)."""
    return larger / smaller


def compare(before: Station, now: Station) -> str:
    """In words, computed: ``A hair: 125 times narrower than a fingernail.``"""
    if now.length == before.length:
        return f"{capital(now.name)}: just as wide as {before.name}."
    if now.length < before.length:
        ratio, word = times(before.length, now.length), "narrower"
    else:
        ratio, word = times(now.length, before.length), "wider"
    return f"{capital(now.name)}: {roughly(ratio)} times {word} than {before.name}."


def meaning(length: Fraction) -> str:
    """What the unit means that a length (in metres) is shown in, such as ``A micrometre is a
    millionth of a metre and a thousandth of a millimetre.``; empty for whole metres."""
    prefix = prefix_of(length)
    if not prefix.exponent:
        return ""
    towards_metre = -3 if prefix.exponent > 0 else 3
    nearer = next(each for each in PREFIXES if each.exponent == prefix.exponent + towards_metre)
    parts = []
    # Beyond a trillion there is no word that a class knows; the next prefix says enough.
    if abs(prefix.exponent) in _SIZES:
        parts.append(_share(prefix.exponent, "metre"))
    if nearer.exponent:
        parts.append(_share(-towards_metre, f"{nearer.name}metre"))
    article = "An" if prefix.name[0] in "aeiou" else "A"
    return f"{article} {prefix.name}metre is {listed(parts, 'and')}."


_SIZES = {3: "thousand", 6: "million", 9: "billion", 12: "trillion"}


def _share(exponent: int, unit: str) -> str:
    """``a millionth of a metre`` for -6, ``a million metres`` for 6."""
    size = _SIZES[abs(exponent)]
    if exponent > 0:
        return f"a {size} {unit}s"
    return f"a {size}th of {'an' if unit[0] in 'aeiou' else 'a'} {unit}"


def bar_length(view: Fraction, most: Fraction = Fraction(1, 3)) -> Fraction:
    """The length, in metres, that a scale bar stands for in a view so many metres wide.

    The longest of the series 1, 2, 5, 10, 20 ... (times a power of ten) that takes up no more
    than the share ``most`` of the view. Raises ValueError for a view that is not more than 0.
    """
    if view <= 0 or not 0 < most <= 1:
        raise ValueError("a view is more than 0 wide, and its bar takes up a share of it")
    room = view * most
    power = Fraction(10) ** power_of_ten(room)
    return max(each * power for each in (1, 2, 5) if each * power <= room)


def read_scale(text: str, first_line: int) -> tuple[Scale | None, list[Problem]]:
    """The stations of a ``scale`` block, one ``name: length`` a line."""
    problems: list[Problem] = []
    stations: list[Station] = []
    entries = read_entries(text, first_line)
    for entry in entries[:MOST_STATIONS]:
        halves = entry.at_colon()
        if not halves or not halves[0].text or not halves[1].text:
            what = "A line of a scale is a name, a colon, and a length."
            problems.append(entry.whole.problem(what, "Write for example 'a hair: 80 µm'."))
            continue
        name, length = halves
        try:
            stations.append(_station(name, length))
        except Wrong as wrong:
            problems.append(length.problem(wrong.what, wrong.mend))
    if len(entries) > MOST_STATIONS:
        what = f"The scale has {len(entries)} lines."
        mend = f"A scale may have {MOST_STATIONS}; make two scenes of it."
        problems.append(entries[MOST_STATIONS].whole.problem(what, mend))
    if not entries:
        what = "The scale is empty."
        problems.append(Problem(first_line, 1, 1, what, "Write for example 'a hair: 80 µm'."))
    if problems:
        return None, problems
    return Scale(tuple(stations)), _order(stations)


def _station(name: Piece, length: Piece) -> Station:
    if len(name.text) > LONGEST_NAME:
        raise Wrong(
            f"The name before this length has {len(name.text)} letters.",
            f"Keep it under {LONGEST_NAME + 1}, so that it fits the board.",
        )
    value = parse_quantity(length.text, METRE)
    return Station(name.text, value, length.text, length.line, length.column)


def _order(stations: list[Station]) -> list[Problem]:
    found = []
    for before, now in pairwise(stations):
        if now.length < before.length:
            continue
        how = "as long as" if now.length == before.length else "longer than"
        found.append(
            Problem(
                now.line,
                now.column,
                len(now.text),
                f"The zoom goes from large to small, but {now.text} ({now.name}) is {how}"
                f" {before.text} ({before.name}).",
                f"Write {now.name} further up, or look at the unit.",
                warning=True,
            )
        )
    return found
