"""What the bounds of a course mean for each requirement: a value that no point of a box can break."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from optimizer.check.bound_box import Boxes, together
from optimizer.check.bound_course import BoundCourse, End, drained
from optimizer.check.bound_sides import WIDER, flipped
from optimizer.check.bound_steps import Bounds
from optimizer.check.bound_ware_over import WareOver
from optimizer.check.certificate import WARE_END
from optimizer.check.lethality import HYGIENE, dissolving_s, soil_dose_s
from optimizer.check.residue import Rinsing
from optimizer.check.worst_cases import Array
from optimizer.physics.water import BOILING_C, density_kg_per_l, latent_heat_kj_per_kg, steam_j_per_l
from optimizer.profile.goal import DRYING_C, Goal
from optimizer.profile.machine import Machine
from optimizer.programme.constants import Constants
from optimizer.units import J_PER_KJ, S_PER_MIN

BETWEEN = 6
"""Points of a step at which the ware's course is read between its samples [1]."""

BETWEEN_HELD = 3
"""The same where a thermostat holds the bath: its steps are shorter [1]."""

STEPS_K = 0.05
"""How far the steps of the courses may put a bath off [K]; at random points without tolerance it differed
from the check's own integration by 0.035 K at the most."""

SPRAY_END_K = 0.2
"""The same of a bath as a spray ends [K]: ware that follows in minutes has few steps. It was off by 0.12 K at
the most, at random points of 120 random machines."""

STEPS_EVAPORATED = 0.01
"""How far the steps may put off what evaporates, a share of it [1]: the vapour pressure changes by some 5 % a
kelvin, and a bath is off by a twentieth of one."""

WATER_VARIES = 0.0035
"""Share by which the specific heat of water differs between two temperatures 25 K apart, 5 to 100 °C [1]."""

Values = dict[str, Array]
"""By the key of a requirement, one value a box in the unit of its row."""


def values_of(constants: Constants, machine: Machine, goal: Goal, boxes: Boxes) -> Values:
    """Bound every requirement that hangs on the course: least where at least is asked, else most."""
    return values_and_end(constants, machine, goal, boxes)[0]


def values_and_end(constants: Constants, machine: Machine, goal: Goal, boxes: Boxes) -> tuple[Values, End]:
    """Bound every requirement, and where the run ends, for a second run to begin there."""
    dries, count = goal.drying.method != "none", boxes.count
    run = together(boxes, _warm_room(boxes)) if dries else boxes
    course = BoundCourse(constants, machine, run)
    reader = _Reader(constants, machine, goal, run, course)
    for bounds in course.run():
        reader.add(bounds)
    found = {key: value[:count] for key, value in reader.values().items()}
    if dries:
        found["drying.ware_heat"] = _ware_heat(goal, boxes, reader.drained_c[count:])
    return found, course.end.first(count)


def values_again(constants: Constants, machine: Machine, goal: Goal, boxes: Boxes, start: End) -> Values:
    """Bound a second run, begun where a first one ended, with a cold load."""
    wet = np.ones(boxes.count)
    boxes = replace(
        boxes,
        least=replace(boxes.least, start_share=wet),
        most=replace(boxes.most, start_share=wet),
    )
    course = BoundCourse(constants, machine, boxes)
    reader = _Reader(constants, machine, goal, boxes, course)
    for bounds in course.run(start):
        reader.add(bounds)
    return reader.values()


class _Reader:
    """Follows the bounds of one course."""

    def __init__(
        self, constants: Constants, machine: Machine, goal: Goal, boxes: Boxes, course: BoundCourse
    ) -> None:
        self._constants, self._machine, self._goal, self._boxes = constants, machine, goal, boxes
        self._eqs = course.bounding
        self._by_level = constants.fill_control == "level"
        count = boxes.count
        self._doses_s = {dose.name: np.zeros(count) for dose in goal.dose}
        self._hygiene_s = np.zeros(count)
        # How long the pump has sprayed in this round; every spray is as long as it is written.
        self._sprayed_s = 0.0
        self._hottest_c = np.full(count, -np.inf)
        self._prerinse_c, self._reading_c = np.full(count, -np.inf), np.full(count, -np.inf)
        # Bath as the last spray with detergent stood; judged as the pump stops.
        self._with_detergent_c, self._sprayed_c = np.full(count, np.inf), np.full(count, np.inf)
        self._element_l, self._suction_l = np.full(count, np.inf), np.full(count, np.inf)
        self._fullest_l, self._undrained_l = np.full(count, -np.inf), np.zeros(count)
        self._filled_l, self._elapsed_s = np.zeros(count), np.zeros(count)
        self._drop_k, self._rise_k = np.full(count, -np.inf), np.full(count, -np.inf)
        self._sprays, self._step_k, self._over = False, np.zeros((2, count)), WareOver(self._eqs)
        # Water at the end of the last fill, of which some evaporates.
        self._full_kg = np.zeros((2, count))
        self._uncovered_s = np.full(count, np.inf)
        # What came with a round and what its drain leaves over its bath, at the most; and the least bath.
        self._came: list[Array] = []
        self._kept: list[Array] = []
        self._least_kg: list[Array] = []
        self._left_kg = np.zeros(count)
        self._carried = np.ones(count, dtype=bool)
        self._drained_c = np.full(count, -np.inf)
        # Round that a top-up was last let into, and what its bath was before: hottest, and least water.
        self._topped_in, self._before_c, self._before_kg = -1, np.zeros(count), np.zeros(count)
        # Coldest ware at the end of the last drain.
        self.drained_c = boxes.least.room_c

    def add(self, bounds: Bounds) -> None:
        """Count one phase."""
        phase = bounds.phase
        self._elapsed_s += bounds.most_s
        layered = phase.outputs.element and not phase.outputs.wash_pump
        hottest_c = _hottest_c(bounds, counted=not layered)
        top_c = hottest_c
        if layered:
            top_c = np.minimum(
                hottest_c + self._boxes.most.top_over_mean_k, np.maximum(hottest_c, self._boxes.most.boils_c)
            )
        self._hottest_c = np.maximum(self._hottest_c, top_c)
        self._reading_c = np.maximum(self._reading_c, self._read_c(bounds, hottest_c))
        kind = self._constants.rounds[phase.round].kind if phase.round >= 0 else ""
        if phase.outputs.wash_pump and kind == "prerinse":
            self._prerinse_c = np.maximum(self._prerinse_c, _hottest_c(bounds, counted=False))
        if not phase.outputs.wash_pump:
            self._with_detergent_c = np.minimum(self._with_detergent_c, self._sprayed_c)
            self._sprayed_c = np.full_like(self._sprayed_c, np.inf)
        elif self._constants.rounds[phase.round].detergent_dg:
            self._sprayed_c = bounds.bath_c[-1, 0] - SPRAY_END_K
        if phase.outputs.wash_pump and not self._sprays:
            self._drop_k = np.maximum(self._drop_k, self._step_k[0])
            self._rise_k = np.maximum(self._rise_k, self._step_k[1])
        self._sprays = phase.outputs.wash_pump
        # The hottest ware over the coldest bath, and the other way round.
        self._over.add(bounds, carried=self._carried)
        ware_c, bath_c = bounds.ware_c[-1], bounds.bath_c[-1]
        drop_k = np.minimum(ware_c[1] - bath_c[0], self._over.most_k)
        self._step_k = np.stack([drop_k, bath_c[1] - ware_c[0]]) + 2.0 * STEPS_K
        if phase.name == "fill":
            self._fills(bounds)
            self._full_kg = bounds.water_kg[-1]
        if phase.name == "top_up":
            self._fills(bounds)
            self._full_kg = self._full_kg + bounds.water_kg[-1] - bounds.water_kg[0]
            self._topped_in, self._before_kg = phase.round, bounds.water_kg[0, 1]
            self._before_c = bounds.bath_c[0, 1] + STEPS_K
        if phase.wet:
            self._levels(bounds)
        if phase.name == "drain":
            self.drained_c = bounds.ware_c[-1, 0]
        if phase.name == "drain" and phase.round >= 0:
            self._drains(bounds)
        if phase.sprayed:
            self._doses(bounds)
            self._sprayed_s += phase.longest_s * phase.outputs.wash_pump
        else:
            self._sprayed_s = 0.0

    def values(self) -> Values:
        """Give the bound of each requirement."""
        goal = self._goal
        found = {f"dose.{name}": dose_s / S_PER_MIN for name, dose_s in self._doses_s.items()}
        if goal.hygiene.method != "none":
            found[f"hygiene.{goal.hygiene.method}"] = self._hygiene_s
        rinsing = Rinsing(self._constants, self._came, self._kept, self._least_kg)
        found |= {key: values for key, (_, _, _, values) in rinsing.told(goal).items()}
        found[WARE_END] = self.drained_c
        found["drain.bath_c"] = self._drained_c
        found["tank.bath_c"], found["watchdog.reading_c"] = self._hottest_c, self._reading_c
        found["ware.drop_k"], found["ware.rise_k"] = self._drop_k, self._rise_k
        if np.isfinite(self._prerinse_c).all():
            found["prerinse.bath_c"] = self._prerinse_c
        if np.isfinite(self._with_detergent_c).all():
            found["detergent.bath_c"] = self._with_detergent_c
        if np.isfinite(self._element_l).any():
            found["cover.element_l"] = self._element_l
        found["cover.suction_l"] = self._suction_l
        found["overflow.level_l"] = self._fullest_l
        found["drain.left_l"] = self._undrained_l
        found["limits.duration_min"] = self._elapsed_s / S_PER_MIN
        found["limits.standing_min"] = (self._elapsed_s + self._constants.stand_s) / S_PER_MIN
        found["limits.water_l"] = self._filled_l
        if any(row.kind == "steam" for row in self._constants.rounds):
            found["steam.uncovered_min"] = self._uncovered_s / S_PER_MIN
        return found

    def _read_c(self, bounds: Bounds, hottest_c: Array) -> Array:
        """Hottest reading of a phase: the sensor's error on top of the bath, and a setpoint as it reads."""
        phase, most = bounds.phase, self._boxes.most
        layered = phase.outputs.element and not phase.outputs.wash_pump

        def reading_c(bath_c: Array) -> Array:
            """Read a bath; heated with the pump off it is in layers, up to the boil."""
            layer_c = np.minimum(bath_c + most.sensor_over_mean_k, np.maximum(bath_c, most.boils_c))
            return np.asarray((layer_c if layered else bath_c) + most.sensor_error_k)

        if phase.end == "setpoint":
            setpoint_c = 0.1 * self._constants.rounds[phase.round].setpoint_dc
            before_c = reading_c(bounds.bath_c[0, 1])
            return np.asarray(np.minimum(reading_c(hottest_c), np.maximum(before_c, setpoint_c)))
        return reading_c(hottest_c)

    def _fills(self, bounds: Bounds) -> None:
        if self._by_level and bounds.phase.name == "fill":
            let_in_kg = np.maximum(bounds.water_kg[-1, 0] - bounds.water_kg[0, 1], 0.0)
            self._filled_l += let_in_kg / self._boxes.least.cold_kg_per_l
            # What stood in the pipe is lighter where the room is warmer: as much mass is more litres.
            most = self._boxes.most
            lighter = 1.0 - density_kg_per_l(most.room_c) / most.cold_kg_per_l
            self._filled_l += most.pipe_l * np.maximum(lighter, 0.0)
        else:
            most = self._boxes.most
            self._filled_l += bounds.most_s * most.flow_kg_per_s / most.cold_kg_per_l

    def _film_kg(self, round_number: int) -> Array:
        """Film of each course's water that covers nothing: most of the most, least of the least."""
        film_kg = self._eqs.all_film_kg
        if round_number == 0:
            return film_kg * self._eqs.start_share
        return np.where(self._carried, film_kg, flipped(film_kg))

    def _levels(self, bounds: Bounds) -> None:
        phase, element = bounds.phase, self._machine.element
        film_kg = self._film_kg(max(phase.round, 0))
        liquid_c = np.minimum(bounds.bath_c - WIDER * STEPS_K, BOILING_C)
        # Cold water is dense: least litres at the lower course's bath, most at the upper one's.
        held_up_kg = self._boxes.most.holdup_kg * phase.outputs.wash_pump
        off_kg = STEPS_EVAPORATED * np.maximum(self._full_kg - bounds.water_kg, 0.0)
        pool_kg = bounds.water_kg[:, 1] - off_kg[:, 1] - film_kg[1] - held_up_kg
        pool_l = (pool_kg / density_kg_per_l(np.maximum(liquid_c[:, 0], 4.0))).min(axis=0)
        most_kg = bounds.water_kg[:, 0] + off_kg[:, 0]
        most_l = (most_kg / density_kg_per_l(np.maximum(liquid_c[:, 1], 4.0))).max(axis=0)
        self._fullest_l = np.maximum(self._fullest_l, most_l)
        if phase.steam and element is not None:
            pool_l = pool_l - element.splash_l
            # The pool before it boils; the sample that was added last is the end of the boiling.
            start_kg = bounds.water_kg[:-1, 1].min(axis=0) - film_kg[1]
            start_l = start_kg / density_kg_per_l(np.maximum(liquid_c[0, 0], 4.0)) - element.splash_l
            above_l = start_l - element.cover_l
            self._uncovered_s = (
                bounds.least_s
                + above_l * steam_j_per_l(float(self._boxes.most.boils_c[0])) / self._boxes.most.element_w
            )
        if phase.outputs.element:
            self._element_l = np.minimum(self._element_l, pool_l)
        if phase.outputs.wash_pump:
            self._suction_l = np.minimum(self._suction_l, pool_l)

    def _drains(self, bounds: Bounds) -> None:
        eqs, first = self._eqs, bounds.phase.round == 0
        carry_kg, share = eqs.carry_kg, eqs.start_share
        most_kg, least_kg = bounds.water_kg[0, 0], bounds.water_kg[0, 1]
        # What a drain has to take: the carry-over is in the water already, with the same end, if the drain
        # before came down to it.
        if self._by_level:
            to_take_kg = most_kg - eqs.all_film_kg[0] - eqs.residual_kg[1]
            full_kg = least_kg - eqs.all_film_kg[1] + eqs.all_film_kg[0]
            if first:
                to_take_kg = most_kg - share[1] * (eqs.all_film_kg[1] + eqs.residual_kg[1])
                full_kg = least_kg - share[1] * eqs.all_film_kg[1] - share[0] * eqs.residual_kg[0]
        else:
            to_take_kg = most_kg - carry_kg[0] * (share[0] if first else 1.0)
            full_kg = least_kg - carry_kg[1] + carry_kg[0]
            if first:
                full_kg = least_kg - share[1] * carry_kg[1]
        if not first:
            to_take_kg = np.where(self._carried, to_take_kg, most_kg - carry_kg[1])
            full_kg = np.where(self._carried, full_kg, least_kg)
        if self._topped_in == bounds.phase.round:
            # A top-up is not counted to thin what stays.
            thick_kg = np.minimum(least_kg, self._before_kg)
            full_kg, least_kg = full_kg - least_kg + thick_kg, thick_kg
        self._carried = drained(bounds, carry_kg)
        self._drained_c = np.maximum(self._drained_c, self._drawn_c(bounds))
        lightest_kg_per_l = density_kg_per_l(np.minimum(bounds.bath_c[0, 1] + STEPS_K, BOILING_C))
        least_kg_per_s = eqs.drain_l_per_s[1] * lightest_kg_per_l
        pumps_s = np.maximum(bounds.phase.longest_s - eqs.drain_lag_s[0], 0.0)
        left_kg = np.maximum(to_take_kg - least_kg_per_s * pumps_s, 0.0)
        self._undrained_l = np.maximum(self._undrained_l, left_kg / self._boxes.least.cold_kg_per_l)
        kept = np.divide(carry_kg[0] + left_kg, full_kg, out=np.ones_like(full_kg), where=full_kg > 0.0)
        self._kept.append(kept)
        # What came is what the last drain left, in the bath with the same end: much of it is in a full bath.
        came_kg = np.zeros_like(left_kg) if first else carry_kg[0] + self._left_kg
        self._came.append(np.divide(came_kg, full_kg, out=np.ones_like(full_kg), where=full_kg > 0.0))
        self._least_kg.append(full_kg if first else least_kg)
        self._left_kg = left_kg

    def _drawn_c(self, bounds: Bounds) -> Array:
        """Hottest water that a drain takes: above the mean where a top-up is not stirred in."""
        hottest_c = _hottest_c(bounds, counted=False)
        row = self._constants.rounds[bounds.phase.round]
        if self._topped_in != bounds.phase.round or row.stirred:
            return hottest_c
        share = self._boxes.most.unmixed_share
        return np.asarray(hottest_c + share * np.maximum(self._before_c - hottest_c, 0.0))

    def _doses(self, bounds: Bounds) -> None:
        phase = bounds.phase
        row = self._constants.rounds[phase.round]
        counts = [dose for dose in self._goal.dose if row.kind in dose.kinds]
        hygiene = self._goal.hygiene.method if row.kind == "rinse" else "none"
        if not counts and hygiene == "none":
            return
        time_s, ware_c = _coldest_ware(bounds)
        left_s = dissolving_s(row, self._goal) - self._sprayed_s
        mechanics = self._boxes.least.mechanics_factor
        for dose in counts:
            share = mechanics if phase.outputs.wash_pump else np.array([dose.soak_share])
            if np.any(share > 0.0):
                dose_s = soil_dose_s(dose, left_s, time_s, ware_c, spraying=phase.outputs.wash_pump)
                self._doses_s[dose.name] += share * dose_s.min(axis=0)
        if hygiene != "none":
            self._hygiene_s += HYGIENE[hygiene].integral_s(time_s, ware_c).min(axis=0)


def _hottest_c(bounds: Bounds, *, counted: bool) -> Array:
    """Hottest bath of a phase [°C], with what the steps may have put it off.

    A bath that only cools may be ``counted`` before, and one that a sensor or the boil stops is known.
    """
    bath_c = bounds.bath_c[:, 1]
    hottest_c = bath_c.max(axis=0)
    cools = counted & (hottest_c <= bath_c[0] + 1e-9)
    widened_c = np.where(cools, hottest_c, hottest_c + STEPS_K)
    if bounds.cap_c is None:
        return np.asarray(widened_c)
    return np.asarray(np.minimum(widened_c, np.maximum(bounds.cap_c, bath_c[0])))


def _coldest_ware(bounds: Bounds) -> tuple[Array, Array]:
    """Lower courses of the ware, read between samples by cubics: times, courses × boxes × times [s, °C]."""
    between = BETWEEN if bounds.coldest_c.shape[1] == 1 else BETWEEN_HELD
    u = np.arange(between) / between
    step_s = np.diff(bounds.time_s)[:, None, None, None]
    start_c, end_c = bounds.coldest_c[:-1, ..., None], bounds.coldest_c[1:, ..., None]
    start, end = bounds.coldest_slope[:-1, ..., None], bounds.coldest_slope[1:, ..., None]
    within = (
        (2 * u**3 - 3 * u**2 + 1) * start_c
        + (u**3 - 2 * u**2 + u) * step_s * start
        + (3 * u**2 - 2 * u**3) * end_c
        + (u**3 - u**2) * step_s * end
    )
    ware_c = np.moveaxis(within, 0, 2).reshape(*bounds.coldest_c.shape[1:], -1)
    ware_c = np.concatenate([ware_c, bounds.coldest_c[-1, ..., None]], axis=2)
    time_s = np.append(
        (bounds.time_s[:-1, None] + np.diff(bounds.time_s)[:, None] * u).ravel(), bounds.time_s[-1]
    )
    return time_s[None, None], ware_c


def _warm_room(boxes: Boxes) -> Boxes:
    """Put boxes where the ware's heat above the room is least.

    Counted from the room's temperature, every temperature falls where inlet and setpoint do: a warm room is
    the bad one, though it warms the ware. So the room is put at its warm end, and inlet and setpoint get the
    room's width on top. Only the specific heat of water knows of temperatures as such; it is given a width.
    """
    least, most = boxes.least, boxes.most
    wide_k = most.room_c - least.room_c
    masses = ("flow_kg_per_s", "level_kg", "residual_kg", "film_kg")
    return Boxes(
        least=replace(
            least,
            room_c=most.room_c,
            sensor_error_k=least.sensor_error_k - wide_k,
            **{name: getattr(least, name) * (1.0 - WATER_VARIES) for name in masses},
        ),
        most=replace(most, **{name: getattr(most, name) * (1.0 + WATER_VARIES) for name in masses}),
        inlet_low_c=boxes.inlet_low_c,
        inlet_high_c=boxes.inlet_high_c + wide_k,
    )


def _ware_heat(goal: Goal, boxes: Boxes, ware_c: Array) -> Array:
    """Least heat of the ware above the room over what its film needs, by its coldest end in a warm room."""
    least, most = boxes.least, boxes.most
    above_k = ware_c - most.room_c
    worst_j_per_k = np.where(above_k >= 0.0, least.ware_j_per_k, most.ware_j_per_k)
    film_kg = np.where(above_k >= 0.0, most.film_kg, least.film_kg)
    film_j = film_kg * latent_heat_kj_per_kg(DRYING_C) * J_PER_KJ * goal.drying.heat_factor
    return worst_j_per_k * above_k / film_j
