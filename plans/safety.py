"""Lines against precautions: what breaks a limit, and what would pass in its place. Pure.

What has no poses is not checked by the model, and a person confirms it. Nothing here decides: hard
findings block an issue unless a named person overrides them.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from patients.assessment import Grade
from patients.motions import MOTIONS, Effort, Side
from patients.precautions import Kind, Limit, degrees
from plans.catalogue import Exercise, Step
from plans.described import described
from plans.line_checks import CheckedLine, Finding, Pass, line_findings
from plans.stopped import Stop

WEAK_UP_TO = Grade.from_text("3")
"""An elbow of this grade or below may give way under an arm overhead; common practice."""

FIRM_FROM = Grade.from_text("4")
"""Finger flexors of this grade or above hold a weight safely; common practice, no source."""


@dataclass(frozen=True)
class Strength:
    """Grades that say whether an arm is safe overhead and a grip is firm, by side."""

    elbow: Mapping[Side, Grade]
    grip: Mapping[Side, Grade]


UNKNOWN_STRENGTH = Strength({}, {})


def findings(
    lines: Iterable[CheckedLine],
    limits: Sequence[Limit],
    *,
    strength: Strength = UNKNOWN_STRENGTH,
    neighbours: Mapping[str, Exercise] | None = None,
) -> tuple[Finding, ...]:
    """Return what is found in lines against limits, line by line, hard ones first.

    ``neighbours`` are the exercises that may be offered instead, by key.
    """
    found: list[Finding] = []
    for line in lines:
        own = list(line_findings(line, limits))
        if any(finding.is_hard for finding in own):
            easier, others = _steps_that_pass(line, limits, neighbours or {})
            own = [
                replace(finding, passes=(*easier, *_changes(line, finding, limits), *others))
                if finding.is_hard
                else finding
                for finding in own
            ]
        own += _care_findings(line, strength)
        found += sorted(own, key=lambda finding: (not finding.is_hard, finding.is_unchecked))
    return tuple(found)


@dataclass(frozen=True)
class StepBounds:
    """What hard limits say of a ladder: the steps that they bar, and those to be stopped short.

    Both say why; a step is stopped where that alone makes it pass every one of them.
    """

    barred: Mapping[Effort, str]
    stops: Mapping[Effort, tuple[Stop, str]]


def step_bounds(exercise: Exercise, limits: Sequence[Limit], side: Side) -> StepBounds:
    """Return what hard limits bar or bound of a ladder; an orthosis is not looked at.

    Of loads only a limit that allows none counts: below another one a lighter weight may be chosen.
    """
    kept = [
        limit
        for limit in limits
        if limit.is_hard and limit.kind is not Kind.ORTHOSIS and not limit.limit_g
    ]
    barred: dict[Effort, str] = {}
    stops: dict[Effort, tuple[Stop, str]] = {}
    for step in exercise.steps:
        line = CheckedLine(key="", exercise=exercise, step=step, side=side)
        hard = [(f, f.limit) for f in line_findings(line, kept) if f.is_hard and f.limit]
        if not hard:
            continue
        stop = next((stop for _, limit in hard if (stop := _stop_at(line, limit, kept))), None)
        if stop:
            at = next(limit for _, limit in hard if (limit.motion, limit.limit_deg) == stop)
            stops[step.effort] = (stop, f"precaution: {at.words}")
        else:
            finding, limit = hard[0]
            barred[step.effort] = f"{finding.words} Precaution: {limit.words}."
    return StepBounds(barred, stops)


def _care_findings(line: CheckedLine, strength: Strength) -> Iterator[Finding]:
    """What is unsafe whatever the precautions say; always for a person to weigh."""
    poses = described(line.exercise, line.step, line.stop)
    for side in line.side.parts:
        grip, elbow = strength.grip.get(side), strength.elbow.get(side)
        at_s = poses.above_face_at_s
        if at_s is not None and line.means == "held" and (grip is None or grip < FIRM_FROM):
            known = f"finger flexors are {grip.label}" if grip else "grip is not graded"
            words = (
                f"At {at_s:.1f} s the hand holds a weight above the face, and the {side.value} "
                f"{known}. A cuff on the wrist can't be dropped."
            )
            yield Finding(line.key, None, side, words, is_hard=False, at_s=at_s)
        at_s = poses.overhead_at_s
        if at_s is not None and elbow is not None and elbow <= WEAK_UP_TO:
            words = (
                f"At {at_s:.1f} s the arm is raised without support, and the {side.value} elbow "
                f"extensors are {elbow.label}: it may give way."
            )
            yield Finding(line.key, None, side, words, is_hard=False, at_s=at_s)


def _steps_that_pass(
    line: CheckedLine, limits: Sequence[Limit], neighbours: Mapping[str, Exercise]
) -> tuple[list[Pass], list[Pass]]:
    """What would pass every hard limit in the line's place, each checked as the line was.

    Easier steps of its own ladder, and other exercises: the same whatever the line breaks.
    """
    step = _best_step(line, line.exercise, limits, below=line.step.effort)
    easier = [Pass("step", f"the {step.effort.label} step", effort=step.effort.key)] if step else []
    others = []
    for key in (line.exercise.easier, line.exercise.harder):
        exercise = neighbours.get(key or "")
        best = _best_step(line, exercise, limits) if exercise else None
        if exercise and best:
            words = f"{exercise.words('en').name}, {best.effort.label}"
            others.append(Pass("exercise", words, exercise=exercise.key, effort=best.effort.key))
    return easier, others


def _changes(line: CheckedLine, finding: Finding, limits: Sequence[Limit]) -> Iterator[Pass]:
    """What of the same step would pass every hard limit: the orthosis on, or a stop."""
    limit = finding.limit
    if limit and limit.kind is Kind.ORTHOSIS and _is_clear(replace(line, orthosis="on"), limits):
        yield Pass("orthosis", "the same with the orthosis on")
    if limit and (stop := _stop_at(line, limit, limits)):
        motion, at_deg = stop
        words = f"stopped at {degrees(at_deg)} of {MOTIONS[motion].label}"
        yield Pass("stop", words, stop_motion=motion, stop_deg=at_deg)


def _stop_at(line: CheckedLine, limit: Limit, limits: Sequence[Limit]) -> Stop | None:
    """The stop at an angle limit with which a line passes every hard limit, if it does."""
    if limit.kind is not Kind.ANGLE or limit.limit_deg is None:
        return None
    stopped = replace(line, stop_motion=limit.motion, stop_deg=limit.limit_deg)
    passes = _moves_still(stopped) and _is_clear(stopped, limits)
    return (limit.motion, limit.limit_deg) if passes else None


def _best_step(
    line: CheckedLine, exercise: Exercise, limits: Sequence[Limit], below: Effort | None = None
) -> Step | None:
    """The highest step up to the line's own that passes every hard limit."""
    for step in reversed(exercise.steps):
        if step.effort > line.step.effort or (below is not None and step.effort >= below):
            continue
        other = CheckedLine(line.key, exercise, step, line.side, orthosis=line.orthosis)
        if exercise is line.exercise:  # an easier step keeps the line's stop
            other = replace(other, stop_motion=line.stop_motion, stop_deg=line.stop_deg)
        if _is_clear(other, limits):
            return step
    return None


def _is_clear(line: CheckedLine, limits: Sequence[Limit]) -> bool:
    return not any(found.is_hard or found.is_unchecked for found in line_findings(line, limits))


LEAST_MOVE_DEG = 10.0
"""A movement stopped so early that less than this is left is not worth offering; no source."""


def _moves_still(line: CheckedLine) -> bool:
    """Whether a stopped movement begins within its stop and still goes some way."""
    poses = described(line.exercise, line.step)
    high = poses.high.get(line.stop_motion)
    if high is None or line.stop_deg is None or not np.isfinite(high).any():
        return False
    return bool(np.nanmin(high) + LEAST_MOVE_DEG <= line.stop_deg and high[0] <= line.stop_deg)
