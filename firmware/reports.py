"""The payloads in which the fixture says who and how it is."""

import struct

import version
from table import (
    DIGEST_HIGH,
    DIGEST_LOW,
    FORMAT_IDENTITY,
    FORMAT_STATUS,
    RATE_MAX_HZ,
    RATE_MIN_HZ,
    STATUS_FLAG_ANSWER,
    STATUS_FLAG_CALIBRATED,
    STATUS_FLAG_OVER_PRESSURE,
    STATUS_FLAG_OVER_PRESSURE_SEEN,
    STATUS_FLAG_SEAL_OPEN,
    STATUS_FLAG_STREAMING,
    STATUS_FLAG_TABLE_AGREED,
)


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


def status(request, app):
    """Return the payload of a status; request is None for one sent unasked."""
    sampler = app.sampler
    flags = 0
    for flag, holds in (
        (STATUS_FLAG_ANSWER, request is not None),
        (STATUS_FLAG_STREAMING, sampler.streaming),
        (STATUS_FLAG_OVER_PRESSURE, app.alarm.over),
        (STATUS_FLAG_OVER_PRESSURE_SEEN, app.alarm.seen),
        (STATUS_FLAG_CALIBRATED, app.store.generation > 0),
        (STATUS_FLAG_SEAL_OPEN, app.button.opens_seal()),
        (STATUS_FLAG_TABLE_AGREED, app.table_agreed),
    ):
        if holds:
            flags |= flag
    time_low, time_high = sampler.time_now()
    return struct.pack(
        FORMAT_STATUS,
        0 if request is None else request,
        flags,
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
        *app.marks.kept(),
    )
