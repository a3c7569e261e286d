//! What there is under which path.

use std::sync::Arc;

use axum::Router;
use axum::extract::{Extension, Request, State};
use axum::http::header::{CONTENT_TYPE, HeaderMap};
use axum::http::{StatusCode, Uri};
use axum::middleware::{from_fn, from_fn_with_state};
use axum::response::{IntoResponse as _, Response};
use axum::routing::{get, post};

use super::enter::{self, form};
use super::events::{self, Wanted};
use super::forms::{cookie, field};
use super::guard::{self, said, to};
use super::house::House;
use super::page::{self, HTML, Options};
use super::phones::Phone;
use super::{News, state};
use crate::frontend::Request as Wish;
use crate::watch::{AlertId, Command};

const NOT_YET: &str = "There is no contact with the watch.";

/// Set to `helm` in the environment of a debug build, there is a path that panics: so that a test can
/// see what is left then.
const TEST_PANIC: &str = "OVERSIDE_TEST_PANIC";

/// All of it.
pub(super) fn router(house: &Arc<House>) -> Router {
    let mut known = Router::new()
        .route("/", get(show))
        .route("/state.json", get(tell))
        .route("/events", get(follow));
    if house.settings.may_acknowledge {
        known = known.route("/acknowledge", post(acknowledge)).route("/silence", post(silence));
    }
    if cfg!(debug_assertions) && std::env::var(TEST_PANIC).is_ok_and(|it| it == "helm") {
        known = known.route("/panic", get(panics));
    }
    known
        .layer(from_fn_with_state(Arc::clone(house), guard::known))
        .route("/enter", get(enter::ask).post(enter::enter))
        .route("/enter.js", get(|| text("text/javascript", enter::SCRIPT)))
        .route("/helm.js", get(|| text("text/javascript", page::script())))
        .route("/helm.css", get(|| text("text/css", page::style())))
        .layer(from_fn(guard::guard))
        .with_state(Arc::clone(house))
}

#[expect(clippy::panic, reason = "a test asks for it")]
async fn panics() {
    panic!("asked for by {TEST_PANIC}");
}

async fn text(kind: &'static str, text: &'static str) -> Response {
    ([(CONTENT_TYPE, format!("{kind}; charset=utf-8"))], text).into_response()
}

/// The page.
async fn show(State(house): State<Arc<House>>, uri: Uri, headers: HeaderMap) -> Response {
    let asked = uri.query().map(|it| field(it.as_bytes(), "colours")).filter(|it| !it.is_empty());
    let colours = asked.or_else(|| cookie(&headers, "colours").map(str::to_owned));
    let Some((snapshot, no_contact_since)) = house.newest() else {
        let html = page::not_yet(colours.as_deref());
        return (StatusCode::SERVICE_UNAVAILABLE, [(CONTENT_TYPE, HTML)], html).into_response();
    };
    let options =
        Options { colours, may_acknowledge: house.settings.may_acknowledge, no_contact_since };
    let html = page::render(&house.state(&snapshot), &options);
    ([(CONTENT_TYPE, HTML)], html).into_response()
}

/// The picture, for programs.
async fn tell(State(house): State<Arc<House>>) -> Response {
    match house.newest() {
        Some((snapshot, None)) => {
            let json = state::json(&snapshot).unwrap_or_default();
            ([(CONTENT_TYPE, "application/json")], json).into_response()
        }
        _ => said(StatusCode::SERVICE_UNAVAILABLE, NOT_YET),
    }
}

/// All that happens from now on.
async fn follow(
    State(house): State<Arc<House>>,
    Extension(phone): Extension<Phone>,
    uri: Uri,
) -> Response {
    let Some(viewer) = house.viewer(phone.hash) else {
        return said(
            StatusCode::SERVICE_UNAVAILABLE,
            "Sixteen look already: close the page on one.",
        );
    };
    let body = events::body(house, viewer, Wanted::of(uri.query()));
    ([(CONTENT_TYPE, "text/event-stream")], body).into_response()
}

async fn acknowledge(
    State(house): State<Arc<House>>,
    Extension(phone): Extension<Phone>,
    request: Request,
) -> Response {
    ask(&house, phone, request, Command::Acknowledge).await
}

async fn silence(
    State(house): State<Arc<House>>,
    Extension(phone): Extension<Phone>,
    request: Request,
) -> Response {
    ask(&house, phone, request, Command::Silence).await
}

/// Asks something of the watch for the alert whose number is in the form.
async fn ask(
    house: &House,
    phone: Phone,
    request: Request,
    command: impl FnOnce(AlertId) -> Command,
) -> Response {
    let number = form(request.into_body()).await.and_then(|it| field(&it, "alert").parse().ok());
    let Some(id) = number.map(AlertId) else {
        return said(StatusCode::BAD_REQUEST, "Send the number of an alert.");
    };
    let newest = house.newest().map(|(snapshot, _)| snapshot);
    if !newest.is_some_and(|it| it.picture.alerts.iter().any(|alert| alert.id == id)) {
        return said(StatusCode::CONFLICT, "There is no such alert any more.");
    }
    let who = format!("phone {}", phone.name);
    match house.news.try_send(News::Asked(Wish::Command(command(id)), who)) {
        Ok(()) => to("/"),
        Err(_) => said(StatusCode::SERVICE_UNAVAILABLE, "The watch is busy: try again."),
    }
}
