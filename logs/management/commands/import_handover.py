"""Read the file that a phone has handed over (fixtures/handover.schema.json); safe to repeat."""

import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any, NoReturn

from django.core.management.base import BaseCommand, CommandError

from clinic.actions import ActionRefused
from clinic.checks import missing_migrations
from logs.handover import read_handover
from logs.handover_actions import import_handover, patient_of
from plans.jsonfile import JsonError


class Command(BaseCommand):
    """Take a hand-over file in; a broken one, or one of no patient here, stores nothing."""

    help = __doc__

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, metavar="FILE")

    def handle(self, *args: Any, **options: Any) -> None:
        file: Path = options["file"]
        if missing_migrations():
            raise CommandError("The database isn't set up. Run: uv run manage.py setup")
        try:
            handover = read_handover(file.read_bytes())
        except OSError as error:
            raise CommandError(f"{file} can't be read: {error.strerror}.") from error
        except JsonError as broken:
            self._refuse([f"{file}:{p.line}:{p.column}: {reason}" for p, reason in broken.problems])
        patient = patient_of(handover)
        if patient is None:
            place = handover.owner_place
            self._refuse(
                [f"{file}:{place.line}:{place.column}: this file is of no patient's phone here"]
            )
        try:
            imported = import_handover(by=None, patient=patient, handover=handover)
        except ActionRefused as refused:
            raise CommandError(f"{refused} Nothing was stored.") from refused
        for read in imported.all:
            if read.reason:
                place = read.place
                self.stderr.write(f"{file}:{place.line}:{place.column}: rejected: {read.reason}")
        self.stdout.write(
            f"Patient {patient.clinic_number}: {imported.stored} stored, "
            f"{imported.duplicate} here already, {imported.rejected} rejected."
        )

    def _refuse(self, problems: list[str]) -> NoReturn:
        for problem in problems:
            self.stderr.write(problem)
        self.stderr.write("Nothing was stored.")
        sys.exit(1)
