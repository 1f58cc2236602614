"""Tests become sessions (one body of water each) and series (readings of one probe in one test)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from optimizer.measure.thermal_model import Reader, Switched, begins_s, ends_s, step_ends_s
from optimizer.measure.thermal_test import Known, ThermalTest
from optimizer.physics import Array

Bools = NDArray[np.bool_]
Ints = NDArray[np.intp]

SETTLING_S = 30.0
"""What is left out where water was just put in and the probe into it [s]; our choice, no source."""

MOST_POINTS = 110
"""A series is averaged into about so many points at the most [1]."""

FINEST_S = 2.0
"""Points after a switching are at least so far apart [s], later ones further."""

FAR_OFF, FAR_OFF_K = 6.0, 0.6
"""Of the readings that are averaged into a point, those so many standard deviations off [1], and so much [K],
are left out."""


@dataclass(frozen=True)
class Series:
    """Readings of one probe in one test, averaged where there are many.

    Attributes
    ----------
    test, session : int
        Where it belongs.
    probe : int
        0 bath, 1 ware.
    time_s : ndarray, shape (points,)
        In the time of the session [s].
    read_c : ndarray, shape (points,)
        Mean reading [°C].
    rows, span_s : ndarray, shape (points,)
        Readings in it [1], and from its first to its last [s].
    reader : Reader
        Where to read the simulation.
    raw_rows, dropped_rows : int
        Readings of the log that were used, and readings far off inside a point that were not [1].
    every_s : float
        Time between two readings of the log, the median [s].
    """

    test: int
    session: int
    probe: int
    time_s: Array
    read_c: Array
    rows: Array
    span_s: Array
    reader: Reader
    raw_rows: int
    dropped_rows: int
    every_s: float


@dataclass(frozen=True)
class Session:
    """Tests on one body of water, one after the other.

    Attributes
    ----------
    tests : tuple of int
        In their order.
    begins_s : tuple of float
        When each begins, in the time of the session [s].
    ends_s : ndarray
        Ends of the steps [s].
    """

    tests: tuple[int, ...]
    begins_s: tuple[float, ...]
    ends_s: Array


@dataclass(frozen=True)
class Bench:
    """All tests, prepared for the fit."""

    tests: tuple[ThermalTest, ...]
    sessions: tuple[Session, ...]
    switched: Switched
    series: tuple[Series, ...]

    def session_of(self, test: int) -> int:
        """Session to which a test belongs."""
        return next(i for i, session in enumerate(self.sessions) if test in session.tests)

    def first(self, session: int) -> ThermalTest:
        """Test that begins a session."""
        return self.tests[self.sessions[session].tests[0]]


def chains(tests: Sequence[ThermalTest]) -> list[list[int]]:
    """Order the tests into chains, by what each follows.

    Parameters
    ----------
    tests : sequence of ThermalTest
        With names of their own; what one follows is there, and is followed by one test at the most.

    Returns
    -------
    list of list of int
        One list a body of water.
    """
    place = {test.name: i for i, test in enumerate(tests)}
    after = {place[test.follows]: i for i, test in enumerate(tests) if test.follows}
    found = []
    for i, test in enumerate(tests):
        if not test.follows:
            chain = [i]
            while chain[-1] in after:
                chain.append(after[chain[-1]])
            found.append(chain)
    return found


def bench_of(tests: Sequence[ThermalTest], known: Known) -> Bench:
    """Prepare tests that have passed `thermal_input.refuse_tests`."""
    sessions, rows = [], []
    for chain in chains(tests):
        session, row = _session(tests, chain, known)
        sessions.append(session)
        rows.append(row)
    longest = max(len(row.step_s) for row in rows)
    padded = []
    for name in Switched.__dataclass_fields__:
        columns = [getattr(row, name) for row in rows]
        fill = [0.0 if name == "step_s" else column[-1] for column in columns]
        padded.append(
            np.stack(
                [
                    np.concatenate([column, np.full(longest - len(column), value, dtype=column.dtype)])
                    for column, value in zip(columns, fill, strict=True)
                ]
            )
        )
    bench = Bench(tuple(tests), tuple(sessions), Switched(*padded), ())
    series = [found for i in range(len(tests)) for found in _series(bench, i)]
    return Bench(bench.tests, bench.sessions, bench.switched, tuple(series))


def _session(tests: Sequence[ThermalTest], chain: list[int], known: Known) -> tuple[Session, Switched]:
    """One body of water: when its tests begin, and what is on in each step."""
    begins, now_s = [], 0.0
    for i in chain:
        begins.append(now_s)
        now_s += ends_s(tests[i]) - begins_s(tests[i])
    switchings = set(begins)
    windows: list[tuple[float, float] | None] = []
    for i, begin_s in zip(chain, begins, strict=True):
        windows.append(element_window_s(tests[i], begin_s))
        switchings |= set(windows[-1] or ())
    ends = step_ends_s(sorted(at for at in switchings if at < now_s - 1e-6), now_s)
    steps = np.diff(np.concatenate([[0.0], ends]))
    middle = ends - 0.5 * steps
    at = np.searchsorted(begins, middle, side="right") - 1
    of = [tests[i] for i in chain]
    element = np.zeros(len(ends))
    for window, test in zip(windows, of, strict=True):
        if window is not None:
            on = (middle > window[0]) & (middle < window[1])
            element[on] = (volts(test, known) / (known.rated_v or volts(test, known))) ** 2
    sprayed = np.logical_or.accumulate([test.pump_on or test.ware_wet for test in of])
    row = Switched(
        step_s=steps,
        room_c=np.array([test.room_c for test in of])[at],
        spraying=np.array([test.pump_on for test in of])[at],
        with_ware=np.array([test.ware_in for test in of])[at],
        wet=np.array([t.ware_in and not t.pump_on and bool(w) for t, w in zip(of, sprayed, strict=True)])[at],
        element=element,
    )
    return Session(tuple(chain), tuple(begins), ends), row


@dataclass(frozen=True)
class Event:
    """Something that happened at one moment, after which a probe reads another temperature.

    Attributes
    ----------
    session, probe : int
        On which water, and which probe read it: 0 bath, 1 ware.
    at_s : float
        When, in the time of the session [s].
    lasts_s : float
        How long it took; 0 where it was done at once [s].
    decay_s : float
        Time constant with which it fades: that of the bath where heat was lost, inf where a probe moved [s].
    """

    session: int
    probe: int
    at_s: float
    lasts_s: float
    decay_s: float

    def shape(self, series: Series) -> Array | None:
        """Its course in a series, 1 where it is whole; None where the series knows nothing of it."""
        if series.session != self.session or series.probe != self.probe or series.time_s[-1] < self.at_s:
            return None
        since_s = series.time_s - self.at_s
        whole = np.clip(since_s / self.lasts_s, 0.0, 1.0) if self.lasts_s > 0.0 else 1.0 * (since_s >= 0.0)
        return np.asarray(whole * np.exp(-np.maximum(since_s, 0.0) / self.decay_s))


def volts(test: ThermalTest, known: Known) -> float:
    """Voltage of a test [V]."""
    return known.supply_v.nominal if test.voltage_v is None else test.voltage_v


def element_window_s(test: ThermalTest, begin_s: float = 0.0) -> tuple[float, float] | None:
    """When the element is on, in the time of a session in which the test begins at `begin_s` [s]."""
    if test.element_from_s is None:
        return None
    zero_s, end_s = begins_s(test), ends_s(test)
    until_s = end_s if test.element_until_s is None else min(test.element_until_s, end_s)
    return begin_s + max(test.element_from_s - zero_s, 0.0), begin_s + until_s - zero_s


def _series(bench: Bench, test_at: int) -> list[Series]:
    """Average the readings of a test's probes into points."""
    test, session_at = bench.tests[test_at], bench.session_of(test_at)
    session = bench.sessions[session_at]
    begin_s = session.begins_s[session.tests.index(test_at)]
    fresh = not test.follows and not test.stood_at_room
    log, zero_s = test.log, begins_s(test)
    since_s = zero_s + (SETTLING_S if fresh else 0.0)
    found = []
    probes: list[tuple[Literal[0, 1], Array | None]] = [(0, log.bath_c), (1, log.ware_c)]
    for probe, values in probes:
        if values is None or (probe == 1 and not test.ware_in):
            continue
        use = (log.time_s >= since_s) & (log.time_s <= ends_s(test)) & np.isfinite(values)
        time_s, values = log.time_s[use] - zero_s + begin_s, values[use]
        if len(time_s) < 2:
            continue
        switchings = [begin_s, *(element_window_s(test, begin_s) or ())]
        points, dropped = averaged(time_s, values, np.array(sorted(switchings)))
        reader = Reader.at(points[0], session.ends_s)
        every_s = float(np.median(np.diff(time_s)))
        found.append(Series(test_at, session_at, probe, *points, reader, len(time_s), dropped, every_s))
    return found


def averaged(
    time_s: Array, values: Array, switchings_s: Array
) -> tuple[tuple[Array, Array, Array, Array], int]:
    """Average readings into points that are close together after a switching.

    Parameters
    ----------
    time_s, values : ndarray, shape (readings,)
        Rising times [s] and readings [°C].
    switchings_s : ndarray
        When something was switched, rising [s].

    Returns
    -------
    tuple of tuple of ndarray, int
        Mean time [s], mean reading [°C], readings [1] and span [s] of each point; how many readings were
        left out because they were far from the others of their point [1].
    """
    widest_s = (time_s[-1] - time_s[0]) / (0.65 * MOST_POINTS)
    edges = [time_s[0] - 1e-9]
    while edges[-1] < time_s[-1]:
        since = edges[-1] - switchings_s
        nearest_s = since[since >= -1e-6].min() if np.any(since >= -1e-6) else np.inf
        step_s = min(max(FINEST_S, 0.1 * nearest_s), max(widest_s, FINEST_S))
        ahead = switchings_s[switchings_s > edges[-1] + 1e-6]
        edge_s = edges[-1] + step_s
        edges.append(min(edge_s, ahead[0]) if len(ahead) else edge_s)
    starts = np.unique(np.searchsorted(time_s, edges[:-1]))
    starts = starts[starts < len(time_s)]
    ends = np.append(starts[1:], len(time_s))
    keep, dropped = np.ones(len(time_s)), 0
    for a, b in zip(starts, ends, strict=True):
        if b - a >= 5:
            off = np.abs(values[a:b] - np.median(values[a:b]))
            far = off > max(FAR_OFF * 1.4826 * float(np.median(off)), FAR_OFF_K)
            keep[a:b][far] = 0.0
            dropped += int(far.sum())
    rows = np.add.reduceat(keep, starts)
    mean_s = np.add.reduceat(keep * time_s, starts) / rows
    mean = np.add.reduceat(keep * values, starts) / rows
    return (mean_s, mean, rows, time_s[ends - 1] - time_s[starts]), dropped
