"""Storing what a hand-over file holds: in one transaction, each record and reason once."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.db import transaction
from django.utils import timezone

from clinic.actions import ActionRefused, write_audit
from clinic.models import User
from logs.actions import Outcome
from logs.handover import Handover
from logs.phone_entries import NOT_OVER, REJECTED, Answer, store_reasons, store_records
from patients.models import Patient, Phone
from patients.phones import owner_key
from plans.jsonfile import Place

REASONS = {
    "later_form": "it was written by a newer page than this server knows: update the server",
    "other_owner": "it was done for another plan than this patient's",
    "unknown_version": "it names a version of the plan that isn't here",
    "unknown_line": "it names an exercise that its version of the plan hasn't got",
    "conflict": "a record with this UUID is here with other content",
    "out_of_bounds": "a number in it is out of bounds",
    "bad_day": "its day must be a day, as 2026-03-04",
    NOT_OVER: "its day is not over, so nothing can have been missed on it",
    "bad_reason": "its reason is none of those that a phone asks for",
}
"""Why a part of a file was not stored, by the code that a phone is told."""


class OtherPatient(Exception):
    """The file is of another patient's phone, or of none of this clinic's."""


@dataclass(frozen=True)
class Read:
    """What became of one part of a file (a record, or a reason), and where it stands there."""

    what: str
    number: int
    place: Place
    day: str
    answer: Answer

    @property
    def reason(self) -> str:
        """Why it was rejected; '' where it was not."""
        code = self.answer.code
        return REASONS.get(code, f"it isn't in the form of a record ({code})") if code else ""


@dataclass(frozen=True)
class Imported:
    """What became of a whole file."""

    phone: Phone
    records: tuple[Read, ...]
    missed: tuple[Read, ...] = ()

    @property
    def all(self) -> tuple[Read, ...]:
        """The records, and after them the reasons for missed sessions."""
        return self.records + self.missed

    def count(self, result: str) -> int:
        """Return how many records and reasons came to that result."""
        return sum(read.answer.result == result for read in self.all)

    @property
    def stored(self) -> int:
        """How many were new."""
        return self.count(Outcome.STORED)

    @property
    def duplicate(self) -> int:
        """How many were here already."""
        return self.count(Outcome.DUPLICATE)

    @property
    def rejected(self) -> int:
        """How many could not be stored."""
        return self.count(REJECTED)


def patient_of(handover: Handover) -> Patient | None:
    """Return whose phone made a file, for a command that isn't told (one query)."""
    everyone = Patient.objects.iterator(chunk_size=1000)
    return next((one for one in everyone if owner_key(one) == handover.owner), None)


@transaction.atomic
def import_handover(*, by: User | None, patient: Patient, handover: Handover) -> Imported:
    """Store each record and each reason of a file that is not here yet.

    They are stored as this patient's phone's own, as if it had sent them: sending them later, or
    reading the file again, changes nothing. OtherPatient where the file isn't this patient's.
    """
    if handover.owner != owner_key(patient):
        raise OtherPatient
    phone = _phone_of(patient, handover)
    stored = store_records(phone=phone, values=handover.records)
    told = store_reasons(phone=phone, values=handover.missed, now=timezone.now())
    imported = Imported(
        phone,
        _read("record", handover.places, handover.records, stored),
        _read("reason", handover.missed_places, handover.missed, told),
    )
    write_audit(
        user=by,
        verb="read hand-over file",
        subject=phone.label,
        patient_id=patient.pk,
        made_at=handover.made_at.isoformat(),
        stored=imported.stored,
        duplicate=imported.duplicate,
        rejected=imported.rejected,
    )
    return imported


def _read(
    what: str, places: Sequence[Place], values: Sequence[object], answers: Sequence[Answer]
) -> tuple[Read, ...]:
    """Each part of a file, numbered from 1, with its place and what became of it."""
    return tuple(
        Read(what, number, place, _day_of(value), answer)
        for number, (place, value, answer) in enumerate(
            zip(places, values, answers, strict=True), 1
        )
    )


def _phone_of(patient: Patient, handover: Handover) -> Phone:
    """The phone whose store the file is from; else, as after a restore, the one enrolled last."""
    phones = patient.phones.select_related("patient").order_by("-enrolled_at", "-pk")
    phone = phones.filter(stores__store_id=handover.store).first() or phones.first()
    if phone is None:
        raise ActionRefused(
            "No phone was ever enrolled for this patient: enrol it, then try again."
        )
    return phone


def _day_of(value: object) -> str:
    day = value.get("day") if isinstance(value, dict) else None
    return day if isinstance(day, str) and len(day) == 10 else ""
