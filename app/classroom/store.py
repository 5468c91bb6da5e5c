"""What a lesson keeps, in SQLite: where the class is, what was asked, what was answered.

Nothing about a pupil is kept but a random name that lasts for one lesson. Everything is written
before it is acknowledged. The write-ahead log is on: what was written is there after the
server's process is killed. (After a failure of the power the last writes may be missing, but the
file is sound: waiting for the disk at every step would hold up the whole class.)
"""

from __future__ import annotations

import json
import os
import sqlite3
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from .ballot import Answers, Asked, Key
from .tokens import new_code, new_key

KEEP_DAYS = 30
# A teacher's key is used again by a server that is started again on the same day.
KEY_HOURS = 12
_TIDY_SECONDS = 3600.0
_VERSION = 1

_TABLES = """
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
"""


class StoreError(Exception):
    """The store cannot be used, and why, in words for the teacher."""


@dataclass(frozen=True, slots=True)
class Kept:
    """A lesson as the store knows it. Times are seconds since the epoch; ``bookmark`` is
    what :meth:`Store.save_bookmark` was given."""

    name: str
    code: str
    slug: str
    title: str
    started: float
    seen: float
    ended: bool
    bookmark: dict[str, Any]


class Store:
    """The lessons of this machine's teacher, in a file, or in memory where ``path`` is None.

    Raises StoreError where the file cannot be used. Safe to call from several threads.
    """

    def __init__(self, path: Path | None, clock: Callable[[], float] = time.time) -> None:
        self.path = path
        self._clock = clock
        self._lock = threading.RLock()
        self._tidied = 0.0
        try:
            self._database = self._open()
        except (OSError, sqlite3.Error) as error:
            raise StoreError(
                f"Results cannot be kept in '{path}': {error}. Give another file with --store."
            ) from error
        self.tidy()

    def _open(self) -> sqlite3.Connection:
        if self.path is not None:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            # Made before SQLite does, so that nobody else on this machine may read it.
            os.close(os.open(self.path, os.O_CREAT | os.O_RDWR, 0o600))
        database = sqlite3.connect(
            str(self.path or ":memory:"), isolation_level=None, check_same_thread=False, timeout=5
        )
        for pragma in (
            "journal_mode = WAL",
            "synchronous = NORMAL",
            "foreign_keys = ON",
            # What is deleted is overwritten, not only forgotten.
            "secure_delete = ON",
        ):
            database.execute(f"PRAGMA {pragma}")
        version = database.execute("PRAGMA user_version").fetchone()[0]
        if version > _VERSION:
            raise OSError("it was written by a newer Chalkcycle")
        if version < _VERSION:
            database.executescript(f"BEGIN; {_TABLES} PRAGMA user_version = {_VERSION}; COMMIT;")
        return database

    @contextmanager
    def _using(self) -> Iterator[sqlite3.Connection]:
        with self._lock:
            try:
                yield self._database
            except sqlite3.Error as error:
                raise StoreError(f"'{self.path or 'memory'}' cannot be used: {error}.") from error

    # Lessons.

    def add(self, name: str, slug: str, title: str) -> Kept:
        """A new lesson, with a code that no other lesson has."""
        now = self._clock()
        with self._using() as database:
            while True:
                code = new_code()
                added = database.execute(
                    "INSERT OR IGNORE INTO lesson (name, code, slug, title, started, seen)"
                    " VALUES (?, ?, ?, ?, ?, ?)",
                    (name, code, slug, title, now, now),
                )
                if added.rowcount:
                    return Kept(name, code, slug, title, now, now, False, {})

    def save_bookmark(self, name: str, bookmark: dict[str, Any]) -> None:
        """Where the class is; any data that JSON can hold."""
        now = self._clock()
        with self._using() as database:
            database.execute(
                "UPDATE lesson SET place = ?, seen = ? WHERE name = ?",
                (json.dumps(bookmark, separators=(",", ":")), now, name),
            )
        if now - self._tidied > _TIDY_SECONDS:
            self.tidy()

    def end(self, name: str) -> None:
        """The lesson is over: it cannot be followed any more, but its results are kept."""
        with self._using() as database:
            database.execute("UPDATE lesson SET ended = 1 WHERE name = ?", (name,))

    def delete(self, name: str) -> bool:
        """Delete a lesson with all that was answered; False where there is none."""
        with self._using() as database:
            deleted = database.execute("DELETE FROM lesson WHERE name = ?", (name,)).rowcount > 0
            self._empty_log(database)
        return deleted

    def lesson(self, name: str) -> Kept | None:
        return next(iter(self._lessons("WHERE name = ?", name)), None)

    def lesson_of_code(self, code: str) -> Kept | None:
        """The lesson that is joined by a code, unless it is over."""
        return next(iter(self._lessons("WHERE code = ? AND NOT ended", code)), None)

    def has_ended(self, code: str) -> bool:
        """Whether the lesson that was joined by a code is over."""
        return bool(self._lessons("WHERE code = ? AND ended", code))

    def lessons(self) -> list[Kept]:
        """Every lesson that is kept, the newest first."""
        return self._lessons("ORDER BY started DESC")

    def _lessons(self, where: str, *values: object) -> list[Kept]:
        columns = "name, code, slug, title, started, seen, ended, place"
        with self._using() as database:
            rows = database.execute(f"SELECT {columns} FROM lesson {where}", values).fetchall()
        return [
            Kept(name, code, slug, title, started, seen, bool(ended), json.loads(place))
            for name, code, slug, title, started, seen, ended, place in rows
        ]

    # Questions and answers.

    def save_asked(self, name: str, asked: Asked) -> None:
        with self._using() as database:
            database.execute(
                "INSERT OR IGNORE INTO asked VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
                (
                    name,
                    *(asked.scene, asked.number, asked.step, asked.reveal_step, asked.prompt),
                    json.dumps(asked.choices),
                    asked.answer,
                    json.dumps(asked.reasons),
                ),
            )

    def save_answer(self, name: str, asked: Asked, round: int, pupil: str, choice: int) -> None:
        with self._using() as database:
            database.execute(
                "INSERT INTO answer VALUES (?, ?, ?, ?, ?, ?)"
                " ON CONFLICT DO UPDATE SET choice = excluded.choice",
                (name, asked.scene, asked.number, round, pupil, choice),
            )

    def questions(self, name: str) -> dict[Key, tuple[Asked, list[Answers]]]:
        """What was asked in a lesson, with the answers of each round."""
        with self._using() as database:
            rows = database.execute(
                "SELECT scene, number, step, reveal_step, prompt, choices, answer, reasons"
                " FROM asked WHERE lesson = ?",
                (name,),
            ).fetchall()
            answers = database.execute(
                "SELECT scene, number, round, pupil, choice FROM answer WHERE lesson = ?", (name,)
            ).fetchall()
        found: dict[Key, tuple[Asked, list[Answers]]] = {}
        for scene, number, step, reveal, prompt, choices, answer, reasons in rows:
            asked = Asked(
                *(scene, number, step, reveal, prompt),
                tuple(json.loads(choices)),
                answer,
                tuple(json.loads(reasons)),
            )
            found[asked.key] = (asked, [])
        for scene, number, round, pupil, choice in answers:
            rounds = found[scene, number][1]
            while len(rounds) < round:
                rounds.append({})
            rounds[round - 1][pupil] = choice
        return found

    # The teacher's key.

    def key(self) -> str:
        """The teacher's secret: the one before while that server's lessons are of today, so that
        the teacher's pages come back by themselves; else a new one."""
        now = self._clock()
        with self._using() as database:
            row = database.execute("SELECT value FROM setting WHERE name = 'key'").fetchone()
            last = database.execute("SELECT max(seen) FROM lesson").fetchone()[0]
            if row and last is not None and now - last < KEY_HOURS * 3600:
                return str(row[0])
            key = new_key()
            database.execute("INSERT OR REPLACE INTO setting VALUES ('key', ?)", (key,))
            return key

    # Nothing is kept for ever.

    def tidy(self) -> int:
        """Delete the lessons that were last taught more than KEEP_DAYS ago; answers how many."""
        now = self._clock()
        self._tidied = now
        with self._using() as database:
            deleted = database.execute(
                "DELETE FROM lesson WHERE seen < ?", (now - KEEP_DAYS * 86400,)
            ).rowcount
            if deleted:
                self._empty_log(database)
        return deleted

    @staticmethod
    def _empty_log(database: sqlite3.Connection) -> None:
        """What was deleted is not in the write-ahead log either."""
        database.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()

    def close(self) -> None:
        with self._using() as database:
            database.close()


class LessonRecord:
    """The record of one lesson's ballot."""

    def __init__(self, store: Store, name: str) -> None:
        self._store = store
        self._name = name

    def asked(self, question: Asked) -> None:
        self._store.save_asked(self._name, question)

    def answered(self, question: Asked, round: int, pupil: str, choice: int) -> None:
        self._store.save_answer(self._name, question, round, pupil, choice)
