"""The clinic, its staff, their sessions, and the record of what they did."""

from typing import ClassVar

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.contrib.sessions.base_session import AbstractBaseSession
from django.core.validators import RegexValidator
from django.db import models
from django.db.models import Q


class Role(models.TextChoices):
    """What a member of staff may do."""

    THERAPIST = "therapist", "Therapist"
    STUDENT = "student", "Student or assistant"
    SUPERVISOR = "supervisor", "Supervisor"
    ADMINISTRATOR = "administrator", "Administrator"


class UserManager(BaseUserManager["User"]):
    """Makes staff accounts."""

    def create_user(self, *, username: str, name: str, role: str, password: str | None) -> "User":
        """Create an account; without a password nobody can sign in to it."""
        user = self.model(username=username, name=name, role=role)
        user.set_password(password)
        user.save(using=self._db)
        return user


class User(AbstractBaseUser):
    """A member of staff. Patients have no account: their phone is enrolled instead."""

    username = models.CharField(
        max_length=60,
        unique=True,
        validators=[
            RegexValidator(r"^[a-z0-9._-]+\Z", "Use small letters, digits, dots and dashes.")
        ],
    )
    name = models.CharField(max_length=120)
    role = models.CharField(max_length=20, choices=Role)
    is_active = models.BooleanField(default=True)
    joined_at = models.DateTimeField(auto_now_add=True)

    objects: ClassVar[UserManager] = UserManager()

    USERNAME_FIELD = "username"
    REQUIRED_FIELDS = ["name", "role"]

    class Meta:
        ordering = ["name", "pk"]
        constraints = [
            models.CheckConstraint(condition=Q(role__in=Role.values), name="user_has_a_known_role"),
            models.CheckConstraint(condition=~Q(name=""), name="user_has_a_name"),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def may_treat(self) -> bool:
        """Whether this person works with patients at all; an administrator keeps the machine."""
        return self.role != Role.ADMINISTRATOR

    @property
    def may_sign(self) -> bool:
        """Whether this person countersigns others' work and sees the whole caseload."""
        return self.role == Role.SUPERVISOR

    @property
    def needs_signature(self) -> bool:
        """Whether what this person issues waits for a supervisor's signature."""
        return self.role == Role.STUDENT


class Session(AbstractBaseSession):
    """A sign-in, with its user, so that all of a person's sign-ins can be ended at once."""

    user = models.ForeignKey(User, null=True, on_delete=models.CASCADE, related_name="sessions")

    class Meta(AbstractBaseSession.Meta):
        abstract = False

    def __str__(self) -> str:
        return f"session of {self.user_id or 'nobody'}"

    @classmethod
    def get_session_store_class(cls) -> type:
        """Return the store that reads and writes these rows."""
        from clinic.sessions import SessionStore

        return SessionStore


class AuditRow(models.Model):
    """One act of one person, written in the transaction of the act itself; never changed.

    ``patient`` holds the patient's key as a plain number, so that the row outlives what it names.
    """

    at = models.DateTimeField()
    user = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")
    actor = models.CharField(max_length=120)
    verb = models.CharField(max_length=60)
    patient = models.BigIntegerField(null=True)
    subject = models.CharField(max_length=120)
    detail = models.JSONField(default=dict)

    class Meta:
        ordering = ["-pk"]
        indexes = [models.Index(fields=["patient", "-id"], name="audit_of_a_patient")]

    def __str__(self) -> str:
        return f"{self.at:%Y-%m-%d %H:%M} {self.actor} {self.verb} {self.subject}"


class ClinicProfile(models.Model):
    """The clinic's own words and choices: exactly one row.

    Thresholds are the clinic's to change; each default's source is in fixtures/.
    """

    name = models.CharField(max_length=120, default="Our clinic")
    telephone = models.CharField(max_length=40, blank=True)
    emergency_telephone = models.CharField(max_length=40, default="112")
    time_zone = models.CharField(max_length=60, default="Europe/London")
    students_need_signature = models.BooleanField(default=True)
    pain_limit = models.PositiveSmallIntegerField(default=5)
    is_demo = models.BooleanField(default=False)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(pk=1), name="one_clinic_profile"),
            models.CheckConstraint(
                condition=Q(pain_limit__lte=10), name="clinic_pain_limit_up_to_10"
            ),
        ]

    def __str__(self) -> str:
        return self.name
