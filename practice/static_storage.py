"""Hashed static names, also inside the ES modules that import each other."""

from whitenoise.storage import CompressedManifestStaticFilesStorage


class HashedStatic(CompressedManifestStaticFilesStorage):  # type: ignore[misc]  # untyped
    """WhiteNoise's manifest storage with module imports rewritten.

    Without this flag `import "./stepper.js"` would ask for the unhashed name, which
    a browser may keep for ever.
    """

    support_js_module_import_aggregation = True
