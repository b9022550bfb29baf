"""Reads of the catalogue and of plans; rows become the plain values that computing takes."""

import json
from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from typing import Any

from django.db import connection
from django.db.models import (
    Case,
    Count,
    F,
    OuterRef,
    Prefetch,
    QuerySet,
    Subquery,
    Value,
    When,
    prefetch_related_objects,
)

from patients.models import Patient
from patients.motions import Effort, Side
from plans import catalogue
from plans.models import DueSpan as DueSpanRow
from plans.models import Exercise, ExerciseRevision, Line, Pause, PlanVersion, weekday_set
from plans.safety_models import PrecautionOverride
from plans.schedule import MORE_IF_EASY, PauseSpan, PrescribedLine, Unit, Version
from plans.search import Indexed, indexed
from plans.spans import DueSpan

# A revision never changes, and its hash names its content: each is read once a process.
_read: dict[str, catalogue.Exercise] = {}
_indexed: dict[str, Indexed] = {}


def exercise_of(revision: ExerciseRevision) -> catalogue.Exercise:
    """Return the exercise that a revision describes."""
    if revision.table_hash not in _read:
        _read[revision.table_hash] = catalogue.read_exercise(
            revision.table, where=f"revision {revision.pk}"
        )
    return _read[revision.table_hash]


def exercise_by_hash(table_hash: str) -> catalogue.Exercise | None:
    """Return the exercise of that hash where its revision was read before; no query."""
    return _read.get(table_hash)


def current_revisions() -> QuerySet[ExerciseRevision]:
    """Return the newest revision of each exercise in use (one query)."""
    newest = (
        ExerciseRevision.objects.filter(exercise=OuterRef("exercise"))
        .order_by("-number")
        .values("pk")[:1]
    )
    return (
        ExerciseRevision.objects.filter(pk=Subquery(newest), exercise__is_retired=False)
        .select_related("exercise")
        .order_by("exercise__key")
    )


def searchable_exercises() -> list[Indexed]:
    """Return the exercises in use, ready to be searched.

    One query; a second one where a revision is new to this process.
    """
    # While somebody types, all revisions by number cost less than asking for the newest of each.
    rows = ExerciseRevision.objects.filter(exercise__is_retired=False).order_by("number")
    hashes = dict(rows.values_list("exercise__key", "table_hash"))
    if any(table_hash not in _indexed for table_hash in hashes.values()):
        for revision in current_revisions():
            _indexed[revision.table_hash] = indexed(exercise_of(revision))
    return [_indexed[hashes[key]] for key in sorted(hashes)]


def exercises_in_use(keys: Collection[str]) -> dict[str, catalogue.Exercise]:
    """Return the exercises in use of those keys, by key.

    One query; a second one where a revision is new to this process.
    """
    rows = ExerciseRevision.objects.filter(exercise__key__in=keys, exercise__is_retired=False)
    hashes = dict(rows.order_by("number").values_list("exercise__key", "table_hash"))
    if any(table_hash not in _read for table_hash in hashes.values()):
        for revision in current_revisions().filter(exercise__key__in=keys):
            exercise_of(revision)
    return {key: _read[table_hash] for key, table_hash in hashes.items()}


def revision_in_use(key: str) -> ExerciseRevision | None:
    """Return the newest revision of an exercise that was not retired (one query)."""
    return (
        current_revisions().filter(exercise__key=key).select_related("exercise", "added_by").first()
    )


def current_revision(key: str) -> ExerciseRevision | None:
    """Return the newest revision of the exercise that ``key`` names, if there is one."""
    return (
        ExerciseRevision.objects.filter(exercise__key=key)
        .select_related("exercise")
        .order_by("-number")
        .first()
    )


def own_revisions() -> QuerySet[ExerciseRevision]:
    """Return the newest revisions that a person of this clinic wrote (one query)."""
    return current_revisions().filter(added_by__isnull=False).select_related("exercise", "added_by")


def keys_like(start: str) -> set[str]:
    """Return the keys, retired ones too, that begin so (one query)."""
    return set(Exercise.objects.filter(key__startswith=start).values_list("key", flat=True))


def table_text(table: dict[str, object]) -> str:
    """Return an exercise's table as one text, the same for equal tables."""
    return json.dumps(table, sort_keys=True, ensure_ascii=False, separators=(",", ":"))


def _lines() -> QuerySet[Line]:
    return Line.objects.select_related("revision__exercise", "home_helper", "episode").order_by(
        "position", "pk"
    )


def lines_of(version: PlanVersion) -> QuerySet[Line]:
    """Return a version's lines in order, read afresh (one query)."""
    return _lines().filter(version=version)


def versions_of(patient: Patient) -> QuerySet[PlanVersion]:
    """Return a patient's versions, newest first, with their lines (two queries)."""
    return (
        PlanVersion.objects.filter(patient=patient)
        .select_related("issued_by", "signed_by", "made_by")
        .prefetch_related(Prefetch("lines", queryset=_lines()))
        .order_by("-number")
    )


def version_list(patient: Patient) -> QuerySet[PlanVersion]:
    """Return a patient's versions, newest first, with the number of their lines (one query)."""
    return (
        PlanVersion.objects.filter(patient=patient)
        .select_related("issued_by", "signed_by", "made_by")
        .annotate(line_count=Count("lines"))
        .order_by("-number")
    )


def read_lines(versions: list[PlanVersion]) -> None:
    """Read the lines of versions that came without them (one query)."""
    prefetch_related_objects(versions, Prefetch("lines", queryset=_lines()))


def version_before(version: PlanVersion) -> PlanVersion | None:
    """Return the issued version that came before this one, with its lines (two queries)."""
    return (
        versions_of(version.patient)
        .filter(state=PlanVersion.State.ISSUED, number__lt=version.number)
        .first()
    )


def open_version(patient: Patient) -> PlanVersion | None:
    """Return the version being made or waiting for a signature, with its lines (two queries)."""
    return versions_of(patient).exclude(state=PlanVersion.State.ISSUED).first()


def version_in_force(patient: Patient, day: date) -> PlanVersion | None:
    """Return the version in force on a day, with its lines; it may be one without any."""
    return (
        versions_of(patient)
        .filter(state=PlanVersion.State.ISSUED, effective_day__lte=day)
        .order_by("-number")
        .first()
    )


def pauses_of(patient: Patient) -> QuerySet[Pause]:
    """Return a patient's pauses that were not struck out, by first day."""
    return Pause.objects.filter(patient=patient, struck_at__isnull=True).order_by("first_day", "pk")


def pause_history(patient: Patient) -> QuerySet[Pause]:
    """Return a patient's pauses, those struck out too, latest first (one query)."""
    return (
        Pause.objects.filter(patient=patient)
        .select_related("made_by", "struck_by")
        .order_by("-first_day", "-pk")
    )


_DOSE_FIELDS = (
    "key",
    "step",
    "side",
    "unit",
    "sets",
    "amount_low",
    "amount_high",
    "hold_s",
    "pace_s",
    "load_g",
    "load_means",
    "sessions_per_day",
    "weekdays",
    "stop_motion",
    "stop_deg",
    "easier_allowed",
    "more_if_easy",
)

MOST_PER_DAY = (
    F("sets")
    * (F("amount_high") + Case(When(more_if_easy=True, then=Value(MORE_IF_EASY)), default=Value(0)))
    * F("sessions_per_day")
)
"""What `PrescribedLine.most_per_day` is, for the database to work out."""


def prescribed_line(line: Line) -> PrescribedLine:
    """Return a line as the value that computing takes."""
    exercise_of(line.revision)
    dose = (getattr(line, field) for field in _DOSE_FIELDS)
    return _prescribed(line.revision.table_hash, *dose)


@lru_cache(maxsize=8192)
def _prescribed(table_hash: str, *values: Any) -> PrescribedLine:
    """The line that a revision and the ``_DOSE_FIELDS`` make; the revision was read before."""
    exercise = _read[table_hash]
    dose = dict(zip(_DOSE_FIELDS, values, strict=True))
    easier = exercise.below(dose["step"]) if dose.pop("easier_allowed") else None
    return PrescribedLine(
        exercise=exercise.key,
        name=exercise.words("en").name,
        moves=exercise.moves,
        loads=tuple(joint.value for joint in exercise.loads),
        revision=table_hash,
        **dose
        | {
            "side": Side(dose["side"]),
            "step": Effort.from_key(dose["step"]) if dose["step"] else None,
            "unit": Unit(dose["unit"]),
            "pace_s": float(dose["pace_s"]),
            "weekdays": weekday_set(dose["weekdays"]),
            "easier": easier.effort if easier else None,
        },
    )


def schedule_version(version: PlanVersion) -> Version:
    """Return an issued version as the value that the schedule takes."""
    if version.effective_day is None:
        raise ValueError(f"{version} has no effective day")
    return Version(
        number=version.number,
        effective_day=version.effective_day,
        lines=tuple(prescribed_line(line) for line in version.lines.all()),
        pain_limit=version.pain_limit,
    )


def pause_spans(pauses: Iterable[Pause]) -> tuple[PauseSpan, ...]:
    """Return pauses as the values that the schedule takes."""
    return tuple(PauseSpan(p.first_day, p.last_day, p.recorded_day) for p in pauses)


@dataclass(frozen=True)
class Schedule:
    """All that makes a patient's sessions due."""

    versions: tuple[Version, ...]
    pauses: tuple[PauseSpan, ...]


def schedule_of(patient: Patient) -> Schedule:
    """Return a patient's issued versions and pauses as plain values; see ``schedules_of``."""
    return schedules_of([patient.pk]).get(patient.pk, Schedule((), ()))


# Plain statements, as every review begins with them.
_ISSUED_LINES = f"""
SELECT v.patient_id, v.number, v.effective_day, v.pain_limit, r.table_hash,
       {", ".join(f"l.{field}" for field in _DOSE_FIELDS)}
FROM plans_planversion v
LEFT JOIN plans_line l ON l.version_id = v.id
LEFT JOIN plans_exerciserevision r ON r.id = l.revision_id
WHERE v.state = '{PlanVersion.State.ISSUED}'{{mine}}
ORDER BY v.patient_id, v.number, l.position, l.id
"""  # noqa: S608 (our own names)
_PAUSES = """
SELECT v.patient_id, v.first_day, v.last_day, v.recorded_day
FROM plans_pause v WHERE v.struck_at IS NULL{mine} ORDER BY v.first_day, v.id
"""


def schedules_of(patients: Collection[int] | None) -> dict[int, Schedule]:
    """Return patients' issued versions and pauses, by patient; all for None.

    Two queries; a third one where an exercise's revision is new to this process.
    """
    given = list(patients or ())
    if patients is not None and not given:
        return {}
    mine = f" AND v.patient_id IN ({', '.join(['%s'] * len(given))})" if given else ""
    with connection.cursor() as cursor:
        cursor.execute(_ISSUED_LINES.format(mine=mine), given)
        rows = cursor.fetchall()
        cursor.execute(_PAUSES.format(mine=mine), given)
        pauses: dict[int, list[PauseSpan]] = defaultdict(list)
        for patient, *span in cursor.fetchall():
            pauses[patient].append(PauseSpan(*span))
    _read_revisions({row[4] for row in rows if row[4] and row[4] not in _read})
    lines: dict[tuple[int, int, date, int], list[PrescribedLine]] = {}
    for patient, number, day, pain_limit, table_hash, *dose in rows:
        of_version = lines.setdefault((patient, number, day, pain_limit), [])
        if table_hash:  # a version without lines has none
            of_version.append(_prescribed(table_hash, *dose))
    versions: dict[int, list[Version]] = defaultdict(list)
    for (patient, number, day, pain_limit), of_version in lines.items():
        version = Version(number, day, tuple(of_version), pain_limit=pain_limit)
        versions[patient].append(version)
    return {
        patient: Schedule(tuple(versions[patient]), tuple(pauses[patient]))
        for patient in versions.keys() | pauses.keys()
    }


def _read_revisions(hashes: Collection[str]) -> None:
    """Read the exercises of revisions (one query, none without any)."""
    if hashes:
        for revision in ExerciseRevision.objects.filter(table_hash__in=hashes):
            exercise_of(revision)


def waiting_versions() -> QuerySet[PlanVersion]:
    """Return every version that waits for a signature, longest first (one query, or two).

    Each has in ``overridden`` what its latest issue let pass of hard precautions.
    """
    overridden = PrecautionOverride.objects.filter(made_at=F("version__issued_at"))
    return (
        PlanVersion.objects.filter(state=PlanVersion.State.WAITING)
        .select_related("patient", "issued_by")
        .prefetch_related(
            Prefetch(
                "overrides",
                queryset=overridden.select_related("made_by", "precaution"),
                to_attr="overridden",
            )
        )
        .order_by(F("issued_at").asc())
    )


def kept_spans(patients: Collection[int]) -> dict[int, tuple[DueSpan, ...]]:
    """Return what is kept ready of what patients' plans make due, in order (one query)."""
    found: dict[int, list[DueSpan]] = defaultdict(list)
    rows = DueSpanRow.objects.filter(patient__in=patients).order_by("patient", "first_day")
    for patient, *span in rows.values_list("patient", *DueSpan._fields):
        found[patient].append(DueSpan(*span))
    return {patient: tuple(spans) for patient, spans in found.items()}
