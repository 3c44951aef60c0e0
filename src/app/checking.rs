//! The page of readings: what was measured on the left, what motor that tells of on the right, and
//! whether it can all be true.

use egui::{Context, Rect, RichText, Ui, vec2};

use super::form_page::{
    FormPage, caution_ui, estimates_ui, formula_ui, on_a_real_bench_ui, say_ui, scroll_ui, under_ui,
};
use super::job::{Job, Progress};
use super::picture::{Zoom, picture_ui};
use super::sheet_form::SheetForm;
use super::style;
use crate::analysis::signed_percent;
use crate::readings::{
    BenchSheet, Estimate, READINGS_SHEET, U_IN_WORDS, Verdict, bench_cautions, delta_in_words,
    example_sheet, figures as figures_of, judge_in_slices, label_checks, percent, setup_text,
};
use crate::scene::Theme;
use crate::scene::pulls::{PullsView, pulls};
use crate::setup::Setup;
use crate::slices::through;

/// Tables that a sheet of readings may leave out.
const OPTIONAL: &[&str] = &["label"];
/// What a person asked for.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Wish {
    /// Put the motor on the bench.
    Bench(Box<Setup>),
    /// Back to the bench.
    Leave,
}

/// What came of the readings.
#[derive(Debug)]
struct Outcome {
    sheet: BenchSheet,
    verdict: Verdict,
    estimates: Vec<Estimate>,
    /// The motor as a setup, or what it still lacks.
    setup: Result<String, String>,
}

type Judged = Result<Box<Outcome>, String>;

/// Weighs all causes: a few hundredths of a second, and some more where two slips came together.
async fn judged(sheet: BenchSheet) -> Judged {
    let verdict = judge_in_slices(&sheet)
        .await
        .map_err(|error| error.to_string())?;
    let estimates = figures_of(&sheet, &verdict);
    Ok(Box::new(Outcome {
        setup: setup_text(&sheet, &estimates).map_err(|error| error.to_string()),
        sheet,
        verdict,
        estimates,
    }))
}

/// What is shown of a verdict.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Tab {
    /// What motor it is, and whether all can be true.
    Verdict,
    /// Each reading beside what it should be.
    Readings,
}

/// A sheet of readings being filled in, and the last one that could be judged.
#[derive(Debug)]
pub(super) struct Checking {
    form: SheetForm,
    outcome: Option<Box<Outcome>>,
    without_motor: Option<String>,
    /// True where what stands in the form is not what the verdict is on.
    stale: bool,
    why: Option<&'static str>,
    tab: Tab,
    at_form: bool,
    /// All causes are being weighed anew.
    judging: Option<Job<Judged>>,
}

impl Checking {
    /// Begins with the example.
    pub(super) fn new() -> Self {
        let mut page = Self {
            form: SheetForm::new(&READINGS_SHEET, OPTIONAL, example_sheet()),
            outcome: None,
            without_motor: None,
            stale: false,
            why: None,
            tab: Tab::Verdict,
            at_form: true,
            judging: None,
        };
        if let Some(sheet) = page.form.read(BenchSheet::parse) {
            page.take(through(judged(sheet)));
        }
        page
    }

    /// Reads the form, and lets what it says be judged.
    fn read(&mut self, ctx: &Context) {
        let Some(sheet) = self.form.read(BenchSheet::parse) else {
            (self.stale, self.judging) = (true, None);
            return;
        };
        self.judging = Some(Job::begin(ctx, judged(sheet)));
    }

    /// Takes up a verdict that has come.
    fn advance(&mut self) {
        match self.judging.as_mut().map(Job::poll) {
            Some(Progress::Done(judged)) => self.take(judged),
            Some(Progress::Lost) => self.judging = None,
            Some(Progress::UnderWay) | None => {}
        }
    }

    fn take(&mut self, judged: Judged) {
        self.judging = None;
        match judged {
            Ok(outcome) => {
                self.outcome = Some(outcome);
                (self.without_motor, self.stale) = (None, false);
            }
            Err(words) => {
                self.without_motor = Some(words);
                self.stale = true;
            }
        }
    }

    /// True while a verdict is being found.
    pub(super) const fn is_busy(&self) -> bool {
        self.judging.is_some()
    }

    /// Takes the formula away. False where none is shown.
    pub(super) fn take_why(&mut self) -> bool {
        self.why.take().is_some()
    }

    /// Draws the page.
    pub(super) fn ui(&mut self, ui: &mut Ui, all: Rect, theme: &Theme) -> Option<Wish> {
        self.advance();
        let page = FormPage::new(all, theme);
        let wish = self.title_ui(ui, &page);
        let changed = page.form_ui(ui, self.at_form, |ui| self.form.ui(ui, theme));
        if changed == Some(true) {
            self.read(ui.ctx());
        }
        page.results_ui(ui, self.at_form, |ui| self.results_ui(ui, theme));
        wish
    }

    fn title_ui(&mut self, ui: &mut Ui, page: &FormPage<'_>) -> Option<Wish> {
        let mut wish = None;
        let ready = !self.stale && self.judging.is_none();
        let (form, ready) = (&self.form, self.outcome.as_ref().filter(|_| ready));
        let turns = ["Readings", "Verdict"];
        let leave = page.title_ui(ui, "After it is measured", &mut self.at_form, turns, |ui| {
            let setup = ready.map(|outcome| &outcome.setup);
            let text = setup.and_then(|setup| setup.as_ref().ok());
            let put = egui::Button::new("Put the motor on the bench");
            let put = ui.add_enabled(text.is_some(), put);
            let lacks = setup.and_then(|setup| setup.as_ref().err());
            let hint = lacks.map_or("As a setup; Undo takes that back", String::as_str);
            let put = put.on_hover_text(hint).on_disabled_hover_text(hint);
            if let (true, Some(text)) = (put.clicked(), text)
                && let Ok(setup) = Setup::parse(text, "readings")
            {
                wish = Some(Wish::Bench(Box::new(setup)));
            }
            let copy = ui.button("Copy as text");
            let copy = copy.on_hover_text("As a file, for `wyebench readings`");
            if copy.clicked() {
                ui.copy_text(form.text());
            }
        });
        if leave { Some(Wish::Leave) } else { wish }
    }

    fn results_ui(&mut self, ui: &mut Ui, theme: &Theme) {
        if let Some(why) = &self.without_motor {
            caution_ui(ui, why, theme);
        }
        if self.stale {
            let words = "The verdict is on the last form that could be judged.";
            caution_ui(ui, words, theme);
        }
        if self.judging.is_some() {
            under_ui(ui, "Weighing what may have gone wrong");
        }
        let Some(outcome) = &self.outcome else {
            return;
        };
        let of_key = |key| outcome.estimates.iter().find(|e| e.figure.key == key);
        if let Some(estimate) = self.why.and_then(of_key) {
            if formula_ui(ui, &estimate.figure, "The verdict", theme) {
                self.why = None;
            }
            return;
        }
        ui.horizontal(|ui| {
            for (tab, words) in [(Tab::Verdict, "Verdict"), (Tab::Readings, "Each reading")] {
                ui.selectable_value(&mut self.tab, tab, words);
            }
        });
        if self.tab == Tab::Readings {
            return readings_ui(ui, outcome, theme);
        }
        let asked = scroll_ui(ui, "verdict", |ui| {
            opinion_ui(ui, outcome, theme);
            let heading = outcome.verdict.motor_heading(&outcome.sheet);
            style::heading_ui(ui, &heading, theme);
            let asked = estimates_ui(ui, "motor", &outcome.estimates, theme);
            if let Some(words) = delta_in_words(&outcome.estimates) {
                under_ui(ui, words);
            }
            label_ui(ui, outcome, theme);
            next_ui(ui, outcome, theme);
            let cautions = bench_cautions(&outcome.sheet, &outcome.estimates);
            on_a_real_bench_ui(ui, cautions.iter().map(String::as_str), theme);
            asked
        });
        if asked.is_some() {
            self.why = asked;
        }
    }
}

/// Whether the readings agree; if not, what contradicts what, and what is likely.
fn opinion_ui(ui: &mut Ui, outcome: &Outcome, theme: &Theme) {
    let (sheet, verdict) = (&outcome.sheet, &outcome.verdict);
    let opinion = verdict.opinion(sheet);
    if opinion.is_caution {
        caution_ui(ui, &opinion.to_string(), theme);
    } else {
        say_ui(ui, &format!("= {opinion}"), theme);
    }
    if verdict.agree {
        return;
    }
    for line in verdict.slips(sheet) {
        say_ui(ui, &line, theme);
    }
    if let Some((words, list)) = verdict.suspects_in_words(sheet) {
        say_ui(ui, &words, theme);
        for suspect in list {
            under_ui(ui, &suspect);
        }
    }
    style::heading_ui(ui, verdict.likely_heading(), theme);
    for ranked in verdict.likely() {
        let percent = percent(ranked.probability);
        say_ui(ui, &format!("{percent} %  {}", ranked.title(sheet)), theme);
        for remedy in ranked.remedies() {
            under_ui(ui, remedy);
        }
    }
    ui.add_space(style::gap(1.0));
}

/// The label beside the motor.
fn label_ui(ui: &mut Ui, outcome: &Outcome, theme: &Theme) {
    let checks = label_checks(&outcome.sheet, &outcome.estimates);
    if checks.is_empty() {
        return;
    }
    style::heading_ui(ui, "The label", theme);
    let ink = style::colour(theme.ink);
    egui::Grid::new("label")
        .num_columns(5)
        .spacing(vec2(style::gap(4.0), style::gap(0.5)))
        .show(ui, |ui| {
            ui.spacing_mut().interact_size.y = style::gap(4.5);
            for words in ["claim", "label", "found", "differs", "holds"] {
                ui.label(RichText::new(words).small());
            }
            ui.end_row();
            for check in checks {
                ui.label(check.name);
                ui.label(RichText::new(&check.claimed).color(ink));
                ui.label(RichText::new(&check.found).color(ink));
                let differs = signed_percent(check.differs);
                ui.label(RichText::new(differs).color(ink));
                if check.holds {
                    ui.label("yes");
                } else {
                    ui.label(RichText::new("! no").color(style::colour(theme.caution)));
                }
                ui.end_row();
            }
        });
    ui.add_space(style::gap(1.0));
}

/// What to measure next.
fn next_ui(ui: &mut Ui, outcome: &Outcome, theme: &Theme) {
    let verdict = &outcome.verdict;
    if verdict.next.is_empty() {
        return;
    }
    style::heading_ui(ui, verdict.next_heading(), theme);
    for (idx, step) in verdict.next.iter().enumerate() {
        say_ui(ui, &format!("{}. {}", idx + 1, step.what), theme);
        for (cause, value) in step.expect.iter().flatten() {
            under_ui(ui, &format!("About {value}: {cause}."));
        }
    }
    ui.add_space(style::gap(1.0));
}

/// Each reading beside what it should be: how far off as a picture, and the same in a table.
fn readings_ui(ui: &mut Ui, outcome: &Outcome, theme: &Theme) {
    let view = PullsView::of(&outcome.sheet, &outcome.verdict);
    scroll_ui(ui, "each reading", |ui| {
        let heading = outcome.verdict.readings_heading(&outcome.sheet);
        style::heading_ui(ui, &heading, theme);
        let scene = pulls(&view, theme);
        let size = scene.high - scene.low;
        #[expect(clippy::cast_possible_truncation, reason = "points on the screen")]
        let (wide, high) = (size.x as f32, size.y as f32);
        let width = ui.available_width().min(1.2 * wide);
        let (place, _) =
            ui.allocate_exact_size(vec2(width, high * width / wide), egui::Sense::hover());
        let words = "How far each reading is off, in its standard uncertainty";
        picture_ui(ui, "pulls", place, &scene, Zoom::default(), words);
        under_ui(ui, U_IN_WORDS);
        checks_ui(ui, outcome, theme);
    });
}

/// The same in a table, with what each should be.
fn checks_ui(ui: &mut Ui, outcome: &Outcome, theme: &Theme) {
    let ink = style::colour(theme.ink);
    egui::Grid::new("checks")
        .num_columns(4)
        .spacing(vec2(style::gap(4.0), style::gap(0.5)))
        .show(ui, |ui| {
            ui.spacing_mut().interact_size.y = style::gap(4.5);
            for words in ["reading", "as noted", "should be", ""] {
                ui.label(RichText::new(words).small());
            }
            ui.end_row();
            for check in &outcome.verdict.should_be {
                let reading = outcome.sheet.readings.get(check.idx);
                let Some(reading) = reading.filter(|reading| reading.is_checked()) else {
                    continue;
                };
                ui.label(reading.place());
                ui.label(RichText::new(reading.with_range()).color(ink));
                ui.label(RichText::new(reading.shown(check.fitted)).color(ink));
                if check.is_marked() {
                    let words = RichText::new(format!("! {}", check.words()));
                    ui.label(words.color(style::colour(theme.caution)));
                } else {
                    ui.label(check.words());
                }
                ui.end_row();
            }
        });
    ui.add_space(style::gap(1.0));
}
