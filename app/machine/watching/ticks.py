"""A run seen by the ticks of its pipeline: what is a step elsewhere is a tick here.

After a tick the machine is as its last finished instruction left it: what the others are about to
do has not been done yet.
"""

from __future__ import annotations

from app.machine.run import Moment, Run

from .pipeline import PipelineAccount
from .turns import Turns


class Ticks(Turns):
    """The ticks of a run's pipeline, counted from 1; 0 is the start."""

    def __init__(self, run: Run, account: PipelineAccount) -> None:
        self.account = account
        self.shape = account.shape
        super().__init__(run, account.ticks)

    def moment(self, step: int) -> Moment:
        if not 0 <= step <= self.turns:
            raise IndexError(f"the pipeline has {self.turns} ticks, and no tick {step}")
        finished = self.account.finished(step)
        return self.run.moment(self.account.row(finished).last_step if finished else 0)

    def outputs(self, count: int, first: int = 0) -> tuple[int, ...]:
        return self.run.outputs(count, first)

    def after_instruction(self, step: int) -> int:
        """The next tick in which an instruction is finished."""
        finished = self.account.finished(step)
        if finished == self.account.count:
            return self.turns
        return self.account.row(finished + 1).finish

    def before_instruction(self, step: int) -> int:
        """The last tick before this one in which an instruction was finished; else the start."""
        finished = self.account.finished(step - 1) if step else 0
        return self.account.row(finished).finish if finished else 0
