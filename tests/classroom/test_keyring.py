"""The teacher's key: for a day, by every clock, and never taken away in the middle of a lesson."""

from __future__ import annotations

from pathlib import Path

from app.classroom.keyring import REST_SECONDS, TICKET_SECONDS, Keyring
from app.classroom.store import DAY_SECONDS, Store


class Clocks:
    """The clock of the machine, which anybody can set, and one that nobody can."""

    def __init__(self) -> None:
        self.shown, self.steady = 1_000_000_000.0, 500.0

    def go_on(self, seconds: float) -> None:
        self.shown += seconds
        self.steady += seconds


def ring(path: Path, clocks: Clocks, renew: bool = False) -> Keyring:
    """The keyring of a server that is started now; the one before has stopped."""
    store = Store(path, lambda: clocks.shown)
    made = Keyring(store, renew, steady=lambda: clocks.steady)
    store.close()
    return made


def test_a_key_is_good_for_a_day_and_not_longer(tmp_path: Path) -> None:
    path, clocks = tmp_path / "store", Clocks()
    key = ring(path, clocks).key
    for _ in range(4):
        # However often it is started again, and whatever is taught.
        clocks.go_on(DAY_SECONDS / 5)
        assert ring(path, clocks).key == key
    clocks.go_on(DAY_SECONDS / 5 + 1)
    later = ring(path, clocks)
    assert later.key != key and not later.opens(key) and later.opens(later.key)


def test_a_key_of_a_wrong_clock_is_not_used(tmp_path: Path) -> None:
    path, clocks = tmp_path / "store", Clocks()
    key = ring(path, clocks).key
    clocks.shown -= 10
    assert ring(path, clocks).key != key


def test_a_new_key_when_asked_for(tmp_path: Path) -> None:
    path, clocks = tmp_path / "store", Clocks()
    key = ring(path, clocks).key
    renewed = ring(path, clocks, renew=True).key
    assert renewed != key and ring(path, clocks).key == renewed


def test_a_server_that_goes_on_and_on_changes_its_key() -> None:
    clocks, told = Clocks(), []
    store = Store(None, lambda: clocks.shown)
    ring = Keyring(store, steady=lambda: clocks.steady, on_new=told.append)
    key = ring.key
    # Somebody sets the clock back: that does not help.
    clocks.shown -= 10 * DAY_SECONDS
    clocks.go_on(DAY_SECONDS - 1)
    ring.look()
    assert ring.opens(key)
    # In the middle of a lesson it stays as it is.
    ring.pressed()
    clocks.go_on(REST_SECONDS - 1)
    ring.look()
    assert ring.opens(key) and told == []
    clocks.go_on(2)
    ring.look()
    assert not ring.opens(key) and told == [ring.key] and store.setting("key") == ring.key


def test_where_nothing_can_be_kept_there_is_a_key_all_the_same(tmp_path: Path) -> None:
    store = Store(tmp_path / "store")
    store.close()
    ring = Keyring(store)
    assert ring.opens(ring.key)


def test_a_ticket_opens_once_and_soon() -> None:
    clocks = Clocks()
    ring = Keyring(steady=lambda: clocks.steady)
    ticket = ring.ticket()
    assert not ring.takes("") and not ring.takes(ring.key)
    assert ring.takes(ticket) and not ring.takes(ticket)
    late = ring.ticket()
    clocks.go_on(TICKET_SECONDS + 1)
    assert not ring.takes(late)
