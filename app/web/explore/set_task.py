"""The task that a class has, as it is handed to the worker that tries a pupil's program on it.

A worker has files of its own to read, but no class: while a lesson's file has a fault, only the
server knows the version that is being taught.
"""

from __future__ import annotations

from dataclasses import dataclass

from app.lesson.blocks.task import Task
from app.lesson.model import Scene
from app.machine.growing import key_of, machine_of
from app.machine.machine import machine_with
from app.machine.source.assembler import Program

from .work import assembled


@dataclass(frozen=True, slots=True)
class SetTask:
    """A task with the text of the solution that its lesson has (empty for none). ``machine``
    is the key and ``counter`` the habit of the machine for which that was written."""

    task: Task
    machine: str
    counter: str
    source: str

    @property
    def solution(self) -> Program | None:
        if not self.source:
            return None
        machine = machine_of(self.machine)
        assert machine
        return assembled(machine_with(machine, self.counter), self.source)


def set_task(scene: Scene) -> SetTask | None:
    """The task of a scene; None where it has none."""
    if scene.task is None:
        return None
    machine = scene.program.machine
    source = scene.solution.source if scene.solution else ""
    return SetTask(scene.task, key_of(machine), machine.counter_moves or "last", source)
