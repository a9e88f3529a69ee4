"""The message table for the firmware, written by protocol/generator from messages.json.

FORMAT_x packs a message's fields in the order of the comment above it; a u32 is two u16 halves, low
first. A message that ends in repeats has the format of what stands before them, the count included.
"""

from micropython import const

DIGEST = "d70f6aa1"
DIGEST_LOW = const(0x6aa1)
DIGEST_HIGH = const(0xd70f)

HEADER_SIZE = const(2)
CRC_SIZE = const(4)
BODY_BYTES = const(260)
BLOCK_SAMPLES = const(32)
BLOCK_HOLD_MS = const(40)
CALIBRATION_BYTES = const(250)
RATE_MIN_HZ = const(100)
RATE_MAX_HZ = const(1000)
RATE_DEFAULT_HZ = const(500)
CONVERSIONS = const(4)
MARKS_KEPT = const(4)
STATUS_EVERY_MS = const(1000)
DEBOUNCE_MS = const(30)
STUCK_MS = const(10000)
SEAL_HOLD_MS = const(2000)
SEAL_OPEN_MS = const(10000)

KIND_BOARD = const(1)
KIND_VIRTUAL = const(2)

RESET_CAUSE_UNKNOWN = const(0)
RESET_CAUSE_POWER_ON = const(1)
RESET_CAUSE_WATCHDOG = const(2)
RESET_CAUSE_COMMAND = const(3)

CONTACT_OPEN = const(0)
CONTACT_CLOSED = const(1)
CONTACT_STUCK = const(2)

MARK_SOURCE_NONE = const(0)
MARK_SOURCE_BUTTON = const(1)
MARK_SOURCE_FOOT_SWITCH = const(2)
MARK_SOURCE_OVER_PRESSURE = const(3)
MARK_SOURCE_OVER_TRAVEL = const(4)

REJECT_CODE_UNKNOWN_TYPE = const(1)
REJECT_CODE_BAD_LENGTH = const(2)
REJECT_CODE_OUT_OF_RANGE = const(3)
REJECT_CODE_BUSY_STREAMING = const(4)
REJECT_CODE_SEALED = const(5)
REJECT_CODE_STORAGE_FAILED = const(6)
REJECT_CODE_NOT_CALIBRATED = const(7)
REJECT_CODE_TABLE_MISMATCH = const(8)

STATUS_FLAG_ANSWER = const(0x0001)
STATUS_FLAG_STREAMING = const(0x0002)
STATUS_FLAG_OVER_PRESSURE = const(0x0004)
STATUS_FLAG_OVER_PRESSURE_SEEN = const(0x0008)
STATUS_FLAG_CALIBRATED = const(0x0010)
STATUS_FLAG_SEAL_OPEN = const(0x0020)
STATUS_FLAG_TABLE_AGREED = const(0x0040)
STATUS_FLAG_TRAVEL_LIMITED = const(0x0080)
STATUS_FLAG_OVER_TRAVEL = const(0x0100)
STATUS_FLAG_OVER_TRAVEL_SEEN = const(0x0200)

SELF_TEST_FLAG_FRAMING = const(0x0001)
SELF_TEST_FLAG_CONVERTER = const(0x0002)
SELF_TEST_FLAG_TRAVEL = const(0x0004)
SELF_TEST_FLAG_PRESSURE = const(0x0008)
SELF_TEST_FLAG_THERMISTOR = const(0x0010)
SELF_TEST_FLAG_SUPPLY = const(0x0020)
SELF_TEST_FLAG_CLOCK = const(0x0040)
SELF_TEST_FLAG_SLOT_A = const(0x0080)
SELF_TEST_FLAG_SLOT_B = const(0x0100)
SELF_TEST_FLAG_BUTTON = const(0x0200)
SELF_TEST_FLAG_FOOT_SWITCH = const(0x0400)
SELF_TEST_FLAG_REFERENCE = const(0x0800)
SELF_TEST_FLAG_MEMORY = const(0x1000)
SELF_TEST_FLAG_STORAGE = const(0x2000)
SELF_TEST_FLAG_TIMING = const(0x4000)

TYPE_HELLO = const(0x01)
# table_digest low, table_digest high
FORMAT_HELLO = "<4xHH"
SIZE_HELLO = const(8)

TYPE_START = const(0x02)
# rate_hz
FORMAT_START = "<H"
SIZE_START = const(2)

TYPE_STOP = const(0x03)
SIZE_STOP = const(0)

TYPE_READ_STATUS = const(0x04)
SIZE_READ_STATUS = const(0)

TYPE_READ_CALIBRATION = const(0x05)
SIZE_READ_CALIBRATION = const(0)

TYPE_WRITE_CALIBRATION = const(0x06)
# generation, number of data
FORMAT_WRITE_CALIBRATION = "<HB"
SIZE_WRITE_CALIBRATION = const(3)

TYPE_SELF_TEST = const(0x07)
SIZE_SELF_TEST = const(0)

TYPE_ENTER_MAINTENANCE = const(0x08)
SIZE_ENTER_MAINTENANCE = const(0)

TYPE_SET_TRAVEL_LIMIT = const(0x09)
# travel_code
FORMAT_SET_TRAVEL_LIMIT = "<H"
SIZE_SET_TRAVEL_LIMIT = const(2)

TYPE_READ_TIMING = const(0x0a)
SIZE_READ_TIMING = const(0)

TYPE_IDENTITY = const(0x81)
# request, table_digest low, table_digest high, kind, unique_id, firmware_version, micropython_version,
# interpreter, rate_min_hz, rate_max_hz, calibration_generation, reset_cause
FORMAT_IDENTITY = "<BHHB8s16s16s32sHHH8xB"
SIZE_IDENTITY = const(93)

TYPE_SAMPLE_BLOCK = const(0x82)
# index low, index high, time_us low, time_us high, period_us, number of samples
FORMAT_SAMPLE_BLOCK = "<HHHHHB"
SIZE_SAMPLE_BLOCK = const(11)
# travel_code, pressure_code
FORMAT_SAMPLE = "<HH"
SIZE_SAMPLE = const(4)

TYPE_MARK = const(0x83)
# counter, source, sample_index low, sample_index high
FORMAT_MARK = "<HBHH"
SIZE_MARK = const(7)

TYPE_STATUS = const(0x84)
# request, flags, button, foot_switch, reset_cause, uptime_s low, uptime_s high, period_us, sample_index low,
# sample_index high, time_us low, time_us high, dropped_blocks, lost_samples, overruns, dropped_replies,
# refused_frames, travel_code, pressure_code, supply_code, thermistor_code, calibration_generation,
# marks[0].counter, marks[0].source, marks[0].sample_index low, marks[0].sample_index high, marks[1].counter,
# marks[1].source, marks[1].sample_index low, marks[1].sample_index high, marks[2].counter, marks[2].source,
# marks[2].sample_index low, marks[2].sample_index high, marks[3].counter, marks[3].source,
# marks[3].sample_index low, marks[3].sample_index high
FORMAT_STATUS = "<BHBBBHHHHHHHHHHHHHHHHH8xHBHHHBHHHBHHHBHH"
SIZE_STATUS = const(76)

TYPE_CALIBRATION = const(0x85)
# request, generation, number of data
FORMAT_CALIBRATION = "<BHB"
SIZE_CALIBRATION = const(4)

TYPE_SELF_TEST_REPORT = const(0x86)
# request, tests_run, tests_passed, travel_code, pressure_code, supply_code, thermistor_code, travel_spread,
# pressure_spread, conversion_us, free_heap_bytes low, free_heap_bytes high, free_storage_bytes low,
# free_storage_bytes high
FORMAT_SELF_TEST_REPORT = "<BHHHHHHHHHHHHH"
SIZE_SELF_TEST_REPORT = const(27)

TYPE_ACK = const(0x87)
# request, request_type
FORMAT_ACK = "<BB"
SIZE_ACK = const(2)

TYPE_REJECT = const(0x88)
# request, request_type, code, field
FORMAT_REJECT = "<BBB4xB"
SIZE_REJECT = const(8)

TYPE_TIMING = const(0x89)
# request, interval_us, early_us, late_us, interrupt_us
FORMAT_TIMING = "<BHHHH"
SIZE_TIMING = const(9)

SIZE_CALIBRATION_RECORD = const(160)
OFFSET_CALIBRATION_RECORD_LAYOUT = const(0)
OFFSET_CALIBRATION_RECORD_OVER_PRESSURE_CODE = const(2)

FROZEN_REQUESTS = (TYPE_HELLO, TYPE_READ_STATUS, TYPE_ENTER_MAINTENANCE)
REFUSED_WHILE_STREAMING = (TYPE_START, TYPE_READ_CALIBRATION, TYPE_WRITE_CALIBRATION, TYPE_SELF_TEST)

# Payload sizes by request type: bytes of the fixed part, bytes of each repeat (0: none follow;
# else the fixed part's last byte counts them), fewest and most repeats.
REQUEST_SIZES = {
    0x01: (8, 0, 0, 0),
    0x02: (2, 0, 0, 0),
    0x03: (0, 0, 0, 0),
    0x04: (0, 0, 0, 0),
    0x05: (0, 0, 0, 0),
    0x06: (3, 1, 0, 250),
    0x07: (0, 0, 0, 0),
    0x08: (0, 0, 0, 0),
    0x09: (2, 0, 0, 0),
    0x0a: (0, 0, 0, 0),
}
