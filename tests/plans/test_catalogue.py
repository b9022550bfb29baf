"""Reading exercises strictly, and the shipped catalogue as a whole."""

import copy
import json
import re
from pathlib import Path

import pytest

from clinic.languages import LANGUAGES
from patients.motions import MOTIONS, Effort, Joint
from plans.catalogue import (
    CatalogueError,
    DoneBy,
    Equipment,
    Kind,
    LoadMeans,
    Position,
    Unit,
    read_exercise,
    read_file,
    read_folder,
)
from plans.reading import grade

FIXTURES = Path(__file__).parents[2] / "fixtures"
FOLDER = FIXTURES / "exercises"
EXERCISES = read_folder(FOLDER)
STEPS = [(exercise, step) for exercise in EXERCISES for step in exercise.steps]

DO = {"en": {"do": ["Sit.", "Lift."]}, "es": {"do": ["Siéntese.", "Levante."]}}
SAMPLE = {
    "key": "sample_lift",
    "kind": "poses",
    "position": "sitting",
    "moves": ["shoulder_flexion"],
    "loads": ["shoulder_blade"],
    "unit": "repetitions",
    "sided": True,
    "equipment": ["chair"],
    "easier": "other_lift",
    "source": "common practice, no source",
    "dose": {
        "sets": 1,
        "amount_low": 8,
        "amount_high": 10,
        "hold_s": 0,
        "pace_s": 6,
        "rest_s": 60,
        "sessions_per_day": 2,
        "source": "common practice, no source",
    },
    "words": {
        "en": {"name": "Lift", "goal": "To lift.", "cautions": ["Stop if it hurts."], "cue": "Up."},
        "es": {"name": "Alzar", "goal": "Para.", "cautions": ["Deténgase."], "cue": "Arriba."},
    },
    "steps": [
        {"effort": "passive", "done_by": "helper", "position": "lying_back", "words": DO},
        {"effort": "active", "done_by": "self", "words": DO},
        {"effort": "resisted", "done_by": "self", "load_means": "held", "words": DO},
    ],
}


def changed(**at_path):
    """Give a copy of the sample with values set at paths such as dose__sets or steps__0__effort."""
    table = copy.deepcopy(SAMPLE)
    for path, value in at_path.items():
        *way, last = (int(part) if part.isdigit() else part for part in path.split("__"))
        inner = table
        for part in way:
            inner = inner[part]
        if value is None:
            del inner[last]
        else:
            inner[last] = value
    return table


def in_arabic():
    """Give a copy of the sample that is complete in Arabic too."""
    table = copy.deepcopy(SAMPLE)
    table["words"]["ar"] = {"name": "رفع", "goal": "لترفع.", "cautions": ["توقف."], "cue": "ارفع."}
    for step in table["steps"]:
        step["words"] = step["words"] | {"ar": {"do": ["اجلس.", "ارفع."]}}
    return table


def toml(table, prefix=""):
    """Write a table as TOML, enough for these tests: values in JSON's form, then its tables."""
    simple = {key: value for key, value in table.items() if not holds_tables(value)}
    lines = [f"{key} = {json.dumps(value, ensure_ascii=False)}" for key, value in simple.items()]
    for key, value in table.items():
        if isinstance(value, dict):
            lines += [f"[{prefix}{key}]", toml(value, f"{prefix}{key}.")]
        elif holds_tables(value):
            for inner in value:
                lines += [f"[[{prefix}{key}]]", toml(inner, f"{prefix}{key}.")]
    return "\n".join(lines)


def holds_tables(value):
    return isinstance(value, dict) or (
        isinstance(value, list) and any(isinstance(inner, dict) for inner in value)
    )


def write(folder, table):
    path = folder / f"{table['key']}.toml"
    path.write_text(toml(table), encoding="utf-8")
    return path


class TestReading:
    def test_a_whole_exercise(self):
        exercise = read_exercise(SAMPLE, where="sample")
        assert exercise.kind is Kind.POSES
        assert exercise.unit is Unit.REPETITIONS
        assert exercise.loads == (Joint.SHOULDER_BLADE,)
        assert (exercise.easier, exercise.harder) == ("other_lift", None)
        assert [step.effort for step in exercise.steps] == [
            Effort.PASSIVE,
            Effort.ACTIVE,
            Effort.RESISTED,
        ]

    def test_a_step_takes_the_position_of_its_exercise_unless_it_has_its_own(self):
        exercise = read_exercise(SAMPLE, where="sample")
        assert exercise.step(Effort.PASSIVE).position is Position.LYING_BACK
        assert exercise.step(Effort.ACTIVE).position is Position.SITTING

    def test_a_step_that_the_ladder_lacks(self):
        with pytest.raises(KeyError, match="self_assisted"):
            read_exercise(SAMPLE, where="sample").step(Effort.SELF_ASSISTED)

    @pytest.mark.parametrize(
        ("language", "name"), [("en", "Lift"), ("es", "Alzar"), ("es-mx", "Alzar"), ("fr", "Lift")]
    )
    def test_words_fall_back_to_english(self, language, name):
        exercise = read_exercise(SAMPLE, where="sample")
        assert exercise.words(language).name == name
        assert exercise.steps[0].words(language).do[0] == (
            "Sit." if name == "Lift" else "Siéntese."
        )

    def test_arabic_may_be_left_out_and_is_then_said_in_english(self):
        exercise = read_exercise(SAMPLE, where="sample")
        assert exercise.language_for("ar") == "en"
        assert exercise.words("ar").name == "Lift"

    def test_arabic_stands_in_the_words_and_in_every_step(self):
        exercise = read_exercise(in_arabic(), where="sample")
        assert exercise.language_for("ar") == "ar"
        assert exercise.words("ar").name == "رفع"
        assert exercise.steps[2].words("ar").do == ("اجلس.", "ارفع.")
        assert read_exercise(exercise.as_table(), where="again") == exercise

    def test_arabic_in_some_places_only_is_refused(self):
        table = in_arabic()
        del table["steps"][1]["words"]["ar"]
        with pytest.raises(CatalogueError) as refused:
            read_exercise(table, where="sample")
        assert [problem.field for problem in refused.value.problems] == ["steps[2].words.ar"]

    def test_poses_and_view_are_kept_as_they_are(self):
        poses = [{"at": 0.5, "shoulder": {"flexion": 90, "rests": [True, "bed"]}}, {"at": 1}]
        exercise = read_exercise(changed(view="front", steps__1__poses=poses), where="sample")
        assert exercise.view == "front"
        assert list(exercise.step(Effort.ACTIVE).poses) == poses
        assert exercise.step(Effort.PASSIVE).poses == ()

    def test_a_revision_kept_as_json_reads_equal(self):
        with_poses = changed(view="side", steps__1__poses=[{"at": 0.0, "angles": {"a": [1, 2.5]}}])
        exercise = read_exercise(with_poses, where="sample")
        kept = json.loads(json.dumps(exercise.as_table()))
        assert read_exercise(kept, where="revision") == exercise


REFUSALS = [
    ({"key": "Sample Lift"}, "key: must be small letters"),
    ({"key": 5}, "key: must be small letters"),
    ({"kind": "game"}, "kind: 'game' is not one of: poses, activity"),
    ({"position": None}, "position: is missing"),
    ({"moves": ["shoulder_waving"]}, r"moves\[1\]: 'shoulder_waving' is not one of"),
    ({"moves": ["elbow_flexion", "elbow_flexion"]}, r'moves\[2\]: names "elbow_flexion" twice'),
    ({"moves": []}, "moves: must name a motion"),
    ({"moves": "elbow_flexion"}, "moves: must be a list"),
    ({"loads": ["knee"]}, r"loads\[1\]: 'knee' is not one of"),
    ({"equipment": ["trampoline"]}, r"equipment\[1\]: 'trampoline'"),
    ({"sided": "yes"}, "sided: must be true or false"),
    ({"easier": "sample_lift"}, "easier: must be another exercise"),
    ({"source": " "}, "source: must be words"),
    ({"colour": "red"}, "colour: is not a known field"),
    ({"dose": None}, "dose: is missing"),
    ({"dose": 8}, "dose: must be a table"),
    ({"dose__sets": 0}, "dose.sets: must be a whole number from 1 to 20, not 0"),
    ({"dose__sets": True}, "dose.sets: must be a whole number from 1 to 20, not True"),
    ({"dose__amount_low": 12}, "dose.amount_low: must not be above amount_high"),
    ({"dose__amount_high": 1000}, "dose.amount_high: must be a whole number from 1 to 999"),
    ({"dose__pace_s": 0}, "dose.pace_s: is the time of one repetition"),
    ({"dose__tempo": 3}, "dose.tempo: is not a known field"),
    ({"unit": "seconds"}, "dose.pace_s: is the time of one repetition"),
    ({"unit": "seconds", "dose__pace_s": 0, "dose__hold_s": 5}, "dose.hold_s: must be 0"),
    ({"unit": "minutes"}, "unit: minutes and times are for activities"),
    ({"kind": "activity"}, "unit: minutes and times are for activities"),
    ({"unit": "seconds", "moves": [], "loads": []}, "loads: must name a joint"),
    ({"words__es": None}, "words.es: is missing"),
    ({"words__fr": {}}, "words.fr: is not a known field"),
    ({"words__es__cue": None}, "words.es.cue: is missing"),
    ({"words__en__hint": "Up."}, "words.en.hint: is not a known field"),
    ({"words__en__cautions": []}, "words.en.cautions: must be a list of 1 to 3"),
    ({"steps": []}, "steps: must be a list of 1 to 5"),
    ({"steps__0__effort": "resting"}, r"steps\[1\].effort: 'resting'"),
    ({"steps__1__effort": "passive"}, "steps: must rise in effort"),
    (
        {"steps__0__effort": "active"},
        r"steps\[1\].done_by: only a passive step is done by a helper",
    ),
    ({"steps__2__load_means": None}, r"steps\[3\].load_means: belongs to a resisted step"),
    ({"steps__1__load_means": "cuff"}, r"steps\[2\].load_means: belongs to a resisted step"),
    ({"steps__2__load_means": "anvil"}, r"steps\[3\].load_means: 'anvil' is not one of"),
    ({"steps__0__words__es__do": ["Uno."]}, r"steps\[1\].words.es.do: must be a list of 2 to 4"),
    ({"steps__0__words__en__do": ["Sit.", ""]}, r"steps\[1\].words.en.do\[2\]: must be words"),
    ({"steps__0__note": "x"}, r"steps\[1\].note: is not a known field"),
    ({"steps__0__poses": [1]}, r"steps\[1\].poses: must be a list of tables"),
    ({"steps__0__poses": [{"at": float("nan")}]}, r"steps\[1\].poses: may hold only"),
]


class TestRefusing:
    @pytest.mark.parametrize(("change", "message"), REFUSALS)
    def test_each_mistake_is_named_with_place_exercise_and_field(self, change, message):
        with pytest.raises(CatalogueError, match=message) as refused:
            read_exercise(changed(**change), where="sample.toml")
        assert all(str(problem).startswith("sample.toml: ") for problem in refused.value.problems)

    def test_an_activity_has_no_poses(self):
        table = changed(kind="activity", unit="minutes", dose__pace_s=0)
        assert read_exercise(table, where="x").kind is Kind.ACTIVITY
        table["steps"][0]["poses"] = [{"at": 0}]
        with pytest.raises(CatalogueError, match="an activity has no poses"):
            read_exercise(table, where="x")

    def test_every_problem_is_told_at_once(self):
        table = changed(kind="game", dose__sets=0, words__es__cue=None)
        with pytest.raises(CatalogueError) as refused:
            read_exercise(table, where="x")
        assert [problem.field for problem in refused.value.problems] == [
            "kind",
            "dose.sets",
            "words.es.cue",
        ]

    def test_a_missing_table_is_one_problem(self):
        with pytest.raises(CatalogueError) as refused:
            read_exercise(changed(dose=None), where="x")
        assert [problem.field for problem in refused.value.problems if "missing" in problem.message]
        assert not [p for p in refused.value.problems if p.field.startswith("dose.a")]


class TestFiles:
    def test_a_file_reads_as_its_table(self, tmp_path):
        assert read_file(write(tmp_path, SAMPLE)) == read_exercise(SAMPLE, where="x")

    def test_broken_toml_is_told_with_line_and_column(self, tmp_path):
        path = tmp_path / "broken.toml"
        path.write_text('key = "broken"\nsets = = 3\n', encoding="utf-8")
        with pytest.raises(CatalogueError, match=r"broken\.toml: .*at line 2, column 8"):
            read_file(path)

    def test_the_file_is_named_by_the_key(self, tmp_path):
        path = write(tmp_path, SAMPLE).rename(tmp_path / "else.toml")
        with pytest.raises(CatalogueError, match=r'else.toml: sample_lift: key: .*"else"'):
            read_file(path)

    def test_a_neighbour_must_exist(self, tmp_path):
        write(tmp_path, SAMPLE)
        with pytest.raises(CatalogueError, match=r'sample_lift: easier: .*"other_lift"'):
            read_folder(tmp_path)

    def test_neighbours_do_not_go_round_in_a_circle(self, tmp_path):
        write(tmp_path, SAMPLE)
        write(tmp_path, changed(key="other_lift", easier="sample_lift"))
        with pytest.raises(CatalogueError, match="go round in a circle"):
            read_folder(tmp_path)

    def test_a_folder_tells_the_problems_of_all_its_files(self, tmp_path):
        write(tmp_path, changed(kind="game"))
        write(tmp_path, changed(key="other_lift", easier=None, unit="hours"))
        with pytest.raises(CatalogueError) as refused:
            read_folder(tmp_path)
        assert {problem.where for problem in refused.value.problems} == {
            "sample_lift.toml",
            "other_lift.toml",
        }

    def test_a_folder_is_read_in_the_order_of_its_keys(self, tmp_path):
        write(tmp_path, SAMPLE)
        write(tmp_path, changed(key="other_lift", easier=None))
        assert [exercise.key for exercise in read_folder(tmp_path)] == ["other_lift", "sample_lift"]


class TestShippedCatalogue:
    @pytest.mark.parametrize("exercise", EXERCISES, ids=lambda exercise: exercise.key)
    def test_a_revision_of_it_reads_equal(self, exercise):
        kept = json.loads(json.dumps(exercise.as_table()))
        assert read_exercise(kept, where="revision") == exercise
        assert read_file(FOLDER / f"{exercise.key}.toml") == exercise

    @pytest.mark.parametrize(
        ("exercise", "step"), STEPS, ids=lambda value: getattr(value, "key", value)
    )
    def test_a_step_reads_at_grade_6_or_below(self, exercise, step):
        assert grade(" ".join(step.words("en").do)) <= 6

    @pytest.mark.parametrize("exercise", EXERCISES, ids=lambda exercise: exercise.key)
    def test_its_other_words_read_at_grade_6_or_below(self, exercise):
        words = exercise.words("en")
        for text in (words.goal, *words.cautions):
            assert grade(text) <= 6, text

    @pytest.mark.parametrize("exercise", EXERCISES, ids=lambda exercise: exercise.key)
    def test_each_language_says_the_same_number_of_things_in_short_sentences(self, exercise):
        assert exercise.words_in.keys() == LANGUAGES.keys()
        cautions = [len(words.cautions) for words in exercise.words_in.values()]
        assert len(set(cautions)) == 1
        for step in exercise.steps:
            assert step.words_in.keys() == LANGUAGES.keys()
            assert len({len(words.do) for words in step.words_in.values()}) == 1
            for language in LANGUAGES:
                for sentence in step.words(language).do:
                    assert sentence[-1] == "."
                    assert len(sentence) <= 120, sentence

    def test_no_two_exercises_share_a_name(self):
        for language in LANGUAGES:
            names = [exercise.words(language).name for exercise in EXERCISES]
            assert len(set(names)) == len(names)

    @pytest.mark.parametrize("exercise", EXERCISES, ids=lambda exercise: exercise.key)
    def test_its_arabic_is_in_arabic_and_names_no_side(self, exercise):
        words = exercise.words("ar")
        said = [words.name, words.goal, words.cue, *words.cautions]
        said += [sentence for step in exercise.steps for sentence in step.words("ar").do]
        for text in said:
            assert not re.search("[A-Za-z0-9\u0660-\u0669]", text), text
            assert not re.search("يمين|يمنى|أيمن|يسار|يسرى|أيسر", text), text

    def test_a_helper_is_mentioned_in_arabic_where_one_is_in_english(self):
        for exercise, step in STEPS:
            said = " ".join(step.words("ar").do)
            assert ("مساعدك" in said) == (step.done_by is DoneBy.HELPER), exercise.key

    def test_weights_are_named_where_a_step_uses_them(self):
        for exercise, step in STEPS:
            needed = {
                LoadMeans.HELD: {"hand_weight", "cup"},
                LoadMeans.CUFF: {"cuff_weight"},
                LoadMeans.BAND: {"band", "rubber_band"},
                LoadMeans.PUTTY: {"putty"},
            }.get(step.load_means)
            if needed:
                at_hand = {thing.value for thing in (*exercise.equipment, *step.equipment)}
                assert needed & at_hand, (exercise.key, step.effort.key)

    def test_a_helper_is_mentioned_where_one_is_needed_and_nowhere_else(self):
        for exercise, step in STEPS:
            text = " ".join(step.words("en").do).lower()
            assert ("helper" in text) == (step.done_by is DoneBy.HELPER), (
                exercise.key,
                step.effort.key,
            )

    def test_exercises_that_stand_alone_are_few_and_known(self):
        alone = {exercise.key for exercise in EXERCISES if not (exercise.easier or exercise.harder)}
        assert alone == {
            "arm_rest_lying",
            "arm_rest_sitting",
            "scar_care",
            "swelling_care",
            "wrist_prayer_stretch",
        }

    def test_every_motion_is_worked_on_by_an_exercise(self):
        assert {motion for exercise in EXERCISES for motion in exercise.moves} == set(MOTIONS)

    def test_each_activity_is_marked_and_counted_apart(self):
        activities = [exercise for exercise in EXERCISES if exercise.kind is Kind.ACTIVITY]
        assert len(activities) >= 4
        assert {exercise.unit for exercise in activities} == {Unit.MINUTES, Unit.TIMES}
        assert len(EXERCISES) - len(activities) >= 48


def test_the_guide_for_clinics_names_every_field_and_word():
    guide = (FIXTURES / "README.md").read_text(encoding="utf-8")
    fields = [
        *SAMPLE,
        *SAMPLE["dose"],
        *SAMPLE["words"]["en"],
        *SAMPLE["steps"][2],
        "harder",
        "view",
    ]
    words = [
        word
        for kind in (Kind, Position, Unit, DoneBy, LoadMeans, Equipment, Joint)
        for word in kind
    ]
    efforts = [effort.key for effort in Effort]
    for name in (*fields, *words, *efforts):
        assert (
            f"`{name}`" in guide
            or f"[{name}]" in guide
            or f"{name}]]" in guide
            or (f"[{name}." in guide)
        ), name


WEAK = re.compile(r"\bweak|débil|ضعيف", re.IGNORECASE)
THIS = re.compile(r"\bth(is|ese)\b|\best(e|a|os|as)\b|هذ[اه]", re.IGNORECASE)


def test_no_words_for_patients_call_an_arm_weak_that_may_be_stiff_or_healing():
    told = [
        sentence
        for exercise in EXERCISES
        for language in LANGUAGES
        for sentence in (
            exercise.words(language).name,
            exercise.words(language).goal,
            exercise.words(language).cue,
            *exercise.words(language).cautions,
            *(said for step in exercise.steps for said in step.words(language).do),
        )
    ]
    assert len(told) > 2000
    assert [sentence for sentence in told if WEAK.search(sentence)] == []


@pytest.mark.parametrize("language", LANGUAGES)
def test_this_arm_is_said_only_where_a_side_stands_above_the_words(language):
    both = [exercise for exercise in EXERCISES if not exercise.sided]
    said = [said for one in both for step in one.steps for said in step.words(language).do]
    assert said
    assert [sentence for sentence in said if THIS.search(sentence)] == []
    names = [exercise.words(language).name for exercise in EXERCISES]
    assert [name for name in names if THIS.search(name)] == []
