"""Strict reading of a parsed table (TOML or JSON): every problem gathered, none guessed away.

Pure. A :class:`TableReader` gives typed values and notes what is wrong; where a value is wrong it
gives a stand-in of the right type, so that reading goes on to the next problem. The caller must
look at ``problems`` before it uses what was read.
"""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

_KEY = re.compile(r"[a-z][a-z0-9]*(_[a-z0-9]+)*")


@dataclass(frozen=True)
class Problem:
    """One thing wrong with a table: where, in which record, in which field, and what."""

    where: str
    subject: str
    field: str
    message: str

    def __str__(self) -> str:
        parts = [self.where, self.subject, self.field, self.message]
        return ": ".join(part for part in parts if part)


class TableReader:
    """Reads one table, and the tables inside it, into one list of problems.

    >>> problems = []
    >>> reader = TableReader({"sets": 0}, where="a.toml", subject="a", problems=problems)
    >>> reader.integer("sets", 1, 20)
    1
    >>> print(problems[0])
    a.toml: a: sets: must be a whole number from 1 to 20, not 0
    """

    def __init__(
        self,
        table: Mapping[str, object],
        *,
        where: str,
        subject: str,
        problems: list[Problem],
        path: str = "",
    ) -> None:
        self._table = table
        self._where = where
        self._subject = subject
        self._problems = problems
        self._path = path
        self._seen: set[str] = set()

    def refuse(self, field: str, message: str) -> None:
        """Note a problem with ``field`` of this table."""
        self._problems.append(Problem(self._where, self._subject, self._path + field, message))

    def refuse_others(self) -> None:
        """Note every key that nobody has asked for."""
        for name in self._table:
            if name not in self._seen:
                self.refuse(name, "is not a known field")

    def text(self, field: str) -> str:
        """Return words that are not blank and have no space around them."""
        return self._text(field, self._value(field))

    def texts(self, field: str, at_least: int, at_most: int) -> list[str]:
        """Return a list of that many texts."""
        values = self._list(field, None, at_least, at_most)
        return [self._text(f"{field}[{n}]", value) for n, value in enumerate(values, 1)]

    def key(self, field: str) -> str:
        """Return a permanent name: small letters, digits and single underscores."""
        value = self._value(field)
        if isinstance(value, str) and _KEY.fullmatch(value):
            return value
        if value is not None:
            self.refuse(field, "must be small letters and digits joined by single underscores")
        return ""

    def optional_key(self, field: str) -> str | None:
        """Return a permanent name, or None where the field is absent."""
        self._seen.add(field)
        return self.key(field) if field in self._table else None

    def integer(self, field: str, low: int, high: int) -> int:
        """Return a whole number from ``low`` to ``high``."""
        value = self._value(field)
        if isinstance(value, int) and not isinstance(value, bool) and low <= value <= high:
            return value
        if value is not None:
            self.refuse(field, f"must be a whole number from {low} to {high}, not {value!r}")
        return low

    def optional_integer(self, field: str, low: int, high: int) -> int | None:
        """Return a whole number from ``low`` to ``high``, or None where the field is absent."""
        self._seen.add(field)
        return self.integer(field, low, high) if field in self._table else None

    def truth(self, field: str) -> bool:
        """Return true or false."""
        value = self._value(field)
        if isinstance(value, bool):
            return value
        if value is not None:
            self.refuse(field, "must be true or false")
        return False

    def choice[T: str](self, field: str, known: Iterable[T], default: T | None = None) -> T:
        """Return one of the known words; ``default`` where the field is absent."""
        words = list(known)
        self._seen.add(field)
        if default is not None and field not in self._table:
            return default
        return self._choice(field, self._value(field), words) or words[0]

    def optional_choice[T: str](self, field: str, known: Iterable[T]) -> T | None:
        """Return one of the known words, or None where the field is absent."""
        self._seen.add(field)
        return self.choice(field, known) if field in self._table else None

    def choices[T: str](
        self, field: str, known: Iterable[T], default: tuple[T, ...] | None = None
    ) -> list[T]:
        """Return a list of known words without repeats; ``default`` where absent."""
        words = list(known)
        found = []
        for n, value in enumerate(self._list(field, default, 0, len(words)), 1):
            word = self._choice(f"{field}[{n}]", value, words)
            if word is None:
                continue
            if word in found:
                self.refuse(f"{field}[{n}]", f'names "{word}" twice')
            found.append(word)
        return found

    def table(self, field: str) -> "TableReader":
        """Return a reader of the table in ``field``, empty where there is none."""
        return self._inner(field, self._value(field))

    def tables(self, field: str, at_least: int, at_most: int) -> list["TableReader"]:
        """Return a reader for each table of a list."""
        values = self._list(field, None, at_least, at_most)
        return [self._inner(f"{field}[{n}]", value) for n, value in enumerate(values, 1)]

    def tables_named(
        self, field: str, names: Iterable[str], optional: Iterable[str] = ()
    ) -> Iterable[tuple[str, "TableReader"]]:
        """Give a reader for each named table inside ``field``; other names are refused.

        Those of ``optional`` may be absent, and are then not given.
        What a caller did not ask of a table is refused before the next one is given.
        """
        outer = self.table(field)
        present = [name for name in optional if name in outer._table]
        for name in (*names, *present):
            inner = outer.table(name)
            yield name, inner
            inner.refuse_others()
        outer.refuse_others()

    def raw_tables(self, field: str) -> list[Mapping[str, object]]:
        """Return a list of tables as they are; empty where the field is absent."""
        values = self._list(field, (), 0, 1000)
        if not all(isinstance(value, Mapping) for value in values):
            self.refuse(field, "must be a list of tables")
        return [value for value in values if isinstance(value, Mapping)]

    def _value(self, field: str) -> object:
        self._seen.add(field)
        value = self._table.get(field)
        if value is None:
            self.refuse(field, "is missing")
        return value

    def _text(self, field: str, value: object) -> str:
        if isinstance(value, str) and value and value == value.strip():
            return value
        if value is not None:
            self.refuse(field, "must be words, not blank, without spaces around them")
        return ""

    def _choice[T: str](self, field: str, value: object, known: list[T]) -> T | None:
        for word in known:
            if value == word:
                return word
        if value is not None:
            self.refuse(field, f"{value!r} is not one of: {', '.join(known)}")
        return None

    def _list(
        self, field: str, default: tuple[object, ...] | None, at_least: int, at_most: int
    ) -> list[object]:
        self._seen.add(field)
        if default is not None and field not in self._table:
            return list(default)
        value = self._value(field)
        if isinstance(value, list) and at_least <= len(value) <= at_most:
            return value
        if value is not None:
            self.refuse(field, f"must be a list of {at_least} to {at_most}")
        return []

    def _inner(self, field: str, value: object) -> "TableReader":
        given = isinstance(value, Mapping)
        if value is not None and not given:
            self.refuse(field, "must be a table")
        return TableReader(
            value if isinstance(value, Mapping) else {},
            where=self._where,
            subject=self._subject,
            problems=self._problems if given else [],  # said once, not for each field inside
            path=f"{self._path}{field}.",
        )
