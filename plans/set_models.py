"""The starting sets that a clinic made, changed or retired; the shipped ones are files."""

from django.db import models
from django.db.models import Q

from clinic.models import User
from plans.starting_sets import Stage

STAGES = [(stage.value, stage.value.capitalize()) for stage in Stage]


class StartingSet(models.Model):
    """One set of the clinic's own; one with a shipped example's key stands in that one's place.

    ``lines`` holds the lines as `plans.starting_sets` writes them.
    """

    key = models.SlugField(max_length=60, unique=True)
    name = models.CharField(max_length=80)
    stage = models.CharField(max_length=8, choices=STAGES)
    purpose = models.CharField("for what", max_length=200)
    source = models.CharField("where it comes from", max_length=200)
    lines = models.JSONField()
    is_retired = models.BooleanField(default=False)
    edits = models.PositiveIntegerField(default=0)
    changed_by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")
    changed_at = models.DateTimeField()

    class Meta:
        ordering = ["key"]
        constraints = [
            models.CheckConstraint(condition=~Q(name=""), name="starting_set_has_a_name"),
            models.CheckConstraint(
                condition=Q(stage__in=[stage.value for stage in Stage]),
                name="starting_set_stage_is_known",
            ),
        ]

    def __str__(self) -> str:
        return self.name
