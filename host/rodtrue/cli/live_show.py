"""The live show of a run on the terminal: stages, numbers in both unit systems, sweeps, a growing plot."""

from __future__ import annotations

from rich.console import Group, RenderableType
from rich.rule import Rule
from rich.table import Table
from rich.text import Text

from rodtrue.cli.textplot import draw
from rodtrue.model.units import kpa_to_psi, mm_to_inch
from rodtrue.run.guided import GuidedRun
from rodtrue.run.live import indication
from rodtrue.run.prompts import Acknowledge, Ask, Checklist, Finished, Sweeping, Wait
from rodtrue.run.words import VIRTUAL_MARK

WIDTH = 80
_BAR = 28
_FULL_TRAVEL_MM, _FULL_PRESSURE_KPA = 50.0, 500.0
_PLOT_HEIGHT = 9
_STAGES_A_ROW = 4


def picture(run: GuidedRun, *, virtual: bool, note: str = "") -> RenderableType:
    """Return the whole show as it stands, `WIDTH` columns wide."""
    parts: list[RenderableType] = [Rule(heading(virtual, note), style="dim")]
    parts += [_stages(run), Text(""), Text(prompt_text(run), style="bold"), Text("")]
    parts += [_numbers(run), _sweeps(run)]
    trace = run.live.trace
    if len(trace) > 1 and run.stage in ("sweeps", "adjust", "finish"):
        parts.append(Text("\n".join(draw(trace, height=_PLOT_HEIGHT, width=WIDTH - 2))))
    parts.append(Text(indication(run.live) if run.indicates else "", style="italic"))
    for notice in run.live.notices[-3:]:
        parts.append(Text(f"{notice.severity.upper()}: {notice.text}", style="bold red"))
    return Group(*parts)


def heading(virtual: bool, note: str = "") -> str:
    """Return the line that stands above everything."""
    mark = f"  {VIRTUAL_MARK.upper()}" if virtual else ""
    return f"Rodtrue{mark}{f'  {note}' if note else ''}"


def prompt_text(run: GuidedRun) -> str:
    """Return what the run says or asks at the moment."""
    prompt = run.prompt
    if isinstance(prompt, Acknowledge):
        return f"Caution: {prompt.caution.text}"
    if isinstance(prompt, Sweeping):
        what = "Opening" if run.stage == "return" else "Sweep"
        return f"{what} {prompt.done + 1} of {prompt.target}. {prompt.advice}"
    if isinstance(prompt, Ask | Checklist | Wait | Finished):
        return prompt.text
    raise AssertionError(prompt)


def status_line(run: GuidedRun) -> str:
    """Return travel and pressure in one line, and the sweeps while they are counted."""
    sweeps = f"   {_sweeps(run).plain}" if isinstance(run.prompt, Sweeping) else ""
    return f"{_travel(run)}   {_pressure(run)}{sweeps}"


def _stages(run: GuidedRun) -> Table:
    table = Table.grid(expand=False)
    codes = list(run.stages)
    cells = [_stage(run, code) for code in codes]
    for first in range(0, len(cells), _STAGES_A_ROW):
        table.add_row(*cells[first : first + _STAGES_A_ROW])
    return table


def _stage(run: GuidedRun, code: str) -> Text:
    if code in run.done:
        sign, style = "+", "green"
    else:
        sign, style = (">", "bold") if code == run.stage else ("-", "dim")
    return Text(f"{sign} {run.stages[code]:<{WIDTH // _STAGES_A_ROW - 2}}", style=style)


def _numbers(run: GuidedRun) -> Table:
    table = Table.grid(padding=(0, 2))
    travel_mm, pressure_kpa = _above_zero(run), run.live.pressure_kpa
    table.add_row("Travel", _travel(run), _bar(travel_mm, _FULL_TRAVEL_MM))
    table.add_row("Pressure", _pressure(run), _bar(pressure_kpa, _FULL_PRESSURE_KPA))
    return table


def _above_zero(run: GuidedRun) -> float | None:
    travel_mm, zero_mm = run.live.travel_mm, run.live.zero_mm
    return None if travel_mm is None or zero_mm is None else travel_mm - zero_mm


def _travel(run: GuidedRun) -> str:
    travel_mm = _above_zero(run)
    return "no zero yet" if travel_mm is None else f"{mm_to_inch(travel_mm):z6.3f} in ({travel_mm:z6.2f} mm)"


def _pressure(run: GuidedRun) -> str:
    pressure_kpa = run.live.pressure_kpa
    return "  - psi" if pressure_kpa is None else f"{kpa_to_psi(pressure_kpa):z5.1f} psi ({pressure_kpa:z5.1f} kPa)"


def _bar(value: float | None, full: float) -> Text:
    filled = 0 if value is None else min(max(round(value / full * _BAR), 0), _BAR)
    return Text("[" + "#" * filled + "." * (_BAR - filled) + "]")


def _sweeps(run: GuidedRun) -> Text:
    prompt = run.prompt
    target = prompt.target if isinstance(prompt, Sweeping) else run.settings.profile.plan.sweeps
    done = len(run.live.sweeps)
    what = "Openings" if run.stage == "return" else "Sweeps"
    return Text(f"{what} {done} of {target} " + "*" * done + "." * max(target - done, 0))
