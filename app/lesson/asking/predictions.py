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

from app.lesson.header import ONLY_IN_TRANSFERS, Depth
from app.lesson.timeline import Span
from app.machine.addressing import Operand
from app.machine.characters import CHARACTERS, number_of
from app.machine.instructions import Instruction, Phase
from app.machine.machine import Machine, StepKind
from app.machine.operations import Status
from app.machine.run import Moment, Run
from app.machine.source.assembler import Program
from app.machine.source.disassembler import decode, write_instruction
from app.machine.source.problems import capital
from app.machine.telling.narration import arrival, phase_sentence, sentence
from app.machine.telling.wording import USUAL, Wording
from app.machine.transfers import Place, Transfer, place_of
from app.machine.words import parse_number

from . import serving
from .facts import Facts
from .happened import what_happened
from .mixups import Misconception, MixUp, Reason
from .subjects import KEPT, KEPT_ADDRESS, SERVED, Subject
from .wrong_answers import wrong_answers

NOTHING = "nothing"
LONGEST_ANSWER = 80


class Field(StrEnum):
    """What one question asks for; also the name of its answer."""

    PLACE = "place"
    VALUE = "value"
    NEXT = "next"
    # Of a request that has just come.
    SERVED = "served"
    KEPT = "kept"
    KEPT_ADDRESS = "kept-address"


# What each of those asks about, as a kind of Subject.
_OF_REQUEST = {
    Field.SERVED: SERVED,
    Field.KEPT: KEPT,
    Field.KEPT_ADDRESS: KEPT_ADDRESS,
}


@dataclass(frozen=True, slots=True)
class Choice:
    value: str
    label: str


@dataclass(frozen=True, slots=True)
class Prompt:
    """One question. Without ``choices`` the answer is a number, in any base."""

    asks: Field
    text: str
    choices: tuple[Choice, ...] = ()


@dataclass(frozen=True, slots=True)
class Answer:
    """One answer, marked. ``said`` and ``truth`` are as a reader sees them; ``explanation`` is
    a whole sentence where the answer is wrong, and empty where it is right."""

    question: Prompt
    said: str
    truth: str
    right: bool
    explanation: str = ""
    mixup: MixUp | None = None


class Unreadable(ValueError):
    """An answer that cannot be marked: its question, and what to write instead."""

    def __init__(self, asks: Field, what: str) -> None:
        super().__init__(what)
        self.asks = asks


class Prediction:
    """What is asked before a run goes on from ``step``, and the marking of the answers.

    ``following`` is the step that is predicted: the next one, or the last of the next phase
    where whole phases are looked at. ``unseen`` are parts that are not spoken of. Raises
    IndexError where the run goes no further.
    """

    def __init__(
        self,
        program: Program,
        run: Run,
        step: int,
        depth: Depth,
        base: str,
        wording: Wording = USUAL,
        unseen: frozenset[str] = frozenset(),
    ) -> None:
        self.following = run.after_phase(step) if depth is Depth.PHASES else step + 1
        if self.following == step or not run.reaches(self.following):
            raise IndexError(f"the run has no step after {step}")
        self.phases = depth is Depth.PHASES
        self.machine: Machine = run.machine
        self.program = program
        self.facts = Facts(run, program, Span(step + 1, self.following), base)
        self.reading = self.facts.reading
        self.before = run.moment(step).after
        self.moment: Moment = run.moment(self.following)
        self.after = self.moment.after
        assert self.moment.step is not None
        self.kind = self._asked_of()
        self.transfer: Transfer = self.kind.transfer
        # What is asked about is spoken of: a program may write an instruction that changes it.
        self.unseen = unseen - {self.transfer.target}
        self.last = run.after_instruction(step) == self.following
        self.wording = wording
        self.rung = self._rung(step)
        self.questions = tuple(map(self._told, self._questions()))

    def _rung(self, step: int) -> bool:
        """Whether a request has just come that waits alone and is going to be served."""
        run = self.facts.run
        if len(run.waiting(step)) != 1 or not arrival(run, step):
            return False
        return run.served_at(self.before.served) is not None

    def _asked_of(self) -> StepKind:
        """The step that is asked about: the last one, but of a whole phase that ends with the
        stack pointer the one before, which says more."""
        made = self.moment.step
        assert made is not None
        steps = self.moment.steps_of_phase if self.phases else (made,)
        telling = [each for each in steps if each.kind.transfer.target != "SP"]
        return (telling or [made])[-1].kind

    # What is asked.

    def _questions(self) -> Iterator[Prompt]:
        phase, instruction = self.kind.phase, self.kind.instruction
        if self.rung:
            for field, text, choices in (
                (Field.SERVED, "When will the request be served?", serving.times(self.facts)),
                (Field.KEPT, "What will be kept on the stack?", serving.KEEPING),
            ):
                yield Prompt(field, text, tuple(Choice(each, each) for each in choices))
            yield Prompt(Field.KEPT_ADDRESS, "Which address will be kept, to go on from later?")
            return  # that is enough to think about at once
        if phase is Phase.DECODE:
            text = "Which instruction does the control unit find?"
            yield Prompt(Field.VALUE, text, self._instructions())
            return
        if phase is Phase.FETCH and self.phases:
            text = "Which instruction will be fetched?"
            yield Prompt(Field.VALUE, text, self._words(self.after.cir))
            yield Prompt(Field.NEXT, "What will the program counter hold then?")
            return
        broken_off = self.phases and self.transfer.target in ONLY_IN_TRANSFERS
        jumps = self.transfer.target == "PC" and (instruction or phase is Phase.INTERRUPT)
        if not broken_off and not jumps:
            yield Prompt(Field.PLACE, "Which part will change?", self._places())
            yield from self._value_question()
        if self.last and self._goes_on:
            yield Prompt(Field.NEXT, "At which address is the next instruction?")

    def _told(self, question: Prompt) -> Prompt:
        """A question in the words of the course. The choices of a value are words of memory."""
        say, choices = self.wording.say, question.choices
        if question.asks in (Field.PLACE, Field.SERVED, Field.KEPT):
            choices = tuple(replace(each, label=say(each.label)) for each in choices)
        return replace(question, text=say(question.text), choices=choices)

    @property
    def _goes_on(self) -> bool:
        """Whether there is a next instruction: behind the last word of memory there is none."""
        return not self.transfer.halts and self.after.pc < self.machine.memory_words

    def _value_question(self) -> Iterator[Prompt]:
        text = "What will it hold then?"
        match self.transfer.target:
            case "clock":
                return
            case "status":
                choices = tuple(Choice(each.value, each.value) for each in Status)
                yield Prompt(Field.VALUE, "What will it say then?", choices)
            case "interrupts":
                switch = tuple(Choice(each, each) for each in ("on", "off"))
                yield Prompt(Field.VALUE, "What will they be then?", switch)
            case "output":
                yield Prompt(Field.VALUE, "What will it show then?")
            case "MDR" | "CIR" if self.kind.phase is Phase.FETCH:
                yield Prompt(Field.VALUE, text, self._words(self._truth_word()))
            case _:
                yield Prompt(Field.VALUE, text)

    def _places(self) -> tuple[Choice, ...]:
        hidden = self.unseen | ONLY_IN_TRANSFERS if self.phases else self.unseen
        names = [
            Choice(each.tag, capital(each.name))
            for each in self.machine.registers
            if each.tag not in hidden
        ]
        return (
            *names,
            Choice(Place.MEMORY.value, "A word of main memory"),
            Choice(Place.OUTPUT.value, "Output"),
            Choice(NOTHING, "Nothing: the machine stops"),
        )

    def _words(self, truth: int) -> tuple[Choice, ...]:
        """The word that is right among those that would be mistaken for it, by size."""
        at = self._coming_from
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
        by_code = self.machine.by_code
        right = by_code.get(opcode)
        mixed_up = [
            code for code, each in by_code.items() if right and _opcodes_mixed_up(right, each)
        ]
        codes = [opcode, *mixed_up, opcode + 1, opcode - 1, opcode + 2]
        words = [self.machine.join(code, operand) for code in codes if code in by_code]
        if operand in by_code:
            words.insert(1, self.machine.join(operand, opcode))
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

    @property
    def subject(self) -> Subject:
        """What the step, or the last step of the phase, writes its value into."""
        match self.transfer.target:
            case "memory[MAR]":
                return Subject("memory", str(self.after.mar))
            case "output":
                return Subject("sent")
            case "opcode, operand":
                return Subject("CIR")
            case target:
                return Subject("CIR" if self._fetches else target)

    @property
    def _fetches(self) -> bool:
        """Whether a whole fetch is looked at."""
        return self.phases and self.kind.phase is Phase.FETCH

    def _truth_word(self) -> int:
        held = self.facts.held(self.subject, self.after)
        assert isinstance(held, int)
        return held

    def _truths(self, field: Field) -> tuple[int | str, ...]:
        """What is right, the most to the point first: of a sum the status changes as well."""
        transfer = self.transfer
        if field is Field.NEXT:
            return (self.after.pc,)
        if field in _OF_REQUEST:
            return (serving.truth(_OF_REQUEST[field], self.facts),)
        if field is Field.PLACE:
            if transfer.halts:
                return (NOTHING,)
            return tuple(dict.fromkeys(map(str, (*transfer.target_places, *self._beside()))))
        held = self.facts.held(self.subject, self.after)
        assert not isinstance(held, tuple)
        status = self.after.status
        if status is None or not transfer.sets_status or transfer.target == "status":
            return (held,)
        return (held, status.value)

    def _beside(self) -> list[str]:
        """What else a whole phase changes for good, beside what is asked about."""
        if not self.phases or self.kind.phase is not Phase.EXECUTE:
            return []
        return [
            place
            for each in self.moment.steps_of_phase
            if each.value is not None
            for place in each.kind.transfer.target_places
            if place not in ONLY_IN_TRANSFERS
        ]

    # Marking.

    def mark(self, answers: Mapping[str, str]) -> tuple[Answer, ...]:
        """Mark the answers, by the names of :class:`Field`.

        Raises Unreadable for the first that is missing or cannot be read.
        """
        place = answers.get(Field.PLACE, "").strip()
        return tuple(self._mark(each, answers.get(each.asks, ""), place) for each in self.questions)

    def _mark(self, question: Prompt, text: str, place: str = "") -> Answer:
        truths = self._truths(question.asks)
        if question.asks is Field.VALUE and place in self._also:
            # Who has said that another part changes, and is right, is asked what that will hold.
            held = self.facts.held(Subject(place), self.after)
            assert not isinstance(held, tuple)
            truths = (*truths, held)
        said = self._read(question, text)
        shown = self._show(question, truths[0])
        if said in truths:
            return Answer(question, self._show(question, said), shown, True)
        found = next((each for each in self._wrong(question.asks) if each.value == said), None)
        return Answer(
            question,
            self._show(question, said),
            shown,
            False,
            self.wording.say(found.sentence if found else self._reason(question.asks)),
            found.mixup if found else None,
        )

    @property
    def _also(self) -> list[str]:
        """The registers, beside the one that is asked about, that hold a number and change."""
        return [
            each
            for each in map(str, self._truths(Field.PLACE)[1:])
            if each in self.machine.register and each != "status"
        ]

    def _read(self, question: Prompt, text: str) -> int | str:
        text = text.strip()[:LONGEST_ANSWER]
        if question.choices:
            if text not in [each.value for each in question.choices]:
                raise Unreadable(question.asks, "Choose one of the answers.")
            words = self.transfer.target in ("status", "interrupts")
            numbers = question.asks is Field.VALUE and not words
            return int(text) if numbers else text
        if not text:
            raise Unreadable(question.asks, "Write a number, or let the machine show you.")
        sets_status = question.asks is Field.VALUE and self.transfer.sets_status
        if sets_status and text.upper() in [*Status]:
            return text.upper()
        joined = re.sub(r"\s", "", text)
        base = self.reading.base
        try:
            # Written as the board writes it: bits in groups, or hexadecimal without its sign.
            if re.fullmatch(r"[01]+", joined) and base == "binary":
                number = int(joined, 2)
            elif re.fullmatch(r"[0-9A-Fa-f]+", joined) and base == "hexadecimal":
                number = int(joined, 16)
            elif base == CHARACTERS and (named := number_of(text)) is not None:
                number = named
            else:
                number = parse_number(joined)
        except ValueError as error:
            what = "Write a number, such as 13, 0b1101 or 0xD."
            raise Unreadable(question.asks, what) from error
        addresses = question.asks in (Field.NEXT, Field.KEPT_ADDRESS)
        if addresses or self.facts.is_pattern(self.subject):
            return number
        # 200 in eight bits shows as -56: only written as bits, or as the board writes those in
        # hexadecimal, is it the same.
        bits = not joined.lstrip("+-").isdigit() or base in ("binary", "hexadecimal")
        return self.machine.signed(number) if bits and self._is_pattern(number) else number

    def _is_pattern(self, number: int) -> bool:
        return 0 <= number <= self.machine.word_mask

    def _show(self, question: Prompt, value: int | str) -> str:
        if question.choices:
            return next(each.label for each in question.choices if each.value == str(value))
        if question.asks in (Field.NEXT, Field.KEPT_ADDRESS):
            return self.facts.show(Subject("PC"), value)
        return self.facts.show(self.subject, value)

    def _reason(self, field: Field) -> str:
        """Why it is as it is, for a wrong answer that no mix-up gives: what the step does."""
        if field in _OF_REQUEST:
            return serving.happened(_OF_REQUEST[field], self.facts)
        if field is Field.NEXT:
            return what_happened(Subject("PC"), self.facts)
        # The last step of a run that ends without HALT is told like any other.
        moment = replace(self.moment, after=replace(self.after, ending=None))
        if self.phases and field is Field.VALUE and self.kind.phase is Phase.EXECUTE:
            # With its numbers: the words of a whole phase say what it does alone.
            return what_happened(self.subject, self.facts, self.unseen)
        if self.phases:
            # Who looks at phases from the middle of one on is told the whole of it.
            start = self.facts.start if self.kind.phase is Phase.FETCH else self.before
            return phase_sentence(self.reading, moment, start, 0, self.unseen)
        return sentence(self.reading, moment, 0, self.unseen)

    # The usual mix-ups.

    def _wrong(self, field: Field) -> Iterator[Misconception]:
        if field in _OF_REQUEST:
            yield from serving.mix_ups(_OF_REQUEST[field], self.facts)
        elif field is Field.PLACE:
            yield from self._wrong_places()
        elif field is Field.NEXT:
            yield from wrong_answers(Subject("PC"), self.facts)
        elif self.kind.phase is Phase.FETCH and (self.phases or self.transfer.left != "PC"):
            yield from self._wrong_words()
        elif self.kind.phase is Phase.DECODE:
            yield from self._wrong_instructions()
        else:
            yield from wrong_answers(self.subject, self.facts)

    def _wrong_places(self) -> Iterator[Misconception]:
        transfer, right = self.transfer, self.transfer.target_places
        target = "the control unit" if transfer.halts else self._the(transfer.target_place)
        terms = [*transfer.terms]
        if self.phases and self.kind.instruction:
            # Of a whole phase: the register that the number goes through is not shown.
            terms += (each.left for each in self.kind.instruction.transfers if each.target == "MDR")
        sources = [self._source(term) for term in terms]
        for place in sources:
            if place and place not in right:
                names = {"Place": self._the(place), "target": target}
                yield Misconception(str(place), Reason.KEEPS_ITS_VALUE, names)
        for place in self._later():
            if place not in right:
                names = {"Place": self._the(place), "target": target}
                yield Misconception(str(place), Reason.CHANGES_LATER, names)
        if self.kind.phase is not Phase.EXECUTE:
            return
        for place in self._earlier():
            names = {"Place": self._the(place), "target": target}
            yield Misconception(str(place), Reason.CHANGED_EARLIER, names)
        if not transfer.halts:
            yield Misconception("PC", Reason.COUNTED_ALREADY, {"target": target})
            status = {"name": self.facts.name, "target": target}
            yield Misconception("status", Reason.STATUS_NOT_SET, status)

    def _source(self, term: str) -> str | None:
        """The place of a term among those that a pupil chooses from; None for none of them."""
        if term == "operand":
            return Place.CIR
        place = place_of(term)
        known = place in self.machine.register or place == Place.MEMORY
        return place if term and known else None

    def _later(self) -> list[str]:
        """The places that change later in the same phase."""
        if self.phases:
            return []
        following = self._of_phase[self.kind.place_in_phase + 1 :]
        return [place for each in following for place in each.target_places]

    @property
    def _of_phase(self) -> tuple[Transfer, ...]:
        """All transfers of the phase, or of the fetch before the instruction is known."""
        if self.kind.phase is Phase.INTERRUPT:
            return self.machine.interrupt
        instruction = self.kind.instruction
        return instruction.transfers if instruction else self.machine.fetch

    def _earlier(self) -> list[str]:
        """The places that have changed earlier in the same phase."""
        instruction = self.kind.instruction
        if self.phases or instruction is None:
            return []
        before = instruction.transfers[: self.kind.place_in_phase]
        return [place for each in before for place in each.target_places]

    def _the(self, place: str) -> str:
        if place == Place.MEMORY:
            return "a word of main memory"
        register = self.machine.register.get(place)
        return f"the {register.name}" if register else "the output"

    @property
    def _coming_from(self) -> int:
        """The address of the instruction that is being fetched. In the middle of the fetch the
        counter may have moved on."""
        return self.facts.start.pc

    def _wrong_words(self) -> Iterator[Misconception]:
        """A whole instruction word is on its way to the current instruction register."""
        at = self._coming_from
        here = self.reading.address(at)
        yield Misconception(at, Reason.ADDRESS_AS_WORD, {"address": here})
        if at + 1 < len(self.before.memory):
            after = {"address": self.reading.address(at + 1), "here": here}
            last = self.machine.counter_moves == "last"
            reason = Reason.AFTER_IT if last else Reason.AFTER_IT_COPIED
            yield Misconception(self.before.memory[at + 1], reason, after)
        # The memory data register may have held a number since.
        if self.before.held(self.subject.kind) == self.before.cir:
            yield Misconception(self.before.cir, Reason.FETCHED_BEFORE)

    def _wrong_instructions(self) -> Iterator[Misconception]:
        word = self.after.cir
        opcode, operand = self.machine.split(word)
        left = self.reading.halves(word)[0]
        by_code = self.machine.by_code
        if operand in by_code:
            swapped = self.machine.join(operand, opcode)
            yield Misconception(swapped, Reason.HALVES, {"left": left})
        right = by_code.get(opcode)
        if right is None:
            return
        facts = {"left": left, "code": str(opcode), "written": right.written}
        for code, other in by_code.items():
            if code != opcode:
                reason = _opcodes_mixed_up(right, other) or Reason.OPCODE
                yield Misconception(self.machine.join(code, operand), reason, facts)


def _opcodes_mixed_up(right: Instruction, said: Instruction) -> Reason | None:
    """Why one instruction was taken for another; None where they are not usually mixed up."""
    if right.operand is said.operand and right.operation and said.operation:
        symbols = (right.operation.mixed_up, said.operation.symbol)
        return Reason.OPCODE_OPERATION if symbols[0] == symbols[1] else None
    if right.name == said.name and right.operand is not said.operand:
        return Reason.OPCODE_NUMBER
    return None
