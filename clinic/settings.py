"""Django's settings, from a few environment variables (README, "Settings").

Everything that a clinic chooses at run time (its name, its telephone, its limits) is in the
database instead: `clinic.models.ClinicProfile`.
"""

import os
import secrets
from datetime import timedelta
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import dj_database_url
from django.utils.csp import CSP

from clinic.languages import CHOICES

BASE_DIR = Path(__file__).resolve().parent.parent
DATA_DIR = Path(os.environ.get("HANDRAIL_DATA_DIR", BASE_DIR / ".data"))
PUBLIC_ADDRESS = os.environ.get("HANDRAIL_PUBLIC_ADDRESS", "http://localhost:8000").rstrip("/")
BEHIND_PROXY = os.environ.get("HANDRAIL_BEHIND_PROXY") == "1"


def _secret_key() -> str:
    """The key from the environment, or one made once and kept beside the data."""
    if key := os.environ.get("HANDRAIL_SECRET_KEY"):
        return key
    path = DATA_DIR / "secret_key"
    if not path.exists():
        DATA_DIR.mkdir(parents=True, exist_ok=True)
        try:
            with os.fdopen(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600), "w") as file:
                file.write(secrets.token_urlsafe(64))
        except FileExistsError:  # another process was first: its key is the key
            pass
    return path.read_text()


def _database() -> dict[str, Any]:
    """PostgreSQL or another SQLite file by DATABASE_URL, else one file in the data folder."""
    url = os.environ.get("DATABASE_URL") or f"sqlite:///{DATA_DIR / 'handrail.sqlite3'}"
    database: dict[str, Any] = dict(dj_database_url.parse(url))
    if database["ENGINE"] == "django.db.backends.sqlite3":
        database["OPTIONS"] = {
            # An immediate transaction waits for its turn; a deferred one fails when it writes.
            "transaction_mode": "IMMEDIATE",
            "timeout": 20,
            # FULL: what was answered as stored survives a power cut. 16 MB of pages: a patient's
            # entries lie scattered over the indexes of a large clinic, which outgrow the usual 2.
            "init_command": "PRAGMA journal_mode=WAL;PRAGMA synchronous=FULL;"
            "PRAGMA cache_size=-16384;",
        }
    else:
        database["CONN_HEALTH_CHECKS"] = True
        database["CONN_MAX_AGE"] = 60
    return database


_address = urlsplit(PUBLIC_ADDRESS)
HTTPS = _address.scheme == "https"

DEBUG = False
SECRET_KEY = _secret_key()
ALLOWED_HOSTS = sorted({_address.hostname or "localhost", "localhost", "127.0.0.1"})
CSRF_TRUSTED_ORIGINS = [PUBLIC_ADDRESS]
ROOT_URLCONF = "clinic.urls"
WSGI_APPLICATION = "clinic.wsgi.application"
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

INSTALLED_APPS = [
    "django.contrib.contenttypes",
    "django.contrib.auth",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "axes",
    "django_htmx",
    "clinic",
    "patients",
    "plans",
    "logs",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "django.middleware.gzip.GZipMiddleware",  # pads at random, so that lengths tell no secret
    # Above WhiteNoise, which answers for static files and would leave them without the header.
    "django.middleware.csp.ContentSecurityPolicyMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "clinic.sessions.TimeoutMiddleware",
    # Staff pages are closed unless a view says otherwise.
    "django.contrib.auth.middleware.LoginRequiredMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "clinic.http.CacheHeadersMiddleware",
    "axes.middleware.AxesMiddleware",
]

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "clinic.context.clinic",
            ],
            "builtins": ["clinic.templatetags.words"],
        },
    },
]

DATABASES = {"default": _database()}

# Who signs in
AUTH_USER_MODEL = "clinic.User"
AUTHENTICATION_BACKENDS = [
    "axes.backends.AxesStandaloneBackend",
    "django.contrib.auth.backends.ModelBackend",
]
PASSWORD_HASHERS = [
    "clinic.hashers.ClinicArgon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
AUTH_PASSWORD_VALIDATORS = [
    {
        "NAME": "django.contrib.auth.password_validation.MinimumLengthValidator",
        "OPTIONS": {"min_length": 12},
    },
    {
        "NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator",
        "OPTIONS": {"user_attributes": ("username", "name")},
    },
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
LOGIN_URL = "sign_in"
LOGIN_REDIRECT_URL = "home"
LOGOUT_REDIRECT_URL = "sign_in"

# Name and address together: one person's mistakes never lock out all behind one address.
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
AXES_FAILURE_LIMIT = 8
AXES_COOLOFF_TIME = timedelta(minutes=15)
AXES_RESET_ON_SUCCESS = True
AXES_LOCKOUT_TEMPLATE = "clinic/locked_out.html"
AXES_ALLOWED_CORS_ORIGINS = PUBLIC_ADDRESS
AXES_DISABLE_ACCESS_LOG = True
AXES_VERBOSE = False

# Sessions: rows of our own, ended after rest and after a working day
SESSION_ENGINE = "clinic.sessions"
SESSION_COOKIE_AGE = 10 * 60 * 60
SESSION_IDLE_S = 30 * 60
SESSION_COOKIE_NAME = "__Host-staff" if HTTPS else "staff"
SESSION_COOKIE_SECURE = HTTPS
SESSION_COOKIE_SAMESITE = "Lax"
CSRF_COOKIE_NAME = "__Host-csrf" if HTTPS else "csrf"
CSRF_COOKIE_SECURE = HTTPS
CSRF_COOKIE_HTTPONLY = True
CSRF_FAILURE_VIEW = "clinic.views.csrf_failure"
MESSAGE_STORAGE = "django.contrib.messages.storage.session.SessionStorage"
LANGUAGE_COOKIE_SECURE = HTTPS

SECURE_SSL_REDIRECT = HTTPS
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if BEHIND_PROXY else None
SECURE_HSTS_SECONDS = 31_536_000 if HTTPS else 0
SECURE_HSTS_INCLUDE_SUBDOMAINS = HTTPS
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
SECURE_CSP = {
    "default-src": [CSP.NONE],
    "script-src": [CSP.SELF],
    "style-src": [CSP.SELF],
    "img-src": [CSP.SELF, "data:"],
    "font-src": [CSP.SELF],
    "connect-src": [CSP.SELF],
    "worker-src": [CSP.SELF],
    "manifest-src": [CSP.SELF],
    "object-src": [CSP.NONE],
    "base-uri": [CSP.NONE],
    "form-action": [CSP.SELF],
    "frame-ancestors": [CSP.NONE],
}

# Words, numbers and days
LANGUAGE_CODE = "en-gb"
LANGUAGES = CHOICES
USE_I18N = True
USE_TZ = True
TIME_ZONE = "UTC"

WHITENOISE_ALLOW_ALL_ORIGINS = False
STATIC_URL = "/static/"
STATIC_ROOT = DATA_DIR / "static"
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"},
}

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"line": {"format": "%(asctime)s %(levelname)s %(name)s %(message)s"}},
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "line"}},
    "root": {"handlers": ["console"], "level": "INFO"},
    "loggers": {"django.request": {"level": "ERROR"}, "axes": {"level": "ERROR"}},
}
