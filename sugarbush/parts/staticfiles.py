"""Static files under names that carry their hash, ES modules included."""

from __future__ import annotations

from whitenoise.storage import CompressedManifestStaticFilesStorage


class HashedModules(CompressedManifestStaticFilesStorage):
    """Relative imports between our modules are rewritten too, so they need no import map."""

    support_js_module_import_aggregation = True
