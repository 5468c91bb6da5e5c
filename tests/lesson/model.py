"""The machine once more, for tests: an interpreter written from the table of instructions in
``hardware/machine.md``, on plain Python integers. It shares no code with ``app`` and knows nothing
of steps."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass
class Row:
    """The machine after one whole instruction, and what came out in it."""

    address: int
    pc: int
    acc: int
    status: str
    memory: dict[int, int]
    output: str


@dataclass
class Model:
    """``memory`` holds instructions as words of text and data as integers."""

    memory: list[tuple[str, ...] | int]
    inputs: list[int]
    pc: int = 0
    acc: int = 0
    status: str = "–"  # no comparison yet: no jump asks for this
    rows: list[Row] = field(default_factory=list)

    def run(self, most: int = 1000) -> list[Row]:
        """Run to HALT; the row of every instruction."""
        while len(self.rows) < most:
            at = self.pc
            word = self.memory[at]
            assert isinstance(word, tuple), f"{word} at {at} is no instruction"
            output = self._carry_out(word)
            data = {place: each for place, each in enumerate(self.memory) if isinstance(each, int)}
            self.rows.append(Row(at, self.pc, self.acc, self.status, data, output))
            if word[0] == "HALT":
                break
        return self.rows

    def _carry_out(self, word: tuple[str, ...]) -> str:
        self.pc += 1
        name, operand = word[0], word[1] if len(word) > 1 else ""
        output = ""
        if operand.startswith("#"):
            value = int(operand[1:])
        elif operand and name not in ("JUMP", "STORE"):
            found = self.memory[int(operand)]
            assert isinstance(found, int)
            value = found
        else:
            value = 0
        match name:
            case "LOAD":
                self.acc = value
            case "STORE":
                self.memory[int(operand)] = self.acc
            case "ADD":
                self.acc += value
                self._judge(self.acc, 0)
            case "SUBTRACT":
                self.acc -= value
                self._judge(self.acc, 0)
            case "COMPARE":
                self._judge(self.acc, value)
            case "JUMP":
                if len(word) == 2 or word[3] == self.status:
                    self.pc = int(operand)
            case "INPUT":
                self.acc = self.inputs.pop(0)
            case "OUTPUT":
                output = str(self.acc)
        return output

    def _judge(self, left: int, right: int) -> None:
        self.status = "LESS" if left < right else "EQUAL" if left == right else "MORE"


def model_of(source: str, inputs: list[int]) -> Model:
    """A model of a program in source text that is without faults."""
    lines = [line.split(";")[0].split() for line in source.splitlines()]
    lines = [line for line in lines if line]
    labels = {line[0][:-1]: at for at, line in enumerate(lines) if line[0].endswith(":")}
    memory: list[tuple[str, ...] | int] = []
    for line in lines:
        words = [str(labels.get(each, each)) for each in line if not each.endswith(":")]
        memory.append(tuple(words) if words[0].isalpha() else int(words[0]))
    return Model(memory, list(inputs))
