"""Forms of starting sets: a set's words, and its lines one below the other."""

from collections.abc import Iterable, Mapping
from typing import Any

from django import forms
from django.utils.text import slugify

from patients.motions import Effort
from plans.catalogue import Exercise
from plans.set_models import STAGES
from plans.starting_sets import DOSE, MOST_LINES, SetLine, Stage, StartingSet

EXTRA_LINES = 3
WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


class SetForm(forms.Form):
    """What a set is called, and what it is for."""

    name = forms.CharField(label="Name", max_length=80)
    stage = forms.ChoiceField(label="Stage", choices=STAGES)
    purpose = forms.CharField(label="For what", max_length=200)
    source = forms.CharField(
        label="Where it comes from",
        max_length=200,
        help_text="“common practice, no source” where there is none.",
    )
    seen_edits = forms.IntegerField(required=False, widget=forms.HiddenInput)


class SetLineForm(forms.Form):
    """One exercise of a set; what is left empty is as usual, a line without exercise is none."""

    place = forms.IntegerField(label="Place", required=False, min_value=1, max_value=99)
    exercise = forms.ChoiceField(label="Exercise", required=False)
    most = forms.ChoiceField(
        label="No higher than",
        required=False,
        choices=[("", "any step"), *((effort.key, effort.label) for effort in Effort)],
    )
    sets = forms.IntegerField(label="Sets", required=False, min_value=1, max_value=20)
    amount_low = forms.IntegerField(label="From", required=False, min_value=1, max_value=999)
    amount_high = forms.IntegerField(label="To", required=False, min_value=1, max_value=999)
    hold_s = forms.IntegerField(label="Hold, s", required=False, min_value=0, max_value=300)
    sessions_per_day = forms.IntegerField(
        label="Per day", required=False, min_value=1, max_value=12
    )
    days = forms.TypedMultipleChoiceField(
        label="Days (none ticked: every day)",
        required=False,
        coerce=int,
        choices=list(enumerate(WEEKDAYS)),
        widget=forms.CheckboxSelectMultiple,
    )

    def __init__(self, *args: Any, exercises: Iterable[Exercise], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.empty_permitted = False  # a row left as it was proposed is meant
        named = sorted((e.words("en").name, e.key) for e in exercises)
        self.fields["exercise"] = forms.ChoiceField(
            label="Exercise",
            required=False,
            choices=[("", "none"), *((key, name) for name, key in named)],
        )

    def line(self) -> SetLine | None:
        """Return the line of a valid form; None where no exercise is chosen."""
        said = self.cleaned_data
        if not said.get("exercise"):
            return None
        return SetLine(
            exercise=said["exercise"],
            most=Effort.from_key(said["most"]) if said["most"] else None,
            weekdays=frozenset(said["days"]) if len(said["days"]) < 7 else frozenset(),
            **{name: said[name] for name in DOSE},
        )


class SetTyped:
    """A set as it is typed: both forms, and the set once they are valid."""

    def __init__(
        self, data: Mapping[str, Any] | None, one: StartingSet | None, exercises: list[Exercise]
    ) -> None:
        lines = one.lines if one else ()
        rows = [
            {
                "place": place,
                "exercise": line.exercise,
                "most": line.most.key if line.most else "",
                "days": sorted(line.weekdays),
            }
            | line.dose
            for place, line in enumerate(lines, start=1)
        ]
        self.form = SetForm(
            data,
            initial={
                "name": one.name if one else "",
                "stage": one.stage.value if one else Stage.EARLY.value,
                "purpose": one.purpose if one else "",
                "source": one.source if one else "common practice, no source",
            },
        )
        self.lines = forms.formset_factory(
            SetLineForm, extra=EXTRA_LINES, max_num=MOST_LINES + EXTRA_LINES, validate_max=True
        )(data, initial=rows, prefix="lines", form_kwargs={"exercises": exercises})

    def is_valid(self) -> bool:
        """Whether it can be read; a set without any exercise can't."""
        if not (self.form.is_valid() & self.lines.is_valid()):
            return False
        count = len(self._lines())
        if not 1 <= count <= MOST_LINES:
            self.form.add_error(None, f"A set has 1 to {MOST_LINES} exercises, not {count}.")
        return not self.form.errors

    def _lines(self) -> list[SetLine]:
        placed = []
        for number, form in enumerate(self.lines.forms):
            if line := form.line():
                placed.append((form.cleaned_data.get("place") or 100, number, line))
        return [line for _, _, line in sorted(placed, key=lambda row: row[:2])]

    def result(self, key: str = "") -> StartingSet:
        """Return the set of valid forms; without a ``key`` its name makes one."""
        said = self.form.cleaned_data
        return StartingSet(
            key=key or key_of(said["name"]),
            name=said["name"],
            stage=Stage(said["stage"]),
            purpose=said["purpose"],
            source=said["source"],
            lines=tuple(self._lines()),
        )


def key_of(name: str) -> str:
    """Return the key that a name makes.

    >>> key_of("Wrist: week 6")
    'wrist_week_6'
    """
    return slugify(name).replace("-", "_").strip("_")[:60] or "set"
