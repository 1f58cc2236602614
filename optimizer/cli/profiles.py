"""``scullion profiles``: list, show, start and describe profiles."""

from __future__ import annotations

import sys
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from optimizer.cli.ending import Commands
from optimizer.cli.options import ForceOption, JsonOption
from optimizer.cli.terminal import print_json
from optimizer.files import read_text, write_text_atomic
from optimizer.profile.shipped import (
    PROFILE_KINDS,
    ProfileKind,
    Shipped,
    profile_path,
    shipped_profiles,
    starting_text,
)
from optimizer.report.layout import wrapped

profiles_app = typer.Typer(
    name="profiles",
    cls=Commands,
    help="List the profiles that come with the tool, show one, or start one of your own.",
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)


class KindChoice(StrEnum):
    """Kinds of profile, as the command line takes them."""

    MACHINE = "machine"
    GOAL = "goal"
    CIRCUIT = "circuit"
    TARIFF = "tariff"


class NewChoice(StrEnum):
    """What a file to begin with can be of."""

    MACHINE = "machine"
    GOAL = "goal"
    CIRCUIT = "circuit"
    TARIFF = "tariff"
    TRIALS = "trials"


NewArgument = Annotated[
    NewChoice, typer.Argument(metavar="KIND", help="machine, goal, circuit, tariff or trials (a trial book).")
]
KindArgument = Annotated[KindChoice, typer.Argument(metavar="KIND", help="machine, goal, circuit or tariff.")]


@profiles_app.callback(invoke_without_command=True)
def list_profiles(context: typer.Context, as_json: JsonOption = False) -> None:
    """List the profiles that come with the tool, show one, or start one of your own.

    Without a command it lists what comes with the tool. All of it is invented: start from it, and put
    in what you measured.
    """
    if context.invoked_subcommand is not None:
        return
    found = shipped_profiles()
    if as_json:
        print_json([{"kind": one.kind, "name": one.name, "title": one.title} for one in found])
    else:
        print("\n\n".join(_section(kind, found) for kind in PROFILE_KINDS))


@profiles_app.command("show")
def show_profile(
    name: Annotated[str, typer.Argument(metavar="NAME", help="Name of a shipped profile, or a path.")],
    kind: Annotated[
        KindChoice | None, typer.Option(metavar="KIND", help="Its kind, where the name alone is not enough.")
    ] = None,
    as_json: JsonOption = False,
) -> None:
    """Show a profile.

    It is printed as it was written; with --json it is validated first and every value that was left
    out is filled in.
    """
    from optimizer.profile.load import kind_of, load_profile

    found = _kind(kind) if kind else kind_of(name)
    if as_json:
        print_json(load_profile(found, name).model_dump(mode="json"))
    else:
        print(read_text(profile_path(found, name), f"{found} profile"), end="")


@profiles_app.command("new")
def new_profile(
    kind: NewArgument,
    file: Annotated[Path, typer.Argument(metavar="FILE", help="Where to write it, for example mine.toml.")],
    force: ForceOption = False,
) -> None:
    """Write a commented file to begin with.

    It is valid as it stands; every comment says where the number below it comes from. A trial book (trials)
    is CSV where the name of the file ends in .csv, else TOML.
    """
    if kind == NewChoice.TRIALS:
        from optimizer.trial.blank_book import blank_book

        text = blank_book(file)
    else:
        text = starting_text(_kind(kind))
    write_text_atomic(file, text, force=force)
    print(f"Wrote {file}. Put your own numbers into it.", file=sys.stderr)


@profiles_app.command("schema")
def show_schema(kind: KindArgument) -> None:
    """Print the JSON Schema of a kind, for editors that check and complete TOML."""
    from optimizer.profile.load import MODELS

    print_json(MODELS[_kind(kind)].model_json_schema())


def _kind(choice: KindChoice | NewChoice) -> ProfileKind:
    return next(kind for kind in PROFILE_KINDS if kind == choice.value)


def _section(kind: ProfileKind, found: list[Shipped]) -> str:
    of_kind = [one for one in found if one.kind == kind]
    wide = max(len(one.name) for one in of_kind)
    return "\n".join([f"{kind}s", *(wrapped(one.title, f"  {one.name:<{wide}}  ") for one in of_kind)])
