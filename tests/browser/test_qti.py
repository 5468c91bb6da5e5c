"""The questions as QTI 3.0, in a player that was not written here (qti3-item-player): it shows each
item, scores each choice, and says why."""

from __future__ import annotations

import io
import re
import xml.etree.ElementTree as ET
import zipfile
from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from app import create_app
from app.lesson.file.reader import read_lesson
from app.lesson.file.shelf import Shelf
from app.lesson.model import Lesson
from app.paths import resource
from app.web.paper.package import qti_package
from tests.fetched import needed
from tests.players import QTI_PLAYER, VUE
from tests.web.paper.paper_lesson import ASKING

# What would end an element. (Two braces in a row this player takes for its own.)
ODD = ASKING.replace("What will the status be?", 'Is 4 < 7 & "so" ]]> on?').replace(
    "The garden gate", "Tür & <b>λ</b>"
)
GROWN = Shelf(resource("lessons")).lesson("15-clock-tower")

SCHEMA_LOCATION = "{http://www.w3.org/2001/XMLSchema-instance}schemaLocation"

_SET_UP = """
window.done = [];
new Vue({
  el: "#app",
  components: { player: qti3Player },
  template: `<player ref="player" suppress-alert-messages
    @notifyQti3PlayerReady="(it) => { window.player = it; }"
    @notifyQti3ItemReady="() => { window.ready = true; }"
    @notifyQti3EndAttemptCompleted="(data) => { window.done.push(data.state); }"/>`,
});
"""


@pytest.fixture(scope="module")
def load() -> Callable[[Lesson], dict[str, str]]:
    environment = create_app().jinja_env

    def files(lesson: Lesson) -> dict[str, str]:
        with zipfile.ZipFile(io.BytesIO(qti_package(lesson, environment))) as archive:
            return {each: archive.read(each).decode() for each in archive.namelist()}

    return files


class Player:
    """The player, with one item after the other."""

    def __init__(self, page: Page) -> None:
        self.page = page
        page.set_content("<!doctype html><div id='app'></div>")
        page.add_script_tag(path=needed(VUE) / "dist" / "vue.min.js")
        page.add_script_tag(path=needed(QTI_PLAYER) / "dist" / "qti3Player.umd.min.js")
        page.add_style_tag(path=needed(QTI_PLAYER) / "dist" / "qti3Player.css")
        page.evaluate(_SET_UP)
        page.wait_for_function("window.player")

    def show(self, item: str) -> None:
        self.page.evaluate("window.ready = false")
        control = {"max_attempts": 0, "show_feedback": True, "validate_responses": False}
        configuration = {"guid": "1", "status": "interacting", "sessionControl": control}
        self.page.evaluate(
            "([xml, how]) => window.player.loadItemFromXml(xml, how)", [item, configuration]
        )
        self.page.wait_for_function("window.ready")

    def answer(self, letter: str) -> dict[str, Any]:
        """Choose, and end the attempt: the outcomes by their names, and what is ``told``."""
        self.page.evaluate("window.done = []")
        self.page.locator(f'[role="radio"][data-identifier="{letter}"]').click()
        self.page.evaluate("window.player.endAttempt('x')")
        self.page.wait_for_function("window.done.length")
        state = self.page.evaluate("JSON.parse(JSON.stringify(window.done[0]))")
        response = next(e for e in state["responseVariables"] if e["identifier"] == "RESPONSE")
        assert response["value"] == letter
        told = self.page.locator(".qti3-player-modal.show")
        words = told.locator(".qti3-player-modal-body").inner_text()
        told.locator(".qti-modal-feedback-ok").click()
        expect(told).to_have_count(0)
        found = {each["identifier"]: each["value"] for each in state["outcomeVariables"]}
        return found | {"told": words}


def test_every_choice_is_scored_and_explained(
    new_page: Callable[..., Page], load: Callable[[Lesson], dict[str, str]]
) -> None:
    assert GROWN
    player = Player(new_page(bypass_csp=True))
    held = 0
    for lesson in (read_lesson("gate", ODD), GROWN):
        files = load(lesson)
        number = 0
        for scene in lesson.scenes:
            for asked in scene.questions:
                number += 1
                item = files[f"items/question-{number}.xml"]
                player.show(item)
                shown = player.page.locator("body").inner_text()
                assert asked.prompt in re.sub(r"\s+", " ", shown)
                assert all(each in shown for each in asked.choices)
                wrong = (asked.answer + 1) % len(asked.choices)
                for choice in (wrong, asked.answer):
                    letter = "ABCDEF"[choice]
                    found = player.answer(letter)
                    assert float(found["SCORE"]) == float(choice == asked.answer), asked
                    assert found["FEEDBACK"] == letter
                    why = asked.because if choice == asked.answer else asked.reasons[choice]
                    assert why in found["told"] and asked.mixups[choice] in found["told"]
                    held += 1
    assert held > 12


def test_the_package_names_all_that_is_in_it(load: Callable[[Lesson], dict[str, str]]) -> None:
    """What the published schema of the manifest asks for (1EdTech, QTI 3.0,
    ``imsqtiv3p0_imscpv1p2_v1p0.xsd``), read and put in words here: no registry that the tests fetch
    from has it. The form of the test is from memory."""
    lesson = read_lesson("gate", ODD)
    files = load(lesson)
    manifest = ET.fromstring(files["imsmanifest.xml"])
    spaces = {"": "http://www.imsglobal.org/xsd/qti/qtiv3p0/imscp_v1p1"}
    assert [*manifest.attrib] == [SCHEMA_LOCATION, "identifier"]
    parts = [each.tag.split("}")[1] for each in manifest]
    assert parts == ["metadata", "organizations", "resources"]
    about = [(each.tag.split("}")[1], each.text) for each in manifest[0]]
    assert about == [("schema", "QTI Package"), ("schemaversion", "3.0.0")]
    assert len(manifest[1]) == 0 and not manifest[1].attrib
    resources = manifest.findall("resources/resource", spaces)
    assert all({*each.attrib} == {"identifier", "type", "href"} for each in resources)
    named = {file.get("href") for each in resources for file in each.findall("file", spaces)}
    assert named == {*files} - {"imsmanifest.xml"}
    assert {each.get("type") for each in resources} == {
        "imsqti_test_xmlv3p0",
        "imsqti_item_xmlv3p0",
    }
    names = {each.get("identifier") for each in resources}
    needed = {each.get("identifierref") for each in manifest.iterfind(".//dependency", spaces)}
    assert needed == names - {"test"} and len(needed) == 1
    test = ET.fromstring(files["test.xml"])
    assert test.get("title") == "Tür & <b>λ</b>"
    refs = [each.get("href") for each in test.iter() if each.tag.endswith("item-ref")]
    assert refs == ["items/question-1.xml"]
    items = [ET.fromstring(files[each]).get("identifier") for each in refs if each]
    assert len({*items}) == len(items)


def test_a_lesson_without_questions_has_no_package() -> None:
    lesson = read_lesson("a", "---\ntitle: A\nmachine: 8-bit\n---\n# One\n```program\nHALT\n```\n")
    with pytest.raises(ValueError, match="no question"):
        qti_package(lesson, create_app().jinja_env)
