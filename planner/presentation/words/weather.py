"""Weather typed by hand in words, as it was understood."""

from __future__ import annotations

from datetime import datetime

from planner.domain.inputs.hand_weather import OKTAS, WeatherRow

DEGREE = "\N{DEGREE SIGN}"


def row_words(row: WeatherRow) -> str:
    """Return what a row says, and what its words were taken for."""
    oktas = row.cover * OKTAS
    parts = [f"sky {row.sky}, taken as {oktas:g} oktas" if row.sky else f"{oktas:g} oktas of cloud"]
    if row.blows_from_deg is None:
        parts.append("wind by the forecast file")
    else:
        point = f"{row.wind_from}, " if row.wind_from else ""
        parts.append(f"wind from {point}{row.blows_from_deg:g}{DEGREE} true at {row.wind_kn:g} kn")
    parts.append("air not given" if row.air_temp_c is None else f"air {row.air_temp_c:g} {DEGREE}C")
    if row.rain_mm_h:
        parts.append(f"rain {row.rain_mm_h:g} mm/h")
    if row.instead:
        parts.append("instead of the forecast file")
    return "; ".join(parts)


def date_and_time(moment: datetime) -> str:
    """Return a moment as its own clock has it: 'Mon 10 May 2027 18:00'."""
    return f"{moment:%a} {moment.day} {moment:%b %Y %H:%M}"
