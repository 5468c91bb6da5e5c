"""What if? A run from a step of the lesson on, with words, registers or the inputs changed, or
with a request that comes there."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from app.lesson.blocks.cache import in_words, read_cache
from app.lesson.entries import Wrong, choose
from app.lesson.model import Scene
from app.machine.characters import IN_QUOTES, QUOTES
from app.machine.machine import Machine
from app.machine.operations import Status
from app.machine.registers import Holds
from app.machine.run import Run
from app.machine.source.assembler import Program, assemble
from app.machine.state import State, field_of
from app.machine.telling.wording import USUAL, Wording
from app.machine.watching.cache import CacheShape
from app.machine.words import NotANumber, parse_number, show_word

INPUTS, REQUEST, CACHE = "input", "request", "cache"
LONGEST_VALUE = 200
MOST_CHANGES = 40


@dataclass(frozen=True, slots=True)
class Change:
    """One place as it was chosen: the tag of a register, the label or the address of a word, or
    ``input`` or ``request``; and the value that was typed for it."""

    place: str
    value: str


@dataclass(frozen=True, slots=True)
class WhatIf:
    """A run from ``step`` on in which some things are changed; ``said`` says which, empty for none.

    With a ``cache`` the same is watched by another one.
    ``left_at`` is the step where the lesson's own run was left, ``earlier`` what had been changed
    before that step.
    """

    step: int
    changes: tuple[Change, ...]
    run: Run
    said: str
    left_at: int
    earlier: WhatIf | None = None
    cache: CacheShape | None = None

    @property
    def words(self) -> str:
        """All that is changed, as a question, with its numbers in denary."""
        return self._as_question(self.said)

    def words_in(self, base: str, wording: Wording) -> str:
        """The same where the other numbers on the board are in a base, which may be another."""
        other = base in ("binary", "hexadecimal") and re.search(r"\d", self.said)
        return self._as_question(f"{self.said} in {wording.say('denary')}") if other else self.words

    def _as_question(self, said: str) -> str:
        cache = f"the cache had {in_words(self.cache)}" if self.cache else ""
        return f"What if {', and '.join(filter(None, (said, cache)))}?"


def what_if(scene: Scene, step: int, change: Change, now: WhatIf | None = None) -> WhatIf:
    """The run if, just after ``step``, the machine were changed; ``now`` is what has been
    changed already.

    Of two changes of one place the later counts. Raises Wrong where one cannot be made, and says
    how to mend it.
    """
    if change.place.strip().casefold() == CACHE and scene.cache is not None:
        return _other_cache(scene, step, change, now)
    changes: tuple[Change, ...] = (change,)
    earlier = now
    if now and now.step == step:
        changes = (*now.changes, change)
        earlier = now.earlier
    if len(changes) > MOST_CHANGES or _depth(earlier) >= MOST_CHANGES:
        raise Wrong("There are too many changes.", "Put them back, and start again.")
    run = earlier.run if earlier else scene.run
    changed, said = _changed(run, scene, step, changes)
    said = f"{earlier.said}, and then {said}" if earlier and earlier.said else said
    left_at = now.left_at if now else step
    return WhatIf(step, changes, changed, said, left_at, earlier, now.cache if now else None)


def _other_cache(scene: Scene, step: int, change: Change, now: WhatIf | None) -> WhatIf:
    """The same run with another cache, seen from its start; a run that has been changed, from
    where that was."""
    shape = read_cache(change.value)
    if shape is None or scene.cache is None:
        raise Wrong(
            "Without a cache there is nothing to see here.",
            "Write for example '1 line of 4 words'.",
        )
    shape = replace(shape, memory_ticks=scene.cache.memory_ticks)
    if now is None:
        return WhatIf(0, (), scene.run, "", step, None, shape)
    return replace(now, cache=shape)


def _depth(now: WhatIf | None) -> int:
    return 1 + _depth(now.earlier) if now else 0


def _changed(run: Run, scene: Scene, step: int, changes: Sequence[Change]) -> tuple[Run, str]:
    """The changed run, and what is changed in words."""
    machine, program = run.machine, scene.program
    inputs: tuple[int, ...] | None = None
    requests = [*run.requests]
    made: dict[str, int | Status] = {}
    said: dict[str, str] = {}
    for each in changes:
        text = each.value.replace("\N{MINUS SIGN}", "-").strip()
        if len(text) > LONGEST_VALUE:
            raise Wrong("That is too long.", "Write one number, or a few inputs.")
        place = _place(machine, program, each.place)
        if place == INPUTS:
            # A character in quotes may be a space or a comma.
            typed = re.findall(rf"{IN_QUOTES}|[^\s,]+", text)
            inputs = tuple(_word(machine, program, one) for one in typed)
            shown = ", ".join(show_word(machine, one, "denary") for one in inputs) or "none"
            said[place] = f"the next input{'s are' if len(inputs) > 1 else ' is'} {shown}"
        elif place == REQUEST:
            brought = _word(machine, program, text)
            requests.append(run.request(step, brought))
            said[f"{place} {len(requests)}"] = (
                f"a request comes with {show_word(machine, brought, 'denary')}"
            )
        else:
            made[place] = value = _value(machine, program, place, text)
            name = _name(scene, place)
            said[place] = f"{name} holds {_said(machine, place, value)}"

    def change(state: State) -> None:
        for place, value in made.items():
            _put(state, place, value)

    return run.changed(step, change, inputs, requests), " and ".join(said.values())


def places(program: Program, wording: Wording = USUAL) -> tuple[tuple[str, str], ...]:
    """What can be changed: each place with its name for the teacher, words with labels first."""
    machine, say = program.machine, wording.say
    registers = [(each.tag, say(f"{each.name} ({each.tag})")) for each in machine.registers]
    registers = [(tag, name.replace("status (status)", "status")) for tag, name in registers]
    labelled = [(str(at), f"{label} (address {at})") for at, label in program.labels.items()]
    others = [
        (str(at), f"address {at}") for at in range(machine.memory_words) if at not in program.labels
    ]
    inputs = [(INPUTS, "the next inputs")]
    inputs += [(REQUEST, "a request that comes now")] if machine.interrupt else []
    return (*registers, *labelled, *inputs, *others)


def _place(machine: Machine, program: Program, text: str) -> str:
    """A place by the name that the rest of this module knows: a tag, an address, or INPUTS."""
    name = text.strip()
    # A word may be labelled so, too; of that the page sends the address.
    if name == REQUEST and machine.interrupt:
        return REQUEST
    if name.isascii() and name.isdigit() and len(name) < 6:
        if int(name) < machine.memory_words:
            return str(int(name))
        raise Wrong(f"There is no address {name}.", f"The last is {machine.memory_words - 1}.")
    for register in machine.registers:
        names = (register.tag, register.name, register.short, *register.also)
        if name.casefold() in map(str.casefold, names):
            return register.tag
    address = program.address_of(name)
    if address is not None:
        return str(address)
    known = [INPUTS, REQUEST] if machine.interrupt else [INPUTS]
    return choose(name, known, "a register, a label, an address or the input")


def _name(scene: Scene, place: str) -> str:
    program = scene.program
    if place.isdigit():
        return program.labels.get(int(place), f"address {place}")
    return f"the {scene.wording.say(program.machine.register[place].name)}"


def _value(machine: Machine, program: Program, place: str, text: str) -> int | Status:
    holds = Holds.WORD if place.isdigit() else machine.register[place].holds
    match holds:
        case Holds.STATUS:
            return Status(choose(text, Status, "a status"))
        case Holds.ADDRESS:
            address = program.address_of(text)
            value = _number(text) if address is None else address
            # An empty stack has its pointer one past the last word.
            last = max(machine.memory_words - 1, machine.register[place].start)
            if not 0 <= value <= last:
                raise Wrong(f"There is no address {value}.", f"Write a number from 0 to {last}.")
            return value
        case Holds.SWITCH:
            return int(choose(text, ("on", "off"), "on or off").casefold() == "on")
        case Holds.BIT:
            return int(choose(text, ("0", "1"), "a bit"))
    return _word(machine, program, text)


def _number(text: str) -> int:
    try:
        return parse_number(text)
    except NotANumber as error:
        raise Wrong(error.what, error.mend) from error


def _word(machine: Machine, program: Program, text: str) -> int:
    """The pattern of a number in any base, or of an instruction (which may name a label)."""
    bits = re.sub(r"[\s_]", "", text)
    if re.fullmatch(r"[01]+", bits) and len(bits) == machine.word_bits:
        return int(bits, 2)
    if re.search(r"[;:\r\n]", re.sub(IN_QUOTES, "", text)) or not text:
        raise Wrong("That is not one value.", "Write one number, or one instruction.")
    first = text.split()[0]
    if first.upper() not in machine.names and not re.match(rf"[-+\d{QUOTES}]", first):
        raise Wrong(
            f"'{text}' is neither a number nor an instruction.", "Write a number such as 7."
        )
    addresses = {name.casefold(): at for at, name in program.labels.items()}
    named = [str(addresses.get(each.casefold(), each)) for each in text.split()]
    # A number stays as it was typed; only what comes after an instruction can be a label.
    assembled = assemble(machine, " ".join([first, *named[1:]]))
    if assembled.problems or len(assembled.words) != 1:
        problem = assembled.problems[0]
        raise Wrong(problem.what, problem.mend)
    return assembled.words[0]


def _said(machine: Machine, place: str, value: int | Status) -> str:
    if isinstance(value, Status):
        return value.value
    holds = Holds.WORD if place.isdigit() else machine.register[place].holds
    if holds is Holds.SWITCH:
        return "on" if value else "off"
    if holds is Holds.ADDRESS:
        return str(value)
    return show_word(machine, value, "denary")


def _put(state: State, place: str, value: int | Status) -> None:
    if place.isdigit():
        assert isinstance(value, int)
        state.memory[int(place)] = value
    elif name := field_of(place):
        setattr(state, name, value)
    else:
        assert isinstance(value, int)
        state.others[place] = value
