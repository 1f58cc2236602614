"""The patches that a bound begins with: together they hold every round that a programme may have."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from optimizer.physics import Array
from optimizer.physics.water import latent_heat_kj_per_kg
from optimizer.planner.margins import Assessor
from optimizer.planner.patch_rounds import Figures, PatchRounds
from optimizer.planner.patches import NAMES, Patch, pieces
from optimizer.planner.priced_patches import Ladder
from optimizer.planner.rest_of_rinses import RinseGrid
from optimizer.planner.soaking import SOAK_LEAST_S
from optimizer.planner.structure import Mode, Programme
from optimizer.profile.goal import DRYING_C
from optimizer.programme.constants import KINDS, SPRAY_BY_SOAK_S
from optimizer.units import J_PER_KJ, S_PER_MIN

HOURS_S = 36_000.0
"""Heating that a set point ends long before [s]."""

WIDE_STEP_K, WARM_RINSE_STEP_K = 12.0, 6.0
"""Steps of the ladder where a round was heated, and where the first rinse has to end warm [K]."""


@dataclass(frozen=True)
class Asked:
    """What the programme has to reach, and what it starts with.

    Attributes
    ----------
    target_s : ndarray
        Doses [s].
    start_c : tuple of float
        Temperature of machine and ware before the first round, cold and nominal corner [°C].
    most_min : float
        Longest duration of the rounds [min].
    residue, soil : float
        Decades that the rinses have to bring, and those with the last wash's drain; 0 where not asked [1].
    end_c, first_c : float
        Least bath as the spray of a wash ends, and of the first rinse; -inf where not asked [°C].
    dry_c : float
        Least ware after the last drain; -inf where not asked [°C].
    dries : str
        Kind of the round that dries: `rinse`, `steam`, or nothing.
    """

    target_s: Array
    start_c: tuple[float, float]
    most_min: float
    residue: float
    soil: float
    end_c: float
    first_c: float
    dry_c: float
    dries: str

    def least_end_c(self, kind: int, *, first: bool) -> float:
        """Least bath as the spray of a round ends, -inf where none is asked [°C]; ``first`` rinse or not."""
        least = {"wash": self.end_c, "rinse": self.first_c if first else -math.inf}
        return least.get(KINDS[kind], -math.inf)


def asked_of(rounds: PatchRounds) -> Asked:
    """What a goal asks for in the corners of the bound, nothing kept back."""
    assessor, goal, corners = rounds.assessor, rounds.assessor.inputs.goal, rounds.corners
    dries = {"hot_rinse": "rinse", "steam": "steam"}.get(goal.drying.method, "")
    film_j = corners.film_l[0] * 0.985 * latent_heat_kj_per_kg(DRYING_C) * J_PER_KJ
    over_k = goal.drying.heat_factor * film_j / corners.ware_j_per_k[0] if dries else 0.0
    return Asked(
        target_s=assessor.simulator.targets.target_s,
        start_c=rounds.start_c,
        most_min=goal.limits.duration_min - assessor.simulator.start_drain_s / S_PER_MIN,
        residue=-math.log10(goal.rinse.residue_max),
        soil=-math.log10(goal.rinse.soil_max) if goal.rinse.soil_max is not None else 0.0,
        end_c=goal.spray_least_c if goal.spray_least_c > 0.0 else -np.inf,
        first_c=goal.rinse.first_least_c if goal.rinse.first_least_c > 0.0 else -np.inf,
        dry_c=float(corners.room_c[0] + over_k) if dries else -np.inf,
        dries=dries,
    )


def ladder_of(rounds: PatchRounds) -> Ladder:
    """Fine steps where nothing has been heated yet, wide ones above."""
    cold, top_c = rounds.corners, rounds.hottest_c + 1.0
    inlet_c, room_c = float(cold.inlet_c[0]), float(cold.room_c[0])
    low_c, mid_c = min(inlet_c, room_c), max(inlet_c, room_c)
    first = [*np.arange(low_c + 1.5, mid_c, 1.5), mid_c + 0.2, mid_c + 2.0, mid_c + 5.0, mid_c + 10.0]
    # A first rinse that has to end warm lives on what the wash leaves.
    wide_k = WARM_RINSE_STEP_K if rounds.assessor.inputs.goal.rinse.first_least_c > 0.0 else WIDE_STEP_K
    steps = np.unique([*first, *np.arange(mid_c + 18.0, top_c - 5.0, wide_k), top_c])
    nominal_c = steps
    if rounds.assessor.thermostat:
        inlet_c, room_c = float(cold.inlet_c[1]), float(cold.room_c[1])
        nominal_c = np.maximum.accumulate(steps + max(inlet_c, room_c) - mid_c)
        nominal_c[-1] = max(nominal_c[-1], top_c)
    return Ladder(steps, nominal_c)


class FirstPatches:
    """Makes the patches of each kind of round for each step of the ladder."""

    def __init__(self, rounds: PatchRounds, asked: Asked, ladder: Ladder, cost: float) -> None:
        self.rounds, self.asked, self.ladder, self.cost = rounds, asked, ladder, cost
        self.assessor, self.corners = rounds.assessor, rounds.corners
        self._step, self._warm = 0, False

    def may_dry(self, patch: Patch, figures: Figures) -> bool:
        """The same of a round that has to leave the ware hot enough to dry."""
        return self.may_be(patch, figures) and figures.handed_c.max() >= self.asked.dry_c

    def may_warm(self, patch: Patch, figures: Figures) -> bool:
        """The same of the first rinse where that has to end warm."""
        return self.may_be(patch, figures) and bool(figures.end_c.max() >= self.asked.first_c)

    def may_be(self, patch: Patch, figures: Figures) -> bool:
        """Whether there may be a round in a patch that is worth looking at."""
        machine, goal = self.assessor.inputs.machine, self.assessor.inputs.goal
        boils_c = self.assessor.simulator.boils_c
        heated = patch.mode is not Mode.UNHEATED
        if KINDS[patch.kind] == "prerinse" and figures.peak_c.min() > goal.prerinse.limit_c:
            return False
        if heated and patch.mode is not Mode.STEAM:
            most_c = min(machine.tank.limit_c, boils_c)
            if machine.tank.limit_c < boils_c:
                most_c = machine.tank.limit_c - machine.bath_room_k
            if figures.peak_c.min() > most_c:
                return False
        if figures.end_c.max() < self.asked.least_end_c(patch.kind, first=False):
            return False
        return bool(figures.cost.min() <= self.cost)

    def first(self, kind: int, *, fine: bool, step: int, warm: bool = False) -> list[Patch]:
        """Patches of a kind that start at a step of the ladder; ``fine`` where much hangs on them.

        ``warm`` is for the first rinse where that has to end warm: it may be heated, and sprayed for longer.
        """
        self._step, self._warm = step, warm
        name = KINDS[kind]
        if name == "steam":
            return self._heated(kind, Mode.STEAM, fine=True, soaks=False)
        found = self._unheated(kind, soaks=False)
        matters = self.assessor.simulator.targets.counts(kind) or self.asked.dries in ("rinse", "steam")
        # A prerinse is cold, as the planner has it, unless a dose asks for it alone.
        matters = matters or warm if name == "rinse" else name == "wash" or self.assessor.heat_counts(kind)
        if self.assessor.inputs.machine.element is not None and matters:
            for mode in (Mode.WHILE_SPRAYING, Mode.THEN_SPRAY, Mode.BOTH_WAYS):
                if self.assessor.heats(mode):
                    found += self._heated(kind, mode, fine=fine, soaks=False)
        if self.assessor.soaking.may(kind):
            found += self._unheated(kind, soaks=True)
            for mode in (Mode.WHILE_SPRAYING, Mode.THEN_SPRAY, Mode.BOTH_WAYS):
                if self.assessor.inputs.machine.element is not None and self.assessor.heats(mode):
                    found += self._heated(kind, mode, fine=False, soaks=True)
        return found

    @property
    def _longest_s(self) -> float:
        return self.asked.most_min * S_PER_MIN

    def _fills(self, kind: int, mode: Mode, *, fine: bool) -> list[float]:
        """Edges of the fill: the least that covers, up to the lip [s]."""
        machine = self.assessor.inputs.machine
        if machine.inlet.level_l is not None:
            return [60.0]
        pump, element, flow = machine.wash_pump, machine.element, machine.inlet.flow_l_per_min
        need_l = pump.prime_l + pump.holdup_l.high
        if mode is Mode.STEAM:
            need_l = 0.0
        if mode is not Mode.UNHEATED and element is not None:
            together = mode in (Mode.WHILE_SPRAYING, Mode.BOTH_WAYS)
            need_l = max(need_l, element.cover_l + pump.holdup_l.high * together)
        least_s = max(need_l - machine.tank.residual_l.low, 0.3) / flow.low * S_PER_MIN
        if KINDS[kind] == "wash":
            least_s = max(least_s, self.rounds.dosing.shortest_fill_s(first=False))
        least_s = float(math.ceil(least_s - 1e-6))
        most_s = machine.tank.capacity_l / flow.high * S_PER_MIN
        if most_s <= least_s:
            return [least_s]
        if mode is Mode.UNHEATED and not fine:
            steps = [1.09**n for n in range(30)]
        else:
            steps = [1.0, 1.2] if fine else [1.0, 1.3]
        edges = [least_s * step for step in steps if least_s * step < most_s * 0.97] + [most_s]
        if KINDS[kind] == "wash":
            edges = sorted({*edges, *(kink for kink in [self._kink_s()] if least_s < kink < most_s)})
        return edges

    def _kink_s(self) -> float:
        """Fill above which the detergent goes by the litre [s]."""
        at_s = np.linspace(1.0, 4000.0, 4000)
        dosed_g = self.rounds.dosing.dosed_g(at_s)
        rising = np.flatnonzero(np.diff(dosed_g) > 1e-9)
        if not rising.size:
            return 0.0
        first = rising[min(1, rising.size - 1)]
        slope = dosed_g[first + 1] - dosed_g[first]
        return float(at_s[first] - (dosed_g[first] - dosed_g[0]) / slope)

    def _warmth(self) -> dict[str, list[float]]:
        """Both temperatures handed on, at the upper end of the step [°C]."""
        nominal_c = self.ladder.nominal_c if self.assessor.thermostat else self.ladder.cold_c
        return {
            "handed_c": [float(self.ladder.cold_c[self._step])],
            "nominal_c": [float(nominal_c[self._step])],
        }

    def _least_spray_s(self, kind: int) -> float:
        goal = self.assessor.inputs.goal
        least_min = {"prerinse": goal.prerinse.spray_least_min, "rinse": goal.rinse.spray_least_min}
        return least_min.get(KINDS[kind], 0.0) * S_PER_MIN

    def _sprays(self, kind: int, *, fine: bool, soaks: bool, counts: bool) -> list[float]:
        least_s = self._least_spray_s(kind)
        if not counts:
            return [least_s]
        least_s = max(least_s, SPRAY_BY_SOAK_S * soaks)
        steps = [600.0, 1800.0] if fine else [900.0]
        longest_s = min(self._longest_s, max(self.assessor.spray_most_s(kind), least_s))
        return [*dict.fromkeys((least_s, *(s for s in steps if least_s < s < longest_s * 0.9), longest_s))]

    def _soaks(self, *, soaks: bool) -> dict[str, list[float]]:
        if not soaks:
            return {}
        longest_s = self.assessor.soaking.longest_s
        if self.assessor.soaking.pays(KINDS.index("wash")):
            # A rest before the drain soaks as well, for as long as there is time.
            longest_s = max(longest_s, self._longest_s)
        return {"soak_s": [SOAK_LEAST_S, 0.3 * longest_s, longest_s]}

    def _unheated(self, kind: int, *, soaks: bool) -> list[Patch]:
        counts = self._warm or self.assessor.simulator.targets.counts(kind)
        edges = self._warmth()
        edges["fill_s"] = self._fills(kind, Mode.UNHEATED, fine=counts)
        edges["after_s"] = self._sprays(kind, fine=True, soaks=soaks, counts=counts)
        edges["setpoint_c"] = [np.inf]
        return pieces(edges | self._soaks(soaks=soaks), kind, Mode.UNHEATED, soaks=soaks)

    def _heated(self, kind: int, mode: Mode, *, fine: bool, soaks: bool) -> list[Patch]:
        edges = self._warmth()
        edges["fill_s"] = self._fills(kind, mode, fine=fine)
        counts = self._warm or self.assessor.simulator.targets.counts(kind)
        heats = self._heats(mode, fine=fine)
        fine = fine and mode is not Mode.BOTH_WAYS
        edges["after_s"] = (
            [0.0] if mode is Mode.STEAM else self._sprays(kind, fine=fine, soaks=soaks, counts=counts)
        )
        if mode in (Mode.WHILE_SPRAYING, Mode.BOTH_WAYS) and not soaks:
            # What sprays while it heats may be all of the spray.
            edges["after_s"] = [0.0, *(edge for edge in edges["after_s"] if edge > 0.0)]
        edges |= self._soaks(soaks=soaks)
        found = []
        for sets in heats:
            found += pieces(edges | sets, kind, mode, soaks=soaks)
        return found

    def _heats(self, mode: Mode, *, fine: bool) -> list[dict[str, list[float]]]:
        """Edges of the heating: by time, and for a thermostat by set point too."""
        times = self._heat_times(fine=fine and mode is not Mode.BOTH_WAYS)
        timed = {"setpoint_c": [np.inf]}
        if mode in (Mode.WHILE_SPRAYING, Mode.BOTH_WAYS):
            timed["together_s"] = times
        if mode is not Mode.WHILE_SPRAYING:
            timed["alone_s"] = times
        if not self.assessor.thermostat or mode is Mode.STEAM:
            return [timed]
        hot_c = self.assessor.hottest_c
        setpoints = [15.0, *np.arange(30.0, hot_c - 3.0, 10.0 if fine else 25.0), hot_c]
        held = {"setpoint_c": [float(at) for at in setpoints]}
        if mode is Mode.THEN_SPRAY:
            # Either the nominal machine reaches its set point, or it is heated by time there.
            return [timed, held | {"alone_s": [HOURS_S]}]
        return [timed | held]

    def _heat_times(self, *, fine: bool) -> list[float]:
        machine, corners = self.assessor.inputs.machine, self.corners
        fill_s = self._fills(KINDS.index("wash"), Mode.THEN_SPRAY, fine=True)[0]
        litres = fill_s * corners.inlet_l_per_s[-1] if machine.inlet.level_l is None else corners.level_l[-1]
        j_per_k = litres * 4180.0 + corners.tank_j_per_k[-1] + corners.ware_j_per_k[-1]
        a_k = float(j_per_k / corners.element_w[-1])
        steps = [16.0, 30.0, 40.0, 52.0, 68.0] if fine else [25.0, 50.0]
        times = [a_k * step for step in steps if a_k * step < self._longest_s * 0.9]
        return [1.0, *times, self._longest_s]

    def warms(self, *, plain: bool) -> bool:
        """Whether the first rinse has a place of its own, as it has to end warm.

        Where not all others are ``plain``, the last has one as well: then only if one rinse cannot be both.
        """
        machine, water = self.assessor.inputs.machine, self.assessor.water
        if math.isinf(self.asked.first_c) or self.assessor.rounds_most["rinse"] < 1:
            return False
        # A rinse to the lip, topped up by as much again.
        pump_l, litres = machine.wash_pump.prime_l + machine.wash_pump.holdup_l.high, machine.tank.capacity_l
        least_l = min(pump_l, water.carry_over_high_l)
        alone = 2.0 * math.log10((least_l + litres) / least_l) >= self.asked.residue
        return plain or not alone

    def plain_rinses(self) -> RinseGrid | None:
        """Unheated rinses by their fill where the heat of none serves a dose, or dries; else None."""
        kind, assessor = KINDS.index("rinse"), self.assessor
        if assessor.simulator.targets.counts(kind) or self.asked.dries or self.asked.soil > 0.0:
            return None
        edges = self._fills(kind, Mode.UNHEATED, fine=False)
        fills_s = np.arange(edges[0], edges[-1] + 0.5)
        values = np.zeros((len(fills_s), len(NAMES)))
        values[:, 0], values[:, 1] = self.asked.start_c
        values[:, 2], values[:, 5], values[:, 6] = fills_s, np.inf, self._least_spray_s(kind)
        figures = self.rounds.figures(kind, Mode.UNHEATED, values, soaks=False)
        counts = range(max(assessor.rounds_least["rinse"], 1), assessor.rounds_most["rinse"] + 1)
        return RinseGrid(figures.cost, figures.minutes, figures.decades, counts, self.asked.residue)


def coldest(assessor: Assessor, programme: Programme) -> list[int]:
    """The cold corner in which the programme has least to spare: what holds there is a bound by itself.

    With a thermostat two of them, of weak elements and of strong ones: time ends the heating of the former,
    the set point that of the latter.
    """
    margins, _ = assessor.run(programme)
    corners = assessor.simulator.corners
    cold = np.flatnonzero(corners.cold)
    least = np.full(len(cold), np.inf)
    for key in assessor.simulator.targets.keys:
        least = np.minimum(least, margins[key][0])
    if not assessor.thermostat:
        return [int(cold[int(least.argmin())])]
    power_w = corners.element_w[cold]
    weak = power_w <= 0.5 * (power_w.min() + power_w.max())
    sides = [np.flatnonzero(side) for side in (weak, ~weak) if side.any()]
    return [int(cold[side[int(least[side].argmin())]]) for side in sides]
