"""Check docstrings: in full where formulas and files are described, one line elsewhere.

Run as a script from the root of the repository; prints one line an issue and exits 1 where there is any.
What is public has no leading underscore in its name, nor has anything around it.

In full: the folders of `FULL`, and the classes and functions that ``optimizer/__init__.py`` imports.

* every parameter, field and property, with the unit of every number in square brackets ([1]: a ratio);
* what is returned, with its unit; arrays with their shape (or "broadcast");
* ``Raises`` with every exception that the body raises by name;
* a constant in capitals that is a number: a string below it, with its unit;
* in `FORMULAS`, a ``Notes`` or ``References`` section for every function that returns numbers: the source or
  the equation, or that it is a choice of our own.

Everywhere else: a first line on every public module, class and function; what sections there are name no
parameter that is gone. Two kinds of parameter carry their documentation in their annotation and are left out
everywhere: fields of the pydantic profile models and parameters of commands.
"""

from __future__ import annotations

import ast
import itertools
import re
import sys
import warnings
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

from numpydoc.docscrape import NumpyDocString, Parameter

ROOT = Path(__file__).resolve().parent.parent
FULL = ("physics", "programme", "profile")
FORMULAS = ("physics",)
NUMERIC = re.compile(r"\b(float|int|complex|Array|ArrayLike|NDArray|ndarray|Real|Number|Fraction|Decimal)\b")
ARRAY = re.compile(r"\b(Array|ArrayLike|NDArray|ndarray|Real|Number)\b")
NOT_A_NUMBER = re.compile(
    r"bool_|\bint \| str\b|\bstr \| int\b|\bCallable\b|\bobject_\b|\bstr_\b|\bdatetime64\b"
)
UNIT = re.compile(r"\[[^\]\s][^\]]*\]")
SHAPE = re.compile(r"shape|broadcast|float or ndarray|array_like", re.IGNORECASE)
NOTHING = {"None", "NoReturn", "Never"}

Function = ast.FunctionDef | ast.AsyncFunctionDef


class Depth(NamedTuple):
    """How much is asked of a docstring."""

    full: bool
    formulas: bool = False


def is_numeric(annotation: str) -> bool:
    """Tell whether the source text of an annotation names a number, or arrays or containers of numbers."""
    return bool(NUMERIC.search(annotation)) and not NOT_A_NUMBER.search(annotation)


def _text(node: ast.expr | None) -> str:
    return "" if node is None else ast.unparse(node)


def _decorators(node: Function | ast.ClassDef) -> set[str]:
    return {_text(d.func if isinstance(d, ast.Call) else d).rsplit(".", 1)[-1] for d in node.decorator_list}


def _bases(node: ast.ClassDef) -> set[str]:
    return {_text(base).split("[")[0].rsplit(".", 1)[-1] for base in node.bases}


def _documented(parsed: NumpyDocString, *sections: str) -> dict[str, str]:
    """Types and descriptions by name; one entry may name several (``low, high : float``)."""
    entries: list[Parameter] = [entry for section in sections for entry in parsed[section]]
    return {
        name.strip().lstrip("*"): " ".join((entry.type, *entry.desc))
        for entry in entries
        for name in entry.name.split(",")
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


def _parameter_issues(documented: dict[str, str], actual: dict[str, str], depth: Depth) -> Iterator[str]:
    if depth.full:
        yield from (f"parameter {name} is not documented" for name in actual if name not in documented)
    yield from (f"documents {name}, which it does not have" for name in documented if name not in actual)
    for name, annotation in actual.items():
        if not depth.full or name not in documented or not is_numeric(annotation):
            continue
        if not UNIT.search(documented[name]):
            yield f"parameter {name} is a number without its unit in square brackets"
        if ARRAY.search(annotation) and not SHAPE.search(documented[name]):
            yield f"parameter {name} is an array without its shape"


def _raised(node: Function) -> set[str]:
    """Names of the exceptions that a body raises itself; one that it catches and raises again has none."""
    found = set()
    for item in ast.walk(node):
        if isinstance(item, ast.Raise) and item.exc is not None:
            raised = item.exc.func if isinstance(item.exc, ast.Call) else item.exc
            found.add(_text(raised).rsplit(".", 1)[-1])
    return {name for name in found if name[:1].isupper()}


def _function_issues(
    node: Function, parsed: NumpyDocString, depth: Depth, *, in_class: bool
) -> Iterator[str]:
    decorators = _decorators(node)
    if decorators & {"command", "callback"}:
        return
    returns = _text(node.returns)
    if decorators & {"property", "cached_property"}:
        if depth.full and is_numeric(returns) and not UNIT.search(ast.get_docstring(node) or ""):
            yield "property is a number without its unit in square brackets"
        return
    yield from _parameter_issues(_documented(parsed, "Parameters"), _signature(node, in_class), depth)
    entries = [*parsed["Returns"], *parsed["Yields"]]
    if returns in NOTHING and entries:
        yield "documents a return value but returns none"
    if not depth.full:
        return
    if returns not in NOTHING and not entries:
        yield "has no Returns section"
    described = " ".join(" ".join((entry.type, *entry.desc)) for entry in entries)
    if entries and is_numeric(returns):
        if not UNIT.search(described):
            yield "returns a number without its unit in square brackets"
        if ARRAY.search(returns) and not SHAPE.search(described):
            yield "returns an array without its shape"
    told = {entry.type or entry.name for entry in parsed["Raises"]}
    yield from (f"raises {name}, which it does not say" for name in sorted(_raised(node) - told))
    if depth.formulas and is_numeric(returns) and not parsed["Notes"] and not parsed["References"]:
        yield "gives no source, equation or choice of our own (Notes or References)"


def _class_issues(node: ast.ClassDef, parsed: NumpyDocString, depth: Depth) -> Iterator[str]:
    documented = _documented(parsed, "Parameters", "Attributes")
    if "dataclass" in _decorators(node) or _bases(node) & {"NamedTuple", "TypedDict"}:
        yield from _parameter_issues(documented, _fields(node), depth)
        return
    starts = [item for item in node.body if isinstance(item, ast.FunctionDef) and item.name == "__init__"]
    if starts:
        yield from _parameter_issues(documented, _signature(starts[0], in_class=True), depth)


def _constant_issues(body: list[ast.stmt]) -> Iterator[tuple[int, str]]:
    """Numbers in capitals at the top of a module; the string below a constant is its docstring."""
    for node, after in itertools.zip_longest(body, body[1:]):
        if not isinstance(node, ast.Assign | ast.AnnAssign) or node.value is None:
            continue
        targets = node.targets if isinstance(node, ast.Assign) else [node.target]
        names = [name.id for target in targets for name in ast.walk(target) if isinstance(name, ast.Name)]
        if not names or not all(name.isupper() and name[0] != "_" for name in names):
            continue
        leaves = [leaf.value for leaf in ast.walk(node.value) if isinstance(leaf, ast.Constant)]
        plain = isinstance(node.value, ast.Constant | ast.Tuple | ast.BinOp | ast.UnaryOp)
        if not plain or not any(type(leaf) in (int, float) for leaf in leaves):
            continue
        text = ""
        if isinstance(after, ast.Expr) and isinstance(after.value, ast.Constant):
            text = str(after.value.value)
        if not UNIT.search(text):
            yield node.lineno, f"{', '.join(names)}: a number without a string below it that says its unit"


def _profile_models(trees: dict[Path, ast.Module]) -> set[str]:
    """Names of all classes that descend from pydantic's base model, found until no more are."""
    known = {"BaseModel", "ProfileModel"}
    classes = [node for tree in trees.values() for node in ast.walk(tree) if isinstance(node, ast.ClassDef)]
    while found := {node.name for node in classes if _bases(node) & known} - known:
        known |= found
    return known


def _public_names(package: Path) -> set[tuple[str, str]]:
    """What the package gives out: module and name of each import in its ``__init__``, lazy ones too."""
    start = package / "__init__.py"
    if not start.is_file():
        return set()
    imports = [
        node
        for node in ast.walk(ast.parse(start.read_text(encoding="utf-8")))
        if isinstance(node, ast.ImportFrom) and node.module
    ]
    return {(node.module or "", alias.name) for node in imports for alias in node.names}


def _depth(package: Path, path: Path, name: str, public: set[tuple[str, str]]) -> Depth:
    parts = path.relative_to(package).with_suffix("").parts
    if parts[0] in FULL or parts == ("__init__",):
        return Depth(full=True, formulas=parts[0] in FORMULAS)
    module = ".".join((package.name, *parts)).removesuffix(".__init__")
    return Depth(full=(module, name.split(".", 1)[0]) in public)


def _public_nodes(body: list[ast.stmt], inside: str = "") -> Iterator[tuple[str, Function | ast.ClassDef]]:
    for node in body:
        if not isinstance(node, Function | ast.ClassDef) or node.name.startswith("_"):
            continue
        if "overload" in _decorators(node):  # the implementation that follows carries the docstring
            continue
        name = f"{inside}{node.name}"
        if isinstance(node, ast.ClassDef):
            yield from _public_nodes(node.body, f"{name}.")
        yield name, node


def _node_issues(name: str, node: Function | ast.ClassDef, models: set[str], depth: Depth) -> Iterator[str]:
    text = ast.get_docstring(node)
    in_class = "." in name
    if not text:
        if depth.full or not in_class:
            yield f"{name} has no docstring"
        return
    with warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always")
        parsed = NumpyDocString(text)
    issues = [str(warning.message).splitlines()[0] for warning in caught]
    if not isinstance(node, ast.ClassDef):
        issues += _function_issues(node, parsed, depth, in_class=in_class)
    elif node.name not in models:
        issues += _class_issues(node, parsed, depth)
    yield from (f"{name}: {issue}" for issue in issues)


def find_issues(package: Path) -> list[str]:
    """Find what the docstrings of a package lack: one ``file:line: name: issue`` each."""
    paths = [path for path in sorted(package.rglob("*.py")) if path.stem == "__init__" or path.stem[0] != "_"]
    trees = {path: ast.parse(path.read_text(encoding="utf-8")) for path in paths}
    models = _profile_models(trees)
    public = _public_names(package)
    found: list[tuple[Path, int, str]] = []
    for path, tree in trees.items():
        if tree.body and not ast.get_docstring(tree):
            found.append((path, 1, "module has no docstring"))
        if _depth(package, path, "", public).full:
            found += [(path, line, issue) for line, issue in _constant_issues(tree.body)]
        for name, node in _public_nodes(tree.body):
            depth = _depth(package, path, name, public)
            found += [(path, node.lineno, issue) for issue in _node_issues(name, node, models, depth)]
    return [f"{path.relative_to(package.parent)}:{line}: {issue}" for path, line, issue in found]


if __name__ == "__main__":
    issues = find_issues(ROOT / "optimizer")
    print("\n".join(issues) if issues else "docstrings: in full where asked, every number has its unit")
    sys.exit(1 if issues else 0)
