//! The conditions of an AIS set that count here, and by what they are known.

/// A condition, by its number in the list of alarms, and whether it holds.
pub(super) type Condition = (u16, bool);

/// The set receives an active survivor beacon (IEC 61993-2, the list of alarms as five makers print
/// it).
pub(super) const ACTIVE_BEACON: u16 = 14;

/// The same as an alert of bridge alert management (IEC 61993-2 edition 3; from memory).
const LOCATING_DEVICE: u32 = 3108;

/// What the loss of one channel costs: as much as half of all messages lost, in `tests/losses.rs`.
pub(super) const ONE_CHANNEL: &str = "Of a beacon's eight messages a minute four are left: the alarm may come 6 s later, seldom a minute";

/// What a set reports of itself that costs hearing or ranges, by the numbers of the same list, what
/// of its title is enough to know it by, and what it costs.
pub(super) const CONDITIONS: [(u16, &str, &str, &str); 7] = [
    (2, "VSWR", "antenna mismatch", "It hears less far, or nothing"),
    (3, "RX CHANNEL 1", "channel A is not received", ONE_CHANNEL),
    (4, "RX CHANNEL 2", "channel B is not received", ONE_CHANNEL),
    (
        5,
        "RX CHANNEL 70",
        "its own channel 70 is not received",
        "It may not hear the DSC that directs it",
    ),
    (6, "GENERAL FAILURE", "general failure", "What it hears cannot be counted on"),
    (25, "EXTERNAL EPFS", "its external position is lost", "Ranges may rest on less"),
    (26, "NO SENSOR POS", "it has no position", "It gives no own position"),
];

/// Which condition an alert of a set is about, by its number, else by its title of up to 16
/// characters; `None` if it is about none that counts here.
pub(super) fn condition(number: u32, title: Option<&str>) -> Option<u16> {
    if number == LOCATING_DEVICE {
        return Some(ACTIVE_BEACON);
    }
    let title = title.unwrap_or_default().to_ascii_uppercase();
    let beacon = (ACTIVE_BEACON, "LOCATING DEVICE");
    let all = || CONDITIONS.map(|(it, words, ..)| (it, words)).into_iter().chain([beacon]);
    let by_number = all().find(|(it, _)| u32::from(*it) == number);
    // The longest: channel 70 is not channel 7.
    let by_title = || all().filter(|(_, words)| title.contains(words)).max_by_key(|it| it.1.len());
    by_number.or_else(by_title).map(|(it, _)| it)
}
