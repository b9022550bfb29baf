"""The languages that patients can read Handrail in: the one list of them.

Pure. Numbers are written with European digits in every one of them.

>>> direction("ar"), direction("es-mx"), direction("fr")
('rtl', 'ltr', 'ltr')
"""

from dataclasses import dataclass


@dataclass(frozen=True)
class Language:
    """A language by its ISO 639 code, named in itself for choosing and in English for staff.

    Words that a clinic writes are asked for in every language that ``is_required``.
    """

    code: str
    own_name: str
    english_name: str
    is_required: bool = True
    direction: str = "ltr"


LANGUAGES = {
    language.code: language
    for language in (
        Language("en", "English", "English"),
        Language("es", "Español", "Spanish"),
        Language("ar", "العربية", "Arabic", is_required=False, direction="rtl"),
    )
}
"""By code. The first is the one fallen back on."""

CHOICES = [(language.code, language.own_name) for language in LANGUAGES.values()]

FALLBACK = next(iter(LANGUAGES))


def base_code(code: str) -> str:
    """Return the language of a tag without its region: "es" for "es-mx"."""
    return code.lower().partition("-")[0]


def direction(code: str) -> str:
    """Return which way a language is written, as HTML's ``dir`` says it."""
    language = LANGUAGES.get(base_code(code))
    return language.direction if language else "ltr"
