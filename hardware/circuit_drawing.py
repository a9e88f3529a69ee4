"""The circuit diagrams of the blocks in the wiring drawing: what stands between sensors, converter and board."""

from __future__ import annotations

from sheet import THICK, Sheet

PANEL_W, PANEL_H = 94.0, 57.0
LEFT, TOP = 8.0, 20.0


def _panel(sheet: Sheet, column: int, row: int, title: str) -> tuple[float, float]:
    x, y = LEFT + column * PANEL_W, TOP + row * (PANEL_H + 1)
    sheet.rect(x, y, PANEL_W - 1, PANEL_H)
    sheet.text(x + 3, y + 5, title, bold=True)
    return x, y


def _supply(sheet: Sheet, x: float, y: float, words: str) -> None:
    """A supply's bar at the top of a line."""
    sheet.line(x - 2.5, y, x + 2.5, y, THICK)
    sheet.text(x, y - 1.2, words, anchor="middle")


def _out(sheet: Sheet, x: float, y: float, words: str) -> None:
    sheet.terminal(x, y)
    sheet.text(x + 2, y + 1, words)


def _in(sheet: Sheet, x: float, y: float, words: str) -> None:
    sheet.terminal(x, y)
    sheet.text(x - 2, y + 1, words, anchor="end")


def _transistor(sheet: Sheet, x: float, y: float, label: str) -> None:
    """An NPN transistor: base at (x, y), collector at (x + 6, y - 6), emitter at (x + 6, y + 6)."""
    sheet.circle(x + 4, y, 4.6)
    sheet.line(x, y, x + 2.5, y)
    sheet.line(x + 2.5, y - 2.8, x + 2.5, y + 2.8, THICK)
    sheet.path([(x + 2.5, y - 1.2), (x + 6, y - 3.5), (x + 6, y - 6)])
    sheet.arrow(x + 2.5, y + 1.2, x + 6, y + 3.5)
    sheet.line(x + 6, y + 3.5, x + 6, y + 6)
    sheet.text(x + 10, y + 1, label)


def _diode(sheet: Sheet, x: float, y1: float, y2: float, label: str) -> None:
    """A diode that points up, as a clamp or shunt stands."""
    middle = (y1 + y2) / 2
    sheet.line(x, y1, x, y2)
    sheet.path([(x - 1.8, middle + 1.6), (x + 1.8, middle + 1.6), (x, middle - 1.6), (x - 1.8, middle + 1.6)])
    sheet.line(x - 1.8, middle - 1.6, x + 1.8, middle - 1.6, THICK)
    sheet.text(x + 3, middle + 1, label)


def _travel(sheet: Sheet) -> None:
    x, y = _panel(sheet, 0, 0, "Travel (A1): live zero, pull-down, filter")
    _supply(sheet, x + 16, y + 12, "5VS")
    sheet.resistor(x + 16, y + 12, x + 16, y + 22, "R1")
    sheet.path([(x + 16, y + 22), (x + 16, y + 24)])
    sheet.rect(x + 13.5, y + 24, 5, 14, THICK)
    sheet.text(x + 11.5, y + 30, "X1", anchor="end")
    sheet.text(x + 11.5, y + 34, "5 k", anchor="end")
    sheet.resistor(x + 16, y + 38, x + 16, y + 49, "R2")
    sheet.ground(x + 16, y + 49)
    sheet.text(x + 3, y + 45, "R1 = R2", size=2.6)
    sheet.text(x + 3, y + 49, "625", size=2.6)
    sheet.arrow(x + 32, y + 31, x + 18.5, y + 31)
    sheet.line(x + 32, y + 31, x + 38, y + 31)
    sheet.joint(x + 32, y + 31)
    sheet.resistor(x + 32, y + 31, x + 32, y + 49, "R5 2.2 M")
    sheet.ground(x + 32, y + 49)
    sheet.resistor(x + 38, y + 31, x + 58, y + 31, "R7 10.0 k")
    sheet.joint(x + 60, y + 31)
    sheet.line(x + 58, y + 31, x + 74, y + 31)
    sheet.capacitor(x + 60, y + 31, y + 49, "C1 100 n film")
    sheet.ground(x + 60, y + 49)
    _out(sheet, x + 74, y + 31, "CH0")


def _pressure(sheet: Sheet) -> None:
    x, y = _panel(sheet, 1, 0, "Pressure (A1): pull-down, filter")
    sheet.rect(x + 5, y + 20, 16, 22, THICK)
    sheet.text(x + 13, y + 29, "X2", anchor="middle")
    sheet.text(x + 13, y + 33, "0.5-4.5", anchor="middle")
    sheet.line(x + 13, y + 20, x + 13, y + 14)
    _supply(sheet, x + 13, y + 14, "5VS")
    sheet.line(x + 13, y + 42, x + 13, y + 49)
    sheet.ground(x + 13, y + 49)
    sheet.line(x + 21, y + 31, x + 38, y + 31)
    sheet.joint(x + 32, y + 31)
    sheet.resistor(x + 32, y + 31, x + 32, y + 49, "R6 2.2 M")
    sheet.ground(x + 32, y + 49)
    sheet.resistor(x + 38, y + 31, x + 58, y + 31, "R8 10.5 k")
    sheet.joint(x + 60, y + 31)
    sheet.line(x + 58, y + 31, x + 74, y + 31)
    sheet.capacitor(x + 60, y + 31, y + 49, "C2 100 n film")
    sheet.ground(x + 60, y + 49)
    _out(sheet, x + 74, y + 31, "CH1")


def _slow(sheet: Sheet) -> None:
    x, y = _panel(sheet, 2, 0, "Thermistor, supply monitor (A1)")
    _supply(sheet, x + 12, y + 13, "5VS")
    sheet.resistor(x + 12, y + 13, x + 12, y + 28, "R3 10 k 0.1 %")
    sheet.joint(x + 12, y + 30)
    sheet.line(x + 12, y + 28, x + 12, y + 30)
    sheet.resistor(x + 12, y + 30, x + 12, y + 49, "X3")
    sheet.ground(x + 12, y + 49)
    sheet.line(x + 12, y + 30, x + 36, y + 30)
    sheet.joint(x + 24, y + 30)
    sheet.capacitor(x + 24, y + 30, y + 49, "C3 100 n")
    sheet.ground(x + 24, y + 49)
    _out(sheet, x + 36, y + 30, "CH2")
    _supply(sheet, x + 58, y + 13, "5VS")
    sheet.resistor(x + 58, y + 13, x + 58, y + 28, "R9 1 k")
    sheet.line(x + 58, y + 28, x + 58, y + 30)
    sheet.joint(x + 58, y + 30)
    _diode(sheet, x + 58, y + 30, y + 49, "D1 3.0 V")
    sheet.ground(x + 58, y + 49)
    sheet.line(x + 58, y + 30, x + 80, y + 30)
    sheet.joint(x + 76, y + 30)
    sheet.capacitor(x + 76, y + 30, y + 49, "C6 100 n")
    sheet.ground(x + 76, y + 49)
    _out(sheet, x + 80, y + 30, "CH3")


def _supply_filter(sheet: Sheet) -> None:
    x, y = _panel(sheet, 0, 1, "Sensors' supply (A2)")
    _in(sheet, x + 16, y + 25, "VBUS")
    sheet.line(x + 16, y + 25, x + 20, y + 25)
    sheet.rect(x + 20, y + 23.5, 9, 3)
    sheet.line(x + 20, y + 25, x + 29, y + 25)
    sheet.text(x + 24.5, y + 21.5, "F1 0.2 A", anchor="middle")
    sheet.resistor(x + 29, y + 25, x + 47, y + 25, "R10 4.7")
    sheet.line(x + 47, y + 25, x + 76, y + 25)
    sheet.joint(x + 49, y + 25)
    sheet.capacitor(x + 49, y + 25, y + 45, "C4 470 u")
    sheet.ground(x + 49, y + 45)
    sheet.joint(x + 69, y + 25)
    sheet.capacitor(x + 69, y + 25, y + 45, "C5 100 n")
    sheet.ground(x + 69, y + 45)
    _out(sheet, x + 76, y + 25, "5VS")
    sheet.text(x + 3, y + 54, "F1 resettable. Star points of 5VS and 0V at C4.", size=2.6)


def _buffer(sheet: Sheet, x: float, y: float, *, right: bool) -> None:
    tip, back = (x + 6, x) if right else (x, x + 6)
    sheet.path([(back, y - 3), (back, y + 3), (tip, y), (back, y - 3)], THICK)


def _levels(sheet: Sheet) -> None:
    x, y = _panel(sheet, 1, 1, "Levels (U3, U4); supply decoupling of U2")
    for index, (from_words, to_words) in enumerate([("GP17", "CS 10"), ("GP18", "CLK 13"), ("GP19", "DIN 11")]):
        level = y + 12 + 7 * index
        _in(sheet, x + 16, level, from_words)
        sheet.line(x + 16, level, x + 26, level)
        _buffer(sheet, x + 26, level, right=True)
        sheet.line(x + 32, level, x + 40, level)
        _out(sheet, x + 40, level, to_words)
    sheet.text(x + 54, y + 14, "U3: AHCT type, 5VS,", size=2.6)
    sheet.text(x + 54, y + 18, "OE on 0V, 100 n", size=2.6)
    level = y + 42
    _in(sheet, x + 16, level, "GP16")
    sheet.line(x + 16, level, x + 26, level)
    _buffer(sheet, x + 26, level, right=False)
    sheet.line(x + 32, level, x + 44, level)
    sheet.joint(x + 38, level)
    _supply(sheet, x + 38, y + 33.5, "")
    sheet.text(x + 34.5, y + 34.5, "3V3", anchor="end")
    sheet.line(x + 38, y + 33.5, x + 38, y + 34)
    sheet.resistor(x + 38, y + 34, x + 38, y + 42, "R4 100 k")
    _out(sheet, x + 44, level, "DOUT 12")
    sheet.text(x + 20, y + 49, "U4: LVC type, 3V3, OE on 0V, 100 n", size=2.6)
    sheet.text(x + 20, y + 53, "U2: 10 u and 100 n from 15, 16 to 14", size=2.6)


def _contact(sheet: Sheet) -> None:
    x, y = _panel(sheet, 2, 1, "Button, foot switch (A3, A4 alike)")
    sheet.terminal(x + 10, y + 28)
    sheet.terminal(x + 10, y + 38)
    sheet.line(x + 10, y + 37.2, x + 14, y + 29.5)
    sheet.text(x + 3, y + 34, "S", anchor="start")
    sheet.path([(x + 10, y + 38), (x + 10, y + 45)])
    sheet.ground(x + 10, y + 45)
    sheet.path([(x + 10, y + 27.2), (x + 10, y + 25), (x + 22, y + 25)])
    sheet.joint(x + 20, y + 25)
    _diode(sheet, x + 20, y + 25, y + 45, "D3")
    sheet.ground(x + 20, y + 45)
    sheet.resistor(x + 22, y + 25, x + 46, y + 25, "R17 1 k")
    sheet.joint(x + 50, y + 25)
    sheet.line(x + 46, y + 25, x + 74, y + 25)
    sheet.resistor(x + 50, y + 12, x + 50, y + 25, "R16 10 k")
    _supply(sheet, x + 50, y + 12, "")
    sheet.text(x + 46.5, y + 13, "3V3", anchor="end")
    sheet.joint(x + 58, y + 25)
    sheet.capacitor(x + 58, y + 25, y + 45, "C7 100 n")
    sheet.ground(x + 58, y + 45)
    _out(sheet, x + 74, y + 25, "GP14, 15")
    sheet.text(x + 3, y + 54, "Closed is low. D3: clamp for 3.3 V at the plug.", size=2.6)


def _driver(sheet: Sheet, column: int, title: str, pin: str, base: str, down: str, load: str, label: str) -> None:
    x, y = _panel(sheet, column, 2, title)
    _in(sheet, x + 14, y + 40, pin)
    sheet.resistor(x + 14, y + 40, x + 38, y + 40, base)
    sheet.joint(x + 40, y + 40)
    sheet.line(x + 38, y + 40, x + 56, y + 40)
    sheet.resistor(x + 40, y + 40, x + 40, y + 51, down)
    sheet.ground(x + 40, y + 51)
    _transistor(sheet, x + 56, y + 40, label)
    sheet.line(x + 62, y + 46, x + 62, y + 51)
    sheet.ground(x + 62, y + 51)
    _supply(sheet, x + 62, y + 12, "VBUS")
    sheet.text(x + 66, y + 20, load)


def _lamp(sheet: Sheet) -> None:
    _driver(sheet, 0, "Lamp (A5)", "GP12", "R11 2.2 k", "R12 10 k", "H1 lamp", "T1")
    x, y = LEFT, TOP + 2 * (PANEL_H + 1)
    sheet.line(x + 62, y + 12, x + 62, y + 22)
    sheet.path([(x + 60, y + 17.5), (x + 64, y + 17.5), (x + 62, y + 20.5), (x + 60, y + 17.5)])
    sheet.line(x + 60, y + 20.5, x + 64, y + 20.5, THICK)
    sheet.resistor(x + 62, y + 22, x + 62, y + 34, "R13 150")


def _sounder(sheet: Sheet) -> None:
    _driver(sheet, 1, "Sounder (A6)", "GP13", "R14 1 k", "R15 10 k", "H2 sounder", "T2")
    x, y = LEFT + PANEL_W, TOP + 2 * (PANEL_H + 1)
    sheet.line(x + 62, y + 12, x + 62, y + 16)
    sheet.rect(x + 59, y + 16, 6, 8, THICK)
    sheet.line(x + 62, y + 24, x + 62, y + 34)
    sheet.path([(x + 62, y + 14), (x + 50, y + 14), (x + 50, y + 15)])
    sheet.path([(x + 62, y + 27), (x + 50, y + 27), (x + 50, y + 26)])
    sheet.joint(x + 62, y + 14)
    sheet.joint(x + 62, y + 27)
    _diode(sheet, x + 50, y + 15, y + 26, "")
    sheet.text(x + 46, y + 21.5, "D2", anchor="end")


def _notes(sheet: Sheet) -> None:
    x, y = _panel(sheet, 2, 2, "Reading this sheet")
    lines = [
        "Resistances in ohm, k = kilo, M = mega.",
        "Capacitances in farad, n = nano, u = micro.",
        "Bars at a line's foot: 0V. Bar at its top: supply.",
        "A dot: lines meet. An open circle: a terminal.",
        "Values and tolerances: parts.md.",
        "How they were found: circuits.md.",
        "R1, R2: matched to the track, see circuits.md.",
        "Nothing here was built or measured.",
    ]
    for index, words in enumerate(lines):
        sheet.text(x + 4, y + 12 + 5 * index, words)


def draw() -> Sheet:
    """Draw all panels."""
    sheet = Sheet("Fixture circuits", "the blocks A1 to A6, U3 and U4 of wiring.svg")
    for panel in (_travel, _pressure, _slow, _supply_filter, _levels, _contact, _lamp, _sounder, _notes):
        panel(sheet)
    return sheet

