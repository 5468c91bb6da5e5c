"""One lesson being taught: where the class is in it, and what moves it on.

A session is a cursor (scene, step) in a lesson with the settings of the board. Everything that
changes it goes through its methods, one at a time; each change is told to ``on_change`` with a
:class:`View`, which is all that a page needs to draw.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import replace
from typing import Any

from app.lesson.blocks.cues import Cue
from app.lesson.header import ONLY_IN_TRANSFERS, Depth
from app.lesson.model import Lesson, Scene
from app.lesson.parts import ALL_PARTS
from app.machine.run import Moment

from .ballot import Asked, Ballot, Record, Refused, State
from .bookmark import Bookmark
from .course import Course, course_of
from .pace import rest_seconds
from .settings import CHANGES, Settings
from .view import View, Went

# What the teacher is told where there is no step on.
END_OF_SCENE = "End of the scene. Once more leads on."
END_OF_LESSON = "End of the lesson."
# Where the file of the lesson has changed under a question.
ASKED_BEFORE = (
    "The question on the board is another one in the new version of the lesson, so it was put away."
    " Ask it again; what was answered before is kept."
)


class Session:
    """A lesson on the board. Safe to call from several threads.

    ``bookmark`` is where a session before this one was, ``record``
    where the answers of the class are written.
    """

    def __init__(
        self,
        name: str,
        lesson: Lesson,
        on_change: Callable[[View], None] = lambda view: None,
        bookmark: Bookmark | None = None,
        record: Record | None = None,
        class_size: int = 1000,
    ) -> None:
        if lesson.faults or not lesson.scenes:
            raise ValueError(f"the lesson '{lesson.slug}' has faults, so it cannot be taught")
        self.name = name
        self.lesson = lesson
        self.started = time.time()  # seconds since the epoch
        self._on_change = on_change
        self._lock = self.lock = threading.RLock()
        self._scene = 0
        self._step = 0
        self._went = Went.THERE
        self._settings = Settings(lesson.header.depth)
        self._clock: threading.Timer | None = None
        self._playings = 0
        # Parts that the teacher has shown or hidden in this scene, against what it says.
        self._by_hand: dict[str, bool] = {}
        self._notice = ""
        # Where playing stops by itself: the step that shows the answer to a question.
        self._until: int | None = None
        self.ballot = Ballot(self._lock, self._show_poll, record, class_size)
        if bookmark:
            self._take_up(bookmark)
        self._changed()

    def _take_up(self, bookmark: Bookmark) -> None:
        """Go where a session was before, or as near as the lesson now allows."""
        self._scene = min(max(bookmark.scene, 0), len(self.lesson.scenes) - 1)
        step = max(bookmark.step, 0)
        self._step = step if self._course.reaches(step) else self._course.last_step()
        self._settings = replace(bookmark.settings, playing=False)
        self._by_hand = dict(bookmark.by_hand)
        self.ballot.restore(bookmark.asked, bookmark.poll, bookmark.poll_state, bookmark.poll_round)
        if (self._scene, self._step) != (bookmark.scene, bookmark.step):
            self._notice = (
                f"The lesson file has changed: step {bookmark.step} of scene"
                f" {bookmark.scene + 1} is no more. This is the nearest that there is."
            )
        if not self.ballot.still_asked(self.questions):
            self._notice = ASKED_BEFORE

    def view(self) -> View:
        """What is to be seen now."""
        with self._lock:
            return self._view(self._step)

    def earlier(self, step: int, by: int = 0) -> View:
        """What was to be seen at an earlier step of this scene, for somebody who looks back;
        ``by`` is -1 or 1 for the step before or after it.

        Raises IndexError where the board has not come to that step.
        """
        with self._lock:
            if not 0 <= step <= self._step:
                raise IndexError("the board has not come to that step yet")
            move = {-1: self._course.back, 1: self._course.on}.get(by)
            to = min(move(step, self._settings.depth), self._step) if move else step
            settings = replace(self._settings, playing=False)
            went = Went.ON if to > step else Went.THERE
            return replace(self._view(to), settings=settings, went=went)

    def _view(self, step: int) -> View:
        moment = self._course.moment(step)
        return View(
            self.lesson,
            self._scene,
            self._settings,
            step,
            moment,
            self._cue(step, moment),
            self._went,
            self._hidden(step),
            tuple(self._by_hand.items()),
            self.ballot.poll,
            self._notice,
        )

    def _cue(self, step: int, moment: Moment | None) -> Cue | None:
        if moment is None:
            return None
        since = None
        if self._settings.depth is Depth.PHASES and moment.steps_of_phase:
            since = moment.steps_of_phase[0].number - 1
        return self._scene_now.cue_sheet.at(step, since)

    def _hidden(self, step: int) -> frozenset[str]:
        """What the lesson does not show here, unless the teacher does, and the other way round."""
        shown = self._scene_now.cue_sheet.parts(step)
        if self._settings.depth is Depth.PHASES:
            shown -= ONLY_IN_TRANSFERS
        by_hand = {part for part, seen in self._by_hand.items() if seen}
        return frozenset(ALL_PARTS - shown - by_hand) | (self._by_hand.keys() - by_hand)

    # Moving. Each answers nothing: what came of it is told to on_change.

    def forward(self) -> None:
        """One step on: a transfer, or a phase where the class looks at phases. At the end of a
        scene the first press says so and the second goes on, because a clicker has no key for
        scenes and the end of a run must not pass by unseen."""
        with self._lock:
            step = self._course.on(self._step, self._settings.depth)
            if step > self._step:
                self._go(step, Went.ON)
            elif self._notice == END_OF_SCENE:
                self.change_scene(1)
            else:
                self._stop_clock()
                last = self._scene == len(self.lesson.scenes) - 1
                self._tell(END_OF_LESSON if last else END_OF_SCENE)

    def back(self) -> None:
        """One step back; from the start of a scene, to the end of the one before."""
        with self._lock:
            if self._step == 0 and self._scene > 0:
                self._enter(self._scene - 1)
                self._go(self._course.last_step(), Went.BACK)
            else:
                self._go(self._course.back(self._step, self._settings.depth), Went.BACK)

    def forward_phase(self) -> None:
        with self._lock:
            self._go(self._course.after_phase(self._step), Went.THERE)

    def forward_instruction(self) -> None:
        with self._lock:
            self._go(self._course.after_instruction(self._step), Went.THERE)

    def back_instruction(self) -> None:
        with self._lock:
            self._go(self._course.before_instruction(self._step), Went.BACK)

    def restart(self) -> None:
        """The start of this scene."""
        with self._lock:
            self._go(0, Went.THERE)

    def go_to_step(self, step: int) -> None:
        """Any step of this scene's run; IndexError where it has none of that number."""
        with self._lock:
            if step < 0 or not self._course.reaches(step):
                raise IndexError(f"the run has no step {step}")
            self._go(step, Went.THERE)

    def go_to_nearest(self, step: int) -> None:
        """A step of this scene, or the last where it has fewer."""
        with self._lock:
            there = step if self._course.reaches(step) else self._course.last_step()
            self._go(there, Went.THERE)

    def go_to_scene(self, number: int) -> None:
        """The start of a scene, counted from 0; IndexError where there is none."""
        with self._lock:
            if not 0 <= number < len(self.lesson.scenes):
                raise IndexError(f"the lesson has no scene {number + 1}")
            self._enter(number)
            self._step, self._went = 0, Went.THERE
            self._changed()

    def _enter(self, number: int) -> None:
        self._stop_clock()
        self._scene, self._by_hand, self._notice = number, {}, ""

    def change_scene(self, by: int) -> None:
        """The start of a scene further on or back, where the lesson has one."""
        with self._lock:
            number = min(max(self._scene + by, 0), len(self.lesson.scenes) - 1)
            if number != self._scene:
                self.go_to_scene(number)
            elif by > 0:
                self._tell(END_OF_LESSON)

    def take(self, lesson: Lesson) -> None:
        """Go on with another version of the lesson, at the same scene and step, or as near as it
        has them. ValueError where it has faults."""
        if lesson.faults or not lesson.scenes:
            raise ValueError(f"the lesson '{lesson.slug}' has faults, so it cannot be taught")
        with self._lock:
            self._stop_clock()
            self.lesson = lesson
            self._scene = min(self._scene, len(lesson.scenes) - 1)
            if not self._course.reaches(self._step):
                self._step = self._course.last_step()
            self._went = Went.THERE
            self._notice = "" if self.ballot.still_asked(self.questions) else ASKED_BEFORE
            self._changed()

    # Settings.

    def change(self, name: str) -> None:
        """What the control of this name changes in them. KeyError where it is not in CHANGES."""
        with self._lock:
            self._show_as(CHANGES[name](self._settings))

    def set(self, **settings: Any) -> None:
        """Set some of them, by their names in Settings. Raises ValueError as Settings does."""
        with self._lock:
            self._show_as(replace(self._settings, **settings))

    def show_part(self, part: str, shown: bool) -> None:
        """Show or hide a part, until the scene changes."""
        with self._lock:
            self._by_hand[part] = shown
            self._went = Went.THERE
            self._changed()

    # Playing: the server's clock, so every page keeps the same time.

    def play(self) -> None:
        """Go on by itself, a step at a time, until the end or a pause."""
        with self._lock:
            if not self._settings.playing:
                self._play(until=None)

    def _play(self, until: int | None) -> None:
        self._settings = replace(self._settings, playing=True)
        self._until = until
        self._playings += 1
        self._tick(self._playings)

    def pause(self) -> None:
        with self._lock:
            if self._settings.playing:
                self._stop_clock()
                self._went = Went.THERE
                self._changed()

    # Questions to the class. Where nothing can be done, Refused says why.

    @property
    def questions(self) -> tuple[Asked, ...]:
        """The questions of this scene, in the order of the run."""
        scene = self.lesson.scenes[self._scene]
        return tuple(
            Asked(
                scene=self._scene,
                number=each.number,
                step=each.step,
                reveal_step=each.reveal_step,
                prompt=each.prompt,
                choices=each.choices,
                answer=each.answer,
                reasons=each.reasons,
                because=each.because,
                mixups=each.mixups,
            )
            for each in scene.questions
        )

    def question_here(self) -> Asked | None:
        """The question to ask now: one whose place the run has come to, whose answer cannot be
        seen yet, and that has not been asked."""
        with self._lock:
            asked = {each.asked.content for each in self.ballot.everything}
            here = [
                each
                for each in self.questions
                if each.step <= self._step < each.reveal_step and each.content not in asked
            ]
            return here[-1] if here else None

    def open_question(self, number: int) -> None:
        """Put a question of this scene to the class, at its place in the run."""
        with self._lock:
            found = next((each for each in self.questions if each.number == number), None)
            if found is None:
                raise Refused(f"This scene has no question {number}.")
            if not found.step <= self._step < found.reveal_step and self._course.reaches(
                found.step
            ):
                self._stop_clock()
                self._step, self._went, self._notice = found.step, Went.THERE, ""
            self.ballot.open(found)

    def run_to_answer(self) -> None:
        """Let the machine run until it shows the answer to the question on the board."""
        with self._lock:
            poll = self.ballot.poll
            if poll is None:
                raise Refused("No question is on the board.")
            if poll.state is State.OPEN:
                self.ballot.close()
            if self._step < poll.asked.reveal_step:
                self._stop_clock()
                self._play(until=poll.asked.reveal_step)

    def next_in_question(self) -> None:
        """What comes next in asking, for a single key: open the question that is here, close it,
        show the spread, let the machine run to the answer, put the question away. Where the
        lesson asks nothing here, the teacher is told where it does."""
        with self._lock:
            poll = self.ballot.poll
            if poll is None:
                here = self.question_here()
                if here is not None:
                    self.open_question(here.number)
                else:
                    self._tell_of_questions()
            elif poll.state is State.OPEN:
                self.ballot.close()
            elif poll.state is State.CLOSED:
                self.ballot.show()
            elif self._step < poll.asked.reveal_step:
                self.run_to_answer()
            else:
                self.ballot.put_away()

    def _tell_of_questions(self) -> None:
        coming = [each.step for each in self.questions if each.step > self._step]
        self._tell(
            f"The next question of this scene comes at {self.place_in_words(coming[0])}."
            if coming
            else "This scene has no further question."
        )

    def place_in_words(self, step: int) -> str:
        """A step of this scene's run, counted as the board counts."""
        instruction, number = self._scene_now.run.place(step)
        if not instruction:
            return "the start"
        if self._settings.depth is Depth.PHASES:
            return f"instruction {instruction}"
        return f"instruction {instruction}, step {number}"

    def _tell(self, notice: str) -> None:
        """Something that only the teacher's pages show, until the board moves."""
        self._notice, self._went = notice, Went.THERE
        self._changed()

    def _show_poll(self) -> None:
        self._went = Went.THERE
        self._changed()

    def close(self) -> None:
        """Stop the clock for good."""
        with self._lock:
            self._stop_clock()

    @property
    def _scene_now(self) -> Scene:
        return self.lesson.scenes[self._scene]

    @property
    def _course(self) -> Course:
        return course_of(self._scene_now)

    def _show_as(self, settings: Settings) -> None:
        self._settings = settings
        self._went = Went.THERE
        self._changed()

    def _go(self, step: int, went: Went) -> None:
        """A person moved the cursor: playing is over."""
        self._stop_clock()
        self._come_to(step, went)
        self._changed()

    def _come_to(self, step: int, went: Went) -> None:
        before, now = (self._scene_now.cue_sheet.speed(each) for each in (self._step, step))
        if now is not None and now != before:
            self._settings = replace(self._settings, speed=now)
        self._step, self._went, self._notice = step, went, ""

    def _tick(self, playing: int) -> None:
        with self._lock:
            # A tick of an earlier playing may have been waiting for the lock: it comes too late.
            if not self._settings.playing or playing != self._playings:
                return
            since, following = self._step, self._course.on(self._step, self._settings.depth)
            if following == since:
                self._stop_clock()
                self._went = Went.THERE
                self._changed()
                return
            self._come_to(following, Went.ON)
            there = self._until is not None and following >= self._until
            if there or self._scene_now.cue_sheet.pauses(following, since):
                self._stop_clock()
                self._changed()
                return
            self._changed()
            seconds = rest_seconds(self.view().moment, self._settings.depth, self._settings.speed)
            self._clock = threading.Timer(seconds, self._tick, (playing,))
            self._clock.daemon = True
            self._clock.start()

    def _stop_clock(self) -> None:
        self._settings = replace(self._settings, playing=False)
        self._until = None
        if self._clock:
            self._clock.cancel()
            self._clock = None

    def _changed(self) -> None:
        self.ballot.moved(self._scene, self._step)
        self._on_change(self.view())
