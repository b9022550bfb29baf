"""From a patient's issued version to what their sheet says."""

from collections.abc import Sequence
from datetime import date, timedelta

from django.conf import settings
from django.utils.safestring import mark_safe
from reportlab.graphics.shapes import Drawing

from clinic.queries import clinic_profile
from patients.models import Patient
from plans.bound_words import bound_words
from plans.catalogue import DoneBy
from plans.figure import still_drawing, still_svg
from plans.models import PlanVersion
from plans.must_not import must_not
from plans.plan_page import ShownLine, shown_version
from plans.queries import Schedule, schedule_of
from plans.schedule import Version, Window, occasions, version_on
from plans.sheet import Sheet
from plans.sheet_diary import DiaryDay
from plans.sheet_exercise import SheetExercise
from plans.sheet_language import SheetWords
from plans.sheet_phone import PhoneCode
from plans.sheet_stop_signs import SheetTier
from plans.sheet_words import sheet_words
from plans.stop_signs import read_stop_signs
from plans.stopped import line_movement

STOP_SIGNS = settings.BASE_DIR / "fixtures" / "stop_signs.toml"
DIARY_DAYS = 14
MOST_DIARY_DAYS = 42
"""Days of a diary: where no next visit is said, and at most."""


def sheet_of(
    *,
    patient: Patient,
    version: PlanVersion,
    today: date,
    with_name: bool = False,
    next_visit: date | None = None,
    phone: PhoneCode | None = None,
) -> Sheet:
    """Return what the sheet of an issued version, read with its lines, says (eight queries).

    Its diary begins today, or when the version does; one that another version has replaced has no
    diary, and says so.
    """
    if version.effective_day is None:
        raise ValueError(f"{version} has no effective day")
    words = sheet_words(patient.language)
    profile = clinic_profile()
    episode = patient.episodes.filter(closed_day__isnull=True).first()
    telephone = (episode.telephone if episode else "") or profile.telephone
    lines = shown_version(version).lines
    schedule = schedule_of(patient)
    later = _replaced_by(version, schedule.versions, today)
    day = max(today, version.effective_day)
    rules = must_not(patient, language=words.language, day=day)
    return Sheet(
        words=words,
        clinic_name=profile.name,
        telephone=telephone,
        clinic_number=patient.clinic_number,
        name=patient.name if with_name else "",
        version_number=version.number,
        effective_day=version.effective_day,
        change_sentence=version.change_sentence,
        pain_limit=version.pain_limit,
        replaced=words.replaced.format(
            number=later.number, day=words.day_with_year(later.first_day)
        )
        if later
        else "",
        precautions=rules.sentences if lines else (),
        precautions_heading=rules.heading,
        exercises=tuple(_exercise(line, words) for line in lines),
        tiers=tuple(
            SheetTier(
                words=tier.words(words.language, version.pain_limit),
                telephone=profile.emergency_telephone if tier.calls == "emergency" else telephone,
            )
            for tier in read_stop_signs(STOP_SIGNS)
        ),
        diary=() if later or not lines else _diary(version.number, schedule, today, next_visit),
        phone=phone,
    )


def sheet_pictures(version: PlanVersion, words: SheetWords) -> list[str]:
    """Return each line's picture as SVG for a web page, in order; empty where there is none."""
    pictures: list[str] = []
    for line in shown_version(version).lines:
        drawn = ""
        if line.step.poses:
            movement = line_movement(line.exercise, line.step, line.line.stop)
            title = line.exercise.words(words.language).name
            drawn = still_svg(movement, line.line.side, title=title)
        pictures.append(mark_safe(drawn))  # noqa: S308 - drawn by us, its title escaped
    return pictures


def _replaced_by(version: PlanVersion, versions: Sequence[Version], today: date) -> Version | None:
    in_force = version_on(versions, today)
    return in_force if in_force and in_force.number > version.number else None


def _exercise(line: ShownLine, words: SheetWords) -> SheetExercise:
    exercise, step = line.exercise, line.step
    said = exercise.words(words.language)
    helper = line.line.home_helper
    helped = words.helper.format(name=helper.name if helper else words.your_helper)
    things = words.things((*exercise.equipment, *step.equipment))
    return SheetExercise(
        name=said.name,
        goal=said.goal,
        side=words.side(line.line.side, sided=exercise.sided),
        position=words.positions[step.position],
        things=words.you_need.format(things=things) if things else "",
        helper=helped if helper or step.done_by is DoneBy.HELPER else "",
        dose=words.dose(line.dose),
        do=step.words(words.language).do,
        note=line.line.note_patient,
        cautions=said.cautions,
        easier=easier_words(line, words),
        bounds=bound_words(words.language).said(
            line.line.stop, step.position.value, line.line.orthosis
        ),
        figure=_figure(line),
        language=exercise.language_for(words.language),
    )


def easier_words(line: ShownLine, words: SheetWords) -> str:
    """Return what to do on a day that is too hard; empty where no easier step is allowed.

    Position and things are named where they are others than the prescribed step's.
    """
    step = line.allowed_easier
    if step is None:
        return ""
    things = words.things([t for t in step.equipment if t not in line.step.equipment])
    parts = [
        f"{words.positions[step.position]}." if step.position is not line.step.position else "",
        words.you_need.format(things=things) if things else "",
        *step.words(words.language).do,
    ]
    do = " ".join(part for part in parts if part)
    return words.easier.format(step=words.steps[step.effort], do=do)


def _figure(line: ShownLine) -> Drawing | None:
    """Return the step's picture; nothing where it has no poses."""
    if not line.step.poses:
        return None
    movement = line_movement(line.exercise, line.step, line.line.stop)
    return still_drawing(movement, line.line.side, width_pt=200)


def _diary(
    number: int, schedule: Schedule, today: date, next_visit: date | None
) -> tuple[DiaryDay, ...]:
    """Return the days up to the next visit, else fourteen, or to where another takes over."""
    plan = next(version for version in schedule.versions if version.number == number)
    first = max(today, plan.first_day)
    days = (next_visit - first).days + 1 if next_visit else DIARY_DAYS
    window = Window(first, first + timedelta(days=max(1, min(days, MOST_DIARY_DAYS)) - 1))
    numbers = {line.key: n for n, line in enumerate(plan.lines, start=1)}
    due: dict[date, list[frozenset[int]]] = {}
    for day in window.days():
        if version_on(schedule.versions, day) != plan:
            break
        due[day] = []
    for occasion in occasions([plan], schedule.pauses, window):
        if occasion.day in due:
            due[occasion.day].append(frozenset(numbers[key] for key in occasion.line_keys))
    return tuple(
        DiaryDay(day, tuple(of_day), is_paused=any(day in pause for pause in schedule.pauses))
        for day, of_day in due.items()
    )
