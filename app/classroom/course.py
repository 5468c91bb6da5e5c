"""The course of a scene: the steps that the keys go through, whatever the scene shows."""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol

from app.lesson.blocks.scale import Scale
from app.lesson.header import Depth
from app.lesson.model import Scene
from app.machine.run import Moment, Run


class Course(Protocol):
    """Steps counted from 0, the start. Every answer is a step that the course has."""

    def reaches(self, step: int) -> bool: ...

    def last_step(self) -> int: ...

    def moment(self, step: int) -> Moment | None:
        """The machine after a step; None where the scene shows no machine."""

    def on(self, step: int, depth: Depth) -> int: ...

    def back(self, step: int, depth: Depth) -> int: ...

    def after_phase(self, step: int) -> int: ...

    def after_instruction(self, step: int) -> int: ...

    def before_instruction(self, step: int) -> int: ...


class _RunCourse:
    """The steps of a program's run; by phases where the class looks at phases."""

    def __init__(self, run: Run) -> None:
        self._run = run
        self.reaches = run.reaches
        self.moment = run.moment
        self.after_phase = run.after_phase
        self.after_instruction = run.after_instruction
        self.before_instruction = run.before_instruction

    def last_step(self) -> int:
        return self._run.last_step

    def on(self, step: int, depth: Depth) -> int:
        if depth is Depth.PHASES:
            return self._run.after_phase(step)
        return step + 1 if self._run.reaches(step + 1) else step

    def back(self, step: int, depth: Depth) -> int:
        return self._run.before_phase(step) if depth is Depth.PHASES else max(step - 1, 0)


class _StationCourse:
    """The stations of a zoom, or the one step of a scene with nothing that moves."""

    def __init__(self, last: int) -> None:
        self._last = last

    def reaches(self, step: int) -> bool:
        return step <= self._last

    def last_step(self) -> int:
        return self._last

    def moment(self, step: int) -> Moment | None:
        return None

    def on(self, step: int, depth: Depth) -> int:
        return min(step + 1, self._last)

    def back(self, step: int, depth: Depth) -> int:
        return max(step - 1, 0)

    def after_phase(self, step: int) -> int:
        return min(step + 1, self._last)

    after_instruction = after_phase

    def before_instruction(self, step: int) -> int:
        return max(step - 1, 0)


def course_of(scene: Scene, run: Run | None = None) -> Course:
    """The course of a scene: its zoom, else its run, or another ``run`` in its place."""
    if run is not None:
        return _RunCourse(run)
    scale: Scale | None = scene.scale
    if scale is not None:
        return _StationCourse(scale.last_step)
    return _RunCourse(scene.paced) if scene.program.words else _StationCourse(0)


# How a press moves along a course, by the names of the controls: the step that it leads to.
MOVES: dict[str, Callable[[Course, int, Depth], int]] = {
    "here": lambda course, step, depth: step,
    "forward": lambda course, step, depth: course.on(step, depth),
    "back": lambda course, step, depth: course.back(step, depth),
    "phase": lambda course, step, depth: course.after_phase(step),
    "instruction": lambda course, step, depth: course.after_instruction(step),
    "instruction-back": lambda course, step, depth: course.before_instruction(step),
    "restart": lambda course, step, depth: 0,
    "end": lambda course, step, depth: course.last_step(),
}
