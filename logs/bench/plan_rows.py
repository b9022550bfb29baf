"""Rows about making a plan: its check against precautions, the builder's search, the sheet."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import date
from io import BytesIO
from time import process_time
from typing import Any

from django.conf import settings
from django.db import transaction
from django.urls import reverse
from django.utils import timezone
from reportlab.platypus import Flowable, PageBreak, SimpleDocTemplate, Spacer, Table

from logs.bench.clinic import BenchClinic
from logs.bench.measuring import Row, in_turns, ratio
from logs.bench.review_rows import signed_in
from patients.precaution_forms import proposed_precaution
from patients.precaution_protocols import Proposed, read_protocols
from plans.actions import usual_line
from plans.models import EVERY_DAY, Line, PlanVersion
from plans.queries import current_revisions, exercise_of, lines_of
from plans.safety_queries import Safety, safety_of
from plans.sheet import Sheet, sheet_pdf
from plans.sheet_exercise import FIGURE_SHARE, SheetExercise, SheetFigure
from plans.sheet_page import sheet_of
from plans.sheet_setting import MARGIN, Setting, columns, load_fonts, paragraph

LINES, PRECAUTIONS, CHECK_MS = 20, 10, 20
ON_A_SHEET = 10


def plan_rows(clinic: BenchClinic, rounds: int) -> Iterator[Row]:
    """The rows, with plans and precautions that are taken back afterwards."""
    yield _search(clinic, rounds)
    with _plan(clinic, LINES) as version:
        _limit(clinic)
        yield _check(version, clinic.today, rounds)
    with _plan(clinic, ON_A_SHEET) as version:
        yield _sheet(clinic, version, rounds)


def _search(clinic: BenchClinic, rounds: int) -> Row:
    client, patient = signed_in(clinic), clinic.patient.pk
    address, bare = reverse("draft", args=[patient]), reverse("bare_look", args=[patient])
    asked = {"HX-Request": "true", "HX-Target": "found"}
    answer = client.get(address, {"q": "elbow"}, headers=asked)
    if b'class="hits"' not in answer.content:
        raise LookupError(f"{address} found nothing: nothing to measure")
    return ratio(
        "exercises found for a patient as one types, each with where to start ÷ empty patient page",
        lambda: client.get(address, {"q": "elbow"}, headers=asked),
        lambda: client.get(bare),
        limit=3,
        rounds=rounds,
    )


@contextmanager
def _plan(clinic: BenchClinic, lines: int) -> Iterator[PlanVersion]:
    """A version of so many lines with poses, each another exercise; gone afterwards."""
    with transaction.atomic():
        version = PlanVersion.objects.create(
            patient=clinic.patient, number=10_000, made_at=timezone.now()
        )
        drawn = [row for row in current_revisions() if exercise_of(row).moves]
        side = clinic.patient.affected_side
        for place, revision in enumerate(drawn[:lines]):
            highest = exercise_of(revision).steps[-1].effort
            line = usual_line(revision=revision, effort=highest, side=side)
            line.version, line.position, line.key = version, place, f"bench-{place}"
            line.weekdays = EVERY_DAY
            line.save()
        if Line.objects.filter(version=version).count() != lines:
            raise LookupError(f"there are no {lines} exercises with poses")
        version.state, version.effective_day = PlanVersion.State.ISSUED, clinic.today
        version.issued_at = timezone.now()
        version.save()
        yield version
        transaction.set_rollback(True)


def _limit(clinic: BenchClinic) -> None:
    """Give the patient hard precautions, one of each kind that the protocols have, then others."""
    protocols, _ = read_protocols(settings.BASE_DIR / "fixtures" / "protocols")
    first: dict[str, Proposed] = {}
    others: list[Proposed] = []
    for protocol in protocols:
        for proposed in protocol.precautions:
            if proposed.limit.kind in first:
                others.append(proposed)
            first.setdefault(proposed.limit.kind, proposed)
    wanting = PRECAUTIONS - clinic.patient.precautions.count()  # the simulation may give some
    episode = clinic.patient.episodes.latest("pk")
    for proposed in [*first.values(), *others][:wanting]:
        row = proposed_precaution(proposed, episode=episode, side="both")
        row.is_hard, row.from_day, row.from_week, row.until_week = True, clinic.today, None, None
        row.set_by, row.recorded_at = "bench", timezone.now()
        row.save()


def _check(version: PlanVersion, today: date, rounds: int) -> Row:
    def check() -> Safety:
        return safety_of(version, lines_of(version), today)

    safety = check()
    if len(safety.precautions) != PRECAUTIONS or not safety.by_line:
        raise LookupError("no ten precautions that find anything: nothing to measure")
    (taken,) = in_turns(check, rounds=rounds, clock=process_time)
    found = sum(map(len, safety.by_line.values()))
    return Row(
        f"check of {LINES} lines against {PRECAUTIONS} precautions, read from the database "
        f"÷ {CHECK_MS} ms, in the processor's time",
        taken / CHECK_MS,
        1,
        f"{taken:.1f} ms, {found} findings",
    )


def _sheet(clinic: BenchClinic, version: PlanVersion, rounds: int) -> Row:
    """Our sheet from the database, against reportlab drawing the same words and pictures.

    The other side has its drawings ready-made and chooses nothing: each text is one paragraph,
    each page broken where ours is broken, the diary one table a page with as many cells.
    """
    setting = Setting()
    patient = clinic.patient

    def ours() -> bytes:
        return sheet_pdf(sheet_of(patient=patient, version=version, today=clinic.today), setting)

    made = sheet_of(patient=patient, version=version, today=clinic.today)
    pages = (_pages(ours()), _pages(plain_sheet(made, setting)))
    row = ratio(
        f"sheet of {ON_A_SHEET} exercises with figures ÷ its words and ready-made drawings set "
        "plainly by reportlab",
        ours,
        lambda: plain_sheet(made, setting),
        limit=3,
        rounds=rounds,
    )
    return replace(row, note=f"{row.note}; {pages[0]} and {pages[1]} pages")


def _pages(pdf: bytes) -> int:
    return pdf.count(b"/Type /Page\n") + pdf.count(b"/Type /Page ")


def plain_sheet(sheet: Sheet, setting: Setting) -> bytes:
    """Return a sheet's words and drawings as reportlab sets them without any layout of ours."""
    load_fonts()
    out = BytesIO()
    width = setting.upright[0] - 2 * MARGIN
    plain, words = setting.style(), sheet.words
    story: list[Flowable] = [
        paragraph(text, plain)
        for text in (
            words.title,
            sheet.plan,
            sheet.telephone,
            words.pain_heading.format(limit=sheet.pain_limit),
            words.pain_rule.format(limit=sheet.pain_limit),
            words.exercises_heading,
            words.in_order,
        )
    ]
    for number, exercise in enumerate(sheet.exercises):
        story += [PageBreak()] * (number % 2 == 0) + _plain_exercise(exercise, setting, width)
    story.append(PageBreak())
    for tier in sheet.tiers:
        said = (tier.words.heading, tier.telephone, tier.words.do, *tier.words.signs)
        story += [paragraph(text, plain) for text in said]
    for start in range(0, len(sheet.diary), 7):
        story += [PageBreak(), _plain_diary(sheet, start, setting)]
    margins = dict.fromkeys(("leftMargin", "rightMargin", "topMargin", "bottomMargin"), MARGIN)
    SimpleDocTemplate(out, pagesize=setting.upright, **margins).build(story)
    return out.getvalue()


def _plain_exercise(exercise: SheetExercise, setting: Setting, width: float) -> list[Flowable]:
    plain = setting.style()
    left = width * (1 - FIGURE_SHARE)
    dose = " ".join((exercise.dose.glance, *exercise.dose.sentences, exercise.dose.often))
    about = (exercise.side, exercise.position, exercise.goal, exercise.things, exercise.helper)
    told = [paragraph(text, plain) for text in (*exercise.do, " ".join(exercise.cautions))]
    parts: list[Any] = [
        paragraph(exercise.name, setting.style(1.25, bold=True)),
        paragraph(" ".join(about), plain),
        paragraph(dose, plain),
        Spacer(0, setting.gap),
    ]
    if exercise.figure is None:
        return [*parts, *told]
    figure = SheetFigure(exercise.figure, width * FIGURE_SHARE, setting.size * 13)
    return [*parts, columns([told, figure], [left, width - left])]


def _plain_diary(sheet: Sheet, start: int, setting: Setting) -> Table:
    rows = [
        [sheet.words.short_day(day.day), *("" for _ in sheet.exercises), "", "", "", ""]
        for day in sheet.diary[start : start + 7]
        for _ in day.occasions or (None,)
    ]
    head = ["", *map(str, range(1, len(sheet.exercises) + 1)), "", "", "", ""]
    style = [("GRID", (0, 0), (-1, -1), 0.6, "black"), ("FONT", (0, 0), (-1, -1), "DejaVuSans")]
    return Table([head, *rows], style=style, rowHeights=setting.size * 1.75)
