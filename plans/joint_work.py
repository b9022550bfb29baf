"""How much work each joint and each muscle group does in one repetition. Pure.

Estimates, as the moments are (see ``plans.moments``): against gravity and load only. A muscle group
works (J) while it shortens: its moment times the turn about its axis. What is got back while it
lengthens is not taken off, as muscles don't store it. All joints together therefore do at least
the work of the lift itself, and more where one gives back what another one has to add.

>>> from plans.exercise import read_movement
>>> bend = read_movement(
...     {
...         "effort": "active",
...         "position": "sitting",
...         "moves": ["elbow_flexion"],
...         "poses": [{"at": 0, "elevation": 0, "elbow": 0}, {"at": 2, "elbow": 90}, {"at": 4}],
...     },
...     where="bend",
... )
>>> found = joint_work(bend)
>>> round(found.by_group["elbow_flexion"], 2), round(bend.work_j(), 2)
(2.58, 2.58)
"""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from patients.motions import Joint
from plans.arm import COLUMN, Floats
from plans.exercise import Movement
from plans.moments import AXES, axis_vectors, groups
from plans.segments import Body

_OWN_ANGLES = (
    "protraction",
    "shrug",
    None,  # the shoulder's three axes turn with the arm: what it turned about them is worked out
    None,
    None,
    "elbow",
    "supination",
    "wrist",
    "deviation",
)
_SHOULDER = slice(2, 5)


@dataclass(frozen=True)
class JointWork:
    """Work (J) of one repetition by joint, and by the motion that names the muscle group.

    A joint or motion that is not in it did none.
    """

    by_joint: Mapping[Joint, float]
    by_group: Mapping[str, float]


def joint_work(movement: Movement, body: Body | None = None, load_kg: float = 0.0) -> JointWork:
    """Return the work of one repetition with a load, less the help's share."""
    body = body or Body()
    power = step_work_j(movement, body, load_kg)
    rows = movement.samples[1]
    by_joint: dict[Joint, float] = {}
    for joint in dict.fromkeys(axis.joint for axis in AXES):
        columns = [i for i, axis in enumerate(AXES) if axis.joint is joint]
        total = power[:, columns].sum(axis=1)
        if done := float(total[total > 0].sum()):
            by_joint[joint] = done
    by_group: dict[str, float] = defaultdict(float)
    moments = movement.demands(body, load_kg, friction=0.0)
    for column in range(len(AXES)):
        ways = groups(rows, column)
        for step in np.flatnonzero(power[:, column] > 0):
            up, down = ways[step]
            moment = moments[step, column] + moments[step + 1, column]
            by_group[up if moment > 0 else down] += float(power[step, column])
    return JointWork(by_joint, dict(by_group))


def step_work_j(movement: Movement, body: Body, load_kg: float = 0.0) -> Floats:
    """Work (J) about each of ``AXES`` from one sample to the next; below 0 it is given back.

    Without rest and help its sum is what arm and weight gain in height (virtual work).
    """
    rows = movement.samples[1]
    arm = movement.chain(rows, body)
    moments = movement.demands(body, load_kg, friction=0.0)
    means = (moments[1:] + moments[:-1]) / 2
    work = np.zeros_like(means)
    for column, name in enumerate(_OWN_ANGLES):
        if name is not None:
            work[:, column] = means[:, column] * np.diff(np.radians(rows[:, COLUMN[name]]))
    turned = _turns(arm.upper_frame) - _turns(arm.clavicle_frame)
    vectors = axis_vectors(arm)
    for column in range(_SHOULDER.start, _SHOULDER.stop):
        vector = moments[:, column, None] * vectors[column]
        work[:, column] = ((vector[1:] + vector[:-1]) / 2 * turned).sum(axis=1)
    return work


def _turns(frames: Floats) -> Floats:
    """How a frame turns from each row to the next: about the vector, by its length (rad)."""
    between = frames[1:] @ frames[:-1].transpose(0, 2, 1)
    skew = (between - between.transpose(0, 2, 1)) / 2
    vector = np.stack([skew[:, 2, 1], skew[:, 0, 2], skew[:, 1, 0]], axis=1)
    sine = np.linalg.norm(vector, axis=1)
    angle = np.arcsin(np.clip(sine, 0.0, 1.0))
    stretched = np.divide(angle, sine, out=np.ones_like(sine), where=sine > 1e-12)
    return np.asarray(vector * stretched[:, None])
