"""What a browser is served: every file hashed, every reference to it as well."""

from __future__ import annotations

import gzip
import re

import pytest
from django.conf import settings
from django.core.management import call_command
from django.templatetags.static import static
from django.test import override_settings

# What comes behind a page, or with the form alone.
OUTSIDE_THE_PAGE = (
    "css/pages/outlook.",
    "css/pages/rounds.",
    "js/inspections/",
    "js/outbox/",
    "js/dom.",
    "js/photo.",
    "js/round.",
    "js/tilt.",
    "js/walk.",
    "js/words.",
)


@pytest.fixture(scope="module")
def collected(tmp_path_factory):
    folder = tmp_path_factory.mktemp("static")
    storages = {
        **settings.STORAGES,
        "staticfiles": {"BACKEND": "orchard.web.statics.HashedStorage"},
    }
    with override_settings(STATIC_ROOT=folder, STORAGES=storages, DEBUG=False):
        call_command("collectstatic", interactive=False, verbosity=0)
        yield folder


def served(folder, name) -> str:
    return (folder / static(name).removeprefix(settings.STATIC_URL)).read_text()


def test_scripts_import_each_other_by_their_hashed_names(collected):
    main = served(collected, "js/main.js")
    names = re.findall(r'from "\./([^"]+)"', main)
    assert len(names) >= 3
    for name in names:
        assert re.fullmatch(r"[\w/-]+\.[0-9a-f]{12}\.js", name), name
        assert (collected / "js" / name).exists()


def test_styles_import_each_other_by_their_hashed_names_and_keep_their_layer(
    collected,
):
    main = served(collected, "css/main.css")
    rows = re.findall(r'@import (?:url\()?"([^"]+)"\)? layer\(\w+\);', main)
    assert len(rows) == main.count("@import") > 8
    for name in rows:
        assert re.search(r"\.[0-9a-f]{12}\.css$", name), name
        assert (collected / "css" / name).resolve().exists()


def test_what_every_page_loads_besides_itself_leaves_room_for_the_page(collected):
    """A form page may weigh 40 kB compressed; this much is used before it begins."""
    files = [
        path
        for path in [
            *(collected / "css").rglob("*.css"),
            *(collected / "js").rglob("*.js"),
            *(collected / "django_htmx").glob("htmx-2.min.*.js"),
        ]
        if re.search(r"\.[0-9a-f]{12}\.(css|js)$", path.name)
        and not any(part in path.as_posix() for part in OUTSIDE_THE_PAGE)
    ]
    assert any("htmx-2.min" in path.name for path in files)
    size = sum(len(gzip.compress(path.read_bytes())) for path in files)
    assert 15_000 < size < 34_000, size
