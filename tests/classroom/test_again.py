"""Mix-ups counted: the figures are added up by hand beside each check.

That groups under a least number are not told is common practice of those who publish statistics
about pupils; that five is the number is the project's own choice.
"""

from __future__ import annotations

import pytest

from app.classroom.again import Again, Count, Standing, again
from app.classroom.ballot import Asked, Spread
from app.classroom.store import KEEP_DAYS, Store
from app.lesson.file.reader import read_lesson
from tests.asking import ASKING, PROMPT, REVEAL_STEP, STEP
from tests.taught import asked_in, teach_class

ORDER, COPY = "which number comes first", "which way LOAD and STORE copy"


def question(*mixups: str, number: int = 1, answer: int = 0) -> Asked:
    choices = tuple(f"choice {at}" for at in range(len(mixups)))
    reasons = tuple(f"because of {number}.{at}" for at in range(len(mixups)))
    return Asked(0, number, 3, 9, "Well?", choices, answer, reasons, mixups=mixups)


def counted(*spreads: tuple[Asked, list[tuple[int, ...]]]) -> Again:
    return again(("monday", Spread(asked, tuple(rounds))) for asked, rounds in spreads)


def test_before_and_after_are_added_up_over_questions() -> None:
    found = counted(
        (question("", ORDER, COPY, number=1), [(10, 12, 6), (20, 6, 1)]),
        (question(ORDER, "", number=2, answer=1), [(9, 11)]),
    )
    order, copy = found.shown
    # 12 of 28 and 9 of 20; only the first was asked again, when 6 of 27 fell for it.
    assert (order.mixup, order.before, order.after) == (ORDER, Count(12, 28), Count(6, 27))
    assert (order.once, order.first) == (Count(9, 20), Count(21, 48))
    assert (copy.mixup, copy.before, copy.after) == (COPY, Count(6, 28), Count(1, 27))
    assert (found.answers, found.questions) == (48, 2)
    # 12 of 28 are 42.9, 6 of 27 are 22.2 and 9 of 20 are 45 of a hundred.
    assert [each.percent for _, each in order.bars] == ["43%", "22%", "45%"]
    # Told by the question where most fell for it.
    assert (order.reason, order.asked.number) == ("because of 1.1", 1)
    assert copy.after and copy.after.words == "fewer than 5 of 27"


def test_the_largest_share_comes_first() -> None:
    found = counted(
        (question("", ORDER, number=1), [(50, 10)]), (question("", COPY, number=2), [(1, 6)])
    )
    # 10 of 60 are a smaller part than 6 of 7.
    assert [each.mixup for each in found.shown] == [COPY, ORDER]


def test_a_warm_up_on_another_day_stands_apart() -> None:
    asked = question("", ORDER)
    spreads = [("monday", Spread(asked, ((4, 6), (8, 2)))), ("tuesday", Spread(asked, ((3, 7),)))]
    (order,) = again(spreads, {"tuesday"}).shown
    assert (order.before, order.after) == (Count(6, 10), Count(2, 10))
    assert (order.once, order.warm_up) == (None, Count(7, 10))
    (alone,) = again(spreads[1:], {"tuesday"}).shown
    assert alone.bars == (("in the warm-up", Count(7, 10)),)


def test_a_wrong_choice_without_a_mixup_that_many_made_is_listed() -> None:
    asked = question("", "", ORDER, "")
    found = counted((asked, [(3, 9, 0, 4)]))
    (often,) = found.often
    assert (often.choice, often.count, often.reason) == ("choice 1", Count(9, 16), "because of 1.1")
    assert (often.lesson, often.asked, found.unnamed) == ("monday", asked, 13)


def test_two_wrong_choices_may_come_from_one_mixup() -> None:
    (order,) = counted((question("", ORDER, ORDER), [(4, 3, 5)])).shown
    assert (order.before, order.after, order.reason) == (Count(8, 12), None, "because of 1.2")


@pytest.mark.parametrize(
    ("fell", "words"),
    [
        (Count(0, 30), "none of 30"),
        (Count(1, 30), "fewer than 5 of 30"),
        (Count(4, 30), "fewer than 5 of 30"),
        (Count(5, 30), "5 of 30"),
        (Count(2, 4), "too few answers"),
        (Count(4, 4), "too few answers"),
    ],
)
def test_fewer_than_five_are_not_told(fell: Count, words: str) -> None:
    assert fell.words == words


def test_small_groups_are_counted_together() -> None:
    found = counted((question("", ORDER, COPY, "what the carry tells"), [(20, 4, 3, 0)]))
    assert (found.shown, found.small, found.small_fell) == ((), 2, 7)
    # One that five fell for only after talking is shown, too.
    found = counted((question("", ORDER), [(20, 4), (15, 9)]))
    assert [each.mixup for each in found.shown] == [ORDER] and found.small == 0


def test_wrong_answers_without_a_mixup_are_counted_by_themselves() -> None:
    found = counted((question("", ORDER, ""), [(3, 5, 6)]))
    assert (found.unnamed, len(found.shown)) == (6, 1)
    # Of an older store no mix-ups are known: all that is wrong is without one.
    old = Asked(0, 1, 3, 9, "Well?", ("a", "b"), 0)
    assert counted((old, [(3, 9)])).unnamed == 9


def test_a_round_that_nobody_answered_is_none() -> None:
    (order,) = counted((question("", ORDER), [(1, 9), (2, 8), (0, 0)])).shown
    assert order.after == Count(8, 10)
    # Nobody had joined when it was asked first: what came then are the first answers.
    late = question("", ORDER, "")
    assert counted((late, [(0, 0, 0), (1, 9, 6)])) == counted((late, [(1, 9, 6)]))
    assert counted((late, [(0, 0, 0), (0, 0, 0)])) == again(())
    assert counted((question("", ORDER), [])) == again(())


def test_the_store_counts_what_it_keeps() -> None:
    """By SQLite, and one by one: the same."""
    store = Store(None)
    lesson = read_lesson("asking", ASKING)
    for at, name in enumerate(("monday", "tuesday")):
        teach_class(store, lesson, name, asked_in(lesson), pupils=9, seed=at)
    spreads = store.spreads()
    assert spreads.keys() == {"monday", "tuesday"}
    assert store.spreads("monday") == {"monday": spreads["monday"]}
    for name, found in spreads.items():
        kept = store.questions(name)
        assert {each.asked.key for each in found} == kept.keys() and len(found) == 2
        for each in found:
            asked, rounds = kept[each.asked.key]
            assert each.asked == asked and len(each.rounds) == len(rounds) == 2
            for counts, answers in zip(each.rounds, rounds, strict=True):
                choices = range(len(asked.choices))
                assert list(counts) == [[*answers.values()].count(at) for at in choices]
    store.close()


def test_what_is_deleted_is_not_counted() -> None:
    now = [1_000_000.0]
    store = Store(None, clock=lambda: now[0])
    lesson = read_lesson("asking", ASKING)
    teach_class(store, lesson, "monday", asked_in(lesson), pupils=9)
    now[0] += (KEEP_DAYS - 1) * 86_400
    teach_class(store, lesson, "later", asked_in(lesson), pupils=9)
    assert store.spreads().keys() == {"monday", "later"}
    now[0] += 2 * 86_400
    store.tidy()
    assert store.spreads().keys() == {"later"}
    store.delete("later")
    assert store.spreads() == {}
    store.close()


def test_a_question_is_found_where_the_lesson_has_it_now() -> None:
    lesson = read_lesson("asking", ASKING)
    asked = asked_in(lesson)[0]
    assert (asked.prompt, Standing(lesson, {PROMPT}).of(asked)) == (PROMPT, (0, STEP))
    # A scene before it, and a longer way there: by its words it is found all the same.
    moved = ASKING.replace("# One fare", "# Empty\n\n```program\nHALT\n```\n\n# One fare")
    moved = moved.replace(
        "        LOAD  fare\n        ADD", "        LOAD  #0\n        LOAD  fare\n        ADD"
    )
    # Fetch, decode and execute of LOAD #0 are 4, 1 and 1 steps.
    assert Standing(read_lesson("asking", moved), {PROMPT}).of(asked) == (1, STEP + 6)
    assert asked.reveal_step == REVEAL_STEP
    # With another number it is another question.
    other = read_lesson("asking", ASKING.replace("bag:    4", "bag:    5"))
    assert Standing(other, {PROMPT}).of(asked) is None


def test_only_scenes_that_may_ask_it_are_worked_out_and_no_more_than_at_once(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A file in the place of the one that was taught, with sixty scenes that take long."""
    scenes = "".join(
        f"# S{at}\n```program\nLOAD #{at}\nHALT\n```\n"
        f"```question\nbefore end: {'Which?' if at % 2 else 'What?'}\nask: the accumulator\n```\n"
        for at in range(6)
    )
    lesson = read_lesson("many", f"---\ntitle: Many\n---\n{scenes}")
    asked = asked_in(lesson)
    for scene in lesson.scenes:
        scene.let_go()
    assert Standing(lesson, {"Which?"}).of(asked[3]) == (3, asked[3].step)
    assert ["run" in vars(each) for each in lesson.scenes] == [False, True] * 3
    monkeypatch.setattr("app.lesson.at_once.FOLLOWED_IN_ALL", 1)
    assert Standing(lesson, {"Which?"}).of(asked[3]) is None
