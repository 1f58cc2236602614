"""Trim: with kinds and heat modes fixed, shave every duration until the targets just hold, then go to
whole seconds on the safe side.

The continuous step is scipy's SLSQP on the planner's own simulation, with gradients from one batch of
candidates; the whole-second step is a descent in which every move is checked in full.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimizer.planner.requirements import Assessor, Bill
from optimizer.planner.simulate import Mode, Settings, Structure

Array = NDArray[np.float64]

STEP = 1e-4
FEASIBLE = -1e-9
TIMED_C = np.inf


@dataclass(frozen=True)
class Trimmed:
    """A programme in whole seconds and tenths of a degree.

    Attributes
    ----------
    structure : Structure
        Kinds and heat modes.
    settings : Settings
        The one candidate.
    objective : float
        What the planner makes least [currency].
    """

    structure: Structure
    settings: Settings
    objective: float


class Space:
    """The numbers of one structure as a vector of variables, scaled to about 1.

    Parameters
    ----------
    assessor : Assessor
        Judges the candidates.
    structure : Structure
        Kinds and heat modes.
    """

    def __init__(self, assessor: Assessor, structure: Structure) -> None:
        self.assessor, self.structure = assessor, structure
        machine = assessor.inputs.machine
        self.rounds = len(structure.kinds)
        every = list(range(self.rounds))
        heated = [i for i in every if structure.modes[i] is not Mode.UNHEATED]
        thermostat = machine.element is not None and machine.element.control == "thermostat"
        self.slots: list[tuple[str, int]] = [("spray_s", i) for i in every]
        self.slots += [("element_s", i) for i in heated]
        if machine.inlet.control == "timed":
            self.slots += [("fill_s", i) for i in every]
        if thermostat:
            self.slots += [("setpoint_c", i) for i in heated]
        self.heated, self.thermostat = heated, thermostat
        self.scale = np.array([{"setpoint_c": 50.0, "fill_s": 100.0}.get(name, 600.0) for name, _ in self.slots])
        self.unit = np.array([0.1 if name == "setpoint_c" else 1.0 for name, _ in self.slots])
        self.low, self.high = self._bounds()

    def _bounds(self) -> tuple[Array, Array]:
        goal, machine = self.assessor.inputs.goal, self.assessor.inputs.machine
        longest_s = goal.limits.duration_min * 60.0
        slowest = self.assessor.simulator.cases.inlet_l_per_s.min()
        low = {"element_s": 1.0, "fill_s": machine.wash_pump.prime_l / slowest / 4.0, "setpoint_c": 20.0}
        high = {
            "element_s": longest_s,
            "spray_s": longest_s,
            "fill_s": machine.tank.capacity_l / slowest,
            "setpoint_c": machine.tank.limit_c,
        }
        lows = [
            self.assessor.spray_least_s(self.structure.kinds[i]) if name == "spray_s" else low[name]
            for name, i in self.slots
        ]
        return np.array(lows), np.array([high[name] for name, _ in self.slots])

    def settings(self, values: Array) -> Settings:
        """Unpack vectors of variables.

        Parameters
        ----------
        values : ndarray
            Candidates × variables, in their own units [s, °C].

        Returns
        -------
        Settings
            The candidates.
        """
        shape = (len(values), self.rounds)
        arrays = {
            "fill_s": np.zeros(shape),
            "element_s": np.zeros(shape),
            "spray_s": np.zeros(shape),
            "setpoint_c": np.full(shape, TIMED_C),
        }
        for column, (name, index) in enumerate(self.slots):
            arrays[name][:, index] = values[:, column]
        return Settings(**arrays)

    def pack(self, settings: Settings) -> Array:
        """Pack one candidate.

        Parameters
        ----------
        settings : Settings
            Settings with one candidate.

        Returns
        -------
        ndarray
            Its variables in their own units [s, °C].
        """
        values = np.array([getattr(settings, name)[0, index] for name, index in self.slots])
        return np.clip(values, self.low, self.high)

    def run(self, values: Array) -> tuple[Array, Bill]:
        """Margins and bill of candidates.

        Parameters
        ----------
        values : ndarray
            Candidates × variables [s, °C].

        Returns
        -------
        tuple
            Margins, candidates × requirements [1], and the bill.
        """
        margins, _, bill = self.assessor.run(self.structure, self.settings(values))
        return margins, bill


def trim(space: Space, start: Settings) -> Trimmed | None:
    """Find the cheapest numbers of a structure.

    Parameters
    ----------
    space : Space
        The structure's variables.
    start : Settings
        One candidate to start from; need not be feasible.

    Returns
    -------
    Trimmed or None
        The programme in whole seconds; None where none was found that holds.
    """
    values = _continuous(space, space.pack(start))
    whole = _whole(space, values)
    if whole is None:
        return None
    _, bill = space.run(whole[None])
    return Trimmed(space.structure, space.settings(whole[None]), float(bill.objective[0]))


def _continuous(space: Space, start: Array) -> Array:
    """SLSQP in scaled variables; the best point it saw that holds, else its last one."""
    from scipy.optimize import minimize

    scale = space.scale
    money = max(float(space.run(start[None])[1].objective[0]), 1e-9)
    seen: dict[bytes, tuple[float, Array, Array, Array]] = {}
    best: tuple[float, Array] | None = None

    def look(x: Array) -> tuple[float, Array, Array, Array]:
        nonlocal best
        key = x.tobytes()
        if key not in seen:
            batch = np.vstack([x, x + STEP * np.eye(len(x))])
            margins, bill = space.run(batch * scale)
            cost = bill.objective / money
            seen.clear()
            seen[key] = (float(cost[0]), (cost[1:] - cost[0]) / STEP, margins[0], (margins[1:] - margins[0]).T / STEP)
            if margins[0].min() >= FEASIBLE and (best is None or cost[0] < best[0]):
                best = (float(cost[0]), x.copy())
        return seen[key]

    result = minimize(
        lambda x: look(x)[0],
        start / scale,
        jac=lambda x: look(x)[1],
        bounds=list(zip(space.low / scale, space.high / scale, strict=True)),
        constraints=[{"type": "ineq", "fun": lambda x: look(x)[2], "jac": lambda x: look(x)[3]}],
        method="SLSQP",
        options={"maxiter": 60, "ftol": 1e-6},
    )
    last = np.clip(result.x, space.low / scale, space.high / scale)
    if best is not None and (look(last)[2].min() < -1e-5 or best[0] < look(last)[0]):
        return best[1] * scale
    return np.asarray(last * scale)


def _whole(space: Space, values: Array) -> Array | None:
    """Round up, repair what rounding broke, then step every number down as far as it goes."""
    unit = space.unit
    low, high = np.ceil(space.low / unit), np.floor(space.high / unit)
    now = np.clip(np.ceil(values / unit - 1e-6), low, high)
    moves = np.vstack([np.eye(len(now)), -np.eye(len(now))])
    for _ in range(40):
        margins, _ = space.run((now * unit)[None])
        if margins.min() >= FEASIBLE:
            return _descend(space, now, low, high)
        tries = np.clip(now + np.vstack([moves, 4.0 * moves, 16.0 * moves]), low, high)
        margins, _ = space.run(tries * unit)
        short = np.minimum(margins, 0.0).sum(axis=1)
        now = tries[int(short.argmax())]
    return None


def _descend(space: Space, start: Array, low: Array, high: Array) -> Array:
    """Single steps down, and pairs of one up and one down, while the cost falls and all margins hold."""
    unit, size = space.unit, len(start)
    now = start
    single = -np.eye(size)
    pairs = np.array([np.eye(size)[i] - np.eye(size)[j] for i in range(size) for j in range(size) if i != j])
    cost = float(space.run((now * unit)[None])[1].objective[0])
    for step in (16.0, 4.0, 1.0):
        for moves in (single, pairs) if step == 1.0 else (single,):
            while True:
                tries = np.clip(now + step * moves, low, high)
                margins, bill = space.run(tries * unit)
                prices = np.where(margins.min(axis=1) >= FEASIBLE, bill.objective, np.inf)
                pick = int(prices.argmin())
                if not prices[pick] < cost - 1e-12:
                    break
                now, cost = tries[pick], float(prices[pick])
    return np.asarray(now * unit)
