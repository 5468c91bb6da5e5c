"""Keeps one lesson in the store, and teaching goes on where the store fails.

What cannot be written now is written later, in the same order, as soon as the store takes it;
meanwhile the lesson has it in memory, and the teacher is told.
"""

from __future__ import annotations

import sys
import threading
from collections.abc import Callable
from typing import Any

from .ballot import Asked
from .finished import TaskKey
from .store import Kept, NotKept, Store, StoreClosed, StoreError


class Keeper:
    """The record of a lesson's ballot, and of where the class is.

    ``added`` is False where the store does not have the lesson itself yet. Of what waits there is
    no more than the lesson has: another answer takes the place of the one before.
    """

    def __init__(self, store: Store, kept: Kept, added: bool = True) -> None:
        self.kept = kept
        self._trouble = ""
        self._store = store
        self._later: dict[tuple[object, ...], Callable[[], None]] = {}
        self._lock = threading.RLock()
        if not added:
            self._write(("lesson",), lambda: store.put(kept))

    def bookmark(self, bookmark: dict[str, Any]) -> None:
        """Where the class is."""
        self._write(("bookmark",), lambda: self._store.save_bookmark(self.kept.name, bookmark))

    def asked(self, question: Asked) -> None:
        self._write(
            ("asked", question.key), lambda: self._store.save_asked(self.kept.name, question)
        )

    def answered(self, question: Asked, round: int, pupil: str, choice: int) -> None:
        self._promise(
            ("answered", question.key, round, pupil),
            lambda: self._store.save_answer(self.kept.name, question, round, pupil, choice),
        )

    def finished(self, task: TaskKey, pupil: str) -> None:
        self._promise(
            ("finished", task, pupil),
            lambda: self._store.save_finished(self.kept.name, task, pupil),
        )

    def end(self) -> None:
        """The lesson is over."""
        self._write(("end",), lambda: self._store.end(self.kept.name))

    @property
    def trouble(self) -> str:
        """What keeps the lesson from being kept, in words for the teacher; empty where all is
        well."""
        return self._trouble or self._store.trouble

    @property
    def waits(self) -> bool:
        """Whether there is something that could not be written yet."""
        return bool(self._later)

    def _write(self, what: tuple[object, ...], write: Callable[[], None]) -> None:
        with self._lock:
            self._later[what] = write
            self.catch_up()

    def _promise(self, what: tuple[object, ...], write: Callable[[], None]) -> None:
        """Write what a pupil is told is kept. Raises StoreClosed where it is not, and will not be:
        whoever is told so sends it again, to the Chalkcycle that is started next."""
        with self._lock:
            self._write(what, write)
            if what in self._later and self._store.closed:
                raise StoreClosed("Chalkcycle is being stopped.")

    def catch_up(self) -> None:
        """Write what waits, as far as the store takes it."""
        with self._lock:
            while self._later:
                what, write = next(iter(self._later.items()))
                try:
                    write()
                except StoreClosed:
                    return  # nobody is there to be told, and nothing can be mended
                except NotKept as error:
                    # It was deleted while it went on: there is nothing to write this to.
                    self._tell(str(error))
                    del self._later[what]
                    continue
                except StoreError as error:
                    self._tell(str(error))
                    return
                del self._later[what]
                self._trouble = ""

    def _tell(self, trouble: str) -> None:
        if not self.trouble:
            print(trouble, file=sys.stderr)
        self._trouble = trouble
