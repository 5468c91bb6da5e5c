"""What a run says about a span of its steps, for questions and their wrong answers."""

from __future__ import annotations

from functools import cached_property

from app.lesson.entries import Wrong
from app.lesson.timeline import Span
from app.machine.addressing import Operand
from app.machine.engine import Step
from app.machine.instructions import Instruction, Phase
from app.machine.run import Run
from app.machine.source.assembler import Program
from app.machine.source.disassembler import decode, write_instruction
from app.machine.source.problems import nearest
from app.machine.state import State
from app.machine.words import parse_number, show_word

OUTPUTS_SHOWN = 8
# The answer to a question about the status where there is none; the board has a dash then.
NO_COMPARISON = "no comparison yet"


class Facts:
    """What the run says about a span of its steps: the machine before it and after it."""

    def __init__(self, run: Run, program: Program, span: Span) -> None:
        self.run = run
        self.program = program
        self.machine = program.machine
        self.span = span

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
        """The machine after that instruction."""
        return self.run.moment(self.run.after_instruction(self.start.steps)).after

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
    def has_operand(self) -> bool:
        instruction = self.instruction
        return instruction is not None and instruction.operand is not Operand.NONE

    @property
    def is_direct(self) -> bool:
        """Whether the operand is the address of a number (not of the next instruction)."""
        instruction = self.instruction
        return (
            instruction is not None
            and instruction.operand is Operand.ADDRESS
            and not instruction.jumps
        )

    @cached_property
    def jump(self) -> Step | None:
        """The step at which the instruction jumps or does not, if the span has it."""
        for step in range(self.span.last, max(self.span.first, self.start.steps + 1) - 1, -1):
            made = self.run.moment(step).step
            if made and made.kind.phase is Phase.EXECUTE and made.kind.transfer.target == "PC":
                return made
        return None

    @cached_property
    def mdr_is_instruction(self) -> bool:
        """Whether the memory data register holds an instruction after the span."""
        made = self.run.moment(self.span.last).step
        return made is not None and (
            made.kind.phase is Phase.DECODE
            or (made.kind.phase is Phase.FETCH and made.kind.place_in_phase > 0)
            or self.after.mdr == self.after.cir
        )

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

    # Values as texts, in denary.

    def number(self, pattern: int) -> str:
        return show_word(self.machine, pattern, "denary")

    def written(self, word: int) -> str:
        """An instruction word as the program writes it."""
        return write_instruction(self.machine, word, self.program.labels)

    def outputs(self, patterns: tuple[int, ...]) -> str:
        """Outputs in their order, the earlier of many left out."""
        if not patterns:
            return "nothing yet"
        texts = [self.number(each) for each in patterns[-OUTPUTS_SHOWN:]]
        return ", ".join(["\N{HORIZONTAL ELLIPSIS}"] * (len(patterns) > OUTPUTS_SHOWN) + texts)

    def place(self, address: int) -> str:
        """An address in words, with its label if it has one."""
        label = self.program.labels.get(address)
        return f"address {address} ({label})" if label else f"address {address}"


def unknown_label(label: str, program: Program) -> Wrong:
    """What to say where a program has no such label."""
    labels = [each for origin in program.origins for each in origin.labels]
    near = nearest(label, labels)
    if near:
        mend = f"Did you mean '{near}'?"
    elif labels:
        mend = f"Its labels are {', '.join(labels[:12])}."
    else:
        mend = f"Write '{label}:' before the word that it names."
    return Wrong(f"The program has no label '{label}'.", mend)
