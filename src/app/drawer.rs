//! The drawer on the right: what stands on the bench, each value to be changed while it runs.

use std::collections::BTreeMap;

use egui::{RichText, Ui};

use super::window::spot;
use super::{Standing, style};
use crate::lesson::Sight;
use crate::machine::inside::winding_of;
use crate::scene::Theme;
use crate::setup::{
    Chop, Commutation, Connection, Direction, EmfConstant, EmfShape, Gates, Kind, Setup, key_spec,
};

/// A number with a slider over the range that is sensible on a bench; the field takes all that
/// the setup file takes.
struct Number {
    key: &'static str,
    name: &'static str,
    unit: &'static str,
    range: [f64; 2],
    read: fn(&Setup) -> Option<f64>,
}

const SUPPLY: [Number; 1] = [Number {
    key: "supply.voltage",
    name: "Voltage",
    unit: "V",
    range: [0.0, 60.0],
    read: |setup| Some(setup.bench.supply.voltage_v),
}];

const DRIVE: [Number; 4] = [
    Number {
        key: "drive.pwm.duty",
        name: "Duty",
        unit: "",
        range: [0.0, 1.0],
        read: |setup| Some(setup.bench.drive.pwm?.duty),
    },
    Number {
        key: "drive.pwm.frequency",
        name: "PWM frequency",
        unit: "kHz",
        range: [1.0, 60.0],
        read: |setup| Some(setup.bench.drive.pwm?.frequency_hz / 1e3),
    },
    Number {
        key: "drive.advance",
        name: "Advance",
        unit: "deg",
        range: [-60.0, 60.0],
        read: |setup| Some(setup.bench.drive.advance_rad.to_degrees()),
    },
    Number {
        key: "drive.forced.frequency",
        name: "Clock",
        unit: "Hz",
        range: [1.0, 500.0],
        read: |setup| Some(setup.bench.drive.forced?.frequency_hz),
    },
];

const LOAD: [Number; 2] = [
    Number {
        key: "load.constant",
        name: "Constant",
        unit: "mNm",
        range: [0.0, 200.0],
        read: |setup| Some(setup.bench.load.constant_nm * 1e3),
    },
    Number {
        key: "load.quadratic",
        name: "Air, by speed²",
        unit: "Nm s2/rad2",
        range: [0.0, 2e-7],
        read: |setup| Some(setup.bench.load.quadratic_nm_s2),
    },
];

const MACHINE: [Number; 2] = [
    Number {
        key: "machine.poles",
        name: "Poles",
        unit: "",
        range: [2.0, 40.0],
        read: |setup| Some(f64::from(setup.machine.poles)),
    },
    Number {
        key: "machine.slots",
        name: "Slots",
        unit: "",
        range: [3.0, 36.0],
        read: |setup| Some(f64::from(setup.machine.slots)),
    },
];

/// Width of the names, and of the sliders, in points.
const NAMES: f32 = 104.0;
const SLIDER: f32 = 62.0;
/// Room round the text of a field: little at its sides, where the longest unit has to fit.
const FIELD_MARGIN: egui::Margin = egui::Margin::symmetric(4, 5);
/// What is said where a forced drive gets the clock that its setup lacks.
const CLOCK_NOTE: &str =
    "The setup gave no clock, so 50 electrical turns a second are taken; set Clock as you like.";
/// What the button for chopping does.
const ADD_PWM: &str = "Give the drive a PWM of 20 kHz, fully on at first";

/// What a person is writing, and what was wrong with the last try.
#[derive(Clone, Debug, Default)]
pub(super) struct Drawer {
    fields: BTreeMap<&'static str, String>,
    wrong: BTreeMap<&'static str, String>,
    /// What was done beside what was asked.
    notes: BTreeMap<&'static str, &'static str>,
    dragging: Option<&'static str>,
}

impl Drawer {
    /// Draws the drawer. True where the bench has changed.
    pub(super) fn ui(&mut self, ui: &mut Ui, bench: &mut Standing, theme: &Theme) -> bool {
        let mut changed = false;
        let setup = bench.setup().clone();
        let drive = &setup.bench.drive;
        heading(ui, "Supply", theme);
        changed |= self.numbers(ui, &SUPPLY, bench, theme);
        heading(ui, "Drive", theme);
        changed |= self.numbers(ui, &DRIVE, bench, theme);
        if drive.pwm.is_none() {
            ui.horizontal_wrapped(|ui| {
                ui.label(RichText::new("The active legs are fully on.").small());
                let add = ui.button("Chop them");
                changed |= add.on_hover_text(ADD_PWM).clicked() && bench.add_pwm();
            });
        }
        let chop = drive.pwm.map(|pwm| match pwm.chop {
            Chop::HighSide => "high-side",
            Chop::HighSideSynchronous => "high-side-synchronous",
            Chop::BothSides => "both-sides",
        });
        let commutation = match drive.commutation {
            Commutation::Position => "position",
            Commutation::Forced => "forced",
        };
        let direction = match drive.direction {
            Direction::Forward => "forward",
            Direction::Reverse => "reverse",
        };
        let gates = match drive.gates {
            Gates::Stepping => "stepping",
            Gates::AllOff => "all-off",
            Gates::AllLow => "all-low",
        };
        for (key, name, now) in [
            ("drive.pwm.chop", "Chop mode", chop),
            ("drive.commutation", "Commutation", Some(commutation)),
            ("drive.direction", "Direction", Some(direction)),
            ("drive.gates", "Gates", Some(gates)),
        ] {
            changed |= self.choice(ui, key, name, now, bench, theme);
        }
        heading(ui, "Load", theme);
        changed |= self.numbers(ui, &LOAD, bench, theme);
        heading(ui, "Motor", theme);
        changed |= self.numbers(ui, &MACHINE, bench, theme);
        ui.label(RichText::new(pole_words(&setup)).small());
        let connection = match setup.machine.connection {
            Connection::Star => "star",
            Connection::Delta => "delta",
        };
        let shape = match setup.machine.emf.shape {
            EmfShape::Trapezoid => "trapezoid",
            EmfShape::Sine => "sine",
            EmfShape::Harmonics(_) => "harmonics",
            EmfShape::Computed(_) => "computed",
        };
        changed |= self.choice(
            ui,
            "machine.connection",
            "Connection",
            Some(connection),
            bench,
            theme,
        );
        changed |= self.choice(
            ui,
            "machine.emf.shape",
            "EMF shape",
            Some(shape),
            bench,
            theme,
        );
        changed
    }

    fn numbers(
        &mut self,
        ui: &mut Ui,
        numbers: &[Number],
        bench: &mut Standing,
        theme: &Theme,
    ) -> bool {
        let mut changed = false;
        for number in numbers {
            changed |= self.number(ui, number, bench, theme);
        }
        changed
    }

    fn number(
        &mut self,
        ui: &mut Ui,
        number: &Number,
        bench: &mut Standing,
        theme: &Theme,
    ) -> bool {
        let Some(value) = (number.read)(bench.setup()) else {
            return false;
        };
        let key = number.key;
        let written = |value: f64| {
            format!("{} {}", plain(value), number.unit)
                .trim_end()
                .to_owned()
        };
        let mut wanted = None;
        let line = ui.horizontal(|ui| {
            let label = name_ui(ui, number.name);
            let label = label.on_hover_text(about(key));
            let mut slid = value;
            let [from, to] = number.range;
            let slider =
                egui::Slider::new(&mut slid, from.min(value)..=to.max(value)).show_value(false);
            let whole = key.starts_with("machine.");
            let slider = slider.step_by(if !whole {
                0.0
            } else if key == "machine.poles" {
                2.0
            } else {
                3.0
            });
            ui.spacing_mut().slider_width = SLIDER;
            let slider = ui.add(slider).labelled_by(label.id);
            if slider.changed() {
                wanted = Some((
                    written(three(slid)),
                    slider.dragged() && self.dragging == Some(key),
                ));
                self.dragging = slider.dragged().then_some(key);
            } else if slider.drag_stopped() {
                self.dragging = None;
            }
            let text = self.fields.entry(key).or_insert_with(|| written(value));
            let field = egui::TextEdit::singleline(text)
                .margin(FIELD_MARGIN)
                .desired_width(ui.available_width() - 8.0);
            let field = ui
                .add(field)
                .labelled_by(label.id)
                .on_hover_text(about(key));
            let given_up = ui.input(|input| input.key_pressed(egui::Key::Escape));
            if field.lost_focus() && given_up {
                *text = written(value);
                self.wrong.remove(key);
            } else if field.lost_focus() {
                wanted = Some((text.clone(), false));
            } else if !field.has_focus() && !self.wrong.contains_key(key) {
                *text = written(value);
            }
        });
        spot(ui.ctx(), Sight::Set(key.to_owned()), line.response.rect);
        let changed = wanted.is_some_and(|(text, same)| self.set(bench, key, &text, same));
        self.wrong_ui(ui, key, theme);
        changed
    }

    fn choice(
        &mut self,
        ui: &mut Ui,
        key: &'static str,
        name: &str,
        now: Option<&str>,
        bench: &mut Standing,
        theme: &Theme,
    ) -> bool {
        let (Some(now), Some(Kind::Word { words, .. })) =
            (now, key_spec(key).map(|spec| spec.kind))
        else {
            return false;
        };
        let mut wanted = None;
        let line = ui.horizontal(|ui| {
            let label = name_ui(ui, name);
            let label = label.on_hover_text(about(key));
            let list = egui::ComboBox::from_id_salt(key)
                .selected_text(now)
                .width(ui.available_width());
            let list = list.show_ui(ui, |ui| {
                for word in words {
                    if ui.selectable_label(*word == now, *word).clicked() {
                        wanted = Some(*word);
                        // The keyboard's choice closes the list as the pointer's does.
                        ui.close();
                    }
                }
            });
            list.response.labelled_by(label.id);
        });
        spot(ui.ctx(), Sight::Set(key.to_owned()), line.response.rect);
        let had_clock = bench.setup().bench.drive.forced.is_some();
        let changed = wanted.is_some_and(|word| self.set(bench, key, word, false));
        if changed {
            let has_clock = bench.setup().bench.drive.forced.is_some();
            self.notes.retain(|noted, _| *noted != key);
            if has_clock && !had_clock {
                self.notes.insert(key, CLOCK_NOTE);
            }
        }
        self.wrong_ui(ui, key, theme);
        if let Some(note) = self.notes.get(key) {
            ui.label(RichText::new(*note).small());
        }
        changed
    }

    fn set(&mut self, bench: &mut Standing, key: &'static str, text: &str, same: bool) -> bool {
        match bench.set(key, text, same) {
            Ok(changed) => {
                self.wrong.remove(key);
                self.fields.remove(key);
                changed
            }
            Err(why) => {
                self.fields.insert(key, text.to_owned());
                self.wrong.insert(key, why);
                false
            }
        }
    }

    fn wrong_ui(&self, ui: &mut Ui, key: &str, theme: &Theme) {
        if let Some(why) = self.wrong.get(key) {
            let words = format!("! {why}. The motor runs on with the last good value.");
            ui.label(
                RichText::new(words)
                    .small()
                    .color(style::colour(theme.caution)),
            );
        }
    }

    /// Forgets what was written: the bench is another now.
    pub(super) fn forget(&mut self) {
        *self = Self::default();
    }
}

fn heading(ui: &mut Ui, words: &str, theme: &Theme) {
    ui.add_space(style::gap(1.0));
    ui.label(
        RichText::new(words)
            .strong()
            .color(style::colour(theme.ink)),
    );
}

/// The name of a value, in a column of its own.
fn name_ui(ui: &mut Ui, name: &str) -> egui::Response {
    let size = egui::vec2(NAMES, ui.spacing().interact_size.y);
    let layout = egui::Layout::left_to_right(egui::Align::Center);
    let column = ui.allocate_ui_with_layout(size, layout, |ui| {
        ui.set_min_width(size.x);
        ui.label(name)
    });
    column.inner
}

fn about(key: &str) -> String {
    key_spec(key).map_or_else(String::new, |spec| {
        format!("{}: {}", spec.about, spec.kind.allowed())
    })
}

/// Why another number of poles turns the motor as it does.
fn pole_words(setup: &Setup) -> String {
    let pairs = setup.machine.poles / 2;
    let steps = 6 * pairs;
    match (setup.bench.drive.commutation, setup.bench.drive.forced) {
        (Commutation::Forced, Some(forced)) => format!(
            "{pairs} pole pairs, {steps} steps a turn. The clock sets the speed: 60 · {} Hz / {pairs} = {:.0} rpm.",
            plain(forced.frequency_hz),
            60.0 * forced.frequency_hz / f64::from(pairs)
        ),
        _ => format!(
            "{pairs} pole pairs, {steps} steps a turn. The speed per volt stays as written, so more poles \
             make the steps come faster, not the rotor.{}",
            factor_words(setup)
        ),
    }
}

/// What the winding makes of these slots and poles, where much of it is lost.
fn factor_words(setup: &Setup) -> String {
    let factor = winding_of(&setup.machine).map(|winding| winding.factor(1).total);
    match (factor, &setup.machine.emf.constant) {
        (Some(factor), EmfConstant::KvRadPerVs(_) | EmfConstant::PhaseVsPerRad(_))
            if factor < GOOD_FACTOR =>
        {
            format!(
                " The winding factor of {} slots and {} poles is only {factor:.3}: a real winding with \
                 the same turns would give another speed per volt than the one written.",
                setup.machine.slots, setup.machine.poles
            )
        }
        _ => String::new(),
    }
}

/// From this winding factor on, nothing is said of it (common practice, no source).
const GOOD_FACTOR: f64 = 0.85;

fn three(value: f64) -> f64 {
    format!("{value:.2e}").parse().unwrap_or(value)
}

/// Up to four significant digits without noise.
fn plain(value: f64) -> String {
    let rounded: f64 = format!("{value:.3e}").parse().unwrap_or(value);
    if rounded != 0.0 && rounded.abs() < 1e-3 {
        format!("{rounded:e}")
    } else {
        rounded.to_string()
    }
}
