"""The patient's words in every language that we offer: complete, compiled, with the same gaps."""

import gettext
import re
from pathlib import Path

import pytest
from django.utils import translation

from clinic import languages
from logs.phone_count import counted

LOGS = Path(__file__).resolve().parents[2] / "logs"
GAP = re.compile(r"%\(\w+\)[ds]|\{\w+\}")
LANGUAGES = [code for code in languages.LANGUAGES if code != languages.FALLBACK]


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
    for name in ("phone_plan.py", "phone_count.py", "phone_stops.py"):
        source = (LOGS / name).read_text(encoding="utf-8")
        found |= set(re.findall(r'\bgettext\(\s*"([^"]+)"', source))
    return sorted(found)


def counted_texts():
    """Every pair of texts that goes with a number."""
    source = "".join((LOGS / f"{name}.py").read_text() for name in ("phone_plan", "phone_count"))
    return sorted(set(re.findall(r'\bcounted\("([^"]+)", "([^"]+)"\)', source)))


def test_texts_are_found_at_all():
    assert len(texts()) > 80
    assert "Received by the clinic." in texts()
    assert ("{n} time", "{n} times") in counted_texts()


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("text", texts())
def test_each_text_is_translated_and_keeps_its_gaps(language, text):
    with translation.override(language):
        translated = translation.gettext(text)
    assert sorted(GAP.findall(translated)) == sorted(GAP.findall(text))
    if re.sub(GAP, "", text).strip() not in {"kg", ","}:
        assert translated != text


# CLDR 46, plural rules for cardinals: the categories of whole numbers, below a million.
PLURALS = {"es": {"one", "other"}, "ar": {"zero", "one", "two", "few", "many", "other"}}


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize(("one", "more"), counted_texts())
def test_each_text_with_a_number_has_the_plurals_of_the_language(language, one, more):
    with translation.override(language):
        said = counted(one, more)
    assert not set(said.values()) & {one, more}
    assert said.keys() <= PLURALS[language]
    assert "one" in said
    assert all("{n}" in said[name] for name in said.keys() - {"one", "two"})


def test_arabic_counts_as_arabic_does():
    with translation.override("ar"):
        said = counted("{n} time", "{n} times")
    assert [said[name] for name in ("one", "two", "few", "other")] == [
        "مرة واحدة",
        "مرتان",
        "{n} مرات",
        "{n} مرة",
    ]


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
