"""What weather centres call the quantities that the planner reads, and in which units they give them."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, Literal

from planner.domain.units import KELVIN_AT_ZERO_C, M_S_PER_KN


@dataclass(frozen=True)
class Scale:
    """A linear change of units: what the planner uses is factor times given, plus offset.

    Attributes
    ----------
    factor, offset : float
        Of a sum over time, factor gives the flux times seconds.
    summed : bool
        Whether the units are those of a flux summed over time.
    """

    factor: float = 1.0
    offset: float = 0.0
    summed: bool = False


@dataclass(frozen=True)
class Term:
    """A quantity as files give it.

    Attributes
    ----------
    words : str
        What it is, for messages.
    standard_names : tuple of str
        CF standard names that mean it.
    short_names : tuple of str
        Names that large weather centres give it, in lower case without punctuation.
    height_m : float or None
        Height above ground that it must have, where a file says any [m].
    scales : mapping of str to Scale
        Known units, in lower case without blanks.
    least, most : float
        What is plausible, in the planner's units.
    gap : float or None
        What a missing value means, in the planner's units; None fills it from its neighbours.
    flux : {'sunlight', 'rain'} or None
        What is given as a mean or a sum over a span of time.
    """

    words: str
    standard_names: tuple[str, ...]
    short_names: tuple[str, ...]
    height_m: float | None
    scales: Mapping[str, Scale]
    least: float
    most: float
    gap: float | None = None
    flux: Literal["sunlight", "rain"] | None = None


_FRACTION: Final = {
    **dict.fromkeys(("1", "(0-1)", "0-1", "fraction", "proportion", "(code0-1)"), Scale()),
    **dict.fromkeys(("%", "percent", "pct", "percentage"), Scale(0.01)),
    **dict.fromkeys(("okta", "oktas", "octa", "octas", "1/8", "eighths"), Scale(0.125)),
    **dict.fromkeys(("tenth", "tenths", "1/10"), Scale(0.1)),
}
_SPEED: Final = {
    **dict.fromkeys(("ms-1", "m/s", "ms**-1", "m.s-1", "ms^-1", "mps", "meterpersecond", "metrepersecond"), Scale()),
    **dict.fromkeys(("kn", "kt", "kts", "knot", "knots"), Scale(M_S_PER_KN)),
    **dict.fromkeys(("kmh-1", "km/h", "kmph", "kmh", "kmh**-1", "km.h-1"), Scale(1.0 / 3.6)),
    **dict.fromkeys(("mph", "mileh-1", "mi/h"), Scale(0.44704)),  # m/s per statute mile an hour, exact
}
_TEMPERATURE: Final = {
    **dict.fromkeys(("k", "kelvin", "degk", "degreesk", "degree_kelvin"), Scale(1.0, -KELVIN_AT_ZERO_C)),
    **dict.fromkeys(
        ("degc", "c", "celsius", "degree_celsius", "degrees_celsius", "degree_c", "degreesc", "°c", "℃"), Scale()
    ),
    **dict.fromkeys(
        ("degf", "f", "fahrenheit", "degree_fahrenheit", "degree_f", "°f"), Scale(5.0 / 9.0, -160.0 / 9.0)
    ),
}
_LIGHT: Final = {
    **dict.fromkeys(("wm-2", "w/m2", "w/m^2", "wm**-2", "w.m-2", "wm^-2", "watt/m2"), Scale()),
    **dict.fromkeys(("jm-2", "j/m2", "j/m^2", "jm**-2", "j.m-2", "jm^-2"), Scale(summed=True)),
    **dict.fromkeys(("kjm-2", "kj/m2", "kj/m^2"), Scale(1e3, summed=True)),
    **dict.fromkeys(("wsm-2", "wm-2s", "wm**-2s"), Scale(summed=True)),
}
_RAIN: Final = {
    **dict.fromkeys(("mmh-1", "mm/h", "mmhr-1", "mm/hr", "kgm-2h-1"), Scale()),
    **dict.fromkeys(
        ("kgm-2s-1", "kgm**-2s**-1", "kg/m^2/s", "kg/m2/s", "kgm^-2s^-1", "mms-1", "mm/s"), Scale(3600.0)
    ),
    **dict.fromkeys(("mm", "kgm-2", "kgm**-2", "kg/m^2", "kg/m2", "kg.m-2"), Scale(3600.0, summed=True)),
    "m": Scale(3.6e6, summed=True),
    **dict.fromkeys(("ms-1", "m/s", "ms**-1"), Scale(3.6e6)),
}
_HEIGHT: Final = dict.fromkeys(("m", "metre", "metres", "meter", "meters"), Scale())
_ANGLE: Final = dict.fromkeys(("degree", "degrees", "deg", "degreetrue", "degreestrue", "degree_true", "°"), Scale())


def _cover(words: str, standard_names: tuple[str, ...], short_names: tuple[str, ...]) -> Term:
    return Term(words, standard_names, short_names, None, _FRACTION, 0.0, 1.0)


def _wind(words: str, standard_names: tuple[str, ...], short_names: tuple[str, ...], least: float) -> Term:
    return Term(words, standard_names, short_names, 10.0, _SPEED, least, 120.0)


def _current(words: str, standard_names: tuple[str, ...], short_names: tuple[str, ...]) -> Term:
    return Term(words, standard_names, short_names, None, _SPEED, -5.0, 5.0, gap=0.0)  # none is given on land


def _light(words: str, standard_names: tuple[str, ...], short_names: tuple[str, ...]) -> Term:
    return Term(words, standard_names, short_names, None, _LIGHT, 0.0, 1500.0, flux="sunlight")


TERMS: Final[Mapping[str, Term]] = {
    "cloud_cover": _cover(
        "total cloud cover",
        ("cloud_area_fraction",),
        (
            *("tcc", "tcdc", "clt", "tcdcclm", "tcdceatm", "tcdcentireatmosphere", "totalcloudcover", "cloudcover"),
            *("tcdcentireatmosphereconsideredasasinglelayer", "totalcloud", "cloud", "clouds", "meantcc", "avgtcc"),
        ),
    ),
    "cloud_low": _cover(
        "low cloud cover",
        ("low_type_cloud_area_fraction",),
        (
            "lcc",
            "lcdc",
            "cll",
            "clcl",
            "lowcloudcover",
            "cloudcoverlow",
            "lcdclowcloudlayer",
            "tcdclowcloudlayer",
            "lowcloud",
            "avglcc",
        ),
    ),
    "cloud_middle": _cover(
        "middle cloud cover",
        ("medium_type_cloud_area_fraction", "middle_type_cloud_area_fraction"),
        (
            *(
                "mcc",
                "mcdc",
                "clm",
                "clcm",
                "mediumcloudcover",
                "middlecloudcover",
                "cloudcovermid",
                "mcdcmiddlecloudlayer",
            ),
            *("tcdcmiddlecloudlayer", "midcloud", "middlecloud", "avgmcc"),
        ),
    ),
    "cloud_high": _cover(
        "high cloud cover",
        ("high_type_cloud_area_fraction",),
        (
            *("hcc", "hcdc", "clh", "clch", "highcloudcover", "cloudcoverhigh", "hcdchighcloudlayer"),
            *("tcdchighcloudlayer", "highcloud", "avghcc"),
        ),
    ),
    "wind_east_m_s": _wind(
        "10 m wind toward east",
        ("eastward_wind", "x_wind"),
        ("u10", "10u", "u10m", "uas", "ugrd10m", "ugrd10maboveground", "uwind10m", "ugrd", "uwind", "u", "avg10u"),
        -120.0,
    ),
    "wind_north_m_s": _wind(
        "10 m wind toward north",
        ("northward_wind", "y_wind"),
        ("v10", "10v", "v10m", "vas", "vgrd10m", "vgrd10maboveground", "vwind10m", "vgrd", "vwind", "v", "avg10v"),
        -120.0,
    ),
    "wind_speed": _wind(
        "10 m wind speed",
        ("wind_speed",),
        ("si10", "10si", "ws10", "ws10m", "wind10m", "windspeed10m", "windspeed", "wspd", "ws", "sfcwind", "ff"),
        0.0,
    ),
    "wind_from": Term(
        "10 m wind direction",
        ("wind_from_direction",),
        ("wdir10", "wd10", "wdir10m", "winddirection10m", "winddirection", "wdir", "wd", "10wdir", "dd"),
        10.0,
        _ANGLE,
        -360.0,
        720.0,
    ),
    "air_temp_c": Term(
        "2 m air temperature",
        ("air_temperature",),
        (
            "t2m",
            "2t",
            "tas",
            "tmp2m",
            "tmp2maboveground",
            "temperature2m",
            "airtemperature",
            "temperature",
            "t2",
            "avg2t",
        ),
        2.0,
        _TEMPERATURE,
        -90.0,
        60.0,
    ),
    "current_east_m_s": _current(
        "current toward east",
        ("surface_eastward_sea_water_velocity", "eastward_sea_water_velocity", "sea_water_x_velocity"),
        ("uo", "ucur", "ucurr", "wateru", "uogrd", "ocu", "ucurrent"),
    ),
    "current_north_m_s": _current(
        "current toward north",
        ("surface_northward_sea_water_velocity", "northward_sea_water_velocity", "sea_water_y_velocity"),
        ("vo", "vcur", "vcurr", "waterv", "vogrd", "ocv", "vcurrent"),
    ),
    "ghi_w_m2": _light(
        "surface downward shortwave radiation",
        (
            "surface_downwelling_shortwave_flux_in_air",
            "integral_wrt_time_of_surface_downwelling_shortwave_flux_in_air",
        ),
        (
            *("ssrd", "dswrf", "grad", "sdswrf", "rsds", "swdown", "avgsdswrf", "msdwswrf", "dswrfsfc"),
            *("dswrfsurface", "shortwaveradiation", "surfacesolarradiationdownwards", "ghi"),
        ),
    ),
    "direct_w_m2": _light(
        "direct radiation on the level",
        (
            "surface_direct_downwelling_shortwave_flux_in_air",
            "integral_wrt_time_of_surface_direct_downwelling_shortwave_flux_in_air",
        ),
        ("fdir", "dirswrf", "msdrswrf", "avgsdirswrf", "directradiation", "totalskydirectsolarradiationatsurface"),
    ),
    "rain_mm_h": Term(
        "precipitation",
        (
            *("rainfall_flux", "rainfall_rate", "precipitation_flux", "lwe_precipitation_rate"),
            *("precipitation_amount", "lwe_thickness_of_precipitation_amount", "rainfall_amount"),
        ),
        (
            "tp",
            "prate",
            "apcp",
            "pr",
            "totalprecipitation",
            "precipitation",
            "apcpsfc",
            "pratesfc",
            "rain",
            "tprate",
            "pratesurface",
            "avgtprate",
            "rainrate",
        ),
        None,
        _RAIN,
        0.0,
        500.0,
        gap=0.0,
        flux="rain",
    ),
    "wave_height_m": Term(
        "significant wave height",
        ("sea_surface_wave_significant_height",),
        ("swh", "htsgw", "htsgwsfc", "hs", "vhm0", "waveheight", "shww"),
        None,
        _HEIGHT,
        0.0,
        30.0,
        gap=0.0,
    ),
}

ELSEWHERE: Final = frozenset(
    {
        *(
            "convectiveCloudLayer",
            "boundaryLayerCloudLayer",
            "isobaricInhPa",
            "isobaricInPa",
            "maxWind",
            "tropopause",
        ),
        *("heightAboveSea", "depthBelowLandLayer", "potentialVorticity", "sigma", "sigmaLayer", "hybrid"),
        *("heightAboveGroundLayer", "pressureFromGroundLayer", "highestTroposphericFreezing", "isothermZero"),
        *("nominalTop", "lowCloudTop", "middleCloudTop", "highCloudTop", "lowCloudBottom", "middleCloudBottom"),
        *("highCloudBottom", "convectiveCloudTop", "convectiveCloudBottom"),
    }
)
"""GRIB level types that hold none of the terms."""

CLOUD_LEVELS: Final = {
    "lowCloudLayer": "cloud_low",
    "middleCloudLayer": "cloud_middle",
    "highCloudLayer": "cloud_high",
}
"""GRIB level types that name a layer where the name is that of total cover."""

WMO_CODES: Final = {
    (0, 6, 1): "tcc",
    (0, 6, 3): "lcc",
    (0, 6, 4): "mcc",
    (0, 6, 5): "hcc",
    (0, 2, 2): "10u",
    (0, 2, 3): "10v",
    (0, 0, 0): "2t",
    (0, 4, 7): "ssrd",
    (0, 1, 8): "tp",
    (0, 1, 52): "prate",
    (10, 0, 3): "swh",
}
"""Names of GRIB 2 fields unknown to the decoding library, by discipline, category, number (WMO code table 4.2)."""


WMO_CODES_1: Final = {
    (33, 105): ("10u", "m s**-1"),
    (34, 105): ("10v", "m s**-1"),
    (11, 105): ("2t", "K"),
    (71, 105): ("tcc", "(0-1)"),
    (73, 105): ("lcc", "(0-1)"),
    (74, 105): ("mcc", "(0-1)"),
    (75, 105): ("hcc", "(0-1)"),
    (117, 105): ("ssrd", "J m**-2"),
    (61, 105): ("tp", "kg m**-2"),
    (204, 1): ("dswrf", "W m**-2"),
}
"""Names and units of GRIB 1 fields unknown to the decoding library, by code and type of level.

Codes of WMO's table 2 with the units of table 253 of European limited-area models, and NCEP's downward shortwave
radiation (recalled).
"""

LAYERS_1: Final = {
    214: "lowCloudLayer",
    224: "middleCloudLayer",
    234: "highCloudLayer",
    211: "boundaryLayerCloudLayer",
    244: "convectiveCloudLayer",
}
"""GRIB 1 types of level of NCEP's table 3a that the decoding library does not know (recalled)."""

ON_SURFACE_1: Final = {"u": "10u", "v": "10v", "t": "2t"}
"""GRIB 1 names of wind and temperature on the surface: there some centres put 10 m wind and 2 m temperature."""


def plain(name: str) -> str:
    """Return a name in lower case without punctuation, to compare."""
    return re.sub(r"[^a-z0-9]", "", name.lower())


def scale_of(units: str, term: Term) -> Scale | None:
    """Return the change of units that a file's units ask for, or None where they are not known.

    Parameters
    ----------
    units : str
        As the file has them.
    term : Term
        What they belong to.
    """
    return term.scales.get(re.sub(r"\s+", "", units.lower()))
