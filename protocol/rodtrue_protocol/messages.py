"""The messages as classes, written by protocol/generator from messages.json.

`sequence` and `raw` (the frame as received, without its closing zero) are filled in by the decoder.
Messages are structs of msgspec, which are as frozen as a frozen dataclass and take a tenth of its time to make.
None refers back to itself, so the garbage collector need not follow them (`gc=False`).
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from enum import IntEnum, IntFlag
from typing import Any, ClassVar

import msgspec
import numpy as np
from numpy.typing import ArrayLike, NDArray

from .table import TABLE


class Choice(IntEnum):
    """An enumeration of the wire. Fields hold plain integers, for a peer may send any number."""

    @classmethod
    def label(cls, value: int) -> str:
        """Return a value's name in lower case, or `unknown (value)`."""
        return cls(value).name.lower() if value in cls._value2member_map_ else f"unknown ({value})"


class WireMessage(msgspec.Struct, frozen=True, kw_only=True, eq=False, gc=False):
    """What every message has beside its fields. Equal messages say the same, whatever bytes they came in."""

    NAME: ClassVar[str] = ""
    TYPE: ClassVar[int] = 0

    sequence: int = 0
    raw: bytes = b""

    def values(self) -> dict[str, Any]:
        """Return the fields by their names in the table; a group as a dict each time it repeats."""
        values = {name: getattr(self, name) for name in TABLE.messages[self.NAME].names}
        return {name: list(map(asdict, it)) if isinstance(it, tuple) else it for name, it in values.items()}

    def __eq__(self, other: object) -> bool:
        return type(self) is type(other) and self._said() == other._said()

    def __repr__(self) -> str:
        return f"{type(self).__name__}({', '.join(f'{name}={value!r}' for name, value in self._said().items())})"

    def _said(self) -> dict[str, Any]:
        return {**self.values(), "sequence": self.sequence}


class Kind(Choice):
    """What a fixture is. The fixture says it, nobody infers it."""

    BOARD = 1
    """A fixture with real sensors."""

    VIRTUAL = 2
    """The same firmware on a stand-in board. Not a measurement."""


class ResetCause(Choice):
    """Why the fixture started."""

    UNKNOWN = 0
    """The board does not say."""

    POWER_ON = 1
    """Power was applied, or the reset pin pulled."""

    WATCHDOG = 2
    """The program stopped feeding the watchdog."""

    COMMAND = 3
    """The program asked for it, for instance to leave maintenance."""


class Contact(Choice):
    """State of the button or the foot switch after debouncing."""

    OPEN = 0
    """Released."""

    CLOSED = 1
    """Pressed."""

    STUCK = 2
    """Closed for longer than a person holds it."""


class MarkSource(Choice):
    """What made a mark. The host gives it its meaning."""

    NONE = 0
    """Empty place in a status; never sent as a mark."""

    BUTTON = 1
    """The button was pressed."""

    FOOT_SWITCH = 2
    """The foot switch was pressed."""

    OVER_PRESSURE = 3
    """The pressure code rose over its threshold; the sounder sounds."""

    OVER_TRAVEL = 4
    """The travel code rose over the limit that is set; the sounder beeps."""


class RejectCode(Choice):
    """Why a request was refused."""

    UNKNOWN_TYPE = 1
    """No request has this type number."""

    BAD_LENGTH = 2
    """The payload is longer or shorter than the table says."""

    OUT_OF_RANGE = 3
    """A field is outside its range; `field` says which."""

    BUSY_STREAMING = 4
    """Not while streaming: stop first."""

    SEALED = 5
    """Hold the fixture's button 2 s, release it, and write within 10 s."""

    STORAGE_FAILED = 6
    """The calibration could not be written, or did not read back equal."""

    NOT_CALIBRATED = 7
    """Neither calibration slot holds a valid record."""

    TABLE_MISMATCH = 8
    """No hello with this fixture's table digest has come since it started."""


class StatusFlags(IntFlag):
    """Bits of a status."""

    ANSWER = 1 << 0
    """Answers a read_status; clear in a status sent unasked, where `request` is 0."""

    STREAMING = 1 << 1
    """Sample blocks are being made."""

    OVER_PRESSURE = 1 << 2
    """The pressure code is over its threshold now."""

    OVER_PRESSURE_SEEN = 1 << 3
    """It has been since the last start."""

    CALIBRATED = 1 << 4
    """A valid calibration record was found; clear: nominal over-pressure threshold."""

    SEAL_OPEN = 1 << 5
    """A calibration may be written now."""

    TABLE_AGREED = 1 << 6
    """A hello with this fixture's table digest has come since it started."""

    TRAVEL_LIMITED = 1 << 7
    """A travel limit is set."""

    OVER_TRAVEL = 1 << 8
    """The travel code is over that limit now."""

    OVER_TRAVEL_SEEN = 1 << 9
    """It has been since the last start."""


class SelfTestFlags(IntFlag):
    """Tests of a self-test, one bit each."""

    FRAMING = 1 << 0
    """The check value of the CRC and a COBS round trip."""

    CONVERTER = 1 << 1
    """The converter answers, with its null bit where it belongs."""

    TRAVEL = 1 << 2
    """The travel code lies within the live zero's range."""

    PRESSURE = 1 << 3
    """The pressure code lies within the transducer's range."""

    THERMISTOR = 1 << 4
    """The thermistor is neither open nor shorted."""

    SUPPLY = 1 << 5
    """The sensors' supply is within its limits."""

    CLOCK = 1 << 6
    """One sample's conversions fit in the shortest period."""

    SLOT_A = 1 << 7
    """Calibration slot A holds a valid record."""

    SLOT_B = 1 << 8
    """Calibration slot B holds a valid record."""

    BUTTON = 1 << 9
    """The button is open."""

    FOOT_SWITCH = 1 << 10
    """The foot switch is open."""

    REFERENCE = 1 << 11
    """The independent reference voltage is there and holds still."""

    MEMORY = 1 << 12
    """Memory keeps what is written to it, and enough of it is free."""

    STORAGE = 1 << 13
    """The file system has room to write a calibration."""

    TIMING = 1 << 14
    """Since sampling began no sample started an interval off its schedule, and no interrupt outlasted one."""


@dataclass(frozen=True, slots=True)
class KeptMark:
    """A mark as a status repeats it."""

    counter: int
    """The mark's own counter. 0: empty place."""

    source: int
    """What made it. See MarkSource."""

    sample_index: int
    """The sample being taken when the contact closed. Unit: sample. 4294967295: not streaming."""


@dataclass(frozen=True, slots=True)
class ChannelCalibration:
    """value = c0 + c1 (r - r0) + c2 (r - r0)^2, r = code / 65536; mm for travel, kPa for pressure."""

    degree: int
    """Degree of the polynomial; c2 is 0 for degree 1."""

    r0: float
    """Reference ratio. Unit: ratio."""

    c0: float
    """Value at the reference ratio. Unit: mm or kPa."""

    c1: float
    """Slope per unit ratio. Unit: mm or kPa."""

    c2: float
    """Bending per unit ratio squared. Unit: mm or kPa."""

    scale_half_width: float
    """Relative half-width of the scale (rectangular)."""

    nonlinearity_half_width: float
    """Half-width of what the polynomial leaves (rectangular). Unit: mm or kPa."""

    residual_sd: float
    """Standard deviation of the fit's residuals. Unit: mm or kPa."""

    temperature_c: float
    """Sensor temperature during the calibration. Unit: degC."""


@dataclass(frozen=True, slots=True)
class CalibrationRecord:
    """The data of a calibration: opaque to the fixture but for `layout` and `over_pressure_code`."""

    layout: int
    """Layout number of this record."""

    over_pressure_code: int
    """The fixture sounds at once above this pressure code. Unit: 1/65536. 65535: use the nominal
    threshold.
    """

    fixture_id: bytes
    """The unique id of the fixture this calibration belongs to."""

    done_year: int
    """Day of the calibration. Unit: year."""

    done_month: int
    """Day of the calibration. Unit: month."""

    done_day: int
    """Day of the calibration. Unit: day."""

    due_year: int
    """Day the next one is due. Unit: year. 0: no due date."""

    due_month: int
    """Day the next one is due. Unit: month. 0: no due date."""

    due_day: int
    """Day the next one is due. Unit: day. 0: no due date."""

    references: str
    """Reference instruments and their certificates, as the operator wrote them."""

    channels: tuple[ChannelCalibration, ...]
    """Travel, then pressure."""


class Hello(WireMessage, frozen=True):
    """Begins a session. The fixture stops streaming, forgets queued blocks and the travel limit, and
    answers whatever the digest; only with an equal digest are other than frozen requests served.
    """

    NAME: ClassVar[str] = "hello"
    TYPE: ClassVar[int] = 0x01

    table_digest: int
    """Digest of the host's message table."""


class Start(WireMessage, frozen=True):
    """Starts streaming: sample index from 0, loss counters from 0. The sample period is 4 x floor(250000
    / rate_hz) us.
    """

    NAME: ClassVar[str] = "start"
    TYPE: ClassVar[int] = 0x02

    rate_hz: int
    """Samples per second. Unit: Hz."""


class Stop(WireMessage, frozen=True):
    """Ends streaming. Blocks already taken are sent, the unfilled one too, then the ack. Not streaming:
    just the ack.
    """

    NAME: ClassVar[str] = "stop"
    TYPE: ClassVar[int] = 0x03


class ReadStatus(WireMessage, frozen=True):
    """Asks for a status."""

    NAME: ClassVar[str] = "read_status"
    TYPE: ClassVar[int] = 0x04


class ReadCalibration(WireMessage, frozen=True):
    """Asks for the newest valid calibration."""

    NAME: ClassVar[str] = "read_calibration"
    TYPE: ClassVar[int] = 0x05


class WriteCalibration(WireMessage, frozen=True):
    """Stores a calibration into the older slot, reads it back, compares, then answers. Needs the seal
    open.
    """

    NAME: ClassVar[str] = "write_calibration"
    TYPE: ClassVar[int] = 0x06

    generation: int
    """One more than the stored generation (1 where none is stored); anything else is out of range."""

    data: bytes
    """A calibration_record."""


class SelfTest(WireMessage, frozen=True):
    """Runs the self-test; lamp and sounder go on for a moment so that a person can see and hear them."""

    NAME: ClassVar[str] = "self_test"
    TYPE: ClassVar[int] = 0x07


class EnterMaintenance(WireMessage, frozen=True):
    """The fixture answers, then resets into a boot without watchdog or program, once."""

    NAME: ClassVar[str] = "enter_maintenance"
    TYPE: ClassVar[int] = 0x08


class SetTravelLimit(WireMessage, frozen=True):
    """Sets or clears the travel over which the sounder beeps at once, with or without a host. Hello and
    a restart clear it.
    """

    NAME: ClassVar[str] = "set_travel_limit"
    TYPE: ClassVar[int] = 0x09

    travel_code: int
    """Beeps above this travel code. Unit: 1/65536. 65535: no limit."""


class ReadTiming(WireMessage, frozen=True):
    """Asks how well sampling keeps its time."""

    NAME: ClassVar[str] = "read_timing"
    TYPE: ClassVar[int] = 0x0A


class Identity(WireMessage, frozen=True):
    """What the fixture says of itself."""

    NAME: ClassVar[str] = "identity"
    TYPE: ClassVar[int] = 0x81

    request: int
    """Sequence number of the request this answers."""

    table_digest: int
    """Digest of the fixture's message table."""

    kind: int
    """What it is. See Kind."""

    unique_id: bytes
    """The board's own number."""

    firmware_version: str
    """Release of the firmware; information only."""

    micropython_version: str
    """Release of the interpreter; information only."""

    interpreter: str
    """The interpreter and its platform."""

    rate_min_hz: int
    """Slowest rate start accepts. Unit: Hz."""

    rate_max_hz: int
    """Fastest rate start accepts. Unit: Hz."""

    calibration_generation: int
    """Generation of the valid calibration. 0: not calibrated."""

    reset_cause: int
    """Why it started. See ResetCause."""


class SampleBlock(WireMessage, frozen=True):
    """Consecutive samples. Sent unasked while streaming."""

    NAME: ClassVar[str] = "sample_block"
    TYPE: ClassVar[int] = 0x82

    index: int
    """Index of the first sample, from 0 at each start; runs on modulo 2^32. Unit: sample."""

    time_us: int
    """Device time at the start of the first sample's period, modulo 2^32. Unit: us."""

    period_us: int
    """Sample period: sample k begins at time_us + k x period_us. Unit: us."""

    codes: NDArray[np.uint16]
    """The samples, oldest first. Shape (n, 2): travel_code, pressure_code. Read-only where they were
    received.
    """

    @property
    def samples(self) -> bytes:
        """The samples as they travel."""
        return np.asarray(self.codes, "<u2").tobytes()

    @property
    def count(self) -> int:
        """Number of samples."""
        return len(self.codes)

    @classmethod
    def of(cls, index: int, time_us: int, period_us: int, codes: ArrayLike) -> SampleBlock:
        """Return the block that carries a copy of codes of shape (n, 2)."""
        return cls(index, time_us, period_us, np.array(codes, np.uint16))


class Mark(WireMessage, frozen=True):
    """A contact closed, or pressure rose over its threshold. Sent unasked once a session has begun."""

    NAME: ClassVar[str] = "mark"
    TYPE: ClassVar[int] = 0x83

    counter: int
    """Counts marks from 1 since the fixture started; after 65535 comes 1."""

    source: int
    """What made it. See MarkSource."""

    sample_index: int
    """The sample being taken when the contact closed, before debouncing. Unit: sample. 4294967295: not
    streaming.
    """


class Status(WireMessage, frozen=True):
    """How the fixture is. Answers read_status, and is sent unasked once a second while streaming."""

    NAME: ClassVar[str] = "status"
    TYPE: ClassVar[int] = 0x84

    request: int
    """Sequence number of the request this answers."""

    flags: StatusFlags
    """Bits; those without a name are zero."""

    button: int
    """The button. See Contact."""

    foot_switch: int
    """The foot switch. See Contact."""

    reset_cause: int
    """Why it started. See ResetCause."""

    uptime_s: int
    """Time since it started. Unit: s."""

    period_us: int
    """Sample period. Unit: us. 0: not streaming."""

    sample_index: int
    """Index of the sample being taken. Unit: sample. 4294967295: not streaming."""

    time_us: int
    """Device time when this was written, modulo 2^32. Unit: us."""

    dropped_blocks: int
    """Sample blocks dropped from a full queue since the last start. 65535: 65535 or more."""

    lost_samples: int
    """Sample periods since the last start whose conversions came too late; their indices are skipped.
    65535: 65535 or more.
    """

    overruns: int
    """Conversion intervals since the last start that found the one before unfinished. 65535: 65535 or
    more.
    """

    dropped_replies: int
    """Marks and replies dropped from a full queue since the fixture started. 65535: 65535 or more."""

    refused_frames: int
    """Frames from the host refused since the fixture started: CRC, COBS, too short, too long. 65535:
    65535 or more.
    """

    travel_code: int
    """Newest travel reading. Unit: 1/65536. 65535: not measured yet."""

    pressure_code: int
    """Newest pressure reading. Unit: 1/65536. 65535: not measured yet."""

    supply_code: int
    """Newest reading of the supply monitor. Unit: 1/65536. 65535: not measured yet."""

    thermistor_code: int
    """Newest thermistor reading. Unit: 1/65536. 65535: not measured yet."""

    calibration_generation: int
    """Generation of the valid calibration. 0: not calibrated."""

    marks: tuple[KeptMark, ...]
    """The last four marks, newest first."""


class Calibration(WireMessage, frozen=True):
    """The newest valid calibration."""

    NAME: ClassVar[str] = "calibration"
    TYPE: ClassVar[int] = 0x85

    request: int
    """Sequence number of the request this answers."""

    generation: int
    """Generation of the slot."""

    data: bytes
    """A calibration_record."""


class SelfTestReport(WireMessage, frozen=True):
    """What the self-test found. A test that was not run says nothing."""

    NAME: ClassVar[str] = "self_test_report"
    TYPE: ClassVar[int] = 0x86

    request: int
    """Sequence number of the request this answers."""

    tests_run: SelfTestFlags
    """Tests that were run."""

    tests_passed: SelfTestFlags
    """Tests that passed."""

    travel_code: int
    """Mean travel reading. Unit: 1/65536. 65535: not measured yet."""

    pressure_code: int
    """Mean pressure reading. Unit: 1/65536. 65535: not measured yet."""

    supply_code: int
    """Mean reading of the supply monitor. Unit: 1/65536. 65535: not measured yet."""

    thermistor_code: int
    """Mean thermistor reading. Unit: 1/65536. 65535: not measured yet."""

    travel_spread: int
    """Largest less smallest travel code among the readings. Unit: 1/65536."""

    pressure_spread: int
    """Largest less smallest pressure code among the readings. Unit: 1/65536."""

    conversion_us: int
    """Slowest conversion of both channels. Unit: us."""

    free_heap_bytes: int
    """Free heap after a collection. Unit: byte."""

    free_storage_bytes: int
    """Free room in the file system. Unit: byte. 4294967295: that much or more."""


class Ack(WireMessage, frozen=True):
    """Done."""

    NAME: ClassVar[str] = "ack"
    TYPE: ClassVar[int] = 0x87

    request: int
    """Sequence number of the request this answers."""

    request_type: int
    """Type number of that request."""


class Reject(WireMessage, frozen=True):
    """Refused; nothing was done."""

    NAME: ClassVar[str] = "reject"
    TYPE: ClassVar[int] = 0x88

    request: int
    """Sequence number of the request this answers."""

    request_type: int
    """Type number of that request."""

    code: int
    """Why. See RejectCode."""

    field: int
    """Place in the table, from 0, of the field that is out of range. 255: no single field."""


class Timing(WireMessage, frozen=True):
    """How well sampling keeps its time, measured by the fixture since the last start (before the first
    one: since it began to sample). Answers read_timing.
    """

    NAME: ClassVar[str] = "timing"
    TYPE: ClassVar[int] = 0x89

    request: int
    """Sequence number of the request this answers."""

    interval_us: int
    """Time from one conversion to the next, by schedule: a quarter of the sample period. Unit: us."""

    early_us: int
    """The most that a sample's period began before its schedule. The first conversion sets the schedule.
    Unit: us. 65535: 65535 or more.
    """

    late_us: int
    """The most that a sample's period began after its schedule. Early and late together are the jitter.
    Unit: us. 65535: 65535 or more.
    """

    interrupt_us: int
    """The longest interrupt: one conversion of both channels with its share of the other work. Unit: us.
    65535: 65535 or more.
    """


MESSAGE_CLASSES: dict[str, type[WireMessage]] = {
    message.NAME: message
    for message in (
        Hello,
        Start,
        Stop,
        ReadStatus,
        ReadCalibration,
        WriteCalibration,
        SelfTest,
        EnterMaintenance,
        SetTravelLimit,
        ReadTiming,
        Identity,
        SampleBlock,
        Mark,
        Status,
        Calibration,
        SelfTestReport,
        Ack,
        Reject,
        Timing,
    )
}
