"""Writes of the catalogue: revisions are added, never changed."""

import hashlib
from collections.abc import Iterable

from django.db import transaction
from django.utils import timezone

from clinic.actions import ActionRefused, write_audit
from clinic.models import Role, User
from plans import catalogue
from plans.models import Exercise, ExerciseRevision
from plans.queries import current_revision, table_text

MAY_WRITE = frozenset({Role.THERAPIST, Role.SUPERVISOR})
"""Who adds and changes exercises; others look at them."""


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


@transaction.atomic
def save_exercise(
    *, by: User, exercise: catalogue.Exercise, after: int, verb: str = "changed exercise"
) -> ExerciseRevision:
    """Add what a person wrote as a revision of its own; earlier ones, and issued lines, stay.

    ``after`` is the number of the revision that it was written from, 0 for a new key. Refused to
    whoever may not write exercises, where somebody else wrote in the meantime, and where nothing
    changed.
    """
    if by.role not in MAY_WRITE:
        raise ActionRefused("Therapists and supervisors change exercises; ask one of them.")
    newest = current_revision(exercise.key)
    number = newest.number if newest else 0
    if number and not after:
        raise ActionRefused(f"There is an exercise {exercise.key} already: take another key.")
    if number != after:
        raise ActionRefused(
            f"Somebody else changed {exercise.key} while you wrote (revision {number}). What you "
            "typed is kept here: compare it with the newer one before you save it over that."
        )
    if newest and catalogue.read_exercise(newest.table, where=exercise.key) == exercise:
        raise ActionRefused("Nothing differs from the present revision, so nothing was saved.")
    revision = add_revision(by=by, exercise=exercise)
    write_audit(user=by, verb=verb, subject=exercise.key, revision=revision.number)
    return revision


def _hash(exercise: catalogue.Exercise) -> str:
    return hashlib.sha256(table_text(exercise.as_table()).encode()).hexdigest()
