"""The diary grid of a sheet: a page a week, a row an occasion, quick to fill and to type in.

Pure. An exercise due on an occasion has a box; one that is not has none. A page is turned across
when its exercises need the room; a week goes on over pages before a row gets too low to write in.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from reportlab.lib.colors import black, white
from reportlab.platypus import Flowable, Spacer

from plans.sheet_language import SheetWords
from plans.sheet_setting import (
    BAND,
    BOLD,
    PLAIN,
    RULE,
    Setting,
    Stack,
    columns,
    draw_disc,
    height_of,
    paragraph,
    text_width,
)

DAYS_A_PAGE = 7


@dataclass(frozen=True)
class DiaryDay:
    """A day of the diary: for each occasion the exercises due, by number from 1.

    ``is_paused`` tells a pause from a day on which nothing is due; ``first`` is the number of the
    first occasion here, where a page has room for a part of a day only.
    """

    day: date
    occasions: tuple[frozenset[int], ...]
    is_paused: bool = False
    first: int = 1

    @property
    def rows(self) -> int:
        """How many rows it takes."""
        return max(1, len(self.occasions))


@dataclass(frozen=True)
class DiaryPage:
    """One page's content, and whether the page lies across."""

    parts: tuple[Flowable, ...]
    is_across: bool


@dataclass(frozen=True)
class _Shape:
    """The least widths and heights of a grid, in points; ``pain`` has its four columns.

    ``more`` are the columns for how hard it was and for why not, where there is room for them.
    """

    day: float
    session: float
    box: float
    pain: tuple[float, ...]
    row: float
    head: float
    more: tuple[float, ...] = ()

    @classmethod
    def of(cls, setting: Setting, words: SheetWords, *, with_sessions: bool) -> "_Shape":
        """Return what the size of type asks for."""
        size, style = setting.size, setting.style()
        widest = [max(text_width(word, style) for word in label) for label in _labels(words)]
        return cls(
            day=text_width("Wed 28 Sep", setting.style(bold=True)) + size * 0.8,
            session=size * 2.2 if with_sessions else 0,
            box=size * 1.6,
            pain=tuple(max(size * 2.8, width + size * 0.5) for width in widest),
            row=size * 1.75,
            head=size * 4.6,
        )

    def room(self, width: float) -> int:
        """How many exercises fit beside the rest."""
        return int((width - self.day - self.session - sum(self.pain) - sum(self.more)) // self.box)

    def with_more(self, setting: Setting, words: SheetWords, width: float, count: int) -> "_Shape":
        """Return it with the two further columns, if so many exercises still fit beside them."""
        style = setting.style()
        widest = [max(text_width(word, style) for word in label) for label in _more(words)]
        least = (setting.size * 2.8, setting.size * 5)
        wide = tuple(
            max(low, width_of + setting.size * 0.5)
            for low, width_of in zip(least, widest, strict=True)
        )
        shape = replace(self, more=wide)
        # The gaps before the columns of pain and before these take room as well.
        return shape if shape.room(width - 2 * setting.gap) >= count else self


def _labels(words: SheetWords) -> list[list[str]]:
    """Return what stands over the columns of pain, word by word."""
    labels = (words.diary_before, words.diary_worst, words.diary_after, words.diary_next_morning)
    return [label.split() for label in labels]


def _more(words: SheetWords) -> list[list[str]]:
    """Return what stands over the two further columns, word by word."""
    return [label.split() for label in (words.diary_effort, words.diary_why)]


def diary_pages(
    days: Sequence[DiaryDay],
    *,
    words: SheetWords,
    setting: Setting,
    names: Sequence[str],
    upright: tuple[float, float],
    across: tuple[float, float],
) -> list[DiaryPage]:
    """Return the diary's pages; sizes are what a page leaves for its content."""
    with_sessions = any(len(day.occasions) > 1 for day in days)
    shape = _Shape.of(setting, words, with_sessions=with_sessions)
    is_across = shape.room(upright[0]) < len(names)
    width, height = across if is_across else upright
    shape = shape.with_more(setting, words, width, len(names))
    pages: list[DiaryPage] = []
    for start in range(0, len(days), DAYS_A_PAGE):
        week = list(days[start : start + DAYS_A_PAGE])
        for numbers, columns_of in _groups(len(names), shape, width):
            legend = [names[number - 1] for number in numbers]
            pages += [
                DiaryPage(parts, is_across)
                for parts in _fitting(
                    week, numbers, legend, words, setting, columns_of, (width, height)
                )
            ]
    return pages


def _groups(count: int, shape: _Shape, width: float) -> list[tuple[range, _Shape]]:
    """Return which exercises stand on one page, the numbers from 1; pain is asked on the first."""
    groups = []
    first = 1
    while first <= count:
        end = min(first + max(1, shape.room(width)), count + 1)
        groups.append((range(first, end), shape))
        first, shape = end, replace(shape, pain=(), more=())
    return groups


def _fitting(
    days: list[DiaryDay],
    numbers: range,
    legend: Sequence[str],
    words: SheetWords,
    setting: Setting,
    shape: _Shape,
    page: tuple[float, float],
) -> list[tuple[Flowable, ...]]:
    """Return pages for some days: one if it can hold them, if need be without the list of names."""
    width, height = page
    grid_height = shape.head + shape.row * sum(day.rows for day in days) + 2
    for listed in (legend, ()):
        opening = _opening(days, numbers, listed, words, setting, width, with_more=bool(shape.more))
        if height_of(opening, width) + grid_height <= height:
            break
    else:
        halves = _halves(days)
        if halves:
            return [
                parts
                for half in halves
                for parts in _fitting(half, numbers, legend, words, setting, shape, page)
            ]
    return [(*opening, _Grid(days, numbers, words, setting, shape), _Notes(words, setting))]


def _halves(days: list[DiaryDay]) -> list[list[DiaryDay]]:
    """Return the days in two parts, a single day by its occasions; nothing for a single row."""
    middle = (len(days) + 1) // 2
    if len(days) > 1:
        return [days[:middle], days[middle:]]
    [day] = days
    middle = (len(day.occasions) + 1) // 2
    if middle == len(day.occasions):
        return []
    return [
        [replace(day, occasions=day.occasions[:middle])],
        [replace(day, occasions=day.occasions[middle:], first=day.first + middle)],
    ]


def _opening(
    days: Sequence[DiaryDay],
    numbers: range,
    legend: Sequence[str],
    words: SheetWords,
    setting: Setting,
    width: float,
    *,
    with_more: bool,
) -> list[Flowable]:
    """Return what stands above a grid: heading, how to fill it in, and the names of the numbers."""
    span = words.short_day(days[0].day)
    if len(days) > 1:
        span = words.diary_span.format(first=span, last=words.short_day(days[-1].day))
    title = f"{words.diary_heading}: {span}"
    parts: list[Flowable] = [
        Stack(
            [paragraph(title, setting.style(1.25, bold=True))],
            tallest=float("inf"),
            bookmark=title,
        ),
        Spacer(0, setting.gap),
        paragraph(
            f"{words.diary_how} {words.diary_how_more}" if with_more else words.diary_how,
            setting.style(),
        ),
        Spacer(0, setting.gap),
    ]
    if legend:
        half = (width - setting.gap * 2) / 2
        middle = (len(legend) + 1) // 2
        lists = [
            _listed(legend[part], numbers[part], setting, half)
            for part in (slice(0, middle), slice(middle, None))
        ]
        parts += [columns(lists, [half + setting.gap * 2, half]), Spacer(0, setting.gap)]
    return parts


def _listed(
    legend: Sequence[str], numbers: Sequence[int], setting: Setting, width: float
) -> list[Flowable]:
    """Return a column of the list that says which number is which exercise."""
    number = setting.size * 1.8
    return [
        columns(
            [paragraph(str(n), setting.style(bold=True)), paragraph(text, setting.style())],
            [number, width - number],
        )
        for n, text in zip(numbers, legend, strict=True)
    ]


class _Notes(Flowable):  # type: ignore[misc]  # reportlab has no types
    """Lines to write on, where a page has room left for them."""

    def __init__(self, words: SheetWords, setting: Setting) -> None:
        super().__init__()
        self.words = words
        self.setting = setting

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        """Take what is left, up to six lines; nothing where that is too little."""
        line = self.setting.size * 2
        self.lines = min(6, int((height - 1) // line) - 1)
        self.width = width
        self.height = line * (self.lines + 1) if self.lines > 1 else 0
        return self.width, self.height

    def draw(self) -> None:
        """Draw the heading and the lines."""
        if not self.height:
            return
        canv, size = self.canv, self.setting.size
        canv.setFillColor(black)
        canv.setFont(BOLD, size)
        canv.drawString(0, self.height - size * 2, self.words.diary_notes)
        canv.setStrokeColor(RULE)
        canv.setLineWidth(0.8)
        for n in range(self.lines):
            canv.line(0, n * size * 2 + 1, self.width, n * size * 2 + 1)


class _Grid(Flowable):  # type: ignore[misc]  # reportlab has no types
    """Days down, exercises and pain across; a day is never split over pages."""

    def __init__(
        self,
        days: Sequence[DiaryDay],
        numbers: range,
        words: SheetWords,
        setting: Setting,
        shape: _Shape,
    ) -> None:
        super().__init__()
        self.days = days
        self.numbers = numbers
        self.words = words
        self.setting = setting
        self.shape = shape

    @property
    def rows(self) -> int:
        """How many rows there are."""
        return sum(day.rows for day in self.days)

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        """Take the whole width, and rows as high as the page allows."""
        shape, count = self.shape, len(self.numbers)
        room = width - shape.day - shape.session - self.setting.gap
        if shape.more:
            room -= sum(shape.more) + self.setting.gap
        self.box = min((room - sum(shape.pain)) / count, self.setting.size * 3)
        spare = (room - sum(shape.pain) - self.box * count) / max(1, len(shape.pain))
        self.pain = [column + spare for column in shape.pain]
        row = (height - shape.head - 2) / self.rows
        self.row = max(min(shape.row * 1.6, row), shape.row)
        self.width = width
        self.height = shape.head + self.rows * self.row
        return self.width, self.height

    def draw(self) -> None:
        """Draw the head, then the days from the top."""
        self._draw_head()
        top = self.height - self.shape.head
        for place, day in enumerate(self.days):
            height = day.rows * self.row
            self._draw_day(day, top, height, shaded=place % 2 == 0)
            top -= height
        self._line(0, self.right, 1.2)

    @property
    def boxes_at(self) -> float:
        """Where the exercises' columns begin."""
        return self.shape.day + self.shape.session

    @property
    def pain_at(self) -> float:
        """Where the columns of pain begin."""
        return self.boxes_at + self.box * len(self.numbers) + self.setting.gap

    def pain_left(self, column: int) -> float:
        """Where a column of pain begins."""
        return self.pain_at + sum(self.pain[:column])

    @property
    def right(self) -> float:
        """Where the last column ends."""
        return self.more_left(len(self.shape.more))

    def more_left(self, column: int) -> float:
        """Where a further column begins."""
        gap = self.setting.gap if self.shape.more else 0
        return self.pain_left(len(self.pain)) + gap + sum(self.shape.more[:column])

    def _line(self, y: float, right: float, width: float) -> None:
        self.canv.setStrokeColor(black)
        self.canv.setLineWidth(width)
        self.canv.line(0, y, right, y)

    def _draw_head(self) -> None:
        canv, size, words = self.canv, self.setting.size, self.words
        bottom = self.height - self.shape.head
        top = self.height - size
        canv.setFillColor(black)
        canv.setFont(BOLD, size)
        middle = self.boxes_at + self.box * len(self.numbers) / 2
        canv.drawCentredString(middle, top, words.diary_done)
        if self.pain:
            pain_end = self.pain_left(len(self.pain))
            canv.drawCentredString((self.pain_at + pain_end) / 2, top, words.diary_pain)
        for n, number in enumerate(self.numbers):
            x = self.boxes_at + (n + 0.5) * self.box
            if self.box >= size * 2:
                draw_disc(canv, x, bottom + size * 1.3, str(number), size)
            else:
                canv.drawCentredString(x, bottom + size * 0.6, str(number))
        canv.setFont(PLAIN, size)
        for n, label in enumerate(_labels(words)[: len(self.pain)]):
            self._draw_label(self.pain_left(n) + self.pain[n] / 2, bottom, label)
        for n, label in enumerate(_more(words)[: len(self.shape.more)]):
            self._draw_label(self.more_left(n) + self.shape.more[n] / 2, bottom, label)

    def _draw_label(self, x: float, bottom: float, label: Sequence[str]) -> None:
        size = self.setting.size
        for line, word in enumerate(reversed(label)):
            self.canv.drawCentredString(x, bottom + size * (0.6 + 1.2 * line), word)

    def _draw_day(self, day: DiaryDay, top: float, height: float, *, shaded: bool) -> None:
        canv, size = self.canv, self.setting.size
        if shaded:
            canv.setFillColor(BAND)
            canv.rect(0, top - height, self.right, height, fill=1, stroke=0)
        self._line(top, self.right, 1.2)
        canv.setFillColor(black)
        canv.setFont(BOLD, size)
        canv.drawString(size * 0.3, top - self.row / 2 - size * 0.36, self.words.short_day(day.day))
        if not day.occasions:
            canv.setFont(PLAIN, size)
            said = self.words.diary_paused if day.is_paused else self.words.diary_nothing
            canv.drawString(self.boxes_at, top - self.row / 2 - size * 0.36, said)
            return
        for number, due in enumerate(day.occasions, start=day.first):
            row = number - day.first + 1
            self._draw_occasion(number, due, top - row * self.row)
        if self.pain:
            self._cell(len(self.pain) - 1, top - height, height)
        if self.shape.more:
            self._box(self.more_left(1), self.shape.more[1], top - height, height)

    def _draw_occasion(self, number: int, due: frozenset[int], bottom: float) -> None:
        canv, size = self.canv, self.setting.size
        if self.shape.session:
            canv.setFillColor(black)
            canv.setFont(PLAIN, size)
            middle = self.shape.day + self.shape.session / 2
            canv.drawCentredString(
                middle, bottom + self.row / 2 - size * 0.36, self.words.session(number)
            )
        side = min(self.box, self.row) - size * 0.4
        for n, exercise in enumerate(self.numbers):
            if exercise in due:
                x = self.boxes_at + (n + 0.5) * self.box - side / 2
                canv.setFillColor(white)
                canv.setStrokeColor(black)
                canv.setLineWidth(1)
                canv.rect(x, bottom + (self.row - side) / 2, side, side, fill=1)
        for n in range(len(self.pain) - 1):
            self._cell(n, bottom, self.row)
        if self.shape.more:
            self._box(self.more_left(0), self.shape.more[0], bottom, self.row)

    def _cell(self, column: int, bottom: float, height: float) -> None:
        self._box(self.pain_left(column), self.pain[column], bottom, height)

    def _box(self, left: float, width: float, bottom: float, height: float) -> None:
        self.canv.setFillColor(white)
        self.canv.setStrokeColor(RULE)
        self.canv.setLineWidth(0.8)
        self.canv.rect(left, bottom, width, height, fill=1)
