"""The child's private way to its parent: two pipes with small messages, little-endian.

Every message is kind u8, length u16, payload.

To the parent:
B  the program begins
Q  time and conversions wanted: number u8, next tick u64 us, interval u32 us (0: time only). A new one
   replaces one not yet answered.
W  the program has done all it can do without time: it sleeps until Q number u8 is answered or bytes come
F  what the converter reads now, before any time has passed
O  bytes written to the line
P  an output pin's level: gpio u8, level u8, time u64 us
R  the board resets: cause u8, scratch register u32
V  a rule of the board was broken: text

From the parent:
S  settings, once, before all else: JSON
C  time granted: number u8 of the Q it answers, until u64 us, more follows u8, count u16, then 8 u16 for
   each conversion, then a byte of switches for each, or just one where there are no conversions
F  what it reads: 8 u16, then a byte of switches
I  bytes from the line
K  bytes of the line's window given back: u32
"""

import select
import struct

HEAD = 3
LONGEST = 8192
GRANT_HEAD = 12
CONVERSION_SIZE = 16


class Channel:
    """open_fd(fd, mode): opens a file descriptor unbuffered, with read and write of parts of a buffer."""

    def __init__(self, open_fd, read_fd, write_fd):
        self._input = open_fd(read_fd, "rb")
        self._output = open_fd(write_fd, "wb")
        self._poll = select.poll()
        self._poll.register(self._input, select.POLLIN)
        self._head = bytearray(HEAD)
        self._pin_message = bytearray(HEAD + 10)
        self._wanted_message = bytearray(HEAD + 13)
        self._asleep_message = bytearray(b"W\x02\x00\x00\x00")
        self._bytes_message = bytearray(HEAD + 512)
        self.payload = bytearray(LONGEST)
        self.length = 0

    def receive(self, wait):
        """Return the kind of the next message, its payload in `payload`; 0 where none waits."""
        if not wait and not self._poll.poll(0):
            return 0
        if self._input.readinto(self._head, HEAD) != HEAD:
            # The parent is gone: nobody is left to tell.
            raise SystemExit(0)
        self.length = self._head[1] | self._head[2] << 8
        if self.length:
            self._input.readinto(self.payload, self.length)
        return self._head[0]

    def settings(self):
        """Return the text of the first message."""
        self.receive(True)
        return bytes(self.payload[: self.length]).decode()

    def begin(self):
        """Tell that the program is about to begin."""
        self._output.write(b"B\x00\x00")

    def want(self, number, next_us, interval_us):
        """Ask for time and, with an interval, for conversions from next_us on."""
        struct.pack_into("<BHBQI", self._wanted_message, 0, 0x51, 13, number, next_us, interval_us)
        self._output.write(self._wanted_message)

    def asleep(self, number, inputs):
        """Tell that nothing more will be done before that wish is answered or bytes come; inputs: taken so far."""
        self._asleep_message[HEAD] = number
        self._asleep_message[HEAD + 1] = inputs
        self._output.write(self._asleep_message)

    def want_first(self):
        """Ask for what the converter reads before any time has passed."""
        self._output.write(b"F\x00\x00")

    def pin(self, gpio, level, now_us):
        """Tell an output's level. Allocates nothing: it is called in the interrupt."""
        struct.pack_into("<BHBBQ", self._pin_message, 0, 0x50, 10, gpio, level, now_us)
        self._output.write(self._pin_message)

    def send(self, data, start, count):
        """Send data[start:start + count] out of the line; at most 512 bytes."""
        message = self._bytes_message
        struct.pack_into("<BH", message, 0, 0x4F, count)
        message[HEAD : HEAD + count] = data[start : start + count]
        self._output.write(message, 0, HEAD + count)

    def reset(self, cause, scratch):
        """Tell that the board resets, and end."""
        self._output.write(struct.pack("<BHBI", 0x52, 5, cause, scratch))
        raise SystemExit(0)

    def broken_rule(self, text):
        """Tell which rule of the board was broken, and end."""
        data = text.encode()
        self._output.write(struct.pack("<BH", 0x56, len(data)) + data)
        raise SystemExit(0)
