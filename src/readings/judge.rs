//! Whether the readings agree, and if not, what the likely causes are.
//!
//! Each way in which the readings may have come about is fitted on its own, and weighed by how
//! probable it makes what was read: weight before × evidence, summed over the ways of a cause (Bayes;
//! the evidence of a fit is that of its normal approximation, exact where the model is linear:
//! Laplace's method). A way with one more unknown pays for it, so nothing is explained by freedom
//! alone. Two causes at once are weighed only where no single one explains the readings: the odds
//! against two slips are those of each, multiplied.

use super::causes::{Cause, variants};
use super::instrument::Measured;
use super::model::{Fit, Main, Model};
use super::next::{NextStep, next_steps};
use super::reading::Of;
use super::relations::apparent_pole_pairs;
use super::sheet::BenchSheet;
use super::solve::chi_square_exceeded;
use super::variant::{Read, Variant};
use crate::slices::{rest, through};

/// One cause with its probability, the likeliest first in a list.
#[derive(Clone, Debug, PartialEq)]
pub struct Ranked {
    /// The cause.
    pub cause: Cause,
    /// A second one that came with it.
    pub also: Option<Cause>,
    /// Its probability among all that were weighed, after the readings.
    pub probability: f64,
    /// Chi-square of its best way.
    pub chi_square: f64,
    /// Pole pairs in its best way.
    pub pole_pairs: f64,
}

impl Ranked {
    /// Whether it says that nothing went wrong.
    #[must_use]
    pub fn is_all_right(&self) -> bool {
        self.cause == Cause::AllRight
    }

    /// Whether a cause is one of those that it names.
    #[must_use]
    pub fn names(&self, cause: Cause) -> bool {
        self.cause == cause || self.also == Some(cause)
    }
}

/// One reading beside what the others say.
#[derive(Clone, Debug, PartialEq)]
pub struct Check {
    /// Index of the reading.
    pub idx: usize,
    /// What the fitted motor would have shown.
    pub fitted: f64,
    /// Difference over its standard uncertainty; `None` where no other reading checks it.
    pub normalised: Option<f64>,
}

/// One frequency with its speed: how many pole pairs they say.
#[derive(Clone, Debug, PartialEq)]
pub struct PolePairCheck {
    /// Index of the frequency's reading.
    pub idx: usize,
    /// 60 f / n.
    pub value: f64,
    /// Its standard uncertainty.
    pub standard: f64,
}

/// Something that makes the rest agree when it is left out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Suspect {
    /// One reading, by index.
    Reading(usize),
    /// All readings of one instrument.
    Instrument(super::instrument::Instrument, Measured),
    /// The count of magnets.
    Count,
}

/// What came of it.
#[derive(Clone, Debug)]
pub struct Verdict {
    /// Whether the readings agree as they stand: nothing explains them better than that all is
    /// right.
    pub agree: bool,
    /// Chi-square of the readings as they stand, and its degrees of freedom.
    pub chi_square: f64,
    /// Readings that check others.
    pub freedom: usize,
    /// Probability of a chi-square as large or larger, were all right.
    pub exceeded: f64,
    /// The same of the likeliest cause: how well it explains the readings.
    pub explained: f64,
    /// Every reading beside the others, as they stand.
    pub checks: Vec<Check>,
    /// Every reading beside what it should have been: the motor of the likeliest cause, read with
    /// care. Where all agrees, the same as `checks`.
    pub should_be: Vec<Check>,
    /// What frequencies and speeds say.
    pub pole_pairs: Vec<PolePairCheck>,
    /// What makes the rest agree when it is left out alone; empty where all agrees.
    pub suspects: Vec<Suspect>,
    /// All causes by probability, the likeliest first; `AllRight` among them.
    pub causes: Vec<Ranked>,
    /// What to measure next, the most telling first.
    pub next: Vec<NextStep>,
    /// The ways that the figures and next steps rest on: best way of each cause, in the order of
    /// `causes`.
    pub(super) ways: Vec<Way>,
    /// The readings as they stand.
    pub(super) as_noted: Way,
}

/// A way with its fit.
#[derive(Clone, Debug)]
pub(super) struct Way {
    pub(super) variant: Variant,
    pub(super) fit: Fit,
}

/// Why there is nothing to say.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct NoMotor;

impl std::fmt::Display for NoMotor {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(
            f,
            "no motor can be found that would give these readings, not even roughly; is a unit wrong, or a decimal \
             point? Each table alone, in a file of its own, tells which one it is"
        )
    }
}

impl std::error::Error for NoMotor {}

impl Verdict {
    /// The way that the figures are taken from: the readings as they stand where they agree, else
    /// the likeliest cause.
    pub(super) fn best(&self) -> &Way {
        if self.agree {
            &self.as_noted
        } else {
            self.ways.first().unwrap_or(&self.as_noted)
        }
    }

    /// The cause that the figures are taken under, and its probability.
    #[must_use]
    pub fn taken(&self) -> Option<&Ranked> {
        if self.agree {
            self.causes.iter().find(|ranked| ranked.is_all_right())
        } else {
            self.causes.first()
        }
    }
}

/// Probability of a chi-square as large or larger, below which a cause is taken to leave something
/// unexplained: one sheet in a thousand does so by chance.
const UNEXPLAINED: f64 = 1e-3;

/// Ways that were fitted, with ln of weight times evidence.
struct Tried<'a> {
    sheet: &'a BenchSheet,
    ways: Vec<(Way, f64)>,
    /// Least half sum of squares so far.
    least: f64,
}

impl Tried<'_> {
    fn add(&mut self, variant: Variant, near: Option<&[f64]>) -> Option<&Fit> {
        /// A way whose sum of squares is worse by so much could not be named even with the best odds.
        const HOPELESS: f64 = 60.0;
        let model = Model::new(self.sheet, &variant);
        let fit = model.fit(near, self.least + HOPELESS)?;
        self.least = self.least.min(0.5 * fit.chi_square);
        let weighed = libm::log(variant.weight)
            + fit.log_evidence
            + label_evidence(self.sheet, &variant, &fit);
        self.ways.push((Way { variant, fit }, weighed));
        self.ways.last().map(|(way, _)| &way.fit)
    }

    /// The likeliest ways of different causes, at most so many.
    fn likeliest(&self, most: usize) -> Vec<Variant> {
        let mut order: Vec<&(Way, f64)> = self.ways.iter().collect();
        order.sort_by(|a, b| b.1.total_cmp(&a.1));
        let mut found: Vec<Variant> = Vec::new();
        for (way, _) in order {
            let cause = way.variant.cause;
            let known = found.iter().any(|variant| variant.cause == cause);
            if cause != Cause::AllRight && !known && found.len() < most {
                found.push(way.variant.clone());
            }
        }
        found
    }
}

/// Weighs all causes.
///
/// # Errors
/// [`NoMotor`] where the readings as they stand lead to no motor at all.
pub fn judge(sheet: &BenchSheet) -> Result<Verdict, NoMotor> {
    through(judge_in_slices(sheet))
}

/// The same, with rests.
///
/// # Errors
/// [`NoMotor`].
pub async fn judge_in_slices(sheet: &BenchSheet) -> Result<Verdict, NoMotor> {
    let mut tried = Tried {
        sheet,
        ways: Vec::new(),
        least: f64::INFINITY,
    };
    let all = variants(sheet);
    let mut near: Option<Vec<f64>> = None;
    for variant in &all {
        rest().await;
        // one reading less moves the motor little, unless that reading was far off
        let from = near
            .as_deref()
            .filter(|_| matches!(variant.cause, Cause::Slip(_)));
        let fit = tried.add(variant.clone(), from);
        if variant.cause == Cause::AllRight && near.is_none() {
            near = fit.map(|fit| fit.theta.clone());
        }
    }
    let as_noted = tried
        .ways
        .iter()
        .filter(|(way, _)| way.variant.cause == Cause::AllRight)
        .max_by(|a, b| a.1.total_cmp(&b.1))
        .map(|(way, _)| way.clone())
        .ok_or(NoMotor)?;
    let best = tried.ways.iter().max_by(|a, b| a.1.total_cmp(&b.1));
    if best.is_some_and(|(way, _)| left_over(sheet, way) < UNEXPLAINED) {
        two_at_once(&mut tried, &all).await;
    }
    rest().await;
    let (causes, ways) = ranked(tried.ways);
    Ok(verdict(sheet, as_noted, causes, ways))
}

/// Tries each of the likeliest single causes together with every other.
async fn two_at_once(tried: &mut Tried<'_>, all: &[Variant]) {
    const FIRST_ONES: usize = 6;
    let firsts = tried.likeliest(FIRST_ONES);
    for (n, first) in firsts.iter().enumerate() {
        for (at, second) in all.iter().enumerate() {
            let again = at > 0 && all[at - 1].is_like(second);
            // of two that are both among the likeliest, each pair once
            let before = firsts[..n].iter().any(|known| known.cause == second.cause);
            if again || before || second.cause == Cause::AllRight {
                continue;
            }
            for both in first.and(second, tried.sheet) {
                rest().await;
                tried.add(both, None);
            }
        }
    }
}

/// Probability of a chi-square as large or larger than a way's.
fn left_over(sheet: &BenchSheet, way: &Way) -> f64 {
    chi_square_exceeded(way.fit.chi_square, checks(sheet, way).1)
}

fn verdict(sheet: &BenchSheet, as_noted: Way, causes: Vec<Ranked>, ways: Vec<Way>) -> Verdict {
    let agree = causes.first().is_some_and(Ranked::is_all_right)
        || causes
            .iter()
            .any(|ranked| ranked.is_all_right() && ranked.probability >= 0.5);
    let (checks, freedom) = checks(sheet, &as_noted);
    let chi_square = as_noted.fit.chi_square;
    let exceeded = chi_square_exceeded(chi_square, freedom);
    let suspects = if agree && exceeded > 0.01 {
        Vec::new()
    } else {
        suspects(&ways, freedom)
    };
    let pole_pairs = apparent_pole_pairs(sheet, &[])
        .into_iter()
        .map(|(idx, value, standard)| PolePairCheck {
            idx,
            value,
            standard,
        })
        .collect();
    let mut verdict = Verdict {
        agree,
        chi_square,
        freedom,
        exceeded,
        explained: exceeded,
        should_be: checks.clone(),
        checks,
        pole_pairs,
        suspects,
        causes,
        next: Vec::new(),
        ways,
        as_noted,
    };
    if !verdict.agree {
        verdict.should_be = should_be(sheet, verdict.best());
        verdict.explained = left_over(sheet, verdict.best());
    }
    verdict.next = next_steps(sheet, &verdict);
    verdict
}

/// One cause, or two at once.
type Causes = (Cause, Option<Cause>);

/// Probabilities of the causes, and the best way of each, the likeliest first.
fn ranked(tried: Vec<(Way, f64)>) -> (Vec<Ranked>, Vec<Way>) {
    let most = tried
        .iter()
        .fold(f64::NEG_INFINITY, |most, (_, w)| most.max(*w));
    let total: f64 = tried.iter().map(|(_, w)| libm::exp(w - most)).sum();
    let mut by_cause: Vec<(Causes, f64, f64, Way)> = Vec::new();
    for (way, weighed) in tried {
        let part = libm::exp(weighed - most) / total;
        let causes = (way.variant.cause, way.variant.also);
        match by_cause.iter_mut().find(|(known, ..)| *known == causes) {
            Some((_, sum, best, kept)) => {
                *sum += part;
                if weighed > *best {
                    (*best, *kept) = (weighed, way);
                }
            }
            None => by_cause.push((causes, part, weighed, way)),
        }
    }
    by_cause.sort_by(|a, b| b.1.total_cmp(&a.1).then(b.2.total_cmp(&a.2)));
    by_cause
        .into_iter()
        .map(|((cause, also), probability, _, way)| {
            let ranked = Ranked {
                cause,
                also,
                probability,
                chi_square: way.fit.chi_square,
                pole_pairs: way.variant.pole_pairs,
            };
            (ranked, way)
        })
        .unzip()
}

/// ln of how probable the label's claims are beside this motor.
///
/// A label holds within its usual spread in about seven of ten cases, else it may be off by a third or
/// more either way. Both common practice, no source; the spreads stand in
/// `tests/reference/machine_relations.toml`. A label never changes a figure, it only helps to choose
/// between two ways of reading what was measured.
fn label_evidence(sheet: &BenchSheet, variant: &Variant, fit: &Fit) -> f64 {
    const TRUE: f64 = 0.7;
    const FAR: f64 = 0.45;
    let model = Model::new(sheet, variant);
    let label = &sheet.label;
    let normal = |off: f64, sigma: f64| {
        libm::exp(-0.5 * (off / sigma) * (off / sigma)) / (sigma * std::f64::consts::TAU.sqrt())
    };
    let claim = |claimed: Option<f64>, which: Main, sign: f64, half: f64| {
        let Some(claimed) = claimed else { return 0.0 };
        let idx = model.main(which);
        let standard = fit.standard(&[(idx, 1.0)]);
        let off = libm::log(claimed) - sign * fit.theta[idx];
        let near = normal(off, libm::hypot(0.5 * half, standard));
        let far = normal(off, libm::hypot(FAR, standard));
        libm::log(TRUE * near + (1.0 - TRUE) * far)
    };
    let (emf_times, ohm_times) = variant.label_times;
    let kv = label.kv_rad_per_v_s.map(|kv| kv * emf_times);
    let ohm = label.line_resistance_ohm.map(|ohm| ohm / ohm_times);
    let poles = label.poles.map_or(0.0, |poles| {
        let right = 0.5 * f64::from(poles) == variant.pole_pairs;
        libm::log(if right { 0.9 } else { 0.01 })
    });
    claim(kv, Main::Emf, -1.0, 0.1) + claim(ohm, Main::Resistance, 1.0, 0.1) + poles
}

/// Each reading beside the fit, and how many degrees of freedom are left to check.
///
/// Normalised residual: r / √(u² − u²(fitted)); degrees of freedom: the trace of what the fit leaves,
/// Σ (1 − u²(fitted)/u²) (least-squares adjustment as in P. J. Mohr, B. N. Taylor, Rev. Mod. Phys. 72
/// (2000) 351, appendix E, cited from memory).
fn checks(sheet: &BenchSheet, way: &Way) -> (Vec<Check>, usize) {
    /// A reading of whose variance the fit takes more than this is checked by no other.
    const ALL_TAKEN: f64 = 0.97;
    let model = Model::new(sheet, &way.variant);
    let mut left = 0.0;
    let mut found = Vec::new();
    for (idx, reading) in sheet.readings.iter().enumerate() {
        if matches!(model.read(idx), Read::Loose(_)) {
            // it says nothing, and checks nothing
            continue;
        }
        let (fitted, gradient) = model.shown(&way.fit.theta, idx, true);
        let own = model.own_standard(reading);
        let of_fit = way.fit.standard(gradient.slopes());
        let part = (of_fit / own) * (of_fit / own);
        left += 1.0 - part.min(1.0);
        let normalised = (part < ALL_TAKEN)
            .then(|| (reading.value - fitted) / (own * (1.0 - part).max(1e-12).sqrt()));
        found.push(Check {
            idx,
            fitted,
            normalised,
        });
    }
    for (idx, weight) in model.known() {
        let standard = way.fit.standard(&[(idx, 1.0)]);
        left += 1.0 - (standard * standard * weight).min(1.0);
    }
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "at most some hundreds, at least 0"
    )]
    let freedom = left.max(0.0).round() as usize;
    (found, freedom)
}

/// Each reading beside the same one taken with care, of the motor that a way leads to.
fn should_be(sheet: &BenchSheet, way: &Way) -> Vec<Check> {
    let model = Model::new(sheet, &way.variant);
    let theta = model.careful(&way.fit.theta);
    let readings = sheet.readings.iter().enumerate();
    readings
        .map(|(idx, reading)| {
            let (fitted, gradient) = model.shown(&theta, idx, false);
            let of_fit = way.fit.standard(gradient.slopes());
            let gain = reading.gain.map_or(0.0, |gain| sheet.gains[gain].standard);
            let own = libm::hypot(model.own_standard(reading), gain * reading.value);
            Check {
                idx,
                fitted,
                normalised: Some((reading.value - fitted) / libm::hypot(own, of_fit)),
            }
        })
        .collect()
}

/// What makes the rest agree when it is left out alone.
fn suspects(ways: &[Way], freedom: usize) -> Vec<Suspect> {
    const ENOUGH: f64 = 0.02;
    let mut found: Vec<(Suspect, f64)> = Vec::new();
    for way in ways {
        if way.variant.also.is_some() {
            continue;
        }
        let suspect = match way.variant.cause {
            Cause::Slip(idx) => Suspect::Reading(idx),
            Cause::InstrumentOff(instrument, measured) => Suspect::Instrument(instrument, measured),
            Cause::PoleCount => Suspect::Count,
            _ => continue,
        };
        let less = usize::from(suspect != Suspect::Count);
        let exceeded = chi_square_exceeded(way.fit.chi_square, freedom.saturating_sub(less).max(1));
        if exceeded > ENOUGH {
            found.push((suspect, way.fit.chi_square));
        }
    }
    found.sort_by(|a, b| a.1.total_cmp(&b.1));
    found.into_iter().map(|(suspect, _)| suspect).collect()
}

/// Whether any reading is of this kind.
pub(super) fn has(sheet: &BenchSheet, wanted: impl Fn(&Of) -> bool) -> bool {
    sheet.readings.iter().any(|reading| wanted(&reading.of))
}
