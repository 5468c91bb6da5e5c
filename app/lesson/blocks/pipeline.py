"""A ``pipeline`` block: how many stages, and how many memories.

::

    stages: 3
    memory: one memory

Both lines may be left out: there are three stages then, and one memory. (In one line,
``5 stages, two memories`` says the same.)
"""

from __future__ import annotations

import re

from app.lesson.entries import read_pieces, too_many
from app.machine.source.problems import MOST_FAULTS, Problem
from app.machine.watching.pipeline import STAGES, PipelineShape

_NUMBERS = {"one": 1, "two": 2, "three": 3, "five": 5, "1": 1, "2": 2, "3": 3, "5": 5}
_STAGES = re.compile(r"(?:stages: ?(\w+)(?: stages)?|(\w+) stages)")
_MEMORIES = re.compile(r"(?:memory: ?)?(\w+) memor(?:y|ies)")
_MEND = "Write '3 stages' or '5 stages', and 'one memory' or 'two memories'."


def read_pipeline(text: str, first_line: int) -> tuple[PipelineShape | None, list[Problem]]:
    """The pipeline of a block, and what is wrong with it."""
    problems: list[Problem] = []
    said: dict[str, int] = {}
    for piece in read_pieces(text, first_line):
        if len(problems) >= MOST_FAULTS:
            problems.append(too_many(piece))
            break
        plain = " ".join(piece.text.casefold().split())
        stages, memories = _STAGES.fullmatch(plain), _MEMORIES.fullmatch(plain)
        name = "stages" if stages else "memories"
        found = stages or memories
        number = _NUMBERS.get((found[1] or found[2]) if stages else found[1], 0) if found else 0
        if number not in (STAGES if stages else (1, 2)):
            problems.append(piece.problem(f"'{piece.text}' is no pipeline that there is.", _MEND))
        elif name in said:
            problems.append(
                piece.problem(f"The block says its {name} twice.", "Leave one of them out.")
            )
        else:
            said[name] = number
    if problems:
        return None, problems
    return PipelineShape(said.get("stages", 3), said.get("memories", 1)), []


def stages_in_words(stages: int) -> str:
    """So many stages as they are said: ``three stages``."""
    return {3: "three stages", 5: "five stages"}[stages]


def in_words(shape: PipelineShape) -> str:
    """A pipeline as it is said: ``three stages, one memory``."""
    memories = "one memory" if shape.memories == 1 else "two memories"
    return f"{stages_in_words(shape.stages)}, {memories}"
