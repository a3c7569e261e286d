"""Steers a boat by what a phone shows and nothing else, while the demo's drill plays: from the moment
the Mate is overboard to within 30 m. Then the watch is killed and begun again under the page.

The beacon, its DSC calls and the traffic are those of captures/overboard_drill.nmea, at their own pace;
own ship is simulated, since the boat goes where the page says. On the way somebody tests a beacon, and
the Cook goes overboard, too.

Usage: helm_drill.py PATH-OF-OVERSIDE
"""

import math
import re
import shutil
import socket
import subprocess
import sys
import tempfile
import time
from datetime import UTC, datetime
from pathlib import Path

import pyais
from playwright.sync_api import Browser, Page, sync_playwright

from page import CHROMIUM

ROOT = Path(__file__).resolve().parents[2]
METRES = 1852.0
MATE, COOK, TESTED = 972000017, 972000018, 972000041
# Seconds of the drill: the Mate goes overboard at 180 and the beacon has a place from 220 on. Whoever
# steers is busy with the sails until then.
BEGINS, OVERBOARD, STEERS, ENDS = 178.0, 180.0, 226.0, 420.0
# What the scenario says of the Mate, and of the boat under sail.
DRIFT_DEG, DRIFT_KN, COURSE, KNOTS = 77.0, 0.8, 320.0, 5.5
SLOW_KN, TURNS_DEG_S, WITHIN_M = 4.0, 9.0, 30.0
# What is shown may be off the truth by the wandering of the fixes, the drift since the last of them, and
# the way of the boat until it is drawn.
OFF_M = 120.0
# When the test and the second casualty come, and where that is from where the boat began, in minutes.
TEST_AT, COOK_AT, COOK_OFF = 236.0, 244.0, (0.9, -0.6)
CONFIG = """
[vessel]
name = "Example"
mmsi = 200000000
[[input]]
name = "all"
uri = "udp://127.0.0.1:{port}"
[[person]]
name = "Mate"
[[beacon]]
mmsi = 972000017
holder = "Mate"
[[person]]
name = "Cook"
[[beacon]]
mmsi = 972000018
holder = "Cook"
[alarm]
sound = false
[storage]
folder = "{folder}"
record = false
"""
# What stands on the page, for eyes.
SEEN = """() => {
  const text = name => { const it = document.querySelector(`section.chosen ${name}`); return it ? it.innerText.trim() : ''; };
  const covered = getComputedStyle(document.querySelector('.cover')).visibility === 'visible';
  return {head: text('h1'), real: text('.real'), turn: text('.turn'), step: text('.step'), range: text('.range'), facts: text('.facts'), covered};
}"""


def sealed(body: str) -> bytes:
    total = 0
    for letter in body:
        total ^= ord(letter)
    mark = "!" if body.startswith("AI") else "$"
    return f"{mark}{body}*{total:02X}\r\n".encode()


class Boat:
    """Where she is, in metres east and north of where she began."""

    def __init__(self, lat: float, lon: float) -> None:
        self.begins = (lat, lon)
        self.east = self.north = 0.0
        self.heading, self.knots = COURSE, KNOTS

    def ahead(self, seconds: float) -> None:
        way = self.knots * METRES / 3600 * seconds
        self.east += way * math.sin(math.radians(self.heading))
        self.north += way * math.cos(math.radians(self.heading))

    def place(self) -> tuple[float, float]:
        lat = self.begins[0] + self.north / METRES / 60
        return lat, self.begins[1] + self.east / METRES / 60 / math.cos(math.radians(lat))

    def says(self) -> list[bytes]:
        lat, lon = self.place()
        place = f"{int(lat):02}{lat % 1 * 60:07.4f},N,{int(lon):03}{lon % 1 * 60:07.4f},E"
        now = datetime.now(UTC)
        return [
            sealed(f"GPRMC,{now:%H%M%S}.00,A,{place},{self.knots:.1f},{self.heading:.1f},{now:%d%m%y},,,A"),
            sealed(f"HEHDT,{self.heading:.1f},T"),
            sealed(f"VWVHW,{self.heading:.1f},T,,M,{self.knots:.1f},N,,K"),
        ]


def drill() -> tuple[list[tuple[float, bytes]], tuple[float, float]]:
    """What is heard from others with its second, and where the ship is at the beginning."""
    others, own, first = [], None, None
    for line in (ROOT / "captures/overboard_drill.nmea").read_bytes().splitlines():
        at = re.search(rb"c:(\d+)", line)
        sentence = re.sub(rb"^\\[^\\]*\\", b"", line)
        if not at:
            continue
        first = first or int(at[1])
        second = (int(at[1]) - first) / (1000 if len(at[1]) > 10 else 1)
        if re.match(rb"!..VDM|\$..DS[CE]", sentence):
            others.append((second, sentence))
        elif sentence[3:6] == b"RMC" and second <= BEGINS:
            field = sentence.decode().split(",")
            own = tuple(float(it[:width]) + float(it[width:]) / 60 for it, width in ((field[3], 2), (field[5], 3)))
    return [it for it in others if it[0] >= BEGINS], own


def beside(lat: float, lon: float) -> list[tuple[float, bytes]]:
    """A self-test, and a second casualty whose place does not change."""
    sent = []
    for number in range(8):
        channel, at = "AB"[number % 2], 2.0 * number
        test = {"msg_type": 14, "text": "MOB TEST"} if number in (0, 4) else {"msg_type": 1, "status": 15, "second": 60}
        cook = {"msg_type": 1, "status": 14, "lat": lat, "lon": lon, "second": 60}
        for mmsi, begins, told in ((TESTED, TEST_AT, test), (COOK, COOK_AT, cook)):
            said = pyais.encode_dict({"mmsi": mmsi, **told}, sentence_type="VDM", radio_channel=channel, talker_id="AI")
            sent.append((begins + at, said[0].encode()))
    return sent


def at_present(sentence: bytes, second: float) -> bytes:
    """The same with the time of its fix as it is now: that of the drill is another day's."""
    if b"DSC," in sentence:
        fields = sentence.decode().split("*")[0][1:].split(",")
        if fields[7] != "8888":
            fields[7] = f"{datetime.now(UTC):%H%M}"
        return sealed(",".join(fields))
    if sentence.startswith(b"!AIVDM,1,1,"):
        told = pyais.decode(sentence).asdict()
        if told["mmsi"] == MATE and told["msg_type"] == 1 and told["second"] < 60:
            told["second"] = int(time.time() - second % 60 + told["second"]) % 60
            sentence = pyais.encode_dict(told, sentence_type="VDM", radio_channel=sentence.split(b",")[4].decode(), talker_id="AI")[0].encode()
    return sentence + b"\r\n"


def wanted(seen: dict[str, str]) -> tuple[float, bool]:
    """How far the page says to turn, starboard positive, and whether to slow down."""
    slow = "SLOW DOWN" in seen["turn"]
    if told := re.search(r"to (port|starboard), (\d+)°", seen["turn"]):
        return (-1 if told[1] == "port" else 1) * float(told[2]), slow
    if told := re.search(r"about (\d+) o'clock", seen["step"]):
        return (int(told[1]) * 30 + 180) % 360 - 180, slow
    if told := re.search(r"TURN BACK[\s\S]*?(\d+)° to (port|starboard)", seen["turn"] + seen["facts"]):
        return (-1 if told[2] == "port" else 1) * float(told[1]), slow
    return 0.0, slow


def range_m(seen: dict[str, str]) -> float | None:
    told = re.search(r"\[?([\d.]+)\]?\s*(m|NM)\b", seen["range"])
    return told and float(told[1]) * (METRES if told[2] == "NM" else 1)


def steered(page: Page, port: int) -> str:
    """Sails the drill; what there is to say of it."""
    others, begins = drill()
    cook = tuple(it + off / 60 for it, off in zip(begins, COOK_OFF))
    others, worst = sorted(others + beside(*cook)), 0.0
    boat, ether = Boat(*begins), socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
    mate, start, second, seen, greatest, said = None, time.monotonic(), BEGINS, {}, 0.0, 0.0
    while second < ENDS:
        now = BEGINS + time.monotonic() - start
        boat.ahead(now - second)
        if mate is None and now >= OVERBOARD:
            mate = (boat.east, boat.north)
        for at, sentence in (it for it in others if second <= it[0] < now):
            ether.sendto(at_present(sentence, at), ("127.0.0.1", port))
        span, second = now - second, now
        if second - said >= 0.5:
            said = second
            for sentence in boat.says():
                ether.sendto(sentence, ("127.0.0.1", port))
        seen = page.evaluate(SEEN)
        if mate and second >= STEERS:
            assert seen["head"].startswith("MATE OVERBOARD") and seen["real"] == "TAKE AS REAL", seen
            assert not seen["covered"], (second, seen)
            turn, slow = wanted(seen)
            # A hand at the wheel: not the whole angle at once, and not faster than she turns.
            most = TURNS_DEG_S * span
            boat.heading = (boat.heading + max(-most, min(most, turn * 0.6 * span))) % 360
            boat.knots = SLOW_KN if slow else KNOTS
        if mate:
            adrift = DRIFT_KN * METRES / 3600 * (second - OVERBOARD)
            there = (mate[0] + adrift * math.sin(math.radians(DRIFT_DEG)), mate[1] + adrift * math.cos(math.radians(DRIFT_DEG)))
            apart = math.hypot(there[0] - boat.east, there[1] - boat.north)
            greatest = max(greatest, apart)
            if second >= STEERS and (shown := range_m(seen)) is not None:
                worst = max(worst, abs(shown - apart))
                assert worst <= OFF_M, (second, apart, seen)
            if second >= STEERS and apart <= WITHIN_M:
                the_other(page, boat, cook)
                return f"from {greatest:.0f} m off to {apart:.0f} m in {second - STEERS:.0f} s, the range shown off by {worst:.0f} m at most"
        time.sleep(0.1)
    raise AssertionError(f"{apart:.0f} m off at the end, {greatest:.0f} m at most: {seen}")


def the_other(page: Page, boat: Boat, cook: tuple[float, float]) -> None:
    """The one who came second: told of as new, and the figures are right; who tests is in no danger."""
    state = page.evaluate("async () => await (await fetch('/state.json')).json()")
    beacons = {it["id"]["beacon"]: it for it in state["picture"]["beacons"]}
    assert [beacons[it]["casualty"] for it in (MATE, COOK, TESTED)] == [True, True, False], beacons
    assert page.locator("section.casualty").count() == len(state["casualties"]) == 2, state["casualties"]
    assert page.locator("#next").inner_text() == "NEW: Cook", page.locator("#next").inner_text()
    page.locator("#next").click()
    seen = page.evaluate(SEEN)
    lat, lon = boat.place()
    north, east = (cook[0] - lat) * 60 * METRES, (cook[1] - lon) * 60 * METRES * math.cos(math.radians(lat))
    bearing = int(re.search(r"bearing\s*\[?(\d+)", seen["facts"])[1])
    off = (math.degrees(math.atan2(east, north)) - bearing + 180) % 360 - 180
    assert seen["head"].startswith("COOK OVERBOARD") and seen["real"] == "TAKE AS REAL", seen
    assert abs(range_m(seen) - math.hypot(north, east)) <= OFF_M and abs(off) <= 5, (off, north, east, seen)


def free(kind: socket.SocketKind) -> int:
    with socket.socket(socket.AF_INET, kind) as it:
        it.bind(("127.0.0.1", 0))
        return it.getsockname()[1]


def begun(overside: Path, folder: Path, helm: int) -> tuple[subprocess.Popen[str], str]:
    """A watch without a screen that is listening, and the code that it says."""
    port = re.search(r"udp://127\.0\.0\.1:(\d+)", (folder / "drill.toml").read_text(encoding="utf-8"))[1]
    command = [str(overside), "watch", "--headless", "--config", str(folder / "drill.toml"), "--helm", f"127.0.0.1:{helm}"]
    watch = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True, env={"HOME": str(folder), "PATH": "/usr/bin:/bin"})
    heard = []
    for line in watch.stderr:
        heard.append(line)
        if code := re.search(r"code (\d{6})", line):
            # The code may be told before the input is open: what is sent until then, nobody hears.
            until = time.monotonic() + 30
            while f":{int(port):04X} " not in Path("/proc/net/udp").read_text(encoding="ascii"):
                assert time.monotonic() < until, f"not listening at {port}: {heard}"
                time.sleep(0.02)
            return watch, code[1]
    raise AssertionError(f"no code: {heard}")


def chromium() -> str:
    found = shutil.which("chromium") or shutil.which("chromium-browser")
    if not found:
        print("error: chromium is needed for the page at the helm", file=sys.stderr)
        sys.exit(2)
    return found


def entered(browser: Browser, helm: int, code: str) -> Page:
    """The page on a phone that has given the code."""
    page = browser.new_page(viewport={"width": 360, "height": 740})
    page.goto(f"http://127.0.0.1:{helm}/enter")
    page.fill("[name=code]", code)
    page.click("button")
    page.wait_for_selector("section.chosen")
    return page


def main() -> int:
    overside = Path(sys.argv[1]).resolve()
    feed, helm = free(socket.SOCK_DGRAM), free(socket.SOCK_STREAM)
    with tempfile.TemporaryDirectory() as name, sync_playwright() as play:
        folder = Path(name)
        (folder / "drill.toml").write_text(CONFIG.format(port=feed, folder=folder / "state"), encoding="utf-8")
        watch, code = begun(overside, folder, helm)
        try:
            browser = play.chromium.launch(executable_path=chromium(), args=CHROMIUM)
            page, wrong = entered(browser, helm, code), []
            page.on("pageerror", lambda said: wrong.append(str(said)))
            led = steered(page, feed)
            # The watch dies under the page and is begun again: the page says so, and comes back.
            watch.kill()
            watch.wait()
            page.wait_for_function("() => getComputedStyle(document.querySelector('.cover')).visibility === 'visible'", timeout=9000)
            watch, _ = begun(overside, folder, helm)
            page.wait_for_function(
                "() => getComputedStyle(document.querySelector('.cover')).visibility === 'hidden'"
                " && document.querySelector('section.chosen h1').textContent.startsWith('COOK OVERBOARD')",
                timeout=20000,
            )
            assert not wrong, wrong
            browser.close()
        finally:
            watch.kill()
            watch.wait()
    print(f"helm: the page led a boat to the Mate of the drill: {led}; it came back after the watch was killed")
    return 0


if __name__ == "__main__":
    sys.exit(main())
