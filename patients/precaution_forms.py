"""Forms of precautions."""

from collections.abc import Mapping
from decimal import Decimal

from django import forms

from patients.forms import DayInput
from patients.models import Episode, Patient
from patients.motions import MOTIONS, Joint
from patients.precaution_models import MOTION_CHOICES, Precaution
from patients.precaution_protocols import Proposed
from patients.precautions import Kind

PARTS = [
    ("", "the whole arm"),
    ("Joints", [(joint.value, joint.label) for joint in Joint]),
    ("Motions", MOTION_CHOICES),
]
TOGETHER = (1, 2, 3)
NEEDS = {
    Kind.ANGLE: ("limit_deg",),
    Kind.EFFORT: ("effort",),
    Kind.LOAD: ("limit_kg",),
    Kind.POSITION: ("position",),
    Kind.TOGETHER: ("motion_1", "beyond_1", "motion_2", "beyond_2"),
}
"""What a kind of precaution must say."""

OF_KIND = {
    "part": (Kind.ANGLE, Kind.EFFORT, Kind.LOAD),
    "limit_deg": (Kind.ANGLE,),
    "measured_in": (Kind.ANGLE,),
    "only_when_moved": (Kind.ANGLE,),
    "effort": (Kind.EFFORT,),
    "isometric_is_active": (Kind.EFFORT,),
    "limit_kg": (Kind.LOAD,),
    "position": (Kind.POSITION,),
    **{f"{name}_{n}": (Kind.TOGETHER,) for n in TOGETHER for name in ("motion", "beyond")},
}
"""Which fields belong to which kinds; the others belong to all."""


class PrecautionForm(forms.ModelForm):
    """One precaution; only what belongs to its kind may be filled in."""

    part = forms.ChoiceField(choices=PARTS, required=False, label="Of")
    limit_kg = forms.DecimalField(
        required=False,
        min_value=Decimal(0),
        max_value=Decimal(50),
        max_digits=5,
        decimal_places=3,
        label="Up to, kg",
        help_text="0 forbids any load.",
    )
    is_hard = forms.TypedChoiceField(
        coerce=lambda value: value == "hard",
        choices=[("hard", "hard: blocks an issue"), ("advisory", "advisory: is shown")],
        label="How strict",
    )

    class Meta:
        model = Precaution
        fields = [
            "kind",
            "side",
            "limit_deg",
            "measured_in",
            "only_when_moved",
            "effort",
            "isometric_is_active",
            "position",
            "episode",
            "from_day",
            "from_week",
            "until_day",
            "until_week",
            "set_by",
            "source",
            "note",
        ]
        labels = {
            "kind": "What is limited",
            "limit_deg": "Up to, degrees",
            "measured_in": "Pose it is measured in, if said",
            "only_when_moved": "Only when moved by another or the other hand",
            "effort": "Highest effort allowed",
            "isometric_is_active": "Isometric counts as active, not as resisted",
            "position": "Position",
            "episode": "Weeks count from",
            "from_day": "From",
            "from_week": "or from week",
            "until_day": "Review on, if set",
            "until_week": "or in week",
            "set_by": "Who set it",
            "source": "Source",
            "note": "Note, if any",
        }
        help_texts = {
            "limit_deg": "In the motion's own direction: −30 of extension is 30 short of straight.",
            "from_week": "After the operation, else the injury.",
            "until_day": "It holds until a person lifts it.",
            "set_by": "The surgeon, the physician or the protocol by name.",
            "source": "Letter, protocol, study; or “common practice, no source”.",
        }
        widgets = {"from_day": DayInput(), "until_day": DayInput()}

    def __init__(
        self,
        data: Mapping[str, object] | None = None,
        *,
        instance: Precaution,
        initial: Mapping[str, object] | None = None,
    ) -> None:
        super().__init__(data, instance=instance, initial=dict(initial or {}))
        patient: Patient = instance.patient
        self.fields["episode"].queryset = patient.episodes.all()  # type: ignore[attr-defined]
        self.fields["episode"].empty_label = "none"  # type: ignore[attr-defined]
        for n in TOGETHER:
            self.fields[f"motion_{n}"] = forms.ChoiceField(
                choices=[("", "–"), *MOTION_CHOICES], required=False, label=f"Motion {n}"
            )
            self.fields[f"beyond_{n}"] = forms.IntegerField(
                required=False, min_value=-200, max_value=200, label="beyond, degrees"
            )
        for name, field in self.fields.items():
            if name in OF_KIND:
                field.widget.attrs["data-of-kind"] = " ".join(OF_KIND[name])

    def clean(self) -> dict[str, object]:
        """Refuse what belongs to another kind, what is missing, and days that can't be."""
        data = super().clean() or {}
        if "kind" not in data:
            return data
        kind = Kind(str(data["kind"]))
        for name, kinds in OF_KIND.items():
            if data.get(name) not in (None, "", False) and kind not in kinds:
                self.add_error(name, f"This belongs to: {', '.join(k.label for k in kinds)}.")
        for name in NEEDS.get(kind, ()):
            if data.get(name) in (None, "") and name not in self.errors:
                self.add_error(name, "This is needed.")
        if kind is Kind.ANGLE and data.get("part") not in MOTIONS:
            self.add_error("part", "An angle is of one motion: choose it.")
        if bool(data.get("motion_3")) != (data.get("beyond_3") is not None):
            self.add_error("beyond_3", "A motion and its degrees go together.")
        self._clean_days(data)
        return data

    def _clean_days(self, data: Mapping[str, object]) -> None:
        begins = (data.get("from_day"), data.get("from_week"))
        if begins == (None, None):
            self.add_error("from_day", "Say from which day or week.")
        elif None not in begins:
            self.add_error("from_week", "A day or a week, not both.")
        ends = (data.get("until_day"), data.get("until_week"))
        if None not in ends:
            self.add_error("until_week", "A day or a week, not both.")
        for name, first, last in (
            ("until_day", begins[0], ends[0]),
            ("until_week", begins[1], ends[1]),
        ):
            if first is not None and last is not None and last < first:  # type: ignore[operator]
                self.add_error(name, "The review comes before it begins.")
        episode = data.get("episode")
        if begins[1] is not None or ends[1] is not None:
            if not isinstance(episode, Episode):
                self.add_error("episode", "Weeks count from an episode: choose it.")
            elif not (episode.operation_day or episode.onset_day):
                self.add_error(
                    "episode", "It has no day of operation or injury to count weeks from."
                )

    def _post_clean(self) -> None:
        data = self.cleaned_data
        kind = data.get("kind")
        part = data.get("part", "")
        self.instance.motion = part if part in MOTIONS else ""
        self.instance.joint = part if part and part not in MOTIONS else ""
        self.instance.is_hard = data.get("is_hard", True)
        load_kg = data.get("limit_kg") if kind == Kind.LOAD else None
        self.instance.limit_g = None if load_kg is None else int(load_kg * 1000)
        pairs = [(data.get(f"motion_{n}"), data.get(f"beyond_{n}")) for n in TOGETHER]
        is_together = kind == Kind.TOGETHER
        self.instance.together = [list(pair) for pair in pairs if pair[0]] if is_together else []
        if not self.errors:
            super()._post_clean()  # type: ignore[misc]


def proposed_precaution(proposed: Proposed, *, episode: Episode, side: str) -> Precaution:
    """Return a protocol's precaution for an episode and a side, not yet saved."""
    limit = proposed.limit
    return Precaution(
        patient=episode.patient,
        episode=episode,
        kind=limit.kind.value,
        side=side,
        motion=limit.motion,
        joint=limit.joint.value if limit.joint else "",
        limit_deg=limit.limit_deg,
        effort=limit.effort,
        limit_g=limit.limit_g,
        position=limit.position,
        together=[[each.motion, each.beyond_deg] for each in limit.together],
        measured_in=limit.measured_in,
        isometric_is_active=limit.isometric_is_active,
        only_when_moved=limit.only_when_moved,
        is_hard=limit.is_hard,
        from_week=proposed.from_week,
        until_week=proposed.until_week,
        source=proposed.source,
        note=proposed.note,
    )


def form_values(precaution: Precaution) -> dict[str, object]:
    """Return what the form shows of a precaution beside its own columns."""
    values: dict[str, object] = {
        "part": precaution.motion or precaution.joint,
        "is_hard": "hard" if precaution.is_hard else "advisory",
        "limit_kg": None if precaution.limit_g is None else Decimal(precaution.limit_g) / 1000,
    }
    for n, (motion, beyond_deg) in zip(TOGETHER, precaution.together, strict=False):
        values |= {f"motion_{n}": motion, f"beyond_{n}": beyond_deg}
    return values


class ProtocolForm(forms.Form):
    """Which of a protocol's precautions are accepted, for which episode and side, and by whom."""

    episode = forms.ModelChoiceField(queryset=Episode.objects.none(), empty_label=None)
    side = forms.ChoiceField(choices=[("left", "Left"), ("right", "Right"), ("both", "Both")])
    set_by = forms.CharField(
        max_length=120,
        label="Who orders these limits",
        help_text="The surgeon or physician whose protocol it is, by name.",
    )
    ticked = forms.TypedMultipleChoiceField(
        coerce=int, error_messages={"required": "Tick what is to be set."}
    )

    def __init__(
        self,
        data: Mapping[str, object] | None = None,
        *,
        patient: Patient,
        count: int,
        initial: Mapping[str, object] | None = None,
    ) -> None:
        super().__init__(data, initial=dict(initial or {}), auto_id="protocol_%s")
        self.fields["episode"].queryset = patient.episodes.all()  # type: ignore[attr-defined]
        self.fields["ticked"].choices = [(n, n) for n in range(count)]  # type: ignore[attr-defined]

    def is_ticked(self, number: int) -> bool:
        """Whether a row is ticked: as it came back, and all of them at first."""
        if not self.is_bound:
            return True
        return str(number) in self.data.getlist("ticked")  # type: ignore[attr-defined]

    def clean_episode(self) -> Episode:
        """Refuse an episode that weeks can't be counted from."""
        episode: Episode = self.cleaned_data["episode"]
        if not (episode.operation_day or episode.onset_day):
            raise forms.ValidationError(
                "This episode has no day of operation or injury to count weeks from. "
                "Write it into the episode first."
            )
        return episode


class LiftForm(forms.Form):
    """Why a precaution is lifted."""

    why = forms.CharField(max_length=300, label="Why, and who cleared it")


class KeepForm(forms.Form):
    """Until when a precaution is kept."""

    until_day = forms.DateField(label="Look at it again on", widget=DayInput())
    why = forms.CharField(max_length=300, label="Why it stays")
