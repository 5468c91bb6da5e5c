"""How much faster work is on several cores, where a part of it cannot be shared.

With the share p that can be shared, n cores take (1 - p) + p / n of the time that one takes: G. M.
Amdahl, 'Validity of the single processor approach to achieving large scale computing capabilities',
AFIPS Spring Joint Computer Conference, 1967.
"""

from __future__ import annotations

from fractions import Fraction


def share_of_time(cores: int | Fraction, parallel: Fraction) -> Fraction:
    """The time on ``cores`` as a share of the time on one; a curve also asks between two whole
    numbers. ``parallel`` is the share of the work that can be shared, from 0 to 1. Raises
    ValueError for no core or another share."""
    if cores < 1 or not 0 <= parallel <= 1:
        raise ValueError("there is at least one core, and a share is from 0 to 1")
    return (1 - parallel) + parallel / cores


def times_faster(cores: int | Fraction, parallel: Fraction) -> Fraction:
    """How many times as fast it is as on one core."""
    return 1 / share_of_time(cores, parallel)


def never_beyond(parallel: Fraction) -> Fraction | None:
    """What it comes near to with ever more cores, and never reaches; None where there is no such
    end: where all of the work can be shared, or none, for then it is 1 with any number of them."""
    return None if parallel in (0, 1) else 1 / (1 - parallel)
