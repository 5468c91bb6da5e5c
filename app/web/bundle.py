"""JavaScript modules as one script, which a page has with one request, and from disk without any.

A browser learns of a module only from the one that imports it, and every request costs a slow
machine time; from a ``file:`` address it loads none. So each module becomes a function that is
called at once and gives what it exports; an import becomes a look into what another one gave.
That is enough for modules as this project writes them: named imports and exports, one a line.
"""

from __future__ import annotations

import re
from pathlib import Path, PurePosixPath

# As this project writes imports: named, and each from a module of a folder of ours.
_IMPORT = re.compile(r'^import \{([^}]*)\} from "(\.[^"]+)";\n', re.MULTILINE)
_EXPORT = re.compile(r"^export ((?:async )?function|const|class) (\w+)", re.MULTILINE)
# What the two patterns above do not cover, and would otherwise go wrong in the page.
_LEFT_OVER = re.compile(r"^(?:import|export)\b.*|\bimport\(.*", re.MULTILINE)


def bundle(folder: Path, entry: str) -> str:
    """The module ``entry`` of a folder and all that it imports, as one script.

    Raises ValueError for an import or export of another kind.
    """
    made: dict[str, str] = {}
    _add(folder, PurePosixPath(entry), made, ())
    return "\n".join(['"use strict";', *made.values()])


def _add(
    folder: Path, path: PurePosixPath, made: dict[str, str], under_way: tuple[str, ...]
) -> str:
    """Add a module after those that it imports; the name that stands for it."""
    name = _name(path)
    if name in made:
        return name
    if name in under_way:
        raise ValueError(f"{path} imports itself, by way of {', '.join(under_way)}")
    source = (folder / path).read_text(encoding="utf-8")

    def take(found: re.Match[str]) -> str:
        other = _add(folder, _resolve(path, found[2]), made, (*under_way, name))
        wanted = found[1].replace(" as ", ": ")
        return f"const {{{wanted}}} = {other};\n"

    body = _IMPORT.sub(take, source)
    exported = [each[2] for each in _EXPORT.finditer(body)]
    body = _EXPORT.sub(r"\1 \2", body)
    left = _LEFT_OVER.search(body)
    if left:
        raise ValueError(f"{path}: this cannot be put into one script: {left[0]}")
    made[name] = f"const {name} = (() => {{\n{body}return {{ {', '.join(exported)} }};\n}})();"
    return name


def _resolve(module: PurePosixPath, name: str) -> PurePosixPath:
    """The path of what ``module`` imports by ``name``, both from one folder."""
    parts: list[str] = []
    for each in (module.parent / name).parts:
        if each == "..":
            parts.pop()
        elif each != ".":
            parts.append(each)
    return PurePosixPath(*parts)


def _name(path: PurePosixPath) -> str:
    """A name that no module uses inside: ``js/explore/tabs.js`` gives ``module_explore_tabs``."""
    return "module_" + re.sub(r"\W", "_", str(path.with_suffix("")))
