"""The precautions page: set by hand or from a protocol, kept, lifted; and who may."""

from datetime import date, timedelta

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse
from django.utils import timezone

from clinic.http import today_in
from clinic.models import AuditRow
from patients.precaution_models import Precaution, PrecautionReview

TODAY = today_in("Europe/London")


def url(name, world, *args):
    return reverse(name, args=[world.patient.pk, *args])


@pytest.fixture
def operated(world):
    world.episode.operation_day = TODAY - timedelta(weeks=3)
    world.episode.save()
    return world


def make(world, **fields):
    fields = {
        "kind": "angle",
        "side": "left",
        "motion": "shoulder_flexion",
        "limit_deg": 60,
        "from_day": TODAY,
        "set_by": "Dr Mason Reed",
        "source": "letter of the surgeon",
        "recorded_at": timezone.now(),
    } | fields
    return Precaution.objects.create(patient=world.patient, **fields)


def typed(**changes):
    return {
        "kind": "angle",
        "side": "left",
        "part": "shoulder_flexion",
        "limit_deg": "60",
        "is_hard": "hard",
        "from_day": TODAY.isoformat(),
        "set_by": "Dr Mason Reed",
        "source": "letter of the surgeon",
    } | changes


def test_one_is_set_by_hand_and_stands_on_the_page_and_over_every_page(as_staff, world):
    client = as_staff(world.therapist)
    assert "No precaution is on record" in client.get(url("precautions", world)).content.decode()
    answer = client.post(url("precaution_new", world), typed())
    assert answer["Location"] == url("precautions", world)
    precaution = Precaution.objects.get()
    assert precaution.limit.words == "left shoulder flexion no further than 60°"
    assert precaution.recorded_by == world.therapist
    assert AuditRow.objects.filter(verb="set precaution", patient=world.patient.pk).exists()
    for page in ("precautions", "plan", "patient"):
        text = client.get(url(page, world)).content.decode()
        assert "1 precaution</a>" in text
        assert "left shoulder flexion no further than 60°" in text


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"kind": "effort", "part": "shoulder", "effort": "passive"}, "shoulder: passive at most"),
        ({"kind": "load", "part": "", "limit_kg": "0.5"}, "left arm: at most 0.5 kg"),
        ({"kind": "load", "part": "", "limit_kg": "0"}, "left arm: no load"),
        ({"kind": "bearing", "part": ""}, "left arm: no weight-bearing"),
        ({"kind": "position", "part": "", "position": "lying_side"}, "not lying on the side"),
        ({"kind": "traction", "part": ""}, "no hanging or pulling"),
        ({"kind": "orthosis", "part": ""}, "orthosis stays on"),
        (
            {
                "kind": "together",
                "part": "",
                "motion_1": "shoulder_extension",
                "beyond_1": "0",
                "motion_2": "shoulder_internal_rotation",
                "beyond_2": "30",
            },
            "not together: shoulder extension beyond 0°, shoulder internal rotation beyond 30°",
        ),
    ],
)
def test_every_kind_can_be_set(as_staff, world, fields, words):
    form = {name: text for name, text in typed().items() if name != "limit_deg"} | fields
    answer = as_staff(world.therapist).post(url("precaution_new", world), form)
    assert answer.status_code == 302
    assert words in Precaution.objects.get().limit.words


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"part": "shoulder"}, "An angle is of one motion"),
        ({"limit_deg": ""}, "This is needed."),
        ({"effort": "passive"}, "This belongs to: the highest effort."),
        ({"kind": "bearing"}, "This belongs to: an angle, up to"),
        ({"from_day": ""}, "Say from which day or week."),
        ({"from_week": "2"}, "A day or a week, not both."),
        ({"from_day": "", "from_week": "2"}, "choose it."),
        ({"until_day": (TODAY - timedelta(days=1)).isoformat()}, "before it begins"),
        ({"set_by": ""}, "This field is required."),
        ({"source": ""}, "This field is required."),
    ],
)
def test_what_can_not_be_meant_is_refused_and_kept(as_staff, world, changes, words):
    answer = as_staff(world.therapist).post(
        url("precaution_new", world), typed(note="Rings on Friday") | changes
    )
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert "Rings on Friday" in answer.content.decode()
    assert not Precaution.objects.exists()


def test_weeks_need_a_day_to_count_from(as_staff, world):
    weeks = typed(from_day="", from_week="0", episode=world.episode.pk)
    client = as_staff(world.therapist)
    answer = client.post(url("precaution_new", world), weeks)
    assert "no day of operation or injury" in answer.content.decode()
    world.episode.operation_day = TODAY - timedelta(weeks=3)
    world.episode.save()
    assert client.post(url("precaution_new", world), weeks).status_code == 302
    assert Precaution.objects.get().span.first_day == world.episode.operation_day


class TestProtocols:
    def test_an_example_says_so_and_is_accepted_one_by_one(self, as_staff, operated):
        client = as_staff(operated.therapist)
        page = url("precautions", operated)
        text = client.get(page, {"protocol": "cuff_repair"}).content.decode()
        assert "An example, not an order." in text
        assert "Thigpen et al. 2016" in text
        accept = url("protocol_accept", operated, "cuff_repair")
        form = {"episode": operated.episode.pk, "side": "left", "ticked": ["0", "3"]}
        unsigned = client.post(accept, form | {"set_by": ""})
        assert unsigned.status_code == 422
        assert 'value="3" checked' in unsigned.content.decode()
        assert 'value="1" checked' not in unsigned.content.decode()
        client.post(accept, form | {"set_by": "Dr Mason Reed"})
        effort, bearing = Precaution.objects.all()
        assert (effort.effort, effort.from_week, effort.until_week) == ("passive", 0, 6)
        assert bearing.kind == "bearing"
        assert effort.set_by == "Dr Mason Reed"
        assert "week 6" in client.get(page).content.decode()

    def test_one_may_be_edited_first(self, as_staff, operated):
        text = (
            as_staff(operated.therapist)
            .get(url("precaution_new", operated), {"protocol": "cuff_repair", "edit": "0"})
            .content.decode()
        )
        assert '<option value="passive" selected' in text
        assert '<option value="shoulder" selected' in text

    def test_none_without_a_day_to_count_from(self, as_staff, world):
        answer = as_staff(world.therapist).post(
            url("protocol_accept", world, "cuff_repair"),
            {"episode": world.episode.pk, "side": "left", "ticked": ["0"], "set_by": "Dr Reed"},
        )
        assert "no day of operation or injury" in answer.content.decode()
        assert not Precaution.objects.exists()


class TestLifting:
    def test_it_holds_past_its_review_until_a_named_person_lifts_it(self, as_staff, world):
        past = make(world, from_day=TODAY - timedelta(days=9), until_day=TODAY - timedelta(days=2))
        client = as_staff(world.therapist)
        text = client.get(url("precautions", world)).content.decode()
        assert "review: lift or keep" in text
        assert "1 precaution</a>" in text
        client.post(url("precaution_lift", world, past.pk), {"why": "Cleared by Dr Reed"})
        past.refresh_from_db()
        assert past.lifted_by == world.therapist
        text = client.get(url("precautions", world)).content.decode()
        assert "Cleared by Dr Reed" in text
        assert "1 precaution</a>" not in text

    def test_it_may_be_kept_with_another_day_to_look_at_it(self, as_staff, world):
        past = make(world, from_day=TODAY - timedelta(days=9), until_day=TODAY - timedelta(days=2))
        later = TODAY + timedelta(days=14)
        client = as_staff(world.therapist)
        form = {"why": "X-ray shows no union yet", "until_day": later.isoformat()}
        client.post(url("precaution_keep", world, past.pk), form)
        assert PrecautionReview.objects.get().reviewed_by == world.therapist
        text = client.get(url("precautions", world)).content.decode()
        assert "review: lift or keep" not in text
        assert "X-ray shows no union yet" in text

    def test_not_without_a_reason_nor_by_a_student_nor_twice(self, as_staff, world):
        row = make(world)
        lift = url("precaution_lift", world, row.pk)
        said = as_staff(world.therapist).post(lift, {"why": " "}, follow=True)
        assert "Write why it is lifted" in said.content.decode()
        said = as_staff(world.student).post(lift, {"why": "Looks fine"}, follow=True)
        assert "A therapist or a supervisor lifts" in said.content.decode()
        row.refresh_from_db()
        assert row.lifted_at is None
        as_staff(world.supervisor).post(lift, {"why": "Cleared"})
        said = as_staff(world.therapist).post(lift, {"why": "Cleared again"}, follow=True)
        assert "lifted already" in said.content.decode()
        row.refresh_from_db()
        assert row.lifted_why == "Cleared"


def test_an_outsider_finds_nothing(as_staff, world):
    row = make(world)
    for who in (world.outsider, world.administrator):
        client = as_staff(who)
        assert client.get(url("precautions", world)).status_code == 404
        assert client.post(url("precaution_new", world), typed()).status_code == 404
        assert client.post(url("precaution_lift", world, row.pk), {"why": "x"}).status_code == 404
    row.refresh_from_db()
    assert row.lifted_at is None


@pytest.mark.parametrize(
    "change",
    [{"limit_deg": 170}, {"is_hard": False}, {"from_day": date(2030, 1, 1)}, {"side": "right"}],
)
def test_the_database_refuses_to_change_one(world, change):
    row = make(world)
    with pytest.raises(IntegrityError, match="never changes"), transaction.atomic():
        Precaution.objects.filter(pk=row.pk).update(**change)


@pytest.mark.parametrize(
    "fields",
    [
        {"limit_deg": None},
        {"motion": ""},
        {"motion": "hip_flexion"},
        {"kind": "effort"},
        {"kind": "load", "limit_deg": None, "motion": ""},
        {"joint": "shoulder"},
        {"from_day": None},
        {"from_week": 2},
        {"from_day": None, "from_week": 2},
        {"until_day": TODAY - timedelta(days=1)},
        {"set_by": ""},
        {"source": ""},
        {"lifted_at": timezone.now()},
    ],
)
def test_the_database_refuses_nonsense(world, fields):
    with pytest.raises(IntegrityError), transaction.atomic():
        make(world, **fields)
