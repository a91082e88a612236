"""The guide to read: usual now in either hemisphere, by part, by word, sign by sign."""

from __future__ import annotations

import re
from datetime import date

import pytest

from orchard.records.models import Kind, Photo
from orchard.science import guide
from orchard.web import explain
from tests.conftest import NOW, TODAY, make_tree
from tests.services.house_rules.test_house_rules import rows_of, set_one

pytestmark = [pytest.mark.django_db, pytest.mark.on_sqlite]

LATITUDES = {"north": 38.5, "south": -34.8}


def text_of(client, url) -> str:
    answer = client.get(url)
    assert answer.status_code == 200, answer
    return " ".join(answer.content.decode().split())


def names_between(page: str, start: str, end: str) -> set[str]:
    part = page[page.index(start) : page.index(end)]
    return set(re.findall(r"/guide/([a-z_]+)/", part))


@pytest.fixture
def in_july(monkeypatch):
    """Let the page believe that it is mid-July, whatever day it is."""
    moment = NOW.replace(month=7, day=15)
    monkeypatch.setattr("django.utils.timezone.now", lambda: moment)
    return moment


class TestIndex:
    def test_the_same_july_is_summer_north_and_winter_south(
        self, client, vera, otto, tree, southbank, in_july
    ):
        """July is the fifth month from spring in the north, the eleventh in the south:
        meteorological seasons as the WMO groups months (from memory)."""
        make_tree(southbank, "A-1")
        signs = guide.load().signs.values()
        for user, slug, month in ((vera, "alderbrook", 5), (otto, "southbank", 11)):
            client.force_login(user)
            page = text_of(client, f"/{slug}/guide/")
            assert "Usual in July" in page
            shown = names_between(page, 'id="now"', 'id="parts"')
            assert shown == {
                sign.key
                for sign in signs
                if month in sign.usual_sm and sign.fits("citrus")
            }
            assert shown

    def test_signs_of_other_fruit_come_with_the_trees_that_have_them(
        self, as_vera, orchard, tree, in_july
    ):
        assert "codling" not in names_between(
            text_of(as_vera, "/alderbrook/guide/"), 'id="now"', 'id="parts"'
        )
        Kind.objects.create(orchard=orchard, name="Own apple", host="pome")
        assert "codling" in names_between(
            text_of(as_vera, "/alderbrook/guide/"), 'id="now"', 'id="parts"'
        )

    def test_a_word_is_sought_in_names_looks_and_look_alikes(self, as_vera, tree):
        page = text_of(as_vera, "/alderbrook/guide/?q=silvery+TRAIL")
        found = set(re.findall(r"/guide/([a-z_]+)/", page))
        assert "leafminer" in found
        assert "sucker" not in found
        code = text_of(as_vera, "/alderbrook/guide/?q=diaaci")
        assert "/guide/psyllid_nymph/" in code

    def test_a_part_narrows_it(self, as_vera, tree):
        page = text_of(as_vera, "/alderbrook/guide/?part=graft")
        found = set(re.findall(r"/guide/([a-z_]+)/", page))
        signs = guide.load().signs.values()
        assert found - {"words", "practice"} == {
            sign.key for sign in signs if "graft" in sign.parts
        }

    def test_nothing_found_says_what_to_try(self, as_vera, tree):
        page = text_of(as_vera, "/alderbrook/guide/?q=%3Cb%3Eunicorn")
        assert "Nothing in the guide fits." in page
        assert "<b>unicorn" not in page

    def test_the_number_of_queries_is_fixed(
        self, as_vera, orchard, tree, django_assert_max_num_queries
    ):
        with django_assert_max_num_queries(6):
            as_vera.get("/alderbrook/guide/")


class TestSign:
    @pytest.mark.parametrize("key", sorted(guide.load().signs))
    def test_every_sign_can_be_read(self, as_vera, tree, key):
        sign = guide.load().signs[key]
        page = text_of(as_vera, f"/alderbrook/guide/{key}/")
        assert page.count("<h1>") == 1
        assert page.count('class="rule-when"') == len(sign.rules)
        assert "licensed practice come first" in page
        assert f"Guide edition {guide.load().edition}" in page

    def test_an_unknown_sign_is_not_there(self, as_vera, tree):
        assert as_vera.get("/alderbrook/guide/dragons/").status_code == 404

    def test_months_are_those_of_the_hemisphere(self, client, vera, otto, tree):
        sign = guide.load().signs["leafminer"]
        for user, slug, side in (
            (vera, "alderbrook", "north"),
            (otto, "southbank", "south"),
        ):
            client.force_login(user)
            said = explain.months_text(sign.usual_sm, LATITUDES[side])
            assert said in text_of(client, f"/{slug}/guide/leafminer/")

    def test_our_own_photo_stands_before_the_drawing(
        self, as_vera, orchard, tree, vera
    ):
        def first_picture() -> str:
            page = text_of(as_vera, "/alderbrook/guide/leafminer/")
            return re.search(r'<figure class="sign-picture">.*?src="([^"]+)"', page)[1]

        assert first_picture().endswith("leafminer.svg")
        photo = Photo.objects.create(
            orchard=orchard, by=vera, sha256="1" * 64, file_format="JPEG", width=4,
            height=3, size_bytes=1, received_at=NOW, confirmed_sign="leafminer",
        )  # fmt: skip
        assert str(photo.name) in first_picture()

    def test_a_private_photo_is_never_the_picture(self, as_vera, orchard, tree, vera):
        photo = Photo.objects.create(
            orchard=orchard, by=vera, sha256="1" * 64, file_format="JPEG", width=4,
            height=3, size_bytes=1, received_at=NOW, confirmed_sign="leafminer",
            private=True,
        )  # fmt: skip
        page = text_of(as_vera, "/alderbrook/guide/leafminer/")
        assert str(photo.name) not in page

    def test_a_house_rule_stands_beside_the_guides_list(self, as_vera, orchard, cora):
        today = date.today()  # noqa: DTZ011
        own = rows_of(due=3, because="Grafts stand beside it.")
        set_one(orchard, cora, rules=own, starts_on=today, today=today)
        page = text_of(as_vera, "/alderbrook/guide/leafminer/")
        assert "House rule by Cora" in page
        assert "We graft here" in page
        assert "Grafts stand beside it." in page
        guides = guide.load().signs["leafminer"].rules[0].because
        assert guides.replace("'", "&#x27;") in page

    def test_only_the_coordinator_is_led_to_the_rules_form(self, client, vera, cora):
        url = "/alderbrook/house-rules/leafminer/"
        client.force_login(vera)
        assert url not in text_of(client, "/alderbrook/guide/leafminer/")
        client.force_login(cora)
        assert url in text_of(client, "/alderbrook/guide/leafminer/")

    def test_how_pests_stand_here_and_what_is_from_memory_is_said(self, as_vera, tree):
        page = text_of(as_vera, "/alderbrook/guide/psyllid_nymph/")
        assert "DIAACI" in page
        assert "must be reported" in page
        assert "Read for this guide" in page
        memory = text_of(as_vera, "/alderbrook/guide/brown_rot/")
        assert "From memory, not checked yet" in memory


class TestWords:
    """Rules in words come from the data alone; no month name is wired in."""

    @pytest.mark.parametrize(
        ("months", "side", "said"),
        [
            ((4, 5, 6, 7), "north", "June to September"),
            ((4, 5, 6, 7), "south", "December to March"),
            ((10, 11, 12, 1), "north", "December to March"),
            ((1,), "south", "September"),
            ((1, 7), "north", "March and September"),
            (tuple(range(1, 13)), "south", "all year"),
            ((1, 2, 4), "north", "March to April and June"),
        ],
    )
    def test_months_join_into_runs_across_new_year(self, months, side, said):
        assert explain.months_text(months, LATITUDES[side]) == said

    def test_every_rule_of_the_guide_can_be_told(self, orchard, southbank):
        southbank.units = "us"
        for place in (orchard, southbank):
            for sign in guide.load().signs.values():
                told = explain.rule_lines(sign.rules, sign, place)
                assert len(told) == len(sign.rules)
                for line in told:
                    assert line.when
                    assert "%(" not in line.when + line.then
                    assert not re.search(r"_|\bTrue\b|\bFalse\b", line.when)

    def test_lengths_come_in_the_orchards_own_units(self, orchard):
        """An inch is 2.54 cm (international yard and pound agreement, 1959)."""
        sign = guide.load().signs["roots_exposed"]
        fact = guide.load().facts["cm"]
        for units, written in (("metric", "\u00a0cm"), ("us", "\u00a0in")):
            orchard.units = units
            lines = explain.rule_lines(sign.rules, sign, orchard)
            assert any(written in line.when for line in lines)
        assert explain.shown_number(2.54, fact, orchard) == 1.0
        assert explain.stored_number(1.0, fact, orchard) == 2.54

    def test_questions_and_steps_are_read_in_the_orchards_own_units(
        self, orchard, as_vera, tree
    ):
        """60 cm are 23.6 in; the guide counts shoots longer than that."""
        page, form = "/alderbrook/guide/water_sprout/", "/alderbrook/trees/A-1/"
        assert "longer than 60 cm" in as_vera.get(page).content.decode()
        orchard.units = "us"
        orchard.save()
        for address in (page, f"{form}inspections/new/?sign=water_sprout"):
            said = as_vera.get(address).content.decode()
            assert "longer than 24 in" in said
            assert "longer than 60 cm" not in said

    def test_the_day_of_the_cast_is_in_the_third_month_of_spring(self):
        assert explain.month_name(TODAY) == "May"


def test_the_page_of_a_sign_shows_what_each_verdict_has_done(as_vera):
    page = as_vera.get("/alderbrook/guide/fruit_fly/").content.decode()
    assert "Tell the coordinator today" in page
    assert "Every 3 days, pick whatever is ripe" in page
