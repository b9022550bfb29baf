"""Deliveries at the same moment: a real database, several connections."""

from concurrent.futures import ThreadPoolExecutor
from threading import Barrier
from uuid import UUID, uuid5

import pytest
from django.db import connection

from logs.actions import Outcome, Performed, Told, record_revision
from logs.models import Entry, Performance, Revision
from tests.world import FIRST_DAY, make_world

ENTRY = UUID("44444444-4444-4444-8444-444444444444")
AT_ONCE = 6

pytestmark = pytest.mark.django_db(transaction=True)


def at_once(world, revisions):
    """Deliver revisions of one entry, all at the same moment, each over a connection of its own."""
    line = world.version.lines.first()
    start = Barrier(len(revisions))

    def deliver(number):
        try:
            start.wait()
            return record_revision(
                patient=world.patient,
                entry=ENTRY,
                revision=uuid5(ENTRY, number),
                replaces=None,
                told=Told(FIRST_DAY, 1, "phone", world.version, (Performed(line, (8, 8)),)),
            )
        finally:
            connection.close()

    with ThreadPoolExecutor(len(revisions)) as threads:
        return sorted(threads.map(deliver, revisions))


def test_one_revision_delivered_many_times_at_once_is_stored_once():
    found = at_once(make_world(), ["a"] * AT_ONCE)
    assert found == [Outcome.DUPLICATE] * (AT_ONCE - 1) + [Outcome.STORED]
    assert (Entry.objects.count(), Revision.objects.count(), Performance.objects.count()) == (
        1,
        1,
        1,
    )


def test_many_revisions_of_one_entry_at_once_leave_one_current():
    found = at_once(make_world(), list("abcdef"))
    assert found == [Outcome.STORED] * AT_ONCE
    assert Revision.objects.count() == AT_ONCE
    assert Revision.objects.filter(is_current=True).count() == 1
    last = Revision.objects.latest("received_at")
    assert last.is_current
