"""A supervisor's Friday: who needs a look, what waits for a signature, signed or sent back."""

from django.urls import reverse
from django.utils import timezone

from plans import actions
from plans.models import PlanVersion


def waiting_version(world) -> PlanVersion:
    """A version that the student has issued and that waits for a signature."""
    today = timezone.now().date()
    draft = actions.start_draft(by=world.student, patient=world.patient, today=today)
    return actions.issue_version(
        by=world.student, version=draft, today=today, effective_day=today, pain_limit=4
    )


def test_a_supervisor_signs_from_the_caseload(live_world, staff_page, violations):
    version = waiting_version(live_world)
    page = staff_page(live_world.supervisor)
    page.get_by_role("heading", name="Caseload").wait_for()
    assert violations(page) == []
    page.get_by_role("link", name="Read, then sign or send back").click()
    page.get_by_role("heading", name="Version 2").first.wait_for()
    page.get_by_role("button", name="Sign version 2").click()
    page.get_by_text("Version 2 is signed").wait_for()
    version.refresh_from_db()
    assert version.state == PlanVersion.State.ISSUED
    assert version.signed_by == live_world.supervisor


def test_a_supervisor_sends_back_and_the_student_reads_why(live_world, staff_page):
    version = waiting_version(live_world)
    page = staff_page(live_world.supervisor)
    page.get_by_role("link", name="Read, then sign or send back").click()
    page.get_by_role("textbox").fill("Ease the elbow first.")
    page.get_by_role("button", name="Send back").click()
    page.get_by_text("went back as a draft").wait_for()
    version.refresh_from_db()
    assert version.state == PlanVersion.State.DRAFT
    page = staff_page(live_world.student, reverse("draft", args=[live_world.patient.pk]))
    page.get_by_text("Ease the elbow first.").wait_for()


def test_the_caseload_downloads_as_a_table(live_world, staff_page):
    page = staff_page(live_world.supervisor)
    with page.expect_download() as download:
        page.get_by_role("link", name="Download as CSV").click()
    text = download.value.path().read_text()
    assert live_world.patient.clinic_number in text
    assert len(text.splitlines()) == 2
