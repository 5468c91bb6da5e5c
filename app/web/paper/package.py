"""Packages for a learning platform: the replay as homework that marks itself (SCORM 1.2, SCORM 2004
4th Edition), and the questions for its own quizzes (QTI 3.0). Names of pupils stay with the
platform; nothing comes back here.

No schema files are put in, as the standards' own examples do: platforms have those.
"""

from __future__ import annotations

import hashlib
import io
import re
import zipfile
from collections.abc import Mapping, Sequence

from jinja2 import Environment

from app.lesson.model import Lesson, Scene
from app.lesson.paper.quiz import QuizItem, make_quiz
from app.lesson.paper.versions import Version
from app.lesson.paper.watched import runs_on
from app.lesson.paper.worksheet import Support, make_worksheet

from .replay import replay_page

SCORM_VERSIONS = ("1.2", "2004")
# What XML 1.0 (section 2.2) has no place for.
_NOT_IN_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
# No time in the file, but the earliest that there is: the same lesson gives the same bytes.
LONG_AGO = (1980, 1, 1, 0, 0, 0)


def scorm_package(lesson: Lesson, environment: Environment, version: str) -> bytes:
    """The replay of a lesson as a package of a version of SCORM_VERSIONS.

    Raises ValueError for a lesson that has faults.
    """
    page = replay_page(lesson, environment, version).html
    manifest = environment.get_template(f"paper/package/scorm-{version}.xml").render(
        identifier=identifier(lesson, version), title=lesson.header.title
    )
    return zipped({"imsmanifest.xml": in_xml(manifest), "index.html": page})


def qti_package(lesson: Lesson, environment: Environment) -> bytes:
    """The questions of a lesson as items of QTI 3.0, each with all that it needs to be asked by
    itself, and a test of them all.

    Raises ValueError for a lesson that has faults, or that asks nothing.
    """
    if not lesson.can_be_taught or not any(each.questions for each in lesson.scenes):
        raise ValueError(f"the lesson '{lesson.slug}' has faults, or no question")
    template = environment.get_template("paper/package/qti-item.xml")
    items: dict[str, str] = {}
    scenes: list[tuple[str, list[str]]] = []
    about = {"identifier": identifier(lesson, "qti"), "title": lesson.header.title}
    for scene in lesson.scenes:
        if not scene.questions:
            continue
        names: list[str] = []
        setting = _setting(scene)
        quiz = make_quiz(scene, scene.depth, first=len(items) + 1, alone=True)
        for item, asked in zip(quiz, scene.questions, strict=True):
            name = f"question-{item.number}"
            about_item = _item(item, asked.mixups)
            # Each has a name of its own among all the items that a platform has.
            about_item |= {
                "identifier": f"{about['identifier']}-{item.number}",
                "title": f"{about['title']}: question {item.number}",
            }
            items[name] = in_xml(template.render(**setting, **about_item))
            names.append(name)
        scenes.append((scene.title, names))

    def made(part: str, **context: object) -> str:
        return in_xml(environment.get_template(f"paper/package/qti-{part}.xml").render(**context))

    return zipped(
        {
            "imsmanifest.xml": made("manifest", names=[*items], **about),
            "test.xml": made("test", scenes=scenes, **about),
            **{f"items/{name}.xml": text for name, text in items.items()},
        }
    )


def _setting(scene: Scene) -> dict[str, object]:
    """What the template of an item takes that all questions of a scene have."""
    sheet = make_worksheet(Version("", scene), Support.SOME)
    return {
        "program": "\n".join(
            f"{word.address:>3}  {word.label + ':' if word.label else '':9}{word.text}"
            for word in sheet.listing
        ),
        "inputs": ", ".join(sheet.inputs),
        "requests": "; ".join(sheet.requests),
        "watched": runs_on(scene),
    }


def _item(item: QuizItem, mixups: Sequence[str]) -> dict[str, object]:
    """What it takes of a question; ``mixups`` has one, or an empty text, for each choice."""
    feedback = []
    for choice, mixup in zip(item.choices, mixups, strict=True):
        words = f"Right. {item.because}" if choice.right else choice.reason
        mixed_up = f" What may be mixed up: {mixup}." if mixup and not choice.right else ""
        feedback.append((choice.letter, f"{words}{mixed_up}"))
    return {
        "item": item,
        "where": item.where,
        "state": item.state,
        "prompt": item.prompt,
        "choices": [(each.letter, each.text) for each in item.choices],
        "feedback": feedback,
    }


def identifier(lesson: Lesson, kind: str) -> str:
    """A name that this version of a lesson alone has, with signs that XML takes for a name."""
    text = f"{kind}|{lesson.slug}|{lesson.source}"
    return f"chalkcycle-{hashlib.sha256(text.encode(errors='replace')).hexdigest()[:32]}"


def in_xml(text: str) -> str:
    """A text without what XML has no place for."""
    return _NOT_IN_XML.sub("\N{REPLACEMENT CHARACTER}", text)


def zipped(files: Mapping[str, str | bytes]) -> bytes:
    """Files by their names as one archive."""
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files.items():
            about = zipfile.ZipInfo(name, LONG_AGO)
            about.compress_type = zipfile.ZIP_DEFLATED
            about.external_attr = 0o644 << 16
            archive.writestr(about, content)
    return made.getvalue()
