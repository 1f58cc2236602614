"""The lower course of a bath that a thermostat holds while the pump sprays: heated, then fallen.

Each point of a box is at a first time t1 found to be at or above the temperature at which its thermostat
switches off, at the start or later. Until then it is heated all the time. After it the bath falls, and is
heated again at its lower threshold at the latest. With the lowest and the highest upper threshold ``off`` of
the box, the lowest lower one ``on``, the mixed temperature S, the ware W and the bath T (see
`bound_equations`), these bound it:

- **A**, the lower course of baths that are heated all the time (Müller, Kamke): ``T(t) >= A(t)`` for
  ``t <= t1``. A reaches ``off_high`` by the time at which every point has been switched off. The upper
  course, heated up to ``off_high`` and held there, is above all points, and below ``off_low`` as long as
  none has been switched off. So t1 lies between the two times; it is cut into `PARTS`, and each point
  belongs to one of them, say from u to v. Where A does not get to ``off_high`` the last part goes on to the
  end, and holds the points that are never switched off.
- **B**, back in time from the switching. At t1 ``T >= off_low`` and, as it was heated, ``T >= A(t1)``, and W
  is not below A's ware: so S is at least some S1, the least of this for t1 from u to v. No heated S rises
  quicker than a rate r(t), by most power, least heat capacity, and the least loss of a bath at A or above.
  If S were below ``S1 - (integral of r from t to v)`` at some t < t1, it could not be at S1 at t1. So
  ``S(t) >= B(t)`` there. (A point that starts low rises late, but one that is switched off early has
  started high; this is what B knows and A does not.)
- **L**, a line. One point keeps its quantities: up to t1 the slope of its S differs by the loss of its bath
  alone, which is between A's coldest bath and the hottest, and by next to nothing for what evaporates: by
  ``omega`` at the most. So S is nowhere under the straight line from its start to S1, if that is higher, by
  more than ``omega t (t1 - t) / t1``: it rises at least as the least of its slopes from the start, at most as
  the greatest to its end, and the line's own slope is between the two. The line to t1 = v is under that to
  any t1 before it. (B and L know of a point that is switched off early that it was heated quickly; B by the
  most power of all, L by that of the point.)
- **F**, from u on: it starts at ``T = max(off_low, least A from u to v)`` and the least S of such a bath.
  Its slope is the least of an element that is off. At or below ``on_low`` the element of a point that has
  been switched off is surely on: there F may rise, up to ``on_low`` and not beyond. Until v, F is kept at or
  below that start (and its S below that of such a bath beside the coldest ware), so that it is below every
  point of the part at its t1, and by its slopes from then on. F's element is never taken to be on in the
  equation of S. But as every such ``T >= F`` and W is known, S is at least that of the two.

A point of the part has ``T >= max(A, near(max(A's S, B, L), W))`` up to t1, where ``near`` is the least bath
of S and W, and ``T >= F`` after it. The ware of the part is warmed by the first up to u, by the colder of the
two from u to v, by F from v on. Each point has at least the dose of its part, so the least of all parts
bounds a dose; the lower course that later phases go on from is the coldest of the parts at its end.

But for L, each inequality asks, at each moment, for ends of the box only, and holds for quantities that
wander in their box while the bath is held, the sensor's error too, as far as other phases' bounds do. It
takes the thermostat as the check has it: it looks all the time, at a bath that the pump stirs, without a lag;
the film is part of the bath while the pump sprays; an element that is on gives its power at once. The steps
in time are allowed for as in other phases, see `bound_aims.STEPS_SHARE`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimizer.check.bound_equations import Bounding
from optimizer.check.bound_kernel_apart import all_starts
from optimizer.check.bound_kernel_hold import BEND_K, all_falls
from optimizer.check.bound_kernel_swing import KINDS, NUMBERS, all_swings
from optimizer.check.bound_sides import C0_J_PER_KG_K, Acting
from optimizer.check.bound_steps import SHARED_LEAST, Means
from optimizer.check.worst_cases import Array, Bools
from optimizer.second_thread import in_halves

EDGES = (0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.65, 0.8, 1.0)
"""Where the parts of the time in which points are first switched off begin and end, shares of it [1]: points
of early ones have the greater doses, so these may be long."""

PARTS = len(EDGES) - 1
"""How many parts there are [1]."""

FINE_EDGES = (0.0, 0.05, 0.1, 0.15, 0.2, 0.25, 0.3, 0.35, 0.4, 0.45, 0.5, 0.575, 0.65, 0.725, 0.8, 0.9, 1.0)
"""The same of a dose that is to be nearer still [1]."""

LEAST_STEPS = 0.5
"""What is shorter than this share of a step is not split as finely [1]."""

TIMED = 0.05
"""Share of the time since the last sample by which the time of a switching may be off [1]: a slope is not
quite that at either end of a step."""

Numbers = NDArray[np.int64]


@dataclass(frozen=True)
class Heated:
    """Courses of baths that are heated up to the highest threshold, and held there: as of `BoundCourse`.

    Attributes
    ----------
    time_s : ndarray
        Times of the samples [s].
    samples, slopes : ndarray
        Samples × (mixed, ware, bath, water) × (lower course, upper course) × boxes.
    """

    time_s: Array
    samples: Array
    slopes: Array


@dataclass(frozen=True)
class Held:
    """A hold between its bounds.

    Attributes
    ----------
    samples : ndarray
        As those of `Heated`.
    ware_c, ware_slope : ndarray
        Lower course of the ware and its slope, of each part: samples × parts × boxes [°C, K/s].
    means : Means
        About which the bath swings, of each part.
    """

    samples: Array
    ware_c: Array
    ware_slope: Array
    means: Means


@dataclass(frozen=True)
class _Parts:
    """When points of a part are first switched off: parts × boxes.

    Attributes
    ----------
    first, last : ndarray
        Number of the sample at which a part begins, and of that at which it ends; the number of samples and
        more where that is never [1].
    share : ndarray
        How much of the step after ``first`` is over as it begins [1].
    ends_s : ndarray
        When it ends [s].
    lasts : ndarray
        Whether it takes any time; the first one counts as if it did.
    from_c : ndarray
        Least bath at that time [°C].
    mixed_c : ndarray
        Least mixed temperature at that time [°C]; -inf where a point may stay on up to the end.
    """

    first: Numbers
    last: Numbers
    share: Array
    ends_s: Array
    lasts: Bools
    from_c: Array
    mixed_c: Array

    def of(self, boxes: slice) -> tuple[Numbers, Numbers, Array, Array, Bools, Array, Array]:
        """All of it for some boxes."""
        return (
            np.ascontiguousarray(self.first[:, boxes]),
            np.ascontiguousarray(self.last[:, boxes]),
            np.ascontiguousarray(self.share[:, boxes]),
            np.ascontiguousarray(self.ends_s[:, boxes]),
            np.ascontiguousarray(self.lasts[:, boxes]),
            np.ascontiguousarray(self.from_c[:, boxes]),
            np.ascontiguousarray(self.mixed_c[:, boxes]),
        )


class Hold:
    """A hold of some boxes."""

    def __init__(
        self, eqs: Bounding, acting: Acting, heated: Heated, edges: tuple[float, ...] = EDGES
    ) -> None:
        self._eqs, self._heated, self._edges = eqs, heated, edges
        assert acting.on_below_c is not None
        self._acting, self._on_c = acting, acting.on_below_c
        self._parts = self._split()
        self._gained_k = _gained_k(eqs, acting, heated)

    def _split(self) -> _Parts:
        """Split the time in which points are first switched off."""
        eqs, acting, samples = self._eqs, self._acting, self._heated.samples
        assert acting.off_low_c is not None
        assert acting.cap_c is not None
        count, box = len(samples), np.arange(eqs.count)
        begins = self._reached(1, acting.off_low_c, np.maximum, 1.0 - TIMED)
        ended = np.maximum(self._reached(0, acting.cap_c, np.minimum, 1.0 + TIMED), begins)
        edges = begins + np.array(self._edges)[:, None] * np.maximum(ended - begins, LEAST_STEPS)
        edges = np.minimum(edges, ended)
        first, last = np.floor(edges[:-1]).astype(int), np.ceil(edges[1:]).astype(int)
        number = np.arange(count)[:, None, None]
        during = (number >= np.minimum(first, count - 1)) & (number <= last)
        ware_c, bath_c = (np.where(during, samples[:, None, row, 0], np.inf).min(axis=0) for row in (1, 2))
        from_c = np.maximum(acting.off_low_c, bath_c)
        most_kg = samples[np.minimum(first, count - 1), 3, 0, box]
        least_kg = samples[np.minimum(last, count - 1), 3, 1, box]
        mixed_c = eqs.least_mixed(acting, from_c, ware_c, np.stack([most_kg, least_kg]))
        ends_s = np.interp(edges[1:], np.arange(count), self._heated.time_s)
        lasts = edges[1:] > edges[:-1]
        lasts[0] = True
        return _Parts(
            first, last, edges[:-1] - first, ends_s, lasts, from_c, np.where(last < count, mixed_c, -np.inf)
        )

    def _reached(self, row: int, at_c: Array, slope_of: Callable[..., Array], times: float) -> Array:
        """When a course comes to a temperature, by one of its slopes before and after: in samples.

        How many samples there are if it never does. A course is kept at its cap: the sample after it may be
        of no use but for its slope.
        """
        heated = self._heated
        count, box = len(heated.samples), np.arange(self._eqs.count)
        after = _first(heated.samples[:, 2, row] >= at_c)
        there = np.clip(after, 1, count - 1)
        short_k = at_c - heated.samples[there - 1, 2, row, box]
        slope = slope_of(heated.slopes[there - 1, 2, row, box], heated.slopes[there, 2, row, box])
        needs_s = np.divide(times * short_k, slope, out=np.full_like(short_k, np.inf), where=slope > 0.0)
        step_s = heated.time_s[there] - heated.time_s[there - 1]
        if slope_of is np.maximum:
            needs_s = np.where(slope > 0.0, needs_s, 0.0)
        share = np.clip(needs_s / step_s, 0.0, 1.0)
        return np.where(after == 0, 0.0, np.where(after < count, there - 1 + share, float(count)))

    def run(self) -> Held:
        """Bound the hold."""
        eqs, acting, heated, parts = self._eqs, self._acting, self._heated, self._parts
        on_c = np.broadcast_to(self._on_c, eqs.count).astype(float)
        samples, courses = (
            np.ascontiguousarray(np.moveaxis(each, -1, 0)) for each in (heated.samples, heated.slopes)
        )
        boxes, vent, gained_k = eqs.packed(acting), eqs.vent_kw_per_kpa(acting), self._gained_k.T.copy()
        count = len(self._edges) - 1
        lower, slopes = (
            np.empty((eqs.count, count, len(samples[0]), 4)),
            np.empty((eqs.count, count, len(samples[0]))),
        )
        begins = np.empty((KINDS, count, eqs.count), dtype=int)
        numbers = np.empty((NUMBERS, KINDS, count, eqs.count))
        assert acting.off_low_c is not None
        off_low_c = acting.off_low_c

        def half(begin: int, end: int) -> None:
            some = slice(begin, end)
            first, last, share, ends_s, lasts, from_c, mixed_c = parts.of(some)
            later = first + share > 0.0
            starts_c = all_starts(boxes[some], samples[some], off_low_c[some], later, last, ends_s)
            fallen = all_falls(
                heated.time_s, boxes[some], vent, samples[some], courses[some], gained_k[some],
                first, last, share, ends_s, lasts, from_c, mixed_c, on_c[some], starts_c,
            )  # fmt: skip
            begins[..., some], numbers[..., some] = all_swings(
                heated.time_s, boxes[some], samples[some], *fallen,
                first, last, share, ends_s, lasts, from_c, off_low_c[some], (off_low_c - on_c)[some],
                starts_c, later,
            )  # fmt: skip
            lower[some], slopes[some] = fallen

        in_halves(half, 0, eqs.count, SHARED_LEAST)
        means = Means(begins, numbers)
        # The boxes come last elsewhere.
        return self._joined(lower.transpose(2, 3, 1, 0), slopes.transpose(2, 1, 0), means)

    def _joined(self, lower: Array, slopes: Array, means: Means) -> Held:
        """What bounds all points together: the colder one of A, while it counts, and of each F."""
        parts, samples = self._parts, self._heated.samples.copy()
        number = np.arange(len(samples))[:, None]
        heats = number < parts.last[-1]
        begun = number[:, None] >= parts.first
        for row in (0, 2):
            fallen_c = np.where(begun, lower[:, row], np.inf).min(axis=1)
            samples[:, row, 0] = np.minimum(np.where(heats, samples[:, row, 0], np.inf), fallen_c)
        samples[:, 1, 0] = lower[:, 1].min(axis=1)
        samples[:, 3, 0] = lower[:, 3].max(axis=1)
        return Held(samples, lower[:, 1], slopes, means)


def _gained_k(eqs: Bounding, acting: Acting, heated: Heated) -> Array:
    """By how much the mixed temperature may have risen at the most since the start: samples × boxes [K]."""
    assert acting.switched_w is not None
    loss = eqs.loss[int(acting.spraying)]
    rates = []
    for _, ware, bath, water in heated.samples:
        over_k = bath[0] - eqs.room_c[1]
        net_w = acting.heat_w[1] + acting.switched_w[1] - np.where(over_k > 0.0, loss[1], loss[0]) * over_k
        # Vapour takes water along that may be colder than the mixture.
        colder_k = np.maximum(ware[1] - bath[0], 0.0) + BEND_K
        net_w = net_w + eqs.evaporation(bath, acting.wet)[1] * C0_J_PER_KG_K * colder_k
        rates.append(np.maximum(net_w, 0.0) / (C0_J_PER_KG_K * water[1] + eqs.tank[1] + eqs.ware[1]))
    rate = np.array(rates)
    steps_k = np.maximum(rate[1:], rate[:-1]) * np.diff(heated.time_s)[:, None]
    return np.concatenate([np.zeros_like(rate[:1]), np.cumsum(steps_k, axis=0)])


def _first(there: Bools) -> Numbers:
    """Number of the first sample for which something holds, else how many there are: one a box."""
    return np.asarray(np.where(there.any(axis=0), there.argmax(axis=0), len(there)))
