"""Measures how long it takes until a phone shows what has happened: from the datagram sent to the frame
drawn after the page has changed, in headless Chromium. A beacon is ACTIVE and then OFF again and
again, and the boat turns meanwhile. The table is printed; only what never comes is a fault.

Usage: helm_pixels.py PATH-OF-OVERSIDE [ROUNDS]
"""

import math
import random
import socket
import sys
import tempfile
import time
from pathlib import Path

import pyais
from playwright.sync_api import Page, sync_playwright

from helm_drill import CONFIG, MATE, Boat, begun, chromium, entered, free
from page import CHROMIUM

PLACE = (57.8, 10.4)
# Notes what the page says each time that it has changed, once that is drawn: the second frame asked for
# begins when the first is done. A turn to port is negative.
NOTES = """() => {
  window.notes = [];
  const text = name => { const it = document.querySelector(`section.chosen ${name}`); return it ? it.textContent : ''; };
  const turn = () => { const it = /to (port|starboard), (\\d+)/.exec(text('.turn')); return it ? (it[1] === 'port' ? -it[2] : +it[2]) : null; };
  const note = () => requestAnimationFrame(() => requestAnimationFrame(
    () => window.notes.push({at: Date.now() / 1000, overboard: text('h1').includes('OVERBOARD'), turn: turn()})));
  new MutationObserver(note).observe(document.getElementById('main'), {subtree: true, childList: true, characterData: true, attributes: true});
}"""
# The first moment since then at which it was as asked for, if that has come; a turn within some degrees.
SINCE = """([since, what, is]) => {
  const it = window.notes.find(it => it.at >= since && (what === 'turn' ? it.turn !== null && Math.abs(it.turn - is) < 9 : it[what] === is));
  return it ? it.at : 0;
}"""


def beacon(channel: str, **fields: object) -> bytes:
    said = pyais.encode_dict({"mmsi": MATE, **fields}, sentence_type="VDM", radio_channel=channel, talker_id="AI")
    return said[0].encode() + b"\r\n"


class Measured:
    """A page, what is sent to its watch, and how long each thing took in milliseconds."""

    def __init__(self, page: Page, port: int) -> None:
        self.page, self.port = page, port
        self.ether = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        self.took: dict[str, list[float]] = {}

    def send(self, *lines: bytes) -> float:
        for line in lines:
            self.ether.sendto(line, ("127.0.0.1", self.port))
        return time.time()

    def until(self, name: str, sent: float, what: str, wanted: object) -> None:
        came = self.page.wait_for_function(SINCE, arg=[sent, what, wanted], polling=20, timeout=30_000).json_value()
        self.took.setdefault(name, []).append((came - sent) * 1000)


def measured(page: Page, port: int, rounds: int) -> dict[str, list[float]]:
    it, boat, chance = Measured(page, port), Boat(*PLACE), random.Random(1)
    page.evaluate(NOTES)
    bearing = math.degrees(math.atan2(math.cos(math.radians(PLACE[0])), 1))
    for number in range(rounds):
        one, other = "AB" if number % 2 else "BA"
        boat.heading = 20.0
        it.send(*boat.says())
        time.sleep(chance.uniform(0.3, 1.3))
        sent = it.send(beacon(one, msg_type=14, text="MOB ACTIVE"))
        it.until("an alarm", sent, "overboard", True)
        it.send(beacon(other, msg_type=1, status=14, lat=PLACE[0] + 0.01, lon=PLACE[1] + 0.01, second=60))
        for heading in (140.0, 190.0, 260.0):
            time.sleep(chance.uniform(0.2, 0.9))
            boat.heading = heading
            sent = it.send(*boat.says())
            it.until("a turn of the boat", sent, "turn", (bearing - heading + 180) % 360 - 180)
        sent = it.send(beacon(one, msg_type=14, text="MOB OFF"))
        it.until("the end of an emergency", sent, "overboard", False)
    return it.took


def main() -> int:
    overside, rounds = Path(sys.argv[1]).resolve(), int(sys.argv[2]) if len(sys.argv) > 2 else 12
    feed, helm = free(socket.SOCK_DGRAM), free(socket.SOCK_STREAM)
    with tempfile.TemporaryDirectory() as name, sync_playwright() as play:
        folder = Path(name)
        (folder / "drill.toml").write_text(CONFIG.format(port=feed, folder=folder / "state"), encoding="utf-8")
        watch, code = begun(overside, folder, helm)
        try:
            browser = play.chromium.launch(executable_path=chromium(), args=CHROMIUM)
            took = measured(entered(browser, helm, code), feed, rounds)
            browser.close()
        finally:
            watch.kill()
            watch.wait()
    for what, spans in took.items():
        spans.sort()
        half, most = spans[len(spans) // 2], spans[math.ceil(len(spans) * 0.99) - 1]
        print(f"helm: {what} is drawn after {half:.0f} ms at the median, {most:.0f} ms at the 99th of a hundred ({len(spans)})")
    return 0


if __name__ == "__main__":
    sys.exit(main())
