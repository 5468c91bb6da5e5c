"""From a line of the text to the board, and back."""

from __future__ import annotations

from pathlib import Path

import pytest

from app.lesson.pressing import Pressing
from app.lesson.writing.manuscript import Manuscript
from app.lesson.writing.whereabouts import Whereabouts, lines_of, place_of, says_where

SHIPPED = sorted((Path(__file__).parents[3] / "lessons").glob("*.md"))


@pytest.mark.parametrize("path", SHIPPED, ids=lambda each: each.stem)
def test_the_board_stands_where_the_cursor_is(path: Path) -> None:
    manuscript = Manuscript(path.stem, path.read_text(encoding="utf-8"))
    for number, scene in enumerate(manuscript.lesson.scenes):
        found = 0
        assert place_of(manuscript, scene.line) == Whereabouts(number)
        assert not says_where(manuscript, scene.line)
        pressing = Pressing(scene, scene.depth)
        for cue in scene.cues:
            place = place_of(manuscript, cue.line)
            assert place.scene == number
            span = scene.timeline.spans(cue.when)[0]
            assert span.first <= place.step <= pressing.whole(span.last)
            if cue.words:
                assert cue.line in lines_of(manuscript, place)
        for asked in scene.questions:
            place = place_of(manuscript, asked.line)
            assert place.scene == number
            first = next(each for each in scene.questions if each.line == asked.line)
            assert place.step == pressing.ask_step(first)
            assert asked.line in lines_of(manuscript, place)
        for address, origin in enumerate(scene.program.origins if scene.program_line else ()):
            line = scene.program_line + origin.line - 1
            spans = scene.timeline.carried_out(address)
            if not origin.is_data and spans:
                place = place_of(manuscript, line)
                assert place == Whereabouts(number, spans[0].last)
                assert line in lines_of(manuscript, place)
                found += 1
        instructions = [each for each in scene.program.origins if not each.is_data]
        if scene.program_line and scene.timeline.carried and instructions:
            assert found and says_where(manuscript, scene.program_line)
        if scene.compare and scene.program_line:
            assert not found and not says_where(manuscript, scene.program_line)


def test_in_a_pipeline_a_line_leads_to_the_tick_in_which_it_is_done() -> None:
    """Five instructions in three stages without a wait: the first is done after as many ticks as
    there are stages, and then one in each tick (Patterson and Hennessy)."""
    path = next(each for each in SHIPPED if "```pipeline" in each.read_text(encoding="utf-8"))
    manuscript = Manuscript(path.stem, path.read_text(encoding="utf-8"))
    scene = manuscript.lesson.scenes[0]
    lines = [
        scene.program_line + each.line - 1 for each in scene.program.origins if not each.is_data
    ]
    assert [place_of(manuscript, each).step for each in lines] == [3, 4, 5, 6, 7]


def test_a_line_before_the_first_scene_is_its_start() -> None:
    manuscript = Manuscript("x", SHIPPED[1].read_text(encoding="utf-8"))
    assert place_of(manuscript, 1) == Whereabouts()


def test_in_a_pipeline_the_oldest_instruction_under_way_is_marked() -> None:
    """Five instructions in three stages: the last of them is alone in tick 7 (k + n - 1)."""
    path = next(each for each in SHIPPED if "```pipeline" in each.read_text(encoding="utf-8"))
    manuscript = Manuscript(path.stem, path.read_text(encoding="utf-8"))
    lines = manuscript.text.lines

    def marked(scene: int, step: int) -> list[str]:
        found = (lines[each - 1].split() for each in lines_of(manuscript, Whereabouts(scene, step)))
        return [each[0] for each in found if each[0].isupper()]

    scene = manuscript.lesson.scenes[0]
    assert (scene.pipeline is not None, scene.paced.last_step) == (True, 7)
    assert [marked(0, tick) for tick in range(1, 8)] == [
        *[["LOAD"]] * 3,
        *(["ADD"], ["ADD"], ["OUTPUT"], ["HALT"]),
    ]
    compares = next(n for n, each in enumerate(manuscript.lesson.scenes) if each.compare)
    assert [marked(compares, turn) for turn in (1, 2)] == [[], []]
