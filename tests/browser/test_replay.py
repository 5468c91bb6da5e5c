"""The replay, opened from disk with the network off, held to the board of the served lesson."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from app import printing
from app.classroom.inside import NO_STEP_YET, NOTHING_TO_OPEN
from app.lesson.file.reader import read_lesson
from app.web.paper import replay as replay_module
from tests.browser.board import NO_STORAGE, Board
from tests.browser.conftest import teach
from tests.browser.judge import violations
from tests.browser.voice import VOICE
from tests.conftest import LONG
from tests.replay_file import LARGEST, write_replay
from tests.server import ROOT, Server
from tests.web.paper.paper_lesson import ASKING

# The comparison is the fourth instruction; its question is asked after it has been decoded.
QUESTION_STEP = 25
FRAME = "document.getElementById('screen').innerHTML"
# What is open, without the link to its sheet, which a file has in itself.
PANEL = r"""
(() => {
  const panel = document.querySelector(".opened").cloneNode(true);
  panel.querySelector("link")?.remove();
  return panel.outerHTML.replace(/>\s+/g, ">").replace(/\s+</g, "<");
})()
"""


@dataclass
class Replay(Board):
    """A page that plays a replay."""

    def open_file(self, file: Path) -> Replay:
        self.page.goto(file.as_uri())
        self.wait("'ready' in document.body.dataset")
        return self

    @property
    def scene_count(self) -> int:
        return self.page.locator("#scene option").count()

    def question(self) -> str:
        return self.page.locator(".asking .sentence").inner_text()

    def choose(self, right: bool, answer: str) -> str:
        """Press the right or a wrong choice; what the page says to it."""
        chosen = self.page.locator(".choose")
        said = chosen.filter(has_text=answer) if right else chosen.filter(has_not_text=answer)
        said.first.click()
        return self.page.locator(".poll-state").inner_text()


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    lesson = tmp_path_factory.mktemp("replay") / "gate.md"
    lesson.write_text(ASKING, "utf-8")
    return write_replay(lesson)[0]


@pytest.fixture
def open_replay(new_page: Callable[..., Page], file: Path) -> Iterator[Callable[..., Replay]]:
    """Opens the file with the network off; nothing but the file itself may be asked for."""
    asked: list[str] = []

    def open_offline(which: Path = file, script: str = "", **options: object) -> Replay:
        page = new_page(offline=True, **options)
        page.on("request", lambda request: asked.append(request.url))
        if script:
            page.add_init_script(script)
        return Replay(page).open_file(which)

    yield open_offline
    assert {each.split(":")[0] for each in asked} <= {"file", "data"}, asked


def test_every_frame_is_the_one_of_the_board(
    file: Path, open_replay: Callable[..., Replay], new_page: Callable[..., Page]
) -> None:
    """Stepped side by side with the served lesson: the same fragment, to the letter."""
    replay = open_replay(reduced_motion="reduce")
    with Server(file.with_suffix(".md")) as server:
        board = Board(new_page(reduced_motion="reduce")).open(teach(server.address, "gate"))
        for scene in range(3):
            for step in range(1, 9 if scene else 2):
                board.step_to("s", step)
                replay.press("ArrowRight")
                ours, theirs = (each.page.evaluate(FRAME) for each in (replay, board))
                if replay.page.locator(".asking").count():
                    continue
                assert ours.strip() == theirs.strip()
            for each in (board, replay):
                each.press("]")
                if scene < 2:
                    each.wait(
                        "Number(document.getElementById('frame').dataset.scene) === value",
                        scene + 1,
                    )
        # Before its server ends, which a page that listens would tell.
        board.page.goto("about:blank")


def test_it_plays_to_the_end(open_replay: Callable[..., Replay]) -> None:
    """Through every scene, with its movement, its pause and its question."""
    replay = open_replay()
    replay.press("+", "+", "+", "g")
    replay.wait("document.querySelector('.vehicle')")
    # Most of each scene is passed over: it is all of one kind.
    replay.page.locator("#place").fill(str(QUESTION_STEP - 3))
    replay.press("g")
    replay.wait("document.querySelector('.asking')")
    # It waits for an answer, however long that takes.
    replay.wait("document.getElementById('control-play').textContent === 'Play'")
    assert "Right" in replay.choose(True, "MORE")
    # Once it is answered it goes on by itself, and then into the next scene, to its pause.
    replay.wait_for_step_after(QUESTION_STEP)
    replay.page.locator("#place").fill(str(read_lesson("gate", ASKING).scenes[1].run.last_step - 3))
    replay.press("g")
    replay.wait("Number(document.getElementById('frame').dataset.scene) === 2")
    # The scene has asked for a quarter of that speed.
    replay.press("+", "+")
    replay.wait("document.querySelector('.sentence').textContent.startsWith('The first number')")
    replay.wait("document.getElementById('control-play').textContent === 'Play'")
    last = read_lesson("gate", ASKING).scenes[2].run.last_step
    replay.page.locator("#place").fill(str(last - 8))
    replay.press("g")
    while (step := replay.step) < last:
        replay.wait_for_step_after(step)
    replay.wait("document.getElementById('control-play').textContent === 'Play'")
    assert (replay.scene, replay.step) == (2, last)
    assert "stops the clock" in replay.sentence()
    assert replay.shown("ACC") == "0"


def test_going_back_and_about(open_replay: Callable[..., Replay]) -> None:
    replay = open_replay(reduced_motion="reduce")
    replay.press("]", "i", "i")
    after_two = replay.step
    replay.press("ArrowLeft")
    assert replay.step == after_two - 1
    replay.press("u")
    assert replay.shown("PC") == "1"
    replay.press("p")
    assert (replay.page.locator(".phases .now").inner_text(), replay.shown("PC")) == ("Fetch", "2")
    replay.press("r")
    assert replay.step == 0
    # Back over the start of a scene leads to the end of the one before; no way leads further.
    replay.press("ArrowLeft")
    assert (replay.scene, replay.step) == (0, 1)
    replay.press("ArrowLeft", "ArrowLeft", "ArrowLeft")
    assert (replay.scene, replay.step) == (0, 0)
    replay.page.locator("#scene").select_option("2")
    assert replay.scene == 2
    replay.page.locator("#place").fill("10")
    assert replay.step == 10


def test_a_task_is_told_at_the_end_of_its_scene(
    new_page: Callable[..., Page], tmp_path: Path
) -> None:
    lesson = tmp_path / "gate.md"
    task = (
        "```task\ngoal: Output the *smaller* number.\ninputs 4, 7 gives 4\n```\n\n# Counting down"
    )
    lesson.write_text(ASKING.replace("# Counting down", task), "utf-8")
    page = new_page(reduced_motion="reduce")
    replay = Replay(page).open_file(write_replay(lesson)[0])
    told = page.get_by_role("status").get_by_text("Your turn: Output the")
    replay.press("]")
    assert told.count() == 0
    page.locator("#place").fill("1000")
    assert told.is_visible()
    replay.press("ArrowLeft")
    assert told.count() == 0 or not told.is_visible()


def test_questions_mark_themselves(open_replay: Callable[..., Replay]) -> None:
    replay = open_replay(reduced_motion="reduce")
    asked = read_lesson("gate", ASKING).scenes[1].questions[0]
    replay.press("]", "i", "i", "i", *["ArrowRight"] * 5)
    assert replay.step == asked.step
    assert replay.question() == "What will the status be?"
    replay.press("k")
    assert replay.page.locator(".opened").count() and not replay.page.locator(".asking").count()
    replay.press("k")
    assert replay.question() == "What will the status be?", "opening a part takes no question away"
    right = asked.choices[asked.answer]
    said = replay.choose(False, right)
    # What was mixed up is told, and not what is right.
    assert any(each and each in said for each in asked.mixups)
    assert not any(each and each in said for each in (*asked.reasons, asked.because))
    assert "Right" in replay.choose(True, right)
    replay.press("i")
    assert replay.shown("status") == right, "the machine shows the same"
    replay.press("u")
    assert not replay.page.locator(".asking").count(), "what is answered is not asked again"
    replay.press("a")
    assert "right: 1, of them 0 at the first go" in replay.page.locator("#score").inner_text()
    replay.press("Escape", "]", "]")
    replay.page.locator("#place").fill("1000")
    count = sum(len(each.questions) for each in read_lesson("gate", ASKING).scenes)
    told = f"You got 1 of {count} questions right, 0 at the first go."
    assert told in replay.page.locator("#note").inner_text()


TWICE = """---
title: Two at once
machine: 8-bit
depth: phases
---

# Nine and four

```program
        LOAD  #9
        ADD   #4
        OUTPUT
        HALT
```

```question
before first ADD: What will it hold?
ask: the accumulator
```

```question
before execute of ADD: And the status?
ask: the status
```

```question
before first ADD: And now?
ask: the accumulator
```
"""


def test_of_several_questions_at_one_place_each_is_asked(
    open_replay: Callable[..., Replay], tmp_path: Path
) -> None:
    """Two stand at the same step, and one more comes in the same press of whole phases or not."""
    lesson = tmp_path / "twice.md"
    lesson.write_text(TWICE, encoding="utf-8")
    replay = open_replay(write_replay(lesson)[0], reduced_motion="reduce")
    asked = sorted(
        read_lesson("twice", TWICE).scenes[0].questions, key=lambda each: (each.step, each.line)
    )
    assert len(asked) == 3
    for number, question in enumerate(asked):
        while not replay.page.locator(".asking").count() or replay.question() != question.prompt:
            before = FRAME
            seen = replay.page.evaluate(before)
            replay.press("ArrowRight")
            assert replay.page.evaluate(before) != seen, "the end, and not all were asked"
        said = replay.choose(True, question.choices[question.answer])
        same = number + 1 < len(asked) and asked[number + 1].step == question.step
        assert ("another question" in said) == same
    replay.page.locator("#place").fill("1000")
    told = "You got 3 of 3 questions right, 3 at the first go."
    assert told in replay.page.locator("#note").inner_text()


def test_who_has_pointed_at_a_place_goes_on_with_the_keys(
    open_replay: Callable[..., Replay],
) -> None:
    replay = open_replay(reduced_motion="reduce")
    replay.press("]")
    slider = replay.page.locator("#place")
    box = slider.bounding_box()
    assert box
    replay.page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    middle = replay.step
    assert middle > 1
    replay.press("PageDown")
    assert replay.step == middle + 1, "a clicker goes one step on"
    # With the keyboard the slider keeps its keys.
    slider.focus()
    replay.press("Home")
    replay.press("ArrowRight")
    assert replay.step == 1 and slider.evaluate("each => each === document.activeElement")


def test_it_plays_where_the_browser_keeps_nothing(open_replay: Callable[..., Replay]) -> None:
    replay = open_replay(script=NO_STORAGE, reduced_motion="reduce")
    replay.press("t", "?")
    assert replay.page.locator("html").get_attribute("data-theme") == "dark"
    replay.page.get_by_label("Keys that are one letter or sign").uncheck()
    replay.press("Escape", "]", "t")
    assert (replay.scene, replay.page.locator("html").get_attribute("data-theme")) == (0, "dark")
    replay.page.locator("#scene").select_option("1")
    asked = read_lesson("gate", ASKING).scenes[1].questions[0]
    replay.page.locator("#place").fill(str(asked.step))
    assert "Right" in replay.choose(True, asked.choices[asked.answer])


def test_who_takes_over_from_play_goes_on_alone(open_replay: Callable[..., Replay]) -> None:
    """Play still waits at the frame before when the question is come to with Next."""
    replay = open_replay(reduced_motion="reduce")
    asked = read_lesson("gate", ASKING).scenes[1].questions[0]
    replay.press("]")
    replay.page.locator("#place").fill(str(asked.step - 2))
    replay.page.clock.install()
    replay.press("g", "ArrowRight")
    assert replay.step == asked.step
    replay.page.clock.run_for(60_000)
    assert "Right" in replay.choose(True, asked.choices[asked.answer])
    replay.page.clock.run_for(60_000)
    assert replay.step == asked.step, "nobody has pressed Play since"


def test_a_press_does_not_go_past_an_answer_that_is_on_its_way(
    open_replay: Callable[..., Replay],
) -> None:
    replay = open_replay()
    asked = read_lesson("gate", ASKING).scenes[1].questions[0]
    replay.press("]", "-", "-", *["ArrowRight"] * asked.reveal_step)
    replay.wait_for_step(asked.reveal_step)
    replay.wait_for_vehicle()
    replay.press("ArrowRight")
    replay.wait_until_still()
    assert replay.step == asked.reveal_step
    replay.press("ArrowRight")
    replay.wait_for_step(asked.reveal_step + 1)


def test_values_travel_as_on_the_board(open_replay: Callable[..., Replay]) -> None:
    replay = open_replay()
    replay.press("]", "+", "+")
    replay.start_recording()
    replay.step_to("ArrowRight", 1)
    replay.wait_until_still()
    record = replay.recorded()
    assert [each["text"] for each in record["seen"]] == ["0"]
    moving = [each for each in record["samples"] if each["vehicles"]]
    assert len(moving) > 3
    for sample in moving:
        (vehicle,) = sample["vehicles"]
        assert replay.distance_from_lines("inside", vehicle["at"]) < 3


def test_a_long_lesson_says_where_it_stops(
    tmp_path: Path, open_replay: Callable[..., Replay], monkeypatch: pytest.MonkeyPatch
) -> None:
    # A tenth of the usual: each frame is drawn.
    for module in (printing, replay_module):
        monkeypatch.setattr(module, "MOST_FRAMES", 300)
    lesson = tmp_path / "long.md"
    lesson.write_text(LONG.replace("many:   200", "many:   2000"), "utf-8")
    made, said = write_replay(lesson)
    assert made.stat().st_size < LARGEST
    assert "only the first 300 steps" in said
    replay = open_replay(made, reduced_motion="reduce")
    replay.page.locator("#place").fill("299")
    assert "stops here" in replay.page.locator("#note").inner_text()


def test_the_voice_reads_what_is_shown(open_replay: Callable[..., Replay]) -> None:
    replay = open_replay(script=VOICE, reduced_motion="reduce")
    heard = lambda: replay.page.evaluate("heard")  # noqa: E731
    replay.press("]", "v")
    replay.wait("heard.length")
    replay.press("ArrowRight")
    assert heard() == ["Two numbers decide about the gate.", replay.sentence()]
    # The cue stays for the four steps of the STORE; then each step says what it does itself.
    replay.press("i", *["ArrowRight"] * 7)
    assert heard()[-2:] == [
        "The first number waits in memory.",
        replay.page.locator(".plain").inner_text(),
    ]
    replay.press("v", "ArrowRight")
    count = len(heard())
    replay.press("ArrowRight")
    assert len(heard()) == count, "switched off, it is silent"


def test_play_waits_for_the_voice(open_replay: Callable[..., Replay]) -> None:
    replay = open_replay(script=f"window.holdBack = 800;{VOICE}", reduced_motion="reduce")
    replay.press("]", "v", "+", "+", "+")
    replay.wait("window.said.length === 1")
    replay.press("m", "g")
    replay.wait("window.said.length === 3")
    # Of each step, until the words were out.
    assert replay.page.evaluate("window.said.slice(1)") == [["1", "1"], ["2", "2"]]


def test_without_a_voice_it_says_so(open_replay: Callable[..., Replay]) -> None:
    replay = open_replay()
    replay.press("v")
    replay.wait("!document.getElementById('note').hidden")
    assert "no voice" in replay.page.locator("#note").inner_text()
    assert replay.page.locator("#control-voice").is_disabled()
    replay.press("]")
    replay.step_to("ArrowRight", 1)


@pytest.mark.parametrize("viewport", [(1366, 768), (1024, 768), (390, 844)])
def test_it_is_accessible_and_fits(
    open_replay: Callable[..., Replay], viewport: tuple[int, int]
) -> None:
    width, height = viewport
    replay = open_replay(
        viewport={"width": width, "height": height},
        reduced_motion="reduce",
        bypass_csp=True,  # axe is put into the page
    )
    replay.press("]", "i", "i", "i", *["ArrowRight"] * 5)
    assert replay.question()
    assert violations(replay.page) == []
    if width > 400:
        assert replay.page.evaluate("document.documentElement.scrollHeight <= innerHeight")
        bar = replay.page.locator(".replay-bar").bounding_box()
        caption = replay.page.locator(".caption").bounding_box()
        assert bar and caption and caption["y"] + caption["height"] <= bar["y"] + 1


def test_parts_open_as_on_the_board(
    open_replay: Callable[..., Replay], open_board: Callable[..., Board], tmp_path: Path
) -> None:
    """The same keys on the board and in the file bring the same panel and the same words."""
    lesson = shutil.copy(ROOT / "lessons" / "02-ferry-ticket-machine.md", tmp_path)
    file, _ = write_replay(Path(lesson))
    still = {"reduced_motion": "reduce"}
    boards = (open_board("02-ferry-ticket-machine", **still), open_replay(file, **still))
    # At the start there is nothing to open yet, and each says which of the two is why.
    for key, why in (("k", NO_STEP_YET), ("o", NOTHING_TO_OPEN)):
        for board, place in zip(boards, ("#notice", "#note"), strict=True):
            board.press(key)
            expect(board.page.locator(place)).to_have_text(why)
    for board in boards:
        board.press("i", "i")
        board.wait_for_step(16)
    for key, opened in (("o", "alu"), ("o", "alu-0"), ("f", "alu-1"), ("k", "signals")):
        seen = []
        for board in boards:
            board.press(key)
            board.wait("document.getElementById('frame').dataset.inside === value", opened)
            seen.append((board.page.evaluate(PANEL), board.sentence()))
        assert seen[0] == seen[1]
    for board in boards:
        assert violations(board.page) == []
        board.press("k")
        board.wait("!document.querySelector('.opened')")
        assert board.shown("ACC") == "13"
