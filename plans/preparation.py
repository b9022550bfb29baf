"""What every database needs before it can serve: tables, the clinic's row, the catalogue."""

from collections.abc import Iterator

from django.conf import settings
from django.core.management import call_command

from clinic.checks import missing_migrations
from clinic.models import ClinicProfile
from plans.catalogue import read_folder
from plans.catalogue_actions import stock_catalogue


def prepare_database() -> Iterator[str]:
    """Bring the database up to date, saying what was done in a sentence a step.

    Repeating it changes nothing. CatalogueError where a shipped exercise can't be read.
    """
    missing = missing_migrations()
    call_command("migrate", interactive=False, verbosity=0)
    yield f"Tables: {missing} migrations applied." if missing else "Tables: up to date."
    _, made = ClinicProfile.objects.get_or_create(pk=1)
    yield "Clinic: added, with its defaults." if made else "Clinic: kept as it is."
    exercises = read_folder(settings.BASE_DIR / "fixtures" / "exercises")
    added = len(stock_catalogue(by=None, exercises=exercises))
    yield f"Catalogue: {len(exercises)} exercises shipped, {added} new or changed ones added."
