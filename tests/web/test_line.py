"""Whose turn it is of those who wait in a line."""

from __future__ import annotations

import gevent
import gevent.event
import pytest

from app.web.line import InTurn, Line


class Waiting:
    """A line whose turn is taken, and what became of those who came after."""

    def __init__(self) -> None:
        self.line = Line()
        self.had: list[str] = []
        self.away: list[str] = []
        self.open = gevent.event.Event()
        self.first = gevent.spawn(self._first)
        gevent.sleep(0)

    def _first(self) -> None:
        with self.line.turn("first", "first") as mine:
            assert mine
            self.open.wait()

    def come(self, *all_of_them: str) -> list[gevent.Greenlet]:
        """The client of each is its first letter."""
        come = [gevent.spawn(self._come, who) for who in all_of_them]
        gevent.sleep(0)
        return come

    def _come(self, who: str) -> None:
        with self.line.turn(who[0], who) as mine:
            (self.had if mine else self.away).append(who)
            gevent.sleep(0)

    def go_on(self) -> None:
        self.open.set()
        while self.line.waiting:
            gevent.sleep(0)
        gevent.sleep(0)


@pytest.fixture
def waiting() -> Waiting:
    return Waiting()


def test_nobody_waits_for_all_of_another_client(waiting: Waiting) -> None:
    waiting.come("a1", "a2", "a3", "a4", "b1", "b2", "c1")
    waiting.go_on()
    assert waiting.had == ["a1", "b1", "c1", "a2", "b2", "a3", "a4"]


def test_nothing_is_kept_of_who_leaves(waiting: Waiting) -> None:
    """A flood of connections, each of which gives way to the next, filled the memory with those
    that had been sent away and stood in the line."""
    waiting.come("a1", "a2", "a3", "b1")
    for who in ("a1", "a3", "b1"):
        waiting.line.leave(who[0], who)
    assert waiting.line.waiting == 1
    gevent.sleep(0)
    assert waiting.away == ["a1", "a3", "b1"] and not waiting.had
    waiting.go_on()
    assert waiting.had == ["a2"]


def test_who_does_not_wait_leaves_nothing(waiting: Waiting) -> None:
    waiting.line.leave("a", "a1")
    waiting.line.leave("first", "first")
    waiting.come("a1")
    assert not waiting.had, "the turn was not over"
    waiting.go_on()
    assert waiting.had == ["a1"]


def test_the_turn_of_who_is_ended_passes_on(waiting: Waiting) -> None:
    """Also where it had just been called."""
    still, called, _ = waiting.come("a1", "b1", "c1")
    still.kill()
    assert waiting.line.waiting == 2
    waiting.open.set()
    waiting.first.join()
    called.kill(block=False)
    waiting.go_on()
    assert "c1" in waiting.had
    waiting.come("d1")
    assert waiting.had[-1] == "d1"


def test_what_is_too_much_is_the_last_of_who_has_most() -> None:
    in_turn: InTurn[str, int] = InTurn()
    for number, who in enumerate(("a1", "b1", "b2", "b3", "c1", "c2")):
        in_turn.put(who[0], who, number)
    surplus = [in_turn.pop_surplus() for _ in range(3)]
    assert surplus[:2] == [("b3", 3), ("b2", 2)] or surplus[:2] == [("b3", 3), ("c2", 5)]
    assert in_turn.remove("a", "a2") is None and in_turn.remove("d", "d1") is None
    assert [in_turn.pop()[0] for _ in range(len(in_turn))] == ["a1", "b1", "c1"]
    assert not in_turn
    with pytest.raises(IndexError):
        in_turn.pop()
