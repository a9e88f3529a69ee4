"""What a rod error does to the shifts, short enough for a result: a few openings and one sentence."""

from __future__ import annotations

from rodtrue.model.profile import Profile
from rodtrue.model.shifts import OpeningEffect, ShiftEffect, Speed
from rodtrue.shifts.points import kickdown_end, shift_point
from rodtrue.shifts.predict import change, unit_of

EFFECT_OPENINGS = {
    0.25: "quarter throttle",
    0.5: "half throttle",
    0.75: "three-quarter throttle",
    1.0: "wide-open throttle",
}


def expected_effect(profile: Profile, rod_error_mm: float, *, at_most: bool = False) -> ShiftEffect | None:
    """Return what a rod error changes against an exact rod; None where the profile has no section `shifts`.

    at_most: the rod is this short or shorter still, so that the changes are the least to expect.
    """
    if profile.shifts is None:
        return None
    unit = unit_of(profile)
    openings = []
    for opening in EFFECT_OPENINGS:
        travel_mm = opening * unit.data.throttle.wide_open_mm
        exact = shift_point(unit, travel_mm, 0.0).upshift
        rod = shift_point(unit, travel_mm, rod_error_mm).upshift
        later = change(exact, rod)
        openings.append(OpeningEffect(opening, travel_mm, later.kmh, later.mph, rod.why_not or exact.why_not))
    kickdown_exact, kickdown = kickdown_end(unit, 0.0), kickdown_end(unit, rod_error_mm)
    sentence = _sentence(openings, kickdown_exact, kickdown, "at least" if at_most else "about")
    return ShiftEffect(openings, kickdown_exact, kickdown, sentence)


def _sentence(openings: list[OpeningEffect], kickdown_exact: Speed, kickdown: Speed, nearly: str) -> str:
    told = [_told(effect) for effect in openings if round(effect.upshift_change_mph or 0.0)]
    if told:
        sentence = f"With the rod as it is: 2-3 upshifts {nearly} " + ", ".join(told) + " than with an exact rod."
    else:
        sentence = "With the rod as it is: no change of the 2-3 upshifts that a driver would notice."
    for effect in openings:
        if effect.upshift_change_kmh is None:
            sentence += f" At {EFFECT_OPENINGS[effect.opening]} no change can be given: {effect.why_not}."
    if kickdown_exact.kmh is not None and kickdown.kmh is None:
        sentence += f" No kickdown: {kickdown.why_not}."
    return sentence


def _told(effect: OpeningEffect) -> str:
    mph, kmh = effect.upshift_change_mph, effect.upshift_change_kmh
    assert mph is not None and kmh is not None
    way = "later" if kmh > 0 else "earlier"
    return f"{abs(mph):.0f} mph ({abs(kmh):.0f} km/h) {way} at {EFFECT_OPENINGS[effect.opening]}"
