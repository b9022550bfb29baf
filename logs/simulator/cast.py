"""The people of the demo clinic, as fixtures/demo.toml invents them: who they are, what they are
prescribed, and the truth about what they do at home.

Pure. Days are told as days before the simulation's today, for a span of ``SPAN_WEEKS`` weeks.
"""

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any

SPAN_WEEKS = 8
"""The weeks that the file's days are told for; a longer simulation stretches its plans."""


@dataclass(frozen=True)
class Truth:
    """What a person really does; shares are from 0 to 1 unless said otherwise.

    ``sessions`` and ``weekends`` are the share of due sessions done on weekdays and at weekends,
    ``extras`` the share of days with a session more than is due. ``dose`` is the part of the
    prescribed amount done in a set (2 is double), ``avoids`` the exercises never done,
    ``unconfirmed`` the share of counts not confirmed. Pain starts at ``pain`` and changes by
    ``pain_per_week``; ``answers`` is the share of scores given, ``next_morning`` that of days
    with one the morning after.

    ``quiet_days`` are the last days without word, ``online`` the share of days on which a phone
    has signal, ``doubled`` the share of first sessions that a helper's phone records too.
    ``corrected`` is the share of entries put right later, and ``struck`` the number of entries
    made by mistake.
    """

    sessions: float
    weekends: float | None = None
    extras: float = 0.0
    dose: float = 1.0
    avoids: tuple[str, ...] = ()
    unconfirmed: float = 0.0
    pain: float = 2.0
    pain_per_week: float = 0.0
    answers: float = 0.9
    next_morning: float = 0.0
    quiet_days: int = 0
    online: float = 1.0
    doubled: float = 0.0
    corrected: float = 0.0
    struck: int = 0

    def share_on(self, day: date) -> float:
        """The share of the sessions due on such a day that are done."""
        return self.sessions if self.weekends is None or day.weekday() < 5 else self.weekends


@dataclass(frozen=True)
class WantedLine:
    """A line as the file wants it; what is None is the exercise's usual dose."""

    exercise: str
    step: str
    side: str | None = None
    sets: int | None = None
    low: int | None = None
    high: int | None = None
    hold_s: int | None = None
    sessions_per_day: int | None = None
    weekdays: tuple[int, ...] = tuple(range(7))
    load_g: int = 0
    note: str = ""
    easier: bool = False


@dataclass(frozen=True)
class WantedVersion:
    """A version as the file wants it; without lines it ends the plan.

    Issued ``days_ago``; one made by a student is signed the next day, or waits.
    """

    days_ago: int
    by: str
    lines: tuple[WantedLine, ...] = ()
    change: str = ""
    pain_limit: int = 5
    waits: bool = False


@dataclass(frozen=True)
class WantedPause:
    """A pause, both ends included."""

    first_days_ago: int
    last_days_ago: int
    recorded_days_ago: int
    reason: str


@dataclass(frozen=True)
class WantedStop:
    """A reported stop sign; without ``answered_days_ago`` nobody has answered it yet.

    It holds whole days: from the one of the report to before the one on which the plan goes on.
    """

    days_ago: int
    tier: str
    sign: str
    hour: int
    answered_days_ago: int | None = None
    goes_on_days_ago: int | None = None
    words: str = ""
    sentence: str = ""


@dataclass(frozen=True)
class WantedAssessment:
    """An assessment of the affected side, as it is typed.

    ``motions`` are "active passive grade", with a p after degrees where the end of the range hurts
    and a reason's letter for what was not tested. ``pain`` is at rest and on movement, ``grip``
    trials by hand (kg), ``activities`` the person's own words with their score.
    """

    days_ago: int
    by: str
    motions: Mapping[str, str]
    pain: tuple[int, int] | None = None
    grip: Mapping[str, Sequence[float]] = field(default_factory=dict)
    activities: tuple[tuple[str, int], ...] = ()
    note: str = ""


@dataclass(frozen=True)
class WantedPhone:
    """A phone; ``lost_days_ago`` is the day on which its store was cleared.

    Entries of the ``unsent_days`` before that went with it. ``quiet_days`` are its last days
    without word.
    """

    label: str
    days_ago: int
    quiet_days: int = 0
    lost_days_ago: int | None = None
    unsent_days: int = 0


@dataclass(frozen=True)
class Story:
    """One person: who they are, their care, their plan and the truth.

    Without a phone they keep a paper diary, typed in on a visit each week; in the weeks named by
    ``telephone_weeks`` (0 is the first) they are rung instead. With a phone they keep one as well
    in the ``paper_weeks``.
    """

    key: str
    name: str
    number: str
    born: date
    affected: str
    team: tuple[str, ...]
    episode: Mapping[str, Any]
    truth: Truth
    sex: str = "unknown"
    stature_cm: int | None = None
    body_mass_kg: float | None = None
    dominant: str = ""
    language: str = "en"
    text_size: str = "normal"
    helpers: tuple[Mapping[str, str], ...] = ()
    phones: tuple[WantedPhone, ...] = ()
    telephone_weeks: tuple[int, ...] = ()
    paper_weeks: tuple[int, ...] = ()
    versions: tuple[WantedVersion, ...] = ()
    pauses: tuple[WantedPause, ...] = ()
    stops: tuple[WantedStop, ...] = ()
    protocol: str = ""
    """The protocol whose precautions were set, but for those of the numbers left out."""
    protocol_without: tuple[int, ...] = ()
    assessments: tuple[WantedAssessment, ...] = ()


@dataclass(frozen=True)
class Cast:
    """The whole file: the clinic, its staff, its people, and words to make more people of."""

    clinic: Mapping[str, str]
    staff: tuple[Mapping[str, str], ...]
    stories: tuple[Story, ...]
    given_names: tuple[str, ...]
    family_names: tuple[str, ...]
    notes: tuple[str, ...] = field(default=())


def read_cast(path: Path) -> Cast:
    """Return the cast of a file; TypeError or KeyError where it has a word that nothing reads."""
    table = tomllib.loads(path.read_text(encoding="utf-8"))
    return Cast(
        clinic=table["clinic"],
        staff=tuple(table["staff"]),
        stories=tuple(_story(person) for person in table["people"]),
        given_names=tuple(table["names"]["given"]),
        family_names=tuple(table["names"]["family"]),
        notes=tuple(table["names"]["notes"]),
    )


def _story(person: dict[str, Any]) -> Story:
    versions = tuple(
        WantedVersion(
            **version | {"lines": tuple(WantedLine(**_frozen(line)) for line in version["lines"])}
        )
        for version in person.get("versions", ())
    )
    return Story(
        **_frozen(person)
        | {
            "truth": Truth(**_frozen(person["truth"])),
            "phones": tuple(WantedPhone(**phone) for phone in person.get("phones", ())),
            "versions": versions,
            "stops": tuple(WantedStop(**stop) for stop in person.get("stops", ())),
            "assessments": tuple(
                WantedAssessment(**_frozen(assessment))
                for assessment in person.get("assessments", ())
            ),
            "pauses": tuple(WantedPause(**pause) for pause in person.get("pauses", ())),
        }
    )


def _frozen(table: Mapping[str, Any]) -> dict[str, Any]:
    return {k: tuple(v) if isinstance(v, list) else v for k, v in table.items()}
