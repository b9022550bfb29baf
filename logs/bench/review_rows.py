"""Rows about one patient: the review's data, its page, and a spreadsheet user's way."""

import csv
from collections.abc import Callable, Iterator, Mapping
from importlib import import_module
from importlib.util import find_spec
from pathlib import Path
from tempfile import TemporaryDirectory

from django.db import connection
from django.test import Client
from django.urls import reverse

from logs.bench.clinic import BenchClinic
from logs.bench.measuring import Job, Row, ratio, times
from logs.figure_queries import figures_of
from logs.figures import Week
from logs.models import Performance
from logs.review import review_of

WEEKS_A_ROUND = 5

LINE_ROWS = """
SELECT r.uuid, r.entry_id, r.day, r.occasion, r.source, r.phone_id, r.began_at, r.received_at,
       r.pain_before, r.pain_worst, r.pain_after, r.pain_next_morning,
       l.key, p.amounts, p.load_g, p.is_confirmed
FROM logs_performance p
JOIN logs_revision r ON r.uuid = p.revision_id
JOIN logs_entry e ON e.uuid = r.entry_id
JOIN plans_line l ON l.id = p.line_id
WHERE e.patient_id = %s AND r.is_current AND e.struck_at IS NULL AND r.day BETWEEN %s AND %s
"""


def fetch_of(clinic: BenchClinic) -> Callable[[], list[tuple[object, ...]]]:
    """The bare fetch of a patient's line rows of all weeks: one statement, nothing computed."""
    window = clinic.window
    given: list[int | str] = [
        clinic.patient.pk,
        window.first_day.isoformat(),
        window.last_day.isoformat(),
    ]

    def fetch() -> list[tuple[object, ...]]:
        with connection.cursor() as cursor:
            cursor.execute(LINE_ROWS, given)
            rows: list[tuple[object, ...]] = cursor.fetchall()
            return rows

    return fetch


def data_of(clinic: BenchClinic) -> Job:
    """The whole data of the review, as the page takes it."""
    return lambda: review_of(clinic.patient, clinic.window, clinic.today).volume.joints


def weeks_of(clinic: BenchClinic) -> Callable[[], tuple[Week, ...]]:
    """Sessions, repetitions and pain of a patient by week, of all weeks, from what is kept."""
    patient, today, days = clinic.patient.pk, clinic.today, len(clinic.window.days())
    return lambda: figures_of({patient: today}, days, of=patient).weeks(patient)


def page_of(clinic: BenchClinic) -> Job:
    """The whole page of that review, by a signed-in therapist."""
    client, window = signed_in(clinic), clinic.window
    address = reverse("review", args=[clinic.patient.pk])
    query = {"first_day": window.first_day.isoformat(), "last_day": window.last_day.isoformat()}
    return lambda: _opened(client, address, query)


def _opened(client: Client, address: str, query: Mapping[str, str] | None = None) -> None:
    answer = client.get(address, query)
    if answer.status_code != 200:
        raise LookupError(f"{address} answered {answer.status_code}: nothing to measure")


def signed_in(clinic: BenchClinic) -> Client:
    """A client of the patient's first therapist."""
    client = Client()
    member = clinic.patient.care_team.order_by("pk").select_related("user").first()
    if member is None:
        raise LookupError(f"nobody cares for {clinic.patient.clinic_number}")
    client.force_login(member.user, backend="django.contrib.auth.backends.ModelBackend")
    return client


def bare_page_of(clinic: BenchClinic) -> Job:
    """A page of the same patient with nothing of its own, and the bare fetch."""
    client, fetch = signed_in(clinic), fetch_of(clinic)
    address = reverse("bare_patient_page", args=[clinic.patient.pk])

    def page() -> None:
        fetch()
        _opened(client, address)

    return page


def review_rows(clinic: BenchClinic, rounds: int) -> Iterator[Row]:
    """The review of one patient over all weeks."""
    data, fetch = data_of(clinic), fetch_of(clinic)
    rows = len(fetch())
    yield ratio(
        f"review data of one patient, {clinic.weeks} weeks, {rows} line rows ÷ bare fetch of them",
        data,
        fetch,
        limit=1.5,
        rounds=rounds,
    )
    yield ratio(
        "whole review page ÷ (bare fetch + empty patient page)",
        page_of(clinic),
        bare_page_of(clinic),
        limit=2,
        rounds=rounds,
    )
    weeks = weeks_of(clinic)
    yield ratio(
        f"sessions, repetitions and pain of one patient by week, {clinic.weeks} weeks, from what "
        f"is kept ÷ the same fetch, {WEEKS_A_ROUND} a round",
        times(WEEKS_A_ROUND, weeks),
        times(WEEKS_A_ROUND, fetch),
        limit=0.25,
        rounds=rounds,
    )
    if find_spec("pandas"):
        with TemporaryDirectory(prefix="bench-") as folder:
            file = Path(folder, "clinic.csv")
            lines = write_csv(file)
            yield ratio(
                f"pandas over a CSV of the clinic, {lines} lines, reading included "
                "÷ the same of one patient from what is kept",
                weeks,
                lambda: by_spreadsheet(file, clinic.patient.clinic_number),
                limit=100,
                rounds=3,
                at_least=True,
            )


def write_csv(file: Path) -> int:
    """Write what counts of the whole clinic, a line for each line row; return their number."""
    rows = (
        Performance.objects.filter(revision__is_current=True, revision__entry__struck_at=None)
        .order_by()
        .values_list(
            "revision__entry__patient__clinic_number",
            "revision__entry",
            "revision__day",
            "revision__occasion",
            "revision__pain_worst",
            "line__key",
            "line__sets",
            "line__amount_low",
            "line__unit",
            "is_confirmed",
            "amounts",
            "load_g",
        )
    )
    count = 0
    with file.open("w", newline="") as out:
        write = csv.writer(out).writerow
        header = (
            "number,entry,day,occasion,pain_worst,line,sets,amount_low,unit,is_confirmed,"
            "amount,load_g"
        )
        write(header.split(","))
        for *before, amounts, load_g in rows.iterator(chunk_size=5000):
            write([*before, sum(amounts), load_g])
            count += 1
    return count


def by_spreadsheet(file: Path, number: str) -> object:
    """Read the file and work out a patient's sessions, repetitions and pain by week, no more."""
    frame = import_module("pandas").read_csv(file, parse_dates=["day"])
    mine = frame[frame["number"] == number]
    week = mine["day"].dt.isocalendar().week
    return (
        mine[mine["amount"] > 0].groupby(week)["entry"].nunique(),
        mine[(mine["unit"] == "repetitions") & mine["is_confirmed"]].groupby(week)["amount"].sum(),
        mine.groupby("day")["pain_worst"].max().groupby(lambda day: day.week).median(),
    )
