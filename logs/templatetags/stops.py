"""Tags by which pages of other apps show what stands of stop signs."""

from django import template
from django.utils import timezone

from clinic.models import User
from logs.review_queries import clinic_limits
from logs.stop_page import OpenShown, StopShown, open_shown, stops_shown
from logs.stop_queries import open_stops, stops_of
from patients.models import Patient

register = template.Library()


@register.simple_tag
def standing_stop_signs(patient: Patient) -> tuple[StopShown, ...]:
    """Return a patient's reports that wait, or hold on after an answer (one query)."""
    return stops_shown(stop for stop in stops_of(patient) if stop.is_standing)


@register.simple_tag
def unanswered_stop_signs(user: User) -> tuple[OpenShown, ...]:
    """Return the unanswered reports of a person's patients, most urgent first (one query)."""
    return open_shown(open_stops(user), now=timezone.now(), limits=clinic_limits())
