"""A session: the cursor in a lesson, what moves it, and its clock."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from weakref import ref

import pytest

from app.classroom import session as session_module
from app.classroom.session import END_OF_LESSON, END_OF_SCENE, Session
from app.classroom.view import View, Went
from app.lesson.blocks.cues import CueSheet
from app.lesson.file.reader import read_lesson
from app.lesson.header import Depth
from app.lesson.model import Lesson
from app.lesson.pressing import Pressing
from app.machine.run import Run
from tests.asking import ASKING
from tests.conftest import BROKEN, SHORT_STEPS
from tests.showing import show_with


@pytest.fixture
def views() -> list[View]:
    """Every view that the session told, the first one too."""
    return []


@pytest.fixture
def session(short_lesson: Lesson, views: list[View]) -> Iterator[Session]:
    made = Session("name", short_lesson, views.append)
    yield made
    made.close()


class Clock:
    """Timers that go off when the test says so."""

    def __init__(self) -> None:
        self.timers: list[Timer] = []

    def __call__(self, seconds: float, call: Callable[..., None], args: tuple) -> Timer:
        timer = Timer(self, seconds, lambda: call(*args))
        return timer

    def strike(self) -> None:
        """Let the one timer that is set go off."""
        (timer,) = self.timers
        self.timers.clear()
        timer.call()


class Timer:
    daemon = False

    def __init__(self, clock: Clock, seconds: float, call: Callable[[], None]) -> None:
        self.clock, self.seconds, self.call = clock, seconds, call

    def start(self) -> None:
        self.clock.timers.append(self)

    def cancel(self) -> None:
        if self in self.clock.timers:
            self.clock.timers.remove(self)


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Clock:
    made = Clock()
    monkeypatch.setattr(session_module.threading, "Timer", made)
    return made


def test_a_lesson_with_faults_is_not_taught() -> None:
    with pytest.raises(ValueError, match="faults"):
        Session("name", read_lesson("broken", BROKEN))


def test_starts_before_the_first_step(session: Session, views: list[View]) -> None:
    assert [(each.step, each.went) for each in views] == [(0, Went.THERE)]
    assert session.view().moment.step is None
    assert session.view().cue.words == "Two coins lie on the table."


def test_forward_to_the_end_and_back_to_the_start(session: Session, views: list[View]) -> None:
    for _ in range(SHORT_STEPS + 1):
        session.forward()
    assert [each.step for each in views] == [*range(SHORT_STEPS + 1), SHORT_STEPS]
    # At the end there is nowhere to go on to, so nothing must be shown moving.
    assert [each.went for each in views[-2:]] == [Went.ON, Went.THERE]
    for _ in range(SHORT_STEPS + 3):
        session.back()
    assert session.view().step == 0
    assert views[-1].went is Went.BACK


def test_a_clicker_alone_goes_through_the_whole_lesson(session: Session) -> None:
    """The end of a scene is told before the next press leaves it, and back leads back to it."""
    for _ in range(SHORT_STEPS):
        session.forward()
    assert session.view().notice == ""
    session.forward()
    assert (session.view().scene_number, session.view().step) == (0, SHORT_STEPS)
    assert session.view().notice == END_OF_SCENE
    session.forward()
    assert (session.view().scene_number, session.view().step) == (1, 0)
    assert session.view().notice == ""
    session.back()
    assert (session.view().scene_number, session.view().step) == (0, SHORT_STEPS)
    assert session.view().went is Went.BACK
    session.go_to_scene(1)
    last = session.lesson.scenes[1].run.last_step
    for _ in range(last + 3):
        session.forward()
    assert (session.view().scene_number, session.view().step) == (1, last)
    assert session.view().notice == END_OF_LESSON


def test_every_view_is_that_of_its_step(session: Session, views: list[View]) -> None:
    """The accumulator as worked by hand: 5 after LOAD #5, 8 after ADD #3."""
    for _ in range(SHORT_STEPS):
        session.forward()
    accumulators = [each.moment.after.acc for each in views]
    assert accumulators == [0] * 6 + [5] * 6 + [8] * 13


def test_phases_and_instructions(session: Session, views: list[View]) -> None:
    for move in (
        session.forward_phase,  # the fetch
        session.forward_phase,  # the decode
        session.forward_phase,  # the execute
        session.forward_instruction,
        session.forward,
        session.forward_instruction,  # the rest of the third
        session.back_instruction,
        session.back_instruction,
        session.restart,
    ):
        move()
    assert [each.step for each in views[1:]] == [4, 5, 6, 12, 13, 18, 12, 6, 0]


def test_depth_of_phases_steps_by_phases(session: Session) -> None:
    show_with(session, depth=Depth.PHASES)
    steps = []
    for move in (session.forward, session.forward, session.forward, session.back, session.back):
        move()
        steps.append(session.view().step)
    assert steps == [4, 5, 6, 5, 4]


def test_changing_depth_keeps_the_place(session: Session, views: list[View]) -> None:
    session.forward()
    session.forward()
    show_with(session, depth=Depth.PHASES)
    assert (views[-1].step, views[-1].went) == (2, Went.THERE)
    # From the middle of a phase, on to its end.
    session.forward()
    assert session.view().step == 4


def test_any_step(session: Session) -> None:
    session.go_to_step(SHORT_STEPS)
    assert session.view().step == SHORT_STEPS
    for wrong in (-1, SHORT_STEPS + 1):
        with pytest.raises(IndexError, match="no step"):
            session.go_to_step(wrong)
    assert session.view().step == SHORT_STEPS


def test_scenes(session: Session, views: list[View]) -> None:
    session.forward()
    session.change_scene(1)
    assert (views[-1].scene_number, views[-1].step) == (1, 0)
    session.change_scene(1)
    assert (views[-1].scene_number, views[-1].notice) == (1, END_OF_LESSON)
    session.change_scene(-1)
    assert (views[-1].scene_number, views[-1].step) == (0, 0)
    for wrong in (-1, 2):
        with pytest.raises(IndexError, match="no scene"):
            session.go_to_scene(wrong)


def test_the_two_scenes_run_their_own_programs(session: Session) -> None:
    session.go_to_step(6)
    first = session.view().moment.after.acc
    session.go_to_scene(1)
    session.go_to_step(6)
    assert (first, session.view().moment.after.acc) == (5, 6)


def test_settings(session: Session, views: list[View]) -> None:
    show_with(session, base="binary")
    show_with(session, speed=8.0)
    show_with(session, movement=False)
    show_with(session, blank=True)
    settings = views[-1].settings
    assert (settings.base, settings.speed, settings.movement, settings.blank) == (
        "binary",
        8.0,
        False,
        True,
    )


def test_play_goes_a_step_a_tick_to_the_end(session: Session, clock: Clock) -> None:
    session.play()
    steps = [session.view().step]
    while session.view().settings.playing:
        clock.strike()
        steps.append(session.view().step)
    # The last tick finds no further step, and playing is over.
    assert steps == [*range(1, SHORT_STEPS + 1), SHORT_STEPS]
    assert not clock.timers


def test_play_keeps_the_pace_that_is_set(session: Session, clock: Clock) -> None:
    session.play()
    slow = clock.timers[0].seconds
    show_with(session, speed=8.0)
    assert session.view().settings.playing, "a change of speed must not stop the clock"
    clock.strike()
    # The first two steps of a fetch move one value and two in turn, so compare the first with
    # itself: played again at the new speed.
    session.restart()
    session.play()
    assert clock.timers[0].seconds == pytest.approx(slow / 8)


def test_pause_stops(session: Session, clock: Clock, views: list[View]) -> None:
    session.play()
    session.pause()
    assert not clock.timers
    assert not session.view().settings.playing
    count = len(views)
    session.pause()
    assert len(views) == count


@pytest.mark.parametrize(
    "move",
    ["forward", "back", "forward_phase", "forward_instruction", "back_instruction", "restart"],
)
def test_a_person_who_moves_takes_over(session: Session, clock: Clock, move: str) -> None:
    session.play()
    getattr(session, move)()
    assert not session.view().settings.playing
    assert not clock.timers


def test_quick_pause_and_play_leaves_one_clock(session: Session, clock: Clock) -> None:
    session.play()
    late = clock.timers[0]
    for _ in range(5):
        session.pause()
        session.play()
        session.play()
    assert len(clock.timers) == 1
    step = session.view().step
    # A tick that was under way when the pause came: too late, it must not count.
    late.call()
    assert session.view().step == step
    assert len(clock.timers) == 1
    clock.strike()
    assert session.view().step == step + 1


def test_closing_stops_the_clock(session: Session, clock: Clock) -> None:
    session.play()
    session.close()
    assert not clock.timers


def test_plays_on_a_real_clock(short_lesson: Lesson, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(session_module, "rest_seconds", lambda *arguments: 0.001)
    ended = threading.Event()
    steps: list[int] = []

    def watch(view: View) -> None:
        steps.append(view.step)
        if view.step == SHORT_STEPS and not view.settings.playing:
            ended.set()

    session = Session("name", short_lesson, watch)
    session.play()
    assert ended.wait(20)
    assert steps == [*range(SHORT_STEPS + 1), SHORT_STEPS]


def test_many_fingers_on_many_keys(short_lesson: Lesson) -> None:
    """Every press counts once, and the steps are told in the order in which they were made."""
    steps: list[int] = []
    session = Session("name", short_lesson, lambda view: steps.append(view.step))
    with ThreadPoolExecutor(12) as pool:
        for each in [pool.submit(session.forward) for _ in range(12)]:
            each.result(20)
        assert session.view().step == 12
        for each in [pool.submit(session.back) for _ in range(7)]:
            each.result(20)
    assert session.view().step == 5
    assert steps == [*range(13), *range(11, 4, -1)]


def test_fingers_against_each_other(short_lesson: Lesson) -> None:
    """Whatever is pressed at once, the cursor stands on a step of the run and the clock stops."""
    session = Session("name", short_lesson, lambda view: None)
    show_with(session, speed=8.0)
    moves = [
        session.forward,
        session.back,
        session.play,
        session.pause,
        session.forward_phase,
        session.back_instruction,
        lambda: session.change_scene(1),
        lambda: session.change_scene(-1),
    ]
    with ThreadPoolExecutor(8) as pool:
        for each in [pool.submit(moves[at % len(moves)]) for at in range(400)]:
            each.result(20)
    session.close()
    view = session.view()
    assert not view.settings.playing
    assert view.scene.run.reaches(view.step)
    assert view.moment.after.steps == view.step


def test_where_each_question_is_asked_is_looked_up_once_for_all_presses(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A replay of hundreds of questions took minutes: each press looked all of them up again."""
    lesson = read_lesson("asking", ASKING)
    looked: list[int] = []
    ask_step = Pressing.ask_step
    monkeypatch.setattr(
        Pressing,
        "ask_step",
        lambda pressing, question: looked.append(question.number) or ask_step(pressing, question),
    )
    session = Session("name", lesson)
    for _ in range(8):
        session.step_on()
    asked = len(lesson.scenes[0].questions)
    assert asked and len(looked) <= 2 * asked
    session.change("depth")
    before = len(looked)
    session.step_on()
    assert len(looked) > before, "at another depth they are asked elsewhere"


@pytest.mark.parametrize("depth", ["transfers", "phases"])
def test_where_questions_are_is_told_without_looking_at_cues_or_running(
    depth: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The teacher's page tells it of all of them at every press and every answer: with 200 cues
    and 150 questions a press took ten times as long."""
    source = ASKING.replace("title:", f"depth: {depth}\ntitle:")
    session = Session("name", read_lesson("asking", source))
    scene = session.lesson.scenes[0]
    places = [scene.run.place(each) for each in range(scene.run.last_step + 1)]
    looked = 0

    def counted(*_: object) -> None:
        nonlocal looked
        looked += 1

    monkeypatch.setattr(CueSheet, "_done", counted)
    monkeypatch.setattr(Run, "_walk", counted)
    told = [session.place_in_words(each) for each in range(len(places))]
    assert looked == 0 and told[0] == "the start"
    for (instruction, number), words in zip(places[1:], told[1:], strict=True):
        step = "" if depth == "phases" else f", step {number}"
        assert words == f"instruction {instruction}{step}"


@pytest.mark.parametrize("depth", ["transfers", "phases"])
def test_a_run_that_is_let_go_is_held_by_no_session(depth: str) -> None:
    """Fifty boards may be open, and a long run takes twenty-five megabytes."""
    source = ASKING.replace("title:", f"depth: {depth}\ntitle:")
    views: list[View] = []
    session = Session("name", read_lesson("asking", source), views.append)
    for press in (session.forward, session.onward, session.step_on, session.back):
        press()
    scene = session.lesson.scenes[0]
    run = ref(scene.run)
    scene.let_go()
    assert run() is None
    # It is worked out again where it is needed.
    step = views[-1].step
    session.step_on()
    assert views[-1].step > step
