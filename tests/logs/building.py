"""Sessions for tests, in few words."""

from logs.adherence import Performance, Session
from tests.plans.building import day


def done(key="a", *amounts, load_g=None, confirmed=True):
    """A performance: by default two full sets of eight."""
    return Performance(key, amounts or (8, 8), load_g, confirmed)


def session(day_number, number, *performances, entry=None, order=None, **changes):
    """An entry from the phone, with one performance of line a unless others are given."""
    given = {"source": "phone", "device": "p", "version": None} | changes
    return Session(
        entry=entry or f"{day_number}/{number}/{given['source']}/{given['device']}",
        day=day(day_number),
        number=number,
        order=order if order is not None else (number or 99),
        performances=performances or (done(),),
        **given,
    )
