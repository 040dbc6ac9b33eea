"""The timetable, what-ifs, passes beside a line, and drifts done again, on water known by hand."""

import itertools
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from bank_water import BAND, END, LEEWAY, LIMITS, START, TO_DEGREES, bank, setting_of
from pyproj import Geod

from layers.planning import DayWater, SafeWater, Setting, plan_day, structure_worth
from layers.planning.day._slack import slack_periods
from layers.planning.day.beside import Beside
from layers.planning.day.repeat import Stage, next_times, repeat_drift, stage_of
from layers.planning.day.slots import slots_of_day
from layers.planning.day.timetable import TIMETABLE, legs_of, timetable
from layers.planning.what_if.days import what_if_days
from layers.planning.what_if.drifts import SCENARIOS, Scenario, what_if
from layers.water import CurrentTable, FixedCurrent, FixedWind, HighLowTable, OpenHours
from layers.water.times import as_utc
from seabed.errors import SeabedError

GEOD = Geod(ellps="WGS84")
HOME = TO_DEGREES.transform(500_200.0, 5_115_700.0)


@pytest.fixture(scope="module")
def planned():
    setting = setting_of(FixedCurrent(0.4, 90.0), wind=FixedWind(0.0, 0.0))
    worth = structure_worth(bank(), BAND, [])
    slots = slots_of_day(setting, worth, START, END)
    return setting, slots, plan_day(setting, worth, START, END, slots=slots, home=HOME)


def test_every_leg_begins_where_and_when_the_last_one_ended(planned):
    setting, _, plan = planned
    table = timetable(plan, setting, OpenHours.whole(START, END))
    legs = legs_of(table)
    assert legs["what"].tolist() == ["run", "drift"] * len(plan.passes) + ["run"]
    assert legs["plan_id"].iloc[-1] == ""
    drifts, runs = legs[legs["what"] == "drift"], legs[legs["what"] == "run"]
    assert len(drifts) == plan.lines["passes"].sum() == len(plan.passes)
    assert drifts["end"].max() <= pd.Timestamp(END, tz="UTC")
    first = drifts[drifts["pass_number"] == 1]
    assert first["start"].tolist() == plan.lines["slot_start"].tolist()
    # a drift begins a minute after the boat is there, to the second; runs begin as drifts end
    began, ended = (pd.DatetimeIndex(column) for column in (drifts["start"], runs["end"].iloc[:-1]))
    settling = (began - ended).total_seconds()
    assert ((settling >= 60.0) & (settling < 61.01)).all()
    assert (runs["start"].to_numpy()[1:] == drifts["end"].to_numpy()).all()
    places = legs.geometry.apply(lambda line: (line.coords[0], line.coords[-1]))
    assert places.iloc[0][0] == pytest.approx(HOME, abs=1e-9)
    for (_, end), (start, _) in itertools.pairwise(places):
        assert GEOD.inv(*end, *start)[2] < 0.01
    marks = plan.lines.set_index("plan_id").geometry
    for one in plan.passes.itertuples():  # the water is the same at all hours
        assert one.geometry.coords[0] == pytest.approx(marks[one.plan_id].coords[0], abs=1e-9)
    mean = plan.passes.groupby("plan_id")["worth"].mean()
    assert plan.lines.set_index("plan_id")["worth"].to_dict() == pytest.approx(mean.to_dict())
    # all of it is deep: the first run is the straight way, over 10 m/s
    metres = GEOD.inv(*HOME, *plan.lines.geometry.iloc[0].coords[0])[2]
    assert runs["distance_m"].iloc[0] == pytest.approx(metres, rel=0.02)
    assert (runs["caution"] == "").all()


def test_without_a_home_nothing_is_said_of_the_way_there():
    setting = setting_of(FixedCurrent(0.4, 90.0))
    plan = plan_day(setting, structure_worth(bank(), BAND, []), START, END)
    table = timetable(plan, setting, OpenHours.whole(START, END))
    assert table["what"].iloc[0] == "drift"
    first_run = table[table["what"] == "run"].iloc[0]
    assert (first_run["pass_number"], first_run["words"]) == (2, "Back up to P1")
    assert len(legs_of(table)) == 2 * len(plan.passes) - 1


def test_no_lines_give_a_timetable_with_its_columns():
    setting = setting_of(FixedCurrent(0.4, 90.0), held=(2.0, 3.0))  # beyond the motor's 0.5
    plan = plan_day(setting, structure_worth(bank(), BAND, []), START, END, home=HOME)
    assert [len(part) for part in (plan.lines, plan.passes, plan.runs)] == [0, 0, 0]
    table = timetable(plan, setting, OpenHours.whole(START, END))
    assert tuple(table.columns) == TIMETABLE.names
    assert not len(table)


def test_slack_water_without_a_line_gives_a_timetable():
    setting = setting_of(reversing(), held=(2.0, 3.0))  # beyond the motor's 0.5
    plan = plan_day(setting, structure_worth(bank(), BAND, []), START, END, home=HOME)
    table = timetable(plan, setting, OpenHours.whole(START, END))
    assert not len(plan.lines)
    assert list(table["what"]) == ["slack"]
    assert {str(table[name].dtype) for name in ("start", "end", "latest_start")} == {
        "datetime64[ns, UTC]"
    }


def reversing(hours=6):
    """Slack at 08:00 and 14:00 UTC, 0.5 m/s toward east at 11:00 as a quarter sine, then west."""
    times = as_utc(pd.to_datetime([f"2031-06-14T{h:02d}:00" for h in (2, 5, 8, 11, 14, 17, 20)]))
    along = np.array([0, -0.5, 0, 0.5, 0, -0.5, 0])
    return CurrentTable(times, along, along == 0, 90.0, 270.0)


def test_slack_is_given_to_the_minute():
    setting = setting_of(reversing())
    (begin, end), (second, _) = slack_periods(
        setting, START - np.timedelta64(1, "h"), START + np.timedelta64(7, "h"), HOME
    )
    # 0.2 kn of 0.5 m/s is an arcsine of 0.2058, 23.75 minutes of a quarter wave of three hours
    assert begin == pd.Timestamp("2031-06-14T07:37", tz="UTC")
    assert end == pd.Timestamp("2031-06-14T08:24", tz="UTC")
    assert second == pd.Timestamp("2031-06-14T13:37", tz="UTC")
    table = timetable(
        plan_day(setting, structure_worth(bank(), BAND, []), START, END), setting,
        OpenHours.whole(START, END),
    )  # fmt: skip
    slack = table[table["what"] == "slack"].iloc[0]
    assert slack["end"] == end
    assert "motor along P1 at the speed of a drift" in slack["words"]


def test_the_latest_start_is_before_the_water_turns():
    """Slack at 14:00; the line runs along all of the bank from three hours before."""
    setting = setting_of(reversing())
    start = np.datetime64("2031-06-14T11:00", "ns")
    plan = plan_day(
        setting, structure_worth(bank(), BAND, []), start, start + np.timedelta64(20, "m")
    )
    line = plan.lines.iloc[0]
    # 0.2 kn of 0.5 m/s, at the end of a quarter wave of three hours: slack from 13:37 on
    assert line.latest_start < pd.Timestamp("2031-06-14T13:37", tz="UTC")
    # it loses a third of its way over the ground, but the bank is under it from the first: the last
    # of every ten minutes counted from the last pass is within ten minutes of the slack
    assert line.latest_start > pd.Timestamp("2031-06-14T13:26", tz="UTC")


@pytest.mark.parametrize(
    ("scenario", "shift_m"),
    [
        (Scenario("stronger", current_times=1.3), 0.3 * 0.4),
        (Scenario("weaker", current_times=0.7), 0.3 * 0.4),
        (Scenario("late", late_s=3600.0), 0.0),  # the water is the same all day
        (Scenario("windy", wind_times=1.5), 0.0),  # half more of no wind
    ],
)
def test_a_line_ends_where_the_changed_water_takes_it(planned, scenario, shift_m):
    setting, slots, plan = planned
    lines = plan.lines
    told = what_if(lines, setting, slots, [scenario])
    assert told["plan_id"].tolist() == lines["plan_id"].tolist()
    assert told["end_shift_m"].to_numpy() == pytest.approx(
        shift_m * lines["drift_s"].to_numpy(), abs=0.5
    )
    assert told["held"].all()


def test_a_line_over_ground_too_shoal_by_then_is_stopped_at_once():
    """Five hours later 6.5 m of charted depth hold 0.9 m of water."""
    turns = START + np.array([0, 6], "timedelta64[h]")
    falling = HighLowTable(turns, np.array([0.0, -6.0]), np.array([True, False]))
    setting = setting_of(FixedCurrent(0.4, 90.0))
    setting = replace(setting, safe=SafeWater.of(bank(), falling))
    worth = structure_worth(bank(), BAND, [])
    slots = slots_of_day(setting, worth, START, START + np.timedelta64(15, "m"), spacing_m=200.0)
    lines = plan_day(setting, worth, START, END, slots=slots).lines
    late = what_if(lines, setting, slots, [Scenario("five hours late", late_s=5 * 3600.0)])
    assert late["words"].tolist() == ["runs into water too shallow"]
    assert late[["drift_s", "worth", "push_mps"]].to_numpy().tolist() == [[0.0, 0.0, 0.0]]
    assert not late["works"].any()


def test_wind_that_turns_takes_the_end_with_it():
    setting = setting_of(FixedCurrent(0.4, 90.0), wind=FixedWind(5.0, 270.0))
    worth = structure_worth(bank(), BAND, [])
    slots = slots_of_day(setting, worth, START, END)
    plan = plan_day(setting, worth, START, END, slots=slots).lines
    told = what_if(plan, setting, slots, [Scenario("veers", wind_shift_deg=45.0)])
    # leeway of 3 % of 5 m/s, turned by 45 degrees: a chord of 2 x 0.15 x sin 22.5
    chord = 2 * 0.15 * np.sin(np.radians(22.5)) * plan["drift_s"].to_numpy()
    assert told["end_shift_m"].to_numpy() == pytest.approx(chord, rel=0.01)


def test_the_scenarios_turn_the_wind_and_change_speeds_as_their_names_say():
    water = DayWater(FixedCurrent(0.4, 90.0), LEEWAY, FixedWind(6.0, 270.0))
    winds, speeds = {}, {}
    for one in SCENARIOS:
        other = one.applied_to(water)
        winds[one.name] = tuple(float(part[0]) for part in other.wind.at(as_utc([START])))
        speeds[one.name] = float(other.currents.velocity(np.array([START]))[0][0])
    as_planned = dict.fromkeys(winds, (6.0, 270.0))
    assert winds == as_planned | {
        "wind backs 45 degrees": (6.0, 225.0), "wind veers 45 degrees": (6.0, 315.0),
        "wind freshens by half": (9.0, 270.0),
    }  # fmt: skip
    assert speeds == pytest.approx(
        dict.fromkeys(speeds, 0.4) | {"current 30 % stronger": 0.52, "current 30 % weaker": 0.28}
    )


@pytest.mark.parametrize(
    ("correct_every_s", "ahead_s", "aside_s"),
    [(240.0, 240.0, 0.0), (np.inf, np.inf, np.inf)],
)
def test_a_printed_trim_is_corrected_as_a_hand_can(correct_every_s, ahead_s, aside_s):
    """Half as much wind again, 3 % of 2.5 m/s, abeam and from astern.

    Along the line the hand keeps the plan's speed from the first look on, and stays ahead by what
    was gained until then; square to it the boat is back on the line at the second look.  A trim
    that is never corrected is set off for the whole drift.
    """
    for from_deg, seconds in ((270.0, ahead_s), (0.0, aside_s)):
        water = DayWater(
            FixedCurrent(0.4, 90.0), LEEWAY, FixedWind(5.0, from_deg), held_mps=(0.2, 0.6),
            correct_every_s=correct_every_s,
        )  # fmt: skip
        setting = Setting(SafeWater.of(bank()), water, BAND, LIMITS)
        worth = structure_worth(bank(), BAND, [])
        slots = slots_of_day(setting, worth, START, END)
        lines = plan_day(setting, worth, START, END, slots=slots).lines
        told = what_if(lines, setting, slots, [Scenario("freshens", wind_times=1.5)])
        drift_s = lines["drift_s"].to_numpy()
        assert (drift_s > 490.0).all()
        assert told["end_shift_m"].to_numpy() == pytest.approx(
            0.075 * np.minimum(drift_s, seconds), abs=0.1
        )


def test_a_motor_too_weak_for_more_wind_does_not_hold():
    setting = setting_of(FixedCurrent(0.3, 90.0), wind=FixedWind(14.0, 180.0), held=(0.2, 0.4))
    worth = structure_worth(bank(), BAND, [])
    slots = slots_of_day(setting, worth, START, END)
    plan = plan_day(setting, worth, START, END, slots=slots).lines
    freshens = Scenario("freshens", wind_times=1.5)
    told = what_if(plan, setting, slots, [freshens])
    # across the water, 3 % of 14 m/s is 0.42, within the motor's 0.5; of 21 m/s 0.63 is not
    assert not told["held"].any()
    assert not told["works"].any()
    day = what_if_days(plan, told, setting, slots, [freshens]).iloc[0]
    assert day["lines_kept"] == ""
    assert day["worth_replanned"] == 0.0


def test_passes_beside_a_line_lie_square_to_it_at_the_spacing(planned):
    setting, slots, plain = planned
    worth = structure_worth(bank(), BAND, [])
    plan = plan_day(setting, worth, START, END, slots=slots, beside=Beside("p1", 25.0, 2))
    ways = ["P1", "P1 L1", "P1 R1", "P1 L2"]  # the slot holds four passes
    assert plan.lines["plan_id"].tolist()[:4] == plan.passes["plan_id"].tolist()[:4] == ways
    assert plain.lines["passes"].iloc[0] == 4
    line = plan.lines.geometry.iloc[0]
    for place, apart in ((1, 25.0), (2, 25.0), (3, 50.0)):
        beside = plan.lines.geometry.iloc[place]
        azimuth, _, metres = GEOD.inv(*line.coords[0][:2], *beside.coords[0][:2])
        assert metres == pytest.approx(apart, abs=0.01)
        side = (azimuth - plan.lines["bearing_deg"].iloc[0]) % 360
        assert side == pytest.approx(270.0 if place in (1, 3) else 90.0, abs=0.01)
        # the water is the same everywhere: it stays as far beside all the way
        assert GEOD.inv(*line.coords[-1][:2], *beside.coords[-1][:2])[2] == pytest.approx(
            apart, abs=0.05
        )
    with pytest.raises(SeabedError, match="no line 'P9' in this plan"):
        plan_day(setting, worth, START, END, slots=slots, beside=Beside("P9"))
    with pytest.raises(SeabedError, match=r"0\.5 m apart are one"):
        Beside("P1", 0.5)


def test_the_same_stage_comes_a_tide_later():
    setting = setting_of(reversing())
    like = stage_of(setting, np.datetime64("2031-06-14T04:00", "ns"), HOME)
    assert like.toward_deg == pytest.approx(270.0)
    assert like.current_mps == pytest.approx(0.5 * np.sin(np.pi / 2 * 2 / 3))
    times = next_times(setting, like, HOME, START, START + np.timedelta64(12, "h"))
    # ebbing at that speed twice from 14:00 to 20:00: one occasion, since between them the stream
    # is within 1.3 times; the most like is at 16:00 or 18:00
    assert len(times) == 1
    assert times["start"].iloc[0] in (
        pd.Timestamp("2031-06-14T16:00", tz="UTC"), pd.Timestamp("2031-06-14T18:00", tz="UTC"),
    )  # fmt: skip
    assert times["unlike"].iloc[0] == pytest.approx(0.0, abs=1e-6)
    # the tide is unknown here: the hours from high water say nothing, the stream still does
    of_high = replace(like, hours_from_high=2.0)
    again = next_times(setting, of_high, HOME, START, START + np.timedelta64(12, "h"))
    assert again["start"].tolist() == times["start"].tolist()
    middle, rim = (TO_DEGREES.transform(x, 5_115_000.0) for x in (501_000.0, 500_060.0))
    line = repeat_drift(setting, middle, times["start"].iloc[0], 600.0, name="A1")
    assert (line["kind"], line["plan_id"], line["drift_s"]) == ("again", "A1", 600.0)
    # west, as it ran then, at 0.5 sin(60 degrees) m/s, which changes by 2 % in ten minutes
    assert line["distance_m"] == pytest.approx(600 * like.current_mps, rel=0.05)
    assert line["bearing_deg"] == pytest.approx(270.0, abs=0.1)
    assert repeat_drift(setting, rim, times["start"].iloc[0], 600.0, name="A2") is None
    nowhere = Stage(180.0, 0.4, np.nan, np.nan)
    assert not len(next_times(setting, nowhere, HOME, START, START + np.timedelta64(12, "h")))
