"""The patient's words in every language that we offer: complete, compiled, with the same gaps."""

import gettext
import re
from pathlib import Path

import pytest
from django.utils import translation

LOGS = Path(__file__).resolve().parents[2] / "logs"
GAP = re.compile(r"%\(\w+\)[ds]|\{\w+\}")
LANGUAGES = ["es"]


def texts():
    """Every text of the patient's pages, as it stands in templates and code."""
    found = set()
    for path in (LOGS / "templates/logs/home").glob("*.html"):
        source = path.read_text(encoding="utf-8")
        found |= set(re.findall(r'\{% translate "([^"]+)" %\}', source))
        found |= set(re.findall(r"\{% translate '([^']+)' %\}", source))
        for words in re.findall(
            r"\{% blocktranslate[^%]*%\}(.*?)\{% endblocktranslate %\}", source, re.S
        ):
            found.add(re.sub(r"\{\{ (\w+) \}\}", r"%(\1)s", words))
    for name in ("phone_plan.py", "phone_count.py"):
        source = (LOGS / name).read_text(encoding="utf-8")
        found |= set(re.findall(r'\bgettext\(\s*"([^"]+)"', source))
    return sorted(found)


def test_texts_are_found_at_all():
    assert len(texts()) > 80
    assert "Received by the clinic." in texts()


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("text", texts())
def test_each_text_is_translated_and_keeps_its_gaps(language, text):
    with translation.override(language):
        translated = translation.gettext(text)
    assert sorted(GAP.findall(translated)) == sorted(GAP.findall(text))
    if re.sub(GAP, "", text).strip() not in {"kg", "min", "s"}:
        assert translated != text


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_compiled_words_are_those_of_the_source(language):
    folder = LOGS / "locale" / language / "LC_MESSAGES"
    source = (folder / "django.po").read_text(encoding="utf-8")
    with (folder / "django.mo").open("rb") as file:
        compiled = gettext.GNUTranslations(file)
    pairs = re.findall(
        r'^msgid "((?:[^"\\]|\\.)+)"\nmsgstr "((?:[^"\\]|\\.)*)"$', source, re.MULTILINE
    )
    assert len(pairs) > 60
    for text, translated in pairs:
        if "\\" not in translated:
            assert compiled.gettext(text) == translated.replace('\\"', '"'), text
