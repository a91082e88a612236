"""Finding the line on which a row or a value of a TOML file stands.

`tomllib` says what a file holds and not where. The text is only read a second time
when something is wrong with it, so a guide without faults loads no slower.
"""

from __future__ import annotations

import re

Path = tuple[str | int, ...]

_TOKEN = re.compile(
    r'"""(?:\\.|[^\\])*?"{3,5}|' + r"'''.*?'{3,5}|"
    r'"(?:\\.|[^"\\\n])*"|' + r"'[^'\n]*'|"
    r"#[^\n]*|\n|[\[\]{}=,.]|[^\s\[\]{}=,.#\"']+",
    re.DOTALL,
)


def find_lines(text: str) -> dict[Path, int]:
    """Return the line of every table, key and list entry of a valid TOML text.

    The path of the second rule of the first sign is ("sign", 0, "rule", 1).
    """
    return _Reader(text).read()


class _Reader:
    def __init__(self, text: str) -> None:
        self.tokens: list[tuple[str, int]] = []
        line, end = 1, 0
        for found in _TOKEN.finditer(text):
            line += text.count("\n", end, found.start())
            if not found[0].startswith("#"):
                self.tokens.append((found[0], line))
            line += text.count("\n", found.start(), found.end())
            end = found.end()
        self.place = 0
        self.lines: dict[Path, int] = {}
        self.counts: dict[Path, int] = {}

    def read(self) -> dict[Path, int]:
        table: Path = ()
        while self.place < len(self.tokens):
            if self._token() == "\n":
                self.place += 1
            elif self._token() == "[":
                table = self._header()
            else:
                self._assignment(table)
        return self.lines

    def _token(self) -> str:
        return self.tokens[self.place][0]

    def _keys(self, end: str) -> list[str]:
        keys = []
        while self._token() != end:
            if self._token() != ".":
                keys.append(self._token().strip("\"'"))
            self.place += 1
        return keys

    def _header(self) -> Path:
        line = self.tokens[self.place][1]
        is_list = self.tokens[self.place + 1][0] == "["
        self.place += 1 + is_list
        *parents, name = self._keys("]")
        self.place += 1 + is_list
        path: Path = ()
        for key in parents:
            path += (key,)
            if path in self.counts:
                path += (self.counts[path] - 1,)
        path += (name,)
        if is_list:
            number = self.counts.get(path, 0)
            self.counts[path] = number + 1
            path += (number,)
        self.lines[path] = line
        return path

    def _assignment(self, table: Path) -> None:
        line = self.tokens[self.place][1]
        path = (*table, *self._keys("="))
        self.place += 1
        self.lines[path] = line
        self._value(path)

    def _value(self, path: Path) -> None:
        if self._token() == "[":
            self.place += 1
            number = 0
            while self._token() != "]":
                if self._token() in (",", "\n"):
                    self.place += 1
                    continue
                self.lines[*path, number] = self.tokens[self.place][1]
                self._value((*path, number))
                number += 1
            self.place += 1
        elif self._token() == "{":
            self.place += 1
            while self._token() != "}":
                if self._token() in (",", "\n"):
                    self.place += 1
                else:
                    self._assignment(path)
            self.place += 1
        else:
            self.place += 1
            while self.place < len(self.tokens) and self._token() not in ",]}\n":
                self.place += 1
