"""Break what is sent, by a seed: values, fields, entries, addresses, files."""

from __future__ import annotations

import json
import random
import re
from collections.abc import Sequence
from html import escape
from io import BytesIO
from typing import Any
from zipfile import ZIP_DEFLATED, ZIP_STORED, ZipFile, ZipInfo

Pairs = list[tuple[str, str]]

NUMBERS = [
    *("0", "-0", "-1", "+1", "1.5", "1,5", "1.5.5", "0x10", "1_000", "1e5", "1e18"),
    *("1e308", "1e309", "-1e309", "1e-320", "nan", "NaN", "sNaN", "inf", "-Infinity"),
    *("0.00000001", "9" * 20, "9" * 400, "9" * 5000, "0" * 300 + "5", "1" + "0" * 30),
    *(str(2**power + off) for power in (15, 31, 32, 53, 63, 64) for off in (-1, 0, 1)),
    *(str(-(2**power) - off) for power in (15, 31, 63) for off in (0, 1)),
    *("１２", "٣", "²", "½", "Ⅷ", "1 000", "1\u00a0000", "12%", "100.0000001", "--5"),
]
DAYS = [
    *("0000-00-00", "0000-01-01", "0001-01-01", "0001-12-31", "-001-01-01"),
    *("1582-10-10", "1899-12-31", "1900-01-01", "2026-02-30", "2026-13-01"),
    *("2027-02-29", "2999-12-31", "9999-12-31", "10000-01-01", "99999-01-01"),
    *("2026-5-1", "20260512", "２０２６-０５-１２", "2026-05-12 ", "12.5.2026"),
    *("2026-W20", "2026-W20-3", "2026-132", "2026-05", "0001-01", "9999-12", "0000-00"),
]
TIMES = [
    *(
        "24:00",
        "25:61",
        "23:59:60",
        "00:00",
        "9:5",
        "12:00+14:00",
        "12:00Z",
        "２３:００",
    ),
    *("0001-01-01T00:00:00+14:00", "9999-12-31T23:59:59-12:00", "9999-12-31T23:59"),
    *("1970-01-01T00:00:00+00:00", "2089-12-31T23:59:59+00:00", "1969-12-31T23:59Z"),
    *("2026-05-12T09:00", "2026-05-12T09:00+99:00", "2026-05-12T09:00:00.9999999Z"),
    *("2026-03-29T01:30", "2026-05-12T09:00-23:59", "0000-05-12T09:00Z"),
]
TEXTS = [
    *("", " ", "\t\n", "\0", "a\0b", "\0" * 50, "\x1b[31m", "\x7f\x08", "\x85\u2028"),
    *(
        "\u202eevil",
        "\u200f",
        "e\u0301" * 40,
        "\ufeff",
        "\ufffe",
        "😀" * 90,
        "ﬀ",
        "ſ",
        "İ",
        # Letters of other scripts, and such as are several in capitals.
        *("ΐ", "ǰ-1", "Жß-1", "А-1", "Ａ－１", "A‑1", "ﷺ", "´", "नारंगी", "橙"),
    ),
    *(
        "x" * 81,
        "x" * 256,
        "x" * 5000,
        "word " * 3000,
        "<script>",
        "'; --",
        "%s%n",
        "{0}",
    ),
    *(
        "%",
        "_",
        "\\",
        "\\u0000",
        "%00",
        "a/b",
        "../..",
        ".",
        "..",
        "?",
        "#",
        "&a=b",
        "=",
    ),
    *('["a"]', "{}", "[]", '{"a": 1}', "null", "None", "True", "true", "undefined"),
    *("a@b", "a@b\nBcc: c@d", "x\r\nSet-Cookie: a=b", "@", "a" * 400 + "@example.org"),
    *("00000000-0000-0000-0000-000000000000", "{00000000000000000000000000000000}"),
    *("yes", "no", "on", "SM1-01", "SM13-45", "SM0-00", "A-1", "a-1", "Z-99", "new"),
    *(
        "NaN:1",
        ":",
        ":::",
        "-",
        "--",
        "a:b:c",
        "1|2",
        "x|0001-01-01",
        "https://[",
        "//x",
    ),
    *(
        "javascript:0",
        "http://evil.example/",
        "/../",
        "Europe/Nowhere",
        "../etc/passwd",
    ),
]
EVERY = NUMBERS + DAYS + TIMES + TEXTS
NAMES = [
    "",
    "id",
    "pk",
    "csrfmiddlewaretoken",
    "__proto__",
    "a\0b",
    "[]",
    "😀",
    "n" * 3000,
]


class Mutator:
    """Breaks things; the same seed breaks them the same way."""

    def __init__(self, seed: int, foreign: Sequence[str] = ()) -> None:
        """Take the keys that are another orchard's, to be put in the place of own."""
        self.dice = random.Random(seed)
        self.foreign = list(foreign)

    def text(self, text: str) -> str:
        """Break one value, mostly by another kind's, at times by bending it."""
        dice = self.dice
        chance = dice.random()
        if chance < 0.1 and self.foreign:
            return dice.choice(self.foreign)
        if chance < 0.2 and _is_number(text):
            return dice.choice(NUMBERS)
        if chance < 0.3 and len(text) == 10 and text[4:5] == "-":
            return dice.choice(DAYS)
        if chance < 0.75:
            return dice.choice(EVERY)
        place = dice.randrange(len(text) + 1)
        return dice.choice(
            [
                text.upper(),
                text.swapcase(),
                text[::-1],
                text * 2,
                text * 50,
                f" {text}\n",
                text + "\0",
                text[:place]
                + dice.choice(["\0", "\u202e", "_", "-", ".", "9" * 30])
                + text[place:],
                f"-{text}",
                f"{text}e400",
                f'["{text}"]',
                json.dumps({text: text}),
                text[:place],
                "".join(_wide(letter) for letter in text),
            ]
        )

    def pairs(self, pairs: Pairs) -> Pairs:
        """Break a form, in one place or a few."""
        pairs = list(pairs)
        for _turn in range(self.dice.choice([1, 1, 1, 2, 3])):
            pairs = self._pairs_once(pairs)
        return pairs

    def _pairs_once(self, pairs: Pairs) -> Pairs:
        dice = self.dice
        chance = dice.random()
        if not pairs or chance < 0.06:
            return [*pairs, (dice.choice(NAMES), dice.choice(EVERY))]
        place = dice.randrange(len(pairs))
        name, value = pairs[place]
        before, after = pairs[:place], pairs[place + 1 :]
        if chance < 0.70:
            return [*before, (name, self.text(value)), *after]
        if chance < 0.78:
            return [*before, *after]
        if chance < 0.86:
            return [*pairs, (name, self.text(value))]
        if chance < 0.90:
            other = dice.choice(pairs)
            return [*before, (name, other[1]), *after]
        if chance < 0.94:
            return [*before, (self.text(name), value), *after]
        if chance < 0.96:
            return [(name, self.text(value)) for name, value in pairs]
        if chance < 0.98:
            return [(name, "") for name, _value in pairs]
        return [
            *pairs,
            *((name, str(number)) for number in range(dice.choice([40, 1100]))),
        ]

    def entry(self, entry: Any) -> str:
        """Break an entry of an outbox, and write it as JSON that may be none."""
        dice = self.dice
        entry = json.loads(json.dumps(entry))
        for _turn in range(dice.choice([1, 1, 1, 2, 3])):
            entry = self._node(entry)
        text = json.dumps(entry)
        chance = dice.random()
        place = dice.randrange(len(text) + 1)
        if chance < 0.03:
            return text[:place]
        if chance < 0.06:
            return text[:place] + self.text("") + text[place:]
        if chance < 0.08 and isinstance(entry, dict) and entry:
            name = dice.choice(list(entry))
            value = json.dumps(self._json_value(entry[name]))
            return f"{text[:-1]}, {json.dumps(name)}: {value}}}"
        if chance < 0.09:
            return "\ufeff" + text
        if chance < 0.10:
            return "[" * 100_000
        return text

    def _node(self, node: Any) -> Any:
        """Break one node of a tree of lists and dictionaries."""
        dice = self.dice
        if isinstance(node, dict) and node and dice.random() < 0.95:
            name = dice.choice(list(node))
            chance = dice.random()
            if chance < 0.06:
                return {key: node[key] for key in node if key != name}
            if chance < 0.10:
                return {**node, dice.choice(NAMES): self._json_value("")}
            if chance < 0.12:
                return {**node, self.text(name): node[name]}
            return {**node, name: self._node(node[name])}
        if isinstance(node, list) and node and dice.random() < 0.95:
            place = dice.randrange(len(node))
            chance = dice.random()
            if chance < 0.06:
                return node[:place] + node[place + 1 :]
            if chance < 0.12:
                return [*node, self._json_value(node[place])]
            return [*node[:place], self._node(node[place]), *node[place + 1 :]]
        return self._json_value(node)

    def _json_value(self, value: Any) -> Any:
        dice = self.dice
        if isinstance(value, str) and dice.random() < 0.5:
            return self.text(value)
        deep: Any = "deep"
        for _level in range(dice.choice([1, 5, 300])):
            deep = [deep] if dice.random() < 0.5 else {"a": deep}
        return dice.choice(
            [
                *(None, True, False, 0, -1, 1.5, 10**15, 10**400, -(10**25), 1e308),
                *(2**31, 2**31 - 1, 2**63, 2**63 - 1, 2**64, -(2**63) - 1),
                *(float("nan"), float("inf"), float("-inf")),
                *("\ud800", "a\udfff", "", "\0", "1_000", '["a"]', "1", "0"),
                *(
                    [],
                    {},
                    [[]],
                    ["a"],
                    ["a", "b"],
                    [["a"]],
                    [["a", "b", "c"]],
                    {"a": 1},
                ),
                deep,
                [value] * 3,
                {"value": value},
                dice.choice(EVERY),
            ]
        )

    def bytes(self, content: bytes) -> bytes:
        """Break the bytes of a file."""
        dice = self.dice
        place = dice.randrange(len(content) + 1)
        value = dice.choice(EVERY).encode()
        text = content.decode("utf-8", "replace")
        return dice.choice(
            [
                b"",
                content[:place],
                content[:place] + value + content[place:],
                content[:place] + bytes(dice.randrange(256) for _ in range(20)),
                content[:place] + b"\0" * 9 + content[place + 9 :],
                b"\xef\xbb\xbf" + content,
                b"\xff\xfe" + content,
                text.encode("utf-16"),
                text.encode("utf-32"),
                text.replace(",", dice.choice([";", "\t", "|", ",,", '"'])).encode(),
                text.replace(
                    "\n", dice.choice(["\r", "\r\n", "\n\n", "\0", "\x85"])
                ).encode(),
                self._cells(text),
                self._cells(text),
                self._cells(text),
                content * 2,
            ]
        )

    def archive(self, content: bytes) -> bytes:
        """Break an archive: some of its bytes, or what stands in one of its parts."""
        dice = self.dice
        if dice.random() < 0.3:
            broken = bytearray(content)
            for _turn in range(dice.choice([1, 4, 30])):
                broken[dice.randrange(len(broken))] = dice.randrange(256)
            return bytes(broken)
        out = BytesIO()
        with ZipFile(BytesIO(content)) as old:
            chosen = dice.choice(old.namelist())
            parts = {name: old.read(name).decode() for name in old.namelist()}
        if dice.random() < 0.05:
            del parts[chosen]
        else:
            parts[chosen] = self._markup(parts[chosen])
        with ZipFile(out, "w", dice.choice([ZIP_STORED, ZIP_DEFLATED])) as new:
            for name, text in parts.items():
                new.writestr(ZipInfo(name), text.encode("utf-8", "replace"))
        return out.getvalue()

    def _markup(self, text: str) -> str:
        """Break what stands in the tags of a text or between them, or the tags."""
        dice = self.dice
        if dice.random() < 0.1:
            place = dice.randrange(len(text) + 1)
            return text[:place] + dice.choice(["", "<", "&", "</c>", "\0", "<!--"])
        for _turn in range(dice.choice([1, 1, 2, 4])):
            found = list(re.finditer(r'(?<=")[^"<>]*(?=")|(?<=>)[^<>]+(?=<)', text))
            if found:
                place = dice.choice(found)
                value = escape(self.text(place[0]))
                text = text[: place.start()] + value + text[place.end() :]
        return text

    def _cells(self, text: str) -> bytes:
        """Break cells of a table."""
        rows = [line.split(",") for line in text.splitlines()] or [[""]]
        for _turn in range(self.dice.choice([1, 1, 2, 4])):
            row = self.dice.choice(rows)
            place = self.dice.randrange(len(row))
            row[place] = self.text(row[place])
        return "\n".join(",".join(row) for row in rows).encode("utf-8", "replace")

    def choose(self, values: Sequence[Any]) -> Any:
        return self.dice.choice(values)


def _is_number(text: str) -> bool:
    return text.replace(".", "").replace("-", "").isdecimal()


def _wide(letter: str) -> str:
    """Write a letter or figure full-width, as East Asian keyboards may."""
    return chr(ord(letter) + 0xFEE0) if "!" <= letter <= "~" else letter
