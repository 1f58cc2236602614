"""What the rounds of a patch do at best: figures at its vertices that no round inside it betters.

A round inside a patch is a mixture of the vertices. What is linear in its numbers is exact at the mixture; a
dose, which is convex in all that makes the bath warmer, is above the truth there. What is concave is raised:
by a quarter of the interval times the fall of the rate along it, or by twice what the middles of the edges
show, since a concave function is nowhere further above its chord.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from optimizer.physics import Array
from optimizer.planner.corner_arrays import Corners
from optimizer.planner.cost import unit_prices
from optimizer.planner.detergent import Dosing
from optimizer.planner.margins import Assessor
from optimizer.planner.patches import NAMES, Patch
from optimizer.planner.simulation import Simulator
from optimizer.planner.structure import ALONE, Mode, Programme, Settings, Structure
from optimizer.planner.targets import UNDISSOLVED
from optimizer.programme.constants import GAP_S, KINDS, REST_BEFORE_DRAIN_S, SPRAY_BY_SOAK_S
from optimizer.units import G_PER_KG, J_PER_KWH, S_PER_MIN

DOSE_SPARE = 0.005
"""Share by which a dose is counted above the planner's simulation: the check integrates finer [1]."""

WARM_SPARE_K, FLOOR_SPARE_K = 0.1, 0.5
"""The same of a temperature, and by how much floors are lowered for it [K]."""

TWICE = 2.0
"""How far a concave function may be above its chord, over how far it is half-way [1]."""

BENT_SHARE = 0.05
"""What is added to a temperature handed on, a share of its range at the vertices [1]."""

AT_ONCE = 64
"""Patches that are simulated at once [1]."""

SETTLED_S = 300.0
"""Spray after which the ware follows the bath, so that its rate only falls [s]."""

SEEN = ("alone_s", "together_s", "setpoint_c")
"""Numbers along which the middles of the edges are looked at."""


@dataclass(frozen=True)
class Figures:
    """Figures of rounds, one row a round or vertex.

    Attributes
    ----------
    cost : ndarray
        Electricity, water, detergent and waiting, nominal, at the least [currency].
    minutes : ndarray
        Nominal length at the least [min].
    dose_s : ndarray
        Dose of each target in the cold corner at the most [s].
    handed_c, nominal_c : ndarray
        Temperature handed on, cold and nominal corner, at the most [°C].
    ware_c : ndarray
        Ware after the drain in the cold corner at the most [°C].
    end_c : ndarray
        Bath as the spray ends in the cold corner at the most [°C].
    decades : ndarray
        Decades by which the round thins what came with it, at the most [1].
    peak_c : ndarray
        Hottest bath in the hot corner at the least; that of a thermostat is not looked at [°C].
    top_c : ndarray
        Hottest bath in the cold corner [°C].
    """

    cost: Array
    minutes: Array
    dose_s: Array
    handed_c: Array
    nominal_c: Array
    ware_c: Array
    end_c: Array
    decades: Array
    peak_c: Array
    top_c: Array

    def rows(self, rows: slice | int) -> Figures:
        """Some of the rounds; of stacked ones, those of one patch."""
        return Figures(**{one.name: getattr(self, one.name)[rows] for one in fields(self)})

    def columns(self, columns: slice) -> Figures:
        """Of stacked rounds, some of each patch."""
        return Figures(**{one.name: getattr(self, one.name)[:, columns] for one in fields(self)})

    def shaped(self, shape: tuple[int, ...]) -> Figures:
        """The rounds stacked, patches × rounds."""
        each = {one.name: getattr(self, one.name) for one in fields(self)}
        return Figures(**{name: value.reshape(*shape, *value.shape[1:]) for name, value in each.items()})


class PatchRounds:
    """Simulates rounds of patches in the corners that the bound counts with."""

    def __init__(self, assessor: Assessor, cold: int) -> None:
        self.assessor = assessor
        inputs, corners = assessor.inputs, assessor.simulator.corners
        hot = int(np.flatnonzero(corners.hot)[0])
        second = corners.nominal if assessor.thermostat else hot
        numbers = np.array([cold, second])
        values = {one.name: getattr(corners, one.name) for one in fields(corners)}
        values = {k: v[numbers] if isinstance(v, np.ndarray) else v for k, v in values.items()}
        # The run may start wet: a point of the tolerances as any other.
        # A bath that is held is no hotter than the set point anywhere in its saw-tooth.
        held_k = np.array([0.0, corners.hysteresis_k])
        values |= {"nominal": 1, "wet_start": np.ones(2), "hysteresis_k": held_k}
        self.corners = Corners(**values)
        self.simulator = Simulator(inputs.machine, inputs.goal, self.corners)
        targets = self.simulator.targets
        targets = replace(targets, floor_c=targets.floor_c - FLOOR_SPARE_K)
        self.simulator.count_for(targets)
        self._floorless = Simulator(inputs.machine, inputs.goal, self.corners)
        floorless = replace(targets, floor_c=np.full_like(targets.floor_c, -300.0))
        self._floorless.count_for(floorless)
        self.dosing = Dosing(inputs.machine, inputs.goal)
        self.count = 0
        nominal = corners.nominal
        self.start_c = (
            float(corners.room_c[cold]),
            float(corners.room_c[nominal if assessor.thermostat else cold]),
        )
        self.hottest_c = min(inputs.machine.tank.limit_c, assessor.simulator.boils_c)
        if inputs.machine.element is not None and inputs.machine.tank.limit_c < assessor.simulator.boils_c:
            self.hottest_c = inputs.machine.tank.limit_c - inputs.machine.bath_room_k
        self._prices = unit_prices(inputs)
        self._element_w = float(corners.element_w[nominal])
        self._flow_l_per_s = float(corners.inlet_l_per_s[nominal])
        self._level_l = float(corners.level_l[nominal] - corners.sump_l[nominal])

    def figures(self, kind: int, mode: Mode, values: Array, *, soaks: bool, floors: bool = True) -> Figures:
        """Simulate rounds of one kind and mode, ``[round, number]``, each by itself, with floors or not."""
        self.count += len(values)
        at = {name: values[:, [n]] for n, name in enumerate(NAMES)}
        alone = mode in (*ALONE, Mode.STEAM)
        none = np.zeros_like(at["fill_s"])
        settings = Settings(
            fill_s=at["fill_s"],
            element_s=at["alone_s"] if alone else at["together_s"],
            spray_s=none if mode is Mode.STEAM else at["together_s"] + at["after_s"],
            setpoint_c=at["setpoint_c"],
            soak_s=at["soak_s"],
            while_s=at["together_s"] if mode is Mode.BOTH_WAYS else none,
            # A rest that pays counts as much as it may; where none does, more spray serves better.
            cool_s=none + REST_BEFORE_DRAIN_S * self.assessor.soaking.pays(kind),
            top_up_s=none,
            mix_s=none,
        )
        programme = Programme(Structure((kind,), (mode,), (0,) if soaks else ()), settings)
        coldest_c = np.minimum(self.corners.inlet_c, self.corners.room_c)
        start_c = np.broadcast_to(coldest_c, (len(values), 2)).copy()
        start_c[:, [0]] = at["handed_c"]
        if self.assessor.thermostat:
            start_c[:, [1]] = at["nominal_c"]
        simulator = self.simulator if floors else self._floorless
        done = simulator.run_from(programme, (start_c, start_c))
        on_s, heat_s = at["alone_s"][:, 0] + at["together_s"][:, 0], at["alone_s"][:, 0] * alone
        if self.assessor.thermostat and mode is not Mode.STEAM:
            on_s = done.element_on_s[:, 1, 0]
            # On with the pump off, at the least: all but what may be on while it sprays.
            heat_s = np.maximum(on_s - at["together_s"][:, 0], 0.0) * alone
        cost, minutes = self._cost(kind, mode, settings, on_s, heat_s, soaks=soaks)
        # A bath that is hotter than the tank stands is none of a programme.
        warmest_c = np.minimum(np.maximum(done.bath_end_c, done.ware_end_c), self.hottest_c) + WARM_SPARE_K
        return Figures(
            cost=cost,
            minutes=minutes,
            dose_s=done.dose_s[:, 0] * (1.0 + DOSE_SPARE),
            handed_c=warmest_c[:, 0],
            # A timed element is on for as long in every corner: what is nominal does not matter.
            nominal_c=warmest_c[:, 1 if self.assessor.thermostat else 0],
            ware_c=done.ware_end_c[:, 0] + WARM_SPARE_K,
            end_c=done.spray_end_c[:, 0, 0] + WARM_SPARE_K,
            decades=self._decades(settings.fill_s[:, 0]),
            peak_c=done.peak_c[:, 1, 0] - WARM_SPARE_K,
            top_c=done.peak_c[:, 0, 0] + WARM_SPARE_K,
        )

    def _decades(self, fill_s: Array) -> Array:
        """Decades of the least fill into the largest carry-over."""
        machine, carry_over_l = self.assessor.inputs.machine, self.assessor.water.carry_over_high_l
        if machine.inlet.level_l is not None:
            filled_l = np.full_like(fill_s, machine.inlet.level_l.low - machine.tank.residual_l.high)
        else:
            filled_l = fill_s * machine.inlet.flow_l_per_min.low / S_PER_MIN
        return np.asarray(np.log10((carry_over_l + filled_l) / carry_over_l) * 1.0005)

    def _cost(
        self, kind: int, mode: Mode, settings: Settings, on_s: Array, heat_s: Array, *, soaks: bool
    ) -> tuple[Array, Array]:
        """Least cost [currency] and length [min] of a round: no rest, no top-up, and a bath as cold as fed.

        Linear in all numbers but the detergent's grams, whose bend is an edge of the patches.
        """
        machine, goal, prices = self.assessor.inputs.machine, self.assessor.inputs.goal, self._prices
        level_l, flow = machine.inlet.level_l, machine.inlet.flow_l_per_min.high / S_PER_MIN
        fill_s, spray_s = settings.fill_s[:, 0], settings.spray_s[:, 0]
        if level_l is not None:
            litres = np.full_like(fill_s, self._level_l)
            open_s, drained_l = (
                litres / self._flow_l_per_s,
                np.full_like(fill_s, level_l.high - machine.tank.residual_l.high),
            )
        else:
            litres, open_s, drained_l = fill_s * self._flow_l_per_s, fill_s, fill_s * flow
        drain_s = self.assessor.simulator.drain_s(drained_l)
        gaps_s = GAP_S * (3 + (mode in ALONE) + 2 * soaks)
        if soaks and self.assessor.soaking.pays(kind):
            # A rest before the drain soaks as well, and has no spray after it.
            spray_s, gaps_s = spray_s - SPRAY_BY_SOAK_S, gaps_s - 2 * GAP_S
        round_s = open_s + heat_s + spray_s + settings.soak_s[:, 0] + drain_s + gaps_s
        energy_j = self._element_w * on_s + machine.wash_pump.power_w.nominal * spray_s
        energy_j = energy_j + machine.drain_pump.power_w.nominal * drain_s
        energy_j = energy_j + machine.inlet.valve_w * open_s + machine.supply.controller_w * round_s
        minutes = round_s / S_PER_MIN
        cost = (
            energy_j / J_PER_KWH * prices.per_kwh + litres * prices.per_l + minutes * prices.waiting_per_min
        )
        if KINDS[kind] == "wash":
            cost = cost + self.dosing.dosed_g(fill_s) * goal.detergent_per_kg / G_PER_KG
        return np.asarray(cost), np.asarray(minutes)

    def of(self, patches: Sequence[Patch], *, ends: bool = False) -> list[tuple[Figures, Figures]]:
        """True figures at the vertices of patches, and those that no round inside betters.

        ``ends`` is whether the bath as the spray ends is one of them.
        """
        found: dict[int, tuple[Figures, Figures]] = {}
        groups: dict[tuple[int, Mode, bool, tuple[int, ...]], list[int]] = {}
        for index, patch in enumerate(patches):
            groups.setdefault((patch.kind, patch.mode, patch.soaks, tuple(patch.free)), []).append(index)
        for members in groups.values():
            for start in range(0, len(members), AT_ONCE):
                some = members[start : start + AT_ONCE]
                true, best = self._stack([patches[index] for index in some], ends=ends)
                for row, index in enumerate(some):
                    found[index] = true.rows(row), best.rows(row)
        return [found[index] for index in range(len(patches))]

    def _stack(self, patches: Sequence[Patch], *, ends: bool) -> tuple[Figures, Figures]:
        """The same of patches of one kind and mode whose free numbers are the same, one a row."""
        first = patches[0]
        low, high = (np.array([getattr(patch, end) for patch in patches]) for end in ("low", "high"))
        free = np.array([n in first.free for n in range(len(NAMES))])
        width = np.where(free, high, 0.0) - np.where(free, low, 0.0)
        seen = _seen(first)
        # Fill, spray and soak bend how warm a spray ends, and no cost.
        seen += [n for n in first.free if ends and n not in seen]
        shares = [first.shares(), *(first.shares(number) for number in seen)]
        every = np.concatenate(shares)
        values = low[:, None] + every * width[:, None]
        borders = np.cumsum([0, *(len(each) for each in shares)])

        def blocks(*, floors: bool) -> list[Figures]:
            rows = values.reshape(-1, len(NAMES))
            flat = self.figures(first.kind, first.mode, rows, soaks=first.soaks, floors=floors)
            done = flat.shaped(values.shape[:2])
            return [done.columns(slice(a, b)) for a, b in pairwise(borders)]

        true = blocks(floors=True)
        best = self._raised(first, width, low, true)
        jumps = self._jumps(first.kind, true[0])
        if jumps.any():
            # A dose jumps where a whole spray comes over its floor: without the floor, or the best vertex.
            smooth = self._raised(first, width, low, blocks(floors=False))
            most_s = true[0].dose_s.max(axis=1, keepdims=True) * (1.0 + DOSE_SPARE)
            dose_s = np.where(jumps[:, None], np.minimum(smooth.dose_s, most_s), best.dose_s)
            best = replace(best, dose_s=dose_s)
        return true[0], best

    def _jumps(self, kind: int, at: Figures) -> NDArray[np.bool_]:
        """Doses that jump inside: a whole spray may come over the floor there; patches × targets."""
        floor_c = self.simulator.targets.floor_c[kind]
        low_c = np.minimum(at.ware_c.min(axis=1), at.end_c.min(axis=1)) - 0.5
        return np.asarray((floor_c > low_c[:, None]) & (floor_c < at.top_c.max(axis=1)[:, None] + 0.5))

    def _raised(self, first: Patch, width: Array, low: Array, blocks: Sequence[Figures]) -> Figures:
        """Raise what is not convex at the vertices, and lower a cost that is."""
        at, *middles = blocks
        free, targets = first.free, self.simulator.targets
        shape = (2,) * len(free)
        count = len(at.cost)
        up = {name: np.zeros(count) for name in ("handed_c", "nominal_c", "ware_c", "end_c")}
        down = {name: np.zeros(count) for name in ("cost", "minutes", "peak_c")}
        more, added_s = np.ones((count, at.dose_s.shape[2])), np.zeros((count, at.dose_s.shape[2]))
        bending = [free.index(n) for n in _seen(first)]
        others = [n for n in range(len(free)) if n not in bending]
        for axis, middle in zip(others, middles[len(bending) :], strict=False):
            for name in up:
                gap = getattr(middle, name) - _mean(getattr(at, name), shape, axis)
                up[name] += TWICE * np.maximum(gap.max(axis=1), 0.0)
        for axis, middle in zip(bending, middles[: len(bending)], strict=True):
            for name in up:
                gap = getattr(middle, name) - _mean(getattr(at, name), shape, axis)
                up[name] += TWICE * np.maximum(gap.max(axis=1), 0.0)
            for name in down:
                gap = _mean(getattr(at, name), shape, axis) - getattr(middle, name)
                down[name] += TWICE * np.maximum(gap.max(axis=1), 0.0)
            chord = _mean(at.dose_s, shape, axis)
            over = np.maximum(middle.dose_s - chord, 0.0)
            # In proportion to the dose; where there is hardly any, as much for every vertex.
            some = chord > 0.01 * at.dose_s.max(axis=1, keepdims=True)
            share = np.divide(over, chord, out=np.zeros_like(over), where=some)
            more *= 1.0 + TWICE * share.max(axis=1)
            added_s += TWICE * np.where(some, 0.0, over).max(axis=1)
        # Past a ceiling the temperature handed on and the fill bend a dose as the heating does.
        bends = at.top_c.max(axis=1)[:, None] > targets.ceiling_c
        more = np.where(bends, more**2, more)
        dose_s = at.dose_s * more[:, None] + (added_s + self._bent_s(first, width, low, at))[:, None]
        dose_s = np.minimum(dose_s, at.dose_s.max(axis=1, keepdims=True) * (1.0 + DOSE_SPARE))
        dose_s = dose_s + self._undissolved_s(first, at)
        rise = (at.decades.max(axis=1) - at.decades.min(axis=1)) * np.log(10.0)
        # A logarithm is above its chord by the square of its rise, natural, over eight, at the most.
        decades = at.decades + (rise**2 / 8.0 / np.log(10.0))[:, None]
        for name in ("handed_c", "nominal_c"):
            # Neither the fill nor the spray bends what is handed on by much.
            up[name] += BENT_SHARE * np.ptp(getattr(at, name), axis=1)
        changed = {name: getattr(at, name) + rise[:, None] for name, rise in up.items()}
        changed |= {name: getattr(at, name) - fall[:, None] for name, fall in down.items()}
        return replace(at, dose_s=dose_s, decades=decades, **changed)

    def _bent_s(self, first: Patch, width: Array, low: Array, at: Figures) -> Array:
        """How far a dose may be above its chord along the spray after the heating, and along the soak [s].

        With the rate falling from r1 to r2 over a time t: ``(r1 - r2) t / 4``. Patches × targets.
        """
        targets, mechanics = self.simulator.targets, self.corners.mechanics[0]
        most = np.zeros((len(at.cost), at.dose_s.shape[2]))
        last_c = at.ware_c.min(axis=1) - 0.2
        for name, share in (("after_s", targets.under_spray(mechanics)), ("soak_s", targets.soak_share)):
            number = NAMES.index(name)
            if number not in first.free:
                continue
            settled = (low[:, number] >= SETTLED_S) | (name == "soak_s")
            first_c = np.where(settled, at.end_c.max(axis=1), at.top_c.max(axis=1))
            fast, slow = (targets.rate(at_c, first.kind) for at_c in (first_c, last_c))
            most += (
                width[:, [number]] / 4.0 * np.maximum(fast - np.minimum(slow, fast), 0.0) * np.asarray(share)
            )
        return most

    def _undissolved_s(self, first: Patch, at: Figures) -> Array:
        """What a vertex just below the floor of plain water misses while the detergent dissolves [s]."""
        simulator, none = self.simulator, np.zeros_like(at.dose_s)
        if KINDS[first.kind] != "wash" or not simulator.dissolving_s:
            return none
        targets = simulator.targets
        floor_c = targets.floor_c[UNDISSOLVED]
        below = (at.top_c[..., None] < floor_c) & (at.top_c.max(axis=1)[:, None, None] + 0.5 > floor_c)
        rates = np.array([targets.rate(np.array(c), UNDISSOLVED)[t] for t, c in enumerate(floor_c)])
        factor = targets.under_spray(self.corners.mechanics[0])
        return np.asarray(np.where(below, rates * factor * simulator.dissolving_s, 0.0))


def _seen(patch: Patch) -> list[int]:
    """Numbers along which the middles of the edges are looked at."""
    # More water stays at a set point for longer, and the less so the more there is.
    held = np.isfinite(patch.low[NAMES.index("setpoint_c")])
    return [n for n in patch.free if NAMES[n] in SEEN or (held and NAMES[n] == "fill_s")]


def _mean(values: Array, shape: tuple[int, ...], axis: int) -> Array:
    """Mean of the two ends of every edge along one axis; patches come first."""
    cube = values.reshape(len(values), *shape, *values.shape[2:])
    return np.asarray(cube.mean(axis=axis + 1).reshape(len(values), -1, *values.shape[2:]))
