"""The review's long tables as markup: rows by the hundred, for which a template takes ten times as
long as all that is counted in them.

Whatever a person may have typed, and every address, passes through ``escape``; the rest is numbers
and words of ours. The templates set the frames: captions, headings, explanations.
"""

from collections.abc import Iterable, Sequence
from html import escape
from typing import NamedTuple

from django.utils.safestring import SafeString, mark_safe

from clinic.templatetags.words import percent, short_day
from logs.missed import MissedDay
from logs.models import Why
from logs.pain_page import PainRow, pain_rows_of, pain_trends
from logs.periods import Period, dose_words
from logs.review import ReviewContext
from logs.review_page import (
    UNIT_WORDS,
    DayMark,
    DoseRow,
    VolumeCell,
    VolumeLine,
    WeekRow,
    behind,
    calendar,
    motion_lines,
    period_tables,
    volume_table,
)
from logs.tally import LineDay, percent_of

MOTIONS_NOTE = "A line that moves a joint in two motions stands under both: don’t add these up."


class Head(NamedTuple):
    """The heading of a column; ``more`` stands small below it."""

    words: str
    is_number: bool = True
    more: str = ""


class Opened(NamedTuple):
    """What a figure is made of, as a table: a title, its heads, and the rows of its body."""

    title: str
    heads: tuple[Head, ...]
    rows: SafeString
    help: str = ""


def opened(review: ReviewContext, key: str, address: str) -> Opened | None:
    """Return the table behind a figure, a day or a chart; None where there is none.

    Beside the keys of dose and volume: ``days``, ``pain``, ``by_week``, ``by_version``, and of
    volume ``weeks`` and ``motions`` are whole tables, ``day.2026-03-02`` is one day with its lines.
    ``address`` is the query that shows the page.
    """
    match key:
        case "by_week" | "by_version":
            return _periods(review, key)
        case "days":
            return Opened("each day", DAY_HEADS, day_rows(calendar(review), address))
        case "pain":
            trends = "; ".join(f"{name}: {trend}" for name, trend in pain_trends(review))
            rows = pain_rows(pain_rows_of(review), address)
            return Opened("pain by day", PAIN_HEADS, rows, f"Trends, {trends}.")
        case "weeks" | "motions":
            return _volume(review, key, address)
    if key.startswith("day."):
        return _one_day(review, key.removeprefix("day."), address)
    if found := behind(review, key):
        return Opened(found.title, LINE_HEADS, line_rows(found.days, address))
    return None


def _volume(review: ReviewContext, key: str, address: str) -> Opened:
    """Volume of every week of the window: of all joints and motions, or of the motions alone."""
    table, lines = volume_table(review), motion_lines(review)
    title, first, note = "volume by motion", "Motion", MOTIONS_NOTE
    if key == "weeks":
        title, first, note = "volume of every week", "Volume", ""
        lines = (*table.joints, *table.loaded, *lines)
    heads = (Head(first, False), *(Head(week, True, part) for week, part in table.weeks))
    return Opened(title, heads, volume_rows(lines, address), note)


def _periods(review: ReviewContext, key: str) -> Opened:
    """The window's weeks or versions, each of which opens as a review of its own."""
    tables = {f"by_{title.lower()}": (title, periods) for title, periods in period_tables(review)}
    title, periods = tables[key]
    return Opened(
        f"the chart, by {title.lower()}",
        (Head(title, False), *PERIOD_HEADS),
        period_rows(periods),
        "Each opens as a review of its own. Above its most: how many times a line was done more on "
        "a day than its plan’s most.",
    )


def _one_day(review: ReviewContext, day: str, address: str) -> Opened | None:
    """A day: what it says of itself, its sessions, and its lines."""
    for week in calendar(review):
        for mark in week.days:
            if mark and mark.day.isoformat() == day:
                lines = [line for line in review.dose.days if line.day == mark.day]
                rows = line_rows(lines, address) + day_summary(mark, len(LINE_HEADS), address)
                return Opened(f"{short_day(mark.day)}", LINE_HEADS, rows)
    return None


def _markup(parts: Iterable[str]) -> SafeString:
    return mark_safe("".join(parts))  # noqa: S308 (of parts written here, what was typed escaped)


def _day_link(iso_day: str, words: str, address: str) -> str:
    return f'<a href="?{address}&amp;behind=day.{iso_day}#behind">{words}</a>'


def calendar_rows(weeks: Sequence[WeekRow], address: str) -> SafeString:
    """The rows of the calendar, a week each."""
    query = escape(address)

    def cell(mark: DayMark | None) -> str:
        if mark is None:
            return "<td></td>"
        kind, word, day = mark.kind, escape(mark.word), mark.day
        extra = f" <b>{mark.extra}</b>" if mark.extra else ""
        says = f"{short_day(day)}: {word}"
        return (
            f'<td><a class="day {kind}" href="?{query}&amp;behind=day.{day.isoformat()}#behind" '
            f'title="{says}"><span aria-hidden="true" class="date">{day.day}</span>'
            '<svg class="shape" width="16" height="16" aria-hidden="true" focusable="false">'
            f'<use href="#shape-{kind}"/></svg><span aria-hidden="true" class="count">'
            f'{mark.counted}{extra}</span><span class="visually-hidden">{says}</span></a></td>'
        )

    return _markup(
        f'<tr><th scope="row"><span class="visually-hidden">Week of </span>{row.monday.day} '
        f"{row.monday:%b}</th>{''.join(map(cell, row.days))}"
        f'<td class="number">{row.adherence.done}/{row.adherence.due}</td></tr>'
        for row in weeks
    )


DAY_HEADS = (
    Head("Day", False),
    *map(Head, ("Version", "Due", "Done", "In part", "Extra")),
    Head("Word", False),
    Head("Sessions", False),
)


def day_rows(weeks: Sequence[WeekRow], address: str) -> SafeString:
    """A row for each day, the latest first."""
    query = escape(address)
    marks = [mark for week in weeks for mark in reversed(week.days) if mark]
    return _markup(
        f'<tr><th scope="row">{_day_link(mark.day.isoformat(), short_day(mark.day), query)}</th>'
        f"{_number(mark.tally.version)}{_number(mark.tally.due)}{_number(mark.tally.done)}"
        f"{_number(mark.tally.part)}{_number(mark.tally.extra)}<td>{_word(mark)}</td>"
        f"<td>{_session_links(mark, query)}</td></tr>"
        for mark in marks
    )


def day_summary(mark: DayMark, columns: int, address: str) -> SafeString:
    """The last row of a day's own table: what the calendar says of it, and its sessions."""
    return _markup(
        (
            f'<tr><td colspan="{columns}">{_word(mark)}. '
            f"Sessions: {_session_links(mark, escape(address))}</td></tr>",
        )
    )


def _word(mark: DayMark) -> str:
    return f"{escape(mark.word)}; {'heard' if mark.tally.is_heard else 'unheard'}"


def _session_links(mark: DayMark, query: str) -> str:
    return (
        " ".join(
            f'<a hx-boost="false" href="?{query}&amp;sessions=all#entry-{entry}">{place}</a>'
            for place, entry in enumerate(mark.tally.entries, start=1)
        )
        or "–"
    )


PERIOD_HEADS = (
    *map(Head, ("Due", "Done", "Extra", "Held", "Unheard", "On days heard from")),
    Head("Dose on days heard from", False),
    *map(Head, ("Above its most", "Highest pain")),
)


def period_rows(periods: Iterable[Period]) -> SafeString:
    """A row for each week or version."""

    def row(period: Period) -> str:
        sessions = period.sessions
        first, last = period.first_day.isoformat(), period.last_day.isoformat()
        return (
            f'<tr><th scope="row"><a hx-boost="false" href="?first_day={first}&amp;last_day={last}'
            f'">{escape(period.name)}</a></th>{_number(sessions.due)}{_number(sessions.done)}'
            f"{_number(sessions.extra)}{_number(sessions.held)}{_number(sessions.unheard)}"
            f"{_number(percent(sessions.percent))}"
            f"<td>{escape(dose_words(period.doses, UNIT_WORDS))}</td>"
            f"{_number(period.overdone or None)}{_number(period.peak)}</tr>"
        )

    return _markup(map(row, periods))


LINE_HEADS = (
    Head("Day", False),
    Head("Line", False),
    *map(Head, ("Version", "Prescribed", "Credited", "Done")),
    Head("Word", False),
)


def line_rows(days: Iterable[LineDay], address: str) -> SafeString:
    """A row for each line on each day."""
    query = escape(address)

    def row(line_day: LineDay) -> str:
        day = _day_link(line_day.day.isoformat(), short_day(line_day.day), query)
        done = f"{line_day.performed}"
        if line_day.recorded != line_day.performed:
            done += f' <span class="quiet">({line_day.recorded} counted, not all confirmed)</span>'
        word = "heard" if line_day.is_heard else "unheard"
        if line_day.is_overdone:
            word += ' <span class="flag warn">above its most</span>'
        return (
            f'<tr><th scope="row">{day}</th><td>{escape(line_day.line.name)}</td>'
            f"{_number(line_day.version)}{_number(line_day.prescribed)}"
            f'{_number(line_day.credited)}<td class="number">{done}</td><td>{word}</td></tr>'
        )

    return _markup(map(row, days))


PAIN_HEADS = (
    Head("Day", False),
    *map(Head, ("Before", "Worst during", "After", "Next morning", "Effort")),
    Head("Zone", False),
    Head("By the next morning", False),
)


def pain_rows(days: Iterable[PainRow], address: str) -> SafeString:
    """A row for each day that has a score."""
    query = escape(address)

    def row(day: PainRow) -> str:
        zone = f'<span class="flag bad">{day.zone}</span>' if day.is_high else day.zone or "–"
        return (
            f'<tr><th scope="row">{_day_link(day.day.isoformat(), short_day(day.day), query)}</th>'
            f"{''.join(map(_number, (*day.cells, day.effort)))}<td>{zone}</td>"
            f"<td>{day.settled}</td></tr>"
        )

    return _markup(map(row, days))


def dose_rows_of(rows: Iterable[DoseRow], address: str) -> SafeString:
    """A row for each line or joint of dose adherence."""
    query = escape(address)

    def row(dose: DoseRow) -> str:
        tally, heard = dose.tally, dose.tally.heard
        credited, prescribed = heard.credited, heard.prescribed
        flag = ""
        if dose.overdone:
            days = "day" if dose.overdone == 1 else "days"
            flag = f' <span class="flag warn">above its most on {dose.overdone} {days}</span>'
        between = "–"
        if tally.prescribed:
            between = f"{percent(tally.lower_percent)} and {percent(tally.upper_percent)}"
        return (
            f'<tr><th scope="row">{escape(dose.name)} <span class="quiet small">'
            f"{escape(dose.detail)}</span>{flag}</th>"
            f'<td class="number">{credited} of {prescribed}</td>'
            f'<td class="number"><b>{percent(percent_of(credited, prescribed))}</b></td>'
            f'<td class="number">{between}</td>'
            f'<td class="number">{percent(percent_of(heard.performed, prescribed))}</td>'
            f"<td>{_days_link(dose.key, query)}</td></tr>"
        )

    return _markup(map(row, rows))


def _days_link(key: str, query: str) -> str:
    return f'<a href="?{query}&amp;behind={escape(key)}#behind">Days</a>'


def volume_rows(lines: Iterable[VolumeLine], address: str) -> SafeString:
    """A row for each joint or motion, with a cell for each week."""
    query = escape(address)
    return _markup(
        f'<tr><th scope="row">{escape(line.name)}<br><span class="small">'
        f"{_days_link(line.key, query)}</span></th>{''.join(map(_volume_cell, line.weeks))}</tr>"
        for line in lines
    )


def _volume_cell(cell: VolumeCell | None) -> str:
    if cell is None:
        return '<td class="number"><span class="quiet">–</span></td>'
    asked, done = cell.row.prescribed, cell.row.performed
    said = f'<td class="number"><b>{done.repetitions}</b> of {asked.repetitions}'
    if cell.change:
        said += f'<br><span class="small change">{cell.change}</span>'
    if done.load_volume_g or asked.load_volume_g:
        said += (
            f'<br><span class="small">{round(done.load_volume_kg, 1):g} of '
            f"{round(asked.load_volume_kg, 1):g} kg×rep</span>"
        )
    for what, amounts, unit in (
        ("", _done_of(done.tension_s, asked.tension_s), "s"),
        ("", _done_of(done.work_j, asked.work_j), "J"),
        ("peak ", _done_of(done.peak_moment_nm, asked.peak_moment_nm, 1, nothing="–"), "N·m"),
    ):
        if amounts:
            said += f'<br><span class="small quiet">{what}{amounts} {unit}</span>'
    return f"{said}</td>"


def _done_of(done: float | None, asked: float | None, decimals: int = 0, nothing: str = "0") -> str:
    """Done of what was asked for; empty where neither comes to anything.

    >>> _done_of(0, 12.3), _done_of(0.2, None), _done_of(0.04, 1.26, 1, nothing="–")
    ('0 of 12', '', '– of 1.3')
    """
    shown = [
        f"{amount:.{decimals}f}" if amount and round(amount, decimals) else nothing
        for amount in (done, asked)
    ]
    return "" if shown == [nothing, nothing] else " of ".join(shown)


def reason_items(days: Iterable[MissedDay], action: str, token: str) -> SafeString:
    """An item for each day with sessions missed, the latest first: a form to say why."""
    to, whys = escape(action), [("", "not said"), *((why, escape(why.label)) for why in Why)]
    options = {
        chosen: "".join(
            f'<option value="{why}"{" selected" if why == chosen else ""}>{label}</option>'
            for why, label in whys
        )
        for chosen, _ in whys
    }

    def item(missed: MissedDay) -> str:
        name = f"why-missed-{missed.day.isoformat()}"
        return (
            f'<li><form method="post" action="{to}" hx-post="{to}" hx-trigger="change, submit">'
            f'<input type="hidden" name="csrfmiddlewaretoken" value="{escape(token)}">'
            f'<input type="hidden" name="day" value="{missed.day.isoformat()}">'
            f'<label for="{name}">{short_day(missed.day)}: {missed.sessions} missed</label>'
            f'<select id="{name}" name="reason">{options[missed.reason]}</select>'
            '<button class="second tiny">Keep</button></form></li>'
        )

    return _markup(map(item, sorted(days, reverse=True, key=lambda missed: missed.day)))


def _number(value: object) -> str:
    shown = "–" if value is None or value == "" else value
    return f'<td class="number">{shown}</td>'
