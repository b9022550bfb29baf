"""The commands import_plan and export_plan: what they add, leave alone and refuse."""

import json
from datetime import date
from io import StringIO

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError

from clinic.models import AuditRow
from patients.models import Patient
from plans.actions import issue_version, start_draft, strike_pause
from plans.catalogue import read_exercise
from plans.catalogue_actions import add_revision
from plans.models import Line, Pause, PlanVersion
from tests.plans.plan_files import by_hand
from tests.world import FIXTURES, UserFactory, shipped_exercises, stock

pytestmark = pytest.mark.django_db


@pytest.fixture
def file(tmp_path):
    """Return a function that writes a document, or text, and returns the file."""

    def write(document):
        path = tmp_path / "plan.json"
        text = document if isinstance(document, str) else json.dumps(document, indent=1)
        path.write_text(text, encoding="utf-8")
        return path

    return write


@pytest.fixture
def _catalogue(db):
    stock("arm_lift_forward_lying", "elbow_bend_sitting", "full_fist")


def run(path):
    """Return what the command wrote to standard output."""
    out = StringIO()
    call_command("import_plan", str(path), stdout=out)
    return out.getvalue()


def refusal(path):
    """Return the lines of a refusal, the file's own name taken off."""
    counts = [model.objects.count() for model in (Patient, PlanVersion, Line, Pause, AuditRow)]
    out, errors = StringIO(), StringIO()
    with pytest.raises(SystemExit) as stopped:
        call_command("import_plan", str(path), stdout=out, stderr=errors)
    assert stopped.value.code == 1
    assert out.getvalue() == ""
    assert counts == [
        model.objects.count() for model in (Patient, PlanVersion, Line, Pause, AuditRow)
    ]
    *lines, last = errors.getvalue().splitlines()
    assert last == "Nothing was imported."
    return [line.removeprefix(f"{path}:") for line in lines]


def exported(number):
    out = StringIO()
    call_command("export_plan", number, stdout=out, stderr=StringIO())
    return json.loads(out.getvalue())


def later(document, **line):
    """Return the document with a second version of one line."""
    document["versions"].append(
        {
            "number": 2,
            "effective_day": "2026-04-06",
            "lines": [{"exercise": "full_fist", "step": "active", **line}],
        }
    )
    return document


@pytest.mark.usefixtures("_catalogue")
class TestImport:
    def test_a_new_patient_comes_with_versions_and_pauses(self, file):
        told = run(file(later(by_hand())))
        assert told.splitlines() == [
            "Added patient PF-1.",
            "Added version 1 from 2026-03-02, 2 lines.",
            "Added version 2 from 2026-04-06, 1 line.",
            "Added pause from 2026-03-10 to 2026-03-12.",
            "Note: nobody is in the care team yet.",
        ]
        patient = Patient.objects.get(clinic_number="PF-1")
        first, second = patient.plan_versions.order_by("number")
        assert (first.state, first.issuer, first.issued_by) == ("issued", "import", None)
        assert first.effective_day == date(2026, 3, 2)
        assert [line.key for line in first.lines.all()] == [
            "arm_lift_forward_lying-right",
            "elbow_bend_sitting-right",
        ]
        assert second.number == 2
        assert patient.pauses.get().reason == "a cold"

    def test_everything_added_is_on_the_record(self, file):
        run(file(by_hand()))
        rows = AuditRow.objects.filter(actor="import").order_by("pk")
        assert [row.verb for row in rows] == ["added patient", "issued plan", "paused plan"]

    def test_the_care_team_named_in_the_file_may_open_the_patient(self, file):
        UserFactory(username="ada")
        document = by_hand()
        document["patient"]["care_team"] = ["ada"]
        assert "care team" not in run(file(document))
        assert exported("PF-1")["patient"]["care_team"] == ["ada"]

    def test_someone_unknown_in_the_care_team_is_refused(self, file):
        UserFactory(username="root", role="administrator")
        document = by_hand()
        document["patient"]["care_team"] = ["nobody", "root"]
        assert [line.partition(": ")[2] for line in refusal(file(document))] == [
            'care_team: "nobody" is not an active member of staff who treats patients here',
            'care_team: "root" is not an active member of staff who treats patients here',
        ]

    def test_the_same_file_again_changes_nothing(self, file):
        path = file(by_hand())
        run(path)
        rows = AuditRow.objects.count()
        assert run(path) == "Nothing to add: all of this is here already for patient PF-1.\n"
        assert AuditRow.objects.count() == rows
        assert Line.objects.count() == 2

    def test_the_same_file_means_the_same_after_the_catalogue_has_changed(self, file):
        path = file(by_hand())
        run(path)
        table = shipped_exercises()["arm_lift_forward_lying"].as_table()
        table["dose"]["sets"] = 5
        add_revision(by=None, exercise=read_exercise(table, where="test"))
        assert run(path).startswith("Nothing to add")

    def test_a_later_version_is_added_to_those_that_are_here(self, file):
        run(file(by_hand()))
        assert run(file(later(by_hand()))) == "Added version 2 from 2026-04-06, 1 line.\n"

    def test_an_issued_version_that_differs_is_refused_with_what_differs(self, file):
        run(file(by_hand()))
        document = by_hand(sets=7)
        document["versions"][0]["pain_limit"] = 9
        del document["versions"][0]["lines"][1]
        rule = "version 1 is issued and never changes; put changes in a new version"
        assert refusal(file(document)) == [
            f'12:13: lines: line "elbow_bend_sitting-right" is missing: {rule}',
            f'16:14: sets: line "arm_lift_forward_lying-right" was issued with 1: {rule}',
            f"19:18: pain_limit: was issued as 5: {rule}",
        ]

    def test_another_order_of_lines_is_a_difference(self, file):
        run(file(by_hand()))
        document = by_hand()
        document["versions"][0]["lines"].reverse()
        [problem] = refusal(file(document))
        assert "the order was arm_lift_forward_lying-right, elbow_bend_sitting-right" in problem

    def test_a_version_before_those_that_are_here_is_refused(self, file):
        document = later(by_hand())
        document["versions"][0]["number"] = 4
        del document["versions"][1]
        run(file(document))
        [problem] = refusal(file(later(by_hand()) | {"versions": later(by_hand())["versions"][1:]}))
        assert problem.endswith("version 4 is here already, and new versions come after it")

    def test_nothing_is_added_beside_a_version_being_made(self, file):
        run(file(by_hand()))
        patient = Patient.objects.get()
        start_draft(by=None, patient=patient, today=date(2026, 5, 1))
        [problem] = refusal(file(later(by_hand())))
        assert "version 2 is being made here" in problem

    def test_a_key_that_is_here_for_something_else_is_refused(self, file):
        run(file(by_hand()))
        document = later(by_hand(), key="elbow_bend_sitting-right")
        del document["versions"][0]
        [problem] = refusal(file(document))
        assert "is here already for another exercise, side or unit" in problem

    @pytest.mark.parametrize(
        ("name", "other"),
        [("name", "Someone Else"), ("birth_date", "1950-02-04"), ("affected_side", "left")],
    )
    def test_a_plan_never_goes_to_someone_else_by_a_mistyped_number(self, file, name, other):
        run(file(by_hand()))
        document = later(by_hand(side="right"))
        document["versions"][0]["lines"][1]["side"] = "right"
        document["patient"][name] = other
        [problem] = refusal(file(document))
        assert "check the clinic number" in problem

    def test_other_details_of_a_patient_who_is_here_are_kept_and_said(self, file):
        run(file(by_hand()))
        document = by_hand()
        document["patient"] |= {"text_size": "large", "stature_cm": 170}
        told = run(file(document))
        assert 'Note: patient PF-1: text_size stays "normal".' in told
        assert "Note: patient PF-1: stature_cm stays None." in told
        assert Patient.objects.get().text_size == "normal"

    def test_a_pause_that_ended_otherwise_here_is_refused(self, file):
        document = by_hand()
        document["pauses"][0]["last_day"] = None
        run(file(document))
        Pause.objects.update(last_day=date(2026, 3, 11))
        [problem] = refusal(file(document))
        assert "a pause from 2026-03-10 until 2026-03-11 is here" in problem

    def test_a_pause_that_was_struck_out_stays_struck_out(self, file):
        run(file(by_hand()))
        strike_pause(by=UserFactory(), pause=Pause.objects.get(), reason="wrong patient")
        told = run(file(by_hand()))
        assert "Note: the pause from 2026-03-10 stays struck out." in told
        assert Pause.objects.count() == 1

    def test_a_version_without_lines_ends_the_plan(self, file):
        document = later(by_hand())
        document["versions"][1]["lines"] = []
        assert "version 2 from 2026-04-06, 0 lines" in run(file(document))

    def test_problems_are_named_by_file_line_and_column(self, file):
        text = '{"patient": {"clinic_number": "A",\n  "nmae": "B"},\n "versions": []}'
        assert refusal(file(text)) == [
            "1:13: affected_side: is missing",
            "1:13: birth_date: is missing",
            "1:13: name: is missing",
            "2:3: nmae: is not known here; did you mean name?",
        ]

    def test_a_slip_in_the_json_is_named_likewise(self, file):
        assert refusal(file('{"patient": {},\n "versions": [],}')) == [
            "2:17: expected a key in double quotes: take out the comma before"
        ]

    @pytest.mark.parametrize("text", ["[]", "3", '"plan"', "null"])
    def test_a_file_that_is_no_table_is_refused(self, file, text):
        [problem] = refusal(file(text))
        assert problem.startswith("1:1: must be a table in { }, not ")

    def test_the_example_is_taken_and_comes_back(self, file):
        told = run(FIXTURES / "example_plan.json")
        example = json.loads((FIXTURES / "example_plan.json").read_text())
        number = example["patient"]["clinic_number"]
        assert told.count("Added version") == 2
        assert "Added pause" in told
        whole = exported(number)
        for given, written in zip(example["versions"], whole["versions"], strict=True):
            for line, full in zip(given["lines"], written["lines"], strict=True):
                assert {name: full[name] for name in line} == line
        assert run(file(whole)).startswith("Nothing to add")


@pytest.mark.usefixtures("_catalogue")
class TestExport:
    def test_a_draft_is_left_out_and_said(self, file):
        run(file(by_hand()))
        start_draft(by=None, patient=Patient.objects.get(), today=date(2026, 5, 1))
        out, errors = StringIO(), StringIO()
        call_command("export_plan", "PF-1", stdout=out, stderr=errors)
        assert [v["number"] for v in json.loads(out.getvalue())["versions"]] == [1]
        assert errors.getvalue() == "Left out: version 2, which is not issued.\n"

    def test_a_plan_made_by_a_therapist_is_written_and_read_elsewhere(self, world, file):
        draft = start_draft(by=world.therapist, patient=world.patient, today=date(2026, 5, 1))
        issue_version(
            by=world.therapist,
            version=draft,
            today=date(2026, 5, 1),
            effective_day=date(2026, 5, 2),
            pain_limit=3,
        )
        document = exported("H-100")
        document["patient"] |= {"clinic_number": "H-200", "care_team": []}
        run(file(document))
        again = exported("H-200")
        assert again == document

    def test_an_unknown_number_is_said(self):
        with pytest.raises(CommandError, match="No patient has the clinic number Z-9"):
            call_command("export_plan", "Z-9")


def test_without_a_catalogue_the_command_says_what_to_run(file):
    with pytest.raises(CommandError, match=r"uv run manage\.py setup"):
        call_command("import_plan", str(file(by_hand())))


@pytest.mark.parametrize("command", [("import_plan", "plan.json"), ("export_plan", "PF-1")])
def test_without_a_database_the_command_says_what_to_run(command, file, monkeypatch):
    name, argument = command
    monkeypatch.setattr(f"plans.management.commands.{name}.missing_migrations", lambda: 3)
    with pytest.raises(CommandError, match=r"uv run manage\.py setup"):
        call_command(name, str(file(by_hand())) if name == "import_plan" else argument)


def test_a_file_that_is_not_there_is_said():
    with pytest.raises(CommandError, match=r"none\.json can't be read: No such file"):
        call_command("import_plan", "none.json")
