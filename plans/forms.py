"""Forms of the plan pages."""

from collections.abc import Mapping
from datetime import date
from decimal import Decimal

from django import forms
from django.core.validators import MaxValueValidator, MinValueValidator

from patients.forms import DayInput
from patients.motions import MOTIONS, Effort, Joint
from patients.precautions import degrees
from plans.catalogue import Equipment, Exercise, Position
from plans.dose import WEEKDAYS, WEIGHTS
from plans.exercise import movement_of
from plans.models import Line, LoadMeans, OrthosisChoice, PlanVersion, StepChoice
from plans.plan_page import ShownLine, ShownVersion, shown_line
from plans.safety_queries import OverrideKey, StoodFinding
from plans.search import Wanted
from plans.stopped import begins_at_deg

ANY = [("", "any")]


class SearchForm(forms.Form):
    """What is looked for in the catalogue; a choice that isn't one narrows nothing."""

    q = forms.CharField(required=False, label="Find an exercise")
    joint = forms.ChoiceField(
        required=False, choices=ANY + [(joint.value, joint.label) for joint in Joint]
    )
    position = forms.ChoiceField(
        required=False, choices=ANY + [(place.value, place.label) for place in Position]
    )
    effort = forms.ChoiceField(
        required=False, label="Step", choices=ANY + [(e.key, e.label) for e in Effort]
    )

    alone = forms.BooleanField(required=False, label="One hand, alone")
    lying = forms.BooleanField(required=False, label="Lying down")
    have = forms.MultipleChoiceField(
        required=False,
        choices=[(thing.value, thing.label) for thing in Equipment],
        widget=forms.CheckboxSelectMultiple,
        label="Only with what is at home",
    )

    @property
    def selects(self) -> list[forms.BoundField]:
        """The fields that are lists to choose one from."""
        return [self["joint"], self["position"], self["effort"]]

    def wanted(self) -> Wanted:
        """Return the search that was asked for."""
        self.is_valid()
        chosen = self.cleaned_data
        return Wanted(
            words=chosen.get("q", ""),
            joint=Joint(chosen["joint"]) if chosen.get("joint") else None,
            position=Position(chosen["position"]) if chosen.get("position") else None,
            effort=Effort.from_key(chosen["effort"]) if chosen.get("effort") else None,
            is_alone=bool(chosen.get("alone")),
            is_lying=bool(chosen.get("lying")),
            at_home=frozenset(Equipment(thing) for thing in chosen.get("have", ())),
        )


class LineForm(forms.ModelForm):
    """One line of a draft: step, side, dose, days and notes."""

    load_kg = forms.DecimalField(
        required=False,
        min_value=Decimal(0),
        max_value=Decimal(50),
        max_digits=5,
        decimal_places=3,
        label="Load, kg",
    )
    days = forms.TypedMultipleChoiceField(
        coerce=int,
        choices=list(enumerate(WEEKDAYS)),
        widget=forms.CheckboxSelectMultiple,
        label="Days of the week",
        error_messages={"required": "Tick at least one day."},
    )

    class Meta:
        model = Line
        fields = [
            "step",
            "side",
            "sets",
            "amount_low",
            "amount_high",
            "hold_s",
            "pace_s",
            "rest_s",
            "load_means",
            "sessions_per_day",
            "orthosis",
            "stop_motion",
            "stop_deg",
            "easier_allowed",
            "more_if_easy",
            "note_patient",
            "note_staff",
            "episode",
            "home_helper",
        ]
        labels = {
            "hold_s": "Hold, s",
            "pace_s": "Pace, s",
            "rest_s": "Rest, s",
            "load_means": "Load by",
            "sessions_per_day": "Per day",
            "orthosis": "Orthosis",
            "more_if_easy": "Up to 2 more if easy",
            "stop_motion": "Stop a motion",
            "stop_deg": "at °",
            "note_patient": "Note to the patient",
            "note_staff": "Note for staff",
            "home_helper": "Done with",
        }

    def __init__(self, data: Mapping[str, object] | None, *, instance: Line) -> None:
        super().__init__(data, instance=instance, auto_id=f"l{instance.pk}_%s")
        shown = shown_line(instance)
        self.exercise: Exercise = shown.exercise
        patient = instance.version.patient
        labels = dict(StepChoice.choices)
        self.fields["step"] = forms.ChoiceField(
            choices=[(s.effort.key, labels[s.effort.key]) for s in self.exercise.steps]
        )
        unit = "Reps" if self.exercise.unit == "repetitions" else self.exercise.unit.capitalize()
        self.fields["amount_low"].label = f"{unit} from"
        self.fields["amount_high"].label = "to"
        if not self.exercise.sided:
            self.fields["side"] = forms.ChoiceField(choices=[("both", "Both")])
        self.fields["load_means"] = forms.ChoiceField(
            choices=LoadMeans.choices, required=False, label="Load by"
        )
        for name, rows in (("episode", patient.episodes), ("home_helper", patient.home_helpers)):
            field = self.fields[name]
            field.queryset = rows.all()  # type: ignore[attr-defined]
            field.empty_label = "none"  # type: ignore[attr-defined]
        for name in ("hold_s", "pace_s", "rest_s"):
            self.fields[name].required = False
        own = (instance.stop_motion,) if instance.stop_motion else ()
        motions = dict.fromkeys((*self.exercise.moves, *own))  # a precaution may stop any motion
        self.fields["stop_motion"] = forms.ChoiceField(
            choices=[("", "none"), *((key, MOTIONS[key].label) for key in motions)],
            required=False,
            label="Stop a motion",
        )
        self.fields["orthosis"] = forms.ChoiceField(
            choices=OrthosisChoice.choices, required=False, label="Orthosis"
        )
        if len(self.exercise.steps) > 1:
            # Named for the step on the screen; with another step chosen the one below that holds.
            easier = f": {shown.easier.effort.label}" if shown.easier else ""
            self.fields["easier_allowed"].label = f"May do the easier step{easier}"
        else:
            del self.fields["easier_allowed"]
        if self.exercise.unit != "repetitions":
            del self.fields["hold_s"], self.fields["pace_s"], self.fields["more_if_easy"]
        self.initial["load_kg"] = (
            (Decimal(instance.load_g) / 1000).normalize() if instance.load_g else None
        )
        self.initial["days"] = sorted(instance.weekday_set)
        self.initial["pace_s"] = f"{float(instance.pace_s):g}"

    def clean(self) -> dict[str, object]:
        """Refuse a dose that contradicts itself."""
        data = super().clean() or {}
        for name in ("hold_s", "pace_s", "rest_s"):
            if name in self.fields and data.get(name) is None and name not in self.errors:
                data[name] = 0
        low, high = data.get("amount_low"), data.get("amount_high")
        if low and high and low > high:
            self.add_error("amount_high", "The range ends below its beginning.")
        step = next((s for s in self.exercise.steps if s.effort.key == data.get("step")), None)
        means, load_kg = data.get("load_means"), data.get("load_kg")
        if step and step.effort is not Effort.RESISTED and (means or load_kg):
            self.add_error("load_means", "Only a resisted step has a load. Choose “No load”.")
        elif load_kg and not means:
            self.add_error("load_means", "Say what gives the load.")
        elif load_kg and means not in WEIGHTS:
            self.add_error("load_kg", "Only a weight has kilograms. Describe the rest in the note.")
        if step and data.get("easier_allowed") and self.exercise.below(step.effort.key) is None:
            self.add_error("easier_allowed", "This is the lowest step: there is no easier one.")
        if bool(data.get("stop_motion")) != (data.get("stop_deg") is not None):
            self.add_error("stop_deg", "A motion and its degrees go together.")
        elif step and step.poses and data.get("stop_motion"):
            begins_deg = begins_at_deg(movement_of(self.exercise, step), data["stop_motion"])
            if begins_deg is not None and begins_deg > data["stop_deg"]:
                words = f"It begins at {degrees(begins_deg)} already, so it can’t stop there."
                self.add_error("stop_deg", words)
        return data

    def changes(self) -> dict[str, object]:
        """Return what a valid form changes of the line, column by column."""
        data = dict(self.cleaned_data)
        data["load_g"] = int((data.pop("load_kg") or 0) * 1000)
        data["weekdays"] = sum(1 << day for day in data.pop("days"))
        return data


class IssueForm(forms.Form):
    """From which day a draft counts, up to which pain, and what the patient is told of it."""

    effective_day = forms.DateField(label="In force from", widget=DayInput())
    pain_limit = forms.IntegerField(
        label="Pain limit, 0–10", validators=[MinValueValidator(0), MaxValueValidator(10)]
    )
    change_sentence = forms.CharField(
        label="What changed, in a sentence for the patient",
        required=False,
        max_length=300,
    )
    ends_plan = forms.BooleanField(label="This ends the plan", required=False)
    seen_edits = forms.IntegerField(widget=forms.HiddenInput)

    def __init__(
        self,
        data: Mapping[str, object] | None = None,
        *,
        draft: PlanVersion,
        shown: ShownVersion,
        today: date,
    ) -> None:
        super().__init__(
            data,
            initial={
                "effective_day": max(draft.effective_day or today, today),
                "pain_limit": draft.pain_limit,
                "change_sentence": draft.change_sentence,
                "seen_edits": draft.edits,
            },
            auto_id="issue_%s",
        )
        self.shown = shown
        self.fields["effective_day"].widget.attrs["min"] = today.isoformat()
        self.fields["pain_limit"].widget.attrs |= {"min": 0, "max": 10}
        for line, stood in shown.hard:
            self.fields[_override_name(line, stood)] = forms.CharField(
                required=False, max_length=300, label="Issued all the same, because"
            )
        for line in shown.unchecked:
            self.fields[f"confirm_{line.line.pk}"] = forms.BooleanField(
                required=False, label=f"{line.title} keeps to the precautions"
            )
        for field in self.fields.values():
            field.widget.attrs["form"] = "issue"

    @property
    def hard(self) -> list[tuple[ShownLine, StoodFinding, forms.BoundField]]:
        """Each line against each hard precaution, with the field for the reason."""
        return [(line, stood, self[_override_name(line, stood)]) for line, stood in self.shown.hard]

    @property
    def unchecked(self) -> list[tuple[ShownLine, forms.BoundField]]:
        """Each line that the model can't check, with its box."""
        return [(line, self[f"confirm_{line.line.pk}"]) for line in self.shown.unchecked]

    def overrides(self) -> dict[OverrideKey, str]:
        """Return the reasons given, by line and precaution."""
        return {
            (line.line.key, stood.precaution.pk): self.cleaned_data[_override_name(line, stood)]
            for line, stood in self.shown.hard
            if stood.precaution
        }

    def confirmed(self) -> set[str]:
        """Return the keys of the lines that were confirmed."""
        return {
            line.line.key
            for line in self.shown.unchecked
            if self.cleaned_data[f"confirm_{line.line.pk}"]
        }

    def clean(self) -> dict[str, object]:
        """Refuse an empty plan that is not meant as the end of one."""
        data = super().clean() or {}
        if not self.shown.lines and not data.get("ends_plan"):
            self.add_error("ends_plan", "There are no lines. Add some, or tick that the plan ends.")
        return data


def _override_name(line: ShownLine, stood: StoodFinding) -> str:
    return f"override_{line.line.pk}_{stood.precaution.pk if stood.precaution else 0}"


class SendBackForm(forms.Form):
    """What to change in a version sent back."""

    note = forms.CharField(label="What to change", max_length=300)


class PauseForm(forms.Form):
    """Days on which nothing is due."""

    first_day = forms.DateField(label="First day", widget=DayInput())
    last_day = forms.DateField(
        label="Last day", widget=DayInput(), required=False, help_text="Leave empty if not known."
    )
    reason = forms.CharField(label="Why", max_length=200)

    def clean(self) -> dict[str, object]:
        """Refuse a pause that ends before it begins."""
        data = super().clean() or {}
        first, last = data.get("first_day"), data.get("last_day")
        if isinstance(first, date) and isinstance(last, date) and last < first:
            self.add_error("last_day", "A pause can't end before it begins.")
        return data


class PauseEndForm(forms.Form):
    """The last day of a pause."""

    last_day = forms.DateField(label="Last day", widget=DayInput())


class WithdrawForm(forms.Form):
    """Why a line or a plan is withdrawn."""

    reason = forms.CharField(label="Why", max_length=300)
    line_key = forms.CharField(required=False, max_length=80, widget=forms.HiddenInput)


class ToldForm(forms.Form):
    """How the patient was told of a withdrawal."""

    how = forms.CharField(label="How the patient was told", max_length=200)


class StrikeForm(forms.Form):
    """Why something is struck out."""

    reason = forms.CharField(label="Why", max_length=200)
