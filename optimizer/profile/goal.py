"""The goal profile: what the programme must reach, and within which limits."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator
from pydantic_core import PydanticCustomError

from optimizer.profile.measured import ProfileModel, Quantity

RoundKind = Literal["prerinse", "wash", "rinse"]
TRIAL = "set by the user, or learnt from trial loads"


class Dose(ProfileModel):
    """What removes one soil, as equivalent minutes at a reference temperature.

    The rate is ``10^((T - reference_c) / z_k)`` of the ware temperature, 0 below the floor, constant
    above the ceiling. Without detergent only ``bare_share`` of it counts, and none below
    ``bare_floor_c``.
    """

    name: Annotated[str, Field(pattern=r"^[a-z][a-z0-9-]{0,23}$")]
    reference_c: Annotated[float, Quantity("°C", 10, 95, 50, "temperature at which the minutes are stated")]
    z_k: Annotated[float, Quantity("K", 3, 120, 33, "kelvin for ten times the rate")]
    floor_c: Annotated[float, Quantity("°C", 0, 95, 0, "no effect below, with detergent")] = 0.0
    ceiling_c: Annotated[float, Quantity("°C", 10, 120, 70, "no further gain above")] = 120.0
    minutes: Annotated[float, Quantity("min", 0.05, 600, 12, TRIAL)]
    kinds: Annotated[list[RoundKind], Field(min_length=1)]
    bare_share: Annotated[float, Quantity("1", 0, 1, 0.4, "share of the rate left without detergent")] = 1.0
    bare_floor_c: Annotated[float, Quantity("°C", 0, 95, 42, "no effect below, without detergent")] = 0.0
    soak_share: Annotated[float, Quantity("1", 0, 1, 0.2, "share of the rate left with the spray off")] = 0.0

    @model_validator(mode="after")
    def _ordered(self) -> Dose:
        if self.floor_c > self.ceiling_c or self.bare_floor_c > self.ceiling_c:
            raise PydanticCustomError(
                "dose_order", "floor_c and bare_floor_c must not be above ceiling_c", {"fix": "floor_c = 40"}
            )
        return self


class Detergent(ProfileModel):
    """Detergent of every wash round (leave the table out to wash with plain water)."""

    g_per_l: Annotated[float, Quantity("g/l", 0.1, 30, 3, "the packet's dose over the litres it is meant for")]
    price_per_kg: Annotated[float, Quantity("currency/kg", 0, 200, 4, "the packet, in the tariff's currency")]


class Rinse(ProfileModel):
    """Rinse quality."""

    residue_max: Annotated[
        float, Quantity("1", 1e-7, 0.5, 0.001, "share of the last wash's soil and detergent that may stay")
    ]
    rounds_min: Annotated[int, Field(ge=0, le=6)] = 1


class Hygiene(ProfileModel):
    """Thermal hygiene of the rinse rounds: an A0 value, or heat-unit equivalents (never converted)."""

    method: Literal["none", "a0", "hue"] = "none"
    target_s: Annotated[float, Quantity("s", 1, 40000, 60, "60, 600, 3000 (A0) or 3600 (heat units)")] | None = (
        None
    )

    @model_validator(mode="after")
    def _target_given(self) -> Hygiene:
        if (self.method != "none") != (self.target_s is not None):
            raise PydanticCustomError(
                "hygiene_target",
                'target_s goes with method = "a0" or "hue", and only with them',
                {"fix": "target_s = 60"},
            )
        return self


class Drying(ProfileModel):
    """Drying by the heat that the last rinse leaves in the ware."""

    method: Literal["none", "hot_rinse"] = "none"
    heat_factor: Annotated[float, Quantity("1", 0.1, 3, 0.6, "ware heat over the film's heat of vaporisation")] = (
        0.6
    )
    stand_min: Annotated[float, Quantity("min", 0, 240, 20, "standing with the lid ajar")] = 0.0


class Prerinse(ProfileModel):
    """Prerinse rounds."""

    rounds_min: Annotated[int, Field(ge=0, le=2)] = 1
    limit_c: Annotated[float, Quantity("°C", 5, 60, 40, "protein and starch set above 40 °C")] = 40.0


class Limits(ProfileModel):
    """Outer limits."""

    duration_min: Annotated[float, Quantity("min", 5, 900, 150, "the longest you are ready to wait")]
    time_weight: Annotated[float, Quantity("1", 0, 10, 1, "0: time is worth nothing")] = 1.0
    water_l: Annotated[float, Quantity("l", 2, 600, 60, "the most you can spare")] | None = None


class Goal(ProfileModel):
    """What the programme must reach."""

    kind: Literal["goal"]
    title: Annotated[str, Field(min_length=1, max_length=70)]
    about: str = ""
    dose: Annotated[list[Dose], Field(min_length=1, max_length=8)]
    rinse: Rinse
    limits: Limits
    detergent: Detergent | None = None
    hygiene: Hygiene = Hygiene()
    drying: Drying = Drying()
    prerinse: Prerinse = Prerinse()

    @model_validator(mode="after")
    def _names_once(self) -> Goal:
        names = [dose.name for dose in self.dose]
        twice = sorted({name for name in names if names.count(name) > 1})
        if twice:
            raise PydanticCustomError(
                "dose_twice", "two doses are called {name}", {"name": twice[0], "fix": "give each its own name"}
            )
        return self
