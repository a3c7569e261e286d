//! What browsers send: forms and cookies, taken apart.

use axum::http::HeaderMap;
use axum::http::header::COOKIE;

/// The value of a field of a form (WHATWG URL, application/x-www-form-urlencoded parsing); empty if
/// there is none.
pub(super) fn field(form: &[u8], name: &str) -> String {
    let pairs = form.split(|it| *it == b'&');
    let mut found = pairs.filter_map(|pair| {
        let at = pair.iter().position(|it| *it == b'=')?;
        (pair[..at] == *name.as_bytes()).then(|| decoded(&pair[at + 1..]))
    });
    found.next_back().unwrap_or_default()
}

fn decoded(value: &[u8]) -> String {
    let (mut bytes, mut rest) = (Vec::new(), value);
    let hex = |digits: &[u8]| {
        let digits = std::str::from_utf8(digits).ok().filter(|it| !it.starts_with('+'))?;
        u8::from_str_radix(digits, 16).ok()
    };
    while let [first, after @ ..] = rest {
        let escaped = after.get(..2).filter(|_| *first == b'%').and_then(hex);
        bytes.push(escaped.unwrap_or(if *first == b'+' { b' ' } else { *first }));
        rest = if escaped.is_some() { &after[2..] } else { after };
    }
    String::from_utf8_lossy(&bytes).into_owned()
}

/// The value of a cookie.
pub(super) fn cookie<'a>(headers: &'a HeaderMap, name: &str) -> Option<&'a str> {
    let lines = headers.get_all(COOKIE).into_iter().filter_map(|it| it.to_str().ok());
    let mut pairs =
        lines.flat_map(|line| line.split(';')).filter_map(|it| it.trim().split_once('='));
    pairs.find(|(key, _)| *key == name).map(|(_, value)| value)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_form_is_taken_apart_and_nothing_in_it_panics() {
        let form = b"code=004+217&name=Mate%20%C3%A9%&empty=&code=1%zz%";
        assert_eq!(field(form, "name"), "Mate é%");
        assert_eq!(field(form, "code"), "1%zz%");
        assert_eq!(field(form, "empty"), "");
        assert_eq!(field(b"&&==%ff", ""), "=\u{fffd}");
        assert_eq!(field(b"a=%+1%+", "a"), "% 1% ");
    }

    #[test]
    fn a_cookie_is_found_among_others() {
        let mut headers = HeaderMap::new();
        headers.append(COOKIE, "a=b; helm=one;x".parse().unwrap());
        headers.append(COOKIE, "colours=night".parse().unwrap());
        assert_eq!(cookie(&headers, "helm"), Some("one"));
        assert_eq!(cookie(&headers, "colours"), Some("night"));
        assert_eq!(cookie(&headers, "elm"), None);
    }
}
