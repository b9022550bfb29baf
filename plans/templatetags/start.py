"""Asks, for a template, where an exercise may start."""

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

from django import template
from django.urls import reverse
from django.utils.http import urlencode

from patients.motions import Effort, Joint, Side
from plans.catalogue import Exercise
from plans.start import Proposal
from plans.start_queries import Known

register = template.Library()


class Doubt(NamedTuple):
    """What the assessment has against a step, and the joints to assess to settle it."""

    why: str
    is_forbidden: bool
    ungraded: tuple[Joint, ...] = ()


@register.simple_tag
def start_of(known: Known | None, exercise: Exercise, side: str) -> Proposal | None:
    """Return the proposal for an exercise on a side; none where nobody read the assessments."""
    return known.proposal(exercise, Side(side) if exercise.sided else Side.BOTH) if known else None


@register.simple_tag
def assess_url(patient_pk: int, joints: Sequence[Joint], then: str) -> str:
    """Return the address of a new assessment that shows those joints and goes on to a page."""
    query = urlencode({"joints": [joint.value for joint in joints], "then": then}, doseq=True)
    return f"{reverse('assessment_new', args=[patient_pk])}?{query}"


@register.filter
def joint_words(joints: Sequence[Joint]) -> str:
    """Return joints as a list in words."""
    *others, last = [joint.label for joint in joints]
    return f"{', '.join(others)} and {last}" if others else last


@register.simple_tag
def step_doubt(known: Known | None, exercise: Exercise, side: str, effort: Effort) -> Doubt | None:
    """Return why the assessment forbids a step, or what it asks first; None where it allows it.

    What precautions say against a line stands beside it already, as findings.
    """
    if known is None or known.measured_day is None:
        return None
    found = start_of(replace(known, limits=()), exercise, side)
    if found is None:
        return None
    if forbidden := found.why_forbidden(effort):
        return Doubt(forbidden, True)
    asked = next((row.why for row in found.asks if row.effort is effort), "")
    return Doubt(asked, False, found.ungraded) if asked else None
