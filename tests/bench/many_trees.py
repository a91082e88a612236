"""An orchard of many trees and few sorts of them: ground, pots, weather, tests."""

from __future__ import annotations

import math
import random
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta

from orchard.records.models import (
    Block,
    Crown,
    Forecast,
    Happening,
    Orchard,
    Reading,
    RipenessTest,
    Spot,
    StageNote,
    Station,
    Stay,
    Tree,
    User,
    Watering,
    WeatherDay,
)
from orchard.services import guide_sync, orchards, water
from tests.bench.data import in_batches

# A winter afternoon: frost may come, fruit hangs ripe, the ground was last full.
TODAY = date(2026, 1, 14)
NOW = datetime(2026, 1, 14, 14, 0, tzinfo=UTC)
YEARS = 3
BLOCKS = 10
KINDS = (
    "Washington navel",
    "Cara Cara",
    "Valencia",
    "Moro",
    "Owari satsuma",
    "Nules clementine",
    "Minneola tangelo",
    "Marsh grapefruit",
    "Daisy",
    "Rio Red",
)
ROOTSTOCKS = ("Carrizo / Troyer citrange", "Trifoliate orange", "")
PLANTED = (date(2009, 3, 1), date(2016, 3, 1), date(2019, 11, 1), date(2024, 3, 1))
LITRES = (25.0, 40.0, 80.0)


def make_orchard(trees: int, slug: str) -> tuple[Orchard, User]:
    """Make an orchard with so many trees, and its coordinator."""
    dice = random.Random(20260114)
    person = User.objects.create_user(f"{slug}@example.org", "Coordinator", None)
    orchard = orchards.found(
        name=slug.title(),
        slug=slug,
        place="Nowhere",
        time_zone="UTC",
        latitude="38.5",
        longitude="-8.5",
        frost_from="SM8-15",
        frost_to="SM12-31",
        coordinator=person,
        now=NOW - timedelta(days=365 * YEARS),
    )
    _add_trees(orchard, trees, dice)
    _add_weather(orchard, person, dice)
    _add_readings(orchard, person, dice)
    guide_sync.bring_up_to_date(orchard, NOW)
    return orchard, person


def _add_trees(orchard: Orchard, trees: int, dice: random.Random) -> None:
    book = {kind.name: kind for kind in orchard.kinds.all()}
    kinds = [book[name] for name in KINDS]
    in_batches(
        Block,
        (
            Block(orchard=orchard, code=f"B{n}", name=f"Block {n}", position=n)
            for n in range(BLOCKS)
        ),
    )
    blocks = list(Block.objects.filter(orchard=orchard).order_by("id"))
    in_batches(
        Spot,
        (
            Spot(block=blocks[n * BLOCKS // trees], number=str(n), position=n)
            for n in range(trees)
        ),
    )
    spots = Spot.objects.filter(block__orchard=orchard).order_by("id")

    def planted() -> Iterator[Tree]:
        for number, spot in enumerate(spots.iterator()):
            potted = number % 10 == 0
            on = dice.choice(PLANTED)
            yield Tree(
                orchard=orchard,
                spot=spot,
                code=f"T-{number}",
                # A block is planted with a few cultivars, one beside the other.
                kind=kinds[(number * BLOCKS // trees + number % 2) % len(kinds)],
                rootstock=dice.choice(ROOTSTOCKS),
                setting="container" if potted else "ground",
                container_litres=dice.choice(LITRES) if potted else None,
                born_on=on - timedelta(days=700),
                planted_on=on,
                irrigated=not potted,
                entered_at=NOW - timedelta(days=300),
                last_seen_on=TODAY - timedelta(days=dice.randrange(90)),
                condition=dice.randint(2, 5),
            )

    in_batches(Tree, planted())
    rows = Tree.objects.in_orchard(orchard).order_by("id")
    in_batches(
        Stay,
        (Stay(tree=row, spot_id=row.spot_id, since_on=row.planted_on) for row in rows),
    )


def _add_weather(orchard: Orchard, person: User, dice: random.Random) -> None:
    station = Station.objects.create(
        orchard=orchard,
        name="Gate",
        sort="own",
        source="own",
        made_by=person,
        made_at=NOW,
    )

    def measured() -> Iterator[WeatherDay]:
        for back in range(366 * YEARS, 0, -1):
            on = TODAY - timedelta(days=back)
            season = math.cos(2 * math.pi * on.timetuple().tm_yday / 365.25)
            mean = 16 - 6 * season + dice.gauss(0, 1.5)
            # Wet winters, dry summers.
            rains = dice.random() < (0.35 if season > 0 else 0.03)
            yield WeatherDay(
                station=station,
                on=on,
                tmin=mean - 5,
                tmax=mean + 6,
                rh_mean=65 + 10 * season,
                wind_2m=1.8,
                rain_mm=dice.expovariate(1 / 9) if rains else 0.0,
                by=person,
                received_at=NOW,
            )

    in_batches(WeatherDay, measured())
    in_batches(
        Forecast,
        (
            Forecast(
                orchard=orchard,
                for_on=TODAY + timedelta(days=ahead),
                made_at=NOW - timedelta(hours=3),
                source="service",
                tmin=-3.0 + ahead,
                tmax=12.0,
                dew_point=-4.0,
                wind=0.5,
                cloud=5.0,
                rain_mm=0.0,
                by=person,
                received_at=NOW,
            )
            for ahead in range(8)
        ),
    )


def _add_readings(orchard: Orchard, person: User, dice: random.Random) -> None:
    rows = list(
        Tree.objects.in_orchard(orchard).order_by("id").select_related("kind", "spot")
    )
    noted = {"orchard": orchard, "by": person, "received_at": NOW}
    water.set_soil(orchard, sort="loam", cover="bare", by=person, now=NOW)
    in_batches(
        Crown,
        (
            Crown(
                tree=row,
                measured_on=TODAY - timedelta(days=100 + dice.randrange(200)),
                width_m=dice.randrange(10, 45) / 10,
                height_m=dice.randrange(10, 40) / 10,
                **noted,
            )
            for row in rows
        ),
    )
    # The valves of a block open on one day; pots are watered by hand.
    in_batches(
        Watering,
        (
            Watering(
                tree=row,
                given_on=TODAY - timedelta(days=back + row.spot_id % 3),
                litres=8.0 if row.container_litres else 40.0,
                **noted,
            )
            for row in rows
            for back in ((12, 5) if row.container_litres else (150, 120, 90, 20))
        ),
    )
    groups = sorted({row.kind.group for row in rows if row.kind.group})
    stages = ((65, 280), (69, 262), (31, 240), (65, 280 + 365), (69, 264 + 365))
    in_batches(
        StageNote,
        (
            StageNote(
                group=group, bbch=bbch, seen_on=TODAY - timedelta(days=back), **noted
            )
            for group in groups
            for bbch, back in stages
        ),
    )
    first = {(row.kind_id, row.spot.block_id): row for row in rows}
    in_batches(
        RipenessTest,
        (
            RipenessTest(
                tree=row,
                tested_on=TODAY - timedelta(days=back),
                fruits=5,
                brix_read=11.0,
                acid_percent=1.0,
                juice_percent=45.0,
                taste=4,
                tasters=3,
                **noted,
            )
            for row in first.values()
            for back in (20, 6)
        ),
    )
    in_batches(
        Happening,
        (
            Happening(
                tree=row if number else None,
                what="bark_bared" if number else "frost_night",
                happened_on=TODAY - timedelta(days=10 + number % 30),
                **noted,
            )
            for number, row in enumerate(rows[:: max(10, len(rows) // 30)])
        ),
    )
    in_batches(
        Reading,
        (
            Reading(
                what="lowest",
                at=NOW - timedelta(days=back, hours=7),
                on=TODAY - timedelta(days=back),
                celsius=4.0 + back % 3,
                calm_clear=True,
                **noted,
            )
            for back in range(1, 12)
        ),
    )
