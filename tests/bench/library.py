"""The library where 500,000 photos are on record, and the sizes of one of them."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator
from datetime import timedelta

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")
django.setup()

from django.core.management import call_command  # noqa: E402
from django.db import connection  # noqa: E402
from django.test import Client  # noqa: E402

from orchard.records.models import (  # noqa: E402
    Finding,
    Membership,
    Orchard,
    Photo,
    PhotoLink,
    Tree,
    User,
)
from orchard.services import photos  # noqa: E402
from orchard.services.photos import PhotoFilters  # noqa: E402
from tests.bench import data, three_sizes  # noqa: E402
from tests.bench.pages import (  # noqa: E402
    ASKING,
    Line,
    analyse,
    at_most,
    fetch,
    main,
    medians,
    page,
    queries,
    the_same,
)

LIBRARY_MOST = 8.0
TREES, PHOTOS, LOOKS_EACH = 500, 500_000, 40
# Over so many years they came in.
YEARS = 10


def add_photos(orchard: Orchard, person: User, numbers: range) -> None:
    """Add photos, each of a tree, some of a sign of it, with no file beside them."""
    apart = timedelta(days=365 * YEARS) / PHOTOS
    data.in_batches(
        Photo,
        (
            Photo(
                orchard=orchard,
                by=person,
                sha256=f"{number:064x}",
                file_format="JPEG",
                width=2048,
                height=1536,
                size_bytes=2_000_000,
                received_at=data.NOW - apart * (PHOTOS - number),
                taken_at=data.NOW - apart * (PHOTOS - number) - timedelta(hours=1),
                caption=f"What the leaf shows, number {number}",
                alt_text="A leaf" if number % 3 else "",
                credit="The crew",
                people=("nobody", "unknown", "somebody")[number % 3],
                view=("close_up", "branch", "whole_tree")[number % 3],
                audience=("public", "talks", "inside")[number % 3],
                likeness=number * 0x9E3779B97F4A7C15 % 2**63,
            )
            for number in numbers
        ),
    )
    trees = list(Tree.objects.in_orchard(orchard).order_by("id"))
    findings = list(Finding.objects.order_by("id").values_list("id", "inspection_id"))
    rows = Photo.objects.order_by("id")[numbers.start :].values_list("id", flat=True)

    def links() -> Iterator[PhotoLink]:
        for number, photo in zip(numbers, rows.iterator(), strict=True):
            yield PhotoLink(photo_id=photo, tree=trees[number * 7 % len(trees)])
            if number % 2 and findings:
                finding, look = findings[number % len(findings)]
                yield PhotoLink(photo_id=photo, finding_id=finding)
                yield PhotoLink(photo_id=photo, inspection_id=look)

    data.in_batches(PhotoLink, links())


def raw_library(orchard: Orchard, member: Membership) -> Callable[[], None]:
    """Return hand-written SQL for the first page: photos, what they show, filters."""
    first = """
        SELECT photo.*, person.name FROM records_photo AS photo
        JOIN records_user AS person ON person.id = photo.by_id
        WHERE photo.orchard_id = %(orchard)s AND photo.superseded_at IS NULL
            AND photo.withdrawn_at IS NULL
        ORDER BY photo.received_at DESC, photo.id DESC LIMIT 25
    """
    here = """
        WITH here AS (
            SELECT id FROM records_photo
            WHERE orchard_id = %(orchard)s AND superseded_at IS NULL
                AND withdrawn_at IS NULL
            ORDER BY received_at DESC, id DESC LIMIT 24
        )
    """
    trees = f"""
        {here} SELECT link.photo_id, tree.code, kind.name, look.condition
        FROM here JOIN records_photolink AS link ON link.photo_id = here.id
        LEFT JOIN records_tree AS tree ON tree.id = link.tree_id
        LEFT JOIN records_kind AS kind ON kind.id = tree.kind_id
        LEFT JOIN records_inspection AS look ON look.id = link.inspection_id
        WHERE link.tree_id IS NOT NULL OR link.inspection_id IS NOT NULL
    """  # noqa: S608
    signs = f"""
        {here} SELECT link.photo_id, finding.sign, finding.part, finding.verdict,
            finding.override, finding.sure, second.answer,
            EXISTS (
                SELECT 1 FROM records_case AS "case"
                WHERE "case".tree_id = finding.tree_id AND "case".sign = finding.sign
                    AND "case".closed_at >= look.seen_at
            )
        FROM here JOIN records_photolink AS link ON link.photo_id = here.id
        JOIN records_finding AS finding ON finding.id = link.finding_id
        JOIN records_inspection AS look ON look.id = finding.inspection_id
        LEFT JOIN records_secondlook AS second ON second.finding_id = finding.id
        WHERE look.superseded_at IS NULL AND look.withdrawn_at IS NULL
    """  # noqa: S608
    doubles = """
        SELECT photo.id, photo.name, photo.caption, photo.alt_text,
            photo.received_at, photo.likeness
        FROM records_photo AS photo
        WHERE photo.orchard_id = %(orchard)s AND photo.superseded_at IS NULL
            AND photo.withdrawn_at IS NULL AND photo.likeness IS NOT NULL
            AND photo.received_at BETWEEN %(since)s AND %(until)s
        ORDER BY photo.received_at DESC, photo.id DESC LIMIT 2000
    """
    kinds = "SELECT id, name FROM records_kind WHERE orchard_id = %(orchard)s"
    people = """
        SELECT person.id, person.name FROM records_membership AS member
        JOIN records_user AS person ON person.id = member.user_id
        WHERE member.orchard_id = %(orchard)s ORDER BY person.name, member.id
    """
    shown = Photo.objects.order_by("-received_at", "-id")[:24]
    received = [photo.received_at for photo in shown]
    around = (min(received) - timedelta(days=1), max(received) + timedelta(days=1))
    if connection.vendor == "sqlite":
        around = tuple(f"{moment:%Y-%m-%d %H:%M:%S}" for moment in around)
    values = {"orchard": orchard.pk, "person": member.user_id}
    values |= {"since": around[0], "until": around[1]}
    every = [ASKING, first, trees, signs, doubles, kinds, people]
    return lambda: fetch(*((sql, values) for sql in every))


def measure(*, small: bool) -> list[Line]:
    count = PHOTOS // 100 if small else PHOTOS
    call_command("migrate", verbosity=0)
    sizes = data.Sizes(TREES, TREES, looks_each=0, closed_each=0)
    orchard, person = data.make_place(sizes)
    data.add_history(orchard, person, looks=range(LOOKS_EACH), closed=range(0))
    member = Membership.objects.select_related("orchard").get(
        orchard=orchard, user=person
    )
    client = Client()
    client.force_login(person)
    address = "/bench/photos/"
    few_photos = 500
    add_photos(orchard, person, range(few_photos))
    analyse()
    few = queries(client, address)
    add_photos(orchard, person, range(few_photos, count))
    analyse()
    many = queries(client, address)

    def asked(**filters) -> Callable[[], object]:
        return lambda: photos.library(member, PhotoFilters(**filters))

    narrowed = {
        "of a tree": asked(tree="T-7"),
        "of a sign": asked(sign="sucker"),
        "of a season": asked(season="spring"),
        "free for talks": asked(use="talks"),
        "by everyday words": asked(words="shoots from below the graft"),
        "words that fit nothing": asked(words="hailstones"),
    }
    raw, shown, whole = medians(
        raw_library(orchard, member), asked(), page(client, address)
    )
    times = medians(*narrowed.values(), runs=5)
    on_postgres = connection.vendor == "postgresql"
    return [
        Line("photos, links", f"{count:,}, {PhotoLink.objects.count():,}"),
        Line("library, raw SQL", f"{raw:.2f} ms"),
        Line("library, photos of a page", f"{shown:.2f} ms"),
        Line("library, page", f"{whole:.2f} ms"),
        at_most("library / raw", whole / raw, LIBRARY_MOST, counts=on_postgres),
        the_same("queries of the library", few, many),
        *(
            Line(f"library, {name}", f"{each:.2f} ms")
            for name, each in zip(narrowed, times, strict=True)
        ),
        *lines_of_sizes(),
    ]


def lines_of_sizes() -> list[Line]:
    found = three_sizes.measure()
    lines = [
        Line(f"sizes of a photo, {way}", f"{each['cpu'] * 1000:.0f} ms of CPU")
        for way, each in found.items()
    ]
    lines.append(
        at_most("their memory, MB", found["ours"]["more"], three_sizes.MEMORY_MOST)
    )
    if "libvips" in found:
        ratio = found["ours"]["cpu"] / found["libvips"]["cpu"]
        lines.append(at_most("ours / libvips", ratio, three_sizes.CPU_MOST))
    else:
        lines.append(Line("ours / libvips", "no pyvips here"))
    return lines


if __name__ == "__main__":
    sys.exit(main(measure))
