"""Short codes, typed into a phone where no link can be opened: made, tried, and soon over.

A code is eight digits. The first two find it among those that are good now, so that a wrong try
counts against one code and not against every patient's; the six behind them are its secret. It
ends after ten minutes, with its fifth try, or with its use. Only a keyed, salted hash of it is
kept, since a bare hash of so few digits could be guessed from a copy of the database.

The odds, for someone who tries codes at random: five tries at one of a million, 5 in a million a
code; and after twenty wrong tries within an hour no code is taken at all, so 2 in 100,000 an hour
however many try. The link beside it goes on working.
"""

import re
import secrets
import unicodedata
from datetime import datetime, timedelta

from django.db.models import F, QuerySet
from django.utils.crypto import constant_time_compare, salted_hmac

from clinic.actions import ActionRefused, write_audit
from patients.models import MOST_CODE_TRIES, Invite, WrongCode

CODE_LIFE = timedelta(minutes=10)
PREFIX_DIGITS = 2
CODE_DIGITS = 8
MOST_WRONG_AN_HOUR = 20
_HOUR = timedelta(hours=1)


class CodesClosed(Exception):
    """Too many wrong codes were typed within the hour: none is taken for now."""


def digits_of(typed: str) -> str:
    """Return the digits of what was typed, in any script, without what stands between them.

    >>> digits_of(" 1234-5678 ")
    '12345678'
    >>> digits_of("\u0661\u0662\u0663\u0664 \u0665\u0666\u0667\u0668")
    '12345678'
    """
    digits = (unicodedata.decimal(letter, None) for letter in re.sub(r"[\s-]", "", typed[:40]))
    return "".join("" if digit is None else str(digit) for digit in digits)


def _hash(salt: str, code: str) -> str:
    return salted_hmac("home.code", f"{salt}:{code}", algorithm="sha256").hexdigest()


def _good(now: datetime) -> QuerySet[Invite]:
    return Invite.objects.filter(
        used_at__isnull=True, code_expires_at__gt=now, code_tries__lt=MOST_CODE_TRIES
    )


def give_code(*, invite: Invite, now: datetime) -> str:
    """Give an invite a short code and return it, told this once; call it in a transaction."""
    taken = set(_good(now).values_list("code_prefix", flat=True))
    free = [f"{n:02}" for n in range(10**PREFIX_DIGITS) if f"{n:02}" not in taken]
    if not free:
        raise ActionRefused("A hundred codes wait to be typed. Try again in ten minutes.")
    rest = CODE_DIGITS - PREFIX_DIGITS
    code = f"{secrets.choice(free)}{secrets.randbelow(10**rest):0{rest}}"
    invite.code_prefix, invite.code_salt = code[:PREFIX_DIGITS], secrets.token_hex(16)
    invite.code_hash = _hash(invite.code_salt, code)
    invite.code_expires_at, invite.code_tries = now + CODE_LIFE, 0
    invite.save(
        update_fields=["code_prefix", "code_salt", "code_hash", "code_expires_at", "code_tries"]
    )
    WrongCode.objects.filter(at__lt=now - _HOUR).delete()
    return code


def invite_of_code(*, typed: str, now: datetime) -> Invite | None:
    """Return the invite that a typed code is for; None, and a try counted, where it is for none.

    Raises CodesClosed where too many were wrong. Call it in a transaction that is kept: a try that
    is rolled back would not have counted.
    """
    if WrongCode.objects.filter(at__gt=now - _HOUR).count() >= MOST_WRONG_AN_HOUR:
        raise CodesClosed
    code = digits_of(typed)
    if len(code) != CODE_DIGITS:
        return None
    for invite in _good(now).filter(code_prefix=code[:PREFIX_DIGITS]):
        # The try is counted before the code is looked at, so that many at once are no more tries.
        tried = _good(now).filter(pk=invite.pk).update(code_tries=F("code_tries") + 1)
        if tried and constant_time_compare(_hash(invite.code_salt, code), invite.code_hash):
            return invite
        if tried:
            WrongCode.objects.create(at=now)
            if invite.code_tries + 1 >= MOST_CODE_TRIES:
                write_audit(
                    user=None,
                    actor="phone",
                    verb="ended code after wrong tries",
                    subject="short code",
                    patient_id=invite.patient_id,
                )
    return None
