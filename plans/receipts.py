"""Which of a patient's phones have received what was withdrawn."""

from dataclasses import dataclass
from datetime import datetime

from django.db.models import Q

from patients.models import Patient, Phone
from patients.queries import phones_in_use
from plans.safety_models import Withdrawal


@dataclass(frozen=True)
class Receipt:
    """Whether a phone has said that it keeps a version as new as the one asked about."""

    phone: Phone
    has_it: bool

    @property
    def last_heard_at(self) -> datetime | None:
        """When the phone last reached the clinic."""
        return self.phone.last_contact_at


@dataclass(frozen=True)
class Withdrawn:
    """Something withdrawn, and what each phone in use has received of that."""

    withdrawal: Withdrawal
    receipts: tuple[Receipt, ...]

    @property
    def is_told(self) -> bool:
        """Whether a person has said that the patient was told."""
        return self.withdrawal.told_at is not None

    @property
    def missing(self) -> tuple[Phone, ...]:
        """Return the phones that still show it, for all we know."""
        return tuple(receipt.phone for receipt in self.receipts if not receipt.has_it)


def still_out(patient: Patient) -> tuple[Withdrawn, ...]:
    """Return what was withdrawn and is still out, latest first (two queries).

    That is what the patient was not told of by anyone, and what some phone in use has not
    received, even when the patient was told.
    """
    phones = list(phones_in_use(patient))
    behind = min((phone.last_version or 0 for phone in phones), default=None)
    out = Q(told_at__isnull=True)
    if behind is not None:
        out |= Q(version__number__gt=behind)
    rows = Withdrawal.objects.filter(out, version__patient=patient)
    return tuple(
        Withdrawn(
            row,
            tuple(
                Receipt(phone, (phone.last_version or 0) >= row.version.number) for phone in phones
            ),
        )
        for row in rows.select_related("made_by", "version")
    )
