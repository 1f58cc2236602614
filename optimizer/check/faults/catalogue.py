"""Which single faults a machine can have, and what it then does in place of what the controller asks.

The list follows the parts; it is common practice, not a standard's. IEC 60335-2-5, on the safety of
dish-washing machines, tests abnormal operation (of that part only the titles were read). That a plastic tank
needs a level control and besides it a cut-out with manual reset, and that an element is never dry, is
industrial guidance for tank heaters.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from optimizer.check.faults.outcome import lasting
from optimizer.check.fills import drain_dry_most_s
from optimizer.check.phases import OFF, Phase
from optimizer.profile.machine import Machine

Phases = tuple[Phase, ...]

LEAK_SHARE = 0.5
"""A hose that siphons, or a tank that leaks, loses this share of the drain pump's flow [1]; *no source*."""

SLOW_SHARE = 0.5
"""A slow drain moves this share of its flow, at the low end of its tolerance too [1]."""


@dataclass(frozen=True)
class Delivery:
    """What the machine does in place of what is asked.

    Attributes
    ----------
    phases : tuple of Phase
        The phases as delivered, one for each that is asked for.
    onset : int
        The first that is not as asked [1], from 0.
    drain_share : float
        Flow of the drain pump over what was measured [1].
    """

    phases: Phases
    onset: int
    drain_share: float = 1.0


Deliver = Callable[[Phases], list[Delivery]]
"""From the phases asked for to what may be delivered instead: one delivery for each moment at which the part
may fail, none where the programme does not use it."""


@dataclass(frozen=True)
class SingleFault:
    """A fault of one part.

    Attributes
    ----------
    key : str
        Machine-readable name.
    fault : str
        The fault in words.
    opening : str
        Sentence with which what happens begins.
    counted_from : str
        What the times count from, after "after the …".
    deliver : callable
        What the machine does instead.
    """

    key: str
    fault: str
    opening: str
    counted_from: str
    deliver: Deliver


def catalogue(machine: Machine) -> tuple[SingleFault, ...]:
    """List the single faults of the parts that a machine has; a cut of the power is not among them."""
    pump = SingleFault("pump.seized", "wash pump seized", "Nothing is sprayed.",
                       "spray should have begun", _pump_seized)  # fmt: skip
    water = [*_water_faults(machine), *_level_faults(machine)]
    return (*water, pump, *_pump_faults(), *_sensor_faults(machine), *_element_faults(machine))


def _water_faults(machine: Machine) -> list[SingleFault]:
    in_l, out_l = machine.inlet.flow_l_per_min.high, machine.drain_pump.flow_l_per_min.low
    match = "takes more than comes in" if out_l > in_l else "does NOT take what comes in"
    flows = f"{out_l:.3g} l/min against {in_l:.3g}"
    by_level = machine.inlet.level_l is not None
    stacks = "The level switch keeps the tank from filling again." if by_level else "Water stacks up."
    return [
        SingleFault("inlet.shut", "inlet stays shut", "No water comes in.", "fill begins",
                    _from_any_round(_no_water)),
        SingleFault("inlet.open", "inlet does not close",
                    f"Water runs until someone shuts the tap. The drain pump {match}: {flows}.",
                    "fill should have ended", _sticking(_water_runs, _after_fills)),
        SingleFault("inlet.no_top_up", "no cold water for a top-up", "The bath goes down the drain as it is.",
                    "first top-up should have begun", _always(_no_top_up)),
        SingleFault("drain.dead", "drain pump dead", f"No water leaves. {stacks}", "start",
                    _always(_no_drain)),
        SingleFault("drain.slow", "drain at half its low flow", "A clogged sieve, a kinked hose.", "start",
                    _slow_drain),
        SingleFault("drain.runs", "drain pump runs unasked",
                    "It runs until someone pulls the plug, dry once the tank is empty: it stands that for "
                    f"{lasting(drain_dry_most_s(machine))}.",
                    "drain pump begins", _sticking(_drains, _where_water_matters)),
        SingleFault("tank.leaks", "drain hose siphons, or the tank leaks",
                    f"It loses {LEAK_SHARE:.0%} of the drain pump's flow.", "water begins to run off",
                    _sticking(_leaks, _where_water_matters)),
    ]  # fmt: skip


def _pump_faults() -> list[SingleFault]:
    return [
        SingleFault("pump.runs", "wash pump does not stop", "It runs on until someone pulls the plug.",
                    "pump should have stopped", _sticking(_sprays_on, _after_sprays)),
        SingleFault("pump.starved", "foam or a blocked sieve starves the wash pump",
                    "It draws air: nothing is sprayed, and the bath is not stirred.",
                    "spray should have begun", _pump_seized),
    ]  # fmt: skip


def _level_faults(machine: Machine) -> list[SingleFault]:
    if machine.inlet.level_l is None:
        return []
    return [
        SingleFault("level.open", "level switch never closes", "Every fill lasts its longest.",
                    "first fill begins", _always(_never_full)),
        SingleFault("level.closed", "level switch closed always", "Every fill ends at once: no water.",
                    "fill should have begun", _from_any_round(_full_at_once)),
    ]  # fmt: skip


def _sensor_faults(machine: Machine) -> list[SingleFault]:
    if machine.element is None or machine.element.control != "thermostat":
        return []
    return [
        SingleFault("sensor.cold", "sensor reads cold", "The thermostat heats for the longest time it has.",
                    "first heating begins", _always(_reads_cold)),
        SingleFault("sensor.hot", "sensor reads hot", "The thermostat does not heat.",
                    "first heating should have begun", _always(_reads_hot)),
    ]  # fmt: skip


def _element_faults(machine: Machine) -> list[SingleFault]:
    if machine.element is None:
        return []
    for_good = "after the programme too, until someone pulls the plug"
    return [
        SingleFault("element.dead", "element does not heat", "The bath stays cold.",
                    "first heating should have begun", _always(_no_heat)),
        SingleFault("element.on", "element on from the start", f"It is on {for_good}.", "start",
                    _sticking(_heats, _from_the_start)),
        SingleFault("element.stays_on", "element does not go off", f"It stays on {for_good}.",
                    "element should have gone off", _sticking(_heats, _after_heating)),
    ]  # fmt: skip


def _always(change: Callable[[Phase], Phase]) -> Deliver:
    """Let a part be at fault from the start."""

    def deliver(asked: Phases) -> list[Delivery]:
        delivered = tuple(map(change, asked))
        wrong = [number for number, phase in enumerate(asked) if delivered[number] != phase]
        return [Delivery(delivered, wrong[0])] if wrong else []

    return deliver


def _from_any_round(change: Callable[[Phase], Phase]) -> Deliver:
    """Let a part be at fault from the start, or from where a later round first uses it.

    From the first rinse on, the ware keeps what the wash has left on it.
    """

    def deliver(asked: Phases) -> list[Delivery]:
        delivered = tuple(map(change, asked))
        wrong = [number for number, phase in enumerate(asked) if delivered[number] != phase]
        first = {asked[number].round: number for number in reversed(wrong)}
        return [Delivery(asked[:number] + delivered[number:], number) for number in sorted(first.values())]

    return deliver


def _sticking(change: Callable[[Phase], Phase], moments: Callable[[Phases], Iterator[int]]) -> Deliver:
    """Let a part stick for good, at any of several moments."""

    def deliver(asked: Phases) -> list[Delivery]:
        return [
            Delivery(asked[:first] + tuple(map(change, asked[first:])), first) for first in moments(asked)
        ]

    return deliver


def _pump_seized(asked: Phases) -> list[Delivery]:
    """Keep the wash pump off, from any round in which it should be on."""
    found = _from_any_round(_no_spray)(asked)
    return [each for each in found if asked[each.onset].outputs.wash_pump]


def _slow_drain(asked: Phases) -> list[Delivery]:
    """Let the drain pump move half of what it should."""
    return [Delivery(asked, 0, SLOW_SHARE)]


def _after_fills(asked: Phases) -> Iterator[int]:
    """Give the moments at which an inlet should close."""
    return (number for number, before in enumerate(asked[:-1], start=1) if before.name in ("fill", "top_up"))


def _after_heating(asked: Phases) -> Iterator[int]:
    """Give the moments at which an element should go off; a thermostat's also while it holds the bath."""
    return (
        number for number in range(1, len(asked)) if asked[number - 1].outputs.element or asked[number].cycles
    )


def _after_sprays(asked: Phases) -> Iterator[int]:
    """Give the moments at which the wash pump should stop."""
    return (
        number
        for number in range(1, len(asked))
        if asked[number - 1].outputs.wash_pump and not asked[number].outputs.wash_pump
    )


def _where_water_matters(asked: Phases) -> Iterator[int]:
    """Give the moments from which water is needed: where the element or the wash pump goes on."""
    for number in range(1, len(asked)):
        before, on = asked[number - 1].outputs, asked[number].outputs
        if (on.element and not before.element) or (on.wash_pump and not before.wash_pump):
            yield number


def _from_the_start(_: Phases) -> Iterator[int]:
    """Give the first phase."""
    yield 0


def _no_water(phase: Phase) -> Phase:
    """Keep the inlet shut; a level switch then never closes."""
    return replace(_never_full(phase), outputs=replace(phase.outputs, inlet=False))


def _no_top_up(phase: Phase) -> Phase:
    """Keep the inlet shut in a top-up: a tap that was turned off, a filter that has clogged."""
    return _no_water(phase) if phase.name == "top_up" else phase


def _water_runs(phase: Phase) -> Phase:
    """Keep the inlet open."""
    return replace(phase, outputs=replace(phase.outputs, inlet=True))


def _no_drain(phase: Phase) -> Phase:
    """Keep the drain pump off."""
    return replace(phase, outputs=replace(phase.outputs, drain_pump=False))


def _drains(phase: Phase) -> Phase:
    """Keep the drain pump on: no level is reached, and a thermostat whose sensor hangs in air heats on."""
    return replace(phase, outputs=replace(phase.outputs, drain_pump=True), end="time", cycles=False)


def _leaks(phase: Phase) -> Phase:
    """Let water run off by itself; the same of level and sensor."""
    return replace(phase, leak_share=LEAK_SHARE, end="time", cycles=False)


def _sprays_on(phase: Phase) -> Phase:
    """Keep the wash pump on."""
    return replace(phase, outputs=replace(phase.outputs, wash_pump=True))


def _no_spray(phase: Phase) -> Phase:
    """Keep the wash pump off: nothing reaches the ware."""
    return replace(phase, outputs=replace(phase.outputs, wash_pump=False), sprayed=False)


def _heats(phase: Phase) -> Phase:
    """Keep the element on."""
    return replace(phase, outputs=replace(phase.outputs, element=True), cycles=False)


def _no_heat(phase: Phase) -> Phase:
    """Keep the element off: no setpoint is ever reached."""
    return replace(_reads_cold(phase), outputs=replace(phase.outputs, element=False))


def _reads_cold(phase: Phase) -> Phase:
    """Let the thermostat never see its setpoint."""
    return replace(phase, cycles=False, end="time" if phase.end == "setpoint" else phase.end)


def _reads_hot(phase: Phase) -> Phase:
    """Let the thermostat see its setpoint at once, every time."""
    if phase.end == "setpoint":
        return replace(phase, outputs=OFF, end="time", longest_s=0)
    return _no_heat(phase) if phase.cycles else phase


def _never_full(phase: Phase) -> Phase:
    """Let the level switch never close."""
    return replace(phase, end="time") if phase.end == "level" else phase


def _full_at_once(phase: Phase) -> Phase:
    """Let the level switch be closed all the time."""
    return replace(phase, outputs=OFF, end="time", longest_s=0) if phase.end == "level" else phase
