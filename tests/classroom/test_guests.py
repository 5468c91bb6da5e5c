"""Seats that somebody sits on: who gives way to whom, and that nobody else does."""

from __future__ import annotations

from app.classroom.guests import LOOKED_AT, Busy, Guest, Guests, Pages
from app.classroom.limits import Seats


class House:
    """Guests on seats, of whom is known who was sent away and who has gone without a word."""

    def __init__(self, most: int, most_of_one: int, kept: int = 0, renewed: bool = False) -> None:
        self.seats = Seats(most, most_of_one, kept)
        self.guests = Guests(self.seats, renewed)
        self.sent_away: list[Guest] = []
        self.gone: set[Guest] = set()

    def come(self, client: str, known: bool = False, busy: Busy = Busy.RESTS) -> Guest | None:
        guest = Guest(
            client,
            lambda: self.sent_away.append(guest),
            lambda: guest in self.gone,
            busy,
        )
        return guest if self.guests.take(guest, known) else None

    def crowd(self, addresses: int, known: bool = False, busy: Busy = Busy.RESTS) -> list[Guest]:
        came = []
        for address in range(addresses):
            while guest := self.come(f"attacker {address}", known, busy):
                came.append(guest)
                if len(came) > 10_000:
                    raise AssertionError("there is no end to them")
        return came


def test_the_address_with_most_gives_way_to_who_comes_new() -> None:
    house = House(120, 60)
    crowd = house.crowd(9)
    assert house.guests.taken == 120
    new = [house.come(f"pupil {number}") for number in range(60)]
    assert all(new) and house.guests.taken == 120
    # Always one of those that had most, the one that came last; and never a pupil.
    assert {each.client for each in house.sent_away} <= {each.client for each in crowd}
    house.crowd(9)
    assert not any(each in house.sent_away for each in new)
    held = house.seats._open.by
    assert max(held.values()) <= min(held[f"attacker {each}"] for each in range(9)) + 1


def test_those_at_work_lose_one_seat_to_each_address_that_comes() -> None:
    house = House(120, 60)
    assert all(house.come("school", busy=Busy.WORKS) for _ in range(60))
    house.crowd(12, busy=Busy.WORKS)
    lost = [each for each in house.sent_away if each.client == "school"]
    assert house.guests.taken == 120 and len(lost) <= 6
    assert all(house.come(f"new {number}", busy=Busy.WORKS) for number in range(9))
    assert not house.come("new 0", busy=Busy.WORKS)


def test_who_has_gone_gives_the_seat_back_before_anybody_is_sent_away() -> None:
    house = House(4, 4)
    first, second, *_ = came = [house.come(each) for each in ("many", "many", "one", "other")]
    assert all(came) and first and second and house.guests.taken == 4
    house.gone = {first}
    assert house.come("new") and house.sent_away == [first]
    # Its seat is not given back once more, and those of the others are.
    house.guests.give_back(first)
    assert house.guests.taken == 4
    house.guests.give_back(second)
    assert house.guests.taken == 3 and "many" not in house.guests._guests


def test_those_who_rest_go_before_those_who_work_and_those_who_stay_never() -> None:
    house = House(9, 9)
    resting = house.come("many")
    working = [house.come("many", busy=Busy.WORKS) for _ in range(3)]
    assert house.come("many", busy=Busy.STAYS)
    assert all(house.come(f"other {number}", busy=Busy.STAYS) for number in range(4))
    assert house.guests.taken == 9
    assert [bool(house.come(each)) for each in "abcde"] == [True] * 4 + [False]
    assert house.sent_away == [resting, *reversed(working)]


def test_nobody_has_more_than_its_part_by_sending_others_away() -> None:
    house = House(12, 2)
    assert len(house.crowd(3)) == 6
    assert [bool(house.come("late")) for _ in range(4)] == [True, True, False, False]
    assert house.sent_away == []


def test_of_an_address_those_give_way_who_are_more() -> None:
    """Of a class behind one address those who follow rest now and then; whoever there opens
    connection after connection takes the seats of the own ones, and not theirs."""
    house = House(16, 8, renewed=True)
    following = [house.come("school") for _ in range(3)]
    for each in filter(None, following):
        each.answered = True
    flood = [house.come("school") for _ in range(20)]
    assert all(following) and all(flood) and house.sent_away == flood[:15]


def test_who_keeps_many_that_rest_sends_nobody_away_who_comes_at_the_same_time() -> None:
    house = House(16, 8, renewed=True)
    kept = [house.come("school") for _ in range(8)]
    for each in filter(None, kept):
        each.answered = True
    late = [house.come("school") for _ in range(4)]
    assert all(late) and house.sent_away == kept[:4]


def test_one_who_rests_on_all_seats_of_an_address_keeps_nobody_out_who_works() -> None:
    house = House(12, 6, renewed=True)
    working = [house.come("school", busy=Busy.WORKS) for _ in range(2)]
    idle = [house.come("school") for _ in range(4)]
    assert all(working) and all(idle) and house.guests.taken == 6
    # Who comes has the seat of the one who came first of those who rest, and so on.
    late = [house.come("school") for _ in range(3)]
    assert all(late) and house.sent_away == idle[:3] and house.guests.taken == 6
    # The greenlet of one that was sent away gives nothing back a second time.
    for sent in house.sent_away:
        house.guests.give_back(sent)
    assert house.guests.taken == 6 == house.seats.held("school")
    # It costs no other address a seat, and who works stays.
    assert all(house.come(f"other {number}") for number in range(4))
    assert house.guests.taken == 10 and house.sent_away == idle[:3]
    for each in filter(None, late):
        each.busy = Busy.WORKS
    assert house.come("school") and house.sent_away == idle
    for each in house.guests._guests["school"]:
        each.busy = Busy.STAYS
    assert not house.come("school") and house.guests.taken == 10
    for each in [*house.guests._guests["school"]]:
        house.guests.give_back(each)
    assert house.seats.held("school") == 0 and house.guests.taken == 4


def test_who_asks_and_goes_takes_no_seat_of_those_who_rest_at_an_address() -> None:
    """One of many behind an address opened connections with a request and let go of them: those of
    the others there, which rest between requests, gave way."""
    house = House(16, 8, renewed=True)
    resting = [house.come("school") for _ in range(3)]
    for each in filter(None, resting):
        each.answered = True
    flood = [house.come("school", busy=Busy.WORKS) for _ in range(5)]
    house.gone |= {each for each in flood if each}
    again = [house.come("school", busy=Busy.WORKS) for _ in range(5)]
    assert all(resting) and all(again) and house.sent_away == flood
    # Of very many at work no more are looked at for each that comes.
    looked = 0

    def is_there() -> bool:
        nonlocal looked
        looked += 1
        return False

    large = House(400, 200, renewed=True)
    for _ in range(199):
        assert large.guests.take(Guest("school", lambda: None, is_there, Busy.WORKS))
    rests = large.come("school")
    assert large.come("school") and large.sent_away == [rests] and looked == LOOKED_AT


def test_who_belongs_to_the_class_keeps_a_place_beside_many_at_work_at_the_address() -> None:
    """One device there kept asking by hundreds of connections, or took nothing of the answers."""
    house = House(32, 16, renewed=True)
    members = [house.come("school") for _ in range(6)]
    for number, each in enumerate(filter(None, members)):
        each.answered, each.name = True, f"pupil {number // 2}"
    flood = [house.come("school", busy=Busy.WORKS) for _ in range(30)]
    assert all(members) and all(flood) and house.sent_away == flood[:20]
    # Under a name of its own it is no other.
    for each in filter(None, flood):
        each.name = "flood"
    late = house.come("school")
    assert late and house.sent_away == flood[:21]
    # Where nobody has more than others, whoever is at work stays.
    house = House(16, 8, renewed=True)
    for number in range(8):
        each = house.come("school", busy=Busy.WORKS)
        assert each
        each.name = f"pupil {number // 2}"
    assert not house.come("school") and not house.sent_away


def test_who_is_not_known_gets_none_of_the_seats_that_are_kept() -> None:
    house = House(40, 20, kept=20)
    house.crowd(9, known=True)
    assert house.guests.taken == 40
    assert all(house.come(f"new {number}") for number in range(8))
    assert house.seats._kept.all == 20 and house.seats._open.all == 20
    known = [house.come(f"pupil {number}", known=True) for number in range(8)]
    assert all(known) and house.guests.taken == 40


def test_pages_of_one_count_once_and_those_that_are_gone_do_not() -> None:
    pages = Pages()
    gone: set[Guest] = set()
    made = []
    for _ in range(3):
        page = Guest("a", lambda: None, lambda: False)
        page.leave = lambda page=page: pages.remove("one", page)  # type: ignore[misc]
        page.gone = lambda page=page: page in gone  # type: ignore[misc]
        pages.add("one", page)
        made.append(page)
    assert (len(pages), pages.windows("one"), pages.windows("two")) == (1, 3, 0)
    gone.add(made[1])
    assert pages.windows("one") == 2
    pages.send_away("one")
    assert (len(pages), pages.windows("one")) == (0, 0)
    assert not pages.remove("one", made[0])
