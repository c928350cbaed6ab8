"""How the verbs tell what they are at: a line a stage on stderr, nothing where quiet is asked for."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable


def teller(options: argparse.Namespace) -> Callable[[str], None]:
    """Return what tells each stage as it begins."""

    def tell(stage: str) -> None:
        if not options.quiet:
            print(f"{stage} ...", file=sys.stderr)

    return tell
