"""What a browser is served: every file hashed, every reference to it as well."""

from __future__ import annotations

import gzip
import re
import shutil
import subprocess

import pytest
from django.conf import settings
from django.core.management import call_command
from django.templatetags.static import static
from django.test import override_settings

from orchard.web import joined


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
    main, later = served(collected, "js/main.js"), r'import\("\./([^"]+)"\)'
    names = [
        *re.findall(later, main),
        *re.findall(r'from "\./([^"]+)"', served(collected, "js/round.js")),
    ]
    assert len(names) >= 2
    for name in names:
        assert re.fullmatch(r"[\w/-]+\.[0-9a-f]{12}\.js", name), name
        assert (collected / "js" / name).exists()


def test_what_every_page_loads_besides_itself_leaves_room_for_the_page(collected):
    """A form page may weigh 40 kB compressed; this much is used before it begins."""
    names = ("css/main.css", "js/main.js", "js/swapping.js")
    size = sum(len(gzip.compress(served(collected, name).encode())) for name in names)
    htmx = next((collected / "django_htmx").glob("htmx-2.min.*.js"))
    size += len(gzip.compress(htmx.read_bytes()))
    assert 15_000 < size < 30_000, size


class TestJoining:
    """Few files out of many, by small sources with one feature each."""

    @pytest.fixture
    def write(self, tmp_path):
        def write(**texts):
            for name, text in texts.items():
                kind = "css" if text.startswith(("@", "a", "/*")) else "js"
                path = tmp_path / kind / f"{name.replace('__', '/')}.{kind}"
                path.parent.mkdir(parents=True, exist_ok=True)
                path.write_text(text)
            return tmp_path

        return write

    def test_a_sheet_holds_what_it_imports_in_its_layer(self, write):
        root = write(
            main='@import "./parts/one.css" layer(parts);\n@import "./two.css";\n',
            parts__one="a { color: red }\n",
            two="/* Why. */\na { color: blue }\n",
        )
        assert joined.joined_styles(root) == {
            "css/main.css": "@layer parts {\na { color: red }\n}\na { color: blue }\n"
        }

    @pytest.mark.parametrize(
        "text", ['@import url("two.css");\n', "a { background: url(x.png) }\n"]
    )
    def test_a_sheet_that_would_lose_an_address_is_refused(self, write, text):
        with pytest.raises(joined.JoiningFailed, match="css/main.css"):
            joined.joined_styles(write(main=text))

    @pytest.mark.parametrize(
        "line",
        [
            "export default 3;",
            "export let count = 0;",
            'import * as dom from "./dom.js";',
            'import "./dom.js";',
            'export { one } from "./dom.js";',
        ],
    )
    def test_a_script_of_another_form_is_refused_with_its_line(self, write, line):
        root = write(main=f"let one = 1;\n{line}\n", dom="let two = 2;\n")
        with pytest.raises(joined.JoiningFailed) as refused:
            joined.joined_scripts(root)
        assert line in str(refused.value)

    def test_a_circle_and_a_missing_module_are_named(self, write):
        root = write(
            main='import { one } from "./one.js";\n',
            one='import { two } from "./two.js";\nexport const one = 1;\n',
            two='import { one } from "./one.js";\nexport const two = 2;\n',
        )
        with pytest.raises(joined.JoiningFailed, match="circle"):
            joined.joined_scripts(root)
        (root / "js" / "two.js").unlink()
        with pytest.raises(joined.JoiningFailed, match=r"js/one.js.*js/two.js"):
            joined.joined_scripts(root)

    def test_every_module_runs_once_whatever_needs_it(self, write):
        """Node runs the joined files and the sources: both must say the same."""
        if shutil.which("node") is None:
            pytest.skip("Node is not installed.")
        root = write(
            main='import { note } from "./notes.js";\nnote("main");\n',
            notes="export const notes = [];\n"
            "// Not this line.\nexport function note(text) {\n  notes.push(text);\n}\n",
            deep__later='import { note as write } from "../notes.js";\n'
            'import { only } from "./only.js";\nwrite("later");\n'
            "export const seen = await Promise.resolve(only);\n",
            deep__only='import { note } from "../notes.js";\nnote("only");\n'
            "export class Only {}\nexport const only = new Only().constructor.name;\n",
            page='import { note, notes } from "./notes.js";\n'
            'const { seen } = await import("./deep/later.js");\nnote(seen);\n'
            "process.stdout.write(JSON.stringify(notes));\n",
        )
        files = joined.joined_scripts(root)
        assert set(files) == {
            f"js/{name}.js" for name in ("common", "deep/later", "main", "page")
        }
        assert not any("Not this line" in text for text in files.values())
        folder = root / "joined"
        for name, text in files.items():
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            (folder / name).write_text(text)
        heard = []
        for place in (root, folder):
            (place / "package.json").write_text('{"type": "module"}')
            command = ["node", str(place / "js" / "page.js")]
            heard.append(subprocess.run(command, capture_output=True, text=True))
        assert [one.stdout for one in heard] == [
            '["only","later","Only"]',
            '["only","later","Only"]',
        ], heard


@pytest.mark.django_db
def test_the_sheets_of_a_page_are_named_ahead_of_it(as_vera):
    answer = as_vera.get("/alderbrook/")
    sheets = re.findall(r'<link rel="stylesheet" href="([^"]+)"', answer.text)
    assert len(sheets) == 2
    assert answer["Link"] == ", ".join(
        f"<{sheet}>; rel=preload; as=style" for sheet in sheets
    )
    assert "Link" not in as_vera.get("/worker.js")
