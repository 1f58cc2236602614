"""The fit of a machine to a run: quantities moved until the bath is that of the log, intervals as priors.

What a run says is compared with a simulation of what was done: readings of the bath, the watts of the element
by a meter in the plug, and how long a fill took that a level switch ended. Least squares with each quantity's
interval as a normal prior (Gauss and Newton's method, its steps halved where they lead uphill).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from optimizer.check.box import Box, box_of
from optimizer.profile.machine import Machine
from optimizer.programme.plan import Plan
from optimizer.review.bath_courses import courses_and_fills, in_water
from optimizer.review.delivered import Delivered
from optimizer.review.drifts import DRIFTING
from optimizer.review.run_log import RunLog

Array = NDArray[np.float64]

SIGMAS = 1.96
"""Standard deviations from the middle to an end of an interval of 95 % [1]."""

FREE = 12.0
"""Width of the prior of a quantity that is let go, over that of its interval [1]."""

STEPS, ENOUGH = 12, 0.02
"""Steps of Gauss and Newton's method at the most, and a step that ends them [1, prior's sd]."""

SLOPE = 0.25
"""How far a quantity is moved for its slope, over its prior's standard deviation [1]."""

HALVINGS = 4
"""How often a step that leads uphill is halved [1]."""

FAR = (-11.0, -8.0, -5.0, 5.0, 8.0, 11.0)
"""Standard deviations of its prior at which a quantity that may have drifted is looked for [1]."""

LOOKS_S = 15.0
"""Time between two readings that are compared [s]: those between tell the same once more."""

NEAR_BOIL_S = 60.0
"""Readings this near to where a pool began to boil are left out [s].

The bath has a kink there: a quantity moves such a reading to one side of it and not to the other, by tens of
standard deviations, and a fit crawls along it and stops short."""

AT_BOIL_K, HOTTEST = 0.3, 20
"""A pool boils from this below the middle one of its hottest readings, and how many these are [K, 1]."""

NOISE_K = 0.15
"""Least scatter of a reading about the simulated bath [K]: noise and resolution of a cheap thermometer."""

PROBE_K = 0.5
"""Error of a digital thermometer of which the profile says none [K]: data sheets, from memory."""

LAYER_S = 300.0
"""So long after the element goes on with the pump off its bath parts into layers; readings are left out [s].

How warm the layer is in the end is measured, how it comes about is not: our choice."""

METER_SHARE = 0.015
"""Error of a plug-in meter, a standard deviation over the reading [1]: our choice, no source."""

FILL_S = 1.0
"""Scatter of the seconds of a fill that a switch ends: rows of a log, the switch itself [s]: our choice."""

UNSEEN = ("voltage", "wash_pump", "drain", "drain_lag")
"""What a bath does not show, or not beside something else: fitted, and nothing is said of it."""

NO_HEAT = ("voltage_v", "mechanics_factor")
"""What is not fitted: the voltage stands for the element's power, and no bath knows how strong a spray is."""

LEAST_SHARE = 0.05
"""Share of what was measured that is always left of a quantity [1]: less stands still in a simulation."""

SHARES = ("start_share", "start_chill_share")
"""Quantities that cannot leave their ends: a machine starts dried out, drained, chilled, or between."""

SIGNED = ("inlet_c", "room_c", "sensor_error_k", "sensor_over_mean_k", "top_over_mean_k")
"""Quantities of which there may be nothing, or less than that."""


class Fit:
    """The fit; ``x`` are the quantities in standard deviations of their priors.

    ``names`` are the quantities by the names of the tolerances, ``words`` by those of `DRIFTING` (None where
    nothing is said of one), ``low``, ``nominal`` and ``high`` their intervals. ``scatter_k`` is that of the
    readings about the bath last simulated, `NOISE_K` at the least [K].
    """

    def __init__(self, plan: Plan, log: RunLog, done: Delivered) -> None:
        read_c = log.bath_c if log.bath_c is not None else log.ware_c
        assert read_c is not None
        self._by_ware = log.bath_c is None
        self._plan, self._done = plan, done
        self._parts, self._fills_s = done.to_simulate, np.array(done.fills_s, dtype=float)
        self._lasted_s = [part.longest_s for part in done.parts]
        self._box: Box = box_of(plan.inputs.machine)
        words = {name: word for word, (name, _) in DRIFTING.items() if word not in UNSEEN}
        fitted = [place for place, name in enumerate(self._box.names) if name not in NO_HEAT]
        self.names = [self._box.names[place] for place in fitted]
        self.words = [words.get(name) for name in self.names]
        self.low, self.high = self._box.low[fitted], self._box.high[fitted]
        self.nominal = self._box.nominal[fitted]
        self._add_voltage(plan.inputs.machine)
        self._add_probe()
        self.middle, self.sd = 0.5 * (self.low + self.high), (self.high - self.low) / (2.0 * SIGMAS)
        self.count = len(self.names)
        self._most = np.where([name in SHARES for name in self.names], SIGMAS, 60.0)
        self._metered = self._metered_element(plan.inputs.machine, log, done)
        lasts_s = float(sum(self._lasted_s))
        since_s = log.time_s - done.start_s
        looked = np.searchsorted(since_s, np.arange(0.0, lasts_s, LOOKS_S))
        looked = np.unique(looked[looked < len(since_s)])
        looked = looked[(since_s[looked] >= 0.0) & (since_s[looked] <= lasts_s)]
        looked = looked[np.isfinite(read_c[looked])]
        # A thermometer in an empty tank reads what it likes.
        looked = looked[in_water(self._done.parts, self._lasted_s, since_s[looked])]
        if not self._by_ware:
            looked = looked[self._layers(since_s[looked])]
        # Nor has a fit slopes at the kink where a pool begins to boil.
        looked = looked[self._smooth(since_s[looked], read_c[looked])]
        self._time_s, self._bath_c = since_s[looked], read_c[looked]
        self._fill_s = max(FILL_S, 0.5 * float(np.median(np.diff(log.time_s))))
        self.scatter_k = NOISE_K

    def _add_voltage(self, machine: Machine) -> None:
        """The element's power moves with the voltage of the day: to a bath both are one quantity."""
        if "rated_w" in self.names:
            which, voltage = self.names.index("rated_w"), machine.supply.voltage_v
            self.low[which] *= (voltage.low / voltage.nominal) ** 2
            self.high[which] *= (voltage.high / voltage.nominal) ** 2

    def _add_probe(self) -> None:
        """The thermometer of a log has an error, also where the profile tells of none."""
        if "sensor_error_k" in self.names or self._by_ware:
            return
        self.names.append("sensor_error_k")
        self.words.append(None)
        for name, end in (("low", -PROBE_K), ("nominal", 0.0), ("high", PROBE_K)):
            setattr(self, name, np.append(getattr(self, name), end))

    def _metered_element(self, machine: Machine, log: RunLog, done: Delivered) -> tuple[int, float] | None:
        """The element's rated power by a meter in the plug, as at the supply's nominal voltage [W]."""
        if log.power_w is None or "rated_w" not in self.names or machine.element is None:
            return None
        ends_s = np.cumsum([part.longest_s for part in done.parts])
        since_s = log.time_s - done.start_s
        inside = (since_s > 0.0) & (since_s < ends_s[-1])
        part = np.minimum(np.searchsorted(ends_s, since_s, side="right"), len(ends_s) - 1)
        heats = np.array([one.outputs.element for one in done.parts])[part] & inside
        sprays = np.array([one.outputs.wash_pump for one in done.parts])[part]
        if not heats.any():
            return None
        # Most of the readings: an edge of an output may fall between two rows.
        sprayed = heats & sprays
        which = sprayed if sprayed.any() else heats
        others_w = machine.supply.controller_w
        if sprayed.any():
            others_w += machine.wash_pump.power_w.nominal
        used_w = float(np.nanmedian(log.power_w[which])) - others_w
        rated_w = used_w * (machine.element.rated_v / machine.supply.voltage_v.nominal) ** 2
        return self.names.index("rated_w"), rated_w

    def _layers(self, time_s: Array) -> NDArray[np.bool_]:
        """Whether a bath is not just parting into layers."""
        found = np.ones(len(time_s), dtype=bool)
        for part, end_s in zip(self._done.parts, np.cumsum(self._lasted_s), strict=True):
            if part.outputs.element and not part.outputs.wash_pump:
                start_s = end_s - part.longest_s
                found &= (time_s < start_s) | (time_s >= min(start_s + LAYER_S, end_s))
        return found

    def _smooth(self, time_s: Array, read_c: Array) -> NDArray[np.bool_]:
        """Whether readings of a bath are not beside the moment at which a pool begins to boil."""
        found = np.ones(len(time_s), dtype=bool)
        for part, end_s in zip(self._done.parts, np.cumsum(self._lasted_s), strict=True):
            inside = (time_s >= end_s - part.longest_s) & (time_s < end_s)
            if self._by_ware or not part.steam or not inside.any():
                continue
            hottest_c = float(np.median(np.sort(read_c[inside])[-HOTTEST:]))
            boils_s = time_s[inside & (read_c >= hottest_c - AT_BOIL_K)][0]
            found &= np.abs(time_s - boils_s) > NEAR_BOIL_S
        return found

    def tables(self, xs: Array) -> dict[str, Array]:
        """Machines, one a row of ``xs``."""
        base = self._box.table(self._box.nominal)
        found = {name: np.full(len(xs), value) for name, value in base.items()}
        values = self.middle + self.sd * xs
        for place, name in enumerate(self.names):
            kept = values[:, place]
            if name in SHARES:
                kept = np.clip(kept, 0.0, 1.0)
            elif name not in SIGNED:
                kept = np.maximum(kept, LEAST_SHARE * abs(self.nominal[place]))
            elif name in ("inlet_c", "room_c"):
                kept = np.maximum(kept, 0.5)
            found[name] = kept
        return found

    def _off(self, xs: Array) -> tuple[Array, Array]:
        """How far each machine is off the log: readings [K], and the rest in standard deviations."""
        table = self.tables(xs)
        baths_c, fills_s = courses_and_fills(
            self._plan, self._parts, self._lasted_s, table, self._time_s, ware=self._by_ware
        )
        # The tolerances know the error of the bath's sensor; a probe on the ware is taken as right.
        if not self._by_ware:
            baths_c = baths_c + table["sensor_error_k"][:, None]
        rest = (fills_s - self._fills_s) / self._fill_s
        if self._metered is not None:
            which, rated_w = self._metered
            now_w = self.middle[which] + self.sd[which] * xs[:, which]
            rest = np.column_stack([rest, (now_w - rated_w) / (METER_SHARE * rated_w)])
        return baths_c - self._bath_c, rest

    def _prior(self, free: Sequence[int]) -> Array:
        width = np.ones(self.count)
        width[list(free)] = FREE
        return 1.0 / width

    def solved(self, x: Array, free: Sequence[int]) -> tuple[Array, Array]:
        """Gauss and Newton's method from a start: the solution, and the slopes of its last step."""
        prior = self._prior(free)
        off, slopes = self._linear(x, self._around(x))
        for _ in range(STEPS):
            step = self._step(x, off, slopes, prior)
            before = float(off @ off + ((prior * x) ** 2).sum())
            moved = np.clip(x + step, -self._most, self._most)
            # Mostly the step is good, and then its slopes are wanted as well: one simulation for both.
            around = self._around(moved)
            if not self._total(around, moved, prior) <= before:
                for _ in range(HALVINGS):
                    step = 0.5 * step
                    moved = np.clip(x + step, -self._most, self._most)
                    if self._total(self._off(moved[None]), moved, prior) <= before:
                        break
                around = self._around(moved)
            far = float(np.abs(moved - x).max())
            x = moved
            off, slopes = self._linear(x, around)
            if far < ENOUGH:
                break
        return x, slopes

    def _total(self, around: tuple[Array, Array], x: Array, prior: Array) -> float:
        """What is made least, at the first of some machines, by the scatter of the last slopes [1]."""
        off_k, rest = around
        off = np.append(off_k[0] / self.scatter_k, rest[0])
        return float(off @ off + ((prior * x) ** 2).sum())

    def _step(self, x: Array, off: Array, slopes: Array, prior: Array) -> Array:
        """A step to the least squares; a quantity that would leave its ends stays there."""
        normal = slopes.T @ slopes + np.diag(prior**2)
        down = -(slopes.T @ off) - prior**2 * x
        held = np.zeros(self.count, dtype=bool)
        for _ in range(len(SHARES) + 1):
            step = np.zeros(self.count)
            step[~held] = np.linalg.solve(normal[np.ix_(~held, ~held)], down[~held])
            beyond = (np.abs(x + step) > self._most) & (np.abs(x) >= self._most) & ~held
            if not beyond.any():
                break
            held |= beyond
        return step

    def _ways(self, x: Array) -> Array:
        """How far each quantity is moved for its slope, away from an end that it cannot leave."""
        return np.where(x + SLOPE > self._most, -SLOPE, SLOPE)

    def _around(self, x: Array) -> tuple[Array, Array]:
        """How far ``x`` is off, and after it each machine with one quantity moved."""
        return self._off(np.vstack([x, x + np.diag(self._ways(x))]))

    def _linear(self, x: Array, around: tuple[Array, Array]) -> tuple[Array, Array]:
        """How far the run is off, and its slopes in ``x``; both in standard deviations of a reading."""
        off_k, rest = around
        counted = max(off_k.shape[1] - self.count, 1)
        self.scatter_k = max(NOISE_K, float(np.sqrt((off_k[0] ** 2).sum() / counted)))
        off = np.hstack([off_k / self.scatter_k, rest])
        return off[0], ((off[1:] - off[0]) / self._ways(x)[:, None]).T

    def cost(self, x: Array, free: Sequence[int]) -> float:
        """Twice the logarithm of the posterior, with its sign turned, in the noise of a cheap thermometer."""
        return float(self._costs(x[None], free)[0])

    def _costs(self, xs: Array, free: Sequence[int]) -> Array:
        off_k, rest = self._off(xs)
        told = (off_k**2).sum(axis=1) / NOISE_K**2 + (rest**2).sum(axis=1)
        return np.asarray(told + ((self._prior(free) * xs) ** 2).sum(axis=1))

    def far_starts(self, free: Sequence[int]) -> dict[int, tuple[Array, float]]:
        """For each quantity that is named the best of some values far off its interval, all else as measured.

        What a fit makes of a far drift with all quantities held may be a valley of its own: litres that the
        drain does not manage, a bath that boils.
        """
        named = [place for place, word in enumerate(self.words) if word is not None and place not in free]
        xs = np.zeros((len(named) * len(FAR), self.count))
        xs[np.arange(len(xs)), np.repeat(named, len(FAR))] = np.tile(FAR, len(named))
        off_k, rest = self._off(xs)
        told = ((off_k**2).sum(axis=1) / NOISE_K**2 + (rest**2).sum(axis=1)).reshape(len(named), len(FAR))
        best = told.argmin(axis=1)
        return {
            place: (xs[number * len(FAR) + best[number]], float(told[number, best[number]]))
            for number, place in enumerate(named)
        }

    def covariance(self, slopes: Array, free: Sequence[int]) -> Array:
        """Of the posterior, in standard deviations of the priors."""
        return np.asarray(np.linalg.inv(slopes.T @ slopes + np.diag(self._prior(free) ** 2)))

    def asks(self, x: Array, slopes: Array, free: Sequence[int]) -> Array:
        """By how much the posterior gains if a quantity is let go; nothing where none is named."""
        share = np.diag(self.covariance(slopes, free))
        gains = np.where(share < 1.0 - 1e-9, x**2 / np.maximum(1.0 - share, 1e-9), 0.0)
        gains[[word is None for word in self.words]] = 0.0
        gains[list(free)] = 0.0
        return np.asarray(gains)
