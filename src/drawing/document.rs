//! A page of HTML that needs nothing else: one file, no script, nothing from the network, light and
//! dark.

use super::svg;
use crate::text::escaped;

/// The style of the page, without that of the drawings.
const STYLE: &str = include_str!("page.css");

/// The whole file. The body is HTML: each text of a person or from the air went through [`escaped`].
pub fn document(title: &str, body: &str) -> String {
    format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <meta name=\"color-scheme\" content=\"light dark\">\n\
         <title>{}</title>\n<style>\n{}{STYLE}</style>\n</head>\n<body>\n<main>\n{body}</main>\n</body>\n</html>\n",
        escaped(title),
        svg::STYLE,
    )
}
