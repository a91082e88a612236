"""The motifs: what the drawn pictures of the demonstration show."""

from __future__ import annotations

from datetime import datetime
from io import BytesIO
from random import Random

from PIL import Image

from orchard.demonstration import leaf_motifs, tree_motifs, trunk_motifs
from orchard.demonstration.brush import DARK_LEAF, LEAF, SKY, YELLOW, finished, mixed
from orchard.demonstration.tree_motifs import DRY, GRASS, Motif, portrait

# Numbers of the Exif standard (CIPA DC-008, from memory).
EXIF_PART, TAKEN_AT = 0x8769, 0x9003

MOTIFS: dict[str, Motif] = {
    "leafminer": leaf_motifs.leafminer,
    "aphids": leaf_motifs.aphids,
    "winter_yellow": leaf_motifs.winter_yellow,
    "iron_young": leaf_motifs.iron_young,
    "mottle": leaf_motifs.mottle,
    "soft_scale": leaf_motifs.sticky,
    "frost_leaf": leaf_motifs.frost_leaf,
    "salt_tips": leaf_motifs.salt_tips,
    "sucker": trunk_motifs.sucker,
    "sucker_gone": trunk_motifs.sucker_gone,
    "trimmer_wound": trunk_motifs.trimmer_wound,
    "buried_trunk": trunk_motifs.buried,
    "painted": trunk_motifs.painted,
    "fruit_split": tree_motifs.fruit_split,
    "fruit_drop": tree_motifs.fruit_drop,
    "overripe": tree_motifs.overripe,
    "snails": trunk_motifs.snails,
    "potted": tree_motifs.potted,
    "bloom": tree_motifs.bloom,
    "spring": portrait(LEAF, GRASS, SKY, "bloom"),
    "summer": portrait(DARK_LEAF, DRY, (226, 232, 222), "green"),
    "autumn": portrait(
        mixed(LEAF, DARK_LEAF, 0.5), mixed(GRASS, DRY, 0.5), SKY, "green"
    ),
    "winter": portrait(mixed(LEAF, YELLOW, 0.12), GRASS, (218, 224, 226), "fruit"),
}


def taken(motif: str, dice: Random, at: datetime) -> bytes:
    """Return a drawn picture as a camera's file, with its moment on local time."""
    image = finished(MOTIFS[motif](dice))
    exif = Image.Exif()
    exif.get_ifd(EXIF_PART)[TAKEN_AT] = at.strftime("%Y:%m:%d %H:%M:%S")
    out = BytesIO()
    image.save(out, "JPEG", quality=80, exif=exif)
    return out.getvalue()
