"""Tags: the printed label of a tree, and the token in its QR code."""

from __future__ import annotations

import re
import secrets
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext as _

from orchard.records.models import Orchard, Tag, Tree, User
from orchard.science.codes import plain_code
from orchard.services import audit
from orchard.services.audit import Verb
from orchard.services.errors import Refused
from orchard.services.trees.saving import reason_in

TOKEN_BYTES = 16
MOST_TAGS = 1000


@dataclass(frozen=True, slots=True)
class TagChoice:
    """Which trees get a tag printed: codes first, else blocks, else all."""

    codes: str = ""
    blocks: tuple[str, ...] = ()
    only_without: bool = False


def tag_of(tree: Tree, *, now: datetime, by: User | None = None) -> Tag:
    """Return the tree's valid tag; make one when it has none."""
    tag = Tag.objects.filter(tree=tree, retired_at=None).first()
    return tag or _make(tree, by=by, now=now)


def tags_of(tree: Tree) -> list[Tag]:
    """Return every tag that a tree has or had, the newest first."""
    return list(Tag.objects.filter(tree=tree).order_by("-id"))


def codes_by_token(orchard: Orchard) -> dict[str, str]:
    """Return the code of each standing tree by the token of its valid tag."""
    tags = Tag.objects.filter(
        retired_at=None, tree__orchard=orchard, tree__removed_on=None
    )
    return dict(tags.values_list("token", "tree__code"))


@transaction.atomic
def retag(tree: Tree, *, by: User, now: datetime, reason: str) -> Tag:
    """Retire the tree's tag and make another; the old code is never used again."""
    reason = reason_in(reason)
    retire_tag(tree, by=by, now=now, reason=reason)
    return _make(tree, by=by, now=now, reason=reason)


@transaction.atomic
def retire_tag(tree: Tree, *, by: User, now: datetime, reason: str) -> Tag | None:
    """Retire the tree's valid tag, if it has one; its page then says so."""
    reason = reason_in(reason)[:200]
    tag = Tag.objects.filter(tree=tree, retired_at=None).first()
    if tag is None:
        return None
    tag.retired_at, tag.retired_reason = now, reason
    return audit.save(
        Verb.RETIRE,
        tag,
        by=by,
        now=now,
        fields=("retired_at", "retired_reason"),
        after=audit.snapshot(tag, "retired_at"),
        reason=reason,
    )


def trees_for_tags(orchard: Orchard, choice: TagChoice) -> list[Tree]:
    """Return the standing trees that a choice means, in walking order.

    Raises:
        Refused (nothing_to_print): a code is not known, no tree is left, or too many
            are.
    """
    trees = Tree.objects.filter(orchard=orchard, removed_on=None)
    codes = [code for code in re.split(r"[\s,;]+", choice.codes) if code]
    if codes:
        wanted = {plain_code(code).lower(): code for code in codes}
        found_codes = {
            plain_code(code).lower(): pk
            for pk, code in trees.values_list("pk", "code")
            if plain_code(code).lower() in wanted
        }
        missing = [code for key, code in wanted.items() if key not in found_codes]
        if missing:
            raise Refused(
                _("No standing tree here has the code %(codes)s.")
                % {"codes": ", ".join(missing)},
                code="nothing_to_print",
                field="codes",
            )
        trees = trees.filter(pk__in=found_codes.values())
    elif choice.blocks:
        trees = trees.filter(spot__block__code__in=choice.blocks)
    if choice.only_without:
        with_tag = Tag.objects.filter(retired_at=None, tree__orchard=orchard)
        trees = trees.exclude(pk__in=with_tag.values("tree_id"))
    found = list(
        trees.select_related("kind", "spot__block").in_walking_order()[: MOST_TAGS + 1]
    )
    if not found:
        raise Refused(
            _("No tree matches. Choose another block, or all trees."),
            code="nothing_to_print",
        )
    if len(found) > MOST_TAGS:
        raise Refused(
            _("These are more than 1,000 tags. Print one block at a time."),
            code="nothing_to_print",
        )
    return found


@transaction.atomic
def make_tags(trees: list[Tree], *, by: User, now: datetime) -> dict[int, Tag]:
    """Return the valid tag of each tree by its id, made where there is none yet."""
    tags = {
        tag.tree_id: tag
        for tag in Tag.objects.filter(
            tree__in=[tree.pk for tree in trees], retired_at=None
        )
    }
    fresh = [
        Tag(tree=tree, token=new_token(), made_at=now)
        for tree in trees
        if tree.pk not in tags
    ]
    if fresh:
        Tag.objects.bulk_create(fresh, batch_size=500)
        orchard = trees[0].orchard
        audit.write_many(
            Verb.MAKE,
            [(tag, tag.tree, None) for tag in fresh],
            by=by,
            now=now,
            orchard=orchard,
        )
    return tags | {tag.tree_id: tag for tag in fresh}


def new_token() -> str:
    """Return 128 random bits in a form that fits an address."""
    return secrets.token_urlsafe(TOKEN_BYTES)


def _make(tree: Tree, *, by: User | None, now: datetime, reason: str = "") -> Tag:
    if not tree.is_standing:
        raise Refused(
            _("%(code)s was removed. A removed tree gets no new tag.")
            % {"code": tree.code},
            code="no_tag",
        )
    tag = Tag(tree=tree, token=new_token(), made_at=now)
    return audit.save(Verb.MAKE, tag, by=by, now=now, after={}, reason=reason)
