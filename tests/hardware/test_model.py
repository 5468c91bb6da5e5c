"""The model held to the hardware, step for step.

The two share no code: the hardware (:mod:`.rtl`) was written from ``machine.md`` alone. The
model gives each run in four ways: walked a step at a time, entered at a step
(:meth:`Run.moment`), traced as tuples, and advanced without steps. Each is compared, over the
scenes of the lessons that ship and over generated programs. A last group of tests plants faults
in the model and sees that each way of looking finds them.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import combinations, pairwise
from random import Random

import pytest

from app.lesson.file.shelf import Shelf
from app.lesson.model import Scene
from app.machine import engine
from app.machine.engine import Step
from app.machine.growing import PARTS, grown
from app.machine.instructions import DECODE, FETCH, INSTRUCTIONS
from app.machine.machine import EIGHT_BIT, MACHINES, StepKind, machine_with
from app.machine.operations import Mark, Status
from app.machine.requests import Request, kept
from app.machine.run import Run
from app.machine.state import Ending, State
from app.machine.transfers import Transfer
from app.paths import resource
from tests.hardware.generate import (
    GROWN_SHAPES,
    SHAPES,
    Program,
    broken_into,
    generate,
    generate_grown,
)
from tests.hardware.rtl import Asked, Snapshot, hardware, signed, simulate

MOST_STEPS = 400
SEEDS = 240
# A run is entered at one step in so many, drawn anew for each program: entering it costs more
# than walking it, as what was worked out must be found again.
ENTERED = 8
SCENES = [
    (lesson.slug, number, scene)
    for lesson in Shelf(resource("lessons")).lessons()
    for number, scene in enumerate(lesson.scenes, start=1)
    if scene.program.words
]


class Differs(AssertionError):
    """The model is not what the hardware is."""


def ended(ending: Ending | None) -> str:
    return str(ending or "").replace(" ", "_")


def as_snapshot(state: State, outputs: Sequence[int], bits: int) -> Snapshot:
    """A state of the model in the hardware's words."""
    return Snapshot(
        state.pc,
        state.mar,
        state.mdr,
        state.cir,
        state.acc,
        state.status.name if state.status else "",
        state.overflow,
        tuple(state.memory),
        tuple(signed(each, bits) for each in outputs),
        ended(state.ending),  # type: ignore[arg-type]
        *(state.others.get(tag, 0) for tag in ("carry", "X", "SP", "V", "interrupts")),
    )


def same(where: str, number: int, model: object, real: object) -> None:
    if model != real:
        raise Differs(f"step {number}, {where}: the model has {model}, the hardware {real}")


def value_of(kind: StepKind, after: Snapshot, bits: int) -> int | Status | None:
    """What the hardware shows in the place that a step of this kind changes."""
    transfer = kind.transfer
    marks = {Mark.CARRY: after.carry, Mark.OVERFLOW: after.overflow}
    condition = transfer.condition
    holds = marks.get(condition) if isinstance(condition, Mark) else condition == after.status
    if transfer.target == "clock" or (condition and not holds):
        return None
    if transfer.target == "output":
        return after.outputs[-1] % (1 << bits)
    places = {
        "PC": after.pc,
        "MAR": after.mar,
        "MDR": after.mdr,
        "opcode, operand": after.cir,
        "CIR": after.cir,
        "ACC": after.acc,
        "memory[MAR]": after.memory[after.mar],
        "X": after.x,
        "SP": after.sp,
        "V": after.v,
        "interrupts": after.interrupts,
    }
    return Status[after.status] if transfer.target == "status" else places[transfer.target]


def check_walk(run: Run, program: Program, real: Sequence[Snapshot]) -> list[Step]:
    """Walk the program step by step beside the hardware; the steps that were made."""
    bits = run.machine.word_bits
    state = State.start(run.machine, program.memory)
    outputs: list[int] = []
    made: list[Step] = []

    def on() -> Iterator[Step]:
        while state.ending is None and state.cycles < run.limit:
            yield from engine.walk(run.machine, state, run.inputs, outputs, run.requests)

    walking = on()
    for after in real:
        step = next(walking, None)
        if step is None:
            raise Differs(f"the model ends after {len(made)} steps, the hardware goes on")
        made.append(step)
        # How it ends shows only when a further step is tried: that is looked at below.
        snapshot = as_snapshot(state, outputs, bits)._replace(ended=after.ended)
        same(f"walked, {step.kind.transfer.notation}", step.number, snapshot, after)
        same("value", step.number, step.value, value_of(step.kind, after, bits))
    if real[-1].ended != "limit":
        for extra in walking:
            raise Differs(f"the model goes on with {extra}, the hardware has {real[-1].ended}")
        same("ending", len(made), ended(state.ending), real[-1].ended)
    return made


def check_moments(
    run: Run, steps: Sequence[Step], real: Sequence[Snapshot], entered: Sequence[int]
) -> None:
    """Enter the run at some steps, in any order."""
    bits = run.machine.word_bits
    for number in entered:
        moment, after = run.moment(number), real[number - 1]
        same("entered", number, moment.step, steps[number - 1])
        assert moment.step
        outputs = run.outputs(moment.after.sent)
        snapshot = as_snapshot(moment.after, outputs, bits)
        if after.ended == "limit" and not moment.after.ending:
            # The model's limit counts instructions, and was not reached yet.
            after = after._replace(ended="")
        same("entered", number, snapshot, after)
        if number > 1:
            first = real[number - 2]
            before = as_snapshot(moment.before, (), bits)
            same("entered, before", number, before, first._replace(outputs=()))


def check_trace(run: Run, steps: Sequence[Step]) -> None:
    """The tuples of the trace are the steps of the walk (which the hardware has confirmed)."""
    for traced, step in zip(run.steps(), steps, strict=False):
        same("traced", step.number, traced, tuple(step))


def check_fast(run: Run, program: Program, real: Sequence[Snapshot]) -> None:
    """Advance without steps, as far as whole instructions go, and look at where it stands."""
    state = State.start(run.machine, program.memory)
    outputs: list[int] = []
    stopped = real[-1].ended not in ("", "limit")
    # An instruction that has begun is carried out whole, so it must begin early enough.
    most = len(real) + 1 if stopped else max(len(real) - run.machine.longest + 1, 0)
    engine.advance(run.machine, state, run.inputs, outputs, run.limit, most, run.requests)
    if state.steps == 0:
        return
    snapshot = as_snapshot(state, outputs, run.machine.word_bits)
    expected = real[state.steps - 1]
    if not stopped:
        expected = expected._replace(ended="")
    same("advanced", state.steps, snapshot, expected)
    if stopped:
        same("steps", state.steps, state.steps, len(real))


def compare(
    program: Program, seed: int = 0, counter: str = "last", most_steps: int = MOST_STEPS
) -> list[Snapshot]:
    """Compare everything about a program, with the counter moving last or second in a fetch;
    what the hardware showed.

    Raises Differs at the first difference.
    """
    plain = grown(program.parts) if program.parts else MACHINES[program.machine]
    format = machine_with(plain, counter)
    inputs = [each & format.word_mask for each in program.inputs]
    requests = [
        Request(each.instruction, each.step, each.value & format.word_mask)
        for each in program.requests
    ]
    run = Run(format, program.memory, inputs, requests=requests)
    real = simulate(
        program.machine,
        program.memory,
        program.inputs,
        most_steps,
        counter == "second",
        program.parts,
        program.requests,
    )
    steps = check_walk(run, program, real)
    draw = Random(seed)
    entered = [draw.randint(1, len(real)) for _ in range(len(real) // ENTERED)]
    check_moments(run, steps, real, [*entered, 1, len(real)])
    check_trace(run, steps)
    check_fast(run, program, real)
    return real


@pytest.mark.parametrize(
    ("slug", "number", "scene"), SCENES, ids=[f"{slug}-{number}" for slug, number, _ in SCENES]
)
def test_every_scene_that_ships(slug: str, number: int, scene: Scene) -> None:
    """A whole scene, to its end or its limit: every step walked and every step entered."""
    format = scene.program.machine
    run = scene.run
    parts = frozenset(format.parts)
    # Where there may be a stack, the words that the program has set the end of its room.
    empty = 0 if parts else format.memory_words - len(scene.program.words)
    image = (*scene.program.words, *[0] * empty)
    inputs = tuple(format.signed(each) for each in scene.inputs)
    program = Program(format.name, f"{slug} {number}", image, inputs, parts)
    requests = tuple(
        Asked(each.instruction, each.step, format.signed(each.value)) for each in run.requests
    )
    real = hardware(format.name, parts=parts).run(image, inputs, run.last_step, requests)
    steps = check_walk(run, program, real)
    check_moments(run, steps, real, range(1, min(len(real), 1000) + 1))
    check_moments(run, steps, real, [len(real)])
    check_trace(run, steps)
    check_fast(run, program, real)


@pytest.mark.parametrize("machine", MACHINES)
@pytest.mark.parametrize("shape", range(len(SHAPES)), ids=[each.__name__ for each in SHAPES])
def test_generated_programs(machine: str, shape: int) -> None:
    """Programs of every shape, up to a number of steps; together they use what there is."""
    endings: Counter[str] = Counter()
    steps = 0
    for seed in range(shape, SEEDS, len(SHAPES)):
        real = compare(generate(machine, seed), seed)
        endings[real[-1].ended] += 1
        steps += len(real)
    assert endings.total() == SEEDS // len(SHAPES)
    assert steps > 5 * endings.total(), endings


@pytest.mark.parametrize("machine", MACHINES)
@pytest.mark.parametrize("shape", range(len(SHAPES)), ids=[each.__name__ for each in SHAPES])
def test_generated_programs_where_the_counter_moves_second(machine: str, shape: int) -> None:
    """Another order of the fetch, in the model and in the circuit."""
    for seed in range(shape, SEEDS // 2, len(SHAPES)):
        compare(generate(machine, seed), seed, "second")


# Interrupts come with the stack.
EVERY_CHOICE = [
    frozenset(choice)
    for count in range(1, len(PARTS) + 1)
    for choice in combinations(PARTS, count)
    if set(grown(frozenset(choice)).parts) == set(choice)
]
# Of each choice of parts so many programs are drawn, and each is followed for so many steps.
GROWN_SEEDS = 300
GROWN_STEPS = 150
BROKEN_INTO = GROWN_SHAPES.index(broken_into)


@pytest.mark.parametrize("parts", EVERY_CHOICE, ids=lambda each: "+".join(sorted(each)))
def test_generated_programs_on_every_choice_of_parts(parts: frozenset[str]) -> None:
    """Programs with calls, indexes and shifts; a part that is missing makes its codes unknown."""
    endings: Counter[str] = Counter()
    for seed in range(GROWN_SEEDS):
        counter = "second" if seed % 10 == 9 else "last"
        real = compare(generate_grown(seed, parts), seed, counter, GROWN_STEPS)
        endings[real[-1].ended] += 1
    brought = {
        "bit operations": ("unknown_code",) if len(parts) == 1 else (),
        "index register": ("no_address",),
        "stack": ("limit", "stack_empty", "stack_full"),
        "interrupts": ("off_memory", "waiting"),
    }
    assert {"halted", *(each for part in parts for each in brought[part])} <= set(endings)


def test_a_request_at_every_step_of_a_program() -> None:
    """Programs that requests break into, each with a request at every one of its steps in turn:
    an even number of them brings a second one a step later."""
    served = 0
    for seed in range(BROKEN_INTO, 12 * len(GROWN_SHAPES), len(GROWN_SHAPES)):
        quiet = replace(generate_grown(seed), requests=())
        places = [(0, 0)]
        run = Run(grown(quiet.parts), quiet.memory, [each & 0xFFFF for each in quiet.inputs])
        places += [run.place(step) for step in range(1, min(run.last_step, 70) + 1)]
        for at, place in enumerate(places):
            asked = [Asked(*place, 65), *(Asked(*each, -7) for each in places[at + 1 : at + 2])]
            program = replace(quiet, requests=tuple(asked[: 1 + at % 2]))
            real = compare(program, at, most_steps=110)
            served += any(one.interrupts > two.interrupts for one, two in pairwise(real))
    assert served > 200


def test_the_two_orders_of_the_fetch_are_told_apart() -> None:
    """The circuit of one is not the model of the other."""
    program = generate("8-bit", 4)
    run = Run(machine_with(EIGHT_BIT, "second"), program.memory, ())
    real = simulate("8-bit", program.memory, (), MOST_STEPS)
    with pytest.raises(Differs, match="step 2, walked"):
        check_walk(run, program, real)


# The proof of the proof: each part of the table is spoilt in turn, and the comparison must see it.

TRANSFERS = {transfer.notation: transfer for each in INSTRUCTIONS for transfer in each.transfers}
TRANSFERS |= {each.notation: each for each in (*FETCH, *DECODE)}
# Where splitting CIR is left out the fast ways have no opcode at all: a crash, not a difference.
LEFT_OUT = [each for each in TRANSFERS if each != DECODE[0].notation]


def found_by_programs(machine: str) -> bool:
    """Whether the comparison sees a difference in any of a few programs."""
    for seed in range(8 * len(SHAPES)):
        try:
            compare(generate(machine, seed), seed)
        except (Differs, IndexError):
            return True
    return False


def test_without_a_fault_nothing_is_found() -> None:
    assert not found_by_programs("8-bit")


@pytest.fixture
def compiled_anew() -> Iterator[None]:
    """What the engine has made of the table is forgotten before and after."""
    engine._compiled.cache_clear()
    engine._performer.cache_clear()
    yield
    engine._compiled.cache_clear()
    engine._performer.cache_clear()


@pytest.mark.parametrize("notation", LEFT_OUT)
def test_a_transfer_left_out_is_seen(
    notation: str, monkeypatch: pytest.MonkeyPatch, compiled_anew: None
) -> None:
    statements = engine._Writer.statements
    left_out = TRANSFERS[notation]
    monkeypatch.setattr(
        engine._Writer,
        "statements",
        lambda writer, each: ["pass"] if each == left_out else statements(writer, each),
    )
    assert found_by_programs("8-bit")


GROWN = grown(frozenset(PARTS))
GROWN_TRANSFERS = [each for each in GROWN.transfers if each.notation not in TRANSFERS]
# One place in which each thing of the parts may be worked out wrongly, as the engine writes it.
GROWN_FAULTS = [
    ("& 15", "& 7"),
    (">> 16 & 1", ">> 15 & 1"),
    ("<< 1) >>", "<< 0) >>"),
    ("(acc + mdr) >> 16", "(acc + mdr) >> 15"),
    ("- 32768) >>", "- 32767) >>"),
    ("| acc >> 16 -", "| acc >> 15 -"),
    ("| acc << 16 -", "| acc << 15 -"),
    (" - 1", " - 2"),
    ("heard < served", "heard > served"),
    ("result = (~acc)", "result = (-acc)"),
]


def found_by_grown_programs() -> bool:
    for seed in range(60 * len(GROWN_SHAPES)):
        try:
            compare(generate_grown(seed), seed, most_steps=100)
        except (Differs, IndexError, ValueError):
            return True
    return False


@pytest.mark.parametrize("transfer", GROWN_TRANSFERS, ids=lambda each: each.notation)
def test_a_transfer_of_a_part_left_out_is_seen(
    transfer: Transfer, monkeypatch: pytest.MonkeyPatch, compiled_anew: None
) -> None:
    statements = engine._Writer.statements
    monkeypatch.setattr(
        engine._Writer,
        "statements",
        lambda writer, each: ["pass"] if each == transfer else statements(writer, each),
    )
    assert found_by_grown_programs()


@pytest.mark.parametrize(("right", "wrong"), GROWN_FAULTS)
def test_a_wrong_statement_of_a_part_is_seen(
    right: str, wrong: str, monkeypatch: pytest.MonkeyPatch, compiled_anew: None
) -> None:
    statements = engine._Writer.statements
    writer = engine._Writer(GROWN)
    assert any(right in line for each in GROWN.transfers for line in statements(writer, each))
    monkeypatch.setattr(
        engine._Writer,
        "statements",
        lambda writer, each: [line.replace(right, wrong) for line in statements(writer, each)],
    )
    assert found_by_grown_programs()


@pytest.mark.parametrize(
    ("right", "wrong"),
    [
        ("comes[served] <= cycles", "comes[served] < cycles"),
        ("comes[served] <= cycles and", "comes[served] <= cycles and not"),
        (" != 256:", " != 257:"),
        ("served += 1", "served += 2"),
    ],
)
def test_a_request_served_wrongly_the_fast_way_is_seen(
    right: str, wrong: str, monkeypatch: pytest.MonkeyPatch, compiled_anew: None
) -> None:
    real = engine._Writer.function
    assert right in real(engine._Writer(GROWN), False)
    monkeypatch.setattr(
        engine._Writer,
        "function",
        lambda writer, with_steps: real(writer, with_steps).replace(right, wrong),
    )
    assert found_by_grown_programs()


@pytest.mark.parametrize("bits", [0, 8, 9, 10, 11])
def test_a_wrong_bit_of_the_word_that_is_kept_is_seen(
    bits: int, monkeypatch: pytest.MonkeyPatch, compiled_anew: None
) -> None:
    monkeypatch.setattr(engine, "kept", lambda *held: kept(*held) ^ 1 << bits)
    assert found_by_grown_programs()


@pytest.mark.parametrize("check", engine.FAULTS)
def test_a_fault_that_is_not_explained_is_seen(
    check: str, monkeypatch: pytest.MonkeyPatch, compiled_anew: None
) -> None:
    impossible = engine._Writer.impossible
    monkeypatch.setattr(
        engine._Writer,
        "impossible",
        lambda writer, each: None if each.check == check else impossible(writer, each),
    )
    assert found_by_grown_programs()


@pytest.mark.parametrize(
    ("right", "wrong"),
    [
        ("& 255", "& 128"),
        ("overflow = (", "overflow = not ("),
        ("& (mdr ^ result)", "& (~mdr ^ result)"),
        ("& (acc ^ mdr)", "& (acc ^ ~mdr)"),
        ("taken += 1", "taken += 0"),
        ("sent += 1", "sent += 0"),
        ("status = EQUAL if", "status = LESS if"),
        ("left = acc ^ 128", "left = acc"),
        ("cir >> 4", "cir >> 5"),
        ("acc - mdr", "acc - mdr - 1"),
    ],
)
def test_a_wrong_statement_is_seen(
    right: str, wrong: str, monkeypatch: pytest.MonkeyPatch, compiled_anew: None
) -> None:
    statements = engine._Writer.statements
    writer = engine._Writer(EIGHT_BIT)
    assert any(right in line for each in TRANSFERS.values() for line in statements(writer, each))
    monkeypatch.setattr(
        engine._Writer,
        "statements",
        lambda writer, each: [line.replace(right, wrong) for line in statements(writer, each)],
    )
    assert found_by_programs("8-bit")


def test_a_fault_of_the_fast_way_alone_is_seen(
    monkeypatch: pytest.MonkeyPatch, compiled_anew: None
) -> None:
    """The walk is right, and what is made of whole instructions is not."""
    real = engine._Writer.function
    monkeypatch.setattr(
        engine._Writer,
        "function",
        lambda writer, with_steps: real(writer, with_steps).replace("acc = mdr", "acc = mdr ^ 1"),
    )
    assert found_by_programs("8-bit")


def test_a_fault_of_looking_at_a_step_is_seen(monkeypatch: pytest.MonkeyPatch) -> None:
    """Checkpoints that come one step late are noticed where the run is entered."""
    real = Run.moment
    monkeypatch.setattr(
        Run, "moment", lambda self, step: real(self, max(step - 1, 0) if step > 9 else step)
    )
    assert found_by_programs("16-bit")


def test_a_changed_snapshot_is_seen() -> None:
    """Every field of a snapshot is looked at: change any in the middle, and it is found."""
    program = generate("8-bit", 4)
    format = MACHINES["8-bit"]
    run = Run(format, program.memory, [each & format.word_mask for each in program.inputs])
    real = simulate("8-bit", program.memory, program.inputs, MOST_STEPS)
    check_walk(run, program, real)
    at = len(real) // 2
    others = {"status": "LESS" if real[at].status != "LESS" else "MORE"}
    for field in Snapshot._fields:
        value = getattr(real[at], field)
        other: object = others.get(field)
        if isinstance(value, tuple):
            other = (*value[:-1], (value[-1] if value else 0) ^ 1)
        elif isinstance(value, int):
            other = not value if isinstance(value, bool) else value ^ 1
        if field == "ended":
            continue  # nothing ends in the middle
        spoilt = [*real[:at], real[at]._replace(**{field: other}), *real[at + 1 :]]
        with pytest.raises(Differs, match=f"step {at + 1}, "):
            check_walk(run, program, spoilt)
    with pytest.raises(Differs):
        check_walk(run, program, [*real[:-1], real[-1]._replace(ended="halted")])
