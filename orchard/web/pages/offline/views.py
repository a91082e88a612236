"""What a phone keeps for a day without signal: the worker, the manifest, two shells.

None of it knows who asks: the same bytes for everybody, so that a phone may keep them.
"""

from __future__ import annotations

import hashlib
import json
from functools import lru_cache
from typing import Any

from django.conf import settings
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.templatetags.static import static
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.cache import cache_control
from django.views.decorators.http import require_safe

from orchard.web import joined

PAPER = "#fbf8ee"
KEPT = ("img/icon*", "img/leaf-*.svg")


def kept_files() -> list[str]:
    """Return the addresses of all files that pages need when there is no signal."""
    root = joined.SOURCES
    pictures = {
        path.relative_to(root).as_posix()
        for pattern in KEPT
        for path in root.glob(pattern)
    }
    return [static(name) for name in sorted(pictures | set(joined.names(root)))]


def kept_drawings() -> dict[str, Any]:
    """Return where all drawings lie together, and their names by address."""
    names = joined.drawings(joined.SOURCES)
    return {
        "pack": static(joined.DRAWINGS),
        "names": {static(f"img/{name}"): name for name in names},
    }


@lru_cache(maxsize=1)
def version_of(files: tuple[str, ...]) -> str:
    """Return what changes when a file, a shell or the worker itself does."""
    digest = hashlib.sha256("\n".join(files).encode())
    for path in sorted((settings.BASE_DIR / "templates").rglob("*")):
        if path.parent.name == "offline" or path.name in ("base.html", "outside.html"):
            digest.update(path.read_bytes())
    return digest.hexdigest()[:12]


@cache_control(no_cache=True)
@require_safe
def worker(request: HttpRequest) -> HttpResponse:
    files = kept_files()
    files_and_pages = {
        "version": version_of(tuple(files)),
        "files": files,
        "shells": [reverse("outbox"), reverse("offline")],
        "drawings": kept_drawings(),
    }
    # In a script no address may end the line or the element it stands in.
    context = {"settings": json.dumps(files_and_pages).replace("<", "\\u003c")}
    return render(request, "offline/worker.js", context, content_type="text/javascript")


@cache_control(max_age=3600)
@require_safe
def manifest(request: HttpRequest) -> HttpResponse:
    icons = [
        {"src": static(f"img/icon-{side}.png"), "sizes": f"{side}x{side}"}
        for side in (192, 512)
    ]
    return JsonResponse(
        {
            "id": "/",
            "name": _("Orchard record book"),
            "short_name": _("Orchard"),
            "description": _("The record book of a teaching orchard"),
            "start_url": reverse("start"),
            "scope": "/",
            "display": "standalone",
            "background_color": PAPER,
            "theme_color": PAPER,
            "icons": [{**icon, "type": "image/png"} for icon in icons],
        },
        content_type="application/manifest+json",
    )


@cache_control(no_cache=True)
@require_safe
def offline(request: HttpRequest) -> HttpResponse:
    return render(request, "offline/offline.html")


@cache_control(no_cache=True)
@require_safe
def outbox(request: HttpRequest) -> HttpResponse:
    return render(request, "offline/outbox.html")
