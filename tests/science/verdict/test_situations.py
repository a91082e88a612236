"""What a practitioner says in an everyday situation, and what the guide says.

Each row names a sign, what is known of tree, season and pest, what was answered, the
verdict with its days to act and to look again, why, and where that is from. `basis`
is "mended row" where an earlier reading of the trade was corrected, "sign row" where it
is the row of the sign, else "common practice, no source".
"""

from __future__ import annotations

import pytest

from orchard.science import guide, verdict

MENDED = "mended row"
ROW = "sign row"
PRACTICE = "common practice, no source"
COMMON = {"local_status": "common"}
ABSENT = {"local_status": "absent"}
SPRING, SUMMER = {"season": "spring", "sm": 2}, {"season": "summer", "sm": 5}
AUTUMN, WINTER = {"season": "autumn", "sm": 8}, {"season": "winter", "sm": 11}
POT, GROUND = {"setting": "container"}, {"setting": "ground"}
YOUNG, GROWN = {"age_y": 2, "planted_d": 700}, {"age_y": 12, "planted_d": 4300}
NEW = {"age_y": 3, "planted_d": 60}
YES, NO = {"yes": True}, {"yes": False}

# name, sign, facts, verdict, due, recheck, why, basis
SITUATIONS = [
    (
        "maggots where the fly is at home", "fruit_fly",
        {**SUMMER, **COMMON, "count": 2}, "act 1 r7",
        "Fallen fruit raises the next brood within days", MENDED,
    ),
    (
        "maggots and nobody knows the species", "fruit_fly", {**SUMMER, "count": 1},
        "report 1 r7", "No volunteer names a maggot by eye", MENDED,
    ),
    (
        "no maggots while the fly flies", "fruit_fly", {**SUMMER, "count": 0},
        "watch r7", "Fruit is softening and the fly is on the wing", MENDED,
    ),
    (
        "no maggots in spring", "fruit_fly", {**SPRING, "count": 0},
        "leave", "Out of season a clean sample is enough", MENDED,
    ),
    (
        "fruit not cut in winter", "fruit_fly", {**WINTER}, "watch r7",
        "Uncut fruit says nothing", MENDED,
    ),
    (
        "one fly of the two known here is common", "fruit_fly",
        {**AUTUMN, "count": 1, "pest_status": {"DACUTR": "common"}},
        "act 1 r7", "Of several the mildest counts until one is named", MENDED,
    ),
    (
        "curled leaves without aphids", "aphids", {**SPRING, "pct": 0}, "leave",
        "The attack is over", MENDED,
    ),
    (
        "aphids in summer without soft shoots", "aphids",
        {**SUMMER, "pct": 60, "flush": False, "ants": True}, "leave",
        "They have nothing left to live on", MENDED,
    ),
    (
        "ants guard a quarter of the shoots", "aphids",
        {**SPRING, "pct": 30, "ants": True, **GROWN}, "act 3 r7",
        "Ants drive off the beneficial insects", MENDED,
    ),
    (
        "young tree, half the shoots, helpers there", "aphids",
        {**SPRING, **YOUNG, "pct": 60, "ants": False, "enemies": True}, "watch r7",
        "Helpers have arrived", MENDED,
    ),
    (
        "young tree, half the shoots, no helpers", "aphids",
        {**SPRING, **YOUNG, "pct": 60, "ants": False, "enemies": False}, "act 3 r7",
        "Its growth is at stake", MENDED,
    ),
    (
        "young tree, half the shoots, nobody looked for helpers", "aphids",
        {**SPRING, **YOUNG, "pct": 60, "ants": False}, "act 3 r7",
        "What was earned stands", MENDED,
    ),
    (
        "grown tree with many aphids", "aphids",
        {**SPRING, **GROWN, "pct": 40, "ants": False}, "watch r7",
        "Ladybirds come within days", MENDED,
    ),
    (
        "grown tree with a few aphids", "aphids", {**SPRING, **GROWN, "pct": 10},
        "leave", "They feed the helpers", MENDED,
    ),
    (
        "galls in the last month before flight", "gall_wasp",
        {**COMMON, "season": "winter", "sm": 12, "count": 4, "holes": False},
        "act 3 r30", "The wasps leave next month", MENDED,
    ),
    (
        "galls in autumn", "gall_wasp",
        {**COMMON, **AUTUMN, "count": 4, "holes": False}, "act 14 r60",
        "The wasps are inside", MENDED,
    ),
    (
        "galls with holes", "gall_wasp",
        {**COMMON, **SPRING, "count": 4, "holes": True}, "leave",
        "The wasps have gone", MENDED,
    ),
    (
        "galls forming in spring", "gall_wasp",
        {**COMMON, **SPRING, "count": 1, "holes": False}, "watch r60",
        "Nothing to cut yet", MENDED,
    ),
    (
        "a gall far from Australia", "gall_wasp",
        {**AUTUMN, "count": 1, "holes": False}, "report 1 r14",
        "A newcomer goes to the authority", MENDED,
    ),
    (
        "no galls", "gall_wasp", {**AUTUMN, "count": 0}, "leave", "Nothing to cut",
        MENDED,
    ),
    (
        "a hole of a pencil's width", "sawdust_hole",
        {"hole_cm": 1.2, "count": 1}, "report 1 r7",
        "May be a longhorn; wire would destroy the evidence", MENDED,
    ),
    (
        "a wide hole where longhorns are known", "sawdust_hole",
        {**COMMON, "hole_cm": 1.2}, "act 7 r21", "A large grub is in the wood",
        MENDED,
    ),
    (
        "a wide hole in a peach where only the longhorn of citrus is known",
        "sawdust_hole",
        {"pest_status": {"ANOLCN": "common", "AROMBU": "absent"}, "host": "stone",
         "hole_cm": 1.2},
        "report 1 r7", "On stone fruit it may be another one", MENDED,
    ),
    (
        "a wide hole in a citrus where only the longhorn of peaches is known",
        "sawdust_hole",
        {"pest_status": {"ANOLCN": "absent", "AROMBU": "common"}, "host": "citrus",
         "hole_cm": 1.2},
        "report 1 r7", "On citrus it may be another one", MENDED,
    ),
    (
        "two small live holes", "sawdust_hole", {"hole_cm": 0.2, "count": 2},
        "act 7 r21", "The tree cannot drown them", MENDED,
    ),
    (
        "one small live hole", "sawdust_hole", {"hole_cm": 0.2, "count": 1},
        "watch r14", "A tree in good heart may cope", MENDED,
    ),
    (
        "old holes", "sawdust_hole", {"hole_cm": 0.2, "count": 0}, "leave",
        "Nobody lives there", MENDED,
    ),
    (
        "holes nobody brushed", "sawdust_hole", {"hole_cm": 0.2}, "watch r3",
        "Only fresh sawdust tells", MENDED,
    ),
    (
        "dry soil in its first year", "wilt_dry", {"soil": "dry", **NEW, **GROUND},
        "act 0 r1", "It has no roots beyond its ball", MENDED,
    ),
    (
        "a dry pot", "wilt_dry", {"soil": "dry", **GROWN, **POT}, "act 0 r1",
        "A pot has no reserve", MENDED,
    ),
    (
        "dry and limp at dawn", "wilt_dry",
        {"soil": "dry", **GROWN, **GROUND, "droops_at_dawn": True}, "act 0 r1",
        "It is out of water", MENDED,
    ),
    (
        "dry with heat to come", "wilt_dry",
        {
            "soil": "dry", **GROWN, **GROUND, "droops_at_dawn": False,
            "heat_ahead": True,
        },
        "act 0 r1", "Water before the heat", MENDED,
    ),
    (
        "dry but firm at dawn", "wilt_dry",
        {
            "soil": "dry", **GROWN, **GROUND, "droops_at_dawn": False,
            "heat_ahead": False,
        },
        "act 1 r2", "Water by tomorrow", MENDED,
    ),
    (
        "wilting in wet soil", "wilt_dry", {"soil": "wet", **GROWN}, "watch r1",
        "More water would finish it", MENDED,
    ),
    (
        "limp at dawn in moist soil", "wilt_dry",
        {"soil": "moist", **GROWN, "droops_at_dawn": True}, "watch r1",
        "Something else is wrong", MENDED,
    ),
    (
        "wilting that passes overnight", "wilt_dry",
        {"soil": "moist", **GROWN, "droops_at_dawn": False}, "watch r3",
        "Heat of the day", MENDED,
    ),
    (
        "lopsided yellow in winter", "winter_yellow", {**WINTER, "symmetric": False},
        "report 1 r14", "Cold never makes halves differ", MENDED,
    ),
    (
        "one yellow side in winter", "winter_yellow",
        {**WINTER, "symmetric": True, "side": True}, "watch r30",
        "Cold picks no side", MENDED,
    ),
    (
        "yellow in standing water", "winter_yellow",
        {
            **WINTER, "symmetric": True, "side": False, "soil": "wet",
            "standing_water": True,
        },
        "act 7 r14", "Roots without air do not wait for spring", MENDED,
    ),
    (
        "even yellow in winter", "winter_yellow",
        {**WINTER, "symmetric": True, "side": False, "soil": "moist"}, "leave r60",
        "It greens in spring", MENDED,
    ),
    (
        "even yellow in a cold spring", "winter_yellow",
        {**SPRING, "symmetric": True, "side": False, "soil": "moist", "soil_c": 10},
        "leave r30", "Roots still sleep", MENDED,
    ),
    (
        "even yellow in spring, soil not measured", "winter_yellow",
        {**SPRING, "symmetric": True, "side": False, "soil": "moist"}, "watch r21",
        "Nobody measured warmth", MENDED,
    ),
    (
        "mirrored mottle", "zinc_manganese", {**SUMMER, "symmetric": True, "pct": 20},
        "watch r42", "Hunger is likelier, greening not excluded", MENDED,
    ),
    (
        "mottle that differs left and right", "zinc_manganese",
        {**SUMMER, "symmetric": False}, "report 1 r14", "May be greening", MENDED,
    ),
    (
        "crooked fruit with wrong colour", "hlb_fruit",
        {**ABSENT, **YES, "fruit_oddity": "colour"},
        "report 1 r14", "Greening or stubborn: only a laboratory tells", MENDED,
    ),
    (
        "crooked fruit with dead seeds", "hlb_fruit",
        {**ABSENT, **YES, "fruit_oddity": "seeds"},
        "report 1 r14", "Greening or stubborn: only a laboratory tells", MENDED,
    ),
    (
        "crooked fruit of good colour with sound seeds", "hlb_fruit",
        {**ABSENT, **YES, "fruit_oddity": "neither"},
        "watch r30", "A crooked fruit alone has harmless causes", MENDED,
    ),
    (
        "droppings in the gum of a sound bark", "gum_stone",
        {"yes": False, "frass": True}, "act 7 r30", "A grub eats under it", MENDED,
    ),
    (
        "droppings in the gum and a hole of a pencil's width", "gum_stone",
        {"host": "stone", "yes": False, "hole_cm": 1.0, "frass": True},
        "report 1 r7", "May be the longhorn of peaches", PRACTICE,
    ),
    (
        "a wide hole in gum where the longhorn of peaches is known", "gum_stone",
        {**COMMON, "host": "stone", "yes": False, "hole_cm": 1.0, "frass": True},
        "act 7 r21", "A large grub is in the wood", PRACTICE,
    ),
    (
        "a hole of 4 mm with droppings in the gum", "gum_stone",
        {"yes": False, "hole_cm": 0.4, "frass": True}, "act 7 r30",
        "A wire reaches the grub", MENDED,
    ),
    (
        "pinholes with droppings in the gum", "gum_stone",
        {"yes": False, "hole_cm": 0.2, "frass": True}, "act 7 r30",
        "Bark beetles: the wood goes", PRACTICE,
    ),
    (
        "pinholes that only bleed gum", "gum_stone",
        {**SPRING, "yes": False, "hole_cm": 0.2, "frass": False}, "watch r60",
        "A sound tree drowns bark beetles in gum", PRACTICE,
    ),
    (
        "dead bark under the gum in summer", "gum_stone",
        {**SUMMER, **YES, "hole_cm": 0, "frass": False}, "act 14 r60",
        "Dry weather lets the cut heal", ROW,
    ),
    (
        "gum that nobody looked under", "gum_stone", {**SPRING}, "watch r14",
        "What lies under it decides", PRACTICE,
    ),
    (
        "a yellow limb without wound", "one_branch_yellow",
        {**SUMMER, "symmetric": True, **NO, "flush": False}, "watch r7",
        "Look at the wood for mal secco", MENDED,
    ),
    (
        "yellow veins on one limb", "yellow_veins",
        {**SPRING, "corky": False, **NO, "side": True}, "watch r7",
        "Cold and wet work on all of it", MENDED,
    ),
    (
        "yellow veins all over in winter", "yellow_veins",
        {**WINTER, "corky": False, **NO, "side": False}, "leave r60", "Cold roots",
        MENDED,
    ),
    (
        "a dying branch without powder", "dieback_sooty", {**SUMMER, **NO}, "watch r7",
        "Look at the wood for mal secco", MENDED,
    ),
    (
        "a full pot in a mild spring", "pot_rootbound",
        {**SPRING, **YES, "frost_ahead": False, "heat_ahead": False}, "act 60 r180",
        "The season for repotting", MENDED,
    ),
    (
        "a full pot with frost about", "pot_rootbound",
        {**WINTER, **YES, "frost_ahead": True, "heat_ahead": False}, "watch r30",
        "Repot after the last frost", MENDED,
    ),
    (
        "a full pot in summer", "pot_rootbound", {**SUMMER, **YES}, "watch r90",
        "Repotting now costs more than it gives", MENDED,
    ),
    (
        "room in the pot", "pot_rootbound", {**SPRING, **NO}, "leave",
        "Roots have room", MENDED,
    ),
    (
        "bare roots in a pot", "roots_exposed", {**POT, "cm": 2}, "act 14 r90",
        "They heat and dry", MENDED,
    ),
    (
        "a little bare root in a pot", "roots_exposed", {**POT, "cm": 1}, "watch r90",
        "The flare stays bare", MENDED,
    ),
    (
        "five centimetres bare in the ground", "roots_exposed", {**GROUND, "cm": 5},
        "act 30 r90", "Easily bruised", MENDED,
    ),
    (
        "three centimetres bare in the ground", "roots_exposed", {**GROUND, "cm": 3},
        "watch r90", "Burying the flare would be worse", MENDED,
    ),
    (
        "a split fruit in a fly area", "fruit_split",
        {"pct": 2, "fruit_fly_area": True}, "act 1 r7", "Fly breeds in it", MENDED,
    ),
    (
        "one fruit in three split", "fruit_split",
        {"pct": 33, "fruit_fly_area": False}, "act 7 r14",
        "Moist soil is no comfort", MENDED,
    ),
    (
        "a few split", "fruit_split", {"pct": 4, "fruit_fly_area": False},
        "watch r14", "More may follow the next rain", MENDED,
    ),
    (
        "none split", "fruit_split", {"pct": 0, "fruit_fly_area": True}, "leave",
        "Nothing to clear", MENDED,
    ),
    (
        "no crooked shoots", "fire_blight", {"count": 0}, "leave",
        "Nothing to report", MENDED,
    ),
    (
        "a crook where fire blight is at home", "fire_blight",
        {**COMMON, "count": 1, **SUMMER}, "act 2 r14", "It runs day by day", MENDED,
    ),
    (
        "a crook where it is not", "fire_blight", {**ABSENT, "count": 1},
        "report 1 r14", "The authority hears first", MENDED,
    ),
    (
        "crooks nobody counted", "fire_blight", {}, "watch r7", "It runs fast",
        MENDED,
    ),
    (
        "water sprouts with frost ahead", "water_sprout",
        {"frost_ahead": True, "count": 5, **GROWN}, "leave r60",
        "A cut wakes buds into the cold", MENDED,
    ),
    (
        "water sprouts before a heat wave", "water_sprout",
        {"frost_ahead": False, "heat_ahead": True, "count": 5, **GROWN}, "leave r30",
        "They shade the bark", MENDED,
    ),
    (
        "water sprouts on a young tree", "water_sprout",
        {"frost_ahead": False, "heat_ahead": False, "count": 5, "age_y": 1},
        "watch r60", "It needs every leaf", MENDED,
    ),
    (
        "three water sprouts", "water_sprout",
        {"frost_ahead": False, "heat_ahead": False, "count": 3, **GROWN, **SUMMER},
        "act 30 r60", "They crowd the bearing wood", MENDED,
    ),
    (
        "one water sprout", "water_sprout",
        {"frost_ahead": False, "heat_ahead": False, "count": 1, **GROWN, **SUMMER},
        "watch r60", "One may become a limb", MENDED,
    ),
    (
        "three-part leaf on a tree said to have own roots", "sucker",
        {"leaf3": True, "on_own_roots": True, "woody": False}, "act 7 r30",
        "The record is wrong, the leaf is not", MENDED,
    ),
    (
        "a basal shoot on own roots", "sucker",
        {"leaf3": False, "on_own_roots": True}, "leave r90", "It is the same tree",
        MENDED,
    ),
    (
        "a green sucker below the graft", "sucker",
        {"leaf3": False, "on_own_roots": False, "graft": "below", "woody": False},
        "act 14 r30", "Pull it", MENDED,
    ),
    (
        "a woody sucker in winter", "sucker",
        {
            **WINTER, "frost_ahead": True, "leaf3": False, "on_own_roots": False,
            "graft": "below", "woody": True,
        },
        "act 14 r30", "Suckers do not wait for the last frost", MENDED,
    ),
    (
        "a shoot above the graft", "sucker",
        {"leaf3": False, "on_own_roots": False, "graft": "above"}, "leave r30",
        "A water sprout", MENDED,
    ),
    (
        "a bracket over a path", "conk_base", {**YES, "over_path": True}, "act 1 r14",
        "It could fall on somebody", MENDED,
    ),
    (
        "a bracket away from people", "conk_base", {**YES, "over_path": False},
        "act 7 r30", "The wood is rotting", MENDED,
    ),
    (
        "mushrooms off the trunk", "conk_base", {**NO, "over_path": False},
        "watch r30", "Honey fungus fruits from roots too", MENDED,
    ),
    (
        "leaf drop in wet soil after frost", "leaf_drop",
        {**WINTER, "soil": "wet", "pct": 40, "frost_days": 10}, "act 0 r3",
        "Frost must not hide drowning", MENDED,
    ),
    (
        "leaf drop in dry soil", "leaf_drop", {**SUMMER, "soil": "dry", "pct": 40},
        "act 0 r3", "Water today", MENDED,
    ),
    (
        "leaf drop after frost in moist soil", "leaf_drop",
        {**WINTER, "soil": "moist", "pct": 40, "frost_days": 10}, "leave r21",
        "Frost explains it", MENDED,
    ),
    (
        "spring change of leaves", "leaf_drop",
        {"season": "spring", "sm": 1, "soil": "moist", "pct": 10, "frost_days": 60},
        "leave r30", "New leaves come", MENDED,
    ),
    (
        "fruit frozen last night", "frost_fruit", {"pct": 20, "frost_days": 1},
        "act 2 r3", "Use it in days", MENDED,
    ),
    (
        "fruit drying two weeks after", "frost_fruit", {"pct": 20, "frost_days": 15},
        "act 7 r7", "Pick what can be used", MENDED,
    ),
    (
        "clean fruit the morning after", "frost_fruit", {"pct": 0, "frost_days": 0},
        "watch r7", "Drying shows only days later", MENDED,
    ),
    (
        "clean fruit three weeks after", "frost_fruit", {"pct": 0, "frost_days": 20},
        "leave", "The crop is sound", MENDED,
    ),
    (
        "bark half lost to frost", "frost_bark", {"frac": 0.5}, "act 60 r30",
        "What lives shows after weeks", MENDED,
    ),
    (
        "frosted tree with hardened leaves", "frost_leaf",
        {
            "season": "spring", "sm": 3, "leaves_hardened": True,
            "frost_ahead": False, "frost_days": 50, "pct": 30,
        },
        "act 30 r90", "Live wood shows: prune once", MENDED,
    ),
    (
        "frosted tree with soft leaves", "frost_leaf",
        {
            "season": "spring", "sm": 3, "leaves_hardened": False,
            "frost_ahead": False, "frost_days": 50, "pct": 30,
        },
        "leave r30", "Wait", MENDED,
    ),
    (
        "iron shortage in wet soil", "iron_young", {**SPRING, "soil": "wet"},
        "act 7 r21", "Ease the water", MENDED,
    ),
    (
        "iron shortage in dry soil", "iron_young", {**SPRING, "soil": "dry"},
        "act 1 r14", "Even water first", MENDED,
    ),
    (
        "painted bark with a small burn", "bark_sunburn",
        {"coated": True, "frac": 0.1, "heat_ahead": True, "bare": True},
        "watch r180", "It is painted already", MENDED,
    ),
    (
        "bare bark before heat", "bark_sunburn",
        {"coated": False, "frac": 0.1, "heat_ahead": True, "bare": True}, "act 2 r30",
        "It burns within days", MENDED,
    ),
    (
        "mites on most leaves in winter", "red_mite",
        {**WINTER, "pct": 80, "enemies": False}, "act 7 r7",
        "Four leaves in five are too many in any season", MENDED,
    ),
    (
        "some mites in winter", "red_mite", {**WINTER, "pct": 40, "enemies": False},
        "leave", "They hardly breed", MENDED,
    ),
    (
        "orange wood where mal secco is unknown", "mal_secco", {**YES},
        "report 1 r14", "Before anybody cuts", ROW,
    ),
    (
        "orange wood where mal secco is at home", "mal_secco",
        {**COMMON, **YES, "season": "summer", "sm": 5}, "act 7 r21",
        "Cut below the stain", ROW,
    ),
    (
        "dotted spot with dark rim", "black_spot", {**YES}, "report 1 r14",
        "Fruit movement is restricted", ROW,
    ),
    (
        "brown gummy bumps below", "xylella_cvc", {**YES}, "report 1 r14",
        "Regulated almost everywhere", ROW,
    ),
    (
        "scorched edge in dry soil", "xylella_scorch", {**YES, "soil": "dry"},
        "watch r14", "Drought does the same", ROW,
    ),
    (
        "scorched edge, soil not felt", "xylella_scorch", {**YES}, "report 3 r14",
        "A band needs a look by the authority", ROW,
    ),
    (
        "a pencil hole at the foot of a lemon", "longhorn_hole", {"hole_cm": 1.0},
        "report 1 r7", "A priority pest", ROW,
    ),
    (
        "a pin hole at the foot", "longhorn_hole", {"hole_cm": 0.3}, "watch r14",
        "Too small for a longhorn", ROW,
    ),
    (
        "spiny discs where they are common, with ants", "spiny_blackfly",
        {**COMMON, "count": 3, "ants": True}, "act 14 r21", "Stop the ants", ROW,
    ),
    (
        "a caterpillar in an orange", "false_codling", {"count": 1}, "report 1 r7",
        "The authority names it", ROW,
    ),
    (
        "warts where scab is common", "citrus_scab", {**COMMON, **YES}, "leave r60",
        "Only skin deep", ROW,
    ),
    (
        "a third of mandarin leaves spotted", "alternaria_spot", {"pct": 30},
        "act 14 r21", "Drier leaves, calmer growth", ROW,
    ),
    (
        "black leaf stalks in a warm spring", "citrus_blast",
        {**SPRING, "pct": 30, "frost_ahead": False}, "act 30 r60",
        "Dead tips can come off", ROW,
    ),
    (
        "black leaf stalks in winter", "citrus_blast",
        {**WINTER, "pct": 30, "frost_ahead": True}, "watch r30",
        "No cuts in wet cold", ROW,
    ),
    (
        "white sheet over a path", "armillaria", {**YES, "over_path": True},
        "act 1 r14", "It falls without warning", ROW,
    ),
    (
        "fed pot with scorched edges", "fert_burn", {**YES, **POT}, "act 0 r7",
        "Wash it out today", ROW,
    ),
    (
        "new tree droops in wet soil", "transplant_shock",
        {"soil": "wet", "droops_at_dawn": True, **NEW}, "act 1 r7",
        "Stop watering", ROW,
    ),
    (
        "new tree recovers overnight", "transplant_shock",
        {"soil": "moist", "droops_at_dawn": False, **NEW}, "leave r14",
        "Roots are on their way", ROW,
    ),
    (
        "hail in a fly area", "hail", {"pct": 3, "fruit_fly_area": True},
        "act 2 r7", "Broken skin draws fly", ROW,
    ),
    (
        "moss on a lemon trunk", "lichen", {**YES}, "leave", "Harmless", ROW,
    ),
    (
        "ladybirds at work", "good_bugs", {"count": 5}, "leave", "Let them", ROW,
    ),
    (
        "spined bugs where they are at home", "spined_bug", {**COMMON, "count": 6},
        "act 7 r14", "Easily picked", ROW,
    ),
    (
        "a peach full of aphids with ants", "aphids_fruit",
        {**SPRING, "pct": 40, "ants": True, **GROWN}, "act 3 r7", "Stop the ants",
        ROW,
    ),
    (
        "a young plum with helpers", "aphids_fruit",
        {**SPRING, "pct": 60, "ants": False, "enemies": True, **YOUNG}, "watch r7",
        "Helpers have arrived", ROW,
    ),
    (
        "blossom hit, more frost to come", "blossom_frost",
        {"frost_ahead": True, "frost_days": 1, "pct": 50}, "act 0 r1",
        "Save what lives", ROW,
    ),
    (
        "four flowers in five dead", "blossom_frost",
        {"frost_ahead": False, "frost_days": 3, "pct": 80}, "leave r30",
        "A tenth makes a crop", ROW,
    ),
    (
        "scabby apple leaves in autumn", "apple_scab", {**AUTUMN, "pct": 15},
        "act 21 r180", "Clear the leaves", ROW,
    ),
    (
        "a quarter of a young tree's leaves mined", "leafminer",
        {"pct": 25, **YOUNG}, "act 7 r14", "Few leaves to lose", PRACTICE,
    ),
    (
        "a quarter of a grown tree's leaves mined", "leafminer",
        {"pct": 25, **GROWN}, "leave", "It is unharmed", PRACTICE,
    ),
    (
        "a rocking tree away from people", "leaning", {**YES, "over_path": False},
        "act 7 r30", "The next wind may bring it down", ROW,
    ),
    (
        "a lean with a firm base", "leaning", {**NO, "over_path": True},
        "watch r180", "It is its own shape", ROW,
    ),
    (
        "a lean that nobody tested", "leaning", {"over_path": True}, "watch r7",
        "Nothing is known of its hold", PRACTICE,
    ),
    (
        "fruit in the second year", "young_crop", {"planted_d": 500, "count": 3},
        "act 21 r60", "Roots and frame come first", ROW,
    ),
    (
        "fruit in the third year", "young_crop", {"planted_d": 800, "count": 3},
        "watch r60", "A few may stay", ROW,
    ),
    (
        "trunk barked three quarters round", "trimmer_wound", {"frac": 0.75},
        "act 1 r30", "The top starves", PRACTICE,
    ),
    (
        "a hanging limb over a path", "broken_branch", {"over_path": True, **YES},
        "act 0 r7", "It can fall today", PRACTICE,
    ),
    (
        "a torn limb away from people", "broken_branch", {"over_path": False, **YES},
        "act 7 r30", "A clean cut closes faster", PRACTICE,
    ),
]  # fmt: skip
KEYS = ("name", "sign", "facts", "expected", "why", "basis")


def in_short(judged):
    """Write a verdict as the table does."""
    due = "" if judged.due_days is None else f" {judged.due_days}"
    recheck = "" if judged.recheck_days is None else f" r{judged.recheck_days}"
    return f"{judged.verdict.value}{due}{recheck}"


@pytest.mark.parametrize(KEYS, SITUATIONS, ids=[row[0] for row in SITUATIONS])
def test_the_guide_says_what_a_practitioner_says(
    name, sign, facts, expected, why, basis
):
    assert in_short(verdict.decide(sign, facts)) == expected, f"{why} ({basis})"


def test_every_situation_gives_its_reason_and_where_it_is_from():
    signs = guide.load().signs
    for name, sign, _facts, _expected, why, basis in SITUATIONS:
        assert sign in signs, name
        assert why, name
        assert basis in (MENDED, ROW, PRACTICE), name
