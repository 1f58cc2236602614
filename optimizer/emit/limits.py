"""The limits of a programme: how far each constant may be changed by hand before the proof stops covering it.

The element's times and the drains are held to what was proven, the fills to what covers the element and what
the tank holds in the worst corner, the rest to machine, goal and circuit. The limits keep a machine safe.
They say nothing about how clean the ware gets: only the check does.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from optimizer.check.controller_numbers import ControllerNumbers, controller_numbers
from optimizer.check.fills import (
    drain_dry_most_s,
    drain_least_s,
    least_fill_s,
    level_fill_least_s,
    level_fill_most_s,
    most_dry_top_up_s,
    most_fill_s,
    most_top_up_s,
    start_drain_least_s,
    tops_up_dry_ware,
    vapour_spare_s,
)
from optimizer.check.sensor_meter import cooled_rounds, hottest_reading_c
from optimizer.check.table_rows import bath_max_most_dc, hysteresis_most_dk, lid_span_s, stand_least_s
from optimizer.emit.assertions import WIDE, Limit, Relation, Term, at_least, at_most, exactly, in_c, number
from optimizer.emit.detergent_limits import detergent_limits
from optimizer.emit.meanings import numbers, of_round
from optimizer.emit.setpoint_ends import gap_least_s, setpoint_ends
from optimizer.emit.setpoint_limits import setpoint_limits, step_limits
from optimizer.emit.shared_limits import (
    HOT_TANK,
    LONG_ON,
    ConstantLimits,
    fact_relations,
    facts,
    heats_while_spraying,
    length,
    shape,
    watchdogs,
)
from optimizer.emit.soak_limits import after_soak_limits, soak_limits
from optimizer.programme.constants import MIX_LEAST_S, UINT16_MAX, Round
from optimizer.programme.plan import Plan
from optimizer.units import S_PER_MIN

CHATTERS_DK = 5
"""A smaller gap between off and on again lets noise of a reading switch the element [0.1 K]; *no source*."""

OVER = "the tank may run over"
DRY = "the drain pump would run dry for too long"
LEAVES_WATER = "too short to empty the tank"
TOO_LONG = "longer than the goal allows"
WARM_OR_DRY = "the pump may warm the bath too far, or its vapour bare it"
BARE = "element or pump suction not covered"
STOPS = "the controller would stop a sound programme"
HOT_DRAIN = "the drain pipe does not stand what would be drained"
UNSTIRRED = "the top-up is not stirred in"
NO_TOP_UP = "no top-up was proven here, plan again"


def limits(plan: Plan, shared: ControllerNumbers | None = None) -> ConstantLimits:
    """Collect what must hold between the constants of a proven plan.

    `shared` are the numbers of a controller that runs other programmes too.
    """
    constants, inputs = plan.constants, plan.inputs
    known = shared or controller_numbers(inputs.machine, [constants])
    values = numbers(constants) | facts(inputs.machine, inputs.circuit, known)
    waits_s, fills = _level_waits_s(plan), []
    if waits_s:
        fills = [Term(of_round(place, "fill_s")) for place in range(1, len(constants.rounds) + 1)]
    sound_s = constants.total_max_s + waits_s - sum(term.value(values) for term in fills)
    most_s = max(_allowed_s(plan), sound_s)
    spare_s = most_s - sound_s
    relations: list[Limit] = [*shape(constants, values), *_programme(plan, spare_s, known)]
    fill_most_s = 0
    for place, row in enumerate(constants.rounds, start=1):
        one = _Round(plan, place, row, spare_s)
        relations += one.relations()
        fill_most_s = max(fill_most_s, one.fill_span_s()[1], one.top_up_most_s())
    relations += step_limits(plan)
    relations += fact_relations(values, known, together=heats_while_spraying(constants))
    first, last = in_c("start_drain_s"), in_c("stand_s")
    whole = f"all phases from {first} to {last}: {TOO_LONG}"
    relations.append(Relation(length(constants), "<=", (*number(most_s - waits_s), *fills), whole))
    relations += watchdogs(
        constants,
        fill_most_s=fill_most_s,
        drain_least_s=min(constants.drain_min_s, start_drain_least_s(inputs.machine)),
        total_most_s=most_s - waits_s + (fill_most_s * len(fills) if fills else 0),
    )
    relations += setpoint_ends(plan, known, ConstantLimits(values, tuple(relations)))
    return ConstantLimits(values, tuple(relations))


def _allowed_s(plan: Plan) -> int:
    """What the goal allows for the programme and the standing that it asks for [s]."""
    goal = plan.inputs.goal
    return math.floor(goal.limits.duration_min * S_PER_MIN + 1e-6) + stand_least_s(goal)


def _level_waits_s(plan: Plan) -> int:
    """Time that the slowest inlet takes to the level switch in all rounds together [s]; 0 without one."""
    return len(plan.constants.rounds) * math.ceil(level_fill_least_s(plan.inputs.machine))


def _programme(plan: Plan, spare_s: int, known: ControllerNumbers) -> Iterator[Relation]:
    constants, machine = plan.constants, plan.inputs.machine
    emptied_s = min(start_drain_least_s(machine), constants.start_drain_s)
    yield from at_least("start_drain_s", emptied_s, "a tank that a power cut left full is not emptied")
    dry_s = max(drain_dry_most_s(machine) - constants.start_drain_s, 0)
    why = TOO_LONG if spare_s < dry_s else DRY
    yield _longest("start_drain_s", constants.start_drain_s, min(spare_s, dry_s), why)
    yield at_most("restart_after_cut", 1, "0 or 1")
    gap_s = gap_least_s(plan, known)
    yield from at_least("gap_s", gap_s, "two motors would start together" if gap_s <= 1 else HOT_TANK)
    pauses = sum(row.pauses for row in constants.rounds)
    yield _longest("gap_s", constants.gap_s, spare_s // pauses)
    yield from after_soak_limits(plan)
    stands_s = min(stand_least_s(plan.inputs.goal), constants.stand_s)
    yield from at_least("stand_s", stands_s, "shorter than the goal asks")
    yield _longest("stand_s", constants.stand_s, spare_s)
    least_s, most_s = lid_span_s(constants, plan.inputs.goal)
    shut_s = constants.lid_open_after_s
    yield from at_least("lid_open_after_s", min(least_s, shut_s), "steam comes out as the lid opens")
    yield at_most("lid_open_after_s", max(most_s, shut_s), "the load dries with the lid ajar")
    if constants.control == "thermostat":
        least_dk = min(CHATTERS_DK, constants.hysteresis_dk)
        yield from at_least("hysteresis_dk", least_dk, "the element would chatter, and its relay weld")
        most_dk = max(hysteresis_most_dk(machine), constants.hysteresis_dk)
        yield at_most("hysteresis_dk", most_dk, "the bath would cool further than was measured")
    else:
        yield exactly("hysteresis_dk", constants.hysteresis_dk, "a timed element has none")
        yield exactly("bath_max_dc", constants.bath_max_dc, "nothing reads the bath")
        return
    most_dc = max(bath_max_most_dc(constants, machine), constants.bath_max_dc)
    sound_dc = math.ceil(hottest_reading_c(constants, machine) * 10.0) + 1
    if plan.certified.reading_c is not None:
        # What the check guarantees may be higher than what a few runs read, and is what it asks for.
        sound_dc = max(sound_dc, math.ceil(plan.certified.reading_c * 10.0))
    yield from at_least("bath_max_dc", min(sound_dc, constants.bath_max_dc), STOPS)
    yield at_most("bath_max_dc", most_dc, "the tank does not stand it")


@dataclass(frozen=True)
class _Round:
    """One round of a plan and what holds in it."""

    plan: Plan
    place: int
    row: Round
    spare_s: int

    def relations(self) -> Iterator[Relation]:
        yield from self._fill()
        yield from self._element()
        yield from setpoint_limits(self.plan, self.place, self.row)
        yield from self._phases()
        yield from self._cooling()
        yield from detergent_limits(self.plan, self.place, self.row)

    def fill_span_s(self) -> tuple[int, int]:
        """Shortest and longest fill, whatever the other phases [s]."""
        machine, row, inlet = self.plan.inputs.machine, self.row, self.plan.inputs.machine.inlet
        if inlet.level_l is not None:
            least_s, most_s = level_fill_least_s(machine), level_fill_most_s(machine)
            return min(math.ceil(least_s), row.fill_s), max(math.floor(most_s), row.fill_s)
        least_s = least_fill_s(machine, row, first=self.place == 1)
        if row.kind == "steam":
            least_s = row.fill_s
        return min(least_s, row.fill_s), max(most_fill_s(machine), row.fill_s)

    def _term(self, name: str, times: int = 1, *, phase: bool = False) -> Term:
        return Term(of_round(self.place, name), times, phase)

    def _name(self, name: str) -> str:
        return of_round(self.place, name)

    def _both(self, one: str, other: str, why: str) -> str:
        return f"{in_c(self._name(one))}, {in_c(self._name(other))}: {why}"

    def _fill(self) -> Iterator[Relation]:
        row, name, (least_s, most_s) = self.row, self._name("fill_s"), self.fill_span_s()
        by_level = self.plan.constants.fill_control == "level"
        if by_level:
            yield from at_least(name, least_s, "the level switch may not have closed by then")
            yield at_most(name, most_s, "inlet open for too long if the switch sticks")
            return
        yield from at_least(name, least_s, f"{BARE} under {least_s} s")
        yield at_most(name, most_s, f"{OVER} after {most_s} s")
        short = "so much water asks for a longer drain"
        let_in_s, needed_s = row.fill_s + row.top_up_s, self._drain_least_s()
        let_in = (self._term("fill_s", needed_s), self._term("top_up_s", needed_s))
        yield Relation(let_in if row.top_up_s else let_in[:1], "<=", (self._term("drain_s", let_in_s),),
                       self._both("fill_s", "drain_s", short))  # fmt: skip
        if row.heated and row.setpoint_dc == 0:
            hot = "so little water gets hotter than was proven"
            on = (self._term("heat_s", row.fill_s), self._term("spray_element_s", row.fill_s))
            filled = (self._term("fill_s", row.element_max_s),)
            yield Relation(on, "<=", filled, self._both("fill_s", "heat_s", hot))

    def _element(self) -> Iterator[Relation]:
        row = self.row
        if row.kind == "steam":
            yield from at_least(self._name("heat_s"), 1, "a steam round has to heat")
        for name in ("heat_s", "spray_element_s"):
            yield at_most(self._name(name), getattr(row, name), LONG_ON)
        if not row.heated:
            return
        within = (self._term("spray_element_s"),)
        late = self._both("spray_element_s", "spray_s", "element on after the spray")
        yield Relation(within, "<=", (self._term("spray_s"),), late)
        gaps = 2 if row.spray_s and not row.spray_element_s else 1
        others = [name for name in ("soak_s", "top_up_s", "mix_s") if getattr(row, name)]
        rests = [self._term(name, phase=True) for name in ("rest_s", *others)]
        off = (self._term("spray_s"), Term("gap_s", gaps), *rests)
        needed = (*within, Term("element_rest_s"))
        names = [self._name("rest_s"), self._name("spray_s"), "gap_s", "element_rest_s"]
        hot = f"{', '.join(map(in_c, names))}: the element would be hot when the water leaves"
        yield Relation(needed, "<=", off, hot)

    def _phases(self) -> Iterator[Relation]:
        row = self.row
        if row.kind == "steam":
            yield exactly(self._name("spray_s"), 0, "a steam round has no spray")
        else:
            yield from at_least(
                self._name("spray_s"), self._spray_least_s(), "a round has to spray for so long"
            )
            spare_s = self._spray_spare_s()
            why = TOO_LONG if spare_s == self.spare_s else WARM_OR_DRY
            yield _longest(self._name("spray_s"), row.spray_s, spare_s, why)
        yield from soak_limits(self.plan, self.place, row)
        if row.soak_s:
            yield _longest(self._name("soak_s"), row.soak_s, self._covered_spare_s())
        pause_s = 0 if row.rest_s else self.plan.constants.gap_s
        yield _longest(self._name("rest_s"), row.rest_s, max(self.spare_s - pause_s, 0))
        yield from at_least(self._name("drain_s"), self._drain_least_s(), LEAVES_WATER)
        dry_s = max(drain_dry_most_s(self.plan.inputs.machine, row) - row.drain_s, 0)
        why = TOO_LONG if self.spare_s < dry_s else DRY
        yield _longest(self._name("drain_s"), row.drain_s, min(self.spare_s, dry_s), why)

    def _spray_spare_s(self) -> int:
        """By how much a round may spray longer [s]: not at all where the pump warms the bath too far by then.

        Under the pump alone a bath comes to ``T_room + P / UA``; below what it must not pass, it never does.
        Nor before a round that is cooled for the drain: warmer ware would make that one hotter.
        """
        machine = self.plan.inputs.machine
        if any(cooled_rounds(self.plan.constants, machine)[self.place :]):
            return 0
        warms_w = machine.wash_pump.power_w.high * machine.wash_pump.heat_share
        settles_c = machine.room.air_c.high + warms_w / machine.tank.loss_spraying_w_per_k.low
        stands_c = machine.tank.limit_c
        if not machine.drain_pump.stands_the_boil:
            stands_c = min(stands_c, machine.drain_pump.drain_limit_c)
        if self.row.kind == "prerinse":
            stands_c = min(stands_c, self.plan.inputs.goal.prerinse.limit_c)
        return 0 if settles_c > stands_c else self._covered_spare_s()

    def _covered_spare_s(self) -> int:
        """By how much a round may last longer before its vapour uncovers element or pump suction [s]."""
        left_s = vapour_spare_s(self.plan.inputs.machine, self.row, first=self.place == 1)
        return int(min(self.spare_s, left_s))

    def _cooling(self) -> Iterator[Relation]:
        """Cool what is drained as long as was proven, where it was too hot for the drain pipe before."""
        row, machine = self.row, self.plan.inputs.machine
        if not row.top_up_s:
            yield exactly(self._name("top_up_s"), 0, NO_TOP_UP)
            yield exactly(self._name("mix_s"), 0, NO_TOP_UP)
        else:
            yield from at_least(self._name("top_up_s"), row.top_up_s, HOT_DRAIN)
            most_s = self.top_up_most_s()
            yield at_most(self._name("top_up_s"), most_s, f"{OVER} after {most_s} s")
            if row.stirred:
                yield from at_least(self._name("mix_s"), min(MIX_LEAST_S, row.mix_s), UNSTIRRED)
                yield _longest(self._name("mix_s"), row.mix_s, self.spare_s)
            else:
                yield exactly(self._name("mix_s"), row.mix_s, "no stirring was proven here, plan again")
            if machine.inlet.level_l is None:
                both = self._both("fill_s", "top_up_s", OVER)
                most_s = max(most_fill_s(machine), row.fill_s + row.top_up_s)
                filled = (self._term("fill_s"), self._term("top_up_s"))
                yield Relation(filled, "<=", number(most_s), both)
                more = self._both("fill_s", "top_up_s", "a larger bath needs a longer top-up")
                yield Relation((self._term("fill_s", row.top_up_s),), "<=",
                               (self._term("top_up_s", row.fill_s),), more)  # fmt: skip
        if cooled_rounds(self.plan.constants, machine)[self.place - 1]:
            for name in ("spray_s", "soak_s", "rest_s"):
                yield from at_least(self._name(name), getattr(row, name), HOT_DRAIN)

    def top_up_most_s(self) -> int:
        """Longest top-up that cannot run over [s]; 0 where the round has none."""
        row, machine = self.row, self.plan.inputs.machine
        fill_s = self.fill_span_s()[0]
        most_s = most_top_up_s(machine, fill_s)
        dries = tops_up_dry_ware(self.plan.constants, self.plan.inputs.goal) is not None
        if dries and self.place == len(self.plan.constants.rounds):
            most_s = min(most_s, most_dry_top_up_s(machine, fill_s))
        return max(most_s, row.top_up_s) if row.top_up_s else 0

    def _drain_least_s(self) -> int:
        """Shortest drain for what the round lets in [s]."""
        return min(drain_least_s(self.plan.inputs.machine, self.row), self.row.drain_s)

    def _spray_least_s(self) -> int:
        """Shortest spray that the goal lets a prerinse and a rinse have, and a second of any other [s]."""
        goal, row = self.plan.inputs.goal, self.row
        least_min = {"prerinse": goal.prerinse.spray_least_min, "rinse": goal.rinse.spray_least_min}
        return min(max(math.ceil(least_min.get(row.kind, 0.0) * S_PER_MIN - 1e-6), 1), row.spray_s)


def _longest(name: str, value_s: int, spare_s: int, why: str = TOO_LONG) -> Relation:
    """Bound a phase by what the programme may still take, or by its type."""
    most_s = value_s + spare_s
    return at_most(name, min(most_s, UINT16_MAX), why if most_s <= UINT16_MAX else WIDE)
