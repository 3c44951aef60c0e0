//! The setup as a file: open, save, reset, and never a change lost without a word.

use std::path::{Path, PathBuf};

use egui::{Context, ViewportCommand};

use super::App;
use super::lesson::Aside;
use super::picker::Picker;
use super::sheets::Sheet;
use crate::app::outside::{self, Brought, Purpose};
use crate::app::rewrite::rewritten;
use crate::app::shelf::{self, Entry, Memory, Refusal};
use crate::app::{Live, Shown, Standing, style};
use crate::setup::{Setup, built_in};

/// What a person wants that would lose unsaved changes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Intent {
    /// Close the window.
    Close,
    /// Open the setup of a file.
    Open(PathBuf),
    /// Open a setup that came without a path: what it is called, and all of it.
    Take(String, Vec<u8>),
    /// Go back to the setup that the program starts with.
    BuiltIn,
}

/// The file that the setup came from, and what is on the way to another.
#[derive(Debug)]
pub(super) struct Papers {
    /// Where the setup lies; `None`: it was never a file.
    pub(super) path: Option<PathBuf>,
    /// The setup as it lies there.
    saved: Setup,
    /// The text that says it, where that is known.
    pub(super) text: Option<String>,
    /// What the window remembers.
    pub(super) memory: Memory,
    /// The path as it is being written.
    pub(super) field: String,
    /// What lies in the folder of that path.
    pub(super) listed: (PathBuf, Vec<Entry>),
    /// What a save replaces if it is asked for once more.
    pub(super) replaces: Option<PathBuf>,
    /// What comes after a save.
    then: Option<Intent>,
    /// The system's dialog, while it is open.
    pub(super) picker: Option<Picker>,
    /// True where the system turned out to have no dialog for files.
    pub(super) no_dialog: bool,
    /// True once the window may close.
    leaving: bool,
    /// What the window is called.
    title: String,
}

impl Papers {
    pub(super) fn new(setup: &Setup) -> Self {
        let text = Setup::parse(built_in(), "built in")
            .is_ok_and(|built| built == *setup)
            .then(|| built_in().to_owned());
        Self {
            path: None,
            text,
            saved: setup.clone(),
            memory: Memory::default(),
            field: String::new(),
            listed: (PathBuf::new(), Vec::new()),
            replaces: None,
            then: None,
            picker: None,
            no_dialog: false,
            leaving: false,
            title: String::new(),
        }
    }

    /// The folder that a dialog begins in.
    pub(super) fn folder(&self) -> PathBuf {
        let known = self
            .path
            .as_deref()
            .or(self.memory.recent.first().map(PathBuf::as_path));
        known
            .and_then(Path::parent)
            .filter(|folder| !folder.as_os_str().is_empty())
            .map(Path::to_path_buf)
            .unwrap_or_else(outside::start_folder)
    }
}

impl App {
    /// Says which file the setup was read from.
    pub fn opened_from(&mut self, path: &Path) {
        self.papers.path = Some(path.to_path_buf());
        self.papers.memory.add(path);
        // The file may have changed since it was read; then its text is not the setup's.
        let read = shelf::read(path).ok();
        let same = read.filter(|(setup, _)| *setup == self.papers.saved);
        self.papers.text = same.map(|(_, text)| text);
    }

    /// Takes up what is remembered in that folder, and remembers there from now on.
    pub fn remember_in(&mut self, folder: &Path, ctx: &Context) {
        self.papers.memory = Memory::load(folder);
        let memory = &self.papers.memory;
        let (light, scale) = (memory.light, memory.scale);
        if let Some(scale) = scale {
            self.own_scale = scale;
            ctx.set_zoom_factor(scale);
        }
        if light {
            self.set_room(ctx, false);
        }
    }

    /// True where the bench differs from what lies in the file.
    #[must_use]
    pub fn is_changed(&self) -> bool {
        *self.bench.setup() != self.papers.saved
    }

    /// The file that the setup lies in, where it lies in one.
    #[must_use]
    pub fn path(&self) -> Option<&Path> {
        self.papers.path.as_deref()
    }

    /// Does what loses changes, after asking where there are some.
    pub(super) fn want(&mut self, intent: Intent, ctx: &Context) {
        // A lesson's setup makes room for the own one, which is what would be lost.
        if intent != Intent::Close {
            self.own_back();
        }
        if intent == Intent::Close && !self.would_lose() && self.lesson_would_lose() {
            self.lesson_back();
        }
        if self.would_lose() {
            self.lay(Sheet::Ask(intent));
        } else {
            self.go(intent, ctx);
        }
    }

    /// Does it: nobody wants the changes any more.
    pub(super) fn go(&mut self, intent: Intent, ctx: &Context) {
        match intent {
            Intent::Close => {
                if self.own_back() && self.is_changed() {
                    return self.lay(Sheet::Ask(Intent::Close));
                }
                self.papers.leaving = true;
                ctx.send_viewport_cmd(ViewportCommand::Close);
            }
            Intent::Open(path) => match shelf::read(&path) {
                Ok((setup, text)) => self.stand(setup, text, Some(path)),
                Err(refusal) => self.refuse(refusal),
            },
            Intent::Take(name, bytes) => match shelf::parse(&bytes, &name) {
                Ok((setup, text)) => self.stand(setup, text, None),
                Err(refusal) => self.refuse(refusal),
            },
            Intent::BuiltIn => match shelf::parse(built_in().as_bytes(), "the built-in setup") {
                Ok((setup, text)) => self.stand(setup, text, None),
                Err(refusal) => self.refuse(refusal),
            },
        }
    }

    /// Shows why something was not done. The motor runs on.
    pub(super) fn refuse(&mut self, refusal: Refusal) {
        self.lay(Sheet::Bad(refusal));
    }

    /// Puts another setup on the bench, at rest at t = 0, with the show as it was.
    fn stand(&mut self, setup: Setup, text: String, path: Option<PathBuf>) {
        let shown = match Shown::new(&setup) {
            Ok(shown) => shown,
            Err(error) => {
                return self.refuse(Refusal {
                    title: "The winding cannot be drawn".to_owned(),
                    words: error.to_string(),
                });
            }
        };
        if let Some(path) = &path {
            self.papers.memory.add(path);
        }
        self.sheets.clear();
        self.papers.path = path;
        self.papers.text = Some(text);
        self.papers.saved = setup.clone();
        self.bench = Standing::new(setup.clone());
        self.start(setup, shown);
    }

    /// Lets what stands on the bench begin at rest at t = 0.
    pub(super) fn begin(&mut self, setup: Setup) {
        // The checks of a setup include the winding; were it refused, the old run would go on.
        if let Ok(shown) = Shown::new(&setup) {
            self.start(setup, shown);
        }
    }

    /// Puts another bench in the place of the person's, which is handed back with its file.
    pub(super) fn put_aside(&mut self, bench: Standing) -> Aside {
        Aside {
            bench: std::mem::replace(&mut self.bench, bench),
            path: self.papers.path.take(),
            saved: self.papers.saved.clone(),
            text: self.papers.text.take(),
        }
    }

    /// Takes the person's bench back; the one that stood in its place is handed out.
    pub(super) fn bring_back(&mut self, aside: Aside) -> Standing {
        self.papers.path = aside.path;
        self.papers.saved = aside.saved;
        self.papers.text = aside.text;
        std::mem::replace(&mut self.bench, aside.bench)
    }

    /// Takes a lesson's setup as what lies in no file and has not been changed.
    pub(super) fn call_saved(&mut self, setup: &Setup) {
        self.papers.path = None;
        self.papers.text = None;
        self.papers.saved = setup.clone();
    }

    fn start(&mut self, setup: Setup, shown: Shown) {
        *self.live = Live::new(&setup);
        self.taken = setup;
        self.drawer.forget();
        self.shown = shown;
        self.time.cursor_s = 0.0;
        self.zoom = Default::default();
        self.travel = Default::default();
        self.worst = Default::default();
        self.hand = None;
        (self.hovered, self.listed) = (None, None);
        self.full_current_a = crate::app::live::LEAST_FULL_A;
    }

    /// Saves to the file that the setup came from, or asks for a name.
    pub(super) fn save(&mut self, ctx: &Context) {
        match self.papers.path.clone() {
            // What another program has written there is not replaced without a question.
            Some(path) if shelf::says_other(&path, self.papers.text.as_deref()) => {
                self.ask_name();
                self.papers.replaces = Some(path);
            }
            Some(path) => self.save_to(path, ctx),
            None => self.ask_name(),
        }
    }

    /// Asks for a name to save under.
    pub(super) fn ask_name(&mut self) {
        let papers = &mut self.papers;
        let path = papers.path.clone().unwrap_or_else(|| {
            let name = file_name(&self.bench.setup().title);
            papers.folder().join(name)
        });
        papers.field = path.display().to_string();
        papers.replaces = None;
        self.lay(Sheet::SaveAs);
    }

    /// Asks which setup to open.
    pub(super) fn ask_open(&mut self) {
        let folder = self.papers.folder();
        self.papers.field = if outside::FILES {
            format!("{}{}", folder.display(), std::path::MAIN_SEPARATOR)
        } else {
            String::new()
        };
        self.lay(Sheet::Open);
    }

    /// Saves to a file, and goes on to what was wanted after it.
    pub(super) fn save_to(&mut self, path: PathBuf, ctx: &Context) {
        let setup = self.bench.setup().clone();
        let text = self.text_of(&setup);
        if let Err(refusal) = shelf::write(&path, &text) {
            return self.refuse(refusal);
        }
        self.papers.saved = setup;
        self.papers.text = Some(text);
        self.papers.memory.add(&path);
        self.papers.path = Some(path);
        self.sheets
            .retain(|sheet| !matches!(sheet, Sheet::SaveAs | Sheet::Ask(_)));
        if let Some(intent) = self.papers.then.take() {
            self.go(intent, ctx);
        }
    }

    /// A setup as a text. Comments and units of the text it came from stay where the changes can
    /// be placed in it.
    fn text_of(&self, setup: &Setup) -> String {
        let papers = &self.papers;
        papers
            .text
            .as_deref()
            .and_then(|text| rewritten(text, &papers.saved, setup))
            .unwrap_or_else(|| setup.to_toml())
    }

    /// Gives the setup out of the browser as a file.
    pub(super) fn download(&mut self) {
        let setup = self.bench.setup().clone();
        let text = self.text_of(&setup);
        let path = self.papers.path.as_deref();
        let name = path.map_or_else(|| file_name(&setup.title), shelf::name_of);
        outside::hand_out(&name, &text);
    }

    /// Copies a link to the page as it is now.
    pub(super) fn copy_link(&mut self, ctx: &Context) {
        match self.link() {
            Ok(Some(link)) => ctx.copy_text(link),
            Ok(None) => {}
            Err(error) => self.refuse(Refusal {
                title: "No link was made".to_owned(),
                words: shelf::in_lines(&error.to_string()),
            }),
        }
    }

    /// Saves first, then does what was asked.
    pub(super) fn save_then(&mut self, intent: Intent, ctx: &Context) {
        self.papers.then = Some(intent);
        self.save(ctx);
    }

    /// Nothing is wanted after the next save.
    pub(super) fn forget_then(&mut self) {
        self.papers.then = None;
    }

    /// Puts the bench back to what lies in the file; that can be undone like any change.
    pub(super) fn reset(&mut self) {
        if self.bench.put(self.papers.saved.clone()) {
            self.drawer.forget();
            self.take_up_bench();
        }
    }

    /// Hears files that are dropped in, a window that is to be closed, and the system's dialog.
    pub(super) fn papers(&mut self, ctx: &Context) {
        let (dropped, closing) = ctx.input_mut(|input| {
            let dropped = std::mem::take(&mut input.raw.dropped_files);
            (dropped, input.viewport().close_requested())
        });
        if let Some(file) = dropped.first() {
            let page = self.page_takes_files();
            self.papers.picker = Some(Picker::dropped(file, page, ctx));
        }
        if closing && !self.papers.leaving {
            let own = self.aside.as_ref().is_some_and(Aside::is_changed);
            if self.would_lose() || own || self.lesson_would_lose() {
                ctx.send_viewport_cmd(ViewportCommand::CancelClose);
                self.want(Intent::Close, ctx);
            }
        }
        if let Some(picker) = &mut self.papers.picker
            && let Some(brought) = picker.poll(ctx)
        {
            let purpose = picker.purpose;
            self.papers.no_dialog = brought.is_none() && picker.is_missing(ctx);
            self.papers.picker = None;
            self.take_up(brought, purpose, ctx);
        }
        self.entitle(ctx);
    }

    /// Does what a dialog was open for with what it brought.
    fn take_up(&mut self, brought: Option<Brought>, purpose: Purpose, ctx: &Context) {
        let Some(brought) = brought else { return };
        if purpose == Purpose::Page {
            return self.hand_to_page(brought, ctx);
        }
        let intent = match brought {
            Brought::Path(path) if purpose == Purpose::Save => {
                return self.save_to(path, ctx);
            }
            Brought::Path(path) => Intent::Open(path),
            Brought::Bytes(name, bytes) => Intent::Take(name, bytes),
            Brought::Unread(name, words) => {
                return self.refuse(Refusal {
                    title: format!("{name} was not opened"),
                    words,
                });
            }
        };
        if purpose == Purpose::Open {
            self.take_sheet();
        }
        self.want(intent, ctx);
    }

    /// Says what a file that is held over the window will do.
    pub(super) fn held_file_ui(&self, ui: &egui::Ui, rect: egui::Rect) {
        let held = ui.input(|input| !input.raw.hovered_files.is_empty());
        if !held {
            return;
        }
        let (ground, ink) = (
            style::colour(self.theme.plate),
            style::colour(self.theme.ink),
        );
        let plate = egui::Rect::from_center_size(
            rect.center(),
            egui::vec2(style::gap(80.0), style::gap(20.0)),
        );
        egui::Area::new(egui::Id::unique("held file"))
            .order(egui::Order::Foreground)
            .fixed_pos(plate.min)
            .interactable(false)
            .show(ui.ctx(), |ui| {
                ui.painter().rect_filled(plate, style::gap(1.0), ground);
                let words = if self.page_takes_files() {
                    "Drop the file to read it here"
                } else {
                    "Drop the setup to put it on the bench"
                };
                let words = egui::RichText::new(words)
                    .font(style::type_size(2))
                    .color(ink);
                ui.put(plate, egui::Label::new(words));
            });
    }

    /// Keeps the name of the window as the setup is called, with a mark where it has changed.
    fn entitle(&mut self, ctx: &Context) {
        let name = self.setup_name();
        let mark = if self.is_changed() { " (changed)" } else { "" };
        let title = format!("{name}{mark} · Wyebench");
        if title != self.papers.title {
            self.papers.title.clone_from(&title);
            outside::entitle(ctx, title);
        }
    }

    /// What a person calls the setup, or its file.
    pub(super) fn setup_name(&self) -> String {
        let title = &self.shown.title;
        if !title.is_empty() {
            return title.clone();
        }
        let path = self.papers.path.as_deref();
        path.map_or_else(|| "Untitled setup".to_owned(), shelf::name_of)
    }
}

/// A file's name from the title of a setup: "Pond aerator on three cells" as
/// `pond-aerator-on-three-cells.toml`.
fn file_name(title: &str) -> String {
    let words: Vec<String> = title
        .split(|c: char| !c.is_alphanumeric())
        .filter(|word| !word.is_empty())
        .map(str::to_lowercase)
        .collect();
    let stem = if words.is_empty() {
        "setup".to_owned()
    } else {
        words.join("-")
    };
    format!("{}.toml", stem.chars().take(60).collect::<String>())
}

#[cfg(test)]
mod tests {
    use super::file_name;

    #[test]
    fn a_title_makes_a_file_name() {
        let name = file_name("Pond aerator on three cells");
        assert_eq!(name, "pond-aerator-on-three-cells.toml");
        assert_eq!(file_name("../…"), "setup.toml");
    }
}
