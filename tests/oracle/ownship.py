"""Sentences of instruments: ours beside those of pynmea2."""

import datetime
import random
from pathlib import Path

import pynmea2

from report import Report

SEED = 61162
SENTENCES_PER_TYPE = 300


def check_recording(report: Report, file: Path) -> None:
    check_lines(report, file.read_bytes().split(b"\n"))


def check_lines(report: Report, lines: list[bytes]) -> None:
    for number, ours in report.decode(lines).items():
        line = lines[number - 1].strip()
        if ours.get("reject") == "bad_field":
            if line[3:6].decode("ascii", "replace") in READERS:
                report.differs(line[3:6].decode(), explain_reject(line), str(ours), [line])
            continue
        kind = str(ours.get("sentence"))
        if kind not in READERS or kind.lower() not in ours:
            continue
        sentence = line[line.rfind(b"$") :].decode("ascii", "replace")
        try:
            theirs = READERS[kind](pynmea2.parse(sentence, check=True))
        except Exception as why:  # pynmea2 fails in many ways, some of them not its own
            reason = explain_failure(kind, ours[kind.lower()], why)
            report.differs(kind, reason, f"pynmea2: {why!r}", [line])
            continue
        report.compare(kind, ours[kind.lower()], theirs, lambda *a: explain(kind, *a), [line])


def number(value) -> float | None:
    return None if value in (None, "") else float(value)


def direction(value) -> float | None:
    """360 is 0."""
    value = number(value)
    return 0.0 if value == 360 else value


def sided(value, side) -> float | None:
    value = number(value)
    return None if value is None else -value if side == "W" else value


def clock(value) -> str | None:
    """A time of day as we print it; pynmea2 has microseconds, we cut at the millisecond."""
    if not isinstance(value, datetime.time):
        return None
    return value.strftime("%H:%M:%S.") + f"{value.microsecond // 1000:03}"


def position(s) -> dict:
    return {"lat": s.latitude if s.lat else None, "lon": s.longitude if s.lon else None}


def small(value) -> int | None:
    return None if value in (None, "") else int(value)


def rmc(s):
    utc = None
    if isinstance(s.timestamp, datetime.time) and isinstance(s.datestamp, datetime.date):
        utc = f"{s.datestamp.isoformat()}T{clock(s.timestamp)}Z"
    return {
        "utc": utc, "time": clock(s.timestamp), **position(s), "sog_kn": number(s.spd_over_grnd),
        "cog_deg": direction(s.true_course), "variation_deg": sided(s.mag_variation, s.mag_var_dir),
        "valid": s.status == "A" and getattr(s, "mode_indicator", None) != "N",
    }


def gga(s):
    return {
        "time": clock(s.timestamp), **position(s), "quality": small(s.gps_qual),
        "satellites": small(s.num_sats), "hdop": number(s.horizontal_dil), "altitude_m": number(s.altitude),
    }


def gll(s):
    mode = getattr(s, "faa_mode", None)
    return {"time": clock(s.timestamp), **position(s), "valid": s.status == "A" and mode != "N"}


def gns(s):
    return {
        "time": clock(s.timestamp), **position(s), "modes": s.mode_indicator,
        "satellites": small(s.num_sats), "hdop": number(s.hdop), "altitude_m": number(s.altitude),
    }


def vtg(s):
    knots, kmh = number(s.spd_over_grnd_kts), number(s.spd_over_grnd_kmph)
    return {
        "cog_deg": direction(s.true_track), "cog_magnetic_deg": direction(s.mag_track),
        "sog_kn": knots if knots is not None or kmh is None else kmh / 1.852,
    }


def zda(s):
    utc = None
    if isinstance(s.timestamp, datetime.time) and s.day and s.month and s.year:
        utc = f"{int(s.year):04}-{int(s.month):02}-{int(s.day):02}T{clock(s.timestamp)}Z"
    return {"utc": utc, "time": clock(s.timestamp), "zone_hours": small(s.local_zone)}


def vhw(s):
    knots, kmh = number(s.water_speed_knots), number(s.water_speed_km)
    return {
        "heading_deg": direction(s.heading_true), "magnetic_deg": direction(s.heading_magnetic),
        "speed_kn": knots if knots is not None or kmh is None else kmh / 1.852,
    }


def mwv(s):
    factor = {"N": 1.0, "K": 1 / 1.852, "M": 3600 / 1852}.get(s.wind_speed_units)
    speed = number(s.wind_speed)
    return {
        "angle_deg": direction(s.wind_angle), "reference": {"R": "relative", "T": "true"}.get(s.reference),
        "speed_kn": None if speed is None or factor is None else speed * factor, "valid": s.status == "A",
    }


def mwd(s):
    knots, metres = number(s.wind_speed_knots), number(s.wind_speed_meters)
    return {
        "from_deg": direction(s.direction_true), "from_magnetic_deg": direction(s.direction_magnetic),
        "speed_kn": knots if knots is not None or metres is None else metres * 3600 / 1852,
    }


def hdg(s):
    return {
        "compass_deg": direction(s.heading), "deviation_deg": sided(s.deviation, s.dev_dir),
        "variation_deg": sided(s.variation, s.var_dir),
    }


READERS = {
    "RMC": rmc, "GGA": gga, "GLL": gll, "GNS": gns, "VTG": vtg, "ZDA": zda, "VHW": vhw, "MWV": mwv,
    "MWD": mwd,
    "HDG": hdg,
    "HDT": lambda s: {"heading_deg": direction(s.heading)},
    "HDM": lambda s: {"magnetic_deg": direction(s.heading)},
    "MTW": lambda s: {"temperature_c": number(s.temperature)},
    "DPT": lambda s: {"depth_m": number(s.depth), "offset_m": number(s.offset), "range_m": number(s.range)},
}


def explain(kind: str, key: str, ours, theirs) -> str | None:
    """Why a value of pynmea2 is not ours, if it is known."""
    return None


def explain_failure(kind: str, ours: dict, why: Exception) -> str | None:
    return None


def explain_reject(line: bytes) -> str | None:
    if any(byte < 32 or byte > 126 for byte in line):
        return "noise in a field, with a checksum made after it: pynmea2 keeps it as text"
    return None


def check_random_sentences(report: Report) -> None:
    """Sentences that the recordings have few or none of, rendered by pynmea2."""
    chance = random.Random(SEED)

    def degrees():
        return chance.choice(["", f"{chance.uniform(0, 360):.1f}"])

    def clock_field():
        return f"{chance.randint(0, 23):02}{chance.randint(0, 59):02}{chance.randint(0, 59):02}.{chance.randint(0, 99):02}"

    def place():
        lat = f"{chance.randint(0, 89):02}{chance.uniform(0, 59.999):07.4f}"
        lon = f"{chance.randint(0, 179):03}{chance.uniform(0, 59.999):07.4f}"
        return [lat, chance.choice("NS"), lon, chance.choice("EW")]

    def speed():
        return f"{chance.uniform(0, 60):.1f}"

    def fields(kind):
        return {
            "HDT": lambda: [degrees(), "T"],
            "HDM": lambda: [degrees(), "M"],
            "HDG": lambda: [degrees(), f"{chance.uniform(0, 20):.1f}", chance.choice("EW"), f"{chance.uniform(0, 20):.1f}", chance.choice("EW")],
            "GNS": lambda: [clock_field(), *place(), chance.choice(["AN", "AA", "DD", "NN"]), "07", "1.4", f"{chance.uniform(-50, 900):.1f}", "42.0", "", ""],
            "GLL": lambda: [*place(), clock_field(), chance.choice("AV"), chance.choice("ADN")],
            "RMC": lambda: [clock_field(), chance.choice("AV"), *place(), speed(), degrees(), "140626", "3.1", chance.choice("EW"), chance.choice("ADEN")],
            "VTG": lambda: [degrees(), "T", degrees(), "M", speed(), "N", speed(), "K", "A"],
            "ZDA": lambda: [clock_field(), f"{chance.randint(1, 28):02}", f"{chance.randint(1, 12):02}", str(chance.randint(1980, 2079)), f"{chance.randint(-13, 13):02}", "00"],
            "VHW": lambda: [degrees(), "T", degrees(), "M", speed(), "N", "", ""],
            "MWD": lambda: [degrees(), "T", degrees(), "M", chance.choice(["", speed()]), "N", speed(), "M"],
            "MWV": lambda: [degrees(), chance.choice("RT"), speed(), chance.choice("NKM"), chance.choice("AV")],
        }[kind]()

    lines = []
    for kind in ("HDT", "HDM", "HDG", "GNS", "GLL", "RMC", "VTG", "ZDA", "VHW", "MWV", "MWD"):
        for _ in range(SENTENCES_PER_TYPE):
            lines.append(str(getattr(pynmea2, kind)("GP", kind, fields(kind))).encode())
    check_lines(report, lines)
