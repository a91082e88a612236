"""A tree's page: who it is, what is open, its condition, its life; who sees what."""

from __future__ import annotations

import re
from datetime import date, timedelta

import pytest
from django.utils import timezone

from orchard.records.models import Case, Task, Tree
from orchard.services import inspections, timeline
from orchard.services.inspections import SeenSign
from orchard.web import charts
from orchard.web.charts import drawings
from orchard.web.pages.trees import wording
from tests.conftest import make_person, make_tree
from tests.services.timeline.test_timeline import (
    busy_life,
    close,
    find,
    look,
    note,
    snap,
)

pytestmark = pytest.mark.django_db

PAGE = "/alderbrook/trees/A-1/"


def text_of(client, url=PAGE, **headers) -> str:
    answer = client.get(url, headers=headers)
    assert answer.status_code == 200, answer
    return " ".join(answer.content.decode().split())


def signed_in(client, user):
    client.force_login(user)
    return client


def open_task(tree, title="Cut the sucker flush", **fields) -> Task:
    today = timezone.localdate()
    number = Task.objects.count()
    values = {
        "kind": "act",
        "rank": 1,
        "key": f"sign-{number}",
        "occurrence": "1",
        "because": "It feeds the root half only.",
        "opens_on": today - timedelta(days=9),
        "due_on": today - timedelta(days=4),
        "rhythm_days": 7,
        "made_at": timezone.now(),
    }
    return Task.objects.create(
        orchard=tree.orchard, tree=tree, title=title, **{**values, **fields}
    )


@pytest.fixture
def suspicion(orchard, tree, vera):
    now = timezone.now()
    seen = look(tree, vera, at=now, has_private=True, note="Waxy strings")
    finding = find(seen, "psyllid_nymph", "report", private=True)
    snap(tree, vera, at=now, inspection=seen, private=True, caption="A waxy string")
    open_task(tree, "Ring the authority", kind="report", private=True)
    return Case.objects.create(
        orchard=orchard,
        tree=tree,
        sign="psyllid_nymph",
        finding=finding,
        opened_at=now,
        opened_by=vera,
    )


class TestWho:
    def test_it_says_who_the_tree_is(self, as_vera, tree):
        page = text_of(as_vera)
        assert page.count("<h1>") == 1
        assert "Carrizo / Troyer citrange" in page
        assert "in the ground" in page

    def test_a_doubtful_name_is_said_to_be_doubtful(self, as_vera, orchard):
        make_tree(
            orchard,
            own_roots=True,
            believed=True,
            label_name="Sweet one",
            setting="container",
            container_litres=45,
        )
        page = text_of(as_vera)
        assert "believed to be Washington navel (label: Sweet one)" in page
        assert "on its own roots" in page
        assert "in a container, 45 litres" in page

    def test_litres_are_gallons_where_people_count_in_gallons(self, orchard):
        """45 L / 3.785411784 L (US liquid gallon, NIST Handbook 44) = 11.9."""
        orchard.units = "us"
        tree = make_tree(orchard, setting="container", container_litres=45)
        assert wording.setting_text(tree).endswith("11.9 gallons")

    @pytest.mark.parametrize(
        ("born_on", "planted_on", "said"),
        [
            (date(2014, 5, 13), date(2016, 1, 1), "11 years"),
            (date(2014, 5, 12), date(2016, 1, 1), "12 years"),
            (None, date(2025, 5, 12), "12 months since planting"),
            (None, date(2026, 5, 1), "under a month since planting"),
            (None, None, "not known"),
        ],
    )
    def test_the_age_counts_from_grafting_else_from_planting(
        self, orchard, today, born_on, planted_on, said
    ):
        tree = make_tree(orchard, born_on=born_on, planted_on=planted_on)
        assert wording.age_text(tree, today=today) == said

    def test_a_name_with_markup_is_shown_as_text(self, as_vera, orchard):
        make_tree(orchard, kind="<b>Navel</b>", note="<script>1</script>")
        page = text_of(as_vera)
        assert "<script>1" not in page
        assert "&lt;b&gt;Navel" in page


class TestOpen:
    def test_what_is_late_says_how_late_and_why(self, as_vera, tree, vera):
        open_task(tree, taken_by=vera)
        page = text_of(as_vera)
        assert "4 days late" in page
        assert "It feeds the root half only." in page
        assert "taken by you" in page

    def test_what_has_not_begun_waits_under_a_fold(self, as_vera, tree):
        today = timezone.localdate()
        open_task(tree, opens_on=today + timedelta(5), due_on=today + timedelta(9))
        page = text_of(as_vera)
        assert "No tasks today" in page
        assert "1 to come" in page

    def test_three_tasks_show_at_once_and_the_others_are_folded(self, as_vera, tree):
        for number in range(5):
            open_task(tree, f"Task {number}")
        before, _summary, behind = text_of(as_vera).partition("2 more tasks")
        assert [f"Task {number}" in before for number in range(5)] == [True] * 3 + [
            False
        ] * 2
        assert "Task 3" in behind and "Task 4" in behind

    def test_a_closed_task_is_not_open(self, as_vera, tree, vera):
        close(tree, vera, on=timezone.localdate())
        assert "No tasks today" in text_of(as_vera)


class TestStanding:
    """What it was judged last, as long as that has work to do."""

    def record(self, tree, by, **signs):
        now = timezone.now()
        seen = [SeenSign(sign, answers) for sign, answers in signs.items()]
        inspections.record(tree, by=by, now=now, seen_at=now, findings=seen)

    def standing(self, client) -> str:
        page = text_of(client)
        found = re.search(r'<ul class="standing".*?</ul>', page)
        return re.sub(r"<[^>]+>", "", found[0]) if found else ""

    def test_it_is_told_in_a_line_with_its_verdict(self, as_vera, tree, vera):
        self.record(tree, vera, sucker={"graft": "below", "woody": False})
        said = self.standing(as_vera)
        assert "Act" in said
        assert "Rootstock sucker" in said
        assert "today" in said

    def test_a_sign_seen_twice_stands_once_with_its_newest_verdict(
        self, as_vera, tree, vera
    ):
        for _time in range(2):
            self.record(tree, vera, sucker={"graft": "below", "woody": False})
        assert self.standing(as_vera).count("Rootstock sucker") == 1

    def test_with_its_work_it_ends(self, as_vera, tree, vera):
        self.record(tree, vera, sucker={"graft": "below", "woody": False})
        Task.objects.update(closed_at=timezone.now())
        assert self.standing(as_vera) == ""

    def test_a_suspicion_does_not_stand_for_who_may_not_know(
        self, client, orchard, tree, lee, vera
    ):
        self.record(tree, vera, psyllid_nymph={"count": 1})
        assert "psyllid" in self.standing(signed_in(client, lee))
        other = make_person("Vito", orchard, "volunteer")
        assert self.standing(signed_in(client, other)) == ""


class TestPortrait:
    def src_of(self, client) -> str:
        found = re.search(r'tree-portrait.*?src="([^"]+)"', text_of(client))
        return found[1] if found else ""

    def test_the_whole_tree_stands_before_a_part_of_it(self, as_vera, tree, vera):
        assert self.src_of(as_vera) == ""
        part = snap(tree, vera, inspection=look(tree, vera))
        assert str(part.name) in self.src_of(as_vera)
        whole = snap(tree, vera, at=timezone.now() - timedelta(days=90))
        assert str(whole.name) in self.src_of(as_vera)

    def test_what_only_some_may_see_is_nobodys_first_picture(
        self, client, tree, vera, lee
    ):
        snap(tree, vera, private=True)
        for person in (vera, lee):
            assert self.src_of(signed_in(client, person)) == ""


class TestDeeds:
    def test_a_clean_tree_takes_one_tap(self, as_vera, tree):
        page = text_of(as_vera)
        assert f'action="{PAGE}all-well/"' in page
        assert f'href="{PAGE}inspections/new/"' in page

    def test_the_office_has_no_bar_and_keeps_no_trees(self, client, olga, tree):
        page = text_of(signed_in(client, olga))
        assert "all-well" not in page
        assert "Change this tree" not in page

    def test_those_who_keep_trees_find_the_ways_to_change_it(
        self, client, lee, vera, tree
    ):
        assert f"{PAGE}removal/" in text_of(signed_in(client, lee))
        assert f"{PAGE}removal/" not in text_of(signed_in(client, vera))

    @pytest.mark.parametrize(
        ("state", "field", "said"),
        [
            ("dead", "died_on", "This tree is dead."),
            ("rootstock_only", "scion_died_on", "Only the rootstock is alive."),
        ],
    )
    def test_a_lost_tree_takes_no_looks(self, as_vera, tree, state, field, said):
        Tree.objects.update(state=state, **{field: date(2026, 1, 1)})
        page = text_of(as_vera)
        assert said in page
        assert "all-well" not in page

    def test_a_removed_tree_leads_to_the_one_in_its_place(self, as_vera, orchard, tree):
        Tree.objects.update(
            state="removed", removed_on=date(2026, 1, 1), removal_reason="Foot rot"
        )
        assert "Nothing is planted in its place yet" in text_of(as_vera)
        make_tree(orchard, "A-1b", spot=tree.spot, replaces=tree)
        page = text_of(as_vera)
        assert "In its place: A-1b" in page
        assert "Foot rot" in page
        assert "all-well" not in page


class TestPrivate:
    def test_the_hold_is_for_all_and_its_reason_for_those_who_lead(
        self, client, suspicion, orchard, lee
    ):
        page = text_of(signed_in(client, lee))
        assert "asked to leave this tree alone" in page
        assert "/alderbrook/cases/" in page
        assert "Asian citrus psyllid" in page
        assert "Ring the authority" in page

    def test_a_volunteer_who_did_not_record_it_learns_the_hold_alone(
        self, client, suspicion, orchard
    ):
        page = text_of(signed_in(client, make_person("Vito", orchard, "volunteer")))
        assert "asked to leave this tree alone" in page
        for secret in ("psyllid", "Waxy", "waxy", "Ring the authority", "/cases/"):
            assert secret not in page

    @pytest.mark.parametrize("role", ["educator", "office"])
    def test_nor_do_other_roles(self, client, suspicion, orchard, role):
        page = text_of(signed_in(client, make_person("Somebody", orchard, role)))
        assert "asked to leave this tree alone" in page
        assert "psyllid" not in page

    def test_who_recorded_it_sees_her_own_finding(self, client, suspicion, vera):
        page = text_of(signed_in(client, vera))
        assert "Asian citrus psyllid" in page
        assert "/cases/" not in page
        assert "Ring the authority" not in page

    def test_a_closed_case_holds_nothing(self, client, suspicion, vera, lee):
        now = timezone.now()
        Case.objects.update(closed_at=now, closed_by=lee, outcome="Not it")
        assert "asked to leave this tree alone" not in text_of(signed_in(client, vera))

    def test_an_outsider_finds_no_tree(self, client, tree, otto):
        client.force_login(otto)
        assert client.get(PAGE).status_code == 404
        assert client.get(f"{PAGE}timeline/").status_code == 404


class TestTimeline:
    def test_lanes_and_years_work_without_a_script(self, as_vera, tree, vera):
        close(tree, vera, on=date(2024, 3, 1))
        look(tree, vera, all_well=True)
        work = text_of(as_vera, f"{PAGE}?lane=work")
        assert "Done: Whitewash the trunk" in work
        assert "Planted in" not in work
        assert "Done: Whitewash" not in text_of(as_vera, f"{PAGE}?lane=work&year=2025")
        assert "Nothing of this kind is on record" in text_of(
            as_vera, f"{PAGE}?lane=photos"
        )

    def test_every_enhanced_link_is_a_link(self, as_vera, tree, vera):
        busy_life(tree, [vera], count=60)
        page = text_of(as_vera)
        enhanced = re.findall(r"<a [^>]*hx-get[^>]*>", page)
        assert len(enhanced) > 10
        assert all(' href="' in one for one in enhanced)

    def test_htmx_gets_the_part_and_others_the_page(self, as_vera, tree):
        part = as_vera.get(f"{PAGE}timeline/?lane=life", headers={"HX-Request": "true"})
        said = part.content.decode()
        assert said.startswith('<section class="tree-life"')
        assert "HX-Request" in part.headers["Vary"]
        plain = as_vera.get(f"{PAGE}timeline/?lane=life")
        assert plain.status_code == 302
        assert plain.headers["Location"] == f"{PAGE}?lane=life#timeline"

    def test_it_begins_with_the_newest_and_a_year_opens_the_older_ones(
        self, as_vera, tree, vera
    ):
        for day in range(30):
            look(tree, vera, at=timezone.now() - timedelta(days=day), all_well=True)
        close(tree, vera, on=date(2024, 3, 1))
        page = text_of(as_vera)
        assert page.count('class="event"') == 8
        assert "Whitewash the trunk" not in page
        year = re.search(rf'href="({PAGE}\?year=2024#timeline)"', page)[1]
        opened = text_of(as_vera, year)
        assert "History of 2024" in opened
        assert "Done: Whitewash the trunk" in opened
        part = as_vera.get(
            f"{PAGE}timeline/?year=2024", headers={"HX-Request": "true"}
        ).content.decode()
        assert "Done: Whitewash the trunk" in part
        assert "Back to the newest" in part

    def test_long_events_leave_room_for_few_and_none_of_them_is_lost(
        self, as_vera, tree, vera
    ):
        for day in range(20):
            seen = look(tree, vera, at=timezone.now() - timedelta(days=day), note="n")
            for sign in ("aphids", "soft_scale", "sucker"):
                find(seen, sign)
            for minute in range(2):
                at = timezone.now() - timedelta(days=day, minutes=minute)
                snap(tree, vera, at=at, caption=f"Photo {day} {minute}")
        url, looks, shots = PAGE, [], []
        while url:
            page = text_of(as_vera, url)
            looks.append(len(re.findall(r">Looked at</a>", page)))
            shots += re.findall(r'alt="Photo (\d+ \d)"', page.partition("History")[2])
            older = re.search(r'id="timeline-older"[^>]*href="([^"]+)"', page)
            url = older and PAGE + older[1].split("/")[-1].replace("&amp;", "&")
        assert looks[0] == 1
        assert sum(looks) == 20
        assert sorted(shots) == sorted(
            f"{day} {one}" for day in range(20) for one in (0, 1)
        )

    def test_the_events_of_a_day_stand_together_under_its_date(
        self, as_vera, tree, vera
    ):
        for day in (date(2024, 3, 1), date(2024, 3, 2)):
            close(tree, vera, on=day)
            note(tree, vera, on=day)
        page = text_of(as_vera, f"{PAGE}?year=2024")
        assert page.count('class="day"') == 2
        assert page.count('class="event"') == 4
        assert page.count('datetime="2024-03-01"') == 1

    def test_older_leads_on_to_the_end(self, as_vera, tree, vera):
        for day in range(120):
            look(tree, vera, at=timezone.now() - timedelta(days=day), all_well=True)
        url, seen, pages = PAGE, 0, 0
        while url:
            page = text_of(as_vera, url)
            seen += page.count(">All well</a>")
            pages += 1
            older = re.search(r'id="timeline-older"[^>]*href="([^"]+)"', page)
            url = older and PAGE + older[1].split("/")[-1].replace("&amp;", "&")
        assert (seen, pages) == (120, 4)

    @pytest.mark.parametrize(
        "query", ["lane=moon", "year=x", "year=0", "year=99999", "before=1.2.3"]
    )
    def test_an_address_nobody_gave_is_not_there(self, as_vera, tree, query):
        assert as_vera.get(f"{PAGE}?{query}").status_code == 404

    def test_what_can_be_put_right_says_where(self, client, tree, vera, lee, orchard):
        mine = note(tree, vera)
        url = f"/alderbrook/events/{mine.pk}/correction/"
        assert url in text_of(signed_in(client, vera))
        assert url in text_of(signed_in(client, lee))
        other = make_person("Vito", orchard, "volunteer")
        assert url not in text_of(signed_in(client, other))


class TestCondition:
    def test_the_picture_has_its_table_and_its_sentence(self, as_vera, tree, vera):
        for days, condition in ((400, 5), (200, 4), (1, 2)):
            at = timezone.now() - timedelta(days=days)
            look(tree, vera, at=at, condition=condition)
        page = text_of(as_vera)
        assert page.count("<circle") >= 3
        assert "3 inspections from" in page
        assert "the lowest was poor." in page
        assert "2 poor</td>" in page

    def test_its_direction_is_said_first_with_the_scores_it_rests_on(
        self, as_vera, tree, vera
    ):
        for weeks, condition in enumerate((1, 2, 3, 4, 5)):
            at = timezone.now() - timedelta(weeks=weeks)
            look(tree, vera, at=at, condition=condition)
        page = text_of(as_vera)
        assert "Condition 1 of 5, dying." in page
        assert "Getting worse by about 52" in page
        assert "5 scores since" in page

    def test_without_a_score_it_says_so(self, as_vera, tree):
        page = text_of(as_vera)
        assert "No condition score yet" in page
        assert "<polyline" not in page

    def test_better_stands_higher_and_later_stands_further_right(self):
        days = [date(2020, 1, 1), date(2022, 1, 1), date(2026, 1, 1)]
        scores = [
            timeline.Score(day, condition, 1)
            for day, condition in zip(days, (1, 3, 5), strict=True)
        ]
        drawn = charts.condition_picture(scores)
        first, middle, last = drawn.dots
        assert first.y > middle.y > last.y
        assert first.x < middle.x < last.x
        # Two of six years lie between the first two: a third of the way.
        share = (middle.x - first.x) / (last.x - first.x)
        assert share == pytest.approx(731 / 2192, abs=0.002)
        assert [tick.text for tick in drawn.steps][::4] == ["1 dying", "5 thriving"]

    @pytest.mark.parametrize(
        ("first", "last", "said"),
        [
            (date(2016, 3, 1), date(2026, 5, 1), ["2020", "2025"]),
            (date(2025, 5, 20), date(2026, 5, 12),
             ["Jul 2025", "Jan 2026"]),
            (date(2026, 5, 1), date(2026, 5, 12), ["1 May 2026", "12 May 2026"]),
            (date(2026, 5, 1), date(2026, 5, 1), ["1 May 2026"]),
        ],
    )  # fmt: skip
    def test_the_ticks_of_time_are_round_and_few(self, first, last, said):
        assert [text for _day, text in drawings.time_ticks(first, last)] == said

    def test_all_ticks_lie_within_the_stretch(self):
        first = date(2020, 1, 15)
        for length in range(0, 9000, 37):
            last = first + timedelta(days=length)
            ticks = drawings.time_ticks(first, last)
            assert 1 <= len(ticks) <= 4
            assert all(first <= day <= last for day, _text in ticks)


def test_the_number_of_queries_is_fixed(
    client, tree, vera, lee, django_assert_max_num_queries
):
    client.force_login(lee)
    busy_life(tree, [vera, lee], count=40)
    open_task(tree)
    with django_assert_max_num_queries(20) as few:
        client.get(PAGE)
    busy_life(tree, [vera, lee], count=150, seed=3)
    for number in range(20):
        open_task(tree, f"Task {number}")
        look(tree, vera, condition=3)
    with django_assert_max_num_queries(20) as many:
        client.get(PAGE)
    assert len(many) == len(few)
