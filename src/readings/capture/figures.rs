//! What a capture shows as figures that explain themselves, each with its range.

use std::f64::consts::TAU;

use super::super::estimate::Estimate;
use super::driven::Driven;
use super::spun::Spun;
use crate::analysis::{FigureNames, Group, Input, Source, Unit, Value};

const FIT: Source = Source {
    author: "JCGM",
    title: "100:2008, Guide to the expression of uncertainty in measurement",
    place: "H.3 least squares, 5.1.6 relative uncertainties in squares (from memory)",
};
const FOURIER: Source = Source {
    author: "",
    title: "Fourier series fitted over the stretch",
    place: "src/readings/capture/wave.rs",
};
const SYNCHRONOUS: Source = Source::definition("angles and speed");
const EDGES: Source = Source {
    author: "",
    title: "passages of the levels, straight lines through them",
    place: "src/readings/capture/driven.rs",
};

#[expect(clippy::too_many_arguments, reason = "a figure has as many parts")]
fn estimate(
    names: FigureNames,
    group: Group,
    unit: Unit,
    found: Option<(f64, f64)>,
    absent: &'static str,
    formula: &'static str,
    inputs: Vec<Input>,
    source: Source,
) -> Estimate {
    let finite = found.filter(|(value, u)| value.is_finite() && u.is_finite());
    Estimate::new(
        names,
        (group, unit),
        finite.ok_or(absent),
        formula,
        inputs,
        source,
    )
}

/// Degrees; the value is in degrees.
const DEGREE: Unit = Unit {
    symbol: "°",
    per_si: 1.0,
    prefixed: false,
};

/// The figures of a spun motor.
#[must_use]
pub fn spun_figures(spun: &Spun) -> Vec<Estimate> {
    let mut list = Vec::new();
    let rpm = |(value, u): (f64, f64)| (value * 60.0 / TAU, u * 60.0 / TAU);
    let frequency = Input::new("f", "electrical frequency", spun.frequency_hz, Unit::HERTZ);
    let kv_inputs = match (spun.speed_rad_s, spun.line_peak_v) {
        (Some(speed), Some(peak)) => vec![
            Input::new("n", "speed of the shaft", rpm(speed).0, Unit::RPM),
            Input::new("Û", "peak of the line EMF", peak.0, Unit::VOLT),
        ],
        _ => Vec::new(),
    };
    list.push(estimate(
        ("kv_rpm_per_v", "Kv", "Kv"),
        Group::Speed,
        Unit::RPM_PER_VOLT,
        spun.kv_rad_per_v_s.map(rpm),
        "needs the speed: given, by a mark of each turn, or from the pole pairs; and two channels where they are single windings",
        "n / Û",
        kv_inputs,
        FIT,
    ).noted(
        "Of the voltage between the leads. In delta what the three windings have in common, a third harmonic above \
         all, goes round the loop and does not show there: a winding's own EMF, which the Kv of a setup counts in \
         delta, has it on top.",
    ));
    list.push(estimate(
        ("speed_rpm", "speed of the shaft", "n"),
        Group::Speed,
        Unit::RPM,
        spun.speed_rad_s.map(rpm),
        "needs a mark of each turn or the pole pairs, where it is not given",
        "given, 60 over the time of a turn by the mark, or 60 f / p",
        vec![frequency.clone()],
        SYNCHRONOUS,
    ));
    list.push(estimate(
        ("electrical_frequency_hz", "electrical frequency", "f"),
        Group::Speed,
        Unit::HERTZ,
        Some((spun.frequency_hz, spun.frequency_standard)),
        "",
        "of the wave that fits best, at the middle of the stretch",
        Vec::new(),
        FOURIER,
    ));
    list.push(pole_pairs(spun));
    if let Some(apparent) = spun.pole_pairs_apparent {
        list.push(estimate(
            (
                "pole_pairs_apparent",
                "pole pairs that frequency and speed say",
                "p_a",
            ),
            Group::Speed,
            Unit::NUMBER,
            Some(apparent),
            "",
            "60 · f / n",
            vec![frequency],
            SYNCHRONOUS,
        ));
    }
    list.push(estimate(
        ("line_emf_peak_v", "line EMF, peak", "Û"),
        Group::Power,
        Unit::VOLT,
        spun.line_peak_v,
        "one winding alone does not give it: add a second channel",
        "largest value of the fitted wave, mean of the channels",
        Vec::new(),
        FOURIER,
    ));
    waves(spun, &mut list);
    list
}

fn pole_pairs(spun: &Spun) -> Estimate {
    let mut figure = estimate(
        ("pole_pairs", "pole pairs", "p"),
        Group::Speed,
        Unit::NUMBER,
        None,
        "needs the speed, given or by a mark of each turn; or frequency and speed say no whole number",
        "60 · f / n, rounded where it is whole within its range; or as given",
        Vec::new(),
        SYNCHRONOUS,
    );
    if let Some(count) = spun.pole_pairs {
        figure.figure.value = Value::Count(u64::from(count));
    }
    figure
}

fn waves(spun: &Spun, list: &mut Vec<Estimate>) {
    let Some(wave) = spun.waves.first() else {
        return;
    };
    let first = wave.first().amplitude_v;
    let u = wave.amplitude_standard_v;
    list.push(estimate(
        ("emf_fundamental_v", "first harmonic, first channel", "U_1"),
        Group::Power,
        Unit::VOLT,
        Some((first, libm::hypot(u, first * spun.gain_standard))),
        "",
        "amplitude of the first harmonic",
        Vec::new(),
        FOURIER,
    ));
    for (key, name, order) in [
        ("emf_harmonic_3", "third harmonic, of the first", 3),
        ("emf_harmonic_5", "fifth harmonic, of the first", 5),
        ("emf_harmonic_7", "seventh harmonic, of the first", 7),
    ] {
        if let Some(harmonic) = wave.harmonics.iter().find(|h| h.order == order) {
            list.push(estimate(
                (key, name, ""),
                Group::Power,
                Unit::PERCENT,
                Some((harmonic.amplitude_v / first, u / first)),
                "",
                "its amplitude over that of the first",
                Vec::new(),
                FOURIER,
            ));
        }
    }
    #[expect(clippy::cast_precision_loss, reason = "at most fifteen")]
    let n = wave.harmonics.len() as f64;
    list.push(estimate(
        ("emf_distortion", "all harmonics, of the first", ""),
        Group::Power,
        Unit::PERCENT,
        Some((wave.distortion(), n.sqrt() * u / first)),
        "",
        "root of the sum of squares of the harmonics above the first, over the first",
        Vec::new(),
        FOURIER,
    ));
    if let Some(value) = spun.phase_unbalance {
        list.push(estimate(
            ("phase_unbalance", "channels differ by", ""),
            Group::Power,
            Unit::PERCENT,
            Some((value, 1.5 * u / first)),
            "",
            "largest less smallest first harmonic over their mean",
            Vec::new(),
            FOURIER,
        ));
    }
    if !spun.poles.is_empty() {
        let sizes = || spun.poles.iter().map(|(size, _)| *size);
        let spread = sizes().fold(0.0, f64::max) - sizes().fold(f64::INFINITY, f64::min);
        let worst = spun.poles.iter().map(|(_, u)| *u).fold(0.0, f64::max);
        list.push(estimate(
            ("pole_unbalance", "half waves of a turn differ by", ""),
            Group::Power,
            Unit::PERCENT,
            Some((spread, 1.5 * worst)),
            "",
            "largest less smallest half wave over their mean, the same place of every turn averaged",
            Vec::new(),
            FOURIER,
        ));
    }
}

/// The figures of a driven motor.
#[must_use]
pub fn driven_figures(driven: &Driven) -> Vec<Estimate> {
    let none = "no terminal was seen to be held low twice: save a longer stretch";
    let mut list = vec![
        estimate(
            ("supply_voltage_v", "voltage of the upper rail", "U"),
            Group::Power,
            Unit::VOLT,
            Some(driven.supply_v),
            "",
            "median of what lies above the middle of all channels, less the median of what lies below",
            Vec::new(),
            EDGES,
        ),
        estimate(
            ("pwm_frequency_hz", "chopping frequency", "f_c"),
            Group::Power,
            Unit::HERTZ,
            driven.pwm_hz,
            "not chopped, or fewer than twelve periods",
            "slope of a straight line through the rising edges",
            Vec::new(),
            EDGES,
        ),
        estimate(
            ("duty", "duty", "δ"),
            Group::Power,
            Unit::PERCENT,
            driven.duty,
            "not chopped",
            "on time over period, mean of the middle half of all pulses",
            Vec::new(),
            EDGES,
        ),
        estimate(
            ("electrical_frequency_hz", "electrical frequency", "f"),
            Group::Speed,
            Unit::HERTZ,
            driven.frequency_hz,
            none,
            "one over the time between the middles of a leg's low stretches",
            Vec::new(),
            EDGES,
        ),
        estimate(
            ("commutation_hz", "steps a second", "f_s"),
            Group::Speed,
            Unit::HERTZ,
            driven.commutation_hz(),
            none,
            "6 · f",
            driven.frequency_hz.map_or_else(Vec::new, |(f, _)| {
                vec![Input::new("f", "electrical frequency", f, Unit::HERTZ)]
            }),
            SYNCHRONOUS,
        ),
    ];
    if let Some((value, u, n)) = driven.zero_crossing {
        #[expect(clippy::cast_precision_loss, reason = "a number of crossings")]
        let inputs = vec![Input::new("N", "crossings", n as f64, Unit::NUMBER)];
        list.push(estimate(
            ("zero_crossing_part", "floating phase crosses zero at", "x"),
            Group::Speed,
            Unit::PERCENT,
            Some((value, u)),
            "",
            "part of the step, mean of all crossings of half the supply in the on time",
            inputs,
            EDGES,
        ));
    }
    if let (Some(advance), Some((value, ..))) = (driven.advance_deg(), driven.zero_crossing) {
        list.push(estimate(
            ("advance_deg", "steps come early by", "α"),
            Group::Speed,
            DEGREE,
            Some(advance),
            "",
            "60 · ( x − 0.5 )",
            vec![Input::new(
                "x",
                "where the floating phase crosses zero",
                value,
                Unit::NUMBER,
            )],
            EDGES,
        ));
    }
    list
}
