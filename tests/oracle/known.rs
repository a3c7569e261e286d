//! Where the other decoders and ours disagree, and why.

use overside::wire::Bits;
use serde_json::Value;

/// Another decoder.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Library {
    /// The crate `ais` 0.12.
    Ais,
    /// The crate `nmea-parser` 0.11.
    NmeaParser,
}

/// What two decoders disagree about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum What {
    /// A field, by its name in our JSON.
    Field(&'static str),
    /// We read the message, the other does not.
    OnlyOurs,
    /// The other reads it, we do not.
    OnlyTheirs,
}

impl What {
    /// Whether it is about this field, or, by the names `only_ours` and `only_theirs`, all.
    pub fn concerns(self, key: &str) -> bool {
        match self {
            Self::Field(name) => name == key,
            Self::OnlyOurs => key == "only_ours",
            Self::OnlyTheirs => key == "only_theirs",
        }
    }
}

/// One disagreement.
pub struct Difference<'a> {
    pub library: Library,
    pub what: What,
    pub ours: Value,
    /// Their value, all their fields, or why they did not read it.
    pub theirs: Value,
    pub kind: u8,
    pub bits: &'a Bits,
    pub facts: &'a serde_json::Map<String, Value>,
    pub parts: usize,
}

/// A disagreement that is understood.
pub struct Known {
    pub library: Library,
    pub what: What,
    /// The narrowest condition that covers it.
    pub when: When,
    /// What they do, and why that is not what we do.
    pub reason: &'static str,
}

impl Known {
    pub fn explains(&self, difference: &Difference<'_>) -> bool {
        self.library == difference.library
            && self.what == difference.what
            && (self.when)(difference)
    }
}

/// Every disagreement that is understood. In each of them the standard is on our side, or leaves it
/// open and `tests/vectors/trap_*.toml` say what we decided.
pub const DIFFERENCES: &[Known] = &[
    // The crate `ais`.
    ais(
        "nav_status",
        |d| is(d, 15) && d.theirs.is_null(),
        "says nothing for status 15, which a beacon under test sends; M.1371-5 table 48 has it",
    ),
    ais(
        "channel",
        |d| d.theirs == "1" || d.theirs == "2",
        "passes on the channel as some receivers number it; the contract reads 1 and 2 as A and B",
    ),
    ais(
        "heading_deg",
        |d| unused(d, 359.0),
        "passes on a heading of 360 to 510, which M.1371-5 leaves unused",
    ),
    ais("lat", |d| unused(d, 90.0), "passes on a latitude beyond the pole"),
    ais("lon", |d| unused(d, 180.0), "passes on a longitude beyond 180"),
    ais(
        "name",
        |d| leading_blank(d) || inner_at(d),
        "drops blanks before a text and keeps what stands behind an `@`; we cut at the first `@`",
    ),
    ais(
        "name",
        |d| d.kind == 21 && begins(&d.ours, &d.theirs),
        "leaves out the extension of an aid's name (M.1371-5 table 73)",
    ),
    ais("call_sign", |d| leading_blank(d) || inner_at(d), "as with names"),
    ais("destination", |d| leading_blank(d) || inner_at(d), "as with names"),
    ais("text", |d| leading_blank(d) || inner_at(d), "as with names"),
    ais("text", one_more, "makes a character of a left-over of less than six bits"),
    ais_only_ours(|d| matches!(d.kind, 22 | 23 | 25 | 26 | 28..), "does not know the type"),
    // The crate `nmea-parser`.
    nmea_parser(
        "rate_of_turn_deg_min",
        |d| d.theirs.is_number() && !is(d, 0),
        "squares the rate times 708/126: 5.6 squared too large (M.1371-5 table 48)",
    ),
    nmea_parser(
        "manoeuvre",
        |d| (is(d, 1) || is(d, 2)) && d.theirs == true,
        "tells engaged and not engaged apart from nothing, not from each other",
    ),
    nmea_parser(
        "manoeuvre",
        |d| is(d, 3) && d.theirs == 0,
        "reads 3, which has no meaning, as not available; we give it as sent",
    ),
    nmea_parser(
        "raim",
        |d| d.kind == 18 && d.theirs == d.bits.flag(141),
        "reads bit 141 of type 18, the carrier-sense flag; RAIM is bit 147 (table 70)",
    ),
    nmea_parser("heading_deg", |d| unused(d, 359.0), "passes on a heading of 360 to 510"),
    nmea_parser("cog_deg", |d| unused(d, 359.9), "passes on a course above 359.9"),
    nmea_parser("lat", |d| d.kind != 27 && unused(d, 90.0), "passes on a latitude beyond the pole"),
    nmea_parser(
        "lon",
        |d| unused(d, 180.0),
        "passes on a longitude beyond 180; in type 27 `not available` too",
    ),
    nmea_parser("lat", |d| d.kind == 27 && unused(d, 90.0), "as with longitude"),
    nmea_parser("sog_kn", |d| d.kind == 27, "reads speed within the latitude (table 84: bit 79)"),
    nmea_parser("cog_deg", |d| d.kind == 27, "reads course within the latitude (table 84: bit 85)"),
    nmea_parser("eta_month", no_eta, COMPLETES),
    nmea_parser("eta_day", no_eta, COMPLETES),
    nmea_parser("eta_hour", no_eta, COMPLETES),
    nmea_parser("eta_minute", no_eta, COMPLETES),
    nmea_parser(
        "name",
        |d| d.kind == 21 && begins(&d.theirs, &d.ours),
        "adds the extension, or the spare bits, to a name that ended before",
    ),
    nmea_parser(
        "text",
        one_more,
        "makes a character of fill bits or of a left-over of less than six bits",
    ),
    nmea_parser_only_ours(
        |d| matches!(d.kind, 4 | 11) && d.facts["utc"].is_null(),
        "loses a base station's whole report when it does not know the time",
    ),
    nmea_parser_only_ours(|d| matches!(d.kind, 7 | 8) && d.parts <= 2, "does not know the type"),
    nmea_parser_only_ours(
        |d| d.kind == 24 && d.theirs == WAITING,
        "says nothing of half a type 24, and joins any two halves",
    ),
    nmea_parser_only_ours(
        |d| matches!(d.kind, 25 | 26) && d.theirs == "panic",
        "panics on a short type 25 or 26",
    ),
    nmea_parser_only_ours(
        |d| d.parts > 2 && d.theirs == WAITING,
        "puts two sentences together, never three",
    ),
    nmea_parser_only_ours(
        |d| d.theirs.as_str().is_some_and(|t| t.contains("Corrupted")),
        "rejects a checksum in lower case",
    ),
    nmea_parser_only_theirs(
        |d| d.ours == "too short for its message type",
        "reads what is not there: a position of 0, 0 from a report cut short",
    ),
];

const WAITING: &str = "still waiting for parts";
const COMPLETES: &str = "completes a time of arrival that is given in part, by 1 January and 23:59";

/// Examples as in `tests/vectors/trap_*.toml`: the sentence, who is wrong about it, and in what.
pub const TRAPS: &[(&str, Library, &str)] = &[
    ("!AIVDM,1,1,,A,13P7ETP,0*02", Library::NmeaParser, "only_theirs"),
    ("!AIVDM,1,1,,A,13P7ETP01swe7uD,0*64", Library::NmeaParser, "only_theirs"),
    (
        "!AIVDM,1,1,,A,13P7ETP8Aswe7uDLcTmTlSm2030q,0*7C",
        Library::NmeaParser,
        "rate_of_turn_deg_min",
    ),
    ("!AIVDM,1,1,,A,K3P7ET`6`>6bTOwt,0*6C", Library::Ais, "lon"),
    ("!AIVDM,1,1,,A,K3P7ET`6`>6bTOwt,0*6C", Library::NmeaParser, "lat"),
    ("!AIVDM,1,1,,A,K3P7ET`?nESbu67d,0*7D", Library::NmeaParser, "sog_kn"),
    ("!AIVDM,1,1,,A,K3P7ET`?nESbu67d,0*7D", Library::NmeaParser, "cog_deg"),
    ("!AIVDM,1,1,,A,13P7ETP01swe7uDkj=H4lSm2030q,0*06", Library::Ais, "lat"),
    ("!AIVDM,1,1,,A,13P7ETP01swe7uDkj=H4lSm2030q,0*06", Library::NmeaParser, "lat"),
    ("!AIVDM,1,1,,A,402?OV0000HttdtSF0l4Q@700000,0*05", Library::NmeaParser, "only_ours"),
    ("!AIVDM,1,1,,A,>>O5e@0lt:1@E=C,2*23", Library::NmeaParser, "text"),
    ("!AIVDM,1,1,,A,>>O5e@0lt:1@E=Cp,3*52", Library::NmeaParser, "text"),
    ("!AIVDM,1,1,,A,>>O5e@0lt:1@E=Cp,3*52", Library::Ais, "text"),
    ("!AIVDM,1,1,,A,>>O5e@0lt81@E=@,2*22", Library::Ais, "text"),
    ("!AIVDM,1,1,,A,JEuoFED,2*76", Library::NmeaParser, "only_ours"),
    ("!AIVDM,1,1,,A,13P7ETP01swe7uDLcTmTlSm20008,0*4e", Library::NmeaParser, "only_ours"),
    ("!AIVDM,1,1,,A,1>Nvs>O01sdtSF0l4Q@4lSm2030q,0*0B", Library::Ais, "nav_status"),
];

type When = fn(&Difference<'_>) -> bool;

const fn ais(key: &'static str, when: When, reason: &'static str) -> Known {
    Known { library: Library::Ais, what: What::Field(key), when, reason }
}

const fn ais_only_ours(when: When, reason: &'static str) -> Known {
    Known { library: Library::Ais, what: What::OnlyOurs, when, reason }
}

const fn nmea_parser(key: &'static str, when: When, reason: &'static str) -> Known {
    Known { library: Library::NmeaParser, what: What::Field(key), when, reason }
}

const fn nmea_parser_only_ours(when: When, reason: &'static str) -> Known {
    Known { library: Library::NmeaParser, what: What::OnlyOurs, when, reason }
}

const fn nmea_parser_only_theirs(when: When, reason: &'static str) -> Known {
    Known { library: Library::NmeaParser, what: What::OnlyTheirs, when, reason }
}

/// Whether our value is this number.
fn is(d: &Difference<'_>, number: u64) -> bool {
    d.ours.as_f64() == Some(number as f64)
}

/// Null with us, and with them a number beyond the last that has a meaning.
fn unused(d: &Difference<'_>, last: f64) -> bool {
    d.ours.is_null() && d.theirs.as_f64().is_some_and(|value| value.abs() > last + 1e-4)
}

/// Ours begins with blanks and is theirs otherwise.
fn leading_blank(d: &Difference<'_>) -> bool {
    matches!((&d.ours, &d.theirs), (Value::String(ours), Value::String(theirs))
        if ours.starts_with(' ') && ours.trim_start() == theirs)
}

/// Ours is theirs up to the first `@`.
fn inner_at(d: &Difference<'_>) -> bool {
    let ours = d.ours.as_str().unwrap_or("");
    d.theirs.as_str().and_then(|t| t.split_once('@')).is_some_and(|(t, _)| t.trim_end() == ours)
}

/// Theirs has one character more at its end.
fn one_more(d: &Difference<'_>) -> bool {
    begins(&d.theirs, &d.ours)
        && d.theirs.as_str().map(str::len) == d.ours.as_str().map(|ours| ours.len() + 1)
}

/// Whether `whole` begins with all of `start`.
fn begins(whole: &Value, start: &Value) -> bool {
    matches!((whole, start), (Value::String(whole), Value::String(start)) if whole.starts_with(start.as_str()))
}

/// Whether part of a time of arrival is not available.
fn no_eta(d: &Difference<'_>) -> bool {
    let keys = ["eta_month", "eta_day", "eta_hour", "eta_minute"];
    d.ours.is_null() && keys.iter().any(|&key| d.facts[key].is_null())
}

/// The name as a constant.
pub fn field(key: &str) -> &'static str {
    const FIELDS: &[&str] = &[
        "type",
        "repeat",
        "mmsi",
        "channel",
        "own",
        "nav_status",
        "rate_of_turn_deg_min",
        "sog_kn",
        "position_accuracy",
        "lon",
        "lat",
        "cog_deg",
        "heading_deg",
        "utc_second",
        "manoeuvre",
        "raim",
        "sync_state",
        "slot_timeout",
        "slot_submessage",
        "slot_increment",
        "utc",
        "epfd",
        "imo",
        "call_sign",
        "name",
        "ship_type",
        "to_bow_m",
        "to_stern_m",
        "to_port_m",
        "to_starboard_m",
        "eta_month",
        "eta_day",
        "eta_hour",
        "eta_minute",
        "draught_m",
        "destination",
        "altitude_m",
        "sequence",
        "destination_mmsi",
        "retransmit",
        "text",
        "carrier_sense",
        "aid_type",
        "off_position",
        "virtual_aid",
        "part",
        "vendor",
    ];
    FIELDS.iter().find(|name| **name == key).copied().unwrap_or("a field without a name here")
}
