"""What is kept: whole, with the version before, never over what somebody else has written."""

from __future__ import annotations

import errno
import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from random import Random
from typing import Any

import pytest

from app.lesson.entries import Wrong
from app.lesson.writing.differences import only_theirs, pieces, put_together
from app.lesson.writing.drafts import MOST_CHANGES, Changed, Draft, Drafts
from app.lesson.writing.folder import HIDDEN, Folder, Kept, is_reserved, read_kept

ROOT = Path(__file__).parents[3]


@pytest.fixture
def folder(tmp_path: Path) -> Folder:
    return Folder(tmp_path / "own")


def shipped(tmp_path: Path, data: bytes = b"---\ntitle: A\n---\n") -> Path:
    path = tmp_path / "came" / "lift.md"
    path.parent.mkdir(exist_ok=True)
    path.write_bytes(data)
    return path


def test_saving_keeps_the_version_before(folder: Folder) -> None:
    first = folder.save("lift.md", "one\r\n", True, "")
    assert (folder.root / "lift.md").read_bytes() == b"\xef\xbb\xbfone\r\n"
    folder.save("lift.md", "two", True, first.digest)
    assert (folder.root / "lift.md").read_bytes() == b"\xef\xbb\xbftwo"
    assert (folder.root / HIDDEN / "before" / "lift.md").read_bytes() == b"\xef\xbb\xbfone\r\n"
    assert read_kept(folder.root / "lift.md") == folder.now("lift.md")


@pytest.mark.parametrize("name", ["é" * 125 + "a.md", "a" * 252 + ".md", "b" * 246 + ".md"])
def test_a_name_as_long_as_one_can_be(folder: Folder, name: str) -> None:
    """What is kept beside the file has a longer one."""
    folder.root.mkdir()
    (folder.root / name).write_text("one")
    drafts = Drafts(folder)
    draft = drafts.of(folder.root / name)
    draft.change("two")
    drafts.keep(draft)
    again = Drafts(folder)
    assert again.is_unsaved(name) and again.of(folder.root / name).text == "two"
    again.put_away(name)
    assert not (folder.root / name).exists() and not Drafts(folder).is_unsaved(name)
    kept = {each.read_text() for each in (folder.hidden / "before").iterdir()}
    assert kept == {"one", "two"}


def test_two_long_names_that_start_alike_are_two(folder: Folder) -> None:
    folder.root.mkdir()
    drafts = Drafts(folder)
    for end in "ab":
        (folder.root / f"{'c' * 251}{end}.md").write_text(end)
        draft = drafts.of(folder.root / f"{'c' * 251}{end}.md")
        draft.change(f"{end} changed")
        drafts.keep(draft)
    for end in "ab":
        found = Drafts(folder).of(folder.root / f"{'c' * 251}{end}.md")
        assert found.text == f"{end} changed"


def test_saving_once_more_keeps_the_version_before(folder: Folder) -> None:
    first = folder.save("lift.md", "one", False, "")
    second = folder.save("lift.md", "two", False, first.digest)
    assert folder.save("lift.md", "two", False, second.digest) == second
    assert (folder.root / HIDDEN / "before" / "lift.md").read_text() == "one"


def test_a_draft_that_is_made_anew_of_another_text_has_another_version(
    folder: Folder, tmp_path: Path
) -> None:
    """A page that has seen the one before must not write over what it has not seen."""
    drafts = Drafts(folder)
    seen = drafts.of(shipped(tmp_path)).version
    folder.save("lift.md", "---\ntitle: B\n---\n", False, "")
    now = drafts.of(folder.root / "lift.md")
    assert (now.own, now.text) == (True, "---\ntitle: B\n---\n") and now.version != seen
    # After a start of the server the same text is the same version.
    assert Drafts(folder).of(shipped(tmp_path)).version == seen


def test_what_was_changed_outside_is_never_written_over(folder: Folder) -> None:
    first = folder.save("lift.md", "one", False, "")
    (folder.root / "lift.md").write_text("theirs")
    with pytest.raises(Changed) as changed:
        folder.save("lift.md", "two", False, first.digest)
    assert changed.value.there.text == "theirs"
    assert (folder.root / "lift.md").read_text() == "theirs"
    with pytest.raises(Changed):
        folder.save("lift.md", "new", False, "")
    # What is the same anyway may be saved.
    folder.save("lift.md", "theirs", False, first.digest)


def test_the_mode_of_a_file_stays(folder: Folder) -> None:
    first = folder.save("lift.md", "one", False, "")
    (folder.root / "lift.md").chmod(0o640)
    folder.save("lift.md", "two", False, first.digest)
    assert (folder.root / "lift.md").stat().st_mode & 0o777 == 0o640


@pytest.mark.parametrize(
    "name", ["../lift.md", "/etc/passwd", "a/b.md", "..", ".hidden.md", "", "a\0.md", "a\\b.md"]
)
def test_no_name_leads_out_of_the_folder(folder: Folder, name: str) -> None:
    with pytest.raises(Wrong):
        folder.save(name, "x", False, "")
    assert not folder.root.exists()


def test_a_link_to_elsewhere_is_not_written_through(folder: Folder, tmp_path: Path) -> None:
    elsewhere = tmp_path / "elsewhere.md"
    elsewhere.write_text("theirs")
    folder.root.mkdir()
    (folder.root / "lift.md").symlink_to(elsewhere)
    with pytest.raises(Wrong, match="only points"):
        folder.save("lift.md", "x", False, read_kept(elsewhere).digest)
    assert elsewhere.read_text() == "theirs"


@pytest.mark.parametrize(
    ("title", "name"),
    [
        ("Watering the greenhouse", "watering-the-greenhouse.md"),
        ("  ../../etc/passwd  ", "etc-passwd.md"),
        ("???", "lesson.md"),
        ("CON", "lesson-con.md"),
        ("com1", "lesson-com1.md"),
        ("Console", "console.md"),
        ("x" * 200, "x" * 60 + ".md"),
        ("Lift", "lift-3.md"),
    ],
)
def test_a_name_is_made_from_the_title(folder: Folder, title: str, name: str) -> None:
    folder.save("lift.md", "x", False, "")
    assert folder.free_name(title, {"lift-2"}) == name


WRITER = """
import sys
from pathlib import Path
from app.lesson.writing.folder import Folder
folder = Folder(Path(sys.argv[1]))
texts = ("old " * 40_000, "new " * 40_000)
seen = folder.now("lift.md").digest
print("ready", flush=True)
for at in range(100_000):
    seen = folder.save("lift.md", texts[at % 2], False, seen).digest
"""


def test_killed_while_saving_a_file_is_whole(folder: Folder) -> None:
    draw = Random(9)
    whole = {"old " * 40_000, "new " * 40_000}
    folder.save("lift.md", "old " * 40_000, False, "")
    for _ in range(10):
        writer = subprocess.Popen(
            [sys.executable, "-c", WRITER, str(folder.root)], cwd=ROOT, stdout=subprocess.PIPE
        )
        assert writer.stdout and writer.stdout.readline() == b"ready\n"
        time.sleep(draw.uniform(0.001, 0.04))
        os.kill(writer.pid, signal.SIGKILL)
        writer.wait()
        writer.stdout.close()
        assert folder.now("lift.md").text in whole
        before = folder.root / HIDDEN / "before" / "lift.md"
        assert not before.exists() or before.read_text() in whole


def test_what_was_left_behind_is_cleared_after_an_hour(folder: Folder) -> None:
    folder.save("lift.md", "one", False, "")
    left = folder.hidden / "saving-left"
    fresh = folder.hidden / "saving-fresh"
    for each in (left, fresh):
        each.write_text("half")
    os.utime(left, (1, 1))
    folder.save("other.md", "two", False, "")
    assert not left.exists() and fresh.exists()


def test_a_folder_of_such_a_name_stops_no_saving(folder: Folder) -> None:
    (folder.hidden / "saving-anything").mkdir(parents=True)
    os.utime(folder.hidden / "saving-anything", (1, 1))
    folder.save("lift.md", "one", False, "")
    assert (folder.root / "lift.md").read_text() == "one"


# Drafts.


def test_a_lesson_that_came_with_it_is_saved_as_a_copy(folder: Folder, tmp_path: Path) -> None:
    path = shipped(tmp_path)
    drafts = Drafts(folder)
    draft = drafts.of(path)
    draft.change(draft.text + "more\n")
    drafts.keep(draft)
    assert not (folder.root / "lift.md").exists()
    drafts.save(draft)
    assert (folder.root / "lift.md").read_text() == "---\ntitle: A\n---\nmore\n"
    assert path.read_bytes() == b"---\ntitle: A\n---\n"
    assert not draft.unsaved


def test_a_draft_survives_the_server_with_its_way_back(folder: Folder, tmp_path: Path) -> None:
    path = shipped(tmp_path, b"\xef\xbb\xbfone\r\n")
    drafts = Drafts(folder)
    draft = drafts.of(path)
    for text in ("one\r\ntwo", "one\r\ntwo\r\nthree"):
        draft.change(text)
        drafts.keep(draft)
    again = Drafts(folder).of(path)
    assert again == draft and again.unsaved and again.base.bom
    assert again.undo() and again.text == "one\r\ntwo"
    assert again.undo() and again.text == "one\r\n"
    assert again.undo() is None
    assert again.redo() and again.redo() and again.text == "one\r\ntwo\r\nthree"
    assert again.redo() is None


def test_undo_goes_back_over_everything() -> None:
    draw = Random(3)
    draft = Draft("x.md", "start", Kept("start"), True)
    texts = [draft.text]
    for _ in range(200):
        at = draw.randint(0, len(draft.text))
        draft.change(draft.text[:at] + draw.choice("ab\n") + draft.text[at + draw.randint(0, 2) :])
        if draft.text != texts[-1]:
            texts.append(draft.text)
    for text in reversed(texts[:-1]):
        assert draft.undo() and draft.text == text
    for text in texts[1:]:
        assert draft.redo() and draft.text == text


def test_the_way_back_is_bounded() -> None:
    draft = Draft("x.md", "", Kept(""), True)
    for count in range(1000):
        draft.change("x" * (count % 2) + str(count))
    assert len(draft.done) == 400
    for _ in range(10):
        draft.change("y" * 100_000 if draft.text[:1] != "y" else "z" * 100_000)
    assert sum(len(each.out) + len(each.put) for each in draft.done) <= 600_000


def test_a_file_that_changes_while_nothing_is_unsaved_is_taken(folder: Folder) -> None:
    drafts = Drafts(folder)
    drafts.new("lift.md", "one")
    (folder.root / "lift.md").write_text("theirs")
    draft = drafts.of(folder.root / "lift.md")
    assert draft.text == "theirs" and not draft.unsaved and drafts.outside(draft) is None
    assert draft.undo() and draft.text == "one"


def test_both_versions_are_put_together(folder: Folder) -> None:
    drafts = Drafts(folder)
    draft = drafts.new("lift.md", "a\nb\nc\nd\n")
    draft.change("a\nMINE\nc\nd\n")
    (folder.root / "lift.md").write_text("a\nb\nc\nTHEIRS\n")
    there = drafts.outside(draft)
    assert there
    with pytest.raises(Changed):
        drafts.save(draft)
    found = pieces(draft.text, there.text)
    drafts.settle(draft, there, put_together(found, [False, True]))
    drafts.save(draft)
    assert (folder.root / "lift.md").read_text() == "a\nMINE\nc\nTHEIRS\n"


def test_a_file_that_is_gone_is_saved_again(folder: Folder) -> None:
    drafts = Drafts(folder)
    draft = drafts.new("lift.md", "one")
    draft.change("two")
    (folder.root / "lift.md").unlink()
    drafts.save(draft)
    assert (folder.root / "lift.md").read_text() == "two"


def test_a_draft_that_cannot_be_read_is_put_aside(folder: Folder) -> None:
    drafts = Drafts(folder)
    drafts.new("lift.md", "one")
    kept = folder.hidden / "drafts" / "lift.md.json"
    kept.write_text('{"text": 3')
    assert Drafts(folder).of(folder.root / "lift.md").text == "one"
    assert kept.with_suffix(".unreadable").exists()


@pytest.mark.parametrize(
    "said",
    [
        "[" * 100_000,
        "[]",
        "null",
        '{"text": "a", "base": ["a", false, "a"], "own": true, "version": Infinity,'
        ' "done": [], "undone": []}',
        '{"text": "\\ud800", "base": ["a", false, "a"], "own": true, "version": 1,'
        ' "done": [], "undone": []}',
        '{"text": "a", "base": ["a", false, "a"], "own": true, "version": 1,'
        ' "done": [["x", 1, 2, 3]], "undone": []}',
    ],
)
@pytest.mark.parametrize("fixed", [False, True])
def test_an_odd_draft_is_none(
    folder: Folder, monkeypatch: pytest.MonkeyPatch, said: str, fixed: bool
) -> None:
    """Also where it cannot be put aside."""
    Drafts(folder).new("lift.md", "one")
    (folder.hidden / "drafts" / "lift.md.json").write_text(said)
    if fixed:
        monkeypatch.setattr(Path, "replace", refuse)
    assert not Drafts(folder).is_unsaved("lift.md")
    assert Drafts(folder).of(folder.root / "lift.md").text == "one"


def refuse(*_: object, **__: object) -> None:
    raise OSError(28, "No space left on device")


def test_a_draft_that_cannot_be_opened_hides_no_list(
    folder: Folder, monkeypatch: pytest.MonkeyPatch
) -> None:
    Drafts(folder).new("lift.md", "one")
    monkeypatch.setattr(Path, "read_bytes", refuse)
    assert not Drafts(folder).is_unsaved("lift.md")


def test_a_lesson_that_is_saved_is_saved_though_no_draft_can_be_kept(
    folder: Folder, monkeypatch: pytest.MonkeyPatch
) -> None:
    drafts = Drafts(folder)
    draft = drafts.new("lift.md", "one")
    draft.change("two")
    drafts.keep(draft)
    monkeypatch.setattr(Folder, "keep_hidden", refuse)
    drafts.save(draft)
    assert not draft.unsaved and (folder.root / "lift.md").read_text() == "two"
    assert not Drafts(folder).is_unsaved("lift.md")
    assert drafts.new("tide.md", "three").base.text == "three"


def test_a_file_that_is_no_text_is_told(folder: Folder, tmp_path: Path) -> None:
    with pytest.raises(Wrong, match="UTF-8"):
        Drafts(folder).of(shipped(tmp_path, b"\xff\xfe"))


def test_pieces_are_both_texts() -> None:
    draw = Random(5)
    for _ in range(200):
        one, other = ("".join(draw.choices(("a\n", "b\r\n", "c\n", "d"), k=8)) for _ in range(2))
        found = pieces(one, other)
        differing = sum(each.differs for each in found)
        assert "".join("".join(each.mine) for each in found) == one
        assert "".join("".join(each.theirs) for each in found) == other
        assert put_together(found, [False] * differing) == one
        assert put_together(found, [True] * differing) == other
    with pytest.raises(ValueError):
        put_together(pieces("a", "b"), [])


def test_lines_that_were_only_changed_are_chosen_one_by_one() -> None:
    found = pieces("a\nb\nc\nd\n", "a\nB\nC\nd\n")
    assert [each.theirs for each in found] == [("a\n",), ("B\n",), ("C\n",), ("d\n",)]
    assert put_together(found, [True, False]) == "a\nB\nc\nd\n"


@pytest.mark.parametrize(
    ("mine", "theirs", "merged"),
    [
        ("a\nMINE\nc\nd\ne\n", "a\nb\nc\nTHEIRS\ne\n", "a\nMINE\nc\nTHEIRS\ne\n"),
        ("a\nb\nc\nd\ne\n", "a\nc\nd\nnew\ne\n", "a\nc\nd\nnew\ne\n"),
        ("a\nb\nd\ne\n", "a\nb\nc\nd\nTHEIRS\n", "a\nb\nd\nTHEIRS\n"),
        ("a\nMINE\nc\nd\ne\n", "a\nTHEIRS\nc\nd\ne\n", "a\nMINE\nc\nd\ne\n"),
        ("a\nMINE\nTHREE\nd\ne\n", "a\nb\nc\nd\nE\n", "a\nMINE\nTHREE\nd\nE\n"),
    ],
)
def test_what_only_one_side_has_changed_is_taken_from_it(
    mine: str, theirs: str, merged: str
) -> None:
    base = "a\nb\nc\nd\ne\n"
    found = pieces(mine, theirs)
    assert put_together(found, only_theirs(base, found)) == merged


def test_what_both_changed_alike_or_apart_is_never_only_theirs() -> None:
    draw = Random(11)
    for _ in range(300):
        base = [f"{each}\n" for each in range(12)]
        mine = [draw.choice((each, "x\n")) for each in base]
        found = pieces("".join(mine), "".join(base))
        # They have changed nothing: all that differs is mine.
        assert not any(only_theirs("".join(base), found))
        turned = pieces("".join(base), "".join(mine))
        assert all(only_theirs("".join(base), turned))


def test_changes_at_both_ends_are_two_pieces() -> None:
    lines = [f"{each}\n" for each in range(900)]
    one = "".join(["a\n", *lines, "b\n"])
    other = "".join(["c\n", *lines[:400], "new\n", *lines[400:], "d\n"])
    found = pieces(one, other)
    assert [each.differs for each in found] == [True, False, True, False, True]
    assert found[2].theirs == ("new\n",)


def test_very_different_texts_are_one_piece() -> None:
    one = "".join(f"a{each}\n" for each in range(3000))
    other = "".join(f"b{each}\n" for each in range(3000))
    assert len(pieces(one, other)) == 1


def test_a_draft_that_cannot_be_looked_at_is_not_taken_for_none(
    folder: Folder, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A drive of the network that is slow to come back, say: what is on it is not written over."""
    path = folder.root / "lift.md"
    drafts = Drafts(folder)
    draft = drafts.new("lift.md", "one")
    draft.change("two")
    drafts.keep(draft)
    again, look = Drafts(folder), os.stat

    def fail(path: os.PathLike[str], *rest: Any, **more: Any) -> os.stat_result:
        if str(path).endswith(".json"):
            raise OSError(errno.EIO, "the drive does not answer", path)
        return look(path, *rest, **more)

    with monkeypatch.context() as patch:
        patch.setattr(os, "stat", fail)
        with pytest.raises(OSError, match="does not answer"):
            again.of(path)
        assert not again.is_unsaved("lift.md")
    assert again.of(path).text == "two"


def test_what_another_server_has_kept_is_put_aside(folder: Folder) -> None:
    path = folder.root / "lift.md"
    first, second = Drafts(folder), Drafts(folder)
    first.new("lift.md", "one")
    mine, other = first.of(path), second.of(path)
    for draft, drafts, text in ((other, second, "theirs"), (mine, first, "mine")):
        draft.change(text)
        drafts.keep(draft)
    assert Drafts(folder).of(path).text == "mine"
    assert (folder.hidden / "before" / "another-lift.md").read_text() == "theirs"
    # What one has kept itself is nobody else's.
    mine.change("mine too")
    first.keep(mine)
    assert (folder.hidden / "before" / "another-lift.md").read_text() == "theirs"


def test_a_draft_with_more_changes_than_are_ever_kept_is_none_of_ours(folder: Folder) -> None:
    """Files of a folder got from somebody else: the list asks for all of them."""
    drafts = Drafts(folder)
    draft = drafts.new("lift.md", "one")
    draft.change("two")
    drafts.keep(draft)
    file = folder.hidden / "drafts" / "lift.md.json"
    said = json.loads(file.read_text())
    for changes, unsaved in ((MOST_CHANGES, True), (2 * MOST_CHANGES + 1, False)):
        file.write_text(json.dumps({**said, "done": [[0, "", "", 1]] * changes}))
        assert Drafts(folder).is_unsaved("lift.md") is unsaved
    assert Drafts(folder).of(folder.root / "lift.md").text == "one"


@pytest.mark.parametrize("small", ['{"":{}},', '"",', "[],", '"a"'])
def test_a_draft_of_many_small_things_is_none_of_ours(
    folder: Folder, monkeypatch: pytest.MonkeyPatch, small: str
) -> None:
    """Made into data they take forty times the room of their file: so they never are."""
    Drafts(folder).new("lift.md", "one")
    file = folder.hidden / "drafts" / "lift.md.json"
    said = file.read_text()
    file.write_text(f'{said[:-1]}, "more": [{small * 120_000}0]}}')
    read: list[bytes] = []
    loads = json.loads
    monkeypatch.setattr(json, "loads", lambda data: (read.append(data), loads(data))[1])
    assert Drafts(folder).of(folder.root / "lift.md").text == "one"
    assert file.with_suffix(".unreadable").exists()
    assert not read


def test_a_draft_of_all_that_is_ever_kept_is_read(folder: Folder) -> None:
    drafts = Drafts(folder)
    draft = drafts.new("lift.md", "one")
    for number in range(MOST_CHANGES + 1):
        draft.change(draft.text + f'"\\{{[{number},' * 60)
    while len(draft.undone) < MOST_CHANGES // 2:
        draft.undo()
    drafts.keep(draft)
    again = Drafts(folder).of(folder.root / "lift.md")
    assert (again.text, again.done, again.undone) == (draft.text, draft.done, draft.undone)


def test_a_folder_that_leads_back_to_itself_holds_nothing(tmp_path: Path) -> None:
    (tmp_path / "own").symlink_to(tmp_path / "own")
    assert not Folder(tmp_path / "own").holds(tmp_path / "lift.md")


@pytest.mark.parametrize("name", ["CON", "nul.tar.gz", "com1.html", "LPT².x", "aux .md"])
def test_a_name_of_a_device_is_kept_by_a_system(name: str) -> None:
    assert is_reserved(name)


@pytest.mark.parametrize("name", ["con-card.pdf", "com10.md", "a.con", "null.md", "lesson-con.md"])
def test_a_name_like_one_is_not(name: str) -> None:
    assert not is_reserved(name)
