//! Answers ranked, misses counted: what a person can read of thousands of combinations.

use std::collections::BTreeMap;

use super::miss::{Miss, MissKind};
use super::parts::Axis;
use super::search::{Answer, Choice, Row};

/// What counts as best.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Rank {
    /// Least power from the pack.
    #[default]
    Power,
    /// Longest run time; a pack without capacity comes last.
    RunTime,
    /// Most of every limit free.
    Margin,
}

impl Rank {
    /// What is sorted by, the least first.
    fn key(self, answer: &Answer) -> f64 {
        match self {
            Self::Power => answer.point.input_w,
            Self::RunTime => answer.run_time_s.map_or(f64::INFINITY, |time_s| -time_s),
            Self::Margin => answer.tightest.map_or(0.0, |limit| limit.part()),
        }
    }
}

/// How often one kind of reason came up.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MissTally<'a> {
    /// The reason.
    pub kind: MissKind,
    /// In how many combinations.
    pub n: usize,
    /// The combination that came nearest, the first of equals.
    pub closest: (&'a Row, &'a Miss),
}

/// A part that no answer has.
#[derive(Clone, Debug, PartialEq)]
pub struct PartTally<'a> {
    /// Of which kind.
    pub axis: Axis,
    /// Its number among them.
    pub at: usize,
    /// In how many combinations it was tried.
    pub n: usize,
    /// Its reasons, the commonest first.
    pub reasons: Vec<MissTally<'a>>,
}

impl PartTally<'_> {
    /// The part, its commonest reasons and the nearest miss, in a line.
    #[must_use]
    pub fn words(&self, choice: &Choice) -> String {
        // a line for each kind of reason would be too much: the commonest two, and the nearest miss
        let commonest: Vec<String> = self
            .reasons
            .iter()
            .take(2)
            .map(|tally| format!("{} {}", tally.n, tally.kind.0))
            .collect();
        let name = match (self.axis, self.at) {
            (Axis::Gear, 0) => "no gear".to_owned(),
            (axis, at) => format!("{} {}", axis.word(), choice.name(axis, at)),
        };
        let nearest = self
            .reasons
            .iter()
            .map(|tally| tally.closest.1)
            .filter(|miss| miss.by().is_finite())
            .min_by(|a, b| a.by().total_cmp(&b.by()));
        let nearest = nearest.map_or_else(String::new, |miss| format!("; nearest {miss}"));
        format!("{name}: of {}, {}{nearest}", self.n, commonest.join(", "))
    }
}

/// All rows of a search, answers first.
#[derive(Clone, Debug, PartialEq)]
pub struct Summary {
    rows: Vec<Row>,
    /// Places of the answers in `rows`, best first.
    ranked: Vec<usize>,
    n_parts: [usize; 5],
}

impl Summary {
    /// Ranks rows. Of those that show the same three digits the cheaper comes first, then the lighter,
    /// where all their parts say so; equals keep the order of the table of parts.
    #[must_use]
    pub fn new(choice: &Choice, rows: Vec<Row>, rank: Rank) -> Self {
        let mut keyed: Vec<([f64; 4], usize)> = rows
            .iter()
            .enumerate()
            .filter_map(|(at, row)| {
                let key = rank.key(row.outcome.as_ref().ok()?);
                let totals = choice.totals(row);
                let or_last = |value: Option<f64>| value.unwrap_or(f64::INFINITY);
                let (price, mass) = (or_last(totals.price), or_last(totals.mass_kg));
                Some(([three_digits(key), price, mass, key], at))
            })
            .collect();
        keyed.sort_by(|(a, at), (b, other)| {
            let mut order = a.iter().zip(b).map(|(a, b)| a.total_cmp(b));
            let first = order.find(|order| order.is_ne());
            first.unwrap_or_else(|| at.cmp(other))
        });
        Self {
            ranked: keyed.into_iter().map(|(_, at)| at).collect(),
            rows,
            n_parts: Axis::ALL.map(|axis| choice.n_parts(axis)),
        }
    }

    /// All rows, in the order of combinations.
    #[must_use]
    pub fn rows(&self) -> &[Row] {
        &self.rows
    }

    /// How many combinations were tried.
    #[must_use]
    pub fn n_rows(&self) -> usize {
        self.rows.len()
    }

    /// The answers, best first.
    pub fn answers(&self) -> impl ExactSizeIterator<Item = &Row> {
        self.ranked.iter().map(|at| &self.rows[*at])
    }

    fn misses(&self) -> impl Iterator<Item = (&Row, &Miss)> {
        self.rows
            .iter()
            .filter_map(|row| Some((row, row.outcome.as_ref().err()?)))
    }

    /// Reasons over all combinations, the commonest first.
    #[must_use]
    pub fn reasons(&self) -> Vec<MissTally<'_>> {
        tallies(self.misses())
    }

    /// Parts that are in no answer though others of their kind may be, in the order of the table,
    /// with why. Empty where there is no answer at all.
    #[must_use]
    pub fn parts_left_out(&self) -> Vec<PartTally<'_>> {
        let mut found = Vec::new();
        if self.ranked.is_empty() {
            return found;
        }
        for axis in Axis::ALL {
            let n_parts = self.n_parts[axis as usize];
            let mut used = vec![false; n_parts];
            for row in self.answers() {
                used[row.parts[axis as usize]] = true;
            }
            let mut missed: Vec<Vec<(&Row, &Miss)>> = vec![Vec::new(); n_parts];
            for (row, miss) in self.misses() {
                let at = row.parts[axis as usize];
                if !used[at] {
                    missed[at].push((row, miss));
                }
            }
            for (at, missed) in missed.into_iter().enumerate() {
                if !missed.is_empty() {
                    found.push(PartTally {
                        axis,
                        at,
                        n: missed.len(),
                        reasons: tallies(missed.into_iter()),
                    });
                }
            }
        }
        found
    }
}

/// A value as a person sees it.
fn three_digits(value: f64) -> f64 {
    format!("{value:.2e}").parse().unwrap_or(value)
}

fn tallies<'a>(misses: impl Iterator<Item = (&'a Row, &'a Miss)>) -> Vec<MissTally<'a>> {
    let mut by_kind: BTreeMap<MissKind, MissTally<'a>> = BTreeMap::new();
    for (row, miss) in misses {
        let tally = by_kind.entry(miss.kind()).or_insert(MissTally {
            kind: miss.kind(),
            n: 0,
            closest: (row, miss),
        });
        tally.n += 1;
        if miss.by() < tally.closest.1.by() {
            tally.closest = (row, miss);
        }
    }
    let mut list: Vec<_> = by_kind.into_values().collect();
    list.sort_by(|a, b| b.n.cmp(&a.n).then(a.kind.cmp(&b.kind)));
    list
}
