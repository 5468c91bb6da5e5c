"""A ``compare`` block: machines that carry out one program, side by side.

::

    without: clock 1 GHz, memory takes 10 ticks
    with a cache: clock 1 GHz, cache 4 lines of 4 words, memory takes 10 ticks
    one by one: clock 1 GHz, 3 stages one after another
    in a pipeline: clock 1 GHz, pipeline 3 stages, two memories
    four cores: clock 1 GHz, cores 4, parallel 80 %

Each line is a machine: its name, a colon, and what it has. The time is *ticks / clock*; on several
cores it is multiplied by the share of Amdahl (see :mod:`app.machine.watching.cores`).
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import NamedTuple

from app.lesson.entries import Piece, Wrong, read_entries, too_many
from app.machine.run import Run
from app.machine.source.problems import MOST_FAULTS, Problem
from app.machine.telling.counts import counted
from app.machine.watching import cache as caches
from app.machine.watching import pipeline as pipelines
from app.machine.watching.accounts import Accounts
from app.machine.watching.cache import CacheShape
from app.machine.watching.cores import share_of_time
from app.machine.watching.pipeline import STAGES, PipelineShape

from .cache import in_words as cache_in_words
from .cache import read_cache, read_memory_ticks
from .number_words import roughly
from .pipeline import in_words as pipeline_in_words
from .pipeline import stages_in_words
from .si import HERTZ, SMALL_M, parse_quantity, show_quantity

FEWEST, MOST = 2, 4
MOST_CORES = 1024
LONGEST_NAME = 30
_EXAMPLE = "Write for example 'with a cache: clock 1 GHz, cache 4 lines of 4 words'."
_NUMBERS = {"one": 1, "two": 2, "three": 3, "five": 5}


@dataclass(frozen=True, slots=True)
class Rival:
    """One of the machines. ``clock`` is in hertz. It has a ``cache`` or a ``pipeline`` or neither;
    ``one_by_one`` is the number of stages that an instruction goes through alone (0: a tick a
    transfer), ``memory_ticks`` how long memory takes (0: as long as any step)."""

    name: str
    clock: Fraction = Fraction(10**9)
    cache: CacheShape | None = None
    memory_ticks: int = 0
    pipeline: PipelineShape | None = None
    one_by_one: int = 0
    cores: int = 1
    parallel: Fraction = Fraction(1)

    def ticks(self, run: Run, accounts: Accounts) -> int:
        """How many ticks the program takes on it; ``accounts`` are those of its run."""
        last = run.last_step
        if self.pipeline:
            return accounts.piped(self.pipeline).ticks
        if self.one_by_one:
            return accounts.piped(PipelineShape(self.one_by_one)).without
        if self.cache:
            return accounts.cached(self.cache).count(last).ticks
        if self.memory_ticks:
            plain = CacheShape(1, 1, 1, self.memory_ticks)
            return accounts.cached(plain).count(last).without
        return last

    def seconds(self, ticks: int) -> Fraction:
        """How long it takes for so many ticks."""
        return ticks / self.clock * share_of_time(self.cores, self.parallel)


def in_words(rival: Rival) -> str:
    """What a machine has, as it is said beside its name: ``1 GHz, memory takes 10 ticks``."""
    said = [show_quantity(rival.clock, HERTZ)]
    if rival.cache:
        said.append(f"cache of {cache_in_words(rival.cache)}")
    if rival.pipeline:
        said.append(pipeline_in_words(rival.pipeline))
    if rival.one_by_one:
        said.append(f"{stages_in_words(rival.one_by_one)} one after another")
    if memory := rival.cache.memory_ticks if rival.cache else rival.memory_ticks:
        said.append(f"memory takes {counted(memory, 'tick')}")
    if rival.cores > 1:
        said.append(f"{rival.cores} cores, {roughly(rival.parallel * 100)} % shared")
    return ", ".join(said)


@dataclass(frozen=True, slots=True)
class Result:
    """What came of a machine: ``ticks``, and the time in ``seconds``."""

    rival: Rival
    ticks: int
    seconds: Fraction


class NotCompared(NamedTuple):
    """Why machines cannot be given a run, as what follows 'the program', and how to mend it."""

    why: str
    mend: str


TOO_LONG = NotCompared("is too long to be compared on machines", "Let it do less.")
# In stages it takes no time at all, and nothing is so many times as fast as that.
NOTHING_DONE = NotCompared(
    "finishes no instruction, so there is nothing to compare", "Let it finish at least one."
)


@dataclass(frozen=True, slots=True)
class Comparison:
    rivals: tuple[Rival, ...]

    @property
    def last_step(self) -> int:
        """A press brings each machine."""
        return len(self.rivals)

    def not_compared(self, run: Run) -> NotCompared | None:
        """Why the machines cannot be given a run: it does nothing, or more than is followed; None
        where they can."""
        if run.reaches(caches.MOST_STEPS + 1):
            return TOO_LONG
        cycles = run.finish().cycles
        if cycles > pipelines.MOST_INSTRUCTIONS:
            return TOO_LONG
        return None if cycles else NOTHING_DONE

    def results(self, run: Run, accounts: Accounts) -> tuple[Result, ...]:
        """What comes of the machines; nothing where they cannot be given the run."""
        if self.not_compared(run):
            return ()
        ticks = [each.ticks(run, accounts) for each in self.rivals]
        return tuple(
            Result(each, many, each.seconds(many))
            for each, many in zip(self.rivals, ticks, strict=True)
        )


def read_percent(text: str) -> Fraction:
    """A share: ``80 %``. Raises Wrong."""
    found = re.fullmatch(r"(\d{1,3})(?:\.(\d{1,3}))? ?(?:%|per ?cent)", text.strip().casefold())
    share = Fraction(f"{found[1]}.{found[2] or 0}") / 100 if found else Fraction(-1)
    if not 0 <= share <= 1:
        raise Wrong(f"'{text}' is not a share of the work.", "Write 0 % to 100 %, as in '80 %'.")
    return share


def read_cores(text: str) -> int:
    """A number of cores. Raises Wrong."""
    plain = text.strip()
    number = int(plain) if re.fullmatch(r"\d{1,5}", plain) else 0
    if not 1 <= number <= MOST_CORES:
        raise Wrong(f"'{text}' is not a number of cores.", f"Write 1 to {MOST_CORES}.")
    return number


def read_compare(text: str, first_line: int) -> tuple[Comparison | None, list[Problem]]:
    """The machines of a block, and what is wrong with them."""
    problems: list[Problem] = []
    warnings: list[Problem] = []
    found: list[Rival] = []
    names: set[str] = set()
    for entry in read_entries(text, first_line):
        if len(problems) >= MOST_FAULTS:
            problems.append(too_many(entry.whole))
            break
        halves = entry.at_colon()
        if not halves or not halves[0].text or not halves[1].text:
            what = "A machine is its name, a colon, and what it has."
            problems.append(entry.whole.problem(what, _EXAMPLE))
            continue
        name, has = halves
        if len(name.text) > LONGEST_NAME:
            what = f"The name has {len(name.text)} letters."
            problems.append(name.problem(what, f"Write it in at most {LONGEST_NAME}."))
        elif name.text.casefold() in names:
            problems.append(name.problem("There is a machine of this name already.", "Change it."))
        else:
            try:
                found.append(_rival(name.text, has))
            except Wrong as wrong:
                problems.append(has.problem(wrong.what, wrong.mend))
                continue
            names.add(name.text.casefold())
            if found[-1].clock < 1:
                what = f"The clock of '{name.text}' ticks less than once a second."
                warnings.append(has.problem(what, SMALL_M, warning=True))
    if not problems and not FEWEST <= len(found) <= MOST:
        are = "is" if len(found) == 1 else "are"
        what = f"There {are} {counted(len(found), 'machine')} to compare."
        problems.append(
            Problem(first_line - 1, 1, 3, what, f"Write {FEWEST} to {MOST}, each on a line.")
        )
    return (None, problems) if problems else (Comparison(tuple(found)), warnings[:MOST])


def _rival(name: str, has: Piece) -> Rival:
    """A machine from what it has, set apart by commas. Raises Wrong."""
    made, stages = Rival(name), False
    before: set[str] = set()
    for part in has.text.split(","):
        said = " ".join(part.split())
        plain = said.casefold()
        word, after = plain.partition(" ")[0], said.partition(" ")[2]
        if word in before:
            raise Wrong(f"The machine says '{word}' twice.", "Leave one of them out.")
        before.add(word)
        if word == "clock":
            made = replace(made, clock=parse_quantity(after, HERTZ))
        elif word == "cores":
            made = replace(made, cores=read_cores(after))
        elif word == "parallel":
            made = replace(made, parallel=read_percent(after))
        elif word == "cache":
            made = replace(made, cache=read_cache(after))
        elif plain.startswith("memory takes "):
            made = replace(made, memory_ticks=read_memory_ticks(said.split(" ", 2)[2]))
        elif word == "pipeline":
            made = replace(made, pipeline=PipelineShape(_stages(_without(" stages", after))))
            stages = True
        elif plain.endswith(" stages one after another"):
            made = replace(made, one_by_one=_stages(_without(" stages one after another", said)))
        elif plain in ("one memory", "two memories", "2-way", "direct mapped"):
            made = _more(made, plain)
        else:
            known = "'clock', 'cache', 'memory takes', 'pipeline', 'cores' or 'parallel'"
            raise Wrong(f"'{part.strip()}' is nothing that a machine has here.", f"Write {known}.")
    if sum(map(bool, (made.cache, stages, made.one_by_one))) > 1:
        what = "A machine has a cache or stages here, not both."
        raise Wrong(what, "Make two machines of it.")
    if (stages or made.one_by_one) and made.memory_ticks:
        what = "How long memory takes is not worked out for a machine with stages."
        raise Wrong(what, "Leave 'memory takes' out of it, or make two machines of it.")
    if made.cache and made.memory_ticks:
        made = replace(made, cache=replace(made.cache, memory_ticks=made.memory_ticks))
    return made


def _more(made: Rival, plain: str) -> Rival:
    if plain == "2-way" and made.cache and made.cache.lines > 1:
        return replace(made, cache=replace(made.cache, ways=2))
    if plain in ("one memory", "two memories") and made.pipeline:
        memories = 1 if plain == "one memory" else 2
        return replace(made, pipeline=replace(made.pipeline, memories=memories))
    if plain == "direct mapped" and made.cache:
        return made
    raise Wrong(f"'{plain}' belongs to nothing before it.", "Write the cache or pipeline first.")


def _without(end: str, words: str) -> str:
    """Words without an end of them, in whatever case."""
    return re.sub(f"{end}$", "", words, flags=re.IGNORECASE)


def _stages(text: str) -> int:
    number = _NUMBERS.get(text.casefold()) or (int(text) if re.fullmatch(r"\d{1,2}", text) else 0)
    if number not in STAGES:
        raise Wrong(f"There is no pipeline of '{text}' stages.", "Write 3 stages or 5 stages.")
    return number
