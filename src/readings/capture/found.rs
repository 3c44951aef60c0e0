//! What a capture shows, of either kind, as figures and in sentences.

use super::super::estimate::Estimate;
use super::{
    Capture, Driven, DrivenError, DrivenOptions, Spun, SpunError, SpunOptions, driven_figures,
    driven_in_slices, spun_figures, spun_in_slices,
};
use crate::slices::through;

/// Of which kind a capture is, and what it shows.
#[derive(Clone, Debug)]
pub enum Found {
    /// A motor turned from outside, leads open.
    Spun(Box<Spun>),
    /// The terminals of a motor on its drive.
    Driven(Box<Driven>),
}

/// What the channels are of.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Asked {
    /// A motor turned from outside, and what is known beside.
    Spun(SpunOptions),
    /// A motor on its drive, and what is known beside.
    Driven(DrivenOptions),
}

/// Why nothing is shown.
#[derive(Clone, Debug, PartialEq)]
pub enum FoundError {
    /// By a motor turned from outside.
    Spun(SpunError),
    /// By one on its drive.
    Driven(DrivenError),
}

impl std::fmt::Display for FoundError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Spun(error) => error.fmt(f),
            Self::Driven(error) => error.fmt(f),
        }
    }
}

impl std::error::Error for FoundError {}

/// A sentence about a capture.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Finding {
    /// The sentence.
    pub words: String,
    /// Whether something is wrong, or can hurt somebody.
    pub is_caution: bool,
}

impl Found {
    /// Reads a capture.
    ///
    /// # Errors
    /// [`FoundError`].
    pub fn of(capture: &Capture, asked: &Asked) -> Result<Self, FoundError> {
        through(Self::of_in_slices(capture, asked))
    }

    /// The same, with rests.
    ///
    /// # Errors
    /// [`FoundError`].
    pub async fn of_in_slices(capture: &Capture, asked: &Asked) -> Result<Self, FoundError> {
        match asked {
            Asked::Spun(options) => spun_in_slices(capture, options)
                .await
                .map(|found| Self::Spun(Box::new(found)))
                .map_err(FoundError::Spun),
            Asked::Driven(options) => driven_in_slices(capture, options)
                .await
                .map(|found| Self::Driven(Box::new(found)))
                .map_err(FoundError::Driven),
        }
    }

    /// Its figures.
    #[must_use]
    pub fn figures(&self) -> Vec<Estimate> {
        match self {
            Self::Spun(found) => spun_figures(found),
            Self::Driven(found) => driven_figures(found),
        }
    }

    /// Electrical turns per second, where they were found.
    #[must_use]
    pub fn frequency_hz(&self) -> Option<f64> {
        match self {
            Self::Spun(found) => Some(found.frequency_hz),
            Self::Driven(found) => found.frequency_hz.map(|(hz, _)| hz),
        }
    }

    /// What it shows beside the figures, in sentences.
    #[must_use]
    pub fn findings(&self) -> Vec<Finding> {
        match self {
            Self::Spun(found) => of_spun(found),
            Self::Driven(found) => of_driven(found),
        }
    }

    /// What can hurt somebody where such a capture is taken.
    #[must_use]
    pub const fn caution(&self) -> &'static str {
        match self {
            Self::Spun(_) => {
                "The leads of a turning motor carry voltage. Clamp the motor, take the propeller off, keep hair and sleeves \
                 away."
            }
            Self::Driven(_) => {
                "The negative rail of a drive on mains is not earth: a scope's earth clip on it is a short circuit. A \
                 lithium pack gives hundreds of amperes into such a slip. Local rules and the data of your own parts go \
                 before these lines."
            }
        }
    }
}

fn of_spun(spun: &Spun) -> Vec<Finding> {
    let mut list = Vec::new();
    let mut say = |is_caution: bool, words: String| list.push(Finding { words, is_caution });
    if let Some(order) = order(&spun.lags_deg) {
        say(false, order);
    }
    match (spun.pole_pairs_apparent, spun.pole_pairs) {
        (Some((apparent, u)), None) => say(
            true,
            format!(
                "Frequency and speed say {apparent:.3} ± {:.3} pole pairs, which is no whole number: the speed or the time \
                 base is wrong, for a synchronous machine does not slip.",
                2.0 * u
            ),
        ),
        (Some((apparent, u)), Some(p)) if (apparent - f64::from(p)).abs() > (4.0 * u).max(0.05) => {
            say(
                true,
                format!(
                    "Frequency and speed say {apparent:.3} pole pairs, and {p} were given: one of the three is wrong."
                ),
            );
        }
        _ => {}
    }
    if spun.slows.abs() > 0.01 {
        let words = format!(
            "The speed changes by {:+.1} % over the stretch; it is taken into account, and the figures hold for its middle.",
            100.0 * spun.slows
        );
        say(false, words.replace('-', "−"));
    }
    if let Some(words) = unbalance(spun) {
        say(true, words);
    }
    if !spun.poles.is_empty() {
        let list: Vec<String> = spun
            .poles
            .iter()
            .map(|(size, _)| format!("{:.1}", 100.0 * size))
            .collect();
        say(
            false,
            format!(
                "Half waves of one mechanical turn, in percent of their mean: {}.",
                list.join(" ")
            ),
        );
        let words = if spun.poles_differ {
            "They differ by more than the scatter explains: a weak, cracked or shifted magnet, or a rotor out of centre."
        } else {
            "They differ no more than the scatter explains."
        };
        say(spun.poles_differ, words.to_owned());
    }
    list
}

/// Channels that differ by more than sound windings do, and what that may be. A joint is no part of it:
/// no current flows through open leads.
fn unbalance(spun: &Spun) -> Option<String> {
    /// By how much sound windings differ, and by how much two channels are alike. Common practice, no
    /// source.
    const SOUND: f64 = 0.02;
    let off = spun.phase_unbalance.filter(|value| *value > SOUND)?;
    let mut words = format!(
        "The channels differ by {:.1} %, more than sound windings do (1 to 2 %, common practice, no source)",
        100.0 * off
    );
    words += &match low_ones(spun, 0.5 * off) {
        Some((low, what)) => format!(
            ": {low} lower than the rest. Unless that probe is set otherwise, turns of {what} are shorted: in that \
             case it brakes and warms while it is spun, and its resistance is lower too (`wyebench readings`). Do not \
             run it."
        ),
        None => ": probes of another setting, or turns that are shorted.".to_owned(),
    };
    Some(words)
}

/// The channels that are low together where one winding is, and which that is. `alike`: part by which
/// channels may differ and count as one.
fn low_ones(spun: &Spun, alike: f64) -> Option<(String, String)> {
    let sizes: Vec<f64> = spun
        .waves
        .iter()
        .map(|wave| wave.first().amplitude_v)
        .collect();
    let [a, b, c] = sizes.as_slice() else {
        return None;
    };
    let names = &spun.names;
    let most = a.max(*b).max(*c);
    let is_low = [a, b, c].map(|size| most - size > alike * most);
    let low: Vec<usize> = (0..3).filter(|k| is_low[*k]).collect();
    match (spun.single_windings, low.as_slice()) {
        (true, [one]) => Some((format!("{} is", names[*one]), "that winding".to_owned())),
        (false, [first, second]) => Some((
            format!("{} and {} are", names[*first], names[*second]),
            "the winding at the lead that both share".to_owned(),
        )),
        _ => None,
    }
}

/// The order of phases in words, from the lags of two or three channels.
fn order(lags_deg: &[f64]) -> Option<String> {
    /// Degrees by which a lag may be off a third of a turn.
    const NEAR: f64 = 20.0;
    let list: Vec<String> = lags_deg
        .iter()
        .map(|lag| format!("{lag:.1}°").replace('-', "−"))
        .collect();
    let list = list.join(" and ");
    let near = |lag: f64, at: f64| (lag - at).abs() < NEAR;
    Some(match lags_deg {
        [] => return None,
        [a, rest @ ..] if near(*a, 120.0) && rest.iter().all(|b| near(*b, -120.0)) => {
            format!(
                "The channels follow each other as they stand, lagging by {list}: the order is U V W if they are named so."
            )
        }
        [a, rest @ ..] if near(*a, -120.0) && rest.iter().all(|b| near(*b, 120.0)) => {
            format!(
                "The channels follow each other backwards, lagging by {list}: it turned the other way, or two leads are exchanged."
            )
        }
        [a, ..] if near(a.abs(), 60.0) => {
            format!(
                "The second channel lags by {list}: one probe is the wrong way round, for 120° are wanted."
            )
        }
        _ => format!(
            "The channels lag by {list}, which is no third of a turn: are they of one motor, and all between leads?"
        ),
    })
}

fn of_driven(driven: &Driven) -> Vec<Finding> {
    let mut list = Vec::new();
    if driven.both_sides {
        list.push(Finding {
            words: "Both active legs chop: in the off time the current goes back to the supply through the diodes."
                .to_owned(),
            is_caution: false,
        });
    }
    list.extend(steps(driven));
    list
}

fn steps(driven: &Driven) -> Option<Finding> {
    if driven.steps.is_empty() {
        return None;
    }
    let list: Vec<String> = driven
        .steps
        .iter()
        .map(|legs| legs.iter().map(|leg| leg.character()).collect())
        .collect();
    let way = match driven.forward {
        Some(true) => "forward, as the table of six steps has them",
        Some(false) => "backwards through the table of six steps",
        None => "in no order of the six steps: are the channels U, V and W?",
    };
    Some(Finding {
        words: format!("Steps, U V W: {}; {way}.", list.join(" ")),
        is_caution: driven.forward.is_none(),
    })
}
