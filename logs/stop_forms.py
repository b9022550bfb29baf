"""What staff fill in: a stop sign that was told to them, and the answer to one."""

from datetime import date, datetime, timedelta
from typing import Any
from uuid import uuid4
from zoneinfo import ZoneInfo

from django import forms

from logs.models import StopSource
from logs.stop_actions import LONGEST_SENTENCE, MOST_OCCASIONS, Decision, ToldStop
from logs.stop_page import TIER_WORDS
from logs.stops import StopTold
from patients.forms import DayInput
from plans.stop_signs import HOLDING, Tier, sign_for_staff


class StopReportForm(forms.Form):
    """A stop sign as staff heard of it."""

    uuid = forms.UUIDField(widget=forms.HiddenInput)
    sign = forms.ChoiceField(label="Which sign")
    source = forms.ChoiceField(
        label="How it was told", choices=[("", "choose"), *StopSource.choices[1:]]
    )
    day = forms.DateField(label="Day", widget=DayInput)
    at = forms.TimeField(
        label="Time", widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M")
    )
    from_occasion = forms.IntegerField(
        label="Held from session",
        min_value=1,
        max_value=MOST_OCCASIONS + 1,
        help_text="The first session of that day that was not done. Later days are held as well.",
    )
    note = forms.CharField(
        label="Note for staff",
        max_length=500,
        required=False,
        widget=forms.Textarea(attrs={"rows": 2}),
    )

    def __init__(
        self, *args: Any, tiers: tuple[Tier, ...], today: date, zone: str, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.today, self.zone = today, zone
        self.tier_of = {key: tier.key for tier in tiers for key in tier.sign_keys}
        signs = [
            (
                TIER_WORDS[tier.key],
                [(key, sign_for_staff(tiers, key)) for key in tier.sign_keys],
            )
            for tier in tiers
        ]
        self.fields["sign"].choices = [("", "choose"), *signs]  # type: ignore[attr-defined]

    @classmethod
    def begun(
        cls, tiers: tuple[Tier, ...], now: datetime, zone: str, from_occasion: int
    ) -> "StopReportForm":
        """Return an empty form for a report made now."""
        here = now.astimezone(ZoneInfo(zone))
        initial = {
            "uuid": uuid4(),
            "day": here.date(),
            "at": here.time(),
            "from_occasion": from_occasion,
        }
        return cls(tiers=tiers, today=here.date(), zone=zone, initial=initial)

    def clean_day(self) -> date:
        """Refuse a day that is to come."""
        day: date = self.cleaned_data["day"]
        if day > self.today:
            raise forms.ValidationError("This day is to come.")
        return day

    def told(self) -> ToldStop:
        """Return what a valid form says."""
        given = self.cleaned_data
        tier = self.tier_of[given["sign"]]
        return ToldStop(
            tier=tier,
            sign=given["sign"],
            reported_at=datetime.combine(given["day"], given["at"], ZoneInfo(self.zone)),
            day=given["day"],
            from_occasion=given["from_occasion"] if tier in HOLDING else None,
            source=given["source"],
            time_zone=self.zone,
            note=given["note"].strip(),
        )


class StopAnswerForm(forms.Form):
    """What was decided on a report."""

    seen = forms.IntegerField(widget=forms.HiddenInput)
    words = forms.CharField(
        label="What was decided, and why",
        max_length=500,
        widget=forms.Textarea(attrs={"rows": 3}),
    )
    goes_on = forms.ChoiceField(
        label="The exercises",
        choices=[("yes", "go on"), ("no", "stay on hold until another answer")],
        widget=forms.RadioSelect,
    )
    ends_day = forms.DateField(label="If they go on: from", widget=DayInput)
    ends_occasion = forms.IntegerField(label="with session", min_value=1, max_value=MOST_OCCASIONS)
    sentence = forms.CharField(label="Sentence for the patient", required=False, max_length=200)

    def __init__(self, *args: Any, stop: StopTold, language: str, today: date, **kwargs: Any):
        kwargs.setdefault("initial", _usual(stop, today))
        kwargs["prefix"] = f"stop-{stop.uuid}"
        super().__init__(*args, **kwargs)
        self.fields["sentence"].max_length = LONGEST_SENTENCE  # type: ignore[attr-defined]
        self.fields["sentence"].help_text = f"They read it on the phone page, in {language}."
        if stop.from_occasion is None:
            for name in ("goes_on", "ends_day", "ends_occasion"):
                del self.fields[name]

    def now_seen(self, number: int) -> None:
        """Take it that the page which shows this form again shows that answer too."""
        self.data = self.data | {self.add_prefix("seen"): number}  # type: ignore[operator]

    def decision(self) -> Decision:
        """Return what a valid form says."""
        given = self.cleaned_data
        goes_on = given.get("goes_on", "yes") == "yes"
        return Decision(
            words=given["words"],
            goes_on=goes_on,
            ends_day=given.get("ends_day") if goes_on else None,
            ends_occasion=given.get("ends_occasion") if goes_on else None,
            sentence=given["sentence"],
        )


def _usual(stop: StopTold, today: date) -> dict[str, object]:
    """The first session that could be due again."""
    day, number = max((today, 1), (stop.day, stop.from_occasion or 1))
    if number > MOST_OCCASIONS:
        day, number = day + timedelta(days=1), 1
    seen = stop.answer.number if stop.answer else 0
    return {"seen": seen, "ends_day": day, "ends_occasion": number}
