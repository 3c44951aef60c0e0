//! What to measure next: the measurement that tells the likeliest causes apart best.

use super::causes::Cause;
use super::instrument::{Instrument, Measured};
use super::judge::{Ranked, Verdict, Way, has};
use super::model::{Fit, Main, Model};
use super::reading::{Between, EmfKind, Of};
use super::relations::apparent_pole_pairs;
use super::sheet::BenchSheet;
use crate::analysis::{Unit, shown};

/// One thing to do.
#[derive(Clone, Debug, PartialEq)]
pub struct NextStep {
    /// What to do, as a sentence.
    pub what: String,
    /// The two likeliest causes and what it would show under each, where two are to be told apart.
    pub expect: Option<[(String, String); 2]>,
    /// By how many standard uncertainties the two differ; 0 where nothing is to be told apart.
    pub apart: f64,
}

/// Value and standard uncertainty that a measurement would show in a way.
type Shows<'a> = Box<dyn Fn(&Way) -> Option<(f64, f64)> + 'a>;

/// A measurement that could be made, and what it would show in one way: value and standard
/// uncertainty, from the fit and from the instrument.
struct Candidate<'a> {
    what: String,
    unit: Unit,
    /// Relative standard uncertainty of the measurement.
    relative: f64,
    value: Shows<'a>,
    /// Of two that tell as much, the easier one.
    ease: f64,
}

/// Probability under which a cause is not worth telling apart.
const LEAST: f64 = 0.005;

/// At most three, the most telling first.
pub(super) fn next_steps(sheet: &BenchSheet, verdict: &Verdict) -> Vec<NextStep> {
    if verdict.agree {
        return improvements(sheet, verdict);
    }
    let rivals: Vec<usize> = (0..verdict.causes.len())
        .filter(|&idx| verdict.causes[idx].probability >= LEAST)
        .collect();
    let most = if rivals.len() > 1 { 2 } else { 1 };
    let (first, second) = match rivals.as_slice() {
        [first, second, ..] => (*first, *second),
        // one cause stands alone: told apart from all being right
        _ => {
            let right = verdict.causes.iter().position(Ranked::is_all_right);
            (0, right.unwrap_or(0))
        }
    };
    if first == second {
        return Vec::new();
    }
    let (a, b) = (&verdict.ways[first], &verdict.ways[second]);
    let title = |idx: usize| verdict.causes[idx].title(sheet);
    let mut found: Vec<(f64, NextStep)> = candidates(sheet)
        .into_iter()
        .filter_map(|candidate| told_apart(&candidate, [a, b], [first, second].map(title)))
        .collect();
    found.sort_by(|x, y| y.0.total_cmp(&x.0));
    let mut steps: Vec<NextStep> = found.into_iter().map(|(_, step)| step).take(most).collect();
    if steps.is_empty() {
        steps.push(NextStep {
            what: match (a.variant.cause, b.variant.cause) {
                (Cause::LostStep(row), _) | (_, Cause::LostStep(row)) => format!(
                    "Lead the motor of driven {row} round again from a slow start, and raise the frequency by a tenth: in \
                     step the speed follows by the same tenth."
                ),
                _ => "No reading of this sheet, taken again, would tell the first two apart: read the same with another \
                      instrument, and look at the motor itself."
                    .to_owned(),
            },
            expect: None,
            apart: 0.0,
        });
    }
    steps
}

fn told_apart(
    candidate: &Candidate<'_>,
    [a, b]: [&Way; 2],
    [of_a, of_b]: [String; 2],
) -> Option<(f64, NextStep)> {
    /// Beyond this many standard uncertainties one measurement tells as well as another.
    const PLENTY: f64 = 12.0;
    let ((in_a, u_a), (in_b, u_b)) = ((candidate.value)(a)?, (candidate.value)(b)?);
    let own = candidate.relative * in_a.abs().max(in_b.abs());
    let apart = (in_a - in_b).abs() / (u_a * u_a + u_b * u_b + own * own).sqrt();
    if !(apart > 2.0 && apart.is_finite()) {
        return None;
    }
    let say = |value: f64| shown(value, candidate.unit, 3).to_string();
    let step = NextStep {
        what: candidate.what.clone(),
        expect: Some([(of_a, say(in_a)), (of_b, say(in_b))]),
        apart,
    };
    Some((apart.min(PLENTY) * candidate.ease, step))
}

/// Everything that could be measured.
fn candidates(sheet: &BenchSheet) -> Vec<Candidate<'_>> {
    let mut list = Vec::new();
    repeats(sheet, &mut list);
    checks_of_instruments(sheet, &mut list);
    list.push(Candidate {
        what: "Count the magnets again: mark one with a pen, and go round with a compass or a small magnet on a \
               thread; every change of side is one pole."
            .to_owned(),
        unit: Unit::NUMBER,
        relative: 1e-3,
        value: Box::new(|way| Some((2.0 * way.variant.pole_pairs, 0.0))),
        ease: 1.3,
    });
    if let Some(k_of) = emf_at_speed(sheet) {
        list.push(k_of);
    }
    list
}

/// Each reading once more, taken with care.
fn repeats<'a>(sheet: &'a BenchSheet, list: &mut Vec<Candidate<'a>>) {
    for (idx, reading) in sheet.readings.iter().enumerate() {
        if !reading.is_checked() {
            continue;
        }
        let accuracy = reading.instrument.accuracy(reading.measured);
        let relative = 0.5 * libm::hypot(accuracy.shared, accuracy.own)
            + 0.5 * accuracy.least / reading.value.abs();
        let how = match reading.of {
            Of::Emf { kind, .. } => match kind {
                EmfKind::Peak | EmfKind::PeakToPeak => {
                    ", on an oscilloscope whose zero line is in the middle"
                }
                EmfKind::Rms => ", on a meter marked as true RMS",
                EmfKind::Average => "",
            },
            Of::Resistance { .. } => ", cold, with four wires, clips on bare copper",
            Of::Speed { .. } => ", with one mark alone on a dull shaft, or with another instrument",
            Of::StallTorque { .. } => ", at the angle of most torque, pulling and giving way",
            _ => "",
        };
        list.push(Candidate {
            what: format!("Take once more: {}{how}.", reading.place()),
            unit: reading.unit,
            relative,
            value: Box::new(move |way| {
                if way.variant.cause == Cause::AllRight {
                    return Some((reading.value, reading.standard));
                }
                let model = Model::new(sheet, &way.variant);
                let theta = model.careful(&way.fit.theta);
                if let (Cause::LostStep(_), Of::Speed { .. }) = (way.variant.cause, reading.of) {
                    // taken with care it is in step
                    let (value, _) = model.shown(&theta, idx, false);
                    return Some((value, 0.003 * value));
                }
                let again = way.variant.shows_again(idx);
                let (value, gradient) = model.shown(&theta, idx, again);
                Some((value, way.fit.standard(gradient.slopes())))
            }),
            ease: 1.0,
        });
    }
}

/// What is off in an instrument shows on something known.
fn checks_of_instruments<'a>(sheet: &'a BenchSheet, list: &mut Vec<Candidate<'a>>) {
    let has_tachometer = sheet.readings.iter().any(|reading| {
        matches!(
            reading.instrument,
            Instrument::Tachometer | Instrument::Stroboscope
        ) && reading.measured == Measured::Speed
    });
    if has_tachometer {
        list.push(Candidate {
            what: "Hold the tachometer to a lamp on 50 Hz mains (most flicker; common practice, no source): 100 \
                   flashes a second are 6000 rpm with one mark (7200 on 60 Hz)."
                .to_owned(),
            unit: Unit::RPM,
            relative: 0.002,
            value: Box::new(|way| {
                let on_speed = |measured: Measured| measured == Measured::Speed;
                let (times, standard) = instrument_factor(sheet, way, &on_speed);
                Some((6000.0 * times, 6000.0 * standard))
            }),
            ease: 1.2,
        });
    }
}

/// By how much a way says that an instrument of a kind is off, and how surely.
fn instrument_factor(
    sheet: &BenchSheet,
    way: &Way,
    wanted: &dyn Fn(Measured) -> bool,
) -> (f64, f64) {
    use super::variant::Read;
    match way.variant.cause {
        Cause::TachometerMarks | Cause::StroboscopeAlias => {
            let times = way.variant.reads.iter().find_map(|(_, read)| match read {
                Read::Times(times) => Some(*times),
                _ => None,
            });
            (times.unwrap_or(1.0), 0.0)
        }
        Cause::InstrumentOff(_, measured) if wanted(measured) => {
            let model = Model::new(sheet, &way.variant);
            let extra = model.extra(0);
            (
                1.0 + way.fit.theta[extra],
                way.fit.standard(&[(extra, 1.0)]),
            )
        }
        _ => (1.0, 0.0),
    }
}

/// A peak of the line EMF at a round speed, where nobody took one.
fn emf_at_speed(sheet: &BenchSheet) -> Option<Candidate<'_>> {
    let taken = has(sheet, |of| {
        matches!(
            of,
            Of::Emf {
                kind: EmfKind::Peak,
                between: Between::Lines,
                ..
            }
        )
    });
    if taken {
        return None;
    }
    const ROUND_RPM: f64 = 1000.0;
    let omega = ROUND_RPM * std::f64::consts::TAU / 60.0;
    Some(Candidate {
        what: format!(
            "Spin the shaft at {ROUND_RPM:.0} rpm, leads open, and take the peak of the voltage between two leads on an \
             oscilloscope."
        ),
        unit: Unit::VOLT,
        relative: 0.017,
        value: Box::new(move |way| {
            let model = Model::new(sheet, &way.variant);
            let (k, standard) = positive(&way.fit, model.main(Main::Emf))?;
            Some((omega * k, omega * k * standard))
        }),
        ease: 0.9,
    })
}

/// A value held as its logarithm, with its relative standard uncertainty; `None` where it is not
/// known.
pub(super) fn positive(fit: &Fit, idx: usize) -> Option<(f64, f64)> {
    let standard = fit.standard(&[(idx, 1.0)]);
    (standard < 0.7).then(|| (libm::exp(fit.theta[idx]), standard))
}

/// Where all agrees: what is missing, and what nothing checks.
fn improvements(sheet: &BenchSheet, verdict: &Verdict) -> Vec<NextStep> {
    let mut steps = Vec::new();
    let mut say = |missing: bool, what: &str| {
        if missing && steps.len() < 3 {
            steps.push(NextStep {
                what: what.to_owned(),
                expect: None,
                apart: 0.0,
            });
        }
    };
    let model = Model::new(sheet, &verdict.as_noted.variant);
    let known = |which: Main| positive(&verdict.as_noted.fit, model.main(which)).is_some();
    let emf_ways = [
        has(sheet, |of| matches!(of, Of::Emf { .. })),
        has(sheet, |of| matches!(of, Of::StallTorque { .. })),
        sheet.rows.no_load > 0,
    ];
    let n_ways = emf_ways.iter().filter(|way| **way).count();
    say(
        !known(Main::Emf),
        "Kv is open: spin the shaft with a drill, leads open, and take speed and voltage between two leads.",
    );
    say(
        !known(Main::Resistance),
        "The resistance is open: send a known current through two leads and take the voltage at the motor; three ways.",
    );
    say(
        apparent_pole_pairs(sheet, &[]).is_empty(),
        "Nothing checks the pole pairs: take the frequency of the EMF at a known speed.",
    );
    say(
        known(Main::Emf) && n_ways < 2,
        "Kv rests on one kind of reading: a second one (EMF when spun, speed without load, torque per ampere at the \
         stall) would catch a peak noted as RMS, or one winding noted as two leads.",
    );
    say(
        sheet.rows.no_load < 2,
        "Take current without load at two voltages far apart: only then do the losses part into constant and growing.",
    );
    say(
        sheet.rows.run_down == 0,
        "The inertia is open: let the rotor run down with open leads, and take the time between two speeds.",
    );
    say(
        sheet.rows.inductance == 0,
        "The inductance is open: take it between two leads at some kHz, turning the rotor slowly, and note the mean.",
    );
    steps
}
