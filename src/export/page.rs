//! What every page has that goes on paper: its head with the type and the sizes, and safe words.

use crate::lesson::text::printable;

/// The head of a page up to its body, with a style sheet besides the one that all pages share.
pub(crate) fn head(title: &str, more_style: &str) -> String {
    format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<meta name=\"viewport\" \
         content=\"width=device-width, initial-scale=1\">\n<title>{}</title>\n<style>\n{}{more_style}</style>\n</head>\n\
         <body>\n",
        escaped(title),
        include_str!("page.css")
    )
}

/// Text as HTML text or the value of an attribute.
pub(crate) fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in printable(text).chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            c => out.push(c),
        }
    }
    out
}
