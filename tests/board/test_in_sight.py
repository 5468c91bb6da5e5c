"""No question of a lesson that ships comes with its answer in sight: held to what the board shows.

Looked at are the frames that the board draws between asking and answering, not the rules of the
check.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from app.board.frames import Frame, make_frame
from app.classroom.session import Session
from app.lesson.asking.subjects import SERVING, WATCHED
from app.lesson.file.reader import read_file
from app.lesson.pressing import Pressing
from app.paths import resource

LESSONS = sorted(Path(str(resource("lessons"))).glob("*.md"))


def part(frame: Frame, kind: str, target: str) -> str | None:
    """What the board shows of what is asked about; None where that is not to be seen."""
    if kind == "output":
        return ", ".join(each.now for each in reversed(frame.outputs.values))
    if kind == "memory":
        shown = [row.number.now for row in frame.rows if target in (row.text, str(row.at))]
        return shown[0] if shown else None
    if kind in WATCHED:
        return watched_part(frame, kind)
    return next((each.value.now for each in frame.registers if each.place == kind), None)


def watched_part(frame: Frame, kind: str) -> str | None:
    """The same of a cache, a pipeline, or machines side by side."""
    if frame.race:
        return frame.race.faster
    if frame.pipeline:
        shown = {"ticks": frame.pipeline.tick, "lost": frame.pipeline.lost}
        return str(shown[kind]) if kind in shown else str("times as fast" in frame.sentence)
    assert frame.cache
    if kind == "look":
        return frame.cache.verdict
    return str(getattr(frame.cache.count, kind))


def says(words: str, answer: str) -> bool:
    return bool(re.search(rf"(?<![\w−-]){re.escape(answer)}(?!\w)", words))


@pytest.mark.parametrize("path", LESSONS, ids=lambda each: each.stem)
def test_no_question_comes_with_its_answer(path: Path) -> None:
    lesson = read_file(path)
    session = Session("t", lesson)
    looked_at = 0
    for number, scene in enumerate(lesson.scenes):
        session.go_to_scene(number)
        pressing = Pressing(scene, scene.depth)
        subjects = {each.line: each.subject for each in scene.asked}
        for asked in scene.questions:
            subject = subjects[asked.line]
            answer = asked.choices[asked.answer]
            session.go_to_step(pressing.ask_step(asked))
            frame = make_frame(session.view())
            looked_at += 1
            assert not says(frame.cue, answer), (scene.title, asked.prompt)
            if subject.kind == "jump":
                # The counter is at the next address: where a jump that is taken leads is not there.
                continue
            if subject.kind in SERVING:
                # What becomes of a request no part shows: only the words could give it away.
                assert not says(frame.sentence, answer), (scene.title, asked.prompt)
                continue
            first = part(frame, subject.kind, subject.target)
            session.go_to_step(asked.reveal_step)
            then = part(make_frame(session.view()), subject.kind, subject.target)
            if subject.kind == "output" or asked.late:
                assert first != then, (scene.title, asked.prompt)
            if subject.kind == "output" and not asked.late:
                # It does not wait in the accumulator for an OUTPUT that comes next.
                assert part(frame, "ACC", "") != answer.split(", ")[-1], asked.prompt
            if first == then or asked.late:
                # Nothing changes, which is what is asked; or nobody answers any more on the way.
                continue
            for step in range(asked.step, asked.reveal_step):
                session.go_to_step(step)
                shown = part(make_frame(session.view()), subject.kind, subject.target)
                assert shown != then, (scene.title, asked.prompt, step)
    assert looked_at == sum(len(each.questions) for each in lesson.scenes)
