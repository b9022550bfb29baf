"""What the review and the caseload take from people."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django import forms
from django.http import QueryDict

from logs.caseload import Flag
from logs.models import MissedReason, Why
from logs.windows import LONGEST_DAYS
from plans.schedule import Window


class DatesForm(forms.Form):
    """Two dates of one's own choice as a window."""

    first_day = forms.DateField(
        label="From", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )
    last_day = forms.DateField(
        label="To", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )

    def clean(self) -> dict[str, Any]:
        """Refuse a window that ends before it begins, or is too long to be read."""
        cleaned: dict[str, Any] = super().clean() or {}
        first, last = cleaned.get("first_day"), cleaned.get("last_day")
        if first and last:
            if last < first:
                self.add_error("last_day", "This is before the first day.")
            elif (last - first).days >= LONGEST_DAYS:
                self.add_error("first_day", f"Choose at most {LONGEST_DAYS} days.")
        return cleaned

    def window(self) -> Window:
        """Return the days of a valid form."""
        first: date = self.cleaned_data["first_day"]
        return Window(first, self.cleaned_data["last_day"])


class StrikeForm(forms.Form):
    """Why an entry does not count."""

    reason = forms.CharField(label="Why", max_length=200)


class MissedForm(forms.Form):
    """Why the sessions of a day were missed; empty takes back what was said."""

    day = forms.DateField(widget=forms.HiddenInput)
    reason = forms.ChoiceField(choices=[("", "not said"), *Why.choices], required=False)
    source = forms.ChoiceField(choices=MissedReason.Told.choices, required=False)


class PairForm(forms.Form):
    """What a person says of two entries."""

    one = forms.UUIDField()
    other = forms.UUIDField()
    word = forms.ChoiceField(choices=[(word, word) for word in ("same", "two", "unsaid")])


class ReviewedForm(forms.Form):
    """That the patient was reviewed today, over the days on the screen."""

    first_day = forms.DateField(widget=forms.HiddenInput)
    last_day = forms.DateField(widget=forms.HiddenInput)
    note = forms.CharField(max_length=500, required=False)


@dataclass(frozen=True)
class CaseloadChoice:
    """How the caseload is to be shown; empty text is no filter."""

    days: int
    sort: str
    flag: str
    therapist: str


class CaseloadForm(forms.Form):
    """Which of the caseload is shown, over which days, in which order."""

    days = forms.ChoiceField(choices=[("14", "14 days"), ("28", "28 days")], required=False)
    flag = forms.ChoiceField(required=False)
    therapist = forms.ChoiceField(required=False)
    sort = forms.ChoiceField(
        label="Order",
        required=False,
        choices=[
            ("therapist", "By therapist"),
            ("name", "By name"),
            ("flags", "Flags first"),
            ("sessions", "Fewest sessions first"),
            ("word", "Longest silence first"),
            ("pain", "Pain rising most first"),
            ("volume", "Volume falling most first"),
        ],
    )

    def __init__(self, data: QueryDict, *, therapists: Sequence[str]) -> None:
        super().__init__(data)
        choices = {
            "flag": [("", "All flags"), *((flag.key, flag.value) for flag in Flag)],
            "therapist": [("", "All therapists"), *((name, name) for name in therapists)],
        }
        for name, offered in choices.items():
            field = self.fields[name]
            if isinstance(field, forms.ChoiceField):
                field.choices = offered

    def choice(self) -> CaseloadChoice:
        """Return what was chosen; what can't be understood is as if it were not there."""
        self.is_valid()
        cleaned = self.cleaned_data
        return CaseloadChoice(
            days=int(cleaned.get("days") or 14),
            sort=cleaned.get("sort") or "therapist",
            flag=cleaned.get("flag") or "",
            therapist=cleaned.get("therapist") or "",
        )
