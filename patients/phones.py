"""Enrolled phones: invites, credentials, and what each phone reports of its unsent entries.

Secrets and credentials are 256 random bits and are kept only as SHA-256: a plain hash is enough
where nothing can be guessed. For the same reason wrong tries are not counted: at a thousand
million tries a second, a century hits one of a thousand live secrets with odds below 10⁻⁵⁵.
Short codes can be guessed, and are counted: :mod:`patients.pairing`.
"""

import hashlib
import re
import secrets
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import cache
from uuid import UUID
from zoneinfo import ZoneInfo, available_timezones

from django.conf import settings
from django.db import transaction
from django.db.models import Q
from django.http import HttpRequest
from django.utils.crypto import salted_hmac

from clinic.actions import ActionRefused, write_audit
from clinic.models import User
from patients import pairing
from patients.models import Invite, Patient, Phone, PhoneStore
from patients.queries import zone_of

INVITE_LIFE = timedelta(hours=72)
COOKIE_NAME = "__Host-home" if settings.HTTPS else "home"
COOKIE_AGE_S = 400 * 24 * 60 * 60  # browsers cap it there (RFC 6265bis draft, section 5.5)
SECRET_SHAPE = re.compile(r"[A-Za-z0-9_-]{43}")  # 32 bytes in base64url without padding
LONGEST_LABEL = 60
MOST_AHEAD_S = 2_000_000_000  # what the column holds; about 63 years
CLOCK_MAY_BE_OFF_S = 600
MOST_VERSION = 100_000
MOST_WAITING = 1_000_000

# Looked for in this order: an Android browser names Linux too, and so on.
DEVICE_FAMILIES = (
    ("iPhone", "iPhone"),
    ("iPad", "iPad"),
    ("Android", "Android phone"),
    ("Windows", "Windows computer"),
    ("Macintosh", "Mac or iPad"),
    ("CrOS", "Chromebook"),
    ("Linux", "Linux computer"),
)


@dataclass(frozen=True)
class Enrolled:
    """A phone that has just been enrolled, and its credential, told this once.

    None where the phone keeps the credential that it has.
    """

    phone: Phone
    credential: str | None


@dataclass(frozen=True)
class PhoneSummary:
    """What staff see of one phone. ``last_empty_at`` is its last word that nothing waits on it."""

    phone: Phone
    last_empty_at: datetime | None
    lost_a_store: bool

    @property
    def clock_words(self) -> str:
        """How the phone's clock stood against the server's, where it was off; else nothing."""
        return clock_words(self.phone.clock_ahead_s)


def clock_words(ahead_s: int | None) -> str:
    """Return how far a clock is off, in words; '' up to ten minutes, which harm nothing.

    >>> clock_words(-86_400), clock_words(4000), clock_words(600), clock_words(None)
    ('1 day behind', '67 minutes ahead', '', '')
    """
    if ahead_s is None or abs(ahead_s) <= CLOCK_MAY_BE_OFF_S:
        return ""
    away_s = abs(ahead_s)
    name, unit_s = "minute", 60
    if away_s >= 3 * 3600:
        name, unit_s = ("day", 86_400) if away_s >= 86_400 else ("hour", 3600)
    count = round(away_s / unit_s)
    return f"{count} {name}{'' if count == 1 else 's'} {'ahead' if ahead_s > 0 else 'behind'}"


def _hash(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()


@cache
def _zones() -> frozenset[str]:
    return frozenset(available_timezones())


def device_family(user_agent: str) -> str:
    """Return what kind of device a browser says it is on.

    >>> device_family("Mozilla/5.0 (Linux; Android 14; K) AppleWebKit/537.36")
    'Android phone'
    >>> device_family("")
    'Phone'
    """
    return next((name for word, name in DEVICE_FAMILIES if word in user_agent), "Phone")


@transaction.atomic
def make_invite(*, by: User | None, patient: Patient, now: datetime) -> str:
    """Return a new enrolment link, good once and for 72 hours; it replaces earlier unused ones.

    The secret stands after the ``#``, which no browser sends: it reaches no log and no referrer.
    """
    patient.invites.filter(used_at__isnull=True).delete()
    secret = secrets.token_urlsafe(32)
    Invite.objects.create(
        patient=patient,
        secret_hash=_hash(secret),
        made_by=by,
        made_at=now,
        expires_at=now + INVITE_LIFE,
    )
    write_audit(
        user=by, verb="made enrolment link", subject=patient.clinic_number, patient_id=patient.pk
    )
    return f"{settings.PUBLIC_ADDRESS}/home/join#{secret}"


@transaction.atomic
def make_invite_with_code(*, by: User | None, patient: Patient, now: datetime) -> tuple[str, str]:
    """Return a new enrolment link and a short code for it: whichever is used first uses up both."""
    link = make_invite(by=by, patient=patient, now=now)
    invite = patient.invites.get(used_at__isnull=True)
    return link, pairing.give_code(invite=invite, now=now)


def waiting_invite(patient: Patient, now: datetime) -> Invite | None:
    """Return the enrolment link that is still good, if there is one (one query)."""
    return patient.invites.filter(used_at__isnull=True, expires_at__gt=now).first()


@transaction.atomic
def enrol(
    *,
    secret: str = "",
    code: str = "",
    store_id: UUID,
    time_zone: str,
    user_agent: str,
    present: Phone | None,
    now: datetime,
) -> Enrolled | None:
    """Use up an invite and enrol the phone that holds it; None when the invite is no longer good.

    The phone shows the ``secret`` of the link, or else the ``code`` that was typed into it
    (pairing.CodesClosed where too many of those were wrong).

    A phone that is ``present`` as this patient's already stays the phone it is, so that its days
    still have one to answer for them. ``store_id`` names the store
    that the phone has made for unsent entries: the first one.
    """
    shown = _shown_invite(secret, code, now)
    if shown is None:
        return None
    # One statement both asks and answers: of two phones with the same link one gets nothing.
    good = Invite.objects.filter(pk=shown.pk, used_at__isnull=True, expires_at__gt=now)
    if good.update(used_at=now) != 1:
        return None
    invite = Invite.objects.select_related("patient").get(pk=shown.pk)
    patient = invite.patient
    note_time_zone(patient=patient, time_zone=time_zone, actor="phone")
    credential = None
    if present and present.patient_id == patient.pk:
        phone = present
        note_store(phone=phone, store_id=store_id, now=now)
    else:
        credential = secrets.token_urlsafe(32)
        today = local_day(patient, now)
        family = device_family(user_agent)
        phone = Phone.objects.create(
            patient=patient,
            label=f"{family}, {today.day} {today:%b %Y}",
            token_hash=_hash(credential),
            enrolled_at=now,
            enrolled_day=today,
        )
        invite.phone = phone
        invite.save(update_fields=["phone"])
        PhoneStore.objects.create(phone=phone, store_id=store_id, made_day=today, is_first=True)
    write_audit(
        user=None,
        actor="phone",
        verb="enrolled phone",
        subject=phone.label,
        patient_id=patient.pk,
        phone=phone.pk,
    )
    return Enrolled(phone, credential)


def _shown_invite(secret: str, code: str, now: datetime) -> Invite | None:
    if code:
        return pairing.invite_of_code(typed=code, now=now)
    if not SECRET_SHAPE.fullmatch(secret):
        return None
    return Invite.objects.filter(secret_hash=_hash(secret)).first()


def phone_for(request: HttpRequest) -> Phone | None:
    """Return the phone whose credential a request carries; None if unknown or revoked."""
    credential = request.COOKIES.get(COOKIE_NAME, "")
    if not SECRET_SHAPE.fullmatch(credential):
        return None
    return (
        Phone.objects.filter(token_hash=_hash(credential), revoked_at__isnull=True)
        .select_related("patient")
        .first()
    )


def owner_key(patient: Patient) -> str:
    """Return the word by which a phone knows whose entries it holds: it names nobody.

    Entries that wait on a phone carry it, so that they never go to another patient's record when
    the phone is enrolled anew.
    """
    return salted_hmac("home.owner", str(patient.pk), algorithm="sha256").hexdigest()[:24]


def local_day(patient: Patient, now: datetime) -> date:
    """Return the local day in the patient's place at an instant of the server's clock."""
    return now.astimezone(ZoneInfo(zone_of(patient))).date()


def note_time_zone(*, patient: Patient, time_zone: str, actor: str) -> None:
    """Keep the time zone that a phone reports, if it is one and is new."""
    if time_zone == patient.time_zone or time_zone not in _zones():
        return
    patient.time_zone = time_zone
    patient.save(update_fields=["time_zone"])
    write_audit(
        user=None,
        actor=actor,
        verb="changed time zone",
        subject=time_zone,
        patient_id=patient.pk,
    )


def note_store(*, phone: Phone, store_id: UUID, now: datetime) -> PhoneStore:
    """Return the phone's store of that id, noting it when it is new.

    A new one means that the one before it is gone, perhaps with entries in it.
    """
    store, _ = PhoneStore.objects.get_or_create(
        phone=phone,
        store_id=store_id,
        defaults={
            "made_day": local_day(phone.patient, now),
            "is_first": not phone.stores.exists(),
        },
    )
    return store


@transaction.atomic
def report(*, phone: Phone, store_id: UUID, pending: int, time_zone: str, now: datetime) -> None:
    """Take a phone's word on how many entries wait on it.

    The day of an empty report goes by the server's clock, so that a wrong one on the phone can
    make no day heard.
    """
    note_time_zone(patient=phone.patient, time_zone=time_zone, actor=f"phone: {phone.label}")
    store = note_store(phone=phone, store_id=store_id, now=now)
    if pending == 0:
        today = local_day(phone.patient, now)
        PhoneStore.objects.filter(
            Q(last_empty_day__isnull=True) | Q(last_empty_day__lte=today), pk=store.pk
        ).update(last_empty_day=today, last_empty_at=now)


def note_clock(*, phone: Phone, sent_at: object, now: datetime) -> None:
    """Keep how far a phone's clock is before the server's, as its message says when it was sent.

    It is shown to staff; no day is ever moved by it.
    """
    try:
        at = datetime.fromisoformat(sent_at) if isinstance(sent_at, str) else None
        ahead_s = round((at - now).total_seconds()) if at else None
    except (ValueError, TypeError, OverflowError):
        return
    if ahead_s is not None and abs(ahead_s) <= MOST_AHEAD_S:
        Phone.objects.filter(pk=phone.pk).update(clock_ahead_s=ahead_s)


def note_contact(*, phone: Phone, said: Mapping[str, object], now: datetime) -> None:
    """Keep when a phone last reached the clinic, and what it ``said`` of itself.

    That is the plan ``version`` that it keeps, how many sessions are ``pending`` on it, whether its
    browser promised not to clear them (``persistent``), and whether it is ``installed``.
    """
    kept: dict[str, object] = {"last_contact_at": now}
    version, pending = said.get("version"), said.get("pending")
    if type(version) is int and 0 < version <= MOST_VERSION:
        kept["last_version"] = version
    if type(pending) is int and 0 <= pending <= MOST_WAITING:
        kept["waiting"] = pending
    for name, column in (("persistent", "keeps_storage"), ("installed", "is_installed")):
        if type(said.get(name)) is bool:
            kept[column] = said[name]
    Phone.objects.filter(pk=phone.pk).update(**kept)


def phone_summaries(patient: Patient) -> list[PhoneSummary]:
    """Return a patient's phones, those in use first, with their last word (two queries)."""
    phones = list(patient.phones.prefetch_related("stores").order_by("pk"))
    return [
        PhoneSummary(
            phone=phone,
            last_empty_at=_latest([store.last_empty_at for store in phone.stores.all()]),
            lost_a_store=any(not store.is_first for store in phone.stores.all()),
        )
        for phone in sorted(phones, key=lambda phone: phone.revoked_at is not None)
    ]


def _latest(instants: Sequence[datetime | None]) -> datetime | None:
    return max((instant for instant in instants if instant), default=None)


@transaction.atomic
def rename_phone(*, by: User, phone: Phone, label: str) -> Phone:
    """Call a phone something that people at the clinic will know it by."""
    label = " ".join(label.split())
    if not label or len(label) > LONGEST_LABEL:
        raise ActionRefused(f"A phone's name has 1 to {LONGEST_LABEL} characters.")
    phone.label = label
    phone.save(update_fields=["label"])
    write_audit(user=by, verb="renamed phone", subject=label, patient_id=phone.patient_id)
    return phone


@transaction.atomic
def revoke_phone(*, by: User, phone: Phone, now: datetime) -> Phone:
    """Shut a phone out at once. Days that it had not reported stay unheard until marked."""
    if phone.revoked_at is not None:
        raise ActionRefused("This phone is shut out already.")
    phone.revoked_at = max(now, phone.enrolled_at)
    phone.revoked_day = max(local_day(phone.patient, now), phone.enrolled_day)
    phone.save(update_fields=["revoked_at", "revoked_day"])
    write_audit(user=by, verb="revoked phone", subject=phone.label, patient_id=phone.patient_id)
    return phone
