"""Exact conversion factors; names say from and to."""

from __future__ import annotations

from typing import Final

M_PER_NM: Final = 1852.0  # metre per international nautical mile, exact (BIPM SI Brochure, 9th ed., table 8)
M_S_PER_KN: Final = 1852.0 / 3600.0  # metre per second per knot, exact by definition of the knot
SECONDS_PER_HOUR: Final = 3600.0  # s, exact
KELVIN_AT_ZERO_C: Final = 273.15  # K, exact (ITS-90)
