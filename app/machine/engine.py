"""The cycle: fetch, decode and execute, carried out from the table of transfers.

Each transfer is turned into a few lines of Python once, by :func:`_statements`. Those lines are
put together in three ways, so that one definition serves three needs:

* ``advance`` runs whole instructions as fast as Python can, keeping no steps;
* ``trace`` runs and yields every step as a plain tuple, the fields of a :class:`Step`;
* ``walk`` carries out one instruction on a :class:`State`, which is whole after every step.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from typing import NamedTuple

from .instructions import BY_CODE, DECODE, FETCH, INSTRUCTIONS, Instruction, Phase
from .state import Ending, State
from .transfers import Status, Transfer
from .words import Format


@dataclass(frozen=True, slots=True)
class StepKind:
    """What a step does, apart from its values. ``instruction`` is None while it is fetched,
    and in the decoding of a code that no instruction has."""

    phase: Phase
    transfer: Transfer
    instruction: Instruction | None
    place_in_phase: int


class Step(NamedTuple):
    """One transfer carried out.

    ``number`` counts steps from 1, ``cycle`` instructions from 1. ``value`` is what the target
    became: a bit pattern, an address, or a Status; None for a jump not taken and for the clock.
    """

    number: int
    cycle: int
    kind: StepKind
    value: int | Status | None


FETCH_KINDS = tuple(StepKind(Phase.FETCH, each, None, at) for at, each in enumerate(FETCH))
UNKNOWN_KIND = StepKind(Phase.DECODE, DECODE[0], None, 0)
KINDS: dict[int, tuple[StepKind, ...]] = {
    each.code: (
        StepKind(Phase.DECODE, DECODE[0], each, 0),
        *(
            StepKind(Phase.EXECUTE, transfer, each, at)
            for at, transfer in enumerate(each.transfers)
        ),
    )
    for each in INSTRUCTIONS
}
# The most steps that one instruction takes.
LONGEST = len(FETCH) + max(len(kinds) for kinds in KINDS.values())

_FIELDS = ("pc", "mar", "mdr", "cir", "acc", "status", "overflow", "taken", "sent")
_VALUES = {
    "PC": "pc",
    "MAR": "mar",
    "MDR": "mdr",
    "CIR": "cir",
    "ACC": "acc",
    "memory[MAR]": "memory[mar]",
    "operand": "(cir & OPERAND)",
    "input": "inputs[taken]",
    "1": "1",
}


def _settle(left: str, right: str) -> list[str]:
    return [
        f"status = EQUAL if {left} == {right} else LESS if {left} < {right} else MORE",
    ]


def _statements(transfer: Transfer) -> list[str]:
    """The Python statements that carry out a transfer whose condition holds.

    Words are bit patterns: ``^ SIGN`` turns two's-complement order into plain order, and the
    sign bit of ``(a ^ result) & (b ^ result)`` is the textbook overflow of an addition.
    """
    target, operation = transfer.target, transfer.operation
    if target == "clock":
        return ["ending = HALTED"]
    if target == "opcode, operand":
        return ["opcode = cir >> OPERAND_BITS"]
    left = _VALUES[transfer.left]
    if target == "output":
        return [f"outputs.append({left})", "sent += 1"]
    if target == "PC":
        return [f"pc = {left} + 1" if operation else f"pc = {left}"]
    right = _VALUES.get(transfer.right, "")
    if target == "status":
        return [f"left = {left} ^ SIGN", f"right = {right} ^ SIGN", *_settle("left", "right")]
    if operation:
        # The carry out of the word is dropped; overflow is judged before ACC changes.
        second = right if operation == "+" else f"~{right}"
        return [
            f"result = ({left} {operation} {right}) & WORD",
            f"overflow = ((({left} ^ result) & ({second} ^ result)) & SIGN) != 0",
            f"{_VALUES[target]} = result",
            "left = result ^ SIGN",
            *_settle("left", "SIGN"),
        ]
    lines = [f"{_VALUES[target]} = {left}"]
    if transfer.left == "input":
        lines.append("taken += 1")
    return lines


def _value(transfer: Transfer) -> str:
    """The expression for a step's value, after its statements."""
    if transfer.target == "clock":
        return "None"
    if transfer.target == "opcode, operand":
        return "cir"
    return {"status": "status", "output": "acc"}.get(transfer.target) or _VALUES[transfer.target]


def _indent(lines: list[str], by: int) -> list[str]:
    return [" " * 4 * by + line for line in lines]


def _perform(transfer: Transfer, emit: str = "", no_jump: str = "") -> list[str]:
    """A transfer's lines, with its condition, and what to emit when it did or did not happen."""
    done = _statements(transfer) + ([emit] if emit else [])
    if not transfer.condition:
        return done
    otherwise = ["else:", *_indent([no_jump], 1)] if no_jump else []
    return [f"if status is {transfer.condition}:", *_indent(done, 1), *otherwise]


def _choose(codes: Sequence[int], leaves: dict[int, list[str]]) -> list[str]:
    """A balanced tree of comparisons on ``opcode``, so no instruction is far from the top."""
    if len(codes) == 1:
        return leaves[codes[0]]
    half = len(codes) // 2
    return [
        f"if opcode < {codes[half]}:",
        *_indent(_choose(codes[:half], leaves), 1),
        "else:",
        *_indent(_choose(codes[half:], leaves), 1),
    ]


def _cycle(with_steps: bool) -> list[str]:
    """The body of the loop: one whole instruction, its steps yielded or only counted."""

    def emit(number: int, kind: str, value: str) -> str:
        return f"yield steps + {number}, cycle, {kind}, {value}" if with_steps else ""

    lines = ["cycle += 1"] if with_steps else []
    for at, transfer in enumerate(FETCH):
        lines += _perform(transfer, emit(at + 1, f"FETCH_{at}", _value(transfer)))
    lines += _perform(DECODE[0])
    decode_number = len(FETCH) + 1
    unknown = emit(decode_number, "UNKNOWN", "cir")
    lines += [
        f"if opcode > {max(BY_CODE)}:",
        *_indent(([unknown] if unknown else []) + [f"steps += {decode_number}"], 1),
        *_indent(["ending = UNKNOWN_CODE", "break"], 1),
    ]
    leaves = {}
    for code, kinds in KINDS.items():
        leaf = []
        for at, kind in enumerate(kinds):
            number = decode_number + at
            if kind.transfer.left == "input":
                leaf += ["if taken == supply:"]
                leaf += _indent([f"steps += {number - 1}", "ending = WAITING", "break"], 1)
            name = f"KIND_{code}_{at}"
            yielded = emit(number, name, _value(kind.transfer))
            if kind.phase is Phase.EXECUTE:
                leaf += _perform(kind.transfer, yielded, emit(number, name, "None"))
            elif yielded:
                # Decoding has been carried out already, to get to this leaf.
                leaf += [yielded]
        leaf += [f"steps += {decode_number + len(kinds) - 1}"]
        if "ending = HALTED" in leaf:
            leaf += ["cycles += 1", "break"]
        leaves[code] = leaf
    lines += _choose(sorted(leaves), leaves)
    lines += ["cycles += 1"]
    return lines


def _function(name: str, with_steps: bool) -> str:
    loads = [f"{field} = state.{field}" for field in (*_FIELDS, "steps", "cycles", "memory")]
    saves = [f"state.{field} = {field}" for field in (*_FIELDS, "steps", "cycles", "ending")]
    loop = [
        "while cycles < last_cycle and steps < last_step:",
        *_indent(["if pc == WORDS:", "    ending = OFF_MEMORY", "    break"], 1),
        *_indent(_cycle(with_steps), 1),
    ]
    body = [
        "ending = None",
        "supply = len(inputs)",
        *loads,
        *(["cycle = cycles"] if with_steps else []),
        *loop,
        *saves,
    ]
    head = f"def {name}(state, inputs, outputs, last_cycle, last_step):"
    return "\n".join([head, *_indent(body, 1)])


def _names(format: Format) -> dict[str, object]:
    names: dict[str, object] = {
        "OPERAND": format.operand_mask,
        "OPERAND_BITS": format.operand_bits,
        "WORD": format.word_mask,
        "SIGN": 1 << (format.word_bits - 1),
        "WORDS": format.memory_words,
        "UNKNOWN": UNKNOWN_KIND,
    }
    names |= {each.name: each for each in Status} | {each.name: each for each in Ending}
    names |= {f"FETCH_{at}": kind for at, kind in enumerate(FETCH_KINDS)}
    names |= {
        f"KIND_{code}_{at}": kind for code, kinds in KINDS.items() for at, kind in enumerate(kinds)
    }
    return names


@cache
def _compiled(format: Format, with_steps: bool) -> Callable[..., object]:
    # Numbers of the format are written into the text: constants are faster than globals.
    source = _function("cycle", with_steps)
    names = _names(format)
    for name in ("OPERAND_BITS", "OPERAND", "WORDS", "WORD", "SIGN"):
        source = source.replace(f" {name}", f" {names[name]}")
    exec(compile(source, f"<{format.name} cycle>", "exec"), names)
    return names["cycle"]  # type: ignore[return-value]


def advance(
    format: Format,
    state: State,
    inputs: Sequence[int],
    outputs: list[int],
    last_cycle: int,
    last_step: int,
) -> None:
    """Run ``state`` on, whole instructions at a time.

    Stops before the first instruction at which ``cycles`` has reached ``last_cycle`` or
    ``steps`` has reached ``last_step``, or where the run ends (``state.ending`` says why).
    Outputs are appended to ``outputs`` as bit patterns; ``inputs`` are bit patterns.
    """
    _compiled(format, False)(state, inputs, outputs, last_cycle, last_step)


def trace(
    format: Format,
    state: State,
    inputs: Sequence[int],
    outputs: list[int],
    last_cycle: int,
    last_step: int,
) -> Iterator[tuple[int, int, StepKind, int | Status | None]]:
    """Like :func:`advance`, yielding every step; ``state`` is up to date only at the end.

    Plain tuples, in the order of :class:`Step`, because making a Step of each costs more than
    carrying it out.
    """
    return _compiled(format, True)(state, inputs, outputs, last_cycle, last_step)  # type: ignore[return-value]


@cache
def _performer(format: Format, transfer: Transfer) -> Callable[..., object]:
    used = (*_FIELDS, "memory")
    body = [
        "ending = None",
        *(f"{field} = state.{field}" for field in used),
        "value = None",
        *_perform(transfer, f"value = {_value(transfer)}"),
        *(f"state.{field} = {field}" for field in (*_FIELDS, "ending")),
        "return value",
    ]
    names = _names(format)
    source = "\n".join(["def perform(state, inputs, outputs):", *_indent(body, 1)])
    exec(compile(source, f"<{transfer.notation}>", "exec"), names)
    return names["perform"]  # type: ignore[return-value]


def walk(format: Format, state: State, inputs: Sequence[int], outputs: list[int]) -> Iterator[Step]:
    """Carry out the instruction at which ``state`` stands, a step at a time.

    ``state`` is whole after each step. Ends early, with ``state.ending`` set, where the run
    ends before the instruction is complete.
    """
    cycle = state.cycles + 1

    def perform(kind: StepKind) -> Step:
        value = _performer(format, kind.transfer)(state, inputs, outputs)
        state.steps += 1
        return Step(state.steps, cycle, kind, value)  # type: ignore[arg-type]

    if state.pc == format.memory_words:
        state.ending = Ending.OFF_MEMORY
        return
    for kind in FETCH_KINDS:
        yield perform(kind)
    kinds = KINDS.get(format.split(state.cir)[0], (UNKNOWN_KIND,))
    for kind in kinds:
        if kind.transfer.left == "input" and state.taken == len(inputs):
            state.ending = Ending.WAITING
            return
        step = perform(kind)
        if kind is kinds[-1] and kind is not UNKNOWN_KIND:
            state.cycles += 1
        yield step
    if kinds[0] is UNKNOWN_KIND:
        state.ending = Ending.UNKNOWN_CODE
