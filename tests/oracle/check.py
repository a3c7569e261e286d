"""Compares `overside decode` with pyais and pynmea2, message by message, field by field.

Usage: check.py PATH-OF-OVERSIDE. Differences that are understood are counted by their reason; any
other fails and is printed with its sentence. The last line is the summary.
"""

import os
import sys
from pathlib import Path

import ownship
import radio
from report import Report

CAPTURES = Path(__file__).resolve().parents[2] / "../shared/captures"


def main() -> int:
    report = Report(overside=sys.argv[1])
    if CAPTURES.is_dir():
        for file in sorted((CAPTURES / "ais").rglob("*.*")) + sorted((CAPTURES / "beacons").glob("*.*")):
            radio.check_recording(report, file)
        for file in sorted((CAPTURES / "ownship").glob("*.*")):
            ownship.check_recording(report, file)
            radio.check_recording(report, file)
    else:
        print(f"NOT CHECKED: {CAPTURES} is missing", file=sys.stderr)
        if "CI" in os.environ:
            return 2
    radio.check_random_messages(report)
    ownship.check_random_sentences(report)
    return report.finish()


if __name__ == "__main__":
    sys.exit(main())
