"""Modules as one script: what is put together, and what is refused."""

from __future__ import annotations

from pathlib import Path

import pytest

from app.paths import resource
from app.web.bundle import bundle


def write(folder: Path, **modules: str) -> Path:
    for name, text in modules.items():
        path = folder / f"{name.replace('__', '/')}.js"
        path.parent.mkdir(exist_ok=True)
        path.write_text(text, "utf-8")
    return folder


def test_what_is_imported_comes_first_and_once(tmp_path: Path) -> None:
    folder = write(
        tmp_path,
        deep__entry=(
            'import { b } from "../b.js";\nimport { a as first } from "../a.js";\nfirst(b);\n'
        ),
        b='import { a } from "./a.js";\nexport const b = a();\n',
        a="export function a() { return 1; }\nexport async function c() {}\n",
    )
    made = bundle(folder, "deep/entry.js")
    assert made.index("module_a =") < made.index("module_b =") < made.index("module_deep_entry =")
    assert made.count("module_a = ") == 1
    assert "const { a: first } = module_a;" in made
    assert "return { a, c };" in made
    assert "import" not in made and "export" not in made


@pytest.mark.parametrize(
    "text",
    [
        'import "./other.js";\n',
        'import * as other from "./other.js";\n',
        "export default 1;\n",
        "export let a = 1;\n",
        'const a = await import("./other.js");\n',
    ],
)
def test_what_it_cannot_do_is_refused(tmp_path: Path, text: str) -> None:
    folder = write(tmp_path, entry=text, other="export const a = 1;\n")
    with pytest.raises(ValueError, match=r"entry\.js"):
        bundle(folder, "entry.js")


def test_a_ring_of_imports_is_refused(tmp_path: Path) -> None:
    folder = write(
        tmp_path,
        a='import { b } from "./b.js";\nexport const a = 1;\n',
        b='import { a } from "./a.js";\nexport const b = 1;\n',
    )
    with pytest.raises(ValueError, match="imports itself"):
        bundle(folder, "a.js")


def test_the_replay_is_made_of_the_modules_of_the_board() -> None:
    made = bundle(resource("static") / "js", "paper/replay/replay.js")
    for name in ("movement", "announce", "keys", "speech"):
        assert f"const module_{name} = " in made
    # Nothing in it can end the script that it stands in.
    assert "</script" not in made
