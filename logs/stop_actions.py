"""Writes of reported stop signs: storing a report once, and answering it."""

import hashlib
import json
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from uuid import UUID

from django.db import IntegrityError, transaction
from django.utils import timezone

from clinic.actions import ActionRefused, write_audit
from clinic.models import Role, User
from logs.actions import LONGEST_NOTE, Outcome
from logs.holds import AFTER_ALL
from logs.models import StopAnswer, StopReport, StopSource
from patients.actions import lock_patients
from patients.models import Patient, Phone
from plans.stop_signs import HOLDING, SIGN_KEY, TIERS

LONGEST_SENTENCE = 200
MOST_OCCASIONS = 12


@dataclass(frozen=True)
class ToldStop:
    """A stop sign as it was reported: the fields mean what `logs.stop_models.StopReport` says."""

    tier: str
    sign: str
    reported_at: datetime
    day: date
    from_occasion: int | None
    source: str
    time_zone: str = ""
    note: str = ""


def record_stop(
    *,
    patient: Patient,
    uuid: UUID,
    told: ToldStop,
    user: User | None = None,
    phone: Phone | None = None,
) -> Outcome:
    """Store a report once, however often it arrives.

    The same UUID with other content, or of another patient, is a conflict. What is due is held
    from then on without a further write: held days are worked out on reading. ActionRefused if a
    value is out of bounds.
    """
    _check(patient, told, user, phone)
    content_hash = hash_of_stop(told)
    try:
        with transaction.atomic():
            return _store(patient, uuid, told, content_hash, user, phone)
    except IntegrityError:
        # Two deliveries at once: the other one was first, and what it stored decides.
        outcome = _outcome_of_known(patient, uuid, content_hash)
        if outcome is None:
            raise
        return outcome


def _store(
    patient: Patient,
    uuid: UUID,
    told: ToldStop,
    content_hash: str,
    user: User | None,
    phone: Phone | None,
) -> Outcome:
    lock_patients([patient.pk])
    if outcome := _outcome_of_known(patient, uuid, content_hash):
        return outcome
    report = StopReport.objects.create(
        pk=uuid,
        patient=patient,
        tier=told.tier,
        sign=told.sign,
        reported_at=told.reported_at,
        time_zone=told.time_zone,
        day=told.day,
        from_occasion=told.from_occasion,
        source=told.source,
        phone=phone,
        recorded_by=user,
        note=told.note,
        content_hash=content_hash,
        received_at=timezone.now(),
    )
    write_audit(
        user=user,
        actor=f"phone: {phone.label}" if phone else "",
        verb="reported stop sign",
        subject=str(report),
        patient_id=patient.pk,
        report=str(uuid),
        source=told.source,
    )
    return Outcome.STORED


def _outcome_of_known(patient: Patient, uuid: UUID, content_hash: str) -> Outcome | None:
    known = StopReport.objects.filter(pk=uuid).values_list("patient", "content_hash").first()
    if known is None:
        return None
    return Outcome.DUPLICATE if known == (patient.pk, content_hash) else Outcome.CONFLICT


def hash_of_stop(told: ToldStop) -> str:
    """Return the hash of what two deliveries of one report must agree in."""
    content = [
        told.tier,
        told.sign,
        told.reported_at.isoformat(),
        told.day.isoformat(),
        told.from_occasion,
        told.source,
        told.time_zone,
        told.note,
    ]
    return hashlib.sha256(json.dumps(content).encode()).hexdigest()


def _check(patient: Patient, told: ToldStop, user: User | None, phone: Phone | None) -> None:
    """Refuse what no report can say; a sign that the clinic has struck from its list is taken."""
    if told.tier not in TIERS:
        raise ActionRefused("Choose one of the stop signs.")
    if not SIGN_KEY.fullmatch(told.sign):
        raise ActionRefused("Choose one of the stop signs.")
    if told.tier in HOLDING:
        if told.from_occasion is None or not 1 <= told.from_occasion <= AFTER_ALL:
            raise ActionRefused("Say from which session of the day on it holds.")
    elif told.from_occasion is not None:
        raise ActionRefused("A sign of this tier holds nothing.")
    if told.reported_at.tzinfo is None:
        raise ActionRefused("The time of a report needs its offset from UTC.")
    if len(told.note) > LONGEST_NOTE or "\0" in told.note:
        raise ActionRefused(f"A note is text of at most {LONGEST_NOTE} characters.")
    if len(told.time_zone) > 60 or "\0" in told.time_zone:
        raise ActionRefused("That is no name of a time zone.")
    if phone is not None and (phone.patient_id != patient.pk or told.source != StopSource.PHONE):
        raise ActionRefused("That phone is not this patient's.")
    if phone is None and (user is None or told.source == StopSource.PHONE):
        raise ActionRefused("Say whether it was told by telephone or at a visit.")
    if told.source not in StopSource.values:
        raise ActionRefused("Say whether it was told by telephone or at a visit.")


@dataclass(frozen=True)
class Decision:
    """What was decided on a report: the fields mean what `logs.stop_models.StopAnswer` says."""

    words: str
    goes_on: bool
    ends_day: date | None = None
    ends_occasion: int | None = None
    sentence: str = ""


@transaction.atomic
def answer_stop(*, by: User, report: StopReport, decision: Decision, seen: int) -> StopAnswer:
    """Answer a report, or correct the answer: the earlier one stays on record and counts no more.

    ``seen`` is the number of the answer that the person had before them, 0 for none. A student or
    assistant may report a stop sign but not answer one (common practice, no source).
    """
    if by.role == Role.STUDENT:
        raise ActionRefused("A therapist in charge or a supervisor answers a stop sign.")
    _check_decision(report, decision)
    lock_patients([report.patient_id])
    earlier = StopAnswer.objects.filter(report=report)
    last = earlier.order_by("number").last()
    if seen != (last.number if last else 0):
        raise ActionRefused("Somebody has answered this meanwhile. Read the answer first.")
    # A server clock put back must not turn the order of what happened.
    now = max(timezone.now(), report.received_at, *((last.answered_at,) if last else ()))
    earlier.filter(is_current=True).update(is_current=False)
    answer = StopAnswer.objects.create(
        report=report,
        number=last.number + 1 if last else 1,
        words=decision.words.strip(),
        sentence=decision.sentence.strip(),
        goes_on=decision.goes_on,
        ends_day=decision.ends_day,
        ends_occasion=decision.ends_occasion,
        answered_by=by,
        answered_at=now + timedelta(microseconds=1) if last else now,
    )
    if last is None:
        StopReport.objects.filter(pk=report.pk, answered_at__isnull=True).update(answered_at=now)
    write_audit(
        user=by,
        verb="corrected answer to stop sign" if last else "answered stop sign",
        subject=str(report),
        patient_id=report.patient_id,
        report=str(report.pk),
        number=answer.number,
        goes_on=decision.goes_on,
        ends=f"{decision.ends_day} session {decision.ends_occasion}" if decision.ends_day else "",
    )
    report.refresh_from_db()
    return answer


def _check_decision(report: StopReport, decision: Decision) -> None:
    words, sentence = decision.words.strip(), decision.sentence.strip()
    if not words:
        raise ActionRefused("Write what was decided.")
    if len(words) > LONGEST_NOTE or "\0" in words:
        raise ActionRefused(f"What was decided is text of at most {LONGEST_NOTE} characters.")
    if len(sentence) > LONGEST_SENTENCE or "\0" in sentence:
        raise ActionRefused(
            f"The sentence for the patient has at most {LONGEST_SENTENCE} characters."
        )
    ends = decision.ends_day, decision.ends_occasion
    if report.from_occasion is None:
        if not decision.goes_on or ends != (None, None):
            raise ActionRefused(
                "This sign holds nothing. To stop the exercises, pause or withdraw the plan."
            )
        return
    if not decision.goes_on:
        if ends != (None, None):
            raise ActionRefused(
                "Say either that the plan goes on, and from when, or that it waits."
            )
        return
    if decision.ends_day is None or decision.ends_occasion is None:
        raise ActionRefused("Say from which day and session the plan goes on.")
    if not 1 <= decision.ends_occasion <= MOST_OCCASIONS:
        raise ActionRefused(f"A session is a number from 1 to {MOST_OCCASIONS}.")
    if (decision.ends_day, decision.ends_occasion) < (report.day, report.from_occasion):
        raise ActionRefused(
            f"The plan can't go on before it was held: on {report.day:%-d %b %Y}, session "
            f"{report.from_occasion}."
        )
