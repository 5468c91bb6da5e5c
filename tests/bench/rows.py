"""A row of the table of figures."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Row:
    """What was measured, what was to be reached and what was found. ``reached`` is None where
    nothing is to be reached, or where it cannot be told here."""

    what: str
    reach: str
    found: str
    reached: bool | None = None

    def cells(self) -> tuple[str, str, str, str]:
        verdict = {True: "yes", False: "NO", None: ""}[self.reached]
        return self.what, self.reach, self.found, verdict


def percentile(values: list[float], share: float) -> float:
    """The value that this share of the values does not pass."""
    return sorted(values)[min(int(len(values) * share), len(values) - 1)]


def table(rows: list[Row]) -> str:
    """The rows in columns, as Markdown."""
    head = ("what", "to reach", "measured", "reached")
    lines = [head, *(each.cells() for each in rows)]
    widths = [max(len(each[at]) for each in lines) for at in range(len(head))]
    rule = tuple("-" * width for width in widths)
    return "\n".join(
        "| "
        + " | ".join(cell.ljust(width) for cell, width in zip(each, widths, strict=True))
        + " |"
        for each in (head, rule, *lines[1:])
    )
