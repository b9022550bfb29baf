"""Precautions: what a patient's arm must not do yet, from when, and who set it.

A precaution never changes but for being lifted, once, by a named person (migration 0003 makes the
database refuse the rest); another limit is another precaution.
"""

from datetime import date

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q

from clinic.models import User
from patients.motions import MOTIONS, Joint, Side
from patients.precautions import EFFORTS, POSITIONS, Beyond, Kind, Limit, Span, Standing

KINDS = [(kind.value, kind.label) for kind in Kind]
SIDES = [(side.value, side.value.capitalize()) for side in Side]
MOTION_CHOICES = [(key, motion.label) for key, motion in MOTIONS.items()]
JOINT_CHOICES = [(joint.value, joint.label) for joint in Joint]


def _belongs(kind: Kind, field: str, empty: object) -> Q:
    """A field is filled where, and only where, a precaution is of that kind."""
    unsaid = Q(**{f"{field}__isnull": True}) if empty is None else Q(**{field: empty})
    return (Q(kind=kind.value) & ~unsaid) | (~Q(kind=kind.value) & unsaid)


class Precaution(models.Model):
    """One limit on one patient.

    ``together`` holds pairs of a motion and the angle beyond which it counts. ``set_by`` names who
    asked for the limit (a surgeon, a protocol); ``recorded_by`` wrote it down here.
    """

    patient = models.ForeignKey(
        "patients.Patient", on_delete=models.PROTECT, related_name="precautions"
    )
    episode = models.ForeignKey(
        "patients.Episode", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    kind = models.CharField(max_length=12, choices=KINDS)
    side = models.CharField(max_length=5, choices=SIDES)
    motion = models.CharField(max_length=40, choices=MOTION_CHOICES, blank=True)
    joint = models.CharField(max_length=20, choices=JOINT_CHOICES, blank=True)
    limit_deg = models.SmallIntegerField(
        null=True, blank=True, validators=[MinValueValidator(-200), MaxValueValidator(200)]
    )
    effort = models.CharField(max_length=16, choices=list(EFFORTS.items()), blank=True)
    limit_g = models.PositiveIntegerField(
        null=True, blank=True, validators=[MaxValueValidator(50_000)]
    )
    position = models.CharField(max_length=20, choices=list(POSITIONS.items()), blank=True)
    together = models.JSONField(default=list, blank=True)
    measured_in = models.CharField(max_length=120, blank=True)
    isometric_is_active = models.BooleanField(default=False)
    only_when_moved = models.BooleanField(default=False)
    is_hard = models.BooleanField(default=True)
    from_day = models.DateField(null=True, blank=True)
    from_week = models.PositiveSmallIntegerField(
        null=True, blank=True, validators=[MaxValueValidator(104)]
    )
    until_day = models.DateField(null=True, blank=True)
    until_week = models.PositiveSmallIntegerField(
        null=True, blank=True, validators=[MaxValueValidator(104)]
    )
    set_by = models.CharField(max_length=120)
    source = models.CharField(max_length=300)
    note = models.CharField(max_length=300, blank=True)
    recorded_by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField()
    lifted_at = models.DateTimeField(null=True)
    lifted_by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")
    lifted_why = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(kind__in=[kind.value for kind in Kind]),
                name="precaution_kind_is_known",
            ),
            models.CheckConstraint(
                condition=Q(side__in=[side.value for side in Side]),
                name="precaution_side_is_known",
            ),
            models.CheckConstraint(
                condition=Q(motion__in=["", *MOTIONS])
                & Q(joint__in=["", *(joint.value for joint in Joint)]),
                name="precaution_motion_is_known",
            ),
            models.CheckConstraint(
                condition=Q(motion="") | Q(joint=""), name="precaution_is_of_motion_or_joint"
            ),
            models.CheckConstraint(
                condition=_belongs(Kind.ANGLE, "limit_deg", None)
                & (~Q(kind=Kind.ANGLE.value) | (~Q(motion="") & Q(limit_deg__range=(-200, 200)))),
                name="angle_has_motion_and_degrees",
            ),
            models.CheckConstraint(
                condition=_belongs(Kind.EFFORT, "effort", "") & Q(effort__in=["", *EFFORTS]),
                name="effort_limit_is_known",
            ),
            models.CheckConstraint(
                condition=_belongs(Kind.LOAD, "limit_g", None), name="load_limit_has_grams"
            ),
            models.CheckConstraint(
                condition=_belongs(Kind.POSITION, "position", "")
                & Q(position__in=["", *POSITIONS]),
                name="forbidden_position_is_known",
            ),
            models.CheckConstraint(
                condition=Q(from_day__isnull=False, from_week__isnull=True)
                | Q(from_day__isnull=True, from_week__isnull=False),
                name="precaution_begins_by_day_or_week",
            ),
            models.CheckConstraint(
                condition=Q(until_day__isnull=True) | Q(until_week__isnull=True),
                name="precaution_review_by_day_or_week",
            ),
            models.CheckConstraint(
                condition=(Q(until_day__isnull=True) | Q(from_day__isnull=True))
                | Q(until_day__gte=F("from_day")),
                name="precaution_days_run_forwards",
            ),
            models.CheckConstraint(
                condition=(Q(until_week__isnull=True) | Q(from_week__isnull=True))
                | Q(until_week__gte=F("from_week")),
                name="precaution_weeks_run_forwards",
            ),
            models.CheckConstraint(
                condition=Q(from_week__isnull=True, until_week__isnull=True)
                | Q(episode__isnull=False),
                name="weeks_count_from_an_episode",
            ),
            models.CheckConstraint(
                condition=~Q(set_by="") & ~Q(source=""), name="precaution_says_who_and_whence"
            ),
            models.CheckConstraint(
                condition=Q(lifted_at__isnull=True, lifted_by__isnull=True, lifted_why="")
                | (Q(lifted_at__isnull=False, lifted_by__isnull=False) & ~Q(lifted_why="")),
                name="lifted_by_whom_and_why",
            ),
        ]

    def __str__(self) -> str:
        return self.limit.words

    @property
    def limit(self) -> Limit:
        """The limit as the value that checks take."""
        return Limit(
            key=self.pk or 0,
            kind=Kind(self.kind),
            side=Side(self.side),
            motion=self.motion,
            joint=Joint(self.joint) if self.joint else None,
            limit_deg=self.limit_deg,
            effort=self.effort,
            limit_g=self.limit_g,
            position=self.position,
            together=tuple(Beyond(str(motion), int(deg)) for motion, deg in self.together),
            measured_in=self.measured_in,
            isometric_is_active=self.isometric_is_active,
            only_when_moved=self.only_when_moved,
            is_hard=self.is_hard,
        )

    @property
    def week_0(self) -> date | None:
        """The day that weeks count from: the operation's, else that of onset or injury."""
        if self.episode is None:
            return None
        return self.episode.operation_day or self.episode.onset_day

    @property
    def span(self) -> Span:
        """From when it holds and when it asks for a review (reads the episode and the reviews)."""
        return Span(
            from_day=self.from_day,
            from_week=self.from_week,
            until_day=self.until_day,
            until_week=self.until_week,
            week_0=self.week_0,
            kept_until=max((review.until_day for review in self.reviews.all()), default=None),
        )

    def standing(self, today: date) -> Standing:
        """Where it stands on a local day."""
        return self.span.standing(today, is_lifted=self.lifted_at is not None)


class PrecautionReview(models.Model):
    """A named person's word that a precaution stays, and when it is to be looked at again."""

    precaution = models.ForeignKey(Precaution, on_delete=models.PROTECT, related_name="reviews")
    until_day = models.DateField()
    why = models.CharField(max_length=300)
    reviewed_by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")
    reviewed_at = models.DateTimeField()

    class Meta:
        ordering = ["reviewed_at", "pk"]
        constraints = [
            models.CheckConstraint(condition=~Q(why=""), name="precaution_review_says_why"),
        ]

    def __str__(self) -> str:
        return f"{self.precaution_id} kept until {self.until_day}"
