"""Photos by purpose: what each finds, and what it says where a photo is missing."""

from __future__ import annotations

import re
from datetime import UTC, datetime

import pytest

from orchard.records.models import PhotoLink, Slide
from orchard.science import guide
from orchard.services import talks
from orchard.services.errors import NotThere
from tests.conftest import NOW, make_tree
from tests.refusals import refused
from tests.services.talks.photos_to_show import photo_to_show
from tests.web.test_who_may import make_finding, make_inspection, make_task

Kind = Slide.Kind


@pytest.fixture(autouse=True)
def own_store(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path / "photos"


@pytest.fixture
def take(orchard, tree, vera):
    """Take a photo of the tree that may be shown."""

    def take(year=2026, month=5, day=2, *, of=tree, **fields):
        taken = datetime(year, month, day, 10, tzinfo=UTC)
        return photo_to_show(
            orchard, vera, links={"tree": of}, taken_at=taken, **fields
        )

    return take


def with_sign(photo, sign, *, verdict="act", because="It grows."):
    finding = make_finding(make_inspection(photo.orchard, photo.tree, photo.by))
    finding.sign, finding.verdict, finding.because = sign, verdict, [because]
    finding.save()
    PhotoLink.objects.create(photo=photo, finding=finding)
    return photo


def alike_pair():
    signs = guide.load().signs
    return next(
        (sign, signs[alike.sign], alike.tell)
        for sign in signs.values()
        for alike in sign.alike
        if alike.sign
    )


def test_a_tree_through_the_years_is_of_one_season_and_a_photo_a_year(take, tree):
    spring = [take(2023), take(2024, view="whole_tree"), take(2025)]
    take(2024, 5, 9, view="close_up")
    take(2025, 8)
    proposal = talks.through_the_years(tree)
    assert proposal.title == "A-1 through the years: spring"
    shown = [slide.photos for slide in proposal.slides]
    assert shown == [*((photo,) for photo in spring), tuple(spring)]
    assert proposal.slides[-1].kind == Kind.SERIES


def test_a_winter_is_of_one_year_over_new_year(take, tree):
    # December 2024 and January 2025 are the same northern winter.
    take(2024, 12)
    latest = take(2025, 1)
    with refused("photos_missing", match="one year only"):
        talks.through_the_years(tree)
    later = take(2025, 12)
    assert [slide.photos for slide in talks.through_the_years(tree).slides[:2]] == [
        (latest,),
        (later,),
    ]


def test_without_photos_that_may_be_shown_it_says_so(take, tree):
    take(2024, audience="inside")
    with refused("photos_missing", match="No photo of A-1 may be shown"):
        talks.through_the_years(tree)


def test_before_is_the_finding_s_photo_and_after_that_of_the_closing(
    take, orchard, tree, vera
):
    task = make_task(orchard, tree, 1)
    with refused("photos_missing", match="isn't done yet"):
        talks.before_and_after(task)
    closure = task.closures.create(
        how="done", by=vera, done_on=NOW.date(), closed_at=NOW, evidence="Cut"
    )
    with refused("photos_missing", match="finished work"):
        talks.before_and_after(task)
    after = take(2026, 5, 12)
    PhotoLink.objects.create(photo=after, closure=closure)
    with refused("photos_missing", match="from before"):
        talks.before_and_after(task)
    of_the_tree = take(2026, 4)
    take(2025, 4)
    assert talks.before_and_after(task).slides[-1].photos == (of_the_tree, after)
    found = with_sign(take(2026, 3), "sucker")
    task.finding = found.findings.get()
    task.save()
    last = talks.before_and_after(task).slides[-1]
    assert (last.kind, last.photos) == (Kind.BEFORE_AFTER, (found, after))


def test_a_sign_goes_from_the_whole_tree_to_the_close_up(take, orchard, tree):
    with_sign(take(view="close_up", of=make_tree(orchard, "A-7")), "sucker")
    with refused("photos_missing", match="whole tree"):
        talks.from_tree_to_close_up(orchard, "sucker")
    close = with_sign(take(view="close_up"), "sucker")
    branch = with_sign(take(view="branch"), "sucker")
    whole = take(view="whole_tree")
    *_each, together, tell = talks.from_tree_to_close_up(orchard, "sucker").slides
    assert together.photos == (whole, branch, close)
    assert guide.load().signs["sucker"].look_for in tell.text


def test_look_alikes_stand_side_by_side_with_their_difference(take, orchard):
    sign, other, tell = alike_pair()
    first = with_sign(take(), sign.key)
    with refused("photos_missing", match=re.escape(other.name)):
        talks.look_alikes(orchard, sign.key, other.key)
    second = with_sign(take(), other.key)
    pair, *_single, difference = talks.look_alikes(orchard, sign.key, other.key).slides
    assert (pair.kind, pair.photos) == (Kind.PAIR, (first, second))
    assert tell in difference.text
    with pytest.raises(NotThere):
        talks.look_alikes(orchard, sign.key, sign.key)


def test_act_stands_beside_leave(take, orchard):
    act = with_sign(take(), "aphids", because="Many on soft tips.")
    with refused("photos_missing", match="“Leave”"):
        talks.act_beside_leave(orchard, "aphids")
    leave = with_sign(take(), "aphids", verdict="leave", because="Ladybirds came.")
    pair, first, second = talks.act_beside_leave(orchard, "aphids").slides
    assert pair.photos == (act, leave)
    assert (first.text, second.text) == ("Many on soft tips.", "Ladybirds came.")


def test_a_job_is_shown_by_what_was_done_of_it(take, orchard, tree, vera):
    job = next(iter(guide.load().jobs.values()))
    with refused("photos_missing", match=re.escape(job.name)):
        talks.steps_of_a_job(orchard, job.key)
    task = make_task(orchard, tree, 1)
    task.key, task.kind = job.key, "care"
    task.save()
    closure = task.closures.create(
        how="done", by=vera, done_on=NOW.date(), closed_at=NOW, evidence="Done"
    )
    done = [take(2026, 5, day) for day in (3, 1)]
    for photo in done:
        PhotoLink.objects.create(photo=photo, closure=closure)
    about, *shown = talks.steps_of_a_job(orchard, job.key).slides
    assert job.why in about.text
    assert [slide.photos for slide in shown] == [(done[1],), (done[0],)]


def test_what_there_is_to_choose_from_is_only_what_may_be_shown(take, orchard):
    sign, other, _tell = alike_pair()
    with_sign(take(), sign.key)
    with_sign(take(audience="inside"), other.key)
    there = talks.material(orchard)
    assert there.trees == ("A-1",)
    assert [each.key for each in there.signs] == [sign.key]
    assert there.pairs == ()
    with_sign(take(), other.key)
    assert (sign, other) in talks.material(orchard).pairs
