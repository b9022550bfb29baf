"""The caseload: flags and figures by hand-worked cases, roles, filters, file, query count."""

import csv
import io
import re
from datetime import UTC, datetime, timedelta
from html import unescape
from uuid import uuid4

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from clinic.models import AuditRow
from logs.actions import Performed, Told, mark_heard, record_revision
from logs.caseload import Flag
from logs.caseload_csv import csv_cell, csv_text
from logs.models import StopReport
from logs.pain import trend_of_days
from logs.review_actions import record_review
from logs.stop_actions import Decision, ToldStop, answer_stop, record_stop
from logs.thresholds import ThresholdsError, read_thresholds
from patients.precaution_actions import keep_precaution, lift_precaution, set_precaution
from patients.precaution_models import Precaution
from plans.actions import add_pause, issue_version, start_draft
from plans.schedule import Window
from tests.logs.homes import enrol_home
from tests.world import FIXTURES, EpisodeFactory, PatientFactory, issue, join

NOW = datetime(2026, 4, 6, 9, 0, tzinfo=UTC)
TODAY = NOW.date()
LINE = [{"exercise": "elbow_bend_sitting", "sets": 1, "sessions_per_day": 1}]


@pytest.fixture(autouse=True)
def clock(monkeypatch):
    monkeypatch.setattr("clinic.http.timezone.now", lambda: NOW)


def ago(days):
    return TODAY - timedelta(days=days)


def patient_of(world, name, *, plan_days=28, **fields):
    """A patient in care whose plan, one session of at least eight a day, began some days ago."""
    patient = PatientFactory(name=name, **fields)
    join(patient, world.therapist)
    EpisodeFactory(patient=patient)
    if plan_days is not None:
        issue(patient, world.therapist, ago(plan_days), LINE)
    return patient


def tell(patient, days, *amounts, occasion=1, **changes):
    version = patient.plan_versions.latest("number")
    for day in days:
        record_revision(
            patient=patient,
            entry=uuid4(),
            revision=uuid4(),
            replaces=None,
            told=Told(
                ago(day),
                occasion,
                "paper",
                version,
                (Performed(version.lines.get(), amounts or (8,)),),
                **changes,
            ),
        )


def hear(world, patient, days):
    mark_heard(patient=patient, days=[ago(day) for day in days], source="paper", by=world.therapist)


@pytest.fixture
def rows(as_staff, world):
    """Fetch the file and return its rows by patient's name."""
    client = as_staff(world.supervisor)

    def fetch(query=""):
        answer = client.get(reverse("caseload_csv") + query)
        assert answer.status_code == 200
        return {row["name"]: row for row in csv.DictReader(io.StringIO(answer.content.decode()))}

    return fetch


@pytest.fixture
def shown(as_staff, world):
    client = as_staff(world.supervisor)

    def fetch(query="", **headers):
        content = client.get(reverse("caseload") + query, headers=headers).content.decode()
        return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", content)))

    return fetch


def flags(row):
    return row["flags"].split("; ") if row["flags"] else []


def test_a_patient_who_does_all_and_is_heard_from_has_no_flag(world, rows):
    patient = patient_of(world, "Steady")
    tell(patient, range(1, 29))
    hear(world, patient, range(1, 29))
    row = rows()["Steady"]
    # 14 days with today: 13 heard and done, today's one unheard.
    assert flags(row) == []
    assert (row["sessions_due"], row["sessions_done"], row["sessions_unheard"]) == (
        "14",
        "13",
        "1",
    )
    assert (row["percent"], row["lower_percent"], row["upper_percent"]) == (
        "100.0",
        "92.86",
        "100.0",
    )
    assert row["days_since_word"] == "1"
    # Days 13 to 0 ago, of which today has none, and 27 to 14.
    assert (row["repetitions_14_days"], row["repetitions_14_days_before"]) == ("104", "112")
    assert rows("?days=28")["Steady"]["sessions_due"] == "28"


@pytest.mark.parametrize(("silent", "found"), [(6, []), (7, ["quiet"]), (8, ["quiet"])])
@pytest.mark.parametrize("by", ["paper", "phone"])
def test_no_word_for_a_week_is_quiet_whatever_the_word_came_by(world, rows, by, silent, found):
    """Silent are the days from so many ago to yesterday; today is not over."""
    patient = patient_of(world, "Gone")
    last = silent + 1
    tell(patient, range(last, 29))
    if by == "paper":
        hear(world, patient, range(last, 20))
    else:
        phone = enrol_home(patient, now=NOW - timedelta(days=28)).phone
        phone.stores.update(last_empty_day=ago(silent))  # answers for the days before it
    row = rows()["Gone"]
    assert (flags(row), row["last_word"]) == (found, ago(last).isoformat())
    assert row["days_since_word"] == str(last)


@pytest.mark.parametrize(("silent", "found"), [(6, []), (7, ["quiet"]), (8, ["quiet"])])
def test_only_days_with_a_session_due_make_silence(world, rows, silent, found):
    """Monday, Wednesday and Friday are due; today is a Monday, so 16 days hold seven of them."""
    patient = patient_of(world, "Thrice a week", plan_days=None)
    weekdays = 1 << 0 | 1 << 2 | 1 << 4
    issue(patient, world.therapist, ago(28), [LINE[0] | {"weekdays": weekdays}])
    due = [days for days in range(1, 28) if ago(days).weekday() in (0, 2, 4)]
    hear(world, patient, [due[silent]])
    assert flags(rows()["Thrice a week"]) == found


def test_a_word_of_longer_than_four_weeks_ago_is_none(world, rows):
    for name, days in (("Just known", 27), ("Too long ago", 28)):
        hear(world, patient_of(world, name, plan_days=40), [days])
    found = rows()
    assert [found[name]["last_word"] for name in ("Just known", "Too long ago")] == [
        ago(27).isoformat(),
        "",
    ]
    assert all(flags(row) == ["quiet"] for row in found.values())


def test_a_pause_is_no_silence_and_a_plan_of_today_neither(world, rows):
    patient = patient_of(world, "Away")
    tell(patient, range(9, 20))
    hear(world, patient, range(9, 20))
    add_pause(
        by=world.therapist,
        patient=patient,
        first_day=ago(8),
        last_day=None,
        reason="",
        today=ago(8),
    )
    patient_of(world, "New", plan_days=0)
    found = rows()
    assert (flags(found["Away"]), found["Away"]["paused"]) == ([], "yes")
    assert flags(found["New"]) == []


def test_two_points_more_pain_in_the_median_hurt_more(world, rows):
    for name, now in (("Worse", 5), ("As before", 4)):
        patient = patient_of(world, name)
        hear(world, patient, range(1, 29))
        tell(patient, range(14, 28), pain_worst=3)
        tell(patient, range(1, 14), pain_worst=now)
    found = rows()
    assert (flags(found["Worse"]), flags(found["As before"])) == (["hurts more"], [])
    row = found["Worse"]
    medians = row["worst_pain_median_14_days"], row["worst_pain_median_14_days_before"]
    assert tuple(map(float, medians)) == (5, 3)


def test_two_days_of_scores_show_no_change(world, rows):
    patient = patient_of(world, "Few")
    hear(world, patient, range(1, 29))
    tell(patient, range(14, 28), pain_worst=3)
    tell(patient, range(3, 14))
    tell(patient, (1, 2), pain_worst=9)
    row = rows()["Few"]
    assert flags(row) == []
    assert row["worst_pain_median_14_days"] == ""


def test_overdoing_is_by_line_and_day_counted_by_week(world, rows):
    # Monday, 6 April: the days 7 to 1 ago are one ISO week. The most for a day is 1 x 10.
    twice, once = patient_of(world, "Eager"), patient_of(world, "Once")
    for patient in (twice, once):
        tell(patient, range(3, 29))
        hear(world, patient, range(1, 29))
    tell(twice, (1, 2), 11)
    tell(once, (1,), 11)
    tell(once, (2,), 10)
    found = rows()
    assert (flags(found["Eager"]), flags(found["Once"])) == (["overdoing"], [])


def test_less_than_half_is_little(world, rows):
    for name, done in (("Half", range(1, 27, 2)), ("Less", range(1, 13, 2))):
        patient = patient_of(world, name, plan_days=26)
        tell(patient, done)
        hear(world, patient, range(1, 27))
    found = rows()
    # Of 13 heard days 7 (1, 3 … 13) and 6 (1, 3 … 11).
    assert (flags(found["Half"]), flags(found["Less"])) == ([], ["does little"])


def test_plans_are_missing_ended_or_due(world, rows):
    patient_of(world, "Unplanned", plan_days=None)
    ended = patient_of(world, "Ended")
    issue(ended, world.therapist, ago(1), [])
    old = patient_of(world, "Old plan", plan_days=42)
    tell(old, range(1, 29))
    hear(world, old, range(1, 29))
    found = rows()
    assert flags(found["Unplanned"]) == ["no plan"]
    assert "no plan" in flags(found["Ended"])
    assert flags(found["Old plan"]) == ["plan due for review"]


def test_those_no_longer_in_care_are_left_out(world, rows):
    gone = patient_of(world, "Discharged")
    issue(gone, world.therapist, ago(1), [])
    gone.episodes.update(closed_day=TODAY)
    assert "Discharged" not in rows()


def test_a_version_that_waits_stands_on_top_with_its_link(world, shown, rows, as_staff):
    draft = start_draft(by=world.student, patient=world.patient, today=TODAY)
    version = issue_version(
        by=world.student, version=draft, today=TODAY, effective_day=TODAY, pain_limit=4
    )
    text = shown()
    assert "Read, then sign or send back : version 2 for Fern Quill , by Stu Student" in text
    answer = as_staff(world.supervisor).get(reverse("caseload"))
    link = reverse("plan_version", args=[world.patient.pk, version.pk])
    assert f'href="{link}"' in answer.content.decode()
    assert "waits for a signature" in flags(rows()["Fern Quill"])


def test_patients_stand_under_their_therapist(world, shown):
    patient_of(world, "Zinnia Under-Thea")
    other = PatientFactory(name="Aster Under-Otto")
    join(other, world.outsider)
    EpisodeFactory(patient=other)
    alone = PatientFactory(name="Bryony Alone")
    EpisodeFactory(patient=alone)
    text = shown()
    places = [
        text.index(words)
        for words in (
            "Otto Outsider 1 patient",
            "Aster Under-Otto",
            "Thea Therapist 2 patients",
            "Fern Quill",
            "Zinnia Under-Thea",
            "nobody in charge 1 patient",
            "Bryony Alone",
        )
    ]
    assert places == sorted(places)


def test_the_list_is_filtered_and_ordered(world, rows, shown):
    quiet = patient_of(world, "Hazel Still")
    patient_of(world, "Unplanned", plan_days=None)
    tell(quiet, range(20, 25))
    assert set(rows("?flag=no_plan")) == {"Unplanned"}
    assert "Hazel Still" not in shown("?flag=no_plan")
    assert set(rows("?therapist=Thea+Therapist")) >= {"Hazel Still", "Unplanned", "Fern Quill"}
    assert rows("?therapist=Nobody+Known").keys() == rows().keys()  # not understood: no filter
    assert list(rows("?sort=name")) == sorted(rows())
    assert next(iter(rows("?sort=flags"))) in {"Hazel Still", "Fern Quill"}
    assert next(iter(rows("?sort=word"))) == "Fern Quill"  # never a word
    for sort in ("sessions", "pain", "volume", "nonsense"):
        assert len(rows(f"?sort={sort}")) == 3
    assert "Nobody matches this choice." in shown("?flag=overdoing")


def test_a_long_list_comes_in_pages_and_the_file_whole(world, shown, rows, monkeypatch):
    monkeypatch.setattr("logs.caseload_views.ROWS_A_PAGE", 2)
    for name in "ABCD":
        patient_of(world, f"Patient {name}")
    first = shown("?sort=name")
    assert "Patients 1 to 2 of 5" in first
    assert ("Fern Quill" in first, "Patient A" in first, "Patient B" in first) == (
        True,
        True,
        False,
    )
    assert "Patients before" not in first
    assert "Patients after" in first
    last = shown("?sort=name&page=3")
    assert "Patients 5 to 5 of 5" in last
    assert ("Patient C" in last, "Patient D" in last) == (False, True)
    assert "Patients 5 to 5 of 5" in shown("?sort=name&page=99")
    assert "Patients 1 to 2 of 5" in shown("?sort=name&page=x")
    assert "Thea Therapist 5 patients" in shown("?page=2")
    assert len(rows("?page=2")) == 5


def test_the_trend_of_pain_is_worked_out_for_rows_on_the_screen_only(world, shown, monkeypatch):
    for name, scores in (("A rising", range(8)), ("B falling", range(8, 0, -1)), ("C", [5] * 8)):
        patient = patient_of(world, name)
        for back, score in zip((40, 35, 30, 25, 20, 15, 10, 5), scores, strict=True):
            tell(patient, [back], pain_worst=score)
    asked = []
    monkeypatch.setattr(
        "logs.caseload.trend_of_days",
        lambda points, series: asked.append(points) or trend_of_days(points, series),
    )
    text = shown("?sort=name")
    assert re.search(r"A rising .*?rising \+1.4 a week", text)  # a point in five days
    assert re.search(r"B falling .*?falling −1.4 a week", text)
    assert text.count(" a week") == 3  # the third in the words on what it means
    assert sorted(map(len, asked)) == [8, 8, 8]
    monkeypatch.setattr("logs.caseload_views.ROWS_A_PAGE", 2)
    asked.clear()
    shown("?sort=name")
    assert len(asked) == 2


def test_htmx_gets_the_list_alone(world, shown):
    text = shown("?flag=no_plan", **{"HX-Request": "true"})
    assert "Nobody matches this choice." in text
    assert "Download as CSV" not in text


@pytest.mark.parametrize("who", ["therapist", "student", "outsider", "administrator"])
@pytest.mark.parametrize("address", ["caseload", "caseload_csv"])
def test_only_supervisors_find_it(as_staff, world, who, address):
    assert as_staff(getattr(world, who)).get(reverse(address)).status_code == 404


def test_the_download_is_on_record(world, rows):
    rows()
    assert AuditRow.objects.get(verb="downloaded caseload").user == world.supervisor


@pytest.mark.parametrize("address", ["caseload", "caseload_csv"])
def test_the_queries_do_not_grow_with_the_patients(world, as_staff, address):
    client = as_staff(world.supervisor)
    client.get(reverse(address))
    with CaptureQueriesContext(connection) as few:
        client.get(reverse(address))
    for number in range(6):
        patient = patient_of(world, f"Patient {number}")
        tell(patient, range(1, 9), pain_worst=2)
        hear(world, patient, range(1, 9))
    with CaptureQueriesContext(connection) as many:
        client.get(reverse(address))
    assert len(many) == len(few)


def stop(world, patient, tier="emergency", sign="chest", number=1, day=TODAY, **changes):
    uuid = uuid4()
    told = ToldStop(tier, sign, NOW, day, number, "telephone", **changes)
    record_stop(patient=patient, uuid=uuid, told=told, user=world.therapist)
    return StopReport.objects.get(pk=uuid)


@pytest.fixture
def noon(monkeypatch):
    """Let the server's clock stand, and go on by minutes."""

    def at(minutes):
        monkeypatch.setattr("django.utils.timezone.now", lambda: NOW + timedelta(minutes=minutes))

    at(0)
    return at


def test_an_unanswered_stop_sign_is_the_first_flag_of_all(world, rows, shown, noon):
    quiet, today = patient_of(world, "Quiet"), patient_of(world, "Today")
    emergency = patient_of(world, "Zinnia Emergency")
    stop(world, today, "today", "pop")
    answered = stop(world, emergency)
    stop(world, emergency, "today", "fever")
    stop(world, emergency)
    decision = Decision("On.", True, TODAY, 1)
    answer_stop(by=world.therapist, report=answered, decision=decision, seen=0)
    found = rows("?sort=flags")
    assert list(found)[:2] == ["Zinnia Emergency", "Today"]
    assert flags(found["Zinnia Emergency"])[0] == "stop sign unanswered"
    assert (found["Zinnia Emergency"]["stop_sign"], found["Today"]["stop_sign"]) == (
        "Emergency",
        "Clinic today",
    )
    assert "stop sign unanswered" not in flags(found[quiet.name])
    assert "stop sign unanswered since 6 Apr 2026 10:00" in shown()
    assert list(rows("?flag=stop_sign")) == ["Today", "Zinnia Emergency"]


def test_one_past_the_set_time_goes_to_the_supervisor_s_list(world, shown, noon):
    stop(world, patient_of(world, "Zinnia Emergency"))
    stop(world, patient_of(world, "Today"), "today", "pop")
    late, fresh = "past the clinic’s limit: see to them now", "nobody has answered yet"
    text = shown()
    assert late not in text
    assert text.index("Emergency Zinnia Emergency") < text.index("Clinic today Today")
    noon(15)
    text = shown()
    assert text.index(late) < text.index("Emergency Zinnia Emergency") < text.index(fresh)
    assert "Zinnia Emergency , T" in text
    assert "Thea Therapist: Your chest hurts" in text.replace(" :", ":")
    noon(120)
    text = shown()
    assert fresh not in text
    assert text.index(late) < text.index("Clinic today Today")


def test_held_sessions_are_neither_due_nor_silent(world, rows, noon):
    patient = patient_of(world, "Held")
    tell(patient, range(11, 29))
    hear(world, patient, range(11, 29))
    stop(world, patient, day=ago(10))
    row = rows()["Held"]
    assert (row["sessions_due"], row["sessions_held"], row["sessions_done"]) == ("3", "11", "3")
    assert (row["percent"], flags(row)) == ("100.0", ["stop sign unanswered"])


def test_the_queries_do_not_grow_with_the_stop_signs(world, as_staff, noon):
    client = as_staff(world.supervisor)
    client.get(reverse("caseload"))

    def cost():
        with CaptureQueriesContext(connection) as queries:
            client.get(reverse("caseload"))
        return len(queries)

    bare = cost()
    costs = set()
    for number in range(3):
        patient = patient_of(world, f"Patient {number}")
        stop(world, patient, number=2, day=ago(3))
        costs.add(cost())
    assert costs == {bare + 2}  # the numbers done on days held in part


def test_the_page_says_when_nobody_is_in_care(world, shown):
    world.patient.episodes.update(closed_day=TODAY)
    issue(world.patient, world.therapist, TODAY, [])
    assert "Nobody is in care yet." in shown()


@given(st.text(max_size=20))
def test_no_cell_begins_a_formula_and_none_is_lost(text):
    cell = csv_cell(text)
    assert not cell.startswith(("=", "+", "-", "@", "\t", "\r"))
    assert cell in (text, f"'{text}")


def test_the_file_is_as_the_standard_says():
    text = csv_text(["a", "b"], [['say "x"', "1,5"], ["=2+3", None]])
    assert text == 'a,b\r\n"say ""x""","1,5"\r\n\'=2+3,\r\n'


def test_a_review_puts_off_the_next_one(world, rows):
    old = patient_of(world, "Old plan", plan_days=42)
    assert "plan due for review" in flags(rows()["Old plan"])
    window = Window(ago(7), TODAY)
    record_review(by=world.therapist, patient=old, day=TODAY, window=window, note="")
    assert "plan due for review" not in flags(rows()["Old plan"])


def test_a_name_that_looks_like_a_formula_is_harmless(world, rows):
    patient_of(world, "=HYPERLINK(1)")
    assert "'=HYPERLINK(1)" in rows()


def test_the_shipped_limits_have_their_sources():
    limits = read_thresholds(FIXTURES / "thresholds.toml")
    assert len(limits.of_flags()) == 9
    assert len(limits.all()) == 15
    assert limits.hurts_more_points.value == 2  # Farrar et al. 2001: about 2 points
    assert "Farrar" in limits.hurts_more_points.source


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda text: text.replace("value = 7", "value = 0", 1), "quiet_days"),
        (lambda text: text.replace("value = 7", 'value = "7"', 1), "quiet_days"),
        (lambda text: text.replace("[quiet_days]", "[silent_days]"), "silent_days"),
        (lambda text: text.replace("common practice, no source", " ", 1), "comes from"),
        (lambda text: text.partition("[low_percent]")[0], "low_percent"),
        (lambda text: text + "[", "can't be read"),
        (lambda text: text.replace("value = 5\n", "value = 1\n", 1), "pain_safe_to"),
    ],
)
def test_a_wrong_limit_is_named(tmp_path, change, words):
    file = tmp_path / "thresholds.toml"
    file.write_text(change((FIXTURES / "thresholds.toml").read_text()))
    with pytest.raises(ThresholdsError, match=words):
        read_thresholds(file)


def test_every_flag_has_a_key_of_its_own():
    assert len({flag.key for flag in Flag}) == len(Flag)


def test_a_precaution_past_its_day_is_to_be_looked_at_until_someone_keeps_or_lifts_it(
    world, as_staff, monkeypatch
):
    def flagged(days_on):
        now = NOW + timedelta(days=days_on)
        monkeypatch.setattr("clinic.http.timezone.now", lambda: now)
        page = as_staff(world.supervisor).get(reverse("caseload"))
        return ">precaution to look at again</span>" in unescape(page.content.decode())

    row = Precaution(
        patient=world.patient,
        kind="bearing",
        side="left",
        from_day=ago(40),
        until_day=TODAY + timedelta(days=1),
        set_by="Dr Puddle",
        source="operation note",
    )
    set_precaution(by=world.therapist, precaution=row)
    assert [flagged(0), flagged(3)] == [False, True]
    about = {"by": world.therapist, "precaution": row}
    kept_until = TODAY + timedelta(days=9)
    keep_precaution(until_day=kept_until, why="not united yet", today=TODAY, **about)
    assert [flagged(3), flagged(11)] == [False, True]
    lift_precaution(why="united on X-ray", **about)
    assert not flagged(11)
