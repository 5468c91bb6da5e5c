"""Bounds on what one client may take, and what is left for the others."""

from __future__ import annotations

from app.classroom.limits import MOST_CLIENTS, Rate, Seats


def test_one_client_leaves_seats_for_others() -> None:
    seats = Seats(most=10, most_of_one=6)
    assert [seats.take("greedy") for _ in range(8)] == [True] * 6 + [False] * 2
    assert [seats.take("other") for _ in range(5)] == [True] * 4 + [False]
    seats.give_back("greedy")
    assert seats.take("other") and not seats.take("greedy")
    assert seats.taken == 10


def test_seats_come_back_and_nothing_is_remembered() -> None:
    seats = Seats(most=3, most_of_one=3)
    for number in range(1000):
        assert seats.take(str(number))
        seats.give_back(str(number))
    assert seats.taken == 0 and not seats._taken


def test_rate_at_once_and_over_time() -> None:
    now = 0.0
    rate = Rate(per_second=2, at_once=5, clock=lambda: now)
    assert [rate.allows("one") for _ in range(7)] == [True] * 5 + [False] * 2
    assert rate.allows("other")
    now = 1.0
    assert [rate.allows("one") for _ in range(3)] == [True, True, False]
    now = 1000.0
    assert sum(rate.allows("one") for _ in range(20)) == 5


def test_refusals_do_not_put_the_end_off() -> None:
    now = 0.0
    rate = Rate(per_second=1, at_once=1, clock=lambda: now)
    assert rate.allows("one")
    for tenth in range(1, 10):
        now = tenth / 10
        assert not rate.allows("one")
    now = 1.01
    assert rate.allows("one")


def test_many_clients_take_bounded_memory() -> None:
    rate = Rate(per_second=1, at_once=1, clock=lambda: 0.0)
    for number in range(3 * MOST_CLIENTS):
        rate.allows(str(number))
    assert len(rate._left) <= MOST_CLIENTS
