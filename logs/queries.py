"""Reads of what was told, as the plain values that computing takes.

History is never made into model objects: a review reads a thousand rows, the caseload many more.
"""

import json
from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime
from functools import lru_cache
from typing import NamedTuple
from uuid import UUID

from django.db import connection
from django.db.models import Q

from clinic.models import Role
from logs.adherence import Performance, Session
from logs.heard import PhoneWord, StoreReport
from logs.models import Entry, HeardDay
from patients.models import CareTeamMember, Episode, Patient, Phone, PhoneStore
from plans.schedule import Window


class Scores(NamedTuple):
    """Pains and effort as one revision gives them, 0 to 10; None is no answer."""

    pain_before: int | None
    pain_worst: int | None
    pain_after: int | None
    pain_next_morning: int | None
    effort: int | None

    @property
    def has_pain(self) -> bool:
        """Whether any pain score was given."""
        return any(score is not None for score in self[:4])


class Strike(NamedTuple):
    """Who struck an entry out, when and why."""

    at: datetime
    by: str
    reason: str


@dataclass(frozen=True, slots=True)
class Telling:
    """One revision of an entry: what was done, how it felt, and how we know.

    ``hurt`` are the keys of the lines that the patient named the pain with.
    """

    revision: UUID
    session: Session
    scores: Scores
    note: str
    began_at: datetime | None
    received_at: datetime
    recorded_by: str
    phone: str
    strike: Strike | None
    hurt: tuple[str, ...]


def tellings_in(patient: Patient, window: Window) -> tuple[Telling, ...]:
    """Return each entry of the window as it stands, struck ones too, as done (two queries)."""
    ends = (day.isoformat() for day in _ends(window))
    return _tellings("r.is_current AND r.day BETWEEN %s AND %s", patient.pk, *ends)


def earlier_tellings(patient: Patient) -> dict[str, tuple[Telling, ...]]:
    """Return what corrections replaced, by entry, first received first (two queries)."""
    found: dict[str, list[Telling]] = defaultdict(list)
    for telling in _tellings("NOT r.is_current", patient.pk):
        found[telling.session.entry].append(telling)
    return {
        entry: tuple(sorted(tellings, key=lambda telling: telling.received_at))
        for entry, tellings in found.items()
    }


class Head(NamedTuple):
    """A revision without its performances, as the database gives it: on SQLite UUIDs are text."""

    revision: UUID | str
    entry: UUID | str
    patient: int
    day: date
    occasion: int | None
    source: str
    phone: int | None
    version: int | None
    began_at: datetime | None
    received_at: datetime
    pain_worst: int | None
    pain_after: int | None


def in_order(heads: Iterable[Head]) -> list[Head]:
    """Sort sessions by patient and day, those of a day in the order done.

    That is by when they began where all of the day say it; else by occasion number, those beside
    any last, and then as received.
    """
    by_day: dict[tuple[int, date], list[Head]] = defaultdict(list)
    for head in heads:
        by_day[head.patient, head.day].append(head)
    ordered: list[Head] = []
    for key in sorted(by_day):
        here = by_day[key]
        if len(here) > 1:
            here.sort(
                key=lambda head: (head.occasion is None, head.occasion or 0, head.received_at)
            )
            began = [(head.began_at, place) for place, head in enumerate(here) if head.began_at]
            if len(began) == len(here):
                here = [here[place] for _, place in sorted(began)]
        ordered += here
    return ordered


def session_of(head: Head, order: int, performances: tuple[Performance, ...]) -> Session:
    """Return a revision as the session that it tells of."""
    return Session(
        entry=dashed(head.entry),
        day=head.day,
        number=head.occasion,
        source=head.source,
        device=None if head.phone is None else str(head.phone),
        order=order,
        performances=performances,
        version=head.version,
    )


def dashed(uuid: UUID | str) -> str:
    """Return a UUID as sessions name their entry."""
    if isinstance(uuid, UUID):
        return str(uuid)
    return f"{uuid[:8]}-{uuid[8:12]}-{uuid[12:16]}-{uuid[16:20]}-{uuid[20:]}"


def _in_utc(at: datetime) -> datetime:
    return at if at.tzinfo else at.replace(tzinfo=UTC)


@lru_cache(maxsize=4096)
def amounts_of(text: str) -> tuple[int, ...]:
    """Return the amounts of a performance from their JSON; the same few come again and again."""
    return tuple(json.loads(text))


_OF = """
FROM logs_revision r
JOIN logs_entry e ON e.uuid = r.entry_id
{joined}
WHERE r.patient_id = %s AND {which}"""
_HEADS = """
SELECT r.uuid, r.entry_id, r.patient_id, r.day, r.occasion, r.source, r.phone_id, v.number,
       r.began_at, r.received_at, r.pain_worst, r.pain_after, r.pain_before, r.pain_next_morning,
       r.effort, r.note, recorder.name, phone.label, e.struck_at, striker.name, e.struck_reason
""" + _OF.replace(
    "{joined}",
    """LEFT JOIN plans_planversion v ON v.id = r.version_id
LEFT JOIN patients_phone phone ON phone.id = r.phone_id
LEFT JOIN clinic_user recorder ON recorder.id = r.recorded_by_id
LEFT JOIN clinic_user striker ON striker.id = e.struck_by_id""",
)
_PERFORMED = (
    "SELECT p.revision_id, l.key, p.amounts, p.load_g, p.is_confirmed, p.hurt"
    + _OF.replace(
        "{joined}",
        """JOIN logs_performance p ON p.revision_id = r.uuid
JOIN plans_line l ON l.id = p.line_id""",
    )
    + " ORDER BY l.position, p.id"
)
_HEAD = len(Head._fields)


def _tellings(which: str, *given: int | str) -> tuple[Telling, ...]:
    """The tellings that a condition selects, as plain statements: a review is mostly this."""
    performed: dict[UUID | str, list[Performance]] = defaultdict(list)
    hurt: dict[UUID | str, list[str]] = defaultdict(list)
    with connection.cursor() as cursor:
        cursor.execute(_HEADS.format(which=which), given)
        rows = {row[0]: row for row in cursor.fetchall()}
        cursor.execute(_PERFORMED.format(which=which), given)
        for revision, key, amounts, load_g, is_confirmed, is_named in cursor.fetchall():
            done = Performance(key, amounts_of(amounts), load_g, is_confirmed)
            performed[revision].append(done)
            if is_named:
                hurt[revision].append(key)
    told = []
    for order, head in enumerate(in_order(Head(*row[:_HEAD]) for row in rows.values())):
        before, next_morning, effort, note, recorded_by, phone, struck_at, struck_by, reason = rows[
            head.revision
        ][_HEAD:]
        revision, began_at = head.revision, head.began_at
        told.append(
            Telling(
                revision=revision if isinstance(revision, UUID) else UUID(hex=revision),
                session=session_of(head, order, tuple(performed.get(revision, ()))),
                scores=Scores(before, head.pain_worst, head.pain_after, next_morning, effort),
                note=note,
                began_at=began_at and _in_utc(began_at),
                received_at=_in_utc(head.received_at),
                recorded_by=recorded_by or "",
                phone=phone or "",
                strike=Strike(_in_utc(struck_at), struck_by or "", reason) if struck_at else None,
                hurt=tuple(hurt.get(revision, ())),
            )
        )
    return tuple(told)


def _ends(window: Window) -> tuple[date, date]:
    return window.first_day, window.last_day


@dataclass(frozen=True, slots=True)
class Hearing:
    """From which days word came: those marked by a person with their source, and the phones."""

    marked: dict[date, str]
    phones: tuple[PhoneWord, ...]


def hearing_of(patient: Patient, window: Window) -> Hearing:
    """Return what tells which days of the window are heard (three queries)."""
    return hearing_by_patient([patient.pk], window).get(patient.pk, Hearing({}, ()))


def hearing_by_patient(patients: Collection[int] | None, window: Window) -> dict[int, Hearing]:
    """Return what tells each patient's heard days (three queries); all patients for None."""
    mine = Q() if patients is None else Q(patient__in=patients)
    marked: dict[int, dict[date, str]] = defaultdict(dict)
    for patient, day, source in HeardDay.objects.filter(mine, day__range=_ends(window)).values_list(
        "patient", "day", "source"
    ):
        marked[patient][day] = source
    phones = list(
        Phone.objects.filter(mine)
        .order_by("pk")
        .values_list("pk", "patient", "enrolled_day", "revoked_day")
    )
    reports: dict[int, list[StoreReport]] = defaultdict(list)
    stores = PhoneStore.objects.filter(phone__in=Phone.objects.filter(mine)).order_by("pk")
    for phone, store, made_day, is_first, last_empty_day in stores.values_list(
        "phone", "store_id", "made_day", "is_first", "last_empty_day"
    ):
        reports[phone].append(StoreReport(str(store), made_day, is_first, last_empty_day))
    words: dict[int, list[PhoneWord]] = defaultdict(list)
    for phone, patient, enrolled_day, revoked_day in phones:
        words[patient].append(PhoneWord(enrolled_day, revoked_day, tuple(reports[phone])))
    return {
        patient: Hearing(dict(marked[patient]), tuple(words[patient]))
        for patient in marked.keys() | words.keys()
    }


def entry_of(patient: Patient, uuid: UUID) -> Entry | None:
    """Return a patient's entry of that UUID, if they have it."""
    return Entry.objects.filter(pk=uuid, patient=patient).first()


class OverseenPatient(NamedTuple):
    """A patient as a supervisor's list names them; the lead is the therapist longest in care."""

    pk: int
    clinic_number: str
    name: str
    time_zone: str
    lead: str
    team: tuple[str, ...]
    has_open_episode: bool


def overseen_patients() -> tuple[OverseenPatient, ...]:
    """Return every patient with who cares for them, by name (three queries)."""
    members: dict[int, list[tuple[str, str]]] = defaultdict(list)
    caring = CareTeamMember.objects.filter(until__isnull=True, cover_reason="")
    for patient, name, role in caring.order_by("since", "pk").values_list(
        "patient", "user__name", "user__role"
    ):
        members[patient].append((name, role))
    in_care = set(
        Episode.objects.filter(closed_day__isnull=True).order_by().values_list("patient", flat=True)
    )
    found = []
    rows = Patient.objects.order_by("name", "pk")
    for pk, number, name, zone in rows.values_list("pk", "clinic_number", "name", "time_zone"):
        team = members.get(pk, [])
        therapists = [member for member, role in team if role == Role.THERAPIST]
        lead = next(iter(therapists or [member for member, _ in team]), "")
        names = tuple(member for member, _ in team)
        found.append(OverseenPatient(pk, number, name, zone, lead, names, pk in in_care))
    return tuple(found)
