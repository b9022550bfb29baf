"""JSON text as values, with the line and column of every value and key.

Pure. Stricter than the standard library's reading where a slip could pass unseen: a key given
twice, NaN and Infinity, unheard-of numbers and characters that no database keeps are refused.
Numbers with a fraction are Decimals, so that 0.1 stays 0.1.

>>> document = read_json('{"sets": 3,\\n "days": ["mon"]}')
>>> document.value
{'sets': 3, 'days': ['mon']}
>>> document.place(("days", 0))
Place(line=2, column=11)
>>> document.key_place(("days",))
Place(line=2, column=2)
"""

import json
import re
from dataclasses import dataclass, field
from decimal import Decimal
from typing import NamedTuple, NoReturn

type Json = dict[str, Json] | list[Json] | str | int | Decimal | bool | None
type Path = tuple[str | int, ...]

DEEPEST = 20
_SPACE = re.compile(r"[ \t\r\n]*")
_NUMBER = re.compile(r"-?(?:0|[1-9]\d{0,17})(?:\.\d{1,17})?(?:[eE][+-]?\d{1,2})?(?![\w.+-])", re.A)
_WORD = re.compile(r"[^\s,\]}:]*")
_CONSTANTS: dict[str, bool | None] = {"true": True, "false": False, "null": None}
# Control characters but tab and line ends, and halves of surrogate pairs.
_UNKEEPABLE = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\ud800-\udfff]")


class Place(NamedTuple):
    """Where something stands in a file; both count from 1, columns in characters."""

    line: int
    column: int


class JsonError(ValueError):
    """What is wrong with the text, and where: every problem found, in the order of the text."""

    def __init__(self, problems: list[tuple[Place, str]]) -> None:
        self.problems = sorted(problems)
        super().__init__("; ".join(f"{p.line}:{p.column}: {reason}" for p, reason in self.problems))


@dataclass(frozen=True)
class Document:
    """A value and the places of what is in it, by path from the outermost value."""

    value: Json
    places: dict[Path, Place]
    key_places: dict[Path, Place]

    def place(self, path: Path) -> Place:
        """Return where the value of a path begins; for one not there, what it would be in."""
        while path not in self.places:
            path = path[:-1]
        return self.places[path]

    def key_place(self, path: Path) -> Place:
        """Return where the key that ends a path stands; for a list's element, the element."""
        return self.key_places.get(path) or self.place(path)


def decode(content: bytes) -> str:
    """Return a file's text, which must be UTF-8 (with or without a mark); JsonError if not."""
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        before = content[: error.start].decode("utf-8", errors="replace")
        raise JsonError([(_place(before, len(before)), "is not UTF-8: save it as UTF-8")]) from None


def read_json(text: str) -> Document:
    """Return the document that a JSON text holds. Raises JsonError."""
    reader = _Reader(text)
    value = reader.document()
    if reader.problems:
        raise JsonError(reader.problems)
    return Document(value, reader.places, reader.key_places)


def _place(text: str, at: int) -> Place:
    return Place(text.count("\n", 0, at) + 1, at - text.rfind("\n", 0, at))


@dataclass
class _Reader:
    text: str
    at: int = 0
    places: dict[Path, Place] = field(default_factory=dict)
    key_places: dict[Path, Place] = field(default_factory=dict)
    problems: list[tuple[Place, str]] = field(default_factory=list)

    def document(self) -> Json:
        value = self._value(())
        if self._next():
            self._stop("something follows the end of the document")
        return value

    def _value(self, path: Path) -> Json:
        found = self._next()
        self.places[path] = _place(self.text, self.at)
        if len(path) > DEEPEST:
            self._stop(f"is nested more than {DEEPEST} deep")
        if found == "{":
            return self._object(path)
        if found == "[":
            return self._list(path)
        if found == '"':
            return self._string()
        return self._number_or_constant()

    def _object(self, path: Path) -> dict[str, Json]:
        values: dict[str, Json] = {}
        self.at += 1
        if self._next() == "}":
            self.at += 1
            return values
        while True:
            if self._next() != '"':
                self._stop("expected a key in double quotes" + self._comma_hint())
            start = self.at
            key = self._string()
            if key in values:
                self.problems.append(
                    (_place(self.text, start), f'the key "{key}" is given twice here')
                )
            else:
                self.key_places[*path, key] = _place(self.text, start)
            if self._next() != ":":
                self._stop(f'expected a colon after "{key}"')
            self.at += 1
            values[key] = self._value((*path, key))
            if self._ends("}"):
                return values

    def _list(self, path: Path) -> list[Json]:
        values: list[Json] = []
        self.at += 1
        if self._next() == "]":
            self.at += 1
            return values
        while True:
            if self._next() == "]":
                self._stop("expected a value" + self._comma_hint())
            values.append(self._value((*path, len(values))))
            if self._ends("]"):
                return values

    def _ends(self, bracket: str) -> bool:
        """Pass the comma or the closing bracket; say whether it was the bracket."""
        found = self._next()
        if found not in (bracket, ","):
            self._stop(f"expected a comma or {bracket}")
        self.at += 1
        return found == bracket

    def _string(self) -> str:
        start = self.at
        try:
            value, self.at = json.JSONDecoder().raw_decode(self.text, start)
        except json.JSONDecodeError as error:
            if error.msg.startswith("Unterminated"):
                self._stop("this text has no closing quotation mark")
            self.at = error.pos
            if error.msg.startswith("Invalid control"):
                self._stop("a line end or control character stands inside a text")
            self._stop("a backslash stands before something that it can't stand before")
        if _UNKEEPABLE.search(value):
            self.problems.append(
                (_place(self.text, start), "this text has a character that can't be kept")
            )
        return str(value)

    def _number_or_constant(self) -> Json:
        if number := _NUMBER.match(self.text, self.at):
            self.at = number.end()
            value = Decimal(number[0])
            return int(value) if value == value.to_integral_value() else value
        word = _WORD.match(self.text, self.at)
        found = word[0] if word else ""
        if found in _CONSTANTS:
            self.at += len(found)
            return _CONSTANTS[found]
        if not found:
            self._stop("expected a value" if self.at < len(self.text) else "the text ends too soon")
        if found.startswith(("//", "#", "/*")):
            self._stop("notes have no place in JSON: take this out")
        if found.lower() in _CONSTANTS:
            self._stop(f"write {found.lower()} in small letters")
        self._stop(
            f"{found[:30]} is not a number that can be kept"
            if found.lstrip("+-.")[:1].isdigit() or found.lstrip("+-") in ("NaN", "Infinity")
            else "write text in double quotes"
        )

    def _next(self) -> str:
        """Pass white space; return the character there, or nothing at the end."""
        space = _SPACE.match(self.text, self.at)
        self.at = space.end() if space else self.at
        return self.text[self.at : self.at + 1]

    def _comma_hint(self) -> str:
        return ": take out the comma before" if self.text[: self.at].rstrip()[-1:] == "," else ""

    def _stop(self, reason: str) -> NoReturn:
        raise JsonError([*self.problems, (_place(self.text, self.at), reason)])
