"""A starting set fitted to one patient: each exercise at the step that its proposal gives. Pure.

An exercise is put in at the step that the assessment and the precautions speak for, never higher
than the set means, and never on a step that is forbidden or asks for an answer first. Where no such
step is left, the exercise stays out, and says why.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from patients.motions import Effort, Joint, Side
from patients.precautions import Kind, Limit
from plans.catalogue import Exercise, Step
from plans.exercise import MovementError
from plans.line_checks import CheckedLine, line_findings
from plans.start import Proposal
from plans.starting_sets import SetLine
from plans.stopped import Stop


@dataclass(frozen=True)
class Fitted:
    """One exercise of a set for one patient; without a ``step`` it stays out.

    ``reason`` says why this step or why none; ``notes`` what a person should look at besides;
    ``ungraded`` are the joints of which an assessment would tell more.
    """

    line: SetLine
    exercise: Exercise
    side: Side
    step: Step | None
    reason: str
    notes: tuple[str, ...] = ()
    orthosis: str = ""
    stop: Stop | None = None
    ungraded: tuple[Joint, ...] = ()


def fitted(
    line: SetLine, exercise: Exercise, side: Side, proposal: Proposal, limits: Sequence[Limit]
) -> Fitted:
    """Return where one exercise of a set starts; ``limits`` are those that hold for the patient."""
    out = Fitted(line, exercise, side, None, proposal.reason, ungraded=proposal.ungraded)
    if proposal.effort is None:
        first = next(iter(proposal.forbidden), None)
        return replace(out, reason=first.why if first else proposal.reason)
    kept = [limit for limit in limits if limit.is_hard and limit.concerns(side)]
    stays_on = any(limit.kind is Kind.ORTHOSIS for limit in kept)
    orthosis = "on" if stays_on else ""
    most = proposal.effort if line.most is None else min(proposal.effort, line.most)
    settled = {row.effort for row in (*proposal.forbidden, *proposal.asks)}
    broken = ""
    for step in reversed(exercise.steps):
        if step.effort > most or step.effort in settled:
            continue
        stop = proposal.set_stop if step.effort is proposal.effort else None
        motion, at_deg = stop or ("", None)
        tried = CheckedLine(
            "", exercise, step, side, orthosis=orthosis, stop_motion=motion, stop_deg=at_deg
        )
        found = _hard(tried, limits)
        if found:
            broken = broken or found
            continue
        return replace(
            out,
            step=step,
            orthosis=orthosis,
            stop=stop,
            reason=_reason(proposal, step, line.most, broken),
            notes=tuple(_notes(proposal, step, stays_on=stays_on)),
        )
    if broken:
        return replace(out, reason=broken)
    lowest = exercise.steps[0].effort.label
    return replace(
        out, reason=f"The set goes no higher than {_label(line.most)}; the lowest left is {lowest}."
    )


def _hard(line: CheckedLine, limits: Sequence[Limit]) -> str:
    """What hard limit a line would break, in words; empty where it breaks none."""
    try:
        found = next((each for each in line_findings(line, limits) if each.is_hard), None)
    except MovementError as error:
        return f"Its poses can't be done: {error}."
    if found is None:
        return ""
    return f"{found.words} Precaution: {found.limit.words}." if found.limit else found.words


def _reason(proposal: Proposal, step: Step, most: Effort | None, broken: str) -> str:
    if step.effort is proposal.effort:
        return proposal.reason
    if broken:
        return f"{proposal.reason} Higher: {broken}"
    return f"{proposal.reason} The set goes no higher than {_label(most)}."


def _notes(proposal: Proposal, step: Step, *, stays_on: bool) -> Iterable[str]:
    if stays_on:
        yield "The orthosis stays on, as a precaution asks."
    if step.effort is proposal.effort:
        for stop in proposal.stops:
            yield f"{stop.words[:1].upper()}{stop.words[1:]}."


def _label(effort: Effort | None) -> str:
    return effort.label if effort else "its highest step"
