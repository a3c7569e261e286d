//! A serial port, opened by its path.

use std::io;

use tokio_serial::SerialStream;

/// Opens the port for this program alone: two readers would each get half of every sentence.
///
/// # Errors
/// Why it cannot be opened, and what to look at.
pub(in crate::edge) fn open(path: &str, baud: u32) -> Result<SerialStream, String> {
    SerialStream::open(&tokio_serial::new(path, baud)).map_err(|error| {
        let error = io::Error::from(error);
        let advice = match error.kind() {
            // The library says the same of a port that is not there and one that is taken.
            io::ErrorKind::NotFound => "is it plugged in, and does no other program use it?",
            // Our own.
            io::ErrorKind::PermissionDenied => "is this user in the port's group, often dialout?",
            _ => "is it a serial port, and is the bit rate one that it can do?",
        };
        format!("it cannot be opened ({error}; {advice})")
    })
}

/// Why a port that was open is lost. A port that vanished reads nothing for ever, without error.
pub(super) fn cause(error: Option<io::Error>) -> String {
    match error {
        Some(error) => format!("the port failed ({error}; unplugged?)"),
        None => "the port vanished (unplugged?)".to_owned(),
    }
}
