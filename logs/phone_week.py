"""How the week stands, for the patient: by the meanings of the review, and never as a score."""

from collections.abc import Collection, Sequence
from datetime import date, timedelta

from logs.adherence import session_adherence_of
from logs.counting import DayFacts
from logs.holds import Hold, held_numbers
from logs.queries import tellings_in
from logs.review_queries import words_on_pairs
from patients.models import Patient
from plans.schedule import PauseSpan, Version, Window, occasions


def week_so_far(
    patient: Patient,
    versions: Sequence[Version],
    pauses: Sequence[PauseSpan],
    holds: Collection[Hold],
    today: date,
) -> dict[str, tuple[int, int]]:
    """Return sessions done and due on each day of the week so far, by ISO 8601 (three queries)."""
    window = Window(today - timedelta(days=today.weekday()), today)
    tellings = tellings_in(patient, window)
    sessions = [telling.session for telling in tellings if telling.strike is None]
    asked = occasions(versions, pauses, window)
    facts = DayFacts.of(
        versions=versions,
        occasions=asked,
        sessions=sessions,
        held=held_numbers(
            holds,
            [
                *((occasion.day, occasion.number) for occasion in asked),
                *((session.day, session.number) for session in sessions),
            ],
        ),
        told_apart=[pair for pair, is_same in words_on_pairs(patient).items() if not is_same],
        window=window,
        today=today,
    )
    days = session_adherence_of(facts, heard=()).days
    return {tally.day.isoformat(): (tally.done, tally.due) for tally in days}
