"""The form of a teach-back."""

from django import forms

from plans.models import TeachBack


class TeachBackForm(forms.Form):
    """How the patient showed one line, and what to watch."""

    shown = forms.ChoiceField(choices=TeachBack.Shown.choices)
    watch = forms.CharField(label="What to watch", max_length=300, required=False)
