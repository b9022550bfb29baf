"""The contact sheet of figures."""

import re

import pytest
from django.core.management import CommandError, call_command
from pypdf import PdfReader

from plans.catalogue import Kind, read_folder


def test_every_step_with_poses_is_on_the_contact_sheet(tmp_path, settings, capsys):
    folder = tmp_path / "exercises"
    folder.mkdir()
    for key in ("elbow_bend_sitting", "hook_fist", "scar_care"):
        text = (settings.BASE_DIR / "fixtures" / "exercises" / f"{key}.toml").read_text()
        kept = re.sub(r"^(easier|harder) = .*\n", "", text, flags=re.MULTILINE)
        (folder / f"{key}.toml").write_text(kept)
    out = tmp_path / "figures.pdf"
    call_command("figures", str(out), "--side", "left", "--folder", str(folder))
    shown = "\n".join(page.extract_text() for page in PdfReader(out).pages)
    steps = [
        f"{exercise.key}, {step.effort.label}"
        for exercise in read_folder(folder)
        if exercise.kind is Kind.POSES
        for step in exercise.steps
    ]
    assert len(steps) == 8
    assert [step for step in steps if step not in shown] == []
    assert "scar_care" not in shown
    assert "8 figures" in capsys.readouterr().out


def test_a_folder_without_exercises_says_so(tmp_path):
    with pytest.raises(CommandError, match="no exercise with poses"):
        call_command("figures", str(tmp_path / "out.pdf"), "--folder", str(tmp_path))
