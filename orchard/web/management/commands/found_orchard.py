"""Found an orchard from the shell, with its first coordinator."""

from __future__ import annotations

from argparse import ArgumentParser
from collections.abc import Callable
from getpass import getpass
from typing import Any

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError
from django.core.validators import validate_email
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from orchard.records.models import User
from orchard.science import guide
from orchard.services import accounts, house_rules, orchards
from orchard.services.errors import Refused
from orchard.web import mails

UNITS = {"": "metric", "m": "metric", "metric": "metric", "u": "us", "us": "us"}


class Command(BaseCommand):
    help = "Create an orchard with its first coordinator. Asks for missing details."

    def add_arguments(self, parser: ArgumentParser) -> None:
        for option, meaning in [
            ("--name", "name of the orchard"),
            ("--slug", "short name for web addresses; default: made from the name"),
            ("--place", "where the orchard is, such as the town"),
            ("--time-zone", "time zone, like Europe/Lisbon"),
            ("--latitude", "degrees, south below zero"),
            ("--longitude", "degrees, west below zero"),
            ("--units", "metric or us"),
            ("--frost-from", "first day of the frost season, like SM9-01"),
            ("--frost-to", "last day of the frost season, like SM1-15"),
            ("--region", "region whose pests are suggested, like med_europe"),
            ("--report-name", "whom to ring first when a regulated pest is suspected"),
            ("--report-phone", "their phone number"),
            ("--authority-name", "name of the plant-health authority"),
            ("--authority-phone", "its phone number"),
            ("--coordinator-name", "name of the first coordinator"),
            ("--coordinator-email", "e-mail address of the first coordinator"),
        ]:
            parser.add_argument(option, help=meaning)
        parser.add_argument(
            "--password",
            action="store_true",
            help="ask for the coordinator's password instead of printing a link",
        )
        parser.add_argument(
            "--no-input",
            action="store_true",
            help="ask nothing; stop if a detail is missing",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        self.may_ask = not options["no_input"]
        try:
            self.found(options)
        except Refused as refusal:
            raise CommandError(str(refusal)) from None
        except (EOFError, KeyboardInterrupt):
            raise CommandError(_("Stopped. No orchard was created.")) from None

    def found(self, options: dict[str, Any]) -> None:
        values = {
            "name": self.ask(options["name"], _("Name of the orchard"), filled),
            "place": self.ask(options["place"], _("Place"), filled),
            "time_zone": self.ask(
                options["time_zone"],
                _("Time zone, like Europe/Lisbon"),
                orchards.check_time_zone,
            ),
            "latitude": self.ask(
                options["latitude"],
                _("Latitude in degrees, south below zero"),
                lambda text: orchards.check_degrees("latitude", text),
            ),
            "longitude": self.ask(
                options["longitude"],
                _("Longitude in degrees, west below zero"),
                lambda text: orchards.check_degrees("longitude", text),
            ),
            "units": self.ask(
                options["units"] if self.may_ask else options["units"] or "metric",
                _("Units, metric or us [metric]"),
                units,
            ),
        }
        optional = {
            key: options[key]
            for key in ("slug", "frost_from", "frost_to")
            if options[key]
        } | {
            key: self.ask_for_contact(options[key], question)
            for key, question in contacts().items()
        }
        email = self.ask(
            options["coordinator_email"], _("E-mail address of the coordinator"), email_
        )
        person = accounts.user_by_email(email)
        name = (
            person.name
            if person
            else self.ask(
                options["coordinator_name"], _("Name of the coordinator"), filled
            )
        )
        now = timezone.now()
        with transaction.atomic():
            coordinator = person or accounts.enrol(email=email, name=name, now=now)
            password = self.password(coordinator) if options["password"] else None
            orchard = orchards.found(
                **values, **optional, coordinator=coordinator, now=now
            )
            if password:
                accounts.set_first_password(coordinator, password=password, now=now)
        message = _("%(name)s is ready: %(url)s")
        url = mails.address_of("home", orchard.slug)
        self.stdout.write(message % {"name": orchard.name, "url": url})
        pests = _(
            "%(count)d pests are not set: ask the authority, then confirm: %(url)s"
        )
        unset = len(house_rules.unset_pests(orchard))
        url = mails.address_of("pests", orchard.slug)
        self.stdout.write(pests % {"count": unset, "url": url})
        self.tell_how_to_sign_in(coordinator)

    def tell_how_to_sign_in(self, coordinator: User) -> None:
        if coordinator.has_usable_password():
            message = _("%(email)s can sign in with their existing password.")
            self.stdout.write(message % {"email": coordinator.email})
            return
        link = mails.address_of("password-new", *accounts.link_parts(coordinator))
        message = _("Password link for %(name)s, valid for a day: %(link)s")
        self.stdout.write(message % {"name": coordinator.name, "link": link})

    def ask(self, given: str | None, question: str, check: Callable[[str], Any]) -> Any:
        """Return what was given by option, or ask until the answer will do."""
        if given is not None or not self.may_ask:
            if given is None:
                message = _(
                    "%(question)s: give it as an option, or run without --no-input."
                )
                raise Refused(message % {"question": question}, code="bad_answer")
            return check(given)
        while True:
            try:
                return check(input(f"{question}: ").strip())
            except Refused as refusal:
                self.stderr.write(str(refusal))

    def ask_for_contact(self, given: str | None, question: str) -> str:
        """Return a name or number to ring, which may be left empty."""
        if given is None and not self.may_ask:
            return ""
        return str(self.ask(given, question, str.strip))

    def password(self, coordinator: User) -> str:
        if coordinator.has_usable_password():
            message = _("%(email)s has a password already. Leave out --password.")
            raise Refused(message % {"email": coordinator.email}, code="bad_answer")
        if not self.may_ask:
            raise Refused(
                _(
                    "With --no-input the app can't ask for a password. Leave out one "
                    "of the two."
                ),
                code="bad_answer",
            )
        while True:
            password = getpass(_("Password for the coordinator: "))
            try:
                accounts.check_password_is_good(password, coordinator)
            except Refused as refusal:
                self.stderr.write(str(refusal))
                continue
            if getpass(_("Repeat it: ")) == password:
                return password
            self.stderr.write(_("The two passwords differ. Type both again."))


def contacts() -> dict[str, str]:
    return {
        "region": _("Region whose pests are suggested (%(names)s)")
        % {"names": ", ".join(guide.load().regions)},
        "report_name": _(
            "Whom to ring first when a regulated pest is suspected (name)"
        ),
        "report_phone": _("Their phone number"),
        "authority_name": _("Plant-health authority"),
        "authority_phone": _("Its phone number"),
    }


def filled(text: str) -> str:
    if not text.strip():
        raise Refused(_("This can't be empty."), code="bad_answer")
    return text.strip()


def units(text: str) -> str:
    try:
        return UNITS[text.strip().lower()]
    except KeyError:
        raise Refused(_("Write metric or us."), code="bad_answer") from None


def email_(text: str) -> str:
    try:
        validate_email(text.strip())
    except ValidationError:
        message = _("Enter the whole e-mail address, like name@example.org.")
        raise Refused(message, code="bad_answer") from None
    return text.strip().lower()
