"""The patient's sheet: what stands on it, and its setting as a PDF.

Pure. A :class:`Sheet` holds words and numbers only; :func:`sheet_pdf` sets them. No exercise is
split over pages; every page says whose sheet it is, of which plan, and of how many pages.
"""

from dataclasses import dataclass
from datetime import date
from io import BytesIO
from typing import Any

from reportlab.lib.colors import black
from reportlab.platypus import (
    BaseDocTemplate,
    Flowable,
    Frame,
    NextPageTemplate,
    PageBreak,
    PageTemplate,
    Spacer,
)

from plans.sheet_diary import DiaryDay, diary_pages
from plans.sheet_exercise import ExerciseBlocks, SheetExercise
from plans.sheet_fridge import fridge_page
from plans.sheet_language import SheetWords
from plans.sheet_phone import PhoneCode, phone_block
from plans.sheet_setting import (
    BOLD,
    MARGIN,
    PLAIN,
    RULE,
    PainScale,
    Setting,
    Stack,
    clipped,
    columns,
    height_of,
    load_fonts,
    paragraph,
)
from plans.sheet_stop_signs import SheetTier, stop_sign_blocks

UPRIGHT, ACROSS = "upright", "across"
NUMBER_ROOM = 250
"""Points kept at the foot for a page's number; a form shows nothing to the left of its origin."""


@dataclass(frozen=True)
class Sheet:
    """Everything that a sheet says. ``name`` is blank unless someone chose to print it.

    ``precautions`` say what the arm must not do yet, and until when that holds.
    """

    words: SheetWords
    clinic_name: str
    telephone: str
    clinic_number: str
    name: str
    version_number: int
    effective_day: date
    change_sentence: str
    pain_limit: int
    replaced: str
    precautions: tuple[str, ...]
    precautions_heading: str
    exercises: tuple[SheetExercise, ...]
    tiers: tuple[SheetTier, ...]
    diary: tuple[DiaryDay, ...]
    phone: PhoneCode | None = None

    @property
    def whose(self) -> str:
        """The clinic's number for the patient, which stands on every page."""
        return self.words.clinic_number.format(number=self.clinic_number)

    @property
    def plan(self) -> str:
        """Which plan."""
        return self.words.plan.format(number=self.version_number)


def sheet_pdf(sheet: Sheet, setting: Setting) -> bytes:
    """Return the sheet as a PDF."""
    load_fonts()
    out = BytesIO()
    document = _Document(out, sheet, setting)
    document.build(_story(sheet, setting, document))
    document.finish()
    return out.getvalue()


def fridge_pdf(sheet: Sheet, setting: Setting) -> bytes:
    """Return the exercises at a glance and whom to ring, for the fridge door: one page.

    A plan too long for one page goes on to a second; the type never gets smaller.
    """
    load_fonts()
    out = BytesIO()
    document = _Document(out, sheet, setting)
    width, height = document.frame_size(setting.upright)
    limit = sheet.words.pain_heading.format(limit=sheet.pain_limit)
    document.build(
        fridge_page(sheet.exercises, sheet.tiers, sheet.words, limit, setting, width, height)
    )
    document.finish()
    return out.getvalue()


class _Document(BaseDocTemplate):  # type: ignore[misc]  # reportlab has no types
    """Pages with a head and a foot, upright and across."""

    def __init__(self, out: BytesIO, sheet: Sheet, setting: Setting) -> None:
        self.sheet = sheet
        self.setting = setting
        self.strip = setting.leading + setting.gap * 1.5
        super().__init__(
            out,
            pagesize=setting.upright,
            title=f"{sheet.words.title}, {sheet.plan}",
            author=sheet.clinic_name,
            lang=sheet.words.language,
            displayDocTitle=1,
            initialFontName=PLAIN,
        )
        self._doSave = 0  # finish() has something to add
        self.addPageTemplates(
            [self._pages(UPRIGHT, setting.upright), self._pages(ACROSS, setting.across)]
        )

    def _pages(self, name: str, paper: tuple[float, float]) -> PageTemplate:
        width, height = paper
        frame = Frame(
            MARGIN,
            MARGIN + self.strip,
            width - 2 * MARGIN,
            height - 2 * MARGIN - 2 * self.strip,
            leftPadding=0,
            rightPadding=0,
            topPadding=0,
            bottomPadding=0,
        )
        return PageTemplate(name, [frame], pagesize=paper, onPage=self._surround)

    def frame_size(self, paper: tuple[float, float]) -> tuple[float, float]:
        """Return the width and height that a page leaves for its content."""
        return paper[0] - 2 * MARGIN, paper[1] - 2 * MARGIN - 2 * self.strip

    def _surround(self, canv: Any, document: Any) -> None:
        """Draw what stands on every page: above whose and which plan, below whom to ring."""
        width, height = canv._pagesize
        sheet, size = self.sheet, self.setting.size
        right, top, foot = width - MARGIN, height - MARGIN - size, MARGIN + size * 0.2
        page = canv.getPageNumber()
        head = sheet.clinic_name if page == 1 else f"{sheet.words.title} · {sheet.plan}"
        canv.saveState()
        canv.setFillColor(black)
        canv.setStrokeColor(RULE)
        canv.setLineWidth(0.6)
        canv.setFont(BOLD, size)
        room = right - MARGIN - canv.stringWidth(f"  {sheet.whose}", PLAIN, size)
        canv.drawString(MARGIN, top, clipped(head, BOLD, size, room))
        canv.setFont(PLAIN, size)
        canv.drawRightString(right, top, sheet.whose)
        canv.line(MARGIN, top - size * 0.5, right, top - size * 0.5)
        canv.line(MARGIN, foot + size * 1.3, right, foot + size * 1.3)
        canv.drawString(MARGIN, foot, self._foot())
        canv.translate(right - NUMBER_ROOM, foot)
        canv.doForm(f"page{page}")  # drawn by finish(), which knows how many there are
        canv.restoreState()

    def _foot(self) -> str:
        """Return whom to ring; the clinic's name where no number is known."""
        ring = f"{self.sheet.words.ring_us}: {self.sheet.telephone}" if self.sheet.telephone else ""
        return ring or self.sheet.clinic_name

    def finish(self) -> None:
        """Write each page's number and how many there are, then the document."""
        for page in range(1, self.page + 1):
            self.canv.beginForm(f"page{page}", lowery=-self.setting.size)
            self.canv.setFillColor(black)
            self.canv.setFont(PLAIN, self.setting.size)
            words = self.sheet.words.page_of.format(page=page, pages=self.page)
            self.canv.drawRightString(NUMBER_ROOM, 0, words)
            self.canv.endForm()
        self.canv.save()


def _story(sheet: Sheet, setting: Setting, document: _Document) -> list[Flowable]:
    width, height = document.frame_size(setting.upright)
    opening = _opening(sheet, setting, width, height)
    story: list[Flowable] = [opening]
    if sheet.exercises:
        story += _exercises(sheet, setting, width, height, height - height_of([opening], width))
    story += [PageBreak(), *stop_sign_blocks(sheet.tiers, sheet.words, setting, width, height)]
    if sheet.diary:
        names = [exercise.name for exercise in sheet.exercises]
        for page in diary_pages(
            sheet.diary,
            words=sheet.words,
            setting=setting,
            names=names,
            upright=(width, height),
            across=document.frame_size(setting.across),
        ):
            story += [
                NextPageTemplate(ACROSS if page.is_across else UPRIGHT),
                PageBreak(),
                *page.parts,
            ]
    return story


def _exercises(
    sheet: Sheet, setting: Setting, width: float, height: float, room: float
) -> list[Flowable]:
    """Return the exercises; ``room`` is what the first page has left for them."""
    blocks = ExerciseBlocks(sheet.words, setting, width, height)
    gap = Spacer(0, setting.gap * 4)
    heading = Stack(
        [
            paragraph(sheet.words.exercises_heading, setting.style(1.5, bold=True)),
            paragraph(sheet.words.in_order, setting.style()),
            Spacer(0, setting.gap * 2),
        ],
        tallest=height,
    )
    first, *others = sheet.exercises
    left = room - height_of([gap, heading], width)
    if block := blocks.within(first, 1, left):
        return [gap, heading, block, *blocks.on_pages(others, 2)]
    overview = _overview(sheet, setting, width)  # what is to come, rather than half an empty page
    opening = [gap, heading, *overview] if height_of(overview, width) <= left else []
    return [*opening, PageBreak(), *blocks.on_pages(sheet.exercises, 1)]


def _opening(sheet: Sheet, setting: Setting, width: float, height: float) -> Stack:
    """Return the title and what must be known before the first exercise."""
    words, gap = sheet.words, setting.gap
    plain, bold = setting.style(), setting.style(bold=True)
    from_day = words.from_day.format(day=words.day_with_year(sheet.effective_day))
    parts: list[Flowable] = [
        paragraph(words.title, setting.style(2, bold=True)),
        Spacer(0, gap * 1.5),
    ]
    if sheet.name:
        parts.append(paragraph(sheet.name, bold))
    parts.append(paragraph(f"{sheet.plan} {from_day}.", bold))
    if sheet.telephone:
        parts.append(paragraph(f"{words.ring_us}: {sheet.telephone}", bold))
    if sheet.replaced:
        told = paragraph(sheet.replaced, bold)
        parts += [Spacer(0, gap), Stack([told], tallest=height, pad=gap * 1.5, edge=2)]
    if sheet.change_sentence:
        parts += [Spacer(0, gap), paragraph(sheet.change_sentence, plain, lead=words.changed)]
    if sheet.phone:
        block = phone_block(sheet.phone, words, setting, width - gap * 3, height)
        parts += [Spacer(0, gap * 2), Stack([block], tallest=height, pad=gap * 1.5, edge=1.2)]
    if not sheet.exercises:
        return Stack(
            [*parts, Spacer(0, gap * 2), paragraph(words.no_exercises, plain)], tallest=height
        )
    limit = [
        paragraph(
            words.pain_heading.format(limit=sheet.pain_limit), setting.style(1.25, bold=True)
        ),
        Spacer(0, gap),
        PainScale(sheet.pain_limit, setting),
        Spacer(0, gap),
        paragraph(words.pain_rule.format(limit=sheet.pain_limit), plain),
    ]
    parts += [Spacer(0, gap * 2), Stack(limit, tallest=height, pad=gap * 1.5, edge=1.2)]
    if sheet.precautions:
        rules = [
            paragraph(sheet.precautions_heading, setting.style(1.25, bold=True)),
            Spacer(0, gap),
            *(paragraph(rule, plain, lead="•") for rule in sheet.precautions),
        ]
        parts += [Spacer(0, gap * 2), Stack(rules, tallest=height, pad=gap * 1.5, edge=1.2)]
    return Stack(parts, tallest=height)


def _overview(sheet: Sheet, setting: Setting, width: float) -> list[Flowable]:
    """Return the exercises as a list: number, name, and dose at a glance."""
    bold, plain = setting.style(bold=True), setting.style()
    indent = setting.size * 2
    rows: list[Flowable] = []
    for number, exercise in enumerate(sheet.exercises, start=1):
        said = paragraph(f"{exercise.dose.glance}.", plain, lead=f"{exercise.name}.")
        row = columns([paragraph(f"{number}.", bold), said], [indent, width - indent])
        rows += [row, Spacer(0, setting.gap / 2)]
    return rows
