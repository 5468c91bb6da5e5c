"""What the usual mix-ups answer to a question, each with the reason that clears it up.

Wrong answers come the likelier first: where two mix-ups give the same, the first
is the one that a person made. An answer may equal the true one, which the caller leaves out. What
only a coincidence would answer (a register that nobody would look at) is not given.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice

from app.machine.addressing import (
    COUNT,
    DIRECT,
    IMMEDIATE,
    INDIRECT,
    NEXT,
    NEXT_INDIRECT,
    WRITTEN,
    WRITTEN_INDIRECT,
)
from app.machine.instructions import Instruction
from app.machine.operations import (
    COMPARISONS,
    Operation,
    Status,
    status_shown,
)
from app.machine.registers import Holds
from app.machine.run import Moment
from app.machine.source.disassembler import decode
from app.machine.telling.reading import pattern_of, value_of
from app.machine.words import show_signed

from .facts import NO_COMPARISON, Facts, Value
from .happened import found
from .mixups import Misconception, Reason
from .serving import truth
from .subjects import SERVING, Subject

# Of the places where the same instruction stands.
MOST_PLACES = 3
# Of the other instructions of a program: a long one has hundreds, and choices may be none of them.
MOST_OTHERS = 64


def wrong_answers(subject: Subject, facts: Facts) -> Iterator[Misconception]:
    """Wrong answers to what is asked, the likelier first."""
    if facts.serves:
        yield from _kept(subject, facts)
        return
    match subject.kind:
        case "PC":
            yield from _counter(facts)
        case "MAR":
            yield from _memory_address(subject, facts)
        case "status":
            yield from _status(facts)
        case "output":
            yield from _output(facts)
        case "sent":
            yield from _sent(facts)
        case "jump":
            yield from _jump(facts)
        case "SP":
            yield from _stack_pointer(subject, facts)
        case "carry":
            yield from _carry(facts)
        case "interrupts":
            before = facts.held(subject, facts.before)
            yield Misconception(before, Reason.SWITCHED, {"said": str(before)})
        case _ if facts.is_instruction(subject):
            yield from _instructions(subject, facts)
        case _:
            yield from _number(subject, facts)


def _kept(subject: Subject, facts: Facts) -> Iterator[Misconception]:
    """While a request is served."""
    if subject.kind not in facts.machine.register and subject.kind != "memory":
        return
    before = facts.held(subject, facts.before)
    if subject.kind == "interrupts":
        yield Misconception(before, Reason.SWITCHED, {"said": str(before)})
    elif subject.kind == "PC":
        counter = facts.before.pc
        there = {"said": facts.there(counter), "value": facts.there(facts.after.pc)}
        yield Misconception(counter, Reason.ROUTINE_FIRST, there)
    else:
        yield from _held_before(subject, facts)
    if subject.kind == "SP":
        moved = facts.before.others["SP"], facts.after.others["SP"]
        there = {"before": facts.there(moved[0]), "value": facts.there(moved[1])}
        yield Misconception(moved[0] + 1, Reason.KEPT_BELOW, there)


def _number(subject: Subject, facts: Facts) -> Iterator[Misconception]:
    """A number in a register or in a word of memory."""
    made = facts.made(subject)
    if made is None:
        yield from _not_changed(subject, facts)
        return
    assert made.step
    transfer = made.step.kind.transfer
    if transfer.uses_alu:
        yield from _result(subject, facts, made)
    else:
        yield from _copied(subject, facts, made)
    yield from _one_too_far(subject, facts)


def _one_too_far(subject: Subject, facts: Facts) -> Iterator[Misconception]:
    """What the next instruction makes of it."""
    if not facts.executed or subject.kind in {each.target for each in facts.machine.fetch}:
        return
    following = facts.instruction_after
    if following is not None and following.made(subject):
        value = facts.held(subject, following.after)
        said = {"holder": facts.holder(subject), "said": facts.show(subject, value)}
        yield Misconception(value, Reason.ONE_TOO_FAR, said | {"name": following.name})


def _held_before(subject: Subject, facts: Facts) -> Iterator[Misconception]:
    value = facts.held(subject, facts.before)
    said, holder = facts.show(subject, value), facts.holder(subject)
    yield Misconception(value, Reason.HELD_BEFORE, {"holder": holder, "said": said})


def _not_changed(subject: Subject, facts: Facts) -> Iterator[Misconception]:
    """The span leaves what is asked about as it is."""
    machine, signed = facts.machine, facts.machine.signed
    instruction, holder = facts.instruction, facts.holder(subject)
    value = facts.held(subject, facts.after)
    kept = {"holder": holder, "name": facts.name, "value": facts.show(subject, value)}
    later = facts.held(subject, facts.finish)
    if later != value:
        yield Misconception(later, Reason.COMES_LATER, kept | {"said": facts.show(subject, later)})
    if instruction is None or not facts.executed:
        if subject.kind == "memory":
            yield from _not_in_memory(subject, facts, kept)
        return
    transfers = instruction.transfers
    operand, contents = facts.operand, 0
    trail = facts.trail(facts.finish.steps)
    if instruction.mode.reads and instruction.mode.value == "MDR" and trail:
        contents = signed(facts.start.memory[trail[-1]])
    elif facts.is_direct:
        contents = signed(facts.start.memory[operand])
    if subject.kind == "memory":
        acc = signed(facts.after.acc)
        at = facts.address(subject.target)
        if takes_off(instruction) and trail == [at]:
            yield Misconception(0, Reason.STILL_THERE, kept)
        if at != operand or instruction.mode is not DIRECT:
            yield from _not_in_memory(subject, facts, kept)
            return
        if instruction.operation is None:
            if transfers[-1].target == "ACC":
                yield Misconception(signed(facts.start.acc), Reason.LOAD_DIRECTION, kept)
            yield Misconception(0, Reason.COPY_EMPTIES, kept)
        elif not instruction.operation.compares:
            yield Misconception(acc, Reason.NOT_STORED, kept | {"said": facts.number(acc)})
        return
    compared = (each.left for each in transfers if each.operation and each.operation.compares)
    if subject.kind in compared:
        right = contents if instruction.mode.value == "MDR" else operand
        assert isinstance(value, int)
        difference = machine.pattern(value - right)
        two = kept | {"right": facts.number(right)}
        yield Misconception(signed(difference), Reason.COMPARING_TAKES, two)
        yield Misconception(right, Reason.COMPARING_COPIES, two)
    if any(each.left == subject.kind and not each.operation for each in transfers):
        # STORE and OUTPUT copy it to somewhere else.
        yield Misconception(0, Reason.COPY_EMPTIES, kept)
        if instruction.mode is WRITTEN and subject.kind == "ACC":
            yield Misconception(contents, Reason.STORE_DIRECTION, {"name": facts.name})
    if subject.kind == instruction.index:
        # The index has been added on the way to memory.
        yield Misconception(operand + facts.index, Reason.INDEX_KEPT, kept)
    if facts.is_direct:
        address = {"address": facts.there(operand), "name": facts.name, "holder": holder}
        yield Misconception(operand, Reason.ADDRESS_NOT_HELD, address)


def _not_in_memory(subject: Subject, facts: Facts, kept: dict[str, str]) -> Iterator[Misconception]:
    """What is taken for a word of memory that nothing touches: its address, and the accumulator."""
    address, acc = facts.address(subject.target), facts.machine.signed(facts.after.acc)
    there = kept | {"address": facts.there(address)}
    yield Misconception(address, Reason.ADDRESS_OF_WORD, there)
    yield Misconception(acc, Reason.NOT_STORED, kept | {"said": facts.number(acc)})


def _copied(subject: Subject, facts: Facts, made: Moment) -> Iterator[Misconception]:
    """The span copies a number into what is asked about."""
    assert made.step
    signed = facts.machine.signed
    transfer, instruction = made.step.kind.transfer, made.step.kind.instruction
    yield from _held_before(subject, facts)
    value = facts.held(subject, made.after)
    if subject.kind == "memory":
        address = facts.address(subject.target)
        said = {"address": facts.there(address)}
        yield Misconception(address, Reason.ADDRESS_OF_IT, said)
        if instruction and instruction.calls:
            here = {"said": facts.there(facts.start.pc), "value": facts.show(subject, value)}
            yield Misconception(facts.start.pc, Reason.CALL_ITSELF, here)
        yield _added(subject, facts, made)
        return
    assert isinstance(value, int)
    trail = facts.trail(made.step.number)
    if instruction and trail and transfer.left in ("memory[MAR]", "MDR", "ACC"):
        address = trail[-1]
        said = {"address": facts.there(address), "contents": facts.show(subject, value)}
        if transfer.left == "ACC" and not facts.is_direct:
            pass  # it is on its way to an address that was worked out, and no word of it is said
        elif transfer.left == "ACC" and not facts.executed:
            # It is not stored there yet.
            works = {"name": facts.name, "holder": facts.holder(subject)}
            yield Misconception(address, Reason.ADDRESS_NOT_HELD, said | works)
        elif len(trail) == 2:
            yield from _pointers(facts, trail, value)
        else:
            yield Misconception(address, Reason.ADDRESS, said)
        if transfer.left != "ACC" and instruction.index:
            yield from _without_index(facts, address)
    elif transfer.left == "PC":
        here = {"said": facts.there(facts.start.pc), "value": facts.there(value)}
        yield Misconception(facts.start.pc, Reason.CALL_ITSELF, here)
    elif transfer.left == "operand":
        contents = signed(facts.start.memory[facts.operand])
        here = {"operand": facts.there(facts.operand), "contents": facts.number(contents)}
        vector = subject.kind == "V"
        reason = Reason.ROUTINE_ITSELF if vector else Reason.NOT_AN_ADDRESS
        yield Misconception(contents, reason, here)
    register = facts.machine.register.get(subject.kind)
    if register and register.holds is Holds.WORD and register.tag in facts.machine.lasting:
        yield _added(subject, facts, made)
    if transfer.left == "input" and (to_come := facts.run.to_come(facts.after)):
        coming = signed(to_come[0])
        yield Misconception(coming, Reason.NEXT_INPUT, {"said": facts.number(coming)})


def _added(subject: Subject, facts: Facts, made: Moment) -> Misconception:
    """What a copy would make if it added to what was there."""
    machine = facts.machine
    before, value = facts.held(subject, facts.before), facts.held(subject, made.after)
    assert isinstance(before, int) and isinstance(value, int)
    said = {"name": facts.name, "holder": facts.holder(subject), "before": facts.number(before)}
    return Misconception(
        machine.signed(machine.pattern(before + value)), Reason.COPY_REPLACES, said
    )


def _result(subject: Subject, facts: Facts, made: Moment) -> Iterator[Misconception]:
    """The ALU makes what is asked about."""
    assert made.step and made.step.kind.instruction
    machine, signed = facts.machine, facts.machine.signed
    transfer, mode = made.step.kind.transfer, made.step.kind.instruction.mode
    operation = transfer.operation
    assert operation
    left, right = (
        value_of(facts.machine, term, made.before) for term in (transfer.left, transfer.right)
    )
    value = facts.held(subject, made.after)
    said = {
        "name": facts.name,
        "left": facts.number(left),
        "right": facts.number(right),
        "sign": operation.shown,
        "value": facts.show(subject, value),
        "verb": operation.verb,
    }

    def result(of: int, by: int, does: Operation = operation) -> int:
        return signed(does.result(machine, machine.pattern(of), machine.pattern(by)))

    yield from _held_before(subject, facts)
    trail = facts.trail(made.step.number)
    if mode.value == "MDR" and trail:
        address = trail[-1]
        stored = {"address": facts.there(address), "contents": facts.number(right)}
        terms = ((transfer.left, left), (transfer.right, right))
        of, by = (address if term == mode.value else number for term, number in terms)
        if len(trail) == 2:
            pointer = {"pointer": facts.there(address), "operand": facts.there(facts.operand)}
            yield Misconception(result(of, by), Reason.WORKED_WITH_POINTER, said | stored | pointer)
        else:
            yield Misconception(result(of, by), Reason.WORKED_WITH_ADDRESS, said | stored)
        if made.step.kind.instruction.index:
            for each in _without_index(facts, address):
                assert isinstance(each.value, int)
                yield Misconception(result(left, each.value), each.reason, each.facts)
    elif mode is IMMEDIATE:
        contents = signed(facts.start.memory[facts.operand])
        operand = {"operand": facts.there(facts.operand)}
        if contents:
            # With nought it comes to what was there before.
            yield Misconception(result(left, contents), Reason.NOT_AN_ADDRESS, operand)
    if operation.overflow:
        whole = operation.whole(left, right)
        if whole != value:
            wraps = said | {"said": facts.number(whole), "bits": str(machine.word_bits)}
            yield Misconception(whole, Reason.WRAPS, wraps)
        if result(right, left) != result(left, right):
            yield Misconception(result(right, left), Reason.ORDER, said)
    if mode is COUNT:
        yield from _shifted(operation, left, right & 15, machine.word_bits, said)
    elif operation.alone:
        yield Misconception(-left, Reason.NOT_NEGATIVE, said)
    elif transfer.left != transfer.right:
        yield Misconception(right, Reason.PART, said)
    if other := machine.operations.get(operation.mixed_up):
        mixed_up = result(left, right, other)
        yield Misconception(mixed_up, Reason.OPERATION, said | {"other": other.did})


def _shifted(
    operation: Operation, left: int, count: int, bits: int, said: dict[str, str]
) -> Iterator[Misconception]:
    """What a shift would give if it always doubled or halved the number."""
    if operation.symbol == "shifted left by":
        whole = left << count
        least, most = -(1 << bits - 1), (1 << bits - 1) - 1
        fits = {"said": show_signed(whole), "least": show_signed(least), "most": show_signed(most)}
        yield Misconception(whole, Reason.SHIFT_DOUBLES, said | fits)
    elif operation.symbol == "shifted right by":
        yield Misconception(left >> count, Reason.SHIFT_LOSES_SIGN, said)


def takes_off(instruction: Instruction) -> bool:
    """Whether it takes the top of the stack off."""
    return any(each.unconditional == "SP <- SP + 1" for each in instruction.transfers)


def _pointers(facts: Facts, trail: list[int], value: int) -> Iterator[Misconception]:
    """The operand leads to an address, and that to the value: who stops on the way."""
    said = {
        "said": facts.there(trail[1]),
        "operand": facts.there(trail[0]),
        "contents": facts.number(value),
    }
    yield Misconception(trail[1], Reason.POINTER, said)
    where = {"said": facts.there(trail[0]), "value": facts.there(trail[1])}
    yield Misconception(trail[0], Reason.ONLY_WHERE, where)


def _without_index(facts: Facts, address: int) -> Iterator[Misconception]:
    """What is stored at the operand itself, where the index should have been added."""
    contents = facts.machine.signed(facts.start.memory[facts.operand])
    said = {
        "operand": facts.there(facts.operand),
        "index": facts.number(facts.index),
        "address": facts.there(address),
    }
    yield Misconception(contents, Reason.INDEX_LEFT_OUT, said)


def _in_memory(facts: Facts, found: Iterator[Misconception]) -> Iterator[Misconception]:
    """The wrong answers that are addresses of this machine."""
    for each in found:
        if isinstance(each.value, int) and 0 <= each.value < facts.machine.memory_words:
            yield each


def _counter(facts: Facts) -> Iterator[Misconception]:
    yield from _in_memory(facts, _counters(facts))


def _counters(facts: Facts) -> Iterator[Misconception]:
    start, value = facts.start.pc, facts.after.pc
    jump, instruction = facts.jump, facts.instruction
    here = {"name": facts.name, "value": facts.there(value), "said": facts.there(start)}
    made = facts.made(Subject("PC"))
    if jump is not None and jump.value is None:
        needs = found(facts, jump)
        yield Misconception(facts.operand, Reason.JUMP_TAKEN, here | needs)
    elif jump is not None:
        following = here | {"said": facts.there(start + 1)}
        assert instruction
        if instruction.returns:
            yield from _returned(facts, following)
        elif instruction.calls:
            yield Misconception(start + 1, Reason.CALL_KEEPS, following)
        elif jump.kind.transfer.condition:
            following |= found(facts, jump)
            yield Misconception(start + 1, Reason.JUMP_NOT_TAKEN, following)
        else:
            yield Misconception(start + 1, Reason.JUMP_ALWAYS, following)
        if instruction.mode is NEXT and instruction.jumps:
            contents = facts.machine.signed(facts.start.memory[facts.operand])
            stored = {"contents": facts.number(contents), "address": facts.there(facts.operand)}
            yield Misconception(contents, Reason.JUMP_TO_ADDRESS, stored)
        elif not instruction.returns:
            yield from _operand_alone(facts, value)
        yield Misconception(start, Reason.JUMP_HERE, here)
        if instruction.jumps:
            yield Misconception(value + 1, Reason.COUNTER_AFTER_JUMP, here)
        return
    elif made is not None:
        # A fetch has moved it on.
        yield from _held_before(Subject("PC"), facts)
    if value == start and made is None:
        yield Misconception(start + 1, Reason.COUNTER_STILL, here)
    else:
        yield Misconception(start, Reason.COUNTER_HERE, here)
        yield Misconception(value + 1, Reason.COUNTER_ONCE, here)
    if not facts.executed and instruction is not None and instruction.moves_counter:
        later = here | {"said": facts.there(facts.finish.pc), "holder": "the program counter"}
        yield Misconception(facts.finish.pc, Reason.COMES_LATER, later)
    if instruction is not None and facts.is_direct:
        operand = {"said": facts.there(facts.operand), "name": facts.name}
        yield Misconception(facts.operand, Reason.OPERAND_FOR_NEXT, operand)


def _returned(facts: Facts, following: dict[str, str]) -> Iterator[Misconception]:
    """Where a return is thought to go: to the CALL itself, or just on."""
    value = facts.after.pc
    assert facts.instruction
    if facts.instruction.restores:
        yield Misconception(facts.start.pc + 1, Reason.BROKE_IN, following)
        vector = facts.start.others["V"]
        routine = following | {"said": facts.there(vector)}
        yield Misconception(vector, Reason.NOT_THE_VECTOR, routine)
        return
    caller = decode(facts.machine, facts.start.memory[value - 1])[0] if value else None
    if caller and caller.calls:
        said = following | {"said": facts.there(value - 1)}
        yield Misconception(value - 1, Reason.CALL_ITSELF, said)
    yield Misconception(facts.start.pc + 1, Reason.COMES_BACK, following)


def _operand_alone(facts: Facts, value: int) -> Iterator[Misconception]:
    """The operand as the address, where it only leads to the address ``value``."""
    said = {"said": facts.there(facts.operand), "value": facts.there(value)}
    instruction = facts.instruction
    if instruction and instruction.index:
        index = said | {"index": facts.number(facts.index)}
        yield Misconception(facts.operand, Reason.OPERAND_ALONE, index)
    elif instruction and instruction.mode in (INDIRECT, WRITTEN_INDIRECT, NEXT_INDIRECT):
        yield Misconception(facts.operand, Reason.ONLY_WHERE, said)


def _stack_pointer(subject: Subject, facts: Facts) -> Iterator[Misconception]:
    made = facts.made(subject)
    if made is None or made.step is None:
        return
    yield from _held_before(subject, facts)
    before, value = made.before.others["SP"], made.after.others["SP"]
    said = {"name": facts.name, "before": facts.there(before), "value": facts.there(value)}
    off = value > before
    said |= {
        "does": "takes a word off" if off else "puts a word on",
        "way": "up" if off else "down",
    }
    other = 2 * before - value
    if 0 <= other <= facts.machine.memory_words:
        yield Misconception(other, Reason.GROWS_DOWN, said)


def _carry(facts: Facts) -> Iterator[Misconception]:
    machine = facts.machine
    value = facts.after.others["carry"]
    other = 1 - value
    made = facts.made(Subject("carry"))
    told = {"name": facts.name, "value": str(value)}
    if facts.restored:
        yield Misconception(other, Reason.CARRY_BACK, told)
        return
    if made is None or made.step is None:
        reason = Reason.CARRY_STAYS if facts.executed else Reason.CARRY_LATER
        yield Misconception(other, reason, told)
        return
    transfer = made.step.kind.transfer
    operation = transfer.operation
    assert operation
    left, right = (
        pattern_of(machine, term, made.before) for term in (transfer.left, transfer.right)
    )
    told |= {"left": str(left), "right": str(right), "most": str(machine.word_mask)}
    if operation.symbol == "+":
        yield Misconception(other, Reason.CARRY_OF_SUM, told | {"full": str(left + right)})
    elif operation.symbol == "-":
        compares = "is more than" if right > left else "is not more than"
        yield Misconception(other, Reason.CARRY_OF_DIFFERENCE, told | {"compares": compares})
    else:
        yield Misconception(other, Reason.CARRY_OF_SHIFT, told)


def _memory_address(subject: Subject, facts: Facts) -> Iterator[Misconception]:
    yield from _in_memory(facts, _memory_addresses(subject, facts))


def _memory_addresses(subject: Subject, facts: Facts) -> Iterator[Misconception]:
    value = facts.after.mar
    contents = facts.machine.signed(facts.after.memory[value])
    stored = {"contents": facts.number(contents), "address": facts.there(value)}
    made = facts.made(subject)
    if made and made.step and made.step.kind.transfer.left == "PC":
        yield Misconception(
            made.before.pc + 1, Reason.COUNTER_NOT_YET, {"value": facts.there(value)}
        )
    else:
        yield Misconception(contents, Reason.ADDRESS_ITSELF, stored)
        if made and made.step and made.step.kind.transfer.terms != ("operand",):
            yield from _operand_alone(facts, value)
    if made:
        yield from _held_before(subject, facts)


def _instructions(subject: Subject, facts: Facts) -> Iterator[Misconception]:
    """Other instructions than the one that a register holds."""
    held = facts.held(subject, facts.after)
    assert isinstance(held, int)
    here, origins = facts.start.pc, facts.program.origins
    yield from _with_index(facts, held)
    words = facts.after.memory[: len(origins)]
    if here < len(words) and facts.program.words[here] != facts.word:
        stood = {"address": facts.there(here)}
        yield Misconception(facts.program.words[here], Reason.WRITTEN_OVER, stood)
    # (In the order of their addresses; most of a memory is instructions, so this is done tightly.)
    word = facts.word
    places: dict[int, list[int]] = {}
    for address, (origin, stored) in enumerate(zip(origins, words, strict=True)):
        if stored != word and not origin.is_data and address != here:
            places.setdefault(stored, []).append(address)

    def stands(word: int) -> Iterator[Misconception]:
        at = places.get(word)
        if at:
            shown = " and ".join(facts.there(each) for each in at[:MOST_PLACES])
            said = {"places": f"address{'es' if len(at) > 1 else ''} {shown}"}
            said["here"] = facts.there(here)
            yield Misconception(word, Reason.STANDS_ELSEWHERE, said)

    if here + 1 < len(words) and not origins[here + 1].is_data:
        yield from stands(words[here + 1])
    before = facts.before
    if facts.start.cycles and facts.made(subject) and before.held(subject.kind) == before.cir:
        yield Misconception(before.cir, Reason.FETCHED_BEFORE)
    if 0 < here <= len(words) and not origins[here - 1].is_data:
        yield from stands(words[here - 1])
    for word in islice(places, MOST_OTHERS):
        yield from stands(word)
    opcode, operand = facts.machine.split(held)
    for code in sorted(
        facts.machine.by_code, key=lambda each: (each - opcode) % (1 << facts.machine.opcode_bits)
    ):
        made_up = facts.machine.join(code, operand)
        if made_up not in words:
            yield Misconception(made_up, Reason.NO_SUCH_INSTRUCTION)


def _with_index(facts: Facts, held: int) -> Iterator[Misconception]:
    """The instruction as it would be if the index were added to its operand for good."""
    instruction, operand = decode(facts.machine, held)
    there = operand + facts.index
    arrived = held == facts.word
    if instruction and arrived and instruction.index and 0 <= there <= facts.machine.operand_mask:
        said = {"operand": facts.there(operand)}
        yield Misconception(
            facts.machine.join(instruction.code, there), Reason.INDEX_NOT_IN_WORD, said
        )


def _status(facts: Facts) -> Iterator[Misconception]:
    true = facts.after.status
    made = facts.made(Subject("status"))
    for each in Status:
        if each is not true:
            yield _wrong_status(each, facts, made)
    if true is not None and facts.before.status is None:
        becomes = {"name": facts.name, "value": true.value}
        yield Misconception(NO_COMPARISON, Reason.STATUS_SET, becomes)


def _wrong_status(said: Status, facts: Facts, made: Moment | None) -> Misconception:
    true = facts.after.status
    if facts.restored:
        return Misconception(said.value, Reason.STATUS_BACK, {"value": status_shown(true)})
    if made is None or made.step is None:
        if not facts.executed:
            return Misconception(said.value, Reason.STATUS_LATER)
        if true is None:
            return Misconception(said.value, Reason.NO_STATUS_YET)
        stays = {"name": facts.name, "value": true.value}
        return Misconception(said.value, Reason.STATUS_STAYS, stays)
    transfer = made.step.kind.transfer
    assert true and transfer.operation
    compares = COMPARISONS[true][0]
    if not transfer.operation.compares:
        result = facts.reading.term(transfer.target, made.after)
        shown = {"name": facts.name, "value": result, "compares": compares}
        return Misconception(said.value, Reason.STATUS_OF_RESULT, shown)
    left, right = (
        value_of(facts.machine, term, made.before) for term in (transfer.left, transfer.right)
    )
    two = {"left": facts.number(left), "right": facts.number(right), "compares": compares}
    two["Holder"] = f"The {facts.machine.register[transfer.left].name}"
    if true is Status.EQUAL:
        return Misconception(said.value, Reason.ARE_EQUAL, two)
    if said is Status.EQUAL:
        return Misconception(said.value, Reason.NOT_EQUAL, two)
    return Misconception(said.value, Reason.WRONG_WAY_ROUND, two)


def _output(facts: Facts) -> Iterator[Misconception]:
    before, after = facts.sent(facts.before), facts.sent(facts.after)
    # Of very many the first are not known here.
    backwards = after[::-1] if facts.after.sent == len(after) else ()
    if facts.before.sent != facts.after.sent:
        sent = {"value": facts.reading.number(after[-1]), "name": facts.name}
        yield Misconception(before, Reason.LEFT_OUT, sent)
        if len(after) > 1:
            earlier = {"earlier": facts.outputs(before)}
            yield Misconception(after[-1:], Reason.SENT_STAYS, earlier)
            if backwards:
                yield Misconception(backwards, Reason.SENT_IN_ORDER)
        return
    acc = {"acc": facts.reading.number(facts.after.acc)}
    yield Misconception((*after, facts.after.acc), Reason.NOT_SENT, acc)
    if len(after) > 1:
        yield Misconception(after[-1:], Reason.SENT_STAYS, {"earlier": facts.outputs(after[:-1])})
        if backwards:
            yield Misconception(backwards, Reason.SENT_IN_ORDER)


def _sent(facts: Facts) -> Iterator[Misconception]:
    before, after = facts.sent(facts.before), facts.sent(facts.after)
    if before and facts.before.sent != facts.after.sent:
        last, now = facts.reading.number(before[-1]), facts.reading.number(after[-1])
        said = {"said": last, "value": now}
        yield Misconception(facts.machine.signed(before[-1]), Reason.SENT_BEFORE, said)


def _jump(facts: Facts) -> Iterator[Misconception]:
    jump, instruction = facts.jump, facts.instruction
    if jump is None or instruction is None or not instruction.jumps:
        return
    condition = jump.kind.transfer.condition
    status = found(facts, jump)
    if jump.value is None:
        yield Misconception(jumping(facts, facts.operand), Reason.IT_DOES_NOT_JUMP, status)
    elif condition:
        yield Misconception(going_on(facts), Reason.IT_JUMPS, status)
    else:
        yield Misconception(going_on(facts), Reason.IT_ALWAYS_JUMPS, {"name": facts.name})
    start = Misconception(
        jumping(facts, 0), Reason.NOT_TO_THE_START, {"operand": facts.there(facts.operand)}
    )
    if jump.value is not None and instruction.mode is NEXT and facts.operand < facts.start.pc:
        # Of a jump back it is said that it starts again.
        yield start
    stops = _stopping(facts)
    if stops.reason is Reason.NOT_YET_STOPPED:
        yield stops
    if condition:
        # That both ways are carried out is a mix-up of beginners that is well known.
        yield Misconception(BOTH_WAYS, Reason.ONE_WAY, {"value": facts.place(facts.finish.pc)})
    yield stops
    if jump.value is not None and instruction.mode is NEXT:
        yield start
        if facts.operand + 1 < facts.machine.memory_words:
            here = {"value": facts.there(facts.operand)}
            after = jumping(facts, facts.operand + 1)
            yield Misconception(after, Reason.COUNTER_AFTER_JUMP, here)


BOTH_WAYS = "It goes both ways, one after the other."


def _stopping(facts: Facts) -> Misconception:
    """That the machine stops at a jump."""
    stops = "The machine stops here."
    following = facts.instruction_after
    if following and following.instruction and following.instruction.halts:
        goes_on = {"value": facts.place(facts.finish.pc), "stops": following.name}
        return Misconception(stops, Reason.NOT_YET_STOPPED, goes_on)
    return Misconception(stops, Reason.NOTHING_STOPS, {"value": facts.place(facts.finish.pc)})


def jumping(facts: Facts, address: int) -> str:
    return f"It jumps to {facts.place(address)}."


def going_on(facts: Facts) -> str:
    return f"It does not jump and goes on to {facts.place(facts.start.pc + 1)}."


# How far from the answer the near numbers are.
_NEAR = (1, -1, 2, -2, 3, -3, 4, -4)


def near_answers(subject: Subject, facts: Facts) -> Iterator[Value]:
    """What is near the answer, for when too few mix-ups differ from it: other numbers, the other
    things that a mark can say, other instructions of the program. No mix-up stands behind them."""
    machine = facts.machine
    if subject.kind in SERVING:
        truth_of = truth(subject.kind, facts)
        if isinstance(truth_of, int):
            yield from (truth_of + by for by in _NEAR if 0 <= truth_of + by < machine.memory_words)
        return
    value = None if subject.kind == "jump" else facts.held(subject, facts.after)
    register = machine.register.get(subject.kind)
    if register and register.holds is Holds.BIT:
        yield from (0, 1)  # it can hold nothing else
    elif register and register.holds is Holds.SWITCH:
        yield from ("on", "off")
    elif subject.kind == "status":
        yield from (each.value for each in Status)
    elif facts.is_instruction(subject):
        program = facts.program
        yield from (
            word
            for word, origin in zip(program.words, program.origins, strict=True)
            if not origin.is_data
        )
    elif isinstance(value, tuple):
        last = machine.signed(value[-1] if value else facts.after.acc)
        for by in _NEAR:
            if machine.smallest <= last + by <= machine.largest:
                yield (*value[:-1], machine.pattern(last + by))
    elif isinstance(value, int):
        unsigned = facts.is_pattern(subject)
        smallest = 0 if unsigned else machine.smallest
        largest = machine.memory_words - 1 if unsigned else machine.largest
        yield from (value + by for by in _NEAR if smallest <= value + by <= largest)
