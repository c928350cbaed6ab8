"""The chain from a passage's inputs: track, then sky, shade and array at chosen steps."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, timedelta

import model_array
import model_shade
import model_skyview
from model_bank import Bank
from model_sky import Sky, middle
from model_track import sail


@dataclass
class Chain:
    """A passage in the reference model: the track is sailed at once, the rest is asked for by step and member."""

    passage: object
    boat: object
    route: tuple
    forecast: object

    def __post_init__(self) -> None:
        self.step_s = 60.0 * self.passage.model.step_min
        self.rows = sail(self.passage, self.boat, self.route, self.forecast)
        start = self.passage.departure.astimezone(UTC).replace(tzinfo=None)
        for t, row in enumerate(self.rows):
            row["time"] = start + timedelta(seconds=t * self.step_s)
        self.sky = Sky(self.forecast)
        self.bus_v = Bank(self.boat.bank).absorption_v
        rain = [self._rain(t) for t in range(len(self.rows))]
        self.dirt = [self._dirt([at_step[m] for at_step in rain]) for m in range(self.forecast.sizes["member"])]
        self.view = model_skyview.SkyView(self.boat.rig, self.boat.panel, self.rows)

    def _rain(self, t: int) -> list[float]:
        members = range(self.forecast.sizes["member"])
        at = middle(self.rows[t], self.step_s)
        return [self.sky.sample("rain_mm_h", member, *at) for member in members]

    def _dirt(self, rain_mm_h: list[float]) -> list[list[float]]:
        """By panel and step."""
        starts = {name: c.soiling_fraction for c in self.boat.controller for string in c.strings for name in string}
        gathered = {
            start: model_array.soiled(rain_mm_h, start, self.boat.soiling, self.step_s / 3600.0)
            for start in set(starts.values())
        }
        return [gathered[starts[panel.name]] for panel in self.boat.panel]

    def light(self, t: int, members: list[int]) -> list[dict]:
        """Sun and sky of each member at a step."""
        at = middle(self.rows[t], self.step_s)
        sun = self.sky.sun(*at)
        return [sun | self.sky.under(member, *at, sun) for member in members]

    def harvest(self, t: int, members: list[int]) -> list[dict]:
        """Sky, panels and controllers of each member at a step."""
        model, row, skies = self.passage.model, self.rows[t], self.light(t, members)
        sun = (skies[0]["sun_azimuth_deg"], skies[0]["sun_elevation_deg"])
        finely = {"points": model.points, "nodes": model.roll_nodes}
        shade = model_shade.beam(self.boat.rig, self.boat.panel, row, sun, **finely) | self.view.views(t)
        hood, angle = self.boat.rig.sprayhood, row["apparent_wind_angle_deg"]
        over = [self.boat.rig.deck_height_m + panel.centre_m[2] for panel in self.boat.panel]
        wind_kn = [
            model_array.felt_kn(row, height) * model_array.lee(hood, panel, angle)
            for panel, height in zip(self.boat.panel, over, strict=True)
        ]
        results = []
        for member, sky in zip(members, skies, strict=True):
            dirt = [panel[t] for panel in self.dirt[member]]
            parts = [sky[name] for name in ("sun_elevation_deg", "ghi_w_m2", "dni_w_m2", "dhi_w_m2", "day_of_year")]
            around = {"air_c": sky["air_temp_c"], "wind_kn": wind_kn, "dirt": dirt, "shade": shade}
            power = model_array.harvest(
                self.boat.panel,
                self.boat.controller,
                light=model_array.split_sky(*parts),
                grade=model_array.gradation(parts[0], parts[2], parts[3]),
                bus_v=self.bus_v,
                **around,
            )
            results.append(
                sky
                | power
                | {"sky_view_fraction": shade["sky_view"], "beam_lit_fraction": _lit(shade), "soiled_fraction": dirt}
            )
        return results


def _lit(shade: dict) -> list[float]:
    """Part of each panel that the beam reaches, over the roll."""
    parts = []
    for p in range(len(shade["sky_view"])):
        facing = [w * max(c[p], 0.0) for w, c in zip(shade["weights"], shade["cosines"], strict=True)]
        lit = [sum(node[p]) / len(node[p]) for node in shade["lit"]]
        whole = sum(facing)
        parts.append(sum(f * part for f, part in zip(facing, lit, strict=True)) / whole if whole else 0.0)
    return parts
