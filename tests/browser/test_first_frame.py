"""What comes in with a step is not seen before it has moved there."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

from tests.browser.board import Board


def test_the_outcome_is_never_painted_before_the_movement(
    open_board: Callable[..., Board],
) -> None:
    """Values change as something arrives, and never while nothing is on its way.

    htmx waits by itself for a moment after it has put a new frame in: long enough to paint the
    board with the outcome of the step, just before the values set out.
    """
    board = open_board().at_speed("+")
    board.start_recording()
    for step in range(1, 9):
        board.step_to("PageDown", step)
        board.wait_for_vehicle()
        board.wait_until_still()
    samples = board.recorded()["samples"]
    assert sum(bool(after["vehicles"]) for after in samples) > 50
    for before, after in pairwise(samples):
        if not before["vehicles"] and not after["vehicles"]:
            assert after["shown"] == before["shown"], f"seen too early, at step {before['step']}"
