"""Whether a figure tells what to do to somebody who can't read: over the whole catalogue.

What is asked of each figure is measured on its shapes, in shares of the picture's width; a phone
shows it about 330 pixels wide.
"""

import itertools
import json
import math
from functools import cache
from pathlib import Path

import pytest

from patients.motions import Joint
from plans import figure
from plans.arrows import ends
from plans.catalogue import Kind, read_folder
from plans.exercise import movement_of
from plans.hulls import covers
from plans.scene import stage
from plans.shapes import SVG_WIDTH, TONES, Blob, Line, arrow_head

EXERCISES = {
    exercise.key: exercise
    for exercise in read_folder(Path("fixtures/exercises"))
    if exercise.kind is Kind.POSES
}
STEPS = [(key, step.effort.key) for key, exercise in EXERCISES.items() for step in exercise.steps]
every_figure = pytest.mark.parametrize(("key", "effort"), STEPS)


@cache
def moved(key, effort):
    exercise = EXERCISES[key]
    return movement_of(exercise, next(s for s in exercise.steps if s.effort.key == effort))


@cache
def still(key, effort):
    return figure.compose(moved(key, effort), "right")


def arrows(key, effort):
    return [s for s in still(key, effort).shapes if isinstance(s, Line) and s.head]


def along(points, step):
    """Points of a way, a step apart at the most."""
    found = [points[0]]
    for (x, y), (ox, oy) in itertools.pairwise(points):
        count = max(1, math.ceil(math.dist((x, y), (ox, oy)) / step))
        found += [(x + (ox - x) * i / count, y + (oy - y) * i / count) for i in range(1, count + 1)]
    return found


def blobs(shapes, *tones):
    return [shape for shape in shapes if isinstance(shape, Blob) and shape.tone in tones]


def share_on(points, shapes):
    """The share of some points that lies on some shapes."""
    hulls = [hull for blob in shapes for hull in blob.hulls]
    return sum(any(covers(hull, point) for hull in hulls) for point in points) / len(points)


@every_figure
def test_the_arrow_is_clear_of_the_arm_and_of_the_person(key, effort):
    picture = still(key, effort)
    for arrow in arrows(key, effort):
        points = along([*arrow.points, arrow_head(arrow)[0]], 0.01 * picture.box.width)
        assert share_on(points, blobs(picture.shapes, "arm", "help", "thing", "sleeve")) == 0
        if moved(key, effort).press:  # between the hand and the trunk it must cross the shirt
            continue
        assert share_on(points, blobs(picture.shapes, "shirt", "hair")) == 0
        # A thin part of the pale start or of a finger that rests may be crossed, no more.
        assert share_on(points, blobs(picture.shapes, "ghost", "skin")) < 0.2


@every_figure
def test_the_arrow_is_long_and_broad_enough_to_be_seen_on_a_phone(key, effort):
    picture = still(key, effort)
    for arrow in arrows(key, effort):
        way = [*arrow.points, arrow_head(arrow)[0]]
        long = sum(math.dist(*pair) for pair in itertools.pairwise(way))
        assert long > 0.12 * picture.box.width, "40 pixels"
        assert arrow.width_m > 0.009 * picture.box.width, "3 pixels"
        assert arrow.casing


@every_figure
def test_the_movement_itself_is_seen(key, effort):
    movement = moved(key, effort)
    data = json.loads(figure.moving_data(movement, "right"))
    first = data["frames"][0]
    farthest = max(
        math.dist(first[i : i + 2], frame[i : i + 2])
        for frame in data["frames"]
        for i in range(0, len(first), 2)
    )
    if len(movement.poses) == 1:
        assert farthest == 0, "a hold"
        return
    assert farthest > 0.035 * SVG_WIDTH, "11 pixels on a phone"


@every_figure
def test_no_helping_hand_hides_what_moves(key, effort):
    picture = still(key, effort).shapes
    parts = blobs(picture, "arm")
    seen, whole = 0.0, 0
    for part in parts:
        over = [s for s in picture[picture.index(part) + 1 :] if isinstance(s, Blob)]
        over = [shape for shape in over if shape.tone in ("help", "thing", "cloth")]
        for hull in part.hulls:
            centres = [(x, y) for x, y, _ in hull]
            points = along([*centres, centres[0]], 0.004)
            seen += len(points) * (1 - share_on(points, over))
            whole += len(points)
    assert whole
    assert seen / whole > 0.55


@every_figure
def test_the_tip_of_each_moving_digit_is_not_under_the_other_hand(key, effort):
    scene = stage(moved(key, effort))
    working = set(scene.moved_joints) & {Joint.FINGERS, Joint.THUMB}
    if not (scene.view.close and working):
        return
    shapes = still(key, effort).shapes
    _, end, _ = ends(scene)
    limb = scene.limb_at(end)
    digits = [each for _, each in scene.in_turn[:1]] or scene.moving_digits[:1]
    if Joint.THUMB in working:
        digits = [*digits, "thumb"]
    for digit in digits:
        points = limb.thumb if digit == "thumb" else limb.fingers[digit]
        tip = scene.eye.flat(points[-1])
        own = max(shapes.index(b) for b in blobs(shapes, "arm") if share_on([tip], [b]))
        assert share_on([tip], blobs(shapes[own:], "help")) == 0, digit


def ring_of_pinch(key):
    """How much of the hand's picture the ring of thumb and index finger encloses, when closed."""
    scene = stage(moved(key, "active"))
    _, end, _ = ends(scene)
    limb = scene.limb_at(end)
    points = [scene.eye.flat(p) for p in (*limb.fingers["index"], *reversed(limb.thumb))]
    area = sum(x * oy - ox * y for (x, y), (ox, oy) in itertools.pairwise([*points, points[0]]))
    hand = math.dist(scene.eye.flat(limb.wrist), scene.eye.flat(limb.fingers["middle"][0]))
    return abs(area) / 2 / hand**2


def test_a_pinch_of_the_tips_makes_an_open_ring_and_a_key_pinch_does_not():
    assert ring_of_pinch("pinch_tip") > 0.15
    assert ring_of_pinch("thumb_to_index") > 0.15
    assert ring_of_pinch("pinch_key") < 0.6 * ring_of_pinch("pinch_tip")


@pytest.mark.parametrize("key", ["thumb_to_each_finger", "finger_lifts"])
def test_fingers_that_move_in_turn_are_numbered_and_the_numbers_can_be_read_on_the_left_too(key):
    right, left = (figure.compose(moved(key, "active"), side).shapes for side in ("right", "left"))
    written = [s for s in right if isinstance(s, Line) and s.is_written]
    mirrored = [s for s in left if isinstance(s, Line) and s.is_written]
    assert len(written) == len(mirrored) == 4

    def strokes(line):
        (x, y), *rest = line.points
        return [pytest.approx((ox - x, oy - y)) for ox, oy in rest]

    for one, other in zip(written, mirrored, strict=True):
        assert strokes(one) == [tuple(p.expected) for p in strokes(other)]
        assert one.points[0][0] == pytest.approx(
            -other.points[0][0] + 2 * (one.points[0][0] - middle(one))
        )
    places = [(middle(line), line.points[0][1]) for line in written]
    for one, other in itertools.combinations(places, 2):
        assert math.dist(one, other) > 0.03 * still(key, "active").box.width


def test_the_other_hand_holds_each_finger_in_its_turn():
    scene = stage(moved("finger_lifts", "self_assisted"))
    assert [digit for _, digit in scene.in_turn] == ["index", "middle", "ring", "little"]
    for at_s, digit in scene.in_turn:
        limb = scene.limb_at(at_s)
        helping = [c for b in blobs(scene.moving_shapes(limb), "help") for h in b.hulls for c in h]
        apart = {
            finger: min(math.dist(scene.eye.flat(points[2]), (x, y)) for x, y, _ in helping)
            for finger, points in limb.fingers.items()
        }
        assert min(apart, key=apart.__getitem__) == digit


def middle(line):
    across = [x for x, _ in line.points]
    return (min(across) + max(across)) / 2


@every_figure
def test_a_moving_figure_reaches_every_key_pose(key, effort):
    movement = moved(key, effort)
    times = figure.frame_times(movement)
    for pose in movement.poses:
        assert min(abs(pose.at_s - at_s) for at_s in times) <= 0.021 * movement.own_pace_s


@every_figure
def test_the_parts_of_a_moving_figure_are_the_same_in_all_its_frames(key, effort):
    """The player is sent the tones and sizes once, and then only places."""
    movement = moved(key, effort)
    scene = stage(movement)
    order = scene.limb_at(ends(scene)[1])
    frames = [
        [
            (blob.tone, [[radius for _, _, radius in hull] for hull in blob.hulls])
            for blob in scene.moving_shapes(limb, order=order)
        ]
        for limb in scene.limbs_at(figure.frame_times(movement))
    ]
    assert all(frame == frames[0] for frame in frames)


@every_figure
def test_what_matters_is_inside_a_picture_without_legs(key, effort):
    picture = still(key, effort)
    box = picture.box
    for blob in blobs(picture.shapes, "arm", "ghost", "help", "hair", "shirt"):
        for hull in blob.hulls:
            for x, y, radius in hull:
                assert box.left <= x - radius
                assert x + radius <= box.right
                assert box.bottom <= y - radius
                assert y + radius <= box.top


SHOWN_BY = {
    "band": "thing",
    "bed": "bed",
    "cards": "cloth",
    "cloth": "cloth",
    "cuff_weight": "thing",
    "cup": "cloth",
    "hand_weight": "thing",
    "paper": "cloth",
    "pillow": "cloth",
    "putty": "thing",
    "rubber_band": "thing",
    "smooth_board": "wood",
    "stick": "wood_front",
    "towel": "cloth",
    "wall": "bed",
}
"""The tone of each thing; chair and table are furniture that a near view may leave out."""


@every_figure
def test_whatever_has_to_be_at_hand_is_in_the_picture(key, effort):
    movement = moved(key, effort)
    asked = {SHOWN_BY[thing] for thing in movement.equipment if thing in SHOWN_BY}
    if "putty" in movement.equipment:  # it is squeezed instead of the towel
        asked.discard("cloth")
    assert asked <= {shape.tone for shape in still(key, effort).shapes}


@pytest.mark.parametrize("key", ["table_slide_forward", "wall_slide_forward"])
def test_a_cloth_that_slides_goes_with_the_hand(key):
    step = EXERCISES[key].steps[-1].effort.key
    scene = stage(moved(key, step))
    begins, ends_at = (scene.limb_at(pose.at_s) for pose in moved(key, step).poses[:2])
    cloths = [scene.moving_shapes(limb)[0] for limb in (begins, ends_at)]
    assert [blob.tone for blob in cloths] == ["cloth", "cloth"]
    apart = []
    for limb, blob in zip((begins, ends_at), cloths, strict=True):
        x, y = scene.eye.flat(limb.fingers["middle"][0])
        corners = blob.hulls[0]
        apart.append((sum(c[0] for c in corners) / 4 - x, sum(c[1] for c in corners) / 4 - y))
    assert math.hypot(*apart[0]) < 0.04
    assert math.dist(*apart) < 0.02, "it keeps its place under the hand"


def luminance(colour):
    """Relative luminance of a colour (WCAG 2.2, relative luminance)."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return sum(w * p for w, p in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


def contrast(one, other):
    """Contrast ratio of two tones (WCAG 2.2, contrast ratio)."""
    light, dark = sorted((luminance(TONES[one]), luminance(TONES[other])), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_in_grey_the_arm_stays_apart_from_the_person_and_the_arrow_from_both():
    for tone in ("shirt", "sleeve", "trousers", "skin", "help", "bed", "wood", "ghost"):
        assert contrast("arm", tone) > 2.2, tone
        assert contrast("way", tone) > 6, tone
    assert contrast("way", "arm") > 3
