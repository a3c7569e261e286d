//! The sounds, made here: one file of 16-bit PCM a priority, each one repetition of its pattern.

use std::f64::consts::TAU;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::time::Duration;

use crate::watch::Priority;

/// Samples a second: enough for 2 500 Hz, the highest pitch there may be. Our own.
pub const RATE: u32 = 22_050;

/// The beginning and end of a tone, without which it clicks. Our own.
const FADE: f64 = 0.008;

/// The length of what stands before the samples.
const HEADER: u64 = 44;

/// A tone or a pause: pitch in hertz (0 is silence) and how long, in milliseconds.
type Tone = (f64, u32);

/// The pattern of a priority, once.
///
/// An emergency is continuous (IEC 62923-1 annex G, figure G.1); its two pitches are no code of
/// A.1021(26) table 7.2, so that nobody takes it for the ship's general alarm. Three short signals
/// are an alarm, two a warning, pitches within 200 to 2 500 Hz (IEC 62923-1, from memory). There is
/// no possibility of mistaking an alarm for a warning (MSC.302(87) 7.3.4): the warning is lower and
/// slower. Which pitches: our own. A caution makes no sound (IEC 62923-1 6.3.6).
const fn pattern(priority: Priority) -> &'static [Tone] {
    match priority {
        Priority::EmergencyAlarm => &[
            (1000.0, 500),
            (1500.0, 500),
            (1000.0, 500),
            (1500.0, 500),
            (1000.0, 500),
            (1500.0, 500),
            (1000.0, 500),
            (1500.0, 500),
        ],
        Priority::Alarm => &[(2000.0, 250), (0.0, 150), (2000.0, 250), (0.0, 150), (2000.0, 250)],
        Priority::Warning => &[(600.0, 300), (0.0, 200), (600.0, 300)],
        Priority::Caution => &[],
    }
}

/// How long the sound of a priority lasts.
pub fn length(priority: Priority) -> Duration {
    Duration::from_millis(pattern(priority).iter().map(|&(_, ms)| u64::from(ms)).sum())
}

/// How long the file of a priority is: the header, and two bytes a sample.
fn bytes(priority: Priority) -> u64 {
    let samples = pattern(priority).iter().map(|&(_, ms)| u64::from(RATE * ms / 1000));
    HEADER + 2 * samples.sum::<u64>()
}

/// The sound of a priority as a WAV file: mono, 16 bits.
pub fn wave(priority: Priority) -> Vec<u8> {
    let mut samples: Vec<u8> = Vec::new();
    for &(pitch, ms) in pattern(priority) {
        let count = RATE * ms / 1000;
        for place in 0..count {
            let at = f64::from(place) / f64::from(RATE);
            let left = f64::from(count - place) / f64::from(RATE);
            let fade = (at / FADE).min(left / FADE).min(1.0);
            // A little of the third harmonic is easier to hear on small speakers; the pitch stays.
            let wave = (TAU * pitch * at).sin() + (TAU * pitch * 3.0 * at).sin() / 4.0;
            let sample = (wave * fade * 0.7 * f64::from(i16::MAX)) as i16;
            samples.extend(sample.to_le_bytes());
        }
    }
    let bytes = samples.len() as u32;
    let mut file = Vec::with_capacity(samples.len() + 44);
    file.extend(b"RIFF");
    file.extend((bytes + 36).to_le_bytes());
    file.extend(b"WAVEfmt ");
    // Size of this part, PCM, one channel, rates, bytes a sample, bits a sample.
    file.extend(16_u32.to_le_bytes());
    file.extend(1_u16.to_le_bytes());
    file.extend(1_u16.to_le_bytes());
    file.extend(RATE.to_le_bytes());
    file.extend((RATE * 2).to_le_bytes());
    file.extend(2_u16.to_le_bytes());
    file.extend(16_u16.to_le_bytes());
    file.extend(b"data");
    file.extend(bytes.to_le_bytes());
    file.extend(samples);
    file
}

/// The name of a priority's file.
const fn name(priority: Priority) -> &'static str {
    match priority {
        Priority::EmergencyAlarm => "emergency_alarm.wav",
        Priority::Alarm => "alarm.wav",
        Priority::Warning => "warning.wav",
        Priority::Caution => "caution.wav",
    }
}

/// The file of a priority's sound in a folder of our own; made if it is not there.
///
/// # Errors
/// The folder or the file cannot be written.
pub fn file(folder: &Path, priority: Priority) -> io::Result<PathBuf> {
    let path = folder.join(name(priority));
    // Seen by its length: to make it takes longer than to sound it may.
    if fs::metadata(&path).is_ok_and(|file| file.len() == bytes(priority)) {
        return Ok(path);
    }
    let mut builder = fs::DirBuilder::new();
    builder.recursive(true);
    #[cfg(unix)]
    {
        use std::os::unix::fs::DirBuilderExt as _;
        builder.mode(0o700);
    }
    builder.create(folder)?;
    fs::write(&path, wave(priority))?;
    Ok(path)
}
