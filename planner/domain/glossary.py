"""The glossary: every quantity that stages pass on, with its units, dims and meaning over a step.

``time`` is the start of a step. States hold there (``point``); flows are means over the step (``mean``); sun and
shade are taken at its middle and stand for the whole step.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Final, Literal

Dims = tuple[str, ...]

ALONG_TRACK: Final[Dims] = ("time",)
PER_MEMBER: Final[Dims] = ("member", "time")
PER_PANEL: Final[Dims] = ("member", "time", "panel")
ON_PANEL: Final[Dims] = ("time", "panel")
PER_CONTROLLER: Final[Dims] = ("member", "time", "controller")
AT_ARRIVAL: Final[Dims] = ("member",)
AT_ITS_END: Final[Dims] = ("trajectory",)
ALONG_OWN: Final[Dims] = ("obs",)
ON_GRID: Final[Dims] = ("member", "time", "lat", "lon")
OVER_INTERVALS: Final[Dims] = ("member", "interval", "lat", "lon")


@dataclass(frozen=True)
class Quantity:
    """A named quantity.

    Attributes
    ----------
    units : str
        UDUNITS string as written to files; '1' for fractions and flags.
    dims : tuple of str
        Dimensions in order.
    long_name : str
        What it is, with its sign.
    over_step : {'point', 'mean'}
        Whether it holds at the start of the step or is the mean over it.
    standard_name : str or None
        CF standard name where one exists.
    """

    units: str
    dims: Dims
    long_name: str
    over_step: Literal["point", "mean"] = "point"
    standard_name: str | None = None


_FROM_NORTH = "clockwise from true north"

TRACK: Final = MappingProxyType(
    {
        "lat": Quantity("degrees_north", ALONG_TRACK, "latitude", standard_name="latitude"),
        "lon": Quantity("degrees_east", ALONG_TRACK, "longitude in [-180, 180)", standard_name="longitude"),
        "leg": Quantity("1", ALONG_TRACK, "index of the leg being sailed, from 0"),
        "leg_bearing_deg": Quantity("degree", ALONG_TRACK, f"bearing of the leg here, {_FROM_NORTH}"),
        "course_deg": Quantity(
            "degree", ALONG_TRACK, f"course over ground, {_FROM_NORTH}", "mean", "platform_course"
        ),
        "heading_deg": Quantity("degree", ALONG_TRACK, f"heading, {_FROM_NORTH}", "mean", "platform_orientation"),
        "heading_magnetic_deg": Quantity("degree", ALONG_TRACK, "heading, clockwise from magnetic north", "mean"),
        "speed_over_ground_kn": Quantity(
            "knot", ALONG_TRACK, "speed over ground", "mean", "platform_speed_wrt_ground"
        ),
        "speed_through_water_kn": Quantity(
            "knot", ALONG_TRACK, "speed through water", "mean", "platform_speed_wrt_sea_water"
        ),
        "distance_nm": Quantity("nautical_mile", ALONG_TRACK, "distance sailed over ground since departure"),
        "distance_to_go_nm": Quantity("nautical_mile", ALONG_TRACK, "distance along the legs to the destination"),
        "true_wind_speed_kn": Quantity("knot", ALONG_TRACK, "wind speed over the water", "mean"),
        "true_wind_from_deg": Quantity(
            "degree", ALONG_TRACK, f"direction the wind over the water blows from, {_FROM_NORTH}", "mean"
        ),
        "apparent_wind_speed_kn": Quantity("knot", ALONG_TRACK, "apparent wind speed", "mean"),
        "true_wind_angle_deg": Quantity(
            "degree", ALONG_TRACK, "true wind off the bow, positive over the starboard side", "mean"
        ),
        "apparent_wind_angle_deg": Quantity(
            "degree", ALONG_TRACK, "apparent wind off the bow, positive over the starboard side", "mean"
        ),
        "tack": Quantity("1", ALONG_TRACK, "+1 starboard tack (wind over starboard), -1 port tack", "mean"),
        "leeway_deg": Quantity(
            "degree", ALONG_TRACK, "course through water less heading, negative on starboard tack", "mean"
        ),
        "heel_deg": Quantity("degree", ALONG_TRACK, "heel, positive starboard side down", "mean"),
        "pitch_deg": Quantity("degree", ALONG_TRACK, "mean pitch, positive bow up", "mean"),
        "roll_amplitude_deg": Quantity("degree", ALONG_TRACK, "amplitude of roll about the mean heel", "mean"),
        "boom_angle_deg": Quantity("degree", ALONG_TRACK, "boom from the centreline, positive to port", "mean"),
        "mainsail_hoist_fraction": Quantity("1", ALONG_TRACK, "part of the luff set, 0 lowered", "mean"),
        "headsail_set_fraction": Quantity("1", ALONG_TRACK, "part of the headsail unfurled, 0 furled", "mean"),
        "headsail_angle_deg": Quantity(
            "degree", ALONG_TRACK, "headsail foot from the centreline, positive clew to port", "mean"
        ),
        "under_engine": Quantity("1", ALONG_TRACK, "1 while the engine drives the propeller", "mean"),
    }
)

TRACK_OPTIONAL: Final = MappingProxyType(
    {
        "current_set_deg": Quantity(
            "degree", ALONG_TRACK, f"direction the current sets toward, {_FROM_NORTH}", "mean"
        ),
        "current_drift_kn": Quantity("knot", ALONG_TRACK, "speed of the current", "mean"),
        "lying": Quantity("1", ALONG_TRACK, "0 under way, 1 at anchor, 2 hove-to", "mean"),
    }
)
"""On the track of a passage with a current, or with waits."""

SKY: Final = MappingProxyType(
    {
        "sun_azimuth_deg": Quantity(
            "degree", ALONG_TRACK, f"sun at mid-step, {_FROM_NORTH}", "mean", "solar_azimuth_angle"
        ),
        "sun_elevation_deg": Quantity(
            "degree",
            ALONG_TRACK,
            "apparent (refracted) sun at mid-step above the horizon",
            "mean",
            "solar_elevation_angle",
        ),
        "cloud_cover": Quantity("1", PER_MEMBER, "total cloud cover", "mean", "cloud_area_fraction"),
        "ghi_w_m2": Quantity(
            "W m-2",
            PER_MEMBER,
            "global horizontal irradiance",
            "mean",
            "surface_downwelling_shortwave_flux_in_air",
        ),
        "dni_w_m2": Quantity("W m-2", PER_MEMBER, "direct normal irradiance", "mean"),
        "dhi_w_m2": Quantity(
            "W m-2",
            PER_MEMBER,
            "diffuse horizontal irradiance",
            "mean",
            "surface_diffuse_downwelling_shortwave_flux_in_air",
        ),
        "air_temp_c": Quantity("degree_Celsius", PER_MEMBER, "air temperature at 2 m", "mean", "air_temperature"),
        "rain_mm_h": Quantity(
            "mm h-1", PER_MEMBER, "rain; 0 where the forecast tells of none", "mean", "rainfall_rate"
        ),
        "beyond_forecast": Quantity("1", ALONG_TRACK, "1 where the forecast does not reach", "mean"),
    }
)

HARVEST: Final = MappingProxyType(
    {
        **SKY,
        "poa_w_m2": Quantity("W m-2", PER_PANEL, "irradiance in the plane of the panel, after shade", "mean"),
        "beam_lit_fraction": Quantity("1", PER_PANEL, "part of the panel that the beam reaches", "mean"),
        "sky_view_fraction": Quantity(
            "1", PER_PANEL, "isotropic diffuse light on the panel over that on open horizontal", "mean"
        ),
        "beam_view_fraction": Quantity(
            "1", ON_PANEL, "cosine of the sun's incidence without shade, mean over the roll", "mean"
        ),
        "sea_view_fraction": Quantity("1", ON_PANEL, "view of the sea from the panel, unobstructed", "mean"),
        "soiled_fraction": Quantity(
            "1", PER_PANEL, "part of the light that dirt and salt take, at the start of the step"
        ),
        "cell_light_w_m2": Quantity(
            "W m-2", PER_PANEL, "light that the cells use, after glass, age, dirt and salt", "mean"
        ),
        "cell_temp_c": Quantity("degree_Celsius", PER_PANEL, "cell temperature", "mean"),
        "panel_power_w": Quantity("W", PER_PANEL, "power that the panel adds at its string's working point", "mean"),
        "controller_power_w": Quantity(
            "W",
            PER_CONTROLLER,
            "what the controller could deliver to the bus, after wiring and its losses",
            "mean",
        ),
        "wire_loss_power_w": Quantity("W", PER_CONTROLLER, "heat in the wire from panels to controller", "mean"),
    }
)

LOSS_ITEMS: Final = (
    *("sun angle", "cloud", "beam shade", "diffuse shade", "incidence", "age", "dirt and salt", "low light", "heat"),
    *("mismatch", "wiring", "controller", "full bank"),
)
"""What stands between a panel's rating and the bank, in the order in which it is taken off."""

LOSSES: Final = MappingProxyType(
    {
        "rating_wh": Quantity("W h", ("panel", "day"), "rated power from sunrise to sunset", "mean"),
        "loss_wh": Quantity(
            "W h", ("panel", "day", "item"), "what each item takes of it, in this order; negative gives", "mean"
        ),
        "bank_wh": Quantity("W h", ("panel", "day"), "what is left of it at the bank's bus", "mean"),
    }
)

OTHER_SOURCES: Final = MappingProxyType(
    {
        "other_offered_power_w": Quantity(
            "W", ALONG_TRACK, "what generators and chargers beside sun and alternator could deliver", "mean"
        ),
    }
)

LEDGER: Final = MappingProxyType(
    {
        "solar_power_w": Quantity("W", PER_MEMBER, "controllers' power taken by the bus", "mean"),
        "curtailed_power_w": Quantity("W", PER_MEMBER, "controllers' power that the bus could not take", "mean"),
        "alternator_power_w": Quantity("W", PER_MEMBER, "alternator output taken by the bus", "mean"),
        "other_charge_power_w": Quantity("W", PER_MEMBER, "other charging taken by the bus", "mean"),
        "load_power_w": Quantity("W", PER_MEMBER, "loads served", "mean"),
        "unserved_power_w": Quantity("W", PER_MEMBER, "loads asked for that an empty bank could not serve", "mean"),
        "resistive_loss_power_w": Quantity(
            "W", PER_MEMBER, "bank current times the volts that it stands off rest", "mean"
        ),
        "coulombic_loss_power_w": Quantity(
            "W", PER_MEMBER, "charge that the bank took and did not keep, or lost standing", "mean"
        ),
        "hysteresis_loss_power_w": Quantity(
            "W",
            PER_MEMBER,
            "bank current times what hysteresis adds to rest; negative for a while after the current turns",
            "mean",
        ),
        "bank_loss_power_w": Quantity("W", PER_MEMBER, "resistive, coulombic and hysteresis loss", "mean"),
        "stored_power_w": Quantity(
            "W",
            PER_MEMBER,
            "energy put into the bank, along its open-circuit curve; negative when drawn",
            "mean",
        ),
        "bank_soc": Quantity("1", PER_MEMBER, "state of charge at the start of the step"),
        "bank_soc_end": Quantity("1", AT_ARRIVAL, "state of charge after the last step"),
        "bank_voltage_v": Quantity("V", PER_MEMBER, "terminal voltage", "mean"),
        "bank_current_a": Quantity("A", PER_MEMBER, "bank current, positive charging", "mean"),
        "engine_on": Quantity("1", PER_MEMBER, "1 while the engine runs, whatever for", "mean"),
    }
)

DEMAND: Final = MappingProxyType(
    {
        "demand_power_w": Quantity("W", PER_MEMBER, "loads asked for, idle draws and converters included", "mean"),
        "load_item_power_w": Quantity("W", ("time", "load"), "what each load asks for, mean over members", "mean"),
    }
)

OWN_TRACKS: Final = MappingProxyType(
    {
        name: replace(quantity, dims=AT_ITS_END if quantity.dims == AT_ARRIVAL else ALONG_OWN)
        for name, quantity in {**TRACK, **LEDGER}.items()
    }
)
"""Track and ledger of each member on its own track, one track after another along ``obs``."""

READINGS: Final = MappingProxyType(
    {
        "read_controller_power_w": Quantity("W", ("time", "controller"), "controller output as displayed"),
        "read_bank_voltage_v": Quantity("V", ALONG_TRACK, "bank voltage at the monitor"),
        "read_bank_current_a": Quantity("A", ALONG_TRACK, "bank current at the shunt, positive charging"),
        "read_meter_soc": Quantity("1", ALONG_TRACK, "state of charge that the battery monitor showed"),
        "read_meter_ah": Quantity("A h", ALONG_TRACK, "amp-hours that it showed, negative from full"),
        "read_engine_on": Quantity("1", ALONG_TRACK, "1 while the engine ran"),
    }
)
"""A crew's log: at irregular moments as read, or as means over a track's steps; NaN where nothing was read."""

FORECAST: Final = MappingProxyType(
    {
        "wind_east_m_s": Quantity("m s-1", ON_GRID, "10 m wind over ground, toward east", "point", "eastward_wind"),
        "wind_north_m_s": Quantity(
            "m s-1", ON_GRID, "10 m wind over ground, toward north", "point", "northward_wind"
        ),
        "air_temp_c": Quantity("degree_Celsius", ON_GRID, "air temperature at 2 m", "point", "air_temperature"),
    }
)

FORECAST_OPTIONAL: Final = MappingProxyType(
    {
        "cloud_cover": Quantity("1", ON_GRID, "total cloud cover", "point", "cloud_area_fraction"),
        "cloud_low": Quantity("1", ON_GRID, "low cloud cover", "point", "low_type_cloud_area_fraction"),
        "cloud_middle": Quantity("1", ON_GRID, "middle cloud cover", "point", "medium_type_cloud_area_fraction"),
        "cloud_high": Quantity("1", ON_GRID, "high cloud cover", "point", "high_type_cloud_area_fraction"),
        "ghi_w_m2": Quantity(
            "W m-2",
            OVER_INTERVALS,
            "downward shortwave, mean from interval to interval_end; there where both are the same",
            "mean",
            "surface_downwelling_shortwave_flux_in_air",
        ),
        "direct_w_m2": Quantity(
            "W m-2",
            OVER_INTERVALS,
            "the part of it that comes straight from the sun, on the level",
            "mean",
            "surface_direct_downwelling_shortwave_flux_in_air",
        ),
        "rain_mm_h": Quantity("mm h-1", ON_GRID, "rain", "point", "rainfall_rate"),
        "wave_height_m": Quantity(
            "m", ON_GRID, "significant wave height", "point", "sea_surface_wave_significant_height"
        ),
        "current_east_m_s": Quantity(
            "m s-1", ON_GRID, "surface current, toward east", "point", "surface_eastward_sea_water_velocity"
        ),
        "current_north_m_s": Quantity(
            "m s-1", ON_GRID, "surface current, toward north", "point", "surface_northward_sea_water_velocity"
        ),
    }
)

BY_HAND: Final = MappingProxyType(
    {
        "seen_cover": Quantity("1", ALONG_TRACK, "total cloud cover as an observer tells it", "point"),
        "cloud_by_hand": Quantity("1", ALONG_TRACK, "1 where that cover stands, 0 where the forecast's own does"),
        "wind_by_hand": Quantity("1", ALONG_TRACK, "1 where the wind is typed by hand"),
    }
)
"""On the forecast of a passage with weather typed by hand, the same everywhere; its own cloud may then be wanting."""
