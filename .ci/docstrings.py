"""Check the docstrings of the public functions and classes: parameters, units, returns.

Run as a script from the root of the repository; prints one line a fault and exits 1 where there is any.
What is public has no leading underscore in its name, nor has anything around it. The folders of `IN_FULL`
document every parameter; elsewhere a docstring is one line where the name is not enough, and what it does
say of parameters must be true. Two kinds of parameter carry their documentation in their annotation and are
left out: fields of the pydantic profile models (unit and origin) and parameters of commands (help text,
checked by tests/test_docs.py).
"""

from __future__ import annotations

import ast
import re
import sys
import warnings
from collections.abc import Iterator, Sequence
from pathlib import Path

from numpydoc.docscrape import NumpyDocString, Parameter

ROOT = Path(__file__).resolve().parent.parent
IN_FULL = ("__init__.py", "physics", "profile", "programme")
"""Parts of the package in which every public function and class is documented in full."""

NUMERIC = re.compile(r"\b(float|int|complex|Array|ArrayLike|NDArray|ndarray|Real|Number|Fraction|Decimal)\b")
NOT_A_NUMBER = re.compile(
    r"bool_|\bint \| str\b|\bstr \| int\b|\bCallable\b|\bobject_\b|\bstr_\b|\bdatetime64\b"
)
UNIT = re.compile(r"\[[^\]\s][^\]]*\]")
NOTHING = {"None", "NoReturn", "Never"}

Function = ast.FunctionDef | ast.AsyncFunctionDef


def is_numeric(annotation: str) -> bool:
    """Tell whether an annotation names a number or numbers.

    Parameters
    ----------
    annotation : str
        Source text of the annotation.

    Returns
    -------
    bool
        True for floats, whole numbers and arrays or containers of them.
    """
    return bool(NUMERIC.search(annotation)) and not NOT_A_NUMBER.search(annotation)


def _text(node: ast.expr | None) -> str:
    return "" if node is None else ast.unparse(node)


def _decorators(node: Function | ast.ClassDef) -> set[str]:
    return {_text(d.func if isinstance(d, ast.Call) else d).rsplit(".", 1)[-1] for d in node.decorator_list}


def _bases(node: ast.ClassDef) -> set[str]:
    return {_text(base).split("[")[0].rsplit(".", 1)[-1] for base in node.bases}


def _documented(parsed: NumpyDocString, *sections: str) -> dict[str, str]:
    """Descriptions by name; one entry may name several (``low, high : float``)."""
    entries: list[Parameter] = [entry for section in sections for entry in parsed[section]]
    return {
        name.strip().lstrip("*"): " ".join(entry.desc) for entry in entries for name in entry.name.split(",")
    }


def _signature(node: Function, in_class: bool) -> dict[str, str]:
    arguments = node.args
    plain = [*arguments.posonlyargs, *arguments.args]
    if in_class and "staticmethod" not in _decorators(node):
        plain = plain[1:]
    rest = [argument for argument in (arguments.vararg, arguments.kwarg) if argument is not None]
    return {a.arg: _text(a.annotation) for a in [*plain, *arguments.kwonlyargs, *rest] if a.arg[0] != "_"}


def _fields(node: ast.ClassDef) -> dict[str, str]:
    return {
        item.target.id: _text(item.annotation)
        for item in node.body
        if isinstance(item, ast.AnnAssign)
        and isinstance(item.target, ast.Name)
        and item.target.id[0] != "_"
        and "ClassVar" not in _text(item.annotation)
    }


def _parameter_faults(documented: dict[str, str], actual: dict[str, str]) -> Iterator[str]:
    yield from (f"parameter {name} is not documented" for name in actual if name not in documented)
    yield from (f"documents {name}, which it does not have" for name in documented if name not in actual)
    for name, annotation in actual.items():
        if name in documented and is_numeric(annotation) and not UNIT.search(documented[name]):
            yield f"parameter {name} is a number without its unit in square brackets"


def _function_faults(node: Function, parsed: NumpyDocString, in_class: bool) -> Iterator[str]:
    decorators = _decorators(node)
    if decorators & {"command", "callback"}:
        return
    returns = _text(node.returns)
    if decorators & {"property", "cached_property"}:
        if is_numeric(returns) and not UNIT.search(ast.get_docstring(node) or ""):
            yield "property is a number without its unit in square brackets"
        return
    yield from _parameter_faults(_documented(parsed, "Parameters"), _signature(node, in_class))
    entries = [*parsed["Returns"], *parsed["Yields"]]
    if returns not in NOTHING and not entries:
        yield "has no Returns section"
    if returns in NOTHING and entries:
        yield "documents a return value but returns none"
    described = " ".join(line for entry in entries for line in entry.desc)
    if entries and is_numeric(returns) and not UNIT.search(described):
        yield "returns a number without its unit in square brackets"


def _class_faults(node: ast.ClassDef, parsed: NumpyDocString) -> Iterator[str]:
    documented = _documented(parsed, "Parameters", "Attributes")
    if "dataclass" in _decorators(node) or _bases(node) & {"NamedTuple", "TypedDict"}:
        yield from _parameter_faults(documented, _fields(node))
        return
    starts = [item for item in node.body if isinstance(item, ast.FunctionDef) and item.name == "__init__"]
    if starts:
        yield from _parameter_faults(documented, _signature(starts[0], in_class=True))


def _profile_models(trees: dict[Path, ast.Module]) -> set[str]:
    """Names of all classes that descend from pydantic's base model, found until no more are."""
    known = {"BaseModel", "ProfileModel"}
    classes = [node for tree in trees.values() for node in ast.walk(tree) if isinstance(node, ast.ClassDef)]
    while found := {node.name for node in classes if _bases(node) & known} - known:
        known |= found
    return known


def _walk(body: list[ast.stmt], models: set[str], inside: str = "") -> Iterator[tuple[int, str]]:
    for node in body:
        if not isinstance(node, Function | ast.ClassDef) or node.name.startswith("_"):
            continue
        if "overload" in _decorators(node):  # the implementation that follows carries the docstring
            continue
        name = f"{inside}{node.name}"
        text = ast.get_docstring(node)
        if isinstance(node, ast.ClassDef):
            yield from _walk(node.body, models, f"{name}.")
        if not text:
            yield node.lineno, f"{name} has no docstring"
            continue
        with warnings.catch_warnings(record=True) as caught:
            warnings.simplefilter("always")
            parsed = NumpyDocString(text)
        issues = [str(warning.message).splitlines()[0] for warning in caught]
        if not isinstance(node, ast.ClassDef):
            issues += _function_faults(node, parsed, in_class=bool(inside))
        elif node.name not in models:
            issues += _class_faults(node, parsed)
        yield from ((node.lineno, f"{name}: {issue}") for issue in issues)


def find_faults(package: Path, in_full: Sequence[str] | None = None) -> list[str]:
    """Find the docstring faults of a package.

    Parameters
    ----------
    package : Path
        Folder of the package.
    in_full : sequence of str or None
        Files and folders in it that document everything; all of them where left out.

    Returns
    -------
    list of str
        One ``file:line: name: fault`` each.
    """
    paths = [path for path in sorted(package.rglob("*.py")) if path.stem == "__init__" or path.stem[0] != "_"]
    trees = {path: ast.parse(path.read_text(encoding="utf-8")) for path in paths}
    models = _profile_models(trees)
    return [
        f"{path.relative_to(package.parent)}:{line}: {issue}"
        for path, tree in trees.items()
        for line, issue in [
            *([] if ast.get_docstring(tree) or not tree.body else [(1, "module has no docstring")]),
            *_walk(tree.body, models),
        ]
        if in_full is None or path.relative_to(package).parts[0] in in_full or ": documents " in issue
    ]


if __name__ == "__main__":
    found = find_faults(ROOT / "optimizer", IN_FULL)
    print("\n".join(found) if found else "docstrings: every parameter documented, every number has its unit")
    sys.exit(1 if found else 0)
