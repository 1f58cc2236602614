"""README and CHANGELOG against the program, and words that have no place in the project."""

from __future__ import annotations

import re
import shlex
import subprocess
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import typer

ROOT = Path(__file__).resolve().parent.parent
COMMAND = "scullion"
PAGES = ("README.md", *(f"docs/{path.name}" for path in sorted((ROOT / "docs").glob("*.md"))))
SHELL_BLOCK = re.compile(r"^```(?:sh|bash|shell|console)\n(.*?)^```", re.MULTILINE | re.DOTALL)


def read(name: str) -> str:
    return (ROOT / name).read_text(encoding="utf-8")


def root_command() -> Any:
    """The command tree; typer brings its own copy of click, so there is no type to name."""
    from optimizer.cli.app import app

    return typer.main.get_command(app)


def leaves(command: Any, path: tuple[str, ...] = (COMMAND,)) -> Iterator[tuple[tuple[str, ...], Any]]:
    children = getattr(command, "commands", None)
    if children is None:
        yield path, command
        return
    for name, child in children.items():
        yield from leaves(child, (*path, name))


def shell_lines(text: str) -> Iterator[str]:
    for block in SHELL_BLOCK.findall(text):
        for line in block.replace("\\\n", " ").splitlines():
            yield re.sub(r"\s#.*$", "", line.strip().removeprefix("$ "))


def commands_in(text: str) -> list[list[str]]:
    """Arguments of every call of the program in the fenced blocks, without redirections and pipes."""
    calls = []
    for line in shell_lines(text):
        for part in re.split(r"&&|\|\||;|\||>", line):
            words = shlex.split(part)
            if words and Path(words[0]).name == COMMAND:
                calls.append(words[1:])
    return calls


def issues_of(words: list[str], command: Any) -> list[str]:
    """Walk down to the command that is meant, then let its own parser judge the rest."""
    while (children := getattr(command, "commands", None)) is not None:
        if not words or words[0] in ("--help", "--version"):
            return []
        if words[0] not in children:
            return [f"no command {words[0]}"]
        command, words = children[words[0]], words[1:]
    if "--help" in words:
        return []
    try:
        command.make_context(command.name, list(words))
    except Exception as error:  # the parser's own class, which typer has moved before
        return [str(error)]
    return []


def test_every_call_in_the_pages_parses() -> None:
    calls = [words for page in PAGES for words in commands_in(read(page))]
    assert ["plan", "clubhouse", "everyday"] in calls
    issues = {shlex.join([COMMAND, *words]): issues_of(words, root_command()) for words in calls}
    assert {call: found for call, found in issues.items() if found} == {}


@pytest.mark.parametrize(
    "words",
    [["plann", "a", "b"], ["plan", "a"], ["plan", "a", "b", "c"], ["plan", "a", "b", "--nonsense"]],
)
def test_the_parse_refuses_what_the_program_refuses(words: list[str]) -> None:
    assert issues_of(words, root_command())


def test_every_command_is_in_the_pages() -> None:
    readme = read("docs/commands.md")
    assert [" ".join(path) for path, _ in leaves(root_command()) if " ".join(path) not in readme] == []


def test_every_command_and_option_explains_itself() -> None:
    bare = [" ".join(path) for path, command in leaves(root_command()) if not command.help]
    bare += [
        f"{' '.join(path)} {parameter.name}"
        for path, command in leaves(root_command())
        for parameter in command.params
        if not getattr(parameter, "help", None)
    ]
    assert bare == []


def test_readme_has_the_two_commands() -> None:
    """Each in a block of its own, one line to paste; `.ci/run` runs these very lines."""
    section = re.split(r"^## Two commands$", read("README.md"), maxsplit=1, flags=re.MULTILINE)[-1]
    first, second = re.findall(r"^```sh\n(.*?)^```", section, re.MULTILINE | re.DOTALL)[:2]
    assert first.count("\n") == second.count("\n") == 1
    assert f"{COMMAND} plan" in first
    assert "pytest" in second


def test_changelog_has_a_section_for_this_version() -> None:
    version = tomllib.loads(read("pyproject.toml"))["project"]["version"]
    assert re.search(rf"^## \[?v?{re.escape(version)}\b", read("CHANGELOG.md"), re.MULTILINE)


# Written as patterns that do not match themselves.
FORBIDDEN = {
    "a path of one machine": r"(?<![\w.~-])/(?:work|tmp|root|home)/",
    "a registry host": r"\bpypi[.]org|pythonhosted[.]org|\bnpmjs[.]|\bconda[.]anaconda",
    "the order it was built to": r"\bseed[ -]document",
    "how it was built": r"\bissue\s+#?\d|\bsub-?agents?\b|\bhelper sessions?\b|\blanguage[ ]model",
}
MAY_SAY = {"the order it was built to": {"DEVELOPERS.md"}}


def tracked_files() -> list[str]:
    if not (ROOT / ".git").exists():
        pytest.skip("not a clone: no list of tracked files")
    listing = ["git", "-C", str(ROOT), "ls-files", "-z"]
    names = subprocess.run(listing, capture_output=True, text=True, check=True).stdout.split("\0")
    return [name for name in names if name and (ROOT / name).is_file()]


@pytest.mark.parametrize("what", sorted(FORBIDDEN))
def test_no_forbidden_words(what: str) -> None:
    pattern = re.compile(FORBIDDEN[what], re.IGNORECASE)
    hits = [
        f"{name}: {found.group()}"
        for name in tracked_files()
        if name not in MAY_SAY.get(what, set())
        for found in pattern.finditer((ROOT / name).read_text(encoding="utf-8", errors="ignore"))
    ]
    assert hits == []


def test_the_patterns_find_what_they_forbid() -> None:
    samples = {
        "a path of one machine": "see " + "/".join(["", "tmp", "x"]),
        "a registry host": "https://" + "pypi" + ".org/simple",
        "the order it was built to": "the seed" + " document says",
        "how it was built": "as in issue" + " 2",
    }
    assert samples.keys() == FORBIDDEN.keys()
    assert all(re.search(FORBIDDEN[what], text, re.IGNORECASE) for what, text in samples.items())
