"""The colours of patients' pages: each pair of text and ground that they use, 7 to 1 or more.

Relative luminance and contrast as WCAG 2.2 defines them; 7 to 1 is its success criterion 1.4.6
(enhanced). Lines and edges of controls need 3 to 1 (1.4.11).
"""

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
TOKENS = ROOT / "clinic/static/clinic/tokens.css"
PHONE = ROOT / "logs/static/logs/home/home.css"
SHEET = ROOT / "plans/static/plans/sheet_web.css"
ROOTS = re.compile(r":root\s*\{([^}]*)\}")
DARK = re.compile(
    r"@media (?:screen and )?\(prefers-color-scheme: dark\)\s*\{\s*(:root\s*\{[^}]*\})"
)
COLOUR = re.compile(r"--([\w-]+):\s*(#[0-9a-f]{3,6})\b")

ON_THE_PHONE = [
    *(("ink", ground) for ground in ("paper", "card")),
    *(("quiet", ground) for ground in ("paper", "card")),
    *(("accent", ground) for ground in ("paper", "card")),
    *(("bad", ground) for ground in ("paper", "card")),
    ("accent-ink", "accent"),
    ("paper", "bad"),
]
ON_THE_SHEET = [("ink", "paper"), ("ink", "band")]
EDGES = [("edge", "paper"), ("edge", "card"), ("accent", "card"), ("bad", "paper")]


def colours(scheme, *files):
    """The colours that hold in a scheme, later files over earlier ones."""
    found = {}
    for file in files:
        css = file.read_text(encoding="utf-8")
        dark = DARK.findall(css)
        light = DARK.sub("", css)
        parts = ROOTS.findall(light) + (ROOTS.findall(" ".join(dark)) if scheme == "dark" else [])
        for part in parts:
            found |= dict(COLOUR.findall(part))
    return found


def luminance(colour):
    """Relative luminance by WCAG 2.2, 0 to 1."""
    digits = colour[1:]
    if len(digits) == 3:
        digits = "".join(digit * 2 for digit in digits)
    parts = [int(digits[at : at + 2], 16) / 255 for at in (0, 2, 4)]
    red, green, blue = (
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one, other):
    """The contrast ratio of two colours by WCAG 2.2, 1 to 21."""
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def test_the_formula_gives_what_wcag_says_of_known_pairs():
    """Black on white is 21; #767676 is the lightest grey that has 4.5 on white (WebAIM)."""
    assert contrast("#000", "#ffffff") == pytest.approx(21)
    assert contrast("#767676", "#fff") >= 4.5 > contrast("#777777", "#fff")


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize(("text", "ground"), ON_THE_PHONE)
def test_text_on_the_phone(scheme, text, ground):
    known = colours(scheme, TOKENS, PHONE)
    assert contrast(known[text], known[ground]) >= 7, (known[text], known[ground])


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize(("text", "ground"), ON_THE_SHEET)
def test_text_on_the_sheet(scheme, text, ground):
    known = colours(scheme, TOKENS, SHEET)
    assert contrast(known[text], known[ground]) >= 7, (known[text], known[ground])


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize(("edge", "ground"), EDGES)
def test_edges_of_what_is_pressed(scheme, edge, ground):
    known = colours(scheme, TOKENS, PHONE)
    assert contrast(known[edge], known[ground]) >= 3, (known[edge], known[ground])


def test_dark_and_light_differ_and_no_text_on_the_phone_has_another_colour():
    assert colours("dark", TOKENS, PHONE)["paper"] != colours("light", TOKENS, PHONE)["paper"]
    named = {text for text, _ in ON_THE_PHONE}
    css = PHONE.read_text(encoding="utf-8")
    used = set(re.findall(r"(?<![-\w])color:\s*var\(--([\w-]+)\)", css))
    assert used <= named
    for rule in re.findall(r"\{[^{}]*(?<![-\w])color:\s*#[^{}]*\}", css):  # on a picture's white
        ground = re.search(r"background:\s*(#[0-9a-f]+)", rule)[1]
        assert contrast(re.search(r"(?<![-\w])color:\s*(#[0-9a-f]+)", rule)[1], ground) >= 7
