"""A review on paper: the two sentences, the chart, and the tables behind it.

The same figures as on the page, set with the fonts of the patient's sheet. It names the patient by
the clinic's number only.
"""

from collections.abc import Sequence
from io import BytesIO
from typing import Any

from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, Paragraph, SimpleDocTemplate, Spacer, Table

from clinic.templatetags.words import day, percent, short_day
from logs.chart import drawing
from logs.pain_page import pain_page, pain_rows_of, pain_trends
from logs.periods import Period, dose_words
from logs.review import ReviewContext
from logs.review_page import (
    UNIT_WORDS,
    dose_rows,
    obstacle_rows,
    period_tables,
    reason_rows,
    together_of,
    volume_table,
)
from logs.review_words import summary
from logs.stop_page import stops_shown
from logs.together import together
from logs.volume import VolumeRow
from plans.sheet_setting import BAND, BOLD, PLAIN, RULE, Setting, load_fonts, paragraph

SIZE = 8.5
MARGIN = 15 * mm
PERIOD_HEADS = (
    "Due",
    "Done",
    "Extra",
    "Held",
    "Unheard",
    "Heard from",
    "Above most",
    "Highest pain",
    "Dose on days heard from",
)
WIDE = ("Days", PERIOD_HEADS[-1])


def review_pdf(review: ReviewContext, *, clinic_name: str, letter: bool = False) -> bytes:
    """Return a review as a PDF."""
    load_fonts()
    out = BytesIO()
    paper = Setting(letter=letter).upright
    head = f"Review of {review.clinic_number}"
    document = SimpleDocTemplate(
        out,
        pagesize=paper,
        leftMargin=MARGIN,
        rightMargin=MARGIN,
        topMargin=MARGIN,
        bottomMargin=MARGIN + 6 * mm,
        title=head,
        author=clinic_name,
        lang="en",
        initialFontName=PLAIN,
    )
    foot = f"{head}, {day(review.window.first_day)} to {day(review.window.last_day)}"

    def below(canv: Any, page: Any) -> None:
        canv.setFont(PLAIN, 7.5)
        canv.drawString(MARGIN, MARGIN, f"{foot} · {clinic_name}")
        canv.drawRightString(paper[0] - MARGIN, MARGIN, f"page {page.page}")

    document.build(_story(review, paper[0] - 2 * MARGIN), onFirstPage=below, onLaterPages=below)
    return out.getvalue()


def _style(scale: float = 1, *, bold: bool = False) -> ParagraphStyle:
    size = SIZE * scale
    return ParagraphStyle(
        "review",
        fontName=BOLD if bold else PLAIN,
        fontSize=size,
        leading=size * 1.35,
        bulletFontName=PLAIN,
    )


def _story(review: ReviewContext, width: float) -> list[Flowable]:
    told = together_of(review)
    pain = pain_page(review)
    first, last = day(review.window.first_day), day(review.window.last_day)
    story: list[Flowable] = [
        paragraph(f"Review of {review.clinic_number}", _style(1.8, bold=True)),
        paragraph(f"{first} to {last}; told as known on {day(review.today)}.", _style()),
        Spacer(0, 6),
        *(paragraph(sentence, _style(1.2)) for sentence in summary(review)),
        Spacer(0, 8),
        drawing(together(told), width, PLAIN),
    ]
    for title, periods in period_tables(review):
        story += [
            _heading(f"By {title.lower()}"),
            _table([title, *PERIOD_HEADS], [_period_row(period) for period in periods], width),
        ]
    if review.stops_here:
        story += [
            _heading("Stop signs"),
            _table(
                ["Reported", "Sign", "Held from", "Answer"],
                [
                    [
                        short_day(stop.told.day),
                        f"{stop.tier}: {stop.sign}",
                        stop.begins or "nothing",
                        stop.answer,
                    ]
                    for stop in stops_shown(review.stops_here)
                ],
                width,
            ),
        ]
    if review.missed.sessions:
        rows = [
            [row.label, str(row.sessions), ", ".join(short_day(each) for each in row.days)]
            for row in reason_rows(review)
        ]
        rows.append(["no reason given", str(review.missed.without_reason), ""])
        story += [
            _heading("Sessions missed on days heard from"),
            _table(["Reason", "Sessions", "Days"], rows, width),
        ]
    lines, joints = dose_rows(review)
    doses = [
        [
            f"{row.name}, {row.detail}",
            f"{row.tally.heard.credited} of {row.tally.heard.prescribed}",
            percent(row.tally.percent),
            percent(row.tally.uncapped_percent),
        ]
        for row in (*lines, *joints)
    ]
    if doses:
        story += [
            _heading("Dose by line and by joint, on days heard from"),
            _table(
                ["Line or joint", "Credited of prescribed", "Percentage", "Uncapped"], doses, width
            ),
        ]
    if obstacles := obstacle_rows(review):
        told_rows = [
            [
                f"{row.name}, {row.detail}{'; no evidence for stepping up' * row.holds_back}",
                "; ".join(f"{words} {len(days)}" for words, days in row.days),
                ", ".join(
                    short_day(each) for each in sorted({d for _, days in row.days for d in days})
                ),
            ]
            for row in obstacles
        ]
        story += [
            _heading("What stood in the way of lines, as the patient says"),
            _table(["Line", "Sessions", "Days"], told_rows, width),
        ]
    story += _volume(review, width)
    story += [_heading("Pain")]
    if pain.days:
        zones = ", ".join(f"{count} {zone}" for zone, count in pain.zones)
        story.append(paragraph(f"Days by zone: {zones}.", _style()))
        if pain.limit is not None:
            above = ", ".join(map(short_day, pain.above_limit)) or "no day"
            limit = f"The plan's own limit is {pain.limit}; above the limit of its time: {above}."
            story.append(paragraph(limit, _style()))
        if pain.version:
            since = f"Since version {pain.version} began on {short_day(pain.began)}: "
            changes = ". ".join(f"{each.name} {each.change}" for each in pain.changed)
            story.append(paragraph(since + (changes or "not known"), _style()))
        if pain.effort:
            story.append(paragraph(f"Effort of a session, 0 to 10: {pain.effort}.", _style()))
        if pain.named:
            named = ", ".join(
                f"{line.name} {line.times}"
                + (f" (up to {line.highest})" if line.highest is not None else "")
                for line in pain.named
            )
            story.append(paragraph(f"Pain named with, in sessions: {named}.", _style()))
        for name, trend in pain_trends(review):
            story.append(paragraph(f"Trend, {name}: {trend}.", _style()))
        story += [
            Spacer(0, 4),
            _table(
                [
                    "Day",
                    "Before",
                    "Worst during",
                    "After",
                    "Next morning",
                    "Effort",
                    "Zone",
                    "By next morning",
                ],
                [
                    [
                        short_day(row.day),
                        *(cell or "–" for cell in row.cells),
                        row.effort or "–",
                        row.zone,
                        row.settled,
                    ]
                    for row in pain_rows_of(review)
                ],
                width,
            ),
        ]
    else:
        story.append(paragraph("No pain score was given on these days. Blank is not 0.", _style()))
    story += [
        Spacer(0, 8),
        paragraph(
            "Percentages are capped: extra sessions never make up for missed ones. Work and "
            "moments are estimates, trends indicative. The tool suggests; a named person decides.",
            _style(),
        ),
    ]
    return story


def _volume(review: ReviewContext, width: float) -> list[Flowable]:
    table = volume_table(review)
    rows = []
    for kind, lines in (("moved", table.joints), ("only loaded", table.loaded)):
        for line in lines:
            for (week, part), cell in zip(table.weeks, line.weeks, strict=True):
                if cell:
                    rows.append(
                        [
                            f"{line.name} ({kind})",
                            f"{week}{part and f', {part}'}",
                            *_cells(cell.row),
                        ]
                    )
    if not rows:
        return []
    body = review.body.body
    taken = f"height {body.stature_m:.2f} m, weight {body.body_mass_kg:g} kg"
    assumed = f"; assumed: {', '.join(review.body.assumed)}" if review.body.assumed else ""
    return [
        _heading("Volume by joint and week, done of prescribed"),
        _table(
            [
                "Joint",
                "Week",
                UNIT_WORDS["repetitions"],
                "kg × rep",
                "seconds",
                "work, J",
                "peak, N·m",
            ],
            rows,
            width,
        ),
        paragraph(f"Work and peak moment are estimated for {taken}{assumed}.", _style()),
    ]


def _cells(row: VolumeRow) -> list[str]:
    done, due = row.performed, row.prescribed

    def both(one: float | None, other: float | None, places: int) -> str:
        if one is None and other is None:
            return "–"
        return f"{one or 0:.{places}f} of {other or 0:.{places}f}"

    return [
        f"{done.repetitions} of {due.repetitions}",
        both(done.load_volume_kg or None, due.load_volume_kg or None, 1),
        f"{done.tension_s:.0f} of {due.tension_s:.0f}",
        both(done.work_j, due.work_j, 0),
        both(done.peak_moment_nm, due.peak_moment_nm, 1),
    ]


def _heading(text: str) -> Paragraph:
    style = _style(1.3, bold=True)
    style.spaceBefore, style.spaceAfter, style.keepWithNext = 10, 3, 1
    return paragraph(text, style)


def _period_row(period: Period) -> list[str]:
    sessions = period.sessions
    counts = (sessions.due, sessions.done, sessions.extra, sessions.held, sessions.unheard)
    return [
        period.name,
        *map(str, counts),
        percent(sessions.percent),
        str(period.overdone or "–"),
        "–" if period.peak is None else str(period.peak),
        dose_words(period.doses, UNIT_WORDS),
    ]


def _table(head: Sequence[str], rows: Sequence[Sequence[str]], width: float) -> Table:
    first = 2.2 if len(head) > 3 else 1.4
    shares = [first, *([1.0] * (len(head) - 1))]
    if head[-1] in WIDE:
        shares[-1] = 3.0
    unit = width / sum(shares)
    cells = [[paragraph(text, _style(bold=True)) for text in head]]
    cells += [[paragraph(text, _style()) for text in row] for row in rows]
    return Table(
        cells,
        colWidths=[unit * share for share in shares],
        repeatRows=1,
        hAlign="LEFT",
        style=[
            ("FONT", (0, 0), (-1, -1), PLAIN),
            ("BACKGROUND", (0, 0), (-1, 0), BAND),
            ("LINEBELOW", (0, 0), (-1, -1), 0.4, RULE),
            ("TOPPADDING", (0, 0), (-1, -1), 1.5),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 2),
            ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ],
    )
