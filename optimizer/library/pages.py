"""Answers as one HTML file each."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

from optimizer.errors import InputError, InputIssue

if TYPE_CHECKING:
    from optimizer.check.certificate import Certificate
    from optimizer.check.faults.outcome import FaultReport
    from optimizer.programme.plan import Plan

NEEDS = {"jinja2": "Jinja2", "matplotlib": "matplotlib"}
"""Libraries that a page is made with: name of the import, name of the package."""

FRAME = (
    '<iframe title="{title}" srcdoc="{page}" sandbox="" style="width: 100%; height: 48rem; border: 0">'
    "</iframe>"
)


def page_text(plan: Plan, certificate: Certificate, faults: FaultReport | None = None) -> str:
    """Write the page of a plan; `InputError` where a library for it is missing."""
    require_page_libraries()
    from optimizer.page.plan_page import plan_page

    return plan_page(plan, certificate, faults)


def require_page_libraries() -> None:
    """Refuse, where a library that pages are made with is missing."""
    from importlib.util import find_spec

    missing = [package for name, package in NEEDS.items() if find_spec(name) is None]
    if missing:
        rule = f"needs {' and '.join(missing)}, which {'is' if len(missing) == 1 else 'are'} not installed"
        fix = f"pip install {' '.join(missing)}"
        raise InputError([InputIssue("page", "", rule, "", fix)])


def framed(title: str, text: str) -> str:
    """Put a page in a frame, so that a notebook's own style and the page's do not meet."""
    return FRAME.format(title=escape(title), page=escape(text))
