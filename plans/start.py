"""Where on its ladder an exercise may start, from what was assessed, and why. Pure.

A pose is judged by the grade of the muscle group that its moment calls on, in its own position, not
by the exercise's name (common practice, no source; grades are the MRC's):

* 0: passive only;
* 1: assisted, with the attempt;
* 2- to 2+: nothing whose gravity moment exceeds a set share of holding the arm straight out;
* 3-: against gravity, but only through its available arc;
* up to 3: no added resistance; 3+: asks first.

Fingers and thumb have no gravity-reduced step: at 2 they move actively through what they have.
Without a grade the start is the lowest step. It proposes; the therapist decides.
"""

import tomllib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

from patients.assessment import Grade, NotTested, muscle_group
from patients.motions import MOTIONS, Effort, Joint
from plans.catalogue import Exercise
from plans.safety import StepBounds
from plans.step_load import StepLoad

WITHOUT_MOMENTS = (Joint.FINGERS, Joint.THUMB)
"""Joints whose weight the model leaves out: gravity asks next to nothing of them."""

UNBOUNDED = StepBounds({}, {})
"""No precautions."""

_1, _2_PLUS, _3_MINUS, _3, _3_PLUS = (
    Grade.from_text(text) for text in ("1", "2+", "3-", "3", "3+")
)


@dataclass(frozen=True)
class StartRules:
    """The sizes that the rules need, in percent of the arm held straight out; 0-10 for pain."""

    grade_2_share_percent: int
    least_share_percent: int
    pain_asks_above: int
    source: str


class RulesError(ValueError):
    """Rules that can't be read; the message names the file and the entry."""


def read_rules(path: Path) -> StartRules:
    """Return the rules of a file; RulesError naming what is missing, unknown or wrong."""
    try:
        table = tomllib.loads(path.read_text(encoding="utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise RulesError(f"{path.name}: {error}") from None
    source = table.pop("source", "")
    names = [name for name in StartRules.__annotations__ if name != "source"]
    if set(table) != set(names):
        odd = ", ".join(sorted(set(table) ^ set(names)))
        raise RulesError(f"{path.name}: missing or unknown: {odd}")
    for name in names:
        value, most = table[name], 10 if name == "pain_asks_above" else 100
        if isinstance(value, bool) or not isinstance(value, int) or not 0 <= value <= most:
            raise RulesError(f"{path.name}: {name} is a whole number from 0 to {most}")
    if not isinstance(source, str) or not source.strip():
        raise RulesError(f"{path.name}: source must say where these come from")
    return StartRules(source=source, **table)


@dataclass(frozen=True)
class MotionState:
    """What the last assessment says of one motion on the side to be exercised.

    Without a ``grade``, ``not_tested`` may say why. ``active_deg`` and ``passive_deg`` are how far
    it goes by itself and when moved; ``painful`` that the end of range hurt.
    """

    grade: Grade | None = None
    not_tested: NotTested | None = None
    active_deg: int | None = None
    passive_deg: int | None = None
    painful: bool = False


class StepWhy(NamedTuple):
    """A step and why it is forbidden, or what to settle first."""

    effort: Effort
    why: str


class Stop(NamedTuple):
    """Where a motion is to be stopped short of what the pictures show, and why.

    One that ``is_set`` goes on the line: a precaution asks for it, or somebody or the other hand
    would force the joint past where its end hurts. Others end with the patient's own range.
    """

    motion: str
    at_deg: int
    why: str
    is_set: bool = False

    @property
    def words(self) -> str:
        """The stop in words."""
        return f"stop {MOTIONS[self.motion].label} at {self.at_deg}°: {self.why}"


@dataclass(frozen=True)
class Proposal:
    """A proposed step (None: none of this ladder) with its reason, and what is not proposed.

    ``forbidden`` steps take an override with a reason; ``asks`` want something settled first.
    ``is_checked`` is False where the model could not look at poses. ``ungraded`` are the joints
    of which an assessment would tell more.
    """

    effort: Effort | None
    reason: str
    forbidden: tuple[StepWhy, ...] = ()
    asks: tuple[StepWhy, ...] = ()
    stops: tuple[Stop, ...] = ()
    is_checked: bool = True
    ungraded: tuple[Joint, ...] = ()

    @property
    def set_stop(self) -> tuple[str, int] | None:
        """The motion and angle at which a line on the proposed step is to be stopped, if any."""
        return next(((stop.motion, stop.at_deg) for stop in self.stops if stop.is_set), None)

    def why_forbidden(self, effort: Effort) -> str:
        """Return why a step is forbidden; empty where it is not."""
        return next((row.why for row in self.forbidden if row.effort is effort), "")


def propose(
    exercise: Exercise,
    loads: Iterable[StepLoad],
    states: Mapping[str, MotionState],
    rules: StartRules,
    *,
    pain_on_movement: int | None = None,
    bounds: StepBounds = UNBOUNDED,
) -> Proposal:
    """Return the step to start on: the highest before one that is too much or asks first.

    ``loads`` are those of :func:`plans.step_load.ladder_loads`; ``states`` by motion, for the side
    to be exercised; ``bounds`` says which steps the precautions bar, which are passed over, and
    which they stop short. Without any grade it is the lowest step left, if that adds no resistance.
    """
    ladder = sorted(loads, key=lambda load: load.effort)
    judge = _Judge(exercise, states, rules, pain_on_movement)
    forbidden: list[StepWhy] = []
    asks: list[StepWhy] = []
    fitting: list[StepLoad] = []
    next_up: StepWhy | None = None
    for load in ladder:
        bar, why = bounds.barred.get(load.effort, ""), judge.forbids(load)
        is_start = not (judge.has_grade or fitting or load.effort is Effort.RESISTED)
        question = "" if bar or why or is_start else judge.asks(load)
        if bar or why:
            forbidden.append(StepWhy(load.effort, bar or why))
        elif question:
            asks.append(StepWhy(load.effort, question))
        elif next_up is None:
            fitting.append(load)
        if next_up is None and (why or question):
            next_up = StepWhy(load.effort, question)
    if not judge.has_grade:
        fitting = fitting[:1]
    best = fitting[-1] if fitting else None
    waits = next_up if next_up and next_up.why and judge.has_grade else None
    return Proposal(
        effort=best.effort if best else None,
        reason=judge.reason(best, waits, _capped(ladder, best, bounds)),
        forbidden=tuple(forbidden),
        asks=tuple(asks),
        stops=_stops(judge, best, bounds) if best else (),
        is_checked=all(load.is_checked for load in ladder),
        ungraded=tuple(
            dict.fromkeys(MOTIONS[group].joint for group in judge.named if not judge.grade(group))
        ),
    )


def _capped(
    ladder: Sequence[StepLoad], best: StepLoad | None, bounds: StepBounds
) -> StepWhy | None:
    """The next step up and why, where the precautions bar it."""
    if best is None:
        return None
    above = next((load.effort for load in ladder if load.effort > best.effort), None)
    if above is None or above not in bounds.barred:
        return None
    return StepWhy(above, bounds.barred[above])


def _stops(judge: "_Judge", best: StepLoad, bounds: StepBounds) -> tuple[Stop, ...]:
    """What the patient's range and the precautions stop, those that are set and nearest first."""
    stops = {stop.motion: stop for stop in judge.stops(best)}
    if best.effort in bounds.stops:
        (motion, at_deg), why = bounds.stops[best.effort]
        own = stops.get(motion)
        if own is None or at_deg <= own.at_deg:
            stops[motion] = Stop(motion, at_deg, why, is_set=True)
        else:
            stops[motion] = own._replace(is_set=True)
    return tuple(sorted(stops.values(), key=lambda stop: not stop.is_set))


@dataclass(frozen=True)
class _Called:
    """A muscle group that a step calls on; ``share`` is None where gravity asks nothing of it."""

    group: str
    share: int | None


@dataclass(frozen=True)
class _Judge:
    """The rules, for one exercise and what is known of the patient."""

    exercise: Exercise
    states: Mapping[str, MotionState]
    rules: StartRules
    pain_on_movement: int | None

    def grade(self, group: str) -> Grade | None:
        """The grade that a muscle group was given."""
        return self.states[group].grade if group in self.states else None

    def taken_as(self, group: str) -> Grade | None:
        """The grade that counts: its own, or the lowest known of its joint.

        A motion that the exercise names must be graded itself.
        """
        own = self.grade(group)
        if own is not None or group in self.named:
            return own
        return self.lowest_of_joint(group)

    def lowest_of_joint(self, group: str) -> Grade | None:
        """The weakest grade known at a group's joint."""
        joint = MOTIONS[group].joint
        known = [g for key in self.states if MOTIONS[key].joint is joint and (g := self.grade(key))]
        return min(known, default=None)

    def graded(self, group: str, grade: Grade) -> str:
        """A muscle group with its grade, in words."""
        name = muscle_group(group)
        name = name[:1].upper() + name[1:]
        if self.grade(group) is not None:
            return f"{name} {grade.label}"
        return f"{name}, not graded, taken as {grade.label}, the lowest of the joint"

    @property
    def named(self) -> tuple[str, ...]:
        """The motions that the exercise is for; of a press without movement, all it loads."""
        if self.exercise.moves:
            return self.exercise.moves
        return tuple(key for key, motion in MOTIONS.items() if motion.joint in self.exercise.loads)

    @property
    def has_grade(self) -> bool:
        return any(self.grade(group) is not None for group in self.named)

    def called(self, load: StepLoad) -> Iterator[_Called]:
        """The muscle groups that decide: of joints that are moved or named as carrying."""
        joints = {MOTIONS[group].joint for group in self.exercise.moves}
        joints |= set(self.exercise.loads)
        for group, share in load.share_percent.items():
            is_named = group in self.exercise.moves
            if is_named or (
                share >= self.rules.least_share_percent and MOTIONS[group].joint in joints
            ):
                yield _Called(group, share)
        for group in self.named:
            opposite = MOTIONS[group].opposite
            if group not in load.share_percent and opposite not in load.share_percent:
                yield _Called(group, None)

    def resisted(self, load: StepLoad) -> Iterator[str]:
        """The muscle groups that the added resistance calls on."""
        for group in self.named:
            # The weight may call on the opposite motion alone; then that one carries it.
            if group in load.with_weight or MOTIONS[group].opposite not in load.with_weight:
                yield group
        for called in self.called(load):
            if called.group in load.with_weight and called.group not in self.named:
                yield called.group

    def forbids(self, load: StepLoad) -> str:
        """Why a step is forbidden, or an empty text."""
        if load.effort is Effort.PASSIVE:
            return ""
        for called in self.called(load):
            grade = self.taken_as(called.group)
            if grade is not None and (why := self._too_much(load, called, grade)):
                return why
        if load.effort is Effort.RESISTED:
            for group in self.resisted(load):
                grade = self.taken_as(group)
                if grade is not None and grade <= _3:
                    return f"{self.graded(group, grade)}: no added resistance up to 3."
        return ""

    def _too_much(self, load: StepLoad, called: _Called, grade: Grade) -> str:
        who = self.graded(called.group, grade)
        if grade < _1:
            return f"{who}: no contraction, so passive only."
        if load.effort is Effort.SELF_ASSISTED:
            return ""
        if grade <= _1:
            return f"{who}: a flicker moves nothing, so assisted, with the attempt."
        if grade > _2_PLUS:
            return ""
        if not load.is_checked:
            # Of a pose that nobody computed, the ladder's own order is all there is.
            is_free = MOTIONS[called.group].joint in WITHOUT_MOMENTS
            fits = is_free or load.effort <= Effort.GRAVITY_REDUCED
            return "" if fits else f"{who}: not against gravity (not checked by the model)."
        limit = self.rules.grade_2_share_percent
        if called.share is None or called.share <= limit:
            return ""
        return (
            f"{who}: {load.position} this asks for {called.share} % of holding the arm straight "
            f"out, most {load.peak[called.group]}; at most {limit} % is set for 2− to 2+."
        )

    def asks(self, load: StepLoad) -> str:
        """What to settle before a step is proposed, or an empty text."""
        if load.effort <= Effort.SELF_ASSISTED:
            return ""
        for called in self.called(load):
            if why := self._unknown(load, called):
                return why
            has_an_arc = self._has_an_arc(load, called.group)
            if has_an_arc and self.states[called.group].active_deg is None:
                who = self.graded(called.group, _3_MINUS)
                return f"{who}: only through its available arc, which is not measured."
        if load.effort is Effort.RESISTED:
            if not self.has_grade:
                return "No muscle group that it is for is graded."
            for group in self.resisted(load):
                grade = self.taken_as(group)
                if grade is not None and grade == _3_PLUS:
                    return f"{self.graded(group, grade)}: is a little resistance wanted already?"
            pain, most = self.pain_on_movement, self.rules.pain_asks_above
            if pain is not None and pain > most:
                return f"Pain on movement was {pain}, above {most}: is resistance wanted?"
        return ""

    def _unknown(self, load: StepLoad, called: _Called) -> str:
        group, opposite = called.group, MOTIONS[called.group].opposite
        if group not in self.exercise.moves or self.grade(group) is not None:
            return ""
        is_little = (called.share or 0) <= self.rules.grade_2_share_percent
        if is_little and opposite and self.grade(opposite) is not None:
            return ""  # where gravity asks little, one of a pair graded is enough
        if is_little and load.is_checked and group != self.exercise.moves[0]:
            # Of several motions the first must be graded; a small load asks no more of the
            # others than that nothing at their joint is known to be below 2.
            known = self.lowest_of_joint(group)
            if called.share is None or (known is not None and known > _1):
                return ""
        return f"The {muscle_group(group)} are not graded{self._why_not(group)}."

    def _why_not(self, group: str) -> str:
        state = self.states.get(group)
        return f" ({state.not_tested.label})" if state and state.not_tested else ""

    def _has_an_arc(self, load: StepLoad, motion: str) -> bool:
        """Whether 3- lifts it against gravity, so only through the arc that it has."""
        held = load.share_percent.get(motion, 0) > self.rules.grade_2_share_percent
        held |= not load.is_checked and load.effort >= Effort.ACTIVE
        return self.grade(motion) == _3_MINUS and motion in self.exercise.moves and held

    def stops(self, load: StepLoad) -> Iterator[Stop]:
        """Where the patient's own range ends before the step's poses do."""
        for motion in self.exercise.moves:
            state, reach = self.states.get(motion), load.reach_deg.get(motion)
            if state is None or reach is None:
                continue
            has_an_arc = load.effort > Effort.SELF_ASSISTED and self._has_an_arc(load, motion)
            if has_an_arc and state.active_deg is not None and state.active_deg < reach:
                yield Stop(motion, state.active_deg, "its available arc")
            elif state.passive_deg is not None and state.passive_deg < reach:
                pain = ", painful at its end" if state.painful else ""
                forced = state.painful and load.effort <= Effort.SELF_ASSISTED
                yield Stop(motion, state.passive_deg, f"the range measured{pain}", is_set=forced)

    def reason(self, best: StepLoad | None, waits: StepWhy | None, capped: StepWhy | None) -> str:
        """A sentence or two on why this step.

        ``waits`` is the next one, if it asks first; ``capped`` is it, if the precautions bar it.
        """
        if best is None:
            if waits:
                return f"No step without an answer first: {waits.why}"
            return "No step of this ladder fits: choose another exercise."
        words = self._why(best)
        if not best.is_checked:
            words += " Not checked by the model."
        if waits:
            words += f" Before {waits.effort.label}: {waits.why}"
        if capped:
            words += f" Not {capped.effort.label}: {capped.why}"
        return words

    def _why(self, best: StepLoad) -> str:
        if not self.named:
            return "An activity without motions: the lowest step."
        if not self.has_grade:
            whose = self.named[0]
            return (
                f"{muscle_group(whose).capitalize()} not graded{self._why_not(whose)}: "
                "the lowest step allowed."
            )
        grade, group = self._weakest(best)
        return f"{self.graded(group, grade)}: {self._fits(best, grade)}"

    def _weakest(self, load: StepLoad) -> tuple[Grade, str]:
        """The weakest graded group that the step is for, of those that it calls on if any."""
        graded = [(grade, key) for key in self.named if (grade := self.grade(key)) is not None]
        called = {called.group for called in self.called(load)}
        return min([row for row in graded if row[1] in called] or graded)

    def _fits(self, best: StepLoad, grade: Grade) -> str:
        if best.effort is Effort.PASSIVE:
            return "moved without effort of its own."
        if best.effort is Effort.SELF_ASSISTED:
            return f"the other hand helps{', with the attempt' if grade == _1 else ''}."
        if best.effort is Effort.RESISTED:
            return "moves against some resistance; begin light."
        if not best.is_checked:
            return f"{best.effort.label}, by the ladder's order."
        shares = (called.share or 0 for called in self.called(best) if called.group in self.named)
        most = max(shares, default=0)
        if most > self.rules.grade_2_share_percent:
            return f"{best.position}, against gravity, {most} % of holding the arm straight out."
        little = f"{most} % of holding the arm straight out" if most else "next to nothing"
        words = f"{best.position}, gravity asks {little}."
        if best.rub_percent >= self.rules.least_share_percent:
            words += f" Sliding rubs with up to {best.rub_percent} %: a smooth board or cloth."
        return words
