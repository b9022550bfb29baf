"""What tests of the patient's phone share."""

import pytest

from tests.logs.homes import enrol_home


@pytest.fixture
def home(world):
    """Return the patient's phone, enrolled."""
    return enrol_home(world.patient)
