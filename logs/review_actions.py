"""Writes at a review: reasons for missed sessions, words on pairs of entries, that it was done."""

from datetime import date

from django.db import transaction
from django.utils import timezone

from clinic.actions import ActionRefused, write_audit
from clinic.models import User
from logs.models import Entry, MissedReason, ReviewRecord, Revision, SessionPair, Why
from logs.upkeep import keep_days
from patients.actions import lock_patients
from patients.models import Patient, Phone
from plans.schedule import Window


@transaction.atomic
def say_why_missed(
    *,
    by: User | None,
    patient: Patient,
    day: date,
    reason: str,
    today: date,
    occasion: int | None = None,
    source: str = MissedReason.Told.VISIT,
    phone: Phone | None = None,
) -> None:
    """Keep why a session was missed; an empty reason takes back what was said.

    What a person has put in stands against a phone that tells another reason later.
    """
    if day >= today:
        raise ActionRefused("A day that isn't over can't have been missed.")
    if reason and reason not in Why.values:
        raise ActionRefused("Choose one of the reasons.")
    if source not in MissedReason.Told.values:
        raise ActionRefused("Choose how the reason was told.")
    lock_patients([patient.pk])
    known = MissedReason.objects.filter(patient=patient, day=day, occasion=occasion).first()
    before = known.reason if known else ""
    if before == reason and (known is None or known.source == source):
        return
    if phone and known and known.recorded_by_id:
        return
    if known and not reason:
        known.delete()
    else:
        MissedReason.objects.update_or_create(
            patient=patient,
            day=day,
            occasion=occasion,
            defaults={
                "reason": reason,
                "source": source,
                "recorded_by": by,
                "recorded_at": timezone.now(),
            },
        )
    write_audit(
        user=by,
        actor=f"phone: {phone.label}" if phone else "",
        verb="said why missed" if reason else "took back why missed",
        subject=day.isoformat(),
        patient_id=patient.pk,
        occasion=occasion,
        reason=reason,
        before=before,
        source=source,
    )


@transaction.atomic
def say_of_pair(*, by: User, patient: Patient, pair: tuple[Entry, Entry], is_same: bool) -> None:
    """Keep whether two entries are the same session or two; said again, the later word counts."""
    lock_patients([patient.pk])
    one, other = _in_order(patient, pair)
    SessionPair.objects.update_or_create(
        one=one,
        other=other,
        defaults={
            "patient": patient,
            "is_same": is_same,
            "said_by": by,
            "said_at": timezone.now(),
        },
    )
    _pair_changed(by, patient, one, other, "two entries are " + ("the same" if is_same else "two"))


@transaction.atomic
def take_back_pair_word(*, by: User, patient: Patient, pair: tuple[Entry, Entry]) -> None:
    """Let two entries be perhaps the same again; the record keeps what had been said."""
    lock_patients([patient.pk])
    one, other = _in_order(patient, pair)
    taken, _ = SessionPair.objects.filter(one=one, other=other).delete()
    if not taken:
        raise ActionRefused("Nothing was said of these two entries.")
    _pair_changed(by, patient, one, other, "took back a word on two entries")


def _in_order(patient: Patient, pair: tuple[Entry, Entry]) -> tuple[Entry, Entry]:
    if any(entry.patient_id != patient.pk for entry in pair) or pair[0].pk == pair[1].pk:
        raise ActionRefused("These aren't two entries of this patient.")
    one, other = sorted(pair, key=lambda entry: entry.pk.int)
    return one, other


def _pair_changed(by: User, patient: Patient, one: Entry, other: Entry, verb: str) -> None:
    """Count the days of two entries anew, and write it down."""
    days = Revision.objects.filter(entry__in=[one, other], is_current=True)
    keep_days(patient.pk, set(days.values_list("day", flat=True)))
    write_audit(
        user=by,
        verb=verb,
        subject=f"{one.pk}, {other.pk}",
        patient_id=patient.pk,
        entries=[str(one.pk), str(other.pk)],
    )


@transaction.atomic
def record_review(
    *, by: User, patient: Patient, day: date, window: Window, note: str
) -> ReviewRecord:
    """Keep that a patient was reviewed on a day, over which days, with a note."""
    note = note.strip()
    if len(note) > 500:
        raise ActionRefused("A note is text of at most 500 characters.")
    record = ReviewRecord.objects.create(
        patient=patient,
        day=day,
        first_day=window.first_day,
        last_day=window.last_day,
        note=note,
        reviewed_by=by,
        reviewed_at=timezone.now(),
    )
    write_audit(
        user=by,
        verb="reviewed",
        subject=f"{window.first_day} to {window.last_day}",
        patient_id=patient.pk,
        note=note,
    )
    return record
