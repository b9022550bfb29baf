"""Stop signs: what makes a patient stop and whom to ring, in three tiers.

Pure. fixtures/stop_signs.toml holds the words; reading is strict and names every problem.
"""

import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from clinic.languages import FALLBACK
from plans.catalogue import OPTIONAL, REQUIRED, CatalogueError
from plans.tables import Problem, TableReader

TIERS = ("emergency", "today", "next_visit")
"""The tiers, the most urgent first. The first two hold the plan until the clinic has answered."""

SIGN_KEY = re.compile(r"[a-z][a-z0-9_]{0,39}")

HOLDING = TIERS[:2]
"""The tiers of which a report holds what is due."""

CALLS = ("emergency", "clinic")


@dataclass(frozen=True)
class TierWords:
    """A tier in one language: its heading, what to do, and its signs."""

    heading: str
    do: str
    signs: tuple[str, ...]


@dataclass(frozen=True)
class Tier:
    """One tier; ``calls`` names whose telephone number stands beside it.

    ``sign_keys`` name its signs on record, in the order in which every language has them.
    """

    key: str
    sign_keys: tuple[str, ...]
    calls: str
    words_in: Mapping[str, TierWords]
    source: str

    @property
    def number(self) -> int:
        """Its place, from 1, the most urgent."""
        return TIERS.index(self.key) + 1

    @property
    def holds(self) -> bool:
        """Whether a report of it holds what is due until the clinic has answered."""
        return self.key in HOLDING

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
    keys = [key for tier in tiers for key in tier.sign_keys]
    if not problems and (twice := {key for key in keys if keys.count(key) > 1}):
        reader.refuse("tiers", f"sign {min(twice)!r} stands there twice")
    if problems:
        raise CatalogueError(problems)
    return tiers


def _tier(reader: TableReader, source: str) -> Tier:
    keys = tuple(reader.texts("sign_keys", 1, 12))
    tier = Tier(
        key=reader.choice("key", TIERS),
        sign_keys=keys,
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
    for key in keys:
        if not SIGN_KEY.fullmatch(key):
            reader.refuse("sign_keys", f"{key!r} is not small letters, digits and underscores")
    for language, words in tier.words_in.items():
        if len(words.signs) != len(keys):
            reader.refuse(f"words.{language}.signs", f"must be {len(keys)}, one for each sign key")
    return tier


def sign_for_staff(tiers: Sequence[Tier], key: str) -> str:
    """Return a sign in English words; its key where the clinic no longer has such a sign."""
    for tier in tiers:
        if key in tier.sign_keys:
            sign = tier.words_in[FALLBACK].signs[tier.sign_keys.index(key)]
            return sign.replace("{pain_limit}", "the limit")
    return key.replace("_", " ")
