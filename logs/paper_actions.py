"""Saving a week of the paper diary: all in one transaction, or nothing."""

import json
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from uuid import UUID

from django.db import transaction

from clinic.actions import ActionRefused
from clinic.models import User
from logs.actions import (
    Outcome,
    Performed,
    Told,
    mark_heard,
    record_revision,
    strike_entry,
    unmark_heard,
)
from logs.models import Entry, HeardDay, MissedReason, Performance, Revision
from logs.paper import SCORES, PaperSession, PaperWeek, Place
from logs.paper_forms import TypedWeek
from logs.review_actions import say_why_missed
from patients.models import Patient
from plans.models import Line, PlanVersion
from plans.queries import versions_of

EMPTIED = "emptied in the paper diary"


class SessionMoved(ActionRefused):
    """Somebody changed a session while it was being typed; ``place`` says which."""

    def __init__(self, place: Place) -> None:
        super().__init__(
            "This session was changed by someone else while you typed. Open the week again to "
            "see it; what you typed here is not saved."
        )
        self.place = place


@dataclass(frozen=True)
class WeekSaved:
    """What saving did, in counts."""

    typed: int
    changed: int
    emptied: int
    heard: int
    unheard: int
    reasons: int = 0

    @property
    def words(self) -> str:
        """What was done, in a sentence."""
        parts = [
            _count(self.typed, "session typed in", "sessions typed in"),
            _count(self.changed, "session changed", "sessions changed"),
            _count(self.emptied, "session struck out as emptied", "sessions struck out as emptied"),
            _count(self.heard, "day marked heard", "days marked heard"),
            _count(self.unheard, "day no longer marked heard", "days no longer marked heard"),
            _count(self.reasons, "reason kept", "reasons kept"),
        ]
        said = ", ".join(part for part in parts if part)
        return f"Saved: {said}." if said else "Nothing was changed."


def _count(number: int, one: str, more: str) -> str:
    return f"{number} {one if number == 1 else more}" if number else ""


@transaction.atomic
def save_week(
    *, by: User, patient: Patient, week: PaperWeek, typed: TypedWeek, today: date
) -> WeekSaved:
    """Save what was typed: new sessions, corrections as revisions, emptied ones struck out.

    A correction keeps the source and the version of what it corrects. Sending the same
    form twice stores nothing twice. SessionMoved when a session isn't what the form was made from.
    """
    issued = versions_of(patient).filter(state=PlanVersion.State.ISSUED)
    versions = {version.number: version for version in issued}
    counts = {"typed": 0, "changed": 0, "emptied": 0}
    days_typed = set()
    for place in week.places:
        done = _save_session(by, patient, week, typed, place, versions)
        if done:
            counts[done] += 1
            days_typed.add(place.day)
    heard = set(typed.ticked)
    if typed.ticks_follow_typing:
        heard |= days_typed
    heard = {day for day in heard if day < today}
    marked = set(
        HeardDay.objects.filter(patient=patient, day__in=week.days).values_list("day", flat=True)
    )
    return WeekSaved(
        **counts,
        heard=mark_heard(patient=patient, days=heard, source=typed.source, by=by),
        unheard=unmark_heard(patient=patient, days=marked - heard, by=by),
        reasons=_save_reasons(by, patient, week, typed, today),
    )


def _save_reasons(
    by: User, patient: Patient, week: PaperWeek, typed: TypedWeek, today: date
) -> int:
    """Keep why days were missed where that was changed; return of how many days it was."""
    rows = MissedReason.objects.filter(patient=patient, day__in=week.days, occasion__isnull=True)
    known = dict(rows.values_list("day", "reason"))
    changed = [
        day for day, reason in typed.reasons.items() if day < today and reason != known.get(day, "")
    ]
    for day in changed:
        say_why_missed(
            by=by,
            patient=patient,
            day=day,
            reason=typed.reasons[day],
            today=today,
            source=typed.source,
        )
    return len(changed)


def _said(was: Performance | None, amounts: tuple[int, ...]) -> dict[str, str | None]:
    """What an earlier telling said of a line, where the amounts still are what it said."""
    if was is None or tuple(was.amounts) != amounts:
        return {}
    return {"ended": was.ended, "why": was.why, "step": was.step}


def _save_session(
    by: User,
    patient: Patient,
    week: PaperWeek,
    typed: TypedWeek,
    place: Place,
    versions: Mapping[int, PlanVersion],
) -> str:
    """Save one place of the week; return what that was, or nothing."""
    session = typed.sessions[place]
    present = week.typed.get(place)
    if present.session.says_the_same(session) if present else session.is_empty:
        return ""
    revision = _revision_uuid(typed, place, session)
    if present and present.revision == str(revision):
        return ""  # the same form, sent again
    if (present.revision if present else "") != typed.was[place]:
        raise SessionMoved(place)
    if present and session.is_empty:
        strike_entry(by=by, entry=Entry.objects.get(pk=present.entry), reason=EMPTIED)
        return "emptied"
    outcome = record_revision(
        patient=patient,
        entry=UUID(present.entry) if present else revision,
        revision=revision,
        replaces=UUID(present.revision) if present else None,
        told=_told(typed, place, session, week, versions),
        user=by,
    )
    if outcome is not Outcome.STORED:
        raise SessionMoved(place)
    return "changed" if present else "typed"


def _revision_uuid(typed: TypedWeek, place: Place, session: PaperSession) -> UUID:
    """Name a revision by the form that it came from and what it says, so that a repeat is known."""
    content = [
        place.name,
        typed.was[place],
        sorted((key, list(done)) for key, done in session.amounts.items() if done),
        session.scores,
        session.note,
        *([sorted(session.loads.items())] if session.loads else []),
    ]
    return uuid.uuid5(typed.token, json.dumps(content))


def _told(
    typed: TypedWeek,
    place: Place,
    session: PaperSession,
    week: PaperWeek,
    versions: Mapping[int, PlanVersion],
) -> Told:
    present = week.typed.get(place)
    before = Revision.objects.get(pk=present.revision) if present else None
    earlier = {done.line.key: done for done in _performances(before)}
    seen = present.version if present else None
    numbers = [number for number in (seen, week.in_force[place.day]) if number is not None]
    performances = []
    for key, amounts in session.amounts.items():
        was = earlier.get(key)
        if not amounts and not (was and not was.amounts and (was.ended or was.why)):
            continue
        performances.append(
            Performed(
                line=was.line if was else _line(key, [versions[number] for number in numbers]),
                amounts=amounts,
                load_g=session.loads.get(key),
                is_confirmed=was.is_confirmed if was and tuple(was.amounts) == amounts else True,
                hurt=was.hurt if was else None,
                **_said(was, amounts),
            )
        )
    return Told(
        day=place.day,
        occasion=place.number,
        source=before.source if before else typed.source,
        version=versions[numbers[0]] if numbers else None,
        performances=tuple(performances),
        note=session.note,
        began_at=before.began_at if before else None,
        time_zone=before.time_zone if before else "",
        **dict(zip(SCORES, session.scores, strict=True)),
    )


def _performances(revision: Revision | None) -> list[Performance]:
    return list(revision.performances.select_related("line")) if revision else []


def _line(key: str, versions: Sequence[PlanVersion]) -> Line:
    """The line of that key in the first version that has it."""
    return next(line for version in versions for line in version.lines.all() if line.key == key)
