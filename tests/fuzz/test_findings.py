"""What fuzzing has found, each kept. Findings in captures are in tests/capture/test_damaged_notes.py."""

from __future__ import annotations

import re

import pytest

from rodtrue.model.errors import InputError
from rodtrue.profiles import parse_profile, profile_text


@pytest.mark.parametrize("place", ["1e308", "-1e308", "inf", "1e150"])
def test_a_geometry_beyond_any_vehicle_is_refused_and_not_computed(place: str) -> None:
    text, where = profile_text("example-two-bell-cranks")
    changed, count = re.subn(r"(?m)^(\w*pivot\w*|\w*pin\w*) = \[[-0-9.]+,", rf"\g<1> = [{place},", text, count=1)
    assert count == 1
    with pytest.raises(InputError, match="field geometry holds a place more than 10000 mm off"):
        parse_profile(changed, where)


@pytest.mark.parametrize("ratio", ["1e-320", "1e-9", "1e300"])
def test_an_axle_ratio_that_no_unit_has_is_refused_and_not_divided_by(ratio: str) -> None:
    text, where = profile_text("example-two-bell-cranks")
    changed, count = re.subn(r"(?m)^axle_ratio = .*$", f"axle_ratio = {ratio}", text)
    assert count == 1
    with pytest.raises(InputError, match=r"field shifts\.governor\.axle_ratio is .*, which no unit has"):
        parse_profile(changed, where)
