"""Pins and converter channels, written by hardware/generate_pins.py from hardware/pins.json."""

from micropython import const

PIN_CONVERTER_SELECT = const(17)
PIN_CONVERTER_CLOCK = const(18)
PIN_CONVERTER_IN = const(19)
PIN_CONVERTER_OUT = const(16)
PIN_BUTTON = const(14)
PIN_FOOT_SWITCH = const(15)
PIN_LAMP = const(12)
PIN_SOUNDER = const(13)

SPI_BUS = const(0)
SPI_POLARITY = const(0)
SPI_PHASE = const(0)
SPI_CLOCK_HZ = const(1000000)

CHANNEL_TRAVEL = const(0)
CHANNEL_PRESSURE = const(1)
CHANNEL_THERMISTOR = const(2)
CHANNEL_SUPPLY = const(3)
