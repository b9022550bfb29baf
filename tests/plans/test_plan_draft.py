"""The plan builder: adding, changing, moving, easing, taking out, by script or without."""

import pytest
from django.urls import reverse

from clinic.models import AuditRow
from plans.actions import start_draft
from plans.models import PlanVersion
from tests.world import FIRST_DAY, PatientFactory, join, make_line, stock

HTMX = {"HX-Request": "true", "HX-Target": "lines"}


@pytest.fixture
def draft(world):
    return start_draft(by=world.therapist, patient=world.patient, today=FIRST_DAY)


def url(name, world, *args):
    return reverse(name, args=[world.patient.pk, *args])


def fields_of(line, **changes):
    """What the line's form sends when nothing is changed, but for ``changes``."""
    return {
        "step": line.step,
        "side": line.side,
        "sets": line.sets,
        "amount_low": line.amount_low,
        "amount_high": line.amount_high,
        "hold_s": line.hold_s,
        "pace_s": line.pace_s,
        "rest_s": line.rest_s,
        "load_means": line.load_means,
        "load_kg": "",
        "sessions_per_day": line.sessions_per_day,
        "days": sorted(line.weekday_set),
        "note_patient": line.note_patient,
        "note_staff": line.note_staff,
        "episode": line.episode_id or "",
        "home_helper": line.home_helper_id or "",
    } | changes


def test_starting_takes_along_the_lines_in_force(as_staff, world):
    client = as_staff(world.therapist)
    answer = client.post(url("draft_start", world))
    assert answer["Location"] == url("draft", world)
    page = client.get(answer["Location"])
    assert "Draft of version 2" in page.content.decode()
    assert [line.line.key for line in page.context["shown"].lines] == [
        line.key for line in world.version.lines.all()
    ]


def test_without_a_draft_the_builder_leads_to_the_plan(as_staff, world):
    answer = as_staff(world.therapist).get(url("draft", world))
    assert answer["Location"] == url("plan", world)


def test_opening_the_builder_changes_nothing(as_staff, world):
    as_staff(world.therapist).get(url("draft", world))
    assert PlanVersion.objects.count() == 1


def test_an_exercise_is_added_with_its_usual_dose_on_its_lowest_step(as_staff, world, draft):
    stock("wrist_bend_back")
    client = as_staff(world.therapist)
    answer = client.post(url("line_add", world), {"pick": "wrist_bend_back:"})
    line = draft.lines.get(revision__exercise__key="wrist_bend_back")
    assert answer["Location"] == f"{url('draft', world)}#line-{line.pk}"
    assert line.step == line.revision.table["steps"][0]["effort"]
    assert line.sets == line.revision.table["dose"]["sets"]
    assert line.side == "left"
    assert AuditRow.objects.filter(verb="added line", patient=world.patient.pk).count() == 1


def test_an_exercise_is_added_on_the_step_chosen(as_staff, world, draft):
    stock("wrist_bend_back")
    as_staff(world.therapist).post(url("line_add", world), {"pick": "wrist_bend_back:active"})
    assert draft.lines.get(revision__exercise__key="wrist_bend_back").step == "active"


def test_what_is_not_in_the_catalogue_is_refused(as_staff, world, draft):
    client = as_staff(world.therapist)
    page = client.post(url("line_add", world), {"pick": "no_such_thing:active"}, follow=True)
    assert "not in the catalogue" in page.content.decode()
    assert draft.lines.count() == 2


def test_with_htmx_only_the_lines_come_back(as_staff, world, draft):
    stock("wrist_bend_back")
    answer = as_staff(world.therapist).post(
        url("line_add", world), {"pick": "wrist_bend_back:"}, headers=HTMX
    )
    text = answer.content.decode()
    assert text.lstrip().startswith('<div id="lines">')
    assert "<html" not in text
    assert "Added " in text
    assert 'name="seen_edits" form="issue" value="1"' in text


def test_a_line_opens_in_place_by_a_plain_link(as_staff, world, draft):
    line = draft.lines.first()
    page = as_staff(world.therapist).get(f"{url('draft', world)}?open={line.pk}")
    text = page.content.decode()
    assert text.count('class="line-form"') == 1
    assert f'action="{url("line_change", world, line.pk)}"' in text


def test_a_line_is_changed(as_staff, world, draft):
    line = draft.lines.first()
    client = as_staff(world.therapist)
    typed = fields_of(line, sets=3, amount_high=12, days=[0, 2, 4], note_patient="Slowly")
    answer = client.post(url("line_change", world, line.pk), typed)
    assert answer["Location"] == f"{url('draft', world)}#line-{line.pk}"
    line.refresh_from_db()
    assert (line.sets, line.amount_high, line.weekdays) == (3, 12, 0b10101)
    assert line.note_patient == "Slowly"
    assert AuditRow.objects.filter(verb="changed line", patient=world.patient.pk).count() == 1


def test_a_wrong_line_stays_open_with_what_was_typed(as_staff, world, draft):
    line = draft.lines.first()
    client = as_staff(world.therapist)
    typed = fields_of(line, amount_low=12, amount_high=8, days=[], note_patient="Keep me")
    page = client.post(url("line_change", world, line.pk), typed)
    text = page.content.decode()
    assert page.status_code == 422
    assert "The range ends below its beginning." in text
    assert "Tick at least one day." in text
    assert 'value="Keep me"' in text
    line.refresh_from_db()
    assert line.note_patient == ""
    fragment = client.post(url("line_change", world, line.pk), typed, headers=HTMX)
    assert fragment.status_code == 200
    assert 'value="Keep me"' in fragment.content.decode()


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"load_means": "held", "load_kg": "1"}, "Only a resisted step has a load"),
        ({"step": "resisted", "load_kg": "1"}, "Say what gives the load."),
        ({"step": "resisted", "load_means": "band", "load_kg": "1"}, "Only a weight has kilograms"),
        ({"sets": "0"}, "greater than or equal to 1"),
        ({"step": "leaping"}, "Select a valid choice"),
    ],
)
def test_a_dose_that_contradicts_itself_is_refused(as_staff, world, draft, changes, words):
    line = draft.lines.get(revision__exercise__key="elbow_bend_sitting")
    line.step = "active"
    page = as_staff(world.therapist).post(
        url("line_change", world, line.pk), fields_of(line, **changes)
    )
    assert page.status_code == 422
    assert words in page.content.decode()


def test_a_weight_is_kept_in_grams(as_staff, world, draft):
    line = draft.lines.get(revision__exercise__key="elbow_bend_sitting")
    typed = fields_of(line, step="resisted", load_means="held", load_kg="1.25")
    as_staff(world.therapist).post(url("line_change", world, line.pk), typed)
    line.refresh_from_db()
    assert (line.load_g, line.load_means) == (1250, "held")


def test_harder_and_easier_go_along_the_ladder_and_a_load_never_lags_behind(as_staff, world, draft):
    line = draft.lines.get(revision__exercise__key="elbow_bend_sitting")
    ladder = [step["effort"] for step in line.revision.table["steps"]]
    line.step = ladder[0]
    line.save()
    client = as_staff(world.therapist)
    key = line.key
    for step in ladder[1:]:
        client.post(url("line_step", world, line.pk, "harder"))
        line.refresh_from_db()
        assert line.step == step
    assert line.load_means
    page = client.post(url("line_step", world, line.pk, "harder"), follow=True)
    assert "highest step" in page.content.decode()
    line.load_g = 1000
    line.save()
    client.post(url("line_step", world, line.pk, "easier"))
    line.refresh_from_db()
    assert (line.step, line.load_g, line.load_means) == (ladder[-2], 0, "")
    assert line.key == key


def test_a_weight_not_chosen_yet_is_flagged(as_staff, world, draft):
    line = draft.lines.get(revision__exercise__key="elbow_bend_sitting")
    line.step, line.load_means = "resisted", "held"
    line.save()
    page = as_staff(world.therapist).get(url("draft", world))
    assert "choose the weight" in page.content.decode()


def test_lines_move(as_staff, world, draft):
    first, second = draft.lines.all()
    client = as_staff(world.therapist)
    client.post(url("line_move", world, second.pk, "up"))
    assert list(draft.lines.all()) == [second, first]
    client.post(url("line_move", world, second.pk, "down"))
    assert list(draft.lines.all()) == [first, second]


def test_a_line_taken_out_is_put_back_where_it_was_under_its_key(as_staff, world, draft):
    first, second = draft.lines.all()
    first.note_patient, first.pace_s, first.episode = "Thumb up", "4.5", world.episode
    first.save()
    client = as_staff(world.therapist)
    page = client.post(url("line_remove", world, first.pk), follow=True)
    assert "Taken out: " in page.content.decode()
    assert list(draft.lines.all()) == [second]
    client.post(url("line_restore", world))
    back = draft.lines.first()
    assert (back.key, back.note_patient, float(back.pace_s)) == (first.key, "Thumb up", 4.5)
    assert back.episode == world.episode
    page = client.post(url("line_restore", world), follow=True)
    assert "nothing to put back" in page.content.decode()


def test_a_line_that_is_gone_is_said_so(as_staff, world, draft):
    line = draft.lines.first()
    client = as_staff(world.therapist)
    client.post(url("line_remove", world, line.pk))
    page = client.post(url("line_move", world, line.pk, "up"), follow=True)
    assert "no longer in the draft" in page.content.decode()


def test_a_line_of_another_version_cannot_be_reached_through_the_draft(as_staff, world, draft):
    issued = world.version.lines.first()
    client = as_staff(world.therapist)
    page = client.post(url("line_remove", world, issued.pk), follow=True)
    assert "no longer in the draft" in page.content.decode()
    assert world.version.lines.count() == 2


def test_a_line_of_another_patient_cannot_be_reached(as_staff, world, draft):
    other = PatientFactory()
    join(other, world.therapist)
    theirs = start_draft(by=world.therapist, patient=other, today=FIRST_DAY)
    line = make_line(theirs)
    as_staff(world.therapist).post(url("line_remove", world, line.pk))
    assert theirs.lines.count() == 1


def test_another_patients_helper_and_episode_are_no_choice(as_staff, world, draft):
    other = PatientFactory()
    helper = other.home_helpers.create(name="Someone Else")
    line = draft.lines.first()
    page = as_staff(world.therapist).post(
        url("line_change", world, line.pk), fields_of(line, home_helper=helper.pk)
    )
    assert page.status_code == 422
    assert "Someone Else" not in page.content.decode()


def test_the_draft_is_discarded(as_staff, world, draft):
    client = as_staff(world.therapist)
    answer = client.post(url("draft_discard", world))
    assert answer["Location"] == url("plan", world)
    assert PlanVersion.objects.get() == world.version


def test_changes_without_a_draft_are_refused_with_what_to_do(as_staff, world):
    client = as_staff(world.therapist)
    page = client.post(url("line_add", world), {"pick": "wrist_bend_back:"}, follow=True)
    assert "There is no draft any more." in page.content.decode()
    answer = client.post(url("line_add", world), {}, headers=HTMX)
    assert answer["HX-Redirect"] == url("plan", world)


def test_searching_as_one_types_returns_only_what_is_found(as_staff, world, draft):
    client = as_staff(world.therapist)
    answer = client.get(
        url("draft", world), {"q": "elbow"}, headers={"HX-Request": "true", "HX-Target": "found"}
    )
    text = answer.content.decode()
    assert text.lstrip().startswith('<div id="found" data-words="elbow">')
    assert "elbow_bend_sitting:" in text
    assert "arm_lift_forward_lying:" not in text


def test_searching_works_as_a_plain_form_with_words_and_cautions_shown(as_staff, world, draft):
    page = as_staff(world.therapist).get(url("draft", world), {"q": "elbow", "joint": "elbow"})
    text = page.content.decode()
    exercise = page.context["hits"][0]
    assert exercise.exercise.key == "elbow_bend_sitting"
    assert exercise.words.cautions[0] in text
    assert exercise.steps[0].do[0] in text
    assert exercise.dose in text
    assert "Draft of version 2" in text


def test_a_choice_that_is_none_narrows_nothing(as_staff, world, draft):
    page = as_staff(world.therapist).get(url("draft", world), {"joint": "knee"})
    assert page.context["hit_count"] == 2


def test_the_builder_asks_the_database_the_same_whatever_the_lines(
    as_staff, world, draft, django_assert_num_queries, django_assert_max_num_queries
):
    client = as_staff(world.therapist)
    client.get(url("draft", world))
    with django_assert_max_num_queries(21) as few:
        client.get(url("draft", world))
    for number in range(10):
        make_line(draft, key=f"more-{number}")
    with django_assert_num_queries(len(few.captured_queries)):
        client.get(url("draft", world))
    with django_assert_max_num_queries(8):
        client.get(url("draft", world), {"q": "arm"}, headers=HTMX | {"HX-Target": "found"})
