"""Packages for a learning platform: the replay as homework that marks itself (SCORM 1.2, SCORM 2004
4th Edition). Names of pupils stay with the platform; nothing comes back here.

No schema files are put in, as the standards' own examples do: platforms have those.
"""

from __future__ import annotations

import hashlib
import io
import re
import zipfile
from collections.abc import Mapping

from jinja2 import Environment

from app.lesson.model import Lesson

from .replay import replay_page

SCORM_VERSIONS = ("1.2", "2004")
# What XML 1.0 (section 2.2) has no place for.
_NOT_IN_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
# No time in the file, but the earliest that there is: the same lesson gives the same bytes.
_LONG_AGO = (1980, 1, 1, 0, 0, 0)


def scorm_package(lesson: Lesson, environment: Environment, version: str) -> bytes:
    """The replay of a lesson as a package of a version of SCORM_VERSIONS.

    Raises ValueError for a lesson that has faults.
    """
    page = replay_page(lesson, environment, version).html
    manifest = environment.get_template(f"paper/package/scorm-{version}.xml").render(
        identifier=identifier(lesson, version), title=in_xml(lesson.header.title)
    )
    return zipped({"imsmanifest.xml": manifest, "index.html": page})


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
            about = zipfile.ZipInfo(name, _LONG_AGO)
            about.compress_type = zipfile.ZIP_DEFLATED
            about.external_attr = 0o644 << 16
            archive.writestr(about, content)
    return made.getvalue()
