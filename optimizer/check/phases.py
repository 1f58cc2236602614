"""The controller as the check sees it: a sequence of phases, each with what is on and what ends it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Literal

from optimizer.programme.constants import Constants, Kind, Round

Name = Literal["drain", "gap", "fill", "heat", "spray", "soak", "rest", "top_up", "mix", "stand", "held"]
End = Literal["time", "level", "setpoint"]


@dataclass(frozen=True)
class Outputs:
    """What the controller switches: true where it is on."""

    inlet: bool = False
    element: bool = False
    wash_pump: bool = False
    drain_pump: bool = False


OFF = Outputs()


@dataclass(frozen=True)
class Phase:
    """A stretch of the programme with one set of outputs.

    Attributes
    ----------
    name : str
        ``drain``, ``gap``, ``fill``, ``heat``, ``spray``, ``soak``, ``rest``, ``top_up``, ``mix`` or
        ``stand``; ``held`` where all went off within one: no plan has it, and doses do not count.
    round : int
        Which round it belongs to [1], from 0; -1 before the first.
    longest_s : int
        How long it lasts at most [s].
    outputs : Outputs
        What is on; a thermostat may switch ``element`` off and on while ``cycles``.
    end : str
        What ends it: ``time``, or before that ``level`` (the switch) or ``setpoint`` (the sensor).
    cycles : bool
        Whether the thermostat holds the bath with the element.
    wet : bool
        Whether the tank holds the water of the round, all of it.
    sprayed : bool
        Whether the spray of the round has begun and neither a top-up nor the end of its drain has come:
        doses count.
    steam : bool
        Whether the element may bring the pool to the boil: a shallow pool without a spray.
    leak_share : float
        Water that runs off by itself, over the drain pump's flow [1]; 0 but in a fault.
    element_share : float
        Power of the element over what it has at the voltage of the case [1]; 1 but where a log shows another.
    """

    name: Name
    round: int
    longest_s: int
    outputs: Outputs = OFF
    end: End = "time"
    cycles: bool = False
    wet: bool = False
    sprayed: bool = False
    steam: bool = False
    leak_share: float = 0.0
    element_share: float = 1.0


def phases(constants: Constants) -> list[Phase]:
    """Turn the table into the phases a controller steps through, gaps and the standing at the end included.

    Examples
    --------
    >>> rinse = Round("rinse", 60, 0, 90, 0, 0, 0, 30, 0)
    >>> table = Constants(10, 2, (rinse,), 0, "timed", "timed", 0, 750, "")
    >>> [(phase.name, phase.longest_s) for phase in phases(table)]
    [('drain', 10), ('gap', 2), ('fill', 60), ('gap', 2), ('spray', 90), ('gap', 2), ('drain', 30)]
    """
    found = [Phase("drain", -1, constants.start_drain_s, Outputs(drain_pump=True))]
    for number, row in enumerate(constants.rounds):
        for phase in _round_phases(constants, number, row):
            last = found[-1]
            if not (last.name == phase.name == "spray"):
                # Before the fill the tank is empty; between two phases of a round it stays as it was.
                within = last.round == number
                soaks = within and last.sprayed
                found.append(Phase("gap", last.round, constants.gap_s, wet=within, sprayed=soaks))
            found.append(phase)
    if constants.stand_s:
        found.append(Phase("stand", len(constants.rounds) - 1, constants.stand_s))
    return found


def _round_phases(constants: Constants, number: int, row: Round) -> Iterator[Phase]:
    """Give the phases of one round, without the gaps between them."""
    thermostat = constants.control == "thermostat"
    by_level = constants.fill_control == "level"
    yield Phase("fill", number, row.fill_s, Outputs(inlet=True), "level" if by_level else "time", wet=True)
    if row.heat_s:
        steam = row.kind == "steam"
        end: End = "setpoint" if thermostat and not steam else "time"
        yield Phase("heat", number, row.heat_s, Outputs(element=True), end, wet=True, steam=steam)
    before_s, after_s = row.split_spray_s(constants.after_soak_s)
    unheated_s = before_s - row.spray_element_s
    spray = Phase("spray", number, unheated_s, Outputs(wash_pump=True), wet=True, sprayed=True)
    if row.spray_element_s:
        heated = Outputs(wash_pump=True, element=True)
        yield replace(spray, longest_s=row.spray_element_s, outputs=heated, cycles=thermostat)
    if unheated_s:
        yield spray
    if row.soak_s:
        yield Phase("soak", number, row.soak_s, wet=True, sprayed=True)
        yield replace(spray, longest_s=after_s)
    if row.rest_s:
        yield Phase("rest", number, row.rest_s, wet=True, sprayed=True)
    if row.top_up_s:
        yield Phase("top_up", number, row.top_up_s, Outputs(inlet=True), wet=True)
    if row.mix_s:
        yield Phase("mix", number, row.mix_s, Outputs(wash_pump=True), wet=True)
    # Cooled and thinned, the bath is not counted to clean any more.
    yield Phase("drain", number, row.drain_s, Outputs(drain_pump=True), sprayed=not row.top_up_s)


def conflicts(sequence: list[Phase], kinds: tuple[Kind, ...], element_rest_s: int) -> list[str]:
    """Find outputs that endanger the machine, one sentence each.

    Conflicts are: the element on while filling or draining; inlet and drain pump on together; two motors
    (the inlet valve counts as one) starting in the same second; the element off for less than
    ``element_rest_s`` when the drain of a heated round begins, so that it is hot as the water leaves it.
    """
    found: list[str] = []
    before = OFF
    started: list[tuple[int, str]] = []
    start_s = 0
    for phase in sequence:
        where = f"{kinds[phase.round]} (round {phase.round + 1})" if phase.round >= 0 else "start"
        on = phase.outputs
        if on.element and (on.inlet or on.drain_pump):
            found.append(f"{where}: element on while filling or draining")
        if on.inlet and on.drain_pump:
            found.append(f"{where}: inlet and drain pump on together")
        for motor in ("inlet", "wash_pump", "drain_pump"):
            if getattr(on, motor) and not getattr(before, motor):
                if any(start_s == other_s for other_s, _ in started):
                    found.append(f"{where}: two motors start in the same second")
                started.append((start_s, motor))
        before = on
        start_s += phase.longest_s
    return found + _hot_drains(sequence, kinds, element_rest_s)


def _hot_drains(sequence: list[Phase], kinds: tuple[Kind, ...], element_rest_s: int) -> list[str]:
    """Find the drains that begin before the element has rested."""
    found: list[str] = []
    off_s: int | None = None
    for phase in sequence:
        if phase.name == "drain" and off_s is not None and off_s < element_rest_s:
            where = f"{kinds[phase.round]} (round {phase.round + 1})"
            found.append(f"{where}: element off for {off_s} s before the drain, {element_rest_s} s needed")
        if phase.name == "fill":
            off_s = None
        if phase.outputs.element:
            off_s = 0
        elif off_s is not None:
            off_s += phase.longest_s
    return found
