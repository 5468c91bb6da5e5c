"""The same scene with other numbers, so that neighbours in a class have different sheets.

Inputs and data are varied, within ranges that a pupil can work out by hand; where a scene has
neither, the numbers in its instructions. Which numbers come out depends on the seed alone, and
each version is run before it is used: it must end as the scene does, in about as many steps, and
its comparisons and jumps must go as they do in the scene, for that is what the scene is about.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from functools import partial
from random import Random
from string import ascii_uppercase

from app.lesson.model import Scene
from app.machine.addressing import Operand
from app.machine.engine import walk
from app.machine.source.disassembler import decode, write_instruction
from app.machine.state import Ending, State

MOST_VERSIONS = 6
# Longer runs are not for paper, so they are not varied.
LONGEST = 150
_TRIES = 300
# So many instructions are carried out for that in a scene, and in all of a lesson.
MOST_CARRIED_OUT, MOST_IN_ALL = 20_000, 90_000
# So many numbers are varied in the time in which an instruction is carried out.
_AS_LONG = 4
# Titles such as 'Six chairs', which would be wrong for another number.
_NUMBER = re.compile(
    r"\d|\b(nought|zero|one|two|three|four|five|six|seven|eight|nine|ten|eleven|twelve|dozen"
    r"|\w+teen|twenty|thirty|forty|fifty|sixty|seventy|eighty|ninety|hundred)\b",
    re.IGNORECASE,
)
# Up to this much a pupil can add and take away in the head.
_EASY = 20


@dataclass(frozen=True, slots=True)
class Version:
    """A scene to be printed: ``letter`` is A for the scene as the lesson has it. ``changed`` are
    the addresses of the words that are not those of the lesson."""

    letter: str
    scene: Scene
    changed: frozenset[int] = frozenset()

    def title(self, number: int) -> str:
        """What stands over a sheet of this version of the scene with a number."""
        own = self.letter in ("", "A") or not _NUMBER.search(self.scene.title)
        return self.scene.title if own else f"Scene {number}"

    @property
    def numbers(self) -> tuple[tuple[str, str], ...]:
        """What differs from the lesson: each changed word by its label or address, as written."""
        program = self.scene.program
        return tuple(
            (
                program.labels.get(at) or f"[{at}]",
                str(program.machine.signed(program.words[at]))
                if program.origins[at].is_data
                else write_instruction(program.machine, program.words[at]),
            )
            for at in sorted(self.changed)
        )


def make_versions(
    scene: Scene, count: int, seed: str, most: int = MOST_CARRIED_OUT
) -> tuple[Version, ...]:
    """``count`` versions of a scene, or fewer where not so many can be found by carrying out about
    ``most`` instructions.

    The first is the scene itself; the same seed always gives the same versions.
    """
    count = min(count, MOST_VERSIONS)
    model = _Facts.of(scene, LONGEST) if count > 1 else None
    if model is None:
        return (Version(ascii_uppercase[0], scene),)
    seen = [model]
    tried = {(scene.program.words, scene.inputs)}
    left, varied = most, len(scene.program.words) + len(scene.inputs)
    chance = Random(f"{seed}|{scene.title}|{scene.program.source}")
    # Where neither inputs nor data make a difference to the run, instructions are varied.
    for vary in (partial(_vary_data, model), _vary_instructions):
        # Best are those in which every comparison goes as in the scene; in a loop with another
        # number of rounds, they go the same ways in the same order.
        same: list[Scene] = []
        similar: list[Scene] = []
        for _ in range(_TRIES):
            if len(same) == count - 1 or left <= 0:
                break
            candidate = vary(scene, chance)
            left -= varied // _AS_LONG
            numbers = (candidate.program.words, candidate.inputs)
            if numbers in tried:
                continue
            tried.add(numbers)
            facts = _Facts.of(candidate, model.longest_like)
            left -= facts.cycles if facts else model.longest_like
            if facts and facts.like(model) and all(facts.trail != each.trail for each in seen):
                seen.append(facts)
                (same if facts.ways == model.ways else similar).append(candidate)
        if same or similar:
            break
    chosen = [scene, *same, *similar][:count]
    return tuple(
        Version(letter, each, _changed(scene, each))
        for letter, each in zip(ascii_uppercase, chosen, strict=False)
    )


def _changed(scene: Scene, other: Scene) -> frozenset[int]:
    """The addresses of the words that are not those of the scene."""
    words = zip(scene.program.words, other.program.words, strict=True)
    return frozenset(at for at, (old, new) in enumerate(words) if old != new)


@dataclass(frozen=True, slots=True)
class _Facts:
    """What a run is like. ``trail`` has the accumulator and the outputs all along it; ``read``
    the addresses whose words are used as numbers before the run writes there, ``executed`` those
    of its instructions; ``ways`` what every comparison and every jump came to, each with its
    address."""

    ending: Ending | None
    cycles: int
    overflow: bool
    smallest: int
    largest: int
    trail: tuple[int, ...]
    read: frozenset[int]
    executed: frozenset[int]
    ways: tuple[tuple[int, str], ...]

    @classmethod
    def of(cls, scene: Scene, longest: int) -> _Facts | None:
        """None for a run of more than ``longest`` instructions."""
        machine = scene.program.machine
        state = State.start(machine, scene.program.words)
        overflow = False
        trail: list[int] = []
        outputs: list[int] = []
        read: set[int] = set()
        wrote: set[int] = set()
        addresses: set[int] = set()
        last_read = -1
        executed: set[int] = set()
        ways: list[tuple[int, str]] = []
        while state.ending is None:
            if state.cycles == longest:
                return None
            executed.add(address := state.pc)
            for step in walk(machine, state, scene.inputs, outputs, scene.requests):
                if step.kind.transfer.check == "address" and step.kind.transfer.left == "MDR":
                    # A word that is an address leads somewhere: it stays what it is.
                    addresses.add(last_read)
                if step.kind.instruction and step.kind.transfer.left == "memory[MAR]":
                    last_read = state.mar
                    read |= {state.mar} - wrote
                elif step.kind.transfer.target == "memory[MAR]":
                    wrote.add(state.mar)
                elif step.kind.transfer.uses_alu:
                    overflow = overflow or state.overflow
                if step.kind.transfer.target == "status":
                    ways.append((address, str(state.status)))
                elif step.kind.transfer.condition:
                    ways.append((address, "on" if step.value is None else "jump"))
            trail.append(machine.signed(state.acc))
        return cls(
            state.ending,
            state.cycles,
            overflow,
            min(trail),
            max(trail),
            (*trail, *(machine.signed(each) for each in outputs)),
            frozenset(read - addresses),
            frozenset(executed),
            tuple(ways),
        )

    @property
    def longest_like(self) -> int:
        """How many instructions a run that is like this one has at most."""
        return self.cycles + self.cycles // 2 + 2

    def like(self, model: _Facts) -> bool:
        """Whether this run asks of a pupil about the same as the model does."""
        return (
            self.ending is model.ending
            and [*dict.fromkeys(self.ways)] == [*dict.fromkeys(model.ways)]
            and (model.overflow or not self.overflow)
            and 0.6 * model.cycles <= self.cycles <= model.longest_like
            and self.largest <= max(2 * model.largest, 2 * _EASY)
            and self.smallest >= min(2 * model.smallest, 0)
        )


def _vary_data(model: _Facts, scene: Scene, chance: Random) -> Scene:
    """Other inputs, and other numbers in the words that the run reads."""
    machine = scene.program.machine

    def other(value: int) -> int:
        # Never beyond what a word can hold: there it would be a number of the other sign.
        varied = min(max(_vary(value, chance), machine.smallest), machine.largest)
        return machine.pattern(varied)

    inputs = tuple(other(machine.signed(each)) for each in scene.inputs)
    words = list(scene.program.words)
    for at, origin in enumerate(scene.program.origins):
        value = machine.signed(words[at])
        # 0 and 1 are where counting starts and what it goes on by: they stay what they are.
        if origin.is_data and abs(value) > 1 and at in model.read - model.executed:
            words[at] = other(value)
    return _with(scene, words, inputs)


def _vary_instructions(scene: Scene, chance: Random) -> Scene:
    """Other numbers in the instructions that hold one."""
    machine = scene.program.machine
    words = list(scene.program.words)
    for at, origin in enumerate(scene.program.origins):
        instruction, number = decode(machine, words[at])
        if origin.is_data or instruction is None or instruction.operand is not Operand.NUMBER:
            continue
        if number > 1:
            most = instruction.mode.most or machine.operand_mask
            words[at] = machine.join(instruction.code, min(_vary(number, chance), most))
    return _with(scene, words, scene.inputs)


def _vary(value: int, chance: Random) -> int:
    """A number of about the same size. What ends a list (0 or -1) stays."""
    if value in (0, -1):
        return value
    size = abs(value)
    if size <= 9:
        low, high = 2, 9
    elif size <= _EASY:
        low, high = 2, _EASY
    else:
        low, high = size - size // 3, size + size // 3
    varied = chance.randint(low, high)
    return varied if value > 0 else -varied


def _with(scene: Scene, words: list[int], inputs: tuple[int, ...]) -> Scene:
    program = replace(scene.program, words=tuple(words))
    return replace(scene, program=program, inputs=inputs)
