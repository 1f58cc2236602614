"""How commands answer other programs."""

from __future__ import annotations

import json


def print_json(content: object) -> None:
    """Print plain data as JSON.

    Parameters
    ----------
    content : object
        What to print; holds no nan.
    """
    print(json.dumps(content, indent=1, ensure_ascii=False, allow_nan=False))
