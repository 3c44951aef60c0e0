//! What a lesson points at: `see:coil-u`, `see:row-torque`, `see:set-drive.pwm.duty`.
//!
//! A pointer is a link of the text. Where the text stands beside the bench, the thing is marked
//! there; on paper and in the terminal its words are words.

use crate::scene::plots::Row;
use crate::setup::key_spec;
use crate::winding::Phase;

/// A thing of the bench that a lesson can point at.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Sight {
    /// A part of the window as a whole.
    Panel(Panel),
    /// All coil sides of a phase, U V W as 0 1 2.
    Coil(usize),
    /// The coil sides in a slot, counted from 0.
    Slot(usize),
    /// A magnet, counted from 0, the first one north.
    Magnet(u32),
    /// Every magnet.
    Magnets,
    /// A leg of the bridge, U V W as 0 1 2.
    Leg(usize),
    /// A row of the waveforms, by its place among [`Row::ALL`].
    Row(usize),
    /// One of the three curves of such a row, U V W as 0 1 2.
    Trace(usize, usize),
    /// A figure by its key.
    Figure(String),
    /// A control of time.
    Control(Control),
    /// The control of a key of the setup.
    Set(String),
}

/// A part of the window.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Panel {
    /// The machine in cross-section.
    Machine,
    /// The three legs and the supply.
    Bridge,
    /// The waveforms.
    Waveforms,
    /// The large figures.
    Figures,
    /// The rail of time.
    Time,
}

/// A control of time.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Control {
    /// Run or pause.
    Run,
    /// One step on.
    StepOn,
    /// One step back.
    StepBack,
    /// How fast the motor is shown.
    Pace,
    /// The rotor in the hand.
    Hand,
}

/// The figures that stand large in the window.
pub const LARGE_FIGURES: [&str; 6] = [
    "mean_speed_rpm",
    "torque_mean_nm",
    "torque_ripple_pp_nm",
    "supply_current_mean_a",
    "supply_power_w",
    "efficiency",
];

/// Keys of a setup that have a control on the bench.
pub const BENCH_KEYS: [&str; 15] = [
    "supply.voltage",
    "drive.pwm.duty",
    "drive.pwm.frequency",
    "drive.pwm.chop",
    "drive.advance",
    "drive.forced.frequency",
    "drive.commutation",
    "drive.direction",
    "drive.gates",
    "load.constant",
    "load.quadratic",
    "machine.poles",
    "machine.slots",
    "machine.connection",
    "machine.emf.shape",
];

const PANELS: [(&str, Panel); 5] = [
    ("machine", Panel::Machine),
    ("bridge", Panel::Bridge),
    ("waveforms", Panel::Waveforms),
    ("figures", Panel::Figures),
    ("time", Panel::Time),
];

const CONTROLS: [(&str, Control); 5] = [
    ("run", Control::Run),
    ("step-on", Control::StepOn),
    ("step-back", Control::StepBack),
    ("pace", Control::Pace),
    ("hand", Control::Hand),
];

impl Sight {
    /// Reads what follows `see:`; `None` where nothing is called so.
    #[must_use]
    pub fn named(name: &str) -> Option<Self> {
        if let Some((_, panel)) = PANELS.iter().find(|(known, _)| *known == name) {
            return Some(Self::Panel(*panel));
        }
        if let Some((_, control)) = CONTROLS.iter().find(|(known, _)| *known == name) {
            return Some(Self::Control(*control));
        }
        if name == "magnets" {
            return Some(Self::Magnets);
        }
        let (kind, rest) = name.split_once('-')?;
        match kind {
            "coil" => phase(rest).map(Self::Coil),
            "leg" => phase(rest).map(Self::Leg),
            "slot" => counted(rest).map(|n| Self::Slot(n as usize)),
            "magnet" => counted(rest).map(Self::Magnet),
            "row" => row_named(rest).map(Self::Row),
            "trace" => {
                let (row, letter) = rest.rsplit_once('-')?;
                let (row, curve) = (row_named(row)?, phase(letter)?);
                let curves = Row::ALL.get(row)?.curves();
                (curve < curves.len() && curves.len() == 3).then_some(Self::Trace(row, curve))
            }
            "figure" => LARGE_FIGURES
                .contains(&rest)
                .then(|| Self::Figure(rest.to_owned())),
            "set" => BENCH_KEYS
                .contains(&rest)
                .then(|| Self::Set(rest.to_owned())),
            _ => None,
        }
    }

    /// What a person calls it.
    #[must_use]
    pub fn words(&self) -> String {
        let letter = |idx: usize| Phase::ALL.get(idx).map_or('?', |phase| phase.letter());
        match self {
            Self::Panel(Panel::Machine) => "the machine".to_owned(),
            Self::Panel(Panel::Bridge) => "the bridge".to_owned(),
            Self::Panel(Panel::Waveforms) => "the waveforms".to_owned(),
            Self::Panel(Panel::Figures) => "the figures".to_owned(),
            Self::Panel(Panel::Time) => "the time rail".to_owned(),
            Self::Coil(phase) => format!("the coils of phase {}", letter(*phase)),
            Self::Slot(slot) => format!("slot {}", slot + 1),
            Self::Magnet(pole) => format!("magnet {}", pole + 1),
            Self::Magnets => "the magnets".to_owned(),
            Self::Leg(leg) => format!("leg {}", letter(*leg)),
            Self::Row(_) => self
                .row()
                .map_or_else(String::new, |row| format!("the row of {}", row.name())),
            Self::Trace(_, curve) => self
                .row()
                .and_then(|row| row.curves().get(*curve))
                .map_or_else(String::new, |curve| format!("the curve of {}", curve.name)),
            Self::Figure(key) => format!("the figure {key}"),
            Self::Control(Control::Run) => "Run and Pause".to_owned(),
            Self::Control(Control::StepOn) => "Step on".to_owned(),
            Self::Control(Control::StepBack) => "Step back".to_owned(),
            Self::Control(Control::Pace) => "Slower and Faster".to_owned(),
            Self::Control(Control::Hand) => "Turn by hand, in View".to_owned(),
            Self::Set(key) => key_spec(key).map_or_else(|| key.clone(), |spec| spec.about.into()),
        }
    }

    /// The row that it is, or is in, where it is one.
    #[must_use]
    pub fn row(&self) -> Option<Row> {
        match self {
            Self::Row(idx) | Self::Trace(idx, _) => Row::ALL.get(*idx).copied(),
            _ => None,
        }
    }

    /// Every name, with a number where one is needed; for who writes lessons.
    #[must_use]
    pub fn names() -> Vec<String> {
        let plain = PANELS.iter().map(|(name, _)| (*name).to_owned());
        let controls = CONTROLS.iter().map(|(name, _)| (*name).to_owned());
        let parts = ["magnets", "magnet-1", "slot-1"].map(str::to_owned);
        let phases = ["u", "v", "w"]
            .iter()
            .flat_map(|letter| [format!("coil-{letter}"), format!("leg-{letter}")]);
        let rows = Row::ALL.iter().map(|row| format!("row-{}", dashed(*row)));
        let of_phases = Row::ALL.iter().filter(|row| row.curves().len() == 3);
        let traces = of_phases.flat_map(|row| {
            let name = dashed(*row);
            ["u", "v", "w"].map(|letter| format!("trace-{name}-{letter}"))
        });
        let figures = LARGE_FIGURES.iter().map(|key| format!("figure-{key}"));
        let keys = BENCH_KEYS.iter().map(|key| format!("set-{key}"));
        plain
            .chain(controls)
            .chain(parts)
            .chain(phases)
            .chain(rows)
            .chain(traces)
            .chain(figures)
            .chain(keys)
            .collect()
    }
}

/// A row by its name with dashes: `lead-currents`, `phase-back-emf`.
#[must_use]
pub(super) fn row_named(name: &str) -> Option<usize> {
    Row::ALL.iter().position(|row| dashed(*row) == name)
}

/// What lessons call a row.
#[must_use]
pub(super) fn dashed(row: Row) -> String {
    row.name().to_lowercase().replace(' ', "-")
}

fn phase(letter: &str) -> Option<usize> {
    ["u", "v", "w"].iter().position(|known| *known == letter)
}

/// A number from 1 on, counted from 0.
fn counted(text: &str) -> Option<u32> {
    let plain = !text.starts_with(['+', '0']) && text.len() <= 4;
    plain.then(|| text.parse::<u32>().ok()?.checked_sub(1))?
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_name_is_read_and_others_are_not() {
        for name in Sight::names() {
            let sight = Sight::named(&name).unwrap_or_else(|| panic!("{name}"));
            assert!(!sight.words().is_empty(), "{name}");
        }
        assert_eq!(Sight::named("slot-12"), Some(Sight::Slot(11)));
        assert_eq!(Sight::named("coil-v"), Some(Sight::Coil(1)));
        let trace = Sight::named("trace-phase-back-emf-w").unwrap();
        assert_eq!(trace.row(), Some(Row::PhaseBackEmf));
        assert_eq!(trace.words(), "the curve of back-EMF W");
        for name in [
            "",
            "coil",
            "coil-x",
            "slot-0",
            "slot-",
            "slot-+3",
            "slot-99999",
            "row-noise",
            "trace-torque-u",
            "trace-legs-u",
            "trace-lead-currents",
            "trace-lead-currents-x",
            "figure-nothing",
            "set-run.duration",
            "magnet--1",
            "leg-uv",
        ] {
            assert_eq!(Sight::named(name), None, "{name}");
        }
    }

    #[test]
    fn every_key_with_a_control_is_a_key() {
        for key in BENCH_KEYS {
            assert!(key_spec(key).is_some(), "{key}");
        }
    }
}
