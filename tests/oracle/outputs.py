"""Reads what a watch says to other equipment: its sentences with pynmea2, its Signal K with the
specification's own package of schemas.

A watch hears a part of the capture of a drill and writes each kind of output into a file. Every sentence
has its right checksum, is no longer than 82 characters and is read by pynmea2 to a place that pyais
reads from what was heard; what was heard is there byte for byte; every delta is valid.

Usage: outputs.py PATH-OF-OVERSIDE
"""

import json
import os
import shutil
import socket
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import pyais
import pynmea2

from report import Report

CAPTURE = Path(__file__).resolve().parents[2] / "captures" / "overboard_drill.nmea"
SCHEMAS = "@signalk/signalk-schema@1.8.2"
MODULES = Path("target/oracle-npm")
# The delta itself, and the vessel that it makes, without what the package adds by itself; its identity
# has to be there. A search-and-rescue object has no schema of its own in the package's functions.
VALIDATE = r"""
const schema = require(process.argv[1]);
const strip = (it) => { if (it && typeof it === "object") { delete it.meta; Object.values(it).forEach(strip); } };
for (const line of require("fs").readFileSync(0, "utf8").trim().split("\n")) {
  const delta = JSON.parse(line);
  let wrong = schema.validateDelta(delta).errors;
  for (const [id, vessel] of Object.entries(schema.deltaToFull(delta).vessels || {})) {
    strip(vessel);
    vessel.mmsi = id.split(":").pop();
    // What is missing around the vessel is not the delta's; nor is another identity than the MMSI.
    const ours = (it) => it.dataPath !== "" && !/: u(rl|uid)$/.test(it.message);
    wrong = wrong.concat(schema.validateVessel(vessel).errors.filter(ours));
  }
  console.log(JSON.stringify(wrong.map((it) => it.dataPath + " " + it.message)));
}
"""
CONFIG = """
[alarm]
sound = false
[vessel]
mmsi = 211000001
[storage]
folder = "logbook"
record = false
[[person]]
name = "Mate"
[[beacon]]
mmsi = 972000017
holder = "Mate"
"""


def said(overside: str, folder: Path) -> dict[str, list[bytes]]:
    """What a watch of a part of the capture writes, by its kind."""
    kinds = ["heard", "casualty", "alerts", "events", "signalk"]
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as free:
        free.bind(("127.0.0.1", 0))
        address = free.getsockname()
    config = CONFIG + f'[[input]]\nname = "ais"\nuri = "udp://127.0.0.1:{address[1]}"\n'
    config += "".join(
        f'[[output]]\nname = "{kind}"\nuri = "file:{folder / kind}"\nwhat = ["{kind}"]\n'
        f"rate = 60\nmob = true\nsteer = true\n"
        for kind in kinds
    )
    (folder / "own.toml").write_text(config)
    env = os.environ | {"OVERSIDE_CONFIG": str(folder / "own.toml"), "HOME": str(folder)}
    watch = subprocess.Popen(
        [overside, "watch", "--headless", "--json"], stdout=subprocess.PIPE, cwd=folder, env=env
    )
    lines = [line for line in CAPTURE.read_bytes().splitlines() if line.strip()]
    # The first report of a beacon: 972 begins so in its six-bit armour.
    begins = next(number for number, line in enumerate(lines) if b",1>N" in line)
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as feed:
        for line in lines[max(0, begins - 20) : begins + 700]:
            feed.sendto(line + b"\r\n", address)
            time.sleep(0.01)
        time.sleep(1.5)
    watch.terminate()
    watch.communicate(timeout=60)
    return {kind: (folder / kind).read_bytes().splitlines(keepends=True) for kind in kinds}


def places_heard(lines: list[bytes]) -> list[tuple[float, float]]:
    """Where the beacons were by what was heard, as pyais reads it."""
    places = []
    for line in lines:
        sentence = line.rstrip().rsplit(b"\\", 1)[-1]
        # A part of several is none of a beacon's reports.
        if sentence.startswith(b"!AIVDM,1,"):
            message = pyais.decode(sentence)
            if message.mmsi // 1_000_000 == 972 and hasattr(message, "lat"):
                places.append((message.lat, message.lon))
    return places


def places_called() -> list[tuple[float, float]]:
    """What the calls of the capture tell: a quadrant, degrees and minutes (ITU-R M.493), and in the
    sentence behind it four digits more of each minute (IEC 61162-1 DSE, code 00)."""
    places = []
    for line in CAPTURE.read_bytes().splitlines():
        fields = line.decode("ascii").rsplit("\\", 1)[-1].split("*")[0].split(",")
        if fields[0].endswith("DSC") and not fields[6].startswith("9999999999"):
            digits = fields[6]
            signs = {"0": (1, 1), "1": (1, -1), "2": (-1, 1), "3": (-1, -1)}[digits[0]]
            degrees, minutes = (digits[1:3], digits[5:8]), (digits[3:5], digits[8:10])
            more = ("0", "0")
        elif fields[0].endswith("DSE") and fields[5] == "00":
            more = (fields[6][:4], fields[6][4:8])
        else:
            continue
        lat, lon = (
            sign * (int(d) + (int(m) + int(f) / 10_000) / 60)
            for sign, d, m, f in zip(signs, degrees, minutes, more)
        )
        places.append((lat, lon))
    return places


def sentences(
    report: Report, lines: list[bytes], wanted: set[str], places: list[tuple[float, float]]
) -> None:
    read = set()
    for line in lines:
        text = line.decode("ascii")
        if len(text) > 82 or not text.endswith("\r\n"):
            report.fail("outputs", "too long or without its end", [line])
            continue
        try:
            parsed = pynmea2.parse(text.strip(), check=True)
        except pynmea2.ParseError as why:
            # It does not know every sentence: the checksum is then looked at all the same.
            if not isinstance(why, pynmea2.SentenceTypeError):
                report.fail("outputs", str(why), [line])
                continue
            body, total = text.strip()[1:].split("*")
            if f"{pynmea2.NMEASentence.checksum(body):02X}" != total:
                report.fail("outputs", "a wrong checksum", [line])
            read.add(body.split(",")[0][2:])
            continue
        read.add(parsed.sentence_type)
        report.passed += 1
        fields = parsed.data
        if parsed.sentence_type not in {"TLL", "WPL"} or not fields[1] or " EST" in text:
            continue
        lat, north, lon, east = fields[1:5] if parsed.sentence_type == "TLL" else fields[:4]
        place = (
            pynmea2.nmea_utils.dm_to_sd(lat) * (1 if north == "N" else -1),
            pynmea2.nmea_utils.dm_to_sd(lon) * (1 if east == "E" else -1),
        )
        # Both are to a ten-thousandth of a minute; pyais rounds to a millionth of a degree.
        if not any(abs(place[0] - it[0]) < 2e-6 and abs(place[1] - it[1]) < 2e-6 for it in places):
            report.fail("outputs", f"read to {place}, which nobody told", [line])
        if parsed.sentence_type == "TLL" and fields[7] not in {"T", "L"}:
            report.fail("outputs", f"status {fields[7]}", [line])
    if read != wanted:
        report.fail("outputs", f"said {read}, not {wanted}", [])


def signal_k(report: Report, lines: list[bytes]) -> None:
    if not shutil.which("npm"):
        if os.environ.get("CI"):
            report.fail("signal k", "npm is missing under CI", [])
        print("NOT RUN: npm is missing, and with it the check by the schemas of Signal K", file=sys.stderr)
        return
    package = MODULES.resolve() / "node_modules" / "@signalk" / "signalk-schema"
    if not package.exists():
        MODULES.mkdir(parents=True, exist_ok=True)
        install = ["npm", "install", "--silent", "--no-audit", "--no-fund", "--ignore-scripts"]
        subprocess.run([*install, "--prefix", str(MODULES), SCHEMAS], check=True)
    node = ["node", "-e", VALIDATE, str(package)]
    told = subprocess.run(node, input=b"".join(lines), capture_output=True, check=True).stdout
    verdicts = told.splitlines()
    if not lines or len(verdicts) != len(lines):
        report.fail("signal k", f"{len(verdicts)} verdicts on {len(lines)} deltas", [])
    for line, verdict in zip(lines, verdicts):
        if json.loads(verdict):
            report.fail("signal k", verdict.decode(), [line])
        else:
            report.passed += 1


def main(overside: str) -> int:
    report = Report(overside)
    with tempfile.TemporaryDirectory() as folder:
        lines = said(str(Path(overside).resolve()), Path(folder))
    places = places_heard(lines["heard"]) + places_called()
    sentences(report, lines["casualty"], {"TLL", "WPL", "MOB", "RMB", "BOD"}, places)
    sentences(report, lines["alerts"], {"ALF", "ALC", "HBT"}, places)
    signal_k(report, lines["signalk"])
    recorded = set(CAPTURE.read_bytes().splitlines())
    for line in lines["heard"]:
        if line.rstrip(b"\r\n") not in recorded:
            report.fail("outputs", "no line of the capture", [line])
    for line in lines["events"]:
        json.loads(line)
    if not lines["heard"] or not lines["events"]:
        report.fail("outputs", "nothing was passed on, or no event told", [])
    return report.finish()


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
