"""Numbers that the tests cannot tell apart, from the Jacobian, and the test that would part them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from optimizer.measure.bench_log import BenchLog
from optimizer.measure.estimate import Instruments
from optimizer.measure.joint_fit import Fitted
from optimizer.measure.profile_likelihood import COVER
from optimizer.measure.thermal_model import begins_s, ends_s
from optimizer.measure.thermal_parameters import KEY_OF, Parameters
from optimizer.measure.thermal_problem import Problem
from optimizer.measure.thermal_sessions import bench_of
from optimizer.measure.thermal_test import Inseparable, Known, ThermalTest
from optimizer.physics import Array
from optimizer.units import S_PER_MIN, figure

OPEN = 0.5
"""A number is settled where the half-width of its interval is at most this share of it, or of 0.5 for a share
of the pump's power [1]."""

GOOD = 0.12
"""A test is said to part numbers where it brings the half-widths of all of them to this share [1]."""

IN_IT = 0.5
"""A number is in the group of the direction that this share at least of its variance comes from [1]."""

EVERY_S = 10.0
"""Rows of a test that is only thought of are so far apart [s]."""


@dataclass(frozen=True)
class Design:
    """A test that might be added: what is done, its tests, and for how long it is logged [min]."""

    do: str
    tests: tuple[ThermalTest, ...]
    minutes: float

    @property
    def with_ware(self) -> bool:
        """Whether it takes the load."""
        return any(test.ware_in for test in self.tests)


def half_widths(covariance: Array, parameters: Parameters) -> dict[str, float]:
    """Half-widths of the wanted numbers by the covariance, as shares of the number (of 1 for a share) [1]."""
    return {
        name: COVER * float(np.sqrt(covariance[at, at]))
        for name in parameters.wanted
        for at in [parameters.index[(name, -1)]]
    }


def groups(fit: Fitted, open_names: Sequence[str]) -> list[tuple[str, ...]]:
    """Group numbers that are open by the directions that the tests do not see.

    Parameters
    ----------
    open_names : sequence of str
        Short names of the numbers that are not settled.

    Returns
    -------
    list of tuple of str
        Short names, each of the open ones in one group.

    Notes
    -----
    The Jacobian's columns of the wanted numbers, freed by a QR decomposition of what the nuisance parameters
    can do as well, are decomposed into singular values (SVD). The right vectors of the small ones are the
    combinations of numbers that the tests do not see.
    """
    parameters = fit.problem.parameters
    places = [parameters.index[(name, -1)] for name in parameters.wanted]
    others = np.delete(np.arange(len(parameters.list)), places)
    ordered = np.column_stack([fit.slopes[:, others], fit.slopes[:, places]])
    triangle = np.linalg.qr(ordered).R
    _, singular, directions = np.linalg.svd(triangle[len(others) :, len(others) :])
    spread = (directions / singular[:, None]) ** 2
    spread = spread / spread.sum(axis=0)
    left, found = [name for name in parameters.wanted if name in open_names], []
    for direction in np.argsort(singular):
        members = [
            name for name, part in zip(parameters.wanted, spread[direction], strict=True) if part >= IN_IT
        ]
        members = [name for name in members if name in left]
        if members:
            found.append(tuple(members))
            left = [name for name in left if name not in members]
    return found + [(name,) for name in left]


def alone_share(fit: Fitted, names: Sequence[str]) -> float:
    """Widest half-width of a group's numbers if the others of it were known [1]."""
    parameters = fit.problem.parameters
    places = [parameters.index[(name, -1)] for name in names]
    inside = np.linalg.inv(fit.covariance[np.ix_(places, places)])
    return float(COVER / np.sqrt(np.diag(inside).min()))


def open_numbers(
    fit: Fitted, open_names: Sequence[str], instruments: Instruments, known: Known
) -> tuple[Inseparable, ...]:
    """Say what the tests leave open, and which test would settle it.

    Parameters
    ----------
    open_names : sequence of str
        Short names of the numbers that are not settled.

    Returns
    -------
    tuple of Inseparable
        One a group.
    """
    found = []
    for names in groups(fit, open_names):
        keys = tuple(KEY_OF[name] for name in names)
        if len(names) == 1:
            sentence = f"the tests do not settle {keys[0]}"
        elif alone_share(fit, names) <= OPEN:
            sentence = f"the tests cannot tell {_listed(keys)} apart"
        else:
            sentence = f"the tests do not settle {_listed(keys)}"
        design, share = _best(fit, names, instruments, known)
        if design is None:
            found.append(Inseparable(keys, sentence, "none of the usual tests", 0.0))
            continue
        ends = f" (about ± {figure(100.0 * share, 2)} %)" if share <= OPEN else ", which still leaves it wide"
        found.append(Inseparable(keys, sentence, design.do + ends, design.minutes))
    return tuple(found)


def _listed(keys: Sequence[str]) -> str:
    return f"{', '.join(keys[:-1])} and {keys[-1]}"


def _best(
    fit: Fitted, names: Sequence[str], instruments: Instruments, known: Known
) -> tuple[Design | None, float]:
    """Shortest test that settles the numbers well, or else the one that settles them best."""
    tried = []
    for design in designs(fit, instruments, known):
        if design.with_ware and not set(names) & {"quick", "slow"}:
            continue
        share = widest_with(fit, design, names, instruments, known)
        tried.append((share > GOOD, design.minutes if share <= GOOD else share, share, design))
    if not tried:
        return None, np.inf
    _, _, share, design = min(tried, key=lambda one: one[:3])
    return design, share


def widest_with(
    fit: Fitted, design: Design, names: Sequence[str], instruments: Instruments, known: Known
) -> float:
    """Widest half-width that some numbers would have with a test added [1]."""
    old = fit.problem.bench.tests
    replaced = {test.name for test in design.tests}
    tests = [test for test in old if test.name not in replaced] + list(design.tests)
    parameters = Parameters(bench_of(tests, known), instruments, known)
    index = fit.problem.parameters.index
    at = np.array([fit.coordinates[index[name]] if _same(name, fit) else 0.0 for name in parameters.names])
    problem = Problem(parameters)
    problem.weigh(fit.noise)
    slopes = problem.jacobian(at)
    widths = half_widths(np.asarray(np.linalg.inv(slopes.T @ slopes), float), parameters)
    return max(widths.get(name, np.inf) for name in names)


def _same(name: tuple[str, int], fit: Fitted) -> bool:
    """Whether a parameter means the same in the old fit: sessions are counted anew."""
    return name[1] == -1 and name in fit.problem.parameters.index


def designs(fit: Fitted, instruments: Instruments, known: Known) -> list[Design]:
    """Tests that might be added: those of the protocol, and those that were made, logged for longer."""
    tests = fit.problem.bench.tests
    room_c = float(np.median([test.room_c for test in tests]))
    water_kg = max(test.water_kg for test in tests)
    values = fit.problem.parameters
    element_w = 900.0
    if "element" in values.wanted:
        place = values.index[("element", -1)]
        element_w = float(values.list[place].value(fit.coordinates[place]))
    elif "element.rated_w" in known.like:
        element_w = known.like["element.rated_w"].nominal

    def thought(name: str, minutes: float, pump_on: bool, start_c: float, **rest: object) -> ThermalTest:
        time_s = np.arange(0.0, minutes * S_PER_MIN + 1.0, EVERY_S)
        ware_c = np.full(len(time_s), start_c) if rest.get("ware_in") else None
        log = BenchLog(name, time_s, np.full(len(time_s), start_c), ware_c)
        return ThermalTest(name, log, water_kg, room_c, pump_on, **rest)  # type: ignore[arg-type]

    found = []
    pump, ware = known.pump_w is not None, known.ware_kj_per_k is not None
    cooling = thought("a cooling", 12.0, False, 58.0, follows="a hot pour")
    if pump:
        alone = thought("a pump alone", 20.0, True, room_c, stood_at_room=True)
        pour = thought("a hot pour", 10.0, True, 58.0, poured_c=60.0)
        do = "pour water of 60 °C into the dry tank and spray at once"
        found.append(Design(f"{do}, for 10 min", (pour,), 10.0))
        found.append(Design(f"{do}, for 10 min, then 12 min with the pump off", (pour, cooling), 22.0))
        do = "spray water that stood until it was as warm as the room"
        found.append(Design(f"{do}, for 20 min", (alone,), 20.0))
        if known.rated_v is not None:
            # The heater goes on until the water is as hot as it may get.
            heated = thought("an element", 10.0, True, room_c, element_from_s=0.0, follows="a pump alone")
            reading_w = np.full(len(heated.log.time_s), element_w + known.pump_w.nominal)  # type: ignore[union-attr]
            heated = replace(heated, log=replace(heated.log, power_w=reading_w))
            found.append(Design(f"{do}, for 20 min, then 10 min with the element on", (alone, heated), 30.0))
    else:
        pour = thought("a hot pour", 22.0, False, 58.0, poured_c=60.0)
        found.append(Design("pour water of 60 °C into the dry tank, for 22 min", (pour,), 22.0))
    if ware:
        still = thought("a load", 5.0, False, 52.0, ware_in=True, poured_c=52.0)
        do = "pour water of 52 °C over the cold load, a probe on a plate, for 5 min"
        found.append(Design(do, (still,), 5.0))
        if pump:
            sprayed = thought("a load sprayed", 4.0, True, 50.0, ware_in=True, follows="a load")
            found.append(Design(f"{do}, then 4 min with the pump on", (still, sprayed), 9.0))
    followed = {test.follows for test in tests}
    for test in tests:
        lasts_s = ends_s(test) - begins_s(test)
        for times in (2.0, 4.0, 8.0):
            if test.name in followed or lasts_s * times > 4 * 3600.0:
                continue
            # Rows of the protocol's spacing: the noise goes by time, not by rows.
            time_s = begins_s(test) + np.arange(0.0, times * lasts_s + 1.0, max(EVERY_S, lasts_s / 100.0))
            column = np.full(len(time_s), float(test.log.bath_c[0]))
            log = BenchLog(test.log.name, time_s, column, None if test.log.ware_c is None else column)
            minutes = times * lasts_s / S_PER_MIN
            do = f'log "{test.name}" for {figure(minutes, 2)} min'
            longer = replace(test, log=log, ends_s=None, meter_kwh=())
            found.append(Design(do, (longer,), minutes))
    return found
