"""What phones tell, stored: whether it comes from the phone itself or in a file handed over."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime

from clinic.actions import ActionRefused
from logs.actions import Outcome, Performed, Told, record_revision
from logs.models import MissedReason, Source, StopSource
from logs.phone_records import (
    BadRecord,
    Record,
    StopRecord,
    is_stop,
    read_record,
    read_stop,
    record_uuid,
)
from logs.review_actions import say_why_missed
from logs.stop_actions import ToldStop, record_stop
from patients.models import Phone
from patients.phones import local_day, owner_key
from plans.models import PlanVersion
from plans.queries import versions_of

REJECTED = "rejected"
NOT_OVER = "not_over"


@dataclass(frozen=True)
class Answer:
    """What became of one record: ``result`` is stored, duplicate or rejected, and then ``code``."""

    uuid: str
    result: str
    code: str = ""

    @property
    def as_json(self) -> dict[str, str]:
        """The answer as the phone reads it."""
        told = {"uuid": self.uuid, "result": self.result}
        return told | ({"code": self.code} if self.code else {})


def store_records(*, phone: Phone, values: Iterable[object]) -> list[Answer]:
    """Store what a phone tells, each record by itself, and say of each what became of it."""
    issued = versions_of(phone.patient).filter(state=PlanVersion.State.ISSUED)
    versions = {version.number: version for version in issued}
    owner = owner_key(phone.patient)
    return [_answer(phone, versions, owner, value) for value in values]


def store_reasons(*, phone: Phone, values: Iterable[object], now: datetime) -> list[Answer]:
    """Store why sessions were missed, as a file tells it: what is known of a day stays as it is."""
    known = {day.isoformat() for day in _days_with_reason(phone)}
    answers = []
    for value in values:
        told = value if isinstance(value, dict) else {}
        day = str(told.get("day"))
        try:
            if told.keys() != {"day", "reason"}:
                raise BadRecord("unknown_key")
            if day not in known:
                store_reason(phone=phone, day=day, reason=told["reason"], now=now)
        except BadRecord as bad:
            answers.append(Answer("", REJECTED, str(bad)))
        else:
            answers.append(Answer("", Outcome.DUPLICATE if day in known else Outcome.STORED))
            known.add(day)
    return answers


def _days_with_reason(phone: Phone) -> Iterable[date]:
    told = MissedReason.objects.filter(patient=phone.patient, occasion__isnull=True)
    return told.values_list("day", flat=True)


def store_reason(*, phone: Phone, day: object, reason: object, now: datetime) -> None:
    """Store why a day's sessions were missed; BadRecord where that can't be.

    A later word of the phone stands in the place of its earlier one.
    """
    try:
        missed_day = date.fromisoformat(str(day))
    except ValueError as bad:
        raise BadRecord("bad_day") from bad
    if missed_day.isoformat() != day:
        raise BadRecord("bad_day")
    today = local_day(phone.patient, now)
    if missed_day >= today:
        raise BadRecord(NOT_OVER)
    try:
        if not reason:
            raise ActionRefused("A phone takes nothing back.")
        say_why_missed(
            by=None,
            patient=phone.patient,
            day=missed_day,
            reason=str(reason),
            today=today,
            source=MissedReason.Told.PHONE,
            phone=phone,
        )
    except ActionRefused as refused:
        raise BadRecord("bad_reason") from refused


def _answer(phone: Phone, versions: Mapping[int, PlanVersion], owner: str, value: object) -> Answer:
    try:
        return Answer(record_uuid(value), _stored(phone, versions, owner, value))
    except BadRecord as bad:
        return Answer(record_uuid(value), REJECTED, str(bad))


def _stored(
    phone: Phone, versions: Mapping[int, PlanVersion], owner: str, value: object
) -> Outcome:
    """Store one record in a transaction of its own; BadRecord where it doesn't fit this patient.

    Nothing is refused for its day or an old version: a late word is still a word.
    """
    record = read_stop(value) if is_stop(value) else read_record(value)
    if record.owner != owner:
        raise BadRecord("other_owner")
    try:
        if isinstance(record, StopRecord):
            outcome = _store_stop(phone, record)
        else:
            outcome = _store_session(phone, versions, record)
    except ActionRefused as refused:
        raise BadRecord("out_of_bounds") from refused
    if outcome is Outcome.CONFLICT:
        raise BadRecord("conflict")
    return outcome


def _store_session(phone: Phone, versions: Mapping[int, PlanVersion], record: Record) -> Outcome:
    version = versions.get(record.version)
    if version is None:
        raise BadRecord("unknown_version")
    lines = {line.key: line for line in version.lines.all()}
    if any(done.line not in lines for done in record.performances):
        raise BadRecord("unknown_line")
    told = Told(
        day=record.day,
        occasion=record.occasion,
        source=Source.PHONE,
        version=version,
        performances=tuple(
            Performed(
                lines[done.line],
                done.amounts,
                done.load_g,
                done.confirmed,
                done.hurt,
                done.ended,
                done.why,
                done.step,
            )
            for done in record.performances
        ),
        note=record.note,
        began_at=record.began_at,
        time_zone=record.zone,
        **record.scores,
    )
    return record_revision(
        patient=phone.patient,
        entry=record.entry,
        revision=record.uuid,
        replaces=record.replaces,
        told=told,
        phone=phone,
    )


def _store_stop(phone: Phone, record: StopRecord) -> Outcome:
    told = ToldStop(
        tier=record.tier,
        sign=record.sign,
        reported_at=record.reported_at,
        day=record.day,
        from_occasion=record.from_occasion,
        source=StopSource.PHONE,
        time_zone=record.zone,
    )
    return record_stop(patient=phone.patient, uuid=record.uuid, told=told, phone=phone)
