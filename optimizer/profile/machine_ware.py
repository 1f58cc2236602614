"""What a machine's profile says of its ware: one full load, its heat capacity, how it follows the bath."""

from __future__ import annotations

from typing import Annotated

from pydantic import model_validator

from optimizer.profile.measured import Breach, Measured, ProfileModel, Quantity, refuse

Mass = Annotated[Measured, Quantity("kg", 0, 60, 4, "kitchen scales, one full load")]

HEAT_CAPACITY_KJ_PER_KG_K = {"porcelain": 1.05, "glass": 0.84, "stainless": 0.50, "plastic": 1.9}
"""Specific heat of what is washed [kJ/(kg K)]; porcelain, glass, steel: handbook values; plastic: PP, PE."""


class Ware(ProfileModel):
    """One full load of what is washed."""

    porcelain_kg: Mass = Measured(nominal=0.0, low=0.0, high=0.0)
    glass_kg: Mass = Measured(nominal=0.0, low=0.0, high=0.0)
    stainless_kg: Mass = Measured(nominal=0.0, low=0.0, high=0.0)
    plastic_kg: Mass = Measured(nominal=0.0, low=0.0, high=0.0)
    settings: Annotated[int, Quantity("1", 1, 60, 6, "place settings of one full load")] = 6
    film_l: Annotated[Measured, Quantity("l", 0.005, 3, 0.2, "weigh the load wet after a drain, then dry")]
    response_spraying_s: Annotated[
        Measured,
        Quantity("s", 5, 600, 45, "time a plate takes to close 63 % of its gap to the bath, spraying"),
    ]
    steam_share: Annotated[
        Measured, Quantity("1", 0.05, 1, 0.4, "plate's rise over the pool's boiling, thermometer on a plate")
    ] = Measured(nominal=0.4, low=0.3, high=0.5)
    response_still_s: Annotated[Measured, Quantity("s", 120, 20000, 1800, "the same, pump off")] = Measured(
        nominal=1800.0, low=1200.0, high=3000.0
    )

    def _masses(self) -> tuple[tuple[float, Measured], ...]:
        cp = HEAT_CAPACITY_KJ_PER_KG_K
        return (
            (cp["porcelain"], self.porcelain_kg),
            (cp["glass"], self.glass_kg),
            (cp["stainless"], self.stainless_kg),
            (cp["plastic"], self.plastic_kg),
        )

    @property
    def heat_capacity_kj_per_k(self) -> Measured:
        """Heat capacity of the load [kJ/K]."""
        low, nominal, high = (
            sum(cp * getattr(mass, end) for cp, mass in self._masses()) for end in ("low", "nominal", "high")
        )
        return Measured(nominal=nominal, low=low, high=high)

    @property
    def parts_kg(self) -> dict[str, float]:
        """What one load weighs, by material, those that are not there left out [kg]."""
        parts = {"porcelain": self.porcelain_kg, "glass": self.glass_kg,
                 "steel": self.stainless_kg, "plastic": self.plastic_kg}  # fmt: skip
        return {name: mass.nominal for name, mass in parts.items() if mass.nominal > 0.0}

    @property
    def in_steel_kg(self) -> float:
        """Steel that holds the heat of the load, by nominal masses [kg].

        Examples
        --------
        >>> per_s = {"film_l": 0.2, "response_spraying_s": 45}
        >>> round(Ware.model_validate({"porcelain_kg": 2.0, "stainless_kg": 0.5} | per_s).in_steel_kg, 9)
        4.7
        """
        return self.heat_capacity_kj_per_k.nominal / HEAT_CAPACITY_KJ_PER_KG_K["stainless"]

    @model_validator(mode="after")
    def _not_empty(self) -> Ware:
        if self.heat_capacity_kj_per_k.low <= 0.0:
            rule = "at least one mass must be above 0 kg, its low end too"
            refuse([Breach((), None, rule, "porcelain_kg = 4")])
        return self
