"""The hub: everybody gets the newest message, nobody holds anybody up."""

from __future__ import annotations

import threading
from concurrent.futures import ThreadPoolExecutor

from app.classroom.hub import Hub

# Long enough never to be waited for in full by a hub that works.
LONG = 20.0


def test_nothing_was_published() -> None:
    hub: Hub[str] = Hub()
    assert hub.wait(0, 0) is None
    assert hub.wait(hub.number, 0) is None


def test_the_newest_message_is_there_at_once() -> None:
    hub: Hub[str] = Hub()
    number = hub.publish("one")
    assert hub.wait(0, 0) == (number, "one")
    assert hub.wait(number, 0) is None


def test_a_slow_watcher_skips_to_the_newest() -> None:
    hub: Hub[str] = Hub()
    first = hub.publish("one")
    for each in ("two", "three", "four"):
        hub.publish(each)
    assert hub.wait(first, 0) == (first + 3, "four")
    assert hub.wait(first + 3, 0) is None


def test_publishing_wakes_everybody_who_waits() -> None:
    hub: Hub[str] = Hub()
    first = hub.publish("one")
    with ThreadPoolExecutor(20) as pool:
        waiting = [pool.submit(hub.wait, first, LONG) for _ in range(20)]
        hub.publish("two")
        assert {each.result(LONG) for each in waiting} == {(first + 1, "two")}


def test_closing_wakes_everybody_with_nothing() -> None:
    hub: Hub[str] = Hub()
    number = hub.publish("one")
    with ThreadPoolExecutor(5) as pool:
        waiting = [pool.submit(hub.wait, number, LONG) for _ in range(5)]
        hub.close()
        assert [each.result(LONG) for each in waiting] == [None] * 5
    assert hub.closed
    assert hub.wait(0, LONG) is None


def test_numbers_rise_over_a_restart() -> None:
    """A page that knows a number of the server before is sent the frame of the new one."""
    before: Hub[str] = Hub()
    number = before.publish("one")
    after: Hub[str] = Hub()
    assert after.publish("two") >= number
    assert after.wait(before.number - 1, 0) is not None


def test_many_publishers_lose_no_number() -> None:
    hub: Hub[int] = Hub()
    start = hub.number
    with ThreadPoolExecutor(8) as pool:
        numbers = [*pool.map(hub.publish, range(400))]
    assert sorted(numbers) == [*range(start + 1, start + 401)]


def test_a_watcher_sees_numbers_rise_and_ends_with_the_newest() -> None:
    hub: Hub[int] = Hub()
    last = hub.number + 300
    seen: list[int] = []

    def watch() -> None:
        at = hub.number
        while at != last and (newest := hub.wait(at, LONG)):
            at = newest[0]
            seen.append(at)

    watcher = threading.Thread(target=watch)
    watcher.start()
    for each in range(300):
        hub.publish(each)
    watcher.join(LONG)
    assert seen[-1] == last
    assert seen == sorted(set(seen))
