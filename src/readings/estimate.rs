//! A figure with how well it is known.

use crate::analysis::{
    Figure, FigureNames, Group, Input, Source, TABLE_DIGITS, Unit, Value, shown_with_range,
};

/// A figure with its expanded uncertainty.
#[derive(Clone, Debug, PartialEq)]
pub struct Estimate {
    /// The figure.
    pub figure: Figure,
    /// Expanded uncertainty in the figure's unit, coverage factor 2: about 95 of 100 lie within.
    /// `None` for what is counted or not known.
    pub expanded: Option<f64>,
}

/// Coverage factor: about 95 % for a normal distribution (JCGM 100:2008, 6.3.3, from memory).
pub const COVERAGE: f64 = 2.0;

impl Estimate {
    /// A figure without a note. `found`: value and standard uncertainty, or why there is none.
    #[must_use]
    pub fn new(
        names: FigureNames,
        (group, unit): (Group, Unit),
        found: Result<(f64, f64), &'static str>,
        formula: &'static str,
        inputs: Vec<Input>,
        source: Source,
    ) -> Self {
        let value = found.map_or(f64::NAN, |(value, _)| value);
        let mut figure = Figure::new(names, group, (value, unit), formula, inputs, source);
        let range = found.map(|(_, standard)| COVERAGE * standard);
        if let Err(why) = found {
            figure.value = Value::Absent(why);
        } else if range.is_ok_and(|range| !range.is_finite()) {
            figure.value = Value::Absent("not a finite number here");
        }
        let known = figure.number().is_some();
        Self {
            figure,
            expanded: range.ok().filter(|_| known),
        }
    }

    /// The same with a note.
    #[must_use]
    pub fn noted(mut self, note: &'static str) -> Self {
        self.figure.note = note;
        self
    }

    /// Value and range in one unit; of what is not known, why.
    #[must_use]
    pub fn words(&self) -> String {
        let figure = &self.figure;
        match (&figure.value, figure.number(), self.expanded) {
            (Value::Absent(why), ..) => format!("– ({why})"),
            (_, Some(value), Some(range)) => shown_with_range(value, range, figure.unit),
            _ => figure.shown(TABLE_DIGITS).to_string(),
        }
    }
}
