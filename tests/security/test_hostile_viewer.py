"""One who has been let in over the network, and sends events by hand instead of pressing what is drawn."""

import re
import time

import pytest

from security.listening import PATIENCE_S, ask, cookie_of, enter, hand, host, listening

pytestmark = pytest.mark.slow

HOSTILE = [
    None, True, 0, -1, 1e308, "", "x" * 100_000, "\x00\x1b[31m\n", "../../etc/passwd", "<img src=x onerror=alert(1)>",
    [], ["a"], {"a": 1}, {"__proto__": {}},
]  # fmt: skip
ENDS_THE_RUN = ("End it now",)


@pytest.fixture
def bench(tmp_path):
    with listening(tmp_path) as running:
        yield running


def question(viewer):
    """Which question is shown, and its words."""
    for element in viewer.elements.values():
        if element.get("props", {}).get("data-number"):
            return element["props"]["data-number"], element["text"]
    return "", ""


def until(viewer, holds):
    """Hear until something holds. Returns whether it came to hold."""
    deadline = time.monotonic() + 2 * PATIENCE_S
    while not holds() and time.monotonic() < deadline:
        viewer.hear(0.3)
    return holds()


def go_on(viewer, *words):
    """Press the first of these keys that there is, and hear until something else is asked."""
    before = question(viewer)[0]
    assert any(viewer.press(word) for word in words), viewer.texts()
    assert until(viewer, lambda: question(viewer)[0] != before), viewer.texts()


def fire_everything(viewer, arguments):
    for number, element in list(viewer.elements.items()):
        if element.get("text") in ENDS_THE_RUN:
            continue
        for listener in element.get("events") or []:
            for argument in arguments:
                viewer.fire(number, listener["listener_id"], argument)


def test_cautions_and_safety_questions_are_not_answered_by_any_event_a_guest_can_send(bench):
    cookie = cookie_of(enter(bench, code=bench.code))
    with hand(bench.loopback) as here, hand(bench.network, cookie) as guest:
        here.press("Begin")
        assert until(here, lambda: "Caution 1 of" in here.texts())
        kept = dict(guest.elements)
        seen = []
        while not seen or "Is it off" not in seen[-1]:
            assert until(guest, lambda: question(guest)[0] == question(here)[0])
            number, words = question(here)
            seen.append(words)
            # What is drawn for the guest, what was drawn before, and what is drawn for the computer itself: all sent
            # under the guest's own name, which is the only one a guest knows.
            for elements in (guest.elements, kept, here.elements):
                for place, element in list(elements.items()):
                    for listener in element.get("events") or []:
                        if element.get("text") not in (*ENDS_THE_RUN, "Begin"):
                            guest.fire(place, listener["listener_id"])
            kept |= guest.elements
            guest.hear(0.3)
            here.hear(0.3)
            assert question(here) == (number, words)
            if "Is it off" not in words:
                go_on(here, "Understood")
        assert len(seen) > 5


def test_an_event_that_carries_something_else_than_it_should_harms_neither_run_nor_server(bench):
    cookie = cookie_of(enter(bench, code=bench.code))
    with hand(bench.network, cookie) as guest:
        fire_everything(guest, HOSTILE)  # fills the form in, begins a run, answers what a guest may
    with hand(bench.loopback) as here:
        here.hear(1.0)
        if not question(here)[0]:
            here.press("Begin")
        assert until(here, lambda: question(here)[0]), here.texts()
        with hand(bench.network, cookie) as guest:
            fire_everything(guest, HOSTILE)
            for name, content in (
                ("event", {}),
                ("event", None),
                ("event", {"client_id": guest.client, "id": "x", "listener_id": None, "args": "{"}),
                ("event", {"client_id": guest.client, "id": 0, "listener_id": "x", "args": ["{"]}),
                ("handshake", {"client_id": guest.client}),
                ("handshake", None),
                ("javascript_response", {"client_id": guest.client, "request_id": "no-such", "result": 1}),
                ("log", {"client_id": guest.client, "level": "no-such", "message": "x"}),
                ("ack", {"client_id": guest.client, "next_message_id": "x"}),
                ("no-such-event", "x" * 10_000),
            ):
                guest.emit(name, content)
            guest.hear(1.0)
        assert until(here, lambda: question(here)[0]), here.texts()  # the run goes on, and obeys the computer itself
        units = re.search(r"Show \S+ \S+ first", here.texts()).group()
        assert here.press(units)
        assert until(here, lambda: units not in here.texts()), here.texts()


def test_a_guest_writes_no_line_of_its_own_into_what_the_terminal_says(bench):
    cookie = cookie_of(enter(bench, code=bench.code))
    with hand(bench.network, cookie) as guest:
        for level in ("debug", "info", "warning", "error"):
            message = f"{level} said\nFORGED\x1b[31m\r\x9b31m\u202e"
            guest.emit("log", {"client_id": guest.client, "level": level, "message": message})
        guest.hear(1.0)
    for path in ("/none%0aFORGED", f"/none?code={bench.code}", "/none%1b[31m"):
        ask(bench.network, path, host(bench.network), cookie)
    bench.process.stop()
    said = bench.said()
    assert "error said" in said
    assert not [line for line in said.splitlines() if line.startswith("FORGED")]
    assert not {"\x1b", "\r", "\x9b", "\u202e"} & set(said)
    assert "none" not in said
