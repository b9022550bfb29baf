"""The assessment pages: entering, what changed, correcting, history, and who may see them."""

import re
from datetime import date

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from clinic.models import AuditRow
from patients.assessment_actions import Measures, record_assessment
from patients.measures_models import Assessment, MotionMeasure
from patients.models import Patient
from patients.precaution_models import Precaution
from tests.patients.measuring import record, typed

PAGES = ["assessment", "assessment_new"]


def text_of(answer):
    return " ".join(re.sub(r"<[^>]+>", " ", answer.content.decode()).split())


def page(client, world):
    return text_of(client.get(reverse("assessment", args=[world.patient.pk])))


def try_typing(client, world, **fields):
    """Post a form and return the answer, which a valid one redirects."""
    client.force_login(world.therapist, backend="django.contrib.auth.backends.ModelBackend")
    url = reverse("assessment_new", args=[world.patient.pk])
    return client.post(url, typed(world.therapist, **fields))


def test_everything_that_was_measured_is_kept(client, world):
    kept = record(
        client,
        world.patient,
        world.therapist,
        measured_day="2026-03-02",
        shoulder__method="inclinometer",
        shoulder__measured_in="lying_back",
        shoulder_flexion__left__active="95p",
        shoulder_flexion__left__passive="110",
        shoulder_flexion__left__grade="3-",
        shoulder_flexion__right__active="170",
        shoulder_external_rotation__left__active="n",
        elbow_extension__left__active="-15",
        pain_at_rest="0",
        pain_on_movement="4",
        grip_unit="lb",
        grip__left__1="20",
        grip__left__2="22.5",
        grip__left__3="24",
        grip__right__1="f",
        activity__1__words="Comb my hair",
        activity__1__score="3",
        tone__1__motion="elbow_flexion",
        tone__1__tone="slight",
        notes="Tires after three tries.",
    )
    rows = {(row.motion, row.side): row for row in kept.motions.all()}
    assert len(rows) == 4
    flexion = rows["shoulder_flexion", "left"]
    assert (flexion.active_deg, flexion.active_pain, flexion.passive_deg) == (95, True, 110)
    assert (flexion.grade, flexion.method, flexion.measured_in) == (
        "3-",
        "inclinometer",
        "lying_back",
    )
    assert rows["shoulder_external_rotation", "left"].active_not_tested == "not_allowed"
    assert rows["elbow_extension", "left"].active_deg == -15
    assert (kept.pain_at_rest, kept.pain_on_movement) == (0, 4)
    assert (kept.measured_by, kept.recorded_by) == (world.therapist, world.therapist)
    shown = page(client, world)
    for words in (
        "95°",
        "pain at the end",
        "110°",
        "3−",
        "inclinometer, lying on the back",
        "not tested: not allowed yet",
        "−15°",
        "10.1 kg (22.2 lb)",
        "needs the patient&#x27;s sex",
        "Trials: 20, 22.5, 24 lb",
        "not tested: cannot follow",
        "Comb my hair",
        "slightly raised",
        "Tires after three tries.",
    ):
        assert words in shown, words
    assert (
        AuditRow.objects.filter(verb="recorded assessment", patient=world.patient.pk).count() == 1
    )


@pytest.mark.parametrize(
    ("fields", "message"),
    [
        ({"shoulder_flexion__left__active": "201"}, "between -100° and 200°"),
        ({"shoulder_flexion__left__active": "-101"}, "between -100° and 200°"),
        ({"elbow_extension__left__passive": "21"}, "between -165° and 20°"),
        ({"shoulder_flexion__left__active": "ninety"}, "Type degrees"),
        ({"shoulder_flexion__left__grade": "6"}, "A grade is"),
        ({"pain_at_rest": "11"}, "whole number from 0 to 10"),
        ({"pain_at_rest": "3.5"}, "whole number from 0 to 10"),
        ({"grip__left__1": "130"}, "at most 120 kg"),
        ({"grip__left__2": "abc"}, "what the meter shows"),
        ({"grip__left__1": "x"}, "what the meter shows"),
        ({"activity__1__score": "4"}, "Which activity?"),
        ({"activity__1__words": "Knit"}, "Score it, or type why not"),
        ({"tone__1__tone": "low"}, "Say both the muscles and their tone"),
        ({"measured_day": "2999-01-01", "notes": "x"}, "of a day to come"),
        ({"measured_by": "other", "notes": "x"}, "Write who measured"),
        ({}, "Nothing is entered yet"),
    ],
)
def test_what_cannot_be_is_refused_and_kept_on_the_page(client, world, fields, message):
    answer = try_typing(client, world, elbow_flexion__right__active="", **fields)
    assert answer.status_code == 422
    html = answer.content.decode()
    assert message in html.replace("&#x27;", "'")
    for name, value in fields.items():
        if not name.endswith(("tone", "by")):
            assert f'value="{value}"' in html or f">{value}</textarea>" in html.replace("\n", "")
    assert not Assessment.objects.exists()


def test_choosing_joints_keeps_what_was_typed_and_saves_nothing(as_staff, world):
    client = as_staff(world.therapist)
    url = reverse("assessment_new", args=[world.patient.pk])
    sent = typed(world.therapist, elbow_flexion__left__active="95p") | {
        "joints": ["elbow", "wrist"],
        "show": "1",
    }
    del sent["keep"]
    answer = client.post(url, sent)
    html = answer.content.decode()
    assert answer.status_code == 200
    assert 'name="elbow_flexion-left-active" value="95p"' in html
    assert "wrist_extension-right-grade" in html
    assert "shoulder_flexion-left-active" not in html
    assert "Nothing is entered yet" not in html
    assert not Assessment.objects.exists()
    piece = client.post(url, sent, headers={"HX-Request": "true"}).content.decode()
    assert piece.strip().startswith('<div id="measures">')


def test_the_affected_side_comes_first_in_the_order_of_the_fields(as_staff, world):
    Patient.objects.filter(pk=world.patient.pk).update(affected_side="right")
    client = as_staff(world.therapist)
    html = client.get(reverse("assessment_new", args=[world.patient.pk])).content.decode()
    names = re.findall(r'name="((?:shoulder|elbow)_[a-z_]+-(?:left|right)-[a-z]+)"', html)
    assert names[:4] == [
        "shoulder_flexion-right-active",
        "shoulder_flexion-right-passive",
        "shoulder_flexion-right-grade",
        "shoulder_extension-right-active",
    ]
    shoulder = [name.split("-")[1] for name in names if name.startswith("shoulder_")]
    assert shoulder == ["right"] * 24 + ["left"] * 24


def test_the_next_form_takes_over_activities_and_ways_but_no_figures(client, world):
    record(
        client,
        world.patient,
        world.therapist,
        joints=("wrist",),
        wrist__method="by_eye",
        wrist_flexion__left__active="47",
        activity__1__words="Comb my hair",
        activity__1__score="3",
    )
    html = client.get(reverse("assessment_new", args=[world.patient.pk])).content.decode()
    assert 'value="Comb my hair"' in html
    assert '<option value="by_eye" selected>' in html
    assert 'value="47"' not in html
    assert "shoulder_flexion-left-active" not in html


def two_times(client, world, after_by=None, **change):
    """Record flexion 90 to 110 and the rest of ``change`` (before, after) a month apart."""
    for number, day in enumerate(("2026-03-02", "2026-04-02")):
        user = after_by if number and after_by else world.therapist
        fields = {name: pair[number] for name, pair in change.items()}
        record(client, world.patient, user, measured_day=day, **fields)
    return page(client, world)


def test_a_change_is_told_only_beyond_measurement_error(client, world):
    shown = two_times(
        client,
        world,
        shoulder_flexion__left__active=("90", "101"),
        shoulder_abduction__left__active=("90", "100"),
        elbow_flexion__left__active=("120", "114"),
        shoulder_flexion__left__grade=("2", "3"),
        pain_on_movement=("6", "4"),
        pain_at_rest=("2", "1"),
    )
    assert "101° ▲ 11° more" in shown
    assert "100° within measurement error" in shown
    assert "114° ▼ 6° less" in shown
    assert "3 ▲ stronger, was 2" in shown
    assert "On movement 4 ▼ 2 points less" in shown
    assert "At rest 1 within measurement error" in shown


def test_another_rater_needs_a_larger_change(client, world):
    shown = two_times(
        client,
        world,
        after_by=world.student,
        shoulder_flexion__left__active=("90", "110"),
        elbow_flexion__left__active=("100", "111"),
    )
    assert "110° within measurement error" in shown
    assert "111° ▲ 11° more" in shown


def test_pain_at_the_end_widens_a_shoulders_limit_between_raters(client, world):
    shown = two_times(
        client,
        world,
        after_by=world.student,
        shoulder_flexion__left__active=("90", "114"),
        shoulder_abduction__left__passive=("80p", "80"),
        shoulder_flexion__right__active=("90", "114"),
    )
    assert "114° within measurement error" in shown  # the painful left
    assert "114° ▲ 24° more" in shown  # the right never hurt


def test_someone_named_only_in_words_is_another_rater_every_time(client, world):
    shown = two_times(
        client,
        world,
        measured_by=("other", "other"),
        measured_by_other=("Dr Gale", "Dr Gale"),
        elbow_flexion__left__active=("100", "108"),
    )
    assert "Measured by Dr Gale" in shown
    assert "108° within measurement error" in shown


def test_activities_are_compared_by_their_words(client, world):
    fields = {}
    for number, (words, one, two) in enumerate(
        [("Comb my hair", "3", "6"), ("Cut bread", "4", "5"), ("Write", "2", "5")], 1
    ):
        fields[f"activity__{number}__words"] = (words, words)
        fields[f"activity__{number}__score"] = (one, two)
    shown = two_times(client, world, **fields)
    assert "Mean 5.3 2.3 points more" in shown
    assert "Comb my hair 6 ▲ 3 points more" in shown
    assert "Cut bread 5 within measurement error" in shown


def test_grip_stands_against_its_norm_and_its_last_mean(client, world):
    Patient.objects.filter(pk=world.patient.pk).update(
        sex="male", birth_date=date(2000, 6, 1), dominant_side="right"
    )
    trials = {f"grip__right__{n}": ("98", "112") for n in (1, 2, 3)}
    shown = two_times(client, world, grip_unit=("lb", "lb"), **trials)
    assert "50.8 kg (112.0 lb)" in shown
    assert "0.4 SD below the mean of men of 25 to 29, right hand (54.8 kg, SD 10.4)." in shown
    assert "▲ 6.4 kg more" in shown


def test_a_correction_replaces_and_both_stay_visible(client, world):
    first = record(
        client,
        world.patient,
        world.therapist,
        measured_day="2026-03-02",
        elbow_flexion__left__active="19",
        grip__left__1="20",
        pain_at_rest="t",
    )
    url = reverse("assessment_correct", args=[world.patient.pk, first.pk])
    html = client.get(url).content.decode()
    assert 'name="elbow_flexion-left-active" value="19"' in html
    assert 'name="grip-left-1" value="20.0"' in html
    assert 'name="pain_at_rest" value="t"' in html
    sent = typed(
        world.therapist,
        joints=("elbow",),
        measured_day="2026-03-02",
        elbow_flexion__left__active="119",
    )
    refused = client.post(url, sent | {"correction_reason": ""})
    assert refused.status_code == 422
    answer = client.post(url, sent | {"correction_reason": "typed 19 for 119"})
    assert answer.status_code == 302
    second = Assessment.objects.get(supersedes=first)
    assert second.motions.get().active_deg == 119
    shown = page(client, world)
    assert "119°" in shown
    assert "within measurement error" not in shown  # never against what it corrects
    old = text_of(client.get(reverse("assessment_record", args=[world.patient.pk, first.pk])))
    assert "19°" in old
    assert "a later record : typed 19 for 119" in old
    history = text_of(
        client.get(reverse("assessment_motion", args=[world.patient.pk, "elbow_flexion"]))
    )
    assert "119°" in history
    assert "corrected" in history
    assert AuditRow.objects.filter(verb="corrected assessment").count() == 1
    again = client.get(url)
    assert again["Location"] == reverse("assessment_record", args=[world.patient.pk, second.pk])
    assert client.post(url, sent | {"correction_reason": "once more"}).status_code == 302
    assert Assessment.objects.count() == 2


def limit(world, **fields):
    return Precaution.objects.create(
        from_day=date(2026, 3, 2),
        patient=world.patient,
        set_by="Dr Gale",
        source="letter",
        recorded_at=timezone.now(),
        **{"side": "left"} | fields,
    )


def test_precautions_stand_above_the_form_and_close_what_they_forbid(client, world):
    limit(world, kind="effort", joint="shoulder", effort="passive")
    kept = record(
        client,
        world.patient,
        world.therapist,
        shoulder_flexion__left__active="90",
        shoulder_flexion__left__passive="70",
        shoulder_flexion__left__grade="4",
        shoulder_flexion__right__grade="5",
        elbow_flexion__left__grade="4",
    )
    rows = {(row.motion, row.side): row for row in kept.motions.all()}
    flexion = rows["shoulder_flexion", "left"]
    assert (flexion.passive_deg, flexion.active_deg, flexion.grade) == (70, None, "")
    assert flexion.active_not_tested == flexion.grade_not_tested == "not_allowed"
    assert rows["shoulder_flexion", "right"].grade == "5"
    assert rows["elbow_flexion", "left"].grade == "4"
    answer = client.get(reverse("assessment_new", args=[world.patient.pk]))
    assert "Left shoulder: passive at most , set by Dr Gale" in text_of(answer)
    field = re.search(r'<input[^>]*name="shoulder_flexion-left-active"[^>]*>', str(answer.content))
    assert "disabled" in field[0]
    assert 'value="n"' in field[0]


def test_without_resisting_a_grade_goes_up_to_3_and_grip_is_closed(client, world):
    limit(world, kind="effort", effort="active")
    answer = try_typing(client, world, elbow_flexion__left__grade="3+")
    assert answer.status_code == 422
    assert "No resisting yet (left arm: active at most)" in answer.content.decode()
    kept = record(
        client,
        world.patient,
        world.therapist,
        elbow_flexion__left__grade="3",
        elbow_flexion__right__grade="5",
        grip__left__1="20",
        grip__right__1="30",
    )
    grips = {row.side: row for row in kept.grips.all()}
    assert (grips["left"].trials, grips["left"].not_tested) == ((), "not_allowed")
    assert grips["right"].trials == (30,)


def test_advice_and_lifted_precautions_close_nothing(client, world):
    limit(world, kind="effort", joint="elbow", effort="passive", is_hard=False)
    limit(
        world,
        kind="effort",
        joint="elbow",
        effort="passive",
        lifted_at=timezone.now(),
        lifted_by=world.therapist,
        lifted_why="healed",
    )
    kept = record(client, world.patient, world.therapist, elbow_flexion__left__active="90")
    assert kept.motions.get().active_deg == 90


def test_a_correction_keeps_what_was_measured_before_a_precaution(client, world):
    first = record(client, world.patient, world.therapist, elbow_flexion__left__active="90")
    limit(world, kind="effort", joint="elbow", effort="passive")
    sent = typed(world.therapist, joints=("elbow",), elbow_flexion__left__active="95")
    url = reverse("assessment_correct", args=[world.patient.pk, first.pk])
    assert client.post(url, sent | {"correction_reason": "read again"}).status_code == 302
    assert Assessment.objects.get(supersedes=first).motions.get().active_deg == 95


@pytest.mark.parametrize("change", [{"notes": "x"}, {"measured_day": date(2026, 1, 1)}])
def test_the_database_refuses_to_change_an_assessment(client, world, change):
    kept = record(client, world.patient, world.therapist, elbow_flexion__left__active="100")
    with transaction.atomic(), pytest.raises(IntegrityError, match="never changes"):
        Assessment.objects.filter(pk=kept.pk).update(**change)
    with transaction.atomic(), pytest.raises(IntegrityError, match="never changes"):
        MotionMeasure.objects.filter(assessment=kept).update(active_deg=120)


def test_a_failed_row_leaves_nothing_behind(world):
    twice = [
        MotionMeasure(motion="elbow_flexion", side="left", method="goniometer", active_deg=90)
        for _ in range(2)
    ]
    with transaction.atomic(), pytest.raises(IntegrityError):
        record_assessment(
            by=world.therapist,
            patient=world.patient,
            assessment=Assessment(measured_day=date(2026, 3, 2), measured_by=world.therapist),
            measures=Measures(motions=twice),
            today=date(2026, 3, 2),
        )
    assert not Assessment.objects.exists()
    assert not AuditRow.objects.filter(verb="recorded assessment").exists()


def test_queries_do_not_grow_with_assessments(client, world):
    counts = []
    for times in (1, 4):
        for number in range(times):
            record(
                client,
                world.patient,
                world.therapist,
                measured_day=f"2026-03-{number + times:02}",
                elbow_flexion__left__active="100",
                shoulder_flexion__right__grade="4",
                grip__left__1="20",
                activity__1__words="Knit",
                activity__1__score="3",
            )
        with CaptureQueriesContext(connection) as captured:
            client.get(reverse("assessment", args=[world.patient.pk]))
        counts.append(len(captured))
    assert counts[0] == counts[1]


@pytest.mark.parametrize("name", PAGES)
@pytest.mark.parametrize("who", ["outsider", "administrator"])
def test_a_stranger_finds_nothing(as_staff, world, name, who):
    client = as_staff(getattr(world, who))
    assert client.get(reverse(name, args=[world.patient.pk])).status_code == 404


def test_a_stranger_finds_no_record_motion_or_correction(client, world, as_staff):
    kept = record(client, world.patient, world.therapist, elbow_flexion__left__active="100")
    client = as_staff(world.outsider)
    for name, more in (
        ("assessment_record", kept.pk),
        ("assessment_correct", kept.pk),
        ("assessment_motion", "elbow_flexion"),
    ):
        assert client.get(reverse(name, args=[world.patient.pk, more])).status_code == 404
    assert client.post(reverse("assessment_new", args=[world.patient.pk])).status_code == 404


@pytest.mark.parametrize("who", ["therapist", "student", "supervisor"])
@pytest.mark.parametrize("name", PAGES)
def test_those_who_care_find_the_pages(as_staff, world, who, name):
    client = as_staff(getattr(world, who))
    assert client.get(reverse(name, args=[world.patient.pk])).status_code == 200
    assert (
        client.get(reverse("assessment_motion", args=[world.patient.pk, "no"])).status_code == 404
    )


def test_opening_is_on_record(as_staff, world):
    as_staff(world.therapist).get(reverse("assessment", args=[world.patient.pk]))
    assert AuditRow.objects.filter(verb="opened", subject="assessment").count() == 1
