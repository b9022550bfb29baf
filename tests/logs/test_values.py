"""The values that the pure modules pass on cannot be changed by whoever receives them."""

import dataclasses
import inspect

import pytest

from logs import adherence, counting, heard, pain, tally, trend, volume
from plans import schedule

VALUES = {
    value
    for module in (adherence, counting, heard, pain, schedule, tally, trend, volume)
    for value in vars(module).values()
    if inspect.isclass(value) and dataclasses.is_dataclass(value)
}


@pytest.mark.parametrize("value", sorted(VALUES, key=lambda value: value.__qualname__))
def test_is_frozen(value):
    assert value.__dataclass_params__.frozen
