//! What can be wrong with a setup: data first, the words for a person beside it.

use std::fmt;

use miette::{Diagnostic, LabeledSpan, NamedSource, SourceCode, SourceSpan};

use super::units::Quantity;

/// A place in the text: bytes from and to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Place {
    /// First byte.
    pub start: usize,
    /// One past the last byte.
    pub end: usize,
}

impl From<std::ops::Range<usize>> for Place {
    fn from(range: std::ops::Range<usize>) -> Self {
        Self {
            start: range.start,
            end: range.end,
        }
    }
}

/// One problem of a setup. `place` is `None` where the text has no place to point at.
#[derive(Clone, Debug, PartialEq)]
#[expect(
    missing_docs,
    reason = "the variant's doc and message say what its fields hold"
)]
pub enum Problem {
    /// The text holds nothing but blanks and comments.
    Empty,
    /// The text is larger than any setup.
    TooLarge { n_bytes: usize, allowed: usize },
    /// The text is not TOML.
    Syntax {
        message: String,
        place: Option<Place>,
    },
    /// A text without its quotes.
    NoQuotes { found: String, place: Place },
    /// A key or table is given twice.
    Twice {
        key: String,
        first: Option<Place>,
        second: Place,
    },
    /// No such key in this table; `known` are the keys that are.
    UnknownKey {
        table: String,
        key: String,
        nearest: Option<&'static str>,
        belongs_in: Option<&'static str>,
        known: Vec<&'static str>,
        place: Place,
    },
    /// A value where a table stands, or a table where a value stands, or a value of another type.
    WrongType {
        key: String,
        found: String,
        wanted: String,
        remedy: String,
        place: Option<Place>,
    },
    /// A tolerance that cannot be.
    Tolerance {
        key: String,
        reason: String,
        remedy: String,
        place: Place,
    },
    /// A quantity without its unit. `example` is a line as it would be right.
    NoUnit {
        key: String,
        found: String,
        quantity: Quantity,
        example: String,
        place: Option<Place>,
    },
    /// A quantity that does not begin with a number; `example` as above.
    NoNumber {
        key: String,
        found: String,
        example: String,
        place: Option<Place>,
    },
    /// A number with a decimal comma or digit marks.
    NumberForm {
        key: String,
        found: String,
        written: String,
        place: Option<Place>,
    },
    /// Not a unit that is known.
    UnknownUnit {
        key: String,
        unit: String,
        quantity: Quantity,
        nearest: Option<String>,
        place: Option<Place>,
    },
    /// The unit of another quantity.
    OtherQuantity {
        key: String,
        unit: String,
        is: Quantity,
        quantity: Quantity,
        nearest: Option<String>,
        place: Option<Place>,
    },
    /// NaN, infinite or beyond what a number can be.
    NotFinite {
        key: String,
        found: String,
        allowed: String,
        place: Option<Place>,
    },
    /// Outside the range that a machine can have.
    OutOfRange {
        key: String,
        found: String,
        allowed: String,
        hint: Option<String>,
        place: Option<Place>,
    },
    /// Not one of the words of a choice.
    UnknownWord {
        key: String,
        found: String,
        words: &'static [&'static str],
        nearest: Option<&'static str>,
        place: Option<Place>,
    },
    /// A word that is known, for something that is not simulated yet.
    NotSimulated {
        key: String,
        word: String,
        instead: &'static str,
        place: Option<Place>,
    },
    /// A key that must be there is absent. `why` says what makes it needed; `place` is what does
    /// (`because`), or the table that it belongs in.
    Missing {
        key: String,
        example: String,
        why: String,
        because: bool,
        place: Option<Place>,
    },
    /// Two keys of which one may be given.
    Conflict {
        first_key: String,
        second_key: String,
        remedy: String,
        first: Option<Place>,
        second: Option<Place>,
    },
    /// A key that has no meaning without another one.
    Needs {
        key: String,
        needs: String,
        remedy: String,
        place: Option<Place>,
        other: Option<Place>,
    },
    /// Slots and poles that admit no balanced three-phase winding.
    Infeasible {
        reason: String,
        remedy: Option<String>,
        slots: Option<Place>,
        poles: Option<Place>,
    },
    /// A layout that cannot be read, or does not fit the machine, or is not balanced.
    Layout {
        reason: String,
        remedy: String,
        place: Option<Place>,
    },
    /// Harmonics that make no shape.
    Harmonics {
        reason: String,
        remedy: String,
        place: Option<Place>,
    },
    /// Two values that cannot hold together.
    Contradiction {
        reason: String,
        remedy: String,
        /// Each with what stands there.
        places: Vec<(Place, String)>,
    },
    /// A change of something that cannot change during a run.
    NotChangeable {
        key: String,
        nearest: Option<&'static str>,
        known: bool,
        place: Option<Place>,
    },
    /// A change that comes before the one above it.
    ChangeOrder {
        at: String,
        before: String,
        place: Option<Place>,
        earlier: Option<Place>,
    },
    /// A change that leaves a bench that cannot be.
    Change {
        key: String,
        value: String,
        reason: String,
        remedy: String,
        place: Option<Place>,
    },
}

impl Problem {
    /// Where it is, for sorting: the first byte of the last place that it marks.
    #[must_use]
    pub fn start(&self) -> Option<usize> {
        // Of two places in conflict the later one brought the problem up.
        self.marks().iter().map(|(place, _)| place.start).max()
    }

    /// The marked places, each with its label.
    #[must_use]
    pub fn marks(&self) -> Vec<(Place, String)> {
        let one = |place: &Option<Place>, label: &str| {
            place
                .iter()
                .map(|p| (*p, label.to_owned()))
                .collect::<Vec<_>>()
        };
        let two = |a: &Option<Place>, a_label: &str, b: &Option<Place>, b_label: &str| {
            let mut both = one(a, a_label);
            both.extend(one(b, b_label));
            both.sort();
            both
        };
        match self {
            Self::Empty | Self::TooLarge { .. } => Vec::new(),
            Self::Syntax { place, .. } => one(place, "here"),
            Self::NoQuotes { place, .. } => one(&Some(*place), "no quotes"),
            Self::Twice { first, second, .. } => {
                two(first, "first here", &Some(*second), "and again here")
            }
            Self::UnknownKey { place, .. } => one(&Some(*place), "not known here"),
            Self::WrongType { place, found, .. } => one(place, found),
            Self::Tolerance { place, .. } => one(&Some(*place), "this tolerance"),
            Self::NoUnit { place, .. } => one(place, "the unit is missing"),
            Self::NoNumber { place, .. } => one(place, "no number"),
            Self::NumberForm { place, .. } => one(place, "this number"),
            Self::UnknownUnit { place, .. } => one(place, "no unit that is known"),
            Self::OtherQuantity { place, is, .. } => one(place, &format!("the unit of {is}")),
            Self::NotFinite { place, .. } => one(place, "not a finite number"),
            Self::OutOfRange { place, .. } => one(place, "outside the allowed range"),
            Self::UnknownWord { place, .. } => one(place, "not one of the words"),
            Self::NotSimulated { place, .. } => one(place, "not simulated yet"),
            Self::Missing {
                place,
                because: true,
                ..
            } => one(place, "needed because of this"),
            Self::Missing { place, .. } => one(place, "belongs in here"),
            Self::Conflict { first, second, .. } => two(first, "this", second, "and this"),
            Self::Needs { place, other, .. } => {
                two(place, "this alone says nothing", other, "because of this")
            }
            Self::Infeasible { slots, poles, .. } => two(slots, "slots", poles, "poles"),
            Self::Layout { place, .. } | Self::Harmonics { place, .. } => one(place, "here"),
            Self::Contradiction { places, .. } => places.clone(),
            Self::NotChangeable {
                place,
                known: false,
                ..
            } => one(place, "not known"),
            Self::NotChangeable { place, .. } => one(place, "cannot change during a run"),
            Self::ChangeOrder { place, earlier, .. } => {
                two(earlier, "earlier in the file", place, "earlier in time")
            }
            Self::Change { place, .. } => one(place, "this change"),
        }
    }

    /// What would be right, as a sentence or two.
    #[must_use]
    pub fn remedy(&self) -> Option<String> {
        Some(match self {
            Self::Empty => "`wyebench new NAME` writes a setup with comments to start from; `predict`, \
                            `choose` and `readings` print a file of theirs with --example"
                .to_owned(),
            Self::TooLarge { allowed, .. } => {
                format!("a setup is a text of a few kilobytes, at most {allowed} bytes")
            }
            Self::Syntax { .. } => {
                "a setup is TOML: `key = value` lines under [table] headings, texts in double quotes. \
                 The other lines are checked once this one can be read"
                    .to_owned()
            }
            Self::NoQuotes { found, .. } => match found.to_lowercase().as_str() {
                flag @ ("true" | "false") => format!("write {flag} in small letters"),
                "yes" | "on" => "write true".to_owned(),
                "no" | "off" => "write false".to_owned(),
                _ => format!("write \"{found}\""),
            },
            Self::Twice { .. } => "keep one of the two".to_owned(),
            Self::UnknownKey { nearest, belongs_in, known, table, .. } => {
                match (nearest, belongs_in) {
                    (Some(near), _) => format!("did you mean `{near}`?"),
                    (None, Some("")) => {
                        "it belongs at the top of the file, before the first [table]".to_owned()
                    }
                    (None, Some(home)) => format!("it belongs in [{home}]"),
                    (None, None) if table.is_empty() => {
                        format!("the file has these keys and tables: {}", known.join(", "))
                    }
                    (None, None) => format!("[{table}] has these: {}", known.join(", ")),
                }
            }
            Self::WrongType { remedy, .. }
            | Self::Conflict { remedy, .. }
            | Self::Needs { remedy, .. }
            | Self::Layout { remedy, .. }
            | Self::Harmonics { remedy, .. }
            | Self::Contradiction { remedy, .. }
            | Self::Change { remedy, .. } => remedy.clone(),
            Self::Tolerance { remedy, .. } => remedy.clone(),
            Self::NoUnit { quantity, example, .. } => format!(
                "number and unit stand in one text, as in `{example}`; units: {}",
                quantity.unit_list()
            ),
            Self::NoNumber { example, .. } => {
                format!("begin with a number, as in `{example}`")
            }
            Self::NumberForm { written, .. } => format!("write it as \"{written}\""),
            Self::UnknownUnit { quantity, nearest, .. }
            | Self::OtherQuantity { quantity, nearest, .. } => match nearest {
                Some(near) => format!("did you mean `{near}`? For {quantity}: {}", quantity.unit_list()),
                None => format!("here {quantity} is needed: {}", quantity.unit_list()),
            },
            Self::NotFinite { allowed, .. } => format!("allowed: {allowed}"),
            Self::OutOfRange { allowed, hint, .. } => match hint {
                Some(hint) => format!("allowed: {allowed}. {hint}"),
                None => format!("allowed: {allowed}"),
            },
            Self::UnknownWord { words, nearest, .. } => match nearest {
                Some(near) => format!("did you mean \"{near}\"? Allowed: {}", quoted(words)),
                None => format!("allowed: {}", quoted(words)),
            },
            Self::NotSimulated { instead, .. } => (*instead).to_owned(),
            Self::Missing { key, example, .. } => match key.rsplit_once('.') {
                Some(("change", name)) => format!("add `{name} = {example}` under [[change]]"),
                Some((table, name)) => format!("add `{name} = {example}` under [{table}]"),
                None => format!("add `{key} = {example}` at the top of the file"),
            },
            Self::Infeasible { remedy, .. } => remedy.clone()?,
            Self::NotChangeable { nearest, known, .. } => match (nearest, known) {
                (Some(near), false) => format!("did you mean \"{near}\"?"),
                (_, true) => {
                    "the keys of drive, supply and load can change; the machine and the run stay".to_owned()
                }
                _ => "write the whole key of drive, supply or load, as in \"drive.pwm.duty\"".to_owned(),
            },
            Self::ChangeOrder { .. } => "put the changes in the order of time".to_owned(),
        })
    }
}

fn quoted(words: &[&str]) -> String {
    words
        .iter()
        .map(|w| format!("\"{w}\""))
        .collect::<Vec<_>>()
        .join(", ")
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Empty => write!(f, "the file is empty"),
            Self::TooLarge { n_bytes, .. } => {
                write!(f, "{n_bytes} bytes are too many for a setup")
            }
            Self::Syntax { message, .. } => write!(f, "this is not TOML: {message}"),
            Self::NoQuotes { found, .. } => {
                write!(
                    f,
                    "{found} has no quotes: words and quantities stand in double quotes"
                )
            }
            Self::Twice { key, .. } => write!(f, "`{key}` is given twice"),
            Self::UnknownKey { table, key, .. } if table.is_empty() => {
                write!(f, "`{key}` is not a key of this file")
            }
            Self::UnknownKey { table, key, .. } => write!(f, "[{table}] has no key `{key}`"),
            Self::WrongType {
                key, found, wanted, ..
            } => {
                write!(f, "`{key}` needs {wanted}, but {found} is given")
            }
            Self::Tolerance { key, reason, .. } => write!(f, "`{key}`: {reason}"),
            Self::NoUnit {
                key,
                found,
                quantity,
                ..
            } => {
                write!(f, "`{key}` is {quantity}: {found} has no unit")
            }
            Self::NoNumber { key, found, .. } => {
                write!(f, "`{key}`: \"{found}\" does not begin with a number")
            }
            Self::NumberForm { key, found, .. } => {
                write!(
                    f,
                    "`{key}`: \"{found}\" is not written with a decimal point and plain digits"
                )
            }
            Self::UnknownUnit { key, unit, .. } => {
                write!(f, "`{key}`: the unit `{unit}` is not known")
            }
            Self::OtherQuantity {
                key,
                unit,
                is,
                quantity,
                ..
            } => {
                write!(f, "`{key}`: `{unit}` is {is}, but {quantity} is needed")
            }
            Self::NotFinite { key, found, .. } => {
                write!(f, "`{key}`: {found} is not a finite number")
            }
            Self::OutOfRange { key, found, .. } => write!(f, "`{key}`: {found} is out of range"),
            Self::UnknownWord { key, found, .. } => write!(f, "`{key}` cannot be \"{found}\""),
            Self::NotSimulated { key, word, .. } => {
                write!(f, "`{key} = \"{word}\"` is not simulated yet")
            }
            Self::Missing { key, why, .. } if why.is_empty() => write!(f, "`{key}` is missing"),
            Self::Missing { key, why, .. } => write!(f, "`{key}` is missing: {why}"),
            Self::Conflict {
                first_key,
                second_key,
                ..
            } => {
                write!(f, "`{first_key}` and `{second_key}` are both given")
            }
            Self::Needs { key, needs, .. } => write!(f, "`{key}` needs {needs}"),
            Self::Infeasible { reason, .. }
            | Self::Layout { reason, .. }
            | Self::Harmonics { reason, .. }
            | Self::Contradiction { reason, .. } => f.write_str(reason),
            Self::NotChangeable {
                key, known: true, ..
            } => {
                write!(f, "`{key}` cannot change during a run")
            }
            Self::NotChangeable { key, .. } => write!(f, "there is no key `{key}` to change"),
            Self::ChangeOrder { at, before, .. } => {
                write!(f, "the change at {at} stands after the one at {before}")
            }
            Self::Change {
                key, value, reason, ..
            } => {
                write!(f, "`{key}` cannot change to {value}: {reason}")
            }
        }
    }
}

impl std::error::Error for Problem {}

impl Diagnostic for Problem {
    fn help<'a>(&'a self) -> Option<Box<dyn fmt::Display + 'a>> {
        self.remedy()
            .map(|text| Box::new(text) as Box<dyn fmt::Display>)
    }

    fn labels(&self) -> Option<Box<dyn Iterator<Item = LabeledSpan> + '_>> {
        let marks = self.marks();
        if marks.is_empty() {
            return None;
        }
        Some(Box::new(marks.into_iter().map(|(place, label)| {
            let span = SourceSpan::new(place.start.into(), place.end - place.start);
            LabeledSpan::new_with_span(Some(label), span)
        })))
    }
}

/// Every problem of one setup, in the order of the file, with its text.
#[derive(Clone, Debug)]
pub struct SetupErrors {
    source: NamedSource<String>,
    problems: Vec<Problem>,
}

impl SetupErrors {
    /// `problems` in any order; they are sorted by place.
    pub(super) fn new(text: &str, source_name: &str, mut problems: Vec<Problem>) -> Self {
        problems.sort_by_key(|p| p.start().unwrap_or(usize::MAX));
        Self {
            source: NamedSource::new(source_name, text.to_owned()),
            problems,
        }
    }

    /// The problems in the order of the file; never empty.
    #[must_use]
    pub fn problems(&self) -> &[Problem] {
        &self.problems
    }

    /// The name of the file or text.
    #[must_use]
    pub fn source_name(&self) -> &str {
        self.source.name()
    }
}

impl fmt::Display for SetupErrors {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let name = self.source.name();
        match self.problems.len() {
            1 => write!(f, "{name} has a problem; nothing was run"),
            n => write!(f, "{name} has {n} problems; nothing was run"),
        }
    }
}

impl std::error::Error for SetupErrors {}

impl Diagnostic for SetupErrors {
    fn source_code(&self) -> Option<&dyn SourceCode> {
        Some(&self.source)
    }

    fn related<'a>(&'a self) -> Option<Box<dyn Iterator<Item = &'a dyn Diagnostic> + 'a>> {
        Some(Box::new(self.problems.iter().map(|p| p as &dyn Diagnostic)))
    }
}
