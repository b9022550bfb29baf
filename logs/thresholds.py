"""The limits of the caseload's flags and of the review's words on pain: fixtures/thresholds.toml.

Pure. Read strictly: a limit that is missing, unknown or out of bounds is named.
"""

from dataclasses import dataclass, fields
from pathlib import Path

from logs.pain import ImportantDifference, PainLimits
from plans.threshold import Threshold, ThresholdsError, threshold_file


@dataclass(frozen=True, slots=True)
class Thresholds:
    """The limits by name."""

    quiet_days: Threshold
    low_percent: Threshold
    hurts_more_points: Threshold
    fewest_pain_days: Threshold
    overdone_times: Threshold
    plan_days: Threshold
    stop_emergency_minutes: Threshold
    stop_today_minutes: Threshold
    stop_next_visit_days: Threshold
    pain_safe_to: Threshold
    pain_acceptable_to: Threshold
    pain_settled_within: Threshold
    important_points: Threshold
    important_percent: Threshold
    weight_step_g: Threshold

    def of_flags(self) -> tuple[Threshold, ...]:
        """The limits of the caseload's flags."""
        return self.all()[: list(_BOUNDS).index("pain_safe_to")]

    def of_pain(self) -> tuple[Threshold, ...]:
        """The limits of the review's words on pain."""
        return self.all()[len(self.of_flags()) : list(_BOUNDS).index("weight_step_g")]

    @property
    def pain_limits(self) -> PainLimits:
        """Where zones of pain end, and what has settled by the next morning."""
        return PainLimits(
            safe_to=self.pain_safe_to.value,
            acceptable_to=self.pain_acceptable_to.value,
            settled_within=self.pain_settled_within.value,
        )

    @property
    def important_difference(self) -> ImportantDifference:
        """How much less pain matters."""
        return ImportantDifference(
            points=float(self.important_points.value),
            percent=float(self.important_percent.value),
            source=self.important_points.source,
        )

    def by_name(self) -> dict[str, Threshold]:
        """Every limit by its name in the file."""
        return dict(zip(_BOUNDS, self.all(), strict=True))

    def all(self) -> tuple[Threshold, ...]:
        """Every limit, in the order of the file that is shipped."""
        return tuple(getattr(self, field.name) for field in fields(self))


_BOUNDS = {
    "quiet_days": (1, 28),
    "low_percent": (1, 100),
    "hurts_more_points": (1, 10),
    "fewest_pain_days": (1, 14),
    "overdone_times": (1, 100),
    "plan_days": (1, 1000),
    "stop_emergency_minutes": (1, 1440),
    "stop_today_minutes": (1, 2880),
    "stop_next_visit_days": (1, 90),
    "pain_safe_to": (0, 10),
    "pain_acceptable_to": (0, 10),
    "pain_settled_within": (0, 10),
    "important_points": (1, 10),
    "important_percent": (1, 100),
    "weight_step_g": (50, 5000),
}


def read_thresholds(path: Path) -> Thresholds:
    """Return the limits of a file; ThresholdsError names the first thing wrong with it."""
    limits = Thresholds(**threshold_file(path, _BOUNDS))
    if limits.pain_safe_to.value > limits.pain_acceptable_to.value:
        raise ThresholdsError(f"{path.name}: [pain_safe_to] is at most [pain_acceptable_to]")
    return limits
