//! `/enter`: the code is given, and a phone is known from then on.

use std::sync::Arc;
use std::time::Duration;

use axum::body::{Body, to_bytes};
use axum::extract::{Request, State};
use axum::http::header::{ACCEPT, CONTENT_TYPE, RETRY_AFTER, SET_COOKIE};
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse as _, Response};
use tokio::time::timeout;

use super::code::Tried;
use super::forms::{cookie, field};
use super::guard::{COOKIE_NAME, said, to};
use super::house::{House, locked};
use super::page::{HTML, document};
use super::phones::DAYS_KNOWN;
use crate::time::rounded_up;

/// No form is longer. Our own.
const LONGEST: usize = 1024;

/// None takes longer to arrive. Our own.
const PATIENCE: Duration = Duration::from_secs(5);

/// The script of the page: the code that was in the square is filled in.
pub(super) const SCRIPT: &str = "'use strict';
const code = /^#(\\d{6})$/.exec(location.hash);
if (code) {
  history.replaceState(null, '', location.pathname);
  document.querySelector('[name=code]').value = code[1];
}
";

/// What was sent as a form; `None` if it is too long, or takes too long.
pub(super) async fn form(body: Body) -> Option<Vec<u8>> {
    let whole = timeout(PATIENCE, to_bytes(body, LONGEST)).await;
    Some(whole.ok()?.ok()?.to_vec())
}

/// The page on which the code is given.
pub(super) async fn ask(headers: HeaderMap) -> Response {
    page(StatusCode::OK, &headers, "")
}

/// Takes the code.
pub(super) async fn enter(State(house): State<Arc<House>>, request: Request) -> Response {
    let (head, body) = request.into_parts();
    let Some(form) = form(body).await else {
        return said(StatusCode::PAYLOAD_TOO_LARGE, "Send a code of six digits, and no more.");
    };
    let now = house.clock.now();
    let tried = locked(&house.door).try_code(&field(&form, "code"), now.at);
    match tried {
        Tried::Right => {}
        Tried::Wrong => {
            return page(
                StatusCode::FORBIDDEN,
                &head.headers,
                "That is not the code of this watch.",
            );
        }
        Tried::Shut(left) => {
            let seconds = rounded_up(left, 1);
            let words = format!("Too many wrong codes: try again in {seconds} s.");
            let mut response = page(StatusCode::TOO_MANY_REQUESTS, &head.headers, &words);
            response.headers_mut().insert(RETRY_AFTER, seconds.into());
            return response;
        }
    }
    let Ok(secret) = locked(&house.phones).add(&field(&form, "name"), now.utc) else {
        return said(StatusCode::INTERNAL_SERVER_ERROR, "The system gives no random numbers.");
    };
    let seconds = DAYS_KNOWN * 86_400;
    let cookie =
        format!("{COOKIE_NAME}={secret}; Path=/; Max-Age={seconds}; HttpOnly; SameSite=Strict");
    let for_program = head.headers.get(ACCEPT).is_some_and(|it| it == "application/json");
    let mut response = match for_program {
        true => {
            let json = serde_json::json!({ "token": secret }).to_string();
            ([(CONTENT_TYPE, "application/json")], json).into_response()
        }
        false => to("/"),
    };
    if let Ok(cookie) = cookie.parse() {
        response.headers_mut().insert(SET_COOKIE, cookie);
    }
    response
}

fn page(status: StatusCode, headers: &HeaderMap, words: &str) -> Response {
    let body = format!(
        "<main><h1>At the helm</h1>\n\
         <p role=\"alert\">{words}</p>\n\
         <form method=\"post\" action=\"/enter\">\n\
         <p><label>Code, from the screen of the watch (page <kbd>?</kbd>)<br>\
         <input name=\"code\" inputmode=\"numeric\" autocomplete=\"off\" maxlength=\"7\" required autofocus>\
         </label></p>\n\
         <p><label>Name of this phone, for the logbook<br>\
         <input name=\"name\" maxlength=\"24\" autocomplete=\"off\" placeholder=\"such as cockpit\"></label></p>\n\
         <p><button>Look</button></p>\n</form></main>\n<script src=\"/enter.js\"></script>\n"
    );
    let colours = cookie(headers, "colours").unwrap_or_default();
    let html = document("code", "enter", colours, "", &body);
    (status, [(CONTENT_TYPE, HTML)], html).into_response()
}
