"""Forms of the clinic's own pages."""

from zoneinfo import available_timezones

from django import forms
from django.contrib.auth.forms import AuthenticationForm
from django.contrib.auth.password_validation import password_validators_help_texts

from clinic.models import ClinicProfile, User


class SignInForm(AuthenticationForm):
    """Name and password, with what a password manager needs."""

    error_messages = {
        "invalid_login": "That name and password don't go together. Check both and try again.",
        "inactive": "This account is closed. Ask your administrator.",
    }


class StaffForm(forms.ModelForm):
    """A member of staff's account."""

    class Meta:
        model = User
        fields = ["name", "role", "is_active"]
        labels = {"is_active": "May sign in"}


class NewStaffForm(forms.ModelForm):
    """A new account, with its first password."""

    password = forms.CharField(
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        strip=False,
        help_text=" ".join(password_validators_help_texts()),
    )

    class Meta:
        model = User
        fields = ["name", "role", "username"]
        labels = {"username": "Sign-in name"}
        widgets = {"username": forms.TextInput(attrs={"autocomplete": "username"})}


class PasswordForm(forms.Form):
    """A new password, with the present one to prove who asks."""

    present = forms.CharField(
        label="Present password",
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
        strip=False,
    )
    password = forms.CharField(
        label="New password",
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        strip=False,
        help_text=" ".join(password_validators_help_texts()),
    )

    def __init__(self, *args: object, user: User, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]
        self.user = user

    def clean_present(self) -> str:
        """Refuse when the present password is wrong."""
        present: str = self.cleaned_data["present"]
        if not self.user.check_password(present):
            raise forms.ValidationError("That is not your present password.")
        return present


class ClinicProfileForm(forms.ModelForm):
    """The clinic's name, telephones and choices."""

    class Meta:
        model = ClinicProfile
        fields = [
            "name",
            "telephone",
            "emergency_telephone",
            "time_zone",
            "students_need_signature",
            "pain_limit",
        ]
        labels = {
            "telephone": "Telephone that patients ring",
            "emergency_telephone": "Emergency number",
            "students_need_signature": "What students and assistants issue waits for a signature",
            "pain_limit": "Pain limit of a new plan (0–10)",
        }
        help_texts = {
            "time_zone": "Days are counted in this zone, for example Europe/Madrid.",
            "pain_limit": "Above it the patient stops. Each plan can set its own.",
        }

    def clean_time_zone(self) -> str:
        """Refuse a zone that the computer doesn't know."""
        zone: str = self.cleaned_data["time_zone"]
        if zone not in available_timezones():
            raise forms.ValidationError("Write a zone as in Europe/Madrid or America/Lima.")
        return zone
