//! `wyebench readings`: what motor somebody's readings tell of, and whether they can all be true.

use std::io;

use super::arguments::ReadingsArguments;
use super::files::write_new;
use super::{Failure, Terminal, input};
use crate::analysis::caution::{Hazards, cautions};
use crate::analysis::{Figure, TABLE_DIGITS, Value, shown, why};
use crate::readings::{
    BenchSheet, Cause, Estimate, Of, Verdict, example_sheet, figures, judge, label_checks,
    setup_text,
};

/// Causes below this probability are not named.
const LEAST_NAMED: f64 = 0.02;
/// Most causes that are named.
const MOST_NAMED: usize = 5;
/// A reading that lies so many standard uncertainties from the others is marked.
const MARKED: f64 = 3.0;

pub(crate) fn command(
    arguments: &ReadingsArguments,
    terminal: &mut Terminal<'_>,
) -> Result<(), Failure> {
    let Some(path) = &arguments.readings else {
        write!(terminal.out, "{}", example_sheet())?;
        return Ok(());
    };
    let sheet = input::read_readings(path)?;
    let verdict = judge(&sheet).map_err(Failure::NoMotor)?;
    let estimates = figures(&sheet, &verdict);
    if let Some(path) = &arguments.output {
        let text = setup_text(&sheet, &estimates).map_err(Failure::Unfinished)?;
        write_new(path, text.as_bytes())?;
    }
    if arguments.json {
        return json(&sheet, &verdict, &estimates, terminal);
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
    report(&sheet, &verdict, &estimates, terminal)?;
    Ok(())
}

fn report(
    sheet: &BenchSheet,
    verdict: &Verdict,
    estimates: &[Estimate],
    terminal: &mut Terminal<'_>,
) -> io::Result<()> {
    let title: String = sheet.title.chars().filter(|c| !c.is_control()).collect();
    if !title.is_empty() {
        writeln!(terminal.out, "{title}\n")?;
    }
    opinion(sheet, verdict, terminal)?;
    if !verdict.agree {
        contradictions(sheet, verdict, terminal)?;
        likely(sheet, verdict, terminal)?;
        next(sheet, verdict, terminal)?;
    }
    motor(sheet, verdict, estimates, terminal)?;
    label(sheet, estimates, terminal)?;
    each_reading(sheet, verdict, terminal)?;
    if verdict.agree {
        next(sheet, verdict, terminal)?;
    }
    bench_cautions(sheet, estimates, terminal)
}

/// Whether the readings agree, in a sentence or two.
fn opinion(sheet: &BenchSheet, verdict: &Verdict, terminal: &mut Terminal<'_>) -> io::Result<()> {
    let n = sheet.readings.iter().filter(|r| r.is_checked()).count();
    let (red, plain) = colours(terminal);
    let chi = format!(
        "chi-square {} with {} to spare, as large in {} of 100 sound sheets",
        Digits(verdict.chi_square, 3),
        plural(verdict.freedom, "reading"),
        percent(verdict.exceeded)
    );
    if verdict.freedom == 0 {
        return writeln!(
            terminal.out,
            "{} of one motor, and none to spare: nothing checks them against each other.",
            plural(n, "reading")
        );
    }
    if !verdict.agree {
        return writeln!(
            terminal.out,
            "{red}⚠ These readings cannot all be true{plain} ({chi})."
        );
    }
    if verdict.exceeded < 0.01 {
        writeln!(
            terminal.out,
            "{red}⚠ The readings scatter more than they should{plain} ({chi}), and no single slip explains it: either \
             two things are wrong, or the instruments are worse than was assumed."
        )
    } else {
        writeln!(terminal.out, "The readings agree ({chi}).")
    }
}

fn contradictions(
    sheet: &BenchSheet,
    verdict: &Verdict,
    terminal: &mut Terminal<'_>,
) -> io::Result<()> {
    let told = verdict.slips(sheet);
    if told.is_empty() && verdict.suspects.is_empty() {
        return Ok(());
    }
    writeln!(terminal.out, "\nWhat contradicts what")?;
    for line in told {
        wrapped(terminal, "  ", "  ", &line)?;
    }
    match verdict.suspects.as_slice() {
        [] => {}
        [one] => wrapped(
            terminal,
            "  ",
            "  ",
            &format!("Without this the rest agrees: {}.", one.title(sheet)),
        )?,
        many => {
            writeln!(
                terminal.out,
                "  Leave out any one of these, and the rest agrees; together they cannot be true:"
            )?;
            for suspect in many.iter().take(MOST_NAMED) {
                writeln!(terminal.out, "    {}", suspect.title(sheet))?;
            }
        }
    }
    Ok(())
}

fn likely(sheet: &BenchSheet, verdict: &Verdict, terminal: &mut Terminal<'_>) -> io::Result<()> {
    writeln!(terminal.out, "\nLikely causes, one slip at a time")?;
    for ranked in verdict
        .causes
        .iter()
        .filter(|r| r.probability >= LEAST_NAMED)
        .take(MOST_NAMED)
    {
        writeln!(
            terminal.out,
            "  {:>3} %  {}",
            percent(ranked.probability),
            ranked.cause.title(sheet)
        )?;
        if !ranked.cause.remedy().is_empty() {
            wrapped(terminal, "         ", "         ", ranked.cause.remedy())?;
        }
    }
    Ok(())
}

fn next(sheet: &BenchSheet, verdict: &Verdict, terminal: &mut Terminal<'_>) -> io::Result<()> {
    if verdict.next.is_empty() {
        return Ok(());
    }
    writeln!(
        terminal.out,
        "\n{}",
        if verdict.agree {
            "What would tell more"
        } else {
            "What settles it"
        }
    )?;
    for (k, step) in verdict.next.iter().enumerate() {
        wrapped(
            terminal,
            &format!("  {}. ", k + 1),
            "     ",
            step.what.as_str(),
        )?;
        if let Some(expect) = &step.expect {
            for (cause, value) in expect {
                wrapped(
                    terminal,
                    "     ",
                    "       ",
                    &format!("About {value}: {}.", cause.title(sheet)),
                )?;
            }
        }
    }
    Ok(())
}

fn motor(
    sheet: &BenchSheet,
    verdict: &Verdict,
    estimates: &[Estimate],
    terminal: &mut Terminal<'_>,
) -> io::Result<()> {
    let taken = verdict.taken();
    match taken {
        Some(taken) if taken.cause != Cause::AllRight => writeln!(
            terminal.out,
            "\nThe motor, if {} (95 of 100 lie within ±)",
            taken.cause.title(sheet)
        )?,
        _ => writeln!(terminal.out, "\nThe motor (95 of 100 lie within ±)")?,
    }
    let mut open: Vec<(&str, Vec<&str>)> = Vec::new();
    for estimate in estimates {
        let name = estimate.figure.name;
        if let Value::Absent(reason) = estimate.figure.value {
            match open.iter_mut().find(|(known, _)| *known == reason) {
                Some((_, names)) => names.push(name),
                None => open.push((reason, vec![name])),
            }
        } else {
            writeln!(terminal.out, "  {name:<40}  {}", with_range(estimate))?;
        }
    }
    for (reason, names) in open {
        let line = format!("Open: {} ({reason}).", names.join(", "));
        wrapped(terminal, "  ", "    ", &line)?;
    }
    Ok(())
}

fn label(
    sheet: &BenchSheet,
    estimates: &[Estimate],
    terminal: &mut Terminal<'_>,
) -> io::Result<()> {
    let checks = label_checks(sheet, estimates);
    if checks.is_empty() {
        return Ok(());
    }
    let (red, plain) = colours(terminal);
    writeln!(terminal.out, "\nThe label")?;
    for check in checks {
        let word = if check.holds {
            "holds".to_owned()
        } else {
            format!("{red}⚠ does not hold{plain}")
        };
        let usual = if check.spread > 0.0 {
            format!(" (labels: ± {:.0} %)", 100.0 * check.spread)
        } else {
            String::new()
        };
        let differs = if check.spread > 0.0 {
            format!("{:+.1} %", 100.0 * check.differs).replace('-', "−")
        } else {
            String::new()
        };
        writeln!(
            terminal.out,
            "  {:<16}  claims {:<10}  found {:<10}  {differs:>8}  {word}{usual}",
            check.name, check.claimed, check.found
        )?;
    }
    Ok(())
}

fn each_reading(
    sheet: &BenchSheet,
    verdict: &Verdict,
    terminal: &mut Terminal<'_>,
) -> io::Result<()> {
    let (red, plain) = colours(terminal);
    let heading = match verdict.taken() {
        Some(taken) if !verdict.agree => format!(
            "Each reading as noted, and as it should have been if {}",
            taken.cause.title(sheet)
        ),
        _ => "Each reading as noted, beside what the others say of it".to_owned(),
    };
    writeln!(terminal.out, "\n{heading}")?;
    for check in &verdict.should_be {
        let Some(reading) = sheet.readings.get(check.idx) else {
            continue;
        };
        if !reading.is_checked() {
            continue;
        }
        let word = match check.normalised {
            None => "checked by no other".to_owned(),
            Some(off) if off.abs() >= 100.0 => format!("{red}⚠ off by over 100 u{plain}"),
            Some(off) if off.abs() >= MARKED => format!("{red}⚠ off by {off:.1} u{plain}"),
            Some(off) if off.abs() < 0.05 => "off by 0.0 u".to_owned(),
            Some(off) => format!("off by {off:.1} u"),
        };
        writeln!(
            terminal.out,
            "  {:<38}  {:>11}  {:>11}  {}",
            reading.place(),
            reading.shown(reading.value),
            reading.shown(check.fitted),
            word.replace('-', "−")
        )?;
    }
    wrapped(
        terminal,
        "  ",
        "  ",
        "u is the standard uncertainty of the difference, half of ±. Where no ± was noted, the instrument's class \
         gives it (common practice, no source).",
    )
}

/// The risks of the tests themselves, where they were made.
fn bench_cautions(
    sheet: &BenchSheet,
    estimates: &[Estimate],
    terminal: &mut Terminal<'_>,
) -> io::Result<()> {
    let most = |wanted: fn(&Of) -> bool| {
        sheet
            .readings
            .iter()
            .filter(|reading| wanted(&reading.of))
            .map(|reading| reading.value)
            .fold(0.0_f64, f64::max)
    };
    let speed = most(|of| matches!(of, Of::Speed { .. }));
    let stall_a = most(|of| matches!(of, Of::StallCurrent { .. }));
    let found = |key: &str| {
        let estimate = estimates.iter().find(|e| e.figure.key == key)?;
        estimate.figure.number()
    };
    let k = found("torque_constant_nm_per_a").unwrap_or(0.0);
    let ohm = found("line_resistance_20c_ohm").unwrap_or(0.0);
    let heat_w = ohm * stall_a * stall_a;
    let mut lines = Vec::new();
    if sheet.rows.spun > 0 {
        lines.push(
            "Spinning by a drill: clamp the motor, take propeller and pulley off, cover the leads; they carry voltage \
             as long as it turns."
                .to_owned(),
        );
    }
    if sheet.rows.stall > 0 {
        lines.push(format!(
            "At the stall all power is heat{}: seconds at a time, a hand on nothing, from a supply with a current \
             limit and never straight from a lithium pack.",
            if heat_w >= 1.0 {
                format!(", here {heat_w:.0} W in the windings")
            } else {
                String::new()
            }
        ));
    }
    if sheet.rows.no_load + sheet.rows.driven > 0 && sheet.rows.stall == 0 {
        lines.push(
            "On its controller: begin with a supply that limits the current; a lithium pack gives hundreds of amperes \
             into a fault and can catch fire."
                .to_owned(),
        );
    }
    lines.extend(cautions(&Hazards {
        supply_voltage_v: most(|of| matches!(of, Of::NoLoadVoltage { .. })),
        line_back_emf_v: k * speed,
        current_peak_a: stall_a,
        heat_w: 0.0,
        speed_rpm: speed * 30.0 / std::f64::consts::PI,
    }));
    if lines.is_empty() {
        return Ok(());
    }
    let (red, plain) = colours(terminal);
    writeln!(terminal.out, "\nOn a real bench")?;
    for line in lines {
        writeln!(terminal.out, "  {red}⚠{plain} {line}")?;
    }
    Ok(())
}

/// Value and range in one unit, the range with two digits and the value to the same place (JCGM
/// 100:2008, 7.2.6).
pub(crate) fn with_range(estimate: &Estimate) -> String {
    let figure = &estimate.figure;
    let (Some(value), Some(expanded)) = (figure.number(), estimate.expanded) else {
        return figure.shown(TABLE_DIGITS).to_string();
    };
    let exact = shown(value, figure.unit, 15);
    let scaled: f64 = exact.number.replace('−', "-").parse().unwrap_or(f64::NAN);
    let per_shown = scaled / value;
    let range = expanded * per_shown;
    if !(range > 0.0 && range.is_finite() && per_shown.is_finite()) {
        return figure.shown(TABLE_DIGITS).to_string();
    }
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "clamped to 0 to 12"
    )]
    let places = (1.0 - range.log10().floor()).clamp(0.0, 12.0) as usize;
    format!("{scaled:.places$} ± {range:.places$} {}", exact.unit)
        .trim_end()
        .replace('-', "−")
}

fn json(
    sheet: &BenchSheet,
    verdict: &Verdict,
    estimates: &[Estimate],
    terminal: &mut Terminal<'_>,
) -> Result<(), Failure> {
    let mut object = serde_json::Map::new();
    let mut ranges = serde_json::Map::new();
    for estimate in estimates {
        let key = estimate.figure.key;
        let value = match estimate.figure.value {
            Value::Count(count) => count.into(),
            _ => estimate.figure.number().into(),
        };
        object.insert(key.to_owned(), value);
        ranges.insert(key.to_owned(), estimate.expanded.into());
    }
    object.insert("expanded_uncertainty".into(), ranges.into());
    object.insert("agree".into(), verdict.agree.into());
    object.insert("chi_square".into(), verdict.chi_square.into());
    object.insert("degrees_of_freedom".into(), verdict.freedom.into());
    object.insert("chi_square_exceeded".into(), verdict.exceeded.into());
    let causes = verdict.causes.iter().map(|ranked| {
        serde_json::json!({
            "cause": ranked.cause.key(), "title": ranked.cause.title(sheet),
            "probability": ranked.probability, "pole_pairs": ranked.pole_pairs,
        })
    });
    object.insert("causes".into(), causes.collect());
    let readings = verdict.checks.iter().filter_map(|check| {
        let reading = sheet.readings.get(check.idx)?;
        Some(serde_json::json!({
            "row": reading.row, "name": reading.name, "value": reading.value,
            "standard_uncertainty": reading.standard, "stated": reading.stated,
            "instrument": reading.instrument.name(), "fitted": check.fitted,
            "normalised_residual": check.normalised,
        }))
    });
    object.insert("readings".into(), readings.collect());
    let suspects: Vec<String> = verdict.suspects.iter().map(|s| s.title(sheet)).collect();
    object.insert("suspects".into(), suspects.into());
    object.insert("slips".into(), verdict.slips(sheet).into());
    let label = label_checks(sheet, estimates).into_iter().map(|check| {
        serde_json::json!({
            "name": check.name, "claimed": check.claimed, "found": check.found,
            "differs": check.differs, "holds": check.holds,
        })
    });
    object.insert("label".into(), label.collect());
    let next: Vec<&str> = verdict.next.iter().map(|step| step.what.as_str()).collect();
    object.insert("next".into(), next.into());
    write_json(&object, terminal)
}

/// One JSON object and the end of its line.
pub(crate) fn write_json(
    object: &serde_json::Map<String, serde_json::Value>,
    terminal: &mut Terminal<'_>,
) -> Result<(), Failure> {
    serde_json::to_writer_pretty(&mut *terminal.out, object).map_err(|error| {
        if error.is_io() {
            Failure::Output(error.into())
        } else {
            Failure::Json(error)
        }
    })?;
    writeln!(terminal.out)?;
    Ok(())
}

fn colours(terminal: &Terminal<'_>) -> (&'static str, &'static str) {
    if terminal.coloured {
        ("\u{1b}[31m", "\u{1b}[0m")
    } else {
        ("", "")
    }
}

fn plural(n: usize, word: &str) -> String {
    if n == 1 {
        format!("{n} {word}")
    } else {
        format!("{n} {word}s")
    }
}

/// A part in percent, never 0 or 100 unless it is.
fn percent(part: f64) -> String {
    let percent = 100.0 * part;
    if percent > 99.5 && percent < 100.0 {
        "> 99".to_owned()
    } else if percent > 0.0 && percent < 1.0 {
        "< 1".to_owned()
    } else {
        format!("{percent:.0}")
    }
}

/// A number with so many significant digits.
struct Digits(f64, usize);

impl std::fmt::Display for Digits {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&shown(self.0, crate::analysis::Unit::NUMBER, self.1).number)
    }
}

/// Words in lines of at most a hundred characters.
pub(crate) fn wrapped(
    terminal: &mut Terminal<'_>,
    first: &str,
    rest: &str,
    words: &str,
) -> io::Result<()> {
    const WIDTH: usize = 100;
    let mut line = first.to_owned();
    let mut n_words = 0;
    for word in words.split_whitespace() {
        let longer = line.chars().count() + usize::from(n_words > 0) + word.chars().count();
        if n_words > 0 && longer > WIDTH {
            writeln!(terminal.out, "{line}")?;
            line = rest.to_owned();
            n_words = 0;
        }
        if n_words > 0 {
            line.push(' ');
        }
        line.push_str(word);
        n_words += 1;
    }
    writeln!(terminal.out, "{line}")
}
