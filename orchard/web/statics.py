"""Hashed static files, with the imports of ES modules rewritten too."""

from __future__ import annotations

from whitenoise.storage import CompressedManifestStaticFilesStorage


class HashedStorage(CompressedManifestStaticFilesStorage):
    support_js_module_import_aggregation = True
