"""Where everything happens in a run: found by following it once, asked by place.

A run may be long, so it is followed for at most ``FOLLOWED`` steps. Places after those are not
looked for, and neither are ``end`` and ``last`` of anything, which nobody knows then;
``complete`` says whether that is so.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import islice
from typing import Any

from app.machine.instructions import DECODE, Phase
from app.machine.machine import Machine
from app.machine.requests import brought_back
from app.machine.run import Run
from app.machine.source.assembler import Program
from app.machine.transfers import Transfer

from .places import When

FOLLOWED = 100_000


@dataclass(frozen=True, slots=True)
class Span:
    """Steps in a row, ``first`` to ``last``. The start of a run is step 0."""

    first: int
    last: int


@dataclass(frozen=True, slots=True)
class Spans(Sequence[Span]):
    """Spans in the order of the run, none overlapping another."""

    firsts: Sequence[int] = ()
    lasts: Sequence[int] = ()

    def __len__(self) -> int:
        return len(self.firsts)

    def __getitem__(self, at):  # type: ignore[no-untyped-def]
        if isinstance(at, slice):
            return Spans(self.firsts[at], self.lasts[at])
        return Span(self.firsts[at], self.lasts[at])

    def meeting(self, first: int, last: int) -> Span | None:
        """The latest span that shares a step with ``first`` to ``last``."""
        at = bisect_right(self.firsts, last) - 1
        if at < 0 or self.lasts[at] < first:
            return None
        return Span(self.firsts[at], self.lasts[at])

    def started_by(self, step: int) -> int | None:
        """The first step of the latest span that starts at or before ``step``."""
        at = bisect_right(self.firsts, step) - 1
        return self.firsts[at] if at >= 0 else None

    def starts_after(self, step: int) -> int | None:
        """The first step of the earliest span that starts later than ``step``."""
        at = bisect_right(self.firsts, step)
        return self.firsts[at] if at < len(self.firsts) else None


@dataclass(slots=True)
class _Record:
    """What following a run found. ``starts`` and ``ends`` have the first and the last step of
    each instruction, ``named`` where in them each is by its name and ``standing`` by its address;
    ``called`` and ``returned`` have the same of calls and returns, by the address that was called;
    ``served`` has the first step that serves a request, by the instruction that it comes after.
    Of ``changes`` a word of memory is named by its address, a register by its part."""

    starts: list[int] = field(default_factory=list)
    ends: list[int] = field(default_factory=list)
    named: dict[str, list[int]] = field(default_factory=dict)
    standing: dict[int, list[int]] = field(default_factory=dict)
    called: dict[int, list[int]] = field(default_factory=dict)
    returned: dict[int, list[int]] = field(default_factory=dict)
    served: dict[int, int] = field(default_factory=dict)
    jumps: dict[bool, list[int]] = field(default_factory=lambda: {True: [], False: []})
    changes: dict[int | str, list[int]] = field(default_factory=dict)


class Timeline:
    """The places of a run of a program (which gives the labels)."""

    def __init__(self, run: Run, program: Program) -> None:
        self.run = run
        self._program = program
        self._found: dict[tuple[When, int | str | None], Spans] = {}
        # How many places were put together: what that took, beside following the run.
        self.work = 0

    @cached_property
    def complete(self) -> bool:
        """Whether the run ends within the steps that are followed."""
        return not self.run.reaches(FOLLOWED + 1)

    @cached_property
    def last_step(self) -> int:
        """The last step that is followed."""
        return FOLLOWED if not self.complete else self.run.last_step

    def spans(self, when: When) -> Spans:
        """All the steps that a place names, in order; none where the run never comes there."""
        place = self._place(when)
        if place not in self._found:
            self._found[place] = self._choose(when)
            self.work += len(self._found[place])
        return self._found[place]

    def _place(self, when: When) -> tuple[When, int | str | None]:
        """The same for all the names of a place: a word may have hundreds of labels, and a register
        has its names in letters of either size."""
        if not when.label:
            return when, None
        named = self.changing if when.kind == "change" else self._program.address_of
        return replace(when, label=""), named(when.label)

    def changing(self, label: str) -> int | str | None:
        """The address or the register whose changes a name stands for; None for neither."""
        address = self._program.address_of(label)
        if address is not None:
            return address
        machine = self.run.machine
        # What every fetch changes is no place to speak of.
        fetched = {each.target for each in machine.fetch}
        for register in machine.registers:
            names = (register.tag, register.name, *register.also)
            if register.tag not in fetched and label.casefold() in map(str.casefold, names):
                return register.tag
        return None

    def _choose(self, when: When) -> Spans:
        if when.transfer:
            found = self.spans(replace(when, transfer=0))
            self.work += len(found)
            return _transfers(found, when.transfer)
        match when.choice:
            case "first":
                return self._every(when)[:1]
            case "last":
                return self._every(when)[-1:] if self.complete else Spans()
            case "nth":
                return self._every(when)[when.nth - 1 : when.nth]
        return self._all(when)

    def _every(self, when: When) -> Spans:
        """Each of the places of which one is chosen."""
        return self.spans(replace(when, choice="each", nth=0))

    def _all(self, when: When) -> Spans:
        match when.kind:
            case "start":
                return _single([0])
            case "end":
                return _single([self.last_step]) if self.complete else Spans()
            case "step":
                return _single([when.number] if when.number <= self.last_step else [])
            case "jump":
                return _single(self._record.jumps[when.taken])
            case "change":
                key = self.changing(when.label)
                return _single([] if key is None else self._record.changes.get(key, []))
            case "cycle":
                return self._cycles(self._numbered(when.number))
            case "at":
                return self._cycles(self._standing(when.label))
            case "call":
                return self._phases(Phase.EXECUTE, self._by_label(self._record.called, when.label))
            case "return":
                found = self._by_label(self._record.returned, when.label)
                return self._phases(Phase.EXECUTE, found)
            case "comes":
                return _single(self._coming)
            case "served":
                return self._phases(Phase.INTERRUPT, list(self._record.served))
            case "phase at":
                return self._phases(when.phase, self._standing(when.label))
            case "phase":
                return self._phases(when.phase, self._numbered(when.number))
            case _:
                return self._phases(when.phase, self._record.named.get(when.instruction, []))

    @cached_property
    def _coming(self) -> list[int]:
        """The steps at which requests come, each once."""
        steps = []
        for each in self.run.requests:
            if each.instruction == 0:
                steps.append(0)
            elif each.instruction <= len(self._record.starts):
                last = self._executed(each.instruction - 1)
                first = self._record.starts[each.instruction - 1]
                steps.append(min(first + each.step - 1, last) if each.step else last)
        return list(dict.fromkeys(steps))

    def _executed(self, cycle: int) -> int:
        """The last step of an instruction without those that serve a request after it."""
        served = self._record.served.get(cycle)
        return self._record.ends[cycle] if served is None else served - 1

    def _numbered(self, number: int) -> list[int]:
        return [number - 1] if number <= len(self._record.starts) else []

    def _standing(self, label: str) -> list[int]:
        """Where the run carries out the instruction with a label."""
        return self._by_label(self._record.standing, label)

    def _by_label(self, found: dict[int, list[int]], label: str) -> list[int]:
        address = self._program.address_of(label)
        return [] if address is None else found.get(address, [])

    def carried_out(self, address: int) -> Spans:
        """Each time that the instruction at an address is carried out."""
        return self._cycles(self._record.standing.get(address, []))

    # Instruction by instruction, counted from 1.

    @property
    def carried(self) -> int:
        """How many instructions are followed."""
        return len(self._record.starts)

    def number_at(self, step: int) -> int:
        """The number of the instruction that a step belongs to; 0 at the start."""
        return bisect_right(self._record.starts, step)

    def in_the_run(self, number: int) -> Span:
        """The steps of the machine in which an instruction is carried out, with those that serve a
        request after it."""
        return Span(self._record.starts[number - 1], self._record.ends[number - 1])

    def phases_of(self, number: int) -> tuple[tuple[str, Span], ...]:
        """The phases that an instruction comes to, in their order, each with its steps."""
        found = []
        for phase in Phase:
            served = number - 1 in self._record.served
            if phase is not Phase.INTERRUPT or served:
                found += [(phase.value, each) for each in self._phases(phase, [number - 1])]
        return tuple(found)

    def end_of_phase(self, step: int) -> int:
        """The last step of the phase that a step belongs to, of those that are followed."""
        cycle = self.number_at(step) - 1
        if cycle < 0:
            return step
        fetched = self._record.starts[cycle] + len(self.run.machine.fetch) - 1
        end = self._record.ends[cycle]
        for last in (fetched, fetched + len(DECODE), self._executed(cycle)):
            if step <= last:
                return min(last, end)
        return end

    def trips(self, step: int) -> int:
        """How often the run has gone to memory by ``step`` for what its instructions work on: the
        fetches are not counted. Of steps that are not followed nothing is counted."""
        return bisect_right(self._trips, step)

    @cached_property
    def _trips(self) -> list[int]:
        """The steps that go to memory while an instruction is executed."""
        return [
            step
            for step, _cycle, kind, _value in islice(self.run.steps(), FOLLOWED)
            if kind.phase in (Phase.EXECUTE, Phase.INTERRUPT) and kind.transfer.goes_to_memory
        ]

    def _cycles(self, cycles: list[int]) -> Spans:
        starts, ends = self._record.starts, self._record.ends
        return Spans([starts[each] for each in cycles], [ends[each] for each in cycles])

    def _phases(self, phase: Phase, cycles: list[int]) -> Spans:
        """The spans of a phase of some instructions, those left out that never came to it."""
        if not cycles:
            return Spans()
        starts, ends = self._record.starts, self._record.ends
        if phase is Phase.INTERRUPT:
            return Spans(
                [self._record.served[each] for each in cycles], [ends[at] for at in cycles]
            )
        fetch, decode = len(self.run.machine.fetch), len(DECODE)
        # How many steps of the instruction come before, and how many the phase has (0: the rest).
        skipped, length = {
            Phase.FETCH: (0, fetch),
            Phase.DECODE: (fetch, decode),
            Phase.EXECUTE: (fetch + decode, 0),
        }[phase]
        firsts = [starts[each] + skipped for each in cycles]
        if length:
            lasts = [each + length - 1 for each in firsts]
        else:
            lasts = [self._executed(each) for each in cycles]
        # Only the last instruction of a run may break off in its middle.
        end = ends[cycles[-1]]
        if firsts[-1] > end:
            return Spans(firsts[:-1], lasts[:-1])
        lasts[-1] = min(lasts[-1], end)
        return Spans(firsts, lasts)

    @cached_property
    def _record(self) -> _Record:
        found = _Record()
        machine = self.run.machine
        start = self.run.moment(0).after
        memory: list[Any] = list(start.memory)
        # A step's value is a pattern, an address or a status; its transfer says which.
        held: dict[str, Any] = {each.tag: start.held(each.tag) for each in machine.registers}
        value: Any
        # What was called, by the top of the stack that the address to come back to lies on.
        calls: dict[Any, Any] = {}
        carries = "carry" in held

        def change(key: int | str, step: int) -> None:
            found.changes.setdefault(key, []).append(step)

        for step, _cycle, kind, value in islice(self.run.steps(), FOLLOWED):
            if kind.phase is Phase.FETCH:
                if kind.place_in_phase == 0:
                    found.starts.append(step)
                if kind.transfer.target == "MAR":
                    found.standing.setdefault(value, []).append(len(found.starts) - 1)
                if carries:
                    held[kind.transfer.target] = value
                continue
            if kind.phase is Phase.DECODE:
                if kind.instruction:
                    here = len(found.starts) - 1
                    found.named.setdefault(kind.instruction.name, []).append(here)
                continue
            transfer = kind.transfer
            target = transfer.target
            here = len(found.starts) - 1
            if kind.phase is Phase.INTERRUPT and kind.place_in_phase == 0:
                found.served[here] = step
            if transfer.restores:
                status, carry, _, _ = brought_back(machine, held["MDR"])
                back = {"status": status, "carry": carry}
                for tag in transfer.targets[1:]:
                    if held[tag] != back[tag]:
                        held[tag] = back[tag]
                        change(tag, step)
            elif transfer.sets_carry:
                carry = _carry(transfer, machine, held)
                if carry != held["carry"]:
                    held["carry"] = carry
                    change("carry", step)
            if target == "PC":
                if kind.instruction is None:
                    calls[held["SP"]] = value  # it is the routine that is gone back from
                elif kind.instruction.calls:
                    calls[held["SP"]] = value
                    found.called.setdefault(value, []).append(here)
                elif kind.instruction.returns:
                    # What comes back to an address that no CALL has put there belongs to none.
                    found.returned.setdefault(calls.pop(held["SP"], -1), []).append(here)
                else:
                    found.jumps[value is not None].append(step)
            elif target == "memory[MAR]":
                address = held["MAR"]
                if memory[address] != value:
                    memory[address] = value
                    change(address, step)
            elif target in held and held[target] != value:
                held[target] = value
                change(target, step)
            if transfer.sets_status and target != "status":
                status = transfer.status(machine, value)
                if status is not held["status"]:
                    held["status"] = status
                    change("status", step)
        found.ends = [each - 1 for each in found.starts[1:]]
        if found.starts:
            found.ends.append(self.last_step)
        return found


def _carry(transfer: Transfer, machine: Machine, held: dict[str, Any]) -> int:
    """The carry that a transfer leaves, of what the registers held before it."""
    operand = machine.split(held["CIR"])[1]
    left, right = (
        operand if term == "operand" else held.get(term, 0)
        for term in (transfer.left, transfer.right)
    )
    assert transfer.operation
    return transfer.operation.left_over(machine, left, right)


def _transfers(spans: Spans, number: int) -> Spans:
    """One step of each span, counted from 1, or the last where that is -1; none where a span has
    not so many."""
    if number < 0:
        return _single(list(spans.lasts))
    firsts = [each + number - 1 for each in spans.firsts]
    return _single([at for at, last in zip(firsts, spans.lasts, strict=True) if at <= last])


def _single(steps: list[int]) -> Spans:
    return Spans(steps, steps)
