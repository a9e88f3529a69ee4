"""Before the run, as a recorded checklist: what is fitted, which way travel counts, what must hold at idle.

The items are common practice, no source; the unit's service information comes first.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from rodtrue.run.prompts import AGAIN, GO_ON, STOP, YES, Ask, CheckItem, Checklist, Wait
from rodtrue.run.safety import RunStopped, Script, resting_place
from rodtrue.run.under_way import RunUnderWay
from rodtrue.run.words import length, pressure

NOT_FITTED = "not fitted"
SENSE_S = 15.0
SENSE_MM = 4.0
"""So far the pin must have moved before its sense counts."""

_SENSE_MEAN_SAMPLES = 10


def prepare(run: RunUnderWay) -> Script[float | None]:
    """Engine off: go through what is fitted, and show which way travel counts. Once a job.

    Return where the pin rested before it was moved for that, in mm from the sensor's own origin; None where that
    is not known.
    """
    if run.preconditions_met:
        return None
    run.enter("prepare")
    yield from _go_through(run, Checklist("fitting", run.wording.fitting, _fitting(run)))
    return (yield from _show_sense(run))


def check_preconditions(run: RunUnderWay) -> Script[None]:
    """With pressure: go through what must hold for a measurement to mean anything. Once a job."""
    if run.preconditions_met:
        return
    items = _BENCH_ITEMS if run.settings.drive == "bench" else _ENGINE_ITEMS
    yield from _go_through(run, Checklist("preconditions", "Does each of these hold? Tick it.", items))
    run.preconditions_met = True


def _fitting(run: RunUnderWay) -> tuple[CheckItem, ...]:
    limits, thresholds = run.settings.profile.limits, run.settings.profile.thresholds
    return (
        CheckItem("port_and_adapter", "Which port is it, and which adapter and hose are on it?", ()),
        CheckItem("pressure_relieved", "The pressure was relieved before the port was opened."),
        CheckItem(
            "gauge_range",
            f"Sensor, hose and fittings are rated for more than {pressure(thresholds.pressure_limit_kpa)}, "
            "this profile's limit.",
        ),
        CheckItem(
            "expected_idle",
            f"Pressure to expect at idle: {_range(limits.baseline_kpa)}. The unit's service information agrees.",
        ),
        CheckItem("sensor_mounted", run.wording.sensor_mounted),
    )


_ENGINE_ITEMS = (
    CheckItem("engine_warm", "Engine and fluid at working temperature."),
    CheckItem("fast_idle_off", "Fast-idle cam off: choke open, cam out of the way."),
    CheckItem("idle_screw_on_stop", "Throttle on its curb-idle screw, not held off it."),
    CheckItem("idle_solenoid", "Idle solenoid energised, where one is fitted.", (YES, NOT_FITTED)),
    CheckItem("idle_speed", "Curb-idle speed as the service information says."),
    CheckItem("park", "Selector in park, and the transmission's own lever in its park detent."),
)
_BENCH_ITEMS = (
    CheckItem("fluid_warm", "Fluid at working temperature."),
    CheckItem("supply_steady", "Supply steady at the unit's working pressure."),
    CheckItem("lever_free", "Throttle lever free to reach its stop."),
)


def _range(limits: tuple[float | None, float | None]) -> str:
    low, high = limits
    if low is not None and high is not None:
        return f"{pressure(low)} to {pressure(high)}"
    if low is None and high is None:
        return "this profile does not say"
    return f"at least {pressure(low)}" if low is not None else f"at most {pressure(high or 0.0)}"


def _go_through(run: RunUnderWay, checklist: Checklist) -> Script[None]:
    run.ticked.clear()
    yield checklist
    for item in checklist.items:
        run.checked(checklist.code, item)


def _show_sense(run: RunUnderWay) -> Script[float | None]:
    """Travel must rise as the throttle opens, or the sensor sits the other way round; return the rest before."""
    wording = run.wording
    while True:
        rested_mm = yield from resting_place(run)
        yield Ask("sense_ready", wording.sense_ready, in_words=True)
        run.begin_collecting()
        yield Wait("sense", wording.sense, SENSE_S, lambda: _has_moved(run))
        moved_mm = _moved_mm(run)
        right = moved_mm > SENSE_MM
        run.note("sense_check", moved_mm=moved_mm, passed=right)
        if right:
            return rested_mm
        text = (
            wording.sense_reversed
            if moved_mm < -SENSE_MM
            else f"The travel sensor saw {length(abs(moved_mm))} only: is it clamped to the {wording.part} and "
            "plugged in?"
        )
        choices = (AGAIN, STOP, *([GO_ON] if run.is_virtual else []))
        answer = yield Ask("sense_failed", text + " Then check again.", choices)
        run.answered("sense_failed", answer)
        if answer == STOP:
            raise RunStopped
        if answer == GO_ON:
            return None


def _has_moved(run: RunUnderWay) -> bool:
    return abs(_moved_mm(run)) > SENSE_MM


def _moved_mm(run: RunUnderWay) -> float:
    """Return how far travel has gone from where it began, whichever way it went farther."""
    travel_mm: NDArray[np.float64] = run.collected()[0]
    whole = len(travel_mm) // _SENSE_MEAN_SAMPLES * _SENSE_MEAN_SAMPLES
    if not whole:
        return 0.0
    moved = travel_mm[:whole].reshape(-1, _SENSE_MEAN_SAMPLES).mean(axis=1) - travel_mm[:_SENSE_MEAN_SAMPLES].mean()
    return float(moved[np.argmax(np.abs(moved))])
