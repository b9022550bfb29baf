"""The deployment checks: silent on our settings, and loud when one of them is spoilt."""

import sqlite3

import pytest
from django.core.checks import Tags, run_checks
from django.test import override_settings

import clinic.settings
from clinic import checks

SHIPPED = {
    "PASSWORD_HASHERS": clinic.settings.PASSWORD_HASHERS,
    "HTTPS": True,
    "SESSION_COOKIE_NAME": "__Host-staff",
    "CSRF_COOKIE_NAME": "__Host-csrf",
}


def found(**spoilt):
    with override_settings(**(SHIPPED | spoilt)):
        messages = run_checks(tags=[Tags.security], include_deployment_checks=True)
    return {m.id for m in messages if m.id.startswith("clinic.")} - {"clinic.W005"}


def test_nothing_is_found_in_the_settings_as_shipped():
    assert found() == set()


@pytest.mark.parametrize(
    ("spoilt", "expected"),
    [
        ({"SECURE_CSP": {}}, "clinic.W001"),
        (
            {"MIDDLEWARE": [m for m in clinic.settings.MIDDLEWARE if m != checks.CSP_MIDDLEWARE]},
            "clinic.W001",
        ),
        (
            {
                "MIDDLEWARE": [
                    *[m for m in clinic.settings.MIDDLEWARE if m != checks.CSP_MIDDLEWARE],
                    checks.CSP_MIDDLEWARE,
                ]
            },
            "clinic.W001",
        ),
        ({"SECURE_CSP": {"default-src": ["'self'", "'unsafe-inline'"]}}, "clinic.W001"),
        ({"SECURE_CSP": {"img-src": ["'self'"]}}, "clinic.W001"),
        ({"PASSWORD_HASHERS": clinic.settings.PASSWORD_HASHERS[::-1]}, "clinic.W002"),
        ({"AUTH_PASSWORD_VALIDATORS": []}, "clinic.W003"),
        (
            {"AUTH_PASSWORD_VALIDATORS": clinic.settings.AUTH_PASSWORD_VALIDATORS[1:]},
            "clinic.W003",
        ),
        ({"SESSION_COOKIE_NAME": "staff"}, "clinic.W004"),
        ({"CSRF_COOKIE_NAME": "csrf"}, "clinic.W004"),
    ],
)
def test_each_spoilt_setting_is_found(spoilt, expected):
    assert found(**spoilt) == {expected}


def test_plain_cookie_names_are_right_without_https():
    assert found(HTTPS=False, SESSION_COOKIE_NAME="staff", CSRF_COOKIE_NAME="csrf") == set()


@pytest.mark.parametrize(
    ("version", "warned"),
    [
        ((3, 6, 23), False),
        ((3, 7, 0), True),
        ((3, 40, 1), True),
        ((3, 51, 2), True),
        ((3, 51, 3), False),
        ((3, 54, 1), False),
    ],
)
def test_the_sqlite_versions_with_the_bug_are_named(monkeypatch, version, warned):
    monkeypatch.setattr(sqlite3, "sqlite_version_info", version)
    monkeypatch.setattr(checks.connection, "vendor", "sqlite")
    assert bool(checks.check_sqlite_version()) is warned


def test_postgresql_is_not_warned_of_sqlite(monkeypatch):
    monkeypatch.setattr(checks.connection, "vendor", "postgresql")
    assert checks.check_sqlite_version() == []
