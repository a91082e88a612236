"""The pages of treatments: what is closed, a use typed in, a posting, the register."""

from __future__ import annotations

import csv
import html
import re
from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from orchard.records.models import Photo, Product, Treatment
from orchard.science import guide
from orchard.services import treatments
from tests.conftest import make_tree
from tests.services.photos.test_photos import file as a_photo
from tests.services.photos.test_photos import image
from tests.services.treatments.helpers import add, allow, use

pytestmark = pytest.mark.django_db
BARE = {"product-TOTAL_FORMS": "3", "product-INITIAL_FORMS": "0"}


@pytest.fixture
def garden(orchard):
    return allow(orchard)


@pytest.fixture
def clock():
    return timezone.now().replace(microsecond=0)


@pytest.fixture
def own_store(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path / "photos"


@pytest.fixture
def as_lee(lee):
    client = Client()
    client.force_login(lee)
    return client


def page(name, orchard, *args):
    return reverse(name, args=[orchard.slug, *args])


def sprayed(garden, lee, clock, *trees, **changes):
    soap = add(garden, lee, clock, **changes)
    brought = use(soap, *trees, at=clock - timedelta(hours=1))
    found = treatments.record(garden, brought, by=lee, now=clock, today=clock.date())
    return found.treatment


def test_closed_trees_stand_first_and_on_the_page_of_the_tree(
    garden, tree, lee, clock, as_lee
):
    row = sprayed(garden, lee, clock, tree)
    text = as_lee.get(page("treatments", garden)).content.decode()
    assert text.index("Closed now") < text.index("What was used")
    assert "Entry: closed until" in text
    assert (
        "No entry before"
        in as_lee.get(page("tree-show", garden, tree.code)).content.decode()
    )
    shown = as_lee.get(page("treatment-show", garden, row.pk)).content.decode()
    assert "No picking or tasting of fruit before" in shown


def test_a_closed_place_names_a_kind_of_two_words(garden, tree, lee, clock, as_lee):
    paint = add(garden, lee, clock, "trunk_paint", name="Paint", fruit_days=None)
    brought = use(paint, tree, at=clock - timedelta(hours=1))
    treatments.record(garden, brought, by=lee, now=clock, today=clock.date())
    answer = as_lee.get(page("treatments", garden))
    assert answer.status_code == 200
    assert "Trunk paint or whitewash" in answer.content.decode()


def test_a_use_is_typed_in_with_the_units_in_people_s_hands(
    garden, tree, lee, clock, as_lee
):
    soap = add(garden, lee, clock)
    typed = {
        **BARE, "trees": "a-1", "ended_at": clock.strftime("%Y-%m-%dT%H:%M"),
        "started_at": clock.strftime("%Y-%m-%dT%H:%M"), "mix_litres": "10",
        "product-0-product": soap.pk, "product-0-dose": "10",
        "product-0-dose_unit": "ml_per_l", "product-0-total": "3.38",
        "product-0-total_unit": "fl oz", "target": "aphids",
    }  # fmt: skip
    answer = as_lee.post(page("treatment-new", garden, "soap"), typed)
    row = Treatment.objects.get()
    assert answer.url == page("treatment-show", garden, row.pk)
    amount = row.products.get()
    # NIST SP 811: a US fluid ounce is 29.57353 mL.
    assert amount.total == pytest.approx(3.38 * 29.57353, abs=1e-4)
    assert amount.total_unit == "mL"
    assert [each.tree for each in row.reached.all()] == [tree]


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"trees": ""}, "Name the trees"),
        ({"trees": "Z-1"}, "has the code Z-1"),
        ({"trees": "A-1\0"}, "Null characters are not allowed"),
        ({"ended_at": ""}, "Give the day and the time"),
        ({"ended_at": "2090-01-01T10:00"}, "in the future"),
        ({"product-0-dose": "3"}, "Choose the product of these amounts"),
        ({"size": "abc"}, "Give a number"),
        ({"bbch": "150"}, "less than or equal to 99"),
    ],
)
def test_each_fault_is_a_sentence_and_nothing_typed_is_lost(
    garden, tree, lee, clock, as_lee, changes, words
):
    typed = {
        **BARE, "trees": "A-1", "ended_at": clock.strftime("%Y-%m-%dT%H:%M"),
        "note": "A windless morning",
    }  # fmt: skip
    answer = as_lee.post(page("treatment-new", garden, "oil"), {**typed, **changes})
    text = answer.content.decode()
    assert answer.status_code == 422
    assert words in text
    assert "A windless morning" in text
    assert not Treatment.objects.exists()


def test_a_plan_that_breaks_the_label_is_refused_with_the_reason(
    garden, tree, lee, clock, as_lee
):
    soap = add(garden, lee, clock)
    later = (clock + timedelta(days=1)).strftime("%Y-%m-%dT%H:%M")
    typed = {
        **BARE, "trees": "A-1", "started_at": later, "ended_at": later,
        "product-0-product": soap.pk, "product-0-dose": "25",
        "product-0-dose_unit": "ml_per_l",
    }  # fmt: skip
    url = page("treatment-plan-new", garden, "soap")
    answer = as_lee.post(url, typed)
    assert answer.status_code == 422
    assert "above the label&#x27;s 20 mL per litre" in answer.content.decode()
    typed["product-0-dose"] = "15"
    answer = as_lee.post(url, typed)
    plan = Treatment.objects.get()
    assert plan.is_plan
    shown = as_lee.get(answer.url).content.decode()
    assert "Record as done" in shown
    form = as_lee.get(f"{page('treatment-new', garden, 'soap')}?plan={plan.pk}")
    assert 'value="15.0"' in form.content.decode()


def test_a_warning_is_read_on_the_plan_and_stops_nothing(
    garden, tree, lee, clock, as_lee
):
    soap = add(garden, lee, clock, name="Other soap", action_group="4A")
    sprayed(garden, lee, clock, tree, action_group="4A")
    later = (clock + timedelta(days=1)).strftime("%Y-%m-%dT%H:%M")
    typed = {
        **BARE, "trees": "A-1", "started_at": later, "ended_at": later,
        "product-0-product": soap.pk, "note": "For aphids",
    }  # fmt: skip
    url = page("treatment-plan-new", garden, "soap")
    asked = as_lee.post(url, typed)
    text = asked.content.decode()
    assert asked.status_code == 200
    assert "twice in a row breeds resistance" in text
    assert "For aphids" in text
    assert not Treatment.objects.filter(is_plan=True).exists()
    planned = as_lee.post(url, typed | {"warned": "yes"})
    assert planned.status_code == 302
    assert "twice in a row" in as_lee.get(planned.url).content.decode()


def test_the_posting_is_in_two_languages_and_names_no_pest(
    garden, tree, lee, clock, as_lee
):
    row = sprayed(garden, lee, clock, tree)
    text = as_lee.get(page("treatment-posting", garden, row.pk)).content.decode()
    for words in ("KEEP OUT", "NO ENTRAR", "Entry from", "Entrada desde", "R-100"):
        assert words in text
    assert "aphids" not in text
    unknown = sprayed(garden, lee, clock, tree, name="Old soap", fruit_days=None)
    text = as_lee.get(page("treatment-posting", garden, unknown.pk)).content.decode()
    assert "this sign is removed" in text


def test_the_register_has_the_columns_of_the_profile_and_goes_out_as_a_file(
    garden, tree, lee, clock, as_lee
):
    garden.record_profile = "us"
    garden.save()
    sprayed(garden, lee, clock, tree, name="=SUM(soap)")
    text = as_lee.get(page("treatment-register", garden)).content.decode()
    assert "EPA registration number" in text
    file = as_lee.get(page("treatment-register-export", garden))
    lines = b"".join(file.streaming_content).decode("utf-8-sig").splitlines()
    assert lines[0].split(",")[4] == "EPA registration number"
    # No spreadsheet takes it for a formula.
    assert "'=SUM(soap)" in lines[1]
    assert "A-1" in lines[1]


def test_a_label_is_read_from_the_container(garden, lee, as_lee):
    url = page("product-new", garden, "copper")
    typed = {
        "name": "Blue stone", "entry_rule": "hours", "checked_on": "2026-01-02",
        "ingredients": "copper hydroxide 500 g/kg\nchalk 2 %",
    }  # fmt: skip
    answer = as_lee.post(url, typed)
    assert "Enter the hours" in answer.content.decode()
    answer = as_lee.post(url, {**typed, "entry_hours": "24", "ingredients": "much"})
    assert "“much” can&#x27;t be read" in answer.content.decode()
    answer = as_lee.post(url, {**typed, "entry_hours": "24"})
    row = Product.objects.get()
    assert row.ingredients == [["copper hydroxide", 500.0, "g/kg"], ["chalk", 2.0, "%"]]
    shown = as_lee.get(answer.url).content.decode()
    assert "never opens by itself" in shown
    answer = as_lee.post(
        page("product-correction", garden, row.pk),
        {**typed, "entry_hours": "24", "fruit_days": "7", "reason": "Found the line"},
    )
    newer = Product.objects.get(corrects=row)
    assert (newer.fruit_days, newer.by) == (7, lee)
    assert "Earlier readings" in as_lee.get(answer.url).content.decode()


def test_a_task_leads_to_the_form_of_its_treatment(garden, tree, lee, as_lee):
    from tests.services.tasks.test_tasks import make_task

    task = make_task(tree, key="whitewash")
    text = as_lee.get(page("task-show", garden, task.pk)).content.decode()
    url = f"{page('treatment-new', garden, 'trunk_paint')}?task={task.pk}"
    assert url in text
    assert 'value="A-1"' in as_lee.get(url).content.decode()


def test_photos_of_a_use_stay_with_it_when_it_is_corrected(
    garden, tree, lee, clock, as_lee, own_store
):
    typed = {
        **BARE, "trees": "A-1", "ended_at": clock.strftime("%Y-%m-%dT%H:%M"),
        "photos": [a_photo(), a_photo(made=image().rotate(90))],
    }  # fmt: skip
    as_lee.post(page("treatment-new", garden, "soap"), typed)
    row = Treatment.objects.get()
    assert row.photos.count() == 2
    # On a single tree it is a photo of that tree as well.
    assert {photo.tree for photo in Photo.objects.all()} == {tree}
    again = {**typed, "photos": [a_photo("PNG")], "reason": "The sign as well"}
    answer = as_lee.post(page("treatment-correction", garden, row.pk), again)
    newer = Treatment.objects.get(corrects=row)
    assert newer.photos.count() == 3
    shown = as_lee.get(answer.url).content.decode()
    for photo in Photo.objects.all():
        assert page("photo-show", garden, photo.name) in shown
    spoilt = as_lee.post(
        page("treatment-new", garden, "soap"), {**typed, "photos": [garbage()]}
    )
    assert spoilt.status_code == 422
    assert Treatment.objects.count() == 2


def garbage():
    return SimpleUploadedFile("sign.jpg", b"no picture", content_type="image/jpeg")


def test_a_label_without_its_photo_says_so_and_keeps_it_once_it_has_one(
    garden, tree, lee, clock, as_lee, own_store
):
    soap = sprayed(garden, lee, clock, tree).products.get().product
    lacking = "No photo of the label yet"
    url = page("product-show", garden, soap.pk)
    assert lacking in as_lee.get(url).content.decode()
    products = as_lee.get(page("products", garden)).content.decode()
    assert lacking.lower() in products.lower()
    typed = {
        "name": soap.name, "registration": "R-100", "entry_rule": "unknown",
        "checked_on": "2026-01-02", "reason": "With its photo",
    }  # fmt: skip
    url = page("product-correction", garden, soap.pk)
    shown = as_lee.get(as_lee.post(url, {**typed, "photo": a_photo()}).url)
    assert lacking not in shown.content.decode()
    url = page("product-correction", garden, Product.objects.get(corrects=soap).pk)
    shown = as_lee.get(as_lee.post(url, {**typed, "reason": "The name"}).url)
    assert lacking not in shown.content.decode()
    lines = b"".join(
        as_lee.get(page("treatment-register-export", garden)).streaming_content
    )
    [line] = csv.DictReader(lines.decode("utf-8-sig").splitlines())
    # The use keeps the reading it was made with, which had none.
    assert line["Label photo"] == "no"


def test_what_is_needed_is_worked_out_before_anything_is_recorded(
    garden, tree, lee, clock, as_lee
):
    paint = add(garden, lee, clock, "trunk_paint", name="White", m2_per_litre=8.0)
    typed = {
        **BARE, "trees": "A-1", "girth_cm": "40", "height_cm": "60", "coats": "2",
        "dilution": "1:1", "product-0-product": paint.pk, "step": "amounts",
    }  # fmt: skip
    url = page("treatment-new", garden, "trunk_paint")

    def asked(url, **changes):
        answer = as_lee.post(url, {**typed, **changes}, headers={"HX-Request": "true"})
        assert answer.status_code == 200
        words = re.sub(r"<[^>]+>", " ", answer.content.decode()).replace("\xa0", " ")
        return " ".join(words.split())

    # Own arithmetic: 0.4 m by 0.6 m, two coats, 8 m² a litre; half of it is water.
    words = asked(url)
    assert words.count("0.06 L") == 1
    assert words.count("0.03 L") == 2
    assert "Enter the girth of a trunk" in asked(url, girth_cm="")
    assert "has the code Z-9" in asked(url, trees="Z-9")
    # Without a script the page comes again, with what was typed.
    whole = as_lee.post(url, typed).content.decode()
    assert "0.06" in whole
    assert 'value="1:1"' in whole
    assert not Treatment.objects.exists()

    # A pot of 50 and 40 cm, 45 cm high: 71.864 L; from 12 cm below the rim less.
    pot = {"pot_top_cm": "50", "pot_bottom_cm": "40", "pot_height_cm": "45"}
    compost = page("treatment-new", garden, "compost")
    assert "71.9 L" in asked(compost, **pot)
    assert "22.3 L" in asked(compost, **pot, pot_gap_cm="12")
    garden.units = "us"
    garden.save()
    soap = add(garden, lee, clock)
    dosed = {
        "product-0-product": soap.pk, "product-0-dose": "10", "mix_litres": "2",
        "product-0-dose_unit": "ml_per_l",
    }  # fmt: skip
    # 2 US gallons are 7.571 L; at 10 mL a litre 75.71 mL, or 2.56 fl oz.
    assert "2.6 fl oz" in asked(page("treatment-new", garden, "soap"), **dosed)
    # An acre is 4,046.856 m², and 10,000 of them are a hectare: 2 L a hectare.
    wide = {
        **dosed, "product-0-dose": "2", "product-0-dose_unit": "l_per_ha", "size": "1",
        "size_unit": "acre",
    }  # fmt: skip
    assert f"{809.3712 / 29.5735:.1f} fl oz" in asked(
        page("treatment-new", garden, "soap"), **wide
    )


def test_usual_kinds_are_offered_first_and_all_others_behind_a_fold(garden, as_lee):
    text = as_lee.get(page("treatment-choose", garden)).content.decode()
    usual, others = text.split("Others")
    assert "Mulch" in usual
    assert "Copper" in others
    for kind in guide.load().treatments:
        assert page("treatment-new", garden, kind) in text


@pytest.mark.parametrize("profile", ["eu", "us", "au", "other"])
def test_every_field_that_a_profile_needs_is_on_the_form_and_marked(
    garden, tree, lee, clock, as_lee, profile
):
    garden.record_profile = profile
    garden.save()
    add(garden, lee, clock)
    text = as_lee.get(page("treatment-new", garden, "soap")).content.decode()
    marked = set(re.findall(r'name="([^"]+)"[^>]*? data-asked', text))
    needed = {
        name if name not in ("product", "dose", "total") else f"product-0-{name}"
        for name in treatments.asked_for("soap", garden)
    }
    assert marked == needed
    # The elements of the record of a use, whatever the profile marks of them.
    for name in (
        "trees", "started_at", "ended_at", "use_type", "method", "droplets", "size",
        "size_unit", "mix_litres", "amount_reason", "applicator", "applicator_contact",
        "licence", "licence_until", "supervisor", "owner", "home_garden_reason",
        "wind_kmh", "wind_from", "wind_changes", "temperature_c", "humidity_percent",
        "rain_expected", "soil_is_dry", "weeds_flower", "bbch", "target", "drift",
        "beneath", "note", "photos", "product-0-dose", "product-0-batch",
        "product-0-expires_on", "product-2-product", "product-2-expires_on",
    ):  # fmt: skip
        assert text.count(f'name="{name}"') == 1, name


def test_trees_and_moment_are_one_line_each(garden, lee, as_lee):
    for number in range(1, 13):
        make_tree(garden, f"B-{number}")
    url = page("treatment-new", garden, "mulch")
    lines = says(as_lee.get(f"{url}?tree=B"))
    assert lines["Trees"] == "12 trees of block B"
    assert lines["When"] == "just now"
    assert says(as_lee.get(f"{url}?tree=B-3%20B-1"))["Trees"] == "B-1, B-3"
    # What names nothing is said as it was typed; nothing is asked for in full.
    assert says(as_lee.get(f"{url}?tree=Q-9"))["Trees"] == "Q-9"
    assert "Trees" not in says(as_lee.get(url))


@pytest.mark.parametrize(
    ("changes", "opened"),
    [
        ({"trees": "Z-1"}, {"What, where, when"}),
        ({"ended_at": "2090-01-01T10:00"}, {"What, where, when", "When"}),
        ({"product-0-batch": "7"}, {"What, where, when"}),
        ({"product-0-dose": "abc"}, {"Dose, size, how"}),
        ({"wind_kmh": "abc"}, {"Weather"}),
        ({"licence_until": "abc"}, {"Licence, supervisor, site"}),
        ({"drift": "Z-1"}, {"Neighbours, plants beneath"}),
        ({"wind_kmh": "abc", "size": "abc"}, {"Dose, size, how", "Weather"}),
    ],
)
def test_what_is_refused_opens_its_part_and_the_others_say_what_they_hold(
    garden, tree, lee, clock, as_lee, changes, opened
):
    soap = add(garden, lee, clock)
    typed = {
        **BARE, "trees": "A-1", "ended_at": clock.strftime("%Y-%m-%dT%H:%M"),
        "target": "aphids", "humidity_percent": "60",
    }  # fmt: skip
    if "product-0-batch" not in changes:
        typed |= {"product-0-product": soap.pk, "product-0-total_unit": "mL"}
    answer = as_lee.post(page("treatment-new", garden, "soap"), {**typed, **changes})
    assert answer.status_code == 422
    text = answer.content.decode()
    assert "Not saved yet" in text
    found = re.findall(r"<details[^>]*\bopen\b[^>]*>\s*<summary><b>([^<]+)<", text)
    assert set(found) == opened
    assert 'name="part"' not in text
    lines = says(answer)
    assert "aphids" in lines["Dose, size, how"]
    assert "Humidity, %: 60" in lines["Weather"]


def test_a_form_that_was_cut_short_is_shown_again(garden, tree, as_lee):
    answer = as_lee.post(page("treatment-new", garden, "soap"), {"trees": "A-1"})
    assert answer.status_code == 422
    assert 'name="product-2-total"' in answer.content.decode()


def test_a_rule_that_a_plan_breaks_is_said_beside_its_field(
    garden, tree, lee, clock, as_lee
):
    soap = add(garden, lee, clock, needs_hours=True)
    later = (clock + timedelta(days=1)).strftime("%Y-%m-%dT%H:%M")
    typed = {
        **BARE, "trees": "A-1", "ended_at": later, "product-0-product": soap.pk,
    }  # fmt: skip
    url = page("treatment-plan-new", garden, "soap")
    text = as_lee.post(url, typed).content.decode()
    assert re.search(r"<details[^>]*open[^>]*>\s*<summary><b>When<", text)
    assert "limits the hours of use" in text
    typed |= {"product-0-dose": "10", "product-0-dose_unit": "ml_per_l",
              "product-0-total": "3", "product-0-total_unit": "kg",
              "started_at": later}  # fmt: skip
    text = as_lee.post(url, typed).content.decode()
    assert "one amount is of a liquid" in text
    assert re.search(r"<details[^>]*open[^>]*>\s*<summary><b>What, where", text)


def says(answer):
    """Read the lines of a form's folds, by what they are called."""
    found = re.findall(
        r"<summary><b>([^<]+)</b> <small data-says>([^<]*)<", answer.content.decode()
    )
    return {name: html.unescape(text) for name, text in found}
