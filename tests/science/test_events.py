"""The table of events: every event has its row, and every name is the guide's."""

from __future__ import annotations

from orchard.science import events, guide
from orchard.science.events import BEFORE_FROST, EventGroup, EventKind
from orchard.science.windows import AfterEvent
from orchard.science.words import Lane


def test_every_event_has_a_row_and_words_of_its_own():
    labels = [kind.label for kind in EventKind]
    assert all(labels)
    assert len(set(labels)) == len(labels)
    assert len({kind.guide_name for kind in EventKind}) == len(labels)


def test_frosts_rise_from_light_to_severe_and_get_colder():
    frosts = events.kinds_of(EventGroup.FROST)
    assert frosts == (
        EventKind.FROST_NIGHT,
        EventKind.HARD_FROST,
        EventKind.SEVERE_FROST,
    )
    assert [kind.at_most_c for kind in frosts] == [0.0, -2.0, -4.0]


def test_an_event_is_named_with_the_figures_it_goes_by(set_figure):
    # Falivene & Filippi (2006, rev. 2014): -2 °C for 4 h, -4 °C for 5 h.
    assert EventKind.HARD_FROST.label == "hard frost (-2 °C or less for 4 hours)"
    assert EventKind.SEVERE_FROST.label == "severe frost (-4 °C or less for 5 hours)"
    assert EventKind.HEAVY_RAIN.label == "heavy rain (25 mm or more in a day)"
    assert EventKind.FROST_NIGHT.label == "frost night"
    set_figure(fruit_check_c=-2.5, rain_to_look_at_mm=30)
    assert EventKind.HARD_FROST.label == "hard frost (-2.5 °C or less for 4 hours)"
    assert EventKind.HEAVY_RAIN.label == "heavy rain (30 mm or more in a day)"


def test_a_harder_frost_is_all_the_lighter_ones_as_well():
    assert EventKind.SEVERE_FROST.guide_names == (
        "frost_night",
        "hard_frost",
        "severe_frost",
    )
    assert EventKind.HARD_FROST.guide_names == ("frost_night", "hard_frost")
    assert EventKind.HARVESTED.guide_names == ("harvest_done",)


def test_frost_and_rain_are_the_weather_and_the_rest_is_the_trees_own_life():
    assert events.kinds_in([Lane.WEATHER]) == (
        *events.kinds_of(EventGroup.FROST),
        EventKind.HEAVY_RAIN,
    )
    assert set(events.kinds_in(Lane)) == set(EventKind)
    assert events.kinds_in([Lane.WORK]) == ()


def test_what_jobs_wait_for_is_an_event_a_job_a_sign_or_planting():
    loaded = guide.load()
    known = (
        {kind.guide_name for kind in EventKind}
        | set(loaded.jobs)
        | {"planted", BEFORE_FROST}
    )
    waited_for = {
        job.trigger.event
        for job in loaded.jobs.values()
        if isinstance(job.trigger, AfterEvent)
    }
    assert {"frost_night", "hard_frost", "rain_25mm"} <= waited_for
    assert {name for name in waited_for if not events.sign_in(name)} <= known


def test_that_a_sign_was_seen_is_an_event_of_its_own():
    assert events.sign_in(events.sign_event("ants_trunk")) == "ants_trunk"
    assert events.sign_in("frost_night") == ""
