"""How easy the sentences are to read that pupils meet, by kind.

The figure and its source are in ``tests/readability.py``. It knows nothing of meaning: it is there
to tell when sentences get longer and words get harder.
"""

from __future__ import annotations

import html
import re
from collections.abc import Callable, Iterable, Iterator
from itertools import islice

from app import create_app
from app.lesson.asking.mixups import Reason
from app.lesson.file.reader import read_file
from app.lesson.model import Lesson, Scene
from app.machine.machine import MACHINES
from app.machine.source.assembler import assemble
from app.machine.telling.narration import phase_sentence, sentence
from app.machine.telling.reading import Reading
from app.paths import resource
from tests.bench.rows import Row
from tests.machine.source.test_assembler import FAULTS
from tests.readability import FORMULA, SOURCE, readability

# The youngest pupils are 11 to 12, in grade 6.
GRADE = 6.0
# Of a long run the captions repeat.
MOST_STEPS = 300
# What a page says in whole sentences; names on buttons and in tables are none.
_SPOKEN = re.compile(r"<(p|li|legend|label)\b[^>]*>(.*?)</\1>", re.DOTALL)


def _lessons() -> list[Lesson]:
    return [read_file(path) for path in sorted(resource("lessons").glob("*.md"))]


def captions(lessons: Iterable[Lesson]) -> Iterator[str]:
    """What stands under the board, in both depths, over the runs of the lessons that ship."""
    for scene in (each for lesson in lessons for each in lesson.scenes if each.program.words):
        reading = Reading(scene.program.machine, "denary")
        steps = [number for number, *_ in islice(scene.run.steps(), MOST_STEPS)]
        for step in steps:
            moment = scene.run.moment(step)
            yield sentence(reading, moment, scene.limit)
            if scene.run.after_phase(step - 1) == step:
                start = scene.run.moment(scene.run.before_phase(step)).after
                yield phase_sentence(reading, moment, start, scene.limit)


def messages(lessons: Iterable[Lesson]) -> Iterator[str]:
    """What the assembler says of programs with a fault: those of its tests."""
    for source, *_ in FAULTS.values():
        for problem in assemble(MACHINES["8-bit"], source).problems:
            yield f"{problem.what} {problem.mend}"


def reasons(lessons: Iterable[Lesson]) -> Iterator[str]:
    """Why an answer is wrong: the sentences of the mix-ups, and those of the questions."""
    yield from (re.sub(r"\{\w+\}", "4", each.words) for each in Reason)
    for scene in _scenes(lessons):
        for question in scene.questions:
            yield from (each for each in (*question.reasons, question.because) if each)


def explore_page(lessons: Iterable[Lesson]) -> Iterator[str]:
    """The sentences of the page where pupils try a machine of their own."""
    client = create_app(resource("lessons")).test_client()
    page = client.get(f"/explore/{next(iter(lessons)).slug}/5").text
    for _, inside in _SPOKEN.findall(page.split("<main>")[1]):
        text = " ".join(html.unescape(re.sub(r"<[^>]+>", " ", inside)).split())
        if re.search(r"[.?!]$", text):
            yield text


def cues(lessons: Iterable[Lesson]) -> Iterator[str]:
    """The words of the lessons on the board."""
    return (cue.words for scene in _scenes(lessons) for cue in scene.cues if cue.words)


def asked(lessons: Iterable[Lesson]) -> Iterator[str]:
    """What the class is asked, and set as a task."""
    for scene in _scenes(lessons):
        yield from (each.prompt for each in scene.asked)
        if scene.task:
            yield scene.task.goal


def _scenes(lessons: Iterable[Lesson]) -> Iterator[Scene]:
    return (scene for lesson in lessons for scene in lesson.scenes)


KINDS: dict[str, Callable[[Iterable[Lesson]], Iterator[str]]] = {
    "captions": captions,
    "messages of the assembler": messages,
    "reasons of wrong answers": reasons,
    "the page to explore": explore_page,
    "cues of the lessons": cues,
    "questions and tasks": asked,
}


def rows(quick: bool) -> list[Row]:
    lessons = _lessons()
    found = []
    for kind, collect in KINDS.items():
        texts = dict.fromkeys(collect(lessons))  # each once
        figure = readability(texts)
        found.append(
            Row(
                f"reading grade: {kind}",
                f"{GRADE:g} (age 11 to 12)",
                f"{figure.grade:.1f} ({figure.sentences} sentences,"
                f" {figure.words / figure.sentences:.1f} words each)",
                figure.grade <= GRADE,
            )
        )
    return [*found, Row(f"... where the grade is {FORMULA}", "", SOURCE)]
