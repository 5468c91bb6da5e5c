"""How much of a lesson is worked out for one answer.

A lesson may have sixty scenes whose programs never stop. One of them is looked at as far as any
lesson needs; all of them together would take many seconds.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from .model import Scene

# Counted in steps of a run (see Scene.taken). Of the lessons that come with Chalkcycle the longest
# takes 17,000.
FOLLOWED_IN_ALL = 150_000


def worked_out_at_once(scenes: Iterable[Scene]) -> Iterator[Scene]:
    """The first of these scenes, with all that is told of their runs, until that has taken
    FOLLOWED_IN_ALL. The check tells of those after them that they were not run."""
    followed = 0
    for scene in scenes:
        if followed >= FOLLOWED_IN_ALL:
            return
        if scene.program.words:
            # The first takes the run to be followed; what watches it is in pictures, too.
            _ = scene.cue_sheet, scene.questions, scene.watching
            followed += scene.taken
        yield scene
