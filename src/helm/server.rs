//! The thread that serves the page: listens, begins again when it fails, and says so.

use std::collections::HashMap;
use std::io;
use std::net::{IpAddr, SocketAddr};
use std::sync::{Arc, Mutex};
use std::time::Duration;

use axum::Router;
use axum::body::Body;
use hyper::Request;
use hyper::body::Incoming;
use hyper::server::conn::http1;
use hyper::service::service_fn;
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::service::TowerToHyperService;
use socket2::SockRef;
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::{Semaphore, mpsc};
use tokio::time::sleep;

use super::guard::Here;
use super::house::{House, Links, locked};
use super::patience::Patient;
use super::routes::router;
use super::{News, Settings};
use crate::thread;

/// So many connections there are at most, and so many from one address: a browser opens six, and
/// a whole crew may be behind one router. Our own.
const CONNECTIONS: usize = 128;
const FROM_ONE: usize = 40;

/// A request is here within this time, or the connection ends: an idle one too. Our own.
const HEADERS_WITHIN: Duration = Duration::from_secs(5);

/// The head of a request is no longer, and has no more lines. Our own.
const LONGEST_HEAD: usize = 16 * 1024;
const MOST_HEADERS: usize = 64;

/// So many bytes wait in the system for who takes nothing, at most: some pages. Our own.
const SEND_BUFFER: usize = 64 * 1024;

/// How long it rests after a failure, and how long it must have worked to be told to work. Our own.
const REST: Duration = Duration::from_secs(2);
const WORKS_AFTER: Duration = Duration::from_secs(5);

/// Begins to serve.
///
/// # Errors
/// The system gives no thread.
pub(super) fn start(settings: Settings, links: Links) -> io::Result<()> {
    let house = Arc::new(House::new(settings, links));
    let mut failed = false;
    thread::spawn("helm", move |panicked| {
        let mut fault = panicked.map(str::to_owned);
        loop {
            failed |= fault.is_some();
            let why = fault.take();
            let build = tokio::runtime::Builder::new_current_thread().enable_all().build();
            fault = Some(match build {
                Ok(runtime) => runtime.block_on(serve(&house, why, &mut failed)),
                Err(why) => why.to_string(),
            });
            std::thread::sleep(REST);
        }
    })?;
    Ok(())
}

/// Serves until something fails: what.
async fn serve(house: &Arc<House>, before: Option<String>, failed: &mut bool) -> String {
    if let Some(why) = before {
        let _ = house.news.send(News::Fault(Some(why))).await;
    }
    let listener = match TcpListener::bind(house.settings.listen).await {
        Ok(listener) => listener,
        Err(why) => return format!("{}: {why}", house.settings.listen),
    };
    let (breaks, mut broken) = mpsc::channel(1);
    let works = async {
        if *failed {
            sleep(WORKS_AFTER).await;
            let _ = house.news.send(News::Fault(None)).await;
            *failed = false;
        }
        std::future::pending::<()>().await;
    };
    tokio::select! {
        why = accept(&listener, house, breaks) => why,
        Some(why) = broken.recv() => why,
        () = render(house) => "the loop has ended".to_owned(),
        () = works => String::new(),
    }
}

/// Makes each new picture ready to be sent, where somebody looks.
async fn render(house: &House) {
    let mut snapshots = house.snapshots.clone();
    while snapshots.changed().await.is_ok() {
        let snapshot = snapshots.borrow_and_update().clone();
        if let Some(snapshot) = snapshot.filter(|_| house.states.receiver_count() > 0) {
            house.states.send_replace(Some(house.state_event(&snapshot)));
        }
    }
}

/// Lets in who comes, until that fails.
async fn accept(
    listener: &TcpListener,
    house: &Arc<House>,
    breaks: mpsc::Sender<String>,
) -> String {
    let router = router(house);
    let all = Arc::new(Semaphore::new(CONNECTIONS));
    let from = Arc::new(Mutex::new(HashMap::<IpAddr, usize>::new()));
    loop {
        let (stream, peer) = match listener.accept().await {
            Ok(came) => came,
            Err(_) => {
                // Too many open files, mostly: others need them more.
                sleep(Duration::from_millis(200)).await;
                continue;
            }
        };
        let peer = peer.ip();
        let Ok(permit) = Arc::clone(&all).try_acquire_owned() else { continue };
        {
            let mut from = locked(&from);
            let count = from.entry(peer).or_default();
            if *count >= FROM_ONE {
                continue;
            }
            *count += 1;
        }
        let (router, from, breaks) = (router.clone(), Arc::clone(&from), breaks.clone());
        tokio::spawn(async move {
            if let Err(why) = thread::caught_async(connection(stream, router)).await {
                let _ = breaks.try_send(why);
            }
            let mut from = locked(&from);
            if let Some(count) = from.get_mut(&peer) {
                *count -= 1;
                if *count == 0 {
                    from.remove(&peer);
                }
            }
            drop(permit);
        });
    }
}

/// Serves one connection until it ends.
async fn connection(stream: TcpStream, router: Router) {
    let Ok(here) = stream.local_addr() else { return };
    let _ = stream.set_nodelay(true);
    // What waits in the system for who has gone is lost time: a little is enough.
    let _ = SockRef::from(&stream).set_send_buffer_size(SEND_BUFFER);
    let routes = TowerToHyperService::new(router);
    let service = service_fn(move |request: Request<Incoming>| {
        let mut request = request.map(Body::new);
        request.extensions_mut().insert(Here(canonical(here)));
        hyper::service::Service::call(&routes, request)
    });
    let served = http1::Builder::new()
        .timer(TokioTimer::new())
        .header_read_timeout(HEADERS_WITHIN)
        .max_buf_size(LONGEST_HEAD)
        .max_headers(MOST_HEADERS)
        .serve_connection(TokioIo::new(Patient::new(stream)), service);
    if let Err(why) = served.await {
        tracing::debug!("a connection to the page at the helm ended: {why}");
    }
}

/// An address of IPv4 as such, though it came by a socket of IPv6.
fn canonical(address: SocketAddr) -> SocketAddr {
    SocketAddr::new(address.ip().to_canonical(), address.port())
}
