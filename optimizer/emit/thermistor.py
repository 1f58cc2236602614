"""The table by which the example programs read a thermistor: of its B, or of two readings of an ohm-meter."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass

from optimizer.errors import InputError, InputIssue
from optimizer.profile.messages import written

STEPS = 64
"""Parts into which the range of the converter is cut [1]; between two it is read along a straight line."""
COLDEST_DC, HOTTEST_DC = -600, 1999
"""What stands at the ends, where there is no thermistor or a short circuit [0.1 °C]: no bath reads that."""
ZERO_C_K, REFERENCE_K = 273.15, 298.15
IN_A_LINE = 13

OHMS, BETAS_K, POINTS_C = (100.0, 1e6), (2000.0, 6000.0), (-20.0, 110.0)
APART_K = 20.0
"""Two readings have to be so far apart at least [K]: an ohm-meter is a per cent or two off (our choice)."""

BY_BETA = re.compile(r"([0-9.]+),([0-9.]+),([0-9.]+)", re.ASCII)
BY_POINTS = re.compile(r"([0-9.]+)@(-?[0-9.]+),([0-9.]+)@(-?[0-9.]+),([0-9.]+)", re.ASCII)
EXAMPLE = "10000,3950,10000, or two readings: 32650@0,2490@60,10000"


@dataclass(frozen=True)
class Thermistor:
    """A thermistor to ground, with a resistor in series to the reference."""

    ohm_at_25_c: float
    beta_k: float
    series_ohm: float

    @property
    def words(self) -> str:
        """What stands above its table."""
        ohm, beta_k, series_ohm = self.ohm_at_25_c, self.beta_k, self.series_ohm
        return f"{ohm:.0f} ohms at 25 C, B {beta_k:.0f} K, {series_ohm:.0f} ohms in series"

    def table(self) -> str:
        """Its table as both languages write it."""
        numbers = [f"{dc}," for dc in table_dc(self.ohm_at_25_c, self.beta_k, self.series_ohm)]
        rows = (numbers[start : start + IN_A_LINE] for start in range(0, len(numbers), IN_A_LINE))
        return "".join(f"    {' '.join(row)}\n" for row in rows)


USUAL = Thermistor(10_000.0, 3950.0, 10_000.0)
"""The one that the example programs are written for."""


def of_two_points(cold: tuple[float, float], hot: tuple[float, float], series_ohm: float) -> Thermistor:
    """Work out a thermistor from two readings, each [Ω] at [°C].

    Solves ``R = R25 exp(B (1/T - 1/T25))`` for B and R25 (IEC 60539-1, from memory).

    Examples
    --------
    >>> of_two_points((32_650.0, 0.0), (2_490.0, 60.0), 10_000.0).words
    '9852 ohms at 25 C, B 3903 K, 10000 ohms in series'
    """
    (cold_ohm, cold_c), (hot_ohm, hot_c) = cold, hot
    colder, hotter = (1.0 / (celsius + ZERO_C_K) for celsius in (cold_c, hot_c))
    beta_k = math.log(cold_ohm / hot_ohm) / (colder - hotter)
    return Thermistor(cold_ohm * math.exp(-beta_k * (colder - 1.0 / REFERENCE_K)), beta_k, series_ohm)


def read_thermistor(text: object, subject: str = "thermistor") -> Thermistor:
    """Read what a person writes: ohms at 25 °C, B, ohms in series; or two readings in place of the first two.

    Raises `InputError` where it is neither, or no thermistor of a bath.
    """
    issues: list[InputIssue] = []

    def between(what: str, value: float, span: tuple[float, float], unit: str) -> None:
        if not span[0] <= value <= span[1]:
            rule = f"{what} must be {span[0]:g} to {span[1]:g} {unit}"
            issues.append(InputIssue(subject, "", rule, f"{value:.6g}", EXAMPLE))

    try:
        if not isinstance(text, str):
            raise ValueError
        if found := BY_BETA.fullmatch(text):
            made = Thermistor(*map(float, found.groups()))
        elif found := BY_POINTS.fullmatch(text):
            cold_ohm, cold_c, hot_ohm, hot_c, series_ohm = map(float, found.groups())
            between("the first temperature", cold_c, POINTS_C, "°C")
            between("the second temperature", hot_c, POINTS_C, "°C")
            between("the first resistance", cold_ohm, OHMS, "Ω")
            # A hot one may be less than what one has at 25 °C.
            between("the second resistance", hot_ohm, (1.0, OHMS[1]), "Ω")
            if hot_c - cold_c < APART_K:
                rule = f"two readings at least {APART_K:g} K apart, the colder one first"
                issues.append(InputIssue(subject, "", rule, f"{cold_c:g} and {hot_c:g} °C", EXAMPLE))
            if issues:
                raise InputError(issues)
            made = of_two_points((cold_ohm, cold_c), (hot_ohm, hot_c), series_ohm)
        else:
            raise ValueError
    except ValueError as error:
        rule = "must be ohms at 25 °C, B and ohms in series, or two readings OHM@C and ohms in series"
        raise InputError([InputIssue(subject, "", rule, written(text), EXAMPLE)]) from error
    between("its resistance at 25 °C", made.ohm_at_25_c, OHMS, "Ω")
    between("its B", made.beta_k, BETAS_K, "K")
    between("the resistor in series", made.series_ohm, OHMS, "Ω")
    if issues:
        raise InputError(issues)
    return made


def fitted(files: Mapping[str, str], thermistor: Thermistor | None) -> dict[str, str]:
    """Give the files of a controller with the table of another thermistor in its example program."""
    if thermistor is None:
        return dict(files)
    return {
        name: text.replace(USUAL.table(), thermistor.table()).replace(USUAL.words, thermistor.words)
        for name, text in files.items()
    }


def table_dc(ohm_at_25_c: float, beta_k: float, series_ohm: float) -> list[int]:
    """Work out the temperature at each part of the converter's range [0.1 °C], the thermistor to ground.

    The equation is that of the B parameter, ``1/T = 1/T25 + ln(R/R25)/B`` (IEC 60539-1, from memory), with
    ``R = series · x/(1 - x)`` at a share ``x`` of the range; the series resistor goes to the reference. All
    three are above 0; `read_thermistor` says so of what a person writes.

    Examples
    --------
    >>> table_dc(10_000.0, 3950.0, 10_000.0)[32]
    250
    """
    found = [HOTTEST_DC]
    for part in range(1, STEPS):
        ohm = series_ohm * part / (STEPS - part)
        kelvin = 1.0 / (1.0 / REFERENCE_K + math.log(ohm / ohm_at_25_c) / beta_k)
        tenths = 10.0 * (kelvin - ZERO_C_K) if kelvin > 0.0 else HOTTEST_DC
        found.append(min(max(round(tenths), COLDEST_DC), HOTTEST_DC))
    return [*found, COLDEST_DC]
