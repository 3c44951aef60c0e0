//! The words of a condition: numbers with their units, names, signs.

use super::condition::ConditionError;
use super::problem::Complaint;
use super::value::Value;
use crate::setup::Place;

#[derive(Clone, Debug, PartialEq)]
pub(super) struct Token {
    pub(super) what: What,
    pub(super) place: Place,
}

#[derive(Clone, Debug, PartialEq)]
pub(super) enum What {
    Number { value: Value, percent: bool },
    Name(String),
    Sign(&'static str),
}

const SIGNS: [&str; 12] = ["<=", ">=", "<", ">", "=", "+", "-", "*", "/", "(", ")", ","];
pub(super) const WORDS: [&str; 4] = ["and", "or", "not", "within"];

pub(super) fn tokens(text: &str) -> Result<Vec<Token>, ConditionError> {
    let mut found = Vec::new();
    let mut at = 0;
    while let Some(first) = text[at..].chars().next() {
        if first.is_whitespace() {
            at += first.len_utf8();
            continue;
        }
        let start = at;
        let what = if first.is_ascii_digit() || first == '.' {
            at += number_length(&text[at..]);
            let digits = at;
            let gap = text[at..].len() - text[at..].trim_start_matches(' ').len();
            let unit = unit_length(&text[at + gap..]);
            if unit > 0 {
                at += gap + unit;
            }
            let written = &text[start..at];
            let (value, percent) =
                Value::literal(&text[start..digits], written).map_err(|complaint| {
                    ConditionError {
                        complaint,
                        place: Place { start, end: at },
                    }
                })?;
            What::Number { value, percent }
        } else if first.is_ascii_alphabetic() {
            at += name_length(&text[at..]);
            What::Name(text[start..at].to_owned())
        } else if let Some(sign) = SIGNS.iter().find(|sign| text[at..].starts_with(**sign)) {
            at += sign.len();
            What::Sign(sign)
        } else {
            return Err(ConditionError {
                complaint: Complaint::Unexpected {
                    found: first.to_string(),
                    wanted: "a figure, a number with its unit, or a comparison",
                },
                place: Place {
                    start,
                    end: start + first.len_utf8(),
                },
            });
        };
        found.push(Token {
            what,
            place: Place { start, end: at },
        });
    }
    Ok(found)
}

/// Length of a name. A dash between two letters belongs to it, so a minus needs room round it.
fn name_length(text: &str) -> usize {
    let bytes = text.as_bytes();
    let plain = |at: usize| bytes.get(at).is_some_and(u8::is_ascii_alphanumeric);
    (0..text.len())
        .find(|&at| match bytes[at] {
            b'_' | b'.' => false,
            b'-' => !(at > 0 && plain(at - 1) && plain(at + 1)),
            _ => !plain(at),
        })
        .unwrap_or(text.len())
}

fn number_length(text: &str) -> usize {
    let bytes = text.as_bytes();
    let digits = |mut at: usize| {
        while bytes.get(at).is_some_and(u8::is_ascii_digit) {
            at += 1;
        }
        at
    };
    let mut end = digits(0);
    if bytes.get(end) == Some(&b'.') {
        end = digits(end + 1);
    }
    if matches!(bytes.get(end), Some(b'e' | b'E')) {
        let signed = end + 1 + usize::from(matches!(bytes.get(end + 1), Some(b'+' | b'-')));
        if digits(signed) > signed {
            end = digits(signed);
        }
    }
    end.max(1)
}

/// Length of a unit at the start of a text; 0 where there is none.
fn unit_length(text: &str) -> usize {
    if text.starts_with('%') {
        return 1;
    }
    let is_letter = |c: char| c.is_ascii_alphabetic() || matches!(c, 'µ' | 'Ω');
    if !text.starts_with(is_letter) {
        return 0;
    }
    let mut end = 0;
    let mut characters = text.char_indices().peekable();
    while let Some((at, c)) = characters.next() {
        let next_is_letter = characters.peek().is_some_and(|(_, next)| is_letter(*next));
        if !(is_letter(c) || c.is_ascii_digit() || c == '/' && next_is_letter) {
            break;
        }
        end = at + c.len_utf8();
    }
    if WORDS.contains(&&text[..end]) {
        0
    } else {
        end
    }
}
