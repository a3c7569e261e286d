//! Who takes nothing for long is given up.

use std::io;
use std::pin::Pin;
use std::task::{Context, Poll, ready};
use std::time::Duration;

use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio::net::TcpStream;
use tokio::time::{Sleep, sleep};

/// Nobody is waited for longer than this. Our own: the page itself gives up after 5 s.
const PATIENCE: Duration = Duration::from_secs(10);

/// A connection that ends if nothing can be written to it for long.
#[derive(Debug)]
pub(super) struct Patient {
    stream: TcpStream,
    /// Since something could not be written.
    waits: Option<Pin<Box<Sleep>>>,
}

impl Patient {
    pub(super) const fn new(stream: TcpStream) -> Self {
        Self { stream, waits: None }
    }

    /// Gives up if what was to be written waits for too long.
    fn judge<T>(
        &mut self,
        done: Poll<io::Result<T>>,
        now: &mut Context<'_>,
    ) -> Poll<io::Result<T>> {
        if done.is_ready() {
            self.waits = None;
            return done;
        }
        let waits = self.waits.get_or_insert_with(|| Box::pin(sleep(PATIENCE)));
        ready!(waits.as_mut().poll(now));
        Poll::Ready(Err(io::ErrorKind::TimedOut.into()))
    }
}

impl AsyncRead for Patient {
    fn poll_read(
        mut self: Pin<&mut Self>,
        now: &mut Context<'_>,
        into: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_read(now, into)
    }
}

impl AsyncWrite for Patient {
    fn poll_write(
        mut self: Pin<&mut Self>,
        now: &mut Context<'_>,
        bytes: &[u8],
    ) -> Poll<io::Result<usize>> {
        let done = Pin::new(&mut self.stream).poll_write(now, bytes);
        self.judge(done, now)
    }

    fn poll_flush(mut self: Pin<&mut Self>, now: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_flush(now)
    }

    fn poll_shutdown(mut self: Pin<&mut Self>, now: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_shutdown(now)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use tokio::io::AsyncWriteExt as _;
    use tokio::net::TcpListener;
    use tokio::time::Instant;

    #[tokio::test(start_paused = true)]
    async fn who_takes_nothing_is_given_up_and_who_takes_slowly_is_not() {
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let reader = TcpStream::connect(listener.local_addr().unwrap()).await.unwrap();
        let (stream, _) = listener.accept().await.unwrap();
        let mut patient = Patient::new(stream);
        let begun = Instant::now();
        let why = loop {
            if let Err(why) = patient.write_all(&[0; 65_536]).await {
                break why;
            }
        };
        assert_eq!(why.kind(), io::ErrorKind::TimedOut);
        assert!(begun.elapsed() >= PATIENCE, "{:?}", begun.elapsed());
        // Room again: the time that was waited before does not count any more.
        let mut taken = vec![0; 1 << 20];
        while reader.try_read(&mut taken).is_ok_and(|count| count > 0) {}
        sleep(Duration::from_millis(10)).await;
        patient.write_all(&[0; 1024]).await.unwrap();
        assert!(patient.waits.is_none());
    }
}
