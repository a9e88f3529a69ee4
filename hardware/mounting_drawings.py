"""Line drawings of the sensor on each layout, and of the hand slide with its stop. Not to scale."""

from __future__ import annotations

from sheet import THICK, Sheet

PIN = (105.0, 75.0)
ROD = 0.9


def _mark(sheet: Sheet, number: int, at: tuple[float, float], balloon: tuple[float, float]) -> None:
    """A numbered balloon with a leader to what it names."""
    sheet.line(*at, *balloon)
    sheet.circle(*balloon, 3.2, fill="white")
    sheet.text(balloon[0], balloon[1] + 1, str(number), anchor="middle", bold=True)


def _key(sheet: Sheet, x: float, y: float, lines: list[str]) -> None:
    for number, words in enumerate(lines, start=1):
        at = y + 5.2 * (number - 1)
        sheet.text(x + 4, at, str(number), anchor="end", bold=True)
        sheet.text(x + 6, at, words)


def _pivot(sheet: Sheet, x: float, y: float) -> None:
    sheet.circle(x, y, 2.2, THICK, "white")
    sheet.circle(x, y, 0.6, fill="black")


def _pin(sheet: Sheet, x: float, y: float) -> None:
    sheet.circle(x, y, 1.6, THICK, "white")


def _fixed(sheet: Sheet, x1: float, x2: float, y: float) -> None:
    """Something that stands on the engine: a thick line with hatching below."""
    sheet.line(x1, y, x2, y, THICK)
    for step in range(int((x2 - x1) / 4)):
        sheet.line(x1 + 4 * step + 3, y, x1 + 4 * step, y + 3)


def _slot(sheet: Sheet, x: float, y: float, long: float = 16.0, back: float = 3.5) -> None:
    """A slot round a pin at (x, y); its right end is `back` mm to the right of the pin."""
    sheet.rect(x + back - long, y - 3.5, long, 7, THICK)


def _spring(sheet: Sheet, x1: float, x2: float, y: float) -> None:
    steps = 12
    points = [(x1, y)]
    points += [(x1 + (x2 - x1) * (i + 0.5) / steps, y + (2.2 if i % 2 else -2.2)) for i in range(steps)]
    sheet.path([*points, (x2, y)])


def _sensor(sheet: Sheet, pin: tuple[float, float], rear_x: float, post: float = 28.0) -> None:
    """The potentiometer in line with the rod, a ball joint at either end, the rear one on a post."""
    x, y = pin
    sheet.line(rear_x + 5, y, x - 3, y, ROD)
    sheet.rect(rear_x + 8, y - 5, 46, 10, THICK, "white")
    sheet.circle(rear_x, y, 3.4, THICK, "white")
    sheet.circle(rear_x, y, 1.3, THICK)
    sheet.line(rear_x + 3.4, y, rear_x + 8, y, ROD)
    sheet.line(rear_x, y + 3.4, rear_x, y + post, 1.2)


def _throttle(sheet: Sheet) -> None:
    x, y = PIN
    sheet.line(x, y, x, y - 32, 1.6)
    _pivot(sheet, x, y - 32)
    sheet.circle(x, y, 3.4, THICK, "white")
    _pin(sheet, x, y)
    _spring(sheet, x - 42, x, y - 20)
    sheet.line(x - 42, y - 26, x - 42, y - 14, 1.2)
    sheet.rect(x - 10, y - 12, 7.5, 5, THICK)
    sheet.line(x - 2.5, y - 9.5, x - 0.8, y - 9.5, THICK)
    sheet.arrow(x + 3, y - 40, x + 30, y - 40, THICK)
    sheet.text(x + 32, y - 39, "towards wide open: travel positive")


def _start(name: str) -> Sheet:
    sheet = Sheet(f"Mounting: {name}", "at curb idle; not to scale; engine off while mounting")
    _throttle(sheet)
    _sensor(sheet, PIN, 24)
    _fixed(sheet, 16, 40, PIN[1] + 28)
    _mark(sheet, 1, (PIN[0] + 1, PIN[1] + 3), (PIN[0] + 4, PIN[1] + 17))
    _mark(sheet, 2, (PIN[0] - 3, PIN[1] + 1.5), (PIN[0] - 9, PIN[1] + 17))
    _mark(sheet, 3, (55, PIN[1] + 5), (60, PIN[1] + 17))
    _mark(sheet, 4, (24, PIN[1] + 22), (34, PIN[1] + 20))
    _mark(sheet, 5, (PIN[0] - 30, PIN[1] - 22), (PIN[0] - 28, PIN[1] - 31))
    _mark(sheet, 6, (PIN[0] - 8, PIN[1] - 12), (PIN[0] - 14, PIN[1] - 38))
    return sheet


COMMON = [
    "Throttle's pin, with its extension: the sensor follows this, never the rod.",
    "Ball joint on the extension, play under 0.02 mm; it must not touch the rod.",
    "Potentiometer, in line with the rod on the pin within 2 degrees; 5 to 10 mm of its stroke used at curb idle.",
    "Bracket of 4 mm steel on the throttle's own casting; the body's ball joint 250 mm or more from the pin.",
    "Throttle's own return spring, untouched.",
    "Curb-idle stop.",
]


def direct() -> Sheet:
    """Draw mount_direct.svg."""
    sheet = _start("direct rod")
    x, y = PIN
    sheet.line(x + 3.5, y, 265, y, ROD)
    _slot(sheet, x, y)
    sheet.rect(178, y - 3, 26, 6, THICK, "white")
    sheet.line(191, y - 3, 191, y - 8, 1.2)
    sheet.line(188, y - 8, 194, y - 8, 1.2)
    sheet.line(265, y, 265, y + 38, 1.6)
    _pin(sheet, 265, y)
    _pivot(sheet, 265, y + 38)
    sheet.rect(256, y + 14, 8, 6, THICK)
    _mark(sheet, 7, (x + 2, y - 3.5), (x + 12, y - 16))
    _mark(sheet, 8, (191, y + 3), (191, y + 17))
    _mark(sheet, 9, (265, y + 28), (278, y + 28))
    _mark(sheet, 10, (258, y + 20), (248, y + 30))
    _key(sheet, 14, 142, [
        *COMMON,
        "Slot of the rod, the pin at its end towards the transmission (loaded) or before it (gap of a short rod).",
        "Slip joint with lock screw: the adjuster. Never loosened to free the rod.",
        "Transmission's throttle lever.",
        "Lever's own stop.",
    ])
    return sheet


def one_bell_crank() -> Sheet:
    """Draw mount_one_bell_crank.svg."""
    sheet = _start("one bell crank")
    x, y = PIN
    sheet.line(x + 2, y, 206.2, y, ROD)
    _slot(sheet, 208, y, back=14.2)
    sheet.path([(208, y), (208, y + 28), (236, y + 28)], 1.6)
    _pin(sheet, 208, y)
    _pivot(sheet, 208, y + 28)
    sheet.line(236, y + 28, 236, 178, ROD)
    _pin(sheet, 236, y + 28)
    sheet.rect(233, y + 38, 6, 20, THICK, "white")
    sheet.line(239, y + 48, 244, y + 48, 1.2)
    sheet.line(244, y + 45, 244, y + 51, 1.2)
    sheet.line(236, 178, 270, 178, 1.6)
    _pin(sheet, 236, 178)
    _pivot(sheet, 270, 178)
    sheet.rect(250, 170, 6, 7, THICK)
    _mark(sheet, 7, (216, y - 3.5), (222, y - 16))
    _mark(sheet, 8, (210, y + 26), (218, y + 16))
    _mark(sheet, 9, (244, y + 50), (256, y + 56))
    _mark(sheet, 10, (262, 178), (262, 191))
    _mark(sheet, 11, (253, 170), (258, 158))
    _key(sheet, 12, 130, [
        *COMMON,
        "Slot of the upper rod on the bell crank's pin (its end towards the throttle pushes): unhook here.",
        "Bell crank.",
        "Slip joint at the lower rod's upper end: the adjuster.",
        "Transmission's throttle lever.",
        "Lever's own stop.",
    ])
    return sheet


def two_bell_cranks() -> Sheet:
    """Draw mount_two_bell_cranks.svg."""
    sheet = _start("two bell cranks")
    x, y = PIN
    sheet.line(x + 3.5, y, 190, y, ROD)
    _slot(sheet, x, y)
    sheet.rect(140, y - 3, 22, 6, THICK, "white")
    for step in range(6):
        sheet.line(143 + 3 * step, y + 3, 145 + 3 * step, y - 3)
    sheet.path([(190, y), (190, y + 26), (216, y + 26)], 1.6)
    _pin(sheet, 190, y)
    _pivot(sheet, 190, y + 26)
    sheet.circle(190, y + 12, 1.2, THICK, "white")
    sheet.line(216, y + 26, 216, 150, ROD)
    _pin(sheet, 216, y + 26)
    sheet.circle(216, 128, 3.4, THICK, "white")
    sheet.path([(216, 150), (240, 150), (240, 178)], 1.6)
    _pin(sheet, 216, 150)
    _pivot(sheet, 240, 150)
    sheet.line(240, 178, 276, 178, ROD)
    _pin(sheet, 240, 178)
    sheet.line(276, 178, 276, 150, 1.6)
    _pin(sheet, 276, 178)
    _pivot(sheet, 276, 150)
    sheet.rect(267, 164, 8, 6, THICK)
    _mark(sheet, 7, (x + 2, y - 3.5), (x + 12, y - 16))
    _mark(sheet, 8, (151, y - 3), (151, y - 16))
    _mark(sheet, 9, (191, y + 12), (204, y + 8))
    _mark(sheet, 10, (219.4, 128), (232, 128))
    _mark(sheet, 11, (256, 178), (256, 190))
    _mark(sheet, 12, (268, 166), (258, 158))
    _key(sheet, 12, 128, [
        *COMMON,
        "Slot of the upper rod: unhook here.",
        "Thread of the upper rod: the final adjustment.",
        "Index pin, 3/16 inch: only while the intermediate rod is set.",
        "Threaded ball socket of the intermediate rod: always set first.",
        "Lower rod to the transmission's throttle lever.",
        "Lever's own stop.",
    ])
    return sheet


def _slide_side(sheet: Sheet) -> None:
    """The hand slide from the side, its pin at (120, 62)."""
    y = 62.0
    _sensor(sheet, (120.0, y), 24, post=35.0)
    sheet.rect(62, 92, 150, 5, THICK)
    sheet.rect(16, 97, 202, 7, THICK)
    for x in (76, 192):
        sheet.rect(x, 104, 10, 12, THICK)
    _fixed(sheet, 66, 212, 116)
    sheet.rect(98, 80, 48, 12, THICK, "white")
    sheet.rect(117, y, 6, 18, THICK, "white")
    sheet.circle(120, y, 3.4, THICK, "white")
    _pin(sheet, 120, y)
    sheet.line(136, 80, 144, 48, 1.6)
    sheet.circle(144, 46, 3.2, THICK, "white")
    sheet.line(123.5, y, 235, y, ROD)
    _slot(sheet, 120, y)
    sheet.text(237, y + 1, "rod")
    sheet.rect(64, 82, 9, 10, THICK)
    sheet.line(58, 87, 98, 87, 1.2)
    sheet.rect(74, 84, 4, 6, THICK, "white")
    sheet.rect(200, 82, 9, 10, THICK)
    sheet.arrow(172, 36, 200, 36, THICK)
    sheet.text(202, 37, "towards wide open: travel positive")
    _mark(sheet, 1, (120, y - 2), (112, y - 16))
    _mark(sheet, 2, (141, 86), (156, 78))
    _mark(sheet, 3, (180, 95), (186, 80))
    _mark(sheet, 4, (88, 87.5), (90, 108))
    _mark(sheet, 5, (76, 84), (82, 74))
    _mark(sheet, 6, (206, 82), (212, 72))
    _mark(sheet, 7, (147, 45), (158, 46))
    _mark(sheet, 8, (52, y - 5), (56, y - 16))
    _mark(sheet, 9, (81, 110), (66, 108))


def hand_slide() -> Sheet:
    """Draw hand_slide.svg."""
    sheet = Sheet("Hand slide with its stop", "from the side, and the two pins from above; not to scale")
    _slide_side(sheet)
    sheet.text(200, 134, "From above, stop being set", bold=True)
    sheet.rect(205, 150, 34, 7, THICK)
    sheet.text(203, 155, "throttle's pin", anchor="end")
    sheet.rect(243, 150, 34, 7, THICK)
    sheet.text(260, 146, "slide's pin", anchor="middle")
    sheet.rect(229, 147, 22, 1.2, fill="black")
    sheet.rect(229, 158.8, 22, 1.2, fill="black")
    _mark(sheet, 10, (231, 160), (222, 170))
    sheet.arrow(234, 180, 248, 180, both=True)
    sheet.line(234, 157, 234, 183, dash="2 1")
    sheet.line(248, 157, 248, 183, dash="2 1")
    sheet.text(241, 178, "d", anchor="middle")
    sheet.text(241, 189, "d: middle of rod on either pin, 10 mm at most", anchor="middle")
    _key(sheet, 12, 132, [
        "Slide's pin, of the throttle pin's diameter; the slotted end hangs on it.",
        "Carriage; runs freely both ways: 2 N at most, no spring of its own.",
        "Guide rail, 15 mm, 120 mm of way, in line with the rod within 2 degrees.",
        "Stop screw, M6, hardened tip: its end stands for the curb-idle stop.",
        "Lock nut of the stop screw.",
        "End stop: before rod or lever meets its own, and 5 mm before the sensor's end.",
        "Handle: let go, the linkage's own springs bring the carriage back.",
        "Potentiometer, on a stud behind the pin, on its axis; body's joint on the base.",
        "Clamps to a bracket on the engine, never on a body panel.",
        "Setting sleeve over both pins: slides freely when they are in line.",
    ])
    return sheet


SHEETS = {
    "mount_direct": direct,
    "mount_one_bell_crank": one_bell_crank,
    "mount_two_bell_cranks": two_bell_cranks,
    "hand_slide": hand_slide,
}
DRAWINGS = {f"{name}.svg": draw for name, draw in SHEETS.items()}
