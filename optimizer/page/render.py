"""Templates: every value is escaped, and one that a template asks for and does not get is an error."""

from __future__ import annotations

import base64
import hashlib
from functools import cache
from typing import TYPE_CHECKING, Any

from optimizer import __version__
from optimizer.errors import escaped
from optimizer.page.palette import variables

if TYPE_CHECKING:
    from jinja2 import Environment
    from markupsafe import Markup


@cache
def _environment() -> Environment:
    from jinja2 import Environment, PackageLoader, StrictUndefined

    environment = Environment(
        loader=PackageLoader("optimizer.page"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    environment.finalize = _shown
    return environment


def _shown(value: Any) -> Any:
    """Show control characters, which a file may hold, as escapes."""
    return escaped(value) if type(value) is str else value


def sound(svg: str) -> Markup:
    """Mark a drawing as HTML: its library escaped the words in it."""
    from markupsafe import Markup

    return Markup(svg)


def rendered(template: str, **values: Any) -> str:
    """Fill a template in."""
    environment = _environment()
    script = environment.loader.get_source(environment, "sort.js")[0] if environment.loader else ""
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    return environment.get_template(template).render(
        version=__version__,
        light=variables("light"),
        dark=variables("dark"),
        safe_script=sound(script),
        script_digest=digest,
        **values,
    )
