"""Whether the answer to a question can be seen on the board when the question is asked.

What has to be looked up or worked out is no answer in sight: that LOAD brings a number that stands
in memory is what the question is about. In sight is what the part that is asked about shows
already, what the words of a cue say, and a number that only waits in the accumulator to be sent
to the output.
"""

from __future__ import annotations

import re

from app.lesson.asking.facts import Facts
from app.lesson.asking.questions import AskedQuestion, Question
from app.lesson.asking.subjects import SERVING
from app.machine.state import State

from .model import Scene
from .timeline import Span

# A number that is sent so many steps later is not simply waiting to be sent.
_NEAR = 64


def answer_in_sight(scene: Scene, asked: AskedQuestion, question: Question | None = None) -> str:
    """What shows the answer at the step where a question of the scene is asked, as the start of a
    sentence; empty where nothing does. One that the scene does not have yet is given as well."""
    question = question or next(each for each in scene.asked if each.line == asked.line)
    before = scene.paced.moment(asked.step).after
    after = scene.paced.moment(asked.reveal_step).after
    right = asked.choices[asked.answer]
    cue = scene.cue_sheet.at(asked.step)
    if cue and re.search(rf"(?<![\w\N{{MINUS SIGN}}-]){re.escape(right)}(?!\w)", cue.words):
        return f"The cue '{cue.text}' says {right}"
    if question.subject.kind in SERVING or question.subject.watched:
        return ""
    if question.subject.kind in ("output", "sent"):
        return _output_in_sight(scene, before, after)
    # Of a question just before its answer, that nothing changes may be the very point.
    if (
        asked.late
        and question.subject.kind != "jump"
        and _held(scene, question, before) == _held(scene, question, after)
    ):
        return f"What is asked about shows {right} already"
    return ""


def _output_in_sight(scene: Scene, before: State, after: State) -> str:
    if after.sent == before.sent:
        return "The output shows it already"
    sent = scene.run.outputs(after.sent, after.sent - 1)
    if after.sent == before.sent + 1 and sent[-1] == before.acc and _next_is_sent(scene, before):
        return "The accumulator holds the number that is sent next"
    return ""


def _next_is_sent(scene: Scene, before: State) -> bool:
    """Whether the accumulator keeps what it holds until that is sent."""
    for step in range(before.steps + 1, before.steps + _NEAR):
        made = scene.run.step(step) if scene.run.reaches(step) else None
        if made is None:
            return False
        if made.kind.transfer.target == "output":
            return True
        if "ACC" in made.kind.transfer.targets and made.value != before.acc:
            return False
    return False


def _held(scene: Scene, question: Question, state: State) -> object:
    subject = question.subject
    if subject.kind != "memory":
        return state.held(subject.kind)
    facts = Facts(scene.run, scene.program, Span(state.steps, state.steps))
    return state.memory[facts.address(subject.target)]
