"""The control unit opened on the board: the opcode goes to the decoder, and the control lines of
the step are on. Which lines those are comes from the transfer (``app.machine.signals``).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from app.machine.instructions import Phase
from app.machine.provenance import word_decoded
from app.machine.run import Moment
from app.machine.signals import Group, every_line, lines_of
from app.machine.source.disassembler import decode
from app.machine.source.problems import listed
from app.machine.telling.reading import Reading
from app.machine.transfers import Place

MANY = 30


@dataclass(frozen=True, slots=True)
class ShownLine:
    """A control line, and whether it is on."""

    name: str
    on: bool


@dataclass(frozen=True, slots=True)
class OpenedControl:
    """The control unit at a step. ``opcode`` is empty, and so is ``instruction``, while nothing has
    been decoded; ``step`` counts the steps of this instruction."""

    opcode: str
    instruction: str
    step: int
    groups: tuple[tuple[str, tuple[ShownLine, ...]], ...]
    sentence: str
    walks: int = 1
    part: str = "signals"
    place: str = Place.CONTROL_UNIT

    @property
    def key(self) -> object:
        """Equal for two that show the same."""
        return self

    @property
    def is_many(self) -> bool:
        """Whether there are so many lines that they are written smaller."""
        return sum(len(lines) for _, lines in self.groups) > MANY


def opened_control(reading: Reading, moments: Sequence[Moment], number: int) -> OpenedControl:
    """The control unit over the steps that end at the last of these moments, which is the step of
    this ``number`` in its instruction."""
    machine, last = reading.machine, moments[-1]
    assert last.step is not None
    lit: dict[str, None] = {}
    for moment in moments:
        assert moment.step is not None
        transfer = moment.step.kind.transfer
        taken = moment.step.value is not None or transfer.condition is None
        lit |= dict.fromkeys(line.name for line in lines_of(transfer, taken))
    decoded = last.step.kind.phase is not Phase.FETCH
    word = word_decoded(machine, last.after, last.step.kind)
    instruction, _ = decode(machine, word) if decoded else (None, 0)
    say = reading.wording.say
    groups = tuple(
        (
            group.value,
            tuple(
                ShownLine(say(line.name), line.name in lit)
                for line in every_line(machine)
                if line.group is group
            ),
        )
        for group in Group
    )
    on = [say(each) for each in lit]
    are = "One control line is on" if len(on) == 1 else f"{len(on)} control lines are on"
    when = "in this step" if len(moments) == 1 else "in this phase, one step after another"
    return OpenedControl(
        reading.halves(word)[0] if decoded else "",
        instruction.written if instruction else "",
        number,
        tuple((title, lines) for title, lines in groups if lines),
        f"{are} {when}: {listed(on, 'and')}.",
    )
