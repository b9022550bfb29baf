"""`export_plan NUMBER`: write a patient's plan as a file that import_plan reads."""

import json
from argparse import ArgumentParser
from decimal import Decimal
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from clinic.checks import missing_migrations
from patients.queries import patient_by_number
from plans.exchange import to_document
from plans.exchange_queries import plan_of
from plans.queries import open_version


class Command(BaseCommand):
    """Writes the issued versions and the pauses of one patient to standard output."""

    help = (
        "Write a patient's issued versions and pauses to standard output, in the form that "
        "fixtures/plan.schema.json describes and import_plan reads. A version being made or "
        "waiting for a signature is left out."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("number", metavar="NUMBER", help="the patient's clinic number")

    def handle(self, *args: Any, **options: Any) -> None:
        if missing_migrations():
            raise CommandError(
                "The database isn't set up. Set the clinic's data up first: uv run manage.py setup"
            )
        patient = patient_by_number(options["number"])
        if patient is None:
            raise CommandError(f"No patient has the clinic number {options['number']}.")
        document = to_document(plan_of(patient))
        self.stdout.write(json.dumps(document, ensure_ascii=False, indent=2, default=_number))
        if left_out := open_version(patient):
            self.stderr.write(f"Left out: version {left_out.number}, which is not issued.")


def _number(value: object) -> int | float:
    """Return a Decimal as JSON writes it; a few decimals survive the way through a float."""
    if not isinstance(value, Decimal):
        raise TypeError(f"{value!r} has no place in a plan file")
    return int(value) if value == value.to_integral_value() else float(value)
