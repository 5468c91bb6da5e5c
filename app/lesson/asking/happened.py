"""What really happened to what is asked about: the sentence of the run that explains an answer."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

from app.machine.run import Moment
from app.machine.telling.narration import sentence

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
    if not facts.executed:
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
    return f"{when}, so {holder} still holds {value}."


def _told(subject: Subject, facts: Facts, made: Moment, hidden: Collection[str]) -> str:
    if facts.is_instruction(subject):
        here = facts.there(facts.start.pc)
        written = facts.written(facts.word)
        return f"The word at address {here} is fetched as an instruction: {written}."
    told = _sentence(facts, made, hidden)
    if subject.kind not in ("output", "sent"):
        return told
    # What is sent was made by an instruction before, and what was sent before that stays.
    sent = facts.run.outputs(made.before.sent)
    earlier = f" What was sent before stays: {facts.outputs(sent)}." if sent else ""
    number = facts.last_written(made)
    if number is None:
        return told + earlier
    return f"{_sentence(facts, number, hidden)} {told}{earlier}"


def _sentence(facts: Facts, made: Moment, hidden: Collection[str]) -> str:
    # The last step of a run that ends without HALT is told like any other.
    return sentence(facts.reading, replace(made, after=replace(made.after, ending=None)), 0, hidden)
