//! A table of candidates for the machine on the bench, filled a little each frame.

use egui::{RichText, Ui, vec2};

use super::picture::{Zoom, picture_ui};
use super::style;
use crate::analysis::Measuring;
use crate::compare::{
    Axes, COLUMNS, Column, Comparison, Row, four_digits, lengths, picture_columns, shares,
    take_run, whole_numbers,
};
use crate::scene::Theme;
use crate::scene::scatter::{ScatterView, scatter};
use crate::setup::{Connection, Quantity, Setup, parse_quantity};

/// Lines of the table that are drawn; the rest is counted.
const MOST_LINES: usize = 200;
/// Width of a list with its name, in points.
const LIST: f32 = 148.0;
/// Candidates of a frame where nothing but the winding is computed.
const PER_FRAME: u64 = 40;
/// What the columns of the table are, the first eight where there are no dimensions.
const KEYS: [&str; 19] = [
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
    "copper_loss_w",
    "torque_ripple_pp_nm",
    "mean_speed_rpm",
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
    /// At which the copper loss is told, as a person writes it; empty: not asked.
    torque: String,
    delta_too: bool,
    run_each: bool,
    wrong: Option<String>,
    comparison: Option<Comparison>,
    next_group: u64,
    rows: Vec<Row>,
    /// The row whose run is in the making, or the next one.
    next_run: usize,
    running: Option<Measuring>,
    sort: &'static str,
    /// What the picture shows; `None`: what suits.
    picture: [Option<&'static Column>; 2],
}

/// A candidate that was chosen.
#[derive(Debug)]
pub(super) struct Chosen {
    /// In whose place it goes: 0 for A, 1 for B.
    pub(super) side: usize,
    /// Its setup.
    pub(super) setup: Setup,
    /// What it is called.
    pub(super) name: String,
}

/// Pieces of a candidate's run that a frame waits for.
const PIECES_PER_FRAME: u32 = 8_000;

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
            torque: String::new(),
            delta_too: false,
            run_each: false,
            wrong: None,
            comparison: None,
            next_group: 0,
            rows: Vec::new(),
            next_run: 0,
            running: None,
            sort: "winding_factor",
            picture: [None; 2],
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
        let other = match machine.connection {
            Connection::Star => Connection::Delta,
            Connection::Delta => Connection::Star,
        };
        let mut connections = vec![machine.connection];
        connections.extend(self.delta_too.then_some(other));
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
            let torque_nm = self.torque_nm()?;
            let comparison = Comparison::new(self.base.clone(), axes, torque_nm, false);
            comparison.map_err(|error| error.to_string())
        });
        self.rows.clear();
        (self.next_group, self.next_run, self.running) = (0, 0, None);
        (self.comparison, self.wrong) = match made {
            Ok(comparison) => (Some(comparison), None),
            Err(why) => (None, Some(why)),
        };
    }

    /// The torque as written.
    fn torque_nm(&self) -> Result<Option<f64>, String> {
        let text = self.torque.trim();
        if text.is_empty() || !self.has_dimensions() {
            return Ok(None);
        }
        match parse_quantity(text, Quantity::Torque) {
            Ok(torque_nm) if torque_nm > 0.0 => Ok(Some(torque_nm)),
            _ => Err(format!(
                "Loss at: a torque above 0 with its unit, as in 0.1 Nm, not {text}"
            )),
        }
    }

    /// Says why a candidate could not be taken.
    pub(super) fn refuse(&mut self, why: &str) {
        self.wrong = Some(why.to_owned());
    }

    /// True while candidates are left to be computed, or to be run.
    pub(super) fn is_busy(&self) -> bool {
        self.computes() || self.run_each && self.next_run < self.rows.len()
    }

    fn computes(&self) -> bool {
        self.comparison
            .as_ref()
            .is_some_and(|comparison| self.next_group < comparison.axes().n_groups())
    }

    /// Goes on with the runs of the candidates, as far as a frame bears.
    fn run_on(&mut self) {
        let Some(comparison) = &self.comparison else {
            return;
        };
        if self.running.is_none() {
            while let Some(row) = self.rows.get(self.next_run) {
                self.running = comparison.begin_run(row);
                if self.running.is_some() {
                    break;
                }
                self.next_run += 1;
            }
        }
        if let Some(running) = &mut self.running
            && running.advance(PIECES_PER_FRAME, &mut ())
            && let Some(ended) = self.running.take()
            && let Some(row) = self.rows.get_mut(self.next_run)
        {
            take_run(row, ended.outcome());
            self.next_run += 1;
        }
    }

    /// Computes on: one field of a machine, or some windings, so that no frame waits long; then
    /// the runs.
    pub(super) fn advance(&mut self) {
        if !self.computes() {
            if self.run_each {
                self.run_on();
            }
            return;
        }
        let n = if self.has_dimensions() { 1 } else { PER_FRAME };
        for _ in 0..n {
            if !self.computes() {
                return;
            }
            if let Some(comparison) = &self.comparison {
                self.rows
                    .extend(comparison.group(self.next_group, &|| false));
                self.next_group += 1;
            }
        }
    }

    /// Draws lists and table. The candidate that was chosen.
    pub(super) fn ui(&mut self, ui: &mut Ui, theme: &Theme) -> Option<Chosen> {
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
        if self.run_each && !self.computes() {
            let n_can = self.rows.len() - n_out;
            let n_ran = self.rows.iter().take(self.next_run);
            let n_ran = n_ran.filter(|row| row.infeasible.is_none()).count();
            words.push_str(&format!(", {n_ran} of {n_can} run"));
        }
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
        let (side, idx) = chosen;
        let candidate = comparison.axes().candidate(idx)?;
        let turns = candidate.turns;
        let turns = turns.map_or_else(String::new, |turns| format!(", {turns} turns"));
        Some(Chosen {
            side,
            name: format!(
                "{} slots, {} poles{turns}",
                candidate.slots, candidate.poles
            ),
            setup: comparison.setup_of(&candidate),
        })
    }

    /// Draws the candidates as marks over two figures of a person's choice.
    pub(super) fn picture_ui(&mut self, ui: &mut Ui, theme: &Theme) {
        let Some(comparison) = &self.comparison else {
            ui.label("Find candidates first: the picture shows those of the table.");
            return;
        };
        let known: Vec<&'static Column> = COLUMNS
            .iter()
            .filter(|column| self.rows.iter().any(|row| (column.value)(row).is_some()))
            .collect();
        let own = picture_columns(&self.rows);
        let shown: [&'static Column; 2] =
            std::array::from_fn(|axis| self.picture[axis].unwrap_or(own[axis]));
        ui.horizontal(|ui| {
            for (axis, (words, salt)) in
                [("across", "across"), ("up", "up")].into_iter().enumerate()
            {
                let label = ui.label(RichText::new(words).small());
                let chosen = egui::ComboBox::from_id_salt(salt).selected_text(shown[axis].heading);
                let chosen = chosen.show_ui(ui, |ui| {
                    for column in &known {
                        let here = column.key == shown[axis].key;
                        if ui.selectable_label(here, column.heading).clicked() {
                            self.picture[axis] = Some(column);
                        }
                    }
                });
                chosen.response.labelled_by(label.id);
            }
        });
        let [x, y] = shown;
        let marks: Vec<([f64; 2], String)> = self
            .rows
            .iter()
            .filter(|row| row.infeasible.is_none())
            .filter_map(|row| {
                let place = [(x.value)(row)? * x.per_si, (y.value)(row)? * y.per_si];
                Some((place, comparison.axes().name_of(row)))
            })
            .collect();
        let rect = ui.available_rect_before_wrap();
        let size = [rect.width(), rect.height()].map(f64::from);
        let title = "Candidates, slots/poles";
        let view = ScatterView {
            title,
            axes: [x.heading, y.heading],
            marks: &marks,
        };
        let words = format!(
            "{} candidates: {} over {}",
            marks.len(),
            y.heading,
            x.heading
        );
        let scene = scatter(&view, size, theme);
        picture_ui(ui, "candidates", rect, &scene, Zoom::default(), &words);
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
            if has_dimensions {
                let label = ui.label(RichText::new("Loss at").small());
                let edit = egui::TextEdit::singleline(&mut self.torque).hint_text("0.1 Nm");
                let size = vec2(72.0, ui.spacing().interact_size.y);
                let edit = ui.add_sized(size, edit).labelled_by(label.id);
                asked |= edit.lost_focus() && ui.input(|input| input.key_pressed(egui::Key::Enter));
                edit.on_hover_text("A torque: the copper loss of each candidate at it");
                let each = ui.checkbox(&mut self.run_each, "run each");
                each.on_hover_text(
                    "Simulate the bench with each candidate: its speed and its torque ripple",
                );
            }
            asked |= ui
                .button("Find candidates")
                .on_hover_text("Every combination of these lists")
                .clicked();
        });
        asked
    }

    /// The table, the best of the sorting column first, what cannot be built last. The candidate
    /// that was chosen.
    fn table_ui(&mut self, ui: &mut Ui, theme: &Theme) -> Option<(usize, u64)> {
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
                    ui.horizontal(|ui| {
                        ui.spacing_mut().item_spacing.x = style::gap(1.0);
                        for (side, letter) in ["A", "B"].into_iter().enumerate() {
                            let put = ui.add_enabled(can, egui::Button::new(letter));
                            let name = put_words(letter, row);
                            let info = || egui::WidgetInfo::labeled(egui::Role::Button, can, &name);
                            put.widget_info(info);
                            if put.on_hover_text(&name).clicked() {
                                chosen = Some((side, row.candidate));
                            }
                        }
                    });
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

/// What its button does.
fn put_words(letter: &str, row: &Row) -> String {
    let turns = row.turns;
    let turns = turns.map_or_else(String::new, |n| format!(", {n} turns"));
    format!(
        "Put {} slots, {} poles{turns}, {} as {letter}",
        row.slots,
        row.poles,
        row.connection.word()
    )
}

fn remarks(row: &Row) -> String {
    if let Some(why) = &row.infeasible {
        return why.clone();
    }
    let mut remarks = vec![row.connection.word().to_owned()];
    if row.unbalanced_pull == Some(true) {
        remarks.push("pulls sideways".to_owned());
    }
    remarks.extend(row.notes.iter().cloned());
    remarks.join("; ")
}
