"""The words of a syllabus: the trade has more than one name for some things.

Everything that the project says is written with the usual names; a :class:`Wording` puts those of
a course in their place. It is applied to texts of our own as they are made, before anything that
a person wrote is put beside them: what a lesson's author or a pupil writes is never changed.

The variants are common practice: each is used by textbooks or examination syllabuses.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cached_property


@dataclass(frozen=True, slots=True)
class Term:
    """One name of a thing: in full, its tag on the board and in the notation, and the short form
    that stands alone as a heading. ``also`` are other ways to ask for it in a lesson file."""

    name: str
    tag: str = ""
    heading: str = ""
    also: tuple[str, ...] = ()


# Each thing that courses name differently: the usual name first. The forms of one place in a term
# stand for one another. Words that are short of one another (an 'instruction register' is part of
# a 'current instruction register') make no trouble: only usual names are looked for.
THINGS: tuple[tuple[Term, ...], ...] = (
    (Term("denary"), Term("decimal")),
    (
        Term("current instruction register", "CIR", "Current instruction"),
        Term("instruction register", "IR", "Instruction"),
    ),
    (
        Term("memory data register", "MDR", "Memory data"),
        Term("memory buffer register", "MBR", "Memory buffer"),
    ),
    (Term("accumulator", "ACC", "Accumulator"), Term("accumulator", "AC", "Accumulator")),
    (
        Term("arithmetic and logic unit", "ALU"),
        Term("arithmetic logic unit", "ALU"),
    ),
    (
        Term("central processing unit"),
        Term("processor"),
        Term("CPU"),
    ),
    (
        Term("register panel", "", "Registers", ("registers",)),
        Term("immediate access store", "", "Immediate access store", ("IAS",)),
    ),
)


@dataclass(frozen=True)
class Wording:
    """The terms that a course uses in place of the usual ones."""

    terms: frozenset[Term] = frozenset()

    @cached_property
    def _swaps(self) -> dict[str, str]:
        found: dict[str, str] = {}
        for usual, *others in THINGS:
            for each in others:
                if each in self.terms:
                    found |= {usual.name: each.name} | ({usual.tag: each.tag} if usual.tag else {})
        return {old: new for old, new in found.items() if old != new}

    @cached_property
    def _headings(self) -> dict[str, str]:
        return {
            usual.heading: each.heading
            for usual, *others in THINGS
            for each in others
            if each in self.terms and usual.heading
        }

    @cached_property
    def _looked_for(self) -> re.Pattern[str]:
        # Names in any case; tags as they stand.
        names = [
            re.escape(old) if old.isupper() else f"(?i:{re.escape(old)})" for old in self._swaps
        ]
        return re.compile(rf"\b(?:{'|'.join(names)})\b")

    def say(self, text: str) -> str:
        """A text of our own in the words of the course: a sentence, a heading, a name, a tag or
        a transfer in its notation."""
        if text in self._headings:
            return self._headings[text]
        return self._looked_for.sub(self._said, text) if self._swaps else text

    def _said(self, found: re.Match[str]) -> str:
        old = found[0]
        new = self._swaps.get(old) or self._swaps[old.lower()]
        return new[0].upper() + new[1:] if old[0].isupper() and not old.isupper() else new

    @property
    def names(self) -> tuple[str, ...]:
        """How the terms are asked for, in the order of the things; for a page that sends them."""
        return tuple(asked_as(each) for thing in THINGS for each in thing if each in self.terms)


USUAL = Wording()


def asked_as(term: Term) -> str:
    """The plainest way to ask for a term: its name, or its tag where its name is shared."""
    sharing = [each for thing in THINGS for each in thing if each.name == term.name]
    return term.tag if len(sharing) > 1 else term.name


def term_of(text: str) -> tuple[int, Term] | None:
    """The place of a thing among THINGS and its term that a text asks for, by name or tag or
    both (``instruction register (IR)``); None where it is none of them."""
    plain = " ".join(text.split())
    both = re.fullmatch(r"(.+?) ?\((\w+)\)", plain)
    for place, thing in enumerate(THINGS):
        for term in thing:
            forms = {each.casefold() for each in (asked_as(term), term.name, *term.also)}
            # A tag that two of them share says nothing.
            if term.tag and sum(each.tag == term.tag for each in thing) == 1:
                forms.add(term.tag.casefold())
            if both:
                named = both[1].casefold() in forms | {term.name.casefold()}
                if named and both[2].casefold() in (
                    term.tag.casefold(),
                    *map(str.casefold, term.also),
                ):
                    return place, term
            elif plain.casefold() in forms:
                return place, term
    return None


def wording_of(terms: dict[int, Term]) -> Wording:
    """The wording with these terms, each by the place of its thing."""
    return Wording(frozenset(term for place, term in terms.items() if term != THINGS[place][0]))
