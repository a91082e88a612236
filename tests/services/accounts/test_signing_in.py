from __future__ import annotations

from datetime import timedelta

import pytest
from django.contrib.auth.hashers import Argon2PasswordHasher, make_password
from django.contrib.auth.tokens import default_token_generator
from django.utils.module_loading import import_string

from orchard import settings as orchard_settings
from orchard.records.models import Change, SignInTry, User
from orchard.services import accounts
from orchard.services.accounts import signing_in
from tests.conftest import NOW, PASSWORD
from tests.refusals import refused

GOOD = "seven-buckets-of-mulch"


def enter(email="vera@example.org", password="wrong", address="192.0.2.1", now=NOW):  # noqa: S107
    return signing_in.sign_in(email, password, address=address, now=now)


def fail(times, **changes):
    for _ in range(times):
        with refused("wrong_sign_in"):
            enter(**changes)


def test_an_address_may_be_typed_in_capitals_and_with_spaces(vera):
    assert enter(" VERA@Example.ORG ", PASSWORD) == vera


def test_the_answer_is_the_same_for_wrong_unknown_and_deactivated(vera, lee):
    User.objects.filter(pk=lee.pk).update(is_active=False)
    said = set()
    for email, password in [
        ("vera@example.org", "wrong"),
        ("nobody@example.org", PASSWORD),
        ("lee@example.org", PASSWORD),
        ("", ""),
    ]:
        with refused("wrong_sign_in") as refusal:
            enter(email, password)
        said.add(str(refusal.value))
    assert len(said) == 1


def test_an_unknown_address_costs_one_hash_as_well(vera, monkeypatch, settings):
    hashed = []

    def counting(real):
        def check(*args, **kwargs):
            hashed.append(1)
            return real(*args, **kwargs)

        return check

    monkeypatch.setattr(
        signing_in, "check_password", counting(signing_in.check_password)
    )
    monkeypatch.setattr(User, "check_password", counting(User.check_password))
    fail(1)
    assert len(hashed) == 1
    fail(1, email="nobody@example.org")
    assert len(hashed) == 2


def test_passwords_are_kept_as_argon2(settings):
    settings.PASSWORD_HASHERS = orchard_settings.PASSWORD_HASHERS
    [hasher] = settings.PASSWORD_HASHERS
    kept = import_string(hasher)().encode("under-the-old-lemon-tree", "somesalt")
    # RFC 9106, section 4, second recommended option: t=3, p=4, m=2^16 KiB.
    assert kept.startswith("argon2$argon2id$v=19$m=65536,t=3,p=4$")


def test_a_password_hashed_otherwise_is_hashed_anew_at_the_next_sign_in(vera, settings):
    settings.PASSWORD_HASHERS = [
        orchard_settings.PASSWORD_HASHERS[0],
        "django.contrib.auth.hashers.Argon2PasswordHasher",
    ]
    old = make_password(PASSWORD, hasher=Argon2PasswordHasher())
    User.objects.filter(pk=vera.pk).update(password=old)
    assert enter(password=PASSWORD) == vera
    vera.refresh_from_db()
    assert "m=65536,t=3,p=4" in vera.password
    assert enter(password=PASSWORD) == vera


@pytest.mark.parametrize("email", ["vera@example.org", "nobody@example.org"])
def test_after_five_wrong_tries_even_the_right_password_waits(vera, email):
    fail(5, email=email)
    with refused("too_often", match="Wait 15 minutes"):
        enter(email, PASSWORD)
    with refused("too_often", match="Wait 1 minute,"):
        enter(email, PASSWORD, now=NOW + timedelta(minutes=14, seconds=30))


def test_the_door_opens_again_when_the_oldest_of_five_is_a_quarter_old(vera):
    for minute in range(5):
        fail(1, now=NOW + timedelta(minutes=minute))
    with refused("too_often", match="Wait 1 minute,"):
        enter(password=PASSWORD, now=NOW + timedelta(minutes=14))
    assert enter(password=PASSWORD, now=NOW + timedelta(minutes=15)) == vera


def test_knocking_on_a_closed_door_does_not_keep_it_closed(vera):
    fail(5)
    for minute in range(1, 15):
        with refused("too_often"):
            enter(now=NOW + timedelta(minutes=minute))
    assert enter(password=PASSWORD, now=NOW + timedelta(minutes=15)) == vera


def test_spelling_the_address_otherwise_opens_no_second_door(vera):
    fail(3)
    fail(2, email=" Vera@Example.org")
    with refused("too_often"):
        enter(password=PASSWORD)


def test_one_network_address_has_thirty_tries_for_all_people(vera):
    for number in range(30):
        fail(1, email=f"guess{number}@example.org")
    with refused("too_often"):
        enter(password=PASSWORD)
    assert enter(password=PASSWORD, address="192.0.2.2") == vera


def test_without_a_known_network_address_the_person_is_still_guarded(vera):
    fail(5, address=None)
    with refused("too_often"):
        enter(password=PASSWORD, address="no address at all")


def test_wrong_tries_from_elsewhere_do_not_lock_the_person_out(vera):
    for place in range(1, 7):
        fail(5, address=f"198.51.100.{place}")
    assert enter(password=PASSWORD) == vera
    with refused("too_often"):
        enter(password=PASSWORD, address="198.51.100.1")


def test_coming_in_opens_no_door_to_who_guesses_elsewhere(vera):
    fail(5, address="198.51.100.1")
    assert enter(password=PASSWORD) == vera
    with refused("too_often"):
        enter(address="198.51.100.1")


def test_a_password_can_be_changed_while_others_guess_at_it(vera):
    fail(5, address="198.51.100.1")
    fail(5, address=None)
    changed = accounts.change_password(vera, old=PASSWORD, password=GOOD, now=NOW)
    assert changed.check_password(GOOD)


def test_links_are_counted_wherever_they_are_asked_for(vera):
    for place in range(1, 6):
        accounts.request_link(vera.email, address=f"198.51.100.{place}", now=NOW)
    with refused("too_often"):
        accounts.request_link(vera.email, address="198.51.100.9", now=NOW)


def test_success_clears_the_tries_of_the_person(vera):
    fail(4)
    enter(password=PASSWORD)
    assert not SignInTry.objects.exists()
    fail(5)


def test_old_tries_are_swept_away_and_name_nobody(vera):
    fail(2)
    assert "vera" not in str(list(SignInTry.objects.values()))
    fail(1, now=NOW + timedelta(minutes=16))
    assert SignInTry.objects.count() == 1


def test_a_link_sets_a_password_once(vera):
    _, token = accounts.link_parts(vera)
    accounts.set_password_by_link(vera, token, password=GOOD, now=NOW)
    assert enter(password=GOOD) == vera
    with refused("link_over"):
        accounts.set_password_by_link(vera, token, password=GOOD + "2", now=NOW)
    assert enter(password=GOOD) == vera
    assert Change.objects.get().verb == "set_password"


def test_a_link_for_a_password_runs_out_after_a_day(vera, monkeypatch):
    _, token = accounts.link_parts(vera)
    start = default_token_generator._now()

    def use_after(hours):
        later = start + timedelta(hours=hours)
        monkeypatch.setattr(default_token_generator, "_now", lambda: later)
        accounts.set_password_by_link(vera, token, password=GOOD, now=NOW)

    with refused("link_over", match="older than a day"):
        use_after(25)
    use_after(23)
    assert enter(password=GOOD) == vera


def test_a_link_of_somebody_else_sets_nothing(vera, lee):
    _, token = accounts.link_parts(lee)
    for made_up in [token, "", "x", "x-y"]:
        with refused("link_over"):
            accounts.set_password_by_link(vera, made_up, password=GOOD, now=NOW)
    assert enter(password=PASSWORD) == vera


def test_a_link_opens_no_closed_account(vera):
    _, token = accounts.link_parts(vera)
    User.objects.filter(pk=vera.pk).update(is_active=False)
    with refused("link_over"):
        accounts.set_password_by_link(vera, token, password=GOOD, now=NOW)


def test_a_weak_password_leaves_the_link_good(vera):
    _, token = accounts.link_parts(vera)
    with refused("weak_password"):
        accounts.set_password_by_link(vera, token, password="short", now=NOW)
    accounts.set_password_by_link(vera, token, password=GOOD, now=NOW)
    assert enter(password=GOOD) == vera


def test_a_new_link_opens_a_door_that_tries_had_closed(vera):
    fail(5)
    _, token = accounts.link_parts(vera)
    accounts.set_password_by_link(vera, token, password=GOOD, now=NOW)
    assert enter(password=GOOD) == vera


def test_links_are_sent_to_the_known_only_and_not_without_end(vera):
    assert accounts.request_link("Vera@example.org ", address=None, now=NOW) == vera
    assert accounts.request_link("nobody@example.org", address=None, now=NOW) is None
    for _ in range(4):
        accounts.request_link("vera@example.org", address=None, now=NOW)
    with refused("too_often"):
        accounts.request_link("vera@example.org", address=None, now=NOW)
    # Asking for links closes no door to the one who knows the password.
    assert enter(password=PASSWORD) == vera


def test_a_password_changes_when_the_old_one_is_right(vera):
    accounts.change_password(vera, old=PASSWORD, password=GOOD, now=NOW)
    assert enter(password=GOOD) == vera


def test_a_wrong_old_password_changes_nothing_and_counts_as_a_try(vera):
    for _ in range(5):
        with refused("wrong_password") as refusal:
            accounts.change_password(vera, old="wrong", password=GOOD, now=NOW)
    assert refusal.value.field == "old"
    with refused("too_often"):
        accounts.change_password(vera, old=PASSWORD, password=GOOD, now=NOW)
    vera.refresh_from_db()
    assert vera.check_password(PASSWORD)


def test_a_weak_new_password_is_refused_and_does_not_count_as_a_try(vera):
    for _ in range(7):
        with refused("weak_password"):
            accounts.change_password(vera, old=PASSWORD, password="vera", now=NOW)
