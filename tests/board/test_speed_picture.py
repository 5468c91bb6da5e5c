"""The speed scene's picture: its dials and bars against sums done by hand."""

from __future__ import annotations

from fractions import Fraction

import pytest

from app.board.frames import make_frame
from app.board.speed_picture import speed_picture
from app.classroom.session import Session
from app.lesson.blocks.speed import Speed
from app.lesson.file.reader import read_lesson

GIGAHERTZ = Speed(Fraction(10**9), "1 GHz", 1)


def test_a_step_of_a_second_is_a_billion_ticks_of_a_gigahertz() -> None:
    # A billion millimetres are a thousand kilometres (SI Brochure, 9th edition, table 7).
    picture = speed_picture(GIGAHERTZ, 0, 1)
    assert (picture.tick, picture.step, picture.dials) == ("1 mm", "1,000 km", ())


def test_a_clock_slower_than_the_board_has_the_longer_bar() -> None:
    picture = speed_picture(Speed(Fraction(1, 2), "0.5 Hz", 1), 0, 1)
    assert (picture.tick, picture.step) == ("2 mm", "1 mm")


@pytest.mark.parametrize(
    ("steps", "turns", "hand"),
    [(15, 0, (1, 0)), (30, 0, (0, 1)), (45, 0, (-1, 0)), (60, 1, (0, -1)), (150, 2, (0, 1))],
)
def test_the_hand_goes_round_once_a_minute(
    steps: int, turns: int, hand: tuple[float, float]
) -> None:
    board, clock = speed_picture(GIGAHERTZ, steps, 1).dials
    assert board.turns == turns and board.hand == pytest.approx(hand, abs=1e-9)
    assert board.moves and not clock.moves
    assert clock.time == f"{steps} ns"


def test_nothing_is_said_of_how_long_a_program_takes_that_never_stops() -> None:
    head = "---\ntitle: T\nmachine: 8-bit\n---\n# One\n"
    speed = "```speed\nclock: 1 GHz\n```\n"
    for last, takes in (("HALT", True), ("JUMP 0", False)):
        program = f"```program\nADD #1\n{last}\n```\n\n"
        session = Session("t", read_lesson("t", head + program + speed))
        frame = make_frame(session.view())
        assert any("This program takes" in each for each in frame.speed) is takes
        assert frame.speed_picture and bool(frame.speed_picture.dials) is takes
