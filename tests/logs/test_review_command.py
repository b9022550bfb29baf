"""The review by command: hand-worked numbers of the example, documented keys, refusals."""

import json
from datetime import date

import jsonschema
import pytest
from django.core.management import CommandError, call_command

from logs.actions import strike_entry
from logs.models import Entry
from plans.catalogue_actions import stock_catalogue
from tests.world import FIXTURES, shipped_exercises

SCHEMA = json.loads((FIXTURES / "review.schema.json").read_text())


@pytest.fixture
def example(db):
    """Put the example patient, plan and diary in the database."""
    stock_catalogue(by=None, exercises=list(shipped_exercises().values()))
    call_command("import_plan", str(FIXTURES / "example_plan.json"), verbosity=0)
    call_command("import_diary", str(FIXTURES / "example_diary.csv"), "--today", "2026-10-05")


@pytest.fixture
def review(example, capsys):
    """Run the command on the example and return what it wrote."""
    capsys.readouterr()

    def run(first="2026-09-14", last="2026-09-30", today="2026-10-05", *, text=False):
        given = ["EXAMPLE-7", "--from", first, "--to", last, "--today", today]
        call_command("review", *given, *([] if text else ["--json"]))
        output = capsys.readouterr().out
        return output if text else json.loads(output)

    return run


def part(found, *names):
    return tuple(found[name] for name in names)


PERCENTS = ("percent", "lower_percent", "upper_percent")


def test_session_adherence_of_the_example_is_what_paper_gives(review):
    # Due: 14-16 and 21-30 September twice a day, 26; 17-20 are paused. Done, capped by day:
    # 2, 1, 0, then 2, 2, 1, 0, 2, (26 and 27 unheard), 2, 1, 2: 15. Of the 22 due on heard days
    # 15/22; all over 15/26 to (15 + 4)/26. One extra in the pause and one on the 21st.
    found = review()["session_adherence"]
    assert part(found, "due", "done", "extra", "unheard", "held") == (26, 15, 2, 4, 0)
    assert part(found, *PERCENTS) == (68.18, 57.69, 73.08)
    assert found["uncapped_percent"] == 77.27  # (15 + 2)/22
    assert found["whole_percent"] == 93.33  # 14/15: no fist on Friday the 25th
    days = {day["day"]: day for day in found["days"]}
    assert len(days) == 17
    assert part(days["2026-09-18"], "paused", "due", "done", "extra", "heard") == (
        True,
        0,
        0,
        1,
        True,
    )
    assert part(days["2026-09-26"], "version", "due", "unheard", "heard") == (1, 2, 2, False)
    assert part(days["2026-09-28"], "version", "due", "done") == (2, 2, 2)


def test_dose_adherence_of_the_example_is_what_paper_gives(review):
    found = review()["dose_adherence"]
    lines = {line["line_key"]: line for line in found["lines"]}
    # 13 days x 2 x 16 = 416 due, 11 heard: 352. Credited 31 + 16 + 0, then 32 + 32 + 16 + 0 + 32,
    # then 32 + 16 + 32.
    lift = lines["arm_lift-left"]
    assert part(lift, "due", "credited", "performed", "unheard") == (416, 239, 253, 64)
    assert part(lift, *PERCENTS) == (67.9, 57.45, 72.84)
    # 10 days x 2 x 8 and 3 x 2 x 16.
    bend = lines["elbow-left"]
    assert part(bend, "due", "credited", "unheard") == (256, 158, 32)
    assert part(bend, *PERCENTS) == (70.54, 61.72, 74.22)
    # Mondays, Wednesdays and Fridays outside the pause: 14, 16, 21, 23, 25.
    assert part(lines["fist-left"], "due", "credited", "percent") == (50, 30, 60)
    (plan,) = found["plan"]
    assert part(plan, "unit", "due", "credited") == ("repetitions", 722, 427)
    assert part(plan, *PERCENTS) == (68.21, 59.14, 72.44)
    joints = {joint["joint"]: joint for joint in found["joints"]}
    assert part(joints["shoulder"], "due", "credited") == (416, 239)
    assert part(joints["elbow"], "due", "credited") == (256, 158)
    assert sum(day["credited"] for day in lift["days"]) == 239


def test_volume_of_the_example_is_what_paper_gives(review):
    rows = {
        (row["motion"], row["side"], row["week"]): row for row in review()["volume"] if row["moved"]
    }
    # 28 September: 16 + 14 at 0.5 kg, 29: 16 at 0.25 kg, 30: 32 at 0.5 kg; 6 s each.
    bend = rows["elbow_flexion", "left", "2026-W40"]
    assert part(bend["performed"], "repetitions", "load_volume_kg_reps", "seconds") == (78, 35, 468)
    assert part(bend["prescribed"], "repetitions", "load_volume_kg_reps", "seconds") == (
        96,
        48,
        576,
    )
    assert bend["days"] == ["2026-09-28", "2026-09-29", "2026-09-30"]
    # The week of the pause: 14, 15 and 16 due; 31 + 16 done, and 8 on the 18th.
    lift = rows["shoulder_flexion", "left", "2026-W38"]
    assert lift["prescribed"]["repetitions"] == 96
    assert lift["performed"]["repetitions"] == 55


def test_pain_of_the_example_is_what_was_written(review):
    found = review()["pain"]
    worst = [part(day, "day", "values", "highest", "median") for day in found["worst"]["days"]]
    assert worst[:3] == [
        ("2026-09-14", [4, 5], 5, 4.5),
        ("2026-09-15", [4], 4, 4),
        ("2026-09-18", [3], 3, 3),
    ]
    assert found["worst"]["trend"]["points"] == 10
    assert [day["day"] for day in found["next_morning"]["days"]] == [
        "2026-09-14",
        "2026-09-15",
        "2026-09-21",
        "2026-09-22",
        "2026-09-25",
        "2026-09-28",
        "2026-09-29",
        "2026-09-30",
    ]


@pytest.mark.parametrize(
    ("first", "last", "today"),
    [
        ("2026-09-14", "2026-09-30", "2026-10-05"),
        ("2026-08-01", "2026-08-31", "2026-10-05"),  # before the plan
        ("2026-09-14", "2026-09-30", "2026-09-14"),  # today is the first day
        ("2026-11-01", "2026-11-30", "2026-10-05"),  # all of it to come
    ],
)
def test_what_is_written_is_what_the_schema_says(review, first, last, today):
    jsonschema.validate(
        review(first, last, today), SCHEMA, format_checker=jsonschema.FormatChecker()
    )


def test_where_nothing_is_due_there_is_no_percentage(review):
    found = review("2026-09-17", "2026-09-20")
    assert part(found["session_adherence"], "due", "extra", *PERCENTS) == (0, 1, None, None, None)
    assert found["dose_adherence"]["plan"][0]["percent"] is None


def test_today_is_never_heard_and_later_days_are_left_out(review):
    found = review(today="2026-09-22")["session_adherence"]
    assert found["days"][-1]["day"] == "2026-09-22"
    assert not found["days"][-1]["heard"]
    assert found["due"] == 10


def test_struck_entries_count_nowhere(review, world):
    before = review()
    entry = Entry.objects.get(revisions__day=date(2026, 9, 29))
    strike_entry(by=world.therapist, entry=entry, reason="another patient's sheet")
    after = review()
    assert after["session_adherence"]["done"] == before["session_adherence"]["done"] - 1
    assert "2026-09-29" not in [day["day"] for day in after["pain"]["worst"]["days"]]


def test_the_text_says_it_in_two_sentences_first(review):
    text = review(text=True).replace("\N{NO-BREAK SPACE}", " ").splitlines()
    assert text[1] == (
        "On the days heard from, 15 of 22 sessions due were done (68 %); over all days it is "
        "between 58 % and 73 %, as 4 are still unheard; 2 more were extra."
    )
    assert text[2].startswith(
        "Pain during or after exercise was at most 5 of 10, on Mon 14 Sep; worst pain during: "
    )


def test_what_cant_be_reviewed_is_refused(example, capsys):
    with pytest.raises(CommandError, match="No patient here has the number NOBODY"):
        call_command("review", "NOBODY", "--from", "2026-09-14", "--to", "2026-09-30")
    with pytest.raises(CommandError, match="--to is before --from"):
        call_command("review", "EXAMPLE-7", "--from", "2026-09-30", "--to", "2026-09-14")
