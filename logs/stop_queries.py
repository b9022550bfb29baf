"""Reads of reported stop signs, as the plain values that pages and computing take."""

from collections import defaultdict
from collections.abc import Collection, Mapping
from datetime import date, datetime
from functools import cache
from typing import Any, NamedTuple
from uuid import UUID

from django.conf import settings
from django.db import connection
from django.db.models import Max, QuerySet

from clinic.models import User
from logs.holds import AFTER_ALL, Hold
from logs.models import Revision, StopReport
from logs.stops import StopAnswered, StopTold, urgency
from patients.models import Patient
from patients.queries import patients_of
from plans.schedule import Window
from plans.stop_signs import Tier, read_stop_signs

_REPORT = (
    "uuid",
    "tier",
    "sign",
    "reported_at",
    "time_zone",
    "day",
    "from_occasion",
    "source",
    "note",
    "received_at",
    "phone__label",
    "recorded_by__name",
)
_ANSWER = (
    "answers__number",
    "answers__words",
    "answers__sentence",
    "answers__goes_on",
    "answers__ends_day",
    "answers__ends_occasion",
    "answers__answered_by__name",
    "answers__answered_at",
)


@cache
def stop_tiers() -> tuple[Tier, ...]:
    """Return the tiers of stop signs, the most urgent first."""
    return read_stop_signs(settings.BASE_DIR / "fixtures" / "stop_signs.toml")


def stops_of(patient: Patient) -> tuple[StopTold, ...]:
    """Return a patient's reported stop signs with every answer, the latest first.

    One query; a second one where any was reported, which few ever do.
    """
    with connection.cursor() as cursor:
        cursor.execute("SELECT COUNT(*) FROM logs_stopreport WHERE patient_id = %s", [patient.pk])
        (count,) = cursor.fetchone()
    return _told(StopReport.objects.filter(patient=patient)) if count else ()


def _told(reports: QuerySet[StopReport]) -> tuple[StopTold, ...]:
    rows = reports.order_by("-reported_at", "-received_at", "pk", "answers__number")
    found: dict[UUID, tuple[tuple[Any, ...], list[StopAnswered]]] = {}
    for row in rows.values_list(*_REPORT, *_ANSWER):
        report, answer = row[: len(_REPORT)], row[len(_REPORT) :]
        _, answers = found.setdefault(report[0], (report, []))
        if answer[0] is not None:
            answers.append(StopAnswered(*answer))
    told = []
    for report, answers in found.values():
        *head, phone, staff = report
        told.append(StopTold(*(*head, phone or staff or "", tuple(answers))))
    return tuple(told)


def stop_of(patient: Patient, uuid: UUID) -> StopReport | None:
    """Return a patient's report of that UUID, if they have it."""
    return StopReport.objects.filter(pk=uuid, patient=patient).first()


def next_number(patient: Patient, day: date) -> int:
    """Return the number after the last session told of a day (one query)."""
    told = Revision.objects.filter(
        patient=patient, day=day, is_current=True, entry__struck_at__isnull=True
    ).aggregate(last=Max("occasion"))
    return min(AFTER_ALL, (told["last"] or 0) + 1)


class OpenStop(NamedTuple):
    """A report that nobody has answered."""

    uuid: UUID
    patient: int
    clinic_number: str
    name: str
    tier: str
    sign: str
    reported_at: datetime
    received_at: datetime


def open_stops(user: User) -> tuple[OpenStop, ...]:
    """Return the unanswered reports of those whose pages a person may open (one query).

    The most urgent tier first, then as received.
    """
    if not user.may_treat:
        return ()
    rows = StopReport.objects.filter(answered_at__isnull=True, patient__in=patients_of(user))
    found = [
        OpenStop(*row)
        for row in rows.order_by("received_at", "pk").values_list(
            "uuid",
            "patient",
            "patient__clinic_number",
            "patient__name",
            "tier",
            "sign",
            "reported_at",
            "received_at",
        )
    ]
    return tuple(sorted(found, key=lambda stop: urgency(stop.tier)))


def partial_days(holds: Mapping[int, Collection[Hold]]) -> set[tuple[int, date]]:
    """Return the patients' days of which a hold may take some sessions and leave others."""
    return {
        (patient, day)
        for patient, held in holds.items()
        for hold in held
        for day in (hold.first_day, hold.end_day)
        if day is not None and hold.is_partial_on(day)
    }


# A plain statement, as the caseload waits for it. Where an answer stands, the one that counts.
_HOLDS = """
SELECT r.patient_id, r.day, r.from_occasion, a.ends_day, a.ends_occasion
FROM logs_stopreport r LEFT JOIN logs_stopanswer a ON a.report_id = r.uuid
WHERE r.from_occasion IS NOT NULL AND r.day <= %s
  AND (a.id IS NULL OR a.is_current) AND (a.ends_day IS NULL OR a.ends_day >= %s)
"""


def holds_by_patient(window: Window, of: int | None = None) -> dict[int, tuple[Hold, ...]]:
    """Return what is held of all patients' plans, or one's, within the window (one query)."""
    given: list[str | int] = [window.last_day.isoformat(), window.first_day.isoformat()]
    sql = _HOLDS
    if of is not None:
        sql, given = f"{_HOLDS} AND r.patient_id = %s", [*given, of]
    with connection.cursor() as cursor:
        cursor.execute(sql, given)
        rows = cursor.fetchall()
    found: dict[int, list[Hold]] = defaultdict(list)
    for patient, day, number, end_day, end_number in rows:
        found[patient].append(Hold(day, number or 1, end_day, end_number or 1))
    return {patient: tuple(holds) for patient, holds in found.items()}
