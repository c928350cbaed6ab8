"""Moments in UTC, between datetime, numpy and text."""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np


def to_numpy(moment: datetime) -> np.datetime64:
    """Return a moment that carries its offset as numpy has it: UTC, to the nanosecond."""
    return np.datetime64(moment.astimezone(UTC).replace(tzinfo=None), "ns")


def from_numpy(moment: np.datetime64) -> datetime:
    """Return a numpy moment, taken as UTC, to the microsecond."""
    naive: datetime = moment.astype("datetime64[us]").item()
    return naive.replace(tzinfo=UTC)


def iso_8601(moment: datetime) -> str:
    """Return a moment that carries its offset as ISO 8601 in UTC, ending in Z."""
    return moment.astimezone(UTC).isoformat().replace("+00:00", "Z")
