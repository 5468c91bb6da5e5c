"""Predictions: what a pupil is asked before a step, and how the answers are marked.

Questions and their right answers are computed from the run, never written down. A wrong answer
is compared with what the usual mix-ups would give (an address instead of what is stored there,
the value before the step instead of after it, a program counter that has already moved on), so
that the marking can say what was mixed up.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum

from app.lesson.header import Depth
from app.machine.addressing import Operand
from app.machine.instructions import Instruction, Phase
from app.machine.machine import Machine
from app.machine.operations import Status, status_shown, status_words
from app.machine.run import Moment, Run
from app.machine.source.assembler import Program
from app.machine.source.disassembler import decode, write_instruction
from app.machine.state import State
from app.machine.telling.narration import phase_sentence, sentence
from app.machine.telling.reading import Reading
from app.machine.transfers import Place, Transfer
from app.machine.words import parse_number

NOTHING = "nothing"
LONGEST_ANSWER = 80

PLACE_NAMES = {
    Place.PC: "Program counter",
    Place.MAR: "Memory address register",
    Place.MDR: "Memory data register",
    Place.CIR: "Current instruction register",
    Place.ACC: "Accumulator",
    Place.STATUS: "Status",
    Place.MEMORY: "A word of main memory",
    Place.OUTPUT: "Output",
}
_ONLY_IN_TRANSFERS = (Place.MAR, Place.MDR)


class Asks(StrEnum):
    """What one question asks for; also the name of its answer."""

    PLACE = "place"
    VALUE = "value"
    NEXT = "next"


class Confusion(StrEnum):
    """What was mixed up in a wrong answer, named as a pupil would look it up."""

    ADDRESS_FOR_CONTENTS = "an address instead of what is stored there"
    CONTENTS_FOR_ADDRESS = "what is stored at an address instead of the address"
    BEFORE_FOR_AFTER = "before instead of after"
    COUNTER_MOVED_ON = "the counter that has already moved on"
    SOURCE_FOR_TARGET = "where the value comes from instead of where it goes"
    LATER_STEP = "a step that comes later"
    OPERATION = "adding instead of taking away, or the other way round"
    NUMBER_OR_ADDRESS = "a number (with #) and an address (without)"
    PART_FOR_RESULT = "one of the two numbers instead of the result"
    WORD_TOO_SMALL = "a result that does not fit the word"
    JUMP_TAKEN = "whether the jump is taken"
    HALVES = "the two halves of an instruction"


@dataclass(frozen=True, slots=True)
class Choice:
    value: str
    label: str


@dataclass(frozen=True, slots=True)
class Question:
    """One question. Without ``choices`` the answer is a number, in any base."""

    asks: Asks
    text: str
    choices: tuple[Choice, ...] = ()


@dataclass(frozen=True, slots=True)
class Answer:
    """One answer, marked. ``said`` and ``truth`` are as a reader sees them; ``explanation`` is
    a whole sentence where the answer is wrong, and empty where it is right."""

    question: Question
    said: str
    truth: str
    right: bool
    explanation: str = ""
    confusion: Confusion | None = None


class Unreadable(ValueError):
    """An answer that cannot be marked: its question, and what to write instead."""

    def __init__(self, asks: Asks, what: str) -> None:
        super().__init__(what)
        self.asks = asks


@dataclass(frozen=True, slots=True)
class _Slip:
    """What a mix-up would have answered. ``confusion`` is None where it has no name."""

    value: int | str
    confusion: Confusion | None
    explanation: str


class Prediction:
    """What is asked before a run goes on from ``step``, and the marking of the answers.

    ``following`` is the step that is predicted: the next one, or the last of the next phase
    where whole phases are looked at. Raises IndexError where the run goes no further.
    """

    def __init__(self, program: Program, run: Run, step: int, depth: Depth, base: str) -> None:
        self.following = run.after_phase(step) if depth is Depth.PHASES else step + 1
        if self.following == step or not run.reaches(self.following):
            raise IndexError(f"the run has no step after {step}")
        self.phases = depth is Depth.PHASES
        self.machine: Machine = run.machine
        self.reading = Reading(run.machine, base)
        self.program = program
        self.before = run.moment(step).after
        self.moment: Moment = run.moment(self.following)
        self.after = self.moment.after
        assert self.moment.step is not None
        self.kind = self.moment.step.kind
        self.transfer: Transfer = self.kind.transfer
        self.last = run.after_instruction(step) == self.following
        self.questions = tuple(self._questions())

    # What is asked.

    def _questions(self) -> Iterator[Question]:
        phase, instruction = self.kind.phase, self.kind.instruction
        if phase is Phase.DECODE:
            text = "Which instruction does the control unit find?"
            yield Question(Asks.VALUE, text, self._instructions())
            return
        if phase is Phase.FETCH and self.phases:
            text = "Which instruction will be fetched?"
            yield Question(Asks.VALUE, text, self._words(self.after.cir))
            yield Question(Asks.NEXT, "What will the program counter hold then?")
            return
        if instruction is None or not instruction.jumps:
            yield Question(Asks.PLACE, "Which part will change?", self._places())
            yield from self._value_question()
        if self.last and self._goes_on:
            yield Question(Asks.NEXT, "At which address is the next instruction?")

    @property
    def _goes_on(self) -> bool:
        return self.transfer.target != "clock"

    def _value_question(self) -> Iterator[Question]:
        text = "What will it hold then?"
        match self.transfer.target:
            case "clock":
                return
            case "status":
                choices = tuple(Choice(each.value, each.value) for each in Status)
                yield Question(Asks.VALUE, "What will it say then?", choices)
            case "output":
                yield Question(Asks.VALUE, "What will it show then?")
            case "MDR" | "CIR" if self.kind.phase is Phase.FETCH:
                yield Question(Asks.VALUE, text, self._words(self._truth_word()))
            case _:
                yield Question(Asks.VALUE, text)

    def _places(self) -> tuple[Choice, ...]:
        hidden = _ONLY_IN_TRANSFERS if self.phases else ()
        names = [Choice(at.value, name) for at, name in PLACE_NAMES.items() if at not in hidden]
        return (*names, Choice(NOTHING, "Nothing: the machine stops"))

    def _words(self, truth: int) -> tuple[Choice, ...]:
        """The word that is right among those that would be mistaken for it, by size."""
        at = self.before.pc if self.transfer.target != "CIR" or self.phases else self.before.mar
        memory = self.before.memory
        near = [memory[each] for each in (at - 1, at + 1, at + 2) if 0 <= each < len(memory)]
        words = dict.fromkeys([truth, at, self.before.cir, *near])
        return tuple(Choice(str(each), self._word_label(each)) for each in sorted([*words][:4]))

    def _word_label(self, word: int) -> str:
        text = write_instruction(self.machine, word, self.program.labels)
        return f"{self.reading.instruction(word)}  {text}"

    def _instructions(self) -> tuple[Choice, ...]:
        """The instruction in CIR among those it would be mistaken for: halves swapped, a known
        mix-up of opcodes, and codes next to it."""
        word = self.after.cir
        opcode, operand = self.machine.split(word)
        right = self.machine.by_code.get(opcode)
        mixed_up = [
            code for code, each in self.machine.by_code.items() if _opcodes_confused(right, each)
        ]
        codes = [opcode, *mixed_up, opcode + 1, opcode - 1, opcode + 2]
        words = [self.machine.join(code, operand) for code in codes if code in self.machine.by_code]
        if operand in self.machine.by_code:
            words.insert(1, self.machine.join(operand, min(opcode, self.machine.operand_mask)))
        chosen = sorted([*dict.fromkeys([word, *words])][:4])
        return tuple(Choice(str(each), self._written(each)) for each in chosen)

    def _written(self, word: int) -> str:
        instruction, operand = decode(self.machine, word)
        if instruction is None:
            return f"no instruction has the opcode {self.machine.split(word)[0]}"
        if instruction.operand is Operand.ADDRESS and operand in self.program.labels:
            return instruction.write(self.program.labels[operand])
        return instruction.write(self.reading.address(operand))

    @property
    def instruction(self) -> str:
        """The instruction that is carried out, with its operand; empty before it is decoded."""
        return self._written(self.before.cir) if self.kind.phase is Phase.EXECUTE else ""

    # The truth.

    def _truth_word(self) -> int:
        """The pattern or address that the target holds after the step."""
        return int(self._held(self.transfer.target, self.after))

    @staticmethod
    def _held(target: str, state: State) -> int | str:
        match target:
            case "PC":
                return state.pc
            case "MAR":
                return state.mar
            case "MDR":
                return state.mdr
            case "CIR" | "opcode, operand":
                return state.cir
            case "memory[MAR]":
                return state.memory[state.mar]
            case "status":
                return status_shown(state.status)
            case _:
                return state.acc

    def _truth(self, asks: Asks) -> int | str:
        if asks is Asks.PLACE:
            place = self.transfer.target_place
            return NOTHING if place is Place.CONTROL_UNIT else str(place)
        if asks is Asks.NEXT:
            return self.after.pc
        if self.phases and self.kind.phase is Phase.FETCH:
            return self.after.cir
        held = self._held(self.transfer.target, self.after)
        question = next(each for each in self.questions if each.asks is asks)
        return held if question.choices or isinstance(held, str) else self._typed(held)

    def _typed(self, value: int) -> int:
        """What the target holds as it is typed: an address, or the signed value of a word."""
        return value if self.transfer.target in ("PC", "MAR") else self.machine.signed(value)

    # Marking.

    def mark(self, answers: Mapping[str, str]) -> tuple[Answer, ...]:
        """Mark the answers, by the names of :class:`Asks`.

        Raises Unreadable for the first that is missing or cannot be read.
        """
        return tuple(self._mark(each, answers.get(each.asks, "")) for each in self.questions)

    def _mark(self, question: Question, text: str) -> Answer:
        truth = self._truth(question.asks)
        said = self._read(question, text)
        shown, right = self._show(question, truth), said == truth
        if right:
            return Answer(question, self._show(question, said), shown, True)
        slip = next((each for each in self._slips(question.asks) if each.value == said), None)
        explanation = slip.explanation if slip else self._reason(question.asks, shown)
        return Answer(
            question,
            self._show(question, said),
            shown,
            False,
            explanation,
            slip.confusion if slip else None,
        )

    def _read(self, question: Question, text: str) -> int | str:
        text = text.strip()[:LONGEST_ANSWER]
        if question.choices:
            if text not in [each.value for each in question.choices]:
                raise Unreadable(question.asks, "Choose one of the answers.")
            numbers = question.asks is Asks.VALUE and self.transfer.target != "status"
            return int(text) if numbers else text
        if not text:
            raise Unreadable(question.asks, "Write a number, or let the machine show you.")
        text = text.replace("\N{MINUS SIGN}", "-")
        joined = re.sub(r"\s", "", text)
        base = self.reading.base
        try:
            # Written as the board writes it: bits in groups, or hexadecimal without its sign.
            if re.fullmatch(r"[01]+", joined) and base == "binary":
                number = int(joined, 2)
            elif re.fullmatch(r"[0-9A-Fa-f]+", joined) and base == "hexadecimal":
                number = int(joined, 16)
            else:
                number = parse_number(joined)
        except ValueError as error:
            what = "Write a number, such as 13, 0b1101 or 0xD."
            raise Unreadable(question.asks, what) from error
        if question.asks is Asks.NEXT or self.transfer.target in ("PC", "MAR"):
            return number
        # 200 in eight bits shows as -56: only written as bits is it the same.
        bits = not joined.lstrip("+-").isdigit() or base == "binary"
        return self.machine.signed(number) if bits and self._is_pattern(number) else number

    def _is_pattern(self, number: int) -> bool:
        return 0 <= number <= self.machine.word_mask

    def _show(self, question: Question, value: int | str) -> str:
        if question.choices:
            return next(each.label for each in question.choices if each.value == str(value))
        if isinstance(value, str):
            return value
        if question.asks is Asks.NEXT or self.transfer.target in ("PC", "MAR"):
            small = 0 <= value < self.machine.memory_words
            return self.reading.address(value) if small else str(value)
        fits = self.machine.smallest <= value <= self.machine.largest
        return self.reading.number(self.machine.pattern(value)) if fits else str(value)

    def _reason(self, asks: Asks, truth: str) -> str:
        """Why it is as it is, for a wrong answer that no mix-up gives: what the step does."""
        jumps = self.kind.instruction is not None and self.kind.instruction.jumps
        if asks is Asks.NEXT and not jumps and self.kind.phase is not Phase.FETCH:
            return f"The program counter moved on in the fetch: it has held {truth} since then."
        # The last step of a run that ends without HALT is told like any other.
        moment = replace(self.moment, after=replace(self.after, ending=None))
        if self.phases:
            return phase_sentence(self.reading, moment, self.before, 0)
        return sentence(self.reading, moment, 0)

    # The usual mix-ups.

    def _slips(self, asks: Asks) -> Iterator[_Slip]:
        if asks is Asks.PLACE:
            yield from self._place_slips()
        elif asks is Asks.NEXT:
            yield from self._next_slips()
        elif self.kind.phase is Phase.FETCH and (self.phases or self.transfer.left != "PC"):
            yield from self._fetched_slips()
        elif self.kind.phase is Phase.DECODE:
            yield from self._decode_slips()
        else:
            yield from self._value_slips()

    def _place_slips(self) -> Iterator[_Slip]:
        transfer = self.transfer
        known = transfer.target_place in PLACE_NAMES
        target = _the(transfer.target_place) if known else "the control unit"
        if transfer.uses_alu and transfer.target == "ACC":
            yield _Slip(
                Place.STATUS.value,
                Confusion.PART_FOR_RESULT,
                "The status is set too, but the number goes to the accumulator.",
            )
        sources = [_term_place(term) for term in (transfer.left, transfer.right)]
        if self.phases and "MDR" in (transfer.left, transfer.right):
            # The register that brings it from memory is not shown.
            sources.append(Place.MEMORY)
        for place in sources:
            if place and place is not transfer.target_place:
                yield _Slip(
                    str(place),
                    Confusion.SOURCE_FOR_TARGET,
                    f"{_upper(_the(place))} is where the value comes from: it keeps its value."
                    f" What changes is {target}.",
                )
        for place in self._later():
            if place is not transfer.target_place:
                yield _Slip(
                    str(place),
                    Confusion.LATER_STEP,
                    f"{_upper(_the(place))} changes too, but in a later step."
                    f" First it is {target}.",
                )

    def _later(self) -> list[str]:
        """The places that change later in the same phase."""
        if self.phases:
            return []
        instruction = self.kind.instruction
        transfers = instruction.transfers if instruction else self.machine.fetch
        return [each.target_place for each in transfers[self.kind.place_in_phase + 1 :]]

    def _next_slips(self) -> Iterator[_Slip]:
        here, after = self.reading.address, self.after
        instruction = self.kind.instruction
        fetched_at = self._fetched_at
        if self.kind.phase is Phase.FETCH:
            yield _Slip(
                self.before.pc,
                Confusion.BEFORE_FOR_AFTER,
                f"{here(self.before.pc)} is what it held before the fetch. In every fetch the"
                " program counter moves on by one.",
            )
            return
        if instruction and instruction.jumps:
            target = self.machine.split(after.cir)[1]
            status = status_words(self.before.status)
            if after.pc == target and self.before.pc != target:
                why = f"{status}, so it jumps" if instruction.ending else "It jumps"
                yield _Slip(
                    self.before.pc,
                    Confusion.JUMP_TAKEN,
                    f"{why}: the program counter becomes {here(target)}.",
                )
            elif after.pc != target:
                yield _Slip(
                    target,
                    Confusion.JUMP_TAKEN,
                    f"{status}, so there is no jump this time: the program counter"
                    f" stays at {here(after.pc)}.",
                )
            yield _Slip(
                self.machine.signed(self.before.memory[target]),
                Confusion.CONTENTS_FOR_ADDRESS,
                f"That is what is stored at address {here(target)}. A jump goes to the address"
                " itself.",
            )
        yield _Slip(
            fetched_at,
            Confusion.COUNTER_MOVED_ON,
            f"{here(fetched_at)} is the address of the instruction that is carried out now. The"
            " program counter has already moved on, in the fetch.",
        )
        yield _Slip(
            after.pc + 1,
            Confusion.COUNTER_MOVED_ON,
            "The program counter has already moved on, in the fetch; it does not move on again.",
        )

    @property
    def _fetched_at(self) -> int:
        """The address of the instruction that is being carried out."""
        return self.before.pc - 1

    def _fetched_slips(self) -> Iterator[_Slip]:
        """A whole instruction word is on its way to the control unit."""
        at = self.before.pc
        here = self.reading.address(at)
        yield _Slip(
            at,
            Confusion.ADDRESS_FOR_CONTENTS,
            f"That is the address, {here}, written as a word. What is fetched is the word that is"
            " stored there.",
        )
        if at + 1 < len(self.before.memory):
            yield _Slip(
                self.before.memory[at + 1],
                Confusion.COUNTER_MOVED_ON,
                f"That is the instruction after it. The program counter still points at {here};"
                " it moves on at the end of the fetch.",
            )
        yield _Slip(
            self.before.cir,
            Confusion.BEFORE_FOR_AFTER,
            "That is the instruction before: it has been carried out already.",
        )

    def _decode_slips(self) -> Iterator[_Slip]:
        word = self.after.cir
        opcode, operand = self.machine.split(word)
        left = self.reading.halves(word)[0]
        if operand in self.machine.by_code:
            yield _Slip(
                self.machine.join(operand, min(opcode, self.machine.operand_mask)),
                Confusion.HALVES,
                f"The two halves are mixed up. The left half, {left}, is the opcode: it says what"
                " to do. The right half is the operand.",
            )
        means = (
            f"means {self._written(word)}"
            if opcode in self.machine.by_code
            else "no instruction has"
        )
        for code, other in self.machine.by_code.items():
            if code != opcode:
                yield _Slip(
                    self.machine.join(code, operand),
                    _opcodes_confused(self.machine.by_code.get(opcode), other),
                    f"Look the opcode up again: {left} is {opcode}, which {means}."
                    " The reference card lists them all.",
                )

    def _value_slips(self) -> Iterator[_Slip]:
        transfer, before, after = self.transfer, self.moment.before, self.after
        machine, address = self.machine, self.reading.address
        operand = self.machine.split(before.cir)[1]
        if transfer.target in ("PC", "MAR"):
            if transfer.left == "PC" and transfer.target == "MAR":
                yield _Slip(
                    before.pc + 1,
                    Confusion.COUNTER_MOVED_ON,
                    f"The program counter has not moved on yet: it still holds"
                    f" {address(before.pc)}, and that is copied.",
                )
            if transfer.target == "PC" and not transfer.condition:
                yield _Slip(
                    before.pc,
                    Confusion.BEFORE_FOR_AFTER,
                    f"{address(before.pc)} is what it held before; then one is added.",
                )
            if transfer.target == "MAR":
                contents = self.machine.signed(before.memory[after.mar])
                yield _Slip(
                    contents,
                    Confusion.CONTENTS_FOR_ADDRESS,
                    f"That is what is stored at address {address(after.mar)}. The memory address"
                    " register takes the address itself; memory is read in the next step.",
                )
                yield _Slip(
                    before.mar,
                    Confusion.BEFORE_FOR_AFTER,
                    f"{address(before.mar)} is what it held before the step.",
                )
            return
        if transfer.target == "status":
            if before.status:
                yield _Slip(
                    before.status.value,
                    Confusion.BEFORE_FOR_AFTER,
                    "That is what the status was before. The accumulator is compared with the"
                    " other number, in this order.",
                )
            return
        by_address = self.kind.instruction is not None and (
            self.kind.instruction.operand is Operand.ADDRESS
        )
        if transfer.uses_alu:
            yield from self._sum_slips(operand, by_address)
        held = self.before if self.phases else before
        # A write changes the word that the address names, which MAR may not hold yet.
        was = (
            held.memory[after.mar]
            if transfer.target == "memory[MAR]"
            else self._held(transfer.target, held)
        )
        if by_address:
            yield _Slip(
                operand,
                Confusion.ADDRESS_FOR_CONTENTS,
                f"{address(operand)} is the address. What counts is the number that is stored"
                " there or goes there.",
            )
        yield _Slip(
            machine.signed(int(was)),
            Confusion.BEFORE_FOR_AFTER,
            "That is what it held before the step; the question is what it holds afterwards.",
        )

    def _sum_slips(self, operand: int, by_address: bool) -> Iterator[_Slip]:
        machine, before, after = self.machine, self.moment.before, self.after
        number = self.reading.number
        left = machine.signed(before.acc)
        right = machine.signed(before.mdr) if self.transfer.right == "MDR" else operand
        adds = self.transfer.operation is not None and self.transfer.operation.symbol == "+"
        whole = left + right if adds else left - right
        if machine.signed(after.acc) != whole:
            explanation = (
                f"{whole} does not fit a word of {machine.word_bits} bits, so it wraps round to"
                f" {number(after.acc)}, and the overflow mark comes on."
            )
            yield _Slip(whole, Confusion.WORD_TOO_SMALL, explanation)
        if by_address:
            wrong = left + operand if adds else left - operand
            yield _Slip(
                machine.signed(machine.pattern(wrong)),
                Confusion.ADDRESS_FOR_CONTENTS,
                f"You worked with the address, {self.reading.address(operand)}. The ALU works with"
                f" the number that is stored there, {number(before.mdr)}.",
            )
        other = left - right if adds else left + right
        yield _Slip(
            machine.signed(machine.pattern(other)),
            Confusion.OPERATION,
            "This instruction adds; you took away."
            if adds
            else "This instruction takes away; you added.",
        )
        if left:
            yield _Slip(
                right,
                Confusion.PART_FOR_RESULT,
                f"{number(machine.pattern(right))} is the number that is"
                f" {'added' if adds else 'taken away'}, not the result.",
            )


def _opcodes_confused(right: Instruction | None, said: Instruction) -> Confusion | None:
    """What was mixed up where one instruction was taken for another; None for nothing known."""
    if right is None:
        return None
    if right.operand is said.operand and {right.name, said.name} == {"ADD", "SUBTRACT"}:
        return Confusion.OPERATION
    if right.name == said.name and right.operand is not said.operand:
        return Confusion.NUMBER_OR_ADDRESS
    return None


def _term_place(term: str) -> Place | None:
    """The place of a term of the notation among those that a pupil chooses from."""
    names = {"memory[MAR]": Place.MEMORY, "status": Place.STATUS, "operand": Place.CIR}
    if term in names:
        return names[term]
    return Place(term) if term in ("PC", "MAR", "MDR", "CIR", "ACC") else None


def _the(place: str) -> str:
    name = _lower(PLACE_NAMES[Place(place)])
    return name if place is Place.MEMORY else f"the {name}"


def _lower(name: str) -> str:
    return name[0].lower() + name[1:]


def _upper(name: str) -> str:
    return name[0].upper() + name[1:]
