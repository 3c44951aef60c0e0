//! `wyebench compare`: many machines side by side, on all cores.

use std::collections::BTreeMap;
use std::io::{IsTerminal, Write};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use super::arguments::{CompareArguments, ThemeName};
use super::files::{Format, OutputTarget, WholeFile, write_whole};
use super::lists::of_option;
use super::{Failure, Terminal, input, interrupt};
use crate::compare::{
    Axes, COLUMNS, Column, Comparison, Row, four_digits, lengths, picture_columns, shares,
    whole_numbers,
};
use crate::export::picture::Picture;
use crate::scene::scatter::{ScatterView, scatter};
use crate::scene::to_svg;
use crate::setup::{Connection, Quantity, Setup, parse_quantity};

/// What a file of a comparison holds.
#[derive(Clone, Debug, Serialize, Deserialize)]
struct Report {
    /// Always `wyebench compare 1`.
    format: String,
    /// Which comparison this belongs to; parts of one agree in it.
    comparison: Identity,
    /// Candidates of the whole comparison.
    n_candidates: u64,
    /// Which part this is of how many; null for the whole.
    shard: Option<[u64; 2]>,
    /// True where rows are missing that should be here.
    partial: bool,
    /// What holds for every row.
    rules: Vec<String>,
    /// In the order of candidates.
    rows: Vec<Row>,
}

#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
struct Identity {
    /// Of the base setup, in hexadecimal.
    setup: String,
    title: String,
    axes: Axes,
    torque_nm: Option<f64>,
    with_run: bool,
}

const FORMAT: &str = "wyebench compare 1";

/// What can be wrong with parts that are to be joined.
#[derive(Debug)]
pub enum JoinError {
    /// Not a file of this command.
    NotAPart {
        /// The file.
        path: PathBuf,
        /// What is wrong.
        reason: String,
    },
    /// Of another comparison than the first one.
    Other {
        /// The file.
        path: PathBuf,
        /// The first file.
        first: PathBuf,
    },
    /// A candidate is in two files with different figures.
    Differs {
        /// The file.
        path: PathBuf,
        /// The candidate.
        candidate: u64,
    },
}

impl std::fmt::Display for JoinError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::NotAPart { path, reason } => write!(
                f,
                "`{}` is no file that `wyebench compare --json` wrote: {reason}",
                path.display()
            ),
            Self::Other { path, first } => write!(
                f,
                "`{}` belongs to another comparison than `{}`: setup, lists, --torque and --run \
                 must be the same in all parts",
                path.display(),
                first.display()
            ),
            Self::Differs { path, candidate } => write!(
                f,
                "`{}` has other figures for candidate {candidate} than a file before it",
                path.display()
            ),
        }
    }
}

impl std::error::Error for JoinError {}

pub(crate) fn command(
    arguments: &CompareArguments,
    terminal: &mut Terminal<'_>,
) -> Result<(), Failure> {
    let target = |path: &Option<PathBuf>, formats: &[Format]| {
        let checked = path.as_ref().map(|path| OutputTarget::check(path, formats));
        checked.transpose()
    };
    let csv = target(&arguments.csv, &[Format::Csv])?;
    let plot = target(&arguments.plot, &[Format::Svg, Format::Png])?;
    let sort = arguments
        .sort
        .as_deref()
        .map(|key| column_of("--sort", key))
        .transpose()?;
    let axes_keys = [("--x", &arguments.x), ("--y", &arguments.y)];
    let [x, y] = axes_keys.map(|(option, key)| {
        let key = key.as_deref();
        key.map(|key| column_of(option, key)).transpose()
    });
    let (x, y) = (x?, y?);
    let report = if arguments.join.is_empty() {
        evaluate(arguments)?
    } else {
        join(&arguments.join)?
    };
    if let Some(target) = &csv {
        write_csv(&report, target)?;
    }
    if let Some(target) = &plot {
        draw(&report, [x, y], arguments.theme, target)?;
    }
    if arguments.json {
        writeln!(terminal.out, "{}", serde_json::to_string_pretty(&report)?)?;
    } else {
        print(&report, sort, arguments.top, terminal)?;
    }
    terminal.out.flush()?;
    let (n_done, n_wanted) = (report.rows.len() as u64, report.n_candidates);
    match (report.partial, arguments.join.is_empty()) {
        (false, _) => Ok(()),
        // Stopped by hand: what is done is out, and the status says that it is not all.
        (true, true) => Err(Failure::Stopped { n_done, n_wanted }),
        (true, false) => {
            let _ = writeln!(
                std::io::stderr(),
                "wyebench: partial: {n_done} of {n_wanted} candidates are in these files"
            );
            Ok(())
        }
    }
}

/// The column of a key, or what keys there are.
fn column_of(option: &'static str, key: &str) -> Result<&'static Column, Failure> {
    COLUMNS
        .iter()
        .find(|column| column.key == key)
        .ok_or_else(|| {
            let keys: Vec<&str> = COLUMNS.iter().map(|column| column.key).collect();
            Failure::Option {
                option,
                text: key.to_owned(),
                wanted: format!("one of {}", keys.join(", ")),
            }
        })
}

/// Lists from the command line, the setup's own value where there is none.
fn axes(arguments: &CompareArguments, setup: &Setup) -> Result<Axes, Failure> {
    let machine = &setup.machine;
    let written = machine.winding.as_ref();
    let geometry = machine.geometry.as_ref();
    let whole = |option, text: &Option<String>, step, allowed, own: u32| match text {
        Some(text) => of_option(option, whole_numbers(text, step, allowed)),
        None => Ok(vec![own]),
    };
    let turns = match &arguments.turns {
        Some(text) => {
            let turns = of_option("--turns", whole_numbers(text, 1, 1..=100_000))?;
            turns.into_iter().map(Some).collect()
        }
        None => vec![written.and_then(|written| written.turns)],
    };
    let wires_m = match &arguments.wire {
        Some(text) => of_option("--wire", lengths(text))?
            .into_iter()
            .map(Some)
            .collect(),
        None => vec![geometry.and_then(|geometry| geometry.wire_diameter_m)],
    };
    let magnet_arcs = match &arguments.magnet_arc {
        Some(text) => {
            let arcs = of_option("--magnet-arc", shares(text))?;
            arcs.into_iter().map(Some).collect()
        }
        None => vec![geometry.map(|geometry| geometry.magnet_arc)],
    };
    let connections = match &arguments.connection {
        Some(names) => {
            let mut chosen = Vec::new();
            for name in names.split(',').map(str::trim) {
                let known = [Connection::Star, Connection::Delta];
                let Some(connection) = known.into_iter().find(|known| known.word() == name) else {
                    return Err(Failure::Option {
                        option: "--connection",
                        text: names.clone(),
                        wanted: "star, delta, or star,delta".to_owned(),
                    });
                };
                if !chosen.contains(&connection) {
                    chosen.push(connection);
                }
            }
            chosen
        }
        None => vec![machine.connection],
    };
    let (layers, span) = written.map_or((2, 1), |w| (w.layers, w.coil_span));
    Ok(Axes {
        slots: whole("--slots", &arguments.slots, 1, 3..=1200, machine.slots)?,
        poles: whole("--poles", &arguments.poles, 2, 2..=1200, machine.poles)?,
        magnet_arcs,
        layers: whole("--layers", &arguments.layers, 1, 1..=2, layers)?,
        spans: whole("--span", &arguments.span, 1, 1..=1199, span)?,
        connections,
        turns,
        wires_m,
    })
}

fn torque(arguments: &CompareArguments) -> Result<Option<f64>, Failure> {
    let Some(text) = &arguments.torque else {
        return Ok(None);
    };
    match parse_quantity(text, Quantity::Torque) {
        Ok(torque_nm) if torque_nm > 0.0 && torque_nm.is_finite() => Ok(Some(torque_nm)),
        _ => Err(Failure::Option {
            option: "--torque",
            text: text.clone(),
            wanted: "a torque above 0 with its unit, as in \"0.1 Nm\"".to_owned(),
        }),
    }
}

/// `2/8`: the second of eight parts.
fn shard(text: &str) -> Result<[u64; 2], Failure> {
    let parts = text
        .split_once('/')
        .map(|(part, of)| (part.trim().parse::<u64>(), of.trim().parse::<u64>()));
    match parts {
        Some((Ok(part), Ok(of))) if part >= 1 && part <= of && of <= 100_000 => Ok([part, of]),
        _ => Err(Failure::Option {
            option: "--shard",
            text: text.to_owned(),
            wanted: "a part and how many there are, as in 2/8".to_owned(),
        }),
    }
}

fn evaluate(arguments: &CompareArguments) -> Result<Report, Failure> {
    let shard = arguments.shard.as_deref().map(shard).transpose()?;
    let torque_nm = torque(arguments)?;
    // The command line lets it be absent only with --join.
    let path = arguments.setup.as_deref().unwrap_or(Path::new("-"));
    let setup = input::read_setup(path)?;
    let axes = axes(arguments, &setup)?;
    let identity = Identity {
        setup: fingerprint(&format!("{setup:?}")),
        title: setup.title.clone(),
        axes: axes.clone(),
        torque_nm,
        with_run: arguments.run,
    };
    let comparison =
        Comparison::new(setup, axes, torque_nm, arguments.run).map_err(Failure::Compare)?;
    let [part, of] = shard.unwrap_or([1, 1]);
    // Neighbouring groups cost alike, so parts take turns.
    let groups: Vec<u64> = (0..comparison.axes().n_groups())
        .filter(|group| group % of == part - 1)
        .collect();
    let n_wanted = groups.len() as u64 * comparison.axes().group_size();
    let rows = rows(&comparison, &groups, n_wanted, arguments.threads);
    Ok(Report {
        format: FORMAT.to_owned(),
        comparison: identity,
        n_candidates: comparison.axes().n_candidates(),
        shard,
        partial: (rows.len() as u64) < n_wanted,
        rules: comparison.rules(),
        rows,
    })
}

/// All rows of some groups, in order, whatever the number of threads.
fn rows(comparison: &Comparison, groups: &[u64], n_wanted: u64, threads: Option<u32>) -> Vec<Row> {
    let gentle = interrupt::gently();
    let bar = bar("comparing", n_wanted);
    let n_done = AtomicU64::new(0);
    let one = |group: &u64| {
        if gentle.stopped() {
            return Vec::new();
        }
        let rows = comparison.group(*group, &|| gentle.stopped());
        let n = n_done.fetch_add(rows.len() as u64, Ordering::Relaxed) + rows.len() as u64;
        if let Some(bar) = &bar {
            bar.set_position(n);
        }
        rows
    };
    let found = on_threads(threads, groups, one);
    if let Some(bar) = bar {
        bar.finish_and_clear();
    }
    found.into_iter().flatten().collect()
}

/// What each item gives, in their order, whatever the number of threads.
pub(crate) fn on_threads<I: Sync, T: Send>(
    threads: Option<u32>,
    items: &[I],
    one: impl Fn(&I) -> T + Sync + Send,
) -> Vec<T> {
    let pool = rayon::ThreadPoolBuilder::new()
        .num_threads(threads.map_or(0, |n| n as usize))
        .build();
    match pool {
        Ok(pool) => pool.install(|| items.par_iter().map(&one).collect()),
        // No threads to be had: one after the other.
        Err(_) => items.iter().map(one).collect(),
    }
}

/// A bar on standard error that says what is going on, where somebody looks.
pub(crate) fn bar(word: &str, n_wanted: u64) -> Option<ProgressBar> {
    if !std::io::stderr().is_terminal() {
        return None;
    }
    let bar = ProgressBar::with_draw_target(Some(n_wanted), ProgressDrawTarget::stderr_with_hz(10));
    if let Ok(style) = ProgressStyle::with_template(&format!(
        "{word} [{{bar:40}}] {{pos}} of {{len}}, {{eta}} left"
    )) {
        bar.set_style(style.progress_chars("=> "));
    }
    Some(bar)
}

/// 64 bits of FNV-1a (G. Fowler, L. C. Noll, K.-P. Vo; IETF draft-eastlake-fnv; from memory).
fn fingerprint(text: &str) -> String {
    let hash = text.bytes().fold(0xcbf2_9ce4_8422_2325_u64, |hash, byte| {
        (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3)
    });
    format!("{hash:016x}")
}

fn join(paths: &[PathBuf]) -> Result<Report, Failure> {
    let mut whole: Option<Report> = None;
    let mut rows: BTreeMap<u64, Row> = BTreeMap::new();
    for path in paths {
        let bad = |reason: String| {
            Failure::Join(JoinError::NotAPart {
                path: path.clone(),
                reason,
            })
        };
        let text = std::fs::read_to_string(path).map_err(|error| bad(error.to_string()))?;
        let part: Report = serde_json::from_str(&text).map_err(|error| bad(error.to_string()))?;
        if part.format != FORMAT {
            return Err(bad(format!("its format is `{}`", part.format)));
        }
        let first = whole.get_or_insert_with(|| part.clone());
        if first.comparison != part.comparison || first.n_candidates != part.n_candidates {
            return Err(Failure::Join(JoinError::Other {
                path: path.clone(),
                first: paths[0].clone(),
            }));
        }
        for row in part.rows {
            let row = row.canonical();
            if row.candidate >= part.n_candidates {
                return Err(bad(format!("it has no candidate {}", row.candidate)));
            }
            let candidate = row.candidate;
            if let Some(before) = rows.insert(candidate, row.clone())
                && before != row
            {
                return Err(Failure::Join(JoinError::Differs {
                    path: path.clone(),
                    candidate,
                }));
            }
        }
    }
    let Some(mut report) = whole else {
        return Err(Failure::NoWindow);
    };
    report.shard = None;
    report.rows = rows.into_values().collect();
    report.partial = (report.rows.len() as u64) < report.n_candidates;
    Ok(report)
}

fn write_csv(report: &Report, target: &OutputTarget) -> Result<(), Failure> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    let fail = |error: csv::Error| Failure::Output(std::io::Error::other(error));
    let mut header = vec!["candidate", "connection"];
    header.extend(COLUMNS.iter().map(|column| column.key));
    header.extend(["unbalanced_pull", "infeasible", "notes"]);
    writer.write_record(&header).map_err(fail)?;
    for row in &report.rows {
        let mut record = vec![row.candidate.to_string(), row.connection.word().to_owned()];
        record.extend(COLUMNS.iter().map(|column| {
            (column.value)(row).map_or_else(String::new, |value| format!("{value}"))
        }));
        record.push(
            row.unbalanced_pull
                .map_or_else(String::new, |pull| pull.to_string()),
        );
        record.push(row.infeasible.clone().unwrap_or_default());
        record.push(row.notes.join("; "));
        writer.write_record(&record).map_err(fail)?;
    }
    let bytes = writer
        .into_inner()
        .map_err(|error| Failure::Output(std::io::Error::other(error.to_string())))?;
    Ok(write_whole(target.path(), &bytes)?)
}

/// How a mark is called: slots and poles, and what else differs.
/// Size of a picture in points.
const PICTURE_POINTS: [f64; 2] = [900.0, 620.0];

fn draw(
    report: &Report,
    [x, y]: [Option<&'static Column>; 2],
    theme: ThemeName,
    target: &OutputTarget,
) -> Result<(), Failure> {
    let axes = &report.comparison.axes;
    let [own_x, own_y] = picture_columns(&report.rows);
    let (x, y) = (x.unwrap_or(own_x), y.unwrap_or(own_y));
    let marks: Vec<([f64; 2], String)> = report
        .rows
        .iter()
        .filter(|row| row.infeasible.is_none())
        .filter_map(|row| {
            let place = [(x.value)(row)? * x.per_si, (y.value)(row)? * y.per_si];
            Some((place, axes.name_of(row)))
        })
        .collect();
    let title = if report.comparison.title.is_empty() {
        "Comparison"
    } else {
        &report.comparison.title
    };
    let theme = theme.theme();
    let view = ScatterView {
        title,
        axes: [x.heading, y.heading],
        marks: &marks,
    };
    let scene = scatter(&view, PICTURE_POINTS, &theme);
    let size = scene.high - scene.low;
    let drawing = to_svg(&scene, [size.x, size.y], theme.panel, true);
    let words = format!(
        "{} candidates: {} over {}",
        marks.len(),
        y.heading,
        x.heading
    );
    let picture = Picture::new(drawing, title.to_owned(), words);
    let bytes = match target.format() {
        Format::Png => picture.png(2.0)?,
        _ => picture.svg()?.into_bytes(),
    };
    let mut file = WholeFile::begin(target)?;
    file.write_all(&bytes).map_err(Failure::Output)?;
    Ok(file.finish()?)
}

fn print(
    report: &Report,
    sort: Option<&'static Column>,
    top: usize,
    terminal: &mut Terminal<'_>,
) -> Result<(), Failure> {
    let out = &mut *terminal.out;
    let axes = &report.comparison.axes;
    let mut good: Vec<&Row> = report
        .rows
        .iter()
        .filter(|r| r.infeasible.is_none())
        .collect();
    let n_good = good.len();
    let default = COLUMNS.iter().find(|column| {
        let wanted = ["motor_constant_nm_per_sqrt_w", "winding_factor"];
        wanted.contains(&column.key)
            && good.iter().any(|row| (column.value)(row).is_some())
            && (column.key == wanted[0]
                || good
                    .iter()
                    .all(|r| r.motor_constant_nm_per_sqrt_w.is_none()))
    });
    if let Some(column) = sort.or(default) {
        // What is not known comes last; equals keep the order of candidates.
        good.sort_by(|a, b| match ((column.value)(a), (column.value)(b)) {
            (Some(a), Some(b)) if column.falling => b.total_cmp(&a),
            (Some(a), Some(b)) => a.total_cmp(&b),
            (a, b) => b.is_some().cmp(&a.is_some()),
        });
    }
    let varied = |key: &str| match key {
        "layers" => axes.layers.len() > 1,
        "coil_span" => axes.spans.len() > 1,
        "turns" => axes.turns.len() > 1,
        "wire_diameter_m" => axes.wires_m.len() > 1,
        "magnet_arc" => axes.magnet_arcs.len() > 1,
        "slots" | "poles" => true,
        _ => good.iter().any(|row| {
            COLUMNS
                .iter()
                .any(|column| column.key == key && (column.value)(row).is_some())
        }),
    };
    let columns: Vec<&Column> = COLUMNS.iter().filter(|column| varied(column.key)).collect();
    let mut lines: Vec<Vec<String>> = Vec::new();
    let mut heads: Vec<String> = columns.iter().map(|c| c.heading.to_owned()).collect();
    heads.extend(["joined".to_owned(), "pull".to_owned()]);
    lines.push(heads);
    for row in good.iter().take(top) {
        let mut line: Vec<String> = columns
            .iter()
            .map(|column| four_digits((column.value)(row).map(|value| value * column.per_si)))
            .collect();
        line.push(row.connection.word().to_owned());
        line.push(
            if row.unbalanced_pull == Some(true) {
                "⚠"
            } else {
                "even"
            }
            .to_owned(),
        );
        lines.push(line);
    }
    let widths: Vec<usize> = (0..lines[0].len())
        .map(|k| {
            lines
                .iter()
                .map(|line| line[k].chars().count())
                .max()
                .unwrap_or(0)
        })
        .collect();
    for line in &lines {
        let cells: Vec<String> = line
            .iter()
            .zip(&widths)
            .map(|(cell, width)| format!("{cell:>width$}"))
            .collect();
        writeln!(out, "{}", cells.join("  ").trim_end())?;
    }
    writeln!(out)?;
    let n_bad = report.rows.len() - n_good;
    write!(
        out,
        "{n_good} of {} candidates can be built",
        report.rows.len()
    )?;
    if n_good > top {
        write!(out, "; {top} are shown, --top N shows more")?;
    }
    writeln!(out)?;
    if let Some([part, of]) = report.shard {
        writeln!(
            out,
            "part {part} of {of} of {} candidates; --join puts JSON parts together",
            report.n_candidates
        )?;
    }
    for rule in &report.rules {
        writeln!(out, "· {rule}")?;
    }
    let mut notes: Vec<(&str, u64, String)> = Vec::new();
    for row in &good {
        for note in &row.notes {
            match notes.iter_mut().find(|(known, ..)| *known == note.as_str()) {
                Some((_, n, _)) => *n += 1,
                None => notes.push((note.as_str(), 1, report.comparison.axes.name_of(row))),
            }
        }
    }
    for (note, n, first) in notes {
        let more = if n > 1 {
            format!(" and {} more", n - 1)
        } else {
            String::new()
        };
        writeln!(out, "⚠ {first}{more}: {note}")?;
    }
    if good.iter().any(|row| row.unbalanced_pull == Some(true)) {
        writeln!(
            out,
            "⚠ in column pull: under load the rotor is pulled sideways"
        )?;
    }
    if n_bad > 0 {
        writeln!(out, "\nCannot be built")?;
        let mut reasons: Vec<(String, u64, String)> = Vec::new();
        for row in &report.rows {
            let Some(reason) = &row.infeasible else {
                continue;
            };
            match reasons.iter_mut().find(|(known, ..)| known == reason) {
                Some((_, n, _)) => *n += 1,
                None => reasons.push((reason.clone(), 1, report.comparison.axes.name_of(row))),
            }
        }
        for (reason, n, first) in reasons.iter().take(top) {
            let more = if *n > 1 {
                format!(" and {} more", n - 1)
            } else {
                String::new()
            };
            writeln!(out, "  {first}{more}: {reason}")?;
        }
        if reasons.len() > top {
            writeln!(
                out,
                "  and {} more reasons, in --csv and --json",
                reasons.len() - top
            )?;
        }
    }
    if report.partial {
        writeln!(
            out,
            "\nPartial: {} of {} candidates",
            report.rows.len(),
            report.n_candidates
        )?;
    }
    Ok(())
}
