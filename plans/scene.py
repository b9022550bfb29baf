"""A movement staged: what stands still, and what is drawn anew in every frame. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np

from patients.motions import MOTIONS, Joint
from plans import body, limbs
from plans.arm import COLUMN, FINGERS, angles, chain
from plans.body import Eye, Layer
from plans.cameras import View, view_of
from plans.envelope import BED_M, resting_points
from plans.exercise import Movement
from plans.hand import SHAPES
from plans.limbs import Limb
from plans.poses import AT_EASE
from plans.segments import Body
from plans.shapes import Blob, Poly, Shape
from plans.space import Ball, Frame, Vector, cross, dot, length, minus, mix, plus, unit

BODY = Body()

HANDRAIL_M = (0.44, 0.22, 0.0)
"""The middle of the back of a chair that somebody who stands holds on to."""

OTHER_AT_EASE: dict[str, dict[str, float]] = {
    "sitting": {"elevation": 20, "plane": 98, "rotation": -26, "elbow": 68, "supination": -70},
    "sitting_at_table": {"elevation": 38, "plane": 75, "elbow": 52, "supination": -75},
    "lying_side": {"elevation": 75, "plane": 95, "elbow": 100},
}
"""The other arm at rest, where it lies otherwise than the weak one would."""


@dataclass(frozen=True)
class Scene:
    """One movement of the right arm as it is drawn; ``eye`` sees it from the view of its step."""

    movement: Movement
    view: View
    eye: Eye
    frame: Frame

    def limb_at(self, at_s: float) -> Limb:
        """The weak arm at a time of a repetition at its own pace."""
        return self.limbs_at([at_s])[0]

    def limbs_at(self, times_s: Sequence[float]) -> list[Limb]:
        """The weak arm at several times."""
        rows = self.movement.coordinates_at(np.array(times_s))
        return limbs.limbs_of(rows, self.movement.chain(rows))

    @cached_property
    def track(self) -> tuple[list[float], list[Limb]]:
        """Times and the weak arm at each, evenly through a repetition."""
        times_s = [self.movement.own_pace_s * i / 32 for i in range(33)]
        return times_s, self.limbs_at(times_s)

    @cached_property
    def moved_joints(self) -> list[Joint]:
        """The joints that the exercise works on here, from the trunk outwards."""
        motions = self.movement.moves or tuple(self.movement.moved())
        joints = {MOTIONS[motion].joint for motion in motions}
        return [joint for joint in Joint if joint in joints]

    @cached_property
    def moving_digits(self) -> list[str]:
        """The fingers (and thumb) whose joints change."""
        rows = np.array([pose.coordinates for pose in self.movement.poses])
        return [
            digit
            for digit in (*FINGERS, "thumb")
            if any(
                np.ptp(rows[:, column]) > 4
                for name, column in COLUMN.items()
                if name.startswith(digit)
            )
        ]

    @cached_property
    def rest_height_m(self) -> float | None:
        """The height of what the arm rests on, or None where it rests on nothing."""
        _, rows = self.movement.samples
        points = resting_points(self.movement.chain(rows), self.movement.rests)
        if not points:
            return None
        thick = 0.042 if self.movement.rests == "upper_arm" else 0.030
        return float(min(place[:, 2].min() for place in points)) - thick

    @cached_property
    def floor_m(self) -> float:
        """The height of the floor."""
        sits = self.movement.position.startswith("sitting")
        return body.FLOOR_SITTING_M if sits else body.FLOOR_STANDING_M

    # -- what stands still ------------------------------------------------------------------

    def still_shapes(self) -> list[Shape]:
        """Furniture, the person and an arm that takes no part, painted from far to near."""
        if self.view.close:
            return self._near_table()
        position = self.movement.position
        shapes: list[Shape] = []
        if position in BED_M:
            head_x = -body.HEAD_UP_M if position == "lying_back" else body.HEAD_UP_M
            shapes += body.bed(self.eye, BED_M[position], head_x)
        if position.startswith("sitting"):
            shapes += body.chair(self.eye)
        if position == "standing" and "chair" in self.movement.equipment:
            shapes += body.chair_back(self.eye, HANDRAIL_M)
        if "wall" in self.movement.equipment:
            shapes += body.wall(self.eye, self._wall_x(), self.floor_m)
        layers = [*self.person_layers]
        if self.movement.other_arm in ("rests", "helper", "leans"):
            layers += self._other_layers(self._idle_limb())
        layers.sort(key=lambda layer: layer.near)
        table = self._table()
        for layer in layers:
            shapes += layer.shapes
        if table:
            shapes += table
            if self.movement.other_arm in ("rests", "helper"):
                shapes += self._other_layers(self._idle_limb())[-1].shapes
        return shapes + self._pad()

    @cached_property
    def person_layers(self) -> list[Layer]:
        """Legs, trunk and head."""
        return body.person(self.frame, self.eye, self.movement.position)

    def _wall_x(self) -> float:
        _, all_limbs = self.track
        return max(limb.tip[0] for limb in all_limbs) + 0.02

    def _idle_limb(self) -> Limb:
        position = self.movement.position
        if self.movement.other_arm == "leans" or position == "leaning_forward":
            return self._leaning_limb()
        pose = angles(SHAPES["relaxed"] | AT_EASE[position] | OTHER_AT_EASE.get(position, {}))
        arm = chain(pose, self.movement.chain(pose).trunk, BODY)
        return limbs.mirrored(limbs.limbs_of(pose, arm)[0], self.frame)

    def _leaning_limb(self) -> Limb:
        pose = angles(SHAPES["straight"])
        base = limbs.mirrored(limbs.limbs_of(pose, self.movement.chain(pose))[0], self.frame)
        target = plus(plus(base.shoulder, (1, 0, 0), 0.22), (0, 0, -1), 0.46)
        if self.movement.position == "standing":
            target = (HANDRAIL_M[0] - 0.09, HANDRAIL_M[1], HANDRAIL_M[2] + 0.05)
        elbow, wrist = limbs.reaching(base.shoulder, target, (-0.3, 0.6, 0.0))
        return _with_hand(base, elbow, wrist, (1.0, 0.0, 0.0), (0.0, 0.0, -1.0))

    def _other_layers(self, limb: Limb) -> list[Layer]:
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

    def _table(self) -> list[Shape]:
        position = self.movement.position
        if position == "leaning_forward":
            wrist = self._idle_limb().wrist
            top = wrist[2] - 0.035
            return body.table(
                self.eye, (wrist[0] - 0.16, 0.02, top), (wrist[0] + 0.5, 0.62, top), self.floor_m
            )
        if position != "sitting_at_table":
            return []
        top = self.rest_height_m if self.rest_height_m is not None else 0.15
        _, rows = self.movement.samples
        points = resting_points(self.movement.chain(rows), self.movement.rests)
        places = np.concatenate(points) if points else np.array([[0.45, -0.2, 0.0]])
        if places[:, 1].mean() < -0.42:  # beside the person
            low, high = (-0.30, places[:, 1].min() - 0.25), (0.62, -0.27)
        else:
            edge = float(places[:, 0].max()) + (-0.035 if self._hand_over_edge() else 0.30)
            low, high = (0.20, min(-0.50, places[:, 1].min() - 0.1)), (max(edge, 0.5), 0.42)
        return body.table(self.eye, (*low, top), (*high, top), self.floor_m)

    def _hand_over_edge(self) -> bool:
        return self.movement.rests == "forearm" and Joint.WRIST in self.moved_joints

    def _near_table(self) -> list[Shape]:
        """The piece of table under a hand that is seen near by."""
        if self.rest_height_m is None:
            return []
        top = self.rest_height_m
        _, all_limbs = self.track
        limb = all_limbs[0]
        ahead = unit(minus(limb.wrist, limb.elbow))
        if ahead[2] > 0.8:  # the forearm stands up: the table lies under the elbow, out of sight
            return []
        reach = -0.03 if self._hand_over_edge() else 0.21
        low_x = limb.wrist[0] - (0.14 if self.whole_hand else 0.05)
        low = (low_x, limb.wrist[1] - 0.11, top - 0.014)
        high = (limb.wrist[0] + reach, limb.wrist[1] + 0.11, top)
        return [
            Poly(shape.points, shape.tone, shape.edge, limbs.CLOSE_EDGE_M)
            for shape in body.Block(low, high, "wood").shapes(self.eye)
            if isinstance(shape, Poly)
        ]

    def _pad(self) -> list[Shape]:
        """What lies between a resting arm and the bed: pillows with a smooth board."""
        bed_m = BED_M.get(self.movement.position)
        if bed_m is None or self.rest_height_m is None or self.rest_height_m < bed_m + 0.06:
            return []
        _, all_limbs = self.track
        places = [point for limb in all_limbs for point in (limb.elbow, limb.wrist, limb.tip)]
        if self.movement.position == "lying_side" and min(p[1] for p in places) > -0.30:
            return []  # it lies along the body, which is what it rests on
        xs, ys = [p[0] for p in places], [p[1] for p in places]
        top = self.rest_height_m
        low_x, high_x, low_y = min(xs) - 0.05, max(xs) + 0.05, min(ys) - 0.05
        high_y = min(max(ys) + 0.05, -0.12)
        corners: list[Ball] = [
            ((x, y, z), 0.04)
            for x in (low_x + 0.06, high_x - 0.06)
            for y in (low_y + 0.06, high_y)
            for z in (bed_m + 0.04, top - 0.06)
        ]
        pillow = limbs.blob(self.eye, [corners], "cloth")
        board = body.Block((low_x, low_y, top - 0.02), (high_x, high_y, top), "wood")
        return [pillow, *board.shapes(self.eye)]

    # -- what moves -------------------------------------------------------------------------

    def moving_shapes(self, limb: Limb, *, order: Limb | None = None) -> list[Blob]:
        """The weak arm and all that goes with it; ``order`` keeps one order through all frames."""
        first = order or limb
        under, over = self._held(limb, first)
        if self.view.close:
            parts = limbs.close_hand(self.eye, limb, self.moving_digits, whole=self.whole_hand)
            names = limbs.far_first(self.eye, first)
            others, fingers = self._other_hand(limb)
            return [*others, *under, *(parts[name] for name in names), *over, *fingers]
        others, fingers = self._other_hand(limb)
        arm = limbs.blob(self.eye, limbs.arm_balls(limb), "arm")
        sleeve = limbs.blob(self.eye, [limbs.sleeve_balls(limb)], "sleeve")
        return [*others, *under, arm, sleeve, *over, *fingers]

    @property
    def whole_hand(self) -> bool:
        """Whether more than digits moves, so that the whole hand is in the arm's tone."""
        return bool({Joint.FOREARM, Joint.WRIST} & set(self.moved_joints))

    @cached_property
    def goes_round(self) -> bool:
        """Whether the fingertips draw a circle or a square, and so have no start worth showing."""
        _, all_limbs = self.track
        path = [self.eye.flat(limb.tip) for limb in all_limbs]
        area = sum(x * ny - nx * y for (x, y), (nx, ny) in pairwise([*path, path[0]])) / 2
        whole = 1.0
        for axis in (0, 1):
            whole *= max(point[axis] for point in path) - min(point[axis] for point in path)
        return whole > 1e-5 and abs(area) > 0.35 * whole

    def ghost_shapes(self, limb: Limb) -> list[Blob]:
        """The weak arm as a pale copy."""
        if not self.view.close:
            return [limbs.ghost(self.eye, limbs.arm_balls(limb))]
        parts = limbs.close_hand(self.eye, limb, (), whole=self.whole_hand, faint=True)
        return [parts[name] for name in limbs.far_first(self.eye, limb)]

    def _held(self, limb: Limb, first: Limb) -> tuple[list[Blob], list[Blob]]:
        """What the weak hand holds: what is painted before it, and after."""
        eye, holds, edge = self.eye, self.movement.holds, self._edge_m
        side = 1 if eye.faces(first.thumb_side) >= 0 else -1
        along = unit(minus(limb.wrist, limb.elbow))
        under: list[Blob] = []
        over: list[Blob] = []
        if holds == "weight":
            under, over = limbs.weight(eye, limb, side)
        elif holds == "cuff":
            over = [limbs.cuff(eye, limb)]
        elif holds in ("cup", "roll", "hammer"):
            half, radius = {"cup": (0.045, 0.036), "roll": (0.085, 0.022), "hammer": (0.08, 0.013)}[
                holds
            ]
            ends = [plus(limb.grip, limb.thumb_side, s * half) for s in (-1, 1)]
            tone = "thing" if holds == "hammer" else "cloth"
            under = [limbs.rod(eye, ends[0], ends[1], radius, tone)]
            if holds == "hammer":
                top = plus(limb.grip, limb.thumb_side, 0.13)
                under = [
                    limbs.rod(eye, plus(limb.grip, limb.thumb_side, -0.04), top, 0.011, "thing"),
                    limbs.rod(eye, plus(top, limb.thumb_side, -0.02), top, 0.035, "thing"),
                ]
        elif holds == "ball":
            under = [limbs.blob(eye, [[(plus(limb.grip, limb.palm, 0.006), 0.027)]], "thing")]
        elif holds == "card":
            middle = plus(limb.fingers["middle"][-1], limb.ahead, 0.030)
            under = [limbs.sheet(eye, middle, limb.ahead, limb.thumb_side, 0.048)]
        elif holds == "paper":
            middle = mix(limb.fingers["index"][-1], limb.thumb[-1], 0.5)
            under = [limbs.sheet(eye, plus(middle, limb.ahead, 0.03), limb.ahead, along, 0.035)]
        if "band" in self.movement.equipment and self.movement.anchor_m:
            end = self.frame.at(*self.movement.anchor_m)
            under.append(limbs.rod(eye, limb.grip, end, 0.009, "thing"))
        return [_edged(b, edge) for b in under], [_edged(b, edge) for b in over]

    @property
    def _edge_m(self) -> float | None:
        return limbs.CLOSE_EDGE_M if self.view.close else None

    def _other_hand(self, limb: Limb) -> tuple[list[Blob], list[Blob]]:
        """The other arm, or a helper's hands: what is painted before the weak arm, and after."""
        other = self.movement.other_arm
        if other == "helper":
            return self._helper(limb)
        if other == "helps":
            return self._helping_hand(limb)
        if self.view.close or other not in ("same", "stick", "band"):
            return [], []
        eye = self.eye
        mate = limbs.mirrored(limb, self.frame) if other == "same" else self._stick_limb(limb)
        arm = limbs.blob(eye, limbs.arm_balls(mate), "help")
        sleeve = limbs.blob(eye, [limbs.sleeve_balls(mate)], "sleeve")
        between: list[Blob] = []
        if other in ("stick", "band"):
            way = unit(minus(mate.grip, limb.grip))
            over = 0.07 if other == "stick" else 0.0
            ends = plus(limb.grip, way, -over), plus(mate.grip, way, over)
            radius = 0.013 if other == "stick" else 0.009
            between = [limbs.rod(eye, ends[0], ends[1], radius, "wood_front")]
        return [*between, arm, sleeve], []

    def _stick_limb(self, limb: Limb) -> Limb:
        """The other arm at the other end of a stick, or holding a band still."""
        pose = angles(SHAPES["grip"])
        base = limbs.mirrored(limbs.limbs_of(pose, self.movement.chain(pose))[0], self.frame)
        anchor = self.frame.at(0.30, 0.20, -0.16)
        if self.movement.other_arm == "stick":
            anchor = plus(limb.grip, unit(minus(anchor, limb.grip)), 0.58)
        way = unit(minus(limb.grip, anchor))
        target = plus(plus(anchor, self.frame.front, -0.075), way, -0.01)
        elbow, wrist = limbs.reaching(base.shoulder, target, self.frame.at(-0.2, -0.8, -0.4))
        ahead = unit(minus(wrist, elbow))
        palm = unit(plus(self.frame.up, ahead, -dot(self.frame.up, ahead)))
        return _with_hand(base, elbow, wrist, ahead, (-palm[0], -palm[1], -palm[2]))

    def _helping_hand(self, limb: Limb) -> tuple[list[Blob], list[Blob]]:
        eye, edge = self.eye, self._edge_m
        place, along, thick = limbs.hold_point(limb, self.movement.helps_at)
        if self.view.close:
            place, along, thick = self._close_hold(limb)
            across = cross(eye.axes[2], along)
            way = across if dot(across, self.frame.right) <= 0 else minus((0, 0, 0), across)
            way = unit(plus(way, (0.0, 0.0, -1.0), 0.35))
            wrist = plus(place, way, 0.095 if self.movement.helps_at != "finger" else 0.115)
            back = plus(wrist, way, 0.07)
            count = 2 if self.movement.helps_at == "finger" else 4
            held = limbs.grasp(place, along, thick, wrist, eye, count=count)
            arm = limbs.blob(eye, [[(back, 0.030), (wrist, 0.024)], held.palm], "help")
            cuff: list[Ball] = [(plus(back, way, -0.008), 0.036), (plus(back, way, 0.03), 0.039)]
            return [_edged(arm, edge), _edged(limbs.blob(eye, [cuff], "sleeve"), edge)], [
                _edged(limbs.blob(eye, held.fingers[2 * i : 2 * i + 2], "help"), edge)
                for i in range(count)
            ]
        pose = angles(SHAPES["relaxed"])
        base = limbs.mirrored(limbs.limbs_of(pose, self.movement.chain(pose))[0], self.frame)
        towards = unit(minus(base.shoulder, place))
        target = plus(place, towards, 0.085)
        elbow, wrist = limbs.reaching(base.shoulder, target, self.frame.at(-0.15, -0.7, -0.75))
        held = limbs.grasp(place, along, thick, wrist, eye)
        hulls: list[Sequence[Ball]] = [
            [(base.shoulder, 0.056), (elbow, 0.043)],
            [(elbow, 0.042), (wrist, 0.027)],
            held.palm,
        ]
        sleeve = [(base.shoulder, 0.064), (mix(base.shoulder, elbow, 0.42), 0.058)]
        arm = limbs.blob(eye, hulls, "help")
        return [arm, limbs.blob(eye, [sleeve], "sleeve")], [
            limbs.blob(eye, held.fingers[i : i + 2], "help", edge_m=0.005) for i in (0, 2, 4, 6)
        ]

    def _close_hold(self, limb: Limb) -> tuple[Vector, Vector, float]:
        """Where the other hand holds in a near view: the forearm, the palm, or a finger."""
        along = unit(minus(limb.wrist, limb.elbow))
        if self.movement.helps_at == "hand":
            return plus(limb.wrist, limb.ahead, 0.062), limb.ahead, 0.020
        if self.movement.helps_at == "finger":
            digits = self.moving_digits or ["index"]
            points = limb.thumb if digits[0] == "thumb" else limb.fingers[digits[0]]
            return mix(points[1], points[2], 0.5), unit(minus(points[2], points[1])), 0.011
        return plus(limb.wrist, along, -0.04), along, 0.026

    def _helper(self, limb: Limb) -> tuple[list[Blob], list[Blob]]:
        """A helper's two hands and forearms, at the wrist and above the elbow."""
        eye = self.eye
        behind: list[Blob] = []
        before: list[Blob] = []
        for helps_at in ("elbow", "wrist"):
            place, along, thick = limbs.hold_point(limb, helps_at)
            way = unit(cross(along, eye.axes[2]))
            if self._helper_flips:
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

    @cached_property
    def _helper_flips(self) -> bool:
        """Whether the helper stands on the other side of the arm than its thumb's turn says.

        On the side that is farther from the patient's head, all through the movement.
        """
        head = self.frame.at(0.0, body.HEAD_UP_M, 0.0)
        score = 0.0
        for limb in self.track[1][::6]:
            place, along, _ = limbs.hold_point(limb, "wrist")
            way = unit(cross(along, self.eye.axes[2]))
            score += length(minus(plus(place, way, 0.3), head))
            score -= length(minus(plus(place, way, -0.3), head))
        return score < 0


def _edged(shape: Blob, edge_m: float | None) -> Blob:
    if edge_m is None or shape.edge is None:
        return shape
    return Blob(shape.hulls, shape.tone, shape.edge, edge_m)


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


def stage(movement: Movement) -> Scene:
    """Stage a movement in the view that it asks for."""
    view = view_of(movement.view, movement.position, movement.moves)
    return Scene(movement, view, Eye(view.camera), body.frame_of(movement.position))
