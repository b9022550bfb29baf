"""Reads of what was told, as the plain values that computing takes.

History is never made into model objects: a review reads a thousand rows, the caseload many more.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, NamedTuple
from uuid import UUID

from django.db.models import Q, QuerySet

from clinic.models import Role
from logs.adherence import Performance, Session
from logs.heard import PhoneWord, StoreReport
from logs.kept import KeptFacts, SeenLine, ToldDay
from logs.models import Entry, HeardDay, KeptDay, Revision, SessionPair
from logs.models import Performance as PerformanceRow
from patients.models import CareTeamMember, Episode, Patient, Phone, PhoneStore
from plans.schedule import Unit, Window


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
    """One revision of an entry: what was done, how it felt, and how we know."""

    revision: UUID
    session: Session
    scores: Scores
    note: str
    began_at: datetime | None
    received_at: datetime
    recorded_by: str
    phone: str
    strike: Strike | None


def tellings_in(patient: Patient, window: Window) -> tuple[Telling, ...]:
    """Return each entry of the window as it stands, struck ones too, as done (two queries)."""
    return _tellings(Q(entry__patient=patient, is_current=True), Q(day__range=_ends(window)))


def earlier_tellings(patient: Patient) -> dict[str, tuple[Telling, ...]]:
    """Return what corrections replaced, by entry, first received first (two queries)."""
    found: dict[str, list[Telling]] = defaultdict(list)
    for telling in _tellings(Q(entry__patient=patient, is_current=False)):
        found[telling.session.entry].append(telling)
    return {
        entry: tuple(sorted(tellings, key=lambda telling: telling.received_at))
        for entry, tellings in found.items()
    }


def sessions_in(patient: Patient, window: Window) -> tuple[Session, ...]:
    """Return what counts of the window's entries, as done (two queries)."""
    return tuple(
        telling.session for telling in tellings_in(patient, window) if telling.strike is None
    )


_HEAD_FIELDS = (
    "pk",
    "entry",
    "entry__patient",
    "day",
    "occasion",
    "source",
    "phone",
    "version__number",
    "began_at",
    "received_at",
    "pain_worst",
    "pain_after",
)


class _Head(NamedTuple):
    """A revision without its performances, as `_HEAD_FIELDS` read it."""

    revision: UUID
    entry: UUID
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


def _in_order(heads: Iterable[_Head]) -> list[_Head]:
    """Sort sessions by patient and day, those of a day in the order done.

    That is by when they began where all of the day say it; else by occasion number, those beside
    any last, and then as received.
    """
    by_day: dict[tuple[int, date], list[_Head]] = defaultdict(list)
    for head in heads:
        by_day[head.patient, head.day].append(head)
    ordered: list[_Head] = []
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


def _session(head: _Head, order: int, performances: tuple[Performance, ...]) -> Session:
    return Session(
        entry=str(head.entry),
        day=head.day,
        number=head.occasion,
        source=head.source,
        device=None if head.phone is None else str(head.phone),
        order=order,
        performances=performances,
        version=head.version,
    )


def _performances(of: Q) -> dict[UUID, tuple[Performance, ...]]:
    """What the revisions that ``of`` selects say of each line, by revision."""
    found: dict[UUID, list[Performance]] = defaultdict(list)
    rows = (
        PerformanceRow.objects.filter(revision__in=Revision.objects.filter(of))
        .order_by("line__position", "pk")
        .values_list("revision", "line__key", "amounts", "load_g", "is_confirmed")
    )
    for revision, key, amounts, load_g, is_confirmed in rows.iterator(chunk_size=2000):
        found[revision].append(Performance(key, tuple(amounts), load_g, is_confirmed))
    return {revision: tuple(done) for revision, done in found.items()}


def _tellings(which: Q, when: Q | None = None) -> tuple[Telling, ...]:
    of = which & when if when else which
    rows = {
        row[0]: row
        for row in Revision.objects.filter(of)
        .order_by()
        .values_list(
            *_HEAD_FIELDS,
            "pain_before",
            "pain_next_morning",
            "effort",
            "note",
            "recorded_by__name",
            "phone__label",
            "entry__struck_at",
            "entry__struck_by__name",
            "entry__struck_reason",
        )
    }
    performed = _performances(of)
    told = []
    heads = _in_order(_Head(*row[: len(_HEAD_FIELDS)]) for row in rows.values())
    for order, head in enumerate(heads):
        before, next_morning, effort, note, recorded_by, phone, struck_at, struck_by, reason = rows[
            head.revision
        ][len(_HEAD_FIELDS) :]
        told.append(
            Telling(
                revision=head.revision,
                session=_session(head, order, performed.get(head.revision, ())),
                scores=Scores(before, head.pain_worst, head.pain_after, next_morning, effort),
                note=note,
                began_at=head.began_at,
                received_at=head.received_at,
                recorded_by=recorded_by or "",
                phone=phone or "",
                strike=Strike(struck_at, struck_by or "", reason) if struck_at else None,
            )
        )
    return tuple(told)


_KEPT_FIELDS = (
    "version",
    "performances__line__version",
    "performances__line__key",
    "performances__line__unit",
    "performances__line__sets",
    "performances__line__amount_high",
    "performances__line__sessions_per_day",
    "performances__amounts",
    "performances__is_confirmed",
)


def told_days(patient: int, days: Collection[date] | None = None) -> tuple[ToldDay, ...]:
    """Return the days of a patient's counting entries, all for None, as what is kept is made of.

    One query; a second one where entries may be one session told twice.
    """
    revisions = Revision.objects.filter(entry__patient=patient)
    if days is not None:
        revisions = revisions.filter(day__in=days)
    return told_days_in(revisions, SessionPair.objects.filter(patient=patient))


def told_days_in(revisions: QuerySet[Any], pairs: QuerySet[Any]) -> tuple[ToldDay, ...]:
    """Return the days of the counting ones of one patient's revisions, with that one's pairs."""
    rows = revisions.filter(is_current=True, entry__struck_at__isnull=True).order_by()
    heads: dict[UUID, _Head] = {}
    performed: dict[UUID, list[Performance]] = defaultdict(list)
    seen: dict[UUID, dict[str, SeenLine]] = defaultdict(dict)
    for row in rows.values_list(*_HEAD_FIELDS, *_KEPT_FIELDS):
        head = _Head(*row[: len(_HEAD_FIELDS)])
        heads[head.revision] = head
        version, of, key, unit, sets, high, times, amounts, confirmed = row[len(_HEAD_FIELDS) :]
        if key is not None:
            performed[head.revision].append(Performance(key, tuple(amounts), None, confirmed))
            line = SeenLine(Unit(unit), sets * high * times, of == version)
            seen[head.revision][key] = line
    by_day: dict[date, list[tuple[_Head, Session]]] = defaultdict(list)
    for order, head in enumerate(_in_order(heads.values())):
        session = _session(head, order, tuple(performed[head.revision]))
        by_day[head.day].append((head, session))
    apart = _told_apart(pairs, by_day.values())
    return tuple(
        ToldDay(
            day=day,
            sessions=tuple(session for _, session in there),
            worst_pains=tuple(head.pain_worst for head, _ in there),
            lines={
                (session.entry, key): line
                for head, session in there
                for key, line in seen[head.revision].items()
            },
            told_apart=apart,
        )
        for day, there in by_day.items()
    )


def _told_apart(
    pairs: QuerySet[Any], days: Iterable[list[tuple[_Head, Session]]]
) -> Collection[frozenset[str]]:
    """Pairs of entries that a person has called two sessions; not asked where none can be one."""
    for there in days:
        numbers = [head.occasion for head, _ in there if head.occasion is not None]
        if len(set(numbers)) < len(numbers):
            two = pairs.filter(is_same=False).values_list("one", "other")
            return {frozenset(map(str, pair)) for pair in two}
    return ()


def kept_days(patient: int) -> dict[date, KeptFacts]:
    """Return what is kept of a patient, by day (one query)."""
    names = list(KeptFacts.__dataclass_fields__)
    rows = KeptDay.objects.filter(patient=patient).order_by("day")
    return {
        day: KeptFacts(
            **dict(zip(names, facts, strict=False)),
            recorded={key: (amount, tuple(seen)) for key, (amount, seen) in recorded.items()},
        )
        for day, *facts, recorded in rows.values_list("day", *names)
    }


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
    words = phone_words(patients)
    return {
        patient: Hearing(dict(marked[patient]), words.get(patient, ()))
        for patient in marked.keys() | words.keys()
    }


def phone_words(patients: Collection[int] | None) -> dict[int, tuple[PhoneWord, ...]]:
    """Return what patients' phones have reported (two queries); all patients for None."""
    mine = Q() if patients is None else Q(patient__in=patients)
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
    return {patient: tuple(theirs) for patient, theirs in words.items()}


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
