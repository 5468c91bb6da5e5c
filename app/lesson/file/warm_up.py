"""A warm-up: a few questions on what was mixed up most, as a lesson like any other.

Nothing of it is kept: its name says which lesson it comes after, a number that the machine's
choice depends on, and the mix-ups. The same name always gives the same lesson. Programs are made
from the shapes with other numbers each time, and run; a question is taken if the run's own wrong
answers have the mix-up among them. What the lesson has not used, no warm-up of it uses
(:class:`.taught.Taught`).
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from random import Random

from app.lesson.asking.mixups import MixUp
from app.lesson.asking.questions import USUAL_CHOICES, AskedQuestion, known_mixups
from app.lesson.header import Depth, Header, Symbols
from app.lesson.model import Lesson, Scene
from app.lesson.parts import part_name
from app.machine.machine import Machine
from app.machine.source.assembler import assemble

from .head import LONGEST_TITLE, in_header
from .reader import read_lesson
from .taught import Taught, about
from .warm_up_shapes import COMPARISONS, NAMES, SHAPES, Ask, Shape

QUESTIONS = 5
LARGEST_SEED = 9999
# What parts the name: no lesson of a sensible file name has it. The words between are the mix-ups,
# by the names that they have as data.
_MARK = "~warm-up~"
_NAME = re.compile(rf"(.+){_MARK}(\d{{1,4}})((?:~[a-z-]+){{0,{QUESTIONS}}})")
# How often a shape is filled with other numbers before it is given up.
_FILLS = 3
_NUMBER = re.compile(r"-?\b\d+\b")
_LABEL = re.compile(r"^\w+: *", re.MULTILINE)
_MIXUPS = {each.name.lower().replace("_", "-"): each for each in MixUp}


_Pair = tuple[Shape, Ask]


@dataclass(frozen=True, slots=True)
class WarmUpName:
    """What the name of a warm-up says: the ``slug`` of the lesson that it comes after, the
    ``seed`` (from 0 to LARGEST_SEED) and up to QUESTIONS ``mixups``, the one made most first."""

    slug: str
    seed: int
    mixups: tuple[MixUp, ...] = ()

    def __str__(self) -> str:
        words = {mixup: word for word, mixup in _MIXUPS.items()}
        return f"{self.slug}{_MARK}{self.seed}" + "".join(f"~{words[each]}" for each in self.mixups)


def read_name(text: str) -> WarmUpName | None:
    """The name of a warm-up; None for any other text."""
    found = _NAME.fullmatch(text)
    words = found[3].split("~")[1:] if found else []
    # A warm-up comes after a lesson, and not after another warm-up.
    if found is None or _MARK in found[1] or any(each not in _MIXUPS for each in words):
        return None
    return WarmUpName(found[1], int(found[2]), tuple(_MIXUPS[each] for each in words))


def warm_up(name: WarmUpName, source: Lesson) -> Lesson:
    """The warm-up of a name, for the machine and in the words of the lesson it comes after.

    Where what the lesson used can ask no more about such mix-ups, other questions fill it up:
    about the lesson's other mix-ups, and then about any. It has fewer where there are none of
    those, and none after a lesson that asks nothing. Without a mix-up it asks about those that the
    lesson's own questions know.
    """
    taught = Taught.by(source)
    made = _Maker(name, source, taught).scenes()
    text = _head(source, taught) + "".join(
        f"# Question {number}\npress: cue\n\n{each}" for number, each in enumerate(made, start=1)
    )
    return read_lesson(str(name), text)


@dataclass(frozen=True, slots=True)
class _Filled:
    """A shape with ``names`` (and numbers) in its places; ``numbers`` are those that vary."""

    program: str
    inputs: str
    names: dict[str, str]
    numbers: frozenset[int]

    def has(self, text: str) -> bool:
        """Whether a number that starts a text stands in the program or comes in."""
        said = _NUMBER.match(text.replace("\N{MINUS SIGN}", "-"))
        written = _NUMBER.findall(f"{self.program} {self.inputs}")
        return said is not None and int(said[0]) in map(int, written)


@dataclass(frozen=True, slots=True)
class _Asked:
    """A question with all the wrong answers that the run knows, each with its mix-up."""

    question: AskedQuestion
    mixups: dict[str, str]

    def choices_for(self, mixup: MixUp) -> tuple[str, ...]:
        """The choices to give, so that the mix-up's is among them; none where that is so anyway,
        or where there is none."""
        theirs = [text for text, each in self.mixups.items() if each == mixup]
        if mixup in self.question.mixups or not theirs:
            return ()
        others = [text for text in self.mixups if text != theirs[0]]
        right = self.question.choices[self.question.answer]
        return right, theirs[0], *others[: USUAL_CHOICES - 2]


class _Maker:
    """Makes the scenes of one warm-up."""

    def __init__(self, name: WarmUpName, source: Lesson, taught: Taught) -> None:
        self._machine = source.header.machine
        self._taught = taught
        self._head = _head(source, taught)
        self._named = name.mixups
        self._own = _known(source.scenes)
        self._about = _asked_about(source.scenes)
        self._chance = Random(f"{name.slug}|{name.seed}")
        self._finders = _finders(self._machine, source.header.depth)
        self._say = source.header.wording.say
        ifs = tuple(each for each in COMPARISONS if f"JUMP IF {each}" in taught.names)
        self._ifs = ifs or COMPARISONS
        self._fits: dict[Shape, bool] = {}
        # The numbers of the lesson, and then of every question: none of them comes twice.
        self._taken = {
            abs(self._machine.signed(each)) for scene in source.scenes for each in _numbers(scene)
        }
        self._used: list[_Pair] = []

    def scenes(self) -> Iterator[str]:
        """The scenes as text. The mix-ups take turns, and those that cannot be asked about with
        what was taught are passed over; those of the lesson come after those that were named, and
        others last. No program comes twice in other numbers while there is another."""
        made = 0
        if not (self._named or self._own):
            return
        groups = (self._named, self._own)
        turns = [(each, fresh) for fresh in (True, False) for each in groups]
        for mixups, fresh in (*turns, (tuple(self._finders), False)):
            left = [*mixups]
            while left and made < QUESTIONS:
                mixup = left.pop(0)
                found = self._scene(mixup, fresh)
                if found:
                    made += 1
                    left.append(mixup)
                    yield found

    def _scene(self, mixup: MixUp, fresh: bool) -> str:
        """A scene whose question finds a mix-up out; empty where there is none. A ``fresh`` one has
        a program that no other has."""
        pairs = [each for each in self._finders.get(mixup, ()) if self._may_use(*each)]
        if fresh:
            used = {id(shape) for shape, _ in self._used}
            pairs = [each for each in pairs if id(each[0]) not in used]
        self._chance.shuffle(pairs)
        # First what has not been asked yet, and of that the programs that have been used least;
        # before all, the instructions at which the lesson itself finds this mix-up out.
        pairs.sort(key=lambda pair: sum(shape is pair[0] for shape, _ in self._used))
        pairs.sort(key=lambda pair: not {*pair[1].about} & self._about.get(mixup, set()))
        pairs.sort(key=self._used.count)
        for shape, ask in pairs * _FILLS:
            filled = _filled(shape, self._machine, self._chance, self._taken, self._ifs)
            (asked,) = _asked(self._head, filled, [ask], self._say)
            if asked is None or mixup not in asked.mixups.values():
                continue
            right = asked.question.choices[asked.question.answer]
            if filled.has(right) and ask.is_number:
                continue
            says = "This was mixed up" if mixup in self._named else "This is often mixed up"
            note = f"{says}: *{self._say(mixup.value)}*."
            text = _scene(filled, [ask], self._say, note, asked.choices_for(mixup))
            made = _read(self._head, text)
            questions = made.scenes[0].questions
            if questions and mixup in questions[0].mixups and not made.problems:
                self._used.append((shape, ask))
                self._taken |= filled.numbers
                return text
        return ""

    def _may_use(self, shape: Shape, ask: Ask) -> bool:
        """Whether a question needs only what was taught."""
        if shape not in self._fits:
            filled = _filled(shape, self._machine, Random(0), set(), self._ifs)
            program = assemble(self._machine, filled.program)
            # What goes beyond the word is for a lesson that asks about that.
            beyond = "{most}" in shape.program and not shape.parts
            known = not beyond or MixUp.WORD_TOO_SMALL in self._own
            self._fits[shape] = known and self._taught.knows(program)
        return self._fits[shape] and self._taught.has_seen(ask.subject)


def _asked_about(scenes: Sequence[Scene]) -> dict[MixUp, set[str]]:
    """For each mix-up the names of the instructions at which a lesson's questions find it out."""
    found: dict[MixUp, set[str]] = {}
    for scene in scenes:
        for asked in scene.questions:
            name = about(scene, asked)
            for mixup in filter(None, asked.mixups if name else ()):
                found.setdefault(MixUp(mixup), set()).add(name)
    return found


@lru_cache(maxsize=32)
def _finders(machine: Machine, depth: Depth) -> dict[MixUp, tuple[_Pair, ...]]:
    """The questions that find each mix-up out with some of the numbers that were tried: always the
    same ones for a machine and a depth."""
    found: dict[MixUp, dict[_Pair, None]] = {}
    head = _header("Any", Header(machine=machine, depth=depth))
    for number, shape in enumerate(SHAPES):
        asks = [
            each
            for each in shape.asks
            if depth is Depth.TRANSFERS or each.subject != "the memory address register"
        ]
        if not shape.parts <= {*machine.parts}:
            continue
        for fill in range(_FILLS):
            filled = _filled(shape, machine, Random(f"{number}|{fill}"), set())
            for ask, asked in zip(asks, _asked(head, filled, asks, str), strict=True):
                for mixup in filter(None, asked.mixups.values() if asked else ()):
                    found.setdefault(MixUp(mixup), {})[shape, ask] = None
    return {mixup: tuple(pairs) for mixup, pairs in found.items()}


def _filled(
    shape: Shape,
    machine: Machine,
    chance: Random,
    taken: set[int],
    ifs: Sequence[str] = COMPARISONS,
) -> _Filled:
    """A shape with names and numbers, where possible none of those that are ``taken``."""
    x, y, z = chance.choice(NAMES)
    numbers = {"most": machine.largest - chance.randint(1, 29)}
    for name, (low, high) in shape.numbers.items():
        free = {*range(low, high + 1)} - {*numbers.values()}
        # Of a very short range all may have been taken.
        numbers[name] = chance.choice(sorted(free - taken or free))
    names = {"x": x, "y": y, "z": z, "if": chance.choice(ifs)}
    names |= {name: str(number) for name, number in numbers.items()}
    # As lessons write it: what follows a label stands under the rest.
    program = _LABEL.sub(lambda label: f"{label[0].strip():8}", shape.program.format(**names))
    varied = frozenset(numbers[each] for each in shape.numbers)
    return _Filled(program, shape.inputs.format(**names), names, varied)


def _asked(
    head: str, filled: _Filled, asks: Sequence[Ask], say: Callable[[str], str]
) -> Iterator[_Asked | None]:
    """What the run says about each question; None where it cannot be asked."""
    scene = _read(head, _scene(filled, asks, say)).scenes[0]
    asked = {each.line: each for each in scene.questions}
    for question in scene.asked:
        found = asked.get(question.line)
        mixups = known_mixups(question, scene.timeline, scene.program)
        yield _Asked(found, mixups) if found else None


def _read(head: str, scene: str) -> Lesson:
    return read_lesson("", f"{head}# Question\n\n{scene}")


def _numbers(scene: Scene) -> list[int]:
    """The patterns that a program works with: its data, and its inputs."""
    words = zip(scene.program.words, scene.program.origins, strict=True)
    return [*(word for word, origin in words if origin.is_data), *scene.inputs]


def _known(scenes: Sequence[Scene]) -> tuple[MixUp, ...]:
    """The mix-ups that the questions of a lesson find out, those of the last scene first."""
    found = (
        MixUp(mixup)
        for scene in reversed(scenes)
        for asked in scene.questions
        for mixup in asked.mixups
        if mixup
    )
    return tuple(dict.fromkeys(found))


def _scene(
    filled: _Filled,
    asks: Sequence[Ask],
    say: Callable[[str], str],
    note: str = "",
    choices: Sequence[str] = (),
) -> str:
    """The blocks of a scene, with a ``note`` for the teacher."""
    blocks = [f"{note}\n"] if note else []
    blocks.append(f"```program\n{filled.program}```\n")
    if filled.inputs:
        blocks.append(f"```inputs\n{filled.inputs}\n```\n")
    for ask in asks:
        question = say(ask.words.format(**filled.names))
        subject = ask.subject.format(**filled.names)
        early = f"answer at {ask.answered}\n" if ask.answered else ""
        given = f"choices: {' or '.join(choices)}\n" if choices else ""
        asks_at = f"{'ask at' if early else 'before'} {ask.place}: {question}"
        blocks.append(f"```question\n{asks_at}\n{early}ask: {subject}\n{given}```\n")
    return "\n".join(blocks) + "\n"


def _head(source: Lesson, taught: Taught) -> str:
    title = f"Warm-up: {source.header.title}"[:LONGEST_TITLE].rstrip()
    return _header(title, source.header, taught.hidden)


def _header(title: str, header: Header, hidden: Collection[str] = ()) -> str:
    """The lines of a header with the machine, the depth and the words of another one."""
    lines = [
        f"title: {in_header(title)}",
        f"machine: {header.machine.name}",
        f"depth: {header.depth}",
    ]
    lines += [f"with: {', '.join(header.machine.parts)}"] if header.machine.parts else []
    if hidden:
        names = (part_name(each, header.machine) for each in sorted(hidden))
        lines += [f"show: everything but {', '.join(names)}"]
    lines += _habits(header)
    return "\n".join(["---", *lines, "---", "", ""])


def _habits(header: Header) -> list[str]:
    """The lines of a header that say what a course does in its own way."""
    words = header.wording.names
    moves = header.machine.counter_moves
    found = [f"words: {', '.join(words)}"] if words else []
    found += [] if moves == "last" else [f"counter moves: {moves}"]
    # The class looks at gates, and at characters, as it did in the lesson.
    found += [f"gates: {header.gates}"] if header.gates is not Symbols.RECTANGLES else []
    return found + (["characters: yes"] if header.characters else [])
