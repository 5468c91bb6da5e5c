"""What a warm-up is made of: small programs with their numbers left to fill, and what can be asked
about each. Which mix-ups a question finds out is not written here: that is told by the question,
once the program has run (see :mod:`app.lesson.file.warm_up`).
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

# What is answered in words.
_IN_WORDS = ("the status", "which way the jump goes", "the current instruction register")


@dataclass(frozen=True, slots=True)
class Ask:
    """A question about a program: its ``place`` as a lesson file has it, its ``words``, and the
    ``subject``. One with ``answered`` is asked at its place and answered at that one, others are
    asked just before it."""

    place: str
    words: str
    subject: str
    answered: str = ""

    @property
    def about(self) -> tuple[str, ...]:
        """The name of the instruction that it is about; none where its place has no name."""
        return tuple(re.findall(r"\b[A-Z]{2,}\b", self.place)[-1:])

    @property
    def is_number(self) -> bool:
        """Whether its answer is a number."""
        return self.subject not in _IN_WORDS


@dataclass(frozen=True, slots=True, eq=False)
class Shape:
    """A program with places for names (``{x}``), numbers (``{a}``) and comparisons (``{if}``).

    ``numbers`` has the smallest and the largest of each number; ``{most}`` is one just under the
    largest of a word. ``parts`` must have been switched on. ``inputs`` arrive.
    """

    program: str
    numbers: dict[str, tuple[int, int]]
    asks: tuple[Ask, ...]
    inputs: str = ""
    parts: frozenset[str] = field(default_factory=frozenset)


def _acc(place: str) -> Ask:
    return Ask(place, "What will the accumulator hold after this instruction?", "the accumulator")


def _counter(place: str, words: str) -> Ask:
    return Ask(place, f"Which address will the program counter hold after {words}?", "PC")


def _status(place: str, words: str = "this instruction") -> Ask:
    return Ask(place, f"What will the status be after {words}?", "the status")


def _memory(place: str, at: str, words: str = "this instruction") -> Ask:
    return Ask(place, f"What will be stored at '{at}' after {words}?", f"what is stored in {at}")


def _way(place: str) -> Ask:
    return Ask(place, "Which way will it go?", "which way the jump goes")


def _shown(place: str, answered: str) -> Ask:
    words = f"What will the display have shown after the {answered}?"
    return Ask(place, words, "the output so far", answered)


_MAR = "Which address will the memory address register hold after the next step?"
_CIR = "Which instruction will the current instruction register hold after this fetch?"
_TWO = {"a": (11, 49), "b": (11, 49)}
_BITS, _INDEX, _STACK = (
    frozenset({each}) for each in ("bit operations", "index register", "stack")
)

# Names that programs may have for their numbers: two, and what they make.
NAMES = (
    ("cats", "dogs", "pets"),
    ("red", "blue", "both"),
    ("left", "right", "all"),
    ("day", "night", "whole"),
    ("boots", "hats", "things"),
    ("spoons", "forks", "box"),
    ("north", "south", "trip"),
)
COMPARISONS = ("LESS", "EQUAL", "MORE")

SHAPES: tuple[Shape, ...] = (
    Shape(
        """\
        LOAD  {x}
        ADD   {y}
        STORE {z}
        OUTPUT
        HALT
{x}: {a}
{y}: {b}
{z}: {c}
""",
        {**_TWO, "c": (2, 9)},
        (
            _acc("execute of LOAD"),
            _memory("execute of LOAD", "{x}"),
            _acc("execute of ADD"),
            _memory("execute of STORE", "{z}"),
            _acc("execute of STORE"),
            _acc("execute of OUTPUT"),
            _counter("fetch 2", "this fetch"),
            _counter("execute of STORE", "this instruction"),
            _status("execute of STORE"),
            _shown("first execute of LOAD", "first OUTPUT"),
            Ask("fetch of ADD", _CIR, "the current instruction register"),
            Ask("transfer 1 of execute of ADD", _MAR, "the memory address register"),
        ),
    ),
    Shape(
        """\
        LOAD  {x}
        SUBTRACT {y}
        OUTPUT
        STORE {y}
        HALT
{x}: {a}
{y}: {b}
""",
        {"a": (31, 60), "b": (4, 29)},
        (
            _acc("execute of SUBTRACT"),
            _status("execute of SUBTRACT"),
            _memory("execute of SUBTRACT", "{y}"),
            _memory("execute of STORE", "{y}"),
            _counter("fetch of SUBTRACT", "this fetch"),
            _shown("first execute of LOAD", "first OUTPUT"),
            Ask("transfer 1 of execute of SUBTRACT", _MAR, "the memory address register"),
            Ask("fetch of OUTPUT", _CIR, "the current instruction register"),
        ),
    ),
    Shape(
        """\
        LOAD  #{n}
        ADD   #{m}
        OUTPUT
        LOAD  {x}
        SUBTRACT #{m}
        HALT
{x}: {a}
{y}: {b}
        {d}
""",
        {"a": (21, 60), "b": (21, 60), "d": (21, 60), "n": (6, 8), "m": (2, 8)},
        (
            _acc("first execute of LOAD"),
            _acc("execute of ADD"),
            _acc("execute of SUBTRACT"),
            _acc("second execute of LOAD"),
            _shown("first execute of LOAD", "first OUTPUT"),
        ),
    ),
    Shape(
        """\
        LOAD  {x}
        COMPARE {y}
        JUMP  over IF {if}
        LOAD  {y}
over:   OUTPUT
        HALT
{x}: {a}
{y}: {b}
""",
        _TWO,
        (
            _acc("execute of COMPARE"),
            _status("execute of COMPARE"),
            _status("first execute of LOAD"),
            _way("JUMP"),
            _counter("execute of JUMP", "JUMP"),
            _status("execute of JUMP"),
        ),
    ),
    Shape(
        """\
        LOAD  {x}
        COMPARE {y}
        JUMP  same IF {if}
        LOAD  #0
same:   OUTPUT
        HALT
{x}: {a}
{y}: {a}
""",
        {"a": (11, 60)},
        (
            _acc("execute of COMPARE"),
            _status("execute of COMPARE"),
            _way("JUMP"),
            _counter("execute of JUMP", "JUMP"),
        ),
    ),
    Shape(
        """\
        LOAD  #{n}
again:  OUTPUT
        SUBTRACT #{m}
        COMPARE #0
        JUMP  again IF MORE
        HALT
""",
        {"n": (7, 12), "m": (3, 4)},
        (
            _shown("first OUTPUT", "second OUTPUT"),
            _shown("first SUBTRACT", "third OUTPUT"),
            _way("first JUMP"),
            _way("last JUMP"),
            _counter("first execute of JUMP", "JUMP"),
            _acc("second execute of SUBTRACT"),
            _acc("first execute of COMPARE"),
            _status("second execute of SUBTRACT"),
        ),
    ),
    Shape(
        """\
        INPUT
        STORE {x}
        INPUT
        SUBTRACT {x}
        OUTPUT
        HALT
{x}: {c}
""",
        {"a": (4, 29), "b": (31, 60), "c": (2, 9)},
        (
            _acc("first execute of INPUT"),
            _acc("second execute of INPUT"),
            _memory("execute of STORE", "{x}"),
            _acc("execute of SUBTRACT"),
            _status("first execute of INPUT"),
            _shown("second INPUT", "first OUTPUT"),
        ),
        inputs="{a}, {b}",
    ),
    Shape(
        """\
        LOAD  {x}
        OUTPUT
        ADD   {y}
        OUTPUT
        HALT
{x}: {a}
{y}: {b}
""",
        _TWO,
        (
            _shown("execute of LOAD", "first OUTPUT"),
            _shown("first OUTPUT", "second OUTPUT"),
            _acc("second execute of OUTPUT"),
            _counter("fetch of ADD", "this fetch"),
            Ask("fetch of ADD", _CIR, "the current instruction register"),
        ),
    ),
    Shape(
        """\
        LOAD  {x}
        JUMP  on
        ADD   {y}
on:     OUTPUT
        HALT
{x}: {a}
{y}: {b}
""",
        _TWO,
        (
            _way("JUMP"),
            _counter("execute of JUMP", "JUMP"),
            _counter("fetch of JUMP", "this fetch"),
            Ask("fetch of OUTPUT", _CIR, "the current instruction register"),
        ),
    ),
    Shape(
        """\
        LOAD  {x}
        JUMP  next IF {if}
        ADD   {y}
next:   SUBTRACT {x}
        OUTPUT
        HALT
{x}: {a}
{y}: {b}
""",
        _TWO,
        (_way("JUMP"), _acc("execute of SUBTRACT"), _status("execute of SUBTRACT")),
    ),
    Shape(
        """\
        LOAD  {x}
        ADD   {y}
        OUTPUT
        HALT
{x}: {most}
{y}: {b}
""",
        {"b": (31, 49)},
        (_acc("execute of ADD"), _status("execute of ADD")),
    ),
    # The same with fewer kinds of instructions, for lessons that have no more.
    Shape(
        """\
        LOAD  {x}
        ADD   #{m}
        OUTPUT
        STORE {x}
        HALT
{x}: {a}
""",
        {"a": (11, 49), "m": (2, 8)},
        (
            _acc("execute of ADD"),
            _memory("execute of STORE", "{x}"),
            _acc("execute of STORE"),
            _counter("fetch of ADD", "this fetch"),
            _counter("execute of STORE", "this instruction"),
            Ask("fetch of ADD", _CIR, "the current instruction register"),
        ),
    ),
    Shape(
        """\
        LOAD  #{n}
        ADD   #{m}
        STORE {z}
        OUTPUT
        HALT
{z}: {c}
""",
        {"n": (9, 13), "m": (5, 8), "c": (2, 4)},
        (
            _acc("execute of ADD"),
            _memory("execute of STORE", "{z}"),
            _acc("execute of STORE"),
            _counter("fetch of ADD", "this fetch"),
        ),
    ),
    Shape(
        """\
        LOAD  {x}
        STORE {z}
        ADD   {z}
        OUTPUT
        HALT
{x}: {a}
{z}: {c}
""",
        {"a": (11, 49), "c": (2, 9)},
        (_acc("execute of ADD"), _counter("fetch of ADD", "this fetch")),
    ),
    Shape(
        """\
        LOAD  #{n}
        ADD   {x}
        OUTPUT
        HALT
{x}: {a}
""",
        {"a": (11, 49), "n": (5, 12)},
        (
            _acc("execute of ADD"),
            _counter("fetch of ADD", "this fetch"),
            Ask("fetch of ADD", _CIR, "the current instruction register"),
        ),
    ),
    Shape(
        """\
        LOAD  {x}
        ADD   {x}
        STORE {x}
        ADD   {y}
        OUTPUT
        HALT
{x}: {a}
{y}: {b}
""",
        {"a": (11, 39), "b": (11, 29)},
        (
            _acc("first execute of ADD"),
            _acc("second execute of ADD"),
            _memory("execute of STORE", "{x}"),
            _counter("execute of STORE", "this instruction"),
        ),
    ),
    Shape(
        """\
        INPUT
        ADD   {x}
        OUTPUT
        HALT
{x}: {a}
""",
        {"a": (11, 49), "b": (11, 49)},
        (_acc("execute of ADD"), _counter("fetch of ADD", "this fetch")),
        inputs="{b}",
    ),
    Shape(
        """\
        LOAD  {x}
        SUBTRACT #{m}
        OUTPUT
        HALT
{x}: {a}
""",
        {"a": (31, 60), "m": (3, 8)},
        (
            _acc("execute of SUBTRACT"),
            _status("execute of SUBTRACT"),
            _counter("fetch of SUBTRACT", "this fetch"),
        ),
    ),
    Shape(
        """\
        LOAD  {x}
        SUBTRACT {y}
        STORE {y}
        LOAD  {x}
        SUBTRACT {y}
        HALT
{x}: {a}
{y}: {b}
""",
        {"a": (31, 60), "b": (4, 29)},
        (_status("second execute of SUBTRACT"), _acc("second execute of SUBTRACT")),
    ),
    Shape(
        """\
        LOAD  {x}
again:  OUTPUT
        SUBTRACT #{m}
        JUMP  again IF MORE
        HALT
{x}: {a}
""",
        {"a": (17, 29), "m": (8, 9)},
        (
            _shown("first SUBTRACT", "second OUTPUT"),
            _way("first JUMP"),
            _way("last JUMP"),
            _counter("first execute of JUMP", "JUMP"),
        ),
    ),
    Shape(
        """\
        LOAD  #{n}
again:  OUTPUT
        SUBTRACT #{m}
        JUMP  again IF MORE
        HALT
""",
        {"n": (7, 15), "m": (4, 6)},
        (
            _shown("first SUBTRACT", "second OUTPUT"),
            _way("first JUMP"),
            _way("last JUMP"),
            _counter("first execute of JUMP", "JUMP"),
        ),
    ),
    Shape(
        """\
        LOAD  {x}
        OUTPUT
        JUMP  on
        SUBTRACT #{m}
on:     OUTPUT
        HALT
{x}: {a}
""",
        {"a": (11, 49), "m": (2, 8)},
        (
            _way("JUMP"),
            _counter("execute of JUMP", "JUMP"),
            _shown("first OUTPUT", "second OUTPUT"),
        ),
    ),
    Shape(
        """\
        LOAD  {x}
        COMPARE #{m}
        JUMP  over IF {if}
        ADD   #{n}
over:   OUTPUT
        HALT
{x}: {a}
""",
        {"a": (11, 49), "m": (12, 15), "n": (2, 8)},
        (
            _status("execute of COMPARE"),
            _way("JUMP"),
            _counter("execute of JUMP", "JUMP"),
        ),
    ),
    # What a machine has grown by.
    Shape(
        """\
        LOAD  {x}
        AND   #{m}
        OUTPUT
        LOAD  {y}
        OR    #{k}
        NOT
        XOR   #{n}
        HALT
{x}: {a}
{y}: {b}
""",
        {**_TWO, "m": (9, 29), "k": (9, 29), "n": (9, 29)},
        (
            _acc("execute of AND"),
            _acc("execute of OR"),
            _acc("execute of NOT"),
            _acc("execute of XOR"),
        ),
        parts=_BITS,
    ),
    Shape(
        """\
        LOAD  {x}
        SHIFT #{n} LEFT
        OUTPUT
        LOAD  {y}
        SHIFT #{n} RIGHT
        LOAD  {z}
        SHIFT #1 RIGHT
        ADD   {x}
        HALT
{x}: {most}
{y}: -{b}
{z}: {a}
""",
        {"a": (11, 99), "b": (11, 99), "n": (1, 3)},
        (
            _acc("first execute of SHIFT"),
            _acc("second execute of SHIFT"),
            _acc("third execute of SHIFT"),
            Ask("second execute of SHIFT", "What will the carry be after SHIFT?", "carry"),
            Ask("third execute of SHIFT", "What will the carry be after SHIFT?", "carry"),
            Ask("execute of ADD", "What will the carry be after ADD?", "carry"),
            Ask("third execute of LOAD", "What will the carry be after LOAD?", "carry"),
        ),
        parts=_BITS,
    ),
    Shape(
        """\
        LOAD  #{n} TO INDEX
        LOAD  {x} INDEXED
        OUTPUT
        ADD   {x} INDEXED
        COMPARE #{m} WITH INDEX
        HALT
{x}: {a}
        {b}
        {c}
        {d}
""",
        {
            **dict.fromkeys("abcd", (11, 60)),
            "n": (1, 3),
            "m": (1, 3),
        },
        (
            _acc("execute 2"),
            _acc("execute of ADD"),
            _status("execute of COMPARE"),
            Ask("execute 2", "What will the index register hold after this?", "X"),
            Ask("transfer 1 of execute 2", _MAR, "the memory address register"),
            Ask("fetch 2", _CIR, "the current instruction register"),
        ),
        parts=_INDEX,
    ),
    Shape(
        """\
        LOAD  {x} INDIRECT
        OUTPUT
        ADD   {x} INDIRECT
        HALT
        {a}
        {b}
{x}: {p}
""",
        {"a": (11, 60), "b": (11, 60), "p": (4, 5)},
        (
            _acc("execute 1"),
            _acc("execute of ADD"),
            Ask("last transfer of execute 1", "Which number comes to the accumulator?", "ACC"),
        ),
        parts=_INDEX,
    ),
    Shape(
        """\
        LOAD  {x}
        AND   #{m}
        JUMP  none IF {if}
        OR    #{k}
none:   OUTPUT
        HALT
{x}: {a}
""",
        {"a": (11, 49), "m": (5, 13), "k": (16, 29)},
        (_acc("execute of AND"), _way("JUMP")),
        parts=_BITS,
    ),
    Shape(
        """\
        LOAD  #{n}
        CALL  less
        OUTPUT
        HALT
less:   SUBTRACT #{m}
        RETURN
""",
        {"n": (31, 60), "m": (5, 29)},
        (
            _acc("execute of SUBTRACT"),
            _counter("execute of CALL", "CALL"),
            _counter("execute of RETURN", "RETURN"),
            Ask("RETURN", "Which address will the stack pointer hold after RETURN?", "SP"),
        ),
        parts=_STACK,
    ),
    Shape(
        """\
        LOAD  #{n}
        CALL  more
        OUTPUT
        HALT
more:   ADD   #{m}
        RETURN
""",
        {"n": (11, 60), "m": (11, 60)},
        (
            _counter("execute of CALL", "CALL"),
            _counter("execute of RETURN", "RETURN"),
            Ask("CALL", "Which address will the stack pointer hold after CALL?", "SP"),
            Ask("RETURN", "Which address will the stack pointer hold after RETURN?", "SP"),
            Ask(
                "execute of CALL",
                "What will be stored at address 255 after CALL?",
                "what is stored in 255",
            ),
            Ask(
                "execute of RETURN",
                "What will be stored at address 255 after RETURN?",
                "what is stored in 255",
            ),
        ),
        parts=_STACK,
    ),
    Shape(
        """\
        LOAD  #{n}
        PUSH
        LOAD  #{m}
        PUSH
        POP
        OUTPUT
        POP
        HALT
""",
        {"n": (11, 60), "m": (11, 60)},
        (
            _acc("first execute of POP"),
            _acc("second execute of POP"),
            _acc("second execute of PUSH"),
            Ask("first POP", "Which address will the stack pointer hold after POP?", "SP"),
            Ask("second PUSH", "Which address will the stack pointer hold after PUSH?", "SP"),
            Ask(
                "first execute of POP",
                "What will be stored at address 254 after POP?",
                "what is stored in 254",
            ),
        ),
        parts=_STACK,
    ),
)
