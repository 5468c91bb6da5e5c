"""How much reading a lesson may take, counted in what is followed and never in seconds."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner

from app.authoring import check
from app.lesson.at_once import FOLLOWED_IN_ALL
from app.lesson.file.reader import read_lesson
from app.lesson.minutes import scene_minutes
from app.lesson.timeline import FOLLOWED
from app.machine.watching import cache, pipeline
from app.machine.watching.accounts import CACHE_WORK, PIPELINE_WORK
from app.machine.watching.work import Done
from tests.lesson.file.shapes import SHAPES

WATCHED = [
    "machines to compare in many scenes",
    "machines that are asked about in many scenes",
    "caches to compare in many scenes",
    "a pipeline on a loop without end in many scenes",
    "a cache on a loop without end in many scenes",
]
# What one scene may take, for no scene is left in its middle: its run, and four machines.
A_SCENE = FOLLOWED + 4 * max(
    CACHE_WORK * cache.MOST_STEPS, PIPELINE_WORK * pipeline.MOST_INSTRUCTIONS
)


class Followed:
    """How many instructions went through a pipeline, and how many trips were looked up."""

    def __init__(self) -> None:
        self.instructions = self.trips = 0

    @property
    def work(self) -> int:
        return PIPELINE_WORK * self.instructions + CACHE_WORK * self.trips


@pytest.fixture
def followed(monkeypatch: pytest.MonkeyPatch) -> Followed:
    found = Followed()
    add, trips = pipeline._Scheduler.add, cache.trips

    def counted_add(made: pipeline._Scheduler, done: Done) -> None:
        found.instructions += 1
        add(made, done)

    def counted_trips(*given: object) -> Iterator[object]:
        for each in trips(*given):  # type: ignore[arg-type]
            found.trips += 1
            yield each

    monkeypatch.setattr(pipeline._Scheduler, "add", counted_add)
    monkeypatch.setattr(cache, "trips", counted_trips)
    return found


@pytest.mark.parametrize("shape", WATCHED)
def test_what_watches_runs_is_counted_with_them(shape: str, followed: Followed) -> None:
    lesson = read_lesson("shape", SHAPES[shape](64_000))
    assert len(lesson.scenes) == 60
    # (A line about the cache that stands in the notes is told as well.)
    last = [each for each in lesson.problems if "taken for notes" not in each.what][-1]
    assert "were not run" in last.what and last.mend
    assert followed.work <= FOLLOWED_IN_ALL + A_SCENE


def test_machines_are_compared_where_they_are_asked_about_and_once(followed: Followed) -> None:
    shape = "machines to compare in many scenes"
    (scene,) = read_lesson("shape", SHAPES[shape](1000)).scenes
    assert followed.work == 0
    # Four pipelines, none the same: each instruction of the run goes through each of them once.
    done = scene.run.finish().cycles
    assert len(scene.results) == 4 and followed.instructions == 4 * done
    assert scene.results and scene.watching.racers and followed.instructions == 4 * done
    assert scene.accounts.work == PIPELINE_WORK * 4 * done


def test_nothing_watches_for_a_question_about_something_else(followed: Followed) -> None:
    head = "---\ntitle: A\ncache: 4 lines of 4 words\n---\n# One\n```program\nLOAD #1\nHALT\n```\n"
    asks = "```question\nbefore first LOAD: a\nask: {}\nchoices: 1 or 2 or 3\n```\n"
    (scene,) = read_lesson("plain", head + asks.format("the accumulator")).scenes
    assert len(scene.questions) == 1 and followed.work == 0
    (scene,) = read_lesson("watched", head + asks.format("the misses")).scenes
    assert len(scene.questions) == 1 and followed.trips == 2


def test_machines_of_one_pipeline_share_its_account(followed: Followed) -> None:
    race = "slow: clock 1 GHz, pipeline 3 stages\nfast: clock 2 GHz, pipeline 3 stages"
    text = f"---\ntitle: A\n---\n# One\n```program\nLOAD #1\nHALT\n```\n```compare\n{race}\n```\n"
    (scene,) = read_lesson("race", text).scenes
    slow, fast = scene.results
    assert slow.ticks == fast.ticks and slow.seconds == 2 * fast.seconds
    assert followed.instructions == 2


@pytest.mark.parametrize("shape", WATCHED)
def test_presses_are_counted_for_as_much_of_a_lesson(
    shape: str, followed: Followed, tmp_path: Path
) -> None:
    """The last line of a check counted those of all scenes: 18 seconds for a lesson that was read
    in half of one."""
    (tmp_path / "shape.md").write_text(SHAPES[shape](64_000), encoding="utf-8")
    told = CliRunner().invoke(check, [str(tmp_path / "shape.md")]).output
    assert "and no more were counted." in told
    assert followed.work <= FOLLOWED_IN_ALL + A_SCENE


def test_minutes_are_shared_out_without_working_out_what_is_asked() -> None:
    shape = "machines that are asked about in many scenes"
    scenes = read_lesson("shape", SHAPES[shape](64_000)).scenes
    asks = scenes[-1]
    assert scene_minutes(60, scenes)[-1] and "_asking" not in asks.__dict__
    assert "results" not in asks.__dict__ and len(asks.asked) == 1
