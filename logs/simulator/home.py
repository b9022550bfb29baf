"""One person's weeks, walked through day by day: what the clinic, the person and phones do."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime, time, timedelta
from random import Random
from typing import NamedTuple
from uuid import UUID
from zoneinfo import ZoneInfo

from logs.counting import Performance
from logs.simulator.cast import SPAN_WEEKS, Story
from logs.simulator.count import counted
from logs.simulator.people import (
    DayTruth,
    SimulatedEntry,
    SimulatedPerson,
    SimulatedPhone,
    SimulatedStop,
    SimulatedVersion,
    Told,
)
from logs.simulator.prescribing import lines_due, simulated_line
from logs.simulator.saying import in_easier_steps, said_of_session, why_missed
from plans.catalogue import Exercise
from plans.schedule import PauseSpan, PrescribedLine

FALLS_SHORT = 0.08
"""The share of sets that are broken off early, whoever does them."""

OTHER_LOAD = 0.2
"""The share of loaded lines done with less than the prescribed weight."""

SESSION_HOURS = {1: (8,), 2: (8, 18), 3: (8, 13, 18)}
NO_SCORES: tuple[int | None, ...] = (None,) * 5
ISSUED_AT = time(10, 30)
"""Versions are issued between the first session of a day and the next one."""


class _Session(NamedTuple):
    """A session as it happened, whether or not word of it comes in."""

    occasion: int | None
    hour: int
    seen: SimulatedVersion
    performances: tuple[Performance, ...]


class Home:
    """One person's weeks, walked through day by day."""

    def __init__(
        self,
        story: Story,
        rng: Random,
        last_day: date,
        weeks: int,
        zone: ZoneInfo,
        exercises: Mapping[str, Exercise],
        notes: Sequence[str],
    ) -> None:
        self.story, self.truth, self.rng, self.zone = story, story.truth, rng, zone
        self.today = last_day + timedelta(1)
        self.stretch = weeks / SPAN_WEEKS
        self.days = tuple(last_day - timedelta(n) for n in reversed(range(weeks * 7)))
        self.notes = notes
        self.versions = self._versions(exercises)
        self.in_force = [version for version in self.versions if not version.waits]
        self.pauses = tuple(
            (
                PauseSpan(
                    self._ago(pause.first_days_ago),
                    self._ago(pause.last_days_ago),
                    self._ago(pause.recorded_days_ago),
                ),
                pause.reason,
            )
            for pause in story.pauses
        )
        self.stops = tuple(
            SimulatedStop(
                self._ago(stop.days_ago),
                None if stop.answered_days_ago is None else self._ago(stop.answered_days_ago),
                None if stop.goes_on_days_ago is None else self._ago(stop.goes_on_days_ago),
                stop,
            )
            for stop in story.stops
        )
        self.phones = tuple(self._phone(place) for place in range(len(story.phones)))
        self.typed_in = self._typed_in()
        self.entries: list[SimulatedEntry] = []
        self.chance = Random(f"{story.number}/{last_day}")  # noqa: S311 (a simulation, no secret)

    def lived(self) -> SimulatedPerson:
        """Live through the days and return the person."""
        heard = self._heard()
        strikes = set(self.rng.sample(self.days, min(self.truth.struck, len(self.days))))
        days = tuple(self._day(day, day in heard, day in strikes) for day in self.days)
        return SimulatedPerson(
            story=self.story,
            versions=self.versions,
            pauses=self.pauses,
            phones=self.phones,
            typed_in=self.typed_in,
            entries=tuple(self.entries),
            days=days,
            stops=self.stops,
            missed=why_missed(days, "phone" if self.phones else "paper", self.chance),
        )

    # What the clinic does

    def _ago(self, days: int) -> date:
        return self.today - timedelta(days)

    def _stretched(self, days_ago: int) -> date:
        return self._ago(max(1, round(days_ago * self.stretch)))

    def _at(self, day: date, hour: int, minute: int = 0) -> datetime:
        return datetime.combine(day, time(hour, minute), self.zone)

    def _versions(self, exercises: Mapping[str, Exercise]) -> tuple[SimulatedVersion, ...]:
        versions = []
        for number, wanted in enumerate(self.story.versions, start=1):
            day = self._stretched(wanted.days_ago)
            signed_day = day + timedelta(1) if wanted.by == "student" else None
            versions.append(
                SimulatedVersion(
                    number=number,
                    by=wanted.by,
                    issued_at=datetime.combine(day, ISSUED_AT, self.zone),
                    signed_at=self._at(signed_day, 12) if signed_day and not wanted.waits else None,
                    waits=wanted.waits,
                    effective_day=day if wanted.waits else signed_day or day,
                    change=wanted.change,
                    pain_limit=wanted.pain_limit,
                    lines=tuple(
                        simulated_line(line, exercises[line.exercise], self.story.affected)
                        for line in wanted.lines
                        if line.exercise in exercises
                    ),
                )
            )
        return tuple(versions)

    def _version_on(self, day: date) -> SimulatedVersion | None:
        found = None
        for version in self.in_force:
            if version.effective_day <= day:
                found = version
        return found

    # How word comes in

    def _phone(self, place: int) -> SimulatedPhone:
        wanted = self.story.phones[place]
        enrolled_day = self._stretched(wanted.days_ago)
        quiet_days = max(wanted.quiet_days, self.truth.quiet_days)
        lost_day = self._ago(wanted.lost_days_ago) if wanted.lost_days_ago is not None else None
        if lost_day is not None and lost_day <= enrolled_day:
            lost_day = None
        online = {
            day
            for day in self.days
            if enrolled_day <= day < self._ago(quiet_days)
            and self.rng.random() < self.truth.online
            and not (lost_day and lost_day - timedelta(wanted.unsent_days) <= day < lost_day)
        }
        if not quiet_days:
            online.add(self.today)
        return SimulatedPhone(wanted.label, enrolled_day, frozenset(online), lost_day)

    def _typed_in(self) -> dict[date, tuple[date, str]]:
        """For each day of a paper diary, the day it was typed in and how it was told."""
        if not self.in_force:
            return {}
        first_day = self.in_force[0].effective_day
        told: dict[date, tuple[date, str]] = {}
        visit, week = first_day + timedelta(7), 0
        while visit < self.today:
            source = "telephone" if week in self.story.telephone_weeks else "paper"
            if not self.phones or week in self.story.paper_weeks:
                told |= {visit - timedelta(n): (visit, source) for n in range(1, 8)}
            visit, week = visit + timedelta(7), week + 1
        return told

    def _heard(self) -> set[date]:
        heard = set(self.typed_in)
        spoken = [phone.spoke_for(self.days, self.today) for phone in self.phones]
        for day in self.days:
            there = [
                day in days
                for phone, days in zip(self.phones, spoken, strict=True)
                if phone.enrolled_day <= day
            ]
            if there and all(there):
                heard.add(day)
        return heard

    # What happens at home

    def _day(self, day: date, is_heard: bool, is_struck: bool) -> DayTruth:
        version = self._version_on(day)
        is_paused = any(day in span for span, _ in self.pauses)
        is_held = any(stop.hold.covers(day, 1) for stop in self.stops)
        due = lines_due(version, day) if version and not is_paused and not is_held else []
        sessions = [] if is_held else self._sessions(day, version, due, is_paused)
        told = [entry for place, s in enumerate(sessions) for entry in self._tell(day, place, s)]
        self.entries += told
        if is_struck and told:
            self.entries.append(self._mistaken(told[0]))
        return counted(
            day=day,
            version=version.number if version else None,
            due=due,
            sessions=[session.occasion for session in sessions],
            told=told,
            is_heard=is_heard,
            load_g=self._load_g,
        )

    def _load_g(self, version: int, key: str) -> int:
        lines = (line.prescribed for line in self.versions[version - 1].lines)
        return next(line.load_g for line in lines if line.key == key)

    def _sessions(
        self,
        day: date,
        version: SimulatedVersion | None,
        due: list[list[PrescribedLine]],
        is_paused: bool,
    ) -> list[_Session]:
        """Who they are decides what they do: the sessions of a day, in the order done."""
        if version is None or not version.lines:
            return []
        rng, share = self.rng, self.truth.share_on(day)
        hours = SESSION_HOURS.get(len(due), (8,) * len(due))
        done = [number for number in range(1, len(due) + 1) if rng.random() < share]
        if self.phones:  # a phone starts the lowest session that is not done yet
            done = list(range(1, len(done) + 1))
        sessions = []
        for number in done:
            seen = version
            if number == 1 and version.effective_day == day and len(self.in_force) > 1:
                # Done in the morning, before the new version was issued.
                seen = self._version_on(day - timedelta(1)) or version
                seen = seen if number <= len(lines_due(seen, day)) else version
            lines = lines_due(seen, day)[number - 1]
            is_first_day = version.number == 1 and version.effective_day == day
            hour = max(hours[number - 1], 12) if is_first_day else hours[number - 1]
            done_lines = in_easier_steps(self._performed(lines), seen, self.chance)
            sessions.append(_Session(number, hour, seen, done_lines))
        if (len(done) == len(due) or is_paused) and rng.random() < self.truth.extras:
            lines = [line.prescribed for line in version.lines]
            sessions.append(_Session(None, 20, version, self._performed(lines)))
        return [session for session in sessions if session.performances]

    def _performed(self, lines: Sequence[PrescribedLine]) -> tuple[Performance, ...]:
        rng, truth = self.rng, self.truth
        performed = []
        for line in lines:
            if line.exercise in truth.avoids:
                continue
            amounts = []
            for _ in range(line.sets):
                amount = round(rng.randint(line.amount_low, line.amount_high) * truth.dose)
                if rng.random() < FALLS_SHORT:
                    amount -= rng.randint(1, 4)
                amounts.append(max(1, amount))
            lighter = line.load_g and rng.random() < OTHER_LOAD
            performed.append(
                Performance(
                    line.key,
                    tuple(amounts),
                    max(0, line.load_g - 250) if lighter else None,
                    not (self.phones and rng.random() < truth.unconfirmed),
                )
            )
        return tuple(performed)

    # How it is told

    def _tell(self, day: date, place: int, session: _Session) -> Iterator[SimulatedEntry]:
        """Give the entries of a session that have come in, the one that counts first."""
        scores = self._scores(day)
        note = self.rng.choice(self.notes) if self.notes and self.rng.random() < 0.04 else ""
        if self.phones:
            yield from self._tell_by_phone(day, session, scores, note)
            if session.occasion is None:
                return
            # What is written down a second time is remembered less well.
            session = session._replace(performances=_one_fewer(session.performances))
            scores, note = NO_SCORES, ""
        if day in self.typed_in:
            visit, source = self.typed_in[day]
            at = self._at(visit, 11) + timedelta(minutes=day.weekday(), seconds=place)
            scores = (*scores[:3], None, None)
            typed = Told(self._uuid(), None, at, session.performances, scores, note)
            yield self._entry(day, session, source, None, None, (typed,))

    def _tell_by_phone(
        self, day: date, session: _Session, scores: tuple[int | None, ...], note: str
    ) -> Iterator[SimulatedEntry]:
        began_at = self._at(day, session.hour, self.rng.randint(0, 50))
        if told := self._revisions(day, 0, began_at, session.performances, scores, note):
            yield self._entry(
                day, session, "phone", 0, began_at, self._with_words(session, scores, told)
            )
        is_doubled = session.occasion == 1 and self.rng.random() < self.truth.doubled
        if is_doubled and len(self.phones) > 1 and self.phones[1].enrolled_day <= day:
            began_at += timedelta(minutes=4)
            fewer = _one_fewer(session.performances)
            if told := self._revisions(day, 1, began_at, fewer, NO_SCORES, "", plain=True):
                yield self._entry(day, session, "phone", 1, began_at, told)

    def _with_words(
        self, session: _Session, scores: tuple[int | None, ...], revisions: tuple[Told, ...]
    ) -> tuple[Told, ...]:
        """The same, with what is said of its lines."""
        lines = [line.prescribed for line in session.seen.lines]
        avoids = self.truth.avoids
        said = said_of_session(session.performances, lines, scores, avoids, self.chance)
        return tuple(told._replace(said=said.lines, hurt=said.hurt) for told in revisions)

    def _revisions(
        self,
        day: date,
        phone: int,
        began_at: datetime,
        performances: tuple[Performance, ...],
        scores: tuple[int | None, ...],
        note: str,
        plain: bool = False,
    ) -> tuple[Told, ...]:
        """What a phone tells of a session: at once or when it has signal, and put right later."""
        rng, truth = self.rng, self.truth
        received_at = self._received(phone, day, began_at + timedelta(minutes=rng.randint(12, 25)))
        if received_at is None:
            return ()
        told = []
        if not plain and rng.random() < truth.corrected:
            first, *others = performances
            slip = replace(first, amounts=(first.amounts[0] + 5, *first.amounts[1:]))
            told.append(Told(self._uuid(), None, received_at, (slip, *others), scores, ""))
            received_at += timedelta(minutes=40)
        replaces = told[-1].uuid if told else None
        told.append(Told(self._uuid(), replaces, received_at, performances, scores, note))
        if not plain and rng.random() < truth.next_morning:
            morning = day + timedelta(1)
            at = self._received(phone, morning, self._at(morning, 7, 30))
            if at is not None and scores[1] is not None:
                answered = (*scores[:3], max(0, scores[1] - rng.randint(0, 2)), scores[4])
                told.append(
                    Told(
                        self._uuid(),
                        told[-1].uuid,
                        max(at, received_at + timedelta(minutes=1)),
                        performances,
                        answered,
                        note,
                    )
                )
        return tuple(told)

    def _received(self, phone: int, day: date, sent_at: datetime) -> datetime | None:
        """When something sent by a phone comes in; None if it never has."""
        received_day = self.phones[phone].received_day(day, self.today)
        if received_day is None or received_day == day:
            return sent_at if received_day else None
        return self._at(received_day, 7, 45)

    def _scores(self, day: date) -> tuple[int | None, ...]:
        rng, truth = self.rng, self.truth
        weeks = (day - self.days[0]).days / 7 / self.stretch
        level = rng.gauss(truth.pain + truth.pain_per_week * weeks, 0.7)
        worst = min(10, max(0, round(level)))
        pains = (
            max(0, worst - rng.randint(0, 2)),
            worst,
            max(0, worst - rng.randint(0, 1)),
        )
        given = [pain if rng.random() < truth.answers else None for pain in pains]
        effort = min(10, max(0, round(rng.gauss(5, 1.5)))) if rng.random() < truth.answers else None
        return (*given, None, effort)

    def _entry(
        self,
        day: date,
        session: _Session,
        source: str,
        phone: int | None,
        began_at: datetime | None,
        revisions: tuple[Told, ...],
    ) -> SimulatedEntry:
        return SimulatedEntry(
            uuid=self._uuid(),
            day=day,
            occasion=session.occasion,
            source=source,
            phone=phone,
            began_at=began_at,
            version=session.seen.number,
            revisions=revisions,
            struck_at=None,
        )

    def _mistaken(self, entry: SimulatedEntry) -> SimulatedEntry:
        """The same session told again by mistake, and struck out by the clinic."""
        told = entry.revisions[-1]
        received_at = told.received_at + timedelta(minutes=2)
        return entry._replace(
            uuid=self._uuid(),
            occasion=None,
            revisions=(told._replace(uuid=self._uuid(), replaces=None, received_at=received_at),),
            struck_at=received_at + timedelta(hours=3),
        )

    def _uuid(self) -> UUID:
        return UUID(int=self.rng.getrandbits(128), version=4)


def _one_fewer(performances: tuple[Performance, ...]) -> tuple[Performance, ...]:
    return tuple(
        replace(done, amounts=tuple(max(1, amount - 1) for amount in done.amounts))
        for done in performances
    )
