//! One way in which all readings came about, or two slips of it at once.

use super::causes::Cause;
use super::reading::{Between, EmfKind};
use super::relations::apparent_pole_pairs;
use super::sheet::BenchSheet;
use crate::setup::Connection;

/// How a reading came about.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Read {
    /// As it stands.
    AsStated,
    /// The instrument shows so many times what it should.
    Times(f64),
    /// Another value of the EMF was read.
    Emf(EmfKind, Between),
    /// It says nothing; ln of the density with which such a value turns up.
    Loose(f64),
}

/// A fault of unknown size x: readings are 1 + part · x times what they should be.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Extra {
    /// Standard deviation of x.
    pub(super) sigma: f64,
    /// Readings and their parts.
    pub(super) parts: Vec<(usize, f64)>,
}

/// One way in which all readings came about.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Variant {
    pub(super) cause: Cause,
    /// The second of two causes at once.
    pub(super) also: Option<Cause>,
    /// Weight from before the readings.
    pub(super) weight: f64,
    pub(super) pole_pairs: f64,
    /// The part of the weight that this number of pole pairs has.
    pub(super) pole_pairs_part: f64,
    /// Readings that came about otherwise than they stand.
    pub(super) reads: Vec<(usize, Read)>,
    /// Faults of unknown size: two at most.
    pub(super) extras: Vec<Extra>,
    /// Connection, where it is not the one noted.
    pub(super) connection: Option<Connection>,
    /// The label speaks of this many times the line EMF per speed, and this many times the line
    /// resistance.
    pub(super) label_times: (f64, f64),
}

/// The counted pole pairs; where nobody counted, the whole numbers on either side of what
/// frequency and speed say.
pub(super) fn pole_pairs(sheet: &BenchSheet, reads: &[(usize, Read)]) -> Vec<(f64, f64)> {
    /// One of so many numbers, before anything is read.
    const OF_SO_MANY: f64 = 60.0;
    if let Some(magnets) = sheet.motor.magnets {
        return vec![(0.5 * f64::from(magnets), 1.0)];
    }
    let apparent = apparent_pole_pairs(sheet, reads);
    let Some((_, value, _)) = apparent.first() else {
        let poles = sheet.label.poles.unwrap_or(2);
        return vec![(0.5 * f64::from(poles), 1.0 / OF_SO_MANY)];
    };
    let below = value.floor().max(1.0);
    vec![(below, 1.0 / OF_SO_MANY), (below + 1.0, 1.0 / OF_SO_MANY)]
}

impl Variant {
    /// Whether it is the other one but for the number of pole pairs.
    pub(super) fn is_like(&self, other: &Self) -> bool {
        self.cause == other.cause
            && self.reads == other.reads
            && self.extras == other.extras
            && self.connection == other.connection
            && self.label_times == other.label_times
    }

    /// Whether taking a reading again with care would show the fault again: it is in the motor.
    pub(super) fn shows_again(&self, idx: usize) -> bool {
        let one = |cause: Cause| {
            cause.is_in_motor()
                && self
                    .reads
                    .iter()
                    .any(|(of, read)| *of == idx && matches!(read, Read::Times(_)))
        };
        one(self.cause) || self.also.is_some_and(one)
    }

    /// Both at once, for each number of pole pairs that may be; none where the two cannot be told
    /// apart: of one kind, or one of them leaves nothing of what the other changes.
    pub(super) fn and(&self, other: &Self, sheet: &BenchSheet) -> Vec<Self> {
        if std::mem::discriminant(&self.cause) == std::mem::discriminant(&other.cause) {
            return Vec::new();
        }
        let Some(reads) = both(&self.reads, &other.reads, sheet) else {
            return Vec::new();
        };
        let counted = [self, other]
            .into_iter()
            .find(|way| way.cause == Cause::PoleCount);
        let numbers = match counted {
            Some(way) => vec![(way.pole_pairs, way.pole_pairs_part)],
            None => pole_pairs(sheet, &reads),
        };
        let alone = |way: &Self| way.weight / way.pole_pairs_part;
        numbers
            .into_iter()
            .map(|(pole_pairs, part)| Self {
                cause: self.cause,
                also: Some(other.cause),
                weight: alone(self) * alone(other) * part,
                pole_pairs,
                pole_pairs_part: part,
                reads: reads.clone(),
                extras: self.extras.iter().chain(&other.extras).cloned().collect(),
                connection: self.connection.or(other.connection),
                label_times: (
                    self.label_times.0 * other.label_times.0,
                    self.label_times.1 * other.label_times.1,
                ),
            })
            .collect()
    }
}

/// How readings came about where two things went wrong; `None` where one of them leaves nothing of
/// the other.
fn both(
    first: &[(usize, Read)],
    second: &[(usize, Read)],
    sheet: &BenchSheet,
) -> Option<Vec<(usize, Read)>> {
    let mut reads = first.to_vec();
    for &(idx, read) in second {
        let Some((_, known)) = reads.iter_mut().find(|(of, _)| *of == idx) else {
            reads.push((idx, read));
            continue;
        };
        *known = match (*known, read) {
            (Read::AsStated, read) => read,
            (known, Read::AsStated) => known,
            (Read::Times(a), Read::Times(b)) => Read::Times(a * b),
            (Read::Emf(kind, between), Read::Emf(other_kind, other_between)) => {
                let (stated, place) = sheet.readings.get(idx)?.emf()?;
                Read::Emf(
                    if kind == stated { other_kind } else { kind },
                    if between == place {
                        other_between
                    } else {
                        between
                    },
                )
            }
            _ => return None,
        };
    }
    Some(reads)
}
