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

from app.lesson.asking.questions import AskedQuestion
from app.lesson.blocks.cues import Cue
from app.lesson.entries import Wrong
from app.lesson.header import ONLY_IN_TRANSFERS, Depth, Press
from app.lesson.model import Lesson, Scene
from app.lesson.parts import all_parts
from app.lesson.pressing import Pressing
from app.machine.run import Moment

from .ballot import Asked, Ballot, Poll, Record, Refused, State
from .bookmark import Bookmark
from .course import Course, course_of
from .finished import Finished, task_key
from .inside import LOOKS, NOTHING_OPEN, Inside
from .pace import READ_SECONDS, rest_seconds
from .settings import CHANGES, Settings
from .view import View, Went
from .what_if import REQUEST, Change, WhatIf, what_if

# What the teacher is told where there is no step on.
END_OF_SCENE = "End of the scene. Once more leads on."
END_OF_LESSON = "End of the lesson."
QUESTION_HERE = "A question: press again to ask it, or hold the key to go on."
PUT_BACK_FIRST = "Something is changed on the board. Put it back before you ask."
# Where the file of the lesson has changed under a question.
ASKED_BEFORE = (
    "The question on the board is another one in the new version of the lesson, so it was put away."
    " Ask it again; what was answered before is kept."
)


class Session:
    """A lesson on the board. Safe to call from several threads.

    ``bookmark`` is where a session before this one was, ``record`` where the answers of the class
    are written, and ``most_names`` under how many names they are taken.
    """

    def __init__(
        self,
        name: str,
        lesson: Lesson,
        on_change: Callable[[View], None] = lambda view: None,
        bookmark: Bookmark | None = None,
        record: Record | None = None,
        most_names: int = 1000,
    ) -> None:
        if not lesson.can_be_taught:
            raise ValueError(f"the lesson '{lesson.slug}' has faults, so it cannot be taught")
        self.name = name
        self.lesson = lesson
        self.started = time.time()  # seconds since the epoch
        self._on_change = on_change
        self._lock = self.lock = threading.RLock()
        self._scene = 0
        self._step = 0
        # Which of several cues at the start stands there.
        self._said = 0
        self._went = Went.THERE
        # Where the last move on started; None where it was none.
        self._since: int | None = None
        # Those that count where the lesson sets none, and those set by hand against it.
        self._usual = Settings(lesson.header.depth, characters=lesson.header.characters)
        self._chosen: dict[tuple[str, str | float], str | float] = {}
        self._what_if: WhatIf | None = None
        # The part that is looked into, and where: it is closed as soon as the board moves.
        self._inside: Inside | None = None
        self._inside_at: tuple[object, ...] = ()
        self._clock: threading.Timer | None = None
        self._playings = 0
        # Parts that the teacher has shown or hidden in this scene, against what it says.
        self._by_hand: dict[str, bool] = {}
        self._notice = ""
        # What makes the questions that are asked again by themselves.
        self._anew: set[object] = set()
        # Where playing stops by itself: the step that shows the answer to a question.
        self._until: int | None = None
        self._pressed: tuple[Scene, Depth, Pressing] | None = None
        self.ballot = Ballot(self._lock, self._show_poll, record, most_names)
        self.finished = Finished(self._lock, record, most_names)
        if bookmark:
            self._take_up(bookmark)
        self._changed()

    def _take_up(self, bookmark: Bookmark) -> None:
        """Go where a session was before, or as near as the lesson now allows."""
        self._scene = min(max(bookmark.scene, 0), len(self.lesson.scenes) - 1)
        step = max(bookmark.step, 0)
        self._step = step if self._course.reaches(step) else self._course.last_step()
        self._said = self._scene_now.cue_sheet.last_said(bookmark.said)
        self._usual = self._offered(replace(bookmark.settings, playing=False))
        self._chosen = {(name, there): value for name, there, value in bookmark.chosen}
        self._by_hand = dict(bookmark.by_hand)
        self.ballot.restore(bookmark.asked, bookmark.poll, bookmark.poll_state, bookmark.poll_round)
        if bookmark.was_changed:
            self._notice = "What was changed on the board has been put back."
        if (self._scene, self._step) != (bookmark.scene, bookmark.step):
            self._notice = (
                f"The lesson file has changed: step {bookmark.step} of scene"
                f" {bookmark.scene + 1} is no more. This is the nearest that there is."
            )
        if not self.ballot.still_asked(self.questions):
            self._notice = ASKED_BEFORE

    def _offered(self, settings: Settings) -> Settings:
        """Settings in a base that the lesson, as it now is, offers."""
        header = self.lesson.header
        base = settings.base if settings.base in header.bases else "denary"
        return replace(settings, base=base, characters=header.characters)

    @property
    def gone(self) -> float:
        """How many seconds ago the lesson began."""
        return max(time.time() - self.started, 0.0)

    def view(self) -> View:
        """What is to be seen now."""
        with self._lock:
            return self._view(self._step, self._said, self._since)

    def earlier(self, step: int, by: int = 0) -> View:
        """What was to be seen at an earlier step of this scene, for somebody who looks back;
        ``by`` is -1 or 1 for the step before or after it.

        Raises IndexError where the board has not come to that step, or where something was changed
        on it after that step.
        """
        with self._lock:
            if 0 <= step < self._first_step:
                raise IndexError("something was changed on the board since. Press Now to see it")
            if not 0 <= step <= self._step:
                raise IndexError("the board has not come to that step yet")
            move = {-1: self._course.back, 1: self._course.on}.get(by)
            to = min(move(step, self._depth), self._step) if move else step
            to = max(to, self._first_step)
            said = self._said if to == self._step else None
            view = self._view(to, said, step if to > step else None)
            settings = replace(view.settings, playing=False)
            went = Went.ON if to > step else Went.THERE
            return replace(view, settings=settings, went=went)

    def _view(self, step: int, said: int | None, since: int | None) -> View:
        """What is to be seen at a step; ``since`` is where the move on started that led there."""
        moment = self._course.moment(step)
        settings = self._settings_at(step, said)
        return View(
            self.lesson,
            self._scene,
            settings,
            step,
            moment,
            self._cue(step, said, moment, settings.depth),
            self._went,
            self._hidden(step, said, settings.depth),
            tuple(self._by_hand.items()),
            self.ballot.poll,
            self._notice,
            self._scene_now.cue_sheet.last_said(said),
            self._usual,
            tuple((name, there, value) for (name, there), value in self._chosen.items()),
            self._what_if,
            self._is_whole_phase(step, moment, settings.depth, since),
            self._finished_here(),
            self._inside if step == self._step else None,
        )

    def _finished_here(self) -> int:
        scene = self._scene_now
        return self.finished.count(task_key(self._scene, scene)) if scene.task else 0

    def _is_whole_phase(
        self, step: int, moment: Moment | None, depth: Depth, since: int | None
    ) -> bool:
        if moment is None or moment.step is None or self._scene_now.pipeline:
            return False
        if since == step - 1 and len(moment.steps_of_phase) > 1:
            return False  # what came before in the phase has been seen, a transfer at a time
        by_phase = Pressing(self._scene_now, depth).press is Press.PHASE
        return by_phase and self._course.after_phase(step - 1) == step

    def _cue(self, step: int, said: int | None, moment: Moment | None, depth: Depth) -> Cue | None:
        if moment is None or self._what_if:
            return None
        since = Pressing(self._scene_now, depth).since(step)
        return self._scene_now.cue_sheet.at(step, since, said)

    def _settings_at(self, step: int, said: int | None) -> Settings:
        """The settings that count at a step: what the lesson says there, unless the teacher set
        something else where it said that."""
        changes: dict[str, str | float] = {}
        for name, there in self._set_by_lesson(step, said).items():
            usual = getattr(self._usual, name) if there is None else there
            changes[name] = usual if there is None else self._chosen.get((name, there), usual)
        return replace(self._usual, **changes)  # type: ignore[arg-type]

    def _set_by_lesson(self, step: int, said: int | None) -> dict[str, str | float | None]:
        scene = self._scene_now
        step = self._what_if.left_at if self._what_if else step
        return {
            "depth": scene.depth,
            "speed": scene.cue_sheet.speed(step, said),
            "base": scene.cue_sheet.base(step, said),
        }

    @property
    def _now(self) -> Settings:
        return self._settings_at(self._step, self._said)

    @property
    def _depth(self) -> Depth:
        """The depth that counts now: no cue sets it, so none is looked at."""
        there = self._scene_now.depth
        chosen = self._chosen.get(("depth", there), there)
        assert isinstance(chosen, Depth)
        return chosen

    def _hidden(self, step: int, said: int | None, depth: Depth) -> frozenset[str]:
        """What the lesson does not show here, unless the teacher does, and the other way round."""
        step = self._what_if.left_at if self._what_if else step
        shown = self._scene_now.cue_sheet.parts(step, said)
        if depth is Depth.PHASES:
            shown -= ONLY_IN_TRANSFERS
        by_hand = {part for part, seen in self._by_hand.items() if seen}
        there = all_parts(self.lesson.header.machine)
        return frozenset(there - shown - by_hand) | (self._by_hand.keys() - by_hand)

    # Moving. Each answers nothing: what came of it is told to on_change.

    def forward(self) -> None:
        """The clicker: as far on as a press goes in this scene. No press goes past a question:
        at its place the next one asks it, and the presses after that close it, show the spread
        and let the machine run to the answer. At the end of a scene the first press says so and
        the second goes on, because a clicker has no key for scenes and the end of a run must not
        pass by unseen."""
        with self._lock:
            if self._in_question():
                return
            question = self._at_question
            if question:
                self.open_question(question.number)
            else:
                self._forward_to(self._step_of_press)

    def ahead(self) -> View | None:
        """What the next press of the clicker is going to show, where it only moves the machine
        on; None where it does something else, or where the board moves by itself. The notice to
        the teacher is left out."""
        with self._lock:
            if (
                self.ballot.poll
                or self._usual.playing
                or self._at_question
                or self._has_more_to_say
            ):
                return None
            step = self._step_of_press()
            if step <= self._step or self._comes_back(self._step, step):
                return None
            said = self._scene_now.cue_sheet.last_said(None)
            return replace(self._view(step, said, self._step), went=Went.ON, notice="")

    def onward(self) -> None:
        """On to the next thing that matters: the next cue, question or stop. A question that is
        here or on the board is left."""
        with self._lock:
            self._leave_question()
            self._forward_to(self._step_of_leap)

    def step_on(self) -> None:
        """The smallest step on that there is, a transfer or a phase; it asks nothing."""
        with self._lock:
            self._forward_to(self._smallest_step)

    def _forward_to(self, following: Callable[[], int]) -> None:
        """One press on, to the next cue at the start, or to the step that is worked out then."""
        if self._has_more_to_say:
            self._stop_clock()
            self._say_more()
            return
        step = following()
        if step > self._step:
            self._go(step, Went.ON)
        elif self._what_if:
            self._tell(f"{self._what_if.words} This is the end of that run.")
        elif self._notice == END_OF_SCENE:
            self.change_scene(1)
        else:
            self._stop_clock()
            last = self._scene == len(self.lesson.scenes) - 1
            self._tell(END_OF_LESSON if last else END_OF_SCENE)

    def _step_of_press(self) -> int:
        """Where a press leads to, that is, this very step where it leads nowhere."""
        if not self._runs:
            return self._smallest_step()
        return self._pressing.on(self._step, self._asked_here)

    def _step_of_leap(self) -> int:
        if not self._runs:
            return self._smallest_step()
        return self._pressing.onward(self._step, self._asked_here)

    def _smallest_step(self) -> int:
        return self._course.on(self._step, self._depth)

    @property
    def _has_more_to_say(self) -> bool:
        """Whether another of several cues at the start is still to come."""
        last = self._scene_now.cue_sheet.last_said(None)
        return self._step == 0 and self._said < last and not self._what_if

    def back(self) -> None:
        """One press back; from the start of a scene, to the end of the one before."""
        with self._lock:
            if self._what_if:
                step = self._course.back(self._step, self._depth)
                self._go(max(step, self._what_if.step), Went.BACK)
            elif self._step == 0 and self._said > 0:
                self._stop_clock()
                self._said -= 1
                self._went, self._notice = Went.BACK, ""
                self._changed()
            elif self._step == 0 and self._scene > 0:
                self._enter(self._scene - 1)
                self._go(self._course.last_step(), Went.BACK)
            elif self._runs:
                self._go(self._pressing.back(self._step), Went.BACK)
            else:
                self._go(self._course.back(self._step, self._depth), Went.BACK)

    def forward_phase(self) -> None:
        with self._lock:
            self._go(self._course.after_phase(self._step), Went.THERE)

    def forward_instruction(self) -> None:
        with self._lock:
            self._go(self._course.after_instruction(self._step), Went.THERE)

    def back_instruction(self) -> None:
        with self._lock:
            step = self._course.before_instruction(self._step)
            self._go(max(step, self._first_step), Went.BACK)

    def restart(self) -> None:
        """The start of this scene; of a run in which something was changed, that change."""
        with self._lock:
            self._begin_anew()
            self._go(self._first_step, Went.THERE)

    def go_to_step(self, step: int, said: int = 0) -> None:
        """Any step of this scene's run; IndexError where it has none of that number. ``said`` is
        the number of the cue at the start."""
        with self._lock:
            if step < self._first_step or not self._course.reaches(step):
                raise IndexError(f"the run has no step {step}")
            self._stop_clock()
            self._come_to(step, Went.THERE)
            self._said = self._scene_now.cue_sheet.last_said(said)
            self._tell_of_question()
            self._changed()

    def go_to_place(self, step: int, said: int = 0) -> None:
        """A step of the lesson's own run, as ``go_to_step``: what was changed is put back."""
        with self._lock:
            self._go_back_to_lesson()
            self.go_to_step(step, said)

    def go_to_nearest(self, step: int, said: int = 0) -> None:
        """A step of this scene, or the last where it has fewer, as ``go_to_step``."""
        there = step if self._course.reaches(step) else self._course.last_step()
        self.go_to_step(max(there, self._first_step), said)

    def go_to_scene(self, number: int) -> None:
        """The start of a scene, counted from 0; IndexError where there is none."""
        with self._lock:
            if not 0 <= number < len(self.lesson.scenes):
                raise IndexError(f"the lesson has no scene {number + 1}")
            self._enter(number)
            self._begin_anew()
            self._step, self._went = 0, Went.THERE
            self._tell_of_question()
            self._changed()

    def _begin_anew(self) -> None:
        """From the start of a scene a question that nobody has answered is asked as if for the
        first time: it was a rehearsal."""
        self._anew |= {
            each.asked.content for each in self.ballot.everything if not any(map(sum, each.rounds))
        }

    def _enter(self, number: int) -> None:
        self._stop_clock()
        self._said, self._what_if = 0, None
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
        if not lesson.can_be_taught:
            raise ValueError(f"the lesson '{lesson.slug}' has faults, so it cannot be taught")
        with self._lock:
            if lesson is self.lesson:
                return  # pressed twice: what was told of it stands
            self._stop_clock()
            self._go_back_to_lesson()
            self.lesson = lesson
            self._usual = self._offered(self._usual)
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
            self._show_as(CHANGES[name](self._now))

    def show_part(self, part: str, shown: bool) -> None:
        """Show or hide a part, until the scene changes."""
        with self._lock:
            self._by_hand[part] = shown
            self._went = Went.THERE
            self._changed()

    # Looking inside a part of the machine.

    def look(self, name: str) -> None:
        """Open a part, one level further or back, as a control of this name in LOOKS says. Where
        there is nothing to open the teacher is told."""
        with self._lock:
            now = self.view()
            opened = LOOKS[name](now.inside, self.lesson.header.machine.word_bits)
            trouble = replace(now, opened=opened).cannot_open
            if opened is None and now.inside is None:
                trouble = NOTHING_OPEN
            self._stop_clock()
            if trouble:
                self._tell(trouble)
                return
            # Only what has just been opened works its way through.
            part = now.inside.part if now.inside else ""
            self._went = Went.ON if opened and opened.part != part else Went.THERE
            self._inside, self._inside_at, self._notice = opened, self._place, ""
            self._changed()

    @property
    def _place(self) -> tuple[object, ...]:
        return self._scene, self._step, self._what_if, self.lesson

    # Playing: the server's clock, so every page keeps the same time.

    def play(self) -> None:
        """Go on by itself, a step at a time, until the end or a pause."""
        with self._lock:
            if not self._usual.playing:
                self._play(until=None)

    def _play(self, until: int | None) -> None:
        self._usual = replace(self._usual, playing=True)
        self._until = until
        self._playings += 1
        self._tick(self._playings)

    def pause(self) -> None:
        with self._lock:
            if self._usual.playing:
                self._stop_clock()
                self._went = Went.THERE
                self._changed()

    # What if? Where nothing can be done, Refused says why.

    def suppose(self, place: str, value: str) -> None:
        """Change a word, a register or the inputs at this step, and see the run from there."""
        with self._lock:
            if not self._scene_now.program.words:
                raise Refused("There is no machine on the board here.")
            if self._scene_now.pipeline:
                raise Refused("Here the pipeline is watched. Change things in another scene.")
            if self._scene_now.compare:
                raise Refused("Here machines are compared. Change things in another scene.")
            if self.ballot.poll is not None:
                raise Refused("A question is on the board. Put it away before you change anything.")
            try:
                made = what_if(self._scene_now, self._step, Change(place, value), self._what_if)
            except Wrong as wrong:
                raise Refused(f"{wrong.what} {wrong.mend}") from wrong
            self._stop_clock()
            self._what_if = made
            self._went, self._notice = Went.THERE, ""
            self._changed()

    def ring(self) -> None:
        """A request comes at this step, with what the requests of the scene bring, else 1; what
        was changed can be put back."""
        with self._lock:
            machine = self._scene_now.program.machine
            if not machine.interrupt:
                raise Refused("Nothing can interrupt this machine.")
            self.suppose(REQUEST, str(machine.signed(self._scene_now.bell)))

    def put_back(self) -> None:
        """Back to the lesson, where it was before anything was changed."""
        with self._lock:
            if self._what_if is None:
                self._tell("Nothing is changed here.")
                return
            self._stop_clock()
            self._go_back_to_lesson()
            self._went, self._notice = Went.THERE, ""
            self._changed()

    def _go_back_to_lesson(self) -> None:
        if self._what_if:
            self._step, self._what_if = self._what_if.left_at, None

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

    @property
    def _asked_here(self) -> frozenset[int]:
        """The numbers of the questions of this scene that have been asked."""
        asked = {each.asked.content for each in self.ballot.everything} - self._anew
        if not asked:
            return frozenset()
        return frozenset(each.number for each in self.questions if each.content in asked)

    def question_here(self) -> Asked | None:
        """The question to ask now: one whose place the run has come to, whose answer cannot be
        seen yet, and that has not been asked. There is none while something is changed."""
        with self._lock:
            if self._what_if or not self._runs:
                return None
            here = self._pressing.here(self._step, self._asked_here)
            return self._question(here.number) if here else None

    def _question(self, number: int) -> Asked:
        found = next((each for each in self.questions if each.number == number), None)
        if found is None:
            raise Refused(f"This scene has no question {number}.")
        return found

    def open_question(self, number: int) -> None:
        """Put a question of this scene to the class, at its place in the run."""
        with self._lock:
            if self._what_if:
                raise Refused(PUT_BACK_FIRST)
            found = self._question(number)
            question = self._scene_now.questions[number - 1]
            place = self._pressing.ask_step(question)
            if not place <= self._step < found.reveal_step and self._course.reaches(place):
                self._stop_clock()
                self._come_to(place, Went.THERE)
            self._notice = ""
            self._anew.discard(found.content)
            self.ballot.open(found)

    def _in_question(self) -> bool:
        """What a press of the clicker does with the question on the board; False where it is to
        go on. Where nobody has answered there is no spread to show."""
        poll = self.ballot.poll
        if poll is None:
            return False
        known = self._step >= poll.asked.reveal_step
        if self._usual.playing:
            # On the way to the answer: the rest of it at once.
            self._go(max(poll.asked.reveal_step, self._step), Went.ON)
        elif poll.state is State.OPEN and poll.answered:
            self.ballot.close()
        elif poll.state is State.CLOSED and poll.answered:
            self.ballot.show()
        elif known and self._covers_a_cue(poll):
            self.ballot.put_away()
        elif known or self._is_late(poll):
            self._leave_question()
            return False
        else:
            self.run_to_answer()
        return True

    def _leave_question(self) -> None:
        """Take the question off the board without a word: the move that follows is shown."""
        self.ballot.leave()

    def _is_late(self, poll: Poll) -> bool:
        """Whether the run has far to go to the answer, so that nobody waits for it there."""
        here = self._in_scene(poll)
        return here is not None and here.late

    def _covers_a_cue(self, poll: Poll) -> bool:
        """Whether words have come up that the question hides: they are seen before it goes on."""
        here = self._in_scene(poll)
        return here is not None and self._pressing.covers_a_cue(here, self._step)

    def _in_scene(self, poll: Poll) -> AskedQuestion | None:
        """The question on the board as the scene has it now: its number may be another since the
        file of the lesson has changed."""
        for asked, question in zip(self.questions, self._scene_now.questions, strict=True):
            if asked.outcome == poll.asked.outcome:
                return question
        return None

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
            if self._what_if:
                # The questions are about the lesson's own run: none of them comes here.
                raise Refused(PUT_BACK_FIRST)
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
            elif self._step < poll.asked.reveal_step and not self._is_late(poll):
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
        """Where a question is asked, a step of this scene's run that is followed, counted as the
        board counts. The teacher's page tells it of each of them at every press."""
        if self._scene_now.in_pipeline and step:
            return f"tick {step}"
        if self._scene_now.compare and step:
            return f"machine {step} of {self._scene_now.compare.last_step}"
        timeline = self._scene_now.timeline
        instruction = timeline.number_at(step)
        if not instruction:
            return "the start"
        if self._depth is Depth.PHASES:
            return f"instruction {instruction}"
        number = step - timeline.in_the_run(instruction).first + 1
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
        return course_of(self._scene_now, self._what_if.run if self._what_if else None)

    @property
    def _runs(self) -> bool:
        """Whether the steps are those of the scene's own program."""
        return bool(self._scene_now.program.words) and not self._what_if

    @property
    def _pressing(self) -> Pressing:
        """Kept from one press to the next, for it knows where each question is asked."""
        scene, depth = self._scene_now, self._depth
        if self._pressed is None or self._pressed[0] is not scene or self._pressed[1] is not depth:
            self._pressed = scene, depth, Pressing(scene, depth)
        return self._pressed[2]

    @property
    def _first_step(self) -> int:
        return self._what_if.step if self._what_if else 0

    def _show_as(self, settings: Settings) -> None:
        """These settings from here on. Where the lesson sets one of them, the teacher's counts
        wherever it says the same."""
        now, usual = self._now, settings
        for name, there in self._set_by_lesson(self._step, self._said).items():
            if there is None:
                continue
            if getattr(settings, name) != getattr(now, name):
                self._chosen[name, there] = getattr(settings, name)
            usual = replace(usual, **{name: getattr(self._usual, name)})
        self._usual = usual
        self._went = Went.THERE
        self._changed()

    def _go(self, step: int, went: Went) -> None:
        """A person moved the cursor: playing is over."""
        self._stop_clock()
        self._come_to(step, went)
        self._changed()

    def _come_to(self, step: int, went: Went) -> None:
        before, self._step = self._step, step
        self._since = before if went is Went.ON else None
        self._went, self._notice = went, ""
        # Back at the start everything has been said there; who goes there hears it anew.
        self._said = 0 if went is Went.THERE else self._scene_now.cue_sheet.last_said(None)
        if not self._runs or step <= before:
            return
        self._bring_answer(before)
        self._tell_of_question()

    def _say_more(self) -> None:
        """The next of several cues at the start."""
        self._said += 1
        self._went, self._notice = Went.THERE, ""
        self._tell_of_question()
        self._changed()

    @property
    def _at_question(self) -> AskedQuestion | None:
        """The question whose place is this very step, once all cues before it have been said."""
        if not self._runs or (
            self._step == 0 and self._said < self._scene_now.cue_sheet.last_said(None)
        ):
            return None
        question = self._pressing.here(self._step, self._asked_here)
        there = question is not None and self._pressing.ask_step(question) == self._step
        return question if there else None

    def _tell_of_question(self) -> None:
        if self.ballot.poll is None and self._at_question:
            self._notice = QUESTION_HERE

    def _bring_answer(self, before: int) -> None:
        """A question that was asked long before comes back where the run shows its answer."""
        for asked in self._comes_back(before, self._step):
            if self.ballot.poll is None:
                self.ballot.bring_back(asked)

    def _comes_back(self, before: int, step: int) -> list[Asked]:
        """The questions asked long before whose answer is shown on the way to a step."""
        asked = [each.asked for each in self.ballot.everything]
        if not asked:
            return []
        numbers = {each.number for each in self._scene_now.questions if each.late}
        late = {each.content for each in self.questions if each.number in numbers}
        return [
            each for each in asked if each.content in late and before < each.reveal_step <= step
        ]

    def _tick(self, playing: int) -> None:
        with self._lock:
            # A tick of an earlier playing may have been waiting for the lock: it comes too late.
            if not self._usual.playing or playing != self._playings:
                return
            if self._step == 0 and self._said < self._scene_now.cue_sheet.last_said(None):
                self._say_more()
                if self._notice:
                    self._stop_clock()
                    self._changed()
                    return
                self._set_clock(READ_SECONDS, playing)
                return
            since, following = self._step, self._course.on(self._step, self._depth)
            if self._runs and self._until is None:
                following = self._pressing.not_past_a_question(since, following, self._asked_here)
            if following == since:
                self._stop_clock()
                self._went = Went.THERE
                self._changed()
                return
            self._come_to(following, Went.ON)
            there = self._until is not None and following >= self._until
            # A question, or the answer to one, stops it: neither may pass by unseen.
            there = there or bool(self._notice) or (self._until is None and self._poll_is_back)
            if there or self._scene_now.cue_sheet.pauses(following, since):
                self._stop_clock()
                self._changed()
                return
            self._changed()
            view = self.view()
            depth, speed = view.settings.depth, view.settings.speed
            rest = rest_seconds(view.moment, depth, speed, view.zoomed, view.looks)
            self._set_clock(rest, playing)

    @property
    def _poll_is_back(self) -> bool:
        poll = self.ballot.poll
        return poll is not None and poll.asked.reveal_step == self._step

    def _set_clock(self, seconds: float, playing: int) -> None:
        self._clock = threading.Timer(seconds, self._tick, (playing,))
        self._clock.daemon = True
        self._clock.start()

    def _stop_clock(self) -> None:
        self._usual = replace(self._usual, playing=False)
        self._until = None
        if self._clock:
            self._clock.cancel()
            self._clock = None

    def _changed(self) -> None:
        if self._inside and self._inside_at != self._place:
            self._inside = None
        self.ballot.moved(self._scene, self._step)
        self._on_change(self.view())
