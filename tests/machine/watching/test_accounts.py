"""Cache and pipeline held to a second account over generated programs, and to the textbooks."""

from __future__ import annotations

from collections import Counter
from fractions import Fraction
from functools import cache as remembered

import pytest

from app.machine.growing import grown
from app.machine.machine import EIGHT_BIT
from app.machine.run import Run
from app.machine.source.assembler import assemble
from app.machine.state import Ending, State
from app.machine.telling.reading import Reading
from app.machine.telling.watched import tick_sentence, wait_sentence
from app.machine.watching import cache, cores, pipeline
from app.machine.watching.cache import CacheShape
from app.machine.watching.pipeline import PipelineShape, Stage, Why
from tests.hardware.generate import Program, generate, generate_grown
from tests.machine.watching import clockwork

PARTS = frozenset({"index register", "stack"})
MACHINE = grown(PARTS)
READING = Reading(MACHINE, "denary")
MOST = 80  # instructions of each program
SEEDS = 49
CACHES = [CacheShape(4, 4), CacheShape(2, 2, memory_ticks=7), CacheShape(8, 1), CacheShape(4, 2, 2)]
PIPELINES = [PipelineShape(stages, memories) for stages in (3, 5) for memories in (1, 2)]


@remembered
def programs() -> list[Program]:
    """Programs of every shape: with an index, pointers and calls, and without; the bits, which the
    second account does not know, are left out."""
    plain = [generate("16-bit", seed) for seed in range(SEEDS)]
    return plain + [generate_grown(seed, PARTS) for seed in range(SEEDS)]


def run_of(program: Program) -> Run:
    inputs = [each & MACHINE.word_mask for each in program.inputs]
    return Run(MACHINE, program.memory, inputs, MOST)


def second(program: Program, memory: clockwork.Memory | None = None):
    inputs = [each & MACHINE.word_mask for each in program.inputs]
    return clockwork.carry_out(memory or clockwork.Memory(list(program.memory)), inputs, MOST)


def test_the_instructions_of_a_run_are_those_of_the_second_account() -> None:
    compared = 0
    for program in programs():
        run = run_of(program)
        ours = [
            (
                each.address,
                each.instruction.written,
                [("write" if trip.writes else "read", trip.address) for trip in each.trips],
                each.jumped,
            )
            for each in pipeline.instructions(run, MOST)
        ]
        done, _ = second(program)
        theirs = [(each.address, each.written, each.trips, each.jumped) for each in done]
        assert ours == theirs, program.shape
        compared += len(done)
    assert compared > 1500


@pytest.mark.parametrize("shape", CACHES, ids=str)
def test_every_look_is_that_of_a_cache_that_holds_copies(shape: CacheShape) -> None:
    seen: Counter[str] = Counter()
    for program in programs():
        run = run_of(program)
        run.finish()
        account = cache.follow(run, shape)
        memory = clockwork.Cached(
            list(program.memory), shape.lines, shape.words, shape.ways, shape.memory_ticks
        )
        second(program, memory)
        kinds = [
            ("write" if each.trip.writes else "hit" if each.hit else "miss", each.ticks)
            for each in account.looks
        ]
        # The second account does not make the trips of an instruction that breaks off.
        whole = len(memory.looks)
        assert kinds[:whole] == memory.looks
        assert len(kinds) - whole <= 1
        seen.update(kind for kind, _ in kinds)
    assert min(seen.values()) > 100 and len(seen) == 3


@pytest.mark.parametrize("shape", CACHES, ids=str)
def test_a_cache_never_changes_an_output(shape: CacheShape) -> None:
    """What is read from the copies of a cache is what memory holds, whatever the program writes."""
    for program in programs():
        memory = clockwork.Cached(
            list(program.memory), shape.lines, shape.words, shape.ways, shape.memory_ticks
        )
        _, sent = second(program, memory)
        run = run_of(program)
        run.finish()
        assert sent == list(run.outputs(1000))


@pytest.mark.parametrize("shape", PIPELINES, ids=str)
def test_every_stage_starts_when_the_second_account_says(shape: PipelineShape) -> None:
    reasons: Counter[Why] = Counter()
    for program in programs():
        account = pipeline.follow(run_of(program), shape)
        done, _ = second(program)
        starts, in_vain = clockwork.pipeline(done, shape.stages, shape.memories)
        ours = [each for each in account.rows if not each.in_vain]
        assert [list(each.starts) for each in ours] == starts, program.shape
        assert sum(each.in_vain for each in account.rows) == in_vain
        reasons.update(account.lost_by)
    expected = {Why.JUMP, Why.MEMORY, Why.WORD, Why.LONG}
    assert expected - set(reasons) <= ({Why.MEMORY} if shape.memories == 2 else set())


@pytest.mark.parametrize("shape", PIPELINES, ids=str)
def test_who_waits_for_memory_waits_for_the_one_that_has_it(shape: PipelineShape) -> None:
    """In each tick, and in what the board says of it."""
    ticks = changes = 0
    for program in programs():
        account = pipeline.follow(run_of(program), shape)
        done, _ = second(program)
        has: dict[int, int] = {}
        clockwork.pipeline(done, shape.stages, shape.memories, has)
        for row in account.rows:
            named = []
            for wait in row.waits:
                if wait.why is not Why.MEMORY:
                    continue
                for tick in range(wait.first, wait.last + 1):
                    named.append(has[tick])
                    assert wait.by - 1 == has[tick], (program.shape, tick)
                    if row.in_vain or row.waiting(tick) is not wait:
                        continue
                    name = done[has[tick]].written.split()[0]
                    said, _ = wait_sentence(READING, account, row, wait)
                    assert said.endswith(f"memory is busy with {name}.")
            ticks += len(named)
            changes += len(set(named)) > 1
    if shape.memories == 1:
        assert ticks > 50 and changes > 5


@pytest.mark.parametrize("shape", PIPELINES, ids=str)
def test_a_pipeline_is_never_faster_than_its_stages_allow(shape: PipelineShape) -> None:
    for program in programs():
        account = pipeline.follow(run_of(program), shape)
        if not account.count:
            continue
        rows = [each for each in account.rows if not each.in_vain]
        # No stage finishes more than one instruction in a tick, and none is skipped.
        for at in range(shape.stages):
            entered = [each.starts[at] for each in rows]
            assert entered == sorted(set(entered))
        assert account.ticks >= account.ideal
        assert account.ratio <= shape.stages
        assert account.lost == sum(account.lost_by.values())
        assert account.lost == account.lost_by_tick(account.ticks)


def plain(count: int, shape: PipelineShape) -> pipeline.PipelineAccount:
    """Instructions that need nothing of one another."""
    source = "\n".join(["LOAD #1"] * (count - 1) + ["HALT"])
    program = assemble(MACHINE, source)
    return pipeline.follow(Run(MACHINE, program.words), shape)


@pytest.mark.parametrize("stages", [3, 5])
@pytest.mark.parametrize("count", [1, 2, 9, 100])
def test_without_hazards_it_is_the_formula_of_the_textbooks(stages: int, count: int) -> None:
    """Stallings, formulas 12.1 and 12.2 of the tenth edition: k + (n - 1) ticks, and n k over that
    as fast. Its example has nine instructions in six stages, 14 ticks; ours have three and five."""
    account = plain(count, PipelineShape(stages, 1))
    assert account.ticks == stages + count - 1
    assert account.ratio == Fraction(count * stages, stages + count - 1)
    assert account.lost == 0 and account.lost_by == {}


def test_a_taken_jump_costs_as_many_ticks_as_there_are_stages_before_it_is_known() -> None:
    """Hennessy and Patterson, control hazards: what was fetched behind the branch is thrown away
    (from memory)."""
    program = assemble(MACHINE, "JUMP on\nADD #1\nADD #1\nADD #1\non: HALT")
    for stages, cost in ((3, 2), (5, 3)):
        account = pipeline.follow(Run(MACHINE, program.words), PipelineShape(stages, 1))
        assert account.lost_by == {Why.JUMP: cost}
        vain = [each.address for each in account.rows if each.in_vain]
        assert vain == [1, 2, 3][:cost]


def test_behind_the_last_word_of_memory_nothing_is_fetched_in_vain() -> None:
    """A memory of 16 words has the addresses 0 to 15 (the page, 'The two machines')."""
    source = "\n".join(["JUMP 15", "HALT", *["0"] * 13, "JUMP 1"])
    program = assemble(EIGHT_BIT, source)
    for shape in PIPELINES:
        account = pipeline.follow(Run(EIGHT_BIT, program.words), shape)
        vain = [each.address for each in account.rows if each.in_vain]
        assert vain == ([1, 2] if shape.stages == 3 else [1, 2, 3])
        # It takes as long all the same until it is known where the second jump leads.
        assert account.lost_by == {Why.JUMP: 2 * len(vain)}


def test_one_memory_cannot_be_fetched_from_while_it_is_read() -> None:
    """The structural hazard of one memory port (Hennessy and Patterson, from memory): with a
    second memory it is gone."""
    program = assemble(MACHINE, "LOAD here\nLOAD #2\nLOAD #3\nHALT\nhere: 7")
    one, two = (
        pipeline.follow(Run(MACHINE, program.words), PipelineShape(3, each)) for each in (1, 2)
    )
    assert one.lost_by == {Why.MEMORY: 1} and two.lost_by == {}
    (wait,) = one.row(3).waits
    assert (wait.stage, wait.first, wait.last, wait.by) == (Stage.FETCH, 3, 3, 1)


def test_in_each_tick_the_one_is_named_that_reads_memory_in_it() -> None:
    """The LOAD in the third tick, the ADD in the fourth: each is in its last stage then."""
    program = assemble(MACHINE, "LOAD a\nADD b\nOUTPUT\nHALT\na: 17\nb: 26")
    account = pipeline.follow(Run(MACHINE, program.words), PipelineShape(3, 1))
    said = [tick_sentence(READING, account, tick) for tick in (3, 4)]
    assert said == [
        f"OUTPUT waits to be fetched: memory is busy with {name}." for name in ("LOAD", "ADD")
    ]


def test_a_word_is_waited_for_until_it_is_written() -> None:
    """Read after write, without forwarding (Hennessy and Patterson, data hazards, from memory)."""
    program = assemble(MACHINE, "LOAD #5\nADD #1\nHALT")
    account = pipeline.follow(Run(MACHINE, program.words), PipelineShape(5, 1))
    (wait,) = account.row(2).waits
    assert (wait.why, wait.what, wait.by) == (Why.WORD, "ACC", 1)
    assert account.row(2).starts[3] == account.row(1).finish + 1


def test_an_instruction_that_is_rewritten_is_fetched_after_the_write() -> None:
    program = assemble(MACHINE, "LOAD new\nSTORE next\nnext: OUTPUT\nnew: HALT")
    run = Run(MACHINE, program.words)
    account = pipeline.follow(run, PipelineShape(3, 2))
    assert account.row(3).starts[0] == account.row(2).finish + 1
    assert account.row(3).instruction is not None and account.row(3).instruction.halts


def test_the_average_time_of_a_read_is_the_formula_of_the_textbooks() -> None:
    """Hit time + miss rate x miss penalty: a straight line of code misses once in a line."""
    program = assemble(MACHINE, "\n".join(["LOAD #1"] * 39 + ["HALT"]))
    run = Run(MACHINE, program.words)
    account = cache.follow(run, CacheShape(4, 4, memory_ticks=10))
    count = account.count(run.last_step)
    assert (count.reads, count.misses) == (40, 10)
    assert count.average(account.shape) == 1 + Fraction(10, 40) * 10 == Fraction(7, 2)
    # The same from the ticks that the looks took.
    assert sum(each.ticks for each in account.looks) == 40 * Fraction(7, 2)


def test_a_direct_mapped_line_lies_where_the_textbooks_put_it() -> None:
    """*(Block address) MOD (number of blocks in cache)*: block 12 of 32 lies in place 4 of 8, and
    in a two-way cache of 8 in group 0 (Hennessy and Patterson, the figure with block 12, from
    memory)."""
    assert CacheShape(8, 1).split(12)[1] == 4
    assert CacheShape(8, 1, 2).split(12)[1] == 0


def test_two_lines_that_share_a_place_drive_each_other_out() -> None:
    """And with two ways they do not."""
    source = (
        "again: LOAD 68\nLOAD 84\nJUMP again\n"  # 68 and 84 are 16 apart: four lines of four words
    )
    program = assemble(MACHINE, source)
    run = Run(MACHINE, program.words, limit=30)
    direct = cache.follow(run, CacheShape(4, 4))
    both = cache.follow(run, CacheShape(4, 4, 2))
    data = [each.hit for each in direct.looks if not each.trip.fetches]
    assert not any(data) and len(data) == 20
    assert [each.hit for each in both.looks if not each.trip.fetches].count(True) > 15
    assert all(each.replaced is not None for each in direct.looks[4:] if each.brings)


def test_what_lies_in_the_cache_at_a_step_is_what_had_come_by_then() -> None:
    program = assemble(MACHINE, "LOAD 40\nLOAD 44\nLOAD 56\nHALT")
    run = Run(MACHINE, program.words)
    account = cache.follow(run, CacheShape(2, 4))
    held: list[int | None] = [None, None]
    for step in range(run.last_step + 1):
        look = account.look(step)
        if look and look.brings and look.slot is not None:
            assert look.replaced == held[look.slot]
            held[look.slot] = look.tag
        assert list(account.tags(step)) == held
    assert None not in held


def test_what_is_changed_in_the_middle_leaves_the_cache_as_it_is() -> None:
    """Where it is changed to what it was already, nothing at all may be another; and an address
    that is changed on its way to memory is the one that is looked for."""
    program = assemble(EIGHT_BIT, "LOAD 9\nSTORE 10\nLOAD 10\nHALT")
    run, shape = Run(EIGHT_BIT, program.words), CacheShape(2, 2)
    plain = cache.follow(run, shape)
    for step in range(1, run.last_step):
        same = run.changed(step, lambda state: None)
        assert cache.follow(same, shape) == plain
        assert cache.follow(same.changed(run.last_step, lambda state: None), shape) == plain

    def elsewhere(state: State) -> None:
        state.mar = 3

    other = cache.follow(run.changed(22, elsewhere), shape)
    assert [each.trip.address for each in other.looks] == [0, 9, 1, 10, 2, 3, 3]
    assert [each.trip.address for each in plain.looks] == [0, 9, 1, 10, 2, 10, 3]


def test_an_endless_program_is_followed_so_far_and_no_further() -> None:
    program = assemble(EIGHT_BIT, "again: JUMP again")
    run = Run(EIGHT_BIT, program.words, limit=1_000_000)
    account = pipeline.follow(run, PipelineShape())
    assert account.count == pipeline.MOST_INSTRUCTIONS and not account.complete
    looks = cache.follow(run, CacheShape(2, 2)).looks
    assert looks[-1].trip.step <= cache.MOST_STEPS
    assert run.known_steps == 0  # nothing of it was kept in the run


def test_a_run_that_breaks_off_counts_what_was_done() -> None:
    program = assemble(EIGHT_BIT, "LOAD #1\nINPUT\nHALT")
    run = Run(EIGHT_BIT, program.words)
    assert run.finish().ending is Ending.WAITING
    assert pipeline.follow(run, PipelineShape()).count == 1
    assert pipeline.follow(Run(EIGHT_BIT, [], limit=0), PipelineShape()).ticks == 0


@pytest.mark.parametrize(("lines", "words", "ways"), [(3, 4, 1), (4, 5, 1), (1, 4, 2), (0, 1, 1)])
def test_a_shape_that_no_cache_has_is_refused(lines: int, words: int, ways: int) -> None:
    with pytest.raises(ValueError):
        CacheShape(lines, words, ways)


def test_cores_are_as_fast_as_amdahl_says() -> None:
    """Amdahl 1967; the usual example: of work that can be shared to 95 %, no number of cores makes
    more than twenty times."""
    assert cores.times_faster(4, Fraction(8, 10)) == Fraction(5, 2)
    assert cores.never_beyond(Fraction(95, 100)) == 20
    assert cores.times_faster(10**9, Fraction(95, 100)) < 20
    assert cores.times_faster(8, Fraction(1)) == 8 and cores.never_beyond(Fraction(1)) is None
    with pytest.raises(ValueError):
        cores.share_of_time(0, Fraction(1))


def test_rows_around_a_tick_are_all_of_which_there_is_something_to_say() -> None:
    """Found without going through all rows of the account, which is done for each picture."""
    ticks = few = 0
    for program in programs()[::5]:
        for shape in PIPELINES:
            account = pipeline.follow(run_of(program), shape)
            for tick in range(1, account.ticks + 1):
                around = account.around(tick)
                said = [
                    each
                    for each in account.rows
                    if each.waiting(tick)
                    or each.stage(tick) is not None
                    or (each.in_vain and each.finish == tick - 1)
                ]
                assert [each for each in around if each in said] == said, (program.shape, tick)
                come = [each for each in account.rows if each.starts and each.shown_from <= tick]
                assert not come or account.rows.index(come[-1]) < account.come_by(tick)
                ticks += 1
                few += len(around)
    assert ticks > 1000 and few < 3 * shape.stages * ticks
