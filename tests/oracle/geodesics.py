"""Compares ranges, bearings, destinations and variations with geographiclib and pygeomag.

Usage: geodesics.py PATH-OF-THE-EXAMPLE
"""

import datetime
import math
import random
import subprocess
import sys

import pygeomag
from geographiclib.geodesic import Geodesic

PAIRS = 10_000
#: Metres and degrees that two right answers may differ by.
WITHIN_M, WITHIN_DEG = 1e-6, 1e-8
#: The model in single precision, and whole days for decimal years: far less than the compass's.
WITHIN_VARIATION = 0.02


def pairs(dice):
    """Places near each other, far apart, over the date line, at the poles, nearly opposite."""
    for number in range(PAIRS):
        lat, lon = math.degrees(math.asin(dice.uniform(-1, 1))), dice.uniform(-180, 180)
        kind = number % 5
        if kind == 0:
            to = math.degrees(math.asin(dice.uniform(-1, 1))), dice.uniform(-180, 180)
        elif kind == 1:
            to = lat + dice.gauss(0, 0.01), lon + dice.gauss(0, 0.01)
        elif kind == 2:
            lon = dice.choice((179.999, -179.999))
            to = lat + dice.gauss(0, 0.1), -lon
        elif kind == 3:
            lat = dice.choice((-1, 1)) * (90 - dice.random() * 0.1)
            to = lat - math.copysign(dice.random() * 0.1, lat), dice.uniform(-180, 180)
        else:
            to = -lat + dice.gauss(0, 0.5), lon + 180 + dice.gauss(0, 0.5)
        to = max(-90, min(90, to[0])), (to[1] + 180) % 360 - 180
        day = datetime.date(2025, 1, 1) + datetime.timedelta(days=dice.randrange(1825))
        yield (lat, lon, *to, day)


def decimal_year(day):
    start, end = datetime.date(day.year, 1, 1), datetime.date(day.year + 1, 1, 1)
    return day.year + (day - start).days / (end - start).days


def turn(a, b):
    return abs((a - b + 180) % 360 - 180)


def main():
    asked = list(pairs(random.Random(1)))
    lines = "".join(f"{a!r} {b!r} {c!r} {d!r} {day}\n" for a, b, c, d, day in asked)
    answered = subprocess.run([sys.argv[1]], input=lines, capture_output=True, text=True, check=True)
    model = pygeomag.GeoMag(coefficients_file="wmm/WMM_2025.COF")
    faults, variations = [], 0
    for (lat, lon, to_lat, to_lon, day), line in zip(asked, answered.stdout.splitlines(), strict=True):
        metres, bearing, back_lat, back_lon, variation = line.split()
        line = Geodesic.WGS84.Inverse(lat, lon, to_lat, to_lon)
        here = f"{lat} {lon} to {to_lat} {to_lon}"
        if abs(float(metres) - line["s12"]) > WITHIN_M:
            faults.append(f"{here}: {metres} m, not {line['s12']}")
        # At the poles and between opposite points a direction is worth less, the place is not.
        along = line["s12"] * math.radians(turn(float(bearing), line["azi1"]))
        if along > 1e-3 and turn(float(bearing), line["azi1"]) > WITHIN_DEG:
            reached = Geodesic.WGS84.Direct(lat, lon, float(bearing), float(metres))
            if Geodesic.WGS84.Inverse(reached["lat2"], reached["lon2"], to_lat, to_lon)["s12"] > 1e-3:
                faults.append(f"{here}: bearing {bearing}, not {line['azi1']}")
        if Geodesic.WGS84.Inverse(float(back_lat), float(back_lon), to_lat, to_lon)["s12"] > 1e-3:
            faults.append(f"{here}: destination {back_lat} {back_lon}")
        if variation != "-":
            variations += 1
            field = model.calculate(glat=lat, glon=lon, alt=0, time=decimal_year(day))
            # A degree is worth less where the field points nearly straight down, and within six miles
            # of a pole.
            near_pole = 2e-3 / max(1e-9, math.cos(math.radians(lat)))
            within = WITHIN_VARIATION * max(1, 10_000 / field.h, near_pole)
            if turn(float(variation), field.d) > within:
                faults.append(f"{here} on {day}: variation {variation}, not {field.d}")
    for fault in faults[:20]:
        print(fault)
    print(f"geodesics: {PAIRS} pairs against geographiclib, {variations} variations against pygeomag, {len(faults)} faults")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
