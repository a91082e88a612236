"""The database refuses each row that one of its constraints is there to refuse."""

from __future__ import annotations

from datetime import timedelta
from typing import Any, NamedTuple

import pytest
from django.apps import apps
from django.db import IntegrityError, connection, transaction
from django.db.models import UniqueConstraint

from tests.conftest import NOW, TODAY
from tests.records.rows import Rows

DAY = timedelta(days=1)
TURN = {"key": "mulch", "occurrence": "2026", "closed_at": NOW}


class Bad(NamedTuple):
    """Columns that spoil a row, and the nearest to them that are good."""

    columns: dict[str, Any]
    good: dict[str, Any]


class Twice(NamedTuple):
    """Columns that two rows share, and what lets the second one in beside the first."""

    shared: Any
    good: dict[str, Any]


def bad(good=None, **columns):
    return Bad(columns, good or {})


def possible(field, low):
    """Give a value just below what is possible, and the lowest that is."""
    return bad({field: low}, **{field: low - 0.1})


def listed(field, good):
    return bad({field: good}, **{field: "?"})


def twice(good, **shared):
    return Twice(lambda rows: shared, good)


def twice_on(good, *parents, **shared):
    return Twice(lambda rows: {each: rows.get(each) for each in parents} | shared, good)


CORRECTABLE = (
    "crown", "drycheck", "happening", "harvest", "harvestshare", "horizon",
    "inspection", "leaftest", "photo", "product", "reading", "ripenesstest",
    "stagenote", "treatment", "watering", "weatherday", "wetspell",
)  # fmt: skip

CASES: dict[str, tuple[str, Bad | Twice]] = {
    **{
        f"{name}_withdrawal_whole": (name, bad(withdrawn_at=NOW))
        for name in CORRECTABLE
    },
    **{
        f"{name}_correction_explained": (
            name,
            bad({"corrects": name, "correction_reason": "Better"}, corrects=name),
        )
        for name in CORRECTABLE
    },
    **{
        f"{name}_{field}_known": (name, listed(field, good))
        for name, field, good in (
            ("soil", "sort", "sand"),
            ("soil", "cover", "covered"),
            ("horizon", "how", "tilt"),
            ("receipt", "kind", "inspection"),
            ("membership", "role", "office"),
            ("invitation", "role", "office"),
            ("photo", "people", "nobody"),
            ("photo", "file_format", "HEIC"),
            ("photo", "view", ""),
            ("photo", "audience", "public"),
            ("photoconsent", "use", "public"),
            ("orchard", "units", "us"),
            ("kind", "host", "fig"),
            ("kind", "tender_class", ""),
            ("tree", "setting", "container"),
            ("peststatus", "status", "common"),
            ("finding", "verdict", "leave"),
            ("happening", "what", "potted"),
            ("station", "sort", "own"),
            ("reading", "what", "lowest"),
            ("task", "kind", "look"),
            ("closure", "how", "done"),
            ("orchard", "record_profile", "eu"),
            ("orchard", "public_use", ""),
            ("product", "kind", "copper"),
            ("product", "entry_rule", "until_dry"),
            ("product", "dose_unit", "l_per_ha"),
            ("treatment", "kind", "copper"),
            ("treatment", "method", "knapsack"),
            ("treatment", "droplets", "fine"),
            ("treatment", "use_type", "area"),
            ("productuse", "dose_unit", "g_per_tree"),
            ("treatedtree", "reach", "drift"),
            ("wetspell", "cause", "dew"),
            ("harvest", "part", "leaf"),
            ("harvest", "how", "pole"),
            ("harvestshare", "use", "compost"),
            ("slide", "kind", "before_after"),
            ("talkstep", "deed", "move"),
        )
    },
    "finding_override_known": (
        "finding",
        bad(
            {"override": "act", "override_reason": "Seen", "override_by": "user"},
            override="?", override_reason="Seen", override_by="user",
        ),
    ),
    "finding_override_explained": (
        "finding", bad(override="act", override_by="user")
    ),
    "secondlook_answer_known": (
        "secondlook",
        bad(
            {"answer": "other", "answered_at": NOW, "answered_by": "user"},
            answer="?", answered_at=NOW, answered_by="user",
        ),
    ),
    "secondlook_answer_whole": ("secondlook", bad(answer="agreed")),
    "tree_state_known": ("tree", listed("state", "dead")),
    "tree_born_precision_known": ("tree", listed("born_precision", "year")),
    "tree_planted_precision_known": ("tree", listed("planted_precision", "year")),
    "intake_days_have_a_station": (
        "intake", bad({"sort": "forecast", "station": None}, station=None)
    ),
    "case_one_open_per_tree_and_sign": (
        "case",
        twice_on(
            {"closed_at": NOW, "closed_by": "user", "outcome": "Not it"},
            "tree", sign="psyllid",
        ),
    ),
    "case_close_whole": (
        "case",
        bad(
            {"closed_at": NOW, "closed_by": "user", "outcome": "Not it"},
            closed_at=NOW, closed_by="user",
        ),
    ),
    "ripeness_fruits_possible": ("ripenesstest", bad({"fruits": 200}, fruits=201)),
    "ripeness_colour_possible": (
        "ripenesstest", bad({"colour_percent": 100}, colour_percent=101)
    ),
    "ripeness_taste_known": ("ripenesstest", bad({"taste": 5}, taste=6)),
    "ripeness_says_something": (
        "ripenesstest", bad({"taste": None, "brix_read": 11.0}, taste=None)
    ),
    "soil_depth_new_m_possible": ("soil", bad({"depth_new_m": 3}, depth_new_m=3.1)),
    "soil_depth_young_m_possible": (
        "soil", bad({"depth_young_m": 3}, depth_young_m=0)
    ),
    "soil_depth_mature_m_possible": (
        "soil", bad({"depth_mature_m": 3}, depth_mature_m=3.1)
    ),
    "crown_width_possible": ("crown", bad({"width_m": 20}, width_m=20.1)),
    "crown_height_possible": ("crown", bad({"height_m": 30}, height_m=30.1)),
    "watering_litres_possible": ("watering", bad({"litres": 5000}, litres=0)),
    "horizon_declination_possible": (
        "horizon", bad({"declination": -60}, declination=-60.1)
    ),
    "houserule_says_why": ("houserule", bad(reason="")),
    "houserule_lift_whole": (
        "houserule",
        bad(
            {"lifted_on": TODAY, "lifted_by": "user", "lifted_reason": "Over"},
            lifted_on=TODAY - DAY, lifted_by="user", lifted_reason="Over",
        ),
    ),
    "houserule_one_per_sign": (
        "houserule",
        twice(
            {"lifted_on": TODAY, "lifted_by": "user", "lifted_reason": "Over"},
            sign="sucker",
        ),
    ),
    "user_email_lower_case": ("user", bad(email="Ann@example.org")),
    "membership_once_per_orchard": (
        "membership", twice_on({"user": "another user"}, "user")
    ),
    "invitation_expires_after_sent": ("invitation", bad(expires_at=NOW)),
    "photo_content_once_per_orchard": (
        "photo", twice({"superseded_at": NOW}, sha256="same")
    ),
    "talkset_has_title": ("talkset", bad(title="")),
    "slide_position_from_one": ("slide", bad({"position": 1}, position=0)),
    "slide_one_at_a_position": (
        "slide",
        Twice(
            lambda rows: {"talk_set": rows.get("talkset"), "position": 1},
            {"position": 2},
        ),
    ),
    "slidephoto_position_from_one": ("slidephoto", bad({"position": 1}, position=0)),
    "slidephoto_one_at_a_position": (
        "slidephoto", twice_on({"removed_at": NOW}, "slide", position=1)
    ),
    "photoconsent_names_somebody": ("photoconsent", bad(person="")),
    "photoconsent_withdrawal_whole": (
        "photoconsent",
        bad(
            {"withdrawn_on": TODAY, "withdrawn_by": "user", "withdrawn_at": NOW,
             "withdrawn_reason": "Asked"},
            withdrawn_on=TODAY - DAY, withdrawn_by="user", withdrawn_at=NOW,
            withdrawn_reason="Asked",
        ),
    ),
    "photoconsent_one_standing": (
        "photoconsent",
        twice_on({"person": "Bea"}, "photo", person="Ann", use="talks"),
    ),
    "photolink_exactly_one_subject": (
        "photolink",
        bad({"tree": None, "inspection": "inspection"}, inspection="inspection"),
    ),
    **{
        f"photolink_once_per_{subject}": (
            "photolink",
            twice_on(
                {"photo": "another photo"}, "photo", subject,
                **({} if subject == "tree" else {"tree": None}),
            ),
        )
        for subject in (
            "tree", "inspection", "finding", "closure", "round", "treatment",
            "product", "harvest",
        )
    },
    "orchard_maturity_standard_known": (
        "orchard", listed("maturity_standard", "western_australia")
    ),
    "orchard_latitude_on_earth": ("orchard", bad({"latitude": -90}, latitude=-90.5)),
    "orchard_longitude_on_earth": (
        "orchard", bad({"longitude": 180}, longitude=180.5)
    ),
    "orchard_quarantine_whole": (
        "orchard",
        bad(
            {"quarantine_from": TODAY, "quarantine_words": "Order 7"},
            quarantine_from=TODAY,
        ),
    ),
    "orchard_leaf_set_whole": ("orchard", bad({"leaf_set": ""}, leaf_set="florida")),
    "block_code_once_per_orchard": ("block", twice({"code": "Aa"}, code="A")),
    "spot_number_once_per_block": ("spot", twice({"number": "1c"}, number="1b")),
    "kind_name_once_per_orchard": ("kind", twice({"name": "Meyers"}, name="Meyer")),
    "tree_code_once_per_orchard": ("tree", twice({"code": "A-12"}, code="A-1")),
    "tree_one_standing_per_spot": (
        "tree",
        twice_on(
            {"removed_on": TODAY, "state": "removed", "removal_reason": "Dead"},
            "spot",
        ),
    ),
    "tree_removal_whole": (
        "tree",
        bad(
            {"removed_on": TODAY, "state": "removed", "removal_reason": "Dead"},
            removed_on=TODAY, state="removed",
        ),
    ),
    "tree_removed_after_planted": (
        "tree",
        bad(
            {"planted_on": TODAY, "removed_on": TODAY, "state": "removed",
             "removal_reason": "Dead"},
            planted_on=TODAY, removed_on=TODAY - DAY, state="removed",
            removal_reason="Dead",
        ),
    ),
    "tree_planted_after_grafted": (
        "tree", bad({"born_on": TODAY, "planted_on": TODAY}, born_on=TODAY)
    ),
    "tree_litres_only_in_container": (
        "tree",
        bad({"setting": "container", "container_litres": 40}, container_litres=40),
    ),
    "tree_own_roots_no_rootstock": (
        "tree", bad({"own_roots": True}, own_roots=True, rootstock="Carrizo")
    ),
    "tree_condition_one_to_five": ("tree", bad({"condition": 5}, condition=6)),
    "stay_one_spot_at_a_time": ("stay", twice_on({"ended": True}, "tree")),
    "stay_ends_after_start": (
        "stay",
        bad(
            {"since_on": TODAY, "until_on": TODAY, "ended": True},
            since_on=TODAY, until_on=TODAY - DAY, ended=True,
        ),
    ),
    "stay_end_only_when_ended": (
        "stay", bad({"until_on": TODAY, "ended": True}, until_on=TODAY)
    ),
    "tag_one_valid_per_tree": ("tag", twice_on({"retired_at": NOW}, "tree")),
    "pest_status_once_per_orchard": (
        "peststatus", twice({"code": "PHYOCI"}, code="DIAACI")
    ),
    "round_taken_whole": (
        "round", bad({"taken_at": NOW, "taken_by": "user"}, taken_at=NOW)
    ),
    "round_closed_whole": (
        "round", bad({"closed_at": NOW, "closed_by": "user"}, closed_at=NOW)
    ),
    "roundstop_tree_once_per_round": (
        "roundstop", twice_on({"tree": "another tree"}, "round", "tree")
    ),
    "roundstop_position_once_per_round": (
        "roundstop", twice_on({"position": 2}, "round", position=1)
    ),
    "inspection_condition_one_to_five": (
        "inspection", bad({"condition": 1}, condition=0)
    ),
    "inspection_photo_only_says_nothing": (
        "inspection", bad({"photo_only": True}, photo_only=True, note="Bees")
    ),
    "stagenote_bbch_two_digits": ("stagenote", bad({"bbch": 99}, bbch=100)),
    "stagenote_tree_or_group": (
        "stagenote", bad({"tree": None, "group": "navel"}, group="navel")
    ),
    "station_name_once_per_orchard": (
        "station", twice({"name": "The old wall"}, name="The wall")
    ),
    "station_elevation_m_possible": (
        "station", bad({"elevation_m": -450}, elevation_m=-451)
    ),
    "weatherday_once_per_station": (
        "weatherday", twice_on({"superseded_at": NOW}, "station", on=TODAY)
    ),
    **{
        f"weatherday_{field}_possible": ("weatherday", possible(field, low))
        for field, low in (
            ("tmin", -90.0),
            ("tmax", -90.0),
            ("tmean", -90.0),
            ("dew_point", -90.0),
            ("rh_mean", 0.0),
            ("rh_min", 0.0),
            ("rh_max", 0.0),
            ("rain_mm", 0.0),
            ("wind_2m", 0.0),
            ("sunshine_hours", 0.0),
            ("solar", 0.0),
        )
    },
    "weatherday_tmin_below_tmax": (
        "weatherday", bad({"tmin": 9.0, "tmax": 9.0}, tmin=9.1, tmax=9.0)
    ),
    "weatherday_rh_min_below_rh_max": (
        "weatherday", bad({"rh_min": 9.0, "rh_max": 9.0}, rh_min=9.1, rh_max=9.0)
    ),
    "reading_celsius_possible": ("reading", possible("celsius", -90.0)),
    "reading_dew_point_possible": ("reading", possible("dew_point", -90.0)),
    **{
        f"forecast_{field}_possible": ("forecast", possible(field, low))
        for field, low in (
            ("tmin", -90.0),
            ("tmax", -90.0),
            ("dew_point", -90.0),
            ("wind", 0.0),
            ("cloud", 0.0),
            ("rain_mm", 0.0),
        )
    },
    "forecast_tmin_below_tmax": (
        "forecast", bad({"tmin": 9.0, "tmax": 9.0}, tmin=9.1, tmax=9.0)
    ),
    "careplan_job_once_per_orchard": ("careplan", twice({"job": "mulch"}, job="feed")),
    "careplan_interval_positive": ("careplan", bad({"every_days": 1}, every_days=0)),
    "task_names_its_work": ("task", bad(key="")),
    "task_of_a_sign_has_its_tree": (
        "task", bad({"tree": None, "kind": "care"}, tree=None, kind="act")
    ),
    "task_by_hand_says_of_whom": ("task", bad(kind="once")),
    "taskrequest_work_known": ("taskrequest", listed("work", "pruning")),
    "task_due_after_opens": (
        "task",
        bad({"opens_on": TODAY, "due_on": TODAY}, opens_on=TODAY, due_on=TODAY - DAY),
    ),
    "task_rhythm_positive": ("task", bad({"rhythm_days": 1}, rhythm_days=0)),
    "task_one_open_on_tree": (
        "task", twice_on({"closed_at": NOW}, "tree", key="mulch")
    ),
    "task_one_open_on_block": (
        "task", twice_on({"closed_at": NOW}, "block", tree=None, key="mulch")
    ),
    "task_one_open_on_orchard": (
        "task", twice({"closed_at": NOW}, tree=None, key="mulch")
    ),
    "task_turn_once_on_tree": (
        "task",
        twice_on({"occurrence": "2027"}, "tree", **TURN),
    ),
    "task_turn_once_on_block": (
        "task",
        twice_on(
            {"occurrence": "2027"}, "block", tree=None, **TURN
        ),
    ),
    "task_turn_once_on_orchard": (
        "task",
        twice({"occurrence": "2027"}, tree=None, **TURN),
    ),
    "closure_one_standing_per_task": ("closure", twice_on({"undone_at": NOW}, "task")),
    "closure_says_why": (
        "closure", bad({"how": "skipped", "reason": "Rain"}, how="skipped")
    ),
    **{
        f"{name}_written_by_another": (
            name,
            bad({"by": "user", "written_by": None}, by="user", written_by="user"),
        )
        for name in (
            "inspection", "closure", "ripenesstest", "treatment", "harvest"
        )
    },
    "bulkchange_deed_known": ("bulkchange", listed("deed", "take")),
    "cuttest_counts_fit": (
        "cuttest", bad({"fruit_cut": 4, "fruit_spoilt": 4}, fruit_spoilt=5)
    ),
    "product_hours_of_entry_said": (
        "product", bad({"entry_rule": "hours", "entry_hours": 0}, entry_rule="hours")
    ),
    "product_entry_hours_possible": (
        "product", bad({"entry_hours": 2160}, entry_hours=2160.5)
    ),
    **{
        f"product_{field}_possible": ("product", bad({field: 730}, **{field: 731}))
        for field in ("fruit_days", "leaf_days", "flower_days")
    },
    "product_most_dose_above_nothing": (
        "product",
        bad({"most_dose": 1, "dose_unit": "l_per_ha"}, most_dose=0,
            dose_unit="l_per_ha"),
    ),
    "product_m2_per_litre_above_nothing": (
        "product", bad({"m2_per_litre": 8}, m2_per_litre=0)
    ),
    "product_dose_has_unit": (
        "product", bad({"most_dose": 1, "dose_unit": "l_per_ha"}, most_dose=1)
    ),
    "product_nitrogen_possible": (
        "product", bad({"nitrogen_percent": 100}, nitrogen_percent=101)
    ),
    "treatment_ends_after_start": (
        "treatment", bad({"started_at": NOW}, started_at=NOW + DAY)
    ),
    "treatment_size_unit_known": (
        "treatment", bad({"size": 2, "size_unit": "trees"}, size=2, size_unit="?")
    ),
    "treatment_size_possible": (
        "treatment", bad({"size": 2, "size_unit": "m2"}, size=0, size_unit="m2")
    ),
    "treatment_bbch_two_digits": ("treatment", bad({"bbch": 99}, bbch=100)),
    "treatment_plan_carries_out_none": (
        "treatment",
        bad({"plan": "another treatment"}, plan="another treatment", is_plan=True),
    ),
    "productuse_once_a_treatment": (
        "productuse", twice_on({"product": "another product"}, "treatment", "product")
    ),
    "productuse_total_unit_known": (
        "productuse", bad({"total": 1, "total_unit": "kg"}, total=1, total_unit="?")
    ),
    "productuse_dose_above_nothing": ("productuse", bad({"dose": 1}, dose=0)),
    "productuse_total_above_nothing": (
        "productuse", bad({"total": 1, "total_unit": "L"}, total=0, total_unit="L")
    ),
    "productuse_total_has_unit": (
        "productuse", bad({"total": 1, "total_unit": "mL"}, total=1)
    ),
    "treatedtree_once_a_treatment": (
        "treatedtree", twice_on({"tree": "another tree"}, "treatment", "tree")
    ),
    "treatedtree_adviser_named": (
        "treatedtree",
        bad({"adviser": "Ida", "adviser_opens_at": NOW}, adviser_opens_at=NOW),
    ),
    "drycheck_says_who_may": ("drycheck", bad(qualified="")),
    "wetspell_ends_after_start": ("wetspell", bad(ended_at=NOW)),
    "harvest_has_lot": ("harvest", bad(lot="")),
    "harvest_lot_once_per_orchard": (
        "harvest", twice({"superseded_at": NOW}, lot="A-2026-01")
    ),
    "harvestedtree_once_a_harvest": (
        "harvestedtree", twice_on({"tree": "another tree"}, "harvest", "tree")
    ),
    "harvestedtree_amount_given": (
        "harvestedtree", bad({"kg": None, "count": 3}, kg=None)
    ),
    "harvestedtree_kg_possible": ("harvestedtree", bad({"kg": 5000}, kg=5001)),
    "harvestshare_amount_given": (
        "harvestshare", bad({"kg": None, "count": 3}, kg=None)
    ),
    "harvestshare_given_to_somebody": (
        "harvestshare",
        bad({"use": "given_away", "receiver": "Kitchen"}, use="given_away"),
    ),
    "holdbreach_of_one_deed": (
        "holdbreach", bad({"closure": None, "harvest": "harvest"}, harvest="harvest")
    ),
    "holdbreach_says_which_hold": ("holdbreach", bad(hold="")),
    "recall_starts_from_one": (
        "recall",
        bad({"harvest": None, "treatment": "treatment"}, treatment="treatment"),
    ),
    "recall_says_why": ("recall", bad(because="")),
    "recall_close_whole": (
        "recall", bad({"closed_at": NOW, "closed_by": "user"}, closed_at=NOW)
    ),
    "practiceanswer_level_known": ("practiceanswer", listed("level", "alike")),
    "practiceanswer_names_its_sign": ("practiceanswer", bad(sign="")),
    "practiceanswer_photo_at_its_level": (
        "practiceanswer",
        bad({"photo": "photo"}, photo="photo", level="drawing"),
    ),
    "leaftest_of_tree_or_block": (
        "leaftest", bad({"tree": None, "block": "block"}, tree=None)
    ),
    "leaftest_age_possible": ("leaftest", bad({"leaf_months": 36}, leaf_months=37)),
    "leaftest_says_something": ("leaftest", bad(contents={})),
    "leaftest_ph_possible": ("leaftest", bad({"soil_ph": 14}, soil_ph=15)),
}  # fmt: skip

CONSTRAINTS = {
    constraint.name: (model, constraint)
    for model in apps.get_app_config("records").get_models()
    for constraint in model._meta.constraints
}


def in_other_case(columns):
    """Write words in the other case: an index on the lower case sees no difference."""
    return {
        field: value.swapcase()
        for field, value in columns.items()
        if isinstance(value, str)
    }


def rows_for(rows, model, columns):
    """Put rows where names of rows stand: "user", "another tree"."""

    def row(field, value):
        if value is None or not model._meta.get_field(field).is_relation:
            return value
        another = value.removeprefix("another ")
        return rows.get(value) if another == value else rows.add(another)

    return {field: row(field, value) for field, value in columns.items()}


def refuses(model, constraint):
    """Await the refusal of one constraint, by name or by its columns."""
    name = constraint.name
    if connection.vendor == "sqlite" and isinstance(constraint, UniqueConstraint):
        name = (
            f"index '{name}'"
            if constraint.expressions
            else ", ".join(
                f"{model._meta.db_table}.{model._meta.get_field(field).column}"
                for field in constraint.fields
            )
        )
    return pytest.raises(IntegrityError, match=name)


def test_every_constraint_has_a_case():
    assert set(CASES) == set(CONSTRAINTS)


@pytest.mark.django_db
@pytest.mark.parametrize("name", [*CASES])
def test_the_database_refuses(name):
    rows = Rows()
    model, constraint = CONSTRAINTS[name]
    table, case = CASES[name]
    assert model._meta.model_name == table
    if isinstance(case, Twice):
        spoilt = case.shared(rows)
        rows.add(table, **spoilt)
        good = {**spoilt, **rows_for(rows, model, case.good)}
    else:
        spoilt = rows_for(rows, model, case.columns)
        good = rows_for(rows, model, case.good)
    if getattr(constraint, "expressions", ()):
        spoilt = {**spoilt, **in_other_case(spoilt)}
    row = rows.new(table, **spoilt)
    with refuses(model, constraint), transaction.atomic():
        row.save(force_insert=True)
    rows.add(table, **good)
