"""Finding exercises of the catalogue by words and by choice. Pure.

Each word typed must begin a word of the exercise: of its name, its joints and motions, its
positions, its equipment or its steps. An effort typed as a whole word ("active") also says which
step is meant.
"""

import re
import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

from patients.motions import MOTIONS, Effort, Joint
from plans.catalogue import DoneBy, Equipment, Exercise, Kind, LoadMeans, Position, Step
from plans.exercise import MovementError, movement_of

# The trade's own short forms, beside the words that stand on the page; common practice, no source.
_ALSO_POSITION = {
    Position.LYING_BACK: "supine",
    Position.LYING_SIDE: "sidelying",
    Position.SITTING: "seated",
    Position.SITTING_AT_TABLE: "seated",
}
_ALSO_EFFORT = {
    Effort.PASSIVE: "prom",
    Effort.SELF_ASSISTED: "aarom assisted",
    Effort.GRAVITY_REDUCED: "gravity reduced eliminated",
    Effort.ACTIVE: "arom",
    Effort.RESISTED: "strengthening",
}
_ALSO_MOTION = {"external_rotation": "er outward", "internal_rotation": "ir inward"}
_EFFORT_WORDS = {
    word: effort for effort in Effort for word in (effort.label, *effort.label.split("-")[1:])
}


@dataclass(frozen=True)
class Indexed:
    """An exercise with the words that it is found by; those of its name count most."""

    exercise: Exercise
    name_words: tuple[str, ...]
    other_words: frozenset[str]
    joints: frozenset[Joint]
    positions: frozenset[Position]

    @cached_property
    def starts(self) -> str:
        """All other words in one text, each after a space: what is typed begins one or does not."""
        return f" {' '.join(sorted(self.other_words))}"

    @cached_property
    def alone(self) -> frozenset[Effort]:
        """The steps that one hand does alone: without a helper and without the other hand."""
        steps = self.exercise.steps
        return frozenset(step.effort for step in steps if _is_alone(self.exercise, step))


def _is_alone(exercise: Exercise, step: Step) -> bool:
    helped = step.done_by is DoneBy.HELPER or step.load_means is LoadMeans.OTHER_HAND
    if helped or not exercise.sided or step.effort is Effort.SELF_ASSISTED:
        return False
    if not step.poses:
        return step.effort is not Effort.PASSIVE
    try:
        return movement_of(exercise, step).other_arm == "rests"
    except MovementError:  # what can't be read is not known to need one hand only
        return False


@dataclass(frozen=True)
class Wanted:
    """What is looked for: words, and choices that narrow it (None: any).

    ``at_home`` is all that the patient has; nothing named leaves that open.
    """

    words: str = ""
    joint: Joint | None = None
    position: Position | None = None
    effort: Effort | None = None
    at_home: frozenset[Equipment] = frozenset()
    is_alone: bool = False
    is_lying: bool = False

    @property
    def narrows_steps(self) -> bool:
        """Whether it says which steps will do, beside the words."""
        return bool(self.effort or self.at_home or self.is_alone or self.is_lying)

    @property
    def step(self) -> Effort | None:
        """The step that is meant: chosen, or named among the words."""
        named = (_EFFORT_WORDS.get(word) for word in self.words.casefold().split())
        return self.effort or next((effort for effort in named if effort), None)


@dataclass(frozen=True)
class Hit:
    """An exercise found, and the step that an unspecific "add" means."""

    exercise: Exercise
    effort: Effort


def plain_words(text: str) -> list[str]:
    """Return the words of a text without case, accents and punctuation.

    >>> plain_words("Omóplato, self-assisted")
    ['omoplato', 'self', 'assisted']
    """
    plain = unicodedata.normalize("NFKD", text.casefold())
    return re.findall(r"[a-z0-9]+", "".join(c for c in plain if not unicodedata.combining(c)))


def indexed(exercise: Exercise) -> Indexed:
    """Return an exercise with the words that it is found by."""
    motions = [MOTIONS[key] for key in exercise.moves]
    # A joint that only carries finds an exercise where nothing moves; else it would find too many.
    joints = frozenset(motion.joint for motion in motions) or frozenset(exercise.loads)
    positions = frozenset({exercise.position} | {step.position for step in exercise.steps})
    texts = [exercise.words(language).goal for language in ("en", "es")]
    texts += [exercise.words("es").name, exercise.key]
    texts += [motion.label for motion in motions] + [joint.label for joint in joints]
    texts += [also for key in exercise.moves for end, also in _ALSO_MOTION.items() if end in key]
    texts += [f"{place.label} {_ALSO_POSITION.get(place, '')}" for place in positions]
    texts += [thing.label for step in exercise.steps for thing in step.equipment]
    texts += [thing.label for thing in exercise.equipment]
    texts += [f"{step.effort.label} {_ALSO_EFFORT[step.effort]}" for step in exercise.steps]
    texts += ["helper" for step in exercise.steps if step.done_by == "helper"]
    if exercise.kind is Kind.ACTIVITY:
        texts.append("activity")
    return Indexed(
        exercise=exercise,
        name_words=tuple(plain_words(exercise.words("en").name)),
        other_words=frozenset(plain_words(" ".join(texts))),
        joints=joints,
        positions=positions,
    )


def found_exercises(catalogue: Iterable[Indexed], wanted: Wanted) -> list[Hit]:
    """Return the exercises that fit, those fitting by name first, then by name."""
    typed = plain_words(wanted.words)
    found = []
    for entry in catalogue:
        rank = _rank(entry, typed)
        efforts = _fitting_steps(entry, wanted)
        if rank is None or not efforts:
            continue
        effort = wanted.step if wanted.step in efforts else efforts[0]
        found.append((rank, entry.exercise.words("en").name, Hit(entry.exercise, effort)))
    return [hit for _, _, hit in sorted(found, key=lambda row: row[:2])]


def _fitting_steps(entry: Indexed, wanted: Wanted) -> list[Effort]:
    """Return the steps that will do, from the lowest."""
    if wanted.joint is not None and wanted.joint not in entry.joints:
        return []
    if wanted.position is not None and wanted.position not in entry.positions:
        return []
    return [step.effort for step in entry.exercise.steps if _fits(entry, step, wanted)]


def _fits(entry: Indexed, step: Step, wanted: Wanted) -> bool:
    needed = {*entry.exercise.equipment, *step.equipment}
    return (
        (wanted.effort is None or step.effort is wanted.effort)
        and (not wanted.at_home or needed <= wanted.at_home)
        and (not wanted.is_alone or step.effort in entry.alone)
        and (not wanted.is_lying or step.position in (Position.LYING_BACK, Position.LYING_SIDE))
    )


def _rank(entry: Indexed, typed: Sequence[str]) -> int | None:
    """How far the words are from the name: 0 is nearest; None where a word fits nothing."""
    if " ".join(entry.name_words).startswith(" ".join(typed)):
        return 0
    rank = 1
    for word in typed:
        if entry.name_words[0].startswith(word):
            continue
        if any(name.startswith(word) for name in entry.name_words):
            rank += 1
        elif f" {word}" in entry.starts:
            rank += 3
        else:
            return None
    return rank
