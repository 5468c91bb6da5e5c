"""The board with a cache, a pipeline, or machines side by side: it shows what the accounts say."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache

import pytest

from app.board.bars import gain_curve, race
from app.board.cache_picture import cache_picture
from app.board.frames import Frame, make_frame
from app.classroom.ballot import Refused
from app.classroom.pace import look_beats, rest_seconds
from app.classroom.session import Session
from app.lesson.blocks.speed import read_speed
from app.lesson.file.reader import read_lesson
from app.lesson.header import Depth
from app.lesson.model import Lesson
from app.lesson.paper.watched import diagram_sheet
from app.machine.telling import watched
from app.machine.telling.reading import Reading
from app.machine.watching.cache import CacheShape, follow
from app.machine.words import BASES
from tests.machine.watching import clockwork

TEXT = """---
title: Watched
machine: 16-bit
with: index register
cache: 2 lines of 4 words
---

# Cache

```program
        LOAD  #0 TO INDEX
next:   LOAD  list INDEXED
        STORE sum
        ADD   #1 TO INDEX
        COMPARE #4 WITH INDEX
        JUMP  next IF LESS
        HALT
sum:    0
list:   5
        9
        2
        7
```

# Pipeline

```pipeline
3 stages, one memory
```

# Side by side

```compare
slow: clock 1 GHz, memory takes 10 ticks
cached: clock 1 GHz, cache 2 lines of 4 words, memory takes 10 ticks
```

# Cores

```speed
clock: 1 GHz
cores: 1, 4
parallel: 80 %
```
"""


@cache
def lesson() -> Lesson:
    found = read_lesson("watched", TEXT)
    assert found.problems == ()
    return found


def session(scene: int) -> Session:
    made = Session("test", lesson())
    made.go_to_scene(scene - 1)
    return made


def frames(scene: int, most: int = 400) -> list[Frame]:
    made, found = session(scene), []
    before = -1
    while (view := made.view()).step != before and len(found) < most:
        found.append(make_frame(view))
        before = view.step
        made.step_on()
    return found


def test_the_lines_of_the_cache_are_those_of_memory() -> None:
    """Every word that a line shows is what memory holds there (it writes through)."""
    looked = 0
    for frame in frames(1):
        assert frame.cache
        memory = frame.view.run.moment(frame.view.step).after.memory
        for line in frame.cache.lines:
            if line.addresses.now == "empty":
                assert not any(each.text.now for each in line.words)
                continue
            first = int(line.addresses.now.split("\N{EN DASH}")[0])
            for at, each in enumerate(line.words):
                if each.text.now.lstrip("\N{MINUS SIGN}").isdigit():
                    assert int(each.text.now) == memory[first + at]
                    looked += 1
        count = frame.cache.count
        assert count.hits + count.misses + count.writes == sum(
            kind == "read" or kind == "write" for kind in trips(frame.view.step)
        )
    assert looked > 100


@cache
def kinds() -> list[str]:
    """What each step does at memory, from its notation."""
    found = [""]
    for _, _, kind, _ in lesson().scenes[0].run.steps():
        notation = kind.transfer.notation
        found.append(
            "read"
            if notation == "MDR <- memory[MAR]"
            else "write"
            if "memory[MAR] <-" in notation
            else ""
        )
    return found


def trips(step: int) -> list[str]:
    return [each for each in kinds()[: step + 1] if each]


def test_the_board_counts_what_a_cache_of_copies_counts() -> None:
    last = frames(1)[-1]
    program = lesson().scenes[0].program
    memory = clockwork.Cached(list(program.words), 2, 4, 1, 10)
    clockwork.carry_out(memory, [], 100)
    found = [kind for kind, _ in memory.looks]
    assert last.cache
    count = last.cache.count
    assert (count.hits, count.misses, count.writes) == tuple(
        found.count(each) for each in ("hit", "miss", "write")
    )
    ticks = sum(ticks for _, ticks in memory.looks)
    assert count.ticks == ticks + last.view.step - len(memory.looks)
    assert last.cache.average.startswith("Average of a read: 1 + ")


def test_a_line_that_is_brought_travels_and_a_hit_brings_nothing() -> None:
    seen = set()
    for frame in frames(1):
        assert frame.cache
        carriers = [each.carrier for each in frame.cache.ways]
        assert ("data line" in carriers) == (frame.cache.verdict == "miss")
        assert bool(frame.cache.ways) == bool(frame.cache.verdict) == frame.moves
        assert not frame.moving
        keys = {each.key for each in (*frame.cache.lines, *frame.cache.blocks)} | {
            "asking",
            "cache",
        }
        for each in frame.cache.ways:
            assert {each.source, each.target} <= keys | {
                f"{key}-{at}" for key in keys for at in range(4)
            }
        seen.add(frame.cache.verdict)
    assert seen == {"", "hit", "miss", "write"}


class Counted(tuple):  # type: ignore[type-arg]
    """The looks of a run, which count how often all of them are gone through."""

    times = 0

    def __iter__(self):  # type: ignore[no-untyped-def]
        type(self).times += 1
        return super().__iter__()


@pytest.mark.parametrize("depth", Depth)
def test_playing_waits_until_a_line_has_come(depth: Depth) -> None:
    """A miss goes to memory and back, which takes longer than the same step without a cache. By
    the clock of the page: so many beats, each as long as the frame says."""
    made = session(1)
    if depth is not made.view().settings.depth:
        made.change("depth")
    seen = set()
    for _ in range(2):
        before = -1
        while (view := made.view()).step != before:
            frame = make_frame(view)
            assert frame.cache
            beats = 1 + max((each.beat for each in frame.cache.ways), default=-1)
            rest = rest_seconds(view.moment, depth, 1.0, view.zoomed, view.looks)
            assert rest > beats * frame.beat_milliseconds / 1000
            assert beats in (0, sum(map(look_beats, view.looks)))
            seen.add((frame.cache.verdict, beats))
            before = view.step
            made.step_on()
        # And once more with something changed.
        made.go_to_step(20)
        made.suppose("sum", "7")
    assert {"hit", "miss", "write"} <= {verdict for verdict, beats in seen if beats}


def test_the_looks_of_a_run_are_gone_through_once_and_not_at_every_frame() -> None:
    run, program = lesson().scenes[0].run, lesson().scenes[0].program
    account = follow(run, CacheShape(2, 4))
    account = replace(account, looks=Counted(account.looks))
    reading = Reading(run.machine, "denary")
    for step in range(1, 6):
        before, after = run.moment(step - 1).after, run.moment(step).after
        cache_picture(account, reading, program, before, after, [], "Cache")
    assert Counted.times == 1


def test_what_happens_in_a_tick_is_worked_out_once_a_frame(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    waits: list[int] = []
    wait_sentence = watched.wait_sentence
    monkeypatch.setattr(
        watched,
        "wait_sentence",
        lambda reading, account, row, wait: (
            waits.append(row.number) or wait_sentence(reading, account, row, wait)
        ),
    )
    made = session(2)
    for step in range(made.lesson.scenes[1].paced.last_step):
        made.go_to_step(step)
        view = made.view()
        waits.clear()
        make_frame(view)
        assert len(waits) == len({*waits})


def test_where_machines_come_one_by_one_a_question_is_told_by_the_machine() -> None:
    """As the board counts: it has no instructions there."""
    asked = "before step 2: How much?\nask: how many times faster"
    text = TEXT.replace("# Cores", f"```question\n{asked}\n```\n\n# Cores")
    made = Session("t", read_lesson("t", text))
    made.go_to_scene(2)
    assert made.lesson.scenes[2].compare and not made.lesson.faults
    made.next_in_question()
    place = "machine 1 of 2"
    assert made.view().notice == f"The next question of this scene comes at {place}."
    made.step_on()
    assert f"machine {make_frame(made.view()).position}" == place


@pytest.mark.parametrize(
    ("outputs", "said"), [(6, ""), (7, "; 1 line more"), (8, "; 2 lines more")]
)
def test_the_lines_of_memory_out_of_sight_are_counted(outputs: int, said: str) -> None:
    """Eight are in sight. The program has lines of a word: one for each instruction and one more
    for the number."""
    program = "\n".join(["LOAD a", *["OUTPUT"] * outputs, "a: 1"])
    text = f"---\ntitle: T\nmachine: 16-bit\ncache: 4 lines of 1 word\nlimit: {outputs + 1}\n---\n"
    made = Session("t", read_lesson("t", f"{text}# One\n```program\n{program}\n```\n"))
    shown = make_frame(made.view()).cache
    assert shown and shown.slow == f"takes 10 ticks{said}"


def test_what_if_the_cache_were_another() -> None:
    made = session(1)
    made.go_to_step(20)
    made.suppose("cache", "8 lines of 4 words")
    view = made.view()
    assert (view.step, view.what_if and view.what_if.words) == (
        20,
        "What if the cache had 8 lines of 4 words?",
    )
    assert view.cache and view.cache.shape.lines == 8 and view.cache.shape.memory_ticks == 10
    # The run is the same, and every step of it can be seen.
    made.back()
    assert made.view().step == 19 and made.view().run is made.view().scene.run
    for wrong in ("none", "3 lines of 4 words"):
        with pytest.raises(Refused):
            made.suppose("cache", wrong)
    made.put_back()
    assert made.view().cache and made.view().step == 20 and made.view().what_if is None


def test_another_cache_and_another_word_are_changed_in_any_order() -> None:
    cache, word = ("cache", "8 lines of 4 words"), ("list", "8")
    for changes in ((cache, word), (word, cache), (word, cache, word), (cache, word, cache)):
        made = session(1)
        for change in changes:
            made.suppose(*change)
        view = made.view()
        assert view.what_if and view.what_if.words == (
            "What if list holds 8, and the cache had 8 lines of 4 words?"
        )
        assert view.cache and view.cache.shape.lines == 8
        at = view.scene.program.address_of("list")
        assert at is not None and view.moment and view.moment.after.memory[at] == 8


@pytest.mark.parametrize("scene", [2, 3])
def test_where_the_steps_are_not_those_of_the_machine_nothing_is_changed(scene: int) -> None:
    made = session(scene)
    made.step_on()
    with pytest.raises(Refused, match="in another scene"):
        made.suppose("list", "8")
    frame = make_frame(made.view())
    assert frame.view.what_if is None and frame.view.step == 1


def test_a_word_that_is_changed_goes_through_the_cache_too() -> None:
    made = session(1)
    made.suppose("list", "8")
    assert make_frame(made.view()).cache
    made.step_on()
    assert make_frame(made.view()).cache


def test_one_tick_a_press() -> None:
    found = frames(2)
    assert [each.view.step for each in found] == list(range(len(found)))
    assert found[1].position == "Tick 1" and not any(each.moves for each in found)
    account = lesson().scenes[1].in_pipeline
    assert account and len(found) == account.ticks + 1
    for frame in found[1:]:
        assert frame.pipeline
        tick = frame.view.step
        here = [
            (row.name, cell.text)
            for row in frame.pipeline.rows
            for cell in row.cells
            if cell.now and cell.kind == "work"
        ]
        # What the diagram has in this tick is what stands in the stages, but for what waits there.
        stations = [
            (each.holds, each.letter) for each in frame.pipeline.stations if each.state == "work"
        ]
        assert sorted(here) == sorted(stations), tick
        assert frame.pipeline.finished == account.finished(tick)


def test_what_was_fetched_in_vain_is_not_marked_before_the_jump_is_known() -> None:
    marked = {}
    for frame in frames(2):
        assert frame.pipeline
        if any(row.in_vain for row in frame.pipeline.rows):
            marked.setdefault("first", frame)
    first = marked["first"]
    assert "JUMP was taken: two instructions were fetched in vain." in first.sentence
    account = lesson().scenes[1].in_pipeline
    assert account
    jump = next(each for each in account.rows if each.in_vain)
    assert first.view.step == jump.finish + 1


def test_a_wait_says_why() -> None:
    said = " ".join(each.sentence for each in frames(2))
    assert "memory is busy with" in said
    assert "times as fast" in frames(2)[-1].sentence


WAITING = """---
title: T
machine: 16-bit
---
# One
```program
        LOAD  fare
        STORE total
        LOAD  total
        HALT
bag:    512
more:   0
        0
        0
        0
        0
        0
fare:   -9
total:  0
```

```pipeline
5 stages, one memory
```
"""


@pytest.mark.parametrize("base", BASES)
def test_a_word_that_is_waited_for_has_its_address_as_all_others_have(base: str) -> None:
    made = Session("t", read_lesson("t", WAITING))
    while made.view().settings.base != base:
        made.change("base")
    said = set()
    for step in range(made.lesson.scenes[0].paced.last_step + 1):
        made.go_to_step(step)
        frame = make_frame(made.view())
        said |= {*re.findall("has not yet written the word at address (.*?)[.]", frame.sentence)}
    # 12 in eight bits: the address of 'total'.
    assert said == {{"denary": "12", "hexadecimal": "0C", "binary": "0000 1100"}[base]}


@pytest.mark.parametrize(("base", "fare"), [("denary", "\N{MINUS SIGN}9"), ("hexadecimal", "FFF7")])
def test_a_number_in_the_program_is_listed_as_a_number(base: str, fare: str) -> None:
    """Though 0 has the bits of HALT, and 512 those of OUTPUT."""
    made = Session("t", read_lesson("t", WAITING))
    while made.view().settings.base != base:
        made.change("base")
    pipe = make_frame(made.view()).pipeline
    assert pipe
    listed = {label: text for _, label, text in pipe.listing if label}
    zero, bag = ("0", "512") if base == "denary" else ("0000", "0200")
    assert listed == {"bag": bag, "more": zero, "fare": fare, "total": zero}
    assert [text for _, _, text in pipe.listing[:4]] == [
        "LOAD fare",
        "STORE total",
        "LOAD total",
        "HALT",
    ]


def test_why_a_tick_is_lost_has_one_wording() -> None:
    """The key under the diagram, what is heard of a cell, and the sum at the end."""
    met = set()
    for frame in frames(2):
        assert frame.pipeline
        keys = dict(frame.pipeline.reasons)
        for row in frame.pipeline.rows:
            for cell in row.cells:
                if cell.kind == "wait":
                    assert cell.heard.endswith(f": waits, {keys[cell.text]}")
                    met.add(keys[cell.text])
    sums = frames(2)[-1].pipeline
    assert met and sums
    then = re.findall(r"because (.*?)(?:, | and \d|\.$)", sums.sums)
    now = {re.sub(r"\bwas\b", "is", each) for each in then}
    assert now and {each for each in now if "jump" not in each and "two ticks" not in each} <= met


def test_machines_come_one_by_one() -> None:
    found = frames(3)
    races = [each.race for each in found]
    assert [len(each.ticks) for each in races if each] == [0, 1, 2]
    assert races[0] and races[0].coming == ("slow", "cached") and not races[0].faster
    assert races[-1] and races[-1].faster.startswith("Cached is ")
    # Bars to scale: the longest is the whole, the other its share.
    slow, cached = lesson().scenes[2].results
    assert races[-1].times[0].share == 100
    assert races[-1].times[1].share == pytest.approx(100 * float(cached.seconds / slow.seconds))


@pytest.mark.parametrize(
    ("clock", "said"),
    [
        ("1 GHz", "One and Two are equally fast."),
        ("1.001 GHz", "Two is hardly any faster than One."),
        ("999 MHz", "One is hardly any faster than Two."),
        ("1.5 GHz", "Two is 1.5 times as fast as One."),
        ("500 MHz", "One is 2 times as fast as Two."),
    ],
)
def test_how_much_faster_is_told_only_where_it_is(clock: str, said: str) -> None:
    text = TEXT.split("# Side by side")[0] + (
        f"# Side by side\n\n```compare\nOne: clock 1 GHz\nTwo: clock {clock}\n```\n"
    )
    scene = read_lesson("watched", text).scenes[-1]
    assert race(scene.results, ("One", "Two"), 2).faster == said


def test_machines_that_cannot_be_compared_keep_their_question_marks() -> None:
    text = "---\ntitle: A\n---\n# One\n```program\nINPUT\nHALT\n```\n```compare\n"
    text += "a: 3 stages one after another\nb: pipeline 3 stages, two memories\n```\n"
    made = Session("test", read_lesson("race", text))
    for press in range(3):
        frame = make_frame(made.view())
        assert frame.view.step == press and frame.race
        assert (frame.race.coming, frame.race.ticks) == (("a", "b"), ())
        assert frame.sentence == (
            "This program finishes no instruction, so there is nothing to compare."
        )
        made.step_on()


@pytest.mark.parametrize(
    ("share", "words"), [("0 %", ""), ("80 %", "never 5 times"), ("99.7 %", "never 334 times")]
)
def test_what_is_said_under_the_curve_is_true(share: str, words: str) -> None:
    """Amdahl: 1 / (1 - 0.997) is 333.3, so it is never 334; with a share of 0 it is 1 always."""
    speed, _ = read_speed(f"clock: 1 GHz\ncores: 1, 4\nparallel: {share}", 1)
    assert speed
    curve = gain_curve(speed)
    assert curve and curve.limit_text == words


def test_cores_are_bars_and_a_curve() -> None:
    frame = frames(4, 1)[0]
    assert [each.text for each in frame.gains] == [
        "\N{MULTIPLICATION SIGN} 1",
        "\N{MULTIPLICATION SIGN} 2.5",
    ]
    assert frame.curve and frame.curve.across == "4 cores"
    # Its last point is that of four cores: 2.5 of 4 times, so half of the way from 1.
    x, y = map(float, frame.curve.points.split()[-1].split(","))
    assert (x, y) == (100, 50)


def test_a_plain_lesson_shows_nothing_of_it() -> None:
    plain = read_lesson(
        "plain", TEXT.split("# Pipeline")[0].replace("cache: 2 lines of 4 words\n", "")
    )
    frame = make_frame(Session("plain", plain).view())
    assert (frame.cache, frame.pipeline, frame.race, frame.gains) == (None, None, None, ())
    assert not frame.watched and "cached" not in frame.classes.split()


def test_an_instruction_stands_in_the_diagram_as_it_was_fetched() -> None:
    """The program writes another operand into its second instruction: before that it adds 3, and
    after it 4."""
    program = "\n".join(
        [
            *("LOAD step", "next: ADD #3", "LOAD next", "ADD one", "STORE next", "JUMP next"),
            *("one: 1", "step: 0"),
        ]
    )
    text = "---\ntitle: T\nmachine: 16-bit\nlimit: 8\n---\n# One\n"
    blocks = f"```program\n{program}\n```\n\n```pipeline\n3 stages, two memories\n```\n"
    scene = read_lesson("t", text + blocks).scenes[0]
    made = Session("t", read_lesson("t", text + blocks))
    made.go_to_step(scene.paced.last_step)
    frame = make_frame(made.view())
    assert frame.pipeline and scene.in_pipeline
    adds = [each.name for each in frame.pipeline.rows if each.name.startswith("ADD #")]
    sheet = diagram_sheet(scene)
    assert sheet and adds[:2] == ["ADD #3", "ADD #4"]
    assert [each.name for each in sheet.rows if each.name.startswith("ADD #")][:2] == adds[:2]
