"""Photos found by what people say: a sign, a cultivar, a tree, words of a caption."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from django.db.models import Exists, Q
from django.db.models.functions import Lower

from orchard.records.models import Finding, Kind, Orchard, PhotoLink, Tree
from orchard.science import guide
from orchard.science.codes import plain_code

MOST_WORDS = 8
SHORTEST = 2


def fitting_words(text: str, orchard: Orchard) -> Q:
    """Return the condition of photos that what was typed fits; all for no words.

    Each word has to fit something of a photo: its caption or description, its tree's
    code or cultivar, or a sign in it by its name or by what people say who cannot name
    it. Or all words together mean the sign, beside those that name tree or cultivar.
    """
    words = [word for word in text.split() if len(word) >= SHORTEST]
    words = [word for word in words if guide.short_words(word)][:MOST_WORDS]
    if not words:
        return Q()
    places = _places(words, orchard)
    each, places_named = Q(), Q()
    for word in words:
        each &= places.get(word, Q()) | _in_text(word) | _of_signs(word)
        places_named &= places.get(word, Q())
    others = " ".join(word for word in words if word not in places)
    if len(others.split()) < 2:
        return each
    return each | places_named & _of_signs(others)


def _places(words: Iterable[str], orchard: Orchard) -> Mapping[str, Q]:
    """Return the condition of each word that is the code of a tree or in a cultivar."""
    codes = {word: plain_code(word).lower() for word in words}
    trees = Tree.objects.in_orchard(orchard).annotate(lower=Lower("code"))
    found = dict(trees.filter(lower__in=set(codes.values())).values_list("lower", "pk"))
    kinds = {
        kind.pk: set(guide.short_words(f"{kind.name} {kind.group} {kind.host}"))
        for kind in Kind.objects.filter(orchard=orchard)
    }
    places = {}
    for word, code in codes.items():
        wanted = set(guide.short_words(word))
        of_kinds = [pk for pk, names in kinds.items() if wanted & names]
        condition = Q()
        if code in found:
            condition |= _of_link(tree=found[code])
        if of_kinds:
            condition |= _of_link(tree__kind__in=of_kinds)
        if condition:
            places[word] = condition
    return places


def _in_text(word: str) -> Q:
    return Q(caption__icontains=word) | Q(alt_text__icontains=word)


def _of_signs(words: str) -> Q:
    signs = [sign.key for sign in guide.find_signs(words, guide.load().signs.values())]
    if not signs:
        return Q(pk__in=[])
    findings = Finding.objects.current().filter(sign__in=signs)
    shown = PhotoLink.objects.of_photo().shows_one_of(findings)
    return Q(shown) | Q(confirmed_sign__in=signs)


def _of_link(**subject: object) -> Q:
    return Q(Exists(PhotoLink.objects.of_photo().filter(**subject)))
