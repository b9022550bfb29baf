"""Forms about people."""

import re
from typing import ClassVar

from django import forms

from clinic.models import User
from patients.models import Episode, HomeHelper, Patient

# One letter, a digit, a digit or letter, then up to four digits or letters after a dot
# (WHO, ICD-10 volume 2, section 2: a letter, two digits, a decimal; national editions add more).
ICD10_SHAPE = re.compile(r"[A-Z]\d[0-9A-Z](\.[0-9A-Z]{1,4})?")


class DayInput(forms.DateInput):
    """The browser's own date field."""

    input_type = "date"

    def __init__(self) -> None:
        super().__init__(format="%Y-%m-%d")


class PatientForm(forms.ModelForm):
    """A patient's details."""

    class Meta:
        model = Patient
        fields = [
            "clinic_number",
            "name",
            "birth_date",
            "sex",
            "affected_side",
            "dominant_side",
            "stature_cm",
            "body_mass_kg",
            "language",
            "text_size",
        ]
        labels = {
            "birth_date": "Date of birth",
            "stature_cm": "Height (cm)",
            "body_mass_kg": "Body weight (kg)",
            "language": "Language of sheet and phone",
            "text_size": "Text size of sheet and phone",
        }
        help_texts = {
            "stature_cm": "Only for load estimates.",
            "body_mass_kg": "Only for load estimates.",
        }
        widgets = {"birth_date": DayInput()}


class EpisodeForm(forms.ModelForm):
    """An episode of care."""

    class Meta:
        model = Episode
        fields = [
            "diagnosis",
            "icd10",
            "onset_day",
            "operation_day",
            "referrer",
            "telephone",
            "opened_day",
            "closed_day",
            "goals",
        ]
        labels = {
            "diagnosis": "Diagnosis in words",
            "onset_day": "Day of onset or injury",
            "operation_day": "Day of operation",
            "referrer": "Referred by",
            "telephone": "Telephone the patient rings",
            "opened_day": "Opened on",
            "closed_day": "Closed on",
            "goals": "Goals, in the patient's words",
        }
        widgets: ClassVar[dict[str, forms.Widget]] = {
            name: DayInput() for name in ("onset_day", "operation_day", "opened_day", "closed_day")
        } | {
            "diagnosis": forms.TextInput(attrs={"class": "long"}),
            "referrer": forms.TextInput(attrs={"class": "long"}),
            "goals": forms.Textarea(attrs={"rows": 4}),
        }

    def clean_icd10(self) -> str:
        """Accept an ICD-10 code in its shape, small letters too."""
        code: str = self.cleaned_data["icd10"].strip().upper()
        if code and not ICD10_SHAPE.fullmatch(code):
            raise forms.ValidationError("An ICD-10 code looks like S42.2 or I63.")
        return code

    def clean(self) -> dict[str, object]:
        """Refuse days in an order that can't be."""
        data = super().clean() or {}
        opened, closed = data.get("opened_day"), data.get("closed_day")
        if opened and closed and closed < opened:
            self.add_error("closed_day", "An episode can't close before it opens.")
        return data


class HomeHelperForm(forms.ModelForm):
    """Someone who helps at home."""

    class Meta:
        model = HomeHelper
        fields = ["name", "relation", "telephone"]


class CoverForm(forms.Form):
    """Cover for a colleague: which patient, and why."""

    clinic_number = forms.CharField(max_length=20)
    reason = forms.CharField(max_length=200)


class CareTeamForm(forms.Form):
    """A colleague to add to a care team."""

    user = forms.ModelChoiceField(
        label="Colleague",
        queryset=User.objects.filter(is_active=True).exclude(role="administrator"),
    )
