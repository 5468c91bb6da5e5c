"""What lengths and times are, as Pint has them."""

from __future__ import annotations

from fractions import Fraction
from functools import cache

from pint import UnitRegistry


@cache
def reference() -> UnitRegistry:
    """The registry of all units, read when it is first asked for: that takes a second, and what
    stands in a module is looked at by pytest in each of its processes."""
    return UnitRegistry(non_int_type=Fraction)
