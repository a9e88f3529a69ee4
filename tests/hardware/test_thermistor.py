"""Thermistor: the host's conversion and the pages' codes against a published table.

The table is the resistance table of the thermistor type 103AT (10 kOhm at 25 degC, B(25/85) 3435 K), as its data
sheet prints it; recalled from memory, then compared with a public copy, all values equal.
"""

import circuits
import pytest

from rodtrue.capture.scaling import fluid_degc
from rodtrue.virtual import sensors

TABLE_KOHM = {
    0: 27.28, 5: 22.05, 10: 17.96, 15: 14.69, 20: 12.09, 25: 10.00, 30: 8.313, 35: 6.940, 40: 5.827, 45: 4.911,
    50: 4.160, 55: 3.536, 60: 3.020, 65: 2.588, 70: 2.228, 75: 1.924, 80: 1.668, 85: 1.451, 90: 1.266, 95: 1.108,
    100: 0.9731, 105: 0.8572, 110: 0.7576,
}  # fmt: skip


def code_of(kohm: float) -> int:
    return round(65536 * kohm / (kohm + 10.0))


@pytest.mark.parametrize(("degc", "kohm"), TABLE_KOHM.items())
def test_host_converts_the_published_table_as_the_page_states(degc, kohm):
    found = fluid_degc(code_of(kohm))
    assert found == pytest.approx(degc, abs=0.6 if 15 <= degc <= 100 else 1.2)


def test_resistances_at_25_and_85_degrees_give_the_stated_b():
    """B = ln(R25 / R85) / (1/T25 - 1/T85), the definition in IEC 60539-1 (from memory)."""
    import math

    b = math.log(TABLE_KOHM[25] / TABLE_KOHM[85]) / (1 / 298.15 - 1 / 358.15)
    assert b == pytest.approx(circuits.RATINGS.thermistor_beta_k, rel=0.001)


@pytest.mark.parametrize("degc", [15, 25, 35, 80])
def test_codes_to_expect_are_those_of_the_table(degc):
    one_degree = abs(code_of(TABLE_KOHM[degc]) - code_of(TABLE_KOHM[degc + 5])) / 5
    assert circuits.values()[f"thermistor_{degc}_code"] == pytest.approx(code_of(TABLE_KOHM[degc]), abs=one_degree)


def test_circuit_host_and_virtual_fixture_mean_the_same_thermistor():
    ratings = circuits.RATINGS
    assert ratings.thermistor_beta_k == sensors.THERMISTOR_BETA_K
    assert ratings.thermistor_ohm == sensors.THERMISTOR_OHM_25C
    assert ratings.thermistor_pull_up_ohm == sensors.THERMISTOR_PULL_UP_OHM


@pytest.mark.parametrize("code", [0, 1300, 65520])
def test_an_open_or_shorted_thermistor_has_no_temperature(code):
    assert fluid_degc(code) is None
