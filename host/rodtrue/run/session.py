"""Opening a fixture, whatever it is: a named port, the only board connected, or a virtual one."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

import rodtrue_protocol as wire
from rodtrue.calibration.parts_budget import parts_budget, terms_of_parts
from rodtrue.link.client import Client
from rodtrue.link.port import Port, choose_port, find_ports
from rodtrue.model.errors import FixtureError
from rodtrue.profiles import load_profile
from rodtrue.run.manual_time import manual_client
from rodtrue.virtual.plant import Plant
from rodtrue.virtual.scenario import scenario_for

if TYPE_CHECKING:
    from rodtrue.virtual.fixture import SteeredPlant

VIRTUAL = "virtual"
DEFAULT_ROD_ERROR_MM, DEFAULT_SEED = -2.5, 1
"""The virtual unit that stands there where nobody asks for another."""


@dataclass(frozen=True)
class Session:
    """A fixture that has been greeted. plant: what a virtual one stands on, to be steered; else None."""

    port: str
    client: Client
    identity: wire.Identity
    plant: Plant | None = None


@contextmanager
def open_port(name: str) -> Iterator[Session]:
    """Open and greet the fixture at a device name or URL, or a board as `choose_port` names it.

    Raises: FixtureError where there is none, it is busy, silent, or speaks another message table.
    """
    chosen = choose_port(find_ports(), name)
    with Port(chosen) as port:
        client = Client(port)
        yield Session(chosen, client, client.hello())


@contextmanager
def open_virtual(plant: SteeredPlant[Any], pace: Literal["real", "manual"]) -> Iterator[Session]:
    """Start and greet a virtual fixture on this plant.

    pace: `real`, device time follows the clock; `manual`, it passes while the client waits.
    Raises: FixtureError where the interpreter cannot run.
    """
    # Here, so that a real board can be opened where there are no pseudo-terminals.
    from rodtrue.virtual.fixture import VirtualFixture

    with VirtualFixture[Any](plant, pace=pace) as fixture, Port(fixture.port) as port:
        client = manual_client(fixture, port) if pace == "manual" else Client(port)
        try:
            yield Session(fixture.port, client, client.hello(), plant if isinstance(plant, Plant) else None)
        except FixtureError as error:
            raise fixture.failure or error from None


def default_plant() -> Plant:
    """Return the virtual unit that `--port virtual` stands on where nobody asks for another."""
    terms = terms_of_parts(parts_budget())
    return Plant(scenario_for(load_profile(), rod_error_mm=DEFAULT_ROD_ERROR_MM, terms=terms), DEFAULT_SEED)


def open_fixture(name: str, plant: Callable[[], Plant]) -> AbstractContextManager[Session]:
    """Open a port by name, URL or `auto`; with `virtual` a virtual fixture in real time on what `plant` makes."""
    return open_virtual(plant(), "real") if name == VIRTUAL else open_port(name)
