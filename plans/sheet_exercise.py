"""One exercise of a sheet: name, dose, steps and figure, note and cautions, on one page. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from reportlab.graphics.shapes import Drawing
from reportlab.platypus import Flowable, Spacer

from plans.sheet_language import DoseWords, SheetWords
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

FIGURE_SHARE = 0.42
"""The share of the width that a figure may take."""

FIGURE_HEIGHTS = (16, 13, 10)
"""How high a figure may be, in sizes of type, from the usual to the least."""


@dataclass(frozen=True)
class SheetExercise:
    """One exercise as the patient reads it; ``bounds`` say where to turn back, and the splint.

    ``language`` is that of its name, goal, steps and cautions, where they are not in the sheet's.
    """

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
    easier: str = ""
    bounds: tuple[str, ...] = ()
    figure: Drawing | None = None
    language: str = ""


@dataclass(frozen=True)
class ExerciseBlocks:
    """Sets exercises as blocks; ``width`` and ``height``, in points, are what a page leaves.

    To fit, figures get smaller and lines come closer; the type never gets smaller.
    """

    words: SheetWords
    setting: Setting
    width: float
    height: float

    @property
    def apart(self) -> float:
        """The space between two exercises on one page."""
        return self.setting.size * 2

    def on_pages(self, exercises: Sequence[SheetExercise], first: int) -> list[Stack]:
        """Return blocks, numbered from ``first``: two to a page where both fit, else one."""
        blocks: list[Stack] = []
        while len(blocks) < len(exercises):
            at = len(blocks)
            here = exercises[at : at + 2]
            blocks += self._pair(here, first + at) or [self.alone(here[0], first + at)]
        return blocks

    def within(self, exercise: SheetExercise, number: int, room: float) -> Stack | None:
        """Return a block no higher than ``room``; None where there is none."""
        tight = replace(self.setting, tight=True)
        return self._first(exercise, number, ((self.setting, True), (tight, True)), room)

    def alone(self, exercise: SheetExercise, number: int) -> Stack:
        """Return a block that has a page to itself."""
        tight = replace(self.setting, tight=True)
        ways = ((self.setting, False), (tight, False))
        block = self._first(exercise, number, ways, self.height)
        return block or self._block(exercise, number, tight, FIGURE_HEIGHTS[-1], is_beside=False)

    def _pair(self, exercises: Sequence[SheetExercise], number: int) -> list[Stack] | None:
        if len(exercises) < 2:
            return None
        half = (self.height - self.apart) / 2
        one, other = exercises
        upper = self.within(one, number, half)
        lower = self.within(other, number + 1, self._left_by(upper) if upper else half)
        if lower and not upper:
            upper = self.within(one, number, self._left_by(lower))
        return [upper, lower] if upper and lower else None

    def _left_by(self, block: Stack) -> float:
        return self.height - self.apart - height_of([block], self.width)

    def _first(
        self,
        exercise: SheetExercise,
        number: int,
        ways: Sequence[tuple[Setting, bool]],
        room: float,
    ) -> Stack | None:
        for setting, is_beside in ways:
            for figure_height in FIGURE_HEIGHTS if exercise.figure else (0,):
                block = self._block(exercise, number, setting, figure_height, is_beside=is_beside)
                if height_of([block], self.width) <= room:
                    return block
        return None

    def _block(
        self,
        exercise: SheetExercise,
        number: int,
        setting: Setting,
        figure_height: float,
        *,
        is_beside: bool,
    ) -> Stack:
        """Return a block; note and cautions stand beside the figure, or below it."""
        words, width = self.words, self.width
        gap, plain, bold = setting.gap, setting.style(), setting.style(bold=True)
        name = setting.style(1.25, bold=True)
        disc = Disc(str(number), setting.size * 1.1)
        indent = setting.size * 2.6
        where = [part for part in (exercise.side, exercise.position) if part]
        about = " · ".join(where)
        parts: list[Flowable] = [
            columns(
                [disc, paragraph(exercise.name, name)], [indent, width - indent], valign="MIDDLE"
            ),
            Spacer(0, gap * 0.7),
            paragraph(about, bold),
            paragraph(
                " ".join(
                    part for part in (exercise.goal, exercise.things, exercise.helper) if part
                ),
                plain,
            ),
            Spacer(0, gap),
            _dose(exercise.dose, setting, width),
            Spacer(0, gap * 1.5),
        ]
        if exercise.bounds:
            parts += [paragraph(" ".join(exercise.bounds), bold), Spacer(0, gap)]
        more: list[Flowable] = []
        if exercise.note:
            more += [Spacer(0, gap), paragraph(exercise.note, plain, lead=words.note)]
        if exercise.easier:
            more += [Spacer(0, gap), paragraph(exercise.easier, plain, lead=words.too_hard)]
        more += [
            Spacer(0, gap),
            paragraph(" ".join(exercise.cautions), plain, lead=words.take_care),
        ]
        if exercise.figure is None:
            parts += [*_steps(exercise.do, setting, width), *more]
        else:
            figure = SheetFigure(
                exercise.figure, width * FIGURE_SHARE, setting.size * figure_height
            )
            left = width - figure.width - setting.size
            told = [*_steps(exercise.do, setting, left), *(more if is_beside else ())]
            parts.append(columns([told, "", figure], [left, setting.size, figure.width]))
            parts += () if is_beside else more
        return Stack(
            parts,
            tallest=self.height,
            bookmark=f"{number}. {exercise.name}",
            apart=self.apart if number > 1 else 0,
        )


def _dose(dose: DoseWords, setting: Setting, width: float) -> Flowable:
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
    return Stack([row], tallest=float("inf"), pad=pad, fill=BAND)


def _steps(do: Sequence[str], setting: Setting, width: float) -> list[Flowable]:
    """Return the numbered steps."""
    plain, bold = setting.style(), setting.style(bold=True)
    number = setting.size * 1.8
    return [
        columns([paragraph(f"{n}.", bold), paragraph(sentence, plain)], [number, width - number])
        for n, sentence in enumerate(do, start=1)
    ]


class SheetFigure(Flowable):  # type: ignore[misc]  # reportlab has no types
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
