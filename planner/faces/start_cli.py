"""The verbs for whoever begins: a new passage, and what everything means."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from planner.faces.running import StageLine, add_output_options, finish

if TYPE_CHECKING:
    from planner.domain.results.starter import Starter


def add_start_verbs(verbs: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add ``new`` and ``explain`` to the parser.

    Parameters
    ----------
    verbs : subparsers of the program
    """
    new = verbs.add_parser("new", help="begin: a passage, a boat, a route and a bulletin to put your own figures in")
    new.add_argument("folder", type=Path, metavar="DIR", help="folder for the files")
    new.add_argument("--rig", choices=("sloop", "ketch", "catamaran"), default="sloop", help="of the boat")
    new.add_argument("--bank", choices=("lifepo4", "agm", "flooded", "gel"), default="lifepo4", help="its chemistry")
    new.add_argument("--volts", type=int, choices=(12, 24, 48), default=12, help="of the bank")
    new.add_argument("--all", dest="whole", action="store_true", help="every other key as well, commented out")
    new.add_argument("--demo", action="store_true", help="the demo instead")
    add_output_options(new)
    new.set_defaults(run=_new)

    explain = verbs.add_parser("explain", help="what a key, an output file or the method is")
    explain.add_argument("asked", nargs="?", default="", metavar="KEY or TOPIC", help="none: what there is to ask")
    add_output_options(explain)
    explain.set_defaults(run=_explain)


def _new(options: argparse.Namespace) -> None:
    from planner.app.verbs.new import new
    from planner.presentation.outputs import write

    def work(_on_stage: StageLine) -> Starter:
        made = new(
            options.folder,
            rig=options.rig,
            bank=options.bank,
            volts=options.volts,
            whole=options.whole,
            demo=options.demo,
        )
        write(made, made.folder)
        return made

    finish(options, work)


def _explain(options: argparse.Namespace) -> None:
    from planner.app.verbs.explain import explain

    finish(options, lambda _on_stage: explain(options.asked))
