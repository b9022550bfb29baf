"""Reads of what was told, as the plain values that computing takes.

History is never made into model objects: a review reads a thousand rows, the caseload many more.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime
from operator import attrgetter
from typing import NamedTuple
from uuid import UUID

from django.db import connection

from clinic.models import Role
from logs.adherence import Performance, Session
from logs.done_text import Known
from logs.heard import PhoneWord, StoreReport
from logs.models import Entry, Revision
from logs.obstacles import SaidOfLine
from logs.pain import PainReport
from patients.models import CareTeamMember, Episode, Patient
from plans.schedule import Window


class Strike(NamedTuple):
    """Who struck an entry out, when and why."""

    at: datetime
    by: str
    reason: str


class Telling(NamedTuple):
    """One revision of an entry: what was done, how it felt, and how we know.

    ``uuid`` is the database's form of ``revision``; ``effort`` is from 0 to 10, None where nothing
    was said; ``said`` is what was said of lines beside the amounts.
    """

    uuid: UUID | str
    session: Session
    pain: PainReport
    effort: int | None
    note: str
    began_at: datetime | None
    received_at: datetime
    recorded_by: str
    phone: str
    strike: Strike | None
    said: tuple[SaidOfLine, ...]

    @property
    def revision(self) -> str:
        """Its UUID, as text."""
        return dashed(self.uuid)


def tellings_in(patient: Patient, window: Window) -> tuple[Telling, ...]:
    """Return each entry of the window as it stands, struck ones too, as done (one query)."""
    ends = (day.isoformat() for day in _ends(window))
    return _tellings("r.is_current AND r.day BETWEEN %s AND %s", patient.pk, *ends)


def earlier_tellings(patient: Patient, entries: Collection[str]) -> dict[str, tuple[Telling, ...]]:
    """Return what corrections replaced of entries, first received first.

    One query, none without entries.
    """
    if not entries:
        return {}
    found: dict[str, list[Telling]] = defaultdict(list)
    which = f"NOT r.is_current AND r.entry_id IN ({', '.join(['%s'] * len(entries))})"
    field = Revision._meta.get_field("entry")
    given = [field.get_db_prep_value(UUID(entry), connection) for entry in entries]
    for telling in _tellings(which, patient.pk, *given):
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
            here.sort(key=_by_number)
            if all(head.began_at for head in here):
                here.sort(key=_by_begin)  # stable: those of one moment stay as numbered
        ordered += here
    return ordered


_by_begin = attrgetter("began_at")


def _by_number(head: Head) -> tuple[bool, int, datetime]:
    return head.occasion is None, head.occasion or 0, head.received_at


def session_of(head: Head, order: int, performances: tuple[Performance, ...]) -> Session:
    """Return a revision as the session that it tells of."""
    return Session(
        dashed(head.entry),
        head.day,
        head.occasion,
        head.source,
        None if head.phone is None else str(head.phone),
        order,
        performances,
        head.version,
    )


def dashed(uuid: UUID | str) -> str:
    """Return a UUID as sessions name their entry."""
    if isinstance(uuid, UUID):
        return str(uuid)
    return (
        uuid if "-" in uuid else f"{uuid[:8]}-{uuid[8:12]}-{uuid[12:16]}-{uuid[16:20]}-{uuid[20:]}"
    )


def _in_utc(at: datetime) -> datetime:
    return at if at.tzinfo else at.replace(tzinfo=UTC)


# What a row names is looked up by row: PostgreSQL plans that in half the time of as many joins.
# UUIDs come as text, as sessions name their entry: an object of each takes longer than its row.
_TELLINGS = """
SELECT CAST(r.uuid AS text), CAST(r.entry_id AS text),
       r.patient_id, r.day, r.occasion, r.source, r.phone_id,
       (SELECT v.number FROM plans_planversion v WHERE v.id = r.version_id),
       r.began_at, r.received_at, r.pain_worst, r.pain_after, r.pain_before, r.pain_next_morning,
       r.effort, r.note, (SELECT u.name FROM clinic_user u WHERE u.id = r.recorded_by_id),
       (SELECT p.label FROM patients_phone p WHERE p.id = r.phone_id),
       e.struck_at, (SELECT u.name FROM clinic_user u WHERE u.id = e.struck_by_id), e.struck_reason,
       r.done
FROM logs_revision r
JOIN logs_entry e ON e.uuid = r.entry_id AND e.patient_id = r.patient_id
WHERE r.patient_id = %s AND {which}
"""
_HEAD = len(Head._fields)


def _tellings(which: str, patient: int, *given: str | UUID) -> tuple[Telling, ...]:
    """The tellings that a condition selects, by plain statements: a review is mostly this."""
    with connection.cursor() as cursor:
        cursor.execute(_TELLINGS.format(which=which), [patient, *given])
        rows = {row[0]: row for row in cursor.fetchall()}
    known = Known()
    told = []
    for order, head in enumerate(in_order(Head(*row[:_HEAD]) for row in rows.values())):
        before, next_morning, effort, note, recorded_by, phone, struck_at, struck_by, why, text = (
            rows[head.revision][_HEAD:]
        )
        done = known.lines(text)
        session = session_of(head, order, tuple([line.performance for line in done]))
        told.append(
            Telling(
                uuid=head.revision,
                session=session,
                pain=PainReport(
                    session.entry,
                    head.day,
                    before,
                    head.pain_worst,
                    head.pain_after,
                    next_morning,
                    tuple([line.performance.line_key for line in done if line.is_named]),
                ),
                effort=effort,
                note=note,
                began_at=head.began_at and _in_utc(head.began_at),
                received_at=_in_utc(head.received_at),
                recorded_by=recorded_by or "",
                phone=phone or "",
                strike=Strike(_in_utc(struck_at), struck_by or "", why) if struck_at else None,
                said=tuple([line.said for line in done if line.said]),
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


_MARKED = "SELECT day, source FROM logs_heardday WHERE patient_id = %s AND day BETWEEN %s AND %s"
_PHONES = """
SELECT p.id, p.enrolled_day, p.revoked_day, s.store_id, s.made_day, s.is_first, s.last_empty_day
FROM patients_phone p
LEFT JOIN patients_phonestore s ON s.phone_id = p.id
WHERE p.patient_id = %s ORDER BY p.id, s.id
"""


def hearing_of(patient: Patient, window: Window) -> Hearing:
    """Return what tells which days of the window are heard (two queries)."""
    ends = [day.isoformat() for day in _ends(window)]
    enrolled: dict[int, tuple[date, date | None]] = {}
    reports: dict[int, list[StoreReport]] = defaultdict(list)
    with connection.cursor() as cursor:
        cursor.execute(_MARKED, [patient.pk, *ends])
        marked = dict(cursor.fetchall())
        cursor.execute(_PHONES, [patient.pk])
        for phone, first_day, revoked_day, store, made_day, is_first, empty in cursor.fetchall():
            enrolled[phone] = first_day, revoked_day
            if store:
                reports[phone].append(StoreReport(str(store), made_day, bool(is_first), empty))
    words = (PhoneWord(*days, tuple(reports[phone])) for phone, days in enrolled.items())
    return Hearing(marked, tuple(words))


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
