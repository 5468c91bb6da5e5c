"""Memory images worth running: the same seed always gives the same program.

Words drawn at random mostly stop or go astray within a few instructions, so most programs here
have a shape (a loop, a maze of jumps, code that rewrites itself...) whose details are drawn at
random. Addresses are drawn from the whole of memory, code included, on purpose.
"""

from collections.abc import Callable
from dataclasses import dataclass
from random import Random

from tests.hardware.rtl import (
    PART_CODES,
    WORD_BITS,
    Asked,
    BitCode,
    Code,
    IndexCode,
    InterruptCode,
    StackCode,
)

CONDITIONAL_JUMPS = (Code.JUMP_IF_LESS, Code.JUMP_IF_EQUAL, Code.JUMP_IF_MORE)
# Codes after which the next instruction always follows; INPUT is not one, as it may wait.
PLAIN = (Code.OUTPUT, *(code for code in Code if code >= Code.STORE))


@dataclass(frozen=True)
class Program:
    """A memory image with its inputs (signed numbers), the shape it was drawn from, the parts
    that its machine has and the requests that come from outside. The image is that of the whole
    memory, or of a program on a grown machine that leaves room for a stack."""

    machine: str
    shape: str
    memory: tuple[int, ...]
    inputs: tuple[int, ...]
    parts: frozenset[str] = frozenset()
    requests: tuple[Asked, ...] = ()


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


# Programs for the larger machine with its parts. Every part may be missing: then its codes are
# unknown, and such a program ends at the first of them.

EVERY_PART = frozenset(PART_CODES)
SHIFTS = (
    BitCode.SHIFT_NUMBER_LEFT,
    BitCode.SHIFT_NUMBER_RIGHT,
    BitCode.SHIFT_NUMBER_RIGHT_SIGNED,
    BitCode.ROTATE_NUMBER_LEFT,
    BitCode.ROTATE_NUMBER_RIGHT,
)
LOGIC = tuple(each for each in BitCode if each < BitCode.SHIFT_NUMBER_LEFT)
MARK_JUMPS = (BitCode.JUMP_IF_CARRY, BitCode.JUMP_IF_OVERFLOW)
BY_INDEX = tuple(
    each for each in IndexCode if IndexCode.STORE_INDEXED <= each <= IndexCode.LOAD_INDEXED
)
BY_POINTER = tuple(
    each for each in IndexCode if IndexCode.STORE_INDIRECT <= each <= IndexCode.LOAD_INDIRECT
)
ON_INDEX = tuple(each for each in IndexCode if each > IndexCode.LOAD_INDEXED)


def any_code(sketch: Sketch) -> None:
    """Words drawn at random, with any code of any part; many end soon, and in every way."""
    codes = [*Code, *BitCode, *IndexCode, *StackCode, *InterruptCode]
    for _ in range(sketch.rng.randint(4, 40)):
        operand = sketch.rng.choice((sketch.address(), sketch.near(), sketch.rng.randrange(16)))
        sketch.add(sketch.rng.choice(codes), operand)


def bits(sketch: Sketch) -> None:
    """Numbers combined, shifted, added and looked at for a carry."""
    data = sketch.rng.randint(30, 40)
    for _ in range(sketch.rng.randint(6, 20)):
        place = data + sketch.rng.randrange(6)
        draw = sketch.rng.random()
        if draw < 0.3:
            sketch.add(sketch.rng.choice(LOGIC), place)
        elif draw < 0.6:
            sketch.add(sketch.rng.choice(SHIFTS), sketch.rng.randrange(20))
        elif draw < 0.85:
            sketch.add(sketch.rng.choice((Code.LOAD, Code.ADD, Code.SUBTRACT, Code.STORE)), place)
        else:
            sketch.add(sketch.rng.choice(MARK_JUMPS), sketch.here + sketch.rng.randint(1, 3))
    data_from(sketch, data)


def data_from(sketch: Sketch, address: int, count: int = 6) -> None:
    """HALT up to an address, and numbers from there."""
    while sketch.here < address:
        sketch.add(Code.HALT)
    mask = (1 << sketch.word_bits) - 1
    sketch.words += [sketch.number() & mask for _ in range(count)]


def list_walked(sketch: Sketch) -> None:
    """A loop over a list, by the index, that changes or adds up its numbers."""
    rng, start, length = sketch.rng, rng_start(sketch), sketch.rng.randint(2, 6)
    sketch.add(IndexCode.LOAD_NUMBER_TO_INDEX, rng.choice((0, 0, 1, 255)))
    if rng.random() < 0.3:
        sketch.add(IndexCode.SUBTRACT_NUMBER_FROM_INDEX, rng.choice((1, 2, 255)))
    loop = sketch.add(rng.choice(BY_INDEX), start)
    sketch.plain(rng.randint(0, 1))
    sketch.add(rng.choice(BY_INDEX), start)
    sketch.add(rng.choice((*ON_INDEX, IndexCode.ADD_NUMBER_TO_INDEX)), rng.randint(1, 2))
    sketch.add(IndexCode.ADD_NUMBER_TO_INDEX, 1)
    sketch.add(IndexCode.COMPARE_NUMBER_WITH_INDEX, length)
    sketch.add(rng.choice(CONDITIONAL_JUMPS), loop)
    sketch.add(IndexCode.STORE_FROM_INDEX, start)
    sketch.add(rng.choice((Code.HALT, IndexCode.JUMP_INDEXED)), rng.randrange(12))
    data_from(sketch, start, length)


def rng_start(sketch: Sketch) -> int:
    """Where the data of a program start."""
    return sketch.rng.randint(16, 30)


def pointers(sketch: Sketch) -> None:
    """Words that hold addresses, most of them of memory, followed and moved on."""
    rng, start = sketch.rng, rng_start(sketch)
    for _ in range(rng.randint(3, 8)):
        place = start + rng.randrange(4)
        sketch.add(rng.choice(BY_POINTER), place)
        if rng.random() < 0.5:
            sketch.add(Code.LOAD, place)
            sketch.add(rng.choice((Code.ADD_NUMBER, Code.SUBTRACT_NUMBER)), rng.randint(1, 3))
            sketch.add(Code.STORE, place)
    sketch.add(rng.choice((Code.HALT, IndexCode.JUMP_INDIRECT)), start)
    while sketch.here < start:
        sketch.add(Code.HALT)
    addresses = (start, start + 1, start + 2, rng.randrange(256), rng.choice((255, 256, 0xFFFF)))
    sketch.words += [rng.choice(addresses) for _ in range(4)]


def calls(sketch: Sketch) -> None:
    """A program that calls two subroutines, of which one calls the other."""
    rng = sketch.rng
    first, second = rng.randint(10, 12), rng.randint(22, 24)
    for _ in range(rng.randint(1, 3)):
        sketch.add(rng.choice((StackCode.CALL, StackCode.CALL, StackCode.PUSH)), first)
        sketch.add(rng.choice((Code.OUTPUT, StackCode.POP, Code.ADD_NUMBER)), 7)
    sketch.add(Code.HALT)
    for start, called in ((first, second), (second, rng.choice((first, second)))):
        while sketch.here < start:
            sketch.add(Code.HALT)
        sketch.add(rng.choice((StackCode.PUSH, Code.ADD_NUMBER)), 1)
        sketch.add(
            rng.choice((StackCode.LOAD_NUMBER_FROM_STACK, StackCode.STORE_NUMBER_TO_STACK)),
            rng.choice((0, 0, 1, 2, 200)),
        )
        if start == first or rng.random() < 0.3:
            sketch.add(StackCode.CALL, called)
        sketch.add(rng.choice((StackCode.POP, Code.ADD_NUMBER, Code.SUBTRACT_NUMBER)), 1)
        sketch.add(StackCode.RETURN)


def deep(sketch: Sketch) -> None:
    """A subroutine that calls itself, counting down; some never stop, and fill memory."""
    rng = sketch.rng
    # Of a long program the stack soon reaches the words.
    body = 4 if rng.random() < 0.5 else 248
    sketch.add(Code.LOAD_NUMBER, rng.randint(1, 9))
    sketch.add(StackCode.CALL, body)
    sketch.add(Code.OUTPUT)
    while sketch.here < body:
        sketch.add(Code.HALT)
    sketch.add(rng.choice((StackCode.PUSH, Code.OUTPUT)))
    sketch.add(Code.SUBTRACT_NUMBER, rng.choice((1, 1, 1, 0)))
    sketch.add(Code.JUMP_IF_EQUAL, body + 4)
    sketch.add(StackCode.CALL, body)
    sketch.add(rng.choice((StackCode.POP, Code.ADD_NUMBER, Code.ADD_NUMBER)), 2)
    sketch.add(StackCode.RETURN)


def sum_inside(sketch: Sketch) -> None:
    """A list added up by the index in a subroutine, its sum halved: all three parts."""
    rng, length = sketch.rng, sketch.rng.randint(1, 5)
    sketch.add(StackCode.CALL, 4)
    sketch.add(BitCode.SHIFT_NUMBER_RIGHT_SIGNED, rng.randint(1, 3))
    sketch.add(Code.OUTPUT)
    sketch.add(Code.HALT)
    sketch.add(Code.LOAD_NUMBER, 0)
    sketch.add(IndexCode.LOAD_NUMBER_TO_INDEX, 0)
    loop = sketch.add(IndexCode.ADD_INDEXED, 12)
    sketch.add(IndexCode.ADD_NUMBER_TO_INDEX, 1)
    sketch.add(IndexCode.COMPARE_NUMBER_WITH_INDEX, length)
    sketch.add(Code.JUMP_IF_LESS, loop)
    sketch.add(StackCode.RETURN)
    data_from(sketch, 12, length)


def broken_into(sketch: Sketch) -> None:
    """A loop that requests break into: a routine that keeps what it uses or does not, takes what
    the request brings or does not, and comes back in the right way or in a wrong one."""
    rng = sketch.rng
    routine = rng.randint(14, 18)
    sketch.add(InterruptCode.ENABLE, routine)
    sketch.add(Code.LOAD_NUMBER, rng.randint(1, 9))
    loop = sketch.here
    for _ in range(rng.randint(1, 5)):
        draw = rng.random()
        if draw < 0.2:
            sketch.add(rng.choice((InterruptCode.DISABLE, InterruptCode.ENABLE)), routine)
        elif draw < 0.4:
            sketch.add(rng.choice((StackCode.PUSH, StackCode.CALL)), loop)
        else:
            sketch.add(rng.choice((Code.ADD_NUMBER, Code.SUBTRACT, BitCode.SHIFT_NUMBER_LEFT)), 40)
    sketch.add(rng.choice((Code.JUMP, *CONDITIONAL_JUMPS)), loop)
    sketch.add(rng.choice((Code.HALT, Code.JUMP)), 255)
    while sketch.here < routine:
        sketch.add(Code.HALT)
    keeps = rng.random() < 0.6
    if keeps:
        sketch.add(StackCode.PUSH)
    sketch.add(rng.choice((Code.INPUT, Code.INPUT, Code.SUBTRACT_NUMBER)))
    sketch.add(rng.choice((Code.OUTPUT, Code.COMPARE_NUMBER, InterruptCode.ENABLE)), routine)
    if keeps:
        sketch.add(StackCode.POP)
    ways = (*[InterruptCode.RETURN_FROM_INTERRUPT] * 5, StackCode.RETURN, Code.HALT)
    sketch.add(rng.choice(ways))
    # A jump to the last word of memory, from where there is no next instruction.
    if rng.random() < 0.2:
        while sketch.room:
            sketch.add(Code.ADD_NUMBER, 1)


GROWN_SHAPES: tuple[Callable[[Sketch], None], ...] = (
    any_code,
    bits,
    list_walked,
    pointers,
    calls,
    deep,
    sum_inside,
    broken_into,
)


def generate_grown(seed: int, parts: frozenset[str] = EVERY_PART) -> Program:
    """Draw a program for the larger machine with these parts; seeds in a row go round the
    shapes."""
    rng = Random(seed)
    shape = GROWN_SHAPES[seed % len(GROWN_SHAPES)]
    sketch = Sketch("16-bit", rng)
    shape(sketch)
    inputs = tuple(sketch.number() for _ in range(rng.randint(0, 3)))
    requests: list[Asked] = []
    if "interrupts" in parts:
        times = [(rng.randint(0, 18), rng.randint(0, 12)) for _ in range(rng.randint(0, 4))]
        # Those that come with the last step of an instruction come after all others in it.
        times.sort(key=lambda each: (each[0], each[1] or 99))
        requests = [Asked(*each, sketch.number()) for each in times]
    words = tuple(sketch.words)
    return Program("16-bit", shape.__name__, words, inputs, parts, tuple(requests))
