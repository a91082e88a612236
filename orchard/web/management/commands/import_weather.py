"""Import a weather file from the shell; check it only, unless told to save it.

manage.py import_weather days.csv --orchard alderbrook --by cora@example.org \\
    --station Hill --units wind_10m=m/s --save
"""

from __future__ import annotations

from argparse import ArgumentParser
from functools import partial
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from orchard.records.days import day_in
from orchard.records.models import Membership, Orchard, Station
from orchard.services import accounts, permissions, weather
from orchard.services.errors import NotThere, Refused
from orchard.services.imports import weather_files
from orchard.services.imports.sheets import Sheet, read_sheet
from orchard.services.imports.weather_files import (
    NewStation,
    Sort,
    WeatherChoices,
    WeatherPreview,
)
from orchard.services.permissions import Deed

WIDTH = 40
MOST_LISTED = 20


class Command(BaseCommand):
    help = "Check a file of daily weather or a forecast; with --save, import all of it."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument(
            "--orchard", required=True, help="short name of the orchard"
        )
        parser.add_argument(
            "--by", required=True, help="e-mail address of the member who imports it"
        )
        parser.add_argument(
            "--sort", choices=[str(sort) for sort in Sort], default="days"
        )
        parser.add_argument("--station", default="", help="name of the weather station")
        parser.add_argument(
            "--own", action="store_true", help="a new station is in the orchard"
        )
        parser.add_argument(
            "--source",
            default="",
            help="where the figures of a new station or forecast come from",
        )
        parser.add_argument(
            "--mapping", default="", help="heading=field pairs, separated by commas"
        )
        parser.add_argument(
            "--units", default="", help="field=unit pairs, separated by commas"
        )
        parser.add_argument(
            "--order", choices=["day", "month"], help="what comes first in 3/4/2021"
        )
        parser.add_argument(
            "--only-station",
            default="",
            help="whose days to import, where the file has several stations",
        )
        parser.add_argument(
            "--as-gaps",
            action="store_true",
            help="leave out values that can't be right, and mark them missing",
        )
        parser.add_argument(
            "--correct", action="store_true", help="replace days that differ"
        )
        parser.add_argument(
            "--save",
            action="store_true",
            help="import the file instead of only checking it",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            self.take(options)
        except Refused as refusal:
            raise CommandError(str(refusal)) from refusal

    def take(self, options: dict[str, Any]) -> None:
        now = timezone.now()
        orchard, member = self.who(options)
        today = day_in(now, orchard.time_zone)
        sheet = self.read(options["file"], options["sort"])
        station = self.station(orchard, options)
        choices = self.choices(sheet, options)
        details = {"sort": options["sort"], "today": today, "choices": choices}
        if not options["save"]:
            looked = weather_files.preview(
                orchard,
                sheet,
                station=station if isinstance(station, Station) else None,
                progress=self.bar,
                **details,
            )
            self.tell(looked)
            return
        taken = weather_files.import_days(
            orchard,
            sheet,
            station=station,
            by=member.user,
            now=now,
            source=options["source"],
            progress=self.bar,
            **details,
        )
        self.stdout.write(
            f"{orchard.slug}: {taken.new} new, {taken.here} here already, "
            f"{taken.corrected} corrected."
        )

    def who(self, options: dict[str, Any]) -> tuple[Orchard, Membership]:
        """Find the person in the orchard, in a role that may do this."""
        user = accounts.user_by_email(options["by"])
        try:
            if user is None:
                raise NotThere()
            member = permissions.member_for(user, options["orchard"])
        except NotThere:
            raise CommandError(
                f"{options['by']} is not a member of an orchard {options['orchard']!r}."
            ) from None
        permissions.require(member, Deed.KEEP_WEATHER)
        return member.orchard, member

    def read(self, path: Path, sort: str) -> Sheet:
        fields = weather_files.fields_of(sort)
        try:
            with path.open("rb") as file:
                return read_sheet(
                    file,
                    path.name,
                    most_rows=weather_files.MOST_ROWS,
                    recognise=partial(weather_files.count_recognised, fields=fields),
                )
        except OSError as fault:
            raise CommandError(f"{path} can't be read: {fault.strerror}.") from fault

    def station(
        self, orchard: Orchard, options: dict[str, Any]
    ) -> Station | NewStation | None:
        if options["sort"] == Sort.FORECAST:
            return None
        name = options["station"]
        stations = {row.name.lower(): row for row in weather.stations_of(orchard)}
        if name.lower() in stations:
            return stations[name.lower()]
        sort = Station.Sort.OWN if options["own"] else Station.Sort.RECORD
        return NewStation(name, options["source"], sort)

    def choices(self, sheet: Sheet, options: dict[str, Any]) -> WeatherChoices:
        fields = weather_files.fields_of(options["sort"])
        mapping = list(weather_files.mapping_of(sheet.headings, fields))
        for head, code in self.pairs("--mapping", options["mapping"]):
            if head not in sheet.headings:
                raise CommandError(f"--mapping: the file has no heading {head!r}.")
            if code and code not in weather_files.labels(fields):
                codes = ", ".join(weather_files.labels(fields))
                raise CommandError(
                    f"--mapping: {code!r} isn't a field. Choose from {codes}."
                )
            mapping[sheet.headings.index(head)] = code
        units = dict(self.pairs("--units", options["units"]))
        for code, unit in units.items():
            if code not in fields or unit not in fields[code].units:
                possible = ", ".join(fields[code].units) if code in fields else ""
                raise CommandError(
                    f"--units: {code}={unit} isn't valid."
                    + (
                        f" Choose from {possible}."
                        if possible
                        else f" {code} isn't a field."
                    )
                )
        return WeatherChoices(
            mapping=tuple(mapping),
            units=units,
            day_first={"day": True, "month": False}.get(options["order"] or ""),
            only_station=options["only_station"],
            as_gaps=options["as_gaps"],
            correct=options["correct"],
        )

    def pairs(self, option: str, text: str) -> list[tuple[str, str]]:
        found = []
        for part in filter(None, (part.strip() for part in text.split(","))):
            left, equals, right = part.partition("=")
            if not equals:
                raise CommandError(f"{option}: write {part!r} as name=value.")
            found.append((left.strip(), right.strip()))
        return found

    def bar(self, done: int, whole: int) -> None:
        """Draw how much of the file is checked, on the error stream."""
        filled = done * WIDTH // whole
        end = "\n" if done == whole else "\r"
        drawn = f"[{'#' * filled}{'.' * (WIDTH - filled)}] {done} of {whole} rows"
        self.stderr.write(drawn, ending=end)

    def tell(self, looked: WeatherPreview) -> None:
        """Say what would happen; leave with an error when nothing could be kept."""
        for column in looked.columns:
            if column.field:
                unit = column.unit or ("unit not certain" if column.units else "")
                how = f" ({column.how})" if column.how else ""
                self.stdout.write(f"{column.heading}: {column.field} {unit}{how}")
        for first, last in looked.missing[:MOST_LISTED]:
            self.stdout.write(f"days missing from the file: {first} to {last}")
        for fault in looked.faults:
            self.stdout.write(f"rows {fault.rows}: {fault.sentence}")
        for row in looked.remarkable[:MOST_LISTED]:
            for text in (*row.reasons, *row.notes):
                self.stdout.write(f"row {row.number}: {text}")
        if looked.problems:
            raise CommandError(" ".join(looked.problems))
        self.stdout.write(
            f"{looked.new} new, {looked.here} here already, {looked.corrected} to "
            f"correct, {looked.gaps} values missing, {looked.refused} rows refused."
        )
        if looked.refused:
            raise CommandError("A file is imported whole or not at all.")
        self.stdout.write("Nothing is saved yet. Add --save to import it.")
