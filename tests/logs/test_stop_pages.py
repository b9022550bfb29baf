"""The pages of stop signs: impossible to overlook, answered once, corrected in the open."""

import json
import re
from datetime import UTC, datetime, timedelta
from html import unescape
from io import BytesIO
from uuid import uuid4

import jsonschema
import pytest
from django.core.management import call_command
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from pypdf import PdfReader

from clinic.models import AuditRow
from logs.models import StopAnswer, StopReport
from logs.stop_actions import Decision, ToldStop, answer_stop, record_stop
from tests.world import FIXTURES

NOW = datetime(2026, 3, 4, 12, tzinfo=UTC)
TODAY = NOW.date()


@pytest.fixture(autouse=True)
def clock(monkeypatch):
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)


def report(world, tier="emergency", sign="chest", number=2, **changes):
    uuid = uuid4()
    given = {"reported_at": NOW, "day": TODAY, "source": "telephone"} | changes
    record_stop(
        patient=world.patient,
        uuid=uuid,
        told=ToldStop(tier=tier, sign=sign, from_occasion=number, **given),
        user=world.therapist,
    )
    return StopReport.objects.get(pk=uuid)


def words(response):
    text = re.sub(r"<[^>]+>", " ", response.content.decode())
    return re.sub(r"\s+", " ", unescape(text))


def url(world, name="stop_signs", *more):
    return reverse(name, args=[world.patient.pk, *more])


def filled(stop, **changes):
    given = {
        "seen": 0,
        "words": "Talked by telephone; no pain now.",
        "goes_on": "yes",
        "ends_day": "2026-03-05",
        "ends_occasion": 1,
        "sentence": "Start with half of it.",
        **changes,
    }
    return {f"stop-{stop.pk}-{name}": value for name, value in given.items()}


@pytest.mark.parametrize("page", ["patient", "review", "plan", "diary", "precautions"])
def test_an_open_one_stands_on_top_of_every_page_of_the_patient(as_staff, world, page):
    client = as_staff(world.therapist)
    assert "Stop sign, unanswered" not in words(client.get(url(world, page)))
    report(world)
    answer = client.get(url(world, page))
    shown = words(answer)
    assert "Stop sign, unanswered: emergency. “Your chest hurts or feels tight.”" in shown
    assert shown.index("Stop sign, unanswered") < shown.index("Handrail suggests")
    content = answer.content.decode()
    assert content.index("stop-notice") < content.index('<main id="content"')
    assert url(world) in content


def test_one_that_holds_on_stays_there_after_the_answer_and_goes_with_the_next(as_staff, world):
    stop = report(world)
    answer_stop(by=world.therapist, report=stop, decision=Decision("Waits.", goes_on=False), seen=0)
    client = as_staff(world.therapist)
    assert "On hold after a stop sign: emergency." in words(client.get(url(world, "patient")))
    answer_stop(
        by=world.therapist,
        report=stop,
        decision=Decision("On.", True, TODAY + timedelta(1), 1),
        seen=1,
    )
    assert "stop sign:" not in words(client.get(url(world, "patient")))


def test_a_therapist_reads_and_answers(as_staff, world):
    stop = report(world)
    client = as_staff(world.therapist)
    shown = words(client.get(url(world)))
    assert "Emergency Your chest hurts or feels tight." in shown
    assert "session 2 of Wed 4 Mar 2026" in shown
    answer = client.post(url(world, "stop_answer", stop.pk), filled(stop), follow=True)
    assert "Answered. The phone learns of it" in words(answer)
    given = StopAnswer.objects.get()
    assert (given.goes_on, str(given.ends_day), given.ends_occasion) == (True, "2026-03-05", 1)
    assert given.answered_by == world.therapist
    assert "Go on from session 1 on Thu 5 Mar 2026." in words(client.get(url(world)))


def test_a_correction_keeps_the_earlier_answer_visible(as_staff, world):
    stop = report(world)
    client = as_staff(world.therapist)
    client.post(url(world, "stop_answer", stop.pk), filled(stop))
    later = filled(stop, seen=1, words="The X-ray shows more.", goes_on="no")
    client.post(url(world, "stop_answer", stop.pk), later)
    shown = words(client.get(url(world)))
    assert "Talked by telephone; no pain now. corrected later" in shown
    assert "The X-ray shows more." in shown
    assert "Exercises stay on hold." in shown


def test_what_is_refused_keeps_what_was_typed(as_staff, world):
    stop = report(world)
    client = as_staff(world.therapist)
    place = url(world, "stop_answer", stop.pk)
    answer = client.post(place, filled(stop, ends_day="2026-03-03"))
    assert answer.status_code == 422
    assert "before it was held" in words(answer)
    assert "Talked by telephone; no pain now." in words(answer)
    assert not StopAnswer.objects.exists()
    client.post(place, filled(stop))
    again = client.post(place, filled(stop, words="My own answer."))
    assert "Somebody has answered this meanwhile." in words(again)
    assert "My own answer." in words(again)
    # The page shows the other answer now, so that the same form corrects it.
    assert f'name="stop-{stop.pk}-seen" value="1"' in again.content.decode()


def test_the_third_tier_asks_for_words_only(as_staff, world):
    stop = report(world, "next_visit", "stiff", None)
    client = as_staff(world.therapist)
    assert "goes_on" not in client.get(url(world)).content.decode()
    given = filled(stop)
    client.post(url(world, "stop_answer", stop.pk), given)
    answer = StopAnswer.objects.get()
    assert (answer.goes_on, answer.ends_day) == (True, None)


def test_a_student_reads_and_writes_down_but_does_not_answer(as_staff, world):
    stop = report(world)
    client = as_staff(world.student)
    assert "Ask a therapist in charge or a supervisor to answer." in words(client.get(url(world)))
    refused = client.post(url(world, "stop_answer", stop.pk), filled(stop))
    assert refused.status_code == 422
    assert not StopAnswer.objects.exists()


def reported(**changes):
    return {
        "uuid": str(uuid4()),
        "sign": "wound",
        "source": "telephone",
        "day": "2026-03-04",
        "at": "10:15",
        "from_occasion": 1,
        "note": "The daughter rang.",
        **changes,
    }


def test_staff_write_one_down_once(as_staff, world):
    client = as_staff(world.therapist)
    given = reported()
    for _ in range(2):
        answer = client.post(url(world, "stop_report"), given, follow=True)
        assert "Kept. It stands here until it is answered." in words(answer)
    stop = StopReport.objects.get()
    assert (stop.tier, stop.sign, stop.from_occasion) == ("today", "wound", 1)
    assert (stop.reported_at, stop.recorded_by) == (
        datetime(2026, 3, 4, 10, 15, tzinfo=UTC),
        world.therapist,
    )
    assert AuditRow.objects.filter(verb="reported stop sign").count() == 1
    assert "sent before with other words" in words(
        client.post(url(world, "stop_report"), given | {"sign": "fever"})
    )


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"day": "2026-03-05"}, "This day is to come."),
        ({"sign": "unheard_of"}, "Select a valid choice"),
        ({"source": "phone"}, "Select a valid choice"),
        ({"from_occasion": 0}, "greater than or equal to 1"),
    ],
)
def test_a_slip_in_a_report_is_named(as_staff, world, changes, said):
    answer = as_staff(world.therapist).post(url(world, "stop_report"), reported(**changes))
    assert answer.status_code == 422
    assert said in words(answer)
    assert "The daughter rang." in words(answer)
    assert not StopReport.objects.exists()


def test_the_outsider_and_the_administrator_find_nothing(as_staff, world):
    stop = report(world)
    for user in (world.outsider, world.administrator):
        client = as_staff(user)
        assert client.get(url(world)).status_code == 404
        assert client.post(url(world, "stop_report"), reported()).status_code == 404
        assert client.post(url(world, "stop_answer", stop.pk), filled(stop)).status_code == 404
        assert "chest" not in words(client.get(reverse("patients")))
    assert StopReport.objects.count() == 1
    assert not StopAnswer.objects.exists()


def test_another_patient_s_report_is_not_there(as_staff, world):
    stop = report(world)
    client = as_staff(world.therapist)
    assert client.post(url(world, "stop_answer", uuid4()), filled(stop)).status_code == 404


def test_one_s_patients_list_begins_with_what_nobody_has_answered(as_staff, world):
    client = as_staff(world.therapist)
    assert "nobody has answered" not in words(client.get(reverse("patients")))
    report(world, "next_visit", "stiff", None)
    report(world)
    shown = words(client.get(reverse("patients")))
    assert shown.index("Emergency Fern Quill") < shown.index("Next visit Fern Quill")
    assert shown.index("Next visit Fern Quill") < shown.index("Care for")
    assert "past the clinic’s limit" not in shown


def test_past_the_set_time_it_says_so(as_staff, world, monkeypatch):
    report(world)
    client = as_staff(world.therapist)
    for minutes, is_late in ((14, False), (15, True)):
        later = NOW + timedelta(minutes=minutes)
        monkeypatch.setattr("django.utils.timezone.now", lambda now=later: now)
        assert ("past the clinic’s limit" in words(client.get(reverse("patients")))) is is_late


def test_the_page_costs_the_same_for_many_reports(as_staff, world):
    client = as_staff(world.therapist)
    client.get(url(world))
    costs = []
    for _ in range(2):
        report(world)
        with CaptureQueriesContext(connection) as queries:
            client.get(url(world))
        costs.append(len(queries))
    assert costs[0] == costs[1]


def review_url(world, name="review"):
    return f"{url(world, name)}?first_day=2026-03-02&last_day=2026-03-04"


def test_the_review_shows_a_held_day_by_shape_and_word_and_the_report(as_staff, world):
    stop = report(world, number=1)
    client = as_staff(world.therapist)
    answer = client.get(review_url(world))
    shown = words(answer)
    assert "nothing due, 2 held after a stop sign" in shown
    assert 'href="#shape-held"' in answer.content.decode()
    assert "Your chest hurts or feels tight. Held from session 1. Not answered" in shown
    assert "2 sessions of these days held: neither due nor missed." in shown
    answer_stop(
        by=world.therapist,
        report=stop,
        decision=Decision("Nothing found.", True, TODAY + timedelta(1), 1),
        seen=0,
    )
    assert "Nothing found. Went on from session 1 on Thu 5 Mar." in words(
        client.get(review_url(world))
    )


def test_the_report_on_paper_and_the_command_tell_of_it(as_staff, world, capsys):
    report(world, number=1)
    pdf = PdfReader(BytesIO(as_staff(world.therapist).get(review_url(world, "review_pdf")).content))
    text = re.sub(r"\s+", " ", " ".join(page.extract_text() for page in pdf.pages))
    assert "Emergency: Your chest hurts or feels tight." in text
    assert "not answered" in text
    call_command("review", "H-100", "--from", "2026-03-02", "--to", "2026-03-04")
    printed = capsys.readouterr().out
    assert "stop sign on 2026-03-04, held from session 1, emergency: Your chest hurts" in printed
    call_command("review", "H-100", "--from", "2026-03-02", "--to", "2026-03-04", "--json")
    found = json.loads(capsys.readouterr().out)
    jsonschema.validate(found, json.loads((FIXTURES / "review.schema.json").read_text()))
    (stop,) = found["stop_signs"]
    assert (stop["tier"], stop["day"], stop["from_occasion"], stop["answers"]) == (
        "emergency",
        "2026-03-04",
        1,
        [],
    )
    assert (found["session_adherence"]["due"], found["session_adherence"]["held"]) == (4, 2)
