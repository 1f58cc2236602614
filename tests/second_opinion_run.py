"""A run of the second simulator: bath, ware and water of many points at once, and what it is judged by.

Second by second by the midpoint rule; a fill in shorter steps. What the documents leave open is marked
*open*.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields

import numpy as np
from second_opinion_formulas import (
    WEIGHED_KG_PER_L,
    Numbers,
    a0_rate,
    boil_c,
    cp_j_per_kg_k,
    density_kg_per_l,
    dose_rate,
    heat_unit_rate,
    saturation_kpa,
    vaporisation_j_per_kg,
)

from optimizer.profile.goal import Goal
from optimizer.profile.machine import Machine
from optimizer.profile.machine_ware import HEAT_CAPACITY_KJ_PER_KG_K
from optimizer.programme.constants import Round

State = tuple[Numbers, Numbers, Numbers]
"""Bath [°C], ware [°C] and mass of the water [kg] of all points."""

FILL_STEP_S = 0.25
"""Step of a fill [s]: cold water into a hot carry-over of some decilitres; a second is off by 0.02 K."""


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
    first_wash_c: Numbers
    least_element_l: Numbers
    least_pump_l: Numbers
    most_l: Numbers
    duration_min: Numbers
    electricity_kwh: Numbers
    water_l: Numbers
    drying: Numbers
    coldest_end_c: Numbers
    coldest_drained_c: Numbers
    first_rinse_c: Numbers
    hottest_drained_c: Numbers
    drop_k: Numbers
    rise_k: Numbers

    @classmethod
    def at_start(cls, goal: Goal, n: int) -> Meters:
        """As a run begins: nothing summed up, nothing seen."""
        highest = ("hottest_c", "hottest_prerinse_c", "first_wash_c", "hottest_drained_c", "most_l", "drop_k",
                   "rise_k")  # fmt: skip
        lowest = "least_element_l", "least_pump_l", "coldest_end_c", "coldest_drained_c", "first_rinse_c"
        starts = {each.name: 0.0 for each in fields(cls) if each.name != "dose_min"}
        starts |= dict.fromkeys(highest, -np.inf) | dict.fromkeys(lowest, np.inf)
        doses = {dose.name: np.zeros(n) for dose in goal.dose}
        return cls(doses, **{name: np.full(n, start) for name, start in starts.items()})


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
class Run:
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
        self.meters = Meters.at_start(self.goal, self.n)

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
        wet_ware_j_per_k = self.ware_j_per_k + self.hung_kg * cp_j_per_kg_k(ware_c)
        loss_w = q[f"tank.loss_{which}_w_per_k"] * (bath_c - q["room.air_c"])
        cp = cp_j_per_kg_k(bath_c)
        in_kg, in_c = inflow
        mixing_w = in_kg * cp * (in_c - bath_c)
        capacity = (kg - self.hung_kg) * cp + self.tank_j_per_k
        return (heat_w - loss_w - to_ware_w + mixing_w) / capacity, to_ware_w / wet_ware_j_per_k

    def film(self, pump: bool) -> None:
        """The spray washes the film into the bath, and leaves bath on the ware as it ends: heat is kept."""
        cp_bath, cp_ware = cp_j_per_kg_k(self.bath_c), cp_j_per_kg_k(self.ware_c)
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
        room_kpa = 0.01 * self.q["room.humidity_pct"] * saturation_kpa(self.q["room.air_c"])
        drive = np.maximum(saturation_kpa(self.bath_c) - room_kpa, 0.0) * 1000.0
        kg_per_s = self.machine.tank.vent_m2 * drive * 0.089 / vaporisation_j_per_kg(self.bath_c)
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
        cp = cp_j_per_kg_k(bath_c)
        boiled = (
            excess_k * ((self.kg - self.hung_kg) * cp + self.tank_j_per_k) / vaporisation_j_per_kg(bath_c)
        )
        kg = self.kg + dt * in_kg - dt * self.vapour_kg_per_s(pump) - boiled
        new = bath_c - excess_k, self.ware_c + dt * d_ware, np.maximum(kg, 1e-6)
        return self.steamed(dt, heat_w, new) if self.row is not None and self.row.kind == "steam" else new

    def steamed(self, dt: Numbers, heat_w: Numbers, new: State) -> State:
        """Where the pool of a steam round boils: the element's power less the losses makes steam, and
        `ware.steam_share` of it warms ware and film up to the boil (docs/machine.md)."""
        net_w = heat_w - self.q["tank.loss_still_w_per_k"] * (self.boil_c - self.q["room.air_c"])
        boils = (heat_w > 0.0) & (net_w > 0.0) & (self.bath_c >= self.boil_c - 1e-6)
        wet_ware_j_per_k = self.ware_j_per_k + self.hung_kg * cp_j_per_kg_k(self.ware_c)
        rise_k = dt * self.q["ware.steam_share"] * net_w / wet_ware_j_per_k
        ware_c = np.minimum(self.ware_c + rise_k, np.maximum(self.ware_c, self.boil_c))
        kg = np.maximum(self.kg - dt * net_w / vaporisation_j_per_kg(self.boil_c), 1e-6)
        return (
            np.where(boils, self.boil_c, new[0]),
            np.where(boils, ware_c, new[1]),
            np.where(boils, kg, new[2]),
        )

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
                # A second late at each of twenty waves leaves the last one elsewhere on its way down.
                low_c = out.set_c - out.hysteresis_k
                fell = (on == 0.0) & (duty == 0.0) & (new[0] <= low_c) & (dt > 0.0)
                on = np.where(fell, 1.0, on)
                if fell.any() and elapsed.max() < out.element_s:
                    reach = (self.bath_c - low_c) / np.maximum(self.bath_c - new[0], 1e-9)
                    duty = np.where(fell, 1.0 - np.clip(reach, 0.0, 1.0), duty)
                    new = self.step(dt, warming_w + duty * full_w, out.pump, inflow)
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
                    from_c = 0.0 if detergent is None else detergent.dissolves_from_c
                    with_it, without = (dose_rate(dose, middle_c, it, from_c) for it in (True, False))
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
