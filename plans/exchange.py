"""A plan file's content as values: the patient, the versions and the pauses of their plan.

Pure. fixtures/plan.schema.json describes the form; `plans.exchange_reading` reads it. Here are the
values, the document they are written as, and what a file may not say about a patient who is here
already. A file never changes what was issued, and never changes a patient's record.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields
from datetime import date
from decimal import Decimal

from plans.jsonfile import Json, Path

WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
EVERY_DAY = "every day"
IDENTITY = ("name", "birth_date", "affected_side")
"""What must agree with the record, so that a mistyped number puts no plan on someone else."""


@dataclass(frozen=True)
class PatientPart:
    """Who the plan is for. ``None`` and blank: not known, or left to the clinic."""

    clinic_number: str
    name: str
    birth_date: date
    affected_side: str
    sex: str = "unknown"
    stature_cm: int | None = None
    body_mass_kg: Decimal | None = None
    dominant_side: str = ""
    language: str = "en"
    text_size: str = "normal"
    time_zone: str = ""
    care_team: tuple[str, ...] = ()


@dataclass(frozen=True)
class LinePart:
    """One exercise of a version; the fields mean what they mean on `plans.models.Line`."""

    key: str
    exercise: str
    step: str
    side: str
    unit: str
    sets: int
    amount_low: int
    amount_high: int
    hold_s: int
    pace_s: Decimal
    rest_s: int
    load_g: int
    load_means: str
    sessions_per_day: int
    weekdays: frozenset[int]
    note_patient: str
    note_staff: str
    orthosis: str = ""
    stop_motion: str = ""
    stop_deg: int | None = None
    easier_allowed: bool = False
    more_if_easy: bool = False

    @property
    def what_it_is(self) -> tuple[str, str, str]:
        """Exercise, side and unit: the same for every line of one key."""
        return (self.exercise, self.side, self.unit)


@dataclass(frozen=True)
class VersionPart:
    """An issued version, its lines in order."""

    number: int
    effective_day: date
    pain_limit: int
    change_sentence: str
    lines: tuple[LinePart, ...]


@dataclass(frozen=True)
class PausePart:
    """Days on which nothing is due, both included; open without a last day."""

    first_day: date
    last_day: date | None
    reason: str = ""

    @property
    def days(self) -> tuple[date, date | None]:
        """What makes it the same pause as another."""
        return (self.first_day, self.last_day)


@dataclass(frozen=True)
class PlanFile:
    """All that a plan file says."""

    patient: PatientPart
    versions: tuple[VersionPart, ...]
    pauses: tuple[PausePart, ...]


@dataclass(frozen=True)
class Problem:
    """What is wrong with the value at a path, or with the key that ends it."""

    path: Path
    reason: str
    at_key: bool = False


def to_document(plan: PlanFile) -> dict[str, Json]:
    """Return the document of a plan file, with every field and in a settled order."""
    patient = plan.patient
    return {
        "patient": {
            "clinic_number": patient.clinic_number,
            "name": patient.name,
            "birth_date": patient.birth_date.isoformat(),
            "affected_side": patient.affected_side,
            "sex": patient.sex,
            "stature_cm": patient.stature_cm,
            "body_mass_kg": patient.body_mass_kg,
            "dominant_side": patient.dominant_side or None,
            "language": patient.language,
            "text_size": patient.text_size,
            "time_zone": patient.time_zone or None,
            "care_team": list(patient.care_team),
        },
        "versions": [
            {
                "number": version.number,
                "effective_day": version.effective_day.isoformat(),
                "pain_limit": version.pain_limit,
                "change_sentence": version.change_sentence,
                "lines": [_line_document(line) for line in version.lines],
            }
            for version in sorted(plan.versions, key=lambda version: version.number)
        ],
        "pauses": [
            {
                "first_day": pause.first_day.isoformat(),
                "last_day": pause.last_day.isoformat() if pause.last_day else None,
                "reason": pause.reason,
            }
            for pause in sorted(plan.pauses, key=lambda p: (p.first_day, p.last_day or date.max))
        ],
    }


def _line_document(line: LinePart) -> Json:
    bounds: dict[str, Json] = {}
    if line.orthosis:
        bounds["orthosis"] = line.orthosis
    if line.stop_motion:
        bounds["stop"] = {"motion": line.stop_motion, "degrees": line.stop_deg}
    if line.easier_allowed:
        bounds["easier_allowed"] = True
    if line.more_if_easy:
        bounds["more_if_easy"] = True
    return {
        "key": line.key,
        "exercise": line.exercise,
        "step": line.step or None,
        "side": line.side,
        "unit": line.unit,
        "sets": line.sets,
        "amount_low": line.amount_low,
        "amount_high": line.amount_high,
        "hold_s": line.hold_s,
        "pace_s": line.pace_s,
        "rest_s": line.rest_s,
        "load_kg": Decimal(line.load_g) / 1000,
        "load_means": line.load_means or None,
        "sessions_per_day": line.sessions_per_day,
        "days": days_document(line.weekdays),
        "note_patient": line.note_patient,
        "note_staff": line.note_staff,
    } | bounds


def days_document(weekdays: frozenset[int]) -> Json:
    """Return the days of a week as a file names them.

    >>> days_document(frozenset({0, 4})), days_document(frozenset(range(7)))
    (['mon', 'fri'], 'every day')
    """
    if len(weekdays) == len(WEEKDAYS):
        return EVERY_DAY
    return [WEEKDAYS[day] for day in sorted(weekdays)]


@dataclass(frozen=True)
class Record:
    """What is here of the patient that a file names: issued versions and pauses as a file has them.

    ``open_number`` is the version being made or waiting for a signature, if there is one;
    ``struck_pauses`` are the days of pauses that were struck out.
    """

    plan: PlanFile
    line_keys: Mapping[str, tuple[str, str, str]]
    open_number: int | None = None
    struck_pauses: frozenset[tuple[date, date | None]] = frozenset()


def conflicts(filed: PlanFile, record: Record) -> Iterator[Problem]:
    """Give everything in a file that the patient's record forbids."""
    number = filed.patient.clinic_number
    for name in IDENTITY:
        given, here = getattr(filed.patient, name), getattr(record.plan.patient, name)
        if given != here:
            yield Problem(
                ("patient", name),
                f"{name}: patient {number} is here with {_shown(here)}; check the clinic number",
            )
    here_by_number = {version.number: version for version in record.plan.versions}
    last = max(here_by_number, default=0)
    for n, version in enumerate(filed.versions):
        path: Path = ("versions", n)
        if version.number in here_by_number:
            yield from _version_differences(version, here_by_number[version.number], path)
        elif record.open_number is not None:
            yield Problem(
                (*path, "number"),
                f"number: version {record.open_number} is being made here; issue it, have it "
                "signed or discard it before versions are added",
            )
        elif version.number < last:
            yield Problem(
                (*path, "number"),
                f"number: version {last} is here already, and new versions come after it",
            )
        else:
            for m, line in enumerate(version.lines):
                if record.line_keys.get(line.key, line.what_it_is) != line.what_it_is:
                    yield Problem(
                        (*path, "lines", m, "key"),
                        f'key: "{line.key}" is here already for another exercise, side or unit',
                    )
    yield from _pause_conflicts(filed, record)


def _pause_conflicts(filed: PlanFile, record: Record) -> Iterator[Problem]:
    here = {pause.days for pause in record.plan.pauses}
    for n, pause in enumerate(filed.pauses):
        if pause.days in here or pause.days in record.struck_pauses:
            continue
        for first_day, last_day in here:
            if first_day == pause.first_day:
                until = f"until {last_day}" if last_day else "without a last day"
                yield Problem(
                    ("pauses", n, "last_day"),
                    f"last_day: a pause from {first_day} {until} is here; change it on the "
                    "patient's plan page, or say the same",
                )


def _version_differences(filed: VersionPart, here: VersionPart, path: Path) -> Iterator[Problem]:
    """Give each way in which a filed version is not the issued one of its number."""
    rule = f"version {here.number} is issued and never changes; put changes in a new version"
    for name in ("effective_day", "pain_limit", "change_sentence"):
        if getattr(filed, name) != getattr(here, name):
            yield Problem(
                (*path, name), f"{name}: was issued as {_shown(getattr(here, name))}: {rule}"
            )
    lines_here = {line.key: line for line in here.lines}
    for n, line in enumerate(filed.lines):
        issued = lines_here.pop(line.key, None)
        if issued is None:
            yield Problem((*path, "lines", n), f'line "{line.key}" was not in it: {rule}')
            continue
        for field in fields(line):
            if getattr(line, field.name) != getattr(issued, field.name):
                name = _FIELD_IN_FILE.get(field.name, field.name)
                was = _shown(getattr(issued, field.name), field.name)
                yield Problem(
                    (*path, "lines", n, name),
                    f'{name}: line "{line.key}" was issued with {was}: {rule}',
                )
    for key in lines_here:
        yield Problem((*path, "lines"), f'lines: line "{key}" is missing: {rule}')
    order = [line.key for line in here.lines]
    if not lines_here and [line.key for line in filed.lines if line.key in order] != order:
        yield Problem((*path, "lines"), f"lines: the order was {', '.join(order)}: {rule}")


_FIELD_IN_FILE = {
    "load_g": "load_kg",
    "weekdays": "days",
    "stop_motion": "stop",
    "stop_deg": "stop",
}


def _shown(value: object, field: str = "") -> str:
    """Return a value as a file would write it, for a message."""
    if field == "load_g":
        return f"{Decimal(str(value)) / 1000:f}"
    if isinstance(value, frozenset):
        days = days_document(value)
        return ", ".join(map(str, days)) if isinstance(days, list) else str(days)
    return f'"{value}"' if isinstance(value, str) else str(value)


def kept_details(filed: PlanFile, record: Record) -> list[str]:
    """Return, in words, what the record keeps although the file says otherwise."""
    patient, here = filed.patient, record.plan.patient
    kept = [
        f"patient {patient.clinic_number}: {field.name} stays {_shown(getattr(here, field.name))}"
        for field in fields(patient)
        if field.name not in IDENTITY and field.name != "care_team"
        if getattr(patient, field.name) not in (getattr(here, field.name), field.default)
    ]
    absent = sorted(set(patient.care_team) - set(here.care_team))
    if absent:
        kept.append(f"the care team stays without {', '.join(absent)}")
    reasons = {pause.days: pause.reason for pause in record.plan.pauses}
    for pause in filed.pauses:
        if pause.days in record.struck_pauses and pause.days not in reasons:
            kept.append(f"the pause from {pause.first_day} stays struck out")
        elif reasons.get(pause.days, pause.reason) != pause.reason:
            kept.append(f"the pause from {pause.first_day} keeps its reason")
    return kept
