"""A choice of the teacher's own that a usual mix-up gives as well keeps the mix-up's name."""

from __future__ import annotations

from app.lesson.asking.mixups import MixUp
from app.lesson.file.shelf import Shelf
from app.paths import resource

SHELF = Shelf(resource("lessons"))


def test_it_keeps_the_name() -> None:
    """LOAD child has the address 5 in it, and 3 stands there. The accumulator held 5 before as
    well: which of the two is meant, the reason says."""
    slug, choice, mixup, reason = (
        "02-ferry-ticket-machine",
        "5",
        MixUp.ADDRESS_FOR_CONTENTS,
        "here 5 is an address",
    )
    lesson = SHELF.lesson(slug)
    assert lesson
    # The written choices of the second scene.
    (asked, at) = next(
        (each, each.choices.index(choice))
        for each in reversed(lesson.scenes[1].questions)
        if choice in each.choices
    )
    assert asked.mixups[at] == mixup
    assert reason.casefold() in asked.reasons[at].casefold()
