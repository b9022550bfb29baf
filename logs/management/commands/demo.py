"""Build the demo clinic, and serve it on this machine.

Everyone in it is invented. It lives in the default database (or the one that DATABASE_URL names)
and is marked there as a demo; a database that holds anything else is left alone.
"""

import os
import sys
from argparse import ArgumentParser
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.db import connection, transaction
from django.utils import timezone

from clinic.models import ClinicProfile, User
from logs.demo import add_clinic, add_people
from logs.simulator import simulate
from logs.simulator.cast import Cast, read_cast
from patients.models import Patient
from patients.phones import make_invite
from patients.queries import patient_by_number
from plans.catalogue import read_folder
from plans.preparation import prepare_database

SEED = 1
PASSWORD = "brisk-teapot-demo"  # noqa: S105 (printed for everyone to use)
LINK_FOR = "D-01"


class Command(BaseCommand):
    """Build the demo clinic where there is none, say how to sign in, and serve it."""

    help = __doc__

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--no-serve", action="store_true", help="only build it")
        parser.add_argument("--port", type=int, default=8000, help="port to serve it on")
        parser.add_argument(
            "--rebuild",
            action="store_true",
            help="empty the demo's database first, so that its eight weeks end today again",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        is_there = _is_there()
        if is_there and options["rebuild"]:
            call_command("flush", interactive=False, verbosity=0)
            is_there = False
        cast = read_cast(settings.BASE_DIR / "fixtures" / "demo.toml")
        for sentence in prepare_database():
            self.stdout.write(sentence)
        now = timezone.now()
        if not is_there:
            self.stdout.write(f"Demo clinic: {_build(cast, now)} patients added.")
        else:
            self.stdout.write("Demo clinic: kept as it is; --rebuild makes it anew.")
        address = f"http://localhost:{options['port']}"
        self._say_how_to_enter(cast, address, now)
        if not options["no_serve"]:
            self._serve(address, options["port"])

    def _say_how_to_enter(self, cast: Cast, address: str, now: datetime) -> None:
        self.stdout.write(f"\n{cast.clinic['name']}: {address}\n")
        for member in cast.staff:
            self.stdout.write(
                f"  sign in as {member['username']:<14} with {PASSWORD}   ({member['name']})"
            )
        patient = patient_by_number(LINK_FOR)
        if patient is not None:
            link = make_invite(by=None, patient=patient, now=now)
            link = address + link.removeprefix(settings.PUBLIC_ADDRESS)
            self.stdout.write(f"  phone of {patient.name}, to be opened once:\n    {link}\n")

    def _serve(self, address: str, port: int) -> None:
        """Become the server, for which the public address is this machine's."""
        self.stdout.flush()
        connection.close()
        command = [sys.executable, str(settings.BASE_DIR / "manage.py"), "serve"]
        command += ["--host", "127.0.0.1", "--port", str(port)]
        os.execve(  # noqa: S606 (our own command, without a shell)
            sys.executable, command, os.environ | {"HANDRAIL_PUBLIC_ADDRESS": address}
        )


def _is_there() -> bool:
    """Say whether the database holds the demo; CommandError where it holds anything else."""
    tables = set(connection.introspection.table_names())
    ours = {*connection.introspection.django_table_names(), "django_migrations"}
    profiles, users, people = (m._meta.db_table for m in (ClinicProfile, User, Patient))
    if profiles in tables and ClinicProfile.objects.filter(is_demo=True).exists():
        return True
    if (
        tables - ours
        or (users in tables and User.objects.exists())
        or (people in tables and Patient.objects.exists())
    ):
        raise CommandError(
            "This database holds something other than the demo, and was left as it is. Name "
            "another one for the demo: DATABASE_URL=sqlite:////path/demo.sqlite3"
        )
    return False


@transaction.atomic
def _build(cast: Cast, now: datetime) -> int:
    """Add the clinic, its staff and its people, whose weeks end yesterday; return how many."""
    zone = ZoneInfo(cast.clinic["time_zone"])
    staff = add_clinic(cast, PASSWORD)
    exercises = read_folder(settings.BASE_DIR / "fixtures" / "exercises")
    people = simulate(
        seed=SEED,
        last_day=now.astimezone(zone).date() - timedelta(1),
        cast=cast,
        exercises={exercise.key: exercise for exercise in exercises},
        people=len(cast.stories),
    )
    add_people(people, staff=staff, zone=zone, now=now)
    return len(cast.stories)
