//! The written form of a layout: signed phase letters, coil side by coil side.

use std::fmt;
use std::ops::Range;

use super::{CoilSide, Phase};

/// What is wrong with one word of a written layout.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LayoutErrorKind {
    /// The text holds no coil side at all.
    Empty,
    /// A phase letter without `+` or `-` before it.
    NoSign,
    /// A sign, and after it something other than `U`, `V` or `W`.
    NotAPhase,
    /// A sign with nothing after it.
    NoPhase,
    /// Not a signed letter at all.
    NotACoilSide,
}

/// A written layout that cannot be read: what, and where in the text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LayoutError {
    /// What is wrong.
    pub kind: LayoutErrorKind,
    /// The word as written; empty where the text is.
    pub found: String,
    /// Where it stands, in bytes of the text; always on character boundaries.
    pub span: Range<usize>,
    /// Which coil side it would be, counted from 0.
    pub side_idx: usize,
}

impl LayoutError {
    /// What would be right, as one sentence.
    #[must_use]
    pub fn remedy_text(&self) -> String {
        let letter = self
            .found
            .chars()
            .next()
            .map(|letter| letter.to_ascii_uppercase());
        match (self.kind, letter) {
            (LayoutErrorKind::NoSign, Some(letter)) => {
                format!("write \"+{letter}\" or \"-{letter}\"")
            }
            _ => "a coil side is + or - and one of U, V, W, as in \"+U -U -V +V\"".to_owned(),
        }
    }
}

impl fmt::Display for LayoutError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (found, nth) = (&self.found, self.side_idx + 1);
        match self.kind {
            LayoutErrorKind::Empty => f.write_str("the layout holds no coil side"),
            LayoutErrorKind::NoSign => {
                write!(f, "coil side {nth} of the layout, \"{found}\", has no sign")
            }
            LayoutErrorKind::NotAPhase => {
                write!(
                    f,
                    "coil side {nth} of the layout, \"{found}\", names no phase U, V or W"
                )
            }
            LayoutErrorKind::NoPhase => {
                write!(
                    f,
                    "coil side {nth} of the layout, \"{found}\", has no phase letter"
                )
            }
            LayoutErrorKind::NotACoilSide => {
                write!(
                    f,
                    "coil side {nth} of the layout, \"{found}\", is not a signed phase letter"
                )
            }
        }
    }
}

impl std::error::Error for LayoutError {}

/// Reads a layout written as signed phase letters with blanks between: `+U -U -V +V …`.
///
/// Only the words are checked here; how many there are and whether they balance is
/// [`Winding::from_layout`](super::Winding::from_layout)'s to say.
///
/// # Errors
/// [`LayoutError`] for the first word that is not a signed phase letter, or for an empty text.
///
/// ```
/// use wyebench::winding::{format_layout, parse_layout};
/// let sides = parse_layout("+U  -V\n+W").unwrap();
/// assert_eq!(format_layout(&sides), "+U -V +W");
/// assert_eq!(parse_layout("+U -V W").unwrap_err().span, 6..7);
/// ```
pub fn parse_layout(text: &str) -> Result<Vec<CoilSide>, LayoutError> {
    let mut sides = Vec::new();
    for (start, word) in words(text) {
        let side = read_side(word).map_err(|kind| LayoutError {
            kind,
            found: word.to_owned(),
            span: start..start + word.len(),
            side_idx: sides.len(),
        })?;
        sides.push(side);
    }
    if sides.is_empty() {
        return Err(LayoutError {
            kind: LayoutErrorKind::Empty,
            found: String::new(),
            span: 0..text.len(),
            side_idx: 0,
        });
    }
    Ok(sides)
}

/// Writes a layout the way [`parse_layout`] reads it: `+U -V +W`, one blank between.
#[must_use]
pub fn format_layout(sides: &[CoilSide]) -> String {
    let words: Vec<String> = sides.iter().map(ToString::to_string).collect();
    words.join(" ")
}

/// The words of a text with the byte each starts at.
fn words(text: &str) -> impl Iterator<Item = (usize, &str)> {
    text.split_whitespace().scan(0, move |from, word| {
        let start = *from + text[*from..].find(word)?;
        *from = start + word.len();
        Some((start, word))
    })
}

/// Reads one word as a coil side.
fn read_side(word: &str) -> Result<CoilSide, LayoutErrorKind> {
    let mut letters = word.chars();
    let towards_viewer = match letters.next() {
        Some('+') => true,
        Some('-') => false,
        Some('U' | 'V' | 'W' | 'u' | 'v' | 'w') if letters.next().is_none() => {
            return Err(LayoutErrorKind::NoSign);
        }
        _ => return Err(LayoutErrorKind::NotACoilSide),
    };
    let phase = match (letters.next(), letters.next()) {
        (Some('U'), None) => Phase::U,
        (Some('V'), None) => Phase::V,
        (Some('W'), None) => Phase::W,
        (None, _) => return Err(LayoutErrorKind::NoPhase),
        _ => return Err(LayoutErrorKind::NotAPhase),
    };
    Ok(CoilSide {
        phase,
        towards_viewer,
    })
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn a_bad_word_is_marked_where_it_stands() {
        let cases = [
            ("", LayoutErrorKind::Empty, 0..0),
            ("  \n", LayoutErrorKind::Empty, 0..3),
            ("+U V", LayoutErrorKind::NoSign, 3..4),
            ("+U -X", LayoutErrorKind::NotAPhase, 3..5),
            ("+u", LayoutErrorKind::NotAPhase, 0..2),
            ("+U +U-V", LayoutErrorKind::NotAPhase, 3..7),
            ("-V - W", LayoutErrorKind::NoPhase, 3..4),
            ("+U ..", LayoutErrorKind::NotACoilSide, 3..5),
            ("+U −V", LayoutErrorKind::NotACoilSide, 3..7),
        ];
        for (text, kind, span) in cases {
            let error = parse_layout(text).unwrap_err();
            assert_eq!(
                (error.kind, error.span.clone()),
                (kind, span),
                "{text:?}: {error}"
            );
        }
        assert_eq!(
            parse_layout("+U v").unwrap_err().remedy_text(),
            "write \"+V\" or \"-V\""
        );
    }

    proptest! {
        #[test]
        fn what_is_written_is_read_back(codes in proptest::collection::vec(0_u8..6, 1..80)) {
            let sides: Vec<CoilSide> = codes
                .iter()
                .map(|code| CoilSide {
                    phase: Phase::ALL[usize::from(code % 3)],
                    towards_viewer: *code < 3,
                })
                .collect();
            prop_assert_eq!(parse_layout(&format_layout(&sides)).unwrap(), sides);
        }

        #[test]
        fn no_text_panics_and_every_mark_is_inside_it(text in ".{0,60}") {
            if let Err(error) = parse_layout(&text) {
                prop_assert!(text.get(error.span.clone()).is_some());
                prop_assert!(!error.to_string().is_empty());
            }
        }
    }
}
