"""Factories, and the small world that page tests share: a care team, an outsider, a plan."""

from dataclasses import dataclass, replace
from datetime import date
from functools import cache
from pathlib import Path

import factory
from django.utils import timezone

from clinic.models import ClinicProfile, Role, User
from patients.models import CareTeamMember, Episode, Patient
from patients.motions import Effort
from plans import catalogue
from plans.actions import new_draft, put_in_force, usual_line
from plans.catalogue_actions import stock_catalogue
from plans.models import ExerciseRevision, Line, PlanVersion
from plans.queries import current_revision

FIXTURES = Path(__file__).resolve().parent.parent / "fixtures"
PASSWORD = "lantern-orchard-17"
FIRST_DAY = date(2026, 3, 2)  # a Monday, long past: every day of the plan can have been heard
EXERCISES = ("arm_lift_forward_lying", "elbow_bend_sitting")


class UserFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = User
        skip_postgeneration_save = True

    username = factory.Sequence(lambda n: f"staff{n}")
    name = factory.Sequence(lambda n: f"Person Number {n}")
    role = Role.THERAPIST

    @factory.post_generation
    def password(self, create, extracted, **kwargs):
        self.set_password(extracted or PASSWORD)
        if create:
            self.save()


class PatientFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = Patient

    clinic_number = factory.Sequence(lambda n: f"T{n:04}")
    name = factory.Sequence(lambda n: f"Patient Number {n}")
    birth_date = date(1961, 5, 17)
    affected_side = "left"


class EpisodeFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = Episode

    patient = factory.SubFactory(PatientFactory)
    diagnosis = "Weak left arm after a stroke"
    opened_day = FIRST_DAY


@cache
def shipped_exercises() -> dict[str, catalogue.Exercise]:
    """Every exercise that we ship, by key."""
    folder = FIXTURES / "exercises"
    return {e.key: e for e in catalogue.read_folder(folder)}


def stock(*keys: str) -> None:
    """Put exercises that we ship into the test's database."""
    shipped = shipped_exercises()
    stock_catalogue(by=None, exercises=[shipped[key] for key in keys or EXERCISES])


def without_arabic(exercise: catalogue.Exercise) -> catalogue.Exercise:
    """Return an exercise as a clinic may have written it: in English and Spanish only."""

    def kept(words_in):
        return {code: words for code, words in words_in.items() if code != "ar"}

    steps = tuple(replace(step, words_in=kept(step.words_in)) for step in exercise.steps)
    return replace(exercise, words_in=kept(exercise.words_in), steps=steps)


def revision_of(key: str) -> ExerciseRevision:
    """Return an exercise's newest revision, stocking it first where it is not there."""
    revision = current_revision(key)
    if revision is None:
        stock(key)
        revision = current_revision(key)
    return revision


def join(patient: Patient, user: User) -> None:
    """Put someone into a care team."""
    CareTeamMember.objects.create(patient=patient, user=user, since=timezone.now())


def make_line(version: PlanVersion, exercise: str = EXERCISES[0], **fields) -> Line:
    """Add a line on the active step with the usual dose, changed by ``fields``, to a draft."""
    line = usual_line(
        revision=revision_of(exercise), effort=Effort.ACTIVE, side=version.patient.affected_side
    )
    line.version = version
    line.key = fields.pop("key", f"{exercise}-{line.side}")
    line.position = version.lines.count()
    for name, value in fields.items():
        setattr(line, name, value)
    line.save()
    return line


def issue(patient: Patient, by: User, day: date = FIRST_DAY, lines=None) -> PlanVersion:
    """Put a version in force from a day; ``lines`` are fields of :func:`make_line`, one a line."""
    draft = new_draft(by=by, patient=patient)
    for fields in lines if lines is not None else [{"exercise": key} for key in EXERCISES]:
        make_line(draft, **fields)
    return put_in_force(by=by, version=draft, effective_day=day, pain_limit=4)


@dataclass
class World:
    """A clinic with one patient in care. The outsider is staff, but not in the care team."""

    therapist: User
    student: User
    supervisor: User
    administrator: User
    outsider: User
    patient: Patient
    episode: Episode
    version: PlanVersion


def make_world() -> World:
    """Build the world: a catalogue of two exercises, a plan of two lines from FIRST_DAY."""
    ClinicProfile.objects.get_or_create(
        pk=1, defaults={"name": "Harbour Lane Clinic", "telephone": "01632 960100"}
    )
    stock()
    therapist = UserFactory(username="therapist", name="Thea Therapist")
    student = UserFactory(username="student", name="Stu Student", role=Role.STUDENT)
    supervisor = UserFactory(username="supervisor", name="Sue Supervisor", role=Role.SUPERVISOR)
    administrator = UserFactory(username="admin", name="Ada Admin", role=Role.ADMINISTRATOR)
    outsider = UserFactory(username="outsider", name="Otto Outsider")
    patient = PatientFactory(clinic_number="H-100", name="Fern Quill")
    join(patient, therapist)
    join(patient, student)
    return World(
        therapist=therapist,
        student=student,
        supervisor=supervisor,
        administrator=administrator,
        outsider=outsider,
        patient=patient,
        episode=EpisodeFactory(patient=patient),
        version=issue(patient, therapist),
    )
