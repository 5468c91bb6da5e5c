"""What one press of the clicker does in a scene, and how many presses the scene takes.

A press goes a transfer, a phase, an instruction, or to the next cue, question or stop, as the scene
says; never less than a phase where the class looks at phases. No press goes past a question that
has not been asked: it stops there, and the next press asks it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from functools import cached_property

from app.lesson.asking.questions import AskedQuestion
from app.machine.run import Run

from .header import Depth, Press
from .model import Scene
from .timeline import FOLLOWED

# A press is a movement to be watched and a sentence to be said about it: from memory, of lessons.
SECONDS_A_PRESS = 10
# The presses of a question: ask it, close it, show the spread, run to the answer.
QUESTION_PRESSES = 4
# Presses are counted so far.
MOST_COUNTED = 400
# So many places of cues are looked at for that in all the scenes of a lesson.
MOST_LOOKED_AT = 200_000

Numbers = Collection[int]  # of questions


class Pressing:
    """The presses of a scene at a depth. Steps are those of its run, or the stations of its
    zoom; ``asked`` are always the numbers of the questions that have been asked. With ``press`` it
    is as if neither scene nor lesson said how far one goes but that."""

    def __init__(self, scene: Scene, depth: Depth, press: Press | None = None) -> None:
        self._scene = scene
        self.phases = depth is Depth.PHASES
        finest = Press.PHASE if self.phases else Press.TRANSFER
        self.press = press or scene.press or finest
        if self.press is Press.TRANSFER:
            self.press = finest
        # Of the stops of all cues, the one that the counting has come to, and its place's end; and
        # the end of the movement that it has come to.
        self._next_stop: tuple[int, int] | None = (0, 0)
        self._next_end: int | None = 0
        # How many places and steps were looked at to count the presses.
        self.looked = 0

    @property
    def _run(self) -> Run:
        # It is the scene's, to be let go where others are looked at: a session keeps this for long.
        return self._scene.paced

    # One press.

    def on(self, step: int, asked: Numbers = ()) -> int:
        """Where a press leads from ``step``; the same step at the end of the scene."""
        match self.press:
            case Press.TRANSFER:
                following = step + 1 if self._run.reaches(step + 1) else step
            case Press.PHASE:
                following = self._run.after_phase(step)
            case Press.INSTRUCTION:
                following = self._run.after_instruction(step)
            case Press.CUE:
                return self.onward(step, asked)
        return self.not_past_a_question(step, following, asked)

    def onward(self, step: int, asked: Numbers = ()) -> int:
        """The next thing that matters: the next cue, question or stop."""
        found = [*self._scene.cue_sheet.stops(step, self._whole_followed, 1)]
        if not found:
            found = [self._run.last_step]
        return self.not_past_a_question(step, min(found), asked)

    def back(self, step: int) -> int:
        """Where the press came from that led to ``step``."""
        match self.press:
            case Press.TRANSFER:
                return max(step - 1, 0)
            case Press.PHASE:
                return self._run.before_phase(step)
            case Press.INSTRUCTION:
                return self._run.before_instruction(step)
        places = [ask_step for _, ask_step, _ in self._questions]
        earlier = [each for each in places if each < step]
        return max([0, *earlier, *self._scene.cue_sheet.stops(step, self._whole_followed, -1)])

    def not_past_a_question(self, step: int, following: int, asked: Numbers) -> int:
        """The step that a movement from ``step`` to ``following`` stops at: a question that has
        not been asked, or the answer to one that was asked long before."""
        stops = [following]
        for each, ask_step, answered in self._questions:
            if each.number not in asked:
                stops.append(ask_step)
            elif each.late:
                stops.append(answered)
        return min((each for each in stops if each > step), default=following)

    @cached_property
    def _questions(self) -> list[tuple[AskedQuestion, int, int]]:
        """Each question with the steps at which it is asked and at which a movement ends that shows
        its answer."""
        return [
            (each, self.ask_step(each), self.whole(each.reveal_step))
            for each in self._scene.questions
        ]

    def ask_step(self, question: AskedQuestion) -> int:
        """Where a question is asked: its own step, or the end of the phase before, where the
        class looks at phases and it is in the middle of one."""
        step = question.step
        if not self.phases or self.whole(step) == step:
            return step
        return self._run.before_phase(step)

    def here(self, step: int, asked: Numbers = ()) -> AskedQuestion | None:
        """The question to ask at a step: one whose place has come, whose answer cannot be seen
        yet, and that has not been asked."""
        if len(asked) == len(self._questions):
            return None
        here = [
            each
            for each, ask_step, _ in self._questions
            if each.number not in asked and ask_step <= step < each.reveal_step
        ]
        return here[-1] if here else None

    def covers_a_cue(self, question: AskedQuestion, step: int) -> bool:
        """Whether the cue of a step came up while a question was on the board that was asked
        before it, and has not been seen: a press puts the question away for it."""
        if question.late:
            return False
        cue = self._scene.cue_sheet.at(step)
        return cue is not None and cue is not self._scene.cue_sheet.at(self.ask_step(question))

    def since(self, step: int) -> int | None:
        """The step after which the movement that ends at ``step`` started; None for the step
        before."""
        if self.press is Press.INSTRUCTION and step:
            return self._run.before_instruction(step)
        by_phase = self.phases or self.press is Press.PHASE
        return self._run.before_phase(step) if by_phase and step else None

    def whole(self, step: int) -> int:
        """The end of the movement that a step belongs to."""
        return self._run.after_phase(step - 1) if self.phases and step else step

    # All of them.

    @cached_property
    def count(self) -> int:
        """The presses from the start of the scene to its end, every question asked: MOST_COUNTED
        where there are as many or more. What that took is ``looked`` then."""
        if self._scene.scale is not None:
            return self._scene.scale.last_step
        if not self._scene.program.words:
            return 0
        step, presses = 0, max(self._scene.cue_sheet.opening - 1, 0)
        asked: set[int] = set()
        before = self._scene.cue_sheet.looked
        while presses < MOST_COUNTED:
            question = self.here(step, asked)
            if question:
                asked.add(question.number)
                presses += QUESTION_PRESSES
                if question.late:
                    presses -= 1  # the run comes to its answer by itself
                else:
                    step = question.reveal_step
                    presses += self.covers_a_cue(question, step)
                continue
            following = self._counted_on(step, asked)
            if following == step:
                break
            step = following
            presses += 1
        self.looked += self._scene.cue_sheet.looked - before
        return min(presses, MOST_COUNTED)

    def _counted_on(self, step: int, asked: Numbers) -> int:
        """What ``on`` answers, found in one pass over the start of the run."""
        if self.press is Press.CUE:
            # A place that ended before, in the middle of a movement, is behind.
            while self._next_stop is not None and min(self._next_stop) <= step:
                self._next_stop = next(self._cue_stops, None)
                self.looked += 1
            following = self._near_end if self._next_stop is None else self._next_stop[0]
            return self.not_past_a_question(step, following, asked)
        if self._scene.paced is not self._scene.run or self.press is Press.TRANSFER:
            return self.on(step, asked)
        while self._next_end is not None and self._next_end <= step:
            self._next_end = next(self._ends, None)
        following = step if self._next_end is None else self._next_end
        return self.not_past_a_question(step, following, asked)

    @cached_property
    def _near_end(self) -> int:
        """The last step; of a longer run than is followed, one behind all that is known of it."""
        return FOLLOWED + 1 if self._run.reaches(FOLLOWED + 1) else self._run.last_step

    @cached_property
    def _cue_stops(self) -> Iterator[tuple[int, int]]:
        return self._scene.cue_sheet.all_stops(self._whole_followed)

    def _whole_followed(self, step: int) -> int:
        """What ``whole`` answers, of a step that is followed, found without going there."""
        timeline = self._scene.timeline
        if not self.phases or self._scene.paced is not self._scene.run:
            return self.whole(step)
        end = timeline.end_of_phase(step)
        # Where the following ends a phase may go on.
        return end if end < timeline.last_step else self.whole(step)

    @cached_property
    def _ends(self) -> Iterator[int]:
        """Where the movements of the run end, by phases or by instructions; it is followed no
        further than somebody asks."""
        by_phase = self.press is Press.PHASE
        last, of = 0, None
        for number, cycle, kind, _ in self._run.steps():
            self.looked += 1
            movement = (cycle, kind.phase) if by_phase else cycle
            if last and movement != of:
                yield last
            last, of = number, movement
        if last:
            yield last


def presses_of(scenes: Iterable[Scene]) -> Iterator[int | None]:
    """The presses of each of these scenes; None for those after the counting has taken so much
    that no more are counted."""
    looked = 0
    for scene in scenes:
        if looked >= MOST_LOOKED_AT:
            yield None
            continue
        pressing = Pressing(scene, scene.depth)
        yield pressing.count
        looked += pressing.looked
