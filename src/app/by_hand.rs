//! The winding in a person's hands: click a coil side, and see at once what goes out of balance.
//!
//! A draft of the layout stands beside the one on the bench. Only a balanced draft can be wound;
//! the motor turns on with the old winding until then.

use egui::{Key, Modifiers, Rect, RichText, Ui, pos2, vec2};

use super::picture::{Zoom, picture_ui};
use super::{Shown, style};
use crate::scene::machine::{MachineView, Part, layout, mark, part_at};
use crate::scene::phasors::phasors;
use crate::scene::{Point, Scene, Theme, at};
use crate::winding::{CoilSide, Draft, Phase, Winding, WindingError, format_layout};

/// Orders of the field whose winding factors are told.
const ORDERS: [u32; 5] = [1, 3, 5, 7, 11];
/// Width of the column of words, in points; below twice that it stands under the picture.
const COLUMN: f32 = 380.0;
/// Size of the picture of the phasors, in points.
const PHASORS: f32 = 232.0;
/// Slots in a row of buttons.
const SLOTS_A_ROW: usize = 6;
/// Most changes that can be taken back.
const MOST_UNDONE: usize = 200;
/// Degrees and factors below this are none.
const NOTHING: f64 = 5e-4;

/// A layout being changed.
#[derive(Debug)]
pub(super) struct ByHand {
    /// The winding on the bench.
    standing: Winding,
    draft: Draft,
    before: Vec<Draft>,
    after: Vec<Draft>,
    whole_coils: bool,
    /// The place that the keyboard writes to.
    here: usize,
    /// What the bench said against the draft.
    refused: Option<String>,
}

/// What a person asked for.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Wish {
    /// Wind the machine so.
    Wind(Box<Winding>),
    /// Back to the bench.
    Leave,
}

impl ByHand {
    /// Begins with the winding on the bench.
    pub(super) fn new(standing: Winding) -> Self {
        let draft = Draft::of(&standing);
        Self {
            whole_coils: draft.partner(0).is_some(),
            here: 0,
            before: Vec::new(),
            after: Vec::new(),
            refused: None,
            draft,
            standing,
        }
    }

    /// Says why the bench did not take the draft.
    pub(super) fn refuse(&mut self, why: String) {
        self.refused = Some(why);
    }

    /// True where it was begun on that winding.
    pub(super) fn is_of(&self, winding: &Winding) -> bool {
        self.standing == *winding
    }

    /// True where there is something to lose.
    pub(super) fn is_changed(&self) -> bool {
        self.draft.sides() != self.standing.sides()
    }

    fn put(&mut self, place: usize, side: CoilSide) {
        let before = self.draft.clone();
        self.here = place;
        if self.draft.put(place, side, self.whole_coils) {
            self.before.push(before);
            if self.before.len() > MOST_UNDONE {
                self.before.remove(0);
            }
            self.after.clear();
            self.refused = None;
        }
    }

    fn next(&mut self, place: usize) {
        if let Some(side) = self.draft.sides().get(place) {
            self.put(place, Draft::next(*side));
        }
    }

    fn undo(&mut self) {
        if let Some(earlier) = self.before.pop() {
            self.after.push(std::mem::replace(&mut self.draft, earlier));
            self.refused = None;
        }
    }

    fn redo(&mut self) {
        if let Some(later) = self.after.pop() {
            self.before.push(std::mem::replace(&mut self.draft, later));
            self.refused = None;
        }
    }

    fn start_again(&mut self) {
        let fresh = Draft::of(&self.standing);
        if fresh != self.draft {
            self.before.push(std::mem::replace(&mut self.draft, fresh));
            self.after.clear();
        }
        self.refused = None;
    }

    /// Hears the keys of the page.
    pub(super) fn keys(&mut self, ui: &Ui) -> Option<Wish> {
        if ui.ctx().memory(|memory| memory.focused().is_some()) {
            return None;
        }
        let hit = |key: Key, modifiers: Modifiers| {
            ui.ctx()
                .input_mut(|input| input.consume_key(modifiers, key))
        };
        let n = self.draft.sides().len();
        if hit(Key::Z, Modifiers::COMMAND) {
            self.undo();
        }
        if hit(Key::Y, Modifiers::COMMAND) {
            self.redo();
        }
        if hit(Key::ArrowRight, Modifiers::NONE) {
            self.here = (self.here + 1) % n;
        }
        if hit(Key::ArrowLeft, Modifiers::NONE) {
            self.here = (self.here + n - 1) % n;
        }
        if hit(Key::Space, Modifiers::NONE) {
            self.next(self.here);
        }
        let side = self.draft.sides()[self.here];
        for (key, phase) in [Key::U, Key::V, Key::W].into_iter().zip(Phase::ALL) {
            if hit(key, Modifiers::NONE) {
                self.put(self.here, CoilSide { phase, ..side });
            }
        }
        for (key, towards_viewer) in [(Key::Plus, true), (Key::Minus, false)] {
            if hit(key, Modifiers::NONE) {
                let side = CoilSide {
                    towards_viewer,
                    ..self.draft.sides()[self.here]
                };
                self.put(self.here, side);
            }
        }
        let wind = hit(Key::Enter, Modifiers::NONE).then(|| self.draft.winding().ok());
        if let Some(Some(winding)) = wind.filter(|_| self.is_changed()) {
            return Some(Wish::Wind(Box::new(winding)));
        }
        let leaves = hit(Key::Escape, Modifiers::NONE) || hit(Key::Q, Modifiers::NONE);
        leaves.then_some(Wish::Leave)
    }

    /// Draws the page.
    pub(super) fn ui(
        &mut self,
        ui: &mut Ui,
        all: Rect,
        shown: &Shown,
        theme: &Theme,
    ) -> Option<Wish> {
        let gap = style::gap(2.0);
        let all = all.shrink(gap);
        let wide = all.width() >= 2.0 * COLUMN;
        let (picture, words) = if wide {
            let split = all.right() - COLUMN.max(all.width() * 0.36);
            (
                Rect::from_min_max(all.min, pos2(split - gap, all.bottom())),
                Rect::from_min_max(pos2(split, all.top()), all.max),
            )
        } else {
            let split = all.top() + all.height() * 0.45;
            (
                Rect::from_min_max(all.min, pos2(all.right(), split - gap)),
                Rect::from_min_max(pos2(all.left(), split), all.max),
            )
        };
        for panel in [picture, words] {
            let fill = style::colour(theme.panel);
            ui.painter().rect_filled(panel, style::gap(1.0), fill);
        }
        self.picture_ui(ui, picture, shown, theme);
        let inside = words.shrink(style::gap(4.0));
        let builder = egui::UiBuilder::new().max_rect(inside);
        ui.scope_builder(builder, |ui| {
            let wish = self.head_ui(ui, theme);
            egui::ScrollArea::vertical()
                .id_salt("winding by hand")
                .auto_shrink(false)
                .show(ui, |ui| self.words_ui(ui, theme));
            wish
        })
        .inner
    }

    fn sides(&self) -> Vec<[Option<CoilSide>; 2]> {
        let layers = self.draft.layers() as usize;
        let per_slot = self.draft.sides().chunks_exact(layers);
        per_slot
            .map(|here| [here.first().copied(), here.get(1).copied()])
            .collect()
    }

    fn part(&self, place: usize) -> Part {
        let layers = self.draft.layers() as usize;
        Part::CoilSide {
            slot: place / layers,
            layer: place % layers,
        }
    }

    fn picture_ui(&mut self, ui: &mut Ui, rect: Rect, shown: &Shown, theme: &Theme) {
        let sides = self.sides();
        let view = MachineView {
            construction: shown.construction,
            poles: shown.poles,
            sides: &sides,
            coil_span: shown.coil_span,
            connection: shown.connection,
            geometry: shown.geometry.as_ref(),
            theta_mech_rad: 0.0,
            phase_current_a: [1.0; 3],
            full_current_a: 1.0,
        };
        let mut scene = layout(&view, theme);
        mark(&mut scene, &view, self.part(self.here), theme);
        if let (true, Some(other)) = (self.whole_coils, self.draft.partner(self.here)) {
            mark(&mut scene, &view, self.part(other), theme);
        }
        let words = format!(
            "Layout: {} slots, {} poles, slot {} marked",
            self.draft.slots(),
            self.draft.poles(),
            self.here / self.draft.layers() as usize + 1
        );
        let response = picture_ui(ui, "layout", rect, &scene, Zoom::default(), &words);
        let found = |pos: egui::Pos2| match part_at(&view, place_of(pos, rect, &scene)) {
            Some(Part::CoilSide { slot, layer }) => {
                Some(slot * self.draft.layers() as usize + layer)
            }
            _ => None,
        };
        let under = response.hover_pos().and_then(found);
        if under.is_some() {
            ui.set_cursor_icon(egui::CursorIcon::PointingHand);
        }
        if let (true, Some(place)) = (response.clicked(), under) {
            self.next(place);
        }
        if let Some(place) = under.filter(|_| response.hovered()) {
            let words = format!("{}; click for the next", self.name(place));
            response.on_hover_text_at_pointer(words);
        }
    }

    /// What a place is called.
    fn name(&self, place: usize) -> String {
        let layers = self.draft.layers() as usize;
        let side = self.draft.sides()[place];
        let which = match (layers, place % layers) {
            (1, _) => "",
            (_, 0) => ", first side",
            _ => ", second side",
        };
        format!("Slot {}{which}: {side}", place / layers + 1)
    }

    /// Title, verdict and buttons.
    fn head_ui(&mut self, ui: &mut Ui, theme: &Theme) -> Option<Wish> {
        let mut wish = None;
        ui.horizontal(|ui| {
            let title = RichText::new("Winding by hand").font(style::type_size(2));
            ui.label(title.color(style::colour(theme.ink)));
            ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
                let back = ui.button("Back to the bench");
                if back
                    .on_hover_text("Leave the layout as it is on the bench · Esc")
                    .clicked()
                {
                    wish = Some(Wish::Leave);
                }
            });
        });
        let winding = self.draft.winding();
        let (sign, words, colour) = match &winding {
            Ok(winding) => ("=", self.balanced_words(winding), theme.ink),
            Err(error) => ("!", self.unbalanced_words(error), theme.caution),
        };
        let words = RichText::new(format!("{sign} {words}")).color(style::colour(colour));
        ui.add(egui::Label::new(words).wrap());
        if let Some(why) = &self.refused {
            let words = RichText::new(format!("! {why}")).color(style::colour(theme.caution));
            ui.add(egui::Label::new(words).wrap());
        }
        ui.horizontal_wrapped(|ui| {
            let ready = winding.is_ok() && self.is_changed();
            let wind = ui.add_enabled(ready, egui::Button::new("Wind it so"));
            let wind = wind.on_hover_text("Put this winding on the bench · Enter");
            if let (true, Ok(winding)) = (wind.clicked(), winding) {
                wish = Some(Wish::Wind(Box::new(winding)));
            }
            let undo = ui.add_enabled(!self.before.is_empty(), egui::Button::new("Undo"));
            if undo
                .on_hover_text("Take the last change back · Ctrl Z")
                .clicked()
            {
                self.undo();
            }
            let redo = ui.add_enabled(!self.after.is_empty(), egui::Button::new("Redo"));
            if redo.on_hover_text("Make it again · Ctrl Y").clicked() {
                self.redo();
            }
            let again = ui.add_enabled(self.is_changed(), egui::Button::new("Start again"));
            if again
                .on_hover_text("Back to the layout on the bench; Undo takes that back")
                .clicked()
            {
                self.start_again();
            }
        });
        ui.add_space(style::gap(1.0));
        wish
    }

    /// What is off, seen from the phase that most others agree with.
    fn unbalanced_words(&self, error: &WindingError) -> String {
        if !matches!(error, WindingError::Unbalanced { .. }) {
            return sentence(&error.to_string());
        }
        let balance = self.draft.balance();
        let Some(reference) = balance.iter().find(|of| of.is_reference) else {
            return sentence(&error.to_string());
        };
        let mut words = "Not balanced:".to_owned();
        for of in &balance {
            let share = of.phasor.magnitude() / reference.phasor.magnitude();
            let (longer, off) = ((share - 1.0).abs() > NOTHING, of.off_deg.abs() > NOTHING);
            if !longer && !off {
                continue;
            }
            words.push_str(&format!(" the EMF of {}", of.phase));
            if longer {
                words.push_str(&format!(" is {share:.3} times that of {}", reference.phase));
            }
            if off {
                let joint = if longer { " and" } else { "" };
                let degrees = of.off_deg;
                words.push_str(
                    &format!("{joint} stands {degrees:+.1}° from its place").replace('-', "−"),
                );
            }
            words.push(';');
        }
        format!("{}.", words.trim_end_matches(';'))
    }

    /// What a balanced draft is, beside the winding on the bench.
    fn balanced_words(&self, winding: &Winding) -> String {
        let (new, old) = (winding.factor(1).total, self.standing.factor(1).total);
        let mut words = format!("In balance: winding factor {new:.3}.");
        if !self.is_changed() {
            words.push_str(" It is the one on the bench; click a coil side to change it.");
            return words;
        }
        let share = new / old;
        if (share - 1.0).abs() < NOTHING {
            words.push_str(" The same EMF as on the bench with the same turns.");
        } else {
            words.push_str(&format!(
                " With the same turns the EMF is {share:.3} times that on the bench, and Kv {:.3} \
                 times.",
                1.0 / share
            ));
        }
        if winding.phase_order_reversed() {
            words.push_str(
                " Its phases follow U, W, V: the same drive turns the motor the other way round.",
            );
        }
        if winding.coil_span().is_none() {
            words.push_str(" No one coil span pairs these sides.");
        }
        words
    }

    fn words_ui(&mut self, ui: &mut Ui, theme: &Theme) {
        let side = ui.available_width().min(PHASORS);
        let (rect, _) =
            ui.allocate_exact_size(vec2(ui.available_width(), side), egui::Sense::hover());
        let picture = Rect::from_center_size(rect.center(), vec2(side, side));
        let scene = phasors(&self.draft, theme);
        let balance = self.draft.balance();
        let words = balance.map(|of| format!("{} {:.3}", of.phase, of.phasor.magnitude()));
        let words = format!("Sums of the coil sides: {}", words.join(", "));
        picture_ui(ui, "phasors", picture, &scene, Zoom::default(), &words);
        let ink = style::colour(theme.ink);
        ui.spacing_mut().interact_size.y = style::gap(4.5);
        egui::Grid::new("balance")
            .num_columns(5)
            .spacing(vec2(style::gap(4.0), style::gap(1.0)))
            .show(ui, |ui| {
                for heading in ["phase", "dots", "crosses", "EMF share", "off its place"] {
                    ui.label(RichText::new(heading).small());
                }
                ui.end_row();
                for of in balance {
                    ui.label(RichText::new(of.phase.letter()).strong().color(ink));
                    ui.label(RichText::new(of.towards.to_string()).color(ink));
                    ui.label(RichText::new(of.away.to_string()).color(ink));
                    let share = of.phasor.magnitude();
                    ui.label(RichText::new(format!("{share:.3}")).color(ink));
                    let off = if of.off_deg.abs() < NOTHING {
                        "–".to_owned()
                    } else {
                        format!("{:+.1}°", of.off_deg).replace('-', "−")
                    };
                    ui.label(RichText::new(off).color(ink));
                    ui.end_row();
                }
            });
        ui.add_space(style::gap(2.0));
        self.orders_ui(ui, theme);
        ui.add_space(style::gap(2.0));
        ui.horizontal_wrapped(|ui| {
            ui.label("A click changes");
            let known = self.draft.partner(0).is_some();
            ui.add_enabled_ui(known, |ui| {
                let whole = &mut self.whole_coils;
                style::boxed_ui(ui, |ui| ui.radio_value(whole, true, "the whole coil"));
            });
            let whole = &mut self.whole_coils;
            style::boxed_ui(ui, |ui| ui.radio_value(whole, false, "one side"));
        });
        self.sides_ui(ui);
        let written = format_layout(self.draft.sides());
        if ui
            .button("Copy as text")
            .on_hover_text("As a setup file writes it: layout = \"…\"")
            .clicked()
        {
            ui.copy_text(format!("layout = \"{written}\""));
        }
        let words = "← → go from side to side, U V W and + − write one, Space is the next, Esc leaves. Slots are \
                     numbered as they are seen from the drive end; a dot comes towards you.";
        ui.label(RichText::new(words).small());
    }

    /// Winding factors, of the bench and of the draft.
    fn orders_ui(&self, ui: &mut Ui, theme: &Theme) {
        let ink = style::colour(theme.ink);
        #[expect(clippy::cast_precision_loss, reason = "a few thousand sides")]
        let n_sides = self.draft.sides().len() as f64 / 3.0;
        egui::Grid::new("orders")
            .num_columns(ORDERS.len() + 1)
            .spacing(vec2(style::gap(4.0), style::gap(1.0)))
            .show(ui, |ui| {
                ui.label(RichText::new("factor of order").small());
                for order in ORDERS {
                    ui.label(RichText::new(order.to_string()).small());
                }
                ui.end_row();
                ui.label("on the bench");
                for order in ORDERS {
                    ui.label(format!("{:.3}", self.standing.factor(order).total));
                }
                ui.end_row();
                ui.label(RichText::new("this one, U").color(ink));
                for order in ORDERS {
                    let factor = self.draft.phasor(Phase::U, order).magnitude() / n_sides;
                    ui.label(RichText::new(format!("{factor:.3}")).color(ink));
                }
                ui.end_row();
            });
    }

    /// Every side as a button of its own, slot by slot: for the keyboard, and to read along.
    fn sides_ui(&mut self, ui: &mut Ui) {
        let layers = self.draft.layers() as usize;
        let mut clicked = None;
        egui::Grid::new("sides")
            .num_columns(SLOTS_A_ROW)
            .spacing(vec2(style::gap(3.0), style::gap(0.5)))
            .show(ui, |ui| {
                ui.spacing_mut().button_padding = vec2(style::gap(0.75), style::gap(0.25));
                ui.spacing_mut().interact_size.y = style::gap(5.0);
                for slot in 0..self.draft.slots() as usize {
                    ui.horizontal(|ui| {
                        ui.spacing_mut().item_spacing.x = style::gap(0.5);
                        ui.label(
                            RichText::new(format!("{:>2}", slot + 1))
                                .small()
                                .monospace(),
                        );
                        for place in slot * layers..(slot + 1) * layers {
                            if self.side_ui(ui, place) {
                                clicked = Some(place);
                            }
                        }
                    });
                    if (slot + 1).is_multiple_of(SLOTS_A_ROW) {
                        ui.end_row();
                    }
                }
            });
        if let Some(place) = clicked {
            self.next(place);
        }
    }
}

impl ByHand {
    /// A side as a button. True where it was clicked.
    fn side_ui(&self, ui: &mut Ui, place: usize) -> bool {
        let side = self.draft.sides()[place];
        let sign = if side.towards_viewer { "+" } else { "−" };
        let words = format!("{sign}{}", side.phase);
        let response = ui.add(egui::Button::selectable(self.here == place, words));
        let name = self.name(place);
        response.widget_info(|| egui::WidgetInfo::labeled(egui::Role::Button, true, &name));
        response.clicked()
    }
}

/// The place of the picture under a point of the screen.
fn place_of(pos: egui::Pos2, rect: Rect, scene: &Scene) -> Point {
    let fit = scene.fit_points(f64::from(rect.width()), f64::from(rect.height()));
    let from_middle = pos - rect.center();
    scene.centre() + at(f64::from(from_middle.x), -f64::from(from_middle.y)) * (1.0 / fit)
}

/// With a capital at its start and a stop at its end.
fn sentence(words: &str) -> String {
    let mut letters = words.chars();
    let first: String = letters
        .next()
        .into_iter()
        .flat_map(char::to_uppercase)
        .collect();
    format!("{first}{}.", letters.as_str().trim_end_matches('.'))
}
