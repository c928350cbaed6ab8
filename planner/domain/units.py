"""Exact conversion factors, whose names say from and to, and the constant that readers and physics share."""

from __future__ import annotations

from typing import Final

M_PER_NM: Final = 1852.0  # metre per international nautical mile, exact (BIPM SI Brochure, 9th ed., table 8)
M_S_PER_KN: Final = 1852.0 / 3600.0  # metre per second per knot, exact by definition of the knot
SECONDS_PER_HOUR: Final = 3600.0  # s, exact
KELVIN_AT_ZERO_C: Final = 273.15  # K, exact (ITS-90)
SOLAR_CONSTANT_W_M2: Final = 1361.0  # W/m2, Kopp and Lean 2011, doi:10.1029/2010GL045777
