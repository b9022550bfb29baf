"""Writes of what was done at home: one function a verb, one transaction, one audit row.

An entry is told in revisions, and this is the one place that stores them: the phone, the paper
diary, the telephone and an imported file all come through ``record_revision``.
"""

import hashlib
import json
from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import StrEnum
from typing import NamedTuple
from uuid import UUID

from django.db import IntegrityError, transaction
from django.db.models import Q
from django.utils import timezone

from clinic.actions import ActionRefused, write_audit
from clinic.models import User
from logs.done_text import done_text
from logs.kept import seen_text
from logs.models import Entry, HeardDay, Performance, Revision, Source
from logs.obstacles import Ended, Obstacle
from logs.upkeep import keep_days
from patients.actions import lock_patients
from patients.models import Patient, Phone
from plans.models import Line, PlanVersion
from plans.safety_queries import easier_step

LARGEST_AMOUNT = 9999
LARGEST_LOAD_G = 50_000
MOST_SETS = 20
MOST_OCCASIONS = 12
LONGEST_NOTE = 500
SCORES = ("pain_before", "pain_worst", "pain_after", "pain_next_morning", "effort")
"""What a revision scores from 0 to 10; None is no answer."""


@dataclass(frozen=True)
class Performed:
    """What was done for one line: the amount in each set, in the line's unit.

    Without a ``load_g`` the load was the prescribed one. A count that the patient did not confirm
    is no dose. ``hurt``: whether the patient named this line with the pain; None if not asked.
    ``ended`` and ``why`` say how and why it fell short, ``step`` which easier step was done.
    """

    line: Line
    amounts: tuple[int, ...]
    load_g: int | None = None
    is_confirmed: bool = True
    hurt: bool | None = None
    ended: str | None = None
    why: str | None = None
    step: str | None = None

    @property
    def said(self) -> dict[str, str]:
        """What is said beside the amounts, by name; only what is said."""
        each = {"ended": self.ended, "why": self.why, "step": self.step}
        return {name: value for name, value in each.items() if value is not None}


@dataclass(frozen=True)
class Told:
    """One session as it was told once; ``occasion`` is None beside any that was due.

    ``day`` is the local day that the session was begun, as the patient's place counts it.
    ``version`` is the one that the patient saw.
    """

    day: date
    occasion: int | None
    source: str
    version: PlanVersion | None
    performances: tuple[Performed, ...]
    pain_before: int | None = None
    pain_worst: int | None = None
    pain_after: int | None = None
    pain_next_morning: int | None = None
    effort: int | None = None
    note: str = ""
    began_at: datetime | None = None
    time_zone: str = ""

    @property
    def done(self) -> str:
        """The performances as the text that is kept with them."""
        return done_text(
            (
                done.line.position,
                done.line.pk,
                done.line.key,
                done.amounts,
                done.load_g,
                done.is_confirmed,
                done.hurt,
                done.ended,
                done.why,
                done.step,
            )
            for done in self.performances
        )

    @property
    def seen(self) -> str:
        """What the lines are that were done, as the text that is kept with them."""
        return seen_text(
            self.version.pk if self.version else None,
            self.version.number if self.version else None,
            (
                (
                    line.position,
                    line.pk,
                    line.version_id,
                    line.unit,
                    line.sets,
                    line.amount_high,
                    line.more_if_easy,
                    line.sessions_per_day,
                )
                for line in (done.line for done in self.performances)
            ),
        )


class _Conflict(Exception):
    """Ends the transaction, so that a conflict leaves nothing behind."""


class Outcome(StrEnum):
    """What became of a revision; a conflict stored nothing."""

    STORED = "stored"
    DUPLICATE = "duplicate"
    CONFLICT = "conflict"


def record_revision(
    *,
    patient: Patient,
    entry: UUID,
    revision: UUID,
    replaces: UUID | None,
    told: Told,
    user: User | None = None,
    phone: Phone | None = None,
    actor: str = "",
) -> Outcome:
    """Store one revision of an entry, once, however often and in whatever order it arrives.

    The same UUID with the same content is a duplicate; with other content, or for another entry
    or patient, it is a conflict. Of revisions that none replaces the last received counts.
    A struck entry takes revisions and stays struck. ActionRefused if a value is out of bounds.
    """
    _check(patient, revision, replaces, told, phone)
    content_hash = hash_of_content(replaces, told)
    try:
        with transaction.atomic():
            return _store(
                patient, entry, revision, replaces, told, content_hash, user, phone, actor
            )
    except IntegrityError:
        # Two deliveries at once: the other one was first, and what it stored decides.
        stored = Revision.objects.filter(pk=revision).values_list("entry", "content_hash").first()
        if stored is None:
            raise
        return Outcome.DUPLICATE if stored == (entry, content_hash) else Outcome.CONFLICT
    except _Conflict:
        return Outcome.CONFLICT


def _store(
    patient: Patient,
    entry_uuid: UUID,
    uuid: UUID,
    replaces: UUID | None,
    told: Told,
    content_hash: str,
    user: User | None,
    phone: Phone | None,
    actor: str,
) -> Outcome:
    # The lock puts the revisions of one patient in a row: of an entry, so that the current one is
    # found, and of a day, so that what is kept of it misses none.
    lock_patients([patient.pk])
    entry, _ = Entry.objects.get_or_create(pk=entry_uuid, defaults={"patient": patient})
    if entry.patient_id != patient.pk:
        raise _Conflict
    rows = Revision.objects.filter(Q(pk=uuid) | Q(entry=entry_uuid)).values_list(
        "pk", "entry", "content_hash", "replaces", "received_at", "is_current", "day"
    )
    known = [_Known(*row) for row in rows]
    for there in known:
        if there.uuid == uuid:
            if (there.entry, there.content_hash) == (entry_uuid, content_hash):
                return Outcome.DUPLICATE
            raise _Conflict
    # A server clock put back must not turn the order in which revisions were received.
    received_at = max(
        [timezone.now(), *(there.received_at + timedelta(microseconds=1) for there in known)]
    )
    new = _Known(uuid, entry_uuid, content_hash, replaces, received_at, False, told.day)
    current = _current([*known, new])
    if any(there.is_current and there != current for there in known):
        Revision.objects.filter(entry=entry, is_current=True).update(is_current=False)
        if current != new:
            Revision.objects.filter(pk=current.uuid).update(is_current=True)
    stored = Revision.objects.create(
        pk=uuid,
        entry=entry,
        patient=patient,
        replaces=replaces,
        is_current=current == new,
        content_hash=content_hash,
        version=told.version,
        day=told.day,
        occasion=told.occasion,
        source=told.source,
        phone=phone,
        began_at=told.began_at,
        time_zone=told.time_zone,
        received_at=received_at,
        recorded_by=user,
        note=told.note,
        done=told.done,
        seen=told.seen,
        **{score: getattr(told, score) for score in SCORES},
    )
    Performance.objects.bulk_create(performance_rows(uuid, told))
    keep_days(patient.pk, {current.day, *(there.day for there in known if there.is_current)})
    write_audit(
        user=user,
        actor=actor or (f"phone: {phone.label}" if phone else ""),
        verb="corrected entry" if known else "recorded entry",
        subject=str(stored),
        patient_id=patient.pk,
        entry=str(entry_uuid),
        revision=str(uuid),
        source=told.source,
    )
    return Outcome.STORED


def performance_rows(revision: UUID, told: Told) -> list[Performance]:
    """Return what was done of each line as rows of a revision."""
    return [
        Performance(
            revision_id=revision,
            line=done.line,
            amounts=list(done.amounts),
            load_g=done.load_g,
            is_confirmed=done.is_confirmed,
            hurt=done.hurt,
            **done.said,
        )
        for done in told.performances
    ]


class _Known(NamedTuple):
    """What tells which revision of an entry counts."""

    uuid: UUID
    entry: UUID
    content_hash: str
    replaces: UUID | None
    received_at: datetime
    is_current: bool
    day: date


def _current(revisions: list[_Known]) -> _Known:
    """The revision that counts: the last received of those that no other one replaces.

    A correction whose forerunner is still under way counts more than the first telling.
    """
    replaced = {revision.replaces for revision in revisions}
    last = [revision for revision in revisions if revision.uuid not in replaced] or revisions
    return max(last, key=lambda revision: (revision.replaces is not None, revision.received_at))


def _check(
    patient: Patient, revision: UUID, replaces: UUID | None, told: Told, phone: Phone | None
) -> None:
    """Refuse what no entry can say; every way in comes past here."""
    if replaces == revision:
        raise ActionRefused("A revision can't replace itself.")
    if told.source not in Source.values:
        raise ActionRefused(f"{told.source!r} is no source: use {', '.join(Source.values)}.")
    if told.occasion is not None and not _is_within(told.occasion, 1, MOST_OCCASIONS):
        raise ActionRefused(f"An occasion is a number from 1 to {MOST_OCCASIONS}, or none.")
    for score in SCORES:
        value = getattr(told, score)
        if value is not None and not _is_within(value, 0, 10):
            words = score.replace("_", " ").capitalize()
            raise ActionRefused(f"{words} is a whole number from 0 to 10, or no answer.")
    if len(told.note) > LONGEST_NOTE or "\0" in told.note:
        raise ActionRefused(f"A note is text of at most {LONGEST_NOTE} characters.")
    if len(told.time_zone) > 60 or "\0" in told.time_zone:
        raise ActionRefused("That is no name of a time zone.")
    if told.began_at is not None and told.began_at.tzinfo is None:
        raise ActionRefused("The time that a session began needs its offset from UTC.")
    for done in told.performances:
        if len(done.amounts) > MOST_SETS:
            raise ActionRefused(f"A line has at most {MOST_SETS} sets in one session.")
        if not all(_is_within(amount, 0, LARGEST_AMOUNT) for amount in done.amounts):
            raise ActionRefused(f"What was done in a set is a number from 0 to {LARGEST_AMOUNT}.")
        if done.load_g is not None and not _is_within(done.load_g, 0, LARGEST_LOAD_G):
            raise ActionRefused(f"A load is at most {LARGEST_LOAD_G // 1000} kg, and not below 0.")
        _check_said(done)
    _check_belongs(patient, told, phone)


def _check_said(done: Performed) -> None:
    """Refuse what can't be said of a line, and a step that it doesn't allow."""
    if done.ended is not None and done.ended not in set(Ended):
        raise ActionRefused(f"A line was {' or '.join(Ended)}, or nothing is said of it.")
    if done.ended == Ended.SKIPPED and any(done.amounts):
        raise ActionRefused("A line that was skipped has no amounts.")
    if done.why is not None and done.why not in set(Obstacle):
        raise ActionRefused(f"Why a line fell short is one of {', '.join(Obstacle)}.")
    if done.step is not None:
        easier = easier_step(done.line) if done.line.easier_allowed else None
        if easier is None or easier.effort.key != done.step:
            raise ActionRefused("The step done isn't the easier one that this line allows.")


def _check_belongs(patient: Patient, told: Told, phone: Phone | None) -> None:
    """Refuse lines, a version or a phone that are not this patient's."""
    lines = {done.line.pk for done in told.performances}
    if len(lines) != len(told.performances):
        raise ActionRefused("A line comes once in a session.")
    theirs = Line.objects.filter(
        pk__in=lines, version__patient=patient, version__state=PlanVersion.State.ISSUED
    )
    if lines and theirs.count() != len(lines):
        raise ActionRefused("A line of this session isn't in any issued version of the plan.")
    if told.version and (
        told.version.patient_id != patient.pk or told.version.state != PlanVersion.State.ISSUED
    ):
        raise ActionRefused("The version of this session isn't an issued one of this patient.")
    if phone and phone.patient_id != patient.pk:
        raise ActionRefused("This phone isn't enrolled for this patient.")


def _is_within(value: object, lowest: int, highest: int) -> bool:
    return type(value) is int and lowest <= value <= highest


def hash_of_content(replaces: UUID | None, told: Told) -> str:
    """Return the hash of what two deliveries of one revision must agree in."""
    content = {
        "replaces": str(replaces) if replaces else None,
        "day": told.day.isoformat(),
        "occasion": told.occasion,
        "source": told.source,
        "version": told.version.pk if told.version else None,
        "performances": sorted(
            (
                done.line.pk,
                list(done.amounts),
                done.load_g,
                done.is_confirmed,
                # Only where said, so that a telling hashes as it did before these were asked.
                *((done.hurt,) if done.hurt is not None or done.said else ()),
                *((sorted(done.said.items()),) if done.said else ()),
            )
            for done in told.performances
        ),
        "scores": [getattr(told, score) for score in SCORES],
        "note": told.note,
        "began_at": told.began_at.isoformat() if told.began_at else None,
        "time_zone": told.time_zone,
    }
    text = json.dumps(content, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


@transaction.atomic
def mark_heard(
    *, patient: Patient, days: Collection[date], source: str, by: User | None, actor: str = ""
) -> int:
    """Mark days as taken from paper or telephone; return how many were not marked before."""
    if source not in (Source.PAPER, Source.TELEPHONE):
        raise ActionRefused("A day is marked as heard from paper or by telephone.")
    known = HeardDay.objects.filter(patient=patient, day__in=days).values_list("day", flat=True)
    new = sorted(set(days) - set(known))
    if new:
        # Someone marking the same day just now means the same: theirs stands.
        HeardDay.objects.bulk_create(
            [
                HeardDay(
                    patient=patient, day=day, source=source, marked_by=by, marked_at=timezone.now()
                )
                for day in new
            ],
            ignore_conflicts=True,
        )
        write_audit(
            user=by,
            actor=actor,
            verb="marked days heard",
            subject=_span(new),
            patient_id=patient.pk,
            days=[day.isoformat() for day in new],
            source=source,
        )
    return len(new)


@transaction.atomic
def unmark_heard(
    *, patient: Patient, days: Collection[date], by: User | None, actor: str = ""
) -> int:
    """Take marks of heard days back; the record keeps that they stood and who took them."""
    marked = HeardDay.objects.filter(patient=patient, day__in=days)
    taken = sorted(marked.values_list("day", flat=True))
    if taken:
        marked.delete()
        write_audit(
            user=by,
            actor=actor,
            verb="unmarked days heard",
            subject=_span(taken),
            patient_id=patient.pk,
            days=[day.isoformat() for day in taken],
        )
    return len(taken)


def _span(days: list[date]) -> str:
    return f"{days[0]}" if len(days) == 1 else f"{days[0]} to {days[-1]}, {len(days)} days"


@transaction.atomic
def strike_entry(*, by: User, entry: Entry, reason: str) -> Entry:
    """Strike an entry out, so that it counts nowhere; it stays on record with who and why."""
    reason = reason.strip()
    if not reason:
        raise ActionRefused("Write why the entry is struck out.")
    lock_patients([entry.patient_id])
    struck = Entry.objects.filter(pk=entry.pk, struck_at__isnull=True).update(
        struck_at=timezone.now(), struck_by=by, struck_reason=reason[:200]
    )
    if not struck:
        raise ActionRefused("This entry is struck out already.")
    _keep_day_of(entry)
    write_audit(
        user=by,
        verb="struck entry",
        subject=str(entry.pk),
        patient_id=entry.patient_id,
        reason=reason,
    )
    entry.refresh_from_db()
    return entry


@transaction.atomic
def restore_entry(*, by: User, entry: Entry) -> Entry:
    """Let a struck entry count again; the record keeps the strike."""
    lock_patients([entry.patient_id])
    restored = Entry.objects.filter(pk=entry.pk, struck_at__isnull=False).update(
        struck_at=None, struck_by=None, struck_reason=""
    )
    if not restored:
        raise ActionRefused("This entry isn't struck out.")
    _keep_day_of(entry)
    write_audit(user=by, verb="restored entry", subject=str(entry.pk), patient_id=entry.patient_id)
    entry.refresh_from_db()
    return entry


def _keep_day_of(entry: Entry) -> None:
    days = Revision.objects.filter(entry=entry, is_current=True).values_list("day", flat=True)
    keep_days(entry.patient_id, set(days))
