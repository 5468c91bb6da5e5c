"""What was worked out of scenes with long runs, let go again where it would be too much.

Where everything happens in a run is found once and kept, for whoever goes back and forth in a
scene. Of a run of hundreds of thousands of steps that is many megabytes, and a lesson may have
sixty of those. So it is kept for the scenes that were looked at last; for another it is worked out
again when somebody comes back to it.
"""

from __future__ import annotations

import threading
from weakref import ref

# So much of it is kept, in steps of a run: twice what one lesson may take to be checked.
MOST_WORK = 600_000
# All of it is looked through when so many have come, or a part of what is there.
_COME = 4
_PART = 64


class WorkedOut:
    """What is kept, the oldest first. Nothing of it is kept alive for that."""

    def __init__(self, most_work: int = MOST_WORK) -> None:
        self._most = most_work
        self._kept: list[ref[Kept]] = []
        self._come = 0
        self._lock = threading.Lock()

    def add(self, one: Kept) -> None:
        """Something will be worked out of this now: what was first goes, where it is too much."""
        with self._lock:
            self._kept.append(ref(one))
            self._come += 1
            if self._come >= max(_COME, len(self._kept) // _PART):
                self._look_through()

    def _look_through(self) -> None:
        self._come = 0
        there: dict[int, Kept] = {}
        for each in self._kept:
            found = each()
            if found is not None:
                there.pop(id(found), None)
                there[id(found)] = found
        work = sum(each.work for each in there.values())
        # The last one is being looked at.
        for name in [*there][:-1]:
            if work <= self._most:
                break
            oldest = there.pop(name)
            work -= oldest.work
            oldest.let_go()
        self._kept = [ref(each) for each in there.values()]


class Kept:
    """What has something worked out of a run."""

    @property
    def work(self) -> int:
        """What it took to work out what is kept, in steps of a run."""
        raise NotImplementedError

    def let_go(self) -> None:
        """Forget it. It is worked out again where it is asked for."""
        raise NotImplementedError
