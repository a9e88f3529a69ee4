"""Over-pressure and over-travel: heard at once, from the interrupt, whether or not a host listens.

Over-pressure is a steady tone, over-travel five beeps a second; both at once, the steady one.
"""

from micropython import const

# 2000 kPa on the nominal transducer: (0.1 + 0.8 x 2000 / 2068) x 65536.
NOMINAL_CODE = const(57258)
# It falls silent about 20 kPa below the threshold, not before half a second.
_RELEASE_CODES = const(507)
_SOUND_US = const(500_000)

# No travel code is above it.
NO_TRAVEL_LIMIT = const(65535)
# 0.5 mm on the nominal potentiometer: 0.8 x 0.5 / 100 x 65536.
_TRAVEL_RELEASE_CODES = const(262)
_BEEP_US = const(100_000)


class Alarm:
    """Watches every sample and owns the sounder. sounder: called with 1 or 0, safe in an interrupt.

    over, seen: pressure is over its threshold, has been since the last start; over_travel, travel_seen: alike.
    """

    def __init__(self, sounder):
        self._sounder = sounder
        self._threshold = NOMINAL_CODE
        self._sounded_us = 0
        self.over = False
        self.seen = False
        self._travel_limit = NO_TRAVEL_LIMIT
        self._beeping_us = 0
        self.over_travel = False
        self.travel_seen = False
        self._signs = False

    def set_threshold(self, code):
        """Sound above this pressure code; None for the nominal one. Main loop."""
        self._threshold = NOMINAL_CODE if code is None else code

    def limit_travel(self, code):
        """Beep above this travel code; NO_TRAVEL_LIMIT for never. Main loop."""
        self._travel_limit = code

    def is_travel_limited(self):
        """Say whether a travel limit is set."""
        return self._travel_limit != NO_TRAVEL_LIMIT

    def begin(self):
        """Remember from now on what has been over. Main loop with interrupts off."""
        self.seen = self.over
        self.travel_seen = self.over_travel

    def show_signs(self, shown):
        """Sound for a person to hear that it can, or no longer. Main loop with interrupts off."""
        self._signs = shown
        self._drive()

    def on_pressure(self, code, period_us):
        """Look at one sample; return True where pressure has just risen over the threshold. Interrupt."""
        if self.over:
            if self._sounded_us < _SOUND_US:
                self._sounded_us += period_us
            elif code + _RELEASE_CODES < self._threshold:
                self.over = False
                self._drive()
            return False
        if code <= self._threshold:
            return False
        self.over = True
        self.seen = True
        self._sounded_us = 0
        self._drive()
        return True

    def on_travel(self, code, period_us):
        """Look at one sample; return True where travel has just passed its limit. Interrupt."""
        if self.over_travel:
            self._beeping_us += period_us
            if self._beeping_us >= 2 * _BEEP_US:
                self._beeping_us -= 2 * _BEEP_US
                # A beep is whole before it may end.
                self.over_travel = code + _TRAVEL_RELEASE_CODES >= self._travel_limit
            self._drive()
            return False
        if code <= self._travel_limit:
            return False
        self.over_travel = True
        self.travel_seen = True
        self._beeping_us = 0
        self._drive()
        return True

    def _drive(self):
        beep = self.over_travel and self._beeping_us < _BEEP_US
        self._sounder(1 if self.over or beep or self._signs else 0)
