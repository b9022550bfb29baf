"""A movement staged: what stands still, and what is drawn anew in every frame. Pure."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np

from patients.motions import MOTIONS, Joint
from plans import body, limbs, things
from plans.arm import COLUMN, FINGERS
from plans.body import Eye, Layer
from plans.cameras import View, view_of
from plans.envelope import BED_M, resting_points
from plans.exercise import Movement
from plans.limbs import Limb
from plans.other_arm import HANDRAIL_M, Approach, OtherArm
from plans.shapes import Blob, Box, Poly, Shape, box_round
from plans.space import Ball, Frame, Vector, minus, unit

SHOWN_WHOLE = {"arm", "ghost", "help", "sleeve", "skin", "shirt", "hair", "way", "help_way"}
"""The tones of what a picture that leaves out the legs shows whole."""


@dataclass(frozen=True)
class Scene:
    """One movement of the right arm as it is drawn; ``eye`` sees it from the view of its step."""

    movement: Movement
    view: View
    eye: Eye
    frame: Frame

    def limb_at(self, at_s: float) -> Limb:
        """The weak arm at a time of a repetition at its own pace."""
        known = self.key_limbs.get(at_s)
        return known or self.limbs_at([at_s])[0]

    def limbs_at(self, times_s: Sequence[float]) -> list[Limb]:
        """The weak arm at several times."""
        rows = self.movement.coordinates_at(np.array(times_s))
        return limbs.limbs_of(rows, self.movement.chain(rows))

    @cached_property
    def _sampled(self) -> tuple[list[Limb], dict[float, Limb]]:
        """The weak arm evenly through a repetition, and at its key poses: all in one go."""
        evenly = [self.movement.own_pace_s * i / 24 for i in range(25)]
        keys = [pose.at_s for pose in self.movement.poses]
        found = self.limbs_at([*evenly, *keys])
        return found[:25], dict(zip(keys, found[25:], strict=True))

    @property
    def track(self) -> list[Limb]:
        """The weak arm, evenly through a repetition."""
        return self._sampled[0]

    @property
    def key_limbs(self) -> dict[float, Limb]:
        """The weak arm at each key pose, by its time."""
        return self._sampled[1]

    @cached_property
    def other(self) -> OtherArm:
        """The other arm, or a helper."""
        return OtherArm(
            self.movement, self.eye, self.frame, self.view.close, tuple(self.moving_digits)
        )

    @cached_property
    def _flips(self) -> bool:
        return self.other.helper_flips(self.track[::6])

    @property
    def _first_two(self) -> tuple[Limb, Limb]:
        """The weak arm as it begins and at the next key pose; of a hold, twice the same."""
        limbs_there = list(self.key_limbs.values())
        return limbs_there[0], limbs_there[min(1, len(limbs_there) - 1)]

    @cached_property
    def _approach(self) -> Approach:
        if not self.view.close or self.movement.other_arm != "helps":
            return Approach()
        return self.other.approach(self._first_two, in_turn=bool(self.in_turn))

    @cached_property
    def moved_joints(self) -> list[Joint]:
        """The joints that the exercise works on here, from the trunk outwards."""
        motions = self.movement.moves or tuple(self.movement.moved())
        joints = {MOTIONS[motion].joint for motion in motions}
        return [joint for joint in Joint if joint in joints]

    @cached_property
    def moving_digits(self) -> list[str]:
        """The fingers (and thumb) whose joints change."""
        return [
            digit
            for digit in (*FINGERS, "thumb")
            if any(self.change_deg(name) > 4 for name in COLUMN if name.startswith(digit))
        ]

    @cached_property
    def leading_digit(self) -> str:
        """The digit whose tip shows the way: the thumb where it works, unless the finger that
        it meets is seen to come farther."""
        finger = next((digit for digit in self.moving_digits if digit != "thumb"), "")
        if Joint.THUMB not in self.moved_joints or not finger:
            return "thumb" if Joint.THUMB in self.moved_joints else finger or "index"
        one, other = self._first_two

        def seen_m(tip: Vector, moved: Vector) -> float:
            return math.dist(self.eye.flat(tip), self.eye.flat(moved))

        by_finger = seen_m(one.fingers[finger][-1], other.fingers[finger][-1])
        return finger if by_finger > seen_m(one.thumb[-1], other.thumb[-1]) else "thumb"

    @cached_property
    def in_turn(self) -> list[tuple[float, str]]:
        """Where one finger after another moves and returns: when each is farthest, and which."""
        poses = self.movement.poses
        first = poses[0].coordinates
        turns: list[tuple[float, str]] = []
        for pose, after in pairwise(poses[1:]):
            moved = [
                digit
                for digit in FINGERS
                if any(
                    abs(pose.coordinates[column] - first[column]) > 4
                    for name, column in COLUMN.items()
                    if name.startswith(digit)
                )
            ]
            if len(moved) == 1 and after.coordinates == first:
                turns.append((pose.at_s, moved[0]))
        return turns if len(turns) > 1 else []

    def change_deg(self, name: str) -> float:
        """How much one joint angle changes between the key poses."""
        values = [pose.coordinates[COLUMN[name]] for pose in self.movement.poses]
        return max(values) - min(values)

    @property
    def reaches(self) -> bool:
        """Whether the shoulder is moved to the front, so that the hand shows it best."""
        return max(pose.coordinates[COLUMN["protraction"]] for pose in self.movement.poses) > 8

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

    def picture(self, shapes: Sequence[Shape]) -> Box:
        """The part of the plane that shows some shapes; without the legs, what matters of them."""
        if not self.view.cut:
            return box_round(shapes)
        kept = [
            shape
            for shape in shapes
            if shape.tone in SHOWN_WHOLE or (shape.tone == "thing" and self.movement.holds)
        ]
        box = box_round(kept)
        # Some of the lap and of the seat, or of the bed, tells the position.
        low, high = (self.eye.flat(self.frame.at(*at)) for at in ((0, -0.10, 0), (0.25, 0, 0)))
        return Box(
            min(box.left, low[0], high[0]),
            min(box.bottom, low[1], high[1]),
            max(box.right, low[0], high[0]),
            max(box.top, low[1], high[1]),
        )

    # -- what stands still ------------------------------------------------------------------

    def still_shapes(self) -> list[Shape]:
        """Furniture, the person and an arm that takes no part, painted from far to near."""
        if self.view.close:
            return self._near_table()
        position = self.movement.position
        shapes: list[Shape] = []
        if position in BED_M:
            head_x = -body.HEAD_UP_M if position == "lying_back" else body.HEAD_UP_M
            shapes += body.bed(self.eye, BED_M[position], head_x, self._bed_edge())
        if position.startswith("sitting"):
            shapes += body.chair(self.eye)
        if position == "standing" and "chair" in self.movement.equipment:
            shapes += body.chair_back(self.eye, HANDRAIL_M)
        if "wall" in self.movement.equipment:
            shapes += body.wall(self.eye, self._wall_x(), self.floor_m)
        layers = [*self.person_layers]
        if self.movement.other_arm in ("rests", "helper", "leans"):
            layers += self.other.idle_layers()
        layers.sort(key=lambda layer: layer.near)
        table = self._table()
        for layer in layers:
            shapes += layer.shapes
        if "towel" in self.movement.equipment and position.startswith("sitting"):
            shapes.append(things.folded_towel(self.eye, self.frame, self.track[0].elbow))
        if table:
            shapes += table
            if self.movement.other_arm in ("rests", "helper"):
                shapes += self.other.idle_layers()[-1].shapes
        return shapes + self._pad()

    @property
    def person_layers(self) -> tuple[Layer, ...]:
        """Legs, trunk and head."""
        return body.person(self.frame, self.eye, self.movement.position)

    def _bed_edge(self) -> float:
        """How far the bed reaches to the front: beyond whatever slides on it, or on a board."""
        bed_m = BED_M[self.movement.position] + (
            0.25 if self.movement.rests in ("", "upper_arm") else 1.0
        )
        points = [point for limb in self.track for point in (limb.wrist, limb.tip)]
        return min([-0.41, *(point[1] - 0.06 for point in points if point[2] < bed_m)])

    def _wall_x(self) -> float:
        return max(limb.tip[0] for limb in self.track) + 0.02

    def _table(self) -> list[Shape]:
        position = self.movement.position
        if position == "leaning_forward":
            wrist = self.other.idle_limb().wrist
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
        if self.other.beside:
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
        limb = self.track[0]
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
        if self.movement.rests == "upper_arm":
            return self._towel(self.track[0].elbow)
        places = [point for limb in self.track for point in (limb.elbow, limb.wrist, limb.tip)]
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

    def _towel(self, elbow: Vector) -> list[Shape]:
        """A folded towel under an elbow that rests: on the bed, or on the side of the body."""
        x, y, z = elbow
        corners: list[Ball] = [
            ((x + 0.05 * a, y + 0.05 * b, z - 0.055), 0.018) for a in (1, -1) for b in (1, -1)
        ]
        return [limbs.blob(self.eye, [corners], "cloth")]

    # -- what moves -------------------------------------------------------------------------

    def moving_shapes(
        self,
        limb: Limb,
        *,
        order: Limb | None = None,
        digits: Sequence[str] | None = None,
        on_palm: Sequence[Blob] = (),
    ) -> list[Blob]:
        """The weak arm and all that goes with it; ``order`` keeps one order through all frames.

        Near by, ``digits`` have the arm's tone, those that move if not given, and ``on_palm`` is
        painted between the palm and what is nearer.
        """
        first = order or limb
        toned = self.moving_digits if digits is None else digits
        under, over = things.held(
            self.eye,
            self.frame,
            self.movement,
            limb,
            digits=self.moving_digits,
            close=self.view.close,
            near_side=1 if self.eye.faces(first.thumb_side) >= 0 else -1,
        )
        if self.view.close:
            parts = limbs.close_hand(self.eye, limb, toned, whole=self.whole_hand)
            names = limbs.far_first(self.eye, first)
            others, fingers = self.other.shapes(limb, flips=self._flips, approach=self._approach)
            hand = [parts[name] for name in names]
            after = names.index("sleeve") + 1
            hand[after:after] = on_palm
            return [*others, *under, *hand, *over, *fingers]
        others, fingers = self.other.shapes(limb, flips=self._flips, approach=self._approach)
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
        path = [self.eye.flat(limb.tip) for limb in self.track]
        area = sum(x * ny - nx * y for (x, y), (nx, ny) in pairwise([*path, path[0]])) / 2
        whole = 1.0
        for axis in (0, 1):
            whole *= max(point[axis] for point in path) - min(point[axis] for point in path)
        return whole > 1e-5 and abs(area) > 0.35 * whole

    def ghost_shapes(self, limb: Limb, digits: Sequence[str]) -> tuple[list[Blob], list[Blob]]:
        """The weak arm as a pale copy: what is painted before it, and what over its palm.

        Near by, where only digits move, those of ``digits``.
        """
        if not self.view.close:
            return [limbs.ghost(self.eye, limbs.arm_balls(limb))], []
        parts = limbs.close_hand(self.eye, limb, (), whole=self.whole_hand, faint=True)
        order = limbs.far_first(self.eye, limb)
        if self.whole_hand:
            return [parts[name] for name in order], []
        palm = order.index("palm")
        return (
            [parts[name] for name in order[:palm] if name in digits],
            [parts[name] for name in order[palm:] if name in digits],
        )


def stage(movement: Movement) -> Scene:
    """Stage a movement in the view that it asks for."""
    view = view_of(movement.view, movement.position, movement.moves)
    return Scene(movement, view, Eye(view.camera), body.frame_of(movement.position))
