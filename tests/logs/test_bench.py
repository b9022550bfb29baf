"""The bench at its smallest: it runs, gives every row, and leaves nothing behind. No time is held
against a limit here: on a busy machine that would be a coin tossed."""

import json
import os
import subprocess
import sys
from dataclasses import replace
from importlib.util import find_spec
from pathlib import Path

import pytest

from logs.bench.clinic import Builder
from logs.bench.measuring import Row, in_turns, ratio
from logs.bench.review_rows import by_spreadsheet, weeks_of, write_csv
from patients.models import Patient

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def printed(tmp_path_factory):
    """What `manage.py bench --json` prints of twelve patients and three weeks."""
    command = [sys.executable, "manage.py", "bench", "--json", "--rounds", "1"]
    done = subprocess.run(
        [*command, "--patients", "12", "--weeks", "3"],
        cwd=ROOT,
        env=os.environ | {"HANDRAIL_DATA_DIR": str(tmp_path_factory.mktemp("bench"))},
        capture_output=True,
        text=True,
        timeout=110,
    )
    assert done.returncode == 0, done.stderr
    return done


def test_every_row_has_a_name_a_ratio_and_a_limit(printed):
    rows = json.loads(printed.stdout)
    wanted = ["review data of one", "whole review page"]
    wanted += ["sessions, repetitions and pain of one patient by week"]
    wanted += ["pandas"] if find_spec("pandas") else []
    wanted += ["review data with 12", "caseload figures of 12", "caseload figures of 12"]
    wanted += ["trend", "moments", "largest still figure", "largest moving figure"]
    wanted += ["all", "slowest still figure", "catalogue search"]
    wanted += ["exercises found for a patient", "check of 20 lines", "sheet of 10 exercises"]
    wanted += ["entry stored with upkeep", "caseload figures with 3 weeks"]
    assert len(rows) == len(wanted)
    for row, name in zip(rows, wanted, strict=True):
        assert row["name"].startswith(name)
        assert row["ratio"] > 0
        assert row["limit"] > 0
        assert set(row) <= {"name", "ratio", "limit", "at_least"}
    assert [row["name"][:6] for row in rows if row.get("at_least")] == (
        ["pandas"] if find_spec("pandas") else []
    )


def test_the_clinic_is_simulated_and_its_size_is_told(printed):
    assert printed.stderr.startswith("12 patients, 3 weeks, ")
    assert int(printed.stderr.split()[4]) > 500


def test_a_spreadsheet_finds_the_same_weeks(db, tmp_path):
    clinic = Builder(6, 4).grow_to(6)
    write_csv(tmp_path / "clinic.csv")
    for patient in Patient.objects.all():
        sessions, repetitions, pain = by_spreadsheet(tmp_path / "clinic.csv", patient.clinic_number)
        # The spreadsheet also has what lies before the first day of the weeks.
        for week in weeks_of(replace(clinic, patient=patient))()[1:]:
            number = week.first_day.isocalendar().week
            done = week.sessions.done + week.sessions.extra
            assert sessions.get(number, 0) == done
            assert repetitions.get(number, 0) == week.repetitions
            assert pain.get(number) == week.pain_median


def test_a_row_keeps_its_limit_from_the_right_side():
    assert Row("less", 1.5, 1.5).is_met
    assert not Row("less", 1.6, 1.5).is_met
    assert Row("more", 100, 100, at_least=True).is_met
    assert not Row("more", 99, 100, at_least=True).is_met


def test_each_job_is_timed_after_another_and_none_after_the_collector():
    turns = []
    times = in_turns(lambda: turns.append("a"), lambda: turns.append("b"), rounds=2)
    assert turns == ["a", "b"] + ["b", "a", "b"] * 2
    assert len(times) == 2


def test_a_slower_job_has_a_ratio_above_one():
    def slow():
        sum(range(200_000))

    assert ratio("slow", slow, int, limit=1, rounds=3).ratio > 10
    assert ratio("slow", slow, int, limit=1, rounds=3, at_least=True).ratio < 0.1
