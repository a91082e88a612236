"""The guide loads whole, and a guide with a fault does not load at all."""

from __future__ import annotations

import re
import shutil
import tomllib
from pathlib import Path

import pytest

from orchard.science import guide
from orchard.science.guide import Band, Fact, GuideError, bands, read_band
from orchard.science.guide_files import GUIDE_FOLDER
from orchard.science.source import Verification
from orchard.science.words import JobRole, LocalStatus, Verdict
from tests.science.small_guide import (
    SIGNS,
    SMALL,
    break_six_times,
    change,
    write_small_guide,
)

GUIDE = guide.load()


@pytest.fixture
def folder(tmp_path):
    write_small_guide(tmp_path)
    return tmp_path


# The guide as it is


def test_the_edition_is_a_version_and_a_fingerprint_of_the_content(folder):
    assert re.fullmatch(r"\d{4}\.\d+-[0-9a-f]{6}", GUIDE.edition)
    before = guide.load(folder).edition
    assert guide.load(folder).edition == before
    change(folder, "signs/insects.toml", '"Much"', '"Very much"')
    assert guide.load(folder).edition != before


def test_the_guide_is_read_once():
    assert guide.load() is guide.load()


def test_the_commonest_signs_have_a_rank_each_without_a_gap():
    ranks = [sign.common for sign in GUIDE.signs.values() if sign.common]
    assert sorted(ranks) == list(range(1, len(ranks) + 1))
    assert [sign.common for sign in GUIDE.common_signs()] == sorted(ranks)


@pytest.mark.parametrize("key", GUIDE.signs)
def test_every_sign_can_be_told_apart_photographed_and_followed(key):
    sign = GUIDE.signs[key]
    assert sign.look_for
    assert sign.steps or sign.rules[-1].verdict is Verdict.LEAVE
    assert all(rule.because.endswith(".") for rule in sign.rules)


@pytest.mark.parametrize("key", GUIDE.signs)
def test_the_texts_name_no_calendar_month(key):
    """Seasons come from the latitude, so a month would be wrong in one hemisphere."""
    sign = GUIDE.signs[key]
    texts = [sign.look_for, sign.why, sign.ask, *sign.do_not, *sign.caution]
    texts += [step.do for step in sign.steps] + [rule.because for rule in sign.rules]
    months = (
        "January|February|March|April|June|July|August|September|October|November"
        "|December"
    )
    assert not re.search(rf"\b({months})\b", " ".join(texts))


@pytest.mark.parametrize("key", GUIDE.jobs)
def test_a_care_job_names_no_calendar_month(key):
    job = GUIDE.jobs[key]
    texts = [job.name, job.why, job.evidence, job.caution, job.applies_words]
    months = "January|February|March|April|June|July|August|September|October"
    assert not re.search(rf"\b({months}|November|December)\b", " ".join(texts))


def test_no_two_pests_go_by_one_name():
    names = [pest.name for pest in GUIDE.pests.values()]
    assert [name for name in names if names.count(name) > 1] == []


def test_pests_that_are_regulated_in_most_citrus_regions_are_absent_until_told():
    """EPPO lists and national lists of citrus pests; status from memory."""
    for code in ("DIAACI", "TRIZER", "LIBEAS", "XANTCI", "CERTCA", "ERWIAM"):
        assert GUIDE.pests[code].usual_status is LocalStatus.ABSENT
    for code in ("PHYNCI", "TETRUR", "ICERPU"):
        assert GUIDE.pests[code].usual_status is LocalStatus.COMMON


def test_codes_read_in_the_eppo_database_are_marked_so():
    """EPPO Global Database datasheets and distribution pages."""
    read = {code for code, pest in GUIDE.pests.items() if pest.how is Verification.READ}
    assert read == {
        "DIAACI", "LIBEAS", "LIBEAF", "LIBEAM", "PHYNCI", "SCITCI", "SCITAU",
        "ICERPU", "DIALCI", "PHYTCO", "DEUTTR", "GUIGCI", "SPIRCI", "XYLEFA",
        "ANOLCN", "AROMBU", "ARGPLE", "DACUDO", "CILV00", "DROSSU",
    }  # fmt: skip


def test_stages_follow_the_scale_for_citrus():
    """Agusti et al. 1997: the first digit of a BBCH code is its principal stage."""
    for code, stage in GUIDE.stages.items():
        assert stage.principal == code // 10
    assert "half of the flowers" in GUIDE.stages[65].meaning
    assert "ripe to eat" in GUIDE.stages[89].meaning


# Months from "Characteristics of common Texas citrus varieties" (Sauls, Texas A&M
# AgriLife, Table 1) and UF/IFAS HS891 (Ferguson 2002), northern calendar, as printed.
# The months kept here are for no one place, so one month either side is allowed.
PRINTED_NORTH = [
    ("Valencia", (3, 6)),
    ("Marsh grapefruit", (10, 5)),
    ("Ruby Red", (10, 5)),
    ("Rio Red", (10, 5)),
    ("Dancy", (11, 1)),
    ("Nules clementine", (10, 12)),
    ("Orlando tangelo", (11, 1)),
    ("Minneola tangelo", (12, 2)),
    ("Meiwa kumquat", (10, 3)),
    ("Owari satsuma", (10, 12)),
    ("Hamlin", (10, 1)),
    ("Parson Brown", (10, 1)),
]


@pytest.mark.parametrize(("name", "printed"), PRINTED_NORTH)
def test_cultivars_ripen_in_the_months_that_are_printed(name, printed):
    first, last = printed
    months = {(first - 1 + n) % 12 + 1 for n in range((last - first) % 12 + 1)}
    wide = months | {month % 12 + 1 for month in months}
    wide |= {(month - 2) % 12 + 1 for month in months}
    ours = {(month + 1) % 12 + 1 for month in GUIDE.cultivars[name].ripe_months}
    assert ours <= wide
    assert ours & months


def test_cold_classes_come_in_the_order_that_is_printed():
    """University of Arizona AZ1001: kumquat and mandarin stand more cold than
    grapefruit and orange, these more than lemon, and lime least."""

    def kill(name):
        return GUIDE.tenderness[GUIDE.cultivars[name].tenderness].mature_kill_c

    hardy = kill("Meiwa kumquat"), kill("Dancy")
    middle = kill("Marsh grapefruit"), kill("Valencia")
    assert max(hardy) < min(middle)
    assert max(middle) < kill("Eureka lemon") < kill("Mexican (Key) lime")


def test_only_trifoliate_kinds_have_the_three_part_leaf():
    """Khurshid, Falivene and Creek, NSW DPI Primefact 21/121 (2021)."""
    three = {
        name for name, root in GUIDE.rootstocks.items() if root.has_three_part_leaf
    }
    assert {name.split(" ")[0] for name in three} == {
        "Trifoliate",
        "Flying",
        "Carrizo",
        "Swingle",
        # From memory.
        "C-35",
        "Forner-Alcaide",
    }


def test_eureka_lemon_does_not_suit_trifoliate_roots():
    """Lacey and Foord, Citrus rootstocks for Western Australia."""
    for root in GUIDE.rootstocks.values():
        if root.name == "Forner-Alcaide 5":
            # Not in their table, nor is trouble with it on record.
            assert root.suits("Eureka lemon")
            continue
        assert root.suits("Eureka lemon") is not root.has_three_part_leaf
    assert GUIDE.rootstocks["Cleopatra mandarin"].suits("Eureka lemon")


def test_a_lime_used_for_its_leaves_has_no_ripe_months():
    assert GUIDE.cultivars["Makrut lime"].ripe_months == ()


def test_ripe_months_run_across_the_end_of_the_season_year():
    """Grapefruit October to May in the north: Texas A&M AgriLife, Table 1."""
    assert GUIDE.cultivars["Marsh grapefruit"].ripe_months == (
        8, 9, 10, 11, 12, 1, 2, 3,
    )  # fmt: skip


def test_every_source_of_the_guide_is_used_or_computes_something():
    used = {key for sign in GUIDE.signs.values() for key in sign.sources}
    used |= {key for job in GUIDE.jobs.values() for key in job.sources}
    for rows in (GUIDE.cultivars, GUIDE.rootstocks, GUIDE.tenderness):
        used |= {key for row in rows.values() for key in row.sources}
    assert used <= set(GUIDE.sources)


def test_a_care_job_says_to_which_trees_it_applies():
    job = GUIDE.jobs["weed_ring"]
    assert job.applies_to({"setting": "ground"}) is True
    assert job.applies_to({"setting": "container"}) is False
    assert job.applies_to({}) is None


def test_work_that_can_hurt_carries_its_caution():
    for key in ("frost_cover_on", "harvest", "deadwood", "pesticide_closeout"):
        assert GUIDE.jobs[key].caution
    assert "label" in GUIDE.jobs["pesticide_closeout"].caution


RECIPES = re.findall(
    r"^```toml\n(.*?)^```$",
    (Path(__file__).parents[3] / "DEVELOPERS.md").read_text("utf-8"),
    re.DOTALL | re.MULTILINE,
)


def with_optional_fields(row: str) -> str:
    return re.sub(r"^# (\w+ = )", r"\1", row, flags=re.MULTILINE)


@pytest.mark.parametrize("change_row", [str, with_optional_fields])
def test_the_rows_to_copy_from_the_recipe_load_beside_the_guide(tmp_path, change_row):
    folder = tmp_path / "guide"
    shutil.copytree(GUIDE_FOLDER, folder)
    added = set()
    for number, row in enumerate(map(change_row, RECIPES)):
        [kind] = tomllib.loads(row)
        added.add(kind)
        if kind == "sign":
            (folder / f"signs/recipe_{number}.toml").write_text(row, "utf-8")
        else:
            with (folder / "care.toml").open("a", encoding="utf-8") as file:
                file.write(f"\n{row}")
    assert added == {"sign", "job"}
    loaded = guide.load(folder)
    assert set(loaded.signs) - set(GUIDE.signs) == {"bark_beetle"}
    assert set(loaded.jobs) - set(GUIDE.jobs) == {"stake_check"}


# Refusals: each beside the small guide that loads


def test_a_small_guide_loads(folder):
    loaded = guide.load(folder)
    assert list(loaded.signs) == ["leafminer"]
    assert loaded.signs["leafminer"].group == "insects"


RULE = '[[sign.rule]]\nif = {}\nverdict = "leave"\nbecause = "Little"\n'


def rules(*texts: str) -> str:
    return "".join(f"[[sign.rule]]\n{text}\nbecause = 'B.'\n\n" for text in texts)


FAULTS = [
    ("not total", SIGNS, RULE, "", "last rule must have an empty if"),
    ("unknown fact", SIGNS, "ants = true", "bees = true", "'bees' is no fact"),
    ("a word for a number", SIGNS, '"pct>=" = 25', '"pct>=" = "much"', "a number"),
    ("a number beyond its bounds", SIGNS, '"pct>=" = 25', '"pct>=" = 250', "0 to 100"),
    ("a number for yes", SIGNS, "ants = true", "ants = 1", "true or false"),
    ("a season there is not", SIGNS, "ants = true", 'season = "monsoon"', "one of"),
    ("yes or no above three", SIGNS, "ants = true", '"ants>=" = true', "no number"),
    ("a list without in", SIGNS, "ants = true", "sm = [1, 2]", "takes a list"),
    ("in without a list", SIGNS, "ants = true", '"sm in" = 1', "takes a list"),
    ("half a snail", SIGNS, "ants = true", '"count>=" = 1.5', "whole number"),
    ("act without due", SIGNS, "due = 7\n", "", "act needs due"),
    ("report without due", SIGNS, '"act"\ndue = 7', '"report"', "report needs due"),
    ("leave with due", SIGNS, '"leave"', '"leave"\ndue = 3', "take due out"),
    ("watch without recheck", SIGNS, '"leave"', '"watch"', "watch needs recheck"),
    ("no verdict", SIGNS, '"leave"', '"panic"', "only be one of leave"),
    ("no reason", SIGNS, '"Little"', '""', "because: it is empty"),
    ("no source", SIGNS, '["COMMON"]', "[]", "without a source"),
    ("unknown source", SIGNS, '["COMMON"]', '["X"]', "'X' is not in sources.toml"),
    ("unknown pest", SIGNS, '["PHYNCI"]', '["XANTCI"]', "not in pests.toml"),
    ("unknown species", SIGNS, "ants = true", 'species = "NONE"', "not in pests"),
    ("unknown look-alike", SIGNS, 'sign = ""', 'sign = "slime"', "'slime' is no sign"),
    ("unknown part", SIGNS, '["leaf"]', '["petiole"]', "parts"),
    ("unknown host", SIGNS, '["citrus"]', '["banana"]', "banana"),
    ("unknown step", SIGNS, 'kind = "look"', 'kind = "hope"', "only be one of look"),
    ("unknown measure", SIGNS, "pct_leaves", "pct_sky", "only be one of"),
    ("month thirteen", SIGNS, "[4, 5]", "[13]", "from 1 to 12"),
    ("an extra key", SIGNS, 'ask = "What', 'mood = "x"\nask = "What', "take it out"),
    ("no toml", SIGNS, "[[sign]]", "[[sign", "no TOML"),
    ("fact without unit", "facts.toml", 'unit = "%"\n', "", "without unit"),
    ("fact without no", "facts.toml", 'no_words = "no ants"\n', "", "no_words"),
    ("fact of no kind", "facts.toml", '"yes_no"', '"maybe"', "of number, yes_no"),
    ("fact from nowhere", "facts.toml", 'from = "date"', 'from = "air"', "air"),
    ("bounds the wrong way", "facts.toml", "high = 100", "high = -1", "only be 0 to"),
    ("kind without source", "kinds.toml", '["COMMON"]', "[]", "without a source"),
    (
        "unknown class",
        "kinds.toml",
        '"T3"\nmat',
        '"T9"\nmat',
        "'T9' is not in kinds.toml",
    ),
    ("cold that rises", "kinds.toml", "wood_c = -4.5", "wood_c = 1", "must fall"),
    ("unknown match", "kinds.toml", "matches = []", 'matches = ["Z"]', "'Z' is not in"),
    ("job without source", "care.toml", '["COMMON"]', "[]", "without a source"),
    ("unknown trigger", "care.toml", '"interval"', '"whim"', "whim"),
    (
        "a job of no year",
        "care.toml",
        '{ kind = "interval", days = 30 }',
        '{ kind = "after_event", event = "planted", days = [1] }',
        "does not say how often",
    ),
    ("unknown scope", "care.toml", '"tree"', '"planet"', "only be one of"),
    ("job fact unknown", "care.toml", "count>=", "mood>=", "'mood' is no fact"),
    ("unknown role", "care.toml", '"cut_test"', '"stroll"', "only hold cover_on"),
    ("word without source", "glossary.toml", '["COMMON"]', "[]", "without a source"),
    ("word without form", "glossary.toml", '["new flush"]', "[]", "how texts spell"),
    (
        "a form of two words",
        "glossary.toml",
        'key = "flush"',
        'key = "shoot"\nname = "shoot"\nforms = ["New flush"]\nmeans = "A stem."\n'
        'sources = ["COMMON"]\nhow = "memory"\n\n[[term]]\nkey = "flush"',
        "'new flush' is one of",
    ),
    ("pest of no status", "pests.toml", '"common"', '"rare"', "only be one of"),
    ("source not said how", "sources.toml", '"memory"', '"hearsay"', "only be one of"),
    ("figure no number", "constants.toml", "13.0", '"13"', "must be a number"),
    ("figure without unit", "constants.toml", 'unit = "°C"', 'unit = ""', "empty"),
    ("figure not said what", "constants.toml", 'what = "Low', 'hat = "Low', "what"),
    ("gain that falls", "constants.toml", "high = 1.0", "high = -1.0", "less than low"),
    ("stages that fall", "practice.toml", "last = 69", "last = 6", "less than first"),
    ("figure twice", "practice.toml", '"soon_days"', '"heat_base_c"', "twice"),
    ("leaf no number", "feeding.toml", '"2.7"', '"high"', "number in quotes"),
    ("year of words", "feeding.toml", "year = 1", 'year = "one"', "must be a number"),
    ("unknown standard", "ripeness.toml", '"unece"\nkind', '"X"\nkind', "'X' is not"),
    ("unknown table", "ripeness.toml", 'table = "acids"', 'table = "Y"', "'Y' is not"),
    ("nothing asked", "ripeness.toml", "at_least = 30.0\n", "", "or a table"),
    ("an unknown kind of row", "pests.toml", "[[pest]]", "[[peste]]", "takes [[pest]]"),
]


@pytest.mark.parametrize(
    ("name", "old", "new", "says"),
    [fault[1:] for fault in FAULTS],
    ids=[fault[0] for fault in FAULTS],
)
def test_a_guide_with_a_fault_is_refused_naming_line_field_and_remedy(
    folder, name, old, new, says
):
    change(folder, name, old, new)
    with pytest.raises(GuideError) as refused:
        guide.load(folder)
    fault = refused.value.faults[0]
    assert fault.file == name
    assert says in str(fault)
    line = (folder / name).read_text("utf-8").splitlines()[fault.line - 1]
    is_field = re.search(rf"\b{fault.field} = ", line)
    assert is_field or line == "" or line.startswith("[[")
    assert str(fault).startswith(f"{name}, line {fault.line}")


def test_a_role_that_the_book_needs_belongs_to_a_job_and_some_to_one_alone(folder):
    job = SMALL["care.toml"].replace('"round"', '"second"')
    change(folder, "care.toml", '"cover_off", ', "")
    assert faults_of(folder) == [("care.toml", None, "", "")]
    with (folder / "care.toml").open("a") as file:
        file.write(re.sub(r"roles = \[[^]]*\]", 'roles = ["harvest", "feeding"]', job))
    with pytest.raises(GuideError) as refused:
        guide.load(folder)
    told = str(refused.value).splitlines()
    assert told == [
        "care.toml: no job has the role cover_off; give it to one in its roles.",
        "care.toml, line 34, job second, roles: only one job can be harvest, and job "
        "round is.",
    ]


def test_code_asks_for_jobs_by_their_role():
    assert GUIDE.job(JobRole.HARVEST).key == "harvest"
    assert [job.key for job in GUIDE.jobs_with(JobRole.FEEDING)] == [
        "pot_feed", "feed_1", "feed_2", "feed_3",
    ]  # fmt: skip


def test_one_fault_is_told_once_and_what_leans_on_it_is_left_alone(folder):
    change(folder, "facts.toml", 'kind = "yes_no"', 'kind = "maybe"')
    assert faults_of(folder) == [("facts.toml", 25, "fact ants", "kind")]


def test_a_misspelt_field_is_missing_and_its_likely_name_is_offered(folder):
    change(folder, SIGNS, "why = ", "whyever = ")
    with pytest.raises(GuideError) as refused:
        guide.load(folder)
    assert [fault.field for fault in refused.value.faults] == ["why", "whyever"]
    assert "did you mean why?" in str(refused.value)


def faults_of(folder: Path) -> list[tuple[str, int | None, str, str]]:
    with pytest.raises(GuideError) as refused:
        guide.load(folder)
    return [
        (fault.file, fault.line, fault.row, fault.field)
        for fault in refused.value.faults
    ]


def test_six_faults_in_three_files_are_told_together_with_their_lines(folder):
    expected = break_six_times(folder)
    assert faults_of(folder) == expected


def test_a_file_that_cannot_be_read_raises_no_doubt_about_the_others(folder):
    change(folder, "sources.toml", "[[source]]", "[[source")
    (folder / "facts.toml").unlink()
    change(folder, "pests.toml", '"common"', '"rare"')
    assert faults_of(folder) == [
        ("sources.toml", 2, "", ""),
        ("facts.toml", None, "", ""),
        ("pests.toml", 5, "pest PHYNCI", "usual_status"),
    ]


@pytest.mark.parametrize("name", SMALL)
def test_a_row_that_stands_twice_is_refused(folder, name):
    path = folder / name
    path.write_text(path.read_text("utf-8") * 2, "utf-8")
    with pytest.raises(GuideError, match="twice"):
        guide.load(folder)


def test_a_sign_that_stands_in_two_files_is_refused_and_both_are_named(folder):
    shutil.copy(folder / SIGNS, folder / "signs/leaves.toml")
    with pytest.raises(GuideError) as refused:
        guide.load(folder)
    assert str(refused.value) == (
        "signs/leaves.toml, line 3, sign leafminer, key: 'leafminer' stands in the "
        "guide twice, first in signs/insects.toml, line 2; rename one."
    )


def test_a_missing_file_is_named(folder):
    (folder / "pests.toml").unlink()
    with pytest.raises(GuideError, match=r"pests\.toml: the file is missing"):
        guide.load(folder)


VALUE = re.compile(r"^([a-z_]+) = .*$", re.MULTILINE)
STRANGE = ["-7", '"strange"', '""', "[]", "[{}]", "{}", "{ strange = 1 }", "true"]
# Other rows lean on these, and may be told in their place.
TOLD_ELSEWHERE = {"key", "code", "low", "high", "first", "if", "roles"} | {
    "cover_at_c", "soft_growth_c", "wood_c", "mature_kill_c",
}  # fmt: skip


@pytest.mark.parametrize("name", SMALL)
def test_whatever_stands_in_a_field_is_read_or_told_with_its_line(folder, name):
    text = SMALL[name]
    for found in VALUE.finditer(text):
        line = text.count("\n", 0, found.start()) + 1
        for value in STRANGE:
            field = f"{found[1]} = {value}"
            broken = f"{text[: found.start()]}{field}{text[found.end() :]}"
            (folder / name).write_text(broken, "utf-8")
            try:
                guide.load(folder)
            except GuideError as refused:
                lines = {fault.line for fault in refused.faults if fault.file == name}
                assert line in lines or found[1] in TOLD_ELSEWHERE, field


UNREACHABLE = [
    ("the same again", ["if = {ants = true}", "if = {ants = true}"]),
    ("everything before it", ["if = {}", "if = {ants = true}"]),
    ("a narrower number", ['if = {"pct>=" = 10}', 'if = {"pct>=" = 25}']),
    ("over inside or over", ['if = {"pct>=" = 25}', 'if = {"pct>" = 25}']),
    (
        "a narrower number and more",
        ['if = {"pct>=" = 10}', 'if = {"pct>" = 10, ants = true}'],
    ),
    ("a band inside a bound", ['if = {"pct<" = 50}', 'if = {"pct>=" = 5, "pct<" = 9}']),
    (
        "a season among several",
        ['if = {"season in" = ["spring", "summer"]}', 'if = {season = "summer"}'],
    ),
    ("months of the season", ['if = {season = "spring"}', 'if = {"sm in" = [1, 3]}']),
    (
        "a season by its months",
        ['if = {"sm in" = [12, 10, 11]}', 'if = {season = "winter"}'],
    ),
    ("one of a whole number", ['if = {"count>" = 0}', 'if = {"count>=" = 1}']),
    ("every season", [
        'if = {"season in" = ["spring", "summer", "autumn", "winter"]}',
        "if = {ants = true}",
    ]),
    ("no number at all", ['if = {"pct>=" = 50, "pct<" = 20}']),
    ("a month outside its season", ['if = {season = "summer", sm = 12}']),
    ("no whole number between", ['if = {"count>" = 1, "count<" = 2}']),
]  # fmt: skip


@pytest.mark.parametrize(
    "texts", [case[1] for case in UNREACHABLE], ids=[case[0] for case in UNREACHABLE]
)
def test_a_rule_that_can_never_speak_is_refused(folder, texts):
    listed = rules(*(f"{text}\nverdict = 'watch'\nrecheck = 7" for text in texts))
    path = folder / SIGNS
    head = path.read_text("utf-8").partition("[[sign.rule]]")[0]
    path.write_text(f"{head}{listed}{RULE}", "utf-8")
    with pytest.raises(GuideError, match="always wins before it|no value meets"):
        guide.load(folder)


REACHABLE = [
    ("a wider number", ['if = {"pct>=" = 25}', 'if = {"pct>=" = 10}']),
    ("or over after over", ['if = {"pct>" = 25}', 'if = {"pct>=" = 25}']),
    ("another fact", ["if = {ants = true}", 'if = {"pct>=" = 25}']),
    ("more months than the season", ['if = {season = "spring"}', 'if = {"sm<=" = 4}']),
    ("yes and no before else", ["if = {ants = true}", "if = {ants = false}"]),
    ("from 1.5 up after from 2", ['if = {"pct>=" = 2}', 'if = {"pct>" = 1.5}']),
]


@pytest.mark.parametrize(
    "texts", [case[1] for case in REACHABLE], ids=[case[0] for case in REACHABLE]
)
def test_a_rule_that_can_speak_is_kept(folder, texts):
    listed = rules(*(f"{text}\nverdict = 'watch'\nrecheck = 7" for text in texts))
    path = folder / SIGNS
    head = path.read_text("utf-8").partition("[[sign.rule]]")[0]
    path.write_text(f"{head}{listed}{RULE}", "utf-8")
    assert len(guide.load(folder).signs["leafminer"].rules) == len(texts) + 1


# The rule language


def test_a_rule_list_reads_back_as_it_is_written():
    for sign in GUIDE.signs.values():
        again = guide.read_rules(guide.write_rules(sign.rules), GUIDE.facts, sign.key)
        assert again == sign.rules


FILES = [
    ("sources.toml", "source", "key", GUIDE.sources),
    ("facts.toml", "fact", "key", GUIDE.facts),
    ("pests.toml", "pest", "code", GUIDE.pests),
    ("kinds.toml", "tenderness", "key", GUIDE.tenderness),
    ("kinds.toml", "cultivar", "name", GUIDE.cultivars),
    ("kinds.toml", "rootstock", "name", GUIDE.rootstocks),
    ("kinds.toml", "stage", "code", GUIDE.stages),
    ("care.toml", "job", "key", GUIDE.jobs),
]


@pytest.mark.parametrize(("file", "kind", "key", "rows"), FILES)
def test_every_row_of_a_file_stands_in_the_guide_in_its_order(file, kind, key, rows):
    written = tomllib.loads((GUIDE_FOLDER / file).read_text("utf-8"))[kind]
    assert [row[key] for row in written] == list(rows)


def test_the_figures_of_both_files_stand_in_the_guide():
    written = [
        row["key"]
        for file in ("constants.toml", "practice.toml")
        for row in tomllib.loads((GUIDE_FOLDER / file).read_text("utf-8"))["figure"]
    ]
    assert written == list(GUIDE.figures)


def test_the_guide_says_what_its_files_say():
    """Every rule in the files is there in order, with its verdict and its days."""
    for path in (GUIDE_FOLDER / "signs").glob("*.toml"):
        for row in tomllib.loads(path.read_text("utf-8"))["sign"]:
            sign = GUIDE.signs[row["key"]]
            told = [(r["verdict"], r.get("due"), r.get("recheck")) for r in row["rule"]]
            ours = [(r.verdict.value, r.due, r.recheck) for r in sign.rules]
            assert ours == told


def cut(*written: str, whole: bool = False) -> list[str]:
    fact = Fact("pct", "number", "share", "answer", low=0, high=100, whole=whole)
    conditions = []
    for text in written:
        op = re.sub(r"[\d.]", "", text)
        conditions.append(guide.Condition("pct", op, float(text.removeprefix(op))))
    return [band.code for band in bands(fact, conditions)]


def test_numbers_fall_into_bands_that_keep_over_apart_from_or_over():
    assert cut(">=25") == ["0..25", "25..=100"]
    assert cut(">25") == ["0..=25", ">25..=100"]
    assert cut(">=25", ">25") == ["0..25", "25", ">25..=100"]
    assert cut("<1", ">=25", ">=50") == ["0..1", "1..25", "25..50", "50..=100"]
    assert cut(">0") == ["0", ">0..=100"]
    assert cut() == ["0..=100"]


def test_whole_numbers_fall_into_bands_without_gaps():
    assert cut(">=1", ">=5", whole=True) == ["0", "1..=4", "5..=100"]
    assert cut(">0", whole=True) == ["0", "1..=100"]
    assert cut(">1", "<2", whole=True) == ["0..=1", "2..=100"]


@pytest.mark.parametrize("code", ["0", "0..25", ">25..=100", ">0..1", "-5..=0.5"])
def test_a_band_reads_back_and_its_sample_lies_in_it(code):
    band = read_band(code)
    assert band.code == code
    assert band.holds(band.sample())


def test_a_band_without_its_ends_holds_what_lies_between():
    band = Band(1, 2, low_in=False, high_in=False)
    assert not band.holds(1)
    assert not band.holds(2)
    assert band.holds(band.sample())
