"""Memory images worth running: the same seed always gives the same program.

Words drawn at random mostly stop or go astray within a few instructions, so most programs here
have a shape (a loop, a maze of jumps, code that rewrites itself...) whose details are drawn at
random. Addresses are drawn from the whole of memory, code included, on purpose.
"""

from collections.abc import Callable
from dataclasses import dataclass
from random import Random

from tests.hardware.rtl import WORD_BITS, Code

CONDITIONAL_JUMPS = (Code.JUMP_IF_LESS, Code.JUMP_IF_EQUAL, Code.JUMP_IF_MORE)
# Codes after which the next instruction always follows; INPUT is not one, as it may wait.
PLAIN = (Code.OUTPUT, *(code for code in Code if code >= Code.STORE))


@dataclass(frozen=True)
class Program:
    """A full memory image with its inputs (signed numbers), and the shape it was drawn from."""

    machine: str
    shape: str
    memory: tuple[int, ...]
    inputs: tuple[int, ...]


class Sketch:
    """A program being drawn for one machine."""

    def __init__(self, machine: str, rng: Random) -> None:
        self.rng = rng
        self.word_bits = WORD_BITS[machine]
        self.half_bits = self.word_bits // 2
        self.memory_words = 1 << self.half_bits
        self.words: list[int] = []

    @property
    def here(self) -> int:
        """The address of the next word to be added."""
        return len(self.words)

    @property
    def room(self) -> int:
        """How many words are still free."""
        return self.memory_words - len(self.words)

    def add(self, code: int, operand: int = 0) -> int:
        """Add an instruction; give its address."""
        self.words.append(code << self.half_bits | operand % self.memory_words)
        return len(self.words) - 1

    def address(self) -> int:
        """An address, as often as not among the last quarter, where data usually stands."""
        first = self.rng.choice((0, self.memory_words * 3 // 4))
        return self.rng.randrange(first, self.memory_words)

    def near(self) -> int:
        """An address a few words before or after the next one."""
        return max(0, min(self.memory_words - 1, self.here + self.rng.randint(-5, 6)))

    def number(self) -> int:
        """A signed number, often at or beside an edge of its range or of an operand's."""
        top = 1 << (self.word_bits - 1)
        edge = self.rng.choice((0, top - 1, -top, self.memory_words, top // 2, -top // 2))
        near_edge = max(-top, min(top - 1, edge + self.rng.randint(-2, 2)))
        return self.rng.choice((near_edge, self.rng.randrange(-top, top)))

    def plain(self, count: int) -> None:
        """Add instructions that neither jump, nor stop, nor wait."""
        for _ in range(count):
            self.add(self.rng.choice(PLAIN), self.address())

    def fill(self) -> tuple[int, ...]:
        """Fill the rest of memory with data, and give the image."""
        mask = (1 << self.word_bits) - 1
        return (*self.words, *(self.number() & mask for _ in range(self.room)))


def noise(sketch: Sketch) -> None:
    """Words drawn at random; on the larger machine most have a known opcode."""
    while sketch.room:
        known = sketch.rng.random() < 0.98
        codes = len(Code) if known else sketch.memory_words
        sketch.add(sketch.rng.randrange(codes), sketch.rng.randrange(sketch.memory_words))


def straight(sketch: Sketch) -> None:
    """One instruction after another, then HALT."""
    sketch.plain(sketch.rng.randint(5, 10))
    sketch.add(Code.HALT, sketch.address())


def to_the_end(sketch: Sketch) -> None:
    """Plain instructions to the last word of memory, with no HALT."""
    if sketch.rng.random() < 0.5:
        sketch.add(Code.JUMP, sketch.memory_words - sketch.rng.randint(6, 12))
    sketch.plain(sketch.room)


def countdown(sketch: Sketch) -> None:
    """A loop that runs a drawn number of times around a drawn body."""
    counter = sketch.memory_words - 1
    sketch.add(Code.LOAD_NUMBER, sketch.rng.randrange(2, sketch.memory_words))
    loop = sketch.add(Code.STORE, counter)
    sketch.plain(sketch.rng.randint(1, 5))
    sketch.add(Code.LOAD, counter)
    sketch.add(Code.SUBTRACT_NUMBER, sketch.rng.randint(1, 3))
    sketch.add(sketch.rng.choice((Code.JUMP_IF_MORE, Code.JUMP_IF_MORE, *CONDITIONAL_JUMPS)), loop)
    sketch.add(Code.OUTPUT)
    sketch.add(Code.HALT)


def growth(sketch: Sketch) -> None:
    """A loop that adds to, or takes from, the accumulator until it overflows or is compared."""
    total = sketch.memory_words - 1
    loop = sketch.add(Code.LOAD, total)
    sketch.add(sketch.rng.choice((Code.ADD, Code.SUBTRACT)), sketch.address())
    sketch.add(sketch.rng.choice((Code.ADD_NUMBER, Code.SUBTRACT_NUMBER)), sketch.address())
    sketch.add(Code.STORE, total)
    sketch.add(sketch.rng.choice((Code.COMPARE, Code.COMPARE_NUMBER)), sketch.address())
    sketch.add(sketch.rng.choice(CONDITIONAL_JUMPS), loop)
    sketch.add(Code.OUTPUT)
    sketch.add(sketch.rng.choice(CONDITIONAL_JUMPS), loop)
    sketch.add(sketch.rng.choice((Code.HALT, Code.JUMP)), loop)


def conversation(sketch: Sketch) -> None:
    """Take inputs, answer some of them, and go round until one is missing or ends the loop."""
    loop = sketch.add(Code.INPUT)
    sketch.plain(sketch.rng.randint(0, 2))
    sketch.add(sketch.rng.choice((Code.COMPARE, Code.COMPARE_NUMBER)), sketch.address())
    sketch.add(sketch.rng.choice(CONDITIONAL_JUMPS), sketch.here + 3)
    sketch.plain(1)
    sketch.add(Code.OUTPUT)
    sketch.plain(sketch.rng.randint(0, 2))
    sketch.add(sketch.rng.choice((Code.JUMP, *CONDITIONAL_JUMPS)), loop)
    sketch.add(Code.HALT)


def rewriting(sketch: Sketch) -> None:
    """A loop that adds to one of its own instructions, until the sum becomes another code."""
    sketch.plain(sketch.rng.randint(0, 2))
    loop = sketch.here
    changed = loop + sketch.rng.randint(3, 5)
    sketch.add(Code.LOAD, changed)
    sketch.add(sketch.rng.choice((Code.ADD_NUMBER, Code.SUBTRACT_NUMBER)), sketch.rng.randint(1, 7))
    sketch.add(Code.STORE, changed)
    sketch.plain(3)
    sketch.add(Code.JUMP, loop)


def maze(sketch: Sketch) -> None:
    """Jumps forward and back among arithmetic, to the end of memory."""
    jumps = (Code.JUMP, *CONDITIONAL_JUMPS, *CONDITIONAL_JUMPS)
    while sketch.room:
        draw = sketch.rng.random()
        if draw < 0.35:
            sketch.add(sketch.rng.choice(jumps), sketch.near())
        elif draw < 0.40:
            sketch.add(Code.INPUT)
        elif draw < 0.42:
            sketch.add(Code.HALT)
        else:
            sketch.plain(1)


SHAPES: tuple[Callable[[Sketch], None], ...] = (
    noise,
    straight,
    to_the_end,
    countdown,
    growth,
    conversation,
    rewriting,
    maze,
)


def generate(machine: str, seed: int) -> Program:
    """Draw a program; seeds in a row go round the shapes."""
    rng = Random(seed)
    shape = SHAPES[seed % len(SHAPES)]
    sketch = Sketch(machine, rng)
    shape(sketch)
    memory = sketch.fill()
    inputs = tuple(sketch.number() for _ in range(rng.randint(0, 6)))
    return Program(machine, shape.__name__, memory, inputs)
