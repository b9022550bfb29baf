"""The sessions as they were told: what was typed is escaped, wherever it stands."""

from dataclasses import replace
from datetime import UTC, date, datetime
from types import SimpleNamespace

from logs.counting import Performance, Session
from logs.pain import PainReport
from logs.queries import Strike, Telling
from logs.session_items import session_items
from tests.plans.building import line, version

MONDAY = date(2026, 3, 2)
RECEIVED = datetime(2026, 3, 2, 9, 5, tzinfo=UTC)
ONE, TWO = (f"00000000-0000-4000-8000-00000000000{n}" for n in (1, 2))
TYPED = '<b onclick="x">&'


def telling(entry=ONE, performances=(), strike=None, **changes):
    return Telling(
        uuid="r",
        session=Session(entry, MONDAY, None, "phone", None, 1, tuple(performances)),
        pain=PainReport(entry, MONDAY),
        effort=None,
        note="",
        began_at=RECEIVED,
        received_at=RECEIVED,
        recorded_by="",
        phone="",
        strike=strike,
        said=(),
    )._replace(**changes)


def items(*tellings, earlier=None, same=(), words=None):
    plan = version(1, MONDAY, replace(line("a"), name=TYPED))
    review = SimpleNamespace(
        schedule=SimpleNamespace(versions=[plan]),
        sessions=SimpleNamespace(perhaps_same=same),
        pairs=words or {},
        tellings=tellings,
    )
    return session_items(review, tellings, earlier or {}, patient=1, address="a=1&b=2", token=TYPED)


def test_what_was_typed_and_the_address_are_escaped():
    done = [Performance("a", (8,)), Performance(TYPED, (8,))]
    shown = items(
        telling(performances=done, note=TYPED, recorded_by=TYPED),
        telling(TWO, strike=Strike(RECEIVED, TYPED, TYPED)),
        earlier={ONE: [telling(note=TYPED, recorded_by=TYPED)]},
        same=[(ONE, TWO)],
    )
    assert "<b on" not in shown
    assert 'onclick="x"' not in shown
    assert "a=1&b" not in shown
    # Two lines, two notes, who typed them, who struck out and why, the tokens of four forms.
    assert shown.count("&lt;b onclick=&quot;x&quot;&gt;&amp;") == 12
    assert shown.count("?a=1&amp;b=2") == 4


def test_nothing_done_and_a_strike_by_nobody_are_said():
    shown = items(telling(strike=Strike(RECEIVED, "", "twice")))
    assert "<s><p>nothing done</p>" in shown
    assert "Struck out by a command on 2 Mar 2026: twice. It counts nowhere." in shown
    assert "Let it count again" in shown
    assert "Strike out" not in shown


def test_a_load_a_count_not_confirmed_and_zeros_are_said():
    done = [
        Performance("a", (8, 0), load_g=1500),
        Performance("a", (), load_g=0, confirmed=False),
    ]
    shown = items(telling(performances=done, pain=PainReport(ONE, MONDAY, worst=0), effort=0))
    assert "<b>8 + 0</b> at 1.5\N{NO-BREAK SPACE}kg; " in shown
    assert "<b>0</b> at no load" in shown
    assert "not confirmed: no dose" in shown
    assert "Pain before –, worst 0, after –, next morning –. Effort 0. " in shown


def test_what_a_correction_replaced_stands_with_when_it_came():
    shown = items(telling(), earlier={ONE: [telling(note="before")]})
    assert "Before, as received 2 Mar 2026, 09:05 (phone) for Mon 2 Mar, extra session" in shown
    assert "<del><p>nothing done</p><p>“before”</p></del>" in shown


def test_two_entries_are_the_same_or_not_as_was_said():
    both = telling(ONE), telling(TWO)
    assert items(*both, same=[(ONE, TWO)]).count("perhaps the same as another") == 2
    same = items(*both, words={frozenset((ONE, TWO)): True})
    assert same.count("The same session as") == same.count(": the two count once") == 2
    two = items(*both, words={frozenset((ONE, TWO)): False})
    assert two.count("Another session than") == two.count("Take that back") == 2
    assert "count once" not in two
