"""What a sample code means, nominally: the figures of converter and sensors that every room shares.

A code is four times the sum of four 12-bit conversions (0 to 65520); code / 65536 is the ratio of the sensor's
output to its supply, which is the converter's reference too.
"""

CODE_SPAN = 65536.0
CONVERTER_STEPS = 4096.0
LIVE_ZERO, LIVE_END = 0.1, 0.9
"""Both sensors use 0.1 to 0.9 of the supply."""
TRAVEL_SPAN_MM = 100.0
PRESSURE_SPAN_KPA = 2068.0
