"""Storing what a hand-over file holds: all in one transaction, each record once."""

from dataclasses import dataclass

from django.db import transaction

from clinic.actions import ActionRefused, write_audit
from clinic.models import User
from logs.actions import Outcome
from logs.handover import Handover
from logs.phone_entries import REJECTED, Answer, store_records
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
}
"""Why a record of a file was not stored, by the code that a phone is told."""


class OtherPatient(Exception):
    """The file is of another patient's phone, or of none of this clinic's."""


@dataclass(frozen=True)
class Read:
    """What became of one record of a file, and where it stands there."""

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

    def count(self, result: str) -> int:
        """Return how many records came to that result."""
        return sum(record.answer.result == result for record in self.records)

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
    """Store each record of a file that is not here yet.

    They are stored as this patient's phone's own, as if it had sent them: sending them later, or
    reading the file again, changes nothing. OtherPatient where the file isn't this patient's.
    """
    if handover.owner != owner_key(patient):
        raise OtherPatient
    phone = _phone_of(patient, handover)
    answers = store_records(phone=phone, values=handover.records)
    imported = Imported(
        phone,
        tuple(
            Read(number, place, _day_of(value), answer)
            for number, (place, value, answer) in enumerate(
                zip(handover.places, handover.records, answers, strict=True), 1
            )
        ),
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
