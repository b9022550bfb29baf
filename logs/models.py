"""What was done at home, as it was told: entries, their revisions, days heard from, and reviews."""

import uuid

from django.db import models
from django.db.models import F, Q

from clinic.models import User
from logs.kept_models import KeptDay as KeptDay  # Django reads an app's tables from here
from logs.obstacles import Ended, Obstacle
from logs.stop_models import StopAnswer as StopAnswer
from logs.stop_models import StopReport as StopReport
from logs.stop_models import StopSource as StopSource
from patients.models import Patient, Phone
from plans.models import Line, PlanVersion, StepChoice


class Source(models.TextChoices):
    """How an entry reached the clinic."""

    PHONE = "phone", "Phone"
    PAPER = "paper", "Paper"
    TELEPHONE = "telephone", "Telephone"


class Entry(models.Model):
    """One session at home. What it says stands in its revisions, of which one is current."""

    uuid = models.UUIDField(primary_key=True, default=uuid.uuid4)
    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="entries")
    struck_at = models.DateTimeField(null=True)
    struck_by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")
    struck_reason = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return str(self.uuid)


class Revision(models.Model):
    """An entry as it was told once.

    Its UUID is made where it was written and makes a repeat harmless. Pains and effort are 0–10;
    None is no answer. Without an ``occasion`` the session was beside any that was due.
    """

    uuid = models.UUIDField(primary_key=True)
    entry = models.ForeignKey(Entry, on_delete=models.PROTECT, related_name="revisions")
    patient = models.ForeignKey(  # the entry's, so that a patient's days are found at once
        Patient, on_delete=models.PROTECT, related_name="+", db_index=False
    )
    replaces = models.UUIDField(null=True)
    is_current = models.BooleanField(default=True)
    content_hash = models.CharField(max_length=64)
    version = models.ForeignKey(PlanVersion, null=True, on_delete=models.PROTECT)
    day = models.DateField()
    occasion = models.PositiveSmallIntegerField(null=True)
    source = models.CharField(max_length=10, choices=Source)
    phone = models.ForeignKey(Phone, null=True, on_delete=models.PROTECT)
    began_at = models.DateTimeField(null=True)
    time_zone = models.CharField(max_length=60, blank=True)
    received_at = models.DateTimeField()
    recorded_by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")
    pain_before = models.PositiveSmallIntegerField(null=True)
    pain_worst = models.PositiveSmallIntegerField(null=True)
    pain_after = models.PositiveSmallIntegerField(null=True)
    pain_next_morning = models.PositiveSmallIntegerField(null=True)
    effort = models.PositiveSmallIntegerField(null=True)
    note = models.CharField(max_length=500, blank=True)
    done = models.TextField(default="")  # its performances as `logs.done_text` puts them
    seen = models.TextField(default="")  # what their lines are, as `logs.kept` puts it

    class Meta:
        ordering = ["day", F("occasion").asc(nulls_last=True), "received_at", "pk"]
        indexes = [models.Index(fields=["patient", "day"], name="revision_of_patient_on_day")]
        constraints = [
            models.UniqueConstraint(
                fields=["entry"],
                condition=Q(is_current=True),
                name="entry_has_one_current_revision",
            ),
            models.CheckConstraint(
                condition=Q(occasion__isnull=True) | Q(occasion__range=(1, 12)),
                name="entry_occasion_1_to_12",
            ),
            models.CheckConstraint(
                condition=Q(source__in=Source.values), name="entry_source_is_known"
            ),
            *(
                models.CheckConstraint(
                    condition=Q(**{f"{field}__isnull": True}) | Q(**{f"{field}__lte": 10}),
                    name=f"entry_{field}_up_to_10",
                )
                for field in (
                    "pain_before",
                    "pain_worst",
                    "pain_after",
                    "pain_next_morning",
                    "effort",
                )
            ),
        ]

    def __str__(self) -> str:
        return f"{self.day} {self.occasion or 'extra'}"


class Performance(models.Model):
    """What a revision says of one line: the amount done in each set, in the line's unit.

    ``hurt``: whether the patient named this line with the pain; None where nobody asked.
    ``ended`` and ``why``: how and why it fell short; ``step``: the easier one done instead of the
    prescribed. None where nothing was said.
    """

    revision = models.ForeignKey(Revision, on_delete=models.CASCADE, related_name="performances")
    line = models.ForeignKey(Line, on_delete=models.PROTECT, related_name="performances")
    amounts = models.JSONField(default=list)
    load_g = models.PositiveIntegerField(null=True)
    is_confirmed = models.BooleanField(default=True)
    hurt = models.BooleanField(null=True)
    ended = models.CharField(  # noqa: DJ001  None is nothing said, as in the scores
        max_length=8, null=True, choices=[(each.value, each.value) for each in Ended]
    )
    why = models.CharField(  # noqa: DJ001
        max_length=16, null=True, choices=[(each.value, each.label) for each in Obstacle]
    )
    step = models.CharField(max_length=16, null=True, choices=StepChoice)  # noqa: DJ001

    class Meta:
        ordering = ["revision", "line__position", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["revision", "line"], name="line_once_a_revision"),
            *(
                models.CheckConstraint(
                    condition=Q(**{f"{field}__isnull": True}) | Q(**{f"{field}__in": known}),
                    name=f"performance_{field}_is_known",
                )
                for field, known in (
                    ("ended", [each.value for each in Ended]),
                    ("why", [each.value for each in Obstacle]),
                    ("step", [step for step in StepChoice.values if step != "resisted"]),
                )
            ),
        ]

    def __str__(self) -> str:
        return f"{self.line_id}: {self.amounts}"


class HeardDay(models.Model):
    """A day marked as taken from paper or telephone, also when nothing was done on it."""

    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="heard_days")
    day = models.DateField()
    source = models.CharField(max_length=10, choices=Source)
    marked_by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")
    marked_at = models.DateTimeField()

    class Meta:
        ordering = ["day"]
        constraints = [
            models.UniqueConstraint(fields=["patient", "day"], name="day_marked_heard_once"),
        ]

    def __str__(self) -> str:
        return f"{self.day} heard"


class Why(models.TextChoices):
    """Why a session was missed, as the patient says it."""

    PAIN = "pain", "pain"
    TIRED = "tired", "tired"
    FORGOT = "forgot", "forgot"
    NO_TIME = "no_time", "no time"
    UNWELL = "unwell", "unwell"
    NOT_UNDERSTOOD = "not_understood", "did not understand"


class MissedReason(models.Model):
    """Why a session was not done; without an ``occasion`` it is for all missed that day."""

    class Told(models.TextChoices):
        """How the reason reached the clinic."""

        VISIT = "visit", "at a visit"
        PHONE = "phone", "on the phone page"
        PAPER = "paper", "on paper"
        TELEPHONE = "telephone", "by telephone"

    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="missed_reasons")
    day = models.DateField()
    occasion = models.PositiveSmallIntegerField(null=True)
    reason = models.CharField(max_length=16, choices=Why)
    source = models.CharField(max_length=10, choices=Told, default=Told.VISIT)
    recorded_by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField()

    class Meta:
        ordering = ["day", F("occasion").asc(nulls_last=True)]
        constraints = [
            models.UniqueConstraint(
                fields=["patient", "day", "occasion"], name="one_reason_a_missed_session"
            ),
            models.UniqueConstraint(
                fields=["patient", "day"],
                condition=Q(occasion__isnull=True),
                name="one_reason_for_a_missed_day",
            ),
            models.CheckConstraint(
                condition=Q(occasion__isnull=True) | Q(occasion__range=(1, 12)),
                name="missed_occasion_1_to_12",
            ),
            models.CheckConstraint(
                condition=Q(reason__in=Why.values), name="missed_reason_is_known"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.day} missed: {self.reason}"


class SessionPair(models.Model):
    """What a person says of two entries that are perhaps one session: the same, or two.

    ``one`` has the lower UUID, so that a pair has one row.
    """

    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="session_pairs")
    one = models.ForeignKey(Entry, on_delete=models.PROTECT, related_name="+")
    other = models.ForeignKey(Entry, on_delete=models.PROTECT, related_name="+")
    is_same = models.BooleanField()
    said_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    said_at = models.DateTimeField()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["one", "other"], name="one_word_a_pair"),
            models.CheckConstraint(condition=Q(one__lt=F("other")), name="pair_in_order"),
        ]

    def __str__(self) -> str:
        return "the same session" if self.is_same else "two sessions"


class ReviewRecord(models.Model):
    """That a person has reviewed a patient on a day, over which days, and what they noted."""

    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="reviews")
    day = models.DateField()
    first_day = models.DateField()
    last_day = models.DateField()
    note = models.CharField(max_length=500, blank=True)
    reviewed_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    reviewed_at = models.DateTimeField()

    class Meta:
        ordering = ["-day", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(last_day__gte=F("first_day")), name="reviewed_days_run_forwards"
            ),
        ]

    def __str__(self) -> str:
        return f"review on {self.day}"
