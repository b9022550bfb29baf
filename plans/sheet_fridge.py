"""The page for the fridge door: every exercise at a glance, and the numbers to ring. Pure."""

from collections.abc import Sequence
from dataclasses import replace

from reportlab.platypus import Flowable, Spacer

from plans.sheet_exercise import SheetExercise, SheetFigure
from plans.sheet_language import SheetWords
from plans.sheet_setting import Setting, Stack, columns, height_of, paragraph
from plans.sheet_stop_signs import SheetTier

FIGURE_HEIGHTS = (7, 5.5, 4.5, 0)
"""How high a figure may be, in sizes of type; none at all rather than a second page."""

FIGURE_SHARE = 0.34


def fridge_page(
    exercises: Sequence[SheetExercise],
    tiers: Sequence[SheetTier],
    words: SheetWords,
    limit: str,
    setting: Setting,
    width: float,
    height: float,
) -> list[Flowable]:
    """Return what fits one page: figures get smaller, then lines come closer, never the type.

    ``limit`` is the pain limit in words. Where nothing fits, the closest goes on to a second page.
    """
    parts: list[Flowable] = []
    for close in (setting, replace(setting, tight=True)):
        for figure in FIGURE_HEIGHTS:
            parts = _page(exercises, tiers, words, limit, close, width, height, figure)
            if height_of(parts, width) <= height:
                return parts
    return parts


def _page(
    exercises: Sequence[SheetExercise],
    tiers: Sequence[SheetTier],
    words: SheetWords,
    limit: str,
    setting: Setting,
    width: float,
    height: float,
    figure: float,
) -> list[Flowable]:
    title = paragraph(words.fridge_title, setting.style(1.5, bold=True))
    gap, between = setting.gap, setting.size
    half = (width - between) / 2
    parts: list[Flowable] = [
        Stack([title], tallest=height, bookmark=words.fridge_title),
        Spacer(0, gap),
    ]
    cells = [
        _cell(number, exercise, setting, half, figure)
        for number, exercise in enumerate(exercises, start=1)
    ]
    for at in range(0, len(cells), 2):
        pair = [*cells[at : at + 2], ""][:2]
        parts += [columns([pair[0], "", pair[1]], [half, between, half]), Spacer(0, gap)]
    if not exercises:
        parts.append(paragraph(words.no_exercises, setting.style()))
    parts += [Spacer(0, gap), paragraph(f"{limit}.", setting.style(bold=True)), Spacer(0, gap)]
    signs = [
        paragraph(
            f"{tier.words.do} {tier.telephone}".strip(), setting.style(), lead=tier.words.heading
        )
        for tier in tiers
    ]
    parts.append(Stack(signs, tallest=height, pad=gap, edge=1.2))
    return parts


def _cell(
    number: int, exercise: SheetExercise, setting: Setting, width: float, figure: float
) -> Flowable:
    """Return one exercise: number and name, side, dose at a glance and how often."""
    told = [
        paragraph(exercise.name, setting.style(bold=True), lead=f"{number}."),
        paragraph(exercise.side, setting.style()),
        paragraph(exercise.dose.often, setting.style(), lead=f"{exercise.dose.glance}."),
        *(paragraph(bound, setting.style(bold=True)) for bound in exercise.bounds),
    ]
    if exercise.figure is None or not figure:
        return columns([told], [width])
    drawn = SheetFigure(exercise.figure, width * FIGURE_SHARE, setting.size * figure)
    room = width - drawn.width - setting.gap
    return columns([told, "", drawn], [room, setting.gap, drawn.width])
