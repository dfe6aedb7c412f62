"""The settings under test: the program's own, with a known environment.

The database is SQLite, or the one that CLENCHLINE_TEST_DATABASE_URL names.
"""

import os
import tempfile
from pathlib import Path

for _name in [name for name in os.environ if name.startswith("CLENCHLINE_")]:
    if not _name.startswith("CLENCHLINE_TEST_"):
        del os.environ[_name]
os.environ["CLENCHLINE_SECRET_KEY"] = "a key for tests alone"
os.environ["CLENCHLINE_DATA"] = str(Path(tempfile.gettempdir()) / "clenchline-test")
os.environ["CLENCHLINE_DATABASE_URL"] = os.environ.get(
    "CLENCHLINE_TEST_DATABASE_URL", ""
)

from practice.settings import *  # noqa: E402, F403  # after the environment is known

STATIC_ROOT.mkdir(parents=True, exist_ok=True)  # noqa: F405  # from practice.settings

EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}
