"""Fill to a level switch between bounds: the level is known, the time is not."""

from __future__ import annotations

import numpy as np

from optimizer.check.bound_equations import Bounding
from optimizer.check.bound_sides import C0_J_PER_KG_K, Acting, ends, flipped
from optimizer.check.bound_steps import Bounds, bounds_of
from optimizer.check.phases import Phase
from optimizer.check.worst_cases import Array


def fill_to_level(eqs: Bounding, phase: Phase, acting: Acting, state: Array) -> tuple[Bounds, Array]:
    """Fill to a level switch: the level is known, the time hangs on what is missing."""
    film_kg = eqs.all_film_kg * (eqs.start_share if phase.round == 0 else 1.0)
    level_kg = eqs.level_kg + film_kg
    longest = float(phase.longest_s)
    missing_kg = ends(np.maximum(level_kg[0] - state[3, 1], 0.0), np.maximum(level_kg[1] - state[3, 0], 0.0))
    # The pipe's water is of another density: where that brings more, most of it stood in the pipe.
    let_in_kg = ends(_let_in_kg(eqs, 0, longest), _let_in_kg(eqs, 1, longest))
    least_s = _level_s(eqs, missing_kg[1], 0, longest)
    most_s = _level_s(eqs, missing_kg[0], 1, longest)
    whole_kg = np.maximum(state[3], np.minimum(level_kg, state[3] + let_in_kg))
    mixed_c, ware_c, bath_c, _ = _mixed(eqs, state, whole_kg, acting.apart_kg)
    # All water in one moment, and for the whole time the most that the fill may lose or gain beside that:
    # the bath stays between what it was and the inlet.
    mixed_c, bath_c = (
        mixed_c + _from_pipe(eqs, whole_kg, acting.apart_kg),
        bath_c + _from_pipe(eqs, whole_kg, acting.apart_kg, bath_only=True),
    )
    warmest = np.maximum(eqs.inlet_c, eqs.room_c)[0], np.minimum(eqs.inlet_c, eqs.room_c)[1]
    near, far = eqs.bath_from(acting, state)
    far = ends(np.minimum(far[0], state[2, 1]), np.maximum(far[1], state[2, 0]))
    edge_c = ends(np.maximum(far[0], warmest[0]), np.minimum(far[1], warmest[1]))
    sign = np.array([[1.0], [-1.0]])
    # What the lower course loses at the most is what the upper one gains: by the high end of each flow, in
    # the least water.
    most_w_per_k, quick_s = eqs.loss[0][0], eqs.response_s[0][1]
    lost_j = most_s * np.where(sign * (edge_c - eqs.room_c) > 0.0, most_w_per_k, 0.0) * (edge_c - eqs.room_c)
    over_k = np.where(sign * (edge_c - state[1]) > 0.0, edge_c - state[1], 0.0)
    passed_j = most_s * eqs.ware[0] / quick_s * over_k
    bath_j_per_k = (C0_J_PER_KG_K * (whole_kg - acting.apart_kg) + eqs.tank).min(axis=0) * 0.99
    bath_c = bath_c - (lost_j + passed_j) / bath_j_per_k
    mixed_c = mixed_c - lost_j / (bath_j_per_k + eqs.ware[1])
    coldest = np.minimum(eqs.inlet_c, eqs.room_c)[0], np.maximum(eqs.inlet_c, eqs.room_c)[1]
    # The ware of either course follows the bath of the same: the least of all baths, or the most.
    near = ends(np.maximum(near[0], state[2, 0]), np.minimum(near[1], state[2, 1]))
    other_c = ends(np.minimum(near[0], coldest[0]), np.maximum(near[1], coldest[1]))
    share = -np.expm1(-most_s / quick_s)
    below_k = np.where(sign * (ware_c - other_c) > 0.0, ware_c - other_c, 0.0)
    end = np.stack([mixed_c, ware_c - share * below_k, bath_c, whole_kg])
    # What stood in the pipe comes first: on little water it may bring the bath as far as the room, and back.
    piped = end.copy()
    piped_c = np.where(eqs.pipe_s[0] > 0.0, eqs.room_c, state[2])
    piped[2] = ends(np.minimum(state[2, 0], piped_c[0]), np.maximum(state[2, 1], piped_c[1]))
    piped[3] = np.minimum(whole_kg, state[3] + eqs.pipe_kg_per_s * eqs.pipe_s)
    samples = np.stack([state, piped, end])
    slopes = np.zeros_like(samples)
    return bounds_of(phase, samples, slopes, np.array([0.0, 0.5 * longest, longest]), least_s, most_s), end


def _piped_s(eqs: Bounding, end: int, *, more: bool) -> Array:
    """How long the pipe runs at the quickest (0) or slowest (1) inlet, for more or for less water [s]."""
    heavier = eqs.pipe_kg_per_s[end] > eqs.flow[end]
    return np.asarray(np.where(heavier == more, eqs.pipe_s[0], eqs.pipe_s[1]))


def _let_in_kg(eqs: Bounding, end: int, longest_s: float) -> Array:
    """Most (0) or least (1) water that the inlet lets in before the time ends the fill [kg]."""
    piped_s = np.minimum(_piped_s(eqs, end, more=end == 0), longest_s)
    return np.asarray(piped_s * eqs.pipe_kg_per_s[end] + (longest_s - piped_s) * eqs.flow[end])


def _level_s(eqs: Bounding, missing_kg: Array, end: int, longest_s: float) -> Array:
    """Time that the quickest (0) or slowest (1) inlet takes for what is missing at a level switch [s]."""
    piped_s = np.minimum(_piped_s(eqs, end, more=end == 0), missing_kg / eqs.pipe_kg_per_s[end])
    fed_s = np.maximum(missing_kg - piped_s * eqs.pipe_kg_per_s[end], 0.0) / eqs.flow[end]
    return np.asarray(np.minimum(piped_s + fed_s, longest_s))


def _from_pipe(eqs: Bounding, whole_kg: Array, apart_kg: Array, *, bath_only: bool = False) -> Array:
    """What the water of the pipe does to the mixture of a whole fill [K]."""
    pipe_kg = eqs.pipe_kg_per_s * eqs.pipe_s
    total_kg = whole_kg + (eqs.tank + eqs.ware) / C0_J_PER_KG_K
    if bath_only:
        total_kg = whole_kg - apart_kg + eqs.tank / C0_J_PER_KG_K
    cold_k = eqs.pipe_k()
    most, least = pipe_kg / flipped(total_kg), flipped(pipe_kg) / total_kg
    return np.asarray(-np.where(cold_k >= 0.0, most, least) * cold_k)


def _mixed(eqs: Bounding, state: Array, whole_kg: Array, apart_kg: Array) -> Array:
    """Let in all water of a fill in one moment: what was there keeps its heat, the inlet brings none."""
    mixed_c, ware_c, bath_c, before_kg = state
    # Of the heat above the inlet's the share stays that tank, ware and old water are of the whole; the
    # least where much is let in onto little.
    little, much = flipped(before_kg), before_kg
    added, less = np.maximum(whole_kg - little, 0.0), np.maximum(flipped(whole_kg) - much, 0.0)
    bare = (flipped(eqs.tank) + flipped(eqs.ware)) / C0_J_PER_KG_K + little
    heavy = (eqs.tank + eqs.ware) / C0_J_PER_KG_K + much
    over_k = mixed_c - eqs.inlet_c
    mixed_c = eqs.inlet_c + over_k * np.where(over_k >= 0.0, bare / (bare + added), heavy / (heavy + less))
    bare = flipped(eqs.tank) / C0_J_PER_KG_K + little - flipped(apart_kg)
    heavy = eqs.tank / C0_J_PER_KG_K + much - apart_kg
    over_k = bath_c - eqs.inlet_c
    bath_c = eqs.inlet_c + over_k * np.where(over_k >= 0.0, bare / (bare + added), heavy / (heavy + less))
    return np.stack([mixed_c, ware_c, bath_c, whole_kg])
