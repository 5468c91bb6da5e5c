"""Who has finished the task of a scene: counted once each, and nothing else is told of them.

A task is known by what a program has to do, as a question is by its content: one that stands in the
same place of a lesson file that has changed is another task, which nobody has done yet.
"""

from __future__ import annotations

from collections.abc import Mapping
from hashlib import blake2s
from threading import RLock

from app.lesson.model import Scene
from app.machine.growing import key_of

from .ballot import NoRecord, Record, Refused

# The scene, counted from 0, and what tells its task from others.
TaskKey = tuple[int, str]


def task_key(number: int, scene: Scene) -> TaskKey:
    """The task of a scene, counted from 0. Its goal may be put into better words. ValueError where
    the scene has none."""
    task = scene.task
    if task is None:
        raise ValueError(f"scene {number + 1} has no task")
    cases = [(each.inputs, each.outputs) for each in task.cases]
    asked = (key_of(scene.program.machine), cases, [tuple(each) for each in task.requests])
    return number, blake2s(repr(asked).encode(), digest_size=8).hexdigest()


class Finished:
    """The names of those who have finished, by task; of each no more than ``most``. The lock is the
    session's own."""

    def __init__(
        self,
        lock: RLock,  # type: ignore[valid-type]
        record: Record | None,
        most: int,
    ) -> None:
        self._lock = lock
        self._record = record or NoRecord()
        self._most = most
        self._names: dict[TaskKey, set[str]] = {}

    def count(self, task: TaskKey) -> int:
        """How many have finished a task."""
        return len(self._names.get(task, ()))

    def has(self, pupil: str) -> bool:
        """Whether this pupil has finished any task."""
        return any(pupil in names for names in self._names.values())

    @property
    def pupils(self) -> set[str]:
        """Who has finished any task."""
        with self._lock:
            return set().union(*self._names.values())

    def add(self, task: TaskKey, pupil: str) -> bool:
        """Count a pupil; whether that is new. Raises Refused where there are too many."""
        with self._lock:
            names = self._names.setdefault(task, set())
            if pupil in names:
                return False
            if len(names) >= self._most:
                raise Refused("More have finished than there is room for. Tell your teacher.")
            self._record.finished(task, pupil)
            names.add(pupil)
            return True

    def restore(self, kept: Mapping[TaskKey, set[str]]) -> None:
        """Take up what was kept."""
        with self._lock:
            self._names = {task: set(names) for task, names in kept.items()}
