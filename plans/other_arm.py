"""The other arm of a figure: at rest, helping, at the other end of a stick; or a helper. Pure."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np

from plans import body, limbs, things
from plans.arm import POSITIONS, angles, chain
from plans.body import Eye, Layer
from plans.exercise import DEFAULT_BODY, Movement
from plans.hand import SHAPES
from plans.hulls import Circle
from plans.limbs import Limb
from plans.poses import AT_EASE
from plans.shapes import Blob
from plans.space import Ball, Frame, Vector, cross, dot, length, minus, mix, plus, unit

HANDRAIL_M = (0.44, 0.22, 0.0)
"""The middle of the back of a chair that somebody who stands holds on to."""

OTHER_AT_EASE: dict[str, dict[str, float]] = {
    "sitting": {"elevation": 20, "plane": 80, "rotation": -6, "elbow": 47, "supination": -70},
    "sitting_at_table": {"elevation": 38, "plane": 75, "elbow": 52, "supination": -75},
    "lying_side": {"elevation": 75, "plane": 95, "elbow": 100},
}
"""The other arm at rest, where it lies otherwise than the weak one would."""


REACH_M = 0.555
"""How far the other hand gets from its shoulder."""

PALM_HALF_M = 0.05
"""How far from the middle of the palm something still lies before or behind it."""

SHOULDER_GIVES_M = 0.09
"""How far that shoulder may be moved besides."""


@dataclass(frozen=True)
class Approach:
    """How a hand comes to a near view, the same through all of a movement.

    ``way`` points to the side it comes from; ``on_palm``: what it holds lies before the palm, so
    that its thumb is on it. ``rest`` is the weak arm as it begins, where fingers move in turn.
    """

    way: Vector = (0.0, 0.0, 0.0)
    on_palm: bool = False
    rest: Limb | None = None


@lru_cache(maxsize=64)
def _posed(position: str, frame: Frame, pose: tuple[tuple[str, float], ...]) -> Limb:
    """The other arm in a pose; there are a few for all figures of a position."""
    row = angles(dict(pose))
    arm = chain(row, POSITIONS[position], DEFAULT_BODY)
    return limbs.mirrored(limbs.limbs_of(row, arm)[0], frame)


@dataclass(frozen=True)
class OtherArm:
    """What the other arm, or a helper, does in one movement; ``digits`` of the weak hand move."""

    movement: Movement
    eye: Eye
    frame: Frame
    close: bool
    digits: Sequence[str]

    def _posed(self, pose: dict[str, float]) -> Limb:
        return _posed(self.movement.position, self.frame, tuple(pose.items()))

    def idle_limb(self) -> Limb:
        """The other arm where it takes no part."""
        position = self.movement.position
        if self.movement.other_arm == "leans" or position == "leaning_forward":
            return self._leaning_limb()
        if position == "sitting_at_table" and self.beside:
            position = "sitting"
        return self._posed(SHAPES["relaxed"] | AT_EASE[position] | OTHER_AT_EASE.get(position, {}))

    @cached_property
    def beside(self) -> bool:
        """Whether the weak arm works at a table beside the person, not before them."""
        arm = self.movement.chain(self.movement.samples[1])
        return float(((arm.elbow + arm.wrist) / 2)[:, 1].mean()) < -0.42

    def _leaning_limb(self) -> Limb:
        base = self._posed(SHAPES["straight"])
        target = plus(plus(base.shoulder, (1, 0, 0), 0.22), (0, 0, -1), 0.46)
        if self.movement.position == "standing":
            target = (HANDRAIL_M[0] - 0.09, HANDRAIL_M[1], HANDRAIL_M[2] + 0.05)
        elbow, wrist = limbs.reaching(base.shoulder, target, (-0.3, 0.6, 0.0))
        return _with_hand(base, elbow, wrist, (1.0, 0.0, 0.0), (0.0, 0.0, -1.0))

    def idle_layers(self) -> list[Layer]:
        """It in two parts, the nearer one last."""
        limb = self.idle_limb()
        upper = [[(limb.shoulder, 0.056), (limb.elbow, 0.043)]]
        lower = [[(limb.elbow, 0.042), (limb.wrist, 0.027)], *limbs.hand_balls(limb)]
        eye = self.eye
        sleeve = limbs.blob(eye, [limbs.sleeve_balls(limb)], "sleeve")
        near_upper = eye.near(mix(limb.shoulder, limb.elbow, 0.5))
        near_lower = max(near_upper + 0.001, eye.near(mix(limb.elbow, limb.wrist, 0.8)) + 0.05)
        return [
            Layer(near_upper, (limbs.blob(eye, upper, "skin"), sleeve)),
            Layer(near_lower, (limbs.blob(eye, lower, "skin"),)),
        ]

    def shapes(
        self, limb: Limb, *, flips: bool, approach: Approach
    ) -> tuple[list[Blob], list[Blob]]:
        """The other arm, or a helper's hands: what is painted before the weak arm, and after.

        ``limb`` is the weak arm; ``flips`` says on which side of it a helper stands, ``approach``
        how a hand comes to a near view.
        """
        other = self.movement.other_arm
        if other == "helper":
            return self._helper(limb, flips)
        if other == "helps":
            return self._helping_hand(limb, approach)
        if self.close or other not in ("same", "stick", "band"):
            return [], []
        eye = self.eye
        mate = limbs.mirrored(limb, self.frame) if other == "same" else self._stick_limb(limb)
        arm = limbs.blob(eye, limbs.arm_balls(mate), "help")
        sleeve = limbs.blob(eye, [limbs.sleeve_balls(mate)], "sleeve")
        between: list[Blob] = []
        if other in ("stick", "band"):
            way = unit(minus(mate.grip, limb.grip))
            over, radius, tone = (
                (0.07, things.STICK_M, "wood_front")
                if other == "stick"
                else (0.0, things.BAND_M, "thing")
            )
            ends = plus(limb.grip, way, -over), plus(mate.grip, way, over)
            between = [things.rod(eye, ends[0], ends[1], radius, tone)]
        return [*between, arm, sleeve], []

    def _stick_limb(self, limb: Limb) -> Limb:
        """The other arm at the other end of a stick, or holding a band still."""
        base = self._posed(SHAPES["grip"])
        anchor = self.frame.at(0.30, 0.20, -0.16)
        if self.movement.other_arm == "stick":
            anchor = plus(limb.grip, unit(minus(anchor, limb.grip)), 0.58)
        way = unit(minus(limb.grip, anchor))
        target = plus(plus(anchor, self.frame.front, -0.075), way, -0.01)
        elbow, wrist = limbs.reaching(base.shoulder, target, self.frame.at(-0.2, -0.8, -0.4))
        ahead = unit(minus(wrist, elbow))
        palm = unit(plus(self.frame.up, ahead, -dot(self.frame.up, ahead)))
        return _with_hand(base, elbow, wrist, ahead, (-palm[0], -palm[1], -palm[2]))

    def _helping_hand(self, limb: Limb, approach: Approach) -> tuple[list[Blob], list[Blob]]:
        eye = self.eye
        place, along, thick = limbs.hold_point(limb, self.movement.helps_at)
        if self.close and self.movement.helps_at == "finger":
            return self._pinching_hand(limb, approach)
        if self.close:
            place, along, thick = self._close_hold(limb, approach.rest)
            way = approach.way
            wrist = plus(place, way, 0.095)
            held = limbs.grasp(place, along, thick, wrist, eye)
            return self._near_arm(wrist, way, [held.palm]), [
                things.edged(limbs.blob(eye, held.fingers[2 * i : 2 * i + 2], "help"), True)
                for i in range(4)
            ]
        base = self._posed(SHAPES["relaxed"])
        towards = unit(minus(base.shoulder, place))
        target = plus(place, towards, 0.085)
        # The helping shoulder comes along where the arm alone would not get there.
        lacking = length(minus(target, base.shoulder)) - REACH_M
        shoulder = plus(base.shoulder, towards, -min(max(lacking, 0.0), SHOULDER_GIVES_M))
        elbow, wrist = limbs.reaching(shoulder, target, self.frame.at(-0.15, -0.7, -0.75))
        held = limbs.grasp(place, along, thick, wrist, eye)
        hulls: list[Sequence[Ball]] = [
            [(shoulder, 0.056), (elbow, 0.043)],
            [(elbow, 0.042), (wrist, 0.027)],
            held.palm,
        ]
        sleeve = [(shoulder, 0.064), (mix(shoulder, elbow, 0.42), 0.058)]
        arm = limbs.blob(eye, hulls, "help")
        return [arm, limbs.blob(eye, [sleeve], "sleeve")], [
            limbs.blob(eye, held.fingers[i : i + 2], "help", edge_m=0.005) for i in (0, 2, 4, 6)
        ]

    def _near_arm(self, wrist: Vector, way: Vector, hand: Sequence[Sequence[Ball]]) -> list[Blob]:
        """Forearm and hand of the other arm in a near view, and its sleeve."""
        back = plus(wrist, way, 0.05)
        cuff: list[Ball] = [(plus(back, way, -0.008), 0.036), (plus(back, way, 0.03), 0.039)]
        arm = limbs.blob(self.eye, [[(back, 0.030), (wrist, 0.024)], *hand], "help")
        sleeve = limbs.blob(self.eye, [cuff], "sleeve")
        return [things.edged(arm, True), things.edged(sleeve, True)]

    def _pinching_hand(self, limb: Limb, approach: Approach) -> tuple[list[Blob], list[Blob]]:
        place, along, thick = self._close_hold(limb, approach.rest)
        held = limbs.pinch(place, along, thick, approach.way, self.eye)
        wrist = held.behind[0][0][0]
        thumb = things.edged(limbs.blob(self.eye, held.thumb, "help"), True)
        arm = self._near_arm(wrist, approach.way, held.behind)
        return (arm, [thumb]) if approach.on_palm else ([*arm, thumb], [])

    @property
    def _holds_thumb(self) -> bool:
        """Whether the thumb is held: it works alone, or a finger comes to meet it."""
        opposes = "thumb_opposition" in self.movement.moves
        return "thumb" in self.digits and (opposes or len(self.digits) < 4)

    def approach(self, weak: Sequence[Limb], *, in_turn: bool) -> Approach:
        """How the other hand comes to a near view of the weak one, so that it hides least.

        Of sides as free, from below and from the person's other side. Only on a thumb that the
        last pose has before the palm its own thumb is seen; else all of it is behind.
        """
        flat = self.eye.flat
        hand: list[Circle] = []
        for limb in weak:
            digits = (*limb.fingers.values(), limb.thumb)
            hand += [(*flat(point), 0.016) for points in digits for point in points]
            palm = plus(limb.wrist, limb.ahead, 0.05)
            hand += [(*flat(palm), 0.040), (*flat(limb.wrist), 0.040)]
            hand.append((*flat(mix(limb.wrist, limb.elbow, 0.3)), 0.045))
        circles = np.array(hand)
        turns = np.arange(16) * math.pi / 8
        ways = np.column_stack([np.cos(turns), np.sin(turns)])
        own = flat(minus((0, 0, 0), self.frame.right))
        ill = 0.35 * ways[:, 1] - 0.25 * ways @ np.array(own)
        for limb in weak:
            held, runs, _ = self._close_hold(limb, weak[0] if in_turn else None)
            ill += 0.9 * np.maximum(0.0, ways @ np.array(flat(runs)))  # its end stays in sight
            for out, half in ((0.05, 0.022), (0.085, 0.030), (0.125, 0.030), (0.17, 0.036)):
                spots = np.array(flat(held)) + ways * out
                apart = np.hypot(*(spots[:, None, :] - circles[None, :, :2]).transpose(2, 0, 1))
                hides = np.maximum(0.0, 1 - apart / (half + circles[:, 2]))
                ill += hides.sum(axis=1) / len(weak)
        across, along = ways[int(ill.argmin())]
        right, up, _ = self.eye.axes
        way = plus(plus((0.0, 0.0, 0.0), right, float(across)), up, float(along))
        last = weak[-1]
        middle = flat(plus(last.wrist, last.ahead, 0.05))
        is_near = math.dist(flat(self._close_hold(last)[0]), middle) < PALM_HALF_M
        rest = weak[0] if in_turn and not self._holds_thumb else None
        return Approach(way, on_palm=self._holds_thumb and is_near, rest=rest)

    def _close_hold(self, limb: Limb, rest: Limb | None = None) -> tuple[Vector, Vector, float]:
        """Where the other hand holds in a near view: the forearm, the palm, or a digit.

        Of fingers that move in turn, from ``rest``, the one that is moved.
        """
        along = unit(minus(limb.wrist, limb.elbow))
        if self.movement.helps_at == "hand":
            return plus(limb.wrist, limb.ahead, 0.062), limb.ahead, 0.020
        if self.movement.helps_at == "finger":
            if self._holds_thumb:
                root, tip = limb.thumb[1], limb.thumb[2]
                return mix(root, tip, 0.5), unit(minus(tip, root)), 0.013
            digits = list(self.digits) or ["index"]
            if rest is not None:
                digits = [_moved_finger(limb, rest)]
            points = limb.fingers[digits[0]]
            if len(digits) >= 4:  # all of them: farther from the tips, whose shape is to be seen
                return mix(points[1], points[2], 0.5), unit(minus(points[2], points[1])), 0.011
            return mix(points[2], points[3], 0.35), unit(minus(points[3], points[2])), 0.010
        return plus(limb.wrist, along, -0.04), along, 0.026

    def _helper(self, limb: Limb, flips: bool) -> tuple[list[Blob], list[Blob]]:
        """A helper's two hands and forearms, at the wrist and above the elbow."""
        eye = self.eye
        behind: list[Blob] = []
        before: list[Blob] = []
        for helps_at in ("elbow", "wrist"):
            place, along, thick = limbs.hold_point(limb, helps_at)
            way = unit(cross(along, eye.axes[2]))
            if flips:
                way = minus((0, 0, 0), way)
            way = unit(plus(way, eye.axes[2], 0.35))
            wrist = plus(place, way, 0.10)
            back = plus(wrist, way, 0.17)
            held = limbs.grasp(place, along, thick, wrist, eye)
            forearm: list[Ball] = [(back, 0.040), (wrist, 0.027)]
            cuff: list[Ball] = [(plus(wrist, way, 0.10), 0.043), (plus(back, way, 0.03), 0.050)]
            behind.append(limbs.blob(eye, [forearm, held.palm], "help"))
            behind.append(limbs.blob(eye, [cuff], "shirt"))
            before += [
                limbs.blob(eye, held.fingers[i : i + 2], "help", edge_m=0.005) for i in (0, 2, 4, 6)
            ]
        return behind, before

    def helper_flips(self, weak: Sequence[Limb]) -> bool:
        """Whether the helper stands on the other side of the arm than its thumb's turn says.

        On the side that is farther from the patient's head, all through the movement.
        """
        head = self.frame.at(0.0, body.HEAD_UP_M, 0.0)
        score = 0.0
        for limb in weak:
            place, along, _ = limbs.hold_point(limb, "wrist")
            way = unit(cross(along, self.eye.axes[2]))
            score += length(minus(plus(place, way, 0.3), head))
            score -= length(minus(plus(place, way, -0.3), head))
        return score < 0


def _moved_finger(limb: Limb, rest: Limb) -> str:
    """The finger whose tip is farthest from where it rests; the index finger where none is."""

    def moved_m(finger: str) -> float:
        return length(minus(limb.fingers[finger][-1], rest.fingers[finger][-1]))

    farthest = max(limb.fingers, key=moved_m)
    return farthest if moved_m(farthest) > 0.002 else "index"


def _with_hand(base: Limb, elbow: Vector, wrist: Vector, ahead: Vector, palm: Vector) -> Limb:
    """An arm with its hand laid anew: the base's hand, carried to another wrist and turned."""
    ahead = unit(ahead)
    palm = unit(plus(palm, ahead, -dot(palm, ahead)))
    thumb_side = cross(palm, ahead)
    if dot(cross(base.palm, base.ahead), base.thumb_side) < 0:
        thumb_side = minus((0, 0, 0), thumb_side)

    def carried(point: Vector) -> Vector:
        away = minus(point, base.wrist)
        moved = plus(wrist, ahead, dot(away, base.ahead))
        moved = plus(moved, palm, dot(away, base.palm))
        return plus(moved, thumb_side, dot(away, base.thumb_side))

    return Limb(
        shoulder=base.shoulder,
        elbow=elbow,
        wrist=wrist,
        ahead=ahead,
        palm=palm,
        thumb_side=thumb_side,
        fingers={name: tuple(map(carried, points)) for name, points in base.fingers.items()},
        thumb=tuple(map(carried, base.thumb)),
    )
