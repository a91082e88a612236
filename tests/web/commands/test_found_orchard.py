from __future__ import annotations

import re
from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from orchard.records.models import Membership, Orchard, User
from orchard.services import accounts, permissions
from tests.conftest import NOW, PASSWORD

OPTIONS = {
    "name": "Alder Brook",
    "place": "Nowhere-on-the-Water",
    "time_zone": "Europe/Lisbon",
    "latitude": "38.5",
    "longitude": "-8.5",
    "units": "metric",
    "region": "",
    "report_name": "",
    "report_phone": "",
    "authority_name": "",
    "authority_phone": "",
    "coordinator_name": "Cora",
    "coordinator_email": "Cora@Example.org",
}


def found(**changes):
    out, err = StringIO(), StringIO()
    options = {**OPTIONS, "no_input": True, **changes}
    call_command("found_orchard", stdout=out, stderr=err, **options)
    return out.getvalue(), err.getvalue()


def answering(monkeypatch, *answers):
    waiting = iter(answers)
    asked = []

    def answer(question):
        asked.append(question)
        return next(waiting)

    monkeypatch.setattr("builtins.input", answer)
    return asked


def test_options_alone_found_an_orchard_and_print_a_link_that_works(
    client, db, settings
):
    said, _ = found()
    orchard = Orchard.objects.get(slug="alder-brook")
    cora = User.objects.get(email="cora@example.org")
    assert permissions.member_for(cora, "alder-brook").role == "coordinator"
    assert orchard.kinds.exists()
    link = re.search(r"http\S+/password/new/\S+", said).group()
    page = client.get(link.removeprefix(settings.SITE_URL)).url
    chosen = {"password": "seven-buckets-of-mulch", "again": "seven-buckets-of-mulch"}
    assert client.post(page, chosen).status_code == 302
    assert client.session["_auth_user_id"] == str(cora.pk)


def test_what_no_option_gives_is_asked_for_again_until_it_will_do(db, monkeypatch):
    asked = answering(
        monkeypatch,
        *["", "Alder Brook", "Nowhere-on-the-Water"],
        *["lisbon", "Europe/Lisbon"],
        *["north", "95", "38.5", "-8,5"],
        *["cubits", ""],
        *["med_europe", "Lee", "+351 210 000 111", "", ""],
        *["cora", "cora@example.org", "Cora"],
    )
    _, complaints = found(**dict.fromkeys(OPTIONS), no_input=False)
    orchard = Orchard.objects.get()
    assert (orchard.units, str(orchard.longitude)) == ("metric", "-8.50000")
    assert len(asked) == 19
    assert orchard.report_calls == (("Lee", "+351 210 000 111"),)
    assert "Did you mean Europe/Lisbon?" in complaints
    assert complaints.count("-90 to 90") == 2
    assert "metric or us" in complaints
    assert "whole e-mail address" in complaints


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"time_zone": "lisbon"}, "Did you mean Europe/Lisbon"),
        ({"latitude": "95"}, "-90 to 90"),
        ({"name": "Sign in"}, "is reserved"),
        ({"slug": "Alder Brook"}, "small letters"),
        ({"coordinator_email": "cora"}, "whole e-mail"),
        ({"coordinator_name": None}, "Name of the coordinator"),
        ({"name": None}, "run without --no-input"),
        ({"units": "cubits"}, "metric or us"),
        ({"report_phone": "ask Lee"}, "isn't a phone number"),
        ({"frost_from": "SM9-01"}, "both ends"),
        ({"password": True}, "can't ask for a password"),
    ],
)
def test_what_cannot_be_meant_ends_with_a_sentence_and_founds_nothing(
    db, changes, said
):
    with pytest.raises(CommandError, match=said) as stop:
        found(**changes)
    assert stop.value.returncode == 1
    assert not Orchard.objects.exists()
    assert not User.objects.exists()


def test_a_known_person_keeps_name_and_password(otto):
    said, _ = found(coordinator_email="OTTO@example.org", coordinator_name="Other")
    otto.refresh_from_db()
    assert otto.name == "Otto"
    assert otto.check_password(PASSWORD)
    assert Membership.objects.filter(user=otto).count() == 2
    assert "can sign in with their existing password" in said
    assert "/password/new/" not in said


def test_the_password_can_be_typed_instead_of_sent_as_a_link(db, monkeypatch):
    typed = iter(["short", "four-plain-words-here", "slip", *["good-long-words"] * 2])
    monkeypatch.setattr(
        "orchard.web.management.commands.found_orchard.getpass",
        lambda question: next(typed),
    )
    said, complaints = found(password=True, no_input=False)
    assert "/password/new/" not in said
    assert "too short" in complaints
    assert "passwords differ" in complaints
    cora = accounts.sign_in(
        "cora@example.org", "good-long-words", address=None, now=NOW
    )
    assert cora.name == "Cora"


def test_stopping_in_the_middle_founds_nothing(db, monkeypatch):
    def stop(question):
        raise KeyboardInterrupt

    monkeypatch.setattr("builtins.input", stop)
    with pytest.raises(CommandError, match="No orchard was created"):
        found(name=None, no_input=False)
    assert not User.objects.exists()
