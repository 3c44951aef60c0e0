//! A motor turned from outside, leads open: Kv, shape, frequency, pole pairs, order of phases, and
//! how alike phases and poles are.

use std::f64::consts::TAU;
use std::fmt;

use super::edges::{edges, level_of, line};
use super::poles::poles;
use super::wave::{Turning, Wave, step};
use super::{Capture, Channel};
use crate::setup::{Quantity, parse_quantity, parted_text};
use crate::slices::{rest, through};

/// What is known beside the waveforms.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SpunOptions {
    /// Speed of the shaft in rad/s and its standard uncertainty; absent: by the mark or pole pairs.
    pub speed_rad_s: Option<(f64, f64)>,
    /// Pole pairs, where they are known.
    pub pole_pairs: Option<u32>,
    /// Whether the channels are single windings, against the star point.
    pub phases: bool,
    /// Standard uncertainty of the volts, as a part: the gain of the instrument.
    pub gain_standard: f64,
    /// Standard uncertainty of the time base, as a part.
    pub time_standard: f64,
}

/// Standard uncertainty of a scope's time base, as a part. Common practice, no source.
pub const TIME_STANDARD: f64 = 0.000_25;

/// Part of a speed that is its expanded uncertainty where none is stated. Common practice, no source.
const SPEED_RANGE: f64 = 0.002;

/// What [`speed_with_range`] takes.
pub const SPEED_WANTED: &str =
    "a speed above 0 with its unit, and where wanted its uncertainty: \"1204 rpm ± 3 rpm\"";

/// A speed in rad/s and its standard uncertainty: half of what is stated, or of 0.2 %. `None` where
/// the text is no such speed.
#[must_use]
pub fn speed_with_range(text: &str) -> Option<(f64, f64)> {
    let (value, range) =
        parted_text(text).map_or((text, None), |(value, range)| (value, Some(range.trim())));
    let value = parse_quantity(value.trim(), Quantity::Speed).ok()?;
    let half = match range {
        None => SPEED_RANGE * value,
        Some(range) => match range.strip_suffix('%') {
            Some(percent) => value * percent.trim().parse::<f64>().ok()? / 100.0,
            None => parse_quantity(range, Quantity::Speed).ok()?,
        },
    };
    let fits = value > 0.0 && value.is_finite() && half >= 0.0 && half.is_finite();
    fits.then_some((value, 0.5 * half))
}

/// What a spun motor shows. SI units; every `_standard` is a standard uncertainty.
#[derive(Clone, Debug)]
pub struct Spun {
    /// Standard uncertainty of the volts, as a part: the gain of the instrument.
    pub gain_standard: f64,
    /// Electrical turns per second at the middle of the stretch.
    pub frequency_hz: f64,
    /// Of that.
    pub frequency_standard: f64,
    /// Speed at the end over that at the start, less one.
    pub slows: f64,
    /// Electrical turns in the stretch.
    pub turns: f64,
    /// One wave for each channel, at one electrical angle.
    pub waves: Vec<Wave>,
    /// Names of the channels.
    pub names: Vec<String>,
    /// Whether the channels are single windings, against the star point.
    pub single_windings: bool,
    /// Peak of the line EMF in V and its standard uncertainty.
    pub line_peak_v: Option<(f64, f64)>,
    /// Speed of the shaft in rad/s and its standard uncertainty.
    pub speed_rad_s: Option<(f64, f64)>,
    /// Pole pairs as frequency over turns: value and standard uncertainty.
    pub pole_pairs_apparent: Option<(f64, f64)>,
    /// Pole pairs, whole: given or found.
    pub pole_pairs: Option<u32>,
    /// Kv in rad/s per V and its standard uncertainty.
    pub kv_rad_per_v_s: Option<(f64, f64)>,
    /// By how much each further channel lags the first, in degrees, −180 to 180.
    pub lags_deg: Vec<f64>,
    /// Largest less smallest amplitude of the channels over their mean; two channels at least.
    pub phase_unbalance: Option<f64>,
    /// Amplitude of each half wave in a mechanical turn over their mean, and its standard
    /// uncertainty; empty where pole pairs are not known or no whole turn fits.
    pub poles: Vec<(f64, f64)>,
    /// Middle of the stretch in s: the waves' angle is zero there.
    pub middle_s: f64,
    /// Whether the poles differ by more than the scatter explains.
    pub poles_differ: bool,
}

/// Why a capture says nothing.
#[derive(Clone, Debug, PartialEq)]
pub enum SpunError {
    /// Nothing goes up and down.
    Flat {
        /// The channel.
        name: String,
    },
    /// Fewer than two electrical turns.
    TooShort {
        /// Turns there are.
        turns: f64,
    },
    /// Too few samples a turn.
    TooCoarse {
        /// Samples for each electrical turn.
        per_turn: f64,
    },
    /// It is no wave that repeats: chopping, or noise.
    NoWave {
        /// The channel.
        name: String,
        /// Part of its square that no wave explains.
        left: f64,
    },
    /// The mark does not come twice.
    NoMark {
        /// The channel.
        name: String,
    },
}

impl fmt::Display for SpunError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Flat { name } => write!(f, "`{name}` does not go up and down: was it connected?"),
            Self::TooShort { turns } => write!(
                f,
                "{turns:.1} electrical turns are too few to tell a frequency; save at least two, better ten"
            ),
            Self::TooCoarse { per_turn } => write!(
                f,
                "{per_turn:.1} samples for an electrical turn are too few, and the frequency may not be the true one; \
                 sample at least eight times a turn"
            ),
            Self::NoWave { name, left } => write!(
                f,
                "`{name}` is no wave that repeats: {:.0} % of it is left over. If a drive is at work, say that it is driven",
                100.0 * left
            ),
            Self::NoMark { name } => write!(
                f,
                "the mark `{name}` does not come at least twice; save a longer stretch, or name no mark"
            ),
        }
    }
}

impl std::error::Error for SpunError {}

/// Samples that are fitted at most; more are thinned out.
const MOST_SAMPLES: usize = 40_000;
/// Highest order that is fitted.
const MOST_HARMONICS: usize = 15;

/// Reads what a spun motor shows.
///
/// # Errors
/// [`SpunError`].
pub fn spun(capture: &Capture, options: &SpunOptions) -> Result<Spun, SpunError> {
    through(spun_in_slices(capture, options))
}

/// The same, with rests.
///
/// # Errors
/// [`SpunError`].
pub async fn spun_in_slices(capture: &Capture, options: &SpunOptions) -> Result<Spun, SpunError> {
    let (stride, main) = (stride(capture), largest(&capture.channels).await);
    let thin = |values: &[f64]| -> Vec<f64> { values.iter().copied().step_by(stride).collect() };
    let times = thin(&capture.times_s);
    rest().await;
    let first = first_turning(capture, main)?;
    let span_s = times.last().unwrap_or(&0.0) - times.first().unwrap_or(&0.0);
    let turns = first.speed.abs() * span_s / TAU;
    if turns < 1.8 {
        return Err(SpunError::TooShort { turns });
    }
    #[expect(clippy::cast_precision_loss, reason = "a number of samples")]
    let per_turn = times.len() as f64 / turns;
    if per_turn < 6.0 {
        return Err(SpunError::TooCoarse { per_turn });
    }
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "at least 2, at most MOST_HARMONICS"
    )]
    let n_harmonics = ((0.4 * per_turn) as usize).clamp(2, MOST_HARMONICS);
    let (turning, speed_standard) = settled(
        &times,
        &thin(&capture.channels[main].volts),
        first,
        n_harmonics,
    )
    .await
    .ok_or_else(|| SpunError::NoWave {
        name: capture.channels[main].name.clone(),
        left: 1.0,
    })?;
    let waves = waves(capture, &times, &turning, n_harmonics, stride).await?;
    let mut found = Spun {
        gain_standard: options.gain_standard,
        frequency_hz: turning.speed / TAU,
        frequency_standard: libm::hypot(speed_standard, turning.speed * options.time_standard)
            / TAU,
        slows: turning.drift * span_s / turning.speed,
        turns,
        names: capture.channels.iter().map(|c| c.name.clone()).collect(),
        single_windings: options.phases,
        line_peak_v: None,
        speed_rad_s: None,
        pole_pairs_apparent: None,
        pole_pairs: options.pole_pairs,
        kv_rad_per_v_s: None,
        lags_deg: lags(&waves),
        phase_unbalance: unbalance(&waves),
        poles: Vec::new(),
        middle_s: turning.middle_s,
        poles_differ: false,
        waves,
    };
    found.line_peak_v = line_peak(&found.waves, options);
    rest().await;
    speeds(&mut found, capture, options)?;
    if let (Some((speed, u_speed)), Some((peak, u_peak))) = (found.speed_rad_s, found.line_peak_v) {
        let kv = speed / peak;
        found.kv_rad_per_v_s = Some((kv, kv * libm::hypot(u_speed / speed, u_peak / peak)));
    }
    if let Some(pole_pairs) = found.pole_pairs {
        rest().await;
        poles(&mut found, capture, main, &turning, pole_pairs);
    }
    Ok(found)
}

/// Every how many samples are taken.
fn stride(capture: &Capture) -> usize {
    capture.times_s.len().div_ceil(MOST_SAMPLES).max(1)
}

/// The channel that goes up and down most.
async fn largest(channels: &[Channel]) -> usize {
    let mut found = (0, f64::NEG_INFINITY);
    for (idx, channel) in channels.iter().enumerate() {
        rest().await;
        let high = level_of(&channel.volts, 0.98);
        rest().await;
        let span = high - level_of(&channel.volts, 0.02);
        if span >= found.1 {
            found = (idx, span);
        }
    }
    found.0
}

/// Speed and drift from the passages through the middle.
fn first_turning(capture: &Capture, main: usize) -> Result<Turning, SpunError> {
    let channel = &capture.channels[main];
    let (low, high) = (
        level_of(&channel.volts, 0.02),
        level_of(&channel.volts, 0.98),
    );
    let half = 0.5 * (high - low);
    if half <= 0.0 {
        return Err(SpunError::Flat {
            name: channel.name.clone(),
        });
    }
    let found = edges(
        &capture.times_s,
        &channel.volts,
        0.5 * (low + high),
        0.4 * half,
    );
    let rising: Vec<f64> = found
        .iter()
        .filter(|e| e.rising)
        .map(|e| e.time_s)
        .collect();
    if rising.len() < 3 {
        #[expect(clippy::cast_precision_loss, reason = "a number of passages")]
        let turns = rising.len() as f64;
        return Err(SpunError::TooShort { turns });
    }
    let middle_s =
        0.5 * (capture.times_s.first().unwrap_or(&0.0) + capture.times_s.last().unwrap_or(&0.0));
    // angle over time as a parabola, by halves: the mean speeds of the first and second half
    let half_way = rising.len() / 2;
    #[expect(clippy::cast_precision_loss, reason = "a number of passages")]
    let mean = |part: &[f64]| {
        let n = (part.len() - 1) as f64;
        (
            TAU * n / (part[part.len() - 1] - part[0]),
            0.5 * (part[0] + part[part.len() - 1]),
        )
    };
    let (speed, at) = mean(&rising);
    let drift = if rising.len() >= 6 {
        let (early, late) = (mean(&rising[..=half_way]), mean(&rising[half_way..]));
        (late.0 - early.0) / (late.1 - early.1)
    } else {
        0.0
    };
    Ok(Turning {
        middle_s,
        speed: speed + drift * (middle_s - at),
        drift,
    })
}

/// The turning at which the wave fits best, and the standard uncertainty of its speed.
async fn settled(
    times: &[f64],
    volts: &[f64],
    mut turning: Turning,
    n_harmonics: usize,
) -> Option<(Turning, f64)> {
    let mut standard = 0.0;
    // the lowest orders first: they forgive a wrong angle
    for orders in [2.min(n_harmonics), n_harmonics] {
        rest().await;
        let mut guess = step(times, volts, &turning, orders, None)?.coefficients;
        for _ in 0..12 {
            rest().await;
            let next = step(times, volts, &turning, orders, Some(&guess))?;
            turning.speed += next.change.0;
            turning.drift += next.change.1;
            standard = next.speed_standard;
            let small = next.change.0.abs() < 1e-9 * turning.speed.abs();
            rest().await;
            guess = step(times, volts, &turning, orders, None)?.coefficients;
            if small {
                break;
            }
        }
    }
    (turning.speed.is_finite() && turning.speed > 0.0).then_some((turning, standard))
}

async fn waves(
    capture: &Capture,
    times: &[f64],
    turning: &Turning,
    n_harmonics: usize,
    stride: usize,
) -> Result<Vec<Wave>, SpunError> {
    /// Part of the square that may be left over.
    const MOST_LEFT: f64 = 0.2;
    let mut found = Vec::with_capacity(capture.channels.len());
    for channel in &capture.channels {
        rest().await;
        let volts: Vec<f64> = channel.volts.iter().copied().step_by(stride).collect();
        let wave = step(times, &volts, turning, n_harmonics, None).map(|found| found.wave());
        let left = wave.as_ref().map_or(1.0, |wave| {
            let scatter = wave.scatter_v * wave.scatter_v;
            let whole = scatter + wave.rms_v() * wave.rms_v();
            if whole > 0.0 { scatter / whole } else { 1.0 }
        });
        match wave {
            Some(wave) if left < MOST_LEFT => found.push(wave),
            _ => {
                return Err(SpunError::NoWave {
                    name: channel.name.clone(),
                    left,
                });
            }
        }
    }
    Ok(found)
}

/// Peak of the line EMF: of the channels themselves, or of the differences of single windings.
fn line_peak(waves: &[Wave], options: &SpunOptions) -> Option<(f64, f64)> {
    let peaks: Vec<(f64, f64)> = if options.phases {
        if waves.len() < 2 {
            return None;
        }
        let pairs = (0..waves.len()).flat_map(|a| (0..a).map(move |b| (a, b)));
        pairs
            .map(|(a, b)| {
                const GRID: u32 = 1440;
                let peak = (0..GRID)
                    .map(|k| {
                        let theta = TAU * f64::from(k) / f64::from(GRID);
                        (waves[a].at(theta) - waves[b].at(theta)).abs()
                    })
                    .fold(0.0, f64::max);
                (
                    peak,
                    libm::hypot(waves[a].peak_standard_v, waves[b].peak_standard_v),
                )
            })
            .collect()
    } else {
        waves
            .iter()
            .map(|w| (w.peak_v, w.peak_standard_v))
            .collect()
    };
    #[expect(clippy::cast_precision_loss, reason = "one to three")]
    let n = peaks.len() as f64;
    let mean = peaks.iter().map(|(peak, _)| peak).sum::<f64>() / n;
    let own = peaks.iter().map(|(_, u)| u * u).sum::<f64>().sqrt() / n;
    Some((mean, libm::hypot(own, mean * options.gain_standard)))
}

/// Speed from what was given, the mark, or the pole pairs; and the pole pairs from speed and
/// frequency.
fn speeds(found: &mut Spun, capture: &Capture, options: &SpunOptions) -> Result<(), SpunError> {
    found.speed_rad_s = options.speed_rad_s;
    if let Some(mark) = &capture.mark {
        let per_turn = turn_time(mark, &capture.times_s)?;
        let speed = TAU / per_turn.0;
        let own = speed * per_turn.1 / per_turn.0;
        found.speed_rad_s = Some((speed, libm::hypot(own, speed * options.time_standard)));
    }
    let electrical = TAU * found.frequency_hz;
    match found.speed_rad_s {
        Some((speed, u_speed)) => {
            let value = electrical / speed;
            // with a mark both rest on one time base, which drops out
            let of_frequency = if capture.mark.is_some() {
                0.0
            } else {
                found.frequency_standard / found.frequency_hz
            };
            let u = value * libm::hypot(of_frequency, u_speed / speed);
            found.pole_pairs_apparent = Some((value, u));
            if found.pole_pairs.is_none() {
                let nearest = value.round();
                #[expect(
                    clippy::cast_possible_truncation,
                    clippy::cast_sign_loss,
                    reason = "1 to 1000"
                )]
                let whole = ((1.0..=1000.0).contains(&nearest)
                    && (value - nearest).abs() < (4.0 * u).clamp(0.05, 0.3))
                .then_some(nearest as u32);
                found.pole_pairs = whole;
            }
        }
        None => {
            if let Some(pole_pairs) = options.pole_pairs {
                let p = f64::from(pole_pairs);
                found.speed_rad_s = Some((electrical / p, TAU * found.frequency_standard / p));
            }
        }
    }
    Ok(())
}

/// Time of a mechanical turn and its standard uncertainty.
fn turn_time(mark: &Channel, times_s: &[f64]) -> Result<(f64, f64), SpunError> {
    let none = || SpunError::NoMark {
        name: mark.name.clone(),
    };
    let lowest = mark.volts.iter().copied().fold(f64::INFINITY, f64::min);
    let highest = mark.volts.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let reach = 0.25 * (highest - lowest);
    if reach <= 0.0 {
        return Err(none());
    }
    let found = edges(times_s, &mark.volts, 0.5 * (lowest + highest), reach);
    let rising: Vec<f64> = found
        .iter()
        .filter(|e| e.rising)
        .map(|e| e.time_s)
        .collect();
    let (Some(first), Some(last)) = (rising.first(), rising.last()) else {
        return Err(none());
    };
    if rising.len() < 2 {
        return Err(none());
    }
    #[expect(clippy::cast_precision_loss, reason = "a number of turns")]
    let n = (rising.len() - 1) as f64;
    // each edge is known to a sample: rectangular, half a width over √3 (JCGM 100:2008, 4.3.7)
    let spacing = (times_s.last().unwrap_or(&0.0) - times_s.first().unwrap_or(&0.0))
        / times_s.len().max(2) as f64;
    let by_samples = spacing / 6.0_f64.sqrt() / n;
    #[expect(clippy::cast_precision_loss, reason = "a number of turns")]
    let points: Vec<(f64, f64)> = rising
        .iter()
        .enumerate()
        .map(|(k, t)| (k as f64, *t))
        .collect();
    match line(&points) {
        // a drifting speed bends the line: at the middle the slope is the turn all the same
        Some((_, slope, _, standard)) => Ok((slope, standard.max(by_samples))),
        None => Ok(((last - first) / n, by_samples)),
    }
}

fn lags(waves: &[Wave]) -> Vec<f64> {
    let Some((first, rest)) = waves.split_first() else {
        return Vec::new();
    };
    rest.iter()
        .map(|wave| {
            let lag = wave.first().phase_rad - first.first().phase_rad;
            let wrapped = lag - TAU * (lag / TAU).round();
            wrapped.to_degrees()
        })
        .collect()
}

fn unbalance(waves: &[Wave]) -> Option<f64> {
    let sizes: Vec<f64> = waves.iter().map(|wave| wave.first().amplitude_v).collect();
    #[expect(clippy::cast_precision_loss, reason = "one to three")]
    let mean = sizes.iter().sum::<f64>() / sizes.len() as f64;
    let most = sizes.iter().copied().fold(0.0, f64::max);
    let least = sizes.iter().copied().fold(f64::INFINITY, f64::min);
    (sizes.len() > 1 && mean > 0.0).then(|| (most - least) / mean)
}
