"""A machine profile made of estimates, of what the book states and of another profile that it is like."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from pydantic import ValidationError
from pydantic.fields import FieldInfo

from optimizer.errors import InputError, InputIssue
from optimizer.measure.estimate import Estimate
from optimizer.measure.thermal_test import THERMAL_KEYS, Known
from optimizer.profile.machine import Machine
from optimizer.profile.machine_ware import HEAT_CAPACITY_KJ_PER_KG_K
from optimizer.profile.measured import Measured, ProfileModel
from optimizer.profile.messages import issues_of, quantity_of, takes_ends

Source = Literal["measured", "stated", "like"]

SAFE_END = {
    "tank.capacity_l": "low",
    "element.cover_l": "high",
    "wash_pump.prime_l": "high",
    "wash_pump.power_factor": "low",
    "drain_pump.power_factor": "low",
    "supply.controller_w": "high",
    "inlet.valve_w": "high",
}
"""Which end a key that takes one number gets: the one that a plan is safe with."""

SHARE, POWER = "wash_pump.heat_share", "wash_pump.power_w"
"""The share takes one number and only ever multiplies the power, whose ends are widened by the share's."""


@dataclass(frozen=True)
class Part:
    """A value of the profile and where it comes from.

    Attributes
    ----------
    key : str
        Its dotted key.
    value : object
        As the profile writes it: a number, a text, or nominal, low and high.
    source : str
        ``measured``, ``stated`` in the book, or from the profile the machine is ``like``.
    estimate : Estimate or None
        What was measured.
    note : str
        What was made of the estimate, where it is not the estimate itself; else empty.
    """

    key: str
    value: Any
    source: Source
    estimate: Estimate | None = None
    note: str = ""


ProfileParts = dict[str, Part]
"""By key."""


def measured_parts(
    estimates: Sequence[Estimate], stated: Mapping[str, Any], like: Machine | None
) -> ProfileParts:
    """Put the values of a profile together; later sources give way to earlier ones."""
    parts: ProfileParts = {}
    if like is not None:
        for key, value in leaves(like.model_dump(mode="json", exclude_unset=True)):
            if key != "about":  # it tells of the other machine
                parts[key] = Part(key, value, "like")
    if any(one.key.startswith("ware.") and one.key.endswith("_kg") for one in estimates):
        # The load is the one that was weighed, not that load with what another machine has beside it.
        parts = {key: part for key, part in parts.items() if not _is_mass(key)}
    for key, value in leaves(dict(stated)):
        parts[key] = Part(key, value, "stated")
    for estimate in estimates:
        parts[estimate.key] = _of_estimate(estimate)
    share = next((one for one in estimates if one.key == SHARE), None)
    if share is not None and share.nominal > 0.0 and POWER in parts:
        parts[POWER] = _widened(parts[POWER], share)
    return {key: parts[key] for key in [*_order(Machine), *parts] if key in parts}


def _of_estimate(found: Estimate) -> Part:
    key = found.key
    nominal, low, high = _rounded(found)
    if takes_ends(Machine, tuple(key.split("."))):
        return Part(key, {"nominal": nominal, "low": low, "high": high}, "measured", found)
    end = SAFE_END.get(key, "nominal")
    value = {"low": low, "high": high, "nominal": nominal}[end]
    note = f"the {end} end, as this key takes one number" if end != "nominal" else ""
    return Part(key, value, "measured", found, note)


def _widened(power: Part, share: Estimate) -> Part:
    ends = Measured.model_validate(power.value)
    low, high = ends.low * share.low / share.nominal, ends.high * share.high / share.nominal
    quantity = quantity_of(Machine, tuple(POWER.split(".")))
    assert quantity is not None
    low, high = max(low, quantity.least), min(high, quantity.most)
    digits = _digits(high - low)
    value = {"nominal": ends.nominal, "low": _down(low, digits), "high": _up(high, digits)}
    note = "its ends are widened by those of heat_share, which takes one number and multiplies it"
    return Part(power.key, value, power.source, power.estimate, note)


def _rounded(found: Estimate) -> tuple[float, float, float]:
    """Nominal, low and high with the digits that matter, the ends rounded outwards."""
    quantity = quantity_of(Machine, tuple(found.key.split(".")))
    digits = _digits(found.high - found.low)
    low, high = _down(found.low, digits), _up(found.high, digits)
    if quantity is not None:
        low, high = max(low, quantity.least), min(high, quantity.most)
    return min(max(round(found.nominal, digits), low), high), low, high


def _digits(width: float) -> int:
    """Decimals that show a hundredth of a width."""
    return 4 if width <= 0.0 else max(0, 2 - math.floor(math.log10(width)))


def _down(value: float, digits: int) -> float:
    return float(math.floor(round(value * 10**digits, 6)) / 10**digits)


def _up(value: float, digits: int) -> float:
    return float(math.ceil(round(value * 10**digits, 6)) / 10**digits)


def _is_mass(key: str) -> bool:
    return key.startswith("ware.") and key.endswith("_kg")


def leaves(tables: Mapping[str, Any], path: str = "") -> Iterator[tuple[str, Any]]:
    """Values of nested tables by dotted key; a number with its ends is one value."""
    for name, value in tables.items():
        key = f"{path}.{name}" if path else name
        if isinstance(value, Mapping) and "nominal" not in value:
            yield from leaves(value, key)
        elif value is not None:
            yield key, value


def _order(model: type[ProfileModel], path: str = "") -> Iterator[str]:
    """Keys of a machine profile in their order; of one table those without a table of their own first."""
    for name, field in model.model_fields.items():
        key = f"{path}.{name}" if path else name
        table = _table(field)
        if table is None:
            yield key
        else:
            yield from _order(table, key)


def _table(field: FieldInfo) -> type[ProfileModel] | None:
    candidates = [field.annotation, *getattr(field.annotation, "__args__", ())]
    for one in candidates:
        if isinstance(one, type) and issubclass(one, ProfileModel) and one is not Measured:
            return one
    return None


def nested(parts: ProfileParts) -> dict[str, Any]:
    """The tables of the profile."""
    tables: dict[str, Any] = {}
    for key, part in parts.items():
        *folders, last = key.split(".")
        place = tables
        for folder in folders:
            place = place.setdefault(folder, {})
        place[last] = part.value
    return tables


def missing_keys(parts: ProfileParts) -> list[str]:
    """Keys without which there is no profile; those of an element only where it has some."""
    missing = []
    for name, field in Machine.model_fields.items():
        table = _table(field)
        if table is None:
            if field.is_required() and name not in parts:
                missing.append(name)
            continue
        if not field.is_required() and not any(key.startswith(f"{name}.") for key in parts):
            continue
        for inner, inner_field in table.model_fields.items():
            if inner_field.is_required() and f"{name}.{inner}" not in parts:
                missing.append(f"{name}.{inner}")
    return missing


def measured_machine(parts: ProfileParts, subject: str) -> Machine:
    """Validate the profile; `InputError` names the tests behind numbers that do not fit together."""
    try:
        return Machine.model_validate(nested(parts))
    except ValidationError as error:
        issues = issues_of(error, Machine, subject)
        raise InputError([_with_tests(issue, parts) for issue in issues]) from error


def _with_tests(issue: InputIssue, parts: ProfileParts) -> InputIssue:
    """Say where the numbers that a rule compares come from."""
    named = [key for key in parts if key == issue.key or key in issue.rule]
    sources = "; ".join(f"{key} is {source_of(parts[key])}" for key in named)
    fix = f"{issue.fix} ({sources})" if sources else issue.fix
    return InputIssue(issue.subject, issue.key, issue.rule, issue.found, fix)


def source_of(part: Part) -> str:
    """Where a value comes from, in words."""
    if part.estimate is not None:
        where = part.estimate.test or "the thermal logs"
        return f"from {where}, {count_readings(part.estimate.readings)}"
    return "stated in the book" if part.source == "stated" else "from --like"


def count_readings(many: int) -> str:
    """So many readings, in words."""
    return "1 reading" if many == 1 else f"{many} readings"


def known_of(parts: ProfileParts) -> Known:
    """What the fit of the thermal logs takes from the other tests and from the profile it is like."""

    def measured(key: str) -> Measured | None:
        return Measured.model_validate(parts[key].value) if key in parts else None

    def number(key: str, otherwise: float) -> float:
        estimate = parts[key].estimate if key in parts else None
        if estimate is not None:  # the profile may have its safe end
            return estimate.nominal
        found = measured(key)
        return otherwise if found is None else found.nominal

    usual = Known()
    masses = {name: measured(f"ware.{name}_kg") for name in HEAT_CAPACITY_KJ_PER_KG_K}
    weighed = {name: mass for name, mass in masses.items() if mass is not None}
    ware = None
    if weighed:
        ends = (
            sum(HEAT_CAPACITY_KJ_PER_KG_K[name] * getattr(mass, end) for name, mass in weighed.items())
            for end in ("nominal", "low", "high")
        )
        nominal, low, high = ends
        ware = Measured(nominal=nominal, low=low, high=high)
    leaned = {key: parts[key] for key in THERMAL_KEYS if key in parts and parts[key].estimate is None}
    return Known(
        ware_kj_per_k=ware,
        pump_w=measured(POWER),
        supply_v=measured("supply.voltage_v") or usual.supply_v,
        rated_v=number("element.rated_v", 0.0) or None,
        controller_w=number("supply.controller_w", usual.controller_w),
        film_l=number("ware.film_l", usual.film_l),
        vent_m2=number("tank.vent_m2", usual.vent_m2),
        humidity=number("room.humidity_pct", 100.0 * usual.humidity) / 100.0,
        like={key: Measured.model_validate(part.value) for key, part in leaned.items()},
    )
