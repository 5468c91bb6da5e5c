"""The well-known misconceptions, computed: what each would answer, and the confusion behind it.

Every function gives candidates in order of likelihood as (text, reason); a candidate may equal
the answer or another one, which the caller leaves out.
"""

from __future__ import annotations

from collections.abc import Iterator

from app.machine.addressing import Operand
from app.machine.operations import Status, status_words
from app.machine.transfers import Transfer

from .facts import NO_COMPARISON, Facts
from .subjects import Ask

Candidate = tuple[str, str]

# How far from the answer the near numbers are.
_NEAR = (1, -1, 2, -2, 3, -3, 4, -4)


def candidates(ask: Ask, facts: Facts) -> Iterator[Candidate]:
    """Wrong answers to what is asked, the likelier first."""
    match ask.kind:
        case "ACC":
            yield from _accumulator(facts)
        case "PC":
            yield from _in_memory(facts, _counter(facts))
        case "MAR":
            yield from _in_memory(facts, _memory_address(facts))
        case "MDR":
            if facts.mdr_is_instruction:
                yield from _instructions(facts, facts.after.mdr)
            else:
                yield from _memory_data(facts)
        case "CIR":
            yield from _instructions(facts, facts.after.cir)
        case "status":
            yield from _status(facts)
        case "output":
            yield from _output(facts)
        case "jump":
            yield from _jump(facts)
        case "memory":
            yield from _memory(facts, facts.address(ask.target))


def _making(facts: Facts, target: str) -> Transfer | None:
    """The transfer of the instruction that makes a target, if the span changes it."""
    instruction = facts.instruction
    if instruction is None or facts.after.acc != facts.finish.acc:
        return None
    for transfer in instruction.transfers:
        if transfer.target == target and facts.span.last >= facts.finish.steps:
            return transfer
    return None


def _accumulator(facts: Facts) -> Iterator[Candidate]:
    operand, memory, before = facts.operand, facts.start.memory, facts.before.acc
    made = _making(facts, "ACC")

    def number(value: int) -> str:
        return facts.number(facts.machine.pattern(value))

    was = "This is the accumulator before, not after."
    if made is None:
        # The span leaves the accumulator alone.
        if facts.finish.acc != facts.after.acc:
            yield number(facts.finish.acc), "That comes later, when the instruction is executed."
        if facts.is_direct:
            yield number(memory[operand]), "This is stored in memory, not in the accumulator."
            yield number(operand), "This is an address, and it is not in the accumulator."
        yield number(facts.after.pc), "This is the program counter, not the accumulator."
        yield number(facts.word), "This is the instruction word, read as a number."
        return
    if made.left == "input":
        yield number(before), was
        yield (
            number(before + facts.after.acc),
            "An input replaces the accumulator; it is not added.",
        )
        inputs = facts.run.inputs
        if facts.after.taken < len(inputs):
            yield number(inputs[facts.after.taken]), "This input comes next, not now."
        yield number(facts.word), "This is the instruction word, read as a number."
        return
    if facts.is_direct:
        right, mistaken = memory[operand], operand
        confusion = f"{operand} is the address of the number, not the number stored there."
    else:
        right, mistaken = operand, memory[operand]
        confusion = f"{operand} is the number itself, not the address of a number."
    if made.operation and facts.after.overflow:
        signed = facts.machine.signed
        by = signed(right) if facts.is_direct else right
        full = (
            signed(before) + by
            if made.operation and made.operation.symbol == "+"
            else signed(before) - by
        )
        yield (
            f"\N{MINUS SIGN}{-full}" if full < 0 else str(full),
            f"This does not fit a word of {facts.machine.word_bits} bits, so it wraps round.",
        )
    if made.operation and made.operation.symbol == "-":
        yield number(right - before), "This takes the numbers away the wrong way round."
        yield number(before - mistaken), confusion
        yield number(before), was
        yield number(before + right), "This adds, but the instruction takes away."
    elif made.operation and made.operation.symbol == "+":
        yield number(before + mistaken), confusion
        yield number(before), was
        yield number(right), "This only copies the number; the instruction adds it."
        yield number(before - right), "This takes away, but the instruction adds."
    else:
        yield number(mistaken), confusion
        yield number(before), was
        yield number(before + right), "A load replaces the accumulator; it does not add to it."
    yield number(facts.word), "This is the instruction word, read as a number."


def _in_memory(facts: Facts, found: Iterator[tuple[int, str]]) -> Iterator[Candidate]:
    """The candidates that are addresses of this machine, as texts."""
    for address, reason in found:
        if 0 <= address < facts.machine.memory_words:
            yield str(address), reason


def _counter(facts: Facts) -> Iterator[tuple[int, str]]:
    start, before, after = facts.start.pc, facts.before.pc, facts.after.pc
    jump, instruction = facts.jump, facts.instruction
    if jump is not None and jump.value is None:
        yield facts.operand, f"{status_words(facts.after.status)}, so there is no jump."
    if jump is not None and jump.value is not None:
        yield start + 1, "This is the next address in line, but the jump leads elsewhere."
        yield (
            facts.start.memory[facts.operand],
            "A jump goes to the address itself, not to what is stored there.",
        )
        yield after + 1, "The counter moves on in the next fetch, not right after the jump."
    yield before, "The program counter stood here before; it has changed since."
    if instruction is not None and instruction.operand is Operand.ADDRESS and jump is None:
        what = "where the jump would lead" if instruction.jumps else "the address of the number"
        yield facts.operand, f"This is {what}, not where the next instruction stands."
    if facts.is_direct:
        yield (
            facts.start.memory[facts.operand],
            "This is a number stored in memory, not an address.",
        )
    yield start, "This instruction stands here; the counter has moved on already."
    yield start + 2, "The counter moves on once in each fetch, not twice."


def _memory_address(facts: Facts) -> Iterator[tuple[int, str]]:
    after = facts.after
    yield (
        facts.start.memory[after.mar],
        "This is what is stored at the address, not the address.",
    )
    yield after.pc, "This is the program counter, which points at the next instruction."
    yield facts.before.mar, "This is the memory address register before, not after."
    if facts.has_operand:
        yield facts.operand, "This is the operand, and it is not used as an address here."
    yield after.mar + 1, "The program counter moves on; the address register does not."


def _memory_data(facts: Facts) -> Iterator[Candidate]:
    after = facts.after
    yield str(after.mar), "This is the address, not what is stored there."
    yield facts.number(facts.before.mdr), "This is the memory data register before, not after."
    yield facts.number(after.acc), "This is the accumulator, not the memory data register."
    yield (
        facts.number(facts.start.memory[after.mar]),
        "This was stored there before it was written over.",
    )
    yield facts.number(facts.word), "This is the instruction word, read as a number."


def _instructions(facts: Facts, word: int) -> Iterator[Candidate]:
    """Other instructions than the one that a register holds."""
    start = facts.start.pc
    words = facts.program.words
    origins = facts.program.origins
    for address, reason in (
        (start + 1, "This one comes next; it has not been fetched yet."),
        (start - 1, "This one stands before it in memory."),
    ):
        if 0 <= address < len(words) and not origins[address].is_data:
            yield facts.written(words[address]), reason
    yield facts.written(facts.before.cir), "This one was there before."
    for address, origin in enumerate(origins):
        if not origin.is_data:
            yield facts.written(words[address]), f"This one stands at address {address}."
    code, operand = facts.machine.split(word)
    for other in facts.machine.by_code:
        changed = facts.machine.join((code + other) % len(facts.machine.by_code), operand)
        yield facts.written(changed), "The program has no such instruction."


def _status(facts: Facts) -> Iterator[Candidate]:
    true = facts.after.status
    instruction = facts.instruction
    compares = (
        instruction is not None
        and facts.span.last >= facts.finish.steps
        and any(each.uses_alu for each in instruction.transfers)
    )
    for each in Status:
        if true is None:
            reason = "Nothing has been compared yet, so there is no status."
        elif each is facts.before.status:
            reason = "This was the status before."
        elif not compares:
            reason = "Nothing is compared here, so the status stays as it was."
        elif Status.EQUAL in (each, true):
            reason = "EQUAL means that the two are the same number."
        else:
            reason = "This compares them the wrong way round: the accumulator comes first."
        yield each.value, reason
    if facts.before.status is None:
        yield NO_COMPARISON, "There was no status before, but this instruction compares."


def _output(facts: Facts) -> Iterator[Candidate]:
    before = facts.run.outputs(facts.before.sent)
    after = facts.run.outputs(facts.after.sent)
    acc = facts.after.acc
    pattern = facts.machine.pattern
    if before != after:
        yield facts.outputs(before), "This leaves out the number that is sent now."
        yield facts.outputs((*before, facts.word)), "This sends the instruction word as a number."
        if len(after) > 1:
            yield facts.outputs(after[-1:]), "The numbers sent before are still there."
            yield facts.outputs(after[::-1]), "The first number sent comes first."
    else:
        yield (
            facts.outputs((*after, acc)),
            "The accumulator is sent only when OUTPUT is executed.",
        )
        yield facts.outputs(after[:-1]), "A number that was sent stays sent."
        if facts.has_operand:
            yield facts.outputs((*after, facts.operand)), "This is the operand; it is not sent."
        yield facts.outputs((*after, facts.after.pc)), "The program counter is not sent."
    last = after[-1] if after else acc
    kept = after[:-1] if after else ()
    for by in (1, -1, 2, -2, 3, -3):
        yield facts.outputs((*kept, pattern(last + by))), _near(by)


def _memory(facts: Facts, address: int) -> Iterator[Candidate]:
    after, before = facts.after, facts.before
    yield str(address), "This is the address of the word, not what is stored there."
    yield facts.number(before.memory[address]), "This was stored there before."
    if facts.finish.memory[address] != after.memory[address]:
        yield (
            facts.number(facts.finish.memory[address]),
            "That comes later, at the end of the instruction.",
        )
    yield facts.number(after.acc), "This is the accumulator; it has not been stored there."
    yield facts.number(after.mdr), "This is the memory data register; it was not stored there."
    if address < len(facts.program.words):
        yield facts.number(facts.program.words[address]), "This was stored there at the start."


def _jump(facts: Facts) -> Iterator[Candidate]:
    jump = facts.jump
    if jump is None:
        return
    if jump.value is None:
        yield (
            jumping(facts, facts.operand),
            f"{status_words(facts.after.status)}, and this jump needs"
            f" {jump.kind.transfer.condition}.",
        )
    elif jump.kind.transfer.condition:
        yield (
            going_on(facts),
            f"{status_words(facts.after.status)}, which is what this jump asks for.",
        )
    else:
        yield going_on(facts), "This jump has no condition, so it is always taken."
    yield "The machine stops here.", "Only HALT stops the machine."
    yield (
        f"It waits at {facts.place(facts.start.pc)}.",
        "A jump never waits: it happens at once or not at all.",
    )
    if jump.value is not None:
        yield jumping(facts, 0), "A jump goes to the address in its operand, not to the start."


def jumping(facts: Facts, address: int) -> str:
    return f"It jumps to {facts.place(address)}."


def going_on(facts: Facts) -> str:
    return f"It does not jump and goes on to {facts.place(facts.start.pc + 1)}."


def near_numbers(ask: Ask, facts: Facts) -> Iterator[Candidate]:
    """Numbers near the answer, for when too few misconceptions differ from it."""
    state = facts.after
    if ask.kind in ("PC", "MAR"):
        address = state.pc if ask.kind == "PC" else state.mar
        yield from _in_memory(facts, ((address + by, _near(by)) for by in _NEAR))
    elif ask.kind in ("ACC", "MDR", "memory"):
        if ask.kind == "memory":
            value = state.memory[facts.address(ask.target)]
        else:
            value = state.acc if ask.kind == "ACC" else state.mdr
        for by in _NEAR:
            yield facts.number(facts.machine.pattern(value + by)), _near(by)


def _near(by: int) -> str:
    return f"This is {abs(by)} too {'many' if by > 0 else 'few'}; follow the steps once more."
