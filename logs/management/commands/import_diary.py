"""Read a diary from a CSV file (columns: fixtures/diary_columns.md); safe to repeat."""

import sys
from argparse import ArgumentParser
from datetime import date
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from clinic.checks import missing_migrations
from clinic.http import today_in
from logs.cells import FileRefused
from logs.diary_file import read_diary
from logs.diary_import import Change, Imported, import_diary
from patients.models import Patient
from patients.queries import zone_of
from plans.jsonfile import JsonError, decode


class Command(BaseCommand):
    """Take a diary file in, whole or not at all."""

    help = __doc__

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, metavar="FILE.csv")
        parser.add_argument(
            "--today",
            type=date.fromisoformat,
            metavar="DAY",
            help="take this day for today, as 2026-03-02 (default: today in the patient's place)",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        file: Path = options["file"]
        today: date | None = options["today"]
        if missing_migrations():
            raise CommandError("The database isn't set up. Run: uv run manage.py setup")
        try:
            content = file.read_bytes()
        except OSError as error:
            raise CommandError(f"{file} can't be read: {error.strerror}.") from error

        def today_of(patient: Patient) -> date:
            return today or today_in(zone_of(patient))

        try:
            imported = import_diary(diary=read_diary(decode(content)), today_of=today_of)
        except FileRefused as refused:
            problems = [(p.line, p.column, p.reason) for p in refused.problems]
        except JsonError as refused:
            problems = [(p.line, p.column, reason) for p, reason in refused.problems]
        else:
            self.stdout.write(_sentence(imported))
            return
        for line, column, reason in problems:
            self.stderr.write(f"{file}:{line}:{column}: {reason}")
        self.stderr.write("Nothing was changed.")
        sys.exit(1)


def _sentence(imported: Imported) -> str:
    """What was done, in a line for a person."""
    entries = imported.sessions
    words = [
        f"Entries: {entries[Change.STORED]} stored, {entries[Change.CORRECTED]} corrected, "
        f"{entries[Change.UNCHANGED]} as they were.",
        f"Days marked heard: {imported.days_heard}.",
    ]
    if entries[Change.KEPT]:
        words.append(f"{entries[Change.KEPT]} were corrected by a person since and stay so.")
    if imported.not_over:
        words.append(
            f"{imported.not_over} not marked heard, as that day is not over: import again later."
        )
    if imported.changed_nothing:
        words.append("Nothing changed.")
    return " ".join(words)
