"""Print one patient's review over a window of days, with the days behind every figure."""

import json
from argparse import ArgumentParser
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from clinic.checks import missing_migrations
from clinic.http import today_in
from clinic.queries import clinic_profile
from clinic.templatetags.words import percent
from logs.pain_words import change_words, trend_words
from logs.review import ReviewContext, review_of
from logs.review_json import review_json
from logs.review_pdf import review_pdf
from logs.review_words import summary
from logs.stop_page import stops_shown
from logs.tally import DoseTally
from logs.volume import Amounts
from patients.queries import patient_by_number, zone_of
from plans.schedule import Window


class Command(BaseCommand):
    """Review a patient, for people or (with --json) for other programs."""

    help = (
        "Print a patient's adherence, volume and pain over a window of days. With --json the form "
        "is that of fixtures/review.schema.json."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("number", metavar="NUMBER", help="the patient's clinic number")
        for name, dest in (("--from", "first_day"), ("--to", "last_day")):
            parser.add_argument(
                name, dest=dest, type=date.fromisoformat, metavar="DAY", required=True
            )
        parser.add_argument(
            "--today",
            type=date.fromisoformat,
            metavar="DAY",
            help="take this day for today (default: today in the patient's place)",
        )
        parser.add_argument("--pdf", type=Path, metavar="FILE", help="write a PDF file as well")
        parser.add_argument("--json", action="store_true", help="write JSON")

    def handle(self, *args: Any, **options: Any) -> None:
        if missing_migrations():
            raise CommandError("The database isn't set up. Run: uv run manage.py setup")
        patient = patient_by_number(options["number"])
        if patient is None:
            raise CommandError(f"No patient here has the number {options['number']}.")
        try:
            window = Window(options["first_day"], options["last_day"])
        except ValueError as error:
            raise CommandError(f"--to is before --from: {error}.") from error
        today = options["today"] or today_in(zone_of(patient))
        review = review_of(patient, window, today)
        if options["pdf"]:
            try:
                options["pdf"].write_bytes(review_pdf(review, clinic_name=clinic_profile().name))
            except OSError as error:
                raise CommandError(f"{options['pdf']} can't be written: {error}") from error
        if options["json"]:
            self.stdout.write(json.dumps(review_json(review), indent=2, ensure_ascii=False))
        else:
            self.stdout.write("\n".join(_text(review)))


def _text(review: ReviewContext) -> Iterator[str]:
    yield f"{review.clinic_number}, {review.window.first_day} to {review.window.last_day}"
    yield from summary(review)
    yield ""
    for stop in stops_shown(review.stops_here):
        begins = f", held from {stop.begins}" if stop.begins else ""
        yield f"stop sign on {stop.told.day}{begins}, {stop.tier.lower()}: {stop.sign}"
        yield f"  {stop.answer}"
    yield "day          due  done  extra  held  word"
    for day in review.sessions.days:
        word = "heard" if day.is_heard else "unheard"
        word = "paused" if review.is_paused(day.day) else word
        yield f"{day.day}  {day.due:4}  {day.done:4}  {day.extra:5}  {day.held:4}  {word}"
    yield ""
    yield "dose adherence (credited of prescribed over all days; percentage over heard days)"
    for (key, unit), tally in review.dose.by_line().items():
        yield _dose(f"{key}, {unit}", tally)
    for (joint, unit), tally in review.dose.by_joint().items():
        yield _dose(f"{joint.label}, {unit}", tally)
    yield ""
    yield (
        "volume (performed of prescribed: repetitions; kg x repetitions; seconds; estimated work "
        "in J and peak moment in N·m)"
    )
    for row in review.volume.rows:
        what = row.motion or f"{row.joint.value} (loaded, not moved)"
        done, due = row.performed, row.prescribed
        yield (
            f"  {row.week} {row.side:5} {what}: {done.repetitions} of {due.repetitions}; "
            f"{done.load_volume_kg:g} of {due.load_volume_kg:g}; "
            f"{done.tension_s:g} of {due.tension_s:g}"
            f"{_estimates(done, due)}"
        )
    yield ""
    yield "pain"
    for series, trend in review.trends.items():
        scores = [
            f"{day.day} {'/'.join(map(str, day.scores(series)))}"
            for day in review.pain
            if day.scores(series)
        ]
        words = trend_words(trend) if scores else "no scores"
        yield f"  {series.value.replace('_', ' ')}: {words}"
        if scores:
            yield f"    {', '.join(scores)}"
        change = review.changes[series]
        if review.version and change.points is not None:
            yield f"    since version {review.version.number} began, {change_words(change)}"


def _estimates(done: Amounts, due: Amounts) -> str:
    """Work and peak moment, where the arm model knows them."""
    work = done.work_j, due.work_j
    peaks = done.peak_moment_nm, due.peak_moment_nm
    said = ""
    if any(value is not None for value in work):
        said += f"; {work[0] or 0:.0f} of {work[1] or 0:.0f} J"
    if any(value is not None for value in peaks):
        said += f"; peak {peaks[0] or 0:.1f} of {peaks[1] or 0:.1f} N·m"
    return said


def _dose(what: str, tally: DoseTally) -> str:
    bounds = f"{percent(tally.lower_percent)} to {percent(tally.upper_percent)}"
    known = f"{tally.credited} of {tally.prescribed}, {percent(tally.percent)}"
    return f"  {what}: {known} (all: {bounds})"
