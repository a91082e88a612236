"""Name the groups of the guide's cultivars as people call their fruit."""

from __future__ import annotations

from django.db import migrations

# The group of each cultivar of the guide, before and after.
GROUPS = {
    "Washington navel": ("navel", "Navel oranges"),
    "Navelina": ("early navel", "Early navel oranges"),
    "Cara Cara": ("red navel", "Red navel oranges"),
    "Lane Late": ("late navel", "Late navel oranges"),
    "Valencia": ("late", "Late oranges"),
    "Midknight": ("late, seedless", "Seedless late oranges"),
    "Hamlin": ("early juice", "Early juice oranges"),
    "Parson Brown": ("early juice, seedy", "Seedy juice oranges"),
    "Moro": ("blood", "Blood oranges"),
    "Tarocco": ("blood", "Blood oranges"),
    "Sanguinelli": ("late blood", "Late blood oranges"),
    "Owari satsuma": ("satsuma", "Satsumas"),
    "Nules clementine": ("clementine", "Clementines"),
    "Imperial": ("early easy-peel", "Early easy-peel mandarins"),
    "Daisy": ("early", "Early mandarins"),
    "Hickson": ("mid", "Mid-season mandarins"),
    "Dancy": ("tangerine", "Tangerines"),
    "Afourer": ("late easy-peel", "Late easy-peel mandarins"),
    "Murcott": ("tangor", "Tangors"),
    "Mystique": ("tangor", "Tangors"),
    "Minneola tangelo": ("", "Minneola tangelos"),
    "Orlando tangelo": ("", "Orlando tangelos"),
    "Marsh grapefruit": ("white", "White grapefruit"),
    "Ruby Red": ("red", "Red grapefruit"),
    "Rio Red": ("dark red", "Red grapefruit"),
    "Star Ruby": ("deep red", "Red grapefruit"),
    "Chandler pummelo": ("", "Pummelos"),
    "Eureka lemon": ("true", "Lemons"),
    "Lisbon lemon": ("true", "Lemons"),
    "Meyer lemon": ("hybrid", "Meyer lemons"),
    "Tahiti (Bearss) lime": ("", "Tahiti limes"),
    "Mexican (Key) lime": ("", "Mexican limes"),
    "Makrut lime": ("leaf use", "Makrut limes"),
    "Meiwa kumquat": ("round sweet", "Kumquats"),
    "Calamondin": ("acid", "Calamondins"),
    "Yuzu": ("acid", "Yuzu"),
    "Buddha's Hand citron": ("", "Citrons"),
    "Eustis limequat": ("", "Limequats"),
}


def set_common_names(apps, schema_editor):
    rename(apps, GROUPS)


def set_short_names(apps, schema_editor):
    rename(apps, {key: (new, old) for key, (old, new) in GROUPS.items()})


def rename(apps, groups):
    kinds = apps.get_model("records", "Kind").objects
    for key, (old, new) in groups.items():
        kinds.filter(guide_key=key, group=old).update(group=new)
    # Kinds of an orchard's own, and notes, name a group in its words.
    names = {}
    for old, new in groups.values():
        if old and new:
            names.setdefault(old, new)
    notes = apps.get_model("records", "StageNote").objects
    for old, new in names.items():
        kinds.filter(guide_key="", group=old).update(group=new)
        notes.filter(group=old).update(group=new)


class Migration(migrations.Migration):
    dependencies = [("records", "0003_ripeness_by_taste_and_colour")]

    operations = [migrations.RunPython(set_common_names, set_short_names)]
