"""Packages for a learning platform: their manifests are held to the published schemas of SCORM."""

from __future__ import annotations

import csv
import io
import re
import xml.etree.ElementTree as ET
import zipfile
from dataclasses import replace
from pathlib import Path
from xml.sax.saxutils import escape

import pytest
from flask import Flask
from hypothesis import example, given
from hypothesis import strategies as st

from app import create_app
from app.lesson.blocks.interrupts import write_request
from app.lesson.file.reader import read_lesson
from app.lesson.file.shelf import Shelf
from app.paths import resource
from app.web.paper.package import SCORM_VERSIONS, identifier, in_xml, qti_package, scorm_package
from tests.schemas import scorm_problems
from tests.web.paper.paper_lesson import ASKING

# What would end an element, what XML has no place for, and letters beyond Latin-1.
TITLE = 'Ünder <&> "λ" ]]> \x0b\x1f \u202e \ufffe 🚪'


@pytest.fixture(scope="module")
def web(tmp_path_factory: pytest.TempPathFactory) -> Flask:
    folder = tmp_path_factory.mktemp("lessons")
    (folder / "gate.md").write_text(ASKING, "utf-8")
    (folder / "Tür-λ.md").write_text(ASKING, "utf-8")
    return create_app(folder)


def opened(data: bytes) -> dict[str, str]:
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        assert archive.testzip() is None
        return {each: archive.read(each).decode() for each in archive.namelist()}


@pytest.mark.parametrize("version", SCORM_VERSIONS)
def test_the_manifest_is_as_its_schemas_say(web: Flask, version: str) -> None:
    answer = web.test_client().get(f"/paper/gate/scorm-{version}.zip")
    assert answer.status_code == 200 and answer.mimetype == "application/zip"
    files = opened(answer.data)
    assert [*files] == ["imsmanifest.xml", "index.html"]
    manifest = files["imsmanifest.xml"]
    assert scorm_problems(manifest, version) == []
    # The schemas would find a slip.
    for wrong in (
        manifest.replace("identifierref=", "refers="),
        manifest.replace("<title>", "<name>").replace("</title>", "</name>"),
        manifest.replace('"sco"', '"page"'),
    ):
        assert scorm_problems(wrong, version), wrong


@pytest.mark.parametrize("version", SCORM_VERSIONS)
def test_any_title_can_stand_in_it(web: Flask, version: str) -> None:
    lesson = read_lesson("gate", ASKING)
    odd = replace(lesson, header=replace(lesson.header, title=TITLE))
    manifest = opened(scorm_package(odd, web.jinja_env, version))["imsmanifest.xml"]
    titles = {each.text for each in ET.fromstring(manifest).iter() if each.tag.endswith("title")}
    (title,) = titles
    assert title and title.startswith('Ünder <&> "λ" ]]> ') and title.endswith("🚪")


@given(st.text(st.characters()))
@example("\ud800\0\x85\u2028\uffff")
def test_what_xml_has_no_place_for_is_left_out(text: str) -> None:
    """XML 1.0, section 2.2: read back by a parser that was not written here."""
    made = in_xml(text)
    read = ET.fromstring(f"<a>{escape(made)}</a>").text or ""
    # A parser makes one line feed of every end of a line (section 2.11).
    assert read == made.replace("\r\n", "\n").replace("\r", "\n")
    assert len(made) == len(text)


def test_the_same_lesson_gives_the_same_bytes(web: Flask) -> None:
    lesson = read_lesson("gate", ASKING)
    first, second = (scorm_package(lesson, web.jinja_env, "1.2") for _ in range(2))
    assert first == second
    changed = read_lesson("gate", ASKING.replace("4 7", "5 7"))
    names = {identifier(each, version) for each in (lesson, changed) for version in SCORM_VERSIONS}
    manifest = ET.fromstring(opened(first)["imsmanifest.xml"])
    assert manifest.get("identifier") == identifier(lesson, "1.2")
    assert len(names) == 4, "each package has a name of its own"


def test_it_asks_for_nothing_and_names_nobody(web: Flask) -> None:
    """All that is in the package is in the two files, and the page may fetch nothing."""
    for version in SCORM_VERSIONS:
        page = opened(scorm_package(read_lesson("gate", ASKING), web.jinja_env, version))
        assert "default-src 'none'" in page["index.html"]
        assert "learner_name" not in page["index.html"] and "student_name" not in page["index.html"]


def test_the_address_and_the_name_of_the_file(web: Flask) -> None:
    client = web.test_client()
    header = client.get("/paper/Tür-λ/scorm-1.2.zip").headers["Content-Disposition"]
    assert "filename*=UTF-8''T%C3%BCr-%CE%BB-scorm-1.2.zip" in header
    assert client.get("/paper/gate/scorm-3.zip").status_code == 404
    page = client.get("/paper/gate").text
    assert all(f"/paper/gate/scorm-{version}.zip" in page for version in SCORM_VERSIONS)


def test_the_questions_can_be_taken_away(web: Flask) -> None:
    client = web.test_client()
    answer = client.get("/paper/gate/qti.zip")
    assert answer.headers["Content-Disposition"] == "attachment; filename=gate-qti-3.zip"
    assert [*opened(answer.data)] == ["imsmanifest.xml", "test.xml", "items/question-1.xml"]
    assert "/paper/gate/qti.zip" in client.get("/paper/gate").text


def test_a_lesson_with_faults_is_not_packed(tmp_path: Path) -> None:
    (tmp_path / "bad.md").write_text(ASKING.replace("COMPARE", "COMPRAE"), "utf-8")
    silent = "---\ntitle: A\nmachine: 8-bit\n---\n# One\n```program\nHALT\n```\n"
    (tmp_path / "silent.md").write_text(silent, "utf-8")
    client = create_app(tmp_path).test_client()
    for name in ("scorm-1.2.zip", "scorm-2004.zip", "qti.zip"):
        assert client.get(f"/paper/bad/{name}").status_code == 404
    assert client.get("/paper/silent/qti.zip").status_code == 404
    assert client.get("/paper/silent/scorm-1.2.zip").status_code == 200


def test_each_question_for_a_quiz_names_its_instruction() -> None:
    """A platform asks each by itself, so none may lean on what another one hides."""
    lesson = Shelf(resource("lessons")).lesson("02-ferry-ticket-machine")
    assert lesson
    environment = create_app(resource("lessons")).jinja_env
    files = opened(qti_package(lesson, environment))
    places = [
        text
        for name, item in files.items()
        if name.startswith("items/")
        for text in re.findall(r"<p>((?:In|After) instruction [^<]+):</p>", item)
    ]
    assert len(places) >= 4
    for place in places:
        assert re.match(r"(In|After) instruction \d+, [A-Z]+", place), place


def test_an_item_says_which_requests_break_in(web: Flask) -> None:
    """Without them nobody could tell when the run is broken into."""
    lessons = Shelf(resource("lessons")).lessons()
    asks = [each for each in lessons if any(one.requests and one.questions for one in each.scenes)]
    assert asks
    for lesson in asks:
        files = opened(qti_package(lesson, web.jinja_env))
        number = 0
        for scene in lesson.scenes:
            told = "; ".join(write_request(scene.program.machine, each) for each in scene.requests)
            for _ in scene.questions:
                number += 1
                item = files[f"items/question-{number}.xml"]
                assert (f"<p>Requests: {told}</p>" in item) == bool(told)


def test_what_asks_says_which_cache_pipeline_or_machines_there_are(web: Flask) -> None:
    """Whether a read hits, and how long a program takes, cannot be told without."""
    said, client = set(), create_app(resource("lessons")).test_client()
    for lesson in Shelf(resource("lessons")).lessons():
        scenes = [scene for scene in lesson.scenes for _ in scene.questions]
        if any(each.cache or each.pipeline or each.compare for each in scenes):
            files = opened(qti_package(lesson, web.jinja_env))
            quiz = client.get(f"/paper/{lesson.slug}/quiz").text
            of_scenes = quiz.split('<section class="of-scene">')[1:]
            table = client.get(f"/paper/{lesson.slug}/quiz.csv").data.decode("utf-8-sig")
            rows = [*csv.DictReader(io.StringIO(table, newline=""))]
            for number, scene in enumerate(scenes, start=1):
                found = re.findall(f"<p>{RUNS_ON}</p>", files[f"items/question-{number}.xml"])
                assert bool(found) == bool(scene.cache or scene.pipeline or scene.compare)
                said.update(found)
                sheet = of_scenes[
                    [id(each) for each in lesson.scenes if each.questions].index(id(scene))
                ]
                assert re.findall(RUNS_ON.replace("): ", "):</b> "), sheet) == found
                assert re.findall(f"^{RUNS_ON}$", rows[number - 1]["runs on"]) == found
    assert ("Pipeline", "three stages, one memory") in said
    assert any(kind == "Cache" and re.fullmatch(CACHE, text) for kind, text in said)
    assert (
        "Machines",
        "the old one: 1 GHz, memory takes 10 ticks; twice the clock: 2 GHz, memory takes 20 ticks;"
        " any other step takes 1 tick",
    ) in said


CACHE = (
    r"\d lines? of \d words?, direct mapped, empty at the start;"
    r" memory takes \d+ ticks, the cache 1"
)
RUNS_ON = "(Cache|Pipeline|Machines): ([^<]*)"
