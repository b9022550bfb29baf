"""The clinic that the bench measures: people of the simulator, in a database of their own."""

import os
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from tempfile import TemporaryDirectory
from typing import cast
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db import connection, transaction
from django.db.models import Count

from logs.demo import add_clinic, add_people
from logs.models import Performance
from logs.simulator import simulate
from logs.simulator.cast import Cast, Story, WantedLine, WantedVersion, read_cast
from patients.models import Patient
from patients.motions import Effort
from plans.catalogue import Exercise, Kind, read_folder
from plans.preparation import prepare_database
from plans.schedule import Window

SEED = 7
LAST_DAY = date(2026, 6, 28)  # a Sunday
SMALL_SHARE = 10
"""How many times the small clinic goes into the whole one."""
LINES_A_PLAN = 7
"""The cast's plans are shorter: so many give 2,000 people of 26 weeks about 3 million line rows."""


@contextmanager
def own_database() -> Iterator[None]:
    """Work in a new database, a file or one beside DATABASE_URL's, and take it away after.

    The database that the settings name is not touched.
    """
    with TemporaryDirectory(prefix="bench-") as folder:
        is_file = connection.vendor == "sqlite"
        name = f"{folder}/bench.sqlite3" if is_file else f"handrail_bench_{os.getpid()}"
        test_settings = cast(dict[str, object], connection.settings_dict["TEST"])
        test_settings["NAME"] = name
        usual = connection.settings_dict["NAME"]
        connection.creation.create_test_db(verbosity=0, autoclobber=True, serialize=False)
        try:
            yield
        finally:
            connection.creation.destroy_test_db(usual, verbosity=0)


@dataclass(frozen=True)
class BenchClinic:
    """What was built, and the one patient that is measured."""

    patients: int
    weeks: int
    line_rows: int
    patient: Patient
    today: date

    @property
    def window(self) -> Window:
        """All of the weeks."""
        return Window(self.today - timedelta(days=7 * self.weeks), self.today - timedelta(days=1))


class Builder:
    """Adds people to the clinic, in parts, so that it can be measured small and whole."""

    def __init__(self, patients: int, weeks: int) -> None:
        self.patients, self.weeks = patients, weeks
        for _ in prepare_database():
            pass
        exercises = read_folder(settings.BASE_DIR / "fixtures" / "exercises")
        cast = read_cast(settings.BASE_DIR / "fixtures" / "demo.toml")
        self.cast = _with_long_plans(cast, exercises)
        self.zone = ZoneInfo(self.cast.clinic["time_zone"])
        self.staff = add_clinic(self.cast, "not a password that anyone uses")
        self.people = simulate(
            seed=SEED,
            last_day=LAST_DAY,
            cast=self.cast,
            exercises={exercise.key: exercise for exercise in exercises},
            people=patients,
            weeks=weeks,
        )
        self.there = 0

    def grow_to(self, patients: int, *, patient: Patient | None = None) -> BenchClinic:
        """Add people until there are so many, and say what the clinic holds then.

        One patient is measured: the one given, else the one with the most line rows.
        """
        now = datetime.combine(LAST_DAY + timedelta(1), time(9), UTC)
        wanted, self.there = patients - self.there, patients
        some = (person for _, person in zip(range(wanted), self.people, strict=False))
        with transaction.atomic():
            add_people(some, staff=self.staff, zone=self.zone, now=now)
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE")
        return BenchClinic(
            patients=patients,
            weeks=self.weeks,
            line_rows=Performance.objects.count(),
            patient=patient or _with_most_lines(),
            today=LAST_DAY + timedelta(1),
        )


def _with_long_plans(cast: Cast, exercises: Sequence[Exercise]) -> Cast:
    """The cast with each plan filled up to ``LINES_A_PLAN`` lines, other ones for each person."""
    more = [exercise.key for exercise in exercises if exercise.kind is Kind.POSES]

    def longer(version: WantedVersion, first: int) -> WantedVersion:
        if not version.lines:
            return version
        there = {line.exercise for line in version.lines}
        others = [key for key in more[first:] + more[:first] if key not in there]
        added = (WantedLine(key, Effort.ACTIVE.key) for key in others)
        lines = (*version.lines, *added)[: max(LINES_A_PLAN, len(version.lines))]
        return replace(version, lines=lines)

    def with_long_plan(story: Story, place: int) -> Story:
        first = LINES_A_PLAN * place % len(more)
        return replace(story, versions=tuple(longer(v, first) for v in story.versions))

    stories = tuple(with_long_plan(story, place) for place, story in enumerate(cast.stories))
    return replace(cast, stories=stories)


def _with_most_lines() -> Patient:
    """The patient with the most line rows of those there."""
    counted = (
        Performance.objects.order_by()
        .values_list("revision__entry__patient")
        .annotate(rows=Count("pk"))
    )
    rows = dict(counted)
    return Patient.objects.get(pk=max(rows, key=lambda pk: (rows[pk], -pk)))
