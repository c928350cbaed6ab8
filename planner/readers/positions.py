"""Latitudes and longitudes as navigators write them: decimals, or degrees and minutes with a hemisphere letter."""

from __future__ import annotations

import math
import re
from typing import Literal

Axis = Literal["lat", "lon"]

_LIMIT = {"lat": 90.0, "lon": 360.0}  # degree; longitudes east of 180 may be counted on to 360
_LETTERS = {"lat": "NS", "lon": "EW"}
_WORDS = {"lat": "latitude", "lon": "longitude"}
# What may stand between degrees, minutes and seconds: blanks, degree signs, straight and curled quotes and primes.
_MARKS = re.compile("[\\s\u00b0\u00ba'\u2019\u2032\"\u201d\u2033-]+")

_COMMA = re.compile(r"(?P<lat>[^,;/]+)[,;/](?P<lon>[^,;/]+)")
_LETTERS_AFTER = re.compile(r"(?P<lat>[^A-Za-z]*\d[^A-Za-z]*[A-Za-z]+)(?P<lon>[^A-Za-z]*\d[^A-Za-z]*[A-Za-z]+)")
_LETTERS_BEFORE = re.compile(r"(?P<lat>[A-Za-z]+[^A-Za-z]*\d[^A-Za-z]*)(?P<lon>[A-Za-z]+[^A-Za-z]*\d[^A-Za-z]*)")
_DECIMALS = re.compile(r"(?P<lat>[-+\N{MINUS SIGN}]?\d+(\.\d*)?)\s+(?P<lon>[-+\N{MINUS SIGN}]?\d+(\.\d*)?)")


def read_angle(text: str, axis: Axis) -> float:
    """Return a latitude or longitude in degrees.

    Parameters
    ----------
    text : str
        For example ``-35.3117``, ``35.3117 S``, ``35-18.7S``, ``35 18.7' S``, ``S 35°18'42"``.
    axis : {'lat', 'lon'}
        Which of the two it must be.

    Returns
    -------
    float
        North and east positive; longitude in [-180, 180) [degree].

    Raises
    ------
    ValueError
        Saying what is wrong and what is allowed.
    """
    given = text.strip()
    letters = re.findall(r"[A-Za-z]+", given)
    bare = re.sub(r"[A-Za-z]+", " ", given).strip()
    minus = bare.startswith(("-", "\N{MINUS SIGN}"))
    numbers = _numbers(bare.lstrip("+-\N{MINUS SIGN} "), given, axis)
    if len(letters) > 1 or (letters and letters[0].upper() not in _LETTERS[axis]):
        raise ValueError(_wrong_letter(given, "".join(letters), axis))
    if letters and minus:
        raise ValueError(f"'{given}' has a minus sign and a hemisphere letter. Keep one of them.")
    if len(numbers) > 1 and not letters and not minus and "-" in bare:
        raise ValueError(f"'{given}' has no hemisphere letter. Write {_example(axis)}.")
    south_or_west = minus or (bool(letters) and letters[0].upper() in "SW")
    size = sum(number / 60**power for power, number in enumerate(numbers))
    return in_range(-size if south_or_west else size, axis)


def split_position(text: str) -> tuple[str, str]:
    """Return the latitude and the longitude that stand in one text, as they are written.

    Parameters
    ----------
    text : str
        For example ``35-18.7S 174-07.4E``, ``S 35 18.7' E 174 07.4'``, ``-35.3117, 174.1233``.

    Returns
    -------
    lat, lon : str
        For ``read_angle``.

    Raises
    ------
    ValueError
        When it is not plain where the one ends and the other begins.
    """
    given = text.strip()
    for pattern in (_COMMA, _LETTERS_AFTER, _LETTERS_BEFORE, _DECIMALS):
        found = pattern.fullmatch(given)
        if found:
            return found["lat"], found["lon"]
    raise ValueError(
        f"'{given}' is no position: latitude, then longitude. Write 35-18.7S 174-07.4E or -35.3117, 174.1233."
    )


def in_range(degrees: float, axis: Axis) -> float:
    """Return the angle with longitude brought into [-180, 180).

    Parameters
    ----------
    degrees : float
        Latitude -90..90 or longitude -180..360 [degree].
    axis : {'lat', 'lon'}
        Which of the two it is.

    Returns
    -------
    float
        [degree].

    Raises
    ------
    ValueError
        When it is out of range or no number.
    """
    lowest = -90.0 if axis == "lat" else -180.0
    if not math.isfinite(degrees):
        raise ValueError(f"{_WORDS[axis]} {degrees} is no position.")
    if not lowest <= degrees <= _LIMIT[axis]:
        hint = " Are latitude and longitude swapped?" if axis == "lat" and abs(degrees) <= 360.0 else ""
        raise ValueError(f"{_WORDS[axis]} {degrees:g} is outside {lowest:g} to {_LIMIT[axis]:g}.{hint}")
    return degrees - 360.0 if axis == "lon" and degrees >= 180.0 else degrees


def _numbers(bare: str, given: str, axis: Axis) -> list[float]:
    parts = [part for part in _MARKS.split(bare) if part]
    try:
        numbers = [float(part) for part in parts]
    except ValueError:
        numbers = []
    if not 1 <= len(numbers) <= 3:
        comma = " Write the decimals with a point." if "," in given else ""
        raise ValueError(f"'{given}' is no {_WORDS[axis]}. Write {_example(axis)}.{comma}")
    for name, number in zip(("minutes", "seconds"), numbers[1:], strict=False):
        if number >= 60.0:
            raise ValueError(f"'{given}' has {number:g} {name}; they end below 60. A slip of the pen, or decimals?")
    if any(number % 1.0 for number in numbers[:-1]):
        raise ValueError(f"'{given}' has decimals before its last part. Write {_example(axis)}.")
    return numbers


def _wrong_letter(given: str, letters: str, axis: Axis) -> str:
    allowed = " or ".join(_LETTERS[axis])
    other: Axis = "lon" if axis == "lat" else "lat"
    swapped = " Are latitude and longitude swapped?" if letters.upper() in _LETTERS[other] else ""
    return f"'{given}' has the hemisphere '{letters}'; {_WORDS[axis]} takes {allowed}.{swapped}"


def _example(axis: Axis) -> str:
    return "-35.3117 or 35-18.7S" if axis == "lat" else "174.1233 or 174-07.4E"
