"""What the answers are called on their buttons. The words themselves are the run's."""

from __future__ import annotations

_WORDS = {
    "yes": "Yes",
    "no": "Not yet",
    "unknown": "Not sure",
    "done": "Done, go on",
    "again": "Check again",
    "remounted": "Sensor mounted afresh, check again",
    "go on": "Go on all the same",
    "stop": "End this run",
    "finish": "Enough sweeps: judge now",
    "not fitted": "Not fitted",
}
_BY_QUESTION = {
    ("power_off", "yes"): "Yes, it is off",
    ("power_on", "yes"): "Yes, go on",
    ("idle_speed", "yes"): "Yes, it is below",
    ("rod_unhooked", "yes"): "Yes, it is off the pin",
    ("rod_unhooked", "no"): "No, it is on the pin",
    ("unhook_again", "yes"): "Off now: take zero and baseline",
    ("unhook_again", "go on"): "Leave it on, unproven",
    ("no_rod", "yes"): "Yes, no rod is fitted",
    ("repair", "yes"): "Put it right and measure again",
    ("repair", "no"): "Leave it as found",
    ("adjust", "yes"): "Adjust and measure again",
    ("adjust", "no"): "Leave it as found",
    ("zero_ready", "done"): "Take zero",
    ("tap", "done"): "Tapped, hands off",
    ("hook_up", "done"): "Hooked up",
    ("response_ready", "done"): "Ready to push",
    ("return_ready", "done"): "Ready to open",
    ("sense_ready", "done"): "Ready to open",
}


def label_of(question: str, word: str) -> str:
    """Return what to write on the button that answers a question with a word."""
    return _BY_QUESTION.get((question, word)) or _WORDS.get(word, word)
