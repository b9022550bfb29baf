"""What an assessment form sends, for tests; every field that a browser would send is there."""

from datetime import date

from django.test import Client
from django.urls import reverse

from patients.assessment_forms import AssessmentForm
from patients.measures_models import Assessment
from patients.motions import Joint


def typed(user, *, joints=("shoulder", "elbow"), sides="both", **fields) -> dict[str, object]:
    """Return what a browser sends of a form in which ``fields`` were typed (- for __)."""
    form = AssessmentForm(
        joints=[Joint(joint) for joint in joints],
        sides=sides,
        order=("left", "right"),
        by=user,
        raters=[],
        today=date(2026, 1, 1),
    )
    sent = {}
    for bound in form:
        value = bound.initial if bound.initial is not None else ""
        choices = getattr(bound.field, "choices", None)
        if not value and choices:
            first = next(iter(choices))[0]
            value = first if isinstance(first, str) else ""
        sent[bound.html_name] = value
    sent |= {"chosen": "1", "joints": list(joints), "sides": sides, "keep": "1"}
    return sent | {name.replace("__", "-"): value for name, value in fields.items()}


def record(client: Client, patient, user, **fields) -> Assessment:
    """Record an assessment through the page, as ``user``; return it."""
    client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
    answer = client.post(
        reverse("assessment_new", args=[patient.pk]), typed(user, **fields), follow=True
    )
    assert answer.redirect_chain, answer.content.decode()
    return Assessment.objects.filter(patient=patient).latest("pk")
