"""Measures of an assessment in words, and the history of one motion."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from patients.assessment import Grade, Method, NotTested
from patients.measurement_error import Change
from patients.measures_models import Assessment, MeasuredIn, MotionMeasure

PAIN_AT_END = "pain at the end"


@dataclass(frozen=True)
class Cell:
    """One measure in words: its value, what goes with it, and the change since ``before``."""

    value: str = ""
    note: str = ""
    change: Change | None = None
    before: str = ""
    before_day: date | None = None

    @property
    def hurts(self) -> bool:
        """Whether the end of range hurt."""
        return self.note == PAIN_AT_END


@dataclass(frozen=True)
class SideCells:
    """A motion of one side."""

    side: str
    active: Cell
    passive: Cell
    grade: Cell


def how_measured(row: MotionMeasure) -> str:
    """Return method and position in words."""
    where = MeasuredIn(row.measured_in).label if row.measured_in else ""
    return ", ".join(filter(None, (Method(row.method).label, where)))


def range_cell(row: MotionMeasure, what: str) -> Cell:
    """Return the active or passive range of a row in words, without a comparison."""
    value, pain = getattr(row, f"{what}_deg"), getattr(row, f"{what}_pain")
    if value is not None:
        return Cell(degrees(value), PAIN_AT_END if pain else "")
    return Cell(note=why_not(getattr(row, f"{what}_not_tested")))


def grade_cell(row: MotionMeasure) -> Cell:
    """Return the grade of a row in words, without a comparison."""
    if row.grade:
        return Cell(Grade.from_text(row.grade).label)
    return Cell(note=why_not(row.grade_not_tested))


@dataclass(frozen=True)
class HistoryRow:
    """One assessment's measures of a motion."""

    assessment: Assessment
    how: str
    is_corrected: bool
    sides: tuple[SideCells, ...]


def history_rows(rows: Iterable[MotionMeasure], order: Sequence[str]) -> list[HistoryRow]:
    """Return a motion's measures, one row an assessment, in the order given."""
    grouped: dict[int, list[MotionMeasure]] = {}
    for row in rows:
        grouped.setdefault(row.assessment_id, []).append(row)
    return [
        HistoryRow(
            assessment=found[0].assessment,
            how=how_measured(found[0]),
            is_corrected=hasattr(found[0].assessment, "superseded_by"),
            sides=tuple(_plain(found, side) for side in order),
        )
        for found in grouped.values()
    ]


def _plain(rows: Sequence[MotionMeasure], side: str) -> SideCells:
    row = next((row for row in rows if row.side == side), None)
    if row is None:
        return SideCells(side, Cell(), Cell(), Cell())
    return SideCells(side, range_cell(row, "active"), range_cell(row, "passive"), grade_cell(row))


def degrees(value: int) -> str:
    """Return an angle with a true minus sign."""
    return f"{value}°".replace("-", "−")


def why_not(not_tested: str) -> str:
    """Return why a measure was not taken, in words; nothing where it was."""
    return f"not tested: {NotTested(not_tested).label}" if not_tested else ""
