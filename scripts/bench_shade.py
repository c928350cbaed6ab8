"""The shade kernel's rays a second against Embree's, what its cost grows with, and the cost of a passage.

Eight panels under random opaque triangles, with 60 points in three patches each, and with 36 cells of 16 points;
times are the processor's, on one thread, the best of several, the two taken in turn. Embree's time is its occlusion
call alone; ours includes cutting the scene to each panel and the lit fraction of every patch. Run from the project's
root: ``python scripts/bench_shade.py``.
"""

# ruff: noqa: E402 - the path comes before the imports that need it

from __future__ import annotations

import os
import sys
import time
import tomllib
from collections.abc import Callable
from pathlib import Path

import numpy as np
import xarray as xr

PROJECT = Path(__file__).parents[1]
sys.path.insert(0, str(PROJECT))
os.environ.setdefault("OMP_NUM_THREADS", "1")

from planner.app.inputs import read_inputs
from planner.domain.arrays import Floats, Ints
from planner.domain.inputs.power import Panel
from planner.domain.inputs.rig import Rig
from planner.physics.deck.lattice import MOST_POINTS, sample_points
from planner.physics.shade import Samples, Surfaces, Tubes, lit_fraction
from planner.simulation.harvest import deck
from planner.simulation.harvest.array import cell_places_of
from planner.simulation.harvest.collect import collect_under
from planner.simulation.harvest.scene import cast
from planner.simulation.ledger.bank import bank_params
from planner.simulation.sky.forecast_calendar import extend
from planner.simulation.sky.weather import sky_along
from planner.simulation.track.sail import sail

REPEATS = 5
LENGTH_M, WIDTH_M = 1.2, 0.6
STRIPS = np.array([(0, 0), (0, 1), (0, 2)])
CELL_POINTS = 16  # the default of a passage


def spent(task: Callable[[], object]) -> float:
    """Return the processor time of one run [s]."""
    start = time.thread_time()
    task()
    return time.thread_time() - start


def random_panels(count: int, rng: np.random.Generator) -> list[Panel]:
    """Return level to gently tilted panels about the origin."""
    return [
        Panel(
            name=str(index),
            centre_m=(rng.uniform(-2, 2), rng.uniform(-2, 2), rng.uniform(0, 0.5)),
            length_m=LENGTH_M,
            width_m=WIDTH_M,
            tilt_deg=rng.uniform(0, 20),
            tilt_toward_deg=rng.uniform(0, 360),
            mounting="open",
            max_power_w=100,
            max_power_v=20,
            max_power_a=5,
            open_circuit_v=24,
            short_circuit_a=5.4,
            cells=36,
            substrings=2,
        )
        for index in range(count)
    ]


def random_scene(triangles: int, rng: np.random.Generator) -> Floats:
    """Return triangles over the panels whose total area does not depend on their number, (triangle, 3, 3)."""
    middle = np.stack(
        [rng.uniform(-3, 3, triangles), rng.uniform(-3, 3, triangles), rng.uniform(0.5, 4, triangles)], 1
    )
    return np.asarray(middle[:, None] + rng.normal(0.0, 5.0 / np.sqrt(triangles), (triangles, 3, 3)))


def random_suns(count: int, rng: np.random.Generator) -> Floats:
    """Return directions more than 6 degrees above the horizon, (direction, 3)."""
    up, turn = rng.uniform(0.1, 1.0, count), rng.uniform(0.0, 2.0 * np.pi, count)
    level = np.sqrt(1.0 - up**2)
    return np.stack([level * np.cos(turn), level * np.sin(turn), up], axis=1)


def ours(samples: Samples, triangles: Floats, suns: Floats) -> Floats:
    """Cast once and return the lit fractions."""
    count, panels = len(triangles), len(samples.rows)
    surfaces = Surfaces(
        corner_m=triangles.reshape(1, -1, 3),
        piece_first=np.arange(0, 3 * count + 1, 3),
        surface_first=np.array([0, count]),
        passed=np.zeros((1, 1)),
        shades=np.ones((1, panels), dtype=np.bool_),
    )
    tubes = Tubes(np.zeros((1, 0, 2, 3)), np.zeros((1, 0)), np.ones((0, panels), dtype=np.bool_))
    lit: Floats = lit_fraction(suns[None], surfaces, tubes, samples)
    return lit


def embree(points: Floats, triangles: Floats, suns: Floats) -> Callable[[], float] | None:
    """Return a task that traces every ray and gives the time of the occlusion calls, or None without Embree."""
    try:
        from embreex import rtcore_scene
        from embreex.mesh_construction import TriangleMesh
    except ImportError:
        return None
    origins = points.astype(np.float32)
    rays = [np.broadcast_to(sun.astype(np.float32), origins.shape).copy() for sun in suns]

    def trace() -> float:
        scene = rtcore_scene.EmbreeScene()
        TriangleMesh(scene, triangles.astype(np.float32))
        scene.run(origins[:1], rays[0][:1], query="OCCLUDED")  # builds its tree
        return spent(lambda: [scene.run(origins, ray, query="OCCLUDED") for ray in rays])

    return trace


def against_embree(places: Ints, points: int) -> list[float]:
    """Print rays a second of both for panels divided so, and how cost grows with triangles, points and directions.

    Returns
    -------
    list of float
        Ours to Embree's on 12, 100 and 1,000 triangles [1]; NaN without Embree.
    """
    rng = np.random.default_rng(1)
    panels = random_panels(8, rng)

    def samples_of(points: int) -> Samples:
        return deck.cell_samples(panels, [places] * 8, points=points)

    samples = samples_of(points)
    along = sample_points(LENGTH_M, WIDTH_M, points=points, places=places).along
    flat = (along - 0.5) * (LENGTH_M, WIDTH_M)
    origins = np.concatenate([samples.centre_m[k] + flat @ samples.axes[k, :2] for k in range(8)])
    suns = random_suns(5000, rng)
    ours(samples, random_scene(12, rng), suns[:2])
    print(f"8 panels x {len(places)} patches of {points} points, 5,000 directions, million rays a second, one thread")
    print(f"{'triangles':>9} {'ours':>7} {'Embree':>7} {'ratio':>6} {'lit':>5}")
    ratios = []
    for triangles in (12, 100, 1000):
        scene = random_scene(triangles, rng)
        trace = embree(origins, scene, suns)
        own, other = np.inf, np.inf
        for _ in range(REPEATS):
            own = min(own, spent(lambda scene=scene: ours(samples, scene, suns)))
            other = min(other, trace()) if trace is not None else np.nan
        rays, lit = len(origins) * len(suns) / 1e6, ours(samples, scene, suns).mean()
        print(f"{triangles:9d} {rays / own:7.0f} {rays / other:7.1f} {other / own:6.1f} {lit:5.2f}")
        ratios.append(other / own)
    scene = random_scene(100, rng)
    for times in (1, 2, 4):
        finer = samples_of(points * times)
        count = min(points * times * len(places), MOST_POINTS)
        own = min(spent(lambda finer=finer: ours(finer, scene, suns)) for _ in range(REPEATS))
        rate = 8e-6 * count * len(suns) / own
        print(f"100 triangles, {count:4d} points: {own * 1e3:6.1f} ms, {rate:6.0f} million rays a second")
    for count in (1250, 2500, 5000):
        own = min(spent(lambda count=count: ours(samples, scene, suns[:count])) for _ in range(REPEATS))
        print(f"100 triangles, {len(along):4d} points, {count} directions: {own * 1e3:6.1f} ms")
    return ratios


def passage(days: int, seed: int) -> tuple[xr.Dataset, Floats, Floats]:
    """Return a track of 10-minute steps whose heading, heel and trim wander, and a plain sun over it."""
    rng = np.random.default_rng(seed)
    steps = np.arange(days * 144)

    def wander(mean: float, size: float) -> Floats:
        knots = np.arange(0, steps.size + 18, 18)
        return np.asarray(mean + size * np.interp(steps, knots, rng.normal(size=knots.size)))

    columns = {
        "heading_deg": wander(20.0, 10.0),
        "heel_deg": wander(-12.0, 4.0),
        "pitch_deg": wander(0.0, 0.5),
        "roll_amplitude_deg": wander(5.0, 1.0),
        "boom_angle_deg": wander(25.0, 8.0),
        "mainsail_hoist_fraction": np.ones(steps.size),
        "headsail_set_fraction": np.ones(steps.size),
        "headsail_angle_deg": wander(22.0, 6.0),
        "tack": np.ones(steps.size),
    }
    hour = np.radians((steps + 0.5) / 144.0 * 360.0 - 180.0)
    lat, declination = np.radians(-28.0), np.radians(18.0)
    sine = np.sin(lat) * np.sin(declination) + np.cos(lat) * np.cos(declination) * np.cos(hour)
    north = np.cos(lat) * np.sin(declination) - np.sin(lat) * np.cos(declination) * np.cos(hour)
    azimuth = np.degrees(np.arctan2(-np.cos(declination) * np.sin(hour), north))
    track = xr.Dataset({name: ("time", values) for name, values in columns.items()})
    return track, azimuth, np.degrees(np.arcsin(sine))


def over_a_passage() -> None:
    """Print the cost of ten days with eight panels, sky view included: one track, and 51 with their own trim."""
    boat = tomllib.loads((PROJECT / "data" / "demo" / "boat.toml").read_text(encoding="utf-8"))
    rig, six = Rig(**boat["rig"]), [Panel(**panel) for panel in boat["panel"]]
    panels = [*six, *(panel.model_copy(update={"name": f"{panel.name} again"}) for panel in six[:2])]

    def run(seed: int, days: int = 10) -> None:
        cast(*passage(days, seed), rig=rig, panels=panels, points=CELL_POINTS, roll_nodes=5)

    print(f"10 days, 1,440 steps, 8 panels of {CELL_POINTS} points a cell, 5 roll nodes")
    print(f"first call: {spent(lambda: run(0)):.2f} s")
    for days in (5, 10, 20):
        print(f"{days:4d} days, warm: {min(spent(lambda days=days: run(0, days)) for _ in range(REPEATS)):.3f} s")
    print(f"51 tracks of their own, 10 days, warm: {spent(lambda: [run(seed) for seed in range(51)]):.2f} s")


def control_harvest(*, runs: int = REPEATS) -> tuple[int, int, float, float]:
    """Return steps and panels of the demo's track, and what its harvest takes.

    Returns
    -------
    steps, panels : int
    alone, members : float
        Of one member, and of 51: the members repeated in other light [s of processor].
    """
    inputs = read_inputs(PROJECT / "data" / "demo" / "passage.toml", [])
    forecast = extend(inputs.forecast, inputs.passage.departure, seed=1)
    track = sail(inputs.passage, inputs.boat, inputs.route, forecast)
    sky = sky_along(track, forecast)
    own, rng = sky.sizes["member"], np.random.default_rng(3)
    sky = sky.isel(member=np.arange(51) % own).assign_coords(member=np.arange(51))
    fainter = 1.0 - 0.1 * rng.random((51, track.sizes["time"])) * (np.arange(51) >= own)[:, None]
    sky["dni_w_m2"] = sky["dni_w_m2"] * xr.DataArray(fainter, dims=("member", "time"))
    boat, model = inputs.boat, inputs.passage.model

    def run(members: int) -> None:
        collect_under(
            track,
            sky.isel(member=slice(members)),
            rig=boat.rig,
            panels=boat.panel,
            controllers=boat.controller,
            soiling=boat.soiling,
            bus_v=bank_params(boat.bank).absorption_v,
            points=model.points,
            roll_nodes=model.roll_nodes,
        )

    run(1)
    alone, members = (min(spent(lambda count=count: run(count)) for _ in range(runs)) for count in (1, 51))
    return track.sizes["time"], len(boat.panel), alone, members


def over_members() -> None:
    """Print the cost of the demo's harvest on the control's track, its members repeated in other light until 51."""
    *_, members = control_harvest()
    print(f"harvest of 51 members on the demo's track, warm: {members:.3f} s")


if __name__ == "__main__":
    over_members()
    against_embree(STRIPS, 20)
    against_embree(cell_places_of(random_panels(1, np.random.default_rng(0))[0]), CELL_POINTS)
    over_a_passage()
