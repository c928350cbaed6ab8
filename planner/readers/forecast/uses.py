"""What a plan takes from a forecast for each of its needs, in words."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Set
from dataclasses import dataclass
from typing import Final, Literal

from planner.domain.results.forecast import HeldVariable, Use
from planner.readers.forecast.members import Whole

LAYERS: Final = ("cloud_low", "cloud_middle", "cloud_high")


@dataclass(frozen=True)
class _Plain:
    """A need that one or two quantities meet as they are."""

    need: str
    quantities: tuple[str, ...]
    without: str
    needed: bool


PLAIN: Final = (
    _Plain("wind", ("wind_east_m_s", "wind_north_m_s"), "needs typed wind, or a further file that holds it", True),
    _Plain("air temperature", ("air_temp_c",), "needs typed air temperature, or a further file that holds it", True),
    _Plain("rain that rinses the panels", ("rain_mm_h",), "none is taken to fall: dirt and salt stay on", False),
    _Plain(
        "current",
        ("current_east_m_s", "current_north_m_s"),
        "a passage whose current comes from the forecast needs a further file; a constant one is typed",
        False,
    ),
    _Plain("waves", ("wave_height_m",), "none are looked for", False),
)


def uses_of(whole: Mapping[str, Whole], read: Set[str], held: Mapping[str, HeldVariable]) -> tuple[Use, ...]:
    """Return what meets each need.

    Parameters
    ----------
    whole : mapping of str to Whole
        Quantities as merged.
    read : set of str
        Quantities that files hold, before anything was derived.
    held : mapping of str to HeldVariable
        By quantity.
    """
    return (_sunlight(whole, held), *(_plain(one, whole, read) for one in PLAIN))


def _sunlight(whole: Mapping[str, Whole], held: Mapping[str, HeldVariable]) -> Use:
    layers = all(name in whole for name in LAYERS)
    cloud = ""
    if layers:
        cloud = f"low, middle and high cloud ({', '.join(whole[name].name for name in LAYERS)})"
    elif "cloud_cover" in whole:
        cloud = f"total cloud ({whole['cloud_cover'].name})"
    if "ghi_w_m2" in whole:
        name = whole["ghi_w_m2"].name
        taken = f"surface radiation ({name}, {held['ghi_w_m2'].reading})" if "ghi_w_m2" in held else name
        if "direct_w_m2" in whole:
            taken += f", its direct part from {whole['direct_w_m2'].name}"
        return Use(
            "sunlight", taken, f"where it ends: {cloud}" if cloud else "where it ends: its own last days", "held"
        )
    if layers:
        return Use("sunlight", cloud, "surface radiation would tell more", "held")
    if cloud:
        return Use("sunlight", cloud, "layers of cloud or surface radiation would tell more", "held")
    otherwise = (
        "what the season usually gives at the latitude, in wide doubt; typed cloud, or a further file that holds "
    )
    return Use("sunlight", "", f"{otherwise}cloud or surface radiation, would tell more", "spared")


def half_of_wind(quantities: Collection[str]) -> str:
    """Return that the wind's speed is there without its direction, or the other way round; empty otherwise."""
    if ("wind_speed" in quantities) == ("wind_from" in quantities):
        return ""
    halves = ("speed", "direction") if "wind_speed" in quantities else ("direction", "speed")
    return f"it holds the wind's {halves[0]} but not its {halves[1]}"


def _plain(one: _Plain, whole: Mapping[str, Whole], read: Set[str]) -> Use:
    state: Literal["held", "missing", "spared"] = "missing" if one.needed else "spared"
    if not all(name in whole for name in one.quantities):
        half = half_of_wind(read) if one.need == "wind" else ""
        return Use(one.need, "", f"{half}; {one.without}" if half else one.without, state)
    names = " and ".join(dict.fromkeys(whole[name].name for name in one.quantities))
    if one.quantities[0] == "wind_east_m_s" and one.quantities[0] not in read:
        names += " and its direction"
    return Use(one.need, names, "", "held")
