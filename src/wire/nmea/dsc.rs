//! DSC: a digital selective call that the radio received (IEC 61162-1; symbols of M.493-16).
//!
//! The sentence carries the two low digits of each M.493 symbol, and identities with a zero added.

use serde::Serialize;

use super::super::reject::Reject;
use super::super::sentence::Fields;
use super::call_position::CallPosition;
use super::dse::Dse;
use super::field;
use crate::mmsi::Mmsi;
use crate::position::Position;

/// `$--DSC,xx,xxxxxxxxxx,xx,xx,xx,x.x,x.x,xxxxxxxxxx,xx,a,a*hh`
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Dsc {
    /// Whom the call is for.
    pub format: Option<CallFormat>,
    /// The station that sent the call; `None` for an area call, whose field holds the area.
    pub caller_mmsi: Option<Mmsi>,
    /// How urgent it is; `None` if not given, as a distress alert may leave it.
    pub category: Option<Category>,
    /// The nature of the distress; `None` if not given or unknown.
    pub nature: Option<Nature>,
    /// First telecommand, the symbol less 100; `None` in a distress alert.
    pub first_telecommand: Option<u8>,
    /// Second telecommand, or in a distress alert the type of communication, the symbol less 100.
    pub second_telecommand: Option<u8>,
    /// Latitude in degrees, north positive; whole minutes until a DSE refines it.
    pub lat: Option<f64>,
    /// Longitude in degrees, east positive; likewise.
    pub lon: Option<f64>,
    /// The time of the position, UTC, as four digits; `None` if the call says 8888.
    pub utc_hhmm: Option<String>,
    /// The station in distress: the caller of an alert, the one a relay or acknowledgement names.
    pub casualty_mmsi: Option<Mmsi>,
    /// Whether the call asks for an acknowledgement or is one.
    pub acknowledgement: Option<Acknowledgement>,
    /// Whether a DSE follows that refines the position.
    pub expansion_follows: bool,
    /// What it all means.
    pub meaning: Meaning,
    #[serde(skip)]
    position: Option<CallPosition>,
}

/// Format specifiers (M.493-16 table A1-3).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
#[expect(missing_docs, reason = "the names are the standard's")]
pub enum CallFormat {
    Area,
    Distress,
    Group,
    AllShips,
    Individual,
    IndividualAutomatic,
}

/// Categories. Symbol 106 (ACS; in older sets ship's business) and others unknown read as none.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
#[expect(missing_docs, reason = "the names are the standard's")]
pub enum Category {
    Routine,
    Safety,
    Urgency,
    Distress,
}

/// Natures of distress.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
#[expect(missing_docs, reason = "the names are the standard's")]
pub enum Nature {
    Fire,
    Flooding,
    Collision,
    Grounding,
    Listing,
    Sinking,
    DisabledAdrift,
    Undesignated,
    Abandoning,
    Piracy,
    ManOverboard,
    EpirbEmission,
}

/// The end of a call's sequence: symbols 117, 122 and 127.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Acknowledgement {
    /// `R`: the call asks for one.
    Requested,
    /// `B`: the call is one.
    Given,
    /// `S`: neither.
    None,
}

/// What format, category and telecommands mean together.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Meaning {
    /// A station in distress calls.
    DistressAlert,
    /// A station passes on another's distress.
    DistressRelay,
    /// A station acknowledges another's distress.
    DistressAcknowledgement,
    /// A station takes back its own distress alert.
    DistressCancel,
    /// An urgency call.
    Urgency,
    /// A safety call.
    Safety,
    /// A test call or its answer.
    Test,
    /// A request for a position or a report of one.
    Position,
    /// Anything else.
    Other,
}

impl Nature {
    /// What a person reads.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Fire => "fire or explosion",
            Self::Flooding => "flooding",
            Self::Collision => "collision",
            Self::Grounding => "grounding",
            Self::Listing => "listing, in danger of capsizing",
            Self::Sinking => "sinking",
            Self::DisabledAdrift => "disabled and adrift",
            Self::Undesignated => "nature not given",
            Self::Abandoning => "abandoning ship",
            Self::Piracy => "piracy or armed robbery",
            Self::ManOverboard => "man overboard",
            Self::EpirbEmission => "emergency beacon",
        }
    }
}

impl Meaning {
    /// What a person reads.
    pub const fn name(self) -> &'static str {
        match self {
            Self::DistressAlert => "distress alert",
            Self::DistressRelay => "distress relay",
            Self::DistressAcknowledgement => "distress acknowledgement",
            Self::DistressCancel => "distress cancelled",
            Self::Urgency => "urgency call",
            Self::Safety => "safety call",
            Self::Test => "test call",
            Self::Position => "position report",
            Self::Other => "call",
        }
    }
}

impl Dsc {
    /// Whether it is a man-overboard event: a 972 identity calls or is the casualty, or the nature
    /// says so; unless the call is a test or a position report.
    pub fn is_man_overboard(&self) -> bool {
        let is_mob = |mmsi: Option<Mmsi>| {
            mmsi.and_then(Mmsi::beacon_kind) == Some(crate::mmsi::BeaconKind::Mob)
        };
        !matches!(self.meaning, Meaning::Test | Meaning::Position)
            && (is_mob(self.caller_mmsi)
                || is_mob(self.casualty_mmsi)
                || self.nature == Some(Nature::ManOverboard))
    }

    /// Whom it is about, as far as it tells: who passes a distress on, or acknowledges it, is not the
    /// casualty, unless that is a survivor beacon, which passes on nobody else's.
    pub fn about(&self) -> Option<Mmsi> {
        let is_by_another =
            matches!(self.meaning, Meaning::DistressRelay | Meaning::DistressAcknowledgement);
        let caller = self.caller_mmsi.filter(|it| !is_by_another || it.beacon_kind().is_some());
        self.casualty_mmsi.or(caller)
    }

    /// The place it names, as far as a DSE has refined it.
    pub fn position(&self) -> Option<Position> {
        Position::of(self.lat, self.lon)
    }

    /// Whether a DSE has brought the decimals of its minutes.
    pub fn is_refined(&self) -> bool {
        self.position.is_some_and(CallPosition::is_refined)
    }

    /// Joins the decimals of a DSE that follows. The expansion of a relay carries the relaying
    /// station's identity, and its decimals are still the casualty's.
    ///
    /// Returns whether it belongs to this call and had decimals for a position.
    pub fn refine(&mut self, dse: &Dse) -> bool {
        let same = dse.mmsi.is_none() || self.caller_mmsi.is_none() || dse.mmsi == self.caller_mmsi;
        let (true, Some(position), Some(decimals)) = (same, self.position, dse.decimals()) else {
            return false;
        };
        self.set_position(Some(position.refined(decimals)));
        true
    }

    /// The call as two radios have read it, one of them perhaps less of it; `None` if they are two
    /// calls, for all that can be known.
    pub fn joined(&self, other: &Self) -> Option<Self> {
        let whose = |it: &Self| (it.format, it.caller_mmsi, it.casualty_mmsi, it.meaning);
        if self.caller_mmsi.is_none() || whose(self) != whose(other) {
            return None;
        }
        let mut joined = Self {
            category: either(self.category, other.category)?,
            nature: either(self.nature, other.nature)?,
            first_telecommand: either(self.first_telecommand, other.first_telecommand)?,
            second_telecommand: either(self.second_telecommand, other.second_telecommand)?,
            utc_hhmm: either(self.utc_hhmm.clone(), other.utc_hhmm.clone())?,
            acknowledgement: either(self.acknowledgement, other.acknowledgement)?,
            expansion_follows: self.expansion_follows || other.expansion_follows,
            ..self.clone()
        };
        joined.set_position(either(self.position, other.position)?);
        Some(joined)
    }

    pub(super) fn parse(mut fields: Fields<'_>) -> Result<Self, Reject> {
        let format = code(&mut fields).and_then(call_format);
        let address = fields.take();
        let caller_mmsi = address.filter(|_| format != Some(CallFormat::Area)).and_then(identity);
        let category = code(&mut fields).and_then(category_of);
        let fourth = code(&mut fields);
        let fifth = code(&mut fields);
        let position = fields.take().and_then(CallPosition::parse);
        let utc_hhmm = fields.take().and_then(hhmm);
        let named = fields.take().and_then(identity);
        let named_nature = code(&mut fields);
        let acknowledgement = match fields.take() {
            Some(b"R") => Some(Acknowledgement::Requested),
            Some(b"B") => Some(Acknowledgement::Given),
            Some(b"S") => Some(Acknowledgement::None),
            _ => None,
        };
        let expansion_follows = fields.take() == Some(b"E");

        let is_alert = format == Some(CallFormat::Distress);
        let first_telecommand = fourth.filter(|_| !is_alert);
        let nature = if is_alert { fourth } else { named_nature }.and_then(nature_of);
        let casualty_mmsi = named.or(caller_mmsi.filter(|_| is_alert));
        let meaning = if is_alert {
            // A radio's own form of a self-cancel names the sender as casualty.
            if named.is_some() && named == caller_mmsi {
                Meaning::DistressCancel
            } else {
                Meaning::DistressAlert
            }
        } else {
            meaning_of(category, first_telecommand, named.is_some() && named == caller_mmsi)
        };
        let mut call = Self {
            format,
            caller_mmsi,
            category,
            nature,
            first_telecommand,
            second_telecommand: fifth,
            lat: None,
            lon: None,
            utc_hhmm,
            casualty_mmsi,
            acknowledgement,
            expansion_follows,
            meaning,
            position: None,
        };
        call.set_position(position);
        if call.format.is_none() && call.caller_mmsi.is_none() {
            return Err(Reject::BadField);
        }
        Ok(call)
    }

    fn set_position(&mut self, position: Option<CallPosition>) {
        self.position = position;
        (self.lat, self.lon) = position.map(CallPosition::degrees).unzip();
    }
}

/// What one of two tells, or both alike; `None` if each tells something else.
fn either<T: PartialEq>(one: Option<T>, other: Option<T>) -> Option<Option<T>> {
    match (one, other) {
        (Some(one), Some(other)) => (one == other).then_some(Some(one)),
        (one, other) => Some(one.or(other)),
    }
}

/// The meaning of a call that is no distress alert: relay and acknowledgement after M.493-15 tables
/// A1-4.2 to A1-4.4, the others by the first telecommand and category of M.493-16 table A1-3.
fn meaning_of(category: Option<Category>, first: Option<u8>, of_itself: bool) -> Meaning {
    match (category, first) {
        // An acknowledgement of its own distress is a self-cancel (M.493-16 table A1-4.2).
        (Some(Category::Distress), Some(10)) if of_itself => Meaning::DistressCancel,
        (Some(Category::Distress), Some(10)) => Meaning::DistressAcknowledgement,
        (Some(Category::Distress), _) => Meaning::DistressRelay,
        (_, Some(18)) => Meaning::Test,
        (_, Some(21)) => Meaning::Position,
        (Some(Category::Urgency), _) => Meaning::Urgency,
        (Some(Category::Safety), _) => Meaning::Safety,
        _ => Meaning::Other,
    }
}

/// A code that is no format of M.493-15 4.1, such as the 21 of one library's list, is none, and the
/// rest of the call counts all the same.
fn call_format(code: u8) -> Option<CallFormat> {
    Some(match code {
        2 => CallFormat::Area,
        12 => CallFormat::Distress,
        14 => CallFormat::Group,
        16 => CallFormat::AllShips,
        20 => CallFormat::Individual,
        23 => CallFormat::IndividualAutomatic,
        _ => return None,
    })
}

fn category_of(code: u8) -> Option<Category> {
    Some(match code {
        0 => Category::Routine,
        8 => Category::Safety,
        10 => Category::Urgency,
        12 => Category::Distress,
        _ => return None,
    })
}

fn nature_of(code: u8) -> Option<Nature> {
    Some(match code {
        0 => Nature::Fire,
        1 => Nature::Flooding,
        2 => Nature::Collision,
        3 => Nature::Grounding,
        4 => Nature::Listing,
        5 => Nature::Sinking,
        6 => Nature::DisabledAdrift,
        7 => Nature::Undesignated,
        8 => Nature::Abandoning,
        9 => Nature::Piracy,
        10 => Nature::ManOverboard,
        12 => Nature::EpirbEmission,
        _ => return None,
    })
}

/// The next field as a code of two digits; anything else is no code, and the call still counts.
fn code(fields: &mut Fields<'_>) -> Option<u8> {
    let field = fields.take()?;
    field::two(field, 0).filter(|_| field.len() == 2).map(|code| code as u8)
}

/// An identity of nine digits with a zero added (M.493-15 5.2, note 1); nine alone are taken.
pub(super) fn identity(field: &[u8]) -> Option<Mmsi> {
    if !matches!(field.len(), 9 | 10) || !field.iter().all(u8::is_ascii_digit) {
        return None;
    }
    Mmsi::new(field[..9].iter().fold(0, |value, digit| value * 10 + u32::from(digit - b'0')))
}

/// Four digits of a time; 8888 says that there is none (M.493-15 8.1.3), and a telephone number is
/// none.
fn hhmm(field: &[u8]) -> Option<String> {
    let [hour, minute] = [field::two(field, 0)?, field::two(field, 2)?];
    (field.len() == 4 && hour < 24 && minute < 60).then(|| format!("{hour:02}{minute:02}"))
}
