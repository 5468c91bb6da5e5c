"""What a place is called in plain words, read back and held to the run.

The sentences are read by a grammar of their own here, and what they say is looked for in the steps
and states of the machine: nothing of what finds the places of a lesson is asked.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cached_property
from pathlib import Path
from random import Random

import pytest

from app.lesson.file.reader import read_lesson
from app.lesson.model import Scene
from app.lesson.places import read_when
from app.lesson.writing.in_words import in_words
from app.lesson.writing.manuscript import Manuscript
from app.lesson.writing.offers import to_ask, to_do, to_say
from app.machine.machine import EIGHT_BIT
from app.machine.registers import GROWN_REGISTERS, REGISTERS

SHIPPED = sorted((Path(__file__).parents[3] / "lessons").glob("*.md"))
LONGEST_RUN = 700
STEPS_TRIED = 10
PHASES = {"is fetched": "fetch", "is decoded": "decode", "is carried out": "execute"}
WORDS = (
    "first",
    "second",
    "third",
    "fourth",
    "fifth",
    "sixth",
    "seventh",
    "eighth",
    "ninth",
    "tenth",
)
TAGS = {
    name.casefold(): each.tag
    for each in (*REGISTERS, *GROWN_REGISTERS)
    for name in (each.tag, each.name, *each.also)
}
Span = tuple[int, int]


class Happened:
    """What a run did, found by going through its states."""

    def __init__(self, scene: Scene) -> None:
        self.scene, self.run = scene, scene.run
        self.labels = {name: at for at, name in scene.program.labels.items()}
        self.steps = [
            each for _, each in zip(range(LONGEST_RUN + 1), self.run.steps(), strict=False)
        ]
        self.last = self.steps[-1][0]

    def spans(self, said: str) -> list[Span]:
        """The steps that a sentence speaks of."""
        sentence, alone, which = said.partition(": its ")
        found = self._place(sentence)
        if not alone:
            return found
        word = which.removesuffix(" movement alone")
        assert word != which
        if word == "last":
            return [(last, last) for _, last in found]
        number = count(word)
        steps = [(first + number - 1, last) for first, last in found]
        return [(at, at) for at, last in steps if at <= last]

    def _place(self, said: str) -> list[Span]:
        if said == "at the start, before anything moves":
            return [(0, 0)]
        if said == "at the end of the run":
            return [(self.last, self.last)]
        if found := re.fullmatch(r"at step (\d+) of the run", said):
            return [(int(found[1]), int(found[1]))]
        if found := re.fullmatch(r"all through the (\S+) instruction", said):
            return [self._cycle(count(found[1]))]
        if found := re.fullmatch(r"while the (\S+) instruction (is .+)", said):
            return self._phase([count(found[1])], PHASES[found[2]])
        found = re.fullmatch(r"(whenever|the (\S+) time) (.+)", said)
        assert found, said
        every = self._event(found[3])
        if found[1] == "whenever":
            return every
        if found[2] == "last":
            return every[-1:]
        number = count(found[2])
        return every[number - 1 : number]

    def _event(self, said: str) -> list[Span]:
        if found := re.fullmatch(r"the run comes to '(\S+)', all through that instruction", said):
            return [self._cycle(each) for each in self._at(found[1])]
        if found := re.fullmatch(r"the instruction at '(\S+)' (is .+)", said):
            return self._phase(self._at(found[1]), PHASES[found[2]])
        if found := re.fullmatch(r"'(\S+)' is called", said):
            return self._phase([*self._calls(found[1])], "execute")
        if found := re.fullmatch(r"the run comes back from '(\S+)'", said):
            return self._phase([*self._returns(found[1])], "execute")
        if said in ("a jump is taken", "a jump is not taken"):
            return [(at, at) for at, went in self._jumps() if went == (said == "a jump is taken")]
        if said == "a request comes":
            return [(at, at) for at in self._requests()]
        if said == "a request is served":
            cycles = {cycle for _, cycle, kind, _ in self.steps if kind.phase == "interrupt"}
            return self._phase(sorted(cycles), "interrupt")
        if found := re.fullmatch(r"(?:'(\S+)'|the (.+)) changes", said):
            return [(at, at) for at in self._changes(found[1] or found[2])]
        found = re.fullmatch(r"([A-Z]+) (is .+)", said)
        assert found, said
        named = [
            cycle
            for _, cycle, kind, _ in self.steps
            if kind.phase == "decode" and kind.instruction and kind.instruction.name == found[1]
        ]
        return self._phase(named, PHASES[found[2]])

    # What happened.

    @cached_property
    def _by_cycle(self) -> dict[int, list[tuple[int, str]]]:
        found: dict[int, list[tuple[int, str]]] = {}
        for at, cycle, kind, _ in self.steps:
            found.setdefault(cycle, []).append((at, str(kind.phase)))
        return found

    def _cycle(self, number: int) -> Span:
        steps = self._by_cycle[number]
        return steps[0][0], steps[-1][0]

    def _phase(self, cycles: list[int], phase: str) -> list[Span]:
        found = []
        for each in cycles:
            steps = [at for at, name in self._by_cycle.get(each, []) if name == phase]
            found += [(steps[0], steps[-1])] if steps else []
        return found

    def _at(self, label: str) -> list[int]:
        address = self.labels[label]
        return [
            cycle
            for cycle, steps in self._by_cycle.items()
            if self.run.moment(steps[0][0]).before.pc == address
        ]

    def _calls(self, label: str) -> Iterator[int]:
        for _, cycle, kind, value in self.steps:
            calls = kind.instruction and kind.instruction.calls and kind.phase == "execute"
            if calls and kind.transfer.target == "PC" and value == self.labels[label]:
                yield cycle

    def _returns(self, label: str) -> Iterator[int]:
        """A RETURN ends what was called when the stack was as high as it is now."""
        open_calls: dict[object, object] = {}
        for at, cycle, kind, value in self.steps:
            if kind.transfer.target != "PC" or kind.phase == "fetch":
                continue
            pointer = self.run.moment(at).after.others.get("SP")
            if kind.phase == "interrupt" or (kind.instruction and kind.instruction.calls):
                open_calls[pointer] = value
            elif kind.instruction and kind.instruction.returns:
                first = self._by_cycle[cycle][0][0]
                top = self.run.moment(first).before.others["SP"]
                if open_calls.pop(top, None) == self.labels[label]:
                    yield cycle

    def _jumps(self) -> Iterator[tuple[int, bool]]:
        for at, _, kind, value in self.steps:
            jumps = kind.instruction is not None and kind.instruction.jumps
            if jumps and kind.phase == "execute" and kind.transfer.target == "PC":
                yield at, value is not None

    def _requests(self) -> Iterator[int]:
        def come(step: int) -> int:
            return len(self.run.waiting(step)) + self.run.moment(step).after.served

        before = 0
        for step in range(self.last + 1):
            if come(step) > before:
                yield step
            before = come(step)

    def _changes(self, name: str) -> Iterator[int]:
        for at, _, kind, _ in self.steps:
            if kind.phase in ("fetch", "decode"):
                continue
            moment = self.run.moment(at)
            if name in self.labels:
                address = self.labels[name]
                was, now = (each.memory[address] for each in (moment.before, moment.after))
            else:
                tag = TAGS[name.casefold()]
                was, now = (each.held(tag) for each in (moment.before, moment.after))  # type: ignore[assignment]
            if was != now:
                yield at


def count(word: str) -> int:
    if word in WORDS:
        return WORDS.index(word) + 1
    found = re.fullmatch(r"(\d+)(st|nd|rd|th)", word)
    assert found
    return int(found[1])


def places(scene: Scene, draw: Random) -> Iterator[str]:
    """What is offered at some steps of a scene, and what its author has written."""
    yield from (each.text for each in scene.cues)
    last = scene.run.last_step
    for step in {0, last, *(draw.randint(1, last) for _ in range(STEPS_TRIED))}:
        for offers in (to_say, to_do, to_ask):
            yield from (each.place for each in offers(scene, step))


@pytest.mark.parametrize("path", SHIPPED, ids=lambda each: each.stem)
def test_the_words_say_where_the_place_is(path: Path) -> None:
    draw = Random(path.stem)
    for scene in Manuscript(path.stem, path.read_text(encoding="utf-8")).lesson.scenes:
        if not scene.program.words or scene.by_turns or scene.run.reaches(LONGEST_RUN):
            continue
        happened = Happened(scene)
        machine = scene.program.machine
        for place in dict.fromkeys(places(scene, draw)):
            when = read_when(place, machine=machine)
            spans = [(each.first, each.last) for each in scene.timeline.spans(when)]
            assert happened.spans(in_words(when)) == spans, (place, in_words(when))


# Each kind of place once, with the words for it.
SAID = {
    "start": "at the start, before anything moves",
    "end": "at the end of the run",
    "step 12": "at step 12 of the run",
    "instruction 3": "all through the third instruction",
    "fetch 1": "while the first instruction is fetched",
    "decode 11": "while the 11th instruction is decoded",
    "execute 22": "while the 22nd instruction is carried out",
    "first execute of ADD": "the first time ADD is carried out",
    "OUTPUT": "whenever OUTPUT is carried out",
    "last fetch of HALT": "the last time HALT is fetched",
    "at again": "whenever the run comes to 'again', all through that instruction",
    "second decode at again": "the second time the instruction at 'again' is decoded",
    "transfer 2 of fetch 1": "while the first instruction is fetched: its second movement alone",
    "last transfer of ADD": "whenever ADD is carried out: its last movement alone",
    "third jump taken": "the third time a jump is taken",
    "jump not taken": "whenever a jump is not taken",
    "when total changes": "whenever 'total' changes",
    "first change of the accumulator": "the first time the accumulator changes",
}


@pytest.mark.parametrize("place", SAID)
def test_the_words_of_each_kind_of_place(place: str) -> None:
    assert in_words(read_when(place, machine=EIGHT_BIT)) == SAID[place]


def offered(block: str) -> set[tuple[str, str]]:
    """The places of the shipped scenes with such a block, and their words."""
    lessons = (read_lesson(each.stem, each.read_text(encoding="utf-8")) for each in SHIPPED)
    return {
        (each.place, each.in_words)
        for lesson in lessons
        for scene in lesson.scenes
        if getattr(scene, block)
        for step in range(1, scene.timeline.last_step + 1)
        for each in to_say(scene, step)
    }


def test_in_a_pipeline_a_step_is_a_tick() -> None:
    found = offered("pipeline")
    assert any((f"tick {step}", f"in tick {step}") in found for step in range(100))
    assert not any("step" in place or "at step" in words for place, words in found)


def test_where_machines_are_compared_a_step_brings_one() -> None:
    found = offered("compare")
    assert ("step 1", "when machine 1 comes") in found
    assert not any("tick" in words or "at step" in words for _, words in found)
