"""What a round draws from its circuit, worst corner: which parts may be on together, and whether it fits."""

from __future__ import annotations

from optimizer.planner.structure import ALONE, TOGETHER, Mode
from optimizer.profile.circuit import Circuit
from optimizer.profile.machine import Machine


class Currents:
    """Currents of one machine on one circuit: what may be on together, worst corner, and whether it fits.

    A resistor takes most at high voltage, ``P_rated · U / U_rated²``; a motor at low, ``P / (U · cos φ)``.
    """

    def __init__(self, machine: Machine, circuit: Circuit) -> None:
        self.circuit = circuit
        self._low_v = machine.supply.voltage_v.low
        self.controller_a = machine.supply.controller_w / self._low_v
        self.valve_a = machine.inlet.valve_w / self._low_v
        self.element_a = 0.0
        if machine.element is not None:
            self.element_a = machine.element.highest_a(machine.supply.voltage_v.high)
        self.pump_a = machine.wash_pump.running_a(self._low_v)
        self.drain_a = machine.drain_pump.running_a(self._low_v)
        self._pump_start_a = machine.wash_pump.starting_a(self._low_v)
        self._drain_start_a = machine.drain_pump.starting_a(self._low_v)

    def running_a(self, mode: Mode) -> float:
        """Highest running current of a round [A]."""
        spraying_a = self.pump_a + (self.element_a if mode in TOGETHER else 0.0)
        alone_a = self.element_a if mode in (*ALONE, Mode.STEAM) else 0.0
        return self.controller_a + max(spraying_a, alone_a, self.drain_a, self.valve_a)

    def starting_a(self, mode: Mode) -> float:
        """Highest current while a pump starts, with what else is on the circuit [A]."""
        others_a = self.element_a if mode in TOGETHER else 0.0
        started_a = max(self._pump_start_a + others_a, self._drain_start_a)
        return started_a + self.controller_a + self.circuit.background_a.high

    def fits(self, mode: Mode) -> bool:
        """Whether running and starting current of a round stay inside the circuit."""
        most_a = self.circuit.start_most_a
        starts = most_a is None or self.starting_a(mode) <= most_a
        return starts and self.running_a(mode) <= self.circuit.available_a
