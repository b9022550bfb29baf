"""The request that our views take, and answers for one page and its fragments."""

from collections.abc import Callable, Mapping
from datetime import date
from typing import cast
from zoneinfo import ZoneInfo

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.cache import add_never_cache_headers, patch_vary_headers
from django_htmx.middleware import HtmxDetails

from clinic.models import User


class StaffRequest(HttpRequest):
    """A signed-in staff request, with htmx's details."""

    htmx: HtmxDetails
    user: User  # closed pages have one: LoginRequiredMiddleware


def render_page(
    request: HttpRequest,
    template: str,
    context: Mapping[str, object],
    *,
    fragment: str | None = None,
    status: int = 200,
) -> HttpResponse:
    """Render the page, or only its named fragment when htmx asks for one.

    Going back in the history asks with htmx's header too but needs the whole page.
    """
    htmx = cast(StaffRequest, request).htmx
    if fragment and htmx and not htmx.history_restore_request:
        template = f"{template}#{fragment}"
    response = render(request, template, dict(context), status=status)
    patch_vary_headers(response, ("HX-Request", "HX-History-Restore-Request"))
    return response


def today_in(zone: str) -> date:
    """Return the present local day in a time zone: the one clock that views read."""
    return timezone.now().astimezone(ZoneInfo(zone)).date()


class CacheHeadersMiddleware:
    """Pages about people are kept by no cache; static files are answered before this."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        if not response.has_header("Cache-Control"):
            add_never_cache_headers(response)
        return response
