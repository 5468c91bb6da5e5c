"""The bits in the ALU: each one that is drawn is the run's, and comes from where it went away."""

from __future__ import annotations

import random

import pytest

from app.board.bits import Bits, bits_of
from app.board.frames import make_frame
from app.classroom.pace import BEATS_OF_BITS, moving_steps, rest_seconds
from app.classroom.session import Session
from app.lesson.file.reader import read_lesson
from app.lesson.header import Depth
from app.machine.growing import grown
from app.machine.run import Run
from tests.codes import ALL_CODES
from tests.codes import word as word_of

MACHINE = grown(frozenset({"bit operations"}))
BITS = 16
MASK = 202
# Codes of tests/hardware/machine.md, and what each does with a word as a text of bits: written with
# texts, so that it shares nothing with the table of operations.
COMBINED = {
    ALL_CODES["AND #n"]: lambda a, b: a == "1" and b == "1",
    ALL_CODES["OR #n"]: lambda a, b: a == "1" or b == "1",
    ALL_CODES["XOR #n"]: lambda a, b: a != b,
}
MOVED = {
    ALL_CODES["SHIFT #n LEFT"]: lambda word, by: word[by:] + "0" * by,
    ALL_CODES["SHIFT #n RIGHT"]: lambda word, by: "0" * by + word[:-by],
    ALL_CODES["SHIFT #n RIGHT SIGNED"]: lambda word, by: word[0] * by + word[:-by],
    ALL_CODES["ROTATE #n LEFT"]: lambda word, by: word[by:] + word[:by],
    ALL_CODES["ROTATE #n RIGHT"]: lambda word, by: word[-by:] + word[:-by],
}
ROTATES = (ALL_CODES["ROTATE #n LEFT"], ALL_CODES["ROTATE #n RIGHT"])
TO_LEFT = (ALL_CODES["SHIFT #n LEFT"], ALL_CODES["ROTATE #n LEFT"])


def shown(code: int, word: int, operand: int) -> Bits:
    """What is drawn of an instruction that is carried out on a word."""
    image = (word_of("LOAD 2", "16-bit"), code << 8 | operand, word)
    run = Run(MACHINE, image, limit=2)
    made = bits_of(MACHINE, run.moment(run.last_step))
    assert made is not None
    return made


def words() -> list[int]:
    chance = random.Random(7)
    return [0, 0xFFFF, 0x8001, *(chance.randrange(1 << BITS) for _ in range(5))]


@pytest.mark.parametrize("code", COMBINED)
@pytest.mark.parametrize("word", words())
def test_each_bit_of_a_result_stands_under_the_two_that_made_it(code: int, word: int) -> None:
    made = shown(code, word, MASK)
    above, below = made.given
    assert (above, below) == (f"{word:016b}", f"{MASK:016b}")
    for at, bit in enumerate(made.made):
        assert (bit.column, bit.comes) == (at, at)
        assert bit.value == "01"[COMBINED[code](above[at], below[at])]
    assert made.carry is None and not made.moved


@pytest.mark.parametrize("word", words())
def test_not_has_one_row(word: int) -> None:
    made = shown(ALL_CODES["NOT"], word, 0)
    assert made.given == (f"{word:016b}",)
    assert all(bit.value != made.given[0][bit.column] for bit in made.made)


@pytest.mark.parametrize("code", MOVED)
@pytest.mark.parametrize("by", (1, 2, 8, 15))
@pytest.mark.parametrize("word", words())
def test_each_bit_moves_from_where_it_was(code: int, by: int, word: int) -> None:
    made = shown(code, word, by)
    (before,) = made.given
    assert "".join(bit.value for bit in made.made) == MOVED[code](before, by)
    for bit in made.made:
        assert bit.value == ("0" if bit.comes is None else before[bit.comes])
        if bit.comes is not None and not bit.round and code != ALL_CODES["SHIFT #n RIGHT SIGNED"]:
            assert bit.column - bit.comes == (-by if code in TO_LEFT else by)
        assert bit.round <= (code in ROTATES)
    # The last one that leaves drops into the carry, at the end that it leaves from.
    assert made.carry is not None
    assert made.carry.comes == (by - 1 if code in TO_LEFT else BITS - by)
    assert made.carry.value == before[made.carry.comes]
    assert made.carry.column == (-1 if code in TO_LEFT else BITS) and made.to_left == (
        code in TO_LEFT
    )
    # Every bit is somewhere: in the result, in the carry, or among those that are gone.
    seen = {bit.comes for bit in (*made.made, made.carry, *made.gone)} - {None}
    assert seen == set(range(BITS))
    assert made.sign.endswith(f"{by} place{'s' * (by > 1)}")


def test_by_a_count_that_is_not_looked_at_nothing_is_said_to_move() -> None:
    made = shown(ALL_CODES["SHIFT #n LEFT"], 5, 16)
    assert made.sign.endswith("0 places") and made.carry is None
    assert all(bit.comes == bit.column for bit in made.made)


LESSON = """---
title: The signal box
machine: 16-bit
with: bit operations
---

# Lamps

```program
        LOAD lamps
        {}
        ADD  #1
        HALT
lamps:  0b1010111100001010
```
"""


@pytest.mark.parametrize("written", ("AND #12", "NOT", "SHIFT #3 LEFT", "ROTATE #1 RIGHT"))
def test_between_coming_in_and_going_out_the_bits_have_their_time(written: str) -> None:
    lesson = read_lesson("lamps", LESSON.format(written))
    assert not lesson.problems
    session = Session("lamps", lesson)
    run = lesson.scenes[0].run
    (step,) = [
        number
        for number, _, kind, _ in run.steps()
        if kind.instruction
        and written.startswith(kind.instruction.name)
        and kind.transfer.uses_alu
        and kind.transfer.target == "ACC"
    ]
    session.go_to_step(step - 1)
    session.forward()
    frame = make_frame(session.view())
    assert frame.bits is not None and frame.working == ()
    still = [each.beat for each in frame.moving if not each.routes]
    into = {each.beat for each in frame.moving if each.target == "ALU" and each.routes}
    out = {each.beat for each in frame.moving if each.source == "ALU" and each.routes}
    assert len(still) == BEATS_OF_BITS
    assert max(into) < min(still) and max(still) < min(out)
    # Playing waits for as many beats as are shown.
    moment = session.view().moment
    assert moment is not None and moving_steps(moment, Depth.TRANSFERS)
    beats = 1 + max(each.beat for each in frame.moving)
    assert rest_seconds(moment, Depth.TRANSFERS, 1) > beats * frame.beat_milliseconds / 1000
    # A sum is worked out as ever, and no bits are shown of it.
    session.go_to_step(run.last_step - 6)
    session.show_part("ALU", False)
    session.go_to_step(step - 1)
    session.forward()
    assert all(each.routes for each in make_frame(session.view()).moving)


def test_a_sum_is_shown_as_numbers() -> None:
    session = Session("lamps", read_lesson("lamps", LESSON.format("AND #12")))
    run = session.lesson.scenes[0].run
    (step,) = [n for n, _, kind, _ in run.steps() if "ACC + operand" in kind.transfer.notation]
    session.go_to_step(step)
    frame = make_frame(session.view())
    assert frame.bits is None and frame.working == ("8 + 1 = 9",)
