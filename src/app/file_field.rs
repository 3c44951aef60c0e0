//! A file that a page reads: its path as a person writes it, or the system's dialog, or a file that
//! is dropped on the window.

use std::path::PathBuf;

use egui::{Key, Ui};

use super::sheet_form::field_row_ui;

/// What a person wants of a file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum FileWish {
    /// Read this one.
    Read(PathBuf),
    /// Ask which one.
    Pick,
}

/// The path as it is being written.
#[derive(Clone, Debug, Default)]
pub(super) struct FileField {
    path: String,
}

impl FileField {
    /// Shows the path of what was read.
    pub(super) fn set(&mut self, path: String) {
        self.path = path;
    }

    /// Draws the field under that name, with its buttons below.
    pub(super) fn ui(&mut self, ui: &mut Ui, name: &str, about: &str) -> Option<FileWish> {
        let path = &mut self.path;
        let entered = field_row_ui(ui, name, about, |ui, width, label| {
            let edit = egui::TextEdit::singleline(path)
                .hint_text("a path; or drop it here")
                .desired_width(width);
            let edit = ui.add(edit).labelled_by(label.id);
            edit.lost_focus() && ui.input(|input| input.key_pressed(Key::Enter))
        });
        let mut wish = entered.then(|| FileWish::Read(PathBuf::from(path.trim())));
        ui.horizontal(|ui| {
            let there = !path.trim().is_empty();
            let read = ui.add_enabled(there, egui::Button::new("Read it"));
            if read.clicked() {
                wish = Some(FileWish::Read(PathBuf::from(path.trim())));
            }
            if ui.button("Pick a file").clicked() {
                wish = Some(FileWish::Pick);
            }
        });
        wish.filter(|wish| *wish != FileWish::Read(PathBuf::new()))
    }
}
