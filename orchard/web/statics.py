"""Hashed static files, with the imports of our ES modules rewritten too."""

from __future__ import annotations

from django.contrib.staticfiles.storage import HashedFilesMixin
from whitenoise.storage import CompressedManifestStaticFilesStorage


class HashedStorage(CompressedManifestStaticFilesStorage):
    support_js_module_import_aggregation = True
    # Only our own scripts: a packaged one that mentions an import in a comment would
    # otherwise stop the whole collection.
    _js_module_import_aggregation_patterns = (
        "js/*.js",
        # The stubs do not know this attribute of Django.
        HashedFilesMixin._js_module_import_aggregation_patterns[1],  # type: ignore[attr-defined]
    )
