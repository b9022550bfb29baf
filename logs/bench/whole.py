"""The whole bench: builds the clinic in two steps and gives one row after another."""

from collections.abc import Callable, Iterator

from django.test import override_settings

from logs.bench.clinic import SMALL_SHARE, Builder
from logs.bench.clinic_rows import caseload_rows, figures_of, forget_older_half, write_row
from logs.bench.measuring import Job, Row, in_turns
from logs.bench.other_rows import other_rows
from logs.bench.plan_rows import plan_rows
from logs.bench.review_rows import data_of, review_rows

ROUNDS = 15

type Say = Callable[[str], None]


def bench(*, patients: int, weeks: int, say: Say, rounds: int = ROUNDS) -> Iterator[Row]:
    """Build a clinic in the present database, which must be empty, and measure in it."""
    with override_settings(
        ROOT_URLCONF="logs.bench.urls",
        ALLOWED_HOSTS=["testserver"],
        SECURE_SSL_REDIRECT=False,
        STORAGES={
            "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}
        },
    ):
        builder = Builder(patients, weeks)
        few = max(1, patients // SMALL_SHARE)
        small = builder.grow_to(few)
        in_small = _against_steady(data_of(small), rounds)
        whole = builder.grow_to(patients, patient=small.patient)
        say(
            f"{whole.patients} patients, {whole.weeks} weeks, {whole.line_rows} line rows, "
            f"{rounds} rounds"
        )
        yield from review_rows(whole, rounds)
        grown = _against_steady(data_of(whole), rounds)
        yield Row(
            f"review data with {patients} patients ÷ with {few}, each against steady computing",
            grown / in_small,
            1.1,
        )
        yield from caseload_rows(whole, rounds)
        yield from other_rows(whole, rounds)
        yield from plan_rows(whole, rounds)
        yield write_row(whole, rounds)
        figures = figures_of(whole)
        with_all = _against_steady(figures, rounds)
        forget_older_half(whole)
        yield Row(
            f"caseload figures with {weeks} weeks of history ÷ with {weeks // 2}, each against "
            "steady computing",
            with_all / _against_steady(figures, rounds),
            1.3,
        )


def _against_steady(job: Job, rounds: int) -> float:
    """How long a job takes in units of some computing that nothing but the machine changes."""
    mine, steady = in_turns(job, _steady, rounds=rounds)
    return mine / steady


def _steady() -> int:
    return sum(number * number for number in range(100_000))
