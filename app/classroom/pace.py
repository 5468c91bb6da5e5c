"""How long a movement takes, in seconds: one truth for the clock and for the page."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from itertools import groupby, islice
from math import log10
from operator import itemgetter

from app.lesson.header import Depth
from app.machine.engine import Step
from app.machine.operations import BIT_OPERATIONS, Operation
from app.machine.run import Moment, Run
from app.machine.transfers import Leg
from app.machine.watching.cache import CacheAccount, Look

BEAT_SECONDS = 0.9
# A transfer of two beats (an address goes out, a value comes back) is a little longer, not twice.
BEAT_SECONDS_OF_TWO = 0.65
# While the ALU combines or moves bits, and nothing travels on a line.
BEATS_OF_BITS = 2
# What the opened ALU takes for a column, as the carry walks on.
COLUMN_SECONDS = 0.45
_BIT_BY_BIT = frozenset(each.symbol for each in BIT_OPERATIONS)
# What the eye needs to rest on the outcome before the next movement starts.
REST_SECONDS = 0.5
# What a sentence needs to be read where nothing moves.
READ_SECONDS = 4.0
# What a zoom takes for a power of ten, and a short one at least; and what the eye needs to rest on
# the station that it has come to.
DECADE_SECONDS = 1.1
FEWEST_DECADES = 0.6
STATION_SECONDS = 2.5


def step_beats(step: Step) -> tuple[tuple[Leg, ...], ...]:
    """What moved in a step, beat by beat; nothing in those in which bits move in the ALU."""
    transfer = step.kind.transfer
    taken = step.value is not None or transfer.condition is None
    beats = transfer.beats(taken)
    if bit_by_bit(transfer.operation):
        return (*beats[:1], *[()] * BEATS_OF_BITS, *beats[1:])
    return beats


def bit_by_bit(operation: Operation | None) -> bool:
    """Whether an operation is shown on the bits of a word, each by itself."""
    return operation is not None and operation.symbol in _BIT_BY_BIT


def moving_steps(moment: Moment, depth: Depth) -> tuple[Step, ...]:
    """The steps whose movement a moment shows: its own, or those of the whole phase."""
    if moment.step is None:
        return ()
    return moment.steps_of_phase if depth is Depth.PHASES else (moment.step,)


def beat_seconds(beats: int, speed: float) -> float:
    """How long each of so many beats takes."""
    return (BEAT_SECONDS if beats < 2 else BEAT_SECONDS_OF_TWO) / speed


def zoom_seconds(zoomed: Fraction) -> float:
    """How long a zoom takes at the usual speed, by how many times as wide the view was before."""
    return DECADE_SECONDS * max(abs(log10(zoomed)), FEWEST_DECADES) if zoomed != 1 else 0.0


def look_beats(look: Look) -> int:
    """What a look into a cache takes: a hit goes there and back, and a miss on to memory between; a
    write goes to memory, and where its line is in the cache by way of that."""
    if look.trip.writes:
        return 2 if look.hit else 1
    return 2 if look.hit else 4


def rest_seconds(
    moment: Moment | None,
    depth: Depth,
    speed: float,
    zoomed: Fraction | None = None,
    looks: Sequence[Look] = (),
) -> float:
    """How long playing waits at a moment before it goes on: its movement and a rest. ``zoomed`` is
    how many times as wide the view was before, at a station of a zoom; ``looks`` are those into a
    cache that is on the board."""
    if zoomed is not None:
        return (zoom_seconds(zoomed) + STATION_SECONDS) / speed
    if moment is None:
        return REST_SECONDS / speed
    return _movement_seconds(moving_steps(moment, depth), looks, speed) + REST_SECONDS / speed


def _movement_seconds(steps: Sequence[Step], looks: Sequence[Look], speed: float) -> float:
    """How long it takes until all has come that moves in these steps."""
    beats = sum(len(step_beats(each)) for each in steps)
    # Where there is a cache only its looks move; nothing is shorter there than it is without.
    return max(each * beat_seconds(each, speed) for each in (beats, sum(map(look_beats, looks))))


def seconds_per_step(
    run: Run, depth: Depth, speed: float, account: CacheAccount | None = None
) -> float:
    """How long one step takes on the board, on average over the start of a run that plays; with the
    ``account`` of a cache where one is on the board."""
    steps = [Step(*each) for each in islice(run.steps(), 400)]
    if not steps:
        return (BEAT_SECONDS + REST_SECONDS) / speed
    # What moves together rests once: a transfer, or all those of a phase.
    shown = [
        (each.cycle, each.kind.phase if depth is Depth.PHASES else each.number) for each in steps
    ]
    seconds = len(set(shown)) * REST_SECONDS / speed
    for _, group in groupby(zip(shown, steps, strict=True), key=itemgetter(0)):
        together = [each for _, each in group]
        looks = [look for each in together if account and (look := account.look(each.number))]
        seconds += _movement_seconds(together, looks, speed)
    return seconds / len(steps)
