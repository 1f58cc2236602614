"""The file that `scullion profiles new` writes for a machine, a goal, a circuit or a tariff."""

from __future__ import annotations

import re

from optimizer.profile.shipped import ProfileKind, folder_of

MODEL_FOR: dict[ProfileKind, str] = {
    "machine": "clubhouse",
    "goal": "everyday",
    "circuit": "plug-10a",
    "tariff": "two-rate",
}
"""The shipped profile that shows the most keys of its kind."""

CAUTION = """\
#
# Caution: mains voltage, hot elements and scalding water. Measure powers and
# currents through a plug-in meter, never on bare terminals; have the wiring
# done or checked by a licensed electrician; local codes come first.
"""


OPTIONAL_TABLES: dict[ProfileKind, str] = {
    "tariff": """\

# Instead of [electricity] and all its windows: prices from a CSV file beside
# this one, a line for every 15, 30 or 60 min. Its first line is
# start_utc,price_per_kwh or, in the clock time of the zone,
# start_local,price_per_kwh. The same price at all hours: form = "flat".
# [electricity]
# form = "series"
# series_csv = "my-prices.csv"
# zone = "Europe/Berlin"
""",
    "circuit": """\
# behind an inverter or a generator: its surge power over its voltage. Asked for
# more for a moment, as a pump or a compressor starts, it shuts off
# momentary_a = 20
""",
    "goal": """\
# the most water a run may take
# water_l = 60
# the longest that a wash may soak with the pump off, minutes; 0: not at all
# soak_min = 60

# What a goal may have besides. Take the marks off the lines you want.

# heat of the rinses against germs: "a0" with 60, 600 or 3000, "hue" with 3600
# [hygiene]
# method = "a0"
# target_s = 60

# drying by a hot last rinse ("hot_rinse") or by the steam of a pool ("steam")
# [drying]
# method = "hot_rinse"
# heat of the ware over the heat that its film of water needs
# heat_factor = 0.6
# standing after the last drain, minutes: lid shut for the first 2 of them (5
# after steam, which is experimental), then ajar
# stand_min = 20
""",
}
"""What a profile to begin with holds beyond its shipped model, as comments; it follows the last table."""


NOT_YET_MEASURED: dict[ProfileKind, dict[str, str]] = {
    "machine": {
        r"# logged at .*\n(?:# .*\n)*voltage_v = .*\n": """\
# not logged yet: what the supplier may deliver, 230 V ± 10 % (EN 50160); 120 V:
# 108 to 126 (ANSI C84.1, range A, and the wiring of the house). Narrower only
# where a logger stood at the machine's own socket for a year
voltage_v = { nominal = 230, tolerance_pct = 10 }
""",
        r"# bucket, kitchen scales and stopwatch.*\n(?:# .*\n)*flow_l_per_min = .*\n": """\
# bucket, kitchen scales and stopwatch, at several hours of the day. 15 % for a
# year without a pressure or flow regulator (common practice, no source)
flow_l_per_min = { nominal = 6, tolerance_pct = 15 }
""",
        r"# ohm-meter.*\n(?:# .*\n)*rated_w = .*\n": """\
# name-plate: +5 / -10 % of it (IEC 60335-1, clause 10, from memory); narrower
# only where an ohm-meter measured it, unplugged: V²/R
rated_w = { nominal = 900, low = 810, high = 945 }
""",
        r"(# a common one of ± 5 K); left out.*\n# cut_out_room_k = .*\n": """\
# a common one of ± 5 K
cut_out_room_k = 8
""",
        r'# "timed", or "thermostat".*\n(?:# .*\n)*control = "timed"\n': """\
# "thermostat" where a sensor switches it. "timed" without one: then the next
# two keys go, and a voltage that was not logged may leave no programme
control = "thermostat"
# sensor against a thermometer in the same water, largest gap
sensor_error_k = 1
# gap between switching off and on again, watched on the sensor
hysteresis_k = 1.5
""",
    },
}
"""By a pattern of what the shipped model has measured: what a new file has instead, for a year."""

YEAR = """\
# Voltage, watts of the element and flow have the tolerances of a year, to
# count with until they are logged, measured and regulated.
"""


def starting_text(kind: ProfileKind) -> str:
    """Write a profile to begin with.

    Parameters
    ----------
    kind : str
        ``machine``, ``goal``, ``circuit`` or ``tariff``.

    Returns
    -------
    str
        TOML with a comment at every value. It is valid as it stands, with the shipped profile's numbers
        and, for what is not measured on the first day, the tolerances of a year.
    """
    name = MODEL_FOR[kind]
    text = (folder_of(kind) / f"{name}.toml").read_text(encoding="utf-8")
    body = text[text.index("\nkind = ") + 1 :]
    for measured, not_yet in NOT_YET_MEASURED.get(kind, {}).items():
        body = re.sub(f"^{measured}", not_yet, body, count=1, flags=re.MULTILINE)
    body = re.sub(r'^title = ".*"$', f'title = "My {kind}"', body, flags=re.MULTILINE)
    body = re.sub(r'^about = ("""(?s:.*?)"""|".*")$', 'about = ""', body, flags=re.MULTILINE)
    a_year = YEAR if kind in NOT_YET_MEASURED else ""
    return f"""\
# A {kind} to fill in. Every number below is invented, as it stands in the
# shipped profile {name}: put your own in its place. The comment above it
# says where it comes from, the end of its key says its unit. A number with a
# tolerance is written {{ nominal, low, high }}, the ends you met or would
# believe, or {{ nominal, tolerance_pct }}, wherever one stands here already.
{a_year}{CAUTION if kind in ("machine", "circuit") else ""}
{body}{OPTIONAL_TABLES.get(kind, "")}"""
