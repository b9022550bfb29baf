"""Takes a diary file in: all of it or, where anything in it is wrong, nothing."""

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date
from enum import Enum
from operator import itemgetter
from uuid import UUID, uuid5

from django.db import transaction

from clinic.actions import ActionRefused
from logs.actions import SCORES, Outcome, Performed, Told, mark_heard, record_revision
from logs.cells import FileRefused, Problem
from logs.diary_file import Diary, DiaryRow, DiarySession
from logs.models import Entry, Performance, Revision, Source
from patients.models import Patient
from plans.models import Line, LoadMeans, PlanVersion
from plans.queries import versions_of
from plans.safety_queries import easier_step

_WITHOUT_WEIGHT = (LoadMeans.BAND, LoadMeans.PUTTY, LoadMeans.OTHER_HAND)


class Change(Enum):
    """What an import does with one session of the file."""

    STORED = "stored"
    CORRECTED = "corrected"
    UNCHANGED = "unchanged"
    KEPT = "kept"  # a person corrected it since the same words came in: theirs stand
    ONLY_HEARD = "only heard"  # nothing was done, and nothing else was said


@dataclass(frozen=True)
class Imported:
    """What an import did: sessions by change, and how many days it marked heard.

    Days told of that were ``not_over`` aren't marked heard: more may come of them.
    """

    sessions: Counter[Change]
    days_heard: int
    not_over: int

    @property
    def changed_nothing(self) -> bool:
        """Whether nothing was written."""
        return not (
            self.sessions[Change.STORED] or self.sessions[Change.CORRECTED] or self.days_heard
        )


@transaction.atomic
def import_diary(
    *, diary: Diary, today_of: Callable[[Patient], date], actor: str = "import_diary"
) -> Imported:
    """Store a diary's sessions and mark its days heard; FileRefused stores nothing.

    A session told again unchanged changes nothing; told otherwise it is a correction.
    """
    steps = _steps(diary, today_of)
    for step in steps:
        if step.told and step.change in (Change.STORED, Change.CORRECTED):
            _record(step, step.told, actor)
    days: dict[tuple[Patient, str], set[date]] = defaultdict(set)
    not_over = set()
    for step in steps:
        session = step.session
        if session.source == Source.PHONE:
            continue
        if session.day < step.today:
            days[step.patient, session.source].add(session.day)
        else:
            not_over.add((step.patient, session.day))
    return Imported(
        sessions=Counter(step.change for step in steps),
        days_heard=sum(
            mark_heard(patient=patient, days=these, source=source, by=None, actor=actor)
            for (patient, source), these in days.items()
        ),
        not_over=len(not_over),
    )


@dataclass(frozen=True)
class _Step:
    """What is to become of one session of the file."""

    patient: Patient
    today: date
    session: DiarySession
    told: Told
    change: Change
    replaces: UUID | None


def _record(step: _Step, told: Told, actor: str) -> None:
    """Store one session; its revision's UUID follows from what it says and what it replaces."""
    session = step.session
    try:
        outcome = record_revision(
            patient=step.patient,
            entry=session.entry,
            revision=uuid5(session.entry, f"{step.replaces}|{_content(told)}"),
            replaces=step.replaces,
            told=told,
            actor=actor,
        )
    except ActionRefused as refusal:
        raise FileRefused([session.rows[0].problem("day", str(refusal))]) from refusal
    if outcome is not Outcome.STORED:
        raise FileRefused(
            [session.rows[0].problem("day", "this entry was changed meanwhile: try again")]
        )


def _steps(diary: Diary, today_of: Callable[[Patient], date]) -> list[_Step]:
    """Work out what is to be done. FileRefused lists what can't be."""
    numbers = {session.clinic_number for session in diary.sessions}
    patients = {
        patient.clinic_number: patient
        for patient in Patient.objects.filter(clinic_number__in=numbers)
    }
    problems = [
        session.rows[0].problem(
            "clinic_number", f"no patient here has the number {session.clinic_number}"
        )
        for session in diary.sessions
        if session.clinic_number not in patients
    ]
    by_patient: dict[Patient, list[DiarySession]] = defaultdict(list)
    for session in diary.sessions:
        if session.clinic_number in patients:
            by_patient[patients[session.clinic_number]].append(session)
    steps = []
    for patient, sessions in by_patient.items():
        today = today_of(patient)
        plan = _Plan(patient)
        known = _Known.of(session.entry for session in sessions)
        for session in sessions:
            found = _problems(session, patient, today, plan, known)
            problems += found
            if not found:
                told = _told(session, plan)
                change, replaces = known.change(session, told)
                steps.append(_Step(patient, today, session, told, change, replaces))
    if problems:
        raise FileRefused(problems)
    return steps


def _problems(
    session: DiarySession, patient: Patient, today: date, plan: "_Plan", known: "_Known"
) -> list[Problem]:
    """What of a session does not fit the patient, the day or the plan."""
    first = session.rows[0]
    problems = []
    if session.day > today:
        problems.append(first.problem("day", f"is after today, {today.isoformat()}"))
    owner = known.owners.get(session.entry, patient.pk)
    if owner != patient.pk:
        problems.append(first.problem("entry_uuid", "this UUID names another patient's entry"))
    for row in session.rows:
        if row.line_key and (reason := plan.why_not(row, session.day)):
            problems.append(row.problem("line_key", reason))
        line = plan.line(row.line_key, session.day)
        easier = easier_step(line) if line and line.easier_allowed else None
        if row.step_done and row.step_done != (easier.effort.key if easier else None):
            allowed = f"only {easier.effort.key}" if easier else "no easier step"
            problems.append(row.problem("step_done", f"this line allows {allowed}"))
        if row.load_g and line and line.load_means in _WITHOUT_WEIGHT:
            means = LoadMeans(line.load_means).label.lower()
            problems.append(
                row.problem("load_kg", f"this line's load is {means}, not a weight: leave it empty")
            )
    return problems


class _Plan:
    """A patient's issued versions, as an entry of a day may name their lines."""

    def __init__(self, patient: Patient) -> None:
        issued = versions_of(patient).filter(state=PlanVersion.State.ISSUED)  # newest first
        self.versions = [version for version in issued if version.effective_day]
        self.lines: dict[str, list[tuple[date, Line]]] = defaultdict(list)
        for version in self.versions:
            for line in version.lines.all():
                if version.effective_day:
                    self.lines[line.key].append((version.effective_day, line))

    def version(self, day: date) -> PlanVersion | None:
        """The version in force on a day."""
        return next((v for v in self.versions if v.effective_day and v.effective_day <= day), None)

    def line(self, key: str, day: date) -> Line | None:
        """The line of a key as the newest version has it that was in force by that day."""
        in_force = self.version(day)
        here = [line for first_day, line in self.lines.get(key, ()) if first_day <= day]
        return next((line for line in here if line.version == in_force), here[0] if here else None)

    def why_not(self, row: DiaryRow, day: date) -> str:
        """Why a line can't have been done on a day; empty if it can."""
        if self.line(row.line_key, day):
            return ""
        later = self.lines.get(row.line_key)
        if later:
            first_day = min(first_day for first_day, _ in later)
            return f"{row.line_key} is in the plan only from {first_day.isoformat()} on"
        if not self.lines:
            return "this patient has no issued plan"
        return f"no version of this patient's plan has a line {row.line_key!r}"


def _told(session: DiarySession, plan: _Plan) -> Told:
    performed = []
    for row in session.rows:
        line = plan.line(row.line_key, session.day)
        if line:
            performed.append(
                Performed(
                    line,
                    row.amounts,
                    row.load_g,
                    hurt=row.hurt,
                    ended=row.ended,
                    why=row.why,
                    step=row.step_done,
                )
            )
    in_force = plan.version(session.day)
    seen = [done.line.version for done in performed]
    return Told(
        day=session.day,
        occasion=session.occasion,
        source=session.source,
        version=in_force if in_force in seen or not seen else seen[0],
        performances=tuple(performed),
        note=session.note,
        pain_before=session.scores["pain_before"],
        pain_worst=session.scores["pain_worst"],
        pain_after=session.scores["pain_after"],
        pain_next_morning=session.scores["pain_next_morning"],
        effort=session.scores["effort"],
    )


type _Content = tuple[object, ...]


def _content(told: Told | Revision) -> _Content:
    """What a session says, the same for a file's row and a stored revision."""
    performances: Iterable[Performance | Performed] = (
        told.performances.all() if isinstance(told, Revision) else told.performances
    )
    return (
        told.day.isoformat(),
        told.occasion,
        str(told.source),
        sorted(
            [
                (
                    p.line.key,
                    list(p.amounts),
                    p.load_g,
                    p.hurt,
                    *((said,) if (said := (p.ended, p.why, p.step)) != (None, None, None) else ()),
                )
                for p in performances
            ],
            key=itemgetter(0),
        ),
        [getattr(told, score) for score in SCORES],
        told.note,
    )


@dataclass(frozen=True)
class _Known:
    """The entries of a file that are stored already."""

    owners: dict[UUID, int]
    revisions: dict[UUID, list[Revision]]

    @classmethod
    def of(cls, uuids: Iterable[UUID]) -> "_Known":
        wanted = list(uuids)
        revisions: dict[UUID, list[Revision]] = defaultdict(list)
        for revision in Revision.objects.filter(entry__in=wanted).prefetch_related(
            "performances__line"
        ):
            revisions[revision.entry_id].append(revision)
        owners = Entry.objects.filter(pk__in=wanted).values_list("pk", "patient")
        return cls(dict(owners), revisions)

    def change(self, session: DiarySession, told: Told) -> tuple[Change, UUID | None]:
        """What a session changes, and which revision it replaces."""
        revisions = self.revisions.get(session.entry, [])
        current = next((revision for revision in revisions if revision.is_current), None)
        if current is None:
            return (Change.ONLY_HEARD if session.says_nothing else Change.STORED), None
        content = _content(told)
        if _content(current) == content:
            return Change.UNCHANGED, None
        by_a_person = current.recorded_by_id or current.phone_id
        if by_a_person and any(_content(revision) == content for revision in revisions):
            return Change.KEPT, None
        return Change.CORRECTED, current.pk
