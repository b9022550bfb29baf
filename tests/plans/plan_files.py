"""Plan files for tests: one written by hand, and strategies that make whole ones."""

import copy
import json
from datetime import date, timedelta
from decimal import Decimal

from hypothesis import strategies as st

from plans.exchange import LinePart, PatientPart, PausePart, PlanFile, VersionPart, to_document
from plans.jsonfile import read_json
from tests.world import shipped_exercises

TODAY = date(2026, 6, 1)
KEYS = ("arm_lift_forward_lying", "elbow_bend_sitting", "full_fist", "scar_care", "two_hand_tasks")

BY_HAND = {
    "patient": {
        "clinic_number": "PF-1",
        "name": "Rowan Pretend",
        "birth_date": "1950-02-03",
        "affected_side": "right",
    },
    "versions": [
        {
            "number": 1,
            "effective_day": "2026-03-02",
            "lines": [
                {"exercise": "arm_lift_forward_lying", "step": "active"},
                {"exercise": "elbow_bend_sitting", "step": "active", "amount_low": 12},
            ],
        }
    ],
    "pauses": [{"first_day": "2026-03-10", "last_day": "2026-03-12", "reason": "a cold"}],
}


def by_hand(**changes):
    """Return a copy of the file written by hand; ``changes`` go into its first line."""
    document = copy.deepcopy(BY_HAND)
    document["versions"][0]["lines"][0].update(changes)
    return document


def text_of(document) -> str:
    return json.dumps(document, indent=1, default=float)


def value_of(document):
    """Return a document as it is read from a file."""
    return read_json(text_of(document)).value


words = st.text(st.characters(codec="utf-8", exclude_categories=["Cs", "Cc"]), max_size=30).map(
    str.strip
)
sides = st.sampled_from(["left", "right", "both"])


@st.composite
def kinds(draw):
    """What a line is: exercise, side and unit."""
    exercise = shipped_exercises()[draw(st.sampled_from(KEYS))]
    units = ["minutes", "times"] if exercise.kind == "activity" else ["repetitions", "seconds"]
    side = draw(sides) if exercise.sided else "both"
    return exercise.key, side, draw(st.sampled_from(units))


@st.composite
def lines(draw, key, kind):
    """One line of that key and kind, with any dose that the form allows."""
    exercise, side, unit = kind
    repeated = unit == "repetitions"
    low = draw(st.integers(1, 999))
    means = draw(st.sampled_from(["", "held", "cuff", "band", "putty", "other_hand"]))
    stop = draw(st.sampled_from(["", "shoulder_flexion", "elbow_extension"]))
    ladder = [step.effort.key for step in shipped_exercises()[exercise].steps]
    step = draw(st.sampled_from(ladder))
    has_easier = shipped_exercises()[exercise].below(step) is not None
    return LinePart(
        key=key,
        exercise=exercise,
        step=step,
        side=side,
        unit=unit,
        sets=draw(st.integers(1, 20)),
        amount_low=low,
        amount_high=draw(st.integers(low, 999)),
        hold_s=draw(st.integers(0, 300)) if repeated else 0,
        pace_s=Decimal(draw(st.integers(0, 600))) / 10 if repeated else Decimal(0),
        rest_s=draw(st.integers(0, 600)),
        load_g=draw(st.integers(0, 50_000)) if means else 0,
        load_means=means,
        sessions_per_day=draw(st.integers(1, 12)),
        weekdays=draw(st.frozensets(st.integers(0, 6), min_size=1)),
        note_patient=draw(words),
        note_staff=draw(words),
        orthosis=draw(st.sampled_from(["", "on", "off"])),
        stop_motion=stop,
        stop_deg=draw(st.integers(-200, 200)) if stop else None,
        easier_allowed=has_easier and draw(st.booleans()),
        more_if_easy=unit == "repetitions" and draw(st.booleans()),
    )


@st.composite
def plan_files(draw):
    """Return plan files as an export writes them: every field there, in order."""
    kind_of = {f"line-{n}": draw(kinds()) for n in range(4)}
    numbers = sorted(draw(st.sets(st.integers(1, 40), max_size=3)))
    days = st.dates(date(2024, 1, 1), TODAY + timedelta(days=300))
    versions = [
        VersionPart(
            number=number,
            effective_day=draw(days),
            pain_limit=draw(st.integers(0, 10)),
            change_sentence=draw(words),
            lines=tuple(
                draw(lines(key, kind_of[key]))
                for key in draw(st.lists(st.sampled_from(sorted(kind_of)), unique=True))
            ),
        )
        for number in numbers
    ]
    spans = draw(st.sets(st.tuples(days, st.none() | st.integers(0, 30)), max_size=3))
    pauses = [
        PausePart(first, None if more is None else first + timedelta(days=more), draw(words))
        for first, more in spans
    ]
    zone = draw(st.sampled_from(["", "Europe/Madrid", "Pacific/Auckland"]))
    mass = draw(st.none() | st.integers(50, 4000))
    patient = PatientPart(
        clinic_number=draw(st.from_regex(r"[A-Za-z0-9-]{1,20}", fullmatch=True)),
        name=draw(words.filter(bool)),
        birth_date=draw(st.dates(date(1900, 1, 1), TODAY)),
        affected_side=draw(sides),
        sex=draw(st.sampled_from(["female", "male", "unknown"])),
        stature_cm=draw(st.none() | st.integers(50, 250)),
        body_mass_kg=None if mass is None else Decimal(mass) / 10,
        dominant_side=draw(sides | st.just("")),
        language=draw(st.sampled_from(["en", "es"])),
        text_size=draw(st.sampled_from(["normal", "large", "largest"])),
        time_zone=zone,
    )
    return PlanFile(patient, tuple(versions), tuple(pauses))


PATIENT_OPTIONAL = ["sex", "stature_cm", "body_mass_kg", "dominant_side", "language", "time_zone"]
LINE_OPTIONAL = ["key", "side", "sets", "hold_s", "pace_s", "rest_s", "load_kg", "load_means"]
LINE_OPTIONAL += ["days", "sessions_per_day", "note_patient", "note_staff"]


@st.composite
def sparse_documents(draw):
    """Return documents of one version as someone might write them: some fields left out."""
    document = to_document(draw(plan_files()))
    document["versions"] = document["versions"][:1]  # a key left out must not clash with another's
    for name in draw(st.sets(st.sampled_from(PATIENT_OPTIONAL))):
        del document["patient"][name]
    for version in document["versions"]:
        for line in version["lines"]:
            for name in draw(st.sets(st.sampled_from(LINE_OPTIONAL))):
                del line[name]
            if "load_means" not in line:
                line.pop("load_kg", None)
            if line["unit"] == shipped_exercises()[line["exercise"]].unit.value:
                ends = draw(st.sets(st.sampled_from(["amount_low", "amount_high"])))
            else:
                ends = draw(st.sampled_from([set(), {"amount_low"}, {"amount_high"}]))
            for name in ends:
                del line[name]
    return document
