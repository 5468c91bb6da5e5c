"""The movement of a frame: which values travel, on which routes, in which beat."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

from app.classroom.pace import step_beats
from app.machine.provenance import mdr_is_instruction
from app.machine.run import Moment
from app.machine.telling.reading import Reading
from app.machine.transfers import Carrier, Leg, Place

from .drawing import route_name
from .memory import Panes


@dataclass(frozen=True, slots=True)
class Moving:
    """One value on its way: the names of its routes in order, what it shows, and its beat. Without
    routes it is the bits in the ALU that move in this beat."""

    routes: tuple[str, ...]
    source: str
    target: str
    carrier: Carrier
    value: str
    beat: int


# Where these are not shown a value passes through; any other part not shown ends its lines.
_PASSED_THROUGH = frozenset({Place.MAR, Place.MDR})


def movement(
    reading: Reading, moments: Sequence[Moment], panes: Panes, hidden: Collection[str]
) -> tuple[Moving, ...]:
    """What moves over some steps, given the moment after each.

    ``panes`` are the memory words in sight. ``hidden`` are the parts that
    are not shown: nothing moves to or from them, but past a register of the buses a value goes
    on, so that two legs become one movement.
    """
    moving: list[Moving] = []
    beat = 0
    for moment in moments:
        assert moment.step is not None
        for legs in step_beats(moment.step):
            for leg in legs:
                if _in_sight(leg, hidden):
                    to_memory = Place.MEMORY in (leg.source, leg.target)
                    name = route_name(leg, panes.slot(moment.after.mar) if to_memory else 0)
                    carried = _carried(reading, leg, moment)
                    moving.append(
                        Moving((name,), leg.source, leg.target, leg.carrier, carried, beat)
                    )
            if not legs and Place.ALU not in hidden:
                moving.append(Moving((), Place.ALU, Place.ALU, Carrier.INSIDE, "", beat))
            beat += 1
    through = _PASSED_THROUGH & frozenset(hidden)
    return _through(moving, through) if through else tuple(moving)


def walk(columns: int) -> tuple[Moving, ...]:
    """The beats in which the opened ALU works its columns out, one after another."""
    return tuple(
        Moving((), Place.ALU, Place.ALU, Carrier.INSIDE, "", beat) for beat in range(columns)
    )


def _in_sight(leg: Leg, hidden: Collection[str]) -> bool:
    ends = {leg.source, leg.target}
    gone = any(str(place) in hidden for place in ends - _PASSED_THROUGH)
    on_hidden_bus = Place.MEMORY in ends and f"{leg.carrier} bus" in hidden
    # Without the panel there is no line past a register that is not shown.
    passed = any(str(place) in hidden for place in ends & _PASSED_THROUGH)
    return not gone and not on_hidden_bus and not (passed and "store" in hidden)


def _carried(reading: Reading, leg: Leg, moment: Moment) -> str:
    step = moment.step
    if leg.carrier is Carrier.CONTROL:
        return leg.carries
    if leg.carries == "result":
        return reading.term(step.kind.transfer.target, moment.after) if step else ""
    assert step
    # What comes from memory, from the input or from the ALU is in no register before the step, and
    # neither are the parts of a word that is taken apart.
    made = leg.source in (Place.MEMORY, Place.INPUT, Place.ALU) or step.kind.transfer.restores
    state = moment.after if made else moment.before
    fetched = mdr_is_instruction(reading.machine, state, step.kind, before=not made)
    return reading.term(leg.carries, state, fetched)


def _through(moving: list[Moving], hidden: Collection[str]) -> tuple[Moving, ...]:
    kept: list[Moving] = []
    for each in moving:
        before = next(
            (at for at in reversed(range(len(kept))) if kept[at].target is each.source), None
        )
        if each.source in hidden and before is not None:
            first = kept[before]
            kept[before] = replace(
                first,
                routes=first.routes + each.routes,
                target=each.target,
                # The bus is what the class should see of such a way.
                carrier=each.carrier if first.carrier is Carrier.INSIDE else first.carrier,
            )
        else:
            kept.append(each)
    beats = sorted({each.beat for each in kept})
    return tuple(replace(each, beat=beats.index(each.beat)) for each in kept)
