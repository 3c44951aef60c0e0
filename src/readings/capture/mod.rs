//! Waveforms that an instrument saved: which motor they are of, or what its drive does.
//!
//! [`Table::read`] makes columns of a text, [`Capture::new`] picks time and channels out of them, and
//! [`spun`] or [`driven`] say what they show: a motor turned from outside with open leads, or the
//! terminals of one that runs on its drive. [`Found`] is either of the two, [`Traces`] a stretch of it to
//! be drawn, and [`OverRun`] lays the same thing simulated over that.

mod averaged;
mod driven;
mod edges;
mod example;
mod figures;
mod found;
mod poles;
mod spun;
mod table;
mod traces;
mod wave;

use std::fmt;

use crate::slices::{rest, through};

pub use driven::{Driven, DrivenError, DrivenOptions, driven, driven_in_slices};
pub use example::example_capture;
pub use figures::{driven_figures, spun_figures};
pub use found::{Asked, Finding, Found, FoundError};
pub use spun::{
    SPEED_WANTED, Spun, SpunError, SpunOptions, TIME_STANDARD, speed_with_range, spun,
    spun_in_slices,
};
pub use table::{
    BadRow, Dialect, MAX_CAPTURE_BYTES, MAX_COLUMNS, MAX_ROWS, Table, TableError, scale_of,
};
pub use traces::{OverRun, TraceRow, Traces};
pub use wave::{Harmonic, Wave};

/// Channels over time. SI units.
#[derive(Clone, Debug, PartialEq)]
pub struct Capture {
    /// Rising, evenly spaced but for the digits they are written with.
    pub times_s: Vec<f64>,
    /// Channels, each as long as the times.
    pub channels: Vec<Channel>,
    /// A channel with one mark a turn, where one was named.
    pub mark: Option<Channel>,
    /// Where the times come from, for the report.
    pub time_base: String,
    /// The first lines of the file that were left out, and why.
    pub bad: Vec<BadRow>,
    /// How many there are in all.
    pub n_bad: usize,
}

/// One channel.
#[derive(Clone, Debug, PartialEq)]
pub struct Channel {
    /// As its column is called.
    pub name: String,
    /// Values in V.
    pub volts: Vec<f64>,
}

/// What to pick out of a table.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Picks {
    /// Column of the time, by name or number; absent: the first, if it rises all the way.
    pub time: Option<String>,
    /// Spacing of the samples in s, instead of a column.
    pub interval_s: Option<f64>,
    /// Columns of the channels, by name or number; absent: all but time and mark, at most three.
    pub channels: Vec<String>,
    /// Column of the mark.
    pub mark: Option<String>,
    /// Seconds in one of the time column; absent: by its unit, or 1.
    pub time_scale: Option<f64>,
    /// Volts in one of the channels; absent: by their units, or 1.
    pub channel_scale: Option<f64>,
}

/// Why channels could not be picked.
#[derive(Clone, Debug, PartialEq)]
pub enum PickError {
    /// No such column.
    NoColumn {
        /// As asked.
        asked: String,
        /// What there is.
        known: Vec<String>,
    },
    /// No column rises like a time.
    NoTime {
        /// The column that does not.
        column: String,
        /// The row, counted from 1 in the table.
        row: usize,
    },
    /// The samples are not evenly spaced.
    Uneven {
        /// Shortest step in s.
        least_s: f64,
        /// Longest step in s.
        most_s: f64,
    },
    /// Nothing but a time.
    NoChannel,
    /// Too few rows to say anything.
    TooShort {
        /// How many there are.
        n_rows: usize,
    },
}

/// Rows below which nothing is said.
const LEAST_ROWS: usize = 32;

impl fmt::Display for PickError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoColumn { asked, known } => {
                write!(
                    f,
                    "there is no column of numbers called `{asked}`; there are {} (or a number from 1)",
                    known.join(", ")
                )
            }
            Self::NoTime { column, row } => write!(
                f,
                "`{column}` is no time: it does not rise in row {row}. Name the column of the time, or give the spacing of \
                 the samples, as in 10 us"
            ),
            Self::Uneven { least_s, most_s } => write!(
                f,
                "the steps of the time go from {least_s:.3e} s to {most_s:.3e} s: samples are missing, or the times have too \
                 few digits; in that case give the spacing of the samples, as in 10 us"
            ),
            Self::NoChannel => write!(
                f,
                "there is one column only, and it is taken as the time: if it is a channel, give the spacing of its \
                 samples, as in 10 us"
            ),
            Self::TooShort { n_rows } => write!(
                f,
                "{n_rows} rows are too few to tell anything from; at least {LEAST_ROWS} are needed"
            ),
        }
    }
}

impl std::error::Error for PickError {}

impl Capture {
    /// Picks time and channels out of a table.
    ///
    /// # Errors
    /// [`PickError`].
    pub fn new(table: &Table, picks: &Picks) -> Result<Self, PickError> {
        through(Self::new_in_slices(table, picks))
    }

    /// The same, with rests.
    ///
    /// # Errors
    /// [`PickError`].
    pub async fn new_in_slices(table: &Table, picks: &Picks) -> Result<Self, PickError> {
        let n_rows = table.len();
        if n_rows < LEAST_ROWS {
            return Err(PickError::TooShort { n_rows });
        }
        let numbers = |column: &usize| mostly_numbers(&table.columns[*column]);
        let find = |asked: &String| {
            let found = table.find(asked).filter(numbers);
            found.ok_or_else(|| PickError::NoColumn {
                asked: asked.clone(),
                known: (0..table.columns.len())
                    .filter(numbers)
                    .map(|c| table.name(c))
                    .collect(),
            })
        };
        let mark = picks.mark.as_ref().map(&find).transpose()?;
        let mut chosen = picks
            .channels
            .iter()
            .map(&find)
            .collect::<Result<Vec<_>, _>>()?;
        let time = match (&picks.time, picks.interval_s) {
            (Some(asked), _) => Some(find(asked)?),
            (None, Some(_)) => None,
            (None, None) if table.columns.len() == 1 => return Err(PickError::NoChannel),
            (None, None) => Some((0..table.columns.len()).find(numbers).unwrap_or(0)),
        };
        if chosen.is_empty() {
            chosen = (0..table.columns.len())
                .filter(|column| Some(*column) != time && Some(*column) != mark)
                .filter(numbers)
                // where the spacing is given, a first column that only counts is no channel
                .filter(|column| picks.interval_s.is_none() || !is_time(table, *column))
                .take(3)
                .collect();
        }
        if chosen.is_empty() {
            return Err(PickError::NoChannel);
        }
        let mut used = chosen.clone();
        used.extend(time.into_iter().chain(mark));
        rest().await;
        let kept = Kept::of(table, &used);
        if kept.rows.len() < LEAST_ROWS {
            return Err(PickError::TooShort {
                n_rows: kept.rows.len(),
            });
        }
        rest().await;
        let (times_s, time_base) = times(table, picks, time, &kept.rows)?;
        let channel = |column: usize| {
            let by_unit = table.units.get(column).cloned().flatten();
            let scale = picks
                .channel_scale
                .or_else(|| by_unit.as_deref().and_then(scale_of))
                .unwrap_or(1.0);
            let values = &table.columns[column];
            Channel {
                name: table.name(column),
                volts: kept.rows.iter().map(|&row| scale * values[row]).collect(),
            }
        };
        let mut channels = Vec::with_capacity(chosen.len());
        for column in chosen {
            rest().await;
            channels.push(channel(column));
        }
        rest().await;
        Ok(Self {
            times_s,
            channels,
            mark: mark.map(channel),
            time_base,
            bad: kept.bad,
            n_bad: kept.n_bad,
        })
    }

    /// Mean spacing of the samples in s.
    #[must_use]
    pub fn spacing_s(&self) -> f64 {
        match (self.times_s.first(), self.times_s.last()) {
            #[expect(clippy::cast_precision_loss, reason = "a number of rows")]
            (Some(first), Some(last)) if last > first => {
                (last - first) / (self.times_s.len() - 1) as f64
            }
            _ => 0.0,
        }
    }
}

/// Whether more than eight of ten fields of a column are numbers.
fn mostly_numbers(column: &[f64]) -> bool {
    let n = column.iter().filter(|value| value.is_finite()).count();
    10 * n > 8 * column.len()
}

/// Rows whose fields in the columns that are used are all numbers, and what became of the others.
struct Kept {
    rows: Vec<usize>,
    bad: Vec<BadRow>,
    n_bad: usize,
}

impl Kept {
    fn of(table: &Table, used: &[usize]) -> Self {
        let mut kept = Self {
            rows: Vec::with_capacity(table.len()),
            bad: table.bad.clone(),
            n_bad: table.n_bad,
        };
        for row in 0..table.len() {
            let hole = used
                .iter()
                .find(|&&column| !table.columns[column][row].is_finite());
            let Some(&column) = hole else {
                kept.rows.push(row);
                continue;
            };
            kept.n_bad += 1;
            if kept.bad.len() < table::NAMED {
                kept.bad.push(BadRow {
                    line: usize::try_from(table.lines[row]).unwrap_or(usize::MAX),
                    reason: format!("no number in `{}`", table.name(column)),
                });
            }
        }
        kept.bad.sort_by_key(|bad| bad.line);
        kept
    }
}

/// Whether a column is called a time and rises all the way.
fn is_time(table: &Table, column: usize) -> bool {
    let name = table.name(column).to_lowercase();
    let called = [
        "t", "time", "x", "zeit", "second", "seconds", "sample", "index",
    ];
    called
        .iter()
        .any(|word| name == *word || name.starts_with("time"))
        && table.columns[column]
            .windows(2)
            .all(|pair| pair[1] > pair[0])
}

fn times(
    table: &Table,
    picks: &Picks,
    column: Option<usize>,
    rows: &[usize],
) -> Result<(Vec<f64>, String), PickError> {
    if let Some(interval_s) = picks.interval_s {
        let times = rows
            .iter()
            .map(|&row| f64::from(table.places[row]) * interval_s)
            .collect();
        return Ok((times, format!("a sample every {interval_s:e} s, as given")));
    }
    let column = column.unwrap_or(0);
    let by_unit = table.units.get(column).cloned().flatten();
    let scale = picks
        .time_scale
        .or_else(|| by_unit.as_deref().and_then(scale_of));
    let values: Vec<f64> = rows.iter().map(|&row| table.columns[column][row]).collect();
    let name = table.name(column);
    if let Some(at) = values.windows(2).position(|pair| pair[1] <= pair[0]) {
        return Err(PickError::NoTime {
            column: name,
            row: at + 2,
        });
    }
    let in_seconds = scale.unwrap_or(1.0);
    let times: Vec<f64> = values.iter().map(|value| in_seconds * value).collect();
    let steps = || times.windows(2).map(|pair| pair[1] - pair[0]);
    let (least_s, most_s) = (
        steps().fold(f64::INFINITY, f64::min),
        steps().fold(0.0, f64::max),
    );
    // twice the step is a sample that is missing; less comes from the digits of the times
    if most_s > 1.6 * least_s {
        return Err(PickError::Uneven { least_s, most_s });
    }
    let words = match (picks.time_scale, by_unit) {
        (None, Some(unit)) => format!("column `{name}`, in {unit}"),
        (Some(_), _) => format!("column `{name}`, in the unit given"),
        (None, None) => format!("column `{name}`, taken as seconds: it names no unit"),
    };
    Ok((times, words))
}
