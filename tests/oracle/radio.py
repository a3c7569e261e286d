"""AIS messages: ours beside those of pyais."""

import random
from datetime import datetime
from pathlib import Path

import pyais
from pyais.constants import ShipType, TurnRate

from report import Report

SEED = 1371
MESSAGES_PER_TYPE = 400
SIDES = ("to_bow", "to_stern", "to_port", "to_starboard")
# Those that pyais encodes as they are: it has one code for several.
SHIP_TYPES = [code for code in range(100) if int(ShipType.from_value(code)) == code]
# The six-bit alphabet without `@`, which ends a text (M.1371-5 table 47).
LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ[\\]^_ !\"#$%&'()*+,-./0123456789:;<=>?"


def check_recording(report: Report, file: Path) -> None:
    check_lines(report, file.read_bytes().split(b"\n"), pyais_of)


def check_lines(report: Report, lines: list[bytes], theirs_of) -> None:
    objects = report.decode(lines)
    parts: dict[tuple, list[bytes]] = {}
    for number, line in enumerate(lines, 1):
        sentence = bare_sentence(line)
        if sentence is None:
            continue
        fields = sentence.split(b",")
        key = tuple(fields[i] for i in (0, 1, 3, 4)) if len(fields) > 4 else None
        ours = objects.get(number)
        if ours is None:
            if key and fields[2] == b"1":
                parts[key] = []
            parts.setdefault(key, []).append(sentence)
            continue
        whole = parts.pop(key, []) + [sentence]
        if "ais" in ours:
            compare(report, ours["ais"], theirs_of(whole), whole)
        elif "reject" in ours and b"VD" in fields[0]:
            theirs = pyais_of(whole)
            # pyais reads a sentence whose checksum is wrong, and only says so.
            damaged = ours["reject"] in ("bad_checksum", "missing_checksum", "not_a_sentence")
            if isinstance(theirs, dict) and not damaged and ours["reject"] != "part_mismatch":
                report.differs("ais", explain_reject(ours["reject"]), f"{ours} {theirs}", whole)
            else:
                report.passed += 1


def bare_sentence(line: bytes) -> bytes | None:
    start = line.rfind(b"!")
    if start < 0:
        return None
    star = line.find(b"*", start)
    return line[start : star + 3] if star > 0 else line[start:].strip()


def pyais_of(sentences: list[bytes]) -> dict | str:
    try:
        return pyais.decode(*sentences).asdict()
    except Exception as why:  # pyais fails in many ways, some of them not its own
        return repr(why)


def compare(report: Report, ours: dict, theirs: dict | str, sentences: list[bytes]) -> None:
    kind = ours["type"]
    if isinstance(theirs, str):
        reason = None
        if kind == 14 and ours["text"] == "" and "AttributeError" in theirs:
            reason = "pyais fails on an empty text"
        elif kind == 0 or kind > 28:
            reason = "pyais knows no such type"
        elif kind in (6, 8, 16, 25, 26):
            reason = "pyais fails on the content, which we do not look into"
        report.differs(f"ais {kind}", reason, f"pyais: {theirs}", sentences)
        return
    ours = dict(ours)
    for key, scale in (("lon", 600 if kind == 27 else 600_000), ("lat", 600 if kind == 27 else 600_000)):
        # pyais rounds to six decimals: compare what was sent.
        if ours.get(key) is not None:
            ours[key] = round(ours[key] * scale)
    if ours.get("rate_of_turn_deg_min") is not None:
        ours["rate_of_turn_deg_min"] = round(ours["rate_of_turn_deg_min"])
    report.compare(f"ais {kind}", ours, as_ours(kind, theirs), lambda *a: explain(ours, *a), sentences)


def as_ours(kind: int, m: dict) -> dict:
    """A message of pyais in our terms: not-available values, which it gives as numbers, as None."""

    def unless(key, *none):
        return None if m[key] in none else m[key]

    def raw(key, limit, scale=600_000):
        value = round(m[key] * scale)
        return None if abs(value) > limit * scale else value

    def sizes():
        given = any(m[side] for side in SIDES)
        return {f"{side}_m": m[side] if given else None for side in SIDES}

    def text(key):
        return m[key] or None

    out = {"type": m["msg_type"], "repeat": m["repeat"], "mmsi": m["mmsi"]}
    scale = 600 if kind == 27 else 600_000
    if kind in (1, 2, 3, 4, 9, 11, 18, 19, 21, 27):
        out |= {"lon": raw("lon", 180, scale), "lat": raw("lat", 90, scale)}
    if kind in (1, 2, 3, 18, 19):
        out |= {
            "sog_kn": unless("speed", 102.3),
            "position_accuracy": m["accuracy"],
            "cog_deg": None if m["course"] >= 360 else m["course"],
            "heading_deg": None if m["heading"] >= 360 else m["heading"],
            "utc_second": m["second"],
            "raim": m["raim"],
        }
    if kind in (1, 2, 3):
        out |= {"nav_status": int(m["status"]), "manoeuvre": int(m["maneuver"])}
        # Whole degrees a minute; not available, or only the side known, are no rate.
        turn = m["turn"]
        out["rate_of_turn_deg_min"] = None if isinstance(turn, TurnRate) else round(turn)
        radio = m["radio"]
        out["sync_state"] = radio >> 17
        if kind == 3:
            out["slot_increment"] = radio >> 4 & 0x1FFF
        else:
            out |= {"slot_timeout": radio >> 14 & 7, "slot_submessage": radio & 0x3FFF}
    if kind in (4, 11):
        out |= {"utc": moment(m), "position_accuracy": m["accuracy"], "epfd": int(m["epfd"])}
    if kind == 5:
        out |= {
            "imo": m["imo"] or None, "call_sign": text("callsign"), "name": text("shipname"),
            "ship_type": int(m["ship_type"]) or None, "epfd": int(m["epfd"]),
            "eta_month": m["month"] if 1 <= m["month"] <= 12 else None,
            "eta_day": m["day"] or None,
            "eta_hour": m["hour"] if m["hour"] < 24 else None,
            "eta_minute": m["minute"] if m["minute"] < 60 else None,
            "draught_m": m["draught"] or None, "destination": text("destination"), **sizes(),
        }
    if kind == 9:
        out |= {
            "altitude_m": unless("alt", 4095), "sog_kn": unless("speed", 1023),
            "cog_deg": None if m["course"] >= 360 else m["course"], "utc_second": m["second"],
        }
    if kind == 12:
        out |= {
            "sequence": m["seqno"], "destination_mmsi": m["dest_mmsi"],
            "retransmit": bool(m["retransmit"]), "text": m["text"] or "",
        }
    if kind == 14:
        # None of a text without a character.
        out["text"] = m["text"] or ""
    if kind == 18:
        out["carrier_sense"] = m["cs"]
    if kind == 19:
        out |= {"name": text("shipname"), "ship_type": int(m["ship_type"]) or None, **sizes()}
    if kind == 21:
        out |= {
            "aid_type": int(m["aid_type"]), "off_position": m["off_position"],
            "virtual_aid": m["virtual_aid"],
            "name": (m["name"] or "") + (m["name_ext"] or "") or None,
        }
    if kind == 24 and m["partno"] == 0:
        out |= {"part": "A", "name": text("shipname")}
    if kind == 24 and m["partno"] == 1:
        out |= {
            "part": "B", "ship_type": int(m["ship_type"]) or None, "vendor": text("vendorid"),
            "call_sign": text("callsign"),
        }
        if "mothership_mmsi" in m:
            out["parent_mmsi"] = m["mothership_mmsi"] or None
        else:
            out |= sizes()
    if kind == 27:
        out |= {
            "nav_status": int(m["status"]), "sog_kn": unless("speed", 63),
            "cog_deg": None if m["course"] >= 360 else m["course"],
        }
    return out


def moment(m: dict) -> str | None:
    try:
        when = datetime(m["year"], m["month"], m["day"], m["hour"], m["minute"], m["second"])
    except ValueError:
        return None
    return when.strftime("%Y-%m-%dT%H:%M:%S.000Z").rjust(24, "0")


def explain(message: dict, key: str, ours, theirs) -> str | None:
    """Why a value of pyais is not ours, if it is known."""
    kind = message["type"]
    if key == "parent_mmsi" and message["station"] == "unassigned":
        return "pyais takes 980, 981, 988 and 989 for craft of a parent ship; 98 needs a country (M.585)"
    if key == "parent_mmsi" and ours is None and not 200_000_000 <= theirs < 800_000_000:
        return "pyais takes the size that such craft send for their parent's identity"
    if key == "ship_type" and ours and int(ShipType.from_value(ours)) == (theirs or 0):
        return "pyais has one code for several"
    if isinstance(theirs, str) and (ours is None or isinstance(ours, str)):
        own = ours or ""
        if kind == 21 and own.replace(" ", "") == theirs.replace(" ", ""):
            return "pyais trims an aid's name before it joins the extension"
        if kind == 21 and len(own) < 20 and theirs.startswith(own):
            return "pyais joins an extension to a name that ended before its place"
        if own.strip() == theirs.split("@")[0].strip():
            return "pyais drops leading blanks and keeps what stands behind an `@`"
        if key == "text" and theirs[:-1] == own:
            return "pyais makes a character of a left-over of less than six bits"
    return None


def explain_reject(reject: str) -> str | None:
    return {
        "too_short": "pyais reads a message cut short, and fields from half their bits",
        "bad_armour": "pyais reads characters that six-bit armour does not have",
        "bad_field": "pyais reads an identity of more than nine digits, or a part of no message",
    }.get(reject)


def check_random_messages(report: Report) -> None:
    """Messages made of random fields, encoded by pyais and read by us."""
    chance = random.Random(SEED)
    lines: list[bytes] = []
    sent: dict[tuple[bytes, ...], dict] = {}
    for kind in (1, 2, 3, 4, 5, 9, 11, 12, 14, 18, 19, 21, 24, 27):
        for count in range(MESSAGES_PER_TYPE):
            message = random_message(chance, kind)
            channel = chance.choice("AB")
            sentences = pyais.encode_dict(
                message, sentence_type="VDM", radio_channel=channel, seq_id=count % 10
            )
            whole = [sentence.encode() for sentence in sentences]
            lines += whole
            sent[tuple(whole)] = message
    check_lines(report, lines, lambda whole: sent[tuple(whole)])


def random_message(chance: random.Random, kind: int) -> dict:
    def bits(count):
        return chance.getrandbits(count)

    def text(longest):
        # Blanks at either end are compared on recordings: pyais drops the leading ones.
        return "".join(chance.choice(LETTERS) for _ in range(chance.randint(0, longest))).strip()

    scale = 600 if kind == 27 else 600_000
    lon = chance.choice([181 * scale, chance.randint(-180 * scale, 180 * scale)])
    lat = chance.choice([91 * scale, chance.randint(-90 * scale, 90 * scale)])
    sizes = dict(zip(SIDES, (bits(9), bits(9), bits(6), bits(6))))
    m = {
        "type": kind, "msg_type": kind, "repeat": bits(2),
        "mmsi": chance.choice([chance.randint(0, 999_999_999), chance.randint(970_000_000, 974_999_999)]),
        "lon": lon / scale, "lat": lat / scale, "accuracy": bool(bits(1)), "raim": bool(bits(1)),
        "second": bits(6), "course": bits(12) / 10, "heading": bits(9), "speed": bits(10) / 10,
    }
    if kind in (1, 2, 3):
        # Rates that pyais brings back to the raw value they came from.
        raw_turn = chance.choice([-128, *range(-126, 127)])
        degrees = 0.0 if raw_turn == 0 else (raw_turn / 4.733) ** 2 * (1 if raw_turn > 0 else -1)
        m |= {
            "status": bits(4), "maneuver": bits(2), "radio": bits(19),
            "turn": TurnRate.NO_TI_DEFAULT if raw_turn == -128 else degrees,
        }
    if kind in (4, 11):
        m |= {
            "year": chance.choice([0, chance.randint(1, 9999)]), "month": chance.randint(0, 13),
            "day": bits(5), "hour": chance.randint(0, 25), "minute": chance.randint(0, 61),
            "second": chance.randint(0, 61), "epfd": chance.choice([*range(9), 15]),
        }
    if kind == 5:
        m |= {
            "imo": bits(30), "callsign": text(7), "shipname": text(20), "ship_type": chance.choice(SHIP_TYPES),
            "epfd": chance.choice([*range(9), 15]), "month": bits(4), "day": bits(5), "hour": bits(5),
            "minute": bits(6), "draught": bits(8) / 10, "destination": text(20), **sizes,
        }
    if kind == 9:
        m |= {"alt": bits(12), "speed": bits(10)}
    if kind == 12:
        m |= {
            "seqno": bits(2), "dest_mmsi": chance.randint(0, 999_999_999),
            "retransmit": bool(bits(1)), "text": text(156) or "A",
        }
    if kind == 14:
        m["text"] = text(161) or "A"
    if kind == 18:
        m["cs"] = bool(bits(1))
    if kind == 19:
        m |= {"shipname": text(20), "ship_type": chance.choice(SHIP_TYPES), **sizes}
    if kind == 21:
        m |= {
            "aid_type": bits(5), "name": text(20), "name_ext": None, "off_position": bool(bits(1)),
            "virtual_aid": bool(bits(1)), "epfd": chance.randint(0, 8),
        }
    if kind == 24:
        m |= {
            "partno": bits(1), "shipname": text(20), "ship_type": chance.choice(SHIP_TYPES),
            "vendorid": text(3), "model": bits(4), "serial": bits(20), "callsign": text(7), **sizes,
        }
        if m["mmsi"] // 10_000_000 == 98:
            m["mothership_mmsi"] = chance.randint(1, 999_999_999)
    if kind == 27:
        m |= {"status": bits(4), "speed": bits(6), "course": bits(9)}
    return m
