"""The house itself: what ships matches the models, the docs and the scripts it names."""

import re
from pathlib import Path

from django.apps import apps
from django.core.management import call_command
from django.template.loader import get_template

ROOT = Path(__file__).resolve().parent.parent
OURS = ("clinic", "patients", "plans", "logs")
FORBIDDEN = (
    r"<script(?![^>]*\b(src|type=\"application/json\"))",
    r"\sstyle=",
    r"<style",
    r"\son\w+=",
    r"\|safe\b",
    r"https?://(?!www\.w3\.org)",
)


def test_every_model_change_has_its_migration(db):
    call_command("makemigrations", check=True, dry_run=True, verbosity=0)


def test_no_migration_has_a_name_made_up_by_a_tool():
    names = [path.stem for app in OURS for path in (ROOT / app / "migrations").glob("0*.py")]
    assert names
    assert [name for name in names if "auto" in name] == []


def test_every_template_compiles():
    for app in OURS:
        folder = ROOT / app / "templates"
        for path in folder.rglob("*.html"):
            get_template(str(path.relative_to(folder)))


def test_templates_have_no_inline_script_style_or_unsafe_output():
    wrong = []
    for app in OURS:
        for path in (ROOT / app / "templates").rglob("*.html"):
            text = path.read_text()
            wrong += [(path.name, pattern) for pattern in FORBIDDEN if re.search(pattern, text)]
    assert wrong == []


def test_the_readme_lists_every_setting():
    readme = (ROOT / "README.md").read_text()
    settings = (ROOT / "clinic" / "settings.py").read_text()
    names = set(re.findall(r"\b(HANDRAIL_[A-Z_]+|DATABASE_URL)\b", settings))
    assert names
    assert {name for name in names if f"`{name}`" not in readme} == set()


def test_the_readme_lists_every_command():
    readme = (ROOT / "README.md").read_text()
    commands = {
        path.stem
        for app in OURS
        for path in (ROOT / app / "management" / "commands").glob("*.py")
        if path.stem != "__init__"
    }
    assert commands
    assert {name for name in commands if f"manage.py {name}" not in readme} == set()


def test_the_vendored_htmx_is_the_version_that_the_developers_page_names():
    version = re.search(
        r'version:"(\d+\.\d+\.\d+)"',
        (ROOT / "clinic/static/clinic/htmx.min.js").read_text(),
    )
    assert f"htmx {version[1]}" in (ROOT / "DEVELOPERS.md").read_text()


def test_models_say_what_they_are():
    for app in OURS:
        for model in apps.get_app_config(app).get_models():
            assert model.__doc__
            assert not model.__doc__.startswith(f"{model.__name__}("), model
