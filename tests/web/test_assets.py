"""The files that no folder of ours holds: which htmx the pages get."""

from __future__ import annotations

import re
import tomllib
from importlib.metadata import version
from pathlib import Path

from app.web.assets import htmx_file

PROJECT = Path(__file__).resolve().parents[2] / "pyproject.toml"


def test_htmx_is_the_version_that_the_pages_were_tested_with() -> None:
    """Another one may send other events: then the browser tests must be run, and this changed."""
    text = PROJECT.read_text(encoding="utf-8")
    (written,) = re.findall(r"carries htmx ([\w.-]+\w)", text)
    (carried,) = re.findall(r'version="([^"]+)"', htmx_file("htmx-4.min.js").read_text("utf-8"))
    assert carried == written


def test_the_package_that_carries_htmx_is_pinned_to_a_minor_version() -> None:
    wanted = tomllib.loads(PROJECT.read_text(encoding="utf-8"))["project"]["dependencies"]
    (pinned,) = [each for each in wanted if each.startswith("django-htmx")]
    minor = ".".join(version("django-htmx").split(".")[:2])
    assert pinned == f"django-htmx=={minor}.*"
