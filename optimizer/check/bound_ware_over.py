"""How much hotter than its bath the ware may be: a bound of the difference itself.

The hottest ware less the coldest bath, each by its own course, says too much: the ware is hottest where the
tank that cools the new bath is hot as well. With D = W - T, ware less bath, the equations of the check are::

    dD/dt = - D (1/tau + G / C) - P / C + UA (W - D - T_room) / C + m'_in c (W - D - T_inlet) / C

C the heat capacity of bath and tank. Its right side rises with W, for which the upper course stands. So D is
bounded by W's upper course, the coldest room and inlet, the least C (the most where heat P comes in, of which
the least counts) and the most of UA and m'_in; it is not let under 0. While water runs in,
``s = ln C`` takes the place of the time t, with ``dt/ds = C / (m'_in c)``::

    dD/ds = (W - D - T_inlet) + UA / (m'_in c) (W - D - T_room) - D / tau dt/ds

A film that mixes into the bath, or is left on the ware, brings the two nearer to each other.
"""

from __future__ import annotations

import numpy as np

from optimizer.check.bound_equations import Bounding
from optimizer.check.bound_sides import C0_J_PER_KG_K
from optimizer.check.bound_steps import Bounds
from optimizer.check.worst_cases import Array
from optimizer.compiled import compiled

WATER_VARIES = 0.01
"""Share by which the specific heat of water differs from the constant at most, 0 to 100 °C [1]."""

FILL_PARTS = 16
"""Steps of a fill [1]."""


@compiled
def follow(course: Array, stay: Array, gone: Array, rises: Array, loses: Array, over_k: Array) -> None:
    """Follow D from the first row of its course on, steps × boxes; row by row.

    Of each step: what share of D is there at its end, the seconds that count of what acts in it, the rise of
    D by heat and by losses, and how much hotter than the room the ware is.
    """
    steps, count = stay.shape
    for step in range(steps):
        for box in range(count):
            early_k, left_s = course[step, box], gone[step, box]
            late_k = early_k * stay[step, box] + rises[step, box] * left_s
            # The bath loses most where it is hottest: where D, without these losses, is least. Comparisons
            # are turned round so that what is no number stays none.
            hot_k = over_k[step, box] - (early_k if late_k > early_k else late_k)
            hot_k = 0.0 if hot_k < 0.0 else hot_k
            most_k = late_k + loses[step, box] * hot_k * left_s
            course[step + 1, box] = 0.0 if most_k < 0.0 else most_k


class WareOver:
    """Follows the bounds of one course; ``most_k`` is the bound of D at the end of the last phase [K]."""

    def __init__(self, eqs: Bounding, over_k: Array) -> None:
        """Begin with the bound of D as the run begins [K]."""
        self._eqs, self.most_k = eqs, over_k

    def add(self, bounds: Bounds, *, carried: Array) -> None:
        """Count a phase; ``carried``: whether the drain before came down to the carry-over, box by box."""
        phase = bounds.phase
        if phase.steam:
            # Steam warms the ware up to the bath, and no further.
            return
        pool_kg = self._least_pool_kg(bounds, carried)
        if phase.name in ("fill", "top_up"):
            self._fill(bounds, pool_kg[0])
        else:
            self._still_or_sprayed(bounds, pool_kg)

    def _least_pool_kg(self, bounds: Bounds, carried: Array) -> Array:
        """Least water of the bath, the film left out: a row a sample."""
        eqs = self._eqs
        film_kg = 0.0 if bounds.phase.outputs.wash_pump else eqs.all_film_kg[0]
        pool_kg = np.maximum(bounds.water_kg[:, 1] - film_kg, 0.0)
        # Of the carry-over the film is no more and no less than there is of it.
        wet = eqs.start_share[1] if bounds.phase.round <= 0 else 1.0
        return np.where(carried, np.maximum(pool_kg, wet * eqs.residual_kg[1]), pool_kg)

    def _fill(self, bounds: Bounds, pool_kg: Array) -> None:
        eqs = self._eqs
        ware_c = bounds.ware_c[:, 1].max(axis=0)
        inlet_c, room_c = eqs.inlet_c[0], eqs.room_c[0]
        inlet_c = np.where(eqs.pipe_s[0] > 0.0, np.minimum(inlet_c, room_c), inlet_c)
        if bounds.phase.end == "level":
            let_in_kg = np.maximum(bounds.water_kg[-1, 0] - bounds.water_kg[0, 1], 0.0)
        else:
            let_in_kg = np.maximum(eqs.flow[0], eqs.pipe_kg_per_s[0]) * bounds.phase.longest_s
        few, many = C0_J_PER_KG_K * (1.0 - WATER_VARIES), C0_J_PER_KG_K * (1.0 + WATER_VARIES)
        before = few * pool_kg + eqs.tank[1]
        parts = np.log1p(many * let_in_kg / before) / FILL_PARTS
        slowest = np.minimum(eqs.flow[1], eqs.pipe_kg_per_s[1]) * few
        quickest = np.maximum(eqs.flow[0], eqs.pipe_kg_per_s[0]) * many
        # Seconds for s to rise by one, over tau: the more has been let in the longer it takes.
        decays = np.empty((FILL_PARTS, len(parts)))
        decays[0], grow = before / quickest / self._still_lag_s, np.exp(parts)
        for number in range(1, FILL_PARTS):
            decays[number] = decays[number - 1] * grow
        over_inlet_k = (ware_c - inlet_c) / (1.0 + decays)
        loss, most_k = eqs.loss[0][0] / slowest, self.most_k
        for over_k, stays in zip(over_inlet_k, np.exp(-(1.0 + decays) * parts), strict=True):
            lost_k = loss * np.maximum(ware_c - most_k - room_c, 0.0) * parts
            over_k = np.maximum(over_k, most_k)
            most_k = over_k - (over_k - most_k) * stays + lost_k
        self.most_k = most_k

    @property
    def _still_lag_s(self) -> Array:
        """Longest time constant of a ware with a film, the pump off [s]."""
        eqs = self._eqs
        film = C0_J_PER_KG_K * eqs.all_film_kg[0] / eqs.ware[1]
        return np.asarray(eqs.response_s[0][0] * (1.0 + film))

    def _still_or_sprayed(self, bounds: Bounds, pool_kg: Array) -> None:
        eqs, spraying = self._eqs, int(bounds.phase.outputs.wash_pump)
        lag_s = eqs.response_s[1][0] if spraying else self._still_lag_s
        few, many = C0_J_PER_KG_K * (1.0 - WATER_VARIES), C0_J_PER_KG_K * (1.0 + WATER_VARIES)
        least = few * np.minimum(pool_kg[:-1], pool_kg[1:]) + eqs.tank[1]
        most = many * np.maximum(bounds.water_kg[:-1, 0], bounds.water_kg[1:, 0]) + eqs.tank[0]
        decays = (1.0 + eqs.ware[1] / most) / lag_s
        heats = bounds.phase.outputs.element and not bounds.phase.cycles
        rises = -eqs.element_w[0] / most if heats else np.zeros_like(most)
        loses = eqs.loss[spraying][0] / least
        over_k = np.maximum(bounds.ware_c[:-1, 1], bounds.ware_c[1:, 1]) - eqs.room_c[0]
        steps_s = np.diff(bounds.time_s)
        stay = np.exp(-steps_s[:, None] * decays)
        gone = (1.0 - stay) / decays
        course = np.empty((len(steps_s) + 1, len(self.most_k)))
        course[0] = self.most_k
        follow(course, stay, gone, rises, loses, over_k)
        # A sensor may end a heating at any moment.
        self.most_k = course[-1] if bounds.phase.end == "time" else course.max(axis=0)
