"""Changes one could make to a machine, its circuit or its goal, each as the profiles it leads to."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

from pydantic import ValidationError

from optimizer.planner.circuit_load import Currents
from optimizer.planner.corner_arrays import WATER_J_PER_KG_K
from optimizer.planner.machine_limits import EVERY_PART
from optimizer.planner.structure import Mode
from optimizer.profile.circuit import Circuit
from optimizer.profile.goal import Goal
from optimizer.profile.machine import MATERIAL_LIMIT_C, Machine
from optimizer.profile.measured import Measured
from optimizer.programme.circuit_device import LOW_MAINS_V
from optimizer.programme.inputs import misfits
from optimizer.programme.plan import Inputs
from optimizer.units import J_PER_KWH

SIZES_A: dict[str, tuple[float, ...]] = {
    "breaker": (6, 8, 10, 13, 16, 20, 25, 32, 40, 50, 63),
    "fuse_gg": (2, 4, 6, 10, 16, 20, 25, 32, 40, 50, 63),
    "fuse_plug": (3, 5, 13),
    "120 V": (15, 20, 25, 30, 35, 40, 45, 50, 60),
}
"""Usual ratings [A], from memory: IEC 60898-1, IEC 60269, BS 1362, NEC 240.6(A)."""

HOT_FILL_C = {"nominal": 50.0, "low": 45.0, "high": 55.0}
"""Inlet of a machine that is filled from the hot tap [°C]."""

DETERGENT = {"g_per_setting": 2.5, "least_g_per_l": 3.0, "price_per_kg": 4.0}
"""A usual detergent [g, g/l, currency/kg]; 30 g for 12 settings is what laboratories dose."""

STAND_MIN = 20.0
"""Standing after a hot last rinse where the goal has none [min]; *no source*, what the shipped goals ask."""

ELEMENT_W = (300.0, 500.0, 750.0, 1000.0, 1500.0, 2000.0, 2500.0, 3000.0)
"""Usual immersion elements [W], from memory; +5 % and -10 % as IEC 60335-1 allows, from memory."""

COVER_SHARE = 1.4
"""Level that covers an element over the one at which the spray starts to spit, where it is not known [1]:
between 1.3 and 1.5 in the shipped profiles; no source."""

NO_ELEMENT_FITS = "a pump that starts beside it may trip the breaker"
WIRING = "only where wiring, socket and local code carry it: work for a licensed electrician"


@dataclass(frozen=True)
class Change:
    """One change.

    Attributes
    ----------
    key : str
        Short name for programs.
    words : str
        The change with its values.
    inputs : Inputs or None
        The profiles with the change; None where it cannot be made here.
    note : str
        Why it cannot be made; else what to mind, empty where there is nothing.
    """

    key: str
    words: str
    inputs: Inputs | None
    note: str = ""


def with_values(inputs: Inputs, values: Mapping[str, Any]) -> Inputs:
    """Change values of the profiles by their path, and validate what comes of it.

    A path is a kind of profile and a key path with dots: ``machine.tank.limit_c``, ``goal.dose.0.minutes``;
    None takes the key out. `ValidationError` where a rule of the profiles does not hold any more.
    """
    parts = {
        kind: getattr(inputs, kind).model_dump(exclude_none=True) for kind in ("machine", "goal", "circuit")
    }
    for path, value in values.items():
        *folders, last = path.split(".")
        place: Any = parts
        for folder in folders:
            place = place[int(folder) if isinstance(place, list) else folder]
        if value is None:
            del place[last]
        else:
            place[last] = value
    return replace(
        inputs,
        machine=Machine.model_validate(parts["machine"]),
        goal=Goal.model_validate(parts["goal"]),
        circuit=Circuit.model_validate(parts["circuit"]),
    )


def changed(inputs: Inputs, key: str, words: str, values: Mapping[str, Any], note: str = "") -> Change:
    """Make a change of values by path, or say what stands against it."""
    try:
        new = with_values(inputs, values)
    except ValidationError as error:
        return Change(key, words, None, str(error.errors(include_url=False)[0]["msg"]))
    issues = misfits(new)
    if issues:
        return Change(key, words, None, f"{issues[0].rule}: {issues[0].found}")
    return Change(key, words, new, note)


def changes(inputs: Inputs) -> list[Change]:
    """List the changes worth trying, each on its own."""
    parts: tuple[Callable[[Inputs], Iterator[Change]], ...] = (
        *(_circuit, _element, _limits, _tank, _tolerances, _hot_fill, _thermostat, _drying, _instead),
    )
    return [change for part in parts for change in part(inputs)]


def next_size_a(circuit: Circuit) -> float | None:
    """Next bigger rating of a circuit's device [A]; None where there is none bigger."""
    kind = "breaker" if circuit.device.startswith("breaker") else circuit.device
    sizes = SIZES_A["120 V" if circuit.voltage_v < LOW_MAINS_V else kind]
    return next((float(size) for size in sizes if size > circuit.rating_a), None)


def _circuit(inputs: Inputs) -> Iterator[Change]:
    circuit = inputs.circuit
    yield one_ampere(inputs)
    size_a = next_size_a(circuit)
    words = f"the next size of circuit: {size_a or 0.0:g} A instead of {circuit.rating_a:g} A"
    if size_a is None:
        yield Change("next-circuit", "the next size of circuit", None, "there is no bigger one")
    else:
        yield changed(inputs, "next-circuit", words, {"circuit.rating_a": size_a}, WIRING)
    yield from _supply(inputs)


def _supply(inputs: Inputs) -> Iterator[Change]:
    """An inverter or a generator that starts the pump beside the element, where the circuit carries both."""
    circuit, machine, mode = inputs.circuit, inputs.machine, Mode.WHILE_SPRAYING
    if circuit.momentary_a is None or Currents(machine, circuit).fits(mode):
        return
    more_a = float(math.ceil(Currents(machine, circuit).starting_a(mode)))
    if Currents(machine, circuit.model_copy(update={"momentary_a": more_a})).fits(mode):
        instead = f"{more_a:g} A for a moment instead of {circuit.momentary_a:g} A"
        words = f"an inverter or generator that gives {instead}"
        yield changed(inputs, "surge", words, {"circuit.momentary_a": more_a}, WIRING)


def one_ampere(inputs: Inputs) -> Change:
    """Have 1 A more left for the machine."""
    circuit = inputs.circuit
    more_a = circuit.rating_a + 1.0 / circuit.usable_share
    words = (
        f"1 A more for the machine: {circuit.available_a + 1.0:.3g} A instead of {circuit.available_a:.3g} A"
    )
    return changed(inputs, "one-ampere", words, {"circuit.rating_a": more_a}, WIRING)


def _element(inputs: Inputs) -> Iterator[Change]:
    element = inputs.machine.element
    if element is None:
        yield fitted_element(inputs)
        return
    for key, share, more in (("element-up", 1.1, "stronger"), ("element-down", 0.9, "weaker")):
        watts = element.rated_w
        words = f"element 10 % {more}: {watts.nominal * share:.4g} W instead of {watts.nominal:.4g} W"
        yield changed(inputs, key, words, {"machine.element.rated_w": _times(watts, share)})


def fitted_element(inputs: Inputs) -> Change:
    """Fit the strongest usual element that the circuit carries, beside the wash pump where one does."""
    machine, volts = inputs.machine, inputs.machine.supply.voltage_v.nominal
    # Water stands over the element no later than a level switch closes, or the lip is reached.
    cover_l = min(COVER_SHARE * machine.wash_pump.prime_l, machine.tank.capacity_l)
    if machine.inlet.level_l is not None:
        cover_l = min(cover_l, machine.inlet.level_l.low)
    cover_l = math.floor(10.0 * cover_l + 1e-6) / 10.0
    note = f"mains in water: work for a licensed electrician; cover_l = {cover_l:g} l is a guess, measure it"
    tried = []
    for watts in ELEMENT_W:
        element = {
            "rated_w": {"nominal": watts, "low": 0.9 * watts, "high": 1.05 * watts},
            "rated_v": volts,
            "cover_l": cover_l,
            "rest_s": 20,
            "control": "thermostat",
            "sensor_error_k": 1.0,
        }
        words = f"an element fitted: {watts:g} W with a thermostat"
        tried.append(changed(inputs, "fit-element", words, {"machine.element": element}, note))
    for mode in (Mode.WHILE_SPRAYING, Mode.THEN_SPRAY):
        for change in reversed(tried):
            if change.inputs is not None and Currents(change.inputs.machine, inputs.circuit).fits(mode):
                return change
    weakest = tried[0]
    return weakest if weakest.inputs is None else replace(weakest, inputs=None, note=NO_ELEMENT_FITS)


def _limits(inputs: Inputs) -> Iterator[Change]:
    now_min = inputs.goal.limits.duration_min
    words = f"10 min more allowed: {now_min + 10.0:g} min instead of {now_min:g} min"
    yield changed(inputs, "ten-minutes", words, {"goal.limits.duration_min": now_min + 10.0})


def _tank(inputs: Inputs) -> Iterator[Change]:
    yield tank_limit(inputs)
    tank = inputs.machine.tank
    left_l = tank.residual_l.nominal
    words = f"half the water left after a drain: {left_l / 2.0:.3g} l instead of {left_l:.3g} l"
    yield changed(inputs, "residual", words, {"machine.tank.residual_l": _times(tank.residual_l, 0.5)})
    losses = {
        f"machine.tank.{name}": _times(getattr(tank, name), 0.7)
        for name in ("loss_still_w_per_k", "loss_spraying_w_per_k")
    }
    yield changed(inputs, "insulation", "insulation: 30 % less heat lost, still and spraying", losses)


def tank_limit(inputs: Inputs) -> Change:
    """Let the tank get 5 K hotter, up to what its material stands."""
    tank = inputs.machine.tank
    most_c = MATERIAL_LIMIT_C[tank.material]
    limit_c = min(tank.limit_c + 5.0, most_c)
    if limit_c == tank.limit_c:
        return Change(
            "tank-limit", "a higher tank limit", None, f"{most_c:g} °C is what {tank.material} stands"
        )
    words = f"tank limit {limit_c:g} °C instead of {tank.limit_c:g} °C"
    return changed(inputs, "tank-limit", words, {"machine.tank.limit_c": limit_c}, EVERY_PART)


def _tolerances(inputs: Inputs) -> Iterator[Change]:
    values = {
        f"{kind}.{path}": halved(measured).model_dump()
        for kind in ("machine", "circuit")
        for path, measured in measured_of(getattr(inputs, kind))
    }
    note = "measured more often, or at steadier conditions; never just written down"
    yield changed(inputs, "tolerances", "every measured tolerance halved", values, note)


def halved(measured: Measured) -> Measured:
    """Bring both ends half the way to the nominal value."""
    low, nominal, high = measured.low, measured.nominal, measured.high
    return Measured(nominal=nominal, low=(nominal + low) / 2.0, high=(nominal + high) / 2.0)


def measured_of(model: Any, path: str = "") -> Iterator[tuple[str, Measured]]:
    """Every measured quantity of a profile with its key path."""
    for name in type(model).model_fields:
        value = getattr(model, name)
        if isinstance(value, Measured):
            yield f"{path}{name}", value
        elif hasattr(type(value), "model_fields"):
            yield from measured_of(value, f"{path}{name}.")


def _hot_fill(inputs: Inputs) -> Iterator[Change]:
    water_c = inputs.machine.inlet.water_c
    words = f"filled hot: {HOT_FILL_C['nominal']:g} °C instead of {water_c.nominal:g} °C"
    if water_c.nominal >= HOT_FILL_C["low"]:
        yield Change("hot-fill", words, None, "it is filled hot already")
        return
    rise_k = HOT_FILL_C["nominal"] - water_c.nominal
    per_l = WATER_J_PER_KG_K * rise_k / J_PER_KWH * inputs.prices.mean_per_kwh
    note = (
        f"the hot water is counted as if it cost no more than cold; heated by electricity at its mean price "
        f"a litre would cost {per_l:.2g} {inputs.tariff.currency} more"
    )
    yield changed(inputs, "hot-fill", words, {"machine.inlet.water_c": HOT_FILL_C}, note)


def _thermostat(inputs: Inputs) -> Iterator[Change]:
    element, words = inputs.machine.element, "a thermostat instead of a timed element"
    if element is None or element.control == "thermostat":
        why = "there is no element" if element is None else "there is one"
        yield Change("thermostat", words, None, why)
        return
    values = {"machine.element.control": "thermostat", "machine.element.sensor_error_k": 1.0}
    yield changed(inputs, "thermostat", words, values, "its sensor taken to be right within 1 K")


def _drying(inputs: Inputs) -> Iterator[Change]:
    """Ware that comes out dry: what that costs, by a plan."""
    drying, words = inputs.goal.drying, "dried by a hot last rinse instead of coming out wet"
    if drying.method != "none":
        yield Change("hot-rinse-drying", words, None, "it dries already")
    elif inputs.machine.element is None:
        yield Change("hot-rinse-drying", words, None, "there is no element")
    else:
        values = {"goal.drying.method": "hot_rinse", "goal.drying.stand_min": drying.stand_min or STAND_MIN}
        yield changed(inputs, "hot-rinse-drying", words, values, f"heat_factor {drying.heat_factor:g}")


def _instead(inputs: Inputs) -> Iterator[Change]:
    """Detergent instead of heat, and heat instead of detergent."""
    element, detergent = inputs.machine.element, inputs.goal.detergent
    words = "detergent instead of heat: no element"
    if element is None:
        yield Change("detergent-for-heat", words, None, "there is no element")
    else:
        values: dict[str, Any] = {"machine.element": None}
        if detergent is None:
            values["goal.detergent"] = DETERGENT
            words += (
                f", {DETERGENT['g_per_setting']:g} g a setting, at least {DETERGENT['least_g_per_l']:g} g/l, "
                f"at {DETERGENT['price_per_kg']:g} {inputs.tariff.currency}/kg"
            )
        yield changed(inputs, "detergent-for-heat", words, values)
    words = "heat instead of detergent: plain water"
    if detergent is None or element is None:
        why = "there is no detergent" if detergent is None else "there is no element"
        yield Change("heat-for-detergent", words, None, why)
    else:
        yield changed(inputs, "heat-for-detergent", words, {"goal.detergent": None})


def _times(value: Measured, share: float) -> dict[str, float]:
    return {end: getattr(value, end) * share for end in ("nominal", "low", "high")}
