"""The verb that serves the local page."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

import planner
from planner.domain.errors import Fault, InputError

DEMO = Path("data") / "demo" / "passage.toml"
PORT = 8642
MOST_MB = 64


def add_serve_verb(verbs: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the verb to the parser.

    Parameters
    ----------
    verbs : subparsers of the program
    """
    verb = verbs.add_parser(
        "serve", help="a local page to plan on, at 127.0.0.1 alone, for whoever has the printed address"
    )
    verb.add_argument("--folder", type=Path, required=True, metavar="DIR", help="where plans are kept")
    verb.add_argument("--port", type=int, default=PORT, metavar="N", help=f"{PORT}; 0 takes any that is free")
    verb.add_argument(
        "--demo", type=Path, metavar="PASSAGE.toml", help="offered to start from (data/demo, where it is found)"
    )
    verb.add_argument("--limit", type=int, default=MOST_MB, metavar="MB", help=f"largest upload ({MOST_MB})")
    verb.set_defaults(run=_serve)


def _serve(options: argparse.Namespace) -> int:
    from planner.faces.web.server import serve

    faults = []
    if options.demo is not None and not options.demo.is_file():
        faults.append(Fault("--demo", "", f"there is no file '{options.demo}'.", "Name a passage file."))
    if options.limit < 1:
        faults.append(Fault("--limit", "", f"{options.limit} MB lets nothing in.", f"{MOST_MB} is usual."))
    if options.folder.exists() and not options.folder.is_dir():
        faults.append(Fault("--folder", "", f"'{options.folder}' is no folder.", "Name one; it is made if need be."))
    if faults:
        raise InputError(faults)
    try:
        ended_by = serve(
            options.folder,
            port=options.port,
            demo=options.demo or _demo_beside(),
            limit=options.limit * 1024**2,
            ready=lambda url: print(
                f"Open {url} in a browser on this machine. The key in it is for you alone. Ctrl-C ends.", flush=True
            ),
        )
    except (OSError, OverflowError) as error:
        problem = f"the page cannot be served on port {options.port} ({error})."
        raise InputError([Fault("--port", "", problem, "Is it being served already? 0 takes any port.")]) from error
    if ended_by != "SIGHUP":  # the terminal is gone
        print(f"Ended by {ended_by}; the plans are kept.", file=sys.stderr)
    return 0


def _demo_beside() -> Path | None:
    """Return the demo, where the project's folder is at hand."""
    for home in (Path.cwd(), Path(planner.__file__).parents[1]):
        if (home / DEMO).is_file():
            return home / DEMO
    return None
