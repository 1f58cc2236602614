"""The profiles that come with the tool, and how a profile is named."""

from __future__ import annotations

import os
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


def shipped_title(kind: ProfileKind, name: str) -> str | None:
    """Give the title of a shipped profile.

    Parameters
    ----------
    kind : str
        ``machine``, ``goal``, ``circuit`` or ``tariff``.
    name : str
        What a profile was asked for by.

    Returns
    -------
    str or None
        Its title; None where that is no name of a shipped profile.
    """
    return _title_in(folder_of(kind) / f"{name}.toml") if name in shipped_names(kind) else None


def _title_in(path: Path) -> str:
    return str(tomllib.loads(path.read_text(encoding="utf-8"))["title"])


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
            found.append(Shipped(kind, name, _title_in(path), path))
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
    if name and os.path.isdir(folder / name):
        raise InputError([InputIssue(kind, "", "is a folder", quoted(name), f"the path of a {kind} in it")])
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
