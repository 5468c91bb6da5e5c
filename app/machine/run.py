"""A run: everything that a program does with given inputs, entered at any step.

A run is a pure function of (machine, memory image, inputs, requests). It is worked out lazily and
kept as *checkpoints*, whole states some instructions apart; the state at any step is found by
carrying on from the checkpoint before it. So memory is bounded by the length of the run over the
spacing, time by the spacing, and nothing later than the step asked for is computed.
"""

from __future__ import annotations

from array import array
from bisect import bisect_right
from collections.abc import Callable, Collection, Iterator, MutableSequence, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import islice

from .engine import Step, advance, trace, walk
from .instructions import Phase
from .machine import Machine, StepKind
from .operations import Status
from .requests import Request, come, in_order
from .state import Ending, State

DEFAULT_LIMIT = 10_000
_SPACING = 256
# Of a run of more the states that are kept stand further apart: of one of a million instructions
# every state 256 apart takes ten megabytes, and many boards may be open.
_MOST_CHECKPOINTS = 1024
_KEPT_NEAR = 2
# So far a run is followed to find where its requests are served.
MOST_FOLLOWED = 200_000


@dataclass(frozen=True, slots=True)
class Moment:
    """The machine just after a step: ``before`` and ``after`` it, and the step itself.

    At the very start ``step`` is None and the two states are the same. ``steps_of_phase`` are
    the steps of the same phase of the same instruction up to this one.
    """

    step: Step | None
    before: State
    after: State
    steps_of_phase: tuple[Step, ...] = ()

    @property
    def phase(self) -> Phase | None:
        return self.step.kind.phase if self.step else None


class Run:
    """A run of a program.

    ``inputs`` are bit patterns. ``limit`` is the most instructions that are carried out before
    the run is said not to stop. ``requests`` break in on a machine with interrupts.

    Raises ValueError where the image does not fit memory, or a word of it no word.
    """

    def __init__(
        self,
        machine: Machine,
        image: Sequence[int],
        inputs: Sequence[int] = (),
        limit: int = DEFAULT_LIMIT,
        requests: Sequence[Request] = (),
    ) -> None:
        self.machine = machine
        self.requests = in_order(requests)
        self.inputs = tuple(inputs)
        self.limit = limit
        start = State.start(machine, tuple(image))
        self._checkpoints = [start]
        self._checkpoint_steps = [0]
        self._spacing = _SPACING
        self._front = start.copy()
        # (As numbers of 16 bits: a run may send a million.)
        self._outputs = array("H")
        # Of the instructions that were asked for last, the last one first: who asks for one of the
        # steps asks for others, and for those of the instruction before.
        self._near: list[list[Moment]] = []
        # Where a run that was changed differs from the one before it: after these steps, all of the
        # instruction that it starts with.
        self._changes: dict[int, tuple[Callable[[State], None], ...]] = {}
        # The run before it, whose steps go on to the one after which this one starts.
        self.earlier: Run | None = None

    def changed(
        self,
        step: int,
        change: Callable[[State], None],
        inputs: Sequence[int] | None = None,
        requests: Sequence[Request] | None = None,
    ) -> Run:
        """The run from ``step`` on, if the machine were changed just after it, even in the middle
        of an instruction. ``change`` is given the state there and changes it; ``inputs`` (bit
        patterns) are those that arrive from there on, ``requests`` all of them, of which those
        that come before ``step`` are as they are here.

        Steps are counted on. The steps before ``step`` belong to this run: the other is not to be
        asked for them. Raises IndexError where this run has no such step.
        """
        there = self.moment(step).after
        asked = self.requests if requests is None else requests
        made = Run(self.machine, (), self.inputs, self.limit, asked)
        if inputs is not None:
            made.inputs = (*self.inputs[: there.taken], *inputs)
        if step == 0:
            start = self._checkpoints[0].copy()
            change(start)
            made._checkpoints, made._checkpoint_steps = [start], [0]
            made._front = start.copy()
            return made
        made.earlier = self
        start = self._start_of_instruction(step)
        # What was changed before in the same instruction is changed all the same.
        made._changes = {at: each for at, each in self._changes.items() if start.steps < at}
        made._changes[step] = (*made._changes.get(step, ()), change)
        made._outputs = self._outputs[: start.sent]
        made._front = start.copy()
        for _ in made._walk(made._front, made._outputs):
            pass
        made._checkpoints = [start, made._front.copy()]
        made._checkpoint_steps = [start.steps, made._front.steps]
        if self.earlier:
            self._forget_after(step)
        return made

    def _forget_after(self, step: int) -> None:
        """Forget what was worked out after the instruction of a step, of a run that was changed:
        nobody looks at it once it is changed again, and many changes are kept. Who asks for it all
        the same has it worked out anew."""
        kept = max(bisect_right(self._checkpoint_steps, step), 2)
        del self._checkpoints[kept:], self._checkpoint_steps[kept:]
        self._front = self._checkpoints[-1].copy()
        del self._outputs[self._front.sent :]

    def _walk(self, state: State, outputs: MutableSequence[int] | None = None) -> Iterator[Step]:
        """Carry out the instruction at which ``state`` stands, a step at a time."""
        sent = [] if outputs is None else outputs
        for made in walk(self.machine, state, self.inputs, sent, self.requests):
            for change in self._changes.get(made.number, ()):
                change(state)
            yield made

    @property
    def first_step(self) -> int:
        """The step after which it starts: 0, unless it was changed in its middle."""
        return self._checkpoint_steps[0]

    @property
    def changed_at(self) -> Collection[int]:
        """The steps after which it was changed, in the instruction that it starts with."""
        return self._changes.keys()

    @property
    def known_steps(self) -> int:
        """How many steps have been worked out so far."""
        return self._front.steps

    @property
    def ending(self) -> Ending | None:
        """Why the run ends, once it has been worked out to its end; None before."""
        return self._front.ending

    def _extend(self, step: int) -> None:
        """Work the run out until ``step`` is known or the run has ended."""
        front = self._front
        while front.ending is None and front.steps < step:
            mark = min((front.cycles // self._spacing + 1) * self._spacing, self.limit)
            advance(self.machine, front, self.inputs, self._outputs, mark, step, self.requests)
            if front.ending is None and front.cycles >= self.limit:
                front.ending = Ending.LIMIT
            if front.ending is None and front.cycles % self._spacing == 0:
                self._checkpoints.append(front.copy())
                self._checkpoint_steps.append(front.steps)
                if len(self._checkpoints) > _MOST_CHECKPOINTS:
                    self._keep_fewer()

    def _keep_fewer(self) -> None:
        """Keep every other state. A run that was changed has its start and what comes after the
        change as the first two."""
        self._spacing *= 2
        first, later = self._checkpoints[:2], self._checkpoints[2:]
        self._checkpoints = [*first, *(each for each in later if not each.cycles % self._spacing)]
        self._checkpoint_steps = [each.steps for each in self._checkpoints]

    def finish(self) -> State:
        """Work the run out to its end, and return the state there (a copy)."""
        self._extend(self.limit * self.machine.longest + 1)
        return self._front.copy()

    @property
    def last_step(self) -> int:
        """The number of steps of the whole run."""
        self.finish()
        return self._front.steps

    @property
    def phases(self) -> int:
        """The number of phases of the whole run: the presses that going by phases takes."""
        return self.phases_by(self.last_step)

    def phases_by(self, step: int) -> int:
        """How many phases have begun by a step. Raises IndexError where the run has no such
        step."""
        moment = self.moment(step)
        last = moment.step
        if last is None:
            return 0
        usual = [each for each in Phase if each is not Phase.INTERRUPT]
        # Of the last instruction those are counted that it came to, of those before it all three.
        reached = usual.index(last.kind.phase) + 1 if last.kind.phase in usual else len(usual)
        # A request counts as served with the last step of the phase that serves it.
        serves = last.kind.phase is Phase.INTERRUPT
        under_way = serves and last.kind.place_in_phase < len(self.machine.interrupt) - 1
        return len(usual) * (last.cycle - 1) + reached + moment.after.served + under_way

    def reaches(self, step: int) -> bool:
        """Whether the run has a step of this number."""
        self._extend(step)
        return 0 <= step <= self._front.steps

    def outputs(self, count: int, first: int = 0) -> tuple[int, ...]:
        """The first ``count`` outputs but for the ``first`` ones of them, as bit patterns; of those
        that have been worked out so far, so that who wants all of them finishes the run first."""
        return tuple(self._outputs[first:count])

    def _start_of_instruction(self, step: int) -> State:
        """The state before the instruction that ``step`` (from 1) belongs to."""
        if near := self._instruction_near(step):
            return near[0].before.copy()
        for each in self._near:
            if each[-1].after.steps == step - 1:
                return each[-1].after.copy()  # it comes right after one that is known
        at = bisect_right(self._checkpoint_steps, step - 1) - 1
        state = self._checkpoints[at].copy()
        # An instruction takes at most so many steps, so this cannot pass the one looked for.
        before = step - self.machine.longest
        advance(self.machine, state, self.inputs, [], self.limit, before, self.requests)
        while True:
            following = state.copy()
            for _ in self._walk(following):
                pass
            if following.steps >= step or following.ending is not None:
                return state
            state = following

    def moment(self, step: int) -> Moment:
        """The machine just after ``step``; 0 is the start.

        Raises IndexError where the run has no such step.
        """
        self._need(step)
        # A step further, because running off memory shows only where the next fetch should be.
        self._extend(step + 1)
        if step == 0:
            start = self._checkpoints[0].copy()
            return Moment(None, start, start)
        near = self._moment_near(step)
        found = Moment(near.step, near.before.copy(), near.after.copy(), near.steps_of_phase)
        if step == self._front.steps and self._front.ending is not None:
            found.after.ending = self._front.ending
        return found

    def step(self, step: int) -> Step | None:
        """What is done in a step, without the machine around it; None at the start.

        Raises IndexError where the run has no such step.
        """
        self._need(step)
        return self._moment_near(step).step if step else None

    def _need(self, step: int) -> None:
        if not self.reaches(step):
            raise IndexError(f"the run has {self._front.steps} steps, so there is no step {step}")

    def _moment_near(self, step: int) -> Moment:
        """The machine just after a step from 1 on; its states are not to be changed."""
        instruction = self._instruction(step)
        return instruction[step - instruction[0].after.steps]

    def _instruction(self, step: int) -> list[Moment]:
        """Each step of the instruction that a step from 1 on belongs to."""
        instruction = self._instruction_near(step)
        if not instruction:
            instruction = self._moments(self._start_of_instruction(step))
            self._near = [instruction, *self._near[: _KEPT_NEAR - 1]]
        return instruction

    def _instruction_near(self, step: int) -> list[Moment]:
        """Each step of the instruction that a step belongs to, if it was asked for just now."""
        for each in self._near:
            if each[0].after.steps <= step <= each[-1].after.steps:
                return each
        return []

    def _moments(self, start: State) -> list[Moment]:
        """Each step of the instruction before which ``start`` is."""
        made: list[Moment] = []
        phase: list[Step] = []
        state, before = start.copy(), start
        for step in self._walk(state):
            if phase and phase[-1].kind.phase is not step.kind.phase:
                phase = []
            phase.append(step)
            after = state.copy()
            made.append(Moment(step, before, after, tuple(phase)))
            before = after
        return made

    def steps(self) -> Iterator[tuple[int, int, StepKind, int | Status | None]]:
        """Every step from the first to the end or the limit, as tuples like :class:`Step`."""
        last = self.limit * self.machine.longest + 1
        return self._steps_from(self._checkpoints[0].copy(), last)

    def _steps_from(
        self, state: State, last: int
    ) -> Iterator[tuple[int, int, StepKind, int | Status | None]]:
        """The same from an instruction before which ``state`` is, to the one with the step
        ``last``."""
        changes = self._changes and state.steps == self.first_step
        for each in self._walk(state) if changes else ():
            yield each.number, each.cycle, each.kind, each.value
        if state.ending is None:
            yield from trace(self.machine, state, self.inputs, [], self.limit, last, self.requests)

    def after_phase(self, step: int) -> int:
        """The last step of the phase that comes after ``step`` (the same step at the end)."""
        return self._after(step, lambda made: (made.cycle, made.kind.phase))

    def after_instruction(self, step: int) -> int:
        """The last step of the instruction that comes after ``step``."""
        return self._after(step, lambda made: made.cycle)

    def _after(self, step: int, group: Callable[[Step], object]) -> int:
        if not self.reaches(step + 1):
            return step
        first = None
        for made in self._walk_from(step + 1):
            if first is None:
                first = group(made)
            if group(made) != first:
                break
            step = made.number
        return step

    def before_phase(self, step: int) -> int:
        """The step before the phase that ``step`` belongs to: going back by one phase."""
        self._need(step)
        return step - len(self._moment_near(step).steps_of_phase) if step else 0

    def before_instruction(self, step: int) -> int:
        """The step before the instruction that ``step`` belongs to."""
        self._need(step)
        return self._instruction(step)[0].before.steps if step else 0

    def place(self, step: int) -> tuple[int, int]:
        """Which instruction a step belongs to and which of its steps it is, counted from 1 as
        the board counts; both are 0 at the start. Raises IndexError where the run has no such
        step."""
        if step == 0:
            return 0, 0
        self._need(step)
        start = self._start_of_instruction(step)
        return start.cycles + 1, step - start.steps

    def waiting(self, step: int) -> tuple[Request, ...]:
        """The requests that have come by a step and are not served yet, in their order."""
        if not self.requests:
            return ()
        state = self.moment(step).after
        return self.requests[state.served : come(self.requests, state.cycles, self.place(step))]

    def to_come(self, state: State) -> tuple[int, ...]:
        """The inputs that are still to come in a state, as bit patterns: what requests have brought
        that were served, then those of the list."""
        brought = (each.value for each in self.requests[state.heard : state.served])
        return (*brought, *self.inputs[state.taken :])

    def request(self, step: int, value: int) -> Request:
        """A request that comes with a step and brings a value. It comes behind all that have come
        by then."""
        number, place = self.place(step)
        ended = self.moment(step).after.cycles >= number
        return Request(number, 0 if ended else place, value)

    def served_at(self, number: int) -> int | None:
        """The first step that serves a request, the requests counted from 0; None where it is not
        served in the first MOST_FOLLOWED steps."""
        at = number - self._checkpoints[0].served
        return self._services[at] if at < len(self._services) else None

    @cached_property
    def _services(self) -> list[int]:
        first = self.machine.interrupt_kinds[:1]
        return [
            step for step, _, kind, _ in islice(self.steps(), MOST_FOLLOWED) if (kind,) == first
        ]

    def following(self, step: int) -> Iterator[Step]:
        """The steps after ``step`` to the end of their instruction; none at the end of the run."""
        return self._walk_from(step + 1) if self.reaches(step + 1) else iter(())

    def last_step_like(
        self, wanted: Callable[[StepKind], object], step: int, back: int
    ) -> int | None:
        """The last step of a kind that is wanted, of so many up to ``step``; None where none is.
        They are only traced: to look at the moment after each takes a hundred times as long."""
        found = None
        first = max(step - back + 1, self.first_step + 1)
        if first > step or not self.reaches(step):
            return None
        for number, _, kind, _ in self._steps_from(self._start_of_instruction(first), step):
            if first <= number <= step and wanted(kind):
                found = number
        return found

    def _walk_from(self, step: int) -> Iterator[Step]:
        """The steps from ``step`` to the end of its instruction."""
        if near := self._instruction_near(step):
            yield from (each.step for each in near[step - near[0].after.steps :] if each.step)
            return
        state = self._start_of_instruction(step)
        for made in self._walk(state):
            if made.number >= step:
                yield made
