"""The store, looked at from outside too: with another connection, and as a file."""

from __future__ import annotations

import json
import os
import sqlite3
import stat
import subprocess
import sys
from collections.abc import Callable
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from app.classroom import store as store_module
from app.classroom.ballot import Asked
from app.classroom.keeper import Keeper
from app.classroom.store import KEEP_DAYS, LONGEST_BOOKMARK, MOST_LESSONS, Store, StoreError

ASKED = Asked(
    *(0, 1, 13, 16, "What now?", ("13", "9", "6"), 0, ("", "why not", "")),
    because="It is so.",
    mixups=("", "a mix-up", ""),
)
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
    first.close()
    again = Store(path)
    found = again.lesson("name")
    assert found and found == again.lesson_of_code(kept.code)
    assert found.title == "Title"
    assert again.bookmark("name") == {"step": 3, "by_hand": {"ALU": False}}
    assert again.bookmark("other") == {}
    assert again.lesson("other") is None and again.lesson_of_code("AAAAA") is None


def test_who_answered_in_which_lessons() -> None:
    store = Store(None)
    for name in ("one", "two", "three"):
        store.add(name, "slug", "Title")
        store.save_asked(name, ASKED)
    for name, pupil in (("one", "a"), ("one", "b"), ("three", "a")):
        store.save_answer(name, ASKED, 1, pupil, 2)
    assert store.answered() == {"one", "three"}


def test_answers_of_every_round(path: Path) -> None:
    store = Store(path)
    store.add("name", "slug", "Title")
    store.save_asked("name", ASKED)
    store.save_asked("name", ASKED)
    store.save_answer("name", ASKED, 1, "one", 2)
    store.save_answer("name", ASKED, 1, "one", 0)
    store.save_answer("name", ASKED, 3, "two", 1)
    store.close()
    assert Store(path).questions("name") == {(0, 1, 1): (ASKED, [{"one": 0}, {}, {"two": 1}])}


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
from app.classroom.keeper import Keeper
from tests.classroom.test_store import ASKED, Store
store = Store(Path({str(path)!r}))
record = Keeper(store, store.add("name", "slug", "Title"))
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
    (answers,) = Store(path).questions("name")[0, 1, 1][1]
    assert answers == {f"pupil {number}": number % 3 for number in acknowledged}


def test_the_log_is_written_ahead(path: Path) -> None:
    store = Store(path)
    store.add("name", "slug", "Title")
    assert Path(f"{path}-wal").stat().st_size > 0
    assert store._database.execute("PRAGMA journal_mode").fetchone() == ("wal",)


@pytest.mark.skipif(os.name == "nt", reason="Windows keeps a person's files apart by folder")
def test_only_its_owner_may_read_it(path: Path) -> None:
    Store(path).add("name", "slug", "Title")
    for each in path.parent.iterdir():
        assert stat.S_IMODE(each.stat().st_mode) & 0o077 == 0, each


def test_what_is_deleted_is_gone_from_the_file(path: Path) -> None:
    store = Store(path)
    store.add("name", "slug", "Title")
    store.save_asked("name", ASKED)
    store.save_answer("name", ASKED, 1, "a-pupil-to-forget", 1)
    inside = [each.read_bytes() for each in path.parent.iterdir()]
    assert any(b"a-pupil-to-forget" in each for each in inside)
    assert store.delete("name") and not store.delete("name")
    inside = [each.read_bytes() for each in path.parent.iterdir()]
    assert not any(b"a-pupil-to-forget" in each or b"What now?" in each for each in inside)
    store.close()
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
    store.save_bookmark("newer", {})
    assert store.tidy() == ["old"]
    assert [each.name for each in store.lessons()] == ["newer"]
    store.close()
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


def test_a_file_that_is_no_store(tmp_path: Path) -> None:
    path = tmp_path / "notes.txt"
    path.write_text("These are notes of a teacher and no data base at all. " * 40)
    before = path.read_bytes()
    with pytest.raises(StoreError) as caught:
        Store(path)
    assert str(path) in str(caught.value) and "--store" in str(caught.value)
    assert path.read_bytes() == before


def test_a_store_of_a_newer_version(path: Path) -> None:
    Store(path).close()
    with sqlite3.connect(path) as other:
        other.execute("PRAGMA user_version = 99")
    with pytest.raises(StoreError, match="newer"):
        Store(path)


def test_in_memory() -> None:
    store = Store(None)
    assert store.add("name", "slug", "Title").name == "name"
    assert Store(None).lessons() == []


# A file of the first version, as that wrote it.
FIRST_VERSION = """
CREATE TABLE lesson (
  name TEXT PRIMARY KEY, code TEXT NOT NULL UNIQUE, slug TEXT NOT NULL, title TEXT NOT NULL,
  started REAL NOT NULL, seen REAL NOT NULL, ended INTEGER NOT NULL DEFAULT 0,
  place TEXT NOT NULL DEFAULT '{}'
);
CREATE TABLE asked (
  lesson TEXT NOT NULL REFERENCES lesson ON DELETE CASCADE, scene INTEGER NOT NULL,
  number INTEGER NOT NULL, step INTEGER NOT NULL, reveal_step INTEGER NOT NULL,
  prompt TEXT NOT NULL, choices TEXT NOT NULL, answer INTEGER NOT NULL, reasons TEXT NOT NULL,
  PRIMARY KEY (lesson, scene, number)
) WITHOUT ROWID;
CREATE TABLE answer (
  lesson TEXT NOT NULL, scene INTEGER NOT NULL, number INTEGER NOT NULL, round INTEGER NOT NULL,
  pupil TEXT NOT NULL, choice INTEGER NOT NULL,
  PRIMARY KEY (lesson, scene, number, round, pupil),
  FOREIGN KEY (lesson, scene, number) REFERENCES asked ON DELETE CASCADE
) WITHOUT ROWID;
CREATE TABLE setting (name TEXT PRIMARY KEY, value TEXT NOT NULL) WITHOUT ROWID;
INSERT INTO lesson (name, code, slug, title, started, seen)
  VALUES ('name', 'CCCCC', 's', 'T', 1e9, 1e9);
INSERT INTO asked VALUES
  ('name', 0, 1, 13, 16, 'What now?', '["13", "9", "6"]', 0, '["", "why not", ""]');
INSERT INTO answer VALUES ('name', 0, 1, 1, 'one', 2);
PRAGMA user_version = 1;
"""


def first_version(path: Path) -> None:
    path.parent.mkdir()
    with sqlite3.connect(path) as other:
        other.executescript(FIRST_VERSION)
    other.close()


def test_a_file_of_the_first_version_is_taken_over(path: Path) -> None:
    first_version(path)
    store = Store(path, Clock())
    # That version kept neither why it is right nor what was mixed up.
    kept = replace(ASKED, because="", mixups=())
    assert store.questions("name") == {(0, 1, 1): (kept, [{"one": 2}])}
    # And what hangs together still does.
    store.delete("name")
    assert store._database.execute("SELECT count(*) FROM answer").fetchone() == (0,)


# How the versions since then were made, in the words in which they made it.
REASONS = "reasons TEXT NOT NULL, because TEXT NOT NULL, mixups TEXT NOT NULL,"
SECOND_VERSION = (
    FIRST_VERSION.replace(
        "number INTEGER NOT NULL,", "number INTEGER NOT NULL, version INTEGER NOT NULL,"
    )
    .replace("scene, number", "scene, number, version")
    .replace("0, 1, ", "0, 1, 1, ")
    .replace("user_version = 1", f"user_version = 2; PRAGMA application_id = {0x43684379}")
)
EARLIER = {
    "1": FIRST_VERSION,
    "2, for an hour": SECOND_VERSION,
    "2": SECOND_VERSION.replace("reasons TEXT NOT NULL,", REASONS).replace(
        ', ""]\')', ", \"\"]', '', '[]')"
    ),
}
EARLIER["3"] = (
    EARLIER["2"].replace("user_version = 2", "user_version = 3")
    + """;
    CREATE TABLE finished (
      lesson TEXT NOT NULL REFERENCES lesson ON DELETE CASCADE, scene INTEGER NOT NULL,
      pupil TEXT NOT NULL, PRIMARY KEY (lesson, scene, pupil)
    ) WITHOUT ROWID;
    """
)


@pytest.mark.parametrize("version", [*EARLIER])
def test_a_file_of_an_earlier_version_becomes_one_of_the_newest(path: Path, version: str) -> None:
    path.parent.mkdir()
    with sqlite3.connect(path) as other:
        other.executescript(EARLIER[version])
    other.close()
    for _ in range(2):
        store = Store(path, Clock())
        kept = replace(ASKED, because="", mixups=())
        assert store.questions("name") == {(0, 1, 1): (kept, [{"one": 2}])}
        assert store_module._made(store._database) == store_module._made_by_us()
        store.close()


def test_tables_that_are_made_in_another_way_need_a_new_version() -> None:
    """Or the files of today are told to be changed by another program. Whoever makes a new version
    puts what was here before into ``_EARLIER``."""
    made = store_module._digest(store_module._made_by_us())
    newest = "6ca8d37385e0158b452507a7fa4c9a115807c6023acb8591b58d728e9aec3c06"
    assert (store_module._VERSION, made) == (4, newest)
    assert {*range(1, store_module._VERSION)} < {*store_module._EARLIER}
    assert {0, *store_module._EARLIER} == {*store_module._MIGRATIONS}


def test_a_move_to_a_new_version_happens_whole_or_not(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    first_version(path)
    before = contents(path)
    broken = store_module._TO_VERSION_2.replace("DROP TABLE asked_1", "DROP TABLE nothing")
    monkeypatch.setitem(store_module._MIGRATIONS, 1, broken)
    with pytest.raises(StoreError):
        Store(path, Clock())
    assert contents(path) == before
    monkeypatch.undo()
    assert Store(path, Clock()).questions("name")[0, 1, 1][1] == [{"one": 2}]


def test_who_had_finished_before_tasks_were_told_apart_still_belongs_to_the_class(
    path: Path,
) -> None:
    store = Store(path, Clock())
    store.add("name", "s", "T")
    store.close()
    with sqlite3.connect(path) as other:
        other.executescript(
            """
            DROP TABLE finished;
            CREATE TABLE finished (
              lesson TEXT NOT NULL REFERENCES lesson ON DELETE CASCADE, scene INTEGER NOT NULL,
              pupil TEXT NOT NULL, PRIMARY KEY (lesson, scene, pupil)
            ) WITHOUT ROWID;
            INSERT INTO finished VALUES ('name', 2, 'one');
            PRAGMA user_version = 3;
            """
        )
    other.close()
    store = Store(path, Clock())
    assert store.finished("name") == {(2, ""): {"one"}}
    store.delete("name")
    assert store.finished("name") == {}


def contents(path: Path) -> list[str]:
    with sqlite3.connect(path) as other:
        said = [*other.iterdump(), str(other.execute("PRAGMA user_version").fetchone())]
    other.close()
    return said


def test_a_store_of_a_version_that_there_cannot_be(path: Path) -> None:
    """One bit of the file was wrong, and the server did not start."""
    Store(path).close()
    with sqlite3.connect(path) as other:
        other.execute("PRAGMA user_version = -3")
    other.close()
    with pytest.raises(StoreError, match="damaged"):
        Store(path)


@pytest.mark.parametrize("name", [b"finished", b"setting"])
def test_a_name_of_a_table_that_is_no_text_any_more_is_told(path: Path, name: bytes) -> None:
    """One bit of the file was wrong, and the server did not start."""
    Store(path).close()
    path.write_bytes(path.read_bytes().replace(b"CREATE TABLE " + name, b"CREATE \xd4ABLE " + name))
    with pytest.raises(StoreError, match="damaged"):
        Store(path)


@pytest.mark.parametrize(
    "odd",
    [
        "CREATE TRIGGER odd BEFORE INSERT ON lesson BEGIN SELECT RAISE(IGNORE); END",
        "CREATE VIEW odd AS WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i FROM n) SELECT i",
        "CREATE UNIQUE INDEX odd ON lesson (slug)",
        "CREATE INDEX odd ON lesson (length(hex(zeroblob(30))))",
        "CREATE INDEX odd ON lesson (slug) WHERE length(hex(zeroblob(30)))",
        "CREATE TABLE odd (name)",
        "ALTER TABLE lesson ADD COLUMN odd AS (hex(zeroblob(30)))",
        "UPDATE sqlite_master SET sql = replace(sql, 'ended INTEGER', 'ended INT CHECK (ended)')",
        "UPDATE sqlite_master SET sql = replace(sql, 'DEFAULT 0', 'DEFAULT NULL')",
        "UPDATE sqlite_master SET sql = replace(sql, 'slug TEXT', 'slug\u00a0TEXT')",
        "UPDATE sqlite_master SET sql = sql || printf('%20000s', '/**/') WHERE name = 'setting'",
    ],
)
@pytest.mark.parametrize("version", [1, 4])
def test_a_file_that_does_things_of_its_own_is_not_used(path: Path, odd: str, version: int) -> None:
    """A lesson was added again and again, for ever."""
    if version == 1:
        first_version(path)
    else:
        Store(path).close()
    with sqlite3.connect(path) as other:
        other.execute("PRAGMA writable_schema = ON")
        other.execute(odd)
    other.close()
    before = contents(path) if "printf" in odd else path.read_bytes()
    with pytest.raises(StoreError, match="another program has changed"):
        Store(path)
    assert before == (contents(path) if "printf" in odd else path.read_bytes())


def test_what_a_file_works_out_is_not_worked_out_before_it_is_known_to_be_ours(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A look through the whole file works out its constraints, which may cost anything."""
    Store(path).close()
    with sqlite3.connect(path) as other:
        other.execute("PRAGMA writable_schema = ON")
        other.execute("UPDATE sqlite_master SET sql = replace(sql, 'DEFAULT 0', 'CHECK (1)')")
    other.close()
    said: list[str] = []
    connect = sqlite3.connect

    def traced(*given: Any, **named: Any) -> sqlite3.Connection:
        database = connect(*given, **named)
        database.set_trace_callback(said.append)
        return database

    monkeypatch.setattr(sqlite3, "connect", traced)
    with pytest.raises(StoreError, match="another program has changed"):
        Store(path)
    assert any("sqlite_master" in each for each in said)
    assert not any("quick_check" in each for each in said)


def test_what_sqlite_itself_keeps_in_a_file_changes_nothing(path: Path) -> None:
    store = Store(path)
    store.add("name", "slug", "Title")
    store.close()
    with sqlite3.connect(path) as other:
        other.execute("ANALYZE")
        other.execute("VACUUM")
    other.close()
    assert Store(path).lesson("name")


def test_a_lesson_that_cannot_be_added_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """It was tried again and again, for ever."""
    store = Store(None)
    store.add("one", "slug", "Title")
    with pytest.raises(StoreError, match="takes no new lesson"):
        store.add("one", "slug", "Title")
    monkeypatch.setattr(store_module, "new_code", lambda: "CCCCC")
    store.add("two", "slug", "Title")
    with pytest.raises(StoreError, match="takes no new lesson"):
        store.add("three", "slug", "Title")


def test_a_file_of_another_program_is_left_as_it_is(path: Path) -> None:
    path.parent.mkdir()
    with sqlite3.connect(path) as other:
        other.executescript("CREATE TABLE lesson (name); INSERT INTO lesson VALUES ('mine');")
    other.close()
    before = path.read_bytes()
    with pytest.raises(StoreError, match="another program"):
        Store(path)
    assert path.read_bytes() == before and [*path.parent.iterdir()] == [path]


def test_another_server_is_told_at_once(path: Path) -> None:
    """The lock goes with its process, however that ends."""
    program = f"""
from pathlib import Path
from app.classroom.store import Store
store = Store(Path({str(path)!r}))
store.add("name", "slug", "Title")
print("open", flush=True)
input()
"""
    first = subprocess.Popen(
        [sys.executable, "-c", program], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    assert first.stdout and first.stdout.readline() == "open\n"
    with pytest.raises(StoreError, match="another Chalkcycle"):
        Store(path)
    first.kill()
    first.communicate()
    assert [each.name for each in Store(path).lessons()] == ["name"]


def test_it_is_closed_into_one_file(path: Path) -> None:
    store = Store(path)
    store.add("name", "slug", "Title")
    store.close()
    assert [*path.parent.iterdir()] == [path]
    assert [each.name for each in Store(path).lessons()] == ["name"]


def test_answers_are_on_the_disk_before_anybody_says_yes(path: Path) -> None:
    """SQLite's documentation, "PRAGMA synchronous": in WAL mode only FULL waits for the disk at
    each commit."""
    store = Store(path)
    kept = store.add("name", "slug", "Title")
    said: list[str] = []
    store._database.set_trace_callback(said.append)
    store.save_bookmark(kept.name, {})
    assert not any("synchronous" in each for each in said)
    for write in (
        lambda: store.save_asked(kept.name, ASKED),
        lambda: store.save_answer(kept.name, ASKED, 1, "one", 0),
    ):
        said.clear()
        write()
        assert said[0] == "PRAGMA synchronous = FULL" and said[1].startswith("INSERT")
        assert said[-1] == "PRAGMA synchronous = NORMAL"


@pytest.mark.parametrize(
    "damage",
    [
        "UPDATE lesson SET place = '{broken'",
        "UPDATE lesson SET place = x'ff00ff'",
        "UPDATE lesson SET title = CAST(x'fffe41' AS TEXT), seen = 'yesterday'",
        "UPDATE asked SET choices = '7' WHERE number = 2",
        "UPDATE asked SET choices = x'ff' WHERE number = 2",
        "UPDATE asked SET answer = 9 WHERE number = 2",
        "UPDATE asked SET step = 'soon' WHERE number = 2",
        "UPDATE answer SET choice = 99 WHERE number = 2",
        "UPDATE answer SET choice = -1 WHERE number = 2",
        "UPDATE answer SET round = 1000000000 WHERE number = 2",
    ],
)
def test_a_row_that_cannot_be_read_costs_only_itself(path: Path, damage: str) -> None:
    other = replace(ASKED, number=2)
    store = Store(path)
    for name in ("one", "two"):
        store.add(name, "slug", "Title")
    for asked in (ASKED, other):
        store.save_asked("one", asked)
        store.save_answer("one", asked, 1, "pupil", 1)
    store._database.execute("PRAGMA foreign_keys = OFF")
    store._database.execute(damage)
    assert {each.name for each in store.lessons()} == {"one", "two"}
    assert store.questions("one")[ASKED.key] == (ASKED, [{"pupil": 1}])
    assert (store.unreadable("one") > 0) is ("number = 2" in damage)
    assert store.tidy() == []
    assert store.delete("one")


def test_a_text_without_end_costs_only_itself(path: Path) -> None:
    """The file may hold any text, and the list of results took as much memory as all of them."""
    store = Store(path)
    for name in ("one", "two"):
        store.add(name, "slug", "Title")
        store.save_asked(name, ASKED)
    endless = "x" * 3_000_000
    for table, column, value in (
        ("lesson", "title", endless),
        ("lesson", "place", json.dumps({"scene": endless})),
        ("asked", "prompt", endless),
    ):
        key = "name" if table == "lesson" else "lesson"
        store._database.execute(f"UPDATE {table} SET {column} = ? WHERE {key} = 'one'", (value,))
    one, two = store.lesson("one"), store.lesson("two")
    assert one and one.title == "x" * 1000 and store.bookmark("one") == {} and one.slug == "slug"
    assert two and two.title == "Title" and len(store.questions("two")) == 1
    assert store.questions("one") == {} and store.unreadable("one") == 1
    assert [*store.spreads()] == ["two"]
    store._database.execute("UPDATE lesson SET slug = ? WHERE name = 'one'", (endless,))
    assert {each.name for each in store.lessons()} == {"one", "two"}
    assert all(len(each.slug) < 10 for each in store.lessons())
    # SQLite counts the signs of a text only as far as a sign 0.
    store._database.execute("UPDATE lesson SET slug = ?, title = ?", ("\0" + endless,) * 2)
    assert all(each.slug == "" and len(each.title) <= 1000 for each in store.lessons())


def texts_read(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The texts of which JSON makes data from now on."""
    read: list[str] = []
    loads = json.loads

    def noted(text: str) -> Any:
        read.append(text)
        return loads(text)

    monkeypatch.setattr(json, "loads", noted)
    return read


def test_bookmarks_are_read_where_they_are_needed_and_no_longer_than_any_that_is_written(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The list of lessons read all of them: 28 MB of lists in lists took 750 MB and seconds."""
    store = Store(path)
    read = texts_read(monkeypatch)
    for number in range(3):
        store.add(f"name-{number}", "slug", "Title")
    most = LONGEST_BOOKMARK - len('{"a":[]}')
    for number, length in enumerate((4, most, most + 1)):
        text = '{"a":[' + " " * length + "]}"
        store._database.execute(
            "UPDATE lesson SET place = ? WHERE name = ?", (text, f"name-{number}")
        )
    assert len(store.lessons()) == 3 and store.lesson("name-0") and store.answered() == set()
    assert read == []
    assert [store.bookmark(f"name-{number}") for number in range(3)] == [{"a": []}, {"a": []}, {}]
    assert len(read) == 2


def test_no_list_is_made_of_what_no_question_can_have(monkeypatch: pytest.MonkeyPatch) -> None:
    """28 MB of lists in lists cost seconds of each page that tells of answers."""
    odd = replace(ASKED, choices=('a "word", or', "b\\", "two\nlines \u2028", "[]", "\U0001f600"))
    odd = replace(odd, reasons=(), mixups=())
    store = Store(None)
    for number, asked in enumerate((ASKED, odd, replace(ASKED, number=3))):
        store.add(f"name-{number}", "slug", "Title")
        store.save_asked(f"name-{number}", asked)
    for column in ("choices", "reasons", "mixups"):
        store._database.execute(f"UPDATE asked SET {column} = '[[],[]]' WHERE number = 3")
    read = texts_read(monkeypatch)
    found = store.spreads()
    assert [each.asked for at in ("name-0", "name-1") for each in found[at]] == [ASKED, odd]
    assert "name-2" not in found and "[[],[]]" not in read
    for several in ('["a","b","c","d","e","f"]', '["a",1]', '{"a":"b"}', '["a" "b"]', '["a",]'):
        store._database.execute("UPDATE asked SET choices = ? WHERE number = 1", (several,))
        assert store.questions("name-0") == {} and several not in read


def test_more_lessons_than_can_be_taught_are_not_listed_and_can_be_deleted(path: Path) -> None:
    store = Store(path)
    store._database.execute(
        "WITH n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < ?) INSERT INTO lesson"
        " SELECT 'name-' || i, 'A' || i, 'slug', 'Title', 1e9 + i, 1e9, 0, '{}' FROM n",
        (MOST_LESSONS + 7,),
    )
    store._database.execute("UPDATE lesson SET name = 'a/b' WHERE name = 'name-5000'")
    listed = store.lessons()
    assert len(listed) == MOST_LESSONS - 1 and store.unreadable_lessons == 8
    assert listed[0].name == f"name-{MOST_LESSONS + 7}" and listed[-1].name == "name-8"
    assert store.delete_unreadable() == 8
    assert store.lessons() == listed and store.unreadable_lessons == 0


def test_names_without_end_are_none(path: Path) -> None:
    store = Store(path)
    for name in ("n" * 300, "n" * 200_000):
        store.add(name, name, "Title")
    assert [(each.name, each.slug) for each in store.lessons()] == [("n" * 300, "n" * 300)]
    assert store.unreadable_lessons == 1


def test_answers_of_no_lesson_do_not_stay_for_ever(path: Path) -> None:
    store = Store(path)
    for name in ("one", "two"):
        store.add(name, "slug", "Title")
        store.save_asked(name, ASKED)
        store.save_answer(name, ASKED, 1, "pupil", 1)
    store._database.execute("PRAGMA foreign_keys = OFF")
    store._database.execute("DELETE FROM lesson WHERE name = 'one'")
    store._database.execute("PRAGMA foreign_keys = ON")
    assert store.tidy() == []
    for table in ("asked", "answer"):
        assert store._database.execute(f"SELECT lesson FROM {table}").fetchall() == [("two",)]


@pytest.mark.parametrize("damage", ["cut", "overwritten"])
def test_a_damaged_file_is_told(path: Path, damage: str) -> None:
    store = Store(path)
    for number in range(200):
        store.add(f"name {number}", "slug", "Title" * 50)
    store.close()
    data = path.read_bytes()
    middle = len(data) // 2
    path.write_bytes(
        data[:middle]
        if damage == "cut"
        else data[:5000] + os.urandom(middle) + data[5000 + middle :]
    )
    with pytest.raises(StoreError, match=r"damaged|malformed|not a database"):
        Store(path)


def test_a_name_out_of_a_damaged_file_does_nothing_to_the_terminal(path: Path) -> None:
    Store(path).close()
    with closing(sqlite3.connect(path)) as database:
        database.execute("PRAGMA writable_schema = ON")
        database.execute("UPDATE sqlite_master SET name = ?, sql = 'CREATE x'", ("a\x1b[31mb",))
        database.commit()
    with pytest.raises(StoreError, match=r"a\\x1b\[31mb") as told:
        Store(path)
    assert "\x1b" not in str(told.value)


def test_a_folder_or_a_pipe_is_no_store(tmp_path: Path) -> None:
    with pytest.raises(StoreError):
        Store(tmp_path)
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(StoreError, match="not a file"):
        Store(tmp_path / "pipe")


def test_a_clock_that_was_ahead_keeps_nothing_for_longer(path: Path) -> None:
    clock = Clock()
    clock.now += 1000 * DAY
    store = Store(path, clock)
    store.add("of the future", "slug", "Title")
    clock.now -= 1000 * DAY
    assert store.tidy() == []
    clock.now += (KEEP_DAYS + 1) * DAY
    assert store.tidy() == ["of the future"]


def test_a_clock_that_was_behind_deletes_no_lesson_of_today(path: Path) -> None:
    """A machine with an empty battery starts years ago, and is put right during a lesson."""
    clock = Clock()
    store = Store(path, clock)
    store.add("today", "slug", "Title")
    store.add("old", "slug", "Title")
    clock.now += 2000 * DAY
    assert store.tidy({"today": 600.0}) == ["old"]
    kept = store.lesson("today")
    assert kept and kept.seen == clock.now - 600
    store.close()
    clock.now += DAY
    assert [each.name for each in Store(path, clock).lessons()] == ["today"]


@pytest.mark.parametrize("behind", [10, 40, 2000])
def test_a_clock_that_was_believed_and_then_put_right_loses_nothing(
    path: Path, behind: int
) -> None:
    """Three school days are longer than is waited for it, and on each something is taught."""
    clock = Clock()
    store = Store(path, clock)
    store.add("before", "slug", "Title")
    store.close()
    clock.now -= behind * DAY
    for day in range(3):
        store = Store(path, clock)
        store.add(f"day-{day}", "slug", "Title")
        store.close()
        clock.now += DAY
    clock.now += behind * DAY
    store = Store(path, clock)
    assert len(store.lessons()) == 4
    # And nothing stays for longer than its days, counted from then.
    clock.now += (KEEP_DAYS + 1) * DAY
    assert len(store.tidy()) == 4
    assert store.setting("fell") is store.setting("looked") is None


def test_a_clock_that_is_behind_at_the_start_loses_nothing(path: Path) -> None:
    """As that of a machine with an empty battery, before it has asked for the time."""
    clock = Clock()
    store = Store(path, clock)
    store.add("before", "slug", "Title")
    store.close()
    clock.now -= 2000 * DAY
    store = Store(path, clock)
    store.add("meanwhile", "slug", "Title")
    store.save_bookmark("meanwhile", {})
    assert store.tidy({"meanwhile": 60.0}) == []
    store.close()
    clock.now += 2000 * DAY + 3600
    store = Store(path, clock)
    assert {each.name for each in store.lessons()} == {"before", "meanwhile"}
    clock.now += KEEP_DAYS * DAY
    assert sorted(store.tidy()) == ["before", "meanwhile"]
    assert store.setting("behind") is None


@pytest.mark.parametrize("value", ["", "x", b"\x00\xff" * 20])
def test_a_secret_that_can_be_guessed_is_not_taken(path: Path, value: str | bytes) -> None:
    store = Store(path)
    first = store.secret("names")
    assert store.secret("names") == first
    store._database.execute("UPDATE setting SET value = ?", (value,))
    second = store.secret("names")
    assert len(second) == len(first) and second != first and store.secret("names") == second


@pytest.mark.skipif(os.name == "nt", reason="Windows keeps a file that is in use")
@pytest.mark.parametrize("how", ["deleted", "moved", "another in its place"])
def test_a_file_that_is_taken_away_is_noticed(path: Path, how: str) -> None:
    store = Store(path)
    keeper = Keeper(store, store.add("name", "slug", "Title"))
    assert not store.look() and not store.trouble
    away = path.with_name("away")
    if how == "deleted":
        path.unlink()
    else:
        path.rename(away)
    if how == "another in its place":
        path.touch()
    assert store.look() and not store.look()
    keeper.bookmark({})
    assert str(path) in keeper.trouble and "deleted or moved" in keeper.trouble
    if how != "deleted":
        away.replace(path)
        assert store.look() and not store.trouble and not keeper.trouble


def test_a_stand_in_has_no_file_to_look_for() -> None:
    store = Store(None, trouble="a memory only")
    assert not store.look() and store.trouble == "a memory only"


def rows_of_lessons(store: Store) -> dict[str, int]:
    """How many rows each table has that belongs to lessons, as the file itself says which."""
    database = store._database
    names = [name for (name,) in database.execute("SELECT name FROM sqlite_master")]
    tables = {
        each
        for each in names
        for column in database.execute("SELECT name FROM pragma_table_info(?)", (each,))
        if column == ("lesson",)
    }
    return {
        each: database.execute(f"SELECT count(*) FROM {each}").fetchone()[0]
        for each in {"lesson", *tables}
    }


def filled(clock: Clock) -> Store:
    """A store with a row in every table that has any of a lesson."""
    store = Store(None, clock)
    store.add("one", "slug", "Title")
    store.save_asked("one", ASKED)
    store.save_answer("one", ASKED, 1, "a pupil", 0)
    store.save_finished("one", (0, "a task"), "a pupil")
    assert rows_of_lessons(store) == {"lesson": 1, "asked": 1, "answer": 1, "finished": 1}
    return store


@pytest.mark.parametrize("way", [Store.tidy, lambda store: store.delete("one")])
def test_what_is_deleted_leaves_no_row_in_any_table(way: Callable[[Store], object]) -> None:
    store = filled(clock := Clock())
    clock.now += (KEEP_DAYS + 1) * DAY
    way(store)
    assert set(rows_of_lessons(store).values()) == {0}


@pytest.mark.parametrize("way", [Store.tidy, Store.delete_unreadable])
def test_nor_does_a_lesson_that_lost_its_name_by_damage(way: Callable[[Store], object]) -> None:
    store = filled(clock := Clock())
    store._database.execute("PRAGMA foreign_keys = OFF")
    store._database.execute("UPDATE lesson SET name = 'no part / of an address'")
    store._database.execute("PRAGMA foreign_keys = ON")
    clock.now += (KEEP_DAYS + 1) * DAY
    way(store)
    assert set(rows_of_lessons(store).values()) == {0}
