//! The one place where threads begin and where a panic ends: a part that panics says so by the way
//! it tells its other faults, begins again, and takes nothing else with it.
//!
//! *Invariant:* no other place catches a panic, and none starts a thread.

use std::cell::{Cell, RefCell};
use std::io;
use std::panic::{AssertUnwindSafe, catch_unwind, resume_unwind};
use std::pin::pin;
use std::sync::Once;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::mpsc::{SendError, sync_channel};
use std::task::Poll;
use std::thread::{Builder, JoinHandle};
use std::time::Duration;

/// How long a part that panicked twice waits before it begins again; doubled each time. Our own.
const PAUSE: Duration = Duration::from_secs(1);
const LONGEST_PAUSE: Duration = Duration::from_secs(10);

/// A message of a panic is cut to so many characters.
const MESSAGE: usize = 200;

thread_local! {
    /// How many calls of [`caught`] this thread is in.
    static DEPTH: Cell<u32> = const { Cell::new(0) };
    /// What the last panic of this thread said, and where.
    static SAID: RefCell<String> = const { RefCell::new(String::new()) };
}

/// Starts a thread under this name. It does `work` with `None`; if that panics, it is done once more
/// with the message of the panic, to be told as a fault. From the second time on there is a pause
/// before it, of one to ten seconds.
///
/// # Errors
/// No thread can be started.
pub fn spawn(
    name: &str,
    mut work: impl FnMut(Option<&str>) + Send + 'static,
) -> io::Result<JoinHandle<()>> {
    let work = move || {
        let mut panicked: Option<String> = None;
        let mut pause = None;
        while let Err(why) = caught(|| work(panicked.as_deref())) {
            std::thread::sleep(pause.unwrap_or_default());
            pause = Some(pause.map_or(PAUSE, |it| (it * 2).min(LONGEST_PAUSE)));
            panicked = Some(why);
        }
    };
    Builder::new().name(name.to_owned()).spawn(work)
}

/// Does what may take for ever, such as asking a disk, on a thread of its own, and waits for it no
/// longer than this: `None` if it is not done by then, or has panicked. What is done later is given
/// to `late`.
///
/// # Errors
/// No thread can be started.
pub fn in_time<T: Send + 'static>(
    name: &str,
    patience: Duration,
    work: impl FnOnce() -> T + Send + 'static,
    late: impl FnOnce(T) + Send + 'static,
) -> io::Result<Option<T>> {
    // Without room of its own: what is given to somebody who has gone comes back.
    let (give, given) = sync_channel(0);
    let mut once = Some((work, late));
    spawn(name, move |_| {
        let Some((work, late)) = once.take() else { return };
        if let Err(SendError(done)) = give.send(work()) {
            late(done);
        }
    })?;
    Ok(given.recv_timeout(patience).ok())
}

/// Does some work for each of `items`, on as many threads as there are cores, and gives what came of
/// it in their order. They are begun in order too. A panic in it goes on in the caller.
pub fn each<T: Sync, R: Send>(items: &[T], work: impl Fn(usize, &T) -> R + Sync) -> Vec<R> {
    let cores = std::thread::available_parallelism().map_or(1, |cores| cores.get());
    let next = AtomicUsize::new(0);
    let take_some = || {
        let places = std::iter::repeat_with(|| next.fetch_add(1, Ordering::Relaxed));
        let taken = places.map_while(|place| Some((place, work(place, items.get(place)?))));
        taken.collect::<Vec<_>>()
    };
    let mut done = std::thread::scope(|scope| {
        let others = 1..cores.min(items.len());
        let others: Vec<_> = others.map(|_| scope.spawn(take_some)).collect();
        let mut done = take_some();
        for other in others {
            done.extend(other.join().unwrap_or_else(|panic| resume_unwind(panic)));
        }
        done
    });
    done.sort_unstable_by_key(|&(place, _)| place);
    done.into_iter().map(|(_, result)| result).collect()
}

/// Does something; a panic in it is an error: what it said and where, in one line, for whoever tells
/// faults. Nothing of it is printed.
///
/// # Errors
/// It panicked.
pub fn caught<T>(work: impl FnOnce() -> T) -> Result<T, String> {
    static HOOK: Once = Once::new();
    HOOK.call_once(keep_what_panics_say);
    DEPTH.set(DEPTH.get() + 1);
    let done = catch_unwind(AssertUnwindSafe(work));
    DEPTH.set(DEPTH.get() - 1);
    done.map_err(|_| SAID.take())
}

/// The same for what waits in between.
///
/// # Errors
/// It panicked.
pub async fn caught_async<T>(work: impl Future<Output = T>) -> Result<T, String> {
    let mut work = pin!(work);
    std::future::poll_fn(|context| match caught(|| work.as_mut().poll(context)) {
        Ok(Poll::Ready(done)) => Poll::Ready(Ok(done)),
        Ok(Poll::Pending) => Poll::Pending,
        Err(why) => Poll::Ready(Err(why)),
    })
    .await
}

/// Whether a panic of this thread would be caught just now.
pub fn is_caught() -> bool {
    DEPTH.get() > 0
}

/// What is caught is told by who caught it, not printed: it would spoil a screen.
fn keep_what_panics_say() {
    let before = std::panic::take_hook();
    std::panic::set_hook(Box::new(move |info| {
        if !is_caught() {
            return before(info);
        }
        let payload = info.payload();
        let text = payload.downcast_ref::<&str>().copied();
        let said = text.or_else(|| payload.downcast_ref::<String>().map(String::as_str));
        let said = said.unwrap_or("no message").chars().take(MESSAGE);
        let mut said: String = said.map(|c| if c.is_control() { ' ' } else { c }).collect();
        if let Some(place) = info.location() {
            said = format!("{said} (at {}:{})", place.file(), place.line());
        }
        SAID.set(format!("it panicked: {said}"));
    }));
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_panic_is_told_once_and_the_work_begins_again() {
        let (tx, rx) = std::sync::mpsc::channel();
        let thread = spawn("part", move |panicked| {
            tx.send(panicked.map(str::to_owned)).unwrap();
            assert!(panicked.is_some(), "of this\u{1b}[2J");
        });
        assert_eq!(rx.recv().unwrap(), None);
        let why = rx.recv().unwrap().unwrap();
        assert!(why.starts_with("it panicked: of this [2J (at src/thread.rs:"), "{why}");
        thread.unwrap().join().unwrap();
        assert!(rx.recv().is_err());
    }

    #[test]
    fn what_is_done_on_all_cores_comes_back_in_order() {
        let items: Vec<usize> = (0..1_000).collect();
        let doubled = each(&items, |place, item| {
            assert_eq!(place, *item);
            item * 2
        });
        assert_eq!(doubled, items.iter().map(|item| item * 2).collect::<Vec<_>>());
        assert!(each(&[] as &[u8], |_, _| 0).is_empty());
    }

    #[test]
    fn what_takes_for_ever_is_not_waited_for_and_told_late() {
        let long = Duration::from_secs(30);
        let (end, ended) = sync_channel::<()>(0);
        let (tell, told) = sync_channel(1);
        let hangs = move || ended.recv().map_or(0, |()| 7);
        let late = move |done| tell.send(done).unwrap();
        assert_eq!(in_time("part", Duration::from_millis(20), hangs, late).unwrap(), None);
        end.send(()).unwrap();
        assert_eq!(told.recv_timeout(long), Ok(7));
        assert_eq!(in_time("part", long, || 7, |_| unreachable!()).unwrap(), Some(7));
        let breaks = || -> u32 { panic!("of this") };
        assert_eq!(in_time("part", long, breaks, |_| unreachable!()).unwrap(), None);
    }

    #[test]
    fn what_waits_is_caught_too() {
        let runtime = tokio::runtime::Builder::new_current_thread().build().unwrap();
        let broken = async {
            tokio::task::yield_now().await;
            assert!(!is_caught(), "caught");
        };
        let why = runtime.block_on(caught_async(broken)).unwrap_err();
        assert!(why.starts_with("it panicked: caught"), "{why}");
        assert_eq!(runtime.block_on(caught_async(async { 7 })), Ok(7));
        assert!(!is_caught());
    }
}
