from __future__ import annotations

from datetime import timedelta

import pytest

from orchard.records.models import Change, Invitation, Membership, Task, User
from orchard.services import accounts, permissions
from orchard.services.errors import NotThere
from tests.conftest import NOW, PASSWORD, make_person
from tests.refusals import refused

GOOD = "seven-buckets-of-mulch"


def make_task(orchard, user, number=1, **fields):
    return Task.objects.create(
        orchard=orchard,
        kind="care",
        rank=2,
        key=f"job-{number}",
        occurrence=str(number),
        title="Weed the ring",
        opens_on=NOW.date(),
        due_on=NOW.date(),
        rhythm_days=30,
        taken_by=user,
        made_at=NOW,
        **fields,
    )


def membership(user):
    return Membership.objects.get(user=user)


@pytest.fixture
def invited(orchard, cora):
    return accounts.invite(
        orchard, email=" Nia@Example.org ", role="lead", by=cora, now=NOW
    )


def test_an_invitation_makes_a_new_person_a_member_in_the_role_it_names(
    orchard, invited
):
    member = accounts.accept_invitation(
        accounts.read_invitation(invited.token, now=NOW),
        now=NOW,
        name=" Nia ",
        password=GOOD,
    )
    assert (member.user.email, member.user.name) == ("nia@example.org", "Nia")
    assert member.role == "lead"
    assert member.user.check_password(GOOD)
    assert permissions.member_for(member.user, orchard.slug) == member
    verbs = list(Change.objects.order_by("id").values_list("verb", flat=True))
    assert verbs == ["invite", "enrol", "join"]


def test_the_token_stands_nowhere_in_the_database(invited):
    row = Invitation.objects.get()
    assert invited.token not in str(vars(row))
    assert invited.token not in str(list(Change.objects.values()))
    assert len(invited.token) >= 43


def test_an_invitation_works_once(invited):
    accounts.accept_invitation(invited.invitation, now=NOW, name="Nia", password=GOOD)
    with refused("no_invitation", match="has been used"):
        accounts.read_invitation(invited.token, now=NOW)
    with refused("no_invitation", match="has been used"):
        accounts.accept_invitation(
            invited.invitation, now=NOW, name="Nia", password=GOOD
        )
    assert User.objects.filter(name="Nia").count() == 1


def test_an_invitation_runs_out_after_seven_days(invited):
    almost = NOW + timedelta(days=7) - timedelta(seconds=1)
    assert accounts.read_invitation(invited.token, now=almost)
    with refused("no_invitation", match="has expired"):
        accounts.read_invitation(invited.token, now=NOW + timedelta(days=7))


def test_a_withdrawn_invitation_says_so(invited, cora):
    accounts.withdraw_invitation(invited.invitation, by=cora, now=NOW)
    with refused("no_invitation", match="withdrawn"):
        accounts.read_invitation(invited.token, now=NOW)
    with refused("no_invitation", match="withdrawn"):
        accounts.withdraw_invitation(invited.invitation, by=cora, now=NOW)


def test_a_token_that_was_never_given_leads_nowhere(invited):
    assert accounts.read_invitation("x" * 43, now=NOW) is None


def test_a_known_person_accepts_as_oneself(invited, southbank):
    nia = make_person("Nia", southbank, "volunteer")
    member = accounts.accept_invitation(invited.invitation, now=NOW, user=nia)
    assert member.user == nia
    assert nia.memberships.count() == 2


def test_nobody_accepts_for_somebody_else(invited, vera):
    with refused("other_person", match=r"nia@example\.org"):
        accounts.accept_invitation(invited.invitation, now=NOW, user=vera)


def test_a_known_address_cannot_be_taken_over_with_a_new_password(invited, southbank):
    nia = make_person("Nia", southbank, "volunteer")
    with refused("must_sign_in"):
        accounts.accept_invitation(
            invited.invitation, now=NOW, name="Nia", password=GOOD
        )
    nia.refresh_from_db()
    assert nia.check_password(PASSWORD)


@pytest.mark.parametrize("weak", ["", "short", "password12", "nia@example.org"])
def test_a_weak_password_is_refused_and_the_invitation_stays_open(invited, weak):
    with refused("weak_password") as refusal:
        accounts.accept_invitation(
            invited.invitation, now=NOW, name="Nia", password=weak
        )
    assert refusal.value.field == "password"
    assert not User.objects.filter(email="nia@example.org").exists()
    assert accounts.read_invitation(invited.token, now=NOW)


@pytest.mark.parametrize("email", ["", "nia", "nia@", "a b@example.org"])
def test_what_is_no_address_is_not_invited(orchard, cora, email):
    with refused("bad_address", match="whole e-mail"):
        accounts.invite(orchard, email=email, role="lead", by=cora, now=NOW)


def test_a_standing_member_is_not_invited(orchard, cora, vera):
    with refused("already_member", match="Vera is already a member"):
        accounts.invite(
            orchard, email="VERA@example.org", role="lead", by=cora, now=NOW
        )


def test_an_address_has_one_open_invitation_at_a_time(orchard, cora, invited):
    def again(now):
        return accounts.invite(
            orchard, email="nia@example.org", role="lead", by=cora, now=now
        )

    with refused("already_invited"):
        again(NOW)
    assert again(NOW + timedelta(days=8))


def test_a_person_who_left_may_be_invited_again(orchard, cora, vera):
    accounts.leave(membership(vera), by=vera, now=NOW)
    invited = accounts.invite(orchard, email=vera.email, role="lead", by=cora, now=NOW)
    later = NOW + timedelta(days=1)
    member = accounts.accept_invitation(invited.invitation, now=later, user=vera)
    assert (member.role, member.left_at, member.joined_at) == ("lead", None, later)
    assert Membership.objects.filter(user=vera).count() == 1


def test_who_was_shut_out_in_the_back_room_cannot_be_invited(orchard, cora, vera):
    accounts.leave(membership(vera), by=cora, now=NOW)
    earlier = accounts.invite(orchard, email=vera.email, role="lead", by=cora, now=NOW)
    vera.is_active = False
    vera.save()
    for wanted in (
        lambda: accounts.read_invitation(earlier.token, now=NOW),
        lambda: accounts.accept_invitation(
            earlier.invitation, now=NOW, name="Vera", password="x"
        ),
    ):
        with refused("account_closed", match="The account of Vera .* is closed"):
            wanted()
    accounts.withdraw_invitation(earlier.invitation, by=cora, now=NOW)
    with refused("account_closed", match="Ask the person who runs the server"):
        accounts.invite(orchard, email=vera.email, role="lead", by=cora, now=NOW)


def test_a_role_changes_with_a_line_in_the_ledger(vera, cora):
    accounts.change_role(membership(vera), role="lead", by=cora, now=NOW)
    line = Change.objects.get(verb="change_role")
    assert membership(vera).role == "lead"
    assert (line.before, line.after) == ({"role": "volunteer"}, {"role": "lead"})


def test_the_same_role_again_changes_nothing(vera, cora):
    accounts.change_role(membership(vera), role="volunteer", by=cora, now=NOW)
    assert not Change.objects.exists()


def test_the_last_coordinator_stays_coordinator_until_there_is_another(cora, vera):
    with refused("last_coordinator", match="only coordinator"):
        accounts.change_role(membership(cora), role="lead", by=cora, now=NOW)
    with refused("last_coordinator"):
        accounts.leave(membership(cora), by=cora, now=NOW)
    accounts.change_role(membership(vera), role="coordinator", by=cora, now=NOW)
    accounts.leave(membership(cora), by=cora, now=NOW)
    assert not Membership.objects.standing().filter(user=cora).exists()


def test_a_deactivated_coordinator_does_not_count_as_another(orchard, cora):
    pia = make_person("Pia", orchard, "coordinator")
    User.objects.filter(pk=pia.pk).update(is_active=False)
    with refused("last_coordinator"):
        accounts.leave(membership(cora), by=cora, now=NOW)


def test_who_leaves_gives_back_open_work_and_finds_no_orchard_any_more(
    orchard, vera, lee, cora
):
    hers = [make_task(orchard, vera, 1), make_task(orchard, vera, 2)]
    other = make_task(orchard, lee, 3)
    closed = make_task(orchard, vera, 4, closed_at=NOW)
    assert accounts.leave(membership(vera), by=cora, now=NOW) == 2
    assert {
        task.taken_by for task in Task.objects.filter(pk__in=[*map(id_of, hers)])
    } == {None}
    other.refresh_from_db()
    closed.refresh_from_db()
    assert (other.taken_by, closed.taken_by) == (lee, vera)
    assert Change.objects.filter(verb="give_back").count() == 2
    with pytest.raises(NotThere):
        permissions.member_for(vera, orchard.slug)


def id_of(task):
    return task.pk


def test_nobody_leaves_twice(vera, cora):
    member = membership(vera)
    accounts.leave(member, by=vera, now=NOW)
    with refused("not_a_member", match="already left"):
        accounts.leave(member, by=cora, now=NOW)


def test_a_smaller_role_gives_back_what_it_may_not_see_or_do(orchard, lee, cora):
    private = make_task(orchard, lee, 1, private=True)
    plain = make_task(orchard, lee, 2)
    accounts.change_role(membership(lee), role="volunteer", by=cora, now=NOW)
    private.refresh_from_db()
    plain.refresh_from_db()
    assert (private.taken_by, plain.taken_by) == (None, lee)
    assert Change.objects.get(verb="give_back").private
    accounts.change_role(membership(lee), role="office", by=cora, now=NOW)
    plain.refresh_from_db()
    assert plain.taken_by is None


def test_the_list_of_people_tells_when_each_last_worked_here(
    orchard, southbank, vera, cora, otto
):
    accounts.change_role(membership(vera), role="lead", by=cora, now=NOW)
    later = NOW + timedelta(days=3)
    Membership.objects.create(user=cora, orchard=southbank, role="lead", joined_at=NOW)
    pia = make_person("Pia", southbank, "volunteer")
    accounts.change_role(membership(pia), role="lead", by=cora, now=later)
    found = {row.user.name: row.worked_at for row in accounts.members(orchard)}
    assert found == {"Cora": NOW, "Vera": None}


def test_the_list_of_people_takes_one_query(orchard, django_assert_num_queries):
    for number in range(20):
        make_person(f"Pat{number}", orchard, "volunteer")
    with django_assert_num_queries(1):
        assert len(accounts.members(orchard)) == 20


def test_a_new_name_leaves_older_lines_as_they_were(vera, cora):
    accounts.change_role(membership(vera), role="lead", by=vera, now=NOW)
    accounts.correct_own_details(vera, name="  Vera Moss ", phone="", now=NOW)
    vera.refresh_from_db()
    assert vera.name == "Vera Moss"
    assert Change.objects.get(verb="change_role").by_name == "Vera"


@pytest.mark.parametrize("name", ["", "   ", "x" * 121])
def test_a_name_must_be_readable(vera, name):
    with refused("name_missing"):
        accounts.correct_own_details(vera, name=name, phone="", now=NOW)


def test_a_number_is_kept_as_it_is_dialled_and_taken_away_again(vera):
    for phone in ("+351 210 000 111", ""):
        accounts.correct_own_details(vera, name="Vera", phone=f" {phone} ", now=NOW)
        vera.refresh_from_db()
        assert vera.phone == phone
    assert Change.objects.filter(verb="correct_details", by=vera).count() == 2
    for wrong in ("ask Cora", "12", "0" * 41):
        with refused("bad_phone", match="isn't a phone number"):
            accounts.correct_own_details(vera, name="Vera", phone=wrong, now=NOW)


def test_people_of_another_orchard_are_out_of_reach(cora, otto, invited):
    with pytest.raises(NotThere):
        permissions.fellow_for(membership(cora), membership(otto).pk)
    with pytest.raises(NotThere):
        permissions.invitation_for(membership(otto), invited.invitation.pk)
