"""The limits of the caseload's flags, as fixtures/thresholds.toml gives them.

Pure. Read strictly: a limit that is missing, unknown or out of bounds is named.
"""

import tomllib
from dataclasses import dataclass, fields
from pathlib import Path


class ThresholdsError(ValueError):
    """What is wrong with the file, for the person who edits it."""


@dataclass(frozen=True, slots=True)
class Threshold:
    """One limit: its value, what it means, and its source."""

    value: int
    meaning: str
    source: str


@dataclass(frozen=True, slots=True)
class Thresholds:
    """The limits by name."""

    quiet_days: Threshold
    low_percent: Threshold
    hurts_more_points: Threshold
    fewest_pain_days: Threshold
    overdone_times: Threshold
    plan_days: Threshold

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
}


def read_thresholds(path: Path) -> Thresholds:
    """Return the limits of a file; ThresholdsError names the first thing wrong with it."""
    try:
        tables = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise ThresholdsError(f"{path.name} can't be read: {error}") from error
    if unknown := sorted(tables.keys() - _BOUNDS.keys()):
        raise ThresholdsError(f"{path.name}: there is no limit called {unknown[0]}")
    return Thresholds(**{name: _threshold(path.name, name, tables.get(name)) for name in _BOUNDS})


def _threshold(file: str, name: str, table: object) -> Threshold:
    if not isinstance(table, dict) or set(table) != {"value", "meaning", "source"}:
        raise ThresholdsError(f"{file}: [{name}] needs value, meaning and source, and no more")
    value, meaning, source = table["value"], table["meaning"], table["source"]
    lowest, highest = _BOUNDS[name]
    if type(value) is not int or not lowest <= value <= highest:
        raise ThresholdsError(
            f"{file}: the value of [{name}] is a whole number from {lowest} to {highest}"
        )
    if not all(isinstance(text, str) and text.strip() for text in (meaning, source)):
        raise ThresholdsError(f"{file}: [{name}] says what it means and where it comes from")
    return Threshold(value, meaning, source)
