//! The page of choosing backwards: what the load has to do on the left, on the right the builds that
//! do it in their order, and why the others do not.

use std::path::PathBuf;
use std::sync::Arc;

use egui::{Context, Rect, RichText, Ui};

use super::file_field::{FileField, FileWish};
use super::form_page::{
    FormPage, caution_ui, formula_ui, on_a_real_bench_ui, say_ui, scroll_ui, under_ui,
};
use super::job::{Job, Progress};
use super::sheet_form::{SheetForm, field_row_ui, word_ui};
use super::style;
use crate::analysis::TABLE_DIGITS;
use crate::choose::{
    AnswerWords, Choice, GOAL_SHEET, Goal, Need, Parts, Rank, Row, Summary, example_goal,
    example_parts, needs,
};
use crate::predict::predict;
use crate::scene::Theme;
use crate::setup::{MAX_TEXT_BYTES, Setup};

/// Tables that a goal may leave out.
const OPTIONAL: &[&str] = &[
    "motor",
    "pack",
    "controller",
    "gear",
    "propeller",
    "vehicle",
    "pump",
    "winch",
    "load",
];
/// Combinations between two looks at how far it is: on threads so many that there is little waiting.
const AT_ONCE: u64 = 400;
/// Answers, reasons and parts that are listed at first, and more with each click.
const LISTED: usize = 12;
/// What the drawers that come with the program are called.
const BUILT_IN: &str = "the built-in drawers, all invented";
/// What counts as best, in words.
const RANKS: [(Rank, &str); 3] = [
    (Rank::Power, "least power from the pack"),
    (Rank::RunTime, "longest run time"),
    (Rank::Margin, "most of every limit free"),
];

/// What a person asked for.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Wish {
    /// Put a build on the bench.
    Bench(Box<Setup>),
    /// Show a build, given as its file, among the predictions.
    Predict(String),
    /// Read the table of parts from a file.
    Read(PathBuf),
    /// Ask which file.
    Pick,
    /// Back to the bench.
    Leave,
}

/// A search, as far as it is.
#[derive(Debug)]
struct Search {
    choice: Arc<Choice>,
    needs: Vec<Need>,
    rows: Vec<Row>,
    job: Option<Job<Vec<Row>>>,
    /// Once all combinations were tried.
    found: Option<Found>,
}

/// What came of a search; what takes all rows to say is made into words once.
#[derive(Debug)]
struct Found {
    summary: Summary,
    /// How many combinations miss for one reason, and the nearest of them.
    reasons: Vec<(usize, String)>,
    /// Parts that no answer has.
    left_out: Vec<String>,
    /// What goes with the best answer.
    words: AnswerWords,
}

/// What is shown of a search.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Tab {
    Answers,
    Reasons,
    Asked,
}

/// A goal being filled in, the parts, and what came of them.
#[derive(Debug)]
pub(super) struct Choosing {
    form: SheetForm,
    file: FileField,
    parts: Parts,
    parts_name: String,
    /// What is wrong with the last file of parts.
    wrong_parts: Option<String>,
    rank: String,
    search: Option<Search>,
    /// Why there is nothing to search.
    without: Option<String>,
    stale: bool,
    tab: Tab,
    /// How many are listed.
    listed: usize,
    /// Which need and figure is explained.
    why: Option<(usize, &'static str)>,
    at_form: bool,
}

impl Choosing {
    /// Begins with the example and the built-in parts.
    pub(super) fn new() -> Self {
        let mut page = Self {
            form: SheetForm::new(&GOAL_SHEET, OPTIONAL, example_goal()),
            file: FileField::default(),
            parts: Parts::default(),
            parts_name: String::new(),
            wrong_parts: None,
            rank: String::new(),
            search: None,
            without: None,
            stale: false,
            tab: Tab::Answers,
            listed: LISTED,
            why: None,
            at_form: true,
        };
        page.built_in();
        page.begin();
        page
    }

    fn built_in(&mut self) {
        // the built-in table is read by a test; were it not read, none would be listed
        self.parts = Parts::parse(example_parts(), BUILT_IN).unwrap_or_default();
        BUILT_IN.clone_into(&mut self.parts_name);
        self.wrong_parts = None;
        self.file.set(String::new());
    }

    /// Takes a table of parts from the bytes of a file of that name.
    pub(super) fn take(&mut self, name: &str, bytes: &[u8]) {
        let read = std::str::from_utf8(bytes)
            .map_err(|error| format!("{name} is not text in UTF-8: {error}."))
            .and_then(|text| {
                Parts::parse(text, name).map_err(|errors| super::shelf::report(&errors))
            });
        match read {
            Ok(parts) => {
                self.parts = parts;
                name.clone_into(&mut self.parts_name);
                self.wrong_parts = None;
                self.begin();
            }
            Err(words) => self.wrong_parts = Some(words),
        }
    }

    /// Says why no file was taken.
    pub(super) fn refuse(&mut self, words: String) {
        self.wrong_parts = Some(words);
    }

    /// The most bytes that a table of parts may have.
    pub(super) const MOST_BYTES: usize = MAX_TEXT_BYTES;

    /// Begins a search for what the form says.
    fn begin(&mut self) {
        let Some(goal) = self.form.read(Goal::parse) else {
            self.stale = true;
            return;
        };
        match Choice::new(goal, self.parts.clone()) {
            Ok(choice) => {
                self.search = Some(Search {
                    needs: needs(&choice),
                    choice: Arc::new(choice),
                    rows: Vec::new(),
                    job: None,
                    found: None,
                });
                (self.without, self.stale) = (None, false);
                (self.listed, self.why) = (LISTED, None);
            }
            Err(error) => {
                self.without = Some(error.to_string());
                self.stale = true;
            }
        }
    }

    fn rank(&self) -> Rank {
        let named = RANKS.iter().find(|(_, words)| *words == self.rank);
        named.map_or(Rank::Power, |(rank, _)| *rank)
    }

    /// Takes up what was tried, and begins with more.
    fn advance(&mut self, ctx: &Context) {
        let rank = self.rank();
        let Some(search) = &mut self.search else {
            return;
        };
        if search.found.is_some() {
            return;
        }
        match search.job.as_mut().map(Job::poll) {
            Some(Progress::UnderWay) => return,
            Some(Progress::Done(rows)) => search.rows.extend(rows),
            // begun anew from where it was
            Some(Progress::Lost) | None => {}
        }
        ctx.request_repaint();
        let n = search.choice.n_combinations();
        let done = search.rows.len() as u64;
        if done >= n {
            let rows = std::mem::take(&mut search.rows);
            let summary = Summary::new(&search.choice, rows, rank);
            search.found = Some(Found::of(&search.choice, summary));
            search.job = None;
            return;
        }
        let choice = Arc::clone(&search.choice);
        let to = (done + AT_ONCE).min(n);
        search.job = Some(Job::begin(ctx, tried(choice, done..to)));
    }

    /// True while combinations are being tried.
    pub(super) fn is_busy(&self) -> bool {
        self.search
            .as_ref()
            .is_some_and(|search| search.found.is_none())
    }

    /// Takes the formula away. False where none is shown.
    pub(super) fn take_why(&mut self) -> bool {
        self.why.take().is_some()
    }

    /// Draws the page.
    pub(super) fn ui(&mut self, ui: &mut Ui, all: Rect, theme: &Theme) -> Option<Wish> {
        self.advance(ui.ctx());
        let page = FormPage::new(all, theme);
        let form = &self.form;
        let turns = ["Goal", "Answers"];
        let leave = page.title_ui(ui, "Parts that would do", &mut self.at_form, turns, |ui| {
            let copy = ui.button("Copy as text");
            let copy = copy.on_hover_text("As a goal file, for `wyebench choose`");
            if copy.clicked() {
                ui.copy_text(form.text());
            }
        });
        let mut wish = leave.then_some(Wish::Leave);
        let said = page.form_ui(ui, self.at_form, |ui| self.form_ui(ui, theme));
        wish = wish.or(said.flatten());
        let at_form = self.at_form;
        let mut asked = None;
        page.results_ui(ui, at_form, |ui| asked = self.results_ui(ui, theme));
        wish.or(asked)
    }

    /// The parts, what counts as best, and the goal.
    fn form_ui(&mut self, ui: &mut Ui, theme: &Theme) -> Option<Wish> {
        let mut wish = None;
        style::heading_ui(ui, "Parts", theme);
        under_ui(
            ui,
            &format!("From {}: {}.", self.parts_name, in_drawers(&self.parts)),
        );
        let about = "A table as comma-separated values, one part a row, the keys of a build file as columns";
        match self.file.ui(ui, "File", about) {
            Some(FileWish::Read(path)) => wish = Some(Wish::Read(path)),
            Some(FileWish::Pick) => wish = Some(Wish::Pick),
            None => {}
        }
        ui.horizontal(|ui| {
            let own = self.parts_name != BUILT_IN;
            let built_in = ui.add_enabled(own, egui::Button::new("Built-in parts"));
            if built_in.clicked() {
                self.built_in();
                self.begin();
            }
            let copy = ui.button("Copy the built-in table");
            if copy.on_hover_text("To begin a table of your own").clicked() {
                ui.copy_text(example_parts().to_owned());
            }
        });
        if let Some(words) = &self.wrong_parts {
            let words = RichText::new(format!("! {words}")).font(style::mono(0));
            let words = words.color(style::colour(theme.caution));
            ui.add(egui::Label::new(words).wrap());
        }
        ui.add_space(style::gap(1.0));
        let rank = &mut self.rank;
        let ranked = field_row_ui(
            ui,
            "Best is",
            "What the answers are ranked by",
            |ui, width, label| {
                let words = RANKS.map(|(_, words)| words);
                word_ui(ui, "rank", rank, &words, words[0], width, label)
            },
        );
        if self.form.ui(ui, theme) || ranked {
            self.begin();
            ui.ctx().request_repaint();
        }
        wish
    }

    fn results_ui(&mut self, ui: &mut Ui, theme: &Theme) -> Option<Wish> {
        if let Some(why) = &self.without {
            caution_ui(ui, why, theme);
        }
        if self.stale {
            let words = "The answers are those of the last goal that could be read.";
            caution_ui(ui, words, theme);
        }
        let search = self.search.as_ref()?;
        if let Some((at, key)) = self.why {
            let need = search.needs.get(at);
            let figure = need.and_then(|need| need.figures.iter().find(|f| f.key == key));
            if let Some(figure) = figure {
                if formula_ui(ui, figure, "All answers", theme) {
                    self.why = None;
                }
                return None;
            }
        }
        ui.horizontal(|ui| {
            for (tab, words) in [
                (Tab::Answers, "Answers"),
                (Tab::Reasons, "Why the others do not"),
                (Tab::Asked, "What the goal asks"),
            ] {
                if ui.selectable_value(&mut self.tab, tab, words).clicked() {
                    self.listed = LISTED;
                }
            }
        });
        if self.tab == Tab::Asked {
            if let Some(why) = asked_ui(ui, &search.needs, &mut self.listed, theme) {
                self.why = Some(why);
            }
            return None;
        }
        let Some(found) = &search.found else {
            let n = search.choice.n_combinations();
            let done = search.rows.len();
            say_ui(ui, &format!("{done} of {n} combinations tried."), theme);
            #[expect(clippy::cast_precision_loss, reason = "some hundred thousand at most")]
            let share = done as f32 / n.max(1) as f32;
            ui.add(egui::ProgressBar::new(share));
            return None;
        };
        match self.tab {
            Tab::Reasons => {
                reasons_ui(ui, found, &mut self.listed, theme);
                None
            }
            _ => answers_ui(ui, search, found, &mut self.listed, theme),
        }
    }
}

/// Some combinations in their order.
async fn tried(choice: Arc<Choice>, idxs: std::ops::Range<u64>) -> Vec<Row> {
    #[cfg(not(target_arch = "wasm32"))]
    {
        use rayon::prelude::*;
        let idxs: Vec<u64> = idxs.collect();
        idxs.into_par_iter()
            .map(|idx| choice.evaluate(idx))
            .collect()
    }
    #[cfg(target_arch = "wasm32")]
    {
        let mut rows = Vec::new();
        for idx in idxs {
            crate::slices::rest().await;
            rows.push(choice.evaluate(idx));
        }
        rows
    }
}

/// How many parts of each kind there are.
fn in_drawers(parts: &Parts) -> String {
    let counts = [
        (parts.motors.len(), "motors"),
        (parts.packs.len(), "packs"),
        (parts.controllers.len(), "controllers"),
        (parts.gears.len(), "gears"),
        (parts.propellers.len(), "propellers"),
    ];
    counts.map(|(n, what)| format!("{n} {what}")).join(", ")
}

impl Found {
    fn of(choice: &Choice, summary: Summary) -> Self {
        let reasons = summary.reasons();
        let reasons = reasons.iter().map(|tally| {
            let nearest = choice.names(tally.closest.0);
            (tally.n, format!("{nearest}: {}", tally.closest.1))
        });
        let reasons = reasons.collect();
        let left_out = summary.parts_left_out();
        let left_out = left_out
            .iter()
            .filter(|part| !choice.is_fixed(part.axis))
            .map(|part| part.words(choice))
            .collect();
        let best = summary.answers().next();
        let words = best.and_then(|row| AnswerWords::of(choice, row));
        Self {
            reasons,
            left_out,
            words: words.unwrap_or_default(),
            summary,
        }
    }
}

/// The answers in their order.
fn answers_ui(
    ui: &mut Ui,
    search: &Search,
    found: &Found,
    listed: &mut usize,
    theme: &Theme,
) -> Option<Wish> {
    let mut wish = None;
    scroll_ui(ui, "answers", |ui| {
        let answers = found.summary.answers();
        let (n, all) = (answers.len(), found.summary.n_rows());
        let words = match n {
            0 => {
                format!("None of {all} combinations meets the goal; why stands under the next tab.")
            }
            1 => format!("1 of {all} combinations meets the goal."),
            n => format!("{n} of {all} combinations meet the goal, the best first."),
        };
        say_ui(ui, &words, theme);
        for (at, row) in answers.take(*listed).enumerate() {
            let Ok(answer) = &row.outcome else {
                continue;
            };
            ui.add_space(style::gap(1.0));
            say_ui(
                ui,
                &format!("{}. {}", at + 1, search.choice.names(row)),
                theme,
            );
            let totals = search.choice.totals(row).words();
            let gap = if totals.is_empty() { "" } else { "; " };
            let words = format!("duty {:.2}; {}{gap}{totals}", answer.duty, answer.words());
            under_ui(ui, &words);
            ui.horizontal(|ui| {
                let mut small = |words: &str, hint: &str| {
                    let button = ui.button(words);
                    let name = format!("{words}: answer {}", at + 1);
                    let role = egui::Role::Button;
                    button.widget_info(|| egui::WidgetInfo::labeled(role, true, &name));
                    button.on_hover_text(hint).clicked()
                };
                let bench = small("Put it on the bench", "As a setup; Undo takes that back");
                let predict_it = small("Predict it", "All figures and curves of it");
                if (bench || predict_it)
                    && let Some(build) = search.choice.build(row)
                {
                    if predict_it {
                        wish = Some(Wish::Predict(build.to_toml()));
                    } else if let Ok(prediction) = predict(&build) {
                        let setup = build.to_setup(&prediction.loaded);
                        wish = Some(Wish::Bench(Box::new(setup)));
                    }
                }
            });
        }
        more_ui(ui, n, listed);
        if !found.words.doubts.is_empty() {
            style::heading_ui(ui, "About the first answer", theme);
        }
        for doubt in &found.words.doubts {
            say_ui(ui, doubt, theme);
        }
        on_a_real_bench_ui(ui, found.words.cautions.iter().map(String::as_str), theme);
    });
    wish
}

/// Lets more be listed, where there are more.
fn more_ui(ui: &mut Ui, n: usize, listed: &mut usize) {
    if n > *listed {
        let words = format!("{} more", n - *listed);
        if ui.button(words).clicked() {
            *listed += 4 * LISTED;
        }
    }
}

/// Why the others do not, over all combinations and part by part.
fn reasons_ui(ui: &mut Ui, found: &Found, listed: &mut usize, theme: &Theme) {
    scroll_ui(ui, "reasons", |ui| {
        if found.reasons.is_empty() {
            say_ui(ui, "Every combination meets the goal.", theme);
            return;
        }
        style::heading_ui(
            ui,
            "Combinations that do not, and the nearest of each kind",
            theme,
        );
        for (n, words) in &found.reasons {
            say_ui(ui, &format!("{n}  {words}"), theme);
        }
        style::heading_ui(ui, "Parts in no answer", theme);
        if found.left_out.is_empty() {
            under_ui(ui, "Every part is in some answer.");
        }
        for words in found.left_out.iter().take(*listed) {
            say_ui(ui, words, theme);
        }
        more_ui(ui, found.left_out.len(), listed);
    });
}

/// What the goal asks of any build; which figure of which need was asked about.
fn asked_ui(
    ui: &mut Ui,
    needs: &[Need],
    listed: &mut usize,
    theme: &Theme,
) -> Option<(usize, &'static str)> {
    let mut asked = None;
    scroll_ui(ui, "asked", |ui| {
        say_ui(
            ui,
            "Before any part is looked at. Click a value for its formula.",
            theme,
        );
        for (at, need) in needs.iter().take(*listed).enumerate() {
            let heading = if need.propeller.is_empty() {
                "The load"
            } else {
                &need.propeller
            };
            style::heading_ui(ui, heading, theme);
            for figure in &need.figures {
                ui.horizontal(|ui| {
                    ui.spacing_mut().button_padding = egui::vec2(style::gap(1.0), 0.0);
                    let words = figure.shown(TABLE_DIGITS).to_string();
                    let ink = style::colour(theme.ink);
                    ui.label(figure.name);
                    let button = ui.add(egui::Button::new(RichText::new(&words).color(ink)));
                    let name = format!("{heading}, {}: {words}", figure.name);
                    let role = egui::Role::Button;
                    button.widget_info(|| egui::WidgetInfo::labeled(role, true, &name));
                    if button.clicked() {
                        asked = Some((at, figure.key));
                    }
                });
            }
        }
        more_ui(ui, needs.len(), listed);
    });
    asked
}
