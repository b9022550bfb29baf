"""Closes on the assessment form what the precautions in force forbid to measure."""

from collections.abc import Iterable

from django import forms

from patients.assessment import Grade, GradeReading
from patients.closed import closed, closed_grip
from patients.motions import MOTIONS, Side
from patients.precautions import Limit

NOT_ALLOWED = "n"
MOST_WITHOUT_RESISTING = Grade.from_text("3")


def close_fields(form: forms.Form, limits: Iterable[Limit]) -> dict[str, str]:
    """Close fields, which then say "not allowed yet"; return grades that stay open up to 3.

    Each of those names its field and the precaution.
    """
    limits = list(limits)
    up_to_3: dict[str, str] = {}
    for side in (Side.LEFT, Side.RIGHT):
        for motion in MOTIONS:
            if f"{motion}-{side}-grade" not in form.fields:
                continue
            why = closed(limits, motion, side)
            if why.active:
                _close(form, f"{motion}-{side}-active", why.active)
                _close(form, f"{motion}-{side}-grade", why.active)
            elif why.resisted:
                up_to_3[f"{motion}-{side}-grade"] = why.resisted
        if grip := closed_grip(limits, side):
            _close(form, f"grip-{side}-1", grip)
            for number in (2, 3):
                _close(form, f"grip-{side}-{number}", grip, "")
    return up_to_3


def _close(form: forms.Form, name: str, why: str, value: str = NOT_ALLOWED) -> None:
    field = form.fields[name]
    field.disabled = True
    field.widget.attrs["title"] = f"Not allowed yet: {why}"
    form.initial[name] = value


def resisted_too_early(reading: object) -> bool:
    """Whether a grade was read that only resisting can give."""
    return (
        isinstance(reading, GradeReading)
        and reading.grade is not None
        and reading.grade > MOST_WITHOUT_RESISTING
    )
