"""JavaScript modules and what they import, read from their text.

A browser learns of a module only from the one that imports it, and asks for one after another. A
page that names them all beside its script has them all at once.
"""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path, PurePosixPath

from app.paths import resource

# As this project writes imports: named, and each from a module of a folder of ours.
IMPORT = re.compile(r'^import \{([^}]*)\} from "(\.[^"]+)";\n', re.MULTILINE)


def resolve(module: PurePosixPath, name: str) -> PurePosixPath:
    """The path of what ``module`` imports by ``name``, both from one folder."""
    parts: list[str] = []
    for each in (module.parent / name).parts:
        if each == "..":
            parts.pop()
        elif each != ".":
            parts.append(each)
    return PurePosixPath(*parts)


def imports(folder: Path, entry: str) -> tuple[str, ...]:
    """The modules of a folder that ``entry`` imports, itself or through another, each once."""
    found: dict[PurePosixPath, None] = {}
    wait = [PurePosixPath(entry)]
    while wait:
        module = wait.pop()
        text = (folder / module).read_text(encoding="utf-8")
        new = [resolve(module, each[2]) for each in IMPORT.finditer(text)]
        wait += [each for each in new if each not in found]
        found |= dict.fromkeys(new)
    return tuple(map(str, found))


@cache
def imports_of_page(script: str) -> tuple[str, ...]:
    """What the script of a page imports, named from ``static/js`` as the script is."""
    return imports(resource("static") / "js", script)
