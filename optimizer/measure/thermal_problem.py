"""The joint fit as a problem of least squares: residuals of all logs at once, and their slopes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from optimizer.measure.thermal_model import Surroundings, ends_s, film_kg, simulate, stacked
from optimizer.measure.thermal_noise import Noise, Residuals
from optimizer.measure.thermal_parameters import GAIN_FROM_C, SQRT_3, Parameters
from optimizer.measure.thermal_sessions import Bools, Ints, element_window_s, volts
from optimizer.physics import Array
from optimizer.units import J_PER_KWH

DIFFERENCE = 1e-5
"""Step of the coordinates for slopes by differences [1]."""

FLIP_S = 1.0
"""How well a person notes when the last digit of a meter flips [s]; our choice, *no source*."""

EDGE_S = 10.0
"""Watts so close to a switching of the element are left out [s]."""


@dataclass(frozen=True)
class MeterRow:
    """Mean power by the plug-in meter while nothing is switched.

    Attributes
    ----------
    test : int
        Where it was read.
    read_w, sd_w : float
        The reading and its standard deviation, the meter's own error aside [W].
    element : float
        Power of the element over the rated one; 0 where it is off [1].
    pump_on : bool
        Whether the pump was on.
    """

    test: int
    read_w: float
    sd_w: float
    element: float
    pump_on: bool


class Problem:
    """Residuals of a bench's logs, as the fit sees them.

    Parameters
    ----------
    parameters : Parameters
        What is left free.
    use : sequence of ndarray of bool
        Points of each series that count.
    """

    def __init__(self, parameters: Parameters, use: Sequence[Bools] | None = None) -> None:
        self.parameters, self.bench = parameters, parameters.bench
        known = parameters.known
        self.around = Surroundings(known.vent_m2, known.humidity, film_kg(known.film_l))
        self.use = (
            [np.ones(len(s.time_s), dtype=bool) for s in self.bench.series] if use is None else list(use)
        )
        self.columns = [parameters.affecting(at) for at in range(len(self.bench.sessions))]
        self.meter = [row for at in range(len(self.bench.tests)) for row in self._meter_rows(at)]
        self._factors: list[Array] = []

    def _meter_rows(self, at: int) -> list[MeterRow]:
        test, instruments = self.bench.tests[at], self.parameters.instruments
        known, log = self.parameters.known, test.log
        window = element_window_s(test)
        zero_s = float(log.time_s[0]) if test.begins_s is None else test.begins_s
        states = [(False, zero_s, ends_s(test))]
        if window is not None:
            on = (True, zero_s + window[0], zero_s + window[1])
            states = [(False, zero_s, on[1]), on, (False, on[2], ends_s(test))]
        rows = []
        for is_on, from_s, until_s in states:
            if not is_on and not test.pump_on:
                continue
            share = (volts(test, known) / (known.rated_v or volts(test, known))) ** 2 if is_on else 0.0
            flips = [flip for flip in test.meter_kwh if from_s <= flip[0] <= until_s]
            if len(flips) >= 2 and flips[-1][0] > flips[0][0]:
                span_s = flips[-1][0] - flips[0][0]
                power_w = (flips[-1][1] - flips[0][1]) * J_PER_KWH / span_s
                sd_w = power_w * np.sqrt(2.0) * max(instruments.stopwatch_error_s, FLIP_S) / SQRT_3 / span_s
                rows.append(MeterRow(at, power_w, max(float(sd_w), 0.1), share, test.pump_on))
            if log.power_w is not None:
                inside = (log.time_s >= from_s + EDGE_S) & (log.time_s <= until_s - EDGE_S)
                read_w = log.power_w[inside & np.isfinite(log.power_w)]
                if len(read_w) >= 3:
                    scatter_w = float(np.std(read_w)) / np.sqrt(max(len(read_w) / 10.0, 1.0))
                    sd_w = max(scatter_w, instruments.meter_step_w / np.sqrt(12.0), 0.1)
                    rows.append(MeterRow(at, float(np.median(read_w)), sd_w, share, test.pump_on))
        return rows

    def readings_c(self, coordinates: Array, members: Sequence[Ints] | None = None) -> list[Array]:
        """Simulate all sessions and read all series.

        Parameters
        ----------
        coordinates : ndarray, shape (cases, parameters)
            One case a row.
        members : sequence of ndarray of int or None
            Which cases are wanted of each session; None: all of all.

        Returns
        -------
        list of ndarray, shape (points, wanted cases)
            One a series [°C].
        """
        everyone = np.arange(len(coordinates))
        wanted = [everyone] * len(self.bench.sessions) if members is None else members
        nodes = [self.parameters.nodes(coordinates[cases], at) for at, cases in enumerate(wanted)]
        session = np.concatenate([np.full(len(cases), at) for at, cases in enumerate(wanted)])
        traces = simulate(stacked(nodes), session, self.bench.switched, self.around)
        begins = np.concatenate([[0], np.cumsum([len(cases) for cases in wanted])])
        found = []
        for series in self.bench.series:
            at = series.session
            read_c = series.reader.read(traces, series.probe, np.arange(begins[at], begins[at + 1]))
            get, probe = self.parameters.getter(coordinates[wanted[at]]), "ware" if series.probe else "bath"
            over_k = get(f"{probe}_offset", 0.0) + get(f"{probe}_gain", 0.0) * (read_c - GAIN_FROM_C)
            for number, event in enumerate(self.parameters.events):
                shape = event.shape(series)
                if shape is not None:
                    size_k = coordinates[wanted[at], self.parameters.index[(f"event {number}", at)]]
                    read_c += shape[:, None] * size_k
            found.append(read_c + over_k)
        return found

    def meter_w(self, coordinates: Array) -> Array:
        """What the plug-in meter should show, shape (cases, meter rows) [W]."""
        rows = []
        for row in self.meter:
            get = self.parameters.getter(coordinates, self.bench.session_of(row.test))
            power_w = row.element * get("element", 0.0) * (1.0 + get("voltage", 0.0)) ** 2
            power_w = power_w + row.pump_on * get("pump", 0.0) + self.parameters.known.controller_w
            rows.append(power_w * (1.0 + get("meter", 0.0)))
        return np.stack(rows, axis=1) if rows else np.zeros((len(coordinates), 0))

    def weigh(self, noise: Noise) -> None:
        """Weigh the points by a noise, correlations among them included."""
        from scipy.linalg import solve_triangular

        self._factors = []
        for series, use in zip(self.bench.series, self.use, strict=True):
            lower = np.linalg.cholesky(noise.covariance(series)[np.ix_(use, use)])
            self._factors.append(solve_triangular(lower, np.eye(len(lower)), lower=True))

    def weigh_alike(self, sd_k: float) -> None:
        """Weigh all points alike and on their own, for a first fit that is robust."""
        self._factors = [np.eye(int(use.sum())) / sd_k for use in self.use]

    def whitened(self, series: int, slope: Array) -> Array:
        """Whiten a column of slopes of a series, at the points that count."""
        return np.asarray(self._factors[series] @ slope)

    def off(self, coordinates: Array) -> Array:
        """Residuals over their standard deviations, shape (cases, rows): logs, meter, prior knowledge [1]."""
        parts = [
            (factor @ (read_c[use] - series.read_c[use, None])).T
            for factor, read_c, series, use in zip(
                self._factors, self.readings_c(coordinates), self.bench.series, self.use, strict=True
            )
        ]
        if self.meter:
            sd_w = np.array([row.sd_w for row in self.meter])
            parts.append((self.meter_w(coordinates) - [row.read_w for row in self.meter]) / sd_w)
        parts.append(coordinates / self.parameters.sd)
        return np.concatenate(parts, axis=1)

    def residuals(self, coordinates: Array) -> Array:
        """The same for one case, shape (rows,)."""
        return np.asarray(self.off(coordinates[None])[0])

    def slopes(self, coordinates: Array) -> tuple[list[Array], Array]:
        """Slopes of the series and of the meter's rows at a point.

        Returns
        -------
        list of ndarray, ndarray
            One of shape (points, parameters) a series [K], and of shape (meter rows, parameters) [W].
        """
        count = len(coordinates)
        cases = np.concatenate([coordinates[None], coordinates + DIFFERENCE * np.eye(count)])
        members = [np.concatenate([[0], columns + 1]) for columns in self.columns]
        found = []
        for series, read_c in zip(self.bench.series, self.readings_c(cases, members), strict=True):
            slope = np.zeros((len(series.time_s), count))
            slope[:, self.columns[series.session]] = (read_c[:, 1:] - read_c[:, :1]) / DIFFERENCE
            found.append(slope)
        meter = self.meter_w(cases)
        return found, (meter[1:] - meter[:1]).T / DIFFERENCE

    def jacobian(self, coordinates: Array) -> Array:
        """Slopes of the residuals, shape (rows, parameters)."""
        series, meter = self.slopes(coordinates)
        parts = [
            factor @ slope[use] for factor, slope, use in zip(self._factors, series, self.use, strict=True)
        ]
        if self.meter:
            parts.append(meter / np.array([row.sd_w for row in self.meter])[:, None])
        parts.append(np.diag(1.0 / self.parameters.sd))
        return np.concatenate(parts)

    def residuals_by_series(self, coordinates: Array) -> tuple[list[Residuals], Array, Array]:
        """Residuals and slopes series by series, with the information of all else, for the noise.

        Returns
        -------
        list of Residuals, ndarray, ndarray
            The series; information and gradient of meter and prior knowledge.
        """
        read_c = self.readings_c(coordinates[None])
        slopes, meter = self.slopes(coordinates)
        found = [
            Residuals(
                s, s.read_c - fit[:, 0], slope[:, self.columns[s.session]], self.columns[s.session], use
            )
            for s, fit, slope, use in zip(self.bench.series, read_c, slopes, self.use, strict=True)
        ]
        precision = self.parameters.sd**-2.0
        information, pull = np.diag(precision), -precision * coordinates
        if self.meter:
            sd_w = np.array([row.sd_w for row in self.meter])
            white = meter / sd_w[:, None]
            off = (np.array([row.read_w for row in self.meter]) - self.meter_w(coordinates[None])[0]) / sd_w
            information, pull = information + white.T @ white, pull + white.T @ off
        return found, information, pull
