from __future__ import annotations

import re
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from threading import BoundedSemaphore, Event

import pytest
from django.contrib.sessions.models import Session
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from orchard import settings as orchard_settings
from orchard.records.models import Change, Invitation, Membership, User
from orchard.services import accounts
from orchard.services import home as homes
from orchard.web import mails
from tests.conftest import NOW, PASSWORD, TODAY, make_orchard, make_person

GOOD = "seven-buckets-of-mulch"


def sign_in(client, email="vera@example.org", password=PASSWORD, **fields):
    values = {"email": email, "password": password, **fields}
    return client.post(reverse("sign-in"), values)


def words(response):
    return re.sub(r"\s+", " ", response.content.decode())


def invitation(orchard, cora, email="nia@example.org", **changes):
    invited = accounts.invite(
        orchard, email=email, role="lead", by=cora, now=timezone.now()
    )
    Invitation.objects.filter(pk=invited.invitation.pk).update(**changes)
    return reverse("join", args=[invited.token])


def open_link(client, link):
    """Follow the link of a mail to its form; return both addresses."""
    page = client.get(link).url
    assert client.get(page).status_code == 200
    return page, link


# Signing in


def test_the_right_password_opens_the_door_and_turns_the_session(client, vera):
    client.get(reverse("sign-in"))
    session = client.session
    session["before"] = 1
    session.save()
    key = session.session_key
    response = sign_in(client, " VERA@example.org ")
    assert response.url == reverse("start")
    assert client.session.session_key != key
    assert client.session["_auth_user_id"] == str(vera.pk)
    assert client.session.get_expiry_age() > 60 * 60 * 24 * 300


def test_a_wrong_password_keeps_the_address_and_never_the_password(client, vera):
    response = sign_in(client, password="wrong-but-long")
    assert response.status_code == 422
    assert "or the password is wrong" in words(response)
    assert 'value="vera@example.org"' in words(response)
    assert "wrong-but-long" not in words(response)


def test_the_throttle_speaks_on_the_page(client, vera):
    for _ in range(5):
        sign_in(client, password="wrong")
    response = sign_in(client)
    assert response.status_code == 422
    assert "Wait 15 minutes" in words(response)


def test_the_network_address_counts_as_our_own_proxy_reports_it(client, vera, settings):
    settings.TRUSTED_PROXIES = 1
    for number in range(30):
        client.post(
            reverse("sign-in"),
            {"email": f"guess{number}@example.org", "password": "wrong"},
            # The caller can put anything in front; only the last hop is ours.
            headers={"X-Forwarded-For": f"10.0.0.{number}, 192.0.2.7"},
        )
    response = client.post(
        reverse("sign-in"),
        {"email": vera.email, "password": PASSWORD},
        headers={"X-Forwarded-For": "10.9.9.9, 192.0.2.7"},
    )
    assert "Too many tries" in words(response)
    response = client.post(
        reverse("sign-in"),
        {"email": vera.email, "password": PASSWORD},
        headers={"X-Forwarded-For": "192.0.2.8"},
    )
    assert response.status_code == 302


@pytest.mark.parametrize(
    ("wanted", "leads_to"),
    [
        ("/alderbrook/board/", "/alderbrook/board/"),
        ("https://elsewhere.example/", "/"),
        ("//elsewhere.example/", "/"),
        ("javascript:alert(1)", "/"),
        ("", "/"),
    ],
)
def test_signing_in_leads_on_to_our_own_pages_only(client, vera, wanted, leads_to):
    assert sign_in(client, next=wanted).url == leads_to
    page = client.get(reverse("sign-in"), {"next": wanted})
    assert page.url == leads_to


def test_the_sign_in_page_does_not_lead_in_a_circle(as_vera):
    for wanted in ["/sign-in/", "/sign-in/?next=/sign-in/"]:
        assert as_vera.get(reverse("sign-in"), {"next": wanted}).url == "/"


def test_the_page_asked_for_travels_through_the_form(client, vera):
    response = client.get("/alderbrook/people/")
    assert response.url == "/sign-in/?next=/alderbrook/people/"
    assert 'value="/alderbrook/people/"' in words(client.get(response.url))


def test_signing_out_takes_a_post(as_vera):
    assert as_vera.get(reverse("sign-out")).status_code == 405
    assert as_vera.post(reverse("sign-out")).url == reverse("sign-in")
    assert "_auth_user_id" not in as_vera.session


def test_sign_in_refuses_a_post_without_its_token(vera):
    client = Client(enforce_csrf_checks=True)
    response = sign_in(client)
    assert response.status_code == 403
    assert "This form is too old" in words(response)


def test_the_back_room_has_no_second_door(client, vera):
    response = client.get("/admin/")
    response = client.get(response.url)
    assert response.url == "/sign-in/?next=%2Fadmin%2F"
    assert client.post("/admin/login/", {"username": "x"}).status_code == 302
    client.force_login(vera)
    assert client.get("/admin/", follow=True).status_code == 403


def test_the_back_room_opens_to_its_keeper(client, orchard, vera):
    keeper = User.objects.create_superuser("root@example.org", "Root", PASSWORD)
    assert sign_in(client, keeper.email, next="/admin/").url == "/admin/"
    for page in ["/admin/", "/admin/records/user/", "/admin/records/change/"]:
        assert client.get(page).status_code == 200


# A new password


def test_a_forgotten_password_is_answered_the_same_for_everybody(
    client, vera, mailoutbox
):
    known = client.post(reverse("password-forgotten"), {"email": vera.email})
    assert len(mailoutbox) == 1
    unknown = client.post(reverse("password-forgotten"), {"email": "ann@example.org"})
    assert len(mailoutbox) == 1
    assert words(known).replace(vera.email, "ann@example.org") == words(unknown)


def test_the_link_in_the_mail_sets_the_password_and_ends_other_sessions(
    client, vera, mailoutbox, settings
):
    phone = Client()
    phone.force_login(vera)
    client.post(
        reverse("password-forgotten"), {"email": vera.email}, headers={"Host": "evil"}
    )
    client.post(reverse("password-forgotten"), {"email": vera.email})
    (mail,) = mailoutbox
    link = re.search(r"http\S+", mail.body).group()
    assert link.startswith(settings.SITE_URL + "/password/new/")
    page, link = open_link(client, link.removeprefix(settings.SITE_URL))
    assert client.post(page, {"password": GOOD, "again": GOOD}).status_code == 302
    assert client.session["_auth_user_id"] == str(vera.pk)
    assert phone.get(reverse("account")).status_code == 302
    for used in [client.get(page), client.get(link), Client().get(link)]:
        assert used.status_code == 410
        assert "used already" in words(used)


def test_who_never_had_a_password_is_sent_a_link(client, vera, mailoutbox):
    vera.set_unusable_password()
    vera.save()
    client.post(reverse("password-forgotten"), {"email": " VERA@example.org"})
    assert [mail.to for mail in mailoutbox] == [[vera.email]]


def test_links_are_not_sent_without_end(client, vera, mailoutbox):
    for _ in range(5):
        client.post(reverse("password-forgotten"), {"email": vera.email})
    response = client.post(reverse("password-forgotten"), {"email": vera.email})
    assert response.status_code == 422
    assert "Wait 15 minutes" in words(response)
    assert len(mailoutbox) == 5


@pytest.mark.parametrize("uid", ["x", "OTk5OTk5", "OTk5OTk5OTk5OTk5OTk5OTk5"])
def test_a_link_that_was_never_made_is_over(client, vera, uid):
    _, token = accounts.link_parts(vera)
    for last in [token, "set-password"]:
        page = reverse("password-new", args=[uid, last])
        assert client.get(page).status_code == 410


def test_a_link_opens_no_closed_account(client, vera):
    page, _ = open_link(client, reverse("password-new", args=accounts.link_parts(vera)))
    User.objects.filter(pk=vera.pk).update(is_active=False)
    values = {"password": GOOD, "again": GOOD}
    assert client.post(page, values).status_code == 410
    assert "_auth_user_id" not in client.session


def test_a_weak_password_is_refused_beside_its_field(client, vera):
    page, _ = open_link(client, reverse("password-new", args=accounts.link_parts(vera)))
    response = client.post(page, {"password": "short", "again": "short"})
    assert response.status_code == 422
    assert 'id="id_password_error"' in words(response)
    assert client.post(page, {"password": GOOD, "again": GOOD}).status_code == 302


def test_two_different_passwords_are_sent_back(client, vera):
    page, _ = open_link(client, reverse("password-new", args=accounts.link_parts(vera)))
    response = client.post(page, {"password": GOOD, "again": GOOD + "x"})
    assert response.status_code == 422
    assert "passwords differ" in words(response)
    assert GOOD not in words(response)


# The account


def test_the_account_lists_the_orchards_and_roles(as_vera, vera, southbank):
    Membership.objects.create(
        user=vera, orchard=southbank, role="lead", joined_at=timezone.now()
    )
    shown = words(as_vera.get(reverse("account")))
    assert "Alderbrook" in shown
    assert "Southbank" in shown
    assert "crew lead" in shown


def test_a_new_name(as_vera, vera):
    details = {"name": "Vera Moss", "phone": "+1 555 0101"}
    as_vera.post(reverse("account-name"), details)
    vera.refresh_from_db()
    assert (vera.name, vera.phone) == tuple(details.values())
    assert "+1 555 0101" in words(as_vera.get(reverse("account")))
    assert as_vera.post(reverse("account-name"), {"name": " "}).status_code == 422


def test_a_changed_password_ends_other_sessions_and_keeps_this_one(as_vera, vera):
    phone = Client()
    phone.force_login(vera)
    page = reverse("account-password")
    response = as_vera.post(page, {"old": "no", "password": GOOD, "again": GOOD})
    assert "old password is wrong" in words(response)
    as_vera.post(page, {"old": PASSWORD, "password": GOOD, "again": GOOD})
    assert as_vera.get(reverse("account")).status_code == 200
    assert phone.get(reverse("account")).status_code == 302


def test_who_leaves_finds_the_orchard_gone_at_once(as_vera, vera, orchard):
    page = reverse("account-leaving", args=["alderbrook"])
    assert as_vera.get(page).status_code == 200
    assert as_vera.post(page).url == reverse("account")
    assert as_vera.get(page).status_code == 404
    assert as_vera.get("/alderbrook/people/").status_code == 404
    assert as_vera.get(reverse("account")).status_code == 200


def test_the_last_coordinator_is_asked_to_name_another_first(as_cora, cora):
    page = reverse("account-leaving", args=["alderbrook"])
    response = as_cora.post(page)
    assert response.status_code == 422
    assert "only coordinator" in words(response)


# The people page


def test_the_people_page_shows_members_and_open_invitations(
    as_cora, orchard, cora, vera, django_assert_max_num_queries
):
    invitation(orchard, cora)
    with django_assert_max_num_queries(7):
        shown = words(as_cora.get("/alderbrook/people/"))
    assert "Vera" in shown
    assert "no entry yet" in shown
    assert "nia@example.org" in shown


def test_an_invitation_is_mailed_and_its_link_shown_once(
    as_cora, cora, mailoutbox, settings
):
    page = reverse("invitation-new", args=["alderbrook"])
    assert as_cora.get(page).status_code == 200
    shown = words(as_cora.post(page, {"email": "Nia@example.org", "role": "lead"}))
    link = re.search(rf"{settings.SITE_URL}/join/[\w-]+/", shown).group()
    (mail,) = mailoutbox
    assert link in mail.body
    assert mail.to == ["nia@example.org"]
    assert "Alderbrook" in mail.subject
    again = as_cora.post(page, {"email": "nia@example.org", "role": "lead"})
    assert again.status_code == 422
    assert link not in words(as_cora.get("/alderbrook/people/"))


def test_when_the_mail_server_is_down_the_link_is_still_shown(
    as_cora, monkeypatch, caplog
):
    def down(*args, **kwargs):
        raise ConnectionRefusedError

    monkeypatch.setattr(mails, "send_mail", down)
    page = reverse("invitation-new", args=["alderbrook"])
    shown = words(as_cora.post(page, {"email": "nia@example.org", "role": "lead"}))
    assert "No mail was sent" in shown
    assert "/join/" in shown


def test_a_name_of_before_that_has_a_line_break_breaks_no_mail(
    as_cora, orchard, mailoutbox
):
    type(orchard).objects.update(name="Alder\nbrook")
    page = reverse("invitation-new", args=["alderbrook"])
    shown = words(as_cora.post(page, {"email": "nia@example.org", "role": "lead"}))
    assert "/join/" in shown
    [mail] = mailoutbox
    assert "\n" not in mail.subject


@pytest.fixture
def slow_mail(monkeypatch):
    """A mail server that takes its time: until it is let go on, and no longer."""
    going_on = Event()
    with ThreadPoolExecutor(max_workers=2) as senders:
        monkeypatch.setattr(mails, "senders", senders)
        monkeypatch.setattr(mails, "PATIENCE", 0.05)
        monkeypatch.setattr(mails, "send_mail", lambda *mail: going_on.wait(60))
        yield going_on
        going_on.set()


def test_no_page_waits_for_a_slow_mail_server(as_cora, slow_mail):
    page = reverse("invitation-new", args=["alderbrook"])
    for number in range(10):
        sent = {"email": f"nia{number}@example.org", "role": "lead"}
        shown = words(as_cora.post(page, sent))
        assert "The mail server is slow." in shown
        assert "/join/" in shown
    assert as_cora.get("/alderbrook/people/").status_code == 200


def test_mails_beyond_what_can_wait_are_told_as_not_sent(
    as_cora, slow_mail, monkeypatch
):
    monkeypatch.setattr(mails, "places", BoundedSemaphore(1))
    page = reverse("invitation-new", args=["alderbrook"])
    as_cora.post(page, {"email": "nia@example.org", "role": "lead"})
    shown = words(as_cora.post(page, {"email": "noa@example.org", "role": "lead"}))
    assert "No mail was sent" in shown
    assert "/join/" in shown
    slow_mail.set()
    mails.senders.shutdown(wait=True)
    assert mails.places.acquire(blocking=False)


def test_the_link_page_waits_for_no_mail_whoever_asks(client, vera, slow_mail):
    for email in (vera.email, "ann@example.org"):
        answer = client.post(reverse("password-forgotten"), {"email": email})
        assert answer.status_code == 200
    # Nobody has sent anything yet: both pages came before any mail did.
    assert not slow_mail.is_set()


def test_a_mail_server_has_a_time_limit():
    assert 0 < orchard_settings.EMAIL_TIMEOUT <= 30


@pytest.mark.parametrize(
    ("values", "said"),
    [
        ({"email": "vera@example.org", "role": "lead"}, "already a member"),
        ({"email": "vera", "role": "lead"}, "whole e-mail address"),
        ({"email": "nia@example.org"}, "Choose a role"),
        ({"email": "nia@example.org", "role": "owner"}, "owner is not one"),
    ],
)
def test_an_invitation_that_cannot_be_is_refused(as_cora, vera, values, said):
    response = as_cora.post(reverse("invitation-new", args=["alderbrook"]), values)
    assert response.status_code == 422
    assert said in words(response)


def test_a_withdrawn_invitation_cannot_be_used_or_withdrawn_again(
    as_cora, orchard, cora
):
    page = invitation(orchard, cora)
    number = Invitation.objects.get().pk
    withdrawal = reverse("invitation-withdrawal", args=["alderbrook", number])
    assert as_cora.post(withdrawal).status_code == 302
    over = Client().get(page)
    assert over.status_code == 410
    assert "was withdrawn. Ask Cora" in words(over)
    assert as_cora.post(withdrawal).status_code == 422


def test_a_role_is_changed(as_cora, vera):
    member = Membership.objects.get(user=vera)
    page = reverse("member-role", args=["alderbrook", member.pk])
    assert 'value="volunteer"' in words(as_cora.get(page))
    as_cora.post(page, {"role": "lead"})
    member.refresh_from_db()
    assert member.role == "lead"


def test_the_only_coordinator_cannot_step_down_on_the_page(as_cora, cora):
    member = Membership.objects.get(user=cora)
    page = reverse("member-role", args=["alderbrook", member.pk])
    response = as_cora.post(page, {"role": "lead"})
    assert response.status_code == 422
    assert "only coordinator" in words(response)


def test_a_coordinator_who_steps_down_is_led_home(as_cora, orchard, cora):
    make_person("Pia", orchard, "coordinator")
    member = Membership.objects.get(user=cora)
    page = reverse("member-role", args=["alderbrook", member.pk])
    assert as_cora.post(page, {"role": "lead"}).url == "/alderbrook/"


def test_a_membership_ends_after_a_confirmation(as_cora, vera, client):
    member = Membership.objects.get(user=vera)
    page = reverse("member-leaving", args=["alderbrook", member.pk])
    assert "End the membership" in words(as_cora.get(page))
    assert Membership.objects.standing().filter(user=vera).exists()
    assert as_cora.post(page).url == "/alderbrook/people/"
    phone = Client()
    phone.force_login(vera)
    assert phone.get("/alderbrook/people/").status_code == 404


# Joining


def test_a_new_person_joins_with_name_and_password(client, orchard, cora):
    page = invitation(orchard, cora)
    shown = words(client.get(page))
    assert "Cora invites you as crew lead" in shown
    values = {"name": "Nia", "password": GOOD, "again": GOOD}
    assert (
        client.post(page, {**values, "password": "x", "again": "x"}).status_code == 422
    )
    assert client.post(page, values).url == "/alderbrook/"
    nia = User.objects.get(email="nia@example.org")
    assert client.session["_auth_user_id"] == str(nia.pk)
    over = Client().get(page)
    assert over.status_code == 410
    assert "has been used" in words(over)


def test_a_known_person_signs_in_to_accept(client, orchard, cora, southbank):
    nia = make_person("Nia", southbank, "volunteer")
    page = invitation(orchard, cora)
    shown = words(client.get(page))
    assert f"/sign-in/?next={page}" in shown
    assert client.post(page, {"name": "N", "password": GOOD, "again": GOOD})
    assert not Membership.objects.filter(user=nia, orchard=orchard).exists()
    assert sign_in(client, nia.email, next=page).url == page
    assert "You are signed in as nia@example.org" in words(client.get(page))
    assert client.post(page).url == "/alderbrook/"
    assert Membership.objects.get(user=nia, orchard=orchard).role == "lead"


def test_an_invitation_for_somebody_else_says_so(as_vera, orchard, cora):
    page = invitation(orchard, cora)
    shown = words(as_vera.get(page))
    assert "This invitation is for nia@example.org" in shown
    assert "signed in as vera@example.org" in shown
    assert as_vera.post(page).status_code == 422


def test_an_invitation_a_week_old_has_run_out(client, orchard, cora):
    now = timezone.now()
    page = invitation(
        orchard,
        cora,
        invited_at=now - timedelta(days=8),
        expires_at=now - timedelta(days=1),
    )
    over = client.get(page)
    assert over.status_code == 410
    assert "has expired. Ask Cora" in words(over)


def test_an_unknown_link_is_not_found(client, db):
    assert client.get(reverse("join", args=["x" * 43])).status_code == 404


def test_pages_with_secrets_are_not_kept_by_browsers(client, orchard, cora):
    for page in [reverse("sign-in"), invitation(orchard, cora)]:
        assert "no-store" in client.get(page)["Cache-Control"]


def test_no_session_is_made_for_who_only_looks(client, db):
    client.get(reverse("sign-in"))
    assert not Session.objects.exists()


CONSOLE = "django.core.mail.backends.console.EmailBackend"


def test_without_a_mail_server_a_coordinator_hands_over_a_link_that_works_once(
    client, cora, vera, orchard, settings
):
    settings.EMAIL_BACKEND = CONSOLE
    asked = client.get("/password/forgotten/").content.decode()
    assert "Ask your coordinator for a link" in asked
    assert 'name="email"' not in asked
    client.force_login(cora)
    assert "Make password link" in client.get("/alderbrook/people/").content.decode()
    member = vera.memberships.get()
    answer = client.post(f"/alderbrook/people/{member.pk}/password/")
    assert "no-store" in answer["Cache-Control"]
    link = answer.context["link"].removeprefix("http://127.0.0.1:8000")
    assert link in answer.content.decode()
    line = Change.objects.filter(verb="make_link").get()
    assert (line.by, line.orchard, line.subject_id) == (cora, orchard, vera.pk)
    assert link.rstrip("/").rpartition("/")[2] not in str(vars(line))
    client.logout()
    form, _link = open_link(client, link)
    assert client.post(form, {"password": GOOD, "again": GOOD}).status_code == 302
    vera.refresh_from_db()
    assert vera.check_password(GOOD)
    client.logout()
    assert client.get(link).status_code == 410


def test_a_link_is_refused_for_an_account_that_opens_another_orchard(
    as_cora, vera, orchard, settings
):
    settings.EMAIL_BACKEND = CONSOLE
    other = make_orchard("southbank", south=True)
    Membership.objects.create(user=vera, orchard=other, role="lead", joined_at=NOW)
    member = Membership.objects.get(user=vera, orchard=orchard)
    answer = as_cora.post(f"/alderbrook/people/{member.pk}/password/")
    assert answer.status_code == 422
    assert "also opens orchards that you don&#x27;t run" in answer.content.decode()
    assert not Change.objects.filter(verb="make_link").exists()


def test_a_link_for_a_coordinator_is_told_to_all_coordinators_for_a_week(
    client, cora, vera, lee, orchard, settings
):
    settings.EMAIL_BACKEND = CONSOLE
    carl = make_person("Carl", orchard, "coordinator")
    client.force_login(cora)

    def make_link(person):
        member = person.memberships.get()
        answer = client.post(f"/alderbrook/people/{member.pk}/password/")
        assert answer.status_code == 200

    make_link(vera)
    told = "Cora made a link for a new password of Carl"
    assert "links-made" not in client.get("/alderbrook/").content.decode()
    make_link(carl)
    for person in (cora, carl):
        client.force_login(person)
        page = client.get("/alderbrook/").content.decode()
        assert told in page
        assert "of Vera" not in page
    client.force_login(lee)
    assert "links-made" not in client.get("/alderbrook/").content.decode()
    line = Change.objects.get(verb="make_link", subject_id=carl.pk)
    week = timedelta(days=7)
    shown = homes.home_today(cora.memberships.get(), now=line.at + week, today=TODAY)
    assert [one.pk for one in shown.links] == [line.pk]
    later = line.at + week + timedelta(seconds=1)
    shown = homes.home_today(cora.memberships.get(), now=later, today=TODAY)
    assert shown.links == ()


def test_with_a_mail_server_no_link_is_made_by_hand(as_cora, vera, orchard):
    assert (
        "Make password link" not in as_cora.get("/alderbrook/people/").content.decode()
    )
    member = vera.memberships.get()
    answer = as_cora.post(f"/alderbrook/people/{member.pk}/password/")
    assert answer.status_code == 422
    assert not Change.objects.filter(verb="make_link").exists()
