"""Starting sets: read strictly, fitted to a patient and never above what they may do."""

import tomllib

import pytest
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from clinic.models import AuditRow
from patients.assessment import Grade
from patients.motions import MOTIONS, Effort, Joint, Side
from patients.precautions import Kind, Limit
from plans.actions import new_draft
from plans.catalogue_actions import stock_catalogue
from plans.line_checks import CheckedLine, line_findings
from plans.models import Line
from plans.safety import step_bounds
from plans.set_fit import fitted
from plans.set_models import StartingSet as StartingSetRow
from plans.set_queries import set_of_version, shipped_sets
from plans.start import MotionState, propose
from plans.start_queries import loads_of, start_rules
from plans.starting_sets import SetError, SetLine, Stage, line_problems, read_set
from tests.plans.test_safety import LIMITED
from tests.plans.test_safety_pages import limit
from tests.plans.test_start_proposals import assess
from tests.world import FIXTURES, make_line, shipped_exercises

HTMX = {"HX-Request": "true", "HX-Target": "lines"}
LIFT = "arm_lift_forward_lying"
LIMITS = st.one_of(
    st.builds(
        Limit,
        st.integers(1, 99),
        st.just(Kind.ANGLE),
        motion=st.sampled_from(LIMITED),
        limit_deg=st.integers(-20, 150),
    ),
    st.builds(
        Limit,
        st.integers(1, 99),
        st.just(Kind.EFFORT),
        joint=st.sampled_from(list(Joint)),
        effort=st.sampled_from(["passive", "self_assisted", "active"]),
    ),
    st.builds(Limit, st.integers(1, 99), st.just(Kind.LOAD), limit_g=st.sampled_from([0, 500])),
    st.builds(
        Limit,
        st.integers(1, 99),
        st.sampled_from([Kind.BEARING, Kind.TRACTION, Kind.ORTHOSIS]),
    ),
)
SHIPPED = {one.key: one for one in shipped_sets()[0]}


def url(name, world, *args):
    return reverse(name, args=[world.patient.pk, *args])


def fit_of(key, states=None, limits=(), **line):
    """One exercise fitted to grades by motion, on the left."""
    exercise = shipped_exercises()[key]
    states = {motion: MotionState(Grade.from_text(said)) for motion, said in (states or {}).items()}
    proposal = propose(
        exercise,
        loads_of(exercise),
        states,
        start_rules(),
        bounds=step_bounds(exercise, limits, Side.LEFT),
    )
    return fitted(SetLine(key, **line), exercise, Side.LEFT, proposal, limits)


class TestReading:
    def test_every_shipped_set_is_read_and_says_that_it_is_an_example(self):
        sets, problems = shipped_sets()
        assert problems == ()
        assert len(sets) == len(list((FIXTURES / "sets").glob("*.toml"))) >= 6
        assert {one.stage for one in sets} == set(Stage)
        assert all(one.is_example and one.source == "common practice, no source" for one in sets)

    @pytest.mark.parametrize("key", SHIPPED)
    def test_a_shipped_set_goes_with_the_catalogue(self, key):
        for line in SHIPPED[key].lines:
            assert line_problems(line, shipped_exercises().get(line.exercise)) == []

    @pytest.mark.parametrize("key", SHIPPED)
    def test_what_is_written_is_what_was_read(self, key):
        one = SHIPPED[key]
        table = {
            "name": one.name,
            "stage": one.stage.value,
            "purpose": one.purpose,
            "source": one.source,
            "lines": [line.as_table() for line in one.lines],
        }
        assert read_set(table, key=key, where="", is_example=True) == one

    def test_every_mistake_is_named(self):
        table = tomllib.loads(
            'name = ""\nstage = "soon"\nsource = "x"\ncolour = "red"\n'
            '[[lines]]\nexercise = "a"\nmost = "strong"\nsets = 0\namount_low = 9\namount_high = 8'
        )
        with pytest.raises(SetError) as refused:
            read_set(table, key="a", where="a.toml")
        words = str(refused.value)
        for field in ("name", "stage", "purpose", "colour", "lines[1].most", "lines[1].sets"):
            assert f"a.toml: a: {field}: " in words
        assert "amount_low: must not be above amount_high" in words

    def test_a_line_that_does_not_go_with_its_exercise_is_named(self):
        lift = shipped_exercises()[LIFT]
        slide = shipped_exercises()["arm_slide_sideways_lying"]
        assert line_problems(SetLine("x"), None) == ["x is not in the catalogue"]
        assert line_problems(SetLine(slide.key, most=Effort.RESISTED), slide)
        assert line_problems(SetLine(LIFT, amount_low=12), lift)
        assert line_problems(SetLine(LIFT, amount_low=12, amount_high=15), lift) == []
        care = shipped_exercises()["scar_care"]
        assert "no hold" in line_problems(SetLine("scar_care", hold_s=5), care)[0]


class TestFitting:
    def test_the_step_is_the_proposed_one_with_its_reason(self):
        found = fit_of(LIFT, {"shoulder_flexion": "2"})
        assert found.step.effort is Effort.GRAVITY_REDUCED
        assert found.reason.startswith("Shoulder flexors 2:")

    def test_it_goes_no_higher_than_the_set(self):
        found = fit_of(LIFT, {"shoulder_flexion": "5"}, most=Effort.SELF_ASSISTED)
        assert found.step.effort is Effort.SELF_ASSISTED
        assert found.reason.endswith("The set goes no higher than self-assisted.")

    def test_without_grades_it_is_the_lowest_step_and_says_so(self):
        found = fit_of(LIFT)
        assert found.step.effort is Effort.PASSIVE
        assert "not graded" in found.reason

    def test_what_a_precaution_bars_stays_out_and_says_why(self):
        passive = Limit(1, Kind.EFFORT, joint=Joint.SHOULDER, effort="passive")
        assert fit_of(LIFT, {"shoulder_flexion": "5"}, [passive]).step.effort is Effort.PASSIVE
        found = fit_of("arm_back_standing", {"shoulder_extension": "5"}, [passive])
        assert found.step is None
        assert "Precaution: shoulder: passive at most" in found.reason

    def test_a_load_that_is_not_allowed_takes_the_step_below(self):
        """The proposal leaves loads to the line; a set must not put one in."""
        no_load = Limit(1, Kind.LOAD, limit_g=0)
        found = fit_of(LIFT, {"shoulder_flexion": "5"}, [no_load])
        assert found.step.effort is Effort.ACTIVE
        assert "Precaution: arm: no load" in found.reason

    def test_a_step_that_asks_first_is_not_put_in(self):
        found = fit_of("grip_squeeze", {"finger_flexion": "3+", "thumb_flexion": "3+"})
        assert found.step.effort is Effort.ACTIVE
        out = fit_of("rotation_out_press", {"shoulder_external_rotation": "3+"})
        assert out.step is None
        assert out.reason

    def test_an_orthosis_that_must_stay_on_stays_on(self):
        found = fit_of(LIFT, {"shoulder_flexion": "5"}, [Limit(1, Kind.ORTHOSIS)])
        assert found.orthosis == "on"
        assert "orthosis stays on" in found.notes[0]

    @given(data=st.data())
    def test_what_is_put_in_breaks_no_hard_limit_and_is_never_forbidden(self, data):
        limits = data.draw(st.lists(LIMITS, max_size=3))
        grades = st.sampled_from(["0", "1", "2", "3-", "3", "3+", "4", "5"])
        states = data.draw(st.dictionaries(st.sampled_from(list(MOTIONS)), grades, max_size=6))
        one = data.draw(st.sampled_from(list(SHIPPED.values())))
        for line in one.lines:
            exercise = shipped_exercises()[line.exercise]
            found = fit_of(line.exercise, states, limits, most=line.most)
            if found.step is None:
                assert found.reason
                continue
            assert line.most is None or found.step.effort <= line.most
            assert found.step.effort not in step_bounds(exercise, limits, Side.LEFT).barred
            motion, at_deg = found.stop or ("", None)
            put = CheckedLine(
                "",
                exercise,
                found.step,
                Side.LEFT,
                orthosis=found.orthosis,
                stop_motion=motion,
                stop_deg=at_deg,
            )
            assert not [each for each in line_findings(put, limits) if each.is_hard]


@pytest.fixture
def draft(world):
    stock_catalogue(by=None, exercises=shipped_exercises().values())
    return new_draft(by=world.therapist, patient=world.patient)


class TestInTheBuilder:
    def test_one_press_fills_the_draft_and_one_takes_it_out(self, as_staff, world, draft):
        assess(world, "2026-03-02", [("shoulder_flexion", "left", "2")])
        client = as_staff(world.therapist)
        page = client.get(url("draft", world)).content.decode()
        assert "Weak arm after a stroke: lying, one hand" in page
        client.post(url("set_put_in", world), {"set": "stroke_lying"})
        lines = {line.revision.exercise.key: line for line in draft.lines.all()}
        assert lines[LIFT].step == "gravity_reduced"
        assert lines[LIFT].side == "left"
        assert lines["rotation_lying"].step == "passive"
        page = client.get(url("draft", world)).content.decode()
        assert "Shoulder flexors 2:" in page
        assert "an example" in page
        assert "Assess the shoulder blade, shoulder and elbow" in page
        row = AuditRow.objects.get(verb="put in starting set")
        assert row.patient == world.patient.pk
        client.post(url("set_take_out", world))
        assert draft.lines.count() == 0
        assert AuditRow.objects.filter(verb="took starting set out").count() == 1

    def test_what_was_there_before_stays(self, as_staff, world, draft):
        kept = make_line(draft, key="kept")
        client = as_staff(world.therapist)
        client.post(url("set_put_in", world), {"set": "stroke_lying"})
        assert draft.lines.count() > 1
        assert draft.lines.order_by("position").first() == kept
        client.post(url("set_take_out", world))
        assert list(draft.lines.all()) == [kept]

    def test_what_stays_out_is_said_in_words(self, as_staff, world, draft):
        limit(world, kind="effort", joint="shoulder", effort="passive")
        client = as_staff(world.therapist)
        sent = {"set": "cuff_repair_strength"}
        answer = client.post(url("set_put_in", world), sent, headers=HTMX)
        page = " ".join(answer.content.decode().split())
        assert "left out" in page
        assert "Precaution: left shoulder: passive at most" in page
        steps = set(draft.lines.values_list("step", flat=True))
        assert steps <= {"passive"}

    def test_the_doses_of_the_set_are_kept(self, as_staff, world, draft):
        grades = [
            ("shoulder_blade_retraction", "left", "5"),
            ("shoulder_extension", "left", "5"),
            ("elbow_flexion", "left", "5"),
        ]
        assess(world, "2026-03-02", grades)
        as_staff(world.therapist).post(url("set_put_in", world), {"set": "cuff_repair_strength"})
        line = draft.lines.get(revision__exercise__key="row_pull")
        assert (line.sets, line.sessions_per_day, line.weekday_set) == (2, 1, {0, 2, 4})
        assert line.step == "resisted"
        assert line.load_means == "band"

    def test_the_same_queries_however_long_the_set(
        self, as_staff, world, draft, django_assert_num_queries, django_assert_max_num_queries
    ):
        client = as_staff(world.therapist)
        client.post(url("set_put_in", world), {"set": "stroke_lying"})
        one = StartingSetRow.objects.create(
            key="short",
            name="Short",
            stage="early",
            purpose="x",
            source="x",
            lines=[{"exercise": LIFT}],
            changed_at=world.version.issued_at,
        )
        with django_assert_max_num_queries(40) as short:
            client.post(url("set_put_in", world), {"set": one.key})
        with django_assert_num_queries(len(short.captured_queries)):
            client.post(url("set_put_in", world), {"set": "stroke_table"})

    def test_a_retired_set_is_not_put_in(self, as_staff, world, draft):
        client = as_staff(world.therapist)
        client.post(reverse("set_retire", args=["stroke_lying"]))
        page = client.post(url("set_put_in", world), {"set": "stroke_lying"}, follow=True)
        assert "no longer in use" in page.content.decode()
        assert draft.lines.count() == 0

    def test_an_outsider_finds_nothing(self, as_staff, world, draft):
        client = as_staff(world.outsider)
        assert client.post(url("set_put_in", world), {"set": "stroke_lying"}).status_code == 404
        assert client.post(url("set_take_out", world)).status_code == 404
        address = url("set_from_version", world, world.version.pk)
        assert client.get(address).status_code == 404


def typed(one, **changes):
    """What the form sends of a set."""
    sent = {
        "name": one.name,
        "stage": one.stage.value,
        "purpose": one.purpose,
        "source": one.source,
        "lines-TOTAL_FORMS": len(one.lines) + 1,
        "lines-INITIAL_FORMS": 0,
    }
    for number, line in enumerate(one.lines):
        sent[f"lines-{number}-place"] = number + 1
        sent[f"lines-{number}-exercise"] = line.exercise
        sent[f"lines-{number}-most"] = line.most.key if line.most else ""
        for name, value in line.dose.items():
            sent[f"lines-{number}-{name}"] = value
        sent[f"lines-{number}-days"] = sorted(line.weekdays)
    return sent | changes


@pytest.fixture
def stocked(world):
    stock_catalogue(by=None, exercises=shipped_exercises().values())
    return world


class TestTheScreen:
    def test_everyone_who_treats_sees_the_sets(self, as_staff, stocked):
        page = as_staff(stocked.student).get(reverse("sets")).content.decode()
        assert "Stiff shoulder" in page
        assert "Make a set" not in page

    def test_a_set_is_made(self, as_staff, stocked):
        client = as_staff(stocked.therapist)
        sent = typed(SHIPPED["cuff_repair_strength"], name="Ours, late")
        assert client.post(reverse("set_new"), sent)["Location"] == reverse("sets")
        row = StartingSetRow.objects.get(key="ours_late")
        assert row.lines == [ln.as_table() for ln in SHIPPED["cuff_repair_strength"].lines]
        assert AuditRow.objects.get(verb="made starting set").subject == "ours_late"
        again = client.post(reverse("set_new"), sent)
        assert again.status_code == 422
        assert "There is a set ours_late already" in again.content.decode()

    def test_changing_an_example_makes_it_the_clinics_own(self, as_staff, stocked):
        client = as_staff(stocked.therapist)
        address = reverse("set_edit", args=["stroke_lying"])
        assert "This is an example" in client.get(address).content.decode()
        sent = typed(SHIPPED["stroke_lying"], name="Ours, lying", seen_edits=0)
        client.post(address, sent)
        found = client.get(reverse("sets")).context["sets"]
        keys = [shown.one.key for shown in found]
        assert keys.count("stroke_lying") == 1
        assert not next(s.one for s in found if s.one.key == "stroke_lying").is_example
        late = client.post(address, sent)
        assert late.status_code == 422
        assert "Somebody else changed this set" in late.content.decode()

    def test_places_put_the_lines_in_order_and_an_empty_one_is_gone(self, as_staff, stocked):
        one = SHIPPED["stroke_lying"]
        changes = {"lines-0-place": 9, "lines-1-exercise": "", "name": "Turned"}
        as_staff(stocked.therapist).post(reverse("set_new"), typed(one, **changes))
        keys = [line["exercise"] for line in StartingSetRow.objects.get(key="turned").lines]
        assert keys == [ln.exercise for ln in one.lines[2:]] + [one.lines[0].exercise]

    def test_what_can_not_be_is_said_and_what_was_typed_is_kept(self, as_staff, stocked):
        one = SHIPPED["stroke_lying"]
        client = as_staff(stocked.therapist)
        wrong = client.post(reverse("set_new"), typed(one, **{"lines-2-most": "resisted"}))
        assert wrong.status_code == 422
        assert "has no resisted step" in wrong.content.decode()
        assert one.purpose in wrong.content.decode()
        none = {f"lines-{number}-exercise": "" for number in range(len(one.lines))}
        assert (
            "A set has 1 to 20"
            in client.post(reverse("set_new"), typed(one, **none)).content.decode()
        )

    def test_a_set_goes_out_of_use_and_back(self, as_staff, stocked):
        client = as_staff(stocked.supervisor)
        address = reverse("set_retire", args=["stiff_shoulder"])
        client.post(address)
        page = client.get(reverse("sets"))
        assert [s.one.key for s in page.context["retired"]] == ["stiff_shoulder"]
        client.post(address, {"back": "1"})
        assert client.get(reverse("sets")).context["retired"] == []
        assert AuditRow.objects.filter(verb__contains="starting set").count() == 2

    def test_a_student_writes_none(self, as_staff, stocked):
        client = as_staff(stocked.student)
        assert client.get(reverse("set_new")).status_code == 403
        client.post(reverse("set_retire", args=["stiff_shoulder"]))
        assert StartingSetRow.objects.count() == 0

    def test_a_patients_version_becomes_a_set_without_their_words(self, as_staff, stocked):
        draft = new_draft(by=stocked.therapist, patient=stocked.patient)
        make_line(draft, key="a", sets=3, weekdays=0b0010101, note_patient="Fern, slow")
        one = set_of_version(draft)
        assert one.lines == (
            SetLine(LIFT, most=Effort.ACTIVE, sets=3, weekdays=frozenset({0, 2, 4})),
        )
        client = as_staff(stocked.therapist)
        page = client.get(url("set_from_version", stocked, stocked.version.pk)).content.decode()
        assert "Fern" not in page.split("<main", 1)[1]
        sent = typed(one, name="From a plan", purpose="x")
        client.post(url("set_from_version", stocked, stocked.version.pk), sent)
        assert Line.objects.filter(version=draft).count() == 1
        assert StartingSetRow.objects.get(key="from_a_plan").lines[0]["sets"] == 3
