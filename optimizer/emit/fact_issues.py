"""What a file of constants says of machine and circuit, held against the profiles that it is checked with."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from optimizer.check.certify import misfits
from optimizer.check.controller_numbers import controller_numbers
from optimizer.emit.assertions import Operator, Relation, Side, Term
from optimizer.emit.forms import FORMS
from optimizer.emit.shared_limits import fact_relations, facts, heats_while_spraying
from optimizer.errors import InputIssue
from optimizer.programme.constants import Constants
from optimizer.programme.plan import Inputs

SENSE: dict[Operator, str] = {"<=": "at most", ">=": "at least", "==": "exactly"}


def fact_issues(
    values: Mapping[str, int], tables: Sequence[Constants], inputs: Inputs, subject: str, form: str
) -> list[InputIssue]:
    """Find what a file in a form (by its name) says laxer than machine, circuit and its programmes have it.

    Programmes that do not fit the machine are left to the check, which names what does not.
    """
    machine, circuit = inputs.machine, inputs.circuit
    fitting = [one for one in tables if not misfits(one, machine, bench_run=one.bench_run)]
    if not fitting:
        return []
    known = controller_numbers(machine, fitting)
    together = any(heats_while_spraying(one) for one in fitting)
    relations = fact_relations(facts(machine, circuit, known), known, together=together)
    return [_issue(one, values, subject, form) for one in relations if not one.holds(values)]


def _issue(relation: Relation, values: Mapping[str, int], subject: str, form: str) -> InputIssue:
    asked = f"{SENSE[relation.operator]} {_words(relation.right, form)}"
    found = sum(term.value(values) for term in relation.left)
    why = relation.message.partition(": ")[2]
    return InputIssue(subject, _words(relation.left, form), f"must be {asked}: {why}", str(found), asked)


def _words(side: Side, form: str) -> str:
    names = [term.name for term in side if isinstance(term, Term) and term.name]
    return " + ".join(map(FORMS[form].shown, names)) if names else str(sum(term.value({}) for term in side))
