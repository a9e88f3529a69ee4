"""Who else may look: the address on the shop's network, the access code, and what is not protected."""

from __future__ import annotations

from rodtrue.page.access import Gate
from rodtrue.page.access.qr import qr_svg
from rodtrue.page.elements import box, drawing, key, say
from rodtrue.page.screen import Screen

NOT_ENCRYPTED = "What goes over the shop's network is not encrypted: use a network you trust."


def draw_network(screen: Screen, gate: Gate) -> None:
    """Draw it, where the page is open to the network at all."""
    if not gate.addresses:
        return
    with box("rt-network", "details"):
        say("Look on from a tablet or a phone", "", "summary")
        say(NOT_ENCRYPTED, "rt-soft")
        if not screen.may("see_access_code"):
            say("You are looking on over the network. Cautions are acknowledged at the fixture's own computer.")
            return
        for address in gate.addresses:
            say(address, "rt-address")
        code = say("", "rt-code")
        picture = box("rt-qr")

        def show() -> None:
            code.text = f"Access code: {gate.code}"
            picture.clear()
            with picture:
                drawing(qr_svg(gate.entry_link()))
                say("Opens the page once, within ten minutes.", "rt-soft")

        def shut_out() -> None:
            gate.shut_out_all()
            show()

        with box("rt-answers"):
            key("Show code and picture to scan", show, "rt-quiet")
            key("Shut everybody out and draw another code", shut_out, "rt-quiet")
