"""The file by which a phone hands over what waits on it, where it never reaches the clinic.

Pure. fixtures/handover.schema.json describes the form. The records, and the reasons for missed
sessions, are those that the phone would have sent; the file names nobody, only the word by which
the phone knows its owner. Its sum is the CRC-32 (ISO 3309, as in RFC 1952 section 8) of everything
else in it as JSON in canonical form (RFC 8785), so that it stays right when a program sets the file
out anew: it shows damage on the way, and is no signature.

>>> sum_of({"v": 1, "form": "handover"})
'b52a78e9'
"""

import json
import zlib
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import NoReturn
from uuid import UUID

from plans.jsonfile import Document, Json, JsonError, Path, Place, decode, read_json

FORM = "handover"
VERSION = 2
LARGEST_BYTES = 2 * 1024 * 1024
MOST_RECORDS = 2000
KEYS = {
    1: ("form", "v", "owner", "store", "made_at", "records", "sum"),
    2: ("form", "v", "owner", "store", "made_at", "records", "missed", "sum"),
}
"""What a file of each version has; the first knew no reasons for missed sessions."""


@dataclass(frozen=True)
class Handover:
    """What a file holds: whose phone it was, its store's id, and what the phone has to tell.

    That is ``records``, and in ``missed`` why days' sessions were missed; ``places`` and
    ``missed_places`` say where each begins, ``owner_place`` where the owner stands.
    """

    owner: str
    store: UUID
    made_at: datetime
    records: tuple[Json, ...]
    places: tuple[Place, ...]
    missed: tuple[Json, ...]
    missed_places: tuple[Place, ...]
    owner_place: Place


def sum_of(file: dict[str, Json]) -> str:
    """Return the sum of a file, in eight hexadecimal digits; a sum in it is left out."""
    rest = {key: value for key, value in file.items() if key != "sum"}
    text = json.dumps(
        rest, sort_keys=True, ensure_ascii=False, separators=(",", ":"), default=_as_number
    )
    return f"{zlib.crc32(text.encode('utf-8')):08x}"


def _as_number(value: object) -> float:
    if isinstance(value, Decimal):
        return float(value)
    raise TypeError(f"no JSON: {value!r}")


def read_handover(content: bytes) -> Handover:
    """Return what a file says; JsonError with line, column and reason where it is broken.

    The records themselves are read one by one when they are stored.
    """
    if len(content) > LARGEST_BYTES:
        _refuse(
            Place(1, 1), f"the file is larger than {LARGEST_BYTES // 1024**2} MB: no phone made it"
        )
    return _Reader(read_json(decode(content))).handover()


def _refuse(place: Place, reason: str) -> NoReturn:
    raise JsonError([(place, reason)])


class _Reader:
    """Reads one document, and says where it isn't what it must be."""

    def __init__(self, document: Document) -> None:
        self.document = document

    def refuse(self, path: Path, reason: str) -> NoReturn:
        _refuse(self.document.place(path), reason)

    def handover(self) -> Handover:
        file = self.document.value
        if not isinstance(file, dict) or file.get("form") != FORM:
            self.refuse((), "this is no hand-over file of a phone")
        version = file.get("v")
        if type(version) is int and version > VERSION:
            self.refuse(
                ("v",), "was made by a newer page than this server knows: update the server"
            )
        if type(version) is not int or version not in KEYS:
            self.refuse(("v",), f"v: must be 1 to {VERSION}")
        for key in file:
            if key not in KEYS[version]:
                _refuse(self.document.key_place((key,)), f"{key}: is not known here")
        for key in KEYS[version]:
            if key not in file:
                self.refuse((), f"{key}: is missing")
        records = self.list_of(file, "records")
        missed = self.list_of(file, "missed") if version > 1 else ()
        if not records and not missed:
            self.refuse(("records",), "records: must be a list with at least one record")
        if file["sum"] != sum_of(file):
            self.refuse(
                ("sum",),
                "sum: doesn't fit, so the file was changed or damaged on its way. "
                "Have the phone hand it over again",
            )
        return Handover(
            owner=self.text("owner"),
            store=self.uuid("store"),
            made_at=self.instant("made_at"),
            records=records,
            places=self.places("records", records),
            missed=missed,
            missed_places=self.places("missed", missed),
            owner_place=self.document.place(("owner",)),
        )

    def list_of(self, file: dict[str, Json], key: str) -> tuple[Json, ...]:
        value = file[key]
        if not isinstance(value, list):
            self.refuse((key,), f"{key}: must be a list")
        if len(value) > MOST_RECORDS:
            self.refuse((key,), f"{key}: must not be more than {MOST_RECORDS}")
        return tuple(value)

    def places(self, key: str, values: tuple[Json, ...]) -> tuple[Place, ...]:
        return tuple(self.document.place((key, n)) for n in range(len(values)))

    def text(self, key: str) -> str:
        value = self.document.value[key] if isinstance(self.document.value, dict) else None
        if not isinstance(value, str) or not 0 < len(value) <= 60:
            self.refuse((key,), f"{key}: must be text of at most 60 characters")
        return value

    def uuid(self, key: str) -> UUID:
        try:
            return UUID(self.text(key))
        except ValueError:
            self.refuse((key,), f"{key}: must be a UUID")

    def instant(self, key: str) -> datetime:
        try:
            instant = datetime.fromisoformat(self.text(key))
        except ValueError:
            self.refuse((key,), f"{key}: must be an instant, as 2026-03-04T09:30:00Z")
        if instant.tzinfo is None:
            self.refuse((key,), f"{key}: needs its offset from UTC")
        return instant
