"""Setting a database up, from the command."""

from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from clinic.models import AuditRow, ClinicProfile, Role, User
from plans.management.commands import setup
from plans.models import ExerciseRevision
from plans.queries import current_revisions

PASSWORD = "a long walk home"


@pytest.fixture
def password_file(tmp_path):
    file = tmp_path / "password"
    file.write_text(PASSWORD + "\n")
    return file


def run(*words):
    out = StringIO()
    call_command("setup", *words, stdout=out, stderr=out)
    return out.getvalue()


@pytest.mark.django_db
def test_it_stocks_the_catalogue_and_adds_the_first_administrator(password_file):
    said = run("--administrator", "keeper", "--password-file", str(password_file))
    keeper = User.objects.get(username="keeper")
    assert keeper.role == Role.ADMINISTRATOR
    assert keeper.check_password(PASSWORD)
    assert ClinicProfile.objects.get().is_demo is False
    assert current_revisions().count() >= 24
    assert "Administrator: keeper added." in said
    assert AuditRow.objects.filter(verb="added staff", subject="keeper").exists()


@pytest.mark.django_db
def test_repeating_it_changes_nothing(password_file):
    run("--administrator", "keeper", "--password-file", str(password_file))
    before = (ExerciseRevision.objects.count(), AuditRow.objects.count(), User.objects.count())
    said = run("--administrator", "another", "--password-file", str(password_file))
    assert before == (
        ExerciseRevision.objects.count(),
        AuditRow.objects.count(),
        User.objects.count(),
    )
    assert "there is one already" in said


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("name", "password", "sentence"),
    [
        ("keeper", "short", "at least 12 characters"),
        ("keeper-kestrel", "keeper-kestrel-1", "too similar"),
        ("The Keeper", PASSWORD, "small letters"),
    ],
)
def test_a_weak_password_or_a_wrong_name_adds_nobody(password_file, name, password, sentence):
    password_file.write_text(password)
    with pytest.raises(CommandError, match=sentence):
        run("--administrator", name, "--password-file", str(password_file))
    assert not User.objects.exists()


@pytest.mark.django_db
def test_away_from_a_terminal_it_prepares_all_else_and_says_what_is_missing(monkeypatch):
    monkeypatch.setattr(setup.sys, "stdin", StringIO())
    with pytest.raises(CommandError, match="no administrator yet"):
        run()
    assert current_revisions().exists()
    assert not User.objects.exists()


@pytest.mark.django_db
def test_at_a_terminal_it_asks_again_until_the_account_can_be_made(monkeypatch):
    class Terminal(StringIO):
        def isatty(self):
            return True

    asked = iter(["keeper", "Keeper Kestrel", "keeper", "Keeper Kestrel", "keeper", "Keeper Kite"])
    passwords = iter([PASSWORD, "another", "short", "short", PASSWORD, PASSWORD])
    monkeypatch.setattr(setup.sys, "stdin", Terminal())
    monkeypatch.setattr("builtins.input", lambda _: next(asked))
    monkeypatch.setattr(setup.getpass, "getpass", lambda _: next(passwords))
    said = run()
    assert User.objects.get().name == "Keeper Kite"
    assert "differ" in said
    assert "at least 12 characters" in said


def test_half_of_the_two_options_is_refused():
    with pytest.raises(CommandError, match="both --administrator and --password-file"):
        run("--administrator", "keeper")


@pytest.mark.django_db
def test_a_password_file_that_is_not_there_is_refused(tmp_path):
    with pytest.raises(CommandError, match="Can't read the password file"):
        run("--administrator", "keeper", "--password-file", str(tmp_path / "none"))
