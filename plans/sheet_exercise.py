"""One exercise of a sheet: name, dose, steps and figure, note and cautions, on one page. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from reportlab.graphics.shapes import Drawing
from reportlab.platypus import Flowable, Spacer

from plans.sheet_setting import (
    BAND,
    Disc,
    Setting,
    Stack,
    columns,
    height_of,
    paragraph,
    text_width,
)
from plans.sheet_words import DoseWords, SheetWords

FIGURE_SHARE = 0.42
"""The share of the width that a figure may take."""

FIGURE_HEIGHTS = (16, 13, 10)
"""How high a figure may be, in sizes of type, from the usual to the least."""


@dataclass(frozen=True)
class SheetExercise:
    """One exercise as the patient reads it."""

    name: str
    goal: str
    side: str
    position: str
    things: str
    helper: str
    dose: DoseWords
    do: tuple[str, ...]
    note: str
    cautions: tuple[str, ...]
    figure: Drawing | None = None


def fitting_block(
    number: int,
    exercise: SheetExercise,
    words: SheetWords,
    setting: Setting,
    width: float,
    height: float,
) -> Stack:
    """Return one exercise as a block: two to a page where they fit, else so that a page holds it.

    Width and height, in points, are what a page leaves. The type never gets smaller for it.
    """
    half = (height - _apart(setting)) / 2
    tight = replace(setting, tight=True)
    ways = (
        (half, setting, True),
        (half, tight, True),
        (height, setting, False),
        (height, tight, False),
    )
    for room, tried, is_beside in ways:
        for figure_height in FIGURE_HEIGHTS if exercise.figure else (0,):
            block = _exercise(
                number, exercise, words, tried, width, height, figure_height, is_beside
            )
            if height_of([block], width) <= room:
                return block
    return block


def _apart(setting: Setting) -> float:
    """Return the space between two exercises on one page."""
    return setting.size * 2


def _exercise(
    number: int,
    exercise: SheetExercise,
    words: SheetWords,
    setting: Setting,
    width: float,
    height: float,
    figure_height: float,
    is_beside: bool,
) -> Stack:
    """Return one exercise as a block; note and cautions stand beside the figure, or below it."""
    gap, plain, bold = setting.gap, setting.style(), setting.style(bold=True)
    name = setting.style(1.25, bold=True)
    disc = Disc(str(number), setting.size * 1.1)
    indent = setting.size * 2.6
    where = [part for part in (exercise.side, exercise.position) if part]
    about = " · ".join(where)
    parts: list[Flowable] = [
        columns([disc, paragraph(exercise.name, name)], [indent, width - indent], valign="MIDDLE"),
        Spacer(0, gap * 0.7),
        paragraph(about, bold),
        paragraph(
            " ".join(part for part in (exercise.goal, exercise.things, exercise.helper) if part),
            plain,
        ),
        Spacer(0, gap),
        _dose(exercise.dose, setting, width, height),
        Spacer(0, gap * 1.5),
    ]
    more: list[Flowable] = []
    if exercise.note:
        more += [Spacer(0, gap), paragraph(exercise.note, plain, lead=words.note)]
    more += [Spacer(0, gap), paragraph(" ".join(exercise.cautions), plain, lead=words.take_care)]
    if exercise.figure is None:
        parts += [*_steps(exercise.do, setting, width), *more]
    else:
        figure = _Figure(exercise.figure, width * FIGURE_SHARE, setting.size * figure_height)
        left = width - figure.width - setting.size
        told = [*_steps(exercise.do, setting, left), *(more if is_beside else ())]
        parts.append(columns([told, "", figure], [left, setting.size, figure.width]))
        parts += () if is_beside else more
    return Stack(
        parts,
        tallest=height,
        bookmark=f"{number}. {exercise.name}",
        apart=_apart(setting) if number > 1 else 0,
    )


def _dose(dose: DoseWords, setting: Setting, width: float, height: float) -> Flowable:
    """Return the dose on a grey band: at a glance on the left, in words on the right."""
    pad = setting.gap * 1.2
    inner = width - 2 * pad
    glance = setting.style(1.5, bold=True)
    left = max(inner * 0.27, text_width(dose.glance, glance) + setting.size * 1.5)
    said = [
        paragraph(" ".join(dose.sentences), setting.style()),
        paragraph(dose.often, setting.style(bold=True)),
    ]
    row = columns([paragraph(dose.glance, glance), said], [left, inner - left], valign="MIDDLE")
    return Stack([row], tallest=height, pad=pad, fill=BAND)


def _steps(do: Sequence[str], setting: Setting, width: float) -> list[Flowable]:
    """Return the numbered steps."""
    plain, bold = setting.style(), setting.style(bold=True)
    number = setting.size * 1.8
    return [
        columns([paragraph(f"{n}.", bold), paragraph(sentence, plain)], [number, width - number])
        for n, sentence in enumerate(do, start=1)
    ]


class _Figure(Flowable):  # type: ignore[misc]  # reportlab has no types
    """A drawing as large as it fits a width and a height."""

    def __init__(self, drawing: Drawing, most_width: float, most_height: float) -> None:
        super().__init__()
        self.drawing = drawing
        self.scale = min(most_width / drawing.width, most_height / drawing.height)
        self.width, self.height = drawing.width * self.scale, drawing.height * self.scale

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        """Take what it takes."""
        return self.width, self.height

    def draw(self) -> None:
        """Draw it scaled."""
        self.canv.saveState()
        self.canv.scale(self.scale, self.scale)
        self.drawing.drawOn(self.canv, 0, 0)
        self.canv.restoreState()
