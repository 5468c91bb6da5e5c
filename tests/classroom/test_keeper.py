"""What the store does not take now it is given later, and the lesson does not wait for it."""

from __future__ import annotations

from pathlib import Path
from threading import RLock

import pytest

from app.classroom.ballot import Ballot
from app.classroom.keeper import Keeper
from app.classroom.store import Kept, Store, StoreError
from tests.classroom.test_store import ASKED


class Failing(Store):
    """A store whose disk can be full."""

    full = False

    def _using(self, lasting: bool = False):  # type: ignore[no-untyped-def]
        if self.full:
            raise StoreError("the disk is full")
        return super()._using(lasting)


@pytest.fixture
def store() -> Failing:
    return Failing(None)


def test_what_waited_is_written_in_its_order(store: Failing) -> None:
    keeper = Keeper(store, store.add("name", "slug", "Title"))
    store.full = True
    keeper.asked(ASKED)
    for choice in (0, 2):
        keeper.answered(ASKED, 1, "one", choice)
    for step in range(1000):
        keeper.bookmark({"step": step})
    assert "full" in keeper.trouble and keeper.waits and len(keeper._later) == 3
    store.full = False
    keeper.catch_up()
    assert not keeper.trouble and not keeper.waits
    assert store.questions("name") == {ASKED.key: (ASKED, [{"one": 2}])}
    assert store.bookmark("name") == {"step": 999}


def test_the_lesson_itself_can_come_later(store: Failing) -> None:
    store.full = True
    keeper = Keeper(store, Kept("name", "CCCCC", "slug", "Title", 1.0, 2e9, False), added=False)
    keeper.asked(ASKED)
    keeper.end()
    store.full = False
    keeper.catch_up()
    kept = store.lesson("name")
    assert kept and kept.ended and kept.code == "CCCCC" and store.questions("name")


def test_what_was_deleted_meanwhile_stays_deleted(store: Failing) -> None:
    keeper = Keeper(store, store.add("name", "slug", "Title"))
    store.delete("name")
    keeper.asked(ASKED)
    keeper.answered(ASKED, 1, "one", 0)
    assert "no such lesson" in keeper.trouble and not keeper.waits and not store.questions("name")


def test_the_trouble_of_a_stand_in_is_told_all_along() -> None:
    keeper = Keeper(store := Store(None, trouble="a memory only"), store.add("name", "s", "T"))
    keeper.bookmark({})
    assert keeper.trouble == "a memory only"


def test_an_answer_is_not_promised_once_the_store_is_closed(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Connections are served to the last: an answer that came just after was in memory alone."""
    store = Store(tmp_path / "store")
    keeper = Keeper(store, store.add("name", "slug", "Title"))
    ballot = Ballot(RLock(), lambda: None, keeper, 10)
    ballot.open(ASKED)
    ballot.answer("one", ASKED.key, 1, 0)
    store.close()
    for pupil, choice in (("one", 2), ("two", 1)):
        with pytest.raises(StoreError, match="stopped"):
            ballot.answer(pupil, ASKED.key, 1, choice)
    with pytest.raises(StoreError, match="stopped"):
        keeper.finished((0, "task"), "one")
    # What nobody was promised is let go, without a word.
    keeper.bookmark({})
    assert ballot.answer_of("one") == 0 and ballot.answer_of("two") is None
    assert capsys.readouterr().err == ""
    assert Store(tmp_path / "store").questions("name")[ASKED.key][1] == [{"one": 0}]


@pytest.mark.parametrize(
    ("fails", "mended", "words"),
    [
        ("PRAGMA max_page_count = 1", "PRAGMA max_page_count = 1000000", "full"),
        ("PRAGMA query_only = ON", "PRAGMA query_only = OFF", "readonly"),
    ],
)
def test_a_file_that_is_full_or_read_only(
    tmp_path: Path, fails: str, mended: str, words: str
) -> None:
    """As SQLite itself says it."""
    store = Store(tmp_path / "store")
    keeper = Keeper(store, store.add("name", "slug", "Title"))
    store._database.execute(fails)
    keeper.asked(ASKED)
    for number in range(500):
        keeper.answered(ASKED, 1, f"pupil {number}", 0)
    assert words in keeper.trouble and keeper.waits
    store._database.execute(mended)
    keeper.catch_up()
    assert not keeper.trouble and len(store.questions("name")[ASKED.key][1][0]) == 500
