"""The store, looked at from outside too: with another connection, and as a file."""

from __future__ import annotations

import os
import sqlite3
import stat
import subprocess
import sys
from pathlib import Path

import pytest

from app.classroom.ballot import Asked
from app.classroom.store import KEEP_DAYS, KEY_HOURS, LessonRecord, Store, StoreError

ASKED = Asked(0, 1, 13, 16, "What now?", ("13", "9", "6"), 0, ("", "why not", ""))
DAY = 86400.0


class Clock:
    def __init__(self) -> None:
        self.now = 1_000_000_000.0

    def __call__(self) -> float:
        return self.now


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "deep" / "lessons.sqlite3"


def test_a_lesson_is_found_again(path: Path) -> None:
    first = Store(path)
    kept = first.add("name", "slug", "Title")
    first.save_bookmark("name", {"step": 3, "by_hand": {"ALU": False}})
    again = Store(path)
    found = again.lesson("name")
    assert found and found == again.lesson_of_code(kept.code)
    assert found.bookmark == {"step": 3, "by_hand": {"ALU": False}} and found.title == "Title"
    assert again.lesson("other") is None and again.lesson_of_code("AAAAA") is None


def test_answers_of_every_round(path: Path) -> None:
    store = Store(path)
    store.add("name", "slug", "Title")
    record = LessonRecord(store, "name")
    record.asked(ASKED)
    record.asked(ASKED)
    record.answered(ASKED, 1, "one", 2)
    record.answered(ASKED, 1, "one", 0)
    record.answered(ASKED, 3, "two", 1)
    assert Store(path).questions("name") == {(0, 1): (ASKED, [{"one": 0}, {}, {"two": 1}])}


def test_no_answer_to_what_was_not_asked(path: Path) -> None:
    store = Store(path)
    store.add("name", "slug", "Title")
    with pytest.raises(StoreError):
        store.save_answer("name", ASKED, 1, "one", 0)


def test_what_was_said_yes_to_survives_a_kill(path: Path) -> None:
    """A process says yes to each answer after the store did, and is killed without warning."""
    program = f"""
import os, signal
from pathlib import Path
from tests.classroom.test_store import ASKED, LessonRecord, Store
store = Store(Path({str(path)!r}))
store.add("name", "slug", "Title")
record = LessonRecord(store, "name")
record.asked(ASKED)
for number in range(200):
    record.answered(ASKED, 1, f"pupil {{number}}", number % 3)
    print(number, flush=True)
os.kill(os.getpid(), signal.SIGKILL)
"""
    run = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, timeout=60, check=False
    )
    acknowledged = [int(each) for each in run.stdout.split()]
    assert len(acknowledged) == 200, run.stderr
    (answers,) = Store(path).questions("name")[0, 1][1]
    assert answers == {f"pupil {number}": number % 3 for number in acknowledged}


def test_the_log_is_written_ahead(path: Path) -> None:
    Store(path)
    with sqlite3.connect(path) as other:
        assert other.execute("PRAGMA journal_mode").fetchone() == ("wal",)


@pytest.mark.skipif(os.name == "nt", reason="Windows keeps a person's files apart by folder")
def test_only_its_owner_may_read_it(path: Path) -> None:
    Store(path).add("name", "slug", "Title")
    for each in path.parent.iterdir():
        assert stat.S_IMODE(each.stat().st_mode) & 0o077 == 0, each


def test_what_is_deleted_is_gone_from_the_file(path: Path) -> None:
    store = Store(path)
    store.add("name", "slug", "Title")
    record = LessonRecord(store, "name")
    record.asked(ASKED)
    record.answered(ASKED, 1, "a-pupil-to-forget", 1)
    inside = [each.read_bytes() for each in path.parent.iterdir()]
    assert any(b"a-pupil-to-forget" in each for each in inside)
    assert store.delete("name") and not store.delete("name")
    inside = [each.read_bytes() for each in path.parent.iterdir()]
    assert not any(b"a-pupil-to-forget" in each or b"What now?" in each for each in inside)
    with sqlite3.connect(path) as other:
        assert other.execute("SELECT count(*) FROM answer").fetchone() == (0,)


def test_lessons_delete_themselves(path: Path) -> None:
    clock = Clock()
    store = Store(path, clock)
    store.add("old", "slug", "Old")
    clock.now += (KEEP_DAYS - 1) * DAY
    store.add("newer", "slug", "Newer")
    assert len(store.lessons()) == 2
    clock.now += 1.5 * DAY
    # Any lesson that goes on clears up behind the others.
    store.save_bookmark("newer", {})
    assert [each.name for each in store.lessons()] == ["newer"]
    clock.now += KEEP_DAYS * DAY + 1
    assert Store(path, clock).lessons() == []


def test_codes_are_of_their_own(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    codes = iter(["AAAAA", "AAAAA", "AAAAA", "BBBBB"])
    monkeypatch.setattr("app.classroom.store.new_code", lambda: next(codes))
    store = Store(path)
    assert [store.add(name, "slug", "").code for name in ("one", "two")] == ["AAAAA", "BBBBB"]


def test_an_ended_lesson_is_not_joined(path: Path) -> None:
    store = Store(path)
    code = store.add("name", "slug", "Title").code
    store.end("name")
    assert store.lesson_of_code(code) is None
    found = store.lesson("name")
    assert found and found.ended


def test_the_key_lasts_for_a_day_of_teaching(path: Path) -> None:
    clock = Clock()
    key = Store(path, clock).key()
    # Nothing was taught: there is nobody to come back.
    assert Store(path, clock).key() != key
    store = Store(path, clock)
    key = store.key()
    store.add("name", "slug", "Title")
    clock.now += (KEY_HOURS - 1) * 3600
    assert Store(path, clock).key() == key
    store.save_bookmark("name", {})
    clock.now += (KEY_HOURS + 1) * 3600
    assert Store(path, clock).key() != key


def test_a_file_that_is_no_store(tmp_path: Path) -> None:
    path = tmp_path / "notes.txt"
    path.write_text("These are notes of a teacher and no data base at all. " * 40)
    before = path.read_bytes()
    with pytest.raises(StoreError) as caught:
        Store(path)
    assert str(path) in str(caught.value) and "--store" in str(caught.value)
    assert path.read_bytes() == before


def test_a_store_of_a_newer_version(path: Path) -> None:
    Store(path)
    with sqlite3.connect(path) as other:
        other.execute("PRAGMA user_version = 99")
    with pytest.raises(StoreError, match="newer"):
        Store(path)


def test_in_memory() -> None:
    store = Store(None)
    assert store.add("name", "slug", "Title").name == "name"
    assert Store(None).lessons() == []
