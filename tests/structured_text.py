"""A translator of as much structured text as wash_programme.st is written in, into Python. It is no compiler.

It knows assignments, IF, CASE, WHILE, RETURN, calls with named arguments, TIME literals; whatever else comes
up ends in an error. Times are whole milliseconds. Structures are read only, so that nothing is copied.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

TOKEN = re.compile(r"T#-?\d+(?:ms|s)|:=|<>|<=|>=|[A-Za-z_][\w.]*|\d+|[-+*/=<>()\[\],;:]")
COMMENT = re.compile(r"\(\*.*?\*\)", re.DOTALL)
WORDS = {"AND": "and", "OR": "or", "NOT": "not", "TRUE": "True", "FALSE": "False"}
WORDS |= {"=": "==", "<>": "!=", ":=": "=", "UINT_TO_INT": "int"}
DEFAULT: dict[str, Any] = {"BOOL": False, "INT": 0, "UINT": 0, "TIME": 0}


def blocks(source: str) -> dict[str, tuple[str, str]]:
    """Declarations and body of every function and function block, by name."""
    text = COMMENT.sub(" ", source)
    found = {}
    for kind, name, inner in re.findall(r"^(FUNCTION(?:_BLOCK)?) (\w+)(.*?)^END_\1\b", text, re.M | re.S):
        end = inner.rindex("END_VAR") + len("END_VAR")
        found[name] = inner[:end], inner[end:]
        assert kind
    return found


def variables(declared: str) -> dict[str, Any]:
    """Values that the variables begin with."""
    found: dict[str, Any] = {}
    for names, kind, start in re.findall(r"([\w, ]+?) : (\w+)(?: := ([^;]+))?;", declared):
        value = eval(expression(TOKEN.findall(start)), {}) if start else DEFAULT.get(kind)
        found |= {name.strip(): value for name in names.split(",")}
    return found


def expression(tokens: list[str]) -> str:
    return " ".join(literal(token) for token in tokens)


def literal(token: str) -> str:
    if token.startswith("T#"):
        return str(int(token[2:-2]) if token.endswith("ms") else 1000 * int(token[2:-1]))
    return WORDS.get(token, token)


@dataclass
class Translator:
    """Turns the tokens of a body into lines of Python."""

    tokens: list[str]
    lines: list[str] = field(default_factory=list)
    at: int = 0

    def until(self, *ends: str) -> list[str]:
        start = self.at
        while self.tokens[self.at] not in ends:
            self.at += 1
        self.at += 1
        return self.tokens[start : self.at - 1]

    def say(self, depth: int, text: str) -> None:
        self.lines.append("    " * depth + text)

    def body(self, depth: int, *ends: str) -> str:
        """Translate statements up to one of the words that end them; give that word."""
        self.say(depth, "pass")
        while self.at < len(self.tokens):
            token = self.tokens[self.at]
            if token in ends or (token.isdigit() and "label" in ends):
                return token
            self.statement(depth, token)
        return ""

    def statement(self, depth: int, token: str) -> None:
        if token == "IF":
            self.at += 1
            self.say(depth, f"if {expression(self.until('THEN'))}:")
            while (end := self.body(depth + 1, "ELSIF", "ELSE", "END_IF")) != "END_IF":
                self.at += 1
                self.say(depth, f"elif {expression(self.until('THEN'))}:" if end == "ELSIF" else "else:")
            self.at += 2
        elif token == "WHILE":
            self.at += 1
            self.say(depth, f"while {expression(self.until('DO'))}:")
            self.body(depth + 1, "END_WHILE")
            self.at += 2
        elif token == "CASE":
            self.at += 1
            self.say(depth, f"case = {expression(self.until('OF'))}")
            self.say(depth, "if False:")
            while (end := self.body(depth + 1, "label", "ELSE", "END_CASE")) != "END_CASE":
                if end == "ELSE":
                    self.at += 1
                    self.say(depth, "else:")
                else:
                    self.say(depth, f"elif case in ({' '.join(self.until(':'))},):")
            self.at += 2
        elif token == "RETURN":
            self.at += 2
            self.say(depth, "return")
        else:
            self.say(depth, expression(self.until(";")))


def translated(source: str, name: str) -> tuple[dict[str, Any], Callable[[], None]]:
    """The variables of a function block and what a call of it does to them."""
    found = blocks(source)
    space: dict[str, Any] = {}
    for function, (declared, body) in found.items():
        if function != name:
            lines = Translator(TOKEN.findall(body))
            lines.body(1)
            arguments = ", ".join(variables(declared))
            text = "\n".join([f"def {function}_({arguments}):", *lines.lines, f"    return {function}"])
            exec(text, space)
    declared, body = found[name]
    space |= variables(declared)
    for function in found:
        body = re.sub(rf"\b{function}\(", f"{function}_(", body)
    lines = Translator(TOKEN.findall(body))
    lines.body(1)
    exec("\n".join(["def call():", f"    global {', '.join(variables(declared))}", *lines.lines]), space)
    return space, space["call"]
