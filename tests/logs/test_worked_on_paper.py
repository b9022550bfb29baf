"""A fortnight worked out on paper: two versions, a pause, twice a day, told by diary and telephone.

The plan (PAPER-1, left): version 1 from Monday 2 March asks twice a day for a set of 8–10 lifts,
and on Monday, Wednesday and Friday for two sets of 8–10 elbow bends with 1 kg. Version 2, from
Monday 9 March, asks twice a day for two sets of lifts. Thursday 5 and Friday 6 March are paused.
Nobody knows of Sunday 8 and Saturday 14. Today is Sunday 15 March, which is not over.

    day     due  done  extra  lifts done       credit  of
    Mon  2   2    2      0    8 | 10             16    16
    Tue  3   2    1      0    8                   8    16
    Wed  4   2    0      0    (nothing, told)     0    16
    Thu  5   0    0      1    8 (paused)          -     -
    Sat  7   2    2      1    8 | 6 | 8 beside   14    16
    Sun  8   2    ?      ?    unheard             ?    16
    Mon  9   2    2      0    8 8 | 8 4          28    32
    Tue 10   2    1      0    10 10              16    32
    Wed 11   2    2      0    8 8 | 8 8          32    32
    Thu 12   2    0      0    (nothing, told)     0    32
    Fri 13   2    1      0    8 8 by telephone   16    32
    Sat 14   2    ?      ?    unheard             ?    32
    Sun 15   2    1      0    8 8 so far         16    32
             --   --     -                      ---   ---
    sums     24   12     2                      146   304
    heard    18   11     2                      130   224

Sessions: 11/18 = 61.11 %; between 12/24 = 50 % and (12 + 5)/24 = 70.83 %, five being unheard (two,
two, and the one of today not done yet). Lifts: 130/224 = 58.04 %; between 146/304 = 48.03 % and
(146 + 16 + 32 + 16)/304 = 69.08 %.
"""

import io
import json

import pytest
from django.core.management import call_command

from tests.world import stock

PLAN = {
    "patient": {
        "clinic_number": "PAPER-1",
        "name": "Sorrel Inkwell-Example",
        "birth_date": "1970-01-31",
        "affected_side": "left",
    },
    "versions": [
        {
            "number": 1,
            "effective_day": "2026-03-02",
            "lines": [
                {
                    "key": "lift",
                    "exercise": "arm_lift_forward_lying",
                    "step": "active",
                    "side": "left",
                    "sets": 1,
                    "amount_low": 8,
                    "amount_high": 10,
                    "sessions_per_day": 2,
                },
                {
                    "key": "elbow",
                    "exercise": "elbow_bend_sitting",
                    "step": "resisted",
                    "side": "left",
                    "sets": 2,
                    "amount_low": 8,
                    "amount_high": 10,
                    "load_kg": 1,
                    "load_means": "held",
                    "sessions_per_day": 1,
                    "days": ["mon", "wed", "fri"],
                },
            ],
        },
        {
            "number": 2,
            "effective_day": "2026-03-09",
            "lines": [
                {
                    "key": "lift",
                    "exercise": "arm_lift_forward_lying",
                    "step": "active",
                    "side": "left",
                    "sets": 2,
                    "amount_low": 8,
                    "amount_high": 10,
                    "sessions_per_day": 2,
                }
            ],
        },
    ],
    "pauses": [{"first_day": "2026-03-05", "last_day": "2026-03-06", "reason": "Wedding"}],
}
DIARY = """\
clinic_number,day,occasion,line_key,sets_done,amounts,load_kg,pain_worst,source
PAPER-1,2026-03-02,1,lift,1,8,,3,paper
PAPER-1,2026-03-02,1,elbow,2,8 8,1,,paper
PAPER-1,2026-03-02,2,lift,1,10,,5,paper
PAPER-1,2026-03-03,1,lift,1,8,,0,paper
PAPER-1,2026-03-04,,,0,,,,paper
PAPER-1,2026-03-05,extra,lift,1,8,,,paper
PAPER-1,2026-03-07,1,lift,1,8,,,paper
PAPER-1,2026-03-07,2,lift,1,6,,,paper
PAPER-1,2026-03-07,extra,lift,1,8,,,paper
PAPER-1,2026-03-09,1,lift,2,8 8,,,paper
PAPER-1,2026-03-09,2,lift,2,8 4,,,paper
PAPER-1,2026-03-10,1,lift,2,10 10,,,paper
PAPER-1,2026-03-11,1,lift,2,8 8,,,paper
PAPER-1,2026-03-11,2,lift,2,8 8,,,paper
PAPER-1,2026-03-12,,,0,,,,paper
PAPER-1,2026-03-13,1,lift,2,8 8,,,telephone
PAPER-1,2026-03-15,1,lift,2,8 8,,,paper
"""


@pytest.fixture
def review(db, tmp_path):
    """The review of the fortnight, by the three commands as a person would run them."""
    stock("arm_lift_forward_lying", "elbow_bend_sitting")
    plan, diary = tmp_path / "plan.json", tmp_path / "diary.csv"
    plan.write_text(json.dumps(PLAN))
    diary.write_text(DIARY)
    call_command("import_plan", str(plan), stdout=io.StringIO())
    for _ in range(2):  # a repeat changes nothing
        call_command("import_diary", str(diary), "--today=2026-03-15", stdout=io.StringIO())
    out = io.StringIO()
    call_command(
        "review",
        "PAPER-1",
        "--from=2026-03-02",
        "--to=2026-03-15",
        "--today=2026-03-15",
        "--json",
        stdout=out,
    )
    return json.loads(out.getvalue())


def picked(table, *names):
    return tuple(table[name] for name in names)


ALL = ("due", "done", "extra", "unheard", "percent", "lower_percent", "upper_percent")


def test_sessions_are_as_on_paper(review):
    sessions = picked(review["session_adherence"], *ALL)
    assert sessions == (24, 12, 2, 5, 61.11, 50.0, 70.83)


def test_the_dose_of_the_lifts_is_as_on_paper(review):
    (lift,) = [line for line in review["dose_adherence"]["lines"] if line["line_key"] == "lift"]
    assert picked(lift, "percent", "lower_percent", "upper_percent") == (58.04, 48.03, 69.08)


def test_the_dose_by_joint_is_that_of_its_one_line(review):
    (shoulder,) = [j for j in review["dose_adherence"]["joints"] if j["joint"] == "shoulder"]
    assert picked(shoulder, "percent", "lower_percent", "upper_percent") == (58.04, 48.03, 69.08)


def test_volume_is_as_on_paper(review):
    found = {(row["motion"], row["week"]): row for row in review["volume"]}
    lifts = [found["shoulder_flexion", week] for week in ("2026-W10", "2026-W11")]
    assert [row["prescribed"]["repetitions"] for row in lifts] == [80, 224]
    # 18 + 8 + 8 (paused) + 22, then 28 + 20 + 32 + 16 + 16
    assert [row["performed"]["repetitions"] for row in lifts] == [56, 112]
    bends = found["elbow_flexion", "2026-W10"]
    # Friday's bends are paused: 2 days × 2 × 8 with 1 kg asked, one day of them done.
    assert bends["prescribed"]["load_volume_kg_reps"] == 32
    assert bends["performed"]["load_volume_kg_reps"] == 16


def test_the_days_pain_is_its_highest_and_the_median_stands_beside_it(review):
    worst = {row["day"]: row for row in review["pain"]["worst"]["days"]}
    assert picked(worst["2026-03-02"], "highest", "median") == (5, 4)
    assert picked(worst["2026-03-03"], "highest", "median") == (0, 0)  # 0 is an answer
    assert set(worst) == {"2026-03-02", "2026-03-03"}  # and no answer is none
