"""What the issued plan shows of teach-back: each line with the last word on it."""

from dataclasses import dataclass

from patients.models import Patient
from plans.models import TeachBack
from plans.plan_page import ShownLine, ShownVersion
from plans.teaching_queries import teach_backs


@dataclass(frozen=True)
class TaughtLine:
    """A line, and how the patient last showed it, perhaps under an earlier version."""

    item: ShownLine
    last: TeachBack | None

    @property
    def is_of_another_step(self) -> bool:
        """Whether it was shown on another step than the one prescribed now."""
        return self.last is not None and self.last.line.step != self.item.line.step


def taught_lines(patient: Patient, shown: ShownVersion) -> list[TaughtLine]:
    """Return the lines of a version with their last teach-back (one query)."""
    known = teach_backs(patient)
    return [TaughtLine(item, known.get(item.line.key)) for item in shown.lines]
