"""What watches a run, on paper: the gaps of a sheet are the answers' numbers."""

from __future__ import annotations

from fractions import Fraction

import pytest

from app.classroom.pace import rest_seconds
from app.classroom.session import Session
from app.lesson.blocks.speed import duration
from app.lesson.file.reader import read_lesson
from app.lesson.header import Depth
from app.lesson.paper.watched import cache_sheet, diagram_sheet
from app.web.paper.sheets import _plays
from tests.board.test_watching import TEXT
from tests.machine.watching import clockwork


def test_the_table_is_what_a_cache_of_copies_does() -> None:
    scene = read_lesson("watched", TEXT).scenes[0]
    sheet = cache_sheet(scene)
    memory = clockwork.Cached(list(scene.program.words), 2, 4, 1, 10)
    clockwork.carry_out(memory, [], 100)
    assert sheet
    assert [(each.result, each.ticks) for each in sheet.rows] == memory.looks[: len(sheet.rows)]


def test_the_diagram_is_that_of_the_second_account() -> None:
    scene = read_lesson("watched", TEXT).scenes[1]
    sheet = diagram_sheet(scene)
    done, _ = clockwork.carry_out(clockwork.Memory(list(scene.program.words)), [], 100)
    starts, _ = clockwork.pipeline(done, 3, 1)
    assert sheet
    rows = [each for each in sheet.rows if not each.in_vain]
    for row, here in zip(rows, starts, strict=False):
        letters = {tick: cell for tick, cell in zip(sheet.ticks, row.cells, strict=True) if cell}
        work = {tick: cell for tick, cell in letters.items() if cell in "FDE"}
        expected = dict(zip(here, "FDE", strict=True))
        assert work == {tick: each for tick, each in expected.items() if tick in sheet.ticks}


def test_a_scene_without_one_has_no_sheet() -> None:
    scenes = read_lesson("watched", TEXT).scenes
    assert diagram_sheet(scenes[0]) is None and cache_sheet(scenes[1]) is None
    assert cache_sheet(scenes[2]) is None and diagram_sheet(scenes[2]) is None


@pytest.mark.parametrize("depth", Depth)
def test_the_plan_tells_how_long_a_scene_with_a_cache_takes_to_play(depth: Depth) -> None:
    """As long as the clock of a lesson that plays, a miss longer than a hit."""
    lesson = read_lesson("watched", TEXT)
    scene = lesson.scenes[0]
    session = Session("test", lesson)
    if session.view().settings.depth is not depth:
        session.change("depth")
    # What is told goes by the start of the run.
    assert scene.cache and scene.run.last_step < 400
    seconds = 0.0
    while session.view().step < scene.run.last_step:
        session.step_on()
        view = session.view()
        seconds += rest_seconds(view.moment, depth, 1.0, None, view.looks)
    assert _plays(scene, depth) == duration(Fraction(round(seconds)))


def test_the_plan_tells_how_long_ticks_and_machines_take_to_play() -> None:
    """As long as the clock of a lesson that plays: a press there is a tick, or a machine."""
    lesson = read_lesson("watched", TEXT)
    for number in (1, 2):
        scene = lesson.scenes[number]
        session = Session("test", lesson)
        session.go_to_scene(number)
        seconds = 0.0
        for _ in range(scene.paced.last_step):
            session.step_on()
            view = session.view()
            seconds += rest_seconds(view.moment, view.settings.depth, 1.0)
        assert view.step == scene.paced.last_step
        assert _plays(scene, scene.depth) == duration(Fraction(round(seconds)))
    assert _plays(lesson.scenes[2], lesson.scenes[2].depth) == "1 second"
