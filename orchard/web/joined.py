"""Styles, scripts and drawings: written in many small files, served in few.

A sheet comes with all that it imports in it, each in its layer. Scripts come as one
file for each entrance: what a page loads by itself (a module that no other imports),
and what is fetched later (`import("...")`). A module comes with the entrance that leads
to it; what several need lies in `js/common.js`, and what only the same few need of a
folder in a file by the name of its first module. Each module runs once, in a function
of its own, in the order of its imports.

The sources keep to a few forms, and whatever else they try is refused with its line:
`import { name, other } from "./module.js";`, and `export` before a function, a class or
a const. Comments stay behind.

The drawings come one by one as well: all of them together are for a phone that shall
have them when there is no signal.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path, PurePosixPath
from posixpath import normpath, relpath
from time import monotonic
from typing import Any

from django.conf import settings
from django.contrib.staticfiles.finders import BaseFinder
from django.core.files.storage import FileSystemStorage
from django.core.files.storage.base import Storage

COMMON = "js/common.js"
DRAWINGS = "img/drawings.json"
DRAWN = ("signs/*.svg", "words/*.svg")
SOURCES = settings.BASE_DIR / "static"
# A page asks for twenty files at once, and to look through the sources takes a while.
# In seconds.
LOOK_AGAIN_AFTER = 1.0
STYLE_IMPORT = re.compile(r'^@import "([^"]+)"(?: layer\((\w+)\))?;\n', re.MULTILINE)
STYLE_COMMENT = re.compile(r"/\*.*?\*/\n?", re.DOTALL)
SCRIPT_COMMENT = re.compile(r"^\s*//.*\n", re.MULTILINE)
IMPORT = re.compile(r'^import \{([^}]*)\} from "([^"]+)";\n', re.MULTILINE)
EXPORT = re.compile(
    r"^export (?=(?:async )?(?:function\*?|class|const) (\w+))", re.MULTILINE
)
LATER = re.compile(r'\bimport\("([^"]+)"\)')
UNKNOWN = re.compile(r"^(?:import|export)\b.*", re.MULTILINE)
WAITS = re.compile(r"^(?:await|(?:const|let) .* = await)\b", re.MULTILINE)


class JoiningFailed(ValueError):
    """A source has a form that cannot be joined: says where, and what to write."""


def beside(name: str, other: str) -> str:
    """Return the name of a source that another names from where it lies."""
    return normpath(f"{PurePosixPath(name).parent}/{other}")


def joined_styles(root: Path) -> dict[str, str]:
    """Return the sheets that no other imports, by name, with all that they import."""
    sheets = {path.relative_to(root).as_posix() for path in root.glob("css/**/*.css")}
    imported = {
        beside(name, other)
        for name in sheets
        for other, _layer in STYLE_IMPORT.findall((root / name).read_text())
    }
    return {name: joined_style(root, name) for name in sorted(sheets - imported)}


def joined_style(root: Path, name: str) -> str:
    """Return one sheet with the contents of what it imports, in their layers."""
    text = STYLE_COMMENT.sub("", (root / name).read_text())

    def inside(found: re.Match[str]) -> str:
        content = joined_style(root, beside(name, found[1]))
        return f"@layer {found[2]} {{\n{content}}}\n" if found[2] else content

    joined = STYLE_IMPORT.sub(inside, text)
    for forbidden in ("@import", "url("):
        if forbidden in joined:
            raise JoiningFailed(f'{name}: write no "{forbidden}" but @import "x.css".')
    return joined


@dataclass
class Module:
    """One source of a script: what it imports and gives, and its text without both."""

    name: str
    imports: list[tuple[str, str]] = field(default_factory=list)
    later: set[str] = field(default_factory=set)
    exports: list[str] = field(default_factory=list)
    text: str = ""

    @classmethod
    def read(cls, root: Path, name: str) -> Module:
        """Read a source. Raise JoiningFailed with the line it cannot take."""
        module = cls(name)
        text = SCRIPT_COMMENT.sub("", (root / name).read_text())
        for names, other in IMPORT.findall(text):
            module.imports.append((" ".join(names.split()), module.path_of(other)))
        module.exports = EXPORT.findall(text)
        module.text = EXPORT.sub("", IMPORT.sub("", text))
        module.later = {module.path_of(other) for other in LATER.findall(text)}
        if line := UNKNOWN.search(module.text):
            raise JoiningFailed(
                f'{name}: "{line[0]}" cannot be joined. Write import {{ name }} from'
                ' "./module.js"; and export before a function, a class or a const.'
            )
        return module

    def path_of(self, other: str) -> str:
        return beside(self.name, other)

    @property
    def variable(self) -> str:
        return variable_of(self.name)

    def wrapped(self, file: str) -> str:
        """Return the module as a function that runs once and returns what it gives."""
        lines = [
            f"const {{ {names.replace(' as ', ': ')} }} = {variable_of(other)};\n"
            for names, other in self.imports
        ]

        def from_here(found: re.Match[str]) -> str:
            path = relpath(self.path_of(found[1]), PurePosixPath(file).parent)
            return f'import("./{path}")'

        body = "".join(lines) + LATER.sub(from_here, self.text)
        waits = bool(WAITS.search(self.text))
        begin = "await (async () => {" if waits else "(() => {"
        gives = ", ".join(self.exports)
        return f"const {self.variable} = {begin}\n{body}return {{ {gives} }};\n}})();\n"


def variable_of(name: str) -> str:
    """Return what a module is called in the file that holds it."""
    return "$" + re.sub(r"\W", "_", name.removeprefix("js/")[:-3])


def joined_scripts(root: Path) -> dict[str, str]:
    """Return the files of scripts by name.

    Raises JoiningFailed for a source that is written otherwise, and for modules that
    import each other in a circle.
    """
    names = sorted(
        path.relative_to(root).as_posix() for path in root.glob("js/**/*.js")
    )
    modules = {name: Module.read(root, name) for name in names}
    for module in modules.values():
        for other in [*module.later, *(name for _names, name in module.imports)]:
            if other not in modules:
                raise JoiningFailed(f"{module.name}: there is no {other}.")
    files = files_of(modules)
    return {
        name: written(name, [modules[module] for module in inside], files)
        for name, inside in files.items()
    }


def files_of(modules: dict[str, Module]) -> dict[str, list[str]]:
    """Return which modules each file holds, those first that others import."""
    imported, later = set(), set()
    for module in modules.values():
        imported |= {other for _names, other in module.imports}
        later |= module.later
    entrances = [name for name in modules if name in later or name not in imported]
    reached: dict[str, list[str]] = {name: [] for name in modules}
    order: list[str] = []

    def walk(name: str, entrance: str, way: tuple[str, ...]) -> None:
        if name in way:
            raise JoiningFailed(f"{' -> '.join([*way, name])} is a circle of imports.")
        for _names, other in modules[name].imports:
            if other not in entrances:
                walk(other, entrance, (*way, name))
        if entrance not in reached[name]:
            reached[name].append(entrance)
        if name not in order:
            order.append(name)

    for entrance in entrances:
        walk(entrance, entrance, ())
    direct = {
        entrance: {name for _names, name in modules[entrance].imports}
        for entrance in entrances
    }

    def home(name: str) -> str:
        several = reached[name]
        for entrance in several:
            if all(entrance in {other, *direct[other]} for other in several):
                return entrance
        if PurePosixPath(name).parent == PurePosixPath(COMMON).parent:
            return COMMON
        return together.setdefault(tuple(several), name)

    together: dict[tuple[str, ...], str] = {}
    files: dict[str, list[str]] = {entrance: [] for entrance in entrances}
    for name in order:
        files.setdefault(home(name), []).append(name)
    return files


def written(name: str, inside: Sequence[Module], files: dict[str, list[str]]) -> str:
    """Write one file: what it needs from others, its modules, what others may need."""
    here = {module.name for module in inside}
    lines = []
    for file, theirs in files.items():
        wanted = {
            other
            for module in inside
            for _names, other in module.imports
            if other not in here and other in theirs
        }
        if wanted:
            variables = ", ".join(sorted(variable_of(other) for other in wanted))
            path = relpath(file, PurePosixPath(name).parent)
            path = path if path.startswith(".") else f"./{path}"
            lines.append(f'import {{ {variables} }} from "{path}";\n')
    lines += [module.wrapped(name) for module in inside]
    variables = ", ".join(module.variable for module in inside)
    lines.append(f"export {{ {variables} }};\n")
    # Whoever fetches an entrance later finds its own names.
    lines += [
        f"export const {given} = {module.variable}.{given};\n"
        for module in inside
        if module.name == name
        for given in module.exports
    ]
    return "".join(lines)


def drawings(root: Path) -> dict[str, str]:
    """Return the drawing of each sign and word, by its place below the images."""
    folder = root / "img"
    paths = sorted(path for kind in DRAWN for path in folder.glob(kind))
    return {path.relative_to(folder).as_posix(): path.read_text() for path in paths}


@lru_cache(maxsize=1)
def names(root: Path) -> list[str]:
    """Return the names of all joined files."""
    return [*joined_styles(root), *joined_scripts(root), DRAWINGS]


def join(root: Path, folder: Path) -> list[str]:
    """Write what pages load into a folder, where it has changed; return the names."""
    joined = {
        **joined_styles(root),
        **joined_scripts(root),
        DRAWINGS: json.dumps(drawings(root)),
    }
    for name, text in joined.items():
        path = folder / name
        if not path.exists() or path.read_text() != text:
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text)
    return list(joined)


class JoinedFinder(BaseFinder):
    """Finds the joined files, made anew where a source has changed."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.root = SOURCES
        self.folder = settings.DATA_DIR / "joined"
        self.storage = FileSystemStorage(location=self.folder)
        self.stamp: tuple[tuple[str, float], ...] = ()
        self.looked_at = float("-inf")
        self.names: list[str] = []

    def joined(self) -> list[str]:
        """Return the names of the joined files; sources are looked at once a second."""
        if monotonic() - self.looked_at < LOOK_AGAIN_AFTER:
            return self.names
        kinds = ("css/**/*.css", "js/**/*.js", *(f"img/{kind}" for kind in DRAWN))
        paths = sorted(path for kind in kinds for path in self.root.glob(kind))
        stamp = tuple((path.name, path.stat().st_mtime) for path in paths)
        if stamp != self.stamp:
            self.names = join(self.root, self.folder)
            self.stamp = stamp
        self.looked_at = monotonic()
        return self.names

    def check(self, **kwargs: Any) -> list[Any]:
        return []

    def find(self, path: str, find_all: bool = False, **kwargs: Any) -> Any:
        found = [str(self.folder / path)] if path in self.joined() else []
        return found if find_all else (found[0] if found else None)

    def list(self, ignore_patterns: Any) -> Iterator[tuple[str, Storage]]:
        for name in self.joined():
            yield name, self.storage
