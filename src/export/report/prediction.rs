//! The page of a prediction.

use super::super::picture::PictureError;
use super::{Cell, PAPER, Report, value_words, with_values};
use crate::analysis::{Figure, TABLE_DIGITS, shown, shown_ends, signed_percent};
use crate::predict::{Build, Confirmed, Limit, Prediction, Spread, beside_words};
use crate::scene::curves::{CurvesView, PANEL_POINTS, Panel, curves};

/// What a page about a prediction shows.
#[derive(Clone, Copy, Debug)]
pub struct PredictionPage<'a> {
    /// The build file as it was read.
    pub text: &'a str,
    /// What it says.
    pub build: &'a Build,
    /// What was predicted.
    pub prediction: &'a Prediction,
    /// The figures of that.
    pub figures: &'a [Figure],
    /// 95 % ranges, where inputs carry tolerances.
    pub spread: Option<&'a Spread>,
    /// The same point simulated, where that was asked.
    pub confirmed: Option<&'a Confirmed>,
    /// The curves, where the motor turns.
    pub panels: &'a [Panel],
    /// Where the figures stop being true.
    pub doubts: &'a [String],
    /// What can hurt somebody.
    pub cautions: &'a [String],
}

/// Figures in large type at the top, as far as there are.
const IN_SHORT: [&str; 9] = [
    "thrust_n",
    "road_speed_m_s",
    "line_speed_m_s",
    "flow_m3_s",
    "speed_rpm",
    "motor_current_a",
    "input_power_w",
    "efficiency",
    "run_time_min",
];

/// The page of a prediction: inputs as given, figures, limits, curves, ranges, the simulated point,
/// and where each figure comes from.
///
/// # Errors
/// [`PictureError`].
pub fn prediction_report(page: &PredictionPage<'_>) -> Result<String, PictureError> {
    let title = if page.build.title.trim().is_empty() {
        "Prediction of a build"
    } else {
        &page.build.title
    };
    let mut report = Report::new(title);
    report.small(
        "What this motor, pack, controller and load will do together, in closed form from their labels. Nothing here was \
         measured.",
    );
    let by_key = |key: &&str| page.figures.iter().find(|figure| figure.key == *key);
    let in_short = IN_SHORT.iter().filter_map(by_key);
    report.in_short(in_short.map(|figure| (value_words(figure), figure.name)));
    for doubt in page.doubts {
        report.words(doubt);
    }
    if !page.cautions.is_empty() {
        report.cautions(page.cautions.iter().map(String::as_str));
    }
    report.heading("Figures", false);
    report.figures(with_values(page.figures));
    if !page.prediction.limits.is_empty() {
        report.heading("Limits, the fullest first", false);
        limits(&mut report, &page.prediction.limits);
    }
    pictures(&mut report, page.panels)?;
    if let Some(spread) = page.spread {
        report.heading("95 % ranges, and the inputs they come from", false);
        ranges(&mut report, page.figures, spread);
    }
    if let Some(confirmed) = page.confirmed {
        report.heading("The same point, simulated in full", false);
        beside(&mut report, page, confirmed);
    }
    report.heading("What was given", false);
    report.file(page.text);
    report.heading("Where each figure comes from", true);
    report.explanations(with_values(page.figures));
    Ok(report.finish())
}

fn limits(report: &mut Report, limits: &[Limit]) {
    let columns = [
        ("of", Cell::Words),
        ("used", Cell::Number),
        ("allowed", Cell::Number),
        ("part", Cell::Number),
        ("", Cell::Words),
    ];
    let rows: Vec<_> = limits
        .iter()
        .map(|limit| {
            let unit = limit.unit_of_figures();
            let over = limit.part() > 1.0;
            let used = if limit.used.is_finite() {
                shown(limit.used, unit, TABLE_DIGITS).to_string()
            } else {
                "runs away".to_owned()
            };
            let cells = vec![
                limit.name.to_owned(),
                used,
                shown(limit.allowed, unit, TABLE_DIGITS).to_string(),
                limit.part_in_words(),
                if over { "⚠ over" } else { "" }.to_owned(),
            ];
            (cells, over)
        })
        .collect();
    report.table(&columns, &rows);
}

/// Each panel of the curves as a picture of its own, as wide as the page.
fn pictures(report: &mut Report, panels: &[Panel]) -> Result<(), PictureError> {
    for panel in panels {
        report.heading(&panel.heading, true);
        let view = CurvesView {
            title: String::new(),
            panels: vec![Panel {
                heading: String::new(),
                ..panel.clone()
            }],
            panel_points: PANEL_POINTS,
        };
        let caption = format!(
            "{}: speed, motor current, efficiency and shaft power. Rings are predicted points; dashes are only about right.",
            panel.heading
        );
        report.scene(&curves(&view, &PAPER), &panel.heading, &caption)?;
    }
    Ok(())
}

fn ranges(report: &mut Report, figures: &[Figure], spread: &Spread) {
    let columns = [
        ("figure", Cell::Words),
        ("from", Cell::Number),
        ("to", Cell::Number),
        ("inputs, by their share", Cell::Words),
    ];
    let rows: Vec<_> = spread
        .ranges
        .iter()
        .filter_map(|range| {
            let figure = figures.iter().find(|figure| figure.key == range.key)?;
            let ends = shown_ends(
                [range.low, range.high].map(|end| figure.without_dust(end)),
                figure.unit,
                TABLE_DIGITS,
            );
            let [low, high] = ends.map(|end| end.to_string());
            let inputs: Vec<String> = range
                .influences
                .iter()
                .filter(|influence| influence.share >= 0.02)
                .take(3)
                .map(|influence| format!("{} {:.0} %", influence.key, 100.0 * influence.share))
                .collect();
            let cells = vec![figure.name.to_owned(), low, high, inputs.join(", ")];
            Some((cells, false))
        })
        .collect();
    report.table(&columns, &rows);
    report.small(&format!(
        "Of {} trials with the toleranced inputs drawn anew{}.",
        spread.n_trials,
        if spread.n_without_point > 0 {
            format!(
                "; in {} more the motor did not turn its load",
                spread.n_without_point
            )
        } else {
            String::new()
        }
    ));
}

/// Predicted and simulated, side by side.
fn beside(report: &mut Report, page: &PredictionPage<'_>, confirmed: &Confirmed) {
    let columns = [
        ("", Cell::Words),
        ("predicted", Cell::Number),
        ("simulated", Cell::Number),
        ("differs", Cell::Number),
    ];
    let rows: Vec<_> = confirmed
        .beside(&page.prediction.loaded)
        .into_iter()
        .map(|(name, unit, predicted, simulated)| {
            let value = |value: f64| shown(value, unit, TABLE_DIGITS).to_string();
            let cells = vec![
                name.to_owned(),
                value(predicted),
                value(simulated),
                signed_percent(predicted / simulated - 1.0),
            ];
            (cells, false)
        })
        .collect();
    report.table(&columns, &rows);
    report.small(&format!(
        "The shaft held at the predicted speed. {}",
        beside_words(page.build, &page.prediction.loaded)
    ));
}
