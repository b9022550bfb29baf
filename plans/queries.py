"""Reads of the catalogue and of plans; rows become the plain values that computing takes."""

import json
from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django.db.models import (
    Count,
    F,
    OuterRef,
    Prefetch,
    Q,
    QuerySet,
    Subquery,
    prefetch_related_objects,
)

from patients.models import Patient
from patients.motions import Effort, Side
from plans import catalogue
from plans.models import DueSpan as DueSpanRow
from plans.models import Exercise, ExerciseRevision, Line, Pause, PlanVersion, weekday_set
from plans.safety_models import PrecautionOverride
from plans.schedule import PauseSpan, PrescribedLine, Unit, Version
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
)


def prescribed_line(line: Line) -> PrescribedLine:
    """Return a line as the value that computing takes."""
    return _prescribed(
        exercise_of(line.revision),
        revision=line.revision.table_hash,
        **{field: getattr(line, field) for field in _DOSE_FIELDS},
    )


def _prescribed(
    exercise: catalogue.Exercise,
    *,
    step: str,
    side: str,
    unit: str,
    pace_s: Decimal,
    weekdays: int,
    **dose: Any,
) -> PrescribedLine:
    return PrescribedLine(
        exercise=exercise.key,
        name=exercise.words("en").name,
        side=Side(side),
        step=Effort.from_key(step) if step else None,
        unit=Unit(unit),
        pace_s=float(pace_s),
        weekdays=weekday_set(weekdays),
        moves=exercise.moves,
        loads=tuple(joint.value for joint in exercise.loads),
        **dose,
    )


def schedule_version(version: PlanVersion) -> Version:
    """Return an issued version as the value that the schedule takes."""
    if version.effective_day is None:
        raise ValueError(f"{version} has no effective day")
    return Version(
        number=version.number,
        effective_day=version.effective_day,
        lines=tuple(prescribed_line(line) for line in version.lines.all()),
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
    """Return a patient's issued versions and pauses as plain values (four queries)."""
    return schedules_of([patient.pk]).get(patient.pk, Schedule((), ()))


def schedules_of(patients: Collection[int] | None) -> dict[int, Schedule]:
    """Return patients' issued versions and pauses, by patient (four queries); all for None."""
    mine = Q() if patients is None else Q(patient__in=patients)
    issued = PlanVersion.objects.filter(mine, state=PlanVersion.State.ISSUED)
    in_issued = Line.objects.filter(version__in=issued.order_by())
    exercises = {
        revision.pk: (exercise_of(revision), revision.table_hash)
        for revision in ExerciseRevision.objects.filter(
            pk__in=in_issued.order_by().values("revision")
        )
    }
    lines: dict[int, list[PrescribedLine]] = defaultdict(list)
    rows = in_issued.order_by("version", "position", "pk")
    for version, revision, *dose in rows.values_list("version", "revision", *_DOSE_FIELDS):
        exercise, table_hash = exercises[revision]
        line = _prescribed(
            exercise, revision=table_hash, **dict(zip(_DOSE_FIELDS, dose, strict=True))
        )
        lines[version].append(line)
    versions: dict[int, list[Version]] = defaultdict(list)
    for pk, patient, number, day in issued.order_by("number").values_list(
        "pk", "patient", "number", "effective_day"
    ):
        if day is not None:  # an issued version has its day: the database sees to it
            versions[patient].append(Version(number, day, tuple(lines[pk])))
    pauses: dict[int, list[PauseSpan]] = defaultdict(list)
    standing = Pause.objects.filter(mine, struck_at__isnull=True).order_by("first_day", "pk")
    spans = standing.values_list("patient", "first_day", "last_day", "recorded_day")
    for patient, first_day, last_day, recorded_day in spans:
        pauses[patient].append(PauseSpan(first_day, last_day, recorded_day))
    return {
        patient: Schedule(tuple(versions[patient]), tuple(pauses[patient]))
        for patient in versions.keys() | pauses.keys()
    }


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
