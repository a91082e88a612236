"""Photos by purpose: what is looked for in a talk, and the slides that show it.

Each purpose gives slides to edit, or a `Refused` that says which photo is missing.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import Exists, OuterRef, Q, QuerySet
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from orchard.records.models import (
    Closure,
    Finding,
    Orchard,
    Photo,
    PhotoLink,
    Slide,
    Task,
    Tree,
)
from orchard.science import guide, windows
from orchard.science.words import Season, Verdict
from orchard.services.errors import NotThere, Refused
from orchard.services.talks.arrange import MOST_ON_A_SLIDE, USE, NewSlide

Kind = Slide.Kind
View = Photo.View
# So long before work was done, a photo of the tree still shows what it was done for.
BEFORE_WORK = timedelta(days=120)
LONGEST_TEXT = 600
MOST_FINISHED, MOST_TREES = 40, 50


@dataclass(frozen=True, slots=True)
class Proposal:
    """The title and the slides that a purpose gives."""

    title: str
    slides: tuple[NewSlide, ...]


@dataclass(frozen=True, slots=True)
class Material:
    """What photos there are to choose from, for pages that offer the purposes."""

    # The first of them by their codes, and whether there are more.
    trees: tuple[str, ...]
    more_trees: bool
    signs: tuple[guide.Sign, ...]
    pairs: tuple[tuple[guide.Sign, guide.Sign], ...]
    jobs: tuple[guide.CareJob, ...]
    # How tasks were closed with a photo, the latest first.
    finished: tuple[Closure, ...]


def material(orchard: Orchard) -> Material:
    """Return the trees, signs, pairs, jobs and tasks with photos that may be shown."""
    book = guide.load()
    free = _free(orchard)
    codes = free.filter(trees__isnull=False).order_by("trees__code")
    codes = codes.values_list("trees__code", flat=True).distinct()
    trees = tuple(codes[: MOST_TREES + 1])
    standing = Finding.objects.current().filter(private=False)
    found = free.filter(findings__in=standing).values_list("findings__sign", flat=True)
    confirmed = free.exclude(confirmed_sign="")
    own = confirmed.values_list("confirmed_sign", flat=True)
    keys = {*own.distinct(), *found} & set(book.signs)
    signs = sorted((book.signs[key] for key in keys), key=lambda sign: sign.name)
    jobs = free.filter(
        closures__task__kind__in=Task.OF_A_JOB,
        closures__how=Closure.How.DONE,
        closures__undone_at=None,
    ).values_list("closures__task__key", flat=True)
    return Material(
        trees=trees[:MOST_TREES],
        more_trees=len(trees) > MOST_TREES,
        signs=tuple(signs),
        pairs=tuple(
            (sign, book.signs[alike.sign])
            for sign in signs
            for alike in sign.alike
            if alike.sign in keys
        ),
        jobs=tuple(
            sorted(
                (book.jobs[key] for key in set(jobs) if key in book.jobs),
                key=lambda job: job.name,
            )
        ),
        finished=tuple(
            Closure.objects.filter(
                Exists(
                    PhotoLink.objects.filter(closure=OuterRef("pk"), photo__in=free)
                ),
                task__orchard=orchard,
                task__private=False,
                how=Closure.How.DONE,
                undone_at=None,
            )
            .select_related("task__tree")
            .order_by("-done_on", "-pk")[:MOST_FINISHED]
        ),
    )


def _missing(text: str) -> Refused:
    return Refused(text, code="photos_missing")


def _free(orchard: Orchard) -> Any:
    return Photo.objects.in_orchard(orchard).free_to_show(USE)


def _season_words() -> dict[Season, str]:
    return {
        Season.SPRING: _("spring"),
        Season.SUMMER: _("summer"),
        Season.AUTUMN: _("autumn"),
        Season.WINTER: _("winter"),
    }


def through_the_years(tree: Tree) -> Proposal:
    """Show a tree in the same season of several years: the season with the most.

    Of a year, a photo of the whole tree goes before another, then the latest.

    Raises:
        Refused (photos_missing): there are photos of one year alone, or of none.
    """
    orchard = tree.orchard
    zone, latitude = ZoneInfo(orchard.time_zone), float(orchard.latitude)
    by_season: dict[Season, dict[int, Photo]] = defaultdict(dict)
    rows = _free(orchard).filter(trees=tree, taken_at__isnull=False)
    for photo in rows.order_by("taken_at", "pk"):
        assert photo.taken_at is not None
        day = photo.taken_at.astimezone(zone).date()
        of_season = by_season[windows.season(day, latitude)]
        year = windows.season_year(day, latitude)
        best = of_season.get(year)
        if best is None or (
            (photo.view == View.WHOLE_TREE) >= (best.view == View.WHOLE_TREE)
        ):
            of_season[year] = photo
    words = {"code": tree.code}
    if not by_season:
        raise _missing(_("No photo of %(code)s may be shown in talks yet.") % words)
    season = max(Season, key=lambda each: len(by_season[each]))
    photos = [photo for _year, photo in sorted(by_season[season].items())]
    words["season"] = _season_words()[season]
    if len(photos) < 2:
        text = _(
            "Photos of %(code)s that may be shown are of one year only. Take another "
            "next %(season)s, or let an older one be shown in talks."
        )
        raise _missing(text % words)
    title = _("%(code)s through the years: %(season)s") % words
    return Proposal(title, (*_each(photos, title), *_together(photos, title)))


def _each(photos: Sequence[Photo], title: str) -> tuple[NewSlide, ...]:
    return tuple(NewSlide(Kind.PICTURE, title, photos=(photo,)) for photo in photos)


def _together(photos: Sequence[Photo], title: str) -> tuple[NewSlide, ...]:
    """Show the latest photos side by side."""
    latest = tuple(photos[-MOST_ON_A_SLIDE:])
    kind = Kind.PAIR if len(latest) == 2 else Kind.SERIES
    return (NewSlide(kind, title, photos=latest),)


def before_and_after(task: Task) -> Proposal:
    """Show a tree before a task was done, and after it.

    Before is a photo of the finding that called for it, else the last of the tree.

    Raises:
        Refused (photos_missing): the task is open, or one of the two is missing.
    """
    free = _free(task.orchard)
    closure = task.closures.filter(undone_at=None, how=Closure.How.DONE).first()
    if closure is None:
        raise _missing(_("This task isn't done yet. Close it with a photo first."))
    after = free.filter(closures=closure).order_by("-taken_at", "-pk").first()
    if after is None:
        raise _missing(_("No photo of the finished work may be shown in talks yet."))
    before = None
    if task.finding_id:
        before = free.filter(findings=task.finding_id).order_by("pk").first()
    if before is None and task.tree_id:
        done = _midnight(closure.done_on, task.orchard)
        rows = free.filter(
            trees=task.tree_id, taken_at__lt=done, taken_at__gte=done - BEFORE_WORK
        )
        before = rows.exclude(pk=after.pk).order_by("-taken_at", "-pk").first()
    if before is None:
        raise _missing(
            _("No photo from before this work may be shown in talks. The work is shown "
              "by its photo of %(day)s alone.")
            % {"day": date_format(closure.done_on, "j M Y")}
        )  # fmt: skip
    title = task.title[:120]
    return Proposal(
        title,
        (
            *_each([before], _("Before")),
            *_each([after], _("After")),
            NewSlide(Kind.BEFORE_AFTER, title, photos=(before, after)),
        ),
    )


def _midnight(day: date, orchard: Orchard) -> datetime:
    return datetime.combine(day, time(), ZoneInfo(orchard.time_zone))


def _sign(key: str) -> guide.Sign:
    sign = guide.load().signs.get(key)
    if sign is None:
        raise NotThere()
    return sign


def _of_sign(orchard: Orchard, sign: str) -> QuerySet[Photo]:
    """Return the photos of a sign: the orchard's own first, then the newest."""
    standing = Finding.objects.current().filter(sign=sign, private=False)
    rows: QuerySet[Photo] = _free(orchard).of_findings(standing, confirmed=sign)
    return rows.order_by("-confirmed_sign", "-pk")


def from_tree_to_close_up(orchard: Orchard, key: str) -> Proposal:
    """Show a sign from the whole tree to the close-up, then how to tell it.

    A photo of the whole tree may be of the same tree alone, without the sign.

    Raises:
        Refused (photos_missing): one of these views is missing.
        NotThere: the guide has no such sign.
    """
    sign = _sign(key)
    found = {
        view: _of_sign(orchard, key).filter(view=view).first()
        for view in (View.WHOLE_TREE, View.BRANCH, View.CLOSE_UP)
    }
    close = found[View.CLOSE_UP]
    if found[View.WHOLE_TREE] is None and close is not None and close.tree is not None:
        rows = _free(orchard).filter(trees=close.tree, view=View.WHOLE_TREE)
        found[View.WHOLE_TREE] = rows.order_by("-taken_at", "-pk").first()
    needed = {view for view in (View.WHOLE_TREE, View.CLOSE_UP) if found[view] is None}
    if needed:
        names = ", ".join(str(view.label) for view in View if view in needed)
        text = _("%(sign)s: no photo that may be shown has this view: %(views)s.")
        raise _missing(text % {"sign": sign.name, "views": names})
    photos = [photo for photo in found.values() if photo is not None]
    return Proposal(
        sign.name[:120],
        (
            *_each(photos, sign.name),
            *_together(photos, sign.name),
            _how_to_tell(sign),
        ),
    )


def _how_to_tell(sign: guide.Sign) -> NewSlide:
    title = _("%(sign)s: how to tell") % {"sign": sign.name}
    return NewSlide(Kind.TEXT, title[:120], _cut(sign.look_for, sign.why))


def _cut(*lines: str) -> str:
    """Return lines as far as a slide holds them whole."""
    text = ""
    for line in lines:
        longer = f"{text}\n{line}".strip()
        if len(longer) > LONGEST_TEXT:
            break
        text = longer
    return text


def look_alikes(orchard: Orchard, key: str, other: str) -> Proposal:
    """Show two signs that are easily mixed up, and the difference between them.

    Raises:
        Refused (photos_missing): one of them has no photo that may be shown.
        NotThere: the guide knows no such pair.
    """
    sign, alike = _sign(key), _sign(other)
    tells = [each.tell for each in sign.alike if each.sign == other]
    if not tells:
        raise NotThere()
    found = [_of_sign(orchard, each.key).first() for each in (sign, alike)]
    for each, photo in zip((sign, alike), found, strict=True):
        if photo is None:
            text = _("No photo of “%(sign)s” may be shown in talks yet.")
            raise _missing(text % {"sign": each.name})
    first, second = (photo for photo in found if photo is not None)
    if first == second:
        raise _missing(_("Both signs are on one photo. Another photo is needed."))
    title = _("%(one)s or %(other)s?") % {"one": sign.name, "other": alike.name}
    return Proposal(
        title[:120],
        (
            NewSlide(Kind.PAIR, title[:120], photos=(first, second)),
            *_each([first], sign.name),
            *_each([second], alike.name),
            NewSlide(Kind.TEXT, _("The difference"), _cut(*tells)),
        ),
    )


def act_beside_leave(orchard: Orchard, key: str) -> Proposal:
    """Show a sign that was to be acted on beside the same sign that was left alone.

    Raises:
        Refused (photos_missing): one of the two has no photo that may be shown.
        NotThere: the guide has no such sign.
    """
    sign = _sign(key)
    shown = []
    for verdict, word in ((Verdict.ACT, _("Act")), (Verdict.LEAVE, _("Leave"))):
        standing = Finding.objects.current().filter(
            Q(override=verdict) | Q(override="", verdict=verdict),
            sign=key,
            private=False,
        )
        photo = _free(orchard).filter(findings__in=standing).order_by("-pk").first()
        if photo is None:
            text = _("%(sign)s: no photo with the verdict “%(verdict)s” may be shown.")
            raise _missing(text % {"sign": sign.name, "verdict": word})
        finding = standing.filter(photos=photo).order_by("-pk")[0]
        because = finding.override_reason or " ".join(finding.because)
        shown.append((word, photo, because))
    title = _("%(sign)s: act or leave?") % {"sign": sign.name}
    return Proposal(
        title[:120],
        (
            NewSlide(Kind.PAIR, title[:120], photos=tuple(each[1] for each in shown)),
            *(
                NewSlide(Kind.TEXT, word, because[:LONGEST_TEXT])
                for word, _photo, because in shown
            ),
        ),
    )


def steps_of_a_job(orchard: Orchard, key: str) -> Proposal:
    """Show how a job of the care plan is done, by photos of finished tasks.

    Raises:
        Refused (photos_missing): none of them may be shown.
        NotThere: the guide has no such job.
    """
    job = guide.load().jobs.get(key)
    if job is None:
        raise NotThere()
    done = Closure.objects.filter(
        task__kind__in=Task.OF_A_JOB,
        task__key=key,
        how=Closure.How.DONE,
        undone_at=None,
    )
    rows = _free(orchard).filter(closures__in=done).distinct()
    newest = list(rows.order_by("-taken_at", "-pk")[:MOST_ON_A_SLIDE])
    if not newest:
        text = _("No photo of “%(job)s” may be shown in talks. Close a task with one.")
        raise _missing(text % {"job": job.name})
    about = NewSlide(Kind.TEXT, job.name[:120], _cut(job.why, job.tools, job.caution))
    return Proposal(job.name[:120], (about, *_each(newest[::-1], job.name)))
