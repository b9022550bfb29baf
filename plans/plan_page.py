"""What the pages about a plan show: versions with their lines in words, what changed, the minutes.

Reads through `plans.queries` and turns rows into frozen values; templates only set them out.
"""

from dataclasses import dataclass
from datetime import date
from functools import cache, cached_property

from django.conf import settings

from patients.models import Patient
from patients.motions import MOTIONS, Effort, Joint
from patients.precautions import degrees
from plans import catalogue, queries
from plans.asked import (
    AskedRow,
    AskLimits,
    Note,
    asked_of_joints,
    asks_much,
    folded,
    jumps,
    read_ask_limits,
)
from plans.changes import ComparedLine, LineChange, is_reordered, line_changes
from plans.dose import LineDose, PlanTime, plan_time
from plans.load_curve import LoadOf, load_of
from plans.models import Line, OrthosisChoice, Pause, PlanVersion
from plans.moments import WEIGHTED_MEANS
from plans.order import OrderedLine, position_changes
from plans.receipts import Withdrawn, still_out
from plans.safety_queries import (
    Safety,
    StoodFinding,
    line_gaps,
    line_title,
    safety_of,
    step_of,
)
from plans.schedule import Unit
from plans.segments import BodyTaken, body_taken
from plans.step_figures import StepFigure, step_figure


@dataclass(frozen=True)
class ShownStep:
    """A step of a ladder with its words for staff, and its picture where there is one."""

    step: catalogue.Step
    figure: StepFigure | None = None
    load: LoadOf | None = None

    @property
    def do(self) -> tuple[str, ...]:
        """What the patient (or the helper) does, in order."""
        return self.step.words("en").do

    @property
    def label(self) -> str:
        """The step in words."""
        return self.step.effort.label


@dataclass(frozen=True)
class ShownLine:
    """A line with its exercise and its dose in words."""

    line: Line
    exercise: catalogue.Exercise
    step: catalogue.Step
    dose: LineDose
    found: tuple[StoodFinding, ...] = ()
    body: BodyTaken | None = None

    @cached_property
    def load(self) -> LoadOf:
        """What gravity and the line's weight ask of each joint, for the patient's body."""
        load_kg = self.line.load_g / 1000 if self.line.load_means in WEIGHTED_MEANS else 0.0
        body = self.body or body_taken(None, None)
        return load_of(self.exercise, self.step, body, load_kg, stop=self.line.stop)

    @property
    def words(self) -> catalogue.Words:
        """The exercise's words for staff."""
        return self.exercise.words("en")

    @property
    def told(self) -> ShownStep:
        """The line's step with what the patient is told."""
        figure = step_figure(self.exercise, self.step, self.line.side, stop=self.line.stop)
        return ShownStep(self.step, figure)

    @property
    def side(self) -> str:
        """The side in words; nothing for an exercise of the whole body or of both hands."""
        if not self.exercise.sided:
            return ""
        return "both sides" if self.line.side == "both" else self.line.side

    @property
    def title(self) -> str:
        """What the line is called: exercise and side."""
        return line_title(self.exercise, self.line.side)

    @property
    def bounds(self) -> tuple[tuple[str, str], ...]:
        """What bounds the movement: where it turns back, and the orthosis, in words."""
        line = self.line
        stop = (
            f"stop at {degrees(line.stop_deg)} of {MOTIONS[line.stop_motion].label}"
            if (line.stop_motion and line.stop_deg is not None)
            else ""
        )
        orthosis = f"orthosis {OrthosisChoice(line.orthosis).label}" if line.orthosis else ""
        return (("stop", stop), ("orthosis", orthosis))

    @property
    def bounds_words(self) -> str:
        """What bounds the movement, in one phrase."""
        return ", ".join(words for _, words in self.bounds if words)

    @property
    def usual(self) -> str:
        """The exercise's usual dose in words."""
        return usual_dose(self.exercise).words

    @property
    def is_barred(self) -> bool:
        """Whether a hard precaution that nobody overrode stands against it."""
        return any(each.blocks for each in self.found)

    @property
    def gaps(self) -> tuple[str, ...]:
        """What is still to be said before a patient may follow it."""
        return line_gaps(self.line)

    @property
    def lacks_helper(self) -> bool:
        """Whether a helper does it and none is named."""
        return self.step.done_by is catalogue.DoneBy.HELPER and self.line.home_helper is None

    def neighbour(self, places: int) -> catalogue.Step | None:
        """Return the ladder's step that many places on, if there is one."""
        at = self.exercise.steps.index(self.step) + places
        return self.exercise.steps[at] if 0 <= at < len(self.exercise.steps) else None

    @property
    def easier(self) -> catalogue.Step | None:
        """The next easier step."""
        return self.neighbour(-1)

    @property
    def harder(self) -> catalogue.Step | None:
        """The next harder step."""
        return self.neighbour(1)

    @property
    def _easier_words(self) -> str:
        return self.allowed_easier.effort.label if self.allowed_easier else ""

    @property
    def ordered(self) -> OrderedLine:
        """What of the line its place in the plan depends on."""
        joints = {MOTIONS[key].joint for key in self.exercise.moves} or set(self.exercise.loads)
        sides = ("left", "right") if self.line.side == "both" else (self.line.side,)
        return OrderedLine(
            position=self.step.position.value,
            load_g=self.line.load_g,
            effort=self.step.effort,
            joints=frozenset(f"{side} {joint.value}" for side in sides for joint in joints),
        )

    @property
    def allowed_easier(self) -> catalogue.Step | None:
        """The easier step that the patient may do instead, if one is allowed."""
        return self.easier if self.line.easier_allowed else None

    @property
    def compared(self) -> ComparedLine:
        """The line as it is compared with another version's."""
        line = self.line
        return ComparedLine(
            key=line.key,
            title=self.title,
            facts=(
                ("step", self.step.effort.label),
                *self.dose.facts,
                *self.bounds,
                ("easier step allowed", self._easier_words),
                ("note to the patient", line.note_patient),
                ("note for staff", line.note_staff),
                ("episode", line.episode.diagnosis if line.episode else ""),
                ("helper", line.home_helper.name if line.home_helper else ""),
                ("instructions", f"revision {line.revision.number}"),
            ),
        )


@dataclass(frozen=True)
class ShownVersion:
    """A version with its lines in words."""

    version: PlanVersion
    lines: tuple[ShownLine, ...]
    safety: Safety | None = None

    @property
    def barred(self) -> tuple[ShownLine, ...]:
        """The lines that a hard precaution stands against."""
        return tuple(line for line in self.lines if line.is_barred)

    @property
    def hard(self) -> tuple[tuple[ShownLine, StoodFinding], ...]:
        """Each line with each hard precaution that it breaks, once, overridden or not."""
        found: dict[tuple[str, int], tuple[ShownLine, StoodFinding]] = {}
        for line in self.lines:
            for each in line.found:
                if each.finding.is_hard and each.precaution:
                    found.setdefault((line.line.key, each.precaution.pk), (line, each))
        return tuple(found.values())

    @property
    def unchecked(self) -> tuple[ShownLine, ...]:
        """The lines that a person has to confirm."""
        return tuple(
            line for line in self.lines if any(each.finding.is_unchecked for each in line.found)
        )

    @cached_property
    def time(self) -> PlanTime:
        """The minutes that it asks: an estimate."""
        return plan_time([line.dose for line in self.lines])

    @property
    def joints(self) -> tuple[Joint, ...]:
        """The joints that its lines move, from the trunk outwards."""
        moved = {MOTIONS[key].joint for line in self.lines for key in line.exercise.moves}
        return tuple(joint for joint in Joint if joint in moved)

    @property
    def position_changes(self) -> int:
        """How often the patient changes position from line to line."""
        return position_changes([line.ordered for line in self.lines])

    @property
    def least_position_changes(self) -> int:
        """How often they would in the best order: each position is taken up once."""
        return max(0, len({line.step.position for line in self.lines}) - 1)

    @property
    def gaps(self) -> tuple[tuple[ShownLine, str], ...]:
        """What its lines still lack."""
        return tuple((line, gap) for line in self.lines for gap in line.gaps)


@dataclass(frozen=True)
class VersionChanges:
    """What a version changes against another one."""

    against: PlanVersion | None
    lines: tuple[LineChange, ...]
    reordered: bool = False
    pain_limit_before: int | None = None

    @property
    def count(self) -> int:
        """How many lines changed, the order and the pain limit counting one each."""
        return len(self.lines) + self.reordered + (self.pain_limit_before is not None)

    @property
    def is_empty(self) -> bool:
        """Whether it is as it was."""
        return self.count == 0


@dataclass(frozen=True)
class Asks:
    """What a version asks: of each joint a week against another version, and in all.

    ``jumps`` and ``much`` are what to look at, with the limits' sources.
    """

    against: PlanVersion | None
    rows: tuple[AskedRow, ...]
    jumps: tuple[Note, ...]
    much: Note | None


@dataclass(frozen=True)
class PlanPage:
    """The plan of one patient today."""

    in_force: ShownVersion | None
    coming: ShownVersion | None
    open_version: PlanVersion | None
    versions: tuple[PlanVersion, ...]
    pauses: tuple[Pause, ...]
    paused_today: Pause | None
    withdrawn: tuple[Withdrawn, ...] = ()


def shown_line(
    line: Line, found: tuple[StoodFinding, ...] = (), body: BodyTaken | None = None
) -> ShownLine:
    """Return a line in words (no query where the line came with its revision and people)."""
    exercise = queries.exercise_of(line.revision)
    step = step_of(line)
    return ShownLine(
        found=found,
        body=body,
        line=line,
        exercise=exercise,
        step=step,
        dose=LineDose(
            unit=Unit(line.unit),
            sets=line.sets,
            amount_low=line.amount_low,
            amount_high=line.amount_high,
            hold_s=line.hold_s,
            pace_s=float(line.pace_s),
            rest_s=line.rest_s,
            load_g=line.load_g,
            load_means=line.load_means,
            sessions_per_day=line.sessions_per_day,
            weekdays=line.weekday_set,
            position=step.position.value,
            more_if_easy=line.more_if_easy,
            own_pace_s=exercise.dose.pace_s,
            is_rest=not (exercise.moves or step.poses)
            and bool(exercise.loads)
            and step.effort is Effort.PASSIVE,
        ),
    )


def shown_version(version: PlanVersion, day: date | None = None) -> ShownVersion:
    """Return a version, read with its lines, in words.

    With a ``day``, its lines are checked against the precautions of that day (up to six queries).
    """
    lines = version.lines.all()
    safety = safety_of(version, lines, day) if day else None
    body = body_of(version.patient) if day else None  # the check has read the patient
    return ShownVersion(
        version,
        tuple(shown_line(line, safety.of(line.key) if safety else (), body) for line in lines),
        safety,
    )


def body_of(patient: Patient) -> BodyTaken:
    """Return the body that loads are estimated for: the patient's, or what is assumed of it."""
    mass_kg = patient.body_mass_kg
    return body_taken(patient.stature_cm, None if mass_kg is None else float(mass_kg))


def version_changes(before: PlanVersion | None, after: ShownVersion) -> VersionChanges:
    """Return what ``after`` changes against ``before``."""
    was = [line.compared for line in shown_version(before).lines] if before else []
    now = [line.compared for line in after.lines]
    limit_moved = before is not None and before.pain_limit != after.version.pain_limit
    return VersionChanges(
        against=before,
        lines=line_changes(was, now),
        reordered=is_reordered(was, now),
        pain_limit_before=before.pain_limit if before and limit_moved else None,
    )


@cache
def ask_limits() -> AskLimits:
    """Return the clinic's limits; read once a process."""
    return read_ask_limits(settings.BASE_DIR / "fixtures" / "asks.toml")


def version_asks(before: PlanVersion | None, after: ShownVersion) -> Asks:
    """Return what a version asks, against ``before``, both read with their lines (no query)."""
    was = [queries.prescribed_line(line) for line in before.lines.all()] if before else []
    now = [queries.prescribed_line(line.line) for line in after.lines]
    rows, limits = asked_of_joints(was, now), ask_limits()
    return Asks(
        against=before if was else None,
        rows=folded(rows),
        jumps=jumps(rows, limits) if was else (),
        much=asks_much(len(after.lines), after.time, limits),
    )


def plan_page(patient: Patient, today: date) -> PlanPage:
    """Return the plan page's content (as many queries, however many versions and lines)."""
    versions = tuple(queries.version_list(patient))
    issued = [v for v in versions if v.state == PlanVersion.State.ISSUED]
    in_force = next((v for v in issued if v.effective_day and v.effective_day <= today), None)
    number = in_force.number if in_force else 0
    coming = next((v for v in reversed(issued) if v.number > number), None)
    shown = [version for version in (in_force, coming) if version]
    queries.read_lines(shown)
    for version in shown:
        version.patient = patient
    pauses = tuple(queries.pause_history(patient))
    return PlanPage(
        in_force=shown_version(in_force, today) if in_force else None,
        coming=shown_version(coming, max(today, coming.effective_day or today)) if coming else None,
        open_version=next((v for v in versions if v.is_open), None),
        versions=versions,
        pauses=pauses,
        paused_today=next((pause for pause in pauses if _holds(pause, today)), None),
        withdrawn=still_out(patient),
    )


def _holds(pause: Pause, day: date) -> bool:
    return (
        pause.struck_at is None
        and pause.first_day <= day
        and (pause.last_day is None or day <= pause.last_day)
    )


def usual_dose(exercise: catalogue.Exercise) -> LineDose:
    """Return the dose that an exercise comes with: every day, without a load."""
    usual = exercise.dose
    return LineDose(
        unit=Unit(exercise.unit),
        sets=usual.sets,
        amount_low=usual.amount_low,
        amount_high=usual.amount_high,
        hold_s=usual.hold_s,
        pace_s=usual.pace_s,
        rest_s=usual.rest_s,
        load_g=0,
        load_means="",
        sessions_per_day=usual.sessions_per_day,
        weekdays=frozenset(range(7)),
        position=exercise.position.value,
    )
