"""The public interface: read a passage once, then ask; what a verb returns is what its command shows and writes."""

from planner.app.inputs import read_passage
from planner.app.verbs.calibrate import calibrate
from planner.app.verbs.check import check
from planner.app.verbs.compare import compare
from planner.app.verbs.explain import explain
from planner.app.verbs.fetch import fetch
from planner.app.verbs.headings import headings
from planner.app.verbs.new import new
from planner.app.verbs.panels import panels
from planner.app.verbs.plan import plan
from planner.app.verbs.reconcile import reconcile
from planner.app.verbs.replan import replan
from planner.app.verbs.request import request
from planner.app.verbs.weather import weather
from planner.presentation.outputs import json_of, text_of, write

__all__ = [
    "calibrate", "check", "compare", "explain", "fetch", "headings", "json_of", "new", "panels", "plan",
    "read_passage", "reconcile", "replan", "request", "text_of", "weather", "write",
]  # fmt: skip
