"""What a person is prescribed, from the words of the cast and the catalogue."""

from datetime import date

from logs.simulator.cast import WantedLine
from logs.simulator.people import SimulatedLine, SimulatedVersion
from patients.motions import Effort, Side
from plans.catalogue import Exercise
from plans.schedule import PrescribedLine, Unit


def simulated_line(wanted: WantedLine, exercise: Exercise, affected: str) -> SimulatedLine:
    """Return a line with what the story wants, and the exercise's usual dose for the rest."""
    dose = exercise.dose
    effort = Effort.from_key(wanted.step)
    step = next((step for step in exercise.steps if step.effort == effort), exercise.steps[-1])
    easier = exercise.below(step.effort.key)
    side = wanted.side or affected if exercise.sided else "both"
    low = wanted.low or dose.amount_low
    return SimulatedLine(
        prescribed=PrescribedLine(
            key=f"{exercise.key}-{side}",
            exercise=exercise.key,
            name=exercise.words("en").name,
            side=Side(side),
            step=step.effort,
            unit=Unit(exercise.unit),
            sets=wanted.sets or dose.sets,
            amount_low=low,
            amount_high=max(low, wanted.high or dose.amount_high),
            hold_s=dose.hold_s if wanted.hold_s is None else wanted.hold_s,
            pace_s=float(dose.pace_s),
            load_g=wanted.load_g if step.load_means else 0,
            sessions_per_day=wanted.sessions_per_day or min(2, dose.sessions_per_day),
            weekdays=frozenset(wanted.weekdays),
            moves=exercise.moves,
            loads=tuple(joint.value for joint in exercise.loads),
            easier=easier.effort if wanted.easier and easier else None,
        ),
        load_means=step.load_means.value if step.load_means else "",
        rest_s=dose.rest_s,
        note=wanted.note,
    )


def lines_due(version: SimulatedVersion, day: date) -> list[list[PrescribedLine]]:
    """The lines of each session that a version asks for on such a day."""
    today = [line.prescribed for line in version.lines if day.weekday() in line.prescribed.weekdays]
    most = max((line.sessions_per_day for line in today), default=0)
    return [[line for line in today if line.sessions_per_day > number] for number in range(most)]
