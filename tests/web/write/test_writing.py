"""Writing a lesson over HTTP: what the page is told, where things are kept, and who may."""

from __future__ import annotations

import errno
import json
import os
import re
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient

from app import create_app
from app.lesson.file.reader import LARGEST_FILE, read_lesson
from app.lesson.file.starter import starter_lesson
from app.lesson.writing import manuscript
from app.lesson.writing.drafts import LARGEST_KEPT, Drafts
from app.lesson.writing.folder import Folder
from app.lesson.writing.saying import as_written
from app.machine.machine import EIGHT_BIT
from app.paths import resource
from app.web.write.changes import CHANGES
from app.web.write.panels import PANELS

LIFT = "01-library-lift"
TIDE = "05-tide-gauge"


@pytest.fixture
def own(tmp_path: Path) -> Path:
    return tmp_path / "own"


@pytest.fixture
def web(own: Path) -> Flask:
    return create_app(own=own)


class Page:
    """What the page of a lesson sends and gets."""

    def __init__(self, client: FlaskClient, slug: str) -> None:
        self.client, self.slug = client, slug
        self.path = f"/lessons/{slug}/write"
        self.page = client.get(self.path)
        assert self.page.status_code == 200
        html = self.page.get_data(as_text=True)
        self.version = int(html.split('data-version="')[1].split('"')[0])
        self.place = {"scene": 0, "step": 0, "said": 0}
        self.status = 200

    def send(self, what: str, **more: Any) -> dict[str, Any]:
        said = {"version": self.version, **self.place, **more}
        answer = self.client.post(f"{self.path}/{what}", json=said)
        self.status = answer.status_code
        found: dict[str, Any] = answer.get_json()
        self.version = found["version"]
        if "again" in found:
            assert set(found) == {"version", "again"} and more.pop("text")
            return self.send(what, **more)
        self.place = {name: found.get(name, self.place[name]) for name in self.place}
        return found


@pytest.fixture
def page(web: Flask) -> Page:
    return Page(web.test_client(), TIDE)


def shipped(slug: str) -> str:
    return (resource("lessons") / f"{slug}.md").read_text(encoding="utf-8")


def test_a_lesson_that_came_with_it_stays_and_saving_makes_a_copy(page: Page, own: Path) -> None:
    before = shipped(TIDE)
    page.send("move", way="forward")
    answer = page.send("do", change="point", part="output")
    assert answer["done"] and answer["unsaved"] and not (own / f"{TIDE}.md").exists()
    assert "[hide output]" in answer["text"] and answer["told"] == "Output: hidden from here on."
    again = page.send("do", change="point", part="output")
    assert again["told"] == "Output: shown from here on."
    answer = page.send("undo")
    assert page.send("save")["saved"]
    assert (own / f"{TIDE}.md").read_text(encoding="utf-8") == answer["text"]
    assert shipped(TIDE) == before
    listed = page.client.get("/").get_data(as_text=True)
    assert listed.count("· <b>yours</b>") == 1
    # It has the place of the one that it is a copy of.
    assert listed.count(f'id="lesson-{TIDE}"') == 1


def test_the_board_shows_what_is_not_saved(page: Page) -> None:
    text = shipped(TIDE).replace("title: ", "title: My ", 1)
    answer = page.send("now", text=text)
    assert "text" not in answer and "My " in answer["screen"] and answer["title"].startswith("My ")
    assert page.send("undo")["text"] == shipped(TIDE)
    assert page.send("redo")["text"] == text


def test_faults_are_told_in_the_words_of_the_check(page: Page) -> None:
    text = shipped(TIDE).replace("HALT", "HOLT", 1)
    answer = page.send("now", text=text)
    (fault,) = read_lesson("x", text).faults
    assert fault.what.replace("'", "&#39;") in answer["problems"]
    assert f'data-line="{fault.line}"' in answer["problems"]
    assert answer["marks"] == [] and answer["screen"]
    told = page.send("do", change="point", part="output")
    assert page.status == 422 and "Mend it first" in told["mend"]


def test_the_board_goes_where_the_cursor_is_and_marks_go_with_the_board(page: Page) -> None:
    lesson = read_lesson("x", shipped(TIDE))
    scene = lesson.scenes[1]
    cue = next(each for each in scene.cues if each.when.kind != "start" and each.words)
    answer = page.send("now", line=cue.line)
    assert answer["scene"] == 1 and cue.line in answer["marks"]
    assert scene.timeline.spans(cue.when)[0].last >= answer["step"] > 0
    asked = scene.asked[0]
    assert page.send("now", line=asked.line)["step"] == scene.questions[0].step
    first = scene.program_line
    assert page.send("now", line=first)["marks"]
    moved = page.send("move", way="scene-on")
    assert (moved["scene"], moved["step"]) == (2, 0)


def test_what_is_said_and_asked_stands_at_the_moment(page: Page) -> None:
    for _ in range(3):
        page.send("move", way="forward")
    panel = page.send("panel", panel="say")["panel"]
    place = panel.split('name="place" value="')[1].split('"')[0]
    answer = page.send("do", change="say", place=place, words="The tide is low.")
    assert answer["done"] and "The tide is low." in answer["screen"]
    assert f"{place}: The tide is low." in answer["text"]
    panel = page.send("panel", panel="ask")["panel"]
    assert "is right." in panel
    place = panel.split('id="place"')[1].split('<option value="')[1].split('" selected')[0]
    subject = panel.split('name="subject"')[1].split('<option value="')[1].split('"')[0]
    answer = page.send("do", change="ask", place=place, subject=subject, prompt="What now?")
    assert answer["done"] and "What now?" in answer["here"]


BUTTON = re.compile(
    r'data-step="(\d+)" aria-label="([^"]+)"( aria-current="step")? tabindex="(0|-1)"'
)


def test_the_run_at_a_glance_leads_to_each_moment_in_one_press(page: Page) -> None:
    run = page.page.get_data(as_text=True).split('id="run"')[1]
    buttons = BUTTON.findall(run)
    assert [each[1] for each in buttons if each[2]] == ["start"]
    scene = read_lesson("x", shipped(TIDE)).scenes[0]
    assert len(buttons) == 2 + 3 * scene.timeline.carried
    for step, label, _, _ in buttons:
        answer = page.send("now", step=int(step), said=0)
        assert (page.status, answer["step"]) == (200, int(step))
        phase, _, number = label.partition(", instruction ")
        if number:
            made = scene.run.moment(answer["step"]).step
            assert made and (made.kind.phase, made.cycle) == (phase, int(number))
            # Where the board stands is marked, and it is the one that the Tab key comes to.
            here = [each for each in BUTTON.findall(answer["run"]) if each[2]]
            assert [each[1] for each in here] == [label]
            assert [each for each in BUTTON.findall(answer["run"]) if each[3] == "0"] == here
    for cue in scene.cues:
        assert (cue.words in unescape(run)) == bool(cue.words)
    # Who has chosen a phase there says something of the whole of it.
    page.send("now", step=int(buttons[4][0]))
    chosen = re.compile('value="([^"]*)" checked')
    panels = [page.send("panel", panel="say", whole=each)["panel"] for each in (True, False)]
    assert chosen.findall(panels[0]) == ["fetch 2"] != chosen.findall(panels[1])


def test_a_question_is_changed_in_its_own_form(page: Page) -> None:
    page.send("move", way="forward")
    panel = page.send("panel", panel="ask")["panel"]
    place, subject = (
        panel.split(f'name="{name}"')[1].split('option value="')[1].split('"')[0]
        for name in ("place", "subject")
    )
    own = {"own": "on", "answer-0": "", "answer-1": "", "answer-2": ""}
    said = {"place": place, "subject": subject, "prompt": "What now?"}
    # Boxes that are opened and left empty are none.
    asked = page.send("do", change="ask", **said, **own)
    assert asked["told"] == f"Written in line {asked['line']}." and "choices" not in asked["text"]
    before = asked["text"].count("```question")
    form = page.send("panel", panel="ask", at=asked["line"])["panel"]
    assert ">What now?</textarea>" in form and f'name="at" value="{asked["line"]}"' in form
    said["prompt"] = "And what now?"
    changed = page.send("do", change="ask", at=str(asked["line"]), **said)
    assert changed["told"] == f"Changed in line {changed['line']}."
    assert changed["text"].count("```question") == before and "What now?" not in changed["text"]
    gone = page.send("do", change="unask", at=changed["line"])
    assert gone["told"] == "The question was taken away." and "And what" not in gone["text"]


def test_of_every_change_it_is_said_what_it_did(page: Page) -> None:
    page.send("move", way="forward")
    for said, told in (
        ({"change": "pause"}, "Playing stops here now."),
        ({"change": "pause"}, "Playing does not stop here now."),
        ({"change": "pace", "speed": "2"}, "Speed 2 from here on."),
        ({"change": "inputs", "values": "3"}, "Written in line "),
        ({"change": "inputs", "values": ""}, "The inputs were taken away."),
        ({"change": "about", "minutes": "35"}, "Changed in line "),
    ):
        answer = page.send("do", **said)
        assert page.status == 200 and answer["told"].startswith(told), (said, answer["told"])


def test_a_long_run_is_sent_a_window_at_a_time(web: Flask, own: Path) -> None:
    own.mkdir()
    loop = "LOAD many\nagain: SUBTRACT #1\nJUMP again IF MORE\nHALT\nmany: 3000"
    text = f"---\ntitle: Long\nmachine: 16-bit\n---\n\n# One\n\n```program\n{loop}\n```\n"
    (own / "long.md").write_text(text, encoding="utf-8")
    page = Page(web.test_client(), "long")
    first = page.send("now")
    assert len(BUTTON.findall(first["run"])) == 2 + 3 * 40
    assert "of 6,002 instructions" in first["run"] and 'data-around="41"' in first["run"]
    later = page.send("now", around=5000)
    assert later["step"] == 0 and "instruction 5000" in later["run"]
    assert len(later["run"]) < 1.2 * len(first["run"])
    for odd in (10**30, -3, "x", None):
        assert "run-end" in page.send("now", around=odd)["run"]


def test_where_no_place_has_a_name_nothing_can_be_asked(web: Flask, own: Path) -> None:
    """The page said nothing at all, for the server failed: far on in a pipeline that never ends."""
    own.mkdir()
    (own / "round.md").write_text(
        "---\ntitle: Round\nmachine: 16-bit\n---\n\n# One\n\n```program\nagain: ADD #1\n"
        "JUMP again\n```\n\n```pipeline\n5 stages, two memories\n```\n",
        encoding="utf-8",
    )
    page = Page(web.test_client(), "round")
    page.place["step"] = 10**6
    told = page.send("panel", panel="ask")
    assert page.status == 422 and "Nothing can be asked here" in told["wrong"]


def test_what_the_header_says_is_changed_by_its_form(page: Page) -> None:
    panel = page.send("panel", panel="about")["panel"]
    title = read_lesson("x", shipped(TIDE)).header.title
    assert f'value="{title}"' in panel and "presses" in panel
    # What a press would do can be seen before it is written.
    few = page.send("panel", panel="about", depth="phases", press="instruction")["panel"]
    counts = [int(re.findall(r"<b>(\d+) press", each)[0]) for each in (panel, few)]
    assert counts[1] < counts[0]
    answer = page.send("do", change="about", title="A gauge", age="12", depth="phases")
    assert answer["done"] and answer["title"] == "A gauge"
    now = read_lesson("x", answer["text"]).header
    before = read_lesson("x", shipped(TIDE)).header
    assert (now.title, now.age, now.depth, now.minutes) == (
        "A gauge",
        "12",
        "phases",
        before.minutes,
    )
    told = page.send("do", change="about", minutes="1000")
    assert page.status == 422 and "'1000' is not a number" in told["wrong"]
    for odd in ({"title": 3}, {"minutes": []}, {"depth": "deep", "press": "far"}):
        assert page.send("do", change="about", **odd)["wrong"]
        page.send("panel", panel="about", **odd)
        assert page.status in (200, 422)


def test_a_page_that_lies_open_can_ask_whether_the_file_has_changed(web: Flask, own: Path) -> None:
    client = web.test_client()
    slug = client.post("/lessons/new", data={"title": "Tide"}).headers["Location"].split("/")[2]
    page = Page(client, slug)
    file = own / f"{slug}.md"
    text = file.read_text(encoding="utf-8")

    def seen() -> object:
        return client.post(f"{page.path}/seen", json={"version": page.version}).get_json()

    assert seen() == {"version": page.version, "outside": False, "gone": False}
    # Nothing was unsaved: what the file has now is taken, and the page sees that it is behind.
    file.write_text(text.replace("# First", "# Other"), encoding="utf-8")
    assert seen() == {"version": page.version + 1, "outside": False, "gone": False}
    assert "# Other" in page.send("now")["text"]
    page.send("now", text=text.replace("# First", "# Mine"))
    file.write_text(text.replace("# First", "# Third"), encoding="utf-8")
    assert seen() == {"version": page.version, "outside": True, "gone": False}
    assert client.post("/lessons/none/write/seen", json={}).status_code == 404


def test_of_a_file_that_is_gone_it_is_not_said_that_the_lesson_is_saved(
    web: Flask, own: Path
) -> None:
    client = web.test_client()
    slug = client.post("/lessons/new", data={"title": "Tide"}).headers["Location"].split("/")[2]
    page = Page(client, slug)
    file = own / f"{slug}.md"
    assert "Saved as tide.md" in page.page.get_data(as_text=True)
    file.rename(own / "other.md")
    assert client.post(f"{page.path}/seen", json={}).get_json()["gone"]
    told = page.send("now")
    assert "tide.md is not in" in told["words"] and "Saved as" not in told["words"]
    told = page.send("save")
    assert told["saved"] and not told["gone"] and "Saved as tide.md" in told["words"]
    assert file.read_text(encoding="utf-8") == (own / "other.md").read_text(encoding="utf-8")


def test_a_task_is_filled_in_by_running_its_solution(page: Page) -> None:
    solution = "INPUT\nADD #1\nOUTPUT\nHALT"
    page.send("do", change="scene", title="More", program="on")
    answer = page.send("do", change="task", goal="Add 1.", solution=solution, inputs="1\n-7")
    assert "input 1 gives 2\ninput -7 gives -6\n```" in answer["text"]
    wrong = page.send("do", change="task", goal="Add 1.", solution="OUTPUT", inputs="")
    assert page.status == 422 and "HALT" in wrong["wrong"]


@pytest.fixture
def texts(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The texts that are read, as they are."""
    found: list[str] = []
    read = manuscript.read_lesson

    def counted(slug: str, source: str, folder: Any) -> Any:
        found.append(source)
        return read(slug, source, folder)

    monkeypatch.setattr(manuscript, "read_lesson", counted)
    return found


def test_a_change_by_pointing_is_read_once(page: Page, texts: list[str]) -> None:
    """A lesson of long runs takes half a second to be read."""
    page.send("move", way="forward")
    found = page.send("do", change="point", part="ACC")
    assert page.status == 200 and found["told"] == "Accumulator: hidden from here on."
    assert len(texts) == 1 and texts[0] == found["text"]
    page.send("now", scene=0)
    assert len(texts) == 1


def test_no_request_reads_two_texts(web: Flask, own: Path, texts: list[str]) -> None:
    """Each reading takes its time, and the board waits for it: letters that come with a change are
    read in a request of their own."""
    own.mkdir()
    (own / "till.md").write_text(CUES, encoding="utf-8")
    page = Page(web.test_client(), "till")
    lines = CUES.split("\n")
    asked = {"at": lines.index("```question") + 2, "was": "What will it hold?"}
    cue = {"at": lines.index("decode 1: Two.") + 1, "was": "decode 1: Two."}
    answer = {"place": "execute 1", "subject": "the accumulator", "prompt": "How many?"}
    solution = "INPUT\nADD #1\nOUTPUT\nHALT"
    changes = {
        "say": {"place": "fetch 2", "words": "Four.", "step": 8},
        "reword": {"words": "Second.", **cue},
        "unsay": cue,
        "point": {"part": "ACC"},
        "pause": {"step": 5},
        "pace": {"speed": "2"},
        "ask": asked | answer,
        "unask": asked,
        "scene": {"title": "More", "program": "on"},
        "inputs": {"values": "1, 2"},
        "task": {"goal": "Add 1.", "solution": solution, "inputs": "1\n-7"},
        "about": {"title": "Another"},
    }
    assert {*changes, "program"} == {*CHANGES}
    done: list[tuple[str, dict[str, Any]]] = [
        *(("do", {"change": name, **said}) for name, said in changes.items()),
        ("do", {"change": "reword", "place": "fetch 2", "words": "Moved.", "step": 8, **cue}),
        *(("panel", {"panel": each}) for each in PANELS if each != "reword"),
        ("panel", {"panel": "ask", **asked}),
        ("panel", {"panel": "reword", "step": 8, **cue}),
        ("now", {}),
        ("move", {"way": "forward"}),
        ("undo", {}),
        ("save", {}),
    ]
    most = []
    post = page.client.post

    def counted(*args: Any, **more: Any) -> Any:
        texts.clear()
        answer = post(*args, **more)
        most.append(len(texts))
        return answer

    page.client.post = counted  # type: ignore[method-assign]
    for number, (what, more) in enumerate(done):
        page.place = {"scene": 0, "step": 0, "said": 0}
        found = page.send(what, text=f"{CUES}\nLetters {number}.\n", **more)
        assert page.status == 200, (what, more, found.get("wrong"))
    # What an undo comes back to was read before, and nothing is read to be saved.
    assert most == [1, 1] * (len(changes) + 1) + [1] * (len(PANELS) + 1) + [1, 1, 1, 0, 1]


def test_what_a_task_gives_is_seen_before_it_is_written(page: Page) -> None:
    said = {"goal": "Add 1.", "solution": "INPUT\nADD #1\nOUTPUT\nHALT", "inputs": "1\n-7"}
    panel = page.send("panel", panel="task", **said)["panel"]
    assert "<code>input 1 gives 2</code>" in panel and "<code>input -7 gives -6</code>" in panel
    panel = page.send("panel", panel="task", **said | {"solution": "INPUT\nHOLT"})["panel"]
    assert "Line 2 of the solution" in panel and "<code>input" not in panel


def test_a_task_is_tried_with_the_inputs_of_its_scene_where_it_has_none(page: Page) -> None:
    scenes = read_lesson("x", shipped(TIDE)).scenes
    number = next(n for n, each in enumerate(scenes) if each.inputs and not each.task)
    page.place["scene"] = number
    panel = page.send("panel", panel="task")["panel"]
    inputs = ", ".join(map(str, scenes[number].inputs))
    assert f">{inputs}</textarea>" in panel


def test_a_changed_lesson_can_be_as_it_came_again(page: Page, own: Path) -> None:
    client = page.client
    assert "As it came" not in client.get("/").get_data(as_text=True)
    assert client.post(f"/lessons/{TIDE}/as-it-came").status_code == 404
    mine = shipped(TIDE).replace("title: ", "title: My ", 1)
    page.send("now", text=mine)
    page.send("save")
    page.send("now", text=mine + "More.\n")
    listed = client.get("/").get_data(as_text=True)
    assert "As it came" in listed and "Written last: " in listed
    assert client.post(f"/lessons/{TIDE}/as-it-came").status_code == 303
    listed = client.get("/").get_data(as_text=True)
    assert "As it came" not in listed and "<b>yours</b>" not in listed
    assert "not saved" not in listed and "Written last" not in listed
    before = own / ".chalkcycle" / "before"
    assert (before / f"{TIDE}.md").read_text(encoding="utf-8") == mine
    assert (before / f"not-saved-{TIDE}.md").read_text(encoding="utf-8") == mine + "More.\n"
    assert '<h1 id="title">My' not in client.get(page.path).get_data(as_text=True)
    # A lesson that has no other of its name stays where it is.
    made = client.post("/lessons/new", data={"title": "Alone"}).headers["Location"].split("/")[2]
    assert client.post(f"/lessons/{made}/as-it-came").status_code == 404
    assert (own / f"{made}.md").exists()


def test_the_page_knows_where_nothing_comes_and_nothing_can_be_written(page: Page) -> None:
    answer = page.send("move", way="forward")
    assert answer["writable"] and not answer["over"]
    steps = 0
    while not answer["over"]:
        answer, before = page.send("move", way="instruction"), answer
        steps += 1
        assert answer["step"] > before["step"] and steps < 200
    again = page.send("move", way="forward")
    assert again["step"] == answer["step"] and again["scene"] == answer["scene"]
    answer = page.send("now", text=shipped(TIDE).replace("HALT", "HOLT", 1))
    assert not answer["writable"]
    assert f'action="/lessons/{TIDE}/teach"' in page.page.get_data(as_text=True)


def test_new_and_copy(web: Flask, own: Path) -> None:
    client = web.test_client()
    made = client.post("/lessons/new", data={"title": "The lift: 2", "machine": "16-bit"})
    assert made.headers["Location"] == "/lessons/the-lift-2/write"
    text = (own / "the-lift-2.md").read_text(encoding="utf-8")
    lesson = read_lesson("x", text)
    assert (lesson.header.title, lesson.header.machine.name) == ("The lift: 2", "16-bit")
    assert not lesson.problems
    again = client.post("/lessons/new", data={"title": "The lift: 2", "machine": "8-bit"})
    assert again.headers["Location"] == "/lessons/the-lift-2-2/write"
    copied = client.post(f"/lessons/{LIFT}/copy")
    copy = (own / f"{copied.headers['Location'].split('/')[2]}.md").read_text(encoding="utf-8")
    first = shipped(LIFT).split("\n")
    differing = [a for a, b in zip(copy.split("\n"), first, strict=True) if a != b]
    assert differing == ["title: What is inside? (copy)"]
    # They stand behind those that came with it, and are led to from above.
    (mine,) = re.findall(r"Yours:(.*?)</p>", client.get("/").text)
    assert sorted(re.findall(r'href="#lesson-([^"]+)"', mine)) == sorted(
        each.stem for each in own.glob("*.md")
    )


@pytest.mark.parametrize(
    ("title", "written"),
    [
        ("a\x01b", "a b"),
        ("a\uffffb", "a b"),
        ("\u200b\u2060", "My lesson"),
        ("\u0301\u0302", "My lesson"),
        ("\u0301" * 120 + "a", "My lesson"),
        ("\u202e\x00", "My lesson"),
    ],
)
def test_whatever_title_is_typed_the_new_lesson_has_no_fault(
    web: Flask, own: Path, title: str, written: str
) -> None:
    client = web.test_client()
    slug = client.post("/lessons/new", data={"title": title}).headers["Location"].split("/")[2]
    assert client.post(f"/lessons/{slug}/copy").status_code == 303
    found = [read_lesson("x", each.read_text(encoding="utf-8")) for each in own.glob("*.md")]
    assert {each.header.title for each in found} == {written, f"{written} (copy)"}
    assert [each.problems for each in found] == [(), ()]


@pytest.mark.parametrize("folder", [b"lessons", b"\xdcbungen"])
@pytest.mark.parametrize("name", [b"lift.md", b"aufz\xfcge.md"])
def test_names_that_are_no_text_are_told_and_stop_nothing(
    tmp_path: Path, folder: bytes, name: bytes
) -> None:
    """As a drive has them that was written by another system."""
    own = tmp_path / os.fsdecode(folder)
    try:
        own.mkdir()
        (own / os.fsdecode(name)).write_text(shipped("01-library-lift"), encoding="utf-8")
    except OSError:
        pytest.skip("this system has no such names")
    client = create_app(own, own=own).test_client()
    page = client.get("/").get_data(as_text=True)
    address = re.findall(r'href="(/lessons/[^"]+/write)"', page)[0]
    written = client.get(address)
    assert written.status_code == 200
    place, file = (
        os.fsdecode(each).encode("ascii", "backslashreplace").decode() for each in (folder, name)
    )
    assert f"Saved as {file} in {tmp_path / place}." in written.text
    assert f"It is kept in {tmp_path / place}," in page


def test_line_ends_and_the_mark_of_a_file_stay(web: Flask, own: Path) -> None:
    own.mkdir()
    data = b"\xef\xbb\xbf" + shipped(TIDE).replace("\n", "\r\n").encode()
    (own / "odd.md").write_bytes(data)
    page = Page(web.test_client(), "odd")
    page.send("now", text=shipped(TIDE).replace("title: ", "title:  ", 1))
    page.send("save")
    assert (own / "odd.md").read_bytes() == data.replace(b"title: ", b"title:  ", 1)


def test_a_change_outside_is_shown_and_chosen_from(web: Flask, own: Path) -> None:
    client = web.test_client()
    slug = client.post("/lessons/new", data={"title": "Tide"}).headers["Location"].split("/")[2]
    page = Page(client, slug)
    file = own / f"{slug}.md"
    text = file.read_text(encoding="utf-8")
    mine = text.replace("# First scene", "# Mine")
    page.send("now", text=mine)
    file.write_text(text.replace("HALT", "HALT ; theirs"), encoding="utf-8")
    assert page.send("now")["outside"]
    found = page.send("save")
    assert page.status == 409 and "Mine" in found["choose"] and "theirs" in found["choose"]
    assert "theirs" in file.read_text(encoding="utf-8")
    common = {"against": "file", "digest": found["digest"], "text": found["mine"]}
    # It changes once more while the teacher chooses: then both are shown again.
    file.write_text(text.replace("HALT", "HALT ; theirs!"), encoding="utf-8")
    found = page.send("settle", choices=[False, True], **common)
    assert page.status == 409
    common["digest"] = found["digest"]
    answer = page.send("settle", choices=[False, True], **common)
    assert page.status == 200 and "# Mine" in answer["text"] and "; theirs!" in answer["text"]
    page.send("save")
    assert file.read_text(encoding="utf-8") == answer["text"]


@pytest.mark.parametrize("typed", [True, False])
def test_a_file_that_is_taken_away_takes_nothing_that_was_written(
    web: Flask, own: Path, typed: bool
) -> None:
    """Whoever tidied up the folder while the page lay open could not save any more, and what had
    been kept was nowhere to be seen."""
    client = web.test_client()
    slug = client.post("/lessons/new", data={"title": "Tide"}).headers["Location"].split("/")[2]
    page = Page(client, slug)
    file = own / f"{slug}.md"
    text = file.read_text(encoding="utf-8").replace("# First scene", "# Mine")
    if typed:
        page.send("now", text=text)
    file.rename(own / "another-name.md")
    assert page.send("seen")["outside"] is False
    page.send("now", text=text)
    again = Page(create_app(own=own).test_client(), slug)  # also after a new start
    assert "# Mine" in unescape(again.page.get_data(as_text=True))
    page.send("save")
    assert page.status == 200 and file.read_text(encoding="utf-8") == text
    # What is saved, and taken away then, is gone.
    file.unlink()
    assert client.get(f"/lessons/{slug}/write").status_code == 404
    for odd in ("never-was", "..", "%5c", "another-name.md", TIDE + "x"):
        assert client.post(f"/lessons/{odd}/write/seen", json={}).status_code == 404


def test_two_windows_do_not_write_over_each_other(web: Flask) -> None:
    one, other = Page(web.test_client(), TIDE), Page(web.test_client(), TIDE)
    text = shipped(TIDE)
    one.send("now", text=text.replace("title: ", "title: One ", 1))
    found = other.send("now", text=text.rstrip("\n") + "\n\nOther\n")
    assert other.status == 409 and found["against"] == "window"
    answer = other.send(
        "settle",
        against="window",
        digest=found["digest"],
        text=found["mine"],
        choices=[True, False],
    )
    assert "title: One " in answer["text"] and answer["text"].endswith("Other\n")


@pytest.mark.parametrize(
    ("what", "more"),
    [("undo", {}), ("redo", {}), ("do", {"change": "point", "part": "output"})],
)
def test_nothing_is_done_to_a_text_that_the_page_has_not_seen(
    web: Flask, what: str, more: dict[str, Any]
) -> None:
    one, other = (Page(web.test_client(), TIDE) for _ in range(2))
    text = shipped(TIDE).replace("title: ", "title: My ", 1)
    assert one.send("now", text=text)["undo"]
    told = other.send(what, **more)
    assert other.status == 422 and "changed elsewhere" in told["wrong"] and told["text"] == text
    assert one.send("now")["undo"] and "text" not in one.send("now", text=text)
    other.send(what, **more)
    assert other.status == 200  # now it has


CUES = """---
title: The till
machine: 8-bit
---

# Nine and four

```program
        LOAD  #9
        HALT
```

```cues
fetch 1: One.
decode 1: Two.
execute 1: Three.
```

```question
before execute 1: What will it hold?
ask: the accumulator
```
"""


def test_what_is_changed_is_what_it_was_though_lines_have_come_above_it(
    web: Flask, own: Path
) -> None:
    own.mkdir()
    (own / "till.md").write_text(CUES, encoding="utf-8")
    page = Page(web.test_client(), "till")

    def now() -> list[str]:
        lesson = read_lesson("till", (own / "till.md").read_text(encoding="utf-8"))
        scene = lesson.scenes[0]
        return [*(each.words for each in scene.cues), *(each.prompt for each in scene.asked)]

    cue, question = (CUES.split("\n").index(each) + 1 for each in ("decode 1: Two.", "```question"))
    at = {"step": 3, "at": cue, "was": "decode 1: Two."}
    form = page.send("panel", panel="reword", **at)["panel"]
    assert f'name="at" value="{cue}"' in form and 'name="was" value="decode 1: Two."' in form
    # Two lines more above: where the cue stood there stands none, and one line further the first.
    text = CUES.replace("# Nine", "\n\n# Nine")
    page.send("do", change="reword", words="Second.", text=text, **at)
    page.send("save")
    assert now() == ["One.", "Second.", "Three.", "What will it hold?"]
    asked = {"at": question + 1, "was": "What will it hold?"}
    assert f'value="{question + 3}"' in page.send("panel", panel="ask", **asked)["panel"]
    again = page.send("do", change="unsay", **at)
    assert page.status == 422 and "no such cue" in again["wrong"]  # it has other words
    page.send("do", change="unsay", at=cue - 1, was="fetch 1: One.")
    page.send("do", change="unask", **asked)
    again = page.send("do", change="unask", **asked)
    assert page.status == 422 and "no such question" in again["wrong"]
    assert "no such question" in page.send("panel", panel="ask", **asked)["wrong"]
    page.send("save")
    assert now() == ["Second.", "Three."]


def test_a_change_that_is_made_and_not_kept_is_not_made_once_more(
    page: Page, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The disk is full: the form goes, for what it asked for is in the text, and that is told."""

    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(Folder, "keep_hidden", full)
    answer = page.send("do", change="scene", title="One more")
    assert page.status == 422 and "could not be written" in answer["wrong"] and answer["done"]
    assert answer["text"].count("# One more") == 1 and answer["writable"]
    undone = page.send("undo")
    assert page.status == 422 and undone["text"] == shipped(TIDE) and "done" not in undone


def test_letters_that_are_not_kept_are_not_what_was_asked_for(
    page: Page, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The form stays: what is typed into it is not in the text yet."""

    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(Folder, "keep_hidden", full)
    text = f"{shipped(TIDE)}\nLetters.\n"
    answer = page.send("do", change="scene", title="One more", text=text)
    assert page.status == 422 and "could not be written" in answer["wrong"]
    assert "done" not in answer and "text" not in answer
    answer = page.send("do", change="scene", title="One more")
    assert answer["done"] and answer["text"].count("# One more") == 1
    assert "Letters." in answer["text"]


def test_a_board_with_a_cache_is_another_than_one_without(page: Page) -> None:
    """Its style sheet is not in the page yet."""
    plain = page.send("now")["machine"]
    text = shipped(TIDE).replace("machine: 8-bit", "machine: 16-bit\ncache: 4 lines of 4 words")
    assert text != shipped(TIDE)
    cached = page.send("now", text=text)["machine"]
    assert cached not in ("", plain) and "watching.css" not in page.page.get_data(as_text=True)
    assert "watching.css" in page.client.get(page.path).get_data(as_text=True)


def test_a_draft_outlives_the_server(own: Path) -> None:
    first = Page(create_app(own=own).test_client(), TIDE)
    text = shipped(TIDE) + "\nMore.\n"
    first.send("now", text=text)
    again = create_app(own=own).test_client()
    assert "More." in again.get(f"/lessons/{TIDE}/write").get_data(as_text=True)
    assert "has changes that are not saved" in again.get("/").get_data(as_text=True)
    second = Page(again, TIDE)
    assert second.send("undo")["text"] == shipped(TIDE)


def test_a_running_class_keeps_its_version(web: Flask) -> None:
    client = web.test_client()
    board = client.post(f"/lessons/{TIDE}/teach").headers["Location"]
    page = Page(client, TIDE)
    page.send("now", text=shipped(TIDE).replace("title: ", "title: Newer ", 1))
    page.send("save")
    assert "<h1>Newer" not in client.get(board).get_data(as_text=True)
    assert "<h1>Newer" in client.get(page.path).get_data(as_text=True)


# Who may, and where.


def test_only_the_teacher_writes(own: Path) -> None:
    web = create_app(own=own, teacher_key="k" * 43)
    pupil = web.test_client()
    origin = {"Origin": "http://localhost"}
    for path in (f"/lessons/{TIDE}/write",):
        assert pupil.get(path).status_code == 403
    for path in (
        f"/lessons/{TIDE}/write/seen",
        f"/lessons/{TIDE}/write/do",
        "/lessons/new",
        f"/lessons/{TIDE}/copy",
    ):
        assert pupil.post(path, json={}, headers=origin).status_code == 403
    assert not own.exists()


@pytest.mark.parametrize(
    "path", ["/lessons/new", f"/lessons/{TIDE}/copy", f"/lessons/{TIDE}/write/save"]
)
def test_a_page_of_another_site_writes_nothing(web: Flask, own: Path, path: str) -> None:
    client = web.test_client()
    for headers in ({"Origin": "http://evil.example"}, {"Origin": "null"}):
        data = json.dumps({"version": 1})
        answer = client.post(path, data=data, headers=headers, content_type="text/plain")
        assert answer.status_code == 403
    assert client.post(path, json={}, headers={"Host": "evil.example"}).status_code == 421
    assert not own.exists()


@pytest.mark.parametrize(
    "slug",
    [
        "..",
        "..%2f..%2fetc%2fpasswd",
        "%2e%2e",
        "../own",
        ".chalkcycle",
        "x%00",
        "drafts",
        "%5c..%5cx",
    ],
)
def test_no_address_leads_out_of_the_folder(web: Flask, own: Path, slug: str) -> None:
    own.mkdir()
    (own.parent / "secret.md").write_text(shipped(TIDE), encoding="utf-8")
    client = web.test_client()
    assert client.get(f"/lessons/{slug}/write").status_code in (404, 405)
    assert client.post(f"/lessons/{slug}/write/save", json={"version": 1}).status_code in (404, 405)
    assert client.post(f"/lessons/{slug}/copy").status_code in (404, 405)
    assert list(own.iterdir()) == []


@pytest.mark.parametrize(
    "title", ["../../x", "/etc/passwd", "..", ".hidden", "a\0b", "\\\\x\\y", "CON"]
)
def test_no_title_leads_out_of_the_folder(web: Flask, own: Path, title: str) -> None:
    answer = web.test_client().post("/lessons/new", data={"title": title})
    assert answer.status_code == 303
    (made,) = own.glob("*.md")
    assert {each.name for each in own.iterdir()} == {made.name, ".chalkcycle"}
    assert [each.name for each in own.parent.iterdir()] == ["own"]


def test_a_link_in_the_folder_is_not_written_through(web: Flask, own: Path) -> None:
    own.mkdir()
    secret = own.parent / "secret.md"
    secret.write_text(shipped(TIDE), encoding="utf-8")
    (own / "link.md").symlink_to(secret)
    page = Page(web.test_client(), "link")
    page.send("now", text="---\ntitle: Gone\n---\n")
    told = page.send("save")
    assert page.status == 422 and "points to a file elsewhere" in told["wrong"]
    assert secret.read_text(encoding="utf-8") == shipped(TIDE)


@pytest.mark.parametrize("link", [".chalkcycle", ".chalkcycle/before", ".chalkcycle/drafts"])
def test_a_hidden_folder_that_is_a_link_is_not_written_through(
    web: Flask, own: Path, link: str
) -> None:
    """It may have come with the lessons of a stranger: what they hold would take the place of any
    file of the same name."""
    elsewhere = own.parent / "elsewhere"
    (elsewhere / "before").mkdir(parents=True)
    for folder in (elsewhere, elsewhere / "before"):
        (folder / "mine.md").write_text("mine", encoding="utf-8")
    (own / link).parent.mkdir(parents=True)
    (own / link).symlink_to(elsewhere)
    (own / "mine.md").write_text(shipped(TIDE), encoding="utf-8")
    before = {each: each.read_bytes() for each in elsewhere.rglob("*") if each.is_file()}
    page = Page(web.test_client(), "mine")
    said = page.send("now", text=shipped(TIDE) + "\nMore.\n")
    if link != ".chalkcycle/before":
        assert page.status == 422 and "only points elsewhere" in said["wrong"]
    page.send("save")
    after = {each: each.read_bytes() for each in elsewhere.rglob("*") if each.is_file()}
    assert after == before


def test_a_draft_larger_than_any_is_not_read(own: Path) -> None:
    folder = own / ".chalkcycle" / "drafts"
    folder.mkdir(parents=True)
    with (folder / f"{TIDE}.md.json").open("wb") as file:
        file.truncate(LARGEST_KEPT + 1)
    assert not Drafts(Folder(own)).is_unsaved(f"{TIDE}.md")
    assert [each.suffix for each in folder.iterdir()] == [".unreadable"]


@pytest.mark.parametrize(
    "body",
    [
        "[" * 100_000,
        "[]",
        "3",
        '{"version": 1, "choices": 3}',
        '{"version": "x", "text": 7}',
        "{",
        '{"part": 3}',
    ],
)
@pytest.mark.parametrize("what", ["now", "do", "panel", "settle", "move", "nothing"])
def test_odd_requests_get_an_answer(page: Page, body: str, what: str) -> None:
    answer = page.client.post(f"{page.path}/{what}", data=body, content_type="application/json")
    assert answer.status_code in (200, 400, 404, 409, 422)


def test_whatever_is_asked_of_a_zoom_has_an_answer(web: Flask) -> None:
    page = Page(web.test_client(), "19-jam-shelf")
    where = {"scene": 3, "step": 2, "part": "memory", "speed": "1", "words": "a"}
    asked = [("do", {"change": each, "at": 3}) for each in CHANGES]
    asked += [("panel", {"panel": each}) for each in PANELS]
    for what, more in asked:
        answer = page.send(what, **where, **more)
        assert page.status in (200, 422), (what, more)
        assert page.status == 200 or answer["wrong"]


@pytest.mark.parametrize("step", [200, 10**30])
def test_a_step_after_the_end_is_the_last_one(page: Page, step: int) -> None:
    """The run may have become shorter in another window."""
    page.place["step"] = step
    panel = page.send("panel", panel="say")
    assert page.status == 200
    last = page.send("now", step=step)["step"]
    assert page.send("panel", panel="say", step=last)["panel"] == panel["panel"]
    for change in ("pause", "pace", "point", "say", "ask"):
        page.send("do", change=change, step=step, part="ALU", speed="2", words="x", place="end")
        assert page.status in (200, 422), change


@pytest.mark.parametrize("change", ["reword", "unsay", "unask"])
@pytest.mark.parametrize("at", ["1" * 5000, "x", "\N{ARABIC-INDIC DIGIT THREE}", 10**30, [], True])
def test_a_line_that_is_none_is_told(page: Page, change: str, at: object) -> None:
    assert page.send("do", change=change, at=at, words="x")["wrong"] and page.status == 422


def test_a_copy_that_would_be_too_large_is_told(web: Flask, own: Path) -> None:
    own.mkdir()
    head = "---\ntitle: Large\n---\n# One\n"
    (own / "large.md").write_text(head + "x\n" * 2000 + "y" * (LARGEST_FILE - len(head) - 4000))
    answer = web.test_client().post("/lessons/large/copy")
    assert answer.status_code == 409 and "make two lessons of it" in answer.text


def test_one_odd_draft_does_not_hide_the_list(web: Flask, own: Path) -> None:
    (own / ".chalkcycle" / "drafts").mkdir(parents=True)
    (own / ".chalkcycle" / "drafts" / f"{TIDE}.md.json").write_text("[" * 100_000)
    answer = web.test_client().get("/")
    assert answer.status_code == 200 and "The print shop" in answer.text


def test_a_lesson_of_the_largest_size_can_be_typed(page: Page) -> None:
    text = shipped(TIDE) + "\n" + "“ä”\n" * 30_000
    page.send("now", text=text[:240_000])
    assert page.status == 200


@pytest.mark.parametrize("place", ["", ".chalkcycle", ".chalkcycle/drafts", "elsewhere"])
def test_the_list_stands_where_the_own_folder_may_not_be_looked_at(
    web: Flask, own: Path, place: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    client = web.test_client()
    client.post("/lessons/new", data={"title": "Mine", "machine": "8-bit"})
    (own / "link.md").symlink_to(own / "elsewhere" / "x.md")
    look = os.stat

    def refused(path: Any, *rest: Any, **more: Any) -> os.stat_result:
        """As the system does for one who may not look into a folder."""
        if (
            isinstance(path, str | os.PathLike)
            and own / place in Path(os.path.realpath(path)).parents
        ):
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), os.fspath(path))
        return look(path, *rest, **more)

    monkeypatch.setattr(os, "stat", refused)
    listed = client.get("/")
    assert listed.status_code == 200
    assert listed.text.count(">Teach<") >= 24
    answer = client.post("/lessons/new", data={"title": "Another", "machine": "8-bit"})
    assert answer.status_code in (303, 409)


def test_a_lesson_with_the_longest_name_takes_no_list_away(web: Flask, own: Path) -> None:
    """That of its draft, with an ending more, would be too long for a file."""
    client = web.test_client()
    client.post("/lessons/new", data={"title": "Mine", "machine": "8-bit"})
    longest = os.pathconf(own, "PC_NAME_MAX") - len(".md")
    (own / f"{'n' * longest}.md").write_text(shipped(TIDE), encoding="utf-8")
    assert client.get("/").text.count("· <b>yours</b>") == 2


def test_of_one_lesson_file_no_other_is_made(tmp_path: Path) -> None:
    """It would be in no list: it was written, and then there was no such lesson."""
    file = tmp_path / "one.md"
    file.write_text(shipped(TIDE), encoding="utf-8")
    client = create_app(file, own=tmp_path).test_client()
    for address in ("/lessons/new", "/lessons/one/copy"):
        answer = client.post(address, data={"title": "Another"})
        assert answer.status_code == 409 and "one lesson file" in answer.text
    assert [*tmp_path.iterdir()] == [file]


def test_where_nothing_can_be_written_what_was_typed_stays(own: Path) -> None:
    own.write_text("a file in the folder's place")
    page = Page(create_app(own=own).test_client(), TIDE)
    text = shipped(TIDE) + "More.\n"
    told = page.send("now", text=text)
    assert page.status == 422 and "still here" in told["wrong"] and "text" not in told
    assert page.send("save")["wrong"] and page.status == 422
    assert page.client.post("/lessons/new", data={"title": "x"}).status_code == 409
    assert own.read_text() == "a file in the folder's place"


def test_what_no_file_can_hold_is_not_saved(page: Page, own: Path) -> None:
    page.send("now", text=shipped(TIDE) + "x" * 300_000)
    told = page.send("save")
    assert page.status == 422 and "make two lessons of it" in told["mend"]
    assert not (own / f"{TIDE}.md").exists()
    page.send("now", text=shipped(TIDE) + "\ud800\0")
    assert page.send("save")["saved"]
    assert (own / f"{TIDE}.md").read_text(encoding="utf-8").endswith("\N{REPLACEMENT CHARACTER}\0")


def test_without_a_folder_nothing_is_written(lessons: Path) -> None:
    client = create_app(lessons).test_client()
    assert client.get(f"/lessons/{TIDE}/write").status_code == 404
    assert client.post("/lessons/new", data={"title": "x"}).status_code == 404
    assert "New lesson" not in client.get("/").get_data(as_text=True)


@pytest.mark.parametrize(
    ("asks", "answer", "right"),
    [
        ("ask at first OUTPUT", "answer at second OUTPUT", "3, 2"),
        ("ask at first OUTPUT", "answer at: end", "3, 2, 1"),
        ("before second OUTPUT", "answer at end", "3, 2, 1"),
    ],
)
def test_a_question_that_is_reworded_is_answered_where_it_was(
    own: Path, web: Flask, asks: str, answer: str, right: str
) -> None:
    """The count-down of the first lesson that ``new`` writes: it sends 3, 2 and 1."""
    text = starter_lesson("count", EIGHT_BIT)
    text = text.replace("ask at first OUTPUT", asks).replace("answer at second OUTPUT", answer)
    own.mkdir()
    (own / "count.md").write_text(text, encoding="utf-8")
    page = Page(web.test_client(), "count")
    asked = next(each for each in read_lesson("count", text).scenes[3].questions if each.late)
    page.place = {"scene": 3, "step": asked.step, "said": 0}
    form = page.send("panel", panel="ask", at=asked.line)["panel"]
    assert f"Right: <b>{right}</b>" in form
    fields = dict(re.findall(r'<select id="(late|place)".*?<option value="([^"]*)" selected', form))
    page.send(
        "do", change="ask", at=str(asked.line), prompt="New?", subject="the output so far", **fields
    )
    now = read_lesson("count", page.send("now")["text"])
    (made,) = (each for each in now.scenes[3].questions if each.prompt == "New?")
    assert now.problems == () and made.choices[made.answer] == right
    assert (made.step, made.reveal_step) == (asked.step, asked.reveal_step)


@pytest.mark.parametrize("slug", ["21-violin-bench", "23-laundry", "24-print-shop"])
def test_a_picture_without_the_parts_of_the_machine_offers_none_to_hide(
    web: Flask, slug: str
) -> None:
    """The page said 'Main memory: hidden from here on', and the board stayed as it was."""
    page = Page(web.test_client(), slug)
    here = page.send("move", way="forward")["here"]
    assert "Stop here" in here and "Parts shown" not in here and "data-part" not in here
    assert "data-part" in Page(web.test_client(), TIDE).send("move", way="forward")["here"]


def test_machines_side_by_side_have_a_run_each(web: Flask) -> None:
    page = Page(web.test_client(), "24-print-shop")
    assert "a whole run, that of the next machine" in page.page.get_data(as_text=True)


def test_a_cue_on_its_way_is_told_where_other_words_stand(web: Flask) -> None:
    """The form had no other moment to choose there, and did not say why."""
    page = Page(web.test_client(), "02-ferry-ticket-machine")
    scene = read_lesson("x", shipped("02-ferry-ticket-machine")).scenes[0]
    first, third = (each for each in scene.cues if each.text in ("step 1", "step 3"))
    told = "It cannot come to this step"
    for step, taken in ((1, False), (2, False), (3, True), (4, False)):
        panel = page.send("panel", panel="reword", at=first.line, was=as_written(first), step=step)
        assert (told in panel["panel"]) == taken
        assert (third.words in unescape(panel["panel"])) == taken
