"""The guards: what has to stand against each kind of harm, in words that say what to buy."""

from __future__ import annotations

import math
from dataclasses import dataclass

from optimizer.check.dosing_moment import dosed_sprays
from optimizer.check.drain_wait import drain_read_most_dc, drain_stop_dc, drain_wait_s
from optimizer.check.faults.contacts_to_buy import (
    lid_switch,
    lid_switch_to_buy,
    lid_tested,
    supplied_pumps,
    wash_pump_starts,
)
from optimizer.check.faults.guard_words import (
    ALIKE,
    BATH_CUT_OUT,
    BATH_CUT_OUT_OR_NONE,
    BEGINS_NO_DRAIN,
    BOND_TESTED,
    CONTACTORS_TESTED,
    COOL_FIRST,
    COOL_TANK,
    COOLER_BATH,
    DISPENSER,
    EARTH_TESTED,
    ELECTRONIC,
    FLOAT_SWITCH,
    FLOAT_TESTED,
    FLOW_SWITCH,
    HOSE_LOOP,
    HOT_IN_TURN,
    HOTTER_TANK,
    LOW_VOLTAGE_FUSE,
    MEASURED_BATH,
    METALS,
    MOTOR_FUSE,
    NO_RESTART,
    OUT_OF_TURN,
    OVERFLOW_SWITCH,
    OVERFLOW_TESTED,
    PIPE,
    PIPE_OF_A_STUCK_SENSOR,
    PUMP_CUT_OUT,
    PUMP_IN_SERIES,
    SHEATH_CUT_OUT,
    STANDS_IT,
    STOPS_HOT,
    STOPS_UNDRAINED,
    STOPS_UNFILLED,
    UNDRAINED,
    UNSEEN_TESTS,
    contacts,
    cool_ware,
    cut_outs_tested,
    instead_of_common,
    short_k_of,
)
from optimizer.check.faults.harm_meter import HarmKind
from optimizer.check.table_rows import cold_sensor_left_l
from optimizer.check.trip_range import BUYABLE_K, MELTS_C, SPARE_K, CutOuts, TripRange, cut_outs
from optimizer.physics.water import boiling_c
from optimizer.profile.circuit import Circuit
from optimizer.profile.machine import Machine
from optimizer.profile.machine_loads import Element
from optimizer.programme.cautions import gets_hot
from optimizer.programme.constants import Constants
from optimizer.programme.earth_fault import earth_fault_guard
from optimizer.programme.plan import UNCHECKED, Certified
from optimizer.units import short

Guards = dict[HarmKind, tuple[str, ...]]


@dataclass(frozen=True)
class Protection:
    """What protects a machine on its circuit whatever its programme: none of it is optional."""

    machine: Machine
    circuit: Circuit
    cut_outs: CutOuts | None
    boils_bare: bool = False
    """Whether a sensor that reads cold may boil the water off the element, counted as crudely as its row."""
    covering_l: float | None = None
    """Least water while the element is on, as a certificate guarantees it [l]; None without one."""
    watchdog_c: float = 0.0
    """Reading at which the controller switches all off, where an open bath never reads it; else 0 [°C]."""
    constants: Constants | None = None
    """The programme, for what a drain out of its turn has to wait for."""

    @classmethod
    def of(
        cls, constants: Constants, machine: Machine, circuit: Circuit, known: Certified = UNCHECKED
    ) -> Protection:
        """Find what protects a machine that runs these constants.

        ``known`` is what their certificate says, if there is one.
        """
        left, element = cold_sensor_left_l(constants, machine), machine.element
        bare = left is not None and element is not None and left[0] < element.cover_l
        watchdog_c = constants.bath_max_dc / 10.0
        if element is None or watchdog_c <= boiling_c(machine.room.height_m) + element.sensor_error_k:
            watchdog_c = 0.0
        found = cut_outs(constants, machine, known.bath_c)
        return cls(machine, circuit, found, bare, known.covering_l, watchdog_c, constants)

    @property
    def _element_guards(self) -> tuple[str, ...]:
        """Float switch and cut-outs, and what to buy; none without an element."""
        element, found = self.machine.element, self.cut_outs
        if element is None or found is None:
            return ()
        volts = self.machine.supply.voltage_v
        rated = contacts(element.highest_a(volts.high), volts.nominal, american=self._american)
        sheath, material = found.sheath, self.machine.tank.material
        besides = ""
        if material in MELTS_C:
            besides = (
                f": {material} melts near {MELTS_C[material]} °C. Fix the element so that it touches no wall"
            )
            if found.sheath_w_per_cm2 is not None:
                most = math.floor(10.0 * found.sheath_w_per_cm2) / 10.0
                besides += (
                    f", and take one of {most:g} W/cm² or less (of several programmes the least): a sheath "
                    "of more (5 to 10 are common, from memory) is hotter in sound runs and trips it; or a "
                    "tank of polypropylene or steel"
                )
        if self.watchdog_c:
            besides += (
                f". This cut-out is what guards: WASH_BATH_MAX_DC is {self.watchdog_c:g} °C, which an open "
                "bath never reads"
            )
        return (
            f"{FLOAT_SWITCH}, {rated}; {self._float_level(element)}",
            f"{SHEATH_CUT_OUT} (one in an emptied bath reads air), {ALIKE}, that trips "
            f"between {sheath.low_c} and {sheath.high_c} °C{besides}",
            *self._bath_guard(found),
        )

    def _float_level(self, element: Element) -> str:
        """Say where the float switch opens and closes; rounded down, so that the element can come on."""
        least_l = element.cover_l if self.covering_l is None else self.covering_l
        closes_l = short(math.floor(least_l * 10.0 + 1e-6) / 10.0)
        return (
            "it opens while the element is still under water, above its top, and closes again below "
            f"{closes_l} l, the least water while the element is on (of several programmes the lowest). Its "
            "own differential, 3 to 10 mm by common practice, has to fit between the two; there is room, as "
            f"{short(element.cover_l)} l (cover_l) stand 50 mm over the element, even where both are the same"
        )

    def _bath_guard(self, found: CutOuts) -> tuple[str, ...]:
        """Say which cut-out stands for the tank, or that none can; none where the tank stands the boil."""
        if found.tank_stands_boil:
            # A programme that is hotter, or that boils, would trip it: one machine runs them all.
            return ()
        bath = found.bath
        if bath is not None and bath.can_be_bought:
            mark_c, off_k = bath.highest_mark_c, BUYABLE_K // 2
            return (
                f"{BATH_CUT_OUT}, for the limit of the tank: one marked {mark_c} °C that trips within "
                f"{off_k} K of it, {ALIKE}. It has tripped at {bath.high_c} °C, and lets programmes pass "
                f"whose bath stays at {mark_c - off_k - int(SPARE_K)} °C or less",
            )
        why = "the programme boils"
        if bath is not None:
            why = f"it has to let {bath.low_c} °C pass and to trip by {bath.high_c} °C"
        return (
            f"for the limit of the tank NO common cut-out in the bath can be bought: {why}, and they are "
            f"off by 5 K or more. {instead_of_common(found.bath, self.machine.element)}",
        )

    @property
    def _of_tank(self) -> TripRange | None:
        """Where a cut-out for the limit of the tank trips; None where it stands the boil, or none can."""
        return None if self.cut_outs is None or self.cut_outs.tank_stands_boil else self.cut_outs.bath

    @property
    def _electronic(self) -> bool:
        """Whether the cut-out for the limit of the tank is an electronic one: no common one fits."""
        bath = self._of_tank
        return bath is not None and not bath.can_be_bought and short_k_of(bath) <= 0.0

    @property
    def _against_heat(self) -> tuple[str, ...]:
        """What stands against a bath that is too hot."""
        found = self.cut_outs
        if found is None:
            return (PUMP_CUT_OUT,)
        if found.tank_stands_boil and found.bath is not None and found.bath.can_be_bought:
            return (BATH_CUT_OUT_OR_NONE,)
        if found.bath is not None and found.bath.can_be_bought:
            return (BATH_CUT_OUT,)
        # One on the sheath never trips under boiling water.
        if found.tank_stands_boil:
            return (STANDS_IT,)
        return (f"{self._where_none_is_common}, or {HOTTER_TANK}",)

    @property
    def _where_none_is_common(self) -> str:
        """What there is besides a tank that stands more, where no common cut-out lets the bath pass."""
        if self._electronic:
            return ELECTRONIC
        held = self.machine.thermostat is not None
        return COOLER_BATH if held and math.isfinite(short_k_of(self._of_tank)) else MEASURED_BATH

    @property
    def required(self) -> tuple[str, ...]:
        """What is not optional: guards of element, rim, lid and motor, and one against earth faults."""
        return (
            *self._element_guards,
            f"{OVERFLOW_SWITCH} (one that is shut without power): water that runs over reaches what is live"
            f"{', and may scald' * gets_hot(self.machine)}",
            lid_switch_to_buy(self.machine, self._american),
            self._motor_guard,
            *self._dispenser,
            earth_fault_guard(self.circuit),
        )

    @property
    def _american(self) -> bool:
        """Whether parts carry the ratings of North America, as the earth-fault device does."""
        return self.circuit.earth_fault == "gfci_class_a"

    @property
    def _earthed(self) -> str:
        """Name the metal that is earthed."""
        tank = "the steel tank, " * (self.machine.tank.material in METALS)
        return f"{tank}{'sheath and ' * (self.machine.element is not None)}the pumps' metal"

    @property
    def _motor_guard(self) -> str:
        """What keeps a locked motor from setting on fire what is round it."""
        material = self.machine.tank.material
        burns = "pump and hoses" if material in METALS else f"pump, hoses and the {material} of the tank"
        fuse = LOW_VOLTAGE_FUSE if supplied_pumps(self.machine) else ""
        return (
            f"{MOTOR_FUSE}{fuse}: it trips by itself while the rotor is locked, "
            f"before the motor sets its windings, {burns} on fire (IEC 60335-1, clause 19, from memory)"
        )

    @property
    def _dispenser(self) -> tuple[str, ...]:
        """What puts detergent into a bath that is too hot for a hand; none where none is."""
        sprays = () if self.constants is None else dosed_sprays(self.constants, self.machine)
        hot_c = max((one.hottest_c for one in sprays if one.by_dispenser), default=None)
        if hot_c is None:
            return ()
        return (
            f"{DISPENSER}: the spray that detergent goes into begins at up to {math.ceil(hot_c)} °C, too hot "
            "for a hand and an open funnel",
        )

    @property
    def _drain_seen(self) -> str:
        """What sees that a drain has left water."""
        if self.machine.inlet.level_l is not None:
            return STOPS_UNDRAINED.format("level switch sees water", "WASH_ERROR_NOT_DRAINED")
        if self.machine.element is not None:
            return STOPS_UNDRAINED.format("float switch is closed", "WASH_ERROR_FLOAT_CLOSED")
        return "level switch in the sump, and a controller that stops where it sees water after a drain"

    def against(self, fault: str) -> Guards:
        """Name what stands against each kind of harm that a fault (by its key) may do."""
        guards = self._usual()
        if fault == "pump.runs":
            # A relay that has welded is not opened by a controller.
            prime_l = short(self.machine.wash_pump.prime_l)
            guards["pump_dry"] = (PUMP_IN_SERIES.format(prime_l, wash_pump_starts(self.machine)),)
        if fault == "pump.starved":
            # The level is right, the water does not come.
            guards["pump_dry"] = (FLOW_SWITCH,)
        if fault == "sensor.cold" and self.boils_bare:
            guards["hot"] = (*guards["hot"], FLOAT_SWITCH)
        if fault.startswith("element.") and self._stops_hot:
            guards["hot_drain"] = (STOPS_HOT,)
        elif not fault.startswith(OUT_OF_TURN):
            guards["hot_drain"] = (self._reads_before_it_drains(fault),)
        if fault == "cut_out.closed":
            found = self.cut_outs
            guards["unseen"] = () if found is None else cut_outs_tested(found.sheath, self._of_tank)
        if fault == "overflow.dead":
            unplugged = "element unplugged, " * (self.machine.element is not None)
            guards["unseen"] = (OVERFLOW_TESTED.format(unplugged),)
        if fault == "earth.broken":
            guards["unseen"] = (EARTH_TESTED.format(self._earthed),)
        if fault == "lid.bridged":
            guards["unseen"] = (lid_tested(self.machine),)
        if fault in UNSEEN_TESTS:
            guards["unseen"] = (UNSEEN_TESTS[fault],)
        if fault == "earth_fault.dead" and self.circuit.earth_fault == "inverter":
            guards["unseen"] = (*guards["unseen"], BOND_TESTED)
        if fault in ("float.closed", "cut_out.closed", "lid.bridged") and self.machine.element is not None:
            guards["unseen"] = (*guards["unseen"], CONTACTORS_TESTED)
        if fault in UNDRAINED:
            guards["unrinsed"] = (self._drain_seen,)
        if fault == "pump.seized":
            # The motor's own guard does not tell that nothing was sprayed.
            guards["locked"] = (MOTOR_FUSE, FLOW_SWITCH)
        if fault == "tank.leaks":
            guards |= {kind: (*guards[kind], HOSE_LOOP) for kind in ("dry", "pump_dry")}
        if self.machine.inlet.level_l is not None:
            stopped: dict[str, tuple[HarmKind, ...]] = {
                "inlet.shut": ("dry", "pump_dry"),
                "level.open": ("overflow",),
            }
            guards |= {kind: (*guards[kind], STOPS_UNFILLED) for kind in stopped.get(fault, ())}
            if fault == "level.open":
                guards["unrinsed"] = (STOPS_UNFILLED,)
        # Hot or cold, the same keeps it in.
        return guards | {"overflow_hot": guards["overflow"]}

    def _reads_before_it_drains(self, fault: str) -> str:
        """Name the look at the bath before its drain, where a sound sensor reads it."""
        element = self.machine.element
        if element is None or element.control != "thermostat":
            return HOT_IN_TURN
        if fault.startswith("sensor."):
            return PIPE_OF_A_STUCK_SENSOR
        return BEGINS_NO_DRAIN.format(drain_stop_dc(self.machine))

    @property
    def _stops_hot(self) -> bool:
        """Whether the watchdog of the bath ends a run before the bath is too hot for the drain pipe."""
        read_c = 0.0 if self.constants is None else self.constants.bath_max_dc / 10.0
        return 0.0 < read_c <= drain_read_most_dc(self.machine) / 10.0

    @property
    def _cool_first(self) -> str:
        """What a drain out of its turn waits for, with the two numbers that a controller has to have."""
        pipe, element = f"or a {PIPE}", self.machine.element
        held = element is not None and element.control == "thermostat"
        reads = f"{'the bath' if held else 'a sensor, if you fit one,'} reads what the drain pipe stands"
        if self.constants is None:
            return f"{COOL_FIRST} {reads}, {pipe}"
        wait_s = drain_wait_s(self.constants, self.machine)
        waits = (
            f"{wait_s} or more for this programme" if wait_s else "0: no bath is too hot, sensor stuck or not"
        )
        off = f"all was off for long enough (WASH_DRAIN_WAIT_S {waits})"
        read_dc = drain_read_most_dc(self.machine)
        return f"{COOL_FIRST} {reads} (WASH_DRAIN_MAX_DC {read_dc} or less) or {off}, {pipe}"

    def _usual(self) -> Guards:
        """Name what stands against each kind of harm, whatever the fault; nothing for what is not there."""
        element = self.machine.element is not None
        return {
            "dry": (FLOAT_SWITCH, SHEATH_CUT_OUT) if element else (),
            "hot": self._against_heat,
            # Closing a valve that sticks does not help.
            "overflow": (OVERFLOW_SWITCH,),
            "pump_dry": ("level or flow switch without which nothing sprays",),
            "locked": (MOTOR_FUSE,),
            "unseen": (FLOAT_TESTED,),
            "hot_element": (
                "controller that waits with all off, for the rest of the element, before its first drain",
            ),
            "hot_drain": (self._cool_first,),
            "wash": (),
            "starts": (NO_RESTART, lid_switch(self.machine)),
            "scalds": (lid_switch(self.machine),),
            "sprays_out": (lid_switch(self.machine),),
            "breaks": (cool_ware(None),),
            "breaks_cold": (COOL_TANK,),
            "unrinsed": (FLOW_SWITCH,),
        }
