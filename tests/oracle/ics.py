"""Reads the muster's calendar with the library icalendar: it must hold one event for every due
date, on the right day, with a reminder 30 days before, whatever the names are.

The structure is that of RFC 5545; the days are reckoned here, by datetime alone.

Usage: ics.py PATH-OF-OVERSIDE
"""

import os
import subprocess
import sys
import tempfile
from datetime import date, datetime, timedelta, timezone
from pathlib import Path

import icalendar

HOSTILE = 'Jacke "Süd", rot; \\n \N{RING BUOY} mit einem Namen, der über viele Zeilen geht: ' + "é" * 60

CONFIG = f"""
[vessel]
name = "Fictional, yacht; one"
mmsi = 200000000

[[person]]
name = "Mate, first"

[[lifejacket]]
name = '{HOSTILE}'
service_due = "2028-02"
cylinder_weighed = "2027-12-31"

[[lifejacket]]
name = "jacket 2"
cylinder_weighed = "2027-02"

[[beacon]]
mmsi = 972000017
holder = "Mate, first"
fitted_to = '{HOSTILE}'
battery_expires = "2029-05"
test_every_months = 6

[[beacon]]
mmsi = 970000001
battery_expires = "2030-01-15"
"""

# What is due, and the last day of it.
EXPECTED = {
    ("Replace the battery of beacon 972000017 (Mate, first)", date(2029, 5, 31)),
    (f"Have lifejacket {HOSTILE} serviced (Mate, first)", date(2028, 2, 29)),
    (f"Weigh the gas cylinder of lifejacket {HOSTILE} (Mate, first)", date(2028, 12, 31)),
    ("Weigh the gas cylinder of lifejacket jacket 2", date(2028, 2, 29)),
    ("Replace the battery of beacon 970000001", date(2030, 1, 15)),
}


def main() -> int:
    overside = str(Path(sys.argv[1]).resolve())
    with tempfile.TemporaryDirectory() as folder:
        home = Path(folder)
        (home / "overside.toml").write_text(CONFIG, encoding="utf-8")

        def run() -> bytes:
            env = {"XDG_DATA_HOME": str(home), "PATH": os.environ["PATH"]}
            command = [overside, "muster", "--as-of", "2026-11-25", "--ics", "-"]
            done = subprocess.run(command, cwd=home, env=env, capture_output=True)
            assert done.returncode == 1, done
            return done.stdout

        before = datetime.now(timezone.utc).replace(microsecond=0)
        text = run()
        after = datetime.now(timezone.utc)
        again = icalendar.Calendar.from_ical(run())

    # RFC 5545 section 3.1: lines end with CRLF and have at most 75 octets.
    assert text.endswith(b"\r\n") and text.count(b"\n") == text.count(b"\r\n")
    assert max(len(line) for line in text.split(b"\r\n")) <= 75
    calendar = icalendar.Calendar.from_ical(text)
    assert not calendar.errors, calendar.errors
    assert calendar["VERSION"] == "2.0" and calendar["PRODID"]
    events = calendar.walk("VEVENT")
    for event in events:
        assert not event.errors, event.errors
        start, end = event["DTSTART"].dt, event["DTEND"].dt
        assert type(start) is date and end - start == timedelta(days=1), event
        assert before <= event["DTSTAMP"].dt <= after, event
        assert event["TRANSP"] == "TRANSPARENT"
        assert "Ship: Fictional, yacht; one" in str(event["DESCRIPTION"]).splitlines()
        (alarm,) = event.walk("VALARM")
        assert alarm["ACTION"] == "DISPLAY" and alarm["DESCRIPTION"] == event["SUMMARY"]
        assert alarm["TRIGGER"].dt == timedelta(days=-30), alarm
    found = {(str(event["SUMMARY"]), event["DTSTART"].dt) for event in events}
    assert found == EXPECTED, found ^ EXPECTED
    identities = [str(event["UID"]) for event in events]
    assert len(set(identities)) == len(events) == len(EXPECTED), identities
    assert identities == [str(event["UID"]) for event in again.walk("VEVENT")]
    print(f"calendar: {len(events)} events as they should be by icalendar")
    return 0


if __name__ == "__main__":
    sys.exit(main())
