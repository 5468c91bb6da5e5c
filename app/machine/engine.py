"""The cycle: fetch, decode and execute, carried out from the transfers of a machine.

Each transfer is turned into a few lines of Python once, by :class:`_Writer`. Those lines are put
together in three ways, so that one definition serves three needs:

* ``advance`` runs whole instructions as fast as Python can, keeping no steps;
* ``trace`` runs and yields every step as a plain tuple, the fields of a :class:`Step`;
* ``walk`` carries out one instruction on a :class:`State`, which is whole after every step.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator, MutableSequence, Sequence
from functools import cache
from typing import NamedTuple

from .instructions import DECODE, Phase
from .machine import Machine, StepKind
from .operations import Mark, Status
from .registers import Holds
from .requests import Request, brought_back, kept
from .state import Ending, State, field_of
from .transfers import Transfer

# In what way a transfer can be impossible (`Transfer.check`), and how a run ends there.
FAULTS = {
    "address": Ending.NO_ADDRESS,
    "top": Ending.STACK_EMPTY,
    "room": Ending.STACK_FULL,
}


class Step(NamedTuple):
    """One transfer carried out.

    ``number`` counts steps from 1, ``cycle`` instructions from 1. ``value`` is what the target
    became: a bit pattern, an address, or a Status; None for a jump not taken and for the clock.
    """

    number: int
    cycle: int
    kind: StepKind
    value: int | Status | None


def _indent(lines: list[str], by: int = 1) -> list[str]:
    return [" " * 4 * by + line for line in lines]


class _Writer:
    """Writes a machine's transfers as Python. Its registers are local variables, and the sizes of
    its words are numbers in the text: both are faster than names of the module."""

    def __init__(self, machine: Machine) -> None:
        self.machine = machine
        self.sign = str(1 << (machine.word_bits - 1))
        self.word = str(machine.word_mask)
        self.bits = str(machine.word_bits)
        # Where each register lives in a state, and what it is called while the code runs.
        self.stored = {each.tag: self._stored(each.tag) for each in machine.registers}
        self.local = {
            tag: stored.removeprefix("state.") if field_of(tag) else f"register_{at}"
            for at, (tag, stored) in enumerate(self.stored.items())
        }
        self.values = self.local | {
            "memory[MAR]": f"memory[{self.local['MAR']}]",
            "operand": f"({self.local['CIR']} & {machine.operand_mask})",
            "input": "inputs[taken]",
            "overflow": "overflow",
            "1": "1",
            "on": "1",
            "off": "0",
        }
        # What the code finds by name beside its arguments.
        self.names: dict[str, object] = {each.name: each for each in (*Status, *Ending)}
        self.interrupts = bool(machine.interrupt)
        if self.interrupts:
            self.values["input"] = "(requests[heard].value if heard < served else inputs[taken])"
            self.names |= {"kept": kept, "brought_back": brought_back}
            self.names |= {"MACHINE": machine, "NEVER": math.inf}

    @staticmethod
    def _stored(tag: str) -> str:
        name = field_of(tag)
        return f"state.{name}" if name else f"state.others[{tag!r}]"

    def name(self, thing: StepKind) -> str:
        """The name by which the code finds a kind of step."""
        name = f"KIND_{len(self.names)}"
        self.names[name] = thing
        return name

    def impossible(self, transfer: Transfer) -> tuple[str, Ending] | None:
        """The condition under which a transfer cannot be carried out, so that the run ends before
        it, and how it ends then; None for one that always can."""
        if transfer.left == "input":
            more = " and heard == served" if self.interrupts else ""
            return f"taken == supply{more}", Ending.WAITING
        if not transfer.check:
            return None
        words = self.machine.memory_words
        condition = {
            "address": f"not 0 <= {self._address(transfer)} < {words}",
            "top": f"{self.values[transfer.left]} >= {words}",
            "room": f"{self.values[transfer.left]} <= state.floor",
        }[transfer.check]
        return condition, FAULTS[transfer.check]

    def _address(self, transfer: Transfer) -> str:
        """The expression for the address that a transfer makes of words, which have a sign."""
        return " + ".join(
            f"(({self.values[term]} ^ {self.sign}) - {self.sign})"
            if self.machine.register.get(term) and self.machine.register[term].holds is Holds.WORD
            else self.values[term]
            for term in transfer.terms
        )

    @property
    def _counted(self) -> tuple[str, ...]:
        return ("taken", "sent", *(("served", "served_after", "heard") if self.interrupts else ()))

    def loads(self) -> list[str]:
        fields = ("overflow", *self._counted, "memory")
        registers = [f"{self.local[tag]} = {stored}" for tag, stored in self.stored.items()]
        return [*registers, *(f"{each} = state.{each}" for each in fields)]

    def saves(self) -> list[str]:
        fields = ("overflow", *self._counted, "ending")
        registers = [f"{stored} = {self.local[tag]}" for tag, stored in self.stored.items()]
        return [*registers, *(f"state.{each} = {each}" for each in fields)]

    def statements(self, transfer: Transfer) -> list[str]:
        """The statements that carry out a transfer whose condition holds.

        Words are bit patterns: ``^ SIGN`` turns two's-complement order into plain order.
        """
        target, operation = transfer.target, transfer.operation
        if transfer.halts:
            return ["ending = HALTED"]
        if target == "opcode, operand":
            return [f"opcode = {self.values['CIR']} >> {self.machine.operand_bits}"]
        carry = self.values.get("carry", "")
        if transfer.keeps:
            status, counter = self.values["status"], self.values["PC"]
            held = f"{status}, {carry or 0}, overflow, {counter}"
            return [f"{self.values[target]} = kept(MACHINE, {held})"]
        left = self.values[transfer.left]
        if transfer.restores:
            back = f"{self.values['status']}, {carry or '_'}, overflow, {self.values['PC']}"
            return [f"{back} = brought_back(MACHINE, {left})"]
        if target == "output":
            return [f"outputs.append({left})", "sent += 1"]
        place = self.values[target]
        if transfer.check == "address":
            return [f"{place} = {self._address(transfer)}"]
        if not transfer.uses_alu:
            # Only a counter adds without the ALU; its end of memory is judged later.
            count = f" {operation.symbol} 1" if operation else ""
            taken = self._taken() if transfer.left == "input" else []
            return [f"{place} = {left}{count}", *taken]
        assert operation
        right = self.values[transfer.right] if transfer.right else "0"
        if operation.compares:
            return [
                f"left = {left} ^ {self.sign}",
                f"right = {right} ^ {self.sign}",
                *self._settle("left", "right"),
            ]
        # What leaves the word is dropped; overflow and carry are judged before the target changes.
        lines = [f"result = ({self._put(operation.expression, left, right)}) & {self.word}"]
        if transfer.sets_carry:
            lines.append(f"{self.values['carry']} = {self._put(operation.carry, left, right)}")
        if operation.overflow:
            lines.append(f"overflow = ({self._put(operation.overflow, left, right)}) != 0")
        lines.append(f"{place} = result")
        if transfer.sets_status:
            lines += [f"left = result ^ {self.sign}", *self._settle("left", self.sign)]
        return lines

    def _taken(self) -> list[str]:
        """What counts an input: that of a request which was served comes before those of a list."""
        if not self.interrupts:
            return ["taken += 1"]
        return ["if heard < served:", "    heard += 1", "else:", "    taken += 1"]

    def _put(self, expression: str, left: str, right: str) -> str:
        """An expression of the table with the machine's own values in it."""
        values = {"left": left, "right": right, "SIGN": self.sign, "BITS": self.bits}
        return re.sub(r"\b(left|right|SIGN|BITS)\b", lambda found: values[found[0]], expression)

    def _settle(self, left: str, right: str) -> list[str]:
        status = self.values["status"]
        return [f"{status} = EQUAL if {left} == {right} else LESS if {left} < {right} else MORE"]

    def value(self, transfer: Transfer) -> str:
        """The expression for a step's value, after its statements."""
        if transfer.halts:
            return "None"
        source = {"opcode, operand": "CIR", "output": transfer.left}.get(transfer.target)
        return self.values[source or transfer.target]

    def perform(self, transfer: Transfer, emit: str = "", no_jump: str = "") -> list[str]:
        """A transfer's lines with its condition, and what to emit where it happens or does not."""
        done = self.statements(transfer) + ([emit] if emit else [])
        if not transfer.condition:
            return done
        otherwise = ["else:", *_indent([no_jump])] if no_jump else []
        asked = self.values[transfer.waits_for]
        if not isinstance(transfer.condition, Mark):
            asked = f"{asked} is {transfer.condition}"
        return [f"if {asked}:", *_indent(done), *otherwise]

    # The loop.

    def cycle(self, with_steps: bool) -> list[str]:
        """The body of the loop: one whole instruction, its steps yielded or only counted."""

        def emit(number: int, kind: StepKind, value: str) -> str:
            name = self.name(kind) if with_steps else ""
            return f"yield steps + {number}, cycle, {name}, {value}" if with_steps else ""

        machine = self.machine
        lines = ["cycle += 1"] if with_steps else []
        for at, kind in enumerate(machine.fetch_kinds):
            lines += self.perform(kind.transfer, emit(at + 1, kind, self.value(kind.transfer)))
        lines += self.perform(DECODE[0])
        decoded = len(machine.fetch) + 1
        unknown = emit(decoded, machine.unknown, self.value(DECODE[0]))
        unknown_leaf = [*([unknown] if unknown else []), f"steps += {decoded}"]
        unknown_leaf += ["ending = UNKNOWN_CODE", "break"]
        # Where each leaf starts, by opcode; a gap between two codes is a leaf as well.
        leaves: dict[int, list[str]] = {}
        for code in sorted(machine.kinds):
            leaves[code] = self._leaf(machine.kinds[code], decoded, emit)
            if code + 1 not in machine.kinds and code + 1 < 1 << machine.opcode_bits:
                leaves[code + 1] = unknown_leaf
        if 0 not in leaves:
            leaves[0] = unknown_leaf
        return [
            *lines,
            *_choose(sorted(leaves), leaves),
            "cycles += 1",
            *self._interrupt(emit),
        ]

    def _interrupt(self, emit: Callable[[int, StepKind, str], str]) -> list[str]:
        """What is done between two instructions where a request is served; nothing on a machine
        without interrupts."""
        if not self.interrupts:
            return []
        served: list[str] = []
        for number, kind in enumerate(self.machine.interrupt_kinds, start=1):
            served += self._ends_before(kind.transfer, number)
            served += self.perform(kind.transfer, emit(number, kind, self.value(kind.transfer)))
        served += [f"steps += {len(self.machine.interrupt)}"]
        served += ["served += 1", "served_after = cycles"]
        return [f"if comes[served] <= cycles and {self.can_serve}:", *_indent(served)]

    @property
    def can_serve(self) -> str:
        """The condition under which a request that has come is served. Where there is no next
        instruction there is nothing to come back to."""
        interrupts, counter = self.values["interrupts"], self.values["PC"]
        return f"{interrupts} and {counter} != {self.machine.memory_words}"

    def _ends_before(self, transfer: Transfer, number: int) -> list[str]:
        """What ends a run before a step that cannot be done, the given one of those not counted."""
        impossible = self.impossible(transfer)
        if not impossible:
            return []
        condition, ending = impossible
        counted = [f"steps += {number - 1}"] if number > 1 else []
        return [f"if {condition}:", *_indent([*counted, f"ending = {ending.name}", "break"])]

    def _leaf(
        self,
        kinds: tuple[StepKind, ...],
        decoded: int,
        emit: Callable[[int, StepKind, str], str],
    ) -> list[str]:
        """What is done for one opcode; ``decoded`` is the number of the step that decodes."""
        leaf: list[str] = []
        for number, kind in enumerate(kinds, start=decoded):
            transfer = kind.transfer
            leaf += self._ends_before(transfer, number)
            yielded = emit(number, kind, self.value(transfer))
            if kind.phase is Phase.EXECUTE:
                not_taken = emit(number, kind, "None") if transfer.condition else ""
                leaf += self.perform(transfer, yielded, not_taken)
            elif yielded:
                # Decoding has been carried out already, to get to this leaf.
                leaf += [yielded]
        leaf += [f"steps += {decoded + len(kinds) - 1}"]
        if any(kind.transfer.halts for kind in kinds):
            leaf += ["cycles += 1", "break"]
        return leaf

    def function(self, with_steps: bool) -> str:
        loop = [
            "while cycles < last_cycle and steps < last_step:",
            f"    if {self.values['PC']} == {self.machine.memory_words}:",
            *_indent(["ending = OFF_MEMORY", "break"], 2),
            *_indent(self.cycle(with_steps)),
        ]
        body = [
            "ending = None",
            "supply = len(inputs)",
            # In which instruction each request comes; after the last there is none for ever.
            *(["comes = [each[0] for each in requests] + [NEVER]"] if self.interrupts else []),
            *self.loads(),
            "steps = state.steps",
            "cycles = state.cycles",
            *(["cycle = cycles"] if with_steps else []),
            *loop,
            *self.saves(),
            "state.steps = steps",
            "state.cycles = cycles",
        ]
        head = "def cycle(state, inputs, outputs, last_cycle, last_step, requests):"
        return "\n".join([head, *_indent(body)])


def _choose(starts: Sequence[int], leaves: dict[int, list[str]]) -> list[str]:
    """A balanced tree of comparisons on ``opcode``, so no instruction is far from the top."""
    if len(starts) == 1:
        return leaves[starts[0]]
    half = len(starts) // 2
    return [
        f"if opcode < {starts[half]}:",
        *_indent(_choose(starts[:half], leaves)),
        "else:",
        *_indent(_choose(starts[half:], leaves)),
    ]


@cache
def _compiled(machine: Machine, with_steps: bool) -> Callable[..., object]:
    writer = _Writer(machine)
    source = writer.function(with_steps)
    exec(compile(source, f"<{machine.name} cycle>", "exec"), writer.names)
    return writer.names["cycle"]  # type: ignore[return-value]


def advance(
    machine: Machine,
    state: State,
    inputs: Sequence[int],
    outputs: MutableSequence[int],
    last_cycle: int,
    last_step: int,
    requests: Sequence[Request] = (),
) -> None:
    """Run ``state`` on, whole instructions at a time.

    Stops before the first instruction at which ``cycles`` has reached ``last_cycle`` or
    ``steps`` has reached ``last_step``, or where the run ends (``state.ending`` says why).
    Outputs are appended to ``outputs`` as bit patterns; ``inputs`` are bit patterns. ``requests``
    are in their order. What serves one belongs to the instruction before it.
    """
    _compiled(machine, False)(state, inputs, outputs, last_cycle, last_step, requests)


def trace(
    machine: Machine,
    state: State,
    inputs: Sequence[int],
    outputs: MutableSequence[int],
    last_cycle: int,
    last_step: int,
    requests: Sequence[Request] = (),
) -> Iterator[tuple[int, int, StepKind, int | Status | None]]:
    """Like :func:`advance`, yielding every step; ``state`` is up to date only at the end.

    Plain tuples, in the order of :class:`Step`, because making a Step of each costs more than
    carrying it out.
    """
    cycle = _compiled(machine, True)
    return cycle(state, inputs, outputs, last_cycle, last_step, requests)  # type: ignore[return-value]


@cache
def _performer(machine: Machine, transfer: Transfer) -> Callable[..., object]:
    writer = _Writer(machine)
    done = ["value = None", *writer.perform(transfer, f"value = {writer.value(transfer)}")]
    if impossible := writer.impossible(transfer):
        condition, ending = impossible
        done = [
            f"if {condition}:",
            *_indent([f"ending = {ending.name}", "value = IMPOSSIBLE"]),
            "else:",
            *_indent(done),
        ]
    body = [
        "ending = None",
        "supply = len(inputs)",
        *writer.loads(),
        *done,
        *writer.saves(),
        "return value",
    ]
    source = "\n".join(["def perform(state, inputs, outputs, requests):", *_indent(body)])
    names = writer.names | {"IMPOSSIBLE": _IMPOSSIBLE}
    exec(compile(source, f"<{transfer.notation}>", "exec"), names)
    return names["perform"]  # type: ignore[return-value]


_IMPOSSIBLE = object()


def walk(
    machine: Machine,
    state: State,
    inputs: Sequence[int],
    outputs: MutableSequence[int],
    requests: Sequence[Request] = (),
) -> Iterator[Step]:
    """Carry out the instruction at which ``state`` stands, a step at a time.

    ``state`` is whole after each step. Ends early, with ``state.ending`` set, where the run
    ends before the instruction is complete.
    """
    cycle = state.cycles + 1

    def perform(kind: StepKind) -> Step | None:
        value = _performer(machine, kind.transfer)(state, inputs, outputs, requests)
        if value is _IMPOSSIBLE:
            return None
        state.steps += 1
        return Step(state.steps, cycle, kind, value)  # type: ignore[arg-type]

    if state.pc == machine.memory_words:
        state.ending = Ending.OFF_MEMORY
        return
    for kind in machine.fetch_kinds:
        if fetched := perform(kind):
            yield fetched
    kinds = machine.kinds.get(machine.split(state.cir)[0], (machine.unknown,))
    for kind in kinds:
        step = perform(kind)
        if step is None:
            return
        if kind is kinds[-1] and kind is not machine.unknown:
            state.cycles += 1
        yield step
    if kinds[0] is machine.unknown:
        state.ending = Ending.UNKNOWN_CODE
    elif machine.interrupt and state.ending is None and _is_served(machine, state, requests):
        for kind in machine.interrupt_kinds:
            step = perform(kind)
            if step is None:
                return
            if kind is machine.interrupt_kinds[-1]:
                state.served += 1
                state.served_after = state.cycles
            yield step


@cache
def _can_serve(machine: Machine) -> Callable[[State], bool]:
    writer = _Writer(machine)
    body = [*writer.loads(), f"return bool({writer.can_serve})"]
    source = "\n".join(["def can_serve(state):", *_indent(body)])
    exec(compile(source, "<can serve>", "exec"), writer.names)
    return writer.names["can_serve"]  # type: ignore[return-value]


def _is_served(machine: Machine, state: State, requests: Sequence[Request]) -> bool:
    """Whether a request is served after the instruction that ``state`` has just carried out."""
    waits = state.served < len(requests) and requests[state.served].instruction <= state.cycles
    return waits and _can_serve(machine)(state)
