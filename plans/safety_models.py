"""What is kept of precautions in plans: overrides with their evidence, and withdrawals.

Neither changes afterwards (migration 0005), but that a withdrawal's patient is told once.
"""

from django.db import models
from django.db.models import Q

from clinic.models import Role, User
from patients.precaution_models import Precaution

MAY_OVERRIDE = (Role.THERAPIST, Role.SUPERVISOR)
"""Roles that may issue a line against a hard precaution, with a reason."""


class PrecautionOverride(models.Model):
    """A hard finding that a named person let pass, with the evidence as it stood.

    Those of a version's latest issue carry the instant of that issue; a version sent back and
    issued again gets new ones, and the old ones stay.
    """

    version = models.ForeignKey(
        "plans.PlanVersion", on_delete=models.PROTECT, related_name="overrides"
    )
    line_key = models.CharField(max_length=80)
    precaution = models.ForeignKey(Precaution, on_delete=models.PROTECT, related_name="overrides")
    reason = models.CharField(max_length=300)
    evidence = models.JSONField(default=list)
    role = models.CharField(max_length=20, choices=Role)
    made_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField()

    class Meta:
        ordering = ["made_at", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["version", "line_key", "precaution", "made_at"],
                name="overridden_once_an_issue",
            ),
            models.CheckConstraint(condition=~Q(reason=""), name="override_has_a_reason"),
            models.CheckConstraint(
                condition=Q(role__in=[role.value for role in MAY_OVERRIDE]),
                name="override_by_the_right_role",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.line_key} against precaution {self.precaution_id}"


class Withdrawal(models.Model):
    """A line, or (without a key) a whole plan, taken back at once by an issued ``version``.

    Until someone says that the patient was told, a task stands: the paper sheet is still out.
    """

    version = models.OneToOneField(
        "plans.PlanVersion", on_delete=models.PROTECT, related_name="withdrawal"
    )
    line_key = models.CharField(max_length=80, blank=True)
    title = models.CharField(max_length=200)
    reason = models.CharField(max_length=300)
    made_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField()
    told_at = models.DateTimeField(null=True)
    told_by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")
    told_how = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["-made_at", "-pk"]
        constraints = [
            models.CheckConstraint(condition=~Q(reason=""), name="withdrawal_has_a_reason"),
            models.CheckConstraint(
                condition=Q(told_at__isnull=True, told_by__isnull=True, told_how="")
                | (Q(told_at__isnull=False, told_by__isnull=False) & ~Q(told_how="")),
                name="told_by_whom_and_how",
            ),
        ]

    def __str__(self) -> str:
        return f"withdrawal of {self.title}"
