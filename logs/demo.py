"""The simulated clinic as rows: staff, people, plans, phones, entries, and the audit of it all.

Rows are written in bulk and with the instants of the simulation; each is the row that the action
of the same verb would have written then.
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from functools import partial
from hashlib import sha256
from uuid import NAMESPACE_URL, UUID, uuid5
from zoneinfo import ZoneInfo

from clinic.actions import add_staff, save_profile
from clinic.models import AuditRow, ClinicProfile, User
from logs.actions import SCORES, Performed, hash_of_content, performance_rows
from logs.actions import Told as ToldRow
from logs.demo_measures import write_measures
from logs.demo_stops import write_stops
from logs.models import Entry, HeardDay, MissedReason, Performance, Revision
from logs.simulator.cast import Cast
from logs.simulator.people import (
    SimulatedEntry,
    SimulatedPerson,
    SimulatedPhone,
    SimulatedVersion,
    Told,
)
from logs.upkeep import keep_all_days
from patients.models import CareTeamMember, Episode, HomeHelper, Patient, Phone, PhoneStore
from plans.models import ExerciseRevision, Line, Pause, PlanVersion
from plans.queries import current_revisions
from plans.span_actions import keep_due_spans

ROWS_AT_ONCE = 2_000
STRUCK_REASON = "Entered twice by mistake"


def add_clinic(cast: Cast, password: str) -> dict[str, User]:
    """Make this database the demo's: its name, its mark, its staff. Return them by username."""
    save_profile(by=None, profile=ClinicProfile(**cast.clinic, is_demo=True))
    return {
        member["username"]: add_staff(by=None, password=password, **member) for member in cast.staff
    }


def add_people(
    people: Iterable[SimulatedPerson], *, staff: Mapping[str, User], zone: ZoneInfo, now: datetime
) -> None:
    """Write simulated people down; call it inside a transaction. Nothing is dated after ``now``."""
    exercises = {revision.exercise.key: revision for revision in current_revisions()}
    rows = _Rows()
    for person in people:
        _Chart(person, staff, exercises, zone, now, rows).write()
        if rows.is_full:
            rows.save()
    rows.save()


def performed(line_of: Callable[[str], Line], told: Told) -> tuple[Performed, ...]:
    """Return what was done of each line, and what was said of it or of one that was left out."""
    said = {line.line_key: line for line in told.said}
    done = {performance.line_key: performance for performance in told.performances}
    rows = []
    for key in (*done, *(key for key in said if key not in done)):
        line, words = done.get(key), said.get(key)
        rows.append(
            Performed(
                line=line_of(key),
                amounts=line.amounts if line else (),
                load_g=line.load_g if line else None,
                is_confirmed=line.confirmed if line else True,
                hurt=None if told.hurt is None else key == told.hurt,
                ended=words.ended if words else None,
                why=words.why if words else None,
                step=line.step if line else None,
            )
        )
    return tuple(rows)


@dataclass
class _Rows:
    """Rows that wait to be written together, in the order their tables need."""

    entries: list[Entry] = field(default_factory=list)
    revisions: list[Revision] = field(default_factory=list)
    performances: list[Performance] = field(default_factory=list)
    heard_days: list[HeardDay] = field(default_factory=list)
    missed: list[MissedReason] = field(default_factory=list)
    audit: list[AuditRow] = field(default_factory=list)
    patients: list[int] = field(default_factory=list)

    @property
    def is_full(self) -> bool:
        return len(self.performances) > ROWS_AT_ONCE * 10

    def save(self) -> None:
        Entry.objects.bulk_create(self.entries, batch_size=ROWS_AT_ONCE)
        Revision.objects.bulk_create(self.revisions, batch_size=ROWS_AT_ONCE)
        Performance.objects.bulk_create(self.performances, batch_size=ROWS_AT_ONCE)
        keep_all_days(self.patients)
        HeardDay.objects.bulk_create(self.heard_days, batch_size=ROWS_AT_ONCE)
        MissedReason.objects.bulk_create(self.missed, batch_size=ROWS_AT_ONCE)
        self.audit.sort(key=lambda row: row.at)
        AuditRow.objects.bulk_create(self.audit, batch_size=ROWS_AT_ONCE)
        self.__init__()  # type: ignore[misc]


class _Chart:
    """One person's rows."""

    def __init__(
        self,
        person: SimulatedPerson,
        staff: Mapping[str, User],
        exercises: Mapping[str, ExerciseRevision],
        zone: ZoneInfo,
        now: datetime,
        rows: _Rows,
    ) -> None:
        self.person, self.story, self.staff = person, person.story, staff
        self.exercises, self.zone, self.now, self.rows = exercises, zone, now, rows
        self.today = person.days[-1].day + timedelta(1)
        self.keeper = staff[self.story.team[0]]
        self.lines: dict[tuple[int, str], Line] = {}
        self.versions: dict[int, PlanVersion] = {}

    def write(self) -> None:
        """Write the person down; what may wait goes to the rows."""
        self._add_person()
        for version in self.person.versions:
            self._issue(version)
        for span, reason in self.person.pauses:
            at = self._at(span.recorded_day or span.first_day, 9)
            pause = Pause.objects.create(
                patient=self.patient,
                first_day=span.first_day,
                last_day=span.last_day,
                reason=reason,
                made_by=self.keeper,
                made_at=at,
                recorded_day=span.recorded_day or span.first_day,
            )
            self._audit(at, self.keeper, "paused plan", str(pause))
        keep_due_spans([self.patient.pk])
        self.rows.patients.append(self.patient.pk)
        self.phones = [self._enrol(phone) for phone in self.person.phones]
        for entry in self.person.entries:
            self._record(entry)
        self._mark_heard()
        self._say_why_missed()
        write_measures(
            self.story,
            patient=self.patient,
            episode=self.episode,
            staff=self.staff,
            first_day=self.episode.opened_day,
            today=self.today,
            at=self._at,
            audit=self._audit,
        )
        write_stops(
            self.person,
            patient=self.patient,
            phone=next(iter(self.phones), None),
            keeper=self.keeper,
            at=self._at,
            audit=self._audit,
        )

    def _at(self, day: date, hour: int, minute: int = 0) -> datetime:
        return min(datetime.combine(day, time(hour, minute), self.zone), self.now)

    def _audit(
        self,
        at: datetime,
        user: User | None,
        verb: str,
        subject: str,
        actor: str = "",
        **detail: object,
    ) -> None:
        self.rows.audit.append(
            AuditRow(
                at=at,
                user=user,
                actor=user.name if user else actor,
                verb=verb,
                patient=self.patient.pk,
                subject=subject[:120],
                detail=detail,
            )
        )

    def _add_person(self) -> None:
        story = self.story
        first_day = (
            self.person.versions[0].issued_at.astimezone(self.zone).date()
            if self.person.versions
            else self.today - timedelta(1)
        )
        at = self._at(first_day, 10)
        self.patient = Patient.objects.create(
            clinic_number=story.number,
            name=story.name,
            birth_date=story.born,
            sex=story.sex,
            stature_cm=story.stature_cm,
            body_mass_kg=None if story.body_mass_kg is None else Decimal(str(story.body_mass_kg)),
            affected_side=story.affected,
            dominant_side=story.dominant,
            language=story.language,
            text_size=story.text_size,
            time_zone=str(self.zone) if self.person.phones else "",
        )
        Patient.objects.filter(pk=self.patient.pk).update(added_at=at)
        self._audit(at, self.keeper, "added patient", story.number)
        episode = dict(story.episode)
        for name in ("onset", "operation"):
            if (days_ago := episode.pop(f"{name}_days_ago", None)) is not None:
                episode[f"{name}_day"] = self.today - timedelta(days_ago)
        self.episode = Episode.objects.create(patient=self.patient, opened_day=first_day, **episode)
        self._audit(at, self.keeper, "added episode", self.episode.diagnosis)
        for helper in story.helpers:
            row = HomeHelper.objects.create(patient=self.patient, **helper)
            self._audit(at, self.keeper, "added helper", row.name)
        CareTeamMember.objects.bulk_create(
            CareTeamMember(patient=self.patient, user=self.staff[username], since=at)
            for username in story.team
        )
        for username in story.team[1:]:
            self._audit(at, self.keeper, "added to care team", self.staff[username].name)

    def _issue(self, version: SimulatedVersion) -> None:
        by, signer = self.staff[version.by], self.staff["supervisor"]
        made_at = min(version.issued_at, self.now) - timedelta(minutes=15)
        row = PlanVersion.objects.create(
            patient=self.patient,
            number=version.number,
            pain_limit=version.pain_limit,
            made_by=by,
            made_at=made_at,
            edits=len(version.lines),
        )
        lines = []
        for position, line in enumerate(version.lines):
            prescribed = line.prescribed
            lines.append(
                Line(
                    version=row,
                    key=prescribed.key,
                    position=position,
                    revision=self.exercises[prescribed.exercise],
                    step=prescribed.step.key if prescribed.step else "",
                    side=prescribed.side,
                    unit=prescribed.unit,
                    sets=prescribed.sets,
                    amount_low=prescribed.amount_low,
                    amount_high=prescribed.amount_high,
                    hold_s=prescribed.hold_s,
                    pace_s=Decimal(str(prescribed.pace_s)),
                    rest_s=line.rest_s,
                    load_g=prescribed.load_g,
                    load_means=line.load_means,
                    sessions_per_day=prescribed.sessions_per_day,
                    weekdays=sum(1 << day for day in prescribed.weekdays),
                    note_patient=line.note,
                    easier_allowed=prescribed.easier is not None,
                    episode=self.episode,
                )
            )
        for line_row in Line.objects.bulk_create(lines):
            self.lines[version.number, line_row.key] = line_row
        needs_signature = version.waits or version.signed_at is not None
        row.state = PlanVersion.State.WAITING if version.waits else PlanVersion.State.ISSUED
        row.needs_signature = needs_signature
        row.effective_day = version.effective_day
        row.change_sentence = version.change
        row.issued_by, row.issuer = by, by.name
        row.issued_at = min(version.issued_at, self.now)
        if version.signed_at:
            row.signed_by, row.signed_at = signer, min(version.signed_at, self.now)
        row.save()
        self.versions[version.number] = row
        self._audit(made_at, by, "started draft", str(row))
        self._audit(
            row.issued_at,
            by,
            "issued for signature" if needs_signature else "issued plan",
            str(row),
            effective_day=row.issued_at.astimezone(self.zone).date().isoformat(),
        )
        if row.signed_at:
            self._audit(row.signed_at, signer, "signed version", str(row))

    def _enrol(self, phone: SimulatedPhone) -> Phone:
        at = self._at(phone.enrolled_day, 11)
        place = f"{self.story.number}/{phone.label}"
        row = Phone.objects.create(
            patient=self.patient,
            label=phone.label,
            token_hash=sha256(f"nobody holds this phone: {place}".encode()).hexdigest(),
            enrolled_at=at,
            enrolled_day=phone.enrolled_day,
        )
        for number, store in enumerate(phone.stores):
            empty_day = store.last_empty_day
            PhoneStore.objects.create(
                phone=row,
                store_id=uuid5(NAMESPACE_URL, f"{place}/{number}"),
                made_day=store.made_day,
                is_first=number == 0,
                last_empty_day=empty_day,
                last_empty_at=empty_day
                and self._at(empty_day, *((7, 45) if empty_day == self.today else (22, 0))),
            )
        self._audit(at, None, "enrolled phone", row.label, actor="phone", phone=row.pk)
        return row

    def _record(self, entry: SimulatedEntry) -> None:
        phone = None if entry.phone is None else self.phones[entry.phone]
        by = None if phone else self.keeper
        self.rows.entries.append(
            Entry(
                pk=entry.uuid,
                patient=self.patient,
                struck_at=entry.struck_at and min(entry.struck_at, self.now),
                struck_by=self.keeper if entry.struck_at else None,
                struck_reason=STRUCK_REASON if entry.struck_at else "",
            )
        )
        for place, told in enumerate(entry.revisions):
            scores = dict(zip(SCORES, told.scores, strict=True))
            row = ToldRow(
                day=entry.day,
                occasion=entry.occasion,
                source=entry.source,
                version=self.versions[entry.version],
                performances=performed(partial(self._line, entry.version), told),
                note=told.note,
                began_at=entry.began_at,
                time_zone=str(self.zone) if phone else "",
                **scores,
            )
            received_at = min(told.received_at, self.now)
            is_current = place == len(entry.revisions) - 1
            revision = self._revision(entry.uuid, told.uuid, told.replaces, row, is_current)
            revision.received_at, revision.phone, revision.recorded_by = received_at, phone, by
            self.rows.revisions.append(revision)
            self.rows.performances += performance_rows(told.uuid, row)
            self._audit(
                received_at,
                by,
                "corrected entry" if place else "recorded entry",
                str(revision),
                actor=f"phone: {phone.label}" if phone else "",
                entry=str(entry.uuid),
                revision=str(told.uuid),
                source=entry.source,
            )
        if entry.struck_at:
            at = min(entry.struck_at, self.now)
            self._audit(at, self.keeper, "struck entry", str(entry.uuid), reason=STRUCK_REASON)

    def _line(self, version: int, key: str) -> Line:
        return self.lines[version, key]

    def _revision(
        self, entry: UUID, uuid: UUID, replaces: UUID | None, told: ToldRow, is_current: bool
    ) -> Revision:
        fields = {
            name: getattr(told, name)
            for name in (
                "version",
                "day",
                "occasion",
                "source",
                "began_at",
                "time_zone",
                "note",
                "done",
                "seen",
            )
        }
        return Revision(
            pk=uuid,
            entry_id=entry,
            patient=self.patient,
            replaces=replaces,
            is_current=is_current,
            content_hash=hash_of_content(replaces, told),
            **fields,
            **{score: getattr(told, score) for score in SCORES},
        )

    def _say_why_missed(self) -> None:
        for day, reason, source in self.person.missed:
            by = None if source == MissedReason.Told.PHONE else self.keeper
            at = self._at(day + timedelta(1), 7, 30) if by is None else self._at(self.today, 9)
            self.rows.missed.append(
                MissedReason(
                    patient=self.patient,
                    day=day,
                    reason=reason,
                    source=source,
                    recorded_by=by,
                    recorded_at=at,
                )
            )
            self._audit(
                at,
                by,
                "said why missed",
                day.isoformat(),
                actor=f"phone: {self.phones[0].label}" if by is None else "",
                occasion=None,
                reason=reason,
                before="",
                source=source,
            )

    def _mark_heard(self) -> None:
        """Mark the days of a paper diary, a visit at a time."""
        visits: dict[tuple[datetime, str], list[date]] = {}
        for day, (visit, source) in self.person.typed_in.items():
            visits.setdefault((self._at(visit, 11, 30), source), []).append(day)
        for (at, source), days in visits.items():
            days.sort()
            self.rows.heard_days += [
                HeardDay(
                    patient=self.patient,
                    day=day,
                    source=source,
                    marked_by=self.keeper,
                    marked_at=at,
                )
                for day in days
            ]
            self._audit(
                at,
                self.keeper,
                "marked days heard",
                f"{days[0]} to {days[-1]}, {len(days)} days",
                days=[day.isoformat() for day in days],
                source=source,
            )
