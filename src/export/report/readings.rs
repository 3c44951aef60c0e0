//! The page of a check: what was measured, what motor it tells of, and whether it can all be true.

use super::super::picture::PictureError;
use super::{Cell, PAPER, Report, with_ranges};
use crate::analysis::{Value, signed_percent};
use crate::readings::{
    BenchSheet, Estimate, U_IN_WORDS, Verdict, bench_cautions, delta_in_words, label_checks,
    percent,
};
use crate::scene::pulls::{PullsView, ROWS_OF_A_PAGE, pulls};

/// What a page about readings shows.
#[derive(Clone, Copy, Debug)]
pub struct ReadingsPage<'a> {
    /// The readings file as it was read.
    pub text: &'a str,
    /// What it says.
    pub sheet: &'a BenchSheet,
    /// What came of it.
    pub verdict: &'a Verdict,
    /// The motor's figures.
    pub estimates: &'a [Estimate],
}

/// Figures in large type at the top, as far as they are known.
const IN_SHORT: [&str; 6] = [
    "pole_pairs",
    "kv_rpm_per_v",
    "torque_constant_nm_per_a",
    "line_resistance_20c_ohm",
    "line_inductance_h",
    "inertia_kg_m2",
];

/// The page of a check: whether the readings agree, likely causes in their order, the motor, each
/// reading beside what it should be, what to measure next, and where each figure comes from.
///
/// # Errors
/// [`PictureError`].
pub fn readings_report(page: &ReadingsPage<'_>) -> Result<String, PictureError> {
    let (sheet, verdict) = (page.sheet, page.verdict);
    let title = if sheet.title.trim().is_empty() {
        "Check of a motor"
    } else {
        &sheet.title
    };
    let mut report = Report::new(title);
    report.small(
        "One motor fitted to all that was read of it, by weighted least squares. 95 of 100 values lie within their ±.",
    );
    let opinion = verdict.opinion(sheet);
    report.verdict(&opinion.lead, &opinion.rest, opinion.is_caution);
    report.in_short(IN_SHORT.iter().filter_map(|key| {
        let estimate = page.estimates.iter().find(|e| e.figure.key == *key)?;
        let known = !matches!(estimate.figure.value, Value::Absent(_));
        known.then(|| (estimate.words(), estimate.figure.name))
    }));
    let cautions = bench_cautions(sheet, page.estimates);
    if !cautions.is_empty() {
        report.cautions(cautions.iter().map(String::as_str));
    }
    if !verdict.agree {
        contradictions(&mut report, page);
        causes(&mut report, page);
        next(&mut report, verdict);
    }
    report.heading(&verdict.motor_heading(sheet), false);
    report.figures(with_ranges(page.estimates));
    if let Some(words) = delta_in_words(page.estimates) {
        report.small(words);
    }
    label(&mut report, page);
    readings(&mut report, page)?;
    if verdict.agree {
        next(&mut report, verdict);
    }
    report.heading("What was given", false);
    report.file(page.text);
    report.heading("Where each figure comes from", true);
    report.explanations(with_ranges(page.estimates));
    Ok(report.finish())
}

fn contradictions(report: &mut Report, page: &ReadingsPage<'_>) {
    let mut items: Vec<(String, Vec<String>)> = page
        .verdict
        .slips(page.sheet)
        .into_iter()
        .map(|line| (line, Vec::new()))
        .collect();
    items.extend(page.verdict.suspects_in_words(page.sheet));
    if items.is_empty() {
        return;
    }
    report.heading("What contradicts what", false);
    report.items(&items, false);
}

fn causes(report: &mut Report, page: &ReadingsPage<'_>) {
    report.heading(page.verdict.likely_heading(), false);
    let columns = [
        ("", Cell::Number),
        ("cause", Cell::Words),
        ("how it comes about, and what helps", Cell::Words),
    ];
    let rows: Vec<_> = page
        .verdict
        .likely()
        .map(|ranked| {
            let cells = vec![
                format!("{} %", percent(ranked.probability)),
                ranked.title(page.sheet),
                ranked.remedies().join(" "),
            ];
            (cells, false)
        })
        .collect();
    report.table(&columns, &rows);
}

fn next(report: &mut Report, verdict: &Verdict) {
    if verdict.next.is_empty() {
        return;
    }
    report.heading(verdict.next_heading(), false);
    let items: Vec<_> = verdict
        .next
        .iter()
        .map(|step| {
            let expect = step.expect.iter().flatten();
            let under = expect.map(|(cause, value)| format!("About {value}: {cause}."));
            (step.what.clone(), under.collect())
        })
        .collect();
    report.items(&items, true);
}

fn label(report: &mut Report, page: &ReadingsPage<'_>) {
    let checks = label_checks(page.sheet, page.estimates);
    if checks.is_empty() {
        return;
    }
    report.heading("The label", false);
    let columns = [
        ("claim", Cell::Words),
        ("label", Cell::Number),
        ("found", Cell::Number),
        ("differs", Cell::Number),
        ("labels usually", Cell::Number),
        ("", Cell::Words),
    ];
    let rows: Vec<_> = checks
        .into_iter()
        .map(|check| {
            let spread = check.spread > 0.0;
            let differs = signed_percent(check.differs);
            let usual = format!("± {:.0} %", 100.0 * check.spread);
            let word = if check.holds {
                "holds"
            } else {
                "⚠ does not hold"
            };
            let cells = vec![
                check.name.to_owned(),
                check.claimed,
                check.found,
                if spread { differs } else { String::new() },
                if spread { usual } else { String::new() },
                word.to_owned(),
            ];
            (cells, !check.holds)
        })
        .collect();
    report.table(&columns, &rows);
}

/// Each reading: how far it is off as a picture, and a table.
fn readings(report: &mut Report, page: &ReadingsPage<'_>) -> Result<(), PictureError> {
    report.heading(&page.verdict.readings_heading(page.sheet), false);
    let all = PullsView::of(page.sheet, page.verdict).rows;
    for (n, rows) in all.chunks(ROWS_OF_A_PAGE).enumerate() {
        let view = PullsView {
            rows: rows.to_vec(),
        };
        let title = format!("How far each reading is off, {}", n + 1);
        let caption = "How far each reading is off. 95 of 100 sound ones lie in the shaded band; an arrow lies beyond the \
                       axis.";
        report.scene(&pulls(&view, &PAPER), &title, caption)?;
    }
    let columns = [
        ("reading", Cell::Words),
        ("with", Cell::Words),
        ("as noted", Cell::Number),
        ("should be", Cell::Number),
        ("", Cell::Words),
    ];
    let checked = page.verdict.should_be.iter().filter_map(|check| {
        let reading = page.sheet.readings.get(check.idx)?;
        reading.is_checked().then_some((check, reading))
    });
    let rows: Vec<_> = checked
        .map(|(check, reading)| {
            let mark = if check.is_marked() { "⚠ " } else { "" };
            let cells = vec![
                reading.place(),
                reading.instrument.name().to_owned(),
                reading.with_range(),
                reading.shown(check.fitted),
                format!("{mark}{}", check.words()),
            ];
            (cells, check.is_marked())
        })
        .collect();
    report.table(&columns, &rows);
    report.small(U_IN_WORDS);
    Ok(())
}
