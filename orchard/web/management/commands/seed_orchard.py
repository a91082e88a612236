"""Make the demonstration orchards, or tell how their people sign in."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.urls import reverse
from django.utils import timezone

from orchard import demonstration
from orchard.services import orchards
from orchard.services.errors import Refused


class Command(BaseCommand):
    help = "Make two invented orchards with some seasons of history, to try the app."
    # `migrate` ran them, without which there is no table to fill.
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--only-if-empty",
            action="store_true",
            help="do nothing when there is an orchard already",
        )
        parser.add_argument(
            "--show-sign-ins",
            action="store_true",
            help="make nothing; print who can sign in, and the address of one tag",
        )
        parser.add_argument(
            "--small", action="store_true", help="a few trees and two months only"
        )
        parser.add_argument(
            "--seed",
            type=int,
            default=11,
            help="number that the invented history is made from",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        if options["show_sign_ins"]:
            self.show_sign_ins()
            return
        if orchards.all_orchards():
            if options["only_if_empty"]:
                return
            raise CommandError(
                "There is an orchard here already. The demonstration needs an empty "
                "database. Set DATA_DIR or DATABASE_URL to another one."
            )
        try:
            demonstration.build(
                now=timezone.now(),
                seed=options["seed"],
                small=options["small"],
                say=self.stderr.write,
            )
        except Refused as refusal:
            raise CommandError(str(refusal)) from refusal
        self.stderr.write("The demonstration is ready.")

    def show_sign_ins(self) -> None:
        found = demonstration.sign_ins()
        if not found:
            self.stdout.write("There is no demonstration in this database.")
            return
        roles: set[tuple[str, tuple[str, ...]]] = set()
        for person in found:
            if (person.role, person.orchards) in roles:
                continue
            roles.add((person.role, person.orchards))
            self.stdout.write(
                f"{person.role}: {person.name}, {person.email}, "
                f"password {person.password}, in {' and '.join(person.orchards)}"
            )
        token = demonstration.tag_token()
        if token:
            self.stdout.write(
                f"One tag: {settings.SITE_URL}{reverse('tag', args=[token])}"
            )
