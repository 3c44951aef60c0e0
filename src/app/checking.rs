//! The page of readings: what was measured on the left, what motor that tells of on the right, and
//! whether it can all be true.

use egui::{Rect, RichText, Ui, vec2};

use super::figures;
use super::sheet_form::SheetForm;
use super::style;
use crate::analysis::{Figure, Value, shown};
use crate::readings::{
    BenchSheet, Cause, Estimate, READINGS_SHEET, Verdict, example_sheet, figures as figures_of,
    judge, label_checks, setup_text,
};
use crate::scene::Theme;
use crate::setup::Setup;

/// Tables that a sheet of readings may leave out.
const OPTIONAL: &[&str] = &["label"];
/// Causes below this probability are not named, and at most so many are.
const LEAST_NAMED: f64 = 0.02;
const MOST_NAMED: usize = 5;
/// A reading that lies so many standard uncertainties from the others is marked.
const MARKED: f64 = 3.0;
/// The cautions of the tests themselves.
const CAUTIONS: [&str; 3] = [
    "Spinning by a drill: clamp the motor, no propeller, sleeves and hair away; the open leads carry \
     voltage.",
    "Stall: the winding heats within seconds; a few seconds at a time, from a supply with a current \
     limit, not from a lithium pack.",
    "Local rules and the data of your own parts go before these lines.",
];

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

/// A sheet of readings being filled in, and the last one that could be judged.
#[derive(Debug)]
pub(super) struct Checking {
    form: SheetForm,
    outcome: Option<Outcome>,
    without_motor: Option<String>,
    /// True where what stands in the form is not what the verdict is on.
    stale: bool,
    why: Option<&'static str>,
    at_form: bool,
    /// The form has changed: what it says is judged in the next frame that nobody types in.
    due: bool,
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
            at_form: true,
            due: false,
        };
        page.read();
        page
    }

    fn read(&mut self) {
        self.due = false;
        let Some(sheet) = self.form.read(BenchSheet::parse) else {
            self.stale = true;
            return;
        };
        match judge(&sheet) {
            Ok(verdict) => {
                let estimates = figures_of(&sheet, &verdict);
                self.outcome = Some(Outcome {
                    setup: setup_text(&sheet, &estimates).map_err(|error| error.to_string()),
                    sheet,
                    verdict,
                    estimates,
                });
                (self.without_motor, self.stale) = (None, false);
            }
            Err(error) => {
                self.without_motor = Some(error.to_string());
                self.stale = true;
            }
        }
    }

    /// Takes the formula away. False where none is shown.
    pub(super) fn take_why(&mut self) -> bool {
        self.why.take().is_some()
    }

    /// Draws the page.
    pub(super) fn ui(&mut self, ui: &mut Ui, all: Rect, theme: &Theme) -> Option<Wish> {
        let gap = style::gap(2.0);
        let all = all.shrink(gap);
        let (title, rest) = style::cut_top(all, style::gap(8.0), gap);
        let (form, results, narrow) = style::form_and_results(rest);
        let wish = self.title_ui(ui, title, narrow, theme);
        if self.due {
            self.read();
        }
        if !narrow || self.at_form {
            style::panel_ui(ui, form, theme, |ui| {
                let area = egui::ScrollArea::vertical()
                    .id_salt("sheet")
                    .auto_shrink(false);
                if area.show(ui, |ui| self.form.ui(ui, theme)).inner {
                    // All causes are weighed anew: not in the frame that shows the letter.
                    self.due = true;
                    ui.ctx().request_repaint();
                }
            });
        }
        if !narrow || !self.at_form {
            style::panel_ui(ui, results, theme, |ui| self.results_ui(ui, theme));
        }
        wish
    }

    fn title_ui(&mut self, ui: &mut Ui, rect: Rect, narrow: bool, theme: &Theme) -> Option<Wish> {
        let mut wish = None;
        let layout = egui::Layout::right_to_left(egui::Align::Center);
        let builder = egui::UiBuilder::new().max_rect(rect).layout(layout);
        ui.scope_builder(builder, |ui| {
            if ui
                .button("Back to the bench")
                .on_hover_text("Leave this page · Esc")
                .clicked()
            {
                wish = Some(Wish::Leave);
            }
            let ready = self.outcome.as_ref().filter(|_| !self.stale);
            let setup = ready.map(|outcome| &outcome.setup);
            let text = setup.and_then(|setup| setup.as_ref().ok());
            let put = ui.add_enabled(
                text.is_some(),
                egui::Button::new("Put the motor on the bench"),
            );
            let lacks = setup.and_then(|setup| setup.as_ref().err());
            let hint = lacks.map_or("As a setup; Undo takes that back", String::as_str);
            let put = put.on_hover_text(hint).on_disabled_hover_text(hint);
            if let (true, Some(text)) = (put.clicked(), text)
                && let Ok(setup) = Setup::parse(text, "readings")
            {
                wish = Some(Wish::Bench(Box::new(setup)));
            }
            let copy = ui.button("Copy as text");
            if copy
                .on_hover_text("As a file, for `wyebench readings`")
                .clicked()
            {
                ui.copy_text(self.form.text());
            }
            if narrow {
                let words = if self.at_form { "Verdict" } else { "Readings" };
                if ui.button(words).clicked() {
                    self.at_form = !self.at_form;
                }
            }
            ui.with_layout(egui::Layout::left_to_right(egui::Align::Center), |ui| {
                let words = RichText::new("After it is measured").font(style::type_size(2));
                ui.label(words.color(style::colour(theme.ink)));
            });
        });
        wish
    }

    fn results_ui(&mut self, ui: &mut Ui, theme: &Theme) {
        if let Some(why) = &self.without_motor {
            caution(ui, why, theme);
        }
        if self.stale {
            caution(
                ui,
                "The verdict is on the last form that could be judged.",
                theme,
            );
        }
        let Some(outcome) = &self.outcome else {
            return;
        };
        let asked_for = self.why.and_then(|key| {
            let of_key = |estimate: &&Estimate| estimate.figure.key == key;
            outcome.estimates.iter().find(of_key)
        });
        if let Some(estimate) = asked_for {
            ui.horizontal(|ui| {
                let words = RichText::new(estimate.figure.name).font(style::type_size(2));
                ui.label(words.color(style::colour(theme.ink)));
                if ui.button("The verdict").on_hover_text("Esc").clicked() {
                    self.why = None;
                }
            });
            egui::ScrollArea::vertical()
                .id_salt("why of a reading")
                .auto_shrink(false)
                .show(ui, |ui| figures::why_ui(ui, &estimate.figure, theme));
            return;
        }
        let mut asked = None;
        egui::ScrollArea::vertical()
            .id_salt("verdict")
            .auto_shrink(false)
            .show(ui, |ui| {
                opinion_ui(ui, outcome, theme);
                asked = motor_ui(ui, outcome, theme);
                label_ui(ui, outcome, theme);
                next_ui(ui, outcome, theme);
                checks_ui(ui, outcome, theme);
                style::heading_ui(ui, "On a real bench", theme);
                for words in CAUTIONS {
                    caution(ui, words, theme);
                }
            });
        if asked.is_some() {
            self.why = asked;
        }
    }
}

fn caution(ui: &mut Ui, words: &str, theme: &Theme) {
    let words = RichText::new(format!("! {words}")).color(style::colour(theme.caution));
    ui.add(egui::Label::new(words).wrap());
}

fn say(ui: &mut Ui, words: &str, theme: &Theme) {
    let words = RichText::new(words).color(style::colour(theme.ink));
    ui.add(egui::Label::new(words).wrap());
}

/// Whether the readings agree; if not, what contradicts what, and what is likely.
fn opinion_ui(ui: &mut Ui, outcome: &Outcome, theme: &Theme) {
    let (sheet, verdict) = (&outcome.sheet, &outcome.verdict);
    let chi = format!(
        "chi-square {:.1} with {} to spare; as large in {:.0} of 100 sound sheets",
        verdict.chi_square,
        verdict.freedom,
        100.0 * verdict.exceeded
    );
    if verdict.freedom == 0 {
        say(
            ui,
            "No reading is to spare: nothing checks them against each other.",
            theme,
        );
        return;
    }
    if verdict.agree && verdict.exceeded >= 0.01 {
        say(ui, &format!("= The readings agree ({chi})."), theme);
        return;
    }
    if verdict.agree {
        let words = format!(
            "The readings scatter more than they should ({chi}), and no single slip explains it."
        );
        caution(ui, &words, theme);
        return;
    }
    caution(
        ui,
        &format!("These readings cannot all be true ({chi})."),
        theme,
    );
    for line in verdict.slips(sheet) {
        say(ui, &line, theme);
    }
    style::heading_ui(ui, "Likely causes, one slip at a time", theme);
    let named = verdict
        .causes
        .iter()
        .filter(|ranked| ranked.probability >= LEAST_NAMED);
    for ranked in named.take(MOST_NAMED) {
        let words = format!(
            "{:.0} %  {}",
            100.0 * ranked.probability,
            ranked.cause.title(sheet)
        );
        say(ui, &words, theme);
        let remedy = ranked.cause.remedy();
        if !remedy.is_empty() {
            ui.add(egui::Label::new(RichText::new(remedy).small()).wrap());
        }
    }
    ui.add_space(style::gap(1.0));
}

/// The motor's figures with their ranges. The key of one that was asked about.
fn motor_ui(ui: &mut Ui, outcome: &Outcome, theme: &Theme) -> Option<&'static str> {
    let mut asked = None;
    let words = match outcome.verdict.taken() {
        Some(taken) if taken.cause != Cause::AllRight => format!(
            "The motor, if {} (95 of 100 lie within ±)",
            taken.cause.title(&outcome.sheet)
        ),
        _ => "The motor (95 of 100 lie within ±)".to_owned(),
    };
    style::heading_ui(ui, &words, theme);
    let ink = style::colour(theme.ink);
    egui::Grid::new("motor")
        .num_columns(2)
        .spacing(vec2(style::gap(4.0), style::gap(0.5)))
        .show(ui, |ui| {
            ui.spacing_mut().interact_size.y = style::gap(5.0);
            ui.spacing_mut().button_padding = vec2(style::gap(1.0), 0.0);
            for Estimate { figure, expanded } in &outcome.estimates {
                ui.label(figure.name);
                let words = value_words(figure, *expanded);
                let button = ui.add(egui::Button::new(RichText::new(&words).color(ink)));
                let name = format!("{}: {words}", figure.name);
                button.widget_info(|| egui::WidgetInfo::labeled(egui::Role::Button, true, &name));
                if button.on_hover_text("Click for the formula").clicked() {
                    asked = Some(figure.key);
                }
                ui.end_row();
            }
        });
    ui.add_space(style::gap(1.0));
    asked
}

/// A value with its range; why there is none.
fn value_words(figure: &Figure, expanded: Option<f64>) -> String {
    match (&figure.value, expanded) {
        (Value::Absent(why), _) => format!("open: {why}"),
        (_, Some(expanded)) => {
            format!("{} ± {}", figure.shown(4), shown(expanded, figure.unit, 2))
        }
        _ => figure.shown(4).to_string(),
    }
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
                let differs = format!("{:+.1} %", 100.0 * check.differs);
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
    let heading = if verdict.agree {
        "What would tell more"
    } else {
        "What settles it"
    };
    style::heading_ui(ui, heading, theme);
    for (idx, step) in verdict.next.iter().enumerate() {
        say(ui, &format!("{}. {}", idx + 1, step.what), theme);
        for (cause, value) in step.expect.iter().flatten() {
            let words = format!("About {value}: {}.", cause.title(&outcome.sheet));
            ui.add(egui::Label::new(RichText::new(words).small()).wrap());
        }
    }
    ui.add_space(style::gap(1.0));
}

/// Each reading beside what the others say of it.
fn checks_ui(ui: &mut Ui, outcome: &Outcome, theme: &Theme) {
    style::heading_ui(ui, "Each reading, beside what the others say of it", theme);
    let ink = style::colour(theme.ink);
    egui::Grid::new("checks")
        .num_columns(4)
        .spacing(vec2(style::gap(4.0), style::gap(0.5)))
        .show(ui, |ui| {
            ui.spacing_mut().interact_size.y = style::gap(4.5);
            for words in [
                "reading",
                "noted",
                "should be",
                "off, in standard uncertainties",
            ] {
                ui.label(RichText::new(words).small());
            }
            ui.end_row();
            for check in &outcome.verdict.should_be {
                let reading = outcome.sheet.readings.get(check.idx);
                let Some(reading) = reading.filter(|reading| reading.is_checked()) else {
                    continue;
                };
                ui.label(reading.place());
                ui.label(RichText::new(reading.shown(reading.value)).color(ink));
                ui.label(RichText::new(reading.shown(check.fitted)).color(ink));
                match check.normalised {
                    None => ui.label("checked by no other"),
                    Some(off) if off.abs() >= MARKED => {
                        let words = RichText::new(format!("! {off:+.1}"));
                        ui.label(words.color(style::colour(theme.caution)))
                    }
                    Some(off) => ui.label(format!("{off:+.1}")),
                };
                ui.end_row();
            }
        });
    ui.add_space(style::gap(1.0));
}
