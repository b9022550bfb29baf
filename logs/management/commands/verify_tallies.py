"""Verify what is kept ready for reports: days of entries, texts of sessions, spans of what is due.

Everything is worked out again from the entries and plans and held against what is kept. With
--rebuild it is written anew, a patient at a time, while people go on working.
"""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import transaction

from logs.upkeep import keep_all_days, keep_all_texts, wrong_days, wrong_texts
from patients.models import Patient
from plans.span_actions import keep_due_spans, wrong_spans

MOST_TOLD = 20


class Command(BaseCommand):
    """Say what is wrong and fail, or say that nothing is."""

    help = __doc__

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--rebuild", action="store_true", help="write all of it anew first")

    def handle(self, *args: Any, **options: Any) -> None:
        patients = list(Patient.objects.order_by("pk").values_list("pk", "clinic_number"))
        wrong = []
        for pk, number in patients:
            with transaction.atomic():
                if options["rebuild"]:
                    keep_due_spans([pk])
                    keep_all_texts(pk)
                    keep_all_days([pk])  # by the texts
                if sessions := wrong_texts(pk):
                    wrong.append(f"{number}: the texts of {len(sessions)} sessions are not theirs")
                else:  # days are worked out from the texts
                    wrong += [
                        f"{number}: {day.day} is not as its entries say" for day in wrong_days(pk)
                    ]
                if wrong_spans([pk]):
                    wrong.append(f"{number}: what is due is not as the plan says")
        if options["rebuild"]:
            self.stdout.write(f"Written anew for {len(patients)} patients.")
        for words in wrong[:MOST_TOLD]:
            self.stderr.write(words)
        if wrong:
            raise CommandError(
                f"{len(wrong)} differences. verify_tallies --rebuild puts them right; tell the "
                "developers how they came about."
            )
        self.stdout.write(f"All that is kept of {len(patients)} patients is right.")
