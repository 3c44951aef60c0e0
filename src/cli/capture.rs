//! `wyebench capture`: waveforms that an instrument saved.

use std::io;

use super::arguments::{CaptureArguments, ThemeName};
use super::files::{Format, OutputTarget, write_whole};
use super::{Failure, Terminal, input};
use crate::analysis::{Figure, Value};
use crate::export::picture::Picture;
use crate::export::report::{CapturePage, capture_report};
use crate::readings::Estimate;
use crate::readings::capture::{
    Asked, Capture, Dialect, DrivenOptions, Found, OverRun, Picks, SPEED_WANTED, SpunOptions,
    TIME_STANDARD, Table, Traces, example_capture, scale_of, speed_with_range,
};
use crate::scene::overlay::{OverlayView, overlay, overlay_in_words};
use crate::scene::to_svg;
use crate::setup::{Quantity, Setup, parse_quantity};

pub(crate) fn command(
    arguments: &CaptureArguments,
    terminal: &mut Terminal<'_>,
) -> Result<(), Failure> {
    let Some(path) = &arguments.capture else {
        return Ok(write!(terminal.out, "{}", example_capture())?);
    };
    let plot = OutputTarget::asked(arguments.plot.as_deref(), &[Format::Svg, Format::Png])?;
    let report = OutputTarget::asked(arguments.report.as_deref(), &[Format::Html])?;
    if arguments.over.is_some() && plot.is_none() && report.is_none() {
        return Err(Failure::Option {
            option: "--over",
            text: "alone".to_owned(),
            wanted: "a picture or a page to draw it in: --plot FILE or --report FILE".to_owned(),
        });
    }
    let over = arguments
        .over
        .as_deref()
        .map(input::read_setup)
        .transpose()?;
    let asked = asked(arguments)?;
    let name = super::failure::shown_path(path);
    let bytes = input::read_capture(path)?;
    let failed = |reason: Box<dyn std::error::Error + Send + Sync>| Failure::Capture {
        name: name.clone(),
        reason,
    };
    let table = Table::read(&bytes, dialect(arguments)).map_err(|error| failed(Box::new(error)))?;
    drop(bytes);
    let capture =
        Capture::new(&table, &picks(arguments)?).map_err(|error| failed(Box::new(error)))?;
    let found = Found::of(&capture, &asked).map_err(|error| failed(Box::new(error)))?;
    let estimates = found.figures();
    if plot.is_some() || report.is_some() {
        let traces = traces(&capture, &found, over.as_ref(), arguments.phases);
        if let Some(target) = &plot {
            draw(&traces, over.as_ref(), arguments.theme, target)?;
        }
        if let Some(target) = &report {
            let page = capture_report(&CapturePage {
                file: name.trim_matches('`'),
                table: &table,
                capture: &capture,
                found: &found,
                estimates: &estimates,
                traces: &traces,
                over: over.as_ref().map(|setup| setup.title.as_str()),
            })?;
            write_whole(target.path(), page.as_bytes())?;
        }
    }
    if arguments.json {
        return json(&capture, &found, &estimates, terminal);
    }
    if !arguments.why.is_empty() {
        let list: Vec<Figure> = estimates.into_iter().map(|e| e.figure).collect();
        return terminal.explain(&list, &arguments.why);
    }
    print(&table, &capture, &found, &estimates, terminal)?;
    Ok(terminal.wrote([arguments.plot.as_deref(), arguments.report.as_deref()])?)
}

fn asked(arguments: &CaptureArguments) -> Result<Asked, Failure> {
    // the options of a spun motor are looked at in any case: a mistake in them is told
    let options = options(arguments)?;
    Ok(if arguments.driven {
        Asked::Driven(DrivenOptions {
            gain_standard: options.gain_standard,
        })
    } else {
        Asked::Spun(options)
    })
}

/// What is drawn, with the simulation where one is wanted.
fn traces(capture: &Capture, found: &Found, over: Option<&Setup>, phases: bool) -> Traces {
    const PIECES: u32 = 100_000;
    let mut traces = Traces::of(capture, found);
    if let Some(setup) = over {
        let mut run = OverRun::new(setup, found, &traces, phases);
        // what was simulated before a run stopped is laid over all the same
        while matches!(run.advance(PIECES), Ok(false)) {}
        run.finish(&mut traces);
    }
    traces
}

fn draw(
    traces: &Traces,
    over: Option<&Setup>,
    theme: ThemeName,
    target: &OutputTarget,
) -> Result<(), Failure> {
    const WIDTH: f64 = 1000.0;
    const STRIP: f64 = 190.0;
    #[expect(clippy::cast_precision_loss, reason = "one to three")]
    let size_points = [WIDTH, 130.0 + STRIP * traces.rows.len() as f64];
    let title = over.map_or("A capture", |setup| setup.title.as_str());
    let subtitle = if over.is_some() {
        "two electrical turns of the capture, and the same simulated"
    } else {
        "two electrical turns of the capture"
    };
    let view = OverlayView {
        title,
        subtitle,
        traces,
        size_points,
    };
    let theme = theme.theme();
    let svg = to_svg(&overlay(&view, &theme), size_points, theme.ground, true);
    let picture = Picture::new(svg, title.to_owned(), overlay_in_words(traces));
    let bytes = match target.format() {
        Format::Png => picture.png(2.0)?,
        _ => picture.svg()?.into_bytes(),
    };
    Ok(write_whole(target.path(), &bytes)?)
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

/// A speed and its standard uncertainty.
fn speed(text: &str) -> Result<(f64, f64), Failure> {
    speed_with_range(text).ok_or_else(|| Failure::Option {
        option: "--speed",
        text: text.to_owned(),
        wanted: SPEED_WANTED.to_owned(),
    })
}

fn print(
    table: &Table,
    capture: &Capture,
    found: &Found,
    estimates: &[Estimate],
    terminal: &mut Terminal<'_>,
) -> io::Result<()> {
    let (red, plain) = terminal.red();
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
        let name = estimate.figure.name;
        writeln!(terminal.out, "  {name:<40}  {}", estimate.words())?;
    }
    writeln!(terminal.out)?;
    for finding in found.findings() {
        let mark = if finding.is_caution { "⚠ " } else { "" };
        terminal.wrapped(&format!("{red}{mark}{plain}"), "  ", &finding.words)?;
    }
    terminal.cautions(&[found.caution().to_owned()])
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
    terminal.json(&object)
}
