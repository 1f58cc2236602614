"""The price of electricity over the whole period of a tariff, summed up."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Prices:
    """Price of electricity over the tariff's whole period.

    Attributes
    ----------
    mean_per_kwh, least_per_kwh, most_per_kwh : float
        Mean over time, lowest and highest price [currency/kWh].
    """

    mean_per_kwh: float
    least_per_kwh: float
    most_per_kwh: float
