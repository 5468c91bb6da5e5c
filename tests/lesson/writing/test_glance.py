"""The run at a glance, held to the run itself: the states of the machine, step by step."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from app.classroom.session import Session
from app.lesson.model import Scene
from app.lesson.pressing import Pressing
from app.lesson.writing.glance import MOST_ROWS, Glance, Row, glance
from app.lesson.writing.manuscript import Manuscript
from app.machine.instructions import Phase
from app.machine.run import Moment
from app.machine.source.assembler import assemble
from app.machine.state import State

SHIPPED = sorted((Path(__file__).parents[3] / "lessons").glob("*.md"))


def manuscript(path: Path) -> Manuscript:
    return Manuscript(path.stem, path.read_text(encoding="utf-8"))


def windows(scene: Scene) -> list[Glance]:
    """All that is ever shown of a run, from its start to its end; of a long one its first rows and
    its last."""
    found = [glance(scene, 0)]
    first = found[0]
    if first is None:
        return []
    if first.later:
        found += [glance(scene, 0, first.later), glance(scene, 0, first.carried)]
    return [each for each in found if each]


def number(machine_bits: int, text: str) -> int:
    """A number as the row writes it, as a bit pattern."""
    return int(text.replace("\N{MINUS SIGN}", "-")) % (1 << machine_bits)


def held(state: State, name: str, labels: dict[str, int]) -> object:
    """What a row's own word for a place means in a state."""
    plain = {"ACC": state.acc, "PC": state.pc}
    if name in plain:
        return plain[name]
    if name == "status":
        return str(state.status)
    if name in state.others:
        return state.others[name]
    at = int(name[1:-1]) if name.startswith("[") else labels[name]
    return state.memory[at]


def check_did(scene: Scene, row: Row, moments: list[Moment]) -> None:
    """Each thing that a row says was so after one of its steps, and in their order; and what is
    held otherwise after the instruction than before is said."""
    machine = scene.program.machine
    labels = {name: at for at, name in scene.program.labels.items()}
    before, after = moments[0].before, moments[-1].after
    said = row.did.split(", ") if row.did else []
    at = 0
    for each in said:
        if each == "stops":
            assert after.ending == "halted"
            continue
        if each == "no jump":
            assert after.pc == before.pc + 1
            continue
        name, _, value = each.rpartition(" ")
        if name == "output":
            (sent,) = scene.run.outputs(after.sent)[before.sent :]
            assert sent == number(machine.word_bits, value)
            continue
        wanted: object = value
        if name == "interrupts":
            wanted = int(value == "on")
        elif name != "status":
            signed = name not in ("PC", "SP", "V", "carry")
            wanted = number(machine.word_bits if signed else 64, value)
        while held(moments[at].after, name, labels) != wanted:
            at += 1  # IndexError where it never was
    words = {each.rpartition(" ")[0] for each in said}
    if after.acc != before.acc:
        assert "ACC" in words
    assert (after.sent > before.sent) == ("output" in words)
    changed = [
        n for n, (a, b) in enumerate(zip(before.memory, after.memory, strict=True)) if a != b
    ]
    for address in changed:
        assert f"[{address}]" in words or scene.program.labels.get(address) in words
    for tag, value in before.others.items():
        # The carry is set beside a result, and goes without saying.
        assert value == after.others[tag] or tag in (*words, "carry")
    jumped = after.pc != before.pc + 1
    assert not jumped or "PC" in words


@pytest.mark.parametrize("path", SHIPPED, ids=lambda each: each.stem)
def test_each_button_leads_to_its_phase_and_each_row_says_what_was_done(path: Path) -> None:
    text = manuscript(path)
    for at, scene in enumerate(text.lesson.scenes):
        found = windows(scene)
        assert bool(found) == bool(scene.program.words and not scene.scale and not scene.compare)
        session = Session("test", text.lesson)
        session.go_to_scene(at)
        for shown in found:
            assert len(shown.rows) <= MOST_ROWS
            numbers = [each.number for each in shown.rows]
            assert numbers == list(range(numbers[0], numbers[-1] + 1))
            for row in shown.rows:
                check_row(scene, row)
            # The board goes to the very step.
            for stop in shown.rows[-1].stops:
                session.go_to_step(stop.steps.last)
                view = session.view()
                assert view.step == stop.steps.last
                assert scene.by_turns or (view.moment and view.moment.phase == stop.phase)


def check_row(scene: Scene, row: Row) -> None:
    account = scene.in_pipeline
    run = scene.run
    # The steps of the instruction, found by walking over its neighbours.
    last = account.row(row.number).last_step if account else row.stops[-1].steps.last
    moments = [run.moment(last)]
    while moments[0].step and moments[0].step.number > 1:
        earlier = run.moment(moments[0].step.number - 1)
        if not earlier.step or earlier.step.cycle != row.number:
            break
        moments.insert(0, earlier)
    start = moments[0].before
    label = scene.program.labels.get(start.pc, "")
    assert row.label == label
    made = assemble(scene.program.machine, source_of(scene, row)).words[0]
    assert made == start.memory[start.pc]
    check_did(scene, row, moments)
    if account:
        names = [each.value for each in account.shape.names]
        assert [each.phase for each in row.stops] == names
        for stop, tick in zip(row.stops, account.row(row.number).starts, strict=True):
            assert (stop.steps.first, stop.steps.last) == (tick, tick)
        return
    phases = [each.step.kind.phase for each in moments if each.step]
    assert [each.phase for each in row.stops] == list(dict.fromkeys(phases))
    for stop in row.stops:
        step = run.moment(stop.steps.last).step
        assert step and (step.kind.phase, step.cycle) == (stop.phase, row.number)
        # It is the last of its phase, and the first one is the first.
        following = run.moment(stop.steps.last + 1) if run.reaches(stop.steps.last + 1) else None
        if following and following.step:
            after = following.step
            assert (after.kind.phase, after.cycle) != (stop.phase, row.number)
        assert len(run.moment(stop.steps.last).steps_of_phase) == (
            stop.steps.last - stop.steps.first + 1
        )


def source_of(scene: Scene, row: Row) -> str:
    """A row's instruction with the addresses of its labels, as one line of a program."""
    names = {name: str(at) for at, name in scene.program.labels.items()}
    return re.sub(r"[^\W\d]\w*", lambda found: names.get(found[0], found[0]), row.instruction)


@pytest.mark.parametrize("path", SHIPPED, ids=lambda each: each.stem)
def test_what_is_said_and_asked_is_marked_in_the_row_where_the_board_has_it(path: Path) -> None:
    for scene in manuscript(path).lesson.scenes:
        found = windows(scene)
        if not found or scene.by_turns:
            continue
        pressing = Pressing(scene, scene.depth)
        stops = {
            (row.number, stop.phase): (stop, row)
            for shown in found
            for row in shown.rows
            for stop in row.stops
        }
        for (cycle, phase), (stop, row) in stops.items():
            steps = range(stop.steps.first, stop.steps.last + 1)
            said = [each.words for each in row.remarks if not each.asked]
            for step in steps:
                cue = scene.cue_sheet.at(step)
                if cue and cue.when.kind != "end":
                    assert cue.words in said, (cycle, phase)
            asked = [each.words for each in row.remarks if each.asked and each.phase == phase]
            assert asked == [
                each.prompt for each in scene.questions if pressing.ask_step(each) in steps
            ]
        for row in {each.number: each for _, each in stops.values()}.values():
            spoken = {
                scene.cue_sheet.at(step, None)
                for stop in row.stops
                for step in range(stop.steps.first, stop.steps.last + 1)
            }
            words = {each.words for each in spoken if each}
            # A cue that a narrower one covers wholly in this row may be marked all the same.
            extra = [each for each in row.remarks if not each.asked and each.words not in words]
            for each in extra:
                assert any(x.words == each.words and row_meets(scene, x, row) for x in scene.cues)
        start = [each.words for each in found[0].at_start if not each.asked]
        assert start == [each.words for each in scene.cues if each.words and at_start(scene, each)]


def row_meets(scene: Scene, cue, row: Row) -> bool:  # type: ignore[no-untyped-def]
    first, last = row.stops[0].steps.first, row.stops[-1].steps.last
    return scene.timeline.spans(cue.when).meeting(first, last) is not None


def at_start(scene: Scene, cue) -> bool:  # type: ignore[no-untyped-def]
    return any(span.first == 0 for span in scene.timeline.spans(cue.when))


LOOP = """---
title: Long
machine: 16-bit
---

# Loop

```program
        LOAD  many
again:  SUBTRACT #1
        JUMP again IF MORE
        HALT
many:   4000
```
"""


def test_a_long_run_is_shown_around_the_place_and_no_more_of_it_is_looked_at(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    scene = Manuscript("long", LOOP).lesson.scenes[0]
    first = glance(scene, 0)
    assert first and first.carried == 8002 and first.earlier is None
    assert [first.rows[0].number, first.rows[-1].number, first.later] == [1, MOST_ROWS, 41]
    asked = []
    moment = type(scene.run).moment

    def counted(run, step):  # type: ignore[no-untyped-def]
        asked.append(step)
        return moment(run, step)

    monkeypatch.setattr(type(scene.run), "moment", counted)
    step = scene.timeline.in_the_run(5000).last
    there = glance(scene, step)
    assert there and len(there.rows) == MOST_ROWS
    assert there.rows[0].number < 5000 < there.rows[-1].number
    longest = scene.program.machine.longest
    assert len(asked) <= MOST_ROWS * (longest + 1) + 1
    # From window to window no row is left out, and the last has the end.
    turned = glance(scene, step, there.later or 0)
    assert turned and turned.rows[0].number <= there.rows[-1].number + 1 <= turned.rows[-1].number
    last = glance(scene, 0, first.carried)
    assert last and last.later is None and last.rows[-1].did == "stops"
    beyond = glance(scene, 0, 10**30)
    assert beyond == last


def test_a_run_that_breaks_off_says_so() -> None:
    source = LOOP.replace("HALT", "INPUT").replace("4000", "1")
    scene = Manuscript("waits", source).lesson.scenes[0]
    shown = glance(scene, 0)
    assert shown and shown.rows[-1].instruction == "INPUT" and shown.rows[-1].did == ""
    assert [each.phase for each in shown.rows[-1].stops] == [Phase.FETCH, Phase.DECODE]
    assert "input" in shown.ending.casefold() and shown.waits
    halts = glance(Manuscript("halts", LOOP.replace("4000", "1")).lesson.scenes[0], 0)
    assert halts and not halts.waits


def test_a_scene_without_a_program_has_none() -> None:
    text = "---\ntitle: x\nmachine: 8-bit\n---\n\n# One\n\nNotes.\n"
    assert glance(Manuscript("x", text).lesson.scenes[0], 0) is None
