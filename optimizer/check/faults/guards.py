"""The guards: what has to stand against each kind of harm, in words that say what to buy."""

from __future__ import annotations

import math
from dataclasses import dataclass

from optimizer.check.faults.harm_meter import HarmKind
from optimizer.check.trip_range import TripRange, trip_range
from optimizer.profile.circuit import Circuit
from optimizer.profile.machine import Machine
from optimizer.programme.constants import Constants
from optimizer.programme.earth_fault import earth_fault_guard

FLOAT_SWITCH = "float switch in series with the element"
CUT_OUT = "thermal cut-out with manual reset in series with the element"
PUMP_CUT_OUT = "thermal cut-out with manual reset in series with the wash pump, which alone warms the bath"
SECOND_VALVE = "overflow switch under the lip that closes a second valve, at the tap"
NO_RESTART = "WASH_RESTART_AFTER_CUT at 0"
LID_SWITCH = "lid switch in the supply of pumps and element"
PUMP_IN_SERIES = "level switch in series with the wash pump"
FLOW_SWITCH = "flow or pressure switch behind the wash pump"
COOL_FIRST = "drain pipe that stands the boil, or a bath left to cool before anything drains it"
STOPS_UNFILLED = "controller that stops where the level switch has not closed within the longest fill"

Guards = dict[HarmKind, tuple[str, ...]]


@dataclass(frozen=True)
class Protection:
    """What protects a machine on its circuit whatever its programme: none of it is optional."""

    machine: Machine
    circuit: Circuit
    trip: TripRange | None

    @classmethod
    def of(cls, constants: Constants, machine: Machine, circuit: Circuit) -> Protection:
        """Find what protects a machine that runs these constants."""
        return cls(machine, circuit, trip_range(constants, machine))

    @property
    def _element_guards(self) -> tuple[str, ...]:
        """Float switch and cut-out, and what to buy; none without an element."""
        element, trip = self.machine.element, self.trip
        if element is None or trip is None:
            return ()
        highest_a = math.ceil(element.highest_a(self.machine.supply.voltage_v.high) * 10.0 - 1e-6) / 10.0
        feels = {
            "bath": "its feeler in the bath",
            "sheath": "its feeler on the element's SHEATH (an open bath never passes the boil)",
        }
        return (
            f"{FLOAT_SWITCH}, its contacts rated for {highest_a:g} A, or through a contactor",
            f"{CUT_OUT}, {feels[trip.place]}, that trips between {trip.low_c} and {trip.high_c} °C",
        )

    @property
    def required(self) -> tuple[str, ...]:
        """What is not optional: two guards of an element, and one against earth faults."""
        return (*self._element_guards, earth_fault_guard(self.circuit))

    def against(self, fault: str) -> Guards:
        """Name what stands against each kind of harm that a fault (by its key) may do."""
        guards = self._usual()
        if fault == "inlet.open":
            # Closing the valve that sticks does not help.
            guards["overflow"] = (SECOND_VALVE,)
        if fault == "pump.runs":
            # A relay that has welded is not opened by a controller.
            guards["pump_dry"] = (PUMP_IN_SERIES,)
        if fault == "pump.starved":
            # The level is right, the water does not come.
            guards["pump_dry"] = (FLOW_SWITCH,)
        if self.machine.inlet.level_l is not None:
            stopped: dict[str, tuple[HarmKind, ...]] = {
                "inlet.shut": ("dry", "pump_dry"),
                "level.open": ("overflow",),
            }
            guards |= {kind: (*guards[kind], STOPS_UNFILLED) for kind in stopped.get(fault, ())}
        return guards

    def _usual(self) -> Guards:
        """Name what stands against each kind of harm, whatever the fault; nothing for what is not there."""
        element = self.machine.element is not None
        return {
            "dry": (FLOAT_SWITCH, CUT_OUT) if element else (),
            "hot": (CUT_OUT,) if element else (PUMP_CUT_OUT,),
            "overflow": ("overflow switch under the lip that closes the inlet valve",),
            "pump_dry": ("level or flow switch without which nothing sprays",),
            "locked": ("thermal protector in the motor of the wash pump",),
            "hot_element": (
                "controller that waits with all off, for the rest of the element, before its first drain",
            ),
            "hot_drain": (COOL_FIRST,),
            "wash": (),
            "starts": (NO_RESTART, LID_SWITCH),
        }
