//! The panel of the waveforms: which rows, axis, cursors, kept traces and the spectrum.

use egui::{Key, Modifiers, PopupCloseBehavior, Rect, Response, Ui, vec2};

use super::picture::{Zoom, picture_ui};
pub(super) use super::plots_showing::Showing;
use super::plots_showing::{KeptTape, electrical_hz, empty, enlarged, later_s, spectrum_words};
use super::plots_view::PlotsView;
use super::style;
use super::window::spot;
use crate::analysis::spectrum::{SpectrumWindow, of_tape};
use crate::analysis::{Unit, shown as shown_number};
use crate::lesson::Sight;
use crate::scene::Theme;
use crate::scene::plots::{
    Axis, Kept, PlotView, Row, SpectrumView, n_rows_that_fit, plots, row_spans, spectrum_picture,
};

/// Height of the row of controls, in points.
const BAR: f32 = 30.0;
/// Width below which the controls stand closer, and the one below which they take two rows, in
/// points.
const NARROW: f32 = 392.0;
const NARROWEST: f32 = 318.0;
/// How near a cursor's line counts as on it, in points.
const NEAR: f32 = 8.0;
/// Electrical turns that a spectrum is taken over, where so many are on record.
const SPECTRUM_TURNS: u32 = 8;

/// Height of the name over a row, in points.
const NAME: f64 = 17.0;

/// What a drag moves.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Drag {
    Axis,
    Cursor(usize),
}

/// Whose spectrum is shown.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Chosen {
    row: Row,
    curve_idx: usize,
}

/// How a person looks at the waveforms.
#[derive(Debug)]
pub(super) struct PlotsPanel {
    wanted: Vec<Row>,
    view: PlotsView,
    /// Cursors on the time axis in s, and on the folded one in degrees.
    cursors: [[Option<f64>; 2]; 2],
    /// The cursor that keys move.
    last_cursor: usize,
    drag: Option<Drag>,
    kept: Option<KeptTape>,
    spectrum: Option<Chosen>,
    window: SpectrumWindow,
    highest_order: f64,
}

impl Default for PlotsPanel {
    fn default() -> Self {
        Self {
            wanted: vec![Row::LeadCurrents, Row::PhaseBackEmf, Row::Torque, Row::Legs],
            view: PlotsView::default(),
            cursors: [[None; 2]; 2],
            last_cursor: 0,
            drag: None,
            kept: None,
            spectrum: None,
            window: SpectrumWindow::default(),
            highest_order: 20.0,
        }
    }
}

impl PlotsPanel {
    /// Draws the panel.
    pub(super) fn ui(&mut self, ui: &mut Ui, rect: Rect, showing: &Showing<'_>, theme: &Theme) {
        let rect = rect.shrink(style::gap(1.0));
        // A narrow panel has its controls in two rows; a very low one has none.
        if showing.bare {
            if self.spectrum.is_some() {
                self.spectrum_ui(ui, rect, showing, theme);
            } else {
                self.waves_ui(ui, rect, showing, theme);
            }
            return;
        }
        let close = rect.width() < NARROW;
        let bar_h = if rect.width() < NARROWEST {
            1.8 * BAR
        } else {
            BAR
        };
        if rect.height() < bar_h {
            return;
        }
        let bar = Rect::from_min_size(rect.min, vec2(rect.width(), bar_h));
        let align = if bar_h > BAR {
            egui::Align::Min
        } else {
            egui::Align::Center
        };
        let layout = egui::Layout::left_to_right(align).with_main_wrap(true);
        let builder = egui::UiBuilder::new()
            .max_rect(bar.shrink2(vec2(style::gap(1.0), 0.0)))
            .layout(layout);
        ui.scope_builder(builder, |ui| {
            let wide = if close { 0.5 } else { 1.0 };
            ui.spacing_mut().item_spacing = vec2(style::gap(wide), style::gap(0.5));
            ui.spacing_mut().button_padding = vec2(style::gap(2.0 * wide), style::gap(0.75));
            self.bar_ui(ui, showing);
            let height = f64::from(rect.height() - bar_h);
            let n_left = self.wanted.len() - n_rows_that_fit(&self.wanted, height);
            if n_left > 0 && self.spectrum.is_none() {
                no_room_ui(ui, n_left, bar_h > BAR, theme);
            }
        });
        let picture = Rect::from_min_max(egui::pos2(rect.left(), bar.bottom()), rect.max);
        if picture.height() < 24.0 {
            return;
        }
        if self.spectrum.is_some() {
            self.spectrum_ui(ui, picture, showing, theme);
        } else {
            self.waves_ui(ui, picture, showing, theme);
        }
    }

    fn bar_ui(&mut self, ui: &mut Ui, showing: &Showing<'_>) {
        /// Width, in points, in which all buttons stand in one row.
        const ALL_IN_A_ROW: f32 = 330.0;
        let wide = ui.available_width() >= ALL_IN_A_ROW;
        let stay = egui::containers::menu::MenuConfig::new()
            .close_behavior(PopupCloseBehavior::CloseOnClickOutside);
        egui::containers::menu::MenuButton::new("Rows")
            .config(stay)
            .ui(ui, |ui| self.rows_ui(ui));
        ui.menu_button("Spectrum", |ui| self.spectrum_menu_ui(ui));
        if self.spectrum.is_some() {
            if ui
                .button("Waveforms")
                .on_hover_text("Back to the waveforms · Escape")
                .clicked()
            {
                self.spectrum = None;
            }
            return;
        }
        let other = if self.view.folded { "Time" } else { "Angle" };
        let hint = if self.view.folded {
            "Time on the axis · key E"
        } else {
            "Electrical angle on the axis, the last turns over each other · key E"
        };
        if ui.button(other).on_hover_text(hint).clicked() {
            self.view.folded = !self.view.folded;
        }
        let fit = ui.button("Fit").on_hover_text(
            "All that is on record · key Home. The wheel enlarges, a drag moves, so do + − and \
             Shift with the arrows",
        );
        if fit.clicked() {
            self.fit(showing);
        }
        let held = self.view.held_s.is_some() && !self.view.folded;
        // in a narrow bar it stands there when there is something to be done with it
        if held || wide {
            let follow = ui.add_enabled(held, egui::Button::new("Follow"));
            let follow = follow.on_hover_text("Go along with now again · key End");
            if follow.clicked() {
                self.view.follow();
            }
        }
        for (idx, letter) in ["A", "B"].into_iter().enumerate() {
            let set = self.cursors()[idx].is_some();
            let button = egui::Button::selectable(set, letter);
            let hint = format!(
                "Cursor {letter} on or off · key {letter}. Drag it, or move it with [ and ]"
            );
            if ui.add(button).on_hover_text(hint).clicked() {
                self.toggle_cursor(idx, None, showing);
            }
        }
        if showing.beside.is_some() {
            return;
        }
        let words = if self.kept.is_some() { "Drop" } else { "Keep" };
        let hint = if self.kept.is_some() {
            "Take the kept traces away · key K"
        } else {
            "Keep these traces as thin double lines, to compare after a change · key K"
        };
        if ui.button(words).on_hover_text(hint).clicked() {
            self.toggle_kept(showing);
        }
    }

    fn rows_ui(&mut self, ui: &mut Ui) {
        for row in Row::ALL {
            let mut on = self.wanted.contains(&row);
            if style::tick_ui(ui, &mut on, row.name()).changed() {
                self.wanted.retain(|wanted| *wanted != row);
                if on {
                    self.wanted.push(row);
                    self.wanted
                        .sort_by_key(|row| Row::ALL.iter().position(|known| known == row));
                }
            }
        }
        ui.separator();
        let mut turns = self.view.turns;
        let drag = egui::DragValue::new(&mut turns)
            .range(1..=20)
            .suffix(" turns over each other");
        if ui.add(drag).changed() {
            self.view.turns = turns;
        }
    }

    fn spectrum_menu_ui(&mut self, ui: &mut Ui) {
        for row in Row::ALL.into_iter().filter(|row| *row != Row::Legs) {
            let curves = row.curves();
            let mut choose = |ui: &mut Ui, idx: usize, words: &str| {
                if ui.button(words).clicked() {
                    self.spectrum = Some(Chosen {
                        row,
                        curve_idx: idx,
                    });
                    ui.close();
                }
            };
            if curves.len() == 1 {
                choose(ui, 0, curves[0].name);
            } else {
                ui.menu_button(row.name(), |ui| {
                    for (idx, curve) in curves.iter().enumerate() {
                        choose(ui, idx, curve.name);
                    }
                });
            }
        }
        ui.separator();
        for window in [SpectrumWindow::Rectangular, SpectrumWindow::Hann] {
            let words = format!("{} window", window.name());
            style::boxed_ui(ui, |ui| ui.radio_value(&mut self.window, window, words));
        }
    }

    const fn cursors(&self) -> [Option<f64>; 2] {
        self.cursors[self.view.folded as usize]
    }

    fn set_cursor(&mut self, idx: usize, place: Option<f64>) {
        self.cursors[usize::from(self.view.folded)][idx] = place;
        self.last_cursor = idx;
    }

    fn axis(&self, showing: &Showing<'_>) -> Axis {
        self.view.axis(showing.now_s, showing.pace)
    }

    /// Takes a cursor away, or puts it at a share of the axis; without one, cursor A at a third
    /// and B at two thirds of what is recorded and in sight.
    fn toggle_cursor(&mut self, idx: usize, share: Option<f64>, showing: &Showing<'_>) {
        let axis = self.axis(showing);
        let on_it = |share: f64| {
            self.cursors()[idx].is_some_and(|place| (axis.share(place) - share).abs() < 0.01)
        };
        let place = if self.cursors()[idx].is_some() && share.is_none_or(on_it) {
            None
        } else {
            let thirds = if idx == 0 { 1.0 } else { 2.0 };
            let place = axis.place(share.unwrap_or(thirds / 3.0));
            // On what is recorded, where there is something to read.
            Some(match (axis, showing.tape.range_s()) {
                (Axis::Time { from, to }, Some([from_s, to_s])) => {
                    let (first, last) = (from.max(from_s), to.min(to_s));
                    if share.is_none() && first < last {
                        first + (last - first) * thirds / 3.0
                    } else {
                        place.clamp(from_s, to_s)
                    }
                }
                _ => place,
            })
        };
        self.set_cursor(idx, place);
    }

    fn toggle_kept(&mut self, showing: &Showing<'_>) {
        self.kept = match self.kept {
            Some(_) => None,
            None => Some(KeptTape {
                tape: showing.tape.clone(),
                now_s: showing.now_s,
            }),
        };
    }

    fn fit(&mut self, showing: &Showing<'_>) {
        if let Some(range_s) = showing.tape.range_s() {
            self.view.fit(range_s);
        }
    }

    fn waves_ui(&mut self, ui: &mut Ui, rect: Rect, showing: &Showing<'_>, theme: &Theme) {
        let size = [rect.width(), rect.height()].map(f64::from);
        let rows = self.rows(showing, size[1]);
        let scene = if rows.is_empty() {
            empty("No rows are chosen: see Rows", size, theme)
        } else {
            let kept = self.kept.as_ref().map(|kept| Kept {
                tape: &kept.tape,
                now_s: kept.now_s,
                later_s: later_s(kept, showing),
            });
            let beside = showing.beside.map(|tape| Kept {
                tape,
                now_s: showing.now_s,
                later_s: 0.0,
            });
            let kept = beside.or(kept);
            let view = PlotView {
                tape: showing.tape,
                now_s: showing.now_s,
                rows: &rows,
                axis: self.axis(showing),
                cursors: self.cursors(),
                kept,
                lit: showing.marked.zip(showing.lit),
            };
            let by = showing.larger();
            enlarged(plots(&view, size.map(|side| side / by), theme), by)
        };
        let words = self.words(
            &rows[..n_rows_that_fit(&rows, size[1])],
            &self.axis(showing),
        );
        let response = picture_ui(ui, "waveforms", rect, &scene, Zoom::default(), &words);
        if showing.only.is_none() {
            let cursors = self.cursors().iter().any(Option::is_some);
            for (row, [top, bottom]) in row_spans(&rows, size[1], cursors) {
                #[expect(clippy::cast_possible_truncation, reason = "points")]
                let y = |depth: f64| rect.top() + depth as f32;
                let place = Rect::from_x_y_ranges(rect.x_range(), y(top - NAME)..=y(bottom));
                let place = place.shrink2(vec2(style::gap(1.0), 0.0));
                if let Some(idx) = Row::ALL.iter().position(|known| *known == row) {
                    spot(ui.ctx(), Sight::Row(idx), place);
                }
            }
        }
        let before = (self.view, self.cursors, self.kept.is_some());
        self.pointer(ui, &response, showing);
        self.keys(ui, &response, showing);
        // What was just drawn is no longer so.
        if before != (self.view, self.cursors, self.kept.is_some()) {
            ui.ctx().request_repaint();
        }
    }

    /// The rows to be drawn: one alone, or those that are wanted, with the one that is pointed at
    /// where it would be seen.
    fn rows(&self, showing: &Showing<'_>, height: f64) -> Vec<Row> {
        if let Some(only) = showing.only {
            return vec![only];
        }
        let Some(marked) = showing.marked else {
            return self.wanted.clone();
        };
        let fits = n_rows_that_fit(&self.wanted, height);
        if self.wanted[..fits].contains(&marked) {
            return self.wanted.clone();
        }
        let others = self.wanted.iter().copied().filter(|row| *row != marked);
        std::iter::once(marked).chain(others).collect()
    }

    /// The first of the rows that are wanted.
    pub(super) fn first_row(&self) -> Option<Row> {
        self.wanted.first().copied()
    }

    /// What the picture says to those who cannot see it.
    fn words(&self, shown: &[Row], axis: &Axis) -> String {
        let names: Vec<&str> = shown.iter().map(|row| row.name()).collect();
        let over = if self.view.folded {
            "electrical angle"
        } else {
            "time"
        };
        let unit = if self.view.folded { "°" } else { " s" };
        let cursors: String = ["A", "B"]
            .into_iter()
            .zip(self.cursors())
            .filter_map(|(letter, place)| Some(format!("; cursor {letter} at {:.6}{unit}", place?)))
            .collect();
        let sight = match axis {
            Axis::Time { from, to } => {
                let span = shown_number(to - from, Unit::SECOND, 3);
                format!("; {span} in sight")
            }
            Axis::Angle { from, to, .. } => format!("; {:.0}° in sight", to - from),
        };
        format!(
            "Waveforms over {over}: {}{sight}{cursors}",
            names.join(", ")
        )
    }

    /// Wheel, drag and double click.
    fn pointer(&mut self, ui: &Ui, response: &Response, showing: &Showing<'_>) {
        let axis = self.axis(showing);
        let [left, right] = showing.span(response);
        let share_of = |x: f32| (f64::from(x - response.rect.left()) - left) / (right - left);
        if response.double_clicked() {
            self.fit(showing);
            return;
        }
        if let Some(pointer) = response.hover_pos() {
            let (wheel, shift) =
                ui.input(|input| (input.smooth_scroll_delta, input.modifiers.shift));
            let share = share_of(pointer.x).clamp(0.0, 1.0);
            if wheel.y != 0.0 && !shift {
                self.view
                    .zoom((f64::from(wheel.y) / 240.0).exp(), share, &axis);
            } else if wheel.x != 0.0 {
                self.view.pan(-f64::from(wheel.x) / (right - left), &axis);
            }
        }
        #[expect(clippy::cast_possible_truncation, reason = "points")]
        let near = |idx: usize, x: f32| {
            self.cursors()[idx].is_some_and(|place| {
                let line =
                    response.rect.left() + (left + axis.share(place) * (right - left)) as f32;
                (line - x).abs() < NEAR
            })
        };
        if let Some(pointer) = response.hover_pos()
            && (near(0, pointer.x) || near(1, pointer.x))
        {
            ui.ctx().set_cursor_icon(egui::CursorIcon::ResizeHorizontal);
        }
        if response.drag_started() {
            let pressed = ui.input(|input| input.pointer.press_origin());
            self.drag = pressed.map(|from| match (near(0, from.x), near(1, from.x)) {
                (true, _) => Drag::Cursor(0),
                (_, true) => Drag::Cursor(1),
                _ => Drag::Axis,
            });
        }
        match (
            response.dragged(),
            self.drag,
            response.interact_pointer_pos(),
        ) {
            (true, Some(Drag::Cursor(idx)), Some(pointer)) => {
                let share = share_of(pointer.x).clamp(0.0, 1.0);
                self.set_cursor(idx, Some(axis.place(share)));
            }
            (true, Some(Drag::Axis), _) => {
                let moved = f64::from(response.drag_delta().x);
                self.view.pan(-moved / (right - left), &axis);
            }
            (false, ..) => self.drag = None,
            _ => {}
        }
    }

    fn keys(&mut self, ui: &Ui, response: &Response, showing: &Showing<'_>) {
        if ui.memory(|memory| memory.focused().is_some()) {
            return;
        }
        let axis = self.axis(showing);
        let key = |modifiers, key| ui.input_mut(|input| input.consume_key(modifiers, key));
        let plain = |wanted| key(Modifiers::NONE, wanted);
        let [left, right] = showing.span(response);
        let under_pointer = response.hover_pos().map(|pointer| {
            ((f64::from(pointer.x - response.rect.left()) - left) / (right - left)).clamp(0.0, 1.0)
        });
        if plain(Key::Plus) || plain(Key::Equals) {
            self.view.zoom(1.5, under_pointer.unwrap_or(0.5), &axis);
        }
        if plain(Key::Minus) {
            self.view
                .zoom(1.0 / 1.5, under_pointer.unwrap_or(0.5), &axis);
        }
        if key(Modifiers::SHIFT, Key::ArrowLeft) {
            self.view.pan(-0.1, &axis);
        }
        if key(Modifiers::SHIFT, Key::ArrowRight) {
            self.view.pan(0.1, &axis);
        }
        if plain(Key::Home) {
            self.fit(showing);
        }
        if plain(Key::End) {
            self.view.follow();
        }
        if plain(Key::E) {
            self.view.folded = !self.view.folded;
        }
        if plain(Key::K) {
            self.toggle_kept(showing);
        }
        for (idx, letter) in [Key::A, Key::B].into_iter().enumerate() {
            if plain(letter) {
                self.toggle_cursor(idx, under_pointer, showing);
            }
        }
        let column = 1.0 / (right - left);
        for (wanted, share) in [(Key::OpenBracket, -column), (Key::CloseBracket, column)] {
            let last = self.last_cursor;
            if let Some(place) = self.cursors()[last]
                && plain(wanted)
            {
                let moved = axis.place((axis.share(place) + share).clamp(0.0, 1.0));
                self.set_cursor(last, Some(moved));
            }
        }
    }

    fn spectrum_ui(&mut self, ui: &mut Ui, rect: Rect, showing: &Showing<'_>, theme: &Theme) {
        let Some(chosen) = self.spectrum else { return };
        let curve = chosen.row.curves()[chosen.curve_idx];
        let size = [rect.width(), rect.height()].map(f64::from);
        let spectrum = of_tape(
            showing.tape,
            curve.trace,
            showing.now_s,
            SPECTRUM_TURNS,
            self.window,
        );
        let (scene, words) = match &spectrum {
            Some(spectrum) => {
                let view = SpectrumView {
                    spectrum,
                    row: chosen.row,
                    curve,
                    highest_order: self.highest_order,
                    electrical_hz: showing
                        .tape
                        .at(showing.now_s)
                        .map(|now| electrical_hz(showing, now.speed_rad_s)),
                };
                (
                    spectrum_picture(&view, size, theme),
                    spectrum_words(spectrum, curve.name),
                )
            }
            None => (
                empty("No whole electrical turn lies before now yet", size, theme),
                "Spectrum: no whole electrical turn yet".to_owned(),
            ),
        };
        let response = picture_ui(ui, "spectrum", rect, &scene, Zoom::default(), &words);
        let wheel = ui.input(|input| f64::from(input.smooth_scroll_delta.y));
        if response.hover_pos().is_some() && wheel != 0.0 {
            let factor = (-wheel / 240.0).exp();
            self.highest_order = (self.highest_order * factor).clamp(4.0, 500.0);
            ui.ctx().request_repaint();
        }
        if ui.input_mut(|input| input.consume_key(Modifiers::NONE, Key::Escape)) {
            self.spectrum = None;
            ui.ctx().request_repaint();
        }
    }
}

/// Says how many of the rows that are wanted found no room, in as many words as have it; where there is
/// a second row of controls, there if need be.
fn no_room_ui(ui: &mut Ui, n_left: usize, second_row: bool, theme: &Theme) {
    let rows = if n_left == 1 { "row" } else { "rows" };
    let whole = format!("no room for {n_left} {rows}");
    let ink = style::colour(theme.ink_soft);
    for words in [whole.clone(), format!("+{n_left} {rows}")] {
        let galley = ui.painter().layout_no_wrap(words, style::type_size(0), ink);
        let wide = if second_row {
            f32::INFINITY
        } else {
            ui.available_size_before_wrap().x
        };
        if galley.rect.width() <= wide {
            ui.add(egui::Label::new(galley)).on_hover_text(whole);
            return;
        }
    }
}
