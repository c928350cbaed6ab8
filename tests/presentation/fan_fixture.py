"""A heading fan of invented figures: the planned heading, one nearer the wind, two gybes of one, one under engine."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from planner.domain.results.figures import Count, Spread
from planner.domain.results.note import Note
from planner.domain.results.studies import HeadingFan, HeadingOption, PanelShift


def flat(value: float) -> Spread:
    return Spread(planned=value, p10=value, p50=value, p90=value)


def option(turn_deg: float, tack: int, difference: Spread, *, driving_h: float = 0.0) -> HeadingOption:
    """Lost: a mile for ten degrees, of 18 that are made good in four hours; a minute of engine stores 14 Wh."""
    saved, lost = difference.p50 / 14.0, abs(turn_deg) / 10.0
    late = 240.0 * lost / 18.0
    return HeadingOption(
        turn_deg=turn_deg,
        heading_deg=(30.0 + turn_deg) % 360.0,
        heading_magnetic_deg=(10.0 + turn_deg) % 360.0,
        tack=tack,
        true_wind_angle_deg=100.0 - turn_deg,
        speed_kn=5.2,
        heel_deg=-8.0 * tack,
        boom_angle_deg=30.0,
        engine_driving_h=driving_h,
        drives_more_h=flat(driving_h),
        lit_fraction=0.9,
        solar_wh=flat(1000.0 + difference.planned),
        solar_difference_wh=difference,
        difference_wh=difference,
        kept_wh=difference,
        engine_min=flat(-saved),
        made_good_nm=flat(18.0 - lost),
        lost_nm=flat(lost),
        later_min=flat(late),
        gain_min=flat(saved - late),
        gains_in=21 if saved > late else 0,
        panels=(PanelShift("arch", 500.0, difference.planned, Note("as_before")),),
    )


def heading_fan_found(*, sun_elevation_deg: float = 39.0) -> HeadingFan:
    planned = option(0.0, 1, flat(0.0))
    coming_up = option(20.0, 1, Spread(planned=-120.0, p10=-150.0, p50=-118.0, p90=-90.0))
    gybes = (option(-60.0, 1, flat(30.0)), option(-60.0, -1, flat(25.0)))
    driven = option(75.0, 1, flat(40.0), driving_h=4.0)
    return HeadingFan(
        start=datetime(2027, 5, 10, 0, 0, tzinfo=UTC),
        hours=4.0,
        ship_offset=timedelta(hours=12),
        toward="Northing <&>",
        toward_bearing_deg=33.0,
        wind_from_deg=130.0,
        variation_deg=20.0,
        sun_azimuth_deg=(8.0, 310.0),
        sun_elevation_deg=sun_elevation_deg,
        changes_tack=False,
        options=(*gybes, planned, coming_up, driven),
        planned=planned,
        coming_up=coming_up,
        leg="Opua to Northing <&>",
        half_days=(),
        stored_per_engine_min_wh=14.0,
        members=Count(21, 21),
        own_tracks=True,
    )
