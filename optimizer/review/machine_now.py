"""Which machine ran: its quantities by the bath of a run, with the profile's intervals as a prior.

The bath of what was done is simulated, and the quantities that it can see are moved until it is that of the
log: a least-squares fit with each quantity's interval as a prior (Gauss and Newton's method; the posterior is
the usual normal one). A quantity is let go of its prior where the run asks for it most; that is done again
until no other one asks for it, so that one that drifted does not make others look as if they had.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from optimizer.check.box import Box, box_of
from optimizer.profile.machine import Machine
from optimizer.programme.plan import Plan
from optimizer.review.bath_courses import courses
from optimizer.review.delivered import Delivered
from optimizer.review.drifts import DRIFTING
from optimizer.review.run_log import RunLog

Array = NDArray[np.float64]

SIGMAS = 1.96
"""Standard deviations from the middle to an end of an interval of 95 % [1]."""

FREE = 12.0
"""Width of the prior of a quantity that is let go, over that of its interval [1]."""

ASKS = 4.5
"""Gain in twice the logarithm of the posterior at which a quantity is let go [1]: chi-square, 1 in 30."""

AS_WELL = 6.63
"""By less than this one explanation is no better than another [1]: chi-square, 1 in 100."""

SURE = 0.95
"""Probability from which a quantity is said to be outside its interval [1]."""

ALIKE = 0.5
"""Share of a quantity's gain from which another one is tried in its place [1]."""

MOST_FREE = 3
"""Quantities that are let go at the most [1]."""

DRAWS, SEED = 64, 1
"""Machines that are drawn from the posterior [1]."""

STEPS = 4
"""Steps of Gauss and Newton's method [1]."""

LOOKS_S = 15.0
"""Time between two readings that are compared [s]: those between tell the same once more."""

NOISE_K = 0.15
"""Least scatter of a reading about the simulated bath [K]: noise and resolution of a cheap thermometer."""

METER_SHARE = 0.015
"""Error of a plug-in meter, a standard deviation over the reading [1]: our choice, no source."""

SEEN_SHARE = 0.9
"""A quantity is seen by a run that leaves at most this share of its interval's width [1]."""

UNSEEN = ("voltage", "wash_pump", "drain", "drain_lag")
"""What a bath does not show, or not beside something else: fitted, and nothing is said of it."""

NO_HEAT = ("voltage_v", "mechanics_factor")
"""What is not fitted: the voltage stands for the element's power, and no bath knows how strong a spray is."""


@dataclass(frozen=True)
class Finding:
    """A quantity after a run.

    Attributes
    ----------
    word : str
        Which one, a key of `DRIFTING`.
    low, nominal, high : float
        Its interval in the profile, in its unit.
    value, value_low, value_high : float
        What the run says: most likely value and 95 % interval, by the run alone where it was let go.
    outside : float
        Probability that it lies outside its interval [1].
    free : bool
        Whether it was let go of its interval.
    seen : bool
        Whether the run says anything of it.
    """

    word: str
    low: float
    nominal: float
    high: float
    value: float
    value_low: float
    value_high: float
    outside: float
    free: bool
    seen: bool

    @property
    def verdict(self) -> str:
        """``inside``, ``at its edge``, ``outside`` or ``not seen``."""
        if self.outside >= SURE:
            return "outside"
        if not self.seen:
            return "not seen"
        return "at its edge" if self.outside > 0.5 or self.free else "inside"


@dataclass(frozen=True)
class MachineNow:
    """The machine of a run.

    Attributes
    ----------
    findings : tuple of Finding
        One a quantity that may drift and has a tolerance.
    scatter_k : float
        Of the log's bath about that of the machine found [K].
    table : dict of str to float
        The machine found, by the names of the tolerances.
    draws : dict of str to ndarray, shape (`DRAWS`,)
        Machines that the run allows, drawn from the posterior.
    instead : dict of str to tuple of str
        By a quantity that was let go: others that explain the run as well in its place.
    """

    findings: tuple[Finding, ...]
    scatter_k: float
    table: dict[str, float]
    draws: dict[str, Array]
    instead: dict[str, tuple[str, ...]] = field(default_factory=dict)

    @property
    def causes(self) -> list[tuple[str, ...]]:
        """What left its profile; each as one cause, with the others that this run cannot part from it."""
        return [(one.word, *self.instead.get(one.word, ())) for one in self.outside]

    @property
    def outside(self) -> list[Finding]:
        """Quantities outside their intervals."""
        return [one for one in self.findings if one.verdict == "outside"]


def machine_now(plan: Plan, log: RunLog, done: Delivered) -> MachineNow:
    """Fit the machine to a run whose bath was logged, or its ware."""
    fit = _Fit(plan, log, done)
    free = list[int]()
    x, slopes = fit.solved(np.zeros(fit.count), free)
    while len(free) < MOST_FREE:
        asks = fit.asks(x, slopes, free)
        which = int(asks.argmax())
        if asks[which] < ASKS:
            break
        free.append(which)
        x, slopes = fit.solved(x, free)
    for which in [*free][:-1] if len(free) > 1 else []:
        # What one quantity explains as well as two, one does.
        fewer = [one for one in free if one != which]
        again, again_slopes = fit.solved(x, fewer)
        if fit.cost(again, fewer) - fit.cost(x, free) < AS_WELL:
            free, x, slopes = fewer, again, again_slopes
    return fit.told(x, slopes, free, _instead(fit, x, slopes, free))


def _instead(fit: _Fit, x: Array, slopes: Array, free: Sequence[int]) -> dict[int, list[int]]:
    """Which quantities explain a run as well as one that was let go, let go in its place."""
    found: dict[int, list[int]] = {}
    if not free:
        return found
    best = fit.cost(x, free)
    for which in free:
        others = [one for one in free if one != which]
        held, held_slopes = fit.solved(np.where(np.arange(fit.count) == which, 0.0, x), others)
        asks = fit.asks(held, held_slopes, others)
        for other in np.flatnonzero(asks > ALIKE * asks[which]).tolist():
            if other in free:
                continue
            instead, _ = fit.solved(held, [*others, other])
            if fit.cost(instead, [*others, other]) - best < AS_WELL:
                found.setdefault(which, []).append(other)
    return found


class _Fit:
    """The fit; ``x`` are the quantities in standard deviations of their priors."""

    def __init__(self, plan: Plan, log: RunLog, done: Delivered) -> None:
        read_c = log.bath_c if log.bath_c is not None else log.ware_c
        assert read_c is not None
        self._by_ware = log.bath_c is None
        self._plan, self._done = plan, done
        self._box: Box = box_of(plan.inputs.machine)
        words = {name: word for word, (name, _) in DRIFTING.items() if word not in UNSEEN}
        fitted = [place for place, name in enumerate(self._box.names) if name not in NO_HEAT]
        self.names = [self._box.names[place] for place in fitted]
        self._words = [words.get(name) for name in self.names]
        self._low, self._high = self._box.low[fitted], self._box.high[fitted]
        self._nominal = self._box.nominal[fitted]
        self._add_voltage(plan.inputs.machine)
        self._middle, self._sd = 0.5 * (self._low + self._high), (self._high - self._low) / (2.0 * SIGMAS)
        self.count = len(fitted)
        self._metered = self._metered_element(plan.inputs.machine, log, done)
        lasts_s = float(sum(part.longest_s for part in done.parts))
        since_s = log.time_s - done.start_s
        looked = np.searchsorted(since_s, np.arange(0.0, lasts_s, LOOKS_S))
        looked = np.unique(looked[looked < len(since_s)])
        looked = looked[(since_s[looked] >= 0.0) & (since_s[looked] <= lasts_s)]
        looked = looked[np.isfinite(read_c[looked])]
        self._time_s, self._bath_c = since_s[looked], read_c[looked]
        # A thermometer in an empty tank reads what it likes.
        self._weights = self._in_water(self._time_s)
        self.scatter_k = NOISE_K

    def _add_voltage(self, machine: Machine) -> None:
        """The element's power moves with the voltage of the day: to a bath both are one quantity."""
        if "rated_w" in self.names:
            which, voltage = self.names.index("rated_w"), machine.supply.voltage_v
            self._low[which] *= (voltage.low / voltage.nominal) ** 2
            self._high[which] *= (voltage.high / voltage.nominal) ** 2

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

    def _in_water(self, time_s: Array) -> Array:
        ends_s = np.cumsum([part.longest_s for part in self._done.parts])
        # Nor is a bath well known while cold water falls into a hot rest of it: a second is a kelvin there.
        wet = np.array([part.wet and part.name not in ("fill", "top_up") for part in self._done.parts])
        part = np.minimum(np.searchsorted(ends_s, time_s, side="right"), len(wet) - 1)
        return wet[part].astype(float)

    def tables(self, xs: Array) -> dict[str, Array]:
        """Machines, one a row of ``xs``."""
        base = self._box.table(self._box.nominal)
        found = {name: np.full(len(xs), value) for name, value in base.items()}
        values = self._middle + self._sd * xs
        for place, name in enumerate(self.names):
            least = 1e-3 * self._nominal[place] if name not in ("inlet_c", "room_c") else 0.5
            kept = values[:, place]
            if not name.startswith("sensor"):
                kept = np.maximum(kept, least)
            found[name] = np.clip(kept, 0.0, 1.0) if name == "start_share" else kept
        return found

    def baths_c(self, xs: Array) -> Array:
        """Baths as the sensor reads them."""
        table = self.tables(xs)
        found = courses(self._plan, self._done.parts, table, self._time_s, ware=self._by_ware)
        # The tolerances know the error of the bath's sensor; a probe on the ware is taken as right.
        return found if self._by_ware else found + table["sensor_error_k"][:, None]

    def _prior(self, free: Sequence[int]) -> Array:
        width = np.ones(self.count)
        width[list(free)] = FREE
        return 1.0 / width

    def solved(self, x: Array, free: Sequence[int]) -> tuple[Array, Array]:
        """Gauss and Newton's method from a start: the solution, and the slopes of its last step."""
        prior = self._prior(free)
        for _ in range(STEPS):
            off, slopes = self._linear(x)
            normal = slopes.T @ slopes + np.diag(prior**2)
            step = np.linalg.solve(normal, -(slopes.T @ off) - prior**2 * x)
            x = np.clip(x + step, -60.0, 60.0)
            if float(np.abs(step).max()) < 0.02:
                break
        return x, slopes

    def _linear(self, x: Array) -> tuple[Array, Array]:
        """How far the bath is off, and its slopes in ``x``; both in standard deviations of a reading."""
        width = 0.25
        near = np.vstack([x, x + width * np.eye(self.count)])
        baths_c = self.baths_c(near)
        off_k = (baths_c[0] - self._bath_c) * self._weights
        counted = max(int(self._weights.sum()) - self.count, 1)
        self.scatter_k = max(NOISE_K, float(np.sqrt((off_k**2).sum() / counted)))
        slopes = (baths_c[1:] - baths_c[0]).T / width * self._weights[:, None]
        off, slopes = off_k / self.scatter_k, slopes / self.scatter_k
        if self._metered is None:
            return off, slopes
        which, rated_w = self._metered
        row = np.zeros((1, self.count))
        row[0, which] = self._sd[which] / (METER_SHARE * rated_w)
        now_w = self._middle[which] + self._sd[which] * x[which]
        return np.append(off, (now_w - rated_w) / (METER_SHARE * rated_w)), np.vstack([slopes, row])

    def cost(self, x: Array, free: Sequence[int]) -> float:
        """Twice the logarithm of the posterior, with its sign turned, in the noise of a cheap thermometer."""
        off_k = (self.baths_c(x[None])[0] - self._bath_c) * self._weights
        metered = 0.0
        if self._metered is not None:
            which, rated_w = self._metered
            now_w = self._middle[which] + self._sd[which] * x[which]
            metered = ((now_w - rated_w) / (METER_SHARE * rated_w)) ** 2
        return float((off_k**2).sum() / NOISE_K**2 + metered + ((self._prior(free) * x) ** 2).sum())

    def asks(self, x: Array, slopes: Array, free: Sequence[int]) -> Array:
        """By how much the posterior gains if a quantity is let go."""
        normal = slopes.T @ slopes + np.diag(self._prior(free) ** 2)
        share = np.diag(np.linalg.inv(normal))
        gains = np.where(share < 1.0 - 1e-9, x**2 / np.maximum(1.0 - share, 1e-9), 0.0)
        named = np.array([word is not None for word in self._words])
        gains[~named] = 0.0
        gains[list(free)] = 0.0
        return gains

    def told(
        self, x: Array, slopes: Array, free: Sequence[int], instead: Mapping[int, Sequence[int]]
    ) -> MachineNow:
        """Put the result into words of quantities."""
        normal = slopes.T @ slopes + np.diag(self._prior(free) ** 2)
        sds = np.sqrt(np.diag(np.linalg.inv(normal)))
        findings = []
        for place, word in enumerate(self._words):
            if word is None:
                continue
            value, sd = self._middle[place] + self._sd[place] * x[place], self._sd[place] * sds[place]
            findings.append(
                Finding(
                    word=word,
                    low=float(self._low[place]),
                    nominal=float(self._nominal[place]),
                    high=float(self._high[place]),
                    value=float(value),
                    value_low=float(value - SIGMAS * sd),
                    value_high=float(value + SIGMAS * sd),
                    outside=_outside(value, sd, self._low[place], self._high[place]),
                    free=place in free,
                    seen=bool(sds[place] < SEEN_SHARE) or place in free,
                )
            )
        table = {name: float(one[0]) for name, one in self.tables(x[None]).items()}
        half = np.linalg.cholesky(np.linalg.inv(normal))
        drawn = x + np.random.default_rng(SEED).standard_normal((DRAWS, self.count)) @ half.T
        joint = {
            str(self._words[which]): tuple(str(self._words[other]) for other in others)
            for which, others in instead.items()
        }
        return MachineNow(tuple(findings), self.scatter_k, table, self.tables(drawn), joint)


def _outside(value: float, sd: float, low: float, high: float) -> float:
    """Probability that a normal quantity lies outside an interval [1]."""
    from math import erf, sqrt

    def below(end: float) -> float:
        return 0.5 * (1.0 + erf((end - value) / (sd * sqrt(2.0))))

    return float(np.clip(1.0 - (below(high) - below(low)), 0.0, 1.0))
