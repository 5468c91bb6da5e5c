"""What a run says about a span of its steps, for questions and their wrong answers."""

from __future__ import annotations

from collections.abc import Callable
from functools import cached_property

from app.lesson.entries import Wrong
from app.lesson.timeline import Span
from app.machine.addressing import DIRECT, WRITTEN
from app.machine.engine import Step
from app.machine.instructions import Instruction, Phase
from app.machine.machine import StepKind
from app.machine.provenance import mdr_is_instruction
from app.machine.registers import Holds
from app.machine.run import Moment, Run
from app.machine.source.assembler import Program
from app.machine.source.disassembler import decode, write_instruction
from app.machine.source.problems import nearest
from app.machine.state import State
from app.machine.telling.reading import Reading
from app.machine.words import parse_number

from .subjects import SERVING, Subject

OUTPUTS_SHOWN = 8
# Of so many is looked what they are: a run may have sent thousands before each of many questions.
OUTPUTS_LOOKED_AT = 64
# How far a question that is answered late looks for what has made its answer.
MOST_LOOKED_BACK = 200
# The answer to a question about the status where there is none; the board has a dash then.
NO_COMPARISON = "no comparison yet"
NOTHING_SENT = "nothing yet"


# The value of what is asked about: a signed number, an address, the word of an instruction, a
# status or another text, or the patterns of all outputs.
Value = int | str | tuple[int, ...]


class Facts:
    """What the run says about a span of its steps: the machine before it and after it, and what
    was done in it. Values are shown in a number ``base``, instructions as the program has them."""

    def __init__(self, run: Run, program: Program, span: Span, base: str = "denary") -> None:
        self.run = run
        self.program = program
        self.machine = program.machine
        self.span = span
        self.reading = Reading(program.machine, base)

    @cached_property
    def before(self) -> State:
        return self.run.moment(self.span.first - 1).after

    @cached_property
    def after(self) -> State:
        return self.run.moment(self.span.last).after

    @cached_property
    def start(self) -> State:
        """The machine before the instruction that the span ends in."""
        return self.run.moment(self.run.before_instruction(self.span.last)).after

    @cached_property
    def finish(self) -> State:
        """The machine after that instruction, before a request is served."""
        last = self.run.after_instruction(self.start.steps)
        while self._serving(last):
            last -= 1
        return self.run.moment(last).after

    @property
    def serves(self) -> bool:
        """Whether the span ends where a request is served."""
        return bool(self.machine.interrupt) and self._serving(self.span.last)

    def _serving(self, number: int) -> bool:
        """Whether a request is served in a step of the run."""
        step = self.run.step(number)
        return step is not None and step.kind.phase is Phase.INTERRUPT

    @property
    def word(self) -> int:
        """The instruction word, as a bit pattern."""
        return self.start.memory[self.start.pc]

    @property
    def instruction(self) -> Instruction | None:
        return decode(self.machine, self.word)[0]

    @property
    def operand(self) -> int:
        return decode(self.machine, self.word)[1]

    @property
    def is_direct(self) -> bool:
        """Whether the operand is itself the address of a number (not of the next instruction)."""
        return self.instruction is not None and self.instruction.mode in (DIRECT, WRITTEN)

    def trail(self, until: int) -> list[int]:
        """The addresses that the instruction has put on its way to memory, up to a step."""
        return [address for step, address in self._addresses if step <= until]

    @cached_property
    def _addresses(self) -> list[tuple[int, int]]:
        """The addresses that the instruction puts on its way to memory, each with its step."""
        return [
            (each.number, each.value)
            for each in self.run.following(self.start.steps)
            if each.kind.phase is Phase.EXECUTE
            and each.kind.transfer.target == "MAR"
            and isinstance(each.value, int)
        ]

    @property
    def index(self) -> int:
        """What the register that the instruction adds to its operand holds before it, as a number;
        0 where it adds none."""
        tag = self.instruction.index if self.instruction else ""
        return self.machine.signed(self.start.others[tag]) if tag else 0

    @cached_property
    def jump(self) -> Step | None:
        """The step at which the instruction jumps or does not, if it has come by the end of the
        span: after a RETURN has gone back, its stack pointer still has to move."""
        for step in range(self.span.last, self.start.steps, -1):
            made = self.run.step(step)
            if made and made.kind.phase is Phase.EXECUTE and made.kind.transfer.target == "PC":
                return made
        return None

    @property
    def restored(self) -> bool:
        """Whether the instruction has brought back, by the end of the span, what was kept when a
        request was served."""
        return self.jump is not None and self.jump.kind.transfer.restores

    @cached_property
    def compared(self) -> Moment | None:
        """The last moment before the instruction that set the status; None where none did, or
        where it is further back than MOST_LOOKED_BACK steps."""
        return self._last(
            lambda kind: kind.transfer.sets_status or kind.transfer.restores,
            self.start.steps,
        )

    def _last(self, wanted: Callable[[StepKind], object], step: int) -> Moment | None:
        found = self.run.last_step_like(wanted, step, MOST_LOOKED_BACK)
        return None if found is None else self.run.moment(found)

    def last_written(self, made: Moment) -> Moment | None:
        """The last moment before one that wrote what it copies; None where it was never written,
        or where that is further back than MOST_LOOKED_BACK steps."""
        assert made.step
        source = made.step.kind.transfer.left
        return self._last(lambda kind: source in kind.transfer.targets, made.step.number - 1)

    @cached_property
    def instruction_before(self) -> Facts | None:
        """The facts of the instruction that was carried out just before; None at the start."""
        last = self.start.steps
        if last == 0:
            return None
        first = self.run.before_instruction(last) + 1
        return Facts(self.run, self.program, Span(first, last), self.reading.base)

    @cached_property
    def instruction_after(self) -> Facts | None:
        """The facts of the instruction that is carried out next; None where none is, or where a
        request is served first."""
        last = self.finish.steps
        if not self.run.reaches(last + 1) or self._serving(last + 1):
            return None
        end = self.run.after_instruction(last)
        return Facts(self.run, self.program, Span(last + 1, end), self.reading.base)

    @cached_property
    def mdr_is_instruction(self) -> bool:
        """Whether the memory data register holds an instruction after the span."""
        made = self.run.step(self.span.last)
        return mdr_is_instruction(self.machine, self.after, made.kind if made else None)

    def made(self, subject: Subject) -> Moment | None:
        """The last moment of the span that writes what is asked about; None where none does, or
        where it is further back than MOST_LOOKED_BACK steps."""
        first = max(self.span.first, self.span.last - MOST_LOOKED_BACK, 1)
        for number in range(self.span.last, first - 1, -1):
            step = self.run.step(number)
            if step and self._writes(step, subject):
                return self.run.moment(number)
        return None

    def comes(self, subject: Subject) -> bool:
        """Whether what is left of the instruction after the span writes what is asked about."""
        rest = Span(self.span.last + 1, self.finish.steps)
        return Facts(self.run, self.program, rest, self.reading.base).made(subject) is not None

    def narrowed(self, subject: Subject) -> Facts:
        """The facts that explain the answer where the span is longer than an instruction: those of
        the instruction that has made it, or of the last one where none has. To where a jump goes
        a request has nothing to add that is served after it."""
        if subject.kind == "jump" and self.serves:
            first = max(self.span.first, self.start.steps + 1)
            done = Span(first, max(first, self.finish.steps))
            return Facts(self.run, self.program, done, self.reading.base)
        if self.span.first > self.start.steps or subject.kind in SERVING:
            return self
        made = self.made(subject)
        step = made.step.number if made and made.step else self.span.last
        begin = self.run.before_instruction(step)
        end = min(self.run.after_instruction(begin), self.span.last)
        return Facts(self.run, self.program, Span(begin + 1, end), self.reading.base)

    def _writes(self, step: Step, subject: Subject) -> bool:
        transfer = step.kind.transfer
        match subject.kind:
            case "memory":
                asked = self.address(subject.target)
                writes = transfer.target == "memory[MAR]"
                return writes and self.run.moment(step.number).after.mar == asked
            case "output" | "sent":
                return transfer.target == "output"
            case "jump":
                return transfer.target == "PC" and step.kind.phase is Phase.EXECUTE
            case _:
                # A jump that is not taken writes nothing.
                return subject.kind in transfer.targets and step.value is not None

    @property
    def executed(self) -> bool:
        """Whether the span has the end of its instruction."""
        return self.span.last >= self.finish.steps

    def address(self, target: str) -> int:
        """The address that a label or a number names. Raises Wrong where there is none."""
        address = self.program.address_of(target)
        if address is not None:
            return address
        if target[0].isdigit():
            try:
                address = parse_number(target)
            except ValueError as error:
                raise Wrong(f"{error}.", "Write a label or an address.") from error
            if 0 <= address < self.machine.memory_words:
                return address
            raise Wrong(
                f"There is no address {target}.",
                f"The last one is {self.machine.memory_words - 1}.",
            )
        raise unknown_label(target, self.program)

    # The value of what is asked about.

    def held(self, subject: Subject, state: State) -> Value:
        """What a subject other than the way of a jump is in a state. Raises Wrong where there is
        no such word in memory."""
        match subject.kind:
            case "memory":
                return self.machine.signed(state.memory[self.address(subject.target)])
            case "output":
                return self.sent(state)
            case "sent":
                sent = self.sent(state)
                return self.machine.signed(sent[-1]) if sent else NOTHING_SENT
            case "status":
                return state.status.value if state.status else NO_COMPARISON
            case _:
                held = state.held(subject.kind)
                assert isinstance(held, int)
                if self.machine.register[subject.kind].holds is Holds.SWITCH:
                    return "on" if held else "off"
                return held if self.is_pattern(subject) else self.machine.signed(held)

    def sent(self, state: State) -> tuple[int, ...]:
        """The outputs until a state, the last OUTPUTS_LOOKED_AT of them."""
        return self.run.outputs(state.sent, max(state.sent - OUTPUTS_LOOKED_AT, 0))

    def is_pattern(self, subject: Subject) -> bool:
        """Whether what a register holds is an address or an instruction, and so has no sign."""
        register = self.machine.register.get(subject.kind)
        return register is not None and (
            register.holds is Holds.ADDRESS or self.is_instruction(subject)
        )

    def is_instruction(self, subject: Subject) -> bool:
        """Whether what is asked about holds an instruction after the span."""
        return subject.kind == "CIR" or (subject.kind == "MDR" and self.mdr_is_instruction)

    # Texts.

    def show(self, subject: Subject, value: Value) -> str:
        """A value of a subject as a choice shows it."""
        if isinstance(value, tuple):
            return self.outputs(value)
        if isinstance(value, str):
            return value
        register = self.machine.register.get(subject.kind)
        if self.is_instruction(subject):
            return self.written(value)
        if register and register.holds is Holds.ADDRESS:
            return self.there(value)
        if register and register.holds is Holds.BIT:
            return str(value)  # a bit is 0 or 1 in any base
        return self.number(value)

    def number(self, value: int) -> str:
        """A signed number; one that no word holds is written in denary."""
        if self.machine.smallest <= value <= self.machine.largest:
            return self.reading.number(self.machine.pattern(value))
        return self.reading.in_full(value)

    def there(self, address: int) -> str:
        """An address as a number. (A counter or a stack pointer may stand one past the last.)"""
        return self.reading.address(address) if address >= 0 else self.reading.in_full(address)

    def written(self, word: int) -> str:
        """An instruction word as the program writes it."""
        return write_instruction(self.machine, word, self.program.labels)

    def outputs(self, patterns: tuple[int, ...]) -> str:
        """Outputs in their order, the earlier of many left out."""
        if not patterns:
            return NOTHING_SENT
        texts = [self.reading.number(each) for each in patterns[-OUTPUTS_SHOWN:]]
        return ", ".join(["\N{HORIZONTAL ELLIPSIS}"] * (len(patterns) > OUTPUTS_SHOWN) + texts)

    def place(self, address: int) -> str:
        """An address in words, with its label if it has one."""
        label = self.program.labels.get(address)
        here = self.there(address)
        return f"address {here} ({label})" if label else f"address {here}"

    def holder(self, subject: Subject) -> str:
        """What is asked about, as words: ``the accumulator``, ``address 7 (total)``."""
        if subject.kind == "memory":
            return self.place(self.address(subject.target))
        register = self.machine.register.get(subject.kind)
        return f"the {register.name}" if register else "the output"

    @property
    def name(self) -> str:
        """The first word of the instruction, or what is said where it has none."""
        return self.instruction.name if self.instruction else "this word"


def unknown_label(label: str, program: Program) -> Wrong:
    """What to say where a program has no such label."""
    labels = [each for origin in program.origins for each in origin.labels]
    near = nearest(label, labels)
    if near:
        mend = f"Did you mean '{near}'?"
    elif labels:
        mend = f"Its labels are {', '.join(labels[:12])}."
    else:
        mend = f"Write '{label}:' at the start of the line that you mean."
    return Wrong(f"The program has no label '{label}'.", mend)
