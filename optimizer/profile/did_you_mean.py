"""What was probably meant: a value in another unit, a choice under another name, a zone by its offset, and
what is often wrong with a line that is not TOML."""

from __future__ import annotations

import re
from collections.abc import Sequence
from difflib import get_close_matches
from zoneinfo import available_timezones

from optimizer.units import celsius_from_fahrenheit

UNIT_FACTORS = {
    "W": (1000.0,),
    "l": (0.001, 1000.0),
    "kg": (0.001,),
    "A": (0.001,),
    "kJ/K": (0.001,),
    "m2": (1e-4,),
    "l/min": (60.0, 1.0 / 60.0),
    "s": (60.0,),
    "min": (1.0 / 60.0,),
    "kg/kWh": (0.001,),
}
"""By unit, the factors from other usual units, in which a value may have been written [1]: kW; ml and m3; g;
mA; J/K; cm2; l/s and l/h; min; s; g/kWh. For any other unit no mix-up is guessed at."""

PERCENT = 0.01
"""Factor from per cent to a share [1]."""

NO_WATER_C = 100.0
"""A temperature of water at or above this must have been read in °F [°C]."""

OTHER_WORDS = {
    "steel": "stainless",
    "stainless steel": "stainless",
    "inox": "stainless",
    "polypropylene": "PP",
    "polyethylene": "HDPE",
    "polycarbonate": "PC",
    "acrylic": "PMMA",
    "vinyl": "PVC",
    "timer": "timed",
    "time": "timed",
    "sensor": "thermostat",
    "float": "level",
    "switch": "level",
    "fixed": "flat",
    "csv": "series",
}
"""Other words for a choice, in small letters, and the choice they stand for (common usage, *no source*)."""

DECIMAL_COMMA = re.compile(r"=\s*[-+]?\d+,\d")
UNQUOTED_TEXT = re.compile(r"=\s*[A-Za-z]")

OFFSET = re.compile(r"(?:UTC|GMT)?\s*([+-])(\d{1,2})(?::?(00))?", re.IGNORECASE)
"""An offset from UTC in whole hours, written in place of a time zone."""
ABBREVIATION = re.compile("[A-Z]{3,5}")
"""Short name of a time zone; many are used for several, so that none of them is guessed at."""
PLACE = '"Europe/Berlin"'


def in_another_unit(wrong: float, unit: str, least: float, most: float) -> str:
    """Ask whether a value was given in another unit, where it is believable as read in that.

    Parameters
    ----------
    wrong : float
        The value, outside of the range [in `unit`].
    unit : str
        Unit of the key; ``1`` for a pure number.
    least, most : float
        Ends of the believable range [in `unit`].

    Returns
    -------
    str
        ``did you mean …?``; empty where no other unit makes it believable.

    Examples
    --------
    >>> in_another_unit(28000.0, "l", 2.0, 200.0), in_another_unit(66.0, "°C", 1.0, 65.0)
    ('did you mean 28 l?', '')
    """
    space_unit = "" if unit == "1" else f" {unit}"
    factors = (PERCENT,) if unit == "1" and most <= 1.0 else UNIT_FACTORS.get(unit, ())
    for factor in factors:
        if least <= wrong * factor <= most and wrong != 0.0:
            # Of a weight a decimal point is as often lost as grams are written: what was read is said.
            read_as = f" ({wrong:g} g)" if unit == "kg" else ""
            return f"did you mean {wrong * factor:g}{space_unit}{read_as}?"
    if unit == "°C" and wrong >= NO_WATER_C:
        celsius = celsius_from_fahrenheit(wrong)
        if least <= celsius <= most:
            return f"did you mean {celsius:.3g} °C, which is {wrong:g} °F?"
    return ""


def choice_meant(word: str, choices: Sequence[str]) -> str:
    """Find which of a few words another one stands for, spelling and case aside.

    Parameters
    ----------
    word : str
        What was written.
    choices : sequence of str
        The words allowed.

    Returns
    -------
    str
        One of them; empty where none is near.

    Examples
    --------
    >>> choice_meant("Steel", ["PP", "stainless"]), choice_meant("hdp", ["PP", "HDPE"])
    ('stainless', 'HDPE')
    """
    known = {other: choice for other, choice in OTHER_WORDS.items() if choice in choices}
    known |= {choice.casefold(): choice for choice in choices}
    near = get_close_matches(word.strip().casefold(), known, 1)
    return known[near[0]] if near else ""


def zone_meant(zone: str) -> str:
    """Say how a time zone that is not in the IANA database should be written.

    Parameters
    ----------
    zone : str
        What was written.

    Returns
    -------
    str
        A line of a tariff. Where an offset was written, the zone of that offset: in the names of the
        database its sign is the other way round (IANA, file ``etcetera``).

    Examples
    --------
    >>> zone_meant("Europe/Berlim")
    'zone = "Europe/Berlin"'
    >>> zone_meant("UTC+1")
    'zone = "Etc/GMT-1"; where clocks change with summer time, a place such as "Europe/Berlin"'
    """
    zones = available_timezones()
    if offset := OFFSET.fullmatch(zone.strip()):
        name = f"Etc/GMT{'-' if offset[1] == '+' else '+'}{int(offset[2])}"
        if name in zones:
            return f'zone = "{name}"; where clocks change with summer time, a place such as {PLACE}'
    guessable = not ABBREVIATION.fullmatch(zone) and not any(sign.isdigit() for sign in zone)
    if near := get_close_matches(zone, zones if guessable else (), 1):
        return f'zone = "{near[0]}"'
    return f"zone = {PLACE}, or another large town of your own zone"


def toml_meant(line: str) -> str:
    """Say what is often wrong with a line that is not TOML.

    Parameters
    ----------
    line : str
        The line.

    Returns
    -------
    str
        What to write instead.

    Examples
    --------
    >>> toml_meant("capacity_l = 28,5")
    'write the decimals behind a point, not a comma'
    """
    if line.startswith("["):
        return "write a table's name between brackets, on a line of its own: [tank]"
    if DECIMAL_COMMA.search(line):
        return "write the decimals behind a point, not a comma"
    if UNQUOTED_TEXT.search(line):
        return "put text into double quotes"
    return "write key = value; a # starts a comment"
