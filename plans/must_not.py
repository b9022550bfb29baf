"""What a patient's arm must not do yet, on a day: the same sentences on sheet and phone."""

from dataclasses import dataclass
from datetime import date

from patients.models import Patient
from patients.precaution_queries import precautions_on
from plans.precaution_words import precaution_words, told


@dataclass(frozen=True)
class MustNot:
    """A heading, and a sentence for each hard precaution; with any, the last says until when."""

    heading: str
    sentences: tuple[str, ...]


def must_not(patient: Patient, *, language: str, day: date) -> MustNot:
    """Return what holds for a patient on a day, in a language that we offer (one or two queries).

    It is nothing where no hard precaution holds.
    """
    words = precaution_words(language)
    sentences = told(words, [precaution.limit for precaution in precautions_on(patient, day)])
    return MustNot(words.heading, (*sentences, words.until) if sentences else ())
