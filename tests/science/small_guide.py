"""A guide small enough to break on purpose."""

from __future__ import annotations

from pathlib import Path

from orchard.science.words import HoldKind, TreatmentKind

SIGNS = "signs/insects.toml"

SMALL: dict[str, str] = {
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
    "regions.toml": """
[[region]]
key = "north"
name = "North"

[[standing]]
code = "PHYNCI"
in = { north = "common" }
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
    "holds.toml": "".join(
        f'''
[[hold]]
key = "{key}"
work = ["picking"]
sources = ["COMMON"]
how = "memory"
'''
        for key in HoldKind
    ),
    "treatments.toml": "".join(
        f'''
[[treatment]]
key = "{key}"
name = "Paint"
what = "White paint"
protection = "never"
sources = ["COMMON"]
how = "memory"
'''
        for key in TreatmentKind
    ),
    "glossary.toml": """
[[term]]
key = "flush"
name = "flush"
forms = ["new flush"]
means = "A burst of new shoots."
sources = ["COMMON"]
how = "memory"
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
roles = [
    "cover_on", "cover_off", "cut_test", "ripeness_test", "harvest", "heat", "watering",
    "feeding", "pruning", "flush", "petal_fall", "ripening", "frost_season",
    "pest_watch",
]
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
everyday = ["silver lines"]
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


FIGURES: dict[str, str] = {
    "constants.toml": """
[[figure]]
key = "heat_base_c"
value = 13.0
unit = "°C"
what = "Lower threshold"
source = "Hardy & Khurshid (2007)"
how = "read"

[[crop_coefficient]]
key = "bare_70"
ground = "bare"
canopy = 0.7
initial = 0.7
mid = 0.65
end = 0.7
unit = "1"
source = "FAO-56"
how = "read"

[[cover_gain]]
key = "none"
low = 0.0
high = 1.0
unit = "°C"
what = "No cover"
source = "Common practice, no source"
how = "memory"

[[heat_gain]]
key = "none"
low = 0.0
high = 1.0
unit = "°C"
what = "No heat"
source = "Common practice, no source"
how = "memory"
""",
    "practice.toml": """
[[figure]]
key = "soon_days"
value = 7
unit = "days"
what = "Soon"
source = "Common practice, no source"
how = "memory"

[[stage_span]]
key = "bloom"
first = 60
last = 69
unit = "BBCH"
what = "Bloom"
source = "BBCH"
how = "memory"

[[limit]]
key = "fruits"
low = 1
high = 200
unit = "fruit"
what = "Fruit of one test"
source = "Common practice, no source"
how = "memory"
""",
    "crops.toml": """
[[crop]]
key = "citrus"
words = ["citrus"]
kinds = ["lemon"]
but = []
unit = "words"
source = "A label"
how = "memory"
""",
    "feeding.toml": """
[[nitrogen]]
key = "year_1"
year = 1
applications = 6
low = 0.15
high = 0.3
unit = "lb"
source = "UF/IFAS"
how = "read"

[[leaf_sampling]]
key = "south"
span = "SM6-15..SM7-15"
unit = "season months"
source = "WA"
how = "read"

[[nutrient]]
key = "N"
name = "nitrogen"
low = 0.3
high = 8
unit = "%"
source = "Common practice"
how = "memory"

[[leaf_set]]
key = "florida"
name = "Florida"
months = [4, 6]
groups = []
unit = "months"
source = "UF/IFAS"
how = "memory"

[[leaf]]
key = "florida.N"
leaf_set = "florida"
nutrient = "N"
decimals = 1
low = "2.2"
optimum = ""
optimum_to = "2.7"
excess_above = "3.0"
unit = "%"
source = "UF/IFAS"
how = "memory"
""",
    "ripeness.toml": """
[[standard]]
key = "unece"
name = "UNECE"
unit = "as given"
source = "UNECE"
how = "read"

[[requirement]]
key = "unece.orange.juice"
standard = "unece"
kind = "orange"
measure = "juice"
at_least = 30.0
unit = "%"
source = "UNECE"
how = "read"

[[requirement]]
key = "unece.orange.acid"
standard = "unece"
kind = "orange"
measure = "acid_at_most"
table = "acids"
unit = "%"
source = "UNECE"
how = "read"

[[table]]
key = "acids"
first = 9.0
values = [0.9, 1.0]
ratio_beyond = 8.5
unit = "%"
source = "UNECE"
how = "read"

[[brix_correction]]
key = "at_10"
t_c = 10
values = [-0.5, -0.6]
unit = "°Brix"
source = "OIV"
how = "read"

[[brima]]
key = "australia"
k = 4.0
scale = 16.5
unit = "points"
source = "Jordan (2001)"
how = "memory"

[[fruit]]
key = "Valencia"
kinds = ["orange"]
unit = "kind"
source = "Common practice, no source"
how = "memory"
""",
}
SMALL |= FIGURES


def write_small_guide(folder: Path) -> None:
    for name, text in SMALL.items():
        path = folder / name
        path.parent.mkdir(exist_ok=True)
        path.write_text(text, "utf-8")


def change(folder: Path, name: str, old: str, new: str) -> None:
    path = folder / name
    text = path.read_text("utf-8")
    assert text.count(old) >= 1, old
    path.write_text(text.replace(old, new, 1), "utf-8")


def break_six_times(folder: Path) -> list[tuple[str, int | None, str, str]]:
    """Put six faults of different sorts into three files; return where they stand."""
    change(folder, "kinds.toml", "hang_weeks = 16", 'hang_weeks = "long"')
    change(folder, "kinds.toml", 'leaf = "one_part"', 'leaf = "two_part"')
    change(folder, "care.toml", '"interval", days = 30', '"interval", days = -30')
    change(folder, SIGNS, 'ask = "What share?"', "")
    change(folder, SIGNS, 'kind = "look"', 'kind = "hope"')
    change(folder, SIGNS, "due = 7\n", "")
    return [
        ("kinds.toml", 17, "cultivar Valencia", "hang_weeks"),
        ("kinds.toml", 25, "rootstock Sour orange", "leaf"),
        ("care.toml", 13, "job round", "trigger"),
        (SIGNS, 2, "sign leafminer", "ask"),
        (SIGNS, 17, "sign leafminer, step 1", "kind"),
        (SIGNS, 31, "sign leafminer, rule 1", "due"),
    ]
