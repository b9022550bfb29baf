"""The stop signs of the simulated clinic as rows, with the instants of the simulation."""

from collections.abc import Callable
from dataclasses import asdict
from datetime import date, datetime, timedelta
from uuid import NAMESPACE_URL, uuid5

from clinic.models import User
from logs.models import StopAnswer, StopReport, StopSource
from logs.simulator.people import SimulatedPerson
from logs.stop_actions import ToldStop, hash_of_stop
from patients.models import Patient, Phone

type Audit = Callable[[datetime, User | None, str, str, str], None]
"""Writes an act down: when, by whom, the verb, of what, and who acted where nobody of staff did."""


def write_stops(
    person: SimulatedPerson,
    *,
    patient: Patient,
    phone: Phone | None,
    keeper: User,
    at: Callable[[date, int], datetime],
    audit: Audit,
) -> None:
    """Write a person's reported stop signs down, and what the clinic answered."""
    for number, stop in enumerate(person.stops):
        wanted, by = stop.wanted, None if phone else keeper
        reported_at = at(stop.day, wanted.hour)
        told = ToldStop(
            tier=wanted.tier,
            sign=wanted.sign,
            reported_at=reported_at,
            day=stop.day,
            from_occasion=1,
            source=StopSource.PHONE if phone else StopSource.TELEPHONE,
            time_zone=patient.time_zone,
        )
        received_at = min(reported_at + timedelta(minutes=1), at(stop.day, 23))
        answered_at = at(stop.answered_day, 10) if stop.answered_day else None
        report = StopReport.objects.create(
            pk=uuid5(NAMESPACE_URL, f"{person.story.number}/stop/{number}"),
            patient=patient,
            phone=phone,
            recorded_by=by,
            received_at=received_at,
            answered_at=answered_at,
            content_hash=hash_of_stop(told),
            **asdict(told),
        )
        actor = f"phone: {phone.label}" if phone else ""
        audit(received_at, by, "reported stop sign", str(report), actor)
        if answered_at and stop.goes_on_day:
            StopAnswer.objects.create(
                report=report,
                number=1,
                words=wanted.words,
                sentence=wanted.sentence,
                goes_on=True,
                ends_day=stop.goes_on_day,
                ends_occasion=1,
                answered_by=keeper,
                answered_at=answered_at,
            )
            audit(answered_at, keeper, "answered stop sign", str(report), "")
