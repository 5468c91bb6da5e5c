"""Who has finished the task of a scene: counted once each, and nothing else is told of them."""

from __future__ import annotations

from collections.abc import Mapping
from threading import RLock

from .ballot import NoRecord, Record, Refused


class Finished:
    """The names of those who have finished, by scene, counted from 0; of each scene no more than
    ``most``. The lock is the session's own."""

    def __init__(
        self,
        lock: RLock,  # type: ignore[valid-type]
        record: Record | None,
        most: int,
    ) -> None:
        self._lock = lock
        self._record = record or NoRecord()
        self._most = most
        self._names: dict[int, set[str]] = {}

    def count(self, scene: int) -> int:
        """How many have finished the task of a scene."""
        return len(self._names.get(scene, ()))

    def has(self, pupil: str) -> bool:
        """Whether this pupil has finished any task."""
        return any(pupil in names for names in self._names.values())

    @property
    def pupils(self) -> set[str]:
        """Who has finished any task."""
        with self._lock:
            return set().union(*self._names.values())

    def add(self, scene: int, pupil: str) -> bool:
        """Count a pupil; whether that is new. Raises Refused where there are too many."""
        with self._lock:
            names = self._names.setdefault(scene, set())
            if pupil in names:
                return False
            if len(names) >= self._most:
                raise Refused("More have finished than there is room for. Tell your teacher.")
            self._record.finished(scene, pupil)
            names.add(pupil)
            return True

    def restore(self, kept: Mapping[int, set[str]]) -> None:
        """Take up what was kept."""
        with self._lock:
            self._names = {scene: set(names) for scene, names in kept.items()}
