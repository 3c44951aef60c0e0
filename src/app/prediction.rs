//! The page of predictions: labels and loads on the left, what comes of them on the right, at once.

use egui::{Context, Rect, RichText, Ui, vec2};

use super::figures;
use super::form_page::{FormPage, caution_ui, formula_ui, on_a_real_bench_ui, scroll_ui};
use super::job::{Job, Progress};
use super::outside;
use super::picture::{Zoom, picture_ui};
use super::sheet_form::SheetForm;
use super::style;
use crate::analysis::{Figure, Unit, shown, shown_ends, signed_percent};
use crate::predict::{
    BUILD_SHEET, Build, Confirmed, Prediction, Spread, Spreading, bench_cautions, beside_words,
    confirm_in_slices, doubts, example_build, figures as figures_of, predict,
};
use crate::scene::Theme;
use crate::scene::curves::{CurvesView, PANEL_POINTS, Panel, curves, panels_of_build_in_slices};
use crate::setup::Setup;

/// Tables that a build may leave out.
const OPTIONAL: &[&str] = &[
    "controller",
    "gear",
    "propeller",
    "vehicle",
    "pump",
    "winch",
    "load",
];
/// Trials for the 95 % ranges: enough for two digits.
const TRIALS: usize = 300;
/// Most of them that a frame waits for.
const TRIALS_PER_FRAME: u32 = 10;
/// The seed of the trials.
const SEED: u64 = 1;
/// How much wider than usual curves may be drawn.
const MOST_CURVES: f64 = 2.5;
/// Digits of a range.
const DIGITS: usize = 3;

/// What a person asked for.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Wish {
    /// Put the build on the bench.
    Bench(Box<Setup>),
    /// Back to the bench.
    Leave,
}

/// What comes of a build.
#[derive(Debug)]
struct Outcome {
    build: Build,
    prediction: Prediction,
    figures: Vec<Figure>,
    /// The trials for the ranges, while they go on.
    spreading: Option<Spreading>,
    spread: Option<Spread>,
    /// The same point in full, where that was asked for: `None` inside where the run did not come
    /// to its end.
    simulated: Asked<Option<Confirmed>>,
    /// Against load torque and against duty, once they were looked at, for they take as long as some
    /// two hundred predictions; empty where the motor does not even turn itself.
    panels: Asked<Vec<Panel>>,
    /// Those of the form before, which are shown until these are there.
    panels_before: Option<Vec<Panel>>,
}

/// What is computed only where it is asked for.
#[derive(Debug)]
enum Asked<T> {
    /// Nobody did.
    Not,
    /// It is under way.
    UnderWay(Job<T>),
    /// It is there.
    There(T),
}

impl<T: Send + 'static> Asked<T> {
    /// Takes up what has come. True when it came just now.
    fn advance(&mut self) -> bool {
        let Self::UnderWay(job) = self else {
            return false;
        };
        match job.poll() {
            Progress::UnderWay => false,
            Progress::Lost => {
                *self = Self::Not;
                false
            }
            Progress::Done(got) => {
                *self = Self::There(got);
                true
            }
        }
    }

    const fn is_under_way(&self) -> bool {
        matches!(self, Self::UnderWay(_))
    }
}

impl Outcome {
    /// Goes on with the trials for the ranges, as far as a frame bears; true while there are more.
    /// `last_s`: how long the last frame took, in s.
    fn advance(&mut self, last_s: f64) -> bool {
        let Some(spreading) = &mut self.spreading else {
            return false;
        };
        let mut left = TRIALS_PER_FRAME;
        outside::within_long_frame(last_s, |_| {
            spreading.advance();
            left -= 1;
            left > 0 && spreading.n_trials() < TRIALS
        });
        if spreading.n_trials() >= TRIALS {
            self.spread = Some(spreading.spread());
            self.spreading = None;
        }
        true
    }

    /// Takes up what was asked for.
    fn take_up(&mut self) {
        if self.simulated.advance() {
            // the curves have not that point yet
            self.panels_before = self.give_panels();
        }
        self.panels.advance();
    }

    /// Gives the curves away.
    fn give_panels(&mut self) -> Option<Vec<Panel>> {
        match std::mem::replace(&mut self.panels, Asked::Not) {
            Asked::There(panels) => Some(panels),
            _ => self.panels_before.take(),
        }
    }

    /// Has the point simulated.
    fn simulate(&mut self, ctx: &Context) {
        let (build, point) = (self.build.clone(), self.prediction.loaded);
        let work = async move { confirm_in_slices(&build, &point).await };
        self.simulated = Asked::UnderWay(Job::begin(ctx, work));
    }

    /// The curves, with the simulated point where there is one; while they are made those before, and
    /// `None` where there are none.
    fn panels(&mut self, ctx: &Context) -> Option<&[Panel]> {
        if let Asked::Not = self.panels {
            let (build, prediction) = (self.build.clone(), self.prediction.clone());
            let simulated = match self.simulated {
                Asked::There(got) => got,
                _ => None,
            };
            let work = async move {
                panels_of_build_in_slices(&build, &prediction, simulated.as_ref())
                    .await
                    .map_or_else(|_| Vec::new(), Into::into)
            };
            self.panels = Asked::UnderWay(Job::begin(ctx, work));
        }
        match &self.panels {
            Asked::There(panels) => Some(panels),
            _ => self.panels_before.as_deref(),
        }
    }
}

/// What is shown of a prediction.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Tab {
    Figures,
    /// The curves against load torque, and against duty.
    Curves(usize),
}

/// A build being filled in, and the last one that could be predicted.
#[derive(Debug)]
pub(super) struct Predicting {
    form: SheetForm,
    outcome: Option<Outcome>,
    /// Why there is no operating point.
    without_point: Option<String>,
    /// True where what stands in the form is not what the figures are of.
    stale: bool,
    /// The figure whose formula is shown.
    why: Option<&'static str>,
    /// In a narrow window: the form is shown.
    at_form: bool,
    tab: Tab,
}

impl Predicting {
    /// Begins with the example.
    pub(super) fn new() -> Self {
        Self::with(example_build())
    }

    /// Begins with a build.
    pub(super) fn with(text: &str) -> Self {
        let mut page = Self {
            form: SheetForm::new(&BUILD_SHEET, OPTIONAL, text),
            outcome: None,
            without_point: None,
            stale: false,
            why: None,
            at_form: true,
            tab: Tab::Figures,
        };
        page.read();
        page
    }

    fn read(&mut self) {
        let Some(build) = self.form.read(Build::parse) else {
            self.stale = true;
            return;
        };
        match predict(&build) {
            Ok(prediction) => {
                let outcome = Outcome {
                    figures: figures_of(&build, &prediction),
                    spreading: Spreading::new(&build, SEED),
                    spread: None,
                    prediction,
                    simulated: Asked::Not,
                    panels: Asked::Not,
                    panels_before: self.outcome.as_mut().and_then(Outcome::give_panels),
                    build,
                };
                self.outcome = Some(outcome);
                (self.without_point, self.stale) = (None, false);
            }
            Err(error) => {
                self.without_point = Some(error.to_string());
                self.stale = true;
            }
        }
    }

    /// True while the trials for the ranges go on, or something that was asked for.
    pub(super) fn is_busy(&self) -> bool {
        self.outcome.as_ref().is_some_and(|of| {
            of.spreading.is_some() || of.simulated.is_under_way() || of.panels.is_under_way()
        })
    }

    /// Takes the formula away. False where none is shown.
    pub(super) fn take_why(&mut self) -> bool {
        self.why.take().is_some()
    }

    /// Draws the page.
    pub(super) fn ui(&mut self, ui: &mut Ui, all: Rect, theme: &Theme) -> Option<Wish> {
        let last_s = ui.input(|input| f64::from(input.unstable_dt));
        if self.outcome.as_mut().is_some_and(|of| of.advance(last_s)) {
            ui.ctx().request_repaint();
        }
        if let Some(outcome) = &mut self.outcome {
            outcome.take_up();
        }
        let page = FormPage::new(all, theme);
        let wish = self.title_ui(ui, &page);
        let changed = page.form_ui(ui, self.at_form, |ui| self.form.ui(ui, theme));
        if changed == Some(true) {
            self.read();
        }
        page.results_ui(ui, self.at_form, |ui| self.results_ui(ui, theme));
        wish
    }

    fn title_ui(&mut self, ui: &mut Ui, page: &FormPage<'_>) -> Option<Wish> {
        let mut wish = None;
        let (form, ready) = (&self.form, self.outcome.as_ref().filter(|_| !self.stale));
        let turns = ["Labels", "Figures"];
        let leave = page.title_ui(ui, "Before it is bought", &mut self.at_form, turns, |ui| {
            let bench = ui.add_enabled(ready.is_some(), egui::Button::new("Put it on the bench"));
            let hint = "As a setup, to be simulated and seen; Undo takes that back";
            if let (true, Some(outcome)) = (bench.on_hover_text(hint).clicked(), ready) {
                let setup = outcome.build.to_setup(&outcome.prediction.loaded);
                wish = Some(Wish::Bench(Box::new(setup)));
            }
            let copy = ui.button("Copy as text");
            let copy = copy.on_hover_text("As a build file, for `wyebench predict`");
            if copy.clicked() {
                ui.copy_text(form.text());
            }
        });
        if leave { Some(Wish::Leave) } else { wish }
    }

    fn results_ui(&mut self, ui: &mut Ui, theme: &Theme) {
        if let Some(why) = &self.without_point {
            caution_ui(ui, why, theme);
        }
        if self.stale {
            let words = "The figures are those of the last form that could be predicted.";
            caution_ui(ui, words, theme);
        }
        let Some(outcome) = &mut self.outcome else {
            return;
        };
        let of_key = |key| outcome.figures.iter().find(|figure| figure.key == key);
        if let Some(figure) = self.why.and_then(of_key) {
            if formula_ui(ui, figure, "All figures", theme) {
                self.why = None;
            }
            return;
        }
        ui.horizontal(|ui| {
            for (tab, words) in [
                (Tab::Figures, "Figures"),
                (Tab::Curves(0), "Curves over torque"),
                (Tab::Curves(1), "Curves over duty"),
            ] {
                ui.selectable_value(&mut self.tab, tab, words);
            }
        });
        if let Tab::Curves(idx) = self.tab {
            return curves_ui(ui, outcome, idx, theme);
        }
        let asked = scroll_ui(ui, "prediction", |ui| {
            limits_ui(ui, &outcome.prediction, theme);
            doubt_ui(ui, outcome, theme);
            let asked = figures::all_ui(ui, &outcome.figures, theme);
            ranges_ui(ui, outcome, theme);
            simulated_ui(ui, outcome, theme);
            cautions_ui(ui, outcome, theme);
            asked
        });
        if asked.is_some() {
            self.why = asked;
        }
    }
}

/// That something is under way.
fn waiting_ui(ui: &mut Ui, words: &str) {
    ui.horizontal(|ui| {
        ui.spinner();
        ui.label(words);
    });
}

/// Curves in strips over one axis.
fn curves_ui(ui: &mut Ui, outcome: &mut Outcome, idx: usize, theme: &Theme) {
    let Some(panels) = outcome.panels(ui.ctx()) else {
        return waiting_ui(ui, "Making the curves");
    };
    let Some(panel) = panels.get(idx) else {
        ui.label("The motor does not even turn itself: there is no curve.");
        return;
    };
    let mut view = CurvesView {
        title: String::new(),
        panels: vec![panel.clone()],
        panel_points: PANEL_POINTS,
    };
    let words = format!(
        "Curves {}: {}",
        panel.heading,
        panel
            .strips
            .iter()
            .map(|strip| strip.name.as_str())
            .collect::<Vec<_>>()
            .join("; ")
    );
    let rect = ui.available_rect_before_wrap();
    let mut scene = curves(&view, theme);
    // as wide as the place is, at the height that the strips have
    let wide = f64::from(rect.width() / rect.height().max(1.0)) * (scene.high.y - scene.low.y);
    if wide > view.panel_points {
        view.panel_points = wide.min(MOST_CURVES * PANEL_POINTS);
        scene = curves(&view, theme);
    }
    picture_ui(ui, "curves", rect, &scene, Zoom::default(), &words);
}

/// How full each limit is, the fullest first: a bar, and the same in words.
fn limits_ui(ui: &mut Ui, prediction: &Prediction, theme: &Theme) {
    if prediction.limits.is_empty() {
        return;
    }
    style::heading_ui(ui, "What limits first", theme);
    for limit in &prediction.limits {
        let part = limit.part();
        let over = part > 1.0;
        let colour = style::colour(if over { theme.caution } else { theme.ink_soft });
        let unit = if limit.unit == "degC" {
            "°C"
        } else {
            limit.unit
        };
        let used = if limit.used.is_finite() {
            digits(limit.used)
        } else {
            "runs away".to_owned()
        };
        let mark = if over { "! over: " } else { "" };
        let words = format!(
            "{}: {mark}{used} of {} {unit} ({})",
            limit.name,
            digits(limit.allowed),
            limit.part_in_words()
        );
        ui.horizontal(|ui| {
            ui.spacing_mut().interact_size.y = style::gap(4.5);
            let (bar, _) =
                ui.allocate_exact_size(vec2(140.0, style::gap(2.5)), egui::Sense::hover());
            let track = style::colour(theme.line);
            ui.painter().rect_filled(bar, style::gap(0.5), track);
            #[expect(clippy::cast_possible_truncation, reason = "points on the screen")]
            let width = bar.width() * part.clamp(0.0, 1.0) as f32;
            let fill = Rect::from_min_size(bar.min, vec2(width, bar.height()));
            ui.painter().rect_filled(fill, style::gap(0.5), colour);
            let ink = if over { theme.caution } else { theme.ink };
            ui.label(RichText::new(words).color(style::colour(ink)));
        });
    }
    ui.add_space(style::gap(1.0));
}

/// Four significant digits without a unit.
fn digits(value: f64) -> String {
    let plain = Unit {
        symbol: "",
        per_si: 1.0,
        prefixed: false,
    };
    shown(value, plain, 4).number
}

/// Where the figures stop being true.
fn doubt_ui(ui: &mut Ui, outcome: &Outcome, theme: &Theme) {
    for doubt in doubts(&outcome.build, &outcome.prediction) {
        let words = RichText::new(doubt).color(style::colour(theme.ink_soft));
        ui.add(egui::Label::new(words).wrap());
    }
}

/// A key as words: "motor, line resistance".
fn key_words(key: &str) -> String {
    key.replace('.', ", ").replace('_', " ")
}

/// 95 % ranges where inputs carry a tolerance.
fn ranges_ui(ui: &mut Ui, outcome: &Outcome, theme: &Theme) {
    if let Some(spreading) = &outcome.spreading {
        let n = spreading.n_trials();
        let words = format!("95 % ranges: {n} of {TRIALS} trials are made");
        style::heading_ui(ui, &words, theme);
    }
    let Some(spread) = &outcome.spread else {
        return;
    };
    let words = format!(
        "95 % ranges of {} trials, and where they come from",
        spread.n_trials
    );
    style::heading_ui(ui, &words, theme);
    let ink = style::colour(theme.ink);
    egui::Grid::new("ranges")
        .num_columns(3)
        .spacing(vec2(style::gap(4.0), style::gap(0.5)))
        .show(ui, |ui| {
            ui.spacing_mut().interact_size.y = style::gap(4.5);
            for range in &spread.ranges {
                let figure = outcome
                    .figures
                    .iter()
                    .find(|figure| figure.key == range.key);
                let Some(figure) = figure else { continue };
                let [low, high] = shown_ends(
                    [range.low, range.high].map(|end| figure.without_dust(end)),
                    figure.unit,
                    DIGITS,
                );
                ui.label(figure.name);
                let words = format!("{} to {high}", low.number);
                ui.label(RichText::new(words).color(ink));
                let from = range
                    .influences
                    .iter()
                    .filter(|of| of.share >= 0.02)
                    .take(2);
                let from: Vec<String> = from
                    .map(|of| format!("{} {:.0} %", key_words(of.key), 100.0 * of.share))
                    .collect();
                ui.label(RichText::new(from.join(", ")).small());
                ui.end_row();
            }
        });
    ui.add_space(style::gap(1.0));
}

/// The same point by a full simulation, on request.
fn simulated_ui(ui: &mut Ui, outcome: &mut Outcome, theme: &Theme) {
    style::heading_ui(ui, "The same point, simulated in full", theme);
    let point = outcome.prediction.loaded;
    match &outcome.simulated {
        Asked::Not => {
            let button = ui.button("Simulate it");
            let hint = "The shaft held at this speed, every PWM edge and commutation";
            if button.on_hover_text(hint).clicked() {
                outcome.simulate(ui.ctx());
            }
        }
        Asked::UnderWay(_) => waiting_ui(ui, "Simulating it"),
        Asked::There(None) => {
            ui.label("The simulation of this point did not come to its end.");
        }
        Asked::There(Some(got)) => {
            let ink = style::colour(theme.ink);
            egui::Grid::new("simulated")
                .num_columns(4)
                .spacing(vec2(style::gap(4.0), style::gap(0.5)))
                .show(ui, |ui| {
                    ui.spacing_mut().interact_size.y = style::gap(4.5);
                    for words in ["figure", "predicted", "simulated", "differs"] {
                        ui.label(RichText::new(words).small());
                    }
                    ui.end_row();
                    for (name, unit, wanted, got) in [
                        ("torque", Unit::NEWTON_METRE, point.torque_nm, got.torque_nm),
                        (
                            "motor current",
                            Unit::AMPERE,
                            point.motor_current_a,
                            got.motor_current_a,
                        ),
                        (
                            "phase current, RMS",
                            Unit::AMPERE,
                            point.phase_rms_a,
                            got.phase_rms_a,
                        ),
                        (
                            "heat in the windings",
                            Unit::WATT,
                            point.copper_w,
                            got.copper_w,
                        ),
                    ] {
                        ui.label(name);
                        for value in [wanted, got] {
                            let words = shown(value, unit, 4).to_string();
                            ui.label(RichText::new(words).color(ink));
                        }
                        let words = signed_percent(wanted / got - 1.0);
                        ui.label(RichText::new(words).color(ink));
                        ui.end_row();
                    }
                });
            let words = beside_words(&outcome.build, &point);
            ui.add(egui::Label::new(RichText::new(words).small()).wrap());
        }
    }
    ui.add_space(style::gap(1.0));
}

fn cautions_ui(ui: &mut Ui, outcome: &Outcome, theme: &Theme) {
    let prediction = &outcome.prediction;
    let fastest_rad_s = prediction.no_load.speed_rad_s;
    let found = bench_cautions(&outcome.build, &prediction.loaded, fastest_rad_s);
    on_a_real_bench_ui(ui, found.iter().map(String::as_str), theme);
}
