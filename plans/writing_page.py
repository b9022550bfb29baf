"""What the screen on which an exercise is written shows: its fields, its grids, its figures."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from django.utils.safestring import mark_safe

from clinic.languages import LANGUAGES
from patients.motions import MOTIONS, Effort, Joint, Side
from plans.cameras import VIEWS, view_words
from plans.catalogue import DoneBy, Equipment, Exercise, Kind, LoadMeans, Position
from plans.exercise import MovementError
from plans.figure import still_svg
from plans.models import LoadMeans as LoadMeansLabels
from plans.schedule import Unit
from plans.typed import TypedExercise, TypedStep, problems_by_pose
from plans.typed_angles import ANGLES, SETTING_CHOICES, AngleName
from plans.typed_check import Checked

Choices = Sequence[tuple[str, str]]

LANGUAGE_NAMES = {code: language.english_name for code, language in LANGUAGES.items()}


@dataclass(frozen=True)
class Box:
    """One field: its name, what stands in it, and what is wrong with it."""

    path: str
    label: str
    text: str
    kind: str = "text"
    choices: Choices = ()
    help: str = ""
    language: str = ""
    wrong: str = ""

    @property
    def unknown(self) -> str:
        """What stands in it where that is none of its choices, so that it isn't lost."""
        return "" if self.text in {value for value, _ in self.choices} else self.text


@dataclass(frozen=True)
class Drawn:
    """A step's figure, or why there is none: problems by the number of their pose, 0 for none."""

    figure: str
    problems: Mapping[int, str] = field(default_factory=dict)

    @property
    def said(self) -> str:
        """What is wrong, in one go."""
        return " ".join(self.problems[number] for number in sorted(self.problems))


@dataclass(frozen=True)
class WrittenStep:
    """One step on the screen."""

    step: TypedStep
    boxes: tuple[Box, ...]
    settings: tuple[Box, ...]
    drawn: Drawn

    @property
    def rows(self) -> tuple[tuple[object, str], ...]:
        """The grid's rows, each with what is wrong with its pose."""
        return tuple((row, self.drawn.problems.get(row.number, "")) for row in self.step.grid)

    @property
    def label(self) -> str:
        """The step in words."""
        return self.step.effort.label if self.step.effort is not None else "unknown step"

    @property
    def angles_left(self) -> tuple[AngleName, ...]:
        """The angles that have no column yet."""
        return tuple(angle for angle in ANGLES if angle.name not in self.step.angles)


def drawn(text: TypedExercise, step: TypedStep) -> Drawn:
    """Return a step's figure as typed, or what is wrong with its poses."""
    if not step.poses:
        return Drawn("")
    try:
        movement = text.movement(step)
    except MovementError as error:
        by_pose = problems_by_pose(error.problems)
        return Drawn(
            "",
            {
                number: " ".join(_sentence(each) for each in problems)
                for number, problems in by_pose.items()
            },
        )
    label = step.effort.label if step.effort is not None else ""
    title = f"{text.said.get('words.en.name', '')}, {label}"
    return Drawn(mark_safe(still_svg(movement, Side.RIGHT, title=title)))  # noqa: S308 - drawn by us, title escaped


def _sentence(problem: str) -> str:
    """A problem without where it is; the screen shows that by its place."""
    what = re.sub(r"^pose \d+(, at [\d.]+ s)?: ", "", problem.split(": ", 2)[-1])
    return f"{what[:1].upper()}{what[1:].rstrip('.')}."


@dataclass(frozen=True)
class WritingPage:
    """The whole screen."""

    text: TypedExercise
    about: tuple[Box, ...]
    dose: tuple[Box, ...]
    words: tuple[Box, ...]
    steps: tuple[WrittenStep, ...]
    problems: tuple[str, ...] = ()
    angles: tuple[AngleName, ...] = ANGLES
    motions: tuple[str, ...] = tuple(MOTIONS)
    joints: tuple[str, ...] = tuple(joint.value for joint in Joint)
    things: tuple[str, ...] = tuple(thing.value for thing in Equipment)


def writing_page(
    text: TypedExercise, others: Sequence[Exercise], found: Checked, *, is_new: bool
) -> WritingPage:
    """Return the screen for what is typed, with what is wrong at each field."""

    def box(path: str, label: str, said: Mapping[str, str], **more: object) -> Box:
        name = path.split(".", 2)[2] if path.startswith("steps.") else path
        return Box(path, label, said.get(name, ""), wrong=found.by_field.get(path, ""), **more)  # type: ignore[arg-type]

    said = text.said
    named = sorted((other.words("en").name, other.key) for other in others)
    near = [("", "none"), *((key, name) for name, key in named)]
    positions = [(place.value, place.label) for place in Position]
    views = [("", "as the position has it")] + [(name, view_words(name)) for name in VIEWS]
    key_box = box("key", "Key", said, help="small letters, digits and underscores; never changes")
    about = (
        *((key_box,) if is_new else ()),
        box("position", "Position", said, kind="choice", choices=positions),
        box("view", "Drawn from", said, kind="choice", choices=views),
        box("moves", "Moves", said, kind="listed", help="motions, with commas between"),
        box("loads", "Carries", said, kind="listed", help="joints that only carry"),
        box("equipment", "Needs", said, kind="listed", help="for all steps, with commas between"),
        box("easier", "Easier neighbour", said, kind="choice", choices=near),
        box("harder", "Harder neighbour", said, kind="choice", choices=near),
        box(
            "unit", "A set counts", said, kind="choice", choices=[(u.value, u.value) for u in Unit]
        ),
        box("sided", "One arm, left or right", said, kind="check"),
        box("source", "Source", said),
    )
    dose = (
        box("dose.sets", "Sets", said, kind="whole"),
        box("dose.amount_low", "From", said, kind="whole"),
        box("dose.amount_high", "To", said, kind="whole"),
        box("dose.hold_s", "Hold, s", said, kind="whole"),
        box("dose.pace_s", "Pace, s", said, kind="whole"),
        box("dose.rest_s", "Rest, s", said, kind="whole"),
        box("dose.sessions_per_day", "Times a day", said, kind="whole"),
        box("dose.source", "Source of the dose", said),
    )
    words = tuple(
        box(f"words.{language}.{name}", f"{label}, {spoken}", said, kind=kind, language=language)
        for name, label, kind in (
            ("name", "Name", "text"),
            ("goal", "Goal", "text"),
            ("cautions", "Cautions, one a line", "lines"),
            ("cue", "Cue", "text"),
        )
        for language, spoken in LANGUAGE_NAMES.items()
    )
    steps = []
    for step in text.steps:
        start = f"steps.{step.number}."
        by = [(DoneBy.SELF.value, "the patient"), (DoneBy.HELPER.value, "a helper")]
        means = [("", "nothing")] + [(m.value, LoadMeansLabels(m.value).label) for m in LoadMeans]
        if step.effort is not Effort.RESISTED:
            means = means[:1]
        boxes = (
            box(f"{start}done_by", "Done by", step.said, kind="choice", choices=by),
            box(f"{start}position", "Position", step.said, kind="choice", choices=positions),
            box(f"{start}equipment", "Also needs", step.said, kind="listed"),
            box(f"{start}load_means", "Resisted by", step.said, kind="choice", choices=means),
            *(
                box(
                    f"{start}do.{language}",
                    f"What to do, one a line, {spoken}",
                    step.said,
                    kind="lines",
                    language=language,
                )
                for language, spoken in LANGUAGE_NAMES.items()
            ),
        )
        settings = tuple(
            Box(
                f"{start}first.{name}",
                label,
                step.settings.get(name, ""),
                kind="choice" if name in SETTING_CHOICES else "text",
                choices=[("", "as usual"), *((c, c.replace("_", " ")) for c in choices)],
            )
            for name, label in SETTING_LABELS
            for choices in (SETTING_CHOICES.get(name, ()),)
        )
        steps.append(WrittenStep(step, boxes, settings, drawn(text, step)))
    return WritingPage(text, about, dose, words, tuple(steps), found.problems)


SETTING_LABELS = (
    ("rests", "Lies on bed or table"),
    ("help", "Help, 0 to 1"),
    ("helps_at", "Helped at"),
    ("other", "The other arm"),
    ("holds", "The hand that trains holds"),
    ("view", "This step drawn from"),
    ("anchor", "Band's other end: front, up, right, m"),
    ("press", "Presses to: front, up, right"),
)


def is_drawable(text: TypedExercise) -> bool:
    """Whether the exercise has poses at all; an activity has none."""
    return text.said.get("kind") == Kind.POSES
