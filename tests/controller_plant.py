"""Machines for the reference controller: the check's two-node model, stepped one second at a time.

The right-hand side is that of the check (`optimizer.check.equations.slopes`) and so are its cases; the steps
are explicit and of one second, because a controller in a loop asks for the bath at every step. The quickest
response in a machine is 30 s: a step closes 3 % of a gap, and midpoint steps keep the error of that below
0.05 %. Faults are put in between the controller's outputs and the model, or the model and its sensors.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields, replace

import numpy as np
from check_cases import sample_cases
from controller_rig import Hook, In, On, Program, rig
from numpy.typing import NDArray

from optimizer.check.equations import Drive, Slopes, State, slopes, spray_begins, spray_ends
from optimizer.check.worst_cases import Array, Bools, Cases
from optimizer.physics.water import BOILING_C, density_kg_per_l
from optimizer.profile.machine import Machine

OVERFLOW_SHARE = 0.97
"""Share of the tank at which its overflow switch closes [1]."""
CUT_S = 7
"""Length of a power cut [s]."""
STUCK_COLD_C, STUCK_HOT_C = 10.0, 75.0
"""Below the water of a wash; above every setpoint here, and not yet too hot for any controller."""


@dataclass(frozen=True)
class Scenario:
    """A machine with the hooks its controller has, and what goes wrong with it.

    Attributes
    ----------
    name : str
        For the messages.
    hooks : Hook
        What the controller can see.
    fault : str
        What goes wrong, one of `FAULTS`; nothing where empty.
    from_s : int
        From when on, counted from the start [s].
    case : int
        Which case of the check [1]; -1 the nominal one.
    """

    name: str
    hooks: Hook
    fault: str = ""
    from_s: int = 0
    case: int = -1


FAULTS = (
    *("inlet shut", "inlet open", "drain dead", "drain slow", "pump seized", "element on"),
    *(
        "sensor cold",
        "sensor hot",
        "sensor still",
        "sensor lost",
        "float open",
        "float closed",
        "power cut",
        "stop",
    ),
)


@dataclass
class Run:
    """What happened: one row a second, one column a scenario.

    Attributes
    ----------
    scenarios : list of Scenario
        The columns.
    on, state, round, error, running, detergent_dg, doses : ndarray
        What the controller did.
    bath_c, ware_c, water_l, pool_l : ndarray
        Bath, ware [°C], all water and that over the element [l] as the second began.
    """

    scenarios: list[Scenario]
    cover_l: float
    on: NDArray[np.uint8] = field(init=False)
    state: NDArray[np.uint8] = field(init=False)
    round: NDArray[np.uint8] = field(init=False)
    error: NDArray[np.uint8] = field(init=False)
    running: NDArray[np.uint8] = field(init=False)
    detergent_dg: NDArray[np.uint16] = field(init=False)
    doses: NDArray[np.uint8] = field(init=False)
    bath_c: Array = field(init=False)
    ware_c: Array = field(init=False)
    water_l: Array = field(init=False)
    pool_l: Array = field(init=False)

    def is_on(self, output: On) -> Bools:
        """Whether an output is on, one row a second."""
        found: Bools = (self.on & output) > 0
        return found

    def column(self, name: str) -> int:
        """Find a scenario by its name."""
        return [scenario.name for scenario in self.scenarios].index(name)


class Plant:
    """Machines side by side, one a scenario.

    Parameters
    ----------
    machine : Machine
        The machine.
    scenarios : list of Scenario
        In which case each is, and what goes wrong with it.
    """

    def __init__(self, machine: Machine, scenarios: list[Scenario]) -> None:
        self.machine = machine
        self.cases = _pick(sample_cases(machine), [scenario.case for scenario in scenarios])
        self.bath_c = self.cases.start_bath_c.copy()
        self.ware_c = self.cases.room_c.copy()
        self.water_kg = self.cases.start_share * self.cases.carry_over_kg
        self.film_kg = self.cases.start_share * self.cases.film_kg
        self.pumping = np.zeros(len(scenarios), bool)
        self.heating = np.zeros(len(scenarios), bool)
        self._full_kg = machine.tank.capacity_l * self.cases.cold_kg_per_l
        self._filled_kg = np.zeros(len(scenarios))
        self._from_s = np.array([scenario.from_s for scenario in scenarios])
        self._is = {name: np.array([s.fault == name for s in scenarios]) for name in FAULTS}
        self._there = {name for name, there in self._is.items() if there.any()}
        self._none = np.zeros(len(scenarios), bool)
        self._still_c = np.full(len(scenarios), np.nan)
        self._dense = (self._still_c, self._still_c)

    def has(self, fault: str, time_s: int) -> Bools:
        """Which scenarios have a fault now."""
        if fault not in self._there:
            return self._none
        found: Bools = self._is[fault] & (time_s >= self._from_s)
        return found

    def during(self, event: str, time_s: int, lasts_s: int = 1) -> Bools:
        """In which scenarios an event goes on now."""
        return self.has(event, time_s) & (time_s < self._from_s + lasts_s)

    def litres(self, kg: Array) -> Array:
        """Volume of water at the temperature of the bath [l]."""
        found: Array = kg / self.kg_per_l
        return found

    @property
    def kg_per_l(self) -> Array:
        """Density of the bath [kg/l], asked for six times a second and worked out once a bath."""
        if self._dense[0] is not self.bath_c:
            self._dense = self.bath_c, density_kg_per_l(np.minimum(self.bath_c, BOILING_C))
        return self._dense[1]

    def pool_kg(self, number: NDArray[np.uint8]) -> Array:
        """Water in the tank itself: without the film, and without the hold-up while the pump runs [kg]."""
        hung_kg = self.cases.film_kg * np.where(number == 0, self.cases.start_share, 1.0)
        return self.water_kg - hung_kg - self.cases.holdup_kg * self.pumping

    def told(self, time_s: int, number: NDArray[np.uint8]) -> tuple[NDArray[np.uint8], NDArray[np.int16]]:
        """What sensors and switches say: flags, and the reading [0.1 °C]."""
        pool_kg = self.pool_kg(number)
        bits = {
            In.BATH: ~self.has("sensor lost", time_s),
            In.FULL: pool_kg >= self.cases.level_kg,
            In.COVERED: ((self.litres(pool_kg) >= self._cover_l) & ~self.has("float open", time_s))
            | self.has("float closed", time_s),
            In.OVERFLOW: self.water_kg >= OVERFLOW_SHARE * self._full_kg,
            In.POWER: ~self.during("power cut", time_s, CUT_S),
            In.STOP: self.during("stop", time_s),
        }
        flags = sum(np.where(on, np.uint8(bit), np.uint8(0)) for bit, on in bits.items())
        at_sensor_c = self.at_sensor_c()
        self._still_c = np.where(
            np.isnan(self._still_c) & self.has("sensor still", time_s), at_sensor_c, self._still_c
        )
        seen_c = np.where(self.has("sensor still", time_s), self._still_c, at_sensor_c)
        seen_c = np.where(self.has("sensor cold", time_s), STUCK_COLD_C, seen_c)
        seen_c = np.where(self.has("sensor hot", time_s), STUCK_HOT_C, seen_c)
        return np.asarray(flags, np.uint8), np.rint(10.0 * (seen_c + self.cases.sensor_error_k)).astype(
            np.int16
        )

    def at_sensor_c(self) -> Array:
        """Temperature where the sensor sits: in a layer while the bath is heated with the pump off [°C]."""
        layer_c = np.minimum(
            self.bath_c + self.cases.sensor_over_mean_k, np.maximum(self.bath_c, self.cases.boils_c)
        )
        found: Array = np.where(self.heating & ~self.pumping, layer_c, self.bath_c)
        return found

    @property
    def _cover_l(self) -> float:
        """Litres at which the float switch closes; where there is no element it is out of reach [l]."""
        return self.machine.element.cover_l if self.machine.element else np.inf

    def second(self, time_s: int, on: NDArray[np.uint8]) -> None:
        """Let the outputs act for a second."""
        inlet = ((on & On.INLET) > 0) & ~self.has("inlet shut", time_s) | self.has("inlet open", time_s)
        element = ((on & On.ELEMENT) > 0) | self.has("element on", time_s)
        draining = ((on & On.DRAIN_PUMP) > 0) & ~self.has("drain dead", time_s)
        self.heating = element
        # As in the check: what evaporated since the fill has run back before a top-up. A drain ends a fill.
        self.water_kg = np.where(inlet, np.maximum(self.water_kg, self._filled_kg), self.water_kg)
        self._pump(((on & On.WASH_PUMP) > 0) & ~self.has("pump seized", time_s))
        drive = self._drive(inlet, element, draining, np.where(self.has("drain slow", time_s), 0.1, 1.0))
        here, unboiled = (self.bath_c, self.ware_c, self.water_kg), slopes(drive)
        half = tuple(v + 0.5 * r for v, r in zip(here, self._rates(drive, unboiled, *here), strict=True))
        bath_c, ware_c, water_kg = (
            v + r for v, r in zip(here, self._rates(drive, unboiled, *half), strict=True)
        )
        self.bath_c, self.ware_c = np.minimum(bath_c, self.cases.boils_c), ware_c
        self.water_kg = np.clip(water_kg, 0.0, self._full_kg)
        self._filled_kg = np.where(draining, 0.0, np.where(inlet, self.water_kg, self._filled_kg))

    def _pump(self, pumping: Bools) -> None:
        """Start and stop sprays: one mixes the film with the bath as it starts and leaves one as it stops."""
        starts, stops = pumping & ~self.pumping, self.pumping & ~pumping
        if not (starts | stops).any():
            return
        here = State(self.bath_c, self.ware_c, self.water_kg, self.film_kg)
        mixed = spray_begins(here, self.cases.tank_j_per_k)
        left = spray_ends(here, self.cases.film_kg, self.cases.ware_j_per_k)
        self.bath_c = np.where(starts, mixed.bath_c, self.bath_c)
        self.ware_c = np.where(stops, left.ware_c, self.ware_c)
        self.film_kg = np.where(starts, mixed.film_kg, np.where(stops, left.film_kg, self.film_kg))
        self.pumping = pumping

    def _rates(
        self, drive: Drive, unboiled: Slopes, bath_c: Array, ware_c: Array, water_kg: Array
    ) -> tuple[Array, Array, Array]:
        """Slopes of bath, ware and water; those of a bath that boils where it does."""
        rates = unboiled(bath_c, ware_c, water_kg)
        boils = bath_c >= self.cases.boils_c
        if not boils.any():
            return rates
        boiling = slopes(replace(drive, steam_share=self.cases.steam_share))(bath_c, ware_c, water_kg)
        bath, ware, water = (np.where(boils, b, r) for b, r in zip(boiling, rates, strict=True))
        return bath, ware, water

    def _drive(self, inlet: Bools, element: Bools, draining: Bools, drain_share: Array) -> Drive:
        cases, pumping = self.cases, self.pumping
        above_kg = np.maximum(self.water_kg - cases.carry_over_kg, 0.0)
        drain_kg_per_s = cases.drain_l_per_s * self.kg_per_l
        return Drive(
            heat_w=cases.element_w * element + cases.pump_heat_w * pumping,
            loss_w_per_k=np.where(pumping, cases.loss_spraying_w_per_k, cases.loss_still_w_per_k),
            response_s=np.where(pumping, cases.response_spraying_s, cases.response_still_s),
            ware_j_per_k=cases.ware_j_per_k,
            film_kg=self.film_kg,
            tank_j_per_k=cases.tank_j_per_k,
            room_c=cases.room_c,
            humidity=cases.humidity,
            inlet_c=cases.inlet_c,
            inflow_kg_per_s=cases.flow_kg_per_s * inlet,
            outflow_kg_per_s=np.minimum(drain_kg_per_s * drain_share, above_kg) * draining,
            vent_m2=self.machine.tank.vent_m2,
        )


def _pick(cases: Cases, places: list[int]) -> Cases:
    values = {name.name: getattr(cases, name.name) for name in fields(cases)}
    arrays = {name: value[places] for name, value in values.items() if isinstance(value, np.ndarray)}
    return replace(cases, names=tuple(cases.names[place] for place in places), corners=0, **arrays)


def run(
    machine: Machine,
    program: Program,
    scenarios: list[Scenario],
    seconds: int,
    *,
    idle_s: int = 70,
    start_ms: int = 0,
    to_error: bool = False,
) -> Run:
    """Start every controller and let it run its machine.

    Parameters
    ----------
    machine : Machine
        The machine.
    program : Program
        The compiled rig, or a command.
    scenarios : list of Scenario
        One a copy.
    seconds : int
        How long, from the start on [s].
    idle_s : int
        Time between power-up and start [s].
    start_ms : int
        The clock at the start [ms].
    to_error : bool
        Whether to end with the first error of any.

    Returns
    -------
    Run
        What happened from the start on.
    """
    plant = Plant(machine, scenarios)
    count = len(scenarios)
    rows: dict[str, list[NDArray[np.generic]]] = {}
    number = np.zeros(count, np.uint8)
    with rig(program, [scenario.hooks for scenario in scenarios]) as copies:
        for before_s in range(-idle_s, 0):
            copies.step(start_ms + 1000 * before_s, int(In.POWER))
        for time_s in range(seconds):
            flags, reading_dc = plant.told(time_s, number)
            flags = flags | np.uint8(In.START if time_s == 0 else 0)
            answer = copies.step(start_ms + 1000 * time_s, flags, reading_dc)
            number = answer["round"]
            seen = {
                "bath_c": plant.bath_c,
                "ware_c": plant.ware_c,
                "water_l": plant.litres(plant.water_kg),
                "pool_l": plant.litres(plant.pool_kg(number)),
            }
            plant.second(time_s, answer["on"])
            # Water over the element once the pump has drawn its share is what counts for this second.
            seen["pool_l"] = np.minimum(seen["pool_l"], plant.litres(plant.pool_kg(number)))
            for name in ("on", "state", "round", "error", "running", "detergent_dg", "doses"):
                rows.setdefault(name, []).append(answer[name])
            for name, value in seen.items():
                rows.setdefault(name, []).append(value)
            if to_error and answer["error"].any():
                break
    found = Run(scenarios, machine.element.cover_l if machine.element else 0.0)
    for name, values in rows.items():
        setattr(found, name, np.array(values))
    return found
