"""Writes of the clinic's own rows, and the audit row that every write leaves."""

from django.contrib.auth.password_validation import validate_password
from django.db import transaction
from django.utils import timezone

from clinic.models import AuditRow, ClinicProfile, Role, Session, User


class ActionRefused(Exception):
    """What was asked can't be done; the message tells a person why and what to do."""


def write_audit(
    *,
    user: User | None,
    verb: str,
    subject: str,
    patient_id: int | None = None,
    actor: str = "",
    **detail: object,
) -> AuditRow:
    """Write one act down; call it inside the transaction of the act.

    ``actor`` names who acted where no member of staff did (a phone, a command).
    """
    return AuditRow.objects.create(
        at=timezone.now(),
        user=user,
        actor=user.name if user else actor or "command",
        verb=verb,
        patient=patient_id,
        subject=subject[:120],
        detail=detail,
    )


@transaction.atomic
def add_staff(*, by: User | None, username: str, name: str, role: str, password: str) -> User:
    """Create a member of staff's account; ValidationError when the password is too weak."""
    validate_password(password, User(username=username, name=name))
    user = User.objects.create_user(username=username, name=name, role=role, password=password)
    write_audit(user=by, verb="added staff", subject=username, role=role)
    return user


@transaction.atomic
def change_staff(*, by: User, user: User, name: str, role: str, is_active: bool) -> User:
    """Change an account; one made inactive is signed out everywhere."""
    if user.pk == by.pk and (not is_active or role != by.role):
        raise ActionRefused("You can't close your own account or change your own role.")
    user.name, user.role, user.is_active = name, role, is_active
    user.save(update_fields=["name", "role", "is_active"])
    if not is_active:
        end_sessions(user=user)
    write_audit(
        user=by, verb="changed staff", subject=user.username, role=role, is_active=is_active
    )
    return user


@transaction.atomic
def set_password(*, by: User, user: User, password: str) -> None:
    """Set a new password and end the sign-ins made with the old one."""
    validate_password(password, user)
    user.set_password(password)
    user.save(update_fields=["password"])
    end_sessions(user=user)
    write_audit(user=by, verb="set password", subject=user.username)


def end_sessions(*, user: User) -> int:
    """Sign a person out everywhere; return how many sign-ins ended."""
    ended, _ = Session.objects.filter(user=user).delete()
    return ended


@transaction.atomic
def save_profile(*, by: User | None, profile: ClinicProfile) -> ClinicProfile:
    """Save the clinic's name, telephones and choices."""
    profile.pk = 1
    profile.save()
    write_audit(user=by, verb="changed clinic", subject=profile.name)
    return profile


def has_administrator() -> bool:
    """Whether anyone can keep accounts yet (one query)."""
    return User.objects.filter(role=Role.ADMINISTRATOR, is_active=True).exists()
