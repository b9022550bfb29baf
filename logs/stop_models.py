"""Stop signs that were reported, and what the clinic answered."""

from django.db import models
from django.db.models import Q

from clinic.models import User
from patients.models import Patient, Phone
from plans.stop_signs import HOLDING, TIERS


class StopSource(models.TextChoices):
    """How a report of a stop sign reached the clinic."""

    PHONE = "phone", "by the phone page"
    TELEPHONE = "telephone", "by telephone"
    VISIT = "visit", "at a visit"


class StopReport(models.Model):
    """A stop sign as it was reported; it never changes once received, save that it was answered.

    ``reported_at`` and the local ``day`` are of the place where it was written. It holds what is
    due from the occasion of that number on (13: from the next day); the third tier holds nothing.
    """

    uuid = models.UUIDField(primary_key=True)
    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="stop_reports")
    tier = models.CharField(max_length=12, choices=[(tier, tier) for tier in TIERS])
    sign = models.CharField(max_length=40)
    reported_at = models.DateTimeField()
    time_zone = models.CharField(max_length=60, blank=True)
    day = models.DateField()
    from_occasion = models.PositiveSmallIntegerField(null=True)
    source = models.CharField(max_length=10, choices=StopSource)
    phone = models.ForeignKey(Phone, null=True, on_delete=models.PROTECT, related_name="+")
    recorded_by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")
    note = models.CharField(max_length=500, blank=True)
    content_hash = models.CharField(max_length=64)
    received_at = models.DateTimeField()
    answered_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["-reported_at", "-received_at", "pk"]
        indexes = [
            models.Index(
                fields=["patient"],
                condition=Q(answered_at__isnull=True),
                name="stop_sign_unanswered",
            ),
        ]
        constraints = [
            models.CheckConstraint(condition=Q(tier__in=TIERS), name="stop_tier_is_known"),
            models.CheckConstraint(condition=~Q(sign=""), name="stop_names_its_sign"),
            models.CheckConstraint(
                condition=Q(
                    tier__in=HOLDING, from_occasion__isnull=False, from_occasion__range=(1, 13)
                )
                | (~Q(tier__in=HOLDING) & Q(from_occasion__isnull=True)),
                name="stop_holds_as_its_tier_does",
            ),
            models.CheckConstraint(
                condition=Q(source=StopSource.PHONE, phone__isnull=False, recorded_by__isnull=True)
                | Q(
                    source__in=[StopSource.TELEPHONE, StopSource.VISIT],
                    phone__isnull=True,
                    recorded_by__isnull=False,
                ),
                name="stop_came_by_phone_or_staff",
            ),
            models.CheckConstraint(
                condition=Q(answered_at__isnull=True) | Q(answered_at__gte=models.F("received_at")),
                name="stop_answered_once_received",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.tier}: {self.sign}, {self.day}"


class StopAnswer(models.Model):
    """What a named person decided on a report. A later answer corrects it; the earlier stands.

    ``words`` are for the record, ``sentence`` the patient reads. Where the plan goes on after a
    hold, ``ends_day`` and ``ends_occasion`` are the first that is due again; where it does not,
    what is due stays held until a later answer.
    """

    report = models.ForeignKey(StopReport, on_delete=models.PROTECT, related_name="answers")
    number = models.PositiveSmallIntegerField()
    is_current = models.BooleanField(default=True)
    words = models.CharField(max_length=500)
    sentence = models.CharField(max_length=200, blank=True)
    goes_on = models.BooleanField()
    ends_day = models.DateField(null=True)
    ends_occasion = models.PositiveSmallIntegerField(null=True)
    answered_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    answered_at = models.DateTimeField()

    class Meta:
        ordering = ["report", "number"]
        constraints = [
            models.UniqueConstraint(fields=["report", "number"], name="stop_answer_numbered_once"),
            models.UniqueConstraint(
                fields=["report"],
                condition=Q(is_current=True),
                name="stop_has_one_current_answer",
            ),
            models.CheckConstraint(condition=~Q(words=""), name="stop_answer_in_words"),
            models.CheckConstraint(
                condition=Q(ends_day__isnull=True, ends_occasion__isnull=True)
                | Q(
                    goes_on=True,
                    ends_day__isnull=False,
                    ends_occasion__isnull=False,
                    ends_occasion__range=(1, 12),
                ),
                name="stop_answer_ends_where_it_goes_on",
            ),
        ]

    def __str__(self) -> str:
        return f"answer {self.number}: {self.words}"
