//! A table of candidates for the machine on the bench, filled a little each frame.

use egui::{RichText, Ui, vec2};

use super::style;
use crate::compare::{
    Axes, COLUMNS, Column, Comparison, Row, four_digits, lengths, shares, whole_numbers,
};
use crate::scene::Theme;
use crate::setup::{Connection, Setup};

/// Lines of the table that are drawn; the rest is counted.
const MOST_LINES: usize = 200;
/// Width of a list with its name, in points.
const LIST: f32 = 148.0;
/// Candidates of a frame where nothing but the winding is computed.
const PER_FRAME: u64 = 40;
/// What the columns of the table are, the first eight where there are no dimensions.
const KEYS: [&str; 16] = [
    "slots",
    "poles",
    "layers",
    "coil_span",
    "turns",
    "magnet_arc",
    "winding_factor",
    "cogging_per_turn",
    "kv_rpm_per_v",
    "line_resistance_ohm",
    "line_inductance_h",
    "cogging_peak_nm",
    "motor_constant_nm_per_sqrt_w",
    "slot_fill",
    "copper_mass_kg",
    "wire_diameter_m",
];
const WITHOUT_DIMENSIONS: usize = 8;

/// One list that a person writes.
#[derive(Clone, Debug)]
struct Field {
    name: &'static str,
    hint: &'static str,
    text: String,
    needs_dimensions: bool,
}

/// Lists, and what came of them.
#[derive(Debug)]
pub(super) struct Candidates {
    base: Setup,
    fields: Vec<Field>,
    delta_too: bool,
    wrong: Option<String>,
    comparison: Option<Comparison>,
    next_group: u64,
    rows: Vec<Row>,
    sort: &'static str,
}

impl Candidates {
    /// Lists round the machine of a setup.
    pub(super) fn new(base: Setup) -> Self {
        let machine = &base.machine;
        let (slots, poles) = (machine.slots, machine.poles);
        let near = |middle: u32, step: u32, least: u32| {
            format!(
                "{}..{}/{step}",
                middle.saturating_sub(2 * step).max(least),
                middle + 2 * step
            )
        };
        let field = |name, hint, text: String, needs_dimensions| Field {
            name,
            hint,
            text,
            needs_dimensions,
        };
        let fields = vec![
            field("Slots", "as in 9,12 or 6..24/3", near(slots, 3, 3), false),
            field("Poles", "as in 8,10 or 4..20/2", near(poles, 2, 2), false),
            field(
                "Coil span",
                "in slots; empty: as it is on the bench",
                String::new(),
                false,
            ),
            field(
                "Layers",
                "1, 2 or 1,2; empty: as it is on the bench",
                String::new(),
                false,
            ),
            field(
                "Turns",
                "of a coil, as in 6..14/2; empty: as it is on the bench",
                String::new(),
                true,
            ),
            field(
                "Wire",
                "bare diameters, as in 0.4 mm,0.5 mm",
                String::new(),
                true,
            ),
            field(
                "Magnet arc",
                "parts of the pole pitch, as in 0.7..0.9/0.1",
                String::new(),
                true,
            ),
        ];
        Self {
            base,
            fields,
            delta_too: false,
            wrong: None,
            comparison: None,
            next_group: 0,
            rows: Vec::new(),
            sort: "winding_factor",
        }
    }

    fn has_dimensions(&self) -> bool {
        self.base.machine.geometry.is_some()
    }

    /// The lists as written, the bench's own value where one is empty.
    fn axes(&self) -> Result<Axes, String> {
        let machine = &self.base.machine;
        let written = machine.winding.as_ref();
        let geometry = machine.geometry.as_ref();
        let text = |idx: usize| Some(self.fields[idx].text.trim()).filter(|text| !text.is_empty());
        let named = |idx: usize, error: crate::compare::ListError| {
            format!("{}: {error}", self.fields[idx].name)
        };
        let whole = |idx: usize, step, allowed, own: u32| match text(idx) {
            Some(text) => whole_numbers(text, step, allowed).map_err(|error| named(idx, error)),
            None => Ok(vec![own]),
        };
        let (layers, span) = written.map_or((2, 1), |own| (own.layers, own.coil_span));
        let own_turns = written.and_then(|own| own.turns);
        let own = match machine.connection {
            Connection::Star => "star",
            Connection::Delta => "delta",
        };
        let other = if own == "star" { "delta" } else { "star" };
        let mut connections = vec![own.to_owned()];
        connections.extend(self.delta_too.then(|| other.to_owned()));
        Ok(Axes {
            slots: whole(0, 1, 3..=1200, machine.slots)?,
            poles: whole(1, 2, 2..=1200, machine.poles)?,
            spans: whole(2, 1, 1..=1199, span)?,
            layers: whole(3, 1, 1..=2, layers)?,
            turns: match text(4) {
                Some(text) => whole_numbers(text, 1, 1..=100_000)
                    .map_err(|error| named(4, error))?
                    .into_iter()
                    .map(Some)
                    .collect(),
                None => vec![own_turns],
            },
            wires_m: match text(5) {
                Some(text) => lengths(text)
                    .map_err(|error| named(5, error))?
                    .into_iter()
                    .map(Some)
                    .collect(),
                None => vec![geometry.and_then(|geometry| geometry.wire_diameter_m)],
            },
            magnet_arcs: match text(6) {
                Some(text) => shares(text)
                    .map_err(|error| named(6, error))?
                    .into_iter()
                    .map(Some)
                    .collect(),
                None => vec![geometry.map(|geometry| geometry.magnet_arc)],
            },
            connections,
        })
    }

    /// Begins anew with the lists as they are written.
    fn begin(&mut self) {
        let made = self.axes().and_then(|axes| {
            Comparison::new(self.base.clone(), axes, None, false).map_err(|error| error.to_string())
        });
        self.rows.clear();
        self.next_group = 0;
        (self.comparison, self.wrong) = match made {
            Ok(comparison) => (Some(comparison), None),
            Err(why) => (None, Some(why)),
        };
    }

    /// Says why a candidate could not be taken.
    pub(super) fn refuse(&mut self, why: &str) {
        self.wrong = Some(why.to_owned());
    }

    /// True while candidates are left to be computed.
    pub(super) fn is_busy(&self) -> bool {
        self.comparison
            .as_ref()
            .is_some_and(|comparison| self.next_group < comparison.axes().n_groups())
    }

    /// Computes on: one field of a machine, or some windings, so that no frame waits long.
    pub(super) fn advance(&mut self) {
        let n = if self.has_dimensions() { 1 } else { PER_FRAME };
        for _ in 0..n {
            if !self.is_busy() {
                return;
            }
            if let Some(comparison) = &self.comparison {
                self.rows
                    .extend(comparison.group(self.next_group, &|| false));
                self.next_group += 1;
            }
        }
    }

    /// Draws lists and table. The setup of a candidate that was chosen, with its name.
    pub(super) fn ui(&mut self, ui: &mut Ui, theme: &Theme) -> Option<(Setup, String)> {
        let has_dimensions = self.has_dimensions();
        ui.spacing_mut().item_spacing.y = style::gap(1.0);
        if self.lists_ui(ui) {
            self.begin();
        }
        if let Some(why) = &self.wrong {
            let words = RichText::new(format!("! {why}")).color(style::colour(theme.caution));
            ui.add(egui::Label::new(words).wrap());
        }
        let Some(comparison) = &self.comparison else {
            let words = if has_dimensions {
                "Every feasible combination is computed from the dimensions in the setup."
            } else {
                "The setup has no dimensions, so only what the winding alone tells is compared, and \
                 Kv, resistance and inductance of a candidate stay those of the bench."
            };
            ui.add(egui::Label::new(RichText::new(words).small()).wrap());
            return None;
        };
        let n_out = self
            .rows
            .iter()
            .filter(|row| row.infeasible.is_some())
            .count();
        let mut words = format!(
            "{} of {} computed, {n_out} cannot be built",
            self.rows.len(),
            comparison.axes().n_candidates()
        );
        for rule in comparison.rules() {
            words.push_str("; ");
            words.push_str(&rule);
        }
        ui.add(egui::Label::new(RichText::new(words).small()).wrap());
        let chosen = egui::ScrollArea::both()
            .id_salt("candidates")
            .auto_shrink(false)
            .show(ui, |ui| self.table_ui(ui, theme))
            .inner?;
        let comparison = self.comparison.as_ref()?;
        let candidate = comparison.axes().candidate(chosen)?;
        let name = format!(
            "{} slots, {} poles{}",
            candidate.slots,
            candidate.poles,
            candidate
                .turns
                .map_or_else(String::new, |turns| format!(", {turns} turns"))
        );
        Some((comparison.setup_of(&candidate), name))
    }

    /// The lists. True where candidates were asked for.
    fn lists_ui(&mut self, ui: &mut Ui) -> bool {
        let has_dimensions = self.has_dimensions();
        let mut asked = false;
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "a few"
        )]
        let in_a_row = ((ui.available_width() / LIST).floor() as usize).max(1);
        egui::Grid::new("lists")
            .spacing(vec2(style::gap(2.0), style::gap(1.0)))
            .show(ui, |ui| {
                let there = |field: &&mut Field| has_dimensions || !field.needs_dimensions;
                for (idx, field) in self.fields.iter_mut().filter(there).enumerate() {
                    if idx > 0 && idx.is_multiple_of(in_a_row) {
                        ui.end_row();
                    }
                    let label = ui.label(RichText::new(field.name).small());
                    let edit = egui::TextEdit::singleline(&mut field.text).hint_text("as is");
                    let size = vec2(72.0, ui.spacing().interact_size.y);
                    let edit = ui.add_sized(size, edit).labelled_by(label.id);
                    let entered = ui.input(|input| input.key_pressed(egui::Key::Enter));
                    asked |= edit.lost_focus() && entered;
                    edit.on_hover_text(field.hint);
                }
            });
        ui.horizontal(|ui| {
            let both = ui.checkbox(&mut self.delta_too, "star and delta");
            both.on_hover_text("Each candidate in both connections");
            asked |= ui
                .button("Find candidates")
                .on_hover_text("Every combination of these lists")
                .clicked();
        });
        asked
    }

    /// The table, the best of the sorting column first, what cannot be built last. The candidate
    /// that was chosen.
    fn table_ui(&mut self, ui: &mut Ui, theme: &Theme) -> Option<u64> {
        let columns = self.columns();
        let ink = style::colour(theme.ink);
        let mut order: Vec<&Row> = self.rows.iter().collect();
        if let Some(column) = columns.iter().find(|column| column.key == self.sort) {
            order.sort_by(|one, other| sorted(one, other, column));
        }
        let mut chosen = None;
        let mut sort = self.sort;
        ui.spacing_mut().button_padding = vec2(style::gap(1.5), 0.0);
        ui.spacing_mut().interact_size.y = style::gap(4.5);
        egui::Grid::new("candidates")
            .striped(true)
            .spacing(vec2(style::gap(3.0), style::gap(0.5)))
            .show(ui, |ui| {
                ui.label(RichText::new("put").small());
                for column in &columns {
                    let here = column.key == sort;
                    let words = RichText::new(column.heading).small();
                    let heading = ui.add(egui::Button::selectable(here, words));
                    if heading.on_hover_text("Sort by this").clicked() {
                        sort = column.key;
                    }
                }
                ui.label(RichText::new("remarks").small());
                ui.end_row();
                for row in order.iter().take(MOST_LINES) {
                    let can = row.infeasible.is_none();
                    let put = ui.add_enabled(can, egui::Button::new("B"));
                    let name = format!(
                        "Put {} slots, {} poles{}, {} beside the bench",
                        row.slots,
                        row.poles,
                        row.turns
                            .map_or_else(String::new, |n| format!(", {n} turns")),
                        row.connection
                    );
                    put.widget_info(|| egui::WidgetInfo::labeled(egui::Role::Button, can, &name));
                    if put.on_hover_text(&name).clicked() {
                        chosen = Some(row.candidate);
                    }
                    for column in &columns {
                        let cell =
                            four_digits((column.value)(row).map(|value| value * column.per_si));
                        let words = RichText::new(cell);
                        ui.label(if can { words.color(ink) } else { words });
                    }
                    ui.label(RichText::new(remarks(row)).small());
                    ui.end_row();
                }
            });
        if order.len() > MOST_LINES {
            let words = format!("and {} more", order.len() - MOST_LINES);
            ui.label(RichText::new(words).small());
        }
        self.sort = sort;
        chosen
    }

    fn columns(&self) -> Vec<&'static Column> {
        let keys = if self.has_dimensions() {
            &KEYS[..]
        } else {
            &KEYS[..WITHOUT_DIMENSIONS]
        };
        keys.iter()
            .filter_map(|key| COLUMNS.iter().find(|column| column.key == *key))
            .filter(|column| self.rows.iter().any(|row| (column.value)(row).is_some()))
            .collect()
    }
}

fn sorted(one: &Row, other: &Row, column: &Column) -> std::cmp::Ordering {
    let out = |row: &Row| row.infeasible.is_some();
    let by_value = match ((column.value)(one), (column.value)(other)) {
        (Some(a), Some(b)) if column.falling => b.total_cmp(&a),
        (Some(a), Some(b)) => a.total_cmp(&b),
        (a, b) => b.is_some().cmp(&a.is_some()),
    };
    out(one)
        .cmp(&out(other))
        .then(by_value)
        .then(one.candidate.cmp(&other.candidate))
}

fn remarks(row: &Row) -> String {
    if let Some(why) = &row.infeasible {
        return why.clone();
    }
    let mut remarks = vec![row.connection.clone()];
    if row.unbalanced_pull == Some(true) {
        remarks.push("pulls sideways".to_owned());
    }
    remarks.extend(row.notes.iter().cloned());
    remarks.join("; ")
}
