//! Who may come in: requests for this address alone, from pages of this address alone, by those who
//! have given the code.

use std::net::SocketAddr;
use std::sync::Arc;

use axum::extract::{Extension, Request, State};
use axum::http::header::{
    ACCEPT, AUTHORIZATION, CACHE_CONTROL, CONTENT_SECURITY_POLICY, CONTENT_TYPE, HOST, ORIGIN,
    REFERRER_POLICY, X_CONTENT_TYPE_OPTIONS, X_FRAME_OPTIONS,
};
use axum::http::{HeaderMap, HeaderName, HeaderValue, StatusCode};
use axum::middleware::Next;
use axum::response::{IntoResponse as _, Response};

use super::forms::cookie;
use super::house::{House, locked};
use super::phones::Phone;

/// The cookie's name.
pub(super) const COOKIE_NAME: &str = "overside_helm";

/// What goes with everything. The referrer stays with this address: without any, browsers would not
/// say of a form from where it comes.
const HEADERS: [(HeaderName, &str); 6] = [
    (
        CONTENT_SECURITY_POLICY,
        "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; \
         img-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'",
    ),
    (REFERRER_POLICY, "same-origin"),
    (CACHE_CONTROL, "no-store"),
    (X_CONTENT_TYPE_OPTIONS, "nosniff"),
    (X_FRAME_OPTIONS, "DENY"),
    (HeaderName::from_static("cross-origin-resource-policy"), "same-origin"),
];

/// The address at which a connection came in.
#[derive(Clone, Copy, Debug)]
pub(super) struct Here(pub SocketAddr);

/// Lets in what is meant for this address, and says with everything how it is to be treated.
pub(super) async fn guard(
    Extension(Here(here)): Extension<Here>,
    request: Request,
    next: Next,
) -> Response {
    let mut response = match is_meant(request.headers(), here) {
        true => next.run(request).await,
        false => said(StatusCode::FORBIDDEN, "This page has another address."),
    };
    let headers = response.headers_mut();
    for (name, value) in HEADERS {
        headers.insert(name, HeaderValue::from_static(value));
    }
    response
}

/// Whether it is meant for this address, and comes from no page of another one. A name in the place
/// of the address may be anybody's (rebinding): only `localhost` is always this computer.
fn is_meant(headers: &HeaderMap, here: SocketAddr) -> bool {
    let only = |name| {
        let mut all = headers.get_all(name).into_iter();
        let first = all.next().map(|it| it.to_str().unwrap_or_default());
        (first, all.next().is_none())
    };
    let ((host, one_host), (origin, one_origin)) = (only(HOST), only(ORIGIN));
    let Some(host) = host.filter(|_| one_host && one_origin) else { return false };
    let port = |it: &str| if it.contains(':') { it.to_owned() } else { format!("{it}:80") };
    let named = match host.strip_prefix("localhost") {
        Some(rest) if here.ip().is_loopback() => rest == format!(":{}", here.port()),
        _ => match host.starts_with('[') {
            true => host.parse().or_else(|_| format!("{host}:80").parse()),
            false => port(host).parse(),
        }
        .is_ok_and(|it: SocketAddr| (it.ip(), it.port()) == (here.ip(), here.port())),
    };
    named && origin.is_none_or(|it| it.strip_prefix("http://") == Some(host))
}

/// Who it is, if they have given the code, and whether they say so by a cookie.
pub(super) fn who(house: &House, headers: &HeaderMap) -> Option<(Phone, bool)> {
    let bearer =
        headers.get(AUTHORIZATION).and_then(|it| it.to_str().ok()?.strip_prefix("Bearer "));
    let secret = bearer.or_else(|| cookie(headers, COOKIE_NAME))?;
    let phone = locked(&house.phones).of_secret(secret, house.clock.now().utc)?;
    Some((phone, bearer.is_none()))
}

/// Lets in who has given the code.
pub(super) async fn known(
    State(house): State<Arc<House>>,
    mut request: Request,
    next: Next,
) -> Response {
    let headers = request.headers();
    let Some((phone, by_cookie)) = who(&house, headers) else {
        let to_read = headers
            .get(ACCEPT)
            .is_some_and(|it| it.to_str().is_ok_and(|it| it.contains("text/html")));
        return match to_read {
            true => to("/enter"),
            false => said(StatusCode::UNAUTHORIZED, "Give the code first: see /enter."),
        };
    };
    // A browser sends the cookie along whoever asks it to: what changes anything says from where.
    if by_cookie && !request.method().is_safe() && !headers.contains_key(ORIGIN) {
        return said(StatusCode::FORBIDDEN, "It is not known from which page this comes.");
    }
    request.extensions_mut().insert(phone);
    next.run(request).await
}

/// An answer in one sentence.
pub(super) fn said(status: StatusCode, text: &'static str) -> Response {
    (status, [(CONTENT_TYPE, "text/plain; charset=utf-8")], format!("{text}\n")).into_response()
}

/// Sends a browser to another page.
pub(super) fn to(path: &'static str) -> Response {
    (StatusCode::SEE_OTHER, [(axum::http::header::LOCATION, path)]).into_response()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_this_address_is_meant() {
        let meant = |here: &str, host: &[&str], origin: &[&str]| {
            let mut headers = HeaderMap::new();
            for it in host {
                headers.append(HOST, it.parse().unwrap());
            }
            for it in origin {
                headers.append(ORIGIN, it.parse().unwrap());
            }
            is_meant(&headers, here.parse().unwrap())
        };
        let here = "192.168.1.5:8010";
        assert!(meant(here, &["192.168.1.5:8010"], &[]));
        assert!(meant(here, &["192.168.1.5:8010"], &["http://192.168.1.5:8010"]));
        assert!(meant("192.168.1.5:80", &["192.168.1.5"], &["http://192.168.1.5"]));
        assert!(meant("[fe80::5]:8010", &["[fe80::5]:8010"], &["http://[fe80::5]:8010"]));
        assert!(meant("[fe80::5]:80", &["[fe80::5]"], &[]));
        assert!(meant("127.0.0.1:8010", &["localhost:8010"], &["http://localhost:8010"]));
        for (host, origin) in [
            (&[][..], &[][..]),
            (&["evil.example:8010"], &[]),
            (&["192.168.1.5"], &[]),
            (&["192.168.1.6:8010"], &[]),
            (&["192.168.1.5:8010.evil.example"], &[]),
            (&["localhost:8010"], &[]),
            (&[""], &[]),
            (&["192.168.1.5:8010", "192.168.1.5:8010"], &[]),
            (&["192.168.1.5:8010"], &["http://evil.example"]),
            (&["192.168.1.5:8010"], &["null"]),
            (&["192.168.1.5:8010"], &["https://192.168.1.5:8010"]),
            (&["192.168.1.5:8010"], &["http://192.168.1.5:80100"]),
            (&["192.168.1.5:8010"], &["http://192.168.1.5:8010", "http://evil.example"]),
        ] {
            assert!(!meant(here, host, origin), "{host:?} {origin:?}");
        }
    }
}
