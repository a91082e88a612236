"""A talk as one file that plays it full screen from a disk, with no network.

Its script and its style stand inside it, for a file beside it would be lost on the way.
They are the files `static/js/talks/player.js` and `static/css/pages/player.css`, put in
here and nowhere in a template. The file brings a policy of its own that lets nothing
run, load or be sent but those two, named by their hashes, and pictures that stand in
it. Opened from the site itself it would not run: there the site's own policy holds.

References
----------
W3C, Content Security Policy Level 3: the meta element, hashes (from memory).
"""

from __future__ import annotations

from base64 import b64encode
from hashlib import sha256
from pathlib import Path

from django.contrib.staticfiles import finders
from django.template.loader import render_to_string
from django.utils.html import format_html
from django.utils.safestring import mark_safe
from django.utils.translation import get_language

from orchard.services import talks
from orchard.services.talks import SlidePlace, Talk, TalkSlide

SCRIPT, STYLE = "js/talks/player.js", "css/pages/player.css"
POLICY = (
    "default-src 'none'; img-src data:; style-src 'sha256-{style}'; "
    "script-src 'sha256-{script}'; base-uri 'none'; form-action 'none'"
)
PAGE = """\
<!doctype html>
<html lang="{language}">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="{policy}">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{title}</title>
<style>{style}</style>
</head>
<body>
{slides}
<script type="module">{script}</script>
</body>
</html>
"""


def player_of(talk: Talk) -> str:
    """Return a page that plays a talk, whole in itself."""
    script, style = _file(SCRIPT), _file(STYLE)
    slides = render_to_string(
        "talks/player.html",
        {"slides": [_shown(each) for each in talk.slides], "talk": talk},
    )
    return format_html(
        PAGE,
        language=get_language(),
        policy=POLICY.format(style=_hash(style), script=_hash(script)),
        title=talk.talk_set.title,
        # Files of our own, and what a template has written.
        style=mark_safe(style),  # noqa: S308
        slides=mark_safe(slides),  # noqa: S308
        script=mark_safe(script),  # noqa: S308
    )


def _file(name: str) -> str:
    path = finders.find(name)
    assert isinstance(path, str), name
    return Path(path).read_text(encoding="utf-8")


def _hash(text: str) -> str:
    return b64encode(sha256(text.encode()).digest()).decode()


def _shown(slide: TalkSlide) -> dict[str, object]:
    size = "large" if len(slide.shown) < 3 else "middle"
    return {
        "position": slide.position,
        "kind": slide.kind.value,
        "title": slide.title,
        "text": slide.text,
        "note": slide.note,
        "pictures": [(place, _inside(place, size)) for place in slide.shown],
    }


def _inside(place: SlidePlace, size: str) -> str:
    """Return a photo as an address that holds the photo itself."""
    assert place.photo is not None
    file = b64encode(talks.content(place.photo, size)).decode()
    return f"data:image/jpeg;base64,{file}"
