"""The guide loads whole, and a guide with a fault does not load at all."""

from __future__ import annotations

import re
import shutil
import tomllib
from pathlib import Path

import pytest

from orchard.science import guide
from orchard.science.guide import GuideError
from orchard.science.guide.rules import Band, Fact, bands, read_band
from orchard.science.source import How
from orchard.science.words import PestStatus, Verdict

GUIDE = guide.load()

SMALL = {
    "sources.toml": """
[[source]]
key = "COMMON"
author = "Growers"
title = "Common practice"
how = "memory"
""",
    "facts.toml": """
[[fact]]
key = "pct"
kind = "number"
unit = "%"
low = 0
high = 100
from = "answer"
ask = "What share?"
words = "share"

[[fact]]
key = "count"
kind = "number"
unit = ""
whole = true
low = 0
high = 100
from = "answer"
ask = "How many?"
words = "number"

[[fact]]
key = "ants"
kind = "yes_no"
from = "answer"
ask = "Ants?"
words = "ants"
no_words = "no ants"

[[fact]]
key = "season"
kind = "choice"
choices = ["spring", "summer", "autumn", "winter"]
from = "date"
words = "season"

[[fact]]
key = "sm"
kind = "number"
unit = ""
whole = true
low = 1
high = 12
from = "date"
words = "season month"

[[fact]]
key = "species"
kind = "choice"
from = "answer"
ask = "Which?"
words = "species"
""",
    "pests.toml": """
[[pest]]
code = "PHYNCI"
taxon = "Phyllocnistis citrella"
usual_status = "common"
how = "read"
""",
    "kinds.toml": """
[[tenderness]]
key = "T3"
name = "moderate"
soft_growth_c = -2.5
wood_c = -4.5
mature_kill_c = -6
cover_at_c = -1
sources = ["COMMON"]
how = "memory"

[[cultivar]]
name = "Valencia"
kind = "sweet orange"
host = "citrus"
ripe = [1, 5]
hang_weeks = 16
tenderness = "T3"
maturity = "orange"
sources = ["COMMON"]
how = "memory"

[[rootstock]]
name = "Sour orange"
leaf = "one_part"
habit = "evergreen"
cold = "hardy"
foot_rot = "resistant"
viruses = "susceptible"
lime = "good"
salt = "good"
poor_matches = []
vigour = "medium"
use = "old plantings"
sources = ["COMMON"]
how = "memory"

[[stage]]
code = 60
principal = 6
meaning = "first flowers open"
sources = ["COMMON"]
""",
    "care.toml": """
[[job]]
key = "round"
name = "Round"
scope = "tree"
who = "volunteer"
minutes = 3
evidence = "A tick"
why = "Because"
weight = "watch"
applies = { "count>=" = 1 }
applies_words = "All trees"
trigger = { kind = "interval", days = 30 }
sources = ["COMMON"]
how = "memory"
""",
    "signs/insects.toml": """
[[sign]]
key = "leafminer"
name = "Leafminer"
scientific = "Phyllocnistis citrella"
eppo = ["PHYNCI"]
eppo_how = "read"
hosts = ["citrus"]
parts = ["leaf"]
usual_sm = [4, 5]
look_for = "Trails"
why = "It matters little"
measure = "pct_leaves"
ask = "What share?"
positive = { "pct>" = 0 }
steps = [{ do = "Look again", kind = "look" }]
frost_exempt = false
do_not = []
caution = []
photos = []
sources = ["COMMON"]
how = "memory"
basis = "Common practice"

[[sign.alike]]
sign = ""
name = "Snail"
tell = "Slime"

[[sign.rule]]
if = { "pct>=" = 25, ants = true }
verdict = "act"
due = 7
recheck = 14
because = "Much"

[[sign.rule]]
if = {}
verdict = "leave"
because = "Little"
""",
}


@pytest.fixture
def folder(tmp_path):
    for name, text in SMALL.items():
        path = tmp_path / name
        path.parent.mkdir(exist_ok=True)
        path.write_text(text, "utf-8")
    return tmp_path


def change(folder: Path, name: str, old: str, new: str) -> None:
    path = folder / name
    text = path.read_text("utf-8")
    assert text.count(old) >= 1, old
    path.write_text(text.replace(old, new, 1), "utf-8")


# The guide as it is


def test_the_guide_holds_all_its_rows():
    counted = (GUIDE.signs, GUIDE.jobs, GUIDE.cultivars, GUIDE.rootstocks, GUIDE.stages)
    assert [len(rows) for rows in counted] == [88, 48, 38, 8, 32]


def test_the_edition_is_a_version_and_a_fingerprint_of_the_content(folder):
    assert re.fullmatch(r"\d{4}\.\d+-[0-9a-f]{6}", GUIDE.edition)
    before = guide.load(folder).edition
    assert guide.load(folder).edition == before
    change(folder, "signs/insects.toml", '"Much"', '"Very much"')
    assert guide.load(folder).edition != before


def test_the_guide_is_read_once():
    assert guide.load() is guide.load()


def test_the_twenty_commonest_signs_have_a_rank_each():
    ranks = [sign.common for sign in GUIDE.signs.values() if sign.common]
    assert sorted(ranks) == list(range(1, 21))
    assert [sign.common for sign in GUIDE.common_signs()] == list(range(1, 21))


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


def test_pests_that_are_regulated_in_most_citrus_regions_are_absent_until_told():
    """EPPO lists and national lists of citrus pests; status from memory."""
    for code in ("DIAACI", "TRIZER", "LIBEAS", "XANTCI", "CERTCA", "ERWIAM"):
        assert GUIDE.pests[code].usual_status is PestStatus.ABSENT
    for code in ("PHYNCI", "TETRUR", "ICERPU"):
        assert GUIDE.pests[code].usual_status is PestStatus.COMMON


def test_codes_read_in_the_eppo_database_are_marked_so():
    """EPPO Global Database datasheets and distribution pages."""
    read = {code for code, pest in GUIDE.pests.items() if pest.how is How.READ}
    assert read == {
        "DIAACI", "LIBEAS", "LIBEAF", "LIBEAM", "PHYNCI", "SCITCI", "SCITAU",
        "ICERPU", "DIALCI", "PHYTCO",
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
    }


def test_eureka_lemon_does_not_suit_trifoliate_roots():
    """Lacey and Foord, Citrus rootstocks for Western Australia."""
    poor = [n for n, root in GUIDE.rootstocks.items() if not root.suits("Eureka lemon")]
    assert len(poor) == 4
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


# Refusals: each beside the small guide that loads


def test_a_small_guide_loads(folder):
    loaded = guide.load(folder)
    assert list(loaded.signs) == ["leafminer"]
    assert loaded.signs["leafminer"].group == "insects"


RULE = '[[sign.rule]]\nif = {}\nverdict = "leave"\nbecause = "Little"\n'
SIGNS = "signs/insects.toml"


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
    ("leave with due", SIGNS, '"leave"', '"leave"\ndue = 3', "no due"),
    ("watch without recheck", SIGNS, '"leave"', '"watch"', "watch needs recheck"),
    ("no verdict", SIGNS, '"leave"', '"panic"', "not one of"),
    ("no reason", SIGNS, '"Little"', '""', "because must not be empty"),
    ("no source", SIGNS, '["COMMON"]', "[]", "without a source"),
    ("unknown source", SIGNS, '["COMMON"]', '["X"]', "'X' is not in sources.toml"),
    ("unknown pest", SIGNS, '["PHYNCI"]', '["XANTCI"]', "not in pests.toml"),
    ("unknown species", SIGNS, "ants = true", 'species = "NONE"', "not in pests"),
    ("unknown look-alike", SIGNS, 'sign = ""', 'sign = "slime"', "'slime' is no sign"),
    ("unknown part", SIGNS, '["leaf"]', '["petiole"]', "parts"),
    ("unknown host", SIGNS, '["citrus"]', '["banana"]', "banana"),
    ("unknown step", SIGNS, 'kind = "look"', 'kind = "hope"', "not one of"),
    ("unknown measure", SIGNS, "pct_leaves", "pct_sky", "not one of"),
    ("month thirteen", SIGNS, "[4, 5]", "[13]", "outside 1 to 12"),
    ("a key that means nothing", SIGNS, "why = ", "whyever = ", "why"),
    ("an extra key", SIGNS, 'ask = "What', 'mood = "x"\nask = "What', "'mood'"),
    ("no toml", SIGNS, "[[sign]]", "[[sign", "signs/insects.toml"),
    ("fact without unit", "facts.toml", 'unit = "%"\n', "", "without unit"),
    ("fact without no", "facts.toml", 'no_words = "no ants"\n', "", "no_words"),
    ("fact of no kind", "facts.toml", '"yes_no"', '"maybe"', "not number"),
    ("fact from nowhere", "facts.toml", 'from = "date"', 'from = "air"', "air"),
    ("bounds the wrong way", "facts.toml", "high = 100", "high = -1", "outside"),
    ("kind without source", "kinds.toml", '["COMMON"]', "[]", "without a source"),
    ("unknown class", "kinds.toml", '"T3"\nmat', '"T9"\nmat', "'T9' is no class"),
    ("cold that rises", "kinds.toml", "wood_c = -4.5", "wood_c = 1", "must fall"),
    ("unknown match", "kinds.toml", "matches = []", 'matches = ["Z"]', "no cultivar"),
    ("job without source", "care.toml", '["COMMON"]', "[]", "without a source"),
    ("unknown trigger", "care.toml", '"interval"', '"whim"', "whim"),
    ("unknown scope", "care.toml", '"tree"', '"planet"', "not one of"),
    ("job fact unknown", "care.toml", "count>=", "mood>=", "'mood' is no fact"),
    ("pest of no status", "pests.toml", '"common"', '"rare"', "not one of"),
    ("source not said how", "sources.toml", '"memory"', '"hearsay"', "not one of"),
]


@pytest.mark.parametrize(
    ("name", "old", "new", "says"),
    [fault[1:] for fault in FAULTS],
    ids=[fault[0] for fault in FAULTS],
)
def test_a_guide_with_a_fault_is_refused_naming_file_and_fault(
    folder, name, old, new, says
):
    change(folder, name, old, new)
    with pytest.raises(GuideError) as refused:
        guide.load(folder)
    assert says in str(refused.value)
    assert name in str(refused.value)


@pytest.mark.parametrize("name", SMALL)
def test_a_row_that_stands_twice_is_refused(folder, name):
    path = folder / name
    path.write_text(path.read_text("utf-8") * 2, "utf-8")
    with pytest.raises(GuideError, match="twice"):
        guide.load(folder)


def test_a_sign_that_stands_in_two_files_is_refused(folder):
    shutil.copy(folder / SIGNS, folder / "signs/leaves.toml")
    with pytest.raises(GuideError, match="leafminer.*twice"):
        guide.load(folder)


def test_a_missing_file_is_named(folder):
    (folder / "pests.toml").unlink()
    with pytest.raises(GuideError, match=r"pests\.toml: the file is missing"):
        guide.load(folder)


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
        again = guide.read_rules(guide.written(sign.rules), GUIDE.facts, sign.key)
        assert again == sign.rules


def test_the_guide_says_what_its_files_say():
    """Every rule in the files is there in order, with its verdict and its days."""
    for path in (Path(guide.__file__).parent / "signs").glob("*.toml"):
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
