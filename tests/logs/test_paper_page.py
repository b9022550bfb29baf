"""Typing in a week: saved in one go or not at all, corrected as revisions, never twice."""

import re
from datetime import UTC, date, datetime, timedelta
from urllib.parse import urlsplit
from uuid import uuid4

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from clinic.models import AuditRow
from logs.actions import Performed, Told, record_revision
from logs.models import Entry, HeardDay, MissedReason, Revision
from plans.actions import add_pause
from tests.logs.homes import enrol_home
from tests.world import issue

MONDAY = date(2026, 3, 2)
NOW = datetime(2026, 3, 12, 12, tzinfo=UTC)  # the Thursday of the week after


@pytest.fixture(autouse=True)
def _now(monkeypatch):
    monkeypatch.setattr(timezone, "now", lambda: NOW)


class Diary:
    """The page as a therapist uses it: open a week, type into its fields, save."""

    def __init__(self, client, patient, week="2026-W10"):
        self.client = client
        self.address = f"{reverse('diary', args=[patient.pk])}?week={week}"

    def open(self):
        self.answer = self.client.get(self.address)
        assert self.answer.status_code == 200
        return self.fields()

    def text(self):
        return self.answer.content.decode()

    def fields(self):
        """The form's fields with their values; ticks only where ticked."""
        fields = {}
        for tag in re.findall(r"<input[^>]*>", self.text()):
            found = dict(re.findall(r'([\w-]+)="([^"]*)"', tag))
            if "name" in found and (found.get("type") != "checkbox" or " checked" in tag):
                fields[found["name"]] = found.get("value", "")
        return fields

    def save(self, fields, **typed):
        self.answer = self.client.post(self.address, fields | typed)
        return self.answer


@pytest.fixture
def diary(as_staff, world):
    return Diary(as_staff(world.therapist), world.patient)


@pytest.fixture
def keys(world):
    return [line.key for line in world.version.lines.all()]


def field(day, session, kind):
    return f"{MONDAY + timedelta(days=day)}/{session}/{kind}"


def current():
    return Revision.objects.filter(is_current=True, entry__struck_at__isnull=True)


def test_a_week_is_typed_in_and_saved_in_one_go(diary, keys, world):
    fields = diary.open() | {
        field(0, 1, keys[0]): "10 10 8",
        field(0, 1, keys[1]): "x",
        field(0, 1, "@pain_worst"): "3",
        field(0, 1, "@note"): " a bit stiff ",
        field(2, 2, keys[0]): "3x10",
    }
    answer = diary.save(fields)
    assert answer.status_code == 302
    assert urlsplit(answer["Location"]).query == "week=2026-W10"
    monday, wednesday = current().order_by("day")
    assert (monday.day, monday.occasion, monday.source) == (MONDAY, 1, "paper")
    assert (monday.pain_before, monday.pain_worst, monday.note) == (None, 3, "a bit stiff")
    done = {row.line.key: row.amounts for row in monday.performances.all()}
    assert done == {keys[0]: [10, 10, 8], keys[1]: [8]}
    assert (monday.version, monday.recorded_by) == (world.version, world.therapist)
    assert wednesday.occasion == 2
    assert (
        "2 sessions typed in, 2 days marked heard"
        in diary.client.get(answer["Location"]).content.decode()
    )
    assert set(HeardDay.objects.values_list("day", "source")) == {
        (MONDAY, "paper"),
        (MONDAY + timedelta(days=2), "paper"),
    }


def test_an_impossible_cell_is_named_with_its_place_and_nothing_is_saved(diary, keys):
    fields = diary.open() | {
        field(0, 1, keys[0]): "10",
        field(1, 2, keys[0]): "ten",
        field(3, 1, "@pain_after"): "12",
    }
    answer = diary.save(fields)
    assert answer.status_code == 422
    text = diary.text()
    assert "Tue 3 Mar, session 2, Arm lift to the front, lying down" in text
    assert "Thu 5 Mar, session 1, after" in text
    assert text.count('aria-invalid="true"') == 2
    assert diary.fields()[field(0, 1, keys[0])] == "10"
    assert diary.fields()[field(1, 2, keys[0])] == "ten"
    assert not Revision.objects.exists()
    assert not HeardDay.objects.exists()


def test_what_was_typed_comes_back_and_a_change_is_a_revision(diary, keys):
    diary.save(diary.open() | {field(0, 1, keys[0]): "10 8"})
    fields = diary.open()
    assert fields[field(0, 1, keys[0])] == "10 8"
    diary.save(fields | {field(0, 1, keys[0]): "10 9", field(0, 1, "@pain_before"): "2"})
    now = current().get()
    assert [row.amounts for row in now.performances.all()] == [[10, 9]]
    assert (now.pain_before, Entry.objects.count(), Revision.objects.count()) == (2, 1, 2)
    assert Revision.objects.get(is_current=False).pk == now.replaces


def test_saving_without_a_change_stores_nothing(diary, keys):
    diary.save(diary.open() | {field(0, 1, keys[0]): "10 8"})
    rows = AuditRow.objects.count()
    diary.save(diary.open())
    assert Revision.objects.count() == 1
    assert AuditRow.objects.count() == rows + 1  # that the page was opened


def test_the_same_form_sent_twice_is_stored_once(diary, keys):
    fields = diary.open() | {field(0, 1, keys[0]): "10 8"}
    assert diary.save(fields).status_code == diary.save(fields).status_code == 302
    assert Revision.objects.count() == 1
    changed = diary.open() | {field(0, 1, keys[0]): "9"}
    assert diary.save(changed).status_code == diary.save(changed).status_code == 302
    assert Revision.objects.count() == 2
    emptied = diary.open() | {field(0, 1, keys[0]): ""}
    assert diary.save(emptied).status_code == diary.save(emptied).status_code == 302
    assert Entry.objects.filter(struck_at__isnull=False).count() == 1


def test_an_emptied_session_is_struck_out_and_may_be_typed_anew(diary, keys):
    diary.save(diary.open() | {field(0, 1, keys[0]): "10"})
    fields = diary.open()
    diary.save(fields | {field(0, 1, keys[0]): " "})
    entry = Entry.objects.get()
    assert (entry.struck_by.username, entry.struck_reason) == (
        "therapist",
        "emptied in the paper diary",
    )
    diary.save(diary.open() | {field(0, 1, keys[0]): "10"})
    assert current().count() == 1


def test_a_session_emptied_of_amounts_alone_keeps_its_pains(diary, keys):
    diary.save(diary.open() | {field(0, 1, keys[0]): "10", field(0, 1, "@pain_after"): "0"})
    diary.save(diary.open() | {field(0, 1, keys[0]): ""})
    now = current().get()
    assert (now.performances.count(), now.pain_after) == (0, 0)


def test_of_two_who_type_at_once_the_second_is_told_and_nothing_of_theirs_is_saved(diary, keys):
    first, second = diary.open(), diary.open()
    diary.save(first | {field(1, 1, keys[0]): "10"})
    answer = diary.save(second | {field(0, 1, keys[0]): "9", field(1, 1, keys[0]): "9"})
    assert answer.status_code == 422
    assert "changed by someone else while you typed" in diary.text()
    assert [row.amounts for row in current().get().performances.all()] == [[10]]
    assert HeardDay.objects.get().day == MONDAY + timedelta(days=1)
    again = diary.save(diary.fields())
    assert again.status_code == 422


def test_a_day_with_nothing_done_is_heard_by_its_tick_and_unticked_again(diary):
    day = MONDAY + timedelta(days=1)
    diary.save(diary.open() | {f"heard/{day}": "1"})
    assert HeardDay.objects.get().day == day
    fields = diary.open()
    assert fields.pop(f"heard/{day}") == "1"
    diary.save(fields)
    assert not HeardDay.objects.exists()


def test_with_script_a_tick_taken_away_stays_away_though_something_was_typed(diary, keys):
    fields = diary.open() | {field(0, 1, keys[0]): "10", "scripted": "1"}
    diary.save(fields)
    assert current().exists()
    assert not HeardDay.objects.exists()


def test_word_by_telephone_is_kept_as_such_and_a_correction_keeps_its_source(diary, keys):
    diary.save(diary.open() | {field(0, 1, keys[0]): "10", "source": "telephone"})
    assert (current().get().source, HeardDay.objects.get().source) == ("telephone", "telephone")
    diary.save(diary.open() | {field(0, 1, keys[0]): "9", "source": "paper"})
    assert current().get().source == "telephone"


def test_an_extra_session_is_added_without_losing_what_was_typed(diary, keys):
    fields = diary.open() | {field(0, 1, keys[0]): "10 ten"}
    diary.save(fields, add_extra="1")
    assert not Revision.objects.exists()
    assert diary.fields()[field(0, 1, keys[0])] == "10 ten"
    diary.save(diary.fields() | {field(0, 1, keys[0]): "10", field(0, "e1", keys[1]): "5"})
    assert set(current().values_list("occasion", flat=True)) == {1, None}
    assert diary.open()[field(0, "e1", keys[1])] == "5"


def test_what_a_phone_told_stands_beside_and_is_not_typed_over(diary, keys, world):
    home = enrol_home(world.patient)
    home.send(home.record(world.version, day=str(MONDAY)))
    fields = diary.open()
    assert fields[field(0, 1, keys[0])] == ""
    assert re.search(r'class="others"><span class="quiet">phone</span> 8<', diary.text())
    diary.save(fields | {field(0, 1, keys[0]): "10"})
    assert set(current().values_list("source", flat=True)) == {"phone", "paper"}


def test_effort_and_the_weight_used_are_typed_in_and_come_back(diary, keys):
    fields = {field(0, 1, keys[0]): "10 8 @1,5", field(0, 1, "@effort"): "7"}
    diary.save(diary.open() | fields)
    now = current().get()
    done = now.performances.get()
    assert (now.effort, done.amounts, done.load_g) == (7, [10, 8], 1500)
    assert diary.open()[field(0, 1, keys[0])] == "10 8 @1.5"
    diary.save(diary.open() | {field(0, 1, keys[0]): "10 8"})
    assert current().get().performances.get().load_g is None


def test_a_weight_for_a_band_is_refused(diary, world):
    band = {"exercise": "elbow_bend_sitting", "step": "resisted", "load_means": "band"}
    version = issue(world.patient, world.therapist, MONDAY, [band])
    key = version.lines.get().key
    answer = diary.save(diary.open() | {field(0, 1, key): "10 @2"})
    assert answer.status_code == 422
    assert "load is no weight" in answer.content.decode()
    assert not Revision.objects.exists()


def test_why_days_were_missed_is_kept_changed_and_taken_back(diary, keys):
    tuesday = MONDAY + timedelta(days=1)
    fields = {field(0, 1, keys[0]): "10", f"why/{tuesday}": "tired"}
    answer = diary.save(diary.open() | fields | {"source": "telephone"})
    assert "1 reason kept" in diary.client.get(answer["Location"]).content.decode()
    told = MissedReason.objects.get()
    assert (told.day, told.reason, told.source) == (tuesday, "tired", "telephone")
    again = diary.open()
    assert 'value="tired" selected' in diary.text()
    diary.save(again | {f"why/{tuesday}": "no_time"})
    assert MissedReason.objects.get().reason == "no_time"
    diary.save(diary.open() | {f"why/{tuesday}": ""})
    assert not MissedReason.objects.exists()


def test_a_reason_that_is_none_of_the_six_changes_nothing(diary):
    diary.save(diary.open() | {f"why/{MONDAY}": "too_hard"})
    assert not MissedReason.objects.exists()


def test_a_correction_keeps_load_effort_and_time_of_what_it_corrects(diary, keys, world):
    line = world.version.lines.first()
    told = Told(
        day=MONDAY,
        occasion=1,
        source="paper",
        version=world.version,
        performances=(Performed(line, (8,), 750, False),),
        effort=4,
        began_at=NOW,
        time_zone="Europe/London",
    )
    record_revision(
        patient=world.patient, entry=uuid4(), revision=uuid4(), replaces=None, told=told
    )
    diary.save(diary.open() | {field(0, 1, "@pain_worst"): "2"})
    now = current().get()
    done = now.performances.get()
    assert (now.effort, now.began_at, done.load_g, done.is_confirmed) == (4, NOW, 750, False)
    diary.save(diary.open() | {field(0, 1, keys[0]): "9"})
    assert current().get().performances.get().is_confirmed


def test_a_session_of_an_older_version_keeps_its_version_and_line(diary, keys, world):
    diary.save(diary.open() | {field(4, 1, keys[0]): "8"})
    issue(world.patient, world.therapist, MONDAY + timedelta(days=2))
    diary.save(diary.open() | {field(4, 1, keys[0]): "9", field(4, 2, keys[0]): "7"})
    first, second = current().order_by("occasion")
    assert (first.version.number, first.performances.get().line.version.number) == (1, 1)
    assert second.version.number == 2


def test_paused_days_and_days_to_come_take_no_typing(diary, keys, world):
    add_pause(
        by=world.therapist,
        patient=world.patient,
        first_day=MONDAY,
        last_day=MONDAY,
        reason="away",
        today=date(2026, 3, 12),
    )
    diary.open()
    assert "paused" in diary.text()
    diary.save({"token": str(uuid4()), field(0, 1, keys[0]): "10"})
    assert not Revision.objects.exists()
    diary.address = diary.address.replace("W10", "W11")
    fields = diary.open()
    assert f"{date(2026, 3, 12)}/1/{keys[0]}" in fields  # today
    assert f"{date(2026, 3, 13)}/1/{keys[0]}" not in fields
    assert f"heard/{date(2026, 3, 12)}" not in diary.text()


@pytest.mark.parametrize("week", ["2026-W12", "2027-W01", "2026-W99", "soon", "", "0000-W00"])
def test_a_week_to_come_or_none_at_all_shows_this_one(diary, week):
    diary.address = diary.address.replace("2026-W10", week)
    diary.open()
    assert "Mon 9 Mar 2026 to Sun 15 Mar 2026" in diary.text()
    assert "Week after" not in diary.text()
    assert "?week=2026-W10" in diary.text()


def test_without_a_plan_days_can_still_be_marked_heard(diary):
    diary.address = diary.address.replace("W10", "W05")
    fields = diary.open()
    assert "No plan was in force in this week." in diary.text()
    diary.save(fields | {f"heard/{date(2026, 1, 27)}": "1"})
    assert HeardDay.objects.get().day == date(2026, 1, 27)


@pytest.mark.parametrize("who", ["outsider", "administrator"])
def test_nobody_outside_the_care_team_opens_or_types(as_staff, world, who):
    address = reverse("diary", args=[world.patient.pk])
    client = as_staff(getattr(world, who))
    assert client.get(address).status_code == 404
    assert client.post(address, {}).status_code == 404


def test_a_form_without_anything_known_in_it_changes_nothing(diary):
    answer = diary.save({"extras": "nine", "source": "pigeon", "2026-03-02/1/x": "8"})
    assert answer.status_code == 302
    assert not Revision.objects.exists()


def test_the_page_asks_the_database_as_often_for_a_full_week_as_for_an_empty_one(diary, keys):
    diary.open()
    with CaptureQueriesContext(connection) as queries:
        diary.open()
        empty = len(queries)
    typed = {
        field(day, session, key): "8 8" for day in range(7) for session in (1, 2) for key in keys
    }
    diary.save(diary.open() | typed)
    assert Revision.objects.count() == 14
    diary.open()  # shows the message of the save
    with CaptureQueriesContext(connection) as queries:
        diary.open()
        assert len(queries) == empty
