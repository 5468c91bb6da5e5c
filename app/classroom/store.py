"""What a lesson keeps, in SQLite: where the class is, what was asked, what was answered.

Nothing about a pupil is kept but a random name that lasts for one lesson. Everything is written
before it is acknowledged. The write-ahead log is on: what was written is there after the
server's process is killed. Questions and answers are on the disk by then, too (SQLite calls it
``synchronous = FULL``), and so outlast a failure of the power; where the class is need not be.

The file belongs to one server: another one is told so. When it is closed it is one file.
"""

from __future__ import annotations

import json
import math
import os
import re
import sqlite3
import stat
import threading
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import closing, contextmanager
from dataclasses import dataclass
from functools import cache
from hashlib import sha256
from pathlib import Path
from typing import Any

from app.lesson.blocks.question import MOST_CHOICES
from app.machine.source.problems import printable

from .ballot import MOST_ROUNDS, Answers, Asked, Key, Spread
from .finished import TaskKey
from .tokens import new_code, new_key

KEEP_DAYS = 30
DAY_SECONDS = 86_400.0
# A server that has just been told to stop may still have the file; nobody is served meanwhile.
_OPEN_SECONDS = 2.0
# "ChCy": whose file it is, where SQLite has a place for that.
_APPLICATION = 0x43684379
# Seconds since the epoch, somewhere in the year 9892: no calendar goes on past 9999.
_LAST_TIME = 2.5e11
_DAMAGED = "it is damaged"
# A name is a part of addresses.
_NAME = re.compile(r"[^/\s]+")
_CODE = re.compile(r"[A-Z0-9]+")
# A list of a few texts, as JSON: this is seen before a list of very many things is made of it.
_TEXT = r'"[^"\\]*(?:\\.[^"\\]*)*"'
_TEXTS = re.compile(rf"\[(?:{_TEXT}(?:, ?{_TEXT}){{0,{MOST_CHOICES - 1}}})?\]", re.DOTALL)
# What parts words in SQL.
_BLANKS = re.compile(r"[ \t\n\f\r]+")
# Nothing that is written here has so many bytes; what is read has no other bound than the file.
_LONGEST_NAME, _LONGEST_TEXT = 1_000, 200_000
# The longest that a board can write has fewer than a thousand signs.
LONGEST_BOOKMARK = 10_000
# How many lessons are listed: one every few minutes, day and night, for as long as one is kept.
MOST_LESSONS = 5_000


def _whole(*columns: str, longest: int = _LONGEST_TEXT) -> str:
    """These columns as they are, NULL where one is longer than anything that was written here."""
    return ", ".join(
        f"CASE WHEN {_bytes(each)} > {longest} THEN NULL ELSE {each} END" for each in columns
    )


def _bytes(column: str) -> str:
    """How long a value is, as SQL: the length of a text is counted only as far as a sign 0."""
    return f"length(CAST({column} AS BLOB))"


_LESSON = (
    f"{_whole('name', 'code', 'slug', longest=_LONGEST_NAME)},"
    f" CASE WHEN {_bytes('title')} > {_LONGEST_NAME} THEN substr(title, 1, {_LONGEST_NAME})"
    " ELSE title END, started, seen, ended"
)
_LISTED = f"ORDER BY started DESC LIMIT {MOST_LESSONS}"
_ASKED = (
    f"scene, number, version, step, reveal_step, {_whole('prompt', 'choices')}, answer,"
    f" {_whole('reasons', 'because', 'mixups')}"
)

_ANSWERS = """
CREATE TABLE asked (
  lesson TEXT NOT NULL REFERENCES lesson ON DELETE CASCADE, scene INTEGER NOT NULL,
  number INTEGER NOT NULL, version INTEGER NOT NULL, step INTEGER NOT NULL,
  reveal_step INTEGER NOT NULL, prompt TEXT NOT NULL, choices TEXT NOT NULL,
  answer INTEGER NOT NULL, reasons TEXT NOT NULL, because TEXT NOT NULL, mixups TEXT NOT NULL,
  PRIMARY KEY (lesson, scene, number, version)
) WITHOUT ROWID;
CREATE TABLE answer (
  lesson TEXT NOT NULL, scene INTEGER NOT NULL, number INTEGER NOT NULL,
  version INTEGER NOT NULL, round INTEGER NOT NULL, pupil TEXT NOT NULL, choice INTEGER NOT NULL,
  PRIMARY KEY (lesson, scene, number, version, round, pupil),
  FOREIGN KEY (lesson, scene, number, version) REFERENCES asked ON DELETE CASCADE
) WITHOUT ROWID;
"""
_FINISHED = """
CREATE TABLE finished (
  lesson TEXT NOT NULL REFERENCES lesson ON DELETE CASCADE, scene INTEGER NOT NULL,
  task TEXT NOT NULL, pupil TEXT NOT NULL, PRIMARY KEY (lesson, scene, task, pupil)
) WITHOUT ROWID;
"""
# Which task it was nobody knows any more: those who have finished one still belong to the class.
_TO_VERSION_4 = f"""
ALTER TABLE finished RENAME TO finished_3;
{_FINISHED}
INSERT INTO finished SELECT lesson, scene, '', pupil FROM finished_3;
DROP TABLE finished_3;
"""
_ALL = f"""
CREATE TABLE lesson (
  name TEXT PRIMARY KEY, code TEXT NOT NULL UNIQUE, slug TEXT NOT NULL, title TEXT NOT NULL,
  started REAL NOT NULL, seen REAL NOT NULL, ended INTEGER NOT NULL DEFAULT 0,
  place TEXT NOT NULL DEFAULT '{{}}'
);
{_ANSWERS}
{_FINISHED}
CREATE TABLE setting (name TEXT PRIMARY KEY, value TEXT NOT NULL) WITHOUT ROWID;
"""
_TO_VERSION_2 = f"""
ALTER TABLE answer RENAME TO answer_1;
ALTER TABLE asked RENAME TO asked_1;
{_ANSWERS}
INSERT INTO asked
  SELECT lesson, scene, number, 1, step, reveal_step, prompt, choices, answer, reasons, '', '[]'
  FROM asked_1;
INSERT INTO answer SELECT lesson, scene, number, 1, round, pupil, choice FROM answer_1;
DROP TABLE answer_1;
DROP TABLE asked_1;
{_FINISHED}
"""
# For an hour version 2 was one that kept the version of a question, but not why it is right.
_WITHOUT_REASONS = -2
# From each version to the newest, as SQL; 0 is an empty file.
_MIGRATIONS = {
    0: _ALL,
    1: _TO_VERSION_2,
    _WITHOUT_REASONS: _TO_VERSION_2.replace("number, 1,", "number, version,"),
    2: _FINISHED,
    3: _TO_VERSION_4,
}
_VERSION = 4
# How the files of each version before the newest were made, as :func:`_digest` of it.
_EARLIER = {
    1: "502d703d0a338e18c0ab7cebee865c3dcbff90a78686dfb626f89379b6f2f0b8",
    _WITHOUT_REASONS: "605126f1be915c2272f715a77d224c970cd73383c665d0a2ceab5f9ab3a7dd05",
    2: "9c89a7449b6b28c73f7639b53cfc80fe947c0ca77088399a0bc0d7b3aa4811fb",
    3: "cbabf7789be5da2d21d4b2861e9fb9b637bfd7e3973c42f14c57b0f769330ab8",
}
# More than a file of ours has: nobody reads on there.
_MOST_MADE, _LONGEST_SQL = 50, 10_000
# What SQLite itself keeps in a file that another program has had it look through (ANALYZE).
_OF_SQLITE = {
    "CREATE TABLE sqlite_stat1(tbl,idx,stat)",
    "CREATE TABLE sqlite_stat4(tbl,idx,neq,nlt,ndlt,sample)",
}
# One code in millions is taken; where none of so many is free, something else is wrong.
_MOST_CODES = 100


class StoreError(Exception):
    """The store cannot be used, and why, in words for the teacher."""


class StoreClosed(StoreError):
    """Nothing is kept any more, now or later: Chalkcycle is being stopped."""


class NotKept(StoreError):
    """What was to be written belongs to something that the store does not have (any more)."""


@dataclass(frozen=True, slots=True)
class Kept:
    """A lesson as the store knows it. Times are seconds since the epoch."""

    name: str
    code: str
    slug: str
    title: str
    started: float
    seen: float
    ended: bool


class Store:
    """The lessons of this machine's teacher, in a file, or in memory where ``path`` is None.

    Raises StoreError where the file cannot be used; then nothing in it has changed. ``trouble``
    is told to the teacher: why nothing is kept though it should be. Safe to call from several
    threads.
    """

    def __init__(
        self, path: Path | None, clock: Callable[[], float] = time.time, trouble: str = ""
    ) -> None:
        self.path = path
        # How it is told of: the name of a file need be no text.
        self._told = printable(str(path or "memory"))
        self.trouble = trouble
        self.clock = clock
        # Whether nothing can be kept any more.
        self.closed = False
        self._lock = threading.RLock()
        self._own_trouble = trouble
        self._unreadable: dict[str, int] = {}
        # How many lessons could not be read when all of them were read last.
        self.unreadable_lessons = 0
        # The latest time that the store knows of: it cannot be earlier than that.
        self._latest = 0.0
        try:
            self._database = self._open()
        # (What SQLite says of a damaged table has its name, which may be no text any more.)
        except (OSError, sqlite3.Error, UnicodeDecodeError) as error:
            raise StoreError(
                f"Results cannot be kept in '{self._told}': {_why(error)}. Stop what uses that"
                " file, or give another one with --store."
                if _is_in_use(error)
                else f"Results cannot be kept in '{self._told}': {_why(error)}. Give another file"
                " with --store."
            ) from error
        self._file = self._identity()
        self.tidy()

    def _open(self) -> sqlite3.Connection:
        if self.path is not None:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            if self.path.exists() and not stat.S_ISREG(self.path.stat().st_mode):
                raise OSError("it is not a file")
            # Made before SQLite does, so that nobody else on this machine may read it.
            os.close(os.open(self.path, os.O_CREAT | os.O_RDWR, 0o600))
        database = sqlite3.connect(
            self.path or ":memory:",
            isolation_level=None,
            check_same_thread=False,
            timeout=_OPEN_SECONDS,
        )
        try:
            self._take_up(database)
        except BaseException:
            database.close()
            raise
        return database

    def _take_up(self, database: sqlite3.Connection) -> None:
        # A text that is no UTF-8 costs its own signs, and not the whole table.
        database.text_factory = lambda data: data.decode("utf-8", "replace")
        # The lock is held until the file is closed, or the process ends, however it does.
        database.execute("PRAGMA locking_mode = EXCLUSIVE")
        version = _version(database)
        for pragma in (
            "journal_mode = WAL",
            "synchronous = NORMAL",
            # What is deleted is overwritten, not only forgotten.
            "secure_delete = ON",
        ):
            database.execute(f"PRAGMA {pragma}")
        # Whatever happens, all of it has been done or nothing.
        database.execute("BEGIN IMMEDIATE")
        if version != _VERSION:
            for each in _MIGRATIONS[version].split(";"):
                database.execute(each)
        database.execute(f"PRAGMA user_version = {_VERSION}")
        database.execute(f"PRAGMA application_id = {_APPLICATION}")
        database.execute("COMMIT")
        database.execute("PRAGMA foreign_keys = ON")
        # From here on the file is ours alone: there is nobody to wait for.
        database.execute("PRAGMA busy_timeout = 0")

    @contextmanager
    def _using(self, lasting: bool = False) -> Iterator[sqlite3.Connection]:
        """The database; ``lasting`` is for what must be on the disk when this is over."""
        with self._lock:
            if self.closed:
                raise StoreClosed("Chalkcycle is being stopped.")
            try:
                if lasting:
                    self._database.execute("PRAGMA synchronous = FULL")
                try:
                    yield self._database
                finally:
                    if lasting:
                        self._database.execute("PRAGMA synchronous = NORMAL")
            except sqlite3.IntegrityError as error:
                raise NotKept(f"'{self._told}' has no such lesson any more.") from error
            except (sqlite3.Error, UnicodeDecodeError) as error:
                raise StoreError(f"'{self._told}' cannot be used: {_why(error)}.") from error

    # Lessons.

    def add(self, name: str, slug: str, title: str) -> Kept:
        """A new lesson, with a code that no other lesson has. Raises StoreError where there is
        none, or the name is taken."""
        now = self.clock()
        with self._using(lasting=True) as database:
            for _ in range(_MOST_CODES):
                kept = Kept(name, new_code(), slug, title, now, self._seen(), False)
                if self._insert(database, kept):
                    return kept
        raise StoreError(f"'{self._told}' takes no new lesson.")

    def put(self, kept: Kept) -> None:
        """A lesson that goes on already and could not be added when it began."""
        with self._using(lasting=True) as database:
            self._insert(database, kept)

    def _seen(self) -> float:
        """When a lesson that is being taught is taught: now. A clock that has fallen behind is
        not believed, or the lesson would look old once the clock is right again."""
        self._latest = max(self._latest, self.clock())
        return self._latest

    def _insert(self, database: sqlite3.Connection, kept: Kept) -> bool:
        added = database.execute(
            "INSERT OR IGNORE INTO lesson (name, code, slug, title, started, seen)"
            " VALUES (?, ?, ?, ?, ?, ?)",
            (kept.name, kept.code, kept.slug, kept.title, kept.started, kept.seen),
        )
        return added.rowcount > 0

    def save_bookmark(self, name: str, bookmark: dict[str, Any]) -> None:
        """Where the class is; any data that JSON can hold. The lesson is being taught."""
        with self._using() as database:
            database.execute(
                "UPDATE lesson SET place = ?, seen = ? WHERE name = ?",
                (json.dumps(bookmark, separators=(",", ":")), self._seen(), name),
            )

    def end(self, name: str) -> None:
        """The lesson is over: it cannot be followed any more, but its results are kept."""
        with self._using(lasting=True) as database:
            database.execute("UPDATE lesson SET ended = 1 WHERE name = ?", (name,))

    def delete(self, name: str) -> bool:
        """Delete a lesson with all that was answered; False where there is none."""
        with self._using(lasting=True) as database:
            deleted = database.execute("DELETE FROM lesson WHERE name = ?", (name,)).rowcount > 0
            self._empty_log(database)
        return deleted

    def delete_unreadable(self) -> int:
        """Delete the lessons that :meth:`lessons` leaves out, with all that was answered; how many
        that were. Nobody can ask for one of them by its name."""
        with self._using(lasting=True) as database:
            rows = database.execute(f"SELECT rowid, {_LESSON} FROM lesson {_LISTED}").fetchall()
            listed = {rowid for rowid, *row in rows if _kept(tuple(row))}
            every = database.execute("SELECT rowid FROM lesson").fetchall()
            left_out = [each for each in every if each[0] not in listed]
            database.executemany("DELETE FROM lesson WHERE rowid = ?", left_out)
            self._delete_stray(database)
            self._empty_log(database)
        return len(left_out)

    def lesson(self, name: str) -> Kept | None:
        return next(iter(self._lessons("WHERE name = ?", name)), None)

    def lesson_of_code(self, code: str) -> Kept | None:
        """The lesson that is joined by a code, unless it is over."""
        return next(iter(self._lessons("WHERE code = ? AND NOT ended", code)), None)

    def has_ended(self, code: str) -> bool:
        """Whether the lesson that was joined by a code is over."""
        return bool(self._lessons("WHERE code = ? AND ended", code))

    def lessons(self) -> list[Kept]:
        """Every lesson that is kept, the newest first. What cannot be read is left out, and what
        is more than MOST_LESSONS; how much that was, ``unreadable_lessons`` tells."""
        found = self._lessons(_LISTED)
        with self._using() as database:
            (every,) = database.execute("SELECT count(*) FROM lesson").fetchone()
        self.unreadable_lessons = every - len(found)
        return found

    def bookmark(self, name: str) -> dict[str, Any]:
        """What :meth:`save_bookmark` was given for a lesson; empty, which is the start, where that
        is nothing, or cannot be read."""
        place = _whole("place", longest=LONGEST_BOOKMARK)
        with self._using() as database:
            row = database.execute(f"SELECT {place} FROM lesson WHERE name = ?", (name,)).fetchone()
        return _place(row[0]) if row else {}

    def _lessons(self, where: str, *values: object) -> list[Kept]:
        with self._using() as database:
            rows = database.execute(f"SELECT {_LESSON} FROM lesson {where}", values).fetchall()
        return [kept for kept in map(_kept, rows) if kept]

    # Questions and answers.

    def save_asked(self, name: str, asked: Asked) -> None:
        with self._using(lasting=True) as database:
            database.execute(
                "INSERT OR IGNORE INTO asked VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
                (
                    *(name, *asked.key, asked.step, asked.reveal_step, asked.prompt),
                    json.dumps(asked.choices),
                    asked.answer,
                    json.dumps(asked.reasons),
                    asked.because,
                    json.dumps(asked.mixups),
                ),
            )

    def save_answer(self, name: str, asked: Asked, round: int, pupil: str, choice: int) -> None:
        with self._using(lasting=True) as database:
            database.execute(
                "INSERT INTO answer VALUES (?, ?, ?, ?, ?, ?, ?)"
                " ON CONFLICT DO UPDATE SET choice = excluded.choice",
                (name, *asked.key, round, pupil, choice),
            )

    def save_finished(self, name: str, task: TaskKey, pupil: str) -> None:
        with self._using(lasting=True) as database:
            database.execute(
                "INSERT OR IGNORE INTO finished VALUES (?, ?, ?, ?)", (name, *task, pupil)
            )

    def finished(self, name: str) -> dict[TaskKey, set[str]]:
        """Who has finished each task. What cannot be read is left out."""
        with self._using() as database:
            rows = database.execute(
                "SELECT scene, task, pupil FROM finished WHERE lesson = ?", (name,)
            ).fetchall()
        found: dict[TaskKey, set[str]] = {}
        for scene, task, pupil in rows:
            if isinstance(scene, int) and isinstance(task, str) and isinstance(pupil, str):
                found.setdefault((scene, task), set()).add(pupil)
        return found

    def questions(self, name: str) -> dict[Key, tuple[Asked, list[Answers]]]:
        """What was asked in a lesson, with the answers of each round. What cannot be read is left
        out; how much that was, :meth:`unreadable` tells."""
        with self._using() as database:
            rows = database.execute(
                f"SELECT {_ASKED} FROM asked WHERE lesson = ?", (name,)
            ).fetchall()
            answers = database.execute(
                "SELECT scene, number, version, round, pupil, choice FROM answer WHERE lesson = ?",
                (name,),
            ).fetchall()
        found: dict[Key, tuple[Asked, list[Answers]]] = {}
        left_out = 0
        for row in rows:
            asked = _asked(row)
            if asked is None:
                left_out += 1
            else:
                found[asked.key] = (asked, [])
        for scene, number, version, round, pupil, choice in answers:
            if not _take_answer(found, (scene, number, version), round, pupil, choice):
                left_out += 1
        self._unreadable[name] = left_out
        return found

    def answered(self) -> set[str]:
        """The names of the lessons in which anybody answered anything."""
        with self._using() as database:
            rows = database.execute(
                "SELECT name FROM lesson"
                " WHERE EXISTS (SELECT 1 FROM answer WHERE answer.lesson = lesson.name)"
            ).fetchall()
        return {str(name) for (name,) in rows}

    def spreads(self, name: str | None = None) -> dict[str, list[Spread]]:
        """How the answers fell in a lesson, or in every lesson, by its name: counted by SQLite, so
        that no pupil's name is read. What cannot be read is left out."""
        where, values = ("", ()) if name is None else (" WHERE lesson = ?", (name,))
        with self._using() as database:
            rows = database.execute(f"SELECT lesson, {_ASKED} FROM asked{where}", values).fetchall()
            counts = database.execute(
                "SELECT lesson, scene, number, version, round, choice, count(*) FROM answer"
                f"{where} GROUP BY lesson, scene, number, version, round, choice",
                values,
            ).fetchall()
        found: dict[tuple[str, Key], tuple[Asked, list[list[int]]]] = {}
        for lesson, *row in rows:
            asked = _asked(tuple(row))
            if asked is not None:
                found[lesson, asked.key] = (asked, [])
        for lesson, scene, number, version, round, choice, count in counts:
            place = (lesson, (scene, number, version))
            if place in found and _is_answer(found[place][0], round, choice):
                asked, rounds = found[place]
                while len(rounds) < round:
                    rounds.append([0] * len(asked.choices))
                rounds[round - 1][choice] += count
        spreads: dict[str, list[Spread]] = {}
        for (lesson, _key), (asked, rounds) in found.items():
            spread = Spread(asked, tuple(tuple(each) for each in rounds))
            spreads.setdefault(lesson, []).append(spread)
        return spreads

    def unreadable(self, name: str) -> int:
        """How many rows of a lesson could not be read when its questions were read last."""
        return self._unreadable.get(name, 0)

    # Settings: the teacher's key, and what this server signs with.

    def setting(self, name: str) -> str | None:
        with self._using() as database:
            row = database.execute("SELECT value FROM setting WHERE name = ?", (name,)).fetchone()
        return row[0] if row and isinstance(row[0], str) else None

    def set(self, settings: Mapping[str, str]) -> None:
        """Keep settings, all of them or none."""
        with self._using(lasting=True) as database:
            database.execute("BEGIN")
            try:
                database.executemany(
                    "INSERT OR REPLACE INTO setting VALUES (?, ?)", [*settings.items()]
                )
                database.execute("COMMIT")
            except sqlite3.Error:
                if database.in_transaction:
                    database.execute("ROLLBACK")
                raise

    def secret(self, name: str) -> str:
        """What this server signs with: made once, and kept. One so short that it can be guessed
        was not made here."""
        secret = self.setting(name)
        if secret is None or len(secret) < len(new_key()):
            secret = new_key()
            self.set({name: secret})
        return secret

    # Nothing is kept for ever.

    def tidy(self, taught: Mapping[str, float] | None = None) -> list[str]:
        """Delete the lessons that were last taught more than KEEP_DAYS ago; answers their names.

        ``taught`` has for lessons under way how many seconds ago they were taught, by a clock
        that nobody sets: it is believed, whatever the clock of the machine says.
        """
        now = self.clock()
        with self._using() as database:
            self._put_right(database, now)
            self._latest = self._believe(database, now)
            for name, seconds in (taught or {}).items():
                seen = max(now, self._latest) - seconds
                database.execute(
                    "UPDATE lesson SET seen = ? WHERE name = ? AND abs(seen - ?) > 3600",
                    (seen, name, seen),
                )
            oldest = now - KEEP_DAYS * DAY_SECONDS
            rows = database.execute("SELECT name FROM lesson WHERE seen < ?", (oldest,)).fetchall()
            if rows:
                database.execute("DELETE FROM lesson WHERE seen < ?", (oldest,))
            if self._delete_stray(database) or rows:
                self._empty_log(database)
        return [str(name) for (name,) in rows]

    @staticmethod
    def _believe(database: sqlite3.Connection, now: float) -> float:
        """The latest time that is known. Where that is in the future, either the clock is wrong
        now or it was then. Once it has gone on for a day without being put right, it is right:
        the lessons of the future have been taught when they were noticed first."""
        # A time that cannot be read is not known: the days count from now.
        database.execute(
            "UPDATE lesson SET seen = ? WHERE typeof(seen) <> 'real' OR seen NOT BETWEEN 0 AND ?",
            (now, _LAST_TIME),
        )
        (latest,) = database.execute("SELECT max(seen) FROM lesson").fetchone()
        noticed = database.execute("SELECT value FROM setting WHERE name = 'behind'").fetchone()
        if latest is None or latest <= now:
            if noticed:
                database.execute("DELETE FROM setting WHERE name = 'behind'")
            return now
        since = _number(noticed[0], now) if noticed else now
        if now - since < DAY_SECONDS:
            database.execute(
                "INSERT OR REPLACE INTO setting VALUES ('behind', ?)", (repr(min(since, now)),)
            )
            return float(latest)
        database.execute("UPDATE lesson SET seen = ? WHERE seen > ?", (since, now))
        database.execute("DELETE FROM setting WHERE name = 'behind'")
        fell = {"fell": float(latest) - now, "looked": now}
        database.executemany(
            "INSERT OR REPLACE INTO setting VALUES (?, ?)",
            [(name, repr(seconds)) for name, seconds in fell.items()],
        )
        return now

    @staticmethod
    def _put_right(database: sqlite3.Connection, now: float) -> None:
        """Where a clock that fell behind, and was believed, has gone ahead by half of that or more
        since it was looked at last, it was wrong meanwhile: no lesson has become so much older."""
        rows = database.execute("SELECT name, value FROM setting WHERE name IN ('fell', 'looked')")
        found = {name: _number(value, now) for name, value in rows}
        if len(found) < 2:
            return
        ahead = now - found["looked"]
        if ahead < found["fell"] / 2:
            database.execute("UPDATE setting SET value = ? WHERE name = 'looked'", (repr(now),))
            return
        database.execute("UPDATE lesson SET seen = min(seen + ?, ?)", (ahead, now))
        database.execute("DELETE FROM setting WHERE name IN ('fell', 'looked')")

    @staticmethod
    def _delete_stray(database: sqlite3.Connection) -> int:
        """Delete what belongs to no lesson, as damage may leave it; how many rows that were."""
        return sum(
            database.execute(
                f"DELETE FROM {table} WHERE lesson NOT IN (SELECT name FROM lesson)"
            ).rowcount
            for table in ("answer", "asked", "finished")
        )

    @staticmethod
    def _empty_log(database: sqlite3.Connection) -> None:
        """What was deleted is not in the write-ahead log either."""
        database.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()

    def look(self) -> bool:
        """See whether the file is still where it was: SQLite goes on with one that was deleted,
        and nobody finds it again. ``trouble`` tells; the answer is whether that has changed."""
        before = self.trouble
        self.trouble = self._own_trouble
        if self._file is not None and self._identity() != self._file:
            self.trouble = (
                f"'{self._told}' was deleted or moved while it was in use, so what is answered now"
                " may be gone once Chalkcycle stops. Save the tables of Results, then start"
                " Chalkcycle again."
            )
        return self.trouble != before

    def _identity(self) -> tuple[int, int] | None:
        """Which file it is, whatever its name; None where there is none."""
        try:
            status = self.path.stat() if self.path else None
        except OSError:
            return None
        return (status.st_dev, status.st_ino) if status else None

    def close(self) -> None:
        """Put everything into the one file, and leave it to others. Nothing can be kept after."""
        with self._using() as database:
            self.closed = True
            try:
                if self.path is not None:
                    self._empty_log(database)
            finally:
                database.close()


def _version(database: sqlite3.Connection) -> int:
    """The version of a file of ours, as in ``_MIGRATIONS``. Raises OSError where it is not ours,
    or damaged.

    Nothing in the file is worked out before it is known how it was made: a constraint, or an index
    on an expression, can cost anything, and so can a look through the file that works them out.
    """
    (application,) = database.execute("PRAGMA application_id").fetchone()
    (version,) = database.execute("PRAGMA user_version").fetchone()
    made = _made(database)
    tables = {name for _kind, name, *_rest in made}
    # The first version did not say whose it was.
    first = application == 0 and version == 1 and {"lesson", "asked", "answer"} <= tables
    empty = application == 0 and version == 0 and not made
    if not (application == _APPLICATION or first or empty):
        raise OSError("it belongs to another program")
    if version > _VERSION:
        raise OSError("it was written by a newer Chalkcycle")
    if version < 0:
        raise OSError(_DAMAGED)
    if version == 2 and _digest(made) == _EARLIER[_WITHOUT_REASONS]:
        version = _WITHOUT_REASONS
    if version == _VERSION:
        ours = made == _made_by_us()
    else:
        ours = _digest(made) == _EARLIER[version] if version else not made
    if not ours:
        raise OSError("another program has changed how it is made")
    (sound,) = database.execute("PRAGMA quick_check(1)").fetchone()
    if sound != "ok":
        raise OSError(_DAMAGED)
    return int(version)


# Each table, index, trigger and view: its kind, its name, the table that it is of, and its SQL.
_Made = list[tuple[str, str, str, str]]


def _made(database: sqlite3.Connection) -> _Made:
    """How a file is made, in an order that does not tell when; blanks are all the same."""
    rows = database.execute(
        f"SELECT type, name, tbl_name, CASE WHEN {_bytes('sql')} > {_LONGEST_SQL} THEN ''"
        f" ELSE sql END FROM sqlite_master LIMIT {_MOST_MADE}"
    ).fetchall()
    return sorted(
        (str(kind), str(name), str(table), _BLANKS.sub(" ", str(sql)))
        for kind, name, table, sql in rows
        if not (kind == "table" and sql in _OF_SQLITE)
    )


@cache
def _made_by_us() -> _Made:
    """How an empty file is made into one of the newest version."""
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as database:
        for each in _MIGRATIONS[0].split(";"):
            database.execute(each)
        return _made(database)


def _digest(made: _Made) -> str:
    return sha256(json.dumps(made).encode()).hexdigest()


def _is_in_use(error: Exception) -> bool:
    code = getattr(error, "sqlite_errorcode", None)
    return code is not None and code & 0xFF in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED)


def _why(error: Exception) -> str:
    """What a failure means, for the teacher."""
    if _is_in_use(error):
        return "another Chalkcycle, or another program, is using it"
    if isinstance(error, OSError) and error.strerror:
        return error.strerror
    if isinstance(error, UnicodeDecodeError):
        return _DAMAGED
    return printable(str(error))  # it may have names out of the file


# Rows may have been damaged, or written by somebody else: any value can stand in any column.


def _number(text: object, otherwise: float) -> float:
    try:
        number = float(str(text))
    except ValueError:
        return otherwise
    return number if math.isfinite(number) else otherwise


def _time(value: object) -> float:
    """A time; the epoch where nobody can tell when it was."""
    return value if isinstance(value, float) and 0 <= value <= _LAST_TIME else 0.0


def _json(text: object) -> Any:
    """The data of a text. Raises ValueError where that cannot be read, or could be neither shown
    nor kept again: numbers without an end, halves of characters, lists in lists in lists."""
    if not isinstance(text, str):
        raise ValueError("this is no text")
    try:
        data = json.loads(text)
        json.dumps(data, allow_nan=False, ensure_ascii=False).encode()
    except RecursionError as error:
        raise ValueError("lists stand in lists in lists") from error
    return data


def _texts(text: object) -> list[str]:
    """A list of no more texts than a question has choices. Raises ValueError where it is not."""
    if not isinstance(text, str) or not _TEXTS.fullmatch(text):
        raise ValueError("this is no list of a few texts")
    texts: list[str] = _json(text)
    return texts


def _place(text: object) -> dict[str, Any]:
    """Where the class was; from the start where that cannot be read."""
    try:
        place = _json(text)
    except ValueError:
        return {}
    return place if isinstance(place, dict) else {}


def _kept(row: tuple[Any, ...]) -> Kept | None:
    """A lesson as it was kept; None where nobody could ask for it by its name. Whatever else
    cannot be read, it is shown all the same, and can be deleted."""
    name, code, slug, title, started, seen, ended = row
    if not isinstance(name, str) or not _NAME.fullmatch(name):
        return None
    if not isinstance(code, str) or not _CODE.fullmatch(code):
        code = new_code()
    times = _time(started), _time(seen)
    return Kept(name, code, str(slug or ""), str(title), *times, bool(ended))


def _asked(row: tuple[Any, ...]) -> Asked | None:
    """A question as it was kept; None where that cannot be read."""
    scene, number, version, step, reveal, prompt, choices, answer, *why = row
    try:
        choices, reasons, mixups = (_texts(each) for each in (choices, why[0], why[2]))
    except ValueError:
        return None
    whole = (scene, number, version, step, reveal, answer)
    if (
        not all(isinstance(each, int) and each >= 0 for each in whole)
        or not all(isinstance(each, str) for each in (prompt, why[1]))
        or not answer < len(choices)
        or not {len(reasons), len(mixups)} <= {0, len(choices)}
    ):
        return None
    return Asked(
        *(scene, number, step, reveal, prompt, tuple(choices), answer, tuple(reasons), version),
        because=why[1],
        mixups=tuple(mixups),
    )


def _take_answer(
    found: dict[Key, tuple[Asked, list[Answers]]],
    key: Key,
    round: Any,
    pupil: object,
    choice: Any,
) -> bool:
    """Put an answer where it belongs; False where it belongs nowhere."""
    if key not in found or not isinstance(pupil, str):
        return False
    asked, rounds = found[key]
    if not _is_answer(asked, round, choice):
        return False
    while len(rounds) < round:
        rounds.append({})
    rounds[round - 1][pupil] = choice
    return True


def _is_answer(asked: Asked, round: Any, choice: Any) -> bool:
    """Whether this is a round that there can be, and a choice of the question."""
    whole = isinstance(round, int) and isinstance(choice, int)
    return whole and 1 <= round <= MOST_ROUNDS and 0 <= choice < len(asked.choices)
