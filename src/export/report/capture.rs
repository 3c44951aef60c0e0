//! The page of a capture: what an instrument's waveform shows.

use super::super::picture::PictureError;
use super::{PAPER, Report, with_ranges};
use crate::analysis::Value;
use crate::readings::Estimate;
use crate::readings::capture::{Capture, Found, Table, Traces};
use crate::scene::overlay::{OverlayView, overlay, overlay_in_words};

/// What a page about a capture shows.
#[derive(Clone, Copy, Debug)]
pub struct CapturePage<'a> {
    /// What the file is called.
    pub file: &'a str,
    /// How it was read.
    pub table: &'a Table,
    /// What was picked out of it.
    pub capture: &'a Capture,
    /// What that shows.
    pub found: &'a Found,
    /// Its figures.
    pub estimates: &'a [Estimate],
    /// What is drawn.
    pub traces: &'a Traces,
    /// Title of the setup that was simulated beside it, where one was.
    pub over: Option<&'a str>,
}

/// Figures in large type at the top, as far as they are known.
const IN_SHORT: [&str; 8] = [
    "kv_rpm_per_v",
    "speed_rpm",
    "pole_pairs",
    "line_emf_peak_v",
    "supply_voltage_v",
    "electrical_frequency_hz",
    "pwm_frequency_hz",
    "duty",
];

/// Size of the picture of one, two or three channels, in points.
const SIZE: [f64; 2] = [620.0, 90.0];
const STRIP: f64 = 105.0;

/// The page of a capture: what it shows in figures and sentences, two electrical turns of it over
/// the simulation where there is one, how the file was read, and where each figure comes from.
///
/// # Errors
/// [`PictureError`].
pub fn capture_report(page: &CapturePage<'_>) -> Result<String, PictureError> {
    let kind = match page.found {
        Found::Spun(_) => "Capture of a spun motor",
        Found::Driven(_) => "Capture of a motor on its drive",
    };
    let mut report = Report::new(&format!("{kind}: {}", page.file));
    report.small("What an instrument saved, read back. 95 of 100 values lie within their ±.");
    report.in_short(IN_SHORT.iter().filter_map(|key| {
        let estimate = page.estimates.iter().find(|e| e.figure.key == *key)?;
        let known = !matches!(estimate.figure.value, Value::Absent(_));
        known.then(|| (estimate.words(), estimate.figure.name))
    }));
    for finding in page.found.findings() {
        if finding.is_caution {
            report.verdict(&finding.words, "", true);
        } else {
            report.words(&finding.words);
        }
    }
    report.cautions([page.found.caution()]);
    report.heading("Two electrical turns of it", false);
    #[expect(clippy::cast_precision_loss, reason = "one to three")]
    let size_points = [SIZE[0], SIZE[1] + STRIP * page.traces.rows.len() as f64];
    let view = OverlayView {
        title: "",
        subtitle: "",
        traces: page.traces,
        size_points,
    };
    let words = overlay_in_words(page.traces);
    let caption = match page.over {
        None | Some("") => format!("{words}."),
        Some(title) => format!("{words}: {title}."),
    };
    report.scene(&overlay(&view, &PAPER), "Two electrical turns", &caption)?;
    report.heading("What it shows", false);
    report.figures(with_ranges(page.estimates));
    report.heading("How the file was read", false);
    reading(&mut report, page);
    report.heading("Where each figure comes from", true);
    report.explanations(with_ranges(page.estimates));
    Ok(report.finish())
}

fn reading(report: &mut Report, page: &CapturePage<'_>) {
    let capture = page.capture;
    let names: Vec<&str> = capture.channels.iter().map(|c| c.name.as_str()).collect();
    report.words(&format!(
        "{} rows from line {}, {}; time: {}; channels: {}{}.",
        capture.times_s.len(),
        page.table.first_line,
        page.table.dialect,
        capture.time_base,
        names.join(", "),
        capture
            .mark
            .as_ref()
            .map_or_else(String::new, |mark| format!("; mark: {}", mark.name))
    ));
    if capture.n_bad > 0 {
        let mut items: Vec<(String, Vec<String>)> = capture
            .bad
            .iter()
            .map(|bad| (format!("line {}: {}", bad.line, bad.reason), Vec::new()))
            .collect();
        let more = capture.n_bad - capture.bad.len().min(capture.n_bad);
        if more > 0 {
            items.push((format!("and {more} more"), Vec::new()));
        }
        let words = format!("{} lines are no rows and were left out:", capture.n_bad);
        report.verdict(&words, "", true);
        report.items(&items, false);
    }
}
