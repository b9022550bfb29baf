"""Entries and stop signs as a phone sends them: the first version of each form, read strictly.

Pure. A record says one session once (a revision), or one reported stop sign. An unknown key is
refused, never dropped: a phone must not be told that something was stored which was not. A record
of a later form is refused by its own code, so that the phone keeps it until the clinic's server can
read it.

>>> read_record({"v": 3, "uuid": "0b8e9f7a-26f1-4f0c-9f6e-0a4d3a2f1b11"})
Traceback (most recent call last):
...
logs.phone_records.BadRecord: later_form
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import NoReturn, TypeGuard
from uuid import UUID

from logs.obstacles import Ended, Obstacle
from patients.motions import Effort

FORM = 1
ENTRY_FORM = 2
"""The form of entries that pages send now; those of the first one, without ``SAID``, still come."""
LONGEST_NOTE = 500
LONGEST_ZONE = 60
LARGEST_AMOUNT = 9999
LARGEST_LOAD_G = 50_000
MOST_SETS = 20
MOST_LINES = 60
MOST_OCCASIONS = 12
YEARS = range(2000, 2200)  # a clock may be wrong; further off no calendar follows
SCORES = ("pain_before", "pain_worst", "pain_after", "pain_next_morning", "effort")
RECORD_KEYS = frozenset(
    {
        "v",
        "uuid",
        "entry",
        "replaces",
        "owner",
        "day",
        "occasion",
        "version",
        "began_at",
        "zone",
        "note",
        "performances",
        *SCORES,
    }
)
PERFORMANCE_KEYS = frozenset({"line", "amounts", "load_g", "confirmed"})
STOP_KEYS = frozenset(
    {"kind", "v", "uuid", "owner", "tier", "sign", "reported_at", "zone", "day", "from_occasion"}
)
HURT = "hurt"
"""A performance may say whether the pain was named with its line; most say nothing of it."""
SAID = {
    "ended": frozenset(Ended),
    "why": frozenset(Obstacle),
    "step": frozenset(effort.key for effort in Effort if effort is not Effort.RESISTED),
}
"""What a performance may say beside the amounts, and the words for it; most say nothing."""


class BadRecord(Exception):
    """A record that can't be stored; its text is the code that the phone is told."""


@dataclass(frozen=True, slots=True)
class LineRecord:
    """What was done for the line of that key: the amount in each set, in the line's unit."""

    line: str
    amounts: tuple[int, ...]
    load_g: int | None
    confirmed: bool
    hurt: bool | None = None
    ended: str | None = None
    why: str | None = None
    step: str | None = None


@dataclass(frozen=True, slots=True)
class Record:
    """One revision as a phone tells it.

    ``owner`` names whose plan the phone held, ``version`` the number of the version that it
    showed. ``began_at`` is None where the session was put in afterwards.
    """

    uuid: UUID
    entry: UUID
    replaces: UUID | None
    owner: str
    day: date
    occasion: int | None
    version: int
    began_at: datetime | None
    zone: str
    note: str
    performances: tuple[LineRecord, ...]
    scores: Mapping[str, int | None]


@dataclass(frozen=True, slots=True)
class StopRecord:
    """A stop sign as a phone reports it; ``from_occasion`` is the first one of that day held."""

    uuid: UUID
    owner: str
    tier: str
    sign: str
    reported_at: datetime
    zone: str
    day: date
    from_occasion: int | None


def record_uuid(value: object) -> str:
    """Return the UUID that a record goes by, to name it in the answer; '' where it has none."""
    uuid = value.get("uuid") if isinstance(value, dict) else None
    return uuid if isinstance(uuid, str) and len(uuid) <= 36 else ""


def read_record(value: object) -> Record:
    """Return a record from its JSON; BadRecord with a code where it isn't one."""
    if not isinstance(value, dict):
        raise BadRecord("not_a_record")
    form = value.get("v")
    if type(form) is not int or form < 1:
        raise BadRecord("bad_v")
    if form > ENTRY_FORM:
        raise BadRecord("later_form")
    _check_keys(value, RECORD_KEYS)
    performances = value["performances"]
    if not isinstance(performances, list) or len(performances) > MOST_LINES:
        raise BadRecord("bad_performances")
    said = frozenset(SAID) if form > 1 else frozenset()
    lines = tuple(_line(performance, said) for performance in performances)
    if len({line.line for line in lines}) != len(lines):
        raise BadRecord("line_twice")
    uuid, replaces = _uuid(value, "uuid"), _optional_uuid(value, "replaces")
    if uuid == replaces:
        raise BadRecord("bad_replaces")
    return Record(
        uuid=uuid,
        entry=_uuid(value, "entry"),
        replaces=replaces,
        owner=_text(value, "owner", 60),
        day=_day(value),
        occasion=_optional_whole(value, "occasion", 1, MOST_OCCASIONS),
        version=_whole(value, "version", 1, 100_000),
        began_at=_instant(value, "began_at"),
        zone=_text(value, "zone", LONGEST_ZONE),
        note=_text(value, "note", LONGEST_NOTE),
        performances=lines,
        scores={score: _optional_whole(value, score, 0, 10) for score in SCORES},
    )


def is_stop(value: object) -> TypeGuard[dict[str, object]]:
    """Whether a record tells of a stop sign; BadRecord for a kind that a later page may send."""
    if not isinstance(value, dict) or value.get("kind") is None:
        return False
    if value["kind"] != "stop":
        raise BadRecord("later_form")
    return True


def read_stop(value: Mapping[str, object]) -> StopRecord:
    """Return a reported stop sign from its JSON; BadRecord with a code where it isn't one."""
    form = value.get("v")
    if type(form) is int and form > FORM:
        raise BadRecord("later_form")
    if form != FORM:
        raise BadRecord("bad_v")
    _check_keys(value, STOP_KEYS)
    reported_at = _instant(value, "reported_at")
    if reported_at is None:
        raise BadRecord("bad_reported_at")
    return StopRecord(
        uuid=_uuid(value, "uuid"),
        owner=_text(value, "owner", 60),
        tier=_text(value, "tier", 12),
        sign=_text(value, "sign", 40),
        reported_at=reported_at,
        zone=_text(value, "zone", LONGEST_ZONE),
        day=_day(value),
        from_occasion=_optional_whole(value, "from_occasion", 1, MOST_OCCASIONS + 1),
    )


def stop_as_json(record: StopRecord) -> dict[str, object]:
    """Return a stop sign in the form that a phone sends: what :func:`read_stop` reads."""
    return {
        "kind": "stop",
        "v": FORM,
        "uuid": str(record.uuid),
        "owner": record.owner,
        "tier": record.tier,
        "sign": record.sign,
        "reported_at": record.reported_at.isoformat(),
        "zone": record.zone,
        "day": record.day.isoformat(),
        "from_occasion": record.from_occasion,
    }


def record_as_json(record: Record) -> dict[str, object]:
    """Return a record in the form that a phone sends: what :func:`read_record` reads."""
    return {
        "v": ENTRY_FORM,
        "uuid": str(record.uuid),
        "entry": str(record.entry),
        "replaces": str(record.replaces) if record.replaces else None,
        "owner": record.owner,
        "day": record.day.isoformat(),
        "occasion": record.occasion,
        "version": record.version,
        "began_at": record.began_at.isoformat() if record.began_at else None,
        "zone": record.zone,
        "note": record.note,
        "performances": [
            {
                "line": line.line,
                "amounts": list(line.amounts),
                "load_g": line.load_g,
                "confirmed": line.confirmed,
                **({} if line.hurt is None else {HURT: line.hurt}),
                **{name: said for name in SAID if (said := getattr(line, name)) is not None},
            }
            for line in record.performances
        ],
        **record.scores,
    }


def _line(value: object, said: frozenset[str]) -> LineRecord:
    if not isinstance(value, dict):
        raise BadRecord("bad_performances")
    _check_keys(value, PERFORMANCE_KEYS | ({HURT, *said} & value.keys()))
    amounts = value["amounts"]
    if not isinstance(amounts, list) or len(amounts) > MOST_SETS:
        raise BadRecord("bad_amounts")
    if not all(type(n) is int and 0 <= n <= LARGEST_AMOUNT for n in amounts):
        raise BadRecord("bad_amounts")
    if type(value["confirmed"]) is not bool:
        raise BadRecord("bad_confirmed")
    hurt = value.get(HURT)
    if hurt is not None and type(hurt) is not bool:
        raise BadRecord("bad_hurt")
    return LineRecord(
        line=_text(value, "line", 80),
        amounts=tuple(amounts),
        load_g=_optional_whole(value, "load_g", 0, LARGEST_LOAD_G),
        confirmed=value["confirmed"],
        hurt=hurt,
        **{name: _said(value, name) for name in SAID},
    )


def _said(value: Mapping[str, object], name: str) -> str | None:
    said = value.get(name)
    if said is None:
        return None
    return said if isinstance(said, str) and said in SAID[name] else _refuse(f"bad_{name}")


def _check_keys(value: Mapping[str, object], keys: frozenset[str]) -> None:
    if value.keys() - keys:
        raise BadRecord("unknown_key")
    if keys - value.keys():
        raise BadRecord("missing_key")


def _text(value: Mapping[str, object], key: str, longest: int) -> str:
    text = value[key]
    if not isinstance(text, str) or len(text) > longest or "\0" in text or _has_half_pair(text):
        raise BadRecord(f"bad_{key}")
    return text


def _has_half_pair(text: str) -> bool:
    # JSON can spell half of a UTF-16 pair, which no database takes as text.
    return any("\ud800" <= letter <= "\udfff" for letter in text)


def _whole(value: Mapping[str, object], key: str, lowest: int, highest: int) -> int:
    number = value[key]
    if type(number) is not int or not lowest <= number <= highest:
        raise BadRecord(f"bad_{key}")
    return number


def _optional_whole(value: Mapping[str, object], key: str, lowest: int, highest: int) -> int | None:
    return None if value[key] is None else _whole(value, key, lowest, highest)


def _uuid(value: Mapping[str, object], key: str) -> UUID:
    text = value[key]
    try:
        return UUID(text) if isinstance(text, str) and len(text) == 36 else _refuse(f"bad_{key}")
    except ValueError:
        raise BadRecord(f"bad_{key}") from None


def _optional_uuid(value: Mapping[str, object], key: str) -> UUID | None:
    return None if value[key] is None else _uuid(value, key)


def _day(value: Mapping[str, object]) -> date:
    text = value["day"]
    try:
        day = date.fromisoformat(text) if isinstance(text, str) else _refuse("bad_day")
    except ValueError:
        raise BadRecord("bad_day") from None
    return day if day.year in YEARS else _refuse("bad_day")


def _instant(value: Mapping[str, object], key: str) -> datetime | None:
    text = value[key]
    if text is None:
        return None
    try:
        instant = datetime.fromisoformat(text) if isinstance(text, str) else _refuse(f"bad_{key}")
    except ValueError:
        raise BadRecord(f"bad_{key}") from None
    if instant.tzinfo is None or instant.year not in YEARS:
        raise BadRecord(f"bad_{key}")
    return instant


def _refuse(code: str) -> NoReturn:
    raise BadRecord(code)
