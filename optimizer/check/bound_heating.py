"""Heat to a setpoint and bring to the boil between bounds: the bath at the end is known, the time is not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from optimizer.check.bound_equations import Bounding
from optimizer.check.bound_kernel_heating import all_wares
from optimizer.check.bound_sides import C0_J_PER_KG_K, Acting, ends
from optimizer.check.bound_steps import SHARED_LEAST, Bounds, bounds_of, integrated
from optimizer.check.phases import Phase
from optimizer.check.worst_cases import Array
from optimizer.physics.water import latent_heat_kj_per_kg
from optimizer.second_thread import in_halves
from optimizer.units import J_PER_KJ

ALWAYS_C = 1e3
"""A threshold that no bath reaches [°C]."""


def heat_to_setpoint(
    eqs: Bounding, phase: Phase, acting: Acting, state: Array, setpoint_c: float
) -> tuple[Bounds, Array]:
    """Heat to a setpoint: every point of a box stops when its own sensor reads it, or at the longest."""
    stop_c = setpoint_c - eqs.error_k - eqs.over_mean_k
    acting = replace(
        acting,
        heat_w=np.zeros_like(acting.heat_w),
        switched_w=eqs.element_w,
        on_below_c=np.full(eqs.count, ALWAYS_C),
        cap_c=np.maximum(stop_c[1], state[2, 1]),
    )
    samples, slopes, time_s = integrated(eqs, phase, acting, state)
    bath_c = samples[:, 2]
    # The first may stop where the upper course meets the lowest stop, the last where the lower one meets
    # the highest.
    first_s = _reached_s(time_s, bath_c[:, 1], stop_c[0], slopes[:, 2, 1])
    last_s = _reached_s(time_s, bath_c[:, 0], stop_c[1])
    least, most = _at(time_s, samples, first_s), _at(time_s, samples, last_s)
    water_kg = ends(least[3, 0], most[3, 1])
    # Some stop by the sensor, with a bath that is known; others by the time, with their heat known. What
    # bounds both is the worse of the two, not the coldest bath with the coldest ware.
    may_stop, may_last = bath_c[:, 1].max(axis=0) >= stop_c[0], bath_c[-1, 0] < stop_c[1]
    stops_c = _ware_at_stop(eqs, acting, state, samples, time_s, stop_c)
    lasts_c = samples[-1, 1]
    ware_c = ends(
        np.minimum(np.where(may_stop, stops_c[0], np.inf), np.where(may_last, lasts_c[0], np.inf)),
        np.where(
            may_last,
            np.maximum(lasts_c[1], least[1, 1]),
            np.minimum(stops_c[1], np.maximum(most[1, 1], least[1, 1])),
        ),
    )
    bath_at_stop = ends(np.maximum(stop_c[0], state[2, 0]), np.maximum(stop_c[1], state[2, 1]))
    stopped = eqs.mixed_from(acting, bath_at_stop, ends(stops_c[0], ware_c[1]), water_kg)
    lasted = samples[-1, 0]
    mixed_c = ends(
        np.minimum(np.where(may_stop, stopped[0], np.inf), np.where(may_last, lasted[0], np.inf)),
        stopped[1],
    )
    bath_c = ends(
        np.where(may_last, np.minimum(bath_at_stop[0], bath_c[-1, 0]), bath_at_stop[0]),
        np.minimum(bath_at_stop[1], bath_c[:, 1].max(axis=0)),
    )
    end = np.stack([mixed_c, ware_c, bath_c, water_kg])
    return replace(bounds_of(phase, samples, slopes, time_s, first_s, last_s), cap_c=acting.cap_c), end


def _ware_at_stop(
    eqs: Bounding, acting: Acting, state: Array, samples: Array, time_s: Array, stop_c: Array
) -> Array:
    """Ware where the sensor ends the heating: by the bath's rise in place of the time."""
    bath_c, water_kg = samples[:, 2], ends(samples[0, 3, 0], samples[-1, 3, 1])
    # Every bath has passed the warmest start by the time at which the lower course does.
    crossed_s = _reached_s(time_s, bath_c[:, 0], state[2, 1])
    until = np.where(time_s[:, None] <= crossed_s, samples[:, 1, 0], np.inf).min(axis=0)
    until = np.minimum(until, _at(time_s, samples, crossed_s)[1, 0])
    from_c = ends(state[2, 1], state[2, 0])
    start_c = ends(until, state[1, 1])
    rising = _ware_as_bath_rises(eqs, acting, from_c, start_c, stop_c, water_kg)
    # A ware that is hotter than the bath cools meanwhile: coldest at the last stop, hottest at the first.
    from_c, to_c = ends(state[2, 1], state[2, 1]), ends(stop_c[1], stop_c[0])
    cooling = _ware_as_bath_rises(eqs, acting, from_c, start_c, to_c, water_kg)
    return ends(np.minimum(rising[0], cooling[0]), np.maximum(rising[1], cooling[1]))


def boil(eqs: Bounding, phase: Phase, acting: Acting, state: Array) -> tuple[Bounds, Array]:
    """Bring the pool to the boil and let it boil: from when on lies between the two courses."""
    longest = float(phase.longest_s)
    boils_c = eqs.boils_c
    acting = replace(
        acting,
        heat_w=np.zeros_like(acting.heat_w),
        switched_w=eqs.element_w,
        on_below_c=np.full(eqs.count, ALWAYS_C),
        cap_c=np.full(eqs.count, boils_c),
    )
    samples, slopes, time_s = integrated(eqs, phase, acting, state)
    bath_c = np.minimum(samples[:, 2], boils_c)
    first_s = _reached_s(time_s, bath_c[:, 1], np.full(eqs.count, boils_c), slopes[:, 2, 1])
    last_s = _reached_s(time_s, bath_c[:, 0], np.full(eqs.count, boils_c))
    # Where nothing has a tolerance both are the same moment, but for rounding.
    first_s, last_s = np.minimum(first_s, last_s), np.maximum(first_s, last_s)
    steam_j_per_kg = J_PER_KJ * float(latent_heat_kj_per_kg(boils_c))
    net_w = np.maximum(eqs.element_w - eqs.loss[0] * (boils_c - eqs.room_c), 0.0)
    left_s = ends(longest - last_s, longest - first_s)
    # The ware is warmed by the bath until that boils, then by steam. When it boils is not known: the
    # coldest ware is that of the worst moment, the hottest that of the latest ware and the earliest boil.
    may_boil = (time_s[1:, None] >= first_s) & (time_s[:-1, None] <= last_s)
    wet_ware = eqs.ware + C0_J_PER_KG_K * acting.film_kg
    steamed_k = eqs.steam_share[0] * net_w[0] / wet_ware[0] * (longest - time_s[1:, None])
    coldest_c = np.minimum(samples[:-1, 1, 0] + steamed_k, np.maximum(boils_c - 1.0, samples[:-1, 1, 0]))
    coldest_c = np.where(may_boil, coldest_c, np.inf).min(axis=0)
    lasts_c = np.where(last_s >= longest, samples[-1, 1, 0], np.inf)
    most = _at(time_s, samples, last_s)
    least = _at(time_s, samples, first_s)
    warmed_k = eqs.steam_share[1] * net_w[1] / eqs.ware[1] * left_s[1]
    ware_c = ends(np.minimum(coldest_c, lasts_c), np.minimum(most[1, 1] + warmed_k, boils_c))
    gone_kg = net_w / steam_j_per_kg * left_s
    water_kg = np.maximum(ends(most[3, 0], least[3, 1]) - gone_kg, 0.0)
    bath_c = np.stack([bath_c[-1, 0], bath_c[-1, 1]])
    mixed_c = eqs.mixed_from(acting, bath_c, ware_c, water_kg)
    end = np.stack([mixed_c, ware_c, bath_c, water_kg])
    samples = np.concatenate([samples, end[None]])
    whole_s = np.full(eqs.count, longest)
    bounds = bounds_of(
        phase,
        samples,
        np.concatenate([slopes, slopes[-1:]]),
        np.append(time_s, longest),
        first_s,
        whole_s,
    )
    return replace(bounds, cap_c=acting.cap_c), end


def _reached_s(time_s: Array, bath_c: Array, threshold_c: Array, slope: Array | None = None) -> Array:
    """When a rising course (samples × boxes) first is at a temperature, else the last time [s].

    A bath that is heated rises ever more slowly. So the chord between two samples is late, and the tangent
    at the first of them, by its ``slope``, is early.
    """
    there = bath_c >= threshold_c
    after = np.where(there.any(axis=0), there.argmax(axis=0), len(time_s) - 1)
    before = np.maximum(after - 1, 0)
    box = np.arange(bath_c.shape[1])
    short_k, over_k = threshold_c - bath_c[before, box], bath_c[after, box] - threshold_c
    whole_k = short_k + over_k
    if slope is not None:
        whole_k = slope[before, box] * (time_s[after] - time_s[before])
    share = np.where(
        there.any(axis=0) & (whole_k > 0.0), short_k / np.where(whole_k > 0.0, whole_k, 1.0), 1.0
    )
    share = np.clip(np.where(after == 0, 0.0, share), 0.0, 1.0)
    return np.asarray(time_s[before] + share * (time_s[after] - time_s[before]))


def _at(time_s: Array, samples: Array, when_s: Array) -> Array:
    """Samples (times × numbers × courses × boxes) at a time of each box, by straight lines."""
    after = np.clip(np.searchsorted(time_s, when_s), 1, len(time_s) - 1)
    share = (when_s - time_s[after - 1]) / (time_s[after] - time_s[after - 1])
    box = np.arange(len(when_s))
    early, late = samples[after - 1, :, :, box], samples[after, :, :, box]
    return np.asarray(np.moveaxis(early + share[:, None, None] * (late - early), 0, -1))


def _ware_as_bath_rises(
    eqs: Bounding, acting: Acting, from_c: Array, ware_c: Array, to_c: Array, water_kg: Array
) -> Array:
    """Ware when a bath, heated by the element alone, has risen from one temperature to another [°C].

    Time is left out: ``dW/dT = (T - W) / tau / (dT/dt)``. The ware stays coldest where the bath rises
    quickest, which is not what makes the bath itself cold. A bath that may not rise at all gives the
    ware the temperature ``to_c`` in the upper course. ``water_kg`` is the most and least of the phase.
    """
    pool_kg = np.maximum(water_kg - acting.apart_kg, 0.0)
    boxes, found = eqs.packed(acting), np.empty((2, eqs.count))

    def rise(begin: int, end: int) -> None:
        all_wares(boxes, from_c, ware_c, to_c, pool_kg, found, begin, end)

    in_halves(rise, 0, eqs.count, SHARED_LEAST)
    return found
