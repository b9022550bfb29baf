"""Deployment checks of our own: what Django's `check --deploy` doesn't look at.

Run by `manage.py check --deploy`, and by `manage.py serve` where the public address is https.
"""

import sqlite3
from collections.abc import Mapping, Sequence
from typing import Any

from django.conf import settings
from django.core.checks import CheckMessage, Tags, Warning, register
from django.db import connection
from django.db.migrations.executor import MigrationExecutor

CSP_MIDDLEWARE = "django.middleware.csp.ContentSecurityPolicyMiddleware"
SHORTEST_PASSWORD = 12
WAL_RESET_BUG = ((3, 7, 0), (3, 51, 2))
"""First and last SQLite version with the WAL-reset bug (sqlite.org/wal.html#walresetbug)."""


@register(Tags.security, deploy=True)
def check_content_security_policy(**kwargs: Any) -> list[CheckMessage]:
    """Warn unless pages and static files carry a policy that runs only our own scripts."""
    middleware: Sequence[str] = settings.MIDDLEWARE
    policy: Mapping[str, Any] = settings.SECURE_CSP
    scripts = policy.get("script-src", policy.get("default-src", ("*",)))
    whitenoise = "whitenoise.middleware.WhiteNoiseMiddleware"
    if CSP_MIDDLEWARE not in middleware or not policy:
        problem = "Pages are sent without a Content-Security-Policy."
    elif not set(scripts) <= {"'self'", "'none'"}:
        problem = "The Content-Security-Policy lets scripts run that aren't files of our own."
    elif whitenoise in middleware and middleware.index(whitenoise) < middleware.index(
        CSP_MIDDLEWARE
    ):
        problem = "Static files are sent without a Content-Security-Policy."
    else:
        return []
    hint = f"Put {CSP_MIDDLEWARE} above WhiteNoise in MIDDLEWARE, and only 'self' in script-src."
    return [Warning(problem, hint=hint, id="clinic.W001")]


@register(Tags.security, deploy=True)
def check_password_hasher(**kwargs: Any) -> list[CheckMessage]:
    """Warn unless new passwords are kept with Argon2."""
    from django.contrib.auth.hashers import get_hasher

    if get_hasher("default").algorithm == "argon2":
        return []
    hint = "Put clinic.hashers.ClinicArgon2PasswordHasher first in PASSWORD_HASHERS."
    return [Warning("New passwords aren't kept with Argon2.", hint=hint, id="clinic.W002")]


@register(Tags.security, deploy=True)
def check_password_validators(**kwargs: Any) -> list[CheckMessage]:
    """Warn unless short and common passwords are refused."""
    validators: Sequence[Any] = settings.AUTH_PASSWORD_VALIDATORS
    lengths = [
        validator.get("OPTIONS", {}).get("min_length", 8)
        for validator in validators
        if validator["NAME"].endswith(".MinimumLengthValidator")
    ]
    names = [validator["NAME"] for validator in validators]
    if any(length >= SHORTEST_PASSWORD for length in lengths) and any(
        name.endswith(".CommonPasswordValidator") for name in names
    ):
        return []
    return [
        Warning(
            f"Passwords under {SHORTEST_PASSWORD} characters, or common ones, are accepted.",
            hint="Keep MinimumLengthValidator and CommonPasswordValidator in "
            "AUTH_PASSWORD_VALIDATORS.",
            id="clinic.W003",
        )
    ]


@register(Tags.security, deploy=True)
def check_cookie_names(**kwargs: Any) -> list[CheckMessage]:
    """Warn unless, on https, browsers keep our cookies to this one host (RFC 6265bis)."""
    if not settings.HTTPS:
        return []
    loose = [
        name
        for name in (settings.SESSION_COOKIE_NAME, settings.CSRF_COOKIE_NAME)
        if not name.startswith("__Host-")
    ]
    if not loose:
        return []
    problem = f"On https these cookies lack the prefix __Host-: {', '.join(loose)}."
    hint = "Leave SESSION_COOKIE_NAME and CSRF_COOKIE_NAME to the public address."
    return [Warning(problem, hint=hint, id="clinic.W004")]


@register(Tags.security, deploy=True)
def check_sqlite_version(**kwargs: Any) -> list[CheckMessage]:
    """Warn where the SQLite in use can damage its file when two connections write at once."""
    first, last = WAL_RESET_BUG
    if connection.vendor != "sqlite" or not first <= sqlite3.sqlite_version_info <= last:
        return []
    return [
        Warning(
            f"SQLite {sqlite3.sqlite_version} has the WAL-reset bug: two processes that write at "
            "the same moment can, rarely, damage the database.",
            hint="Use a Python with SQLite 3.51.3 or later, or PostgreSQL; until then serve with "
            "one worker, run no writing command beside it, and keep backups.",
            id="clinic.W005",
        )
    ]


def missing_migrations() -> int:
    """Return how many migrations of this version the database has not had yet."""
    executor = MigrationExecutor(connection)
    return len(executor.migration_plan(executor.loader.graph.leaf_nodes()))
