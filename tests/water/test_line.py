"""Line and lead: against an integration of the cable's own equations, and limits known by hand."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from layers.water.line.cable import DENSITIES, Tackle, profile, shape_of, wire_drag
from layers.water.line.lead import (
    CurrentSeen,
    LineSeen,
    current_of,
    fastest_mps,
    least_lead_kg,
    parse_line,
)
from seabed.errors import WaterError

OUNCE, KNOT, FEET_25 = 0.028349523125, 0.514444, 7.62
BARE = Tackle(rig_area_m2=0.0)


def by_arc_length(lead, depth, surface, boat, tackle):
    """Tension and angle of a cable in a plane by its length (Berteaux 1976, chapter 4):
    dT/ds = w cos a + Ft, T da/ds = Fn - w sin a.  scipy's adaptive solver, from the lead up.
    """
    d, weight = tackle.diameter_m, lead * 9.81 * (1 - 1025 / 11340)
    own = (970 - 1025) * 9.81 * np.pi * d * d / 4
    radius = (3 * lead / 4 / np.pi / 11340) ** (1 / 3)

    def past(z):
        return surface * min((max(z, 0.0) / depth / 0.32) ** (1 / 7) / 1.07, 1.0) - boat

    flow = past(radius)
    pull = 512.5 * (0.47 * np.pi * radius**2 + 1.1 * tackle.rig_area_m2) * flow * abs(flow)

    def slope(_s, state):
        tension, angle, z = state
        across, along = past(z) * np.cos(angle), past(z) * np.sin(angle)
        coefficient = 512.5 * d * (1 + 10 * max(abs(across) * d / 1.2e-6, 1e-3) ** (-2 / 3))
        normal = coefficient * across * abs(across)
        tangent = 0.02 * coefficient * along * abs(along)
        return [
            own * np.cos(angle) + tangent,
            (normal - own * np.sin(angle)) / tension,
            np.cos(angle),
        ]

    def at_surface(_s, state):
        return state[2] - depth

    at_surface.terminal = True
    start = [np.hypot(weight, pull), np.arctan2(pull, weight), 0.0]
    path = solve_ivp(
        slope, (0, 20 * depth), start, events=at_surface, rtol=1e-8, max_step=depth / 100
    )
    return np.degrees(path.y[1, -1]), path.t[-1]


@pytest.mark.parametrize(
    ("lead", "surface", "boat"), [(1, 0.3, 0), (1, 0.5, 0), (1.5, 0.2, 0.5), (3, 0.5, 0.1)]
)
def test_shape_by_another_integration(lead, surface, boat):
    """Within 0.01 degrees and a centimetre; a boat faster than the water has its line astern."""
    shape = shape_of(lead * OUNCE, FEET_25, (0.0, surface), (0.0, boat))
    angle, length = by_arc_length(lead * OUNCE, FEET_25, surface, boat, Tackle())
    sign = 1 if float(shape.toward_deg) == 0.0 else -1
    assert sign * float(shape.angle_deg) == pytest.approx(angle, abs=0.01)
    assert float(shape.length_m) == pytest.approx(length, abs=0.01)


def test_a_line_without_drag_hangs_by_drag_over_weight():
    """A thread of next to nothing: tan(angle) is the drag of the lead over its weight in water."""
    thread = Tackle(diameter_m=1e-13, rig_area_m2=0.0)
    lead, speed = 0.05, 1.0
    radius = (3 * lead / 4 / np.pi / 11340) ** (1 / 3)
    flow = speed * float(profile(radius / 10.0))
    drag = 0.5 * 1025 * 0.47 * np.pi * radius**2 * flow**2
    angle = np.degrees(np.arctan(drag / (lead * 9.81 * (1 - 1025 / 11340))))
    assert float(shape_of(lead, 10.0, (0.0, speed), tackle=thread).angle_deg) == pytest.approx(
        angle, rel=1e-3
    )


def test_no_current_hangs_straight_and_a_gale_of_water_gives_no_figure():
    still = shape_of(OUNCE, FEET_25, (0.0, 0.0))
    assert float(still.angle_deg) == 0.0
    assert np.isnan(still.toward_deg)
    assert np.isnan(shape_of(OUNCE, FEET_25, (0.0, 2.0)).angle_deg)


def test_profile_and_drag_have_their_published_figures():
    """Soulsby (1997), equation 28: mean speed at 0.32 of the depth, 1.07 of it from half way up;
    its mean over the depth is the mean speed within 1 %.  White (1991): 1.46 at Re 100.
    """
    z = (np.arange(100_000) + 0.5) / 100_000
    assert (profile(z) * 1.07).mean() == pytest.approx(1.0, abs=0.01)
    assert float(profile(0.32)) * 1.07 == pytest.approx(1.0, rel=1e-6)
    assert float(wire_drag(100 * 1.2e-6 / 1e-3, 1e-3)) == pytest.approx(1.464, abs=0.001)


@pytest.mark.parametrize(("material", "least", "most"), [
    ("braid", 930, 980), ("mono", 1120, 1150), ("fluorocarbon", 1750, 1800),
])  # fmt: skip
def test_materials_have_the_densities_of_handbooks(material, least, most):
    """Polyethylene of high molecular weight, nylons 6 and 66, PVDF; kg/m3, from memory."""
    assert least <= DENSITIES[material] <= most


def test_least_lead_and_fastest_water_are_two_views_of_one_shape():
    """Ounces near 25 ft: one to 0.6 kn, two to 0.9 kn at 30 degrees.  An ounce to one and a half
    with a slight angle is common practice there, no source.
    """
    speeds = fastest_mps([OUNCE, 1.5 * OUNCE, 2 * OUNCE], FEET_25, angle_deg=30, tackle=Tackle())
    assert (speeds / KNOT).round(1).tolist() == [0.6, 0.8, 0.9]
    back = least_lead_kg(
        np.full(3, FEET_25), (np.zeros(3), speeds), (0.0, 0.0), angle_deg=30, tackle=Tackle()
    )
    assert back / OUNCE == pytest.approx([1.0, 1.5, 2.0], rel=0.02)
    beyond = least_lead_kg([1.0, 80.0, 10.0], (0.0, [0.3, 0.3, np.nan]), (0.0, 0.0),
                           angle_deg=30, tackle=Tackle())  # fmt: skip
    assert np.isnan(beyond).all()


def test_an_angle_gives_back_the_current_that_made_it():
    """And the interval holds it when drag, rig and eye are off by a standard deviation each."""
    for speed in (0.2, 0.4, 0.7):
        angle = float(shape_of(0.06, 9.0, (0.0, speed)).angle_deg)
        seen = current_of(LineSeen(angle, 90.0, 0.06, 9.0), Tackle())
        assert seen.speed_mps == pytest.approx(speed, abs=0.005)
        assert seen.interval[0] < speed < seen.interval[1]
        off = float(shape_of(0.06, 9.0, (0.0, speed), drag=1.2).angle_deg)
        wrong = current_of(LineSeen(off, 90.0, 0.06, 9.0), Tackle())
        assert wrong.interval[0] < speed < wrong.interval[1]
    assert isinstance(seen, CurrentSeen)
    assert current_of(LineSeen(0.0, 90.0, 0.06, 9.0), Tackle()).speed_mps == 0.0


@pytest.mark.parametrize(("lead", "depth"), [(0.002, 9.0), (2.0, 9.0), (0.06, 1.5), (0.06, 60.0)])
def test_a_line_counts_up_to_the_bounds_themselves(lead, depth):
    assert current_of(LineSeen(0.0, 90.0, lead, depth), Tackle()).speed_mps == 0.0


def test_the_doubt_of_a_line_is_that_of_its_four_parts():
    """Half of what the speed moves by over a standard deviation either way, each on a fine ladder.

    Standard deviations as the docs name them: 4 degrees, a fifth of the drag, half of the rig's
    area, a twentieth of the depth; independent, so that their squares add up.
    """
    line, ladder = LineSeen(30.0, 90.0, 0.06, 9.0), np.linspace(0.05, 1.2, 1200)

    def speed(angle=30.0, drag=1.0, rig=1.0, deep=1.0):
        gear = Tackle(rig_area_m2=Tackle().rig_area_m2 * rig)
        angles = shape_of(0.06, 9.0 * deep, (0.0, ladder), tackle=gear, drag=drag).angle_deg
        known = np.isfinite(angles)
        return np.interp(angle, angles[known], ladder[known])

    halves = [
        (speed(angle=34.0) - speed(angle=26.0)) / 2,
        (speed(drag=1.2) - speed(drag=0.8)) / 2,
        (speed(rig=1.5) - speed(rig=0.5)) / 2,
        (speed(deep=1.05) - speed(deep=0.95)) / 2,
    ]
    seen = current_of(line, Tackle())
    assert seen.speed_sd_mps == pytest.approx(np.sqrt(np.square(halves).sum()), rel=0.005)
    # eight of ten cases of a normal: 1.2816 to either side, and no speed below none
    assert seen.interval == pytest.approx(
        (seen.speed_mps - 1.2816 * seen.speed_sd_mps, seen.speed_mps + 1.2816 * seen.speed_sd_mps)
    )


@pytest.mark.parametrize(
    ("words", "what"),
    [
        ("30 deg, 1.5 oz", "can't read the line"),
        ("30 deg toward 400, 1.5 oz, 25 ft", "can't read the line"),
        ("30 deg toward 160, 1.5 ft, 25 ft", "can't read the line"),
        ("89 deg toward 160, 1.5 oz, 25 ft", "does not show the current"),
        ("30 deg toward 160, 900 lb, 25 ft", "can't be right"),
        ("30 deg toward 160, 1.5 oz, 900 ft", "in water of 274.3 m"),
        ("30 deg toward 160, 1.5 oz, 1 in", "in water of 0.0 m"),
    ],
)
def test_words_that_can_not_be_right_say_so(words, what):
    with pytest.raises(WaterError, match=what):
        current_of(parse_line(words), Tackle())
