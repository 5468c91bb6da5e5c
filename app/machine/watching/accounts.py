"""The accounts of one run, each made when it is first asked for, and once."""

from __future__ import annotations

from functools import cached_property

from app.machine.run import Run

from . import cache as caches
from . import pipeline as pipelines
from .cache import CacheAccount, CacheShape
from .pipeline import PipelineAccount, PipelineShape
from .work import Done

# What an account takes to make, beside a step of a run that is only followed: of each step that a
# cache is watched in, and of each instruction that goes through a pipeline. From measuring.
CACHE_WORK = 2
PIPELINE_WORK = 40


class Accounts:
    """What watches a run. ``work`` is what all of it has taken so far, in steps of a run."""

    def __init__(self, run: Run) -> None:
        self._run = run
        self._caches: dict[CacheShape, CacheAccount] = {}
        self._pipelines: dict[PipelineShape, PipelineAccount] = {}
        self.work = 0

    def cached(self, shape: CacheShape) -> CacheAccount:
        """The account of the run with a cache."""
        if shape not in self._caches:
            self._caches[shape] = caches.follow(self._run, shape)
            self._run.reaches(caches.MOST_STEPS)
            self.work += CACHE_WORK * min(self._run.known_steps, caches.MOST_STEPS)
        return self._caches[shape]

    def piped(self, shape: PipelineShape) -> PipelineAccount:
        """The account of the run in a pipeline."""
        if shape not in self._pipelines:
            made = self._pipelines[shape] = pipelines.follow(self._run, shape, self._carried_out)
            self.work += PIPELINE_WORK * made.count
        return self._pipelines[shape]

    @cached_property
    def _carried_out(self) -> list[Done]:
        return pipelines.carried_out(self._run)

    @property
    def count(self) -> int:
        """How many accounts have been made."""
        return len(self._caches) + len(self._pipelines)
