"""Whether the tests notice a mistake in the check: change its code in one place, run its tests, count.

python benchmarks/mutants.py [--mutants 40] [--seed 1] [--only currents ...] [--without bound_course ...]
                             [--numbers 3 7 ...] [--list]

It changes `optimizer/check` (the faults apart) and the limits of the constants, in a copy of the project.
A mutant is killed where a test of its file fails; `mutant_tests.py` lists them, the quickest first, and they
end at the first failure. The budget counts mutants, never minutes; what loops is ended by its processor time.

The changes are those of cosmic-ray (MIT, `pip install cosmic-ray`, for developers alone), by its operators
and its rewriting. Its runner has one test command for all files, so that a mutant would take the whole suite.
mutmut runs every test once to find which of them touch what, and then all of those, in one process that keeps
what a test has cached. Both lack mistakes of this field: another end of a tolerance, floor for ceil, least
for most, a part left out of a sum. Those are added here as operators of cosmic-ray's kind.
"""

from __future__ import annotations

import argparse
import ast
import os
import random
import resource
import shutil
import subprocess
import sys
import tempfile
import traceback
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import Any, ClassVar, NoReturn

import iapws
import numba
import numpy as np
import pydantic
import pytest
import scipy.integrate
from mutant_tests import COMPILED, LONG, TESTS

try:
    from cosmic_ray.ast import ast_nodes, get_ast
    from cosmic_ray.mutating import mutate_code
    from cosmic_ray.operators.operator import Operator
    from cosmic_ray.plugins import get_operator, operator_names

    MISSING = ""
except ModuleNotFoundError as error:
    if error.name != "cosmic_ray":
        raise
    # Loaded all the same, so that what else it imports is seen to be there; `main` says what is missing.
    MISSING = "cosmic-ray is not installed, and no dependency of the project: pip install cosmic-ray"
    Operator = object

    def operator_names() -> tuple[()]:
        """Give none."""
        return ()


LIBRARIES = iapws, numba, np, pydantic, scipy.integrate
"""What the tests import, loaded once for all of their runs."""

ROOT = Path(__file__).resolve().parents[1]
MOST_CPU_S = 180
"""A run of tests that takes more processor time than this has looped: killed [s]."""
MOST_BYTES = 6_000_000_000
"""So much memory is enough for a sound run; what asks for more has looped [bytes]."""


class OtherName(Operator):
    """Put another name in place of one: another end of a tolerance, another rounding, most for least."""

    PAIRS: ClassVar = {
        "high": "nominal", "low": "nominal", "nominal": "high", "ceil": "floor", "floor": "ceil",
        "max": "min", "min": "max", "maximum": "minimum", "minimum": "maximum", "argmax": "argmin",
        "any": "all", "all": "any",
    }  # fmt: skip

    def mutation_positions(self, node: Any) -> Iterator[Any]:
        """Give the names that have another."""
        if node.type == "name" and node.value in self.PAIRS:
            yield node.start_pos, node.end_pos

    def mutate(self, node: Any, index: int) -> Any:
        """Replace the name."""
        node.value = self.PAIRS[node.value]
        return node

    @classmethod
    def examples(cls) -> tuple[()]:
        """Give none."""
        return ()


class LeftOut(Operator):
    """Leave a part out of a sum, a product or a condition, or a statement that adds to something."""

    def mutation_positions(self, node: Any) -> Iterator[Any]:
        """Give each part, and each statement."""
        if node.type in ("arith_expr", "term", "and_test", "or_test"):
            for part in node.children[::2]:
                yield part.start_pos, part.end_pos
        elif node.type == "expr_stmt" and getattr(node.children[1], "value", "=") != "=":
            yield node.start_pos, node.end_pos

    def mutate(self, node: Any, index: int) -> Any:
        """Drop the part with the operator before it; the first one with the operator after it."""
        if node.type == "expr_stmt":
            return get_ast("pass").children[0]
        place = 2 * index
        del node.children[slice(0, 2) if place == 0 else slice(place - 1, place + 1)]
        return node

    @classmethod
    def examples(cls) -> tuple[()]:
        """Give none."""
        return ()


BLUNT = ("NoOp", "Variable", "Exception", "Decorator", "Pow", "Shift", "Bit", "Invert", "FloorDiv", "Mod",
         "Is_", "IsNot_", "_Is", "Eq_Gt", "Eq_Lt")  # fmt: skip
"""Operators that are left out, by a part of their names: those that numbers do not take, so that any run
would notice, and the order of texts."""

OPERATORS: dict[str, Operator] = {
    name.removeprefix("core/"): get_operator(name)()
    for name in sorted(operator_names())
    if not any(word in name for word in BLUNT)
} | {"OtherName": OtherName(), "LeftOut": LeftOut()}
"""By name."""


@dataclass(frozen=True)
class Mutant:
    """One change of one file."""

    path: str
    before: str
    operator: str
    occurrence: int
    line: int

    @property
    def after(self) -> str:
        """The whole file with the change."""
        return str(mutate_code(self.before, OPERATORS[self.operator], self.occurrence) or self.before)

    def told(self) -> str:
        """Say what was changed: the first line that differs."""
        lines = zip(self.before.splitlines(), self.after.splitlines(), strict=False)
        old, new = next((old.strip(), new.strip()) for old, new in lines if old != new)
        return f"{self.path}:{self.line} {self.operator}\n    - {old}\n    + {new}"


def meaning(source: str) -> str:
    """Give what a module does: its tree without annotations, docstrings and decorators of classes."""
    tree = ast.parse(source)
    for node in ast.walk(tree):
        for name in ("annotation", "returns"):
            if getattr(node, name, None) is not None:
                setattr(node, name, ast.Constant(value=0))
        if isinstance(node, ast.ClassDef):
            node.decorator_list = []  # frozen or not: nothing in the project writes to one
        if isinstance(body := getattr(node, "body", None), list):
            # A string by itself documents; a pass changes nothing.
            node.body = [line for line in body if not _is_text(line)] or [ast.Pass()]  # type: ignore[attr-defined]
    return ast.dump(tree)


def _is_text(line: ast.AST) -> bool:
    return isinstance(line, ast.Expr) and isinstance(line.value, ast.Constant)


def all_mutants(path: str) -> Iterator[Mutant]:
    """Give every place at which an operator can change a file, whether that means anything or not."""
    source = (ROOT / path).read_text(encoding="utf-8")
    nodes = list(ast_nodes(get_ast(source)))
    for name, operator in OPERATORS.items():
        found = [at for node in nodes for at in operator.mutation_positions(node)]
        for occurrence, (start, _) in enumerate(found):
            yield Mutant(path, source, name, occurrence, start[0])


def tells(mutant: Mutant) -> bool:
    """Whether the change can be told at all: it is Python, and other than a type or a text."""
    try:
        return meaning(mutant.after) != meaning(mutant.before)
    except (SyntaxError, ValueError):
        return False


def sample(paths: Iterable[str], count: int, seed: int) -> list[Mutant]:
    """Draw mutants, every place as likely, whatever the operator."""
    by_place: dict[tuple[str, int], list[Mutant]] = {}
    for path in paths:
        for mutant in all_mutants(path):
            by_place.setdefault((path, mutant.line), []).append(mutant)
    places, draw, found = sorted(by_place), random.Random(seed), []
    draw.shuffle(places)
    for place in places:
        choices = by_place[place]
        draw.shuffle(choices)
        found += islice(filter(tells, choices), 1)
        if len(found) == count:
            break
    return found


class Copy:
    """A copy of the project in which files are changed and tests are run."""

    def __init__(self, folder: Path) -> None:
        self._folder, self._keep = folder, ""
        for name in ("optimizer", "tests", "profiles", "pyproject.toml", "README.md"):
            copy = shutil.copytree if (ROOT / name).is_dir() else shutil.copy
            copy(ROOT / name, folder / name)
        # By content: two versions of a file within one second must not share their compiled form.
        compiled = [sys.executable, "-m", "compileall", "-q", "-f", "--invalidation-mode", "checked-hash"]
        subprocess.run([*compiled, "optimizer"], cwd=folder, check=True)
        self._fails: dict[str, bool] = {}

    def killed_by(self, mutant: Mutant) -> str | None:
        """Run the tests of a mutant: the first that fails, None where it survives."""
        path = self._folder / mutant.path
        names = TESTS[mutant.path]
        files = [f"tests/test_{name}.py" for name in names]
        skip = [
            f"--deselect=tests/test_{test}"
            for test in LONG
            if test.startswith(tuple(f"{n}.py" for n in names))
        ]
        # The project has numba keep things by all files of the check, unless it is told where.
        kept = not any(part in mutant.path for part in COMPILED)
        self._keep = str(self._folder / "compiled") if kept else ""
        while True:
            path.write_text(mutant.after, encoding="utf-8")
            killer = self._first_failure([*files, *skip])
            path.write_text(mutant.before, encoding="utf-8")
            if killer is None or not self._fails_as_it_is(killer):
                return killer
            skip.append(f"--deselect={killer}")

    def _fails_as_it_is(self, test: str) -> bool:
        """Whether a test fails without a mutant, and so says nothing of one."""
        if test not in self._fails:
            self._fails[test] = self._first_failure([test]) is not None
            if self._fails[test]:
                print(f"left out, it fails as it is: {test}", flush=True)
        return self._fails[test]

    def _first_failure(self, words: list[str]) -> str | None:
        code, said = self._pytest(["-x", *words])
        if code in (0, 5):
            return None
        failed = [line for line in said.splitlines() if line.startswith(("FAILED ", "ERROR "))]
        if code == 1 and not failed:
            raise RuntimeError(said)  # not the tests, but what runs them
        return failed[0].split(" - ")[0].split(" ", 1)[1] if failed else words[0]

    def _pytest(self, words: list[str]) -> tuple[int, str]:
        """Run tests in a child process that has the libraries already, and nothing of the project."""
        with tempfile.TemporaryFile("w+") as said:
            child = os.fork()
            if not child:
                self._child(words, said.fileno())
            _, status = os.waitpid(child, 0)
            said.seek(0)
            return os.waitstatus_to_exitcode(status), said.read()

    def _child(self, words: list[str], said: int) -> NoReturn:
        code = 1
        try:
            os.chdir(self._folder)
            sys.path.insert(0, str(self._folder))
            sys.dont_write_bytecode = True
            for stream in (1, 2):
                os.dup2(said, stream)
            numba.config.CACHE_DIR = self._keep
            resource.setrlimit(resource.RLIMIT_CPU, (MOST_CPU_S, MOST_CPU_S))
            resource.setrlimit(resource.RLIMIT_AS, (MOST_BYTES, MOST_BYTES))
            code = int(pytest.main(["-q", "-p", "no:cacheprovider", *words]))
        except BaseException:
            traceback.print_exc()
        finally:
            sys.stdout.flush()
            sys.stderr.flush()
            os._exit(code)


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--mutants", type=int, default=40)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", nargs="*", default=[], help="files, by a part of their names")
    parser.add_argument("--without", nargs="*", default=[], help="files left out, by a part of their names")
    parser.add_argument("--numbers", nargs="*", type=int, default=[], help="these of the mutants alone")
    parser.add_argument("--list", action="store_true", help="show the mutants, run nothing")
    asked = parser.parse_args()
    if MISSING:
        parser.error(MISSING)
    paths = [path for path in TESTS if (ROOT / path).exists()]
    paths = [path for path in paths if any(part in path for part in asked.only or [""])]
    paths = [path for path in paths if not any(part in path for part in asked.without)]
    drawn = enumerate(sample(paths, asked.mutants, asked.seed), start=1)
    numbered = [(number, mutant) for number, mutant in drawn if number in (asked.numbers or [number])]
    if asked.list:
        print("\n".join(f"{number}. {mutant.told()}" for number, mutant in numbered))
        return
    survivors = 0
    with tempfile.TemporaryDirectory() as folder:
        copy = Copy(Path(folder))
        for number, mutant in numbered:
            killer = copy.killed_by(mutant)
            survivors += killer is None
            print(f"{number}. {f'killed by {killer}' if killer else 'SURVIVED'}: {mutant.told()}", flush=True)
    print(f"{len(numbered) - survivors} of {len(numbered)} mutants killed, seed {asked.seed}")


if __name__ == "__main__":
    main()
