"""JSON as every output writes it: led by its format and the planner's version."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from planner.domain.file_format import STAMP


def as_json(content: Mapping[str, Any]) -> str:
    """Return JSON-ready content as one object, format and version first, a newline at its end."""
    return json.dumps({**STAMP, **content}, indent=1, allow_nan=False) + "\n"
