"""The album: drawn pictures on some findings and closures, and portraits of trees."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from io import BytesIO
from random import Random
from typing import Any

from django.db.models import QuerySet

from orchard.demonstration.motifs import taken
from orchard.demonstration.scene import Scene
from orchard.records.models import (
    Closure,
    Finding,
    Membership,
    Photo,
    PhotoLink,
    Slide,
    Task,
    Tree,
    User,
)
from orchard.science.words import Season
from orchard.services import photos, talks, visitors
from orchard.services.talks import NewSlide

# Which motif shows a sign, and how many pictures of it the whole story has.
OF_SIGN = {
    "leafminer": ("leafminer", 2),
    "aphids": ("aphids", 2),
    "winter_yellow": ("winter_yellow", 2),
    "iron_young": ("iron_young", 2),
    "soft_scale": ("soft_scale", 2),
    "frost_leaf": ("frost_leaf", 2),
    "salt_tips": ("salt_tips", 2),
    "sucker": ("sucker", 3),
    "fruit_split": ("fruit_split", 2),
    "fruit_drop": ("fruit_drop", 2),
    "overripe": ("overripe", 2),
    "snails": ("snails", 1),
    "hlb_mottle": ("mottle", 1),
    "one_branch_yellow": ("mottle", 1),
    "trimmer_wound": ("trimmer_wound", 1),
    "buried_trunk": ("buried_trunk", 1),
}
OF_TASK = {
    (Task.Kind.ACT, "sucker"): ("sucker_gone", 2),
    (Task.Kind.CARE, "whitewash"): ("painted", 2),
    (Task.Kind.CARE, "repot"): ("potted", 1),
}
CONFIRMED = ("leafminer", "aphids", "sucker", "iron_young", "winter_yellow")
SAID = {
    "spring": "In bloom",
    "summer": "Green fruit in the heat",
    "autumn": "Before the colour comes",
    "winter": "Fruit ready to pick",
    "potted": "On the terrace",
    "bloom": "Flowers on the lower branches",
}
# The same for those who cannot see it.
SHOWN = {
    "spring": "round citrus tree in white flower",
    "summer": "round citrus tree with green fruit over dry grass",
    "autumn": "round citrus tree with green fruit",
    "winter": "round citrus tree full of ripe fruit",
    "potted": "small citrus tree in a terracotta pot",
    "bloom": "branch with white citrus flowers",
}
# What pictures of finished work show, and the same for those who cannot see it.
FINISHED = {
    "sucker": (
        "Below the graft line, after the suckers came off",
        "A drawing of a bare trunk with short cuts where shoots were taken off",
    ),
    "whitewash": (
        "The trunk painted white against the sun",
        "A drawing of a trunk painted white, with pot and brush beside it",
    ),
    "repot": (
        "Repotted, one size larger",
        "A drawing of a small citrus tree in a terracotta pot",
    ),
}
SUCKERS_ON = (
    "Suckers below the graft line, before they came off",
    "A drawing of a trunk with green shoots below the graft line",
)
# What visitors read of a tree, and of a cultivar.
STORY = (
    "This is the oldest tree on the upper terrace. It was here before the cistern was "
    "repaired, and its water still comes from there.\n\n"
    "Every spring we pull the shoots that come from below the graft. Look for the line "
    "across the trunk, a hand above the ground."
)
STORY_OF_KIND = (
    "A navel orange has a second small fruit inside, which makes the navel. It has no "
    "seeds: every tree of it was grafted."
)
# So many pictures of signs a talk shows at most.
MOST = 8
# Findings that become the orchard's own picture of a sign: caption, and for those who
# cannot see it.
CAPTIONS = {
    "leafminer": (
        "Leafminer: the trail winds with a thin dark line inside",
        "A drawing of a leaf with a pale winding trail",
    ),
    "aphids": (
        "Aphids at a soft tip, with drops of honeydew",
        "A drawing of a shoot with small dark insects along its tip",
    ),
    "sucker": (
        "Two suckers below the graft line, leaves in three parts",
        "A drawing of a trunk with green shoots below the graft line",
    ),
    "iron_young": (
        "Young leaf with a fine green net: shortage of iron",
        "A drawing of a pale leaf whose veins are green",
    ),
    "winter_yellow": (
        "An old leaf, evenly yellow in the cold months",
        "A drawing of a leaf that is yellow all over",
    ),
}


def plan(scene: Scene, *, share: float) -> None:
    """Say how many pictures of each motif this orchard's story may have."""
    for name, count in (*OF_SIGN.values(), *OF_TASK.values()):
        most = round(count * share + 0.3) if share < 1 else count
        scene.album[name] = max(scene.album.get(name, 0), most)


def of_sign(
    scene: Scene, sign: str, at: datetime, *, surely: bool = False
) -> bytes | None:
    """Take a picture of a sign, when it is time for one of its motif."""
    motif, _count = OF_SIGN.get(sign, ("", 0))
    if not motif or not (surely or _is_time(scene, motif, at)):
        return None
    if surely and not any(scene.album.values()):
        return None
    return _take(scene, motif, at)


def store_of_finding(
    scene: Scene, picture: bytes, finding: Finding, *, by: User, at: datetime
) -> None:
    """Keep a picture of a sign with what was found."""
    _store(
        scene, picture, by=by, at=at, tree=finding.tree, finding=finding,
        inspection=finding.inspection, private=finding.private,
    )  # fmt: skip


def of_work(scene: Scene, task: Task, at: datetime) -> bytes | None:
    """Take a picture of work that was done, when it is time for one of its motif."""
    motif, _count = OF_TASK.get((Task.Kind(task.kind), task.key), ("", 0))
    return _take(scene, motif, at) if motif and _is_time(scene, motif, at) else None


def store_of_work(
    scene: Scene, picture: bytes, closure: Closure, *, by: User, at: datetime
) -> None:
    """Keep a picture of work that was done with how it was closed."""
    _store(scene, picture, by=by, at=at, tree=closure.task.tree, closure=closure)


def portraits_due(scene: Scene) -> list[tuple[date, str, str]]:
    """List the portraits of the last year: the day, the tree's code and the motif."""
    months = {Season.SPRING: 2, Season.SUMMER: 5, Season.AUTUMN: 7, Season.WINTER: 10}
    found = []
    for back in range(12):
        day = scene.ends_on - timedelta(days=20 + 30 * back)
        day -= timedelta(days=(day.weekday() - 2) % 7)
        if day <= scene.starts_on + timedelta(days=5):
            break
        for season, month in months.items():
            if scene.month(day) == month:
                found += [(day, code, season.value) for code in ("A-01", "B-02", "H-1")]
        if scene.month(day) == 3:
            found += [(day, "A-04", "bloom")]
        if scene.month(day) == 9:
            found += [(day, "E-01", "potted")]
    return [row for row in found if row[1] in scene.trees]


def older_portraits_due(scene: Scene) -> list[tuple[date, str, str]]:
    """List the portraits of one tree in the autumns before the last."""
    autumn = Season.AUTUMN.value
    due = [row for row in portraits_due(scene) if row[1:] == ("A-01", autumn)]
    found = []
    for day, code, motif in due[:1]:
        while (day := day - timedelta(weeks=52)) > scene.starts_on + timedelta(days=5):
            found.append((day, code, motif))
    return found


def portrait_of_confirmed(scene: Scene, name: str, day: date) -> None:
    """Take a portrait of a tree that has a close-up, for talks that begin with it."""
    photos_of = Photo.objects.in_orchard(scene.orchard).exclude(confirmed_sign="")
    close_up = photos_of.order_by("-confirmed_sign").first()
    if close_up is not None and close_up.tree is not None:
        motif = list(Season)[(scene.month(day) - 1) // 3].value
        dice = Random(day.toordinal())
        portrait(scene, close_up.tree.code, motif, day, name=name, dice=dice)


def portrait(
    scene: Scene,
    code: str,
    motif: str,
    day: date,
    *,
    name: str,
    dice: Random | None = None,
) -> None:
    """Take a tree's portrait, write its caption and let everybody see it."""
    by = scene.people[name]
    tree = Tree.objects.get(orchard=scene.orchard, code=code)
    at = scene.at(day, 10, 40)
    photo = _store(scene, _take(scene, motif, at, dice), by=by, at=at, tree=tree)
    _describe(
        scene,
        photo,
        scene.member(name),
        day,
        caption=f"{tree.kind.name}: {SAID[motif].lower()}",
        alt_text=f"A drawing of a {SHOWN[motif]}",
        view=Photo.View.BRANCH if motif == "bloom" else Photo.View.WHOLE_TREE,
        audience=Photo.Audience.PUBLIC,
    )


def confirm(scene: Scene, name: str, day: date) -> None:
    """Make the newest picture of some signs the orchard's own picture of them."""
    member = scene.member(name)
    for sign in CONFIRMED:
        found = _open_to_all(scene).filter(findings__sign=sign)
        photo = found.order_by("-taken_at", "-pk").first()
        if photo is not None:
            _describe_close_up(scene, photo, member, day, CAPTIONS[sign], sign=sign)


def describe_work(scene: Scene, name: str, day: date) -> None:
    """Say what the pictures of finished work show, and those of why it was done."""
    links = PhotoLink.objects.filter(
        photo__in=_open_to_all(scene),
        closure__task__key__in=FINISHED,
        closure__undone_at=None,
    ).select_related("photo__by", "closure__task")
    texts, findings = [], set()
    for link in links.order_by("closure", "photo"):
        assert link.closure is not None
        task = link.closure.task
        texts.append((link.photo, FINISHED[task.key]))
        findings.add(task.finding_id)
    before = _open_to_all(scene).filter(
        findings__in=findings - {None}, confirmed_sign=""
    )
    texts += [(photo, SUCKERS_ON) for photo in before.order_by("pk").distinct()]
    member = scene.member(name)
    for photo, words in texts:
        _describe_close_up(scene, photo, member, day, words)


def _open_to_all(scene: Scene) -> QuerySet[Photo]:
    photos_of = Photo.objects.current().in_orchard(scene.orchard)
    return photos_of.open_to_all().select_related("by")


def write_stories(scene: Scene, name: str, day: date) -> None:
    """Write for visitors about a tree and about its cultivar."""
    tree = Tree.objects.get(orchard=scene.orchard, code="A-01")
    for subject, text in ((tree, STORY), (tree.kind, STORY_OF_KIND)):
        visitors.write_story(
            subject, member=scene.member(name), now=scene.at(day, 16), text=text
        )


def _describe_close_up(
    scene: Scene,
    photo: Photo,
    member: Membership,
    day: date,
    words: tuple[str, str],
    *,
    sign: str = "",
) -> None:
    caption, alt_text = words
    _describe(
        scene,
        photo,
        member,
        day,
        caption=caption,
        alt_text=alt_text,
        view=Photo.View.CLOSE_UP,
        confirmed_sign=sign,
    )


def _describe(
    scene: Scene,
    photo: Photo,
    member: Membership,
    day: date,
    *,
    audience: str = Photo.Audience.TALKS,
    **words: Any,
) -> None:
    """Write what a picture shows, and let it be seen so far."""
    photos.describe(
        photo,
        member=member,
        now=scene.at(day, 16, 30),
        people=Photo.People.NOBODY,
        audience=audience,
        credit=f"{photo.by.name}, {scene.orchard.name}",
        **words,
    )


def give_talk(scene: Scene, name: str, day: date) -> None:
    """Arrange a talk from the pictures that may be shown, ready to be fetched."""
    shown = Photo.objects.in_orchard(scene.orchard).free_to_show("talks")
    signs = list(shown.exclude(confirmed_sign="").order_by("confirmed_sign")[:MOST])
    portraits = shown.filter(view=Photo.View.WHOLE_TREE)
    trees = list(portraits.order_by("-taken_at", "-pk")[:4])
    talks.start(
        scene.orchard,
        title="What the leaves tell us",
        slides=[
            NewSlide(
                Slide.Kind.TEXT,
                "Look before you touch",
                "Walk once around the tree.\nThen look at one leaf from both sides.",
            ),
            *talks.slides_from(signs, Slide.Kind.PICTURE),
            *talks.slides_from(trees[::-1], Slide.Kind.SERIES),
        ],
        by=scene.people[name],
        now=scene.at(day, 17, 10),
    )


def _is_time(scene: Scene, motif: str, at: datetime) -> bool:
    """Spread a motif's pictures over the story, so that old and new ones exist."""
    whole = (scene.ends_on - scene.starts_on).days or 1
    gone = (at.date() - scene.starts_on).days / whole
    most = scene.album.get(motif, 0)
    return scene.drawn.get(motif, 0) < min(most, most * gone + 0.4)


def _take(scene: Scene, motif: str, at: datetime, dice: Random | None = None) -> bytes:
    scene.drawn[motif] = scene.drawn.get(motif, 0) + 1
    return taken(motif, dice or scene.dice, at.astimezone(scene.zone))


def _store(
    scene: Scene, picture: bytes, *, by: User, at: datetime, **links: Any
) -> Photo:
    photo = photos.store(
        BytesIO(picture),
        orchard=scene.orchard,
        by=by,
        now=min(at + timedelta(minutes=7), scene.now),
        **links,
    )
    scene.laid.append(photo.name)
    return photo
