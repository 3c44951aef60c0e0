//! Two machines side by side, turning together: the one on the bench, and what might stand there
//! instead.
//!
//! Both start from rest at the same instant, in one time, under the bench and load that each has;
//! the run on the bench itself waits meanwhile.

use egui::{Rect, RichText, Ui, pos2, vec2};

use super::candidates::Candidates;
use super::drawer::Drawer;
use super::live::LEAST_FULL_A;
use super::picture::{Zoom, picture_ui};
use super::plots_panel::{PlotsPanel, Showing};
use super::style::{cut_bottom, cut_top};
use super::{Live, Shown, Standing, TimeControl, rail, style};
use crate::analysis::{Figure, Unit, shown};
use crate::machine::Machine;
use crate::machine::inside::winding_of;
use crate::scene::Theme;
use crate::scene::machine::{machine, small_machine};
use crate::setup::Setup;

/// The figures that stand side by side.
const FIGURES: [&str; 9] = [
    "mean_speed_rpm",
    "torque_mean_nm",
    "torque_ripple_pp_nm",
    "supply_current_mean_a",
    "phase_current_rms_a",
    "copper_loss_w",
    "bridge_loss_w",
    "supply_power_w",
    "efficiency",
];
/// Figures are means over the latest whole turns within so much of the show, in s.
const FIGURES_SHOW_S: f64 = 1.0;
/// Slices of a run that one step on may wait for.
const MOST_SLICES: u32 = 25;
/// How far beyond the record's end a step looks first, in s of the motor.
const FIRST_AHEAD_S: f64 = 5e-5;

/// A machine below this height, in points, is drawn without words.
const SMALL: f32 = 360.0;
/// Narrower than this, in points, the figures share their place with the rest.
const NARROW: f32 = 980.0;

/// What lies on the right below.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Below {
    Figures,
    Waveforms,
    Candidates,
    Picture,
    /// Of A, 0, or B, 1.
    Change(usize),
}

/// One of the two.
#[derive(Debug)]
struct Side {
    /// What it is called.
    name: String,
    standing: Standing,
    shown: Shown,
    live: Live,
    figures: Vec<Figure>,
    facts: Vec<(&'static str, Option<f64>, Unit)>,
    full_current_a: f64,
}

impl Side {
    fn new(name: String, setup: Setup) -> Option<Self> {
        let shown = Shown::new(&setup).ok()?;
        Some(Self {
            name,
            live: Live::new(&setup),
            facts: facts(&setup),
            standing: Standing::new(setup),
            shown,
            figures: Vec::new(),
            full_current_a: LEAST_FULL_A,
        })
    }

    fn advance(&mut self, to_s: f64, pace: f64, wall_s: f64) {
        self.live.slice(to_s);
        self.full_current_a = self
            .live
            .full_current_a(self.full_current_a, to_s, pace, wall_s);
    }
}

/// What the machine is before it turns.
fn facts(setup: &Setup) -> Vec<(&'static str, Option<f64>, Unit)> {
    let machine = Machine::new(&setup.machine);
    let winding = winding_of(&setup.machine);
    let slots = setup.machine.slots;
    let poles = setup.machine.poles;
    let cogs = slots / crate::winding::gcd(slots, poles) * poles;
    let rpm_per_v = machine.kv_rad_per_v_s * 30.0 / std::f64::consts::PI;
    vec![
        ("steps a turn", Some(f64::from(3 * poles)), Unit::NUMBER),
        (
            "winding factor",
            winding.map(|winding| winding.factor(1).total),
            Unit::NUMBER,
        ),
        ("Kv", Some(rpm_per_v), Unit::RPM_PER_VOLT),
        (
            "phase resistance",
            Some(machine.phase_resistance_ohm),
            Unit::OHM,
        ),
        (
            "phase inductance",
            Some(machine.phase_inductance_h),
            Unit::HENRY,
        ),
        (
            "cogging periods a turn",
            Some(f64::from(cogs)),
            Unit::NUMBER,
        ),
        (
            "cogging, peak",
            Some(machine.cogging_peak_nm.abs()),
            Unit::NEWTON_METRE,
        ),
    ]
}

/// Two machines and how a person looks at them.
#[derive(Debug)]
pub(super) struct Beside {
    /// A, at first the one on the bench, and B.
    sides: [Side; 2],
    /// What stands on the bench.
    bench: Setup,
    time: TimeControl,
    plots: PlotsPanel,
    candidates: Candidates,
    drawers: [Drawer; 2],
    below: Below,
}

/// What a person asked for.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Wish {
    /// Put this one, A or B, on the bench.
    Put(Box<Setup>),
    /// Back to the bench.
    Leave,
}

impl Beside {
    /// Two of the bench's machine, B waiting to be made another. `None` where its winding cannot
    /// be drawn.
    pub(super) fn new(setup: &Setup, time: &TimeControl) -> Option<Self> {
        let name = setup.title.clone();
        let mut time = *time;
        (time.running, time.cursor_s) = (true, 0.0);
        Some(Self {
            sides: [
                Side::new(name, setup.clone())?,
                Side::new("the same".to_owned(), setup.clone())?,
            ],
            time,
            plots: PlotsPanel::default(),
            candidates: Candidates::new(setup.clone()),
            drawers: [Drawer::default(), Drawer::default()],
            below: Below::Candidates,
            bench: setup.clone(),
        })
    }

    /// True while something moves or is being computed.
    pub(super) fn is_moving(&self) -> bool {
        self.time.running || self.candidates.is_busy()
    }

    /// The time control.
    pub(super) const fn time_mut(&mut self) -> &mut TimeControl {
        &mut self.time
    }

    /// Lets both go on by `wall_s` of the show.
    pub(super) fn advance(&mut self, wall_s: f64) {
        self.candidates.advance();
        if !self.time.running {
            return;
        }
        let (wanted_s, pace) = (self.time.ahead_s(wall_s), self.time.pace());
        for side in &mut self.sides {
            side.advance(wanted_s, pace, wall_s);
        }
        // The slower of the two holds the show, so that both are seen at one instant.
        let [a, b] = &self.sides;
        let ends = [a, b].map(|side| side.live.record().range_s().map_or(0.0, |range| range[1]));
        let slower = if ends[0] <= ends[1] { a } else { b };
        let more = [a, b].iter().all(|side| side.live.stopped().is_none());
        self.time.advance(wall_s, slower.live.record(), more);
        let wish_s = self.time.pace() * FIGURES_SHOW_S;
        for side in &mut self.sides {
            let figures = side.live.figures(self.time.cursor_s, wish_s);
            side.figures = figures.unwrap_or_default();
        }
    }

    /// Pauses and moves by one stride of A.
    pub(super) fn step(&mut self, later: bool) {
        self.time.running = false;
        let mut ahead_s = FIRST_AHEAD_S;
        for _ in 0..MOST_SLICES {
            if self.time.step(self.sides[0].live.record(), later) || !later {
                break;
            }
            let Some([_, end_s]) = self.sides[0].live.record().range_s() else {
                return;
            };
            self.sides[0].live.slice(end_s + ahead_s);
            ahead_s *= 2.0;
        }
        let now_s = self.time.cursor_s;
        for _ in 0..MOST_SLICES {
            self.sides[1].live.slice(now_s);
        }
    }

    /// Makes A, 0, or B, 1, another machine; both start from rest again.
    fn make(&mut self, side: usize, setup: Setup, name: String) {
        let mut next = self.sides.each_ref().map(|side| {
            let setup = side.standing.setup().clone();
            (side.name.clone(), setup)
        });
        next[side] = (name, setup);
        let [a, b] = next.map(|(name, setup)| Side::new(name, setup));
        if let (Some(a), Some(b)) = (a, b) {
            self.sides = [a, b];
            self.time.cursor_s = 0.0;
            self.time.running = true;
        }
    }

    /// Draws the page.
    pub(super) fn ui(&mut self, ui: &mut Ui, all: Rect, theme: &Theme) -> Option<Wish> {
        let gap = style::gap(2.0);
        let all = all.shrink(gap);
        let (title, rest) = cut_top(all, style::gap(8.0), gap);
        let rail_h = rail::height(rest.width() - style::gap(6.0));
        let (rest, rail) = cut_bottom(rest, rail_h, gap);
        let (top, bottom) = cut_top(rest, (rest.height() * 0.55).min(rest.width() * 0.48), gap);
        let wish = self.title_ui(ui, title, theme);
        let (left, right) = split_left(top, 0.5, gap);
        let narrow = all.width() < NARROW;
        let (table, below) = if narrow {
            (Rect::NOTHING, bottom)
        } else {
            split_left(bottom, 0.4, gap)
        };
        for panel in [left, right, table, below, rail] {
            let fill = style::colour(theme.panel);
            ui.painter().rect_filled(panel, style::gap(1.0), fill);
        }
        self.machine_ui(ui, left, 0, theme);
        self.machine_ui(ui, right, 1, theme);
        if !narrow {
            self.table_ui(ui, table.shrink(style::gap(3.0)), theme);
        }
        self.below_ui(ui, below, narrow, theme);
        let inside = rail.shrink2(vec2(style::gap(3.0), style::gap(2.0)));
        let record = self.sides[0].live.record();
        let before = self.time;
        let step = rail::rail_ui(ui, inside, &mut self.time, record, theme);
        if let Some(later) = step {
            self.step(later);
        }
        if self.time != before {
            ui.ctx().request_repaint();
        }
        wish
    }

    fn title_ui(&self, ui: &mut Ui, rect: Rect, theme: &Theme) -> Option<Wish> {
        let mut wish = None;
        let layout = egui::Layout::right_to_left(egui::Align::Center);
        let builder = egui::UiBuilder::new().max_rect(rect).layout(layout);
        ui.scope_builder(builder, |ui| {
            let back = ui.button("Back to the bench");
            if back.on_hover_text("Leave this page · Esc").clicked() {
                wish = Some(Wish::Leave);
            }
            for (idx, letter) in ["A", "B"].into_iter().enumerate().rev() {
                let setup = self.sides[idx].standing.setup();
                let button = egui::Button::new(format!("Put {letter} on the bench"));
                let put = ui.add_enabled(*setup != self.bench, button);
                let hint = "In the place of what stands there; Undo takes that back";
                if put.on_hover_text(hint).clicked() {
                    wish = Some(Wish::Put(Box::new(setup.clone())));
                }
            }
            ui.with_layout(egui::Layout::left_to_right(egui::Align::Center), |ui| {
                let words = RichText::new("Side by side").font(style::type_size(2));
                ui.label(words.color(style::colour(theme.ink)));
            });
        });
        wish
    }

    fn machine_ui(&self, ui: &mut Ui, rect: Rect, idx: usize, theme: &Theme) {
        let side = &self.sides[idx];
        let letter = ["A", "B"][idx];
        let machine_setup = &side.standing.setup().machine;
        let (heading, rest) = cut_top(rect.shrink(style::gap(1.5)), style::gap(6.0), 0.0);
        let words = format!(
            "{letter}   {} · {} slots, {} poles",
            side.name, machine_setup.slots, machine_setup.poles
        );
        let words = RichText::new(words).color(style::colour(theme.ink));
        ui.put(heading, egui::Label::new(words).truncate());
        let Some(now) = side.live.record().at(self.time.cursor_s) else {
            ui.put(rest, egui::Label::new("Nothing is on record yet"));
            return;
        };
        let view = side.shown.view(&now, side.full_current_a);
        let scene = if rest.height() < SMALL {
            small_machine(&view, theme)
        } else {
            machine(&view, theme)
        };
        let words = format!(
            "Machine {letter} in cross-section: {} slots, {} poles, rotor at {:.0}°",
            machine_setup.slots,
            machine_setup.poles,
            now.theta_mech_rad.to_degrees().rem_euclid(360.0)
        );
        let name = ["machine A", "machine B"][idx];
        picture_ui(ui, name, rest, &scene, Zoom::default(), &words);
        if let Some(stopped) = side.live.stopped() {
            let words = RichText::new(format!("! The run cannot go on: {stopped}"));
            let foot = Rect::from_min_max(pos2(rest.left(), rest.bottom() - 40.0), rest.max);
            ui.put(
                foot,
                egui::Label::new(words.color(style::colour(theme.caution))).wrap(),
            );
        }
    }

    /// Figures of both, and how much more B has.
    fn table_ui(&self, ui: &mut Ui, rect: Rect, theme: &Theme) {
        let ink = style::colour(theme.ink);
        let builder = egui::UiBuilder::new().max_rect(rect);
        ui.scope_builder(builder, |ui| {
            let area = egui::ScrollArea::vertical()
                .id_salt("both")
                .auto_shrink(false);
            area.show(ui, |ui| {
                ui.spacing_mut().interact_size.y = style::gap(4.5);
                egui::Grid::new("both")
                    .num_columns(4)
                    .spacing(vec2(style::gap(4.0), style::gap(0.5)))
                    .show(ui, |ui| {
                        for heading in ["figure", "A", "B", "B / A"] {
                            ui.label(RichText::new(heading).strong().color(ink));
                        }
                        ui.end_row();
                        for (name, values, unit) in self.lines() {
                            ui.label(name);
                            for value in values {
                                let words = value_words(value, unit);
                                ui.label(RichText::new(words).color(ink));
                            }
                            ui.label(RichText::new(ratio_words(values)).color(ink));
                            ui.end_row();
                        }
                    });
            });
        });
    }

    /// Name, the value of A and of B, and their unit.
    fn lines(&self) -> Vec<(String, [Option<f64>; 2], Unit)> {
        let [a, b] = &self.sides;
        let facts = a.facts.iter().zip(&b.facts);
        let mut lines: Vec<_> = facts
            .map(|(a, b)| (a.0.to_owned(), [a.1, b.1], a.2))
            .collect();
        for key in FIGURES {
            let of = |side: &Side| {
                side.figures
                    .iter()
                    .find(|figure| figure.key == key)
                    .cloned()
            };
            let found = [of(a), of(b)];
            if let Some(figure) = found.iter().flatten().next() {
                let values = found
                    .each_ref()
                    .map(|of| of.as_ref().and_then(Figure::number));
                lines.push((figure.name.to_owned(), values, figure.unit));
            }
        }
        lines
    }

    fn below_ui(&mut self, ui: &mut Ui, rect: Rect, narrow: bool, theme: &Theme) {
        let inside = rect.shrink(style::gap(2.0));
        let (bar, rest) = cut_top(inside, style::gap(7.0), style::gap(1.0));
        let layout = egui::Layout::left_to_right(egui::Align::Center);
        let builder = egui::UiBuilder::new().max_rect(bar).layout(layout);
        ui.scope_builder(builder, |ui| {
            if narrow {
                ui.selectable_value(&mut self.below, Below::Figures, "Figures");
            } else if self.below == Below::Figures {
                self.below = Below::Waveforms;
            }
            for (below, words) in [
                (Below::Candidates, "Candidates"),
                (Below::Picture, "Picture"),
                (Below::Change(0), "Change A"),
                (Below::Change(1), "Change B"),
                (Below::Waveforms, "Waveforms"),
            ] {
                ui.selectable_value(&mut self.below, below, words);
            }
            if self.below == Below::Waveforms {
                ui.label(RichText::new("A in bold, B as thin double lines").small());
            }
        });
        match self.below {
            Below::Figures => self.table_ui(ui, rest, theme),
            Below::Waveforms => {
                let [a, b] = &self.sides;
                let showing = Showing {
                    tape: a.live.record(),
                    now_s: self.time.cursor_s,
                    pace: self.time.pace(),
                    bare: false,
                    only: None,
                    marked: None,
                    lit: None,
                    beside: Some(b.live.record()),
                };
                self.plots.ui(ui, rest, &showing, theme);
            }
            Below::Candidates => {
                let builder = egui::UiBuilder::new().max_rect(rest);
                let chosen = ui
                    .scope_builder(builder, |ui| self.candidates.ui(ui, theme))
                    .inner;
                if let Some(chosen) = chosen {
                    // What the lists leave open may still be refused.
                    match Setup::parse(&chosen.setup.to_toml(), "candidate") {
                        Ok(setup) => self.make(chosen.side, setup, chosen.name),
                        Err(errors) => self.candidates.refuse(&errors.to_string()),
                    }
                }
            }
            Below::Picture => {
                let builder = egui::UiBuilder::new().max_rect(rest);
                ui.scope_builder(builder, |ui| self.candidates.picture_ui(ui, theme));
            }
            Below::Change(idx) => {
                let builder = egui::UiBuilder::new().max_rect(rest).id_salt(idx);
                let (drawer, side) = (&mut self.drawers[idx], &mut self.sides[idx]);
                let changed = ui
                    .scope_builder(builder, |ui| {
                        let area = egui::ScrollArea::vertical().id_salt("change");
                        let area = area.auto_shrink(false);
                        area.show(ui, |ui| drawer.ui(ui, &mut side.standing, theme))
                            .inner
                    })
                    .inner;
                if changed {
                    let standing = side.standing.clone();
                    self.make(idx, standing.setup().clone(), "changed".to_owned());
                    self.sides[idx].standing = standing;
                }
            }
        }
    }
}

/// A value with its unit; a count without decimals.
fn value_words(value: Option<f64>, unit: Unit) -> String {
    match value {
        None => "–".to_owned(),
        Some(value) if unit == Unit::NUMBER && value.fract() == 0.0 => format!("{value:.0}"),
        Some(value) => shown(value, unit, 4).to_string(),
    }
}

/// B over A in words.
fn ratio_words([a, b]: [Option<f64>; 2]) -> String {
    match (a, b) {
        (Some(a), Some(b)) if a != 0.0 && (b / a).is_finite() => format!("{:.3}", b / a),
        _ => "–".to_owned(),
    }
}

fn split_left(rect: Rect, share: f32, gap: f32) -> (Rect, Rect) {
    let at = rect.left() + share * rect.width();
    (
        Rect::from_min_max(rect.min, pos2(at - 0.5 * gap, rect.bottom())),
        Rect::from_min_max(pos2(at + 0.5 * gap, rect.top()), rect.max),
    )
}
