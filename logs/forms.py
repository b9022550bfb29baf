"""What the review's pages take from people."""

from datetime import date
from typing import Any

from django import forms

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
