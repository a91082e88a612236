"""What each door takes: the forms of the pages, filled in as a person might."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from html.parser import HTMLParser
from typing import Any
from urllib.parse import parse_qsl, urljoin, urlsplit

from tests.conftest import PASSWORD
from tests.web.mutations import Pairs

FILLED = {
    "number": "3",
    "time": "10:00",
    "email": "nia.two@example.org",
    "password": PASSWORD,
    "file": "",
}


@dataclass(frozen=True)
class PageForm:
    """One form of a page: where it is sent, what it sends, and what it might send."""

    method: str
    address: str
    pairs: Pairs = field(default_factory=list)
    ticks: Pairs = field(default_factory=list)
    files: list[str] = field(default_factory=list)


class _Reader(HTMLParser):
    def __init__(self, address: str, today: str) -> None:
        super().__init__()
        self.address, self.today = address, today
        self.forms: list[PageForm] = []
        self.links: set[str] = set()
        self.form: PageForm | None = None
        self.radios: dict[str, int] = {}
        self.select = ""
        self.options: list[tuple[str, bool]] = []
        self.area = ""
        self.text = ""

    def handle_starttag(self, tag: str, attributes: Any) -> None:
        found = {name: value or "" for name, value in attributes}
        if tag == "form":
            address = urljoin(self.address, found.get("action", ""))
            self.form = PageForm(found.get("method", "get").lower(), address)
            self.forms.append(self.form)
            self.radios = {}
        elif tag == "a":
            self.links.add(urljoin(self.address, found.get("href", "")))
        if self.form is None:
            return
        name = found.get("name", "")
        if tag == "input" and name:
            self._input(found)
        elif tag == "select":
            self.select, self.options = name, []
        elif tag == "option" and self.select:
            self.options.append((found.get("value", ""), "selected" in found))
        elif tag == "textarea":
            self.area, self.text = name, ""
        elif tag == "button" and name:
            self.form.ticks.append((name, found.get("value", "")))

    def _input(self, found: dict[str, str]) -> None:
        assert self.form is not None
        name, sort = found["name"], found.get("type", "text")
        pair = (name, found.get("value", "on" if sort == "checkbox" else ""))
        if name == "csrfmiddlewaretoken":
            return
        if sort == "file":
            self.form.files.append(name)
        elif sort == "radio":
            if name not in self.radios:
                self.radios[name] = len(self.form.pairs)
                self.form.pairs.append(pair)
            elif "checked" in found or not self.form.pairs[self.radios[name]][1]:
                self.form.pairs[self.radios[name]] = pair
        elif sort == "checkbox":
            (self.form.pairs if "checked" in found else self.form.ticks).append(pair)
        elif pair[1] or sort == "hidden":
            self.form.pairs.append(pair)
        elif sort == "date":
            self.form.pairs.append((name, self.today))
        elif found.get("inputmode") in ("decimal", "numeric"):
            self.form.pairs.append((name, FILLED["number"]))
        else:
            self.form.pairs.append((name, FILLED.get(sort, "A word")))

    def handle_data(self, data: str) -> None:
        if self.area:
            self.text += data

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self.form = None
        elif self.form is None:
            return
        elif tag == "select" and self.select:
            chosen = [value for value, selected in self.options if selected]
            values = [value for value, _selected in self.options if value]
            if chosen or values:
                value = chosen[0] if chosen and chosen[0] else (values or chosen)[0]
                self.form.pairs.append((self.select, value))
            self.select = ""
        elif tag == "textarea" and self.area:
            self.form.pairs.append((self.area, self.text.strip() or "Some words"))
            self.area = ""


def forms_of(html: str, address: str, today: str) -> list[PageForm]:
    """Return the forms of a page, the one about many signs once for each sign."""
    reader = _Reader(address, today)
    reader.feed(html)
    forms = []
    for form in reader.forms:
        signs = [value for name, value in form.ticks + form.pairs if name == "sign"]
        forms += [_about(form, sign) for sign in signs] if len(signs) > 1 else [form]
    return forms


def _about(form: PageForm, sign: str) -> PageForm:
    """Keep of a look what belongs to one sign, ticked."""
    pairs = [
        pair
        for pair in form.pairs
        if pair[0] not in ("sign", "all_well")
        and (":" not in pair[0] or pair[0].startswith(f"{sign}:"))
    ]
    ticks = [pair for pair in form.ticks if ":" not in pair[0] and pair[0] != "sign"]
    return replace(form, pairs=[*pairs, ("sign", sign)], ticks=ticks, files=["photos"])


def asked_of(html: str, address: str) -> list[tuple[str, Pairs]]:
    """Return the addresses with questions that a page links to."""
    reader = _Reader(address, "")
    reader.feed(html)
    asked = []
    for link in sorted(reader.links):
        parts = urlsplit(link)
        if parts.query and not parts.netloc:
            asked.append((parts.path, parse_qsl(parts.query, keep_blank_values=True)))
    return asked
