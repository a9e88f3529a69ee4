"""The serial line as the program sees it: `sys.stdin`, `sys.stdout` and `select` of the stand-in.

The line is a USB port: a small buffer on the board that empties as the host takes it. Where the host
does not take it, a write waits up to 500 ms for room, writes what then fits and comes back short. Where
nobody listens, the parent lets what comes vanish.
"""

POLLIN = 1
POLLOUT = 4
POLLERR = 8
POLLHUP = 16

_BUFFER = 256
_PACKET = 64
_PATIENCE_US = 500_000
_STEP_US = 1000
_POLL_US = 17
_READ_US = 8
_WRITE_US = 31
_INTERRUPT_CHARACTER = 3


class Line:
    """window: bytes the parent takes ahead of the host, 0 for any number (the write waits in wall time).

    stalls: pairs (from, for) in us of device time in which the host takes nothing.
    """

    def __init__(self, channel, clock, window, stalls):
        self._channel = channel
        self.clock = clock
        self._window = window
        self._limited = window > 0
        self._stalls = stalls
        self._waiting = bytearray()
        self._received = bytearray()
        self.interrupt_character = _INTERRUPT_CHARACTER
        self._interrupted = False
        clock.on_input = self._on_input
        clock.on_window = self._on_window

    def room(self):
        """Return the free bytes of the board's own buffer."""
        self._flush()
        return _BUFFER - len(self._waiting)

    def write(self, data, start, count):
        """Write as the port does; return the bytes taken."""
        self.clock.spend(_WRITE_US)
        done = 0
        while done < count:
            taken = self._write_once(data, start + done, count - done)
            if taken == 0:
                break
            done += taken
        return done

    def text(self, text):
        """Write text of the board's own, as far as it goes."""
        data = text.replace("\n", "\r\n").replace("\r\r", "\r").encode()
        self.write(data, 0, len(data))

    def available(self):
        """Return how many bytes from the host wait, without taking time."""
        if self._interrupted:
            self._interrupted = False
            raise KeyboardInterrupt
        return len(self._received)

    def take_byte(self):
        """Return the next byte from the host; wait for it as the port does."""
        self.clock.spend(_READ_US)
        while not self._received:
            self.clock.take_messages()
            if not self._received:
                self.clock.advance_to(self.clock.now_us + _STEP_US)
        byte = self._received[0]
        self._received = self._received[1:]
        return byte

    def _write_once(self, data, start, count):
        done = 0
        while done < count:
            wanted = min(_PACKET, count - done)
            give_up_us = self.clock.now_us + _PATIENCE_US
            room = self.room()
            while room < wanted and self.clock.now_us < give_up_us:
                self.clock.advance_to(self.clock.now_us + _STEP_US)
                self.clock.take_messages()
                room = self.room()
            wanted = min(wanted, room)
            if wanted == 0:
                break
            self._waiting.extend(data[start + done : start + done + wanted])
            self._flush()
            done += wanted
        return done

    def _flush(self):
        if not self._waiting or self._is_stalled():
            return
        if self._limited:
            if self._window < len(self._waiting):
                self.clock.take_messages()
            count = min(self._window, len(self._waiting))
            if count == 0:
                return
            self._window -= count
        else:
            count = len(self._waiting)
        self._channel.send(self._waiting, 0, count)
        self._waiting = self._waiting[count:]

    def _is_stalled(self):
        now_us = self.clock.now_us
        return any(begin <= now_us < begin + length for begin, length in self._stalls)

    def _on_input(self, payload, length):
        data = bytes(payload[:length])
        if self.interrupt_character >= 0 and self.interrupt_character in data:
            self._interrupted = True
            return
        self._received.extend(data)

    def _on_window(self, count):
        self._window += count


class _Buffer:
    def __init__(self, line):
        self._line = line

    def readinto(self, data):
        for at in range(len(data)):
            data[at] = self._line.take_byte()
        return len(data)

    def write(self, data, start=0, count=None):
        return self._line.write(data, start, len(data) - start if count is None else count)


class Stream:
    """`sys.stdin` or `sys.stdout`."""

    def __init__(self, line):
        self.line = line
        self.buffer = _Buffer(line)

    def write(self, text):
        self.line.text(text)
        return len(text)


class Poll:
    """`select.poll`: the program only ever asks without waiting."""

    def __init__(self):
        self._streams = []

    def register(self, stream, mask):
        self._streams.append((stream, mask))

    def ipoll(self, timeout):
        if timeout != 0:
            raise ValueError("the stand-in's poll does not wait")
        ready = []
        for stream, mask in self._streams:
            line = stream.line
            line.clock.spend(_POLL_US)
            events = 0
            if mask & POLLIN and line.available():
                events |= POLLIN
            if mask & POLLOUT and line.room():
                events |= POLLOUT
            if events:
                ready.append((stream, events))
        return ready


class Select:
    """Stands in for the module `select`."""

    POLLIN = POLLIN
    POLLOUT = POLLOUT
    POLLERR = POLLERR
    POLLHUP = POLLHUP
    poll = Poll
