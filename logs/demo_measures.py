"""What was measured of the simulated people, and what they must not do, as rows."""

from collections.abc import Callable, Mapping
from datetime import date, datetime, timedelta
from decimal import Decimal

from clinic.models import User
from logs.simulator.cast import Story, WantedAssessment
from patients.assessment import Method, read_grade, read_range
from patients.assessment_rows import motion_row
from patients.measures_models import (
    ActivityScore,
    Assessment,
    GripMeasure,
    MassUnit,
    MotionMeasure,
)
from patients.models import Episode, Patient
from patients.precaution_forms import proposed_precaution
from patients.precaution_queries import protocol_of

type Audit = Callable[[datetime, User | None, str, str], None]
"""Writes an act down: when, by whom, the verb, of what."""


def write_measures(
    story: Story,
    *,
    patient: Patient,
    episode: Episode,
    staff: Mapping[str, User],
    first_day: date,
    today: date,
    at: Callable[[date, int], datetime],
    audit: Audit,
) -> None:
    """Write a person's precautions and assessments down, with the instants of the simulation.

    LookupError for a protocol that is not there; ValueError for a measure that can't be read.
    """
    if story.protocol:
        protocol = protocol_of(story.protocol)
        if protocol is None:
            raise LookupError(f"no protocol {story.protocol}")
        keeper, set_at = staff[story.team[0]], at(first_day, 10)
        for number, proposed in enumerate(protocol.precautions):
            if number in story.protocol_without:
                continue
            row = proposed_precaution(proposed, episode=episode, side=story.affected)
            row.set_by = protocol.set_by
            row.recorded_by, row.recorded_at = keeper, set_at
            row.save(force_insert=True)
            audit(set_at, keeper, "set precaution", row.limit.words)
    for wanted in story.assessments:
        day = today - timedelta(wanted.days_ago)
        by, recorded_at = staff[wanted.by], at(day, 11)
        at_rest, on_movement = wanted.pain or (None, None)
        assessment = Assessment.objects.create(
            patient=patient,
            measured_day=day,
            measured_by=by,
            recorded_by=by,
            recorded_at=recorded_at,
            pain_at_rest=at_rest,
            pain_on_movement=on_movement,
            notes=wanted.note,
        )
        _add_measures(assessment, wanted, story.affected)
        audit(recorded_at, by, "recorded assessment", f"{assessment.measured_day}")


def _add_measures(assessment: Assessment, wanted: WantedAssessment, side: str) -> None:
    MotionMeasure.objects.bulk_create(
        _motion(assessment, motion, side, typed) for motion, typed in wanted.motions.items()
    )
    GripMeasure.objects.bulk_create(
        GripMeasure(
            assessment=assessment,
            side=hand,
            unit=MassUnit.KG,
            **{f"trial_{n}": Decimal(str(kg)) for n, kg in enumerate(trials, start=1)},
        )
        for hand, trials in wanted.grip.items()
    )
    ActivityScore.objects.bulk_create(
        ActivityScore(assessment=assessment, position=place, words=words, score=score)
        for place, (words, score) in enumerate(wanted.activities, start=1)
    )


def _motion(assessment: Assessment, motion: str, side: str, typed: str) -> MotionMeasure:
    """A motion as it is typed into the form: active range, passive range and grade."""
    active, passive, grade = typed.split()
    row = motion_row(
        motion, side, read_range(active, motion), read_range(passive, motion), read_grade(grade)
    )
    row.assessment, row.method = assessment, Method.GONIOMETER.value
    return row
