"""Release of the firmware. Information only: the message table's digest decides compatibility."""

FIRMWARE = "0.1.0"
