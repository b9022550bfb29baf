"""How a line is counted aloud on the phone: its pace and holds, and the words that are spoken."""

from django.utils.translation import gettext, ngettext

from patients.motions import Effort
from plans.plan_page import ShownLine
from plans.stopped import Stop, line_movement

# A revision never changes, and its hash names its content: read once a process.
_own: dict[tuple[str, Effort, Stop | None], tuple[float, tuple[float, ...]]] = {}

MIDDLE = (0.5,)


def count_of(shown: ShownLine) -> dict[str, object] | None:
    """Return what the count of a line needs: seconds, and where in a repetition its holds are.

    A repetition takes ``pace_s``, the prescribed or else the step's own, and ``hold_s`` more at
    each of ``holds``, shares of the pace. None where no clock can count: for times of an activity,
    and for repetitions of which nobody says how long they take.
    """
    line = shown.line
    if line.unit == "times":
        return None
    own_s, holds = _own_pace(shown)
    pace_s = float(line.pace_s) or own_s
    if line.unit == "repetitions" and not pace_s:
        return None
    return {
        "pace_s": pace_s,
        "hold_s": line.hold_s,
        "holds": holds,
        "rest_s": line.rest_s,
    }


def _own_pace(shown: ShownLine) -> tuple[float, tuple[float, ...]]:
    if not shown.step.poses:
        return 0.0, MIDDLE
    key = (shown.line.revision.table_hash, shown.step.effort, shown.line.stop)
    if key not in _own:
        movement = line_movement(shown.exercise, shown.step, shown.line.stop)
        pace_s = movement.own_pace_s
        holds = tuple(round(pose.at_s / pace_s, 3) for pose in movement.poses if pose.hold)
        _own[key] = pace_s, holds or MIDDLE
    return _own[key]


_EACH_PLURAL = {"zero": 0, "one": 1, "two": 2, "few": 3, "many": 11, "other": 100}
"""A number that falls into each of CLDR's plural categories, in languages that have it."""


def counted(one: str, more: str) -> dict[str, str]:
    """Return words with a number ``{n}`` by CLDR plural category, in the language switched on.

    A category is left out where its words are those of ``other``. ``one`` and ``more`` are the
    English words for one and for more.
    """
    words = {plural: ngettext(one, more, n) for plural, n in _EACH_PLURAL.items()}
    return {name: said for name, said in words.items() if name == "other" or said != words["other"]}


def count_words() -> dict[str, str | dict[str, str]]:
    """Return the words of the count, in the language that is switched on."""
    return {
        "count_set": gettext("Set {n} of {m}"),
        "count_ready": gettext("Get ready"),
        "count_hold": gettext("Hold"),
        "count_hold_s": counted("Hold: {n} second", "Hold: {n} seconds"),
        "count_let_go": gettext("Let go"),
        "count_begin": gettext("Begin"),
        "count_left_s": counted("{n} second more", "{n} seconds more"),
        "count_left_min": counted("{n} minute more", "{n} minutes more"),
        "count_rest": gettext("Rest"),
        "count_rest_s": counted("Rest: {n} second", "Rest: {n} seconds"),
        "count_end": gettext("That is done"),
        "count_next": gettext("Next: {name}"),
        "count_last": gettext("That was the last exercise"),
        "count_paused": gettext("Paused"),
        "count_pause": gettext("Pause"),
        "count_go_on": gettext("Go on"),
        "count_silent": gettext("This phone has no voice for your language. It counts with tones."),
    }
