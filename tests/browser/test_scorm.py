"""The package in a learning platform whose run-time was not written here (scorm-again): it is told
what a pupil did, to the last answer, and what it has kept is where the pupil goes on."""

from __future__ import annotations

import base64
import gzip
import io
import json
import re
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path
from random import Random
from typing import Any

import pytest
from playwright.sync_api import FrameLocator, Page, expect

from app import create_app
from app.lesson.file.reader import read_lesson
from app.lesson.file.shelf import Shelf
from app.paths import resource
from app.web.paper.package import scorm_package
from tests.platform import Platform
from tests.web.paper.paper_lesson import ASKING

LESSON = read_lesson("gate", ASKING)
(ASKED,) = LESSON.scenes[1].questions
WRONG = next(at for at, mixup in enumerate(ASKED.mixups) if mixup)
LAST = LESSON.scenes[2].run.last_step


@pytest.fixture(scope="module")
def packages() -> dict[str, bytes]:
    environment = create_app().jinja_env
    return {each: scorm_package(LESSON, environment, each) for each in ("1.2", "2004")}


@pytest.fixture(params=["1.2", "2004"])
def platform(request: pytest.FixtureRequest, packages: dict[str, bytes]) -> Iterator[Platform]:
    version: str = request.param
    with Platform(packages[version], version, "index.html") as running:
        yield running


class Sitting:
    """A pupil at the package, from opening it to closing it."""

    def __init__(self, page: Page, platform: Platform) -> None:
        self.page, self.platform = page, platform
        page.goto(platform.address)
        self.shown: FrameLocator = page.frame_locator("#package")
        expect(self.shown.locator("body[data-ready]")).to_have_count(1)

    def go(self, scene: int, step: int) -> None:
        self.shown.locator("#scene").select_option(str(scene))
        self.shown.locator("#place").fill(str(step))

    def choose(self, choice: int) -> None:
        self.shown.locator(f'.choose[data-choice="{choice}"]').click()

    @property
    def place(self) -> tuple[int, str]:
        scene = self.shown.locator("#scene").input_value()
        return int(scene), self.shown.locator("#place").input_value()

    def leave(self) -> dict[str, Any]:
        """Close the package; what the platform has kept then, under the names of SCORM 2004."""
        self.page.evaluate("document.getElementById('package').remove()")
        kept = self.page.evaluate(f"JSON.parse(JSON.stringify({self.platform.api}.cmi))")
        ended = f"{self.platform.api}.isTerminated()"
        self.page.wait_for_function(ended)
        self.platform.kept = kept
        core = kept.get("core", kept)
        return {
            **kept,
            "status": core.get("lesson_status") or core.get("completion_status"),
            "location": core.get("lesson_location") or core.get("location"),
            "score": core["score"],
            "exit": core["exit"],
            "session_time": core["session_time"],
            "interactions": [*kept["interactions"].values()],
        }


@pytest.fixture
def sit(new_page: Callable[..., Page], platform: Platform) -> Callable[[], Sitting]:
    return lambda: Sitting(new_page(reduced_motion="reduce"), platform)


def answers(kept: dict[str, Any]) -> list[tuple[str, str, str]]:
    return [
        (each["id"], each.get("learner_response") or each["student_response"], each["result"])
        for each in kept["interactions"]
    ]


def test_two_sittings_to_the_last_answer(sit: Callable[[], Sitting], platform: Platform) -> None:
    wrong = "wrong" if platform.version == "1.2" else "incorrect"
    right, name = "abcd"[ASKED.answer], "scene-2-question-1"
    # The first ends in the middle of a question, after a wrong answer.
    first = sit()
    first.go(1, ASKED.step)
    first.choose(WRONG)
    kept = first.leave()
    assert answers(kept) == [(name, "abcd"[WRONG], wrong)]
    (given,) = kept["interactions"]
    assert given["type"] == "choice" and given["correct_responses"]["0"]["pattern"] == right
    mixup = ASKED.mixups[WRONG].replace(" ", "-")
    assert given["objectives"]["0"]["id"] == f"mix-up-{mixup}"
    if platform.version == "2004":
        assert ASKED.prompt in given["description"] and ASKED.mixups[WRONG] in given["description"]
    assert (kept["status"], kept["exit"], kept["score"]["raw"]) == ("incomplete", "suspend", "0")
    assert kept["location"] == f"2.{ASKED.step}" and len(kept["suspend_data"]) < 4096
    # The second goes on there, is right now, and goes to the end.
    second = sit()
    assert second.place == (1, str(ASKED.step))
    expect(second.shown.locator("#note")).to_have_text("You go on where you left.")
    second.choose(ASKED.answer)
    second.go(2, LAST)
    told = "You got 1 of 1 questions right, 0 at the first go."
    expect(second.shown.locator("#note")).to_contain_text(told)
    kept = second.leave()
    assert answers(kept)[-1] == (name, right, "correct")
    # Right, but not at the first go: the score counts first answers.
    assert (kept["status"], kept["score"]["raw"]) == ("completed", "0")
    # Whoever opens it once more has still finished.
    third = sit()
    assert third.place == (2, str(LAST))
    third.go(0, 0)
    assert third.leave()["status"] == "completed"


def tape_of(package: bytes) -> dict[str, Any]:
    """What the page of a package plays."""
    page = zipfile.ZipFile(io.BytesIO(package)).read("index.html").decode()
    found = re.search(r'id="tape">([^<]+)<', page)
    assert found
    tape: dict[str, Any] = json.loads(gzip.decompress(base64.b64decode(found[1])))
    return tape


@pytest.mark.parametrize("version", ["1.2", "2004"])
def test_a_whole_lesson_in_three_sittings(new_page: Callable[..., Page], version: str) -> None:
    """A shipped lesson, with a pupil whose answers a seed has chosen: what the platform has at the
    end is what was pressed, every answer of it, and the score is what they come to."""
    lesson = Shelf(resource("lessons")).lesson("05-tide-gauge")
    assert lesson
    package = scorm_package(lesson, create_app().jinja_env, version)
    tape, chance = tape_of(package), Random(5)
    places = [
        (scene, number, question)
        for scene, each in enumerate(tape["scenes"])
        for number, question in enumerate(each["questions"], start=1)
    ]
    assert len(places) == sum(len(each.questions) for each in lesson.scenes) == 6
    pressed: list[tuple[str, str, str]] = []
    wrong = "wrong" if version == "1.2" else "incorrect"
    at_once = 0
    with Platform(package, version, "index.html") as platform:
        for sitting_number in range(3):
            sitting = Sitting(new_page(reduced_motion="reduce"), platform)
            for scene, number, question in places[2 * sitting_number :][:2]:
                sitting.go(scene, question["at"])
                right = question["answer"]
                others = [at for at in range(len(question["mixups"])) if at != right]
                tries = [*chance.sample(others, chance.randint(0, 2)), right]
                at_once += len(tries) == 1
                for choice in tries:
                    sitting.choose(choice)
                    result = "correct" if choice == right else wrong
                    name = f"scene-{scene + 1}-question-{number}"
                    pressed.append((name, "abcdef"[choice], result))
            if sitting_number == 2:
                last = len(tape["scenes"]) - 1
                sitting.go(last, len(tape["scenes"][last]["frames"]) - 1)
            kept = sitting.leave()
            # scorm-again keeps what was answered for the next sitting, as a platform may.
            done = answers(kept)
            assert done[-len(pressed) :] == pressed, sitting_number
            assert kept["status"] == ("completed" if sitting_number == 2 else "incomplete")
    assert float(kept["score"]["raw"]) == round(100 * at_once / 6) and 0 < at_once < 6


def test_who_was_never_right_has_finished_too(
    sit: Callable[[], Sitting], platform: Platform
) -> None:
    sitting = sit()
    sitting.go(2, LAST)
    note = sitting.shown.locator("#note")
    expect(note).to_contain_text("Not finished yet: question 1 of scene 2.")
    sitting.go(1, ASKED.step)
    expect(note).to_have_text("Not finished yet: question 1 of scene 2.")
    sitting.choose(WRONG)
    expect(note).to_be_hidden()
    kept = sitting.leave()
    assert (kept["status"], kept["score"]["raw"]) == ("completed", "0")


def test_all_right_at_once(sit: Callable[[], Sitting], platform: Platform) -> None:
    sitting = sit()
    sitting.go(2, LAST)
    sitting.go(1, ASKED.step)
    sitting.choose(ASKED.answer)
    kept = sitting.leave()
    assert (kept["status"], kept["score"]["raw"], kept["score"]["max"]) == (
        "completed",
        "100",
        "100",
    )
    if platform.version == "2004":
        assert float(kept["score"]["scaled"]) == 1 and float(kept["progress_measure"]) == 1
    assert kept["session_time"] not in ("", "PT0S", "00:00:00")
    # Which name a pupil has was never asked for.
    asked = {"learner_id", "learner_name", "student_id", "student_name"}
    assert not any(kept.get(each) or kept.get("core", {}).get(each) for each in asked)


def test_a_platform_that_takes_nothing_is_told_of(
    sit: Callable[[], Sitting], platform: Platform
) -> None:
    sitting = sit()
    name = "LMSSetValue" if platform.version == "1.2" else "SetValue"
    sitting.page.evaluate(f"{platform.api}.{name} = () => 'false'")
    sitting.go(1, ASKED.step)
    sitting.choose(ASKED.answer)
    expect(sitting.shown.locator("#note")).to_contain_text("did not take what you did")


def test_a_platform_that_throws_does_not_stop_the_lesson(
    sit: Callable[[], Sitting], platform: Platform
) -> None:
    """As one does whose window is closed, or whose own script has a fault."""
    sitting = sit()
    prefix = "LMS" if platform.version == "1.2" else ""
    sitting.page.evaluate(
        """([name, prefix]) => {
          const thrower = () => { throw new Error("gone"); };
          for (const each of ["SetValue", "Commit", "GetLastError"]) {
            window[name][prefix + each] = thrower;
          }
        }""",
        [platform.api, prefix],
    )
    sitting.go(1, ASKED.step)
    sitting.choose(ASKED.answer)
    expect(sitting.shown.locator(".choice.is-right")).to_have_count(1)
    expect(sitting.shown.locator("#note")).to_contain_text("did not take what you did")
    expect(sitting.shown.locator("#note")).to_contain_text("gone")
    sitting.shown.locator("#control-forward").click()
    assert sitting.place == (1, str(ASKED.step + 1))


def test_a_platform_that_does_not_begin_is_told_of(
    new_page: Callable[..., Page], platform: Platform
) -> None:
    """It was found, and has said no: after the end of a sitting it may not begin another one."""
    page = new_page(reduced_motion="reduce")
    name = "LMSInitialize" if platform.version == "1.2" else "Initialize"
    page.add_init_script(
        f"addEventListener('DOMContentLoaded', () => {{"
        f" if (window.{platform.api}) window.{platform.api}.{name} = () => 'false'; }});"
    )
    page.goto(platform.address)
    shown = page.frame_locator("#package")
    expect(shown.locator("body[data-ready]")).to_have_count(1)
    expect(shown.locator("#note")).to_contain_text("The learning platform did not begin")
    shown.locator("#control-forward").click()
    expect(shown.locator("#note")).to_be_hidden()


@pytest.mark.parametrize("nothing", ["null", "undefined", "'x'"])
def test_where_a_platform_does_not_say_how_far_a_pupil_is_they_can_finish(
    new_page: Callable[..., Page], platform: Platform, nothing: str
) -> None:
    page = new_page(reduced_motion="reduce")
    prefix = "LMS" if platform.version == "1.2" else ""
    status = "cmi.core.lesson_status" if prefix else "cmi.completion_status"
    page.add_init_script(f"""
      addEventListener("DOMContentLoaded", () => {{
        const api = window.{platform.api};
        if (!api) return;
        const get = api.{prefix}GetValue.bind(api);
        api.{prefix}GetValue = (name) => (name === "{status}" ? {nothing} : get(name));
      }});
    """)
    page.goto(platform.address)
    sitting = Sitting.__new__(Sitting)
    sitting.page, sitting.platform = page, platform
    sitting.shown = page.frame_locator("#package")
    expect(sitting.shown.locator("body[data-ready]")).to_have_count(1)
    sitting.go(1, ASKED.step)
    sitting.choose(ASKED.answer)
    sitting.go(2, LAST)
    assert sitting.leave()["status"] == "completed"


def test_a_platform_that_knows_no_single_answers(
    sit: Callable[[], Sitting], platform: Platform
) -> None:
    """As SCORM 1.2 allows: error 401, and 402 in 2004, is "not implemented" and no fault."""
    sitting = sit()
    prefix, code = ("LMS", "401") if platform.version == "1.2" else ("", "402")
    sitting.page.evaluate(
        """([name, prefix, code]) => {
          const api = window[name];
          const set = api[`${prefix}SetValue`].bind(api);
          api[`${prefix}SetValue`] = (element, value) => {
            if (!element.startsWith("cmi.interactions")) return set(element, value);
            api[`${prefix}GetLastError`] = () => code;
            return "false";
          };
        }""",
        [platform.api, prefix, code],
    )
    sitting.go(1, ASKED.step)
    sitting.choose(ASKED.answer)
    expect(sitting.shown.locator("#note")).to_be_hidden()
    kept = sitting.leave()
    assert kept["interactions"] == [] and kept["score"]["raw"] == "100"


def test_what_was_kept_by_another_lesson_is_left(
    sit: Callable[[], Sitting], platform: Platform
) -> None:
    """A package may be put in another's place: what it cannot read is no place in it."""
    sitting = sit()
    sitting.go(1, 3)
    sitting.leave()
    for strange in ("1|2|3|rrrr|", "x", "1|99|9999|-|end"):
        platform.kept["suspend_data"] = strange
        again = sit()
        scene, step = again.place
        assert (scene, step) in ((0, "0"), (2, str(LAST))), strange


def test_from_disk_it_plays_and_says_that_nothing_is_kept(
    new_page: Callable[..., Page], packages: dict[str, bytes], tmp_path: Path
) -> None:
    zipfile.ZipFile(io.BytesIO(packages["1.2"])).extractall(tmp_path)
    page = new_page(offline=True, reduced_motion="reduce")
    page.goto((tmp_path / "index.html").as_uri())
    expect(page.locator("#note")).to_contain_text("nothing of what you do is kept")
    page.keyboard.press("ArrowRight")
    expect(page.locator("#note")).to_be_hidden()
