"""Plan files as values: what is filled in, what is refused and where, and there and back."""

import json
from decimal import Decimal

import pytest
from django.core.validators import MaxValueValidator, MinValueValidator
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase
from jsonschema import Draft202012Validator

from clinic.languages import LANGUAGES
from patients.models import Patient
from plans import exchange, models
from plans.exchange import to_document
from plans.exchange_actions import import_plan
from plans.exchange_queries import plan_of
from plans.exchange_reading import PlanFileRefused, Usual, read_plan, read_schema
from plans.jsonfile import JsonError, decode, read_json
from tests.plans.plan_files import (
    KEYS,
    TODAY,
    by_hand,
    plan_files,
    sparse_documents,
    text_of,
    value_of,
)
from tests.world import FIXTURES, shipped_exercises, stock

SCHEMA = read_schema(FIXTURES / "plan.schema.json")


def read(value, issued=None):
    usual = Usual(pain_limit=5, exercises=shipped_exercises())
    return read_plan(value, schema=SCHEMA, today=TODAY, usual=usual, issued=issued or {})


def problems_of(document):
    """Return each problem of a document with the line of the file that it points at."""
    text = text_of(document)
    read_as = read_json(text)
    with pytest.raises(PlanFileRefused) as refused:
        read(read_as.value)
    lines = text.splitlines()
    return [
        (
            problem.reason,
            lines[
                (
                    read_as.key_place(problem.path)
                    if problem.at_key
                    else read_as.place(problem.path)
                ).line
                - 1
            ].strip(),
        )
        for problem in refused.value.problems
    ]


# Places in JSON text


@pytest.mark.parametrize(
    ("text", "line", "column", "reason"),
    [
        ('{"a": 1,\n "a": 2}', 2, 2, 'the key "a" is given twice here'),
        ('{"a": NaN}', 1, 7, "NaN is not a number that can be kept"),
        ('{"a": -Infinity}', 1, 7, "-Infinity is not a number that can be kept"),
        ('{"a": 1e400}', 1, 7, "1e400 is not a number that can be kept"),
        ('{"a": 01}', 1, 7, "01 is not a number that can be kept"),
        ('{"a": 1,}', 1, 9, "expected a key in double quotes: take out the comma before"),
        ('["x",\n]', 2, 1, "expected a value: take out the comma before"),
        ('{"a": 1 "b": 2}', 1, 9, "expected a comma or }"),
        ('{"a" 1}', 1, 6, 'expected a colon after "a"'),
        ("{'a': 1}", 1, 2, "expected a key in double quotes"),
        ('{"a": mon}', 1, 7, "write text in double quotes"),
        ('{"a": True}', 1, 7, "write true in small letters"),
        ('{"a": 1} x', 1, 10, "something follows the end of the document"),
        ('{"a": "b\nc"}', 1, 9, "a line end or control character stands inside a text"),
        ('{"a": "b', 1, 7, "this text has no closing quotation mark"),
        ('{"a": "\\u0000"}', 1, 7, "this text has a character that can't be kept"),
        ('{"a": "\\ud800"}', 1, 7, "this text has a character that can't be kept"),
        ('{"a": // note\n 1}', 1, 7, "notes have no place in JSON: take this out"),
        ("", 1, 1, "the text ends too soon"),
        ("[" * 30, 1, 22, "is nested more than 20 deep"),
    ],
)
def test_a_slip_in_the_text_is_named_with_its_line_and_column(text, line, column, reason):
    with pytest.raises(JsonError) as refused:
        read_json(text)
    assert refused.value.problems == [((line, column), reason)]


def test_a_file_in_another_encoding_is_refused_where_it_stops_being_utf_8():
    with pytest.raises(JsonError) as refused:
        decode('{"name":\n "Zoë"}'.encode("latin-1"))
    assert refused.value.problems == [((2, 5), "is not UTF-8: save it as UTF-8")]


def test_a_mark_at_the_start_of_a_utf_8_file_is_passed_over():
    assert read_json(decode(b"\xef\xbb\xbf[1]")).value == [1]


json_values = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(10**17), 10**17)
    | st.decimals(-1000, 1000, places=3)
    | st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cs"])),
    lambda inner: (
        st.lists(inner)
        | st.dictionaries(st.text(st.characters(codec="ascii", exclude_categories=["Cc"])), inner)
    ),
    max_leaves=20,
)


@given(json_values, st.sampled_from([None, 1]))
def test_json_is_read_as_the_standard_library_reads_it(value, indent):
    text = json.dumps(value, indent=indent, ensure_ascii=False, default=float)
    assert read_json(text).value == json.loads(text, parse_float=Decimal)


@given(json_values)
def test_a_place_is_where_its_value_begins(value):
    text = json.dumps(value, indent=1, default=float)
    document = read_json(text)
    lines = text.splitlines()
    for path, place in document.places.items():
        found = document.value
        for part in path:
            found = found[part]
        rest = lines[place.line - 1][place.column - 1 :]
        opening = {dict: "{", list: "["}.get(type(found))
        assert rest.startswith(opening or json.dumps(found, default=float))


# The documented form


def test_the_schema_is_a_schema():
    Draft202012Validator.check_schema(json.loads((FIXTURES / "plan.schema.json").read_text()))


def test_the_schema_has_the_languages_that_patients_can_read():
    assert SCHEMA["properties"]["patient"]["properties"]["language"]["enum"] == [*LANGUAGES]


@pytest.mark.parametrize(
    "name", ["sets", "amount_low", "amount_high", "hold_s", "pace_s", "rest_s", "sessions_per_day"]
)
def test_the_schema_allows_what_the_database_allows(name):
    documented = SCHEMA["$defs"]["line"]["properties"][name]
    # Those of the model alone: a positive column adds the database's own.
    own = models.Line._meta.get_field(name)._validators
    least = max((v.limit_value for v in own if type(v) is MinValueValidator), default=0)
    most = min(v.limit_value for v in own if type(v) is MaxValueValidator)
    assert (documented["minimum"], documented["maximum"]) == (least, most)


@pytest.mark.parametrize(
    ("part", "name", "choices"),
    [
        ("line", "step", models.StepChoice),
        ("line", "unit", models.UnitChoice),
        ("line", "load_means", models.LoadMeans),
    ],
)
def test_the_schema_names_the_database_s_words(part, name, choices):
    words = SCHEMA["$defs"][part]["properties"][name]["enum"]
    assert [word for word in words if word] == [word for word in choices.values if word]


# What is filled in


def test_a_line_takes_the_exercise_s_usual_dose():
    line = read(value_of(by_hand())).versions[0].lines[0]
    dose = shipped_exercises()["arm_lift_forward_lying"].dose
    assert (line.sets, line.amount_low, line.amount_high) == (
        dose.sets,
        dose.amount_low,
        dose.amount_high,
    )
    assert (line.hold_s, line.pace_s, line.rest_s) == (dose.hold_s, dose.pace_s, dose.rest_s)
    assert line.sessions_per_day == dose.sessions_per_day
    assert (line.side, line.unit, line.key) == (
        "right",
        "repetitions",
        "arm_lift_forward_lying-right",
    )
    assert line.weekdays == frozenset(range(7))


def test_one_end_of_a_range_is_both():
    line = read(value_of(by_hand())).versions[0].lines[1]
    assert (line.amount_low, line.amount_high) == (12, 12)


def test_a_resisted_step_brings_its_means_and_half_a_kilogram_is_500_grams():
    line = read(value_of(by_hand(step="resisted", load_kg=0.5))).versions[0].lines[0]
    assert (line.load_means, line.load_g) == ("held", 500)


def test_a_second_line_of_the_same_exercise_and_side_is_numbered():
    document = by_hand()
    lines = document["versions"][0]["lines"]
    lines += [dict(lines[0]), dict(lines[0])]
    keys = [line.key for line in read(value_of(document)).versions[0].lines]
    assert [key for key in keys if key.startswith("arm")] == [
        "arm_lift_forward_lying-right",
        "arm_lift_forward_lying-right-2",
        "arm_lift_forward_lying-right-3",
    ]


def test_seconds_of_hold_have_no_pace():
    line = read(value_of(by_hand(unit="seconds", amount_low=20))).versions[0].lines[0]
    assert (line.unit, line.pace_s, line.hold_s) == ("seconds", 0, 0)


def test_what_is_left_out_of_an_issued_version_is_what_it_was_issued_with():
    exercises = dict(shipped_exercises())
    exercises["arm_lift_forward_lying"] = exercises["elbow_bend_sitting"]
    then = Usual(pain_limit=2, exercises=exercises)
    version = read(value_of(by_hand()), issued={1: then}).versions[0]
    assert version.pain_limit == 2
    assert version.lines[0].exercise == "elbow_bend_sitting"


# What is refused


@pytest.mark.parametrize(
    ("changes", "reason", "line"),
    [
        ({"sest": 3}, "sest: is not known here; did you mean sets?", '"sest": 3'),
        ({"sets": "3"}, 'sets: must be a whole number, not "3"', '"sets": "3"'),
        ({"sets": True}, "sets: must be a whole number, not true", '"sets": true'),
        ({"sets": 21}, "sets: must be from 1 to 20, not 21", '"sets": 21'),
        ({"sets": 2.5}, "sets: must be a whole number, not 2.5", '"sets": 2.5'),
        (
            {"load_kg": 0.0005, "load_means": "held"},
            "load_kg: must be a whole multiple of 0.001, not 0.0005",
            '"load_kg": 0.0005,',
        ),
        (
            {"load_kg": 2},
            "load_kg: needs load_means, which says what gives the load",
            '"load_kg": 2',
        ),
        (
            {"exercise": "arm_lift_forward"},
            'exercise: "arm_lift_forward" is not in the catalogue; '
            "did you mean arm_lift_forward_lying?",
            '"exercise": "arm_lift_forward",',
        ),
        (
            {"step": "actve"},
            "step: must be one of passive, self_assisted, gravity_reduced, active, resisted, "
            'null, not "actve"; did you mean active?',
            '"step": "actve"',
        ),
        (
            {"side": "Left"},
            'side: must be one of left, right, both, not "Left"; did you mean left?',
            '"side": "Left"',
        ),
        (
            {"amount_low": 12, "amount_high": 8},
            "amount_low: 12 is above amount_high, 8",
            '"amount_low": 12,',
        ),
        (
            {"unit": "minutes"},
            "unit: arm_lift_forward_lying is counted in repetitions or seconds",
            '"unit": "minutes"',
        ),
        (
            {"unit": "seconds", "amount_low": 20, "hold_s": 5},
            "hold_s: belongs to repetitions, and this line counts seconds",
            '"hold_s": 5',
        ),
        (
            {"days": ["mon", "tus"]},
            'days: must be "every day", or a list of mon, tue, wed, thu, fri, sat, sun; every day '
            "when left out, not that list",
            '"days": [',
        ),
        (
            {"key": "a b"},
            'key: must be letters, digits, _ and -, at most 80, not "a b"',
            '"key": "a b"',
        ),
    ],
)
def test_a_slip_in_a_line_is_named_where_it_stands(changes, reason, line):
    assert problems_of(by_hand(**changes)) == [(reason, line)]


def test_a_step_is_not_guessed():
    document = by_hand()
    del document["versions"][0]["lines"][0]["step"]
    [(reason, line)] = problems_of(document)
    assert reason == (
        "step: is missing; arm_lift_forward_lying has passive, self_assisted, gravity_reduced, "
        "active, resisted"
    )
    assert line == "{"


@pytest.mark.parametrize(
    ("name", "value", "reason"),
    [
        ("birth_date", "2026-06-02", "2026-06-02 can't be right: it is not from 1900-01-01"),
        (
            "birth_date",
            "1950-02-30",
            'must be a day that there is, as YYYY-MM-DD, not "1950-02-30"',
        ),
        ("birth_date", "3/2/1950", 'must be a day as YYYY-MM-DD, not "3/2/1950"'),
        ("name", "   ", "must not be blank"),
        ("time_zone", "Europe/Londn", '"Europe/Londn" is not a time zone; did you mean'),
        ("body_mass_kg", 70.25, "must be a whole multiple of 0.1, not 70.25"),
        ("clinic_number", "12 34", "must be letters, digits and dashes, at most 20"),
    ],
)
def test_a_slip_in_the_patient_is_refused(name, value, reason):
    document = by_hand()
    document["patient"][name] = value
    [(found, _)] = problems_of(document)
    assert found.startswith(f"{name}: {reason}")


def test_a_key_is_given_once_in_a_version():
    document = by_hand(key="arm")
    document["versions"][0]["lines"][1]["key"] = "arm"
    assert problems_of(document) == [('key: "arm" is given twice in this version', '"key": "arm"')]


def test_a_key_stays_with_its_exercise_side_and_unit_across_versions():
    document = by_hand(key="arm")
    document["versions"].append(
        {
            "number": 2,
            "effective_day": "2026-04-06",
            "lines": [{"key": "arm", "exercise": "full_fist", "step": "active"}],
        }
    )
    [(reason, line)] = problems_of(document)
    assert "another exercise, side or unit in another version" in reason
    assert line == '"key": "arm",'


def test_every_problem_is_named_at_once():
    document = by_hand(sest=1)
    document["patient"]["sex"] = "f"
    document["versions"][0]["lines"][1]["exercise"] = "elbow"
    document["versions"].append({**document["versions"][0], "lines": []})
    document["pauses"].append({"first_day": "2026-05-03", "last_day": "2026-05-01"})
    del document["patient"]["birth_date"]
    reasons = sorted(reason.split(":")[0] for reason, _ in problems_of(document))
    assert reasons == ["birth_date", "exercise", "last_day", "sest", "sex"]


@given(st.data())
@settings(max_examples=150)
def test_any_json_at_all_is_refused_or_read_and_never_breaks(data):
    document = by_hand()
    document["patient"]["care_team"] = ["a"]
    paths = list(read_json(text_of(document)).places)
    path = data.draw(st.sampled_from([p for p in paths if p]))
    holder = document
    for part in path[:-1]:
        holder = holder[part]
    holder[path[-1]] = data.draw(json_values)
    try:
        plan = read(value_of(document))
    except PlanFileRefused:
        return
    assert plan == read(value_of(to_document(plan)))


# There and back


class RoundTrip(TestCase):
    @classmethod
    def setUpTestData(cls):
        stock(*KEYS)

    def take(self, document):
        value = read_json(json.dumps(document, default=float)).value
        return import_plan(value=value, schema=SCHEMA, today=TODAY)

    def written(self, number):
        return to_document(plan_of(Patient.objects.get(clinic_number=number)))

    @given(plan_files())
    @settings(max_examples=60)
    def test_a_written_plan_comes_back_as_it_was(self, plan):
        document = to_document(plan)
        self.take(document)
        assert self.written(plan.patient.clinic_number) == document
        assert self.take(document).added == ()

    @given(sparse_documents())
    @settings(max_examples=60)
    def test_what_was_left_out_is_written_out_and_means_the_same(self, document):
        number = document["patient"]["clinic_number"]
        self.take(document)
        whole = self.written(number)
        assert self.take(document).added == ()
        assert self.take(whole).added == ()
        assert self.written(number) == whole
        for name, value in document["patient"].items():
            assert whole["patient"][name] == value


def test_weekdays_are_named_in_the_order_of_the_week():
    assert exchange.days_document(frozenset({6, 0, 2})) == ["mon", "wed", "sun"]
