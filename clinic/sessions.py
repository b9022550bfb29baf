"""Staff sessions: rows that name their user, ended after rest and after a working day.

Named by SESSION_ENGINE, so `SessionStore` keeps Django's name.
"""

import time
from collections.abc import Callable
from typing import Any

from django.conf import settings
from django.contrib.auth import SESSION_KEY, logout
from django.contrib.sessions.backends.db import SessionStore as DatabaseSessionStore
from django.http import HttpRequest, HttpResponse

SIGNED_IN_AT = "signed_in_at_s"
SEEN_AT = "seen_at_s"
SEEN_STEP_S = 60  # one write a minute is enough to tell rest from work


class SessionStore(DatabaseSessionStore):
    """Keeps each session with the user it belongs to, so that a user's sessions can be ended."""

    @classmethod
    def get_model_class(cls) -> Any:
        """Return our session model (imported late: models need the app registry)."""
        from clinic.models import Session

        return Session

    def create_model_instance(self, data: dict[str, Any]) -> Any:
        """Return an unsaved row, its user copied from the data."""
        row: Any = super().create_model_instance(data)
        row.user_id = int(data[SESSION_KEY]) if SESSION_KEY in data else None
        return row


class TimeoutMiddleware:
    """Signs out after SESSION_IDLE_S without a request, or SESSION_COOKIE_AGE after sign-in."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        session = request.session
        if SESSION_KEY in session:
            now_s = int(time.time())
            signed_in_s = session.setdefault(SIGNED_IN_AT, now_s)
            seen_s = session.setdefault(SEEN_AT, now_s)
            rested = now_s - seen_s > settings.SESSION_IDLE_S
            if rested or now_s - signed_in_s > settings.SESSION_COOKIE_AGE:
                logout(request)
            elif now_s - seen_s >= SEEN_STEP_S:
                session[SEEN_AT] = now_s
        return self.get_response(request)
