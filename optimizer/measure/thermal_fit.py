"""All thermal logs of a bench book in one fit: numbers with their ends, what stays open, what looks wrong."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from optimizer.errors import InputError, InputIssue
from optimizer.measure.contradicting_test import contradiction
from optimizer.measure.estimate import Estimate, Instruments
from optimizer.measure.inseparable import OPEN, half_widths, open_numbers
from optimizer.measure.joint_fit import Fitted, fit_jointly
from optimizer.measure.profile_likelihood import COVER, Interval, intervals
from optimizer.measure.residuals import MOST_STEPS, Step, largest_step, remarks_of
from optimizer.measure.single_readings import unseen_mistakes
from optimizer.measure.thermal_input import refuse_tests
from optimizer.measure.thermal_parameters import KEY_OF, Parameters
from optimizer.measure.thermal_sessions import bench_of
from optimizer.measure.thermal_test import Course, Inseparable, Known, ThermalFit, ThermalTest
from optimizer.units import figure

METHOD = "joint fit of the thermal logs, 95 %"
HOPELESS, HOPELESS_K = 5.0, 0.5
"""Tests that contradict each other are refused where one is off by so many standard deviations [1], or where
what is left wanders by more than any thermometer does [K]; below that it is said. Our choice, *no source*."""

BAND = 1.96
"""Half-width of the band around a fitted course, in standard deviations of a reading [1]."""


def fit_thermal(tests: Sequence[ThermalTest], instruments: Instruments, known: Known) -> ThermalFit:
    """Fit all thermal logs at once.

    Parameters
    ----------
    tests : sequence of ThermalTest
        The tests, any number of them; none gives a fit without estimates.
    instruments : Instruments
        What the instruments are worth.
    known : Known
        What is known from elsewhere.

    Returns
    -------
    ThermalFit
        Estimates of what the logs settle, what they leave open, and what the residuals show.

    Raises
    ------
    InputError
        Where a test cannot be what it says.

    Notes
    -----
    Two nodes, bath and ware, in all tests together (`thermal_model`); instrument errors, start temperatures,
    room, water, load, lags and the loss of a pour are free beside the numbers, with what is known of them.
    The noise is estimated from the residuals (`thermal_noise`); intervals are by profile likelihood.

    Where numbers stay open and the profile that the machine is like has them, they are taken from there with
    their ends, and what then settles says that it leans on them.
    """
    if not tests:
        return ThermalFit(())
    refuse_tests(tests, known)
    bench = bench_of(tests, known)
    fit = fit_jointly(Parameters(bench, instruments, known))
    steps: list[Step] = []
    while len(steps) < MOST_STEPS and (step := largest_step(fit)) is not None:
        steps.append(step)
        events = tuple(one.event for one in steps)
        fit = fit_jointly(Parameters(bench, instruments, known, events=events), fit)
    odd = contradiction(fit)
    if odd is not None and (odd.deviations > HOPELESS or max(fit.noise.wander_k) > HOPELESS_K):
        first = bench.first(odd.session)
        fix = "look at that test's water, room, lid and log again, or leave it out"
        rule = f"the thermal tests contradict each other: {odd.words}"
        raise InputError([InputIssue(first.log.name, "", rule, "", fix)])
    found = intervals(fit, fit.problem.parameters.wanted)
    still_open = [name for name, interval in found.items() if _is_open(fit, name, interval)]
    unsettled: tuple[Inseparable, ...] = ()
    leaning: tuple[str, ...] = ()
    if still_open:
        unsettled = open_numbers(fit, still_open, instruments, known)
        leaning = tuple(name for name in still_open if KEY_OF[name] in known.like)
    mistakes = unseen_mistakes(fit)
    estimates = [
        _estimate(fit, name, found[name], mistakes.get(name, ())) for name in found if name not in still_open
    ]
    if leaning:
        estimates += _leaning(fit, still_open, leaning, instruments, known)
    if odd is not None:
        # Which number is wrong depends on which test is: all of them lean on it.
        remark = "the thermal tests contradict each other, see below"
        estimates = [replace(one, remarks=(*one.remarks, remark)) for one in estimates]
    order = list(KEY_OF.values())
    estimates.sort(key=lambda one: order.index(one.key))
    return ThermalFit(tuple(estimates), unsettled, remarks_of(fit, steps, odd), courses(fit))


def _leaning(
    fit: Fitted,
    still_open: Sequence[str],
    leaning: tuple[str, ...],
    instruments: Instruments,
    known: Known,
) -> list[Estimate]:
    """Estimates of open numbers, each with the others as in the profile that the machine is like."""
    found = []
    for name in still_open:
        others = tuple(other for other in leaning if other != name)
        if not others:
            continue
        parameters = Parameters(fit.problem.bench, instruments, known, others, fit.problem.parameters.events)
        leaned = fit_jointly(parameters, fit)
        interval = intervals(leaned, [name])[name]
        if not _is_open(leaned, name, interval):
            keys = " and ".join(KEY_OF[other] for other in others)
            estimate = _estimate(leaned, name, interval, unseen_mistakes(leaned).get(name, ()))
            remark = f"leans on {keys} of the profile that the machine is like, not measured"
            found.append(replace(estimate, remarks=(*estimate.remarks, remark)))
    return found


def _is_open(fit: Fitted, name: str, interval: Interval) -> bool:
    low, nominal, high = _values(fit, name, interval)
    scale = 0.5 if name == "share" else nominal
    return bool(max(high - nominal, nominal - low) > OPEN * scale) or (interval.at_bound and name != "share")


def _values(fit: Fitted, name: str, interval: Interval) -> tuple[float, float, float]:
    parameters = fit.problem.parameters
    place = parameters.index[(name, -1)]
    parameter = parameters.list[place]
    coordinates = np.array([interval.low, fit.coordinates[place], interval.high])
    low, nominal, high = (float(value) for value in parameter.value(coordinates))
    return low, nominal, high


def _estimate(fit: Fitted, name: str, interval: Interval, mistakes: tuple[str, ...]) -> Estimate:
    low, nominal, high = _values(fit, name, interval)
    parameters = fit.problem.parameters
    place = parameters.index[(name, -1)]
    readings = sum(
        series.raw_rows for series in fit.problem.bench.series if place in fit.problem.columns[series.session]
    )
    remarks = []
    if interval.at_bound:
        remarks.append("an end is clipped to what physics allows")
    linear = COVER * float(np.sqrt(fit.covariance[place, place]))
    lopsided = abs(interval.high + interval.low - 2.0 * fit.coordinates[place])
    if not interval.at_bound and lopsided > 0.2 * linear:
        remarks.append("its ends are lopsided because the fit is curved")
    partner = _partner(fit, name)
    if partner:
        remarks.append(partner)
    return Estimate(KEY_OF[name], nominal, low, high, readings, METHOD, (*remarks, *mistakes))


def _partner(fit: Fitted, name: str) -> str:
    """Another number that a wide one leans on."""
    parameters = fit.problem.parameters
    widths = half_widths(fit.covariance, parameters)
    if widths[name] < 0.1:
        return ""
    place = parameters.index[(name, -1)]
    sd = np.sqrt(np.diag(fit.covariance))
    for other in parameters.wanted:
        at = parameters.index[(other, -1)]
        together = float(fit.covariance[place, at] / (sd[place] * sd[at]))
        if at != place and abs(together) > 0.9:
            return f"hard to tell from {KEY_OF[other]} (correlation {figure(together, 2)})"
    return ""


def courses(fit: Fitted) -> tuple[Course, ...]:
    """Every log beside its fit, with the band in which such readings lie."""
    from optimizer.measure.thermal_model import begins_s

    read = fit.problem.readings_c(fit.coordinates[None])
    slopes, _ = fit.problem.slopes(fit.coordinates)
    bench, found = fit.problem.bench, []
    for series, fitted_c, slope, use in zip(bench.series, read, slopes, fit.problem.use, strict=True):
        session = bench.sessions[series.session]
        test = bench.tests[series.test]
        time_s = series.time_s - session.begins_s[session.tests.index(series.test)] + begins_s(test)
        of_fit = np.einsum("ij,jk,ik->i", slope, fit.covariance, slope)
        band_k = BAND * np.sqrt(np.maximum(of_fit, 0.0) + fit.noise.alone_k(series) ** 2)
        probe = "ware" if series.probe else "bath"
        found.append(Course(test.name, probe, time_s, series.read_c, fitted_c[:, 0], band_k, ~use))
    return tuple(found)
