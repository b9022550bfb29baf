"""The demo clinic in the database: its rows, its numbers, and the command that builds it."""

import re
import subprocess
import sys
from datetime import UTC, date, datetime, timedelta
from io import StringIO
from zoneinfo import ZoneInfo

import pytest
from django.core.management import CommandError, call_command
from django.db import connection
from django.utils import timezone

from clinic.models import AuditRow, ClinicProfile, Role, User
from logs import demo
from logs.actions import Outcome, Told, mark_heard, record_revision, strike_entry
from logs.management.commands.demo import PASSWORD
from logs.models import Entry, HeardDay, MissedReason, Performance, Revision
from logs.review import review_of
from logs.review_actions import say_why_missed
from logs.simulator import simulate
from patients.models import Invite, Patient
from plans.models import Line, PlanVersion
from plans.plan_page import plan_page
from plans.schedule import Window
from tests.clinic.test_serve import MANAGE, environment, free_port, wait_for
from tests.logs.test_simulator import shipped
from tests.world import UserFactory, stock

LAST_DAY = date(2026, 11, 24)
TODAY = LAST_DAY + timedelta(1)
NOW = datetime(2026, 11, 25, 9, 30, tzinfo=UTC)
ZONE = ZoneInfo("Europe/London")


def written_down(*keys):
    """Write the simulated people (those of the stories named, or all) down, and return them."""
    stock(*shipped()["exercises"])
    everyone = simulate(seed=1, last_day=LAST_DAY, **shipped())
    people = [person for person in everyone if not keys or person.story.key in keys]
    staff = demo.add_clinic(shipped()["cast"], PASSWORD)
    demo.add_people(people, staff=staff, zone=ZONE, now=NOW)
    return people


@pytest.fixture
def people(db):
    """All simulated people, in the database."""
    return written_down()


def test_reviews_of_the_written_clinic_find_what_happened(people):
    for person in people:
        patient = Patient.objects.get(clinic_number=person.story.number)
        review = review_of(patient, Window(person.days[0].day, LAST_DAY), TODAY)
        assert [
            (d.day, d.due, d.done, d.extra, d.whole, d.is_heard) for d in review.sessions.days
        ] == [(d.day, d.due, d.done, d.extra, d.whole, d.is_heard) for d in person.days]
        assert {
            (d.day, d.line.key): (d.prescribed, d.credited, d.performed, d.recorded)
            for d in review.dose.days
        } == {(d.day, key): truth[:4] for d in person.days for key, truth in d.lines.items()}
        assert {day.day: day.peak for day in review.pain if day.peak is not None} == {
            d.day: d.pain_peak for d in person.days if d.pain_peak is not None
        }


ENTRY_FIELDS = ["uuid", "patient", "struck_by", "struck_reason"]
REVISION_FIELDS = [f.attname for f in Revision._meta.concrete_fields if f.attname != "received_at"]
PERFORMANCE_FIELDS = [f.attname for f in Performance._meta.concrete_fields if f.attname != "id"]
VERBS = [
    "recorded entry",
    "corrected entry",
    "struck entry",
    "marked days heard",
    "said why missed",
]


def written():
    """All that the actions of this app write, without when they wrote it."""
    return {
        "entries": sorted(Entry.objects.values_list(*ENTRY_FIELDS)),
        "revisions": sorted(Revision.objects.values_list(*REVISION_FIELDS), key=str),
        "performances": sorted(Performance.objects.values_list(*PERFORMANCE_FIELDS), key=str),
        "heard": sorted(HeardDay.objects.values_list("patient", "day", "source", "marked_by")),
        "missed": sorted(
            MissedReason.objects.values_list("patient", "day", "reason", "source", "recorded_by"),
            key=str,
        ),
        "audit": sorted(
            map(
                str,
                AuditRow.objects.filter(verb__in=VERBS).values_list(
                    "user", "actor", "verb", "patient", "subject", "detail"
                ),
            )
        ),
    }


def told_by(person, entry, told, patient):
    lines = {
        line.key: line
        for line in Line.objects.filter(version__patient=patient, version__number=entry.version)
    }
    before, worst, after, next_morning, effort = told.scores
    return Told(
        day=entry.day,
        occasion=entry.occasion,
        source=entry.source,
        version=PlanVersion.objects.get(patient=patient, number=entry.version),
        performances=demo.performed(lines.get, told),
        pain_before=before,
        pain_worst=worst,
        pain_after=after,
        pain_next_morning=next_morning,
        effort=effort,
        note=told.note,
        began_at=entry.began_at,
        time_zone="" if entry.phone is None else "Europe/London",
    )


@pytest.mark.django_db
def test_the_rows_are_those_that_the_actions_write():
    people = written_down("settling", "paper", "two_phones", "holiday", "weekend")
    bulk = written()
    assert all(bulk.values())
    Performance.objects.all().delete()
    Revision.objects.all().delete()
    Entry.objects.all().delete()
    HeardDay.objects.all().delete()
    MissedReason.objects.all().delete()
    AuditRow.objects.filter(verb__in=VERBS).delete()
    for person in people:
        patient = Patient.objects.get(clinic_number=person.story.number)
        keeper = User.objects.get(username=person.story.team[0])
        phones = list(patient.phones.order_by("pk"))
        for entry in person.entries:
            phone = None if entry.phone is None else phones[entry.phone]
            for told in entry.revisions:
                outcome = record_revision(
                    patient=patient,
                    entry=entry.uuid,
                    revision=told.uuid,
                    replaces=told.replaces,
                    told=told_by(person, entry, told, patient),
                    user=None if phone else keeper,
                    phone=phone,
                )
                assert outcome is Outcome.STORED
            if entry.struck_at:
                strike_entry(
                    by=keeper, entry=Entry.objects.get(pk=entry.uuid), reason=demo.STRUCK_REASON
                )
        visits = {}
        for day, visit in person.typed_in.items():
            visits.setdefault(visit, []).append(day)
        for (_, source), days in visits.items():
            mark_heard(patient=patient, days=days, source=source, by=keeper)
        for day, reason, source in person.missed:
            by_phone = source == "phone"
            say_why_missed(
                by=None if by_phone else keeper,
                patient=patient,
                day=day,
                reason=reason,
                today=TODAY,
                source=source,
                phone=phones[0] if by_phone else None,
            )
    assert written() == bulk


def test_nothing_is_dated_after_now_and_the_record_is_in_order(people):
    assert not Revision.objects.filter(received_at__gt=NOW).exists()
    assert not Entry.objects.filter(struck_at__gt=NOW).exists()
    assert not MissedReason.objects.filter(recorded_at__gt=NOW).exists()
    assert not PlanVersion.objects.filter(issued_at__gt=NOW).exists()
    made_now = ("added staff", "changed clinic", "stocked catalogue")
    instants = list(
        AuditRow.objects.exclude(verb__in=made_now).order_by("pk").values_list("at", flat=True)
    )
    assert instants == sorted(instants)
    assert instants[-1] <= NOW


def test_people_give_reasons_and_name_pain_and_take_easier_steps(people):
    assert {*Performance.objects.values_list("ended", flat=True)} == {None, "skipped", "stopped"}
    assert Performance.objects.filter(hurt=True).exists()
    assert Performance.objects.filter(step="gravity_reduced").exists()
    assert len({*MissedReason.objects.values_list("reason", flat=True)}) >= 4
    assert Revision.objects.filter(effort__isnull=False).exists()


def test_versions_are_as_the_stories_have_them(people):
    waiting = PlanVersion.objects.get(state=PlanVersion.State.WAITING)
    assert (waiting.patient.clinic_number, waiting.number) == ("D-10", 4)
    assert waiting.issued_by.role == Role.STUDENT
    signed = PlanVersion.objects.get(signed_by__isnull=False)
    assert signed.signed_by.role == Role.SUPERVISOR
    assert signed.state == PlanVersion.State.ISSUED
    assert not PlanVersion.objects.filter(state=PlanVersion.State.DRAFT).exists()
    ended = PlanVersion.objects.filter(patient__clinic_number="D-11").order_by("-number")[0]
    assert not ended.lines.exists()


def test_every_line_is_one_that_a_form_would_take(people):
    for line in Line.objects.select_related("version"):
        line.full_clean()
    for patient in Patient.objects.all():
        patient.full_clean()
        for episode in patient.episodes.all():
            episode.full_clean()


def test_measures_and_precautions_are_there_and_no_plan_stands_against_a_hard_one(people):
    checked = 0
    for person in people:
        patient = Patient.objects.get(clinic_number=person.story.number)
        assessments = patient.assessments.order_by("measured_day")
        assert [(TODAY - each.measured_day).days for each in assessments] == [
            wanted.days_ago for wanted in person.story.assessments
        ]
        assert bool(person.story.protocol) == patient.precautions.exists()
        if plan_page(patient, TODAY).in_force and patient.precautions.exists():
            assert not plan_page(patient, TODAY).in_force.barred, person.story.key
            checked += 1
    assert checked == 2
    first, last = Patient.objects.get(clinic_number="D-01").assessments.order_by("measured_day")
    typed = person_of(people, "steady").story.assessments[0].motions
    row = first.motions.get(motion="shoulder_abduction")
    assert typed["shoulder_abduction"] == "60 95p 3-"
    assert (row.active_deg, row.passive_deg, row.passive_pain, row.grade) == (60, 95, True, "3-")
    assert last.motions.count() == len(typed)


def person_of(people, key):
    return next(person for person in people if person.story.key == key)


def test_telephone_numbers_are_of_the_range_kept_for_drama(people):
    profile = ClinicProfile.objects.get()
    numbers = [profile.telephone]
    for patient in Patient.objects.all():
        numbers += [helper.telephone for helper in patient.home_helpers.all()]
        numbers += [episode.telephone for episode in patient.episodes.all() if episode.telephone]
    assert len(numbers) > 3
    assert all(re.fullmatch(r"01632 960\d{3}", number) for number in numbers)
    assert "demo" in profile.name


def run(*words):
    out = StringIO()
    call_command("demo", "--no-serve", *words, stdout=out)
    return out.getvalue()


@pytest.mark.django_db
def test_the_command_builds_the_demo_and_says_how_to_enter():
    said = run("--port", "8123")
    assert ClinicProfile.objects.get().is_demo
    assert Patient.objects.count() == 12
    for username in ("therapist", "student", "supervisor", "administrator"):
        assert re.search(rf"sign in as {username} +with {PASSWORD}", said)
        assert User.objects.get(username=username).check_password(PASSWORD)
    assert re.search(r"http://localhost:8123/home/join#[\w-]{43}\n", said)
    newest = max(Revision.objects.values_list("day", flat=True))
    assert newest >= timezone.now().date() - timedelta(3)


@pytest.mark.django_db
def test_running_it_again_keeps_all_and_gives_a_fresh_link():
    first = run()
    patient = Patient.objects.get(clinic_number="D-02")
    patient.name = "Bodkin Changed"
    patient.save()
    before = written()
    second = run()
    assert written() == before
    assert Patient.objects.get(clinic_number="D-02").name == "Bodkin Changed"
    assert re.findall(r"join#\S+", first) != re.findall(r"join#\S+", second)
    assert Invite.objects.count() == 1


@pytest.mark.django_db
def test_a_database_with_real_accounts_is_left_alone():
    UserFactory(username="real")
    with pytest.raises(CommandError, match=r"DATABASE_URL=sqlite:////path/demo\.sqlite3"):
        run()
    with pytest.raises(CommandError, match="left as it is"):
        run("--rebuild")
    assert User.objects.count() == 1
    assert not Patient.objects.exists()
    assert not ClinicProfile.objects.exists()


@pytest.mark.django_db
def test_a_database_with_tables_of_something_else_is_left_alone():
    with connection.cursor() as cursor:
        cursor.execute("CREATE TABLE somebody_elses (id integer)")
    with pytest.raises(CommandError, match="something other than the demo"):
        run()
    assert not ClinicProfile.objects.exists()


@pytest.mark.django_db(transaction=True)
def test_rebuilding_empties_the_demo_and_builds_it_anew():
    run()
    Patient.objects.filter(clinic_number="D-02").update(name="Bodkin Changed")
    run("--rebuild")
    assert Patient.objects.count() == 12
    assert Patient.objects.get(clinic_number="D-02").name == "Bodkin Fairweather"


def test_the_command_serves_what_it_built_at_the_port_asked_for(tmp_path):
    port = free_port()
    process = subprocess.Popen(
        [sys.executable, MANAGE, "demo", "--port", str(port)],
        env=environment(tmp_path),
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    try:
        _, page = wait_for(f"http://localhost:{port}", seconds=90)
        assert "Thistledown Arm and Hand Clinic (demo, all invented)" in page
    finally:
        process.terminate()
        out, err = process.communicate(timeout=40)
    assert process.returncode == 0, err
    assert f"Serving http://127.0.0.1:{port}, to be opened as http://localhost:{port}." in out
