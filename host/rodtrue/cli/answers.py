"""What may be typed at a question: how the terminal tells it, and what was meant by what was typed."""

from __future__ import annotations

from dataclasses import dataclass

from rodtrue.run.prompts import YES, Acknowledge, Ask, CheckItem

NOT_SAID = "virtual fixture"
"""What Enter answers to a free text of a checklist, at a virtual unit."""


@dataclass(frozen=True)
class Answers:
    """What answers a question.

    words: of which one is typed, in full or shortened; empty for a free text. enter: what Enter alone means, None
    where it is no answer.
    """

    words: tuple[str, ...]
    enter: str | None = None

    def hint(self) -> str:
        """Return how to answer, the same way at every question."""
        *others, last = self.words or ("the answer",)
        typed = f"{', '.join(others)} or {last}" if others else last
        return f"Type {typed}." if self.enter is None else f"Type {typed}; Enter for {self.enter}."

    def meant(self, typed: str) -> str | None:
        """Return the answer that was typed; None where it is none."""
        typed = typed.strip()
        if not typed or not self.words:
            return typed or self.enter
        matching = [word for word in self.words if word.startswith(typed.lower())]
        return matching[0] if len(matching) == 1 else None


def answers_to(question: Ask | Acknowledge | CheckItem, *, virtual: bool) -> Answers:
    """Return what answers a question.

    Enter does at a virtual unit. Beside a real one it is no answer to a caution, to an item of a checklist, nor to
    whatever tells of engine, supply, pressure or what was done at the rods: those are typed.
    """
    if isinstance(question, Acknowledge):
        return Answers((YES,), YES if virtual else None)
    if isinstance(question, CheckItem):
        return Answers(question.words, (question.words or (NOT_SAID,))[0] if virtual else None)
    enter_will_do = virtual or not question.in_words
    return Answers(question.choices, (question.choices or (question.default,))[0] if enter_will_do else None)
