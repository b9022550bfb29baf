"""Taking a diary file in: whole or not at all, safe to repeat, corrections on record."""

from datetime import date, timedelta

import pytest
from django.core.management import CommandError, call_command

from clinic.models import AuditRow
from logs.actions import Performed, Told, record_revision
from logs.diary_file import entry_uuid
from logs.models import Entry, HeardDay, Performance, Revision
from patients.models import Patient
from tests.world import FIRST_DAY, FIXTURES, PatientFactory, issue

HEADER = "clinic_number,day,occasion,line_key,sets_done,amounts,pain_worst,note,source,load_kg"
LIFT, BEND = "arm_lift_forward_lying-left", "elbow_bend_sitting-left"
ROW = f"H-100,2026-03-02,1,{LIFT},2,8 8,4,,paper,"
TODAY = "2026-03-20"


@pytest.fixture
def run(tmp_path, capsys):
    """Import rows; return the exit code, the output and the errors without the file's name."""
    file = tmp_path / "diary.csv"

    def imported(*rows, header=HEADER, today=TODAY):
        file.write_text("\n".join([header, *rows]) + "\n")
        try:
            call_command("import_diary", str(file), "--today", today)
            code = 0
        except SystemExit as stopped:
            code = stopped.code
        output = capsys.readouterr()
        return code, output.out.strip(), output.err.replace(f"{file}:", "").splitlines()

    return imported


def counts():
    return (
        Entry.objects.count(),
        Revision.objects.count(),
        HeardDay.objects.count(),
        AuditRow.objects.count(),
    )


def test_rows_are_stored_as_entries_and_mark_their_day_heard(world, run):
    code, out, _ = run(ROW, f"H-100,2026-03-02,1,{BEND},1,8,,,paper,1.5")
    assert (code, out) == (
        0,
        "Entries: 1 stored, 0 corrected, 0 as they were. Days marked heard: 1.",
    )
    revision = Revision.objects.get()
    assert revision.entry_id == entry_uuid("H-100", FIRST_DAY, 1, "paper")
    assert (revision.version, revision.pain_worst, revision.source) == (world.version, 4, "paper")
    done = Performance.objects.values_list("line__key", "amounts", "load_g", "is_confirmed")
    assert list(done) == [(LIFT, [8, 8], None, True), (BEND, [8], 1500, True)]
    assert list(HeardDay.objects.values_list("day", "source")) == [(FIRST_DAY, "paper")]
    assert AuditRow.objects.filter(actor="import_diary", patient=world.patient.pk).count() == 2


def test_the_same_file_again_changes_nothing_and_says_so(world, run):
    rows = [ROW, f"H-100,2026-03-03,,{BEND},1,8,,,telephone,", "H-100,2026-03-04,,,0,,,,paper,"]
    run(*rows)
    before = counts()
    code, out, _ = run(*rows)
    assert code == 0
    assert out.endswith("Nothing changed.")
    assert counts() == before


def test_a_changed_repeat_is_a_correction(world, run):
    run(ROW)
    code, out, _ = run(ROW.replace("8 8", "8 6"))
    assert (code, out.split(" Days")[0]) == (
        0,
        "Entries: 0 stored, 1 corrected, 0 as they were.",
    )
    revisions = list(Revision.objects.order_by("received_at"))
    assert [revision.is_current for revision in revisions] == [False, True]
    assert revisions[1].replaces == revisions[0].pk
    # Back to the first words: said anew, so they count again.
    run(ROW)
    current = Revision.objects.get(is_current=True)
    assert list(current.performances.values_list("amounts", flat=True)) == [[8, 8]]
    assert Revision.objects.count() == 3


def test_a_repeat_leaves_a_persons_correction_alone(world, run):
    run(ROW)
    first = Revision.objects.get()
    line = world.version.lines.get(key=LIFT)
    told = Told(FIRST_DAY, 1, "paper", world.version, (Performed(line, (8, 5)),))
    record_revision(
        patient=world.patient,
        entry=first.entry_id,
        revision=entry_uuid("a", FIRST_DAY, 1, "correction"),
        replaces=first.pk,
        told=told,
        user=world.therapist,
    )
    code, out, _ = run(ROW)
    assert code == 0
    assert "1 were corrected by a person since and stay so. Nothing changed." in out
    assert Revision.objects.get(is_current=True).recorded_by == world.therapist


def test_a_row_of_0_sets_marks_the_day_heard_and_makes_no_entry(world, run):
    run("H-100,2026-03-02,,,0,,,,paper,", f"H-100,2026-03-03,1,{LIFT},0,,,,telephone,")
    assert counts()[:3] == (0, 0, 2)


def test_pain_on_a_day_with_nothing_done_is_kept(world, run):
    run("H-100,2026-03-02,1,,0,,6,too sore,paper,")
    revision = Revision.objects.get()
    assert (revision.pain_worst, revision.note) == (6, "too sore")
    assert not revision.performances.exists()


def test_a_session_corrected_to_nothing_stays_on_record(world, run):
    run(ROW)
    run("H-100,2026-03-02,1,,0,,,,paper,")
    current = Revision.objects.get(is_current=True)
    assert (current.pain_worst, current.performances.count()) == (None, 0)
    assert Revision.objects.count() == 2


def test_phone_rows_mark_no_day(world, run):
    run(ROW.replace("paper", "phone"))
    assert counts()[:3] == (1, 1, 0)


def test_a_day_that_is_not_over_is_not_marked_yet(world, run):
    code, out, _ = run(ROW, today="2026-03-02")
    assert (code, HeardDay.objects.count()) == (0, 0)
    assert "1 not marked heard" in out
    run(ROW, today="2026-03-03")
    assert HeardDay.objects.count() == 1


def test_a_line_of_an_earlier_version_still_counts(world, run):
    later = issue(
        world.patient,
        world.therapist,
        FIRST_DAY + timedelta(7),
        [{"exercise": "arm_lift_forward_lying", "sets": 3}],
    )
    code, _, _ = run(
        f"H-100,2026-03-09,1,{LIFT},2,8 8,,,paper,",
        f"H-100,2026-03-09,1,{BEND},1,8,,,paper,",
        f"H-100,2026-03-09,2,{BEND},1,8,,,paper,",
    )
    assert code == 0
    first, second = Revision.objects.order_by("occasion")
    assert list(first.performances.values_list("line__version__number", flat=True)) == [2, 1]
    assert first.version == later
    assert second.version == world.version


@pytest.mark.parametrize(
    ("row", "column", "words"),
    [
        (f"H-999,2026-03-02,1,{LIFT},1,8,,,,", 1, "no patient here has the number H-999"),
        (f"H-100,2026-03-21,1,{LIFT},1,8,,,,", 7, "is after today, 2026-03-20"),
        ("H-100,2026-03-02,1,wing_lift,1,8,,,,", 20, "has a line 'wing_lift'"),
        (f"H-100,2026-03-01,1,{LIFT},1,8,,,,", 20, "only from 2026-03-02 on"),
        ("H-100,2026-03-02,1,draft_line,1,8,,,,", 20, "has a line 'draft_line'"),
        ("H-100,2026-03-02,1,band,1,8,,,,2", 32, "elastic band, not a weight"),
    ],
)
def test_what_does_not_fit_the_patient_is_refused(world, run, row, column, words):
    from plans.actions import new_draft
    from tests.world import make_line

    issue(
        world.patient,
        world.therapist,
        FIRST_DAY,
        [
            {},
            {"exercise": "elbow_bend_sitting", "key": "band", "load_means": "band"},
        ],
    )
    make_line(new_draft(by=world.therapist, patient=world.patient), key="draft_line")
    before = counts()
    code, out, errors = run(ROW, row)
    assert (code, out) == (1, "")
    assert errors[0].startswith(f"3:{column}: ")
    assert words in errors[0]
    assert errors[-1] == "Nothing was changed."
    assert counts() == before


def test_another_patients_entry_is_not_touched(world, run):
    run(ROW)
    stranger = PatientFactory(clinic_number="H-200")
    issue(stranger, world.therapist)
    uuid = Entry.objects.get().pk
    code, _, errors = run(ROW.replace("H-100", "H-200") + f",{uuid}", header=f"{HEADER},entry_uuid")
    assert code == 1
    assert "another patient" in errors[0]
    assert Entry.objects.get().patient == world.patient


def test_a_file_that_cant_be_read_is_named(world, tmp_path, capsys):
    with pytest.raises(CommandError, match=r"missing\.csv can't be read"):
        call_command("import_diary", str(tmp_path / "missing.csv"))
    file = tmp_path / "latin.csv"
    file.write_bytes(f"{HEADER}\n{ROW[:-6]}café".encode("latin-1"))
    with pytest.raises(SystemExit):
        call_command("import_diary", str(file))
    assert f"{file}:2:" in capsys.readouterr().err


def test_an_unprepared_database_says_what_to_run(world, monkeypatch):
    monkeypatch.setattr("logs.management.commands.import_diary.missing_migrations", lambda: 3)
    with pytest.raises(CommandError, match=r"uv run manage\.py setup"):
        call_command("import_diary", "any.csv")


def test_the_examples_fit_each_other(world, run):
    from plans.catalogue_actions import stock_catalogue
    from tests.world import shipped_exercises

    stock_catalogue(by=None, exercises=list(shipped_exercises().values()))
    call_command("import_plan", str(FIXTURES / "example_plan.json"))
    rows = (FIXTURES / "example_diary.csv").read_text().splitlines()
    code, out, errors = run(*rows[1:], header=rows[0], today="2026-10-05")
    assert (code, errors) == (0, [])
    assert out.endswith("Entries: 17 stored, 0 corrected, 0 as they were. Days marked heard: 12.")
    example = Patient.objects.get(clinic_number="EXAMPLE-7")
    assert Revision.objects.filter(entry__patient=example).earliest("day").day == date(2026, 9, 14)


def test_the_line_that_the_pain_was_named_with_is_kept(world, run):
    header = "clinic_number,day,occasion,line_key,sets_done,amounts,pain_worst,hurt"
    rows = [f"H-100,2026-03-02,1,{LIFT},1,8,4,yes", f"H-100,2026-03-02,1,{BEND},1,8,4,"]
    assert run(*rows, header=header)[0] == 0
    assert list(Performance.objects.values_list("line__key", "hurt")) == [
        (LIFT, True),
        (BEND, None),
    ]
    _, again, _ = run(*rows, header=header)
    assert "1 as they were" in again
    _, changed, _ = run(rows[0].replace("yes", "no"), rows[1], header=header)
    assert "1 corrected" in changed


def test_words_on_lines_are_read_and_stored(world, run):
    issue(
        world.patient,
        world.therapist,
        FIRST_DAY,
        [{"exercise": "arm_lift_forward_lying", "easier_allowed": True}],
    )
    header = f"{HEADER},ended,why,step_done"
    row = f"H-100,2026-03-02,1,{LIFT},1,4,6,,paper,,Stopped,too hard,gravity_reduced"
    assert run(row, header=header)[0] == 0
    done = Performance.objects.get()
    assert (done.ended, done.why, done.step) == ("stopped", "too_hard", "gravity_reduced")
    assert run(row, header=header)[1].startswith("Entries: 0 stored, 0 corrected, 1 as they were.")
    assert run(row.replace("too hard", "pain"), header=header)[1].startswith(
        "Entries: 0 stored, 1 corrected"
    )


@pytest.mark.parametrize(
    ("said", "reason"),
    [
        ("lost,,", "'lost' is no way to end: write skipped, stopped"),
        ("skipped,,", "a line that was skipped has no amounts: say stopped"),
        (",forgot,", "'forgot' is no reason: write pain, too_hard"),
        (",,passive", "this line allows no easier step"),
    ],
)
def test_words_that_cannot_be_said_of_a_line_are_named(world, run, said, reason):
    header = f"{HEADER},ended,why,step_done"
    code, _, errors = run(f"{ROW},{said}", header=header)
    assert code == 1
    assert reason in errors[0]
