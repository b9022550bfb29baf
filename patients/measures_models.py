"""Assessments: what was measured, on which day, by whom and how.

An assessment never changes (migration 0002 makes the database refuse it); a correction is a new
one that names the one it replaces, and both stay visible.
"""

from decimal import Decimal

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from clinic.models import User
from patients.assessment import Method, NotTested

ONE_SIDE = [("left", "Left"), ("right", "Right")]


REASONS = [(why.value, why.label) for why in NotTested]
METHODS = [(method.value, method.label) for method in Method]


class MeasuredIn(models.TextChoices):
    """The position in which a joint was measured."""

    UNSAID = "", "not said"
    LYING_BACK = "lying_back", "lying on the back"
    LYING_FRONT = "lying_front", "lying on the front"
    LYING_SIDE = "lying_side", "lying on the side"
    SITTING = "sitting", "sitting"
    STANDING = "standing", "standing"


class ToneWord(models.TextChoices):
    """How a muscle group answers being moved by another hand, in the trade's plain words."""

    LOW = "low", "low"
    NORMAL = "normal", "normal"
    SLIGHT = "slight", "slightly raised"
    CLEAR = "clear", "clearly raised, moves easily"
    STRONG = "strong", "strongly raised, hard to move"
    RIGID = "rigid", "rigid"


class MassUnit(models.TextChoices):
    """The unit that a grip meter shows."""

    KG = "kg", "kg"
    LB = "lb", "lb"


def _one_side() -> Q:
    return Q(side__in=["left", "right"])


def _reason(field: str) -> Q:
    return Q(**{f"{field}__in": ["", *(why.value for why in NotTested)]})


class Assessment(models.Model):
    """What one person measured of a patient on one local day; immutable.

    ``measured_by`` is the member of staff who measured; where it was someone else,
    ``measured_by_other`` names them, and such a person counts as another rater every time.
    """

    patient = models.ForeignKey(
        "patients.Patient", on_delete=models.PROTECT, related_name="assessments"
    )
    measured_day = models.DateField()
    measured_by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")
    measured_by_other = models.CharField(max_length=120, blank=True)
    recorded_by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField()
    supersedes = models.OneToOneField(
        "self", null=True, on_delete=models.PROTECT, related_name="superseded_by"
    )
    correction_reason = models.CharField(max_length=200, blank=True)
    pain_at_rest = models.PositiveSmallIntegerField(null=True)
    pain_at_rest_not_tested = models.CharField(max_length=16, choices=REASONS, blank=True)
    pain_on_movement = models.PositiveSmallIntegerField(null=True)
    pain_on_movement_not_tested = models.CharField(max_length=16, choices=REASONS, blank=True)
    notes = models.TextField(max_length=4000, blank=True)

    class Meta:
        ordering = ["-measured_day", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=(Q(pain_at_rest__isnull=True) | Q(pain_at_rest__lte=10))
                & (Q(pain_on_movement__isnull=True) | Q(pain_on_movement__lte=10)),
                name="assessment_pain_up_to_10",
            ),
            models.CheckConstraint(
                condition=~Q(measured_by__isnull=True, measured_by_other=""),
                name="assessment_names_who_measured",
            ),
            models.CheckConstraint(
                condition=Q(supersedes__isnull=True) | ~Q(correction_reason=""),
                name="corrected_assessment_says_why",
            ),
            models.CheckConstraint(
                condition=_reason("pain_at_rest_not_tested")
                & _reason("pain_on_movement_not_tested"),
                name="assessment_reason_is_known",
            ),
        ]

    def __str__(self) -> str:
        return f"assessment of {self.measured_day}"

    @property
    def measurer(self) -> str:
        """Who measured, by name."""
        return self.measured_by.name if self.measured_by else self.measured_by_other


class MotionMeasure(models.Model):
    """One motion of one side: active and passive range (degrees) and the muscle group's grade.

    ``grade`` is text ("3-"); ``grade_rank`` its place among the grades, for order only. Negative
    degrees say that the neutral position was not reached.
    """

    assessment = models.ForeignKey(Assessment, on_delete=models.PROTECT, related_name="motions")
    motion = models.CharField(max_length=40)
    side = models.CharField(max_length=5, choices=ONE_SIDE)
    method = models.CharField(max_length=16, choices=METHODS)
    measured_in = models.CharField(max_length=16, choices=MeasuredIn, blank=True)
    active_deg = models.SmallIntegerField(null=True)
    active_pain = models.BooleanField(default=False)
    active_not_tested = models.CharField(max_length=16, choices=REASONS, blank=True)
    passive_deg = models.SmallIntegerField(null=True)
    passive_pain = models.BooleanField(default=False)
    passive_not_tested = models.CharField(max_length=16, choices=REASONS, blank=True)
    grade = models.CharField(max_length=2, blank=True)
    grade_rank = models.PositiveSmallIntegerField(null=True)
    grade_not_tested = models.CharField(max_length=16, choices=REASONS, blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["assessment", "motion", "side"], name="motion_measured_once_a_side"
            ),
            models.CheckConstraint(condition=_one_side(), name="motion_measured_on_one_side"),
            models.CheckConstraint(
                condition=(Q(active_deg__isnull=True) | Q(active_not_tested=""))
                & (Q(passive_deg__isnull=True) | Q(passive_not_tested=""))
                & (Q(grade_rank__isnull=True) | Q(grade_not_tested="")),
                name="measured_or_not_tested",
            ),
            models.CheckConstraint(
                condition=Q(grade="", grade_rank__isnull=True)
                | (~Q(grade="") & Q(grade_rank__isnull=False)),
                name="grade_has_text_and_rank",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.motion} {self.side}"

    @property
    def says_something(self) -> bool:
        """Whether anything was measured, or said not to be."""
        numbers = (self.active_deg, self.passive_deg, self.grade_rank)
        reasons = (self.active_not_tested, self.passive_not_tested, self.grade_not_tested)
        return any(reasons) or numbers != (None, None, None)


class GripMeasure(models.Model):
    """Grip of one hand: up to three trials in the unit that the meter showed."""

    assessment = models.ForeignKey(Assessment, on_delete=models.PROTECT, related_name="grips")
    side = models.CharField(max_length=5, choices=ONE_SIDE)
    unit = models.CharField(max_length=2, choices=MassUnit)
    trial_1 = models.DecimalField(max_digits=5, decimal_places=1, null=True)
    trial_2 = models.DecimalField(max_digits=5, decimal_places=1, null=True)
    trial_3 = models.DecimalField(max_digits=5, decimal_places=1, null=True)
    not_tested = models.CharField(max_length=16, choices=REASONS, blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["assessment", "side"], name="grip_measured_once_a_side"
            ),
            models.CheckConstraint(condition=_one_side(), name="grip_measured_on_one_side"),
            models.CheckConstraint(
                condition=Q(trial_1__gte=0, not_tested="")
                | (
                    Q(trial_1__isnull=True, trial_2__isnull=True, trial_3__isnull=True)
                    & ~Q(not_tested="")
                ),
                name="grip_measured_or_not_tested",
            ),
        ]

    def __str__(self) -> str:
        return f"grip {self.side}"

    @property
    def trials(self) -> tuple[Decimal, ...]:
        """The trials that were made, in the unit shown."""
        return tuple(t for t in (self.trial_1, self.trial_2, self.trial_3) if t is not None)


class ToneMeasure(models.Model):
    """Tone of the muscle group that makes a motion."""

    assessment = models.ForeignKey(Assessment, on_delete=models.PROTECT, related_name="tones")
    motion = models.CharField(max_length=40)
    side = models.CharField(max_length=5, choices=ONE_SIDE)
    tone = models.CharField(max_length=8, choices=ToneWord, blank=True)
    not_tested = models.CharField(max_length=16, choices=REASONS, blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["assessment", "motion", "side"], name="tone_measured_once_a_side"
            ),
            models.CheckConstraint(condition=_one_side(), name="tone_measured_on_one_side"),
            models.CheckConstraint(
                condition=(Q(tone="") & ~Q(not_tested="")) | (~Q(tone="") & Q(not_tested="")),
                name="tone_said_or_not_tested",
            ),
        ]

    def __str__(self) -> str:
        return f"tone {self.motion} {self.side}"


class ActivityScore(models.Model):
    """An activity of the patient's own, 0 (can't) to 10 (as before)."""

    assessment = models.ForeignKey(Assessment, on_delete=models.PROTECT, related_name="activities")
    position = models.PositiveSmallIntegerField(
        validators=[MinValueValidator(1), MaxValueValidator(5)]
    )
    words = models.CharField(max_length=120)
    score = models.PositiveSmallIntegerField(null=True)
    not_tested = models.CharField(max_length=16, choices=REASONS, blank=True)

    class Meta:
        ordering = ["position"]
        constraints = [
            models.UniqueConstraint(
                fields=["assessment", "position"], name="activity_position_once"
            ),
            models.CheckConstraint(
                condition=Q(position__range=(1, 5)), name="one_to_five_activities"
            ),
            models.CheckConstraint(
                condition=Q(score__lte=10, not_tested="")
                | (Q(score__isnull=True) & ~Q(not_tested="")),
                name="activity_scored_or_not_tested",
            ),
        ]

    def __str__(self) -> str:
        return self.words
