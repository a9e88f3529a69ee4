"""The button and the foot switch: debounced, with the time they are held."""

from micropython import const
from table import CONTACT_CLOSED, CONTACT_OPEN, CONTACT_STUCK, DEBOUNCE_MS, SEAL_HOLD_MS, SEAL_OPEN_MS, STUCK_MS

_LONG_US = const(0x1FFF_FFFF)


class Contact:
    """One contact, looked at once in every sample from the interrupt. Nothing allocates there."""

    def __init__(self, source):
        self.source = source
        self.closed = False
        self._debounce_us = DEBOUNCE_MS * 1000
        self._changed_us = 0
        self._index_low = 0
        self._index_high = 0
        # Time in the present state, and how long the last closure was.
        self._state_us = _LONG_US
        self._last_held_us = 0

    def on_sample(self, closed, period_us, index_low, index_high, marks):
        """Look once. A closure that lasts makes a mark at the sample in which it began. Interrupt."""
        if self._state_us < _LONG_US:
            self._state_us += period_us
        if closed == self.closed:
            self._changed_us = 0
            return
        if self._changed_us == 0:
            self._index_low = index_low
            self._index_high = index_high
        self._changed_us += period_us
        if self._changed_us < self._debounce_us:
            return
        if self.closed:
            self._last_held_us = self._state_us - self._changed_us
        else:
            marks.add(self.source, self._index_low, self._index_high)
        self.closed = closed
        self._state_us = self._changed_us
        self._changed_us = 0

    def state(self):
        """Return open, closed or stuck, as the table numbers them."""
        if not self.closed:
            return CONTACT_OPEN
        return CONTACT_STUCK if self._state_us > STUCK_MS * 1000 else CONTACT_CLOSED

    def opens_seal(self):
        """Say whether it was held long enough, not stuck, and let go a moment ago."""
        held_us = self._last_held_us
        return (
            not self.closed
            and SEAL_HOLD_MS * 1000 <= held_us <= STUCK_MS * 1000
            and self._state_us <= SEAL_OPEN_MS * 1000
        )
