"""Requests: each is checked in the same order, then answered with one reply.

Order of refusal: unknown type, bad length, no agreed table, busy streaming, then what the request itself
finds. The frozen requests are answered whatever the table, so that a mismatch can be read and mended.
"""

import struct

import maintenance
import reports
import selftest
from alarm import NO_TRAVEL_LIMIT
from framing import BAD_LENGTH, UNKNOWN_TYPE
from micropython import const
from table import (
    CALIBRATION_BYTES,
    DIGEST_HIGH,
    DIGEST_LOW,
    FORMAT_ACK,
    FORMAT_CALIBRATION,
    FORMAT_HELLO,
    FORMAT_REJECT,
    FORMAT_SET_TRAVEL_LIMIT,
    FORMAT_START,
    FORMAT_WRITE_CALIBRATION,
    FROZEN_REQUESTS,
    HEADER_SIZE,
    OFFSET_CALIBRATION_RECORD_LAYOUT,
    OFFSET_CALIBRATION_RECORD_OVER_PRESSURE_CODE,
    RATE_DEFAULT_HZ,
    RATE_MAX_HZ,
    RATE_MIN_HZ,
    REFUSED_WHILE_STREAMING,
    REJECT_CODE_BAD_LENGTH,
    REJECT_CODE_BUSY_STREAMING,
    REJECT_CODE_NOT_CALIBRATED,
    REJECT_CODE_OUT_OF_RANGE,
    REJECT_CODE_SEALED,
    REJECT_CODE_STORAGE_FAILED,
    REJECT_CODE_TABLE_MISMATCH,
    REJECT_CODE_UNKNOWN_TYPE,
    SIZE_CALIBRATION_RECORD,
    SIZE_WRITE_CALIBRATION,
    TYPE_ACK,
    TYPE_CALIBRATION,
    TYPE_ENTER_MAINTENANCE,
    TYPE_HELLO,
    TYPE_IDENTITY,
    TYPE_READ_CALIBRATION,
    TYPE_READ_STATUS,
    TYPE_READ_TIMING,
    TYPE_REJECT,
    TYPE_SELF_TEST,
    TYPE_SELF_TEST_REPORT,
    TYPE_SET_TRAVEL_LIMIT,
    TYPE_START,
    TYPE_STATUS,
    TYPE_STOP,
    TYPE_TIMING,
    TYPE_WRITE_CALIBRATION,
)

_NO_FIELD = const(255)
_CODE_MOST = const(65520)
_USE_NOMINAL = const(65535)
_LAYOUT = const(1)


def over_pressure_code(data):
    """Return a calibration record's threshold, None for the nominal one or where there is no record."""
    if len(data) != SIZE_CALIBRATION_RECORD:
        return None
    code = struct.unpack_from("<H", data, OFFSET_CALIBRATION_RECORD_OVER_PRESSURE_CODE)[0]
    return None if code == _USE_NOMINAL else code


def _is_calibration_record(data):
    if len(data) != SIZE_CALIBRATION_RECORD or data[OFFSET_CALIBRATION_RECORD_LAYOUT] != _LAYOUT:
        return False
    code = over_pressure_code(data)
    return code is None or code <= _CODE_MOST


class Commands:
    """Answers requests for the app. Main loop only."""

    def __init__(self, app):
        self._app = app
        self._handlers = {
            TYPE_HELLO: self._hello,
            TYPE_START: self._start,
            TYPE_STOP: self._stop,
            TYPE_READ_STATUS: self._read_status,
            TYPE_READ_CALIBRATION: self._read_calibration,
            TYPE_WRITE_CALIBRATION: self._write_calibration,
            TYPE_SELF_TEST: self._self_test,
            TYPE_ENTER_MAINTENANCE: self._enter_maintenance,
            TYPE_SET_TRAVEL_LIMIT: self._set_travel_limit,
            TYPE_READ_TIMING: self._read_timing,
        }

    def handle(self, receiver):
        """Answer the request a receiver holds; its frame was whole."""
        request = receiver.sequence
        message_type = receiver.message_type
        if receiver.outcome == UNKNOWN_TYPE:
            self._reject(request, message_type, REJECT_CODE_UNKNOWN_TYPE)
        elif receiver.outcome == BAD_LENGTH:
            self._reject(request, message_type, REJECT_CODE_BAD_LENGTH)
        elif message_type not in FROZEN_REQUESTS and not self._app.table_agreed:
            self._reject(request, message_type, REJECT_CODE_TABLE_MISMATCH)
        elif message_type in REFUSED_WHILE_STREAMING and self._app.sampler.streaming:
            self._reject(request, message_type, REJECT_CODE_BUSY_STREAMING)
        else:
            self._handlers[message_type](request, receiver.body)

    def _hello(self, request, body):
        app = self._app
        low, high = struct.unpack_from(FORMAT_HELLO, body, HEADER_SIZE)
        app.sampler.stop()
        app.forget_blocks()
        app.alarm.limit_travel(NO_TRAVEL_LIMIT)
        app.table_agreed = low == DIGEST_LOW and high == DIGEST_HIGH
        app.marks.session = True
        app.outbox.reply(TYPE_IDENTITY, reports.identity(request, app.board, app.store))

    def _start(self, request, body):
        rate_hz = struct.unpack_from(FORMAT_START, body, HEADER_SIZE)[0]
        if not RATE_MIN_HZ <= rate_hz <= RATE_MAX_HZ:
            self._reject(request, TYPE_START, REJECT_CODE_OUT_OF_RANGE, 0)
            return
        self._app.start_streaming(rate_hz)
        self._ack(request, TYPE_START)

    def _stop(self, request, _body):
        self._app.sampler.stop()
        self._ack(request, TYPE_STOP, after_blocks=True)

    def _read_status(self, request, _body):
        self._app.outbox.reply(TYPE_STATUS, self._app.status.answer(request))

    def _read_timing(self, request, _body):
        self._app.outbox.reply(TYPE_TIMING, reports.timing(request, self._app.sampler))

    def _set_travel_limit(self, request, body):
        code = struct.unpack_from(FORMAT_SET_TRAVEL_LIMIT, body, HEADER_SIZE)[0]
        if code > _CODE_MOST and code != NO_TRAVEL_LIMIT:
            self._reject(request, TYPE_SET_TRAVEL_LIMIT, REJECT_CODE_OUT_OF_RANGE, 0)
            return
        self._app.alarm.limit_travel(code)
        self._ack(request, TYPE_SET_TRAVEL_LIMIT)

    def _read_calibration(self, request, _body):
        store = self._app.store
        if store.generation == 0:
            self._reject(request, TYPE_READ_CALIBRATION, REJECT_CODE_NOT_CALIBRATED)
            return
        head = struct.pack(FORMAT_CALIBRATION, request, store.generation, len(store.data))
        self._app.outbox.reply(TYPE_CALIBRATION, head + store.data)

    def _write_calibration(self, request, body):
        app = self._app
        generation, count = struct.unpack_from(FORMAT_WRITE_CALIBRATION, body, HEADER_SIZE)
        begin = HEADER_SIZE + SIZE_WRITE_CALIBRATION
        data = bytes(body[begin : begin + count])
        if generation != app.store.generation + 1:
            self._reject(request, TYPE_WRITE_CALIBRATION, REJECT_CODE_OUT_OF_RANGE, 0)
        elif count > CALIBRATION_BYTES or not _is_calibration_record(data):
            self._reject(request, TYPE_WRITE_CALIBRATION, REJECT_CODE_OUT_OF_RANGE, 1)
        elif not app.button.opens_seal():
            self._reject(request, TYPE_WRITE_CALIBRATION, REJECT_CODE_SEALED)
        elif not self._store(generation, data):
            self._reject(request, TYPE_WRITE_CALIBRATION, REJECT_CODE_STORAGE_FAILED)
        else:
            app.alarm.set_threshold(over_pressure_code(data))
            self._ack(request, TYPE_WRITE_CALIBRATION)

    def _store(self, generation, data):
        """Write to the flash, during which interrupts are off: sampling begins anew behind it."""
        app = self._app
        app.sampler.halt()
        stored = app.store.write(generation, data)
        app.sampler.run(RATE_DEFAULT_HZ)
        return stored

    def _self_test(self, request, _body):
        app = self._app
        app.sampler.halt()
        report = bytearray(selftest.run(app.board, app.store, app.button, app.foot_switch, app.sampler))
        app.sampler.run(RATE_DEFAULT_HZ)
        app.show_signs()
        report[0] = request
        app.outbox.reply(TYPE_SELF_TEST_REPORT, report)

    def _enter_maintenance(self, request, _body):
        self._app.sampler.stop()
        self._app.forget_blocks()
        maintenance.request()
        self._ack(request, TYPE_ENTER_MAINTENANCE)
        self._app.leave()

    def _ack(self, request, message_type, after_blocks=False):
        self._app.outbox.reply(TYPE_ACK, struct.pack(FORMAT_ACK, request, message_type), after_blocks)

    def _reject(self, request, message_type, code, field=_NO_FIELD):
        self._app.outbox.reply(TYPE_REJECT, struct.pack(FORMAT_REJECT, request, message_type, code, field))
