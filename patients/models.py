"""People, their episodes of care, who cares for them, and their phones."""

from django.core.validators import MaxValueValidator, MinValueValidator, RegexValidator
from django.db import models
from django.db.models import F, Q

from clinic.languages import CHOICES, FALLBACK
from clinic.models import User
from patients import measures_models, precaution_models  # noqa: F401  tables are read from here
from patients.motions import Side


class Sex(models.TextChoices):
    """As used by published norms and body tables; unknown gives no norm."""

    FEMALE = "female", "Female"
    MALE = "male", "Male"
    UNKNOWN = "unknown", "Not stated"


class SideChoice(models.TextChoices):
    """A side, for forms and columns."""

    LEFT = Side.LEFT.value, "Left"
    RIGHT = Side.RIGHT.value, "Right"
    BOTH = Side.BOTH.value, "Both"


class TextSize(models.TextChoices):
    """How large the patient's sheet and phone page are set."""

    NORMAL = "normal", "Normal"
    LARGE = "large", "Large"
    LARGEST = "largest", "Largest"


class Patient(models.Model):
    """A person treated here. The clinic's own number names them outside this database."""

    clinic_number = models.CharField(
        max_length=20,
        unique=True,
        validators=[
            RegexValidator(r"^[A-Za-z0-9-]+\Z", "Use letters, digits and dashes only, no spaces.")
        ],
    )
    name = models.CharField(max_length=120)
    birth_date = models.DateField()
    sex = models.CharField(max_length=10, choices=Sex, default=Sex.UNKNOWN)
    stature_cm = models.PositiveSmallIntegerField(
        null=True, blank=True, validators=[MinValueValidator(50), MaxValueValidator(250)]
    )
    body_mass_kg = models.DecimalField(
        max_digits=4,
        decimal_places=1,
        null=True,
        blank=True,
        validators=[MinValueValidator(5), MaxValueValidator(400)],
    )
    affected_side = models.CharField(max_length=5, choices=SideChoice)
    dominant_side = models.CharField(max_length=5, choices=SideChoice, blank=True)
    language = models.CharField(max_length=5, choices=CHOICES, default=FALLBACK)
    text_size = models.CharField(max_length=8, choices=TextSize, default=TextSize.NORMAL)
    time_zone = models.CharField(max_length=60, blank=True)
    added_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["name", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(affected_side__in=SideChoice.values), name="patient_side_is_known"
            ),
            models.CheckConstraint(condition=~Q(name=""), name="patient_has_a_name"),
            models.CheckConstraint(
                condition=Q(stature_cm__isnull=True) | Q(stature_cm__range=(50, 250)),
                name="patient_stature_plausible",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.name} ({self.clinic_number})"


class HomeHelper(models.Model):
    """Someone at home who helps with the exercises."""

    patient = models.ForeignKey(Patient, on_delete=models.CASCADE, related_name="home_helpers")
    name = models.CharField(max_length=120)
    relation = models.CharField(max_length=60, blank=True)
    telephone = models.CharField(max_length=40, blank=True)

    class Meta:
        ordering = ["name", "pk"]

    def __str__(self) -> str:
        return self.name


class Episode(models.Model):
    """One course of care for one problem."""

    patient = models.ForeignKey(Patient, on_delete=models.CASCADE, related_name="episodes")
    diagnosis = models.CharField(max_length=200)
    icd10 = models.CharField("ICD-10 code", max_length=8, blank=True)
    onset_day = models.DateField(null=True, blank=True)
    operation_day = models.DateField(null=True, blank=True)
    referrer = models.CharField(max_length=120, blank=True)
    goals = models.TextField(blank=True)
    telephone = models.CharField("telephone to call", max_length=40, blank=True)
    opened_day = models.DateField()
    closed_day = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["-opened_day", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(closed_day__isnull=True) | Q(closed_day__gte=F("opened_day")),
                name="episode_closes_after_it_opens",
            ),
        ]

    def __str__(self) -> str:
        return self.diagnosis


class CareTeamMember(models.Model):
    """Who may open a patient's pages: their own team, or cover with a reason on record."""

    patient = models.ForeignKey(Patient, on_delete=models.CASCADE, related_name="care_team")
    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="care_teams")
    since = models.DateTimeField()
    until = models.DateTimeField(null=True, blank=True)
    cover_reason = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["since", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["patient", "user"],
                condition=Q(until__isnull=True),
                name="in_a_care_team_once",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.user} for {self.patient}"


class Phone(models.Model):
    """A phone enrolled for a patient; its credential is kept only as a hash.

    ``last_version`` is the newest plan version that it has said it keeps, ``clock_ahead_s`` how
    far its clock was before the server's when it last sent, ``waiting`` how many sessions it said
    wait on it, ``keeps_storage`` whether its browser has promised not to clear what it keeps, and
    ``is_installed`` whether the page was opened from the home screen: None where it said nothing.
    """

    patient = models.ForeignKey(Patient, on_delete=models.CASCADE, related_name="phones")
    label = models.CharField(max_length=60)
    token_hash = models.CharField(max_length=64, unique=True)
    enrolled_at = models.DateTimeField()
    enrolled_day = models.DateField()
    revoked_at = models.DateTimeField(null=True)
    revoked_day = models.DateField(null=True)
    last_contact_at = models.DateTimeField(null=True)
    last_version = models.PositiveIntegerField(null=True)
    clock_ahead_s = models.IntegerField(null=True)
    waiting = models.PositiveIntegerField(null=True)
    keeps_storage = models.BooleanField(null=True)
    is_installed = models.BooleanField(null=True)

    class Meta:
        ordering = ["enrolled_at", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(revoked_at__isnull=True, revoked_day__isnull=True)
                | Q(revoked_at__gte=F("enrolled_at"), revoked_day__gte=F("enrolled_day")),
                name="phone_revoked_after_enrolled",
            ),
        ]

    def __str__(self) -> str:
        return self.label


class PhoneStore(models.Model):
    """One store of unsent entries on a phone, and the last local day it was reported empty.

    A phone whose storage was cleared makes a new store under a new id: days before it stay
    unheard, since entries may have gone with the old one.
    """

    phone = models.ForeignKey(Phone, on_delete=models.CASCADE, related_name="stores")
    store_id = models.UUIDField()
    made_day = models.DateField()
    is_first = models.BooleanField()
    last_empty_day = models.DateField(null=True)
    last_empty_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["phone", "store_id"], name="phone_store_once"),
            models.UniqueConstraint(
                fields=["phone"], condition=Q(is_first=True), name="phone_has_one_first_store"
            ),
        ]

    def __str__(self) -> str:
        return f"store of {self.phone_id}"


MOST_CODE_TRIES = 5


class Invite(models.Model):
    """A way in for one phone: single use, expiring, its secret kept only as a hash.

    Beside the link it may have a short code, typed into the phone, that ends much sooner and with
    its fifth try (:mod:`patients.pairing`).
    """

    patient = models.ForeignKey(Patient, on_delete=models.CASCADE, related_name="invites")
    secret_hash = models.CharField(max_length=64, unique=True)
    made_by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True)
    phone = models.OneToOneField(Phone, null=True, on_delete=models.SET_NULL, related_name="invite")
    code_prefix = models.CharField(max_length=2, blank=True, db_index=True)
    code_salt = models.CharField(max_length=32, blank=True)
    code_hash = models.CharField(max_length=64, blank=True)
    code_expires_at = models.DateTimeField(null=True)
    code_tries = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ["-made_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(expires_at__gt=F("made_at")), name="invite_expires_after_made"
            ),
            models.CheckConstraint(
                condition=Q(code_hash="", code_expires_at__isnull=True)
                | (~Q(code_hash="") & ~Q(code_salt="") & Q(code_expires_at__lte=F("expires_at"))),
                name="invite_code_is_whole_and_ends_first",
            ),
            models.CheckConstraint(
                condition=Q(code_tries__lte=MOST_CODE_TRIES), name="invite_code_tries_are_few"
            ),
        ]

    def __str__(self) -> str:
        return f"invite for {self.patient_id}"


class WrongCode(models.Model):
    """One wrong try at a short code: too many in an hour close the typing of codes to everyone."""

    at = models.DateTimeField(db_index=True)

    class Meta:
        ordering = ["-at", "-pk"]

    def __str__(self) -> str:
        return f"wrong code at {self.at}"
