"""The payloads in which the fixture says who and how it is."""

import struct

import version
from micropython import const
from table import (
    DIGEST_HIGH,
    DIGEST_LOW,
    FORMAT_IDENTITY,
    FORMAT_STATUS,
    FORMAT_TIMING,
    MARKS_KEPT,
    RATE_MAX_HZ,
    RATE_MIN_HZ,
    SIZE_STATUS,
    STATUS_FLAG_ANSWER,
    STATUS_FLAG_CALIBRATED,
    STATUS_FLAG_OVER_PRESSURE,
    STATUS_FLAG_OVER_PRESSURE_SEEN,
    STATUS_FLAG_OVER_TRAVEL,
    STATUS_FLAG_OVER_TRAVEL_SEEN,
    STATUS_FLAG_SEAL_OPEN,
    STATUS_FLAG_STREAMING,
    STATUS_FLAG_TABLE_AGREED,
    STATUS_FLAG_TRAVEL_LIMITED,
)

_U16_MOST = const(65535)


def identity(request, board, store):
    """Return the payload of an identity."""
    return struct.pack(
        FORMAT_IDENTITY,
        request,
        DIGEST_LOW,
        DIGEST_HIGH,
        board.kind,
        board.unique_id,
        version.FIRMWARE.encode(),
        board.interpreter_version.encode(),
        board.interpreter.encode(),
        RATE_MIN_HZ,
        RATE_MAX_HZ,
        store.generation,
        board.reset_cause,
    )


def timing(request, sampler):
    """Return the payload that tells how sampling keeps its time."""
    return struct.pack(
        FORMAT_TIMING,
        request,
        sampler.interval_us,
        min(sampler.early_us, _U16_MOST),
        min(sampler.late_us, _U16_MOST),
        min(sampler.interrupt_us, _U16_MOST),
    )


class StatusReport:
    """Packs statuses into a payload of its own, so that the one of every second takes little heap."""

    def __init__(self, app):
        self._app = app
        self._kept_marks = [0] * (4 * MARKS_KEPT)
        self._payload = bytearray(SIZE_STATUS)

    def pack(self, request):
        """Return the payload, good until the next call; request is None for one sent unasked."""
        app = self._app
        sampler = app.sampler
        time_low, time_high = sampler.time_now()
        app.marks.copy_kept(self._kept_marks)
        struct.pack_into(
            FORMAT_STATUS,
            self._payload,
            0,
            0 if request is None else request,
            self._flags(request is not None),
            app.button.state(),
            app.foot_switch.state(),
            app.board.reset_cause,
            app.uptime_s & 0xFFFF,
            app.uptime_s >> 16,
            sampler.period_us if sampler.streaming else 0,
            sampler.index_low,
            sampler.index_high,
            time_low,
            time_high,
            app.queue.dropped,
            sampler.lost_samples,
            sampler.overruns,
            app.marks.dropped,
            app.refused_frames,
            sampler.travel_code,
            sampler.pressure_code,
            sampler.slow_codes[app.SUPPLY_SLOT],
            sampler.slow_codes[app.THERMISTOR_SLOT],
            app.store.generation,
            *self._kept_marks,
        )
        return self._payload

    def answer(self, request):
        """Return the payload that answers a request. One sent unasked may still wait in the other: it stays one."""
        payload = bytes(self.pack(request))
        self.pack(None)
        return payload

    def _flags(self, is_answer):
        app = self._app
        flags = STATUS_FLAG_ANSWER if is_answer else 0
        if app.sampler.streaming:
            flags |= STATUS_FLAG_STREAMING
        if app.alarm.over:
            flags |= STATUS_FLAG_OVER_PRESSURE
        if app.alarm.seen:
            flags |= STATUS_FLAG_OVER_PRESSURE_SEEN
        if app.store.generation > 0:
            flags |= STATUS_FLAG_CALIBRATED
        if app.button.opens_seal():
            flags |= STATUS_FLAG_SEAL_OPEN
        if app.table_agreed:
            flags |= STATUS_FLAG_TABLE_AGREED
        if app.alarm.is_travel_limited():
            flags |= STATUS_FLAG_TRAVEL_LIMITED
        if app.alarm.over_travel:
            flags |= STATUS_FLAG_OVER_TRAVEL
        if app.alarm.travel_seen:
            flags |= STATUS_FLAG_OVER_TRAVEL_SEEN
        return flags
