"""Bounds on what one client may take, and what is left for the others."""

from __future__ import annotations

import threading
import time
from itertools import count

from app.classroom.limits import (
    AWAY_SECONDS,
    BEGIN_SECONDS,
    BREAK_SECONDS,
    MOST_CLIENTS,
    MOST_TOLD,
    TEACHER,
    Known,
    Rate,
    Register,
    Seats,
    Turns,
)


def test_one_client_leaves_places_for_others() -> None:
    places = Seats(most=20, most_of_one=6)
    assert [places.take("greedy") for _ in range(8)] == [True] * 6 + [False] * 2
    assert [places.take("other") for _ in range(7)] == [True] * 6 + [False]
    places.give_back("greedy")
    assert places.take("greedy") and not places.take("greedy")
    assert places.taken == 12


def test_clients_that_take_all_they_can_leave_a_place_for_the_next() -> None:
    places = Seats(most=120, most_of_one=60)
    taken = []
    for number in range(6):
        taken.append(sum(places.take(f"greedy {number}") for _ in range(200)))
    assert taken[0] == 60 and sum(taken) < 120
    assert places.take("a pupil")


def test_places_that_are_kept_for_who_is_known() -> None:
    places = Seats(most=8, most_of_one=8, kept=4)
    for number in range(20):
        places.take(f"stranger {number}")
    assert places.taken == 4
    assert places.take("one", known=True) and places.take("other", known=True)


def test_who_is_known_leaves_the_open_seats_to_who_comes_new() -> None:
    """One pupil at one address takes all there is to take; so do four more that have joined."""
    seats = Seats(most=140, most_of_one=70, kept=70)
    assert sum(seats.take("pupil", known=True) for _ in range(200)) == 70
    assert seats._open.all == 35 and not seats.short
    for number in range(30):
        assert seats.take(f"new {number}")
        seats.give_back(f"new {number}")
    for number in range(4):
        while seats.take(f"pupil {number}", known=True):
            continue
    assert seats.short and seats.take("new")


def test_a_class_behind_one_address_has_half_of_the_seats_as_before() -> None:
    seats = Seats(most=580, most_of_one=290, kept=290)
    assert sum(seats.take("class", known=True) for _ in range(400)) == 290
    for _ in range(145):
        seats.give_back("class")
    # What is open to everybody comes back first.
    assert seats._open.all == 0 and seats.taken == 145


def test_a_name_is_counted_once_and_stays() -> None:
    register = Register(20, 10, answered=lambda name: True)
    assert all(register.admit(f"made up {number}", "device") for number in range(10))
    assert not register.admit("made up 10", "device")
    assert all(register.admit(f"made up {number}", "device") for number in range(10))
    # Those of others have the rest, and who was there before a restart is still.
    register.restore({"earlier"})
    assert register.admit("earlier", "device") and register.admit("pupil", "elsewhere")


def test_a_name_that_nobody_follows_under_gives_way() -> None:
    """Two addresses of one device have taken all they can under names that only passed by."""
    following = {"a0", "a1"}
    register = Register(4, 4, follows=following.__contains__, answered=lambda name: True)
    assert [register.admit(f"a{number}", "a") for number in range(3)] == [True, True, False]
    assert [register.admit(f"b{number}", "b") for number in range(2)] == [True, False]
    assert [register.admit(f"c{number}", "c") for number in range(2)] == [True, False]
    # Full, and nobody has two more than one who comes from an address with a name already.
    assert not register.admit("c1", "c")
    following.remove("a1")
    register.admit("a0", "a")
    assert register.admit("pupil", "new") and len(register) == 4
    assert "a1" not in register._clients and register.admit("a0", "a")


class Lesson:
    """A register with names that follow, those that have answered, and those sent away."""

    def __init__(self, class_size: int) -> None:
        self.following: set[str] = set()
        self.answered: set[str] = set()
        self.sent_away: list[str] = []
        self.now = 0.0
        self.register = Register(
            *(2 * class_size, class_size, self.following.__contains__),
            *(self.answered.__contains__, self._send_away, lambda: self.now),
        )

    def _send_away(self, name: str) -> None:
        self.sent_away.append(name)
        self.following.discard(name)

    def join(self, name: str, address: str) -> bool:
        """A name comes, and follows if it belongs to the class."""
        admitted = self.register.admit(name, address)
        if admitted:
            self.following.add(name)
        return admitted

    def crowd(self, addresses: int, tries: int = 70) -> None:
        """So many addresses take all the names that they can get, and follow under all."""
        for address in range(addresses):
            for number in range(tries):
                self.join(f"{address}: {number}", f"attacker {address}")


def test_names_that_follow_give_way_where_an_address_has_many() -> None:
    lesson = Lesson(60)
    lesson.crowd(9)
    assert len(lesson.register) == 120
    new = [f"pupil {number}" for number in range(40)]
    assert [lesson.join(each, f"of {each}") for each in new] == [True] * 40
    # The crowd comes again and again, and gets none of those places.
    lesson.crowd(9, tries=140)
    assert lesson.following >= set(new)
    # Nor does one of the newcomers' addresses, which has its place, take more from them.
    assert not lesson.join("second", "of pupil 0")
    assert len(lesson.register) == 120 == sum(lesson.register._held.values())


def test_the_only_name_of_an_address_stays_while_its_pupil_sleeps() -> None:
    lesson = Lesson(5)
    assert lesson.register.admit("sleeper", "home")
    lesson.crowd(9)
    assert [lesson.join(f"n{number}", f"new {number}") for number in range(50)].count(True) <= 9
    assert "sleeper" in lesson.register._clients and lesson.join("sleeper", "home")


def test_pupils_behind_one_address_are_not_thrown_out_by_honest_ones() -> None:
    """A class at one address, and another at addresses of their own: nobody is sent away, and
    whoever comes too late at the shared address is told so."""
    lesson = Lesson(30)
    school = [f"s{number}" for number in range(30)]
    assert all(lesson.join(each, "school") for each in school)
    assert not any(lesson.join(f"late {number}", "school") for number in range(20))
    assert all(lesson.join(f"h{number}", f"home {number}") for number in range(30))
    assert lesson.sent_away == []
    # One whose page was closed makes room at that address, as before.
    lesson.following.remove("s3")
    lesson.register.leave("s3")
    lesson.now = BREAK_SECONDS
    assert lesson.join("new", "school") and lesson.sent_away == ["s3"]


def test_who_loads_a_page_again_keeps_the_place_at_an_address_that_is_full() -> None:
    """One of many behind an address made name after name, each with an open stream, and got the
    place of everybody there who loaded the page again."""
    lesson = Lesson(30)
    assert all(lesson.join(f"s{number}", "school") for number in range(30))
    for number in range(30):
        each = f"s{number}"
        lesson.following.remove(each)
        lesson.register.leave(each)
        assert not lesson.join(f"other {number}", "school")
        lesson.now += BREAK_SECONDS / 60
        assert not lesson.join(f"other {number}", "school")
        assert lesson.join(each, "school")
    # Nor is there a moment for that between a page and its stream.
    lesson = Lesson(1)
    assert lesson.register.admit("pupil", "school")
    assert not lesson.join("other", "school")
    lesson.now = BEGIN_SECONDS
    assert lesson.join("other", "school")


def test_a_class_in_use_behind_one_address_loses_one_place_to_each_that_crowds_in() -> None:
    lesson = Lesson(30)
    assert all(lesson.join(f"s{number}", "school") for number in range(30))
    lesson.crowd(9)
    # Five of them had all that was left; of the four that came then each took one.
    lost = [each for each in lesson.sent_away if each.startswith("s")]
    assert len(lesson.register) == 60 and len(lost) <= 4
    # Those that joined last; and who was there before is never locked out by them.
    assert lost == [f"s{29 - number}" for number in range(len(lost))]
    lesson.crowd(9)
    assert [each for each in lesson.sent_away if each.startswith("s")] == lost


def test_a_class_behind_one_address_may_close_its_pages_for_a_while() -> None:
    lesson = Lesson(30)
    school = [f"s{number}" for number in range(30)]
    assert all(lesson.join(each, "school") for each in school)
    for each in school:
        lesson.following.remove(each)
        lesson.register.leave(each)
    lesson.crowd(9)
    assert sum(lesson.join(each, "school") for each in school) >= 26


def test_who_has_answered_goes_last() -> None:
    lesson = Lesson(30)
    assert all(lesson.join(f"s{number}", "school") for number in range(30))
    lesson.answered |= lesson.following
    lesson.crowd(9)
    assert all(lesson.join(f"n{number}", f"new {number}") for number in range(15))
    assert lesson.sent_away and not any(each.startswith("s") for each in lesson.sent_away)


def test_a_name_that_has_long_been_away_gives_way() -> None:
    """Also the only one of its address: a lesson goes on for days, class after class."""
    lesson = Lesson(5)
    first = [f"p{number}" for number in range(10)]
    assert all(lesson.join(each, f"of {each}") for each in first)
    lesson.answered |= set(first)
    lesson.now = AWAY_SECONDS + 1
    assert not lesson.join("new", "elsewhere"), "they follow still"
    for each in first:
        lesson.following.remove(each)
        lesson.register.leave(each)
    assert not lesson.join("new", "elsewhere"), "they were there until now"
    lesson.now += AWAY_SECONDS
    assert lesson.join("new", "elsewhere") and lesson.sent_away == ["p0"]


def test_no_address_answers_under_ever_more_names() -> None:
    answered: set[str] = set()
    register = Register(12, 6, answered=answered.__contains__, follows=lambda name: False)
    for turn in range(400):
        device, name = f"device {turn % 4}", f"name {turn}"
        if register.admit(name, device):
            answered.add(name)
    assert len(answered) <= 2 * 12
    assert register.admit("pupil", "elsewhere")
    assert register.admit("pupil 2", "elsewhere"), "a second at the same address, too"


def test_names_without_an_answer_give_way_at_their_own_address() -> None:
    seconds = count(step=BEGIN_SECONDS)
    register = Register(4, 2, lambda name: False, lambda name: False, clock=lambda: next(seconds))
    assert all(register.admit(f"made up {number}", "device") for number in range(50))
    assert len(register) == 2


def test_who_was_turned_away_is_counted_once_and_until_they_are_in() -> None:
    following = {"p0", "p1", "p2", "p3"}
    register = Register(4, 4, follows=following.__contains__, answered=lambda name: True)
    assert all(register.admit(name, f"at {name}") for name in sorted(following))
    assert register.turned_away == 0
    for _ in range(3):
        assert not register.admit("new", "elsewhere") and not register.admit("newer", "further")
    assert register.turned_away == 2
    following.remove("p0")
    register._clock = lambda: time.monotonic() + 2 * AWAY_SECONDS
    assert register.admit("new", "elsewhere") and register.turned_away == 1
    for number in range(2 * MOST_TOLD):
        register.admit(f"made up {number}", f"address {number}")
    assert register.turned_away <= MOST_TOLD


def test_the_latest_of_the_known_are_remembered() -> None:
    known = Known()
    for number in range(MOST_CLIENTS + 1):
        known.add(str(number))
    assert "0" not in known and "1" in known and str(MOST_CLIENTS) in known


def test_seats_come_back_and_nothing_is_remembered() -> None:
    seats = Seats(most=3, most_of_one=3)
    for number in range(1000):
        assert seats.take(str(number))
        seats.give_back(str(number))
    assert seats.taken == 0 and not seats._open.by


def test_rate_at_once_and_over_time() -> None:
    now = 0.0
    rate = Rate(per_second=2, at_once=5, clock=lambda: now)
    assert rate.has_left("one")
    assert [rate.allows("one") for _ in range(7)] == [True] * 5 + [False] * 2
    assert rate.allows("other") and not rate.has_left("one")
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


def in_line(turns: Turns, *clients: str) -> tuple[list[str], list[threading.Thread]]:
    """Clients that wait for a turn, in this order, and in which order each got one."""
    got: list[str] = []

    def wait(client: str) -> None:
        assert turns.take(client, 60)
        got.append(client)

    threads = []
    for at, each in enumerate(clients, start=1):
        threads.append(threading.Thread(target=wait, args=(each,), daemon=True))
        threads[-1].start()
        while len(turns._waiting) < at:
            time.sleep(0.001)
    return got, threads


def test_who_has_had_least_comes_first() -> None:
    turns = Turns(at_once=1, of_one=1, waiting=10, waiting_of_one=5)
    assert turns.take("heavy", 0)
    got, threads = in_line(turns, "heavy", "heavy", "light", "heavy", "new")
    turns.give_back("heavy", 3.0)
    for client, seconds in (("light", 0.1), ("new", 5.0), ("heavy", 1.0), ("heavy", 1.0)):
        while not got or got[-1] != client:
            time.sleep(0.001)
        turns.give_back(client, seconds)
    for each in threads:
        each.join(60)
    assert got == ["light", "new", "heavy", "heavy", "heavy"]


def test_nobody_saves_up_by_waiting() -> None:
    turns = Turns(at_once=1, of_one=1, waiting=10, waiting_of_one=5)
    for _ in range(100):
        assert turns.take("busy", 0)
        turns.give_back("busy", 1.0)
    # Who comes new is before the other once, and not for a hundred seconds of work.
    assert turns.take("new", 0)
    assert 0 <= turns.had("busy") - turns.had("new") <= 1.0


def test_one_client_has_a_part_of_the_turns_and_of_the_line() -> None:
    turns = Turns(at_once=2, of_one=1, waiting=3, waiting_of_one=2)
    assert turns.take("one", 0) and not turns.take("one", 0)
    assert turns.take("other", 0) and not turns.take("third", 0)
    got, threads = in_line(turns, "one", "one")
    assert not turns.take("one", 0) and got == []
    turns.give_back("other", 0.1)
    turns.give_back("one", 0.1)
    while got != ["one"]:
        time.sleep(0.001)
    assert turns.running == 1, "the other place is for somebody else"
    assert turns.take("third", 0)
    turns.give_back("one", 0.1)
    for each in threads:
        each.join(60)
    assert got == ["one", "one"]


def ask_in_line(turns: Turns, said: list[tuple[str, bool]], *clients: str) -> None:
    """Clients ask for a turn, one after the other; what each was told is written down."""
    for client in clients:

        def ask(client: str = client) -> None:
            said.append((client, turns.take(client, 60)))

        before = len(turns._waiting) + len(said)
        threading.Thread(target=ask, daemon=True).start()
        while len(turns._waiting) + len(said) <= before:
            time.sleep(0.001)


def test_a_full_line_makes_room_for_who_comes_new() -> None:
    """Two addresses fill the line; then a pupil comes, and the teacher."""
    turns = Turns(at_once=1, of_one=1, waiting=4, waiting_of_one=2)
    assert turns.take("a", 0)
    said: list[tuple[str, bool]] = []
    ask_in_line(turns, said, "a", "a", "b", "b", "pupil", TEACHER)
    assert said == [("a", False), ("b", False)]
    assert [each.client for each in turns._waiting] == ["a", "b", "pupil", TEACHER]
    # Nobody waits more often than the next one: who comes then is told so, but for the teacher.
    assert not turns.take("late", 0)
    ask_in_line(turns, said, TEACHER)
    # The teacher comes first, however much that has cost.
    turns.give_back("a", 1.0)
    while (TEACHER, True) not in said:
        time.sleep(0.001)
    assert [each.client for each in turns._waiting] == ["b", "pupil", TEACHER]
    assert turns.running == 1


def test_behind_one_address_nobody_waits_for_all_that_another_asked_for() -> None:
    turns = Turns(at_once=1, of_one=1, waiting=20, waiting_of_one=20)
    assert turns.take("school", 0)
    got: list[str] = []

    def wait(who: str) -> None:
        assert turns.take("school", 60, who)
        got.append(who)
        turns.give_back("school", 1.0)

    threads = []
    for who in (*[""] * 6, "one", "other", "one"):
        threads.append(threading.Thread(target=wait, args=(who,)))
        threads[-1].start()
        while len(turns._waiting) < len(threads):
            time.sleep(0.001)
    turns.give_back("school", 1.0)
    for each in threads:
        each.join()
    # Who asked at first had no name: so both who have one come before the next without.
    assert got == ["one", "other", "", "one", *[""] * 5]


def test_turns_remember_a_bounded_number_of_clients() -> None:
    turns = Turns(at_once=1, of_one=1, waiting=1, waiting_of_one=1)
    for number in range(3 * MOST_CLIENTS):
        assert turns.take(str(number), 0)
        turns.give_back(str(number), 0.001)
    assert len(turns._had) <= MOST_CLIENTS + 1 and len(turns._served) <= MOST_CLIENTS


def test_who_comes_back_after_a_start_is_put_beside_the_others() -> None:
    """What all held was copied for each name, so a board of many answers stood still."""
    register = Register(20, 10)
    held = register._held
    register.restore({f"pupil {number}" for number in range(3)})
    assert len(register) == 3 and register._held is held


def test_of_an_address_without_names_nothing_is_kept() -> None:
    following = {"a0", "a1"}
    register = Register(4, 4, follows=following.__contains__, answered=lambda name: True)
    for name in ("a0", "a1", "b0", "c0"):
        register.admit(name, name[0])
    following.clear()
    for number in range(3):
        register.admit(f"new {number}", f"new {number}")
    assert all(register._held.values()) and sum(register._held.values()) == len(register)
