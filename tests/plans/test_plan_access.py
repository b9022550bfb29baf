"""Who reaches the plan pages: the care team and supervisors; to anyone else nothing is there."""

import pytest
from django.urls import get_resolver, reverse

from clinic.http import today_in
from plans import actions
from plans.models import PlanVersion

NAMES = [
    "plan",
    "pause_add",
    "pause_end",
    "pause_strike",
    "plan_version",
    "version_sign",
    "version_send_back",
    "draft",
    "draft_start",
    "draft_discard",
    "draft_issue",
    "line_add",
    "line_restore",
    "line_change",
    "line_move",
    "line_step",
    "line_remove",
]
PAGES = ["plan", "plan_version", "draft"]


@pytest.fixture
def address(world):
    """Return a function from a page's name to its address, for rows that all exist."""
    today = today_in("Europe/London")
    pause = actions.add_pause(
        by=world.therapist,
        patient=world.patient,
        first_day=today,
        last_day=None,
        reason="Away",
        today=today,
    )
    draft = actions.start_draft(by=world.therapist, patient=world.patient, today=today)
    values = {
        "pk": world.patient.pk,
        "version_pk": world.version.pk,
        "pause_pk": pause.pk,
        "line_pk": draft.lines.first().pk,
        "way": "up",
    }

    def of(name):
        wanted = get_resolver().reverse_dict.getlist(name)[0][0][0][1]
        return reverse(name, kwargs={key: values[key] for key in wanted})

    return of


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("who", ["outsider", "administrator"])
def test_to_an_outsider_nothing_is_there(as_staff, world, address, name, who):
    client = as_staff(getattr(world, who))
    method = client.get if name in PAGES else client.post
    assert method(address(name)).status_code == 404
    draft = PlanVersion.objects.get(state="draft")
    assert (draft.edits, draft.lines.count()) == (0, 2)


@pytest.mark.parametrize("name", NAMES)
def test_whoever_is_not_signed_in_is_asked_to(client, world, address, name):
    method = client.get if name in PAGES else client.post
    answer = method(address(name))
    assert answer.status_code == 302
    assert answer["Location"].startswith(reverse("sign_in"))


@pytest.mark.parametrize("name", [name for name in NAMES if name not in PAGES])
def test_nothing_is_changed_by_following_a_link(as_staff, world, address, name):
    assert as_staff(world.therapist).get(address(name)).status_code == 405


@pytest.mark.parametrize("who", ["therapist", "student", "supervisor"])
def test_the_care_team_and_supervisors_build_plans(as_staff, world, address, who):
    client = as_staff(getattr(world, who))
    for name in PAGES:
        assert client.get(address(name)).status_code == 200
