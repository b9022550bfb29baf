"""Figures: what is drawn, how much it weighs, both writers, both sides, and the player's twin."""

import gzip
import json
import re
import shutil
import subprocess
from pathlib import Path
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st
from reportlab.graphics import renderPDF

from plans import figure
from plans.cameras import VIEWS
from plans.catalogue import Kind, read_folder
from plans.exercise import movement_of, read_movement
from plans.hulls import FULL, outline, svg_path
from plans.shapes import Line, Ring, arrow_head

PLAYER = Path("plans/static/plans/figure_player.js")
SVG = "{http://www.w3.org/2000/svg}"

LIFT = ({"at": 0}, {"at": 3, "elevation": 88}, {"at": 6})
UP = {"elevation": 45, "plane": 90, "elbow": 135, "supination": 0, "hand": "straight"}


def movement(*poses, position="lying_back", effort="active", **more):
    table = {"effort": effort, "position": position, "poses": list(poses)} | more
    return read_movement(table, where="figure")


def lift(**more):
    return movement(*LIFT, moves=["shoulder_flexion"], **more)


MOVEMENTS = {
    "active": lift(),
    "assisted": lift(effort="self_assisted"),
    "by a helper": lift(effort="passive", done_by="helper"),
    "with a weight": lift(effort="resisted", load_means="held", equipment=["hand_weight"]),
    "with a stick": lift(effort="self_assisted", equipment=["stick"]),
    "with both arms": movement({"at": 0, "other": "same"}, *LIFT[1:]),
    "sitting": movement(
        {"at": 0, "plane": 0}, {"at": 3, "elevation": 90}, {"at": 6}, position="sitting"
    ),
    "standing": movement(
        {"at": 0}, {"at": 2, "elevation": 40, "plane": 90}, {"at": 4}, position="standing"
    ),
    "at a table": movement(
        {"at": 0, "rests": "forearm", "wrist": 20},
        {"at": 2, "wrist": -40},
        {"at": 4},
        position="sitting_at_table",
        moves=["wrist_extension"],
    ),
    "on the side": movement(
        {"at": 0, "rests": "arm"}, {"at": 3, "elevation": 80}, {"at": 6}, position="lying_side"
    ),
    "leaning": movement(
        {"at": 0}, {"at": 1, "elevation": 85}, {"at": 2}, position="leaning_forward"
    ),
    "a fist": movement(
        {"at": 0, **UP},
        {"at": 2, "hand": "fist"},
        {"at": 4},
        position="sitting_at_table",
        moves=["finger_flexion"],
    ),
}
every_movement = pytest.mark.parametrize("moved", MOVEMENTS.values(), ids=MOVEMENTS)


@given(
    st.lists(
        st.tuples(st.integers(0, 900), st.integers(0, 900), st.integers(1, 200)),
        min_size=1,
        max_size=7,
    )
)
def test_an_outline_goes_once_round_and_no_circle_reaches_beyond_it(circles):
    import math

    arcs = outline(circles)
    assert sum(ends - begins for _, begins, ends in arcs) == pytest.approx(FULL)
    for index, begins, ends in arcs:
        assert ends >= begins
        way = (begins + ends) / 2
        reach = [x * math.cos(way) + y * math.sin(way) + r for x, y, r in circles]
        assert reach[index] == pytest.approx(max(reach), abs=1e-6)


@every_movement
@pytest.mark.parametrize("side", ["left", "right"])
def test_a_still_is_one_light_svg_that_a_strict_policy_lets_pass(moved, side):
    drawn = figure.still_svg(moved, side, title='Lift "it" & lower')
    root = ElementTree.fromstring(drawn)  # noqa: S314 - our own output
    assert root.tag == SVG + "svg"
    assert root.find(SVG + "title").text == 'Lift "it" & lower'
    tags = {element.tag.removeprefix(SVG) for element in root.iter()}
    assert tags <= {"svg", "title", "g", "path", "circle"}
    attributes = {name for element in root.iter() for name in element.attrib}
    assert not {name for name in attributes if name == "style" or name.startswith("on")}
    assert len(gzip.compress(drawn.encode())) < 8_000
    assert (
        len(
            gzip.compress(
                (figure.moving_svg(moved, side) + figure.moving_data(moved, side)).encode()
            )
        )
        < 8_000
    )


@pytest.mark.parametrize("view", VIEWS)
def test_any_movement_and_any_hold_can_be_seen_from_anywhere(view):
    for position, helps_at in (("sitting", "wrist"), ("sitting_at_table", "finger")):
        first = {"at": 0, "view": view, "helps_at": helps_at, "other": "helps"}
        hold = movement(first | {"hold": True}, position=position)
        fist = movement(first, {"at": 1, "hand": "fist"}, {"at": 2}, position=position)
        lifted = movement(first, {"at": 1, "elevation": 50}, {"at": 2}, position=position)
        for moved in (hold, fist, lifted):
            drawn = figure.still_svg(moved, "left")
            assert "nan" not in drawn
            assert drawn.count("<path") > 3
            assert json.loads(figure.moving_data(moved, "left"))["seconds"] == moved.own_pace_s


@every_movement
def test_nothing_is_drawn_outside_the_picture(moved):
    still = figure.compose(moved, "right")
    box = still.box
    for shape in still.shapes:
        points = [c for hull in shape.hulls for c in hull] if hasattr(shape, "hulls") else []
        for x, y, radius in points:
            assert box.left <= x - radius
            assert x + radius <= box.right
            assert box.bottom <= y - radius
            assert y + radius <= box.top


@every_movement
def test_the_left_is_the_mirror_image_of_the_right(moved):
    right, left = figure.compose(moved, "right"), figure.compose(moved, "left")
    assert left.box.width == pytest.approx(right.box.width)
    middle = right.box.left + right.box.right
    for one, other in zip(right.shapes, left.shapes, strict=True):
        if hasattr(one, "hulls"):
            for (x, y, r), (mx, my, mr) in zip(one.hulls[0], other.hulls[0], strict=True):
                assert (mx, my, mr) == (-x, y, r)
    assert left.box.left + left.box.right == pytest.approx(-middle)


def tones(moved, **more):
    return [getattr(shape, "tone", "") for shape in figure.compose(moved, "right", **more).shapes]


def test_a_still_shows_start_end_arrow_and_the_joint_that_works():
    drawn = tones(MOVEMENTS["active"])
    assert "ghost" in drawn
    assert drawn.index("ghost") < drawn.index("arm")
    shapes = figure.compose(MOVEMENTS["active"], "right").shapes
    assert sum(isinstance(shape, Ring) for shape in shapes) == 2
    arrows = [shape for shape in shapes if isinstance(shape, Line) and shape.head]
    assert len(arrows) == 1
    assert not arrows[0].tail


def test_who_helps_is_drawn_and_who_does_not_is_pale():
    assert "help" not in tones(MOVEMENTS["active"])
    assert "help" in tones(MOVEMENTS["assisted"])
    assert tones(MOVEMENTS["by a helper"]).count("help") > tones(MOVEMENTS["assisted"]).count(
        "help"
    )
    assert tones(MOVEMENTS["with a weight"]).count("thing") == 3


def test_single_moments_share_one_box():
    boxes = {figure.compose(MOVEMENTS["active"], "right", at_s=at_s).box for at_s in (0, 3, 6)}
    assert len(boxes) == 1
    assert "ghost" not in tones(MOVEMENTS["active"], at_s=3)


@every_movement
def test_paper_shows_the_same_shapes(moved, tmp_path):
    page = figure.still_drawing(moved, "left", 200)
    box = figure.compose(moved, "left").box
    assert page.width == 200
    assert page.height == pytest.approx(200 * box.height / box.width)
    target = tmp_path / "figure.pdf"
    renderPDF.drawToFile(page, str(target))
    assert target.read_bytes().startswith(b"%PDF")


@every_movement
def test_moving_parts_are_the_last_paths_of_the_picture(moved):
    drawn = figure.moving_svg(moved, "right", title="x")
    root = ElementTree.fromstring(drawn)  # noqa: S314 - our own output
    count = int(root.attrib["data-moving"])
    data = json.loads(figure.moving_data(moved, "right"))
    assert count == len(data["hulls"])
    assert data["seconds"] == moved.own_pace_s
    numbers = sum(2 * len(radii) for part in data["hulls"] for radii in part)
    assert {len(frame) for frame in data["frames"]} == {numbers}
    assert data["frames"][0] == data["frames"][-1]
    drawn_paths = [element.attrib["d"] for element in root.iter(SVG + "path")][-count:]
    sent = figure.moving_paths(figure.moving_data(moved, "right"), 0)
    for one, other in zip(drawn_paths, sent, strict=True):
        apart = [
            abs(int(a) - int(b))
            for a, b in zip(
                re.findall(r"-?\d+", one)[:2], re.findall(r"-?\d+", other)[:2], strict=True
            )
        ]
        assert max(apart) <= 2  # the frames' places are whole numbers, the still's are not


needs_node = pytest.mark.skipif(shutil.which("node") is None, reason="node is not installed")


def in_node(program, given):
    script = f"const p = require('./{PLAYER}'); const given = {json.dumps(given)}; {program}"
    done = subprocess.run(["node"], input=script, capture_output=True, text=True, check=True)
    return json.loads(done.stdout)


@needs_node
def test_the_player_draws_what_is_drawn_here():
    sent = [
        figure.moving_data(moved, side)
        for moved in MOVEMENTS.values()
        for side in ("left", "right")
    ]
    shares = (0, 0.5, 1)
    program = (
        "process.stdout.write(JSON.stringify("
        f"given.map(data => {list(shares)}.map(share => p.pathsAt(data, share)))))"
    )
    lasts = [len(json.loads(data)["frames"]) - 1 for data in sent]
    assert not any(last % 2 for last in lasts), "the middle is a frame"
    expected = [
        [figure.moving_paths(data, round(share * last)) for share in shares]
        for data, last in zip(sent, lasts, strict=True)
    ]
    assert in_node(program, [json.loads(data) for data in sent]) == expected


@needs_node
def test_the_player_outlines_any_circles_alike():
    import random

    chance = random.Random(7)
    sets = [
        [
            [chance.randint(0, 500), chance.randint(0, 500), chance.randint(1, 90)]
            for _ in range(chance.randint(1, 6))
        ]
        for _ in range(500)
    ]
    drawn = in_node("process.stdout.write(JSON.stringify(given.map(c => p.hullPath(c))))", sets)
    assert drawn == [svg_path([tuple(map(float, c)) for c in circles]) for circles in sets]


def test_every_figure_of_the_catalogue_is_light_and_shows_the_way():
    drawn = 0
    for exercise in read_folder(Path("fixtures/exercises")):
        if exercise.kind is not Kind.POSES:
            continue
        for step in exercise.steps:
            moved = movement_of(exercise, step)
            still = figure.compose(moved, "right")
            arrows = [s for s in still.shapes if isinstance(s, Line) and s.head]
            assert len(arrows) == (2 if moved.press else 1), moved.where
            for arrow in arrows:
                tip = arrow_head(arrow)[0]
                assert still.box.left <= tip[0] <= still.box.right, moved.where
                assert still.box.bottom <= tip[1] <= still.box.top, moved.where
            assert len(gzip.compress(figure.still_svg(moved, "right").encode())) < 4_000
            drawn += 1
    assert drawn > 150
