"""The profiles that come with the tool, and how a profile is named."""

from __future__ import annotations

import os
import re
import tomllib
from dataclasses import dataclass
from difflib import get_close_matches
from importlib import resources
from pathlib import Path
from typing import Literal, get_args

from optimizer.errors import CONTROL, InputError, InputIssue, quoted

ProfileKind = Literal["machine", "goal", "circuit", "tariff"]
PROFILE_KINDS: tuple[ProfileKind, ...] = get_args(ProfileKind)


@dataclass(frozen=True)
class Shipped:
    """A profile that comes with the tool.

    Attributes
    ----------
    kind : str
        ``machine``, ``goal``, ``circuit`` or ``tariff``.
    name : str
        Its file stem, by which a command takes it.
    title : str
        Its title.
    path : Path
        Its file.
    """

    kind: ProfileKind
    name: str
    title: str
    path: Path


def folder_of(kind: ProfileKind) -> Path:
    """Find the folder of the shipped profiles of a kind, in a source checkout or installed.

    Parameters
    ----------
    kind : str
        ``machine``, ``goal``, ``circuit`` or ``tariff``.

    Returns
    -------
    Path
        The folder.
    """
    return _profiles_folder() / f"{kind}s"


def _profiles_folder() -> Path:
    """Inside the package where it is installed, beside it in a checkout."""
    package = Path(str(resources.files("optimizer")))
    installed = package / "profiles"
    return installed if installed.is_dir() else package.parent / "profiles"


def shipped_names(kind: ProfileKind) -> list[str]:
    """List the names of the shipped profiles of a kind.

    Parameters
    ----------
    kind : str
        ``machine``, ``goal``, ``circuit`` or ``tariff``.

    Returns
    -------
    list of str
        File stems in alphabetical order.
    """
    return sorted(path.stem for path in folder_of(kind).glob("*.toml"))


def shipped_profiles() -> list[Shipped]:
    """List every shipped profile.

    Returns
    -------
    list of Shipped
        By kind, then by name.
    """
    found = []
    for kind in PROFILE_KINDS:
        for name in shipped_names(kind):
            path = folder_of(kind) / f"{name}.toml"
            title = tomllib.loads(path.read_text(encoding="utf-8"))["title"]
            found.append(Shipped(kind, name, title, path))
    return found


def bench_names() -> list[str]:
    """List the names of the shipped bench books.

    Returns
    -------
    list of str
        Names of their folders in alphabetical order.
    """
    return sorted(path.parent.name for path in (_profiles_folder() / "bench").glob("*/bench.toml"))


def shipped_books() -> list[tuple[str, str]]:
    """List every shipped bench book.

    Returns
    -------
    list of tuple of (str, str)
        Name, by which ``scullion measure`` takes it, and title.
    """
    folder = _profiles_folder() / "bench"
    texts = ((name, (folder / name / "bench.toml").read_text(encoding="utf-8")) for name in bench_names())
    return [(name, tomllib.loads(text)["title"]) for name, text in texts]


def bench_path(name: str) -> Path | None:
    """Find the file of a shipped bench book.

    Parameters
    ----------
    name : str
        What was given: a name, or the path of a folder or a file.

    Returns
    -------
    Path or None
        The file; None where it is a path, or no shipped bench book has the name.
    """
    shipped = _profiles_folder() / "bench" / name / "bench.toml"
    return shipped if not is_path(name) and not Path(name).exists() and shipped.is_file() else None


def is_path(name: str) -> bool:
    """Tell a path from the name of a shipped profile: it has a slash or ends in ``.toml``.

    Parameters
    ----------
    name : str
        What was given.

    Returns
    -------
    bool
        Whether it is a path.

    Examples
    --------
    >>> is_path("clubhouse"), is_path("./clubhouse"), is_path("mine.toml")
    (False, True, True)
    """
    return name.endswith(".toml") or "/" in name or os.sep in name


def profile_path(kind: ProfileKind, name: str, folder: Path = Path()) -> Path:
    """Find the file of a profile.

    Parameters
    ----------
    kind : str
        ``machine``, ``goal``, ``circuit`` or ``tariff``.
    name : str
        Name of a shipped profile, or a path.
    folder : Path
        Folder that a path starts from.

    Returns
    -------
    Path
        The file; a path is not looked at yet.

    Raises
    ------
    InputError
        If no shipped profile has the name, or it holds a sign that a terminal acts on.
    """
    if CONTROL.search(name):
        rule, fix = "must hold no control character", "rename the file"
        raise InputError([InputIssue(kind, "", f"a name {rule}", quoted(name), fix)])
    if is_path(name):
        return folder / name
    if name in shipped_names(kind):
        return folder_of(kind) / f"{name}.toml"
    raise InputError([_unknown(kind, name)])


def shipped_kind(name: str) -> ProfileKind:
    """Find the kind of a shipped profile.

    Parameters
    ----------
    name : str
        Its name.

    Returns
    -------
    str
        ``machine``, ``goal``, ``circuit`` or ``tariff``.

    Raises
    ------
    InputError
        If no shipped profile has the name, or profiles of several kinds have.
    """
    kinds = [kind for kind in PROFILE_KINDS if name in shipped_names(kind)]
    if len(kinds) == 1:
        return kinds[0]
    if kinds:
        fix = f"say which: --kind {' or --kind '.join(kinds)}"
        raise InputError(
            [InputIssue("profile", "", "several kinds have one of this name", quoted(name), fix)]
        )
    names = [other for kind in PROFILE_KINDS for other in shipped_names(kind)]
    raise InputError([_no_such("profile", name, names)])


def _unknown(kind: ProfileKind, name: str) -> InputIssue:
    others = [other for other in PROFILE_KINDS if other != kind and name in shipped_names(other)]
    hint = f"{name} is a {others[0]}. " if others else ""
    return _no_such(kind, name, shipped_names(kind), hint)


def _no_such(subject: str, name: str, names: list[str], hint: str = "") -> InputIssue:
    hint = hint or "".join(f"did you mean {near}? " for near in get_close_matches(name, names, 1))
    fix = f"{hint}Shipped: {', '.join(names)}. A file of your own is given by its path: ./mine.toml"
    return InputIssue(subject, "", "no shipped profile has this name", quoted(name), fix)


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
