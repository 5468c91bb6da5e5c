"""What watches a run, on paper: a table of hits and misses, or the diagram of the pipeline, to fill
in; and the same filled in."""

from __future__ import annotations

from dataclasses import dataclass

from app.lesson.blocks import cache as cache_block
from app.lesson.blocks import compare as compare_block
from app.lesson.blocks import pipeline as pipeline_block
from app.lesson.model import Scene
from app.machine.source.disassembler import write_instruction
from app.machine.telling.counts import counted
from app.machine.watching.pipeline import Row, Why

# What there is room for on a page, and how much of it is done for the pupils.
MOST_LOOKS = 22
DONE_LOOKS = 2
MOST_ROWS = 16
MOST_TICKS = 22
DONE_ROWS = 1
WAITS = "\N{EN DASH}"


@dataclass(frozen=True, slots=True)
class LookRow:
    """A trip to memory: what is asked for, where its line lies, its tag, what comes of it and the
    ticks; ``given`` where the worksheet has it filled in."""

    number: int
    asks: str
    place: str
    tag: str
    result: str
    ticks: int
    given: bool


@dataclass(frozen=True, slots=True)
class CacheSheet:
    """``sums`` are hits, misses, writes and ticks of the rows."""

    title: str
    memory: int
    rows: tuple[LookRow, ...]
    sums: tuple[tuple[str, int], ...]
    complete: bool


@dataclass(frozen=True, slots=True)
class DiagramRow:
    """An instruction and its ticks, one cell each: the letter of its stage, or WAITS."""

    name: str
    cells: tuple[str, ...]
    in_vain: bool
    given: bool


@dataclass(frozen=True, slots=True)
class DiagramSheet:
    title: str
    stages: tuple[tuple[str, str], ...]
    ticks: tuple[int, ...]
    rows: tuple[DiagramRow, ...]
    sums: tuple[tuple[str, int], ...]
    complete: bool


def runs_on(scene: Scene) -> str:
    """What a program runs on beside the machine itself: its cache, its pipeline, or the machines
    that are compared; empty for none. Without it their hits, ticks and times cannot be told."""
    if scene.compare:
        rivals = [f"{each.name}: {compare_block.in_words(each)}" for each in scene.compare.rivals]
        # (Where memory takes no longer, a step takes a tick as well, and nobody need be told.)
        if any(each.memory_ticks or each.cache for each in scene.compare.rivals):
            rivals.append("any other step takes 1 tick")
        return f"Machines: {'; '.join(rivals)}"
    if scene.pipeline:
        return f"Pipeline: {pipeline_block.in_words(scene.pipeline)}"
    if scene.cache:
        takes = counted(scene.cache.memory_ticks, "tick")
        cache = f"{cache_block.in_full(scene.cache)}, empty at the start"
        return f"Cache: {cache}; memory takes {takes}, the cache 1"
    return ""


def cache_sheet(scene: Scene) -> CacheSheet | None:
    """The table of a scene with a cache; None for any other."""
    if scene.cache is None or not scene.program.words:
        return None
    account = scene.cached(scene.cache)
    shape, rows = account.shape, []
    for at, look in enumerate(account.looks[:MOST_LOOKS]):
        group = shape.split(look.trip.address)[1]
        result = "write" if look.trip.writes else "hit" if look.hit else "miss"
        does = "writes" if look.trip.writes else "fetches" if look.trip.fetches else "reads"
        asks = f"{does} {look.trip.address}"
        rows.append(
            LookRow(at + 1, asks, str(group), str(look.tag), result, look.ticks, at < DONE_LOOKS)
        )
    kinds = [each.result for each in rows]
    sums = [(f"{each}s", kinds.count(each)) for each in ("hit", "write")]
    sums.insert(1, ("misses", kinds.count("miss")))
    sums.append(("ticks of these trips", sum(each.ticks for each in rows)))
    return CacheSheet(
        cache_block.in_words(shape),
        shape.memory_ticks,
        tuple(rows),
        tuple(sums),
        len(account.looks) <= MOST_LOOKS,
    )


def diagram_sheet(scene: Scene) -> DiagramSheet | None:
    """The diagram of a scene with a pipeline; None for any other."""
    account = scene.in_pipeline
    if account is None or scene.pipeline is None:
        return None
    ticks = tuple(range(1, min(account.ticks, MOST_TICKS) + 1))
    shown = [each for each in account.rows if each.starts and each.shown_from <= len(ticks)]
    image, rows = scene.program.words, []
    for at, row in enumerate(shown[:MOST_ROWS]):
        word = image[row.address] if row.address < len(image) else 0
        # A program may have rewritten it before it was fetched.
        word = row.word if row.instruction else word
        name = write_instruction(scene.program.machine, word, scene.program.labels)
        cells = tuple(_cell(scene, row, each) for each in ticks)
        rows.append(DiagramRow(name, cells, row.in_vain, at < DONE_ROWS))
    sums = (
        ("ticks", account.ticks),
        ("one after another", account.without),
        ("lost", account.lost),
    )
    return DiagramSheet(
        pipeline_block.in_words(scene.pipeline),
        tuple((each.letter, each.value) for each in account.shape.names),
        ticks,
        tuple(rows),
        sums,
        account.ticks <= MOST_TICKS and len(shown) <= MOST_ROWS,
    )


def _cell(scene: Scene, row: Row, tick: int) -> str:
    assert scene.in_pipeline
    wait, stage = row.waiting(tick), row.stage(tick)
    if wait is not None and wait.why is not Why.JUMP:
        return WAITS
    return "" if stage is None else scene.in_pipeline.shape.names[stage].letter
