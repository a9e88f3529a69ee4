"""Options that several commands share, declared once and handed to a command as one thing."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import wraps
from inspect import Parameter, Signature, signature
from typing import Any, get_type_hints

Options = Mapping[str, tuple[Any, Any]]
"""By parameter: annotation and default, in the order in which `--help` lists them."""


def gathered(into: str, options: Options, make: Callable[..., Any]) -> Callable[..., Callable[..., None]]:
    """Give a command these options after its own; it gets what they say as its parameter `into`, by `make`."""

    def decorate(command: Callable[..., None]) -> Callable[..., None]:
        @wraps(command)
        def told(**given: Any) -> None:
            said = {name: given.pop(name) for name in options}
            command(**{into: make(**said)}, **given)

        hints = get_type_hints(command, localns={"RunFilter": object}, include_extras=True)
        own = [each for name, each in signature(command).parameters.items() if name != into]
        shown = [each.replace(annotation=hints[each.name], kind=Parameter.KEYWORD_ONLY) for each in own]
        shown += [
            Parameter(name, Parameter.KEYWORD_ONLY, default=default, annotation=annotation)
            for name, (annotation, default) in options.items()
        ]
        told.__signature__ = Signature(shown)  # type: ignore[attr-defined]
        told.__annotations__ = {each.name: each.annotation for each in shown}
        del told.__wrapped__
        return told

    return decorate
