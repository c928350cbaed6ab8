"""A fan of headings: nothing changes by itself, geometry decides, and the planned heading differs by nothing."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import astuple, replace
from itertools import pairwise

import numpy as np
import pytest
from study_case import demo_courses, demo_inputs, demo_plan, quietly

from planner.domain.inputs.given import Inputs
from planner.domain.inputs.sailing import AngleTable, WindTable
from planner.domain.results.figures import Count
from planner.domain.results.studies import HeadingFan
from planner.domain.voyage import Course
from planner.flow.plan import plan_from
from planner.simulation.harvest.collect import plane_light
from planner.simulation.harvest.scene import cast
from planner.studies.boats import without_boom
from planner.studies.causes import LightParts, cause
from planner.studies.headings.fan import half_days, headings_fan, some_of, sunniest_watch
from planner.studies.headings.held import HeldSpan
from planner.studies.wiring import without_panels

HOUR = 6  # steps


def fan(hour: int, hours: int = 2, step_deg: float = 30.0) -> HeadingFan:
    return headings_fan(demo_plan(), first=hour * HOUR, end=(hour + hours) * HOUR, step_deg=step_deg)


def bare_inputs() -> Inputs:
    """The demo without sails, spars or gear, level and steered by hand, with its two arch panels."""
    inputs = demo_inputs()
    boat = inputs.boat
    boat = without_panels(boat, [panel.name for panel in boat.panel[2:]])
    flat = WindTable(wind_kn=(0.0,), value=(0.0,))
    still = AngleTable(angle_deg=(0.0,), value=(0.0,))
    sailing = boat.sailing.model_copy(
        update={"hoist": flat, "headsail_set": flat, "heel_deg": flat, "roll_amplitude_deg": still}
    )
    autopilot = boat.autopilot.model_copy(update={"steering": "hand"})
    rig = without_boom(boat.rig).model_copy(
        update={"mast_radius_m": 1e-6, "sprayhood": None, "bimini": None, "arch": None, "tubes": (), "radomes": ()}
    )
    return replace(inputs, boat=boat.model_copy(update={"rig": rig, "sailing": sailing, "autopilot": autopilot}))


def own_fan(hour: int, own: Mapping[int, Course]) -> HeadingFan:
    return headings_fan(demo_plan(), first=hour * HOUR, end=(hour + 1) * HOUR, step_deg=60.0, own=own)


def test_the_planned_heading_differs_by_exactly_nothing() -> None:
    for found in (fan(26), own_fan(26, demo_courses())):
        here = found.planned
        for spread in (
            here.difference_wh,
            here.kept_wh,
            here.engine_min,
            here.lost_nm,
            here.later_min,
            here.gain_min,
        ):
            assert (spread.planned, spread.p10, spread.p50, spread.p90) == (0.0, 0.0, 0.0, 0.0)


def test_as_planned_each_member_brings_what_its_own_course_brings() -> None:
    own, span = demo_courses(), slice(26 * HOUR, 28 * HOUR)
    hours = HeldSpan(demo_plan(), span.start, span.stop, own)
    assert hours.members == len(own)
    brought = hours.planned.solar_wh[:-1].sum(axis=1)
    offered = [course.harvest["controller_power_w"].values[0, span].sum() / HOUR for course in own.values()]
    assert brought == pytest.approx(offered, rel=5e-3)  # what the rig leaves of the sky is read off other steps
    assert np.ptp(brought) > 0.0


def test_members_that_sail_the_controls_track_as_their_own_find_what_they_find_on_it() -> None:
    """The charge with which their hours begin is another, so the bank is left out.

    What the rig leaves of the sky is read off other steps: half a watt-hour of some six hundred.
    """
    course, each = demo_plan().voyage.course, demo_courses()
    alike = {
        member: Course(course.track, course.harvest.isel(member=[member]), course.demand.isel(member=[member]))
        for member in each
    }
    for shared, own in zip(own_fan(26, {}).options, own_fan(26, alike).options, strict=True):
        for name in ("solar_wh", "difference_wh", "lost_nm", "later_min", "drives_more_h"):
            one, other = (astuple(getattr(option, name)) for option in (shared, own))
            assert one == pytest.approx(other, abs=0.5), name


def test_winds_of_their_own_widen_what_a_heading_brings() -> None:
    """On the first evening all have sailed one wind for ten hours; on the third day they have parted."""
    shared, own = (own_fan(50, courses) for courses in ({}, demo_courses()))
    assert (shared.own_tracks, own.own_tracks) == (False, True)
    turned = [next(option for option in found.options if option.turn_deg == -60.0) for found in (shared, own)]
    spans = [option.gain_min.p90 - option.gain_min.p10 for option in turned]
    assert spans[1] > spans[0]
    assert turned[0].difference_wh.planned == turned[1].difference_wh.planned


def test_members_that_have_arrived_are_left_out() -> None:
    own = demo_courses()
    there = Course(own[0].track.isel(time=slice(0, 27 * HOUR - 1)), own[0].harvest, own[0].demand)
    found = own_fan(26, {0: there, 3: own[3], 7: own[7]})
    assert found.members == Count(2, len(own))
    assert own_fan(26, {0: there}).own_tracks is False


def test_more_members_than_wanted_are_thinned_evenly() -> None:
    courses = tuple(demo_courses().values())
    assert list(some_of(courses)) == list(range(0, len(courses), 2))
    assert list(some_of(courses[:11])) == list(range(11))
    assert some_of(()) == {}


def test_turning_boat_and_sun_together_changes_nothing() -> None:
    plan = demo_plan()
    track = plan.track.isel(time=slice(140, 160))
    azimuth, elevation = (plan.harvest[f"sun_{name}_deg"].values[140:160] for name in ("azimuth", "elevation"))
    turned = track.assign(heading_deg=(track["heading_deg"] + 77.0) % 360.0)
    there, here = (
        cast(each, sun, elevation, rig=plan.boat.rig, panels=plan.boat.panel, points=4, roll_nodes=1)
        for each, sun in ((turned, (azimuth + 77.0) % 360.0), (track, azimuth))
    )
    np.testing.assert_allclose(there.cos_incidence, here.cos_incidence, atol=1e-12)
    np.testing.assert_allclose(there.sky_view, here.sky_view, atol=1e-12)
    # a sample on the very edge of a shadow may fall to either side
    assert np.mean(np.abs(there.cell_lit - here.cell_lit) > 1e-9) < 0.01


def light_by_heading(inputs: Inputs, headings: range) -> dict[int, float]:
    """Light on all panels over an hour of the morning, by heading [Wh/m2]; cells' warmth is left out."""
    hours = HeldSpan(plan_from(inputs, progress=quietly), 23 * HOUR, 24 * HOUR, {})
    steps = hours.track.sizes["time"]
    found = {}
    for heading in headings:
        held = hours.on_tracks([hours.control.steered(np.full(steps, float(heading)), np.ones(steps))])
        found[heading] = float(plane_light(held.track, hours.control.sky, held.shading).poa.mean(axis=0).sum()) / HOUR
    return found


def morning_sun_deg() -> float:
    return float(demo_plan().harvest["sun_azimuth_deg"].values[23 * HOUR : 24 * HOUR].mean())


def test_level_and_bare_no_heading_matters() -> None:
    light = light_by_heading(bare_inputs(), range(0, 360, 45))
    # the forestay is left standing; its shadow lies aft when the sun is ahead
    sun = morning_sun_deg()
    others = [value for heading, value in light.items() if abs((sun - heading + 180.0) % 360.0 - 180.0) > 30.0]
    assert len(others) >= 6
    assert others == pytest.approx([others[0]] * len(others), rel=1e-9)


def test_bare_and_tilted_the_best_heading_turns_the_face_to_the_sun() -> None:
    inputs = bare_inputs()
    boat = without_panels(inputs.boat, ["arch starboard"])
    tilted = boat.panel[0].model_copy(update={"tilt_deg": 40.0, "tilt_toward_deg": 90.0})
    light = light_by_heading(replace(inputs, boat=boat.model_copy(update={"panel": (tilted,)})), range(0, 360, 10))
    sun = morning_sun_deg()
    best = max(light, key=lambda heading: light[heading])
    assert abs((sun - best - 90.0 + 180.0) % 360.0 - 180.0) <= 10.0


def test_coming_up_is_twenty_degrees_nearer_the_wind() -> None:
    found = fan(26)
    assert found.coming_up is not None
    nearer = abs(found.planned.true_wind_angle_deg) - abs(found.coming_up.true_wind_angle_deg)
    assert nearer == pytest.approx(20.0, abs=0.01)
    assert found.coming_up.tack == found.planned.tack


def test_every_option_makes_ground_and_lost_miles_add_up() -> None:
    found = fan(26)
    for option in found.options:
        assert option.made_good_nm.planned > 0.0
        assert option.made_good_nm.planned + option.lost_nm.planned == pytest.approx(
            found.planned.made_good_nm.planned
        )
        late = 60.0 * found.hours * option.lost_nm.planned / found.planned.made_good_nm.planned
        assert option.later_min.planned == pytest.approx(late)
        assert option.gain_min.planned == pytest.approx(-option.engine_min.planned - late)


def test_by_night_no_heading_brings_sun() -> None:
    for option in fan(12).options:
        assert option.solar_wh.planned == 0.0
        assert all(shift.cause.code == "as_before" for shift in option.panels)


def test_half_days_follow_each_other_and_part_at_noon() -> None:
    plan = demo_plan()
    halves = half_days(plan, int(plan.track["leg"].values[26 * HOUR]))
    assert halves
    for before, after in pairwise(halves):
        assert before.end <= after.start
        if before.before_noon and not after.before_noon:
            assert before.end == after.start
    for half in halves:
        difference = half.starboard_wh.planned - half.port_wh.planned
        assert half.advantage_wh.planned == pytest.approx(difference, abs=1e-6)


def test_one_sky_is_read_for_plan_and_fan(monkeypatch: pytest.MonkeyPatch) -> None:
    from planner.simulation.sky import weather

    read = []
    own = weather.sky_along
    monkeypatch.setattr(weather, "sky_along", lambda *given, **named: (read.append(1), own(*given, **named))[1])
    plan = plan_from(on_control(demo_inputs()), progress=quietly)
    headings_fan(plan, first=26 * HOUR, end=27 * HOUR, step_deg=30.0)
    assert len(read) == 1


def on_control(inputs: Inputs) -> Inputs:
    """Sail all members on the control's track."""
    model = inputs.passage.model.model_copy(update={"tracks": "control"})
    return replace(inputs, passage=inputs.passage.model_copy(update={"model": model}))


def parts(*, aspect: float = 100.0, sky: float = 50.0, heel: float = 0.0, **lost: float) -> LightParts:
    taken = {name: np.array([lost.get(name, 0.0)]) for name in ("gear", "mainsail", "headsail", "boom")}
    return LightParts(np.array([aspect]), sum(taken.values()), taken, np.array([sky]), heel)


@pytest.mark.parametrize(
    ("now", "planned", "difference", "code"),
    [
        (parts(mainsail=30.0), parts(), -30.0, "in_mainsail"),
        (parts(), parts(headsail=30.0), 30.0, "out_of_headsail"),
        (parts(boom=30.0, aspect=90.0), parts(), -40.0, "under_boom"),
        (parts(aspect=80.0, heel=10.0), parts(), -20.0, "heel_away"),
        (parts(aspect=120.0, heel=-10.0), parts(heel=10.0), 20.0, "heel_toward"),
        (parts(aspect=120.0), parts(), 20.0, "sun_more"),
        (parts(sky=30.0), parts(), -20.0, "sky_less"),
        (parts(), parts(), -20.0, "partner_loses"),
        (parts(mainsail=30.0), parts(), -0.5, "as_before"),
    ],
)
def test_causes_name_what_changed_most(now: LightParts, planned: LightParts, difference: float, code: str) -> None:
    assert cause(0, now, planned, difference_wh=difference, planned_wh=100.0).code == code


def test_the_sunniest_watch_is_the_brightest_of_the_first_two_days_that_is_sailed() -> None:
    plan = demo_plan()
    hours = sunniest_watch(plan)
    assert hours is not None
    step = plan.track["time"].values[1] - plan.track["time"].values[0]
    watches = [watch for watch in plan.watches if watch.day <= 2]
    best = max(watches, key=lambda watch: watch.solar_wh.planned)
    times = plan.track["time"].values
    assert times[hours[0]] == np.datetime64(best.start.replace(tzinfo=None))
    assert times[hours[1] - 1] + step == np.datetime64(best.end.replace(tzinfo=None))
    dark = [replace(watch, solar_wh=replace(watch.solar_wh, planned=0.0)) for watch in plan.watches]
    assert sunniest_watch(replace(plan, watches=tuple(dark))) is None


def test_at_anchor_no_watch_is_tried() -> None:
    plan = demo_plan()
    still = plan.track.assign(speed_over_ground_kn=plan.track["speed_over_ground_kn"] * 0.0)
    assert sunniest_watch(replace(plan, voyage=replace(plan.voyage, track=still))) is None
