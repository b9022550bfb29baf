"""What the patient's phone page shows: the plan's words day by day, and what was already told.

Names, birth dates and diagnoses have no place here: nothing on the page says who the patient is.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from django.db.models import Prefetch
from django.utils.translation import gettext

from clinic.queries import clinic_profile
from logs.holds import held_numbers
from logs.models import Performance, Revision, Source, Why
from logs.obstacles import Obstacle
from logs.phone_count import count_of, count_words, counted
from logs.phone_records import SCORES, LineRecord, Record, record_as_json
from logs.phone_stops import HomeStop, StopTier, home_stops, stop_tiers_shown, stop_words
from logs.phone_week import week_so_far
from logs.review_queries import clinic_limits, days_with_reason
from logs.stop_queries import stop_tiers, stops_of
from logs.stops import holds_of
from patients.models import Patient
from patients.phones import local_day, owner_key
from plans.bound_words import bound_words
from plans.catalogue import DoneBy
from plans.models import Line, PlanVersion
from plans.must_not import MustNot, must_not
from plans.plan_page import ShownLine, shown_line
from plans.queries import pause_spans, pauses_of, schedule_version, versions_of
from plans.schedule import Occasion, PauseSpan, Version, Window, occasions, version_on
from plans.sheet_language import SheetWords
from plans.sheet_words import sheet_words
from plans.step_figures import StepFigure, step_figure

DAYS_BACK = 1  # yesterday can be put in
DAYS_AHEAD = 35  # so long the phone knows its plan without a word from the clinic
CHANGE_IS_NEW_DAYS = 7


@dataclass(frozen=True)
class HomeLine:
    """One line as the patient reads it; ``ref`` names it among all versions shown."""

    ref: str
    line: Line
    language: str
    name: str
    figure: StepFigure | None
    dose: tuple[str, ...]
    bounds: tuple[str, ...]
    side: str
    position: str
    things: str
    helper: str
    do: tuple[str, ...]
    cue: str
    cautions: tuple[str, ...]
    count: dict[str, object] | None
    load_g: int
    easier: "HomeLine | None" = None
    easier_step: str = ""
    easier_words: str = ""

    @property
    def as_json(self) -> dict[str, object]:
        """What the screen's logic needs; the words stand in the page."""
        return {
            "key": self.line.key,
            "name": self.name,
            "language": self.language,
            "sets": self.line.sets,
            "low": self.line.amount_low,
            "unit": self.line.unit,
            "load_g": self.load_g,
            "count": self.count,
            "easier": {"step": self.easier_step, "words": self.easier_words}
            if self.easier
            else None,
        }


@dataclass(frozen=True)
class HomeDay:
    """One local day: what it asks for, or in ``words`` why it asks for nothing."""

    day: date
    version: int | None
    occasions: tuple[Occasion, ...]
    words: str

    @property
    def as_json(self) -> dict[str, object]:
        """What the screen's logic needs."""
        return {
            "version": self.version,
            "words": self.words,
            "occasions": [
                {
                    "number": occasion.number,
                    "lines": [f"{occasion.version}:{key}" for key in occasion.line_keys],
                }
                for occasion in self.occasions
            ],
        }


@dataclass(frozen=True)
class HomePage:
    """The phone page. ``today_lines`` are read without any script; the others wait for theirs."""

    today: HomeDay
    date: str
    days: tuple[HomeDay, ...]
    today_lines: tuple[HomeLine, ...]
    other_lines: tuple[HomeLine, ...]
    changes: tuple[PlanVersion, ...]
    newest: int | None
    pain_limit: int
    telephone: str
    stop_signs: tuple[StopTier, ...]
    stops: tuple[HomeStop, ...]
    settled: tuple[str, ...]
    owner: str
    records: tuple[Record, ...]
    week: Mapping[str, tuple[int, int]]
    must_not: MustNot | None
    why_told: tuple[str, ...]

    @property
    def held(self) -> tuple[HomeStop, ...]:
        """The reported stop signs that hold some of today."""
        return tuple(stop for stop in self.stops if stop.holds_today)

    @property
    def ring(self) -> StopTier | None:
        """The most urgent tier of those that hold and that nobody has answered."""
        waiting = {stop.record.tier for stop in self.held if not stop.answer}
        return next((tier for tier in self.stop_signs if tier.key in waiting), None)

    @property
    def answered(self) -> tuple[HomeStop, ...]:
        """Those answered lately."""
        return tuple(stop for stop in self.stops if stop.is_new)

    @property
    def score_questions(self) -> tuple[tuple[str, str], ...]:
        """What is asked from 0 to 10, by the score that takes the answer."""
        return (
            ("pain_before", gettext("How much does it hurt now, before you start?")),
            ("pain_worst", gettext("How much did it hurt at its worst while you exercised?")),
            ("pain_after", gettext("How much does it hurt now, after the exercises?")),
            (
                "pain_next_morning",
                gettext("Yesterday you exercised. How much does it hurt this morning?"),
            ),
            ("effort", gettext("How hard was this session for you?")),
        )

    @property
    def reasons(self) -> tuple[tuple[str, str, bool, bool], ...]:
        """What may have been in the way: key, words, whether of a line and of a missed session."""
        of_lines, of_sessions = set(Obstacle), set(Why.values)
        return tuple(
            (key, words, key in of_lines, key in of_sessions)
            for key, words in (
                ("pain", gettext("Pain")),
                ("too_hard", gettext("Too hard")),
                ("tired", gettext("Tired")),
                ("forgot", gettext("I forgot")),
                ("no_time", gettext("No time")),
                ("unwell", gettext("I was not well")),
                ("not_understood", gettext("I did not understand it")),
            )
        )

    @property
    def easier_lines(self) -> tuple[HomeLine, ...]:
        """The easier steps that the lines shown allow."""
        lines = (*self.today_lines, *self.other_lines)
        return tuple(line.easier for line in lines if line.easier)

    @property
    def score_numbers(self) -> range:
        """The eleven answers."""
        return range(11)

    @property
    def words(self) -> dict[str, str | dict[str, str]]:
        """The words that the screen's logic puts numbers in, in ``{braces}``."""
        return {
            "session_of": gettext("Session {n} of {m}"),
            "another": gettext("Another session"),
            "done": gettext("done"),
            "not_yet": gettext("not yet"),
            "put_right": gettext("Put right"),
            "start": gettext("Start session {n}"),
            "go_on": gettext("Go on with the session you began"),
            "for_day": gettext("For {day}"),
            "place": gettext("Exercise {n} of {m}"),
            "all": gettext("All of it: {each}"),
            "listed": gettext("{said}, {next}"),
            "number": gettext("Another number"),
            "number_or_weight": gettext("Another number or weight"),
            "set": gettext("Set {n}"),
            "amount": gettext("You did"),
            "less": gettext("{name}: less"),
            "more": gettext("{name}: more"),
            "weight": gettext("Weight"),
            "kilograms": gettext("{n} kg"),
            "amount_repetitions": counted("{n} time", "{n} times"),
            "amount_times": counted("{n} time", "{n} times"),
            "amount_seconds": counted("{n} second", "{n} seconds"),
            "easier": gettext("Easier today: {step}"),
            "usual_step": gettext("Back to the usual step"),
            "week": gettext("This week so far: {done} of {due} sessions done."),
            "amount_minutes": counted("{n} minute", "{n} minutes"),
            **count_words(),
            **stop_words(),
        }

    @property
    def as_json(self) -> dict[str, object]:
        """What the screen's logic needs; the words stand in the page."""
        return {
            "owner": self.owner,
            "today": self.today.day.isoformat(),
            "newest": self.newest,
            "pain_limit": self.pain_limit,
            "weight_step_g": clinic_limits().weight_step_g.value,
            "days": {day.day.isoformat(): day.as_json for day in self.days},
            "lines": {
                line.ref: line.as_json
                for line in (*self.today_lines, *self.other_lines, *self.easier_lines)
            },
            "records": [record_as_json(record) for record in self.records],
            "stops": [stop.as_json for stop in self.stops],
            "settled": list(self.settled),
            "week": dict(self.week),
            "why_told": list(self.why_told),
        }


def home_page(*, patient: Patient, now: datetime) -> HomePage:
    """Return the page for a patient, in the language that is switched on (twelve queries,
    one more where precautions hold)."""
    today = local_day(patient, now)
    window = Window(today - timedelta(days=DAYS_BACK), today + timedelta(days=DAYS_AHEAD))
    issued = list(versions_of(patient).filter(state=PlanVersion.State.ISSUED).order_by("number"))
    by_number = {version.number: version for version in issued}
    plan = [schedule_version(version) for version in issued]
    pauses = pause_spans(pauses_of(patient))
    due = occasions(plan, pauses, window)
    told = stops_of(patient)
    held = held_numbers(holds_of(told), [(occasion.day, occasion.number) for occasion in due])
    said = sheet_words(patient.language)
    days = {day: home_day(day, plan, pauses, due, said) for day in window.days()}
    current = days[today]
    # What is held is not read either: its lines are not there, so that a session of them ends too.
    shown = {
        f"{occasion.version}:{key}": by_number[occasion.version]
        for occasion in due
        if (occasion.day, occasion.number) not in held
        for key in occasion.line_keys
    }
    lines = [
        home_line(f"{number}:{line.key}", line, said)
        for number in sorted({version.number for version in shown.values()})
        for line in by_number[number].lines.all()
        if f"{number}:{line.key}" in shown
    ]
    todays = {
        f"{o.version}:{key}"
        for o in current.occasions
        if (o.day, o.number) not in held
        for key in o.line_keys
    }
    in_force = by_number.get(current.version) if current.version else None
    profile = clinic_profile()
    episode = patient.episodes.filter(closed_day__isnull=True).first()
    telephone = (episode.telephone if episode else "") or profile.telephone
    pain_limit = in_force.pain_limit if in_force else profile.pain_limit
    owner = owner_key(patient)
    tiers = stop_tiers_shown(
        stop_tiers(),
        language=patient.language,
        pain_limit=pain_limit,
        telephones={"emergency": profile.emergency_telephone, "clinic": telephone},
    )
    stops = home_stops(told, tiers, owner=owner, today=today, now=now, day_words=said.day)
    return HomePage(
        today=current,
        date=said.day(today),
        days=tuple(days.values()),
        today_lines=tuple(line for line in lines if line.ref in todays),
        other_lines=tuple(line for line in lines if line.ref not in todays),
        changes=tuple(version for version in issued if _is_news(version, plan, today)),
        newest=issued[-1].number if issued else None,
        pain_limit=pain_limit,
        telephone=telephone,
        stop_signs=tiers,
        stops=stops,
        settled=tuple(
            sorted({str(one.uuid) for one in told} - {str(s.record.uuid) for s in stops})
        ),
        owner=owner,
        records=told_by_phone(patient, Window(window.first_day, today)),
        week=week_so_far(patient, plan, pauses, holds_of(told), today),
        must_not=must_not(patient, language=patient.language, day=today)
        if any(version.lines for day in window.days() if (version := version_on(plan, day)))
        else None,
        why_told=days_with_reason(patient, Window(window.first_day, today)),
    )


def _is_news(version: PlanVersion, plan: Sequence[Version], today: date) -> bool:
    if not version.change_sentence:
        return False
    first_day = next(v.first_day for v in plan if v.number == version.number)
    return (today - first_day).days < CHANGE_IS_NEW_DAYS


def home_day(
    day: date,
    plan: Sequence[Version],
    pauses: Sequence[PauseSpan],
    due: Sequence[Occasion],
    said: SheetWords,
) -> HomeDay:
    """Return what a day asks for. The rest, the end and a pause of a plan are told apart."""
    version = version_on(plan, day)
    pause = next((pause for pause in pauses if day in pause), None)
    here = tuple(occasion for occasion in due if occasion.day == day)
    words = ""
    if version is None:
        words = gettext("There is no plan for this day yet.")
    elif not version.lines:
        words = gettext("Your plan has ended. If you have a question, ring the clinic.")
    elif pause and pause.last_day:
        words = gettext("Your exercises are paused until the end of %(day)s. Rest well.") % {
            "day": said.day(pause.last_day)
        }
    elif pause:
        words = gettext("Your exercises are paused. The clinic will tell you when to go on.")
    elif not here:
        later = next((occasion.day for occasion in due if occasion.day > day), None)
        words = gettext("No exercises today.")
        if later:
            words += " " + gettext("The next are on %(day)s.") % {"day": said.day(later)}
    return HomeDay(
        day=day, version=version.number if version else None, occasions=here, words=words
    )


def home_line(ref: str, line: Line, words: SheetWords) -> HomeLine:
    """Return a line in the patient's words, the same as on the sheet."""
    shown = shown_line(line)
    home = _home_step(ref, shown, words)
    if (step := shown.allowed_easier) is None:
        return home
    dose = replace(shown.dose, load_g=0, load_means="", position=step.position.value)
    easier = _home_step(f"{ref}~easier", replace(shown, step=step, dose=dose), words)
    said = words.steps[step.effort]
    return replace(
        home,
        easier=replace(easier, name=f"{home.name}: {said}", load_g=0),
        easier_step=step.effort.key,
        easier_words=said,
    )


def _home_step(ref: str, shown: ShownLine, words: SheetWords) -> HomeLine:
    line = shown.line
    told = shown.exercise.words(words.language)
    things = (*shown.exercise.equipment, *shown.step.equipment)
    return HomeLine(
        ref=ref,
        line=line,
        language=shown.exercise.language_for(words.language),
        name=told.name,
        figure=step_figure(shown.exercise, shown.step, line.side, told.name, line.stop),
        dose=words.dose(shown.dose).sentences,
        bounds=bound_words(words.language).said(
            line.stop, shown.step.position.value, line.orthosis
        ),
        side=words.side(line.side, sided=shown.exercise.sided),
        position=words.positions[shown.step.position],
        things=words.you_need.format(things=words.things(things)) if things else "",
        helper=words.helper.format(name=words.your_helper)
        if shown.step.done_by is DoneBy.HELPER
        else "",
        do=shown.step.words(words.language).do,
        cue=told.cue,
        cautions=told.cautions,
        count=count_of(shown),
        load_g=line.load_g,
    )


def told_by_phone(patient: Patient, window: Window) -> tuple[Record, ...]:
    """Return what a phone has told of those days, as it stands now, in order (two queries)."""
    revisions = (
        Revision.objects.filter(
            entry__patient=patient,
            entry__struck_at__isnull=True,
            is_current=True,
            source=Source.PHONE,
            version__isnull=False,
            day__range=(window.first_day, window.last_day),
        )
        .select_related("version")
        .prefetch_related(
            Prefetch("performances", queryset=Performance.objects.select_related("line"))
        )
        .order_by("day", "received_at", "pk")
    )
    owner = owner_key(patient)
    return tuple(_record(revision, owner) for revision in revisions)


def _record(revision: Revision, owner: str) -> Record:
    return Record(
        uuid=revision.pk,
        entry=revision.entry_id,
        replaces=revision.replaces,
        owner=owner,
        day=revision.day,
        occasion=revision.occasion,
        version=revision.version.number if revision.version else 0,
        began_at=revision.began_at,
        zone=revision.time_zone,
        note=revision.note,
        performances=tuple(
            LineRecord(
                done.line.key,
                tuple(done.amounts),
                done.load_g,
                done.is_confirmed,
                done.hurt,
                done.ended,
                done.why,
                done.step,
            )
            for done in revision.performances.all()
        ),
        scores={score: getattr(revision, score) for score in SCORES},
    )
