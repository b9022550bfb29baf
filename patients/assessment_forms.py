"""The form of an assessment: only the joints chosen, both sides, entered as it is measured."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from django import forms
from django.forms.boundfield import BoundField

from clinic.models import User
from patients.assessment import (
    REASON_LETTERS,
    RangeReading,
    ReadingError,
    ScoreReading,
    muscle_group,
    read_grade,
    read_range,
    read_score,
    read_trial,
)
from patients.assessment_actions import Measures
from patients.assessment_closing import close_fields, resisted_too_early
from patients.assessment_rows import (
    ACTIVITIES,
    SOMEONE_ELSE,
    TONE_ROWS,
    assessment_row,
    measures_of,
    motion_word,
    motions_of,
)
from patients.forms import DayInput
from patients.grip_norms import TRIALS
from patients.measures_models import METHODS, REASONS, Assessment, MassUnit, MeasuredIn, ToneWord
from patients.motions import MOTIONS, Joint
from patients.precautions import Limit

TONES = [
    ("", "–"),
    ("Tone", list(ToneWord.choices)),
    (
        "Not tested",
        [(value, f"not tested: {label}") for value, label in REASONS if value != "tone"],
    ),
]


class ReadField(forms.CharField):
    """A short text that one of the pure readers takes; its refusal is the field's error."""

    def __init__(self, read: Callable[[str], object], *, label: str) -> None:
        self.read = read
        widget = forms.TextInput(
            attrs={
                "autocomplete": "off",
                "autocapitalize": "none",
                "spellcheck": "false",
                "aria-label": label,
            }
        )
        super().__init__(required=False, max_length=12, widget=widget, label=label)

    def clean(self, value: object) -> object:
        """Return the reading."""
        text = super().clean(value)
        try:
            return self.read(text)
        except ReadingError as error:
            raise forms.ValidationError(str(error)) from None


@dataclass(frozen=True)
class MotionRow:
    """One motion of one side on the page."""

    label: str
    active: BoundField
    passive: BoundField
    grade: BoundField

    @property
    def fields(self) -> tuple[BoundField, ...]:
        """Its fields in the order that they are measured in."""
        return (self.active, self.passive, self.grade)


@dataclass(frozen=True)
class JointPart:
    """One joint on the page: how it was measured, and its motions by side."""

    joint: Joint
    method: BoundField
    measured_in: BoundField
    sides: tuple[tuple[str, tuple[MotionRow, ...]], ...]


class ChoiceOfJoints(forms.Form):
    """Which joints and sides are measured this time."""

    joints = forms.MultipleChoiceField(
        choices=[(joint.value, joint.label) for joint in Joint],
        required=False,
        widget=forms.CheckboxSelectMultiple,
        label="Joints",
    )
    sides = forms.ChoiceField(
        choices=[("both", "both sides"), ("left", "left only"), ("right", "right only")],
        required=False,
        label="Sides",
    )

    def chosen(self, first: Sequence[Joint]) -> tuple[list[Joint], str]:
        """Return the joints and sides asked for; ``first`` where nobody has chosen yet.

        A link that names joints has chosen; a form with none ticked says that it was chosen.
        """
        asks = self.is_bound and ("chosen" in self.data or "joints" in self.data)
        if not asks or not self.is_valid():
            return list(first), "both"
        data = self.cleaned_data
        return [Joint(value) for value in data["joints"]], data["sides"] or "both"


class AssessmentForm(forms.Form):
    """Everything of one assessment. Empty fields are not measured; a letter says why not."""

    measured_day = forms.DateField(label="Measured on", widget=DayInput())
    measured_by = forms.ChoiceField(label="Measured by")
    measured_by_other = forms.CharField(
        label="If someone else, who", max_length=120, required=False
    )
    pain_at_rest = ReadField(read_score, label="At rest")
    pain_on_movement = ReadField(read_score, label="On movement")
    grip_unit = forms.ChoiceField(label="Grip in", choices=MassUnit.choices, initial="kg")
    notes = forms.CharField(
        label="Notes", required=False, max_length=4000, widget=forms.Textarea(attrs={"rows": 4})
    )
    correction_reason = forms.CharField(label="Why it is corrected", max_length=200, required=False)

    def __init__(
        self,
        data: Mapping[str, object] | None = None,
        *,
        joints: Sequence[Joint],
        sides: str,
        order: Sequence[str],
        by: User,
        raters: Sequence[User],
        today: date,
        first: Mapping[str, object] | None = None,
        corrects: Assessment | None = None,
        limits: Sequence[Limit] = (),
    ) -> None:
        start = {"measured_day": today, "measured_by": str(by.pk)} | dict(first or {})
        super().__init__(data, initial=start, auto_id="a-%s")
        self.today, self.by, self.corrects = today, by, corrects
        self.joints = list(joints)
        self.sides = tuple(side for side in order if sides in ("both", side))
        self.raters = {str(user.pk): user for user in [by, *raters]}
        if corrects is not None and corrects.measured_by:
            self.raters.setdefault(str(corrects.measured_by.pk), corrects.measured_by)
        people = [(pk, user.name) for pk, user in self.raters.items()]
        self.fields["measured_by"] = forms.ChoiceField(
            label="Measured by", choices=[*people, (SOMEONE_ELSE, "someone else")]
        )
        self.fields["measured_day"].widget.attrs["max"] = today.isoformat()
        self.fields["correction_reason"].required = corrects is not None
        for joint in self.joints:
            self._add_joint(joint)
        self._add_hand_and_function()
        # What is corrected was measured already: then nothing is closed.
        self.up_to_3 = close_fields(self, () if corrects else limits)

    def _add_joint(self, joint: Joint) -> None:
        self.fields[f"{joint}-method"] = forms.ChoiceField(label="with", choices=METHODS)
        self.fields[f"{joint}-measured_in"] = forms.ChoiceField(
            label="position", choices=MeasuredIn.choices, required=False
        )
        for motion in motions_of(joint):
            label = MOTIONS[motion].label
            for side in ("left", "right"):
                for what, reader in (
                    ("active", _range_reader(motion)),
                    ("passive", _range_reader(motion)),
                    ("grade", read_grade),
                ):
                    self.fields[f"{motion}-{side}-{what}"] = ReadField(
                        reader, label=f"{label}, {side}, {what}"
                    )

    def _add_hand_and_function(self) -> None:
        for side in ("left", "right"):
            for number in range(1, TRIALS + 1):
                self.fields[f"grip-{side}-{number}"] = forms.CharField(
                    label=f"Grip, {side}, trial {number}",
                    required=False,
                    max_length=8,
                    widget=forms.TextInput(
                        attrs={
                            "autocomplete": "off",
                            "inputmode": "decimal",
                            "aria-label": f"Grip, {side}, trial {number}",
                        }
                    ),
                )
        for number in range(1, ACTIVITIES + 1):
            self.fields[f"activity-{number}-words"] = forms.CharField(
                label=f"Activity {number}",
                required=False,
                max_length=120,
                widget=forms.TextInput(attrs={"aria-label": f"Activity {number}"}),
            )
            self.fields[f"activity-{number}-score"] = ReadField(
                read_score, label=f"Score of activity {number}"
            )
        groups = [("", "–"), *_muscle_groups()]
        for number in range(1, TONE_ROWS + 1):
            for what, label, choices, required in (
                ("motion", "Muscles", groups, False),
                ("side", "Side", [("left", "left"), ("right", "right")], True),
                ("tone", "Tone", TONES, False),
            ):
                self.fields[f"tone-{number}-{what}"] = forms.ChoiceField(
                    label=f"{label} {number}",
                    choices=choices,
                    required=required,
                    widget=forms.Select(attrs={"aria-label": f"{label} {number}"}),
                )

    @property
    def parts(self) -> tuple[JointPart, ...]:
        """The chosen joints as the page sets them out, one side after the other."""
        return tuple(
            JointPart(
                joint=joint,
                method=self[f"{joint}-method"],
                measured_in=self[f"{joint}-measured_in"],
                sides=tuple((side, tuple(self._rows(joint, side))) for side in self.sides),
            )
            for joint in self.joints
        )

    def _rows(self, joint: Joint, side: str) -> Iterator[MotionRow]:
        for motion in motions_of(joint):
            yield MotionRow(
                label=motion_word(motion),
                active=self[f"{motion}-{side}-active"],
                passive=self[f"{motion}-{side}-passive"],
                grade=self[f"{motion}-{side}-grade"],
            )

    @property
    def grip_rows(self) -> list[tuple[str, list[BoundField]]]:
        """The trials of each hand."""
        return [
            (side, [self[f"grip-{side}-{n}"] for n in range(1, TRIALS + 1)]) for side in self.sides
        ]

    @property
    def activity_rows(self) -> list[tuple[BoundField, BoundField]]:
        """Each activity's words and score."""
        numbers = range(1, ACTIVITIES + 1)
        return [(self[f"activity-{n}-words"], self[f"activity-{n}-score"]) for n in numbers]

    @property
    def tone_rows(self) -> list[tuple[BoundField, BoundField, BoundField]]:
        """Each muscle group, side and tone."""
        return [
            (self[f"tone-{n}-motion"], self[f"tone-{n}-side"], self[f"tone-{n}-tone"])
            for n in range(1, TONE_ROWS + 1)
        ]

    @property
    def about(self) -> list[BoundField]:
        """When and by whom it was measured."""
        names = ["measured_day", "measured_by", "measured_by_other"]
        return [self[name] for name in names + ["correction_reason"] * bool(self.corrects)]

    @property
    def pain_fields(self) -> list[BoundField]:
        """Both pain scores."""
        return [self["pain_at_rest"], self["pain_on_movement"]]

    @property
    def has_tone(self) -> bool:
        """Whether any tone was chosen, so that its part stands open."""
        return any(group.value() or tone.value() for group, _, tone in self.tone_rows)

    def clean(self) -> dict[str, object]:
        """Refuse what contradicts itself, and an assessment of nothing."""
        data = super().clean() or {}
        if data.get("measured_by") == SOMEONE_ELSE and not data.get("measured_by_other"):
            self.add_error("measured_by_other", "Write who measured.")
        day = data.get("measured_day")
        if isinstance(day, date) and day > self.today:
            self.add_error("measured_day", "It can't be of a day to come.")
        for name, why in self.up_to_3.items():
            if resisted_too_early(data.get(name)):
                self.add_error(name, f"No resisting yet ({why}): a grade of at most 3.")
        self._clean_grips(data)
        self._clean_activities(data)
        self._clean_tones(data)
        if not self.errors and self._is_empty():
            self.add_error(None, "Nothing is entered yet. Type a measure, or why not.")
        return data

    def _clean_grips(self, data: dict[str, object]) -> None:
        for side in ("left", "right"):
            texts = [str(data.get(f"grip-{side}-{n}") or "") for n in range(1, TRIALS + 1)]
            first = REASON_LETTERS.get(texts[0].strip().lower())
            if first or not any(texts):
                data[f"grip-{side}"] = ([], first)
                continue
            trials = []
            for number, text in enumerate(texts, 1):
                try:
                    trials.append(read_trial(text, str(data.get("grip_unit") or "kg")))
                except ReadingError as error:
                    self.add_error(f"grip-{side}-{number}", str(error))
            data[f"grip-{side}"] = ([trial for trial in trials if trial is not None], None)

    def _clean_activities(self, data: dict[str, object]) -> None:
        seen: set[str] = set()
        for number in range(1, ACTIVITIES + 1):
            words = str(data.get(f"activity-{number}-words") or "").strip()
            said = data.get(f"activity-{number}-score") not in (None, ScoreReading())
            if said and not words:
                self.add_error(f"activity-{number}-words", "Which activity?")
            is_new = words != self.initial.get(f"activity-{number}-words", "")
            if words and is_new and not said and f"activity-{number}-score" not in self.errors:
                self.add_error(f"activity-{number}-score", "Score it, or type why not.")
            if words and words.casefold() in seen:
                self.add_error(f"activity-{number}-words", "This activity is named already.")
            seen.add(words.casefold())

    def _clean_tones(self, data: dict[str, object]) -> None:
        seen: set[tuple[object, object]] = set()
        for number in range(1, TONE_ROWS + 1):
            group, tone = data.get(f"tone-{number}-motion"), data.get(f"tone-{number}-tone")
            if bool(group) != bool(tone):
                missing = "tone" if group else "motion"
                self.add_error(f"tone-{number}-{missing}", "Say both the muscles and their tone.")
            key = (group, data.get(f"tone-{number}-side"))
            if group and key in seen:
                self.add_error(f"tone-{number}-motion", "These muscles are named already.")
            seen.add(key)

    def _is_empty(self) -> bool:
        measures, whole = self.measures(), self.assessment()
        kinds = (measures.motions, measures.grips, measures.tones, measures.activities)
        scores = (whole.pain_at_rest, whole.pain_on_movement)
        return (
            not any(kinds)
            and not whole.notes
            and scores == (None, None)
            and not whole.pain_at_rest_not_tested
            and not whole.pain_on_movement_not_tested
        )

    def assessment(self) -> Assessment:
        """Return the unsaved record of a valid form."""
        return assessment_row(
            self.cleaned_data,
            rater=self.raters.get(self.cleaned_data["measured_by"]),
            corrects=self.corrects,
        )

    def measures(self) -> Measures:
        """Return the unsaved rows of a valid form."""
        return measures_of(self.cleaned_data, self.joints, self.sides)


def _range_reader(motion: str) -> Callable[[str], RangeReading]:
    return lambda text: read_range(text, motion)


def _muscle_groups() -> list[tuple[str, list[tuple[str, str]]]]:
    """Every muscle group to choose from, by joint."""
    return [
        (joint.label, [(motion, muscle_group(motion)) for motion in motions_of(joint)])
        for joint in Joint
    ]
