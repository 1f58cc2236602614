"""A second simulator of the controller's table, written from the documents and the profiles' comments alone.

It shares no code with planner, check or physics: it steps the table second by second (midpoint rule; a
fill in shorter steps) for many points of the tolerances at once. A point gives every measured quantity one
number; a dry start is a switch of its own. Water: IAPWS-IF97 by the package `iapws`. What the documents
leave open is marked *open*.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from iapws import IAPWS97
from numpy.typing import NDArray
from tolerance_box import SENSOR

from optimizer.profile.goal import DRYING_C, Dose, Goal
from optimizer.profile.machine import HEAT_CAPACITY_KJ_PER_KG_K, Machine
from optimizer.programme.constants import Constants, Round

Numbers = NDArray[np.float64]
State = tuple[Numbers, Numbers, Numbers]
"""Bath [°C], ware [°C] and mass of the water [kg] of all points."""


FILL_STEP_S = 0.25
"""Step of a fill [s]: cold water into a hot carry-over of some decilitres; a second is off by 0.02 K."""

WEIGHED_KG_PER_L = 0.998
"""What kitchen scales make of a litre: water of a kitchen."""

_TABLE_C = np.arange(1.0, 102.0)
_WATER = [IAPWS97(T=273.15 + t, x=0) for t in _TABLE_C]
_RHO_KG_PER_L = np.array([w.rho / 1000.0 for w in _WATER])
_CP_J_PER_KG_K = np.array([w.cp * 1000.0 for w in _WATER])
_P_SAT_KPA = np.array([w.P * 1000.0 for w in _WATER])
_VAPORISATION_J_PER_KG = np.array([(IAPWS97(T=273.15 + t, x=1).h - w.h) * 1e3
                                   for t, w in zip(_TABLE_C, _WATER, strict=True)])  # fmt: skip


def boil_c(height_m: float) -> float:
    """Boiling point in the standard atmosphere (ISO 2533: 288.15 K, 6.5 K/km), by IAPWS-IF97."""
    share = (1.0 - 2.25577e-5 * height_m) ** 5.25588
    return float(IAPWS97(P=0.101325 * share, x=0).T - 273.15)


def _at(t_c: Numbers | float, table: Numbers) -> Numbers:
    return np.interp(t_c, _TABLE_C, table)


def density_kg_per_l(t_c: Numbers) -> Numbers:
    """Density of saturated water, IAPWS-IF97."""
    return _at(t_c, _RHO_KG_PER_L)


@dataclass
class Meters:
    """What a run is judged by, one value a point."""

    dose_min: dict[str, Numbers]
    a0_s: Numbers
    heat_units: Numbers
    residue: Numbers
    soil: Numbers
    film_mg_per_l: Numbers
    hottest_c: Numbers
    hottest_prerinse_c: Numbers
    least_element_l: Numbers
    least_pump_l: Numbers
    most_l: Numbers
    duration_min: Numbers
    electricity_kwh: Numbers
    water_l: Numbers
    drying: Numbers
    coldest_end_c: Numbers
    hottest_drained_c: Numbers
    drop_k: Numbers
    rise_k: Numbers


def judged(m: Meters, goal: Goal) -> dict[str, tuple[Numbers, bool]]:
    """By the certificate's key: the values of all points, and whether the least of them is the worst."""
    found = {f"dose.{name}": (dose_min, True) for name, dose_min in m.dose_min.items()}
    found |= {"hygiene.a0": (m.a0_s, True), "hygiene.hue": (m.heat_units, True)}
    found |= {"rinse.residue": (m.residue, False), "rinse.soil": (m.soil, False)}
    found |= {"rinse.film_mg_per_l": (m.film_mg_per_l, False), "tank.bath_c": (m.hottest_c, False)}
    found |= {"prerinse.bath_c": (m.hottest_prerinse_c, False), "overflow.level_l": (m.most_l, False)}
    found |= {"drain.bath_c": (m.hottest_drained_c, False)}
    found |= {"cover.element_l": (m.least_element_l, True), "cover.suction_l": (m.least_pump_l, True)}
    found |= {"limits.duration_min": (m.duration_min, False), "limits.water_l": (m.water_l, False)}
    found |= {"ware.drop_k": (m.drop_k, False), "ware.rise_k": (m.rise_k, False)}
    if goal.drying.method == "hot_rinse":  # steam is not in this model but for its boiling
        found["drying.ware_heat"] = m.drying / goal.drying.heat_factor, True
    if goal.detergent is not None and goal.detergent.spray_least_c > 0.0:
        found["detergent.bath_c"] = m.coldest_end_c, True
    return found


@dataclass(frozen=True)
class Outputs:
    """What is on during a phase; `set_c` is the mean bath at which the sensor reads the setpoint, and the
    hottest water is by `top_k` hotter than that mean. What runs in is as warm as `in_c`, or as the inlet."""

    inlet: bool = False
    pump: bool = False
    element_s: float = 0.0
    set_c: Numbers | None = None
    until_set: bool = False
    hysteresis_k: float = 0.0
    top_k: Numbers | float = 0.0
    in_c: Numbers | None = None
    other_w: Numbers | float = 0.0


OFF = Outputs()


@dataclass
class _Run:
    """Water mass, temperatures and meters of all points at one moment."""

    machine: Machine
    goal: Goal
    q: dict[str, Numbers]
    n: int
    row: Round | None = None
    detergent: bool = False
    pumped_s: Numbers = field(init=False)
    wet: bool = False
    switched: bool = False
    sprayed: bool = False
    unmixed_from_c: Numbers | None = None
    meters: Meters = field(init=False)

    def __post_init__(self) -> None:
        q, zero = self.q, np.zeros(self.n)
        self.ware_j_per_k = 1000.0 * sum(
            (cp * q[f"ware.{name}_kg"] for name, cp in HEAT_CAPACITY_KJ_PER_KG_K.items()), start=zero
        )
        self.boil_c = boil_c(self.machine.room.height_m)
        self.tank_j_per_k = 1000.0 * q["tank.heat_capacity_kj_per_k"]
        self.film_l, self.kg = zero.copy(), zero.copy()
        self.pumped_s = zero.copy()
        self.hung_kg = zero.copy()  # of the water: what hangs on the ware, and is as warm as that
        self.bath_c, self.ware_c = q["room.air_c"].copy(), q["room.air_c"].copy()
        doses, inf = {dose.name: zero.copy() for dose in self.goal.dose}, np.inf
        starts = (
            0.0,
            0.0,
            0.0,
            0.0,
            0.0,
            -inf,
            -inf,
            inf,
            inf,
            -inf,
            0.0,
            0.0,
            0.0,
            0.0,
            inf,
            -inf,
            -inf,
            -inf,
        )
        self.meters = Meters(doses, *(np.full(self.n, start) for start in starts))

    @property
    def litres(self) -> Numbers:
        return self.kg / density_kg_per_l(self.bath_c)

    def slopes(
        self, at: State, heat_w: Numbers, pump: bool, inflow: tuple[Numbers, Numbers]
    ) -> tuple[Numbers, Numbers]:
        """Bath and ware [K/s]: the ware follows the bath by its response; what it takes, the bath loses.

        The response was measured on bare plates: what crosses is theirs, and it warms the film that hangs on
        them as well.
        """
        q, which = self.q, "spraying" if pump else "still"
        bath_c, ware_c, kg = at
        to_ware_w = self.ware_j_per_k * (bath_c - ware_c) / q[f"ware.response_{which}_s"]
        wet_ware_j_per_k = self.ware_j_per_k + self.hung_kg * _at(ware_c, _CP_J_PER_KG_K)
        loss_w = q[f"tank.loss_{which}_w_per_k"] * (bath_c - q["room.air_c"])
        cp = _at(bath_c, _CP_J_PER_KG_K)
        in_kg, in_c = inflow
        mixing_w = in_kg * cp * (in_c - bath_c)
        capacity = (kg - self.hung_kg) * cp + self.tank_j_per_k
        return (heat_w - loss_w - to_ware_w + mixing_w) / capacity, to_ware_w / wet_ware_j_per_k

    def film(self, pump: bool) -> None:
        """The spray washes the film into the bath, and leaves bath on the ware as it ends: heat is kept."""
        cp_bath, cp_ware = _at(self.bath_c, _CP_J_PER_KG_K), _at(self.ware_c, _CP_J_PER_KG_K)
        if pump and not self.sprayed:
            # What hits the ware is the bath before the ware's film has mixed into it.
            over_k = self.ware_c - self.bath_c
            self.meters.drop_k = np.maximum(self.meters.drop_k, over_k)
            self.meters.rise_k = np.maximum(self.meters.rise_k, -over_k)
        if pump:
            bath = (self.kg - self.hung_kg) * cp_bath + self.tank_j_per_k
            film = self.hung_kg * cp_ware
            self.bath_c = (bath * self.bath_c + film * self.ware_c) / (bath + film)
            self.hung_kg = np.zeros(self.n)
        elif self.sprayed:
            self.hung_kg = np.minimum(self.q["ware.film_l"] * WEIGHED_KG_PER_L, self.kg)
            film = self.hung_kg * cp_bath
            self.ware_c += film * (self.bath_c - self.ware_c) / (self.ware_j_per_k + film)
        self.sprayed = pump

    def vapour_kg_per_s(self, pump: bool) -> Numbers:
        """ASHRAE HVAC Applications over the vents, still air; still water: half."""
        room_kpa = 0.01 * self.q["room.humidity_pct"] * _at(self.q["room.air_c"], _P_SAT_KPA)
        drive = np.maximum(_at(self.bath_c, _P_SAT_KPA) - room_kpa, 0.0) * 1000.0
        kg_per_s = self.machine.tank.vent_m2 * drive * 0.089 / _at(self.bath_c, _VAPORISATION_J_PER_KG)
        return kg_per_s if pump else 0.5 * kg_per_s

    def step(self, dt: Numbers, heat_w: Numbers, pump: bool, inflow: tuple[Numbers, Numbers]) -> State:
        """Bath, ware and water after a step of up to a second (midpoint rule)."""
        in_kg, _ = inflow
        d_bath, d_ware = self.slopes((self.bath_c, self.ware_c, self.kg), heat_w, pump, inflow)
        half = 0.5 * dt
        mid = self.bath_c + half * d_bath, self.ware_c + half * d_ware, self.kg + half * in_kg
        d_bath, d_ware = self.slopes(mid, heat_w, pump, inflow)
        bath_c = self.bath_c + dt * d_bath
        excess_k = np.maximum(bath_c - self.boil_c, 0.0)
        cp = _at(bath_c, _CP_J_PER_KG_K)
        boiled = (
            excess_k
            * ((self.kg - self.hung_kg) * cp + self.tank_j_per_k)
            / _at(bath_c, _VAPORISATION_J_PER_KG)
        )
        kg = self.kg + dt * in_kg - dt * self.vapour_kg_per_s(pump) - boiled
        return bath_c - excess_k, self.ware_c + dt * d_ware, np.maximum(kg, 1e-6)

    def phase(self, limit_s: Numbers | float, out: Outputs) -> None:
        """Hold one set of outputs until each point's time is over, or its sensor ends it."""
        self.film(out.pump)
        q, zero = self.q, np.zeros(self.n)
        limit = np.broadcast_to(np.asarray(limit_s, dtype=float), self.n).copy()
        pump_w = q["wash_pump.power_w"] if out.pump else zero
        warming_w = self.machine.wash_pump.heat_share * pump_w
        in_l = q["inlet.flow_l_per_min"] / 60.0 if out.inlet else zero
        in_c = q["inlet.water_c"] if out.in_c is None else out.in_c
        inflow = in_l * density_kg_per_l(in_c), in_c
        full_w, on = zero, zero
        if out.element_s > 0.0 and self.machine.element is not None:
            full_w = q["element.rated_w"] * (q["supply.voltage_v"] / self.machine.element.rated_v) ** 2
            # *Open*: whether a sensor already at the setpoint lets the element start; here it does not.
            on = np.ones(self.n) if out.set_c is None else (self.bath_c < out.set_c).astype(float)
        if out.until_set:
            limit = np.where(on > 0.0, limit, 0.0)
        longest_s = FILL_STEP_S if out.inlet else 1.0
        elapsed = zero.copy()
        while (dt := np.clip(limit - elapsed, 0.0, longest_s)).any():
            duty = on if elapsed.max() < out.element_s else zero
            new = self.step(dt, warming_w + duty * full_w, out.pump, inflow)
            if out.set_c is not None and duty.any():
                crossed = (duty > 0.0) & (new[0] >= out.set_c) & (dt > 0.0)
                if crossed.any():
                    reach = (out.set_c - self.bath_c) / np.maximum(new[0] - self.bath_c, 1e-9)
                    share = np.where(crossed, np.clip(reach, 0.0, 1.0), 1.0)
                    if out.until_set:
                        dt = dt * share
                        limit = np.where(crossed, elapsed + dt, limit)
                    else:
                        duty = duty * share
                    new = self.step(dt, warming_w + duty * full_w, out.pump, inflow)
                    on = np.where(crossed, 0.0, on)
            if out.set_c is not None and not out.until_set:
                on = np.where((on == 0.0) & (new[0] <= out.set_c - out.hysteresis_k), 1.0, on)
            self.record(dt, new, out, duty)
            power_w = pump_w + duty * full_w + out.other_w + self.machine.supply.controller_w
            self.meters.electricity_kwh += power_w * dt / 3.6e6
            self.meters.water_l += dt * in_l
            self.bath_c, self.ware_c, self.kg = new
            elapsed += dt

    def record(self, dt: Numbers, new: State, out: Outputs, duty: Numbers) -> None:
        """Add a step to the meters."""
        m, row, pump = self.meters, self.row, out.pump
        bath_c, ware_c, kg = new
        moved = dt > 0.0
        m.duration_min += dt / 60.0
        if row is None:
            return
        hotter_c = np.maximum(self.bath_c, bath_c)
        # The top is hotter than the mean by what was measured, but no hotter than boiling water.
        top_c = np.minimum(hotter_c + out.top_k, np.maximum(hotter_c, self.boil_c))
        np.maximum(m.hottest_c, top_c, out=m.hottest_c, where=moved)
        if row.kind == "prerinse" and pump:
            np.maximum(m.hottest_prerinse_c, hotter_c, out=m.hottest_prerinse_c, where=moved)
        litres = kg / density_kg_per_l(bath_c)
        # A fill, by time or by switch, may meet a film that runs back.
        # Film and hold-up were weighed: warm they take more room.
        weighed_l = WEIGHED_KG_PER_L / density_kg_per_l(bath_c)
        in_tank_l = litres - self.film_l * weighed_l
        np.maximum(m.most_l, litres, out=m.most_l, where=moved)
        # *Open*: whether the film is part of what the spray holds up; here it is not, the safe side.
        sump_l = in_tank_l - self.q["wash_pump.holdup_l"] * weighed_l if pump else in_tank_l
        if pump:
            np.minimum(m.least_pump_l, sump_l, out=m.least_pump_l, where=moved)
        if row.kind != "steam":
            np.minimum(m.least_element_l, sump_l, out=m.least_element_l, where=moved & (duty > 0.0))
        if not self.wet:
            return
        middle_c = 0.5 * (self.ware_c + ware_c)
        # Detergent counts once it has dissolved, and it dissolves while the pump runs.
        detergent = self.goal.detergent
        dissolved_s = 60.0 * detergent.dissolving_min if detergent is not None else np.inf
        dissolved = self.pumped_s + 0.5 * dt > dissolved_s
        if pump:
            self.pumped_s += dt
        if row.kind == "rinse":
            m.a0_s += dt * a0_rate(middle_c)
            m.heat_units += dt * heat_unit_rate(middle_c)
        for dose in self.goal.dose:
            if row.kind in dose.kinds:
                # The strength of the spray: 1 where it is as strong as that of the minutes.
                share = self.q["wash_pump.mechanics_factor"] if pump else dose.soak_share
                if np.any(share > 0.0):
                    with_it, without = (dose_rate(dose, middle_c, it) for it in (True, False))
                    rate = np.where(dissolved & self.detergent, with_it, without)
                    m.dose_min[dose.name] += dt / 60.0 * share * rate

    def pump_stops(self) -> None:
        """Note how cold a bath with detergent is as its spray ends."""
        if self.detergent:
            self.meters.coldest_end_c = np.minimum(self.meters.coldest_end_c, self.bath_c)

    def drain(self, seconds: int) -> None:
        """Pump down to the carry-over: what the sump keeps and, once it was sprayed, the film on the ware.

        Both were weighed; what the pump moves was measured in litres. For its lag a drain pumps nothing.
        *Open*: which seconds these are; here the last ones.
        """
        q = self.q
        before = self.kg.copy()
        floor_kg = np.minimum(before, (q["tank.residual_l"] + self.film_l) * WEIGHED_KG_PER_L)
        out_kg = q["drain_pump.flow_l_per_min"] / 60.0 * density_kg_per_l(self.bath_c)
        for second in range(seconds):
            self.drained()
            pumps = np.clip(seconds - q["drain_pump.drain_lag_s"] - second, 0.0, 1.0)
            self.kg = np.maximum(self.kg - pumps * out_kg, floor_kg)
            self.phase(1.0, Outputs(other_w=q["drain_pump.power_w"]))

    def drained(self) -> None:
        """Note how hot the drained water may be: of a bath topped up and not stirred the top comes last.

        *Open*: whether it gets hotter while it drains, beside hot ware; here it does, as the whole bath does.
        """
        hot_c = self.bath_c
        if self.unmixed_from_c is not None:
            share = self.machine.inlet.unmixed_share
            hot_c = hot_c + share * np.maximum(self.unmixed_from_c - hot_c, 0.0)
        np.maximum(self.meters.hottest_drained_c, hot_c, out=self.meters.hottest_drained_c)


def a0_rate(t_c: Numbers) -> Numbers:
    """ISO 15883-1, Annex B: seconds at 80 °C with z = 10 K; from 65 °C on."""
    return np.where(t_c >= 65.0, 10.0 ** ((t_c - 80.0) / 10.0), 0.0)


def heat_unit_rate(t_c: Numbers) -> Numbers:
    """Heat-unit equivalents per second (NSF/ANSI 3): none under 143 °F, no more above 165 °F."""
    t_f = 1.8 * t_c + 32.0
    return np.where(t_f >= 143.0, 3.03438e-17 * np.exp(0.265972 * np.minimum(t_f, 165.0)), 0.0)


def dose_rate(dose: Dose, t_c: Numbers, detergent: bool) -> Numbers:
    """Equivalent minutes a minute of spray, as the goal's comments say."""
    floor_c = dose.floor_c if detergent else max(dose.floor_c, dose.bare_floor_c)
    share = 1.0 if detergent else dose.bare_share
    rate = 10.0 ** ((np.minimum(t_c, dose.ceiling_c) - dose.reference_c) / dose.z_k)
    return np.where(t_c >= floor_c, share * rate, 0.0)


def simulate(
    table: Constants, machine: Machine, goal: Goal, points: Mapping[str, Numbers], dry: NDArray[np.bool_]
) -> Meters:
    """Run the table at every point; `dry` starts without carry-over.

    The hottest bath may be that of a run begun as the last drain of this one ends, with a cold load, wet.
    """
    q = {name: np.asarray(value, dtype=float) for name, value in points.items()}
    run = _Run(machine, goal, q, len(dry), switched=table.fill_control == "level")
    run.film_l = np.where(dry, 0.0, q["ware.film_l"])
    run.kg = np.where(dry, 0.0, (q["tank.residual_l"] + run.film_l) * WEIGHED_KG_PER_L) + 1e-6
    run.hung_kg = run.film_l * WEIGHED_KG_PER_L
    run.phase(float(table.start_drain_s), Outputs(other_w=q["drain_pump.power_w"]))
    last_wash = max((i for i, row in enumerate(table.rounds) if row.kind == "wash"), default=0)
    # What is in the machine: all soil of the last wash, and grams of detergent. Liquor leaves as strong as
    # it is.
    soil, grams, wash_kg, film_kg = np.ones(run.n), np.zeros(run.n), np.ones(run.n), np.ones(run.n)
    for number, row in enumerate(table.rounds):
        full_kg = _round(run, row, table)
        if row.kind == "steam":
            continue
        grams = (grams + row.detergent_dg / 10.0) * run.kg / full_kg
        wash_kg = full_kg if number == last_wash else wash_kg
        film_kg = run.kg.copy()
        if number >= last_wash and row.kind in ("wash", "rinse"):
            soil = soil * run.kg / full_kg
    run.meters.soil = soil
    # Over the last wash, in which all of it was in its whole bath.
    run.meters.residue = soil / film_kg * wash_kg
    run.meters.film_mg_per_l = 1000.0 * grams / film_kg * WEIGHED_KG_PER_L
    # The film is weighed, so that its litres are kilograms.
    film_j = q["ware.film_l"] * float(_at(DRYING_C, _VAPORISATION_J_PER_KG))
    run.meters.drying = run.ware_j_per_k * (run.ware_c - q["room.air_c"]) / film_j
    again = _Run(machine, goal, q, run.n, switched=run.switched)
    again.film_l, again.kg, again.bath_c = q["ware.film_l"].copy(), run.kg.copy(), run.bath_c.copy()
    again.hung_kg = again.film_l * WEIGHED_KG_PER_L
    again.phase(float(table.start_drain_s), Outputs())
    for row in table.rounds:
        _round(again, row, table)
    for name in ("hottest_c", "hottest_prerinse_c", "hottest_drained_c", "drop_k", "rise_k"):
        setattr(run.meters, name, np.maximum(getattr(run.meters, name), getattr(again.meters, name)))
    return run.meters


def _round(run: _Run, row: Round, table: Constants) -> Numbers:
    """Fill, heat, spray, rest, drain; gives what the round was filled to [kg]."""
    run.row, run.detergent, run.wet, set_c = row, False, False, None
    run.pumped_s = np.zeros(run.n)
    gap_s = float(table.gap_s)
    if row.setpoint_dc > 0:
        set_c = row.setpoint_dc / 10.0 - run.q.get(SENSOR, np.zeros(run.n))
    run.phase(gap_s, OFF)
    # What stands in the pipe has the temperature of the room, and comes in first.
    pipe_s, fed_s = _fill_s(run, row)
    run.phase(pipe_s, Outputs(inlet=True, other_w=run.machine.inlet.valve_w, in_c=run.q["room.air_c"]))
    run.phase(fed_s, Outputs(inlet=True, other_w=run.machine.inlet.valve_w))
    full_kg = run.kg.copy()
    run.detergent = row.detergent_dg > 0
    if row.heat_s:
        run.phase(gap_s, OFF)
        # Pump off, the bath is in layers: the sensor sits in warmer water than the mean, the top is warmest.
        mean_c = None if set_c is None else set_c - run.q["element.sensor_over_mean_k"]
        top_k = run.q["element.top_over_mean_k"]
        run.phase(row.heat_s, Outputs(element_s=row.heat_s, set_c=mean_c, until_set=set_c is not None,
                                      top_k=top_k))  # fmt: skip
    if row.spray_s:
        run.phase(gap_s, OFF)
        # *Open*: what of a round counts; here all from the start of its spray, which brings the liquor to
        # the ware, to the end of its drain, for doses (as a soak where the spray is off) and for hygiene.
        run.wet = True
        element_s, hysteresis_k = float(row.spray_element_s), table.hysteresis_dk / 10.0
        run.phase(element_s, Outputs(pump=True, element_s=element_s, set_c=set_c, hysteresis_k=hysteresis_k))
        after_s = float(table.after_soak_s if row.soak_s else 0)
        run.phase(row.spray_s - after_s - element_s, Outputs(pump=True))
        run.pump_stops()
        if row.soak_s:
            run.film_l = run.q["ware.film_l"].copy()
            run.phase(gap_s, OFF)
            run.phase(row.soak_s, OFF)
            run.phase(gap_s, OFF)
            run.phase(after_s, Outputs(pump=True))
            run.pump_stops()
        run.film_l = run.q["ware.film_l"].copy()
    if row.rest_s:
        run.phase(gap_s, OFF)
        run.phase(row.rest_s, OFF)
    run.unmixed_from_c = None
    if row.top_up_s:
        _top_up(run, row, gap_s)
    run.phase(gap_s, OFF)
    run.drain(row.drain_s)
    return full_kg


def _top_up(run: _Run, row: Round, gap_s: float) -> None:
    """Cold water before the drain, by time alone; from then on nothing cleans, and nothing is thinned.

    What is left in the pipe of a hot feed counts as hot. A minute of the pump stirs it in.
    """
    run.wet = False
    run.phase(gap_s, OFF)
    before_c = run.bath_c.copy()
    pipe_s = np.minimum(run.q["inlet.pipe_l"] / (run.q["inlet.flow_l_per_min"] / 60.0), float(row.top_up_s))
    pipe_c = np.maximum(run.q["room.air_c"], run.q["inlet.water_c"])
    run.phase(pipe_s, Outputs(inlet=True, other_w=run.machine.inlet.valve_w, in_c=pipe_c))
    run.phase(row.top_up_s - pipe_s, Outputs(inlet=True, other_w=run.machine.inlet.valve_w))
    if row.mix_s:
        run.phase(gap_s, OFF)
        run.phase(row.mix_s, Outputs(pump=True))
        run.pump_stops()
    if row.mix_s < 60:
        run.unmixed_from_c = before_c


def _fill_s(run: _Run, row: Round) -> tuple[Numbers, Numbers]:
    """Seconds with water of the pipe, and with water of the feed.

    *Open*: whether a level switch sees the film on the ware; here it does not.
    """
    l_per_s, pipe_l = run.q["inlet.flow_l_per_min"] / 60.0, run.q["inlet.pipe_l"]
    open_s = np.full(run.n, float(row.fill_s))
    if run.switched:
        missing_l = run.q["inlet.level_l"] + run.film_l - run.litres
        open_s = np.clip(missing_l / l_per_s, 0.0, open_s)
    pipe_s = np.minimum(pipe_l / l_per_s, open_s)
    return pipe_s, open_s - pipe_s
