"""Protocols of precautions that a clinic keeps as files, to be accepted one by one. Pure.

fixtures/protocols/*.toml holds one protocol a file. Those that come with Handrail are examples, to
be replaced by the surgeon's own. Reading is strict: a file with a mistake is named with every
mistake, and the others stay in use.
"""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from patients.motions import MOTIONS, Joint
from patients.precautions import EFFORTS, POSITIONS, Beyond, Kind, Limit

_VALUES = {
    Kind.ANGLE: "limit_deg",
    Kind.EFFORT: "effort",
    Kind.LOAD: "limit_g",
    Kind.POSITION: "position",
    Kind.TOGETHER: "together",
}
"""What a precaution of a kind must say; the other kinds need nothing more."""

_OPTIONAL = (
    "motion",
    "joint",
    "measured_in",
    "isometric_is_active",
    "only_when_moved",
    "until_week",
    "note",
)


@dataclass(frozen=True)
class Proposed:
    """One precaution of a protocol: its limit without a side, and its weeks."""

    limit: Limit
    from_week: int
    until_week: int | None
    source: str
    note: str


@dataclass(frozen=True)
class Protocol:
    """One protocol. ``is_example`` until the clinic makes it its own."""

    key: str
    name: str
    set_by: str
    is_example: bool
    counts_from: str
    precautions: tuple[Proposed, ...]


class ProtocolError(ValueError):
    """A protocol that can't be used; every mistake is named with its file and precaution."""


def read_protocols(folder: Path) -> tuple[tuple[Protocol, ...], tuple[str, ...]]:
    """Return the protocols of a folder by name, and what is wrong with the files left out."""
    read, problems = [], []
    for path in sorted(folder.glob("*.toml")):
        try:
            read.append(read_protocol(path))
        except ProtocolError as error:
            problems.append(str(error))
    return tuple(sorted(read, key=lambda protocol: protocol.name)), tuple(problems)


def read_protocol(path: Path) -> Protocol:
    """Return the protocol of a file; ProtocolError names everything wrong with it."""
    try:
        table = tomllib.loads(path.read_text(encoding="utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:  # the message has line, column
        raise ProtocolError(f"{path.name}: {error}") from None
    problems: list[str] = []
    rows = table.pop("precautions", None)
    for name, wanted in (
        ("name", str),
        ("set_by", str),
        ("is_example", bool),
        ("counts_from", str),
    ):
        if not isinstance(table.get(name), wanted) or table[name] == "":
            problems.append(f"{name} must be given")
    problems += [
        f"{name} is not a known field"
        for name in table
        if name not in ("name", "set_by", "is_example", "counts_from")
    ]
    if not isinstance(rows, list) or not rows or not all(isinstance(row, dict) for row in rows):
        problems.append("there must be at least one [[precautions]]")
        rows = []
    proposed = []
    for number, row in enumerate(rows, start=1):
        wrong = _problems(row)
        problems += [f"precaution {number}: {message}" for message in wrong]
        if not wrong:
            proposed.append(_proposed(row))
    if problems:
        raise ProtocolError("\n".join(f"{path.name}: {problem}" for problem in problems))
    return Protocol(
        key=path.stem,
        name=table["name"],
        set_by=table["set_by"],
        is_example=table["is_example"],
        counts_from=table["counts_from"],
        precautions=tuple(proposed),
    )


def _problems(row: Mapping[str, object]) -> list[str]:
    if row.get("kind") not in [kind.value for kind in Kind]:
        return [f"kind must be one of {', '.join(Kind)}"]
    kind = Kind(str(row["kind"]))
    wrong = [] if _is_text(row.get("source")) else ["source must say where it comes from"]
    known = {"kind", "is_hard", "from_week", "source", *_OPTIONAL}
    if kind in _VALUES:
        known.add(_VALUES[kind])
    wrong += [f"{name} is not a known field of {kind}" for name in row if name not in known]
    if not isinstance(row.get("is_hard"), bool):
        wrong.append("is_hard must be true or false")
    for name in ("isometric_is_active", "only_when_moved"):
        if not isinstance(row.get(name, False), bool):
            wrong.append(f"{name} must be true or false")
    for name in ("measured_in", "note"):
        if name in row and not _is_text(row[name]):
            wrong.append(f"{name} must be words")
    first, last = row.get("from_week"), row.get("until_week")
    if not _is_whole(first, 0, 104):
        wrong.append("from_week must be a whole number from 0 to 104")
    elif last is not None and not _is_whole(last, int(str(first)), 104):
        wrong.append("until_week must be a whole number not before from_week")
    if row.get("motion", "") not in ["", *MOTIONS]:
        wrong.append(f"motion: {row['motion']!r} is no motion")
    if row.get("joint", "") not in ["", *Joint]:
        wrong.append(f"joint must be one of {', '.join(Joint)}")
    if row.get("motion") and row.get("joint"):
        wrong.append("it is about a motion or about a joint, not both")
    return wrong + _value_problems(kind, row)


def _value_problems(kind: Kind, row: Mapping[str, object]) -> list[str]:
    value = row.get(_VALUES.get(kind, ""))
    if kind is Kind.ANGLE and not (row.get("motion") and _is_whole(value, -200, 200)):
        return ["an angle needs a motion and limit_deg, from -200 to 200"]
    if kind is Kind.EFFORT and value not in EFFORTS:
        return [f"effort must be one of {', '.join(EFFORTS)}"]
    if kind is Kind.LOAD and not _is_whole(value, 0, 50_000):
        return ["limit_g must be grams, from 0 to 50000"]
    if kind is Kind.POSITION and value not in POSITIONS:
        return [f"position must be one of {', '.join(POSITIONS)}"]
    if kind is Kind.TOGETHER and not _is_together(value):
        return ["together must be a list of at least two [motion, degrees]"]
    return []


def _is_text(value: object) -> bool:
    return isinstance(value, str) and bool(value.strip())


def _is_whole(value: object, low: int, high: int) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and low <= value <= high


def _is_together(value: object) -> bool:
    return (
        isinstance(value, list)
        and len(value) >= 2
        and all(
            isinstance(pair, list)
            and len(pair) == 2
            and pair[0] in MOTIONS
            and _is_whole(pair[1], -200, 200)
            for pair in value
        )
    )


def _proposed(row: Mapping[str, object]) -> Proposed:
    def text(name: str) -> str:
        return str(row.get(name, ""))

    def whole(name: str) -> int | None:
        value = row.get(name)
        return value if isinstance(value, int) else None

    pairs = row.get("together", [])
    return Proposed(
        limit=Limit(
            key=0,
            kind=Kind(text("kind")),
            motion=text("motion"),
            joint=Joint(text("joint")) if row.get("joint") else None,
            limit_deg=whole("limit_deg"),
            effort=text("effort"),
            limit_g=whole("limit_g"),
            position=text("position"),
            together=tuple(Beyond(*pair) for pair in pairs) if isinstance(pairs, list) else (),
            measured_in=text("measured_in"),
            isometric_is_active=row.get("isometric_is_active") is True,
            only_when_moved=row.get("only_when_moved") is True,
            is_hard=row["is_hard"] is True,
        ),
        from_week=whole("from_week") or 0,
        until_week=whole("until_week"),
        source=text("source"),
        note=text("note"),
    )
