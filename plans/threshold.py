"""Limits that a clinic may set in a file: each with its value, what it means, and its source.

Pure. Read strictly: a limit that is missing, unknown or out of bounds is named.
"""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path


class ThresholdsError(ValueError):
    """What is wrong with the file, for the person who edits it."""


@dataclass(frozen=True, slots=True)
class Threshold:
    """One limit: its value, what it means, and its source."""

    value: int
    meaning: str
    source: str


def threshold_file(path: Path, bounds: Mapping[str, tuple[int, int]]) -> dict[str, Threshold]:
    """Return the limits of a file by name; ThresholdsError names the first thing wrong with it.

    ``bounds`` gives each limit's least and most.
    """
    try:
        tables = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise ThresholdsError(f"{path.name} can't be read: {error}") from error
    if unknown := sorted(tables.keys() - bounds.keys()):
        raise ThresholdsError(f"{path.name}: there is no limit called {unknown[0]}")
    return {
        name: _threshold(path.name, name, tables.get(name), *ends) for name, ends in bounds.items()
    }


def _threshold(file: str, name: str, table: object, lowest: int, highest: int) -> Threshold:
    if not isinstance(table, dict) or set(table) != {"value", "meaning", "source"}:
        raise ThresholdsError(f"{file}: [{name}] needs value, meaning and source, and no more")
    value, meaning, source = table["value"], table["meaning"], table["source"]
    if type(value) is not int or not lowest <= value <= highest:
        raise ThresholdsError(
            f"{file}: the value of [{name}] is a whole number from {lowest} to {highest}"
        )
    if not all(isinstance(text, str) and text.strip() for text in (meaning, source)):
        raise ThresholdsError(f"{file}: [{name}] says what it means and where it comes from")
    return Threshold(value, meaning, source)
