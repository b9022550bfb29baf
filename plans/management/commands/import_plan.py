"""`import_plan FILE.json`: add a patient's plan from a file (fixtures/plan.schema.json)."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from clinic.checks import missing_migrations
from clinic.http import today_in
from clinic.queries import clinic_profile
from patients.queries import patient_by_number, zone_of
from plans.exchange_actions import Imported, import_plan
from plans.exchange_queries import newest_revisions
from plans.exchange_reading import PlanFileRefused, clinic_number_of, read_schema
from plans.jsonfile import JsonError, Place, decode, read_json

SCHEMA = settings.BASE_DIR / "fixtures" / "plan.schema.json"
SET_UP = "Set the clinic's data up first: uv run manage.py setup"


class Command(BaseCommand):
    """Reads a plan file; adds the patient if new, and the versions and pauses not here yet."""

    help = (
        "Add a patient's plan from a JSON file whose form fixtures/plan.schema.json describes. "
        "All of it is added or nothing. Repeating it is safe: what is here already is left alone, "
        "and an issued version that the file has otherwise is refused."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", metavar="FILE.json")

    def handle(self, *args: Any, **options: Any) -> None:
        name = options["file"]
        try:
            content = Path(name).read_bytes()
        except OSError as error:
            raise CommandError(f"{name} can't be read: {error.strerror}") from None
        if missing_migrations():
            raise CommandError(f"The database isn't set up. {SET_UP}")
        if not newest_revisions():
            raise CommandError(f"The catalogue has no exercises. {SET_UP}")
        try:
            document = read_json(decode(content))
        except JsonError as error:
            self._refuse(name, error.problems)
        try:
            patient = patient_by_number(clinic_number_of(document.value))
            zone = zone_of(patient) if patient else clinic_profile().time_zone
            result = import_plan(
                value=document.value, schema=read_schema(SCHEMA), today=today_in(zone)
            )
        except PlanFileRefused as refused:
            self._refuse(
                name,
                [
                    (document.key_place(p.path) if p.at_key else document.place(p.path), p.reason)
                    for p in refused.problems
                ],
            )
        self._tell(result)

    def _refuse(self, name: str, problems: list[tuple[Place, str]]) -> None:
        for place, reason in sorted(problems):
            self.stderr.write(f"{name}:{place.line}:{place.column}: {reason}")
        self.stderr.write("Nothing was imported.")
        raise SystemExit(1)

    def _tell(self, result: Imported) -> None:
        for sentence in result.added:
            self.stdout.write(f"Added {sentence}.")
        if not result.added:
            self.stdout.write(
                f"Nothing to add: all of this is here already for patient {result.clinic_number}."
            )
        for sentence in result.notes:
            self.stdout.write(f"Note: {sentence}.")
