//! A form made from a table of keys: what a file of that kind may hold, one field a key.
//!
//! The form's state is text, as the file has it. It is put together as a file and read by the one
//! parser there is, so a value that a file would not take is refused here in the same words.

use std::collections::{BTreeMap, BTreeSet};

use egui::{RichText, Ui};

use super::style;
use crate::scene::Theme;
use crate::setup::{Absent, KeySpec, Kind, SetupErrors, Sheet};

/// Width of the names, in points.
const NAMES: f32 = 150.0;

/// A file being filled in.
#[derive(Clone, Debug)]
pub(super) struct SheetForm {
    sheet: &'static Sheet,
    /// Tables that a file may leave out.
    optional: &'static [&'static str],
    values: BTreeMap<&'static str, String>,
    present: BTreeSet<&'static str>,
    /// What is wrong, by key; an empty key where no field is to blame.
    wrong: BTreeMap<&'static str, String>,
}

impl SheetForm {
    /// A form of that kind, filled in from a text; what the text does not say is empty.
    pub(super) fn new(
        sheet: &'static Sheet,
        optional: &'static [&'static str],
        text: &str,
    ) -> Self {
        let table: toml::Table = text.parse().unwrap_or_default();
        let mut values = BTreeMap::new();
        for spec in sheet.keys {
            let value = spec
                .path
                .split('.')
                .try_fold(None, |at: Option<&toml::Value>, name| {
                    let next = match at {
                        None => table.get(name),
                        Some(toml::Value::Table(table)) => table.get(name),
                        Some(_) => None,
                    };
                    next.map(Some)
                });
            let words = match value.flatten() {
                Some(toml::Value::String(words)) => words.clone(),
                Some(value) => value.to_string(),
                None => String::new(),
            };
            values.insert(spec.path, words);
        }
        let filled = |name: &&str| {
            let of_table = |spec: &&KeySpec| spec.table() == *name;
            let mut keys = sheet.keys.iter().filter(of_table);
            keys.any(|spec| values.get(spec.path).is_some_and(|words| !words.is_empty()))
        };
        let present = sheet
            .tables
            .iter()
            .map(|(name, _)| *name)
            .filter(|name| !optional.contains(name) || filled(name))
            .collect();
        Self {
            sheet,
            optional,
            values,
            present,
            wrong: BTreeMap::new(),
        }
    }

    /// The text of the file, and which key stands on each of its lines.
    fn lines(&self) -> (String, Vec<&'static str>) {
        let mut text = String::new();
        let mut keys = Vec::new();
        let mut table = "";
        for spec in self.sheet.keys {
            let words = self.values.get(spec.path).map_or("", |words| words.trim());
            let here = spec.table();
            let there = here.is_empty() || self.present.contains(here);
            if !there || (words.is_empty() && here == table) {
                continue;
            }
            if here != table {
                table = here;
                text.push_str(&format!("[{here}]\n"));
                keys.push("");
            }
            if words.is_empty() {
                continue;
            }
            text.push_str(&format!("{} = {}\n", spec.name(), written(spec, words)));
            keys.push(spec.path);
        }
        (text, keys)
    }

    /// The file as a text.
    pub(super) fn text(&self) -> String {
        self.lines().0
    }

    /// Reads the form with a parser; what is wrong is kept beside the fields.
    pub(super) fn read<T>(
        &mut self,
        parse: impl FnOnce(&str, &str) -> Result<T, SetupErrors>,
    ) -> Option<T> {
        let (text, keys) = self.lines();
        self.wrong.clear();
        match parse(&text, "form") {
            Ok(read) => Some(read),
            Err(errors) => {
                for problem in errors.problems() {
                    let line = problem
                        .start()
                        .map(|start| text.get(..start).unwrap_or_default().matches('\n').count());
                    let mut words = problem.to_string();
                    let missing = self.missing(&words);
                    if let Some(remedy) = problem.remedy() {
                        words.push_str(": ");
                        words.push_str(&remedy);
                    }
                    let on_line = line.and_then(|line| keys.get(line)).copied();
                    let key = missing.or(on_line).unwrap_or("");
                    self.wrong.entry(key).or_insert(words);
                }
                None
            }
        }
    }

    /// The key that a message names between back quotes, where its field is empty.
    fn missing(&self, words: &str) -> Option<&'static str> {
        let named = words.split('`').nth(1)?;
        let spec = self.sheet.key_spec(named)?;
        let empty = self
            .values
            .get(spec.path)
            .is_none_or(|words| words.trim().is_empty());
        empty.then_some(spec.path)
    }

    /// Draws the form. True where something was changed.
    pub(super) fn ui(&mut self, ui: &mut Ui, theme: &Theme) -> bool {
        let mut changed = false;
        if let Some(words) = self.wrong.get("") {
            wrong_ui(ui, words, theme);
        }
        for spec in self
            .sheet
            .keys
            .iter()
            .filter(|spec| spec.table().is_empty())
        {
            if spec.path != "format" {
                changed |= self.field_ui(ui, spec, theme);
            }
        }
        for (name, about) in self.sheet.tables {
            ui.add_space(style::gap(1.0));
            changed |= self.heading_ui(ui, name, about, theme);
            if !self.present.contains(name) {
                continue;
            }
            for spec in self.sheet.keys.iter().filter(|spec| spec.table() == *name) {
                changed |= self.field_ui(ui, spec, theme);
            }
        }
        changed
    }

    fn heading_ui(&mut self, ui: &mut Ui, name: &'static str, about: &str, theme: &Theme) -> bool {
        let words = RichText::new(capital(name)).strong();
        let words = words.color(style::colour(theme.ink));
        if !self.optional.contains(&name) {
            ui.label(words).on_hover_text(about);
            return false;
        }
        let mut there = self.present.contains(name);
        let changed = ui
            .checkbox(&mut there, words)
            .on_hover_text(about)
            .changed();
        if there {
            self.present.insert(name);
        } else {
            self.present.remove(name);
        }
        changed
    }

    fn field_ui(&mut self, ui: &mut Ui, spec: &'static KeySpec, theme: &Theme) -> bool {
        let about = format!(
            "{}: {}. As in {}",
            spec.about,
            spec.kind.allowed(),
            spec.example
        );
        let hint = match spec.absent {
            Absent::Required => format!("as in {}", spec.example.trim_matches('"')),
            Absent::Default(words) => words.trim_matches('"').to_owned(),
            Absent::None => "not given".to_owned(),
        };
        let name = capital(&spec.name().replace('_', " "));
        let values = &mut self.values;
        let changed = ui
            .horizontal(|ui| {
                let size = egui::vec2(NAMES, ui.spacing().interact_size.y);
                let layout = egui::Layout::left_to_right(egui::Align::Center);
                let label = ui
                    .allocate_ui_with_layout(size, layout, |ui| {
                        ui.set_min_width(size.x);
                        ui.label(name).on_hover_text(&about)
                    })
                    .inner;
                let text = values.entry(spec.path).or_default();
                let edit = egui::TextEdit::singleline(text)
                    .hint_text(hint)
                    .desired_width(ui.available_width() - style::gap(2.0));
                let edit = ui.add(edit).labelled_by(label.id).on_hover_text(about);
                edit.changed()
            })
            .inner;
        if let Some(words) = self.wrong.get(spec.path) {
            wrong_ui(ui, words, theme);
        }
        changed
    }
}

/// A value as the file has it: a quantity and a text in quotes, and whatever carries a tolerance.
fn written(spec: &KeySpec, words: &str) -> String {
    let bare = match spec.kind {
        Kind::Number { .. } => words.parse::<f64>().is_ok(),
        Kind::Whole { .. } => words.parse::<u64>().is_ok(),
        Kind::Flag => matches!(words, "true" | "false"),
        _ => false,
    };
    if bare {
        words.to_owned()
    } else {
        toml::Value::String(words.to_owned()).to_string()
    }
}

fn wrong_ui(ui: &mut Ui, words: &str, theme: &Theme) {
    let words = RichText::new(format!("! {words}")).small();
    ui.add(egui::Label::new(words.color(style::colour(theme.caution))).wrap());
}

/// With a capital at its start.
fn capital(words: &str) -> String {
    let mut letters = words.chars();
    let first: String = letters
        .next()
        .into_iter()
        .flat_map(char::to_uppercase)
        .collect();
    format!("{first}{}", letters.as_str())
        .replace("Pwm", "PWM")
        .replace("emf", "EMF")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::predict::{BUILD_SHEET, Build, example_build};

    const OPTIONAL: &[&str] = &[
        "controller",
        "gear",
        "propeller",
        "vehicle",
        "pump",
        "winch",
        "load",
    ];

    #[test]
    fn an_example_is_read_back_as_it_was() {
        let mut form = SheetForm::new(&BUILD_SHEET, OPTIONAL, example_build());
        let read = form.read(Build::parse).unwrap();
        assert_eq!(read, Build::parse(example_build(), "example").unwrap());
        assert!(form.present.contains("propeller") && !form.present.contains("winch"));
    }

    /// A bad value, a missing one and a table without what it needs are each told at their field.
    #[test]
    fn what_is_wrong_stands_at_its_field() {
        let mut form = SheetForm::new(&BUILD_SHEET, OPTIONAL, example_build());
        form.values.insert("motor.poles", "seven".to_owned());
        form.values.insert("pack.voltage", String::new());
        form.present.insert("winch");
        assert!(form.read(Build::parse).is_none());
        for key in ["motor.poles", "pack.voltage", "winch.mass"] {
            assert!(form.wrong.contains_key(key), "{key}: {:?}", form.wrong);
        }
        form.values.insert("motor.poles", "14\"\n[bad".to_owned());
        assert!(
            form.read(Build::parse).is_none(),
            "no text leaves its field"
        );
        assert!(form.wrong.contains_key("motor.poles"), "{:?}", form.wrong);
    }
}
