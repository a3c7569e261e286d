"""Checks the logbook by other means: a chain made here with hashlib must be whole, and what is
exported of it, the route of a search and the tracks of a debrief must be valid by the schema of GPX 1.1
(tests/oracle/gpx.xsd, its source is in it).

Usage: gpx.py PATH-OF-OVERSIDE
"""

import hashlib
import json
import os
import sqlite3
import subprocess
import sys
import tempfile
from pathlib import Path

import xmlschema

ROOT = Path(__file__).resolve().parents[2]
GPX = "{http://www.topografix.com/GPX/1/1}"

OWN = {"lat": 50.25, "lon": -5.5}
HOSTILE = 'the Mate\'s <beacon> & "all" ]]> \x1b[2J\x00\ufffe'


def entries() -> list[dict]:
    """A night: two watches, a casualty with a hostile name, another by the date line."""
    night = [{"kind": "watch", "text": "watch started", "session": 1}]
    for step in range(5):
        own = {"lat": 50.25 + step / 100, "lon": -5.5}
        night.append({"kind": "position", "text": "", "own": own, "own_age_s": 1, "session": 1})
    common = {"session": 1, "mmsi": 972000017, "person": HOSTILE, "own": OWN}
    alert = {"kind": "alert", "alert": 1, "priority": "emergency_alarm", "cause": "beacon_active", "text": HOSTILE}
    night.append(common | alert | {"state": "active_unacknowledged"})
    for step in range(4):
        place = {"lat": 50.3, "lon": -5.5 + step / 1000}
        night.append(common | {"kind": "beacon", "mode": "active", "position": place, "fix_age_s": 2, "text": "beacon"})
    night.append(common | alert | {"state": "normal", "position": {"lat": 50.3, "lon": -5.499}})
    night.append({"kind": "watch", "text": "watch started", "session": len(night) + 1})
    second = {"session": len(night), "mmsi": 970000001}
    for lon in (179.9999, 180.0, -179.9999):
        night.append(second | {"kind": "beacon", "mode": "test", "position": {"lat": -90.0, "lon": lon}, "text": "test"})
    night.append({"kind": "operator", "text": "a note", "operator": "Skipper"})
    return night


def write(path: Path, bodies: list[dict]) -> None:
    """Writes them as the format says, without the program."""
    database = sqlite3.connect(path)
    for version, step in enumerate(sorted((ROOT / "src/logbook/migrations").glob("*.sql")), 1):
        database.executescript(step.read_text(encoding="utf-8"))
        database.execute(f"PRAGMA user_version = {version}")
    previous = "0" * 64
    for number, body in enumerate(bodies, 1):
        at = 1_780_000_000_000 + number * 60_000
        text = json.dumps({"v": 1, "entry": number, "host_ms": at} | body, separators=(",", ":"))
        digest = hashlib.sha256(f"{previous}\n{text}".encode()).hexdigest()
        row = (number, text, previous, digest)
        database.execute("INSERT INTO entry (entry, body, previous, hash) VALUES (?, ?, ?, ?)", row)
        previous = digest
    database.commit()
    database.close()


def main() -> int:
    overside = str(Path(sys.argv[1]).resolve())
    with tempfile.TemporaryDirectory() as folder:
        home = Path(folder)
        bodies = entries()
        (home / "overside").mkdir()
        write(home / "overside/logbook.db", bodies)

        def run(*arguments: str) -> bytes:
            env = {"XDG_DATA_HOME": str(home), "PATH": os.environ["PATH"]}
            done = subprocess.run([overside, "logbook", *arguments], cwd=home, env=env, capture_output=True)
            assert done.returncode == 0, (arguments, done)
            return done.stdout

        found = json.loads(run("check", "--json"))
        assert found == {"entries": len(bodies), "whole": True, "first_bad": None, "bad": []}, found
        (home / "night.gpx").write_bytes(run("export", "--gpx", "-"))
        schema = xmlschema.XMLSchema(ROOT / "tests/oracle/gpx.xsd")
        schema.validate(home / "night.gpx")
        root = schema.decode(str(home / "night.gpx"), validation="strict")
        plan = [overside, "search", "--at", "57 42.07N 179 59.99E", "--since", "9min", "--gpx", "-"]
        (home / "search.gpx").write_bytes(subprocess.run(plan, check=True, capture_output=True).stdout)
        schema.validate(home / "search.gpx")
        (home / "hostile.toml").write_text(
            '[[person]]\nname = "<Mate> & \\u001b[2J"\n[[beacon]]\nmmsi = 972000017\nholder = "<Mate> & \\u001b[2J"\n'
        )
        drill = [overside, "--config", "hostile.toml", "debrief", "--folder", "drill", str(ROOT / "captures/overboard_drill.nmea")]
        subprocess.run(drill, check=True, capture_output=True, cwd=home)
        schema.validate(home / "drill/track.gpx")
        points = [[len(part["trkpt"]) for part in track["trkseg"]] for track in root["trk"]]
        # The own track stands still while the casualty is heard: the same place at another time.
        assert points == [[11], [3], [4]], points
        assert [track["name"] for track in root["trk"][1:]] == [
            "970000001",
            'the Mate\'s <beacon> & "all" ]]> [2J (972000017)',
        ], root["trk"]
        (waypoint,) = root["wpt"]
        assert (float(waypoint["@lat"]), float(waypoint["@lon"])) == (50.3, -5.499), waypoint
    print("GPX: logbook, search and debrief are valid by its schema; a chain made by hashlib is whole")
    return 0


if __name__ == "__main__":
    sys.exit(main())
