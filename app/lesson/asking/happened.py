"""What really happened to what is asked about: the sentence of the run that explains an answer."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

from app.machine.engine import Step
from app.machine.operations import COMPARISONS, Mark, condition_shown, mark_words, status_words
from app.machine.run import Moment
from app.machine.source.disassembler import decode
from app.machine.state import MARKS
from app.machine.telling.narration import sentence
from app.machine.telling.reading import value_of

from .facts import NO_COMPARISON, Facts
from .subjects import Subject


def what_happened(subject: Subject, facts: Facts, hidden: Collection[str] = frozenset()) -> str:
    """Why the answer to a question is what it is, in sentences that the run bears out. Of a
    status that is ``hidden`` nothing is said that was not asked."""
    made = facts.made(subject)
    jump = facts.jump if subject.kind == "PC" else None
    if made is None and jump is not None and jump.value is not None:
        made = facts.run.moment(jump.number)  # a RETURN goes back before its last step
    if made is not None:
        return _told(subject, facts, made, hidden if subject.kind != "status" else frozenset())
    value = facts.show(subject, facts.held(subject, facts.after))
    holder = facts.holder(subject)
    # A word such as HALT with something in its right half is written as a number.
    written = facts.written(facts.word)
    written = written if written[0].isalpha() else facts.name
    fetched = {each.target for each in facts.machine.fetch} - {"PC"}
    if subject.kind in fetched:
        return f"Nothing here changes it, so {holder} still holds {value}."
    if facts.restored and facts.jump and subject.kind in facts.jump.kind.transfer.targets:
        return f"{written} has brought it back from the stack: it is {value}."
    # Only where that would change it: else it would seem as if it did.
    if not facts.executed and facts.comes(subject):
        when = f"{written} has not been executed yet"
    elif subject.kind == "PC":
        return f"The program counter moved on in the fetch: it has held {value} since then."
    else:
        when = f"{written} does not change it"
    if subject.kind == "status":
        status = "there is no status yet" if value == NO_COMPARISON else f"the status stays {value}"
        return f"{when.replace('change it', 'set the status')}, so {status}."
    if subject.kind in ("output", "sent"):
        when = when.replace("does not change it", "sends nothing to the output")
        return f"{when}, so what was sent is still: {value}."
    if subject.kind == "interrupts":
        return f"{when}, so interrupts are still {value}."
    return f"{when}, so {holder} still holds {value}."


def _told(subject: Subject, facts: Facts, made: Moment, hidden: Collection[str]) -> str:
    if facts.is_instruction(subject):
        here = facts.there(facts.start.pc)
        written = facts.written(facts.word)
        return (
            f"The program counter held {here}, so the word at address {here} is fetched as an"
            f" instruction: {written}."
        )
    assert made.step
    if made.step.kind.transfer.condition:
        return _jump(facts, made)
    if subject.kind == "status":
        return _status(facts, made)
    told = _copied(subject, facts, made) or _sentence(facts, made, hidden)
    if subject.kind not in ("output", "sent"):
        return told
    # What is sent was made by an instruction before, and what was sent before that stays.
    sent = facts.sent(made.before)
    earlier = f" What was sent before stays: {facts.outputs(sent)}." if sent else ""
    number = facts.last_written(made)
    if number is None:
        return told + earlier
    return f"{_sentence(facts, number, hidden)} {told}{earlier}"


def _jump(facts: Facts, made: Moment) -> str:
    """Why a conditional jump goes where it goes."""
    assert made.step
    there, words = facts.place(made.after.pc), found(facts, made.step)
    if made.step.value is None:
        return f"{words['status']}. This jump needs {words['condition']}, so it goes on to {there}."
    return f"{words['status']}. That is what this jump needs, so it jumps to {there}."


def found(facts: Facts, jump: Step) -> dict[str, str]:
    """What a jump has found, and what it needs (empty for nothing), as words of a sentence."""
    condition = jump.kind.transfer.condition
    if isinstance(condition, Mark):
        before = facts.run.moment(jump.number).before
        status = mark_words(condition, bool(before.held(MARKS[condition])))
    else:
        status = why_status(facts)
    return {"status": status, "condition": condition_shown(condition) if condition else ""}


def why_status(facts: Facts) -> str:
    """The status that a jump finds, and where it is from: the start of a sentence."""
    status = facts.after.status
    plain = status_words(status)
    made, just_before = facts.compared, facts.instruction_before
    if just_before is None or (made is None and status is not None):
        return plain
    if made is None:
        return f"{just_before.name} does not set the status: {plain[0].lower()}{plain[1:]}"
    assert made.step
    transfer = made.step.kind.transfer
    if transfer.restores:
        # The routine may have compared: what is brought back is then that there is none yet.
        back = f"{plain[0].lower()}{plain[1:]}" if status else "there is no status yet"
        return f"The RETURN has brought the status back: {back}"
    assert status
    setter = decode(facts.machine, made.after.cir)[0]
    assert setter and transfer.operation
    if transfer.operation.compares:
        left, right = (
            facts.number(value_of(facts.machine, each, made.before))
            for each in (transfer.left, transfer.right)
        )
        found = f"{left} {COMPARISONS[status][0]} {right}"
        came = f"{setter.name} found that {found}"
    else:
        result = facts.reading.term(transfer.target, made.after)
        found = f"The result, {result}, {COMPARISONS[status][0]} 0"
        came = f"{setter.name} made {result}"
    if made.step.number < just_before.span.first:
        stays = f"{just_before.name} does not set the status"
        return f"{stays}: it is still {status.value}, because {came}"
    return f"{found}, so {plain[0].lower()}{plain[1:]}"


def _status(facts: Facts, made: Moment) -> str:
    """Why a status is set as it is: of a sum its result is compared with 0."""
    assert made.step
    transfer, status = made.step.kind.transfer, made.after.status
    if transfer.restores or status is None or transfer.target == "status":
        return _sentence(facts, made, frozenset())
    result = facts.reading.term(transfer.target, made.after)
    told = _sentence(facts, made, frozenset({"status"}))
    found = f"{result} {COMPARISONS[status][0]} 0"
    return f"{told} {found}, so the status becomes {status.value}."


def _copied(subject: Subject, facts: Facts, made: Moment) -> str:
    """Where a number was that a whole instruction copies from memory or to it; empty where none
    is copied so."""
    assert made.step
    transfer, instruction = made.step.kind.transfer, made.step.kind.instruction
    if instruction is None or transfer.operation or transfer.left != "MDR" or transfer.restores:
        return ""
    # Which way a jump goes is what the program counter holds.
    subject = Subject("PC") if subject.kind == "jump" else subject
    number, there = (
        facts.show(subject, facts.held(subject, made.after)),
        facts.place(made.before.mar),
    )
    if subject.kind == "memory":
        # Before it, an indirect one brings the address.
        sources = [each.left for each in instruction.transfers if each.target == "MDR"]
        source = facts.machine.register.get(sources[-1])
        if source is None:
            return ""
        return f"{number} is in the {source.name}, and {facts.name} copies it to {there}."
    register = facts.machine.register[transfer.target]
    return f"{number} is stored at {there}, and {facts.name} copies it to the {register.name}."


def _sentence(facts: Facts, made: Moment, hidden: Collection[str]) -> str:
    # The last step of a run that ends without HALT is told like any other.
    return sentence(facts.reading, replace(made, after=replace(made.after, ending=None)), 0, hidden)
