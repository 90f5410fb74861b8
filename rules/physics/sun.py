"""Daylight, darkness, how warm the air is and what a solar panel brings in; the sun's position comes from pvlib."""

from functools import lru_cache

import numpy as np
import numpy.typing as npt
import pandas as pd
from pvlib import spa

from rules.physics.quantity import Floats, Numbers, quantity

Times = npt.ArrayLike
Instants = npt.NDArray[np.datetime64]

SUNSET_DEG = -0.8333
"""Elevation of the sun's centre at sunrise and sunset, refraction included. NREL/TP-560-34302."""
LOSS_SHARE = 0.1408
"""Soil, shade, mismatch, wiring, contacts and ageing of a fixed panel. NREL/TP-6A20-62641, defaults."""
SKY_FACTOR = 0.55
"""Share of clear-sky energy that clouds let through, for planning: the mean month of a cloudy coast (0.46 to
0.62 over the year, ASHRAE typical year at 52 N). Sunny inland places reach 0.8; a day of rain 0.1."""

WARMEST_AFTER_NOON_H, NIGHT_H = 1.5, 4.0

_STEP_MIN = 10.0
_DELTA_T_S = 67.0
_REFRACTION_DEG = 0.5667
_APPARENT_ELEVATION, _ELEVATION, _AZIMUTH = 2, 3, 4


def _instants(times_utc: Times) -> Instants:
    given = np.asarray(times_utc)
    if given.dtype.kind != "M":
        stamps = pd.to_datetime(given.ravel().tolist(), utc=True, format="ISO8601").tz_localize(None)
        given = stamps.to_numpy().reshape(given.shape)
    return given.astype("datetime64[ns]")


def _unix_s(times_utc: Times) -> Floats:
    instants = _instants(times_utc)
    return np.where(np.isnat(instants), np.nan, instants.astype(np.int64) / 1e9)


def _place(lat: Numbers, lon: Numbers) -> tuple[Floats, Floats]:
    return quantity(lat, "lat", -90, 90), quantity(lon, "lon", -180, 180)


def elevation_deg(
    unix_s: Floats,
    lat: Floats,
    lon: Floats,
    altitude_m: float = 0.0,
    pressure_mbar: float = 1013.25,
    air_c: float = 12.0,
) -> tuple[Floats, Floats]:
    """Elevation of the sun's centre in degrees, and the same as it appears, refraction included; arguments broadcast.

    Parameters
    ----------
    unix_s : seconds since 1970-01-01T00:00 UTC
    lat, lon : degrees, north and east positive
    altitude_m, pressure_mbar, air_c : of the place; they matter below 0.01 degree except at the horizon

    Source: NREL/TP-560-34302 (solar position algorithm), through pvlib.spa. Good to 0.0003 degree.
    """
    at, north, east = np.broadcast_arrays(unix_s, lat, lon)
    rows = spa.solar_position(
        at.ravel(), north.ravel(), east.ravel(), altitude_m, pressure_mbar, air_c, _DELTA_T_S, _REFRACTION_DEG
    )
    return rows[_ELEVATION].reshape(at.shape)[()], rows[_APPARENT_ELEVATION].reshape(at.shape)[()]


def sunrise_and_sunset_utc(lat: Numbers, lon: Numbers, day: Times) -> tuple[Instants, Instants]:
    """Instants of sunrise and sunset in UTC (datetime64) on the local date `day`; NaT where the sun does not rise or set.

    Level horizon at sea level. A hill or a valley moves it by many minutes. Within 5 degrees of the date line they may
    be those of the day before or after.

    Parameters
    ----------
    lat, lon : degrees, north and east positive
    day : date at the place, ISO 8601 text or datetime64; broadcast with the place

    Raises
    ------
    ValueError
        If a coordinate is off the globe or a date cannot be read.

    Source: NREL/TP-560-34302 appendix A.2, through pvlib.spa. Good to a few seconds away from the poles.
    """
    north, east = _place(lat, lon)
    midnight = _instants(day).astype("datetime64[D]").astype("datetime64[ns]")
    at, north, east = np.broadcast_arrays(_unix_s(midnight), north, east)
    with np.errstate(invalid="ignore"):
        _, rise_s, set_s = spa.transit_sunrise_sunset(at.ravel(), north.ravel(), east.ravel(), _DELTA_T_S, 1)
    rise, down = (
        pd.to_datetime(seconds, unit="s").to_numpy(dtype="datetime64[ns]").reshape(at.shape)[()]
        for seconds in (rise_s, set_s)
    )
    return rise, down


def _windows(
    lat: Numbers, lon: Numbers, start_utc: Times, end_utc: Times, step_min: float = _STEP_MIN
) -> tuple[Floats, Floats, Floats, npt.NDArray[np.intp]]:
    """Sample each distinct window once: elevation and apparent elevation, shape (windows, steps).

    Then its length in hours, and for each case asked the place of its window.
    """
    north, east = _place(lat, lon)
    start, end, north, east = np.broadcast_arrays(_unix_s(start_utc), _unix_s(end_utc), north, east)
    if np.any(end < start):
        raise ValueError("end_utc: before start_utc. Give an end that is not earlier than the start.")
    cases = np.stack([north.ravel(), east.ravel(), start.ravel(), end.ravel()], axis=1)
    distinct, inverse = np.unique(cases, axis=0, return_inverse=True)
    elevation, apparent, hours = _sampled(distinct.tobytes(), step_min)
    return elevation, apparent, hours, inverse.reshape(start.shape).astype(np.intp)


@lru_cache(maxsize=32)
def _sampled(cases: bytes, step_min: float) -> tuple[Floats, Floats, Floats]:
    """Elevation, apparent elevation and hours of windows (lat, lon, start, end); kept, as a club asks for the same again."""
    windows = np.frombuffer(cases).reshape(-1, 4)
    length_s = windows[:, 3] - windows[:, 2]
    longest_s = float(np.nanmax(length_s, initial=0.0))
    steps = max(1, int(np.ceil(longest_s / (60.0 * step_min))))
    along = np.linspace(0.0, 1.0, steps + 1)
    at = windows[:, 2:3] + length_s[:, np.newaxis] * along
    told = (*elevation_deg(at, windows[:, 0:1], windows[:, 1:2]), length_s / 3600.0)
    for values in told:
        values.setflags(write=False)
    return told


def dark_hours(
    lat: Numbers, lon: Numbers, start_utc: Times, end_utc: Times, below_deg: float = SUNSET_DEG
) -> Floats:
    """Hours between start and end during which the sun is below `below_deg`; arguments broadcast.

    The default counts from sunset to sunrise. -6 counts from the end of civil twilight, when work outdoors
    needs lamps. Sampled at least every 10 min and interpolated: good to about 10 s per crossing, worse within
    a day of where the sun only grazes the threshold. Moonlight, cloud and hills are not in it.

    Raises
    ------
    ValueError
        If a coordinate is off the globe, a time cannot be read or the end is before the start.

    Source: NREL/TP-560-34302, through pvlib.spa.
    """
    elevation, _, hours, inverse = _windows(lat, lon, start_utc, end_utc)
    lower = np.minimum(elevation[:, :-1], elevation[:, 1:])
    upper = np.maximum(elevation[:, :-1], elevation[:, 1:])
    span = np.maximum(upper - lower, 1e-9)
    dark = np.clip((below_deg - lower) / span, 0.0, 1.0).mean(axis=1) * hours
    return np.asarray(dark[inverse])[()]


def air_temperature_c(
    lat: Numbers, lon: Numbers, times_utc: Times, coldest_c: Numbers, warmest_c: Numbers
) -> Floats:
    """Temperature of the air in C at an instant of a day between its coldest and its warmest; arguments broadcast.

    Coldest at sunrise, from there a half sine that is warmest WARMEST_AFTER_NOON_H after the middle of the day; from
    sunset on it falls off with a time constant of NIGHT_H, to the coldest at the next sunrise. Where the sun does not
    rise or set it is as cold as it gets. For an ordinary day without a change of weather; the day before and the day
    after are taken to be alike.

    Raises
    ------
    ValueError
        If a coordinate is off the globe, a time cannot be read or the warmest is below the coldest.

    Source: day curve of an open library for crop weather (half sine by day, decay by night, 1.5 h and 4 h).
    """
    at, north, east, low, high = np.broadcast_arrays(_instants(times_utc), lat, lon, coldest_c, warmest_c)
    if np.any(high < low):
        raise ValueError("warmest_c: below coldest_c. Give the warmest of the day, then the coldest.")
    day = at + (np.asarray(east, float) * 240.0).astype("timedelta64[s]")
    rise, down = sunrise_and_sunset_utc(north, east, day)
    since_h, light_h = (  # beside the date line the sunrise may be that of another day, which is much alike
        np.mod(span / np.timedelta64(1, "h"), 24.0) for span in (at - rise, down - rise)
    )
    wave_h = light_h + 2.0 * WARMEST_AFTER_NOON_H
    dark_h = np.mod(since_h - light_h, 24.0)
    at_dusk = np.sin(np.pi * light_h / wave_h)
    over = np.exp(-(24.0 - light_h) / NIGHT_H)
    by_night = at_dusk * (np.exp(-dark_h / NIGHT_H) - over) / (1.0 - over)
    share = np.where(since_h <= light_h, np.sin(np.pi * since_h / wave_h), by_night)
    return np.asarray(low + (high - low) * np.clip(np.nan_to_num(share), 0.0, 1.0))[()]


def clear_sky_w_m2(apparent_elevation_deg: Numbers) -> Floats:
    """Irradiance in W/m2 on level ground under a clear sky; 0 with the sun down.

    1098 sin(h) exp(-0.059 / sin(h)). Depends on the sun's height alone; real clear skies lie within about
    10 % of it, lower in haze and higher on mountains.

    Raises ValueError if the elevation is outside -90 to 90.

    Source: Haurwitz model, SAND2012-2389.
    """
    height = np.sin(np.radians(quantity(apparent_elevation_deg, "apparent_elevation_deg", -90, 90)))
    up = np.maximum(height, 1e-6)
    return np.where(np.isnan(height), np.nan, np.where(height > 0, 1098.0 * up * np.exp(-0.059 / up), 0.0))[
        ()
    ]


def solar_wh_by_hour(
    lat: Numbers,
    lon: Numbers,
    start_utc: Times,
    hours: int,
    panel_w: Numbers,
    loss_share: Numbers = LOSS_SHARE,
    sky_factor: Numbers = SKY_FACTOR,
) -> Floats:
    """Energy in Wh that a panel lying level is likely to bring in each hour from a start on; the rest broadcasts.

    E = panel_w x mean clear-sky irradiance of the hour / 1000 x 1 h x sky_factor x (1 - loss_share).

    Parameters
    ----------
    hours : how many, 0 or more
    panel_w : rated power, 0 or more
    loss_share : from sun on glass to the controller, 0 to 1
    sky_factor : share of the clear-sky energy left by clouds, 0 to 1; 1 is the most that could come, never
        a plan

    Returns
    -------
    array of shape (hours, ...)
        The first axis is the hour since the start.

    Notes
    -----
    A level panel: tilting it to the sun brings up to half as much again in winter and little in summer. Cell
    heating is left to the losses. Shade from trees or buildings is not in it and often decides. The sun is looked
    at once an hour, the mean of an hour taken from its ends: a day's sum is good to 1 %, to 2 % where the sun hardly
    rises; the hour of sunrise or sunset to a few Wh of a 100 W panel.

    Raises
    ------
    ValueError
        If an argument is outside its range.

    Source: Haurwitz clear sky (SAND2012-2389); losses NREL/TP-6A20-62641; sky factor from the ASHRAE typical
    year of a coast at 52 N over this clear sky.
    """
    start = _instants(start_utc)
    _, apparent, _, inverse = _windows(lat, lon, start, start + np.timedelta64(hours, "h"), 60.0)
    at = clear_sky_w_m2(apparent[:, : hours + 1]).T
    peak_h = (at[:-1] + at[1:]) / 2.0 / 1000.0
    kept = (1.0 - quantity(loss_share, "loss_share", 0, 1)) * quantity(sky_factor, "sky_factor", 0, 1)
    return np.asarray(quantity(panel_w, "panel_w", 0) * peak_h[:hours, inverse] * kept)
