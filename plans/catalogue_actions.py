"""Writes of the catalogue: revisions are added, never changed."""

import hashlib
from collections.abc import Iterable

from django.db import transaction
from django.utils import timezone

from clinic.actions import write_audit
from clinic.models import User
from plans import catalogue
from plans.models import Exercise, ExerciseRevision
from plans.queries import table_text


@transaction.atomic
def stock_catalogue(
    *, by: User | None, exercises: Iterable[catalogue.Exercise]
) -> list[ExerciseRevision]:
    """Add what is new or changed as revisions; return those added. Repeating it adds nothing.

    An exercise whose newest revision a person of this clinic wrote is left alone.
    """
    newest = {
        revision.exercise.key: revision
        for revision in ExerciseRevision.objects.select_related("exercise").order_by("number")
    }
    added = []
    for exercise in exercises:
        present = newest.get(exercise.key)
        if present and (present.added_by_id or present.table_hash == _hash(exercise)):
            continue
        added.append(add_revision(by=by, exercise=exercise))
    if added:
        write_audit(user=by, verb="stocked catalogue", subject=f"{len(added)} exercise revisions")
    return added


def add_revision(*, by: User | None, exercise: catalogue.Exercise) -> ExerciseRevision:
    """Add an exercise as it now stands; the first revision also adds its key."""
    row, _ = Exercise.objects.get_or_create(key=exercise.key)
    last = row.revisions.order_by("-number").first()
    return ExerciseRevision.objects.create(
        exercise=row,
        number=last.number + 1 if last else 1,
        table=exercise.as_table(),
        table_hash=_hash(exercise),
        added_at=timezone.now(),
        added_by=by,
    )


def _hash(exercise: catalogue.Exercise) -> str:
    return hashlib.sha256(table_text(exercise.as_table()).encode()).hexdigest()
