"""Numbers in words and figures: rounding to significant digits, thousands, millions, billions."""

from __future__ import annotations

from fractions import Fraction

# Short scale, as British schools use it.
_LARGE = (
    (10**12, "trillion"),
    (10**9, "billion"),
    (10**6, "million"),
)
_SUPERSCRIPTS = str.maketrans(
    "0123456789",
    "\N{SUPERSCRIPT ZERO}\N{SUPERSCRIPT ONE}\N{SUPERSCRIPT TWO}\N{SUPERSCRIPT THREE}"
    "\N{SUPERSCRIPT FOUR}\N{SUPERSCRIPT FIVE}\N{SUPERSCRIPT SIX}\N{SUPERSCRIPT SEVEN}"
    "\N{SUPERSCRIPT EIGHT}\N{SUPERSCRIPT NINE}",
)


def power_of_ten(value: Fraction) -> int:
    """The largest whole ``n`` with ``10**n <= value``, for a value more than 0."""
    guess = len(str(value.numerator)) - len(str(value.denominator))
    return guess if Fraction(10) ** guess <= value else guess - 1


def rounded(value: Fraction, digits: int) -> Fraction:
    """A value more than 0 rounded to so many significant digits (half to even)."""
    place = Fraction(10) ** (power_of_ten(value) - digits + 1)
    return round(value / place) * place


def write_number(value: Fraction) -> str:
    """A value that has a finite decimal, all of its digits, thousands set apart by commas.

    Raises ValueError for one such as a third.
    """
    places = 0
    scaled = value
    while scaled.denominator != 1:
        scaled *= 10
        places += 1
        if places > 100:
            raise ValueError(f"{value} has no finite decimal")
    whole, part = divmod(scaled.numerator, 10**places)
    return f"{whole:,}.{part:0{places}d}" if places else f"{whole:,}"


def in_words(value: Fraction, digits: int = 3) -> str:
    """A number as it is said, such as ``8,000`` or ``3.2 billion``, rounded to so many digits.

    Whole numbers under a million keep all their digits.
    """
    if value < 10**6 and value.denominator == 1:
        return write_number(value)
    near = rounded(value, digits)
    if near >= 10**15:
        power = power_of_ten(near)
        figures = write_number(near / Fraction(10) ** power)
        return f"{figures} \N{MULTIPLICATION SIGN} 10{str(power).translate(_SUPERSCRIPTS)}"
    for size, name in _LARGE:
        if near >= size:
            return f"{write_number(near / size)} {name}"
    return write_number(near)


def roughly(value: Fraction, digits: int = 3) -> str:
    """Like :func:`in_words`, with 'about' before it where digits were lost."""
    exact = value == rounded(value, digits) or (value < 10**6 and value.denominator == 1)
    return in_words(value, digits) if exact else f"about {in_words(value, digits)}"
