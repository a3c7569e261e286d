//! Programs that are started: each in a group of its own, quietly, with an end to its time.

use std::io::{self, Write as _};
use std::process::{Child, Command, Stdio};

use crate::time::Mono;

/// A program that runs, with all that it has started.
#[derive(Debug)]
pub(super) struct Process {
    child: Child,
    /// It hangs if it has not ended by then.
    until: Mono,
}

impl Process {
    /// Starts a program, never through a shell. It gets `input` to read, if there is any, which is
    /// to be shorter than a pipe is deep: then nobody is waited for. Who reads nothing misses it.
    pub(super) fn start(argv: &[String], input: Option<&[u8]>, until: Mono) -> io::Result<Self> {
        let (program, arguments) =
            argv.split_first().ok_or_else(|| io::Error::other("no program is named"))?;
        let mut command = Command::new(program);
        command.args(arguments).stdout(Stdio::null()).stderr(Stdio::null());
        command.stdin(if input.is_some() { Stdio::piped() } else { Stdio::null() });
        #[cfg(unix)]
        {
            use std::os::unix::process::CommandExt as _;
            command.process_group(0);
        }
        let mut child = command.spawn()?;
        if let (Some(bytes), Some(mut stdin)) = (input, child.stdin.take()) {
            let _ = stdin.write_all(bytes);
        }
        Ok(Self { child, until })
    }

    /// How it ended, `None` while it runs. One that hangs is ended here.
    pub(super) fn ended(&mut self, now: Mono) -> Option<Result<(), String>> {
        match self.child.try_wait() {
            Ok(None) if now < self.until => None,
            Ok(None) => {
                self.kill();
                Some(Err("it hangs and was ended".to_owned()))
            }
            Ok(Some(status)) if status.success() => Some(Ok(())),
            Ok(Some(status)) => Some(Err(format!("it ended with {status}"))),
            Err(why) => Some(Err(why.to_string())),
        }
    }

    /// Ends it and its group, and waits for it: that takes no time after such a signal.
    pub(super) fn kill(&mut self) {
        #[cfg(unix)]
        if let Some(group) =
            i32::try_from(self.child.id()).ok().and_then(rustix::process::Pid::from_raw)
        {
            let _ = rustix::process::kill_process_group(group, rustix::process::Signal::KILL);
        }
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

#[cfg(test)]
#[cfg(unix)]
mod tests {
    use std::time::Duration;

    use super::*;

    /// How a shell's command ended, looked at with a clock that stands, then with a late one.
    fn ended(script: &str, input: Option<&[u8]>, waits: bool) -> Result<(), String> {
        let argv = ["sh", "-c", script].map(str::to_owned);
        let until = Mono::START + Duration::from_secs(1);
        let mut process = Process::start(&argv, input, until).unwrap();
        loop {
            let now = if waits { Mono::START } else { until };
            if let Some(end) = process.ended(now) {
                return end;
            }
            std::thread::yield_now();
        }
    }

    #[test]
    fn it_ends_well_badly_or_is_ended() {
        assert_eq!(ended("read line && test \"$line\" = heard", Some(b"heard\n"), true), Ok(()));
        assert!(ended("exit 3", None, true).unwrap_err().contains('3'));
        assert_eq!(ended("sleep 1000", None, false), Err("it hangs and was ended".to_owned()));
        assert!(Process::start(&[], None, Mono::START).is_err());
        // Nothing to read is the end of the input, not the keyboard.
        assert_eq!(ended("! read line", None, true), Ok(()));
    }
}
