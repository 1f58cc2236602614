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
    profile_path,
    shipped_books,
    shipped_profiles,
)
from optimizer.profile.starting_text import starting_text
from optimizer.report.layout import wrapped

profiles_app = typer.Typer(
    name="profiles",
    cls=Commands,
    help="List the profiles that come with the tool, show one, or start one of your own.",
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)


SECTIONS: dict[str, str] = {**{kind: f"{kind}s" for kind in PROFILE_KINDS}, "bench": "bench books"}
"""By kind, the title of what is listed."""


class KindChoice(StrEnum):
    """Kinds of profile, as the command line takes them."""

    MACHINE = "machine"
    GOAL = "goal"
    CIRCUIT = "circuit"
    TARIFF = "tariff"


class NewChoice(StrEnum):
    """What can be started, as the command line takes it."""

    BENCH = "bench"
    MACHINE = "machine"
    GOAL = "goal"
    CIRCUIT = "circuit"
    TARIFF = "tariff"
    TRIALS = "trials"


KindArgument = Annotated[KindChoice, typer.Argument(metavar="KIND", help="machine, goal, circuit or tariff.")]


@profiles_app.callback(invoke_without_command=True)
def list_profiles(context: typer.Context, as_json: JsonOption = False) -> None:
    """List the profiles that come with the tool, show one, or start one of your own.

    Without a command it lists what comes with the tool. All of it is invented: start from it, and put
    in what you measured.
    """
    if context.invoked_subcommand is not None:
        return
    found: list[tuple[str, str, str]] = [(one.kind, one.name, one.title) for one in shipped_profiles()]
    found += [("bench", name, title) for name, title in shipped_books()]
    if as_json:
        print_json([dict(zip(("kind", "name", "title"), one, strict=True)) for one in found])
    else:
        print("\n\n".join(_section(kind, title, found) for kind, title in SECTIONS.items()))


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
    kind: Annotated[
        NewChoice,
        typer.Argument(metavar="KIND", help="bench, machine, goal, circuit, tariff or trials (trial book)."),
    ],
    file: Annotated[
        Path,
        typer.Argument(metavar="FILE", help="Where to write it, for example mine.toml; for bench a folder."),
    ],
    force: ForceOption = False,
) -> None:
    """Write a commented file to begin with.

    It is valid as it stands; every comment says where the number below it comes from. A bench book is a
    folder: its file says which test to do, in which order and for how long, and scullion measure reads it. A
    trial book (trials) is CSV where the name of the file ends in .csv, else TOML.
    """
    if kind is NewChoice.BENCH:
        from optimizer.measure.new_book import write_new_book

        print(f"Wrote {write_new_book(file, force=force)}. Put your readings into it.", file=sys.stderr)
        return
    if kind is NewChoice.TRIALS:
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


def _section(kind: str, title: str, found: list[tuple[str, str, str]]) -> str:
    of_kind = [(name, words) for one, name, words in found if one == kind]
    wide = max(len(name) for name, _ in of_kind)
    return "\n".join([title, *(wrapped(words, f"  {name:<{wide}}  ") for name, words in of_kind)])
