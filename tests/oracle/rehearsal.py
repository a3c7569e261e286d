"""Reads a rehearsed capture with pyais: every AIS sentence of it decodes, and to the same identity,
status and text as ours.

Usage: rehearsal.py PATH-OF-OVERSIDE
"""

import re
import subprocess
import sys
from collections import Counter
from pathlib import Path

import pyais

from report import Report

SCENARIO = Path(__file__).resolve().parents[2] / "captures" / "muster_round.toml"
# What the scenario asks for: each beacon's one burst of eight, with two texts in it.
TEXTS = {972000016: "MOB TEST", 972000017: "MOB TEST", 972000018: "MOB TEST A01"}


def main(overside: str) -> int:
    report = Report(overside)
    made = subprocess.run([overside, "rehearse", str(SCENARIO)], capture_output=True, check=True)
    lines = made.stdout.split(b"\r\n")
    objects = report.decode(lines)
    reports, texts = Counter(), Counter()
    for number, line in enumerate(lines, 1):
        sentence = re.sub(rb"^\\[^\\]*\\", b"", line)
        if not sentence.startswith(b"!"):
            continue
        ours = objects[number]["ais"]
        theirs = pyais.decode(sentence).asdict()
        wanted = {"type": theirs["msg_type"], "mmsi": theirs["mmsi"]}
        if "status" in theirs:
            wanted["nav_status"] = int(theirs["status"])
        if "text" in theirs:
            wanted["text"] = theirs["text"]
        report.compare("rehearsal", ours, wanted, lambda *_: None, [sentence])
        if theirs["mmsi"] in TEXTS:
            if theirs["msg_type"] == 14:
                texts[theirs["mmsi"], theirs["text"]] += 1
            elif int(theirs["status"]) == 15:
                reports[theirs["mmsi"]] += 1
    if texts != Counter({item: 2 for item in TEXTS.items()}) or set(reports.values()) != {6}:
        report.fail("rehearsal", f"bursts: {reports} {texts}", [])
    return report.finish()


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
