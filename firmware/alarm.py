"""Over-pressure: sounds at once, from the interrupt, whether or not a host listens."""

from micropython import const

# 2000 kPa on the nominal transducer: (0.1 + 0.8 x 2000 / 2068) x 65536.
NOMINAL_CODE = const(57258)
# It falls silent about 20 kPa below the threshold, not before half a second.
_RELEASE_CODES = const(507)
_SOUND_US = const(500_000)


class Alarm:
    """Watches every sample's pressure code. sounder: called with 1 or 0, safe in an interrupt."""

    def __init__(self, sounder):
        self._sounder = sounder
        self._threshold = NOMINAL_CODE
        self._sounded_us = 0
        self.over = False
        self.seen = False

    def set_threshold(self, code):
        """Sound above this code; None for the nominal one. Main loop."""
        self._threshold = NOMINAL_CODE if code is None else code

    def on_sample(self, code, period_us):
        """Look at one sample; return True where pressure has just risen over the threshold. Interrupt."""
        if self.over:
            if self._sounded_us < _SOUND_US:
                self._sounded_us += period_us
            elif code + _RELEASE_CODES < self._threshold:
                self.over = False
                self._sounder(0)
            return False
        if code <= self._threshold:
            return False
        self.over = True
        self.seen = True
        self._sounded_us = 0
        self._sounder(1)
        return True
