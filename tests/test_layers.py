"""Walk the import graph: imports go downward only, heavy libraries stay inside functions."""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest
from patience import PATIENCE_S

ROOT = Path(__file__).resolve().parent.parent
PACKAGE = "optimizer"

# What each folder may import besides itself; a dotted name allows that module alone.
ALLOWED = {
    "units": set[str](),
    "compiled": set[str](),
    "second_thread": {"second_process"},
    "second_process": {"interrupts"},
    "errors": set[str](),
    "interrupts": set[str](),
    "option_defaults": set[str](),
    "files": {"errors"},
    "physics": {"units"},
    "profile": {"files", "errors", "units"},
    "programme": {"profile", "files", "errors", "units"},
    "planner": {
        *("programme", "profile", "physics", "compiled", "second_thread", "second_process", "interrupts"),
        *("errors", "units"),
    },
    "check": {
        *("programme", "profile", "physics.water", "compiled", "second_thread", "second_process"),
        "option_defaults",
        *("errors", "units"),
    },
    "emit": {"check", "programme", "profile", "errors", "units"},
    "lessons": {"planner", "check", "programme"},
    "plan_and_prove": {"lessons", "planner", "check", "programme", "profile", "option_defaults", "errors"},
    "starts": {
        "plan_and_prove",
        "planner",
        "check",
        "programme",
        "profile",
        "option_defaults",
        "errors",
        "units",
    },
    "whatif": {
        "measure.bench_tests",
        "batch",
        "lessons",
        "plan_and_prove",
        "planner",
        "check",
        "programme",
        "profile",
        "option_defaults",
        "errors",
        "units",
    },
    "logs": {"profile", "errors", "units"},
    "measure": {"logs", "profile", "physics", "files", "errors", "units"},
    "trial": {
        *("logs", "plan_and_prove", "planner", "check", "programme", "profile"),
        *("files", "errors", "units"),
    },
    "review": {
        "check",
        "logs",
        "measure.intervals",
        "programme",
        "profile",
        "physics",
        "files",
        "errors",
        "units",
    },
    "batch": {
        *("starts", "plan_and_prove", "planner", "check", "programme", "profile"),
        *("files", "interrupts", "errors", "units"),
    },
    "report": {
        *("measure", "trial", "review", "batch", "whatif", "starts", "plan_and_prove", "check", "planner"),
        *("programme", "profile"),
        *("errors", "units"),
    },
    "page": {
        *("report", "emit", "measure", "trial", "review", "batch", "whatif", "starts", "plan_and_prove"),
        *("check", "planner", "programme", "profile", "errors", "units"),
    },
    "": {"library", "errors"},
    "library": {
        *("page", "trial", "review"),
        *("report", "measure", "batch", "whatif", "starts", "plan_and_prove", "emit", "check", "planner"),
        *("programme", "profile", "files", "option_defaults", "second_process", "errors"),
    },
    "__main__": {"cli"},
    "cli": {
        *("library", "trial", "review"),
        *("report", "measure", "batch", "whatif", "starts", "plan_and_prove", "emit", "check", "planner"),
        *("programme", "profile", "files", "option_defaults", "errors", "units"),
    },
}
MODEL = ("planner.model_rows", "planner.model_positions", "planner.model_temperatures", "planner.model_terms")
ONLY_IN = {
    "pulp": (*MODEL, "planner.solver"),
    "highspy": ("planner.solver",),
    "numba": ("compiled",),
    "typer": ("cli",),
    "click": ("cli",),
    "numpy": (
        "physics",
        "planner",
        "check",
        "starts",
        "whatif",
        "logs",
        "measure",
        "trial",
        "review",
        "batch",
        "report",
        "page",
    ),
    "jinja2": ("page",),
    "markupsafe": ("page",),
}
PULP_AT_TOP = (*MODEL, "planner.solver")
"""The model is made of PuLP's objects; its modules are loaded with what plans, and by no --help."""
INSIDE_FUNCTIONS = {"pandas", "scipy", "pulp", "highspy", "matplotlib", "distributed", "jinja2", "markupsafe"}


@dataclass(frozen=True)
class Import:
    """One import: where it stands, what it names, and whether it runs when the module is loaded."""

    source: str
    target: str
    line: int
    at_top: bool
    for_types: bool


def modules() -> dict[str, Path]:
    names = {}
    for path in sorted((ROOT / PACKAGE).rglob("*.py")):
        parts = path.relative_to(ROOT / PACKAGE).with_suffix("").parts
        names[".".join(parts[:-1] if parts[-1] == "__init__" else parts)] = path
    return names


MODULES = modules()


def _targets(node: ast.Import | ast.ImportFrom, source: str, is_package: bool) -> Iterator[str]:
    if isinstance(node, ast.Import):
        yield from (alias.name for alias in node.names)
        return
    base = node.module or ""
    if node.level:
        above = f"{PACKAGE}.{source}".rstrip(".").split(".")
        above = above[: len(above) - node.level + is_package]
        base = ".".join([*above, base] if base else above)
    for alias in node.names:
        inner = f"{base}.{alias.name}".removeprefix(f"{PACKAGE}.")
        yield f"{PACKAGE}.{inner}" if base.startswith(PACKAGE) and inner in MODULES else base


def _for_types_alone(test: ast.expr) -> bool:
    names = (getattr(part, "attr", getattr(part, "id", "")) for part in ast.walk(test))
    return "TYPE_CHECKING" in names


def _imports(node: ast.AST, source: str, at_top: bool = True, for_types: bool = False) -> Iterator[Import]:
    for child in ast.iter_child_nodes(node):
        if isinstance(child, ast.Import | ast.ImportFrom):
            for target in _targets(child, source, MODULES[source].stem == "__init__"):
                yield Import(source, target, child.lineno, at_top, for_types)
        elif isinstance(child, ast.If) and _for_types_alone(child.test):
            for statement in child.body:
                yield from _imports(ast.Module([statement], []), source, at_top, True)
            for statement in child.orelse:
                yield from _imports(ast.Module([statement], []), source, at_top, for_types)
        elif not isinstance(child, ast.expr):  # no statement stands in an expression
            inner = isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef)
            yield from _imports(child, source, at_top and not inner, for_types)


@cache
def trees() -> dict[str, ast.Module]:
    """Every module read, by its name: once, and by the worker that runs this file alone."""
    return {name: ast.parse(path.read_text(encoding="utf-8")) for name, path in MODULES.items()}


@cache
def imports() -> list[Import]:
    return [found for name, tree in trees().items() for found in _imports(tree, name)]


def internal() -> list[Import]:
    return [found for found in imports() if found.target.split(".")[0] == PACKAGE]


def _within(name: str, places: tuple[str, ...] | set[str]) -> bool:
    return any(name == place or name.startswith(f"{place}.") for place in places)


def _at(found: Import) -> str:
    return f"{MODULES[found.source].relative_to(ROOT)}:{found.line} imports {found.target}"


def test_every_folder_has_its_layer() -> None:
    folders = {name.split(".")[0] for name in MODULES if name}
    assert folders <= set(ALLOWED), "a folder or module that no layer knows"


def test_the_walk_sees_the_imports() -> None:
    """Guard against a walk that finds nothing: three edges that are there, one of each kind."""
    edges = {(found.source, found.target, found.at_top, found.for_types) for found in imports()}
    assert ("physics.evaporation", "optimizer.physics.water", True, False) in edges
    assert ("programme.plan", "optimizer.programme.constants", True, False) in edges
    assert ("check.certificate", "numpy", True, True) in edges


def test_imports_go_downward_only() -> None:
    upward = []
    for found in internal():
        folder, target = found.source.split(".")[0], found.target.removeprefix(PACKAGE).removeprefix(".")
        if target and target.split(".")[0] != folder and not _within(target, ALLOWED.get(folder, set())):
            upward.append(_at(found))
    assert upward == []


def test_no_cycles() -> None:
    graph: dict[str, set[str]] = {name: set() for name in MODULES}
    for found in internal():
        target = found.target.removeprefix(PACKAGE).removeprefix(".")
        if target != found.source and target:
            graph[found.source].add(target)
    try:
        TopologicalSorter(graph).prepare()
    except CycleError as error:
        pytest.fail(f"import cycle: {' -> '.join(error.args[1])}")


@pytest.mark.parametrize("library", sorted(ONLY_IN))
def test_libraries_with_a_home(library: str) -> None:
    users = [found for found in imports() if found.target.split(".")[0] == library]
    assert [_at(found) for found in users if not _within(found.source, ONLY_IN[library])] == []


def test_heavy_libraries_are_imported_inside_functions() -> None:
    top = [found for found in imports() if found.at_top and not found.for_types]
    heavy = [
        found
        for found in top
        if found.target.split(".")[0] in INSIDE_FUNCTIONS
        and not (found.target == "pulp" and found.source in PULP_AT_TOP)
    ]
    assert [_at(found) for found in heavy] == []


def test_only_the_command_line_prints() -> None:
    """What is written for a microcontroller has a serial port to print to."""
    calls = [
        f"{MODULES[name].relative_to(ROOT)}:{node.lineno}"
        for name, tree in trees().items()
        if not _within(name, ("cli", "emit.firmware"))
        for node in ast.walk(tree)
        if isinstance(node, ast.Call)
        and ast.unparse(node.func) in ("print", "sys.stdout.write", "sys.stderr.write")
    ]
    assert calls == []


def test_help_loads_no_heavy_library() -> None:
    """Measured, not read: what is loaded once the command line stands ready."""
    code = f"import sys, optimizer.cli.app; print(sorted({INSIDE_FUNCTIONS!r} & set(sys.modules)))"
    run = subprocess.run(
        [sys.executable, "-c", code],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=PATIENCE_S,
        check=False,
    )
    assert (run.returncode, run.stdout.strip()) == (0, "[]"), run.stderr
