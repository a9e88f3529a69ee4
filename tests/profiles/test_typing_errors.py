"""A slip in a profile is met with file, line, field, and what was probably meant."""

from __future__ import annotations

import pytest

from rodtrue.model.errors import InputError
from rodtrue.profiles import parse_profile, profile_text

DIRECT, TWO = profile_text("example-direct")[0], profile_text("example-two-bell-cranks")[0]


def _refused(text: str, change: tuple[str, str]) -> tuple[str, str]:
    assert change[0] in text
    with pytest.raises(InputError) as refusal:
        parse_profile(text.replace(*change, 1), "my-unit.toml")
    return refusal.value.message, refusal.value.next_step


def _line(text: str, of: str) -> int:
    return next(number for number, line in enumerate(text.splitlines(), 1) if line.startswith(of))


@pytest.mark.parametrize(
    ("text", "change", "field", "meant"),
    [
        (DIRECT, ("rod_short_mm =", "rod_shrt_mm ="), "limits.rod_shrt_mm", "Is limits.rod_short_mm meant?"),
        (DIRECT, ("baseline_kpa = [", "baseline_psi = ["), "limits.baseline_psi", "Is limits.baseline_kpa meant?"),
        (DIRECT, ("[limits]", "[limit]"), "limit", "Is limits meant?"),
        (DIRECT, ("layout =", "lay_out ="), "lay_out", "Is layout meant?"),
        (TWO, ("\nhow =", "\nhowto ="), "set_first[0].howto", "Is set_first[0].how meant?"),
        (DIRECT, ("[lever]", "[lever]\nrest_shift_mm = 1"), "lever.rest_shift_mm", "field thresholds.rest_shift_mm:"),
        (DIRECT, ("[lever]", "[lever]\nzzz = 1"), "lever.zzz", "Known in the table lever: free_mm, free_"),
    ],
)  # fmt: skip
def test_an_unknown_field_is_named_with_its_line_and_the_nearest_known_one(text, change, field, meant):
    message, next_step = _refused(text, change)
    line = _line(text.replace(*change, 1), "[limit]" if field == "limit" else field.split(".")[-1] + " =")
    assert message == f"profile my-unit.toml, line {line}: unknown field {field}"
    assert meant in next_step


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (("rod_short_mm = 0.5", 'rod_short_mm = "wide"'), "limits.rod_short_mm must be a number, and is a text"),
        (("invented = true", 'invented = "yes"'), "invented must be true or false, and is a text"),
        (("sweeps = 6", "sweeps = 6.5"), "plan.sweeps must be a whole number"),
        (("baseline_kpa = [5.0, 60.0]", "baseline_kpa = [5.0]"), "limits.baseline_kpa must be a list of 2"),
        (("baseline_kpa = [5.0, 60.0]", 'baseline_kpa = [5.0, "x"]'), "limits.baseline_kpa[1] must be a number"),
        (("[5.0, 60.0]", "[60.0, 5.0]"), "limits.baseline_kpa is [60.0, 5.0]; the lower limit is above"),
        (('layout = "direct"', 'layout = "sideways"'), "layout is 'sideways'; it is one of direct, one-bell-crank"),
        (('action = "push"', 'action = "shove"'), "action is 'shove'; it is one of pull, push"),
    ],
)  # fmt: skip
def test_a_wrong_value_is_named_with_its_line_in_words(change, says):
    message, _ = _refused(DIRECT, change)
    line = _line(DIRECT.replace(*change, 1), change[1].split(" =")[0] if "=" in change[1] else "baseline_kpa")
    assert message.startswith(f"profile my-unit.toml, line {line}: field {says}")


def test_a_missing_field_is_named_where_its_table_is():
    message, _ = _refused(DIRECT, ("rod_long_mm = 1.0", "# "))
    assert message == "profile my-unit.toml: field limits.rod_long_mm is missing"


def test_a_table_that_is_no_table_is_refused():
    message, _ = _refused(DIRECT, ("[lever]", "[leverage]"))
    assert "unknown field leverage" in message
    message, _ = _refused(DIRECT.split("[lever]")[0], ("[limits]", "lever = 3\n[limits]"))
    assert "field lever must be a table, and is a whole number" in message
