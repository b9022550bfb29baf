"""What is kept ready of entries."""

from django.db import models

from patients.models import Patient


class KeptDay(models.Model):
    """The facts of a patient's entries of one day, as `logs.kept.KeptFacts` defines them.

    There is one for each day with a counting entry. Only `logs.upkeep` writes it, in the
    transaction that changes an entry.
    """

    # The constraint's index serves it.
    patient = models.ForeignKey(
        Patient, on_delete=models.CASCADE, related_name="kept_days", db_index=False
    )
    day = models.DateField()
    numbered = models.PositiveSmallIntegerField()
    beside = models.PositiveSmallIntegerField()
    pain_worst = models.PositiveSmallIntegerField(null=True)
    repetitions = models.PositiveIntegerField()
    beyond = models.PositiveSmallIntegerField()
    version = models.PositiveIntegerField(null=True)

    class Meta:
        ordering = ["patient", "day"]
        constraints = [models.UniqueConstraint(fields=["patient", "day"], name="day_kept_once")]

    def __str__(self) -> str:
        return f"{self.day} kept"
