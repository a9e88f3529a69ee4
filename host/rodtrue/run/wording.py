"""What a run's questions say of what is moved: a throttle's pin with the rods behind it, or a valve body's lever."""

from __future__ import annotations

from dataclasses import dataclass

from rodtrue.model.conditions import Reference


@dataclass(frozen=True)
class Wording:
    """Texts by what they stand in; `{...}` are filled in where they are used.

    part: what the travel sensor follows. off_stop: code of the notice that it rests off its stop after the baseline.
    """

    part: str
    off_stop: str
    fitting: str
    sensor_mounted: str
    sense_ready: str
    sense: str
    sense_reversed: str
    return_ready: str
    return_scatter: str
    zero_ready: str
    tap: str
    response_ready: str
    response: str
    rest: str
    rests_off: str
    last_rest: str
    turn_off: str
    starts_again: str
    start_again_off: str


_WITH_RODS = Wording(
    part="pin",
    off_stop="rod_holds_throttle",
    fitting="Engine off. See to each, then tick it.",
    sensor_mounted="Travel sensor on the pin, in line with the rod; it cannot hold or pull the throttle open.",
    sense_ready="Engine still off. Go on, then open the throttle halfway and let it come back.",
    sense="Open the throttle halfway, let it come back.",
    sense_reversed="Travel falls as the throttle opens: turn the travel sensor round.",
    return_ready="Fixture mounted, rod {rod} its pin, engine off. Go on, then open fully and let go, {times} times; "
    "the springs alone must bring it back.",
    return_scatter="The pin came back to places {spread} apart; {limit} is allowed. Something binds, or the fixture "
    "holds the linkage: do not start the engine.",
    zero_ready="Pin on its stop, hands off, rod unhooked. Go on, and keep still.",
    tap="Push the unhooked rod a little and let the lever snap back to its stop (tap {number} of {taps}), "
    "then go on.",
    response_ready="Go on, then push the unhooked rod until the pressure rises; let go.",
    response="Push until the pressure rises, then let go.",
    rest="Hands off: the pin must rest on its stop.",
    rests_off="The pin rests {shift} from zero since the rod is hooked up: the rod is holding the throttle off its "
    "stop.",
    last_rest="Let the pin rest on its stop.",
    turn_off="Leave the throttle at idle, stop the engine",
    starts_again="at the unhooked rod",
    start_again_off="the run starts again at the unhooked rod, with it off",
)

_BODY_ALONE = Wording(
    part="lever",
    off_stop="lever_off_stop",
    fitting="Supply off. See to each, then tick it.",
    sensor_mounted="Travel sensor on the lever, in line with the way it leaves its stop; it cannot hold or move it.",
    sense_ready="Supply still off. Go on, then move the lever halfway towards full throttle and let it come back.",
    sense="Move the lever halfway, let it come back.",
    sense_reversed="Travel falls as the lever moves towards full throttle: turn the travel sensor round.",
    return_ready="Fixture mounted on the lever, supply off. Go on, then move it fully and let go, {times} times; its "
    "own spring alone must bring it back.",
    return_scatter="The lever came back to places {spread} apart; {limit} is allowed. Lever or valve binds, or the "
    "fixture holds it: leave the supply shut.",
    zero_ready="Press the lever onto its stop, then hands off. Go on, and keep still.",
    tap="Move the lever a little off its stop and let it snap back (tap {number} of {taps}), then go on.",
    response_ready="Go on, then move the lever until the pressure rises; let go.",
    response="Move the lever until the pressure rises, then let go.",
    rest="Hands off: the lever must rest on its stop.",
    rests_off="The lever rests {shift} from zero: it does not come back to its stop by itself. Shut the supply and "
    "find what binds.",
    last_rest="Let the lever rest on its stop.",
    turn_off="Let the lever go, shut the supply",
    starts_again="at the zero",
    start_again_off="the run starts again at the zero, with it off",
)

WORDING: dict[Reference, Wording] = {"curb_idle": _WITH_RODS, "lever_stop": _BODY_ALONE}
"""By what travel 0 stands for."""
