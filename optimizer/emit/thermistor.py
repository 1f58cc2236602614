"""The table by which the example programs read a thermistor."""

from __future__ import annotations

import math

STEPS = 64
"""Parts into which the range of the converter is cut [1]; between two it is read along a straight line."""
COLDEST_DC, HOTTEST_DC = -600, 1999
"""What stands at the ends, where there is no thermistor or a short circuit [0.1 °C]: no bath reads that."""
ZERO_C_K, REFERENCE_K = 273.15, 298.15


def table_dc(ohm_at_25_c: float, beta_k: float, series_ohm: float) -> list[int]:
    """Work out the temperature at each part of the converter's range [0.1 °C], the thermistor to ground.

    The equation is that of the B parameter, ``1/T = 1/T25 + ln(R/R25)/B`` (IEC 60539-1, from memory), with
    ``R = series · x/(1 - x)`` at a share ``x`` of the range; the series resistor goes to the reference.

    Examples
    --------
    >>> table_dc(10_000.0, 3950.0, 10_000.0)[32]
    250
    """
    found = [HOTTEST_DC]
    for part in range(1, STEPS):
        ohm = series_ohm * part / (STEPS - part)
        kelvin = 1.0 / (1.0 / REFERENCE_K + math.log(ohm / ohm_at_25_c) / beta_k)
        found.append(min(max(round(10.0 * (kelvin - ZERO_C_K)), COLDEST_DC), HOTTEST_DC))
    return [*found, COLDEST_DC]
