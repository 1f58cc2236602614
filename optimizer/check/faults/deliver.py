"""The single faults: each turns the phases that the controller asks for into those the machine delivers."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from optimizer.check.phases import OFF, Phase

Phases = tuple[Phase, ...]

SLOW_SHARE = 0.5
"""A slow drain moves this share of its flow, at the low end too [1]."""


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


def _always(change: Callable[[Phase], Phase]) -> Deliver:
    """Let a part be at fault from the start."""

    def deliver(asked: Phases) -> list[Delivery]:
        delivered = tuple(map(change, asked))
        wrong = [number for number, phase in enumerate(asked) if delivered[number] != phase]
        return [Delivery(delivered, wrong[0])] if wrong else []

    return deliver


def _sticking(change: Callable[[Phase], Phase], moments: Callable[[Phases], Iterator[int]]) -> Deliver:
    """Let a part stick for good, at any of several moments."""

    def deliver(asked: Phases) -> list[Delivery]:
        return [
            Delivery(asked[:first] + tuple(map(change, asked[first:])), first) for first in moments(asked)
        ]

    return deliver


def _no_water(phase: Phase) -> Phase:
    """Keep the inlet shut; a level switch then never closes."""
    return replace(_never_full(phase), outputs=replace(phase.outputs, inlet=False))


def _water_runs(phase: Phase) -> Phase:
    """Keep the inlet open."""
    return replace(phase, outputs=replace(phase.outputs, inlet=True))


def _no_drain(phase: Phase) -> Phase:
    """Keep the drain pump off."""
    return replace(phase, outputs=replace(phase.outputs, drain_pump=False))


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


def _after_fills(asked: Phases) -> Iterator[int]:
    """Give the moments at which an inlet should close."""
    return (number for number, before in enumerate(asked[:-1], start=1) if before.name == "fill")


def _after_heating(asked: Phases) -> Iterator[int]:
    """Give the moments at which an element should go off; a thermostat's also while it holds the bath."""
    return (
        number for number in range(1, len(asked)) if asked[number - 1].outputs.element or asked[number].cycles
    )


def _from_the_start(_: Phases) -> Iterator[int]:
    """Give the first phase."""
    yield 0


def _seized(asked: Phases) -> list[Delivery]:
    """Keep the wash pump off, if ever it should be on."""
    return _always(_no_spray)(asked) if any(phase.outputs.wash_pump for phase in asked) else []


def _slow_drain(asked: Phases) -> list[Delivery]:
    """Let the drain pump move half of what it should."""
    return [Delivery(asked, 0, SLOW_SHARE)]


DELIVER: dict[str, Deliver] = {
    "inlet.shut": _always(_no_water),
    "inlet.open": _sticking(_water_runs, _after_fills),
    "drain.dead": _always(_no_drain),
    "drain.slow": _slow_drain,
    "level.open": _always(_never_full),
    "level.closed": _always(_full_at_once),
    "pump.seized": _seized,
    "sensor.cold": _always(_reads_cold),
    "sensor.hot": _always(_reads_hot),
    "element.dead": _always(_no_heat),
    "element.on": _sticking(_heats, _from_the_start),
    "element.stays_on": _sticking(_heats, _after_heating),
}
"""By key of the fault, from the phases asked for to the deliveries to run: one for each moment at which the
part may fail, none where the programme does not use it."""
