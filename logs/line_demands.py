"""What a prescribed line asks of joints and muscle groups: from its exercise, step, load and body.

Pure. All of it is estimated: the arm model is static, for an average body of that height and
weight (see ``plans.moments``). A line whose exercise has no poses asks nothing that is known.
"""

from collections.abc import Callable
from dataclasses import replace

from logs.volume import Demand, DemandOf
from patients.motions import MOTIONS
from plans.catalogue import Exercise
from plans.exercise import MovementError
from plans.joint_work import joint_work
from plans.moments import AXES
from plans.schedule import PrescribedLine
from plans.segments import Body
from plans.stopped import Stop, line_movement

_MODELLED = frozenset(axis.joint for axis in AXES)

type _Demands = dict[str, Demand]
# The table of a revision never changes, so neither does what its steps ask of one body.
_known: dict[tuple[str, str, str, int, Stop | None, Body], _Demands] = {}
_MOST_KNOWN = 20_000


def demands_for(body: Body, exercise_by_hash: Callable[[str], Exercise | None]) -> DemandOf:
    """Return what gives a line's demand on a body; each step and load is computed once a process.

    A motion or joint of the model that has no share in it is given 0, one beyond the model is left
    out.
    """

    def demand_of(line: PrescribedLine, load_g: int) -> _Demands:
        step = line.step.key if line.step else ""
        key = (line.revision, step, line.load_means, load_g, line.stop, body)
        if key not in _known:
            exercise = exercise_by_hash(line.revision) if line.revision else None
            if len(_known) >= _MOST_KNOWN:
                _known.clear()
            _known[key] = _demands(exercise, line, load_g, body) if exercise else {}
        return _known[key]

    return demand_of


def _demands(exercise: Exercise, line: PrescribedLine, load_g: int, body: Body) -> _Demands:
    step = next((step for step in exercise.steps if step.effort is line.step), exercise.steps[0])
    if not step.poses:
        return {}
    try:
        movement = line_movement(exercise, step, line.stop)
    except MovementError:  # a clinic's own poses that no arm can take
        return {}
    if line.load_means:
        movement = replace(movement, load_means=line.load_means)
    load_kg = load_g / 1000
    work = joint_work(movement, body, load_kg)
    by_group = {
        peak.group: peak.moment_nm for peak in movement.group_peaks(body, load_kg, friction=0.0)
    }
    found: _Demands = {
        joint.value: Demand(work.by_joint.get(joint, 0.0), 0.0)
        for joint in (*line.joints_moved, *line.joints_only_loaded)
        if joint in _MODELLED
    }
    for motion in line.moves:
        if MOTIONS[motion].joint in _MODELLED:
            found[motion] = Demand(work.by_group.get(motion, 0.0), by_group.get(motion, 0.0))
    for peak in movement.peak_moments(body, load_kg, friction=0.0):
        if peak.joint.value in found:
            found[peak.joint.value] = Demand(found[peak.joint.value].work_j, peak.moment_nm)
    return found
