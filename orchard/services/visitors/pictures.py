"""Pictures that anybody may see: asked for anew at each request."""

from __future__ import annotations

from uuid import UUID

from django.db.models import Case, F, IntegerField, Value, When

from orchard.records.models import Photo, Tree
from orchard.services.errors import NotThere

_EVERYBODY = Photo.Audience.PUBLIC.value
# A portrait says what tree it is; a close-up rather what was wrong with it.
_BEST_FIRST = (Photo.View.WHOLE_TREE, Photo.View.BRANCH, Photo.View.CLOSE_UP)


def picture_of(tree: Tree) -> Photo | None:
    """Return the best photo of a tree that everybody may see, or None.

    The whole tree first, then the newest; one without credit or description is none.
    """
    places = [When(view=view, then=place) for place, view in enumerate(_BEST_FIRST)]
    return (
        Photo.objects.free_to_show(_EVERYBODY)
        .filter(trees=tree)
        .exclude(credit="")
        .exclude(alt_text="")
        .order_by(
            Case(*places, default=Value(len(places)), output_field=IntegerField()),
            F("taken_at").desc(nulls_last=True),
            "-pk",
        )
        .first()
    )


def public_photo(name: UUID) -> Photo:
    """Return a photo that everybody may see at this moment.

    Raises:
        NotThere: there is none of this name, or it may not be seen any more.
    """
    photo = Photo.objects.free_to_show(_EVERYBODY).filter(name=name).first()
    if photo is None:
        raise NotThere()
    return photo
