"""The product's settings with what makes tests fast and apart from real data."""

import os
import tempfile
from pathlib import Path

# Before the product's settings look at them.
os.environ.setdefault("HANDRAIL_DATA_DIR", tempfile.mkdtemp(prefix="handrail-tests-"))
os.environ.setdefault("HANDRAIL_SECRET_KEY", "only-for-tests-" + "0" * 50)

from clinic.settings import *  # noqa: F403
from clinic.settings import DATA_DIR, DATABASES, MIDDLEWARE
from tests.slow import SLOW_S

PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}
WHITENOISE_USE_FINDERS = True
WHITENOISE_AUTOREFRESH = True
Path(DATA_DIR, "static").mkdir(parents=True, exist_ok=True)
ALLOWED_HOSTS = ["*"]
if SLOW_S:
    MIDDLEWARE = ["tests.slow.slow_line", *MIDDLEWARE]

if DATABASES["default"]["ENGINE"] == "django.db.backends.sqlite3":
    # A file, not memory: the browser tests' server reads from other threads.
    DATABASES["default"]["TEST"] = {"NAME": str(Path(DATA_DIR, "tests.sqlite3"))}
    DATABASES["default"]["OPTIONS"]["init_command"] = (
        "PRAGMA journal_mode=WAL;PRAGMA synchronous=OFF;"
    )
