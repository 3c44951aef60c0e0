//! The page of captures: an instrument's file and what its columns are on the left, on the right what
//! the waveform shows, and the trace over the simulated one.

use std::path::PathBuf;
use std::sync::Arc;

use egui::{Context, Rect, RichText, Ui};

use super::file_field::{FileField, FileWish};
use super::form_page::{
    FormPage, caution_ui, estimates_ui, formula_ui, on_a_real_bench_ui, say_ui, scroll_ui, under_ui,
};
use super::job::{Job, Progress};
use super::picture::{Zoom, picture_ui};
use super::sheet_form::{field_row_ui, word_ui};
use super::style;
use crate::readings::Estimate;
use crate::readings::capture::{
    Asked, Capture, Dialect, DrivenOptions, Finding, Found, MAX_CAPTURE_BYTES, OverRun, Picks,
    SPEED_WANTED, SpunOptions, TIME_STANDARD, Table, Traces, example_capture, scale_of,
    speed_with_range,
};
use crate::scene::Theme;
use crate::scene::overlay::{OverlayView, overlay, overlay_in_words};
use crate::setup::{Quantity, Setup, parse_quantity};

/// What the volts are known to.
const ACCURACY: &str =
    "Expanded uncertainty of the volts; 3 %: common practice for oscilloscopes, no source";

/// Pieces of the simulation that one frame waits for.
const PIECES_PER_FRAME: u32 = 4_000;
/// What the capture that comes with the program is called.
const EXAMPLE: &str = "an invented capture";
/// What stands for no column.
const NONE: &str = "none";
/// What stands for a delimiter that is found out.
const FOUND_OUT: &str = "as the file shows";
/// What may part the fields, and what may mark decimals, in words.
const DELIMITERS: [(&str, char); 4] = [
    ("commas", ','),
    ("semicolons", ';'),
    ("tabs", '\t'),
    ("blanks", ' '),
];
const DECIMALS: [&str; 2] = ["point", "comma"];
/// The two kinds of captures, in words.
const KINDS: [&str; 2] = ["spun, leads open", "on its drive"];

/// What a person asked for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Wish {
    /// Read a capture from a file.
    Read(PathBuf),
    /// Ask which file.
    Pick,
    /// Back to the bench.
    Leave,
}

/// How a person says what the columns are; all as text, as a form has it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
struct Said {
    kind: String,
    delimiter: String,
    decimal: String,
    time: String,
    time_unit: String,
    interval: String,
    channels: [String; 3],
    channel_unit: String,
    mark: String,
    speed: String,
    pole_pairs: String,
    single_windings: bool,
    accuracy: String,
}

/// What a capture shows, with what is drawn of it.
#[derive(Debug)]
struct Outcome {
    /// How the file was read, in a line.
    read: String,
    /// Lines that were left out, the first of them, and how many in all.
    bad: Vec<String>,
    n_bad: usize,
    found: Found,
    findings: Vec<Finding>,
    estimates: Vec<Estimate>,
    traces: Traces,
    single_windings: bool,
}

/// What is shown of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Tab {
    Shown,
    Trace,
}

type Tabled = Result<Table, String>;
type Judged = Result<Box<Outcome>, String>;

/// A capture, how it is to be read, and what it shows.
#[derive(Debug)]
pub(super) struct Capturing {
    file: FileField,
    name: String,
    /// The file, to be read anew where somebody says how its fields are parted.
    bytes: Arc<Vec<u8>>,
    reading: Option<(String, Job<Tabled>)>,
    table: Option<Arc<Table>>,
    said: Said,
    /// The form has changed: it is judged anew once nothing is under way.
    due: bool,
    judging: Option<Job<Judged>>,
    outcome: Option<Box<Outcome>>,
    /// The file that was not read as it stands, what is said of it goes on being of it.
    refused: Option<String>,
    /// Why the file, or the capture in it, shows nothing.
    wrong_file: Option<String>,
    wrong: Option<String>,
    /// Whether the bench is simulated beside it.
    over: bool,
    /// The bench that the simulation is of, and the run, while it goes on.
    run: Option<(Setup, Option<OverRun>)>,
    tab: Tab,
    why: Option<&'static str>,
    at_form: bool,
}

impl Capturing {
    /// Begins with the example.
    pub(super) fn new(ctx: &Context) -> Self {
        let mut page = Self {
            file: FileField::default(),
            name: String::new(),
            bytes: Arc::default(),
            reading: None,
            table: None,
            said: Said::default(),
            due: false,
            judging: None,
            outcome: None,
            refused: None,
            wrong_file: None,
            wrong: None,
            over: true,
            run: None,
            tab: Tab::Shown,
            why: None,
            at_form: true,
        };
        page.example(ctx);
        page
    }

    fn example(&mut self, ctx: &Context) {
        self.take(EXAMPLE, example_capture().into_bytes(), ctx);
        self.file.set(String::new());
        self.said = Said {
            mark: "CH4".to_owned(),
            ..Said::default()
        };
    }

    /// The most bytes that a capture may have.
    pub(super) const MOST_BYTES: usize = MAX_CAPTURE_BYTES;

    /// Takes a capture from the bytes of a file of that name.
    pub(super) fn take(&mut self, name: &str, bytes: Vec<u8>, ctx: &Context) {
        self.bytes = Arc::new(bytes);
        self.said = Said {
            kind: self.said.kind.clone(),
            ..Said::default()
        };
        self.read(name.to_owned(), ctx);
    }

    /// Reads the file, as it is said that its fields are parted.
    fn read(&mut self, name: String, ctx: &Context) {
        let (bytes, dialect) = (Arc::clone(&self.bytes), self.said.dialect());
        let job = Job::begin(ctx, async move {
            let read = Table::read_in_slices(&bytes, dialect).await;
            read.map_err(|error| error.to_string())
        });
        self.reading = Some((name, job));
    }

    /// Says why no file was taken.
    pub(super) fn refuse(&mut self, words: String) {
        self.wrong_file = Some(words);
    }

    /// True while a file is read or judged, or the bench runs beside it.
    pub(super) const fn is_busy(&self) -> bool {
        let runs = matches!(self.run, Some((_, Some(_))));
        self.reading.is_some() || self.due || self.judging.is_some() || runs
    }

    /// Takes the formula away. False where none is shown.
    pub(super) fn take_why(&mut self) -> bool {
        self.why.take().is_some()
    }

    /// Takes up what has been done, and begins what is due.
    fn advance(&mut self, bench: &Setup, ctx: &Context) {
        if let Some((name, job)) = &mut self.reading {
            match job.poll() {
                Progress::UnderWay => {}
                Progress::Lost => self.reading = None,
                Progress::Done(Err(words)) => {
                    self.wrong_file = Some(format!("{name}: {words}."));
                    self.refused = Some(std::mem::take(name));
                    self.reading = None;
                }
                Progress::Done(Ok(table)) => {
                    self.name.clone_from(name);
                    (self.wrong_file, self.refused, self.reading) = (None, None, None);
                    self.table = Some(Arc::new(table));
                    self.due = true;
                }
            }
        }
        if let Some(job) = &mut self.judging {
            match job.poll() {
                Progress::UnderWay => {}
                Progress::Lost => self.judging = None,
                Progress::Done(judged) => {
                    self.judging = None;
                    match judged {
                        Ok(outcome) => {
                            (self.outcome, self.wrong, self.run) = (Some(outcome), None, None);
                        }
                        Err(words) => self.wrong = Some(words),
                    }
                }
            }
        }
        if self.due && self.judging.is_none() {
            self.judge(ctx);
        }
        self.simulate(bench, ctx);
    }

    fn judge(&mut self, ctx: &Context) {
        self.due = false;
        let Some(table) = self.table.clone() else {
            return;
        };
        match self.said.asked() {
            Ok((picks, asked)) => {
                self.judging = Some(Job::begin(ctx, judged(table, picks, asked)));
            }
            Err(words) => self.wrong = Some(words),
        }
    }

    /// Lets the bench run beside the capture, a little each frame.
    fn simulate(&mut self, bench: &Setup, ctx: &Context) {
        let Some(outcome) = &mut self.outcome else {
            return;
        };
        if self.run.as_ref().is_some_and(|(of, _)| of != bench) || !self.over {
            for row in &mut outcome.traces.rows {
                row.simulated.clear();
            }
            self.run = None;
        }
        if !self.over {
            return;
        }
        let (_, run) = self.run.get_or_insert_with(|| {
            let windings = outcome.single_windings;
            let run = OverRun::new(bench, &outcome.found, &outcome.traces, windings);
            (bench.clone(), Some(run))
        });
        let Some(going) = run else {
            return;
        };
        // what was simulated before a run stopped is laid over all the same
        if !matches!(going.advance(PIECES_PER_FRAME), Ok(false))
            && let Some(done) = run.take()
        {
            done.finish(&mut outcome.traces);
        }
        ctx.request_repaint();
    }

    /// Draws the page.
    pub(super) fn ui(
        &mut self,
        ui: &mut Ui,
        all: Rect,
        bench: &Setup,
        theme: &Theme,
    ) -> Option<Wish> {
        self.advance(bench, ui.ctx());
        let page = FormPage::new(all, theme);
        let turns = ["File", "What it shows"];
        let leave = page.title_ui(ui, "Read a capture", &mut self.at_form, turns, |_| {});
        let mut wish = leave.then_some(Wish::Leave);
        let said = page.form_ui(ui, self.at_form, |ui| self.form_ui(ui, theme));
        wish = wish.or(said.flatten());
        page.results_ui(ui, self.at_form, |ui| self.results_ui(ui, theme));
        wish
    }

    fn form_ui(&mut self, ui: &mut Ui, theme: &Theme) -> Option<Wish> {
        let mut wish = None;
        style::heading_ui(ui, "File", theme);
        under_ui(ui, &format!("Shown: {}.", self.name));
        let about = "Comma-separated values as an instrument saves them, whatever parts the fields";
        match self.file.ui(ui, "File", about) {
            Some(FileWish::Read(path)) => wish = Some(Wish::Read(path)),
            Some(FileWish::Pick) => wish = Some(Wish::Pick),
            None => {}
        }
        ui.horizontal(|ui| {
            if ui.button("An invented capture").clicked() {
                self.example(ui.ctx());
            }
            let copy = ui.button("Copy its text");
            if copy
                .on_hover_text("As a file, for `wyebench capture`")
                .clicked()
            {
                ui.copy_text(example_capture());
            }
        });
        if let Some(words) = &self.wrong_file {
            caution_ui(ui, words, theme);
        }
        let before = self.said.clone();
        let known = self.table.as_ref().map_or_else(Vec::new, |table| {
            (0..table.columns.len()).map(|at| table.name(at)).collect()
        });
        self.said.ui(ui, &known, theme);
        if self.said.dialect() != before.dialect() {
            // of the file that was taken last, whether it is read by now or not
            let under_way = self.reading.as_ref().map(|(name, _)| name);
            let name = under_way.or(self.refused.as_ref()).unwrap_or(&self.name);
            self.read(name.clone(), ui.ctx());
        } else if self.said != before {
            self.due = true;
        }
        if self.said != before {
            ui.ctx().request_repaint();
        }
        style::heading_ui(ui, "Beside it", theme);
        style::tick_ui(ui, &mut self.over, "The bench, simulated at this speed");
        wish
    }

    fn results_ui(&mut self, ui: &mut Ui, theme: &Theme) {
        if let Some(words) = &self.wrong {
            caution_ui(ui, words, theme);
        }
        if self.reading.is_some() || self.judging.is_some() {
            ui.horizontal(|ui| {
                ui.spinner();
                ui.label("Reading the capture");
            });
        }
        let Some(outcome) = &self.outcome else {
            return;
        };
        if self.wrong.is_some() {
            let words = "What follows is of the last capture that could be read.";
            caution_ui(ui, words, theme);
        }
        let of_key = |key| outcome.estimates.iter().find(|e| e.figure.key == key);
        if let Some(estimate) = self.why.and_then(of_key) {
            if formula_ui(ui, &estimate.figure, "All of it", theme) {
                self.why = None;
            }
            return;
        }
        ui.horizontal(|ui| {
            for (tab, words) in [(Tab::Shown, "What it shows"), (Tab::Trace, "Trace")] {
                ui.selectable_value(&mut self.tab, tab, words);
            }
            if let Some((_, Some(run))) = &self.run {
                ui.label(format!("simulating, {:.0} %", 100.0 * run.share()));
            }
        });
        if self.tab == Tab::Trace {
            return trace_ui(ui, outcome, theme);
        }
        let asked = scroll_ui(ui, "shown", |ui| shown_ui(ui, outcome, theme));
        if asked.is_some() {
            self.why = asked;
        }
    }
}

impl Said {
    /// The form: what the columns are, and what is known beside them.
    fn ui(&mut self, ui: &mut Ui, columns: &[String], theme: &Theme) {
        let pick = |ui: &mut Ui,
                    name: &str,
                    hint: &str,
                    about: &str,
                    text: &mut String,
                    words: &[String]| {
            field_row_ui(ui, name, about, |ui, width, label| {
                word_ui(ui, name.to_owned(), text, words, hint, width, label)
            });
        };
        let write = |ui: &mut Ui, name: &str, hint: &str, about: &str, text: &mut String| {
            field_row_ui(ui, name, about, |ui, width, label| {
                let edit = egui::TextEdit::singleline(text)
                    .hint_text(hint)
                    .desired_width(width);
                ui.add(edit).labelled_by(label.id).on_hover_text(about);
            });
        };
        let list =
            |words: &[&str]| -> Vec<String> { words.iter().map(|w| (*w).to_owned()).collect() };
        let about = "What stands between two fields; left open: found out";
        let mut delimiters = list(&DELIMITERS.map(|(words, _)| words));
        delimiters.insert(0, FOUND_OUT.to_owned());
        pick(
            ui,
            "Fields parted by",
            FOUND_OUT,
            about,
            &mut self.delimiter,
            &delimiters,
        );
        if self.dialect().is_some() {
            let about = "What stands before the decimals";
            pick(
                ui,
                "Decimal mark",
                DECIMALS[0],
                about,
                &mut self.decimal,
                &list(&DECIMALS),
            );
        }
        style::heading_ui(ui, "Columns", theme);
        let about = "What the channels are voltages of";
        pick(
            ui,
            "The motor is",
            KINDS[0],
            about,
            &mut self.kind,
            &list(&KINDS),
        );
        let about = "The column that rises all the way";
        pick(
            ui,
            "Time",
            "the first column",
            about,
            &mut self.time,
            columns,
        );
        let (hint, units) = ("as its heading says, or s", list(&["s", "ms", "us", "ns"]));
        pick(
            ui,
            "Time in",
            hint,
            "Unit of that column",
            &mut self.time_unit,
            &units,
        );
        let about = "Spacing of the samples, where no column gives the time";
        write(
            ui,
            "Or a sample each",
            "as in 10 us",
            about,
            &mut self.interval,
        );
        let mut others = vec![NONE.to_owned()];
        others.extend_from_slice(columns);
        for (at, text) in self.channels.iter_mut().enumerate() {
            let name = format!("Channel {}", at + 1);
            let hint = "the next column";
            pick(ui, &name, hint, "Up to three voltages", text, &others);
        }
        let (hint, units) = ("as their headings say, or V", list(&["V", "mV", "kV"]));
        pick(
            ui,
            "Channels in",
            hint,
            "Unit of the channels",
            &mut self.channel_unit,
            &units,
        );
        if self.is_driven() {
            style::heading_ui(ui, "Known beside it", theme);
            write(ui, "Volts known to, %", "3", ACCURACY, &mut self.accuracy);
            return;
        }
        let about = "A column with one pulse each turn of the shaft";
        pick(ui, "Mark of a turn", NONE, about, &mut self.mark, &others);
        style::heading_ui(ui, "Known beside it", theme);
        write(
            ui,
            "Speed",
            "as in 1204 rpm ± 3 rpm",
            SPEED_WANTED,
            &mut self.speed,
        );
        let about = "Half the magnets, where they were counted";
        write(ui, "Pole pairs", "as in 7", about, &mut self.pole_pairs);
        write(ui, "Volts known to, %", "3", ACCURACY, &mut self.accuracy);
        style::tick_ui(
            ui,
            &mut self.single_windings,
            "Channels are single windings, against the star point",
        );
    }

    /// How fields are parted, where somebody says it.
    fn dialect(&self) -> Option<Dialect> {
        let named = DELIMITERS
            .iter()
            .find(|(words, _)| *words == self.delimiter)?;
        Some(Dialect {
            delimiter: named.1,
            decimal_comma: self.decimal == DECIMALS[1],
        })
    }

    fn is_driven(&self) -> bool {
        self.kind == KINDS[1]
    }

    /// What is to be picked out of the table, and what it is of.
    fn asked(&self) -> Result<(Picks, Asked), String> {
        fn some(text: &str) -> Option<&str> {
            Some(text.trim()).filter(|text| !text.is_empty() && *text != NONE)
        }
        let wrong =
            |name: &str, text: &str, wanted: &str| format!("{name}: `{text}` is not {wanted}.");
        let interval_s =
            some(&self.interval).map(|text| match parse_quantity(text, Quantity::Time) {
                Ok(value) if value > 0.0 && value.is_finite() => Ok(value),
                _ => Err(wrong(
                    "A sample each",
                    text,
                    "a time above 0 with its unit, as in 10 us",
                )),
            });
        let picks = Picks {
            time: some(&self.time).map(str::to_owned),
            interval_s: interval_s.transpose()?,
            channels: self
                .channels
                .iter()
                .filter_map(|text| some(text))
                .map(str::to_owned)
                .collect(),
            mark: some(&self.mark)
                .filter(|_| !self.is_driven())
                .map(str::to_owned),
            time_scale: some(&self.time_unit).and_then(scale_of),
            channel_scale: some(&self.channel_unit).and_then(scale_of),
        };
        let percent = some(&self.accuracy).map_or(Ok(3.0), |text| match text.parse::<f64>() {
            Ok(percent) if (0.0..=100.0).contains(&percent) => Ok(percent),
            _ => Err(wrong("Volts known to", text, "a percentage from 0 to 100")),
        });
        let gain_standard = 0.005 * percent?;
        if self.is_driven() {
            return Ok((picks, Asked::Driven(DrivenOptions { gain_standard })));
        }
        let speed = some(&self.speed)
            .map(|text| speed_with_range(text).ok_or_else(|| wrong("Speed", text, SPEED_WANTED)));
        let pole_pairs = some(&self.pole_pairs).map(|text| match text.parse::<u32>() {
            Ok(pairs @ 1..=1000) => Ok(pairs),
            _ => Err(wrong("Pole pairs", text, "a whole number from 1 to 1000")),
        });
        let options = SpunOptions {
            speed_rad_s: speed.transpose()?,
            pole_pairs: pole_pairs.transpose()?,
            phases: self.single_windings,
            gain_standard,
            time_standard: TIME_STANDARD,
        };
        Ok((picks, Asked::Spun(options)))
    }
}

/// Reads a table as it is asked.
async fn judged(table: Arc<Table>, picks: Picks, asked: Asked) -> Judged {
    let capture = Capture::new_in_slices(&table, &picks).await;
    let capture = capture.map_err(|error| format!("{error}."))?;
    let found = Found::of_in_slices(&capture, &asked).await;
    let found = found.map_err(|error| format!("{error}."))?;
    let names: Vec<&str> = capture.channels.iter().map(|c| c.name.as_str()).collect();
    let read = format!(
        "{} rows from line {}, {}; time: {}; channels: {}.",
        capture.times_s.len(),
        table.first_line,
        table.dialect,
        capture.time_base,
        names.join(", ")
    );
    let bad = capture.bad.iter();
    let bad = bad.map(|bad| format!("line {}: {}", bad.line, bad.reason));
    Ok(Box::new(Outcome {
        read,
        bad: bad.collect(),
        n_bad: capture.n_bad,
        findings: found.findings(),
        estimates: found.figures(),
        traces: Traces::of(&capture, &found),
        single_windings: matches!(asked, Asked::Spun(options) if options.phases),
        found,
    }))
}

/// What it shows: sentences, figures, how it was read. The key of a figure that was asked about.
fn shown_ui(ui: &mut Ui, outcome: &Outcome, theme: &Theme) -> Option<&'static str> {
    for finding in &outcome.findings {
        if finding.is_caution {
            caution_ui(ui, &finding.words, theme);
        } else {
            say_ui(ui, &finding.words, theme);
        }
    }
    style::heading_ui(ui, "What it shows (95 of 100 lie within ±)", theme);
    let asked = estimates_ui(ui, "capture", &outcome.estimates, theme);
    style::heading_ui(ui, "How it was read", theme);
    under_ui(ui, &outcome.read);
    if outcome.n_bad > 0 {
        let words = format!("{} lines are no rows and were left out:", outcome.n_bad);
        caution_ui(ui, &words, theme);
        for words in &outcome.bad {
            under_ui(ui, words);
        }
        if outcome.n_bad > outcome.bad.len() {
            under_ui(
                ui,
                &format!("and {} more", outcome.n_bad - outcome.bad.len()),
            );
        }
    }
    on_a_real_bench_ui(ui, [outcome.found.caution()], theme);
    asked
}

/// Two electrical turns, as large as the place is.
fn trace_ui(ui: &mut Ui, outcome: &Outcome, theme: &Theme) {
    let words = if outcome.traces.has_simulation() {
        "Two electrical turns of the capture, and the bench at this speed"
    } else {
        "Two electrical turns of the capture"
    };
    ui.label(RichText::new(words).small());
    let rect = ui.available_rect_before_wrap();
    let view = OverlayView {
        title: "",
        subtitle: "",
        traces: &outcome.traces,
        size_points: [f64::from(rect.width()), f64::from(rect.height())],
    };
    let words = overlay_in_words(&outcome.traces);
    picture_ui(
        ui,
        "capture",
        rect,
        &overlay(&view, theme),
        Zoom::default(),
        &words,
    );
}
