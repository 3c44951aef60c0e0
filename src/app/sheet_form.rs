//! A form made from a table of keys: what a file of that kind may hold, one field a key.
//!
//! The form's state is text, as the file has it. It is put together as a file and read by the one
//! parser there is, so a value that a file would not take is refused here in the same words.

use std::collections::BTreeMap;

use egui::{RichText, Ui};

use super::style;
use crate::scene::Theme;
use crate::setup::{Absent, KeySpec, Kind, SetupErrors, Sheet};

/// Width of the names, in points.
const NAMES: f32 = 150.0;

/// A field: its key, and in which of the tables of that name it stands.
type Place = (&'static str, usize);

/// A file being filled in.
#[derive(Clone, Debug)]
pub(super) struct SheetForm {
    sheet: &'static Sheet,
    /// Tables that a file may leave out.
    optional: &'static [&'static str],
    values: BTreeMap<Place, String>,
    /// How many tables of each name there are: 0 or 1, or any number of a list.
    rows: BTreeMap<&'static str, usize>,
    /// What is wrong, by field; an empty key where no field is to blame.
    wrong: BTreeMap<Place, String>,
}

impl SheetForm {
    /// A form of that kind, filled in from a text; what the text does not say is empty.
    pub(super) fn new(
        sheet: &'static Sheet,
        optional: &'static [&'static str],
        text: &str,
    ) -> Self {
        let file: toml::Table = text.parse().unwrap_or_default();
        let mut form = Self {
            sheet,
            optional,
            values: BTreeMap::new(),
            rows: BTreeMap::new(),
            wrong: BTreeMap::new(),
        };
        form.fill(&file, "", 0);
        for (name, _) in sheet.tables {
            let tables: Vec<&toml::Table> = match file.get(*name) {
                Some(toml::Value::Table(table)) => vec![table],
                Some(toml::Value::Array(list)) => {
                    list.iter().filter_map(toml::Value::as_table).collect()
                }
                _ => Vec::new(),
            };
            for (row, table) in tables.iter().enumerate() {
                form.fill(table, name, row);
            }
            let optional = optional.contains(name) || sheet.lists.contains(name);
            let least = usize::from(!optional);
            form.rows.insert(name, tables.len().max(least));
        }
        form
    }

    /// Takes the keys of a table from a file.
    fn fill(&mut self, table: &toml::Table, name: &str, row: usize) {
        for spec in self.sheet.keys.iter().filter(|spec| spec.table() == name) {
            let words = match table.get(spec.name()) {
                Some(toml::Value::String(words)) => words.clone(),
                Some(value) => value.to_string(),
                None => continue,
            };
            self.values.insert((spec.path, row), words);
        }
    }

    /// The text of the file, and which field stands on each of its lines; a heading has an empty
    /// key.
    fn lines(&self) -> (String, Vec<Place>) {
        let mut text = String::new();
        let mut places = Vec::new();
        self.table_lines("", 0, &mut text, &mut places);
        for (name, _) in self.sheet.tables {
            let list = self.sheet.lists.contains(name);
            for row in 0..self.rows.get(name).copied().unwrap_or(0) {
                let heading = if list {
                    format!("[[{name}]]\n")
                } else {
                    format!("[{name}]\n")
                };
                text.push_str(&heading);
                places.push(("", row));
                self.table_lines(name, row, &mut text, &mut places);
            }
        }
        (text, places)
    }

    fn table_lines(&self, name: &str, row: usize, text: &mut String, places: &mut Vec<Place>) {
        for spec in self.sheet.keys.iter().filter(|spec| spec.table() == name) {
            let words = self.value(spec.path, row);
            if !words.is_empty() {
                text.push_str(&format!("{} = {}\n", spec.name(), written(spec, words)));
                places.push((spec.path, row));
            }
        }
    }

    fn value(&self, path: &'static str, row: usize) -> &str {
        self.values
            .get(&(path, row))
            .map_or("", |words| words.trim())
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
        let (text, places) = self.lines();
        self.wrong.clear();
        match parse(&text, "form") {
            Ok(read) => Some(read),
            Err(errors) => {
                for problem in errors.problems() {
                    let line = problem
                        .start()
                        .map(|start| text.get(..start).unwrap_or_default().matches('\n').count());
                    let on_line = line.and_then(|line| places.get(line)).copied();
                    let mut words = problem.to_string();
                    let row = on_line.map_or(0, |(_, row)| row);
                    let missing = self.missing(&words, row);
                    if let Some(remedy) = problem.remedy() {
                        words.push_str(": ");
                        words.push_str(&remedy);
                    }
                    let place = missing.or(on_line).unwrap_or(("", 0));
                    self.wrong.entry(place).or_insert(words);
                }
                None
            }
        }
    }

    /// The field that a message names between back quotes, where it is empty.
    fn missing(&self, words: &str, row: usize) -> Option<Place> {
        let named = words.split('`').nth(1)?;
        let spec = self.sheet.key_spec(named)?;
        self.value(spec.path, row)
            .is_empty()
            .then_some((spec.path, row))
    }

    /// Draws the form. True where something was changed.
    pub(super) fn ui(&mut self, ui: &mut Ui, theme: &Theme) -> bool {
        let mut changed = false;
        let loose: Vec<String> = self
            .wrong
            .iter()
            .filter(|((key, _), _)| key.is_empty())
            .map(|(_, words)| words.clone())
            .collect();
        for words in loose {
            wrong_ui(ui, &words, theme);
        }
        changed |= self.table_ui(ui, "", 0, theme);
        for (name, about) in self.sheet.tables {
            ui.add_space(style::gap(1.0));
            changed |= self.heading_ui(ui, name, about, theme);
            let mut row = 0;
            while row < self.rows.get(name).copied().unwrap_or(0) {
                if self.sheet.lists.contains(name) {
                    changed |= self.row_ui(ui, name, row);
                }
                changed |= self.table_ui(ui, name, row, theme);
                row += 1;
            }
        }
        changed
    }

    fn table_ui(&mut self, ui: &mut Ui, name: &str, row: usize, theme: &Theme) -> bool {
        let mut changed = false;
        let specs = self.sheet.keys.iter().filter(|spec| spec.table() == name);
        for spec in specs.filter(|spec| spec.path != "format") {
            changed |= self.field_ui(ui, spec, row, theme);
        }
        changed
    }

    /// The name of a table, with a way to add one where it may be left out or repeated.
    fn heading_ui(&mut self, ui: &mut Ui, name: &'static str, about: &str, theme: &Theme) -> bool {
        let shown = capital(&name.replace('_', " "));
        let words = RichText::new(&shown).strong();
        let words = words.color(style::colour(theme.ink));
        let rows = self.rows.entry(name).or_insert(0);
        if self.sheet.lists.contains(&name) {
            return ui
                .horizontal(|ui| {
                    ui.label(words).on_hover_text(about);
                    let add = ui.button("Add");
                    let label = format!("Add: {shown}");
                    add.widget_info(|| egui::WidgetInfo::labeled(egui::Role::Button, true, &label));
                    let add = add.on_hover_text(about).clicked();
                    *rows += usize::from(add);
                    add
                })
                .inner;
        }
        if !self.optional.contains(&name) {
            ui.label(words).on_hover_text(about);
            return false;
        }
        let mut there = *rows > 0;
        let changed = style::tick_ui(ui, &mut there, words)
            .on_hover_text(about)
            .changed();
        *rows = usize::from(there);
        changed
    }

    /// The number of a row, and a way to take it out.
    fn row_ui(&mut self, ui: &mut Ui, name: &'static str, row: usize) -> bool {
        let shown = name.replace('_', " ");
        ui.horizontal(|ui| {
            ui.label(RichText::new(format!("{shown} {}", row + 1)).small());
            let out = ui.button("Take out");
            let label = format!("Take out: {shown} {}", row + 1);
            out.widget_info(|| egui::WidgetInfo::labeled(egui::Role::Button, true, &label));
            let out = out.clicked();
            if out {
                self.take_out(name, row);
            }
            out
        })
        .inner
    }

    /// Takes a row out; those after it move up.
    fn take_out(&mut self, name: &'static str, row: usize) {
        let last = self.rows.get(name).copied().unwrap_or(0).saturating_sub(1);
        for spec in self.sheet.keys.iter().filter(|spec| spec.table() == name) {
            for here in row..last {
                let next = self
                    .values
                    .remove(&(spec.path, here + 1))
                    .unwrap_or_default();
                self.values.insert((spec.path, here), next);
            }
            self.values.remove(&(spec.path, last));
        }
        self.rows.insert(name, last);
    }

    fn field_ui(&mut self, ui: &mut Ui, spec: &'static KeySpec, row: usize, theme: &Theme) -> bool {
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
        let text = self.values.entry((spec.path, row)).or_default();
        let changed = field_row_ui(ui, &name, &about, |ui, width, label| {
            let place = (spec.path, row);
            if let Kind::Word { words, .. } = spec.kind {
                return word_ui(ui, place, text, words, &hint, width, label);
            }
            if matches!(spec.kind, Kind::Flag) {
                return word_ui(ui, place, text, &["true", "false"], &hint, width, label);
            }
            let edit = egui::TextEdit::singleline(text)
                .hint_text(hint)
                .desired_width(width);
            let edit = ui.add(edit).labelled_by(label.id).on_hover_text(&about);
            edit.changed()
        });
        if let Some(words) = self.wrong.get(&(spec.path, row)) {
            wrong_ui(ui, words, theme);
        }
        changed
    }
}

/// A row of a form: its name, and what is filled in, which is told how wide it may be and what names
/// it.
pub(super) fn field_row_ui<T>(
    ui: &mut Ui,
    name: &str,
    about: &str,
    contents: impl FnOnce(&mut Ui, f32, &egui::Response) -> T,
) -> T {
    ui.horizontal(|ui| {
        let size = egui::vec2(NAMES, ui.spacing().interact_size.y);
        let layout = egui::Layout::left_to_right(egui::Align::Center);
        let label = ui
            .allocate_ui_with_layout(size, layout, |ui| {
                ui.set_min_width(size.x);
                ui.label(name).on_hover_text(about)
            })
            .inner;
        let width = ui.available_width() - style::gap(2.0);
        contents(ui, width, &label)
    })
    .inner
}

/// One of some words, or what holds where none is written.
pub(super) fn word_ui(
    ui: &mut Ui,
    place: impl std::hash::Hash + std::fmt::Debug,
    text: &mut String,
    words: &[impl AsRef<str>],
    hint: &str,
    width: f32,
    label: &egui::Response,
) -> bool {
    let before = text.clone();
    let shown = if text.is_empty() { hint } else { text.as_str() };
    let list = egui::ComboBox::from_id_salt(place)
        .selected_text(shown.to_owned())
        .width(width)
        .truncate();
    // a list cuts its words to the place that is left, not to the width it is given
    let list = ui.scope(|ui| {
        ui.set_max_width(width);
        list.show_ui(ui, |ui| {
            for word in words.iter().map(AsRef::as_ref) {
                if ui.selectable_label(text == word, word).clicked() {
                    word.clone_into(text);
                    ui.close();
                }
            }
        })
    });
    list.inner.response.labelled_by(label.id);
    *text != before
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
        .replace("Emf", "EMF")
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
        assert_eq!((form.rows["propeller"], form.rows["winch"]), (1, 0));
    }

    /// A bad value, a missing one and a table without what it needs are each told at their field.
    #[test]
    fn what_is_wrong_stands_at_its_field() {
        let mut form = SheetForm::new(&BUILD_SHEET, OPTIONAL, example_build());
        form.values.insert(("motor.poles", 0), "seven".to_owned());
        form.values.insert(("pack.voltage", 0), String::new());
        form.rows.insert("winch", 1);
        assert!(form.read(Build::parse).is_none());
        for key in ["motor.poles", "pack.voltage", "winch.mass"] {
            assert!(
                form.wrong.contains_key(&(key, 0)),
                "{key}: {:?}",
                form.wrong
            );
        }
        form.values
            .insert(("motor.poles", 0), "14\"\n[bad".to_owned());
        assert!(
            form.read(Build::parse).is_none(),
            "no text leaves its field"
        );
        assert!(
            form.wrong.contains_key(&("motor.poles", 0)),
            "{:?}",
            form.wrong
        );
    }
}
