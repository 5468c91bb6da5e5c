"""The teacher's key: a secret that is good for one day, whatever happens to the clock."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable

from .store import DAY_SECONDS, Store, StoreError
from .tokens import new_key, same

# A key is not taken away in the middle of a lesson: only after an hour without a press.
REST_SECONDS = 3600.0
TICKET_SECONDS = 300.0


def steady() -> float:
    """Seconds by a clock that nobody sets; while the machine sleeps it goes on, where there is
    such a clock."""
    if sys.platform == "linux":
        return time.clock_gettime(time.CLOCK_BOOTTIME)
    return time.monotonic()


class Keyring:
    """The key that is good now. One that was made less than a day ago is taken up from the
    store, so that the teacher's pages come back after a restart; ``renew`` makes a new one.

    ``on_new`` is called with each key that takes the place of one that got too old.
    """

    def __init__(
        self,
        store: Store | None = None,
        renew: bool = False,
        steady: Callable[[], float] = steady,
        on_new: Callable[[str], None] = lambda key: None,
    ) -> None:
        self.on_new = on_new
        self._store = store
        self._steady = steady
        self._ticket: tuple[str, float] | None = None
        self._pressed = steady()
        self._begin(None if renew else self._kept())

    @classmethod
    def of(cls, key: str) -> Keyring:
        """A keyring with this key, which nobody keeps."""
        made = cls()
        made.key = key
        return made

    def _now(self) -> float:
        return self._store.clock() if self._store else time.time()

    def _begin(self, kept: tuple[str, float] | None) -> None:
        """Use a key that was kept with its age in seconds, or make one."""
        self.key, age = kept or (new_key(), 0.0)
        self._made = self._now() - age
        self._made_steady = self._steady() - age
        if kept or not self._store:
            return
        try:
            self._store.set({"key": self.key, "key made": repr(self._made)})
        except StoreError as error:
            print(f"The teacher's key is not kept: {error}", file=sys.stderr)

    def _kept(self) -> tuple[str, float] | None:
        if not self._store:
            return None
        try:
            key, made = self._store.setting("key"), self._store.setting("key made")
            age = self._now() - float(made or "nan")
        except (StoreError, ValueError) as error:
            print(f"The teacher's key is a new one: {error}", file=sys.stderr)
            return None
        # A key of the future is one of a clock that was wrong: nobody knows how old it is.
        return (key, age) if key and 0 <= age < DAY_SECONDS else None

    def opens(self, given: str) -> bool:
        """Whether this is the key."""
        return same(given, self.key)

    def pressed(self) -> None:
        """The teacher is teaching."""
        self._pressed = self._steady()

    def look(self) -> None:
        """Make a new key where the one that is good now is too old, by any clock."""
        now = self._steady()
        age = max(self._now() - self._made, now - self._made_steady)
        if age >= DAY_SECONDS and now - self._pressed >= REST_SECONDS:
            self._begin(None)
            self.on_new(self.key)

    def ticket(self) -> str:
        """What lets the teacher's own browser in once, soon: an address with it may be seen by
        others on this machine, in the list of what runs."""
        self._ticket = (new_key(), self._steady())
        return self._ticket[0]

    def takes(self, ticket: str) -> bool:
        """Whether this ticket is good; it is not a second time."""
        if self._ticket is None:
            return False
        good = same(ticket, self._ticket[0])
        late = self._steady() - self._ticket[1] > TICKET_SECONDS
        if good or late:
            self._ticket = None
        return good and not late
