"""Measure how fast the computing is, as ratios with their limits, in a database of its own.

The clinic that is measured is simulated, lives in a temporary SQLite file (or a temporary database
beside the one that DATABASE_URL names) and is taken away afterwards.
"""

import json
import sys
import warnings
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from logs.bench.clinic import own_database
from logs.bench.measuring import Row
from logs.bench.whole import ROUNDS, bench

FULL_PATIENTS, FULL_WEEKS = 2000, 26


class Command(BaseCommand):
    """Print a row for each ratio, and whether it keeps its limit."""

    help = __doc__

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--patients", type=int, default=200, help=f"full size is {FULL_PATIENTS}"
        )
        parser.add_argument(
            "--weeks", type=int, default=FULL_WEEKS, help=f"full size is {FULL_WEEKS}"
        )
        parser.add_argument("--rounds", type=int, default=ROUNDS, help="of each measurement")
        parser.add_argument("--json", action="store_true", help="a list of rows, and nothing else")

    def handle(self, *args: Any, **options: Any) -> None:
        patients, weeks, rounds = options["patients"], options["weeks"], options["rounds"]
        if patients < 1 or weeks < 1 or rounds < 1:
            raise CommandError("Patients, weeks and rounds are whole numbers from 1.")
        # Pages are measured without their static files, which another part serves.
        warnings.filterwarnings("ignore", message="No directory at", category=UserWarning)
        rows = []
        with own_database():
            for row in bench(patients=patients, weeks=weeks, rounds=rounds, say=self._say):
                rows.append(row)
                if not options["json"]:
                    self.stdout.write(_words(row))
        if options["json"]:
            self.stdout.write(json.dumps([row.as_json() for row in rows], indent=2))
            return
        met = sum(row.is_met for row in rows)
        self.stdout.write(f"{met} of {len(rows)} ratios keep their limits.")
        if patients < FULL_PATIENTS or weeks < FULL_WEEKS:
            self.stdout.write(
                "This clinic was smaller than the limits are meant for. The full size: "
                f"--patients {FULL_PATIENTS} --weeks {FULL_WEEKS}."
            )

    def _say(self, words: str) -> None:
        """Tell what goes on, beside the rows."""
        print(words, file=sys.stderr, flush=True)  # noqa: T201 (the rows alone are the output)


def _words(row: Row) -> str:
    sign = "≥" if row.at_least else "≤"
    kept = "kept" if row.is_met else "OVER" if not row.at_least else "UNDER"
    note = f"   ({row.note})" if row.note else ""
    return f"{row.ratio:9.3f} {sign} {row.limit:<6g} {kept:5}  {row.name}{note}"
