"""The database refuses what must never be, whoever writes: on SQLite and PostgreSQL alike."""

from datetime import date

import pytest
from django.db import IntegrityError, transaction
from django.utils import timezone

from clinic.models import AuditRow
from plans.actions import new_draft
from plans.models import ExerciseRevision, Line, PlanVersion
from tests.world import make_line


def refused(act) -> str:
    with pytest.raises(IntegrityError) as caught, transaction.atomic():
        act()
    return str(caught.value)


def test_an_issued_version_never_changes(world):
    issued = PlanVersion.objects.filter(pk=world.version.pk)
    for change in ({"pain_limit": 9}, {"effective_day": date(2026, 1, 1)}, {"state": "draft"}):
        assert "issued version never changes" in refused(lambda c=change: issued.update(**c))


def test_a_line_of_an_issued_version_never_changes_and_none_is_added(world):
    lines = Line.objects.filter(version=world.version)
    assert "never changes" in refused(lambda: lines.update(sets=9))
    assert "drafts only" in refused(lambda: make_line(world.version, key="sneaked_in"))


def test_a_draft_may_change(world):
    draft = new_draft(by=world.therapist, patient=world.patient)
    line = make_line(draft)
    assert Line.objects.filter(pk=line.pk).update(sets=2) == 1


def test_an_exercise_revision_and_an_audit_row_never_change(world):
    AuditRow.objects.create(at=timezone.now(), verb="looked", subject="x", actor="y")
    assert "revision never changes" in refused(
        lambda: ExerciseRevision.objects.update(table={"key": "other"})
    )
    assert "audit row never changes" in refused(lambda: AuditRow.objects.update(actor="z"))


def test_a_patient_has_one_open_version(world):
    new_draft(by=world.therapist, patient=world.patient)
    assert refused(lambda: new_draft(by=world.therapist, patient=world.patient))


def test_nobody_signs_their_own_version(world):
    draft = new_draft(by=world.therapist, patient=world.patient)
    own = {"issued_by": world.supervisor, "signed_by": world.supervisor}
    assert "nobody_signs_their_own" in refused(
        lambda: PlanVersion.objects.filter(pk=draft.pk).update(**own)
    )


def test_an_issued_version_has_a_day_and_the_signature_it_needed(world):
    draft = new_draft(by=world.student, patient=world.patient)
    mine = PlanVersion.objects.filter(pk=draft.pk)
    assert "issued_version_has_its_day" in refused(lambda: mine.update(state="issued"))
    unsigned = {
        "state": "issued",
        "needs_signature": True,
        "effective_day": date(2026, 4, 1),
        "issued_at": timezone.now(),
    }
    assert "is_signed_where_needed" in refused(lambda: mine.update(**unsigned))


@pytest.mark.parametrize(
    ("change", "constraint"),
    [
        ({"sets": 0}, "line_has_1_to_20_sets"),
        ({"amount_low": 12, "amount_high": 8}, "line_range_runs_upwards"),
        ({"sessions_per_day": 0}, "line_1_to_12_sessions_a_day"),
        ({"weekdays": 0}, "line_has_a_weekday"),
        ({"weekdays": 128}, "line_has_a_weekday"),
        ({"load_g": 500, "load_means": ""}, "load_names_its_means"),
        ({"unit": "seconds", "hold_s": 5}, "hold_belongs_to_repetitions"),
        ({"unit": "furlongs"}, "line_unit_is_known"),
    ],
)
def test_a_line_cannot_be_nonsense(world, change, constraint):
    line = make_line(new_draft(by=world.therapist, patient=world.patient))
    assert constraint in refused(lambda: Line.objects.filter(pk=line.pk).update(**change))


def test_a_line_key_stands_once_in_a_version(world):
    draft = new_draft(by=world.therapist, patient=world.patient)
    make_line(draft, key="lift")
    assert refused(lambda: make_line(draft, key="lift"))
