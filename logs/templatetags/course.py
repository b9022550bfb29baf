"""The tag by which a patient's first page shows the course so far."""

from datetime import date, timedelta
from typing import NamedTuple

from django import template
from django.utils.safestring import SafeString, mark_safe

from logs.chart import svg
from logs.course import WEEKS, begun, course_chart
from logs.figure_queries import figures_of
from logs.figures import Week
from patients.models import Patient

register = template.Library()


class Course(NamedTuple):
    """The chart and its table, the latest week first."""

    chart: SafeString
    weeks: tuple[Week, ...]


@register.simple_tag
def course(patient: Patient, today: date) -> Course | None:
    """Return a patient's latest weeks, None while nothing was due or told (five queries).

    Two queries more where a day was held in part.
    """
    monday = today - timedelta(days=today.weekday() + 7 * (WEEKS - 1))
    figures = figures_of({patient.pk: today}, (today - monday).days + 1, of=patient.pk)
    weeks = begun(figures.weeks(patient.pk))
    if not weeks:
        return None
    title = "Sessions and worst pain by week; a table stands below"
    chart = mark_safe(svg(course_chart(weeks), title))  # noqa: S308 (its writer escapes all text)
    return Course(chart, tuple(reversed(weeks)))
