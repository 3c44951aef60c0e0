//! Dialogs in the middle of the window: which file, what to do with changes, what was wrong.

use std::path::{Path, PathBuf};

use egui::{Context, Key, RichText, Ui};

use super::App;
use super::papers::Intent;
use super::picker::Picker;
use super::sheets::Sheet;
use crate::app::shelf::{self, Refusal};
use crate::app::{outside, style};
use crate::scene::Theme;

/// Width of a dialog, in points.
const WIDTH: f32 = 520.0;
/// The same where the text of a file is quoted.
const TEXT_WIDTH: f32 = 680.0;
/// Height of a folder's list, in points.
const LIST: f32 = 200.0;

/// What a person answered.
enum Answer {
    Open(PathBuf),
    Save(PathBuf),
    Browse,
    SaveThen(Intent),
    Discard(Intent),
    Leave,
}

impl App {
    /// Draws the topmost sheet as a dialog over everything.
    pub(super) fn dialog_ui(&mut self, ctx: &Context, sheet: &Sheet) {
        let theme = self.theme;
        let wide = matches!(sheet, Sheet::Bad(_));
        let width = if wide { TEXT_WIDTH } else { WIDTH };
        let width = width.min(ctx.content_rect().width() - style::gap(12.0));
        let fresh = std::mem::take(&mut self.fresh_sheet);
        let frame = egui::Frame::new()
            .fill(style::colour(theme.panel))
            .stroke(egui::Stroke::new(1.0, style::colour(theme.line)))
            .corner_radius(style::gap(1.0))
            .inner_margin(style::gap(5.0));
        let modal = egui::Modal::new(egui::Id::unique("dialog")).frame(frame);
        let shown = modal.show(ctx, |ui| {
            ui.set_width(width);
            match sheet {
                Sheet::Open => self.path_ui(ui, false, fresh, &theme),
                Sheet::SaveAs => self.path_ui(ui, true, fresh, &theme),
                Sheet::Ask(intent) => ask_ui(ui, &self.setup_name(), intent, fresh, &theme),
                Sheet::Bad(refusal) => bad_ui(ui, refusal, fresh, &theme),
                _ => None,
            }
        });
        let answer = shown
            .inner
            .or_else(|| shown.backdrop_response.clicked().then_some(Answer::Leave));
        match answer {
            Some(Answer::Open(path)) => {
                self.take_sheet();
                self.want(Intent::Open(path), ctx);
            }
            Some(Answer::Save(path)) => self.save_to(path, ctx),
            Some(Answer::Browse) => {
                let saving = *sheet == Sheet::SaveAs;
                if saving && !outside::FILES {
                    self.download();
                    self.forget_then();
                    self.take_sheet();
                    return;
                }
                let name = saving.then(|| shelf::name_of(Path::new(&self.papers.field)));
                self.papers.picker = Some(Picker::new(&self.papers.folder(), name, ctx));
            }
            Some(Answer::SaveThen(intent)) => {
                self.take_sheet();
                self.save_then(intent, ctx);
            }
            Some(Answer::Discard(intent)) => {
                self.take_sheet();
                self.go(intent, ctx);
            }
            Some(Answer::Leave) => {
                self.forget_then();
                self.take_sheet();
            }
            None => {}
        }
    }

    /// A path to write, with what lies in its folder.
    fn path_ui(&mut self, ui: &mut Ui, saving: bool, fresh: bool, theme: &Theme) -> Option<Answer> {
        let mut answer = None;
        let papers = &mut self.papers;
        title_ui(
            ui,
            if saving {
                "Save the setup as"
            } else {
                "Open a setup"
            },
            theme,
        );
        let label = ui.label(outside::PLACE);
        let field = egui::TextEdit::singleline(&mut papers.field).desired_width(f32::INFINITY);
        let field = ui.add(field).labelled_by(label.id);
        if fresh {
            field.request_focus();
        }
        let entered = field.lost_focus() && ui.input(|input| input.key_pressed(Key::Enter));
        // The folder is read again only where another is named.
        let written = PathBuf::from(&papers.field);
        let folder = if outside::is_folder(&written) {
            written.clone()
        } else {
            written.parent().map(Path::to_path_buf).unwrap_or_default()
        };
        if papers.listed.0 != folder || fresh {
            papers.listed = (folder.clone(), shelf::list(&folder));
        }
        let mut chosen = None;
        let area = egui::ScrollArea::vertical()
            .max_height(LIST)
            .auto_shrink(false);
        area.show(ui, |ui| {
            ui.spacing_mut().item_spacing.y = 0.0;
            if let Some(above) = folder.parent()
                && ui.selectable_label(false, "← folder above").clicked()
            {
                chosen = Some(format!("{}/", above.display()));
            }
            for entry in &papers.listed.1 {
                let name = if entry.is_file {
                    entry.name.clone()
                } else {
                    format!("{}/", entry.name)
                };
                let here = written == entry.path;
                let line = ui.selectable_label(here, name);
                if line.clicked() {
                    let slash = if entry.is_file { "" } else { "/" };
                    chosen = Some(format!("{}{slash}", entry.path.display()));
                }
                if line.double_clicked() && entry.is_file && !saving {
                    answer = Some(Answer::Open(entry.path.clone()));
                }
            }
            if papers.listed.1.is_empty() {
                ui.weak(outside::NOTHING_HERE);
            }
        });
        if let Some(chosen) = chosen {
            papers.field = chosen;
            papers.replaces = None;
        }
        let target = with_extension(&written, saving);
        let named = !outside::is_folder(&written) && written.file_name().is_some();
        if saving {
            let words = match &papers.replaces {
                Some(path) if *path == target && papers.path.as_ref() == Some(path) => format!(
                    "Another program has written {} since. Save replaces that.",
                    shelf::name_of(path)
                ),
                Some(path) if *path == target => format!(
                    "{} exists. Save once more to replace it.",
                    shelf::name_of(path)
                ),
                _ => "Every value is kept, and comments wherever their lines stay.".to_owned(),
            };
            ui.label(RichText::new(words).small());
        }
        if papers.no_dialog {
            let words = "The system has no dialog for files here; write the path above.";
            ui.label(RichText::new(words).small());
        }
        buttons_ui(ui, |ui| {
            if ui.button("Cancel").clicked() {
                answer = Some(Answer::Leave);
            }
            let browse = ui.add_enabled(!papers.no_dialog, egui::Button::new(outside::BROWSE[0]));
            if browse.on_hover_text(outside::BROWSE[1]).clicked() {
                answer = Some(Answer::Browse);
            }
            let words = if saving { "Save" } else { "Open" };
            let button = ui.add_enabled(named, egui::Button::new(words));
            if (button.clicked() || entered) && named {
                let known = papers.path.as_ref() == Some(&target)
                    && !shelf::says_other(&target, papers.text.as_deref());
                let sure = papers.replaces.as_ref() == Some(&target);
                if !saving {
                    answer = Some(Answer::Open(target));
                } else if outside::exists(&target) && !known && !sure {
                    papers.replaces = Some(target);
                } else {
                    answer = Some(Answer::Save(target));
                }
            }
        });
        answer
    }
}

/// The path with the extension of a setup, where one is to be written and none is named.
fn with_extension(path: &Path, saving: bool) -> PathBuf {
    if saving && path.extension().is_none() {
        path.with_extension("toml")
    } else {
        path.to_path_buf()
    }
}

fn ask_ui(ui: &mut Ui, name: &str, intent: &Intent, fresh: bool, theme: &Theme) -> Option<Answer> {
    let mut answer = None;
    title_ui(ui, "Changes are not saved", theme);
    let after = match intent {
        Intent::Close => "closing".to_owned(),
        Intent::Open(path) => format!("opening {}", shelf::name_of(path)),
        Intent::Take(name, _) => format!("opening {name}"),
        Intent::BuiltIn => "opening the built-in setup".to_owned(),
    };
    ui.label(format!(
        "“{name}” has been changed. Save it before {after}?"
    ));
    buttons_ui(ui, |ui| {
        let keep = ui.button("Keep editing");
        if fresh {
            keep.request_focus();
        }
        if keep.clicked() {
            answer = Some(Answer::Leave);
        }
        if ui.button("Discard changes").clicked() {
            answer = Some(Answer::Discard(intent.clone()));
        }
        if ui.button("Save").clicked() {
            answer = Some(Answer::SaveThen(intent.clone()));
        }
    });
    answer
}

fn bad_ui(ui: &mut Ui, refusal: &Refusal, fresh: bool, theme: &Theme) -> Option<Answer> {
    let mut answer = None;
    title_ui(ui, &refusal.title, theme);
    let height = ui.ctx().content_rect().height() * 0.6;
    let area = egui::ScrollArea::both().max_height(height);
    area.show(ui, |ui| {
        let words = RichText::new(&refusal.words).font(style::mono(1));
        let label = egui::Label::new(words.color(style::colour(theme.ink)));
        ui.add(label.selectable(true).extend());
    });
    ui.label("The motor runs on with the setup that stood there.");
    buttons_ui(ui, |ui| {
        let close = ui.button("Close");
        if fresh {
            close.request_focus();
        }
        if close.clicked() {
            answer = Some(Answer::Leave);
        }
    });
    answer
}

fn title_ui(ui: &mut Ui, words: &str, theme: &Theme) {
    let words = RichText::new(words).font(style::type_size(2));
    ui.label(words.color(style::colour(theme.ink)));
    ui.add_space(style::gap(1.0));
}

/// A row of buttons at the foot, the most usual one at the right.
fn buttons_ui(ui: &mut Ui, contents: impl FnOnce(&mut Ui)) {
    ui.add_space(style::gap(2.0));
    ui.horizontal(|ui| {
        let left = ui.available_width();
        let id = ui.scope_id().with("buttons");
        // Pushed to the right by what they took the frame before.
        let took: f32 = ui.data(|data| data.get_temp(id)).unwrap_or(left);
        ui.add_space((left - took).max(0.0));
        let start = ui.cursor().left();
        contents(ui);
        let took = ui.min_rect().right() - start;
        ui.data_mut(|data| data.insert_temp(id, took));
    });
}
