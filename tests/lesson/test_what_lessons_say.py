"""Every number that a lesson says is what the run bears out.

The numbers are read from the text, and what they must be is worked out by the hardware description:
see ``said/claims.py``. A number that no claim knows is a failure, too: write its claim in
``said/claims.txt``, or say there why no run can bear it out. What stands in programs, inputs, cases
and choices is not said but run; 'one' and 'nought' are held where a claim names them.
"""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace

import pytest

from .said.claims import LESSONS, Unit, claims, complaints, context, free, units
from .said.numbers import changed, numbers, value
from .said.plain import KINDS, false_words, found_in
from .said.reasons import given, idle, is_true, known, knows

STATUSES = ("LESS", "EQUAL", "MORE")
EVERY = pytest.mark.parametrize("slug", LESSONS)


def said(slug: str) -> list[Unit]:
    """What a lesson says: its text, and the reasons of its questions that are the teacher's."""
    found = [*units(slug, LESSONS[slug].read_text(encoding="utf-8"))]
    for number, scene in enumerate(context(slug).lesson.scenes, start=1):
        for asked in scene.asked:
            reasons = [asked.because, *(why for _, why in asked.choices)]
            found += [Unit(slug, number, "reason", asked.line, why) for why in reasons if why]
    return found


@EVERY
def test_every_number_is_that_of_the_run(slug: str) -> None:
    assert [(unit.line, wrong) for unit in said(slug) if (wrong := complaints(unit))] == []


@EVERY
def test_a_changed_number_is_noticed(slug: str) -> None:
    """Each number in turn is made one more and one less, or a bit of it is turned over."""
    unseen, tried = [], 0
    for unit in said(slug):
        left_free = free(unit)
        for found in numbers(unit.text):
            if found.start() in left_free:
                continue
            for other in changed(found[0]):
                tried += 1
                text = unit.text[: found.start()] + other + unit.text[found.end() :]
                if not complaints(replace(unit, text=text)):
                    unseen.append((unit.line, found[0], other, text))
    assert unseen == []
    assert tried >= 60


# What a cue says of the status: what it is, what it is not, or what a jump asks for.
STATUS = re.compile(r"(Not |Neither |nor |asks for |IF )?\b(LESS|EQUAL|MORE)\b")


def wrong_statuses(unit: Unit) -> list[str]:
    """The statuses in a cue that are not those of the machine at its place."""
    wrong = []
    for before, word in STATUS.findall(unit.text):
        if before not in ("asks for ", "IF "):
            statuses = {each["status"] for each in context(unit.lesson).names(unit)}
            if (statuses == {word}) == bool(before):
                wrong.append(f"{before}{word}")
    return wrong


@EVERY
def test_a_status_is_that_of_the_run(slug: str) -> None:
    cues = [each for each in said(slug) if each.kind == "cues"]
    assert {each.line: wrong for each in cues if (wrong := wrong_statuses(each))} == {}
    # And another one is noticed.
    for cue in cues:
        for found in STATUS.finditer(cue.text):
            if found[1] in ("asks for ", "IF "):
                continue
            (true,) = {each["status"] for each in context(slug).names(cue)}
            other = true if found[1] else next(each for each in STATUSES if each != true)
            text = cue.text[: found.start(2)] + other + cue.text[found.end(2) :]
            assert wrong_statuses(replace(cue, text=text)), text


@EVERY
def test_what_is_said_without_a_number_is_so(slug: str) -> None:
    """And what is planted in its place is noticed."""
    for unit in said(slug):
        assert false_words(unit) == []
        for kind, found in found_in(unit):
            text = unit.text[: found.start()] + kind.spoilt(found) + unit.text[found.end() :]
            if kind.spoilt(found):
                assert false_words(replace(unit, text=text)), (kind.name, text)


@EVERY
def test_the_reasons_of_teachers_are_known_and_true(slug: str) -> None:
    for reason in given(slug):
        found = knows(reason)
        assert found, f"nothing is known of {reason.words!r}"
        assert is_true(reason, found), (reason.words, found.true)
        # Of another choice it would not be true, where it speaks of the choice.
        if reason.choice and "said" in found.true:
            others = (each for each in reason.asked.choices if each != reason.choice)
            false = [is_true(replace(reason, choice=each), found) for each in others]
            assert not all(false), reason.words


def test_every_known_reason_is_given() -> None:
    used = {knows(reason) for slug in LESSONS for reason in given(slug)}
    assert set(known()) == used


@EVERY
def test_what_makes_a_reason_true_can_fail(slug: str) -> None:
    """Each name in it matters: had the run brought something else, the reason would be false."""
    for reason in given(slug):
        found = knows(reason)
        assert found
        assert idle(reason, found) == [], (reason.words, found.true)


def test_every_kind_of_words_is_used() -> None:
    everything = [unit for slug in LESSONS for unit in said(slug)]
    used = Counter(kind.name for unit in everything for kind, _ in found_in(unit))
    assert {kind.name for kind in KINDS} == set(used)
    assert sum(used.values()) >= 80, used


def test_few_numbers_are_free() -> None:
    """Of more than seven hundred, those that no run can bear out are a handful."""
    counts = [
        (len(free(unit)), len([*numbers(unit.text)])) for slug in LESSONS for unit in said(slug)
    ]
    assert sum(few for few, _ in counts) <= 20
    assert sum(all_ for _, all_ in counts) >= 500


def test_every_claim_is_made() -> None:
    """A claim that no lesson makes any more, or never made, holds nothing."""
    everything = [unit for slug in LESSONS for unit in said(slug)]
    unused = [
        claim.pattern.pattern
        for claim in claims()
        if not any(
            claim.where in ("all", "free", unit.lesson[:2], f"{unit.lesson[:2]}.{unit.scene}")
            and claim.pattern.search(unit.text)
            for unit in everything
        )
    ]
    assert unused == []


@pytest.mark.parametrize(
    ("text", "numbers_of_it"),
    [
        ("It took 36: 8 + 8.", [36, 8, 8]),
        ("−62 and 1,812 and 12.0 and −10.5", [-62, 1812, 12, -10.5]),
        ("eighty-four steps, fourteen times, three billion ticks", [84, 14, 3 * 10**9]),
        ("1111 0101 and 0000, but not 10000", ["11110101", "0000", 10000]),  # data
        ("make 1 0000 0000: nine bits", ["100000000", 9]),  # data
        ("ADD #3, LOAD 12, LOAD #-5", [3, 12, -5]),
        ("two's complement, one of them, below nought", []),
        ("The sixth try", [6]),
    ],
)
def test_numbers_in_a_text(text: str, numbers_of_it: list[object]) -> None:
    assert [value(each[0]) for each in numbers(text)] == numbers_of_it


def test_changed_numbers() -> None:
    assert [*changed("36")] == ["37", "35"]
    assert [*changed("1,812")] == ["1,813", "1,811"]
    assert [*changed("\N{MINUS SIGN}1")] == ["0", "\N{MINUS SIGN}2"]
    assert {*changed("Six")} == {"Five", "Seven"}
    assert [*changed("0101")] == ["1101", "0100"]
