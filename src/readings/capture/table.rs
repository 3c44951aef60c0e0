//! A table of numbers as an instrument saved it: whatever parts its fields, whatever stands above.
//!
//! The text is taken as untrusted: its size is limited, and every line that is no row of numbers is
//! counted and the first of them named, none is passed over in silence.

use std::borrow::Cow;
use std::fmt;

use crate::slices::{rest, through};

/// Largest text that is taken, in bytes: 64 MiB.
pub const MAX_CAPTURE_BYTES: usize = 64 << 20;
/// Most rows.
pub const MAX_ROWS: usize = 4_000_000;
/// Most columns.
pub const MAX_COLUMNS: usize = 64;
/// Lines above the table that are looked at to tell how fields are parted.
const LOOKED_AT: usize = 2000;
/// Bad rows that are named one by one.
pub(super) const NAMED: usize = 8;
/// Lines that are read without a rest.
const LINES_AT_ONCE: usize = 2048;
/// Bytes that are looked at without one.
const BYTES_AT_ONCE: usize = 4 << 20;

/// How fields are parted, and how a decimal is marked.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Dialect {
    /// Between fields.
    pub delimiter: char,
    /// Whether 1,5 is one and a half.
    pub decimal_comma: bool,
}

impl fmt::Display for Dialect {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let parted = match self.delimiter {
            ';' => "semicolons",
            '\t' => "tabs",
            ' ' => "blanks",
            _ => "commas",
        };
        let mark = if self.decimal_comma { "comma" } else { "point" };
        write!(f, "fields parted by {parted}, decimal {mark}")
    }
}

/// A line that is no row.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BadRow {
    /// The line, counted from 1.
    pub line: usize,
    /// What is wrong with it.
    pub reason: String,
}

/// Columns of numbers.
#[derive(Clone, Debug, PartialEq)]
pub struct Table {
    /// Names as they stand above the columns; empty where there are none.
    pub names: Vec<String>,
    /// Units that stand with or under the names.
    pub units: Vec<Option<String>>,
    /// Columns of equal length; NaN where a field is no number.
    pub columns: Vec<Vec<f64>>,
    /// Line of each row, counted from 1.
    pub lines: Vec<u32>,
    /// Place of each row among all, bad ones counted and empty lines not.
    pub places: Vec<u32>,
    /// Line of the first row, counted from 1.
    pub first_line: usize,
    /// How it was read.
    pub dialect: Dialect,
    /// The first lines below that are no rows: another number of fields, or not one number.
    pub bad: Vec<BadRow>,
    /// How many there are in all.
    pub n_bad: usize,
}

/// Why a text is no table.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum TableError {
    /// Nothing is in it.
    Empty,
    /// It is no text.
    Binary {
        /// First byte that no text has, counted from 0.
        at_byte: usize,
    },
    /// Too many bytes.
    TooLarge {
        /// How many.
        n_bytes: usize,
    },
    /// Too many rows.
    TooManyRows,
    /// Too many columns.
    TooManyColumns {
        /// How many.
        n_columns: usize,
    },
    /// No two rows of numbers.
    NoRows {
        /// How many lines were looked at.
        n_lines: usize,
    },
    /// More bad rows than good ones.
    MostlyBad {
        /// Bad rows.
        n_bad: usize,
        /// Good rows.
        n_good: usize,
        /// The first bad one.
        first: BadRow,
    },
}

impl fmt::Display for TableError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Empty => write!(f, "the file is empty"),
            Self::Binary { at_byte } => write!(
                f,
                "this is no text: byte {at_byte} is none of a text's. Save the waveform as CSV, not in the instrument's own \
                 format"
            ),
            Self::TooLarge { n_bytes } => write!(
                f,
                "{n_bytes} bytes are more than the {MAX_CAPTURE_BYTES} that are read; save a shorter stretch, or fewer points"
            ),
            Self::TooManyRows => write!(
                f,
                "more than {MAX_ROWS} rows; save a shorter stretch, or fewer points"
            ),
            Self::TooManyColumns { n_columns } => write!(
                f,
                "{n_columns} columns are more than the {MAX_COLUMNS} that are read"
            ),
            Self::NoRows { n_lines } => write!(
                f,
                "none of {n_lines} lines begins a table of numbers, with fields parted by commas, semicolons, tabs or \
                 blanks; say what parts them and what marks decimals if it is one"
            ),
            Self::MostlyBad {
                n_bad,
                n_good,
                first,
            } => write!(
                f,
                "{n_bad} lines are no rows, and {n_good} are: the first is line {}: {}",
                first.line, first.reason
            ),
        }
    }
}

impl std::error::Error for TableError {}

/// Bytes as text: UTF-8, UTF-16 with its mark, else one byte a character (Latin-1).
async fn decoded(bytes: &[u8]) -> Result<String, TableError> {
    let wide = |big: bool, bytes: &[u8]| {
        let units: Vec<u16> = bytes
            .chunks_exact(2)
            .map(|pair| {
                let pair = [pair[0], pair[1]];
                if big {
                    u16::from_be_bytes(pair)
                } else {
                    u16::from_le_bytes(pair)
                }
            })
            .collect();
        String::from_utf16_lossy(&units)
    };
    match bytes {
        [0xff, 0xfe, rest @ ..] => return Ok(wide(false, rest)),
        [0xfe, 0xff, rest @ ..] => return Ok(wide(true, rest)),
        _ => {}
    }
    let is_control = |byte: &u8| *byte < 9 || (14..32).contains(byte) && *byte != 0x1a;
    for (n, chunk) in bytes.chunks(BYTES_AT_ONCE).enumerate() {
        rest().await;
        if let Some(at) = chunk.iter().position(is_control) {
            let at_byte = n * BYTES_AT_ONCE + at;
            return Err(TableError::Binary { at_byte });
        }
    }
    rest().await;
    let bytes = bytes.strip_prefix(&[0xef, 0xbb, 0xbf]).unwrap_or(bytes);
    Ok(match std::str::from_utf8(bytes) {
        Ok(text) => text.to_owned(),
        Err(_) => bytes.iter().map(|&byte| char::from(byte)).collect(),
    })
}

/// The lines of a text.
async fn lines(text: &str) -> Vec<&str> {
    let mut found = Vec::new();
    for (k, line) in text.lines().enumerate() {
        if k % (16 * LINES_AT_ONCE) == 0 {
            rest().await;
        }
        found.push(line);
    }
    found
}

impl Table {
    /// Reads a table; `dialect` where the person said how.
    ///
    /// # Errors
    /// [`TableError`].
    pub fn read(bytes: &[u8], dialect: Option<Dialect>) -> Result<Self, TableError> {
        through(Self::read_in_slices(bytes, dialect))
    }

    /// The same, with rests.
    ///
    /// # Errors
    /// [`TableError`].
    pub async fn read_in_slices(
        bytes: &[u8],
        dialect: Option<Dialect>,
    ) -> Result<Self, TableError> {
        if bytes.len() > MAX_CAPTURE_BYTES {
            return Err(TableError::TooLarge {
                n_bytes: bytes.len(),
            });
        }
        let text = decoded(bytes).await?;
        if text.trim().is_empty() {
            return Err(TableError::Empty);
        }
        let lines = lines(&text).await;
        let (dialect, n_columns) = told(&lines, dialect).ok_or(TableError::NoRows {
            n_lines: lines.len(),
        })?;
        if n_columns > MAX_COLUMNS {
            return Err(TableError::TooManyColumns { n_columns });
        }
        let first = first_row(&lines, dialect, n_columns);
        let (names, units) = headings(&lines[..first], dialect, n_columns);
        let mut table = Self {
            names,
            units,
            columns: vec![Vec::new(); n_columns],
            lines: Vec::new(),
            places: Vec::new(),
            first_line: first + 1,
            dialect,
            bad: Vec::new(),
            n_bad: 0,
        };
        table.rows(&lines[first..], first + 1).await?;
        Ok(table)
    }

    async fn rows(&mut self, lines: &[&str], first_line: usize) -> Result<(), TableError> {
        let n_columns = self.columns.len();
        let mut place = 0_u32;
        for (k, line) in lines.iter().enumerate() {
            if k % LINES_AT_ONCE == 0 {
                rest().await;
            }
            if line.trim().is_empty() {
                continue;
            }
            place = place.saturating_add(1);
            let line_number = first_line + k;
            match wanted(&row(line, self.dialect), n_columns) {
                Ok(values) => {
                    for (column, value) in self.columns.iter_mut().zip(values) {
                        column.push(value);
                    }
                    self.places.push(place - 1);
                    self.lines
                        .push(u32::try_from(line_number).unwrap_or(u32::MAX));
                }
                Err(reason) => {
                    self.n_bad += 1;
                    if self.bad.len() < NAMED {
                        let line = line_number;
                        self.bad.push(BadRow { line, reason });
                    }
                }
            }
        }
        let n_good = self.len();
        if n_good > MAX_ROWS {
            return Err(TableError::TooManyRows);
        }
        match self.bad.first() {
            Some(first) if self.n_bad > n_good => Err(TableError::MostlyBad {
                n_bad: self.n_bad,
                n_good,
                first: first.clone(),
            }),
            _ => Ok(()),
        }
    }

    /// Number of rows.
    #[must_use]
    pub fn len(&self) -> usize {
        self.lines.len()
    }

    /// Whether there is no row.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// What a column is called: its name, or its number.
    #[must_use]
    pub fn name(&self, column: usize) -> String {
        self.names
            .get(column)
            .filter(|name| !name.is_empty())
            .cloned()
            .unwrap_or_else(|| format!("column {}", column + 1))
    }

    /// The column of a name, or of a number counted from 1.
    #[must_use]
    pub fn find(&self, wanted: &str) -> Option<usize> {
        let wanted = wanted.trim();
        let same = |name: &String| name.eq_ignore_ascii_case(wanted);
        self.names.iter().position(same).or_else(|| {
            let number: usize = wanted.parse().ok()?;
            (1..=self.columns.len())
                .contains(&number)
                .then(|| number - 1)
        })
    }
}

fn shortened(field: &str) -> String {
    let mut short: String = field.chars().filter(|c| !c.is_control()).take(24).collect();
    if short.chars().count() < field.chars().count() {
        short.push('…');
    }
    short
}

/// How fields are parted and how many there are: the way in which most lines are rows of numbers,
/// ways with several columns before those with one, and of two such ways the one with more.
fn told(lines: &[&str], given: Option<Dialect>) -> Option<(Dialect, usize)> {
    const WAYS: [(char, bool); 7] = [
        (';', true),
        (';', false),
        ('\t', false),
        ('\t', true),
        (',', false),
        (' ', false),
        (' ', true),
    ];
    let ways: Vec<Dialect> = match given {
        Some(dialect) => vec![dialect],
        None => WAYS
            .iter()
            .map(|&(delimiter, decimal_comma)| Dialect {
                delimiter,
                decimal_comma,
            })
            .collect(),
    };
    // lines all of numbers, lines half of numbers, fields
    let mut found: Vec<(usize, usize, usize, Dialect)> = Vec::new();
    for dialect in ways {
        let mut counts: Vec<(usize, usize, usize)> = Vec::new();
        for line in lines.iter().take(LOOKED_AT) {
            let values = row(line, dialect);
            let n_numbers = values.iter().filter(|value| value.is_ok()).count();
            if n_numbers == 0 || 2 * n_numbers < values.len() {
                continue;
            }
            let whole = usize::from(n_numbers == values.len());
            match counts.iter_mut().find(|(n, ..)| *n == values.len()) {
                Some((_, full, half)) => (*full, *half) = (*full + whole, *half + 1),
                None => counts.push((values.len(), whole, 1)),
            }
        }
        let most = counts
            .into_iter()
            .max_by_key(|&(n, full, half)| (half, full, n));
        if let Some((n_columns, full, half)) = most.filter(|(.., half)| *half > 1) {
            found.push((full, half, n_columns, dialect));
        }
    }
    let most = found.iter().map(|(_, half, ..)| *half).max()?;
    // `1,2` is two whole numbers rather than one and a fifth, unless few lines are
    let mut best: Option<((bool, usize, usize, usize), Dialect)> = None;
    for (full, half, n_columns, dialect) in found {
        let rank = (n_columns > 1 && 2 * half >= most, full, half, n_columns);
        if best.is_none_or(|(other, _)| rank > other) {
            best = Some((rank, dialect));
        }
    }
    best.map(|((_, _, _, n_columns), dialect)| (dialect, n_columns))
}

/// Index of the first row: the first line whose fields are numbers in every column that holds
/// numbers in more than eight of ten lines. A line of settings, `Samples,400`, is none.
fn first_row(lines: &[&str], dialect: Dialect, n_columns: usize) -> usize {
    let rows = || {
        let looked_at = lines.iter().take(LOOKED_AT).enumerate();
        looked_at
            .map(|(k, line)| (k, row(line, dialect)))
            .filter(|(_, values)| wanted(values, n_columns).is_ok())
    };
    let (mut counts, mut n_rows) = (vec![0_usize; n_columns], 0_usize);
    for (_, values) in rows() {
        n_rows += 1;
        for (count, value) in counts.iter_mut().zip(values) {
            *count += usize::from(value.is_ok());
        }
    }
    let most = counts.iter().copied().max().unwrap_or(0);
    let is_number = |count: usize| count == most || 10 * count > 8 * n_rows;
    rows()
        .find(|(_, values)| {
            let pairs = values.iter().zip(&counts);
            pairs
                .filter(|(_, count)| is_number(**count))
                .all(|(value, _)| value.is_ok())
        })
        .map_or(0, |(k, _)| k)
}

/// Values of a row, NaN where a field is no number, or why it is none.
fn wanted(values: &[Result<f64, Cow<'_, str>>], n_columns: usize) -> Result<Vec<f64>, String> {
    if values.len() != n_columns {
        return Err(format!("{} fields, {n_columns} are wanted", values.len()));
    }
    match values.iter().find_map(|value| value.as_ref().err()) {
        Some(first) if values.iter().all(Result::is_err) => {
            Err(format!("`{}` is no number", shortened(first)))
        }
        _ => Ok(values
            .iter()
            .map(|value| *value.as_ref().unwrap_or(&f64::NAN))
            .collect()),
    }
}

/// The fields of a line, without quotes and blanks round them.
fn fields(line: &str, delimiter: char) -> Vec<Cow<'_, str>> {
    let line = line.trim_end();
    if line.is_empty() {
        return Vec::new();
    }
    if !line.contains('"') {
        // several blanks part two fields once, and what ends a line begins no field
        let several = delimiter == ' ';
        let line = line.strip_suffix(delimiter).unwrap_or(line);
        return line
            .split(delimiter)
            .filter(|field| !several || !field.is_empty())
            .map(|field| Cow::Borrowed(field.trim()))
            .collect();
    }
    let mut out = Vec::new();
    let mut field = String::new();
    let mut quoted = false;
    for character in line.chars() {
        if character == '"' {
            quoted = !quoted;
        } else if character == delimiter && !quoted {
            if delimiter != ' ' || !field.is_empty() {
                out.push(Cow::Owned(std::mem::take(&mut field).trim().to_owned()));
            }
        } else {
            field.push(character);
        }
    }
    if !field.trim().is_empty() {
        out.push(Cow::Owned(field.trim().to_owned()));
    }
    out
}

/// The fields of a line as finite numbers, or as they stand. A delimiter at the end of the line
/// begins no field.
fn row(line: &str, dialect: Dialect) -> Vec<Result<f64, Cow<'_, str>>> {
    fn number(field: Cow<'_, str>, dialect: Dialect) -> Result<f64, Cow<'_, str>> {
        let value = match (dialect.decimal_comma, field.contains('.')) {
            (false, _) => field.parse::<f64>(),
            (true, false) => field.replace(',', ".").parse(),
            (true, true) => return Err(field),
        };
        value.ok().filter(|value| value.is_finite()).ok_or(field)
    }
    fields(line, dialect.delimiter)
        .into_iter()
        .map(|field| number(field, dialect))
        .collect()
}

/// Names and units from the lines right above the table.
fn headings(
    above: &[&str],
    dialect: Dialect,
    n_columns: usize,
) -> (Vec<String>, Vec<Option<String>>) {
    let mut lines = above
        .iter()
        .rev()
        .filter(|line| !line.trim().is_empty())
        .map(|line| fields(line.trim_start_matches('#'), dialect.delimiter))
        .take(2);
    let fits = |line: &Vec<Cow<'_, str>>| line.len() == n_columns;
    let Some(last) = lines.next().filter(fits) else {
        return (Vec::new(), vec![None; n_columns]);
    };
    let bare = |word: &str| {
        word.trim_matches(|c: char| "()[]".contains(c) || c.is_whitespace())
            .to_owned()
    };
    // a line of units under one of names
    if last.iter().all(|word| scale_of(&bare(word)).is_some())
        && let Some(names) = lines.next().filter(fits)
    {
        let units = last.iter().map(|word| Some(bare(word))).collect();
        return (names.into_iter().map(Cow::into_owned).collect(), units);
    }
    last.iter()
        .map(|name| {
            let open = name.find(['(', '[']);
            match open.map(|at| (name[..at].trim().to_owned(), bare(&name[at..]))) {
                Some((plain, unit)) if scale_of(&unit).is_some() => (plain, Some(unit)),
                _ => (name.to_string(), None),
            }
        })
        .unzip()
}

/// SI units in one of a word: volts or seconds with their prefixes.
#[must_use]
pub fn scale_of(unit: &str) -> Option<f64> {
    let lower = unit.to_lowercase();
    let lower = lower
        .strip_suffix("olt")
        .map_or(lower.clone(), |v| v.to_owned());
    Some(match lower.replace(['\u{b5}', '\u{3bc}'], "u").as_str() {
        "v" | "s" | "sec" | "second" | "seconds" | "volts" => 1.0,
        "mv" | "ms" => 1e-3,
        "uv" | "us" => 1e-6,
        "ns" => 1e-9,
        "kv" => 1e3,
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Table {
        Table::read(text.as_bytes(), None).unwrap()
    }

    #[test]
    fn dialects_are_told_apart() {
        // a column of words is left out, and its number kept
        let table = read("t,state,u\n0,z,1.5\n1,0,2.5\n2,z,3.5\n3,z,4\n");
        assert_eq!(table.columns[2], [1.5, 2.5, 3.5, 4.0]);
        assert!(table.columns[1][0].is_nan());
        for (text, delimiter, comma) in [
            ("t,u\n0,1.5\n1,2.5\n2,3.5\n", ',', false),
            ("t;u\n0;1,5\n1;2,5\n2;3,5\n", ';', true),
            ("t;u\n0;1.5\n1;2.5\n2;3.5\n", ';', false),
            ("t\tu\n0\t1.5\n1\t2.5\n2\t3.5\n", '\t', false),
            ("# t u\n0  1.5\n1  2.5\n2  3.5\n", ' ', false),
        ] {
            let table = read(text);
            assert_eq!(
                (table.dialect.delimiter, table.dialect.decimal_comma),
                (delimiter, comma),
                "{text}"
            );
            assert_eq!(table.columns[1], [1.5, 2.5, 3.5], "{text}");
            assert_eq!(table.name(1), "u");
        }
    }

    #[test]
    fn junk_above_and_bad_rows_are_told() {
        let table = read(
            "Instrument,bench\nSamples,9\n\nTime (ms),CH1 [mV]\n0,1\n1,x\n2,3\n3\n4,5,\n5,nan\n6,7\n7,8\n8,9\n",
        );
        assert_eq!(table.columns[0], [0.0, 1.0, 2.0, 4.0, 5.0, 6.0, 7.0, 8.0]);
        assert!(table.columns[1][1].is_nan() && table.columns[1][4].is_nan());
        assert_eq!(table.lines, [5, 6, 7, 9, 10, 11, 12, 13]);
        assert_eq!(table.units, [Some("ms".to_owned()), Some("mV".to_owned())]);
        assert_eq!((table.n_bad, table.first_line), (1, 5));
        assert_eq!(table.bad[0].line, 8);
    }

    #[test]
    fn units_may_stand_on_their_own_line() {
        let table = read("x;A;B\n(s);(V);(mV)\n0;1;2\n1;1;2\n");
        assert_eq!(table.names, ["x", "A", "B"]);
        assert_eq!(table.units[2].as_deref(), Some("mV"));
        assert_eq!(table.find("b"), Some(2));
        assert_eq!(table.find("3"), Some(2));
        assert_eq!(table.find("4"), None);
    }

    #[test]
    fn what_is_no_table_is_refused() {
        let error = |bytes: &[u8]| Table::read(bytes, None).unwrap_err();
        assert_eq!(error(b""), TableError::Empty);
        assert_eq!(error(b" \n\n"), TableError::Empty);
        assert_eq!(
            error(b"\x89PNG\x0d\x00\x01"),
            TableError::Binary { at_byte: 5 }
        );
        assert!(matches!(error(b"a,b\nc,d\n"), TableError::NoRows { .. }));
        assert!(matches!(
            error(b"1,2\n1,2\nmore\nor\nless\n"),
            TableError::MostlyBad { n_bad: 3, .. }
        ));
    }
}
