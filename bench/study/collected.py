"""One page out of the results of several benchmarks."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence

from bench.study import page


def write(name: str, title: str, about: Sequence[str], reads: Mapping[str, str]) -> None:
    """Write results/<name>.md from the results named, each under its own heading, and say what is missed."""
    text = [f"# {title}", "", *about, ""]
    body: list[str] = []
    missed, counted = [], 0
    for read, heading in reads.items():
        path = page.RESULTS / f"{read}.json"
        body += [f"## {heading}", ""]
        if not path.exists():
            body += [f"Not run yet: `python -m bench.{read}`.", ""]
            continue
        kept = json.loads(path.read_text("utf-8"))
        lines = [page.Line(**line) for line in kept["lines"]]
        counted += sum(line.met is not None for line in lines)
        missed += [line for line in lines if line.met is False]
        body += [
            *page.figures(lines),
            "",
            f"Input: {kept['input']}. Ran on {kept['about']}. Details: [{read}.md]({read}.md).",
            "",
        ]
    head = f"Goals met: {counted - len(missed)} of {counted}."
    if missed:
        head += " Missed: " + "; ".join(line.what for line in missed) + "."
    text += [
        head,
        "",
        "Width: median half-width over the 95th percentile of the absolute error. In brackets: 95 % limits",
        "(Clopper-Pearson).",
        "",
        *body,
    ]
    (page.RESULTS / f"{name}.md").write_text("\n".join(text))
    print(head)
