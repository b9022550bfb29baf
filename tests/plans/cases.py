"""Three invented people, and what a therapist types of them, page by page.

All of it is made up: names, numbers, measures. What is expected of them stands in
``test_three_cases.py``.
"""

import re
from dataclasses import dataclass, field
from datetime import date, timedelta

from django.test import Client
from django.urls import reverse

from clinic.http import today_in
from clinic.models import User
from patients.models import Episode, HomeHelper, Patient
from patients.precaution_queries import protocol_of
from plans.catalogue import DoneBy
from plans.models import Line, PlanVersion
from plans.queries import open_version, versions_of
from plans.safety_queries import step_of
from tests.patients.measuring import typed
from tests.world import join, revision_of

TODAY = today_in("Europe/London")


@dataclass(frozen=True)
class Case:
    """One invented person: who they are, their protocol, what is measured, what is chosen.

    ``chosen`` are exercises as they are found and added on the step proposed; ``limits`` are
    precautions set by hand, as the form takes them.
    """

    name: str
    number: str
    born: date
    affected: str
    diagnosis: str
    protocol: str
    joints: tuple[str, ...]
    measured: dict[str, str]
    chosen: tuple[str, ...]
    pain_limit: int
    dominant: str = "right"
    language: str = "en"
    onset_days_ago: int | None = None
    operation_days_ago: int | None = None
    helper: str = ""
    stature_cm: int = 168
    body_mass_kg: int = 70
    limits: tuple[dict[str, str], ...] = ()
    told: str = "This is your first plan."
    extra: dict[str, str] = field(default_factory=dict)


def measures(side: str, rows: dict[str, tuple[str, str, str]]) -> dict[str, str]:
    """Return what is typed for motions of one side: active, passive, grade."""
    return {
        f"{motion}__{side}__{what}": said
        for motion, said_of in rows.items()
        for what, said in zip(("active", "passive", "grade"), said_of, strict=True)
    }


STROKE = Case(
    name="Thistle Marrowby",
    number="C-01",
    born=date(1957, 2, 3),
    affected="left",
    diagnosis="Weak left arm after a stroke",
    onset_days_ago=40,
    protocol="hemiplegic_shoulder",
    helper="Basil Marrowby",
    joints=("shoulder", "elbow", "forearm", "wrist", "fingers"),
    measured=measures(
        "left",
        {
            "shoulder_flexion": ("35", "120p", "2"),
            "shoulder_extension": ("10", "40", "2"),
            "shoulder_abduction": ("30", "90p", "2"),
            "shoulder_adduction": ("", "", "3-"),
            "shoulder_external_rotation": ("0", "30p", "2"),
            "shoulder_internal_rotation": ("40", "60", "3"),
            "elbow_flexion": ("120", "145", "3+"),
            "elbow_extension": ("-25", "0", "3-"),
            "forearm_supination": ("20", "70", "2+"),
            "forearm_pronation": ("60", "80", "3"),
            "wrist_flexion": ("40", "70", "3"),
            "wrist_extension": ("5", "50", "2+"),
            "finger_flexion": ("70", "90", "3"),
            "finger_extension": ("-30", "0", "2"),
        },
    )
    | {
        "pain_at_rest": "1",
        "pain_on_movement": "4",
        "grip__left__1": "4",
        "grip__left__2": "3.5",
        "grip__left__3": "4",
        "grip__right__1": "24",
        "grip__right__2": "25",
        "grip__right__3": "24.5",
        "activity__1__words": "Hold the bread while cutting",
        "activity__1__score": "1",
        "activity__2__words": "Push the arm through a sleeve",
        "activity__2__score": "2",
        "activity__3__words": "Turn the light on",
        "activity__3__score": "3",
    },
    chosen=(
        "arm_lift_forward_lying",
        "arm_slide_sideways_lying",
        "rotation_lying",
        "elbow_bend_sitting",
        "forearm_turn",
        "wrist_bend_back",
        "finger_straighten",
        "arm_rest_sitting",
        "two_hand_tasks",
    ),
    pain_limit=2,
)

CUFF = Case(
    name="Quince Harrowgate",
    number="C-02",
    born=date(1968, 9, 14),
    affected="right",
    diagnosis="Right rotator cuff repair",
    operation_days_ago=17,
    protocol="cuff_repair",
    helper="Medlar Harrowgate",
    joints=("shoulder", "elbow", "forearm", "wrist", "fingers"),
    measured=measures(
        "right",
        {
            "shoulder_flexion": ("n", "85p", "n"),
            "shoulder_abduction": ("n", "60p", "n"),
            "shoulder_external_rotation": ("n", "20p", "n"),
            "elbow_flexion": ("140", "145", "3"),
            "elbow_extension": ("-5", "0", "3"),
            "forearm_supination": ("75", "80", "3"),
            "forearm_pronation": ("80", "80", "3"),
            "wrist_flexion": ("75", "80", "4"),
            "wrist_extension": ("65", "70", "4"),
            "finger_flexion": ("90", "90", "4"),
            "finger_extension": ("0", "0", "4"),
        },
    )
    | {"pain_at_rest": "2", "pain_on_movement": "4"},
    limits=(
        {"kind": "angle", "part": "shoulder_flexion", "limit_deg": "90"},
        {"kind": "angle", "part": "shoulder_external_rotation", "limit_deg": "30"},
    ),
    chosen=(
        "arm_lift_forward_lying",
        "rotation_lying",
        "pendulum_forward",
        "table_slide_forward",
        "shoulder_blade_set",
        "elbow_bend_sitting",
        "forearm_turn",
        "wrist_bend_back",
        "full_fist",
    ),
    pain_limit=2,
)

WRIST = Case(
    name="Clementine Oakapple",
    number="C-03",
    born=date(1972, 6, 30),
    affected="left",
    language="es",
    diagnosis="Left wrist fracture, out of plaster",
    onset_days_ago=44,
    protocol="distal_radius_fracture",
    joints=("forearm", "wrist", "fingers", "thumb"),
    measured=measures(
        "left",
        {
            "forearm_supination": ("35", "45p", "3-"),
            "forearm_pronation": ("60", "70", "3"),
            "wrist_flexion": ("30", "40p", "3-"),
            "wrist_extension": ("20", "30p", "3-"),
            "wrist_radial_deviation": ("8", "12", "3"),
            "wrist_ulnar_deviation": ("10", "15p", "3"),
            "finger_flexion": ("75", "85", "3"),
            "finger_extension": ("-10", "0", "3"),
            "thumb_flexion": ("40", "50", "3"),
            "thumb_opposition": ("40", "50", "3"),
        },
    )
    | {
        "pain_at_rest": "1",
        "pain_on_movement": "3",
        "grip__left__1": "n",
        "activity__1__words": "Wring out a cloth",
        "activity__1__score": "0",
        "activity__2__words": "Turn a key",
        "activity__2__score": "2",
        "activity__3__words": "Button a coat",
        "activity__3__score": "4",
    },
    chosen=(
        "swelling_care",
        "wrist_bend_back",
        "wrist_bend_forward",
        "wrist_side_to_side",
        "forearm_turn",
        "full_fist",
        "hook_fist",
        "thumb_to_each_finger",
        "light_hand_use",
    ),
    pain_limit=2,
)


@dataclass
class Journey:
    """A case on its way through the served pages, as one therapist's browser takes it."""

    case: Case
    client: Client
    therapist: User
    patient: Patient

    @classmethod
    def begin(cls, case: Case, client: Client, therapist: User) -> "Journey":
        """Enter the person; everything after goes through the pages."""
        patient = Patient.objects.create(
            clinic_number=case.number,
            name=case.name,
            birth_date=case.born,
            sex="female",
            affected_side=case.affected,
            dominant_side=case.dominant,
            language=case.language,
            stature_cm=case.stature_cm,
            body_mass_kg=case.body_mass_kg,
        )
        join(patient, therapist)
        ago = {"onset_day": case.onset_days_ago, "operation_day": case.operation_days_ago}
        days = {name: TODAY - timedelta(days) for name, days in ago.items() if days is not None}
        Episode.objects.create(
            patient=patient, diagnosis=case.diagnosis, opened_day=TODAY, telephone="", **days
        )
        if case.helper:
            HomeHelper.objects.create(patient=patient, name=case.helper)
        client.force_login(therapist, backend="django.contrib.auth.backends.ModelBackend")
        return cls(case, client, therapist, patient)

    def url(self, name: str, *more: object) -> str:
        return reverse(name, args=[self.patient.pk, *more])

    def page(self, name: str, *more: object, **query: str) -> str:
        """Return a page's text as it is served."""
        answer = self.client.get(self.url(name, *more), query)
        assert answer.status_code == 200, (name, answer.status_code)
        return answer.content.decode()

    def send(self, name: str, *more: object, **sent: object) -> str:
        """Press a button; return the page that follows."""
        answer = self.client.post(self.url(name, *more), sent, follow=True)
        return answer.content.decode()

    def limit(self) -> None:
        """Accept the protocol's precautions, and set those typed by hand."""
        protocol = protocol_of(self.case.protocol)
        episode = self.patient.episodes.get()
        self.send(
            "protocol_accept",
            self.case.protocol,
            side=self.case.affected,
            episode=episode.pk,
            set_by=self.case.extra.get("set_by", protocol.set_by),
            ticked=[str(n) for n in range(len(protocol.precautions))],
        )
        assert self.patient.precautions.count() == len(protocol.precautions)
        for limit in self.case.limits:
            before = self.patient.precautions.count()
            self.send(
                "precaution_new",
                **{
                    "side": self.case.affected,
                    "from_day": TODAY.isoformat(),
                    "set_by": "Mx Hoarfrost, operation note",
                    "source": "operation note",
                    "is_hard": "hard",
                }
                | limit,
            )
            assert self.patient.precautions.count() == before + 1

    def assess(self) -> None:
        """Type what was measured."""
        self.send(
            "assessment_new",
            **typed(self.therapist, joints=self.case.joints, **self.case.measured)
            | {"measured_day": TODAY.isoformat()},
        )
        assert self.patient.assessments.count() == 1

    def start(self) -> None:
        """Press "Start a plan"."""
        self.send("draft_start")

    def add(self, exercise: str) -> Line:
        """Find an exercise by its name and add what is found first, as Enter does."""
        name = revision_of(exercise).table["words"]["en"]["name"]
        found = self.page("draft", q=name)
        picks = re.findall(r'name="pick" value="([^"]+)" class="tiny"', found)
        pick = next(pick for pick in picks if pick.startswith(f"{exercise}:"))
        self.send("line_add", pick=pick)
        return self.draft.lines.last()

    def name_helpers(self) -> None:
        """Press "has shown it safely" on each line that a helper does."""
        [helper] = self.patient.home_helpers.all()
        for line in self.draft.lines.all():
            if step_of(line).done_by is DoneBy.HELPER:
                self.send("line_instead", line.pk, offer=f"helper:{helper.pk}")

    def issue(self) -> PlanVersion:
        """Confirm what the model can't check, and issue from today."""
        page = self.page("draft")
        sent = dict(
            re.findall(r'name="(confirm[^"]*)"[^>]*value="([^"]*)"', page)
            or [(name, "on") for name in re.findall(r'name="(confirm[^"]*)"', page)]
        )
        limit = re.search(r'name="pain_limit" value="(\d+)"', page)[1]
        answer = self.send(
            "draft_issue",
            effective_day=TODAY.isoformat(),
            pain_limit=limit,
            seen_edits=str(self.draft.edits),
            **sent,
        )
        assert open_version(self.patient) is None, answer
        return self.issued

    def sheet(self, **query: str) -> bytes:
        """Return the sheet of the plan issued last as a PDF."""
        answer = self.client.get(self.url("sheet", self.issued.pk), query)
        assert answer["Content-Type"] == "application/pdf"
        return answer.content

    @property
    def draft(self) -> PlanVersion:
        return open_version(self.patient)

    @property
    def issued(self) -> PlanVersion:
        return versions_of(self.patient).first()
