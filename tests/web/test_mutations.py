"""Whatever is sent, nothing breaks: what cannot be taken is refused in words.

One test for each kind of door: forms, entries of phones, questions in addresses,
addresses themselves, files, and what no browser sends. Each throws its seeds at valid
data. With ORCHARD_LONG there are 20,000 of each kind; a part of them, or one that
fails, is run by itself with ORCHARD_SEED=first-last or the seed alone.
"""

from __future__ import annotations

import json
import logging
import os
import re
import time
import traceback
import uuid
import warnings
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from html import unescape
from http.cookies import SimpleCookie
from io import BytesIO
from typing import Any
from urllib.parse import quote, urlencode
from zipfile import ZipFile, ZipInfo

import pytest
from django.apps import apps
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.signals import got_request_exception
from django.db import connection, transaction
from django.test import Client, override_settings
from django.urls import reverse
from django.utils import timezone
from PIL import Image

from orchard.records.models import Finding
from tests.conftest import make_person, make_tree
from tests.web.mutations import EVERY, Mutator, Pairs
from tests.web.test_who_may import INSIDE, NO, OPEN, Row, Things, make_things
from tests.web.valid_data import PageForm, asked_of, forms_of

pytestmark = pytest.mark.django_db
LONG = bool(os.environ.get("ORCHARD_LONG"))
SHORT = {"forms": 150, "entries": 150, "questions": 100, "addresses": 250}
SHORT |= {"files": 50, "strange": 150}
COUNT = {kind: 20_000 if LONG else count for kind, count in SHORT.items()}
SOME_SEEDS = os.environ.get("ORCHARD_SEED", "")
MOST_SHOWN = 12
TOKEN = "t" * 32
# Written whatever becomes of a request: who is signed in, and who tried.
ASIDE = {"django_session", "records_signintry", "records_user"}
WRITES = re.compile(r'(?:INSERT INTO|UPDATE|DELETE FROM) "(\w+)"')
# How a page says what is wrong: above its form, beside a field, or as its heading.
IN_WORDS = re.compile(
    r'(?:class="notice refused"[^>]*>|class="errorlist"[^>]*>|<h1[^>]*>)(.{12,}?)</',
    re.DOTALL,
)
# What pages read from their addresses without a link or a form that shows it.
QUESTIONS: Pairs = [
    *(("after", "2026-05-12|4"), ("page", "2"), ("go", "A-1"), ("year", "2025")),
    *(("lane", "looks"), ("before", "2026-05-12|1"), ("undone", "1"), ("spot", "1")),
    *(("group", "navel"), ("region", "PT"), ("month", "2026-04"), ("q", "leaf")),
    *(("part", "leaf"), ("sign", "aphids"), ("block", "A"), ("give", "back")),
    *(("back", "/alderbrook/"), ("codes", "A-1"), ("round", "1"), ("tree", "A-1")),
    *(("next", "/alderbrook/"), ("undo", "1"), ("part", "cards"), ("who", "1")),
]


@dataclass(frozen=True)
class Sending:
    """One request, as it is sent."""

    door: str
    who: str
    method: str
    address: str
    data: Any = None
    content_type: str | None = None
    extra: tuple[tuple[str, str], ...] = ()

    def __str__(self) -> str:
        words = f"{self.door}: {self.who} {self.method} {self.address[:300]}"
        return f"{words} {str(self.data)[:1500]} {self.content_type or ''} {self.extra}"


class QuickClient(Client):
    """A client that watches for faults, and not for what pages are made with."""

    def __init__(self) -> None:
        # As in the field: the token is asked for, and so the body is read first.
        super().__init__(enforce_csrf_checks=True)
        got_request_exception.connect(self.store_exc_info)

    def request(self, **request: Any) -> Any:
        answer = self.handler(self._base_environ(**request))
        self.check_exception(answer)
        return answer


class House:
    """The doors of an orchard, with a signed-in client for each person."""

    def __init__(self, things: Things) -> None:
        self.things = things
        self.today = timezone.now().date().isoformat()
        south = things.people["X"].memberships.get().orchard
        other = make_tree(south, "S-1")
        nia = make_person("Nia", south, "volunteer")
        self.foreign = [
            *(str(row.pk) for row in (other, other.spot, other.kind, nia, south)),
            *(south.slug, other.code, nia.email),
        ]
        self.cookies = {}
        for letter, user in things.people.items():
            client = Client()
            client.force_login(user)
            self.cookies[letter] = client.cookies["sessionid"].value
        self.client = QuickClient()
        self.tables = [
            model._meta.db_table
            for model in apps.get_app_config("records").get_models(
                include_auto_created=True
            )
            if model._meta.db_table not in ASIDE
        ]
        self.before = self.rows(self.tables)
        self.statuses: Counter[str] = Counter()

    @cached_property
    def pages(self) -> list[tuple[str, str, str]]:
        """Every page: who opened it, its address and its HTML."""
        return list(pages(self))

    def address(self, row: Row) -> str:
        return reverse(row.name, args=["alderbrook", *row.args(self.things)])

    def rows(self, tables: list[str]) -> dict[str, list[Any]]:
        """Return the content of tables."""
        found = {}
        with connection.cursor() as cursor:
            for table in tables:
                name = connection.ops.quote_name(table)
                cursor.execute(f"SELECT * FROM {name}")  # noqa: S608
                found[table] = sorted(map(repr, cursor.fetchall()))
        return found

    def send(self, sending: Sending) -> Any:
        """Send a request, and let nothing stay but what it returns."""
        self.client.cookies = SimpleCookie({"csrftoken": TOKEN})
        if sending.who in self.cookies:
            self.client.cookies["sessionid"] = self.cookies[sending.who]
        data, headers = sending.data, {"X-CSRFToken": TOKEN, **dict(sending.extra)}
        if sending.method == "GET":
            return self.client.get(sending.address, headers=headers)
        if sending.content_type:
            return self.client.generic(
                "POST", sending.address, data, sending.content_type, headers=headers
            )
        return self.client.post(sending.address, data, headers=headers)

    def fault_of(self, sending: Sending) -> str:
        """Send a request, and say what is wrong with its answer, if anything is."""
        written: set[str] = set()

        def note(execute: Any, sql: str, params: Any, many: bool, context: Any) -> Any:
            if not sql.startswith("SELECT"):
                written.update(WRITES.findall(sql))
            return execute(sql, params, many, context)

        with transaction.atomic():
            try:
                with connection.execute_wrapper(note):
                    answer = self.send(sending)
                fault = self._fault_in(sending, answer, sorted(written - ASIDE))
            except Exception as error:
                fault = _place_of(error)
            transaction.set_rollback(True)
        return fault

    def _fault_in(self, sending: Sending, answer: Any, touched: list[str]) -> str:
        status = answer.status_code
        self.statuses[f"{status // 100}xx"] += 1
        if status >= 500:
            return f"answered {status}"
        if status in (400, 413, 422) and not _says_something(answer):
            return f"answered {status} without a word: {answer.content[:300]!r}"
        if status < 400:
            if touched:
                connection.check_constraints()
            if (
                sending.door == "inbox"
                and json.loads(answer.content)["answer"] == "kept"
            ):
                return self._fault_of_kept()
        elif touched:
            now = self.rows(touched)
            changed = [name for name in touched if now[name] != self.before[name]]
            if changed:
                return f"answered {status} and yet changed {changed}"
        return ""

    def _fault_of_kept(self) -> str:
        """Tell whether what an inbox calls kept is not there once, with its receipt."""
        records = ["records_inspection", "records_photo"]
        now = self.rows(["records_receipt", *records])
        more = {name: len(rows) - len(self.before[name]) for name, rows in now.items()}
        if more["records_receipt"] != 1 or sum(more[name] for name in records) != 1:
            return f"answered kept, and there are {more} more"
        return ""


def _says_something(answer: Any) -> bool:
    if answer["Content-Type"].startswith("application/json"):
        return len(json_of(answer)["reason"]) > 12
    return any(
        re.sub(r"<[^>]*>|\s", "", unescape(words))
        for words in IN_WORDS.findall(html_of(answer))
    )


def _place_of(error: Exception) -> str:
    """Name an error and the innermost lines of ours that it came through."""
    lines = [
        f"{frame.filename.split('/orchard/')[-1]}:{frame.lineno} {frame.name}"
        for frame in traceback.extract_tb(error.__traceback__)
        if "/orchard/" in frame.filename and "site-packages" not in frame.filename
    ]
    return (
        f"{type(error).__name__}: {str(error)[:160]!r} at {' < '.join(lines[:-4:-1])}"
    )


@pytest.fixture(scope="module")
def house(django_db_setup, django_db_blocker, tmp_path_factory) -> Iterator[House]:
    """One house for all, since every sending is undone."""
    media = tmp_path_factory.mktemp("photos")
    with (
        django_db_blocker.unblock(),
        override_settings(MEDIA_ROOT=media),
        transaction.atomic(),
        pytest.MonkeyPatch.context() as patch,
    ):
        # What is refused a thousand times fills no log.
        patch.setattr(logging.root.manager, "disable", logging.CRITICAL)
        things = make_things(media)
        Finding.objects.update(facts={"rootstock_sprouts": True})
        yield House(things)
        transaction.set_rollback(True)


def run(house: House, sending_of: Callable[[int], Sending], kind: str) -> None:
    """Throw seeds at the doors, and fail with what broke, each place once."""
    first = 1_000_000 * list(COUNT).index(kind)
    began = time.monotonic()
    house.statuses.clear()
    seeds = range(first, first + COUNT[kind])
    if SOME_SEEDS:
        start, _dash, end = SOME_SEEDS.partition("-")
        seeds = range(int(start), int(end or start) + 1)
    faults: dict[str, list[tuple[int, Sending]]] = {}
    sent_to = seeds.start
    try:
        for seed in seeds:
            sending = sending_of(seed)
            if fault := house.fault_of(sending):
                key = re.sub(r"'.*?'", "", fault) if len(seeds) > 1 else fault
                faults.setdefault(key, []).append((seed, sending))
            sent_to = seed + 1
    finally:
        # A long run that is stopped has told how far it came, and what it found.
        took = f"{time.monotonic() - began:.0f} s"
        many = f"{sent_to - seeds.start} from seed {seeds.start}"
        print(f"\n{many} sent in {took}: {dict(house.statuses)}")
        count = sum(map(len, faults.values()))
        broken = f"{count} of {len(seeds)} broke it:\n{_told(faults)}"
        if faults and sent_to < seeds.stop:
            print(broken)
    # Where nothing at all is accepted, nothing was valid to begin with.
    assert len(seeds) == 1 or house.statuses["2xx"] + house.statuses["3xx"]
    assert not faults, broken


def _told(faults: dict[str, list[tuple[int, Sending]]]) -> str:
    """Tell each place that broke, the commonest first, with one seed that broke it."""
    told = [
        f"{len(found)} times: {fault}\n    seed {found[0][0]}: {found[0][1]!s}"
        for fault, found in sorted(faults.items(), key=lambda pair: -len(pair[1]))
    ]
    return "\n".join(told if LONG else told[:MOST_SHOWN])


def people_of(allowed: str) -> str:
    return "C" if "C" in allowed else allowed[0]


def json_of(answer: Any) -> Any:
    return json.loads(answer.content)


def html_of(answer: Any) -> str:
    """Return the HTML of a page; a file to keep is none."""
    is_page = answer.get("Content-Type", "").startswith("text/html")
    return answer.content.decode() if is_page and not answer.streaming else ""


def pages(house: House) -> Iterator[tuple[str, str, str]]:
    """Yield every page: who opened it, its address and its HTML."""
    places = [
        (people_of(row.get), house.address(row)) for row in INSIDE if row.get != NO
    ]
    places += [
        (who, reverse(name, args=args(house.things)))
        for name, (args, _statuses) in OPEN.items()
        for who in "NC"
    ]
    places.append(("N", reverse("tag", args=[house.things.tag.token])))
    for who, address in places:
        answer = house.send(Sending("", who, "GET", address))
        yield who, address, html_of(answer)


def forms_on(house: House, row: Row) -> list[tuple[str, PageForm]]:
    """Return the forms of one page."""
    who, address = people_of(row.get), house.address(row)
    html = html_of(house.send(Sending("", who, "GET", address)))
    return [(who, form) for form in forms_of(html, address, house.today)]


def forms(house: House) -> list[tuple[str, PageForm]]:
    """Return every form that a page sends, with who may send it."""
    found: list[tuple[str, PageForm]] = []
    for who, address, html in house.pages:
        found += [
            (who, form)
            for form in forms_of(html, address, house.today)
            if form.method == "post" and form.address.startswith("/")
        ]
    reached = {form.address for _who, form in found}
    for row in INSIDE:
        address = house.address(row)
        if row.post != NO and (row.data or address not in reached):
            form = PageForm("post", address, list(row.data.items()))
            found.append((people_of(row.post), form))
    return found


def by_door(found: list[tuple[str, PageForm]]) -> list[list[tuple[str, PageForm]]]:
    """Gather the forms of each door, so that none comes up for having many."""
    doors: dict[str, list[tuple[str, PageForm]]] = {}
    for who, form in found:
        doors.setdefault(form.address, []).append((who, form))
    return list(doors.values())


def second_steps(
    house: House, found: list[tuple[str, PageForm]]
) -> list[tuple[str, PageForm]]:
    """Return the forms of the pages that answer a form that was sent as it is."""
    known = {(form.address, _names(form)) for _who, form in found}
    steps = []
    for (who, form), *_others in by_door(found):
        if not form.files and not any(name == "step" for name, _value in form.ticks):
            continue
        content = REGISTER if "register" in form.address else DAYS
        for button in [[], *([pair] for pair in form.ticks if pair[0] == "step")]:
            files = [(name, _file(name, content, "a.csv")) for name in form.files]
            data = sent(form.pairs + button, files)
            with transaction.atomic():
                answer = house.send(Sending("", who, "POST", form.address, data))
                html = html_of(answer)
                transaction.set_rollback(True)
            for step in forms_of(html, form.address, house.today):
                if step.method == "post" and (step.address, _names(step)) not in known:
                    known.add((step.address, _names(step)))
                    steps.append((who, step))
    return steps


def _names(form: PageForm) -> tuple[str, ...]:
    return tuple(sorted({name for name, _value in form.pairs + form.ticks}))


def sent(pairs: Pairs, files: list[tuple[str, Any]] = ()) -> dict[str, Any]:
    """Return fields and files as a test client sends them."""
    data: dict[str, Any] = {}
    for name, value in [*pairs, *files]:
        data.setdefault(name, []).append(value)
    return data


def picture() -> bytes:
    out = BytesIO()
    Image.new("RGB", (60, 40), "olive").save(out, "JPEG")
    return out.getvalue()


REGISTER = (
    b"code,cultivar,block,spot,planted,rootstock,note\n"
    b"A-7,Washington navel,A,7,2019-03-01,Carrizo,near the gate\n"
    b"A-8,Valencia,B,8,03/04/2020,C-35,\n"
)
DAYS = (
    b"date,tmin,tmax,rain\n2026-04-01,7,19,0\n2026-04-02,8,20,1.5\n2026-04-04,-1,9,\n"
)


PACKAGE = "http://schemas.openxmlformats.org/package/2006"
OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
SHEETS = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml"
RELATIONS = "application/vnd.openxmlformats-package.relationships+xml"
WORKBOOK = {
    "[Content_Types].xml": f'''<Types xmlns="{PACKAGE}/content-types">
<Default Extension="rels" ContentType="{RELATIONS}"/>
<Override PartName="/xl/workbook.xml" ContentType="{TYPE}.sheet.main+xml"/>
<Override PartName="/xl/styles.xml" ContentType="{TYPE}.styles+xml"/>
<Override PartName="/xl/worksheets/sheet1.xml" ContentType="{TYPE}.worksheet+xml"/>
</Types>''',
    "_rels/.rels": f'''<Relationships xmlns="{PACKAGE}/relationships">
<Relationship Id="r1" Type="{OFFICE}/officeDocument" Target="xl/workbook.xml"/>
</Relationships>''',
    "xl/workbook.xml": f'''<workbook xmlns="{SHEETS}" xmlns:r="{OFFICE}">
<sheets><sheet name="Trees" sheetId="1" r:id="r1"/></sheets></workbook>''',
    "xl/_rels/workbook.xml.rels": f'''<Relationships xmlns="{PACKAGE}/relationships">
<Relationship Id="r1" Type="{OFFICE}/worksheet" Target="worksheets/sheet1.xml"/>
<Relationship Id="r2" Type="{OFFICE}/styles" Target="styles.xml"/></Relationships>''',
    "xl/styles.xml": f'''<styleSheet xmlns="{SHEETS}"><cellXfs count="2">
<xf numFmtId="0"/><xf numFmtId="14" applyNumberFormat="1"/></cellXfs></styleSheet>''',
}


def workbook(content: bytes) -> bytes:
    """Return a table of text as an XLSX file, its days as numbers in a style."""
    rows = "".join(
        f'<row r="{number}">{"".join(map(_cell, line.split(",")))}</row>'
        for number, line in enumerate(content.decode().splitlines(), 1)
    )
    sheet = f'<worksheet xmlns="{SHEETS}"><sheetData>{rows}</sheetData></worksheet>'
    out = BytesIO()
    with ZipFile(out, "w") as archive:
        for name, text in {**WORKBOOK, "xl/worksheets/sheet1.xml": sheet}.items():
            archive.writestr(ZipInfo(name), text)
    return out.getvalue()


def _cell(text: str) -> str:
    if re.fullmatch(r"\d{4}-\d\d-\d\d", text):
        days = (date.fromisoformat(text) - date(1899, 12, 30)).days
        return f'<c s="1"><v>{days}</v></c>'
    if text.replace(".", "", 1).replace("-", "", 1).isdecimal():
        return f"<c><v>{text}</v></c>"
    return f'<c t="inlineStr"><is><t>{text}</t></is></c>'


def _file(name: str, content: bytes | None = None, called: str = "a.jpg") -> Any:
    return SimpleUploadedFile(called, picture() if content is None else content)


def broken_form(house: House, mutator: Mutator, who: str, form: PageForm) -> Sending:
    pairs = list(form.pairs)
    if form.ticks and mutator.dice.random() < 0.6:
        pairs.append(mutator.choose(form.ticks))
    files = (
        [(form.files[0], _file("a"))]
        if mutator.dice.random() < 0.1 and form.files
        else []
    )
    data = sent(mutator.pairs(pairs), files)
    extra = (("HX-Request", "true"),) if mutator.dice.random() < 0.2 else ()
    return Sending(form.address, who, "POST", form.address, data, extra=extra)


def test_broken_forms_are_refused_in_words(house):
    found = forms(house)
    doors = by_door(found + second_steps(house, found))

    def sending_of(seed: int) -> Sending:
        mutator = Mutator(seed, house.foreign)
        who, form = mutator.choose(doors[seed % len(doors)])
        return broken_form(house, mutator, who, form)

    run(house, sending_of, "forms")


# A page asks what matters here; a phone may answer all that the guide can ask.
ASKABLE = ("species", "season", "host", "local_status", "age_y", "live_stage")


def entries(house: House) -> list[tuple[dict[str, Any], bytes | None]]:
    """Return entries of a phone, looks with every sign and photos."""
    now = timezone.now().isoformat()
    address = reverse("inspection-new", args=["alderbrook", "A-1"])
    html = html_of(house.send(Sending("", "V", "GET", address)))
    forms = [
        [list(pair) for pair in form.pairs]
        for form in forms_of(html, address, house.today)
        if "sign" in dict(form.pairs)
    ]
    base = {
        "version": 1,
        "orchard": "alderbrook",
        "person": house.things.vera.pk,
        "made_at": now,
        "sent_at": now,
    }
    number = str(house.things.round.pk)
    found: list[tuple[dict[str, Any], bytes | None]] = [
        (
            {
                **base,
                "key": str(uuid.UUID(int=place + 1)),
                "kind": "inspection",
                "fields": {"tree": "A-1", "form": form, "round": number},
            },
            None,
        )
        for place, form in enumerate([[["all_well", "1"]], *forms])
    ]
    for place in range(len(forms) // 4 + 1):
        fields = {
            "inspection": "",
            "finding_sign": "sucker",
            "taken_at": now,
            "full_size": False,
            "file_name": "leaf.jpg",
            "round": number,
        }
        key = str(uuid.UUID(int=10_000 + place))
        entry = {**base, "key": key, "kind": "photo", "fields": fields}
        found.append((entry, picture()))
    return found


def test_broken_entries_are_refused_in_words(house):
    found = entries(house)

    def sending_of(seed: int) -> Sending:
        mutator = Mutator(seed, house.foreign)
        entry, file = found[seed % len(found)]
        if mutator.dice.random() < 0.4 and "form" in entry["fields"]:
            pairs = [(name, value) for name, value in entry["fields"]["form"]]
            sign = dict(pairs).get("sign")
            if sign and mutator.dice.random() < 0.3:
                pairs.append((f"{sign}:{mutator.choose(ASKABLE)}", mutator.text("1")))
            else:
                pairs = mutator.pairs(pairs)
            form = [list(pair) for pair in pairs]
            text = json.dumps({**entry, "fields": {**entry["fields"], "form": form}})
        else:
            text = mutator.entry(entry)
        data: dict[str, Any] = {"entry": text}
        if file is not None and mutator.dice.random() < 0.9:
            broken = mutator.dice.random() < 0.3
            data["file"] = _file("file", mutator.bytes(file) if broken else file)
        return Sending("inbox", "V", "POST", "/inbox/", data)

    run(house, sending_of, "entries")


def test_broken_questions_in_addresses_break_no_page(house):
    found: list[tuple[str, PageForm]] = []
    for who, address, html in house.pages:
        found.append((who, PageForm("get", address, QUESTIONS)))
        found += [
            (who, form)
            for form in forms_of(html, address, house.today)
            if form.method == "get"
        ]
        found += [
            (who, PageForm("get", path, pairs))
            for path, pairs in asked_of(html, address)
        ]
    doors = by_door(found)

    def sending_of(seed: int) -> Sending:
        mutator = Mutator(seed, house.foreign)
        who, form = mutator.choose(doors[seed % len(doors)])
        address, pairs = form.address, form.pairs + form.ticks
        if form.pairs is QUESTIONS:
            pairs = mutator.dice.sample(QUESTIONS, 3)
        query = urlencode(mutator.pairs(pairs), errors="surrogatepass")
        if mutator.dice.random() < 0.05:
            query += mutator.choose(
                ["&q=%ff%fe", "&after=%c0%80", "&%", "&q=%u0041", "&;"]
            )
        extra = (("HX-Request", "true"),) if mutator.dice.random() < 0.3 else ()
        return Sending(address, who, "GET", f"{address}?{query}", extra=extra)

    run(house, sending_of, "questions")


def test_broken_addresses_break_no_page(house):
    places = [
        (people_of(allowed), method, house.address(row), row.data)
        for row in INSIDE
        for method, allowed in (("GET", row.get), ("POST", row.post))
        if allowed != NO
    ]
    places += [
        (who, method, reverse(name, args=args(house.things)), {})
        for name, (args, _statuses) in [
            *OPEN.items(),
            ("tag", (lambda things: [things.tag.token], {})),
        ]
        for method in ("GET", "POST")
        for who in "NC"
    ]

    def sending_of(seed: int) -> Sending:
        mutator = Mutator(seed, house.foreign)
        who, method, address, data = places[seed % len(places)]
        parts = address.strip("/").split("/")
        place = mutator.dice.randrange(len(parts))
        # Hardly any is valid any more: one in ten stays whole, to be accepted.
        if seed % 10:
            parts[place] = quote(mutator.text(parts[place])[:3000], safe="")
        broken = "/" + "/".join(parts) + "/"
        if mutator.dice.random() < 0.05:
            broken = broken.replace("%", "%ff%", 1)
        data = sent(list(data.items())) if method == "POST" else None
        return Sending(address, who, method, broken, data)

    run(house, sending_of, "addresses")


TAKING_PHOTOS = {"inspection-new", "inspection-correction", "strays", "task-closure"}


def test_broken_files_are_refused_in_words(house):
    tables = [
        (house.address(row), content, row.name)
        for row in INSIDE
        for content in (REGISTER, DAYS)
        if row.name in ("register", "weather-file")
    ]
    about = [
        ("sort", "days"),
        ("station", "new"),
        ("name", "Hill"),
        ("source", "A book"),
    ]
    with_photos = by_door(
        [
            (who, form)
            for row in INSIDE
            if row.name in TAKING_PHOTOS
            for who, form in forms_on(house, row)
            if form.files
        ]
    )

    def sending_of(seed: int) -> Sending:
        mutator = Mutator(seed, house.foreign)
        called = (
            mutator.text("days.csv")[:2000] if mutator.dice.random() < 0.3 else "a.csv"
        )
        # A table has more to break than a picture, and costs a quarter.
        if seed % 4:
            address, content, _name = mutator.choose(tables)
            who, pairs, name = "C", about, "file"
            if mutator.dice.random() < 0.2:
                pairs = mutator.pairs(about)
        else:
            who, form = mutator.choose(with_photos[seed // 4 % len(with_photos)])
            address, pairs, name = form.address, form.pairs, mutator.choose(form.files)
            content = picture()
        # Some tables come as a workbook, made anew for each so that it is the same.
        if seed % 8 == 5:
            broken = mutator.archive(workbook(content))
        else:
            broken = mutator.bytes(content)
        file = _file(name, broken, "a.csv")
        # Past the cleaning of names that making a file does.
        file.__dict__["_name"] = called
        return Sending(address, who, "POST", address, sent(pairs, [(name, file)]))

    with warnings.catch_warnings():
        # What the reader of workbooks only warns of is no fault.
        warnings.filterwarnings("ignore", category=UserWarning, module="openpyxl")
        run(house, sending_of, "files")


CHARSETS = [
    "utf-7",
    "utf-16",
    "hex",
    "rot13",
    "base64",
    "idna",
    "bogus",
    "latin-1",
]
HEADERS = [
    "Accept-Language",
    "If-Modified-Since",
    "If-None-Match",
    "HX-Current-URL",
    "HX-Target",
    "HX-Trigger-Name",
    "X-Forwarded-For",
    "Referer",
    "Accept",
    "Range",
    "X-Forwarded-Proto",
    "Accept-Encoding",
    "Host",
    "Origin",
    "User-Agent",
    "X-CSRFToken",
]


def test_what_no_browser_sends_is_refused_in_words(house):
    rows = [row for row in INSIDE if row.post != NO]
    found = [
        (people_of(row.post), house.address(row), list(row.data.items()))
        for row in rows
    ]

    def sending_of(seed: int) -> Sending:
        mutator = Mutator(seed, house.foreign)
        who, address, pairs = found[seed % len(found)]
        body = urlencode(pairs)
        kind = "application/x-www-form-urlencoded"
        extra: list[tuple[str, str]] = []
        chance = mutator.dice.random()
        if chance < 0.3:
            kind = mutator.choose(
                [
                    "application/json",
                    "text/plain",
                    "multipart/form-data",
                    "multipart/form-data; boundary=x",
                    "multipart/form-data; boundary=" + "x" * 300,
                    *(f"{kind}; charset={charset}" for charset in CHARSETS),
                    *(
                        f"multipart/form-data; boundary=x; charset={c}"
                        for c in CHARSETS
                    ),
                ]
            )
            if "multipart" in kind:
                body = "".join(
                    f"--x\r\nContent-Disposition: form-data; "
                    f'name="{name}"\r\n\r\n{value}\r\n'
                    for name, value in pairs
                )
                body += "--x--\r\n"
        content = body.encode()
        if chance > 0.2:
            content = mutator.bytes(content)
        if chance > 0.5:
            value = mutator.choose(EVERY).encode("latin-1", "ignore").decode("latin-1")
            extra.append((mutator.choose(HEADERS), value))
        if chance > 0.8:
            who = "cookie"
            value = mutator.choose(
                ['"abcdefgh\\000ij"', "x" * 5000, '"\\351"' * 9, "a" * 32]
            )
            extra.append(
                ("Cookie", f"sessionid={value}; messages={value}; csrftoken={TOKEN}")
            )
        return Sending(address, who, "POST", address, content, kind, tuple(extra))

    run(house, sending_of, "strange")
