"""Filters that put values in words. They format; they never compute."""

from datetime import date, datetime
from decimal import Decimal
from functools import lru_cache
from zoneinfo import ZoneInfo

from django import template
from django.utils.formats import date_format
from django.utils.html import format_html
from django.utils.safestring import SafeString

from clinic.languages import direction

register = template.Library()


@register.filter
def day(value: date | None) -> str:
    """Return a day as people say it: Mon 3 Nov 2026."""
    return f"{short_day(value)} {value.year}" if value else ""


@register.filter
@lru_cache(maxsize=4096)
def short_day(value: date | None) -> str:
    """Return a day without its year, as in the tables of staff: Mon 3 Nov."""
    return f"{value:%a} {value.day} {value:%b}" if value else ""


@register.filter
def moment(value: datetime | None, zone: str) -> str:
    """Return an instant by the clock of a time zone: 3 Nov 2026 14:05."""
    return date_format(value.astimezone(ZoneInfo(zone)), "j M Y H:i") if value else ""


@register.filter
def percent(value: float | None) -> str:
    """Return a percentage without decimals; in words where there is none.

    >>> percent(78.57), percent(None)
    ('79\\xa0%', 'no figure')
    """
    # A figure just under the whole must not read as the whole, nor a trace as nothing.
    if value is None:
        return "no figure"
    shown = round(value)
    if (shown == 100 and value < 100) or (shown == 0 and value > 0):
        return f"{value:.1f}\N{NO-BREAK SPACE}%"
    return f"{shown}\N{NO-BREAK SPACE}%"


@register.filter
def kilograms(value_g: int | None) -> str:
    """Return grams as kilograms: 500 is '0.5 kg', 0 and None are ''.

    >>> kilograms(1500), kilograms(0)
    ('1.5\\xa0kg', '')
    """
    if not value_g:
        return ""
    return f"{(Decimal(value_g) / 1000).normalize():f}\N{NO-BREAK SPACE}kg"


@register.filter
def dash(value: object) -> object:
    """Return a dash for what is not known; 0 is known."""
    return "–" if value is None or value == "" else value


register.filter("direction", direction)


@register.filter
def written_in(language: str, around: str) -> str:
    """Return the attributes for words in another language than those around them; else nothing.

    >>> written_in("en", "ar"), written_in("ar", "ar")
    (' lang="en" dir="ltr"', '')
    """
    if language in ("", around):
        return ""
    return format_html(' lang="{}" dir="{}"', language, direction(language))


@register.filter
def number_to_ring(telephone: str) -> SafeString:
    """Return a telephone number that stands in its own order in any text.

    >>> number_to_ring("+1 555 0100")
    '<bdi dir="ltr">+1 555 0100</bdi>'
    """
    return format_html('<bdi dir="ltr">{}</bdi>', telephone) if telephone else SafeString("")
