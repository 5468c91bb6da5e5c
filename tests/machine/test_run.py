"""A run entered at any step, how runs end, and programs whose outcome Python works out too."""

from __future__ import annotations

from collections.abc import Iterator
from random import Random

import pytest

from app.machine.engine import Step, walk
from app.machine.growing import grown
from app.machine.instructions import Phase
from app.machine.machine import EIGHT_BIT, MACHINES, SIXTEEN_BIT
from app.machine.run import DEFAULT_LIMIT, Moment, Run
from app.machine.source.assembler import assemble
from app.machine.state import Ending, State
from app.machine.telling.narration import phase_sentence, sentence, stopped
from app.machine.telling.reading import Reading
from app.machine.words import BASES, Format
from tests.codes import word
from tests.machine.images import draw

BOTH = pytest.mark.parametrize("format", MACHINES.values(), ids=MACHINES)

# Counts up for ever, storing and sending as it goes: 8 + 6 + 8 + 6 + 6 = 34 steps a time round.
COUNTING = "again: LOAD x\nADD #1\nSTORE x\nOUTPUT\nJUMP again\nx: 0"

# One run for each way to end, with its last step worked out by hand.
RUNS_THAT_END = {
    Ending.HALTED: (EIGHT_BIT, [word("LOAD #1"), 0x00], DEFAULT_LIMIT, 6 + 6),
    Ending.OFF_MEMORY: (EIGHT_BIT, [word("LOAD #0")] * 16, DEFAULT_LIMIT, 16 * 6),
    Ending.UNKNOWN_CODE: (SIXTEEN_BIT, [word("LOAD #0", "16-bit"), 0x1000], DEFAULT_LIMIT, 6 + 5),
    Ending.WAITING: (EIGHT_BIT, [word("LOAD #1"), word("INPUT")], DEFAULT_LIMIT, 6 + 5),
    Ending.LIMIT: (EIGHT_BIT, [word("JUMP 0")], 25, 25 * 6),
    # The step that cannot be carried out is not done: the third, first and first after decode.
    Ending.NO_ADDRESS: (
        grown(frozenset({"index register"})),
        [word("LOAD 1 INDIRECT", "16-bit"), 300],
        DEFAULT_LIMIT,
        5 + 2,
    ),
    Ending.STACK_EMPTY: (
        grown(frozenset({"stack"})),
        [word("LOAD #1", "16-bit"), word("POP", "16-bit")],
        DEFAULT_LIMIT,
        6 + 5,
    ),
    Ending.STACK_FULL: (
        grown(frozenset({"stack"})),
        [word("PUSH", "16-bit")] * 2 + [0] * 253,
        DEFAULT_LIMIT,
        9 + 5,
    ),
}
EVERY_ENDING = pytest.mark.parametrize("ending", Ending)


def run_of(
    format: Format, source: str, inputs: tuple[int, ...] = (), limit: int = DEFAULT_LIMIT
) -> Run:
    program = assemble(format, source)
    assert program.problems == ()
    return Run(format, program.words, inputs, limit)


def run_that_ends(ending: Ending) -> Run:
    format, image, limit, _ = RUNS_THAT_END[ending]
    return Run(format, image, limit=limit)


def walked(run: Run, image: tuple[int, ...]) -> list[Moment]:
    """Every moment of a run, by walking it from the start with nothing skipped."""
    state = State.start(run.machine, image)
    moments = [Moment(None, state.copy(), state.copy())]
    while state.ending is None and state.cycles < run.limit:
        before, phase = state.copy(), []
        for step in walk(run.machine, state, run.inputs, []):
            if phase and phase[-1].kind.phase is not step.kind.phase:
                phase = []
            phase.append(step)
            moments.append(Moment(step, before, state.copy(), tuple(phase)))
            before = state.copy()
    # Why a run ends, other than by HALT, is known only when the walk can go no further.
    moments[-1].after.ending = state.ending or Ending.LIMIT
    return moments


# Any moment.


@BOTH
def test_a_moment_is_what_walking_there_finds(format: Format) -> None:
    rng = Random(7)
    for seed in range(40):
        image, inputs = draw(format, seed)
        moments = walked(Run(format, image, inputs, 100), image)
        run = Run(format, image, inputs, 100)
        for _ in range(20):
            step = rng.randrange(len(moments))
            # On a run that has been looked at elsewhere already, and on a fresh one.
            assert run.moment(step) == moments[step], (seed, step)
            assert Run(format, image, inputs, 100).moment(step) == moments[step], (seed, step)
        assert run.last_step == len(moments) - 1


def test_moments_of_a_long_run() -> None:
    """Long enough to be kept in many pieces; looked at back and forth."""
    program = assemble(SIXTEEN_BIT, COUNTING)
    run = Run(SIXTEEN_BIT, program.words, limit=2000)
    moments = walked(run, program.words)
    steps = Random(3).choices(range(len(moments)), k=300)
    # Pieces meet at the end of an instruction, so the ends of all are looked at.
    steps += [at for at, each in enumerate(moments) if each.after.cycles != each.before.cycles]
    for step in steps:
        assert run.moment(step) == moments[step], step
    assert run.last_step == len(moments) - 1 == 2000 // 5 * 34


def test_a_moment_may_be_changed_without_harm() -> None:
    run = run_of(EIGHT_BIT, COUNTING)
    for step in (0, 1, 100):
        moment = run.moment(step)
        moment.after.memory[5] = moment.before.memory[5] = 99
        moment.after.acc = 99
        assert run.moment(step).after.memory[5] != 99
        assert run.moment(step).after.acc != 99


def test_the_first_moment_is_the_machine_just_switched_on() -> None:
    moment = run_of(EIGHT_BIT, "LOAD #9\nHALT").moment(0)
    assert (moment.step, moment.phase, moment.steps_of_phase) == (None, None, ())
    assert moment.before == moment.after
    assert moment.after.memory[:2] == [word("LOAD #9"), 0x00]
    assert (moment.after.pc, moment.after.acc, moment.after.ending) == (0, 0, None)


@EVERY_ENDING
def test_there_is_no_moment_outside_the_run(ending: Ending) -> None:
    last = RUNS_THAT_END[ending][3]
    for step in (-1, last + 1, last + 1000):
        with pytest.raises(IndexError, match="no step"):
            run_that_ends(ending).moment(step)
        with pytest.raises(IndexError, match="no step"):
            run_that_ends(ending).before_instruction(step)
        with pytest.raises(IndexError, match="no step"):
            run_that_ends(ending).place(step)
    assert run_that_ends(ending).reaches(last)
    assert not run_that_ends(ending).reaches(last + 1)
    assert not run_that_ends(ending).reaches(-1)


def test_nothing_later_than_what_is_asked_for_is_worked_out() -> None:
    run = run_of(SIXTEEN_BIT, COUNTING, limit=10_000_000)
    run.moment(1)
    assert run.known_steps <= 2 * EIGHT_BIT.longest
    run.moment(1000)
    assert 1000 <= run.known_steps <= 1000 + 2 * EIGHT_BIT.longest
    assert run.reaches(5000)
    assert run.known_steps <= 5000 + 2 * EIGHT_BIT.longest
    assert run.ending is None


def test_a_run_is_the_same_every_time() -> None:
    image, inputs = draw(EIGHT_BIT, 5)
    first, second = (list(Run(EIGHT_BIT, image, inputs, 500).steps()) for _ in range(2))
    assert first == second


@BOTH
def test_all_steps_in_a_row_are_the_steps_of_the_moments(format: Format) -> None:
    for seed in range(20):
        image, inputs = draw(format, seed)
        run = Run(format, image, inputs, 40)
        made = list(run.steps())
        assert made == [tuple(run.moment(at).step or ()) for at in range(1, run.last_step + 1)]


@pytest.mark.parametrize("ending", RUNS_THAT_END)
def test_the_last_step_of_a_kind_is_that_of_the_moments(ending: Ending) -> None:
    machine, words, limit, _last = RUNS_THAT_END[ending]
    run = Run(machine, words, (), limit)
    steps = [run.moment(step).step for step in range(1, run.last_step + 1)]
    for step in (1, 5, run.last_step // 2, run.last_step):
        for back in (1, 3, 1000):
            there = [each for each in steps[max(step - back, 0) : step] if each]
            found = [each.number for each in there if each.kind.phase is Phase.DECODE]
            told = run.last_step_like(lambda kind: kind.phase is Phase.DECODE, step, back)
            assert told == (found[-1] if found else None), (step, back)
    assert run.last_step_like(lambda kind: True, run.last_step + 1, 5) is None
    assert run.last_step_like(lambda kind: True, 0, 5) is None


def test_to_find_the_last_step_of_a_kind_few_instructions_are_looked_at(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The machine stood still after every step on the way: half of what questions took."""
    run = Run(EIGHT_BIT, assemble(EIGHT_BIT, COUNTING).words, (), 200)
    assert run.finish().cycles == 200
    walked = 0
    walk = Run._walk

    def counted(self: Run, state: State, outputs: list[int] | None = None) -> Iterator[Step]:
        nonlocal walked
        walked += 1
        return walk(self, state, outputs)

    monkeypatch.setattr(Run, "_walk", counted)
    assert run.last_step_like(lambda kind: True, run.last_step, 1000) == run.last_step
    assert walked <= 5


def test_of_a_changed_run_that_is_changed_again_little_is_kept() -> None:
    """Forty changes, each followed far, took 800 MB."""
    run = Run(EIGHT_BIT, assemble(EIGHT_BIT, COUNTING).words, (), 5000)

    def change(state: State) -> None:
        state.acc = 3

    run.finish()
    first = run.changed(20, change)
    whole, sent = first.finish(), first.outputs(first.finish().sent)
    seen = [first.moment(step) for step in (21, 60, 3000)]
    second = first.changed(60, change)
    assert second.finish().ending is Ending.LIMIT
    assert len(first._checkpoints) == 2 and first.known_steps <= 60
    assert len(first._outputs) == first._front.sent < 5
    assert len(run._checkpoints) > 10, "the lesson's own run is looked at again"
    # What is asked for all the same is as it was.
    assert [first.moment(step) for step in (21, 60, 3000)] == seen
    assert first.finish() == whole and first.outputs(whole.sent) == sent


def test_outputs_so_far() -> None:
    run = run_of(EIGHT_BIT, COUNTING)
    assert [run.outputs(run.moment(34 * round_).after.sent) for round_ in range(4)] == [
        (),
        (1,),
        (1, 2),
        (1, 2, 3),
    ]


# Going by phases and instructions.

# Steps 1-4 fetch, 5 decode, 6-8 execute LOAD; 9-12, 13, 14 OUTPUT; 15-18, 19, 20 HALT.
THREE = "LOAD 3\nOUTPUT\nHALT\n9"


@pytest.mark.parametrize(
    ("step", "after_phase", "after_instruction", "before_phase", "before_instruction"),
    [
        (0, 4, 8, 0, 0),
        (1, 4, 8, 0, 0),
        (3, 4, 8, 0, 0),
        (4, 5, 8, 0, 0),
        (5, 8, 8, 4, 0),
        (6, 8, 8, 5, 0),
        (8, 12, 14, 5, 0),
        (9, 12, 14, 8, 8),
        (13, 14, 14, 12, 8),
        (14, 18, 20, 13, 8),
        (19, 20, 20, 18, 14),
        (20, 20, 20, 19, 14),
    ],
)
def test_neighbouring_phases_and_instructions(
    step: int, after_phase: int, after_instruction: int, before_phase: int, before_instruction: int
) -> None:
    run = run_of(EIGHT_BIT, THREE)
    assert run.after_phase(step) == after_phase
    assert run.after_instruction(step) == after_instruction
    assert run.before_phase(step) == before_phase
    assert run.before_instruction(step) == before_instruction


def test_phases_of_the_moments() -> None:
    run = run_of(EIGHT_BIT, THREE)
    fetch, decode, execute = run.machine.phases
    expected = [fetch] * 4 + [decode] + [execute] * 3 + ([fetch] * 4 + [decode, execute]) * 2
    assert [run.moment(step).phase for step in range(1, 21)] == expected


@EVERY_ENDING
def test_forward_by_phases_and_back_the_same_way(ending: Ending) -> None:
    run = run_that_ends(ending)
    last = RUNS_THAT_END[ending][3]
    places = [0]
    while run.after_phase(places[-1]) != places[-1]:
        places.append(run.after_phase(places[-1]))
    assert places[-1] == last
    back = [last]
    while back[-1]:
        back.append(run.before_phase(back[-1]))
    assert back[::-1] == places
    # Whole instructions are some of these places.
    place = 0
    while run.after_instruction(place) != place:
        place = run.after_instruction(place)
        assert place in places
    assert place == last


# Endings.


@EVERY_ENDING
def test_every_ending_is_reached_and_explained(ending: Ending) -> None:
    format, _, limit, last = RUNS_THAT_END[ending]
    run = run_that_ends(ending)
    assert run.ending is None
    assert run.last_step == last
    assert run.ending is ending
    assert run.finish().ending is ending
    reading = Reading(format, "denary")
    said = {
        Ending.HALTED: "stops the clock",
        Ending.OFF_MEMORY: "past the last address, 15",
        Ending.UNKNOWN_CODE: "the opcode 16",
        Ending.WAITING: "asks for an input",
        Ending.LIMIT: "after 25 instructions",
        Ending.NO_ADDRESS: "300 was read as an address",
        Ending.STACK_EMPTY: "stack is empty",
        Ending.STACK_FULL: "grown down to the words of the program",
    }
    assert said[ending] in sentence(reading, run.moment(last), limit)
    # Every way to end has words of its own.
    ended = [State.start(format, ()) for _ in Ending]
    for state, each in zip(ended, Ending, strict=True):
        state.ending = each
    assert len({stopped(reading, state, limit) for state in ended}) == len(Ending)


@EVERY_ENDING
def test_the_last_moment_knows_the_ending_however_it_is_come_to(ending: Ending) -> None:
    last = RUNS_THAT_END[ending][3]
    assert run_that_ends(ending).moment(last).after.ending is ending
    finished = run_that_ends(ending)
    finished.finish()
    assert finished.moment(last).after.ending is ending
    assert finished.moment(last) == run_that_ends(ending).moment(last)
    assert finished.moment(last - 1).after.ending is None
    assert finished.moment(last).before.ending is None


@pytest.mark.parametrize("limit", [1, 2, 255, 256, 257, 512, 1000])
def test_a_run_that_does_not_stop_is_stopped_at_its_limit(limit: int) -> None:
    run = Run(EIGHT_BIT, [word("JUMP 0")], limit=limit)
    end = run.finish()
    assert (end.ending, end.cycles, end.steps) == (Ending.LIMIT, limit, limit * 6)
    # And it stays usable at every step already made.
    assert run.moment(limit * 6 - 1).after.steps == limit * 6 - 1
    assert len(list(run.steps())) == limit * 6


def test_a_run_that_halts_just_at_its_limit_has_halted() -> None:
    assert Run(EIGHT_BIT, [word("LOAD #0")] * 2, limit=3).finish().ending is Ending.HALTED
    assert Run(EIGHT_BIT, [word("LOAD #0")] * 2, limit=2).finish().ending is Ending.LIMIT


@pytest.mark.parametrize("status", ["LESS", "EQUAL", "MORE"])
def test_before_the_first_comparison_there_is_no_status(status: str) -> None:
    run = run_of(EIGHT_BIT, f"JUMP 3 IF {status}\nCOMPARE #0\nJUMP 3 IF EQUAL\nHALT")
    reading = Reading(EIGHT_BIT, "denary")
    start, first, last = run.moment(0), run.moment(6), run.moment(18)
    assert (start.after.status, reading.term("status", start.after)) == (None, "–")
    assert reading.term("status", last.after) == "EQUAL"
    said = "here has been no comparison yet, so there is no jump: the program counter stays at 1."
    assert sentence(reading, first, 100) == f"T{said}"
    assert phase_sentence(reading, first, start.after, 100) == f"Execute: t{said}"
    assert sentence(reading, last, 100).startswith("The status is EQUAL, so it jumps:")


@pytest.mark.parametrize("base", BASES)
@BOTH
def test_every_moment_can_be_told_in_a_sentence(format: Format, base: str) -> None:
    """No moment raises, and none leaves a name unfilled."""
    reading = Reading(format, base)
    for seed in range(12):
        image, inputs = draw(format, seed)
        run = Run(format, image, inputs, 20)
        for step in range(run.last_step + 1):
            moment = run.moment(step)
            start = run.moment(run.before_phase(step)).after
            for words in (
                sentence(reading, moment, 20),
                phase_sentence(reading, moment, start, 20),
            ):
                assert words.endswith(".")
                assert not set("{}") & set(words)


# Programs, against plain Python.

SUM = """
        INPUT             ; how many numbers follow
        STORE left
again:  LOAD  left
        COMPARE #0
        JUMP  done IF EQUAL
        SUBTRACT #1
        STORE left
        INPUT
        ADD   total
        STORE total
        JUMP  again
done:   LOAD  total
        OUTPUT
        HALT
left:   0
total:  0
"""

MULTIPLY = """
        INPUT
        STORE a
        INPUT
        STORE b
again:  LOAD  b
        SUBTRACT #1
        JUMP  done IF LESS
        STORE b
        LOAD  product
        ADD   a
        STORE product
        JUMP  again
done:   LOAD  product
        OUTPUT
        HALT
a:      0
b:      0
product: 0
"""

# The task of the first stored-program computer in June 1948: the largest proper factor of a
# number, found by trying smaller and smaller ones, dividing by taking away.
LARGEST_FACTOR = """
        INPUT
        STORE number
        STORE trial
next:   LOAD  trial
        SUBTRACT #1
        STORE trial
        LOAD  number
divide: SUBTRACT trial
        JUMP  divide IF MORE
        JUMP  found IF EQUAL
        JUMP  next
found:  LOAD  trial
        OUTPUT
        HALT
number: 0
trial:  0
"""


@BOTH
@pytest.mark.parametrize("numbers", [(), (5,), (1, 2, 3), (100, -100, 7), (9,) * 12])
def test_adding_up_a_list(format: Format, numbers: tuple[int, ...]) -> None:
    inputs = tuple(format.pattern(each) for each in (len(numbers), *numbers))
    run = run_of(format, SUM, inputs)
    end = run.finish()
    assert end.ending is Ending.HALTED
    assert [format.signed(each) for each in run.outputs(end.sent)] == [sum(numbers)]


def test_multiplying_by_adding() -> None:
    for a in (-300, -1, 0, 1, 2, 77, 181):
        for b in (0, 1, 2, 3, 50, 100):
            run = run_of(SIXTEEN_BIT, MULTIPLY, (SIXTEEN_BIT.pattern(a), b))
            end = run.finish()
            assert end.ending is Ending.HALTED
            assert [SIXTEEN_BIT.signed(each) for each in run.outputs(end.sent)] == [a * b]


def test_largest_proper_factor() -> None:
    for number in (2, 3, 4, 15, 49, 64, 97, 100, 143, 180):
        run = run_of(SIXTEEN_BIT, LARGEST_FACTOR, (number,), limit=1_000_000)
        end = run.finish()
        factor = max(each for each in range(1, number) if number % each == 0)
        assert (end.ending, run.outputs(end.sent)) == (Ending.HALTED, (factor,))


def test_of_a_long_run_no_more_states_are_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    """One of a million instructions took 27 MB, and fifty boards 2,600."""

    def made() -> tuple[Run, Run]:
        run = Run(EIGHT_BIT, assemble(EIGHT_BIT, COUNTING).words, (), 20_000)
        changed = run.changed(1234, lambda state: setattr(state, "acc", 3))
        return run, changed

    whole = made()
    ends = [each.finish() for each in whole]
    monkeypatch.setattr("app.machine.run._MOST_CHECKPOINTS", 8)
    fewer = made()
    assert [each.finish() for each in fewer] == ends
    for run, other in zip(whole, fewer, strict=True):
        assert len(run._checkpoints) > 70 and 4 <= len(other._checkpoints) <= 8
        assert other._outputs.itemsize * 8 == 16
        assert run.outputs(ends[0].sent) == other.outputs(ends[0].sent)
        last = run.last_step
        for step in (1234, 1240, 5000, 77_777, last - 1, last):
            assert run.moment(step) == other.moment(step)
            assert run.before_instruction(step) == other.before_instruction(step)
