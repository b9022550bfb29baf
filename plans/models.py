"""The catalogue's revisions, and plans: versions, lines and pauses.

An issued version never changes: besides the code, triggers in the database refuse it
(migration 0002).
"""

from django.core.validators import MaxValueValidator, MinValueValidator, RegexValidator
from django.db import models
from django.db.models import F, Q

from clinic.models import User
from patients.models import Episode, HomeHelper, Patient, SideChoice
from patients.motions import MOTIONS, Effort
from plans import safety_models, set_models  # noqa: F401  Django reads an app's tables from here
from plans.stopped import Stop

EVERY_DAY = 0b111_1111


def weekday_set(weekdays: int) -> frozenset[int]:
    """Return the days, Monday 0 to Sunday 6, of a number with a bit a day, Monday lowest."""
    return frozenset(day for day in range(7) if weekdays & (1 << day))


class StepChoice(models.TextChoices):
    """The steps of a ladder, for forms and columns."""

    PASSIVE = Effort.PASSIVE.key, "Passive"
    SELF_ASSISTED = Effort.SELF_ASSISTED.key, "Self-assisted"
    GRAVITY_REDUCED = Effort.GRAVITY_REDUCED.key, "Gravity-reduced"
    ACTIVE = Effort.ACTIVE.key, "Active"
    RESISTED = Effort.RESISTED.key, "Resisted"


class UnitChoice(models.TextChoices):
    """What a line is counted in."""

    REPETITIONS = "repetitions", "repetitions"
    SECONDS = "seconds", "seconds of hold"
    MINUTES = "minutes", "minutes"
    TIMES = "times", "times"


class LoadMeans(models.TextChoices):
    """What gives the resistance; only weights (held, cuff) enter load volume and moments."""

    NONE = "", "No load"
    HELD = "held", "Weight held in the hand"
    CUFF = "cuff", "Weight on a cuff"
    BAND = "band", "Elastic band"
    PUTTY = "putty", "Putty"
    OTHER_HAND = "other_hand", "The other hand"


class OrthosisChoice(models.TextChoices):
    """Whether an orthosis is worn during a line."""

    NONE = "", "none"
    ON = "on", "stays on"
    OFF = "off", "comes off for this"


class Exercise(models.Model):
    """An exercise's lasting name; what it is stands in its revisions."""

    key = models.SlugField(max_length=60, unique=True)
    is_retired = models.BooleanField(default=False)

    class Meta:
        ordering = ["key"]

    def __str__(self) -> str:
        return self.key


class ExerciseRevision(models.Model):
    """An exercise as it stood: words, ladder, dose, cautions (the table of `plans.catalogue`)."""

    exercise = models.ForeignKey(Exercise, on_delete=models.PROTECT, related_name="revisions")
    number = models.PositiveIntegerField()
    table = models.JSONField()
    table_hash = models.CharField(max_length=64)
    added_at = models.DateTimeField()
    added_by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["exercise", "-number"]
        constraints = [
            models.UniqueConstraint(
                fields=["exercise", "number"], name="exercise_revision_numbered_once"
            ),
            models.CheckConstraint(condition=Q(number__gte=1), name="exercise_revision_from_1"),
        ]

    def __str__(self) -> str:
        return f"{self.exercise_id} revision {self.number}"


class PlanVersion(models.Model):
    """What is prescribed to a patient from a day on; immutable once issued."""

    class State(models.TextChoices):
        """Where a version stands."""

        DRAFT = "draft", "Draft"
        WAITING = "waiting", "Waiting for a countersignature"
        ISSUED = "issued", "Issued"

    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="plan_versions")
    number = models.PositiveIntegerField()
    state = models.CharField(max_length=8, choices=State, default=State.DRAFT)
    effective_day = models.DateField(null=True, blank=True)
    pain_limit = models.PositiveSmallIntegerField(default=5, validators=[MaxValueValidator(10)])
    change_sentence = models.CharField(
        "what changed, in a sentence for the patient", max_length=300, blank=True
    )
    made_by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField()
    issued_by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")
    issuer = models.CharField(max_length=120, blank=True)
    issued_at = models.DateTimeField(null=True)
    needs_signature = models.BooleanField(default=False)
    signed_by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")
    signed_at = models.DateTimeField(null=True)
    sent_back_note = models.CharField(max_length=300, blank=True)
    edits = models.PositiveIntegerField(default=0)
    withdraws = models.BooleanField(default=False)

    class Meta:
        ordering = ["patient", "-number"]
        constraints = [
            models.UniqueConstraint(
                fields=["patient", "number"], name="plan_version_numbered_once"
            ),
            models.UniqueConstraint(
                fields=["patient"],
                # A withdrawal goes past what is being made or signed.
                condition=Q(state__in=["draft", "waiting"], withdraws=False),
                name="one_open_version_a_patient",
            ),
            models.CheckConstraint(condition=Q(number__gte=1), name="plan_version_from_1"),
            models.CheckConstraint(
                condition=Q(state__in=["draft", "waiting", "issued"]),
                name="plan_version_state_is_known",
            ),
            models.CheckConstraint(
                condition=Q(state="draft")
                | Q(effective_day__isnull=False, issued_at__isnull=False),
                name="issued_version_has_its_day",
            ),
            models.CheckConstraint(
                condition=~Q(state="issued", needs_signature=True) | Q(signed_at__isnull=False),
                name="issued_version_is_signed_where_needed",
            ),
            models.CheckConstraint(
                condition=Q(signed_by__isnull=True)
                | Q(issued_by__isnull=True)
                | ~Q(signed_by=F("issued_by")),
                name="nobody_signs_their_own_version",
            ),
            models.CheckConstraint(
                condition=Q(pain_limit__lte=10), name="plan_pain_limit_up_to_10"
            ),
        ]

    def __str__(self) -> str:
        return f"version {self.number}"

    @property
    def is_open(self) -> bool:
        """Whether it is still being made or signed."""
        return self.state != self.State.ISSUED


class Line(models.Model):
    """One exercise of a version: step, side and dose.

    Each of ``sets`` sets asks for ``amount_low`` to ``amount_high`` of ``unit``. ``hold_s`` and
    ``pace_s`` are seconds a repetition. ``weekdays`` has a bit a day, Monday lowest. The movement
    turns back where ``stop_motion`` comes to ``stop_deg``. With ``easier_allowed`` the patient may
    do the ladder's next lower step instead, on a day on which this one is too hard. With
    ``more_if_easy`` the patient may do up to two more in a set that is easy.
    """

    version = models.ForeignKey(PlanVersion, on_delete=models.PROTECT, related_name="lines")
    key = models.CharField(
        max_length=80,
        validators=[RegexValidator(r"^[A-Za-z0-9_-]+\Z", "Use letters, digits, _ and - only.")],
    )
    position = models.PositiveSmallIntegerField(default=0)
    revision = models.ForeignKey(ExerciseRevision, on_delete=models.PROTECT, related_name="lines")
    step = models.CharField(max_length=16, choices=StepChoice, blank=True)
    side = models.CharField(max_length=5, choices=SideChoice)
    unit = models.CharField(max_length=12, choices=UnitChoice)
    sets = models.PositiveSmallIntegerField(
        default=1, validators=[MinValueValidator(1), MaxValueValidator(20)]
    )
    amount_low = models.PositiveSmallIntegerField(
        validators=[MinValueValidator(1), MaxValueValidator(999)]
    )
    amount_high = models.PositiveSmallIntegerField(
        validators=[MinValueValidator(1), MaxValueValidator(999)]
    )
    hold_s = models.PositiveSmallIntegerField(default=0, validators=[MaxValueValidator(300)])
    pace_s = models.DecimalField(
        max_digits=4,
        decimal_places=1,
        default=0,
        validators=[MinValueValidator(0), MaxValueValidator(60)],
    )
    rest_s = models.PositiveSmallIntegerField(default=0, validators=[MaxValueValidator(600)])
    load_g = models.PositiveIntegerField(default=0, validators=[MaxValueValidator(50_000)])
    load_means = models.CharField(max_length=12, choices=LoadMeans, blank=True)
    sessions_per_day = models.PositiveSmallIntegerField(
        default=1, validators=[MinValueValidator(1), MaxValueValidator(12)]
    )
    weekdays = models.PositiveSmallIntegerField(
        default=EVERY_DAY, validators=[MinValueValidator(1), MaxValueValidator(EVERY_DAY)]
    )
    orthosis = models.CharField(max_length=3, choices=OrthosisChoice, blank=True)
    stop_motion = models.CharField(
        max_length=40, choices=[(key, motion.label) for key, motion in MOTIONS.items()], blank=True
    )
    stop_deg = models.SmallIntegerField(
        null=True, blank=True, validators=[MinValueValidator(-200), MaxValueValidator(200)]
    )
    easier_allowed = models.BooleanField(default=False)
    more_if_easy = models.BooleanField(default=False)
    note_patient = models.CharField("note to the patient", max_length=300, blank=True)
    note_staff = models.CharField("note for staff", max_length=300, blank=True)
    episode = models.ForeignKey(Episode, null=True, blank=True, on_delete=models.PROTECT)
    home_helper = models.ForeignKey(HomeHelper, null=True, blank=True, on_delete=models.PROTECT)

    class Meta:
        ordering = ["version", "position", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["version", "key"], name="line_key_once_a_version"),
            models.CheckConstraint(condition=Q(sets__range=(1, 20)), name="line_has_1_to_20_sets"),
            models.CheckConstraint(
                condition=Q(amount_low__gte=1, amount_high__gte=F("amount_low")),
                name="line_range_runs_upwards",
            ),
            models.CheckConstraint(
                condition=Q(sessions_per_day__range=(1, 12)), name="line_1_to_12_sessions_a_day"
            ),
            models.CheckConstraint(
                condition=Q(weekdays__range=(1, EVERY_DAY)), name="line_has_a_weekday"
            ),
            models.CheckConstraint(
                condition=Q(unit__in=UnitChoice.values), name="line_unit_is_known"
            ),
            models.CheckConstraint(
                condition=Q(unit="repetitions") | Q(hold_s=0), name="hold_belongs_to_repetitions"
            ),
            models.CheckConstraint(
                condition=Q(load_g=0) | ~Q(load_means=""), name="load_names_its_means"
            ),
            models.CheckConstraint(
                condition=Q(orthosis__in=OrthosisChoice.values), name="line_orthosis_is_known"
            ),
            models.CheckConstraint(
                condition=Q(stop_motion="", stop_deg__isnull=True)
                | (Q(stop_motion__in=list(MOTIONS)) & Q(stop_deg__range=(-200, 200))),
                name="line_stops_at_an_angle_of_a_motion",
            ),
            models.CheckConstraint(
                condition=Q(easier_allowed=False) | ~Q(step__in=["", "passive"]),
                name="easier_step_is_below_the_prescribed",
            ),
            models.CheckConstraint(
                condition=Q(more_if_easy=False) | Q(unit="repetitions"),
                name="more_if_easy_is_repetitions",
            ),
        ]

    def __str__(self) -> str:
        return self.key

    @property
    def weekday_set(self) -> frozenset[int]:
        """The days it is due on, Monday 0 to Sunday 6."""
        return weekday_set(self.weekdays)

    @property
    def stop(self) -> Stop | None:
        """The motion and the angle at which its movement turns back, if it does."""
        return (self.stop_motion, self.stop_deg) if self.stop_deg is not None else None


class Pause(models.Model):
    """Days on which nothing is due, both ends included; open-ended without a last day."""

    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="pauses")
    first_day = models.DateField()
    last_day = models.DateField(null=True, blank=True)
    reason = models.CharField(max_length=200, blank=True)
    made_by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField()
    recorded_day = models.DateField()
    struck_at = models.DateTimeField(null=True)
    struck_by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")
    struck_reason = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["first_day", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(last_day__isnull=True) | Q(last_day__gte=F("first_day")),
                name="pause_runs_forwards",
            ),
        ]

    def __str__(self) -> str:
        return f"pause from {self.first_day}"


class TeachBack(models.Model):
    """What a patient showed of a line when asked to, and what to watch; never changed.

    The newest one of a line's key speaks for the line, in later versions too.
    """

    class Shown(models.TextChoices):
        """How the patient did it."""

        ALONE = "alone", "shows it alone"
        WITH_HELP = "with_help", "shows it with words or a hand"
        NOT_YET = "not_yet", "can't show it yet"

    line = models.ForeignKey(Line, on_delete=models.PROTECT, related_name="teach_backs")
    day = models.DateField()
    shown = models.CharField(max_length=10, choices=Shown)
    watch = models.CharField("what to watch", max_length=300, blank=True)
    recorded_by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField()

    class Meta:
        ordering = ["-recorded_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(shown__in=["alone", "with_help", "not_yet"]),
                name="teach_back_is_known",
            ),
        ]

    def __str__(self) -> str:
        return f"teach-back of {self.line_id}"


class DueSpan(models.Model):
    """Days on which nothing changes in what a plan makes due; `plans.spans` says what is in it.

    Kept ready for reports, and rewritten whole by `plans.span_actions` whenever a plan changes.
    """

    patient = models.ForeignKey(Patient, on_delete=models.CASCADE, related_name="due_spans")
    first_day = models.DateField()
    last_day = models.DateField(null=True)
    version = models.PositiveIntegerField()
    since = models.DateField()
    is_paused = models.BooleanField()
    occasions = models.PositiveIntegerField()

    class Meta:
        ordering = ["patient", "first_day"]
        constraints = [
            models.UniqueConstraint(
                fields=["patient", "first_day"], name="due_span_begins_once_a_day"
            ),
            models.CheckConstraint(
                condition=Q(last_day__isnull=True) | Q(last_day__gte=F("first_day")),
                name="due_span_runs_forwards",
            ),
        ]

    def __str__(self) -> str:
        return f"due from {self.first_day}"
