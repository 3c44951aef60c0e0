//! `wyebench readings`: what motor somebody's readings tell of, and whether they can all be true.

use std::io;

use super::arguments::ReadingsArguments;
use super::files::{Format, OutputTarget, write_new, write_whole};
use super::{Failure, Terminal, input};
use crate::analysis::{Figure, Value, signed_percent};
use crate::export::report::{ReadingsPage, readings_report};
use crate::readings::{
    BenchSheet, Cause, Estimate, U_IN_WORDS, Verdict, bench_cautions, delta_in_words,
    example_sheet, figures, judge, label_checks, percent, setup_text,
};

pub(crate) fn command(
    arguments: &ReadingsArguments,
    terminal: &mut Terminal<'_>,
) -> Result<(), Failure> {
    let Some(path) = &arguments.readings else {
        write!(terminal.out, "{}", example_sheet())?;
        return Ok(());
    };
    let report = OutputTarget::asked(arguments.report.as_deref(), &[Format::Html])?;
    let (sheet, text) = input::read_readings(path)?;
    let verdict = judge(&sheet).map_err(Failure::NoMotor)?;
    let estimates = figures(&sheet, &verdict);
    // what is not known yet keeps the setup from being written, and not the report from being read
    let mut unfinished = None;
    if let Some(path) = &arguments.output {
        match setup_text(&sheet, &estimates) {
            Ok(text) => write_new(path, text.as_bytes())?,
            Err(error) => unfinished = Some(error),
        }
    }
    if let Some(target) = &report {
        let page = readings_report(&ReadingsPage {
            text: &text,
            sheet: &sheet,
            verdict: &verdict,
            estimates: &estimates,
        })?;
        write_whole(target.path(), page.as_bytes())?;
    }
    if arguments.json {
        json(&sheet, &verdict, &estimates, terminal)?;
    } else if !arguments.why.is_empty() {
        let list: Vec<Figure> = estimates.into_iter().map(|e| e.figure).collect();
        terminal.explain(&list, &arguments.why)?;
    } else {
        print(&sheet, &verdict, &estimates, terminal)?;
        let output = arguments.output.as_deref().filter(|_| unfinished.is_none());
        terminal.wrote([output, arguments.report.as_deref()])?;
    }
    unfinished.map_or(Ok(()), |error| Err(Failure::Unfinished(error)))
}

fn print(
    sheet: &BenchSheet,
    verdict: &Verdict,
    estimates: &[Estimate],
    terminal: &mut Terminal<'_>,
) -> io::Result<()> {
    terminal.title(&sheet.title, "\n")?;
    let (red, plain) = terminal.red();
    let opinion = verdict.opinion(sheet);
    let lead = if opinion.is_caution {
        format!("{red}⚠ {}{plain}", opinion.lead)
    } else {
        opinion.lead
    };
    writeln!(terminal.out, "{lead}{}", opinion.rest)?;
    if !verdict.agree {
        contradictions(sheet, verdict, terminal)?;
        likely(sheet, verdict, terminal)?;
        next(verdict, terminal)?;
    }
    motor(sheet, verdict, estimates, terminal)?;
    label(sheet, estimates, terminal)?;
    each_reading(sheet, verdict, terminal)?;
    if verdict.agree {
        next(verdict, terminal)?;
    }
    terminal.cautions(&bench_cautions(sheet, estimates))
}

fn contradictions(
    sheet: &BenchSheet,
    verdict: &Verdict,
    terminal: &mut Terminal<'_>,
) -> io::Result<()> {
    let told = verdict.slips(sheet);
    let suspects = verdict.suspects_in_words(sheet);
    if told.is_empty() && suspects.is_none() {
        return Ok(());
    }
    writeln!(terminal.out, "\nWhat contradicts what")?;
    for line in told {
        terminal.wrapped("  ", "  ", &line)?;
    }
    if let Some((words, list)) = suspects {
        terminal.wrapped("  ", "  ", &words)?;
        for suspect in list {
            writeln!(terminal.out, "    {suspect}")?;
        }
    }
    Ok(())
}

fn likely(sheet: &BenchSheet, verdict: &Verdict, terminal: &mut Terminal<'_>) -> io::Result<()> {
    writeln!(terminal.out, "\n{}", verdict.likely_heading())?;
    for ranked in verdict.likely() {
        let percent = format!("  {:>3} %  ", percent(ranked.probability));
        terminal.wrapped(&percent, "         ", &ranked.title(sheet))?;
        for remedy in ranked.remedies() {
            terminal.wrapped("         ", "         ", remedy)?;
        }
    }
    Ok(())
}

fn next(verdict: &Verdict, terminal: &mut Terminal<'_>) -> io::Result<()> {
    if verdict.next.is_empty() {
        return Ok(());
    }
    writeln!(terminal.out, "\n{}", verdict.next_heading())?;
    for (k, step) in verdict.next.iter().enumerate() {
        terminal.wrapped(&format!("  {}. ", k + 1), "     ", step.what.as_str())?;
        for (cause, value) in step.expect.iter().flatten() {
            terminal.wrapped("     ", "       ", &format!("About {value}: {cause}."))?;
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
    writeln!(terminal.out)?;
    terminal.wrapped("", "", &verdict.motor_heading(sheet))?;
    let mut open: Vec<(&str, Vec<&str>)> = Vec::new();
    for estimate in estimates {
        let name = estimate.figure.name;
        if let Value::Absent(reason) = estimate.figure.value {
            match open.iter_mut().find(|(known, _)| *known == reason) {
                Some((_, names)) => names.push(name),
                None => open.push((reason, vec![name])),
            }
        } else {
            writeln!(terminal.out, "  {name:<40}  {}", estimate.words())?;
        }
    }
    for (reason, names) in open {
        let line = format!("Open: {} ({reason}).", names.join(", "));
        terminal.wrapped("  ", "    ", &line)?;
    }
    if let Some(words) = delta_in_words(estimates) {
        terminal.wrapped("  ", "  ", words)?;
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
    let (red, plain) = terminal.red();
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
            signed_percent(check.differs)
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
    let (red, plain) = terminal.red();
    writeln!(terminal.out)?;
    terminal.wrapped("", "", &verdict.readings_heading(sheet))?;
    for check in &verdict.should_be {
        let Some(reading) = sheet.readings.get(check.idx) else {
            continue;
        };
        if !reading.is_checked() {
            continue;
        }
        let words = if check.is_marked() {
            format!("{red}⚠ {}{plain}", check.words())
        } else {
            check.words()
        };
        writeln!(
            terminal.out,
            "  {:<38}  {:>11}  {:>11}  {words}",
            reading.place(),
            reading.shown(reading.value),
            reading.shown(check.fitted),
        )?;
    }
    terminal.wrapped("  ", "  ", U_IN_WORDS)
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
            "cause": ranked.cause.key(), "also": ranked.also.map(Cause::key), "title": ranked.title(sheet),
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
    terminal.json(&object)
}
