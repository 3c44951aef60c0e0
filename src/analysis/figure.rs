//! A figure that explains itself: value, unit, formula, inputs and source in one type.
//!
//! The terminal prints it for `--why`, the window on a click, a handout as a footnote.

use std::fmt::Write as _;

use super::number::{Shown, Unit, shown};

/// A value with everything that says where it comes from.
#[derive(Clone, Debug, PartialEq)]
pub struct Figure {
    /// The JSON key: `mean_speed_rpm`.
    pub key: &'static str,
    /// What people call it: "mean speed".
    pub name: &'static str,
    /// Symbol in the formula: `n`; empty where there is none.
    pub symbol: &'static str,
    /// Under which heading it stands.
    pub group: Group,
    /// The value, in the unit below before its scale.
    pub value: Value,
    /// Unit of the value.
    pub unit: Unit,
    /// The formula in plain text, right of the equals sign; its symbols stand apart by spaces
    /// or parentheses and are those of `inputs`.
    pub formula: &'static str,
    /// What went in.
    pub inputs: Vec<Input>,
    /// Where the formula comes from.
    pub source: Source,
    /// What the figure means or leaves out, in a sentence; may be empty.
    pub note: &'static str,
    /// Magnitude, in the unit of the value, up to which a number is only what rounding left beside the
    /// other quantities of the same run; people read 0 there, JSON keeps the number. 0: none is.
    pub dust: f64,
}

/// Headings of a table of figures, in order.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Group {
    /// How fast it turns.
    Speed,
    /// What the shaft feels.
    Torque,
    /// What flows.
    Current,
    /// Where the power goes.
    Power,
    /// How the figures were taken, and whether they can be trusted.
    Account,
}

impl Group {
    /// All headings in order.
    pub const ALL: [Self; 5] = [
        Self::Speed,
        Self::Torque,
        Self::Current,
        Self::Power,
        Self::Account,
    ];

    /// The heading.
    #[must_use]
    pub const fn heading(self) -> &'static str {
        match self {
            Self::Speed => "Speed",
            Self::Torque => "Torque",
            Self::Current => "Current",
            Self::Power => "Power",
            Self::Account => "Account",
        }
    }
}

/// What a figure says.
#[derive(Clone, Debug, PartialEq)]
pub enum Value {
    /// A finite number.
    Number(f64),
    /// A count.
    Count(u64),
    /// A word or sentence.
    Words(String),
    /// Nothing, and why.
    Absent(&'static str),
}

/// One quantity that went into a figure.
#[derive(Clone, Debug, PartialEq)]
pub struct Input {
    /// Its symbol, as the formula has it.
    pub symbol: &'static str,
    /// What it is.
    pub name: &'static str,
    /// Its value.
    pub value: f64,
    /// Its unit.
    pub unit: Unit,
}

impl Input {
    /// Its symbol, what it is, its value, its unit.
    #[must_use]
    pub const fn new(symbol: &'static str, name: &'static str, value: f64, unit: Unit) -> Self {
        Self {
            symbol,
            name,
            value,
            unit,
        }
    }
}

/// Where a formula comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Source {
    /// Who wrote it; empty for a definition of this project.
    pub author: &'static str,
    /// Title, or where this project keeps its definitions.
    pub title: &'static str,
    /// Edition, section or equation; may be empty.
    pub place: &'static str,
}

impl Source {
    /// A definition of this project, with its name in the definitions of DEVELOPERS.md.
    #[must_use]
    pub const fn definition(place: &'static str) -> Self {
        Self {
            author: "",
            title: "definition, see DEVELOPERS.md",
            place,
        }
    }
}

impl std::fmt::Display for Source {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let parts = [self.author, self.title, self.place];
        let mut between = "";
        for part in parts.iter().filter(|part| !part.is_empty()) {
            write!(f, "{between}{part}")?;
            between = ", ";
        }
        Ok(())
    }
}

/// Significant digits of a figure in a table, where nothing else is asked.
pub const TABLE_DIGITS: usize = 4;

/// Significant digits in an explanation.
const WHY_DIGITS: usize = 5;

/// JSON key, name and symbol of a figure.
pub type FigureNames = (&'static str, &'static str, &'static str);

impl Figure {
    /// A figure without a note; a value that is not finite is absent.
    #[must_use]
    pub fn new(
        (key, name, symbol): FigureNames,
        group: Group,
        (value, unit): (f64, Unit),
        formula: &'static str,
        inputs: Vec<Input>,
        source: Source,
    ) -> Self {
        Self {
            key,
            name,
            symbol,
            group,
            value: if value.is_finite() {
                Value::Number(value)
            } else {
                Value::Absent("not a finite number here")
            },
            unit,
            formula,
            inputs,
            source,
            note: "",
            dust: 0.0,
        }
    }

    /// A value of this figure without dust: 0 where no more than that is left of it.
    #[must_use]
    pub fn without_dust(&self, value: f64) -> f64 {
        if value.abs() <= self.dust { 0.0 } else { value }
    }

    /// The number, where it is one.
    #[must_use]
    pub const fn number(&self) -> Option<f64> {
        match self.value {
            Value::Number(value) => Some(value),
            _ => None,
        }
    }

    /// The value as people read it.
    #[must_use]
    pub fn shown(&self, digits: usize) -> Shown {
        let plain = |number: String| Shown {
            number,
            unit: String::new(),
        };
        match &self.value {
            Value::Number(value) => shown(self.without_dust(*value), self.unit, digits),
            Value::Count(count) => plain(count.to_string()),
            Value::Words(words) => plain(words.clone()),
            Value::Absent(_) => plain("–".to_owned()),
        }
    }

    /// The formula with the numbers put in.
    #[must_use]
    pub fn put_in(&self) -> String {
        let mut text = String::new();
        let mut word = String::new();
        for character in self.formula.chars().chain([' ']) {
            if character.is_whitespace() || "()√|".contains(character) {
                self.put_in_word(&word, &mut text);
                word.clear();
                text.push(character);
            } else {
                word.push(character);
            }
        }
        text.truncate(text.trim_end().len());
        text
    }

    fn put_in_word(&self, word: &str, text: &mut String) {
        let power = word.chars().next_back().filter(|c| "²³⁴⁵".contains(*c));
        let bare = power.map_or(word, |power| word.trim_end_matches(power));
        let found = |symbol: &str| self.inputs.iter().find(|input| input.symbol == symbol);
        if let Some(input) = found(word) {
            let value = shown(input.value, input.unit, WHY_DIGITS).to_string();
            // Two signs in a row read badly, and a power belongs to number and unit.
            let _ = if input.value < 0.0 {
                write!(text, "({value})")
            } else {
                write!(text, "{value}")
            };
        } else if let (Some(input), Some(power)) = (found(bare), power) {
            let value = shown(input.value, input.unit, WHY_DIGITS);
            let _ = write!(text, "({value}){power}");
        } else {
            text.push_str(word);
        }
    }

    /// The whole explanation, some lines of plain text without an end of line.
    #[must_use]
    pub fn why(&self) -> String {
        let mut text = format!("{} = {}", self.name, self.shown(WHY_DIGITS));
        let mut line = |label: &str, content: &str| {
            let _ = write!(text, "\n  {label:<8} {content}");
        };
        if let Value::Absent(reason) = self.value {
            line("because", reason);
        }
        if let Value::Number(value) = self.value
            && value != 0.0
            && self.without_dust(value) == 0.0
        {
            let left = format!("{value:e}, which is what rounding leaves");
            line("number", &left);
        }
        line("key", self.key);
        if !self.formula.is_empty() {
            let left = if self.symbol.is_empty() {
                self.name
            } else {
                self.symbol
            };
            line("formula", &format!("{left} = {}", self.formula));
            let put_in = self.put_in();
            // a formula in words has no symbols to put numbers in for
            if put_in != self.formula {
                line("put in", &format!("{left} = {put_in}"));
            }
        }
        let values: Vec<String> = self
            .inputs
            .iter()
            .map(|input| shown(input.value, input.unit, WHY_DIGITS).to_string())
            .collect();
        let widest = |lengths: &mut dyn Iterator<Item = usize>| lengths.max().unwrap_or(0);
        let symbols = widest(&mut self.inputs.iter().map(|input| input.symbol.chars().count()));
        let numbers = widest(&mut values.iter().map(|value| value.chars().count()));
        let mut label = "where";
        for (input, value) in self.inputs.iter().zip(&values) {
            let symbol = input.symbol;
            line(
                label,
                &format!("{symbol:<symbols$} = {value:<numbers$}  {}", input.name),
            );
            label = "";
        }
        line("source", &self.source.to_string());
        if !self.note.is_empty() {
            line("note", self.note);
        }
        text
    }
}

/// A figure was asked for that does not exist.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct UnknownFigure {
    /// What was asked.
    pub asked: String,
    /// The nearest key, where one is near.
    pub nearest: Option<&'static str>,
    /// All keys.
    pub known: Vec<&'static str>,
}

impl std::fmt::Display for UnknownFigure {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "no figure is called `{}`", self.asked)?;
        if let Some(nearest) = self.nearest {
            write!(f, "; the nearest is `{nearest}`")?;
        }
        let mut line = String::from("figures: all");
        for key in &self.known {
            // Lines that fit a terminal.
            let joined = format!("{line}, {key}");
            if joined.len() > 78 {
                write!(f, "\n{line},")?;
                line = format!("  {key}");
            } else {
                line = joined;
            }
        }
        write!(f, "\n{line}")
    }
}

impl std::error::Error for UnknownFigure {}

/// Checks that `asked` is `all` or the key of one of `known`.
///
/// # Errors
/// [`UnknownFigure`] with the nearest key.
pub fn check_key(known: &[&'static str], asked: &str) -> Result<(), UnknownFigure> {
    if asked == "all" || known.contains(&asked) {
        return Ok(());
    }
    // A piece of a key (`torque_mean`) or a slip of the finger (`effciency`).
    let likeness = |key: &str| {
        let piece = if key.contains(asked) && !asked.is_empty() {
            0.4
        } else {
            0.0
        };
        strsim::jaro_winkler(key, asked) + piece
    };
    let nearest = known
        .iter()
        .copied()
        .map(|key| (likeness(key), key))
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .filter(|(likeness, _)| *likeness > 0.75)
        .map(|(_, key)| key);
    Err(UnknownFigure {
        asked: asked.to_owned(),
        nearest,
        known: known.to_vec(),
    })
}

/// The explanation of one figure, or of `all`.
///
/// # Errors
/// [`UnknownFigure`] with the nearest key.
pub fn why(figures: &[Figure], asked: &str) -> Result<String, UnknownFigure> {
    let known: Vec<_> = figures.iter().map(|figure| figure.key).collect();
    check_key(&known, asked)?;
    let wanted = figures
        .iter()
        .filter(|figure| asked == "all" || figure.key == asked);
    Ok(wanted.map(Figure::why).collect::<Vec<_>>().join("\n\n"))
}
