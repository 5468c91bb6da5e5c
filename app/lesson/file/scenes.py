"""One scene of a lesson file: its prose and its blocks, made into a Scene."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from itertools import islice
from typing import Any, Self

from markdown_it.token import Token

from app.lesson.asking.questions import Question
from app.lesson.blocks.change import read_change
from app.lesson.blocks.compare import Comparison, read_compare
from app.lesson.blocks.cues import MOST_CUES, Cue, read_cues
from app.lesson.blocks.interrupts import read_interrupts
from app.lesson.blocks.pipeline import read_pipeline
from app.lesson.blocks.question import read_question
from app.lesson.blocks.scale import read_scale
from app.lesson.blocks.show import read_show
from app.lesson.blocks.speed import read_speed
from app.lesson.blocks.task import Task, read_task
from app.lesson.blocks.watch import read_watch
from app.lesson.header import Depth, Header, Press
from app.lesson.model import Scene
from app.lesson.parts import all_parts
from app.machine.requests import Request
from app.machine.source.assembler import Program, assemble
from app.machine.source.numbers import read_numbers
from app.machine.source.problems import Problem, place_at

from .brackets import close_nothing
from .prose import Calls, read_blocks, to_html, too_long

# After so many faults of a lesson no further block is read.
MOST_PROBLEMS = 200
# So many brackets of a homework are told that close nothing.
_MOST_TOLD = 5
BLOCKS = (
    *("program", "inputs", "cues", "show", "question", "scale", "speed", "task", "solution"),
    *("homework", "watch", "change", "interrupts", "pipeline", "compare"),
)

# A scene may have several of these; of the others one.
_SEVERAL = ("cues", "question")


class Problems(list[Problem]):
    """What is wrong with a lesson, as it is found. Of warnings there are no more than are told,
    and they take no place from a fault: however many there are, every fault is looked for until
    the list is ``full`` of them."""

    def __init__(self) -> None:
        super().__init__()
        self.faults = 0

    @property
    def full(self) -> bool:
        return self.faults > MOST_PROBLEMS

    def append(self, problem: Problem) -> None:
        if not problem.warning:
            self.faults += 1
        elif len(self) - self.faults > MOST_PROBLEMS:
            return
        super().append(problem)

    def __iadd__(self, found: Iterable[Problem]) -> Self:  # type: ignore[override, misc]
        for each in found:
            self.append(each)
        return self


@dataclass(slots=True)
class Block:
    """A fenced block: ``line`` is the line of the file that its text starts on."""

    kind: str
    line: int
    text: str


@dataclass(slots=True)
class Draft:
    """A scene as it stands in the file. It is ``lacking`` where a block was taken as text;
    ``said`` is what the lines under its heading say (see ``scene_lines``)."""

    title: str
    line: int
    tokens: list[Token] = field(default_factory=list)  # of the notes
    blocks: list[Block] = field(default_factory=list)
    lacking: bool = False
    # Those that are left for the prose of the whole file.
    calls: Calls = field(default_factory=Calls)
    said: dict[str, Any] = field(default_factory=dict)
    said_by: range = range(0)  # the lines (from 0, without the header) that say it

    @property
    def is_empty(self) -> bool:
        return not (self.tokens or self.blocks or self.said)

    def has_one(self, kind: str) -> bool:
        """Whether it has a block of a kind that it may have once."""
        return kind not in _SEVERAL and any(each.kind == kind for each in self.blocks)


def make_scene(
    draft: Draft,
    header: Header,
    program: Program,
    inputs: tuple[int, ...],
    requests: tuple[Request, ...],
    problems: Problems,
) -> Scene:
    """The scene of a draft. ``program``, ``inputs`` and ``requests`` are kept where it has no
    program."""
    return _Maker(draft, header, program, inputs, requests, problems).scene()


class _Maker:
    def __init__(
        self,
        draft: Draft,
        header: Header,
        program: Program,
        inputs: tuple[int, ...],
        requests: tuple[Request, ...],
        problems: Problems,
    ) -> None:
        self.draft = draft
        self.header = header
        self.machine = header.machine
        self.limit = header.limit
        self.wording = header.wording
        self.program = program
        self.inputs = inputs
        self.requests = requests
        self.problems = problems
        self.kinds: dict[str, int] = {}  # the line of the first block of each kind
        self.program_line = 0
        parts, shown = all_parts(self.machine), self.header.show
        self.made: dict[str, object] = {"parts": parts if shown is None else parts & shown}
        self.cues: list[Cue] = []
        self.asked: list[Question] = []
        self.cue_lines = 0

    def scene(self) -> Scene:
        if not self.draft.blocks and not self.draft.tokens and not self.problems.faults:
            what = f"The scene '{self.draft.title}' is empty: there is nothing to say or to show."
            mend = "Write its notes or its blocks."
            self.problems.append(Problem(self.draft.line, 1, 1, what, mend, warning=True))
        for block in self.draft.blocks:
            if self.problems.full:
                break
            if block.kind in self.kinds and block.kind not in _SEVERAL:
                what = f"The scene '{self.draft.title}' has a second '{block.kind}' block."
                mend = (
                    f"Put it in one block (the first is on line {self.kinds[block.kind]}), or"
                    " start a new scene."
                )
                self.problems.append(Problem(block.line - 1, 1, 3, what, mend))
                continue
            self.kinds.setdefault(block.kind, block.line - 1)
            getattr(self, f"_{block.kind}")(block)
        for block in self.draft.blocks:
            # Its names are labels of the program, which may stand below it.
            first = block.kind == "watch" and block.line - 1 == self.kinds.get("watch")
            if first and not self.program.problems:
                self._keep("watch", read_watch(self.program, block.text, block.line))
        task = self.made.get("task")
        if isinstance(task, Task):
            self.made["task"] = replace(task, requests=self.requests)
        self._no_requests_in_stages()
        if "scale" in self.kinds:
            self._only_a_scale()
            self.program, self.inputs, self.requests = Program(self.machine, ""), (), ()
        return Scene(
            title=self.draft.title,
            line=self.draft.line,
            notes=to_html(self.draft.tokens),
            program=self.program,
            inputs=self.inputs,
            requests=self.requests,
            limit=self.limit,
            cues=tuple(self.cues),
            asked=tuple(self.asked),
            program_line=self.program_line,
            inputs_line=self.kinds.get("inputs", -1) + 1,
            requests_line=self.kinds.get("interrupts", -1) + 1,
            **self._said(),
            wording=self.wording,
            **self.made,  # type: ignore[arg-type]
        )

    def _said(self) -> dict[str, Any]:
        """What the header and the lines under the heading say of the scene."""
        usual = self.header.cache
        said: dict[str, Any] = {
            "depth": self.header.depth,
            "press": self.header.press,
            "cache": usual,
            "other_cache": usual,
        }
        said |= self.draft.said
        if self.header.memory_ticks and said["cache"]:
            said["cache"] = replace(said["cache"], memory_ticks=self.header.memory_ticks)
        if self.made.get("pipeline") or self.made.get("compare"):
            # Of two pictures of time one is shown; in the other's scene a press is a tick.
            said |= {"cache": None, "depth": Depth.TRANSFERS}
            said["press"] = None if said["press"] is Press.PHASE else said["press"]
        return said

    # One method for each kind of block.

    def _program(self, block: Block) -> None:
        self.program = assemble(self.machine, block.text, block.line)
        self.program_line = block.line
        self.problems += self.program.problems + self.program.warnings
        if not self.program.words and not self.program.problems:
            what = "The program is empty."
            mend = "Write an instruction on each line, with HALT as the last."
            self.problems.append(Problem(block.line - 1, 1, 3, what, mend))
        if "inputs" not in self.kinds:
            self.inputs = ()
        if "interrupts" not in self.kinds:
            self.requests = ()

    def _change(self, block: Block) -> None:
        if any(each.kind == "program" for each in self.draft.blocks):
            what = f"The scene '{self.draft.title}' has a program of its own, and changes one."
            mend = "Change it where it is written, and leave this block out."
            self.problems.append(Problem(block.line - 1, 1, 3, what, mend))
        elif self.program.words:
            self.program, found = read_change(self.program, block.text, block.line)
            self.made["changed"] = tuple(block.text.strip("\n").split("\n"))
            self.problems += found
        elif not self.program.problems:
            what = "There is no program before this scene that could be changed."
            self.problems.append(
                Problem(block.line - 1, 1, 3, what, "Write a 'program' block here instead.")
            )

    def _inputs(self, block: Block) -> None:
        self.inputs, wrong = read_numbers(self.machine, block.text, first_line=block.line)
        self.problems += wrong
        if not block.text.strip():
            mend = "Write numbers, as in '3, 8', or leave the block out."
            self._empty(block, mend)

    def _interrupts(self, block: Block) -> None:
        self.requests, wrong = read_interrupts(self.machine, block.text, block.line)
        self.problems += wrong

    def _cues(self, block: Block) -> None:
        found, wrong = read_cues(block.text, block.line, MOST_CUES - self.cue_lines, self.machine)
        self.cue_lines += len(found) + sum(not each.warning for each in wrong)
        self.cues += found
        self.problems += wrong
        if not block.text.strip():
            mend = "Write for example 'fetch 1: The first instruction is fetched.'"
            self._empty(block, mend)

    def _show(self, block: Block) -> None:
        self._keep("parts", read_show(block.text, block.line, self.machine))

    def _question(self, block: Block) -> None:
        question, wrong = read_question(block.text, block.line, self.machine)
        self.problems += wrong
        if question:
            self.asked.append(question)

    def _scale(self, block: Block) -> None:
        self._keep("scale", read_scale(block.text, block.line))

    def _speed(self, block: Block) -> None:
        self._keep("speed", read_speed(block.text, block.line))

    def _pipeline(self, block: Block) -> None:
        self._keep("pipeline", read_pipeline(block.text, block.line))

    def _compare(self, block: Block) -> None:
        self._keep("compare", read_compare(block.text, block.line))
        if any(each.kind == "pipeline" for each in self.draft.blocks):
            what = f"The scene '{self.draft.title}' has a pipeline, and compares machines, too."
            mend = "Give one of them a scene of its own."
            self.problems.append(Problem(block.line - 1, 1, 3, what, mend))

    def _homework(self, block: Block) -> None:
        if not block.text.strip():
            what, mend = "The homework is empty.", "Write what pupils do at home."
            self.problems.append(Problem(block.line - 1, 1, 3, what, mend))
        for at in islice(close_nothing(block.text), _MOST_TOLD):
            line, column = place_at(block.text, at)
            what = "This bracket closes nothing: one before it was over at its first ')'."
            mend = "Pupils see what is left. Within brackets write 'a: 7, b: 8' for 'a) 7, b) 8'."
            wrong = Problem(line, column, 1, what, mend, warning=True)
            self.problems.append(wrong.moved(block.line - 1))
        tokens = read_blocks(
            block.text,
            lambda line: self.problems.append(too_long("homework", block.line + line)),
            self.draft.calls,
        )
        self.made["homework"] = to_html(tokens)

    def _task(self, block: Block) -> None:
        self._keep("task", read_task(self.machine, block.text, block.line))

    def _solution(self, block: Block) -> None:
        solution = assemble(self.machine, block.text, block.line)
        self.problems += solution.problems + solution.warnings
        if not solution.words and not solution.problems:
            what = "The solution is empty."
            mend = "Write a program that does the task, or leave the block out."
            self.problems.append(Problem(block.line - 1, 1, 3, what, mend))
        if all(each.kind != "task" for each in self.draft.blocks):
            what = f"The scene '{self.draft.title}' has a solution but no task."
            mend = "Put the solution into the scene of its task."
            self.problems.append(Problem(block.line - 1, 1, 3, what, mend, warning=True))
        self.made |= {"solution": solution, "solution_line": block.line}

    def _watch(self, block: Block) -> None:
        """Read once the program is there: see ``scene``."""

    def _keep(self, name: str, read: tuple[object, list[Problem]]) -> None:
        self.made[name] = read[0]
        self.problems += read[1]

    def _empty(self, block: Block, mend: str) -> None:
        what = f"This '{block.kind}' block is empty."
        self.problems.append(Problem(block.line - 1, 1, 3, what, mend, warning=True))

    def _no_requests_in_stages(self) -> None:
        """What a request costs that breaks into a pipeline is not worked out (see
        ``watching.pipeline``): without a word it would be nothing."""
        compare = self.made.get("compare")
        rivals = compare.rivals if isinstance(compare, Comparison) else ()
        has_stages = any(each.pipeline or each.one_by_one for each in rivals)
        kind = "pipeline" if self.made.get("pipeline") else "compare" if has_stages else ""
        if self.requests and kind:
            what = "Requests break into this run, and here that is not worked out with a pipeline."
            mend = f"Leave the requests out of this scene, or the '{kind}' block."
            self.problems.append(Problem(self.kinds[kind], 1, 3, what, mend))

    def _only_a_scale(self) -> None:
        """A zoom is stepped through station by station, so nothing else can run there."""
        for kind, line in self.kinds.items():
            if kind not in ("scale", "homework"):
                what = f"A scene with a 'scale' block cannot have a '{kind}' block too."
                mend = "Give one of them a scene of its own."
                self.problems.append(Problem(line, 1, 3, what, mend))
