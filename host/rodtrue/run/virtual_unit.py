"""The unit that a virtual fixture stands on: which body or rod it is, on a fixture that stays the same."""

from __future__ import annotations

from rodtrue.calibration.parts_budget import parts_budget, terms_of_parts
from rodtrue.model.conditions import Drive, Reference
from rodtrue.model.errors import InputError
from rodtrue.model.profile import Profile
from rodtrue.run.session import DEFAULT_ROD_ERROR_MM, DEFAULT_SEED, default_plant
from rodtrue.virtual.plant import Plant
from rodtrue.virtual.scenario import body_scenario, scenario_for


def virtual_plant(
    profile: Profile,
    drive: Drive = "slide",
    reference: Reference = "curb_idle",
    *,
    rod_error_mm: float | None = None,
    fault: str | None = None,
    seed: int = DEFAULT_SEED,
    reading: int = 0,
) -> Plant:
    """Return a unit, drawn by `seed`, on the one virtual fixture, whose sensors are always the same.

    So a calibration of `calibrate run --port virtual` holds whatever is measured. reference: `lever_stop` for a
    valve body alone. reading: another number measures the same unit with another hand and other noise.
    Raises: InputError for a rod error out of range, or of a body alone, which has no rod; for a fault that it cannot
    have.
    """
    terms = terms_of_parts(parts_budget())
    if reference == "lever_stop":
        if rod_error_mm is not None:
            raise InputError("--rod-error: a valve body alone has no rod", "Leave it out; --seed draws another body.")
        scenario = body_scenario(profile, fault=fault, terms=terms)
    else:
        error_mm = DEFAULT_ROD_ERROR_MM if rod_error_mm is None else rod_error_mm
        scenario = scenario_for(profile, rod_error_mm=error_mm, fault=fault, drive=drive, terms=terms)
    return Plant(scenario, seed, sensors_of=default_plant().truth, reading=reading)
