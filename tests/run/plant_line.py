"""A fixture without firmware for tests of the run: the plant's samples framed as the wire wants them.

Time passes only in `wait`. The virtual fixture proper runs the real firmware; this stands in where a
test is about the run and not about the fixture.
"""

from __future__ import annotations

import rodtrue_protocol as wire
from link.lines import ack, identity, reject
from rodtrue.virtual.plant import Plant

BLOCK_SAMPLES = 20


class PlantLine:
    """The far end of a line, with a plant behind it."""

    name = "plant"

    def __init__(self, plant: Plant) -> None:
        self.plant = plant
        self.now_s = 0.0
        self.gone = False
        self.lose_blocks: set[int] = set()
        self.travel_limits: list[int] = []
        self._pending = b""
        self._decoder = wire.Decoder("to_fixture")
        self._rate_hz = 0
        self._index = 0
        self.begun_us = 0
        self._sequence = 0

    def clock(self) -> float:
        return self.now_s

    def write(self, data: bytes) -> None:
        self._refuse_if_gone()
        for event in self._decoder.feed(data):
            if isinstance(event, wire.WireMessage):  # what came damaged is not answered
                self._answer(event)

    def read(self, wait_s: float = 0.0) -> bytes:
        self._refuse_if_gone()
        data, self._pending = self._pending, b""
        return data

    def wait(self, seconds: float) -> None:
        if not self._rate_hz:
            self.now_s += seconds
            return
        self.now_s += BLOCK_SAMPLES / self._rate_hz
        period_us = 1_000_000 // self._rate_hz
        codes = self.plant.samples(self._rate_hz, BLOCK_SAMPLES / self._rate_hz)
        block = wire.SampleBlock.of(self._index, self.begun_us + self._index * period_us, period_us, codes)
        if self._index // BLOCK_SAMPLES not in self.lose_blocks:
            self.send(block)
        self._index += BLOCK_SAMPLES

    def send(self, message: wire.WireMessage) -> None:
        self._pending += wire.encode(message, self._sequence)
        self._sequence = (self._sequence + 1) % 256

    def press_foot_switch(self) -> None:
        self.send(wire.Mark(1, wire.MarkSource.FOOT_SWITCH, self._index))

    def _answer(self, request: wire.WireMessage) -> None:
        if isinstance(request, wire.Hello):
            self._pending += identity(request.sequence)
        elif isinstance(request, wire.ReadCalibration):
            self._pending += reject(request, wire.RejectCode.NOT_CALIBRATED)
        elif isinstance(request, wire.ReadTiming):
            self.send(wire.Timing(request.sequence, 500, 0, 12, 180))
        else:
            if isinstance(request, wire.SetTravelLimit):
                self.travel_limits.append(request.travel_code)
            if isinstance(request, wire.Start):
                self._rate_hz, self._index = request.rate_hz, 0
            if isinstance(request, wire.Stop):
                self._rate_hz = 0
            self._pending += ack(request)

    def _refuse_if_gone(self) -> None:
        if self.gone:
            from rodtrue.model.errors import FixtureError

            raise FixtureError("port plant: the fixture went away", "Check the cable.")
