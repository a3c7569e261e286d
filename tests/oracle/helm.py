"""Opens the page at the helm as a phone does: headless Chromium, upright, on its side and on a
tablet, by day, at dusk and at night, in every state; then with the network cut, the watch gone and
back, the page asleep, and without its script.

The states are those that `cargo test --test helm_page` leaves in target/tmp/helm-pages/.

Usage: helm.py PATH-OF-OVERSIDE [FOLDER FOR PICTURES]
"""

import json
import os
import re
import shutil
import signal
import sys
import threading
import time
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

from playwright.sync_api import Browser, BrowserContext, CDPSession, Page, sync_playwright

from page import CHROMIUM, ROOT, light

# A name that is not the computer itself for the browser: what it allows there is less.
BOAT = "--host-resolver-rules=MAP boat.test 127.0.0.1"
SIZES = ((360, 740), (740, 360), (820, 1180))
COLOURS = ("day", "dusk", "night")
# The pictures of the manual, which are written anew with OVERSIDE_RENEW_PICTURES=1.
PICTURES = {
    ("acknowledged", 360, "day"): "helm-casualty",
    ("acknowledged", 360, "night"): "helm-night",
    ("searched", 740, "dusk"): "helm-search",
}
# Text stands out 7 to 1 (WCAG 2.2, 1.4.6).
CONTRAST = 7.0

# Every piece of text that is shown: its box, its colours, the nearest background behind it. What
# covers the page when the watch is gone is asked for apart.
TEXTS = """([lost, scrolls]) => {
  const found = [];
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let node = walker.nextNode(); node; node = walker.nextNode()) {
    const it = node.parentElement;
    if (!node.data.trim() || it.closest('.unseen, script, noscript')) continue;
    if (Boolean(it.closest('.cover')) !== lost && !it.closest('nav')) continue;
    const range = document.createRange();
    range.selectNodeContents(node);
    const style = getComputedStyle(it);
    if (style.visibility !== 'visible') continue;
    for (const box of range.getClientRects()) {
      const main = it.closest('main') && document.getElementById('main').getBoundingClientRect();
      if (box.width < 1 || scrolls && main && box.bottom > main.bottom) continue;
      let ground = 'rgba(0, 0, 0, 0)';
      for (let up = it; up && /, 0\\)$/.test(ground); up = up.parentElement) ground = getComputedStyle(up).backgroundColor;
      found.push({text: node.data.trim(), box: [box.left, box.top, box.right, box.bottom], size: parseFloat(style.fontSize),
        colour: it instanceof SVGElement ? style.fill : style.color, ground});
    }
  }
  return found;
}"""
# What must not lie over each other, and the view.
BOXES = """() => {
  // What is scrolled out of the main part is not seen.
  const main = document.getElementById('main').getBoundingClientRect();
  const box = it => {
    const b = it.getBoundingClientRect();
    const bottom = it.closest('main') ? Math.max(b.top, Math.min(b.bottom, main.bottom)) : b.bottom;
    return [it.className.baseVal || it.className || it.id || it.tagName, b.left, b.top, b.right, bottom];
  };
  const shown = it => it.getClientRects().length;
  const parts = [...document.querySelectorAll('.top, #shown > .band, section > *, .drawn > svg, nav')].filter(it => it.className !== 'drawn').filter(shown).map(box);
  return {parts, wide: document.documentElement.scrollWidth, inner: [innerWidth, innerHeight],
    scrolls: [document.getElementById('main').scrollHeight, document.getElementById('main').clientHeight]};
}"""


class Watch:
    """Stands in for the watch: it serves the pages and what they send, and can be cut."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.page = ""
        self.colours = "dusk"
        self.cut = False
        # Seconds until the style comes.
        self.late = 0.0
        # A state of a minute ago that streams begun before this moment send, as if it had waited.
        self.waited: tuple[float, str] | None = None
        self.streams = 0
        self.asked: list[str] = []
        outer = self

        class Answer(BaseHTTPRequestHandler):
            def log_message(self, *_: object) -> None:
                pass

            def do_GET(self) -> None:
                outer.answer(self)

        self.server = ThreadingHTTPServer(("127.0.0.1", 0), Answer)
        self.server.daemon_threads = True
        self.port = self.server.server_address[1]
        threading.Thread(target=self.server.serve_forever, daemon=True).start()

    def html(self, state: str) -> str:
        """What changes of a state."""
        whole = (self.folder / f"{state}.html").read_text(encoding="utf-8")
        return whole.split('<main id="main">\n', 1)[1].split("</main>", 1)[0]

    def answer(self, asked: BaseHTTPRequestHandler) -> None:
        path = asked.path.split("?")[0]
        self.asked.append(path)
        if self.cut:
            asked.close_connection = True
            return
        if path == "/events":
            self.stream(asked)
            return
        if path == "/helm.css":
            time.sleep(self.late)
        if path in ("/helm.css", "/helm.js"):
            body, kind = (self.folder / path[1:]).read_bytes(), "text/css" if path.endswith("css") else "text/javascript"
        elif path == "/":
            text = (self.folder / f"{self.page}.html").read_text(encoding="utf-8")
            body, kind = text.replace('data-colours="dusk"', f'data-colours="{self.colours}"').encode(), "text/html; charset=utf-8"
        else:
            asked.send_error(404)
            return
        asked.send_response(200)
        asked.send_header("Content-Type", kind)
        asked.send_header("Content-Length", str(len(body)))
        # As the program has it: nothing of the page may need more.
        asked.send_header("Content-Security-Policy", "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; form-action 'self'")
        asked.end_headers()
        asked.wfile.write(body)

    def drop(self) -> None:
        """Ends what is being sent."""
        self.streams += 1

    def stream(self, asked: BaseHTTPRequestHandler) -> None:
        asked.send_response(200)
        asked.send_header("Content-Type", "text/event-stream")
        asked.end_headers()
        try:
            begun, since = self.streams, time.monotonic()
            while not self.cut and begun == self.streams:
                waits = self.waited is not None and self.waited[0] > since
                state, late = (self.waited[1], 60) if waits else (self.page, 0)
                data = json.dumps({"now": "", "handed_ms": int((time.monotonic() - late) * 1000), "html": self.html(state)})
                asked.wfile.write(f"event: state\ndata: {data}\n\n".encode())
                asked.wfile.flush()
                time.sleep(0.5)
        except OSError:
            pass


def rgb(colour: str) -> str:
    parts = [int(it) for it in re.findall(r"\d+", colour)[:3]]
    return "".join(f"{it:02x}" for it in parts)


def contrast(one: str, other: str) -> float:
    dark, bright = sorted((light(rgb(one)), light(rgb(other))))
    return (bright + 0.05) / (dark + 0.05)


def apart(boxes: list[tuple[str, list[float]]]) -> Iterator[str]:
    """No box lies over another by more than the rounding of letters' boxes."""
    for number, (text, (x1, y1, x2, y2)) in enumerate(boxes):
        for other, (a1, b1, a2, b2) in boxes[:number]:
            across, down = min(x2, a2) - max(x1, a1), min(y2, b2) - max(y1, b1)
            if across >= 1 and down >= 1:
                yield f"{text!r} and {other!r} overlap by {across:.1f} x {down:.1f}"


def wrong_in(page: Page, may_scroll: bool, lost: bool = False) -> Iterator[str]:
    """What leaves the view, lies over something else, or cannot be read."""
    told = page.evaluate(BOXES)
    width, height = told["inner"]
    if told["wide"] > width:
        yield f"{told['wide']} px wide"
    if not may_scroll and told["scrolls"][0] > told["scrolls"][1] + 1:
        yield f"{told['scrolls']} has to be scrolled"
    if not lost:
        yield from apart([(name, box) for name, *box in told["parts"]])
    lines = []
    texts = page.evaluate(TEXTS, [lost, may_scroll])
    for it in texts:
        text, (left, top, right, bottom) = it["text"], it["box"]
        if left < -0.6 or right > width + 0.6 or not may_scroll and (top < -0.6 or bottom > height + 0.6):
            yield f"{text!r} leaves the view: {it['box']}"
        # The letters are lower than their line.
        spare = (bottom - top) * 0.2
        lines.append((text, [left, top + spare, right, bottom - spare]))
        ratio = contrast(it["colour"], it["ground"])
        if ratio < CONTRAST:
            yield f"{text!r} stands out {ratio:.1f} to 1 only: {it['colour']} on {it['ground']}"
        if it["size"] < 11:
            yield f"{text!r} is {it['size']} px high"
    yield from apart(lines)
    if not texts:
        yield "no text"


def opened(context: BrowserContext, watch: Watch) -> tuple[Page, list[str]]:
    page = context.new_page()
    wrong: list[str] = []
    page.on("console", lambda said: wrong.append(said.text))
    page.on("pageerror", lambda said: wrong.append(str(said)))
    page.on("dialog", lambda said: (wrong.append(said.message), said.dismiss()))
    page.on("request", lambda it: None if it.url.startswith(f"http://127.0.0.1:{watch.port}/") else wrong.append(it.url))
    page.goto(f"http://127.0.0.1:{watch.port}/")
    return page, wrong


def every_state(browser: Browser, watch: Watch, pictures: Path | None) -> tuple[int, list[str]]:
    views, found = 0, []
    context = browser.new_context(has_touch=True)
    for path in sorted(watch.folder.glob("*.html")):
        watch.page = path.stem
        page, wrong = opened(context, watch)
        for width, height in SIZES:
            page.set_viewport_size({"width": width, "height": height})
            for colours in COLOURS:
                page.evaluate("it => { document.documentElement.dataset.colours = it; }", colours)
                view = f"{path.stem} at {width}x{height}, {colours}"
                if (name := PICTURES.get((path.stem, width, colours))) and os.environ.get("OVERSIDE_RENEW_PICTURES") == "1":
                    page.screenshot(path=ROOT / f"docs/images/{name}.png")
                if pictures:
                    page.screenshot(path=pictures / f"{path.stem}-{width}x{height}-{colours}.png")
                # Names of hundreds of letters take their room.
                scrolls = path.stem == "hostile"
                found += [f"{view}: {it}" for it in wrong_in(page, scrolls)]
                page.evaluate("() => document.documentElement.classList.add('lost')")
                found += [f"{view}, lost: {it}" for it in wrong_in(page, scrolls, lost=True)]
                page.evaluate("() => document.documentElement.classList.remove('lost')")
                views += 1
        found += [f"{path.stem}: {it}" for it in wrong]
        page.close()
    context.close()
    return views, found


COVERED = "() => getComputedStyle(document.querySelector('.cover')).visibility === 'visible'"
UNCOVERED = "() => getComputedStyle(document.querySelector('.cover')).visibility === 'hidden'"
HEADLINE = "document.querySelector('section.chosen h1').textContent"


def covers_itself(browser: Browser, watch: Watch) -> None:
    """When nothing comes any more the page says so, over everything, and comes back by itself."""
    context = browser.new_context(viewport={"width": 360, "height": 740})
    watch.page = "acknowledged"
    page, _ = opened(context, watch)
    page.wait_for_function("() => document.getElementById('shown').dataset.turn")
    # The watch is gone: ages count on meanwhile, and then nothing is left to be read but that.
    watch.cut = True
    before = time.monotonic()
    page.wait_for_function("() => parseInt(document.querySelector('.fact:nth-child(3) [data-age]').textContent) >= 5", timeout=8000)
    page.wait_for_function(COVERED, timeout=8000)
    assert time.monotonic() - before < 8
    said = page.evaluate("() => document.querySelector('.cover').innerText")
    assert "NO CONTACT WITH THE WATCH" in said and "since 02:16:24Z" in said and "Known then: MATE OVERBOARD" in said, said
    top = page.evaluate("() => document.elementFromPoint(180, 300).closest('.cover') !== null")
    assert top, "something lies over what covers the page"
    # It is back, and meanwhile something else has happened.
    watch.page, watch.cut = "silent", False
    page.wait_for_function(UNCOVERED, timeout=8000)
    assert "SIGNAL LOST" in page.evaluate(HEADLINE)
    # The network of the phone.
    context.set_offline(True)
    watch.drop()
    page.wait_for_function(COVERED, timeout=9000)
    context.set_offline(False)
    page.wait_for_function(UNCOVERED, timeout=9000)
    # Ten minutes asleep: neither of the two clocks may be trusted alone.
    watch.cut = True
    page.wait_for_timeout(800)
    page.evaluate("() => { const real = Date.now; Date.now = () => real() + 600000; }")
    page.wait_for_function(COVERED, timeout=1500)
    watch.page, watch.cut = "three", False
    page.wait_for_function(UNCOVERED, timeout=8000)
    assert "OVERBOARD" in page.evaluate(HEADLINE)
    context.close()


def wakes_up(browser: Browser, watch: Watch) -> None:
    """Frozen by the browser, as in a pocket, while the watch goes on sending until it gives the phone up:
    in every frame that is drawn after that, what is seen is covered or new. What waited in the phone
    meanwhile is old, however late it comes."""
    context = browser.new_context(viewport={"width": 360, "height": 740})
    watch.page = "acknowledged"
    page, _ = opened(context, watch)
    page.wait_for_function("() => document.getElementById('shown').dataset.turn")
    page.evaluate(f"""() => {{
      window.drawn = [];
      const note = () => {{ window.drawn.push([Date.now(), ({COVERED})(), {HEADLINE}]); requestAnimationFrame(note); }};
      note();
    }}""")
    # A page that is in view cannot be frozen by asking the browser: its processes are stopped.
    told = browser.new_browser_cdp_session().send("SystemInfo.getProcessInfo")
    renderers = [int(it["id"]) for it in told["processInfo"] if it["type"] == "renderer"]
    try:
        for process in renderers:
            os.kill(process, signal.SIGSTOP)
        frozen = time.time() * 1000
        time.sleep(8)
        watch.drop()
        watch.page = "silent"
        time.sleep(4)
    finally:
        for process in renderers:
            os.kill(process, signal.SIGCONT)
    page.wait_for_function(f"() => {HEADLINE}.includes('SIGNAL LOST') && ({UNCOVERED})()", timeout=8000)
    drawn = [it for it in page.evaluate("() => window.drawn") if it[0] > frozen + 1000]
    # The first of them was begun before.
    old = [it for it in drawn[1:] if not it[1] and "SIGNAL LOST" not in it[2]]
    assert drawn and drawn[0][0] > frozen + 11_000, "it was not frozen"
    assert not old, (len(drawn), old[:3])
    # What has waited is not shown; what comes by another connection is.
    page.wait_for_timeout(3500)
    streams = watch.asked.count("/events")
    watch.waited = (time.monotonic(), "acknowledged")
    page.wait_for_timeout(1500)
    seen = [it[2] for it in page.evaluate("() => window.drawn")[-60:]]
    watch.waited = None
    assert watch.asked.count("/events") == streams + 1 and all("SIGNAL LOST" in it for it in seen), seen
    context.close()


# The lightest part of a picture, from 0 to 255: the mean of squares of 96 pixels, not of letters.
LIGHTEST = """async data => {
  const picture = await createImageBitmap(await (await fetch('data:image/png;base64,' + data)).blob());
  const canvas = new OffscreenCanvas(Math.ceil(picture.width / 96), Math.ceil(picture.height / 96));
  const drawn = canvas.getContext('2d');
  drawn.imageSmoothingQuality = 'high';
  drawn.drawImage(picture, 0, 0, canvas.width, canvas.height);
  const {data: dots} = drawn.getImageData(0, 0, canvas.width, canvas.height);
  let most = 0;
  for (let at = 0; at < dots.length; at += 4) most = Math.max(most, (dots[at] + dots[at + 1] + dots[at + 2]) / 3);
  return most;
}"""


def never_white(browser: Browser, watch: Watch) -> None:
    """At night and at dusk no frame is white while it loads, loads itself again, or is begun again, though
    its style comes late; by day it is, so that what is looked for would be seen."""
    context = browser.new_context(viewport={"width": 360, "height": 740})
    judge = context.new_page()
    watch.page, watch.late = "acknowledged", 0.7
    lightest: dict[str, list[float]] = {}
    for watch.colours in ("night", "dusk", "day"):
        page = context.new_page()
        # Another page before, as dark as the phone at night.
        page.goto("data:text/html,<body style='background:black'>")
        session, frames = context.new_cdp_session(page), []

        def came(frame: dict, session: CDPSession = session, frames: list[str] = frames) -> None:
            frames.append(frame["data"])
            session.send("Page.screencastFrameAck", {"sessionId": frame["sessionId"]})

        session.on("Page.screencastFrame", came)
        session.send("Page.startScreencast", {"format": "png"})
        page.goto(f"http://127.0.0.1:{watch.port}/")
        page.wait_for_timeout(500)
        page.reload()
        page.wait_for_timeout(500)
        # Another version of the program: the page loads itself again.
        page.evaluate("() => { document.getElementById('shown').dataset.version = 'before'; }")
        page.wait_for_timeout(2500)
        session.send("Page.stopScreencast")
        assert len(frames) > 3, (watch.colours, len(frames))
        lightest[watch.colours] = [judge.evaluate(LIGHTEST, it) for it in frames]
        page.close()
    watch.colours, watch.late = "dusk", 0.0
    context.close()
    for colours in ("night", "dusk"):
        assert max(lightest[colours]) < 170, (colours, lightest[colours])
    assert max(lightest["day"]) > 220, lightest["day"]


def without_script(browser: Browser, watch: Watch) -> None:
    """It loads itself again every 5 s; where it cannot, or its script does not come, the style covers it."""
    watch.page = "three"
    context = browser.new_context(viewport={"width": 360, "height": 740}, java_script_enabled=False)
    page = context.new_page()
    watch.asked.clear()
    page.goto(f"http://127.0.0.1:{watch.port}/")
    assert page.locator("section.chosen .turn").is_visible() and page.locator("section.chosen .other").count() == 2
    page.locator("section.chosen .other").first.click()
    assert page.locator("section.casualty:target .turn").is_visible()
    assert page.locator("section.casualty:visible").count() == 1
    page.wait_for_timeout(6500)
    assert watch.asked.count("/") >= 2, watch.asked
    context.close()
    context = browser.new_context(viewport={"width": 360, "height": 740})
    page = context.new_page()
    page.route("**/helm.js", lambda route: route.abort())
    page.goto(f"http://127.0.0.1:{watch.port}/")
    page.wait_for_function(COVERED, timeout=7000)
    context.close()


def chooses(browser: Browser, watch: Watch) -> None:
    """Who is looked at stays in view, and whoever comes new is told of at once."""
    context = browser.new_context(viewport={"width": 360, "height": 740}, has_touch=True)
    watch.page = "acknowledged"
    page, wrong = opened(context, watch)
    page.wait_for_function("() => document.getElementById('shown').dataset.turn")
    assert page.locator("#next").is_hidden()
    watch.page = "two"
    page.wait_for_function("() => document.getElementById('next').textContent === 'NEW: Cook'", timeout=5000)
    assert page.evaluate(HEADLINE).startswith("MATE"), page.evaluate(HEADLINE)
    assert "NEW: Cook" in page.locator("#aloud").inner_text()
    page.locator("#next").click()
    assert page.evaluate(HEADLINE).startswith("COOK")
    page.wait_for_timeout(1500)
    assert page.evaluate(HEADLINE).startswith("COOK")
    session = context.new_cdp_session(page)
    swipe = [("touchStart", 300), ("touchMove", 200), ("touchMove", 80), ("touchEnd", None)]
    for kind, x in swipe:
        session.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": [] if x is None else [{"x": x, "y": 400}]})
    page.wait_for_function(f"() => {HEADLINE}.startsWith('MATE')", timeout=3000)
    page.locator("section.chosen a.other").click()
    assert page.evaluate(HEADLINE).startswith("COOK")
    # Out of danger: the one who is left is shown.
    watch.page = "acknowledged"
    page.wait_for_function(f"() => {HEADLINE}.startsWith('MATE')", timeout=5000)
    assert not wrong, wrong
    context.close()


def sounds(browser: Browser, watch: Watch) -> None:
    """Sound after a touch, and what the browser does not allow is said; colours stay; nothing flashes
    for who does not want it."""
    context = browser.new_context(viewport={"width": 360, "height": 740}, reduced_motion="reduce")
    watch.page = "casualty"
    page = context.new_page()
    # Another name than the computer's own: plain HTTP, as on board.
    page.goto(f"http://boat.test:{watch.port}/")
    assert not page.evaluate("() => isSecureContext")
    assert page.evaluate("() => document.getElementById('shown').dataset.sound") == "emergency_alarm"
    page.locator("#sound").click()
    page.wait_for_function("() => document.getElementById('sound').textContent === 'SOUND IS ON'", timeout=5000)
    page.wait_for_function("() => document.getElementById('said').textContent.includes('plain HTTP')", timeout=5000)
    assert page.evaluate("() => getComputedStyle(document.querySelector('section.chosen .band')).animationName") == "none"
    page.locator("#colours").click()
    assert page.evaluate("() => [document.documentElement.dataset.colours, document.cookie]") == ["night", "colours=night"]
    assert page.evaluate("() => getComputedStyle(document.body).backgroundColor") == "rgb(0, 0, 0)"
    context.close()


def main() -> int:
    overside = Path(sys.argv[1]).resolve()
    pictures = Path(sys.argv[2]) if len(sys.argv) > 2 else None
    folder = overside.parents[1] / "tmp/helm-pages"
    if not folder.is_dir():
        print(f"error: no page in {folder}\nhint: cargo test --test helm_page writes them", file=sys.stderr)
        return 2
    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    if not chromium:
        print("error: chromium is needed to look at the page at the helm", file=sys.stderr)
        print("hint: apt-get install --no-install-recommends chromium", file=sys.stderr)
        return 2
    watch = Watch(folder)
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=chromium, args=[*CHROMIUM, BOAT])
        for check in (covers_itself, wakes_up, never_white, without_script, chooses, sounds):
            check(browser, watch)
        views, found = every_state(browser, watch, pictures)
        browser.close()
    print("\n".join(found), file=sys.stderr)
    print(f"helm: {views} views in Chromium, {len(found)} faults")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
