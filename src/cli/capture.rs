//! `wyebench capture`: waveforms that an instrument saved.

use std::f64::consts::{FRAC_PI_2, FRAC_PI_3, TAU};
use std::io;

use super::arguments::{CaptureArguments, ThemeName};
use super::files::{Format, OutputTarget, write_whole};
use super::readings::{with_range, wrapped, write_json};
use super::{Failure, Terminal, input};
use crate::analysis::{self, Figure, Value, why};
use crate::export::overlay::{Overlay, Row};
use crate::readings::Estimate;
use crate::readings::capture::{
    Capture, Dialect, Driven, Picks, Spun, SpunOptions, Table, driven, driven_figures, scale_of,
    spun, spun_figures,
};
use crate::record::{Sample, Sampler};
use crate::scene::Theme;
use crate::setup::{Gates, Quantity, Setup, parse_quantity};

/// Standard uncertainty of a scope's time base, as a part. Common practice, no source.
const TIME_STANDARD: f64 = 0.000_25;

/// What was found, of either kind.
enum Found {
    Spun(Box<Spun>),
    Driven(Box<Driven>),
}

pub(crate) fn command(
    arguments: &CaptureArguments,
    terminal: &mut Terminal<'_>,
) -> Result<(), Failure> {
    let target = arguments
        .plot
        .as_ref()
        .map(|path| OutputTarget::check(path, &[Format::Svg, Format::Png]))
        .transpose()?;
    let over = arguments
        .over
        .as_deref()
        .map(input::read_setup)
        .transpose()?;
    let options = options(arguments)?;
    let name = super::failure::shown_path(&arguments.capture);
    let bytes = input::read_capture(&arguments.capture)?;
    let failed = |reason: Box<dyn std::error::Error + Send + Sync>| Failure::Capture {
        name: name.clone(),
        reason,
    };
    let table = Table::read(&bytes, dialect(arguments)).map_err(|error| failed(Box::new(error)))?;
    drop(bytes);
    let capture =
        Capture::new(&table, &picks(arguments)?).map_err(|error| failed(Box::new(error)))?;
    let found = if arguments.driven {
        Found::Driven(Box::new(
            driven(&capture).map_err(|error| failed(Box::new(error)))?,
        ))
    } else {
        let found = spun(&capture, &options).map_err(|error| failed(Box::new(error)))?;
        Found::Spun(Box::new(found))
    };
    let estimates = match &found {
        Found::Spun(found) => spun_figures(found),
        Found::Driven(found) => driven_figures(found),
    };
    if let Some(target) = &target {
        let picture = picture(&capture, &found, over.as_ref(), arguments).draw();
        let bytes = match target.format() {
            Format::Png => picture.png(2.0)?,
            _ => picture.svg()?.into_bytes(),
        };
        write_whole(target.path(), &bytes)?;
    }
    if arguments.json {
        return json(&capture, &found, &estimates, terminal);
    }
    if !arguments.why.is_empty() {
        let list: Vec<Figure> = estimates.into_iter().map(|e| e.figure).collect();
        let texts: Result<Vec<String>, _> = arguments
            .why
            .iter()
            .map(|asked| why(&list, asked))
            .collect();
        writeln!(terminal.out, "{}", texts?.join("\n\n"))?;
        return Ok(());
    }
    report(&table, &capture, &found, &estimates, terminal)?;
    Ok(())
}

fn dialect(arguments: &CaptureArguments) -> Option<Dialect> {
    let delimiter = match arguments.delimiter.as_deref()? {
        "semicolon" => ';',
        "tab" => '\t',
        "blank" => ' ',
        _ => ',',
    };
    Some(Dialect {
        delimiter,
        decimal_comma: arguments.decimal.as_deref() == Some("comma"),
    })
}

fn picks(arguments: &CaptureArguments) -> Result<Picks, Failure> {
    let interval_s = arguments
        .interval
        .as_ref()
        .map(|text| match parse_quantity(text, Quantity::Time) {
            Ok(value) if value > 0.0 && value.is_finite() => Ok(value),
            _ => Err(Failure::Option {
                option: "--interval",
                text: text.clone(),
                wanted: "a time above 0 with its unit: \"10 us\"".to_owned(),
            }),
        })
        .transpose()?;
    let scale = |unit: &Option<String>| unit.as_deref().and_then(scale_of);
    Ok(Picks {
        time: arguments.time.clone(),
        interval_s,
        channels: arguments.channels.clone(),
        mark: arguments.mark.clone(),
        time_scale: scale(&arguments.time_unit),
        channel_scale: scale(&arguments.channel_unit),
    })
}

fn options(arguments: &CaptureArguments) -> Result<SpunOptions, Failure> {
    let speed_rad_s = arguments
        .speed
        .as_ref()
        .map(|text| speed(text))
        .transpose()?;
    if !(0.0..=100.0).contains(&arguments.accuracy) {
        return Err(Failure::Option {
            option: "--accuracy",
            text: arguments.accuracy.to_string(),
            wanted: "a percentage from 0 to 100".to_owned(),
        });
    }
    Ok(SpunOptions {
        speed_rad_s,
        pole_pairs: arguments.pole_pairs,
        phases: arguments.phases,
        gain_standard: 0.005 * arguments.accuracy,
        time_standard: TIME_STANDARD,
    })
}

/// A speed and its standard uncertainty: half of what is stated, or of 0.2 %.
fn speed(text: &str) -> Result<(f64, f64), Failure> {
    let wrong = || Failure::Option {
        option: "--speed",
        text: text.to_owned(),
        wanted:
            "a speed above 0 with its unit, and where wanted its uncertainty: \"1204 rpm ± 3 rpm\""
                .to_owned(),
    };
    let (value, tolerance) = ["\u{b1}", "+-", "+/-"]
        .iter()
        .find_map(|sign| text.split_once(sign))
        .map_or((text, None), |(value, tolerance)| (value, Some(tolerance)));
    let value = parse_quantity(value.trim(), Quantity::Speed).map_err(|_| wrong())?;
    let half = match tolerance.map(str::trim) {
        None => 0.002 * value,
        Some(tolerance) => match tolerance.strip_suffix('%') {
            Some(percent) => value * percent.trim().parse::<f64>().map_err(|_| wrong())? / 100.0,
            None => parse_quantity(tolerance, Quantity::Speed).map_err(|_| wrong())?,
        },
    };
    let fits = value > 0.0 && value.is_finite() && half >= 0.0 && half.is_finite();
    if fits {
        Ok((value, 0.5 * half))
    } else {
        Err(wrong())
    }
}

fn report(
    table: &Table,
    capture: &Capture,
    found: &Found,
    estimates: &[Estimate],
    terminal: &mut Terminal<'_>,
) -> io::Result<()> {
    let (red, plain) = if terminal.coloured {
        ("\u{1b}[31m", "\u{1b}[0m")
    } else {
        ("", "")
    };
    writeln!(
        terminal.out,
        "{} rows from line {}, {}; time: {}; channels: {}",
        capture.times_s.len(),
        table.first_line,
        table.dialect,
        capture.time_base,
        capture
            .channels
            .iter()
            .map(|c| c.name.as_str())
            .collect::<Vec<_>>()
            .join(", ")
    )?;
    if capture.n_bad > 0 {
        writeln!(
            terminal.out,
            "{red}⚠ {} lines below are no rows and are left out:{plain}",
            capture.n_bad
        )?;
        for bad in &capture.bad {
            writeln!(terminal.out, "  line {}: {}", bad.line, bad.reason)?;
        }
        if capture.n_bad > capture.bad.len() {
            writeln!(
                terminal.out,
                "  and {} more",
                capture.n_bad - capture.bad.len()
            )?;
        }
    }
    writeln!(terminal.out, "\nWhat it shows (95 of 100 lie within ±)")?;
    for estimate in estimates {
        match estimate.figure.value {
            Value::Absent(reason) => {
                writeln!(
                    terminal.out,
                    "  {:<40}  –  ({reason})",
                    estimate.figure.name
                )?;
            }
            _ => writeln!(
                terminal.out,
                "  {:<40}  {}",
                estimate.figure.name,
                with_range(estimate)
            )?,
        }
    }
    writeln!(terminal.out)?;
    match found {
        Found::Spun(spun) => spun_words(spun, terminal),
        Found::Driven(driven) => driven_words(driven, terminal),
    }
}

fn spun_words(spun: &Spun, terminal: &mut Terminal<'_>) -> io::Result<()> {
    let mut say = |words: &str| wrapped(terminal, "", "  ", words);
    if let Some(order) = order(&spun.lags_deg) {
        say(&order)?;
    }
    if let (Some((apparent, u)), None) = (spun.pole_pairs_apparent, spun.pole_pairs) {
        say(&format!(
            "⚠ Frequency and speed say {apparent:.3} ± {:.3} pole pairs, which is no whole number: the speed or the time \
             base is wrong, for a synchronous machine does not slip.",
            2.0 * u
        ))?;
    }
    if let (Some((apparent, u)), Some(p)) = (spun.pole_pairs_apparent, spun.pole_pairs)
        && (apparent - f64::from(p)).abs() > (4.0 * u).max(0.05)
    {
        say(&format!(
            "⚠ Frequency and speed say {apparent:.3} pole pairs, and {p} were given: one of the three is wrong."
        ))?;
    }
    if spun.slows.abs() > 0.01 {
        say(&format!(
            "The speed changes by {:+.1} % over the stretch; it is taken into account, and the figures hold for its middle.",
            100.0 * spun.slows
        )
        .replace('-', "−"))?;
    }
    if spun.phase_unbalance.is_some_and(|value| value > 0.02) {
        say(
            "⚠ The channels differ by more than sound windings do (1 to 2 %, common practice, no source): probes of another \
             setting, a joint, or turns that are shorted.",
        )?;
    }
    if !spun.poles.is_empty() {
        let list: Vec<String> = spun
            .poles
            .iter()
            .map(|(size, _)| format!("{:.1}", 100.0 * size))
            .collect();
        say(&format!(
            "Half waves of one mechanical turn, in percent of their mean: {}.",
            list.join(" ")
        ))?;
        say(if spun.poles_differ {
            "⚠ They differ by more than the scatter explains: a weak, cracked or shifted magnet, or a rotor out of centre."
        } else {
            "They differ no more than the scatter explains."
        })?;
    }
    say(
        "⚠ The leads of a turning motor carry voltage. Clamp the motor, take the propeller off, keep hair and sleeves away.",
    )
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

fn driven_words(driven: &Driven, terminal: &mut Terminal<'_>) -> io::Result<()> {
    let mut say = |words: &str| wrapped(terminal, "", "  ", words);
    if !driven.steps.is_empty() {
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
        say(&format!("Steps, U V W: {}; {way}.", list.join(" ")))?;
    }
    say(
        "⚠ The negative rail of a drive on mains is not earth: a scope's earth clip on it is a short circuit. A lithium pack \
         gives hundreds of amperes into such a slip. Local rules and the data of your own parts go before these lines.",
    )
}

fn json(
    capture: &Capture,
    found: &Found,
    estimates: &[Estimate],
    terminal: &mut Terminal<'_>,
) -> Result<(), Failure> {
    let mut object = serde_json::Map::new();
    let mut ranges = serde_json::Map::new();
    for estimate in estimates {
        let value = match estimate.figure.value {
            Value::Count(count) => count.into(),
            _ => estimate.figure.number().into(),
        };
        object.insert(estimate.figure.key.to_owned(), value);
        ranges.insert(estimate.figure.key.to_owned(), estimate.expanded.into());
    }
    object.insert("expanded_uncertainty".into(), ranges.into());
    object.insert("rows".into(), capture.times_s.len().into());
    object.insert("bad_rows".into(), capture.n_bad.into());
    match found {
        Found::Spun(spun) => {
            let poles: Vec<f64> = spun.poles.iter().map(|(size, _)| *size).collect();
            object.insert("lags_deg".into(), spun.lags_deg.clone().into());
            object.insert("half_waves".into(), poles.into());
            object.insert("half_waves_differ".into(), spun.poles_differ.into());
        }
        Found::Driven(driven) => {
            let steps: Vec<String> = driven
                .steps
                .iter()
                .map(|legs| legs.iter().map(|leg| leg.character()).collect())
                .collect();
            object.insert("steps".into(), steps.into());
            object.insert("forward".into(), driven.forward.into());
        }
    }
    write_json(&object, terminal)
}

/// Two electrical turns round the middle of the capture, with the simulation where one is wanted.
fn picture<'a>(
    capture: &Capture,
    found: &Found,
    over: Option<&'a Setup>,
    arguments: &CaptureArguments,
) -> Overlay<'a> {
    let frequency = match found {
        Found::Spun(spun) => Some(spun.frequency_hz),
        Found::Driven(driven) => driven.frequency_hz.map(|(f, _)| f),
    };
    let (first, last) = (
        capture.times_s.first().copied().unwrap_or(0.0),
        capture.times_s.last().copied().unwrap_or(1.0),
    );
    let middle = 0.5 * (first + last);
    let half = frequency.map_or(0.5 * (last - first), |f| {
        (1.0 / f).min(0.5 * (last - first))
    });
    let span_s = (middle - half, middle + half);
    let mut rows: Vec<Row> = capture
        .channels
        .iter()
        .map(|channel| Row {
            name: channel.name.clone(),
            capture: capture
                .times_s
                .iter()
                .copied()
                .zip(channel.volts.iter().copied())
                .collect(),
            simulated: Vec::new(),
        })
        .collect();
    if let Some(setup) = over {
        match found {
            Found::Spun(spun) => spun_over(setup, spun, arguments.phases, span_s, &mut rows),
            Found::Driven(driven) => driven_over(setup, driven, span_s, &mut rows),
        }
    }
    Overlay {
        title: over.map_or("A capture", |setup| setup.title.as_str()),
        subtitle: if over.is_some() {
            "two electrical turns of the capture, and the same simulated"
        } else {
            "two electrical turns of the capture"
        },
        rows,
        span_s,
        theme: match arguments.theme {
            ThemeName::Light => &Theme::LIGHT,
            ThemeName::Dark => &Theme::DARK,
        },
    }
}

/// Samples of a run from an instant on.
fn samples(setup: &Setup, from_s: f64) -> Vec<Sample> {
    let mut samples = Vec::new();
    let mut sampler = Sampler::new(
        setup.run.sample_s,
        setup.run.duration_s,
        |sample: &Sample| {
            if sample.time_s >= from_s {
                samples.push(*sample);
            }
        },
    );
    let _ = analysis::run(setup, &mut sampler);
    samples
}

/// The EMF of the setup's machine, its shaft held at the captured speed, its angle laid on that of the
/// first channel.
fn spun_over(setup: &Setup, spun: &Spun, phases: bool, span_s: (f64, f64), rows: &mut [Row]) {
    const PER_TURN: f64 = 500.0;
    let p = f64::from(setup.machine.poles) / 2.0;
    let speed = spun
        .speed_rad_s
        .map_or(TAU * spun.frequency_hz / p, |(speed, _)| speed);
    let mut turned = setup.clone();
    turned.changes.clear();
    turned.bench.drive.gates = Gates::AllOff;
    turned.run.hold_speed = true;
    turned.run.start_speed_rad_s = speed;
    turned.run.duration_s = span_s.1 - span_s.0;
    turned.run.measure_s = turned.run.duration_s;
    turned.run.sample_s = TAU / (p * speed * PER_TURN);
    // U's EMF is sin θe, that between U and V is in front of it by 30°
    let ahead = if phases { FRAC_PI_2 } else { FRAC_PI_3 };
    let phase = spun
        .waves
        .first()
        .map_or(0.0, |wave| wave.first().phase_rad);
    let back = p * speed * (spun.middle_s - span_s.0);
    turned.run.start_angle_rad = (ahead - phase - back) / p;
    // channels that follow backwards have two leads exchanged
    let backwards = spun.lags_deg.first().is_some_and(|lag| *lag < 0.0);
    for sample in samples(&turned, 0.0) {
        let e = sample.back_emf_v;
        let lines = match (phases, turned.machine.connection) {
            (true, _) | (_, crate::setup::Connection::Delta) => e,
            _ => [e[0] - e[1], e[1] - e[2], e[2] - e[0]],
        };
        for (idx, row) in rows.iter_mut().enumerate() {
            let from = if backwards {
                [0, 2, 1][idx.min(2)]
            } else {
                idx.min(2)
            };
            row.simulated.push((span_s.0 + sample.time_s, lines[from]));
        }
    }
}

/// The terminals of the setup's own run at its end, its first low stretch laid on the captured one.
fn driven_over(setup: &Setup, captured: &Driven, span_s: (f64, f64), rows: &mut [Row]) {
    /// Samples of what is shown; chopping needs a dozen a period to be seen.
    const SHOWN: f64 = 2000.0;
    let span = span_s.1 - span_s.0;
    let mut run = setup.clone();
    run.run.sample_s = run.run.sample_s.min(span / SHOWN);
    // four spans at the end, so that one can be cut out that lies right
    let late = samples(&run, run.run.duration_s - 4.0 * span);
    let end = late.last().map_or(0.0, |sample| sample.time_s);
    let simulated = Capture {
        times_s: late.iter().map(|sample| sample.time_s).collect(),
        channels: (0..3)
            .map(|leg| crate::readings::capture::Channel {
                name: String::new(),
                volts: late.iter().map(|sample| sample.terminal_v[leg]).collect(),
            })
            .collect(),
        mark: None,
        time_base: String::new(),
        bad: Vec::new(),
        n_bad: 0,
    };
    let own = driven(&simulated).ok().and_then(|found| found.low_middle_s);
    let shift = match (captured.low_middle_s, own) {
        (Some(captured), Some(own)) => captured - own,
        _ => span_s.1 - end,
    };
    for sample in late {
        for (idx, row) in rows.iter_mut().enumerate() {
            row.simulated
                .push((sample.time_s + shift, sample.terminal_v[idx.min(2)]));
        }
    }
}
