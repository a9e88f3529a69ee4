"""Close-ups of what hands work on. The throttle is at the left, the transmission at the right.

Shapes of parts are ours and simplified; what counts is which way things go and what touches what.
"""

from __future__ import annotations

from rodtrue.instructions.sheet import Sheet

WIDTH, HEIGHT = 480.0, 250.0
PIN_X, ROD_Y, PIN_R = 190.0, 110.0, 13.0
SLOT_LENGTH = 120.0


def _sheet(title: str) -> Sheet:
    return Sheet(WIDTH, HEIGHT, title)


def _throttle_arm(sheet: Sheet) -> None:
    """The throttle's arm with its pin, standing on the curb-idle stop."""
    sheet.circle((PIN_X, ROD_Y), PIN_R, filled=True)
    sheet.line((PIN_X, ROD_Y + PIN_R), (PIN_X, 220), width=7)
    sheet.circle((PIN_X, 224), 9, tint=0.2)
    sheet.hatch(110, 168, 152, 200)
    sheet.line((152, 184), (PIN_X - 5, 184), width=6)
    sheet.text((100, 189), "idle stop", anchor="end")
    sheet.text((PIN_X + 18, 229), "throttle", anchor="start")


def _slot_on_throttle(sheet: Sheet, inner_left: float) -> None:
    """The slotted end of a rod that comes from the right."""
    inner_right = inner_left + SLOT_LENGTH
    sheet.box(inner_left - 22, ROD_Y - 32, inner_right + 22, ROD_Y + 32, round_=30, tint=0.08)
    sheet.box(inner_left, ROD_Y - PIN_R - 2, inner_right, ROD_Y + PIN_R + 2, round_=PIN_R)
    sheet.line((inner_right + 22, ROD_Y - 8), (470, ROD_Y - 8))
    sheet.line((inner_right + 22, ROD_Y + 8), (470, ROD_Y + 8))


def slot_right() -> Sheet:
    """The slot's far end brought up to the pin."""
    sheet = _sheet("The slotted end is moved towards the throttle until the far end of the slot touches the pin")
    _slot_on_throttle(sheet, PIN_X + PIN_R - SLOT_LENGTH)
    _throttle_arm(sheet)
    sheet.arrow((400, 52), (270, 52))
    sheet.text((335, 36), "towards the throttle")
    sheet.tick((450, 48))
    sheet.callout((350, 178), "touches here", (PIN_X + PIN_R + 3, ROD_Y + 3))
    return sheet


def slot_wrong() -> Sheet:
    """The other way: the play stays between the pin and the end that it is to push."""
    sheet = _sheet("Moved towards the transmission, the near end of the slot meets the pin and a gap stays before it")
    left = PIN_X - PIN_R
    _slot_on_throttle(sheet, left)
    _throttle_arm(sheet)
    sheet.arrow((230, 52), (360, 52))
    sheet.text((295, 36), "towards the transmission")
    sheet.cross((450, 48))
    gap_from, gap_to = PIN_X + PIN_R, left + SLOT_LENGTH
    for x in (gap_from, gap_to):
        sheet.line((x, ROD_Y + 2), (x, 172), width=1.2)
    sheet.arrow((gap_from, 164), (gap_to, 164), width=2, both=True)
    sheet.text((gap_to + 10, 169), "gap: the rod is short", anchor="start")
    return sheet


def slot_touching() -> Sheet:
    """What is wanted: the pin on its stop and the slot's end on the pin, both without force."""
    sheet = _sheet("The throttle stands on its idle stop and the far end of the slot just touches the pin")
    _slot_on_throttle(sheet, PIN_X + PIN_R - SLOT_LENGTH)
    _throttle_arm(sheet)
    sheet.callout((340, 48), "just touches, no load", (PIN_X + PIN_R + 3, ROD_Y - 3))
    sheet.callout((84, 228), "on its stop", (PIN_X - 12, 188))
    return sheet


# The same with the slot on a bell crank's pin; the rod comes from the throttle, at the left.


def _bell_crank_arm(sheet: Sheet) -> None:
    sheet.circle((PIN_X, ROD_Y), PIN_R, filled=True)
    sheet.line((PIN_X, ROD_Y + PIN_R), (PIN_X, 205), (PIN_X + 105, 205), width=7)
    sheet.circle((PIN_X, 205), 10, tint=0.2)
    sheet.circle((PIN_X + 105, 205), 6, filled=True)
    sheet.text((PIN_X - 18, 228), "bell crank", anchor="end")
    sheet.text((PIN_X + 118, 228), "to the lower rod", anchor="start")


def _slot_on_bell_crank(sheet: Sheet, inner_left: float) -> None:
    inner_right = inner_left + SLOT_LENGTH
    sheet.box(inner_left - 22, ROD_Y - 32, inner_right + 22, ROD_Y + 32, round_=30, tint=0.08)
    sheet.box(inner_left, ROD_Y - PIN_R - 2, inner_right, ROD_Y + PIN_R + 2, round_=PIN_R)
    sheet.line((10, ROD_Y - 8), (inner_left - 22, ROD_Y - 8))
    sheet.line((10, ROD_Y + 8), (inner_left - 22, ROD_Y + 8))


def crank_slot_right() -> Sheet:
    """The bell crank turned back until its pin meets the near end of the slot."""
    sheet = _sheet("The bell crank is turned towards the throttle until its pin touches the near end of the slot")
    _slot_on_bell_crank(sheet, PIN_X - PIN_R)
    _bell_crank_arm(sheet)
    sheet.arrow((300, 52), (170, 52))
    sheet.text((235, 36), "turn towards the throttle")
    sheet.tick((450, 48))
    sheet.callout((88, 172), "touches here", (PIN_X - PIN_R - 3, ROD_Y + 3))
    return sheet


def crank_slot_wrong() -> Sheet:
    """The other way: the play stays between the slot's pushing end and the pin."""
    sheet = _sheet("Turned towards the transmission, the pin meets the far end of the slot and a gap stays before it")
    left = PIN_X + PIN_R - SLOT_LENGTH
    _slot_on_bell_crank(sheet, left)
    _bell_crank_arm(sheet)
    sheet.arrow((170, 52), (300, 52))
    sheet.text((235, 36), "turn towards the transmission")
    sheet.cross((450, 48))
    for x in (left, PIN_X - PIN_R):
        sheet.line((x, ROD_Y + 2), (x, 172), width=1.2)
    sheet.arrow((left, 164), (PIN_X - PIN_R, 164), width=2, both=True)
    sheet.text((PIN_X + 14, 169), "gap: the linkage is short", anchor="start")
    return sheet


def crank_slot_touching() -> Sheet:
    """What is wanted: the slot's pushing end on the pin without force."""
    sheet = _sheet("The throttle on its idle stop, the near end of the slot just touches the bell crank's pin")
    _slot_on_bell_crank(sheet, PIN_X - PIN_R)
    _bell_crank_arm(sheet)
    sheet.callout((150, 48), "just touches, no load", (PIN_X - PIN_R - 3, ROD_Y - 3))
    sheet.arrow((150, 170), (20, 170), width=2.5)
    sheet.text((20, 192), "throttle on its idle stop", anchor="start", size=13)
    return sheet


# Adjusters.


def _sleeve(sheet: Sheet) -> None:
    """Two halves of a rod, one sliding in the other, and the lock screw."""
    sheet.line((10, ROD_Y - 9), (250, ROD_Y - 9))
    sheet.line((10, ROD_Y + 9), (250, ROD_Y + 9))
    sheet.line((250, ROD_Y - 9), (250, ROD_Y + 9), dashed=True)
    sheet.box(170, ROD_Y - 24, 310, ROD_Y + 24, round_=4, tint=0.1)
    sheet.line((310, ROD_Y - 9), (470, ROD_Y - 9))
    sheet.line((310, ROD_Y + 9), (470, ROD_Y + 9))
    sheet.box(228, ROD_Y - 46, 252, ROD_Y - 24, tint=0.2)
    sheet.box(218, ROD_Y - 62, 262, ROD_Y - 46, round_=3, tint=0.35)


def slip_joint() -> Sheet:
    """Where a rod with a slip joint gets its length."""
    sheet = _sheet("A slip joint: one half of the rod slides in the other when the lock screw is loosened")
    _sleeve(sheet)
    sheet.callout((350, 36), "lock screw", (266, 56), anchor="start")
    sheet.text((350, 156), "slip joint", anchor="start")
    sheet.line((346, 148), (306, ROD_Y + 26), width=1.2)
    sheet.arrow((150, 178), (60, 178))
    sheet.text((60, 202), "longer", anchor="start")
    sheet.arrow((190, 178), (280, 178))
    sheet.text((280, 202), "shorter", anchor="end")
    sheet.line((140, ROD_Y - 18), (140, ROD_Y + 18), width=1.8)
    sheet.callout((90, 62), "mark both halves", (140, ROD_Y - 20))
    return sheet


def slip_joint_locked() -> Sheet:
    """The lock screw tightened."""
    sheet = _sheet("The lock screw of the slip joint is tightened while nothing moves")
    _sleeve(sheet)
    sheet.turn((240, ROD_Y - 54), 38, 200, 340)
    sheet.text((300, 44), "tighten", anchor="start")
    sheet.arrow((150, 178), (60, 178), width=3)
    sheet.text((168, 183), "still held in touch while it is tightened", anchor="start", size=13)
    return sheet


def _thread(sheet: Sheet, left: float, right: float) -> None:
    sheet.line((left, ROD_Y - 9), (right, ROD_Y - 9))
    sheet.line((left, ROD_Y + 9), (right, ROD_Y + 9))
    x = left + 5
    while x < right:
        sheet.line((x, ROD_Y - 9), (x - 4, ROD_Y + 9), width=1.2)
        x += 8


def _threaded_end(sheet: Sheet) -> None:
    sheet.line((10, ROD_Y - 9), (120, ROD_Y - 9))
    sheet.line((10, ROD_Y + 9), (120, ROD_Y + 9))
    _thread(sheet, 120, 300)
    sheet.box(252, ROD_Y - 22, 276, ROD_Y + 22, round_=3, tint=0.3)
    sheet.box(300, ROD_Y - 26, 400, ROD_Y + 26, round_=6, tint=0.1)
    sheet.circle((372, ROD_Y), 12, filled=True)


def threaded_end() -> Sheet:
    """Where a threaded rod gets its length."""
    sheet = _sheet("A threaded rod end with its lock nut")
    _threaded_end(sheet)
    sheet.callout((230, 48), "lock nut", (264, ROD_Y - 24))
    sheet.callout((420, 48), "pivot pin", (376, ROD_Y - 14))
    sheet.callout((180, 172), "thread", (190, ROD_Y + 12))
    sheet.arrow((150, 205), (60, 205))
    sheet.text((60, 229), "turned out: longer", anchor="start")
    sheet.arrow((330, 205), (420, 205))
    sheet.text((420, 229), "turned in: shorter", anchor="end")
    return sheet


def threaded_end_locked() -> Sheet:
    """The lock nut tightened against the end."""
    sheet = _sheet("The lock nut is tightened against the rod end while the rod is kept from turning")
    _threaded_end(sheet)
    sheet.turn((264, ROD_Y), 48, 215, 325)
    sheet.text((264, 38), "tighten the nut")
    sheet.text((120, 178), "rod kept from turning")
    sheet.line((90, 162), (90, ROD_Y + 12), width=1.2)
    return sheet


# Lever, index pin, ball socket.


def lever_on_stop() -> Sheet:
    """The transmission's lever held on its own stop by a spring that is taken off afterwards."""
    sheet = _sheet("A holding spring keeps the transmission's lever on its stop")
    pivot, pin = (330.0, 205.0), (312.0, 70.0)
    sheet.line(pivot, pin, width=8)
    sheet.circle(pivot, 16, tint=0.2)
    sheet.circle(pin, 9, filled=True)
    sheet.line((303, 70), (20, 70), dashed=True)
    sheet.hatch(238, 150, 276, 184)
    sheet.line((276, 167), (320, 167), width=6)
    sheet.text((230, 172), "lever's own stop", anchor="end")
    sheet.hatch(22, 96, 40, 124)
    sheet.spring((40, 110), (312, 104))
    sheet.text((30, 142), "holding spring", anchor="start", size=13)
    sheet.text((30, 60), "rod, from the throttle", anchor="start", size=13)
    sheet.text((356, 210), "lever", anchor="start")
    sheet.arrow((440, 70), (350, 70))
    sheet.text((395, 50), "to its stop")
    return sheet


def index_pin() -> Sheet:
    """The upper bell crank held by an index pin."""
    sheet = _sheet("An index pin goes through the upper bell crank into its bracket")
    pivot = (230.0, 150.0)
    sheet.hatch(150, 190, 310, 225)
    sheet.line((230, 60), pivot, (350, 150), width=9)
    sheet.circle(pivot, 14, tint=0.2)
    sheet.circle((230, 60), 8, filled=True)
    sheet.circle((350, 150), 8, filled=True)
    sheet.line((200, 168), pivot, width=9)
    hole = (206.0, 164.0)
    sheet.circle(hole, 9, filled=True)
    sheet.circle(hole, 15)
    sheet.text((86, 102), "index pin, 3/16 in")
    sheet.callout((86, 120), "(4.8 mm)", (192, 158))
    sheet.text((318, 214), "bracket, fixed", anchor="start")
    sheet.text((246, 60), "upper rod off, for now", anchor="start")
    sheet.text((372, 155), "intermediate", anchor="start", size=13)
    sheet.text((372, 172), "rod", anchor="start", size=13)
    return sheet


def ball_socket() -> Sheet:
    """The threaded socket of the intermediate rod over its ball."""
    sheet = _sheet("The threaded ball socket is turned until it goes onto its ball by itself")
    x, ball_y = 220.0, 176.0
    sheet.line((x - 9, 14), (x - 9, 92))
    sheet.line((x + 9, 14), (x + 9, 92))
    for k in range(5):
        sheet.line((x - 9, 48 + 9 * k), (x + 9, 44 + 9 * k), width=1.2)
    sheet.box(x - 27, 92, x + 27, 132, round_=8, tint=0.12)
    sheet.line((x - 14, 132), (x - 14, 120), (x + 14, 120), (x + 14, 132), width=1.8)
    sheet.circle((x, ball_y), 15, filled=True)
    sheet.line((x, ball_y + 15), (x, 222), width=6)
    sheet.line((120, 226), (320, 226), width=9)
    sheet.arrow((x + 44, 122), (x + 44, 172))
    sheet.text((x + 58, 142), "goes on by itself,", anchor="start")
    sheet.text((x + 58, 160), "pushes nothing", anchor="start")
    sheet.turn((x, 70), 36, 200, 130)
    sheet.text((x - 48, 62), "turn the socket", anchor="end")
    sheet.text((x - 48, 80), "on the thread", anchor="end")
    sheet.text((328, 231), "bell crank's arm", anchor="start", size=13)
    return sheet


def index_pin_out() -> Sheet:
    """The index pin out again: left in, it holds the linkage."""
    sheet = _sheet("The index pin is taken out before anything else")
    sheet.hatch(40, 100, 200, 130)
    sheet.box(40, 66, 200, 100, tint=0.1)
    sheet.line((112, 66), (112, 130), dashed=True)
    sheet.line((128, 66), (128, 130), dashed=True)
    sheet.text((212, 90), "bell crank", anchor="start")
    sheet.text((212, 122), "bracket", anchor="start")
    sheet.box(330, 70, 346, 190, round_=3, tint=0.3)
    sheet.line((346, 74), (380, 74), width=6)
    sheet.arrow((130, 44), (310, 44))
    sheet.text((220, 30), "out")
    sheet.text((338, 214), "index pin")
    return sheet
