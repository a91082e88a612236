"""Photos: kept once, linked where they belong, shown only to those who may see them."""

from __future__ import annotations

import logging
import re
import uuid
from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from datetime import datetime, timedelta
from typing import IO, Any, TypedDict, Unpack
from zoneinfo import ZoneInfo

from django.core.files.base import ContentFile, File
from django.core.files.storage import default_storage
from django.db import Error as DatabaseFault
from django.db import IntegrityError, connection, transaction
from django.db.models import QuerySet
from django.utils.translation import gettext as _

from orchard.records.models import (
    Closure,
    Finding,
    Harvest,
    Inspection,
    Membership,
    Orchard,
    Photo,
    PhotoLink,
    Product,
    Round,
    Treatment,
    Tree,
    User,
)
from orchard.science import guide
from orchard.services import audit, permissions
from orchard.services.audit import Verb
from orchard.services.errors import MayNot, Refused, require_reason
from orchard.services.permissions import Deed
from orchard.services.photos.images import SIZES, Picture, read_picture
from orchard.services.photos.storage import move_folder

__all__ = ["SIZES", "Picture", "read_picture", "store"]

logger = logging.getLogger(__name__)

ORIGINAL = "original"
# Of the store: two digits of a name, and the whole name.
SHELF, FOLDER = re.compile("[0-9a-f]{2}"), re.compile("[0-9a-f]{32}")
# Below the store, in shelves and folders like its own: what is not in the book.
ASIDE = "aside"
CLOCK_SLACK = timedelta(hours=26)
Subject = Tree | Inspection | Finding | Closure | Round | Treatment | Product | Harvest


def path_of(name: uuid.UUID, size: str) -> str:
    """Return where a size of a photo lies in the store."""
    ending = "" if size == ORIGINAL else ".jpg"
    return f"{name.hex[:2]}/{name.hex}/{size}{ending}"


def lay_down(pictures: Iterable[Picture]) -> list[tuple[uuid.UUID, Picture]]:
    """Write the files of pictures under random names, all of them or none."""
    laid: list[tuple[uuid.UUID, Picture]] = []
    try:
        for picture in pictures:
            name = uuid.uuid4()
            laid.append((name, picture))
            for size, content in picture.sizes.items():
                default_storage.save(path_of(name, size), ContentFile(content))
            default_storage.save(path_of(name, ORIGINAL), File(picture.original))
    except BaseException:
        take_away(name for name, _picture in laid)
        raise
    return laid


def take_away(names: Iterable[uuid.UUID]) -> None:
    """Remove the files of photos that did not come into the book."""
    for name in names:
        folder = path_of(name, ORIGINAL).rpartition("/")[0]
        for path in (*(path_of(name, size) for size in (*SIZES, ORIGINAL)), folder):
            with suppress(OSError):
                default_storage.delete(path)


def take_away_unentered(names: Iterable[uuid.UUID]) -> None:
    """Remove the files of those photos that the book did not take.

    Call it after the transaction, however that ended: when the answer to a commit is
    lost, nobody knows by the exception what holds, so the book is asked. Where it does
    not answer the files stay, until they are old (`set_aside_abandoned`): one too many
    harms nobody, one too few is a lost photo.
    """
    names = set(names)
    if not names:
        return
    if connection.errors_occurred:
        connection.close_if_unusable_or_obsolete()
    try:
        entered = set(
            Photo.objects.filter(name__in=names).values_list("name", flat=True)
        )
    except DatabaseFault:
        return
    take_away(names - entered)


def set_aside_abandoned(*, before: datetime) -> int:
    """Set aside the files of photos that are not in the book, and count the photos.

    A folder that cannot be moved goes into the log and is tried again the next time.

    A server that dies between files and row leaves such files; so does a backup of the
    database that is older than the photos, so none is removed. `before` spares the
    photos that are on their way into the book.
    """
    # A book without any orchard has yet to be brought back from its backup.
    if not Orchard.objects.exists():
        return 0
    count = 0
    for shelf in _folders(""):
        old = {
            uuid.UUID(folder)
            for folder in _folders(shelf)
            if default_storage.get_modified_time(f"{shelf}/{folder}") < before
        }
        rows = Photo.objects.filter(name__in=old)
        abandoned = old - set(rows.values_list("name", flat=True))
        for name in abandoned:
            folder = f"{shelf}/{name.hex}"
            try:
                move_folder(folder, f"{ASIDE}/{folder}")
            except OSError:
                # One that cannot be moved must not stop the others.
                logger.exception("Photo folder %s could not be set aside", folder)
            else:
                count += 1
    return count


def _folders(path: str) -> list[str]:
    """Name the folders of the store below a path that hold photos."""
    try:
        folders, _files = default_storage.listdir(path)
    except FileNotFoundError:
        # No photo was ever kept.
        return []
    fitting = SHELF if not path else FOLDER
    return [name for name in folders if fitting.fullmatch(name)]


def enter(
    name: uuid.UUID,
    picture: Picture,
    *,
    orchard: Orchard,
    by: User,
    now: datetime,
    tree: Tree | None = None,
    inspection: Inspection | None = None,
    finding: Finding | None = None,
    closure: Closure | None = None,
    round: Round | None = None,
    treatment: Treatment | None = None,
    product: Product | None = None,
    harvest: Harvest | None = None,
    private: bool = False,
) -> Photo:
    """Enter a laid-down picture in the book, inside the caller's transaction.

    The same content is kept once: what the book already holds is linked to what it now
    belongs to as well, and the caller finds its own name unused (`Photo.name`).
    """
    subjects = {
        "tree": tree,
        "inspection": inspection,
        "finding": finding,
        "closure": closure,
        "round": round,
        "treatment": treatment,
        "product": product,
        "harvest": harvest,
    }
    existing = _existing(orchard, picture)
    if existing is not None:
        return _link_existing(existing, subjects, by=by, now=now, private=private)
    taken_at = picture.taken_at(ZoneInfo(orchard.time_zone))
    if taken_at is not None and taken_at > now + CLOCK_SLACK:
        # A camera whose clock was never set tells nothing.
        taken_at = None
    photo = Photo(
        orchard=orchard,
        by=by,
        name=name,
        sha256=picture.sha256,
        file_format=picture.file_format,
        width=picture.width,
        height=picture.height,
        size_bytes=picture.size_bytes,
        taken_at=taken_at,
        received_at=now,
        private=private,
        sharpness=picture.measures.sharpness,
        brightness=picture.measures.brightness,
        likeness=picture.measures.likeness,
    )
    # That its name is new and nobody keeps the same at this moment, the database alone
    # can say.
    photo.full_clean(
        exclude=["orchard", "by"], validate_unique=False, validate_constraints=False
    )
    try:
        with transaction.atomic():
            photo.save(force_insert=True)
    except IntegrityError:
        existing = _existing(orchard, picture)
        if existing is None:
            raise
        return _link_existing(existing, subjects, by=by, now=now, private=private)
    links = link(photo, subjects)
    audit.write(
        Verb.KEEP,
        photo,
        by=by,
        now=now,
        orchard=orchard,
        tree=tree,
        after={**audit.snapshot(photo), **links},
        private=private,
    )
    return photo


def enter_as_proof(
    name: uuid.UUID,
    picture: Picture,
    closures: Sequence[Closure],
    *,
    orchard: Orchard,
    by: User,
    now: datetime,
    private: bool = False,
) -> Photo:
    """Enter a laid-down picture as what proves several closings; else as `enter`.

    Where they are all of one tree it shows that tree, unless it shows one already.
    """
    [first, *others] = closures
    photo = enter(
        name, picture, orchard=orchard, by=by, now=now, closure=first, private=private
    )
    PhotoLink.objects.bulk_create(
        PhotoLink(photo=photo, closure=closure) for closure in others
    )
    links: dict[str, Any] = {"closures": [closure.pk for closure in closures]}
    [tree, *more] = {closure.task.tree for closure in closures}
    if tree is not None and not more and photo.tree is None:
        links |= link(photo, {"tree": tree})
    audit.write(
        Verb.LINK, photo, by=by, now=now, orchard=orchard, after=links, private=private
    )
    return photo


def _existing(orchard: Orchard, picture: Picture) -> Photo | None:
    """Return the photo of the same content that the book holds already."""
    same = Photo.objects.current().filter(orchard=orchard, sha256=picture.sha256)
    existing: Photo | None = same.select_for_update(no_key=True).first()
    return existing


def _link_existing(
    photo: Photo,
    subjects: Mapping[str, Subject | None],
    *,
    by: User,
    now: datetime,
    private: bool,
) -> Photo:
    """Link a photo the book already holds to more; it never shows a second tree."""
    tree = subjects["tree"]
    links = {}
    if photo.tree is None or tree in (None, photo.tree):
        links = link(photo, subjects)
    fields = ("private", "confirmed_sign")
    before = audit.snapshot(photo, *fields)
    photo.private = photo.private or private
    if photo.private:
        photo.confirmed_sign = ""
    after = audit.snapshot(photo, *fields)
    if links or after != before:
        audit.save(
            Verb.LINK,
            photo,
            by=by,
            now=now,
            fields=fields,
            before={**before, **dict.fromkeys(links)},
            after={**after, **links},
        )
    return photo


def link(photo: Photo, subjects: Mapping[str, Subject | None]) -> dict[str, int]:
    """Link a photo to what it is not linked to yet; return the new links by column.

    The caller holds the photo, or has just entered it.
    """
    wanted = {f"{name}_id": row.pk for name, row in subjects.items() if row is not None}
    linked = photo.links.values(*wanted) if wanted else []
    there = {(column, row[column]) for row in linked for column in wanted}
    fresh = {
        column: number
        for column, number in wanted.items()
        if (column, number) not in there
    }
    PhotoLink.objects.bulk_create(
        PhotoLink(photo=photo, **{column: number}) for column, number in fresh.items()
    )
    return fresh


def store(
    file: IO[bytes],
    *,
    orchard: Orchard,
    by: User,
    now: datetime,
    tree: Tree | None = None,
    inspection: Inspection | None = None,
    finding: Finding | None = None,
    closure: Closure | None = None,
    private: bool = False,
) -> Photo:
    """Verify an uploaded file, store it and enter it in the book.

    Call it outside a transaction: the slow work with files must not hold a lock, and
    files cannot be rolled back.

    Raises:
        Refused (bad_picture): the file is not a photo that can be kept.
    """
    [(name, picture)] = lay_down([read_picture(file)])
    try:
        with transaction.atomic():
            photo = enter(
                name,
                picture,
                orchard=orchard,
                by=by,
                now=now,
                tree=tree,
                inspection=inspection,
                finding=finding,
                closure=closure,
                private=private,
            )
    finally:
        take_away_unentered([name])
    return photo


def _locked(photo: Photo) -> Photo:
    rows = Photo.objects.select_for_update(no_key=True).prefetch_related("trees")
    return rows.get(pk=photo.pk)


def check_ours(photo: Photo, member: Membership) -> None:
    """Refuse who may not change a photo, and what was removed.

    Raises:
        MayNot (not_yours), Refused (photo_is_withdrawn): as their names say.
    """
    if photo.withdrawn_at is not None:
        raise Refused(_("This photo was removed."), code="photo_is_withdrawn")
    if photo.by_id != member.user_id and not permissions.may(member, Deed.KEEP_PHOTOS):
        raise MayNot(
            _(
                "Only the person who took the photo, a crew lead or staff can change "
                "it."
            ),
            code="not_yours",
        )


class Description(TypedDict, total=False):
    """What can be said about a photo; what is left out stays as it is."""

    caption: str
    credit: str
    alt_text: str
    view: str
    people: str
    audience: str
    confirmed_sign: str


@transaction.atomic
def describe(
    photo: Photo,
    *,
    member: Membership,
    now: datetime,
    **words: Unpack[Description],
) -> Photo:
    """Write what is said about a photo, and make it our picture of a sign or not.

    Raises:
        MayNot (not_yours): it is another's photo and the member does not keep the
            photos, who alone say who may see it and which shows a sign.
        Refused (photo_is_private): a photo of a private finding cannot be shown as a
            picture.
        Refused (photo_is_withdrawn): it is no longer in the book.
        Refused (unknown_sign): the guide has no such sign.
    """
    photo = _locked(photo)
    check_ours(photo, member)
    new = {key: str(word).strip() for key, word in words.items()}
    changes = {key: word for key, word in new.items() if word != getattr(photo, key)}
    if not changes:
        return photo
    _check_description(photo, changes, member)
    before = audit.snapshot(photo, *changes)
    for key, word in changes.items():
        setattr(photo, key, word)
    return audit.save(
        Verb.DESCRIBE, photo, by=member.user, now=now, fields=changes, before=before
    )


def _check_description(
    photo: Photo, changes: Mapping[str, str], member: Membership
) -> None:
    keeps = permissions.may(member, Deed.KEEP_PHOTOS)
    if "audience" in changes and not keeps:
        raise MayNot(
            _("Only a crew lead or staff can say who may see a photo."),
            code="not_yours",
        )
    sign = changes.get("confirmed_sign")
    if sign is None:
        return
    if not keeps:
        raise MayNot(
            _("Only a crew lead or staff can choose the photo that shows a sign."),
            code="not_yours",
        )
    if sign and photo.private:
        raise Refused(
            _("This photo belongs to a private finding and can't be shown."),
            code="photo_is_private",
        )
    if sign and sign not in guide.load().signs:
        raise Refused(
            _("Choose a sign of the guide."),
            code="unknown_sign",
            field="confirmed_sign",
        )


@transaction.atomic
def withdraw(photo: Photo, *, member: Membership, now: datetime, reason: str) -> Photo:
    """Take a photo out of the book; the row and the reason stay.

    Raises:
        MayNot (not_yours): it is another's photo and the member does not keep the
            photos.
        Refused (photo_is_withdrawn): it was taken out before.
        Refused (reason_missing): no reason is given.
    """
    photo = _locked(photo)
    check_ours(photo, member)
    photo.withdrawn_reason = require_reason(reason)
    photo.withdrawn_at = now
    photo.withdrawn_by = member.user
    photo.confirmed_sign = ""
    return audit.save(
        Verb.WITHDRAW,
        photo,
        by=member.user,
        now=now,
        after={},
        reason=photo.withdrawn_reason,
    )


def current_photos(
    subject: Inspection | Finding | Treatment | Product | Harvest,
) -> list[Photo]:
    """Return the photos of a subject that still stand, oldest first."""
    rows = Photo.objects.current().prefetch_related("findings").order_by("pk")
    many = f"{type(subject)._meta.model_name}s"
    return list(rows.filter(**{many: subject}))


def carry_over(earlier: Treatment | Product, later: Treatment | Product) -> None:
    """Let the photos of a version belong to the one that corrects it as well."""
    name = str(later._meta.model_name)
    for photo in current_photos(earlier):
        link(photo, {name: later})


def work_proven_by(photo: Photo, member: Membership) -> QuerySet[Closure]:
    """Return the closings that stand and have a photo for their evidence."""
    closures = photo.closures.filter(undone_at=None)
    if not permissions.may(member, Deed.SEE_PRIVATE):
        closures = closures.filter(task__private=False)
    return closures.select_related("task__tree").order_by("task__tree__code", "pk")


def confirmed(orchard: Orchard, signs: Iterable[str]) -> dict[str, Photo]:
    """Return the orchard's own confirmed picture of each sign, the newest one."""
    found = (
        Photo.objects.current()
        .in_orchard(orchard)
        .open_to_all()
        .filter(confirmed_sign__in=list(signs))
        .order_by("id")
    )
    return {photo.confirmed_sign: photo for photo in found}
