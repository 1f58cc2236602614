"""What the bounds of a course mean for each requirement: a value that no point of a box can break."""

from __future__ import annotations

import functools
from collections.abc import Collection
from dataclasses import replace

import numpy as np

from optimizer.check.bound_asked import LEVELS, RINSING, STEPS, Asked, Part, known_after, phases_until
from optimizer.check.bound_box import Boxes, together
from optimizer.check.bound_by_reading import by_reading, hang_on_reading
from optimizer.check.bound_course import BoundCourse, End
from optimizer.check.bound_doses import DOSE, HYGIENE_KEY, BoundDoses
from optimizer.check.bound_drains import BoundDrains
from optimizer.check.bound_drying import ware_heat, warm_room
from optimizer.check.bound_sides import WIDER, flipped, heaviest_kg_per_l, lightest_kg_per_l
from optimizer.check.bound_step_errors import SPRAY_END_K, STEPS_EVAPORATED, STEPS_K, hottest_bath_c
from optimizer.check.bound_steps import Bounds
from optimizer.check.bound_ware_over import WareOver
from optimizer.check.certificate import WARE_END
from optimizer.check.worst_cases import Array
from optimizer.physics.water import BOILING_C, steam_j_per_l
from optimizer.profile.goal import Goal
from optimizer.profile.machine import Machine
from optimizer.programme.constants import Constants, first_rinse, first_wash
from optimizer.units import S_PER_MIN

EVERY_SET = ("as they are", "warm room", "by reading")
"""Ways in which the same boxes are run."""

DRYING = "drying.ware_heat"
"""Key of the ware's heat [1]."""

Values = dict[str, Array]
"""By the key of a requirement, one value a box in the unit of its row."""


def values_of(constants: Constants, machine: Machine, goal: Goal, boxes: Boxes, finer: float = 1.0) -> Values:
    """Bound every requirement that hangs on the course: least where at least is asked, else most.

    In steps that are so much ``finer`` than usual.
    """
    return values_and_end(constants, machine, goal, boxes, finer)[0]


def values_and_end(
    constants: Constants, machine: Machine, goal: Goal, boxes: Boxes, finer: float = 1.0
) -> tuple[Values, End]:
    """Bound every requirement, and where the run ends, for a second run to begin there."""
    sets = _Sets(constants, goal, boxes)
    course, reader = _read(constants, machine, goal, sets.together(), None, finer=finer)
    return sets.values(reader), course.end.first(boxes.count)


def values_asked(
    constants: Constants, machine: Machine, goal: Goal, boxes: Boxes, asked: Asked, end: End | None = None
) -> Values:
    """Bound what is asked by a run that goes no further than it takes.

    Where there is the ``end`` of a run, second ones that begin there are bounded with the first ones.
    """
    until = {key: known_after(constants, goal, key) for key in (*asked.now, *asked.also)}
    last = max(until[key] for key in asked.now)
    keys = {key for key, number in until.items() if number <= last}
    read = hang_on_reading(constants, goal, boxes)
    if asked.by_reading and read.issuperset(asked.now):
        keys &= read
        sets = _Sets(constants, goal, boxes, ("by reading",))
    else:
        sets = _Sets(
            constants, goal, boxes, ("as they are", "warm room") if DRYING in keys else ("as they are",)
        )
    part = Part(frozenset(keys), phases_until(constants, goal, keys), asked.finely)
    boxes, start = sets.together(), None
    if end is not None:
        # The ware of a second run begins wet.
        wet = replace(boxes.most, start_share=np.ones(boxes.count))
        boxes, start = replace(boxes, most=wet), replace(end.spread(boxes.count), either=True)
    _, reader = _read(constants, machine, goal, boxes, start, part)
    found = sets.values(reader)
    return {key: found[key] for key in keys if key in found}


def values_again(constants: Constants, machine: Machine, goal: Goal, boxes: Boxes, start: End) -> Values:
    """Bound a second run, begun where a first one ended, with a cold load."""
    return _read(constants, machine, goal, _wet(boxes), start)[1].values()


class _Sets:
    """Boxes as they are, in a warm room and by their sensors' reading: some of these sets, or all."""

    def __init__(
        self, constants: Constants, goal: Goal, boxes: Boxes, names: Collection[str] = EVERY_SET
    ) -> None:
        self._boxes, self._by_reading = boxes, hang_on_reading(constants, goal, boxes)
        self._sets: dict[str, Boxes] = {}
        if "as they are" in names:
            self._sets["as they are"] = boxes
        if "warm room" in names and goal.drying.method != "none":
            self._sets["warm room"] = warm_room(boxes)
        if "by reading" in names and self._by_reading:
            self._sets["by reading"] = by_reading(boxes)

    def together(self) -> Boxes:
        """All sets, one after the other."""
        return functools.reduce(together, self._sets.values())

    def values(self, reader: _Reader) -> Values:
        """What a reader of the sets has found; of two bounds the better one."""
        count, every = self._boxes.count, reader.values()
        at = {name: slice(place * count, (place + 1) * count) for place, name in enumerate(self._sets)}
        found = {key: value[at["as they are"]] for key, value in every.items()} if "as they are" in at else {}
        if "warm room" in at:
            found[DRYING] = ware_heat(self._boxes, reader.drained_c[at["warm room"]])
        if "by reading" in at:
            for key in self._by_reading & every.keys():
                found[key] = np.maximum(found.get(key, -np.inf), every[key][at["by reading"]])
        return found


def _wet(boxes: Boxes) -> Boxes:
    """The same, with all that a drain leaves there at the start."""
    wet = np.ones(boxes.count)
    return replace(
        boxes,
        least=replace(boxes.least, start_share=wet),
        most=replace(boxes.most, start_share=wet),
    )


def _read(
    constants: Constants,
    machine: Machine,
    goal: Goal,
    boxes: Boxes,
    start: End | None,
    part: Part | None = None,
    finer: float = 1.0,
) -> tuple[BoundCourse, _Reader]:
    """Run boxes, the last of them from a start if there is one; a ``part`` of a run, or all of it."""
    finely = part is not None and part.finely
    course = BoundCourse(constants, machine, boxes, start, finely=finely, finer=finer)
    reader = _Reader(constants, machine, goal, boxes, course, part)
    for bounds in course.run(part.phases if part else None):
        reader.add(bounds)
    return course, reader


class _Reader:
    """Follows the bounds of one course."""

    def __init__(
        self,
        constants: Constants,
        machine: Machine,
        goal: Goal,
        boxes: Boxes,
        course: BoundCourse,
        part: Part | None = None,
    ) -> None:
        self._constants, self._machine, self._goal, self._boxes = constants, machine, goal, boxes
        self._eqs = course.bounding
        self._by_level = constants.fill_control == "level"
        count = boxes.count
        self._doses = BoundDoses(constants, goal, boxes, part.keys if part else None)
        self._more, self._part = part is None or part.more, part
        self._drains = BoundDrains(constants, boxes, self._eqs)
        self._hottest_c = np.full(count, -np.inf)
        self._prerinse_c, self._reading_c = np.full(count, -np.inf), np.full(count, -np.inf)
        # Bath as the last spray with detergent stood; judged as the pump stops.
        self._with_detergent_c, self._sprayed_c = np.full(count, np.inf), np.full(count, np.inf)
        self._first_wash, self._first_wash_c = first_wash(constants), np.full(count, -np.inf)
        self._bath_c = boxes.most.room_c
        self._drained_c, self._coldest_c = np.full(count, np.inf), boxes.least.room_c
        self._first_rinse, self._first_c = first_rinse(constants), np.full(count, np.inf)
        self._element_l, self._suction_l = np.full(count, np.inf), np.full(count, np.inf)
        self._fullest_l = np.full(count, -np.inf)
        self._filled_l, self._elapsed_s = np.zeros(count), np.zeros(count)
        self._drop_k, self._rise_k = np.full(count, -np.inf), np.full(count, -np.inf)
        self._sprays, self._step_k = False, np.zeros((2, count))
        self._over = WareOver(self._eqs, course.begins_over_k)
        # Water at the end of the last fill, of which some evaporates.
        self._full_kg = np.zeros((2, count))
        self._uncovered_s = np.full(count, np.inf)
        # Coldest ware at the end of the last drain.
        self.drained_c = boxes.least.room_c

    def add(self, bounds: Bounds) -> None:
        """Count one phase."""
        phase = bounds.phase
        self._doses.add(bounds)
        if phase.name == "spray" and phase.round == self._first_rinse:
            self._first_c = bounds.bath_c[-1, 0] - SPRAY_END_K
        if self._more:
            self._add_more(bounds)

    def _reads(self, beginnings: tuple[str, ...]) -> bool:
        """Whether it is asked for a requirement whose key begins in one of these ways."""
        return self._part is None or self._part.has(beginnings)

    def _add_more(self, bounds: Bounds) -> None:
        """Count all but doses and the bath of the first rinse."""
        phase = bounds.phase
        self._elapsed_s += bounds.most_s
        layered = phase.outputs.element and not phase.outputs.wash_pump
        hottest_c = hottest_bath_c(bounds, counted=not layered)
        top_c = hottest_c
        if layered:
            top_c = np.minimum(
                hottest_c + self._boxes.most.top_over_mean_k, np.maximum(hottest_c, self._boxes.most.boils_c)
            )
        self._hottest_c = np.maximum(self._hottest_c, top_c)
        self._reading_c = np.maximum(self._reading_c, self._read_c(bounds, hottest_c))
        kind = self._constants.rounds[phase.round].kind if phase.round >= 0 else ""
        if phase.outputs.wash_pump and kind == "prerinse":
            self._prerinse_c = np.maximum(self._prerinse_c, hottest_bath_c(bounds, counted=False))
        if not phase.outputs.wash_pump:
            self._with_detergent_c = np.minimum(self._with_detergent_c, self._sprayed_c)
            self._sprayed_c = np.full_like(self._sprayed_c, np.inf)
        elif self._constants.rounds[phase.round].detergent_dg:
            self._sprayed_c = bounds.bath_c[-1, 0] - SPRAY_END_K
        if phase.outputs.wash_pump and not self._sprays:
            self._drop_k = np.maximum(self._drop_k, self._step_k[0])
            self._rise_k = np.maximum(self._rise_k, self._step_k[1])
            if phase.round == self._first_wash:
                self._first_wash_c, self._first_wash = self._bath_c + STEPS_K, None
        self._sprays = phase.outputs.wash_pump
        ware_c, bath_c = bounds.ware_c[-1], bounds.bath_c[-1]
        if phase.name == "drain" and kind and self._constants.rounds[phase.round].detergent_dg:
            self._drained_c = np.minimum(self._drained_c, self._coldest_c - SPRAY_END_K)
        self._bath_c, self._coldest_c = bath_c[1], bath_c[0]
        if self._reads(STEPS):
            # The hottest ware over the coldest bath, and the other way round.
            self._over.add(bounds, carried=self._drains.carried)
            drop_k = np.minimum(ware_c[1] - bath_c[0], self._over.most_k)
            self._step_k = np.stack([drop_k, bath_c[1] - ware_c[0]]) + 2.0 * STEPS_K
        if phase.name == "fill":
            self._fills(bounds)
            self._full_kg = bounds.water_kg[-1]
        if phase.name == "top_up":
            self._fills(bounds)
            self._full_kg = self._full_kg + bounds.water_kg[-1] - bounds.water_kg[0]
        if phase.wet and self._reads(LEVELS):
            self._levels(bounds)
        if phase.name == "drain":
            self.drained_c = bounds.ware_c[-1, 0]
        self._drains.add(bounds)

    def values(self) -> Values:
        """Give the bound of each requirement."""
        goal = self._goal
        found = {DOSE + name: dose_s / S_PER_MIN for name, dose_s in self._doses.doses_s.items()}
        if goal.hygiene.method != "none":
            found[HYGIENE_KEY + goal.hygiene.method] = self._doses.hygiene_s
        if self._more:
            if self._reads(RINSING):
                told = self._drains.rinsing().told(goal)
                found |= {key: values for key, (_, _, _, values) in told.items()}
            found[WARE_END] = self.drained_c
            found["drain.bath_c"] = self._drains.hottest_c
            found["tank.bath_c"], found["watchdog.reading_c"] = self._hottest_c, self._reading_c
            found["ware.drop_k"], found["ware.rise_k"] = self._drop_k, self._rise_k
        baths_c = {
            "prerinse.bath_c": self._prerinse_c,
            "first_wash.bath_c": self._first_wash_c,
            "detergent.bath_c": self._with_detergent_c,
            "detergent.drain_c": self._drained_c,
            "first_rinse.bath_c": self._first_c,
        }
        found |= {key: bath_c for key, bath_c in baths_c.items() if np.isfinite(bath_c).all()}
        return found | self._levels_and_times() if self._more else found

    def _levels_and_times(self) -> Values:
        """How much water there is at the most and at the least, and how long it all takes."""
        found: Values = {}
        if np.isfinite(self._element_l).any():
            found["cover.element_l"] = self._element_l
        found["cover.suction_l"] = self._suction_l
        found["overflow.level_l"] = self._fullest_l
        found["drain.left_l"] = self._drains.undrained_l
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
            lighter = 1.0 - lightest_kg_per_l(self._boxes.least.room_c, most.room_c) / most.cold_kg_per_l
            self._filled_l += most.pipe_l * np.maximum(lighter, 0.0)
        else:
            most = self._boxes.most
            self._filled_l += bounds.most_s * most.flow_kg_per_s / most.cold_kg_per_l

    def _film_kg(self, round_number: int) -> Array:
        """Film of each course's water that covers nothing: most of the most, least of the least."""
        film_kg = self._eqs.all_film_kg
        if round_number == 0:
            return film_kg * self._eqs.start_share
        return np.where(self._drains.carried, film_kg, flipped(film_kg))

    def _levels(self, bounds: Bounds) -> None:
        phase, element = bounds.phase, self._machine.element
        film_kg = self._film_kg(max(phase.round, 0))
        liquid_c = np.minimum(bounds.bath_c - WIDER * STEPS_K, BOILING_C)
        # Cold water is dense: least litres at the lower course's bath, most at the upper one's.
        held_up_kg = self._boxes.most.holdup_kg * phase.outputs.wash_pump
        off_kg = STEPS_EVAPORATED * np.maximum(self._full_kg - bounds.water_kg, 0.0)
        pool_kg = bounds.water_kg[:, 1] - off_kg[:, 1] - film_kg[1] - held_up_kg
        # A heating that its setpoint may have ended: the lower course goes on there, the bath does not.
        baths_c = np.minimum(liquid_c[:, 0], liquid_c[:, 1]), liquid_c[:, 1]
        pool_l = (pool_kg / heaviest_kg_per_l(*baths_c)).min(axis=0)
        most_kg = bounds.water_kg[:, 0] + off_kg[:, 0]
        kg_per_l = lightest_kg_per_l(*baths_c)
        most_l = (most_kg / kg_per_l).max(axis=0)
        if len(most_kg) > 1:
            # Between two samples it may have swollen, and not evaporated yet.
            most_l = np.maximum(most_l, (most_kg[:-1] / kg_per_l[1:]).max(axis=0))
        self._fullest_l = np.maximum(self._fullest_l, most_l)
        if phase.steam and element is not None:
            pool_l = pool_l - element.splash_l
            # The pool before it boils; the sample that was added last is the end of the boiling.
            start_kg = bounds.water_kg[:-1, 1].min(axis=0) - film_kg[1]
            start_l = start_kg / heaviest_kg_per_l(*liquid_c[0]) - element.splash_l
            above_l = start_l - element.cover_l
            self._uncovered_s = (
                bounds.least_s
                + above_l * steam_j_per_l(float(self._boxes.most.boils_c[0])) / self._boxes.most.element_w
            )
        if phase.outputs.element:
            self._element_l = np.minimum(self._element_l, pool_l)
        if phase.outputs.wash_pump:
            self._suction_l = np.minimum(self._suction_l, pool_l)
