"""Where exercises may start for one patient: the assessment's rows as what the rules take."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from functools import cache

from django.conf import settings

from patients.assessment import Grade, NotTested
from patients.assessment_queries import latest_measures, latest_pain_on_movement
from patients.measures_models import MotionMeasure
from patients.models import Patient
from patients.motions import Side
from patients.precaution_queries import precautions_on
from patients.precautions import Limit
from plans.catalogue import Exercise
from plans.safety import StepBounds, step_bounds
from plans.start import MotionState, Proposal, StartRules, propose, read_rules
from plans.step_load import StepLoad, ladder_loads

# An exercise as read never changes, and each is read once a process; so is what its steps ask.
_loads: dict[str, tuple[Exercise, tuple[StepLoad, ...]]] = {}


@cache
def start_rules() -> StartRules:
    """Return the clinic's rules; read once a process."""
    return read_rules(settings.BASE_DIR / "fixtures" / "start.toml")


def loads_of(exercise: Exercise) -> tuple[StepLoad, ...]:
    """Return what each step of an exercise asks, computed once."""
    known = _loads.get(exercise.key)
    if known is None or known[0] is not exercise:
        known = _loads[exercise.key] = (exercise, ladder_loads(exercise))
    return known[1]


@dataclass(frozen=True)
class Known:
    """What is known of a patient now: each motion's latest measures, and what limits it."""

    by_side: Mapping[Side, Mapping[str, MotionState]]
    pain_on_movement: int | None
    measured_day: date | None
    limits: tuple[Limit, ...] = ()

    def states(self, side: Side) -> Mapping[str, MotionState]:
        """Return what is known of a side; of both, the weaker and the shorter count."""
        if side is not Side.BOTH:
            return self.by_side[side]
        left, right = self.by_side[Side.LEFT], self.by_side[Side.RIGHT]
        return {motion: _lower(left.get(motion), right.get(motion)) for motion in {*left, *right}}

    @property
    def is_telling(self) -> bool:
        """Whether anything was assessed or limited, so that a proposal rests on something."""
        return self.measured_day is not None or bool(self.limits)

    def proposal(self, exercise: Exercise, side: Side) -> Proposal:
        """Return where an exercise may start; a step that a hard limit bars is never proposed."""
        return propose(
            exercise,
            loads_of(exercise),
            self.states(side),
            start_rules(),
            pain_on_movement=self.pain_on_movement,
            bounds=step_bounds(exercise, self.limits, side) if self.limits else StepBounds({}, {}),
        )

    def stop_of(self, exercise: Exercise, side: str, step: str) -> tuple[str, int] | None:
        """Return where a line on the proposed step is to be stopped; None of any other step."""
        found = self.proposal(exercise, Side(side))
        if found.effort is None or found.effort.key != step:
            return None
        return found.set_stop


def known_of(patient: Patient, day: date) -> Known:
    """Return what is known of a patient on a day (up to five queries)."""
    measures = latest_measures(patient)
    by_side: dict[Side, dict[str, MotionState]] = {Side.LEFT: {}, Side.RIGHT: {}}
    for (motion, side), row in measures.items():
        by_side[Side(side)][motion] = _state(row)
    days = [row.assessment.measured_day for row in measures.values()]
    return Known(
        by_side,
        latest_pain_on_movement(patient),
        max(days, default=None),
        tuple(precaution.limit for precaution in precautions_on(patient, day)),
    )


def _state(row: MotionMeasure) -> MotionState:
    return MotionState(
        grade=Grade.from_text(row.grade) if row.grade else None,
        not_tested=NotTested(row.grade_not_tested) if row.grade_not_tested else None,
        active_deg=row.active_deg,
        passive_deg=row.passive_deg,
        painful=row.active_pain or row.passive_pain,
    )


def _lower(one: MotionState | None, two: MotionState | None) -> MotionState:
    if one is None or two is None:
        return MotionState()
    ungraded = one if one.grade is None else two
    grades = [state.grade for state in (one, two) if state.grade is not None]
    return MotionState(
        grade=min(grades) if len(grades) == 2 else None,
        not_tested=ungraded.not_tested if len(grades) < 2 else None,
        active_deg=_shorter(one.active_deg, two.active_deg),
        passive_deg=_shorter(one.passive_deg, two.passive_deg),
        painful=one.painful or two.painful,
    )


def _shorter(one: int | None, two: int | None) -> int | None:
    return None if one is None or two is None else min(one, two)
