"""Stop signs: what makes a patient stop and whom to ring, in three tiers.

Pure. fixtures/stop_signs.toml holds the words; reading is strict and names every problem.
"""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from clinic.languages import FALLBACK
from plans.catalogue import OPTIONAL, REQUIRED, CatalogueError
from plans.tables import Problem, TableReader

TIERS = ("emergency", "today", "next_visit")
"""The tiers, the most urgent first. The first two hold the plan until the clinic has answered."""

CALLS = ("emergency", "clinic")


@dataclass(frozen=True)
class TierWords:
    """A tier in one language: its heading, what to do, and its signs."""

    heading: str
    do: str
    signs: tuple[str, ...]


@dataclass(frozen=True)
class Tier:
    """One tier; ``calls`` names whose telephone number stands beside it."""

    key: str
    calls: str
    words_in: Mapping[str, TierWords]
    source: str

    @property
    def number(self) -> int:
        """Its place, from 1, the most urgent."""
        return TIERS.index(self.key) + 1

    def words(self, language: str, pain_limit: int) -> TierWords:
        """Return its words with the plan's pain limit in place; English for other languages."""
        words = self.words_in.get(language, self.words_in[FALLBACK])
        limit = str(pain_limit)
        return TierWords(
            heading=words.heading,
            do=words.do,
            signs=tuple(sign.replace("{pain_limit}", limit) for sign in words.signs),
        )


def read_stop_signs(path: Path) -> tuple[Tier, ...]:
    """Return the three tiers, the most urgent first. Raises CatalogueError with every problem."""
    problems: list[Problem] = []
    try:
        table = tomllib.loads(path.read_text(encoding="utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:  # the message has line, column
        raise CatalogueError([Problem(path.name, "", "", str(error))]) from None
    reader = TableReader(table, where=path.name, subject="", problems=problems)
    source = reader.text("source")
    tiers = tuple(_tier(tier, source) for tier in reader.tables("tiers", len(TIERS), len(TIERS)))
    reader.refuse_others()
    if not problems and [tier.key for tier in tiers] != list(TIERS):
        reader.refuse("tiers", f"must be {', '.join(TIERS)}, in that order")
    if problems:
        raise CatalogueError(problems)
    return tiers


def _tier(reader: TableReader, source: str) -> Tier:
    tier = Tier(
        key=reader.choice("key", TIERS),
        calls=reader.choice("calls", CALLS),
        words_in={
            language: TierWords(
                heading=words.text("heading"),
                do=words.text("do"),
                signs=tuple(words.texts("signs", 1, 12)),
            )
            for language, words in reader.tables_named("words", REQUIRED, OPTIONAL)
        },
        source=source,
    )
    reader.refuse_others()
    return tier
