"""The sessions of a review as they were told, as markup, with the forms to strike one out, to let
it count again, and to say whether two entries are one session.

Whatever a person may have typed, and every address, passes through ``escape``.
"""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from datetime import datetime
from html import escape

from django.urls import reverse
from django.utils.safestring import SafeString, mark_safe
from django.utils.timezone import localtime

from clinic.templatetags.words import dash, kilograms, short_day
from logs.obstacles import Obstacle, SaidOfLine
from logs.queries import Telling
from logs.review import ReviewContext
from logs.review_page import newest_lines
from patients.motions import Effort

type Pair = tuple[str, str, str]
"""Another entry that is perhaps the same session, its label, and the word: same, two or none."""


def session_items(
    review: ReviewContext,
    tellings: Sequence[Telling],
    earlier: Mapping[str, Sequence[Telling]],
    *,
    patient: int,
    address: str,
    token: str,
) -> SafeString:
    """An article for each session; ``earlier`` has by entry what corrections replaced.

    ``address`` is the query that shows the page again, ``token`` what a form is trusted by.
    """
    names = {key: line.name for key, line in newest_lines(review).items()}
    pairs, query = _pairs(review), escape(address)
    trusted = f'<input type="hidden" name="csrfmiddlewaretoken" value="{escape(token)}">'

    def form(name: str, *args: str) -> str:
        return f'method="post" action="{reverse(name, args=[patient, *args])}?{query}">{trusted}'

    def pair_form(entry: str, pair: Pair) -> str:
        other, label, word = pair
        is_two = word == "two"
        how = "Another session than" if is_two else "Perhaps the same session as"
        choice = '<button class="plain" name="word" value="unsaid">Take that back</button>'
        if word == "same":
            how = "The same session as"
        elif not word:
            choice = (
                '<button class="second tiny" name="word" value="same">The same</button> '
                '<button class="second tiny" name="word" value="two">Two sessions</button>'
            )
        return (
            f'<form class="pair" {form("pair")}<input type="hidden" name="one" value="{entry}">'
            f'<input type="hidden" name="other" value="{other}"><p class="small">{how} '
            f'<a href="#entry-{other}">{escape(label)}</a>'
            f"{'' if is_two else ': the two count once'}.</p>{choice}</form>"
        )

    def item(telling: Telling) -> str:
        entry, strike = telling.session.entry, telling.strike
        before, alike = earlier.get(entry, ()), pairs.get(entry, ())
        flags, told, end = "", _told(telling, names), ""
        if any(not word for *_, word in alike):
            flags += '<span class="flag warn">perhaps the same as another</span> '
        if strike:
            flags += '<span class="flag bad">struck out</span> '
            told = (
                f'<s>{told}</s><p class="small">Struck out by {escape(strike.by or "a command")} '
                f"on {_moment(strike.at)}: {escape(strike.reason)}. It counts nowhere.</p>"
            )
            end = (
                f'<form {form("entry_restore", entry)}<button class="plain">'
                "Let it count again</button></form>"
            )
        else:
            end = (
                f"<details><summary>Strike out</summary><form {form('entry_strike', entry)}"
                f'<label for="why-{entry}">Why</label><input id="why-{entry}" name="reason" '
                'maxlength="200" required><button class="danger tiny">Strike out</button></form>'
                "</details>"
            )
        if before:
            flags += '<span class="flag">corrected</span>'
        told += "".join(pair_form(entry, pair) for pair in alike)
        for one in before:
            told += (
                f'<p class="small quiet">Before, as received {_moment(one.received_at, "%H:%M")} '
                f"({escape(source_words(one))}) for {_when(one)}:</p>"
                f"<del>{_told(one, names)}</del>"
            )
        return (
            f'<article class="session{" struck" if strike else ""}" id="entry-{entry}"><header>'
            f'<h3>{_when(telling)}</h3><p class="small quiet">{escape(source_words(telling))}</p>'
            f'{flags}</header><div class="told">{told}</div>{end}</article>'
        )

    return mark_safe("".join(map(item, tellings)))  # noqa: S308 (what was typed is escaped)


def _told(telling: Telling, names: Mapping[str, str]) -> str:
    """What a telling says was done, of pain and effort, and its note."""
    said, pain = {line.line_key: line for line in telling.said}, telling.pain
    lines = []
    for done in telling.session.performances:
        key = done.line_key
        words = f"{escape(names.get(key, key))} <b>{' + '.join(map(str, done.amounts)) or '0'}</b>"
        if done.load_g is not None:
            words += f" at {kilograms(done.load_g) or 'no load'}"
        if beside := said_words(said.get(key), key in pain.named):
            words += f' <span class="quiet">({escape(beside)})</span>'
        if not done.confirmed:
            words += ' <span class="flag">not confirmed: no dose</span>'
        lines.append(words)
    felt = ""
    if pain.is_told:
        felt = (
            f"Pain before {dash(pain.before)}, worst {dash(pain.worst)}, after {dash(pain.after)}, "
            f"next morning {dash(pain.next_morning)}. "
        )
    if telling.effort is not None:
        felt += f"Effort {telling.effort}. "
    note = f"“{escape(telling.note)}”" if telling.note else ""
    return f"<p>{'; '.join(lines) or 'nothing done'}</p><p>{felt}{note}</p>"


def said_words(said: SaidOfLine | None, hurt: bool = False) -> str:
    """Return what a session says of a line beside the amounts.

    >>> said_words(SaidOfLine("a", "skipped", "no_time"), hurt=True)
    'skipped: no time; named with the pain'
    >>> said_words(SaidOfLine("a", None, "too_hard", "self_assisted"))
    'the easier step, self-assisted; too hard'
    """
    words = []
    if said:
        why = Obstacle(said.why).label if said.why else ""
        if said.step:
            words.append(f"the easier step, {Effort.from_key(said.step).label}")
        if said.ended:
            words.append(f"{said.ended}: {why}" if why else said.ended)
        elif why:
            words.append(why)
    return "; ".join([*words, *(["named with the pain"] if hurt else [])])


def source_words(telling: Telling) -> str:
    """Return how it came in, and by whom; of a phone's whether it was put in after the session."""
    source, by = telling.session.source, telling.recorded_by
    if by:
        return f"{source}, typed by {by}"
    is_later = source == "phone" and telling.began_at is None
    return f"{source}, put in afterwards" if is_later else source


def _occasion(telling: Telling) -> str:
    number = telling.session.number
    return f"session {number}" if number else "extra session"


def _when(telling: Telling) -> str:
    return f"{short_day(telling.session.day)}, {_occasion(telling)}"


def _moment(at: datetime, clock: str = "") -> str:
    here = localtime(at)
    return f"{here.day} {here:%b %Y}{f', {here:{clock}}' if clock else ''}"


def _pairs(review: ReviewContext) -> dict[str, list[Pair]]:
    """The other entries that each is or was perhaps the same as, with what was said."""
    words = {frozenset(pair): "" for pair in review.sessions.perhaps_same}
    words |= {pair: "same" if is_same else "two" for pair, is_same in review.pairs.items()}
    found: dict[str, list[Pair]] = defaultdict(list)
    if not words:
        return found
    labels = {
        telling.session.entry: f"{telling.session.source}, {_occasion(telling)}"
        for telling in review.tellings
    }
    for pair, word in words.items():
        if pair <= labels.keys():
            one, other = sorted(pair)
            for entry, there in ((one, other), (other, one)):
                found[entry].append((there, labels[there], word))
    return found
