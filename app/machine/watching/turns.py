"""A run of which only the end counts: what is a step elsewhere brings something else to look at."""

from __future__ import annotations

from app.machine.engine import Step
from app.machine.run import Moment, Run


class Turns(Run):
    """So many steps beside a run; the machine stands at the start of it at each."""

    def __init__(self, run: Run, turns: int) -> None:
        super().__init__(run.machine, (), run.inputs, 0)
        self.run = run
        self.turns = turns

    @property
    def last_step(self) -> int:
        return self.turns

    @property
    def phases(self) -> int:
        return self.turns

    def reaches(self, step: int) -> bool:
        return 0 <= step <= self.turns

    def moment(self, step: int) -> Moment:
        if not 0 <= step <= self.turns:
            raise IndexError(f"there are {self.turns} turns, and no turn {step}")
        return self.run.moment(0)

    def step(self, step: int) -> Step | None:
        return self.moment(step).step

    def after_phase(self, step: int) -> int:
        return min(step + 1, self.turns)

    def after_instruction(self, step: int) -> int:
        return self.after_phase(step)

    def before_phase(self, step: int) -> int:
        return max(step - 1, 0)

    def before_instruction(self, step: int) -> int:
        return max(step - 1, 0)
