"""pandas as an independent computing of adherence and volume, over random clinics.

The same meanings are written a second time as joins and groupings of flat tables, sharing no code
with ours but the values that go in.
"""

import random
from collections import Counter
from dataclasses import replace

import pytest

from logs.adherence import Performance, Session, dose_adherence, session_adherence
from logs.volume import volume
from patients.motions import MOTIONS, Side
from plans.schedule import PauseSpan, Unit, Version, occasions
from tests.plans.building import day, line, window

pd = pytest.importorskip("pandas")

pytestmark = pytest.mark.reference

DAYS = 28
SOURCES = ["phone", "paper", "telephone"]
KEYS = ["a", "b", "c"]


def random_line(source, key):
    """A line whose exercise, side and unit go with its key; the dose changes."""
    shape = {
        "a": {"side": Side.LEFT, "moves": ("shoulder_flexion", "shoulder_abduction")},
        "b": {"side": Side.BOTH, "moves": ("elbow_flexion",), "loads": ("shoulder", "wrist")},
        "c": {"side": Side.RIGHT, "moves": ("shoulder_flexion",), "unit": Unit.SECONDS},
    }[key]
    low = source.randint(4, 10)
    return line(
        key,
        **shape,
        sets=source.randint(1, 3),
        amount_low=low,
        amount_high=low + source.randint(0, 3),
        load_g=source.choice([0, 500, 1000]),
        pace_s=source.choice([4, 6]),
        hold_s=source.choice([0, 3]),
        sessions_per_day=source.randint(1, 3),
        weekdays=frozenset(source.sample(range(7), source.randint(2, 7))),
    )


def random_patient(seed):
    """A plan of up to three versions, with a pause, held occasions and told sessions."""
    source = random.Random(seed)
    starts = [1, *sorted(source.sample(range(2, DAYS), source.randint(0, 2)))]
    versions = [
        Version(
            number,
            day(start),
            tuple(random_line(source, key) for key in source.sample(KEYS, source.randint(1, 3))),
        )
        for number, start in enumerate(starts, start=1)
    ]
    versions[0] = replace(versions[0], lines=tuple(random_line(source, key) for key in KEYS))
    first = source.randint(1, DAYS)
    pauses = [PauseSpan(day(first), day(first + source.randint(0, 4)))] * source.randint(0, 1)
    due = occasions(versions, pauses, window(1, DAYS))
    held = [(o.day, o.number) for o in due if source.random() < 0.05]
    sessions = [
        Session(
            entry=f"{n:03}",
            day=day(source.randint(1, DAYS)),
            number=source.choice([None, 1, 1, 1, 2, 2, 3]),
            source=(told_by := source.choice(SOURCES)),
            device="p" if told_by == "phone" else None,
            order=source.randint(1, 9),
            performances=tuple(
                Performance(
                    key,
                    tuple(source.choice([0, 5, 8, 12]) for _ in range(source.randint(1, 3))),
                    source.choice([None, 0, 750]),
                    source.random() < 0.85,
                )
                for key in source.sample(KEYS, source.randint(1, 3))
            ),
            version=source.choice([None, 1]),
        )
        for n in range(source.randint(5, 60))
    ]
    heard = [d for d in window(1, DAYS).days() if source.random() < 0.7]
    return versions, due, sessions, heard, held


def tables(versions, due, sessions, held):
    """Occasions, counted sessions and their performances, as flat tables."""
    occasion = pd.DataFrame(
        [(o.day, o.number, o.version, o.line_keys, (o.day, o.number) in held) for o in due],
        columns=["day", "number", "version", "keys", "held"],
    )
    session = pd.DataFrame(
        [
            (s.entry, s.day, s.number or 0, SOURCES.index(s.source), s.order, s.version)
            for s in sessions
        ],
        columns=["entry", "day", "number", "source", "order", "seen"],
    )
    session["held"] = [(s.day, s.number) in held for s in sessions]
    session["total"] = [sum(sum(p.amounts) for p in s.performances) for s in sessions]
    session = session[session.total > 0].sort_values(["source", "order", "entry"])
    nth = session.groupby(["day", "number", "source"]).cumcount()
    double = session.assign(nth=nth).duplicated(["day", "number", "nth"]) & (session.number > 0)
    session = session[~double]
    performance = pd.DataFrame(
        [
            (s.entry, p.line_key, sum(p.amounts), p.load_g, p.confirmed)
            for s in sessions
            for p in s.performances
        ],
        columns=["entry", "key", "amount", "load", "confirmed"],
    )
    performance = session.merge(performance[performance.amount > 0], on="entry")
    return occasion, session, performance.sort_values(["order", "entry"])


def sessions_by_pandas(occasion, session, heard):
    due = occasion[~occasion.held].groupby("day").size()
    numbered = session[(session.number > 0) & ~session.held].groupby("day").size()
    every = session.groupby("day").size()
    by_day = pd.DataFrame({"due": due, "numbered": numbered, "every": every}).fillna(0)
    by_day["done"] = by_day[["due", "numbered"]].min(axis=1)
    is_heard = by_day.index.isin(heard)
    of_heard = by_day[is_heard]
    return {
        "due": by_day.due.sum(),
        "done": by_day.done.sum(),
        "extra": (by_day.every - by_day.done).sum(),
        "unheard": (by_day.due - by_day.done)[~is_heard].sum(),
        "percent": 100 * of_heard.done.sum() / of_heard.due.sum() if of_heard.due.sum() else None,
        "uncapped_percent": (
            100 * of_heard.every.sum() / of_heard.due.sum() if of_heard.due.sum() else None
        ),
    }


def dose_by_pandas(versions, occasion, performance, heard):
    """Prescribed, credited, performed and unheard by line key."""
    dose = pd.DataFrame(
        [(v.number, x.key, x.sets * x.amount_low) for v in versions for x in v.lines],
        columns=["version", "key", "each"],
    )
    due = occasion[~occasion.held].explode("keys").rename(columns={"keys": "key"})
    due = due.merge(dose, on=["version", "key"]).groupby(["day", "key"], as_index=False)
    due = due.agg(times=("number", "size"), each=("each", "first"))
    done = performance[performance.confirmed & ~performance.held].copy()
    done["nth"] = done.groupby(["day", "key"]).cumcount()
    done = done.merge(due, on=["day", "key"])
    done = done[done.nth < done.times]
    done["credited"] = done[["amount", "each"]].min(axis=1)
    credited = done.groupby(["day", "key"]).credited.sum()
    by_day = due.set_index(["day", "key"])
    by_day = by_day.assign(prescribed=by_day.times * by_day.each, credited=credited).fillna(0)
    by_day["unheard"] = (by_day.prescribed - by_day.credited).where(
        ~by_day.index.get_level_values("day").isin(heard), 0
    )
    performed = performance[performance.confirmed].groupby("key").amount.sum()
    sums = by_day.groupby("key")[["prescribed", "credited", "unheard"]].sum()
    return sums.join(performed.rename("performed"), how="outer").fillna(0)


def volume_by_pandas(versions, performance):
    """Repetitions, load volume and tension performed, by joint, motion, side and week."""
    lines = {(v.number, x.key): x for v in versions for x in v.lines}
    rows = []
    for _, row in performance[performance.confirmed].iterrows():
        in_force = max(
            (v for v in versions if v.effective_day <= row.day), key=lambda v: v.number
        ).number
        seen = in_force if pd.isna(row.seen) else int(row.seen)
        number = next(
            n for n in (seen, in_force, *range(len(versions), 0, -1)) if (n, row.key) in lines
        )
        x = lines[number, row.key]
        load = x.load_g if pd.isna(row.load) else row.load
        repetitions = 0 if x.unit == "seconds" else row.amount
        tension = row.amount if x.unit == "seconds" else row.amount * (x.pace_s + x.hold_s)
        moved = [(MOTIONS[m].joint, m) for m in x.moves]
        loaded = [(j, "") for j in x.loads if j not in {joint for joint, _ in moved}]
        week, volume_load = row.day.strftime("%G-W%V"), repetitions * load
        rows += [
            (joint, motion, side, week, repetitions, volume_load, tension)
            for joint, motion in moved + loaded
            for side in (["left", "right"] if x.side == "both" else [str(x.side)])
        ]
    columns = ["joint", "motion", "side", "week", "repetitions", "load", "tension"]
    table = pd.DataFrame(rows, columns=columns)
    return table.groupby(columns[:4]).sum()


@pytest.mark.parametrize("seed", range(60))
def test_a_random_patient(seed):
    versions, due, sessions, heard, held = random_patient(seed)
    given = {
        "versions": versions,
        "occasions": due,
        "sessions": sessions,
        "held": held,
        "window": window(1, DAYS),
        "today": day(DAYS + 1),
    }
    occasion, session, performance = tables(versions, due, sessions, set(held))

    by_session = session_adherence(**given, heard=heard)
    for name, expected in sessions_by_pandas(occasion, session, heard).items():
        assert getattr(by_session, name) == (expected and pytest.approx(expected)), name

    by_line = dose_adherence(**given, heard=heard).by_line()
    expected = dose_by_pandas(versions, occasion, performance, heard)
    assert {key for key, _ in by_line} == set(expected.index)
    for (key, _), tally in by_line.items():
        for name in ("prescribed", "credited", "performed", "unheard"):
            assert getattr(tally, name) == expected.loc[key, name], (key, name)

    performed = {
        (r.joint.value, r.motion or "", r.side.value, r.week): (
            r.performed.repetitions,
            r.performed.load_volume_g,
            r.performed.tension_s,
        )
        for r in volume(**given).rows
        if r.performed.tension_s
    }
    table = volume_by_pandas(versions, performance)
    assert performed == {tuple(map(str, index)): tuple(row) for index, row in table.iterrows()}


def test_the_random_patients_have_what_matters():
    """Without these the comparison would prove little."""
    seen = Counter()
    for seed in range(60):
        versions, due, sessions, heard, held = random_patient(seed)
        found = session_adherence(
            versions=versions,
            occasions=due,
            sessions=sessions,
            heard=heard,
            held=held,
            window=window(1, DAYS),
            today=day(DAYS + 1),
        )
        seen["versions"] += len(versions) > 1
        seen["held"] += found.held > 0
        seen["perhaps the same"] += bool(found.perhaps_same)
        seen["extra"] += found.extra > 0
        seen["unheard"] += found.unheard > 0
    assert len(seen) == 5
    assert min(seen.values()) >= 20
