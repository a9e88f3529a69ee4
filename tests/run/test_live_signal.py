"""What a run shows at once: sweeps counted, pace, notices; an indication without a verdict's words."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from rodtrue.model.profile import Thresholds
from rodtrue.run.live import LiveSignal, indication
from rodtrue.run.pace import Sweep, pace_advice, wanted_half_s

RATE_HZ = 500
ZERO_MM = 12.0
BASELINE_KPA = 25.0
VERDICT_WORDS = ("long", "short", "correct", "undecided", "no result")


def _live(**thresholds: float) -> LiveSignal:
    live = LiveSignal(Thresholds(**thresholds), least_sweep_mm=8.0)
    live.zero_mm, live.baseline_kpa = ZERO_MM, BASELINE_KPA
    return live


def _sweep(top_mm: float, way_s: float, rest_s: float = 1.0, back_to_mm: float = 0.0) -> NDArray[np.float64]:
    rest, way = round(rest_s * RATE_HZ), round(way_s * RATE_HZ)
    return np.concatenate(
        [np.zeros(rest), np.linspace(0, top_mm, way), np.linspace(top_mm, back_to_mm, way), np.full(rest, back_to_mm)]
    )


def _feed(live: LiveSignal, above_mm: NDArray[np.float64], onset_mm: float = 3.0, seed: int = 0) -> None:
    """Feed travel above zero in uneven pieces, with pressure from a 12 kPa/mm ramp and 1 kPa of noise."""
    rng = np.random.default_rng(seed)
    pressure = BASELINE_KPA + 12.0 * np.maximum(above_mm - onset_mm, 0.0) + rng.normal(0.0, 1.0, len(above_mm))
    time_s = np.arange(len(above_mm)) / RATE_HZ
    for piece in np.array_split(np.arange(len(above_mm)), 37):
        live.feed(time_s[piece], ZERO_MM + above_mm[piece], pressure[piece])


def test_each_sweep_is_counted_once_with_its_speeds() -> None:
    live = _live()
    _feed(live, np.concatenate([_sweep(30.0, 3.0), _sweep(30.0, 1.5)]))
    assert len(live.sweeps) == 2
    assert live.sweeps[0].opening_mm_per_s == pytest.approx(10.0, rel=0.05)
    assert live.sweeps[1].closing_mm_per_s == pytest.approx(20.0, rel=0.05)


def test_a_short_opening_is_no_sweep() -> None:
    live = _live()
    _feed(live, np.concatenate([_sweep(5.0, 1.0), _sweep(30.0, 2.0)]))
    assert len(live.sweeps) == 1


def test_tremor_neither_ends_nor_doubles_a_sweep() -> None:
    live = _live()
    above = _sweep(30.0, 3.0)
    _feed(live, above + 0.2 * np.sin(2 * np.pi * 4 * np.arange(len(above)) / RATE_HZ) * (above > 1.0))
    assert len(live.sweeps) == 1


def test_a_pin_that_stays_off_its_stop_is_said_once_and_the_sweep_counts() -> None:
    live = _live()
    _feed(live, np.concatenate([_sweep(30.0, 2.0, back_to_mm=0.9), np.full(1000, 0.9)]))
    assert [notice.code for notice in live.notices] == ["travel_not_returned"]
    assert live.notices[0].severity == "stop"
    assert len(live.sweeps) == 1


def test_pressure_that_stays_up_at_rest_is_said() -> None:
    live = _live()
    _feed(live, _sweep(30.0, 2.0))
    time_s = 100.0 + np.arange(1000) / RATE_HZ
    live.feed(time_s, np.full(1000, ZERO_MM), np.full(1000, BASELINE_KPA + 60.0))
    assert [notice.code for notice in live.notices] == ["pressure_not_returned"]


def test_a_clean_run_says_nothing() -> None:
    live = _live()
    _feed(live, np.concatenate([_sweep(30.0, 3.0), _sweep(40.0, 1.5)]))
    assert live.notices == []


def test_pressure_over_the_limit_is_said_in_both_systems() -> None:
    live = _live(pressure_limit_kpa=200.0)
    _feed(live, _sweep(30.0, 2.0))
    (notice,) = live.notices
    assert notice.code == "pressure_over_limit"
    assert "29.0 psi (200 kPa)" in notice.text


@pytest.mark.parametrize("onset_mm", [-12.0, -2.0, 0.0, 3.0, 11.0])
def test_the_indication_carries_the_ramp_back_and_uses_no_word_of_a_verdict(onset_mm: float) -> None:
    live = _live()
    _feed(live, np.concatenate([_sweep(35.0, 3.0), _sweep(35.0, 2.0)]), onset_mm)
    assert live.onset_mm == pytest.approx(onset_mm, abs=0.3)
    assert f"({live.onset_mm:+z.2f} mm)" in indication(live)
    assert not any(word in indication(live).lower() for word in VERDICT_WORDS)


def test_without_a_ramp_the_indication_says_so() -> None:
    live = _live()
    _feed(live, _sweep(30.0, 2.0), onset_mm=50.0)
    assert "no clear ramp" in indication(live)


def test_too_fast_and_uneven_sweeps_are_told_so_and_good_ones_asked_for_the_other_pace() -> None:
    assert "Too fast" in pace_advice([Sweep(40.0, 80.0, 40.0)], 60.0)
    assert "Close as slowly" in pace_advice([Sweep(40.0, 10.0, 30.0)], 60.0)
    assert "quicker" in pace_advice([Sweep(40.0, 13.0, 13.0)], 60.0)
    assert "slower" in pace_advice([Sweep(40.0, 13.0, 13.0), Sweep(40.0, 25.0, 25.0)], 60.0)


def test_a_breach_that_goes_on_is_said_again() -> None:
    live = _live()
    live.running_limit_mm = 6.0
    _feed(live, np.concatenate([np.zeros(200), np.full(5 * RATE_HZ, 9.0)]))
    assert [notice.code for notice in live.notices] == ["running_limit"] * 3


def test_the_pins_speed_is_told_with_its_sign_while_it_moves_and_is_none_at_rest() -> None:
    live = _live()
    _feed(live, np.linspace(0.0, 20.0, RATE_HZ))  # 20 mm in a second
    assert live.speed_mm_per_s == pytest.approx(20.0, rel=0.1)
    assert live.opened_for_s == pytest.approx(1.0, abs=0.1)
    closing = _live()
    _feed(closing, np.linspace(20.0, 5.0, RATE_HZ))
    assert closing.speed_mm_per_s == pytest.approx(-15.0, rel=0.1)
    resting = _live()
    _feed(resting, np.zeros(RATE_HZ))
    assert (resting.speed_mm_per_s, resting.opened_for_s) == (0.0, None)


def test_the_pace_mark_goes_as_far_as_the_last_opening_and_never_to_the_running_limit() -> None:
    live = _live()
    _feed(live, _sweep(34.0, 2.0))
    live.forget_sweeps()  # the sweeps begin; how far full return went is remembered
    assert live.usual_top_mm == pytest.approx(34.0, abs=0.5)
    live.running_limit_mm = 6.0
    assert live.usual_top_mm == pytest.approx(5.4)


def test_sweeps_are_wanted_slow_and_quick_by_turns() -> None:
    sweep = Sweep(30.0, 12.0, 12.0)
    assert [wanted_half_s([sweep] * count) for count in range(4)] == [3.0, 1.5, 3.0, 1.5]
    assert "3 seconds" in pace_advice([], 60.0) and "1.5 seconds" in pace_advice([sweep], 60.0)
