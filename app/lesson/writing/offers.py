"""The places that come at a step of a run, in the words of a teacher, best first."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from app.lesson.entries import Wrong
from app.lesson.header import Depth
from app.lesson.model import Scene
from app.lesson.places import When, ordinal, read_when
from app.lesson.pressing import Pressing
from app.lesson.timeline import Span
from app.machine.instructions import Phase
from app.machine.source.disassembler import decode

from .in_words import in_words

# What carries a name of its own in the mouth of a teacher: 'first OUTPUT'.
_BARE = ("INPUT", "OUTPUT")
MOST_OFFERED = 9


@dataclass(frozen=True, slots=True)
class Offer:
    """A place: its name, how often it comes in the run, and its ``span`` at the step; ``begins``
    where what is said at it comes up at the step, and not earlier. ``unit`` is what a step of the
    scene is."""

    place: str
    when: When
    times: int
    span: Span
    rank: int
    begins: bool
    unit: str = "step"

    @property
    def in_words(self) -> str:
        """The place in plain words; of one that comes once it is not said how often."""
        words = in_words(self.when, self.unit)
        return words.replace("whenever ", "when ", 1) if self.times == 1 else words

    @property
    def said(self) -> str:
        """How often it comes, in words."""
        return "comes once" if self.times == 1 else f"comes {self.times:,} times"


def best(offers: Sequence[Offer], phase: Span | None = None) -> Offer | None:
    """The one to propose: what is said there comes up at the step itself, and once. To who has
    chosen a whole ``phase``, the one that is said all through it, where there is such a one."""
    once = [each for each in offers if each.times == 1]
    here = [each for each in offers if each.begins] or offers
    found = [each for each in once if each.span == phase] or [each for each in here if each in once]
    return next(iter(found or here), None)


def phase_at(scene: Scene, step: int) -> Span | None:
    """The steps of the phase that ends with a step; None where none does."""
    if not step or scene.by_turns:
        return None
    before = scene.run.before_phase(step)
    return Span(before + 1, step) if scene.run.after_phase(before) == step else None


def since(scene: Scene, step: int) -> int:
    """The step that the movement started from which ends at ``step``: what is seen there is what
    has come after it."""
    if not scene.program.words:
        return step - 1  # a station
    before = Pressing(scene, scene.depth).since(step)
    return step - 1 if before is None else before


def to_say(scene: Scene, step: int) -> tuple[Offer, ...]:
    """The places at which words would stand on the board at a step. None where a cue stands there
    already that no other could take the place of."""
    if not scene.program.words:
        return ()
    if step == 0:
        return _offered(scene, 0, 0)
    before = since(scene, step)
    standing = scene.cue_sheet.at(step, before)
    # The narrower place wins, and of two alike the one that was written first.
    here = scene.timeline.spans(standing.when).meeting(before + 1, step) if standing else None
    most = here.last - here.first if here else None
    # Whatever a press goes over, the board of who writes goes on by the smallest step.
    phases = scene.depth is Depth.PHASES
    last = scene.run.before_phase(step) if phases else step - 1
    return _offered(scene, before + 1, step, last, most)


def to_do(scene: Scene, step: int) -> tuple[Offer, ...]:
    """The places at which something happens on stage from a step on and not before it."""
    first = since(scene, step) + 1 if step else 0
    found = _offered(scene, first, step)
    return tuple(each for each in found if each.times == 1 and each.span.first >= first)


def to_ask(scene: Scene, step: int) -> tuple[Offer, ...]:
    """The places that start just after a step, so that a question before them is asked there. A
    place that comes more than once is not among them: a question means its first time."""
    if not scene.program.words or not scene.run.reaches(step + 1):
        return ()
    found = _offered(scene, step + 1, step + 1)
    return tuple(
        each
        for each in found
        if each.times == 1 and each.span.first == step + 1 and each.when.kind != "end"
    )


def _offered(
    scene: Scene, first: int, last: int, before: int | None = None, most: int | None = None
) -> tuple[Offer, ...]:
    """The places that share a step with ``first`` to ``last``, each tried on the run. ``before``
    is where the board stood last, else just before ``first``; with ``most`` only those count that
    have no more steps than that."""
    before = first - 1 if before is None else before
    found: dict[str, Offer] = {}
    machine, timeline, unit = scene.program.machine, scene.timeline, scene.unit
    for rank, often, place in _named(scene, first, last):
        try:
            when = read_when(place, machine=machine)
        except Wrong:
            continue  # a label that is also a word of places, for example
        spans = timeline.spans(when)
        span = spans.meeting(first, last)
        if span is None:
            continue
        times = len(spans)
        if times == 1:
            found.setdefault(place, Offer(place, when, 1, span, rank, span.first > before, unit))
            continue
        number = bisect_left(spans.firsts, span.first)
        begins = span.first > before
        for name in _ordinals(number, times, timeline.complete):
            one = often.format(name)
            try:
                chosen = read_when(one, machine=machine)
            except Wrong:
                continue
            if timeline.spans(chosen).meeting(first, last) == span:
                found.setdefault(
                    one, Offer(one, chosen, 1, span, rank + (number > 0), begins, unit)
                )
                break
        found.setdefault(place, Offer(place, when, times, span, 7, begins, unit))
    if scene.depth is Depth.PHASES and any(each.when.kind != "step" for each in found.values()):
        # Who looks at whole phases counts no steps.
        found = {place: each for place, each in found.items() if each.when.kind != "step"}
    narrow = [
        each for each in found.values() if most is None or each.span.last - each.span.first < most
    ]
    ranked = sorted(narrow, key=lambda each: each.rank)
    # One of those at which nothing comes earlier is always among them.
    kept = {each.place for each in ranked[:MOST_OFFERED]} | {
        each.place for each in (best(ranked),) if each
    }
    return tuple(each for each in ranked if each.place in kept)


def step_numbered(scene: Scene, step: int) -> str:
    """A step by its number, as the file names it."""
    return f"{'tick' if scene.unit == 'tick' else 'step'} {step}"


def _ordinals(number: int, times: int, complete: bool) -> Iterator[str]:
    """What the time of that number (from 0) is called: 'first', 'last', 'third', '12th'."""
    if number == 0:
        yield "first"
    if number == times - 1 and complete:
        yield "last"
    yield ordinal(number + 1)


def _named(scene: Scene, first: int, last: int) -> Iterator[tuple[int, str, str]]:
    """Places that may come there: how far down the list, how one of several times is written
    (with a place for the ordinal), and the name of them all."""

    def often(rank: int, place: str) -> tuple[int, str, str]:
        return rank, "{} " + place, place

    if first == 0:
        yield often(0, "start")
        return
    run, program, machine = scene.run, scene.program, scene.program.machine
    if last == scene.timeline.last_step:
        yield often(0, "end")
    for step in range(first, last + 1):
        yield from _events(scene, step)
    moment = run.moment(last)
    assert moment.step
    kind, cycle = moment.step.kind, moment.step.cycle
    start = run.moment(run.before_instruction(last)).after
    instruction = decode(machine, start.memory[start.pc])[0]
    label = program.labels.get(start.pc, "")
    phase = str(kind.phase)
    numbered = f"{phase} {cycle}"
    if kind.phase is not Phase.EXECUTE:
        yield often(2, numbered)
    if instruction:
        name = instruction.name
        of = name if name in _BARE and phase == Phase.EXECUTE else f"{phase} of {name}"
        yield often(2 if kind.phase is Phase.EXECUTE else 3, of)
    if kind.phase is Phase.EXECUTE:
        yield often(4, numbered)
    if label:
        yield often(4, f"at {label}")
        yield often(5, f"{phase} at {label}")
    yield often(5, f"instruction {cycle}")
    if first == last:
        number = kind.place_in_phase + 1
        yield often(6, f"transfer {number} of {numbered}")
    yield often(8, step_numbered(scene, last))


def _events(scene: Scene, step: int) -> Iterator[tuple[int, str, str]]:
    """What happens in one step: a number that changes, a jump, a call."""
    program = scene.program
    moment = scene.run.moment(step)
    assert moment.step
    target = moment.step.kind.transfer.target
    if target == "memory[MAR]":
        address = moment.before.held("MAR")
        label = program.labels.get(address, "") if isinstance(address, int) else ""
        if label:
            yield 1, f"{{}} change of {label}", f"when {label} changes"
    elif target == "PC" and moment.step.kind.phase is Phase.EXECUTE:
        instruction = moment.step.kind.instruction
        if instruction and instruction.calls and isinstance(moment.step.value, int):
            called = program.labels.get(moment.step.value)
            if called:
                yield 1, f"{{}} call of {called}", f"call of {called}"
        elif instruction and not instruction.returns:
            way = "jump taken" if moment.step.value is not None else "jump not taken"
            yield 1, "{} " + way, way
    elif target == "ACC" and moment.step.kind.phase is Phase.EXECUTE:
        yield 5, "{} change of accumulator", "when accumulator changes"
